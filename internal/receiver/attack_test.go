package receiver

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/netip"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"proofbell/signal"
	"proofbell/signal/signaltest"
)

// Each test here is named after what an attacker does. Beside it a well-behaved panel is
// answered all the same, and memory and goroutines stay bounded.

const attacker, panel = "192.0.2.66:4000", "192.0.2.7:4000"

func acknowledge(_ context.Context, r signal.Received) (signal.Verdict, error) {
	return r.Proposed, nil
}

// answeredWithin sends a NULL from an address of its own and wants it acknowledged within a time.
func answeredWithin(t *testing.T, p *pipes, remote string, most time.Duration) {
	t.Helper()
	c := p.dialFrom(remote)
	defer c.Close()
	begin := time.Now()
	write(t, c, check)
	if got := reply(t, c); got != checkAck {
		t.Errorf("the panel was answered %q", got)
	}
	if d := time.Since(begin); d > most {
		t.Errorf("the panel was answered after %v, want %v at most", d, most)
	}
}

// bounded fails when the heap grew by more than so many bytes since the call of bounded.
func bounded(t *testing.T, most uint64) (check func()) {
	heap := func() uint64 {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.HeapAlloc + m.StackInuse
	}
	before := heap()
	return func() {
		t.Helper()
		if after := heap(); after > before+most {
			t.Errorf("memory grew from %d to %d KB", before>>10, after>>10)
		}
	}
}

func TestFramesAsFastAsTheyGo(t *testing.T) {
	var delivered atomic.Int64
	cfg := Config{Deliver: func(ctx context.Context, r signal.Received) (signal.Verdict, error) {
		if strings.HasPrefix(r.Remote, "192.0.2.66") {
			delivered.Add(1)
		}
		return r.Proposed, nil
	}}
	inBubble(t, cfg, func(t *testing.T, r *Receiver, p *pipes) {
		const conns, seconds = 50, 10
		stop := time.Now().Add(seconds * time.Second)
		var wg sync.WaitGroup
		for range conns {
			c := p.dialFrom(attacker)
			wg.Go(func() {
				defer c.Close()
				go io.Copy(io.Discard, c)
				for time.Now().Before(stop) {
					if _, err := io.WriteString(c, strings.Repeat(check, 20)); err != nil {
						return
					}
				}
			})
		}
		time.Sleep(5 * time.Second)
		check := bounded(t, 4<<20)
		answeredWithin(t, p, panel, 0)
		answeredWithin(t, p, "192.0.2.66:5000", 2*conns*time.Second/500+10*time.Millisecond) // behind the same router: in its turn, to connect and to send
		check()
		wg.Wait()
		// 1000 at once and 500 a second; each connection may have sent a little ahead.
		if n, most := delivered.Load(), int64(1000+500*(seconds+1)+conns*20); n < 1000+500*(seconds-1) || n > most {
			t.Errorf("%d frames of the attacker were taken, want %d at most", n, most)
		}
		if r.Stats().Slowed == 0 {
			t.Error("nobody was slowed")
		}
	})
}

func TestDatagramsAsFastAsTheyGo(t *testing.T) {
	flood, err := net.DialUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 66)}, &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 9})
	if err != nil {
		t.Skip("this system has no second loopback address:", err)
	}
	flood.Close()
	var log bytes.Buffer
	var delivered atomic.Int64
	box := newInbox()
	r, addr := start(t, Config{Log: textLog(&log), Limits: Limits{FramesPerAddress: 1, Burst: 50}, Deliver: func(ctx context.Context, rec signal.Received) (signal.Verdict, error) {
		if strings.HasPrefix(rec.Remote, "127.0.0.66") {
			delivered.Add(1)
			return rec.Proposed, nil
		}
		return box.deliver(ctx, rec)
	}})
	to := net.UDPAddrFromAddrPort(netip.MustParseAddrPort(addr))
	if flood, err = net.DialUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 66)}, to); err != nil {
		t.Fatal(err)
	}
	defer flood.Close()
	joined := strings.Repeat(check, 100) // many frames in one datagram are no way around it
	good, err := net.Dial("udp", addr)
	if err != nil {
		t.Fatal(err)
	}
	defer good.Close()
	for n := range 20 {
		for range 100 {
			if _, err := io.WriteString(flood, joined); err != nil && !errors.Is(err, net.ErrClosed) {
				t.Fatal(err)
			}
			for r.Stats().Dropped == 0 { // let it be read
				runtime.Gosched()
			}
		}
		f := signal.Frame{ID: signal.IDNull, Sequence: 0, Account: fmt.Sprintf("%04X", n)}
		for !answered(good, f) { // what the system's buffer had no room for is sent again, as a panel does
		}
	}
	if n := delivered.Load(); n < 50 || n > 50+60 { // a second a frame; the test does not run for a minute
		t.Errorf("%d frames of the attacker were taken", n)
	}
	if !strings.Contains(log.String(), "datagram dropped") || strings.Count(log.String(), "\n") > 60 {
		t.Errorf("log: %.2000s", log.String())
	}
}

// answered sends a frame over UDP and waits for its reply a moment.
func answered(conn net.Conn, f signal.Frame) bool {
	ctx, cancel := context.WithTimeout(context.Background(), time.Second)
	defer cancel()
	reply, err := signal.Exchange(ctx, conn, f)
	return err == nil && reply.ID == signal.IDAck
}

func TestForgedAddresses(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := newHosts(Limits{}.withDefaults())
		check := bounded(t, 8<<20)
		admitted := 0
		for n := range 100_000 {
			if x := h.datagram(netip.AddrFrom4([4]byte{198, 51, byte(n >> 8), byte(n)}).Next()); x != nil {
				admitted++
				h.done(x)
			}
			if n%1000 == 0 {
				time.Sleep(time.Millisecond)
			}
		}
		for n := range 100_000 { // by IPv6 there are as many as one likes
			var a [16]byte
			a[0], a[4], a[5], a[6] = 0x20, byte(n>>16), byte(n>>8), byte(n)
			if x := h.datagram(wholeAddress(netip.AddrFrom16(a))); x != nil {
				h.done(x)
			}
			if x := h.connect(wholeAddress(netip.AddrFrom16(a)), 0); x == nil {
				t.Fatal("an address was not let in")
			} else {
				h.leave(wholeAddress(netip.AddrFrom16(a)), x)
			}
			if n%1000 == 0 {
				time.Sleep(time.Millisecond)
			}
		}
		if len(h.by) > manyHosts {
			t.Errorf("%d addresses are kept", len(h.by))
		}
		check()
		time.Sleep(2 * time.Second)
		if h.datagram(netip.MustParseAddr("192.0.2.7")) == nil {
			t.Error("a panel is dropped after the attack")
		}
	})
}

func TestALineWithoutAnEnd(t *testing.T) {
	box := newInbox()
	inBubble(t, Config{Deliver: box.deliver, Observe: box.fault}, func(t *testing.T, r *Receiver, p *pipes) {
		check := bounded(t, 2<<20)
		for _, begin := range []string{"\n", "x"} {
			c := p.dialFrom(attacker)
			began, sent := time.Now(), 0
			for line := begin + strings.Repeat("x", 1<<20); ; line = line[1:] + "x" {
				n, err := io.WriteString(c, line)
				if sent += n; err != nil {
					break
				}
				answeredWithin(t, p, panel, 0)
			}
			if d := time.Since(began); d > 61*time.Second {
				t.Errorf("line after %q: closed after %v", begin, d)
			}
			// 512 bytes are a frame: 1000 at once and 500 a second.
			if most := 512 * (1000 + 500*62); sent > most {
				t.Errorf("line after %q: %d bytes were read", begin, sent)
			}
			c.Close()
		}
		check()
	})
}

func TestEveryConnectionThereIs(t *testing.T) {
	inBubble(t, Config{Deliver: acknowledge, Limits: Limits{Conns: 100, ConnsPerAddress: 20}}, func(t *testing.T, r *Receiver, p *pipes) {
		var all []net.Conn
		for n := range 200 {
			all = append(all, p.dialFrom(fmt.Sprintf("192.0.2.%d:4000", 100+n%4))) // four addresses
		}
		synctest.Wait()
		if s := r.Stats(); s.Conns >= 90 || s.Conns+int(s.Refused) != 200 {
			t.Errorf("four addresses hold %d of 100 connections, %d refused", s.Conns, s.Refused)
		}
		answeredWithin(t, p, panel, 0)
		for _, c := range all {
			c.Close()
		}
		synctest.Wait()
		if n := r.Stats().Conns; n != 0 {
			t.Errorf("%d connections are still counted", n)
		}
	})
}

func TestConnectAndCloseAgainAndAgain(t *testing.T) {
	inBubble(t, Config{Deliver: acknowledge}, func(t *testing.T, r *Receiver, p *pipes) {
		begin := time.Now()
		refused := 0
		for range 5000 {
			c := p.dialFrom(attacker)
			if _, err := io.WriteString(c, "x"); err != nil {
				refused++
			}
			c.Close()
		}
		if d := time.Since(begin); refused == 0 && d < 7*time.Second {
			t.Errorf("5,000 connections of one address in %v", d)
		}
		answeredWithin(t, p, panel, 0)
	})
}

func TestRubbishFromOneAddress(t *testing.T) {
	var shown atomic.Int64
	var log bytes.Buffer
	cfg := Config{Deliver: acknowledge, Log: textLog(&log), Observe: func(o Observation) {
		if o.Damaged() {
			shown.Add(1)
		}
	}}
	inBubble(t, cfg, func(t *testing.T, r *Receiver, p *pipes) {
		for range 1000 {
			c := p.dialFrom(attacker)
			_, _ = io.WriteString(c, strings.Repeat("\nFFFF"+check[5:], 30)) // it is closed before the end
			c.Close()
		}
		answeredWithin(t, p, "192.0.2.66:5000", time.Second) // a panel behind the same router
		answeredWithin(t, p, panel, 0)
		s := r.Stats()
		if n := shown.Load(); n < 300 || n > 400 { // 300 a minute, and that took less than twenty seconds
			t.Errorf("%d of %d faults were shown", n, s.Faults["checksum"])
		}
		if n := s.Faults["checksum"]; n < 1000 {
			t.Errorf("%d faults were counted", n)
		}
		if n := strings.Count(log.String(), "\n"); n > 30 {
			t.Errorf("%d lines of log", n)
		}
	})
}

func TestRepliesThatNobodyReads(t *testing.T) {
	r, addr := start(t, Config{Deliver: acknowledge, Limits: Limits{Write: 50 * time.Millisecond, FramesPerAddress: 1e6, Burst: 1e6}})
	check := bounded(t, 8<<20)
	deaf, err := net.Dial("tcp", addr)
	if err != nil {
		t.Fatal(err)
	}
	defer deaf.Close()
	if err := deaf.(*net.TCPConn).SetReadBuffer(4096); err != nil {
		t.Fatal(err)
	}
	for r.Stats().Conns == 0 {
		runtime.Gosched()
	}
	r.mu.Lock()
	for c := range r.closers {
		if p, ok := c.(*peer); ok {
			err = errors.Join(err, p.Conn.(*net.TCPConn).SetWriteBuffer(4096)) // the system would keep megabytes of replies
		}
	}
	r.mu.Unlock()
	if err != nil {
		t.Fatal(err)
	}
	many := []byte(strings.Repeat(fire, 1000))
	for {
		if _, err := deaf.Write(many); err != nil {
			break // it was closed
		}
	}
	signaltest.Dial(t, "tcp", addr).Exchange(signal.Frame{ID: signal.IDNull, Account: "4816"})
	if s := r.Stats(); s.RepliesLost != 1 {
		t.Errorf("%+v", s)
	}
	check()
}

// The receiver's clock is set by whoever keeps the machine. Nothing that waits depends on it.
func TestClockSetBackAndForth(t *testing.T) {
	key, err := signal.ParseKey("000102030405060708090a0b0c0d0e0f")
	if err != nil {
		t.Fatal(err)
	}
	var clock atomic.Pointer[time.Time]
	set := func(at time.Time) { clock.Store(&at) }
	set(now)
	cfg := Config{
		Deliver: acknowledge, Now: func() time.Time { return *clock.Load() },
		Secret: func(_, account string) signal.Secret {
			if account == "1234" {
				return signal.Secret{}
			}
			return signal.Secret{Key: key}
		},
	}
	inBubble(t, cfg, func(t *testing.T, r *Receiver, p *pipes) {
		open := p.dialFrom(panel)
		defer open.Close()
		for _, jump := range []time.Duration{0, 24 * time.Hour, -20 * 365 * 24 * time.Hour, time.Hour} {
			set(now.Add(jump))
			write(t, open, check)
			if got := reply(t, open); got != checkAck {
				t.Errorf("after %v: answered %q", jump, got)
			}
			f := signal.Frame{ID: signal.IDNull, Account: "4816", Timestamp: signal.FormatTimestamp(now)}
			sealed, err := f.Encrypt(key, []byte("0123456789abcdef"))
			if err != nil {
				t.Fatal(err)
			}
			raw, err := sealed.Encode()
			if err != nil {
				t.Fatal(err)
			}
			write(t, open, string(raw))
			got, err := signal.ParseReply([]byte(reply(t, open)))
			if err != nil || (got.ID == signal.IDNak) != (jump != 0) {
				t.Errorf("after %v: an encrypted frame is answered %v, %v", jump, got, err)
			}
			if stamp, ok := got.Time(); jump != 0 && (!ok || !stamp.Equal(now.Add(jump))) {
				t.Errorf("after %v: the receiver says its time is %v", jump, stamp)
			}
			time.Sleep(50 * time.Second) // under the limit each time: it counts from the last frame
		}
	})
}
