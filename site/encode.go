package site

import (
	"bytes"
	"encoding/json"
	"reflect"
	"slices"
	"strings"

	"proofbell/internal/sorts"
)

// EncodeJSON writes the site as JSON, members in the order of the types and ids in byte order.
func EncodeJSON(s *Site) ([]byte, error) {
	out := *s
	if out.Format == "" {
		out.Format = Format
	}
	return marshal(out)
}

// EncodeYAML writes the site as YAML in its canonical layout: members in the order of the types, ids in natural order,
// things of few members on one line. Decoding gives the same site. To change a file that a person keeps, use EditYAML,
// which leaves comments alone.
func EncodeYAML(s *Site) ([]byte, error) {
	text, err := EncodeJSON(s)
	if err != nil {
		return nil, err
	}
	root, err := readJSON("", string(text))
	if err != nil {
		return nil, err
	}
	return appendBlock(nil, root, siteType, 0), nil
}

var siteType = reflect.TypeFor[Site]()

// oneLine lists the types that are written between braces on one line.
var oneLine = map[reflect.Type]bool{
	reflect.TypeFor[Internet](): true, reflect.TypeFor[Person](): true, reflect.TypeFor[Contact](): true, reflect.TypeFor[RuleSetRef](): true,
	reflect.TypeFor[StationZone](): true, reflect.TypeFor[Path](): true, reflect.TypeFor[PanelRadio](): true, reflect.TypeFor[Storey](): true,
	reflect.TypeFor[Material](): true, reflect.TypeFor[Wall](): true, reflect.TypeFor[Opening](): true, reflect.TypeFor[Terminal](): true,
	reflect.TypeFor[Listener](): true, reflect.TypeFor[Head](): true, reflect.TypeFor[Group](): true, reflect.TypeFor[Cable](): true,
	reflect.TypeFor[CircuitPart](): true, reflect.TypeFor[Ring](): true, reflect.TypeFor[InputWindow](): true,
	reflect.TypeFor[Area](): true, reflect.TypeFor[Window](): true, reflect.TypeFor[Limit](): true, reflect.TypeFor[CrossZone](): true,
}

// inner returns the type of a member; nil when t has no such member.
func inner(t reflect.Type, key string) reflect.Type {
	if t == nil {
		return nil
	}
	switch t.Kind() {
	case reflect.Map:
		return t.Elem()
	case reflect.Struct:
		for _, f := range fieldsOf(t) {
			if f.name == key {
				if m := t.Field(f.index).Type; m.Kind() == reflect.Pointer {
					return m.Elem()
				} else {
					return m
				}
			}
		}
	}
	return nil
}

// before reports whether member a of a value of type t is written before member b.
func before(t reflect.Type, a, b string) bool {
	if t != nil && t.Kind() == reflect.Struct {
		fields := fieldsOf(t)
		place := func(name string) int {
			return slices.IndexFunc(fields, func(f field) bool { return f.name == name })
		}
		return place(a) < place(b)
	}
	return NaturalOrder(a, b) < 0
}

func ordered(n *node, t reflect.Type) []entry {
	entries := slices.Clone(n.entries)
	sorts.Stable(entries, func(a, b entry) int {
		switch {
		case before(t, a.key, b.key):
			return -1
		case before(t, b.key, a.key):
			return 1
		}
		return 0
	})
	return entries
}

// appendBlock writes the members of a mapping, one or more lines each.
func appendBlock(out []byte, n *node, t reflect.Type, indent int) []byte {
	for _, e := range ordered(n, t) {
		out = appendEntry(out, e.key, e.value, inner(t, e.key), indent)
	}
	return out
}

func appendEntry(out []byte, key string, value *node, t reflect.Type, indent int) []byte {
	out = append(out, strings.Repeat(" ", indent)...)
	out = append(out, yamlScalar(key)+":"...)
	if inBlock(value, t) {
		return appendBlock(append(out, '\n'), value, t, indent+2)
	}
	return append(appendFlow(append(out, ' '), value, t), '\n')
}

func inBlock(n *node, t reflect.Type) bool {
	if t == reflect.TypeFor[Circuit]() { // name, kind and resistor stand on one line, what is wired does not
		return slices.ContainsFunc(n.entries, func(e entry) bool { return e.value.kind == mapping })
	}
	return n.kind == mapping && len(n.entries) > 0 && !oneLine[t]
}

// appendFlow writes a value on one line.
func appendFlow(out []byte, n *node, t reflect.Type) []byte {
	switch n.kind {
	case mapping:
		out = append(out, '{')
		for i, e := range ordered(n, t) {
			if i > 0 {
				out = append(out, ", "...)
			}
			out = append(out, yamlScalar(e.key)+": "...)
			out = appendFlow(out, e.value, inner(t, e.key))
		}
		return append(out, '}')
	case sequence:
		out = append(out, '[')
		for i, item := range n.items {
			if i > 0 {
				out = append(out, ", "...)
			}
			out = appendFlow(out, item, nil)
		}
		return append(out, ']')
	}
	if n.form == quoted {
		return append(out, yamlScalar(n.text)...)
	}
	return append(out, n.text...)
}

// yamlScalar writes a text plainly where every reader of YAML takes it for that text, and in quotes elsewhere.
func yamlScalar(text string) string {
	if isPlain(text) && !isNoText(text) && !strings.HasSuffix(text, " ") {
		return text
	}
	return string(appendJSONString(nil, text)) // a JSON string is a YAML string
}

func appendJSONString(b []byte, s string) []byte {
	raw, err := marshal(s)
	if err != nil { // a string always encodes
		panic(err)
	}
	return append(b, raw...)
}

func marshal(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), nil
}
