package circuit

import (
	"strings"

	"proofbell/electrical"
	"proofbell/internal/words"
	"proofbell/internal/worked"
	"proofbell/quantity"
	"proofbell/site"
)

// Sheet is the calculation line by line.
func (d Drop) Sheet() worked.Sheet {
	w := d.w
	s := worked.Sheet{
		Label: w.lang.Say("Planning estimate. Measure on site."),
		ID:    "drop." + d.Circuit, Title: w.lang.Say("Voltage drop: %s", d.Name), Result: sentences(d.Say, d.BreakSay, d.SmallSay), Inputs: d.inputs(), Missing: d.Missing, Assumed: d.Assumed,
		Cautions: []string{
			w.lang.Say("Take the supply voltage at its worst and each device's current and least voltage from the instructions of panel and device."),
			w.lang.Say("Measure at the last device, on the battery, with everything sounding. Local code and the listing decide."),
		},
	}
	if len(w.ids) > 0 {
		s.Pictures = []worked.Picture{d.Picture()}
	}
	if d.Total == nil {
		if d.Verdict == Unserved {
			s.Steps = []worked.Step{d.unservedStep()}
		}
		return s
	}
	s.Steps = append(s.Steps, d.wireSteps()...)
	s.Steps = append(s.Steps, d.nodeSteps()...)
	s.Steps = append(s.Steps, d.endSteps()...)
	return s
}

func (d Drop) inputs() []worked.Input {
	w, c := d.w, d.w.circuit
	typed := w.lang.Say("typed")
	var in []worked.Input
	add := func(name, sign, value, member, from string) *worked.Input {
		at := ""
		if w.at != "" {
			at = w.at + "/" + member
		}
		if value != "" && from == "" {
			from = typed
		}
		one := worked.Input{Name: name, Sign: sign, Say: value, Value: value, At: at, From: from}
		if at == "" && value == "" { // nothing to type over
			return &one
		}
		in = append(in, one)
		return &in[len(in)-1]
	}
	add(w.lang.Say("Supply voltage at its worst"), "Vₛ", c.Supply.String(), "supply", "")
	add(w.lang.Say("Inner resistance of the supply"), "Rᵢ", c.Inner.String(), "inner", "")
	add(w.lang.Say("Conductor"), "", c.Cable.Conductor.String(), "cable/conductor", "")
	strand := add(w.lang.Say("Strand"), "", c.Cable.Strand, "cable/strand", "")
	strand.Choices = choices(w.lang, "", words.Mark("not given"), "solid", words.Mark("solid"), "stranded", words.Mark("stranded"))
	strand.Say = chosen(*strand)
	material := add(w.lang.Say("Material"), "", c.Cable.Material, "cable/material", "")
	material.Choices = choices(w.lang, "", words.Mark("not given"), "copper", words.Mark("bare copper"), "tinned", words.Mark("tinned copper"), "other", words.Mark("another: measure"))
	material.Say = chosen(*material)
	add(w.lang.Say("Copper at its warmest"), "T", c.Cable.Temperature.String(), "cable/temperature", "")
	if !c.Cable.Measured.IsZero() || w.at != "" {
		add(w.lang.Say("Cable measured, far end joined"), "", c.Cable.Measured.String(), "cable/measured", "")
		add(w.lang.Say("Length that was measured"), "", c.Cable.Over.String(), "cable/over", "")
	}
	for _, id := range w.ids {
		p, name, at := c.Parts[id], w.name(id), "parts/"+string(id)+"/"
		add(w.lang.Say("%s: length of its cable", name), "L", p.Length.String(), at+"length", "")
		if !p.Wire.IsZero() {
			add(w.lang.Say("%s: conductor", name), "", p.Wire.String(), at+"wire", "")
		}
		current, power, least := w.draw(p)
		from := func(own bool) string {
			if own {
				return ""
			}
			return w.lang.Say("model %s", string(w.site.Devices[p.Device].Model))
		}
		if !power.IsZero() {
			add(w.lang.Say("%s: power in alarm", name), "P", power.String(), at+"power", "")
		}
		if !current.IsZero() {
			add(w.lang.Say("%s: current in alarm", name), "I", current.String(), at+"current", from(!p.Current.IsZero()))
		}
		if p.Device != "" || !power.IsZero() || !current.IsZero() {
			add(w.lang.Say("%s: works down to", name), "", least.String(), at+"least", from(!p.Least.IsZero() || least.IsZero()))
		}
	}
	if c.Ring.From != "" {
		add(w.lang.Say("Way back of the ring"), "L", c.Ring.Length.String(), "ring/length", "")
	}
	return in
}

// choices pairs values with what is said of them.
func choices(lang *words.Language, pairs ...string) []worked.Choice {
	var out []worked.Choice
	for i := 0; i+1 < len(pairs); i += 2 {
		out = append(out, worked.Choice{Value: pairs[i], Say: lang.Word(pairs[i+1])})
	}
	return out
}

func chosen(in worked.Input) string {
	for _, c := range in.Choices {
		if c.Value == in.Value && c.Value != "" {
			return c.Say
		}
	}
	return ""
}

func (d Drop) wireSteps() []worked.Step {
	w, c := d.w, d.w.circuit.Cable
	r, err := w.perMetre(quantity.Conductor{}, w.warm())
	if err != nil { // every part has a conductor of its own
		return nil
	}
	num := func(v float64, n int) string { return w.lang.Number(quantity.Round(v, n), -1) }
	warm := num(float64(w.warm()), 1)
	perKm := w.lang.Say("%s ohm/km (%s ohm per 1000 ft)", num(r*1000, 2), num(r*304.8, 3))
	if !c.Measured.IsZero() && !c.Over.IsZero() {
		return []worked.Step{{
			Name: w.lang.Say("Resistance of one conductor, as measured"), Formula: "5.3b", Says: "r' = R/(2 L) · (1 + 0.00393 (T − 20))/(1 + 0.00393 (Tₘ − 20))",
			Put: c.Measured.String() + "/(2 · " + c.Over.String() + ")", Value: r * 1000, Unit: "ohm/km", Say: perKm, Source: w.lang.Say("measured on site"), Confidence: worked.High,
		}}
	}
	wire, err := electrical.FindWire(c.Conductor)
	if err != nil {
		return nil
	}
	step := worked.Step{Name: w.lang.Say("Resistance of one conductor"), Formula: "5.3a", Says: "r' = r'₂₀ (1 + 0.00393 (T − 20))", Value: r * 1000, Unit: "ohm/km", Say: perKm, Source: wire.Source, Confidence: worked.High}
	base := wire.At20
	if wire.Solid75 > 0 {
		base = wire.Stranded75
		if c.Strand == "solid" {
			base = wire.Solid75
		}
		step.Says = "r' = r'₇₅ (1 + 0.00323 (T − 75))"
		step.Put = w.lang.Say("%s ohm/km", num(base*1000, 2)) + " · (1 + 0.00323 · (" + warm + " − 75))"
	} else {
		step.Put = w.lang.Say("%s ohm/km", num(base*1000, 2)) + " · (1 + 0.00393 · (" + warm + " − 20))"
	}
	if c.Material == "tinned" {
		step.Put += " · 1.04"
	}
	if strings.HasPrefix(wire.Confidence, "M") {
		step.Confidence = worked.Medium
	}
	return []worked.Step{step}
}

// maxNodeSteps keeps the sheet of a long circuit readable: the others stand in the picture.
const maxNodeSteps = 30

func (d Drop) nodeSteps() []worked.Step {
	w := d.w
	num := func(v float64, n int) string { return w.lang.Number(v, n) }
	steps := []worked.Step{{
		Name: w.lang.Say("Current from the panel"), Formula: "5.3c", Says: w.lang.Say("what goes into each place goes out of it or is drawn there"), Value: d.flow.Total, Unit: "A",
		Say: w.lang.Say("%s A", num(*d.Total, 3)), Source: w.lang.Say("Kirchhoff; solved for all places at once"), Confidence: worked.High,
	}}
	for i, id := range w.ids {
		if i == maxNodeSteps {
			break
		}
		p := w.feed.Parts[i]
		before, from := d.flow.Terminals, w.lang.Say("panel")
		if p.From >= 0 {
			before, from = d.flow.Volts[p.From], w.name(w.ids[p.From])
		}
		steps = append(steps, worked.Step{
			Name: w.lang.Say("Voltage at %s", w.name(id)), Formula: "5.3d", Says: w.lang.Say("V = V(%s) − 2 L r' I", from),
			Put: num(before, 3) + " V − " + num(float64(p.Ohm), 4) + " ohm · " + num(d.flow.Amps[i], 3) + " A", Value: d.flow.Volts[i], Unit: "V", Say: d.Nodes[i].Say, Source: w.lang.Say("physics"), Confidence: worked.High,
		})
		if p.Power > 0 {
			steps = append(steps, worked.Step{
				Name: w.lang.Say("Current of %s, which draws power", w.name(id)), Formula: "5.3e", Says: "I = P/V", Put: num(float64(p.Power), -1) + " W/" + num(d.flow.Volts[i], 3) + " V",
				Value: float64(p.Power) / d.flow.Volts[i], Unit: "A", Say: w.lang.Say("%s A", num(float64(p.Power)/d.flow.Volts[i], 3)), Source: w.lang.Say("physics; the upper of the two solutions"), Confidence: worked.High,
			})
		}
	}
	return steps
}

func (d Drop) endSteps() []worked.Step {
	w := d.w
	steps := []worked.Step{
		{
			Name: w.lang.Say("Lost in the cable"), Formula: "5.3f", Says: "P = Σ R I²", Value: d.flow.Loss, Unit: "W", Say: w.lang.Say("%s W", w.lang.Number(*d.Loss, 2)),
			Source: w.lang.Say("physics"), Confidence: worked.High,
		},
		{
			Name: w.lang.Say("Rule of thumb beside it"), Formula: "5.3g", Says: "V = Vₛ − Σ I · R", Put: w.lang.Say("all current over the longest way"), Value: *d.Thumb, Unit: "V", Say: w.lang.Say("%s V", w.lang.Number(*d.Thumb, 2)),
			Source: w.lang.Say("common practice, on the cautious side"), Confidence: worked.High,
		},
	}
	if d.cut != nil {
		steps = append(steps, worked.Step{
			Name: w.lang.Say("Ring with one break"), Formula: "5.3h", Says: w.lang.Say("each cable of the ring cut in turn"), Put: d.cableName(d.cut.cable), Value: d.cut.flow.Volts[d.cut.node], Unit: "V", Say: d.BreakSay,
			Source: w.lang.Say("Kirchhoff; solved for all places at once"), Confidence: worked.High,
		})
	}
	return steps
}

func (d Drop) unservedStep() worked.Step {
	w := d.w
	return worked.Step{
		Name: w.lang.Say("What the cable can carry"), Formula: "5.3e", Says: w.lang.Say("no voltage above zero at which all is drawn"), Value: d.flow.Served * 100, Unit: "%",
		Say: w.lang.Say("%s %% of it, up to %s", w.lang.Number(quantity.Round(d.flow.Served*100, 0), 0), w.name(w.ids[d.flow.Stuck])), Source: w.lang.Say("physics; Newton's method comes to no solution"), Confidence: worked.High,
	}
}

// Picture draws the circuit as one line: the panel, each part with its voltage, each cable with its length.
func (d Drop) Picture() worked.Picture {
	const across, down, left, top = 236.0, 190.0, 110.0, 120.0
	w := d.w
	p := worked.Picture{Title: d.Name, Say: d.Say}
	children := map[site.PartID][]site.PartID{}
	for _, id := range w.ids {
		from := w.circuit.Parts[id].From
		children[from] = append(children[from], id)
	}
	place := map[site.PartID][2]float64{"": {left, top}}
	row, deepest := 0.0, 0
	var lay func(id site.PartID, depth int)
	lay = func(id site.PartID, depth int) {
		deepest = max(deepest, depth)
		for i, next := range children[id] {
			if i > 0 {
				row++
			}
			place[next] = [2]float64{left + across*float64(depth+1), top + down*row}
			lay(next, depth+1)
		}
	}
	lay("", 0)
	bottom := top + down*row
	for _, id := range w.ids {
		part, to := w.circuit.Parts[id], place[id]
		from := place[part.From]
		p.Line(3, from, [2]float64{from[0] + 52, from[1]}, [2]float64{from[0] + 52, to[1]}, to)
		if !part.Length.IsZero() {
			note := part.Length.String()
			if d.Total != nil {
				note += " · " + w.lang.Say("%s A", w.lang.Number(d.Nodes[w.index[id]].Cable, 2))
			}
			p.Write((from[0]+52+to[0])/2+4, to[1]+30, 22, "middle", note).Soft = true
		}
	}
	if ring := w.circuit.Ring; ring.From != "" {
		end := place[ring.From]
		low := bottom + 110
		p.Line(3, end, [2]float64{end[0] + 46, end[1]}, [2]float64{end[0] + 46, low}, [2]float64{left, low}, [2]float64{left, top})
		p.Write(left+20, low-12, 22, "start", w.lang.Say("way back %s", ring.Length.String())).Soft = true
		bottom = low
	}
	p.Box(5, left-44, top-26, 88, 52).Filled = true
	p.Write(left, top-44, 26, "middle", w.lang.Say("panel"))
	volts := w.circuit.Supply.String()
	if d.Total != nil {
		volts = w.lang.Say("%s V", w.lang.Number(d.flow.Terminals, 2))
	}
	p.Write(left+40, top+62, 30, "end", volts).Bold = true // clear of the cable that goes down beside it
	for i, id := range w.ids {
		to := place[id]
		d.drawPart(&p, to, id, i)
	}
	p.Width, p.Height = left+across*float64(max(deepest, 1))+150, bottom+110
	return p
}

func (d Drop) drawPart(p *worked.Picture, at [2]float64, id site.PartID, i int) {
	w := d.w
	current, power, least := w.draw(w.circuit.Parts[id])
	n := d.Nodes[i]
	size := 17.0
	if current.IsZero() && power.IsZero() && least.IsZero() { // a joint
		size = 7
	}
	diamond := p.Line(5, [2]float64{at[0] - size, at[1]}, [2]float64{at[0], at[1] - size}, [2]float64{at[0] + size, at[1]}, [2]float64{at[0], at[1] + size})
	diamond.Closed, diamond.Filled = true, !n.Fails
	if n.Fails {
		diamond.Tone = "fail"
		p.Line(5, [2]float64{at[0] - 26, at[1] - 26}, [2]float64{at[0] + 26, at[1] + 26}).Tone = "fail"
		p.Line(5, [2]float64{at[0] - 26, at[1] + 26}, [2]float64{at[0] + 26, at[1] - 26}).Tone = "fail"
	}
	p.Write(at[0], at[1]-36, 26, "middle", short(n.Name))
	if n.Say != "" {
		p.Write(at[0], at[1]+66, 30, "middle", n.Say).Bold = true
	}
	if n.Margin != nil {
		sign := "+"
		if *n.Margin < 0 {
			sign = "−"
		}
		v := *n.Margin
		if v < 0 {
			v = -v
		}
		p.Write(at[0], at[1]+94, 22, "middle", w.lang.Say("%s%s V of %s", sign, w.lang.Number(v, 2), w.lang.Number(*n.Least, -1))).Soft = true
	}
}

// short cuts a name so that neighbours in the picture keep apart; the whole one stands in the sheet.
func short(name string) string {
	if r := []rune(name); len(r) > 18 {
		return string(r[:17]) + "…"
	}
	return name
}

// sentences joins sentences; empty ones are left out.
func sentences(list ...string) string {
	out := ""
	for _, s := range list {
		if s != "" && out != "" {
			out += " "
		}
		out += s
	}
	return out
}
