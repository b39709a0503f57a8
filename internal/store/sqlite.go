// Package store keeps job books in SQLite or PostgreSQL, and a receiver's inbox in a SQLite file of its own. It is the only
// place that knows SQL. What the entries mean is not its business.
package store

import (
	"context"
	"crypto/cipher"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"time"

	"github.com/pressly/goose/v3"
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"proofbell/internal/app"
)

// Options are for tests and small disks. The zero value is right.
type Options struct {
	MaxPages int // limit of each database file in pages of 4 KiB; 0: none
	// Committed is told each commit of the inbox, by its one writer: it must be quick. nil: nobody asks.
	Committed func(rows int, took time.Duration, err error)
}

// Books is an app.Store, on one SQLite file (Open, which locks the folder: one process) or on a PostgreSQL database
// (OpenDatabase: any number of processes). Safe for concurrent use.
type Books struct {
	write  *sql.DB // SQLite: one connection, as it has one writer
	read   *sql.DB // PostgreSQL: the same as write
	place  string
	unlock func() error
	wrap   cipher.AEAD // seals job keys and secrets under the installation's own key file
	pg     *postgres   // nil: SQLite
}

var _ app.Store = (*Books)(nil)

// Open opens or makes the job books in folder dir and locks it against other processes. app.ErrInUse when it is taken.
func Open(ctx context.Context, dir string, o Options) (b *Books, err error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("making the data folder: %w", err)
	}
	b = &Books{}
	defer func() {
		if err != nil {
			err = errors.Join(err, b.Close())
		}
	}()
	if b.unlock, err = lock(filepath.Join(dir, "lock")); err != nil {
		return b, fmt.Errorf("data folder %s: %w", dir, err)
	}
	if b.wrap, err = installationKey(filepath.Join(dir, "installation.key")); err != nil {
		return b, err
	}
	path := filepath.Join(dir, "books.db")
	b.place = path
	if b.write, err = open(ctx, path, 1, o); err != nil {
		return b, err
	}
	if err = migrate(ctx, b.write, goose.DialectSQLite3, migrations); err != nil {
		return b, fmt.Errorf("bringing %s up to date: %w", path, classify(err))
	}
	if err = b.foldLog(ctx); err != nil { // after a crash: a key that was destroyed may stand in it
		return b, err
	}
	b.read, err = open(ctx, path, 4, o)
	return b, err
}

// foldLog moves what the write-ahead log holds into the database, whose free pages are overwritten, and empties the log.
func (b *Books) foldLog(ctx context.Context) error {
	var busy, pages, moved int
	if err := b.write.QueryRowContext(ctx, `PRAGMA wal_checkpoint(TRUNCATE)`).Scan(&busy, &pages, &moved); err != nil {
		return fmt.Errorf("emptying the write-ahead log: %w", classify(err))
	}
	if busy != 0 {
		return errors.New("emptying the write-ahead log: somebody reads from it; it is emptied at the next start")
	}
	return nil
}

// Place names the folder's file or the database, without its password.
func (b *Books) Place() string { return b.place }

// Close closes the database and gives the folder free.
func (b *Books) Close() error {
	var errs []error
	for _, db := range []*sql.DB{b.read, b.write} {
		if db != nil {
			errs = append(errs, db.Close()) // twice is no error
		}
	}
	if b.unlock != nil {
		errs = append(errs, b.unlock())
		b.unlock = nil
	}
	return errors.Join(errs...)
}

// private makes the file if there is none, and leaves it and what SQLite keeps beside it to their owner. A file that is there is not
// opened: closing it would let go of SQLite's locks (POSIX).
func private(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err == nil {
		return f.Close()
	}
	for _, name := range []string{path, path + "-wal", path + "-shm"} {
		info, statErr := os.Stat(name)
		if statErr != nil || info.Mode().Perm()&0o077 == 0 {
			continue
		}
		if err := os.Chmod(name, 0o600); err != nil {
			return fmt.Errorf("keeping others from reading: %w", err)
		}
	}
	if errors.Is(err, fs.ErrExist) {
		return nil
	}
	return err
}

// open opens a database file for durable work: write-ahead log, and every commit synced before it returns.
// secure_delete overwrites what is deleted: a destroyed key must not stay in a free page.
func open(ctx context.Context, path string, conns int, o Options) (*sql.DB, error) {
	if err := private(path); err != nil {
		return nil, fmt.Errorf("opening %s: %w", path, err)
	}
	dsn := "file:" + (&url.URL{Path: filepath.ToSlash(path)}).EscapedPath() + "?_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_pragma=busy_timeout(5000)&_pragma=foreign_keys(1)&_pragma=secure_delete(1)&_txlock=immediate"
	if o.MaxPages > 0 {
		dsn += fmt.Sprintf("&_pragma=max_page_count(%d)", o.MaxPages)
	}
	db, err := sql.Open("sqlite", dsn)
	if err != nil {
		return nil, fmt.Errorf("opening %s: %w", path, err)
	}
	db.SetMaxOpenConns(conns)
	db.SetMaxIdleConns(conns)
	if err := db.PingContext(ctx); err != nil {
		return nil, errors.Join(fmt.Errorf("opening %s: %w", path, classify(err)), db.Close())
	}
	return db, nil
}

// classify turns SQLite's own results into the errors that app knows.
func classify(err error) error {
	var se *sqlite.Error
	if errors.As(err, &se) {
		switch se.Code() {
		case sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR_SHMSIZE: // the second: no room for the index of the log
			return fmt.Errorf("%w: %w", app.ErrFull, err)
		case sqlite3.SQLITE_CONSTRAINT_PRIMARYKEY, sqlite3.SQLITE_CONSTRAINT_UNIQUE:
			return fmt.Errorf("%w: %w", app.ErrExists, err)
		}
	}
	return err
}
