package keypad

import (
	"maps"
	"slices"
	"strings"

	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// Part is what the cards of a course are for.
type Part string

// The parts of a sheet.
const (
	PartZone  Part = "zone"  // they key a zone
	PartCheck Part = "check" // they read it back
	PartLeave Part = "leave" // they end programming
)

// course is a row of cards that begins where programming begins, with the panel's place before each of its keys.
type course struct {
	zone  site.ZoneID
	part  Part
	cards []Card
	keys  []string
	card  []int  // of each key
	stops []stop // before each key
}

// stop is where a panel is, as far as the next keys depend on it while no zone is in hand.
type stop struct {
	node    string
	item    int
	text    string
	turning string
	open    bool // a zone is in hand
}

func stopOf(sim *Simulator) stop {
	return stop{sim.node, sim.item, sim.entry.text, sim.entry.turning, sim.zone != ""}
}

// place is a place on a course: how many of its keys are pressed. The zero place is none.
type place struct {
	course *course
	at     int
}

// key is the next key there, "" at the end of the course.
func (p place) key() string {
	if p.course == nil || p.at >= len(p.course.keys) {
		return ""
	}
	return p.course.keys[p.at]
}

// rescue is one move on the way back to a course.
type rescue struct {
	card Card
	keys []string
	done int
}

// newCourse follows cards on a panel that holds what sim holds; nil when they do not begin where programming begins.
func newCourse(sim *Simulator, zone site.ZoneID, part Part, cards []Card) *course {
	c := &course{zone: zone, part: part, cards: slices.Clone(cards)}
	test := sim.trial()
	test.ended = false
	test.arrive(sim.p.Dialogue.Start)
	for i, card := range cards {
		c.cards[i].keys = nil
		for _, key := range card.keys {
			keys, ok := test.turns(key)
			if !ok {
				return nil
			}
			for _, key := range keys {
				c.keys, c.card, c.stops = append(c.keys, key), append(c.card, i), append(c.stops, stopOf(test))
				if out, err := test.Press(key); err != nil || out == Refused || out == Ignored {
					return nil
				}
			}
			c.cards[i].keys = append(c.cards[i].keys, keys...)
		}
	}
	return c
}

// trial is a copy on which keys can be tried.
func (s *Simulator) trial() *Simulator {
	c := *s
	c.hand, c.path = maps.Clone(s.hand), slices.Clone(s.path)
	if c.hand == nil {
		c.hand = Slots{}
	}
	return &c
}

// Next is the key that comes next: of the sheet, or of the way back to it. panel.Wait: let the letter stand first. "" when
// there is none.
func (s *Session) Next() string {
	if s.lost {
		if len(s.off) > 0 {
			return s.off[0].keys[s.off[0].done]
		}
		return ""
	}
	return s.now.key()
}

// step goes on by the key that was advised and pressed.
func (s *Session) step() {
	if s.lost {
		m := &s.off[0]
		if m.done++; m.done < len(m.keys) {
			return
		}
		if s.off = s.off[1:]; len(s.off) > 0 {
			return
		}
		s.find()
		return
	}
	if s.say, s.now.at = "", s.now.at+1; s.now.key() != "" {
		return
	}
	if t := s.byZone[s.now.course.zone]; t != nil && s.now.course.part == PartCheck {
		t.checked = true
	}
	s.find()
}

// find looks where on the sheet the panel is. When it is nowhere there, it looks for the shortest way back.
func (s *Session) find() {
	before := s.now.course
	s.off, s.lost, s.say = nil, false, ""
	var ok bool
	if s.now, ok = s.locate(s.sim); !ok && !s.sim.ended {
		s.lost = true
		s.off, s.wayBack = s.back()
		s.tellLost()
	}
	if s.now.course != before || s.lost {
		s.turn++
	}
}

// courseOf is what is to be done next for a zone: its cards, then those that read it back; nil when nothing is.
func (s *Session) courseOf(t *task) *course {
	zone, right := t.cards.Zone, s.right(t.cards.Zone)
	if right && (t.checked || len(t.cards.Check) == 0) {
		return nil
	}
	if t.course != nil && t.reading == right {
		return t.course
	}
	t.reading = right
	if right {
		t.course = newCourse(s.sim, zone, PartCheck, t.cards.Check)
		return t.course
	}
	got, known := s.sim.stored[zone]
	if known == t.known && maps.Equal(got, t.from) {
		if t.course = newCourse(s.sim, zone, PartZone, t.cards.Cards); t.course != nil {
			return t.course
		}
	}
	// The panel holds it otherwise than when the sheet was made: the way to put it right is another one.
	part := s.limited([]site.ZoneID{zone})
	for _, z := range Compile(part, s.e.Panel, s.heldOf(part), s.e.Options).Zones {
		if len(z.Cards) > 0 {
			t.cards, t.from, t.known = z, got, known
		}
	}
	t.course = newCourse(s.sim, zone, PartZone, t.cards.Cards)
	return t.course
}

// locate finds the place of a panel on the sheet.
func (s *Session) locate(sim *Simulator) (place, bool) {
	here := stopOf(sim)
	if sim.ended {
		return place{}, false
	}
	if sim.zone != "" {
		t := s.byZone[sim.zone]
		if t == nil {
			return place{}, false
		}
		return s.within(sim, here, s.courseOf(t))
	}
	pending := false
	for _, t := range s.tasks {
		c := s.courseOf(t)
		if c == nil {
			continue
		}
		pending = true
		for i, st := range c.stops {
			if st.open {
				break
			}
			if here.like(st, c.keys[i]) {
				return place{c, i}, true
			}
		}
	}
	if !pending && (s.leave == nil || here == s.leave.stops[0]) {
		return place{s.leave, 0}, true
	}
	return place{}, false
}

// like reports whether the next key does the same at both: a letter that still turns matters only to its own key.
func (a stop) like(b stop, next string) bool {
	at, bt := a.turning, b.turning
	a.turning, b.turning = "", ""
	return a == b && (at == bt || next != at && next != bt && next != panel.Wait)
}

// within finds the place of a zone in hand on its course: from where the rest of the course leads to what is wanted. Of
// several the one with the fewest keys left; reading back goes on where it was.
func (s *Session) within(sim *Simulator, here stop, c *course) (place, bool) {
	if c == nil {
		return place{}, false
	}
	best := -1
	for i := len(c.keys) - 1; i >= 0; i-- {
		if !here.like(c.stops[i], c.keys[i]) || !s.leads(sim, c, c.keys[i:]) {
			continue
		}
		if c.part != PartCheck {
			return place{c, i}, true
		}
		if best < 0 || s.now.course == c && i >= s.now.at {
			best = i
		}
	}
	if best >= 0 {
		return place{c, best}, true
	}
	return s.otherOrder(sim, here, c)
}

// otherOrder lets a panel that asks nothing be told in any order: the card at which it is comes first, and the others follow.
func (s *Session) otherOrder(sim *Simulator, here stop, c *course) (place, bool) {
	if c.part != PartZone || s.now.course != c || s.lost {
		return place{}, false
	}
	// The place before: the first key of the card that was due.
	due := s.now.at
	if due > 0 && c.card[due] == c.card[due-1] {
		return place{}, false
	}
	for i := due + 1; i < len(c.keys); i++ {
		if c.card[i] == c.card[i-1] && here.like(c.stops[i], c.keys[i]) {
			k := c.card[i]
			if cards := moved(s.e.Options.Lang, c.cards, k, c.card[due]); cards != nil {
				if other := newCourse(s.sim, c.zone, c.part, cards); other != nil {
					at := due + 1
					if at < len(other.keys) && here.like(other.stops[at], other.keys[at]) && s.leads(sim, other, other.keys[at:]) {
						s.byZone[c.zone].course = other
						return place{other, at}, true
					}
				}
			}
		}
	}
	return place{}, false
}

// moved takes card k before card to.
func moved(l *words.Language, cards []Card, k, to int) []Card {
	out := slices.Clone(cards)
	card := out[k]
	out = slices.Delete(out, k, k+1)
	return numbered(l, slices.Insert(out, to, card))
}

// leads tries the rest of a course: every key is taken, and at the end the zone is stored as wanted, or as it was when it is
// only read.
func (s *Session) leads(sim *Simulator, c *course, keys []string) bool {
	test := sim.trial()
	before, kept := s.sim.stored[c.zone], test.keeps
	for _, key := range keys {
		if out, err := test.Press(key); err != nil || out == Refused || out == Ignored {
			return false
		}
	}
	if c.part == PartCheck {
		return test.keeps == kept && test.zone == "" && maps.Equal(test.stored[c.zone], before)
	}
	return test.keeps > kept && maps.Equal(test.stored[c.zone], s.aim(c.zone))
}

// mostSought bounds the search for a way back. A checked dialogue needs a few dozen states.
const mostSought = 3000

// farther is how many keys more than the nearest way back one may have that saves keys afterwards.
const farther = 3

// detour is what it costs, in keys, to have a wrong answer taken on the way back: nobody does so gladly.
const detour = 6

// back finds the way after which the panel is on the sheet again with the fewest keys left to press, storing nothing and not
// leaving programming.
func (s *Session) back() ([]rescue, place) {
	for _, all := range []bool{false, true} {
		if way, to := s.seek(all); way != nil {
			return way, to
		}
	}
	return nil, place{}
}

// tried is a state that the search has come to.
type tried struct {
	sim  *Simulator
	from int // the state before, by its place in the list
	move []string
	cost int
}

// seek searches by the number of keys. With all, it tries every key, for panels that are left in the middle of an answer
// that nothing else ends.
func (s *Session) seek(all bool) ([]rescue, place) {
	states := []tried{{sim: s.sim.trial(), from: -1}}
	seen := map[string]bool{states[0].sim.sign(): true}
	best, least, nearest, goal := -1, 0, 0, place{}
	for open := []int{0}; len(open) > 0 && len(states) < mostSought; {
		k := 0
		for i := range open {
			if states[open[i]].cost < states[open[k]].cost {
				k = i
			}
		}
		at := open[k]
		open = slices.Delete(open, k, k+1)
		n := states[at]
		if best >= 0 && n.cost > nearest+farther {
			break
		}
		if to, ok := s.locate(n.sim); ok && at > 0 {
			if best < 0 {
				nearest = n.cost
			}
			if total := n.cost + to.left(); best < 0 || total < least {
				best, least, goal = at, total, to
			}
			continue
		}
		for _, move := range n.sim.moves(all) {
			next, harm := n.sim.trial(), false
			for _, key := range move {
				_, err := next.Press(key)
				harm = harm || err != nil || next.ended || next.keeps != n.sim.keeps
			}
			cost := n.cost + len(move)
			if move[0] == s.e.Panel.Keypad.Accept && n.sim.entry.text != "" {
				cost += detour
			}
			if sign := next.sign(); !harm && !seen[sign] {
				seen[sign] = true
				states, open = append(states, tried{next, at, move, cost}), append(open, len(states))
			}
		}
	}
	var way []rescue
	for j := best; j > 0; j = states[j].from {
		way = append(way, s.rescue(states[states[j].from].sim, states[j].sim, states[j].move))
	}
	slices.Reverse(way)
	for i := range way {
		way[i].card.N, way[i].card.Of = i+1, len(way)
	}
	return way, goal
}

// left is how many keys of its course are not yet pressed.
func (p place) left() int {
	if p.course == nil {
		return 0
	}
	return len(p.course.keys) - p.at
}

// moves are the keys worth trying to get out of where the panel is.
func (s *Simulator) moves(all bool) [][]string {
	n, k := s.at(), s.p.Keypad
	if all {
		var out [][]string
		for _, key := range k.Keys {
			out = append(out, []string{key})
		}
		return out
	}
	out := [][]string{{k.Accept}}
	if n.Back != panel.BackLeave {
		out = append(out, []string{k.Back})
	}
	if s.entry.turning != "" {
		out = append(out, []string{s.entry.turning})
	}
	if n.Turns != "" {
		out = append(out, []string{n.Turns})
	}
	if len(n.Items) > 0 {
		out = append(out, []string{k.Up}, []string{k.Down})
	}
	for _, c := range n.Choices {
		keys, err := k.Spell(c.Answer)
		if err != nil || c.Does == panel.DeedKeep {
			continue
		}
		if !n.Auto {
			keys = append(keys, k.Accept)
		}
		out = append(out, keys)
	}
	return out
}

// sign tells states apart.
func (s *Simulator) sign() string {
	var b strings.Builder
	for _, part := range []string{s.node, string(rune('0' + s.item)), s.entry.text, s.entry.turning, string(s.zone), s.heard} {
		b.WriteString(part)
		b.WriteByte('|')
	}
	if s.listening > 0 {
		b.WriteByte('~')
	}
	for _, id := range s.path {
		b.WriteString(id)
		b.WriteByte(',')
	}
	for _, f := range panel.Fields() {
		if a, ok := s.hand[f]; ok {
			b.WriteString(string(f))
			b.WriteByte('=')
			b.WriteString(a)
			b.WriteByte(';')
		}
	}
	return b.String()
}
