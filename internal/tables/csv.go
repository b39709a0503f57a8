package tables

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"strings"
	"unicode/utf8"

	"proofbell/internal/words"
)

// byteOrderMark tells spreadsheets that the text is UTF-8.
const byteOrderMark = "\ufeff"

// WriteCSV writes a table as CSV (RFC 4180): UTF-8 with a byte order mark, commas, CRLF. A cell that a spreadsheet would
// take for a formula gets an apostrophe in front; ReadCSV takes it off again.
func WriteCSV(w io.Writer, t Table) error {
	if _, err := io.WriteString(w, byteOrderMark); err != nil {
		return err
	}
	out := csv.NewWriter(w)
	out.UseCRLF = true
	for _, row := range append([][]string{t.Columns}, t.Rows...) {
		line := make([]string, len(t.Columns))
		for i := range line {
			if i < len(row) {
				// The reader of CSV makes a line feed of CRLF inside quotes, whoever wrote it.
				line[i] = guard(strings.ReplaceAll(strings.ReplaceAll(row[i], "\r\n", "\n"), "\r", "\n"))
			}
		}
		// A line of one empty cell would be an empty line, which readers skip.
		if len(line) == 1 && line[0] == "" {
			out.Flush()
			if _, err := io.WriteString(w, "\"\"\r\n"); err != nil {
				return err
			}
			continue
		}
		if err := out.Write(line); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// ReadCSV reads a table written by WriteCSV or saved by a spreadsheet: separated by comma, semicolon or tab, whichever
// the headings hold most. name becomes the table's name. The error is Faults.
func ReadCSV(lang *words.Language, name string, raw []byte) (Table, error) {
	t := Table{Name: name}
	if len(raw) > MaxFile {
		return t, TooLarge(lang, name, "")
	}
	text := strings.TrimPrefix(string(raw), byteOrderMark)
	if !utf8.ValidString(text) || strings.ContainsRune(text, 0) {
		return t, Faults{{name, "", lang.Say("this is not a text in UTF-8"), lang.Say("save it as CSV in UTF-8")}}
	}
	in := csv.NewReader(bytes.NewReader([]byte(text)))
	in.Comma = separator(text)
	in.FieldsPerRecord = -1
	for line := 0; ; line++ { // of the sheet, from 0
		// An empty line keeps its place on the sheet; csv skips it.
		rest := text[in.InputOffset():]
		for ; line > 0 && line <= MaxRows && (strings.HasPrefix(rest, "\n") || strings.HasPrefix(rest, "\r\n")); line++ {
			_, rest, _ = strings.Cut(rest, "\n")
			t.Rows = append(t.Rows, nil)
		}
		row, err := in.Read()
		if errors.Is(err, io.EOF) {
			if line == 0 {
				return t, Faults{{name, "A1", lang.Say("the table is empty"), lang.Say("write the headings into the first line")}}
			}
			return t, nil
		}
		if err != nil {
			return t, Faults{{name, CellName(0, line), lang.Say("the quotes of this line do not close"), lang.Say("write a quote inside a cell twice")}}
		}
		for i, cell := range row {
			if i >= MaxColumns || len(cell) > MaxCell || line > MaxRows {
				return t, TooLarge(lang, name, CellName(i, line))
			}
			row[i] = unguard(cell)
		}
		if line == 0 {
			t.Columns = row
		} else {
			t.Rows = append(t.Rows, row)
		}
	}
}

// separator returns the sign that stands most often in the first line; a comma where none does.
func separator(text string) rune {
	head, _, _ := strings.Cut(text, "\n")
	best, most := ',', strings.Count(head, ",")
	for _, sign := range ";\t" {
		if n := strings.Count(head, string(sign)); n > most {
			best, most = sign, n
		}
	}
	return best
}

// guard puts an apostrophe before what a spreadsheet would compute: =, +, -, @ or a tab in front, wide forms included,
// spaces before them or not. Before one that has an apostrophe already, too, so that unguard knows.
func guard(cell string) string {
	if formula(cell) {
		return "'" + cell
	}
	return cell
}

// unguard is the inverse of guard.
func unguard(cell string) string {
	if rest, ok := strings.CutPrefix(cell, "'"); ok && formula(rest) {
		return rest
	}
	return cell
}

func formula(cell string) bool {
	rest := strings.TrimLeft(strings.TrimLeft(cell, "'"), " \r\n\u00a0")
	for _, sign := range []string{"=", "+", "-", "@", "\t", "|", "%", "＝", "＋", "－", "＠"} {
		if strings.HasPrefix(rest, sign) {
			return true
		}
	}
	return false
}
