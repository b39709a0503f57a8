package cli

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"proofbell/internal/app"
	"proofbell/internal/book"
	"proofbell/internal/store"
)

// dataFlags say where job books are kept: in the data folder, or in a database that several processes share.
type dataFlags struct {
	Data     string `type:"path" help:"Data folder." placeholder:"DIR"`
	Database string `env:"PROOFBELL_DATABASE" help:"Job books in this PostgreSQL database instead, postgres://user@host/name. With a password, name it in the environment: what runs shows its flags to everyone on the machine." placeholder:"URL"`
}

// folder returns the data folder. With a database it holds the installation key and the receiver's inbox.
func (d dataFlags) folder() (string, error) { return dataFolder(d.Data) }

// open opens the job books; new ones are made.
func (d dataFlags) open(ctx context.Context) (*store.Books, error) {
	dir, err := d.folder()
	if err != nil {
		return nil, err
	}
	if d.Database == "" {
		return store.Open(ctx, dir, store.Options{})
	}
	books, err := store.OpenDatabase(ctx, d.Database, dir)
	return books, store.Advise(err)
}

// existing tests that there are job books, where a folder without would be a mistake.
func (d dataFlags) existing() error {
	dir, err := d.folder()
	if err != nil || d.Database != "" {
		return err
	}
	if _, err := os.Stat(filepath.Join(dir, "books.db")); err != nil {
		return fmt.Errorf("%s: no job books here: %w; name the folder with --data", dir, err)
	}
	return nil
}

// withBooks opens job books that are there already.
func withBooks(ctx context.Context, d dataFlags, io *streams, act func(*app.App) error) error {
	if err := d.existing(); err != nil {
		return err
	}
	return withApp(ctx, d, io, act)
}

// stateOf is a site file as a job in which nothing happened yet, or a job of the books; the caller's own. A practice site is
// refused: what is planted in it is for the learner to find.
func stateOf(ctx context.Context, d dataFlags, io *streams, what string) (state *book.State, err error) {
	if isFile(what) {
		state = book.New("")
		if state.Site, _, err = readSite(what, io.in); err == nil {
			err = hidden(what, state.Site)
		}
		return state, err
	}
	err = withBooks(ctx, d, io, func(a *app.App) error {
		job, err := findJob(a, what)
		if err != nil {
			return err
		}
		kept, err := a.State(job)
		if err == nil {
			state = kept.Clone()
		}
		return err
	})
	return state, err
}

// withApp opens job books for one act; new ones are made.
func withApp(ctx context.Context, d dataFlags, io *streams, act func(*app.App) error) (err error) {
	books, err := d.open(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, books.Close()) }()
	a, err := app.New(ctx, app.Config{Store: books, Now: time.Now, Random: rand.Reader, Log: logger(io.err)})
	if err != nil {
		return err
	}
	return act(a)
}
