package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"slices"
	"time"

	"proofbell/signal"
)

// maxRepeats bounds the memory that repeats are known by. More than so many signals within signal.DuplicateWindow, and a
// repeat of an older one is stored once more: nothing is lost by that.
const maxRepeats = 1 << 20

// repeats knows the signals of the last signal.DuplicateWindow by their key. An index in the file would do the same, and
// cost each commit a page for every row in it. The writer's own.
type repeats struct {
	first map[repeat]seen
	order []repeat // oldest first, from head on
	head  int
	max   int
}

// repeat is a key by its sum: with a million of them each byte counts.
type repeat [16]byte

func repeatOf(key string) repeat {
	sum := sha256.Sum256([]byte(key))
	return repeat(sum[:16])
}

type seen struct{ row, at int64 }

func newRepeats() *repeats { return &repeats{first: map[repeat]seen{}, max: maxRepeats} }

// of returns the row that a signal repeats; 0: none. After a clock was set back what came before is in its future: the
// window counts both ways.
func (r *repeats) of(key string, at time.Time) int64 {
	if s, ok := r.first[repeatOf(key)]; ok && s.at >= millis(at.Add(-signal.DuplicateWindow)) && s.at <= millis(at.Add(signal.DuplicateWindow)) {
		return s.row
	}
	return 0
}

// add keeps a signal, and forgets what is too old or too many.
func (r *repeats) add(key string, row int64, at time.Time) {
	oldest := millis(at.Add(-signal.DuplicateWindow))
	for r.head < len(r.order) && (len(r.order)-r.head >= r.max || r.first[r.order[r.head]].at < oldest) {
		delete(r.first, r.order[r.head])
		r.head++
	}
	k := repeatOf(key)
	r.first[k] = seen{row, millis(at)}
	r.order = append(r.order, k)
	if r.head > len(r.order)/2 {
		r.order = slices.Clone(r.order[r.head:])
		r.head = 0
	}
}

// load takes up what the file knows.
func (r *repeats) load(ctx context.Context, db *sql.DB, now time.Time) error {
	rows, err := db.QueryContext(ctx, `SELECT row, at, repeat FROM inbox WHERE repeat <> '' AND duplicate = 0 ORDER BY row DESC LIMIT ?`, r.max)
	if err != nil {
		return err
	}
	defer rows.Close()
	oldest := millis(now.Add(-signal.DuplicateWindow))
	type known struct {
		key string
		seen
	}
	var found []known
	for rows.Next() {
		var k known
		if err := rows.Scan(&k.row, &k.at, &k.key); err != nil {
			return err
		}
		if k.at < oldest {
			break
		}
		found = append(found, k)
	}
	for _, k := range slices.Backward(found) {
		r.add(k.key, k.row, time.UnixMilli(k.at))
	}
	return rows.Err()
}
