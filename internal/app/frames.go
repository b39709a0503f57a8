package app

import (
	"cmp"
	"errors"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"proofbell/evidence"
	"proofbell/internal/words"
	"proofbell/signal"
)

// The newest frames are kept in memory, for a person who debugs a panel: so many, and so many bytes of them.
const (
	mostFrames     = 500
	mostFrameBytes = 1 << 20
)

// Observed is what a receiver saw of one frame, or of bytes that belong to none, and what became of it.
type Observed struct {
	signal.Received
	Lost      int            // bytes passed over that belong to no frame; 0 when Raw is a frame
	Verdict   signal.Verdict // what was answered
	Reply     []byte         // as it went out; nil for silence
	NotStored bool           // nothing was kept, and so nothing answered
	ReplyLost bool           // the reply could not be written
}

// FrameState is what became of a frame.
type FrameState string

const (
	FrameAnswered  FrameState = "answered"   // stored and acknowledged
	FrameSilent    FrameState = "silent"     // stored; nothing was answered
	FrameRefused   FrameState = "refused"    // stored, and answered that it can not be processed or that its time is wrong
	FrameDamaged   FrameState = "damaged"    // no sound message: shown here alone
	FrameNotStored FrameState = "not-stored" // sound, but there was no room
)

// Silence says in a word why a sound frame was not answered.
type Silence string

const (
	NoAccount Silence = "no-account" // it names none
	NoJob     Silence = "no-job"     // no job here has that account
	NoRun     Silence = "no-run"     // the job has no open run
	Beside    Silence = "beside"     // only a practice job has an open run, and another job has the account in earnest
	NotOnTest Silence = "not-on-test"
	Spooled   Silence = "spooled" // too much waits for the books, see Backlog
)

// Near is an account of a job here from which a stranger's account differs by one slip of the finger.
type Near struct {
	Account string         `json:"account"`
	Swapped bool           `json:"swapped"` // two neighbours; otherwise one digit is another
	Job     evidence.JobID `json:"job"`
}

// FrameRow is a frame in the list.
type FrameRow struct {
	N         int64          `json:"n"` // grows with every frame, also over a restart
	At        time.Time      `json:"at"`
	Transport string         `json:"transport"`
	Remote    string         `json:"remote"`
	Account   string         `json:"account,omitempty"`
	ID        string         `json:"id,omitempty"` // with its asterisk
	Bytes     int            `json:"bytes"`
	State     FrameState     `json:"state"`
	Events    []FrameEvent   `json:"events,omitempty"`
	Fault     *FrameFault    `json:"fault,omitempty"`
	Silence   Silence        `json:"silence,omitempty"`
	Near      *Near          `json:"near,omitempty"`
	Job       evidence.JobID `json:"job,omitempty"`
}

// FrameEvent is one event of a frame, in the reader's words.
type FrameEvent struct {
	Qualifier signal.Qualifier `json:"qualifier"`
	Words     string           `json:"words"`
	NumberIs  signal.NumberIs  `json:"numberIs"`
	Address   string           `json:"address,omitempty"`
	Area      int              `json:"area,omitempty"`
}

// FrameFault says what stands against a frame, and at which byte.
type FrameFault struct {
	Cause   string `json:"cause"` // signal.Cause
	Element string `json:"element,omitempty"`
	Offset  int    `json:"offset"`
	Got     string `json:"got,omitempty"`
	Want    string `json:"want,omitempty"`
	Say     string `json:"say"` // all of it, in the reader's language, like Want
}

// keptFrame is a frame as the ring holds it: bytes, and what can not be read from them again.
type keptFrame struct {
	n                 int64
	at                time.Time
	transport, remote string
	account           string
	raw, clear, reply []byte
	lost              int
	fault             error
	state             FrameState
	replyLost         bool
	silence           Silence
	job               evidence.JobID
}

func (k *keptFrame) size() int { return len(k.raw) + len(k.clear) + len(k.reply) + 512 }

// frames is a ring of the newest frames.
type frames struct {
	mu       sync.Mutex
	held     []*keptFrame // oldest first, numbers dense
	bytes    int
	first    int64 // number before the first of this process
	last     int64
	watchers map[chan struct{}]bool
}

func newFrames(now time.Time) *frames {
	n := now.UnixMicro() // so that numbers go on growing over a restart
	return &frames{first: n, last: n, watchers: map[chan struct{}]bool{}}
}

func (f *frames) add(k *keptFrame) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.last++
	k.n = f.last
	f.held, f.bytes = append(f.held, k), f.bytes+k.size()
	for len(f.held) > mostFrames || f.bytes > mostFrameBytes && len(f.held) > 1 {
		f.bytes -= f.held[0].size()
		f.held[0] = nil
		f.held = f.held[1:]
	}
	for w := range f.watchers {
		offer(w, struct{}{})
	}
}

// Observe takes in a frame for showing. It keeps the slices that it is given. Safe for concurrent use; it does not block.
func (a *App) Observe(o Observed) {
	k := &keptFrame{
		at: o.At, transport: o.Transport, remote: o.Remote, account: o.Frame.Account, raw: o.Raw, reply: o.Reply, lost: o.Lost,
		replyLost: o.ReplyLost, fault: o.Err,
	}
	if o.Encrypted {
		k.clear = o.Frame.Append(nil)
	}
	switch {
	case o.Damaged():
		k.state = FrameDamaged
	case o.NotStored:
		k.state = FrameNotStored
	case o.Verdict == signal.Acknowledge:
		k.state = FrameAnswered
	case o.Verdict == signal.StaySilent:
		k.state = FrameSilent
	default:
		k.state = FrameRefused
	}
	if k.state != FrameDamaged {
		why, job := a.silence(k.account)
		if k.job = job; k.state == FrameSilent {
			k.silence = why
		}
	}
	a.frames.add(k)
	if k.fault != nil || k.silence == NoJob {
		a.tellFault(k)
	}
}

func faultOf(err error, lang *words.Language) *FrameFault {
	if err == nil {
		return nil
	}
	fault := &FrameFault{Cause: signal.Cause(err), Say: words.Said(err).In(lang)}
	var fe *signal.FrameError
	if errors.As(err, &fe) {
		fault.Element, fault.Offset, fault.Got, fault.Want = fe.Element, fe.Offset, signal.DecodeText(fe.Got), fe.Want.In(lang.Say)
		fault.Say = fe.Phrase().In(lang.Say)
	}
	return fault
}

// silence says why the signals of an account are not answered now.
func (a *App) silence(account string) (Silence, evidence.JobID) {
	g, answer, _ := a.judge(account, a.now())
	switch {
	case answer && a.spool.full(a.forward()):
		return Spooled, g.job
	case answer:
		return "", g.job
	case account == "":
		return NoAccount, ""
	case g.job == "":
		return NoJob, ""
	case g.run == "" && slices.ContainsFunc((*a.gates.Load())[strings.ToUpper(account)], func(g gate) bool { return g.run != "" }):
		return Beside, g.job
	case g.run == "":
		return NoRun, g.job
	}
	return NotOnTest, g.job
}

// near finds the account of a job here that is one slip away, the one on test first.
func (a *App) near(account string) *Near {
	table := *a.gates.Load()
	var found *Near
	running := false
	for _, own := range slices.Sorted(maps.Keys(table)) {
		swapped, slip := slipped(own, strings.ToUpper(account))
		g := table[own][0]
		if !slip || found != nil && (running || g.run == "") {
			continue
		}
		found, running = &Near{Account: own, Swapped: swapped, Job: g.job}, g.run != ""
	}
	return found
}

// slipped reports whether b is a with two neighbours swapped or with one digit changed, left out or doubled.
func slipped(a, b string) (swapped, slip bool) {
	if a == b {
		return false, false
	}
	from := 0
	for from < min(len(a), len(b)) && a[from] == b[from] {
		from++
	}
	switch restA, restB := a[from:], b[from:]; {
	case len(a) == len(b) && len(restA) >= 2 && restA[0] == restB[1] && restA[1] == restB[0] && restA[2:] == restB[2:]:
		return true, true
	case len(a) == len(b):
		return false, len(a) > 2 && restA[1:] == restB[1:]
	case len(a) == len(b)+1:
		return false, len(b) > 2 && restA[1:] == restB
	case len(b) == len(a)+1:
		return false, len(a) > 2 && restB[1:] == restA
	}
	return false, false
}

// tellFault shows a frame that could not be taken to the jobs that it may concern: one that is damaged to all.
func (a *App) tellFault(k *keptFrame) {
	if !a.hub.watched() {
		return
	}
	row := a.row(k, nil)
	a.showFault(row)
	a.share(notice{Fault: &row})
}

// showFault shows a frame that could not be taken, of this process or another, to the jobs that it may concern.
func (a *App) showFault(row FrameRow) {
	gates := (*a.gates.Load())[strings.ToUpper(row.Account)]
	a.hub.each(func(w *Watcher) {
		if row.State == FrameDamaged || row.Near != nil && row.Near.Job == w.job || slices.ContainsFunc(gates, func(g gate) bool { return g.job == w.job }) {
			offer(w.Faults, row)
		}
	})
}

// WatchFrames tells of new frames until stop is called.
func (a *App) WatchFrames() (grown <-chan struct{}, stop func()) {
	f, c := a.frames, make(chan struct{}, 1)
	f.mu.Lock()
	defer f.mu.Unlock()
	f.watchers[c] = true
	return c, func() {
		f.mu.Lock()
		defer f.mu.Unlock()
		delete(f.watchers, c)
	}
}

// Frames lists the frames with a number over after, newest first, at most limit of them. missed counts those that are not
// listed because they are too many or no longer held; a reader with a number from before the start misses nothing.
func (a *App) Frames(after int64, limit int, lang *words.Language) (rows []FrameRow, missed int64) {
	f := a.frames
	f.mu.Lock()
	behind := f.last - max(after, f.first)
	n := max(0, min(behind, int64(limit), int64(len(f.held))))
	shown := slices.Clone(f.held[len(f.held)-int(n):])
	f.mu.Unlock()
	rows = make([]FrameRow, 0, n)
	for _, k := range slices.Backward(shown) {
		rows = append(rows, a.row(k, lang))
	}
	if after < f.first {
		return rows, 0
	}
	return rows, max(0, behind-n)
}

func (f *frames) find(n int64) *keptFrame {
	f.mu.Lock()
	defer f.mu.Unlock()
	i, found := slices.BinarySearchFunc(f.held, n, func(k *keptFrame, n int64) int { return cmp.Compare(k.n, n) })
	if !found {
		return nil
	}
	return f.held[i]
}

func (a *App) row(k *keptFrame, lang *words.Language) FrameRow {
	row := FrameRow{
		N: k.n, At: k.at, Transport: k.transport, Remote: k.remote, Account: k.account, Bytes: len(k.raw), State: k.state, Fault: faultOf(k.fault, lang),
		Silence: k.silence, Job: k.job,
	}
	if k.silence == NoJob {
		row.Near = a.near(k.account)
	}
	if k.lost > 0 {
		row.Bytes = k.lost
		return row
	}
	frame, _ := signal.ParseFrame(k.raw) // what can be read, also of a damaged one
	if row.ID = frame.ID; frame.Encrypted {
		row.ID = "*" + frame.ID
	}
	if k.clear != nil {
		frame, _ = signal.ParseFrame(k.clear)
	}
	if events, err := frame.Events(); err == nil && !frame.Encrypted {
		for _, e := range events {
			one := FrameEvent{Qualifier: e.Qualifier, Words: lang.Word(e.Words), NumberIs: e.NumberIs, Area: e.Area}
			if e.NumberIs != signal.NoNumber {
				one.Address = e.Address
			}
			row.Events = append(row.Events, one)
		}
	}
	return row
}

// Tested is an account with an open run: on test, or to be.
type Tested struct {
	Job      evidence.JobID `json:"job"`
	Name     string         `json:"name"`
	Account  string         `json:"account"`
	Practice bool           `json:"practice"`
	Answered bool           `json:"answered"` // a signal of it is answered now
	Until    *time.Time     `json:"until,omitempty"`
}

// UnderTest lists the accounts with an open run, by account and job.
func (a *App) UnderTest() []Tested {
	now, forward := a.now(), a.forward()
	out := []Tested{}
	for account, gates := range *a.gates.Load() {
		for _, g := range gates {
			if g.run == "" {
				continue
			}
			one := Tested{Job: g.job, Account: account, Practice: g.practice, Answered: g.answers(account, now, forward)}
			if until := g.window.Until; !until.IsZero() {
				one.Until = &until
			}
			out = append(out, one)
		}
	}
	slices.SortFunc(out, func(x, y Tested) int { return cmp.Or(cmp.Compare(x.Account, y.Account), cmp.Compare(x.Job, y.Job)) })
	for i, one := range out {
		if o, err := a.look(one.Job); err == nil {
			o.mu.Lock()
			out[i].Name = o.state.Name()
			o.mu.Unlock()
		}
	}
	return out
}
