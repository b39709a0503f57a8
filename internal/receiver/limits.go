package receiver

import (
	"cmp"
	"net"
	"net/netip"
	"sync"
	"time"
)

// Limits bound what strangers can cost. Zero values stand for the defaults given. An address
// is an IPv4 address or the /64 of an IPv6 one; this machine's own count like any other.
type Limits struct {
	Conns            int           // open TCP connections: 16384, or what the file handles of the process allow
	ConnsPerAddress  int           // of one address: 256; few more than crowded once three quarters of Conns are taken
	FramesPerAddress int           // a second, over all connections of one address: 500. Beyond it TCP is read slower, UDP dropped
	Burst            int           // frames that an address may send at once: 1000
	FaultsPerAddress int           // a minute; beyond it a connection is closed at its next fault, and faults are only counted: 300
	Datagrams        int           // UDP datagrams in work at once; more wait in the system's buffer: 256
	Faults           int           // unsound frames or runs of garbage on a TCP connection before it is closed: 20
	Idle             time.Duration // to the start of the next frame: 60 s
	InFrame          time.Duration // from the start of a frame to its end: 10 s
	Write            time.Duration // of a reply: 5 s
}

// crowded is how many connections an address may hold when little room is left: a panel needs
// one or two, and comes in beside many addresses that take all they can get.
const crowded = 8

// manyHosts is how many addresses are told apart that have no connection open. UDP addresses
// can be forged: beyond this number the new ones are counted together.
const manyHosts = 16384

func (l Limits) withDefaults() Limits {
	number := func(v *int, d int) { *v = cmp.Or(max(*v, 0), d) }
	span := func(v *time.Duration, d time.Duration) { *v = cmp.Or(max(*v, 0), d) }
	number(&l.Conns, 16384)
	number(&l.ConnsPerAddress, 256)
	number(&l.FramesPerAddress, 500)
	number(&l.Burst, 1000)
	number(&l.FaultsPerAddress, 300)
	number(&l.Datagrams, 256)
	number(&l.Faults, 20)
	span(&l.Idle, 60*time.Second)
	span(&l.InFrame, 10*time.Second)
	span(&l.Write, 5*time.Second)
	return l
}

// hosts knows what each address has used up of its limits. Its memory is bounded by the open
// connections and manyHosts.
type hosts struct {
	limits         Limits
	frames, faults allowance

	mu     sync.Mutex
	by     map[netip.Addr]*host
	others host      // all that found no room in by
	swept  time.Time // when by was last cleared of those who used up nothing
}

type host struct {
	conns, datagrams int
	frames, faults   time.Time // when what was used up is paid for; see allowance
}

// allowance lets so many through at once, and then one each interval.
type allowance struct{ every, ahead time.Duration }

func newHosts(l Limits) *hosts {
	of := func(n int, per time.Duration, burst int) allowance {
		every := max(per/time.Duration(n), 1)
		return allowance{every, every * time.Duration(burst)}
	}
	return &hosts{
		limits: l, by: map[netip.Addr]*host{},
		frames: of(l.FramesPerAddress, time.Second, l.Burst), faults: of(l.FaultsPerAddress, time.Minute, l.FaultsPerAddress),
	}
}

// wait charges one to paid and tells how long to wait until it is allowed.
func (a allowance) wait(paid *time.Time, now time.Time) time.Duration {
	if oldest := now.Add(-a.ahead); paid.Before(oldest) {
		*paid = oldest
	}
	*paid = paid.Add(a.every)
	return max(paid.Sub(now), 0)
}

// may charges one if it is allowed now.
func (a allowance) may(paid *time.Time, now time.Time) bool {
	if paid.Add(a.every).After(now) {
		return false
	}
	a.wait(paid, now)
	return true
}

// addressOf is what the limits for one address count. An IPv6 host has a whole /64 to itself.
func addressOf(a net.Addr) netip.Addr {
	at, err := netip.ParseAddrPort(a.String())
	if err != nil {
		return netip.Addr{} // not an internet address: a pipe
	}
	return wholeAddress(at.Addr())
}

func wholeAddress(a netip.Addr) netip.Addr {
	a = a.Unmap().WithZone("")
	if net64, err := a.Prefix(64); err == nil && a.Is6() {
		return net64.Addr()
	}
	return a
}

// find returns the entry of an address. h.mu is held.
func (h *hosts) find(a netip.Addr, connects bool, now time.Time) *host {
	if known := h.by[a]; known != nil {
		return known
	}
	if len(h.by) >= manyHosts && now.Sub(h.swept) >= time.Second {
		h.swept = now
		for a, x := range h.by {
			if x.conns == 0 && x.datagrams == 0 && now.Sub(x.frames) >= h.frames.ahead && now.Sub(x.faults) >= h.faults.ahead {
				delete(h.by, a)
			}
		}
	}
	if len(h.by) >= manyHosts && !connects {
		return &h.others
	}
	made := &host{}
	h.by[a] = made
	return made
}

// connect takes a place for a connection, all being how many are open; nil when the address
// has used up its own. leave gives it back.
func (h *hosts) connect(a netip.Addr, all int) *host {
	h.mu.Lock()
	defer h.mu.Unlock()
	most := h.limits.ConnsPerAddress
	if all >= h.limits.Conns*3/4 {
		most = min(most, crowded)
	}
	x := h.find(a, true, time.Now())
	if x.conns >= most {
		return nil
	}
	x.conns++
	return x
}

func (h *hosts) leave(a netip.Addr, x *host) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if x.conns--; x.conns == 0 && x.datagrams == 0 && len(h.by) > manyHosts {
		delete(h.by, a)
	}
}

// pay charges a frame and tells how long its connection has to wait before it is looked at.
// Each connection waits with one frame in hand, so those of one address are served in turn.
func (h *hosts) pay(x *host) time.Duration {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.frames.wait(&x.frames, time.Now())
}

// blame charges a fault; false when the address has shown too many.
func (h *hosts) blame(x *host) bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.faults.may(&x.faults, time.Now())
}

// datagram takes a place for a datagram; nil when it is to be dropped. done gives it back.
func (h *hosts) datagram(a netip.Addr) *host {
	h.mu.Lock()
	defer h.mu.Unlock()
	now := time.Now()
	x := h.find(a, false, now)
	if x.datagrams >= max(h.limits.Datagrams/4, 1) || !h.frames.may(&x.frames, now) {
		return nil
	}
	x.datagrams++
	return x
}

// more charges another frame of a datagram; false when it is to be dropped.
func (h *hosts) more(x *host) bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.frames.may(&x.frames, time.Now())
}

func (h *hosts) done(x *host) {
	h.mu.Lock()
	defer h.mu.Unlock()
	x.datagrams--
}

// seldom lets one line of the log through each second: what strangers do fills no disk. The
// zero value is ready; safe for concurrent use.
type seldom struct {
	mu   sync.Mutex
	last time.Time
	held int
}

// line tells whether to write now, and how many lines were held back since the last one.
func (s *seldom) line() (held int, ok bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	now := time.Now()
	if !s.last.IsZero() && now.Sub(s.last) < time.Second {
		s.held++
		return 0, false
	}
	held, s.held, s.last = s.held, 0, now
	return held, true
}
