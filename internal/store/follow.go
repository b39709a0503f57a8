package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/jackc/pgx/v5"

	"proofbell/evidence"
	"proofbell/internal/app"
)

// What one process says to the others goes over one channel of the database, as words with a space between:
//
//	PROCESS job ID SEQ          the book of job ID has grown to entry SEQ
//	PROCESS notice N OF TEXT    part N of a notice that has OF parts
const channel = "proofbell"

const (
	mostPart   = 7000 // bytes of a notice in one notification: the server takes 7,999 in all
	mostNotice = 1 << 20
	askEvery   = time.Second // whether jobs have grown, in case that notifications do not come through
	firstPause = 100 * time.Millisecond
	mostPause  = time.Second
)

func (t txn) notifyGrown(job evidence.JobID, seq int64) error {
	return t.exec(`SELECT pg_notify(?, ?)`, channel, fmt.Sprintf("%s job %s %d", t.b.pg.process, job, seq))
}

// notify sends a notice. The parts of one transaction arrive together and in order.
func (t txn) notify(notice []byte) error {
	if !json.Valid(notice) || !utf8.Valid(notice) || len(notice) > mostNotice {
		return fmt.Errorf("a notice of %d bytes: want JSON of at most %d", len(notice), mostNotice)
	}
	if err := t.exec(`SET LOCAL synchronous_commit = off`); err != nil { // nothing is kept
		return err
	}
	parts := cut(string(notice))
	for i, part := range parts {
		if err := t.exec(`SELECT pg_notify(?, ?)`, channel, fmt.Sprintf("%s notice %d %d %s", t.b.pg.process, i+1, len(parts), part)); err != nil {
			return err
		}
	}
	return nil
}

// cut cuts a text between characters.
func cut(text string) (parts []string) {
	for len(text) > mostPart {
		n := mostPart
		for !utf8.RuneStart(text[n]) {
			n--
		}
		parts, text = append(parts, text[:n]), text[n:]
	}
	return append(parts, text)
}

// follow listens on a connection of its own, and makes a new one when it is cut, until ctx ends. While it gets none, each
// try asks that everything be looked at by other connections: there may be some, and a test window that was closed
// elsewhere has to end here too.
func (p *postgres) follow(ctx context.Context, tell func(app.News)) error {
	pause := firstPause
	for {
		err := sorted(p.listen(ctx, tell, func() { pause = firstPause }))
		if ctx.Err() != nil {
			return nil
		}
		if !errors.Is(err, app.ErrAway) { // it would be the same for ever
			return fmt.Errorf("following %s: %w", p.place, err)
		}
		again := time.NewTimer(pause)
		select {
		case <-ctx.Done():
			again.Stop()
			return nil
		case <-again.C:
		}
		tell(app.News{Again: true})
		pause = min(2*pause, mostPause)
	}
}

// listener is one connection that listens.
type listener struct {
	*postgres
	conn *pgx.Conn
	tell func(app.News)
	seen map[evidence.JobID]int64 // newest entry told of
	part strings.Builder          // of a notice that is still coming
}

func (p *postgres) listen(ctx context.Context, tell func(app.News), begun func()) (err error) {
	conn, err := pgx.ConnectConfig(ctx, p.config)
	if err != nil {
		return err
	}
	defer func() {
		closing, cancel := context.WithTimeout(context.WithoutCancel(ctx), time.Second)
		defer cancel()
		_ = conn.Close(closing) // what it had is told, or is asked for again
	}()
	l := &listener{postgres: p, conn: conn, tell: tell}
	if err := l.begin(ctx); err != nil {
		return err
	}
	begun()
	asked := time.Now()
	for {
		waiting, cancel := context.WithDeadline(ctx, asked.Add(askEvery))
		n, err := conn.WaitForNotification(waiting)
		cancel()
		switch {
		case err == nil:
			l.heard(n.Payload)
		case ctx.Err() != nil || !errors.Is(err, context.DeadlineExceeded) || conn.IsClosed():
			return err
		}
		if time.Since(asked) >= askEvery {
			if err := l.ask(ctx, true); err != nil {
				return err
			}
			asked = time.Now()
		}
	}
}

// begin listens first and looks then, so that nothing falls between.
func (l *listener) begin(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, connectTimeout)
	defer cancel()
	if err := prepare(ctx, l.conn); err != nil {
		return err
	}
	if _, err := l.conn.Exec(ctx, `LISTEN `+channel); err != nil {
		return err
	}
	l.seen = map[evidence.JobID]int64{}
	if err := l.ask(ctx, false); err != nil {
		return err
	}
	l.tell(app.News{Again: true})
	return nil
}

// ask looks at the newest entry of each job, and tells of those that have grown.
func (l *listener) ask(ctx context.Context, tell bool) error {
	ctx, cancel := context.WithTimeout(ctx, connectTimeout)
	defer cancel()
	rows, err := l.conn.Query(ctx, `SELECT id, (SELECT COALESCE(MAX(seq), 0) FROM entry WHERE entry.job = job.id) FROM job`)
	if err != nil {
		return err
	}
	defer rows.Close()
	var grown []evidence.JobID
	for rows.Next() {
		var id evidence.JobID
		var seq int64
		if err := rows.Scan(&id, &seq); err != nil {
			return err
		}
		if l.newer(id, seq) {
			grown = append(grown, id)
		}
	}
	if err := rows.Err(); err != nil {
		return err
	}
	for _, id := range grown {
		if tell {
			l.tell(app.News{Job: id})
		}
	}
	return nil
}

// newer notes what was seen of a job, and says whether it is more than before.
func (l *listener) newer(id evidence.JobID, seq int64) bool {
	before, known := l.seen[id]
	if known && seq <= before {
		return false
	}
	l.seen[id] = seq
	return true
}

// heard reads a notification. Those of our own process are noted and not told; strange ones are passed over.
func (l *listener) heard(payload string) {
	words := strings.SplitN(payload, " ", 5)
	switch {
	case len(words) == 4 && words[1] == "job":
		seq, err := strconv.ParseInt(words[3], 10, 64)
		id := evidence.JobID(words[2])
		if err == nil && l.newer(id, seq) && words[0] != l.process {
			l.tell(app.News{Job: id})
		}
	case len(words) == 5 && words[1] == "notice" && words[0] != l.process:
		if words[2] == "1" {
			l.part.Reset()
		}
		l.part.WriteString(words[4])
		if words[2] == words[3] {
			if notice := l.part.String(); json.Valid([]byte(notice)) { // not when its beginning was before we listened
				l.tell(app.News{Notice: []byte(notice)})
			}
			l.part.Reset()
		}
	}
}
