package rules

import (
	"encoding/json"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"proofbell/demo"
	"proofbell/site"
)

// leaf is one value of the site file: the members on the way and the value.
type leaf struct {
	path  []string
	value any
}

func leavesOf(v any, path []string, out []leaf) []leaf {
	m, ok := v.(map[string]any)
	if !ok {
		return append(out, leaf{slices.Clone(path), v})
	}
	for _, k := range site.SortedIDs(m) {
		out = leavesOf(m[k], append(path, k), out)
	}
	return out
}

// edit is the merge patch that sets one value; nil deletes it.
func edit(path []string, value any) object {
	p := object{path[len(path)-1]: value}
	for i := len(path) - 2; i >= 0; i-- {
		p = object{path[i]: p}
	}
	return p
}

// strange are values that people do not type and files can hold.
var strange = []any{
	nil, "", "0 s", "0 m", "99999999 h", "0.001 s", "-1 m", 0, -3, true,
	[]any{},
	[]any{0, 0},
	[]any{-5, 1e4, 3},
	"never", "200 s", "12 h", "Ä", "2026-13", "1900", "9999-12-31",
	[]any{[]any{0, 0}, []any{1, 1}, []any{2, 2}},
	[]any{[]any{0, 0}, []any{90, 0}, []any{0, 90}},
	"smoke", "co", "fire", "wired", "radio", "kitchen", "bathroom",
	[]any{"machine"},
	[]any{"steam", "wood-stove"},
}

// TestAnyEdit changes a few values of the demo to others: whatever can still be decoded is checked without panic, every
// finding is complete, and a patch that is offered mends its finding without a new stop.
func TestAnyEdit(t *testing.T) {
	var texts [][]byte
	var leaves [][]leaf
	var alike []map[string][]leaf // by the last member
	for _, demo := range [][]byte{demo.Draft, demo.Corrected} {
		text := encoded(t, read(t, demo))
		var doc any
		if err := json.Unmarshal(text, &doc); err != nil {
			t.Fatal(err)
		}
		all, same := leavesOf(doc, nil, nil), map[string][]leaf{}
		for _, l := range all {
			member := l.path[len(l.path)-1]
			same[member] = append(same[member], l)
		}
		texts, leaves, alike = append(texts, text), append(leaves, all), append(alike, same)
	}
	profile := ladder(t)
	decoded := 0
	rapid.Check(t, func(t *rapid.T) {
		i := rapid.IntRange(0, 1).Draw(t, "demo")
		text := texts[i]
		var s *site.Site
		for range rapid.IntRange(1, 5).Draw(t, "edits") {
			l := rapid.SampledFrom(leaves[i]).Draw(t, "where")
			value := rapid.SampledFrom(strange).Draw(t, "strange")
			if rapid.Bool().Draw(t, "borrowed") { // a value that another thing has in the same member
				value = rapid.SampledFrom(alike[i][l.path[len(l.path)-1]]).Draw(t, "from").value
			}
			patch, err := json.Marshal(edit(l.path, value))
			if err != nil {
				t.Fatal(err)
			}
			next, err := site.Apply(text, patch)
			if err != nil {
				continue
			}
			if d, err := site.DecodeJSON("edited.json", next); err == nil { // one refused edit does not spoil the others
				text, s = next, d
			}
		}
		if s == nil {
			return
		}
		decoded++
		before, err := Check(s, profile, demoDay)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := Check(s, nil, demoDay); err != nil {
			t.Fatal(err)
		}
		var mends []Finding
		for _, f := range before {
			if f.Where == "" || f.Say == "" || f.Do == "" || f.Key == "" || f.Places == nil {
				t.Fatalf("%s says too little: %+v", f.Rule, f)
			}
			if f.Patch != nil {
				mends = append(mends, f)
			}
		}
		if len(mends) == 0 {
			return
		}
		f := rapid.SampledFrom(mends).Draw(t, "mend")
		out, err := site.Apply(text, site.Patch(f.Patch))
		if err != nil {
			t.Fatal(err)
		}
		mended, err := site.DecodeJSON("mended.json", out)
		if err != nil {
			t.Fatalf("patch %s of %s leaves a site that can not be read: %v", f.Patch, f.Rule, err)
		}
		after, err := Check(mended, profile, demoDay)
		if err != nil {
			t.Fatal(err)
		}
		for _, g := range after {
			if g.Rule == f.Rule && slices.Equal(g.Places, f.Places) && !g.NotJudged {
				t.Fatalf("%s is still there after its patch %s:\n%s", f.Rule, f.Patch, printed(g))
			}
		}
		for _, g := range fresh(before, after) {
			if g.Severity == Stop {
				t.Fatalf("the patch %s of %s brings a new stop:\n%s", f.Patch, f.Rule, printed(g))
			}
		}
	})
	t.Logf("%d edited sites could be read", decoded)
	if decoded == 0 {
		t.Error("no edit could be decoded: the test tried nothing")
	}
}
