// Package store keeps job books in SQLite and a receiver's inbox in a SQLite file of its own. It is the only place that
// knows SQL. What the entries mean is not its business.
package store

import (
	"context"
	"crypto/aes"
	"crypto/cipher"
	"crypto/rand"
	"database/sql"
	"embed"
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

	"proofbell/evidence"
	"proofbell/internal/app"
)

//go:embed migrations/*.sql
var migrations embed.FS

// Options are for tests and small disks. The zero value is right.
type Options struct {
	MaxPages int // limit of each database file in pages of 4 KiB; 0: none
}

// Books is an app.Store on one SQLite file. Safe for concurrent use by one process: Open locks the folder.
type Books struct {
	write  *sql.DB // one connection: SQLite has one writer
	read   *sql.DB
	unlock func() error
	wrap   cipher.AEAD // seals job keys under the installation's own key file
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
	if b.write, err = open(ctx, path, 1, o); err != nil {
		return b, err
	}
	if err = migrate(ctx, b.write); err != nil {
		return b, fmt.Errorf("bringing %s up to date: %w", path, err)
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

// Close closes the database and gives the folder free.
func (b *Books) Close() error {
	var errs []error
	for _, db := range []*sql.DB{b.read, b.write} {
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	if b.unlock != nil {
		errs = append(errs, b.unlock())
		b.unlock = nil
	}
	return errors.Join(errs...)
}

// open opens a database file for durable work: write-ahead log, and every commit synced before it returns.
// secure_delete overwrites what is deleted: a destroyed key must not stay in a free page.
func open(ctx context.Context, path string, conns int, o Options) (*sql.DB, error) {
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

func migrate(ctx context.Context, db *sql.DB) error {
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return err
	}
	p, err := goose.NewProvider(goose.DialectSQLite3, db, files, goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return err
	}
	_, err = p.Up(ctx)
	return classify(err)
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

// installationKey reads or makes the key under which job keys are kept. It lives beside the database, not in it: a copy
// of the database alone opens nothing.
func installationKey(path string) (cipher.AEAD, error) {
	secret, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		secret = make([]byte, 32)
		rand.Read(secret)
		err = writeDurably(path, secret)
	}
	if err != nil {
		return nil, fmt.Errorf("installation key: %w", err)
	}
	if len(secret) != 32 {
		return nil, fmt.Errorf("installation key %s: want 32 bytes, it has %d: put back the file that belongs to this data folder", path, len(secret))
	}
	block, err := aes.NewCipher(secret)
	if err != nil {
		return nil, err
	}
	return cipher.NewGCM(block)
}

func writeDurably(path string, data []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	return errors.Join(err, f.Sync(), f.Close())
}

// SigningKey returns the installation's key for chain heads, made at its first use.
func (b *Books) SigningKey(ctx context.Context) (*evidence.SigningKey, error) {
	var sealed []byte
	err := b.write.QueryRowContext(ctx, `SELECT value FROM installation WHERE name = 'signing-key'`).Scan(&sealed)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		key, err := evidence.NewSigningKey(rand.Reader)
		if err != nil {
			return nil, err
		}
		_, err = b.write.ExecContext(ctx, `INSERT INTO installation (name, value) VALUES ('signing-key', ?)`, b.seal(key.Seed(), "signing-key"))
		return key, classify(err)
	case err != nil:
		return nil, fmt.Errorf("reading the signing key: %w", err)
	}
	seed, err := b.unseal(sealed, "signing-key")
	if err != nil {
		return nil, fmt.Errorf("signing key: %w", err)
	}
	return evidence.SigningKeyFrom(seed)
}

// Setting returns what was kept under a name, or nil.
func (b *Books) Setting(ctx context.Context, name string) (value []byte, err error) {
	err = b.read.QueryRowContext(ctx, `SELECT value FROM installation WHERE name = ?`, "setting:"+name).Scan(&value)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	return value, classify(err)
}

// SetSetting keeps a value under a name.
func (b *Books) SetSetting(ctx context.Context, name string, value []byte) error {
	_, err := b.write.ExecContext(ctx, `INSERT INTO installation (name, value) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value`, "setting:"+name, value)
	return classify(err)
}

func (b *Books) seal(secret []byte, bound string) []byte {
	nonce := make([]byte, b.wrap.NonceSize())
	rand.Read(nonce)
	return b.wrap.Seal(nonce, nonce, secret, []byte(bound))
}

func (b *Books) unseal(sealed []byte, bound string) ([]byte, error) {
	n := b.wrap.NonceSize()
	if len(sealed) < n {
		return nil, errors.New("the sealed key is too short")
	}
	secret, err := b.wrap.Open(nil, sealed[:n], sealed[n:], []byte(bound))
	if err != nil {
		return nil, errors.New("the installation key does not open it: put back the installation.key that belongs to this data folder")
	}
	return secret, nil
}

func millis(t time.Time) int64 { return t.UnixMilli() }
