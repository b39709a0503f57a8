// Package server answers the browser and other clients: JSON and event streams over the use cases of app, and the
// embedded front end. It is the only place that knows HTTP; the routes are written down in docs/format/wire.md.
package server

import (
	"context"
	"crypto/tls"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"time"

	"proofbell/internal/app"
	"proofbell/internal/words"
)

// Limits of request bodies, bytes.
const (
	maxBody = 8 << 20
	maxBlob = 65 << 20
	maxBook = 512 << 20
)

// Config is what a Server needs. App, Files and Log are required.
type Config struct {
	App       *app.App
	Files     fs.FS        // the built front end
	Paper     app.Maker    // makes documents
	Demo      http.Handler // the simulated panel and station, below /api/demo/; nil: no demo
	Version   string
	Signals   []string          // addresses that the receiver listens on; none: no receiver
	Receiving func() *Receiving // state of its sockets; nil, or a nil answer: no receiver
	Hosts     []string          // host names, beside loopback, that requests may name
	Lan       *Lan              // nil: this machine alone
	Log       *slog.Logger
}

// New returns the handler for requests of this machine: whoever sits at it is the lead.
func New(c Config) http.Handler {
	s := &server{Config: c}
	return s.guard(here(s.routes()))
}

// NewLan returns the handler for requests over the local network: each needs the session of a paired device.
func NewLan(c Config) http.Handler {
	s := &server{Config: c}
	return s.guard(s.paired(s.routes()))
}

func (s *server) routes() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /api/hello", s.hello)
	mux.HandleFunc("GET /api/jobs", s.jobs)
	mux.HandleFunc("POST /api/jobs", s.lead(s.open))
	mux.HandleFunc("GET /api/jobs/{job}", s.job)
	mux.HandleFunc("PUT /api/jobs/{job}", s.lead(s.begin))
	mux.HandleFunc("GET /api/jobs/{job}/entries", s.entries)
	mux.HandleFunc("POST /api/jobs/{job}/entries", s.append)
	mux.HandleFunc("GET /api/jobs/{job}/events", s.events)
	mux.HandleFunc("GET /api/jobs/{job}/export", s.lead(s.export))
	mux.HandleFunc("GET /api/jobs/{job}/papers/{file}", s.lead(s.draft))
	mux.HandleFunc("POST /api/jobs/{job}/issued", s.lead(s.issue))
	mux.HandleFunc("GET /api/jobs/{job}/issued/{entry}", s.lead(s.given))
	mux.HandleFunc("POST /api/jobs/{job}/erase", s.lead(s.erase))
	mux.HandleFunc("GET /api/jobs/{job}/transmission-key", s.lead(s.hasKey))
	mux.HandleFunc("PUT /api/jobs/{job}/transmission-key", s.lead(s.setKey))
	mux.HandleFunc("DELETE /api/jobs/{job}/transmission-key", s.lead(s.removeKey))
	mux.HandleFunc("POST /api/jobs/{job}/transmission-key/shown", s.lead(s.showKey))
	mux.HandleFunc("PUT /api/jobs/{job}/blobs/{address}", s.putBlob)
	mux.HandleFunc("GET /api/jobs/{job}/blobs/{address}", s.blob)
	mux.HandleFunc("GET /api/jobs/{job}/tables.xlsx", s.tablesOut)
	mux.HandleFunc("POST /api/jobs/{job}/tables.xlsx", s.tablesIn)
	mux.HandleFunc("POST /api/jobs/{job}/profile", s.profileIn)
	mux.HandleFunc("GET /api/jobs/{job}/profiles/{name}", s.profileOut)
	mux.HandleFunc("POST /api/import", s.lead(s.imports))
	mux.HandleFunc("GET /api/inbox", s.inbox)
	mux.HandleFunc("GET /api/receiver", s.lead(s.receiverState))
	mux.HandleFunc("GET /api/receiver/frames", s.lead(s.frames))
	mux.HandleFunc("GET /api/receiver/frames/{n}", s.lead(s.frame))
	mux.HandleFunc("GET /api/receiver/events", s.lead(s.receiverEvents))
	mux.HandleFunc("GET /api/stickers/{token}", s.sticker)
	if s.Demo != nil {
		mux.Handle("/api/demo/", s.Demo)
		mux.HandleFunc("POST /api/demo/station", s.lead(s.Demo.ServeHTTP)) // on test and off test are the lead's
	}
	if s.Lan != nil {
		mux.HandleFunc("POST /api/pair", s.pair)
		mux.HandleFunc("POST /api/pairing", s.lead(s.newCode))
		mux.HandleFunc("GET /api/devices", s.lead(s.devices))
		mux.HandleFunc("POST /api/devices/{device}/remove", s.lead(s.removeDevice))
	}
	mux.HandleFunc("/api/", func(w http.ResponseWriter, r *http.Request) { s.fail(w, r, app.ErrNotFound) })
	mux.Handle("/", files(s.Files))
	cross := http.NewCrossOriginProtection()
	cross.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.fail(w, r, &app.Problem{Code: app.NotAllowed, Say: words.Mark("Another page tried to change something here."), Try: words.Mark("Open Proofbell by its own address.")})
	}))
	return cross.Handler(mux)
}

type server struct{ Config }

// guard refuses requests that name another host (a page elsewhere whose name was pointed here) and sets the policies.
func (s *server) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !s.hostAllowed(r.Host) {
			s.fail(w, r, (&app.Problem{Code: app.NotAllowed, Try: words.Mark("Open it by the address that it printed when it started.")}).With(words.Later("This server does not answer to the name %s.", r.Host), words.Text{}))
			return
		}
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; object-src 'none'; base-uri 'none'; frame-ancestors 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		next.ServeHTTP(w, r)
	})
}

func (s *server) hostAllowed(host string) bool {
	name := host
	if h, _, err := net.SplitHostPort(host); err == nil {
		name = h
	}
	name = strings.Trim(name, "[]")
	if ip := net.ParseIP(name); ip != nil && ip.IsLoopback() || strings.EqualFold(name, "localhost") {
		return true
	}
	for _, h := range s.Hosts {
		if strings.EqualFold(h, name) {
			return true
		}
	}
	return false
}

var status = map[app.Code]int{
	app.BadRequest: http.StatusBadRequest, app.NotFound: http.StatusNotFound, app.Clash: http.StatusConflict, app.TooLarge: http.StatusRequestEntityTooLarge,
	app.NotAllowed: http.StatusForbidden, app.StorageFull: http.StatusInsufficientStorage, app.Busy: http.StatusServiceUnavailable, app.ErasedJob: http.StatusGone,
	app.Internal: http.StatusInternalServerError, app.NotPaired: http.StatusUnauthorized,
}

// fail answers with a problem. What went wrong inside goes to the log, never to the screen.
func (s *server) fail(w http.ResponseWriter, r *http.Request, err error) {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		err = &app.Problem{Code: app.TooLarge, Say: words.Mark("That is more than this server takes at once."), Try: words.Mark("Send it in smaller parts."), Err: err}
	}
	p := app.AsProblem(err)
	if p.Code == app.Internal || p.Code == app.StorageFull {
		s.Log.Error("request failed", "method", r.Method, "path", r.URL.Path, "err", err)
	}
	s.answer(w, r, status[p.Code], map[string]any{"problem": p.In(spoken(r))})
}

// spoken is the language that a request asks for first. An event stream can not choose its headers: it says lang=de.
func spoken(r *http.Request) *words.Language {
	if tag := r.URL.Query().Get("lang"); tag != "" {
		return words.In(tag)
	}
	first, _, _ := strings.Cut(r.Header.Get("Accept-Language"), ",")
	tag, _, _ := strings.Cut(first, ";")
	return words.In(strings.TrimSpace(tag))
}

func (s *server) answer(w http.ResponseWriter, r *http.Request, code int, v any) {
	raw, err := json.Marshal(v)
	if err != nil {
		s.Log.Error("writing an answer", "path", r.URL.Path, "err", err)
		http.Error(w, "internal error", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(code)
	if _, err := w.Write(append(raw, '\n')); err != nil && r.Context().Err() == nil {
		s.Log.Debug("writing an answer", "path", r.URL.Path, "err", err)
	}
}

func readBody(w http.ResponseWriter, r *http.Request, limit int64) ([]byte, error) {
	return io.ReadAll(limited(w, r, limit))
}

// limited is a body that may be so long, and must come within patience.
func limited(w http.ResponseWriter, r *http.Request, limit int64) io.ReadCloser {
	_ = http.NewResponseController(w).SetReadDeadline(time.Now().Add(patience)) // not every writer has one: then there is none
	return http.MaxBytesReader(w, r.Body, limit)
}

// patience is how long a client may take to send a request or to take an answer.
const patience = 10 * time.Minute

// ending is the key of a context value: a channel that closes when the server is to end.
type ending struct{}

// Serve runs the handler on a listener until ctx ends. Event streams end then at once; other requests may finish for a while.
func Serve(ctx context.Context, l net.Listener, h http.Handler, log *slog.Logger) error {
	return untilEnd(ctx, h, log, func(srv *http.Server) error { return srv.Serve(l) })
}

// ServeTLS does the same over TLS.
func ServeTLS(ctx context.Context, l net.Listener, config *tls.Config, h http.Handler, log *slog.Logger) error {
	return untilEnd(ctx, h, log, func(srv *http.Server) error {
		srv.TLSConfig = config
		return srv.ServeTLS(l, "", "")
	})
}

func untilEnd(ctx context.Context, h http.Handler, log *slog.Logger, run func(*http.Server) error) error {
	base := context.WithValue(context.WithoutCancel(ctx), ending{}, ctx.Done())
	srv := &http.Server{
		Handler: h, ReadHeaderTimeout: 10 * time.Second, WriteTimeout: patience, IdleTimeout: 2 * time.Minute,
		BaseContext: func(net.Listener) context.Context { return base },
		ErrorLog:    slog.NewLogLogger(log.Handler(), slog.LevelWarn),
	}
	done := make(chan error, 1)
	go func() { done <- run(srv) }()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
	}
	grace, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
	defer cancel()
	err := srv.Shutdown(grace)
	if served := <-done; !errors.Is(served, http.ErrServerClosed) {
		err = errors.Join(err, served)
	}
	return err
}
