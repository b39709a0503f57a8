package main

import (
	"bytes"
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"proofbell/demo"
	"proofbell/site"
)

func TestTheCommittedSchemaMatchesTheTypes(t *testing.T) {
	want, err := generate("../..")
	if err != nil {
		t.Fatal(err)
	}
	got, err := os.ReadFile("../../site.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Error("site.schema.json is not what the types say: run go generate ./site")
	}
}

func compile(t *testing.T) *jsonschema.Schema {
	t.Helper()
	raw, err := os.ReadFile("../../site.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("site.schema.json", doc); err != nil {
		t.Fatal(err)
	}
	schema, err := c.Compile("site.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	return schema
}

func asJSON(t *testing.T, text []byte) []byte {
	t.Helper()
	s, err := site.DecodeYAML("demo", text)
	if err != nil {
		t.Fatal(err)
	}
	raw, err := site.EncodeJSON(s)
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

func valid(t *testing.T, schema *jsonschema.Schema, text []byte) bool {
	t.Helper()
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	err = schema.Validate(v)
	if err != nil {
		t.Log(err)
	}
	return err == nil
}

func TestTheDemoIsValid(t *testing.T) {
	schema := compile(t)
	for _, text := range [][]byte{demo.Draft, demo.Corrected} {
		if !valid(t, schema, asJSON(t, text)) {
			t.Error("a demo site does not fit the schema")
		}
	}
}

// The schema and the decoder must refuse the same things, as far as a schema can tell.
func TestSchemaAndDecoderAgree(t *testing.T) {
	schema := compile(t)
	base := string(asJSON(t, demo.Corrected))
	for _, c := range []struct {
		patch string
		good  bool
	}{
		{`{}`, true},
		{`{"rooms":{"X":{"name":"Porch","ceiling":"2.90"}}}`, true},
		{`{"rooms":{"X":{"name":"Porch","outline":[[0,0],[1,0],["1 m","3 ft 3 in"]]}}}`, true},
		{`{"rooms":{"X":{"use":"hall"}}}`, false},
		{`{"rooms":{"X":{"name":"Porch","use":"cave"}}}`, false},
		{`{"rooms":{"X":{"name":"Porch","hazards":["dragon"]}}}`, false},
		{`{"rooms":{"X":{"name":"Porch","outline":[[0,0],[1,0]]}}}`, false},
		{`{"rooms":{"X Y":{"name":"Porch"}}}`, false},
		{`{"zonez":{}}`, false},
		{`{"zones":{"09":{"bypass":"yes"}}}`, false},
		{`{"zones":{"09":{"kind":"alarm"}}}`, false},
		{`{"power":{"battery":7}}`, false},
		{`{"power":{"ageing":100}}`, false},
		{`{"panel":{"installed":"yesterday"}}`, false},
		{`{"account":{"number":4816}}`, false},
		{`{"panel":{"at":[1]}}`, false},
		{`{"format":"proofbell.site/9"}`, false},
	} {
		text, err := site.Apply([]byte(base), json.RawMessage(c.patch))
		if err != nil {
			t.Fatal(err)
		}
		_, decodeErr := site.DecodeJSON("patched", text)
		if got := valid(t, schema, text); got != c.good || (decodeErr == nil) != c.good {
			t.Errorf("%s: the schema says %v, the decoder %v", c.patch, got, decodeErr)
		}
	}
}

func TestEveryMemberIsDescribed(t *testing.T) {
	raw, err := os.ReadFile("../../site.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	page, err := os.ReadFile("../../../docs/format/site.md")
	if err != nil {
		t.Fatal(err)
	}
	var schema struct {
		Defs map[string]struct {
			Properties map[string]any `json:"properties"`
		} `json:"$defs"`
	}
	if err := json.Unmarshal(raw, &schema); err != nil {
		t.Fatal(err)
	}
	for name, d := range schema.Defs {
		for member := range d.Properties {
			if !strings.Contains(string(page), "`"+member+"`") {
				t.Errorf("docs/format/site.md does not mention %s of %s", member, name)
			}
		}
	}
}
