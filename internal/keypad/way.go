package keypad

import (
	"fmt"

	"proofbell/panel"
)

// step is one stop on the way of a zone through the dialogue: a question, a confirmation, or a key that acts at once.
type step struct {
	node string
	pick *panel.Pick // nil where an answer is typed
}

// longest is more steps than any way through a checked dialogue has.
const longest = 500

// way returns the steps from choosing the zone to keeping it when the answers are these. At a node whose keys act at once
// it takes, in the order of the profile, every key that leads to a question not yet answered, and then the one that keeps.
func way(p *panel.Profile, full Slots) ([]step, error) {
	var steps []step
	done := map[panel.Field]bool{}
	for id := p.Dialogue.Start; len(steps) < longest; {
		n := p.Dialogue.Nodes[id]
		switch {
		case len(n.Keys) > 0:
			k := nextPick(p, n, done)
			if k == nil {
				return nil, fmt.Errorf("the dialogue does not keep the zone at %s", n.Shows)
			}
			steps = append(steps, step{id, k})
			if k.Does == panel.DeedKeep {
				return steps, nil
			}
			id = k.Go
		case n.Field == "":
			if keepAnswer(n) == "" {
				return nil, fmt.Errorf("the dialogue does not keep the zone at %s", n.Shows)
			}
			return append(steps, step{node: id}), nil
		default:
			if _, ok := full[n.Field]; !ok && !n.Opens {
				return nil, fmt.Errorf("the panel asks %s and there is no answer for it", n.Shows)
			}
			steps, done[n.Field] = append(steps, step{node: id}), true
			id = n.After(full)
		}
	}
	return nil, fmt.Errorf("the dialogue does not come to an end") // Check has excluded it
}

// nextPick is the key that leads to a question not yet answered, else the one that keeps.
func nextPick(p *panel.Profile, n panel.Node, done map[panel.Field]bool) *panel.Pick {
	for i, k := range n.Keys {
		if f := p.Dialogue.Nodes[k.Go].Field; k.Does == "" && f != "" && !done[f] {
			return &n.Keys[i]
		}
	}
	return pickThat(n, panel.DeedKeep)
}

func pickThat(n panel.Node, does panel.Deed) *panel.Pick {
	for i, k := range n.Keys {
		if k.Does == does {
			return &n.Keys[i]
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
