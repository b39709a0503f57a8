package receiver

import (
	"context"
	"errors"
	"net"
	"slices"
	"strings"
	"testing"
	"time"

	"proofbell/signal"
)

// Whoever looks on sees every frame, sound or not, and what became of it.
func TestObserve(t *testing.T) {
	key, err := signal.ParseKey("000102030405060708090a0b0c0d0e0f")
	if err != nil {
		t.Fatal(err)
	}
	hidden := signal.Frame{ID: signal.IDContactID, Sequence: 5, Prefix: "L0", Account: "4816", Data: "#4816|1602 00 000", Timestamp: signal.FormatTimestamp(now)}
	clear, err := hidden.Encode()
	if err != nil {
		t.Fatal(err)
	}
	sealed, err := hidden.Encrypt(key, []byte("0123456789abcdef"))
	if err != nil {
		t.Fatal(err)
	}
	wire, err := sealed.Encode()
	if err != nil {
		t.Fatal(err)
	}
	full := errors.New("disk full")
	var seen []Observation
	cfg := Config{
		Observe: func(o Observation) { seen = append(seen, o) }, // one connection: one goroutine
		Secret: func(_, account string) signal.Secret {
			if account == "4816" {
				return signal.Secret{Key: key}
			}
			return signal.Secret{}
		},
		Deliver: func(_ context.Context, r signal.Received) (signal.Verdict, error) {
			switch r.Frame.Sequence {
			case 7:
				return signal.StaySilent, nil
			case 8:
				return r.Proposed, full
			}
			return r.Proposed, nil
		},
	}
	frame := func(sequence int) string {
		raw, err := signal.Frame{ID: signal.IDContactID, Sequence: sequence, Prefix: "L0", Account: "1234", Data: "#1234|1602 00 000"}.Encode()
		if err != nil {
			t.Fatal(err)
		}
		return string(raw)
	}
	inBubble(t, cfg, func(t *testing.T, r *Receiver, p *pipes) {
		c := p.dial()
		write(t, c, fire)
		answer := reply(t, c)
		write(t, c, string(wire))
		sealedAnswer := reply(t, c)
		write(t, c, frame(7)+frame(8)+"\nFFFF"+fire[5:]+"hello"+check)
		last := reply(t, c)
		peers := r.Peers()
		c.Close()
		shutdown(t, r) // the last observation is told after its reply

		if len(seen) != 7 {
			t.Fatalf("%d observations", len(seen))
		}
		for i, want := range []struct {
			raw, reply string
			verdict    signal.Verdict
			notStored  error
			cause      string
			lost       int
		}{
			{raw: fire, reply: answer, verdict: signal.Acknowledge},
			{raw: string(wire), reply: sealedAnswer, verdict: signal.Acknowledge},
			{raw: frame(7)},
			{raw: frame(8), notStored: full},
			{raw: "\nFFFF" + fire[5:], cause: "checksum"},
			{raw: "hello", cause: "garbage", lost: 5},
			{raw: check, reply: last, verdict: signal.Acknowledge},
		} {
			o := seen[i]
			if string(o.Raw) != want.raw || string(o.Reply) != want.reply || o.Verdict != want.verdict || !errors.Is(o.NotStored, want.notStored) ||
				signal.Cause(o.Err) != want.cause || o.Lost != want.lost || o.Transport != "tcp" || o.Remote != "pipe" || o.Receiver != "r1" || o.At != now {
				t.Errorf("observation %d: %+v", i, o)
			}
			if o.Damaged() != (want.cause != "") {
				t.Errorf("observation %d: damaged %v", i, o.Damaged())
			}
		}
		if got := seen[1].Clear(); string(got) != string(clear) || seen[0].Clear() != nil {
			t.Errorf("in clear: %q", got)
		}
		if len(peers) != 1 || peers[0] != (Peer{Remote: "pipe", Since: now, Last: now, Frames: 5, Faults: 2}) {
			t.Errorf("peers %+v", peers)
		}
	})
}

func TestReplyLostIsObserved(t *testing.T) {
	var seen []Observation
	cfg := Config{
		Observe: func(o Observation) { seen = append(seen, o) },
		Deliver: func(_ context.Context, r signal.Received) (signal.Verdict, error) { return r.Proposed, nil },
	}
	inBubble(t, cfg, func(t *testing.T, r *Receiver, p *pipes) {
		c := p.dial()
		write(t, c, check)
		time.Sleep(6 * time.Second) // it reads nothing
		c.Close()
		shutdown(t, r)
		if len(seen) != 1 || !seen[0].ReplyLost || string(seen[0].Reply) != checkAck {
			t.Errorf("observed %+v", seen)
		}
	})
}

func TestPeersComeAndGo(t *testing.T) {
	box := newInbox()
	inBubble(t, Config{Deliver: box.deliver, Now: time.Now}, func(t *testing.T, r *Receiver, p *pipes) {
		var conns []net.Conn
		for range 3 {
			c := p.dial()
			write(t, c, check)
			if got := reply(t, c); !strings.Contains(got, "ACK") {
				t.Fatalf("answered %q", got)
			}
			conns = append(conns, c)
			time.Sleep(time.Second)
		}
		peers := r.Peers()
		if len(peers) != 3 || !slices.IsSortedFunc(peers, func(a, b Peer) int { return a.Since.Compare(b.Since) }) {
			t.Errorf("peers %+v", peers)
		}
		for _, c := range conns {
			c.Close()
		}
		shutdown(t, r)
		if n := len(r.Peers()); n != 0 {
			t.Errorf("%d peers of a receiver that has ended", n)
		}
	})
}
