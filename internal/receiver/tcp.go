package receiver

import (
	"errors"
	"net"
	"net/netip"
	"time"

	"proofbell/signal"
)

const (
	firstPause   = 5 * time.Millisecond // after an accept error, doubled up to lastPause
	lastPause    = time.Second
	readAtOnce   = 2048 // bytes; a frame is seldom longer than 150
	mutedAtATime = 100  // connections refused between two lines in the log
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
		p := &peer{Conn: conn, remote: conn.RemoteAddr().String(), address: hostOf(conn.RemoteAddr()), since: r.cfg.Now().UTC()}
		if !r.admit(p) {
			conn.Close() // refused: nothing was read
			continue
		}
		r.work.Go(func() {
			defer r.release(p)
			r.serve(p)
		})
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

// hostOf is what the limit for one address counts. An IPv6 host has a whole /64 to itself.
func hostOf(a net.Addr) string {
	at, err := netip.ParseAddrPort(a.String())
	if err != nil {
		return a.String() // not an internet address: a pipe
	}
	addr := at.Addr().Unmap().WithZone("")
	if addr.Is4() {
		return addr.String()
	}
	net64, err := addr.Prefix(64)
	if err != nil {
		return addr.String()
	}
	return net64.String()
}

func (r *Receiver) admit(p *peer) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.draining.Load() {
		return false
	}
	if r.stats.Conns >= r.cfg.Limits.Conns || r.perAddr[p.address] >= r.cfg.Limits.ConnsPerAddress {
		if r.stats.Refused%mutedAtATime == 0 {
			r.cfg.Log.Warn("connection refused: too many", "address", p.address,
				"of this address", r.perAddr[p.address], "in all", r.stats.Conns)
		}
		r.stats.Refused++
		return false
	}
	r.stats.Conns++
	r.stats.Accepted++
	r.perAddr[p.address]++
	r.closers[p] = struct{}{}
	return true
}

func (r *Receiver) release(p *peer) {
	p.Close() // all that mattered was written before
	r.mu.Lock()
	defer r.mu.Unlock()
	delete(r.closers, p)
	r.stats.Conns--
	if r.perAddr[p.address]--; r.perAddr[p.address] == 0 {
		delete(r.perAddr, p.address)
	}
}

// serve reads frames from one connection and answers them, one after the other, until the
// peer closes, is too slow, sends too much garbage, or the receiver drains.
func (r *Receiver) serve(conn *peer) {
	var split signal.Splitter
	buf := make([]byte, readAtOnce)
	faults := 0
	begun := false // a frame has begun since the last sound one: its time runs, whatever follows
	deadline := time.Now().Add(r.cfg.Limits.Idle)
	for {
		n, err := r.read(conn, deadline, buf)
		split.Write(buf[:n])
		for piece, ok := split.Next(); ok; piece, ok = split.Next() {
			sound := false
			if piece.Err != nil {
				r.lost("tcp", conn.remote, piece)
			} else {
				var o Observation
				o, sound = r.take("tcp", conn.remote, piece.Raw)
				if sound {
					conn.frames.Add(1)
					conn.last.Store(o.At.UnixNano())
				}
				if o.Reply != nil {
					o.ReplyLost = !r.write(conn, o.Reply)
				}
				r.observe(o)
				if o.ReplyLost {
					return
				}
			}
			if sound {
				faults, begun = 0, false
				deadline = time.Now().Add(r.cfg.Limits.Idle)
				continue
			}
			conn.faults.Add(1)
			if faults++; faults >= r.cfg.Limits.Faults {
				r.cfg.Log.Warn("connection closed: it sends no sound frames", "remote", conn.remote, "faults", faults)
				return
			}
		}
		if err != nil {
			if piece, ok := split.Flush(); ok {
				r.lost("tcp", conn.remote, piece)
			}
			return
		}
		if split.Inside() && !begun {
			begun = true
			deadline = time.Now().Add(r.cfg.Limits.InFrame)
		}
	}
}

// read is conn.Read with a deadline, unless the receiver drains. Shutdown raises the flag
// and then sets deadlines in the past; whoever sets one after that sees the flag.
func (r *Receiver) read(conn net.Conn, deadline time.Time, buf []byte) (int, error) {
	if err := conn.SetReadDeadline(deadline); err != nil {
		return 0, err
	}
	if r.draining.Load() {
		return 0, ErrShutdown
	}
	return conn.Read(buf)
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
	r.cfg.Log.Warn("signal stored, reply not sent; the sender will repeat", "remote", remote, "err", err)
}
