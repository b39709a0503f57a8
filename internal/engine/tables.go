package engine

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"

	"proofbell/evidence"
	"proofbell/internal/tables"
	"proofbell/internal/words"
	"proofbell/site"
)

// TableRead is what tables would change in a job: looked at first, applied as one edit.
type TableRead struct {
	Patch   json.RawMessage `json:"patch"` // null when nothing changes or something is wrong
	Changes []CellChange    `json:"changes"`
	Notes   []string        `json:"notes"`
	Faults  []tables.Fault  `json:"faults"` // nothing is applied while there is one
}

// CellChange is one change with the cell that it comes from.
type CellChange struct {
	Cell string `json:"cell"` // "zones!F14"
	Change
}

// TableText is a table as CSV.
type TableText struct {
	Name string `json:"name"`
	Text string `json:"text"`
}

// tableArg is the argument of the calls about tables.
type tableArg struct {
	Job    evidence.JobID `json:"job"`
	Lang   string         `json:"lang"`
	Name   string         `json:"name"`   // of the table, or of the file that was read
	CSV    *string        `json:"csv"`    // a file
	Tables []tables.Table `json:"tables"` // as the server read them from a spreadsheet
}

func (e *Engine) writeTable(argument []byte) (any, error) {
	arg, err := read[tableArg](argument)
	if err != nil {
		return nil, err
	}
	h, err := e.book(arg.Job)
	if err != nil {
		return nil, err
	}
	lang := words.In(arg.Lang)
	for i, t := range tables.Of(lang, h.current().State.Site) {
		if tables.Names()[i] == arg.Name {
			var b bytes.Buffer
			if err := tables.WriteCSV(&b, t); err != nil {
				return nil, err
			}
			return TableText{t.Name, b.String()}, nil
		}
	}
	return nil, &Problem{Code: "not-found", Say: lang.Say("There is no table %q.", arg.Name), Try: lang.Say("Choose one of: %s.", strings.Join(tables.Names(), ", "))}
}

func (e *Engine) readTable(argument []byte) (any, error) {
	arg, err := read[tableArg](argument)
	if err != nil {
		return nil, err
	}
	h, err := e.book(arg.Job)
	if err != nil {
		return nil, err
	}
	lang := words.In(arg.Lang)
	all := arg.Tables
	if arg.CSV != nil {
		t, err := tables.ReadCSV(lang, arg.Name, []byte(*arg.CSV))
		var faults tables.Faults
		if errors.As(err, &faults) {
			return TableRead{Changes: []CellChange{}, Notes: []string{}, Faults: faults}, nil
		}
		all = []tables.Table{t}
	}
	return ReadTables(lang, h.current().State.Site, all)
}

// ReadTables says what tables change in a site, cell by cell.
func ReadTables(lang *words.Language, s *site.Site, all []tables.Table) (TableRead, error) {
	out := TableRead{Changes: []CellChange{}, Notes: []string{}, Faults: []tables.Fault{}}
	edit, err := tables.Read(lang, s, all)
	var faults tables.Faults
	switch {
	case errors.As(err, &faults):
		out.Faults = faults
		return out, nil
	case err != nil:
		return out, err
	}
	out.Notes = edit.Notes
	for _, c := range Changes(lang, s, edit.Patch) {
		out.Changes = append(out.Changes, CellChange{edit.Cells[c.Path], c})
	}
	if len(out.Changes) > 0 {
		out.Patch = edit.Patch
	}
	return out, nil
}
