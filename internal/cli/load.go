package cli

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net"
	"os"
	"slices"
	"sync"
	"time"

	"proofbell/signal"
)

// loaded is what a load measured; the JSON line of it. Waits are in milliseconds, from when a frame was sent, or with a
// rate when it was due, to its reply.
type loaded struct {
	Connections  int     `json:"connections"`
	BrokenOff    bool    `json:"brokenOff,omitempty"` // frames are those until then
	Frames       int     `json:"frames"`
	Acknowledged int     `json:"acknowledged"`
	Refused      int     `json:"refused"` // DUH or NAK
	Silent       int     `json:"silent"`
	Seconds      float64 `json:"seconds"`
	PerSecond    float64 `json:"framesPerSecond"` // acknowledged
	P50          float64 `json:"p50ms,omitempty"` // not there: nothing was acknowledged
	P99          float64 `json:"p99ms,omitempty"`
	P999         float64 `json:"p999ms,omitempty"`
	Longest      float64 `json:"longestMs,omitempty"`
}

// runLoad sends many frames over many connections, each waiting for its reply before the next, and prints what it took.
func (c *sendCmd) runLoad(ctx context.Context, key signal.Key, io *streams) error {
	switch {
	case c.Connections < 1 || c.Count < 1:
		return errors.New("a load takes --connections N and --count M, both more than 0")
	case c.Rate < 0 || c.Frame != "" || len(c.To) != 1 || len(c.Account) == 0:
		return errors.New("a load takes one receiver, at least one --account, no --frame, and a --rate above 0 if any")
	}
	loaders := make([]*loader, min(c.Connections, c.Count))
	defer func() {
		for _, l := range loaders {
			if l != nil && l.conn != nil {
				l.conn.Close() // every reply is in or given up
			}
		}
	}()
	begin := time.Now()
	for i := range loaders {
		l := &loader{start: loadStart(begin), first: i, step: len(loaders), count: (c.Count - i + len(loaders) - 1) / len(loaders), zone: c.Zone, key: key, timeout: c.Timeout}
		var err error
		if l.frame, err = c.message(c.Account[i%len(c.Account)], begin).frame(); err == nil {
			err = l.prepare()
		}
		if err != nil {
			return err
		}
		if l.conn, err = c.dial(ctx, c.To[0]); err != nil {
			return fmt.Errorf("connection %d: %w", i+1, err)
		}
		loaders[i] = l
	}
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	context.AfterFunc(ctx, func() {
		for _, l := range loaders {
			l.conn.Close() // wakes its reader
		}
	})
	begin = time.Now()
	var work sync.WaitGroup
	for _, l := range loaders {
		work.Go(func() {
			if err := l.run(ctx, begin, c.Rate); err != nil {
				cancel(err) // the first one is told
			}
		})
	}
	work.Wait()
	took := time.Since(begin)

	r := loaded{Connections: len(loaders), BrokenOff: ctx.Err() != nil, Seconds: took.Seconds()}
	var waits []time.Duration
	for _, l := range loaders {
		r.Acknowledged += len(l.waits)
		r.Refused += l.refused
		r.Silent += l.silent
		waits = append(waits, l.waits...)
	}
	r.Frames = r.Acknowledged + r.Refused + r.Silent
	r.PerSecond = float64(r.Acknowledged) / took.Seconds()
	slices.Sort(waits)
	at := func(share float64) float64 {
		if len(waits) == 0 {
			return 0
		}
		return float64(waits[min(int(share*float64(len(waits))), len(waits)-1)].Microseconds()) / 1000
	}
	r.P50, r.P99, r.P999, r.Longest = at(0.5), at(0.99), at(0.999), at(1)
	if c.JSON {
		if err := printLine(io.out, r); err != nil {
			return err
		}
	} else {
		if r.BrokenOff {
			fmt.Fprint(io.out, "Broken off. ")
		}
		fmt.Fprintf(io.out, "%d connections, %d frames in %.2f s: %.0f acknowledged a second. Acknowledged %d, refused %d, silent %d.",
			r.Connections, r.Frames, r.Seconds, r.PerSecond, r.Acknowledged, r.Refused, r.Silent)
		if len(waits) > 0 {
			fmt.Fprintf(io.out, " Wait: half within %.1f ms, 99 %% within %.1f ms, 99.9 %% within %.1f ms, longest %.1f ms", r.P50, r.P99, r.P999, r.Longest)
		}
		fmt.Fprintln(io.out)
	}
	if cause := context.Cause(ctx); cause != nil && !errors.Is(cause, context.Canceled) {
		return cause
	}
	if r.Acknowledged < c.Count {
		return ErrNotGood
	}
	return nil
}

// loader is one connection of a load. In clear it changes number and checksum in the bytes of its one frame and knows the
// bytes of the reply beforehand, so that it costs the machine little beside the receiver.
type loader struct {
	conn        net.Conn
	frame       signal.Frame
	key         signal.Key
	timeout     time.Duration
	start       int // of the load, in the count of numbers and zones
	first, step int // which frames of the load are its own
	count, zone int

	raw, reply []byte // as they go and come, number to be filled in
	rawAt      int    // of the four digits of the number
	zoneAt     int    // of the three digits of the zone; 0: none
	replyAt    int
	buf        [2 * signal.MaxFrame]byte

	waits           []time.Duration
	refused, silent int
}

// loadStart is the frame of the count that a load begins with. It comes from the clock, faster than frames can be sent and
// begun anew after 333 s only, so that a second load is no repeat of a first one within the five minutes in which repeats are told.
func loadStart(begin time.Time) int {
	const aMillisecond, different = 30, 9999 * 1000
	return int(begin.UnixMilli() % (different / aMillisecond) * aMillisecond)
}

// prepare makes the bytes, and tries what would be refused.
func (l *loader) prepare() error {
	var err error
	if l.raw, err = l.frame.Encode(); err != nil {
		return err
	}
	l.reply = l.frame.Ack().Append(nil)
	l.rawAt, l.replyAt = bytes.LastIndexByte(l.raw[:l.frame.DataOffset()], '"')+1, bytes.LastIndexByte(l.reply, '"')+1
	if l.frame.ID == signal.IDContactID {
		l.zoneAt = l.frame.DataOffset() + len(l.frame.Data) - 3
	}
	l.waits = make([]time.Duration, 0, l.count)
	return nil
}

func (l *loader) run(ctx context.Context, begin time.Time, rate float64) error {
	for k := range l.count {
		n := k*l.step + l.first
		due := time.Now()
		if rate > 0 {
			due = begin.Add(time.Duration(float64(n) / rate * float64(time.Second)))
			select {
			case <-time.After(time.Until(due)):
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		if err := l.one(n, due); err != nil {
			return err
		}
	}
	return nil
}

// fill makes frame n of the load and its reply. No two of 9,999,000 are repeats of each other when the zone can vary, else
// no two of 9999.
func (l *loader) fill(n int) (sequence int) {
	n += l.start
	sequence = n%9999 + 1
	if l.frame.ID == signal.IDNull {
		sequence = 0
	}
	digits(l.raw[l.rawAt:l.rawAt+4], sequence)
	digits(l.reply[l.replyAt:l.replyAt+4], sequence)
	if l.zoneAt > 0 {
		digits(l.raw[l.zoneAt:l.zoneAt+3], (l.zone+n/9999)%1000)
	}
	checksum(l.raw)
	checksum(l.reply)
	return sequence
}

// one sends frame n of the load and waits for its reply.
func (l *loader) one(n int, due time.Time) error {
	sequence := l.fill(n)
	raw := l.raw
	if !l.key.IsZero() {
		var err error
		if raw, err = l.encrypted(sequence); err != nil {
			return err
		}
	}
	if err := l.conn.SetDeadline(time.Now().Add(l.timeout)); err != nil {
		return fmt.Errorf("sending: %w", err)
	}
	if _, err := l.conn.Write(raw); err != nil {
		return fmt.Errorf("sending: %w", err)
	}
	for have := 0; ; {
		got, err := l.conn.Read(l.buf[have:])
		have += got
		for {
			end := bytes.IndexByte(l.buf[:have], '\r') + 1
			if end == 0 {
				break
			}
			if done := l.take(l.buf[:end], sequence, due); done {
				return nil
			}
			have = copy(l.buf[:], l.buf[end:have])
		}
		if errors.Is(err, os.ErrDeadlineExceeded) || err == nil && have == len(l.buf) {
			l.silent++
			return nil
		}
		if err != nil {
			return fmt.Errorf("waiting for a reply: %w", err)
		}
	}
}

// take looks at one reply; false for one to an earlier frame.
func (l *loader) take(reply []byte, sequence int, due time.Time) bool {
	if l.key.IsZero() && bytes.Equal(reply, l.reply) {
		l.waits = append(l.waits, time.Since(due))
		return true
	}
	f, err := signal.ParseReply(reply)
	if err == nil && f.Encrypted && !l.key.IsZero() {
		if f, err = f.Decrypt(l.key); err == nil && f.ID == signal.IDAck && f.Sequence == sequence {
			l.waits = append(l.waits, time.Since(due))
			return true
		}
	}
	if err == nil && (f.ID == signal.IDNak || f.ID == signal.IDDuh && f.Sequence == sequence) {
		l.refused++
		return true
	}
	return false
}

// encrypted is the frame that stands in raw, in clear, under a new pad and time.
func (l *loader) encrypted(sequence int) ([]byte, error) {
	var random [signal.PadSize]byte
	rand.Read(random[:]) // never fails
	f := l.frame
	f.Sequence, f.Timestamp = sequence, signal.FormatTimestamp(time.Now())
	if l.zoneAt > 0 {
		f.Data = string(l.raw[l.frame.DataOffset() : l.zoneAt+3])
	}
	f, err := f.Encrypt(l.key, signal.PadFrom(random[:]))
	if err != nil {
		return nil, err
	}
	return f.Append(nil), nil
}

// digits writes a number with its noughts.
func digits(to []byte, n int) {
	for i := range slices.Backward(to) {
		to[i] = byte('0' + n%10)
		n /= 10
	}
}

// checksum writes the CRC of a frame into it.
func checksum(raw []byte) {
	const hexes = "0123456789ABCDEF"
	crc := signal.CRC(raw[9 : len(raw)-1])
	for i := range 4 {
		raw[1+i] = hexes[crc>>(12-4*i)&0xF]
	}
}
