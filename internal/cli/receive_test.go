package cli

import (
	"bufio"
	"bytes"
	"context"
	"crypto/rand"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"

	"proofbell/demo"
	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/prove"
	"proofbell/internal/receiver"
	"proofbell/internal/store"
	"proofbell/internal/words"
	"proofbell/signal"
	"proofbell/signal/signaltest"
)

const testKey = "000102030405060708090A0B0C0D0E0F"

func accountsFile(t *testing.T, yaml string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "accounts.yaml")
	if err := os.WriteFile(path, []byte(yaml), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestReadAccounts(t *testing.T) {
	got, err := readAccounts("a.yaml", []byte(`# the mill
accounts:
  4816: {key: `+testKey+`, prefix: L02, encrypted-only: true, supervision: 90s}
  "a0b1": {}
  0012:
  1E5: {key: "sixteen letters!"}
`))
	if err != nil {
		t.Fatal(err)
	}
	mill := got["4816"]
	if len(got) != 4 || mill.prefix != "2" || !mill.secret.EncryptedOnly || mill.secret.Key.IsZero() || mill.supervision != 90*time.Second {
		t.Errorf("%+v", got)
	}
	for _, number := range []string{"A0B1", "0012", "1E5"} {
		if got[number].number != number || got[number].secret.Key.IsZero() != (number != "1E5") {
			t.Errorf("%s: %+v", number, got[number])
		}
	}
}

func TestReadAccountsNamesThePlace(t *testing.T) {
	for yaml, want := range map[string]string{
		"":                         "a.yaml:1:1: it holds no accounts",
		"accounts: {}":             "a.yaml:1:9: it names no account",
		"4816\nA0B1\n":             "a.yaml:1:1: the file: write members with a colon here",
		"accounts: {\"4816\": {":   "a.yaml:1:20: this can not be read as YAML",
		"accounts:\n  48x6: {}":    "a.yaml:2:3: an account has 1 to 16 digits",
		"account:\n  4816: {}":     "a.yaml:1:1: the file has no such member: there are accounts",
		"accounts:\n  4816: A0B1":  "a.yaml:2:9: account 4816: write members with a colon here",
		"accounts:\n  4816: [key]": "a.yaml:2:9: account 4816: write members with a colon here",
		"accounts:\n  4816:\n    key: 00112233\n":                   "a.yaml:3:10: account 4816, key: reading an encryption key: it has 32, 48 or 64 hex digits",
		"accounts:\n  4816: {key: {a: 1}}":                          "a.yaml:2:15: want one value for key",
		"accounts:\n  4816: {keys: 1}":                              "a.yaml:2:10: account 4816 has no such member: there are key, prefix, encrypted-only, supervision",
		"accounts:\n  4816: {prefix: north}":                        "a.yaml:2:18: account 4816, prefix: a prefix is L and 1 to 6 digits",
		"accounts:\n  4816: {encrypted-only: 1}":                    "a.yaml:2:26: account 4816, encrypted-only: write true or false",
		"accounts:\n  4816: {encrypted-only: true}":                 "a.yaml:2:3: account 4816: encrypted-only needs a key",
		"accounts:\n  4816: {supervision: 90}":                      "a.yaml:2:23: account 4816, supervision: write how often",
		"accounts:\n  \"4816\": {}\n  4816: {}":                     "a.yaml:3:3: this can not be read as YAML",
		"accounts:\n  a0b1: {}\n  A0B1: {}":                         "a.yaml:3:3: account A0B1 stands here a second time",
		"accounts:\n  4816: &x {}\n  4817: *x":                      "a.yaml:2:9: account 4816: write members",
		"accounts:\n  4816: !!map {}":                               "a.yaml:2:9: account 4816: write members",
		strings.Repeat("#", largestAccounts+1):                      "this can not be an accounts file",
		"accounts: " + strings.Repeat("[", 100_000):                 "too many brackets",
		"accounts: {\"4816\": {}}\n---\naccounts: {\"4817\": {}}\n": "it holds no accounts",
	} {
		got, err := readAccounts("a.yaml", []byte(yaml))
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.60q: %v, %v; want %s", yaml, got, err, want)
		}
	}
	_, err := readAccounts("a.yaml", []byte("accounts:\n  4816: {key: "+testKey+"00, encrypted-only: "+testKey+"}\n  4817: {prefix: "+testKey+", supervision: "+testKey+"}"))
	if err == nil || strings.Count(err.Error(), "\n") != 3 || strings.Contains(err.Error(), testKey[:8]) {
		t.Errorf("all at once, and no key among it: %v", err)
	}
}

// Whatever stands in the file, it is read or refused. A property and no fuzz target: this package is too large to be built for one.
func TestReadAccountsOfAnything(t *testing.T) {
	pieces := []string{
		"accounts", ":", " ", "\n", "\n  ", "{", "}", "[", "]", ",", "\"", "'", "&a", "*a", "!!str", "|", ">", "-", "#", "?", "%", "\t", "\x00", "é", "4816", "A0B1",
		"key", testKey, "prefix", "L0", "encrypted-only", "true", "supervision", "90s", "---", "<<", "~",
	}
	rapid.Check(t, func(t *rapid.T) {
		raw := strings.Join(rapid.SliceOfN(rapid.SampledFrom(pieces), 0, 60).Draw(t, "pieces"), "")
		if rapid.Bool().Draw(t, "begun") {
			raw = "accounts:\n  \"4816\": {" + raw
		}
		accounts, err := readAccounts("a.yaml", []byte(raw))
		if err != nil {
			return
		}
		for number, a := range accounts {
			if a.number != number || !hexDigits(number, 16) || a.secret.EncryptedOnly && a.secret.Key.IsZero() {
				t.Errorf("%q: %+v", number, a)
			}
		}
	})
}

// The window ends by whichever clock is first, and a restart neither lengthens nor reopens it.
func TestOnTestWindow(t *testing.T) {
	dir := t.TempDir()
	begin := time.Now()
	open := func(length time.Duration, off bool, now time.Time) *testWindow {
		t.Helper()
		w, err := openWindow(dir, []string{"4816"}, length, off, now)
		if err != nil {
			t.Fatal(err)
		}
		return w
	}
	at := begin.Add
	if w := open(0, false, begin); w.openAt("4816", begin, begin) || !w.until().IsZero() {
		t.Error("open without --on-test")
	}
	w := open(time.Hour, false, begin)
	for _, c := range []struct {
		account      string
		wall, steady time.Duration
		want         bool
	}{
		{"4816", 0, 0, true},
		{"A0B1", 0, 0, false},
		{"4816", 59 * time.Minute, 59 * time.Minute, true},
		{"4816", time.Hour, 59 * time.Minute, false}, // the clock was set on
		{"4816", 10 * time.Minute, time.Hour, false}, // it was set back
		{"4816", -time.Minute, time.Minute, false},   // before it was opened
	} {
		if got := w.openAt(c.account, at(c.wall), at(c.steady)); got != c.want {
			t.Errorf("%+v: %v", c, got)
		}
	}
	// A restart within it goes on, with --on-test or without, and no new account comes in by it.
	w, err := openWindow(dir, []string{"4816", "A0B1"}, 5*time.Hour, false, at(50*time.Minute))
	if err != nil || !w.until().Equal(begin.Add(time.Hour).UTC()) || !w.openAt("4816", at(50*time.Minute), at(50*time.Minute)) || w.openAt("A0B1", at(50*time.Minute), at(50*time.Minute)) {
		t.Errorf("after a restart: until %v, %v", w.until(), err)
	}
	if w.openAt("4816", at(55*time.Minute), at(60*time.Minute)) {
		t.Error("after a restart the monotonic clock counts no more")
	}
	if lapsed, err := w.look(at(time.Hour), at(time.Hour)); !lapsed || err != nil {
		t.Errorf("it does not lapse: %v", err)
	}
	if lapsed, _ := w.look(at(time.Hour), at(time.Hour)); lapsed || w.openAt("4816", begin, begin) {
		t.Error("it lapses twice, or opens again")
	}
	if w := open(0, false, at(10*time.Minute)); w.openAt("4816", at(10*time.Minute), at(10*time.Minute)) {
		t.Error("a clock set back opened a window that was over")
	}
	// --off-test ends it at once.
	open(time.Hour, false, begin)
	if w := open(0, true, at(time.Minute)); w.openAt("4816", at(time.Minute), at(time.Minute)) {
		t.Error("open after --off-test")
	}
	if _, err := openWindow(dir, nil, 25*time.Hour, false, begin); err == nil {
		t.Error("a day and an hour on test")
	}
}

// A clock that is set back before a restart does not lengthen the window.
func TestOnTestWindowAfterARestartWithTheClockSetBack(t *testing.T) {
	dir := t.TempDir()
	at := func(d time.Duration) time.Time { return time.Date(2026, 9, 15, 10, 0, 0, 0, time.UTC).Add(d) }
	open := func(length time.Duration, now time.Time) *testWindow {
		t.Helper()
		w, err := openWindow(dir, []string{"4816"}, length, false, now)
		if err != nil {
			t.Fatal(err)
		}
		return w
	}
	look := func(w *testWindow, wall, steady time.Duration) {
		t.Helper()
		if over, err := w.look(at(wall), at(steady)); over || err != nil {
			t.Fatal(over, err)
		}
	}
	w := open(2*time.Hour, at(0))
	look(w, 0, 0)
	look(w, 110*time.Minute, 110*time.Minute)
	if w := open(0, at(111*time.Minute)); w.until() != at(2*time.Hour) {
		t.Errorf("a restart in time: until %v", w.until())
	}
	if w := open(0, at(5*time.Minute)); !w.until().IsZero() {
		t.Errorf("stopped after 110 min, the clock set back to 5 min: until %v", w.until())
	}
	// Set back while it runs, and stopped until the clock is there again.
	w = open(2*time.Hour, at(0))
	look(w, 110*time.Minute, 110*time.Minute)
	look(w, 5*time.Minute, 111*time.Minute)
	if w := open(0, at(115*time.Minute)); !w.until().IsZero() {
		t.Errorf("goes on %v after the end", w.until())
	}
}

// receive is a receiver alone in a process of its own.
func receive(t *testing.T, dir, accounts string, more ...string) (p *process, addr string) {
	t.Helper()
	p = run(t, append([]string{"receive", "--json", "--signals", "127.0.0.1:0", "--data", dir, "--accounts", accounts}, more...)...)
	return p, p.wait(`"kind":"listening","signals":"([^"]+)"`)[1]
}

// The receiver alone: a JSON line for each event, answered only on test and for accounts of the file; and no key in what it says.
func TestReceiveAlone(t *testing.T) {
	accounts := accountsFile(t, `accounts: {"4816": {}, "48AF": {prefix: L2}, "A0B1": {key: `+testKey+`, encrypted-only: true, supervision: 90s}}`)
	key, err := signal.ParseKey(testKey)
	if err != nil {
		t.Fatal(err)
	}
	other, err := signal.ParseKey("FF" + testKey[2:])
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	type line struct {
		Kind                               string
		Row                                int64
		Index                              int
		Account, Answer, Why, Finding, Raw string
		RepeatOf                           int64
		Encrypted                          bool
		Event                              *signal.Event
	}
	for _, onTest := range []bool{false, true} {
		var flags []string
		if onTest {
			flags = []string{"--on-test", "1h", "--metrics", ":0"}
		}
		p, addr := receive(t, dir, accounts, flags...)
		send := func(f signal.Frame, key signal.Key) (reply string, lines []line) {
			t.Helper()
			s := signal.Sender{Attempts: 1, Timeout: 10 * time.Second, Key: key, Now: time.Now, Random: rand.Reader, Dial: func(ctx context.Context) (signal.Conn, error) {
				var d net.Dialer
				return d.DialContext(ctx, "tcp", addr)
			}}
			if !onTest || f.Account == "5000" || f.Prefix == "L1" {
				s.Timeout = 200 * time.Millisecond // nothing comes
			}
			receipt, err := s.Send(t.Context(), f)
			reply = receipt.Reply.ID
			if err != nil && reply == "" && !errors.Is(err, signal.ErrNoReply) {
				t.Fatal(err)
			}
			for n := max(strings.Count(f.Data, "/"), 1); n > 0; n-- {
				var l line
				if err := json.Unmarshal([]byte(p.wait(`^(\{"kind":"(?:event|none)".*\})$`)[1]), &l); err != nil {
					t.Fatal(err)
				}
				lines = append(lines, l)
			}
			return reply, lines
		}
		fire := func(account string, n int) signal.Frame {
			return signaltest.ContactID(t, account, n, signal.New, "110", 1, 5)
		}
		answer := func(id string) string {
			if onTest {
				return id
			}
			return ""
		}
		north := fire("48af", 2)
		north.Prefix = "L1"
		south := fire("48af", 3)
		south.Prefix = "L02"
		for _, c := range []struct {
			name          string
			frame         signal.Frame
			key           signal.Key
			reply         string
			why, finding  string
			events, lines int
		}{
			{name: "clear", frame: fire("4816", 1), reply: answer("ACK"), why: "not on test", lines: 1},
			{name: "another prefix", frame: north, why: "account 48af is in the accounts file with prefix L2, this frame has L1", lines: 1},
			{name: "its prefix", frame: south, reply: answer("ACK"), why: "not on test", lines: 1},
			{name: "a stranger", frame: fire("5000", 4), why: "account 5000 is not in the accounts file", lines: 1},
			{name: "encrypted", frame: fire("A0B1", 5), key: key, reply: answer("ACK"), why: "not on test", lines: 1},
			{name: "wrong key", frame: fire("A0B1", 6), key: other, reply: answer("DUH"), why: "not on test", finding: "frame for account A0B1 does not decrypt: key or mode differs", lines: 1},
			{name: "in clear", frame: fire("A0B1", 7), reply: answer("DUH"), why: "not on test", finding: "came in clear", lines: 1},
			{name: "two events", frame: signal.Frame{ID: signal.IDSIA, Sequence: 8, Prefix: "L0", Account: "4816", Data: "#4816|Nri1/FA005/FA006"}, reply: answer("ACK"), why: "not on test", lines: 2},
		} {
			reply, lines := send(c.frame, c.key)
			l := lines[0]
			why := c.why
			if reply != "" {
				why = "" // it was answered
			}
			if reply != c.reply || !strings.Contains(l.Why, why) || (l.Why == "") != (why == "") || !strings.Contains(l.Finding, c.finding) || (l.Finding == "") != (c.finding == "") {
				t.Errorf("on test %v, %s: answered %q, line %+v", onTest, c.name, reply, l)
			}
			if len(lines) == 2 && (lines[1].Index != 1 || lines[0].Row != lines[1].Row || lines[1].Event.Number != 6) {
				t.Errorf("%s: lines %+v", c.name, lines)
			}
		}
		if onTest {
			readFigures(t, p.said[0], map[string]float64{
				`proofbell_frames_total{answer="ack"}`: 4, `proofbell_windows_open`: 1, `proofbell_draining`: 0, `proofbell_inbox_batch_signals_sum`: 8,
				`proofbell_faults_total{cause="checksum"}`: 0, `proofbell_faults_total{cause="garbage"}`: 0,
			})
		}
		if code := p.end(os.Interrupt); code != Good {
			t.Errorf("exit %d\n%s", code, p.errs.String())
		}
		if all := strings.ToUpper(strings.Join(p.said, "\n") + p.errs.String()); strings.Contains(all, testKey) || strings.Contains(all, testKey[2:]) {
			t.Errorf("the key stands in what it said: %s", all)
		}
	}
}

// readFigures reads the metrics whose address a line names.
func readFigures(t *testing.T, line string, want map[string]float64) {
	t.Helper()
	address := regexp.MustCompile(`http://[^"\s]+/metrics`).FindString(line)
	resp, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	raw, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]float64{}
	for line := range strings.Lines(string(raw)) {
		name, value, _ := strings.Cut(strings.TrimSpace(line), " ")
		if v, err := strconv.ParseFloat(value, 64); err == nil {
			got[name] = v
		}
		if strings.Contains(line, "4816") || strings.Contains(line, "127.0.0.1") {
			t.Errorf("a figure names who it is: %s", line)
		}
	}
	for name, v := range want {
		if g, ok := got[name]; !ok || g != v {
			t.Errorf("%s is %v, want %v", name, g, v)
		}
	}
}

// A first SIGTERM lets what is in hand end. When that never comes, because nobody reads what it prints, a second one kills.
func TestASecondSignalKills(t *testing.T) {
	cmd := exec.Command("proofbell", "receive", "--json", "--signals", "127.0.0.1:0", "--data", t.TempDir(), "--accounts", accountsFile(t, `accounts: {"4816": {}}`),
		"--on-test", "1h", "--frames-per-address", "1000000", "--burst", "1000000")
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	ended := false
	defer func() {
		if !ended {
			_ = cmd.Process.Kill()
			_ = cmd.Wait()
		}
	}()
	first, err := bufio.NewReaderSize(out, 512).ReadString('\n') // and nothing more is read
	if err != nil {
		t.Fatal(err)
	}
	addr := regexp.MustCompile(`"signals":"([^"]+)"`).FindStringSubmatch(first)[1]
	var work sync.WaitGroup
	for line := range 20 {
		conn, err := net.Dial("tcp", addr)
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
		work.Go(func() {
			for n := 1; n <= 100; n++ { // more lines in all than the pipe and the process hold: at the end they wait for a reader
				f := signaltest.ContactID(t, "4816", n, signal.New, "110", 1, line)
				f.Prefix = fmt.Sprintf("L%X", line)
				ctx, cancel := context.WithTimeout(t.Context(), time.Second)
				_, err := signal.Exchange(ctx, conn, f)
				cancel()
				if err != nil {
					return
				}
			}
		})
	}
	work.Wait()
	if err := cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	over := make(chan struct{})
	go func() { err = cmd.Wait(); close(over) }()
	again := time.NewTicker(50 * time.Millisecond)
	defer again.Stop()
	for !ended { // the first has to be taken before another is the second
		select {
		case <-over:
			ended = true
		case <-again.C:
			_ = cmd.Process.Signal(syscall.SIGTERM) // it may have ended just now
		}
	}
	if status, ok := cmd.ProcessState.Sys().(syscall.WaitStatus); !ok || !status.Signaled() || status.Signal() != syscall.SIGTERM {
		t.Errorf("it ended with %v", err)
	}
}

// A restart within the window answers, unless it was ended.
func TestReceiveGoesOnAfterAKill(t *testing.T) {
	dir, accounts := t.TempDir(), accountsFile(t, `accounts: {"4816": {}}`)
	exchange := func(addr string, n int) signal.Frame {
		t.Helper()
		return signaltest.Dial(t, "tcp", addr).Exchange(signaltest.ContactID(t, "4816", n, signal.New, "110", 1, 5))
	}
	p, addr := receive(t, dir, accounts, "--on-test", "1h")
	if reply := exchange(addr, 1); reply.ID != signal.IDAck {
		t.Errorf("answered %v", reply)
	}
	p.end(syscall.SIGKILL)
	kept, err := os.Stat(filepath.Join(dir, "on-test.json"))
	if err != nil || kept.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v", kept, err)
	}
	more := accountsFile(t, `accounts: {"4816": {}, "0099": {}}`)
	p, _ = receive(t, dir, more, "--on-test", "5m")
	if !strings.Contains(p.said[0], `"onTestFromBefore":true,"onTestNotTaken":true,"notOnTest":["0099"]`) {
		t.Errorf("an older window is not named: %s", p.said[0])
	}
	p.end(syscall.SIGTERM)
	p, addr = receive(t, dir, accounts)
	if reply := exchange(addr, 2); reply.ID != signal.IDAck {
		t.Errorf("after a restart: answered %v", reply)
	}
	if code := p.end(syscall.SIGTERM); code != Good {
		t.Errorf("exit %d: %s", code, p.errs.String())
	}
	p, addr = receive(t, dir, accounts, "--off-test")
	x := signaltest.Dial(t, "tcp", addr)
	x.Send(signaltest.ContactID(t, "4816", 3, signal.New, "110", 1, 5))
	if got := x.Rest(); got != "" {
		t.Errorf("after --off-test: answered %q", got)
	}
	if code := p.end(syscall.SIGTERM); code != Good {
		t.Errorf("exit %d: %s", code, p.errs.String())
	}
}

func TestReceiveRefusesContradictingFlags(t *testing.T) {
	var out, errs bytes.Buffer
	code := Main(t.Context(), []string{"receive", "--signals", "127.0.0.1:0", "--data", t.TempDir(), "--accounts", "none.yaml", "--on-test", "1h", "--off-test"}, strings.NewReader(""), &out, &errs)
	if code != Unusable || !strings.Contains(errs.String(), "end the window with --off-test first") {
		t.Errorf("exit %d, %s", code, errs.String())
	}
}

func TestReceiveOnATakenPort(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	dir := t.TempDir()
	var out, errs bytes.Buffer
	code := Main(t.Context(), []string{"receive", "--signals", taken.Addr().String(), "--data", dir, "--accounts", accountsFile(t, `accounts: {"4816": {}}`), "--on-test", "1h"}, strings.NewReader(""), &out, &errs)
	if code != Unusable || !strings.Contains(errs.String(), "choose another address with --signals") {
		t.Errorf("exit %d, %s", code, errs.String())
	}
	if _, err := os.Stat(filepath.Join(dir, "on-test.json")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a start that came to nothing left its accounts on test: %v", err)
	}
}

// An older window is named at the start, with what it leaves out.
func TestListeningLineOfAnOlderWindow(t *testing.T) {
	l := listeningLine{Signals: "127.0.0.1:5090", Accounts: 2, Until: time.Now(), Before: true, NotTaken: true, Out: []string{"0099"}}
	if got := l.text(nil); !strings.HasSuffix(got, "\nIt is a test window from before. --on-test was not taken. Not in it: 0099. To begin anew: --off-test first.") {
		t.Error(got)
	}
	if got := l.text(words.In("de")); !strings.HasSuffix(got, "\nDieser Probebetrieb läuft noch von vorher. --on-test wurde nicht übernommen. Nicht darin: 0099. Neu beginnen: zuerst --off-test.") {
		t.Error(got)
	}
}

// What time brings is printed: a link that lapses and is heard again, the end of the window.
func TestReceiveSupervises(t *testing.T) {
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		begin := time.Now()
		a := &alone{lines: make(chan printed, 8)}
		var err error
		if a.window, err = openWindow(dir, []string{"4816"}, 3*time.Minute, false, begin); err != nil {
			t.Fatal(err)
		}
		a.links.Expect("4816", 100*time.Second, 20*time.Second, begin)
		var out bytes.Buffer
		shut, ended, watched, all := make(chan struct{}), make(chan struct{}), make(chan error), make(chan error)
		go func() { watched <- a.watch(shut) }()
		go func() { all <- a.printAll(printer{out: &out, json: true}, windowLine{Kind: "begin"}, ended) }()
		time.Sleep(125 * time.Second)
		a.links.Heard("4816", time.Now())
		time.Sleep(60 * time.Second)
		close(shut)
		if err := <-watched; err != nil {
			t.Error(err)
		}
		close(ended)
		if err := <-all; err != nil {
			t.Error(err)
		}
		want := []string{
			`{"kind":"begin","at":"0001-01-01T00:00:00Z","state":""}`,
			`{"kind":"link","at":"2000-01-01T00:02:01Z","account":"4816","state":"lapsed","every":"1m40s"}`,
			`{"kind":"link","at":"2000-01-01T00:02:05Z","account":"4816","state":"heard","every":"1m40s","last":"2000-01-01T00:02:05Z"}`,
			`{"kind":"window","at":"2000-01-01T00:03:00Z","state":"lapsed"}`,
		}
		got := strings.Split(strings.TrimSpace(out.String()), "\n")
		if len(got) == 4 { // heard in this second or at the next look
			got[2] = strings.Replace(got[2], `"at":"2000-01-01T00:02:06Z"`, `"at":"2000-01-01T00:02:05Z"`, 1)
		}
		if strings.Join(got, "\n") != strings.Join(want, "\n") {
			t.Errorf("%s", out.String())
		}
	})
}

// stalled takes one line and then nothing until it is let go.
type stalled struct {
	first chan string
	let   chan struct{}
}

func (s *stalled) Write(p []byte) (int, error) {
	select {
	case s.first <- string(p):
	default:
		<-s.let
	}
	return len(p), nil
}

// Who reads the lines stalls: every frame is stored and answered all the same, and the end does not hang.
func TestReceiveWhileNobodyTakesTheLines(t *testing.T) {
	out := &stalled{make(chan string, 1), make(chan struct{})}
	defer close(out.let)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	cmd := receiveCmd{Signals: "127.0.0.1:0", Data: t.TempDir(), Accounts: accountsFile(t, "accounts: {\"4816\": {}}"), OnTest: time.Hour, JSON: true}
	done := make(chan error, 1)
	go func() { done <- cmd.Run(ctx, &streams{out: out, err: io.Discard}) }()
	addr := regexp.MustCompile(`"signals":"([^"]+)"`).FindStringSubmatch(<-out.first)[1]
	conn, err := net.Dial("tcp", addr)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	const frames = 1500 // more than there is room for lines
	go func() {
		for n := range frames {
			f := signaltest.ContactID(t, "4816", n+1, signal.New, "110", 1, 5)
			if raw, err := f.Encode(); err == nil {
				_, _ = conn.Write(raw)
			}
		}
	}()
	in := bufio.NewReader(conn)
	_ = conn.SetReadDeadline(time.Now().Add(time.Minute))
	for n := range frames {
		if got, err := in.ReadString('\r'); err != nil || !strings.Contains(got, `"ACK"`) {
			t.Fatalf("frame %d: answered %q, %v", n+1, got, err)
		}
	}
	cancel()
	if err := <-done; err == nil || !strings.Contains(err.Error(), "nobody takes the lines") {
		t.Errorf("ended with %v", err)
	}
}

// A line says how many were left out, once lines are taken again.
func TestReceiveSaysWhatWasNotPrinted(t *testing.T) {
	a := &alone{lines: make(chan printed, 2)}
	for range 5 {
		a.tell(windowLine{Kind: "x"})
	}
	var out bytes.Buffer
	ended := make(chan struct{})
	close(ended)
	if err := a.printAll(printer{out: &out, json: true}, windowLine{Kind: "begin"}, ended); err != nil {
		t.Fatal(err)
	}
	if !strings.HasSuffix(out.String(), "{\"kind\":\"unprinted\",\"lines\":3}\n") {
		t.Errorf("%s", out.String())
	}
}

// In words, for people, in their language.
func TestReceiveInWords(t *testing.T) {
	f := signaltest.ContactID(t, "4816", 1, signal.New, "110", 1, 5)
	raw, err := f.Encode()
	if err != nil {
		t.Fatal(err)
	}
	r := signal.Judge(raw)
	r.At = time.Date(2026, 9, 15, 14, 5, 9, 0, time.Local)
	for lang, want := range map[string]string{
		"en": "14:05:09Z  4816  fire, new, zone 005, area 1 (answered ACK)",
		"de": "14:05:09Z  4816  Brand, neu, Zone 005, Bereich 1 (beantwortet mit ACK)",
	} {
		if got := (storedLine{r: r, verdict: signal.Acknowledge}).text(words.In(lang)); got != want {
			t.Errorf("%s: %q, want %q", lang, got, want)
		}
	}
}

// Over real TCP with the real inbox: a full one is not answered, and service resumes as soon as there is room.
func TestFullInboxIsNotAnswered(t *testing.T) {
	dir := t.TempDir()
	inbox, err := store.OpenInbox(t.Context(), dir, store.Options{MaxPages: 24})
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := inbox.Close(); err != nil {
			t.Error(err)
		}
	}()
	a := &alone{accounts: map[string]account{"4816": {number: "4816"}}, inbox: inbox, lines: make(chan printed, 10_000)}
	if a.window, err = openWindow(dir, []string{"4816"}, time.Hour, false, time.Now()); err != nil {
		t.Fatal(err)
	}
	r, err := receiver.New(receiver.Config{ID: "r", Deliver: a.deliver, Limits: receiver.Limits{FramesPerAddress: 1e6, Burst: 1e6}})
	if err != nil {
		t.Fatal(err)
	}
	addr, err := r.Listen(t.Context(), "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := r.Shutdown(context.Background()); err != nil {
			t.Error(err)
		}
	}()
	conn, err := net.Dial("tcp", addr.String())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	in := bufio.NewReader(conn)
	acked := 0
	exchange := func(n int) bool {
		t.Helper()
		f := signaltest.ContactID(t, "4816", n%9999+1, signal.New, "110", 1, n%999)
		raw, err := f.Encode()
		if err != nil {
			t.Fatal(err)
		}
		before := r.Stats()
		if _, err := conn.Write(raw); err != nil {
			t.Fatal(err)
		}
		for s := before; s.NotStored == before.NotStored; s = r.Stats() { // until it is answered or given up
			if in.Buffered() > 0 {
				break
			}
			_ = conn.SetReadDeadline(time.Now().Add(20 * time.Millisecond))
			_, _ = in.Peek(1)
		}
		if in.Buffered() == 0 {
			return false
		}
		got, err := in.ReadBytes('\r')
		if err != nil || !bytes.Contains(got, []byte(`"ACK"`)) {
			t.Fatalf("answered %q, %v", got, err)
		}
		acked++
		return true
	}
	n := 0
	for ; n < 5000 && exchange(n); n++ {
	}
	if n == 0 || n == 5000 {
		t.Fatalf("full after %d", n)
	}
	for range 20 {
		if n++; exchange(n) {
			t.Fatal("answered, and there was no room")
		}
	}
	if rows, err := inbox.After(t.Context(), 0, 10_000); err != nil || len(rows) != acked {
		t.Fatalf("%d acknowledged, %d stored, %v", acked, len(rows), err)
	}
	db, err := sql.Open("sqlite", "file:"+filepath.Join(dir, "inbox.db")+"?_pragma=busy_timeout(5000)")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec(`DELETE FROM inbox WHERE row <= ?`, acked/2); err != nil { // somebody makes room
		t.Fatal(err)
	}
	for range 20 {
		if n++; !exchange(n) {
			t.Fatal("not answered, and there is room again")
		}
	}
	var said []string
	for len(a.lines) > 0 {
		if l, ok := (<-a.lines).(storageLine); ok {
			said = append(said, l.State)
		}
	}
	if strings.Join(said, " ") != "failing works" {
		t.Errorf("said %v", said)
	}
}

// Outside a window not one byte goes out: 10,000 frames of all kinds to a server, over TCP and UDP, for accounts it knows and
// others, sound and damaged, in clear and encrypted, of today and long ago.
func TestNoWindowNotOneByte(t *testing.T) {
	s := runServer(t, t.TempDir(), "--frames-per-address", "1000000", "--burst", "1000000", "--faults-per-address", "1000000", "--metrics", ":0")
	var opened struct{ Job evidence.JobID }
	s.call("POST", "/api/jobs", demo.Corrected, &opened)
	s.act(opened.Job, evidence.KindRun, prove.RunBody{Act: prove.RunOpened, Account: "4816"}, nil) // a run, and nobody on test
	frames := allKinds(t)
	udp, err := net.Dial("udp", s.signals)
	if err != nil {
		t.Fatal(err)
	}
	defer udp.Close()
	const senders = 20 // so that they share commits
	heard := make(chan int, senders)
	var work sync.WaitGroup
	for range senders {
		tcp, err := net.Dial("tcp", s.signals)
		if err != nil {
			t.Fatal(err)
		}
		defer tcp.Close()
		go func() {
			n, _ := io.Copy(io.Discard, tcp)
			heard <- int(n)
		}()
		work.Go(func() {
			for sent := 0; sent < 10_000/senders; {
				for _, raw := range frames {
					if _, err := tcp.Write(append(append([]byte{}, raw...), frames[0]...)); err != nil { // a sound one keeps the connection
						t.Error(err)
						return
					}
					_, _ = udp.Write(raw) // lost or not, it gets no answer
					sent += 3
				}
			}
			if err := tcp.(*net.TCPConn).CloseWrite(); err != nil { // the server reads all that was sent, and then closes
				t.Error(err)
			}
		})
	}
	work.Wait()
	for range senders {
		if n := <-heard; n != 0 {
			t.Errorf("%d bytes over TCP", n)
		}
	}
	if code := s.end(syscall.SIGTERM); code != Good { // what is in hand over UDP is dealt with first
		t.Errorf("exit %d: %s", code, s.errs.String())
	}
	_ = udp.SetReadDeadline(time.Now().Add(100 * time.Millisecond)) // what came before stands in the buffer of the system
	if n, err := udp.Read(make([]byte, 1)); n > 0 {
		t.Errorf("bytes over UDP, %v", err)
	}
}

// allKinds are frames of every kind that there is; the first is sound.
func allKinds(t *testing.T) (frames [][]byte) {
	t.Helper()
	add := func(f signal.Frame) {
		t.Helper()
		raw, err := f.Encode()
		if err != nil {
			t.Fatal(err)
		}
		frames = append(frames, raw)
	}
	add(signaltest.ContactID(t, "4816", 1, signal.New, "110", 1, 5))
	add(signal.Frame{ID: signal.IDNull, Account: "4816"})
	add(signal.Frame{ID: "XYZ-ONE", Sequence: 2, Account: "4816", Data: "abc"})
	add(signal.Frame{ID: signal.IDContactID, Sequence: 3, Account: "4816", Data: "not a payload"})
	key, err := signal.ParseKey(testKey)
	if err != nil {
		t.Fatal(err)
	}
	for _, at := range []time.Time{time.Now(), time.Now().AddDate(-1, 0, 0)} { // the second is to be refused for its time
		for _, number := range []string{"4816", "A0B1"} {
			f := signaltest.ContactID(t, number, 4, signal.New, "110", 1, 5)
			f.Timestamp = signal.FormatTimestamp(at)
			sealed, err := f.Encrypt(key, []byte("0123456789abcdef"))
			if err != nil {
				t.Fatal(err)
			}
			add(sealed)
		}
	}
	for _, id := range []string{signal.IDAck, signal.IDDuh, signal.IDNak, signal.IDRsp} {
		add(signal.Frame{ID: id, Sequence: 5, Account: "4816"})
	}
	text, err := os.ReadFile("../../signal/testdata/frames.txt")
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(text)) {
		if digits, ok := strings.CutPrefix(strings.TrimSpace(line), "frame: "); ok {
			raw, err := hex.DecodeString(digits)
			if err != nil {
				t.Fatal(err)
			}
			frames = append(frames, raw)
		}
	}
	if len(frames) < 110 {
		t.Fatalf("only %d kinds", len(frames))
	}
	return append(frames, []byte("GET / HTTP/1.1\r\n\r\n"), bytes.Repeat([]byte("x"), 9000))
}

// stalling is an inbox that takes a minute to store.
type stalling struct{ app.Inbox }

func (stalling) Put(_ context.Context, r app.InboxRow) (app.InboxRow, error) {
	time.Sleep(time.Minute)
	return r, nil
}

// A disk that stalls carries no answer over the end of the window.
func TestTheWindowEndsWhileASignalIsStored(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		window, err := openWindow(t.TempDir(), []string{"4816"}, time.Hour, false, time.Now())
		if err != nil {
			t.Fatal(err)
		}
		a := &alone{accounts: map[string]account{"4816": {number: "4816"}}, inbox: stalling{}, window: window, lines: make(chan printed, 8)}
		r := signal.Received{Frame: signal.Frame{Account: "4816"}, Proposed: signal.Acknowledge}
		for _, want := range []signal.Verdict{signal.Acknowledge, signal.StaySilent} {
			if v, err := a.deliver(t.Context(), r); v != want || err != nil {
				t.Errorf("%v, %v, want %v", v, err, want)
			}
			line, ok := (<-a.lines).(storedLine)
			if !ok || line.verdict != want || line.row.Answered != (want == signal.Acknowledge) {
				t.Errorf("printed is %+v", line)
			}
			time.Sleep(58*time.Minute + 30*time.Second)
		}
	})
}
