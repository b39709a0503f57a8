package receiver

import (
	"net"
	"net/netip"
	"sync"

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
		select {
		case r.slots <- struct{}{}:
		case <-r.ctx.Done():
			return
		}
		datagram := append([]byte(nil), buf[:n]...)
		inHand.Go(func() {
			defer func() { <-r.slots }()
			r.datagram(conn, from, datagram)
		})
	}
}

// datagram handles the frames of one datagram, by rule one, in their order.
func (r *Receiver) datagram(conn *net.UDPConn, from netip.AddrPort, datagram []byte) {
	remote := netip.AddrPortFrom(from.Addr().Unmap(), from.Port()).String()
	var split signal.Splitter
	split.Write(datagram)
	for piece, ok := split.Next(); ok; piece, ok = split.Next() {
		if piece.Err != nil {
			r.lost("udp", remote, piece)
			continue
		}
		o, _ := r.take("udp", remote, piece.Raw)
		if o.Reply != nil {
			if _, err := conn.WriteToUDPAddrPort(o.Reply, from); err != nil {
				r.replyLost(remote, err)
				o.ReplyLost = true
			}
		}
		r.observe(o)
	}
	if piece, ok := split.Flush(); ok {
		r.lost("udp", remote, piece)
	}
}
