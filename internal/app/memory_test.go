package app_test

import (
	"bytes"
	"context"
	"crypto/rand"
	"fmt"
	"io"
	"log/slog"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/signal"
)

// shared is a store in memory that several processes work on, each through a seat of its own.
type shared struct {
	mu      sync.Mutex
	jobs    map[evidence.JobID]*sharedJob
	taken   map[string]int64
	blobs   map[string][]byte
	setting map[string][]byte
	signing *evidence.SigningKey
	seats   []*seat
}

type sharedJob struct {
	created time.Time
	key     *evidence.JobKey
	erased  bool
	secrets map[string][]byte
	entries []evidence.Entry
}

func newShared(t *testing.T) *shared {
	key, err := evidence.NewSigningKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	return &shared{jobs: map[evidence.JobID]*sharedJob{}, taken: map[string]int64{}, blobs: map[string][]byte{}, setting: map[string][]byte{}, signing: key}
}

// seat is the store as one process sees it. away makes it unreachable from there; deaf keeps news from it.
type seat struct {
	*shared
	news       chan app.News
	away, deaf bool
	commits    int // of Append
}

func (s *shared) seat() *seat {
	s.mu.Lock()
	defer s.mu.Unlock()
	one := &seat{shared: s, news: make(chan app.News, 1000)}
	s.seats = append(s.seats, one)
	return one
}

func (s *seat) set(away, deaf bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.away && !away || s.deaf && !deaf {
		s.news <- app.News{Again: true}
	}
	s.away, s.deaf = away, deaf
}

// tellOthers is called with mu held.
func (s *seat) tellOthers(n app.News) {
	for _, other := range s.seats {
		if other != s && !other.away && !other.deaf {
			other.news <- n
		}
	}
}

// open locks the store, or says that it is away.
func (s *seat) open() (done func(), err error) {
	s.mu.Lock()
	if s.away {
		s.mu.Unlock()
		return nil, fmt.Errorf("memory: %w", app.ErrAway)
	}
	return s.mu.Unlock, nil
}

func (s *seat) find(id evidence.JobID) (*sharedJob, func(), error) {
	done, err := s.open()
	if err != nil {
		return nil, nil, err
	}
	if j := s.jobs[id]; j != nil {
		return j, done, nil
	}
	done()
	return nil, nil, fmt.Errorf("job %s: %w", id, app.ErrNotFound)
}

func (j *sharedJob) as(id evidence.JobID) app.Job {
	return app.Job{ID: id, Created: j.created, Erased: j.erased, Seq: int64(len(j.entries))}
}

func (s *seat) Jobs(context.Context) ([]app.Job, error) {
	done, err := s.open()
	if err != nil {
		return nil, err
	}
	defer done()
	out := []app.Job{}
	for id, j := range s.jobs {
		out = append(out, j.as(id))
	}
	return out, nil
}

func (s *seat) Job(_ context.Context, id evidence.JobID) (app.Job, error) {
	j, done, err := s.find(id)
	if err != nil {
		return app.Job{}, err
	}
	defer done()
	return j.as(id), nil
}

func (s *seat) Create(_ context.Context, id evidence.JobID, created time.Time, key *evidence.JobKey, entries []evidence.Entry) error {
	done, err := s.open()
	if err != nil {
		return err
	}
	defer done()
	if s.jobs[id] != nil {
		return app.ErrExists
	}
	s.jobs[id] = &sharedJob{created: created, key: key, erased: key == nil, secrets: map[string][]byte{}, entries: slices.Clone(entries)}
	s.tellOthers(app.News{Job: id})
	return nil
}

func (s *seat) Newest(_ context.Context, id evidence.JobID) (*evidence.Entry, error) {
	j, done, err := s.find(id)
	if err != nil {
		return nil, err
	}
	defer done()
	return j.newest(), nil
}

func (j *sharedJob) newest() *evidence.Entry {
	if len(j.entries) == 0 {
		return nil
	}
	e := j.entries[len(j.entries)-1]
	return &e
}

func (s *seat) Entries(_ context.Context, id evidence.JobID, after int64, limit int) ([]evidence.Entry, error) {
	j, done, err := s.find(id)
	if err != nil {
		return nil, err
	}
	defer done()
	if after >= int64(len(j.entries)) {
		return nil, nil
	}
	rest := j.entries[after:]
	return slices.Clone(rest[:min(len(rest), limit)]), nil
}

func (s *seat) Entry(_ context.Context, job evidence.JobID, id evidence.EntryID) (*evidence.Entry, error) {
	j, done, err := s.find(job)
	if err != nil {
		return nil, err
	}
	defer done()
	for _, e := range j.entries {
		if e.ID == id {
			return &e, nil
		}
	}
	return nil, nil
}

func (s *seat) Append(_ context.Context, entries []evidence.Entry, taken *app.Taken) error {
	done, err := s.open()
	if err != nil {
		return err
	}
	defer done()
	s.commits++
	if len(entries) > 0 {
		j := s.jobs[entries[0].Job]
		if err := evidence.CheckChain(j.newest(), entries); err != nil {
			return fmt.Errorf("%w: %w", app.ErrStale, err)
		}
		for _, e := range entries {
			if slices.ContainsFunc(j.entries, func(x evidence.Entry) bool { return x.ID == e.ID }) {
				return fmt.Errorf("entry %s: %w", e.ID, app.ErrExists)
			}
		}
		j.entries = append(j.entries, entries...)
		s.tellOthers(app.News{Job: entries[0].Job})
	}
	if taken != nil {
		s.taken[taken.Receiver] = max(s.taken[taken.Receiver], taken.Row)
	}
	return nil
}

func (s *seat) Taken(_ context.Context, receiver string) (int64, error) {
	done, err := s.open()
	if err != nil {
		return 0, err
	}
	defer done()
	return s.taken[receiver], nil
}

func (s *seat) Key(_ context.Context, id evidence.JobID) (*evidence.JobKey, error) {
	j, done, err := s.find(id)
	if err != nil {
		return nil, err
	}
	defer done()
	return j.key, nil
}

func (s *seat) SetSecret(_ context.Context, job evidence.JobID, name string, value []byte) error {
	j, done, err := s.find(job)
	if err != nil {
		return err
	}
	defer done()
	if delete(j.secrets, name); value != nil {
		j.secrets[name] = bytes.Clone(value)
	}
	return nil
}

func (s *seat) Secrets(_ context.Context, job evidence.JobID) (map[string][]byte, error) {
	j, done, err := s.find(job)
	if err != nil {
		return nil, err
	}
	defer done()
	out := map[string][]byte{}
	for name, value := range j.secrets {
		out[name] = bytes.Clone(value)
	}
	return out, nil
}

func (s *seat) Erase(_ context.Context, e evidence.Entry) error {
	j, done, err := s.find(e.Job)
	if err != nil {
		return err
	}
	defer done()
	if err := evidence.CheckChain(j.newest(), []evidence.Entry{e}); err != nil {
		return fmt.Errorf("%w: %w", app.ErrStale, err)
	}
	j.key, j.erased, j.secrets, j.entries = nil, true, map[string][]byte{}, append(j.entries, e)
	s.tellOthers(app.News{Job: e.Job})
	return nil
}

func (s *seat) PutBlob(_ context.Context, job evidence.JobID, address evidence.Hash, sealed []byte) error {
	done, err := s.open()
	if err == nil {
		defer done()
		s.blobs[string(job)+address.String()] = sealed
	}
	return err
}

func (s *seat) Blob(_ context.Context, job evidence.JobID, address evidence.Hash) ([]byte, error) {
	done, err := s.open()
	if err != nil {
		return nil, err
	}
	defer done()
	return s.blobs[string(job)+address.String()], nil
}

func (s *seat) SigningKey(context.Context) (*evidence.SigningKey, error) { return s.signing, nil }

func (s *seat) Setting(_ context.Context, name string) ([]byte, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.setting[name], nil
}

func (s *seat) SetSetting(_ context.Context, name string, value []byte) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.setting[name] = value
	return nil
}

func (s *seat) Follow(ctx context.Context, tell func(app.News)) error {
	tell(app.News{Again: true})
	for {
		select {
		case <-ctx.Done():
			return nil
		case n := <-s.news:
			tell(n)
		}
	}
}

func (s *seat) Tell(_ context.Context, raw []byte) error {
	done, err := s.open()
	if err != nil {
		return err
	}
	defer done()
	if len(raw) > 7900 {
		return fmt.Errorf("a notice of %d bytes", len(raw))
	}
	s.tellOthers(app.News{Notice: bytes.Clone(raw)})
	return nil
}

// memInbox is an inbox in memory.
type memInbox struct {
	id   string
	slow time.Duration // how long it takes to store
	mu   sync.Mutex
	rows []app.InboxRow
}

func (in *memInbox) Receiver() string { return in.id }

func (in *memInbox) Put(_ context.Context, r app.InboxRow) (app.InboxRow, error) {
	time.Sleep(in.slow)
	in.mu.Lock()
	defer in.mu.Unlock()
	r.Row, r.At = int64(len(in.rows)+1), r.At.Truncate(time.Millisecond)
	for _, x := range slices.Backward(in.rows) {
		if r.Repeat != "" && x.Repeat == r.Repeat && x.Duplicate == 0 && r.At.Sub(x.At) <= signal.DuplicateWindow {
			r.Duplicate = x.Row
			break
		}
	}
	in.rows = append(in.rows, r)
	return r, nil
}

func (in *memInbox) After(_ context.Context, row int64, limit int) ([]app.InboxRow, error) {
	in.mu.Lock()
	defer in.mu.Unlock()
	row = max(row, 0)
	if row >= int64(len(in.rows)) {
		return nil, nil
	}
	rest := in.rows[row:]
	return slices.Clone(rest[:min(limit, len(rest))]), nil
}

func (in *memInbox) Last(context.Context) (int64, error) {
	in.mu.Lock()
	defer in.mu.Unlock()
	return int64(len(in.rows)), nil
}

func (in *memInbox) Backlog(_ context.Context, after int64) (n int64, oldest time.Time, err error) {
	in.mu.Lock()
	defer in.mu.Unlock()
	for _, r := range in.rows[min(after, int64(len(in.rows))):] {
		if r.Run != "" && r.Answered {
			if n++; n == 1 {
				oldest = r.At
			}
		}
	}
	return n, oldest, nil
}

// mates are processes on one store, in a bubble of their own: time passes only when all of them wait.
type mates struct {
	t     *testing.T
	store *shared
	all   []*mate
	ctx   context.Context
	work  sync.WaitGroup
}

type mate struct {
	*house
	seat *seat
	wall atomic.Int64 // how wrong its clock is, in nanoseconds
	box  *memInbox
	stop func() // ends its Run, and waits
}

// together runs do with n processes on one store. They begin at 2000-01-01 00:00 UTC, as synctest has it.
func together(t *testing.T, n int, do func(t *testing.T, m *mates)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		ctx, stop := context.WithCancel(t.Context())
		m := &mates{t: t, store: newShared(t), ctx: ctx}
		for range n {
			m.add(app.Spool{})
		}
		do(t, m)
		stop()
		m.work.Wait() // and when a goroutine is left, synctest fails
	})
}

// add starts one more process.
func (m *mates) add(spool app.Spool) *mate {
	m.t.Helper()
	id := fmt.Sprintf("receiver-%d", len(m.all)+1)
	one := &mate{house: &house{t: m.t, clock: &clock{}}, seat: m.store.seat(), box: &memInbox{id: id}}
	one.clock.of = func() time.Time { return time.Now().Add(time.Duration(one.wall.Load())).UTC() }
	one.start(m, spool)
	m.all = append(m.all, one)
	return one
}

// setClock makes the clock of the process wrong by d.
func (one *mate) setClock(d time.Duration) { one.wall.Store(int64(d)) }

// start starts the process, anew with what its inbox holds.
func (one *mate) start(m *mates, spool app.Spool) {
	m.t.Helper()
	var books app.Store = one.seat
	if one.wrap != nil {
		books = one.wrap(books)
	}
	a, err := app.New(m.ctx, app.Config{
		Store: books, Inbox: one.box, Now: one.clock.now, Random: rand.Reader,
		Log: slog.New(slog.NewTextHandler(io.Discard, nil)), Spool: spool, Name: one.box.id,
	})
	if err != nil {
		m.t.Fatal(err)
	}
	one.App = a
	ctx, cancel := context.WithCancel(m.ctx)
	done := make(chan struct{})
	m.work.Go(func() {
		defer close(done)
		if err := a.Run(ctx); err != nil {
			m.t.Error(err)
		}
	})
	one.stop = func() { cancel(); <-done }
	synctest.Wait()
}
