package cli

import (
	"bufio"
	"bytes"
	"context"
	"crypto/rand"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"proofbell/demo"
	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/panelsim"
	"proofbell/internal/prove"
	"proofbell/panel"
	"proofbell/signal"
	"proofbell/site"
)

// process is a running proofbell.
type process struct {
	t     *testing.T
	cmd   *exec.Cmd
	in    io.WriteCloser
	lines chan string
	errs  bytes.Buffer
	said  []string
	ended chan struct{}
}

const patience = 30 * time.Second

func run(t *testing.T, args ...string) *process {
	t.Helper()
	p := &process{t: t, cmd: exec.Command("proofbell", args...), lines: make(chan string, 10_000), ended: make(chan struct{})}
	p.cmd.Stderr = &p.errs
	var err error
	if p.in, err = p.cmd.StdinPipe(); err != nil {
		t.Fatal(err)
	}
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() {
		defer close(p.lines)
		scan := bufio.NewScanner(out)
		scan.Buffer(nil, 1<<20)
		for scan.Scan() {
			p.lines <- scan.Text()
		}
	}()
	t.Cleanup(func() { p.end(syscall.SIGKILL) })
	return p
}

// end sends a signal and waits; it returns the exit code.
func (p *process) end(s os.Signal) int {
	select {
	case <-p.ended:
		return p.cmd.ProcessState.ExitCode()
	default:
	}
	_ = p.cmd.Process.Signal(s) // it may have ended by itself
	for range p.lines {
	}
	_ = p.cmd.Wait()
	close(p.ended)
	return p.cmd.ProcessState.ExitCode()
}

func (p *process) say(line string) {
	p.t.Helper()
	if _, err := io.WriteString(p.in, line+"\n"); err != nil {
		p.t.Fatal(err)
	}
}

// wait reads lines until one matches and returns what the pattern's parentheses hold.
func (p *process) wait(pattern string) []string {
	p.t.Helper()
	re := regexp.MustCompile(pattern)
	late := time.After(patience)
	for {
		select {
		case line, ok := <-p.lines:
			if !ok {
				p.t.Fatalf("it ended before %q\n%s\n%s", pattern, strings.Join(p.said, "\n"), p.errs.String())
			}
			p.said = append(p.said, line)
			if m := re.FindStringSubmatch(line); m != nil {
				return m
			}
		case <-late:
			p.end(syscall.SIGQUIT) // it says where it stands
			p.t.Fatalf("no %q\n%s\n%s", pattern, strings.Join(p.said, "\n"), p.errs.String())
		}
	}
}

// served is a running server with its addresses.
type served struct {
	*process
	base, signals string
}

func runServer(t *testing.T, dir string, more ...string) *served {
	t.Helper()
	p := run(t, append([]string{"serve", "--listen", "127.0.0.1:0", "--signals", "127.0.0.1:0", "--data", dir}, more...)...)
	s := &served{process: p, base: p.wait(`^Proofbell +(http://\S+)`)[1]}
	s.signals = p.wait(`^Signals +(\S+)`)[1]
	p.wait(`^Data `)
	return s
}

func (s *served) call(method, path string, body []byte, into any) {
	s.t.Helper()
	req, err := http.NewRequestWithContext(s.t.Context(), method, s.base+path, bytes.NewReader(body))
	if err != nil {
		s.t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/yaml")
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		s.t.Fatal(err)
	}
	defer resp.Body.Close()
	raw, err := io.ReadAll(resp.Body)
	if err == nil && resp.StatusCode/100 != 2 {
		err = fmt.Errorf("%s %s: %d %s", method, path, resp.StatusCode, raw)
	}
	if err == nil && into != nil {
		err = json.Unmarshal(raw, into)
	}
	if err != nil {
		s.t.Fatal(err)
	}
}

// act adds an entry as a browser does and returns its id.
func (s *served) act(job evidence.JobID, kind evidence.Kind, body, private any) evidence.EntryID {
	s.t.Helper()
	var at struct {
		Key string
		Seq int64
	}
	s.call("GET", "/api/jobs/"+string(job), nil, &at)
	id, err := evidence.NewEntryID(time.Now(), rand.Reader)
	if err != nil {
		s.t.Fatal(err)
	}
	c, err := evidence.NewContent(job, id, time.Now(), "okoro-lind", kind, at.Seq, body)
	if err == nil && private != nil {
		secret, err2 := base64.RawURLEncoding.DecodeString(at.Key)
		key, err3 := evidence.JobKeyFrom(secret)
		if err = errors.Join(err2, err3); err == nil {
			c, err = evidence.SealPrivate(key, rand.Reader, c, private)
		}
	}
	if err != nil {
		s.t.Fatal(err)
	}
	raw, err := json.Marshal(map[string]any{"contents": []any{c}})
	if err != nil {
		s.t.Fatal(err)
	}
	var got struct{ Results []app.Result }
	s.call("POST", "/api/jobs/"+string(job)+"/entries", raw, &got)
	if got.Results[0].Problem != nil {
		s.t.Fatal(got.Results[0].Problem)
	}
	return id
}

// open opens the mill as a job, with a run, on test for an hour.
func (s *served) open() (job evidence.JobID, run evidence.EntryID) {
	s.t.Helper()
	var opened struct{ Job evidence.JobID }
	s.call("POST", "/api/jobs", demo.Corrected, &opened)
	job = opened.Job
	run = s.act(job, evidence.KindRun, prove.RunBody{Act: prove.RunOpened, Account: "4816"}, nil)
	families := []string{"fire", "trouble"}
	for _, e := range []prove.WindowEvent{{Act: prove.ActCall, Account: "4816", Families: families}, {Act: prove.ActAccountRead, Account: "4816", Address: true}} {
		s.act(job, evidence.KindOnTest, prove.OnTestBody{WindowEvent: e}, nil)
	}
	s.act(job, evidence.KindOnTest, prove.OnTestBody{WindowEvent: prove.WindowEvent{Act: prove.ActOpen, Families: families, Until: time.Now().Add(time.Hour)}}, prove.Private{Operator: "Ferrant"})
	return job, run
}

// close takes the account off test and closes the run, which waits until all signals are in the book.
func (s *served) close(job evidence.JobID, run evidence.EntryID) []evidence.Entry {
	s.t.Helper()
	s.act(job, evidence.KindOnTest, prove.OnTestBody{WindowEvent: prove.WindowEvent{Act: prove.ActReadBack}}, nil)
	s.act(job, evidence.KindOnTest, prove.OnTestBody{WindowEvent: prove.WindowEvent{Act: prove.ActOff, Nothing: true}}, nil)
	s.act(job, evidence.KindRun, prove.RunBody{Act: prove.RunClosed, Run: prove.RunID(run), Reason: "done"}, nil)
	var all []evidence.Entry
	for {
		var page struct{ Entries []evidence.Entry }
		s.call("GET", fmt.Sprintf("/api/jobs/%s/entries?after=%d", job, len(all)), nil, &page)
		if len(page.Entries) == 0 {
			return all
		}
		all = append(all, page.Entries...)
	}
}

// sender sends numbered alarms over one connection after the other, and notes those that were acknowledged.
func sender(ctx context.Context, addr string, line int, acked func(raw []byte)) {
	var conn net.Conn
	for n := 1; ctx.Err() == nil; n++ {
		payload, err := signal.NewContactID("4816", signal.New, "110", line, n%999)
		if err != nil {
			panic(err)
		}
		raw, err := signal.Frame{ID: signal.IDContactID, Sequence: n%9999 + 1, Prefix: fmt.Sprintf("L%d", line), Account: "4816", Data: payload.String()}.Encode()
		if err != nil {
			panic(err)
		}
		if conn == nil {
			if conn, err = net.Dial("tcp", addr); err != nil {
				return // the server is dead
			}
		}
		_ = conn.SetDeadline(time.Now().Add(5 * time.Second))
		_, err = conn.Write(raw)
		var reply string
		if err == nil {
			reply, err = bufio.NewReader(conn).ReadString('\r')
		}
		if err != nil {
			_ = conn.Close()
			return
		}
		if strings.Contains(reply, `"ACK"`) {
			acked(raw)
		}
	}
	if conn != nil {
		_ = conn.Close()
	}
}

// kill -9 in mid-run: every acknowledged signal is in the inbox and in the book, once, and the run goes on.
func TestKilledInMidRun(t *testing.T) {
	dir := t.TempDir()
	s := runServer(t, dir)
	job, opened := s.open()
	var mu sync.Mutex
	acked := map[string]bool{}
	for round := range 3 {
		ctx, stop := context.WithCancel(t.Context())
		enough := make(chan struct{})
		before, target := len(acked), len(acked)+150
		var senders sync.WaitGroup
		for line := range 6 {
			senders.Go(func() {
				sender(ctx, s.signals, round*10+line+1, func(raw []byte) {
					mu.Lock()
					defer mu.Unlock()
					if acked[hex.EncodeToString(raw)] = true; len(acked) == target {
						close(enough)
					}
				})
			})
		}
		select {
		case <-enough:
		case <-time.After(patience):
			t.Fatalf("round %d: only %d of %d were answered", round, len(acked)-before, target)
		}
		s.end(syscall.SIGKILL) // while they send
		stop()
		senders.Wait()
		s = runServer(t, dir)
	}
	rows := map[string]int{}
	for after := int64(0); ; {
		var page struct {
			Rows []app.Arrival
			Row  int64
		}
		s.call("GET", fmt.Sprintf("/api/inbox?after=%d", after), nil, &page)
		if len(page.Rows) == 0 {
			break
		}
		for _, r := range page.Rows {
			rows[r.Raw]++
		}
		after = page.Row
	}
	entries := s.close(job, opened)
	booked := map[string]int{}
	for _, e := range entries {
		if e.Kind == evidence.KindSignal {
			var b prove.SignalBody
			if err := json.Unmarshal(e.Body, &b); err != nil {
				t.Fatal(err)
			}
			booked[b.Raw]++
		}
	}
	for raw := range acked {
		if rows[raw] != 1 || booked[raw] != 1 {
			t.Errorf("an acknowledged signal is %d times in the inbox and %d times in the book", rows[raw], booked[raw])
		}
	}
	t.Logf("%d acknowledged, %d stored, %d in the book", len(acked), len(rows), len(booked))
	if code := s.end(os.Interrupt); code != Good {
		t.Errorf("after an interrupt: exit %d\n%s", code, s.errs.String())
	}
}

// A second server on the same folder is told who holds it; the first goes on.
func TestASecondProcessOnTheFolder(t *testing.T) {
	dir := t.TempDir()
	s := runServer(t, dir)
	for _, args := range [][]string{
		{"serve", "--listen", "127.0.0.1:0", "--signals", "127.0.0.1:0", "--data", dir},
		{"receive", "--signals", "127.0.0.1:0", "--data", dir, "--accounts", accountsFile(t, `accounts: {"4816": {}}`)},
		{"import", "--data", dir, mill(t)},
	} {
		out, err := exec.Command("proofbell", args...).CombinedOutput()
		var exit *exec.ExitError
		if !errors.As(err, &exit) || exit.ExitCode() != Unusable || !strings.Contains(string(out), "in use by another process") || !strings.Contains(string(out), "--data") {
			t.Errorf("%s: %v %s", args[0], err, out)
		}
	}
	s.call("GET", "/api/hello", nil, nil)
}

func mill(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "mill.yaml")
	if err := os.WriteFile(path, demo.Corrected, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// The worked frames of the signalling reference, sent as raw bytes by another process, are taken like a panel's own.
func TestRawFramesFromAnotherProcess(t *testing.T) {
	s := runServer(t, t.TempDir())
	send := func(frame, account string) string {
		out, _ := exec.Command("proofbell", "signal", "send", s.signals, "--timeout", "500ms", "--frame", strings.ReplaceAll(frame, "1234", account)).Output()
		return strings.TrimSpace(string(out))
	}
	const w1 = `FD670026"SIA-DCS"0001L0#1234[#1234|Nri1/FA005]`
	var opened struct{ Job evidence.JobID }
	s.call("POST", "/api/jobs", bytes.Replace(demo.Corrected, []byte("4816"), []byte("1234"), 1), &opened)
	job := opened.Job
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, "GET", s.base+"/api/jobs/"+string(job)+"/events?after=1", nil)
	if err != nil {
		t.Fatal(err)
	}
	screen, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer screen.Body.Close()
	if got := send(w1, "1234"); !strings.Contains(got, "no reply") {
		t.Errorf("no window is open, and it was answered %q", got)
	}
	events := bufio.NewScanner(screen.Body)
	for events.Scan() && events.Text() != "event: alarm" {
	}
	if events.Scan(); !strings.Contains(events.Text(), `"account":"1234"`) || !strings.Contains(events.Text(), `"answered":false`) {
		t.Errorf("on the open screen: %q %v", events.Text(), events.Err())
	}
	s.act(job, evidence.KindRun, prove.RunBody{Act: prove.RunOpened, Account: "1234", Practice: true}, nil)
	for frame, reply := range map[string]string{
		w1: `1BC10012"ACK"0001L0#1234[]`,
		`27D0003B"ADM-CID"0003L0#1234[#1234|1110 01 005]_14:05:09,01-15-2026`: `"ACK"0003L0#1234[]`,
		`1EF20013"NULL"0000L0#1234[]`:                                         `DE900012"ACK"0000L0#1234[]`,
	} {
		if got := send(frame, "1234"); !strings.Contains(got, reply) {
			t.Errorf("%s is answered %q, want %q", frame, got, reply)
		}
	}
	if got := send(strings.Replace(w1, "FD67", "FD68", 1), "1234"); strings.Contains(got, "ACK") {
		t.Errorf("a wrong checksum is answered %q", got)
	}
	var rows struct{ Rows []app.Arrival }
	s.call("GET", "/api/inbox", nil, &rows)
	if len(rows.Rows) != 4 || rows.Rows[0].Answered || !rows.Rows[1].Answered || len(rows.Rows[1].Events) == 0 && len(rows.Rows[2].Events) == 0 {
		t.Errorf("inbox %+v", rows.Rows)
	}
}

// A run at the terminal, against a simulated panel over real TCP, broken off by kill -9 and carried on.
func TestProveAtTheTerminal(t *testing.T) {
	dir, path := t.TempDir(), mill(t)
	p := run(t, "prove", path, "--signals", "127.0.0.1:0", "--data", dir)
	addr := p.wait(`Signals at (\S+)\. .*nobody is coming`)[1]
	simulated := startPanel(t, addr)
	trip := func(panel *panelsim.Panel, do, zone string) {
		t.Helper()
		z := simulated.site.Zones[site.ZoneID(zone)]
		if err := panel.Do(panelsim.Command{Do: do, Device: z.Device, Terminal: z.Terminal}); err != nil {
			t.Fatal(err)
		}
	}
	p.say("trip 11.alarm")
	p.wait(`^\[~~~\.\]  Landing smoke`)
	trip(simulated.Panel, "trip", "11")
	p.wait(`^\[\+\+\+~\]  Landing smoke`)
	trip(simulated.Panel, "restore", "11")
	p.say("restored 11.alarm")
	p.say("seen 11 111")
	p.say("seen 11 111 restore")
	p.wait(`^\[\+\+\+\+\]  Landing smoke`)
	p.say("dance")
	p.say("trip nowhere")
	p.say("close")
	p.say("next")
	p.wait(`^Next: `)
	p.end(syscall.SIGKILL)
	for _, want := range []string{`"dance" is not a command`, `no step "nowhere"`, "open still:"} {
		if !strings.Contains(p.errs.String(), want) {
			t.Errorf("stderr holds no %q: %s", want, p.errs.String())
		}
	}

	p = run(t, "prove", path, "--signals", "127.0.0.1:0", "--data", dir)
	p.wait(`^The open run goes on\.`)
	p.say("list")
	p.wait(`^\[\+\+\+\+\]  11.alarm `)
	p.say("close enough for today")
	p.say("log")
	p.wait(`Closed the run`)
	if err := p.in.Close(); err != nil {
		t.Fatal(err)
	}
	p.wait(`^1 of \d+ proved`)
	if code := p.end(syscall.Signal(0)); code != Good {
		t.Errorf("at the end of its input: exit %d\n%s", code, p.errs.String())
	}
}

// A station's history is laid over a run that was broken off: a clock that is an hour off has to be confirmed, then each line
// fills the station of its own step and no other.
func TestHistoryAtTheTerminal(t *testing.T) {
	dir, path := t.TempDir(), mill(t)
	p := run(t, "prove", path, "--signals", "127.0.0.1:0", "--data", dir)
	simulated := startPanel(t, p.wait(`Signals at (\S+)\. .*nobody is coming`)[1])
	csv := "time;account;code;zone\n"
	for zone, title := range map[string]string{"11": "Landing smoke", "12": "Hall smoke"} {
		p.say("trip " + zone + ".alarm")
		z := simulated.site.Zones[site.ZoneID(zone)]
		for _, do := range []string{"trip", "restore"} {
			if err := simulated.Do(panelsim.Command{Do: do, Device: z.Device, Terminal: z.Terminal}); err != nil {
				t.Fatal(err)
			}
			p.wait(`^\[\+\+\+~\]  ` + title)
		}
		there := time.Now().Add(-time.Hour).UTC().Format("2006-01-02 15:04:05Z")
		csv += fmt.Sprintf("%s;4816;E111;0%s\n%s;4816;R111;0%s\n", there, zone, there, zone)
		p.say("restored " + zone + ".alarm")
	}
	p.say("quit")
	p.wait(`^Next: `)
	p.end(syscall.Signal(0))
	file := filepath.Join(t.TempDir(), "station.csv")
	if err := os.WriteFile(file, []byte(csv+time.Now().Add(-time.Hour).UTC().Format("2006-01-02 15:04:05Z")+";4816;E130;044\n"), 0o600); err != nil {
		t.Fatal(err)
	}

	p = run(t, "prove", path, "--data", dir, "--history", file)
	p.wait(`clock is (59|60) min \d\d s behind ours`)
	p.wait(`^none .* zone 044`)
	p.wait(`^Nothing was written: confirm`)
	if code := p.end(syscall.Signal(0)); code != NotGood {
		t.Errorf("a clock that nobody confirmed: exit %d", code)
	}
	p = run(t, "prove", path, "--data", dir, "--history", file, "--offset=-3600")
	p.wait(`^4 lines written`)
	p.end(syscall.Signal(0))
	p = run(t, "prove", path, "--data", dir, "--signals", "127.0.0.1:0")
	p.say("list")
	p.wait(`^\[\+\+\+\+\]  11.alarm`)
	p.wait(`^2 of \d+ proved`)
	p.say("quit")
	p.end(syscall.Signal(0))
}

// sim is a simulated panel of the corrected mill.
type sim struct {
	*panelsim.Panel
	site *site.Site
}

func startPanel(t *testing.T, signals string) sim {
	t.Helper()
	s, err := site.DecodeYAML("demo", demo.Corrected)
	if err != nil {
		t.Fatal(err)
	}
	profile, err := panel.Builtin(s.Panel.Profile)
	if err != nil {
		t.Fatal(err)
	}
	p, err := panelsim.Start(t.Context(), panelsim.Config{Site: s, Profile: profile, Signals: signals, Speed: 1000, Now: time.Now, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := p.Close(); err != nil {
			t.Error(err)
		}
	})
	return sim{p, s}
}

// The demo: two practice jobs, and a simulated panel whose frames reach the receiver.
func TestServeDemo(t *testing.T) {
	s := runServer(t, t.TempDir(), "--demo", "--speed", "1000")
	var jobs struct{ Jobs []app.Summary }
	s.call("GET", "/api/jobs", nil, &jobs)
	if len(jobs.Jobs) != 2 || !jobs.Jobs[0].Practice || !jobs.Jobs[1].Practice {
		t.Fatalf("jobs %+v", jobs)
	}
	s.call("POST", "/api/demo/panel", []byte(`{"do":"manual-test"}`), nil)
	for end := time.Now().Add(patience); ; {
		var state panelsim.State
		s.call("GET", "/api/demo/panel", nil, &state)
		if len(state.Sent) == 1 {
			if state.Sent[0].Station != "acknowledged" || state.Sent[0].Receiver != "not answered" {
				t.Errorf("sent %+v, though no window is open here", state.Sent[0])
			}
			break
		}
		if time.Now().After(end) {
			t.Fatal("the simulated panel sent nothing")
		}
	}
	var hello struct{ Receiver struct{ Stored int } }
	s.call("GET", "/api/hello", nil, &hello)
	if hello.Receiver.Stored != 1 {
		t.Errorf("%d stored", hello.Receiver.Stored)
	}
	if code := s.end(syscall.SIGTERM); code != Good {
		t.Errorf("exit %d\n%s", code, s.errs.String())
	}
}
