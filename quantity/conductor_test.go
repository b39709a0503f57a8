package quantity_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"proofbell/quantity"
)

func TestConductorsAsPeopleTypeThem(t *testing.T) {
	for text, want := range map[string]struct {
		kind quantity.Gauge
		size float64
		area float64 // mm2; AWG from the table of ASTM B258, rounded to four places
	}{
		"18 AWG":   {quantity.AWG, 18, 0.8231},
		"AWG 18":   {quantity.AWG, 18, 0.8231},
		"awg #14":  {quantity.AWG, 14, 2.0809},
		"22awg":    {quantity.AWG, 22, 0.3255},
		"1.5 mm2":  {quantity.SquareMM, 1.5, 1.5},
		"0.75mm²":  {quantity.SquareMM, 0.75, 0.75},
		"2.5 sqmm": {quantity.SquareMM, 2.5, 2.5},
		"0.8 mm":   {quantity.DiameterMM, 0.8, 0.5027}, // pi/4 x 0.64
	} {
		c, err := quantity.ParseConductor(text)
		kind, size := c.Gauge()
		if err != nil || kind != want.kind || size != want.size || math.Abs(c.SI()-want.area) > 1e-4 || c.String() != text {
			t.Errorf("%q: %v %v, %v mm2 (%v)", text, kind, size, c.SI(), err)
		}
	}
	for text, want := range map[string]string{
		"": "empty", "18": "the unit is missing", "AWG": "a number is missing", "18.5 AWG": "whole number", "41 AWG": "up to 40", "0 mm2": "a wire has a size",
		"-1 mm2": "a number is missing", "1,5 mm2": "write a decimal point and no other separators: 1.5 mm2", "NaN mm2": "a number is missing", "3 stone": `unit "stone"`,
		strings.Repeat("9", 65): "too long", "1e400 mm2": `unit "e400 mm2" is not known`, strings.Repeat("9", 60) + " mm": "a wire has a size",
	} {
		if c, err := quantity.ParseConductor(text); err == nil || !strings.Contains(err.Error(), want) || !c.IsZero() {
			t.Errorf("%q: %v, %v", text, c, err)
		}
	}
}

func TestResistanceAndPower(t *testing.T) {
	for text, want := range map[string]float64{"4.7 kilohm": 4700, "4.7k": 4700, "4.7 kΩ": 4700, "470 ohm": 470, "470 Ω": 470, "3900 OHM": 3900, "250 milliohm": 0.25, "2 megohm": 2e6} {
		r, err := quantity.Parse[quantity.ResistanceDimension](text)
		if err != nil || math.Abs(r.SI()-want) > 1e-9*want {
			t.Errorf("%q: %v (%v)", text, r.SI(), err)
		}
	}
	p, err := quantity.Parse[quantity.PowerDimension]("250 mW")
	if err != nil || math.Abs(p.SI()-0.25) > 1e-12 {
		t.Errorf("250 mW: %v (%v)", p.SI(), err)
	}
	for _, text := range []string{"4.7", "4k7", "5 V", "∞ ohm", "2 Mohm"} { // 2 Mohm would be read as milliohm by some
		if r, err := quantity.Parse[quantity.ResistanceDimension](text); err == nil {
			t.Errorf("%q was read as %v ohm", text, r.SI())
		}
	}
}

func FuzzParseConductor(f *testing.F) {
	for _, s := range []string{"18 AWG", "awg#", "1.5 mm2", "0.8 mm", ".", "\x00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		c, err := quantity.ParseConductor(text)
		if err != nil {
			return
		}
		if area := c.SI(); !(area > 0) || math.IsInf(area, 0) {
			t.Fatalf("%q has %v mm2", text, area)
		}
		raw, err := json.Marshal(c)
		if err != nil {
			t.Fatal(err)
		}
		var back quantity.Conductor
		if err := json.Unmarshal(raw, &back); err != nil || back.SI() != c.SI() {
			t.Fatalf("%q, written %s, came back as %q (%v)", text, raw, back, err)
		}
	})
}
