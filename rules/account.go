package rules

import (
	"fmt"
	"slices"
	"strings"

	"proofbell/internal/words"
	"proofbell/site"
)

// account judges the paths to the station and the people it calls.
func (c *check) account() {
	c.paths()
	c.contacts()
}

func (c *check) paths() {
	ids := c.accountPaths()
	if len(ids) == 0 {
		if len(c.Zones) > 0 {
			c.lack("zone.fire.paths", words.Later("paths of the account"))
			c.lack("path.backup", words.Later("paths of the account"))
		}
		return
	}
	kinds := map[string][]site.PathID{}
	onlyInternet := true
	var places []Place
	for _, id := range ids {
		p := c.Account.Paths[id]
		if p.Kind != "" {
			kinds[p.Kind] = append(kinds[p.Kind], id)
		}
		onlyInternet = onlyInternet && p.Kind == "internet"
		places = append(places, Place{"path", string(id)})
		most, format := c.figure("path.several"), words.Mark("The station misses this path after %s; for each of several paths %s is wanted.")
		if len(ids) == 1 {
			most, format = c.figure("path.single"), words.Mark("The station misses this path after %s; for the only path %s is wanted.")
		}
		switch {
		case p.CheckEvery.IsZero():
			c.lack("path.check", words.Later("agreed supervision interval of a path"), Place{"path", string(id)})
		case p.CheckEvery.SI() > most:
			c.add("path.check", report{
				where: c.lang.Say("Path %s, supervision", pathSay(id, p)), places: []Place{{"path", string(id)}}, cause: []any{p.CheckEvery.String(), len(ids)},
				say: c.lang.Say(format, p.CheckEvery, c.span(most)),
				do:  c.lang.Say("Agree a shorter interval with the station."),
			})
		}
	}
	if len(ids) == 1 {
		c.add("path.backup", report{
			where: c.lang.Say("Account, paths"), places: places, cause: []any{kinds},
			say: c.lang.Say("The station is reached by %s alone: one fault there and no alarm is told.", pathSay(ids[0], c.Account.Paths[ids[0]])),
			do:  c.lang.Say("Plan a second path of another kind."),
		})
	}
	for _, kind := range site.SortedIDs(kinds) {
		if same := kinds[kind]; len(same) > 1 && len(kinds) == 1 {
			c.add("path.kinds", report{
				where: c.lang.Say("Account, paths"), places: places, cause: []any{kind, same},
				say: c.lang.Say("All paths are of one kind (%s): what takes one down is likely to take the other.", kind),
				do:  c.lang.Say("Make one of them another kind."),
			})
		}
	}
	if onlyInternet && c.Premises.Internet.Standby != "yes" {
		r := report{
			where: c.lang.Say("Account, house internet"), places: append(places, Place{"premises", "internet"}), cause: []any{c.Premises.Internet.Standby},
			say: c.lang.Say("All reporting goes through the house's own connection (%s), which stops when the mains fails: the commonest single failure of all.", c.orThe(c.Premises.Internet.Equipment)),
			do:  c.lang.Say("Give router, fibre box and switches standby power, or add a path that does not need them."),
		}
		if c.Premises.Internet.Standby == "" {
			c.lack("path.internet", words.Later("whether the house's internet works without mains"), Place{"premises", "internet"})
		} else {
			c.add("path.internet", r)
		}
	}
}

func (c *check) orThe(equipment string) string {
	if equipment == "" {
		return c.lang.Say("router and what feeds it")
	}
	return equipment
}

func (c *check) contacts() {
	if len(c.Contacts) == 0 {
		c.lack("contacts.reachable", words.Later("the station's call list"))
		return
	}
	phones := map[string]site.ContactID{}
	reachable := 0
	var wrong []string
	var cause []any
	var places []Place
	for _, id := range site.SortedIDs(c.Contacts) {
		contact := c.Contacts[id]
		person := c.People[contact.Person]
		digits := strings.Map(func(r rune) rune {
			if r >= '0' && r <= '9' || r == '+' {
				return r
			}
			return -1
		}, c.ContactPhone(id))
		name := person.Name
		if name == "" {
			name = c.lang.Say("contact %s", id)
		}
		var faults []words.Text
		if contact.Passcode != "held" {
			faults = append(faults, words.Later("has no passcode"))
		}
		switch first, taken := phones[digits]; {
		case digits == "":
			faults = append(faults, words.Later("has no telephone number"))
		case taken:
			faults = append(faults, words.Later("has the same number as %s", first))
		default:
			phones[digits] = id
		}
		if len(faults) == 0 {
			reachable++
			continue
		}
		english, said := make([]string, len(faults)), make([]string, len(faults))
		for i, f := range faults {
			english[i], said[i] = f.String(), f.In(c.lang)
		}
		wrong = append(wrong, fmt.Sprintf("%s (%s) %s", id, name, words.List(c.lang, said)))
		cause = append(cause, id, english)
		places = append(places, Place{"contact", string(id)})
	}
	if len(wrong) == 0 && float64(reachable) >= c.figure("contacts.least") {
		return
	}
	r := report{where: c.lang.Say("Contacts, who is reached"), places: places, cause: append(cause, reachable)}
	if len(places) == 0 {
		for _, id := range site.SortedIDs(c.Contacts) {
			r.places = append(r.places, Place{"contact", string(id)})
		}
	}
	r.say = c.lang.Say("%d of %d contacts can be reached and identify themselves.", reachable, len(c.Contacts))
	if len(wrong) > 0 {
		r.say = strings.TrimSuffix(r.say, ".") + ": " + strings.Join(wrong, "; ") + "."
	}
	if float64(reachable) < c.figure("contacts.least") {
		r.say += " " + c.lang.Say("The station needs %s people on different numbers, each with a passcode, to ask before and after it sends help.", c.number(c.figure("contacts.least")))
		r.do = c.lang.Say("Ask the owner for a second person who can be reached, with a number and passcode of their own.")
		c.add("contacts.reachable", r)
		return
	}
	r.do = c.lang.Say("Complete the contact, or take it off the list.")
	c.add("contacts.incomplete", r)
}

// premises judges the use of the building and what only people can answer.
func (c *check) premises() {
	p := c.Premises
	if c.RuleSet.ID == "" {
		c.lack("ruleset.unknown", words.Later("the rule set of the job: judged by %s %s", c.set.ID, c.set.Edition))
	}
	sleepers := slices.ContainsFunc(c.roomIDs, func(id site.RoomID) bool { return sleeps(c.Rooms[id]) })
	guests := p.PayingGuests && (sleepers || len(c.Rooms) == 0)
	if _, err := site.ParseDate(p.RiskAssessment); guests && err != nil {
		state := words.Mark("Paying guests sleep here and there is no written fire risk assessment. A household-style system may not be what this building needs.")
		if p.RiskAssessment == "asked" {
			state = words.Mark("Paying guests sleep here and a written fire risk assessment has been asked for but is not there yet. A household-style system may not be what this building needs.")
		}
		c.add("guests.assessment", report{
			where: c.lang.Say("Premises, paying guests"), places: []Place{{"premises", "riskAssessment"}}, cause: []any{p.RiskAssessment},
			say: c.lang.Say(state),
			do:  c.lang.Say("Ask the owner for it and note its date. Until then plan, but key nothing."), who: Authority,
		})
	}
	var open, asks []string // asks is a part of the key
	var openPlaces []Place
	answered, asked := false, false
	for _, id := range site.SortedIDs(c.Questions) {
		q := c.Questions[id]
		at := Place{"question", string(id)}
		switch {
		case strings.TrimSpace(q.Answer) != "":
			answered = answered || q.Of == "authority"
		case q.Of == "authority":
			asked = true
			c.add("question.authority", report{
				where: c.lang.Say("Question for the authority"), places: []Place{at, {"premises", "use"}}, cause: []any{q.Ask},
				say: c.lang.Say("Still open: %s", q.Ask), do: c.lang.Say("Ask in writing, and keep the answer with the job."),
			})
		default:
			asks = append(asks, words.Upper(q.Of)+": "+q.Ask)
			open = append(open, c.lang.Word(askOf[q.Of])+": "+q.Ask)
			openPlaces = append(openPlaces, at)
		}
	}
	if guests && !answered && !asked {
		c.add("question.authority", report{
			where: c.lang.Say("Premises, paying guests"), places: []Place{{"premises", "use"}}, cause: []any{p.Use},
			say: c.lang.Say("Paying guests sleep here: whether household-style fire warning may serve is for the fire authority to say, and nobody has asked it."),
			do:  c.lang.Say("Ask in writing, and keep the answer with the job."),
		})
	}
	if len(open) > 0 {
		c.add("question.open", report{
			where: c.lang.Say("Open questions"), places: openPlaces, cause: []any{asks},
			say: strings.Join(open, " "), do: c.lang.Say("Ask, and write down the answers."),
		})
	}
}

// askOf names who is asked.
var askOf = map[string]string{
	"owner": words.Mark("Owner"), "station": words.Mark("Station"), "authority": words.Mark("Authority"), "electrician": words.Mark("Electrician"),
	"": words.Mark("Somebody"),
}

// unknownSet says that the site asks for a rule set that is not here.
func (c *check) unknownSet(sets []*Set) {
	var have []string
	for _, s := range sets {
		have = append(have, s.ID+" "+s.Edition)
	}
	c.add("ruleset.unknown", report{
		where: c.lang.Say("Rule set"), places: []Place{{"premises", "ruleSet"}}, cause: []any{c.RuleSet.ID, c.RuleSet.Edition},
		say:   c.lang.Say("The job is to be checked against %s %s, which is not known here; the findings below are by %s %s.", c.RuleSet.ID, c.RuleSet.Edition, c.set.ID, c.set.Edition),
		do:    c.lang.Say("Choose one of: %s.", words.List(c.lang, have)),
		patch: object{"ruleSet": object{"id": c.set.ID, "edition": c.set.Edition}}, patchSay: c.change(c.lang.Say("rule set"), strings.TrimSpace(c.RuleSet.ID+" "+c.RuleSet.Edition), c.set.ID+" "+c.set.Edition),
	})
}
