package keypad

import (
	"fmt"
	"maps"
	"slices"

	"proofbell/panel"
	"proofbell/site"
)

// Act is one thing that happens in a rehearsal: time passes, and then at most one of the others. A list of acts is all
// that has to be kept of a rehearsal: run again over the same exercise it ends in the same place.
type Act struct {
	After float64 `json:"after,omitempty"` // seconds since the act before; a pause does not count
	Key   string  `json:"key,omitempty"`
	Hear  string  `json:"hear,omitempty"`  // a device with this identity is tripped
	Again bool    `json:"again,omitempty"` // programming was left and is entered again
}

// Exercise is what is rehearsed: a site, its panel, what the panel holds when the rehearsal begins (nil: nothing) and,
// when Zones is not empty, to which zones of the site it is limited.
type Exercise struct {
	Site    *site.Site
	Panel   *panel.Profile
	Held    ZoneTable
	Zones   []site.ZoneID
	Options Options
}

// Session is a rehearsal: a simulated panel, the keying sheet, and a coach that always knows the next key, also when the
// learner has left the sheet. Nothing of it reaches a panel. Not for concurrent use.
type Session struct {
	e     Exercise
	sim   *Simulator
	sheet Sheet
	want  ZoneTable // of the zones that the sheet keys
	held  ZoneTable // when it began

	tasks  []*task
	byZone map[site.ZoneID]*task
	leave  *course

	now     place
	off     []rescue // not on the way: the keys back to it, move by move
	lost    bool     // not on the way
	wayBack place    // where off leads
	say     string   // what just happened, for the coach to tell
	turn    int      // counts the changes of the way

	seconds       float64
	keys, dropped int
	done          int // zones stored as wanted
	slips         slips
}

// task is one zone of the exercise.
type task struct {
	cards ZoneCards
	from  Slots // what the panel held when the cards were made
	known bool  // and whether it held the zone at all

	course  *course // made from cards; nil until asked for
	reading bool    // whether course reads the zone back
	checked bool

	keys, slips int
	seconds     float64
	right, bad  int // times kept as wanted, and otherwise
}

// NewSession begins a rehearsal.
func NewSession(e Exercise) *Session {
	e.Held = e.Held.Clone()
	maps.DeleteFunc(e.Held, func(_ site.ZoneID, slots Slots) bool { return len(slots) == 0 }) // known to be empty
	s := &Session{e: e, sim: NewSimulator(e.Panel, e.Held), held: e.Held, byZone: map[site.ZoneID]*task{}}
	part := s.limited(e.Zones)
	s.sheet = Compile(part, e.Panel, s.heldOf(part), e.Options)
	s.want, _ = Wanted(part, e.Panel)
	for _, z := range s.sheet.Zones {
		if len(z.Cards) == 0 {
			delete(s.want, z.Zone)
			continue
		}
		from, known := e.Held[z.Zone]
		t := &task{cards: z, from: from, known: known}
		s.tasks, s.byZone[z.Zone] = append(s.tasks, t), t
	}
	if len(s.sheet.Leave) > 0 {
		s.leave = newCourse(s.sim, "", PartLeave, s.sheet.Leave)
	}
	s.count()
	s.find()
	return s
}

// count counts the zones that are stored as wanted.
func (s *Session) count() {
	s.done = 0
	for _, t := range s.tasks {
		if s.right(t.cards.Zone) {
			s.done++
		}
	}
}

// limited is the site with some of its zones only; none named: all.
func (s *Session) limited(zones []site.ZoneID) *site.Site {
	if len(zones) == 0 {
		return s.e.Site
	}
	part := *s.e.Site
	part.Zones = map[site.ZoneID]site.Zone{}
	for id, z := range s.e.Site.Zones {
		if slices.Contains(zones, id) || slices.Contains(zones, s.number(id)) {
			part.Zones[id] = z
		}
	}
	return &part
}

// number is a zone's number as the panel writes it.
func (s *Session) number(id site.ZoneID) site.ZoneID {
	if n, ok := s.e.Panel.ZoneNumber(id); ok {
		return s.e.Panel.ZoneID(n)
	}
	return id
}

// heldOf is what the panel holds of a site's zones.
func (s *Session) heldOf(part *site.Site) ZoneTable {
	out := ZoneTable{}
	for id := range part.Zones {
		if slots, ok := s.sim.stored[s.number(id)]; ok {
			out[s.number(id)] = slots
		}
	}
	return out
}

// Sheet returns the keying sheet of the exercise.
func (s *Session) Sheet() Sheet { return s.sheet }

// Display returns what the panel shows.
func (s *Session) Display() Display { return s.sim.Display() }

// Ended reports whether programming was left.
func (s *Session) Ended() bool { return s.sim.ended }

// Listening returns for how many more seconds the panel listens for a device; 0 when it does not.
func (s *Session) Listening() float64 { return s.sim.listening }

// Idle returns after how many more seconds without a key the panel drops the zone in hand; 0 when there is none, or no limit.
func (s *Session) Idle() float64 {
	if limit := s.e.Panel.Timing.IdleDrop.SI(); limit > 0 && s.sim.zone != "" {
		return limit - s.sim.idle
	}
	return 0
}

// Counts returns the keys pressed, the wrong ones among them, how many zones are stored as wanted, and the seconds passed.
func (s *Session) Counts() (keys, wrong, right int, seconds float64) {
	return s.keys, s.slips.all, s.done, s.seconds
}

// Table returns what the panel holds now.
func (s *Session) Table() ZoneTable { return s.sim.Table() }

// Do lets one act happen. The error matches ErrNotKey and then nothing happened but the passing of time.
func (s *Session) Do(a Act) (Outcome, error) {
	if a.After > 0 {
		s.pass(a.After)
	}
	switch {
	case a.Key != "":
		return s.press(a.Key)
	case a.Hear != "":
		if s.sim.Hear(a.Hear) {
			s.find()
			return Taken, nil
		}
		return Ignored, nil
	case a.Again && s.sim.ended:
		s.sim = NewSimulator(s.e.Panel, s.sim.stored)
		s.find()
	}
	return Typed, nil
}

func (s *Session) pass(seconds float64) {
	s.seconds += seconds
	t := s.busy()
	if t != nil {
		t.seconds += seconds
	}
	zone, before, listened := s.sim.zone, stopOf(s.sim), s.sim.listening > 0
	s.sim.Advance(seconds)
	switch after := stopOf(s.sim); {
	case before == after && listened == (s.sim.listening > 0):
	case zone != "" && s.sim.zone == "":
		s.dropped++
		s.find()
		s.say = s.e.Options.Lang.Say("%s without a key: the panel has dropped zone %s. What was kept before stays.", s.e.Panel.Timing.IdleDrop, zone)
	case s.Next() == panel.Wait && after.turning == "":
		s.step()
	default:
		s.find()
	}
}

// busy is the zone that the learner is at work on: the one in hand, else the one that is next.
func (s *Session) busy() *task {
	if t := s.byZone[s.sim.zone]; t != nil {
		return t
	}
	if s.now.course != nil {
		return s.byZone[s.now.course.zone]
	}
	return nil
}

func (s *Session) press(key string) (Outcome, error) {
	if key != panel.Wait && !slices.Contains(s.e.Panel.Keypad.Keys, key) {
		return Ignored, fmt.Errorf("key %q: %w", key, ErrNotKey)
	}
	advised, lost, zone, before := s.Next(), s.lost, s.sim.zone, s.sim.Display()
	t := s.busy()
	held, kept := s.sim.stored[zone], s.sim.keeps
	out, err := s.sim.Press(key)
	if key != panel.Wait {
		s.keys++
		if t != nil {
			t.keys++
		}
	}
	if s.sim.keeps > kept {
		s.noteKeep(zone, held)
		s.count()
	}
	why := ""
	switch {
	case key == advised && err == nil:
		s.step()
		return out, nil
	case out == Refused || out == Ignored:
		why = string(out)
	}
	if s.find(); why == "" && (s.lost && !lost || s.sim.ended) && key != panel.Wait {
		why = Strayed
	}
	if why != "" {
		if t != nil {
			t.slips++
		}
		s.slips.add(Slip{N: s.keys, Zone: before.Zone, Shows: before.Prompt, Key: key, Sheet: advised, Why: why})
	}
	return out, nil // a key after the end is a wrong key, not an error
}

// noteKeep counts a zone that was just stored.
func (s *Session) noteKeep(zone site.ZoneID, before Slots) {
	t := s.byZone[zone]
	switch {
	case t == nil:
	case s.right(zone):
		t.right++
	default:
		t.bad++
	}
	if t != nil && !maps.Equal(before, s.sim.stored[zone]) {
		t.course, t.checked = nil, false
	}
}

// right reports whether the panel holds a zone as wanted. On a panel whose zones are edited, answers that nobody asked for
// may be left behind by an earlier use of the zone: it can not be told to forget them.
func (s *Session) right(zone site.ZoneID) bool {
	if !s.e.Panel.Dialogue.Edits {
		return s.sim.stored[zone] != nil && maps.Equal(s.sim.stored[zone], s.want[zone])
	}
	got := s.sim.stored[zone]
	for f, a := range s.want[zone] {
		if b, ok := got[f]; !ok || a != b {
			return false
		}
	}
	return got != nil
}

// aim is what a zone can come to: as wanted, and on a panel whose zones are edited with what it can not forget.
func (s *Session) aim(zone site.ZoneID) Slots {
	want := s.want[zone]
	if !s.e.Panel.Dialogue.Edits {
		return want
	}
	out := maps.Clone(s.sim.stored[zone])
	if out == nil {
		out = Slots{}
	}
	maps.Copy(out, want)
	return out
}

// Replay runs acts over a fresh session of the same exercise. It stops at one that can not be.
func Replay(e Exercise, acts []Act) (*Session, error) {
	s := NewSession(e)
	for i, a := range acts {
		if _, err := s.Do(a); err != nil {
			return s, fmt.Errorf("act %d: %w", i+1, err)
		}
	}
	return s, nil
}
