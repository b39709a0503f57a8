package book

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"

	"proofbell/evidence"
	"proofbell/internal/words"
	"proofbell/site"
)

// EditBody is the body of an edit entry. Patch is an RFC 7396 merge patch of the site without its personal part, which
// travels sealed as EditPrivate. Undo takes back an earlier edit as far as its values still stand.
type EditBody struct {
	Patch json.RawMessage  `json:"patch,omitempty"`
	Undo  evidence.EntryID `json:"undo,omitempty"`
	From  string           `json:"from,omitempty"` // opaque id of the writing device: its own earlier edits are no surprise to it
	Why   string           `json:"why,omitempty"`  // "applies the fix of zone.fire.bypass"
}

// EditPrivate is the personal part of an edit.
type EditPrivate struct {
	Patch json.RawMessage `json:"patch"`
}

// Personal lists the places of the site that hold personal data, as JSON pointers. A patch of these, or of anything
// below them, belongs into the sealed part of an edit.
var Personal = []string{"/people", "/contacts", "/premises/address", "/premises/notes"}

// SplitPatch divides a merge patch into its open and its personal part; either may be nil.
func SplitPatch(patch json.RawMessage) (open, private json.RawMessage, err error) {
	tree, err := parseTree(patch)
	if err != nil {
		return nil, nil, fmt.Errorf("reading the patch: %w", err)
	}
	personal := map[string]any{}
	for _, pointer := range Personal {
		keys := split(pointer)
		if v, ok := cut(tree, keys); ok {
			put(personal, keys, v)
		}
	}
	if len(tree) > 0 {
		if open, err = evidence.CanonicalValue(tree); err != nil {
			return nil, nil, err
		}
	}
	if len(personal) > 0 {
		if private, err = evidence.CanonicalValue(personal); err != nil {
			return nil, nil, err
		}
	}
	return open, private, nil
}

// cut takes the member at keys out of a tree, and the objects that it leaves empty.
func cut(tree map[string]any, keys []string) (any, bool) {
	v, ok := tree[keys[0]]
	if !ok {
		return nil, false
	}
	if len(keys) == 1 {
		delete(tree, keys[0])
		return v, true
	}
	below, isObject := v.(map[string]any)
	if !isObject {
		return nil, false
	}
	v, ok = cut(below, keys[1:])
	if ok && len(below) == 0 {
		delete(tree, keys[0])
	}
	return v, ok
}

// assignment is one leaf of a merge patch: a value put at a place, or nothing (nil) where it is deleted.
type assignment struct {
	pointer string
	before  any
	after   any
}

// edit is what an edit did, for undo.
type edit struct {
	done []assignment
	made []string // objects that it made on the way to its leaves, outer ones first
}

// leaves lists the assignments of a merge patch, in order of their places.
func leaves(patch map[string]any) []assignment {
	var out []assignment
	var walk func(prefix string, m map[string]any)
	walk = func(prefix string, m map[string]any) {
		for _, k := range slices.Sorted(maps.Keys(m)) {
			p := prefix + "/" + site.EscapeKey(k)
			if below, ok := m[k].(map[string]any); ok && len(below) > 0 {
				walk(p, below)
				continue
			}
			out = append(out, assignment{pointer: p, after: m[k]})
		}
	}
	walk("", patch)
	return out
}

// applyEdit takes a merge patch leaf by leaf. Where nothing was changed meanwhile that is RFC 7396 to the letter; where
// two writers met, each place is decided by itself.
func (s *State) applyEdit(e evidence.Entry, private json.RawMessage) words.Text {
	var body EditBody
	if err := json.Unmarshal(e.Body, &body); err != nil {
		return s.trouble(e, words.Later("its body can not be read: %s", words.Said(err)))
	}
	todo, emptied := s.undo(body.Undo)
	for _, raw := range []json.RawMessage{body.Patch, private} {
		if len(raw) == 0 {
			continue
		}
		tree, err := parseTree(raw)
		if err != nil {
			return s.trouble(e, words.Later("its patch can not be read: %s", words.Said(err)))
		}
		if _, err := decodeSite(tree); err != nil { // types hold leaf by leaf: a patch that is typed leaves a site that is
			return s.trouble(e, words.Later("it would leave a site that can not be read: %s", words.Said(err)))
		}
		todo = append(todo, leaves(tree)...)
	}
	if len(s.tree) > 0 && s.Practice.Given == nil && plants(todo) {
		return s.trouble(e, words.Later("mistakes are planted in a practice job that begins with them, and in no other"))
	}
	seq := e.Seq
	if seq == 0 {
		seq = int64(len(s.Log)) + 1 // not ordered yet: it stands behind all that is
	}
	next := newDraft(s.tree, s.trail)
	var did edit
	var met []Conflict
	for _, a := range todo {
		keys := split(a.pointer)
		a.before, _ = get(next.tree, keys)
		if isEmpty(a.after) && isObject(a.before) {
			continue // an empty object of a patch leaves an object as it is
		}
		hit, held := s.meets(keys, a.after, e.Base, body.From)
		if (hit || held) && !reflect.DeepEqual(a.before, a.after) {
			theirs := s.lastAt(keys)
			met = append(met, Conflict{
				Key: "conflict:" + string(e.ID) + ":" + a.pointer, Entry: e.ID, Seq: seq, Path: a.pointer,
				Before: toJSON(a.before), After: toJSON(a.after), By: e.By, At: e.At.Time, Held: held, Theirs: theirs.By, TheirsAt: theirs.At,
			})
		}
		if held {
			continue
		}
		did.made = append(did.made, next.set(a, change{seq: seq, from: body.From})...)
		did.done = append(did.done, a)
	}
	for _, pointer := range slices.Backward(emptied) {
		if now, _ := get(next.tree, split(pointer)); isEmpty(now) {
			a := assignment{pointer: pointer, before: now}
			next.set(a, change{seq: seq, from: body.From})
			did.done = append(did.done, a)
		}
	}
	s.tree, s.trail, s.stale = next.tree, next.trail, true
	s.Conflicts = slices.DeleteFunc(slices.Clone(s.Conflicts), func(c Conflict) bool { // who has seen both values has decided
		return e.Base >= c.Seq && slices.ContainsFunc(did.done, func(a assignment) bool {
			return a.pointer == c.Path || strings.HasPrefix(c.Path, a.pointer+"/")
		})
	})
	s.Conflicts = append(s.Conflicts, met...)
	if seq > 1 {
		s.edits[e.ID] = did
	}
	return sayEdit(s, body, did.done, met)
}

// meets reports whether the place was changed by another writer after base, and whether what it belongs to was deleted
// since then, so that setting it would bring back a part of a thing that is gone.
func (s *State) meets(keys []string, value any, base int64, from string) (hit, held bool) {
	late := func(c change) bool { return c.seq > base && (from == "" || c.from != from) }
	t := s.trail
	for i, k := range keys {
		if t = t.below[k]; t == nil {
			return false, false
		}
		if i < len(keys)-1 && t.last.deleted && late(t.last) {
			return true, true
		}
	}
	return late(t.last) || !isObject(value) && t.anyBelow(func(c change) bool { return late(c) && !c.deleted }), false
}

// lastAt finds the entry that changed a place last, or something below it, or what it belonged to; the zero Line when
// none is known.
func (s *State) lastAt(keys []string) Line {
	var newest int64
	t := s.trail
	for _, k := range keys {
		if t = t.below[k]; t == nil {
			break
		}
		newest = max(newest, t.last.seq)
	}
	if t != nil {
		t.anyBelow(func(c change) bool { newest = max(newest, c.seq); return false })
	}
	if newest < 1 || newest > int64(len(s.Log)) { // the log has a line for every entry
		return Line{}
	}
	return s.Log[newest-1]
}

// undo returns what takes an edit back where its values still stand, and the objects that it made, which go when they are
// left empty.
func (s *State) undo(id evidence.EntryID) (out []assignment, emptied []string) {
	e := s.edits[id]
	back := map[string]bool{}
	for _, a := range slices.Backward(e.done) {
		keys := split(a.pointer)
		now, _ := get(s.tree, keys)
		if !reflect.DeepEqual(now, a.after) || reflect.DeepEqual(a.before, a.after) {
			continue
		}
		if in, _ := get(s.tree, keys[:len(keys)-1]); !isObject(in) && !back[parent(a.pointer)] {
			continue // what it was a part of is gone
		}
		back[a.pointer] = true
		out = append(out, assignment{pointer: a.pointer, after: a.before})
	}
	return out, e.made
}

// Undoable reports whether an edit still has values that stand, so that undoing it would change something.
func (s *State) Undoable(id evidence.EntryID) bool {
	out, _ := s.undo(id)
	return len(out) > 0
}

func decodeSite(tree map[string]any) (*site.Site, error) {
	raw, err := json.Marshal(tree)
	if err != nil {
		return nil, err
	}
	var typed site.Site
	if err := json.Unmarshal(raw, &typed); err != nil {
		return nil, err
	}
	return &typed, nil
}

// parseTree reads a JSON object, keeping numbers as they are written.
func parseTree(raw json.RawMessage) (map[string]any, error) {
	d := json.NewDecoder(bytes.NewReader(raw))
	d.UseNumber()
	var tree map[string]any
	if err := d.Decode(&tree); err != nil {
		return nil, err
	}
	if tree == nil {
		return nil, fmt.Errorf("want a JSON object")
	}
	return tree, nil
}

func isObject(v any) bool {
	_, ok := v.(map[string]any)
	return ok
}

func isEmpty(v any) bool {
	m, ok := v.(map[string]any)
	return ok && len(m) == 0
}

func toJSON(v any) json.RawMessage {
	raw, err := json.Marshal(v)
	if err != nil {
		return json.RawMessage("null")
	}
	return raw
}

func get(tree any, keys []string) (any, bool) {
	for _, k := range keys {
		m, ok := tree.(map[string]any)
		if !ok {
			return nil, false
		}
		if tree, ok = m[k]; !ok {
			return nil, false
		}
	}
	return tree, true
}

func put(tree map[string]any, keys []string, v any) {
	for _, k := range keys[:len(keys)-1] {
		below, ok := tree[k].(map[string]any)
		if !ok {
			below = map[string]any{}
			tree[k] = below
		}
		tree = below
	}
	tree[keys[len(keys)-1]] = v
}

// split divides a JSON pointer (RFC 6901) into its keys.
func split(pointer string) []string {
	keys := strings.Split(strings.TrimPrefix(pointer, "/"), "/")
	for i, k := range keys {
		keys[i] = strings.ReplaceAll(strings.ReplaceAll(k, "~1", "/"), "~0", "~")
	}
	return keys
}

func parent(pointer string) string { return pointer[:max(strings.LastIndexByte(pointer, '/'), 0)] }
