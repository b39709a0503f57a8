package cli

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"time"

	"proofbell/internal/history"
	"proofbell/internal/words"
	"proofbell/site"
)

const columnsFormat = "proofbell.columns/1"

// columnsFile is docs/format/history.md: how a station's history is read, in a file of its own.
type columnsFile struct {
	Format string `json:"format"`
	site.HistoryColumns
}

type historyCmd struct {
	File       string `arg:"" name:"FILE" help:"Event history of a station or panel: CSV or pasted lines; - for standard input."`
	Site       string `help:"Site file: names, kinds, ages and models count as well." placeholder:"SITE.yaml"`
	Columns    string `help:"What the columns hold (JSON, as --columns-out writes it)." placeholder:"FILE"`
	ColumnsOut string `help:"Write what the columns were taken for, to correct it or keep it for this station." placeholder:"FILE"`
	Dates      string `help:"Order of a written date: ${enum}; empty: found, or asked." enum:"day-month-year,month-day-year,year-month-day," default:""`
	Year       int    `help:"Year of the newest line, where dates name none."`
	TimeZone   string `help:"Time zone of the history, as Europe/Berlin; empty: the site's, else UTC."`
	From       string `help:"First day to look at." placeholder:"DATE"`
	To         string `help:"Last day to look at." placeholder:"DATE"`
	Lang       string `help:"Language: ${enum}." enum:"en,de" default:"en"`
	JSON       bool   `help:"Print one JSON document."`
}

// Run reads a history and says what it speaks for; not good when something is unusual.
func (c *historyCmd) Run(io *streams) error {
	lang := words.In(c.Lang)
	opt := history.Options{Lang: lang, Now: time.Now(), Zone: time.UTC}
	var s *site.Site
	var err error
	if c.Site != "" {
		if s, _, err = readSite(c.Site, io.in); err != nil {
			return err
		}
		if zone, err := time.LoadLocation(s.Premises.TimeZone); err == nil {
			opt.Zone = zone
		}
		opt.Columns = s.Station.History
	}
	if opt.Columns, err = c.columns(io.in, opt.Columns); err != nil {
		return err
	}
	raw, err := readFile(c.File, io.in, history.MaxBytes)
	if err != nil {
		return err
	}
	r, err := history.Read(raw, opt)
	if err != nil {
		return fmt.Errorf("%s: %w", named(c.File), err)
	}
	if c.ColumnsOut != "" {
		out, err := json.MarshalIndent(columnsFile{columnsFormat, r.Columns}, "", "  ")
		if err == nil {
			err = writeFile(c.ColumnsOut, append(out, '\n'))
		}
		if err != nil {
			return err
		}
	}
	for _, q := range r.Questions {
		answers := []string{}
		for _, choice := range q.Choices {
			answers = append(answers, "--"+q.Of+" "+choice.Value)
		}
		if len(answers) == 0 {
			answers = append(answers, "--"+q.Of)
		}
		fmt.Fprintf(io.err, "%s: %s %s\n", named(c.File), q.Say, lang.Say("Say it with %s.", strings.Join(answers, lang.Say(" or "))))
	}
	if len(r.Questions) > 0 {
		return fmt.Errorf("%s: %s", named(c.File), lang.Say("not read: the dates can not be told"))
	}
	if len(r.Events) == 0 {
		return fmt.Errorf("%s: %s", named(c.File), lang.Say("no line of it is an event: see the columns with --columns-out FILE, correct them, give them with --columns FILE"))
	}
	scope, err := c.scope(r.Clock.TimeZone)
	if err != nil {
		return err
	}
	scope.Lang = lang
	d := history.Diagnose(r, s, scope)
	if c.JSON {
		err = printJSON(io.out, map[string]any{"reading": r, "diagnosis": d})
	} else {
		printDiagnosis(io.out, r, d, lang)
	}
	if err == nil && d.Unusual() {
		err = ErrNotGood
	}
	return err
}

// columns puts together what is known about the columns: of the site, of a file, of flags; the later wins.
func (c *historyCmd) columns(in io.Reader, known *site.HistoryColumns) (*site.HistoryColumns, error) {
	var out site.HistoryColumns
	if known != nil {
		out = *known
	}
	if c.Columns != "" {
		raw, err := readFile(c.Columns, in, 1<<20)
		if err != nil {
			return nil, err
		}
		var f columnsFile
		dec := json.NewDecoder(bytes.NewReader(raw))
		dec.DisallowUnknownFields()
		if err := dec.Decode(&f); err != nil {
			return nil, fmt.Errorf("%s: %w: give a file that --columns-out wrote", named(c.Columns), err)
		}
		if f.Format != columnsFormat {
			return nil, fmt.Errorf("%s: format %q: want %q", named(c.Columns), f.Format, columnsFormat)
		}
		out = f.HistoryColumns
	}
	if c.Dates != "" {
		out.Dates = c.Dates
	}
	if c.Year != 0 {
		out.Year = c.Year
	}
	if c.TimeZone != "" {
		out.TimeZone = c.TimeZone
	}
	return &out, nil
}

func (c *historyCmd) scope(zone string) (s history.Scope, err error) {
	loc, err := time.LoadLocation(zone)
	if err != nil {
		return s, err
	}
	for _, f := range []struct {
		flag, text string
		to         *time.Time
		days       int
	}{{"--from", c.From, &s.From, 0}, {"--to", c.To, &s.To, 1}} {
		if f.text == "" {
			continue
		}
		t, err := time.ParseInLocation(time.DateOnly, f.text, loc)
		if err != nil {
			return s, fmt.Errorf("%s %q is not a day: write it as 2026-09-15", f.flag, f.text)
		}
		*f.to = t.AddDate(0, 0, f.days)
	}
	return s, nil
}

const mostUnreadable = 20 // lines that are printed; --json has them all

func printDiagnosis(w io.Writer, r *history.Reading, d *history.Diagnosis, lang *words.Language) {
	fmt.Fprintln(w, d.Say)
	for _, f := range d.Findings {
		where := lang.Say("site")
		if f.Zone != "" {
			where = strings.TrimSpace(lang.Say("zone %s", f.Zone) + " " + f.Label)
		}
		sure := lang.Say("LIKELY")
		if f.Sure == "possible" {
			sure = lang.Say("POSSIBLE")
		}
		fmt.Fprintf(w, "\n%s  %s: %s\n", sure, where, f.Title)
		for _, e := range f.Evidence {
			fmt.Fprintf(w, "    %s\n", e)
		}
		if f.Rule {
			fmt.Fprintf(w, "    %s %s\n", f.Statistic, f.Threshold)
		} else {
			fmt.Fprintf(w, "    %s. %s\n", words.Upper(f.Odds), f.Statistic)
		}
		fmt.Fprintf(w, "    %s %s\n    %s %s\n", lang.Say("To disprove:"), f.Disproof, lang.Say("Not:"), f.Not)
		fmt.Fprintf(w, "    %s\n", lang.Say("Lines %s", lineList(f.Lines, f.Events)))
	}
	if len(d.Rates) > 0 {
		fmt.Fprintf(w, "\n%s\n", lang.Say("Against public thresholds; whether an alarm was false the history does not know"))
		for _, rate := range d.Rates {
			fmt.Fprintf(w, "    %s (%s)\n", rate.Say, rate.Source)
		}
	}
	if len(d.Lacks) > 0 {
		fmt.Fprintf(w, "\n%s\n", lang.Say("Not enough data for"))
		for _, l := range d.Lacks {
			fmt.Fprintf(w, "    %s. %s\n", l.Title, l.Need)
		}
	}
	fmt.Fprintf(w, "\n%s\n", lang.Say("Read: %d lines, %d events, %d not read, %d copies, %d of unknown meaning.", r.Lines, len(r.Events), r.Unread, r.Copies, r.Unknown))
	for _, note := range r.Notes {
		fmt.Fprintf(w, "    %s\n", note)
	}
	for i, u := range r.Unreadable {
		if i == mostUnreadable {
			fmt.Fprintf(w, "    %s\n", lang.Say("and %d more: --json lists them", r.Unread-i))
			break
		}
		fmt.Fprintf(w, "    %s\n", lang.Say("line %d: %s: %s", u.Line, u.Why, u.Text))
	}
	fmt.Fprintln(w, lang.Say("What stands here is what the history speaks for, not what was seen on site: check before anything is changed."))
}

func lineList(lines []int, all int) string {
	var b strings.Builder
	for i, n := range lines {
		if i == 12 {
			fmt.Fprintf(&b, " ... (%d)", all)
			break
		}
		if i > 0 {
			b.WriteString(", ")
		}
		fmt.Fprint(&b, n)
	}
	return b.String()
}
