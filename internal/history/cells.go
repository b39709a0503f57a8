package history

import (
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// decode makes UTF-8 of a file: UTF-8 and UTF-16 with or without their mark, and, where it is neither, Latin-1.
func decode(raw []byte) (text string, latin bool) {
	switch {
	case strings.HasPrefix(string(raw[:min(3, len(raw))]), "\xef\xbb\xbf"):
		raw = raw[3:]
	case len(raw) >= 2 && (raw[0] == 0xff && raw[1] == 0xfe || raw[0] == 0xfe && raw[1] == 0xff):
		return fromUTF16(raw[2:], raw[0] == 0xff), false
	}
	if utf8.Valid(raw) {
		return string(raw), false
	}
	var b strings.Builder
	b.Grow(len(raw) + len(raw)/8)
	for _, c := range raw {
		b.WriteRune(rune(c))
	}
	return b.String(), true
}

func fromUTF16(raw []byte, little bool) string {
	units := make([]uint16, len(raw)/2)
	for i := range units {
		a, b := uint16(raw[2*i]), uint16(raw[2*i+1])
		if little {
			a, b = b, a
		}
		units[i] = a<<8 | b
	}
	return string(utf16.Decode(units))
}

// between are the bytes that may stand between cells; free text has none.
var between = map[string]byte{"comma": ',', "semicolon": ';', "tab": '\t', "bar": '|', "text": 0}

// record is one line of a file, or several when a quoted cell holds line breaks.
type record struct {
	line  int // from 1
	raw   string
	cells []string // valid until the next record is read
}

// scanner walks through the records of a text.
type scanner struct {
	text  string
	sep   byte
	line  int
	cells []string
}

// next returns the next record that is not empty.
func (s *scanner) next() (record, bool) {
	for s.text != "" {
		s.line++
		r := record{line: s.line}
		end, lines := s.split()
		r.raw, r.cells = s.text[:end], s.cells
		s.line += lines
		s.text = strings.TrimPrefix(strings.TrimPrefix(s.text[end:], "\r"), "\n")
		if strings.TrimSpace(r.raw) != "" {
			return r, true
		}
	}
	return record{}, false
}

// split cuts the cells of the record at the beginning of the text. It returns where the record ends and how many line
// breaks lie within it.
func (s *scanner) split() (end, lines int) {
	s.cells = s.cells[:0]
	text := s.text
	if s.sep == 0 {
		end = endOfLine(text)
		s.cells = append(s.cells, strings.TrimSpace(text[:end]))
		return end, 0
	}
	from := 0
	for {
		i := from
		for i < len(text) && text[i] == ' ' {
			i++
		}
		if i < len(text) && text[i] == '"' {
			if cell, after, inside, ok := quoted(text[i:], s.sep); ok {
				s.cells, lines = append(s.cells, cell), lines+inside
				i += after
				if i >= len(text) || text[i] != s.sep {
					return i, lines
				}
				from = i + 1
				continue
			}
		}
		for i < len(text) && text[i] != '\n' && text[i] != '\r' && (text[i] != s.sep || len(s.cells) == maxCells-1) {
			i++
		}
		s.cells = append(s.cells, trim(text[from:i]))
		if i >= len(text) || text[i] != s.sep {
			return i, lines
		}
		from = i + 1
	}
}

// quoted reads a cell in quotation marks; a doubled one stands for one. ok is false for a mark that is never closed, or
// that closes in the middle of a word: such a mark is an ordinary character.
func quoted(text string, sep byte) (cell string, after, lines int, ok bool) {
	doubled := false
	for i := 1; i < len(text) && i < 1<<14 && lines < 8; i++ {
		switch text[i] {
		case '\n':
			lines++
		case '"':
			if i+1 < len(text) && text[i+1] == '"' {
				doubled = true
				i++
				continue
			}
			cell, after = text[1:i], i+1
			for after < len(text) && text[after] == ' ' {
				after++
			}
			if after < len(text) && text[after] != sep && text[after] != '\n' && text[after] != '\r' {
				return "", 0, 0, false
			}
			if doubled {
				cell = strings.ReplaceAll(cell, `""`, `"`)
			}
			return trim(cell), after, lines, true
		}
	}
	return "", 0, 0, false
}

func endOfLine(text string) int {
	if i := strings.IndexByte(text, '\n'); i >= 0 {
		if i > 0 && text[i-1] == '\r' {
			return i - 1
		}
		return i
	}
	return len(text)
}

func trim(s string) string {
	if s == "" || s[0] > ' ' && s[0] < 0x80 && s[len(s)-1] > ' ' && s[len(s)-1] < 0x80 {
		return s
	}
	return strings.TrimSpace(s)
}

// separatorOf finds what stands between cells: the byte that cuts most of the first lines into the same number of cells,
// three or more, or two when one of them is a time. "text" when none does.
func separatorOf(text string) string {
	best, most := "text", 0
	for _, name := range []string{"tab", "semicolon", "bar", "comma"} {
		s := scanner{text: text, sep: between[name]}
		counts := map[int]int{}
		rows := 0
		for rows < 200 {
			r, ok := s.next()
			if !ok {
				break
			}
			rows++
			counts[len(r.cells)]++
		}
		for width, n := range counts {
			if width < 2 || n*5 < rows*3 { // three lines in five
				continue
			}
			if score := n * min(width, 12); score > most {
				best, most = name, score
			}
		}
	}
	return best
}
