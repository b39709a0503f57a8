package engine

import (
	"encoding/json"
	"maps"
	"reflect"
	"slices"
	"strings"

	"proofbell/internal/book"
	"proofbell/internal/words"
	"proofbell/site"
)

// Change is one field that a patch changes, in words.
type Change struct {
	Path   string `json:"path"`   // JSON pointer into the site
	Where  string `json:"where"`  // "Zone 09"
	Field  string `json:"field"`  // "kind"; empty: the whole thing comes or goes
	Before string `json:"before"` // empty: nothing
	After  string `json:"after"`  // empty: nothing
}

// Changes lists what a merge patch changes in a site, field by field, in the order of the places; fields that keep their
// value are left out.
func Changes(lang *words.Language, s *site.Site, patch json.RawMessage) []Change {
	c := changer{desk: (&Desk{State: &book.State{Site: s}}).In(lang), out: []Change{}}
	raw, err := json.Marshal(s)
	if err != nil {
		return c.out // a site that was read can be written
	}
	var before, after map[string]any
	if json.Unmarshal(raw, &before) != nil || json.Unmarshal(patch, &after) != nil {
		return c.out
	}
	for _, key := range sortedKeys(after) {
		c.walk([]string{key}, before[key], after[key])
	}
	return c.out
}

type changer struct {
	desk *Desk
	out  []Change
}

func (c *changer) walk(path []string, before, after any) {
	below, isObject := after.(map[string]any)
	held, _ := before.(map[string]any)
	_, collection := things[path[0]]
	whole := collection && len(path) == 2
	if isObject {
		if whole && before == nil { // a new thing, then its members
			c.add(path, nil, below)
		}
		for _, key := range sortedKeys(below) {
			c.walk(append(slices.Clone(path), key), held[key], below[key])
		}
		return
	}
	_, was := before.(bool)
	_, is := after.(bool)
	if was || is { // what is not said is no
		before, after = before == true, after == true
	}
	if !reflect.DeepEqual(before, after) {
		c.add(path, before, after)
	}
}

func (c *changer) add(path []string, before, after any) {
	d := c.desk
	one := Change{Before: c.value(path, before), After: c.value(path, after)}
	for _, key := range path {
		one.Path += "/" + strings.NewReplacer("~", "~0", "/", "~1").Replace(key) // RFC 6901, section 3
	}
	head := 1
	if _, collection := things[path[0]]; collection && len(path) > 1 {
		head = 2
	}
	one.Where = d.where(path[:head])
	for _, key := range path[head:] {
		if part, ok := parts[key]; ok {
			key = d.lang.Word(part)
		}
		one.Field = words.Join(one.Field, key)
	}
	c.out = append(c.out, one)
}

// value is as a person says it; empty for nothing.
func (c *changer) value(path []string, v any) string {
	if v == nil {
		return ""
	}
	raw, err := json.Marshal(v)
	if err != nil {
		return "" // it came out of JSON
	}
	return c.desk.valueWords(path, raw)
}

func sortedKeys[V any](m map[string]V) []string {
	return slices.SortedFunc(maps.Keys(m), site.NaturalOrder)
}
