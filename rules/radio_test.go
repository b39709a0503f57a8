package rules

import (
	"strings"
	"testing"

	"proofbell/demo"
	"proofbell/internal/estimate"
)

// The draft's hall is estimated with plenty; a level of -104 dBm at a receiver of -105 leaves 1 dB of the wanted 15. The
// workshop is estimated at 6.1 dB; -80 dBm leave 25.
func TestMeasuredLevelsAreJudged(t *testing.T) {
	told := estimate.RadioTold{Levels: []estimate.RadioLevel{{Entry: "1", Device: "hall-smoke", DBm: -104}, {Entry: "2", Device: "workshop-heat", DBm: -80}}}
	found, err := CheckMeasured("en", read(t, demo.Draft), ladder(t), demoDay, Measured{Radio: told})
	if err != nil {
		t.Fatal(err)
	}
	hall := false
	for _, f := range found {
		if f.Rule != "radio.margin" || f.NotJudged {
			continue
		}
		if strings.HasPrefix(f.Say, "Measured: margin 1.0 dB, wanted 15") && !f.Estimate || strings.HasPrefix(f.Say, "Measured: margin 1 dB, wanted 15") && !f.Estimate {
			hall = true
		}
		if f.Places[0].ID == "14" {
			t.Errorf("the workshop was measured: %s", printed(f))
		}
	}
	if !hall {
		t.Error("the measured level of the hall is not judged")
	}
}
