package server

import (
	"bufio"
	"bytes"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/book"
	"proofbell/internal/store"
	"proofbell/signal"
)

// client speaks to a server over real TCP.
type client struct {
	t    *testing.T
	app  *app.App
	base string
}

func serve(t *testing.T) *client {
	t.Helper()
	dir := t.TempDir()
	books, err := store.Open(context.Background(), dir, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	inbox, err := store.OpenInbox(context.Background(), dir, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	log := slog.New(slog.NewTextHandler(io.Discard, nil))
	a, err := app.New(context.Background(), app.Config{Store: books, Inbox: inbox, Now: time.Now, Random: rand.Reader, Log: log})
	if err != nil {
		t.Fatal(err)
	}
	files := fstest.MapFS{
		"index.html": {Data: []byte("<p>page")}, "assets/app.js": {Data: []byte("plain")},
		"assets/app.js.br": {Data: []byte("brotli")}, "assets/app.js.gz": {Data: []byte("gzip")},
	}
	srv := httptest.NewServer(New(Config{
		App: a, Files: files, Version: "test", Signals: []string{"127.0.0.1:5090"}, Log: log,
		Paper: func(_ context.Context, state *book.State, _ *evidence.JobKey, ask app.Ask) (app.Document, error) {
			if ask.Kind != "zone-list" {
				return app.Document{}, &app.Problem{Code: app.NotFound, Say: "There is no such document.", Try: "Choose another."}
			}
			raw := fmt.Appendf(nil, "%%PDF- of entry %d", state.Seq)
			return app.Document{Name: "zone-list.pdf", Raw: raw, Body: book.IssuedBody{What: ask.Kind, For: "station", Format: ask.Format, Seq: state.Seq}}, nil
		},
	}))
	t.Cleanup(func() {
		srv.Close()
		if err := errors.Join(inbox.Close(), books.Close()); err != nil {
			t.Error(err)
		}
	})
	return &client{t, a, srv.URL}
}

// answer is what came back.
type answer struct {
	status int
	header http.Header
	body   string
}

func (c *client) do(method, path, body string, header ...string) answer {
	c.t.Helper()
	req, err := http.NewRequestWithContext(c.t.Context(), method, c.base+path, strings.NewReader(body))
	if err != nil {
		c.t.Fatal(err)
	}
	for i := 0; i+1 < len(header); i += 2 {
		if req.Header.Set(header[i], header[i+1]); header[i] == "Host" {
			req.Host = header[i+1]
		}
	}
	tr := &http.Transport{DisableCompression: true, DisableKeepAlives: true}
	resp, err := tr.RoundTrip(req)
	if err != nil {
		c.t.Fatal(err)
	}
	defer resp.Body.Close()
	raw, err := io.ReadAll(resp.Body)
	if err != nil {
		c.t.Fatal(err)
	}
	return answer{resp.StatusCode, resp.Header, string(raw)}
}

// want tests status and, for problems, the code.
func (c *client) want(a answer, status int, code app.Code) {
	c.t.Helper()
	var got struct {
		Problem *app.Problem `json:"problem"`
	}
	if code != "" {
		if err := json.Unmarshal([]byte(a.body), &got); err != nil || got.Problem == nil || got.Problem.Code != code || got.Problem.Say == "" || got.Problem.Try == "" {
			c.t.Errorf("answer %d %s, want problem %s with sentence and next step", a.status, a.body, code)
		}
	}
	if a.status != status {
		c.t.Errorf("status %d %s, want %d", a.status, a.body, status)
	}
}

func parsed[T any](t *testing.T, a answer) (v T) {
	t.Helper()
	if err := json.Unmarshal([]byte(a.body), &v); err != nil {
		t.Fatalf("%s: %v", a.body, err)
	}
	return v
}

const yaml = "name: Mill\naccount: {number: \"4816\"}\npeople: {ann: {name: Ann Ferrymann}}\n"

func (c *client) open() evidence.JobID {
	c.t.Helper()
	a := c.do("POST", "/api/jobs", yaml, "Content-Type", "application/yaml")
	c.want(a, http.StatusCreated, "")
	job := parsed[struct{ Job evidence.JobID }](c.t, a).Job
	if a.header.Get("Location") != "/api/jobs/"+string(job) {
		c.t.Errorf("location %q", a.header.Get("Location"))
	}
	return job
}

// note is a content for the outbox, sealed as a browser does.
func (c *client) note(job evidence.JobID, text string) evidence.Content {
	c.t.Helper()
	a := c.do("GET", "/api/jobs/"+string(job), "")
	got := parsed[struct {
		Key string
		Seq int64
	}](c.t, a)
	secret, err := base64.RawURLEncoding.DecodeString(got.Key)
	if err != nil {
		c.t.Fatal(err)
	}
	key, err := evidence.JobKeyFrom(secret)
	if err != nil {
		c.t.Fatal(err)
	}
	id, err := evidence.NewEntryID(time.Now(), rand.Reader)
	if err != nil {
		c.t.Fatal(err)
	}
	n, err := evidence.NewContent(job, id, time.Now(), "tamsin", evidence.KindNote, got.Seq, book.NoteBody{})
	if err == nil {
		n, err = evidence.SealPrivate(key, rand.Reader, n, book.NotePrivate{Text: text})
	}
	if err != nil {
		c.t.Fatal(err)
	}
	return n
}

func (c *client) send(job evidence.JobID, contents ...any) answer {
	c.t.Helper()
	raw, err := json.Marshal(map[string]any{"contents": contents})
	if err != nil {
		c.t.Fatal(err)
	}
	return c.do("POST", "/api/jobs/"+string(job)+"/entries", string(raw))
}

func TestAJobFromOpeningToExport(t *testing.T) {
	c := serve(t)
	job := c.open()
	note := c.note(job, "Ann is at home on Tuesdays")
	type results struct{ Results []app.Result }
	first := parsed[results](t, c.send(job, note)).Results[0]
	again := parsed[results](t, c.send(job, note)).Results[0]
	if first.Problem != nil || first.Seq != 2 || first != again {
		t.Errorf("first %+v, again %+v", first, again)
	}
	other := note
	other.By = "piet"
	if r := parsed[results](t, c.send(job, other)).Results[0]; r.Problem == nil || r.Problem.Code != app.Clash || r.ID != note.ID {
		t.Errorf("another content with this id: %+v", r)
	}
	if r := parsed[results](t, c.send(job, map[string]any{"id": note.ID, "kind": "note"})).Results[0]; r.Problem == nil || r.Problem.Code != app.BadRequest || r.ID != note.ID {
		t.Errorf("half a content: %+v", r)
	}
	foreign := note
	foreign.Job = c.open()
	if r := parsed[results](t, c.send(job, foreign)).Results[0]; r.Problem == nil || r.Problem.Code != app.BadRequest {
		t.Errorf("a content of another job: %+v", r)
	}
	page := parsed[struct {
		Entries []evidence.Entry
		Seq     int64
	}](t, c.do("GET", "/api/jobs/"+string(job)+"/entries?after=1&limit=5", ""))
	if len(page.Entries) != 1 || page.Entries[0].ID != note.ID || page.Seq != 2 {
		t.Errorf("entries %+v", page)
	}
	list := parsed[struct{ Jobs []app.Summary }](t, c.do("GET", "/api/jobs", ""))
	if len(list.Jobs) != 2 || list.Jobs[0].Job != foreign.Job || list.Jobs[1].Seq != 2 || list.Jobs[1].Name != "Mill" {
		t.Errorf("jobs %+v", list)
	}
	export := c.do("GET", "/api/jobs/"+string(job)+"/export", "")
	report, err := evidence.Verify(strings.NewReader(export.body), []evidence.Fingerprint{c.app.SigningFingerprint()})
	if err != nil || !report.Good() || report.Entries != 2 || strings.Contains(export.body, "Ferrymann") || strings.Contains(export.body, "Tuesdays") {
		t.Errorf("export: %+v, %v", report, err)
	}
	c.want(c.do("POST", "/api/import", export.body), http.StatusConflict, app.Clash)
	if moved := parsed[struct{ Job evidence.JobID }](t, serve(t).do("POST", "/api/import", export.body)); moved.Job != job {
		t.Errorf("taken in elsewhere as %s", moved.Job)
	}
}

func TestDocuments(t *testing.T) {
	c := serve(t)
	job := c.open()
	base := "/api/jobs/" + string(job)
	draft := c.do("GET", base+"/papers/zone-list.pdf", "")
	if draft.header.Get("Content-Type") != "application/pdf" || draft.header.Get("Cache-Control") != "no-store" || draft.body != "%PDF- of entry 1" {
		t.Errorf("draft: %v %q", draft.header, draft.body)
	}
	c.want(c.do("GET", base+"/papers/dance.pdf", ""), http.StatusNotFound, app.NotFound)
	c.want(c.do("POST", base+"/issued", `{"papers":[]}`), http.StatusBadRequest, app.BadRequest)
	c.want(c.do("POST", base+"/issued", `{"papers":[{"kind":"zone-list","format":"pdf"},{"kind":"dance","format":"pdf"}]}`), http.StatusNotFound, app.NotFound)
	issued := parsed[struct{ Entries []evidence.Entry }](t, c.do("POST", base+"/issued", `{"papers":[{"kind":"zone-list","format":"pdf"},{"kind":"zone-list","format":"csv"}]}`))
	if len(issued.Entries) != 2 || issued.Entries[0].Seq != 2 || issued.Entries[1].Seq != 3 || issued.Entries[0].Kind != evidence.KindIssued {
		t.Fatalf("issued: %+v", issued.Entries)
	}
	var body book.IssuedBody
	if err := json.Unmarshal(issued.Entries[0].Body, &body); err != nil || body.Sum != fmt.Sprintf("%x", sha256.Sum256([]byte("%PDF- of entry 1"))) || body.Seq != 1 {
		t.Errorf("issued: %+v, %v", body, err)
	}
	if given := c.do("GET", base+"/issued/"+string(issued.Entries[0].ID), ""); given.body != "%PDF- of entry 1" || given.header.Get("Content-Type") != "application/pdf" || !strings.Contains(given.header.Get("Content-Disposition"), "-zone-list-1.pdf") {
		t.Errorf("given: %v %q", given.header, given.body)
	}
	c.want(c.do("GET", base+"/issued/"+string(job), ""), http.StatusNotFound, app.NotFound)
}

func TestASticker(t *testing.T) {
	c := serve(t)
	c.open()
	a := c.do("POST", "/api/jobs", "sticker: AAAA-0001\ndevices: {hall: {sticker: 7K2M-Q4XP}}\n", "Content-Type", "application/yaml")
	job := parsed[struct{ Job evidence.JobID }](t, a).Job
	for token, about := range map[string]string{"AAAA-0001": "", "7k2mq4xp": "/devices/hall"} {
		got := parsed[struct {
			Job   evidence.JobID
			About string
		}](t, c.do("GET", "/api/stickers/"+token, ""))
		if got.Job != job || got.About != about {
			t.Errorf("%s: %+v", token, got)
		}
	}
}

func TestASiteFileWithFaultsNamesEachPlace(t *testing.T) {
	c := serve(t)
	a := c.do("POST", "/api/jobs", "name: Mill\nzoness: {}\naccount: {number: [1]}\n", "Content-Type", "application/yaml")
	c.want(a, http.StatusBadRequest, app.BadRequest)
	got := parsed[struct {
		Faults []struct {
			Line, Column   int
			Path, Say, Try string
		}
	}](t, a)
	if len(got.Faults) != 2 || got.Faults[0].Line != 2 || got.Faults[1].Line != 3 || got.Faults[0].Say == "" || got.Faults[0].Try == "" {
		t.Errorf("faults %+v", got.Faults)
	}
	german := string(c.do("POST", "/api/jobs", "zoness: {}\n", "Content-Type", "application/yaml", "Accept-Language", "de").body)
	for _, want := range []string{"Die Objektdatei", "„zoness“ gibt es nicht in: das Objekt", "war „zones“ gemeint?"} {
		if !strings.Contains(german, want) {
			t.Errorf("in German: %s, want %q", german, want)
		}
	}
	if jobs := parsed[struct{ Jobs []app.Summary }](t, c.do("GET", "/api/jobs", "")); len(jobs.Jobs) != 0 {
		t.Error("a job was opened all the same")
	}
	c.want(c.do("POST", "/api/jobs", yaml, "Content-Type", "text/plain"), http.StatusBadRequest, app.BadRequest)
	c.want(c.do("POST", "/api/jobs", yaml), http.StatusBadRequest, app.BadRequest)
	c.want(c.do("POST", "/api/jobs", `{"name":"Mill"}`, "Content-Type", "application/json; charset=utf-8"), http.StatusCreated, "")
}

func TestWhatIsNotThereOrNotReadable(t *testing.T) {
	c := serve(t)
	job := string(c.open())
	address := strings.Repeat("0", 64)
	for _, tt := range []struct {
		method, path, body string
		status             int
		code               app.Code
	}{
		{"GET", "/api/nothing", "", 404, app.NotFound},
		{"GET", "/api/jobs/not-an-id", "", 404, app.NotFound},
		{"GET", "/api/jobs/..%2f..%2fetc/entries", "", 404, app.NotFound},
		{"GET", "/api/jobs/not-an-id/entries", "", 404, app.NotFound},
		{"GET", "/api/jobs/not-an-id/events", "", 404, app.NotFound},
		{"GET", "/api/jobs/not-an-id/export", "", 404, app.NotFound},
		{"POST", "/api/jobs/not-an-id/entries", `{"contents":[{}]}`, 404, app.NotFound},
		{"GET", "/api/jobs/" + job + "/entries?after=x", "", 400, app.BadRequest},
		{"GET", "/api/jobs/" + job + "/entries?limit=-1", "", 400, app.BadRequest},
		{"POST", "/api/jobs/" + job + "/entries", `{"contents":[]}`, 400, app.BadRequest},
		{"POST", "/api/jobs/" + job + "/entries", `nonsense`, 400, app.BadRequest},
		{"GET", "/api/jobs/" + job + "/blobs/" + address, "", 404, app.NotFound},
		{"GET", "/api/jobs/" + job + "/blobs/x", "", 404, app.NotFound},
		{"PUT", "/api/jobs/" + job + "/blobs/" + address, "bytes", 400, app.BadRequest},
		{"PUT", "/api/jobs/" + job + "/blobs/x", "bytes", 400, app.BadRequest},
		{"POST", "/api/jobs/" + job + "/erase", `{"name":"Mil"}`, 403, app.NotAllowed},
		{"POST", "/api/import", "not a book", 400, app.BadRequest},
		{"GET", "/api/stickers/7K2M-Q4XP", "", 404, app.NotFound},
		{"GET", "/api/stickers/front-door", "", 400, app.BadRequest},
		{"POST", "/api/jobs/" + job + "/entries", strings.Repeat(" ", maxBody+1), 413, app.TooLarge},
	} {
		t.Run(tt.method+" "+tt.path, func(t *testing.T) {
			c := &client{t, c.app, c.base}
			c.want(c.do(tt.method, tt.path, tt.body), tt.status, tt.code)
		})
	}
}

// Another page must neither reach the server under a name of its own nor change anything from where it is.
func TestOtherPagesAreKeptOut(t *testing.T) {
	c := serve(t)
	port := c.base[strings.LastIndexByte(c.base, ':'):]
	for host, status := range map[string]int{
		"127.0.0.1" + port: 200, "localhost" + port: 200, "LOCALHOST": 200, "[::1]" + port: 200, "127.8.9.1": 200,
		"evil.example" + port: 403, "localhost.evil.example": 403, "192.168.1.7" + port: 403, "127.0.0.1.evil.example": 403, "0.0.0.0" + port: 403,
	} {
		for _, path := range []string{"/api/hello", "/"} {
			if a := c.do("GET", path, "", "Host", host, "Accept", "text/html"); a.status != status {
				t.Errorf("%s as %s: %d, want %d", path, host, a.status, status)
			}
		}
	}
	for _, tt := range []struct {
		name   string
		header []string
		status int
	}{
		{"no browser", nil, 201},
		{"own page", []string{"Origin", c.base, "Sec-Fetch-Site", "same-origin"}, 201},
		{"another site", []string{"Origin", "https://evil.example", "Sec-Fetch-Site", "cross-site"}, 403},
		{"another port of this machine", []string{"Origin", "http://localhost:9999", "Sec-Fetch-Site", "same-site"}, 403},
		{"an old browser on another site", []string{"Origin", "https://evil.example"}, 403},
	} {
		a := c.do("POST", "/api/jobs", yaml, append([]string{"Content-Type", "application/yaml"}, tt.header...)...)
		if a.status != tt.status {
			t.Errorf("%s: %d, want %d", tt.name, a.status, tt.status)
		}
		if tt.status == 403 {
			c.want(a, 403, app.NotAllowed)
		}
	}
	h := c.do("GET", "/api/hello", "").header
	for name, want := range map[string]string{"X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer", "Cross-Origin-Resource-Policy": "same-origin"} {
		if h.Get(name) != want {
			t.Errorf("%s is %q, want %q", name, h.Get(name), want)
		}
	}
	if csp := h.Get("Content-Security-Policy"); !strings.Contains(csp, "default-src 'self'") || strings.Contains(csp, "unsafe-eval'") && !strings.Contains(csp, "wasm-unsafe-eval") {
		t.Errorf("policy %q", csp)
	}
	if h.Get("Access-Control-Allow-Origin") != "" {
		t.Error("other origins may read answers")
	}
}

func TestFiles(t *testing.T) {
	c := serve(t)
	for _, tt := range []struct {
		path, accepts, body, coding string
	}{
		{"/assets/app.js", "gzip, deflate, br", "brotli", "br"},
		{"/assets/app.js", "gzip;q=0.5", "gzip", "gzip"},
		{"/assets/app.js", "br;q=0, gzip", "gzip", "gzip"},
		{"/assets/app.js", "br;q=0, abr", "plain", ""},
		{"/assets/app.js", "", "plain", ""},
		{"/", "br", "<p>page", ""},
	} {
		a := c.do("GET", tt.path, "", "Accept-Encoding", tt.accepts)
		if a.body != tt.body || a.header.Get("Content-Encoding") != tt.coding || a.header.Get("Vary") != "Accept-Encoding" {
			t.Errorf("%s accepting %q: %q coded %q", tt.path, tt.accepts, a.body, a.header.Get("Content-Encoding"))
		}
	}
	tags := map[string]bool{}
	for _, accepts := range []string{"br", "gzip", ""} {
		tag := c.do("GET", "/assets/app.js", "", "Accept-Encoding", accepts).header.Get("ETag")
		if tags[tag] || !strings.HasPrefix(tag, `"`) || !strings.HasSuffix(tag, `"`) {
			t.Errorf("tag %s of %q", tag, accepts)
		}
		tags[tag] = true
		if a := c.do("GET", "/assets/app.js", "", "Accept-Encoding", accepts, "If-None-Match", tag); a.status != http.StatusNotModified || a.body != "" {
			t.Errorf("known already: %d", a.status)
		}
	}
	if a := c.do("HEAD", "/assets/app.js", ""); a.status != 200 || a.body != "" || a.header.Get("ETag") == "" || !strings.Contains(a.header.Get("Cache-Control"), "immutable") {
		t.Errorf("HEAD: %+v", a)
	}
	if a := c.do("GET", "/job/x/prove", "", "Accept", "text/html,*/*"); a.body != "<p>page" || a.header.Get("Cache-Control") != "no-cache" {
		t.Errorf("a place within the application: %+v", a)
	}
	if a := c.do("GET", "/assets/old.js", "", "Accept", "*/*"); a.status != http.StatusNotFound {
		t.Errorf("a script that is gone: %d", a.status)
	}
	if a := c.do("POST", "/", ""); a.status != http.StatusMethodNotAllowed {
		t.Errorf("POST to a page: %d", a.status)
	}
}

// event is one server-sent event.
type event struct{ name, id, data string }

// stream opens the event stream; next waits for the next event that is not of the receiver's state.
func (c *client) stream(job evidence.JobID, query string, header ...string) (next func() event, stop func()) {
	c.t.Helper()
	ctx, cancel := context.WithTimeout(c.t.Context(), 20*time.Second)
	at := "/api/receiver/events"
	if job != "" {
		at = "/api/jobs/" + string(job) + "/events"
	}
	req, err := http.NewRequestWithContext(ctx, "GET", c.base+at+query, nil)
	if err != nil {
		c.t.Fatal(err)
	}
	for i := 0; i+1 < len(header); i += 2 {
		req.Header.Set(header[i], header[i+1])
	}
	resp, err := http.DefaultTransport.RoundTrip(req)
	if err != nil {
		c.t.Fatal(err)
	}
	if resp.Header.Get("Content-Type") != "text/event-stream" {
		c.t.Errorf("content type %q", resp.Header.Get("Content-Type"))
	}
	lines := bufio.NewScanner(resp.Body)
	lines.Buffer(nil, 1<<20)
	next = func() event {
		c.t.Helper()
		var e event
		for lines.Scan() {
			name, value, _ := strings.Cut(lines.Text(), ": ")
			switch {
			case lines.Text() == "" && e.name != "receiver" && e.data != "":
				return e
			case lines.Text() == "":
				e = event{}
			case name == "event":
				e.name = value
			case name == "id":
				e.id = value
			case name == "data":
				e.data = value
			}
		}
		c.t.Fatalf("the stream ended: %v", lines.Err())
		return e
	}
	return next, func() { cancel(); resp.Body.Close() }
}

func TestEventsAreDenseAndResume(t *testing.T) {
	c := serve(t)
	job := c.open()
	next, stop := c.stream(job, "")
	seqs := func(e event) (out []int64) {
		var got struct {
			Job     evidence.JobID
			Entries []evidence.Entry
		}
		if err := json.Unmarshal([]byte(e.data), &got); err != nil || got.Job != job || e.name != "entries" {
			t.Fatalf("event %+v, %v", e, err)
		}
		for _, x := range got.Entries {
			out = append(out, x.Seq)
		}
		if e.id != fmt.Sprint(out[len(out)-1]) {
			t.Errorf("id %s of entries %v", e.id, out)
		}
		return out
	}
	if got := seqs(next()); len(got) != 1 || got[0] != 1 {
		t.Errorf("first come %v", got)
	}
	var seen []int64
	for range 5 {
		c.want(c.send(job, c.note(job, "x")), 200, "")
	}
	for len(seen) < 5 {
		seen = append(seen, seqs(next())...)
	}
	stop()
	if fmt.Sprint(seen) != "[2 3 4 5 6]" {
		t.Errorf("live came %v", seen)
	}
	next, stop = c.stream(job, "?after=2")
	if got := seqs(next()); fmt.Sprint(got) != "[3 4 5 6]" {
		t.Errorf("after 2 came %v", got)
	}
	stop()
	next, stop = c.stream(job, "?after=2", "Last-Event-ID", "4") // a browser that comes back keeps its address
	defer stop()
	if got := seqs(next()); fmt.Sprint(got) != "[5 6]" {
		t.Errorf("after event 4 came %v", got)
	}
}

// No window open: stored, shown large on every screen, not answered.
func TestAnUnansweredAlarmIsPushedToEveryStream(t *testing.T) {
	c := serve(t)
	job, other := c.open(), c.open()
	var nexts []func() event
	for _, j := range []evidence.JobID{job, other} {
		next, stop := c.stream(j, "?after=1")
		defer stop()
		nexts = append(nexts, next)
	}
	payload, err := signal.NewContactID("4816", signal.New, "110", 1, 9)
	if err != nil {
		t.Fatal(err)
	}
	raw, err := signal.Frame{ID: signal.IDContactID, Sequence: 1, Prefix: "L0", Account: "4816", Data: payload.String()}.Encode()
	if err != nil {
		t.Fatal(err)
	}
	if v, err := c.app.Deliver(t.Context(), signal.Judge(raw)); err != nil || v != signal.StaySilent {
		t.Fatalf("answered %v, %v", v, err)
	}
	c.app.Observe(app.Observed{Received: signal.Judge([]byte("\n00000012\"ACK\"0000L0#1234[]\r"))})
	for _, next := range nexts {
		alarm, fault := next(), next()
		if alarm.name == "fault" { // two channels: either may come first
			alarm, fault = fault, alarm
		}
		got := parsed[app.Arrival](t, answer{body: alarm.data})
		if alarm.name != "alarm" || got.Account != "4816" || got.Answered || got.Row != 1 || !strings.Contains(got.Why, "no test window") || len(got.Events) != 1 {
			t.Errorf("pushed is %+v", alarm)
		}
		if fault.name != "fault" || !strings.Contains(fault.data, `"cause":"checksum"`) {
			t.Errorf("pushed is %+v", fault)
		}
	}
	rows := parsed[struct {
		Rows []app.Arrival
		Row  int64
	}](t, c.do("GET", "/api/inbox", ""))
	if len(rows.Rows) != 1 || rows.Row != 1 || rows.Rows[0].Raw == "" {
		t.Errorf("inbox %+v", rows)
	}
}

func TestTheReceiversStateComesFirst(t *testing.T) {
	c := serve(t)
	job := c.open()
	resp, err := http.Get(c.base + "/api/jobs/" + string(job) + "/events?after=1")
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	lines := bufio.NewReader(resp.Body)
	name, err := lines.ReadString('\n')
	data, err2 := lines.ReadString('\n')
	if err := errors.Join(err, err2); err != nil || name != "event: receiver\n" || !strings.HasPrefix(data, `data: {"backlog":{"waiting":0,"age":0,"away":false,"silent":false},"links":[],"listening":true,"others":[],"say":"","stored":0}`) {
		t.Errorf("%q %q %v", name, data, err)
	}
}

// When the server ends, streams end at once, and a request in hand is answered.
func TestServeEndsInOrder(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, end := context.WithCancel(t.Context())
	inHand, goOn := make(chan struct{}), make(chan struct{})
	mux := http.NewServeMux()
	mux.HandleFunc("/slow", func(w http.ResponseWriter, r *http.Request) {
		close(inHand)
		<-goOn
		if err := r.Context().Err(); err != nil {
			t.Errorf("the request in hand was cancelled: %v", err)
		}
		_, _ = io.WriteString(w, "done")
	})
	mux.HandleFunc("/stream", func(w http.ResponseWriter, r *http.Request) {
		stop, _ := r.Context().Value(ending{}).(<-chan struct{})
		_ = http.NewResponseController(w).Flush()
		<-stop
	})
	served := make(chan error, 1)
	go func() { served <- Serve(ctx, l, mux, slog.New(slog.NewTextHandler(io.Discard, nil))) }()
	base := "http://" + l.Addr().String()
	stream, err := http.Get(base + "/stream")
	if err != nil {
		t.Fatal(err)
	}
	defer stream.Body.Close()
	slow := make(chan string, 1)
	go func() {
		resp, err := http.Get(base + "/slow")
		if err != nil {
			slow <- err.Error()
			return
		}
		defer resp.Body.Close()
		raw, _ := io.ReadAll(resp.Body)
		slow <- string(raw)
	}()
	<-inHand
	end()
	if raw, err := io.ReadAll(stream.Body); err != nil || len(raw) != 0 {
		t.Errorf("stream: %q, %v", raw, err)
	}
	close(goOn)
	if got := <-slow; got != "done" {
		t.Errorf("the request in hand got %q", got)
	}
	if err := <-served; err != nil {
		t.Error(err)
	}
}

func TestProblemsKeepTheirTextsFromTheScreen(t *testing.T) {
	var log bytes.Buffer
	s := &server{Config{Log: slog.New(slog.NewTextHandler(&log, nil))}}
	w := httptest.NewRecorder()
	s.fail(w, httptest.NewRequest("GET", "/api/x", nil), errors.New("row 7 of table entry"))
	if w.Code != 500 || strings.Contains(w.Body.String(), "row 7") || !strings.Contains(log.String(), "row 7") {
		t.Errorf("%d %s, log %s", w.Code, w.Body, log.String())
	}
}
