package history

import "strings"

// stamp is a date or a time as it is written, before anyone knows the order of its date.
type stamp struct {
	a, b, c    int16 // the three groups of the date; c is -1 when there is no year
	wa, wc     int8  // digits of the first and the last group
	h, m, s    int8
	half       int8  // 1 am, 2 pm
	offset     int16 // minutes east of UTC, when zoned
	zoned      bool
	hasDate    bool
	hasTime    bool
	named      bool // the month is a word: b is the month, a the day, c the year
	dot        bool // 15.09.2026
	yearAlways bool // the first group is the year
}

var months = map[string]int16{
	"jan": 1, "feb": 2, "mar": 3, "mär": 3, "mrz": 3, "apr": 4, "may": 5, "mai": 5, "jun": 6, "jul": 7, "aug": 8, "sep": 9,
	"oct": 10, "okt": 10, "nov": 11, "dec": 12, "dez": 12,
}

// readStamp reads a date, a time, or both, from the beginning of s. rest is what follows.
func readStamp(s string) (t stamp, rest string, ok bool) {
	rest = s
	if word := letters(rest); word != "" { // "Tue 15 Sep 2026", "Sep 15 2026"
		if m, ok := month(word); ok {
			return monthFirst(m, strings.TrimLeft(rest[len(word):], " .,"))
		}
		after := strings.TrimLeft(rest[len(word):], " .,")
		if !weekday(word) {
			return t, s, false
		}
		if word = letters(after); word != "" {
			if m, ok := month(word); ok {
				return monthFirst(m, strings.TrimLeft(after[len(word):], " .,"))
			}
		}
		rest = after
	}
	if u, after, ok := readTime(rest); ok { // the time first: "14:02 15/09/2026"
		t = u
		if d, behind, ok := readDate(strings.TrimLeft(after, " ,;|\tT")); ok {
			d.h, d.m, d.s, d.half, d.offset, d.zoned, d.hasTime = t.h, t.m, t.s, t.half, t.offset, t.zoned, true
			return d, behind, true
		}
		return t, after, true
	}
	d, after, ok := readDate(rest)
	if !ok {
		return t, s, false
	}
	return withTime(d, after), afterTime(after), true
}

func monthFirst(m int16, rest string) (t stamp, behind string, ok bool) {
	day, width, rest := digits(rest)
	if width == 0 || width > 2 {
		return t, rest, false
	}
	t = stamp{a: day, b: m, c: -1, wa: 2, hasDate: true, named: true}
	next := strings.TrimLeft(rest, " ,.")
	if year, w, after := digits(next); w == 4 && !strings.HasPrefix(after, ":") {
		t.c, t.wc, rest = year, 4, after
	}
	return withTime(t, rest), afterTime(rest), true
}

// withTime adds a time that follows a date.
func withTime(t stamp, rest string) stamp {
	if u, _, ok := readTime(strings.TrimLeft(rest, " ,;T\t-")); ok {
		t.h, t.m, t.s, t.half, t.offset, t.zoned, t.hasTime = u.h, u.m, u.s, u.half, u.offset, u.zoned, true
	}
	return t
}

func afterTime(rest string) string {
	if _, after, ok := readTime(strings.TrimLeft(rest, " ,;T\t-")); ok {
		return after
	}
	return rest
}

func readDate(s string) (t stamp, rest string, ok bool) {
	a, wa, rest := digits(s)
	if wa == 8 { // 20260915
		long := s[:8]
		y, _, _ := digits(long[:4])
		m, _, _ := digits(long[4:6])
		d, _, _ := digits(long[6:])
		if y < 1970 || m < 1 || m > 12 || d < 1 || d > 31 {
			return t, s, false
		}
		return stamp{a: y, b: m, c: d, wa: 4, wc: 2, hasDate: true, yearAlways: true}, rest, true
	}
	if wa == 0 || wa > 4 || wa == 3 || rest == "" {
		return t, s, false
	}
	sep := rest[0]
	if sep != '-' && sep != '/' && sep != '.' && sep != ' ' {
		return t, s, false
	}
	rest = strings.TrimLeft(rest[1:], " ")
	if word := letters(rest); word != "" { // 15 Sep 2026
		m, known := month(word)
		if !known || wa > 2 {
			return t, s, false
		}
		t = stamp{a: a, b: m, c: -1, wa: 2, hasDate: true, named: true}
		rest = rest[len(word):]
		next := strings.TrimLeft(rest, " .-/,")
		if year, w, after := digits(next); (w == 4 || w == 2) && !strings.HasPrefix(after, ":") {
			t.c, t.wc, rest = year, int8(w), after
		}
		return t, rest, true
	}
	if sep == ' ' {
		return t, s, false
	}
	b, wb, rest := digits(rest)
	if wb == 0 || wb > 2 {
		return t, s, false
	}
	t = stamp{a: a, b: b, c: -1, wa: int8(wa), hasDate: true, dot: sep == '.', yearAlways: wa == 4}
	if rest != "" && rest[0] == sep {
		c, wc, after := digits(rest[1:])
		switch {
		case wc == 4 && wa <= 2, wc == 2, wc == 1 && wa == 4:
			t.c, t.wc, rest = c, int8(wc), after
		case wc == 0 && sep == '.': // "15.09." without a year
			rest = rest[1:]
		default:
			return t, s, false
		}
	}
	if wa == 4 && t.c < 0 || sep == '.' && t.c < 0 && wb != 2 { // a figure such as 3.5
		return t, s, false
	}
	return t, rest, true
}

// readTime reads 14:02, 2:02 pm, 14:02:31.250+02:00, 14h02.
func readTime(s string) (t stamp, rest string, ok bool) {
	h, w, rest := digits(s)
	if w == 0 || w > 2 || rest == "" || rest[0] != ':' && rest[0] != 'h' {
		return t, s, false
	}
	m, w, rest := digits(rest[1:])
	if w != 2 || h > 24 || m > 59 {
		return t, s, false
	}
	t = stamp{h: int8(h), m: int8(m), hasTime: true}
	if strings.HasPrefix(rest, ":") {
		sec, w, after := digits(rest[1:])
		if w == 0 || w > 2 || sec > 60 {
			return t, s, false
		}
		t.s, rest = int8(min(sec, 59)), after
		if len(rest) > 1 && (rest[0] == '.' || rest[0] == ',') {
			if _, w, after := digits(rest[1:]); w > 0 {
				rest = after
			}
		}
	}
	if h == 24 && (t.m != 0 || t.s != 0) {
		return t, s, false
	}
	next := strings.TrimPrefix(rest, " ")
	if len(next) >= 2 {
		c := next[0] | 0x20
		dots := len(next) >= 4 && next[1] == '.' && next[2]|0x20 == 'm'
		if (c == 'a' || c == 'p') && (next[1]|0x20 == 'm' || dots) {
			if h < 1 || h > 12 {
				return t, s, false
			}
			t.half, rest = 1, next[2:]
			if c == 'p' {
				t.half = 2
			}
			if dots {
				rest = strings.TrimPrefix(next[3:], ".")
			}
			return t, rest, true
		}
	}
	switch {
	case strings.HasPrefix(next, "Z") && (len(next) == 1 || !letter(next[1])):
		t.zoned, rest = true, next[1:]
	case len(next) >= 3 && (next[0] == '+' || next[0] == '-'):
		oh, w, after := digits(next[1:])
		om := int16(0)
		if w == 4 {
			oh, om = oh/100, oh%100
		} else if w == 2 && strings.HasPrefix(after, ":") {
			om, w, after = digits(after[1:])
		}
		if w < 2 || oh > 14 || om > 59 {
			break
		}
		t.zoned, t.offset, rest = true, oh*60+om, after
		if next[0] == '-' {
			t.offset = -t.offset
		}
	}
	return t, rest, true
}

// digits reads a whole number of at most eight digits (its last four count for the value).
func digits(s string) (v int16, width int, rest string) {
	n := 0
	for width < len(s) && width < 9 && s[width] >= '0' && s[width] <= '9' {
		n = (n*10 + int(s[width]-'0')) % 10000
		width++
	}
	return int16(n), width, s[width:]
}

func letters(s string) string {
	i := 0
	for i < len(s) && (letter(s[i]) || s[i] >= 0x80) {
		i++
	}
	return s[:i]
}

func letter(c byte) bool { return c|0x20 >= 'a' && c|0x20 <= 'z' }

func month(word string) (int16, bool) {
	if len(word) < 3 || len(word) > 10 {
		return 0, false
	}
	low := strings.ToLower(word)
	for _, n := range []int{3, 4} {
		if len(low) >= n {
			if m, ok := months[low[:n]]; ok {
				return m, monthName(low)
			}
		}
	}
	return 0, false
}

// monthName keeps "March" and "mar" and refuses "marker".
func monthName(low string) bool {
	if len(low) <= 4 {
		return true
	}
	for _, full := range []string{
		"january", "february", "march", "april", "june", "july", "august", "september", "october", "november", "december",
		"januar", "februar", "märz", "juni", "juli", "oktober", "dezember",
	} {
		if low == full {
			return true
		}
	}
	return false
}

func weekday(word string) bool {
	low := strings.ToLower(word)
	for _, day := range []string{
		"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday",
		"montag", "dienstag", "mittwoch", "donnerstag", "freitag", "samstag", "sonntag", "mo", "di", "mi", "do", "fr", "sa", "so",
	} {
		if low == day || len(low) == 3 && strings.HasPrefix(day, low) {
			return true
		}
	}
	return false
}
