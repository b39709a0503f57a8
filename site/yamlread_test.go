package site

import (
	"fmt"
	"strings"
	"testing"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"

	"proofbell/demo"
)

// oracle builds the tree from what the library's own parser makes of the text: the judge of our reader.
type oracle struct{ refused bool }

func byOracle(text string) (root *node, ok bool) {
	defer func() {
		if recover() != nil {
			ok = false
		}
	}()
	doc, err := parser.ParseBytes([]byte(text), 0, parser.AllowDuplicateMapKey())
	if err != nil {
		return nil, false
	}
	var r oracle
	for _, d := range doc.Docs {
		if d.Body == nil {
			continue
		}
		if root != nil {
			return nil, false
		}
		root = r.node(d.Body, 0)
	}
	return root, !r.refused
}

func (r *oracle) node(n ast.Node, depth int) *node {
	out := &node{place: tokenPlace(n.GetToken())}
	if depth > MaxDepth {
		r.refused = true
		return out
	}
	switch n := n.(type) {
	case *ast.MappingNode:
		out.kind = mapping
		for _, v := range n.Values {
			r.entry(out, v, depth)
		}
		if n.IsFlowStyle {
			out.flow, out.end = true, tokenPlace(n.End)
		} else if len(out.entries) > 0 {
			out.place = out.entries[0].place
		}
	case *ast.MappingValueNode:
		out.kind = mapping
		r.entry(out, n, depth)
		if len(out.entries) > 0 {
			out.place = out.entries[0].place
		}
	case *ast.SequenceNode:
		out.kind = sequence
		if n.IsFlowStyle {
			out.flow, out.end = true, tokenPlace(n.End)
		}
		for _, v := range n.Values {
			out.items = append(out.items, r.node(v, depth+1))
		}
	case *ast.LiteralNode:
		out.form, out.text = quoted, n.Value.Value
	case *ast.NullNode:
		out.form = null
	case ast.ScalarNode:
		t := n.GetToken()
		out.text = t.Value
		if t.Type == token.SingleQuoteType || t.Type == token.DoubleQuoteType {
			out.form = quoted
		}
	default:
		r.refused = true
	}
	return out
}

func (r *oracle) entry(to *node, v *ast.MappingValueNode, depth int) {
	key, isScalar := v.Key.(ast.ScalarNode)
	at := tokenPlace(v.Key.GetToken())
	if !isScalar {
		r.refused = true
		return
	}
	text := key.GetToken().Value
	value := r.node(v.Value, depth+1)
	if v.Value.GetToken().Type == token.ImplicitNullType {
		value.place = at // nothing stands there to point at
	}
	if !to.add(text, at, value) {
		r.refused = true
	}
}

// sameTree says where two trees differ; "" when they do not.
func sameTree(a, b *node, path string) string {
	if a == nil || b == nil {
		if a == b {
			return ""
		}
		return path + ": one is missing"
	}
	if a.kind != b.kind || a.form != b.form || a.text != b.text || a.flow != b.flow || a.end != b.end || a.form != null && a.place != b.place { // an absent value has no place of its own
		return fmt.Sprintf("%s: %+v and %+v", path, *a, *b)
	}
	if len(a.entries) != len(b.entries) || len(a.items) != len(b.items) {
		return path + ": another number of members"
	}
	for i, e := range a.entries {
		if o := b.entries[i]; e.key != o.key || e.place != o.place {
			return fmt.Sprintf("%s: keys %q at %v and %q at %v", path, e.key, e.place, o.key, o.place)
		}
		if d := sameTree(e.value, b.entries[i].value, pointer(path, e.key)); d != "" {
			return d
		}
	}
	for i := range a.items {
		if d := sameTree(a.items[i], b.items[i], path+"/-"); d != "" {
			return d
		}
	}
	return ""
}

var layouts = []string{
	"a: 1\n", "a: 'it''s'\nb: \"x\\ty\"\n", "a:\n  b:\n    c: 1\n  d: 2\n", "a:\n- 1\n- 2\nb: 3\n", "a:\n  - 1\n  -\n    - 2\n  - b: 1\n    c: 2\n", "- - a\n  - b\n- c\n",
	"a: [1, [2, 3], {b: c, d: [e]}]\n", "a: {b: 1, c: {d: 2}}\n", "a: {\n  b: 1, # x\n  c: 2\n}\n", "a: [\n  1,\n  2,\n]\n", "a: |\n  one\n  two\n\nb: >-\n  three\n  four\nc: 1\n", "a: >+\n  x\n\n\nb: 1\n",
	"a: one\n  two\n  three\nb: 1\n", "a: 'one\n  two'\nb: 1\n", "a: \"one\n  two\"\n", "# only\n", "", "---\na: 1\n...\n", "--- # x\na: 1\n", "a:\nb: ~\nc: null\n", "a: {b: , c}\n", "a: {}\nb: []\n",
	"'a b': 1\n\"c\": 2\n", "a : 1\n", "a: b#c\n", "a: b: c\n", "a:\n  1\n", "a: http://x.y/z\n", "a: -1\nb: - 1\n", "a:\n    b: 1\n  c: 2\n", "a: 1\n b: 2\n", " a: 1\n b: 2\n", "a\n", "a b: c d\n",
	"a: [b: c]\n", "[a]: b\n", "{a: b}: c\n", "a: [\n", "a: {b\n", "a: ]\n", "a: }\n", "a: [1 2]\n", "a: [1,,2]\n", "a: \"x\" y\n", "a: 'x\n", "\ta: 1\n", "a:\t1\n", "a: 1\n\tb: 2\n", "Größe: ä\nb: {ö: [ü, é], c: d}\ne: 1\n",
	"a: 0017\nb: 0x1F\nc: .inf\nd: 1_000\ne: 1e3\nf: true\ng: 12:30:45\nh: 2026-09-15\ni: .nan\nj: 0b11\nk: 0o7\n", "1: a\ntrue: b\nnull: c\n", "a:\n  # comment\n  b: 1\n  # more\n\n  # end\nc: 2\n",
	"a: | # x\n  y\n", "a: |2\n    x\n   y\n", "a:\n  - b: [1]\n    c: |\n      d\n  - e\n", "a: 1 # x\n# y\nb: 2", "- a\n-b\n", "-\n", "- \n- 1\n", "a:\n  -\n", "{a: 1}\n", "[1, 2]\n", "a: {\"b\":1,'c':2}\n", "a: {b:1}\n", "a: [b,c]\n",
	"\"a\n b\": 1\n", "a\n b: 1\n", "a:\n- b\n c: d\n", "a:\n  b: 1\n - c\n", "a: ''\nb: \"\"\n", "a: |\nb: 1\n", "a: >\n\n\n", "a: \"\\u00e9\\n\\x41\"\n",
}

// Whatever our reader takes, the library's parser takes for the same tree, place by place.
func TestTheTreeIsWhatTheLibraryParses(t *testing.T) {
	for _, text := range append([]string{string(demo.Draft), string(demo.Corrected)}, layouts...) {
		compareTrees(t, text)
	}
}

// These are in the plain part of YAML that people write in a site file: our reader must take them.
func TestPlainLayoutsAreRead(t *testing.T) {
	for _, text := range layouts[:23] {
		if _, err := readYAML("f", text); err != nil {
			t.Errorf("%q: %v", text, err)
		}
	}
}

func compareTrees(t *testing.T, text string) {
	t.Helper()
	ours, err := readYAML("f", text)
	if err != nil {
		return
	}
	theirs, ok := byOracle(strings.ReplaceAll(text, "\r\n", "\n"))
	if !ok {
		t.Errorf("%q is read, but the library refuses it", clip(text))
		return
	}
	if d := sameTree(ours, theirs, ""); d != "" {
		t.Errorf("%q: %s", text, d)
	}
}
