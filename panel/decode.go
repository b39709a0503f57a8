package panel

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"

	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/site"
)

// Limits of a profile file, tested before it is parsed or decoded.
const (
	MaxFile  = 256 << 10
	maxDepth = 24
)

// Mistake is one thing wrong with a profile, and where.
type Mistake struct {
	File   string
	Line   int // 1 is the first; 0 when the place is not known
	Column int
	Say    words.Text // what is wrong, and what to do
}

func (m *Mistake) Error() string { return m.Said().String() }

// Said is the mistake with its place, to be said in any language.
func (m *Mistake) Said() words.Text {
	if m.Line == 0 {
		return words.Later("%s: %s", words.Typed(m.File), m.Say)
	}
	return words.Later("%s:%d:%d: %s", words.Typed(m.File), m.Line, m.Column, m.Say)
}

// Mistakes are all that is wrong with a profile, in the order of the file.
type Mistakes []*Mistake

func (m Mistakes) Error() string {
	lines := make([]string, len(m))
	for i := range m {
		lines[i] = m[i].Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap gives the single mistakes to errors.As.
func (m Mistakes) Unwrap() []error {
	out := make([]error, len(m))
	for i := range m {
		out[i] = m[i]
	}
	return out
}

// Decode reads a profile from YAML or JSON and checks it. file is used in errors only. The error is Mistakes: a profile that
// can not program a zone it claims to hold is refused as much as one that can not be read.
func Decode(file string, raw []byte) (*Profile, error) {
	p, wrong := decode(file, raw)
	if len(wrong) > 0 {
		return nil, wrong
	}
	return p, nil
}

func decode(file string, raw []byte) (*Profile, Mistakes) {
	one := func(line, column int, say words.Text) Mistakes {
		return Mistakes{{File: file, Line: line, Column: column, Say: say}}
	}
	if len(raw) > MaxFile {
		return nil, one(0, 0, words.Later("a profile has at most %d bytes, this has %d", MaxFile, len(raw)))
	}
	if at := tooDeep(raw); at > 0 {
		return nil, one(at, 1, words.Later("nested more than %d levels deep; a profile needs fewer", maxDepth))
	}
	tree, err := parser.ParseBytes(raw, 0)
	if err != nil {
		return nil, Mistakes{mistake(file, err)}
	}
	if len(tree.Docs) != 1 || tree.Docs[0].Body == nil {
		return nil, one(1, 1, words.Later("want exactly one document with a profile in it"))
	}
	body := tree.Docs[0].Body
	where := places{}
	if wrong := where.walk(file, body, "", 0); wrong != nil {
		return nil, Mistakes{wrong}
	}
	var p Profile
	if err := yaml.NodeToValue(body, &p, yaml.Strict(), yaml.UseJSONUnmarshaler()); err != nil {
		return nil, Mistakes{mistake(file, err)}
	}
	var wrong Mistakes
	for _, f := range p.Check() {
		line, column := where.find(f.Path)
		wrong = append(wrong, &Mistake{File: file, Line: line, Column: column, Say: f.Say})
	}
	slices.SortStableFunc(wrong, func(a, b *Mistake) int { return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column)) })
	return &p, wrong
}

// tooDeep returns the line at which the nesting of brackets or of indentation passes the limit, 0 when it does not. It
// counts roughly and only upward, so that the parser never sees a bomb.
func tooDeep(raw []byte) int {
	brackets, line, indent, atStart := 0, 1, 0, true
	for _, c := range raw {
		switch {
		case c == '\n':
			line, indent, atStart = line+1, 0, true
			continue
		case atStart && (c == ' ' || c == '-' || c == '?'):
			indent++
		default:
			atStart = false
		}
		switch c {
		case '[', '{':
			brackets++
		case ']', '}':
			brackets = max(0, brackets-1)
		}
		if brackets > maxDepth || indent > 8*maxDepth {
			return line
		}
	}
	return 0
}

// mistake gives an error of the YAML library its place.
func mistake(file string, err error) *Mistake {
	var at yaml.Error
	m := &Mistake{File: file, Say: words.Said(err)}
	if errors.As(err, &at) {
		m.Say = words.Typed(at.GetMessage())
		if t := at.GetToken(); t != nil && t.Position != nil {
			m.Line, m.Column = t.Position.Line, t.Position.Column
		}
	}
	var kind *yaml.TypeError
	if errors.As(err, &kind) {
		m.Say = words.Later("this is not of the kind that is wanted here: %s", words.Marked(wants[kind.DstType.Kind()]))
	}
	var node *yaml.UnexpectedNodeTypeError
	if errors.As(err, &node) {
		m.Say = words.Later("this is not of the kind that is wanted here: %s", words.Marked(wants[map[ast.NodeType]reflect.Kind{ast.MappingType: reflect.Map, ast.SequenceType: reflect.Slice}[node.Expected]]))
	}
	var unknown *yaml.UnknownFieldError
	if errors.As(err, &unknown) {
		m.Say = words.Later("%s; see docs/format/profile.md for the members there are", m.Say)
	}
	return m
}

// wants says what a type of Go is in a file.
var wants = map[reflect.Kind]string{
	reflect.String: words.Mark("a text"), reflect.Int: words.Mark("a whole number"), reflect.Bool: words.Mark("true or false"), reflect.Slice: words.Mark("a list"),
	reflect.Map: words.Mark("members with their values"), reflect.Struct: words.Mark("members with their values"),
}

// places remembers where each member of the file stands: "dialogue.nodes.tell.next" -> line and column.
type places map[string][2]int

func (w places) walk(file string, n ast.Node, at string, depth int) *Mistake {
	t := n.GetToken()
	bad := func(say words.Text) *Mistake {
		return &Mistake{File: file, Line: t.Position.Line, Column: t.Position.Column, Say: say}
	}
	if depth > maxDepth {
		return bad(words.Later("nested more than %d levels deep; a profile needs fewer", maxDepth))
	}
	if _, ok := w[at]; !ok {
		w[at] = [2]int{t.Position.Line, t.Position.Column}
	}
	switch n := n.(type) {
	case *ast.MappingNode:
		for _, v := range n.Values {
			if err := w.member(file, v, at, depth); err != nil {
				return err
			}
		}
	case *ast.MappingValueNode:
		return w.member(file, n, at, depth)
	case *ast.SequenceNode:
		for i, v := range n.Values {
			if err := w.walk(file, v, fmt.Sprintf("%s[%d]", at, i), depth+1); err != nil {
				return err
			}
		}
	case *ast.AnchorNode, *ast.AliasNode, *ast.MergeKeyNode:
		return bad(words.Later("anchors and aliases are not allowed here; write the value out"))
	case *ast.TagNode:
		return bad(words.Later("tags are not allowed here; leave the tag out"))
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.NullNode, *ast.InfinityNode, *ast.NanNode:
		if say, ok := bare(n, at); !ok {
			return bad(say)
		}
	case ast.ScalarNode: // behind the others: an anchor is one as well
		if isTime(at) {
			var d quantity.Duration
			if text, err := json.Marshal(t.Value); err != nil {
				return bad(words.Said(err))
			} else if err := d.UnmarshalJSON(text); err != nil {
				return bad(refused(err))
			}
		}
	}
	return nil
}

// refused says why a time was not taken.
func refused(err error) words.Text {
	if why, ok := site.Refused(err); ok {
		return why.Said()
	}
	return words.Said(err)
}

// bare reports whether a value without quotes may stand at a place: numbers and truth values only where such are wanted. As a
// text, 06 would become 6.
func bare(n ast.Node, at string) (say words.Text, ok bool) {
	text := n.GetToken().Value
	name := at[strings.LastIndex(at, ".")+1:]
	switch n.(type) {
	case *ast.NullNode:
		return words.Later("there is no value here; write one, or leave the member out"), false
	case *ast.BoolNode:
		ok = slices.Contains([]string{"recall", "edits", "opens", "auto"}, name)
	case *ast.IntegerNode:
		ok = at == "zones.first" || at == "zones.last" || at == "label.words" || at == "identity.letters" || at == "identity.digits" || strings.HasPrefix(at, "dialogue.nodes.") && name == "width"
	}
	if isTime(at) {
		return words.Later("a time without its unit; write it as 30 s or 2 min"), false
	}
	return words.Later("a text is wanted here; write it in quotes: %q", text), ok
}

// isTime knows the members that are times. They are read here once more because an error of their own decoder has no place.
func isTime(at string) bool {
	return strings.HasPrefix(at, "timing.") || at == "keypad.letterPause" || strings.HasSuffix(at, ".listen.for")
}

func (w places) member(file string, v *ast.MappingValueNode, at string, depth int) *Mistake {
	key := v.Key.GetToken()
	if v.Key.Type() == ast.MergeKeyType {
		return &Mistake{File: file, Line: key.Position.Line, Column: key.Position.Column, Say: words.Later("anchors and aliases are not allowed here; write the value out")}
	}
	name := key.Value
	if at != "" {
		name = at + "." + name
	}
	w[name] = [2]int{key.Position.Line, key.Position.Column}
	return w.walk(file, v.Value, name, depth+1)
}

// find returns the place of a path, or of the nearest member around it that the file has.
func (w places) find(at string) (line, column int) {
	for {
		if p, ok := w[at]; ok {
			return p[0], p[1]
		}
		i := strings.LastIndexAny(at, ".[")
		if i < 0 {
			return 1, 1
		}
		at = at[:i]
	}
}
