package keypad

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"proofbell/panel"
	"proofbell/site"
)

// Outcome is what a key did.
type Outcome string

// The outcomes of a key.
const (
	Typed   Outcome = "typed"   // it is part of an answer
	Taken   Outcome = "taken"   // the answer was accepted, or the panel went where the key leads
	Refused Outcome = "refused" // the panel did not take the answer, and says so
	Ignored Outcome = "ignored" // the key does nothing here
)

// Errors of Press.
var (
	ErrEnded  = errors.New("programming has ended")
	ErrNotKey = errors.New("the keypad has no such key")
)

// Display is what the panel shows.
type Display struct {
	Notice  string      `json:"notice,omitempty"` // about what just happened
	Prompt  string      `json:"prompt"`
	Entered string      `json:"entered,omitempty"` // typed so far, or the identity heard
	Stored  string      `json:"stored,omitempty"`  // the answer that the accept key alone would take
	Mark    string      `json:"mark,omitempty"`    // stands in front of a menu's item that the zone already holds
	Zone    site.ZoneID `json:"zone,omitempty"`    // in hand
}

// String is the display as one line.
func (d Display) String() string {
	var parts []string
	for _, s := range []string{d.Notice, d.Prompt} {
		if s != "" {
			parts = append(parts, s)
		}
	}
	return strings.Join(parts, " / ")
}

// Simulator is a panel in programming. It follows the profile's dialogue and keeps a zone only when the dialogue says so:
// where the panel asks question by question, half a zone is never in the table. Not for concurrent use.
type Simulator struct {
	p      *panel.Profile
	stored ZoneTable

	node  string      // where the panel is
	room  int         // characters that an answer there can have
	alpha int         // places in front of them on which a key gives letters
	item  int         // of a menu: the one in sight
	path  []string    // nodes already answered for the zone in hand
	zone  site.ZoneID // in hand, "" when none
	hand  Slots       // its answers so far, the zone's number as keyed included
	entry entry

	notice    string
	listening float64 // seconds left
	heard     string
	idle      float64 // seconds since the last key
	ended     bool
	keeps     int // times a zone was stored
}

// entry is an answer while it is typed.
type entry struct {
	text    string
	turning string // key whose letters still turn at the last place, "" when it stands
}

// NewSimulator starts programming at a panel that already holds these zones; nil for an empty one.
func NewSimulator(p *panel.Profile, held ZoneTable) *Simulator {
	s := &Simulator{p: p, stored: held.Clone()}
	s.arrive(p.Dialogue.Start)
	return s
}

// Table returns what the panel holds now.
func (s *Simulator) Table() ZoneTable { return s.stored.Clone() }

// Ended reports whether programming was left.
func (s *Simulator) Ended() bool { return s.ended }

// Node returns the name of the dialogue node at which the panel is.
func (s *Simulator) Node() string { return s.node }

// Display returns what the panel shows.
func (s *Simulator) Display() Display {
	if s.ended {
		return Display{Prompt: s.p.Dialogue.Left}
	}
	d := Display{Notice: s.notice, Prompt: s.at().Shows, Entered: s.entry.text, Stored: s.recalled(), Zone: s.zone}
	switch n := s.at(); {
	case len(n.Items) > 0:
		d.Entered = n.Items[s.item].Shows
		if s.holds(n.Items[s.item], map[string]bool{s.node: true}) {
			d.Mark = s.p.Dialogue.Marks
		}
	case len(n.Choices) > 0 && d.Entered == "":
		d.Entered = s.heard
	}
	return d
}

func (s *Simulator) at() panel.Node { return s.p.Dialogue.Nodes[s.node] }

// holds reports whether the zone in hand has the answers that an item gives, or those of an item in a menu below it.
func (s *Simulator) holds(item panel.Pick, above map[string]bool) bool {
	for f, a := range item.Sets {
		if s.hand[f] != a {
			return false
		}
	}
	if len(item.Sets) > 0 || above[item.Go] || item.Does != "" {
		return len(item.Sets) > 0
	}
	above[item.Go] = true
	return slices.ContainsFunc(s.p.Dialogue.Nodes[item.Go].Items, func(below panel.Pick) bool { return s.holds(below, above) })
}

// acts reports whether keys act at once here.
func (s *Simulator) acts() bool { return !s.ended && len(s.at().Keys) > 0 }

// recalled is the answer that the accept key alone would take here.
func (s *Simulator) recalled() string {
	n := s.at()
	if n.Field == "" || n.Field == panel.FieldZone {
		return ""
	}
	if a, ok := s.hand[n.Field]; ok {
		return a // given before, or filled by the kind
	}
	if a, ok := s.stored[s.zone][n.Field]; ok && s.p.Dialogue.Recall {
		return a
	}
	if n.Form == panel.FormToggle {
		return n.Order[0]
	}
	return ""
}

// Press presses one key; panel.Wait lets the time pass after which a letter stands, and TURN>WEST turns until WEST stands
// there. The error matches ErrEnded or
// ErrNotKey; an answer that the panel refuses is an outcome, not an error.
func (s *Simulator) Press(key string) (Outcome, error) {
	if s.ended {
		return Ignored, fmt.Errorf("key %s: %w", key, ErrEnded)
	}
	if key == panel.Wait {
		s.Advance(s.p.Keypad.LetterPause.SI())
		return Typed, nil
	}
	if _, _, turns := cutTurn(s.p, key); turns {
		keys, ok := s.turns(key)
		if !ok {
			return Ignored, nil
		}
		for _, one := range keys {
			if out, err := s.Press(one); err != nil {
				return out, err
			}
		}
		return Typed, nil
	}
	if !slices.Contains(s.p.Keypad.Keys, key) {
		return Ignored, fmt.Errorf("key %q: %w", key, ErrNotKey)
	}
	s.idle, s.notice = 0, ""
	switch key {
	case s.p.Keypad.Accept:
		return s.accept(), nil
	case s.p.Keypad.Back:
		s.back()
		return Taken, nil
	}
	switch n := s.at(); {
	case len(n.Keys) > 0:
		i := slices.IndexFunc(n.Keys, func(k panel.Pick) bool { return k.Key == key })
		if i < 0 {
			return Ignored, nil
		}
		return s.pick(n.Keys[i]), nil
	case len(n.Items) > 0:
		return s.move(key, len(n.Items)), nil
	}
	if n := s.at(); n.Form == panel.FormToggle {
		return s.turn(n, key), nil
	}
	outcome := s.typeKey(key)
	if outcome == Typed && s.at().Auto && s.complete() {
		return s.accept(), nil
	}
	return outcome, nil
}

// turns are the keys that a key of a list means here: itself, or as many turns as it takes. ok is false where nothing turns.
func (s *Simulator) turns(key string) (keys []string, ok bool) {
	turn, to, ok := cutTurn(s.p, key)
	if !ok {
		return []string{key}, true
	}
	n := s.at()
	if n.Form != panel.FormToggle || n.Turns != turn || !slices.Contains(n.Order, to) {
		return nil, false
	}
	return slices.Repeat([]string{turn}, turned(n, s.standing(), to)), true
}

// standing is the answer that a toggle shows.
func (s *Simulator) standing() string {
	if s.entry.text != "" {
		return s.entry.text
	}
	return s.recalled()
}

// turn shows the next answer of a toggle.
func (s *Simulator) turn(n panel.Node, key string) Outcome {
	if key != n.Turns {
		return Ignored
	}
	now := s.standing()
	s.entry.text = n.Order[(slices.Index(n.Order, now)+1)%len(n.Order)]
	return Typed
}

// complete reports whether nothing can be added to what was typed: it is as long as answers here are, or words were ended.
func (s *Simulator) complete() bool {
	n, text := s.at(), s.entry.text
	if n.Form == panel.FormWords && len(text)%n.Width == 0 && strings.HasSuffix(text, n.End) {
		return true
	}
	return len(text) == s.room
}

// move goes up or down in a menu and stops at its ends.
func (s *Simulator) move(key string, items int) Outcome {
	switch {
	case key == s.p.Keypad.Up && s.item > 0:
		s.item--
	case key == s.p.Keypad.Down && s.item < items-1:
		s.item++
	default:
		return Ignored
	}
	return Typed
}

// pick does what a key that acts at once or an item of a menu does.
func (s *Simulator) pick(k panel.Pick) Outcome {
	for f, a := range k.Sets {
		s.answer(f, a)
	}
	notice := k.Says
	switch k.Does {
	case panel.DeedKeep:
		s.keep()
	case panel.DeedSum:
		notice = fmt.Sprintf("%s %03d", k.Says, s.hand.Sum())
	}
	s.arrive(k.Go)
	s.notice = notice
	return Taken
}

// answer notes one answer. A kind also fills what is still empty, so that a later change of kind leaves old answers behind.
func (s *Simulator) answer(f panel.Field, a string) {
	s.hand[f] = a
	if f != panel.FieldKind {
		return
	}
	kind, _ := s.p.KindOf(a, "")
	for field, fill := range s.p.Fills(kind) {
		if s.hand[field] == "" && (!s.p.Dialogue.Recall || s.stored[s.zone][field] == "") {
			s.hand[field] = fill
		}
	}
}

// keep stores the zone in hand.
func (s *Simulator) keep() {
	kept := maps.Clone(s.hand)
	if !s.p.Dialogue.Edits {
		kept = s.onTheWay()
	}
	delete(kept, panel.FieldZone)
	s.stored = maps.Clone(s.stored) // a trial shares it
	s.stored[s.zone] = kept
	s.keeps++
}

// Hear is a device that is tripped while the panel listens. It reports whether the panel took notice.
func (s *Simulator) Hear(identity string) bool {
	if s.ended || s.listening <= 0 || len(identity) == 0 || len(identity) > s.room {
		return false
	}
	heard := s.at().Listen.Heard
	s.path = append(s.path, s.node)
	s.arrive(heard)
	s.heard, s.idle, s.notice = identity, 0, ""
	return true
}

// Advance lets time pass, in seconds.
func (s *Simulator) Advance(seconds float64) {
	if s.ended || seconds <= 0 {
		return
	}
	s.idle += seconds
	s.listening = max(0, s.listening-seconds)
	if s.idle >= s.p.Keypad.LetterPause.SI() {
		s.entry.turning = ""
	}
	if limit := s.p.Timing.IdleDrop.SI(); limit > 0 && s.idle >= limit {
		s.idle = 0
		if s.zone != "" {
			s.release()
			s.arrive(s.p.Dialogue.Start)
			s.notice = s.p.Dialogue.Dropped
		}
		s.entry = entry{}
	}
}

// typeKey adds a digit or a letter. Letters come first, as many as the answers here have at most; their keys turn.
func (s *Simulator) typeKey(key string) Outcome {
	if len(key) != 1 || key[0] < '0' || key[0] > '9' {
		return Ignored
	}
	letters := s.p.Keypad.Letters[key]
	e := &s.entry
	if e.turning == key {
		last := len(e.text) - 1
		turn := strings.IndexByte(letters, e.text[last])
		e.text = e.text[:last] + string(letters[(turn+1)%len(letters)])
		return Typed
	}
	if len(e.text) >= s.room {
		return Ignored
	}
	s.listening = 0 // typing ends it
	if letters != "" && len(e.text) < s.alpha {
		e.text, e.turning = e.text+letters[:1], key
		return Typed
	}
	e.text, e.turning = e.text+key, ""
	return Typed
}

// back goes one question up, leaves programming, or goes where the node says. What was typed here is forgotten.
func (s *Simulator) back() {
	n := s.at()
	switch n.Back {
	case panel.BackLeave:
		s.release()
		s.entry = entry{}
		s.ended = true
	case "", panel.BackUp:
		if len(s.path) > 0 {
			s.arrive(s.path[len(s.path)-1])
		} else {
			s.arrive(s.node)
		}
	default:
		s.arrive(n.Back)
	}
}

// arrive shows a node. A node answered before on this way takes the way back to before it.
func (s *Simulator) arrive(node string) {
	if i := slices.Index(s.path, node); i >= 0 {
		s.path = s.path[:i]
	}
	s.node, s.entry, s.listening, s.heard = node, entry{}, 0, ""
	n := s.at()
	s.room, s.alpha, s.item = s.p.Longest(n), s.p.Letters(n), 0
	if n.Opens || node == s.p.Dialogue.Start {
		s.release()
	} else if n.Listen != nil {
		s.listening = n.Listen.For.SI()
	}
}

// release forgets the zone in hand.
func (s *Simulator) release() { s.zone, s.hand, s.path = "", Slots{}, nil }

func (s *Simulator) refuse() Outcome {
	s.entry, s.notice = entry{}, s.p.Dialogue.Refuses
	return Refused
}

func (s *Simulator) accept() Outcome {
	n := s.at()
	if len(n.Items) > 0 {
		return s.pick(n.Items[s.item])
	}
	if len(n.Keys) > 0 {
		return Ignored
	}
	if n.Field == "" {
		return s.confirm(n)
	}
	answer := s.entry.text
	switch {
	case answer == "" && s.listening > 0:
		s.listening = 0 // nothing was tripped: the identity may be typed now
		return Taken
	case answer == "" && s.recalled() != "":
		answer = s.recalled()
	default:
		var ok bool
		if answer, ok = s.understood(n, answer); !ok {
			return s.refuse()
		}
	}
	if n.Opens {
		number, ok := s.p.ZoneNumber(site.ZoneID(answer))
		if !ok {
			return s.refuse()
		}
		s.zone = s.p.ZoneID(number)
		if s.p.Dialogue.Edits && s.stored[s.zone] != nil {
			s.hand = maps.Clone(s.stored[s.zone])
		}
	}
	s.answer(n.Field, answer)
	s.path = append(s.path, s.node)
	s.arrive(n.After(s.onTheWay()))
	return Taken
}

func (s *Simulator) confirm(n panel.Node) Outcome {
	i := slices.IndexFunc(n.Choices, func(c panel.Choice) bool { return c.Answer == s.entry.text })
	if i < 0 {
		return s.refuse()
	}
	c := n.Choices[i]
	switch c.Does {
	case panel.DeedKeep:
		s.keep()
	case panel.DeedTake:
		if !s.wellFormed(s.heard) {
			return s.refuse()
		}
		s.hand[panel.FieldIdentity] = s.heard
	}
	s.path = append(s.path, s.node)
	s.arrive(c.Next)
	s.notice = c.Says
	return Taken
}

// onTheWay are the answers of the questions that led here. Answers given on another way, before going back, do not count.
func (s *Simulator) onTheWay() Slots {
	out := Slots{}
	for _, id := range s.path {
		if f := s.p.Dialogue.Nodes[id].Field; f != "" {
			if a, ok := s.hand[f]; ok {
				out[f] = a
			}
		}
	}
	return out
}

// understood reads what was typed. ok is false when the panel does not take it.
func (s *Simulator) understood(n panel.Node, text string) (answer string, ok bool) {
	switch n.Form {
	case panel.FormNumber:
		return text, len(text) == n.Width
	case panel.FormWord:
		return text, text == n.End || len(text) == n.Width && s.p.Word(text) != ""
	case panel.FormChoice, panel.FormToggle:
		return text, slices.Contains(s.p.Takes(n), text)
	case panel.FormIdentity:
		return text, s.wellFormed(text)
	case panel.FormWords:
		var said []string
		for ; len(text) > n.Width; text = text[n.Width:] {
			if s.p.Word(text[:n.Width]) == "" || len(said) == s.p.Label.Words {
				return "", false
			}
			said = append(said, text[:n.Width])
		}
		return strings.Join(said, " "), text == n.End
	}
	return "", false
}

// wellFormed reports whether an identity has a family of this panel in front and digits behind.
func (s *Simulator) wellFormed(tag string) bool {
	i := s.p.Identity
	if len(tag) != i.Letters+i.Digits {
		return false
	}
	for k, c := range []byte(tag) {
		if letter := c >= 'A' && c <= 'Z'; k < i.Letters != letter || !letter && (c < '0' || c > '9') {
			return false
		}
	}
	return len(i.Families) == 0 || slices.Contains(i.Families, tag[:i.Letters])
}
