package keypad

import (
	"slices"
	"strings"

	"proofbell/internal/words"
	"proofbell/panel"
)

// answerable says why a panel can not be told these answers; nil when it can. Tables from outside may hold anything.
func answerable(p *panel.Profile, slots Slots) error {
	steps, err := way(p, slots)
	if err != nil {
		return err
	}
	told, _ := asked(p, slots) // it goes the same way
	for _, f := range panel.Fields()[1:] {
		if told[f] != slots[f] {
			return &noWay{words.Later("this panel can not be told %s %q", string(f), slots[f])}
		}
	}
	for _, st := range steps {
		n := p.Dialogue.Nodes[st.node]
		if n.Field != "" && n.Field != panel.FieldZone && !takes(p, n, slots[n.Field]) {
			return &noWay{words.Later("at %s the panel does not take %q", n.Shows, slots[n.Field])}
		}
	}
	return nil
}

// takes reports whether an answer can be given at a question.
func takes(p *panel.Profile, n panel.Node, answer string) bool {
	switch n.Form {
	case panel.FormNumber:
		return len(answer) == n.Width && digits(answer)
	case panel.FormWord:
		return answer == n.End || p.Word(answer) != ""
	case panel.FormWords:
		said := strings.Fields(answer)
		return len(said) <= p.Label.Words && !slices.ContainsFunc(said, func(w string) bool { return p.Word(w) == "" })
	case panel.FormIdentity:
		return badIdentity(nil, p, answer) == ""
	}
	return slices.Contains(p.Takes(n), answer)
}

func digits(text string) bool { return strings.Trim(text, "0123456789") == "" }
