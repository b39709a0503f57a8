// Command schemagen writes the schemas of the site file and of the panel profile from their types. It is run by go generate
// and by a test that fails when a committed file does not match the types; it is no part of the product.
package main

import (
	"encoding/json"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"reflect"
	"strings"

	"github.com/invopop/jsonschema"

	"proofbell/panel"
	"proofbell/quantity"
	"proofbell/site"
)

func main() {
	if len(os.Args) != 4 || formats[os.Args[1]].root == nil {
		fmt.Fprintln(os.Stderr, "usage: schemagen site|panel DIRECTORY-OF-THE-PACKAGE OUTPUT")
		os.Exit(2)
	}
	schema, err := formats[os.Args[1]].generate(os.Args[2])
	if err == nil {
		err = os.WriteFile(os.Args[3], schema, 0o644)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "writing a schema:", err)
		os.Exit(1)
	}
}

// format is a file that people write, and the type it is read into.
type format struct {
	title string
	root  reflect.Type
	value string // of its member "format"
	keys  string // pattern of the keys of maps, where nothing else is known of them
}

var formats = map[string]format{
	"site":  {"Proofbell site file", reflect.TypeFor[site.Site](), site.Format, `^[A-Za-z0-9][A-Za-z0-9-]{0,31}$`},
	"panel": {"Proofbell panel profile", reflect.TypeFor[panel.Profile](), panel.Format, `^.{1,64}$`},
}

// generate returns the schema; descriptions come from the comments of the sources in dir.
func (f format) generate(dir string) ([]byte, error) {
	comments, err := readComments(dir)
	if err != nil {
		return nil, err
	}
	reflector := jsonschema.Reflector{
		Anonymous: true,
		Mapper:    leaf,
		LookupComment: func(t reflect.Type, field string) string {
			if field != "" {
				return comments[t.Name()+"."+field]
			}
			return comments[t.Name()]
		},
	}
	schema := reflector.ReflectFromType(f.root)
	schema.Title = f.title
	f.refine(schema, f.root, map[reflect.Type]bool{})
	definition := schema.Definitions[f.root.Name()]
	if f.root == reflect.TypeFor[site.Site]() {
		definition.Required = nil // a text without a format is read as the present one
	}
	if member, ok := definition.Properties.Get("format"); ok {
		member.Const = f.value
	}
	out, err := json.MarshalIndent(schema, "", "  ")
	if err != nil {
		return nil, err
	}
	return append(out, '\n'), nil
}

// leaf gives the schema of values with a textual form.
func leaf(t reflect.Type) *jsonschema.Schema {
	typed := func(what, example string) *jsonschema.Schema {
		return &jsonschema.Schema{Type: "string", MinLength: ptr(1), MaxLength: ptr(64), Description: what + " with its unit, as typed", Examples: []any{example}}
	}
	switch t {
	case reflect.TypeFor[quantity.Length]():
		return &jsonschema.Schema{
			Description: "a length as typed; a number without a unit is in metres", Examples: []any{2.9, "9 ft 6 in"},
			AnyOf: []*jsonschema.Schema{{Type: "number"}, {Type: "string", MinLength: ptr(1), MaxLength: ptr(64)}},
		}
	case reflect.TypeFor[quantity.Duration]():
		return typed("a time", "24 h")
	case reflect.TypeFor[quantity.Current]():
		return typed("a current", "0.36 A")
	case reflect.TypeFor[quantity.Charge]():
		return typed("a battery capacity", "7.0 Ah")
	case reflect.TypeFor[quantity.Voltage]():
		return typed("a voltage", "12 V")
	case reflect.TypeFor[quantity.SoundLevel]():
		return typed("a sound level", "85 dBA")
	case reflect.TypeFor[quantity.Loss]():
		return typed("a loss or margin", "6 dB")
	case reflect.TypeFor[quantity.PowerLevel]():
		return typed("a power level", "-105 dBm")
	case reflect.TypeFor[quantity.Frequency]():
		return typed("a frequency", "915 MHz")
	case reflect.TypeFor[quantity.Resistance]():
		return typed("a resistance", "4.7 kilohm")
	case reflect.TypeFor[quantity.Power]():
		return typed("a power", "3 W")
	case reflect.TypeFor[quantity.Conductor]():
		return typed("the size of a wire", "18 AWG")
	case reflect.TypeFor[quantity.Temperature]():
		return typed("a temperature", "20 C")
	case reflect.TypeFor[quantity.Share]():
		return &jsonschema.Schema{
			Description: "a part of the whole, in % or as a number", Examples: []any{"85 %", 0.85},
			AnyOf: []*jsonschema.Schema{{Type: "number"}, {Type: "string", MinLength: ptr(1), MaxLength: ptr(64)}},
		}
	case reflect.TypeFor[site.Date]():
		return &jsonschema.Schema{Type: "string", Pattern: `^\d{4}(-\d{2}(-\d{2})?)?$`, Description: "a day, a month or a year", Examples: []any{"2019-04-23", "2019-04", "2019"}}
	case reflect.TypeFor[site.Coordinates]():
		return &jsonschema.Schema{
			Type: "array", MinItems: ptr(2), MaxItems: ptr(3), Items: leaf(reflect.TypeFor[quantity.Length]()),
			Description: "a place: x, y and, optionally, z from the origin of the building", Examples: []any{[]any{8, 0.05, 2.1}},
		}
	case reflect.TypeFor[panel.Field]():
		return oneOf(panel.Fields())
	case reflect.TypeFor[panel.Form]():
		return oneOf([]panel.Form{panel.FormNumber, panel.FormChoice, panel.FormWords, panel.FormWord, panel.FormIdentity, panel.FormToggle})
	case reflect.TypeFor[panel.Deed]():
		return oneOf([]panel.Deed{panel.DeedKeep, panel.DeedDrop, panel.DeedTake, panel.DeedSum})
	case reflect.TypeFor[panel.RestorePolicy]():
		return oneOf([]panel.RestorePolicy{panel.RestoreFollows, panel.RestoreReset, panel.RestoreBell, panel.RestoreNone})
	case reflect.TypeFor[panel.TestPolicy]():
		return oneOf([]panel.TestPolicy{panel.TestReports, panel.TestMarked, panel.TestSilent})
	case reflect.TypeFor[site.Outline]():
		return &jsonschema.Schema{
			Type: "array", MinItems: ptr(3), MaxItems: ptr(500), Items: leaf(reflect.TypeFor[site.Coordinates]()),
			Description: "the corners in order, each once",
		}
	}
	return nil
}

func ptr(n uint64) *uint64 { return &n }

func oneOf[T ~string](list []T) *jsonschema.Schema {
	s := &jsonschema.Schema{Type: "string"}
	for _, one := range list {
		s.Enum = append(s.Enum, string(one))
	}
	return s
}

// refine adds what the tags of our own say: words, bounds and the form of ids.
func (of format) refine(schema *jsonschema.Schema, t reflect.Type, done map[reflect.Type]bool) {
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Map || t.Kind() == reflect.Slice {
		t = t.Elem()
	}
	definition := schema.Definitions[t.Name()]
	if t.Kind() != reflect.Struct || done[t] || definition == nil {
		return
	}
	done[t] = true
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		member, ok := definition.Properties.Get(name)
		if !ok {
			continue
		}
		if f.Type.Kind() == reflect.Map {
			if member.PropertyNames = leaf(f.Type.Key()); member.PropertyNames == nil {
				member.PropertyNames = &jsonschema.Schema{Pattern: of.keys}
			}
		}
		if list := site.Words(f.Tag.Get("words")); list != nil {
			texts := member
			if f.Type.Kind() == reflect.Slice {
				texts = member.Items
			}
			for _, word := range list {
				texts.Enum = append(texts.Enum, word)
			}
		}
		if low, high, ok := strings.Cut(f.Tag.Get("bounds"), ","); ok && (f.Type.Kind() == reflect.Int || f.Type.Kind() == reflect.Float64) {
			member.Minimum, member.Maximum = json.Number(low), json.Number(high)
		}
		of.refine(schema, f.Type, done)
	}
}

// readComments returns the comments of the types ("Room") and members ("Room.Name") in the sources of a directory.
func readComments(dir string) (map[string]string, error) {
	files, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		return nil, err
	}
	comments := map[string]string{}
	for _, name := range files {
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ParseComments)
		if err != nil {
			return nil, err
		}
		for _, d := range file.Decls {
			g, ok := d.(*ast.GenDecl)
			if !ok {
				continue
			}
			for _, s := range g.Specs {
				t, ok := s.(*ast.TypeSpec)
				if !ok {
					continue
				}
				comments[t.Name.Name] = oneLine(g.Doc)
				if st, ok := t.Type.(*ast.StructType); ok {
					for _, f := range st.Fields.List {
						for _, n := range f.Names {
							comments[t.Name.Name+"."+n.Name] = oneLine(f.Comment)
						}
					}
				}
			}
		}
	}
	return comments, nil
}

func oneLine(c *ast.CommentGroup) string {
	if c == nil {
		return ""
	}
	return strings.Join(strings.Fields(c.Text()), " ")
}
