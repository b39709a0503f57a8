package app

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"sync"
	"time"

	"proofbell/evidence"
)

// Several processes may work on one store. Each folds the books for itself; what another one added is read behind what
// is folded already, when the store tells of it, or when an act of this process meets it.

// tries is how often an act is placed anew because other processes were quicker. Each time one of them got on.
const tries = 40

// onNewest does one act on a job as its book stands, and again when another process was quicker. o.mu is held.
func (a *App) onNewest(ctx context.Context, o *openJob, act func() error) error {
	for n := 1; ; n++ {
		err := act()
		if n == tries || !errors.Is(err, ErrStale) {
			return err
		}
		known := o.state.Seq
		if fault := a.catchUp(ctx, o); fault != nil {
			return errors.Join(err, fault)
		}
		if o.state.Seq == known { // nothing new, and yet not its newest: what is folded here is not what is stored
			if fault := a.refold(ctx, o); fault != nil {
				return errors.Join(err, fault)
			}
		}
		if n > 4 {
			pause(ctx, rand.N(time.Duration(n)*time.Millisecond)) // so that two do not meet for ever
		}
	}
}

// pause waits, or until ctx ends.
func pause(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
	case <-ctx.Done():
	}
}

// catchUp folds what the book holds behind what is folded. What fails is tried again by keepUp. o.mu is held.
func (a *App) catchUp(ctx context.Context, o *openJob) error {
	all, err := a.readOn(ctx, o)
	if len(all) > 0 || o.unread { // after an error too: what was folded counts, it may have closed a window
		err = errors.Join(err, a.changed(ctx, o, all))
	}
	if err != nil {
		a.behind.note(o.state.Job, false)
	}
	return err
}

// readOn folds what the book holds behind what is folded, and returns it with an error too, as far as it came.
func (a *App) readOn(ctx context.Context, o *openJob) (all []evidence.Entry, err error) {
	for {
		entries, err := a.store.Entries(ctx, o.state.Job, o.state.Seq, page)
		if err != nil {
			return all, fmt.Errorf("reading on in job %s: %w", o.state.Job, err)
		}
		if slices.ContainsFunc(entries, func(e evidence.Entry) bool { return e.Kind == evidence.KindKey }) {
			return all, a.refold(ctx, o) // its key was destroyed, perhaps: what it had sealed is to be forgotten
		}
		o.apply(entries)
		all = append(all, entries...)
		if len(entries) < page {
			return all, nil
		}
	}
}

// renew brings one job to what the store holds: it may have grown, or be new here.
func (a *App) renew(ctx context.Context, id evidence.JobID) error {
	o, err := a.job(ctx, id)
	if errors.Is(err, ErrNotFound) {
		return nil
	}
	if err != nil {
		return err
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	return a.catchUp(ctx, o)
}

// renewAll brings every job to what the store holds.
func (a *App) renewAll(ctx context.Context) error {
	jobs, err := a.store.Jobs(ctx)
	if err != nil {
		return fmt.Errorf("listing the jobs: %w", err)
	}
	for _, j := range jobs {
		if fault := a.renew(ctx, j.ID); fault != nil { // one that is broken must not keep the windows of the others open
			err = errors.Join(err, fmt.Errorf("job %s: %w", j.ID, fault))
		}
		if ctx.Err() != nil {
			break
		}
	}
	return err
}

// behind is what is known to have grown elsewhere and was not read yet.
type behind struct {
	mu   sync.Mutex
	jobs map[evidence.JobID]bool
	all  bool
	wake chan struct{} // one place
}

// note keeps what is to be looked at and wakes who looks. It never blocks.
func (b *behind) note(job evidence.JobID, all bool) {
	b.mu.Lock()
	if job != "" {
		b.jobs[job] = true
	}
	b.all = b.all || all
	b.mu.Unlock()
	select {
	case b.wake <- struct{}{}:
	default:
	}
}

// take hands out what is to be looked at.
func (b *behind) take() (jobs map[evidence.JobID]bool, all bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	jobs, all = b.jobs, b.all
	b.jobs, b.all = map[evidence.JobID]bool{}, false
	return jobs, all
}

// follow hears what other processes do to the store, until ctx ends.
func (a *App) follow(ctx context.Context) {
	for ctx.Err() == nil {
		err := a.store.Follow(ctx, func(n News) {
			if n.Notice != nil {
				a.told(n.Notice)
				return
			}
			a.behind.note(n.Job, n.Again)
		})
		if ctx.Err() == nil {
			a.log.Error("following what other processes do", "err", err)
			pause(ctx, time.Second)
			a.behind.note("", true)
		}
	}
}

// keepUp reads what follow heard of, until ctx ends.
func (a *App) keepUp(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-a.behind.wake:
		}
		jobs, all := a.behind.take()
		var err error
		if all {
			err = a.renewAll(ctx)
		}
		for job := range jobs {
			if !all || err != nil {
				err = errors.Join(err, a.renew(ctx, job))
			}
		}
		if err != nil && ctx.Err() == nil {
			a.log.Warn("reading what other processes wrote", "err", err)
			pause(ctx, time.Second)
			for job := range jobs {
				a.behind.note(job, false)
			}
			a.behind.note("", all)
		}
	}
}
