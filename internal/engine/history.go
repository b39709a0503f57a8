package engine

import (
	"cmp"
	"fmt"
	"strconv"
	"time"

	"proofbell/internal/history"
	"proofbell/internal/prove"
	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/signal"
	"proofbell/site"
)

// HistoryArg is a station's history with what a person said about it.
type HistoryArg struct {
	Text    string               `json:"text"`    // as pasted, or the file
	Columns *site.HistoryColumns `json:"columns"` // null: those of the site, else found
	Offset  *int                 `json:"offset"`  // s, station minus ours, as confirmed; null: as the lines show it
	Lines   map[int]string       `json:"lines"`   // of open lines, by row: the expected signal
}

// HistoryView is a station's history laid over a run.
type HistoryView struct {
	Columns   site.HistoryColumns  `json:"columns"` // as used
	Found     []history.Column     `json:"found"`
	Holds     []Choice             `json:"holds"` // what a column can hold
	Notes     []string             `json:"notes"`
	Questions []history.Question   `json:"questions"` // not empty: nothing could be matched yet
	Unread    []history.Unreadable `json:"unread"`    // the first of them
	Counts    HistoryCounts        `json:"counts"`
	Offset    prove.ClockOffset    `json:"offset"`
	OffsetSay string               `json:"offsetSay"`
	Rows      []HistoryRow         `json:"rows"` // in the time of the run; open ones first, then what nothing fits, then the rest by time
	Missing   []MissingRow         `json:"missing"`
	Body      prove.ReadBackBody   `json:"body"`  // of the read-back that this makes
	Clock     *int                 `json:"clock"` // to be kept as the station's clock; null: it is close enough
	Ready     bool                 `json:"ready"` // something matched, and no clock is to be confirmed
}

// HistoryCounts count lines.
type HistoryCounts struct {
	Lines   int `json:"lines"`   // read
	Unread  int `json:"unread"`  // that are no event
	Matched int `json:"matched"` // expected signals that a line was found for
	Open    int `json:"open"`
	None    int `json:"none"`
	Outside int `json:"outside"` // before or after the run
	Other   int `json:"other"`   // of other accounts
}

// HistoryRow is one line in words.
type HistoryRow struct {
	Row     int      `json:"row"`
	At      string   `json:"at"` // clock time on site, as the station has it
	Zone    string   `json:"zone"`
	What    string   `json:"what"`
	State   string   `json:"state"`
	Say     string   `json:"say"`
	Choices []Choice `json:"choices"` // open: what it can be
}

// MissingRow is a signal that should be in the history and is not.
type MissingRow struct {
	Expect string `json:"expect"`
	Zone   string `json:"zone"`
	Say    string `json:"say"`
}

const mostUnread = 20 // unreadable lines that a page shows

// History reads a station's history and lays it over the open or newest run. Nothing is changed: Body and Clock are what a
// person can put into the book.
func (d *Desk) History(now time.Time, run *prove.Run, a HistoryArg) (HistoryView, error) {
	v := HistoryView{Found: []history.Column{}, Notes: []string{}, Questions: []history.Question{}, Unread: []history.Unreadable{}, Rows: []HistoryRow{}, Missing: []MissingRow{}}
	if run == nil {
		return v, &Problem{Code: "not-found", Say: d.lang.Say("There is no run that a history could be laid over."), Try: d.lang.Say("Open a run first."), Err: prove.ErrNoRun}
	}
	columns := a.Columns
	if columns == nil {
		columns = d.State.Site.Station.History
	}
	r, err := history.Read([]byte(a.Text), history.Options{Columns: columns, Zone: d.zone(), Now: now, Near: run.Opened, Lang: d.lang})
	if err != nil {
		return v, &Problem{Code: "bad-history", Say: words.Upper(words.Said(err).In(d.lang)) + ".", Try: d.lang.Say("Paste its lines, or choose the file that the station sent."), Err: err}
	}
	v.Columns, v.Found, v.Notes, v.Questions = r.Columns, append(v.Found, r.Found...), append(v.Notes, r.Notes...), append(v.Questions, r.Questions...)
	v.Unread = append(v.Unread, r.Unreadable[:min(len(r.Unreadable), mostUnread)]...)
	for _, w := range site.Words("history-holds") {
		v.Holds = append(v.Holds, Choice{Value: w, Say: d.lang.Say(columnWords[w])})
	}
	v.Counts.Lines, v.Counts.Unread = r.Lines, r.Unread
	lines := make([]prove.HistoryLine, 0, len(r.Events))
	what := map[int]*history.Event{}
	for i := range r.Events {
		e := &r.Events[i]
		l := prove.HistoryLine{Row: e.Line, At: e.At, Zone: site.ZoneID(e.Zone), Code: e.Code, Qualifier: e.Qualifier, Kind: e.Kind, Account: e.Account}
		if l.Doubt = e.Doubt; l.Doubt {
			l.At = time.Time{}
		}
		if _, err := strconv.Atoi(e.Zone); err == nil && e.Number == 0 {
			l.Zone = "" // 000 is the panel itself
		}
		lines = append(lines, l)
		what[e.Line] = e
	}
	choice := prove.HistoryChoice{Offset: a.Offset, Lines: map[int]prove.ExpectationID{}}
	for row, e := range a.Lines {
		choice.Lines[row] = prove.ExpectationID(e)
	}
	if choice.Offset == nil && run.Clocks.Station != nil {
		choice.Offset = run.Clocks.Station // measured before
	}
	plan := d.PlanOf(run)
	end := now
	if !run.Closed.IsZero() {
		end = run.Closed
	}
	m := prove.MatchHistory(plan, d.observations(run), run.Clocks, lines, choice, end)
	v.Offset, v.OffsetSay = m.Offset, d.offsetSay(m.Offset)
	v.Counts.Matched = m.Matched
	names := d.expectations(plan)
	for _, l := range m.Lines {
		tally(&v.Counts, l.State)
		if l.State == prove.LineOutside || l.State == prove.LineOther {
			continue
		}
		v.Rows = append(v.Rows, d.historyRow(l, what[l.Line.Row], names))
	}
	sorts.Stable(v.Rows, func(a, b HistoryRow) int { return cmp.Compare(rowRank[a.State], rowRank[b.State]) })
	for _, e := range m.Missing {
		v.Missing = append(v.Missing, MissingRow{Expect: string(e), Zone: names[e].zone, Say: names[e].say})
	}
	v.Body = prove.ReadBackBody{Run: run.ID, Source: prove.FromHistory, Account: run.Account, Lines: m.Evidence()}
	if m.Offset.Known && (m.Offset.Given || m.Offset.Confirm) && (run.Clocks.Station == nil || *run.Clocks.Station != m.Offset.Seconds) {
		v.Clock = &m.Offset.Seconds
	}
	v.Ready = len(v.Body.Lines) > 0 && !m.Offset.Confirm && len(v.Questions) == 0
	return v, nil
}

// columnWords says what a column of a history can hold.
var columnWords = map[string]string{
	"date": words.Mark("Date"), "time": words.Mark("Time"), "date-time": words.Mark("Date and time"), "panel-date-time": words.Mark("The panel's own time"),
	"zone": words.Mark("Zone"), "user": words.Mark("User"), "code": words.Mark("Code"), "event": words.Mark("Event in words"),
	"qualifier": words.Mark("Alarm or restore"), "area": words.Mark("Area"), "account": words.Mark("Account"), "path": words.Mark("Path"),
	"remark": words.Mark("Remark"), "other": words.Mark("Not read"),
}

var rowRank = map[string]int{string(prove.LineOpen): 0, string(prove.LineNone): 1, string(prove.LineApart): 2, string(prove.LineMatched): 3, string(prove.LineRepeat): 4}

func tally(c *HistoryCounts, s prove.LineState) {
	switch s {
	case prove.LineOpen:
		c.Open++
	case prove.LineNone:
		c.None++
	case prove.LineOutside:
		c.Outside++
	case prove.LineOther:
		c.Other++
	}
}

type expected struct{ zone, say string }

// expectations names every expected signal of a plan.
func (d *Desk) expectations(plan []prove.Step) map[prove.ExpectationID]expected {
	out := map[prove.ExpectationID]expected{}
	for _, st := range plan {
		for _, e := range st.Expected {
			say := st.Title + ", " + e.Code
			if e.Role.Ends() {
				say = d.lang.Say("%s, restore", say)
			}
			out[e.ID] = expected{string(e.Zone), say}
		}
	}
	return out
}

func (d *Desk) historyRow(l prove.LineMatch, e *history.Event, names map[prove.ExpectationID]expected) HistoryRow {
	row := HistoryRow{Row: l.Line.Row, Zone: string(l.Line.Zone), State: string(l.State), Choices: []Choice{}}
	if !l.Line.At.IsZero() {
		row.At = l.Line.At.In(d.zone()).Format("15:04:05")
	}
	row.What = words.Upper(e.Words)
	if e.Code != "" {
		row.What = e.Code + " " + e.Words
	}
	if e.Qualifier == signal.Restore {
		row.What = d.lang.Say("%s, restore", row.What)
	}
	switch l.State {
	case prove.LineMatched:
		row.Say = names[l.Expect].say
	case prove.LineRepeat:
		row.Say = d.lang.Say("Once more: %s", names[l.Expect].say)
	case prove.LineApart:
		row.Say = d.lang.Say("It came here too; no step explains it.")
	case prove.LineOpen:
		row.Say = d.lang.Say("Several could be meant.")
		for _, c := range l.Candidates {
			row.Choices = append(row.Choices, Choice{Value: string(c), Say: names[c].say})
		}
	default:
		row.Say = d.lang.Say("Nothing of this run fits.")
	}
	return row
}

// offsetSay says how far the station's clock differs, and what speaks for it.
func (d *Desk) offsetSay(o prove.ClockOffset) string {
	span := fmt.Sprintf("%d s", max(o.Seconds, -o.Seconds))
	if m := max(o.Seconds, -o.Seconds); m >= 120 {
		span = fmt.Sprintf("%d min %02d s", m/60, m%60)
	}
	way := d.lang.Say("The station's clock is %s ahead of ours", span)
	if o.Seconds < 0 {
		way = d.lang.Say("The station's clock is %s behind ours", span)
	}
	switch {
	case o.Given:
		return d.lang.Say("%s, as confirmed.", way)
	case o.Pairs == 0:
		return d.lang.Say("Nothing shows how the station's clock stands.")
	case !o.Known:
		return d.lang.Say("%s, or it is not: other offsets fit as well. Ask the operator what time it is there.", way)
	}
	return d.lang.Say("%s: %d lines agree, within %d s.", way, o.Pairs, max(o.Spread, 1))
}
