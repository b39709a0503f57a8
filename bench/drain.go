package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"sync"
	"time"

	"proofbell/demo"
	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/prove"
	"proofbell/internal/store"
	"proofbell/signal"
	"proofbell/site"
)

// databaseVariable names the server that the drain is measured against: an empty database.
const databaseVariable = "PROOFBELL_BENCH_DATABASE"

const waiting = 20_000 // signals

var inboxDrain = measure{
	name: "drain", what: fmt.Sprintf("%d signals from the inbox into a book in PostgreSQL, folded", waiting), budget: 10_000, unit: "events/s", atLeast: true,
	needs: func() string {
		if os.Getenv(databaseVariable) == "" {
			return databaseVariable + " names no empty database"
		}
		return ""
	},
	run: func() (r result, err error) {
		ctx := context.Background()
		dir, err := os.MkdirTemp("", "bench-drain-")
		if err != nil {
			return r, err
		}
		defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
		books, err := store.OpenDatabase(ctx, os.Getenv(databaseVariable), dir)
		if err != nil {
			return r, err
		}
		defer func() { err = errors.Join(err, books.Close()) }()
		inbox, err := store.OpenInbox(ctx, dir, store.Options{})
		if err != nil {
			return r, err
		}
		defer func() { err = errors.Join(err, inbox.Close()) }()
		a, err := app.New(ctx, app.Config{Store: books, Inbox: inbox, Now: time.Now, Random: rand.Reader, Log: slog.New(slog.DiscardHandler)})
		if err != nil {
			return r, err
		}
		if err := openRun(ctx, a); err != nil {
			return r, err
		}
		if r.value, err = drained(ctx, a, waiting); err != nil {
			return r, err
		}
		const few = 300
		from := time.Now()
		for n := range few { // the plain way: each goes into the book before the next is looked at
			err := deliver(ctx, a, waiting+n)
			if err == nil {
				err = a.Drain(ctx)
			}
			if err != nil {
				return r, err
			}
		}
		r.baseline, r.plain = few/time.Since(from).Seconds(), "one signal at a time"
		return r, nil
	},
}

// openRun opens a practice run of the practice building, whose account is 4816.
func openRun(ctx context.Context, a *app.App) error {
	s, err := site.DecodeYAML("demo", demo.Corrected)
	if err != nil {
		return err
	}
	s.Practice = true
	job, err := a.Open(ctx, s, "okoro-lind")
	if err != nil {
		return err
	}
	id, err := evidence.NewEntryID(time.Now(), rand.Reader)
	if err != nil {
		return err
	}
	c, err := evidence.NewContent(job, id, time.Now(), "okoro-lind", evidence.KindRun, 1, prove.RunBody{Act: prove.RunOpened, Account: s.Account.Number, Practice: true})
	if err != nil {
		return err
	}
	results, err := a.Append(ctx, job, []evidence.Content{c})
	if err == nil && results[0].Problem != nil {
		err = results[0].Problem
	}
	return err
}

// drained delivers so many signals and returns how many a second went into the book after that.
func drained(ctx context.Context, a *app.App, n int) (float64, error) {
	errs := make([]error, 64)
	var work sync.WaitGroup
	for w := range errs {
		work.Go(func() {
			for i := w; i < n && errs[w] == nil; i += len(errs) {
				errs[w] = deliver(ctx, a, i)
			}
		})
	}
	work.Wait()
	if err := errors.Join(errs...); err != nil {
		return 0, err
	}
	from := time.Now()
	if err := a.Drain(ctx); err != nil {
		return 0, err
	}
	return float64(n) / time.Since(from).Seconds(), nil
}

func deliver(ctx context.Context, a *app.App, n int) error {
	payload, err := signal.NewContactID("4816", signal.New, "110", 1, n/9999+1)
	if err != nil {
		return err
	}
	raw, err := signal.Frame{ID: signal.IDContactID, Sequence: n%9999 + 1, Prefix: "L0", Account: "4816", Data: payload.String()}.Encode()
	if err != nil {
		return err
	}
	r := signal.Judge(raw)
	r.At = time.Now()
	verdict, err := a.Deliver(ctx, r)
	if err == nil && verdict != signal.Acknowledge {
		err = fmt.Errorf("signal %d was answered with %v", n, verdict)
	}
	return err
}
