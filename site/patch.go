package site

import (
	"encoding/json"
	"errors"
	"slices"
)

// Patch is a JSON merge patch (RFC 7396): members to set, with null for those to remove. Lists are replaced whole.
type Patch = json.RawMessage

// Apply returns the JSON text that a merge patch makes of current (RFC 7396, section 2). An empty current is an empty
// object. It knows nothing of sites. Members keep their order, new ones come last.
func Apply(current []byte, p Patch) ([]byte, error) {
	target, change, err := readBoth(current, p)
	if err != nil {
		return nil, err
	}
	return appendJSON(nil, merged(target, change)), nil
}

// Diff returns the patch that turns the JSON text old into the text new; {} when nothing differs.
// A merge patch can not set null, so a new text that holds one as a member is refused.
func Diff(old, new []byte) (Patch, error) {
	a, b, err := readBoth(old, new)
	if err != nil {
		return nil, err
	}
	if b == nil {
		b = &node{kind: mapping}
	}
	if hasNull(b) {
		return nil, errors.New("comparing two texts: the new one holds null, which a merge patch can not set")
	}
	if a == nil || a.kind != mapping || b.kind != mapping {
		return appendJSON(nil, b), nil
	}
	return appendJSON(nil, difference(a, b)), nil
}

// merged is RFC 7396, section 2: MergePatch(Target, Patch). Neither argument is changed.
func merged(target, change *node) *node {
	if change.kind != mapping {
		return change
	}
	out := &node{kind: mapping, place: change.place}
	if target != nil && target.kind == mapping {
		out.place = target.place
		for _, e := range target.entries {
			c := change.get(e.key)
			switch {
			case c == nil:
				out.add(e.key, e.place, e.value)
			case !c.isNull():
				out.add(e.key, e.place, merged(e.value, c))
			}
		}
	}
	for _, e := range change.entries {
		if !e.value.isNull() && out.get(e.key) == nil {
			out.add(e.key, e.place, merged(nil, e.value))
		}
	}
	return out
}

func (n *node) isNull() bool { return n.kind == scalar && n.form == null }

func hasNull(n *node) bool {
	if n.isNull() {
		return true
	}
	return slices.ContainsFunc(n.entries, func(e entry) bool { return hasNull(e.value) })
}

// difference returns the patch from mapping a to mapping b.
func difference(a, b *node) *node {
	out := &node{kind: mapping}
	for _, e := range a.entries {
		if b.get(e.key) == nil {
			out.add(e.key, place{}, &node{form: null})
		}
	}
	for _, e := range b.entries {
		old := a.get(e.key)
		switch {
		case old == nil:
			out.add(e.key, place{}, e.value)
		case old.kind == mapping && e.value.kind == mapping:
			if d := difference(old, e.value); len(d.entries) > 0 {
				out.add(e.key, place{}, d)
			}
		case !equal(old, e.value):
			out.add(e.key, place{}, e.value)
		}
	}
	return out
}

// equal compares by content: the order of members does not count, the text of a number does.
func equal(a, b *node) bool {
	if a == nil || b == nil {
		return a == b
	}
	if a.kind != b.kind || a.form != b.form || a.text != b.text || len(a.entries) != len(b.entries) {
		return false
	}
	for _, e := range a.entries {
		if !equal(e.value, b.get(e.key)) {
			return false
		}
	}
	return slices.EqualFunc(a.items, b.items, equal)
}

// readBoth reads a text and a patch. target is nil for an empty text.
func readBoth(text []byte, p Patch) (target, change *node, err error) {
	if target, err = readJSONText("text", text); err != nil {
		return nil, nil, err
	}
	if change, err = readPatch(p); err != nil {
		return nil, nil, err
	}
	return target, change, nil
}

func readPatch(p Patch) (*node, error) {
	n, err := readJSONText("patch", p)
	if err != nil {
		return nil, err
	}
	if n == nil {
		return &node{kind: mapping}, nil
	}
	return n, nil
}

func readJSONText(name string, text []byte) (*node, error) {
	s, fault := checkText(name, text)
	if fault != nil {
		return nil, Faults{*fault}
	}
	return readJSON(name, s)
}

// unplaced returns n without places: a merged tree has no text of its own for them to point into.
func unplaced(n *node) *node {
	out := &node{kind: n.kind, form: n.form, text: n.text}
	for _, e := range n.entries {
		out.add(e.key, place{}, unplaced(e.value))
	}
	for _, item := range n.items {
		out.items = append(out.items, unplaced(item))
	}
	return out
}

func appendJSON(out []byte, n *node) []byte {
	switch n.kind {
	case mapping:
		out = append(out, '{')
		for i, e := range n.entries {
			if i > 0 {
				out = append(out, ',')
			}
			out = appendJSONString(out, e.key)
			out = appendJSON(append(out, ':'), e.value)
		}
		return append(out, '}')
	case sequence:
		out = append(out, '[')
		for i, item := range n.items {
			if i > 0 {
				out = append(out, ',')
			}
			out = appendJSON(out, item)
		}
		return append(out, ']')
	}
	switch n.form {
	case null:
		return append(out, "null"...)
	case number, literal:
		return append(out, n.text...)
	}
	return appendJSONString(out, n.text)
}
