package store

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/signal"
)

// strays is how many rows that belong into no book are kept, newest first: what strangers send has a bound on disk.
const strays = 100_000

// maxBatch is how many rows one commit takes at most. While one commit syncs, the next batch gathers.
const maxBatch = 1000

// Inbox is an app.Inbox on a SQLite file of its own. One writer commits all rows that wait in one transaction; each
// caller gets its answer only after that commit is on disk. Safe for concurrent use.
type Inbox struct {
	db       *sql.DB
	read     *sql.DB
	receiver string
	unlock   func() error
	puts     chan put
	stop     chan struct{}
	done     chan struct{} // closed when the writer has ended
	once     sync.Once
	strays   int64
	pruned   int64 // newest row at the last pruning; the writer's own
}

var _ app.Inbox = (*Inbox)(nil)

type put struct {
	row    app.InboxRow
	answer chan answer
}

type answer struct {
	row app.InboxRow
	err error
}

const inboxSchema = `
CREATE TABLE IF NOT EXISTS receiver (id TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS inbox (
  row       INTEGER PRIMARY KEY AUTOINCREMENT,
  at        BIGINT NOT NULL,
  remote    TEXT NOT NULL,
  transport TEXT NOT NULL,
  account   TEXT NOT NULL,
  repeat    TEXT NOT NULL,
  duplicate BIGINT NOT NULL,
  answered  INTEGER NOT NULL,
  why       TEXT NOT NULL,
  job       TEXT NOT NULL,
  run       TEXT NOT NULL,
  raw       BLOB NOT NULL,
  clear     BLOB
);
CREATE INDEX IF NOT EXISTS inbox_first ON inbox (repeat, row, at) WHERE repeat <> '' AND duplicate = 0;
CREATE INDEX IF NOT EXISTS inbox_stray ON inbox (row) WHERE run = '';`

// OpenInbox opens or makes the inbox in folder dir and locks it against other processes. app.ErrInUse when it is taken.
func OpenInbox(ctx context.Context, dir string, o Options) (_ *Inbox, err error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("making the data folder: %w", err)
	}
	in := &Inbox{puts: make(chan put, maxBatch), stop: make(chan struct{}), done: make(chan struct{}), strays: strays}
	defer func() {
		if err != nil {
			err = errors.Join(err, in.release())
		}
	}()
	if in.unlock, err = lock(filepath.Join(dir, "inbox.lock")); err != nil {
		return nil, fmt.Errorf("data folder %s: %w", dir, err)
	}
	path := filepath.Join(dir, "inbox.db")
	if in.db, err = open(ctx, path, 1, o); err != nil {
		return nil, err
	}
	if err = prepareInbox(ctx, in.db); err == nil {
		in.receiver, err = receiverID(ctx, in.db)
	}
	if err != nil {
		return nil, fmt.Errorf("preparing %s: %w", path, classify(err))
	}
	if in.read, err = open(ctx, path, 2, o); err != nil {
		return nil, err
	}
	go in.write() // ends with Close
	return in, nil
}

func prepareInbox(ctx context.Context, db *sql.DB) error {
	if _, err := db.ExecContext(ctx, inboxSchema); err != nil {
		return err
	}
	var has bool // an inbox made before there were keys has no such column
	err := db.QueryRowContext(ctx, `SELECT COUNT(*) FROM pragma_table_info('inbox') WHERE name = 'clear'`).Scan(&has)
	if err != nil || has {
		return err
	}
	_, err = db.ExecContext(ctx, `ALTER TABLE inbox ADD COLUMN clear BLOB`)
	return err
}

// release closes what was opened, and gives the folder free.
func (in *Inbox) release() error {
	var errs []error
	for _, db := range []*sql.DB{in.read, in.db} {
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	if in.unlock != nil {
		errs = append(errs, in.unlock())
		in.unlock = nil
	}
	return errors.Join(errs...)
}

func receiverID(ctx context.Context, db *sql.DB) (id string, err error) {
	err = db.QueryRowContext(ctx, `SELECT id FROM receiver`).Scan(&id)
	if !errors.Is(err, sql.ErrNoRows) {
		return id, err
	}
	made, err := evidence.NewEntryID(time.Now(), rand.Reader)
	if err != nil {
		return "", err
	}
	_, err = db.ExecContext(ctx, `INSERT INTO receiver (id) VALUES (?)`, string(made))
	return string(made), classify(err)
}

// Receiver returns this receiver's id.
func (in *Inbox) Receiver() string { return in.receiver }

// Close waits for the commit in hand and closes the file. Rows that still wait get an error and were not stored.
func (in *Inbox) Close() error {
	in.once.Do(func() { close(in.stop) })
	<-in.done
	return in.release()
}

var errClosed = errors.New("the inbox is closed")

// Put stores one row and returns it with its number once it is on disk.
func (in *Inbox) Put(ctx context.Context, row app.InboxRow) (app.InboxRow, error) {
	p := put{row: row, answer: make(chan answer, 1)}
	select {
	case in.puts <- p:
	case <-in.stop:
		return row, errClosed
	case <-ctx.Done():
		return row, ctx.Err()
	}
	select {
	case a := <-p.answer:
		return a.row, a.err
	case <-in.done:
		select { // the last batch may have taken it
		case a := <-p.answer:
			return a.row, a.err
		default:
			return row, errClosed
		}
	}
}

func (in *Inbox) write() {
	defer close(in.done)
	batch := make([]put, 0, maxBatch)
	for {
		batch = batch[:0]
		select {
		case p := <-in.puts:
			batch = append(batch, p)
		case <-in.stop:
			return
		}
	gather:
		for len(batch) < maxBatch {
			select {
			case p := <-in.puts:
				batch = append(batch, p)
			default:
				break gather
			}
		}
		err := in.commit(batch)
		for _, p := range batch {
			p.answer <- answer{p.row, err}
		}
	}
}

func (in *Inbox) commit(batch []put) error {
	tx, err := in.db.Begin()
	if err != nil {
		return fmt.Errorf("storing %d signals: %w", len(batch), classify(err))
	}
	newest, err := in.store(tx, batch)
	if err != nil {
		if rollback := tx.Rollback(); rollback != nil && !errors.Is(rollback, sql.ErrTxDone) {
			err = errors.Join(err, rollback)
		}
		return fmt.Errorf("storing %d signals: %w", len(batch), classify(err))
	}
	if err := tx.Commit(); err != nil {
		return fmt.Errorf("storing %d signals: %w", len(batch), classify(err))
	}
	if newest-in.pruned >= in.strays/10 {
		in.pruned = newest
	}
	return nil
}

func (in *Inbox) store(tx *sql.Tx, batch []put) (newest int64, err error) {
	insert, err := tx.Prepare(`INSERT INTO inbox (at, remote, transport, account, repeat, duplicate, answered, why, job, run, raw, clear) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`)
	if err != nil {
		return 0, err
	}
	defer insert.Close()
	first, err := tx.Prepare(`SELECT row, at FROM inbox WHERE repeat = ? AND repeat <> '' AND duplicate = 0 ORDER BY row DESC LIMIT 1`)
	if err != nil {
		return 0, err
	}
	defer first.Close()
	for i := range batch {
		r := &batch[i].row
		repeat := ""
		if r.Repeat != "" {
			repeat = repeatKey(r.Repeat)
			var row, at int64
			err := first.QueryRow(repeat).Scan(&row, &at)
			if err != nil && !errors.Is(err, sql.ErrNoRows) {
				return 0, err
			}
			if err == nil && at >= millis(r.At.Add(-signal.DuplicateWindow)) {
				r.Duplicate = row
			}
		}
		res, err := insert.Exec(millis(r.At), r.Remote, r.Transport, r.Account, repeat, r.Duplicate, r.Answered, r.Why, string(r.Job), string(r.Run), r.Raw, r.Clear)
		if err != nil {
			return 0, err
		}
		if r.Row, err = res.LastInsertId(); err != nil {
			return 0, err
		}
		newest = r.Row
	}
	if newest-in.pruned >= in.strays/10 {
		_, err = tx.Exec(`DELETE FROM inbox WHERE run = '' AND row <= ?`, newest-in.strays)
	}
	return newest, err
}

// After returns rows behind number row, in order, at most limit.
func (in *Inbox) After(ctx context.Context, row int64, limit int) ([]app.InboxRow, error) {
	scan := func(s interface{ Scan(...any) error }) (r app.InboxRow, err error) {
		var at int64
		err = s.Scan(&r.Row, &at, &r.Remote, &r.Transport, &r.Account, &r.Duplicate, &r.Answered, &r.Why, &r.Job, &r.Run, &r.Raw, &r.Clear)
		r.At = time.UnixMilli(at).UTC()
		return r, err
	}
	return collect(ctx, in.read, scan, `SELECT row, at, remote, transport, account, duplicate, answered, why, job, run, raw, clear FROM inbox WHERE row > ? ORDER BY row LIMIT ?`, row, limit)
}

// Last returns the number of the newest row; 0 when there is none.
func (in *Inbox) Last(ctx context.Context) (row int64, err error) {
	err = in.read.QueryRowContext(ctx, `SELECT COALESCE(MAX(row), 0) FROM inbox`).Scan(&row)
	return row, err
}

// Backlog counts the rows of runs behind number after.
func (in *Inbox) Backlog(ctx context.Context, after int64) (rows int64, oldest time.Time, err error) {
	var at sql.NullInt64
	err = in.read.QueryRowContext(ctx, `SELECT COUNT(*), MIN(at) FROM inbox WHERE row > ? AND run <> ''`, after).Scan(&rows, &at)
	if at.Valid {
		oldest = time.UnixMilli(at.Int64).UTC()
	}
	return rows, oldest, err
}

// repeatKey is short whatever the payload is.
func repeatKey(key string) string {
	sum := sha256.Sum256([]byte(key))
	return hex.EncodeToString(sum[:16])
}
