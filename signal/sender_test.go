package signal

import (
	"context"
	"errors"
	"io"
	"net"
	"testing"
	"testing/synctest"
	"time"
)

// station answers each connection it is given with the next of its scripts.
type station struct {
	conns   chan net.Conn
	replies [][]string // for each connection: what to write after a frame came in; nil closes at once
}

func (s *station) run(t *testing.T) (got []string) {
	for _, script := range s.replies {
		conn := <-s.conns
		if script == nil {
			conn.Close()
			continue
		}
		buf := make([]byte, MaxFrame)
		n, err := conn.Read(buf)
		if err != nil {
			t.Error(err)
		}
		got = append(got, string(buf[:n]))
		for _, part := range script {
			if _, err := io.WriteString(conn, part); err != nil && !errors.Is(err, io.ErrClosedPipe) {
				t.Error(err)
			}
		}
		io.Copy(io.Discard, conn) // until the sender closes
		conn.Close()
	}
	return got
}

func TestSend(t *testing.T) {
	f := Frame{ID: IDContactID, Sequence: 7, Prefix: "L0", Account: "4816", Data: "#4816|1602 00 000"}
	ack, duh := string(f.Ack().Append(nil)), string(f.Duh().Append(nil))
	other := f
	other.Sequence = 6
	wrong := string(other.Ack().Append(nil))
	damaged := "\nFFFF" + ack[5:]
	for name, c := range map[string]struct {
		replies  [][]string
		attempts int
		took     time.Duration
		err      error
	}{
		"acknowledged":                 {[][]string{{ack}}, 1, 0, nil},
		"in two parts":                 {[][]string{{ack[:5], ack[5:]}}, 1, 0, nil},
		"after garbage":                {[][]string{{"hello", ack}}, 1, 0, nil},
		"after the reply to another":   {[][]string{{wrong, ack}}, 1, 0, nil},
		"after a damaged reply":        {[][]string{{damaged, ack}}, 1, 0, nil},
		"at the second attempt":        {[][]string{{}, {ack}}, 2, 5 * time.Second, nil},
		"connection closed, then good": {[][]string{nil, {ack}}, 2, 0, nil},
		"never":                        {[][]string{{}, {wrong}, {damaged}}, 3, 15 * time.Second, ErrNoReply},
		"not understood":               {[][]string{{duh}}, 1, 0, ErrNotUnderstood},
		"time refused":                 {[][]string{{"\nABB70025\"NAK\"0000R0L0A0[]_14:05:12,01-15-2026\r"}}, 1, 0, ErrTimeRefused},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				s := station{conns: make(chan net.Conn), replies: c.replies}
				got := make(chan []string, 1)
				go func() { got <- s.run(t) }()
				sender := Sender{Dial: func(context.Context) (Conn, error) {
					here, there := net.Pipe()
					s.conns <- there
					return here, nil
				}}
				start := time.Now()
				receipt, err := sender.Send(t.Context(), f)
				if !errors.Is(err, c.err) || receipt.Attempts != c.attempts || time.Since(start) != c.took {
					t.Errorf("%d attempts in %v, %v; want %d in %v, %v", receipt.Attempts, time.Since(start), err, c.attempts, c.took, c.err)
				}
				if (receipt.Reply.ID == "") != errors.Is(err, ErrNoReply) {
					t.Errorf("reply %v with %v", receipt.Reply, err)
				}
				for _, raw := range <-got {
					if raw != string(f.Append(nil)) {
						t.Errorf("an attempt sent %q: each carries the same frame", raw)
					}
				}
			})
		})
	}
}

func TestSendEndsWithItsContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithTimeout(t.Context(), 2*time.Second)
		defer cancel()
		s := station{conns: make(chan net.Conn), replies: [][]string{{}}}
		go s.run(t)
		sender := Sender{Dial: func(context.Context) (Conn, error) {
			here, there := net.Pipe()
			s.conns <- there
			return here, nil
		}}
		start := time.Now()
		receipt, err := sender.Send(ctx, Frame{ID: IDNull, Account: "4816"})
		if !errors.Is(err, context.DeadlineExceeded) || receipt.Attempts != 1 || time.Since(start) != 2*time.Second {
			t.Errorf("%d attempts in %v, %v", receipt.Attempts, time.Since(start), err)
		}
	})
}

func TestSendDialFails(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		refused := errors.New("refused")
		sender := Sender{Dial: func(context.Context) (Conn, error) { return nil, refused }, Pause: 7 * time.Second, Attempts: 4}
		start := time.Now()
		receipt, err := sender.Send(t.Context(), Frame{ID: IDNull, Account: "4816"})
		if !errors.Is(err, refused) || !errors.Is(err, ErrNoReply) || receipt.Attempts != 4 || time.Since(start) != 21*time.Second {
			t.Errorf("%d attempts in %v, %v", receipt.Attempts, time.Since(start), err)
		}
		if _, err := sender.Send(t.Context(), Frame{ID: IDNull}); errors.Is(err, ErrNoReply) || err == nil {
			t.Errorf("a frame without account was sent: %v", err)
		}
	})
}
