package keypad

import (
	"slices"
	"strings"

	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// Guide is what the coach says at one moment.
type Guide struct {
	State string      `json:"state"` // follow, off, again, done
	Key   string      `json:"key"`   // comes next; WAIT: let the letter stand first
	Zone  site.ZoneID `json:"zone,omitempty"`
	Part  Part        `json:"part,omitempty"`
	Turn  int         `json:"turn"` // another number: Cards are others than before
	At    int         `json:"at"`   // which of Cards is due, from 0
	Press []KeyGroup  `json:"press"`
	Card  *Card       `json:"card,omitempty"`
	Say   string      `json:"say,omitempty"` // what happened, and what to do
}

// The states of the coach.
const (
	GuideFollow = "follow" // the panel is on the sheet
	GuideOff    = "off"    // it is not; the card leads back
	GuideAgain  = "again"  // programming was left before the sheet was done
	GuideDone   = "done"   // nothing is left to press
)

// KeyGroup is a group of keys of a card, as it stands on the sheet, and how many of them are pressed.
type KeyGroup struct {
	Say  string `json:"say"`
	Keys int    `json:"keys"`
	Done int    `json:"done"`
}

// Guide returns what comes next.
func (s *Session) Guide() Guide {
	g := Guide{State: GuideFollow, Key: s.Next(), Turn: s.turn, Say: s.say, Press: []KeyGroup{}}
	switch c := s.now.course; {
	case s.lost:
		g.State, g.Zone = GuideOff, s.sim.zone
		if len(s.off) > 0 {
			move := s.off[0]
			g.Card, g.Press = &move.card, pressed(s.e.Options.Lang, move.card.Press, move.keys, move.done)
		}
	case s.sim.ended && !s.Finished():
		g.State, g.Say = GuideAgain, s.e.Options.Lang.Say("Programming was left before the sheet was done. Enter it again.")
	case c == nil || g.Key == "":
		g.State = GuideDone
	default:
		g.Zone, g.Part, g.At = c.zone, c.part, c.card[s.now.at]
		card, done := c.cards[g.At], 0
		for i := s.now.at - 1; i >= 0 && c.card[i] == g.At; i-- {
			done++
		}
		g.Card, g.Press = &card, pressed(s.e.Options.Lang, card.Press, card.keys, done)
	}
	return g
}

// Cards returns the row of cards that is being followed; nil when none is.
func (s *Session) Cards() []Card {
	if s.now.course == nil || s.lost {
		return nil
	}
	return slices.Clone(s.now.course.cards)
}

// Finished reports whether every zone of the exercise is stored as wanted.
func (s *Session) Finished() bool { return s.done == len(s.tasks) }

// pressed counts the keys of each group of a card. A key that turns and what it turns to are one group.
func pressed(l *words.Language, groups, keys []string, done int) []KeyGroup {
	out := make([]KeyGroup, 0, len(groups))
	for i, group := range groups {
		if _, turns := strings.CutPrefix(group, until); turns {
			continue
		}
		if i+1 < len(groups) && strings.HasPrefix(groups[i+1], until) {
			n := 0
			for n < len(keys) && keys[n] == group {
				n++
			}
			out = append(out, KeyGroup{Pressed(l, groups[i:i+2]), n, min(done, n)})
			keys, done = keys[n:], max(0, done-n)
			continue
		}
		n, text := 0, ""
		for n < len(keys) && (n == 0 || len(text) < len(group) && keys[0] != panel.Wait && strings.HasPrefix(group, text+keys[n])) {
			text += keys[n]
			n++
		}
		out = append(out, KeyGroup{group, n, min(done, n)})
		keys, done = keys[n:], max(0, done-n)
	}
	return out
}

// rescue makes the card of one move on the way back.
func (s *Session) rescue(from, to *Simulator, keys []string) rescue {
	d := from.Display()
	groups := slices.Clone(keys)
	for i, key := range groups {
		if key == panel.Wait {
			groups[i] = "wait"
		}
	}
	card := Card{Zone: from.zone, Shows: d.Prompt, Press: groups, Caps: drawn(s.e.Options.Lang, groups), Then: to.Display().String(), keys: keys}
	return rescue{card: card, keys: keys}
}

// tellLost says why the panel is not on the sheet and where the way back leads.
func (s *Session) tellLost() {
	l := s.e.Options.Lang
	to := s.wayBack.course
	switch t := s.byZone[s.sim.zone]; {
	case len(s.off) == 0:
		s.say = l.Say("From here the sheet does not lead on. Leave the zone without keeping it.")
	case s.sim.zone != "" && t == nil:
		s.say = l.Say("Zone %s is open, and it is not on this sheet. The way back keeps nothing.", s.sim.zone)
	case s.sim.zone != "" && s.right(s.sim.zone) && s.courseOf(t) == nil:
		s.say = l.Say("Zone %s is already stored as wanted. The way back keeps nothing.", s.sim.zone)
	case to == nil || s.wayBack.at >= len(to.keys):
		s.say = l.Say("Off the sheet. The way back keeps nothing.")
	case s.sim.zone != "" && to.zone == s.sim.zone && to.stops[s.wayBack.at].open:
		s.say = l.Say("Off the sheet. The way back leads to %q.", to.cards[to.card[s.wayBack.at]].Shows)
	case s.sim.zone != "":
		s.say = l.Say("Off the sheet. The way back drops zone %s; then it is begun again.", s.sim.zone)
	default:
		s.say = l.Say("Off the sheet. The way back leads to %q.", to.cards[to.card[s.wayBack.at]].Shows)
	}
}
