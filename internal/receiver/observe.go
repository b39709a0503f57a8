package receiver

import (
	"cmp"
	"net"
	"net/netip"
	"slices"
	"sync/atomic"
	"time"

	"proofbell/signal"
)

// Observation is one frame, or bytes that belong to none, and what became of it. What is not
// sound is as interesting as what is: a wrong checksum or a digit swapped is how a badly set
// panel looks.
type Observation struct {
	signal.Received                // Raw holds the first bytes passed over where Lost is not 0
	Lost            int            // bytes passed over that belong to no frame; 0 when Raw is a frame
	Verdict         signal.Verdict // what was answered
	Reply           []byte         // as it went out; nil for silence
	NotStored       error          // why Deliver kept nothing, and nothing was answered; nil otherwise
	ReplyLost       bool           // the reply could not be written; the sender will repeat
}

// Clear returns the decrypted frame written as a clear one, and nil where Raw was clear, or the
// frame holds what a clear one can not.
func (o Observation) Clear() []byte {
	if !o.Encrypted {
		return nil
	}
	raw, err := o.Frame.Encode()
	if err != nil {
		return nil
	}
	return raw
}

// Peer is a TCP connection as it stands now.
type Peer struct {
	Remote string
	Since  time.Time // UTC, like Last
	Last   time.Time // newest sound frame; zero: none yet
	Frames int64     // sound ones
	Faults int64     // unsound frames and runs of bytes that belong to none
}

// peer is a connection and what is counted of it.
type peer struct {
	net.Conn
	reader
	remote         string
	address        netip.Addr // what the limits count
	host           *host
	since          time.Time
	last           atomic.Int64 // Unix nanoseconds
	frames, faults atomic.Int64
}

// Peers lists the open connections, oldest first.
func (r *Receiver) Peers() []Peer {
	r.mu.Lock()
	peers := make([]Peer, 0, r.stats.Conns)
	for c := range r.closers {
		if p, ok := c.(*peer); ok {
			now := Peer{Remote: p.remote, Since: p.since, Frames: p.frames.Load(), Faults: p.faults.Load()}
			if last := p.last.Load(); last != 0 {
				now.Last = time.Unix(0, last).UTC()
			}
			peers = append(peers, now)
		}
	}
	r.mu.Unlock()
	slices.SortFunc(peers, func(a, b Peer) int { return cmp.Or(a.Since.Compare(b.Since), cmp.Compare(a.Remote, b.Remote)) })
	return peers
}

// Limits returns the limits that hold.
func (r *Receiver) Limits() Limits { return r.cfg.Limits }
