package signal

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"
)

// Causes inside the error of [Sender.Send], for errors.Is.
var (
	ErrNoReply       = errors.New("no reply")
	ErrNotUnderstood = errors.New("receiver answered that it can not process the message (DUH)")
	ErrTimeRefused   = errors.New("receiver refused the time stamp (NAK)")
)

// Conn is what a Sender needs of a connection; a net.Conn is one, TCP or UDP.
type Conn interface {
	io.ReadWriteCloser
	SetDeadline(time.Time) error
}

// Sender sends frames as premises equipment does: one frame, then wait for its reply. It
// keeps no state and is safe for concurrent use.
type Sender struct {
	Dial     func(ctx context.Context) (Conn, error) // a new connection for each attempt
	Timeout  time.Duration                           // of one attempt, connecting included; 0: 5 s (DC-09-2007 5.6.1.1: repeat after 5 to 60 s)
	Attempts int                                     // 0: 3; the standard's number is unconfirmed
	Pause    time.Duration                           // before the next attempt

	// With a Key every attempt is encrypted anew, under a new time and new pad, and only an
	// encrypted reply counts. Now and Random (crypto/rand.Reader) are then needed. In clear, Now
	// lets a frame that has a time stamp be sent again by the receiver's clock after a NAK.
	Key    Key
	Now    func() time.Time
	Random io.Reader
}

// Receipt is what came of sending.
type Receipt struct {
	Reply    Frame         // in clear; zero when there was none
	Attempts int           // number of times the frame was tried, at all receivers
	To       int           // which of the Senders of SendInOrder it came from
	Offset   time.Duration // of the receiver's clock, taken from its NAK; add it to Now
}

// Send sends the frame until it is acknowledged. The same number is kept on every attempt,
// so that the receiver can see a repeat. DUH ends it: such a message is not to be repeated
// (DC-09-2007 C.1.3.14). After a NAK the frame is made anew by the receiver's clock, if Now is
// there to compare it with. RSP counts as ACK, and its data are for the caller to leave alone.
// The error matches ErrNoReply, ErrNotUnderstood, ErrTimeRefused, is that of Frame.Encode, or
// names what a Key lacks.
func (s Sender) Send(ctx context.Context, f Frame) (Receipt, error) {
	if !s.Key.IsZero() && (s.Now == nil || s.Random == nil) {
		return Receipt{}, errors.New("sending signal: a Sender with a Key needs Now and Random, such as time.Now and crypto/rand.Reader")
	}
	timeout, attempts := s.Timeout, s.Attempts
	if timeout <= 0 {
		timeout = 5 * time.Second
	}
	if attempts <= 0 {
		attempts = 3
	}
	var failures []error
	var offset time.Duration
	for n := 1; n <= attempts; n++ {
		if n > 1 && s.Pause > 0 {
			pause, cancel := context.WithTimeout(ctx, s.Pause)
			<-pause.Done()
			cancel()
		}
		if ctx.Err() != nil {
			failures = append(failures, ctx.Err())
			return Receipt{Attempts: n - 1, Offset: offset}, fmt.Errorf("sending signal: %w", errors.Join(failures...))
		}
		raw, at, err := s.wire(f, offset) // after the pause: it holds the time
		if err != nil {
			return Receipt{}, fmt.Errorf("sending signal: %w", err)
		}
		reply, err := s.attempt(ctx, timeout, f, raw)
		if err != nil {
			failures = append(failures, fmt.Errorf("attempt %d: %w", n, err))
			continue
		}
		switch reply.ID {
		case IDDuh:
			err = fmt.Errorf("sending signal: %w", ErrNotUnderstood)
		case IDNak:
			if stamp, ok := reply.Time(); ok && !at.IsZero() && n < attempts {
				offset += stamp.Sub(at)
				failures = append(failures, fmt.Errorf("attempt %d: %w", n, ErrTimeRefused))
				continue
			}
			err = fmt.Errorf("sending signal: %w", ErrTimeRefused)
		}
		return Receipt{Reply: reply, Attempts: n, Offset: offset}, err
	}
	return Receipt{Attempts: attempts, Offset: offset}, fmt.Errorf("sending signal: %w", errors.Join(failures...))
}

// SendInOrder sends the frame to the first receiver that acknowledges it: when a Sender has
// made its attempts, the next one makes its own, with the same number, so that a message that
// reached two can be seen to be one. DUH ends it. How many attempts and in which order is
// unconfirmed in the standard and a setting here.
func SendInOrder(ctx context.Context, f Frame, to ...Sender) (Receipt, error) {
	attempts := 0
	failures := []error{fmt.Errorf("sending signal: %w: no receiver", ErrNoReply)}
	for i, s := range to {
		receipt, err := s.Send(ctx, f)
		attempts += receipt.Attempts
		receipt.To, receipt.Attempts = i, attempts
		if err == nil || ctx.Err() != nil || !errors.Is(err, ErrNoReply) && !errors.Is(err, ErrTimeRefused) {
			return receipt, err
		}
		if i == 0 {
			failures = nil
		}
		failures = append(failures, err)
	}
	return Receipt{Attempts: attempts, To: max(len(to)-1, 0)}, errors.Join(failures...)
}

// wire makes the bytes of one attempt, and tells the time of ours that is written into them;
// zero when that is not known.
func (s Sender) wire(f Frame, offset time.Duration) (raw []byte, at time.Time, err error) {
	if s.Key.IsZero() && s.Now != nil && f.Timestamp != "" {
		at = s.Now().Add(offset)
		if offset != 0 {
			f.Timestamp = FormatTimestamp(at)
		}
	}
	if !s.Key.IsZero() {
		random := make([]byte, PadSize)
		if _, err := io.ReadFull(s.Random, random); err != nil {
			return nil, at, fmt.Errorf("making pad: %w", err)
		}
		at = s.Now().Add(offset)
		f.Timestamp = FormatTimestamp(at)
		if f, err = f.Encrypt(s.Key, PadFrom(random)); err != nil {
			return nil, at, err
		}
	}
	raw, err = f.Encode()
	return raw, at, err
}

func (s Sender) attempt(ctx context.Context, timeout time.Duration, f Frame, raw []byte) (reply Frame, err error) {
	ctx, cancel := context.WithTimeout(ctx, timeout)
	defer cancel()
	conn, err := s.Dial(ctx)
	if err != nil {
		return Frame{}, fmt.Errorf("%w: connecting: %w", ErrNoReply, err)
	}
	defer conn.Close() // after the reply is in, or given up: nothing depends on it
	return exchange(ctx, conn, f, s.Key, raw)
}

// Exchange sends one frame over an open connection and returns the reply to it, which may be
// DUH or NAK. Frames that are damaged or answer something else are passed over (a reply
// whose checksum, number or account is wrong is no reply). The context's end ends the wait;
// the error matches ErrNoReply. The connection stays open and must not be used for another
// exchange after an error.
func Exchange(ctx context.Context, conn Conn, f Frame) (Frame, error) {
	raw, err := f.Encode()
	if err != nil {
		return Frame{}, err
	}
	return exchange(ctx, conn, f, Key{}, raw)
}

func exchange(ctx context.Context, conn Conn, f Frame, key Key, raw []byte) (Frame, error) {
	fail := func(doing string, err error) (Frame, error) {
		if ctx.Err() != nil {
			err = ctx.Err() // the deadline below is only its messenger
		}
		return Frame{}, fmt.Errorf("%w: %s: %w", ErrNoReply, doing, err)
	}
	if err := conn.SetDeadline(time.Time{}); err != nil {
		return fail("setting deadline", err)
	}
	stop := context.AfterFunc(ctx, func() {
		conn.SetDeadline(time.Unix(1, 0)) // wakes the read below; a closed connection is awake already
	})
	defer stop()
	if _, err := conn.Write(raw); err != nil {
		return fail("writing", err)
	}
	var split Splitter
	buf := make([]byte, MaxFrame)
	for {
		n, err := conn.Read(buf)
		split.Write(buf[:n])
		for piece, ok := split.Next(); ok; piece, ok = split.Next() {
			if piece.Err != nil {
				continue
			}
			reply, err := ParseReply(piece.Raw)
			if err == nil && !key.IsZero() && (reply.ID == IDAck || reply.ID == IDRsp) {
				reply, err = reply.Decrypt(key) // also refuses an acknowledgement in clear, which anybody could send
			}
			if err == nil && !reply.Encrypted && reply.Answers(f) {
				return reply, nil
			}
		}
		if err != nil {
			return fail("waiting", err)
		}
	}
}
