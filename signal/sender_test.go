package signal

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"slices"
	"strings"
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
		"acknowledged":                   {[][]string{{ack}}, 1, 0, nil},
		"in two parts":                   {[][]string{{ack[:5], ack[5:]}}, 1, 0, nil},
		"after garbage":                  {[][]string{{"hello", ack}}, 1, 0, nil},
		"after the reply to another":     {[][]string{{wrong, ack}}, 1, 0, nil},
		"after a damaged reply":          {[][]string{{damaged, ack}}, 1, 0, nil},
		"at the second attempt":          {[][]string{{}, {ack}}, 2, 5 * time.Second, nil},
		"connection closed, then good":   {[][]string{nil, {ack}}, 2, 0, nil},
		"never":                          {[][]string{{}, {wrong}, {damaged}}, 3, 15 * time.Second, ErrNoReply},
		"not understood":                 {[][]string{{duh}}, 1, 0, ErrNotUnderstood},
		"not understood, with a time":    {[][]string{{mended(duh, "[]", "[]_14:05:12,01-15-2026")}}, 1, 0, ErrNotUnderstood},
		"reply with data":                {[][]string{{mended(mended(ack, "ACK", "RSP"), "[]", "[data]")}}, 1, 0, nil},
		"encrypted reply to a clear one": {[][]string{{mended(mended(ack, "ACK", "*ACK"), "[]", "[00")}, {ack}}, 2, 5 * time.Second, nil},
		"time refused":                   {[][]string{{"\nABB70025\"NAK\"0000R0L0A0[]_14:05:12,01-15-2026\r"}}, 1, 0, ErrTimeRefused},
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

// mended replaces a part of a frame and makes checksum and length right again.
func mended(raw, old, with string) string {
	body := strings.Replace(raw[bodyOffset:len(raw)-1], old, with, 1)
	return fmt.Sprintf("\n%s%04X%s\r", hex4(CRC([]byte(body))), len(body), body)
}

// The premises side of the time test: a clock that is wrong is mended by what the NAK says, and the same number is kept.
func TestSendAfterNak(t *testing.T) {
	key, err := ParseKey("000102030405060708090a0b0c0d0e0f")
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		key  Key
		now  bool
		want int // attempts; 0: refused
	}{
		"encrypted": {key, true, 2}, "clear, with a clock": {Key{}, true, 2}, "clear, without": {Key{}, false, 0},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				var got []Frame
				policy := Policy{Secret: func(string, string) Secret { return Secret{Key: c.key} }}
				dial := func(context.Context) (Conn, error) {
					here, there := net.Pipe()
					go func() {
						buf := make([]byte, MaxFrame)
						n, _ := there.Read(buf)
						r := policy.Judge(buf[:n], time.Now())
						got = append(got, r.Frame)
						at, _ := r.Frame.Time()
						reply := r.Frame.Ack()
						switch {
						case !InWindow(at, time.Now()):
							reply = Nak(time.Now())
						case r.Encrypted:
							reply, _ = r.Frame.AckEncrypted(c.key, PadFrom(make([]byte, PadSize)), time.Now())
						}
						there.Write(reply.Append(nil))
						there.Close()
					}()
					return here, nil
				}
				slow := func() time.Time { return time.Now().Add(-3 * time.Hour) }
				sender := Sender{Dial: dial, Key: c.key, Random: zeroes{}}
				if c.now {
					sender.Now = slow
				}
				receipt, err := sender.Send(t.Context(), Frame{ID: IDContactID, Sequence: 7, Account: "4816", Data: "#4816|1601 00 000", Timestamp: FormatTimestamp(slow())})
				if c.want == 0 {
					if !errors.Is(err, ErrTimeRefused) || receipt.Attempts != 1 {
						t.Errorf("%+v, %v", receipt, err)
					}
					return
				}
				if err != nil || receipt.Attempts != c.want || receipt.Offset != 3*time.Hour || receipt.Reply.ID != IDAck {
					t.Errorf("%+v, %v", receipt, err)
				}
				if len(got) != 2 || got[0].Sequence != 7 || got[1].Sequence != 7 || got[0].Data != got[1].Data || got[0].Timestamp == got[1].Timestamp {
					t.Errorf("%+v", got)
				}
			})
		})
	}
}

// The time in an encrypted frame is that of its attempt, not of the one before the pause: it may be 40 s old.
func TestSendStampsAfterThePause(t *testing.T) {
	key, err := ParseKey("000102030405060708090a0b0c0d0e0f")
	if err != nil {
		t.Fatal(err)
	}
	synctest.Test(t, func(t *testing.T) {
		policy := Policy{Secret: func(string, string) Secret { return Secret{Key: key} }}
		var got []Verdict
		sender := Sender{Attempts: 2, Pause: 45 * time.Second, Key: key, Now: time.Now, Random: zeroes{}, Dial: func(context.Context) (Conn, error) {
			here, there := net.Pipe()
			go func() {
				buf := make([]byte, MaxFrame)
				n, _ := there.Read(buf)
				got = append(got, policy.Judge(buf[:n], time.Now()).Proposed)
				there.Close()
			}()
			return here, nil
		}}
		if _, err := sender.Send(t.Context(), Frame{ID: IDNull, Account: "4816"}); !errors.Is(err, ErrNoReply) {
			t.Error(err)
		}
		if want := []Verdict{Acknowledge, Acknowledge}; !slices.Equal(got, want) {
			t.Errorf("%v, want %v", got, want)
		}
	})
}

func TestSendWithKeyNamesWhatIsMissing(t *testing.T) {
	key, err := ParseKey("000102030405060708090a0b0c0d0e0f")
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range []Sender{{Key: key}, {Key: key, Now: time.Now}, {Key: key, Random: zeroes{}}} {
		if _, err := s.Send(t.Context(), Frame{ID: IDNull, Account: "4816"}); err == nil || !strings.Contains(err.Error(), "needs Now and Random") {
			t.Error(err)
		}
	}
}

type zeroes struct{}

func (zeroes) Read(p []byte) (int, error) { return len(p), nil }

// Only an encrypted acknowledgement answers an encrypted message.
func TestSendEncryptedTakesNoClearAck(t *testing.T) {
	key, err := ParseKey("000102030405060708090a0b0c0d0e0f")
	if err != nil {
		t.Fatal(err)
	}
	f := Frame{ID: IDNull, Account: "4816", Prefix: "L0"}
	ack := string(f.Ack().Append(nil))
	synctest.Test(t, func(t *testing.T) {
		s := station{conns: make(chan net.Conn), replies: [][]string{{ack}, {mended(ack, "ACK", "RSP")}}}
		go s.run(t)
		sender := Sender{Attempts: 2, Key: key, Now: time.Now, Random: zeroes{}, Dial: func(context.Context) (Conn, error) {
			here, there := net.Pipe()
			s.conns <- there
			return here, nil
		}}
		if receipt, err := sender.Send(t.Context(), f); !errors.Is(err, ErrNoReply) || receipt.Attempts != 2 {
			t.Errorf("%+v, %v", receipt, err)
		}
	})
}

func TestSendInOrder(t *testing.T) {
	f := Frame{ID: IDContactID, Sequence: 7, Prefix: "L0", Account: "4816", Data: "#4816|1601 00 000"}
	ack, duh := string(f.Ack().Append(nil)), string(f.Duh().Append(nil))
	const nak = "\nABB70025\"NAK\"0000R0L0A0[]_14:05:12,01-15-2026\r"
	for name, c := range map[string]struct {
		receivers    [][][]string
		to, attempts int
		err          error
	}{
		"the first":                    {[][][]string{{{ack}}, nil}, 0, 1, nil},
		"the second":                   {[][][]string{{{}, {}}, {{ack}}}, 1, 3, nil},
		"the second, at the second":    {[][][]string{{nil, {}}, {{}, {ack}}}, 1, 4, nil},
		"the second, after a NAK":      {[][][]string{{{nak}}, {{ack}}}, 1, 2, nil},
		"none":                         {[][][]string{{{}, {}}, {{}, {}}}, 1, 4, ErrNoReply},
		"not understood at the first":  {[][][]string{{{duh}}, {{ack}}}, 0, 1, ErrNotUnderstood},
		"not understood at the second": {[][][]string{{{}, {}}, {{duh}}}, 1, 3, ErrNotUnderstood},
		"no receiver at all":           {nil, 0, 0, ErrNoReply},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				var to []Sender
				for _, replies := range c.receivers {
					to = append(to, Sender{Attempts: 2, Dial: func(context.Context) (Conn, error) {
						here, there := net.Pipe()
						one := station{conns: make(chan net.Conn, 1), replies: replies[:1]}
						replies = replies[1:]
						one.conns <- there
						go one.run(t)
						return here, nil
					}})
				}
				receipt, err := SendInOrder(t.Context(), f, to...)
				if receipt.To != c.to || receipt.Attempts != c.attempts || !errors.Is(err, c.err) || c.err == nil && (err != nil || receipt.Reply.ID != IDAck) {
					t.Errorf("%+v, %v", receipt, err)
				}
			})
		})
	}
}
