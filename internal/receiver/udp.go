package receiver

import (
	"net"
	"net/netip"
	"sync"
	"time"

	"proofbell/signal"
)

const (
	largestDatagram = 65535
	udpBuffer       = 1 << 20 // for bursts while all slots are taken; the system may grant less
)

// readDatagrams takes datagrams until the receiver drains. Each is handled on its own; a
// reply goes to the address and port it came from. When all slots are taken it stops
// reading, and the system's buffer, then the network, drops what is too much.
func (r *Receiver) readDatagrams(conn *net.UDPConn) {
	var inHand sync.WaitGroup
	defer func() {
		inHand.Wait() // their replies need the socket
		conn.Close()
		r.disown(conn)
	}()
	buf := make([]byte, largestDatagram)
	pause := firstPause
	for {
		if r.draining.Load() {
			return
		}
		n, from, err := conn.ReadFromUDPAddrPort(buf)
		if r.draining.Load() && err != nil {
			return
		}
		if err != nil {
			r.count(func(s *Stats) { s.AcceptErrors++ })
			r.cfg.Log.Warn("reading datagrams fails, trying again", "pause", pause, "err", err)
			if !r.sleep(pause) {
				return
			}
			pause = min(2*pause, lastPause)
			continue
		}
		pause = firstPause
		h := r.hosts.datagram(wholeAddress(from.Addr()))
		if h == nil {
			r.drop(from)
			continue
		}
		select {
		case r.slots <- struct{}{}:
		case <-r.ctx.Done():
			return
		}
		datagram := append([]byte(nil), buf[:n]...)
		inHand.Go(func() {
			defer func() { r.hosts.done(h); <-r.slots }()
			r.datagram(conn, from, h, datagram)
		})
	}
}

func (r *Receiver) drop(from netip.AddrPort) {
	r.count(func(s *Stats) { s.Dropped++ })
	if held, ok := r.floods.line(); ok {
		r.cfg.Log.Warn("datagram dropped: its address sends too many", "remote", from, "unsaid", held)
	}
}

// datagram handles the frames of one datagram, by rule one, in their order.
func (r *Receiver) datagram(conn *net.UDPConn, from netip.AddrPort, h *host, datagram []byte) {
	remote := netip.AddrPortFrom(from.Addr().Unmap(), from.Port()).String()
	var split signal.Splitter
	split.Write(datagram)
	piece, ok := split.Next()
	for n := 0; ok; n++ {
		if n > 0 && !r.hosts.more(h) {
			r.drop(from)
			return
		}
		r.answerDatagram(conn, from, remote, h, piece)
		piece, ok = split.Next()
	}
	if piece, ok := split.Flush(); ok {
		r.answerDatagram(conn, from, remote, h, piece)
	}
}

func (r *Receiver) answerDatagram(conn *net.UDPConn, from netip.AddrPort, remote string, h *host, piece signal.Piece) {
	o, sound := r.judge("udp", remote, piece)
	if !sound && !r.hosts.blame(h) {
		return // one that sends much rubbish is counted and no longer shown
	}
	if o.Reply != nil {
		err := conn.SetWriteDeadline(time.Now().Add(r.cfg.Limits.Write))
		if err == nil {
			_, err = conn.WriteToUDPAddrPort(o.Reply, from)
		}
		if err != nil {
			r.replyLost(remote, err)
			o.ReplyLost = true
		}
	}
	r.observe(o)
}
