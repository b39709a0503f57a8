package server

import (
	"errors"
	"net/http"

	"proofbell/internal/app"
	"proofbell/internal/drawing"
	"proofbell/internal/words"
	"proofbell/panel"
)

// profileIn reads and checks a panel profile, YAML or JSON. It changes nothing: taking the profile into the job is an entry
// like any other. What is wrong with the profile is an answer, not an error.
func (s *server) profileIn(w http.ResponseWriter, r *http.Request) {
	if _, _, err := s.App.Key(jobID(r)); err != nil {
		s.fail(w, r, err)
		return
	}
	raw, err := readBody(w, r, panel.MaxFile)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	lang := words.In(r.URL.Query().Get("lang"))
	p, err := panel.Decode("profile", raw)
	var wrong panel.Mistakes
	if errors.As(err, &wrong) {
		type fault struct {
			Line   int    `json:"line,omitempty"`
			Column int    `json:"column,omitempty"`
			Say    string `json:"say"`
		}
		faults := make([]fault, len(wrong))
		for i, m := range wrong {
			faults[i] = fault{m.Line, m.Column, words.Upper(m.Say.In(lang))}
		}
		s.answer(w, r, http.StatusOK, map[string]any{"faults": faults})
		return
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.answer(w, r, http.StatusOK, map[string]any{"profile": p, "report": p.Report(lang), "drawing": drawing.DialogueOf(lang, p)})
}

// profileOut says what a profile of a job covers, its own or a built-in one, and draws its dialogue.
func (s *server) profileOut(w http.ResponseWriter, r *http.Request) {
	state, err := s.App.State(jobID(r))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	name := r.PathValue("name")
	p := state.Profiles[name]
	if p == nil {
		if p, err = panel.Builtin(name); err != nil {
			s.fail(w, r, app.ErrNotFound)
			return
		}
	}
	lang := words.In(r.URL.Query().Get("lang"))
	picture := drawing.DialogueOf(lang, p)
	if r.URL.Query().Get("as") != "svg" {
		s.answer(w, r, http.StatusOK, map[string]any{"report": p.Report(lang), "drawing": picture})
		return
	}
	w.Header().Set("Content-Type", "image/svg+xml")
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Content-Disposition", "attachment; filename=\"dialogue.svg\"")
	if _, err := w.Write(picture.SVG()); err != nil {
		s.Log.Debug("writing a drawing", "err", err)
	}
}
