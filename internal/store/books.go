package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
)

// within runs do in one transaction.
func (b *Books) within(ctx context.Context, do func(*sql.Tx) error) error {
	tx, err := b.write.BeginTx(ctx, nil)
	if err != nil {
		return classify(err)
	}
	if err := do(tx); err != nil {
		if rollback := tx.Rollback(); rollback != nil && !errors.Is(rollback, sql.ErrTxDone) {
			err = errors.Join(err, rollback)
		}
		return classify(err)
	}
	return classify(tx.Commit())
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
	return collect(ctx, b.read, scanJob, jobColumns+` ORDER BY created DESC, id DESC`)
}

// Job finds a job. app.ErrNotFound when there is none.
func (b *Books) Job(ctx context.Context, id evidence.JobID) (app.Job, error) {
	j, err := scanJob(b.read.QueryRowContext(ctx, jobColumns+` WHERE id = ?`, string(id)))
	if errors.Is(err, sql.ErrNoRows) {
		return j, fmt.Errorf("job %s: %w", id, app.ErrNotFound)
	}
	return j, err
}

// Create keeps a new job.
func (b *Books) Create(ctx context.Context, id evidence.JobID, created time.Time, key *evidence.JobKey, entries []evidence.Entry) error {
	return b.within(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, `INSERT INTO job (id, created, erased) VALUES (?, ?, ?)`, string(id), millis(created), key == nil); err != nil {
			return err
		}
		if key != nil {
			if _, err := tx.ExecContext(ctx, `INSERT INTO job_key (job, wrapped) VALUES (?, ?)`, string(id), b.seal(key.Secret(), "job-key|"+string(id))); err != nil {
				return err
			}
		}
		return insert(ctx, tx, entries)
	})
}

func insert(ctx context.Context, tx *sql.Tx, entries []evidence.Entry) error {
	for _, e := range entries {
		raw, err := e.Canonical()
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `INSERT INTO entry (job, seq, id, json) VALUES (?, ?, ?, ?)`, string(e.Job), e.Seq, string(e.ID), string(raw)); err != nil {
			return err
		}
	}
	return nil
}

// Append adds entries behind the newest one of their job.
func (b *Books) Append(ctx context.Context, entries []evidence.Entry, taken *app.Taken) error {
	return b.within(ctx, func(tx *sql.Tx) error {
		if len(entries) > 0 {
			newest, err := one(tx.QueryRowContext(ctx, `SELECT json FROM entry WHERE job = ? ORDER BY seq DESC LIMIT 1`, string(entries[0].Job)))
			if err != nil {
				return err
			}
			if err := evidence.CheckChain(newest, entries); err != nil {
				return fmt.Errorf("%w: %w", app.ErrStale, err)
			}
			if err := insert(ctx, tx, entries); err != nil {
				return err
			}
		}
		if taken == nil {
			return nil
		}
		_, err := tx.ExecContext(ctx, `INSERT INTO taken (receiver, row) VALUES (?, ?) ON CONFLICT (receiver) DO UPDATE SET row = excluded.row WHERE excluded.row > taken.row`, taken.Receiver, taken.Row)
		return err
	})
}

// Taken returns the last row of a receiver's inbox that the books have taken; 0 at first.
func (b *Books) Taken(ctx context.Context, receiver string) (row int64, err error) {
	err = b.read.QueryRowContext(ctx, `SELECT row FROM taken WHERE receiver = ?`, receiver).Scan(&row)
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

// Newest returns a job's newest entry; nil when it has none.
func (b *Books) Newest(ctx context.Context, job evidence.JobID) (*evidence.Entry, error) {
	return one(b.read.QueryRowContext(ctx, `SELECT json FROM entry WHERE job = ? ORDER BY seq DESC LIMIT 1`, string(job)))
}

// Entry finds an entry by its own id; nil when the book has none.
func (b *Books) Entry(ctx context.Context, job evidence.JobID, id evidence.EntryID) (*evidence.Entry, error) {
	return one(b.read.QueryRowContext(ctx, `SELECT json FROM entry WHERE job = ? AND id = ?`, string(job), string(id)))
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
	return collect(ctx, b.read, scan, `SELECT json FROM entry WHERE job = ? AND seq > ? ORDER BY seq LIMIT ?`, string(job), after, limit)
}

// Key returns a job's key; nil once it is erased.
func (b *Books) Key(ctx context.Context, job evidence.JobID) (*evidence.JobKey, error) {
	var wrapped []byte
	err := b.read.QueryRowContext(ctx, `SELECT wrapped FROM job_key WHERE job = ?`, string(job)).Scan(&wrapped)
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
	return b.within(ctx, func(tx *sql.Tx) error {
		var erased bool
		err := tx.QueryRowContext(ctx, `SELECT erased FROM job WHERE id = ?`, string(job)).Scan(&erased)
		switch {
		case errors.Is(err, sql.ErrNoRows), err == nil && erased:
			return fmt.Errorf("secret of job %s: %w", job, app.ErrNotFound)
		case err != nil:
			return err
		case value == nil:
			_, err = tx.ExecContext(ctx, `DELETE FROM secret WHERE job = ? AND name = ?`, string(job), name)
		default:
			_, err = tx.ExecContext(ctx, `INSERT INTO secret (job, name, sealed) VALUES (?, ?, ?) ON CONFLICT (job, name) DO UPDATE SET sealed = excluded.sealed`,
				string(job), name, b.seal(value, boundTo(job, name)))
		}
		return err
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
	all, err := collect(ctx, b.read, scan, `SELECT name, sealed FROM secret WHERE job = ?`, string(job))
	if err != nil {
		return nil, err
	}
	out := make(map[string][]byte, len(all))
	for _, k := range all {
		if out[k.name], err = b.unseal(k.sealed, boundTo(job, k.name)); err != nil {
			return nil, fmt.Errorf("secret %q of job %s: %w", k.name, job, err)
		}
	}
	return out, nil
}

// Follow waits: the folder is locked, nobody else writes here.
func (b *Books) Follow(ctx context.Context, _ func(app.News)) error {
	<-ctx.Done()
	return nil
}

// Tell has nobody to tell.
func (b *Books) Tell(context.Context, []byte) error { return nil }

// Erase destroys a job's key and secrets and adds the entry that says so. The log is folded into the database at once, so that the
// key is not left in it.
func (b *Books) Erase(ctx context.Context, e evidence.Entry) error {
	err := b.within(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, `DELETE FROM job_key WHERE job = ?`, string(e.Job)); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `DELETE FROM secret WHERE job = ?`, string(e.Job)); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `UPDATE job SET erased = 1 WHERE id = ?`, string(e.Job)); err != nil {
			return err
		}
		newest, err := one(tx.QueryRowContext(ctx, `SELECT json FROM entry WHERE job = ? ORDER BY seq DESC LIMIT 1`, string(e.Job)))
		if err != nil {
			return err
		}
		if err := evidence.CheckChain(newest, []evidence.Entry{e}); err != nil {
			return fmt.Errorf("%w: %w", app.ErrStale, err)
		}
		return insert(ctx, tx, []evidence.Entry{e})
	})
	if err != nil {
		return err
	}
	return b.foldLog(ctx)
}

// PutBlob keeps sealed bytes under their address. The same again is no error.
func (b *Books) PutBlob(ctx context.Context, job evidence.JobID, address evidence.Hash, sealed []byte) error {
	_, err := b.write.ExecContext(ctx, `INSERT INTO blob (job, address, sealed) VALUES (?, ?, ?) ON CONFLICT DO NOTHING`, string(job), address.String(), sealed)
	return classify(err)
}

// Blob returns sealed bytes. app.ErrNotFound when there are none.
func (b *Books) Blob(ctx context.Context, job evidence.JobID, address evidence.Hash) (sealed []byte, err error) {
	err = b.read.QueryRowContext(ctx, `SELECT sealed FROM blob WHERE job = ? AND address = ?`, string(job), address.String()).Scan(&sealed)
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
