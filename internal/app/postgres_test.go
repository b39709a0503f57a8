package app_test

import (
	"context"
	"crypto/rand"
	"fmt"
	"io"
	"log/slog"
	"slices"
	"sync"
	"testing"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/book"
	"proofbell/internal/prove"
	"proofbell/internal/store"
	"proofbell/internal/store/pgtest"
	"proofbell/signal"
)

// Two processes on one PostgreSQL: what the tests in memory say holds on the real thing.
func TestTwoProcessesOnOneDatabase(t *testing.T) {
	address, keys := pgtest.Database(t), t.TempDir()
	var all [2]*house
	for i := range all {
		all[i] = onDatabase(t, address, keys)
	}
	a, b := all[0], all[1]
	job := a.job("4816")
	a.must(a.SetTransmissionKey(t.Context(), job, "tamsin", app.TransmissionKey{Key: keyHex}))
	run := a.openRun(job, "4816", false)
	a.onTest(job, "4816", time.Hour)
	until(t, "the window is known at the other receiver", func() bool { return b.deliver(frame(t, "4816", 1)) == signal.Acknowledge })
	if b.Secret("", "4816").Key.IsZero() {
		t.Error("the key is not known at the other receiver")
	}

	var work sync.WaitGroup
	var frames [2][]signal.Received
	for n := range 100 {
		f := frame(t, "4816", 2+n)
		for i, one := range all { // each alarm reaches both receivers
			frames[i] = append(frames[i], one.received(f))
		}
	}
	var same []evidence.Content
	for n := range 20 {
		same = append(same, a.content(job, evidence.KindNote, book.NoteBody{About: fmt.Sprint(n)}, nil))
	}
	for i, one := range all {
		work.Go(func() {
			for _, r := range frames[i] {
				if v, err := one.Deliver(t.Context(), r); v != signal.Acknowledge || err != nil {
					t.Errorf("%v, %v", v, err)
				}
			}
		})
		work.Go(func() {
			for _, c := range same {
				if results, err := one.Append(t.Context(), job, []evidence.Content{c}); err != nil || results[0].Problem != nil {
					t.Errorf("%+v, %v", results, err)
				}
			}
		})
	}
	work.Wait()
	for _, one := range all {
		one.must(one.Drain(t.Context()))
	}
	for _, one := range all {
		var s *book.State
		until(t, "both know all of it", func() bool {
			var err error
			s, err = one.State(job)
			one.must(err)
			return len(s.Notes) == 20 && len(s.Runs[0].Signals) >= 201
		})
		firsts, repeats := []int{}, 0
		for _, sig := range s.Runs[0].Signals {
			if sig.DuplicateOf == "" {
				firsts = append(firsts, sig.Event.Number)
			} else {
				repeats++
			}
		}
		slices.Sort(firsts)
		if len(slices.Compact(firsts)) != 101 || repeats != 100 || len(s.Troubles) > 0 {
			t.Errorf("%d events and %d repeats in the book; troubles %+v", len(firsts), repeats, s.Troubles)
		}
		one.verify(job)
	}

	watcher, stop := b.Watch(job)
	defer stop()
	b.ontest(job, prove.WindowEvent{Act: prove.ActReadBack})
	b.ontest(job, prove.WindowEvent{Act: prove.ActOff, Nothing: true})
	began := time.Now()
	until(t, "silence after the window was closed at the other process", func() bool { return a.deliver(frame(t, "4816", 300)) == signal.StaySilent })
	t.Logf("silent %v after the window was closed elsewhere", time.Since(began).Round(time.Millisecond))
	select {
	case alarm := <-watcher.Alarms:
		if alarm.Job != job || alarm.Answered {
			t.Errorf("told is %+v", alarm)
		}
	case <-time.After(20 * time.Second):
		t.Error("the unanswered signal was not told to the other process")
	}
	a.closeRun(job, run)
	until(t, "the job is erased everywhere", func() bool {
		if err := a.Erase(t.Context(), job, "tamsin"); err != nil {
			t.Fatal(err)
		}
		key, _, err := b.Key(job)
		return key == nil && err == nil
	})
}

// onDatabase is a process with an inbox of its own.
func onDatabase(t *testing.T, address, keys string) *house {
	t.Helper()
	h := &house{t: t, dir: t.TempDir(), clock: &clock{of: func() time.Time { return time.Now().UTC() }}}
	books, err := store.OpenDatabase(t.Context(), address, keys)
	h.must(err)
	h.inbox, err = store.OpenInbox(t.Context(), h.dir, store.Options{})
	h.must(err)
	h.App, err = app.New(t.Context(), app.Config{Store: books, Inbox: h.inbox, Now: h.clock.now, Random: rand.Reader, Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	h.must(err)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		if err := h.Run(ctx); err != nil {
			t.Error(err)
		}
	}()
	t.Cleanup(func() {
		cancel()
		<-done
		h.must(h.inbox.Close())
		h.must(books.Close())
	})
	return h
}

// until asks again until something is so.
func until(t *testing.T, what string, so func() bool) {
	t.Helper()
	for end := time.Now().Add(30 * time.Second); !so(); {
		if time.Now().After(end) {
			t.Fatalf("never: %s", what)
		}
		time.Sleep(10 * time.Millisecond)
	}
}

// PostgreSQL falls over under load and comes back: what was answered meanwhile is in the book, once.
func TestPostgreSQLFallsOver(t *testing.T) {
	server := pgtest.Start(t)
	h := onDatabase(t, server.Database(), t.TempDir())
	job := h.job("4816")
	h.openRun(job, "4816", true)
	var answered []int
	send := func(zones ...int) {
		t.Helper()
		for _, zone := range zones {
			if v := h.deliver(frame(t, "4816", zone)); v == signal.Acknowledge {
				answered = append(answered, zone)
			}
		}
	}
	send(1, 2, 3)
	server.Kill()
	send(4, 5, 6)
	until(t, "the outage is said", func() bool { b := h.Backlog(); return b.Away && b.Waiting >= 3 })
	send(7)
	server.Start()
	until(t, "what waited is in the book", func() bool { b := h.Backlog(); return b.Waiting == 0 && !b.Away })
	send(8)
	if len(answered) != 8 {
		t.Errorf("answered are %v", answered)
	}
	h.wantSignals(job, answered...)
	h.verify(job)
}
