package receiver

import (
	"bytes"
	"context"
	"errors"
	"io"
	"log/slog"
	"net"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"proofbell/signal"
)

func textLog(w io.Writer) *slog.Logger { return slog.New(slog.NewTextHandler(w, nil)) }

// pipes is a listener whose connections are pipes, so that time is the test's own. What is
// sent on errs is an accept error.
type pipes struct {
	conns chan net.Conn
	errs  chan error
	done  chan struct{}
}

func newPipes() *pipes {
	return &pipes{conns: make(chan net.Conn), errs: make(chan error), done: make(chan struct{})}
}

func (p *pipes) Accept() (net.Conn, error) {
	select {
	case c := <-p.conns:
		return c, nil
	case err := <-p.errs:
		return nil, err
	case <-p.done:
		return nil, net.ErrClosed
	}
}

func (p *pipes) Close() error {
	select {
	case <-p.done:
		return net.ErrClosed
	default:
		close(p.done)
		return nil
	}
}

func (p *pipes) Addr() net.Addr { return &net.UnixAddr{Name: "pipes"} }

func (p *pipes) dial() net.Conn { return p.dialFrom("pipe") }

// dialFrom connects as if from another machine.
func (p *pipes) dialFrom(remote string) net.Conn {
	here, there := net.Pipe()
	p.conns <- from{there, remote}
	return here
}

type from struct {
	net.Conn
	remote string
}

func (f from) RemoteAddr() net.Addr { return &net.UnixAddr{Name: f.remote} }

// inBubble runs a receiver on pipes; it must have ended, with all its goroutines, when do has.
func inBubble(t *testing.T, cfg Config, do func(t *testing.T, r *Receiver, p *pipes)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		r := newReceiver(t, cfg)
		p := newPipes()
		if !r.own(p) {
			t.Fatal("a new receiver is draining")
		}
		r.work.Go(func() { r.accept(p) })
		do(t, r, p)
		shutdown(t, r)
	})
}

func write(t *testing.T, c net.Conn, s string) {
	t.Helper()
	if _, err := io.WriteString(c, s); err != nil {
		t.Fatalf("writing %q: %v", s, err)
	}
}

func reply(t *testing.T, c net.Conn) string {
	t.Helper()
	buf := make([]byte, signal.MaxFrame)
	n, err := c.Read(buf)
	if err != nil {
		t.Fatalf("reading a reply: %v", err)
	}
	return string(buf[:n])
}

// closedAfter waits until the receiver closes the connection, and tells after what time.
func closedAfter(t *testing.T, c net.Conn) time.Duration {
	t.Helper()
	begin := time.Now()
	if rest, err := io.ReadAll(c); err != nil || len(rest) > 0 {
		t.Errorf("before the close came %q, %v", rest, err)
	}
	return time.Since(begin)
}

func TestNoAckBeforeDelivery(t *testing.T) {
	var stored chan signal.Verdict
	cfg := Config{Deliver: func(context.Context, signal.Received) (signal.Verdict, error) { return <-stored, nil }}
	inBubble(t, cfg, func(t *testing.T, r *Receiver, p *pipes) {
		stored = make(chan signal.Verdict)
		c := p.dial()
		defer c.Close()
		answers := make(chan string)
		go func() { answers <- reply(t, c) }()
		write(t, c, check)
		time.Sleep(time.Hour) // all are blocked: the delivery on us, the peer on its reply
		select {
		case got := <-answers:
			t.Fatalf("%q was sent before the signal was stored", got)
		default:
		}
		stored <- signal.Acknowledge
		if got := <-answers; got != checkAck {
			t.Errorf("answered %q", got)
		}
	})
}

func TestFrameCutAtEveryByte(t *testing.T) {
	box := newInbox()
	inBubble(t, Config{Deliver: box.deliver, Observe: box.fault}, func(t *testing.T, r *Receiver, p *pipes) {
		c := p.dial()
		defer c.Close()
		for i := 1; i < len(fire); i++ {
			write(t, c, fire[:i])
			time.Sleep(9 * time.Second) // slow, and still in time
			write(t, c, fire[i:])
			if got := reply(t, c); got != fireAck(t) {
				t.Fatalf("cut at %d: answered %q", i, got)
			}
		}
		if len(box.got) != len(fire)-1 || len(box.faults) != 0 {
			t.Errorf("%d delivered, faults %q", len(box.got), box.causes())
		}
	})
}

func TestSlowPeers(t *testing.T) {
	box := newInbox()
	inBubble(t, Config{Deliver: box.deliver, Observe: box.fault}, func(t *testing.T, r *Receiver, p *pipes) {
		idle := p.dial()
		if d := closedAfter(t, idle); d != 60*time.Second {
			t.Errorf("idle from the start: closed after %v, want 60 s", d)
		}

		used := p.dial()
		time.Sleep(59 * time.Second)
		write(t, used, check)
		reply(t, used)
		if d := closedAfter(t, used); d != 60*time.Second {
			t.Errorf("idle after a frame: closed after %v, want 60 s", d)
		}

		stuck := p.dial()
		time.Sleep(30 * time.Second)
		write(t, stuck, fire[:9])
		if d := closedAfter(t, stuck); d != 10*time.Second {
			t.Errorf("stuck in a frame: closed after %v, want 10 s", d)
		}

		late := p.dial() // begins at the end of the idle time, and has its 10 s
		time.Sleep(59 * time.Second)
		write(t, late, fire[:9])
		time.Sleep(9 * time.Second)
		write(t, late, fire[9:])
		reply(t, late)
		late.Close()

		// A byte now and then keeps nothing open: neither inside a frame nor between frames.
		for name, c := range map[string]struct {
			drip string
			want time.Duration
		}{
			"bytes of a frame": {"\n" + strings.Repeat("7", 100), 10 * time.Second},
			"line feeds":       {strings.Repeat("\n", 100), 10 * time.Second},
			"garbage":          {strings.Repeat("x", 100), 60 * time.Second},
		} {
			c1 := p.dial()
			begin := time.Now()
			for i := range c.drip {
				if _, err := io.WriteString(c1, c.drip[i:i+1]); err != nil {
					break
				}
				time.Sleep(time.Second)
			}
			// The drip sees the close at its next byte, so up to a second late.
			if d := time.Since(begin); d < c.want || d > c.want+time.Second {
				t.Errorf("%s: closed after %v, want %v", name, d, c.want)
			}
			c1.Close()
		}
		if want := "truncated"; box.causes()[0] != want {
			t.Errorf("faults %q", box.causes())
		}
	})
}

// A peer that does not read its reply costs five seconds, not a goroutine.
func TestPeerDoesNotRead(t *testing.T) {
	box := newInbox()
	var log bytes.Buffer
	inBubble(t, Config{Deliver: box.deliver, Log: textLog(&log)}, func(t *testing.T, r *Receiver, p *pipes) {
		c := p.dial()
		defer c.Close()
		write(t, c, check)
		time.Sleep(4999 * time.Millisecond)
		synctest.Wait()
		if s := r.Stats(); s.Conns != 1 || s.RepliesLost != 0 {
			t.Errorf("before the limit: %+v", s)
		}
		time.Sleep(2 * time.Millisecond)
		synctest.Wait()
		if s := r.Stats(); s.Conns != 0 || s.RepliesLost != 1 || len(box.got) != 1 {
			t.Errorf("after the limit: %+v", s)
		}
		if !strings.Contains(log.String(), "reply not sent") {
			t.Errorf("log: %s", log.String())
		}
	})
}

func TestGarbageClosesAtLast(t *testing.T) {
	box := newInbox()
	inBubble(t, Config{Deliver: box.deliver, Observe: box.fault}, func(t *testing.T, r *Receiver, p *pipes) {
		c := p.dial()
		for range 19 {
			write(t, c, "\nFFFF"+check[5:])
		}
		write(t, c, check)
		if got := reply(t, c); got != checkAck {
			t.Errorf("answered %q", got)
		}
		for range 20 { // a sound frame began the count anew
			write(t, c, "\nFFFF"+check[5:])
		}
		if d := closedAfter(t, c); d != 0 {
			t.Errorf("closed after %v", d)
		}
		if n := r.Stats().Faults["checksum"]; n != 39 {
			t.Errorf("%d faults", n)
		}
	})
}

func TestAcceptErrorsBackOff(t *testing.T) {
	box := newInbox()
	var log bytes.Buffer
	inBubble(t, Config{Deliver: box.deliver, Log: textLog(&log)}, func(t *testing.T, r *Receiver, p *pipes) {
		begin := time.Now()
		for range 12 {
			p.errs <- errors.New("too many open files")
		}
		c := p.dial()
		// Between 12 errors and the connection: 5, 10, 20 ... 640 ms are 8 pauses of 1275 ms, then 4 of a second.
		if d := time.Since(begin); d != 5275*time.Millisecond {
			t.Errorf("went on after %v", d)
		}
		write(t, c, check)
		if got := reply(t, c); got != checkAck {
			t.Errorf("answered %q", got)
		}
		c.Close()
		if n := r.Stats().AcceptErrors; n != 12 || strings.Count(log.String(), "too many open files") != 12 {
			t.Errorf("%d errors counted; log: %s", n, log.String())
		}
	})
}

func TestShutdownDrains(t *testing.T) {
	var gate chan struct{}
	box := newInbox()
	cfg := Config{Deliver: func(ctx context.Context, r signal.Received) (signal.Verdict, error) {
		<-gate
		return box.deliver(ctx, r)
	}}
	inBubble(t, cfg, func(t *testing.T, r *Receiver, p *pipes) {
		gate = make(chan struct{})
		idle, inFrame, busy := p.dial(), p.dial(), p.dial()
		write(t, inFrame, fire[:9])
		answers := make(chan string)
		go func() { answers <- reply(t, busy) }()
		write(t, busy, check)
		synctest.Wait()

		ended := make(chan error)
		go func() { ended <- r.Shutdown(context.Background()) }()
		for _, c := range []net.Conn{idle, inFrame} {
			if d := closedAfter(t, c); d != 0 {
				t.Errorf("closed after %v", d)
			}
		}
		time.Sleep(time.Minute)
		select {
		case err := <-ended:
			t.Fatalf("shut down with a signal in hand: %v", err)
		default:
		}
		close(gate)
		if got := <-answers; got != checkAck {
			t.Errorf("the signal in hand was answered %q", got)
		}
		if err := <-ended; err != nil {
			t.Error(err)
		}
		if len(box.got) != 1 {
			t.Errorf("%d delivered", len(box.got))
		}
		if _, err := r.Listen(t.Context(), "127.0.0.1:0"); !errors.Is(err, ErrShutdown) {
			t.Errorf("listening after the end: %v", err)
		}
	})
}

func TestShutdownLosesPatience(t *testing.T) {
	cfg := Config{Deliver: func(ctx context.Context, r signal.Received) (signal.Verdict, error) {
		<-ctx.Done() // a disk that never answers
		return r.Proposed, ctx.Err()
	}}
	inBubble(t, cfg, func(t *testing.T, r *Receiver, p *pipes) {
		c := p.dial()
		write(t, c, check)
		synctest.Wait()
		ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
		defer cancel()
		begin := time.Now()
		if err := r.Shutdown(ctx); !errors.Is(err, context.DeadlineExceeded) || time.Since(begin) != 10*time.Second {
			t.Errorf("%v after %v", err, time.Since(begin))
		}
		if got, err := io.ReadAll(c); len(got) > 0 {
			t.Errorf("a signal that was not stored was answered %q, %v", got, err)
		}
	})
}
