package history

import "strings"

// freeLine is what stands in a line of pasted text.
type freeLine struct {
	stamp                     stamp
	code, words               string
	zone, area, account, path string
}

// readFree finds date and time, the code, and numbers that a word introduces. A line without any time is not an event.
func readFree(line string) (f freeLine, why string) {
	rest := line
	found := false
	for i := 0; i < len(line); i++ { // the first place where a date or time begins
		if i > 0 && (digit(line[i-1]) || letter(line[i-1]) || line[i-1] >= 0x80 || line[i-1] == ':' || line[i-1] == '.') {
			continue
		}
		if !digit(line[i]) && !letter(line[i]) {
			continue
		}
		t, after, ok := readStamp(line[i:])
		if !ok || !t.hasDate {
			continue
		}
		if !t.hasTime { // the time may stand behind other separators
			trimmed := strings.TrimLeft(after, " \t,;|@-")
			if u, behind, ok := readTime(trimmed); ok {
				t.h, t.m, t.s, t.half, t.offset, t.zoned, t.hasTime = u.h, u.m, u.s, u.half, u.offset, u.zoned, true
				after = behind
			}
		}
		f.stamp, rest, found = t, strings.TrimSpace(line[:i])+" "+strings.TrimSpace(after), true
		break
	}
	if !found {
		return f, noDate
	}
	if !f.stamp.hasTime {
		return f, noTime
	}
	rest = strings.Trim(rest, " \t,;|[]")
	if p, ok := payload(rest); ok {
		f.code, f.account = rest, p.acct
		return f, ""
	}
	fields := strings.FieldsFunc(rest, func(r rune) bool { return strings.ContainsRune(" \t,;|()[]", r) })
	kept := fields[:0:0]
	for i := 0; i < len(fields); i++ {
		word, value := introduces(fields, i)
		switch {
		case word == "":
			kept = append(kept, fields[i])
			continue
		case word == "zone" && f.zone == "":
			f.zone = value
		case word == "area" && f.area == "":
			f.area = value
		case word == "account" && f.account == "":
			f.account = value
		case word == "path" && f.path == "":
			f.path = value
			kept = append(kept, fields[i])
		default:
			kept = append(kept, fields[i])
			continue
		}
		if i+1 < len(fields) && strings.Trim(fields[i+1], "#:.=") == value {
			i++
		}
	}
	for i, w := range kept {
		if m, _, ok := codeOf(w); ok && m.Words != "" && plainCode(w) {
			f.code = w
			kept = append(kept[:i:i], kept[i+1:]...)
			break
		}
	}
	f.words = strings.Join(kept, " ")
	if f.code == "" && f.words == "" && f.zone == "" {
		return f, noEvent
	}
	return f, ""
}

// plainCode keeps words such as "OK" or "by" from being taken for SIA codes: in free text a code of two letters is upper
// case and no common word.
func plainCode(w string) bool {
	if len(w) > 2 {
		return true
	}
	switch w {
	case "OK", "OR", "IA", "AT", "AS", "ET", "MA":
		return false
	}
	return w == strings.ToUpper(w)
}

var introductions = map[string]string{
	"zone": "zone", "zn": "zone", "z": "zone", "point": "zone", "pt": "zone", "user": "zone", "melder": "zone", "sensor": "zone",
	"benutzer": "zone", "meldergruppe": "zone", "area": "area", "partition": "area", "part": "area", "bereich": "area",
	"account": "account", "acct": "account", "acc": "account", "konto": "account", "teilnehmer": "account", "objekt": "account",
	"path": "path", "line": "path", "weg": "path",
}

// introduces tells whether fields[i] is a word such as "zone" with a number behind it, in the same field or the next.
func introduces(fields []string, i int) (word, value string) {
	w := strings.ToLower(fields[i])
	at := len(w)
	for at > 0 && digit(w[at-1]) {
		at--
	}
	name := strings.TrimRight(w[:at], "#:.=-")
	if at < len(w) {
		return introductions[name], w[at:]
	}
	if kind := introductions[name]; kind != "" && i+1 < len(fields) {
		if next := strings.Trim(fields[i+1], "#:.="); allDigits(next) || kind == "account" && isHex(next) {
			return kind, next
		}
	}
	return "", ""
}
