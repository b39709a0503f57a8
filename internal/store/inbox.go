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

// maxBatch is how many rows one commit takes at most. While one commit syncs, the next batch gathers.
const maxBatch = 1000

// Inbox is an app.Inbox on a SQLite file of its own. One writer commits all rows that wait in one transaction; each
// caller gets its answer only after that commit is on disk. Safe for concurrent use.
type Inbox struct {
	db       *sql.DB
	read     *sql.DB
	receiver string
	puts     chan put
	stop     chan struct{}
	done     sync.WaitGroup
	once     sync.Once
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
  raw       BLOB NOT NULL
);
CREATE INDEX IF NOT EXISTS inbox_repeat ON inbox (repeat, at) WHERE repeat <> '';`

// OpenInbox opens or makes the inbox in folder dir.
func OpenInbox(ctx context.Context, dir string, o Options) (*Inbox, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("making the data folder: %w", err)
	}
	path := filepath.Join(dir, "inbox.db")
	db, err := open(ctx, path, 1, o)
	if err != nil {
		return nil, err
	}
	in := &Inbox{db: db, puts: make(chan put, maxBatch), stop: make(chan struct{})}
	if _, err := db.ExecContext(ctx, inboxSchema); err != nil {
		return nil, errors.Join(fmt.Errorf("preparing %s: %w", path, classify(err)), db.Close())
	}
	if in.receiver, err = receiverID(ctx, db); err != nil {
		return nil, errors.Join(fmt.Errorf("preparing %s: %w", path, err), db.Close())
	}
	if in.read, err = open(ctx, path, 2, o); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	in.done.Go(in.write)
	return in, nil
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
	in.done.Wait()
	return errors.Join(in.read.Close(), in.db.Close())
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
	case <-in.stop:
		select { // the last batch may have taken it
		case a := <-p.answer:
			return a.row, a.err
		default:
			return row, errClosed
		}
	}
}

func (in *Inbox) write() {
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
	if err := store(tx, batch); err != nil {
		if rollback := tx.Rollback(); rollback != nil && !errors.Is(rollback, sql.ErrTxDone) {
			err = errors.Join(err, rollback)
		}
		return fmt.Errorf("storing %d signals: %w", len(batch), classify(err))
	}
	if err := tx.Commit(); err != nil {
		return fmt.Errorf("storing %d signals: %w", len(batch), classify(err))
	}
	return nil
}

func store(tx *sql.Tx, batch []put) error {
	insert, err := tx.Prepare(`INSERT INTO inbox (at, remote, transport, account, repeat, duplicate, answered, why, job, raw) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`)
	if err != nil {
		return err
	}
	defer insert.Close()
	first, err := tx.Prepare(`SELECT row FROM inbox WHERE repeat = ? AND at >= ? AND duplicate = 0 ORDER BY row DESC LIMIT 1`)
	if err != nil {
		return err
	}
	defer first.Close()
	for i := range batch {
		r := &batch[i].row
		repeat := ""
		if r.Repeat != "" {
			repeat = repeatKey(r.Repeat)
			err := first.QueryRow(repeat, millis(r.At.Add(-signal.DuplicateWindow))).Scan(&r.Duplicate)
			if err != nil && !errors.Is(err, sql.ErrNoRows) {
				return err
			}
		}
		res, err := insert.Exec(millis(r.At), r.Remote, r.Transport, r.Account, repeat, r.Duplicate, r.Answered, r.Why, string(r.Job), r.Raw)
		if err != nil {
			return err
		}
		if r.Row, err = res.LastInsertId(); err != nil {
			return err
		}
	}
	return nil
}

// After returns rows behind number row, in order, at most limit.
func (in *Inbox) After(ctx context.Context, row int64, limit int) ([]app.InboxRow, error) {
	scan := func(s interface{ Scan(...any) error }) (r app.InboxRow, err error) {
		var at int64
		err = s.Scan(&r.Row, &at, &r.Remote, &r.Transport, &r.Account, &r.Duplicate, &r.Answered, &r.Why, &r.Job, &r.Raw)
		r.At = time.UnixMilli(at).UTC()
		return r, err
	}
	return collect(ctx, in.read, scan, `SELECT row, at, remote, transport, account, duplicate, answered, why, job, raw FROM inbox WHERE row > ? ORDER BY row LIMIT ?`, row, limit)
}

// Last returns the number of the newest row; 0 when there is none.
func (in *Inbox) Last(ctx context.Context) (row int64, err error) {
	err = in.read.QueryRowContext(ctx, `SELECT COALESCE(MAX(row), 0) FROM inbox`).Scan(&row)
	return row, err
}

// repeatKey is short whatever the payload is.
func repeatKey(key string) string {
	sum := sha256.Sum256([]byte(key))
	return hex.EncodeToString(sum[:16])
}
