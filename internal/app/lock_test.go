package app_test

import (
	"context"
	"errors"
	"sync/atomic"
	"testing"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/book"
	"proofbell/internal/prove"
	"proofbell/signal"
)

// slowNotes is a store that takes a note only when it is let go, and says when somebody asks how far the inbox was taken.
type slowNotes struct {
	app.Store
	in, let chan struct{}
	asked   atomic.Int32
	twice   chan struct{}
}

func (s *slowNotes) Append(ctx context.Context, e []evidence.Entry, taken *app.Taken) error {
	if len(e) == 1 && e[0].Kind == evidence.KindNote {
		close(s.in)
		<-s.let
	}
	return s.Store.Append(ctx, e, taken)
}

func (s *slowNotes) Taken(ctx context.Context, receiver string) (int64, error) {
	if s.asked.Add(1) == 2 {
		close(s.twice)
	}
	return s.Store.Taken(ctx, receiver)
}

// A book that can not be written holds back the signals of other jobs for holdAtMost, and not until it can.
func TestASlowBookDoesNotHoldSignalsBack(t *testing.T) {
	h := open(t)
	h.stop()
	s := &slowNotes{in: make(chan struct{}), let: make(chan struct{}), twice: make(chan struct{})}
	s.asked.Store(-1 << 20) // not counted yet
	h.wrap = func(x app.Store) app.Store { s.Store = x; return s }
	h.start()
	job, other := h.job("4816"), h.job("5000")
	run := h.openRun(job, "4816", true)
	h.openRun(other, "5000", true)
	note := h.content(job, evidence.KindNote, book.NoteBody{}, nil)
	closing := h.content(job, evidence.KindRun, prove.RunBody{Act: prove.RunClosed, Run: run, Reason: "done"}, nil)
	noted, closed := make(chan error, 1), make(chan error, 1)
	go func() { _, err := h.Append(t.Context(), job, []evidence.Content{note}); noted <- err }()
	<-s.in
	s.asked.Store(0)
	go func() { _, err := h.Append(t.Context(), job, []evidence.Content{closing}); closed <- err }()
	<-s.twice // signals are held back now
	if v := h.deliver(frame(t, "5000", 1)); v != signal.Acknowledge {
		t.Errorf("a signal of another job: %v", v)
	}
	if err := <-closed; !errors.Is(err, context.DeadlineExceeded) || app.AsProblem(err).Code != app.Busy {
		t.Errorf("closing the run meanwhile: %v", err)
	}
	close(s.let)
	h.must(<-noted)
	h.closeRun(job, run)
}
