package keypad

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"proofbell/panel"
	"proofbell/site"
)

// The search has its own model of a dialogue: what keys do to the place, to the answers in hand and to what is shown. It
// never asks the simulator, which is written from the same profile by other code and checks the result. docs/keying.md says
// how it works and why what it finds is shortest.

// cost orders ways: fewer keys first, then fewer waits, then fewer prompts. It adds up.
type cost int64

const (
	onePrompt cost = 1
	oneWait   cost = 1 << 20
	oneKey    cost = 1 << 40
	endless   cost = 1 << 62
)

// unknown stands for an answer of which nothing is known. No panel takes it.
const unknown = "\x00"

// planner finds the shortest keys for the zones of one panel. Not for concurrent use.
type planner struct {
	p      *panel.Profile
	spelt  map[string]cost // keys of a typed text
	tours  *tours          // nil where zones have to be searched state by state
	decide map[panel.Field]bool
	kinds  []string // answers of kinds that fill something
	states int      // searched so far
}

func newPlanner(p *panel.Profile) *planner {
	pl := &planner{p: p, spelt: map[string]cost{}, decide: map[panel.Field]bool{}}
	for _, n := range p.Dialogue.Nodes {
		for _, w := range n.Next {
			for f := range w.When {
				pl.decide[f] = true
			}
		}
	}
	for _, k := range p.Kinds {
		if len(k.Fills) > 0 && !slices.Contains(pl.kinds, k.Answer) {
			pl.kinds = append(pl.kinds, k.Answer)
		}
	}
	if len(pl.kinds) > 0 {
		pl.decide[panel.FieldKind] = true
	}
	pl.tours = newTours(pl)
	return pl
}

// aim is one zone: what the panel holds (nil: not known) and what it should hold.
type aim struct {
	zone       site.ZoneID
	have, want Slots
}

// plan returns the shortest steps from the start of the dialogue until the zone is kept as wanted: by tours where the
// dialogue is open, else by searching its states. Where that would take too long, or finds nothing, it is the better of a
// tour and the plain way.
func (pl *planner) plan(t aim) []step {
	tour := pl.tours.plan(t)
	if tour != nil && pl.tours.exact {
		return tour
	}
	if !pl.p.Dialogue.Edits || len(t.want) <= mostWalked {
		if steps := pl.walk(t); steps != nil {
			return steps
		}
	}
	plain := pl.plain(t)
	if tour != nil && pl.sum(tour) <= pl.sum(plain) {
		return tour
	}
	return plain
}

// mostWalked is the most answers of a zone for which drawers and menus are searched state by state.
const mostWalked = 5

func (pl *planner) sum(steps []step) (sum cost) {
	for _, st := range steps {
		sum += pl.stepCost(st)
	}
	return sum
}

// plain gives every answer, in the order of the profile.
func (pl *planner) plain(t aim) []step {
	steps, err := way(pl.p, t.want)
	if err != nil {
		return nil // Wanted went the same way before
	}
	hand := pl.opened(t)
	for i := range steps {
		st := &steps[i]
		n := pl.p.Dialogue.Nodes[st.node]
		switch {
		case st.pick != nil:
			for f, a := range st.pick.Sets {
				hand = pl.told(t, hand, f, a)
			}
		case st.back:
		case n.Field == "":
			st.answer = keepAnswer(n)
		case n.Opens:
			st.answer = pl.number(n, t.zone)
		default:
			st.answer = t.want[n.Field]
			if n.Form == panel.FormToggle {
				st.from = pl.shown(t, n, hand)
			}
			hand = pl.told(t, hand, n.Field, st.answer)
		}
	}
	return steps
}

// opened are the answers in hand when the zone has just been opened.
func (pl *planner) opened(t aim) Slots {
	if !pl.p.Dialogue.Edits {
		return Slots{}
	}
	if t.have != nil {
		return maps.Clone(t.have)
	}
	out := Slots{}
	for _, f := range panel.Fields()[1:] {
		out[f] = unknown
	}
	return out
}

// held is what the panel holds of a field, as far as it is known.
func (pl *planner) held(t aim, f panel.Field) string {
	if t.have == nil {
		return unknown
	}
	return t.have[f]
}

// told returns the answers in hand after one more. A kind fills what is empty.
func (pl *planner) told(t aim, hand Slots, f panel.Field, a string) Slots {
	out := make(Slots, len(hand)+1)
	for k, v := range hand {
		out[k] = v
	}
	out[f] = a
	if f == panel.FieldKind {
		for field, fill := range pl.fills(a) {
			if out[field] == "" && (!pl.p.Dialogue.Recall || pl.held(t, field) == "") {
				out[field] = fill
			}
		}
	}
	return out
}

// fills are the answers that choosing a kind puts where none is yet.
func (pl *planner) fills(answer string) map[panel.Field]string {
	kind, _ := pl.p.KindOf(answer, "")
	return pl.p.Fills(kind)
}

// shown is the answer that the accept key alone would take at a question, "" when it takes none.
func (pl *planner) shown(t aim, n panel.Node, hand Slots) string {
	if a, ok := hand[n.Field]; ok {
		return a
	}
	if pl.p.Dialogue.Recall {
		if a := pl.held(t, n.Field); a != "" {
			return a
		}
	}
	if n.Form == panel.FormToggle {
		return n.Order[0]
	}
	return ""
}

// number is a zone's number as it is typed at the question that opens it.
func (pl *planner) number(n panel.Node, zone site.ZoneID) string {
	number, _ := pl.p.ZoneNumber(zone)
	return fmt.Sprintf("%0*d", n.Width, number)
}

// text is what is typed for an answer.
func text(n panel.Node, answer string) string {
	if n.Form == panel.FormWords {
		return strings.ReplaceAll(answer, " ", "") + n.End
	}
	return answer
}

// turned is how often a toggle is turned from one answer to another; at most, when nobody knows what it shows first.
func turned(n panel.Node, from, to string) int {
	if from == unknown {
		return len(n.Order) - 1
	}
	i, j := slices.Index(n.Order, from), slices.Index(n.Order, to)
	return (j - i + len(n.Order)) % len(n.Order)
}

// stepCost is what a step costs.
func (pl *planner) stepCost(st step) cost {
	n := pl.p.Dialogue.Nodes[st.node]
	switch {
	case st.back:
		return oneKey + onePrompt
	case st.pick != nil && st.pick.Key != "":
		if to := pl.p.Dialogue.Nodes[st.pick.Go]; to.Field != "" {
			return oneKey // it shares the card of the question
		}
		return oneKey + onePrompt
	case st.pick != nil:
		return cost(itemOf(n, *st.pick)+1)*oneKey + onePrompt
	case st.take && n.Listen != nil:
		return 2*oneKey + onePrompt // the first ends the listening
	case st.take:
		return oneKey + onePrompt
	case n.Form == panel.FormToggle:
		return cost(turned(n, st.from, st.answer)+1)*oneKey + onePrompt
	}
	typed := pl.spell(text(n, st.answer))
	if typed < endless && !n.Auto {
		typed += oneKey
	}
	return typed + onePrompt
}

func (pl *planner) spell(typed string) cost {
	c, ok := pl.spelt[typed]
	if ok {
		return c
	}
	keys, err := pl.p.Keypad.Spell(typed)
	if err != nil {
		c = endless
	}
	for _, k := range keys {
		if k == panel.Wait {
			c += oneWait
		} else {
			c += oneKey
		}
	}
	pl.spelt[typed] = c
	return c
}

// itemOf is the position of a pick among a menu's items.
func itemOf(n panel.Node, pick panel.Pick) int {
	return slices.IndexFunc(n.Items, func(i panel.Pick) bool { return i.Shows == pick.Shows })
}
