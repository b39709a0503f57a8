package book

import (
	"maps"
	"strings"

	"proofbell/site"
)

// change is the last change of one place.
type change struct {
	seq     int64
	from    string
	deleted bool
}

// trail remembers which places were changed last by whom, as a tree beside the site's own. A trail that a state holds is
// never changed in place.
type trail struct {
	last  change // of this place as a whole; seq 0: never
	below map[string]*trail
}

func (t *trail) anyBelow(is func(change) bool) bool {
	for _, b := range t.below {
		if is(b.last) || b.anyBelow(is) {
			return true
		}
	}
	return false
}

// draft is a site's tree and trail under change. Each object is copied before its first change, and once: the trees that
// the draft began with stay as they were, so that states can share them, and an edit costs no more than what it touches.
type draft struct {
	tree  map[string]any
	trail *trail
	own   map[string]bool // places whose objects are this draft's own
	ours  map[string]bool // likewise of the trail
}

func newDraft(tree map[string]any, t *trail) *draft {
	return &draft{tree: maps.Clone(tree), trail: &trail{last: t.last, below: maps.Clone(t.below)}, own: map[string]bool{}, ours: map[string]bool{}}
}

// set puts a value at a place as a merge patch would: nil deletes, objects on the way are made and named in made.
func (d *draft) set(a assignment, c change) (made []string) {
	keys := split(a.pointer)
	m, at := d.tree, ""
	for _, k := range keys[:len(keys)-1] {
		at += "/" + site.EscapeKey(k)
		below, ok := m[k].(map[string]any)
		switch {
		case !ok:
			below, made = map[string]any{}, append(made, at)
		case !d.own[at]:
			below = maps.Clone(below)
		}
		m[k], d.own[at] = below, true
		m = below
	}
	last := keys[len(keys)-1]
	if isObject(a.after) { // it belongs to whom it came from
		maps.DeleteFunc(d.own, func(p string, _ bool) bool { return p == a.pointer || strings.HasPrefix(p, a.pointer+"/") })
	}
	if m[last] = a.after; a.after == nil {
		delete(m, last)
	}
	c.deleted = a.after == nil
	d.mark(keys, c)
	return made
}

func (d *draft) mark(keys []string, c change) {
	t, at := d.trail, ""
	for _, k := range keys {
		at += "/" + site.EscapeKey(k)
		below := t.below[k]
		switch {
		case below == nil:
			below = &trail{}
		case !d.ours[at]:
			below = &trail{last: below.last, below: maps.Clone(below.below)}
		}
		if t.below == nil {
			t.below = map[string]*trail{}
		}
		t.below[k], d.ours[at] = below, true
		t = below
	}
	t.last = c
}
