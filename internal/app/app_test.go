package app_test

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/book"
	"proofbell/internal/prove"
	"proofbell/internal/store"
	"proofbell/signal"
	"proofbell/site"
)

// clock is what the app takes for now.
type clock struct {
	mu sync.Mutex
	t  time.Time
	of func() time.Time // instead of t, when given
}

func (c *clock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.of != nil {
		return c.of()
	}
	return c.t
}

func (c *clock) pass(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.t = c.t.Add(d)
}

// house is an app over real stores, which can be closed and opened again.
type house struct {
	*app.App
	t     *testing.T
	dir   string
	clock *clock
	books *store.Books
	inbox *store.Inbox
	wrap  func(app.Store) app.Store
}

func open(t *testing.T) *house {
	h := &house{t: t, dir: t.TempDir(), clock: &clock{t: time.Date(2026, 9, 15, 12, 0, 0, 0, time.UTC)}}
	h.start()
	t.Cleanup(h.stop)
	return h
}

func (h *house) start() {
	h.t.Helper()
	var err error
	ctx := context.Background()
	if h.books, err = store.Open(ctx, h.dir, store.Options{}); err != nil {
		h.t.Fatal(err)
	}
	if h.inbox, err = store.OpenInbox(ctx, h.dir, store.Options{}); err != nil {
		h.t.Fatal(err)
	}
	var kept app.Store = h.books
	if h.wrap != nil {
		kept = h.wrap(kept)
	}
	h.App, err = app.New(ctx, app.Config{Store: kept, Inbox: h.inbox, Now: h.clock.now, Random: rand.Reader, Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	if err != nil {
		h.t.Fatal(err)
	}
}

func (h *house) stop() {
	h.t.Helper()
	if err := errors.Join(h.inbox.Close(), h.books.Close()); err != nil {
		h.t.Error(err)
	}
}

func (h *house) must(err error) {
	h.t.Helper()
	if err != nil {
		h.t.Fatal(err)
	}
}

// job opens a job with an account.
func (h *house) job(account string) evidence.JobID {
	h.t.Helper()
	s := &site.Site{Format: site.Format, Name: "Mill " + account, Practice: true}
	s.Account.Number = account
	job, err := h.Open(h.t.Context(), s, "tamsin")
	h.must(err)
	return job
}

// act adds an entry and returns its id; it must be taken.
func (h *house) act(job evidence.JobID, kind evidence.Kind, body, private any) evidence.EntryID {
	h.t.Helper()
	r := h.try(job, kind, body, private)
	if r.Problem != nil {
		h.t.Fatal(r.Problem)
	}
	return r.ID
}

func (h *house) try(job evidence.JobID, kind evidence.Kind, body, private any) app.Result {
	h.t.Helper()
	results, err := h.Append(h.t.Context(), job, []evidence.Content{h.content(job, kind, body, private)})
	h.must(err)
	return results[0]
}

func (h *house) content(job evidence.JobID, kind evidence.Kind, body, private any) evidence.Content {
	h.t.Helper()
	key, seq, err := h.Key(job)
	h.must(err)
	id, err := evidence.NewEntryID(h.clock.now(), rand.Reader)
	h.must(err)
	c, err := evidence.NewContent(job, id, h.clock.now(), "tamsin", kind, seq, body)
	h.must(err)
	if private != nil {
		c, err = evidence.SealPrivate(key, rand.Reader, c, private)
		h.must(err)
	}
	return c
}

func (h *house) openRun(job evidence.JobID, account string, practice bool) prove.RunID {
	h.t.Helper()
	return prove.RunID(h.act(job, evidence.KindRun, prove.RunBody{Act: prove.RunOpened, Account: account, Practice: practice}, nil))
}

func (h *house) closeRun(job evidence.JobID, run prove.RunID) {
	h.t.Helper()
	h.act(job, evidence.KindRun, prove.RunBody{Act: prove.RunClosed, Run: run, Reason: "done"}, nil)
}

func (h *house) ontest(job evidence.JobID, e prove.WindowEvent) {
	h.t.Helper()
	var private any
	if e.Act == prove.ActOpen {
		private = prove.Private{Operator: "Brede"}
	}
	h.act(job, evidence.KindOnTest, prove.OnTestBody{WindowEvent: e}, private)
}

// onTest makes the whole call: the account is on test for so long from now.
func (h *house) onTest(job evidence.JobID, account string, long time.Duration) {
	h.t.Helper()
	families := []string{"fire", "trouble"}
	h.ontest(job, prove.WindowEvent{Act: prove.ActCall, Account: account, Families: families})
	h.ontest(job, prove.WindowEvent{Act: prove.ActAccountRead, Account: account, Address: true})
	h.ontest(job, prove.WindowEvent{Act: prove.ActOpen, Families: families, Until: h.clock.now().Add(long)})
}

var sequence = 0

// frame is a fire alarm of a zone.
func frame(t *testing.T, account string, zone int) signal.Frame {
	t.Helper()
	payload, err := signal.NewContactID(account, signal.New, "110", 1, zone)
	if err != nil {
		t.Fatal(err)
	}
	sequence = signal.NextSequence(sequence)
	return signal.Frame{ID: signal.IDContactID, Sequence: sequence, Prefix: "L0", Account: account, Data: payload.String()}
}

// deliver hands a frame over as the receiver does.
func (h *house) deliver(f signal.Frame) signal.Verdict {
	h.t.Helper()
	v, err := h.Deliver(h.t.Context(), h.received(f))
	h.must(err)
	return v
}

func (h *house) received(f signal.Frame) signal.Received {
	h.t.Helper()
	raw, err := f.Encode()
	h.must(err)
	r := signal.Judge(raw)
	r.Transport, r.Remote, r.At = "tcp", "127.0.0.1:4000", h.clock.now()
	return r
}

// signals are the zones of the signals in a job's book, of all runs, in order.
func (h *house) signals(job evidence.JobID) []int {
	h.t.Helper()
	h.must(h.Drain(h.t.Context()))
	s, err := h.State(job)
	h.must(err)
	if len(s.Troubles) > 0 {
		h.t.Errorf("entries that could not be used: %+v", s.Troubles)
	}
	zones := []int{}
	for _, r := range s.Runs {
		for _, sig := range r.Signals {
			zones = append(zones, sig.Event.Number)
		}
	}
	return zones
}

func (h *house) wantSignals(job evidence.JobID, want ...int) {
	h.t.Helper()
	if got := h.signals(job); !slices.Equal(got, want) {
		h.t.Errorf("signals of zones %v in the book, want %v", got, want)
	}
}

func TestTheSameContentIsOneEntryAndAnotherIsRefused(t *testing.T) {
	h := open(t)
	job := h.job("4816")
	c := h.content(job, evidence.KindNote, book.NoteBody{About: "zone 09"}, nil)
	other := c
	other.Body = json.RawMessage(`{"about":"zone 10"}`)
	var hash string
	for i, batch := range [][]evidence.Content{{c, c}, {c}, {other, c}} {
		results, err := h.Append(t.Context(), job, batch)
		h.must(err)
		for n, r := range results {
			switch {
			case i == 2 && n == 0:
				if r.Problem == nil || r.Problem.Code != app.Clash {
					t.Errorf("another content under the same id: %+v", r)
				}
			case r.Problem != nil || r.Seq != 2 || hash != "" && r.Hash != hash:
				t.Errorf("batch %d: %+v", i, r)
			default:
				hash = r.Hash
			}
		}
	}
	_, seq, err := h.Key(job)
	if err != nil || seq != 2 {
		t.Errorf("%d entries (%v)", seq, err)
	}
}

func TestOneRefusedEntryHoldsUpNoOther(t *testing.T) {
	h := open(t)
	job := h.job("4816")
	good := h.content(job, evidence.KindNote, book.NoteBody{}, nil)
	ahead := h.content(job, evidence.KindNote, book.NoteBody{}, nil)
	ahead.Base = 99
	bad := h.content(job, evidence.KindNote, map[string]int{"about": 7}, nil)
	results, err := h.Append(t.Context(), job, []evidence.Content{bad, ahead, good})
	h.must(err)
	if results[0].Problem == nil || results[1].Problem == nil || results[1].Problem.Code != app.Clash || results[2].Problem != nil || results[2].Seq != 2 {
		t.Errorf("%+v", results)
	}
}

func TestErasedAndImportedJobsAreNotCarriedOn(t *testing.T) {
	h := open(t)
	job := h.job("4816")
	h.act(job, evidence.KindNote, book.NoteBody{}, book.NotePrivate{Text: "Ann is at home on Tuesdays"})
	run := h.openRun(job, "4816", true)
	h.deliver(frame(t, "4816", 9))
	var before bytes.Buffer
	h.must(h.Export(t.Context(), job, &before))
	var refused *app.Problem
	if err := h.Erase(t.Context(), job, "tamsin"); !errors.As(err, &refused) || refused.Code != app.Clash {
		t.Errorf("erased while a run is open: %v", err)
	}
	h.closeRun(job, run)
	h.must(h.Erase(t.Context(), job, "tamsin"))
	h.must(h.Erase(t.Context(), job, "tamsin")) // again: nothing more to do
	h.wantSignals(job, 9)                       // what was answered was taken first
	if v := h.deliver(frame(t, "4816", 10)); v != signal.StaySilent {
		t.Errorf("the account of an erased job: %v", v)
	}
	if r := h.try(job, evidence.KindNote, book.NoteBody{}, nil); r.Problem == nil || r.Problem.Code != app.ErasedJob {
		t.Errorf("a note on an erased job: %+v", r)
	}
	for range 2 { // before and after a restart
		s, err := h.State(job)
		h.must(err)
		if !s.Erased || len(s.Notes) != 1 || s.Notes[0].Text != "" {
			t.Errorf("erased %v, notes %+v", s.Erased, s.Notes)
		}
		h.verify(job)
		h.stop()
		h.start()
	}
	report, err := evidence.Verify(bytes.NewReader(before.Bytes()), []evidence.Fingerprint{h.SigningFingerprint()})
	if err != nil || !report.Good() {
		t.Errorf("an export from before does not verify any more: %+v, %v", report, err)
	}

	there := open(t)
	got, err := there.Import(t.Context(), bytes.NewReader(before.Bytes()))
	if err != nil || got != job {
		t.Fatalf("imported %s, %v", got, err)
	}
	if v := there.deliver(frame(t, "4816", 9)); v != signal.StaySilent {
		t.Errorf("an imported book with an open run answers: %v", v)
	}
	if r := there.try(job, evidence.KindNote, book.NoteBody{}, nil); r.Problem == nil || !strings.Contains(r.Problem.Say, "from a file") {
		t.Errorf("a note on an imported job: %+v", r)
	}
	var p *app.Problem
	if _, err := there.Import(t.Context(), bytes.NewReader(before.Bytes())); !errors.As(err, &p) || p.Code != app.Clash {
		t.Errorf("imported twice: %v", err)
	}
	damaged := bytes.Replace(before.Bytes(), []byte("tamsin"), []byte("tamsim"), 1)
	if _, err := open(t).Import(t.Context(), bytes.NewReader(damaged)); !errors.As(err, &p) || p.Code != app.BadRequest {
		t.Errorf("a damaged book: %v", err)
	}
}
