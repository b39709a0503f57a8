package electrical

import (
	"fmt"
	"math"

	"proofbell/internal/words"
	"proofbell/quantity"
)

// Loop is a supervised input: contacts, resistors and the cable to them.
type Loop struct {
	Opens     bool         // the contacts open on alarm (normally closed, in series); else they close (normally open, across)
	EndOfLine quantity.Ohm // at the far end
	Alarm     quantity.Ohm // of each sensor: across its contact when it opens, in series with it when it closes; 0: none
	Fault     quantity.Ohm // across a third contact that opens on a fault of the sensor; 0: none
	Sensors   int          // contacts that can be in alarm
	Tolerance float64      // of the resistors, in parts: 0.05
	LineMin   quantity.Ohm // of the cable, out and back, cold
	LineMax   quantity.Ohm // the same, warm
	PerMetre  float64      // ohm per metre of one conductor, warm; 0: not known, and no distance can be told
	ColdPer   float64      // the same, cold
}

// State is what a loop tells by its resistance.
type State string

// The states. Where one resistance has two meanings they share a state.
const (
	Normal     State = "normal"
	Alarm      State = "alarm"
	Fault      State = "fault"
	AlarmFault State = "alarm-fault"
	Cut        State = "cut"         // open: cut, or a tamper contact
	AlarmOrCut State = "alarm-cut"   // open, and nothing in the loop tells which
	Short      State = "short"       // joined somewhere along the cable
	AlarmShort State = "alarm-short" // joined, and nothing in the loop tells a contact from a fault
	Ambiguous  State = "ambiguous"   // in more than one window
	Outside    State = "outside"     // in none: never the nearest
)

// Band is the window of one state, ohm. High is infinite for an open loop.
type Band struct {
	State              State
	Sensors            int // in alarm
	Low, Nominal, High float64
}

// OpenFrom is the resistance from which a loop counts as open, ohm: what a pocket meter shows as beyond its range [GK].
const OpenFrom = 1e6

// guard is the gap wanted between neighbouring windows, in parts of the smaller resistance.
const guard = 0.1

// Bands lists the windows of all states a loop can have, from short to open:
//
//	contacts that open:   R = R_e + k R_a + m R_f + R_l
//	contacts that close:  R = R_l + R_e in parallel with R_a/k
//
// each from all resistors low and the cable cold to all high and the cable warm: [R(1-t) + line_min, R(1+t) + line_max].
func Bands(l Loop) ([]Band, error) {
	if err := l.check(); err != nil {
		return nil, err
	}
	bands := []Band{{Short, 0, 0, 0, float64(l.LineMax)}}
	if !l.Opens && l.Alarm == 0 {
		bands[0].State = AlarmShort
	}
	add := func(state State, sensors int, ohm float64) {
		nominal := ohm + (float64(l.LineMin)+float64(l.LineMax))/2
		bands = append(bands, Band{state, sensors, ohm*(1-l.Tolerance) + float64(l.LineMin), nominal, ohm*(1+l.Tolerance) + float64(l.LineMax)})
	}
	e, a, f := float64(l.EndOfLine), float64(l.Alarm), float64(l.Fault)
	add(Normal, 0, e)
	open := Cut
	switch {
	case l.Opens && a == 0:
		open = AlarmOrCut
	case l.Opens:
		for k := 1; k <= l.Sensors; k++ {
			add(Alarm, k, e+float64(k)*a)
		}
		if f > 0 {
			add(Fault, 0, e+f)
			for k := 1; k <= l.Sensors; k++ {
				add(AlarmFault, k, e+float64(k)*a+f)
			}
		}
	case a > 0:
		for k := 1; k <= l.Sensors; k++ {
			add(Alarm, k, 1/(1/e+float64(k)/a))
			// A sensor near the panel has less cable before it than the far resistor has.
			bands[len(bands)-1].Low -= float64(l.LineMin)
		}
	}
	for i := 1; i < len(bands); i++ { // few: by insertion
		for j := i; j > 1 && bands[j].Nominal < bands[j-1].Nominal; j-- {
			bands[j], bands[j-1] = bands[j-1], bands[j]
		}
	}
	return append(bands, Band{open, 0, OpenFrom, math.Inf(1), math.Inf(1)}), nil
}

func (l Loop) check() error {
	top := 0.5e6 // below an open loop with all in series
	for _, in := range []struct {
		name      string
		value     float64
		low, high float64
	}{
		{words.Mark("end-of-line resistor"), float64(l.EndOfLine), 1, top},
		{words.Mark("alarm resistor"), float64(l.Alarm), 0, top},
		{words.Mark("fault resistor"), float64(l.Fault), 0, top},
		{words.Mark("number of sensors"), float64(l.Sensors), 1, 20},
		{words.Mark("tolerance"), l.Tolerance, 0, 0.5},
		{words.Mark("resistance of the cable"), float64(l.LineMin), 0, 1e5},
		{words.Mark("resistance of the warm cable"), float64(l.LineMax), float64(l.LineMin), 1e5},
		{words.Mark("resistance of a metre"), l.PerMetre, 0, 100},
		{words.Mark("resistance of a cold metre"), l.ColdPer, 0, 100},
	} {
		if err := within(in.name, in.value, in.low, in.high); err != nil {
			return err
		}
	}
	if l.Fault > 0 && (!l.Opens || l.Alarm == 0) {
		return fmt.Errorf("%w: %w", &words.Error{
			Say: words.Later("a fault resistor goes with contacts that open and have an alarm resistor"), Try: words.Later("leave it out, or describe the other two"),
		}, ErrInput)
	}
	return nil
}

// Clash is two windows of one loop that can not be told apart, or only just.
type Clash struct {
	A, B  Band
	Gap   float64 // ohm between them; negative: they overlap
	Wants float64 // ohm, the gap wanted
}

// Clashes lists neighbouring windows without the guard gap; those that overlap make the loop ambiguous.
func Clashes(bands []Band) []Clash {
	var out []Clash
	for i, a := range bands {
		for _, b := range bands[i+1:] {
			wants := guard * math.Min(a.Nominal, b.Nominal)
			if gap := math.Max(a.Low, b.Low) - math.Min(a.High, b.High); gap < wants || gap <= 0 {
				out = append(out, Clash{a, b, gap, wants})
			}
		}
	}
	return out
}

// PanelWindow is what the panel's instructions say of a state, ohm.
type PanelWindow struct {
	State State
	Low   float64
	High  float64 // infinite: and more
}

// Choice is how a loop's window lies in the panel's.
type Choice struct {
	Band    Band
	Panel   *PanelWindow // of the same state; nil: the instructions give none
	Inside  bool         // wholly
	Touches []State      // windows of other states that it reaches into
}

// Fits lays a loop's windows over the panel's. A state with two meanings takes the window of either; several sensors in
// alarm are one alarm to the panel.
func Fits(bands []Band, panel []PanelWindow) []Choice {
	var out []Choice
	for _, b := range bands {
		c := Choice{Band: b}
		for i, w := range panel {
			switch meet := b.Low <= w.High && w.Low <= b.High; {
			case means(b.State, w.State):
				if c.Panel == nil || meet {
					c.Panel = &panel[i]
				}
			case meet:
				c.Touches = append(c.Touches, w.State)
			}
		}
		if c.Panel != nil {
			high := b.High
			if math.IsInf(high, 1) && c.Panel.High >= b.Low { // open is beyond any meter: a finite upper end says the same
				high = b.Low
			}
			c.Inside = c.Panel.Low <= b.Low && high <= c.Panel.High
		}
		out = append(out, c)
	}
	return out
}

func means(own, panel State) bool {
	switch own {
	case AlarmOrCut:
		return panel == Alarm || panel == Cut
	case AlarmShort:
		return panel == Alarm || panel == Short
	case AlarmFault:
		return panel == Alarm || panel == Fault || panel == AlarmFault
	}
	return own == panel
}

// Hint is what a reading may come from: hints, not proof.
type Hint string

// The hints.
const (
	HintShort   Hint = "short"    // joined along the cable
	HintHalf    Hint = "half"     // a second end-of-line resistor
	HintLeak    Hint = "leak"     // between the wires
	HintSeries  Hint = "series"   // a bad joint
	HintWrong   Hint = "wrong"    // another resistor
	HintOpen    Hint = "open"     // cut
	HintSensors Hint = "sensors"  // so many sensors in alarm
	HintMasked  Hint = "fault"    // the fault contact
	HintPlace   Hint = "place"    // a normal reading says nothing about where the resistor is
	HintTooMany Hint = "too-many" // more sensors than are described
)

// Cause is one hint with the figures that belong to it.
type Cause struct {
	Hint      Hint
	Sensors   int
	Ohm       float64 // leak, added resistance or standard value; 0: none
	Low, High float64 // its range by the tolerance; 0: none
	NearM     float64 // metres along the cable from where it was measured; NaN: can not be told
	FarM      float64
}

// Reading is what a measured resistance means.
type Reading struct {
	State   State
	In      []Band // windows it lies in
	Causes  []Cause
	Normal  Band    // what was to be expected
	Percent float64 // measured against that
}

// Judge tells the state of a loop from its resistance measured at the panel's end, wires off; infinite: the meter shows open.
// Between the windows it is outside, never the nearest.
func Judge(l Loop, measured quantity.Ohm) (Reading, error) {
	bands, err := Bands(l)
	if err != nil {
		return Reading{}, err
	}
	r := float64(measured)
	if !(r >= 0) {
		return Reading{}, within(words.Mark("measured resistance"), r, 0, math.MaxFloat64)
	}
	out := Reading{State: Outside}
	for _, b := range bands {
		if b.State == Normal {
			out.Normal = b
		}
		if r >= b.Low && r <= b.High {
			out.In = append(out.In, b)
		}
	}
	out.Percent = 100 * (r/out.Normal.Nominal - 1)
	switch len(out.In) {
	case 0:
	case 1:
		out.State = out.In[0].State
	default:
		out.State = Ambiguous
		for _, b := range out.In { // of one state twice: one or two sensors, the state is sure
			if b.State != out.In[0].State {
				out.causes(l, r)
				return out, nil
			}
		}
		out.State = out.In[0].State
	}
	out.causes(l, r)
	return out, nil
}

func (out *Reading) causes(l Loop, r float64) {
	add := func(c Cause) {
		if c.Hint != HintShort {
			c.NearM, c.FarM = math.NaN(), math.NaN()
		}
		out.Causes = append(out.Causes, c)
	}
	for _, b := range out.In {
		switch b.State {
		case Short, AlarmShort:
			c := Cause{Hint: HintShort, NearM: math.NaN(), FarM: math.NaN()}
			if l.PerMetre > 0 {
				c.NearM, c.FarM = ShortAt(r, l.PerMetre), ShortAt(r, l.PerMetre)
				if l.ColdPer > 0 {
					c.FarM = ShortAt(r, l.ColdPer)
				}
			}
			out.Causes = append(out.Causes, c)
		case Normal:
			add(Cause{Hint: HintPlace})
		case Alarm:
			add(Cause{Hint: HintSensors, Sensors: b.Sensors})
		case Fault, AlarmFault:
			add(Cause{Hint: HintMasked, Sensors: b.Sensors})
		case Cut, AlarmOrCut:
			add(Cause{Hint: HintOpen})
		}
	}
	if len(out.In) > 0 {
		return
	}
	n := out.Normal
	e, line := float64(l.EndOfLine), (float64(l.LineMin)+float64(l.LineMax))/2
	if half := e / 2; r >= half*(1-l.Tolerance)+float64(l.LineMin) && r <= half*(1+l.Tolerance)+float64(l.LineMax) {
		add(Cause{Hint: HintHalf})
	}
	switch {
	case r < n.Low && out.Percent >= -20:
		add(Cause{Hint: HintLeak, Ohm: Leak(r, n.Nominal), Low: Leak(r, n.High), High: Leak(r, n.Low)})
	case r > n.High && out.Percent <= 30:
		add(Cause{Hint: HintSeries, Ohm: r - n.Nominal, Low: r - n.High, High: r - n.Low})
	}
	if l.Opens && l.Alarm > 0 {
		k := math.Round((r - n.Nominal) / float64(l.Alarm))
		if want := e + k*float64(l.Alarm); k > float64(l.Sensors) && k <= float64(l.Sensors)+4 && r >= want*(1-l.Tolerance)+float64(l.LineMin) && r <= want*(1+l.Tolerance)+float64(l.LineMax) {
			add(Cause{Hint: HintTooMany, Sensors: int(k)})
		}
	}
	if standard := NearestStandard(r - line); standard > 0 && standard != e {
		add(Cause{Hint: HintWrong, Ohm: standard})
	}
}

// ShortAt is the way to a short along the cable, in metres: R/(2 r').
func ShortAt(measured, perMetre float64) float64 { return measured / (2 * perMetre) }

// Leak is the resistance across a loop that pulls its resistance down from what is expected: 1/R_leak = 1/R - 1/R_expected.
// It holds when the leak is near the panel; infinite when nothing leaks.
func Leak(measured, expected float64) float64 {
	if measured >= expected {
		return math.Inf(1)
	}
	return 1 / (1/measured - 1/expected)
}

// NearestStandard is the value of the E24 series (IEC 60063) within 5 % of a resistance, ohm; 0: none from 1 ohm to 1 megohm.
func NearestStandard(ohm float64) float64 {
	if !(ohm >= 1 && ohm <= 1e6) {
		return 0
	}
	decade := math.Pow(10, math.Floor(math.Log10(ohm)))
	best := 0.0
	for _, tenths := range []float64{10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91, 100} {
		if v := math.Round(tenths*decade) / 10; math.Abs(v-ohm) < math.Abs(best-ohm) && math.Abs(v-ohm) <= 0.05*v {
			best = v
		}
	}
	return best
}

// Divider is the resistance of a loop from the voltage across it, when the panel feeds it through a resistor of its own:
// V = V_s R/(R + R_p), R = R_p V/(V_s - V). Infinite at the supply's voltage.
func Divider(supply, across quantity.Volt, through quantity.Ohm) (quantity.Ohm, error) {
	for _, err := range []error{
		within(words.Mark("voltage of the panel's input"), float64(supply), 0.1, 100), within(words.Mark("voltage across the loop"), float64(across), 0, float64(supply)),
		within(words.Mark("resistor of the panel's input"), float64(through), 1, 1e6),
	} {
		if err != nil {
			return 0, err
		}
	}
	return quantity.Ohm(float64(through) * float64(across) / (float64(supply) - float64(across))), nil
}

// Across is the voltage that a loop of a resistance shows there; infinite is the supply's.
func Across(supply quantity.Volt, through, loop quantity.Ohm) quantity.Volt {
	if math.IsInf(float64(loop), 1) {
		return supply
	}
	return quantity.Volt(float64(supply) * float64(loop) / (float64(loop) + float64(through)))
}
