package history

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"time"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/signal"
	"proofbell/site"
)

// Reasons why a line is not an event.
var (
	noDate   = words.Mark("no date was found: it is kept in this list only")
	noTime   = words.Mark("a date without a time: give the column of the time")
	noEvent  = words.Mark("nothing says what happened: give the column of the code or the event")
	noDay    = words.Mark("the date is on no calendar in the order in which the others are written")
	aHeading = words.Mark("stands above the first event, or is a heading once more")
)

// LimitError says that a history is larger than what is read.
type LimitError struct{ Say words.Text }

func (e *LimitError) Error() string { return e.Say.String() }

// Said is Say.
func (e *LimitError) Said() words.Text { return e.Say }

// ErrEmpty: there is nothing to read.
var ErrEmpty error = &words.Error{Say: words.Later("the history is empty"), Try: words.Later("give a file or paste its lines")}

// Read reads a history: CSV with comma, semicolon, tab or bar, or free lines. Columns that opt does not give are found.
// Where something can not be told (day before month?), Reading.Questions asks and Events is empty. The error is ErrEmpty, a
// *LimitError or a *ColumnsError. What is not an event is in Unreadable: lines = events + unread.
func Read(data []byte, opt Options) (*Reading, error) {
	if len(data) > MaxBytes {
		return nil, &LimitError{words.Later("the history has %d MB: at most %d are read; cut it into parts", len(data)>>20, MaxBytes>>20)}
	}
	lines := 1 + bytes.Count(data, []byte{'\n'})
	if lines > MaxLines {
		return nil, &LimitError{words.Later("the history has %d lines: at most %d are read; cut it into parts", lines, MaxLines)}
	}
	var known site.HistoryColumns
	if opt.Columns != nil {
		known = *opt.Columns
		known.Names, known.Holds = slices.Clone(known.Names), slices.Clone(known.Holds)
	}
	if err := Check(known); err != nil {
		return nil, err
	}
	zone := opt.Zone
	if zone == nil {
		zone = time.UTC
	}
	if known.TimeZone != "" {
		named, err := time.LoadLocation(known.TimeZone)
		if err != nil {
			return nil, &ColumnsError{words.Later("time zone %q is not known: write it as Europe/Berlin", known.TimeZone)}
		}
		zone = named
	}
	text, latin := decode(data)
	if strings.TrimSpace(text) == "" {
		return nil, ErrEmpty
	}
	r := &Reading{Notes: []string{}, Questions: []Question{}, Unreadable: []Unreadable{}, Clock: Clock{Jumps: []Jump{}, TimeZone: zone.String()}, zone: zone}
	if latin {
		r.note(opt.Lang, words.Mark("The file is not UTF-8; it was read as Latin-1."))
	}
	r.Columns, r.Found = findColumns(text, known, opt.Lang)
	stamps := r.take(text, lines, opt.Lang)
	if r.ask(stamps, opt) {
		r.Events = nil
		return r, nil
	}
	r.date(stamps, opt)
	r.markCopies()
	return r, nil
}

func (r *Reading) note(lang *words.Language, format string, args ...any) {
	r.Notes = append(r.Notes, lang.Say(format, args...))
}

func (r *Reading) refuse(line int, text, why string, lang *words.Language) {
	r.Unread++
	if len(r.Unreadable) < maxListed {
		r.Unreadable = append(r.Unreadable, Unreadable{line, lang.Say(why), clip(text, maxExcerpt)})
	}
}

// place is where the cells of each meaning stand; -1: nowhere.
type place struct {
	dateTime, date, time, panel, code, event, qualifier, zone, user, area, account, path, remark int
}

func placeOf(holds []string) place {
	at := func(what string) int { return slices.Index(holds, what) }
	return place{
		at("date-time"), at("date"), at("time"), at("panel-date-time"), at("code"), at("event"), at("qualifier"), at("zone"), at("user"),
		at("area"), at("account"), at("path"), at("remark"),
	}
}

// take turns records into events without a time, and returns the stamp of each.
func (r *Reading) take(text string, lines int, lang *words.Language) []raw {
	s := scanner{text: text, sep: between[r.Columns.Between]}
	free := r.Columns.Between == "text"
	p := placeOf(r.Columns.Holds)
	var m meanings
	stamps := make([]raw, 0, lines)
	r.Events = make([]Event, 0, lines)
	headed := false
	for {
		rec, ok := s.next()
		if !ok {
			return stamps
		}
		if !headed && r.Columns.Header && slices.Equal(rec.cells, r.Columns.Names) {
			headed = true
			continue
		}
		r.Lines++
		var e Event
		var row raw
		var t told
		why := ""
		if free {
			var f freeLine
			if f, why = readFree(rec.raw); why == "" {
				t = m.of(f.code, f.words, "")
				row.stamp, e.Zone, e.Area, e.Account, e.Path, e.Remark = f.stamp, f.zone, f.area, f.account, f.path, f.words
			}
		} else if row, why = stampsOf(rec.cells, p); why == "" {
			cell := func(i int) string {
				if i < 0 || i >= len(rec.cells) {
					return ""
				}
				return rec.cells[i]
			}
			t = m.of(cell(p.code), cell(p.event), cell(p.qualifier))
			e.Zone, e.Area, e.Account, e.Path, e.Remark = cell(p.zone), cell(p.area), cell(p.account), cell(p.path), cell(p.remark)
			if e.Zone == "" {
				e.Zone = cell(p.user)
			}
			if !t.wordly {
				why = noEvent
			}
		} else if slices.Equal(rec.cells, r.Columns.Names) || len(stamps) == 0 {
			why = aHeading
		}
		if why != "" {
			r.refuse(rec.line, rec.raw, why, lang)
			continue
		}
		e.Line, e.What = rec.line, t.what
		if e.Zone == "" {
			e.Zone = t.zone
		}
		if e.Area == "" {
			e.Area = t.area
		}
		if e.Account == "" {
			e.Account = t.acct
		}
		e.Number = numberOf(e.Zone)
		if e.Kind == signal.KindUnknown {
			r.Unknown++
		}
		row.text = rec.raw
		stamps, r.Events = append(stamps, row), append(r.Events, e)
	}
}

func numberOf(s string) int {
	n := 0
	for i := range len(s) {
		if !digit(s[i]) || n > 1e6 {
			return 0
		}
		n = n*10 + int(s[i]-'0')
	}
	return n
}

func stampsOf(cells []string, p place) (row raw, why string) {
	cell := func(i int) string {
		if i < 0 || i >= len(cells) {
			return ""
		}
		return cells[i]
	}
	at := p.dateTime
	if at < 0 {
		at = p.date
	}
	t, rest, ok := readStamp(cell(at))
	if !ok || !t.hasDate || strings.TrimSpace(rest) != "" {
		return row, noDate
	}
	if clock := cell(p.time); clock != "" && !t.hasTime {
		if u, rest, ok := readStamp(clock); ok && u.hasTime && !u.hasDate && strings.TrimSpace(rest) == "" {
			t.h, t.m, t.s, t.half, t.offset, t.zoned, t.hasTime = u.h, u.m, u.s, u.half, u.offset, u.zoned, true
		}
	}
	if !t.hasTime {
		return row, noTime
	}
	row.stamp = t
	if own := cell(p.panel); own != "" {
		if u, _, ok := readStamp(own); ok && u.hasDate && u.hasTime {
			row.panel = u
		}
	}
	return row, ""
}

// ask fills in Questions with what has to be known before the events can be dated.
func (r *Reading) ask(rows []raw, opt Options) bool {
	if len(rows) == 0 {
		return false
	}
	if r.Columns.Dates == "" {
		o, ok := settle(rows, opt, func(format string, args ...any) { r.note(opt.Lang, format, args...) })
		if !ok {
			example := firstOpen(rows)
			q := Question{Of: "dates", Say: opt.Lang.Say("Is %s the day before the month, or the month before the day? Nothing in the history tells.", example)}
			for _, o := range []order{dayMonth, monthDay} {
				q.Choices = append(q.Choices, Choice{orderNames[o], opt.Lang.Say(orderSays[o], example)})
			}
			if twoDigits(rows) {
				q.Choices = append(q.Choices, Choice{orderNames[yearFirst], opt.Lang.Say(orderSays[yearFirst], example)})
			}
			r.Questions = append(r.Questions, q)
		} else {
			r.Columns.Dates = orderNames[o]
		}
	}
	if r.Columns.Year == 0 && slices.ContainsFunc(rows, func(row raw) bool { return row.stamp.hasDate && row.stamp.c < 0 }) {
		if opt.Near.IsZero() {
			q := Question{Of: "year", Say: opt.Lang.Say("The dates name no year. Of which year is the newest line?"), Choices: []Choice{}}
			if !opt.Now.IsZero() {
				for _, y := range []int{opt.Now.Year(), opt.Now.Year() - 1} {
					q.Choices = append(q.Choices, Choice{fmt.Sprint(y), fmt.Sprint(y)})
				}
			}
			r.Questions = append(r.Questions, q)
		} else {
			r.Columns.Year = opt.Near.Year()
			r.note(opt.Lang, words.Mark("The dates name no year; the newest is taken as of %d."), r.Columns.Year)
		}
	}
	return len(r.Questions) > 0
}

var orderSays = map[order]string{
	dayMonth:  words.Mark("%s: day, month, year"),
	monthDay:  words.Mark("%s: month, day, year"),
	yearFirst: words.Mark("%s: year, month, day"),
}

// firstOpen is the first date that can be read in two ways, as it is written.
func firstOpen(rows []raw) string {
	for i := range rows {
		t := &rows[i].stamp
		if !t.hasDate || t.named || t.yearAlways || t.a == t.b {
			continue
		}
		if t.c < 0 {
			return fmt.Sprintf("%02d/%02d", t.a, t.b)
		}
		if t.wc == 4 {
			return fmt.Sprintf("%02d/%02d/%04d", t.a, t.b, t.c)
		}
		return fmt.Sprintf("%02d/%02d/%02d", t.a, t.b, t.c)
	}
	return ""
}

func twoDigits(rows []raw) bool {
	return slices.ContainsFunc(rows, func(row raw) bool {
		return row.stamp.hasDate && !row.stamp.named && !row.stamp.yearAlways && row.stamp.c >= 0 && row.stamp.wc == 2
	})
}

// date gives each event its moment, looks at the clock, and puts the events in order of time.
func (r *Reading) date(rows []raw, opt Options) {
	o := order(max(0, slices.Index(Dates, r.Columns.Dates)))
	years := r.years(rows, o)
	clock := local{zone: r.zone}
	own := local{zone: r.zone}
	kept := 0
	var tie int64
	bare, most := 0, 0
	for i := range rows {
		t := &rows[i].stamp
		y, m, d, ok := t.civil(o, years(i))
		if !ok {
			if r.Events[i].Kind == signal.KindUnknown {
				r.Unknown--
			}
			r.refuse(r.Events[i].Line, rows[i].text, noDay, opt.Lang)
			continue
		}
		e := r.Events[i]
		day, secs := dayNumber(y, m, d), t.clockSeconds()
		var unix int64
		if t.zoned {
			unix = int64(day)*86400 + int64(secs) - int64(t.offset)*60
		} else {
			missing := false
			if unix, missing = clock.utc(day, secs, tie); missing {
				r.Clock.Missing++
			}
			if t.half == 0 {
				bare++
				if t.h == 0 || t.h > 12 {
					most++
				}
			}
		}
		tie = unix
		e.At = time.Unix(unix, 0).UTC()
		if u := &rows[i].panel; u.hasTime {
			if y, m, d, ok := u.civil(o, years(i)); ok {
				at, _ := own.utc(dayNumber(y, m, d), u.clockSeconds(), unix)
				if u.zoned {
					at = int64(dayNumber(y, m, d))*86400 + int64(u.clockSeconds()) - int64(u.offset)*60
				}
				e.Ahead = time.Duration(at-unix) * time.Second
				rows[kept].panel.hasTime = true
				r.Clock.Both++
			}
		} else {
			rows[kept].panel.hasTime = false
		}
		r.Events[kept] = e
		kept++
	}
	r.Events = r.Events[:kept]
	sorts.Stable(r.Unreadable, func(a, b Unreadable) int { return a.Line - b.Line })
	// A fair clock shows an hour from 1 to 12 every other time: 40 lines without any other happen once in 10^12.
	if r.Clock.OnlyTwelve = bare >= 40 && most == 0; r.Clock.OnlyTwelve {
		r.note(opt.Lang, words.Mark("All hours lie from 1 to 12 and nothing says am or pm: the time of day means nothing here."))
	}
	r.judgeClock(rows[:kept], opt)
	sorts.Stable(r.Events, func(a, b Event) int { return a.At.Compare(b.At) })
	if r.Clock.Newest { // lines of the same second: the later one in time stands above
		for from := 0; from < len(r.Events); {
			to := from + 1
			for to < len(r.Events) && r.Events[to].At.Equal(r.Events[from].At) {
				to++
			}
			slices.Reverse(r.Events[from:to])
			from = to
		}
	}
}

// years returns the year of each row whose date names none: the newest is of Columns.Year, and the year changes where the
// date leaps by more than half a year.
func (r *Reading) years(rows []raw, o order) func(int) int {
	if r.Columns.Year == 0 {
		return func(int) int { return 0 }
	}
	const y = 2001
	dayOf := func(i int) int {
		_, m, d, ok := rows[i].stamp.civil(o, y)
		if !ok {
			return -1
		}
		return dayNumber(y, m, d)
	}
	up, down, last := 0, 0, -1
	for i := range rows {
		n := dayOf(i)
		if last >= 0 && n >= 0 && n != last {
			if leap := n-last > 182 || last-n > 182; (n > last) != leap {
				up++
			} else {
				down++
			}
		}
		if n >= 0 {
			last = n
		}
	}
	out := make([]int, len(rows))
	year := r.Columns.Year
	last = -1
	for k := range rows {
		i := len(rows) - 1 - k // from the newest back
		if down > up {
			i = k
		}
		n := dayOf(i)
		if last >= 0 && n-last > 182 {
			year--
		} else if last >= 0 && last-n > 182 && n >= 0 {
			year++
		}
		if n >= 0 {
			last = n
		}
		out[i] = year
	}
	return func(i int) int { return out[i] }
}
