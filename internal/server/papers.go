package server

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/records"
	"proofbell/internal/words"
)

// draft makes a document as the job stands. The file is named by kind and format: zone-list.pdf.
func (s *server) draft(w http.ResponseWriter, r *http.Request) {
	kind, format, _ := strings.Cut(r.PathValue("file"), ".")
	q := r.URL.Query()
	zones := strings.FieldsFunc(q.Get("zones"), func(r rune) bool { return r == ',' })
	d, err := s.App.Draft(r.Context(), jobID(r), app.Ask{Zones: zones, Kind: kind, Format: format, Lang: q.Get("lang"), Units: q.Get("units"), Sheet: q.Get("sheet"), Day: q.Get("day")}, s.Paper)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.document(w, r, d)
}

// issue gives documents out: all that are asked for, of one state of the job, or none.
func (s *server) issue(w http.ResponseWriter, r *http.Request) {
	raw, err := readBody(w, r, 65536)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	var sent struct {
		Papers []app.Ask `json:"papers"`
	}
	if err := json.Unmarshal(raw, &sent); err != nil {
		s.fail(w, r, &app.Problem{Code: app.BadRequest, Say: words.Mark("It can not be read which documents are wanted."), Try: words.Mark(`Send {"papers": [{"kind": "zone-list", "format": "pdf"}]}.`), Err: err})
		return
	}
	entries, err := s.App.Issue(r.Context(), jobID(r), who(r), sent.Papers, s.Paper)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.answer(w, r, http.StatusCreated, map[string]any{"entries": entries})
}

// given is a document as it was given out.
func (s *server) given(w http.ResponseWriter, r *http.Request) {
	d, err := s.App.Given(r.Context(), jobID(r), evidence.EntryID(r.PathValue("entry")))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.document(w, r, d)
}

func (s *server) document(w http.ResponseWriter, r *http.Request, d app.Document) {
	w.Header().Set("Content-Type", records.Media[d.Body.Format])
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", d.Name))
	if _, err := w.Write(d.Raw); err != nil {
		s.Log.Debug("writing a document", "path", r.URL.Path, "err", err)
	}
}
