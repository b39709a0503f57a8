package cli

import (
	"bytes"
	"strings"
	"testing"
)

func TestAWantedMarginBelowZeroIsRefused(t *testing.T) {
	c := calcRadioCmd{Frequency: "868 MHz", Distance: "10 m", Power: "10 dBm", Sensitivity: "-105 dBm", Wanted: "-15 dB"}
	var out bytes.Buffer
	if err := c.plain(nil, &streams{out: &out}); err == nil || !strings.Contains(err.Error(), "--wanted -15 dB") {
		t.Errorf("%v\n%s", err, out.String())
	}
}
