package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/words"
)

// Result is what became of one content.
type Result struct {
	ID      evidence.EntryID `json:"id"`
	Seq     int64            `json:"seq,omitempty"`
	Hash    string           `json:"hash,omitempty"`
	Problem *Problem         `json:"problem,omitempty"`
}

// Append adds contents to a job, in their order. One that is refused does not hold up those behind it. The same content
// again gets the same answer. Closing a run waits until everything that was received is in the book.
func (a *App) Append(ctx context.Context, job evidence.JobID, contents []evidence.Content) ([]Result, error) {
	o, err := a.job(ctx, job)
	if err != nil {
		return nil, err
	}
	if slices.ContainsFunc(contents, func(c evidence.Content) bool { return c.Kind == evidence.KindRun }) {
		held, reopen, err := a.settle(ctx)
		if err != nil {
			return nil, err
		}
		defer reopen()
		ctx = held
	}
	if err := o.mu.within(ctx); err != nil {
		return nil, err
	}
	defer o.mu.Unlock()
	if slices.ContainsFunc(contents, func(c evidence.Content) bool { return c.Base > o.state.Seq }) {
		if err := a.catchUp(ctx, o); err != nil { // its writer read on in another process
			return nil, err
		}
	}
	var results []Result
	err = a.onNewest(ctx, o, func() error {
		results = make([]Result, len(contents))
		var entries []evidence.Entry
		now, newest, fresh := a.now(), o.newest, map[evidence.EntryID]int{}
		for i, c := range contents {
			results[i].ID = c.ID
			e, known, err := a.place(ctx, o, newest, c, now, entries, fresh)
			if errors.Is(err, ErrAway) {
				return err
			}
			if err != nil {
				results[i].Problem = AsProblem(err)
				continue
			}
			if !known {
				fresh[e.ID] = len(entries)
				entries = append(entries, e)
				newest = &entries[len(entries)-1]
			}
			results[i].Seq, results[i].Hash = e.Seq, e.Hash.String()
		}
		return a.commit(ctx, o, entries, nil)
	})
	return results, err
}

// place finds the entry that a content is already, or makes the one that it becomes.
func (a *App) place(ctx context.Context, o *openJob, newest *evidence.Entry, c evidence.Content, now time.Time, batch []evidence.Entry, fresh map[evidence.EntryID]int) (e evidence.Entry, known bool, err error) {
	if i, ok := fresh[c.ID]; ok {
		return batch[i], true, evidence.CheckRepeat(batch[i], c)
	}
	if o.state.Has(c.ID) {
		stored, err := a.store.Entry(ctx, o.state.Job, c.ID)
		if err == nil && stored == nil {
			err = fmt.Errorf("entry %s of job %s: %w", c.ID, c.Job, ErrNotFound)
		}
		if err != nil {
			return e, false, err
		}
		return *stored, true, evidence.CheckRepeat(*stored, c)
	}
	if err := o.carriedOn(); err != nil {
		return e, false, err
	}
	if err := book.Check(c); err != nil {
		return e, false, (&Problem{Code: BadRequest, Try: words.Mark("Reload the page so that it matches the server."), Err: err}).With(words.Later("The %s entry can not be read: %s.", words.Marked(string(c.Kind)), words.Said(err)), words.Text{})
	}
	e, err = evidence.Append(newest, c, now)
	return e, false, err
}

// commit stores entries, folds them and tells who watches. ErrStale when the store knows more than this memory: another
// process was quicker, or a commit failed halfway. o.mu is held.
func (a *App) commit(ctx context.Context, o *openJob, entries []evidence.Entry, taken *Taken) error {
	if len(entries) == 0 && taken == nil {
		return nil
	}
	if err := a.store.Append(ctx, entries, taken); err != nil {
		a.behind.note(o.state.Job, false) // it may be in the book all the same
		return fmt.Errorf("adding %d entries: %w", len(entries), err)
	}
	o.apply(entries)
	if len(entries) == 0 {
		return nil
	}
	if err := a.changed(ctx, o, entries); err != nil { // the entries are in the book, whatever else
		a.log.Warn("after adding entries", "job", o.state.Job, "err", err)
		a.behind.note(o.state.Job, false)
	}
	return nil
}

// refold makes a job's state anew from the store. o.mu is held.
func (a *App) refold(ctx context.Context, o *openJob) error {
	again, err := a.fold(ctx, Job{ID: o.state.Job, Created: o.created})
	if err != nil {
		return fmt.Errorf("opening job %s again: %w", o.state.Job, err)
	}
	o.key, o.secret, o.newest, o.latest, o.state = again.key, again.secret, again.newest, again.latest, again.state
	o.agreed, o.unread = again.agreed, false
	return a.changed(ctx, o, nil)
}

// changed lets the receiver and those who watch know what became of a job by entries that were folded. o.mu is held.
func (a *App) changed(ctx context.Context, o *openJob, entries []evidence.Entry) (err error) {
	o.unread = o.unread || slices.ContainsFunc(entries, func(e evidence.Entry) bool { return e.Kind == evidence.KindSecret })
	if o.unread {
		var secret *TransmissionKey
		if secret, err = a.secretOf(ctx, o.state.Job); err == nil {
			o.secret, o.unread = secret, false
		}
	}
	if g := a.gateOf(o); !g.same(o.gate) {
		a.mu.Lock()
		o.gate = g
		a.regate()
		a.mu.Unlock()
	}
	a.hub.grown(o.state.Job)
	return err
}

// Erase destroys the job's key: the chain still verifies, personal data is gone for good. Refused while a run is open, which
// nobody could close any more.
func (a *App) Erase(ctx context.Context, job evidence.JobID, by evidence.PersonID) error {
	o, err := a.job(ctx, job)
	if err != nil {
		return err
	}
	ctx, reopen, err := a.settle(ctx)
	if err != nil {
		return err
	}
	defer reopen()
	if err := o.mu.within(ctx); err != nil {
		return err
	}
	defer o.mu.Unlock()
	return a.onNewest(ctx, o, func() error {
		if o.state.Erased {
			return nil
		}
		if o.state.OpenRun() != nil {
			return &Problem{Code: Clash, Say: words.Mark("A run is open in this job."), Try: words.Mark("Have the account taken off test and close the run first; then erase.")}
		}
		now := a.now()
		c, err := a.content(job, nil, evidence.KindKey, by, o.state.Seq, now, book.KeyBody{Act: "erased"}, nil)
		if err != nil {
			return err
		}
		e, err := evidence.Append(o.newest, c, now)
		if err != nil {
			return err
		}
		if err := a.store.Erase(ctx, e); err != nil {
			a.behind.note(job, false) // it may be erased all the same
			return fmt.Errorf("erasing job %s: %w", job, err)
		}
		return a.refold(ctx, o)
	})
}
