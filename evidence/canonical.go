package evidence

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

const (
	MaxJSONBytes = 8 << 20 // most bytes Canonical reads
	MaxJSONDepth = 64      // most arrays and objects inside one another
)

// Reasons why JSON is refused; match them with errors.Is. A [JSONError] says where.
var (
	ErrSyntax       = errors.New("not valid JSON")
	ErrDuplicateKey = errors.New("member name used twice in one object")
	ErrUTF8         = errors.New("invalid UTF-8")
	ErrSurrogate    = errors.New("surrogate without its partner")
	ErrNUL          = errors.New("character U+0000 can not be stored")
	ErrNumber       = errors.New("number can not be kept exactly; write it as a string")
	ErrTooDeep      = errors.New("nested too deeply")
	ErrTooLarge     = errors.New("too large")
)

// JSONError is why and where JSON was refused.
type JSONError struct {
	Offset int   // byte index in the input
	Err    error // one of the reasons above
}

func (e *JSONError) Error() string { return fmt.Sprintf("json, byte %d: %v", e.Offset, e.Err) }
func (e *JSONError) Unwrap() error { return e.Err }

// Canonical returns raw, one JSON value, in the one spelling of RFC 8785. It refuses what that spelling can not carry
// faithfully (duplicate names, invalid UTF-8, lone surrogates, integers of 2^53 and more) and, beyond the RFC, U+0000,
// more than [MaxJSONDepth] levels and more than [MaxJSONBytes]. Errors are of type [*JSONError].
func Canonical(raw []byte) ([]byte, error) {
	if len(raw) > MaxJSONBytes {
		return nil, &JSONError{MaxJSONBytes, ErrTooLarge}
	}
	if spelt(raw) {
		return bytes.Clone(raw), nil
	}
	return respell(raw)
}

// respell reads raw and writes it in canonical form.
func respell(raw []byte) ([]byte, error) {
	p := parser{raw: raw}
	out, err := p.value(make([]byte, 0, len(raw)), 0)
	if err != nil {
		return nil, err
	}
	if p.space(); p.off != len(raw) {
		return nil, p.fail(ErrSyntax)
	}
	// The largest growth is a short exponent written out (1e9); the result must be readable again.
	if len(out) > MaxJSONBytes {
		return nil, &JSONError{len(raw), ErrTooLarge}
	}
	return out, nil
}

// CanonicalValue is Canonical of v as encoding/json writes it. That package replaces invalid UTF-8 in Go strings by
// U+FFFD without a word: check text from outside before.
func CanonicalValue(v any) ([]byte, error) {
	raw, err := json.Marshal(v)
	if err != nil {
		return nil, fmt.Errorf("writing JSON: %w", err)
	}
	return Canonical(raw)
}

// parser reads JSON and writes the canonical form in the same pass.
type parser struct {
	raw []byte
	off int
}

func (p *parser) fail(err error) error { return &JSONError{p.off, err} }

func (p *parser) space() {
	for p.off < len(p.raw) {
		switch p.raw[p.off] {
		case ' ', '\t', '\n', '\r':
			p.off++
		default:
			return
		}
	}
}

// peek returns the next byte after white space, 0 at the end (a 0 byte in the input is no JSON either).
func (p *parser) peek() byte {
	if p.space(); p.off < len(p.raw) {
		return p.raw[p.off]
	}
	return 0
}

func (p *parser) value(out []byte, depth int) ([]byte, error) {
	switch c := p.peek(); {
	case c == '{' || c == '[':
		if depth == MaxJSONDepth {
			return nil, p.fail(ErrTooDeep)
		}
		p.off++
		if c == '{' {
			return p.object(out, depth+1)
		}
		return p.array(out, depth+1)
	case c == '"':
		s, err := p.text()
		if err != nil {
			return nil, err
		}
		return appendText(out, s), nil
	case c == '-' || c >= '0' && c <= '9':
		return p.number(out)
	}
	for _, word := range []string{"true", "false", "null"} {
		if bytes.HasPrefix(p.raw[p.off:], []byte(word)) {
			p.off += len(word)
			return append(out, word...), nil
		}
	}
	return nil, p.fail(ErrSyntax)
}

func (p *parser) array(out []byte, depth int) ([]byte, error) {
	out = append(out, '[')
	if p.peek() == ']' {
		p.off++
		return append(out, ']'), nil
	}
	for {
		var err error
		if out, err = p.value(out, depth); err != nil {
			return nil, err
		}
		c := p.peek()
		if c != ',' && c != ']' {
			return nil, p.fail(ErrSyntax)
		}
		p.off++
		out = append(out, c)
		if c == ']' {
			return out, nil
		}
	}
}

func (p *parser) object(out []byte, depth int) ([]byte, error) {
	type member struct {
		name       string
		at         int // offset of the name in the input
		start, end int // the value, in values
	}
	var members []member
	var values []byte
	if p.peek() == '}' {
		p.off++
		return append(out, "{}"...), nil
	}
	for {
		if p.peek() != '"' {
			return nil, p.fail(ErrSyntax)
		}
		m := member{at: p.off, start: len(values)}
		var err error
		if m.name, err = p.text(); err != nil {
			return nil, err
		}
		if p.peek() != ':' {
			return nil, p.fail(ErrSyntax)
		}
		p.off++
		if values, err = p.value(values, depth); err != nil {
			return nil, err
		}
		m.end = len(values)
		members = append(members, m)
		c := p.peek()
		if c != ',' && c != '}' {
			return nil, p.fail(ErrSyntax)
		}
		p.off++
		if c == '}' {
			break
		}
	}
	slices.SortStableFunc(members, func(a, b member) int { return compareUTF16(a.name, b.name) })
	out = append(out, '{')
	for i, m := range members {
		if i > 0 {
			if m.name == members[i-1].name {
				return nil, &JSONError{m.at, ErrDuplicateKey}
			}
			out = append(out, ',')
		}
		out = append(appendText(out, m.name), ':')
		out = append(out, values[m.start:m.end]...)
	}
	return append(out, '}'), nil
}

// compareUTF16 orders names as RFC 8785 section 3.2.3 does, by UTF-16 code units. It differs from the order of code
// points only where a supplementary character (units from U+D800) meets one from U+E000 to U+FFFF.
func compareUTF16(a, b string) int {
	for a != "" && b != "" {
		ra, na := utf8.DecodeRuneInString(a)
		rb, nb := utf8.DecodeRuneInString(b)
		if ra != rb {
			if (ra >= 0x10000) == (rb >= 0x10000) {
				return int(ra) - int(rb)
			}
			return firstUnit(ra) - firstUnit(rb)
		}
		a, b = a[na:], b[nb:]
	}
	return len(a) - len(b)
}

func firstUnit(r rune) int {
	if r >= 0x10000 {
		r, _ = utf16.EncodeRune(r)
	}
	return int(r)
}

// text reads the string that starts at the quotation mark under the cursor.
func (p *parser) text() (string, error) {
	p.off++
	start := p.off
	for p.off < len(p.raw) { // most strings have no escape: take them as they stand
		c := p.raw[p.off]
		if c == '"' || c == '\\' || c < 0x20 || c >= utf8.RuneSelf {
			break
		}
		p.off++
	}
	s := append([]byte(nil), p.raw[start:p.off]...)
	for p.off < len(p.raw) {
		switch c := p.raw[p.off]; {
		case c == '"':
			p.off++
			return string(s), nil
		case c == '\\':
			r, err := p.escape()
			if err != nil {
				return "", err
			}
			s = utf8.AppendRune(s, r)
		case c == 0:
			return "", p.fail(ErrNUL)
		case c < 0x20:
			return "", p.fail(ErrSyntax)
		case c < utf8.RuneSelf:
			s = append(s, c)
			p.off++
		default:
			r, n := utf8.DecodeRune(p.raw[p.off:])
			if r == utf8.RuneError && n == 1 {
				return "", p.fail(ErrUTF8)
			}
			s = append(s, p.raw[p.off:p.off+n]...)
			p.off += n
		}
	}
	return "", p.fail(ErrSyntax)
}

// escape reads one escape sequence, or the two that make up a supplementary character.
func (p *parser) escape() (rune, error) {
	if p.off+1 >= len(p.raw) {
		return 0, p.fail(ErrSyntax)
	}
	c := p.raw[p.off+1]
	if i := strings.IndexByte(`"\/bfnrt`, c); i >= 0 {
		p.off += 2
		return rune("\"\\/\b\f\n\r\t"[i]), nil
	}
	r, ok := p.unit(p.off)
	switch {
	case !ok:
		return 0, p.fail(ErrSyntax)
	case r == 0:
		return 0, p.fail(ErrNUL)
	case !utf16.IsSurrogate(r):
		p.off += 6
		return r, nil
	}
	low, ok := p.unit(p.off + 6)
	pair := utf16.DecodeRune(r, low)
	if !ok || pair == utf8.RuneError {
		return 0, p.fail(ErrSurrogate)
	}
	p.off += 12
	return pair, nil
}

// unit reads \uXXXX at off.
func (p *parser) unit(off int) (rune, bool) {
	if off+6 > len(p.raw) || p.raw[off] != '\\' || p.raw[off+1] != 'u' {
		return 0, false
	}
	var r rune
	for _, c := range p.raw[off+2 : off+6] {
		switch {
		case c >= '0' && c <= '9':
			c -= '0'
		case c >= 'a' && c <= 'f':
			c -= 'a' - 10
		case c >= 'A' && c <= 'F':
			c -= 'A' - 10
		default:
			return 0, false
		}
		r = r<<4 | rune(c)
	}
	return r, true
}

// number reads a number by the grammar of RFC 8259 section 6.
func (p *parser) number(out []byte) ([]byte, error) {
	start := p.off
	digits := func() bool {
		from := p.off
		for p.off < len(p.raw) && p.raw[p.off] >= '0' && p.raw[p.off] <= '9' {
			p.off++
		}
		return p.off > from
	}
	at := func(set string) bool { return p.off < len(p.raw) && strings.IndexByte(set, p.raw[p.off]) >= 0 }

	if at("-") {
		p.off++
	}
	if at("0") {
		p.off++
	} else if !digits() {
		return nil, p.fail(ErrSyntax)
	}
	plain := true
	if at(".") {
		plain = false
		p.off++
		if !digits() {
			return nil, p.fail(ErrSyntax)
		}
	}
	if at("eE") {
		plain = false
		if p.off++; at("+-") {
			p.off++
		}
		if !digits() {
			return nil, p.fail(ErrSyntax)
		}
	}
	f, err := strconv.ParseFloat(string(p.raw[start:p.off]), 64)
	if err != nil { // the grammar is right, so it is out of range
		return nil, &JSONError{start, ErrNumber}
	}
	// From 2^53 on neighbouring integers share a double. Numbers that are written with an exponent and stay so
	// make no claim to be exact.
	if m := math.Abs(f); m >= 1<<53 && (plain || m < 1e21) {
		return nil, &JSONError{start, ErrNumber}
	}
	return appendNumber(out, f), nil
}

// appendNumber writes f as ECMAScript's Number::toString does (RFC 8785 section 3.2.2.3): the shortest digits that read
// back as f; an exponent from 1e21 up and below 1e-6.
func appendNumber(out []byte, f float64) []byte {
	if f == 0 {
		return append(out, '0') // minus zero too
	}
	if m := math.Abs(f); m >= 1e-6 && m < 1e21 {
		return strconv.AppendFloat(out, f, 'f', -1, 64)
	}
	out = strconv.AppendFloat(out, f, 'e', -1, 64)
	// Go pads the exponent to two digits, ECMAScript does not: e-07 becomes e-7.
	if n := len(out); out[n-2] == '0' && (out[n-3] == '-' || out[n-3] == '+') {
		out[n-2] = out[n-1]
		out = out[:n-1]
	}
	return out
}

// appendText writes s, valid UTF-8, by RFC 8785 section 3.2.2.2.
func appendText(out []byte, s string) []byte {
	const hexDigits = "0123456789abcdef"
	out = append(out, '"')
	from := 0 // of the stretch that is written as it stands
	for i := range len(s) {
		c := s[i]
		if c >= 0x20 && c != '"' && c != '\\' {
			continue
		}
		out = append(out, s[from:i]...)
		from = i + 1
		switch c {
		case '"', '\\':
			out = append(out, '\\', c)
		case '\b':
			out = append(out, `\b`...)
		case '\t':
			out = append(out, `\t`...)
		case '\n':
			out = append(out, `\n`...)
		case '\f':
			out = append(out, `\f`...)
		case '\r':
			out = append(out, `\r`...)
		default:
			out = append(out, `\u00`...)
			out = append(out, hexDigits[c>>4], hexDigits[c&15])
		}
	}
	out = append(out, s[from:]...)
	return append(out, '"')
}
