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

// A level measured at a repeater, from a device behind a steel door of which nothing is known: the estimate of the repeater's own way
// on, behind 90 dB of wall, decides and is cited.
func TestAMeasuredHopBeforeAnEstimatedOne(t *testing.T) {
	s := read(t, []byte(`
format: proofbell.site/1
storeys: {g: {name: Ground, level: 0, ceiling: 2.5}}
materials: {steel: {name: Steel, as: steel-door}, thick: {name: Thick wall, radioLoss: 60 dB}}
rooms:
  H: {name: Hall, storey: g, outline: [[0, 0], [4, 0], [4, 5], [0, 5]], use: hall}
  B: {name: Store, storey: g, outline: [[4, 0], [10, 0], [10, 5], [4, 5]]}
  C: {name: Vault, storey: g, outline: [[10, 0], [14, 0], [14, 5], [10, 5]]}
walls:
  w: {storey: g, from: [4, 0], to: [4, 5], thickness: 0.1, material: thick}
  v: {storey: g, from: [10, 0], to: [10, 5], thickness: 0.1, material: steel}
panel: {room: H, at: [1, 2.5, 1.0], radio: {frequency: 868 MHz, sensitivity: -105 dBm, antenna: 0 dBi, wantedMargin: 15 dB, shadowing: 8 dB}}
models:
  sm: {name: Smoke, class: smoke, link: radio, transmitPower: 10 dBm, antenna: 0 dBi, terminals: {t: {senses: smoke}}}
  rep: {name: Repeater, class: repeater, link: radio, transmitPower: 10 dBm, antenna: 0 dBi, sensitivity: -105 dBm}
devices:
  s: {model: sm, room: C, at: [12, 2.5, 1.0]}
  r: {model: rep, room: B, at: [8, 2.5, 1.0]}
`))
	told := estimate.RadioTold{Levels: []estimate.RadioLevel{{Entry: "1", Device: "s", To: "r", DBm: -70}}}
	found, err := CheckMeasured("en", s, nil, demoDay, Measured{Radio: told})
	if err != nil {
		t.Fatal(err)
	}
	// 7 m at 868 MHz are 48.1 dB: 115 - 48.1 - 60 = 6.9 dB.
	said := false
	for _, f := range found {
		said = said || f.Rule == "radio.margin" && f.Estimate && strings.HasPrefix(f.Say, "Margin 6.9 dB, wanted 15") && strings.Contains(f.Say, "panel") && f.Places[0].ID == "s"
	}
	if !said {
		for _, f := range found {
			if f.Rule == "radio.margin" {
				t.Errorf("%s %v", printed(f), f.Places)
			}
		}
		t.Error("the way on is not judged")
	}
}
