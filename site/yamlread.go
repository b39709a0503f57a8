package site

import (
	"errors"
	"io"
	"strings"

	"github.com/goccy/go-yaml/scanner"
	"github.com/goccy/go-yaml/token"

	"proofbell/internal/words"
)

// readYAML reads a text that checkText has passed. The root is nil for an empty document.
//
// The library cuts the text into tokens with their places; the tree is built here, because the library's own parser
// takes time with the square of the number of members, and a site file needs only the plain part of YAML: block and
// flow collections of scalars.
func readYAML(file, text string) (root *node, err error) {
	// The lexer is not ours: should it panic on some text, that text is refused like any other that can not be read.
	defer func() {
		if p := recover(); p != nil {
			root, err = nil, Faults{{File: file, Line: 1, Column: 1, Say: words.Later("the text can not be read as YAML"), Try: words.Later("look for an odd indentation, quote or bracket")}}
		}
	}()
	r := yamlReader{file: file}
	var scan scanner.Scanner
	scan.Init(strings.ReplaceAll(text, "\r\n", "\n"))
	for {
		tokens, err := scan.Scan()
		if errors.Is(err, io.EOF) { // any other error comes with a token that tells it
			break
		}
		for _, t := range tokens {
			p := tokenPlace(t)
			switch {
			case t.Type == token.InvalidType:
				return nil, Faults{{File: file, Line: p.line, Column: p.column, Say: tokenFault(t.Error), Try: words.Later(lookHere)}}
			case len(r.tokens) == maxTokens:
				return nil, Faults{{File: file, Line: p.line, Column: p.column, Say: words.Later("the text has too many parts"), Try: words.Later("split the job")}}
			case t.Type != token.CommentType:
				r.tokens = append(r.tokens, t)
			}
		}
	}
	if f := refuseTokens(r.tokens); f != nil {
		f.File = file
		return nil, Faults{*f}
	}
	if err := r.document(&root); err != nil {
		return nil, Faults{*err}
	}
	return root, r.faults.sorted()
}

// maxTokens bounds the memory that a text can take: a job of 5,000 devices has a fifth of it.
const maxTokens = 1_000_000

var lookHere = words.Mark("look at the indentation, the colons and the quotes here")

// tokenFault says in our words what the library says of a token that it could not read.
func tokenFault(why string) words.Text {
	switch {
	case strings.Contains(why, "tab "), strings.Contains(why, "\t"):
		return words.Later("the text can not be read as YAML: a tab stands here; blanks indent")
	case strings.Contains(why, "quoted"), strings.Contains(why, "end character"):
		return words.Later("the text can not be read as YAML: a quote is not closed")
	}
	return words.Later("the text can not be read as YAML")
}

// refuseTokens tests depth and the parts of YAML that a site file does without, before any tree is built: an alias can
// make a small text stand for a huge one, and the parser recurses by depth.
func refuseTokens(tokens token.Tokens) *Fault {
	var columns []int // of the open block collections
	flow := 0
	refuse := func(t *token.Token, say, try words.Text) *Fault {
		p := tokenPlace(t)
		return &Fault{Line: p.line, Column: p.column, Say: say, Try: try}
	}
	for i, t := range tokens {
		opens := false
		switch t.Type {
		case token.AnchorType:
			return refuse(t, words.Later("anchors (&) are not used in a site file"), words.Later("put the text in quotes, or write the value where it is needed"))
		case token.AliasType:
			return refuse(t, words.Later("aliases (*) are not used in a site file"), words.Later("put the text in quotes, or write the value out"))
		case token.TagType:
			return refuse(t, words.Later("tags (!) are not used in a site file"), words.Later("put the text in quotes, or take the tag out"))
		case token.MergeKeyType:
			return refuse(t, words.Later("merge keys (<<) are not used in a site file"), words.Later("write the members out"))
		case token.DirectiveType:
			return refuse(t, words.Later("directives (%%) are not used in a site file"), words.Later("take the line out"))
		case token.MappingKeyType:
			return refuse(t, words.Later("keys marked with ? are not used in a site file"), words.Later("write the key before a colon"))
		case token.SequenceStartType, token.MappingStartType:
			flow++
		case token.SequenceEndType, token.MappingEndType:
			flow = max(0, flow-1)
		case token.SequenceEntryType:
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
			return refuse(t, words.Later("collections are nested deeper than %d", MaxDepth), words.Later("a site file needs fewer than ten levels"))
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

// yamlReader builds the tree. Block collections are told by the columns of their members.
type yamlReader struct {
	file   string
	tokens token.Tokens // without comments
	next   int
	faults Faults
}

// peek returns a coming token; nil after the last one.
func (r *yamlReader) peek(ahead int) *token.Token {
	if r.next+ahead < len(r.tokens) {
		return r.tokens[r.next+ahead]
	}
	return nil
}

func (r *yamlReader) is(ahead int, kind token.Type) bool {
	t := r.peek(ahead)
	return t != nil && t.Type == kind
}

// fault stops the reading at the coming token, or at the last one when the text ends too early.
func (r *yamlReader) fault(say, try words.Text) *Fault {
	p := place{1, 1}
	if len(r.tokens) > 0 {
		p = tokenPlace(r.tokens[min(r.next, len(r.tokens)-1)])
	}
	return &Fault{File: r.file, Line: p.line, Column: p.column, Say: say, Try: try}
}

func (r *yamlReader) document(root **node) (err *Fault) {
	if r.is(0, token.DocumentHeaderType) {
		r.next++
	}
	if r.peek(0) == nil {
		return nil
	}
	if *root, err = r.block(1); err != nil {
		return err
	}
	if t := r.peek(0); t != nil && !endsDocument(t) {
		return r.fault(words.Later("the text can not be read as YAML: this is not in line with what stands above"), words.Later(lookHere))
	}
	for r.is(0, token.DocumentEndType) {
		r.next++
	}
	if r.peek(0) != nil {
		return r.fault(words.Later("a second document starts here"), words.Later("keep one site in one file"))
	}
	return nil
}

// atKey reports whether a key and its colon are coming.
func (r *yamlReader) atKey() bool {
	t := r.peek(0)
	return t != nil && isScalar(t) && r.is(1, token.MappingValueType)
}

// block reads a value that may be a block collection.
func (r *yamlReader) block(depth int) (*node, *Fault) {
	if depth > MaxDepth+1 {
		return nil, r.fault(words.Later("collections are nested deeper than %d", MaxDepth), words.Later("a site file needs fewer than ten levels"))
	}
	switch {
	case r.is(0, token.SequenceEntryType):
		return r.blockSequence(depth)
	case r.atKey():
		return r.blockMapping(depth)
	}
	return r.inline(depth)
}

func (r *yamlReader) blockSequence(depth int) (*node, *Fault) {
	out := &node{kind: sequence, place: tokenPlace(r.peek(0))}
	for r.is(0, token.SequenceEntryType) && tokenPlace(r.peek(0)).column == out.place.column {
		dash := tokenPlace(r.peek(0))
		r.next++
		item := &node{form: null, place: dash}
		if t := r.peek(0); t != nil && !endsDocument(t) && (tokenPlace(t).line == dash.line || tokenPlace(t).column > dash.column) {
			var err *Fault
			if item, err = r.block(depth + 1); err != nil {
				return nil, err
			}
		}
		out.items = append(out.items, item)
	}
	if t := r.peek(0); t != nil && !endsDocument(t) && tokenPlace(t).column > out.place.column {
		return nil, r.fault(words.Later("the text can not be read as YAML: this is not in line with the list above"), words.Later(lookHere))
	}
	return out, nil
}

func (r *yamlReader) blockMapping(depth int) (*node, *Fault) {
	out := &node{kind: mapping, place: tokenPlace(r.peek(0))}
	column := out.place.column
	for r.atKey() && tokenPlace(r.peek(0)).column == column {
		key, colon := r.peek(0), tokenPlace(r.peek(1))
		if tokenPlace(key).line != colon.line {
			return nil, r.fault(words.Later("the text can not be read as YAML: a key stands on one line with its colon"), words.Later(lookHere))
		}
		r.next += 2
		value, err := r.memberValue(key, colon, column, depth)
		if err != nil {
			return nil, err
		}
		r.member(out, key, value)
	}
	if t := r.peek(0); t != nil && !endsDocument(t) && tokenPlace(t).column >= column {
		return nil, r.fault(words.Later("the text can not be read as YAML: this is not in line with the members above, or its colon is missing"), words.Later(lookHere))
	}
	return out, nil
}

func (r *yamlReader) memberValue(key *token.Token, colon place, column, depth int) (*node, *Fault) {
	t := r.peek(0)
	if t == nil || endsDocument(t) {
		return &node{form: null, place: tokenPlace(key)}, nil
	}
	p := tokenPlace(t)
	switch {
	case p.line == colon.line:
		if t.Type == token.SequenceEntryType || r.atKey() && tokenPlace(r.peek(1)).line == p.line {
			return nil, r.fault(words.Later("the text can not be read as YAML: a collection can not start on the line of its key"), words.Later(lookHere))
		}
		return r.inline(depth + 1)
	case p.column > column, p.column == column && t.Type == token.SequenceEntryType:
		return r.block(depth + 1)
	}
	return &node{form: null, place: tokenPlace(key)}, nil // nothing stands there to point at
}

// inline reads a scalar or a collection between brackets.
func (r *yamlReader) inline(depth int) (*node, *Fault) {
	t := r.peek(0)
	switch {
	case t == nil:
		return nil, r.fault(words.Later("the text can not be read as YAML: it ends too early"), words.Later(lookHere))
	case t.Type == token.SequenceStartType:
		return r.flowSequence(depth)
	case t.Type == token.MappingStartType:
		return r.flowMapping(depth)
	case t.Type == token.LiteralType, t.Type == token.FoldedType:
		out := &node{form: quoted, place: tokenPlace(t)}
		if r.next++; r.is(0, token.StringType) {
			out.text = r.peek(0).Value
			r.next++
		}
		return out, nil
	case isScalar(t):
		r.next++
		return scalarNode(t), nil
	}
	return nil, r.fault(words.Later("the text can not be read as YAML: %q can not stand here", clip(t.Value)), words.Later(lookHere))
}

func (r *yamlReader) flowSequence(depth int) (*node, *Fault) {
	out := &node{kind: sequence, flow: true, place: tokenPlace(r.peek(0))}
	r.next++
	for !r.is(0, token.SequenceEndType) {
		item, err := r.inline(depth + 1)
		if err != nil {
			return nil, err
		}
		out.items = append(out.items, item)
		if err := r.comma(token.SequenceEndType, "]", out.place); err != nil {
			return nil, err
		}
	}
	out.end = tokenPlace(r.peek(0))
	r.next++
	return out, nil
}

func (r *yamlReader) flowMapping(depth int) (*node, *Fault) {
	out := &node{kind: mapping, flow: true, place: tokenPlace(r.peek(0))}
	r.next++
	for !r.is(0, token.MappingEndType) {
		key := r.peek(0)
		if key == nil || !isScalar(key) {
			return nil, r.fault(words.Later("the text can not be read as YAML: a key is missing"), words.Later(lookHere))
		}
		r.next++
		value := &node{form: null, place: tokenPlace(key)}
		if r.is(0, token.MappingValueType) {
			if r.next++; !r.is(0, token.CollectEntryType) && !r.is(0, token.MappingEndType) {
				var err *Fault
				if value, err = r.inline(depth + 1); err != nil {
					return nil, err
				}
			}
		}
		r.member(out, key, value)
		if err := r.comma(token.MappingEndType, "}", out.place); err != nil {
			return nil, err
		}
	}
	out.end = tokenPlace(r.peek(0))
	r.next++
	return out, nil
}

// comma reads the comma after an item between brackets, which the last one may do without.
func (r *yamlReader) comma(end token.Type, bracket string, opened place) *Fault {
	switch {
	case r.is(0, token.CollectEntryType):
		r.next++
		if r.peek(0) != nil {
			return nil
		}
	case r.is(0, end):
		return nil
	case r.peek(0) != nil:
		return r.fault(words.Later("the text can not be read as YAML: a comma or %s is missing before this", bracket), words.Later(lookHere))
	}
	return &Fault{
		File: r.file, Line: opened.line, Column: opened.column,
		Say: words.Later("the text can not be read as YAML: the bracket that opens here is never closed by %s", bracket), Try: words.Later("close it"),
	}
}

func (r *yamlReader) member(to *node, key *token.Token, value *node) {
	if at := tokenPlace(key); !to.add(key.Value, at, value) {
		r.faults = append(r.faults, Fault{
			File: r.file, Line: at.line, Column: at.column,
			Say: words.Later("%q stands here a second time", clip(key.Value)), Try: words.Later("give it an id of its own, or take one out"),
		})
	}
}

func endsDocument(t *token.Token) bool {
	return t.Type == token.DocumentHeaderType || t.Type == token.DocumentEndType
}

func isScalar(t *token.Token) bool {
	switch t.Type {
	case token.StringType, token.SingleQuoteType, token.DoubleQuoteType, token.NullType, token.BoolType, token.InfinityType, token.NanType,
		token.IntegerType, token.BinaryIntegerType, token.OctetIntegerType, token.HexIntegerType, token.FloatType:
		return true
	}
	return false
}

func scalarNode(t *token.Token) *node {
	n := &node{text: t.Value, place: tokenPlace(t)}
	switch t.Type {
	case token.SingleQuoteType, token.DoubleQuoteType:
		n.form = quoted
	case token.NullType:
		n.form, n.text = null, ""
	}
	return n
}

func clip(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "..."
	}
	return s
}
