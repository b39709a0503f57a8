package cli

import (
	"cmp"
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"strings"
	"time"

	"proofbell/internal/app"
	"proofbell/internal/prove"
	"proofbell/internal/receiver"
	"proofbell/internal/store"
	"proofbell/signal"
)

type receiveCmd struct {
	Signals  string        `default:"127.0.0.1:5090" help:"Address, TCP and UDP." placeholder:"HOST:PORT"`
	Data     string        `required:"" type:"path" help:"Folder of the inbox." placeholder:"DIR"`
	Accounts string        `required:"" help:"File with one account a line: those that may be answered while on test." placeholder:"FILE"`
	OnTest   time.Duration `help:"How long from now these accounts are on test; without it nothing is answered." placeholder:"2h"`
}

// Run receives until it is stopped: stores, prints a JSON line, and answers only while the accounts are on test.
func (c *receiveCmd) Run(ctx context.Context, io *streams) (err error) {
	if err := oneAddress(c.Signals); err != nil {
		return err
	}
	raw, err := readFile(c.Accounts, io.in, 1<<20)
	if err != nil {
		return err
	}
	opened := time.Now()
	windows := map[string]prove.Window{}
	for _, account := range strings.Fields(string(raw)) {
		windows[strings.ToUpper(account)] = prove.Window{Stage: prove.WindowOpen, Account: strings.ToUpper(account), Opened: opened, Until: opened.Add(c.OnTest)}
	}
	inbox, err := store.OpenInbox(ctx, c.Data, store.Options{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, inbox.Close()) }()
	log := logger(io.err)
	lines := make(chan any, 1024)
	deliver := func(ctx context.Context, r signal.Received) (signal.Verdict, error) {
		now := time.Now()
		account := strings.ToUpper(r.Frame.Account)
		w, known := windows[account]
		verdict, why := signal.StaySilent, ""
		switch {
		case !known:
			why = "account not on the list"
		case prove.MayAcknowledge(w, account, false, now):
			verdict = r.Proposed
		default:
			why = "not on test"
		}
		row := app.InboxRow{At: now, Remote: r.Remote, Transport: r.Transport, Account: r.Frame.Account, Answered: verdict == signal.Acknowledge, Why: why, Raw: r.Raw}
		if r.Err == nil {
			row.Repeat = signal.DuplicateKey(r.Frame)
		}
		row, err := inbox.Put(ctx, row)
		if err != nil {
			return signal.StaySilent, err
		}
		line := map[string]any{
			"row": row.Row, "at": now.UTC().Format(time.RFC3339Nano), "remote": r.Remote, "transport": r.Transport, "account": r.Frame.Account,
			"answer": verdict.String(), "why": why, "duplicateOf": row.Duplicate, "events": append([]signal.Event{}, r.Events...), "raw": hex.EncodeToString(r.Raw),
		}
		select {
		case lines <- line:
		case <-ctx.Done(): // stored all the same
		}
		return verdict, nil
	}
	r, err := receiver.New(receiver.Config{ID: inbox.Receiver(), Deliver: deliver, Log: log, Observe: func(o receiver.Observation) {
		if !o.Damaged() {
			return
		}
		select {
		case lines <- map[string]any{"fault": o.Err.Error(), "remote": o.Remote, "raw": hex.EncodeToString(o.Raw)}:
		default: // faults are many when somebody sends rubbish; they are counted all the same
		}
	}})
	if err != nil {
		return err
	}
	addr, err := r.Listen(ctx, c.Signals)
	if err != nil {
		return err
	}
	enc := json.NewEncoder(io.out)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(map[string]any{"listening": addr.String(), "accounts": len(windows), "onTestUntil": opened.Add(c.OnTest).UTC().Format(time.RFC3339)}); err != nil {
		return err
	}
	printed := make(chan error, 1)
	ended := make(chan struct{})
	go func() {
		var first error
		for {
			select {
			case line := <-lines:
				first = cmp.Or(first, enc.Encode(line))
			case <-ended: // nobody adds any more
				for len(lines) > 0 {
					first = cmp.Or(first, enc.Encode(<-lines))
				}
				printed <- first
				return
			}
		}
	}()
	<-ctx.Done()
	grace, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	err = r.Shutdown(grace)
	close(ended)
	return errors.Join(err, <-printed)
}
