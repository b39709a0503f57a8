package site_test

import (
	"encoding/json"
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"proofbell/demo"
	"proofbell/site"
)

// The table of RFC 7396, appendix A, whole.
func TestApplyRFC7396AppendixA(t *testing.T) {
	for _, c := range [][3]string{
		{`{"a":"b"}`, `{"a":"c"}`, `{"a":"c"}`},
		{`{"a":"b"}`, `{"b":"c"}`, `{"a":"b","b":"c"}`},
		{`{"a":"b"}`, `{"a":null}`, `{}`},
		{`{"a":"b","b":"c"}`, `{"a":null}`, `{"b":"c"}`},
		{`{"a":["b"]}`, `{"a":"c"}`, `{"a":"c"}`},
		{`{"a":"c"}`, `{"a":["b"]}`, `{"a":["b"]}`},
		{`{"a":{"b":"c"}}`, `{"a":{"b":"d","c":null}}`, `{"a":{"b":"d"}}`},
		{`{"a":[{"b":"c"}]}`, `{"a":[1]}`, `{"a":[1]}`},
		{`["a","b"]`, `["c","d"]`, `["c","d"]`},
		{`{"a":"b"}`, `["c"]`, `["c"]`},
		{`{"a":"foo"}`, `null`, `null`},
		{`{"a":"foo"}`, `"bar"`, `"bar"`},
		{`{"e":null}`, `{"a":1}`, `{"e":null,"a":1}`},
		{`[1,2]`, `{"a":"b","c":null}`, `{"a":"b"}`},
		{`{}`, `{"a":{"bb":{"ccc":null}}}`, `{"a":{"bb":{}}}`},
	} {
		got, err := site.Apply([]byte(c[0]), site.Patch(c[1]))
		if err != nil || string(got) != c[2] {
			t.Errorf("%s with %s gives %s (%v), want %s", c[0], c[1], got, err, c[2])
		}
	}
}

// mergePatch is the pseudocode of RFC 7396, section 2, word for word over plain maps: the judge of the properties below.
func mergePatch(target, patch any) any {
	p, ok := patch.(map[string]any)
	if !ok {
		return patch
	}
	out := map[string]any{}
	if t, ok := target.(map[string]any); ok {
		for k, v := range t {
			out[k] = v
		}
	}
	for k, v := range p {
		if v == nil {
			delete(out, k)
		} else {
			out[k] = mergePatch(out[k], v)
		}
	}
	return out
}

func text(v any) []byte {
	raw, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	return raw
}

func value(t *rapid.T, raw []byte) any {
	var v any
	if err := json.Unmarshal(raw, &v); err != nil {
		t.Fatalf("%s: %v", raw, err)
	}
	return v
}

func must[T any](t *rapid.T) func(T, error) T {
	return func(v T, err error) T {
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func TestPatchProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b, p := jsonObject().Draw(t, "a"), jsonObject().Draw(t, "b"), anyPatch(2).Draw(t, "patch")
		applied := must[[]byte](t)(site.Apply(text(a), text(p)))
		if got, want := value(t, applied), value(t, text(mergePatch(any(a), p))); !reflect.DeepEqual(got, want) {
			t.Fatalf("apply gives %v, the pseudocode %v", got, want)
		}
		d := must[site.Patch](t)(site.Diff(text(a), text(b)))
		if got := value(t, must[[]byte](t)(site.Apply(text(a), d))); !reflect.DeepEqual(got, value(t, text(b))) {
			t.Fatalf("a with diff %s gives %v", d, got)
		}
		back := must[site.Patch](t)(site.Reverse(text(a), text(p)))
		if got := value(t, must[[]byte](t)(site.Apply(applied, back))); !reflect.DeepEqual(got, value(t, text(a))) {
			t.Fatalf("reversed by %s: %v", back, got)
		}
		undo, left, err := site.Undo(applied, text(a), text(p))
		if err != nil || len(left) > 0 {
			t.Fatalf("undo with nothing between left %v alone (%v)", left, err)
		}
		if got := value(t, must[[]byte](t)(site.Apply(applied, undo))); !reflect.DeepEqual(got, value(t, text(a))) {
			t.Fatalf("undone by %s: %v", undo, got)
		}
	})
}

// Whatever was done in between, undoing changes nothing that someone else has set since.
func TestUndoTouchesOnlyWhatStillHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		before, p, later := jsonObject().Draw(t, "before"), anyPatch(2).Draw(t, "patch"), anyPatch(2).Draw(t, "later")
		applied := must[[]byte](t)(site.Apply(text(before), text(p)))
		now := must[[]byte](t)(site.Apply(applied, text(later)))
		undo, _, err := site.Undo(now, text(before), text(p))
		if err != nil {
			t.Fatal(err)
		}
		after := value(t, must[[]byte](t)(site.Apply(now, undo)))
		for _, pointer := range must[[]string](t)(site.Touched(undo)) {
			if was, is := at(value(t, applied), pointer), at(value(t, now), pointer); !reflect.DeepEqual(was, is) {
				t.Fatalf("undo %s touches %s, which was %v after the patch and is %v now", undo, pointer, was, is)
			}
			if want, got := at(value(t, text(before)), pointer), at(after, pointer); !reflect.DeepEqual(want, got) {
				t.Fatalf("undo %s leaves %v at %s instead of %v", undo, got, pointer, want)
			}
		}
	})
}

// at follows a JSON pointer through objects; nil when there is nothing.
func at(v any, pointer string) any {
	if pointer == "" {
		return v
	}
	for _, key := range strings.Split(pointer, "/")[1:] {
		m, ok := v.(map[string]any)
		if !ok {
			return nil
		}
		v = m[strings.NewReplacer("~1", "/", "~0", "~").Replace(key)]
	}
	return v
}

func TestTouchedNamesTheLeaves(t *testing.T) {
	got, err := site.Touched(site.Patch(`{"zones":{"09":{"kind":"smoke","paths":["main"]},"1":null},"a/b":{"~":{}}}`))
	want := []string{"/a~1b/~0", "/zones/09/kind", "/zones/09/paths", "/zones/1"}
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("%q (%v)", got, err)
	}
}

func TestUndoByExample(t *testing.T) {
	for _, c := range []struct{ name, before, patch, now, back, left string }{
		{"still holds", `{"a":1}`, `{"a":2}`, `{"a":2}`, `{"a":1}`, ""},
		{"changed since", `{"a":1}`, `{"a":2}`, `{"a":3}`, `{}`, "/a"},
		{"deleted since", `{"a":1}`, `{"a":2}`, `{}`, `{}`, "/a"},
		{"created", `{}`, `{"z":{"k":"smoke"}}`, `{"z":{"k":"smoke"}}`, `{"z":null}`, ""},
		{"created, then extended", `{}`, `{"z":{"k":"smoke"}}`, `{"z":{"k":"smoke","l":"Hall"}}`, `{"z":{"k":null}}`, ""},
		{"removed", `{"z":{"k":"smoke","l":"Hall"}}`, `{"z":null}`, `{}`, `{"z":{"k":"smoke","l":"Hall"}}`, ""},
		{"removed, then made anew", `{"z":{"k":"smoke"}}`, `{"z":null}`, `{"z":{"k":"co"}}`, `{}`, "/z"},
		{"one of two", `{"z":{"k":1,"l":1}}`, `{"z":{"k":2,"l":2}}`, `{"z":{"k":2,"l":3}}`, `{"z":{"k":1}}`, "/z/l"},
	} {
		back, left, err := site.Undo([]byte(c.now), []byte(c.before), site.Patch(c.patch))
		if err != nil || string(back) != c.back || strings.Join(left, " ") != c.left {
			t.Errorf("%s: %s, left %v (%v)", c.name, back, left, err)
		}
	}
}

func draftJSON(t *testing.T) []byte {
	t.Helper()
	s, err := site.DecodeYAML("draft", demo.Draft)
	if err != nil {
		t.Fatal(err)
	}
	raw, err := site.EncodeJSON(s)
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

func TestALatePatchToADeletedThingIsHeld(t *testing.T) {
	base := draftJSON(t)
	now, _, err := site.ApplyChecked(base, site.Patch(`{"zones":{"25":null},"heads":{"M9":null}}`), nil)
	if err != nil {
		t.Fatal(err)
	}
	late := site.Patch(`{"zones":{"25":{"label":"Boiler leak"},"26":{"label":"Wheel cold"},"40":{"label":"New"}},"heads":{"M9":{"made":"2026-06"}}}`)
	result, held, err := site.ApplyChecked(now, late, base)
	if err != nil {
		t.Fatal(err)
	}
	var pointers []string
	for _, h := range held {
		pointers = append(pointers, h.Pointer)
	}
	if want := []string{"/zones/25", "/heads/M9"}; !slices.Equal(pointers, want) {
		t.Errorf("held %v, want %v", pointers, want)
	}
	s, err := site.DecodeJSON("result", result)
	if err != nil {
		t.Fatal(err)
	}
	_, zone := s.Zones["25"]
	_, head := s.Heads["M9"]
	if zone || head {
		t.Error("a deleted thing came back")
	}
	if s.Zones["26"].Label != "Wheel cold" || s.Zones["40"].Label != "New" {
		t.Error("the rest of the patch was not applied")
	}
}

func TestApplyCheckedRefusesWhatIsNotASite(t *testing.T) {
	base := draftJSON(t)
	for patch, want := range map[string]string{
		`{"zones":{"09":{"kind":"smok"}}}`: `/zones/09/kind: zone 09: kind "smok" is not a known word; did you mean "smoke"?`,
		`{"rooms":{"F6":null}}`:            `/devices/bridge/room: there is no room "F6"; add the room, or write the id of one that is described`,
		`{"rooms":{"X1":{"use":"hall"}}}`:  `/rooms/X1/name: room X1 has no name; add it`,
		`[]`:                               `patch:1:1: the patch is a list, not a mapping; write the members to change`,
		`{"a":1,"a":2}`:                    `patch:1:8: "a" stands here a second time; give it an id of its own, or take one out`,
	} {
		result, _, err := site.ApplyChecked(base, site.Patch(patch), nil)
		var faults site.Faults
		if !errors.As(err, &faults) || result != nil || faults[0].Error() != want {
			t.Errorf("%s: %v", patch, err)
		}
	}
}
