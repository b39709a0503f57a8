// Package app holds the use cases, one method per act: opening jobs, adding entries, taking signals into books, telling
// who watches. It decides what a signal means, on test included, and owns transactions. What it needs kept it declares
// as Store and Inbox.
package app

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"
	"unicode/utf8"

	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/photo"
	"proofbell/internal/prove"
	"proofbell/internal/words"
	"proofbell/site"
)

// Config is what an App needs.
type Config struct {
	Store   Store
	Inbox   Inbox                // nil: no receiver here
	Now     func() time.Time     // one reading per act
	Forward func() time.Duration // a clock that nobody sets: since some moment; nil: the machine's own
	Random  io.Reader            // cryptographic
	Log     *slog.Logger
	Spool   Spool  // what the receiver takes on while the store can not be reached
	Name    string // of this computer, for people who use several; may be empty
}

// App is the product behind its pages. Safe for concurrent use.
type App struct {
	store   Store
	inbox   Inbox
	now     func() time.Time
	forward func() time.Duration
	started time.Time
	name    string
	random  io.Reader
	log     *slog.Logger
	signing *evidence.SigningKey
	hub     *hub
	frames  *frames

	mu    sync.RWMutex
	jobs  map[evidence.JobID]*openJob
	gates atomic.Pointer[map[string][]gate] // by account in capitals; replaced whole, so that a signal waits for no book

	admit    sync.RWMutex  // read while a signal is judged and stored; written while a run opens, closes or is erased
	drain    lock          // one sequencer at a time
	arrivals chan struct{} // wakes the sequencer; one place, so that a wake-up is never lost
	behind   behind        // what grew in other processes
	spool    spool         // what was answered and is in no book yet
	idle     unanswered    // signals that were not answered, by run
	links    links         // accounts that have to be heard from
	windows  windows       // how long the open ones have left, over a restart
	out      chan notice   // for other processes; sent to under the hub's lock
}

// Locks are taken in this order: admit, drain, openJob.mu, App.mu.

// openJob is a job with its book folded. mu is held while entries are added, so that the book has one writer.
type openJob struct {
	mu      lock
	created time.Time
	key     *evidence.JobKey
	secret  *TransmissionKey // nil: none
	newest  *evidence.Entry
	latest  time.Time // when the latest entry since the end of the window was agreed was received, by the clock of whoever took it
	agreed  time.Time // when the entry was received that gave the window its end
	unread  bool      // the transmission key was changed, and is not read yet
	state   *book.State
	gate    gate
}

// New folds the books of the store and returns the App. Call Run to take signals into the books.
func New(ctx context.Context, c Config) (*App, error) {
	a := &App{
		store: c.Store, inbox: c.Inbox, now: c.Now, forward: c.Forward, started: c.Now(), name: c.Name, random: c.Random, log: c.Log, hub: newHub(), frames: newFrames(c.Now()),
		jobs: map[evidence.JobID]*openJob{}, arrivals: make(chan struct{}, 1), out: make(chan notice, 64),
		behind: behind{jobs: map[evidence.JobID]bool{}, wake: make(chan struct{}, 1)}, spool: spool{limit: c.Spool.orDefault()},
		idle: newUnanswered(),
	}
	if a.forward == nil {
		start := time.Now()
		a.forward = func() time.Duration { return time.Since(start) } // by the monotonic clock, see package time
	}
	var err error
	if a.signing, err = c.Store.SigningKey(ctx); err != nil {
		return nil, err
	}
	if err := a.readWindows(ctx); err != nil {
		return nil, err
	}
	jobs, err := c.Store.Jobs(ctx)
	if err != nil {
		return nil, fmt.Errorf("listing the jobs: %w", err)
	}
	for _, j := range jobs {
		if a.jobs[j.ID], err = a.fold(ctx, j); err != nil {
			return nil, fmt.Errorf("opening job %s: %w", j.ID, err)
		}
	}
	a.regate()
	return a, a.measureSpool(ctx)
}

func (a *App) fold(ctx context.Context, j Job) (*openJob, error) {
	key, err := a.store.Key(ctx, j.ID)
	if err != nil {
		return nil, err
	}
	o := &openJob{created: j.Created, key: key, state: book.New(j.ID)}
	for {
		entries, err := a.store.Entries(ctx, j.ID, o.state.Seq, page)
		if err != nil {
			return nil, err
		}
		o.apply(entries)
		switch {
		case len(entries) == page:
		case o.state.Erased && o.key != nil: // in this very moment
			return a.fold(ctx, j)
		default:
			if o.secret, err = a.secretOf(ctx, j.ID); err != nil {
				return nil, err
			}
			o.gate = a.gateOf(o)
			return o, nil
		}
	}
}

// page is how many entries are read from the store at once.
const page = 1000

func (o *openJob) apply(entries []evidence.Entry) {
	if len(entries) == 0 {
		return
	}
	open, from := book.WithKey(o.key), 0
	for i, e := range entries {
		if e.Received.After(o.latest) {
			o.latest = e.Received.Time
		}
		if e.Kind != evidence.KindOnTest {
			continue
		}
		o.state.Apply(open, entries[from:i]...)
		before := o.onTest()
		o.state.Apply(open, e)
		if after := o.onTest(); !after.Until.IsZero() && !(after.Until.Equal(before.Until) && after.Opened.Equal(before.Opened)) {
			o.agreed, o.latest = e.Received.Time, e.Received.Time // what an earlier clock said counts no more: the end was agreed anew
		}
		from = i + 1
	}
	o.state.Apply(open, entries[from:]...)
	newest := entries[len(entries)-1]
	o.newest = &newest
}

// onTest is the window of the open run; the zero value when it is not on test.
func (o *openJob) onTest() prove.Window {
	if run := o.state.OpenRun(); run != nil && onTest(run.Window) {
		return run.Window
	}
	return prove.Window{}
}

// job finds a job, in the store too: another process may have opened it just now.
func (a *App) job(ctx context.Context, id evidence.JobID) (*openJob, error) {
	a.mu.RLock()
	o := a.jobs[id]
	a.mu.RUnlock()
	if o != nil {
		return o, nil
	}
	stored, err := a.store.Job(ctx, id)
	if err == nil {
		o, err = a.fold(ctx, stored)
	}
	if err != nil {
		return nil, fmt.Errorf("job %s: %w", id, err)
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	if quicker := a.jobs[id]; quicker != nil {
		return quicker, nil
	}
	a.jobs[id] = o
	a.regate()
	a.hub.grown(id)
	return o, nil
}

// look is job for those who only read, and have no context of their own.
func (a *App) look(id evidence.JobID) (*openJob, error) {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	return a.job(ctx, id)
}

// patience is how long a short question to the store may take.
const patience = 2 * time.Second

// Summary is a job in a list.
type Summary struct {
	Job      evidence.JobID `json:"job"`
	Name     string         `json:"name"`
	Seq      int64          `json:"seq"`
	Practice bool           `json:"practice"`
	Erased   bool           `json:"erased"`
	Opened   time.Time      `json:"opened"`
	OpenRun  bool           `json:"openRun"`
}

// Jobs lists all jobs, newest first.
func (a *App) Jobs() []Summary {
	a.mu.RLock()
	jobs := make([]*openJob, 0, len(a.jobs))
	for _, o := range a.jobs {
		jobs = append(jobs, o)
	}
	a.mu.RUnlock()
	out := make([]Summary, 0, len(jobs))
	for _, o := range jobs {
		o.mu.Lock()
		s := o.state
		out = append(out, Summary{Job: s.Job, Name: s.Name(), Seq: s.Seq, Practice: s.Site.Practice, Erased: s.Erased, Opened: o.created, OpenRun: s.OpenRun() != nil})
		o.mu.Unlock()
	}
	slices.SortFunc(out, func(x, y Summary) int {
		if c := y.Opened.Compare(x.Opened); c != 0 {
			return c
		}
		return strings.Compare(string(y.Job), string(x.Job))
	})
	return out
}

// Stuck finds the job and the thing that carry a sticker; about is a JSON pointer into the site, "" the panel itself.
// ErrNotFound when nothing does.
func (a *App) Stuck(token site.Token) (job evidence.JobID, about string, err error) {
	for _, one := range a.Jobs() {
		state, err := a.State(one.Job)
		if err != nil {
			return "", "", err
		}
		if about, ok := state.Site.Stuck(token); ok {
			return one.Job, about, nil
		}
	}
	return "", "", ErrNotFound
}

// Open makes a job from a site and returns its id.
func (a *App) Open(ctx context.Context, s *site.Site, by evidence.PersonID) (evidence.JobID, error) {
	now := a.now()
	id, err := evidence.NewJobID(now, a.random)
	if err != nil {
		return "", err
	}
	key, err := evidence.NewJobKey(a.random)
	if err != nil {
		return "", err
	}
	raw, err := json.Marshal(s)
	if err != nil {
		return "", fmt.Errorf("opening a job: %w", err)
	}
	patch, private, err := book.SplitPatch(raw)
	if err != nil {
		return "", fmt.Errorf("opening a job: %w", err)
	}
	var personal any
	if private != nil {
		personal = book.EditPrivate{Patch: private}
	}
	c, err := a.content(id, key, evidence.KindEdit, by, 0, now, book.EditBody{Patch: patch}, personal)
	if err != nil {
		return "", err
	}
	first, err := evidence.Append(nil, c, now)
	if err != nil {
		return "", err
	}
	return id, a.keep(ctx, id, now, key, []evidence.Entry{first})
}

// Begin takes over a job that was begun on a device, with the id, the key and the entries made there. The same again is
// the same answer, so that a device may repeat it; another job or another key under that id is refused.
func (a *App) Begin(ctx context.Context, id evidence.JobID, key *evidence.JobKey, contents []evidence.Content) ([]Result, error) {
	known, _, err := a.Key(id)
	if errors.Is(err, ErrNotFound) {
		first := contents[0]
		if first.Kind != evidence.KindEdit || first.Base != 0 {
			return nil, &Problem{Code: BadRequest, Say: words.Mark("A job begins with a description of its building."), Try: words.Mark("Send the entries in the order in which they were made.")}
		}
		if err := book.Check(first); err != nil {
			return nil, (&Problem{Code: BadRequest, Try: words.Mark("Reload the page so that it matches the server."), Err: err}).With(words.Later("The first entry can not be read: %s.", words.Said(err)), words.Text{})
		}
		now := a.now()
		entry, err := evidence.Append(nil, first, now)
		if err != nil {
			return nil, err
		}
		err = a.keep(ctx, id, now, key, []evidence.Entry{entry})
		if err != nil && !errors.Is(err, ErrExists) { // exists: the same device was quicker on another connection
			return nil, err
		}
		known, _, err = a.Key(id)
		if err != nil {
			return nil, err
		}
	} else if err != nil {
		return nil, err
	}
	if known == nil || !bytes.Equal(known.Secret(), key.Secret()) {
		return nil, &Problem{Code: Clash, Say: words.Mark("Another job has this id here, or it was erased."), Try: words.Mark("What this device holds stays on it. Begin the job anew.")}
	}
	return a.Append(ctx, id, contents)
}

// Judge returns what says why somebody in this role may not write a content of a job, or nil. The contents are asked one
// after the other, in their order: what was let pass counts for the next. A helper writes as the name of its device alone.
func (a *App) Judge(role book.Role, as evidence.PersonID, job evidence.JobID) func(evidence.Content) *Problem {
	if role == book.Lead {
		return func(evidence.Content) *Problem { return nil }
	}
	state, err := a.State(job)
	if err != nil {
		state = book.New(job) // there is nothing to write to: Append says so
	}
	key, _, _ := a.Key(job)
	open := book.WithKey(key)
	return func(c evidence.Content) *Problem {
		if state.Has(c.ID) {
			return nil // sent again: it changes nothing
		}
		if c.By != as {
			return &Problem{Code: NotAllowed, Say: words.Mark("A helper's device writes in its own name alone."), Try: words.Mark("Say on this device who is at work, then do it again.")}
		}
		private, _ := open(c) // what can not be opened is judged as if it were not there: refused
		if why := role.May(state, c.By, c.Kind, c.Body, private); why != "" {
			return &Problem{Code: NotAllowed, Say: why, Try: words.Mark("Ask the lead, who can also pair this device anew as a lead.")}
		}
		state.Lay(open, c)
		return nil
	}
}

func (a *App) keep(ctx context.Context, id evidence.JobID, created time.Time, key *evidence.JobKey, entries []evidence.Entry) error {
	if err := a.store.Create(ctx, id, created, key, entries); err != nil {
		a.behind.note(id, false) // it may be there all the same
		return fmt.Errorf("storing job %s: %w", id, err)
	}
	_, err := a.job(ctx, id)
	return err
}

// content makes a content of the server's own.
func (a *App) content(job evidence.JobID, key *evidence.JobKey, kind evidence.Kind, by evidence.PersonID, base int64, now time.Time, body, personal any) (evidence.Content, error) {
	id, err := evidence.NewEntryID(now, a.random)
	if err != nil {
		return evidence.Content{}, err
	}
	c, err := evidence.NewContent(job, id, now, by, kind, base, body)
	if err != nil || personal == nil {
		return c, err
	}
	return evidence.SealPrivate(key, a.random, c, personal)
}

// Key returns a job's data key, nil once it is erased: whoever may read the job needs it.
func (a *App) Key(job evidence.JobID) (key *evidence.JobKey, seq int64, err error) {
	o, err := a.look(job)
	if err != nil {
		return nil, 0, err
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.key, o.state.Seq, nil
}

// State returns the folded book of a job, for reading.
func (a *App) State(job evidence.JobID) (*book.State, error) {
	o, err := a.look(job)
	if err != nil {
		return nil, err
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.state.Clone(), nil
}

// Entries returns entries behind number after, in order.
func (a *App) Entries(ctx context.Context, job evidence.JobID, after int64, limit int) ([]evidence.Entry, error) {
	if _, err := a.job(ctx, job); err != nil {
		return nil, err
	}
	return a.store.Entries(ctx, job, after, limit)
}

// PutBlob keeps sealed bytes; their address must be their SHA-256.
func (a *App) PutBlob(ctx context.Context, job evidence.JobID, address evidence.Hash, sealed []byte) error {
	if evidence.BlobAddress(sealed) != address {
		return &Problem{Code: BadRequest, Say: words.Mark("The file does not match its address."), Try: words.Mark("Send it again.")}
	}
	if _, err := a.job(ctx, job); err != nil {
		return err
	}
	return a.store.PutBlob(ctx, job, address, sealed)
}

// TakeBlob keeps what a browser sends: a photograph without anything beside the picture, or a text. Both are opened to
// look; what the server keeps is sealed all the same.
func (a *App) TakeBlob(ctx context.Context, job evidence.JobID, address evidence.Hash, sealed []byte) error {
	key, _, err := a.Key(job)
	if err != nil {
		return err
	}
	plain, err := evidence.OpenBlob(key, job, sealed)
	switch {
	case errors.Is(err, evidence.ErrErased):
		return err
	case err != nil:
		return &Problem{Code: BadRequest, Say: words.Mark("The file is not sealed with the key of this job."), Try: words.Mark("Open the job again while the server can be reached."), Err: err}
	}
	if len(plain) > maxText || !utf8.Valid(plain) {
		_, err = photo.Check(plain)
	}
	switch {
	case errors.Is(err, photo.ErrExtra):
		return &Problem{Code: BadRequest, Say: words.Mark("The photograph holds more than the picture: where or when it was taken, or by whom."), Try: words.Mark("Take it again within Proofbell, which keeps the picture alone."), Err: err}
	case errors.Is(err, photo.ErrSize):
		return (&Problem{Code: TooLarge, Say: words.Mark("The photograph is too large or too small."), Err: err}).With(words.Text{}, words.Later("At most %d px a side and %d MB.", photo.MaxSide, photo.MaxBytes>>20))
	case err != nil:
		return &Problem{Code: BadRequest, Say: words.Mark("The file is neither a photograph (JPEG, PNG) nor a text."), Try: words.Mark("Save it as one of these."), Err: err}
	}
	return a.PutBlob(ctx, job, address, sealed)
}

// maxText is the longest text that is kept as a file of a job, bytes.
const maxText = 4 << 20

// Blob returns sealed bytes.
func (a *App) Blob(ctx context.Context, job evidence.JobID, address evidence.Hash) ([]byte, error) {
	return a.store.Blob(ctx, job, address)
}

// Export writes a job book with a head signed by this installation.
func (a *App) Export(ctx context.Context, job evidence.JobID, w io.Writer) error {
	if _, err := a.job(ctx, job); err != nil {
		return err
	}
	_, err := evidence.WriteExport(w, a.signing, job, "", a.now(), func(yield func(evidence.Entry, error) bool) {
		for after := int64(0); ; {
			entries, err := a.store.Entries(ctx, job, after, page)
			if err != nil {
				yield(evidence.Entry{}, err)
				return
			}
			for _, e := range entries {
				if after = e.Seq; !yield(e, nil) {
					return
				}
			}
			if len(entries) < page {
				return
			}
		}
	})
	return err
}

// Import takes a job book in. Keys do not travel with it: what was personal stays sealed, and the job can be read but
// not carried on. The chain is checked; who signed it is for verify to say.
func (a *App) Import(ctx context.Context, r io.Reader) (evidence.JobID, error) {
	x, err := evidence.ReadExport(r)
	if err != nil {
		return "", (&Problem{Code: BadRequest, Try: words.Mark("Export it again, or ask for the whole file."), Err: err}).With(words.Later("This is not a job book that can be read: %s.", words.Said(err)), words.Text{})
	}
	var entries []evidence.Entry
	for e, err := range x.Entries() {
		if err != nil {
			return "", (&Problem{Code: BadRequest, Try: words.Mark("Nothing was taken in. Run proofbell verify on the file to see where."), Err: err}).With(words.Later("The job book is damaged: %s.", words.Said(err)), words.Text{})
		}
		entries = append(entries, e)
	}
	if len(entries) == 0 {
		return "", &Problem{Code: BadRequest, Say: words.Mark("The job book is empty."), Try: words.Mark("Export it again.")}
	}
	job := entries[0].Job
	err = a.keep(ctx, job, entries[0].Received.Time, nil, entries)
	if errors.Is(err, ErrExists) {
		return "", &Problem{Code: Clash, Say: words.Mark("This job is here already."), Try: words.Mark("Open it from the list of jobs."), Err: err}
	}
	return job, err
}

// SigningFingerprint names the key that signs this installation's heads.
func (a *App) SigningFingerprint() evidence.Fingerprint { return a.signing.Public().Fingerprint() }

// Sign signs the head of a job as it stands at an entry that was read from its book.
func (a *App) Sign(ctx context.Context, job evidence.JobID) (evidence.Head, error) {
	newest, err := a.store.Newest(ctx, job)
	if err != nil {
		return evidence.Head{}, err
	}
	return evidence.SignHead(a.signing, job, newest, a.now())
}
