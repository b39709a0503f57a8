package app

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"sync"
	"time"

	"proofbell/evidence"
	"proofbell/internal/prove"
	"proofbell/signal"
	"proofbell/site"
)

// holdAtMost bounds how long signals are held back while a run is opened or closed: a panel repeats after 5 s at the
// earliest (DC-09-2007 C.1.3.15).
const holdAtMost = 4 * time.Second

// settle waits until what was received here is in the books, and holds back what arrives until reopen is called: a signal
// belongs to the run that was open when it arrived, and a run is closed with all that belongs to it. The context returned
// ends when signals were held back for too long.
func (a *App) settle(ctx context.Context) (held context.Context, reopen func(), err error) {
	if err := a.Drain(ctx); err != nil { // most of it, while signals still come in
		return nil, nil, err
	}
	a.admit.Lock()
	held, cancel := context.WithTimeout(ctx, holdAtMost)
	reopen = func() { cancel(); a.admit.Unlock() }
	if err := a.Drain(held); err != nil {
		reopen()
		return nil, nil, err
	}
	return held, reopen, nil
}

// Run does what has to be done all the time, until ctx ends: it takes signals from the inbox into the books, follows what
// other processes do to the store and tells them what happens here, and watches the clocks.
func (a *App) Run(ctx context.Context) error {
	var work sync.WaitGroup
	for _, duty := range []func(context.Context){a.follow, a.keepUp, a.tellOthers, a.tend, a.sequence} {
		work.Go(func() { duty(ctx) })
	}
	work.Wait()
	return nil
}

// sequence takes signals from the inbox into the books until ctx ends.
func (a *App) sequence(ctx context.Context) {
	if a.inbox == nil {
		return
	}
	retry := time.NewTimer(0)
	defer retry.Stop()
	for failed := false; ; {
		select {
		case <-ctx.Done():
			return
		case <-a.arrivals:
			if failed {
				continue // retry brings it
			}
		case <-retry.C:
		}
		err := a.Drain(ctx)
		if ctx.Err() != nil {
			return
		}
		if err != nil {
			if !failed {
				a.log.Error("taking signals into the books", "err", err)
			}
			retry.Reset(time.Second)
		} else if failed {
			a.log.Info("signals are taken into the books again")
		}
		failed = err != nil
	}
}

// batch is how many rows of the inbox are taken at once.
const batch = 1000

// Drain takes every signal that the inbox holds now into the books. Each is taken once, however often this is repeated:
// ids are derived from receiver and row, and the row reached moves in the same transaction as the last of its entries.
func (a *App) Drain(ctx context.Context) (err error) {
	if a.inbox == nil {
		return nil
	}
	if err := a.drain.within(ctx); err != nil {
		return err
	}
	defer a.drain.Unlock()
	defer func() {
		if ctx.Err() == nil {
			a.spool.reached(err == nil, a.forward())
		}
	}()
	from, err := a.store.Taken(ctx, a.inbox.Receiver())
	if err != nil {
		return fmt.Errorf("reading how far the inbox was taken: %w", err)
	}
	for {
		rows, err := a.inbox.After(ctx, from, batch)
		if err != nil {
			return fmt.Errorf("reading the inbox: %w", err)
		}
		if len(rows) == 0 {
			return nil
		}
		if err := a.take(ctx, rows); err != nil {
			return err
		}
		from = rows[len(rows)-1].Row
		a.spool.took(rows)
	}
}

// take puts rows into the books that they name, one job after the other. The mark moves with the last of them: what a
// crash between two of them leaves is known by its ids when it is taken again.
func (a *App) take(ctx context.Context, rows []InboxRow) error {
	mark := &Taken{Receiver: a.inbox.Receiver(), Row: rows[len(rows)-1].Row}
	var order []evidence.JobID
	of := map[evidence.JobID][]InboxRow{}
	for _, r := range rows {
		if r.Run == "" {
			continue
		}
		if of[r.Job] == nil {
			order = append(order, r.Job)
		}
		of[r.Job] = append(of[r.Job], r)
	}
	for i, job := range order {
		var moves *Taken
		if i == len(order)-1 {
			moves = mark
		}
		if err := a.enter(ctx, job, of[job], moves); err != nil {
			return err
		}
	}
	if len(order) == 0 {
		return a.store.Append(ctx, nil, mark)
	}
	return nil
}

// enter puts rows into the book of their job.
func (a *App) enter(ctx context.Context, job evidence.JobID, rows []InboxRow, mark *Taken) error {
	o, err := a.job(ctx, job)
	if errors.Is(err, ErrNotFound) {
		a.log.Error("signals of a job that is not here stay in the inbox", "job", job, "row", rows[0].Row)
		if mark == nil {
			return nil
		}
		return a.store.Append(ctx, nil, mark)
	}
	if err != nil {
		return err
	}
	if err := o.mu.within(ctx); err != nil {
		return err
	}
	defer o.mu.Unlock()
	return a.onNewest(ctx, o, func() error {
		entries := make([]evidence.Entry, 0, len(rows))
		newest := o.newest
		var fresh prove.Firsts
		for _, row := range rows {
			contents, err := a.signals(row, o, &fresh)
			if err != nil {
				return err
			}
			for _, c := range contents {
				if o.state.Has(c.ID) {
					continue
				}
				e, err := evidence.Append(newest, c, a.now())
				if err != nil {
					return fmt.Errorf("entry of inbox row %d: %w", row.Row, err)
				}
				entries = append(entries, e)
				newest = &e
			}
		}
		return a.commit(ctx, o, entries, mark)
	})
}

// signals makes the contents of one inbox row: one for each event in it. fresh knows what is being added with it.
func (a *App) signals(row InboxRow, o *openJob, fresh *prove.Firsts) ([]evidence.Content, error) {
	r := signal.Judge(row.sound())
	if len(r.Events) == 0 {
		return nil, nil
	}
	repeat, run := signal.DuplicateKey(r.Frame), o.state.Run(string(row.Run))
	var out []evidence.Content
	for i, event := range r.Events {
		id, err := a.signalID(row, i)
		if err != nil {
			return nil, err
		}
		body := prove.SignalBody{
			Run: row.Run, Receiver: a.inbox.Receiver(), Row: row.Row, Index: i, Event: storable(event), Received: row.At, Repeat: repeat,
			Acknowledged: row.Answered, Path: pathOf(o.state.Site, r.Frame), Encrypted: row.Clear != nil, Raw: hex.EncodeToString(row.Raw),
		}
		if stamp, ok := r.Frame.Time(); ok {
			body.Stamp = stamp
		}
		if body.DuplicateOf = fresh.Find(repeat, i, row.At); body.DuplicateOf == "" && run != nil {
			body.DuplicateOf = run.First(repeat, i, row.At)
		}
		if body.DuplicateOf == "" {
			fresh.Add(repeat, i, prove.SignalID(id), row.At)
		}
		c, err := evidence.NewContent(row.Job, id, row.At, receiverPerson, evidence.KindSignal, o.state.Seq, body)
		if err != nil {
			return nil, fmt.Errorf("entry of inbox row %d: %w", row.Row, err)
		}
		out = append(out, c)
	}
	return out, nil
}

// storable is an event without U+0000, which a frame may carry and no store takes; the frame itself is kept in hex.
func storable(e signal.Event) signal.Event {
	for _, text := range []*string{&e.Account, &e.Code, &e.Words, &e.Address, &e.Modifiers, &e.Text, &e.Raw} {
		*text = strings.ReplaceAll(*text, "\x00", "\uFFFD")
	}
	return e
}

func (a *App) signalID(row InboxRow, index int) (evidence.EntryID, error) {
	return evidence.DerivedEntryID(row.At, a.inbox.Receiver()+"|"+strconv.FormatInt(row.Row, 10)+"|"+strconv.Itoa(index))
}

// pathOf reads the extended field J, the network path used: "1" is the path of order 1.
func pathOf(s *site.Site, f signal.Frame) site.PathID {
	order, ok := f.Field("J")
	if !ok {
		return ""
	}
	for _, id := range site.SortedIDs(s.Account.Paths) {
		if strconv.Itoa(s.Account.Paths[id].Order) == order {
			return id
		}
	}
	return ""
}
