package app

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"proofbell/internal/words"
)

// Spool bounds what a receiver takes on and answers while the store can not be reached. Zero values stand for the
// defaults given.
type Spool struct {
	Rows int64         // answered signals of a run that are in no book yet: 100,000. Anybody can send what is not answered
	Age  time.Duration // of the oldest of them; also since the store was heard from last: 15 min
}

func (s Spool) orDefault() Spool {
	if s.Rows <= 0 {
		s.Rows = 100_000
	}
	if s.Age <= 0 {
		s.Age = 15 * time.Minute
	}
	return s
}

// spool counts the answered signals that are stored here and in no book yet. Its ages go by the clock that nobody sets. Safe for
// concurrent use.
type spool struct {
	limit Spool

	mu     sync.Mutex
	rows   int64
	oldest time.Time     // when the oldest of them came; zero: none waits
	since  time.Duration // the same by the clock that nobody sets
	away   bool          // the store did not answer the last time
	lost   time.Duration // since when
}

// put counts a row that was stored now.
func (s *spool) put(now time.Time, forward time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.rows++; s.rows == 1 {
		s.oldest, s.since = now, forward
	}
}

// took counts rows that went into books.
func (s *spool) took(rows []InboxRow) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, r := range rows {
		if r.Run != "" && r.Answered {
			s.rows--
		}
	}
	if s.rows <= 0 { // below nothing for a moment, when a row is taken before it is counted
		s.oldest, s.since = time.Time{}, 0
		return
	}
	if last := rows[len(rows)-1].At; last.After(s.oldest) {
		s.since += last.Sub(s.oldest)
		s.oldest = last
	}
}

// set is what was counted in the inbox.
func (s *spool) set(rows int64, oldest, now time.Time, forward time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.rows, s.oldest = rows, oldest
	if rows > 0 {
		s.since = forward - max(0, now.Sub(oldest))
	}
}

// reached notes whether the store answered.
func (s *spool) reached(yes bool, forward time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !yes && !s.away {
		s.lost = forward
	}
	s.away = !yes
}

// full reports whether nothing more may be answered: too much waits, or for too long. A store that is away for as long
// means silence with nothing waiting too: nobody here would learn that a window was closed elsewhere.
func (s *spool) full(forward time.Duration) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.rows >= s.limit.Rows || s.rows > 0 && forward-s.since > s.limit.Age || s.away && forward-s.lost > s.limit.Age
}

// Backlog is what this receiver stored and the books do not hold yet.
type Backlog struct {
	Waiting int64     `json:"waiting"`         // signals
	Oldest  time.Time `json:"oldest,omitzero"` // when the first of them came
	Age     int       `json:"age"`             // s; of the oldest, or since the store was heard from last
	Away    bool      `json:"away"`            // the store can not be reached
	Silent  bool      `json:"silent"`          // so much, or for so long, that nothing is answered
}

// Backlog tells what waits for the books.
func (a *App) Backlog() Backlog {
	forward := a.forward()
	silent := a.spool.full(forward)
	s := &a.spool
	s.mu.Lock()
	defer s.mu.Unlock()
	b := Backlog{Waiting: max(0, s.rows), Oldest: s.oldest, Away: s.away, Silent: silent}
	if s.rows > 0 {
		b.Age = int((forward - s.since).Seconds())
	}
	if s.away {
		b.Age = max(b.Age, int((forward - s.lost).Seconds()))
	}
	return b
}

// measureSpool counts what an earlier run of this program left in the inbox.
func (a *App) measureSpool(ctx context.Context) error {
	if a.inbox == nil {
		return nil
	}
	from, err := a.store.Taken(ctx, a.inbox.Receiver())
	if err != nil {
		return fmt.Errorf("reading how far the inbox was taken: %w", err)
	}
	rows, oldest, err := a.inbox.Backlog(ctx, from)
	if err != nil {
		return fmt.Errorf("counting what waits in the inbox: %w", err)
	}
	a.spool.set(rows, oldest, a.now(), a.forward())
	return nil
}

// Reception is how the receiver of one process stands.
type Reception struct {
	Receiver string `json:"receiver"`          // its id
	Name     string `json:"name,omitempty"`    // of its computer
	Trouble  string `json:"trouble,omitempty"` // why it can not store, in English as it is marked for other languages
	Backlog
	Links []Link `json:"links"` // accounts that have to be heard from
}

// shownAfter is how old what waits has to be before it is spoken of, s: at work there is always something on its way.
const shownAfter = 5

// Say says what is wrong with a receiver; "" when nothing is.
func (r Reception) Say(lang *words.Language) string {
	age := span(lang, time.Duration(r.Age)*time.Second)
	switch {
	case r.Trouble != "":
		return lang.Word(r.Trouble)
	case r.Silent && r.Waiting == 0:
		return lang.Say("The database has not been reached for %s: nothing is answered, because a test window that is closed elsewhere would not be noticed here.", age)
	case r.Silent:
		return lang.Say("Nothing is answered: too much waits for the database (signals: %d, the oldest for %s).", r.Waiting, age)
	case r.Away && r.Waiting > 0:
		return lang.Say("The database can not be reached. What arrives is kept here and waits for it (signals: %d, the oldest for %s).", r.Waiting, age)
	case r.Away && r.Age >= shownAfter:
		return lang.Say("The database can not be reached, for %s by now.", age)
	case r.Waiting > 0 && r.Age >= shownAfter:
		return lang.Say("Signals wait for the books (%d, the oldest for %s).", r.Waiting, age)
	}
	return ""
}

// span writes a length of time, short.
func span(lang *words.Language, d time.Duration) string {
	if d < 2*time.Minute {
		return lang.Say("%d s", int(d.Seconds()))
	}
	return lang.Say("%d min", int(d.Minutes()))
}

// Receptions tells how the receivers stand: this process's first, then those of other processes on the same store.
func (a *App) Receptions() []Reception {
	out := []Reception{a.reception()}
	a.hub.mu.Lock()
	defer a.hub.mu.Unlock()
	for _, other := range a.hub.others {
		out = append(out, other.Reception)
	}
	slices.SortFunc(out[1:], func(x, y Reception) int { return strings.Compare(x.Name+x.Receiver, y.Name+y.Receiver) })
	return out
}

func (a *App) reception() Reception {
	r := Reception{Name: a.name, Backlog: a.Backlog(), Links: a.Supervision()}
	if a.inbox != nil {
		r.Receiver = a.inbox.Receiver()
	}
	a.hub.mu.Lock()
	defer a.hub.mu.Unlock()
	r.Trouble = a.hub.last
	return r
}
