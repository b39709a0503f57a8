package evidence

import (
	"bytes"
	"unicode/utf8"
)

// spelt reports whether raw is surely one JSON value in canonical form, with a look at each byte and nothing allocated. It
// knows the forms that are written here day by day; of any other it says no, and the parser decides. Most JSON that passes
// through this package was written by it.
func spelt(raw []byte) bool {
	s := speller{raw}
	return s.value(0) && len(s.rest) == 0
}

type speller struct{ rest []byte }

// eat takes one byte.
func (s *speller) eat(c byte) bool {
	if len(s.rest) == 0 || s.rest[0] != c {
		return false
	}
	s.rest = s.rest[1:]
	return true
}

func (s *speller) value(depth int) bool {
	if len(s.rest) == 0 || depth > MaxJSONDepth {
		return false
	}
	switch c := s.rest[0]; {
	case c == '"':
		_, ok := s.text()
		return ok
	case c == '{':
		return depth < MaxJSONDepth && s.object(depth+1)
	case c == '[':
		return depth < MaxJSONDepth && s.array(depth+1)
	case c >= '0' && c <= '9':
		return s.integer()
	}
	for _, word := range [...]string{"true", "false", "null"} {
		if len(s.rest) >= len(word) && string(s.rest[:len(word)]) == word {
			s.rest = s.rest[len(word):]
			return true
		}
	}
	return false
}

func (s *speller) array(depth int) bool {
	s.rest = s.rest[1:]
	if s.eat(']') {
		return true
	}
	for s.value(depth) {
		if s.eat(']') {
			return true
		}
		if !s.eat(',') {
			return false
		}
	}
	return false
}

// object takes an object whose names are ASCII, in order and each used once.
func (s *speller) object(depth int) bool {
	s.rest = s.rest[1:]
	if s.eat('}') {
		return true
	}
	var before []byte
	for first := true; ; first = false {
		start := s.rest
		plain, ok := s.text()
		if !ok || !plain || !s.eat(':') {
			return false
		}
		name := start[1 : len(start)-len(s.rest)-2]
		if !first && bytes.Compare(name, before) <= 0 {
			return false
		}
		if before = name; !s.value(depth) {
			return false
		}
		if s.eat('}') {
			return true
		}
		if !s.eat(',') {
			return false
		}
	}
}

// text takes a string without escapes; plain says that it is ASCII.
func (s *speller) text() (plain, ok bool) {
	if !s.eat('"') {
		return false, false
	}
	plain = true
	for i := 0; i < len(s.rest); {
		switch c := s.rest[i]; {
		case c == '"':
			s.rest = s.rest[i+1:]
			return plain, true
		case c == '\\' || c < 0x20:
			return false, false
		case c < utf8.RuneSelf:
			i++
		default:
			r, n := utf8.DecodeRune(s.rest[i:])
			if r == utf8.RuneError && n == 1 {
				return false, false
			}
			plain = false
			i += n
		}
	}
	return false, false
}

// integer takes a whole number of at most 15 digits, which every double holds exactly.
func (s *speller) integer() bool {
	n := 0
	for n < len(s.rest) && s.rest[n] >= '0' && s.rest[n] <= '9' {
		n++
	}
	if n > 15 || n > 1 && s.rest[0] == '0' {
		return false
	}
	s.rest = s.rest[n:]
	return len(s.rest) == 0 || s.rest[0] == ',' || s.rest[0] == '}' || s.rest[0] == ']'
}
