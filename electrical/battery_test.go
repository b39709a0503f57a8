package electrical

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"proofbell/quantity"
)

func about(a, b, by float64) bool { return math.Abs(a-b) <= by }

// Worked examples. The sums stand beside them; the rule behind each is named.
func TestSizeWorkedExamples(t *testing.T) {
	const h, min = 3600, 60
	c10 := quantity.Celsius(10)
	for name, c := range map[string]struct {
		load    Load
		british bool
		d       float64
		at      *quantity.Celsius
		needed  float64
		derated bool
	}{
		// NFPA 72 10.6.7: 0.12 x 24 + 0.90 x 4/60 = 2.94; x 1.20 = 3.528
		"NFPA, household": {load: Load{0.12, 0.90, 24 * h, 4 * min, 1.20}, needed: 3.528},
		// BS 5839-1: D = 1: 1.25 (0.18 x 24 + 1.1 x 0.5) = 6.0875; /20 = 0.304 < 1.1, so D = 1.75: 1.25 (4.32 + 0.9625) = 6.603
		"British, D needed": {load: Load{0.18, 1.1, 24 * h, 30 * min, 1.25}, british: true, needed: 6.603125, derated: true},
		// The same with a maker's D of 1.5: 1.25 (4.32 + 0.825) = 6.43125
		"British, D by the maker": {load: Load{0.18, 1.1, 24 * h, 30 * min, 1.25}, british: true, d: 1.5, needed: 6.43125, derated: true},
		// 72 h: 1.25 (1.2 x 72 + 2.0 x 0.5) = 109.25; /20 = 5.46 A, not below 2.0 A, so D stays 1
		"British, D not needed": {load: Load{1.2, 2.0, 72 * h, 30 * min, 1.25}, british: true, needed: 109.25},
		// NFPA 72 10.6.7 with voice: 0.25 x 24 + 3 x 0.25 = 6.75; x 1.20 = 8.1
		"NFPA, voice, 15 min": {load: Load{0.25, 3, 24 * h, 15 * min, 1.20}, needed: 8.1},
		// Household carbon monoxide: 0.1 x 24 + 0.3 x 12 = 6.0; x 1.20 = 7.2
		"CO, 12 h of alarm": {load: Load{0.1, 0.3, 24 * h, 12 * h, 1.20}, needed: 7.2},
		// EN 50131-6 type A, 12 h: 0.2 x 12 = 2.4; x 1.25 x 1.19 (IEEE 485 at 10 C) = 3.57
		"intruder in the cold": {load: Load{0.2, 0, 12 * h, 0, 1.25}, at: &c10, needed: 3.57},
		// EN 50131-6 grade 3, 60 h: 0.35 x 60 x 1.25 = 26.25
		"intruder, 60 h": {load: Load{0.35, 0, 60 * h, 0, 1.25}, needed: 26.25},
	} {
		got, err := Size(c.load, c.british, c.d, c.at)
		if err != nil || !about(got.Needed, c.needed, 1e-9) || (got.D > 1) != c.derated {
			t.Errorf("%s: %+v (%v), want %v Ah", name, got, err, c.needed)
		}
	}
}

func TestDuties(t *testing.T) {
	for id, want := range map[string][2]float64{ // hours, minutes of alarm
		"fire-premises": {24, 5}, "fire-voice": {24, 15}, "fire-household": {24, 4}, "co-household": {24, 720}, "burglary-household": {4, 0}, "fire-24": {24, 30}, "fire-72": {72, 30},
	} {
		d, ok := DutyOf(id)
		if !ok || float64(d.Standby) != want[0]*3600 || float64(d.Alarm) != want[1]*60 {
			t.Errorf("%s: %+v", id, d)
		}
	}
	for _, c := range []struct { // EN 50131-1 and -6
		grade               int
		kind                string
		reported, generator bool
		hours               float64
	}{
		{1, "A", false, false, 12},
		{2, "A", true, false, 12},
		{3, "A", false, false, 60},
		{4, "A", true, false, 30},
		{3, "A", false, true, 4},
		{1, "B", false, false, 24},
		{2, "B", false, false, 24},
		{3, "B", false, false, 120},
		{4, "B", false, false, 120},
		{2, "C", false, false, 720},
	} {
		d, err := IntruderDuty(c.grade, c.kind, c.reported, c.generator)
		if err != nil || float64(d.Standby) != c.hours*3600 {
			t.Errorf("grade %d, type %s: %+v (%v), want %v h", c.grade, c.kind, d, err, c.hours)
		}
	}
	for _, bad := range []struct {
		grade int
		kind  string
	}{{0, "A"}, {5, "A"}, {2, "D"}} {
		if _, err := IntruderDuty(bad.grade, bad.kind, false, false); !errors.Is(err, ErrInput) {
			t.Errorf("grade %d, type %s: %v", bad.grade, bad.kind, err)
		}
	}
}

// IEEE 485, as quoted; between its points straight lines: 7 C lies half way from 4 to 10.
func TestColdFactor(t *testing.T) {
	for at, want := range map[quantity.Celsius]float64{25: 1, 21: 1.04, 16: 1.11, 10: 1.19, 4: 1.30, -4: 1.52, 7: 1.245, 0: 1.41, 40: 1} {
		if got, err := ColdFactor(at); err != nil || !about(got, want, 1e-12) {
			t.Errorf("%v C: %v (%v), want %v", at, got, err, want)
		}
	}
	for _, at := range []quantity.Celsius{-5, 51, -300, quantity.Celsius(math.NaN()), quantity.Celsius(math.Inf(1))} {
		if _, err := ColdFactor(at); !errors.Is(err, ErrInput) {
			t.Errorf("%v C: %v", at, err)
		}
	}
}

func TestRuntime(t *testing.T) {
	for name, c := range map[string]struct {
		curve Curve
		amps  quantity.Ampere
		hours float64
	}{
		// 20 (12 / (1.5 x 20))^1.2 = 20 x 0.4^1.2 = 6.6603 h
		"Peukert, 12 Ah, 1.5 A": {Curve{Capacity: 12, Hours: 20, Peukert: 1.2}, 1.5, 6.6603},
		// Peukert's own test: k = 1.3, 100 Ah in 20 h, 10 A: 20 (100/200)^1.3 = 8.1225 h
		"Peukert, 100 Ah, 10 A": {Curve{Capacity: 100, Hours: 20, Peukert: 1.3}, 10, 8.1225},
		// 0.35 A is below the rated 0.6 A: 12/0.35, not more
		"slower than rated": {Curve{Capacity: 12, Hours: 20, Peukert: 1.2}, 0.35, 34.2857},
		"ideal":             {Curve{Capacity: 7}, 0.35, 20},
		// a line of the table itself, and half way between two on logarithmic scales: sqrt(5 x 20) h at sqrt(1.2 x 0.35) A
		"table, its own point":  {Curve{Capacity: 7, Points: []Point{{20, 0.35}, {5, 1.2}, {1, 4.4}}}, 1.2, 5},
		"table, between":        {Curve{Capacity: 7, Points: []Point{{20, 0.35}, {5, 1.2}, {1, 4.4}}}, quantity.Ampere(math.Sqrt(1.2 * 0.35)), 10},
		"table, slower than it": {Curve{Capacity: 7, Points: []Point{{20, 0.35}, {5, 1.2}}}, 0.1, 70},
	} {
		curve, err := c.curve.Sorted()
		if err != nil {
			t.Fatal(err)
		}
		if got, err := curve.Runtime(c.amps); err != nil || !about(got, c.hours, 1e-4*c.hours) {
			t.Errorf("%s: %v h (%v), want %v", name, got, err, c.hours)
		}
	}
	for name, c := range map[string]Curve{
		"no capacity": {}, "negative": {Capacity: -7}, "not a number": {Capacity: quantity.AmpereHour(math.NaN())}, "k below 1": {Capacity: 7, Peukert: 0.9},
		"table upside down": {Capacity: 7, Points: []Point{{20, 1}, {5, 0.5}}},
	} {
		if _, err := c.Sorted(); !errors.Is(err, ErrInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
	table, _ := Curve{Capacity: 7, Points: []Point{{20, 0.35}, {5, 1.2}}}.Sorted()
	if _, err := table.Runtime(1.3); !errors.Is(err, ErrInput) {
		t.Errorf("beyond the table: %v", err)
	}
}

// At a constant current the simulation meets the closed forms, whatever its step.
func TestDischargeMeetsTheClosedForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Curve{Capacity: quantity.AmpereHour(rapid.Float64Range(1, 100).Draw(t, "Ah")), Hours: 20, Peukert: rapid.SampledFrom([]float64{0, 1, 1.1, 1.25}).Draw(t, "k")}
		amps := float64(c.Capacity) * rapid.Float64Range(0.06, 1).Draw(t, "rate")
		part := rapid.Float64Range(0.3, 1).Draw(t, "part")
		want := part * float64(c.Capacity) / amps
		if c.Peukert > 1 {
			want = part * 20 * math.Pow(float64(c.Capacity)/(amps*20), c.Peukert)
		}
		step := quantity.Second(rapid.Float64Range(10, 5000).Draw(t, "step"))
		got, err := Discharged(c, part, []Spell{{1e6, quantity.Ampere(amps)}}, step)
		if err != nil || !about(float64(got.Empty), want*3600, 1e-6*want*3600) {
			t.Fatalf("%+v at %v A: empty after %v s (%v), want %v", c, amps, got.Empty, err, want*3600)
		}
	})
}

func TestDischargeOfTwoSpells(t *testing.T) {
	// 12 Ah ideal: 24 h at 0.36 A take 8.64 Ah, 4 min at 1.3 A another 0.0867: 3.2733 of 12 are left
	d, err := Discharged(Curve{Capacity: 12}, 1, []Spell{{24 * 3600, 0.36}, {240, 1.3}}, 600)
	if err != nil || d.Empty != -1 || !about(d.Left, 3.273333/12, 1e-6) {
		t.Errorf("%v left, empty %v (%v)", d.Left, d.Empty, err)
	}
	// 7 Ah: empty after 7/0.36 h
	if d, err = Discharged(Curve{Capacity: 7}, 1, []Spell{{24 * 3600, 0.36}, {240, 1.3}}, 600); err != nil || !about(float64(d.Empty), 7/0.36*3600, 1e-3) {
		t.Errorf("empty after %v (%v)", d.Empty, err)
	}
}

func TestRecharge(t *testing.T) {
	// EN 54-4: 80 % of 12 Ah in 24 h: 9.6 / (24 x 0.85) = 0.4706 A; with 0.36 A at rest 0.8306 A
	r, err := RechargeIn(12, 0.8, 24*3600, 0.36)
	if err != nil || !about(r.Ampere, 0.470588, 1e-6) || !about(r.Total, 0.830588, 1e-6) {
		t.Errorf("%+v (%v)", r, err)
	}
	if _, err := RechargeIn(-12, 0.8, 24*3600, 0.36); !errors.Is(err, ErrInput) {
		t.Error(err)
	}
}

// 1400 mAh, 85 % usable, 1 %/y, 5 uA asleep, check-in each 70 min 15 ms at 20 mA, 60 events a day of 100 ms at 20 mA:
// 5 + 20e3 x 0.015/4200 (0.0714) + 60 x 20e3 x 0.1/86400 (1.3889) + 1.4e6 x 0.01/8766 (1.597) = 8.057 uA;
// 1190 mAh / 8.057 uA = 147.7e3 h = 16.85 y, so the shelf life of 10 y counts.
func TestRadioCell(t *testing.T) {
	cell := RadioCell{
		Capacity: 1.4, Usable: 0.85, SelfDischarge: 0.01, Shelf: 10 * year, Sleep: 5e-6, Send: 0.02, Every: 4200, CheckIn: 0.015, Event: 0.1, Events: 60,
	}
	l, err := cell.Life()
	if err != nil || !about(l.Total*1e6, 8.06, 0.01) || !about(float64(l.Arithmetic)/year, 16.9, 0.1) || l.Life != 10*year || l.Limit != "shelf" {
		t.Errorf("%+v (%v)", l, err)
	}
	// the maker's figure is less still
	cell.Promised = 3 * year
	if l, _ := cell.Life(); l.Life != 3*year || l.Limit != "maker" {
		t.Errorf("%+v", l)
	}
	// at -20 C lithium gives 70 %; at 30 C it loses twice as much by itself
	cold, warm := quantity.Celsius(-20), quantity.Celsius(30)
	cell.Coldest, cell.Warmest, cell.Promised = &cold, &warm, 0
	if l, _ := cell.Life(); !about(l.Usable, 1.4*0.85*0.7, 1e-12) || !about(l.Self*1e6, 2*1.597, 0.001) {
		t.Errorf("%+v", l)
	}
	for name, spoil := range map[string]func(*RadioCell){
		"no capacity": func(c *RadioCell) { c.Capacity = 0 }, "negative sleep": func(c *RadioCell) { c.Sleep = -1 }, "more than all": func(c *RadioCell) { c.Usable = 1.1 },
		"absolute cold": func(c *RadioCell) { k := quantity.Celsius(-273); c.Coldest = &k }, "no number": func(c *RadioCell) { c.Events = math.NaN() },
	} {
		bad := cell
		spoil(&bad)
		if _, err := bad.Life(); !errors.Is(err, ErrInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// More draw never lasts longer, in any of the models.
func TestMoreLoadNeverLastsLonger(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, err := Curve{
			Capacity: 7, Peukert: rapid.SampledFrom([]float64{0, 1.15}).Draw(t, "k"),
			Points: rapid.SampledFrom([][]Point{nil, {{20, 0.35}, {5, 1.2}, {1, 4.4}}}).Draw(t, "table"),
		}.Sorted()
		if err != nil {
			t.Fatal(err)
		}
		a := rapid.Float64Range(0.01, 4).Draw(t, "a")
		b := a + rapid.Float64Range(0, 0.4).Draw(t, "more")
		x, errA := c.Runtime(quantity.Ampere(a))
		y, errB := c.Runtime(quantity.Ampere(b))
		if errA != nil || errB != nil || y > x+1e-9 {
			t.Fatalf("%v A: %v h, %v A: %v h (%v, %v)", a, x, b, y, errA, errB)
		}
		l := Load{quantity.Ampere(a), quantity.Ampere(a), 86400, 1800, 1.25}
		more := l
		more.Rest, more.Alarm = quantity.Ampere(b), quantity.Ampere(b)
		s1, _ := Size(l, true, 0, nil)
		s2, _ := Size(more, true, 0, nil)
		if s2.Needed < s1.Needed {
			t.Fatalf("%v A needs %v Ah, %v A %v Ah", a, s1.Needed, b, s2.Needed)
		}
	})
}

// The unit that something is typed in does not matter.
func TestUnitsDoNotMatter(t *testing.T) {
	amps := quantity.MustParse[quantity.CurrentDimension]
	hours := quantity.MustParse[quantity.ChargeDimension]
	warm := func(text string) quantity.Celsius {
		return quantity.InCelsius(quantity.MustParse[quantity.TemperatureDimension](text))
	}
	if a, b := amps("0.36 A").SI(), amps("360 mA").SI(); !about(a, b, 1e-12) {
		t.Errorf("%v and %v A", a, b)
	}
	if a, b := hours("7.2 Ah").SI(), hours("7200 mAh").SI(); !about(a, b, 1e-12) {
		t.Errorf("%v and %v Ah", a, b)
	}
	for _, same := range [][3]string{{"10 C", "50 F", "283.15 K"}, {"-4 °C", "24.8 °F", "269.15 k"}} {
		for _, text := range same[1:] {
			a, errA := ColdFactor(warm(same[0]))
			b, errB := ColdFactor(warm(text))
			if errA != nil || errB != nil || !about(a, b, 1e-9) {
				t.Errorf("%s: %v (%v), %s: %v (%v)", same[0], a, errA, text, b, errB)
			}
		}
	}
	for _, text := range []string{"-300 C", "-460 F", "-1 K", "20", "1 C 2 C", "NaN C"} {
		if v, err := quantity.Parse[quantity.TemperatureDimension](text); err == nil {
			t.Errorf("%s is taken: %v", text, v.SI())
		}
	}
}
