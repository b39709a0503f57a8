package site_test

import (
	"encoding/json"
	"reflect"
	"testing"

	"proofbell/demo"
	"proofbell/site"
)

// What a preview reads is what the whole text with the patch reads; the site itself stays as it is.
func TestPreviewIsThePatchedSite(t *testing.T) {
	s, err := site.DecodeYAML("", demo.Corrected)
	if err != nil {
		t.Fatal(err)
	}
	raw, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	for patch, want := range map[string]struct{ ok, drawn bool }{
		`{"heads":{"M1":{"at":[7.5,3.1,2.6]}}}`:   {true, false},
		`{"devices":{"hall-smoke":{"at":[7,2]}}}`: {true, false},
		`{"rooms":{"G1":{"outline":[[6,0],[10,0],[10,4],[6,4]]}},"walls":{"new":{"storey":"ground","from":[1,1],"to":[2,2]}}}`: {true, true},
		`{"heads":{"M1":{"room":null}}}`:  {true, false},
		`{}`:                              {true, false},
		`{"heads":{"M1":null}}`:           {false, false},
		`{"heads":null}`:                  {false, false},
		`{"panel":{"room":"G1"}}`:         {false, false},
		`{"heads":{"M1":{"at":["far"]}}}`: {false, false},
		`{"nothing":{"a":{}}}`:            {false, false},
		`{"heads":{"M1":{"nothing":1}}}`:  {false, false},
		`{"heads":{"M1":"x"}}`:            {false, false},
		`[`:                               {false, false},
	} {
		got, drawn, ok := s.Preview(site.Patch(patch))
		if ok != want.ok || ok && drawn != want.drawn {
			t.Errorf("%s: %v, drawn %v", patch, ok, drawn)
			continue
		}
		if !ok {
			continue
		}
		text, err := site.Apply(raw, site.Patch(patch))
		if err != nil {
			t.Fatal(err)
		}
		whole, err := site.DecodeJSON("", text)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(got, whole) {
			t.Errorf("%s: not as the whole text reads", patch)
		}
	}
	if after, _ := json.Marshal(s); string(after) != string(raw) {
		t.Error("the site was changed")
	}
}
