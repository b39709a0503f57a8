package circuit

import (
	"math"

	"proofbell/electrical"
	"proofbell/internal/words"
	"proofbell/internal/worked"
)

// Sheet is the calculation line by line.
func (out Loop) Sheet() worked.Sheet {
	w, lang := out.w, out.w.lang
	s := worked.Sheet{
		Label: w.lang.Say("Planning estimate. Measure on site."),
		ID:    "loop." + out.Circuit, Title: lang.Say("Supervised input: %s", out.Name), Result: out.Say, Inputs: out.inputs(), Missing: out.Missing, Assumed: out.Assumed,
		Cautions: append([]string{out.Safety, lang.Say("The panel's windows come from its instructions, not from here. Hints are hints, not proof.")}, out.Clashes...),
	}
	if a := out.Answer; a != nil {
		s.Result = sentences(a.Title+".", a.Say)
	}
	if len(out.bands) == 0 {
		return s
	}
	l := out.loop
	t := lang.Number(l.Tolerance, -1)
	line := func(v float64) string { return lang.Number(v, 1) }
	for _, b := range out.bands {
		if math.IsInf(b.High, 1) || b.Nominal == 0 {
			continue
		}
		middle := b.Nominal - (float64(l.LineMin)+float64(l.LineMax))/2
		step := worked.Step{
			Formula: "6.1", Says: "R = (Rₑ + k Rₐ + m R_f) (1 ± t) + Rₗ", Put: ohms(lang, middle) + " (1 ± " + t + ") + " + line(float64(l.LineMin)) + " … " + line(float64(l.LineMax)),
			Name: words.Upper(stateName(lang, b)), Value: b.Nominal, Unit: "ohm", Say: out.span(b.Low, b.High), Source: lang.Say("arithmetic; tolerance and cable both ways"), Confidence: worked.High,
		}
		if b.State == electrical.Alarm && !l.Opens {
			closed := worked.Step{Formula: "6.2", Says: "R = Rₗ + Rₑ ∥ Rₐ/k"}
			step.Formula, step.Says = closed.Formula, closed.Says
			step.Put = ohms(lang, float64(l.EndOfLine)) + " ∥ " + ohms(lang, float64(l.Alarm)) + "/" + lang.Number(float64(b.Sensors), 0) + " (1 ± " + t + ") + 0 … " + line(float64(l.LineMax))
		}
		s.Steps = append(s.Steps, step)
	}
	if out.read == nil {
		return s
	}
	for _, c := range out.read.Causes {
		switch {
		case c.Hint == electrical.HintLeak:
			s.Steps = append(s.Steps, worked.Step{
				Name: lang.Say("Leak near the panel"), Formula: "6.3", Says: "1/R = 1/Rₘ − 1/Rₙ", Put: "1/" + lang.Number(out.ohm, 0) + " − 1/" + lang.Number(out.read.Normal.Nominal, 0), Value: c.Ohm, Unit: "ohm",
				Say: ohms(lang, c.Ohm), Source: lang.Say("physics"), Confidence: worked.High,
			})
		case c.Hint == electrical.HintShort && !math.IsNaN(c.NearM):
			s.Steps = append(s.Steps, worked.Step{
				Name: lang.Say("Way to the short"), Formula: "6.4", Says: "L = R/(2 r')", Put: lang.Number(out.ohm, 2) + " ohm/(2 · " + lang.Number(l.PerMetre*1000, 2) + " … " + lang.Number(l.ColdPer*1000, 2) + " ohm/km)",
				Value: c.NearM, Unit: "m", Say: lang.Say("%s to %s", w.metres(c.NearM), w.metres(c.FarM)), Source: lang.Say("physics"), Confidence: worked.High,
			})
		}
	}
	if c := w.circuit.Input; !c.Volts.IsZero() && !c.Through.IsZero() && !math.IsInf(out.ohm, 1) {
		s.Steps = append(s.Steps, worked.Step{
			Name: lang.Say("The same in volts, connected"), Formula: "6.5", Says: "V = Vₛ R/(R + Rₚ)", Put: c.Volts.String() + " · " + ohms(lang, out.ohm) + "/(" + ohms(lang, out.ohm) + " + " + c.Through.String() + ")",
			Value: c.Volts.SI() * out.ohm / (out.ohm + c.Through.SI()), Unit: "V", Say: lang.Say("%s V", lang.Number(c.Volts.SI()*out.ohm/(out.ohm+c.Through.SI()), 2)), Source: lang.Say("physics"), Confidence: worked.High,
		})
	}
	return s
}

func (out Loop) inputs() []worked.Input {
	w, c := out.w, out.w.circuit
	lang := w.lang
	var in []worked.Input
	add := func(name, sign, value, member string) *worked.Input {
		at, from := "", ""
		if w.at != "" {
			at = w.at + "/" + member
		}
		if value != "" {
			from = lang.Say("typed")
		}
		one := worked.Input{Name: name, Sign: sign, Say: value, Value: value, At: at, From: from}
		if at == "" && value == "" { // nothing to type over
			return &one
		}
		in = append(in, one)
		return &in[len(in)-1]
	}
	add(lang.Say("End-of-line resistor"), "Rₑ", c.EndOfLine, "endOfLine")
	contacts := add(lang.Say("Contacts"), "", c.Input.Contacts, "input/contacts")
	contacts.Choices = choices(lang, "", words.Mark("not given"), "open-on-alarm", words.Mark("open on alarm"), "close-on-alarm", words.Mark("close on alarm"))
	contacts.Say = chosen(*contacts)
	add(lang.Say("Alarm resistor"), "Rₐ", c.Input.Alarm.String(), "input/alarm")
	add(lang.Say("Fault resistor"), "R_f", c.Input.Fault.String(), "input/fault")
	sensors := ""
	if c.Input.Sensors > 0 {
		sensors = lang.Number(float64(c.Input.Sensors), 0)
	}
	add(lang.Say("Sensors"), "", sensors, "input/sensors").Bare = true
	add(lang.Say("Tolerance of the resistors"), "t", c.Input.Tolerance.String(), "input/tolerance")
	add(lang.Say("Conductor"), "", c.Cable.Conductor.String(), "cable/conductor")
	add(lang.Say("Copper at its warmest"), "T", c.Cable.Temperature.String(), "cable/temperature")
	for _, id := range w.ids {
		add(lang.Say("%s: length of its cable", w.name(id)), "L", c.Parts[id].Length.String(), "parts/"+string(id)+"/length")
	}
	add(lang.Say("Voltage of the panel's open input"), "Vₛ", c.Input.Volts.String(), "input/volts")
	add(lang.Say("Resistor in the panel that feeds it"), "Rₚ", c.Input.Through.String(), "input/through")
	for _, state := range [][2]string{{"short", words.Mark("short")}, {"normal", words.Mark("normal")}, {"alarm", words.Mark("alarm")}, {"fault", words.Mark("fault")}, {"cut", words.Mark("cut")}} {
		given := c.Input.Windows[state[0]]
		add(lang.Say("Panel's window %s: from", lang.Word(state[1])), "", given.From.String(), "input/windows/"+state[0]+"/from")
		add(lang.Say("Panel's window %s: to", lang.Word(state[1])), "", given.To.String(), "input/windows/"+state[0]+"/to")
	}
	return in
}
