package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
)

// txn is one transaction on the books.
type txn struct {
	*sql.Tx
	ctx context.Context
	b   *Books
}

func (t txn) exec(query string, args ...any) error {
	_, err := t.ExecContext(t.ctx, t.b.bind(query), args...)
	return err
}

func (t txn) row(query string, args ...any) *sql.Row {
	return t.QueryRowContext(t.ctx, t.b.bind(query), args...)
}

// within runs do in one transaction that works on n entries.
func (b *Books) within(ctx context.Context, n int, do func(txn) error) error {
	return b.patiently(ctx, n, func(ctx context.Context) error {
		tx, err := b.write.BeginTx(ctx, nil)
		if err != nil {
			return err
		}
		if err := do(txn{tx, ctx, b}); err != nil {
			if rollback := tx.Rollback(); rollback != nil && !errors.Is(rollback, sql.ErrTxDone) {
				err = errors.Join(err, rollback)
			}
			return err
		}
		return tx.Commit()
	})
}

// exec runs one statement, row asks for one row, all for many.
func (b *Books) exec(ctx context.Context, query string, args ...any) error {
	return b.patiently(ctx, 0, func(ctx context.Context) error {
		_, err := b.write.ExecContext(ctx, b.bind(query), args...)
		return err
	})
}

func (b *Books) row(ctx context.Context, scan func(*sql.Row) error, query string, args ...any) error {
	return b.patiently(ctx, 0, func(ctx context.Context) error { return scan(b.read.QueryRowContext(ctx, b.bind(query), args...)) })
}

func all[T any](ctx context.Context, b *Books, scan func(interface{ Scan(...any) error }) (T, error), query string, args ...any) (out []T, err error) {
	err = b.patiently(ctx, 0, func(ctx context.Context) error {
		out, err = collect(ctx, b.read, scan, b.bind(query), args...)
		return err
	})
	return out, err
}

// patiently runs do, on a server within a time that grows with the number of entries, and sorts its error.
func (b *Books) patiently(ctx context.Context, n int, do func(context.Context) error) error {
	if b.pg != nil {
		return b.pg.patiently(ctx, n, do)
	}
	return classify(do(ctx))
}

// bind writes the parameters, ? in our statements, as the database wants them.
func (b *Books) bind(query string) string {
	if b.pg != nil {
		return numbered(query)
	}
	return query
}

const jobColumns = `SELECT id, created, erased, (SELECT COALESCE(MAX(seq), 0) FROM entry WHERE entry.job = job.id) FROM job`

func scanJob(row interface{ Scan(...any) error }) (j app.Job, err error) {
	var created int64
	err = row.Scan(&j.ID, &created, &j.Erased, &j.Seq)
	j.Created = time.UnixMilli(created).UTC()
	return j, err
}

// Jobs lists all jobs, newest first.
func (b *Books) Jobs(ctx context.Context) ([]app.Job, error) {
	return all(ctx, b, scanJob, jobColumns+` ORDER BY created DESC, id DESC`)
}

// Job finds a job. app.ErrNotFound when there is none.
func (b *Books) Job(ctx context.Context, id evidence.JobID) (j app.Job, err error) {
	err = b.row(ctx, func(r *sql.Row) error { j, err = scanJob(r); return err }, jobColumns+` WHERE id = ?`, string(id))
	if errors.Is(err, sql.ErrNoRows) {
		return j, fmt.Errorf("job %s: %w", id, app.ErrNotFound)
	}
	return j, err
}

// Create keeps a new job.
func (b *Books) Create(ctx context.Context, id evidence.JobID, created time.Time, key *evidence.JobKey, entries []evidence.Entry) error {
	return b.within(ctx, len(entries), func(t txn) error {
		erased := 0
		if key == nil {
			erased = 1
		}
		if err := t.exec(`INSERT INTO job (id, created, erased) VALUES (?, ?, ?)`, string(id), millis(created), erased); err != nil {
			return err
		}
		if key != nil {
			if err := t.exec(`INSERT INTO job_key (job, wrapped) VALUES (?, ?)`, string(id), b.seal(key.Secret(), "job-key|"+string(id))); err != nil {
				return err
			}
		}
		return t.insert(id, entries)
	})
}

// Entries of one statement at most: few enough for the parameters of SQLite, enough that the statement itself costs nothing.
const (
	mostEntries = 500
	mostBytes   = 4 << 20
)

// insert adds entries to a job, many in one statement.
func (t txn) insert(job evidence.JobID, entries []evidence.Entry) error {
	seqs, ids, texts, size := []int64{}, []string{}, []string{}, 0
	for i, e := range entries {
		raw, err := e.Canonical()
		if err != nil {
			return err
		}
		seqs, ids, texts, size = append(seqs, e.Seq), append(ids, string(e.ID)), append(texts, string(raw)), size+len(raw)
		if len(seqs) < mostEntries && size < mostBytes && i < len(entries)-1 {
			continue
		}
		if t.b.pg != nil {
			err = t.exec(`INSERT INTO entry (job, seq, id, json) SELECT ?, * FROM unnest(?::bigint[], ?::text[], ?::text[])`, string(job), seqs, ids, texts)
		} else {
			var values []any
			for i := range seqs {
				values = append(values, string(job), seqs[i], ids[i], texts[i])
			}
			err = t.exec(`INSERT INTO entry (job, seq, id, json) VALUES `+strings.Repeat("(?, ?, ?, ?), ", len(seqs)-1)+"(?, ?, ?, ?)", values...)
		}
		if err != nil {
			return err
		}
		seqs, ids, texts, size = seqs[:0], ids[:0], texts[:0], 0
	}
	if t.b.pg == nil || len(entries) == 0 {
		return nil
	}
	return t.notifyGrown(job, entries[len(entries)-1].Seq)
}

// behind adds entries behind the newest of their job. The job's row is locked first: of several processes one goes after
// the other, and each sees what the one before it did.
func (t txn) behind(entries []evidence.Entry) error {
	job := entries[0].Job
	lock := `SELECT id FROM job WHERE id = ?`
	if t.b.pg != nil { // SQLite has one writer anyway
		lock += ` FOR UPDATE`
	}
	var id string
	if err := t.row(lock, string(job)).Scan(&id); errors.Is(err, sql.ErrNoRows) {
		return fmt.Errorf("job %s: %w", job, app.ErrNotFound)
	} else if err != nil {
		return err
	}
	newest, err := one(t.row(newestEntry, string(job)))
	if err != nil {
		return err
	}
	if err := evidence.CheckChain(newest, entries); err != nil {
		return fmt.Errorf("%w: %w", app.ErrStale, err)
	}
	return t.insert(job, entries)
}

// Append adds entries behind the newest one of their job.
func (b *Books) Append(ctx context.Context, entries []evidence.Entry, taken *app.Taken) error {
	return b.within(ctx, len(entries), func(t txn) error {
		if len(entries) > 0 {
			if err := t.behind(entries); err != nil {
				return err
			}
		}
		if taken == nil {
			return nil
		}
		return t.exec(`INSERT INTO taken (receiver, row) VALUES (?, ?) ON CONFLICT (receiver) DO UPDATE SET row = excluded.row WHERE excluded.row > taken.row`, taken.Receiver, taken.Row)
	})
}

// Taken returns the last row of a receiver's inbox that the books have taken; 0 at first.
func (b *Books) Taken(ctx context.Context, receiver string) (row int64, err error) {
	err = b.row(ctx, func(r *sql.Row) error { return r.Scan(&row) }, `SELECT row FROM taken WHERE receiver = ?`, receiver)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, nil
	}
	return row, err
}

func one(row *sql.Row) (*evidence.Entry, error) {
	var raw string
	if err := row.Scan(&raw); errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	} else if err != nil {
		return nil, err
	}
	e, err := evidence.ParseEntry([]byte(raw))
	if err != nil {
		return nil, fmt.Errorf("reading a stored entry: %w", err)
	}
	return &e, nil
}

const newestEntry = `SELECT json FROM entry WHERE job = ? ORDER BY seq DESC LIMIT 1`

// Newest returns a job's newest entry; nil when it has none.
func (b *Books) Newest(ctx context.Context, job evidence.JobID) (e *evidence.Entry, err error) {
	err = b.row(ctx, func(r *sql.Row) error { e, err = one(r); return err }, newestEntry, string(job))
	return e, err
}

// Entry finds an entry by its own id; nil when the book has none.
func (b *Books) Entry(ctx context.Context, job evidence.JobID, id evidence.EntryID) (e *evidence.Entry, err error) {
	err = b.row(ctx, func(r *sql.Row) error { e, err = one(r); return err }, `SELECT json FROM entry WHERE job = ? AND id = ?`, string(job), string(id))
	return e, err
}

// Entries returns entries behind number after, in order, at most limit.
func (b *Books) Entries(ctx context.Context, job evidence.JobID, after int64, limit int) ([]evidence.Entry, error) {
	scan := func(row interface{ Scan(...any) error }) (evidence.Entry, error) {
		var raw string
		if err := row.Scan(&raw); err != nil {
			return evidence.Entry{}, err
		}
		return evidence.ParseEntry([]byte(raw))
	}
	return all(ctx, b, scan, `SELECT json FROM entry WHERE job = ? AND seq > ? ORDER BY seq LIMIT ?`, string(job), after, limit)
}

// Key returns a job's key; nil once it is erased.
func (b *Books) Key(ctx context.Context, job evidence.JobID) (*evidence.JobKey, error) {
	var wrapped []byte
	err := b.row(ctx, func(r *sql.Row) error { return r.Scan(&wrapped) }, `SELECT wrapped FROM job_key WHERE job = ?`, string(job))
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	secret, err := b.unseal(wrapped, "job-key|"+string(job))
	if err != nil {
		return nil, fmt.Errorf("key of job %s: %w", job, err)
	}
	return evidence.JobKeyFrom(secret)
}

// SetSecret keeps or removes a job's secret.
func (b *Books) SetSecret(ctx context.Context, job evidence.JobID, name string, value []byte) error {
	return b.within(ctx, 0, func(t txn) error {
		query := `SELECT erased FROM job WHERE id = ?`
		if b.pg != nil { // an erasure comes before or after
			query += ` FOR UPDATE`
		}
		var erased bool
		err := t.row(query, string(job)).Scan(&erased)
		switch {
		case errors.Is(err, sql.ErrNoRows), err == nil && erased:
			return fmt.Errorf("secret of job %s: %w", job, app.ErrNotFound)
		case err != nil:
			return err
		case value == nil:
			return t.exec(`DELETE FROM secret WHERE job = ? AND name = ?`, string(job), name)
		}
		return t.exec(`INSERT INTO secret (job, name, sealed) VALUES (?, ?, ?) ON CONFLICT (job, name) DO UPDATE SET sealed = excluded.sealed`,
			string(job), name, b.seal(value, boundTo(job, name)))
	})
}

// boundTo keeps a sealed secret from being taken for another one's.
func boundTo(job evidence.JobID, name string) string { return "secret|" + string(job) + "|" + name }

// Secrets returns a job's secrets by name.
func (b *Books) Secrets(ctx context.Context, job evidence.JobID) (map[string][]byte, error) {
	type kept struct {
		name   string
		sealed []byte
	}
	scan := func(row interface{ Scan(...any) error }) (k kept, err error) { return k, row.Scan(&k.name, &k.sealed) }
	rows, err := all(ctx, b, scan, `SELECT name, sealed FROM secret WHERE job = ?`, string(job))
	if err != nil {
		return nil, err
	}
	out := make(map[string][]byte, len(rows))
	for _, k := range rows {
		if out[k.name], err = b.unseal(k.sealed, boundTo(job, k.name)); err != nil {
			return nil, fmt.Errorf("secret %q of job %s: %w", k.name, job, err)
		}
	}
	return out, nil
}

// Follow tells what other processes do to the database. A folder is locked, nobody else writes there: then it only waits.
func (b *Books) Follow(ctx context.Context, tell func(app.News)) error {
	if b.pg != nil {
		return b.pg.follow(ctx, tell)
	}
	<-ctx.Done()
	return nil
}

// Tell gives a notice to the other processes on the same database.
func (b *Books) Tell(ctx context.Context, notice []byte) error {
	if b.pg == nil {
		return nil
	}
	return b.within(ctx, 0, func(t txn) error { return t.notify(notice) })
}

// Erase destroys a job's key and secrets and adds the entry that says so. What was deleted is taken out of the files as
// well, as far as the database can.
func (b *Books) Erase(ctx context.Context, e evidence.Entry) error {
	err := b.within(ctx, 1, func(t txn) error {
		if err := t.behind([]evidence.Entry{e}); err != nil {
			return err
		}
		for _, query := range []string{`DELETE FROM job_key WHERE job = ?`, `DELETE FROM secret WHERE job = ?`, `UPDATE job SET erased = 1 WHERE id = ?`} {
			if err := t.exec(query, string(e.Job)); err != nil {
				return err
			}
		}
		if b.pg == nil {
			return nil
		}
		return t.sweepLater()
	})
	if err != nil {
		return err
	}
	if b.pg != nil {
		return b.pg.sweep(ctx)
	}
	return b.foldLog(ctx)
}

// PutBlob keeps sealed bytes under their address. The same again is no error.
func (b *Books) PutBlob(ctx context.Context, job evidence.JobID, address evidence.Hash, sealed []byte) error {
	return b.exec(ctx, `INSERT INTO blob (job, address, sealed) VALUES (?, ?, ?) ON CONFLICT DO NOTHING`, string(job), address.String(), sealed)
}

// Blob returns sealed bytes. app.ErrNotFound when there are none.
func (b *Books) Blob(ctx context.Context, job evidence.JobID, address evidence.Hash) (sealed []byte, err error) {
	err = b.row(ctx, func(r *sql.Row) error { return r.Scan(&sealed) }, `SELECT sealed FROM blob WHERE job = ? AND address = ?`, string(job), address.String())
	if errors.Is(err, sql.ErrNoRows) {
		return nil, fmt.Errorf("blob %s: %w", address, app.ErrNotFound)
	}
	return sealed, err
}

func collect[T any](ctx context.Context, db *sql.DB, scan func(interface{ Scan(...any) error }) (T, error), query string, args ...any) ([]T, error) {
	rows, err := db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	out := []T{}
	for rows.Next() {
		v, err := scan(rows)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, rows.Err()
}

func millis(t time.Time) int64 { return t.UnixMilli() }
