package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"proofbell/internal/receiver"
	"proofbell/signal"
)

const sendKey = "0123456789abcdef0123456789abcdef"

// listening is a receiver that answers as the decision table proposes, and remembers what came.
type listening struct {
	addr string
	mu   sync.Mutex
	got  []signal.Received
}

func listen(t *testing.T, clock time.Duration, answers bool) *listening {
	key, err := signal.ParseKey(sendKey)
	if err != nil {
		t.Fatal(err)
	}
	l := &listening{}
	r, err := receiver.New(receiver.Config{
		ID: "north", Now: func() time.Time { return time.Now().Add(clock) },
		Secret: func(_, account string) signal.Secret {
			if account == "4816" {
				return signal.Secret{Key: key}
			}
			return signal.Secret{}
		},
		Deliver: func(_ context.Context, r signal.Received) (signal.Verdict, error) {
			l.mu.Lock()
			defer l.mu.Unlock()
			l.got = append(l.got, r)
			if !answers {
				return signal.StaySilent, nil
			}
			return r.Proposed, nil
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	addr, err := r.Listen(t.Context(), "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := r.Shutdown(context.Background()); err != nil {
			t.Error(err)
		}
	})
	l.addr = addr.String()
	return l
}

func sendSignal(t *testing.T, args ...string) (code int, out, errs string) {
	var o, e bytes.Buffer
	code = Main(t.Context(), append([]string{"signal", "send"}, args...), strings.NewReader(""), &o, &e)
	return code, o.String(), e.String()
}

// arrived returns what came.
func (l *listening) arrived() []signal.Received {
	l.mu.Lock()
	defer l.mu.Unlock()
	return slices.Clone(l.got)
}

// What a sender can be asked for arrives as asked, over TCP and UDP, in clear and encrypted.
func TestSignalSend(t *testing.T) {
	l, silent, late := listen(t, 0, true), listen(t, 0, false), listen(t, 3*time.Hour, true)
	closed, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	nobody := closed.Addr().String()
	closed.Close()
	keyFile := filepath.Join(t.TempDir(), "key")
	if err := os.WriteFile(keyFile, []byte(sendKey+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		args      []string
		code      int
		out, errs string // patterns
		at        *listening
		event     string // of the last that arrived; "" for supervision
		encrypted bool
		frames    int
	}{
		"a periodic test": {[]string{l.addr, "--account", "4816"}, Good, `^37F90012"ACK"0001L0#4816\[\]\n$`, `^$`, l, "periodic test", false, 1},
		"a manual one":    {[]string{l.addr, "--account", "4816", "--code", "601", "--udp"}, Good, `"ACK"`, `^$`, l, "manual test", false, 1},
		"sia, with fields": {
			[]string{l.addr, "--account", "4816", "--sia", "Nri1/FA5", "--field", "IKüche, oben", "--field", "X093W30", "--path", "2", "--prefix", "L2A", "--receiver", "R1", "--sequence", "9999"},
			Good, `"ACK"9999R1L2A#4816\[\]`, `^$`, l, "fire alarm", false, 1,
		},
		"supervision":                  {[]string{l.addr, "--account", "4816", "--null"}, Good, `"ACK"0000L0#4816`, `^$`, l, "", false, 1},
		"encrypted":                    {[]string{l.addr, "--account", "4816", "--key", keyFile}, Good, `"ACK"0001L0#4816\[\]_\d\d:\d\d:\d\d,`, `^$`, l, "periodic test", true, 1},
		"encrypted, over UDP":          {[]string{l.addr, "--account", "4816", "--key", keyFile, "--null", "--udp"}, Good, `"ACK"0000L0#4816`, `^$`, l, "", true, 1},
		"by the receiver's clock":      {[]string{late.addr, "--account", "4816", "--key", keyFile, "--attempts", "2"}, Good, `"ACK"`, `clock differs by (3h0m0s|2h59m59s): the frame was sent again`, late, "periodic test", true, 2},
		"refused by its clock":         {[]string{late.addr, "--account", "4816", "--key", keyFile}, NotGood, `refused the time stamp \(NAK\): look at both clocks`, `^$`, late, "", true, 1},
		"an account without that key":  {[]string{l.addr, "--account", "4817", "--key", keyFile, "--attempts", "3"}, NotGood, `can not process .*: look at the key`, `^$`, l, "", false, 1}, // DUH: not repeated
		"silence":                      {[]string{silent.addr, "--account", "4816", "--attempts", "2", "--timeout", "100ms"}, NotGood, `is the account on test`, `^$`, silent, "periodic test", false, 2},
		"the second receiver":          {[]string{nobody, l.addr, "--account", "4816", "--json"}, Good, `^{"to":"` + l.addr + `","attempts":2,"answer":"ACK","reply":{.*}}\n$`, `^$`, l, "periodic test", false, 1},
		"nobody":                       {[]string{nobody, "--account", "4816", "--json"}, NotGood, `"answer":"silence","why":"no reply from ` + nobody + `: dial tcp .*connection refused: does a receiver listen there`, `^$`, l, "", false, 0},
		"nobody, nobody over UDP":      {[]string{nobody, "--account", "4816", "--udp"}, NotGood, `^no reply from ` + nobody + `: .*connection refused: does a receiver listen there\?\n$`, `^$`, l, "", false, 0},
		"a frame as it is, to nobody":  {[]string{nobody, "--frame", "x"}, NotGood, `^no reply from ` + nobody + `: dial tcp .*connection refused: does a receiver listen there\?\n$`, `^$`, l, "", false, 0},
		"nobody, and silence":          {[]string{nobody, silent.addr, "--account", "4816", "--timeout", "100ms"}, NotGood, `^no reply from ` + nobody + `: .*refused.*\nno reply from ` + silent.addr + `: is a receiver there`, `^$`, silent, "periodic test", false, 1},
		"a code of one digit":          {[]string{l.addr, "--account", "4816", "--code", "1"}, Unusable, `^$`, `--code "1": a Contact ID event has three digits`, l, "", false, 0},
		"an account with a G":          {[]string{l.addr, "--account", "00G2"}, Unusable, `^$`, `--account "00G2": an account has 1 to 16 digits`, l, "", false, 0},
		"as it is":                     {[]string{l.addr, "--frame", `1EF20013"NULL"0000L0#1234[]`}, Good, `^DE900012"ACK"0000L0#1234\[\]\n$`, `^$`, l, "", false, 1},
		"no account":                   {[]string{l.addr}, Unusable, `^$`, `give one --account`, l, "", false, 0},
		"two accounts":                 {[]string{l.addr, "--account", "4816,4817"}, Unusable, `^$`, `give one --account`, l, "", false, 0},
		"no letter in front":           {[]string{l.addr, "--account", "4816", "--field", "hall"}, Unusable, `^$`, `a capital letter comes first`, l, "", false, 0},
		"a frame with a key":           {[]string{l.addr, "--frame", "x", "--key", keyFile}, Unusable, `^$`, `leave the others and the key out`, l, "", false, 0},
		"a load with half of it":       {[]string{l.addr, "--account", "4816", "--connections", "3"}, Unusable, `^$`, `--count M`, l, "", false, 0},
		"a load elsewhere":             {[]string{"192.0.2.7:5090", "--account", "4816", "--connections", "3", "--count", "9", "--confirm", "192.0.2.7:5090"}, Unusable, `^$`, `this machine alone`, l, "", false, 0},
		"elsewhere, one not confirmed": {[]string{l.addr, "192.0.2.7:5090", "--account", "4816", "--confirm", l.addr}, Unusable, `^$`, `--confirm 192.0.2.7:5090`, l, "", false, 0},
	} {
		t.Run(name, func(t *testing.T) {
			c.at.mu.Lock()
			c.at.got = nil
			c.at.mu.Unlock()
			code, out, errs := sendSignal(t, c.args...)
			if code != c.code || !regexp.MustCompile(c.out).MatchString(out) || !regexp.MustCompile(c.errs).MatchString(errs) {
				t.Errorf("exit %d, %q, %q", code, out, errs)
			}
			got := c.at.arrived()
			if len(got) != c.frames {
				t.Fatalf("%d frames arrived", len(got))
			}
			if c.frames == 0 {
				return
			}
			r := got[c.frames-1]
			words := ""
			if len(r.Events) > 0 {
				words = r.Events[0].Words
			}
			if words != c.event || r.Encrypted != c.encrypted || c.frames == 2 && got[0].Frame.Sequence != r.Frame.Sequence {
				t.Errorf("%+v", r)
			}
			if name == "sia, with fields" {
				text, _ := r.Frame.Field("I")
				if path, _ := r.Frame.Field("J"); text != "Küche, oben" || path != "2" || len(r.Frame.Fields) != 3 {
					t.Errorf("%+v", r.Frame)
				}
			}
		})
	}
}

// No key is an argument that others see, and none is shown.
func TestSignalSendKeyFromEnvironment(t *testing.T) {
	l := listen(t, 0, true)
	t.Setenv("PROOFBELL_KEY", sendKey)
	if code, out, errs := sendSignal(t, l.addr, "--account", "4816"); code != Good || !l.arrived()[0].Encrypted {
		t.Errorf("exit %d, %q, %q", code, out, errs)
	}
	t.Setenv("PROOFBELL_KEY", "short and secret")
	if code, out, errs := sendSignal(t, l.addr, "--account", "4816", "--attempts", "1"); code != NotGood || !strings.Contains(out, "can not process") {
		t.Errorf("sixteen typed characters are a key, another one: exit %d, %q, %q", code, out, errs)
	}
	t.Setenv("PROOFBELL_KEY", "too short")
	if code, _, errs := sendSignal(t, l.addr, "--account", "4816"); code != Unusable || strings.Contains(errs, "too short") || !strings.Contains(errs, "32, 48 or 64 hex digits") {
		t.Errorf("exit %d, %q", code, errs)
	}
}

// Every frame of a load arrives once, none of them a repeat of another.
func TestSignalSendLoad(t *testing.T) {
	for name, args := range map[string][]string{"tcp": nil, "udp": {"--udp"}, "encrypted": {"--key"}, "at a rate": {"--rate", "2000"}} {
		t.Run(name, func(t *testing.T) {
			l := listen(t, 0, true)
			accounts := "4817,4818"
			if name == "encrypted" {
				accounts, args = "4816", []string{"--key", filepath.Join(t.TempDir(), "key")}
				if err := os.WriteFile(args[1], []byte(sendKey), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			code, out, errs := sendSignal(t, append([]string{l.addr, "--account", accounts, "--connections", "7", "--count", "100", "--json"}, args...)...)
			var r loaded
			if err := json.Unmarshal([]byte(out), &r); err != nil || code != Good || errs != "" {
				t.Fatalf("exit %d, %q, %q, %v", code, out, errs, err)
			}
			if r.Connections != 7 || r.Frames != 100 || r.Acknowledged != 100 || r.Silent != 0 || r.Refused != 0 || !(0 < r.P50 && r.P50 <= r.P99 && r.P99 <= r.P999 && r.P999 <= r.Longest) {
				t.Errorf("%+v", r)
			}
			seen := map[string]bool{}
			got := l.arrived()
			for _, r := range got {
				seen[signal.DuplicateKey(r.Frame)] = true
				if r.Err != nil || r.Encrypted != (name == "encrypted") {
					t.Errorf("%+v", r)
				}
			}
			if len(got) != 100 || len(seen) != 100 {
				t.Errorf("%d arrived, %d of them different", len(got), len(seen))
			}
		})
	}
	l := listen(t, 0, false)
	code, out, _ := sendSignal(t, l.addr, "--account", "4817", "--connections", "2", "--count", "3", "--timeout", "50ms")
	if code != NotGood || !strings.HasSuffix(out, "silent 3.\n") {
		t.Errorf("exit %d, %q", code, out)
	}
	// Broken off, it tells what it has.
	ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
	defer cancel()
	stop, now := context.WithCancel(t.Context())
	context.AfterFunc(ctx, now)
	var o, e bytes.Buffer
	code = Main(stop, []string{"signal", "send", l.addr, "--account", "4817", "--connections", "2", "--count", "300", "--timeout", "50ms"}, strings.NewReader(""), &o, &e)
	if code != NotGood || !strings.HasPrefix(o.String(), "Broken off. 2 connections, ") || e.Len() > 0 {
		t.Errorf("exit %d, %q, %q", code, o.String(), e.String())
	}
}

// A second load within five minutes is no repeat of the first one, which sent 30,000 a second at most.
func TestLoadsBeginApart(t *testing.T) {
	first := time.Date(2026, 9, 15, 14, 5, 9, 0, time.UTC)
	from := loadStart(first)
	for _, later := range []time.Duration{time.Millisecond, time.Second, time.Minute, 5 * time.Minute} {
		apart := (loadStart(first.Add(later)) - from + 9_999_000) % 9_999_000
		if want := int(later.Milliseconds()) * 30; apart != want {
			t.Errorf("%v later: %d frames apart, want %d", later, apart, want)
		}
	}
}

// Beyond 9999 the numbers begin anew, and the zone goes on.
func TestLoadNeverRepeats(t *testing.T) {
	f, err := message{Account: "4816", Sequence: 1, Code: "602", At: "2026-09-15T14:05:09Z"}.frame()
	if err != nil {
		t.Fatal(err)
	}
	l := &loader{frame: f, timeout: time.Second}
	if err := l.prepare(); err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for n := range 25_000 {
		l.fill(n)
		r := signal.Judge(l.raw)
		if r.Proposed != signal.Acknowledge || !bytes.Equal(r.Frame.Ack().Append(nil), l.reply) {
			t.Fatalf("%d: %q, %q", n, l.raw, l.reply)
		}
		seen[signal.DuplicateKey(r.Frame)] = true
	}
	if len(seen) != 25_000 {
		t.Errorf("%d different", len(seen))
	}
}
