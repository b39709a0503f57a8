// Package sheets writes plain tables as XLSX (ISO/IEC 29500, a spreadsheet) and reads them back. Every cell is written as
// text, so that 09 stays 09 and nothing is computed; what is read is bounded before it is kept.
package sheets

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"proofbell/internal/tables"
)

// The widest and narrowest column, in characters.
const widest, narrowest = 60, 8

// WriteXLSX writes one sheet a table, headings bold and held in place above the rows. The same tables give the same bytes.
// Table names are sheet names: at most 31 letters, none of []:*?/\ in them.
func WriteXLSX(w io.Writer, all ...tables.Table) error {
	if len(all) == 0 {
		return errors.New("writing a spreadsheet: there is no table")
	}
	f := excelize.NewFile()
	defer func() { _ = f.Close() }()
	err := f.SetDocProps(&excelize.DocProperties{Creator: "Proofbell", LastModifiedBy: "Proofbell", Created: "2000-01-01T00:00:00Z", Modified: "2000-01-01T00:00:00Z"})
	err = errors.Join(err, f.SetAppProps(&excelize.AppProperties{Application: "Proofbell"}))
	textFormat := 49 // "@", ISO/IEC 29500-1, 18.8.30
	text, err1 := f.NewStyle(&excelize.Style{NumFmt: textFormat, Alignment: &excelize.Alignment{Vertical: "top", WrapText: true}})
	head, err2 := f.NewStyle(&excelize.Style{NumFmt: textFormat, Font: &excelize.Font{Bold: true}, Alignment: &excelize.Alignment{Vertical: "top", WrapText: true}})
	if err = errors.Join(err, err1, err2); err != nil {
		return fmt.Errorf("writing a spreadsheet: %w", err)
	}
	for i, t := range all {
		if i == 0 {
			err = f.SetSheetName("Sheet1", t.Name)
		} else {
			_, err = f.NewSheet(t.Name)
		}
		if err == nil {
			err = writeSheet(f, t, head, text)
		}
		if err != nil {
			return fmt.Errorf("writing sheet %s: %w", t.Name, err)
		}
	}
	packed, err := f.WriteToBuffer()
	if err != nil {
		return fmt.Errorf("writing a spreadsheet: %w", err)
	}
	if err := inOrder(w, packed.Bytes()); err != nil {
		return fmt.Errorf("writing a spreadsheet: %w", err)
	}
	return nil
}

// inOrder packs the parts again, by name: the library packs them in any order.
func inOrder(w io.Writer, packed []byte) error {
	in, err := zip.NewReader(bytes.NewReader(packed), int64(len(packed)))
	if err != nil {
		return err
	}
	slices.SortFunc(in.File, func(a, b *zip.File) int { return strings.Compare(a.Name, b.Name) })
	out := zip.NewWriter(w)
	for _, part := range in.File {
		if err := out.Copy(part); err != nil {
			return err
		}
	}
	return out.Close()
}

func writeSheet(f *excelize.File, t tables.Table, head, text int) error {
	out, err := f.NewStreamWriter(t.Name)
	if err != nil {
		return err
	}
	for i := range t.Columns {
		if err := out.SetColWidth(i+1, i+1, float64(columnWidth(t, i))); err != nil {
			return err
		}
		// Empty cells are text as well: what somebody types there stays as typed.
		if err := out.SetColStyle(i+1, i+1, text); err != nil {
			return err
		}
	}
	if err := out.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return err
	}
	for i, row := range append([][]string{t.Columns}, t.Rows...) {
		style := text
		if i == 0 {
			style = head
		}
		cells := make([]any, len(t.Columns))
		for j := range cells {
			cell := excelize.Cell{StyleID: style}
			if j < len(row) && row[j] != "" {
				cell.Value = printable(row[j])
			}
			cells[j] = cell
		}
		if err := out.SetRow(tables.CellName(0, i), cells); err != nil {
			return err
		}
	}
	return out.Flush()
}

// printable leaves out what XML can not hold (XML 1.0, section 2.2).
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' && r != '\t' && r != '\n' || r == 0xfffe || r == 0xffff || r == utf8.RuneError {
			return -1
		}
		return r
	}, s)
}

func columnWidth(t tables.Table, column int) int {
	width := narrowest
	for _, row := range append([][]string{t.Columns}, t.Rows...) {
		if column < len(row) {
			for line := range strings.Lines(row[column]) {
				width = max(width, utf8.RuneCountInString(line)+2)
			}
		}
	}
	return min(width, widest)
}
