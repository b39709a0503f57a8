package records

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"time"

	ics "github.com/arran4/golang-ical"

	"proofbell/internal/papers"
	"proofbell/internal/sheets"
	"proofbell/internal/tables"
)

// ErrFormat is returned for a document that is not made in a format.
var ErrFormat = errors.New("this document is not made in that format")

// Media are the media types of the formats.
var Media = map[string]string{
	"pdf": "application/pdf", "csv": "text/csv; charset=utf-8", "ics": "text/calendar; charset=utf-8",
	"xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}

// File writes a paper in a format: pdf, xlsx, csv, ics, txt or vtt.
func File(paper papers.Paper, format string, o Options) ([]byte, error) {
	switch {
	case format == "pdf":
		return PDF(paper, o)
	case format == "txt" && paper.Script != "":
		return []byte(paper.Script + "\n" + paper.Frame.Entry + "\n" + paper.Pin.String() + "\n"), nil
	case format == "vtt" && paper.Captions != "":
		return []byte(paper.Captions), nil
	case format == "ics" && paper.Kind == "due-dates":
		return Calendar(paper)
	case format == "xlsx" && paper.Sheet != nil:
		var b bytes.Buffer
		err := sheets.WriteXLSX(&b, withPin(paper), about(paper, o))
		return b.Bytes(), err
	case format == "csv" && paper.Sheet != nil:
		var b bytes.Buffer
		err := tables.WriteCSV(&b, withPin(paper))
		return b.Bytes(), err
	}
	return nil, fmt.Errorf("%s as %s: %w", paper.Kind, format, ErrFormat)
}

// withPin gives every row the pin of its document, so that a row that was copied elsewhere still says where it is from.
func withPin(paper papers.Paper) tables.Table {
	t := tables.Table{Name: paper.Sheet.Name, Columns: append(append([]string{}, paper.Sheet.Columns...), paper.Frame.Pin)}
	pin := paper.Pin.Short()
	if paper.Practice != "" {
		pin = paper.Frame.Practice + " " + pin
	}
	for _, row := range paper.Sheet.Rows {
		t.Rows = append(t.Rows, append(append([]string{}, row...), pin))
	}
	return t
}

// about is the sheet of a workbook that says what it is.
func about(paper papers.Paper, o Options) tables.Table {
	t := tables.Table{Name: "Proofbell", Columns: []string{paper.Title, paper.Name}}
	for _, row := range [][2]string{
		{paper.On, paper.AsOf}, {paper.Frame.Pin, strings.TrimSpace(paper.Pin.String() + " " + paper.Pin.Mark)}, {"", paper.Practice}, {"", paper.Frame.Pinned}, {"signer", o.Signer},
	} {
		if row[1] != "" {
			t.Rows = append(t.Rows, row[:])
		}
	}
	return t
}

// Calendar writes the dates of a paper as iCalendar (RFC 5545): one event of a whole day each, on the first day that the
// date may mean. Stamps are those of the job book, so that the same paper gives the same bytes.
func Calendar(paper papers.Paper) ([]byte, error) {
	c := ics.NewCalendarFor("Proofbell")
	c.SetMethod(ics.MethodPublish)
	c.SetVersion("2.0")
	c.SetProductId("-//Proofbell//due dates//EN")
	c.SetXWRCalName(paper.Title + ": " + paper.Name)
	c.SetXWRCalDesc(strings.TrimSpace(paper.Practice + " " + paper.AsOf))
	for _, d := range paper.Dates {
		day := d.On.First()
		e := c.AddEvent(fmt.Sprintf("%s@%s.proofbell", d.ID, paper.Pin.Job))
		e.SetDtStampTime(paper.Made.UTC().Truncate(time.Second))
		e.SetProperty(ics.ComponentPropertyDtStart, day.Format("20060102"), ics.WithValue(string(ics.ValueDataTypeDate)))
		e.SetProperty(ics.ComponentPropertyDtEnd, day.AddDate(0, 0, 1).Format("20060102"), ics.WithValue(string(ics.ValueDataTypeDate)))
		e.SetSummary(d.What)
		e.SetLocation(paper.Name)
		e.SetDescription(strings.TrimSpace(paper.Practice + " " + d.Why + "\n" + paper.Pin.String()))
		e.SetTimeTransparency(ics.TransparencyTransparent)
	}
	var b bytes.Buffer
	if err := c.SerializeTo(&b, ics.WithNewLineWindows); err != nil {
		return nil, fmt.Errorf("writing the calendar: %w", err)
	}
	return b.Bytes(), nil
}
