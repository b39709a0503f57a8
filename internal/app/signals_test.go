package app_test

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
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
)

// An acknowledgement is given while the account is on test, and not one moment longer.
func TestAnsweredOnlyInsideTheWindow(t *testing.T) {
	h := open(t)
	job := h.job("4816")
	want := func(when string, want signal.Verdict) {
		t.Helper()
		if got := h.deliver(frame(t, "4816", 9)); got != want {
			t.Errorf("%s: %v, want %v", when, got, want)
		}
	}
	want("no run", signal.StaySilent)
	run := h.openRun(job, "4816", false)
	want("a run, not on test", signal.StaySilent)
	h.ontest(job, prove.WindowEvent{Act: prove.ActCall, Account: "4816", Families: []string{"fire"}})
	want("calling", signal.StaySilent)
	h.ontest(job, prove.WindowEvent{Act: prove.ActAccountRead, Account: "4816", Address: true})
	want("account read back", signal.StaySilent)
	h.ontest(job, prove.WindowEvent{Act: prove.ActOpen, Families: []string{"fire"}, Until: h.clock.now().Add(time.Hour)})
	want("on test", signal.Acknowledge)
	h.clock.pass(time.Hour - time.Millisecond)
	want("last moment", signal.Acknowledge)
	h.clock.pass(time.Millisecond)
	want("lapsed", signal.StaySilent)
	h.onTest(job, "4816", time.Hour)
	want("on test again", signal.Acknowledge)
	if v := h.deliver(frame(t, "4817", 9)); v != signal.StaySilent {
		t.Errorf("another account: %v", v)
	}
	h.ontest(job, prove.WindowEvent{Act: prove.ActReadBack})
	h.ontest(job, prove.WindowEvent{Act: prove.ActOff, Nothing: true})
	want("off test", signal.StaySilent)
	h.closeRun(job, run)
	want("closed", signal.StaySilent)
	if n, err := h.LastArrival(t.Context()); err != nil || n != 11 {
		t.Errorf("%d signals stored (%v), want all 11 whatever was answered", n, err)
	}
}

func TestASignalThatNobodyWatchesIsShownLarge(t *testing.T) {
	h := open(t)
	job, other := h.job("4816"), h.job("5000")
	watcher, stop := h.Watch(other) // every open screen, whatever job it shows
	defer stop()
	h.deliver(frame(t, "4816", 9))
	select {
	case a := <-watcher.Alarms:
		if a.Account != "4816" || a.Job != job || a.Answered || !strings.Contains(a.Why, "no test window") || len(a.Events) != 1 || a.Events[0].Number != 9 {
			t.Errorf("shown is %+v", a)
		}
	default:
		t.Fatal("nothing was shown")
	}
	h.deliver(frame(t, "9999", 1))
	if a := <-watcher.Alarms; a.Job != "" || !strings.Contains(a.Why, "9999") {
		t.Errorf("a stranger's signal is shown as %+v", a)
	}
	h.openRun(job, "4816", false)
	h.onTest(job, "4816", time.Hour)
	h.deliver(frame(t, "4816", 10))
	select {
	case a := <-watcher.Alarms:
		t.Errorf("an answered signal is shown as unanswered: %+v", a)
	default:
	}
}

// What arrived before a run belongs to no run, what arrived while it was open belongs to it, whenever it is taken.
func TestASignalBelongsToTheRunThatWasOpenWhenItCame(t *testing.T) {
	h := open(t)
	job := h.job("4816")
	h.deliver(frame(t, "4816", 1)) // taken only when the run is opened
	first := h.openRun(job, "4816", true)
	h.deliver(frame(t, "4816", 2))
	h.closeRun(job, first)
	h.deliver(frame(t, "4816", 3))
	h.openRun(job, "4816", true)
	h.deliver(frame(t, "4816", 4))
	h.wantSignals(job, 2, 4)
	s, err := h.State(job)
	h.must(err)
	if len(s.Runs[0].Signals) != 1 || s.Runs[0].Closed.IsZero() {
		t.Errorf("the first run has %d signals", len(s.Runs[0].Signals))
	}
}

// A repeat of what came before the run was opened is no repeat to the run: its book would point at nothing.
func TestARepeatAcrossTheBeginningOfARun(t *testing.T) {
	h := open(t)
	job := h.job("4816")
	f := frame(t, "4816", 9)
	h.deliver(f)
	h.openRun(job, "4816", true)
	for range 3 {
		if v := h.deliver(f); v != signal.Acknowledge {
			t.Errorf("a repeat is not answered: %v", v)
		}
	}
	h.wantSignals(job, 9, 9, 9)
	s, err := h.State(job)
	h.must(err)
	for i, sig := range s.Runs[0].Signals {
		if sig.DuplicateOf != "" && s.Runs[0].Signals[0].ID != sig.DuplicateOf {
			t.Errorf("signal %d repeats %s, which the run does not have", i+1, sig.DuplicateOf)
		}
	}
}

func TestARepeatIsAnsweredAgainAndNamesTheFirst(t *testing.T) {
	h := open(t)
	job := h.job("4816")
	h.openRun(job, "4816", true)
	f := frame(t, "4816", 9)
	for range 2 {
		if v := h.deliver(f); v != signal.Acknowledge {
			t.Errorf("got %v", v)
		}
	}
	h.wantSignals(job, 9, 9)
	s, err := h.State(job)
	h.must(err)
	if sig := s.Runs[0].Signals; sig[0].DuplicateOf != "" || sig[1].DuplicateOf != sig[0].ID {
		t.Errorf("the second says it repeats %q, want %q", sig[1].DuplicateOf, sig[0].ID)
	}
}

func TestTwoEventsInOneFrame(t *testing.T) {
	h := open(t)
	job := h.job("4816")
	h.openRun(job, "4816", true)
	f := signal.Frame{ID: signal.IDSIA, Sequence: 7, Prefix: "L0", Account: "4816", Data: "#4816|Nri1/FA005/FT006"}
	if v := h.deliver(f); v != signal.Acknowledge {
		t.Errorf("got %v", v)
	}
	h.wantSignals(job, 5, 6)
}

// crashing is a store that fails after it has done its work, or before: the process might have died at either moment.
type crashing struct {
	app.Store
	before, after bool
}

var errCrash = errors.New("the power went")

func (c *crashing) Append(ctx context.Context, entries []evidence.Entry, taken *app.Taken) error {
	if taken == nil {
		return c.Store.Append(ctx, entries, taken)
	}
	if c.before {
		return errCrash
	}
	err := c.Store.Append(ctx, entries, taken)
	if c.after {
		return errors.Join(err, errCrash)
	}
	return err
}

// Between inbox and book a crash loses nothing and doubles nothing; the run goes on.
func TestACrashBetweenInboxAndBook(t *testing.T) {
	for name, at := range map[string]crashing{"before the commit": {before: true}, "after the commit": {after: true}} {
		t.Run(name, func(t *testing.T) {
			h := open(t)
			job := h.job("4816")
			h.openRun(job, "4816", false)
			h.onTest(job, "4816", time.Hour)
			h.stop()
			h.wrap = func(s app.Store) app.Store { return &crashing{Store: s, before: at.before, after: at.after} }
			h.start()
			for zone := 1; zone <= 5; zone++ {
				if v := h.deliver(frame(t, "4816", zone)); v != signal.Acknowledge {
					t.Fatalf("after a restart the run does not go on: %v", v)
				}
			}
			if err := h.Drain(t.Context()); !errors.Is(err, errCrash) {
				t.Fatalf("got %v", err)
			}
			h.stop()
			h.wrap = nil
			h.start()
			h.deliver(frame(t, "4816", 6))
			h.wantSignals(job, 1, 2, 3, 4, 5, 6)
			h.verify(job)
		})
	}
}

// After a commit of which nobody knows whether it was made, memory and store find together again without a restart.
func TestAnUncertainCommitHealsByItself(t *testing.T) {
	h := open(t)
	h.stop()
	c := &crashing{after: true}
	h.wrap = func(s app.Store) app.Store { c.Store = s; return c }
	h.start()
	job := h.job("4816")
	h.openRun(job, "4816", true)
	h.deliver(frame(t, "4816", 1))
	if err := h.Drain(t.Context()); !errors.Is(err, errCrash) {
		t.Fatalf("got %v", err)
	}
	c.after = false
	h.deliver(frame(t, "4816", 2))
	_ = h.Drain(t.Context()) // this one meets a book that has grown
	h.wantSignals(job, 1, 2)
	h.act(job, evidence.KindNote, book.NoteBody{}, book.NotePrivate{Text: "goes on"})
	h.verify(job)
}

func (h *house) verify(job evidence.JobID) {
	h.t.Helper()
	var b bytes.Buffer
	h.must(h.Export(h.t.Context(), job, &b))
	report, err := evidence.Verify(&b, []evidence.Fingerprint{h.SigningFingerprint()})
	if err != nil || !report.Good() {
		h.t.Errorf("the book does not verify: %+v, %v", report, err)
	}
}

// The same rows give the same entries, byte for byte except for when they were received.
func TestSequencingIsTheSameEveryTime(t *testing.T) {
	h := open(t)
	job := h.job("4816")
	h.openRun(job, "4816", true)
	h.stop()
	h.wrap = func(s app.Store) app.Store { return &crashing{Store: s, before: true} }
	h.start()
	h.deliver(frame(t, "4816", 1))
	h.deliver(signal.Frame{ID: signal.IDSIA, Sequence: 8, Prefix: "L0", Account: "4816", Data: "#4816|Nri1/FA005/FT006"})
	record := func() (out []string) {
		h.stop()
		rec := &recording{}
		h.wrap = func(s app.Store) app.Store { rec.Store = s; return rec }
		h.start()
		h.clock.pass(time.Minute)
		_ = h.Drain(t.Context())
		for _, e := range rec.entries {
			out = append(out, e.ContentHash.String())
		}
		return out
	}
	first, again := record(), record()
	if len(first) != 3 || !slices.Equal(first, again) {
		t.Errorf("first %v, then %v", first, again)
	}
}

// recording keeps what it was given and then fails.
type recording struct {
	app.Store
	entries []evidence.Entry
}

func (r *recording) Append(_ context.Context, entries []evidence.Entry, _ *app.Taken) error {
	r.entries = entries
	return errCrash
}

// Frames keep coming while runs are opened and closed and entries written: every answered frame is in a book, once.
func TestNothingAnsweredIsLostAroundTheClosingOfRuns(t *testing.T) {
	h := open(t)
	job := h.job("4816")
	ctx, cancel := context.WithCancel(t.Context())
	var all sync.WaitGroup
	all.Go(func() {
		if err := h.Run(ctx); err != nil {
			t.Error(err)
		}
	})
	answered := make(chan int, 10_000)
	stop := make(chan struct{})
	var senders sync.WaitGroup
	for s := range 4 {
		var frames []signal.Received
		for n := range 400 {
			frames = append(frames, h.received(frame(t, "4816", s*100+n%100)))
		}
		senders.Go(func() {
			for i := 0; i < len(frames); i++ {
				select {
				case <-stop:
					return
				default:
				}
				v, err := h.Deliver(ctx, frames[i])
				if err != nil {
					t.Error(err)
				}
				if v == signal.Acknowledge {
					answered <- frames[i].Frame.Sequence
				}
			}
		})
	}
	for range 15 {
		run := h.openRun(job, "4816", true)
		h.act(job, evidence.KindTick, prove.TickBody{Step: "x", What: prove.Tripped}, nil)
		h.closeRun(job, run)
	}
	close(stop)
	senders.Wait()
	close(answered)
	want := len(answered)
	cancel()
	all.Wait()
	h.must(h.Drain(t.Context()))
	s, err := h.State(job)
	h.must(err)
	got := 0
	for _, r := range s.Runs {
		for _, sig := range r.Signals {
			if sig.Acknowledged {
				got++
			}
			if sig.Received.After(h.clock.now()) {
				t.Error("from the future")
			}
		}
	}
	if got != want || want == 0 {
		t.Errorf("%d answered signals in the book, %d were answered", got, want)
	}
	h.verify(job)
}

func TestAChangedAccountIsNotAnsweredOnAnOldWindow(t *testing.T) {
	h := open(t)
	job := h.job("4816")
	h.openRun(job, "4816", false)
	h.onTest(job, "4816", time.Hour)
	h.act(job, evidence.KindEdit, book.EditBody{Patch: json.RawMessage(`{"account":{"number":"4818"}}`)}, nil)
	for _, account := range []string{"4816", "4818"} {
		if v := h.deliver(frame(t, account, 9)); v != signal.StaySilent {
			t.Errorf("account %s: %v", account, v)
		}
	}
}

// A practice run is answered without a window only in a practice job: on a real account the alarm may be real.
func TestPracticeOnARealAccountIsNotAnswered(t *testing.T) {
	h := open(t)
	job := h.job("4816")
	h.openRun(job, "4816", true)
	if v := h.deliver(frame(t, "4816", 9)); v != signal.Acknowledge {
		t.Errorf("a practice job: %v", v)
	}
	h.act(job, evidence.KindEdit, book.EditBody{Patch: json.RawMessage(`{"practice":null}`)}, nil)
	if v := h.deliver(frame(t, "4816", 9)); v != signal.StaySilent {
		t.Errorf("a practice run of a real job: %v", v)
	}
}

func TestAccountsAreReadWhateverTheirCase(t *testing.T) {
	h := open(t)
	job := h.job("48af")
	h.openRun(job, "48af", false)
	h.onTest(job, "48af", time.Hour)
	if v := h.deliver(frame(t, "48AF", 9)); v != signal.Acknowledge {
		t.Errorf("got %v", v)
	}
}

// full is an inbox without room.
type full struct {
	*store.Inbox
	no bool
}

func (f *full) Put(ctx context.Context, r app.InboxRow) (app.InboxRow, error) {
	if f.no {
		return r, fmt.Errorf("storing: %w", app.ErrFull)
	}
	return f.Inbox.Put(ctx, r)
}

func TestAFullDiskIsSilentAndSaid(t *testing.T) {
	h := open(t)
	job := h.job("4816")
	in := &full{Inbox: h.inbox, no: true}
	a, err := app.New(t.Context(), app.Config{Store: h.books, Inbox: in, Now: h.clock.now, Random: rand.Reader, Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	h.must(err)
	h.App = a
	h.openRun(job, "4816", true)
	watcher, stop := a.Watch(job)
	defer stop()
	said := func() string { // what the watcher reads when it is told that something changed
		<-watcher.Receiver
		return a.Receptions()[0].Say(nil)
	}
	if say := said(); say != "" {
		t.Errorf("trouble from the start: %q", say)
	}
	if v, err := a.Deliver(t.Context(), h.received(frame(t, "4816", 9))); v != signal.StaySilent || !errors.Is(err, app.ErrFull) {
		t.Errorf("%v, %v", v, err)
	}
	if say := said(); !strings.Contains(say, "full") {
		t.Errorf("said is %q", say)
	}
	in.no = false
	if v := h.deliver(frame(t, "4816", 9)); v != signal.Acknowledge {
		t.Errorf("with room again: %v", v)
	}
	if say := said(); say != "" {
		t.Errorf("with room again: %q", say)
	}
}

func TestASlowWatcherKeepsTheNewestAlarms(t *testing.T) {
	h := open(t)
	job := h.job("4816")
	watcher, stop := h.Watch(job)
	defer stop()
	for zone := range 100 {
		h.deliver(frame(t, "4816", zone))
	}
	var last app.Arrival
	n := 0
	for len(watcher.Alarms) > 0 {
		last = <-watcher.Alarms
		n++
	}
	if n != cap(watcher.Alarms) || last.Events[0].Number != 99 {
		t.Errorf("%d alarms, the last of zone %d", n, last.Events[0].Number)
	}
}
