package receiver

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"proofbell/signal"
	"proofbell/signal/signaltest"
)

var now = time.Date(2026, time.September, 15, 9, 30, 0, 0, time.UTC)

// inbox keeps what was delivered and gives the verdict proposed, as app does inside an open
// test window.
type inbox struct {
	mu     sync.Mutex
	got    []signal.Received
	faults []Observation
	seen   chan string // "" for a delivery, the cause for a fault
}

// What the standard leaves open is chosen by who runs the receiver.
func TestReceiverKeepsItsPolicy(t *testing.T) {
	key, err := signal.ParseKey("0123456789abcdef0123456789abcdef")
	if err != nil {
		t.Fatal(err)
	}
	other, err := signal.ParseKey("larkwater mill!!")
	if err != nil {
		t.Fatal(err)
	}
	deliver := func(_ context.Context, r signal.Received) (signal.Verdict, error) { return r.Proposed, nil }
	secret := func(string, string) signal.Secret { return signal.Secret{Key: key} }
	for name, c := range map[string]struct {
		policy signal.Policy
		key    signal.Key
		want   error
	}{
		"30 s old":                     {signal.Policy{}, key, nil},
		"30 s old, 29 allowed":         {signal.Policy{Age: 29 * time.Second}, key, signal.ErrTimeRefused},
		"another key":                  {signal.Policy{}, other, signal.ErrNotUnderstood},
		"another key, NAK asked for":   {signal.Policy{NakUndecryptable: true}, other, signal.ErrTimeRefused},
		"the secret is the receiver's": {signal.Policy{Secret: func(string, string) signal.Secret { return signal.Secret{} }}, key, nil},
	} {
		_, addr := start(t, Config{Deliver: deliver, Secret: secret, Policy: c.policy})
		sender := signal.Sender{
			Attempts: 1, Key: c.key, Now: func() time.Time { return now.Add(-30 * time.Second) }, Random: rand.Reader,
			Dial: func(ctx context.Context) (signal.Conn, error) {
				var d net.Dialer
				return d.DialContext(ctx, "tcp", addr)
			},
		}
		_, err := sender.Send(t.Context(), signal.Frame{ID: signal.IDNull, Account: "4816"})
		if c.want == nil && err != nil || !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
}

func newInbox() *inbox { return &inbox{seen: make(chan string, 1000)} }

func (b *inbox) deliver(_ context.Context, r signal.Received) (signal.Verdict, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.got = append(b.got, r)
	b.seen <- ""
	return r.Proposed, nil
}

func (b *inbox) fault(f Observation) {
	if !f.Damaged() {
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.faults = append(b.faults, f)
	b.seen <- signal.Cause(f.Err)
}

func (b *inbox) raws() (raws []string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, r := range b.got {
		raws = append(raws, string(r.Raw))
	}
	return raws
}

func (b *inbox) causes() (causes []string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, f := range b.faults {
		causes = append(causes, signal.Cause(f.Err))
	}
	return causes
}

func newReceiver(t *testing.T, cfg Config) *Receiver {
	t.Helper()
	if cfg.ID == "" {
		cfg.ID = "r1"
	}
	if cfg.Now == nil {
		cfg.Now = func() time.Time { return now }
	}
	r, err := New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// start runs a receiver on loopback, and sees to it that all of it has ended with the test.
func start(t *testing.T, cfg Config) (*Receiver, string) {
	t.Helper()
	r := newReceiver(t, cfg)
	addr, err := r.Listen(t.Context(), "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { shutdown(t, r) })
	return r, addr.String()
}

func shutdown(t *testing.T, r *Receiver) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	if err := r.Shutdown(ctx); err != nil {
		t.Errorf("shutting down: %v", err)
	}
	if n := r.Stats().Conns; n != 0 {
		t.Errorf("%d connections outlived the receiver", n)
	}
}

const (
	fire     = "\n7AB00027\"ADM-CID\"0004L0#1234[#1234|3110 01 005]\r"
	check    = "\n1EF20013\"NULL\"0000L0#1234[]\r"
	checkAck = "\nDE900012\"ACK\"0000L0#1234[]\r"
)

func fireAck(t *testing.T) string {
	f, err := signal.ParseFrame([]byte(fire))
	if err != nil {
		t.Fatal(err)
	}
	return string(f.Ack().Append(nil))
}

type vector struct{ name, answer, frame, reply string }

// readVectors reads signal/testdata/frames.txt; the README there says what the keys mean.
func readVectors(t *testing.T) []vector {
	t.Helper()
	text, err := os.ReadFile("../../signal/testdata/frames.txt")
	if err != nil {
		t.Fatal(err)
	}
	var vectors []vector
	for block := range strings.SplitSeq(string(text), "\n\n") {
		var v vector
		for line := range strings.SplitSeq(strings.Trim(block, "\n"), "\n") {
			key, value, _ := strings.Cut(line, ": ")
			raw, _ := hex.DecodeString(value)
			switch key {
			case "name":
				v.name = value
			case "answer":
				v.answer = value
			case "frame":
				v.frame = string(raw)
			case "reply":
				v.reply = string(raw)
			}
		}
		if v.frame != "" {
			vectors = append(vectors, v)
		}
	}
	return vectors
}

// Each line of the decision table, as vectors: over each transport, exactly the reply that
// stands in the file and not one byte more.
func TestVectors(t *testing.T) {
	vectors := readVectors(t)
	if len(vectors) < 100 {
		t.Fatalf("only %d vectors", len(vectors))
	}
	for _, v := range vectors {
		t.Run(v.name, func(t *testing.T) {
			box := newInbox()
			_, addr := start(t, Config{Deliver: box.deliver, Observe: box.fault})

			tcp := signaltest.Dial(t, "tcp", addr)
			tcp.Write(v.frame)
			if got := tcp.Rest(); got != v.reply {
				t.Errorf("tcp: answered %q, want %q", got, v.reply)
			}
			stored := v.answer == "ack" || v.answer == "duh"
			if n := len(box.raws()); stored && (n != 1 || box.raws()[0] != v.frame) || !stored && n != 0 {
				t.Errorf("tcp: delivered %q", box.raws())
			}
			if n := len(box.causes()); stored == (n > 0) {
				t.Errorf("tcp: faults %q", box.causes())
			}
			for len(box.seen) > 0 {
				<-box.seen
			}

			udp := signaltest.Dial(t, "udp", addr)
			udp.Write(v.frame)
			cause := <-box.seen
			if stored != (cause == "") {
				t.Errorf("udp: %q", cause)
			}
			if stored {
				if got := string(udp.Reply().Append(nil)); got != v.reply {
					t.Errorf("udp: answered %q, want %q", got, v.reply)
				}
			}
			if !stored { // whatever came out for the frame would stand before this
				udp.Write(check)
				if got := string(udp.Reply().Append(nil)); got != checkAck {
					t.Errorf("udp: answered %q", got)
				}
			}
		})
	}
}

func TestReceived(t *testing.T) {
	box := newInbox()
	_, addr := start(t, Config{Deliver: box.deliver, Observe: box.fault, ID: "north", Now: func() time.Time { return now.In(time.FixedZone("", 3600)) }})
	for _, network := range []string{"tcp", "udp"} {
		x := signaltest.Dial(t, network, addr)
		x.Exchange(signaltest.ContactID(t, "4816", 9999, signal.New, "111", 1, 9))
		x.Write("\nFFFF" + fire[5:])
		<-box.seen
		<-box.seen
	}
	for i, r := range box.got {
		if want := []string{"tcp", "udp"}[i]; r.Transport != want || r.Receiver != "north" || r.At != now || !strings.HasPrefix(r.Remote, "127.0.0.1:") {
			t.Errorf("received %+v", r)
		}
		if len(r.Events) != 1 || r.Events[0].Code != "111" || r.Events[0].Number != 9 || r.Frame.Sequence != 9999 {
			t.Errorf("events %+v", r.Events)
		}
	}
	for i, f := range box.faults {
		if want := []string{"tcp", "udp"}[i]; f.Transport != want || f.Receiver != "north" || f.At != now || !errors.Is(f.Err, signal.ErrCRC) || f.Frame.Account != "1234" {
			t.Errorf("fault %+v", f)
		}
	}
}

func TestStreamOverTCP(t *testing.T) {
	ack := fireAck(t)
	for name, c := range map[string]struct {
		stream string
		want   string
		faults []string
	}{
		"joined":           {fire + check + fire, ack + checkAck + ack, nil},
		"line ends":        {fire + "\n" + check + "\r\n\x00" + fire, ack + checkAck + ack, nil},
		"garbage between":  {"hello" + fire + "GET /" + check, ack + checkAck, []string{"garbage", "garbage"}},
		"cut by the next":  {fire[:17] + check, checkAck, []string{"truncated"}},
		"cut by the close": {check + fire[:17], checkAck, []string{"truncated"}},
		"a megabyte":       {"\n" + strings.Repeat("x", 1<<20) + check, checkAck, []string{"too long"}},
		"bad, then good":   {"\nFFFF" + fire[5:] + fire, ack, []string{"checksum"}},
	} {
		t.Run(name, func(t *testing.T) {
			box := newInbox()
			_, addr := start(t, Config{Deliver: box.deliver, Observe: box.fault})
			x := signaltest.Dial(t, "tcp", addr)
			x.Write(c.stream)
			if got := x.Rest(); got != c.want {
				t.Errorf("answered %q, want %q", got, c.want)
			}
			if got := box.causes(); !slices.Equal(got, c.faults) {
				t.Errorf("faults %q, want %q", got, c.faults)
			}
		})
	}
}

func TestSeveralFramesInADatagram(t *testing.T) {
	box := newInbox()
	_, addr := start(t, Config{Deliver: box.deliver, Observe: box.fault})
	x := signaltest.Dial(t, "udp", addr)
	x.Write("abc" + fire + check + fire[:9])
	if one, two := string(x.Reply().Append(nil)), string(x.Reply().Append(nil)); one != fireAck(t) || two != checkAck {
		t.Errorf("answered %q and %q", one, two)
	}
	for range 4 {
		<-box.seen
	}
	if got, want := box.causes(), []string{"garbage", "truncated"}; !slices.Equal(got, want) {
		t.Errorf("faults %q, want %q", got, want)
	}
}

// Outside a window the verdict is silence: not one byte goes out, in 10,000 frames of all kinds.
func TestSilence(t *testing.T) {
	var stored atomic.Int64
	r, addr := start(t, Config{Limits: Limits{FramesPerAddress: 1e6, FaultsPerAddress: 1e6}, Deliver: func(context.Context, signal.Received) (signal.Verdict, error) {
		stored.Add(1)
		return signal.StaySilent, nil
	}})
	x := signaltest.Dial(t, "tcp", addr)
	sent, sound := 0, 0
	for sent < 10_000 {
		for _, v := range readVectors(t) {
			x.Write(v.frame + fire) // a sound one after each keeps the connection
			sent, sound = sent+2, sound+1
			if v.answer == "ack" || v.answer == "duh" {
				sound++
			}
		}
	}
	if got := x.Rest(); got != "" {
		t.Errorf("answered %.100q", got)
	}
	if s := r.Stats(); int(stored.Load()) != sound || int(s.Silent) != sound || int(s.Messages) != sound {
		t.Errorf("%d of %d sound frames stored, %+v", stored.Load(), sound, s)
	}
}

func TestAddressOf(t *testing.T) {
	for addr, want := range map[string]string{
		"192.0.2.7:5090": "192.0.2.7", "[::ffff:192.0.2.7]:5090": "192.0.2.7",
		"[2001:db8:1:2:3:4:5:6]:5090": "2001:db8:1:2::", "[2001:db8:1:2:ffff::1]:1": "2001:db8:1:2::", "[fe80::1%lo]:1": "fe80::", "pipe": "invalid IP",
	} {
		if got := addressOf(&net.UnixAddr{Name: addr}).String(); got != want {
			t.Errorf("%s counts as %s, want %s", addr, got, want)
		}
	}
}

// What could not be stored is not answered; the sender's repeat is.
func TestNotStored(t *testing.T) {
	var log bytes.Buffer
	broken := true
	r, addr := start(t, Config{Log: textLog(&log), Deliver: func(_ context.Context, r signal.Received) (signal.Verdict, error) {
		if broken {
			broken = false
			return r.Proposed, errors.New("disk full")
		}
		return r.Proposed, nil
	}})
	x := signaltest.Dial(t, "tcp", addr)
	x.Write(fire + fire)
	if got := x.Rest(); got != fireAck(t) {
		t.Errorf("answered %q", got)
	}
	if s := r.Stats(); s.NotStored != 1 || s.Acknowledged != 1 {
		t.Errorf("%+v", s)
	}
	if text := log.String(); !strings.Contains(text, "disk full") || !strings.Contains(text, "account=1234") {
		t.Errorf("log: %s", text)
	}
}

// A verdict never makes an answer larger than the table allows.
func TestVerdictIsBounded(t *testing.T) {
	unknown := signal.Frame{ID: "XYZ", Sequence: 3, Prefix: "L0", Account: "1234"}
	sound := signaltest.ContactID(t, "1234", 3, signal.New, "111", 1, 9)
	for _, c := range []struct {
		frame   signal.Frame
		verdict signal.Verdict
		want    string
	}{
		{sound, signal.Acknowledge, "ACK"},
		{sound, signal.CannotProcess, "DUH"},
		{sound, signal.RefuseTime, ""},
		{sound, signal.StaySilent, ""},
		{sound, 99, ""},
		{unknown, signal.Acknowledge, "DUH"},
		{unknown, signal.CannotProcess, "DUH"},
		{unknown, signal.StaySilent, ""},
	} {
		_, addr := start(t, Config{Deliver: func(context.Context, signal.Received) (signal.Verdict, error) { return c.verdict, nil }})
		x := signaltest.Dial(t, "tcp", addr)
		x.Send(c.frame)
		got, id := x.Rest(), ""
		if got != "" {
			reply, err := signal.ParseReply([]byte(got))
			if err != nil {
				t.Error(err)
			}
			id = reply.ID
		}
		if id != c.want {
			t.Errorf("%s with verdict %v: answered %q", c.frame.ID, c.verdict, got)
		}
	}
}

// Sender and receiver, each with its own clock: encrypted both ways, and a wrong clock is put right by NAK.
func TestEncrypted(t *testing.T) {
	key, err := signal.ParseKey("000102030405060708090a0b0c0d0e0f")
	if err != nil {
		t.Fatal(err)
	}
	other, err := signal.ParseKey("ffffffffffffffffffffffffffffffff")
	if err != nil {
		t.Fatal(err)
	}
	box := newInbox()
	r, addr := start(t, Config{Deliver: box.deliver, Secret: func(prefix, account string) signal.Secret {
		if account == "4816" {
			return signal.Secret{Key: key, EncryptedOnly: true}
		}
		return signal.Secret{}
	}})
	sender := func(key signal.Key, wrong time.Duration) signal.Sender {
		return signal.Sender{
			Key: key, Now: func() time.Time { return now.Add(wrong) }, Random: rand.Reader, Attempts: 2,
			Dial: func(ctx context.Context) (signal.Conn, error) {
				var d net.Dialer
				return d.DialContext(ctx, "tcp", addr)
			},
		}
	}
	f := signaltest.ContactID(t, "4816", 1, signal.New, "111", 1, 9)

	receipt, err := sender(key, 0).Send(t.Context(), f)
	if err != nil || receipt.Attempts != 1 || receipt.Reply.ID != signal.IDAck {
		t.Errorf("%+v, %v", receipt, err)
	}
	if len(box.got) != 1 || !box.got[0].Encrypted || len(box.got[0].Events) != 1 || box.got[0].Events[0].Code != "111" || strings.Contains(string(box.got[0].Raw), "111 01") {
		t.Errorf("received %+v", box.got)
	}
	receipt, err = sender(key, -3*time.Hour).Send(t.Context(), f)
	if err != nil || receipt.Attempts != 2 || receipt.Offset != 3*time.Hour {
		t.Errorf("with a clock three hours slow: %+v, %v", receipt, err)
	}
	for name, s := range map[string]signal.Sender{"wrong key": sender(other, 0), "in clear": sender(signal.Key{}, 0)} {
		if _, err := s.Send(t.Context(), f); !errors.Is(err, signal.ErrNotUnderstood) {
			t.Errorf("%s: %v", name, err)
		}
	}
	var causes []string
	for _, r := range box.got[1:] {
		causes = append(causes, signal.Cause(r.Err))
	}
	slices.Sort(causes)
	if want := []string{"", "does not decrypt", "not encrypted", "time stamp"}; !slices.Equal(causes, want) {
		t.Errorf("causes %q, want %q", causes, want)
	}
	if s := r.Stats(); s.Acknowledged != 2 || s.TimeRefused != 1 || s.CannotProcess != 2 {
		t.Errorf("%+v", s)
	}
}

func TestConnectionLimits(t *testing.T) {
	box := newInbox()
	var log bytes.Buffer
	r, addr := start(t, Config{Deliver: box.deliver, Log: textLog(&log), Limits: Limits{Conns: 5, ConnsPerAddress: 2}})
	first, second := signaltest.Dial(t, "tcp", addr), signaltest.Dial(t, "tcp", addr)
	for _, x := range []*signaltest.Transmitter{first, second} {
		x.Exchange(signal.Frame{ID: signal.IDNull, Account: "4816"})
	}
	third, err := net.Dial("tcp", addr)
	if err != nil {
		t.Fatal(err)
	}
	defer third.Close()
	if _, err := third.Read(make([]byte, 1)); err == nil {
		t.Error("a third connection of one address is read")
	}
	second.Rest()
	// The receiver closed its end before it gave the place free: ask until it has.
	for r.Stats().Conns > 1 {
		runtime.Gosched()
	}
	signaltest.Dial(t, "tcp", addr).Exchange(signal.Frame{ID: signal.IDNull, Account: "4816"})
	first.Exchange(signal.Frame{ID: signal.IDNull, Account: "4816"})
	if s := r.Stats(); s.Refused != 1 || s.Accepted != 3 {
		t.Errorf("%+v", s)
	}
	if !strings.Contains(log.String(), "too many") {
		t.Errorf("log: %s", log.String())
	}
}

func TestManySenders(t *testing.T) {
	box := newInbox()
	r, addr := start(t, Config{Deliver: box.deliver, Observe: box.fault})
	const senders, frames = 16, 25
	var wg sync.WaitGroup
	for i := range senders {
		network := []string{"tcp", "udp"}[i%2]
		x := signaltest.Dial(t, network, addr)
		wg.Go(func() {
			for n := 1; n <= frames; n++ {
				f := signal.Frame{ID: signal.IDContactID, Sequence: n, Prefix: "L0", Account: fmt.Sprintf("A%X", i), Data: fmt.Sprintf("|1111 01 %03d", i)}
				x.Send(f)
				if reply := x.Reply(); reply.ID != signal.IDAck || !reply.Answers(f) {
					t.Errorf("%v answered with %v", f, reply)
				}
			}
		})
	}
	wg.Wait()
	seen := map[string]int{}
	for _, raw := range box.raws() {
		seen[raw]++
	}
	if s := r.Stats(); len(seen) != senders*frames || s.Acknowledged != senders*frames || len(box.causes()) != 0 {
		t.Errorf("%d different frames, %+v", len(seen), s)
	}
}

func TestListenRefuses(t *testing.T) {
	box := newInbox()
	r, addr := start(t, Config{Deliver: box.deliver})
	for _, bad := range []string{"", "5090", "127.0.0.1", addr} {
		if a, err := r.Listen(t.Context(), bad); err == nil {
			t.Errorf("%q: listening on %v", bad, a)
		}
	}
	if _, err := New(Config{ID: "r1"}); err == nil {
		t.Error("a receiver without a place to deliver to was made")
	}
}

// A key that is changed while a signal is stored does not reach its reply: the sender knows the old one.
func TestTheReplyHasTheKeyOfItsFrame(t *testing.T) {
	key, other := signal.Key{}, signal.Key{}
	for i, k := range []*signal.Key{&key, &other} {
		var err error
		if *k, err = signal.ParseKey([]string{"000102030405060708090A0B0C0D0E0F", "0F0E0D0C0B0A09080706050403020100"}[i]); err != nil {
			t.Fatal(err)
		}
	}
	var changed atomic.Bool
	deliver := func(_ context.Context, r signal.Received) (signal.Verdict, error) {
		changed.Store(true)
		return r.Proposed, nil
	}
	_, addr := start(t, Config{Deliver: deliver, Secret: func(string, string) signal.Secret {
		if changed.Load() {
			return signal.Secret{Key: other}
		}
		return signal.Secret{Key: key}
	}})
	sender := signal.Sender{
		Attempts: 1, Key: key, Now: func() time.Time { return now }, Random: rand.Reader,
		Dial: func(ctx context.Context) (signal.Conn, error) {
			var d net.Dialer
			return d.DialContext(ctx, "tcp", addr)
		},
	}
	if receipt, err := sender.Send(t.Context(), signal.Frame{ID: signal.IDNull, Account: "4816"}); err != nil || receipt.Reply.ID != signal.IDAck {
		t.Errorf("%+v, %v", receipt, err)
	}
}

// An address is kept for as long as anything of it is in work.
func TestAnAddressIsKeptWhileItsDatagramsAreInWork(t *testing.T) {
	h := newHosts(Limits{}.withDefaults())
	for n := range manyHosts + 1 {
		h.connect(netip.AddrFrom4([4]byte{10, byte(n >> 16), byte(n >> 8), byte(n)}), n)
	}
	a := netip.MustParseAddr("192.0.2.1")
	x := h.connect(a, 0)
	if h.datagram(a) != x {
		t.Fatal("another entry for the same address")
	}
	h.leave(a, x)
	if h.datagram(a) != x || x.datagrams != 2 {
		t.Error("forgotten with a datagram in work")
	}
}
