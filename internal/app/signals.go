package app

import (
	"context"
	"encoding/hex"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"proofbell/evidence"
	"proofbell/internal/prove"
	"proofbell/signal"
	"proofbell/site"
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

// Deliver keeps a signal in the inbox and decides its answer. It is a signal.Deliver.
//
// An acknowledgement tells the panel that somebody has the alarm. So it is given only while the account is on test and
// watched, or in a practice run; at any other time the signal is stored, shown, and not answered, so that the panel
// takes its next path.
func (a *App) Deliver(ctx context.Context, r signal.Received) (signal.Verdict, error) {
	a.admit.RLock()
	defer a.admit.RUnlock()
	now := a.now()
	g, answer, why := a.judge(r.Frame.Account, now)
	verdict := signal.StaySilent
	if answer {
		verdict = r.Proposed
		if verdict != signal.Acknowledge && r.Err != nil {
			why = r.Err.Error()
		}
	}
	row := InboxRow{At: now, Remote: r.Remote, Transport: r.Transport, Account: r.Frame.Account, Answered: verdict == signal.Acknowledge, Why: why, Job: g.job, Run: g.run, Raw: r.Raw}
	if r.Err == nil {
		row.Repeat = signal.DuplicateKey(r.Frame)
	}
	row, err := a.inbox.Put(ctx, row)
	if err != nil {
		if ctx.Err() == nil {
			a.hub.trouble(AsProblem(err).Say)
		}
		return signal.StaySilent, fmt.Errorf("storing a signal of account %s: %w", row.Account, err)
	}
	a.hub.trouble("")
	select {
	case a.arrivals <- struct{}{}:
	default: // the sequencer is awake already
	}
	if !row.Answered && (len(r.Events) > 0 || r.Err != nil) {
		a.hub.alarm(a.arrival(row, r.Events))
	}
	return verdict, nil
}

// gate is what decides about the signals of one job's account.
type gate struct {
	job      evidence.JobID
	account  string
	window   prove.Window
	practice bool
	run      prove.RunID // open run; "" none
}

func gateOf(o *openJob) gate {
	s := o.state
	if o.key == nil { // erased, or read from a file: nothing of it is watched here
		return gate{job: s.Job}
	}
	g := gate{job: s.Job, account: strings.ToUpper(s.Site.Account.Number)}
	if run := s.OpenRun(); run != nil {
		g.run, g.practice, g.window = run.ID, run.Practice && s.Site.Practice, run.Window // practice on a real account answers nothing
		g.window.Account = strings.ToUpper(run.Window.Account)
	}
	return g
}

func (g gate) same(h gate) bool {
	return g.account == h.account && g.run == h.run && g.practice == h.practice && g.window.Stage == h.window.Stage &&
		g.window.Account == h.window.Account && g.window.Until.Equal(h.window.Until)
}

// regate replaces the table that the receiver looks at. a.mu is held, or a is not shared yet.
func (a *App) regate() {
	table := map[string][]gate{}
	for _, o := range a.jobs {
		if o.gate.account != "" {
			table[o.gate.account] = append(table[o.gate.account], o.gate)
		}
	}
	for _, gates := range table { // among several jobs of one account the choice is always the same
		slices.SortFunc(gates, func(x, y gate) int { return strings.Compare(string(x.job), string(y.job)) })
	}
	a.gates.Store(&table)
}

// judge finds the job and open run of an account, and whether its signals may be answered now.
func (a *App) judge(account string, now time.Time) (g gate, answer bool, why string) {
	if account == "" {
		return gate{}, false, prove.NoAccount
	}
	gates := (*a.gates.Load())[strings.ToUpper(account)]
	for _, g := range gates {
		if g.run != "" && prove.MayAcknowledge(g.window, strings.ToUpper(account), g.practice, now) {
			return g, true, ""
		}
	}
	for _, g := range gates {
		if g.run != "" {
			return g, false, fmt.Sprintf(prove.NotOnTest, account)
		}
	}
	if len(gates) > 0 {
		return gates[0], false, fmt.Sprintf(prove.NoWindow, account)
	}
	return gate{}, false, fmt.Sprintf(prove.NoJob, account)
}

// settle waits until what was received is in the books, and holds back what arrives until reopen is called: a signal
// belongs to the run that was open when it arrived, and a run is closed with all that belongs to it.
func (a *App) settle(ctx context.Context) (reopen func(), err error) {
	if err := a.Drain(ctx); err != nil { // most of it, while signals still come in
		return nil, err
	}
	a.admit.Lock()
	if err := a.Drain(ctx); err != nil {
		a.admit.Unlock()
		return nil, err
	}
	return a.admit.Unlock, nil
}

// Run takes signals from the inbox into the books until ctx ends.
func (a *App) Run(ctx context.Context) error {
	if a.inbox == nil {
		<-ctx.Done()
		return nil
	}
	retry := time.NewTimer(0)
	defer retry.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-a.arrivals:
		case <-retry.C:
		}
		if err := a.Drain(ctx); err != nil && ctx.Err() == nil {
			a.log.Error("taking signals into the books", "err", err)
			retry.Reset(time.Second)
		}
	}
}

// Drain takes every signal that the inbox holds now into the books. Each is taken once, however often this is repeated:
// ids are derived from receiver and row, and the row reached moves in the same transaction.
func (a *App) Drain(ctx context.Context) error {
	if a.inbox == nil {
		return nil
	}
	a.drain.Lock()
	defer a.drain.Unlock()
	receiver := a.inbox.Receiver()
	from, err := a.store.Taken(ctx, receiver)
	if err != nil {
		return fmt.Errorf("reading how far the inbox was taken: %w", err)
	}
	for {
		rows, err := a.inbox.After(ctx, from, 500)
		if err != nil {
			return fmt.Errorf("reading the inbox: %w", err)
		}
		if len(rows) == 0 {
			return nil
		}
		for len(rows) > 0 {
			n := sameBook(rows)
			if err := a.take(ctx, receiver, rows[:n]); err != nil {
				return err
			}
			from, rows = rows[n-1].Row, rows[n:]
		}
	}
}

// sameBook counts the rows from the first on that go into one book or into none.
func sameBook(rows []InboxRow) int {
	var job evidence.JobID
	for i, r := range rows {
		switch {
		case r.Run == "":
		case job == "":
			job = r.Job
		case job != r.Job:
			return i
		}
	}
	return len(rows)
}

// take puts rows into the book of the one job that they name. Rows of no run only move the mark.
func (a *App) take(ctx context.Context, receiver string, rows []InboxRow) error {
	mark := &Taken{Receiver: receiver, Row: rows[len(rows)-1].Row}
	rows = slices.DeleteFunc(slices.Clone(rows), func(r InboxRow) bool { return r.Run == "" })
	if len(rows) == 0 {
		return a.store.Append(ctx, nil, mark)
	}
	o, err := a.job(rows[0].Job)
	if err != nil {
		a.log.Error("signals of a job that is not here stay in the inbox", "job", rows[0].Job, "row", rows[0].Row)
		return a.store.Append(ctx, nil, mark)
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	var entries []evidence.Entry
	newest := o.newest
	for _, row := range rows {
		contents, err := a.signals(ctx, receiver, row, o.state.Site, o.state.Seq)
		if err != nil {
			return err
		}
		for _, c := range contents {
			if o.state.Has(c.ID) {
				continue
			}
			e, err := evidence.Append(newest, c, a.now())
			if err != nil {
				return fmt.Errorf("entry of inbox row %d: %w", row.Row, err)
			}
			entries = append(entries, e)
			newest = &e
		}
	}
	return a.commit(ctx, o, entries, mark)
}

// signals makes the contents of one inbox row: one for each event in it.
func (a *App) signals(ctx context.Context, receiver string, row InboxRow, s *site.Site, base int64) ([]evidence.Content, error) {
	r := signal.Judge(row.Raw)
	first, err := a.first(ctx, row)
	if err != nil {
		return nil, err
	}
	var out []evidence.Content
	for i, event := range r.Events {
		id, err := signalID(receiver, row, i)
		if err != nil {
			return nil, err
		}
		body := prove.SignalBody{
			Run: row.Run, Receiver: receiver, Row: row.Row, Index: i, Event: storable(event), Received: row.At,
			Acknowledged: row.Answered, Path: pathOf(s, r.Frame), Raw: hex.EncodeToString(row.Raw),
		}
		if stamp, ok := r.Frame.Time(); ok {
			body.Stamp = stamp
		}
		if first != nil {
			of, err := signalID(receiver, *first, i)
			if err != nil {
				return nil, err
			}
			body.DuplicateOf = prove.SignalID(of)
		}
		c, err := evidence.NewContent(row.Job, id, row.At, receiverPerson, evidence.KindSignal, base, body)
		if err != nil {
			return nil, fmt.Errorf("entry of inbox row %d: %w", row.Row, err)
		}
		out = append(out, c)
	}
	return out, nil
}

// storable is an event without U+0000, which a frame may carry and no store takes; the frame itself is kept in hex.
func storable(e signal.Event) signal.Event {
	for _, text := range []*string{&e.Account, &e.Code, &e.Words, &e.Address, &e.Modifiers, &e.Text, &e.Raw} {
		*text = strings.ReplaceAll(*text, "\x00", "\uFFFD")
	}
	return e
}

// first finds the row that this one repeats, if the same run has it: a signal that came before its run is not in its book.
func (a *App) first(ctx context.Context, row InboxRow) (*InboxRow, error) {
	if row.Duplicate == 0 {
		return nil, nil
	}
	rows, err := a.inbox.After(ctx, row.Duplicate-1, 1)
	if err != nil || len(rows) == 0 || rows[0].Row != row.Duplicate || rows[0].Run != row.Run {
		return nil, err
	}
	return &rows[0], nil
}

func signalID(receiver string, row InboxRow, index int) (evidence.EntryID, error) {
	return evidence.DerivedEntryID(row.At, receiver+"|"+strconv.FormatInt(row.Row, 10)+"|"+strconv.Itoa(index))
}

// pathOf reads the extended field J, the network path used: "1" is the path of order 1.
func pathOf(s *site.Site, f signal.Frame) site.PathID {
	order, ok := f.Field("J")
	if !ok {
		return ""
	}
	for _, id := range site.SortedIDs(s.Account.Paths) {
		if strconv.Itoa(s.Account.Paths[id].Order) == order {
			return id
		}
	}
	return ""
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
		out[i] = a.arrival(r, signal.Judge(r.Raw).Events)
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
