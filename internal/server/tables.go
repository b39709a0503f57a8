package server

import (
	"bytes"
	"errors"
	"net/http"

	"proofbell/internal/app"
	"proofbell/internal/sheets"
	"proofbell/internal/tables"
	"proofbell/internal/words"
)

// tablesOut writes zones, devices, rooms and heads of a job as a spreadsheet.
func (s *server) tablesOut(w http.ResponseWriter, r *http.Request) {
	state, err := s.App.State(jobID(r))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	var file bytes.Buffer
	if err := sheets.WriteXLSX(&file, tables.Of(words.In(r.URL.Query().Get("lang")), state.Site)...); err != nil {
		s.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet")
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Content-Disposition", "attachment; filename=\"tables.xlsx\"")
	if _, err := w.Write(file.Bytes()); err != nil {
		s.Log.Debug("writing a spreadsheet", "err", err)
	}
}

// tablesIn reads a spreadsheet into tables. It changes nothing: the browser's engine says what they change, and the edit is
// an entry like any other.
func (s *server) tablesIn(w http.ResponseWriter, r *http.Request) {
	if _, _, err := s.App.Key(jobID(r)); err != nil {
		s.fail(w, r, err)
		return
	}
	raw, err := readBody(w, r, tables.MaxFile)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	lang := words.In(r.URL.Query().Get("lang"))
	read, err := sheets.ReadXLSX(lang, raw)
	var faults tables.Faults
	if errors.As(err, &faults) {
		s.answer(w, r, http.StatusBadRequest, map[string]any{
			"problem": app.Problem{Code: app.BadRequest, Say: lang.Say("The spreadsheet can not be read as it is."), Try: lang.Say("Mend the cells named below and choose it again.")},
			"faults":  faults,
		})
		return
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if read.Notes == nil {
		read.Notes = []string{}
	}
	s.answer(w, r, http.StatusOK, map[string]any{"tables": read.Tables, "notes": read.Notes})
}
