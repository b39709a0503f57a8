package site

import (
	"bytes"
	"cmp"
	"errors"
	"reflect"
	"slices"
	"strings"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
)

// ErrLayout is returned by EditYAML when the text is laid out in a way that it can not edit in place. The site is
// sound; writing it anew with EncodeYAML works, and loses the comments.
var ErrLayout = errors.New("the layout of the file can not be edited in place: write it out anew, or make the change by hand")

// EditYAML makes the change of a merge patch in the text of a site file. Comments and layout of what the patch does not
// touch stay as they are; new members are put where the canonical layout has them.
// Decoding the result gives what Apply makes of the decoded text.
// The error is Faults when the text, or what it would become, is not a site file; or ErrLayout.
func EditYAML(text []byte, p Patch) ([]byte, error) {
	s, fault := checkText("", text)
	if fault != nil {
		return nil, Faults{*fault}
	}
	change, err := readPatch(p)
	if err != nil {
		return nil, err
	}
	if change.kind != mapping {
		return nil, Faults{{File: "patch", Line: 1, Column: 1, Say: words.Later("the patch is %s, not a mapping", change.noun()), Try: words.Later("write the members to change")}}
	}
	crlf := strings.Count(s, "\r\n")*2 > strings.Count(s, "\n")
	s = strings.ReplaceAll(s, "\r\n", "\n")
	if s != "" && !strings.HasSuffix(s, "\n") {
		s += "\n"
	}
	root, err := readYAML("", s)
	if err != nil {
		return nil, err
	}
	if root == nil {
		root = &node{kind: mapping}
	}
	want, err := bindSite("", unplaced(merged(root, change)))
	if err != nil {
		return nil, err
	}
	e := newEditor(s)
	e.mapping(root, change, siteType, len(s))
	out := e.apply()
	// The places come from a parser that is not ours and the layout from people: only a text that reads back as the
	// wanted site is handed out.
	if got, err := DecodeYAML("", []byte(out)); e.lost || err != nil || !reflect.DeepEqual(got, want) {
		return nil, ErrLayout
	}
	if crlf {
		out = strings.ReplaceAll(out, "\n", "\r\n")
	}
	if bytes.HasPrefix(text, []byte("\ufeff")) {
		out = "\ufeff" + out
	}
	return []byte(out), nil
}

// editor collects changes to a text: spans to be replaced.
type editor struct {
	text  string
	lines []int // where each line starts
	spans []span
	lost  bool // a place was not where the parser said
}

type span struct {
	from, to int
	with     string
	indent   int // of inserted lines: where two insertions meet, the deeper one belongs to what stands above
}

func newEditor(text string) *editor {
	e := &editor{text: text, lines: []int{0}}
	for i := range len(text) {
		if text[i] == '\n' {
			e.lines = append(e.lines, i+1)
		}
	}
	return e
}

func (e *editor) replace(from, to int, with string) {
	e.spans = append(e.spans, span{from: from, to: to, with: with})
}

// apply returns the text with all changes made. Overlapping changes count as lost.
func (e *editor) apply() string {
	sorts.Stable(e.spans, func(a, b span) int {
		return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.to, b.to), cmp.Compare(b.indent, a.indent))
	})
	var b strings.Builder
	done := 0
	for _, s := range e.spans {
		if s.from < done || s.to < s.from || s.to > len(e.text) {
			e.lost = true
			return ""
		}
		b.WriteString(e.text[done:s.from])
		b.WriteString(s.with)
		done = s.to
	}
	b.WriteString(e.text[done:])
	return b.String()
}

// offset returns where a place lies in the text.
func (e *editor) offset(p place) int {
	if p.line < 1 || p.line > len(e.lines) {
		e.lost = true
		return 0
	}
	at := e.lines[p.line-1]
	for range p.column - 1 {
		if at >= len(e.text) || e.text[at] == '\n' {
			e.lost = true
			return at
		}
		at++
		for at < len(e.text) && e.text[at]&0xc0 == 0x80 { // within one character
			at++
		}
	}
	return at
}

// lineEnd returns the offset just after the line that holds at.
func (e *editor) lineEnd(at int) int {
	if i := strings.IndexByte(e.text[at:], '\n'); i >= 0 {
		return at + i + 1
	}
	return len(e.text)
}

// scalarEnd returns where the scalar that starts at at ends, when it stands on one line; ok is false otherwise.
// inFlow: between brackets, where commas and brackets end it too.
func (e *editor) scalarEnd(at int, inFlow, isKey bool) (end int, ok bool) {
	line := e.text[at:e.lineEnd(at)]
	line = strings.TrimSuffix(line, "\n")
	if line == "" {
		return at, false
	}
	switch line[0] {
	case '"':
		for i := 1; i < len(line); i++ {
			if line[i] == '\\' {
				i++
			} else if line[i] == '"' {
				return at + i + 1, true
			}
		}
		return at, false
	case '\'':
		for i := 1; i < len(line); i++ {
			if line[i] != '\'' {
				continue
			}
			if i+1 < len(line) && line[i+1] == '\'' {
				i++
				continue
			}
			return at + i + 1, true
		}
		return at, false
	case '|', '>':
		return at, false
	}
	n := 0
	for n < len(line) {
		rest := line[n:]
		if strings.HasPrefix(rest, " #") || strings.HasPrefix(rest, "\t#") || inFlow && strings.ContainsRune(",[]{}", rune(rest[0])) ||
			isKey && rest[0] == ':' && (len(rest) == 1 || rest[1] == ' ' || rest[1] == '\t') {
			break
		}
		n++
	}
	return at + len(strings.TrimRight(line[:n], " \t")), true
}

// valueEnd returns where a value ends that stands on one line or between brackets; ok is false for anything else.
func (e *editor) valueEnd(n *node, inFlow bool) (end int, ok bool) {
	switch {
	case n.flow:
		at := e.offset(n.end)
		if at >= len(e.text) || e.text[at] != '}' && e.text[at] != ']' {
			e.lost = true
			return at, false
		}
		return at + 1, true
	case n.kind == scalar:
		at := e.offset(n.place)
		end, ok := e.scalarEnd(at, inFlow, false)
		if !ok {
			return end, false
		}
		// A plain or quoted text may run on over several lines: then the one line is not the whole of it.
		if n.form == plain && e.text[at:end] != n.text {
			return end, false
		}
		return end, true
	}
	return 0, false
}

// blockEnd returns the end of the lines that an entry of a block mapping takes: its own and those indented deeper, or
// list items under it. Blank lines after it stay with what follows.
func (e *editor) blockEnd(en entry, limit int) int {
	column := en.place.column
	least := e.lineEnd(e.offset(en.place))
	for _, p := range []place{en.value.place, en.value.end} {
		if p.line > en.place.line {
			least = max(least, e.lineEnd(e.offset(p)))
		}
	}
	end := least
	for at := least; at < limit; {
		next := e.lineEnd(at)
		line := strings.TrimRight(e.text[at:next], " \t\n")
		indent := len(line) - len(strings.TrimLeft(line, " "))
		switch {
		case line == "":
		case indent >= column, en.value.kind == sequence && !en.value.flow && indent == column-1 && strings.HasPrefix(line[indent:], "-"):
			end = next
		case line[indent] == '#': // a comment further left may stand in the middle: what follows decides
		default:
			return min(end, limit)
		}
		at = next
	}
	return min(end, limit)
}

// mapping edits the members of n, which ends before limit.
func (e *editor) mapping(n, change *node, t reflect.Type, limit int) {
	if n.flow {
		e.flowMapping(n, change, t)
		return
	}
	left := len(n.entries)
	for _, c := range ordered(change, t) {
		i := slices.IndexFunc(n.entries, func(en entry) bool { return en.key == c.key })
		switch {
		case i < 0 && c.value.isNull():
		case i < 0:
			e.insert(n, c, t, limit)
			left++
		case c.value.isNull():
			e.replace(e.lineStart(n.entries[i]), e.blockEnd(n.entries[i], limit), "")
			left--
		default:
			e.change(n.entries[i], c.value, inner(t, c.key), limit)
		}
	}
	if left == 0 && t != siteType {
		e.lost = true // the caller empties such a mapping as a whole
	}
}

// lineStart returns where the line of an entry starts. An entry that shares its line with something before it can not
// be taken out or preceded by lines.
func (e *editor) lineStart(en entry) int {
	at := e.lines[max(0, min(en.place.line, len(e.lines))-1)]
	if strings.Trim(e.text[at:max(at, e.offset(en.place))], " ") != "" {
		e.lost = true
	}
	return at
}

// insert adds lines for a new member of a block mapping.
func (e *editor) insert(n *node, c entry, t reflect.Type, limit int) {
	value := merged(nil, c.value) // without nulls
	if len(n.entries) == 0 {
		e.replace(len(e.text), len(e.text), string(appendEntry(nil, c.key, value, inner(t, c.key), 0)))
		return
	}
	at, indent := -1, n.entries[0].place.column-1
	for _, en := range n.entries {
		if before(t, en.key, c.key) {
			at = e.blockEnd(en, limit)
		}
	}
	if at < 0 {
		at = e.lineStart(n.entries[0])
	}
	e.spans = append(e.spans, span{at, at, string(appendEntry(nil, c.key, value, inner(t, c.key), indent)), indent})
}

// change gives an entry of a block mapping another value.
func (e *editor) change(en entry, to *node, t reflect.Type, limit int) {
	end := e.blockEnd(en, limit)
	if to.kind == mapping && en.value.kind == mapping {
		after := merged(en.value, to)
		if len(after.entries) > 0 && !(len(en.value.entries) == 0 && inBlock(after, t)) {
			e.mapping(en.value, to, t, end)
			return
		}
		to = after
	}
	to = merged(nil, to)
	var with string
	indent := en.place.column - 1
	if inBlock(to, t) {
		with = "\n" + strings.TrimSuffix(string(appendBlock(nil, to, t, indent+2)), "\n")
	} else {
		with = string(appendFlow(nil, to, t))
	}
	key, ok := e.scalarEnd(e.offset(en.place), false, true)
	colon := key + strings.IndexByte(e.text[key:]+":", ':')
	if !ok || colon >= len(e.text) || strings.Trim(e.text[key:colon], " \t") != "" {
		e.lost = true
		return
	}
	if valueEnd, ok := e.valueEnd(en.value, false); ok && !e.followed(valueEnd, end) {
		from := e.offset(en.value.place)
		if with[0] == '\n' {
			from = colon + 1
		}
		e.replace(from, valueEnd, with)
		return
	}
	// A value over several lines goes as a whole; a comment after the colon stays.
	if with[0] != '\n' {
		with = " " + with
	}
	rest := strings.TrimSuffix(e.text[colon+1:e.lineEnd(colon)], "\n")
	if trimmed := strings.TrimLeft(rest, " \t"); strings.HasPrefix(trimmed, "#") {
		with = with + rest
		if with[0] == '\n' {
			with = rest + with[:len(with)-len(rest)]
		}
	}
	if end > 0 && e.text[end-1] == '\n' {
		with += "\n"
	}
	e.replace(colon+1, end, with)
}

// followed reports whether anything but blanks and a comment stands between a value and the end of its entry:
// the further lines of a text over several.
func (e *editor) followed(from, end int) bool {
	for line := range strings.Lines(e.text[min(from, end):end]) {
		if line = strings.TrimSpace(line); line != "" && line[0] != '#' {
			return true
		}
	}
	return false
}

// flowMapping edits a mapping between braces: values in place, new members after the last. Members are taken out by
// writing the mapping anew.
func (e *editor) flowMapping(n, change *node, t reflect.Type) {
	rewrite := len(n.entries) == 0
	for _, c := range change.entries {
		old := n.get(c.key)
		if old != nil && (c.value.isNull() || old.kind == mapping != (c.value.kind == mapping)) {
			rewrite = true
		}
	}
	if rewrite {
		end, _ := e.valueEnd(n, true)
		e.replace(e.offset(n.place), end, string(appendFlow(nil, merged(n, change), t)))
		return
	}
	last := n.entries[len(n.entries)-1].value
	end, ok := e.valueEnd(last, true)
	for _, c := range change.entries {
		old := n.get(c.key)
		switch {
		case old == nil && c.value.isNull():
		case old == nil:
			e.lost = e.lost || !ok
			e.replace(end, end, ", "+yamlScalar(c.key)+": "+string(appendFlow(nil, merged(nil, c.value), inner(t, c.key))))
		case old.kind == mapping:
			e.mapping(old, c.value, inner(t, c.key), len(e.text))
		default:
			valueEnd, ok := e.valueEnd(old, true)
			e.lost = e.lost || !ok
			e.replace(e.offset(old.place), valueEnd, string(appendFlow(nil, c.value, inner(t, c.key))))
		}
	}
}
