package app

import (
	"cmp"
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"sync"
	"time"

	"proofbell/evidence"
	"proofbell/internal/prove"
	"proofbell/signal"
)

// receiverPerson is who signs the entries that hold signals.
const receiverPerson evidence.PersonID = "receiver"

// Arrival is a signal as the inbox holds it, for showing.
type Arrival struct {
	Row       int64          `json:"row"`
	Receiver  string         `json:"receiver"`
	At        time.Time      `json:"at"`
	Remote    string         `json:"remote"`
	Transport string         `json:"transport"`
	Account   string         `json:"account"`
	Raw       string         `json:"raw"` // hex
	Events    []signal.Event `json:"events"`
	Answered  bool           `json:"answered"`
	Duplicate bool           `json:"duplicate"`
	Why       string         `json:"why"` // why it was not answered
	Job       evidence.JobID `json:"job,omitempty"`
}

func (a *App) arrival(r InboxRow, events []signal.Event) Arrival {
	return Arrival{
		Row: r.Row, Receiver: a.inbox.Receiver(), At: r.At, Remote: r.Remote, Transport: r.Transport, Account: r.Account,
		Raw: hex.EncodeToString(r.Raw), Events: append([]signal.Event{}, events...), Answered: r.Answered, Duplicate: r.Duplicate != 0, Why: r.Why, Job: r.Job,
	}
}

// Deliver keeps a signal in the inbox and decides its answer. It is a signal.Deliver. It needs this process's memory and
// the inbox, and not the store.
//
// An acknowledgement tells the panel that somebody has the alarm. So it is given only while the account is on test and
// watched, or in a practice run; at any other time the signal is stored, shown, and not answered, so that the panel
// takes its next path. The account has to be on test still when the signal is on disk.
func (a *App) Deliver(ctx context.Context, r signal.Received) (signal.Verdict, error) {
	a.admit.RLock()
	defer a.admit.RUnlock()
	now := a.now()
	g, answer, why := a.judge(r.Frame.Account, now)
	if answer && a.spool.full(a.forward()) {
		answer, why = false, prove.Spooled
	}
	row := RowOf(r, now)
	row.Job = g.job
	if r.Err == nil { // what is refused is shown, and is no event: DC-09 takes none from it
		row.Run = g.run
	}
	verdict := signal.StaySilent
	if answer {
		verdict = r.Proposed
		if verdict == signal.Acknowledge && r.Encrypted && row.Clear == nil {
			verdict, why = signal.CannotProcess, fmt.Sprintf(prove.NotKept, r.Frame.Account)
		}
		if verdict != signal.Acknowledge && r.Err != nil {
			why = r.Err.Error()
		}
	}
	if finding := a.finding(r, g); finding != "" {
		why = finding
	}
	row.Answered, row.Why = verdict == signal.Acknowledge, why
	if row.Run != "" && !row.Answered && !a.idle.more(row.Run) {
		row.Run = ""
	}
	a.links.heard(r.Frame.Account, now)
	row, err := a.inbox.Put(ctx, row)
	if err != nil {
		if ctx.Err() == nil {
			a.hub.trouble(AsProblem(err).Say)
		}
		return signal.StaySilent, fmt.Errorf("storing a signal of account %s: %w", row.Account, err)
	}
	a.hub.trouble("")
	if row.Run != "" && row.Answered {
		a.spool.put(now, a.forward())
	}
	select {
	case a.arrivals <- struct{}{}:
	default: // the sequencer is awake already
	}
	if verdict != signal.StaySilent {
		if now, still, over := a.judge(r.Frame.Account, a.now()); !still || now.job != g.job || now.run != g.run { // storing took its time
			verdict, row.Answered, row.Why = signal.StaySilent, false, cmp.Or(over, fmt.Sprintf(prove.NotOnTest, r.Frame.Account))
		}
	}
	if !row.Answered && (len(r.Events) > 0 || r.Err != nil) {
		a.alarm(a.arrival(row, r.Events))
	}
	return verdict, nil
}

// mostUnanswered is how many signals that were not answered this process puts into the book of one run. Anybody can send
// them; those beyond are stored and shown like what strangers send, and belong into no book.
const mostUnanswered = 20_000

// unanswered counts them. Safe for concurrent use.
type unanswered struct {
	mu   sync.Mutex
	most int
	runs map[prove.RunID]int
}

func newUnanswered() unanswered {
	return unanswered{most: mostUnanswered, runs: map[prove.RunID]int{}}
}

// more counts one more; false when there is no room for it.
func (u *unanswered) more(run prove.RunID) bool {
	u.mu.Lock()
	defer u.mu.Unlock()
	if u.runs[run] >= u.most {
		return false
	}
	u.runs[run]++
	return true
}

// clearOf writes a decrypted frame as one in the clear. nil when it can not be written so: then its event can not be kept.
func clearOf(f signal.Frame) []byte {
	raw, err := f.Encode()
	if err != nil {
		return nil
	}
	return raw
}

// finding says what a technician has to mend before a frame can be read, in English; "" when it can be.
func (a *App) finding(r signal.Received, g gate) string {
	account := r.Frame.Account
	switch {
	case errors.Is(r.Err, signal.ErrDecrypt):
		return fmt.Sprintf(prove.NotDecrypted, account)
	case errors.Is(r.Err, signal.ErrEncrypted) && g.job != "":
		return fmt.Sprintf(prove.NoKey, account)
	case errors.Is(r.Err, signal.ErrNotEncrypted):
		return fmt.Sprintf(prove.InClear, account)
	case g.job == "" && account != "":
		if near := a.near(account); near != nil {
			return fmt.Sprintf(prove.NearJob, account, near.Account)
		}
	}
	return ""
}

// sound is the frame of a row to be read: the decrypted one where there is one.
func (r InboxRow) sound() []byte {
	if r.Clear != nil {
		return r.Clear
	}
	return r.Raw
}

// Arrivals lists what this receiver stored behind row, in order.
func (a *App) Arrivals(ctx context.Context, after int64, limit int) ([]Arrival, error) {
	if a.inbox == nil {
		return []Arrival{}, nil
	}
	rows, err := a.inbox.After(ctx, after, limit)
	if err != nil {
		return nil, err
	}
	out := make([]Arrival, len(rows))
	for i, r := range rows {
		out[i] = a.arrival(r, signal.Judge(r.sound()).Events)
	}
	return out, nil
}

// LastArrival returns the number of the newest row of this receiver's inbox; 0 when there is none.
func (a *App) LastArrival(ctx context.Context) (int64, error) {
	if a.inbox == nil {
		return 0, nil
	}
	return a.inbox.Last(ctx)
}
