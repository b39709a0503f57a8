package engine

import (
	"encoding/json"
	"time"

	"proofbell/evidence"
	"proofbell/internal/history"
	"proofbell/internal/words"
	"proofbell/site"
)

// DiagnoseArg is the argument of history.diagnose: a history, and what is known about it. It needs no job.
type DiagnoseArg struct {
	Job     evidence.JobID       `json:"job"`  // an open job: its site counts
	Site    json.RawMessage      `json:"site"` // or a site; null with no job: the history stands alone
	Now     time.Time            `json:"now"`
	Lang    string               `json:"lang"`
	Text    string               `json:"text"`    // as pasted, or the file
	Columns *site.HistoryColumns `json:"columns"` // null: those of the site, else found
	From    time.Time            `json:"from"`    // zero: all
	To      time.Time            `json:"to"`
}

// Diagnosed is a history as it was read, and what it speaks for.
type Diagnosed struct {
	Columns   site.HistoryColumns  `json:"columns"` // as used
	Found     []history.Column     `json:"found"`
	Notes     []string             `json:"notes"`
	Questions []history.Question   `json:"questions"` // not empty: there is no diagnosis yet
	Unread    []history.Unreadable `json:"unread"`    // the first of them
	Counts    ReadCounts           `json:"counts"`
	Choices   ColumnChoices        `json:"choices"`
	Diagnosis *history.Diagnosis   `json:"diagnosis"`
}

// ReadCounts count lines of a history.
type ReadCounts struct {
	Lines   int `json:"lines"`
	Events  int `json:"events"`
	Unread  int `json:"unread"`
	Copies  int `json:"copies"`
	Unknown int `json:"unknown"`
}

// ColumnChoices are the answers that a person can give about columns.
type ColumnChoices struct {
	Holds   []Choice `json:"holds"`
	Dates   []Choice `json:"dates"`
	Between []Choice `json:"between"`
}

const mostUnreadShown = 200

// Diagnose reads a history and looks for causes. s may be nil.
func Diagnose(a DiagnoseArg, s *site.Site, lang *words.Language) (Diagnosed, error) {
	out := Diagnosed{Found: []history.Column{}, Notes: []string{}, Questions: []history.Question{}, Unread: []history.Unreadable{}, Choices: columnChoices(lang)}
	opt := history.Options{Columns: a.Columns, Now: a.Now, Zone: time.UTC, Lang: lang}
	if s != nil {
		if zone, err := time.LoadLocation(s.Premises.TimeZone); err == nil {
			opt.Zone = zone
		}
		if opt.Columns == nil {
			opt.Columns = s.Station.History
		}
	}
	r, err := history.Read([]byte(a.Text), opt)
	if err != nil {
		return out, &Problem{Code: "bad-history", Say: words.Upper(words.Said(err).In(lang)) + ".", Try: lang.Say("Paste its lines, or choose the file that the station sent."), Err: err}
	}
	out.Columns = r.Columns
	out.Found, out.Notes, out.Questions = append(out.Found, r.Found...), append(out.Notes, r.Notes...), append(out.Questions, r.Questions...)
	out.Unread = append(out.Unread, r.Unreadable[:min(len(r.Unreadable), mostUnreadShown)]...)
	out.Counts = ReadCounts{r.Lines, len(r.Events), r.Unread, r.Copies, r.Unknown}
	if len(r.Questions) == 0 && len(r.Events) > 0 {
		out.Diagnosis = history.Diagnose(r, s, history.Scope{From: a.From, To: a.To, Lang: lang})
	}
	return out, nil
}

func (e *Engine) diagnose(argument []byte) (any, error) {
	a, err := read[DiagnoseArg](argument)
	if err != nil {
		return nil, err
	}
	var s *site.Site
	switch {
	case len(a.Site) > 0 && string(a.Site) != "null":
		if s, err = site.DecodeJSON("site", a.Site); err != nil {
			return nil, &Problem{Code: "bad-request", Say: words.In(a.Lang).Say("The site can not be read: %s.", words.Said(err).In(words.In(a.Lang))), Try: words.Mark("Reload the page."), Err: err}
		}
	case a.Job != "":
		h, err := e.book(a.Job)
		if err != nil {
			return nil, err
		}
		s = h.current().State.Site
	}
	return Diagnose(a, s, words.In(a.Lang))
}

func columnChoices(lang *words.Language) ColumnChoices {
	say := func(list [][2]string) []Choice {
		out := make([]Choice, len(list))
		for i, c := range list {
			out[i] = Choice{Value: c[0], Say: lang.Say(c[1])}
		}
		return out
	}
	return ColumnChoices{Holds: say(columnHolds), Dates: say(columnDates), Between: say(columnBetween)}
}

// What a column holds, how dates are written and what stands between cells, in words, in the order in which lists show them.
var (
	columnHolds = [][2]string{
		{"date-time", words.Mark("Date and time")},
		{"date", words.Mark("Date")},
		{"time", words.Mark("Time of day")},
		{"code", words.Mark("Code")},
		{"event", words.Mark("Event in words")},
		{"qualifier", words.Mark("New or restore")},
		{"zone", words.Mark("Zone or point")},
		{"area", words.Mark("Area")},
		{"user", words.Mark("User")},
		{"account", words.Mark("Account")},
		{"path", words.Mark("Path")},
		{"remark", words.Mark("Remark")},
		{"panel-date-time", words.Mark("The panel's own time")},
		{"other", words.Mark("Not read")},
	}
	columnDates = [][2]string{
		{"day-month-year", words.Mark("Day, month, year")},
		{"month-day-year", words.Mark("Month, day, year")},
		{"year-month-day", words.Mark("Year, month, day")},
	}
	columnBetween = [][2]string{
		{"comma", words.Mark("Comma")},
		{"semicolon", words.Mark("Semicolon")},
		{"tab", words.Mark("Tab")},
		{"bar", words.Mark("Upright bar")},
		{"text", words.Mark("Free lines")},
	}
)
