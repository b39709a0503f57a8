package sheets

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"proofbell/internal/tables"
	"proofbell/internal/words"
)

// Read is what a spreadsheet holds: one table for each sheet that is not empty, and what the reader should know.
type Read struct {
	Tables []tables.Table
	Notes  []string // "zones: lines 5 to 9 are hidden and were read as well"
}

// ReadXLSX reads a spreadsheet. Dates are written out as 2019-04-23, or 2019-04 where the cell shows no day; a number is
// written as short as it can be, with the leading zeros that its cell shows. Formulas, errors and merged cells are faults
// (tables.Faults), each with its cell: what stands in the file may not be what its author saw.
func ReadXLSX(lang *words.Language, raw []byte) (Read, error) {
	var out Read
	if err := bounded(lang, raw); err != nil {
		return out, err
	}
	f, err := excelize.OpenReader(bytes.NewReader(raw), excelize.Options{RawCellValue: true, UnzipSizeLimit: maxUnpacked, UnzipXMLSizeLimit: maxUnpacked})
	if err != nil {
		return out, tables.Faults{{Say: lang.Say("this is not a spreadsheet file"), Try: lang.Say("save it as XLSX, without a password, or as CSV")}}
	}
	defer func() { _ = f.Close() }()
	names := f.GetSheetList()
	if len(names) > maxSheets {
		return out, tables.Faults{{Say: lang.Say("there are %d sheets", len(names)), Try: lang.Say("at most %d: leave out what is not wanted", maxSheets)}}
	}
	props, err := f.GetWorkbookProps()
	if err != nil {
		return out, fmt.Errorf("reading the workbook: %w", err)
	}
	book := reader{lang: lang, file: f, from1904: props.Date1904 != nil && *props.Date1904, formats: map[int]format{}}
	for _, name := range names {
		t := book.sheet(name)
		if len(t.Columns) > 0 {
			out.Tables = append(out.Tables, t)
		}
	}
	out.Notes = book.notes
	if len(book.faults) > 0 {
		return out, book.faults
	}
	if len(out.Tables) == 0 {
		return out, tables.Faults{{Say: lang.Say("the table is empty"), Try: lang.Say("write the headings into the first line")}}
	}
	return out, nil
}

type reader struct {
	lang     *words.Language
	file     *excelize.File
	from1904 bool
	formats  map[int]format // by style
	faults   tables.Faults
	notes    []string
}

func (r *reader) fault(sheet, cell, say, try string) {
	if len(r.faults) < tables.MaxFaults {
		r.faults = append(r.faults, tables.Fault{Sheet: sheet, Cell: cell, Say: say, Try: try})
	}
}

func (r *reader) sheet(name string) tables.Table {
	t := tables.Table{Name: name}
	unreadable := func() tables.Table {
		r.fault(name, "", r.lang.Say("this sheet can not be read"), r.lang.Say("copy its cells into a new one"))
		return tables.Table{}
	}
	merged, err := r.file.GetMergeCells(name, true)
	if err != nil {
		return unreadable()
	}
	rows, err := r.file.GetRows(name)
	if err != nil {
		return unreadable()
	}
	for _, m := range merged {
		r.fault(name, m.GetStartAxis()+":"+m.GetEndAxis(), r.lang.Say("these cells are merged"), r.lang.Say("separate them and write into each"))
	}
	var hidden []int
	for i, row := range rows {
		line := make([]string, len(row))
		filled := false
		for j := range row {
			line[j] = r.cell(name, tables.CellName(j, i), row[j])
			filled = filled || line[j] != ""
		}
		if i == 0 {
			t.Columns = line
			continue
		}
		if shown, err := r.file.GetRowVisible(name, i+1); err == nil && !shown && filled {
			hidden = append(hidden, i+1)
		}
		t.Rows = append(t.Rows, line)
	}
	if len(hidden) > 0 {
		r.notes = append(r.notes, r.lang.Say("%s: %d hidden lines were read as well, the first is line %d", name, len(hidden), hidden[0]))
	}
	return t
}

// cell returns what a cell says, as text.
func (r *reader) cell(sheet, cell, raw string) string {
	if len(raw) > tables.MaxCell {
		r.faults = append(r.faults, tables.TooLarge(r.lang, sheet, cell)...)
		return ""
	}
	if formula, err := r.file.GetCellFormula(sheet, cell); err != nil || formula != "" {
		r.fault(sheet, cell, r.lang.Say("a formula stands here"), r.lang.Say("paste its value in its place"))
		return ""
	}
	kind, err := r.file.GetCellType(sheet, cell)
	if err != nil {
		return raw
	}
	switch kind {
	case excelize.CellTypeError:
		r.fault(sheet, cell, r.lang.Say("%s is an error of the spreadsheet", raw), r.lang.Say("write the value itself"))
		return ""
	case excelize.CellTypeBool:
		return map[string]string{"1": "yes", "0": "no", "TRUE": "yes", "FALSE": "no"}[raw]
	case excelize.CellTypeNumber, excelize.CellTypeUnset, excelize.CellTypeDate:
		v, err := strconv.ParseFloat(raw, 64)
		if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
			return raw
		}
		return r.format(sheet, cell).write(v, r.from1904)
	}
	return raw
}

// format is how a number is shown, as far as it changes what was meant.
type format struct {
	date  string // a layout of package time; empty: not a date
	zeros int    // least number of digits: "0000" shows 17 as 0017
}

func (r *reader) format(sheet, cell string) format {
	style, err := r.file.GetCellStyle(sheet, cell)
	if err != nil {
		return format{}
	}
	known, ok := r.formats[style]
	if !ok {
		if s, err := r.file.GetStyle(style); err == nil {
			code := ""
			if s.CustomNumFmt != nil {
				code = *s.CustomNumFmt
			}
			known = readFormat(s.NumFmt, code)
		}
		r.formats[style] = known
	}
	return known
}

// unspoken is what a number format does not take from the number: quoted and escaped text, fill, colours and locales.
var unspoken = regexp.MustCompile(`"[^"]*"|\\.|_.|\*.|\[[^\]]*\]`)

// readFormat knows the built-in date formats by number (ISO/IEC 29500-1, 18.8.30) and others by their letters.
func readFormat(number int, code string) format {
	switch {
	case code != "":
	case number == 17: // mmm-yy
		return format{date: "2006-01"}
	case number >= 14 && number <= 16, number == 22, number >= 27 && number <= 36, number >= 50 && number <= 58:
		return format{date: time.DateOnly}
	default:
		return format{}
	}
	first, _, _ := strings.Cut(strings.ToLower(unspoken.ReplaceAllString(code, "")), ";")
	if first != "" && strings.Trim(first, "0") == "" {
		return format{zeros: len(first)}
	}
	switch year := strings.Contains(first, "y"); {
	case year && strings.Contains(first, "d"):
		return format{date: time.DateOnly}
	case year && strings.Contains(first, "m"):
		return format{date: "2006-01"}
	case year:
		return format{date: "2006"}
	}
	return format{}
}

// write returns the number as it was meant. Day 1 is 1900-01-01, and 1900 counts as a leap year; or day 0 is 1904-01-01
// (ISO/IEC 29500-1, 18.17.4.1).
func (f format) write(v float64, from1904 bool) string {
	if f.date != "" && v >= 1 && v < 2_958_466 { // to the end of 9999
		from := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
		if from1904 {
			from = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
		} else if v < 61 {
			from = from.AddDate(0, 0, 1)
		}
		return from.AddDate(0, 0, int(v)).Format(f.date)
	}
	// A spreadsheet counts with 15 digits: 2.9000000000000004 was typed as 2.9.
	shortened, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 15, 64), 64)
	if err != nil {
		shortened = v
	}
	s := strconv.FormatFloat(shortened, 'f', -1, 64)
	if missing := f.zeros - len(s); missing > 0 && v >= 0 && shortened == math.Trunc(shortened) {
		s = strings.Repeat("0", missing) + s
	}
	return s
}
