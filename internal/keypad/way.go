package keypad

import (
	"errors"

	"proofbell/internal/words"
	"proofbell/panel"
)

// step is one stop on the way of a zone through the dialogue: a question, a confirmation, or a key that acts at once.
type step struct {
	node string
	pick *panel.Pick // a key that acts at once or an item of a menu; nil where an answer is typed
	back bool        // the back key, out of a menu

	answer string // at a question or a confirmation: what is given, the number of the zone as it is typed
	take   bool   // it stands there already: the accept key alone
	from   string // of a toggle: what stands there before
}

// longest is more steps than any way through a checked dialogue has.
const longest = 500

// noWay says why a zone can not be answered.
type noWay struct{ why words.Text }

func (e *noWay) Error() string { return e.why.String() }

func said(lang *words.Language, err error) string {
	var e *noWay
	if errors.As(err, &e) {
		return e.why.In(lang)
	}
	return err.Error()
}

// way returns the steps from choosing the zone to keeping it when the answers are these. At a node whose keys act at once
// it takes, in the order of the profile, every key that leads to a question not yet answered, and then the one that keeps.
func way(p *panel.Profile, full Slots) ([]step, error) {
	var steps []step
	done := map[panel.Field]bool{}
	for id := p.Dialogue.Start; len(steps) < longest; {
		n := p.Dialogue.Nodes[id]
		switch {
		case len(n.Picks()) > 0:
			path := lead(p, id, full, done, map[string]bool{})
			keep := pickThat(n, panel.DeedKeep)
			switch {
			case path != nil:
				steps = append(steps, path...)
			case keep != nil:
				return append(steps, step{node: id, pick: keep}), nil
			case n.Back == panel.BackLeave || n.Back == p.Dialogue.Start || n.Back == "":
				return nil, &noWay{words.Later("the dialogue does not keep the zone at %s", n.Shows)}
			default:
				steps, id = append(steps, step{node: id, back: true}), n.Back
				continue
			}
			last := path[len(path)-1].pick
			for f := range last.Sets {
				done[f] = true
			}
			id = last.Go
		case n.Field == "":
			if keepAnswer(n) == "" {
				return nil, &noWay{words.Later("the dialogue does not keep the zone at %s", n.Shows)}
			}
			return append(steps, step{node: id}), nil
		default:
			if _, ok := full[n.Field]; !ok && !n.Opens {
				return nil, &noWay{words.Later("the panel asks %s and there is no answer for it", n.Shows)}
			}
			steps, done[n.Field] = append(steps, step{node: id}), true
			id = n.After(full)
		}
	}
	return nil, &noWay{words.Later("the dialogue does not come to an end")} // Check has excluded it
}

// lead finds the keys or items, one below the other, that lead to a question not yet answered or set an answer that is
// wanted: the first in the order of the profile. nil when there is none.
func lead(p *panel.Profile, id string, full Slots, done map[panel.Field]bool, seen map[string]bool) []step {
	seen[id] = true
	picks := p.Dialogue.Nodes[id].Picks()
	for i := range picks {
		k := &picks[i]
		to := p.Dialogue.Nodes[k.Go]
		_, answered := full[to.Field]
		switch {
		case k.Does != "":
		case len(k.Sets) > 0:
			if wanted(k.Sets, full, done) {
				return []step{{node: id, pick: k}}
			}
		case to.Opens && !done[panel.FieldZone], to.Field != "" && answered && !done[to.Field]:
			return []step{{node: id, pick: k}}
		case len(to.Picks()) > 0 && !seen[k.Go]:
			if below := lead(p, k.Go, full, done, seen); below != nil {
				return append([]step{{node: id, pick: k}}, below...)
			}
		}
	}
	return nil
}

// wanted reports whether an item sets nothing but what is wanted, and something that is not yet set.
func wanted(sets map[panel.Field]string, full Slots, done map[panel.Field]bool) bool {
	fresh := false
	for f, a := range sets {
		if full[f] != a {
			return false
		}
		fresh = fresh || !done[f]
	}
	return fresh
}

func pickThat(n panel.Node, does panel.Deed) *panel.Pick {
	picks := n.Picks()
	for i := range picks {
		if picks[i].Does == does {
			return &picks[i]
		}
	}
	return nil
}

// keepAnswer is the answer of a confirmation that stores the zone, "" when none does.
func keepAnswer(n panel.Node) string {
	for _, c := range n.Choices {
		if c.Does == panel.DeedKeep {
			return c.Answer
		}
	}
	return ""
}
