package main

import (
	"bytes"
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"proofbell/demo"
	"proofbell/panel"
	"proofbell/site"
)

func TestTheCommittedSchemaMatchesTheTypes(t *testing.T) {
	for name, f := range formats {
		dir := "../../../" + name
		want, err := f.generate(dir)
		if err != nil {
			t.Fatal(err)
		}
		got, err := os.ReadFile(dir + "/" + name + ".schema.json")
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s.schema.json is not what the types say: run go generate ./%s", name, name)
		}
	}
}

func compile(t *testing.T, file string) *jsonschema.Schema {
	t.Helper()
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource(file, doc); err != nil {
		t.Fatal(err)
	}
	schema, err := c.Compile(file)
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
	schema := compile(t, "../../site.schema.json")
	for _, text := range [][]byte{demo.Draft, demo.Corrected} {
		if !valid(t, schema, asJSON(t, text)) {
			t.Error("a demo site does not fit the schema")
		}
	}
}

// The schema and the decoder must refuse the same things, as far as a schema can tell.
func TestSchemaAndDecoderAgree(t *testing.T) {
	schema := compile(t, "../../site.schema.json")
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

// The schema takes the profiles that come with the product, and refuses what the decoder refuses for its form.
func TestTheSchemaOfProfiles(t *testing.T) {
	schema := compile(t, "../../../panel/panel.schema.json")
	for _, name := range panel.Names() {
		p, err := panel.Builtin(name)
		if err != nil {
			t.Fatal(err)
		}
		raw, err := json.Marshal(p)
		if err != nil || !valid(t, schema, raw) {
			t.Errorf("%s does not fit the schema (%v)", name, err)
		}
		for from, to := range map[string]string{
			`"format":"proofbell.panel/1"`: `"format":"proofbell.panel/9"`,
			`"name":`:                      `"nane":`,
			`"first":1`:                    `"first":-1`,
			`"last":48`:                    `"last":10000`,
			`["contact-id"]`:               `["smoke-signs"]`,
			`"kind":"heat"`:                `"kind":"lava"`,
			`"restore":"none"`:             `"restore":"never"`,
			`"form":"number"`:              `"form":"figure"`,
			`"field":"code"`:               `"field":"colour"`,
			`"width":3`:                    `"width":13`,
			`"does":"keep"`:                `"does":"cook"`,
			`"idleDrop":"120 s"`:           `"idleDrop":120`,
			`"answers":{`:                  `"answers":{"colour":{"red":"1"},`,
			`"letters":2`:                  `"letters":5`,
			`"refuses":`:                   `"refuse":`,
		} {
			changed := strings.Replace(string(raw), from, to, 1)
			if changed == string(raw) {
				t.Errorf("%s has no %s any more", name, from)
			}
			if _, err := panel.Decode("p.json", []byte(changed)); err == nil || valid(t, schema, []byte(changed)) {
				t.Errorf("%s with %s: the decoder says %v, or the schema takes it", name, to, err)
			}
		}
	}
}

func TestEveryMemberIsDescribed(t *testing.T) {
	describes(t, "../../site.schema.json", "../../../docs/format/site.md")
	describes(t, "../../../panel/panel.schema.json", "../../../docs/format/profile.md")
}

func describes(t *testing.T, file, doc string) {
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	page, err := os.ReadFile(doc)
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
				t.Errorf("%s does not mention %s of %s", doc, member, name)
			}
		}
	}
}
