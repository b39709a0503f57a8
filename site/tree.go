package site

import (
	"strings"
	"unicode/utf8"

	"proofbell/internal/words"
)

// Limits on the text of a site file, tested before anything is built from it.
const (
	MaxBytes = 4 << 20
	MaxDepth = 32
)

// node is a value read from YAML or JSON, with its place in the text. Both readers end here, so that one binder fills
// the types and reports faults the same way for both.
type node struct {
	kind    nodeKind
	form    scalarForm
	text    string // scalar: its own text, unquoted
	place   place
	entries []entry // mapping, in the order of the text
	values  map[string]*node
	items   []*node // sequence

	flow bool  // YAML: written between brackets,
	end  place // of which this is the closing one
}

type entry struct {
	key   string
	place place
	value *node
}

type place struct{ line, column int }

type nodeKind int

const (
	scalar nodeKind = iota
	mapping
	sequence
)

// scalarForm says how a scalar was written, which decides what it may become.
type scalarForm int

const (
	plain   scalarForm = iota // YAML without quotes: its type is what the member wants
	quoted                    // a string in either language
	number                    // a JSON number
	literal                   // JSON true or false
	null
)

func (n *node) noun() words.Text {
	switch {
	case n.kind == mapping:
		return words.Later("a mapping")
	case n.kind == sequence:
		return words.Later("a list")
	case n.form == null:
		return words.Later("nothing")
	case n.form == number:
		return words.Later("a number")
	case n.form == literal:
		return words.Later("true or false")
	}
	return words.Later("a text")
}

func (n *node) get(key string) *node {
	if n == nil {
		return nil
	}
	return n.values[key]
}

// add appends a member. It reports false, and adds nothing, when the key is there already.
func (n *node) add(key string, at place, value *node) bool {
	if _, there := n.values[key]; there {
		return false
	}
	if n.values == nil {
		n.values = map[string]*node{}
	}
	n.values[key] = value
	n.entries = append(n.entries, entry{key, at, value})
	return true
}

// find walks down by keys. It returns nil when one is missing.
func (n *node) find(keys ...string) *node {
	for _, k := range keys {
		n = n.get(k)
	}
	return n
}

// pointer appends a key to a JSON pointer (RFC 6901).
func pointer(path, key string) string {
	return path + "/" + EscapeKey(key)
}

// EscapeKey writes a key for a JSON pointer (RFC 6901, section 3).
func EscapeKey(key string) string {
	if !strings.ContainsAny(key, "~/") {
		return key
	}
	return strings.ReplaceAll(strings.ReplaceAll(key, "~", "~0"), "/", "~1")
}

// checkText tests what must hold before a parser sees the text, and takes the byte order mark off.
func checkText(file string, text []byte) (string, *Fault) {
	if len(text) > MaxBytes {
		return "", &Fault{File: file, Line: 1, Column: 1, Say: words.Later("the site file is larger than 4 MB"), Try: words.Later("split the job or take out what is not a description")}
	}
	s := strings.TrimPrefix(string(text), "\ufeff")
	line, column := 1, 1
	for i, r := range s {
		if r == utf8.RuneError {
			if _, size := utf8.DecodeRuneInString(s[i:]); size == 1 {
				return "", &Fault{File: file, Line: line, Column: column, Say: words.Later("the text is not UTF-8 here"), Try: words.Later("save the file as UTF-8")}
			}
		}
		if r < ' ' && r != '\n' && r != '\r' && r != '\t' {
			return "", &Fault{File: file, Line: line, Column: column, Say: words.Later("a control character stands here"), Try: words.Later("take it out")}
		}
		if column++; r == '\n' {
			line, column = line+1, 1
		}
	}
	return s, nil
}
