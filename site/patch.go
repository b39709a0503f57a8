package site

import (
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"
)

// Patch is a JSON merge patch (RFC 7396): members to set, with null for those to remove. Lists are replaced whole.
type Patch = json.RawMessage

// Apply returns the JSON text that a merge patch makes of current (RFC 7396, section 2). An empty current is an empty
// object. It knows nothing of sites: see ApplyChecked. Members keep their order, new ones come last.
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

// Touched returns the JSON pointers (RFC 6901) of what a patch sets or removes, sorted: its leaves, lists whole.
func Touched(p Patch) ([]string, error) {
	n, err := readPatch(p)
	if err != nil {
		return nil, err
	}
	touched := leaves(nil, n, "")
	slices.Sort(touched)
	return touched, nil
}

// Reverse returns the patch that takes back what p changed in before:
//
//	Apply(Apply(before, p), Reverse(before, p)) = before
//
// It holds only while nothing else has changed since; see Undo.
func Reverse(before []byte, p Patch) (Patch, error) {
	b, change, err := readBoth(before, p)
	if err != nil {
		return nil, err
	}
	back, _ := reverted(merged(b, change), b, change, "")
	return appendJSON(nil, back), nil
}

// Undo returns the patch that takes back from current what p once changed in before, leaving alone what no longer holds
// the value that p gave it. The pointers name what was left alone.
func Undo(current, before []byte, p Patch) (back Patch, left []string, err error) {
	now, err := readJSONText("current", current)
	if err != nil {
		return nil, nil, err
	}
	b, change, err := readBoth(before, p)
	if err != nil {
		return nil, nil, err
	}
	n, left := reverted(now, b, change, "")
	slices.Sort(left)
	return appendJSON(nil, n), left, nil
}

// Held is a part of a patch that was not applied: a person has to decide.
type Held struct {
	Pointer string `json:"pointer"` // JSON pointer of the thing the patch would have changed
	Say     string `json:"say"`
}

// ApplyChecked applies p to current, the JSON text of a site, and tests that the result is a site.
//
// base is the text that the author of p had before them. A part of p that changes a thing which base has and current
// has no more is held: a late change does not bring back what someone deleted. With a nil base nothing is held.
// When the result would not be a site, the error is Faults and result is nil.
func ApplyChecked(current []byte, p Patch, base []byte) (result []byte, held []Held, err error) {
	target, change, err := readBoth(current, p)
	if err != nil {
		return nil, nil, err
	}
	if change.kind != mapping {
		return nil, nil, Faults{{File: "patch", Line: 1, Column: 1, Say: "the patch is " + change.noun() + ", not a mapping", Try: "write the members to change"}}
	}
	if base != nil {
		was, err := readJSONText("base", base)
		if err != nil {
			return nil, nil, err
		}
		change, held = withoutLate(change, target, was, siteType, "")
	}
	after := merged(target, change)
	if _, err := bindSite("", unplaced(after)); err != nil {
		return nil, held, err
	}
	return appendJSON(nil, after), held, nil
}

// withoutLate takes out of change what touches an id that was there and is no more.
func withoutLate(change, now, was *node, t reflect.Type, path string) (*node, []Held) {
	if change.kind != mapping || t == nil {
		return change, nil
	}
	kept := &node{kind: mapping, place: change.place}
	var held []Held
	for _, e := range change.entries {
		at := pointer(path, e.key)
		if t.Kind() == reflect.Map && e.value.kind == mapping && was.get(e.key) != nil && now.get(e.key) == nil {
			held = append(held, Held{at, fmt.Sprintf("%s was deleted since this change was made", e.key)})
			continue
		}
		inside, more := withoutLate(e.value, now.get(e.key), was.get(e.key), inner(t, e.key), at)
		held = append(held, more...)
		if len(more) > 0 && len(inside.entries) == 0 {
			continue // nothing is left of it: do not make an empty collection
		}
		kept.add(e.key, e.place, inside)
	}
	return kept, held
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

// reverted returns the patch that takes back from now what change made of was, and the pointers of what has another
// value by now.
func reverted(now, was, change *node, path string) (back *node, left []string) {
	back = &node{kind: mapping}
	if change.kind != mapping {
		return back, nil
	}
	for _, e := range change.entries {
		at, n, w := pointer(path, e.key), now.get(e.key), was.get(e.key)
		var made *node // what change put here
		if !e.value.isNull() {
			made = merged(w, e.value)
		}
		inside := e.value.kind == mapping && n != nil && n.kind == mapping
		switch {
		case inside && w != nil && w.kind == mapping, inside && w == nil && !equal(n, made):
			b, l := reverted(n, w, e.value, at)
			left = append(left, l...)
			if len(b.entries) > 0 {
				back.add(e.key, place{}, b)
			}
		case !equal(n, made):
			left = append(left, at)
		case equal(n, w):
		case w == nil:
			back.add(e.key, place{}, &node{form: null})
		default:
			back.add(e.key, place{}, w)
		}
	}
	return back, left
}

func leaves(to []string, n *node, path string) []string {
	if n.kind != mapping || len(n.entries) == 0 && path != "" {
		return append(to, path)
	}
	for _, e := range n.entries {
		to = leaves(to, e.value, pointer(path, e.key))
	}
	return to
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
