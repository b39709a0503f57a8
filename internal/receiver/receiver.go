// Package receiver listens for DC-09 frames over TCP and UDP, hands each sound one to a
// signal.Deliver and answers what that decided, after it returned and never before.
//
// Whether an account has an open test window is not known here: Deliver gets the answer that
// the decision table proposes (signal.Judge) and returns it, or signal.StaySilent. An error
// of Deliver means that nothing is stored, so nothing is answered and the sender repeats.
//
// What anybody sends costs a bounded amount of memory and time: see Limits.
package receiver

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"net"
	"strconv"
	"sync"
	"sync/atomic"
	"time"

	"proofbell/signal"
)

// Config is what a Receiver needs. Deliver and ID are required.
type Config struct {
	ID      string           // of this receiver; two receivers may hold the same event
	Deliver signal.Deliver   // called from many goroutines at once
	Now     func() time.Time // nil: time.Now
	Log     *slog.Logger     // nil: nothing is logged
	Limits  Limits

	// Secret tells how an account is to be read; nil means all in clear. It is asked for every
	// sound frame, from many goroutines at once, and must be quick.
	Secret func(prefix, account string) signal.Secret

	// Policy chooses where the standard is not clear. Its own Secret is not looked at.
	Policy signal.Policy

	// Observe is told every frame with what became of it, after its reply was written. It is
	// called from many goroutines at once and must not block. nil: nobody looks.
	Observe func(Observation)
}

// Receiver is a running receiver. Its methods are safe for concurrent use.
type Receiver struct {
	cfg    Config
	ctx    context.Context // of deliveries; ends when Shutdown loses patience
	cancel context.CancelFunc
	work   sync.WaitGroup

	draining atomic.Bool
	drain    chan struct{} // closed when draining begins
	slots    chan struct{} // one for each datagram in work
	hosts    *hosts

	refusals, failures, repliesLost, closings, floods seldom // log lines that strangers could make many of

	mu      sync.Mutex // guards all below; nothing blocks while it is held
	closers map[closer]struct{}
	stats   Stats
}

// closer is a listener or connection that Shutdown must wake or close.
type closer interface{ Close() error }

// Stats are counts since the start, and Conns as it is now.
type Stats struct {
	Conns         int            `json:"conns"`
	Accepted      int64          `json:"accepted"`
	Refused       int64          `json:"refused"` // connections over a limit
	Slowed        int64          `json:"slowed"`  // times that a connection was made to wait: its address sends too much
	Dropped       int64          `json:"dropped"` // datagrams of addresses that send too much
	Messages      int64          `json:"messages"`
	Acknowledged  int64          `json:"acknowledged"`
	CannotProcess int64          `json:"cannotProcess"`
	TimeRefused   int64          `json:"timeRefused"`
	Silent        int64          `json:"silent"`
	NotStored     int64          `json:"notStored"`    // Deliver failed
	RepliesLost   int64          `json:"repliesLost"`  // stored, but the reply could not be written
	Faults        map[string]int `json:"faults"`       // by signal.Cause
	AcceptErrors  int64          `json:"acceptErrors"` // and errors reading UDP
}

// New checks the configuration. Nothing runs before Listen.
func New(cfg Config) (*Receiver, error) {
	if cfg.Deliver == nil || cfg.ID == "" {
		return nil, errors.New("making a receiver: it needs an id and a place to deliver to")
	}
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	if cfg.Log == nil {
		cfg.Log = slog.New(slog.DiscardHandler)
	}
	cfg.Limits = cfg.Limits.withDefaults()
	cfg.Policy.Secret = nil // judge gives it
	if most, known := mostConns(); known && cfg.Limits.Conns > most {
		cfg.Log.Warn("fewer connections than allowed: the system gives this process too few file handles", "connections", most, "allowed", cfg.Limits.Conns)
		cfg.Limits.Conns = most
	}
	ctx, cancel := context.WithCancel(context.Background())
	return &Receiver{
		cfg: cfg, ctx: ctx, cancel: cancel, drain: make(chan struct{}),
		slots: make(chan struct{}, cfg.Limits.Datagrams), hosts: newHosts(cfg.Limits),
		closers: map[closer]struct{}{}, stats: Stats{Faults: map[string]int{}},
	}, nil
}

// ErrShutdown is returned by Listen after Shutdown.
var ErrShutdown = errors.New("receiver is shut down")

// Listen opens TCP and UDP on one address and returns it; port 0 takes a free one. The
// context bounds the opening only. It may be called for several addresses.
func (r *Receiver) Listen(ctx context.Context, addr string) (net.Addr, error) {
	host, port, err := net.SplitHostPort(addr)
	if err != nil {
		return nil, fmt.Errorf("listening for signals on %q: %w: write it as host:port, for example 127.0.0.1:5090", addr, err)
	}
	// A peer that is gone without a word is found out within a minute.
	lc := net.ListenConfig{KeepAliveConfig: net.KeepAliveConfig{Enable: true, Idle: 30 * time.Second, Interval: 10 * time.Second, Count: 3}}
	for try := 1; ; try++ {
		tcp, err := lc.Listen(ctx, "tcp", addr)
		if err != nil {
			return nil, fmt.Errorf("listening for signals: %w", err)
		}
		both := net.JoinHostPort(host, strconv.Itoa(tcp.Addr().(*net.TCPAddr).Port))
		udp, err := lc.ListenPacket(ctx, "udp", both)
		if err != nil {
			err = errors.Join(err, tcp.Close())
			if port == "0" && try < 20 { // the port that TCP found is taken for UDP
				continue
			}
			return nil, fmt.Errorf("listening for signals: %w", err)
		}
		if !r.own(tcp) || !r.own(udp) {
			return nil, errors.Join(ErrShutdown, tcp.Close(), udp.Close())
		}
		socket := udp.(*net.UDPConn)
		if err := socket.SetReadBuffer(udpBuffer); err != nil {
			r.cfg.Log.Warn("the UDP buffer keeps the system's size", "err", err)
		}
		r.work.Go(func() { r.accept(tcp) })
		r.work.Go(func() { r.readDatagrams(socket) })
		return tcp.Addr(), nil
	}
}

// own takes charge of a listener or connection; false when it is too late.
func (r *Receiver) own(c closer) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.draining.Load() {
		return false
	}
	r.closers[c] = struct{}{}
	return true
}

func (r *Receiver) disown(c closer) {
	r.mu.Lock()
	defer r.mu.Unlock()
	delete(r.closers, c)
}

// Shutdown stops listening, lets the signals in hand be stored and answered, and returns
// when every goroutine of the receiver has ended. When ctx ends first, deliveries are
// cancelled, connections closed, and the error holds ctx's.
func (r *Receiver) Shutdown(ctx context.Context) error {
	past := time.Unix(1, 0)
	r.mu.Lock()
	if !r.draining.Swap(true) { // from here on nobody sets a deadline and then reads; see read
		close(r.drain)
	}
	var errs []error
	for c := range r.closers {
		switch c := c.(type) {
		case net.Listener:
			if err := c.Close(); !errors.Is(err, net.ErrClosed) {
				errs = append(errs, err)
			}
		case interface{ SetReadDeadline(time.Time) error }:
			c.SetReadDeadline(past) // fails only where reading fails by itself
		}
	}
	r.mu.Unlock()

	done := make(chan struct{})
	go func() { r.work.Wait(); close(done) }()
	select {
	case <-done:
		r.cancel()
		return errors.Join(errs...)
	case <-ctx.Done():
	}
	r.cancel()
	r.mu.Lock()
	for c := range r.closers {
		c.Close() // the error would be that of a connection we give up
	}
	r.mu.Unlock()
	return errors.Join(append(errs, fmt.Errorf("draining the receiver: %w", ctx.Err()))...)
}

// Stats returns a snapshot.
func (r *Receiver) Stats() Stats {
	r.mu.Lock()
	defer r.mu.Unlock()
	s := r.stats
	s.Faults = maps.Clone(s.Faults)
	return s
}

func (r *Receiver) count(add func(*Stats)) {
	r.mu.Lock()
	defer r.mu.Unlock()
	add(&r.stats)
}

// judge deals with one piece from the wire: it is read, delivered, and its reply made, nil for
// silence. sound is false for what was no message; that is only counted.
func (r *Receiver) judge(transport, remote string, piece signal.Piece) (o Observation, sound bool) {
	at := r.cfg.Now().UTC()
	raw := append([]byte(nil), piece.Raw...) // Deliver and Observe may keep it; the splitter writes over it
	var key signal.Key                       // the reply is sealed under the one that opened the frame, whatever is set meanwhile
	if piece.Err != nil {
		o.Received, o.Lost = signal.Received{Raw: raw, Err: piece.Err}, piece.Lost
	} else {
		policy := r.cfg.Policy
		if r.cfg.Secret != nil {
			policy.Secret = func(prefix, account string) signal.Secret {
				s := r.cfg.Secret(prefix, account)
				key = s.Key
				return s
			}
		}
		o.Received = policy.Judge(raw, at)
	}
	o.Transport, o.Remote, o.At, o.Receiver = transport, remote, at, r.cfg.ID
	if o.Damaged() {
		r.count(func(s *Stats) { s.Faults[signal.Cause(o.Err)]++ })
		return o, false
	}
	verdict, err := r.cfg.Deliver(r.ctx, o.Received)
	if err != nil {
		if held, ok := r.failures.line(); ok {
			r.cfg.Log.Error("signal not stored and not answered", "account", o.Frame.Account,
				"sequence", o.Frame.Sequence, "remote", remote, "unsaid", held, "err", err)
		}
		r.count(func(s *Stats) { s.Messages++; s.NotStored++ })
		o.NotStored = err
		return o, true
	}
	o.Verdict, o.Reply = r.answer(o.Received, verdict, key)
	return o, true
}

// answer never says more than the decision table allows: an ACK promises that the event was
// understood and stored.
func (r *Receiver) answer(rec signal.Received, verdict signal.Verdict, key signal.Key) (signal.Verdict, []byte) {
	switch {
	case verdict == signal.Acknowledge:
		verdict = rec.Proposed
	case verdict == signal.RefuseTime && rec.Proposed != signal.RefuseTime:
		verdict = signal.StaySilent // NAK answers the time test and nothing else
	}
	var reply signal.Frame
	switch verdict {
	case signal.Acknowledge:
		reply = rec.Frame.Ack()
		if rec.Encrypted {
			var err error
			if reply, err = r.encryptedAck(rec, key); err != nil {
				r.cfg.Log.Error("signal stored, but its reply can not be encrypted", "account", rec.Frame.Account, "err", err)
				r.count(func(s *Stats) { s.Messages++; s.RepliesLost++ })
				return signal.StaySilent, nil
			}
		}
		r.count(func(s *Stats) { s.Messages++; s.Acknowledged++ })
	case signal.CannotProcess:
		reply = rec.Frame.Duh()
		r.count(func(s *Stats) { s.Messages++; s.CannotProcess++ })
	case signal.RefuseTime:
		reply = signal.Nak(r.cfg.Now())
		r.count(func(s *Stats) { s.Messages++; s.TimeRefused++ })
	default:
		r.count(func(s *Stats) { s.Messages++; s.Silent++ })
		return signal.StaySilent, nil
	}
	return verdict, reply.Append(nil) // made of parts that ParseFrame has seen
}

func (r *Receiver) encryptedAck(rec signal.Received, key signal.Key) (signal.Frame, error) {
	random := make([]byte, signal.PadSize)
	rand.Read(random) // never fails: it ends the program instead
	return rec.Frame.AckEncrypted(key, signal.PadFrom(random), r.cfg.Now())
}

func (r *Receiver) observe(o Observation) {
	if r.cfg.Observe != nil {
		r.cfg.Observe(o)
	}
}
