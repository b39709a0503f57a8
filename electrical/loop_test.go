package electrical

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"proofbell/quantity"
)

func bandsOf(t *testing.T, l Loop) []Band {
	t.Helper()
	bands, err := Bands(l)
	if err != nil {
		t.Fatal(err)
	}
	return bands
}

func band(t *testing.T, bands []Band, s State, sensors int) Band {
	t.Helper()
	for _, b := range bands {
		if b.State == s && b.Sensors == sensors {
			return b
		}
	}
	t.Fatalf("no window %s %d in %+v", s, sensors, bands)
	return Band{}
}

// 2000 ohm 5 %, line 0 to 60: 1900 to 2160.
func TestWindowOfOneResistor(t *testing.T) {
	b := band(t, bandsOf(t, Loop{Opens: true, EndOfLine: 2000, Sensors: 1, Tolerance: 0.05, LineMax: 60}), Normal, 0)
	near(t, "low", b.Low, 1900, 1e-9)
	near(t, "high", b.High, 2160, 1e-9)
}

// 1800 ohm where 2000 are expected: 1/(1/1800 - 1/2000) = 18000.
func TestLeak(t *testing.T) {
	near(t, "leak", Leak(1800, 2000), 18000, 1e-6)
	if !math.IsInf(Leak(2000, 2000), 1) {
		t.Error("nothing leaks")
	}
	got, err := Judge(Loop{Opens: true, EndOfLine: 2000, Sensors: 1, Tolerance: 0.05}, 1800)
	if err != nil || got.State != Outside || len(got.Causes) == 0 || got.Causes[0].Hint != HintLeak {
		t.Fatalf("%+v (%v)", got, err)
	}
	near(t, "its value", got.Causes[0].Ohm, 18000, 1e-6)
	near(t, "at least: of 2100", got.Causes[0].Low, 12600, 1e-6) // 1/(1/1800 - 1/2100)
	near(t, "at most: of 1900", got.Causes[0].High, 34200, 1e-6) // 1/(1/1800 - 1/1900)
}

// A fire loop: 3900 at the end, 470 in series with each contact, line 20. One alarm: 20 + 3900 x 470/4370 = 439.45; two:
// 20 + 3900 x 235/4135 = 241.64.
func TestFireLoop(t *testing.T) {
	bands := bandsOf(t, Loop{EndOfLine: 3900, Alarm: 470, Sensors: 2, LineMin: 20, LineMax: 20})
	near(t, "one alarm", band(t, bands, Alarm, 1).Nominal, 439.45, 0.005)
	near(t, "two alarms", band(t, bands, Alarm, 2).Nominal, 241.64, 0.005)
	if bands[0].State != Short || bands[len(bands)-1].State != Cut {
		t.Errorf("%+v", bands)
	}
	// Without alarm resistors a short is an alarm, and nothing tells them apart.
	plain := bandsOf(t, Loop{EndOfLine: 4700, Sensors: 1, LineMax: 10})
	if plain[0].State != AlarmShort || len(plain) != 3 {
		t.Errorf("%+v", plain)
	}
}

// Contacts that open, each with a resistor across (double end of line): 4700 + 4700 in alarm. With a third resistor of
// 12000 for faults: 16700, and 21400 with both.
func TestTwoAndThreeResistors(t *testing.T) {
	two := Loop{Opens: true, EndOfLine: 4700, Alarm: 4700, Sensors: 2, Tolerance: 0.05, LineMax: 10}
	for _, c := range []struct {
		ohm   float64
		state State
		hint  Hint
	}{
		{4700, Normal, HintPlace},
		{4465, Normal, HintPlace}, // 4700 x 0.95
		{4464, Outside, HintLeak},
		{4946, Outside, HintSeries}, // 4700 x 1.05 + 10 = 4945
		{9400, Alarm, HintSensors},
		{14100, Alarm, HintSensors},
		{18800, Outside, HintTooMany}, // three
		{2350, Outside, HintHalf},
		{3, Short, HintShort},
		{math.Inf(1), Cut, HintOpen},
		{2e6, Cut, HintOpen},
		{500e3, Outside, HintWrong}, // nearest 510 kilohm: outside every window, never the nearest
		{1000, Outside, HintWrong},
	} {
		got, err := Judge(two, quantity.Ohm(c.ohm))
		if err != nil || got.State != c.state || len(got.Causes) == 0 || got.Causes[0].Hint != c.hint {
			t.Errorf("%v ohm: %+v (%v), want %s, %s", c.ohm, got, err, c.state, c.hint)
		}
	}
	three := bandsOf(t, Loop{Opens: true, EndOfLine: 4700, Alarm: 4700, Fault: 12000, Sensors: 1})
	near(t, "fault", band(t, three, Fault, 0).Nominal, 16700, 0)
	near(t, "alarm and fault", band(t, three, AlarmFault, 1).Nominal, 21400, 0)
	// A single resistor: an opened contact and a cut look the same.
	got, _ := Judge(Loop{Opens: true, EndOfLine: 4700, Sensors: 1}, quantity.Ohm(math.Inf(1)))
	if got.State != AlarmOrCut {
		t.Errorf("%+v", got)
	}
}

// A loop of 24 ohm/km conductors shorted at 2.4 ohm: 2.4/(2 x 0.024) = 50 m.
func TestDistanceToAShort(t *testing.T) {
	got, err := Judge(Loop{Opens: true, EndOfLine: 4700, Sensors: 1, LineMin: 4, LineMax: 4.8, PerMetre: 0.024, ColdPer: 0.020}, 2.4)
	if err != nil || got.State != Short {
		t.Fatal(got, err)
	}
	near(t, "warm", got.Causes[0].NearM, 50, 1e-9)
	near(t, "cold", got.Causes[0].FarM, 60, 1e-9)
	if open, _ := Judge(Loop{Opens: true, EndOfLine: 4700, Sensors: 1, PerMetre: 0.024}, 2e6); !math.IsNaN(open.Causes[0].NearM) {
		t.Error("a cut has no distance that ohms could tell")
	}
}

// 100 ohm across 4700 is within 5 % of it: two states in one window.
func TestAmbiguous(t *testing.T) {
	l := Loop{Opens: true, EndOfLine: 4700, Alarm: 220, Sensors: 1, Tolerance: 0.05}
	got, _ := Judge(l, 4800)
	if got.State != Ambiguous || len(got.In) != 2 {
		t.Errorf("%+v", got)
	}
	found := false
	for _, c := range Clashes(bandsOf(t, l)) {
		found = found || c.A.State == Normal && c.B.State == Alarm && c.Gap < 0
	}
	if !found {
		t.Error("the overlap was not seen")
	}
	// 1000 and 1000 + 180 at 5 %: 1050 to 1121: a gap of 71, a tenth of 1000 is wanted.
	tight := Clashes(bandsOf(t, Loop{Opens: true, EndOfLine: 1000, Alarm: 180, Sensors: 1, Tolerance: 0.05}))
	if len(tight) != 1 || math.Abs(tight[0].Gap-71) > 1e-9 || math.Abs(tight[0].Wants-100) > 1e-9 {
		t.Errorf("%+v", tight)
	}
	// One or two sensors overlap, and yet it is sure that it is an alarm: 2 x 4700 and 3 x 4700 at 30 %.
	both, _ := Judge(Loop{Opens: true, EndOfLine: 4700, Alarm: 4700, Sensors: 2, Tolerance: 0.3}, 11500)
	if both.State != Alarm || len(both.In) != 2 {
		t.Errorf("%+v", both)
	}
}

func TestChoiceAgainstThePanel(t *testing.T) {
	panel := []PanelWindow{{Short, 0, 600}, {Normal, 3800, 5600}, {Alarm, 7800, 11200}, {Cut, 15000, math.Inf(1)}}
	for _, c := range Fits(bandsOf(t, Loop{Opens: true, EndOfLine: 4700, Alarm: 4700, Sensors: 1, Tolerance: 0.05, LineMax: 20}), panel) {
		if c.Panel == nil || !c.Inside || c.Touches != nil {
			t.Errorf("%+v", c)
		}
	}
	// 5.6 kilohm at 5 %: 5320 to 5900, beyond 5600. In alarm 5600 + 4700 at 5 %: 9785 to 10835.
	high := Fits(bandsOf(t, Loop{Opens: true, EndOfLine: 5600, Alarm: 4700, Sensors: 1, Tolerance: 0.05, LineMax: 20}), panel)
	if high[1].Inside || high[1].Touches != nil || !high[2].Inside {
		t.Errorf("%+v", high)
	}
	// With 10 kilohm at the end, normal is read as an alarm.
	wrong := Fits(bandsOf(t, Loop{Opens: true, EndOfLine: 10000, Alarm: 4700, Sensors: 1, Tolerance: 0.05}), panel)
	if wrong[1].Inside || len(wrong[1].Touches) != 1 || wrong[1].Touches[0] != Alarm {
		t.Errorf("%+v", wrong[1])
	}
	if c := Fits(bandsOf(t, Loop{Opens: true, EndOfLine: 4700, Sensors: 1}), panel[:2]); c[2].Panel != nil || c[2].Inside {
		t.Errorf("%+v", c[2])
	}
}

// 12 V through 5.6 kilohm: 6 V across the loop is 5.6 kilohm; 4.7 kilohm show 12 x 4700/10300 = 5.4757 V.
func TestDivider(t *testing.T) {
	r, err := Divider(12, 6, 5600)
	near(t, "half", float64(r), 5600, 1e-9)
	near(t, "4.7 kilohm", float64(Across(12, 5600, 4700)), 5.4757, 1e-4)
	open, err2 := Divider(12, 12, 5600)
	if err != nil || err2 != nil || !math.IsInf(float64(open), 1) || Across(12, 5600, open) != 12 {
		t.Error(err, err2, open)
	}
	for _, bad := range [][3]float64{{0, 0, 5600}, {12, 12.5, 5600}, {12, -1, 5600}, {12, 6, 0}, {math.NaN(), 6, 5600}, {12, math.NaN(), 5600}} {
		if _, err := Divider(quantity.Volt(bad[0]), quantity.Volt(bad[1]), quantity.Ohm(bad[2])); !errors.Is(err, ErrInput) {
			t.Errorf("%v: %v", bad, err)
		}
	}
}

func TestStandardValues(t *testing.T) {
	for ohm, want := range map[float64]float64{4700: 4700, 4650: 4700, 1800: 1800, 999: 1000, 9400: 9100, 9600: 10000, 1: 1, 0.5: 0, 2.2: 2.2} {
		near(t, "", NearestStandard(ohm), want, 1e-9)
	}
	for _, ohm := range []float64{math.NaN(), -5, math.Inf(1)} {
		near(t, "", NearestStandard(ohm), 0, 0)
	}
}

// Whatever resistors and cable a loop is made of within its tolerance, what it shows lies in the window of its state.
func TestEveryLoopLiesInItsWindow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ohm := rapid.Float64Range(100, 20000)
		l := Loop{
			Opens: rapid.Bool().Draw(t, "opens"), EndOfLine: quantity.Ohm(ohm.Draw(t, "end")), Alarm: quantity.Ohm(ohm.Draw(t, "alarm")), Sensors: rapid.IntRange(1, 3).Draw(t, "sensors"),
			Tolerance: rapid.Float64Range(0, 0.2).Draw(t, "tolerance"), LineMin: quantity.Ohm(rapid.Float64Range(0, 20).Draw(t, "cold")),
		}
		l.LineMax = l.LineMin + quantity.Ohm(rapid.Float64Range(0, 10).Draw(t, "warmer"))
		any := func(r quantity.Ohm) float64 {
			return float64(r) * (1 + l.Tolerance*rapid.Float64Range(-1, 1).Draw(t, "within"))
		}
		line := float64(l.LineMin) + rapid.Float64Range(0, 1).Draw(t, "warmth")*float64(l.LineMax-l.LineMin)
		k := rapid.IntRange(0, l.Sensors).Draw(t, "in alarm")
		r := any(l.EndOfLine)
		state := Normal
		if k > 0 {
			state = Alarm
		}
		if l.Opens {
			for range k {
				r += any(l.Alarm)
			}
			r += line
		} else {
			near := rapid.Float64Range(0, 1).Draw(t, "along the cable") * line // all sensors at one place
			beyond := r + line - near
			g := 1 / beyond
			for range k {
				g += 1 / any(l.Alarm)
			}
			r = near + 1/g
		}
		got, err := Judge(l, quantity.Ohm(r))
		if err != nil {
			t.Fatal(err)
		}
		in := false
		for _, b := range got.In {
			in = in || b.State == state && b.Sensors == k
		}
		// On the very edge of a window rounding decides.
		bands, _ := Bands(l)
		for _, b := range bands {
			in = in || math.Abs(r-b.Low) < 1e-9*r || math.Abs(r-b.High) < 1e-9*r
		}
		if !in {
			t.Fatalf("%v ohm of %+v is %s with %d in alarm, told as %+v", r, l, state, k, got)
		}
	})
}

func TestLoopRefusesNonsense(t *testing.T) {
	good := func() Loop { return Loop{Opens: true, EndOfLine: 4700, Alarm: 4700, Sensors: 1, Tolerance: 0.05} }
	for name, spoil := range map[string]func(*Loop){
		"no end":           func(l *Loop) { l.EndOfLine = 0 },
		"negative":         func(l *Loop) { l.Alarm = -1 },
		"no number":        func(l *Loop) { l.EndOfLine = quantity.Ohm(math.NaN()) },
		"infinite":         func(l *Loop) { l.Alarm = quantity.Ohm(math.Inf(1)) },
		"no sensors":       func(l *Loop) { l.Sensors = 0 },
		"tolerance":        func(l *Loop) { l.Tolerance = 0.6 },
		"cable":            func(l *Loop) { l.LineMin, l.LineMax = 5, 4 },
		"third of closing": func(l *Loop) { l.Opens, l.Fault = false, 1000 },
	} {
		l := good()
		spoil(&l)
		if _, err := Bands(l); !errors.Is(err, ErrInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, r := range []float64{-1, math.NaN()} {
		if _, err := Judge(good(), quantity.Ohm(r)); !errors.Is(err, ErrInput) {
			t.Errorf("%v ohm: %v", r, err)
		}
	}
}
