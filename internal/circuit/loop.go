package circuit

import (
	"errors"
	"math"

	"proofbell/electrical"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/site"
)

// Window is the range in which a state of a loop is read.
type Window struct {
	State string   `json:"state"` // normal, alarm, ...
	Name  string   `json:"name"`  // "one sensor in alarm"
	Low   float64  `json:"low"`   // ohm
	High  *float64 `json:"high"`  // ohm; nil: open
	Say   string   `json:"say"`   // "4.47 to 4.95 kilohm"
	Panel string   `json:"panel"` // what the panel's window makes of it; empty: its instructions are not given
	Fits  bool     `json:"fits"`  // wholly inside of the panel's window, and in no other
}

// Measure is one thing that a technician measures, and what it should be.
type Measure struct {
	Where string `json:"where"`
	What  string `json:"what"`
}

// LoopAnswer is what a measured resistance means.
type LoopAnswer struct {
	State    string   `json:"state"`
	Title    string   `json:"title"`    // in large type: "One sensor in alarm"
	Say      string   `json:"say"`      // measured against expected
	Hints    []string `json:"hints"`    // what it may come from: not proof
	Distance string   `json:"distance"` // along the cable; empty: resistance tells none
}

// Loop is a supervised input.
type Loop struct {
	Circuit  string      `json:"circuit"`
	Name     string      `json:"name"`
	Say      string      `json:"say"` // whether its states can be told apart
	Windows  []Window    `json:"windows"`
	Clashes  []string    `json:"clashes"` // windows that overlap or lie too near
	Unclear  bool        `json:"unclear"` // two states of different meaning overlap, or the panel takes one for another
	Measures []Measure   `json:"measures"`
	Safety   string      `json:"safety"` // before any measuring
	Answer   *LoopAnswer `json:"answer"` // nil: nothing was measured
	Missing  []string    `json:"missing"`
	Assumed  []string    `json:"assumed"`

	w     *wiring
	loop  electrical.Loop
	bands []electrical.Band
	read  *electrical.Reading
	ohm   float64
}

// Measured is what a technician read: a resistance, or the volts across the connected loop. The zero value is nothing.
type Measured struct {
	Ohm  *float64 // infinite: the meter shows open
	Volt *float64
}

// LoopOf reads a supervised input of a site.
func LoopOf(lang *words.Language, s *site.Site, id site.CircuitID, m Measured) (Loop, error) {
	l, err := loopOf(newWiring(lang, s, s.Circuits[id], "/circuits/"+string(id)), m)
	l.Circuit = string(id)
	if l.Name == "" {
		l.Name = string(id)
	}
	return l, err
}

// LoopOfPlain reads a supervised input that stands in no site.
func LoopOfPlain(lang *words.Language, s *site.Site, c site.Circuit, m Measured) (Loop, error) {
	if c.Name == "" {
		c.Name = lang.Say("numbers given")
	}
	return loopOf(newWiring(lang, s, c, ""), m)
}

func loopOf(w *wiring, m Measured) (Loop, error) {
	c := w.circuit
	out := Loop{Name: c.Name, w: w, Windows: []Window{}, Clashes: []string{}, Measures: []Measure{}, Missing: []string{}, Assumed: []string{}}
	out.Safety = w.lang.Say("Before measuring: supply off, battery off, wires taken off the panel. Never an insulation tester on connected devices.")
	end, err := quantity.Parse[quantity.ResistanceDimension](c.EndOfLine)
	if err != nil || !(end.SI() > 0) {
		w.lack(w.lang.Say("resistance of the end-of-line resistor"))
	}
	if c.Input.Contacts == "" {
		w.lack(w.lang.Say("whether its contacts open or close on alarm"))
	}
	if len(w.missing) > 0 {
		out.Missing = w.missing
		out.Say = w.lang.Say("Not determined: %s is missing.", w.missing[0])
		return out, nil
	}
	l := electrical.Loop{
		Opens: c.Input.Contacts == "open-on-alarm", EndOfLine: quantity.Ohm(end.SI()), Alarm: quantity.Ohm(c.Input.Alarm.SI()), Fault: quantity.Ohm(c.Input.Fault.SI()),
		Sensors: max(1, c.Input.Sensors), Tolerance: c.Input.Tolerance.SI(),
	}
	if c.Input.Tolerance.IsZero() {
		l.Tolerance = 0.05
		w.assume(w.lang.Say("the resistors are within 5 %%"))
	}
	if err := out.cable(&l); err != nil {
		return out, err
	}
	out.loop = l
	if out.bands, err = electrical.Bands(l); err != nil {
		return out, err
	}
	out.windows()
	out.measures()
	if err := out.answer(m); err != nil {
		return out, err
	}
	out.Missing, out.Assumed = append(out.Missing, w.missing...), append(out.Assumed, w.assumed...)
	return out, nil
}

// cable puts the resistance of the cable into the loop, cold and warm.
func (out *Loop) cable(l *electrical.Loop) error {
	w := out.w
	way, _ := w.farthest()
	warm, err := w.perMetre(quantity.Conductor{}, w.warm())
	switch {
	case errors.Is(err, errNoConductor), errors.Is(err, errMeasure), err == nil && way == 0:
		w.lack(w.lang.Say("conductor and length of the cable: its resistance counts as nothing, and no distance can be told"))
		return nil
	case err != nil:
		return err
	}
	cool, err := w.perMetre(quantity.Conductor{}, min(cold, w.warm()))
	if err != nil {
		return err
	}
	w.noteCable()
	w.assume(w.lang.Say("the copper is not below %s °C while measured", w.lang.Number(float64(min(cold, w.warm())), 0)))
	l.PerMetre, l.ColdPer = warm, cool
	l.LineMin, l.LineMax = quantity.Ohm(2*way*cool), quantity.Ohm(2*way*warm)
	return nil
}

// stateName says a state with the number of sensors.
func stateName(lang *words.Language, b electrical.Band) string {
	switch b.State {
	case electrical.Normal:
		return lang.Say("normal")
	case electrical.Alarm:
		if b.Sensors == 1 {
			return lang.Say("one sensor in alarm")
		}
		return lang.Say("%d sensors in alarm", b.Sensors)
	case electrical.Fault:
		return lang.Say("fault of a sensor")
	case electrical.AlarmFault:
		return lang.Say("alarm and fault of a sensor")
	case electrical.Cut:
		return lang.Say("cut or opened")
	case electrical.AlarmOrCut:
		return lang.Say("alarm or cut: they look the same")
	case electrical.Short:
		return lang.Say("short")
	case electrical.AlarmShort:
		return lang.Say("alarm or short: they look the same")
	case electrical.Ambiguous:
		return lang.Say("ambiguous")
	}
	return lang.Say("outside every window")
}

func (out *Loop) span(low, high float64) string {
	lang := out.w.lang
	if math.IsInf(high, 1) {
		return lang.Say("over %s", ohms(lang, low))
	}
	return lang.Say("%s to %s", ohms(lang, low), ohms(lang, high))
}

func (out *Loop) windows() {
	w := out.w
	var panel []electrical.PanelWindow
	for _, state := range site.SortedIDs(w.circuit.Input.Windows) {
		given := w.circuit.Input.Windows[state]
		win := electrical.PanelWindow{State: electrical.State(state), Low: given.From.SI(), High: math.Inf(1)}
		if !given.To.IsZero() {
			win.High = given.To.SI()
		}
		panel = append(panel, win)
	}
	if len(panel) == 0 {
		w.lack(w.lang.Say("the panel's windows: take them from the panel's instructions"))
	}
	bad := 0
	for _, c := range electrical.Fits(out.bands, panel) {
		b := c.Band
		win := Window{State: string(b.State), Name: stateName(w.lang, b), Low: b.Low, Say: out.span(b.Low, b.High)}
		if !math.IsInf(b.High, 1) {
			high := b.High
			win.High = &high
		}
		if len(panel) > 0 {
			win.Fits = c.Inside && len(c.Touches) == 0
			switch {
			case len(c.Touches) > 0:
				bad++
				win.Panel = w.lang.Say("the panel may take it for %s", stateName(w.lang, electrical.Band{State: c.Touches[0], Sensors: 1}))
			case c.Panel == nil:
				win.Panel = w.lang.Say("the panel's instructions give no window")
			case !c.Inside:
				bad++
				win.Panel = w.lang.Say("reaches out of the panel's window %s", out.span(c.Panel.Low, c.Panel.High))
			default:
				win.Panel = w.lang.Say("inside of the panel's window %s", out.span(c.Panel.Low, c.Panel.High))
			}
		}
		out.Windows = append(out.Windows, win)
	}
	overlap := false
	for _, c := range electrical.Clashes(out.bands) {
		a, b := stateName(w.lang, c.A), stateName(w.lang, c.B)
		if c.Gap <= 0 {
			overlap = overlap || c.A.State != c.B.State
			out.Clashes = append(out.Clashes, w.lang.Say("%s and %s overlap: a reading there is ambiguous", a, b))
		} else {
			out.Clashes = append(out.Clashes, w.lang.Say("between %s and %s lie %s; %s are wanted", a, b, ohms(w.lang, c.Gap), ohms(w.lang, c.Wants)))
		}
	}
	out.Unclear = overlap || bad > 0
	switch {
	case overlap:
		out.Say = w.lang.Say("Its states can not be told apart: %s.", out.Clashes[0])
	case bad > 0:
		out.Say = w.lang.Say("The resistors do not fit the panel's windows.")
	case len(panel) == 0:
		out.Say = w.lang.Say("Its states can be told apart. Whether the panel does: see its instructions.")
	default:
		out.Say = w.lang.Say("Its states can be told apart, and lie in the panel's windows.")
	}
	for _, b := range out.bands {
		switch b.State {
		case electrical.AlarmOrCut:
			out.Say += " " + w.lang.Say("Only an alarm and a cut wire look the same: no resistor tells one from the other.")
		case electrical.AlarmShort:
			out.Say += " " + w.lang.Say("Only an alarm and a short look the same: no resistor tells one from the other.")
		}
	}
}

func (out *Loop) measures() {
	w, l := out.w, out.loop
	lang := w.lang
	add := func(where, what string) { out.Measures = append(out.Measures, Measure{where, what}) }
	var normal, alarm, far electrical.Band
	for _, b := range out.bands {
		switch {
		case b.State == electrical.Normal:
			normal = b
		case b.State == electrical.Alarm && b.Sensors == 1:
			alarm = b
		case b.State == electrical.AlarmOrCut || b.State == electrical.AlarmShort:
			far = b
		}
	}
	add(lang.Say("At the panel, both wires off, all at rest"), out.span(normal.Low, normal.High))
	if alarm.High > 0 {
		add(lang.Say("The same, one sensor tripped"), out.span(alarm.Low, alarm.High))
	} else {
		add(lang.Say("The same, one sensor tripped"), out.span(far.Low, far.High))
	}
	around := func(ohm quantity.Ohm) string {
		return out.span(float64(ohm)*(1-l.Tolerance), float64(ohm)*(1+l.Tolerance))
	}
	_, end := w.farthest()
	where := lang.Say("far end")
	if end != "" {
		where = w.name(end)
	}
	add(lang.Say("At the end (%s), resistor taken off on one side", where), around(l.EndOfLine))
	if l.Alarm > 0 {
		beyond := map[site.PartID]bool{}
		for _, id := range w.ids {
			beyond[w.circuit.Parts[id].From] = true
		}
		for _, id := range w.ids {
			if beyond[id] && w.circuit.Parts[id].Device == "" { // a joint
				continue
			}
			add(lang.Say("At %s, its alarm resistor alone", w.name(id)), around(l.Alarm))
		}
	}
	if l.LineMax > 0 {
		add(lang.Say("Far end joined instead of its resistor, measured at the panel"), out.span(float64(l.LineMin), float64(l.LineMax)))
	}
	add(lang.Say("Each wire against earth"), lang.Say("open"))
	if c := w.circuit.Input; !c.Volts.IsZero() && !c.Through.IsZero() {
		at := func(r float64) string {
			return lang.Number(float64(electrical.Across(quantity.Volt(c.Volts.SI()), quantity.Ohm(c.Through.SI()), quantity.Ohm(r))), 2)
		}
		add(lang.Say("Connected again, across the input, all at rest"), lang.Say("%s to %s V", at(normal.Low), at(normal.High)))
	}
}

func (out *Loop) answer(m Measured) error {
	w := out.w
	lang := w.lang
	var ohm float64
	switch {
	case m.Ohm != nil:
		ohm = *m.Ohm
	case m.Volt != nil:
		c := w.circuit.Input
		if c.Volts.IsZero() || c.Through.IsZero() {
			w.lack(lang.Say("voltage of the panel's open input and the resistor that feeds it: without them volts say nothing"))
			return nil
		}
		r, err := electrical.Divider(quantity.Volt(c.Volts.SI()), quantity.Volt(*m.Volt), quantity.Ohm(c.Through.SI()))
		if err != nil {
			return err
		}
		ohm = float64(r)
	default:
		return nil
	}
	read, err := electrical.Judge(out.loop, quantity.Ohm(ohm))
	if err != nil {
		return err
	}
	out.read, out.ohm = &read, ohm
	a := &LoopAnswer{State: string(read.State), Hints: []string{}}
	switch {
	case len(read.In) == 0:
		a.Title = lang.Say("Outside every window")
	case read.State == electrical.Ambiguous:
		a.Title = lang.Say("Ambiguous: %s, or %s", stateName(lang, read.In[0]), stateName(lang, read.In[1]))
	case len(read.In) > 1:
		a.Title = lang.Say("%d or %d sensors in alarm", read.In[0].Sensors, read.In[len(read.In)-1].Sensors)
	default:
		a.Title = words.Upper(stateName(lang, read.In[0]))
	}
	a.Say = lang.Say("%s measured; normal is %s.", ohms(lang, ohm), out.span(read.Normal.Low, read.Normal.High))
	for _, c := range read.Causes {
		if say := out.hint(c); say != "" {
			a.Hints = append(a.Hints, say)
		}
		if c.Hint == electrical.HintShort && !math.IsNaN(c.NearM) {
			a.Distance = lang.Say("A short lies about %s to %s along the cable from where it was measured.", w.metres(c.NearM), w.metres(c.FarM))
			if c.FarM-c.NearM < 0.05 {
				a.Distance = lang.Say("A short lies where it was measured, or within a step of it.")
			}
		}
	}
	out.Answer = a
	return nil
}

// hint says what a reading may come from.
func (out *Loop) hint(c electrical.Cause) string {
	lang := out.w.lang
	switch c.Hint {
	case electrical.HintShort:
		return lang.Say("Wires joined: a staple through the cable, wrong terminals, a device wired the wrong way round.")
	case electrical.HintHalf:
		return lang.Say("Half of the end-of-line resistor: a second one is fitted, or one was left in the panel.")
	case electrical.HintLeak:
		if math.IsInf(c.Low, 1) || math.IsInf(c.High, 1) {
			return lang.Say("A leak across the wires of about %s: damp, a damaged jacket, a bad splice. How far away can not be told.", ohms(lang, c.Ohm))
		}
		return lang.Say("A leak across the wires of about %s (%s by tolerance): damp, a damaged jacket, a bad splice. The figure holds near the panel; how far away can not be told.", ohms(lang, c.Ohm), out.span(c.Low, c.High))
	case electrical.HintSeries:
		return lang.Say("About %s too many in series: a corroded splice, a loose terminal, thin wire, added length. It jumps when wiggled.", ohms(lang, c.Ohm))
	case electrical.HintWrong:
		return lang.Say("Near the standard value %s: perhaps the wrong resistor is fitted.", ohms(lang, c.Ohm))
	case electrical.HintOpen:
		return lang.Say("Cut, a contact stuck open, a sensor taken off, no resistor at the end. Resistance tells no distance to a cut: halve the cable.")
	case electrical.HintMasked:
		return lang.Say("A sensor says that it is faulty or covered.")
	case electrical.HintPlace:
		return lang.Say("A normal reading does not say where the resistor is. Ask; if it sits at the panel, the wire beyond is not watched.")
	case electrical.HintTooMany:
		return lang.Say("As %d sensors in alarm would read; fewer are described.", c.Sensors)
	}
	return ""
}
