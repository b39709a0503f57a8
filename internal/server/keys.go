package server

import (
	"encoding/json"
	"errors"
	"net/http"

	"proofbell/internal/app"
	"proofbell/internal/words"
)

// maxKey bounds the body that holds a transmission key, bytes.
const maxKey = 4 << 10

// hasKey tells whether the job has a transmission key; the key itself is only in the answer of showKey.
func (s *server) hasKey(w http.ResponseWriter, r *http.Request) {
	has, encryptedOnly, err := s.App.HasTransmissionKey(jobID(r))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.answer(w, r, http.StatusOK, map[string]any{"has": has, "encryptedOnly": encryptedOnly})
}

func (s *server) setKey(w http.ResponseWriter, r *http.Request) {
	raw, err := readBody(w, r, maxKey)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	var key app.TransmissionKey
	if json.Unmarshal(raw, &key) != nil { // the fault might repeat what was typed
		s.fail(w, r, &app.Problem{Code: app.BadRequest, Say: words.Mark("The transmission key did not come whole."), Try: words.Mark("Reload the page so that it matches the server."), Err: errors.New("not the JSON of a key")})
		return
	}
	if err := s.App.SetTransmissionKey(r.Context(), jobID(r), who(r), key); err != nil {
		s.fail(w, r, err)
		return
	}
	s.hasKey(w, r)
}

func (s *server) removeKey(w http.ResponseWriter, r *http.Request) {
	if err := s.App.RemoveTransmissionKey(r.Context(), jobID(r), who(r)); err != nil {
		s.fail(w, r, err)
		return
	}
	s.hasKey(w, r)
}

// showKey shows the key, and that it was shown is an entry.
func (s *server) showKey(w http.ResponseWriter, r *http.Request) {
	key, err := s.App.RevealTransmissionKey(r.Context(), jobID(r), who(r))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.answer(w, r, http.StatusOK, key)
}
