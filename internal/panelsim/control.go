package panelsim

import (
	"encoding/json"
	"io"
	"net/http"
)

// Handler lets the server of a demo, or a test, work the simulated panel and call the station. Routes: docs/format/wire.md.
func (p *Panel) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /api/demo/panel", func(w http.ResponseWriter, _ *http.Request) { answer(w, http.StatusOK, p.State()) })
	mux.HandleFunc("POST /api/demo/panel", func(w http.ResponseWriter, r *http.Request) {
		var c Command
		if !decode(w, r, &c) {
			return
		}
		if err := p.Do(c); err != nil {
			refuse(w, err.Error())
			return
		}
		answer(w, http.StatusOK, p.State())
	})
	mux.HandleFunc("GET /api/demo/station", func(w http.ResponseWriter, _ *http.Request) { answer(w, http.StatusOK, p.station.state()) })
	mux.HandleFunc("POST /api/demo/station", func(w http.ResponseWriter, r *http.Request) {
		var c Call
		if decode(w, r, &c) {
			answer(w, http.StatusOK, p.station.answer(c))
		}
	})
	return mux
}

func decode(w http.ResponseWriter, r *http.Request, into any) bool {
	raw, err := io.ReadAll(http.MaxBytesReader(w, r.Body, 64<<10))
	if err == nil {
		err = json.Unmarshal(raw, into)
	}
	if err != nil {
		refuse(w, "that can not be read: "+err.Error())
		return false
	}
	return true
}

func refuse(w http.ResponseWriter, say string) {
	answer(w, http.StatusBadRequest, map[string]any{"problem": map[string]string{"code": "bad-request", "say": say, "try": "See docs/format/wire.md, demo routes."}})
}

func answer(w http.ResponseWriter, code int, v any) {
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(code)
	_ = json.NewEncoder(w).Encode(v) // the other end is gone then
}
