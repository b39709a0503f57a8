package survey

import (
	"fmt"
	"slices"
	"strings"

	"proofbell/internal/words"
	"proofbell/rules"
	"proofbell/site"
)

// Asks are the open questions for one reader.
type Asks struct {
	Of    string    `json:"of"`    // owner, station, authority, electrician; here: to be looked up on site
	Title string    `json:"title"` // "Ask the owner"
	Lines []AskLine `json:"lines"`
	Text  string    `json:"text"` // all of them as a plain text to send
}

// AskLine is one open question.
type AskLine struct {
	Say      string          `json:"say"`
	Question site.QuestionID `json:"question,omitempty"` // of the site: has a place for the answer
	Place    *rules.Place    `json:"place,omitempty"`    // where the answer is entered
}

// readers in the order in which they are listed.
var readers = []struct{ of, title, text string }{
	{"here", words.Mark("To look up on site"), words.Mark("%s: to look up on site")},
	{"owner", words.Mark("Ask the owner"), words.Mark("%s: questions for the owner")},
	{"station", words.Mark("Ask the station"), words.Mark("%s: questions for the station")},
	{"electrician", words.Mark("Ask the electrician"), words.Mark("%s: questions for the electrician")},
	{"authority", words.Mark("Ask the authority"), words.Mark("%s: questions for the authority")},
}

// Questions lists what nobody has answered yet, by reader: the questions of the site, what the survey still lacks, and what
// the rules could not judge for want of it. Readers without a question are left out. The texts hold no personal data.
func Questions(lang *words.Language, s *site.Site, findings []rules.Finding) []Asks {
	c := collector{lang: lang, site: s, lines: map[string][]AskLine{}}
	for _, id := range site.SortedIDs(s.Questions) {
		if q := s.Questions[id]; q.Answer == "" {
			c.lines[q.Of] = append(c.lines[q.Of], AskLine{Say: q.Ask, Question: id})
		}
	}
	c.here()
	c.owner()
	c.station()
	c.electrician()
	c.authority()
	for _, f := range findings {
		if f.NotJudged && f.Accepted == nil && len(f.Missing) > 0 && len(f.Places) > 0 {
			c.notJudged(f)
		}
	}
	name := s.Name
	if name == "" {
		name = lang.Say("Job without a name")
	}
	out := []Asks{}
	for _, r := range readers {
		lines := c.lines[r.of]
		if len(lines) == 0 {
			continue
		}
		text := []string{lang.Say(r.text, name), ""}
		for i, line := range lines {
			text = append(text, fmt.Sprintf("%d. %s", i+1, line.Say))
		}
		out = append(out, Asks{Of: r.of, Title: lang.Say(r.title), Lines: lines, Text: strings.Join(text, "\n") + "\n"})
	}
	return out
}

type collector struct {
	lang  *words.Language
	site  *site.Site
	lines map[string][]AskLine
}

// ask adds a question without a place of its own.
func (c *collector) ask(of, say string) { c.at(of, say, "", "") }

func (c *collector) at(of, say, kind, id string) {
	a := AskLine{Say: say}
	if kind != "" {
		a.Place = &rules.Place{Kind: kind, ID: id}
	}
	c.lines[of] = append(c.lines[of], a)
}

func (c *collector) here() {
	s, lang := c.site, c.lang
	if len(s.Rooms) == 0 {
		c.ask("here", lang.Say("Which rooms are there? Begin in the hall and type their names."))
		return
	}
	for _, id := range site.SortedIDs(s.Heads) {
		switch h := s.Heads[id]; {
		case h.Made.IsZero() && h.Room == "":
			c.at("here", lang.Say("Alarm %s: in which room, and made when?", id), "head", string(id))
		case h.Made.IsZero():
			c.at("here", lang.Say("Alarm %s in %s: made when? It stands on its back or side.", id, s.Rooms[h.Room].Name), "head", string(id))
		case h.Room == "":
			c.at("here", lang.Say("Alarm %s: in which room?", id), "head", string(id))
		}
	}
	for _, id := range site.SortedIDs(s.Devices) {
		d := s.Devices[id]
		m := s.Models[d.Model]
		name := m.Name
		if name == "" {
			name = string(id)
		}
		if d.Room != "" {
			name = lang.Say("%s in %s", name, s.Rooms[d.Room].Name)
		}
		switch {
		case m.Link == "radio" && d.Identity == "":
			c.at("here", lang.Say("%s: what is the identity on its label?", name), "device", string(id))
		case d.Room == "" && len(d.At) == 0 && !m.Carried && m.Class != "sounder":
			c.at("here", lang.Say("%s: in which room?", name), "device", string(id))
		}
	}
	if s.Panel.Profile == "" {
		c.at("here", lang.Say("Which panel hangs here? Look inside the lid."), "panel", "")
	}
	if s.Power.BatteryDate.IsZero() {
		c.at("here", lang.Say("Since when is the panel's battery in? The date stands on it."), "panel", "")
	}
	if s.Power.Battery.IsZero() {
		c.at("here", lang.Say("How large is the panel's battery, in ampere-hours?"), "panel", "")
	}
}

func (c *collector) owner() {
	s, lang := c.site, c.lang
	p := s.Premises
	if p.Address == "" {
		c.at("owner", lang.Say("What is the address, as the fire service would be told it?"), "premises", "")
	}
	if p.Use == "" {
		c.at("owner", lang.Say("What is the building used for? Do paying guests or tenants sleep there?"), "premises", "")
	}
	if len(s.Rooms) > 0 && !anyRoom(s, func(r site.Room) bool { return r.Sleeping }) {
		c.ask("owner", lang.Say("In which rooms does someone sleep, by night or by day? Is anyone hard of hearing?"))
	}
	if p.RiskAssessment == "" && (p.PayingGuests || p.Use != "" && p.Use != "dwelling") {
		c.at("owner", lang.Say("Is there a written fire risk assessment, and of which date?"), "premises", "")
	}
	if len(s.Contacts) < 2 {
		c.ask("owner", lang.Say("Whom may the station call, in which order? At least two people, each with a passcode of their own."))
	}
	if p.Internet.Standby == "" {
		say := lang.Say("What stands between the panel and the internet (router, fibre box, switch), and does it work when the mains fails?")
		if p.Internet.Equipment != "" {
			say = lang.Say("%s: does it work when the mains fails?", p.Internet.Equipment)
		}
		c.at("owner", say, "premises", "")
	}
}

func (c *collector) station() {
	s, lang := c.site, c.lang
	if s.Station.Name == "" {
		c.at("owner", lang.Say("Which station watches, or is to watch?"), "station", "")
	}
	switch {
	case s.Account.Number == "":
		c.at("station", lang.Say("What is the account number, and in which format are signals wanted (Contact ID or SIA)?"), "station", "")
	case s.Account.Format == "":
		c.at("station", lang.Say("In which format are the signals of account %s wanted (Contact ID or SIA)?", s.Account.Number), "station", "")
	}
	if s.Station.OnTestPhone == "" {
		c.at("station", lang.Say("Which number puts the account on test, and for how long at most?"), "station", "")
	}
	if len(s.Zones) > 0 && s.Station.ZoneListAsOf.IsZero() {
		c.at("station", lang.Say("Please read back your zone list, with the date of its last change."), "station", "")
	}
	for _, id := range site.SortedIDs(s.Account.Paths) {
		if path := s.Account.Paths[id]; path.CheckEvery.IsZero() {
			name := path.Name
			if name == "" {
				name = string(id)
			}
			c.at("station", lang.Say("How often must the path over %s check in, and what is done when it does not?", name), "path", string(id))
		}
	}
}

func (c *collector) electrician() {
	s, lang := c.site, c.lang
	var unfed []site.HeadID
	mains := map[site.GroupID]bool{}
	for _, id := range site.SortedIDs(s.Heads) {
		h := s.Heads[id]
		if h.Power == "" {
			unfed = append(unfed, id)
		}
		if h.Group != "" && strings.HasPrefix(h.Power, "mains") {
			mains[h.Group] = true
		}
	}
	switch len(unfed) {
	case 0:
	case 1:
		c.at("electrician", lang.Say("How is alarm %s fed: by the mains alone, with a battery inside, or by battery?", unfed[0]), "head", string(unfed[0]))
	default:
		c.at("electrician", lang.Say("How are alarms %s fed: by the mains alone, with a battery inside, or by battery?", words.List(lang, unfed)), "head", string(unfed[0]))
	}
	for _, id := range site.SortedIDs(mains) {
		if s.Groups[id].Circuit == "" {
			c.at("electrician", lang.Say("Which circuit feeds the alarms of group %s, and does anything else hang on it?", id), "group", string(id))
		}
	}
}

func (c *collector) authority() {
	s, lang := c.site, c.lang
	p := s.Premises
	asked := slices.ContainsFunc(site.SortedIDs(s.Questions), func(id site.QuestionID) bool { return s.Questions[id].Of == "authority" })
	if !asked && (p.PayingGuests || p.Use != "" && p.Use != "dwelling") {
		c.ask("authority", lang.Say("Which fire rules apply to this use of the building, and is a household system accepted for it?"))
	}
	if s.Account.Permit == "" && len(s.Zones) > 0 {
		c.at("authority", lang.Say("Is a permit asked for an alarm system here, and what is its number?"), "station", "")
	}
}

// notJudged asks for what a rule lacks.
func (c *collector) notJudged(f rules.Finding) {
	of := "here"
	if f.Who == rules.Authority || f.Who == rules.Electrician {
		of = string(f.Who)
	}
	place := f.Places[0]
	c.at(of, fmt.Sprintf("%s: %s", f.Where, strings.Join(f.Missing, ", ")), place.Kind, place.ID)
}

func anyRoom(s *site.Site, is func(site.Room) bool) bool {
	for _, r := range s.Rooms {
		if is(r) {
			return true
		}
	}
	return false
}
