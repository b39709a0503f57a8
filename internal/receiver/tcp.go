package receiver

import (
	"errors"
	"net"
	"time"

	"proofbell/signal"
)

const (
	firstPause = 5 * time.Millisecond // after an accept error, doubled up to lastPause
	lastPause  = time.Second
	readAtOnce = 4096 // bytes; a frame is seldom longer than 150
)

// accept takes connections until the receiver drains. An error (no file handles left, a
// peer gone) never ends it.
func (r *Receiver) accept(l net.Listener) {
	defer r.disown(l)
	defer l.Close()
	pause := firstPause
	for {
		conn, err := l.Accept()
		if r.draining.Load() {
			if err == nil {
				conn.Close() // nothing was read: the sender repeats
			}
			return
		}
		if err != nil {
			r.count(func(s *Stats) { s.AcceptErrors++ })
			r.cfg.Log.Warn("accepting connections fails, trying again", "pause", pause, "err", err)
			if !r.sleep(pause) || errors.Is(err, net.ErrClosed) {
				return
			}
			pause = min(2*pause, lastPause)
			continue
		}
		pause = firstPause
		if p := r.admit(conn); p == nil {
			conn.Close() // refused: nothing was read
		} else {
			r.work.Go(func() {
				defer r.release(p)
				r.serve(p)
			})
		}
	}
}

// sleep waits, and reports false when the receiver is given up meanwhile.
func (r *Receiver) sleep(d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-r.ctx.Done():
		return false
	}
}

// admit takes charge of a connection; nil when there are too many, or it is too late.
func (r *Receiver) admit(conn net.Conn) *peer {
	address := addressOf(conn.RemoteAddr())
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.draining.Load() {
		return nil
	}
	var h *host
	if r.stats.Conns < r.cfg.Limits.Conns {
		h = r.hosts.connect(address, r.stats.Conns)
	}
	if h == nil {
		r.stats.Refused++
		if held, ok := r.refusals.line(); ok {
			r.cfg.Log.Warn("connection refused: too many", "address", address, "open in all", r.stats.Conns, "unsaid", held)
		}
		return nil
	}
	p := &peer{Conn: conn, reader: readerOf(conn), remote: conn.RemoteAddr().String(), address: address, host: h, since: r.cfg.Now().UTC()}
	r.stats.Conns++
	r.stats.Accepted++
	r.closers[p] = struct{}{}
	return p
}

func (r *Receiver) release(p *peer) {
	p.Close() // all that mattered was written before
	r.mu.Lock()
	defer r.mu.Unlock()
	delete(r.closers, p)
	r.stats.Conns--
	r.hosts.leave(p.address, p.host)
}

// pay waits until the address of a connection may send another frame.
func (r *Receiver) pay(p *peer) {
	d := r.hosts.pay(p.host)
	if d == 0 {
		return
	}
	r.count(func(s *Stats) { s.Slowed++ })
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
	case <-r.drain: // what is in hand is dealt with now
	}
}

// serve reads frames from one connection and answers them, one after the other, until the
// peer closes, is too slow, sends too much garbage, or the receiver drains.
func (r *Receiver) serve(conn *peer) {
	var split signal.Splitter
	faults := 0
	begun := false // a frame has begun since the last sound one: its time runs, whatever follows
	r.pay(conn)    // who does nothing but connect is slowed as well
	deadline := time.Now().Add(r.cfg.Limits.Idle)
	for {
		err := r.read(conn, deadline, &split)
		paid := false
		for piece, ok := split.Next(); ok; piece, ok = split.Next() {
			r.pay(conn)
			paid = true
			sound, goOn := r.handle(conn, piece, &faults)
			if !goOn {
				return
			}
			if sound {
				begun = false
				deadline = time.Now().Add(r.cfg.Limits.Idle)
			}
		}
		if err != nil {
			if piece, ok := split.Flush(); ok {
				r.handle(conn, piece, &faults)
			}
			return
		}
		if !paid { // bytes without a frame cost as well, or a line without an end would be free
			r.pay(conn)
		}
		if split.Inside() && !begun {
			begun = true
			deadline = time.Now().Add(r.cfg.Limits.InFrame)
		}
	}
}

// handle takes one piece of a connection and writes its reply. goOn is false when the
// connection is to be closed.
func (r *Receiver) handle(conn *peer, piece signal.Piece, faults *int) (sound, goOn bool) {
	o, sound := r.judge("tcp", conn.remote, piece)
	if sound {
		*faults = 0
		conn.frames.Add(1)
		conn.last.Store(o.At.UnixNano())
		if o.Reply != nil {
			o.ReplyLost = !r.write(conn, o.Reply)
		}
		r.observe(o)
		return true, !o.ReplyLost
	}
	conn.faults.Add(1)
	*faults++
	blamed := r.hosts.blame(conn.host)
	if blamed {
		r.observe(o) // one that sends much rubbish is counted and no longer shown
	}
	if blamed && *faults < r.cfg.Limits.Faults {
		return false, true
	}
	if held, ok := r.closings.line(); ok {
		r.cfg.Log.Warn("connection closed: it sends no sound frames", "remote", conn.remote, "faults", *faults, "unsaid", held)
	}
	return false, false
}

// read waits for bytes and gives them to the splitter, unless the receiver drains. Shutdown
// raises the flag and then sets deadlines in the past; whoever sets one after that sees it.
func (r *Receiver) read(conn *peer, deadline time.Time, split *signal.Splitter) error {
	if err := conn.SetReadDeadline(deadline); err != nil {
		return err
	}
	if r.draining.Load() {
		return ErrShutdown
	}
	return conn.read(func(b []byte) { split.Write(b) })
}

func (r *Receiver) write(conn *peer, reply []byte) bool {
	err := conn.SetWriteDeadline(time.Now().Add(r.cfg.Limits.Write))
	if err == nil {
		_, err = conn.Write(reply)
	}
	if err != nil {
		r.replyLost(conn.remote, err)
	}
	return err == nil
}

func (r *Receiver) replyLost(remote string, err error) {
	r.count(func(s *Stats) { s.RepliesLost++ })
	if held, ok := r.repliesLost.line(); ok {
		r.cfg.Log.Warn("signal stored, reply not sent; the sender will repeat", "remote", remote, "unsaid", held, "err", err)
	}
}

// plainReader reads with a small buffer for each connection.
type plainReader struct{ conn net.Conn }

func (r plainReader) read(take func([]byte)) error {
	var buf [512]byte
	n, err := r.conn.Read(buf[:])
	take(buf[:n])
	return err
}
