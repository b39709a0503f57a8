package quantity_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"proofbell/quantity"
)

// The metre values follow from 1 in = 0.0254 m and 1 ft = 0.3048 m (exact since 1959).
func TestLengthsAsPeopleTypeThem(t *testing.T) {
	for _, c := range []struct {
		text string
		want float64
	}{
		{"2.9", 2.9},
		{"2.90 m", 2.9},
		{"290cm", 2.9},
		{"2900 mm", 2.9},
		{"-0.6 m", -0.6},
		{"+1 m", 1},
		{".5", 0.5},
		{"5.", 5},
		{"0", 0},
		{"9 ft 6 in", 2.8956},
		{`9' 6"`, 2.8956},
		{`9'6"`, 2.8956},
		{"9ft6in", 2.8956},
		{"6 in", 0.1524},
		{"-9 ft 6 in", -2.8956},
		{"1 m 50 cm", 1.5},
		{"2.9 M", 2.9},
		{"  3 m ", 3},
	} {
		got, err := quantity.Parse[quantity.LengthDimension](c.text)
		if err != nil || math.Abs(got.SI()-c.want) > 1e-12 {
			t.Errorf("%q: %v m (%v), want %v", c.text, got.SI(), err, c.want)
		}
		if got.String() != strings.TrimSpace(c.text) {
			t.Errorf("%q is shown as %q", c.text, got)
		}
	}
}

func TestOtherUnits(t *testing.T) {
	check := func(text string, got, want float64, err error) {
		if err != nil || math.Abs(got-want) > 1e-9*math.Abs(want) {
			t.Errorf("%q: %v (%v), want %v", text, got, err, want)
		}
	}
	d, err := quantity.Parse[quantity.DurationDimension]("1 h 30 min")
	check("1 h 30 min", d.SI(), 5400, err)
	y, err := quantity.Parse[quantity.DurationDimension]("10 y") // Julian years of 365.25 days
	check("10 y", y.SI(), 315576000, err)
	a, err := quantity.Parse[quantity.CurrentDimension]("360 mA")
	check("360 mA", a.SI(), 0.36, err)
	q, err := quantity.Parse[quantity.ChargeDimension]("7.0 Ah")
	check("7.0 Ah", q.SI(), 7, err)
	p, err := quantity.Parse[quantity.PowerLevelDimension]("-105 dBm")
	check("-105 dBm", p.SI(), -105, err)
	f, err := quantity.Parse[quantity.FrequencyDimension]("915 MHz")
	check("915 MHz", f.SI(), 915e6, err)
	l, err := quantity.Parse[quantity.SoundLevelDimension]("85 dB(A)")
	check("85 dB(A)", l.SI(), 85, err)
}

func TestRefusalsSayHow(t *testing.T) {
	for text, want := range map[string]string{
		"":                      "it is empty or too long",
		"m":                     "a number is missing",
		"2,9 m":                 "a comma stands in the number; write a decimal point and no other separators: 2.9 m",
		"1,200 m":               "a comma stands in the number",
		"9 ft 6":                "the unit is missing",
		"3 furlong":             `unit "furlong" is not known`,
		"3 m -2 cm":             "a sign stands inside",
		"1.2.3 m":               "a number is missing",
		"NaN":                   "a number is missing",
		"Inf m":                 "a number is missing",
		"1e3 m":                 `unit "e" is not known`,
		"0x10 m":                `unit "x" is not known`,
		"5 dB":                  `unit "db" is not known`,
		strings.Repeat("9", 65): "it is empty or too long",
	} {
		got, err := quantity.Parse[quantity.LengthDimension](text)
		if err == nil || !strings.Contains(err.Error(), want) || !got.IsZero() {
			t.Errorf("%q: %v", text, err)
		}
	}
	if _, err := quantity.Parse[quantity.ChargeDimension]("7"); err == nil || !strings.Contains(err.Error(), "the unit is missing; write 7.0 Ah") {
		t.Errorf("a bare battery: %v", err)
	}
}

func TestTheTypedTextIsTheTruth(t *testing.T) {
	for text, want := range map[string]string{"2.90": `"2.90"`, "2.9": `2.9`, "-3": `-3`, "0": `0`, "0.0": `"0.0"`, "+1": `"+1"`, ".5": `".5"`, "9 ft 6 in": `"9 ft 6 in"`, `6"`: `"6\""`, "0.0000001": `"0.0000001"`} {
		v := quantity.MustParse[quantity.LengthDimension](text)
		raw, err := json.Marshal(v)
		if err != nil || string(raw) != want {
			t.Errorf("%q is written %s (%v), want %s", text, raw, err, want)
		}
		var back quantity.Length
		if err := json.Unmarshal(raw, &back); err != nil || back != v {
			t.Errorf("%q came back as %q (%v)", text, back, err)
		}
	}
}

func TestFeetAndInchesAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		halves := rapid.IntRange(0, 12*200).Draw(t, "half inches")
		m := float64(halves) * 0.0127
		text := quantity.FeetInches(quantity.Metre(m))
		back, err := quantity.Parse[quantity.LengthDimension](text)
		if err != nil || math.Abs(back.SI()-m) > 1e-9 {
			t.Fatalf("%v m is shown as %q, read back as %v (%v)", m, text, back.SI(), err)
		}
	})
}

func TestShow(t *testing.T) {
	for _, c := range []struct {
		v        float64
		decimals int
		unit     string
		want     string
	}{
		{8.8133, 2, "Ah", "8.81 Ah"}, {11.0167, 1, "Ah", "11.0 Ah"}, {-0.04, 1, "dB", "0.0 dB"}, {67.4, 0, "dBA", "67 dBA"}, {math.NaN(), 1, "dB", "not determined"}, {0.5, 2, "", "0.50"},
	} {
		if got := quantity.Show(c.v, c.decimals, c.unit); got != c.want {
			t.Errorf("%v: %q, want %q", c.v, got, c.want)
		}
	}
	for m, want := range map[quantity.Metre]string{2.8956: "9 ft 6 in", 3.048: "10 ft", 0.1397: "5.5 in", 0: "0 in", -0.3048: "-1 ft", 0.3047: "1 ft"} {
		if got := quantity.FeetInches(m); got != want {
			t.Errorf("%v m: %q, want %q", m, got, want)
		}
	}
	if !math.IsInf(quantity.Round(math.Inf(1), 2), 1) || math.Signbit(quantity.Round(-0.001, 2)) {
		t.Error("an infinity must stay one, and minus zero must not be published")
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"2.9 m", `9'6"`, "-", "9 ft 6 in", "1,5 m", ".", "\x00", "5 µm"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		v, err := quantity.Parse[quantity.LengthDimension](text)
		if err != nil {
			return
		}
		if math.IsNaN(v.SI()) || math.IsInf(v.SI(), 0) {
			t.Fatalf("%q is %v", text, v.SI())
		}
		raw, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		var back quantity.Length
		if err := json.Unmarshal(raw, &back); err != nil || back != v {
			t.Fatalf("%q, written %s, came back as %q (%v)", text, raw, back, err)
		}
	})
}
