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
	"strings"
	"sync"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
)

// strays is how many rows that belong into no book and were not answered are kept, newest first: what strangers send has a
// bound on disk, and what was acknowledged stays.
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
	told     func(rows int, took time.Duration, err error)

	// The writer's own.
	inserts []insertion // most rows first
	repeats *repeats
	last    int64 // newest row
	pruned  int64 // newest row at the last pruning
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
  row       INTEGER PRIMARY KEY,
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
DROP INDEX IF EXISTS inbox_first;
DROP INDEX IF EXISTS inbox_stray;
CREATE INDEX IF NOT EXISTS inbox_unanswered ON inbox (row) WHERE run = '' AND answered = 0;`

// OpenInbox opens or makes the inbox in folder dir and locks it against other processes. app.ErrInUse when it is taken.
func OpenInbox(ctx context.Context, dir string, o Options) (_ *Inbox, err error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("making the data folder: %w", err)
	}
	in := &Inbox{puts: make(chan put, maxBatch), stop: make(chan struct{}), done: make(chan struct{}), strays: strays, told: o.Committed, repeats: newRepeats()}
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
	if err = in.prepare(ctx); err != nil {
		return nil, fmt.Errorf("preparing %s: %w", path, classify(err))
	}
	if in.read, err = open(ctx, path, 2, o); err != nil {
		return nil, err
	}
	go in.write() // ends with Close
	return in, nil
}

func (in *Inbox) prepare(ctx context.Context) (err error) {
	if _, err := in.db.ExecContext(ctx, inboxSchema); err != nil {
		return err
	}
	var has bool // an inbox made before there were keys has no such column
	err = in.db.QueryRowContext(ctx, `SELECT COUNT(*) FROM pragma_table_info('inbox') WHERE name = 'clear'`).Scan(&has)
	if err != nil {
		return err
	}
	if !has {
		if _, err := in.db.ExecContext(ctx, `ALTER TABLE inbox ADD COLUMN clear BLOB`); err != nil {
			return err
		}
	}
	if in.receiver, err = receiverID(ctx, in.db); err != nil {
		return err
	}
	if err := in.db.QueryRowContext(ctx, `SELECT COALESCE(MAX(row), 0) FROM inbox`).Scan(&in.last); err != nil {
		return err
	}
	for _, rows := range []int{64, 8, 1} {
		text := `INSERT INTO inbox (row, at, remote, transport, account, repeat, duplicate, answered, why, job, run, raw, clear) VALUES ` +
			strings.Repeat(`(?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?), `, rows)
		insert, err := in.db.PrepareContext(ctx, strings.TrimSuffix(text, ", "))
		if err != nil {
			return err
		}
		in.inserts = append(in.inserts, insertion{insert, rows})
	}
	return in.repeats.load(ctx, in.db, time.Now())
}

// insertion is a prepared statement that takes so many rows.
type insertion struct {
	*sql.Stmt
	rows int
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
		begin := time.Now()
		err := in.commit(batch)
		if in.told != nil {
			in.told(len(batch), time.Since(begin), err)
		}
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
	if err := in.store(tx, batch); err != nil {
		if rollback := tx.Rollback(); rollback != nil && !errors.Is(rollback, sql.ErrTxDone) {
			err = errors.Join(err, rollback)
		}
		return fmt.Errorf("storing %d signals: %w", len(batch), classify(err))
	}
	if err := tx.Commit(); err != nil {
		return fmt.Errorf("storing %d signals: %w", len(batch), classify(err))
	}
	for i := range batch {
		if r := &batch[i].row; r.Repeat != "" && r.Duplicate == 0 {
			in.repeats.add(r.Repeat, r.Row, r.At)
		}
	}
	in.last += int64(len(batch))
	if in.last-in.pruned >= in.strays/10 {
		in.pruned = in.last
	}
	return nil
}

// store numbers the rows of a batch, finds the repeats among them, and writes them.
func (in *Inbox) store(tx *sql.Tx, batch []put) error {
	fresh := map[string]int64{} // of this batch
	for i := range batch {
		r := &batch[i].row
		r.Row, r.Duplicate = in.last+1+int64(i), 0
		if r.Repeat == "" {
			continue
		}
		if len(r.Repeat) > maxKey {
			r.Repeat = shortKey(r.Repeat)
		}
		r.Duplicate = in.repeats.of(r.Repeat, r.At)
		if r.Duplicate == 0 {
			r.Duplicate = fresh[r.Repeat]
		}
		if r.Duplicate == 0 {
			fresh[r.Repeat] = r.Row
		}
	}
	args := make([]any, 0, 13*len(batch))
	for i := range batch {
		r := &batch[i].row
		args = append(args, r.Row, millis(r.At), r.Remote, r.Transport, r.Account, r.Repeat, r.Duplicate, r.Answered, r.Why, string(r.Job), string(r.Run), r.Raw, r.Clear)
	}
	for _, insert := range in.inserts {
		one := tx.Stmt(insert.Stmt)
		for n := 13 * insert.rows; len(args) >= n; args = args[n:] {
			if _, err := one.Exec(args[:n]...); err != nil {
				return err
			}
		}
	}
	newest := in.last + int64(len(batch))
	if newest-in.pruned < in.strays/10 {
		return nil
	}
	_, err := tx.Exec(`DELETE FROM inbox WHERE run = '' AND answered = 0 AND row <= ?`, newest-in.strays)
	return err
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

// Backlog counts the answered rows of runs behind number after.
func (in *Inbox) Backlog(ctx context.Context, after int64) (rows int64, oldest time.Time, err error) {
	var at sql.NullInt64
	err = in.read.QueryRowContext(ctx, `SELECT COUNT(*), MIN(at) FROM inbox WHERE row > ? AND run <> '' AND answered = 1`, after).Scan(&rows, &at)
	if at.Valid {
		oldest = time.UnixMilli(at.Int64).UTC()
	}
	return rows, oldest, err
}

// maxKey is how long a key of a signal and its repeats may be to be kept as it is.
const maxKey = 40

func shortKey(key string) string {
	sum := sha256.Sum256([]byte(key))
	return hex.EncodeToString(sum[:16])
}
