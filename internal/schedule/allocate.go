// Package schedule gives devices their zones and says what each zone must send.
//
// [Allocate] proposes a zone for every device terminal that has none: within the panel's range, in words that the panel
// speaks, each choice with its reason. What is scheduled or keyed stays as it is. [Expected] and [StationList] read the
// finished schedule. All results are in one fixed order.
package schedule

import (
	"cmp"
	"encoding/json"
	"fmt"
	"slices"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// Plan is a proposal. Slices are never null in JSON.
type Plan struct {
	Choices []Choice        `json:"choices"`
	Left    []Left          `json:"left"`
	Free    int             `json:"free"`            // zones that stay free afterwards
	Patch   json.RawMessage `json:"patch,omitempty"` // RFC 7396 merge patch of the site that adds the zones; absent when there are none
}

// Choice is the zone proposed for one terminal.
type Choice struct {
	Zone     site.ZoneID   `json:"zone"`
	Device   site.DeviceID `json:"device"`
	Terminal string        `json:"terminal"`
	Value    site.Zone     `json:"value"`
	Why      []Reason      `json:"why"`
	Remarks  []string      `json:"remarks,omitempty"` // what a person should look at before accepting
}

// Reason says why a member of the zone is as it is.
type Reason struct {
	Member string `json:"member"` // number, kind, area, label, code, paths, lossWindow, bypass, doorTone
	Say    string `json:"say"`
}

// Left is a terminal that gets no zone, and why.
type Left struct {
	Device   site.DeviceID `json:"device"`
	Terminal string        `json:"terminal,omitempty"`
	Say      string        `json:"say"`
	Do       string        `json:"do"`
}

// Allocate proposes zones for the terminals that have none.
//
// Of all ways to give the free numbers of the panel to these terminals it takes one that, in this order of weight,
//  1. leaves out the fewest life-safety terminals, then the fewest for calls for help, then the fewest others,
//  2. leaves out, of one of these three blocks, those that come last in natural order of area, room, device and terminal,
//  3. uses the lowest free numbers,
//  4. numbers life safety before calls for help before everything else,
//  5. within each block changes area least often from number to number, and
//  6. within each block changes room least often.
//
// Between equals it takes them in natural order.
func Allocate(s *site.Site, p *panel.Profile) Plan { return AllocateIn(nil, s, p) }

// AllocateIn is Allocate with its reasons in a language. The zones are the same.
func AllocateIn(lang *words.Language, s *site.Site, p *panel.Profile) Plan {
	plan := Plan{Choices: []Choice{}, Left: []Left{}}
	found, left := unzoned(lang, s, p)
	plan.Left = append(plan.Left, left...)
	sorts.Stable(found, func(a, b candidate) int {
		return cmp.Or(cmp.Compare(a.rank, b.rank), site.NaturalOrder(string(a.area), string(b.area)), site.NaturalOrder(string(a.room), string(b.room)))
	})
	free := freeNumbers(s, p)
	l := newLabeller(s, p)
	for i, c := range found {
		if i >= len(free) {
			plan.Left = append(plan.Left, Left{
				c.device, c.terminal,
				lang.Say("The panel is full: all its zones from %d to %d are taken.", p.Zones.First, p.Zones.Last),
				lang.Say("Free a zone that is not needed, or fit a panel with more zones."),
			})
			continue
		}
		plan.Choices = append(plan.Choices, c.choice(s, p, l, free[i]))
	}
	plan.Free = max(0, len(free)-len(found))
	plan.Patch = patch(plan.Choices)
	return plan
}

// patch adds the zones of the choices to a site. A zone is a new member, so its zero members need no mention.
func patch(choices []Choice) json.RawMessage {
	if len(choices) == 0 {
		return nil
	}
	zones := map[site.ZoneID]site.Zone{}
	for _, c := range choices {
		zones[c.Zone] = c.Value
	}
	raw, err := json.Marshal(map[string]any{"zones": zones})
	if err != nil {
		panic(fmt.Sprintf("writing the patch: %v", err)) // strings and booleans only: our own bug
	}
	return raw
}

// freeNumbers are the numbers of the panel that no zone of the site has, unused and keyed ones included, in order.
func freeNumbers(s *site.Site, p *panel.Profile) []int {
	taken := map[int]bool{}
	for id := range s.Zones {
		if n, ok := p.ZoneNumber(id); ok {
			taken[n] = true
		}
	}
	var out []int
	for n := max(1, p.Zones.First); n <= p.Zones.Last; n++ {
		if !taken[n] {
			out = append(out, n)
		}
	}
	return out
}

// candidate is a terminal that wants a zone.
type candidate struct {
	lang     *words.Language
	device   site.DeviceID
	terminal string
	senses   string
	model    site.Model
	kind     site.ZoneKind
	area     site.AreaID
	room     site.RoomID
	rank     int
	why      []Reason
	remarks  []string
}

// rank is 0 for life safety, 1 for calls for help, 2 for the rest.
func rank(k site.ZoneKind) int {
	switch f := k.Family(); {
	case k.LifeSafety():
		return 0
	case f == "panic" || f == "medical":
		return 1
	}
	return 2
}

// unzoned finds the terminals without a zone, in natural order of device and terminal.
func unzoned(lang *words.Language, s *site.Site, p *panel.Profile) (found []candidate, left []Left) {
	taken := map[site.DeviceID]map[string]bool{}
	for _, z := range s.Zones {
		if taken[z.Device] == nil {
			taken[z.Device] = map[string]bool{}
		}
		taken[z.Device][z.Terminal] = true
	}
	doors := newDoors(s, p)
	for _, id := range site.SortedIDs(s.Devices) {
		m, known := s.ModelOf(id)
		switch {
		case !known:
			left = append(left, Left{id, "", lang.Say("Its model is not chosen, so nobody knows what it senses."), lang.Say("Choose the model of the device.")})
			continue
		case slices.Contains([]string{"repeater", "keypad", "sounder"}, m.Class):
			continue // no inputs that trip a zone
		case len(m.Terminals) == 0 && len(taken[id]) > 0:
			continue
		case len(m.Terminals) == 0 && m.Senses("") == "":
			left = append(left, Left{id, "", lang.Say("Its model names no terminal."), lang.Say("Say in the model what each input senses.")})
			continue
		}
		terminals := site.SortedIDs(m.Terminals)
		if len(terminals) == 0 {
			terminals = []string{""}
		}
		for _, t := range terminals {
			if taken[id][t] || taken[id][""] && len(m.Terminals) == 1 {
				continue
			}
			c := candidate{lang: lang, device: id, terminal: t, senses: m.Senses(t), model: m, room: s.Devices[id].Room}
			if t == "" {
				c.remarks = append(c.remarks, lang.Say("Its model names no terminal: taken as what its class says. Name the input before keying."))
			}
			if why, do := c.place(s, p, doors); why != "" {
				left = append(left, Left{id, t, why, do})
				continue
			}
			c.rank = rank(c.kind)
			found = append(found, c)
		}
	}
	return found, left
}

// place chooses area and kind, or says why the terminal gets no zone.
func (c *candidate) place(s *site.Site, p *panel.Profile, doors *doors) (why, do string) {
	area, say, sure := areaOf(s, p, c.room)
	if area == "" {
		return c.lang.Say("No area of the site exists on this panel."), c.lang.Say("Name an area first.")
	}
	c.area = area
	c.because("area", c.lang.Word(say))
	if !sure {
		c.remarks = append(c.remarks, c.lang.Say("The area is a guess. Check it."))
	}
	if c.senses == site.SensesFour && !makesFour(s, s.Devices[c.device].Hears) {
		return c.lang.Say("No head that it hears makes the four-pulse pattern of carbon monoxide: such a zone could never trip."),
			c.lang.Say("Have a CO head joined to the group, or rely on a CO detector of the system.")
	}
	if c.kind, say = kindOf(c, s, doors); c.kind == "" {
		return say, c.lang.Say("Say in the model what the terminal senses.")
	}
	c.because("kind", say)
	if _, ok := p.Kind(c.kind); !ok {
		return c.lang.Say("This panel has no zones of kind %s.", kindSay(c.lang, c.kind)), c.lang.Say("Report it by another way, or fit a panel that has them.")
	}
	if c.terminal != "" && !p.Can(panel.FieldTerminal, c.terminal) {
		return c.lang.Say("This panel can not be told terminal %q.", c.terminal), c.lang.Say("Use another input of the device.")
	}
	return "", ""
}

// kindSay names a kind of zone.
func kindSay(lang *words.Language, k site.ZoneKind) string {
	for _, e := range site.ZoneKinds {
		if e.Kind == k {
			return lang.Word(e.Say)
		}
	}
	return string(k)
}

func (c *candidate) because(member, say string) { c.why = append(c.why, Reason{member, say}) }

// makesFour reports whether a head of the group makes the CO pattern.
func makesFour(s *site.Site, group site.GroupID) bool {
	if group == "" {
		return false // heads that stand alone are heard by nobody
	}
	for _, id := range s.HeadsOf(group) {
		if k := s.Heads[id].Kind; k == "co" || k == "smoke-co" {
			return true
		}
	}
	return false
}

// areaOf chooses the area of a room: that of the zones already in the room, else of most zones on its storey, else the
// panel's first. sure is false where it is a guess.
func areaOf(s *site.Site, p *panel.Profile, room site.RoomID) (area site.AreaID, say string, sure bool) {
	var known []site.AreaID
	for _, a := range p.Areas() {
		if _, ok := s.Areas[a]; ok {
			known = append(known, a)
		}
	}
	switch len(known) {
	case 0:
		return "", "", false
	case 1:
		return known[0], words.Mark("The site has one area."), true
	}
	here, storey := map[site.AreaID]int{}, map[site.AreaID]int{}
	level, _ := s.StoreyOfRoom(room)
	for _, z := range s.Zones {
		r := s.Devices[z.Device].Room
		if r == "" {
			continue
		}
		if r == room {
			here[z.Area]++
		}
		if l, _ := s.StoreyOfRoom(r); l == level {
			storey[z.Area]++
		}
	}
	most := func(votes map[site.AreaID]int) (best site.AreaID) {
		for _, a := range known { // in order, so that equals go to the first
			if votes[a] > votes[best] {
				best = a
			}
		}
		return best
	}
	if a := most(here); a != "" {
		return a, words.Mark("The zones of its room are in this area."), true
	}
	if a := most(storey); a != "" && room != "" {
		return a, words.Mark("Most zones of its storey are in this area."), false
	}
	return known[0], words.Mark("Nothing in the site shows the area; this is the first one."), false
}
