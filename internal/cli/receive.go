package cli

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"proofbell/internal/app"
	"proofbell/internal/prove"
	"proofbell/internal/receiver"
	"proofbell/internal/store"
	"proofbell/internal/words"
	"proofbell/signal"
)

type receiveCmd struct {
	Signals  string        `default:"127.0.0.1:5090" help:"Address, TCP and UDP (${default})." placeholder:"HOST:PORT"`
	Data     string        `required:"" type:"path" help:"Folder of the inbox." placeholder:"DIR"`
	Accounts string        `required:"" help:"YAML file with the accounts that may be answered while on test, and their keys." placeholder:"FILE"`
	OnTest   time.Duration `help:"Put all accounts of the file on test from now for so long; without it nothing is answered." placeholder:"2h"`
	OffTest  bool          `help:"End a test window that is still open from before; not together with --on-test."`
	JSON     bool          `name:"json" help:"Print JSON lines: each stored event, faults, links, the test window, the storage."`
	Lang     string        `help:"Language: ${enum}." enum:"en,de" default:"en"`

	watchFlags
	limitFlags
	choiceFlags
}

// choiceFlags choose where the standard is not clear: docs/format/wire-dc09.md, what is unconfirmed.
type choiceFlags struct {
	StampAge    time.Duration `group:"Unconfirmed" help:"How old the time stamp of an encrypted frame may be (40s)." placeholder:"DURATION"`
	StampAhead  time.Duration `group:"Unconfirmed" help:"How far ahead of this clock it may be (20s)." placeholder:"DURATION"`
	NakWrongKey bool          `group:"Unconfirmed" help:"Answer what does not decrypt with NAK, so that it is sent again, in place of DUH."`
}

func (c choiceFlags) policy() signal.Policy {
	return signal.Policy{Age: c.StampAge, Ahead: c.StampAhead, NakUndecryptable: c.NakWrongKey}
}

// limitFlags bound what strangers can cost. 0 is the default of receiver.Limits.
type limitFlags struct {
	Connections      int           `group:"Limits" help:"Open connections (16384)." placeholder:"N"`
	AddressConns     int           `group:"Limits" name:"connections-per-address" help:"Of one address (256)." placeholder:"N"`
	FramesPerAddress int           `group:"Limits" help:"Frames a second of one address (500); beyond it TCP is read slower, UDP dropped." placeholder:"N"`
	Burst            int           `group:"Limits" help:"Frames that an address may send at once (1000)." placeholder:"N"`
	FaultsPerAddress int           `group:"Limits" help:"Faults a minute of one address (300)." placeholder:"N"`
	Idle             time.Duration `group:"Limits" help:"How long a connection may be silent (60s)." placeholder:"DURATION"`
}

func (l limitFlags) limits() receiver.Limits {
	return receiver.Limits{
		Conns: l.Connections, ConnsPerAddress: l.AddressConns, FramesPerAddress: l.FramesPerAddress, Burst: l.Burst,
		FaultsPerAddress: l.FaultsPerAddress, Idle: l.Idle,
	}
}

// alone is what decides for a receiver without jobs.
type alone struct {
	accounts map[string]account
	inbox    app.Inbox
	window   *testWindow
	links    signal.Supervisor
	lines    chan printed
	unsaid   atomic.Int64 // lines that found no room
	failing  atomic.Bool  // the inbox takes nothing
}

// printGrace bounds how long the end waits for who reads what is printed.
const printGrace = 2 * time.Second

// Run receives until it is stopped: stores, prints, and answers only while the accounts are on test.
func (c *receiveCmd) Run(ctx context.Context, io *streams) (err error) {
	if err := oneAddress(c.Signals); err != nil {
		return err
	}
	if c.OffTest && c.OnTest != 0 {
		return errors.New("--on-test and --off-test contradict each other: end the window with --off-test first, then start again with --on-test")
	}
	raw, err := readFile(c.Accounts, io.in, largestAccounts)
	if err != nil {
		return err
	}
	accounts, err := readAccounts(named(c.Accounts), raw)
	if err != nil {
		return err
	}
	log := logger(io.err)
	m := newMetrics()
	inbox, err := store.OpenInbox(ctx, c.Data, store.Options{Committed: m.committed})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, inbox.Close()) }()
	begin := time.Now()
	window, err := openWindow(c.Data, slices.Sorted(maps.Keys(accounts)), c.OnTest, c.OffTest, begin)
	if err != nil {
		return err
	}
	listens := false
	defer func() {
		if !listens && !window.before { // a start that came to nothing has put nobody on test
			err = errors.Join(err, window.forget())
		}
	}()
	a := &alone{accounts: accounts, inbox: inbox, window: window, lines: make(chan printed, 1024)}
	for _, one := range accounts {
		a.links.Expect(one.number, one.supervision, app.Margin(one.supervision), begin)
	}
	r, err := receiver.New(receiver.Config{ID: inbox.Receiver(), Deliver: a.deliver, Secret: a.secret, Observe: a.observe, Log: log, Limits: c.limits(), Policy: c.policy()})
	if err != nil {
		return err
	}
	watching, err := c.watch(ctx, m, log)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, watching.close()) }()
	m.receiver(r)
	m.windows(func() (open int) {
		if !window.until().IsZero() {
			open = 1
		}
		return open
	})
	addr, err := r.Listen(ctx, c.Signals)
	if err != nil {
		return fmt.Errorf("%w; choose another address with --signals", err)
	}
	listens = true
	p := printer{out: io.out, json: c.JSON, lang: words.In(c.Lang)}
	listening := listeningLine{Kind: "listening", Signals: addr.String(), Accounts: len(accounts), Until: window.until(), Metrics: watching.address()}
	if window.before {
		listening.Before, listening.NotTaken, listening.Out = true, c.OnTest != 0, window.out(slices.Sorted(maps.Keys(accounts)))
	}
	shut, ended, watched, all := make(chan struct{}), make(chan struct{}), make(chan error, 1), make(chan error, 1)
	go func() { watched <- a.watch(shut) }()
	go func() { all <- a.printAll(p, listening, ended) }()
	<-ctx.Done()
	m.draining.Store(true)
	grace, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	err = r.Shutdown(grace)
	close(shut)
	err = errors.Join(err, <-watched)
	close(ended)
	select {
	case fault := <-all:
		return errors.Join(err, fault)
	case <-time.After(printGrace):
		return errors.Join(err, fmt.Errorf("printing what was received: nobody takes the lines; %d and more were not printed, and all are in the inbox", int64(len(a.lines))+a.unsaid.Load()))
	}
}

// find returns the account that a frame speaks for.
func (a *alone) find(prefix, number string) (account, bool) {
	one, ok := a.accounts[strings.ToUpper(number)]
	return one, ok && (one.prefix == "" || one.prefix == prefixOf(prefix))
}

func (a *alone) secret(prefix, number string) signal.Secret {
	one, ok := a.find(prefix, number)
	if !ok {
		return signal.Secret{}
	}
	return one.secret
}

var (
	notInFile   = words.Mark("account %s is not in the accounts file")
	otherPrefix = words.Mark("account %s is in the accounts file with prefix %s, this frame has %s")
)

// unknown says why a frame speaks for no account.
func (a *alone) unknown(f signal.Frame) words.Text {
	if one, ok := a.accounts[strings.ToUpper(f.Account)]; ok {
		return words.Later(otherPrefix, f.Account, "L"+one.prefix, f.Prefix)
	}
	return words.Later(notInFile, f.Account)
}

// deliver is a signal.Deliver.
func (a *alone) deliver(ctx context.Context, r signal.Received) (signal.Verdict, error) {
	now := time.Now()
	one, known := a.find(r.Frame.Prefix, r.Frame.Account)
	verdict, why := signal.StaySilent, words.Text{}
	switch {
	case r.Frame.Account == "":
		why = words.Marked(prove.NoAccount)
	case !known:
		why = a.unknown(r.Frame)
	case !a.window.open(one.number, now):
		why = words.Later(prove.NotOnTest, r.Frame.Account)
	default:
		verdict = r.Proposed
	}
	row := app.RowOf(r, now)
	if verdict == signal.Acknowledge && r.Encrypted && row.Clear == nil {
		verdict, why = signal.CannotProcess, words.Later(prove.NotKept, r.Frame.Account)
	}
	row.Answered, row.Why = verdict == signal.Acknowledge, cmp.Or(why.String(), finding(r, nil))
	row, err := a.inbox.Put(ctx, row)
	if err != nil {
		if ctx.Err() == nil && !a.failing.Swap(true) {
			a.tell(storageLine{Kind: "storage", At: now.UTC(), State: "failing", Say: err.Error()})
		}
		return signal.StaySilent, err
	}
	if a.failing.CompareAndSwap(true, false) {
		a.tell(storageLine{Kind: "storage", At: now.UTC(), State: "works"})
	}
	if known && r.Err == nil {
		a.links.Heard(one.number, now)
	}
	if verdict != signal.StaySilent && !a.window.open(one.number, time.Now()) { // storing took its time
		verdict, why = signal.StaySilent, words.Later(prove.NotOnTest, r.Frame.Account)
		row.Answered, row.Why = false, why.String()
	}
	a.tell(storedLine{r, row, verdict, why})
	return verdict, nil
}

// observe prints what was no sound frame.
func (a *alone) observe(o receiver.Observation) {
	if o.Damaged() {
		a.tell(faultLine{o})
	}
}

// tell prints a line if there is room, and counts it if there is none. It never waits: a reader of the lines that stalls must
// not keep a panel from its answer.
func (a *alone) tell(p printed) {
	if !a.offer(p) {
		a.unsaid.Add(1)
	}
}

func (a *alone) offer(p printed) bool {
	select {
	case a.lines <- p:
		return true
	default:
		return false
	}
}

// watch looks each second what time has brought, until the end: the end of the window, a link that lapsed or is heard again.
func (a *alone) watch(shut <-chan struct{}) (first error) {
	second := time.NewTicker(time.Second)
	defer second.Stop()
	lapsed, over := map[string]bool{}, false
	for {
		select {
		case now := <-second.C:
			just, err := a.window.look(now.Round(0), now)
			first = cmp.Or(first, err)
			if over = over || just; over && a.offer(windowLine{Kind: "window", At: now.UTC(), State: "lapsed"}) {
				over = false
			}
			for _, l := range a.links.Look(now) {
				if l.Lapsed != lapsed[l.Account] && a.offer(lineOf(l, now)) {
					lapsed[l.Account] = l.Lapsed
				}
			}
		case <-shut:
			return first
		}
	}
}

// printAll prints lines until the end, and how many found no room.
func (a *alone) printAll(p printer, listening printed, ended <-chan struct{}) error {
	second := time.NewTicker(time.Second)
	defer second.Stop()
	first := p.print(listening)
	for {
		select {
		case line := <-a.lines:
			first = cmp.Or(first, p.print(line))
		case <-second.C:
			first = cmp.Or(first, a.printUnsaid(p))
		case <-ended: // nobody adds any more
			for len(a.lines) > 0 {
				first = cmp.Or(first, p.print(<-a.lines))
			}
			if first = cmp.Or(first, a.printUnsaid(p)); first != nil {
				return fmt.Errorf("printing what was received: %w", first)
			}
			return nil
		}
	}
}

func (a *alone) printUnsaid(p printer) error {
	if n := a.unsaid.Swap(0); n > 0 {
		return p.print(unprintedLine{Kind: "unprinted", Lines: n})
	}
	return nil
}
