package site_test

import (
	"encoding/json"
	"reflect"
	"testing"

	"pgregory.net/rapid"

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
	})
}
