package reach

import (
	"math"
	"strconv"

	"proofbell/internal/words"
	"proofbell/internal/worked"
	"proofbell/reliability"
	"proofbell/site"
)

// sheet is the sum of one room, line by line.
func (m *Model) sheet(lang *words.Language, i int) worked.Sheet {
	r := m.rooms[i]
	s := worked.Sheet{
		ID: "reach." + string(r.id), Title: lang.Say("Reach of a fire in %s", r.name), Label: lang.Word(Label),
		Result: lang.Say("A fire in %s is not reported to the station in %s of cases.", r.name, ranged(lang, m.station[i])),
		Inputs: m.inputs(lang), Steps: []worked.Step{}, Pictures: []worked.Picture{},
		Cautions: []string{
			lang.Say("Rates are ranges from few and old sources. Replace them by your own records as they build up."),
			lang.Say("A test button proves the sounder and the link, not that smoke gets in."),
			lang.Say("Wrong is what nobody thought of: the figures know only the parts that are drawn."),
		},
		Missing: []string{}, Assumed: []string{},
	}
	for _, a := range m.assumed {
		s.Assumed = append(s.Assumed, words.Upper(a.In(lang)))
	}
	seen := map[int]bool{}
	var walk func(n reliability.Node)
	walk = func(n reliability.Node) {
		part, _, of := m.sys.Of(n)
		if part >= 0 && !seen[part] {
			seen[part] = true
			s.Steps = append(s.Steps, m.step(lang, m.byPart[part]))
		}
		for _, one := range of {
			walk(one)
		}
	}
	walk(r.station)
	u := m.station[i]
	s.Steps = append(s.Steps, worked.Step{
		Name: lang.Say("All parts together"), Formula: "7.8", Says: lang.Say("series: 1 - (1 - U₁)(1 - U₂) ..., alternatives: U₁ U₂ ...; a part that stands twice is one"),
		Put: lang.Say("%d parts as drawn, all at their lower, middle and upper figures", len(seen)), Value: u.Mid, Say: ranged(lang, u), Source: lang.Say("binary decision diagram, exact; monotone, so that the ends are the ends"), Confidence: worked.High,
	})
	if spread := m.spreads()[2*i]; u.Low < u.High {
		s.Steps = append(s.Steps, worked.Step{
			Name: lang.Say("The middle of the range"), Formula: "7.11", Says: lang.Say("each rate drawn log-uniformly, half below its middle and half above, for all parts of its kind at once"),
			Put: lang.Say("%d samples, seed %d", spread.Samples, int(spread.Seed)), Value: spread.Median, Say: lang.Say("nine in ten between %s and %s", percent(lang, spread.P5), percent(lang, spread.P95)), Source: lang.Say("Monte Carlo; state-of-knowledge correlation, Apostolakis and Kaplan 1981"), Confidence: worked.Medium,
		})
	}
	if b := m.diagram.Birnbaum(m.sys.Chances(reliability.Mid), r.station); len(seen) > 0 {
		top := -1
		for p := range seen {
			if top < 0 || b[p]*m.byPart[p].u.Mid > b[top]*m.byPart[top].u.Mid || b[p]*m.byPart[p].u.Mid == b[top]*m.byPart[top].u.Mid && p < top {
				top = p
			}
		}
		s.Steps = append(s.Steps, worked.Step{
			Name: lang.Say("What matters most: %s", m.byPart[top].name.In(lang)), Formula: "7.9", Says: lang.Say("U with the part failed - U with the part good"), Value: b[top],
			Say: percent(lang, b[top]), Source: lang.Say("Birnbaum 1969; IEC 61025"), Confidence: worked.High,
		})
		if fv, err := m.diagram.FussellVesely(r.station, m.sys.Chances(reliability.Mid)); err == nil {
			s.Steps = append(s.Steps, worked.Step{
				Name: lang.Say("How much goes through it"), Formula: "7.10", Says: lang.Say("P(a cut set with the part has failed) / U"), Value: fv[top],
				Say: percent(lang, fv[top]), Source: lang.Say("Fussell 1975, Vesely 1970; union of the cut sets, exact"), Confidence: worked.High,
			})
		}
	}
	return s
}

// inputs are what the site says of time and supply.
func (m *Model) inputs(lang *words.Language) []worked.Input {
	s := m.o.Site
	assumed := lang.Say("assumed")
	given := lang.Say("typed")
	visits := worked.Input{Name: lang.Say("Visits a year with a test of the whole path"), Sign: "8760 h / T", At: "/care/visitsAYear", Bare: true, From: assumed, Say: lang.Say("every %s to %s", span(m.T.Low).In(lang), span(m.T.High).In(lang))}
	if n := s.Care.VisitsAYear; n > 0 {
		visits.Say, visits.Value, visits.From = strconv.Itoa(n), strconv.Itoa(n), given
	}
	repair := worked.Input{Name: lang.Say("Repair time, from the report of a fault"), Sign: "M", At: "/care/repair", From: assumed, Say: lang.Say("%s to %s", span(m.repair.Low).In(lang), span(m.repair.High).In(lang))}
	if !s.Care.Repair.IsZero() {
		repair.Say, repair.Value, repair.From = s.Care.Repair.String(), s.Care.Repair.String(), given
	}
	out := []worked.Input{visits, repair}
	if len(s.Premises.Internet.Parts) == 0 {
		house := worked.Input{Name: lang.Say("Router, fibre box and switch work without mains"), At: "/premises/internet/standby", Value: s.Premises.Internet.Standby, From: given, Choices: []worked.Choice{{Value: "", Say: lang.Say("not known")}, {Value: "yes", Say: lang.Say("yes")}, {Value: "none", Say: lang.Say("no")}}}
		for _, c := range house.Choices {
			if c.Value == house.Value {
				house.Say = c.Say
			}
		}
		if house.Value == "" {
			house.From = assumed
		}
		out = append(out, house)
	}
	for _, id := range site.SortedIDs(s.Account.Paths) {
		p := s.Account.Paths[id]
		name := p.Name
		if name == "" {
			name = string(id)
		}
		in := worked.Input{Name: lang.Say("Check of the path %s", name), Sign: "D", At: "/account/paths/" + string(id) + "/checkEvery", From: assumed, Say: lang.Say("not checked")}
		if !p.CheckEvery.IsZero() {
			in.Say, in.Value, in.From = p.CheckEvery.String(), p.CheckEvery.String(), given
		}
		out = append(out, in)
	}
	return out
}

// step is the figure of one part.
func (m *Model) step(lang *words.Language, p *part) worked.Step {
	st := worked.Step{Formula: "7.6"}
	rate := func() string { return lang.Number(float64(int(p.row.of.Mid*1e8+0.5))/100, -1) + "·10⁻⁶/h" }
	hours := func(v float64) string { return lang.Number(float64(int(v*10+0.5))/10, -1) + " h" }
	switch p.model {
	case tested:
		st = worked.Step{Formula: "7.1", Says: "U = 1 - (1 - e⁻ˣ)/x, x = λ T", Put: "λ = " + rate() + ", T = " + hours(m.T.Mid)}
	case supervised:
		st = worked.Step{Formula: "7.2", Says: "U = x/(1 + x), x = λ (D + M)", Put: "λ = " + rate() + ", D = " + hours(p.detect) + ", M = " + hours(m.repair.Mid)}
	case diagnosed:
		st = worked.Step{Formula: "7.3", Says: "U = λ [(1 - s)(T/2 + M) + s M]", Put: "λ = " + rate() + ", s = " + lang.Number(rateOf("seen").of.Mid, -1) + ", T = " + hours(m.T.Mid) + ", M = " + hours(m.repair.Mid)}
	case partly:
		st = worked.Step{Formula: "7.4", Says: "U = a + b - a b; a: c λ, T; b: (1 - c) λ, R", Put: "λ = " + rate() + ", c = " + lang.Number(rateOf("button").of.Mid, -1) + ", T = " + hours(m.T.Mid) + ", R = " + hours(tenYears)}
	case aged:
		st = worked.Step{Formula: "7.5", Says: "U = a + b - a b; a: c λ, T; b = 1 - e^(-(1 - c) λ A)", Put: "λ = " + rate() + ", c = " + lang.Number(rateOf("button").of.Mid, -1) + ", T = " + hours(m.T.Mid) + ", A = " + hours(p.age)}
	case link:
		st = worked.Step{Formula: "7.13", Says: "U = 1 - (1 - (1 - exp(-10^(-m/10)))ⁿ)ʰ, n = 3, 2, 1", Put: "m = " + lang.Number(math.Floor(p.margin*10)/10, -1) + " dB, h = " + strconv.Itoa(max(1, p.hops))}
	case shared:
		st = worked.Step{Formula: "7.14", Says: "U = b U₁", Put: "b = " + lang.Number(beta, -1) + ", U₁ = " + percent(lang, p.u.Mid/beta)}
	case certain:
		st.Says, st.Put = "U = p", lang.Say("as measured: nothing arrived")
	default:
		st.Says, st.Put = "U = p", lang.Say("as the table of figures says")
	}
	st.Name, st.Value, st.Say = words.Upper(p.name.In(lang)), p.u.Mid, ranged(lang, p.u)
	st.Source, st.Confidence = lang.Word(p.row.source), p.row.confidence
	if p.model == shared {
		st.Source, st.Confidence = "IEC 61508-6 annex D", worked.Medium
	}
	if p.model == link {
		st.Source, st.Confidence = lang.Say("margin of the radio estimate or of what was measured; Rayleigh fading, repeats counted as three, two or no new tries"), worked.Low
	}
	return st
}
