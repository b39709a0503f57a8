// Package tables keeps a site's rooms, heads, devices and zones as plain tables for a spreadsheet, reads them back as one
// merge patch, and reads and writes such tables as CSV. Package sheets does the same for XLSX.
//
// What a table does not hold is never touched: a missing row or column changes nothing. Every fault names its cell, and
// nothing is changed while there is one. Format: docs/format/tables.md.
package tables

import (
	"strconv"
	"strings"

	"proofbell/internal/words"
)

// Limits of a table that is read. What is larger is refused before it is kept.
const (
	MaxRows    = 20_000
	MaxColumns = 100
	MaxCell    = 2_000     // bytes of one cell
	MaxFile    = 4_000_000 // bytes of a file
	MaxFaults  = 50
)

// Table is a plain table: one line of headings, then rows. A row may be shorter than the headings; an empty one keeps its
// place, so that the cell of row i and column j is CellName(j, i+1) on the sheet.
type Table struct {
	Name    string     `json:"name"`
	Columns []string   `json:"columns"`
	Rows    [][]string `json:"rows"`
}

// CellName names a cell as spreadsheets do: column and line from 0, so that (5, 13) is "F14".
func CellName(column, line int) string {
	name := ""
	for column++; column > 0; column = (column - 1) / 26 {
		name = string(rune('A'+(column-1)%26)) + name
	}
	return name + strconv.Itoa(line+1)
}

// Fault is one thing wrong in a table: where, what, and what to do.
type Fault struct {
	Sheet string `json:"sheet,omitempty"`
	Cell  string `json:"cell,omitempty"` // "F14"; empty: the whole sheet
	Say   string `json:"say"`
	Try   string `json:"try"`
}

// Error returns "zones!F14: what; what to do".
func (f Fault) Error() string {
	where := strings.Trim(f.Sheet+"!"+f.Cell, "!")
	if where != "" {
		where += ": "
	}
	if f.Try == "" {
		return where + f.Say
	}
	return where + f.Say + "; " + f.Try
}

// Faults are all faults of a file, in its order, at most MaxFaults.
type Faults []Fault

// Error returns one fault a line.
func (f Faults) Error() string {
	lines := make([]string, len(f))
	for i, one := range f {
		lines[i] = one.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap gives the single faults to errors.As.
func (f Faults) Unwrap() []error {
	errs := make([]error, len(f))
	for i, one := range f {
		errs[i] = one
	}
	return errs
}

// TooLarge is the fault of a file or sheet past a limit.
func TooLarge(lang *words.Language, sheet, cell string) Faults {
	return Faults{{
		sheet, cell, lang.Say("this is more than a table may hold"),
		lang.Say("at most %d rows, %d columns, %d characters a cell and %d MB: leave out what is not wanted", MaxRows, MaxColumns, MaxCell, MaxFile/1_000_000),
	}}
}
