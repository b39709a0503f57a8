package cli

import (
	"bufio"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/engine"
	"proofbell/internal/prove"
	"proofbell/internal/receiver"
	"proofbell/internal/words"
	"proofbell/signal"
	"proofbell/site"
)

type proveCmd struct {
	Site     string `arg:"" name:"SITE.yaml" help:"Site file."`
	Signals  string `default:"127.0.0.1:5090" help:"Address that the panel reports to, TCP and UDP." placeholder:"HOST:PORT"`
	By       string `help:"Who is at work, by the id in people." placeholder:"PERSON"`
	Practice bool   `help:"A practice run, of a practice site: answered without a test window, never a certificate."`

	Lang string `default:"en" enum:"en,de" help:"Language: ${enum}. The commands stay as help lists them."`

	History string            `help:"Lay the station's history (CSV or text, - for standard input) over the run of --data, write what it proves, and end." placeholder:"FILE"`
	Offset  *int              `help:"With --history: the station's clock is so many seconds ahead of ours, as confirmed." placeholder:"SECONDS"`
	Line    map[string]string `help:"With --history: what an open line is." placeholder:"ROW=SIGNAL"`

	dataFlags
}

var proveHelp = words.Mark(`call FAMILY...          begin the call: fire co gas burglary panic medical building trouble
account NUMBER          the operator read back this account, and the address
open TIME OPERATOR      on test for TIME from now (90m, 2h), as OPERATOR confirmed
first                   the station saw the harmless first signal, on test
trip [STEP [METHOD]]    tripped now; without a step, the next one
sounded, showed, restored, reset [STEP]
cannot STEP REASON      not testable
seen ZONE CODE [restore]  the station read this line back
extend TIME             as the operator confirmed
history                 the station's history was read back
off                     live again, nothing on test or left out, as the operator confirmed
put WHAT / back N       temporary change made / undone
list, next, log, close [REASON], quit
`)

// Run is a proving run at the terminal: what is typed becomes entries, what the panel sends fills the strips.
func (c *proveCmd) Run(ctx context.Context, io *streams) (err error) {
	s, _, err := readSite(c.Site, io.in)
	if err != nil {
		return err
	}
	if c.Practice && !s.Practice {
		return fmt.Errorf("%s: --practice is for a site that says practice: true; on a real account an alarm may be real", c.Site)
	}
	h, err := openHouse(ctx, c.dataFlags, logger(io.err))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, h.close()) }()
	by := evidence.PersonID(c.By)
	if c.By == "" {
		by = commandLine
	}
	job, err := jobOf(ctx, h.app, s, by)
	if err != nil {
		return err
	}
	t := &terminal{lang: words.In(c.Lang), app: h.app, job: job, by: by, out: io.out, err: io.err}
	if c.History != "" {
		return c.layHistory(ctx, t, io.in)
	}
	addr, err := h.receive(ctx, c.Signals, receiver.Limits{}, signal.Policy{})
	if err != nil {
		return err
	}
	fmt.Fprintln(io.out, t.lang.Say("%s, account %s. Signals at %s. While the account is on test nobody is coming: real smoke means out, and call %s.",
		s.Name, s.Account.Number, addr, s.Premises.EmergencyNumber))
	if err := t.openRun(ctx, s.Practice); err != nil {
		return err
	}
	return t.loop(ctx, io.in)
}

// jobOf finds the job of a site that was opened before, by its account and name, or opens one.
func jobOf(ctx context.Context, a *app.App, s *site.Site, by evidence.PersonID) (evidence.JobID, error) {
	for _, j := range a.Jobs() {
		state, err := a.State(j.Job)
		if err != nil {
			return "", err
		}
		if state.Site.Name == s.Name && state.Site.Account.Number == s.Account.Number && !j.Erased {
			return j.Job, nil
		}
	}
	return a.Open(ctx, s, by)
}

// terminal is a run seen from the command line.
type terminal struct {
	lang *words.Language
	app  *app.App
	job  evidence.JobID
	by   evidence.PersonID
	out  io.Writer
	err  io.Writer
	said map[prove.StepID]string // last sentence printed of each step
}

func (t *terminal) desk() (*engine.Desk, error) {
	state, err := t.app.State(t.job)
	if err != nil {
		return nil, err
	}
	return engine.NewDesk(state, 0).In(t.lang), nil
}

// act writes one entry, after asking whether the job takes it as it stands.
func (t *terminal) act(ctx context.Context, kind evidence.Kind, body, private any) error {
	d, err := t.desk()
	if err != nil {
		return err
	}
	key, seq, err := t.app.Key(t.job)
	if err != nil {
		return err
	}
	now := time.Now()
	id, err := evidence.NewEntryID(now, rand.Reader)
	if err != nil {
		return err
	}
	c, err := evidence.NewContent(t.job, id, now, t.by, kind, seq, body)
	if err == nil && private != nil {
		c, err = evidence.SealPrivate(key, rand.Reader, c, private)
	}
	if err != nil {
		return err
	}
	if err := d.Refuses(c, key); err != nil {
		return err
	}
	results, err := t.app.Append(ctx, t.job, []evidence.Content{c})
	if err != nil {
		return err
	}
	if p := results[0].Problem; p != nil {
		return p
	}
	return nil
}

func (t *terminal) openRun(ctx context.Context, practice bool) error {
	d, err := t.desk()
	if err != nil {
		return err
	}
	t.said = map[prove.StepID]string{}
	if d.State.OpenRun() != nil {
		fmt.Fprintln(t.out, t.lang.Say("The open run goes on."))
		return nil
	}
	fingerprint, err := prove.Fingerprint(d.In(nil).Plan(prove.Options{}))
	if err != nil {
		return err
	}
	return t.act(ctx, evidence.KindRun, prove.RunBody{Act: prove.RunOpened, Practice: practice, Account: d.State.Site.Account.Number, Fingerprint: fingerprint}, nil)
}

// loop reads commands and tells what arrives, until the input ends.
func (t *terminal) loop(ctx context.Context, in io.Reader) error {
	watcher, stop := t.app.Watch(t.job)
	defer stop()
	lines := make(chan string)
	go func() { // ends with the input
		defer close(lines)
		scanner := bufio.NewScanner(in)
		for scanner.Scan() {
			select {
			case lines <- scanner.Text():
			case <-ctx.Done():
				return
			}
		}
	}()
	fmt.Fprint(t.out, t.lang.Word(proveHelp))
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-watcher.Grown:
			t.tell()
		case a := <-watcher.Alarms:
			fmt.Fprintln(t.out, t.lang.Say("! Stored and NOT answered: account %s, %s (%s). Nobody was told by this program.", a.Account, t.sayEvents(a.Events), prove.In(t.lang).SayWhy(a.Why)))
		case f := <-watcher.Faults:
			if f.Fault != nil { // a stranger's is shown as an alarm
				fmt.Fprintln(t.out, t.lang.Say("! A frame from %s could not be read: %s", f.Remote, f.Fault.Say))
			}
		case line, ok := <-lines:
			typed := strings.Fields(line)
			if !ok || len(typed) > 0 && typed[0] == "quit" {
				t.list(true)
				return nil
			}
			if len(typed) == 0 {
				continue
			}
			if err := t.command(ctx, typed[0], typed[1:]); err != nil {
				say(t.err, err)
			}
		}
	}
}

func (t *terminal) sayEvents(events []signal.Event) string {
	var out []string
	for _, e := range events {
		out = append(out, fmt.Sprintf("%s %s, %s %d", t.lang.Word(e.Words), t.lang.Word(prove.SayQualifier(e.Qualifier)), t.lang.Word(string(e.NumberIs)), e.Number))
	}
	return strings.Join(out, "; ")
}

func (t *terminal) command(ctx context.Context, word string, args []string) error {
	d, err := t.desk()
	if err != nil {
		return err
	}
	now := time.Now()
	v := d.Prove(now, "")
	rest := strings.Join(args, " ")
	arg := func(i int) string {
		if i < len(args) {
			return args[i]
		}
		return ""
	}
	ontest := func(e prove.WindowEvent, p prove.Private) error {
		body := prove.OnTestBody{WindowEvent: e}
		if p == (prove.Private{}) {
			return t.act(ctx, evidence.KindOnTest, body, nil)
		}
		return t.act(ctx, evidence.KindOnTest, body, p)
	}
	until := func() (time.Time, error) {
		span, err := time.ParseDuration(arg(0))
		if err != nil {
			return now, fmt.Errorf("%q is not a time from now: write 90m or 2h", arg(0))
		}
		return now.Add(span), nil
	}
	switch word {
	case "help":
		_, err = fmt.Fprint(t.out, t.lang.Word(proveHelp))
	case "call":
		for _, line := range prove.In(t.lang).CallScript(d.State.Site, v.Window, args, now, nil) {
			fmt.Fprintf(t.out, "  %-4s %s\n", line.Kind, line.Say)
		}
		err = ontest(prove.WindowEvent{Act: prove.ActCall, Account: d.State.Site.Account.Number, Families: args}, prove.Private{})
	case "account":
		err = ontest(prove.WindowEvent{Act: prove.ActAccountRead, Account: arg(0), Address: true}, prove.Private{})
	case "open":
		var end time.Time
		if end, err = until(); err == nil {
			err = ontest(prove.WindowEvent{Act: prove.ActOpen, Families: v.Window.Families, Until: end}, prove.Private{Operator: strings.Join(args[1:], " ")})
		}
	case "first":
		err = ontest(prove.WindowEvent{Act: prove.ActFirstSignal}, prove.Private{})
	case "extend":
		var end time.Time
		if end, err = until(); err == nil {
			err = ontest(prove.WindowEvent{Act: prove.ActExtend, Until: end}, prove.Private{})
		}
	case "history":
		err = ontest(prove.WindowEvent{Act: prove.ActReadBack}, prove.Private{})
	case "off":
		err = ontest(prove.WindowEvent{Act: prove.ActOff, Nothing: true}, prove.Private{})
	case "trip", "sounded", "showed", "restored", "reset":
		err = t.tick(ctx, v, word, arg(0), arg(1))
	case "cannot":
		err = t.act(ctx, evidence.KindTick, prove.TickBody{Step: prove.StepID(arg(0)), What: prove.CannotTest, Reason: strings.Join(args[min(1, len(args)):], " ")}, nil)
	case "seen":
		q := signal.New
		if arg(2) == "restore" {
			q = signal.Restore
		}
		err = t.act(ctx, evidence.KindReadback, prove.ReadBackBody{
			Source: prove.FromPhone, Account: d.State.Site.Account.Number,
			Lines: []prove.ReadBackLine{{Zone: site.ZoneID(arg(0)), Code: arg(1), Qualifier: q}},
		}, nil)
	case "put":
		err = t.act(ctx, evidence.KindPutback, prove.PutBackBody{Act: prove.PutBackMade, What: rest}, nil)
	case "back":
		var n int
		if _, scan := fmt.Sscan(arg(0), &n); scan != nil || v.Run == nil || n < 1 || n > len(v.Run.PutBacks) {
			return fmt.Errorf("back %q: give the number of an item on the list", arg(0))
		}
		err = t.act(ctx, evidence.KindPutback, prove.PutBackBody{Act: prove.PutBackUndone, Item: v.Run.PutBacks[n-1].ID}, nil)
	case "list":
		t.list(true)
	case "next":
		t.next(v)
	case "log":
		for _, line := range d.Log(20) {
			fmt.Fprintf(t.out, "%4d %s %s\n", line.Seq, line.At, line.Say)
		}
	case "close":
		var open []string // in the language of the reader; the book keeps v.Standing
		for _, b := range v.Outcome.Blockers {
			open = append(open, b.Say)
		}
		if len(open) > 0 && rest == "" {
			return errors.New(t.lang.Say("open still:\n  %s\nclose REASON closes all the same, with these on record", strings.Join(open, "\n  ")))
		}
		err = t.act(ctx, evidence.KindRun, prove.RunBody{Act: prove.RunClosed, Open: v.Standing, Reason: rest}, nil)
	default:
		err = fmt.Errorf("%q is not a command; help lists them", word)
	}
	return err
}

// tick says what was done, of a step or of the next one.
func (t *terminal) tick(ctx context.Context, v engine.Prove, word, id, method string) error {
	step := v.Outcome.Next
	if id != "" {
		step = prove.StepID(id)
	}
	did := map[string]prove.Did{"trip": prove.Tripped, "sounded": prove.Sounded, "showed": prove.PanelShowed, "restored": prove.Restored, "reset": prove.PanelReset}[word]
	for _, s := range v.Steps {
		if s.ID != step {
			continue
		}
		if ok, why := v.Window.MayTrip(s, time.Now()); did == prove.Tripped && !ok && !(v.Run != nil && v.Run.Practice) {
			return errors.New(t.lang.Say("do not trip %s: %s", step, why.In(t.lang)))
		}
		if did == prove.Tripped && method == "" && len(s.Methods) > 0 {
			method = s.Methods[0].ID
		}
		return t.act(ctx, evidence.KindTick, prove.TickBody{Step: step, What: did, Method: method}, nil)
	}
	return fmt.Errorf("there is no step %q; list shows them", step)
}

// tell prints what changed.
func (t *terminal) tell() {
	d, err := t.desk()
	if err != nil {
		say(t.err, err)
		return
	}
	v := d.Prove(time.Now(), "")
	for i, r := range v.Outcome.Steps {
		if sentence := string(r.Verdict) + r.Say; t.said[r.Step] != sentence && r.Verdict != prove.Unproved {
			t.said[r.Step] = sentence
			fmt.Fprintf(t.out, "%s  %-24s %s\n", stripText(r.Strip), v.Steps[i].Title, r.Say)
		}
	}
}

// stripText draws a path strip: detector, panel, line, station.
func stripText(p prove.PathStrip) string {
	mark := map[prove.StopState]string{prove.StopUnproved: ".", prove.StopWaiting: "~", prove.StopHalf: "-", prove.StopProved: "+", prove.StopFailed: "x"}
	return "[" + mark[p.Detector.State] + mark[p.Panel.State] + mark[p.Line.State] + mark[p.Station.State] + "]"
}

func (t *terminal) list(all bool) {
	d, err := t.desk()
	if err != nil {
		say(t.err, err)
		return
	}
	v := d.Prove(time.Now(), "")
	for i, r := range v.Outcome.Steps {
		if all || !r.Verdict.Good() {
			fmt.Fprintf(t.out, "%s  %-16s %-24s %s\n", stripText(r.Strip), r.Step, v.Steps[i].Title, r.Say)
		}
	}
	c := v.Outcome.Counters
	fmt.Fprintln(t.out, t.lang.Say("%d of %d proved, %d of them by button only, %d failed, %d waiting, %d not testable. + proved, - sounder and link only, ~ waiting, x failed, . unproved: detector, panel, line, station.", c.Proved, c.Total, c.Half, c.Failed, c.Waiting, c.NotTestable))
	for _, u := range v.Outcome.Unexpected {
		fmt.Fprintf(t.out, "! %s %s\n", u.Say, u.Try)
	}
	t.next(v)
}

func (t *terminal) next(v engine.Prove) {
	for _, s := range v.Steps {
		if s.ID == v.Outcome.Next {
			fmt.Fprintf(t.out, "%s\n      %s\n", t.lang.Say("Next: %s  %s (%s; %s)", s.ID, s.Title, s.Where, s.Way.Say), s.Do)
			for _, caution := range s.Cautions {
				fmt.Fprintf(t.out, "    ! %s\n", caution)
			}
		}
	}
}
