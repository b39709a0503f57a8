package app_test

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/book"
	"proofbell/internal/prove"
	"proofbell/signal"
)

// faulty is a store that fails as its fields say.
type faulty struct {
	app.Store
	lost    atomic.Bool // the answer to a commit
	secrets atomic.Bool
	entries atomic.Pointer[func(job evidence.JobID, after int64) bool]
}

var errFaulty = fmt.Errorf("faulty: %w", app.ErrAway)

func (f *faulty) Append(ctx context.Context, entries []evidence.Entry, taken *app.Taken) error {
	if err := f.Store.Append(ctx, entries, taken); err != nil || !f.lost.Load() {
		return err
	}
	return errFaulty
}

func (f *faulty) Erase(ctx context.Context, e evidence.Entry) error {
	if err := f.Store.Erase(ctx, e); err != nil || !f.lost.Load() {
		return err
	}
	return errFaulty
}

func (f *faulty) Secrets(ctx context.Context, job evidence.JobID) (map[string][]byte, error) {
	if f.secrets.Load() {
		return nil, errFaulty
	}
	return f.Store.Secrets(ctx, job)
}

func (f *faulty) Entries(ctx context.Context, job evidence.JobID, after int64, limit int) ([]evidence.Entry, error) {
	if fails := f.entries.Load(); fails != nil && (*fails)(job, after) {
		return nil, errFaulty
	}
	return f.Store.Entries(ctx, job, after, limit)
}

// fail says which reads fail.
func (f *faulty) fail(which func(job evidence.JobID, after int64) bool) { f.entries.Store(&which) }

// faulty puts a store that can be made to fail behind a process.
func (m *mates) faulty(one *mate) *faulty {
	f := &faulty{}
	one.stop()
	one.wrap = func(s app.Store) app.Store { f.Store = s; return f }
	one.start(m, app.Spool{})
	return f
}

// The store took "off test", and its answer was lost: this process falls silent like the others.
func TestOffTestWithItsAnswerLost(t *testing.T) {
	together(t, 2, func(t *testing.T, m *mates) {
		a, b := m.all[0], m.all[1]
		f := m.faulty(a)
		job := a.job("4816")
		run := a.openRun(job, "4816", false)
		a.onTest(job, "4816", time.Hour)
		a.ontest(job, prove.WindowEvent{Act: prove.ActReadBack})
		synctest.Wait()
		off := a.content(job, evidence.KindOnTest, prove.OnTestBody{WindowEvent: prove.WindowEvent{Act: prove.ActOff, Nothing: true}}, nil)
		f.lost.Store(true)
		if _, err := a.Append(t.Context(), job, []evidence.Content{off}); !errors.Is(err, app.ErrAway) {
			t.Errorf("got %v", err)
		}
		f.lost.Store(false)
		time.Sleep(2 * time.Second)
		a.want("where it was written", "4816", signal.StaySilent)
		b.want("elsewhere", "4816", signal.StaySilent)
		a.closeRun(job, run)
		synctest.Wait()
		f.lost.Store(true)
		if err := a.Erase(t.Context(), job, "tamsin"); !errors.Is(err, app.ErrAway) {
			t.Errorf("got %v", err)
		}
		f.lost.Store(false)
		time.Sleep(2 * time.Second)
		if key, _, err := a.Key(job); key != nil || err != nil {
			t.Errorf("an erased job has its key: %v, %v", key != nil, err)
		}
	})
}

// What another process wrote counts as far as it was read, when reading it breaks off between two pages.
func TestOffTestBeforeAPageThatFails(t *testing.T) {
	together(t, 2, func(t *testing.T, m *mates) {
		a, b := m.all[0], m.all[1]
		f := m.faulty(b)
		job := a.job("4816")
		a.openRun(job, "4816", false)
		a.onTest(job, "4816", time.Hour)
		a.ontest(job, prove.WindowEvent{Act: prove.ActReadBack})
		synctest.Wait()
		s, err := b.State(job)
		b.must(err)
		b.seat.set(false, true)
		var notes []evidence.Content
		for range 999 { // with "off test" one page
			notes = append(notes, a.content(job, evidence.KindNote, book.NoteBody{}, nil))
		}
		_, err = a.Append(t.Context(), job, notes)
		a.must(err)
		a.ontest(job, prove.WindowEvent{Act: prove.ActOff, Nothing: true})
		var failed atomic.Bool
		f.fail(func(_ evidence.JobID, after int64) bool {
			if after == s.Seq+1000 {
				failed.Store(true)
			}
			return after == s.Seq+1000
		})
		b.seat.set(false, false)
		time.Sleep(2 * time.Second)
		b.want("off test", "4816", signal.StaySilent)
		if !failed.Load() {
			t.Error("nothing failed")
		}
	})
}

// Reading on for somebody who does not wait for it is made up for.
func TestReadingOnThatFailsIsMadeUpFor(t *testing.T) {
	together(t, 2, func(t *testing.T, m *mates) {
		a, b := m.all[0], m.all[1]
		f := m.faulty(b)
		job := a.job("4816")
		a.openRun(job, "4816", false)
		a.onTest(job, "4816", time.Hour)
		a.ontest(job, prove.WindowEvent{Act: prove.ActReadBack})
		synctest.Wait()
		b.seat.mu.Lock()
		b.seat.deaf = true // and nothing tells it later
		b.seat.mu.Unlock()
		a.ontest(job, prove.WindowEvent{Act: prove.ActOff, Nothing: true})
		f.fail(func(evidence.JobID, int64) bool { return true })
		if _, err := b.Append(t.Context(), job, []evidence.Content{a.content(job, evidence.KindNote, book.NoteBody{}, nil)}); err == nil {
			t.Error("it was taken")
		}
		f.entries.Store(nil)
		time.Sleep(3 * time.Second)
		b.want("off test", "4816", signal.StaySilent)
	})
}

// One job that can not be read does not keep the windows of the others open.
func TestOneBrokenJobHoldsUpNoOther(t *testing.T) {
	together(t, 2, func(t *testing.T, m *mates) {
		a, b := m.all[0], m.all[1]
		f := m.faulty(b)
		jobs := []evidence.JobID{a.job("4816"), a.job("5000"), a.job("5001")}
		for i, account := range []string{"4816", "5000", "5001"} {
			a.openRun(jobs[i], account, false)
			a.onTest(jobs[i], account, time.Hour)
			a.ontest(jobs[i], prove.WindowEvent{Act: prove.ActReadBack})
		}
		synctest.Wait()
		f.fail(func(job evidence.JobID, _ int64) bool { return job == jobs[1] })
		b.seat.set(false, true)
		for _, job := range jobs {
			a.ontest(job, prove.WindowEvent{Act: prove.ActOff, Nothing: true})
		}
		b.seat.set(false, false)
		time.Sleep(2 * time.Second)
		b.want("of the first", "4816", signal.StaySilent)
		b.want("of the last", "5001", signal.StaySilent)
		f.entries.Store(nil)
		time.Sleep(2 * time.Second)
		b.want("of the broken one, mended", "5000", signal.StaySilent)
	})
}

// A key that was set elsewhere and could not be read at once is read as soon as it can be.
func TestAKeyThatCouldNotBeReadAtOnce(t *testing.T) {
	together(t, 2, func(t *testing.T, m *mates) {
		a, b := m.all[0], m.all[1]
		f := m.faulty(b)
		job := a.job("4816")
		synctest.Wait()
		f.secrets.Store(true)
		a.must(a.SetTransmissionKey(t.Context(), job, "tamsin", app.TransmissionKey{Key: keyHex, EncryptedOnly: true}))
		synctest.Wait()
		f.secrets.Store(false)
		time.Sleep(2 * time.Second)
		if has, only, err := b.HasTransmissionKey(job); !has || !only || err != nil {
			t.Errorf("it has one: %v, encrypted only: %v, %v", has, only, err)
		}
	})
}

// lateSecrets fails to read the key once its entry is in the book.
type lateSecrets struct{ *faulty }

func (l lateSecrets) Append(ctx context.Context, entries []evidence.Entry, taken *app.Taken) error {
	err := l.faulty.Append(ctx, entries, taken)
	l.secrets.Store(len(entries) == 1 && entries[0].Kind == evidence.KindSecret)
	return err
}

// The book and the key agree, whatever fails behind the entry.
func TestAKeyIsNotTakenBackOnceItsEntryIsWritten(t *testing.T) {
	for name, lost := range map[string]bool{"the key can not be read behind it": false, "the answer of the store is lost": true} {
		t.Run(name, func(t *testing.T) {
			together(t, 1, func(t *testing.T, m *mates) {
				a := m.all[0]
				job := a.job("4816")
				a.must(a.SetTransmissionKey(t.Context(), job, "tamsin", app.TransmissionKey{Key: otherHex}))
				f := m.faulty(a)
				a.stop()
				a.wrap = func(s app.Store) app.Store { return lateSecrets{f} }
				a.start(m, app.Spool{})
				f.lost.Store(lost)
				a.must(a.SetTransmissionKey(t.Context(), job, "tamsin", app.TransmissionKey{Key: keyHex}))
				f.lost.Store(false)
				f.secrets.Store(false)
				time.Sleep(2 * time.Second)
				if k, err := a.RevealTransmissionKey(t.Context(), job, "tamsin"); err != nil || k.Key != keyHex {
					t.Errorf("the key is the old one: %v, %v", k.Key == otherHex, err)
				}
				if got := a.Secret("", "4816").Key; got.IsZero() {
					t.Error("the receiver has none")
				}
				a.wantEncrypted("with the new key", frame(t, "4816", 9), keyHex, 'a', signal.StaySilent)
				if rows := a.box.rows; rows[len(rows)-1].Clear == nil {
					t.Error("it was not decrypted with the new key")
				}
			})
		})
	}
}
