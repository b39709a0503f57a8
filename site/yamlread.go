package site

import (
	"errors"
	"fmt"
	"strings"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// readYAML parses a text that checkText has passed. The root is nil for an empty document.
func readYAML(file, text string) (root *node, err error) {
	// The parser is not ours: should it panic on some text, that text is refused like any other it can not read.
	defer func() {
		if p := recover(); p != nil {
			root, err = nil, Faults{{File: file, Line: 1, Column: 1, Say: "the text can not be read as YAML", Try: "look for an odd indentation, quote or bracket"}}
		}
	}()
	tokens := lexer.Tokenize(strings.ReplaceAll(text, "\r\n", "\n"))
	if f := refuseTokens(tokens); f != nil {
		f.File = file
		return nil, Faults{*f}
	}
	doc, err := parser.Parse(tokens, 0, parser.AllowDuplicateMapKey())
	if err != nil {
		f := Fault{File: file, Line: 1, Column: 1, Say: "the text can not be read as YAML", Try: "look at the indentation, the colons and the quotes here"}
		var at interface {
			GetToken() *token.Token
			GetMessage() string
		}
		if errors.As(err, &at) {
			f.Say = "the text can not be read as YAML: " + at.GetMessage()
			if t := at.GetToken(); t != nil && t.Position != nil {
				f.Line, f.Column = t.Position.Line, t.Position.Column
			}
		}
		return nil, Faults{f}
	}
	r := yamlReader{file: file}
	for _, d := range doc.Docs {
		if d.Body == nil {
			continue
		}
		if root != nil {
			r.refuse(tokenPlace(d.Body.GetToken()), "a second document starts here", "keep one site in one file")
			break
		}
		root = r.node(d.Body, 0)
	}
	return root, r.faults.sorted()
}

// refuseTokens tests depth and the parts of YAML that a site file does without, before any tree is built: an alias can
// make a small text stand for a huge one, and the parser recurses by depth.
func refuseTokens(tokens token.Tokens) *Fault {
	var columns []int // of the open block collections
	flow := 0
	refuse := func(t *token.Token, say, try string) *Fault {
		p := tokenPlace(t)
		return &Fault{Line: p.line, Column: p.column, Say: say, Try: try}
	}
	for i, t := range tokens {
		opens := false
		switch t.Type {
		case token.AnchorType:
			return refuse(t, "anchors (&) are not used in a site file", "put the text in quotes, or write the value where it is needed")
		case token.AliasType:
			return refuse(t, "aliases (*) are not used in a site file", "put the text in quotes, or write the value out")
		case token.TagType:
			return refuse(t, "tags (!) are not used in a site file", "put the text in quotes, or take the tag out")
		case token.MergeKeyType:
			return refuse(t, "merge keys (<<) are not used in a site file", "write the members out")
		case token.DirectiveType:
			return refuse(t, "directives (%) are not used in a site file", "take the line out")
		case token.SequenceStartType, token.MappingStartType:
			flow++
		case token.SequenceEndType, token.MappingEndType:
			flow = max(0, flow-1)
		case token.SequenceEntryType, token.MappingKeyType:
			opens = true
		case token.MappingValueType:
			if i > 0 {
				opens, t = true, tokens[i-1]
			}
		}
		if opens && flow == 0 {
			for len(columns) > 0 && columns[len(columns)-1] >= t.Position.Column {
				columns = columns[:len(columns)-1]
			}
			columns = append(columns, t.Position.Column)
		}
		if len(columns)+flow > MaxDepth {
			return refuse(t, fmt.Sprintf("collections are nested deeper than %d", MaxDepth), "a site file needs fewer than ten levels")
		}
	}
	return nil
}

func tokenPlace(t *token.Token) place {
	if t == nil || t.Position == nil {
		return place{1, 1}
	}
	return place{t.Position.Line, t.Position.Column}
}

type yamlReader struct {
	file   string
	faults Faults
}

func (r *yamlReader) refuse(at place, say, try string) {
	r.faults = append(r.faults, Fault{File: r.file, Line: at.line, Column: at.column, Say: say, Try: try})
}

func (r *yamlReader) node(n ast.Node, depth int) *node {
	out := &node{place: tokenPlace(n.GetToken())}
	if depth > MaxDepth {
		r.refuse(out.place, fmt.Sprintf("collections are nested deeper than %d", MaxDepth), "a site file needs fewer than ten levels")
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
		r.refuse(out.place, "this part of YAML is not used in a site file", "write plain mappings, lists and texts")
	}
	return out
}

func (r *yamlReader) entry(to *node, v *ast.MappingValueNode, depth int) {
	key, isScalar := v.Key.(ast.ScalarNode)
	at := tokenPlace(v.Key.GetToken())
	if !isScalar {
		r.refuse(at, "a key must be a plain word", "write an id or the name of a member before the colon")
		return
	}
	text := key.GetToken().Value
	value := r.node(v.Value, depth+1)
	if v.Value.GetToken().Type == token.ImplicitNullType {
		value.place = at // nothing stands there to point at
	}
	if !to.add(text, at, value) {
		r.refuse(at, fmt.Sprintf("%q stands here a second time", clip(text)), "give it an id of its own, or take one out")
	}
}

func clip(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "..."
	}
	return s
}
