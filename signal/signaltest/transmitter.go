// Package signaltest is a transmitter for tests of receivers: it sends frames, or any bytes,
// over TCP or UDP and reads what comes back.
package signaltest

import (
	"errors"
	"io"
	"net"
	"testing"
	"time"

	"proofbell/signal"
)

// patience bounds a wait in a test whose receiver does not answer: only a failing test gets
// that far.
const patience = 10 * time.Second

// Transmitter is one connection to a receiver. It fails its test on any trouble. Not safe
// for concurrent use.
type Transmitter struct {
	t     testing.TB
	conn  net.Conn
	split signal.Splitter
}

// Dial connects to a receiver; network is "tcp" or "udp". The connection is closed at the
// end of the test.
func Dial(t testing.TB, network, addr string) *Transmitter {
	t.Helper()
	conn, err := net.DialTimeout(network, addr, patience)
	if err != nil {
		t.Fatal(err)
	}
	return Over(t, conn)
}

// Over uses a connection that exists, for example one end of a net.Pipe.
func Over(t testing.TB, conn net.Conn) *Transmitter {
	t.Cleanup(func() { conn.Close() })
	return &Transmitter{t: t, conn: conn}
}

// Write sends bytes as they are, in one write: over UDP, one datagram.
func (x *Transmitter) Write(raw string) {
	x.t.Helper()
	if _, err := io.WriteString(x.conn, raw); err != nil {
		x.t.Fatalf("sending %q: %v", raw, err)
	}
}

// Send encodes a frame and sends it.
func (x *Transmitter) Send(f signal.Frame) {
	x.t.Helper()
	raw, err := f.Encode()
	if err != nil {
		x.t.Fatal(err)
	}
	x.Write(string(raw))
}

// Reply waits for the next reply. Anything else that comes fails the test.
func (x *Transmitter) Reply() signal.Frame {
	x.t.Helper()
	if err := x.conn.SetReadDeadline(time.Now().Add(patience)); err != nil {
		x.t.Fatal(err)
	}
	buf := make([]byte, signal.MaxFrame)
	for {
		if piece, ok := x.split.Next(); ok {
			if piece.Err != nil {
				x.t.Fatalf("in place of a reply came %q: %v", piece.Raw, piece.Err)
			}
			reply, err := signal.ParseReply(piece.Raw)
			if err != nil {
				x.t.Fatalf("in place of a reply came %q: %v", piece.Raw, err)
			}
			return reply
		}
		n, err := x.conn.Read(buf)
		if err != nil {
			x.t.Fatalf("waiting for a reply: %v", err)
		}
		x.split.Write(buf[:n])
	}
}

// Exchange sends a frame and waits for its reply.
func (x *Transmitter) Exchange(f signal.Frame) signal.Frame {
	x.t.Helper()
	x.Send(f)
	reply := x.Reply()
	if !reply.Answers(f) {
		x.t.Fatalf("%q does not answer %q", reply.Append(nil), f.Append(nil))
	}
	return reply
}

// Rest ends a TCP connection towards the receiver and returns all that still comes until
// the receiver closes it too. So a test can see, without waiting, that there was no reply.
func (x *Transmitter) Rest() string {
	x.t.Helper()
	if half, ok := x.conn.(interface{ CloseWrite() error }); ok {
		if err := half.CloseWrite(); err != nil && !errors.Is(err, net.ErrClosed) {
			x.t.Fatal(err)
		}
	}
	if err := x.conn.SetReadDeadline(time.Now().Add(patience)); err != nil {
		x.t.Fatal(err)
	}
	rest, err := io.ReadAll(x.conn)
	if err != nil {
		x.t.Fatalf("waiting for the receiver to close: %v", err)
	}
	return string(rest)
}

// Close closes the connection at once.
func (x *Transmitter) Close() {
	x.t.Helper()
	if err := x.conn.Close(); err != nil {
		x.t.Fatal(err)
	}
}

// ContactID makes a frame with a Contact ID payload.
func ContactID(t testing.TB, account string, sequence int, q signal.Qualifier, code string, area, number int) signal.Frame {
	t.Helper()
	payload, err := signal.NewContactID(account, q, code, area, number)
	if err != nil {
		t.Fatal(err)
	}
	return signal.Frame{ID: signal.IDContactID, Sequence: sequence, Prefix: "L0", Account: account, Data: payload.String()}
}
