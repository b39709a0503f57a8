package supply

import (
	"math"

	"proofbell/internal/words"
	"proofbell/internal/worked"
	"proofbell/quantity"
	"proofbell/site"
)

// A lead-acid battery comes down to 80 % of its capacity in 3 to 5 years, and on at the same pace; general practice.
const (
	fewYears, manyYears = 3.0, 5.0
	lostByThen          = 0.2
	leastLeft           = 0.4 // under that nothing is said
	year                = 31557600.0
)

// today is the sheet of the time until the fitted battery is empty if the mains fails today.
func (s *Supply) today(t terms) worked.Sheet {
	l, p := s.lang, s.site.Power
	sh := worked.Sheet{ID: "today", Title: l.Say("Time until empty, if the mains fails today"), Label: l.Say("Planning estimate. Only a load test tells what a battery holds.")}
	sh.Inputs = []worked.Input{
		s.input(l.Say("Battery fitted"), "C", "/power/battery", p.Battery.String(), ""),
		s.input(l.Say("Date of the battery"), "", "/power/batteryDate", p.BatteryDate.String(), ""),
		s.input(l.Say("Current at rest, as measured"), "I₁", "/power/restLoad", p.RestLoad.String(), ""),
		s.input(l.Say("Lowest temperature at the battery"), "", "/power/temperature", p.Temperature.String(), ""),
		{Name: l.Say("Today"), Say: l.Day(s.on), From: l.Say("the day of this sheet")},
	}
	sh.Cautions = []string{l.Say("Take the battery off the panel before measuring it. Replace it by its date, by a load test, or under 80 %% of its capacity.")}
	lack := func(missing bool, what string) {
		if missing {
			sh.Missing = append(sh.Missing, what)
		}
	}
	lack(p.Battery.IsZero(), l.Say("the battery that is fitted"))
	lack(p.BatteryDate.IsZero(), l.Say("the date of the battery"))
	lack(p.RestLoad.IsZero(), l.Say("the current at rest"))
	lack(p.Chemistry == "lithium", l.Say("how a lithium battery ages: its maker says"))
	sh.Result = l.Say("Not determined: see what is missing.")
	if len(sh.Missing) > 0 {
		return sh
	}
	age := math.Max(0, s.on.Sub(p.BatteryDate.First()).Seconds()/year)
	low, high := 1-lostByThen*age/fewYears, 1-lostByThen*age/manyYears
	if low < leastLeft {
		sh.Missing = append(sh.Missing, l.Say("what a battery of %s years still holds: replace it", s.num(age, 1)))
		return sh
	}
	c, err := s.fitted().Sorted()
	runs := 0.0
	if err == nil {
		runs, err = c.Runtime(quantity.Ampere(p.RestLoad.SI()))
	}
	if err == nil {
		err = t.err
	}
	if err != nil {
		sh.Missing = append(sh.Missing, words.Said(err).In(l))
		return sh
	}
	if t.at == nil {
		sh.Assumed = append(sh.Assumed, l.Say("25 °C at the battery: its temperature is not given."))
	}
	from, to := runs*low/t.size.Cold, runs*high/t.size.Cold
	span := func(a, b string) string {
		if a == b {
			return l.Say("about %s", a)
		}
		return l.Say("about %s to %s", a, b)
	}
	law := l.Say("rated capacity at this current; slower than rated no more is credited")
	switch {
	case len(c.Points) > 0:
		law = l.Say("discharge table of the maker, straight lines on logarithmic scales")
	case c.Peukert > 1:
		law = l.Say("Peukert's law with k = %s", s.num(c.Peukert, 2))
	}
	sh.Steps = []worked.Step{
		{
			Name: l.Say("Time of a new battery at 25 °C"), Formula: "5.6", Says: "t = H (C / (I₁ H))^k", Put: s.num(float64(c.Capacity), 2) + " Ah, " + s.num(p.RestLoad.SI(), 3) + " A",
			Value: runs, Unit: "h", Say: s.of(runs, 1, "h"), Source: law, Confidence: l.Word(worked.Medium),
		},
		{
			Name: l.Say("What is left of its capacity"), Formula: "5.9", Says: l.Say("a = 1 - 0.2 × age / L, L = 3 to 5 years"), Put: "1 - " + s.num(lostByThen, 1) + " × " + s.num(age, 2) + " / " + s.num(fewYears, 0) + " … " + s.num(manyYears, 0),
			Value: low, Say: s.num(low*100, 0) + " … " + s.num(high*100, 0) + " %", Source: l.Say("80 %% of the capacity after 3 to 5 years, general practice"), Confidence: l.Word(worked.Medium),
		},
		{
			Name: l.Say("Time until empty today"), Formula: "5.9", Says: "t a / f", Put: s.num(runs, 1) + " h × " + s.num(low, 2) + " … " + s.num(high, 2) + " / " + s.num(t.size.Cold, 3),
			Value: from, Unit: "h", Say: span(s.rough(from*3600), s.rough(to*3600)), Confidence: l.Word(worked.Medium), Source: l.Say("IEEE 485, lead-acid, -4 to 25 °C"),
		},
	}
	sh.Result = l.Say("At rest the battery lasts %s if the mains fails today.", span(s.rough(from*3600), s.rough(to*3600)))
	return sh
}

// internet is the sheet of the house's own connection: how long it lives when the mains fails. any is false where the site
// says nothing of it and no path needs it.
func (s *Supply) internet(t terms) (sh worked.Sheet, any bool) {
	l, in := s.lang, s.site.Premises.Internet
	path := ""
	for _, id := range site.SortedIDs(s.site.Account.Paths) {
		if s.site.Account.Paths[id].Kind == "internet" {
			path = s.site.Account.Paths[id].Name
			if path == "" {
				path = string(id)
			}
		}
	}
	if path == "" && len(in.Parts) == 0 {
		return sh, false
	}
	if path == "" {
		path = l.Say("the internet")
	}
	sh = worked.Sheet{ID: "internet", Title: l.Say("The house's internet when the mains fails"), Label: l.Say("Planning estimate. Measure on site.")}
	sum, unknown := 0.0, false
	mains := []string{}
	for _, id := range site.SortedIDs(in.Parts) {
		part := in.Parts[id]
		name := part.Name
		if name == "" {
			name = string(id)
		}
		from := l.Say("nobody said what feeds it")
		switch part.Supply {
		case "mains":
			from = l.Say("on the mains alone")
			mains = append(mains, name)
		case "own":
			from = l.Say("on its own standby supply, at 12 V")
			sum += part.Draw.SI()
			unknown = unknown || part.Draw.IsZero()
		case "panel":
			from = l.Say("on the panel's supply: counted there")
		default:
			unknown = true
		}
		sh.Inputs = append(sh.Inputs, s.input(name, "", "/premises/internet/parts/"+string(id)+"/draw", part.Draw.String(), from))
	}
	sh.Inputs = append(sh.Inputs,
		s.input(l.Say("Battery of its own standby supply"), "C", "/premises/internet/battery", in.Battery.String(), ""),
		s.input(l.Say("How long that was seen to carry it"), "", "/premises/internet/holds", in.Holds.String(), ""),
	)
	sh.Cautions = []string{
		l.Say("What stands in the street needs power too: nobody here knows for how long it has it."),
		l.Say("Prove it: mains off, wait, and see the path report."),
	}
	wanted := s.hours(float64(t.load.Standby))
	switch {
	case len(mains) > 0:
		sh.Result = l.Say("%s is silent as soon as the mains fails: %s has no standby supply.", path, words.List(l, mains))
		return sh, true
	case !in.Holds.IsZero() && in.Holds.SI() < float64(t.load.Standby):
		sh.Result = l.Say("%s was seen to live %s without mains, %s are wanted: after that only the other paths report.", path, l.Measure(in.Holds), wanted)
		return sh, true
	case !in.Holds.IsZero():
		sh.Result = l.Say("%s was seen to live %s without mains, %s are wanted.", path, l.Measure(in.Holds), wanted)
		return sh, true
	case len(in.Parts) == 0 || unknown || in.Battery.IsZero() || sum == 0:
		sh.Missing = []string{l.Say("what feeds each part between panel and street, what it draws, and the battery of its standby supply")}
		sh.Result = l.Say("How long %s lives without mains is not determined.", path)
		return sh, true
	}
	h := in.Battery.SI() / sum
	sh.Steps = []worked.Step{{
		Name: l.Say("Time without mains, new battery"), Formula: "5.10", Says: "t = C / ΣI", Put: s.num(in.Battery.SI(), 2) + " Ah / " + s.num(sum, 3) + " A",
		Value: h, Unit: "h", Say: l.Say("about %s", s.rough(h*3600)), Source: l.Say("charge is current times time; conversion losses are not counted"), Confidence: l.Word(worked.Medium),
	}}
	if h*3600 < float64(t.load.Standby) {
		sh.Result = l.Say("%s lives about %s without mains, %s are wanted: after that only the other paths report.", path, s.rough(h*3600), wanted)
	} else {
		sh.Result = l.Say("%s lives about %s without mains, %s are wanted.", path, s.rough(h*3600), wanted)
	}
	return sh, true
}
