package history

import (
	"slices"
	"strings"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/signal"
	"proofbell/site"
)

const sampled = 400 // records that are looked at to find the columns

// names of columns as stations and panels write them, in lower case. The first that is contained counts.
var headings = []struct {
	holds string
	is    []string // the whole heading
	has   []string // a part of it
}{
	{"panel-date-time", nil, []string{"panel time", "panel date", "device time", "zentralenzeit", "anlagenzeit", "panel clock"}},
	{"qualifier", []string{"q", "e/r", "type", "state", "status", "art", "zustand"}, []string{"qualifier", "new/restore", "e/r"}},
	{"account", []string{"acct", "account", "konto", "id"}, []string{"account", "acct", "teilnehmer", "objekt", "subscriber"}},
	{"path", []string{"path", "line", "weg", "linie"}, []string{"path", "übertragung", "receiver", "channel", "empfänger", "route"}},
	{"user", []string{"user", "benutzer", "nutzer"}, []string{"user no", "user number"}},
	{"zone", []string{"z", "zn", "pt", "melder", "sensor"}, []string{"zone", "point", "meldergruppe", "loop"}},
	{"area", []string{"area", "part", "group", "gruppe"}, []string{"partition", "area", "bereich"}},
	{"code", []string{"code", "cid", "sia"}, []string{"event code", "code", "contact id"}},
	{"date-time", []string{"timestamp", "zeitpunkt", "received", "occurred", "empfangen"}, []string{"date/time", "date time", "datetime", "datum/zeit", "datum und", "timestamp", "zeitstempel"}},
	{"date", []string{"day", "tag"}, []string{"date", "datum"}},
	{"time", []string{"clock", "uhr"}, []string{"time", "zeit"}},
	{"event", []string{"event", "signal", "ereignis", "meldung", "alarm", "message"}, []string{"event", "ereignis", "meldung", "description", "beschreibung", "signal"}},
	{"remark", []string{"text", "label", "name"}, []string{"remark", "comment", "note", "bemerkung", "bezeichnung", "zone name", "location", "operator", "action"}},
}

// look is what the cells of one column are like.
type look struct {
	filled, dates, times, both, codes, wordy, qualifiers, numbers, hexes, sayings int
	distinct                                                                      map[string]bool
	width                                                                         int // of all cells; -1: they differ
	sample                                                                        []string
}

func (k *look) add(cell string) {
	if cell == "" {
		return
	}
	k.filled++
	if len(k.sample) < 5 && !slices.Contains(k.sample, cell) {
		k.sample = append(k.sample, clip(cell, 60))
	}
	if len(k.distinct) < 200 {
		k.distinct[cell] = true
	}
	if k.filled == 1 {
		k.width = len(cell)
	} else if k.width != len(cell) {
		k.width = -1
	}
	if t, rest, ok := readStamp(cell); ok && strings.TrimSpace(rest) == "" {
		switch {
		case t.hasDate && t.hasTime:
			k.both++
		case t.hasDate:
			k.dates++
		default:
			k.times++
		}
		return
	}
	if m, _, ok := codeOf(cell); ok && m.Kind != signal.KindUnknown {
		k.codes++
	}
	if _, ok := payload(cell); ok {
		k.codes++
	}
	if qualifierOf(cell) != "" {
		k.qualifiers++
	}
	switch {
	case allDigits(cell) && len(cell) <= 4:
		k.numbers++
	case strings.ContainsAny(cell, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"):
		k.wordy++
	}
	if len(cell) >= 3 && len(cell) <= 16 && isHex(cell) {
		k.hexes++
	}
	if k.sayings+k.filled < 100 || k.filled%4 == 0 {
		if kind, _, _ := kindOf(strings.ToLower(cell), ""); kind != signal.KindUnknown && kind != "" {
			k.sayings++
		}
	}
}

func (k *look) share(n int) float64 {
	if k.filled == 0 {
		return 0
	}
	return float64(n) / float64(k.filled)
}

// findColumns finds out what each column holds, from its heading and from its cells.
func findColumns(text string, known site.HistoryColumns, lang *words.Language) (site.HistoryColumns, []Column) {
	c := known
	if c.Between == "" {
		c.Between = separatorOf(text)
	}
	if c.Between == "text" {
		c.Header, c.Names, c.Holds = false, nil, nil
		return c, []Column{}
	}
	rows, header := firstRows(text, between[c.Between])
	if len(known.Holds) > 0 {
		return byKnown(c, known, rows, header, lang)
	}
	c.Header, c.Names = header != nil, header
	width := 0
	for _, r := range rows {
		width = max(width, len(r))
	}
	width = max(width, len(header))
	looks := looksOf(rows, width)
	c.Holds = make([]string, width)
	why := make([]string, width)

	type claim struct {
		col   int
		holds string
		score float64
		why   string
	}
	var claims []claim
	for i := range width {
		heading := ""
		if i < len(header) {
			heading = header[i]
		}
		byName := heads(heading)
		for _, h := range headings {
			fit := fits(h.holds, &looks[i])
			switch {
			case byName == h.holds && fit > 0:
				claims = append(claims, claim{i, h.holds, 2 + fit, lang.Say("its heading says so, and its cells fit")})
			case byName == "date" && h.holds == "date-time" && fit > 0.5, byName == "time" && h.holds == "date-time" && fit > 0.5:
				claims = append(claims, claim{i, h.holds, 2 + fit, lang.Say("its cells hold date and time")})
			case byName == h.holds && looks[i].filled == 0:
				claims = append(claims, claim{i, h.holds, 1, lang.Say("its heading says so; it is empty")})
			case byName == "" && fit > 0.5 && h.holds != "panel-date-time" && h.holds != "path" && h.holds != "user":
				claims = append(claims, claim{i, h.holds, fit, lang.Say("its cells look like it")})
			}
		}
	}
	sorts.Stable(claims, func(a, b claim) int {
		switch {
		case a.score > b.score:
			return -1
		case a.score < b.score:
			return 1
		}
		return a.col - b.col
	})
	taken := map[string]bool{}
	for _, cl := range claims {
		if c.Holds[cl.col] != "" || taken[cl.holds] || (cl.holds == "date" || cl.holds == "time") && taken["date-time"] ||
			cl.holds == "date-time" && (taken["date"] && taken["time"]) {
			continue
		}
		taken[cl.holds], c.Holds[cl.col], why[cl.col] = true, cl.holds, cl.why
	}
	if i := slices.Index(c.Holds, "qualifier"); i >= 0 && !taken["code"] && !taken["event"] {
		c.Holds[i] = "event" // "alarm", "restored": all that is said
	}
	// A second column of dates and times is the panel's own clock when there is one for the station's already.
	for i := range width {
		if c.Holds[i] == "" && taken["date-time"] && !taken["panel-date-time"] && looks[i].share(looks[i].both) > 0.8 {
			c.Holds[i], taken["panel-date-time"] = "panel-date-time", true
			why[i] = lang.Say("a second column of date and time: taken for the panel's own clock; correct it if it is the other way round")
		}
	}
	for i := range width {
		if c.Holds[i] == "" {
			c.Holds[i], why[i] = "other", lang.Say("nothing that is read here")
		}
	}
	return c, columnsOf(c, looks, why)
}

func looksOf(rows [][]string, width int) []look {
	looks := make([]look, width)
	for i := range looks {
		looks[i].distinct = map[string]bool{}
		for _, r := range rows {
			if i < len(r) {
				looks[i].add(r[i])
			}
		}
	}
	return looks
}

func columnsOf(c site.HistoryColumns, looks []look, why []string) []Column {
	out := make([]Column, len(c.Holds))
	for i := range out {
		out[i] = Column{Holds: c.Holds[i], Why: why[i]}
		if i < len(c.Names) {
			out[i].Name = c.Names[i]
		}
		if i < len(looks) {
			out[i].Sample = looks[i].sample
		}
	}
	return out
}

// byKnown uses columns that a person has seen. Where the file has the same headings in another order, the headings count.
func byKnown(c, known site.HistoryColumns, rows [][]string, header []string, lang *words.Language) (site.HistoryColumns, []Column) {
	say := lang.Say("as it was kept")
	if known.Header && header != nil && len(known.Names) > 0 && !slices.Equal(header, known.Names) {
		holds := make([]string, len(header))
		for i, name := range header {
			holds[i] = "other"
			if at := slices.Index(known.Names, name); at >= 0 && at < len(known.Holds) {
				holds[i] = known.Holds[at]
			}
		}
		c.Names, c.Holds = header, holds
		say = lang.Say("as it was kept, found by its heading")
	} else if header != nil && len(known.Names) == 0 {
		c.Header, c.Names = true, header
	}
	why := make([]string, len(c.Holds))
	for i := range why {
		why[i] = say
	}
	return c, columnsOf(c, looksOf(rows, len(c.Holds)), why)
}

// firstRows returns the first records as cells, and the header when one stands above the first record that has a time.
func firstRows(text string, sep byte) (rows [][]string, header []string) {
	s := scanner{text: text, sep: sep}
	var before [][]string
	for len(rows) < sampled {
		r, ok := s.next()
		if !ok {
			break
		}
		cells := slices.Clone(r.cells)
		if len(rows) == 0 && !hasStamp(cells) {
			if before = append(before, cells); len(before) > 60 {
				break
			}
			continue
		}
		rows = append(rows, cells)
	}
	for i := len(before) - 1; i >= 0; i-- { // the nearest line above with as many cells, or with known names
		known, filled := 0, 0
		for _, cell := range before[i] {
			if cell != "" {
				filled++
			}
			if heads(cell) != "" {
				known++
			}
		}
		if known >= 2 || known == 1 && filled == 1 {
			return rows, before[i]
		}
		if i == len(before)-1 && len(rows) > 0 && len(before[i]) == len(rows[0]) && filled >= 2 {
			return rows, before[i]
		}
	}
	return rows, nil
}

func hasStamp(cells []string) bool {
	for _, cell := range cells {
		if t, rest, ok := readStamp(cell); ok && (t.hasDate || t.hasTime) && strings.TrimSpace(rest) == "" {
			return true
		}
	}
	return false
}

// heads tells what a heading announces; "" for none that is known.
func heads(heading string) string {
	low := strings.ToLower(strings.TrimSpace(heading))
	if low == "" || len(low) > 40 || digit(low[0]) {
		return ""
	}
	for _, h := range headings {
		if slices.Contains(h.is, low) {
			return h.holds
		}
	}
	for _, h := range headings {
		for _, part := range h.has {
			if strings.Contains(low, part) {
				return h.holds
			}
		}
	}
	return ""
}

// fits is how well cells look like what a column might hold, 0 to 1.
func fits(holds string, k *look) float64 {
	if k.filled == 0 {
		return 0
	}
	switch holds {
	case "date-time", "panel-date-time":
		return k.share(k.both)
	case "date":
		return k.share(k.dates)
	case "time":
		return k.share(k.times)
	case "code":
		return k.share(k.codes) * 0.98
	case "qualifier":
		if len(k.distinct) > 6 {
			return 0
		}
		if k.numbers == k.filled { // 1 and 3 are zones as well
			return k.share(k.qualifiers) * 0.4
		}
		return k.share(k.qualifiers)
	case "account":
		if len(k.distinct) > 20 || k.width < 3 && k.width != -1 {
			return 0
		}
		return k.share(k.hexes) * 0.9
	case "zone", "user":
		return k.share(k.numbers) * 0.8
	case "area":
		if len(k.distinct) > 12 {
			return 0.2
		}
		return max(k.share(k.numbers)*0.7, 0.3)
	case "event":
		return max(k.share(k.sayings)*0.95, k.share(k.wordy)*0.3)
	case "remark", "path":
		return max(k.share(k.wordy)*0.6, 0.1)
	}
	return 0
}

func clip(s string, most int) string {
	if len(s) <= most {
		return s
	}
	for most > 0 && s[most]&0xc0 == 0x80 {
		most--
	}
	return s[:most] + "..."
}

// ColumnsError says what is wrong with columns that were given.
type ColumnsError struct{ Say words.Text }

func (e *ColumnsError) Error() string { return e.Say.String() }

// Said is Say.
func (e *ColumnsError) Said() words.Text { return e.Say }

// Check tells what keeps columns from being used: a *ColumnsError, or nil.
func Check(c site.HistoryColumns) error {
	bad := func(why words.Text) error { return &ColumnsError{why} }
	if _, ok := between[c.Between]; !ok && c.Between != "" {
		return bad(words.Later("between %q is not known: use comma, semicolon, tab, bar or text", c.Between))
	}
	if len(c.Holds) > maxCells {
		return bad(words.Later("%d columns: at most %d are read", len(c.Holds), maxCells))
	}
	seen := map[string]bool{}
	for i, holds := range c.Holds {
		if !slices.Contains(Holds, holds) {
			return bad(words.Later("column %d holds %q: use one of %s", i+1, holds, strings.Join(Holds, ", ")))
		}
		if seen[holds] && holds != "other" && holds != "remark" {
			return bad(words.Later("two columns hold %q: only one can", holds))
		}
		seen[holds] = true
	}
	if len(c.Holds) > 0 && c.Between != "text" {
		if !seen["date-time"] && !seen["date"] {
			return bad(words.Later("no column holds the date: name one date-time, or one date and one time"))
		}
		if !seen["code"] && !seen["event"] {
			return bad(words.Later("no column says what happened: name one code or event"))
		}
	}
	if c.Dates != "" && !slices.Contains(Dates, c.Dates) {
		return bad(words.Later("dates %q is not known: use one of %s", c.Dates, strings.Join(Dates, ", ")))
	}
	if c.Year != 0 && (c.Year < 1970 || c.Year > 2200) {
		return bad(words.Later("year %d can not be: write the year of the newest line", c.Year))
	}
	return nil
}

// Holds lists what a column can hold, in the order in which lists show it.
var Holds = []string{
	"date-time", "date", "time", "code", "event", "qualifier", "zone", "area", "user", "account", "path", "remark", "panel-date-time", "other",
}

// Dates lists the orders of a written date.
var Dates = []string{"day-month-year", "month-day-year", "year-month-day"}
