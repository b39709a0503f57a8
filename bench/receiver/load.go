package main

import (
	"bytes"
	"errors"
	"fmt"
	"net"
	"slices"
	"sync"
	"time"

	"proofbell/signal"
)

// load is what one run of senders measured.
type load struct {
	frames int
	took   time.Duration
	waits  []time.Duration // of each frame from when it was due to its answer, sorted
	cpu    time.Duration   // of the server, from its start to its end
}

func (l load) rate() float64 { return float64(l.frames) / l.took.Seconds() }

// work is the server's processor time for a frame in microseconds.
func (l load) work() float64 { return float64(l.cpu.Microseconds()) / float64(l.frames) }

// at returns the wait that a share of the frames did not exceed.
func (l load) at(share float64) time.Duration {
	if len(l.waits) == 0 {
		return 0
	}
	return l.waits[min(int(share*float64(len(l.waits))), len(l.waits)-1)]
}

// send opens connections and sends frames over them for so long, each connection waiting for its answer before the next
// frame. With a rate, frames fall due evenly at so many a second in all, and a wait begins when the frame was due, so that a
// slow answer is not hidden by the frames that it held up.
func send(addr string, connections int, rate float64, span time.Duration) (load, error) {
	senders := make([]*sender, connections)
	for i := range senders {
		s, err := dial(addr, i)
		if err != nil {
			return load{}, err
		}
		defer s.conn.Close()
		senders[i] = s
	}
	begin := time.Now().Add(10 * time.Millisecond)
	end := begin.Add(span)
	var work sync.WaitGroup
	errs := make([]error, connections)
	for i, s := range senders {
		work.Go(func() {
			due := begin
			var step time.Duration
			if rate > 0 {
				step = time.Duration(float64(connections) / rate * float64(time.Second))
				due = begin.Add(step * time.Duration(i) / time.Duration(connections))
			}
			for {
				if now := time.Now(); now.Before(due) {
					time.Sleep(due.Sub(now))
				}
				if !time.Now().Before(end) {
					return
				}
				if rate <= 0 {
					due = time.Now()
				}
				if errs[i] = s.exchange(); errs[i] != nil {
					return
				}
				s.waits = append(s.waits, time.Since(due))
				due = due.Add(step)
			}
		})
	}
	work.Wait()
	l := load{took: time.Since(begin)}
	for _, s := range senders {
		l.frames += len(s.waits)
		l.waits = append(l.waits, s.waits...)
	}
	slices.Sort(l.waits)
	return l, errors.Join(errs...)
}

// sender is one connection of premises equipment with an account of its own.
type sender struct {
	conn     net.Conn
	account  string
	sequence int
	zone     int
	frame    []byte
	reply    []byte
	waits    []time.Duration
}

func dial(addr string, n int) (*sender, error) {
	conn, err := net.Dial("tcp", addr)
	if err != nil {
		return nil, err
	}
	return &sender{conn: conn, account: fmt.Sprintf("%05X", 0x10000+n), reply: make([]byte, 256), zone: 1}, nil
}

// exchange sends the next fire alarm and waits for its acknowledgement. Numbers wrap as the standard has them; the zone
// moves on then, so that no frame is a repeat.
func (s *sender) exchange() error {
	next := signal.NextSequence(s.sequence)
	if next < s.sequence {
		s.zone = s.zone%999 + 1
	}
	s.sequence = next
	payload, err := signal.NewContactID(s.account, signal.New, "110", 1, s.zone)
	if err != nil {
		return err
	}
	f := signal.Frame{ID: signal.IDContactID, Sequence: s.sequence, Prefix: "L0", Account: s.account, Data: payload.String()}
	s.frame = f.Append(s.frame[:0])
	if _, err := s.conn.Write(s.frame); err != nil {
		return err
	}
	for n := 0; ; {
		m, err := s.conn.Read(s.reply[n:])
		if err != nil {
			return fmt.Errorf("no answer: %w", err)
		}
		if n += m; n == 0 || s.reply[n-1] != '\r' {
			continue
		}
		if want := f.Ack().Append(s.frame[:0]); !bytes.Equal(s.reply[:n], want) {
			return fmt.Errorf("answered %q, want %q", s.reply[:n], want)
		}
		return nil
	}
}
