package supply

import (
	"fmt"
	"math"

	"proofbell/electrical"
	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/internal/worked"
	"proofbell/quantity"
	"proofbell/site"
)

// curve is a battery's discharge as its maker gives it.
func curve(c site.Cell) electrical.Curve {
	out := electrical.Curve{Capacity: quantity.AmpereHour(c.Capacity.SI()), Hours: c.Hours.SI() / 3600, Peukert: c.Peukert}
	for _, id := range site.SortedIDs(c.Rates) {
		out.Points = append(out.Points, electrical.Point{Hours: c.Rates[id].Time.SI() / 3600, Ampere: c.Rates[id].Current.SI()})
	}
	return out
}

// fitted is the discharge of the fitted battery.
func (s *Supply) fitted() electrical.Curve {
	p := s.site.Power
	c := electrical.Curve{}
	if cell, ok := p.Cells[p.Fitted]; ok {
		c = curve(cell)
	}
	if !p.Battery.IsZero() {
		c.Capacity = quantity.AmpereHour(p.Battery.SI())
	}
	return c
}

// cells says which of the batteries that can be had fits: charge, listing, size and kind, and whether it carries the whole
// discharge when old and cold.
func (s *Supply) cells(t terms) []CellRow {
	l, p := s.lang, s.site.Power
	out := []CellRow{}
	for _, id := range site.SortedIDs(p.Cells) {
		c := p.Cells[id]
		r := CellRow{ID: string(id), Name: c.Name, Capacity: c.Capacity.SI(), Verdict: "fits"}
		if r.Name == "" {
			r.Name = c.Capacity.String()
		}
		kind := c.Chemistry
		if kind == "" {
			kind = "lead"
		}
		against := ""
		switch {
		case !p.Largest.IsZero() && r.Capacity > p.Largest.SI():
			against = l.Say("larger than the %s that the panel is listed for", l.Measure(p.Largest))
		case len(p.Listed) > 0 && !contains(p.Listed, kind):
			against = l.Say("the charger is not listed for this kind")
		case len(c.Size) == 3 && len(p.Cabinet) == 3 && !goesIn(c.Size, p.Cabinet):
			against = l.Say("it does not go into the cabinet")
		}
		d, err := electrical.Discharged(curve(c), 1/(t.size.Ageing*t.size.Cold), s.spells(t), 600)
		switch {
		case err != nil:
			r.Verdict, r.Say = "unknown", words.Said(err).In(l)
		case r.Capacity < float64(t.size.Publish):
			r.Verdict, r.Say = "small", l.Say("too small: %s Ah are needed", l.Number(float64(t.size.Publish), 1))
		case d.Empty >= 0:
			r.Verdict, r.Say = "small", l.Say("too small at this current: old and cold it is empty after %s", s.hours(float64(d.Empty)))
		case against != "":
			r.Verdict, r.Say = "not-allowed", against
		default:
			r.Say = l.Say("fits; old and cold %s %% are left at the end", l.Number(d.Left*100, 0))
		}
		out = append(out, r)
	}
	sorts.By(out, func(a, b CellRow) int {
		switch {
		case a.Capacity < b.Capacity:
			return -1
		case a.Capacity > b.Capacity:
			return 1
		}
		return 0
	})
	for i := range out {
		if out[i].Verdict == "fits" {
			out[i].Best = true
			break
		}
	}
	return out
}

func contains(list []string, one string) bool {
	for _, other := range list {
		if other == one {
			return true
		}
	}
	return false
}

// goesIn compares three sides, turned as they fit best.
func goesIn(size, space []quantity.Length) bool {
	sides := func(of []quantity.Length) [3]float64 {
		a := []float64{of[0].SI(), of[1].SI(), of[2].SI()}
		sorts.By(a, func(x, y float64) int {
			switch {
			case x < y:
				return -1
			case x > y:
				return 1
			}
			return 0
		})
		return [3]float64(a)
	}
	a, b := sides(size), sides(space)
	return a[0] <= b[0] && a[1] <= b[1] && a[2] <= b[2]
}

// spells are the rest and the alarm at its end.
func (s *Supply) spells(t terms) []electrical.Spell {
	return []electrical.Spell{{Time: t.load.Standby, Current: t.load.Rest}, {Time: t.load.AlarmTime, Current: t.load.Alarm}}
}

// checks are what has to be looked at before a battery goes in, with what the site says of it.
func (s *Supply) checks() []Check {
	l, p := s.lang, s.site.Power
	out := []Check{
		{l.Say("Listing"), "unknown", l.Say("The largest battery that the panel is listed for is not known: look into its instructions.")},
		{l.Say("Charger"), "unknown", l.Say("What the supply can give in all is not known: look into its instructions.")},
		{l.Say("Kind of battery"), "unknown", l.Say("Which kinds the charger is listed for is not known.")},
		{l.Say("Cabinet"), "unknown", l.Say("The free space for the battery is not known: measure its three sides.")},
	}
	if !p.Largest.IsZero() {
		out[0] = Check{out[0].Name, "known", l.Say("Listed for up to %s.", l.Measure(p.Largest))}
		if p.Battery.SI() > p.Largest.SI() {
			out[0] = Check{out[0].Name, "against", l.Say("%s fitted, listed for up to %s.", l.Measure(p.Battery), l.Measure(p.Largest))}
		}
	}
	if !p.Charger.IsZero() {
		out[1] = Check{out[1].Name, "known", l.Say("It gives %s in all: see charging.", l.Measure(p.Charger))}
	}
	kind := p.Chemistry
	if kind == "" {
		kind = "lead"
	}
	if len(p.Listed) > 0 {
		out[2] = Check{out[2].Name, "known", l.Say("The charger is listed for the kind that is fitted.")}
		if !contains(p.Listed, kind) {
			out[2] = Check{out[2].Name, "against", l.Say("The charger is not listed for the kind that is fitted.")}
		}
	}
	if len(p.Cabinet) == 3 {
		out[3] = Check{out[3].Name, "known", l.Say("Free space %s × %s × %s.", l.Measure(p.Cabinet[0]), l.Measure(p.Cabinet[1]), l.Measure(p.Cabinet[2]))}
	}
	return out
}

// loads adds up what the models say.
func (s *Supply) loads() ([]LoadRow, string) {
	l, p := s.lang, s.site.Power
	out, missing := []LoadRow{}, 0
	rest, alarm := 0.0, 0.0
	add := func(name string, n int, r, a quantity.Current) {
		row := LoadRow{Name: name, Count: n}
		if a.IsZero() {
			a = r
		}
		if r.IsZero() {
			missing++
			row.Say = l.Say("its current is not given")
		} else {
			x, y := float64(n)*r.SI(), float64(n)*a.SI()
			row.Rest, row.Alarm = &x, &y
			rest, alarm = rest+x, alarm+y
			row.Say = l.Say("%s at rest, %s in alarm, each", l.Measure(r), l.Measure(a))
		}
		out = append(out, row)
	}
	for _, id := range site.SortedIDs(p.Loads) {
		load := p.Loads[id]
		name := load.Name
		if name == "" {
			name = string(id)
		}
		add(name, 1, load.Rest, load.Alarm)
	}
	count := map[site.ModelID]int{}
	for _, d := range s.site.Devices {
		if s.site.Models[d.Model].Link == "wired" {
			count[d.Model]++
		}
	}
	for _, id := range site.SortedIDs(count) {
		m := s.site.Models[id]
		if m.Class == "keyswitch" && m.RestCurrent.IsZero() {
			continue // a bare contact draws nothing of its own
		}
		add(m.Name, count[id], m.RestCurrent, m.AlarmCurrent)
	}
	for _, id := range site.SortedIDs(s.site.Premises.Internet.Parts) {
		if part := s.site.Premises.Internet.Parts[id]; part.Supply == "panel" {
			add(part.Name, 1, part.Draw, part.Draw)
		}
	}
	if len(out) == 0 {
		return out, l.Say("No current is given of anything on this supply.")
	}
	say := l.Say("Together %s A at rest and %s A in alarm; the sum counts %s and %s.", l.Number(rest, 2), l.Number(alarm, 2), s.given(p.RestLoad), s.given(p.AlarmLoad))
	if missing > 0 {
		say += " " + l.Say("Of %d no current is given: measure.", missing)
	} else if math.Abs(rest-p.RestLoad.SI()) > 0.005 || math.Abs(alarm-p.AlarmLoad.SI()) > 0.005 {
		say += " " + l.Say("They differ: measure, and count the larger.")
	}
	return out, say
}

func (s *Supply) given(c quantity.Current) string {
	if c.IsZero() {
		return s.lang.Say("not given")
	}
	return s.lang.Measure(c)
}

// recharge is the sheet of charging.
func (s *Supply) recharge(t terms) worked.Sheet {
	l, p := s.lang, s.site.Power
	sh := worked.Sheet{ID: "recharge", Title: l.Say("Charging after a mains failure"), Label: l.Say("Planning estimate. Measure on site.")}
	share, within, source := t.duty.Share, t.duty.Within, t.duty.Charge
	if within == 0 {
		share, within, source = 1, 48*3600, l.Say("assumed: all of it within 48 h")
		sh.Assumed = append(sh.Assumed, l.Say("All of it back within 48 h: the rule says nothing of charging."))
	}
	sh.Inputs = []worked.Input{
		s.input(l.Say("Battery fitted"), "C", "/power/battery", p.Battery.String(), ""),
		s.input(l.Say("All that the supply can give"), "I", "/power/charger", p.Charger.String(), ""),
		s.input(l.Say("Current at rest"), "I₁", "/power/restLoad", p.RestLoad.String(), ""),
		{Name: l.Say("Part that has to be back"), Sign: "s", Say: s.num(share*100, 0) + " %", From: source},
		{Name: l.Say("Within"), Sign: "t", Say: s.hours(float64(within)), From: source},
	}
	sh.Cautions = []string{l.Say("Never charge a lithium battery below 0 °C. Only where the panel's charger is listed for it.")}
	if p.Battery.IsZero() {
		sh.Missing = append(sh.Missing, l.Say("the battery that is fitted"))
	}
	if p.RestLoad.IsZero() {
		sh.Missing = append(sh.Missing, l.Say("the current at rest"))
	}
	if len(sh.Missing) > 0 {
		sh.Result = l.Say("Not determined: see what is missing.")
		return sh
	}
	r, err := electrical.RechargeIn(quantity.AmpereHour(p.Battery.SI()), share, within, quantity.Ampere(p.RestLoad.SI()))
	if err != nil {
		sh.Missing, sh.Result = []string{words.Said(err).In(l)}, l.Say("Not determined: see what is missing.")
		return sh
	}
	sh.Steps = []worked.Step{
		{
			Name: l.Say("Current into the battery"), Formula: "5.8", Says: l.Say("I_c = s C / (0.85 t)"), Put: s.num(share, 2) + " × " + s.num(p.Battery.SI(), 2) + " Ah / (" + s.num(0.85, 2) + " × " + s.num(float64(within)/3600, 1) + " h)",
			Value: r.Ampere, Unit: "A", Say: s.of(r.Ampere, 3, "A"), Source: l.Say("lead-acid gives back about 85 %% of what is put in"), Confidence: l.Word(worked.Medium),
		},
		{Name: l.Say("All that is drawn while charging"), Formula: "5.8", Says: "I = I_c + I₁", Put: s.num(r.Ampere, 3) + " A + " + s.num(p.RestLoad.SI(), 3) + " A", Value: r.Total, Unit: "A", Say: s.of(r.Total, 3, "A"), Source: source, Confidence: l.Word(sure(t.duty.Sure))},
	}
	switch {
	case p.Charger.IsZero():
		sh.Missing = append(sh.Missing, l.Say("what the supply can give in all"))
		sh.Result = l.Say("%s A are drawn while charging; whether the supply gives that is not determined.", s.num(r.Total, 2))
	case p.Charger.SI() < r.Total:
		sh.Result = l.Say("%s A are drawn while charging, the supply gives %s: not enough.", s.num(r.Total, 2), l.Measure(p.Charger))
	default:
		back := share * p.Battery.SI() / (0.85 * (p.Charger.SI() - p.RestLoad.SI())) * 3600
		sh.Steps = append(sh.Steps, worked.Step{
			Name: l.Say("Least time until that part is back"), Formula: "5.8", Says: l.Say("t = s C / (0.85 (I - I₁))"), Put: s.num(share, 2) + " × " + s.num(p.Battery.SI(), 2) + " Ah / (" + s.num(0.85, 2) + " × (" + s.num(p.Charger.SI(), 3) + " - " + s.num(p.RestLoad.SI(), 3) + ") A)",
			Value: back / 3600, Unit: "h", Say: l.Say("about %s", s.rough(back)), Source: l.Say("if the charger gives all of it to the end, which it does not: it takes longer"), Confidence: l.Word(worked.Low),
		})
		sh.Result = l.Say("%s A are drawn while charging, the supply gives %s: it carries that.", s.num(r.Total, 2), l.Measure(p.Charger))
	}
	return sh
}

// rough writes a time to one significant figure below ten hours, to two above.
func (s *Supply) rough(seconds float64) string {
	v, unit := seconds/3600, "h"
	if v >= 72 {
		v, unit = v/24, s.lang.Say("days")
	} else if v < 1 {
		v, unit = v*60, "min"
	}
	if !finite(v) {
		return s.lang.Say("without end")
	}
	digits := 1 - int(math.Floor(math.Log10(math.Max(v, 1e-9))))
	if v < 10 {
		digits--
	}
	scale := math.Pow(10, float64(digits))
	return fmt.Sprintf("%s %s", s.lang.Number(math.Round(v*scale)/scale, max(0, digits)), unit)
}
