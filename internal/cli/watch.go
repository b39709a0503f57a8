package cli

import (
	"proofbell/internal/app"
	"proofbell/internal/receiver"
	"proofbell/internal/server"
)

// observe shows a frame on the page of the receiver.
func (h *house) observe(o receiver.Observation) {
	h.app.Observe(app.Observed{Received: o.Received, Lost: o.Lost, Verdict: o.Verdict, Reply: o.Reply, NotStored: o.NotStored != nil, ReplyLost: o.ReplyLost})
}

// receiving is the state of the receiver's sockets; nil when there is no receiver.
func (h *house) receiving() *server.Receiving {
	if h.receiver == nil {
		return nil
	}
	limits := h.receiver.Limits()
	state := &server.Receiving{Counts: h.receiver.Stats(), Limits: server.ReceiverLimits{
		Conns: limits.Conns, PerAddress: limits.ConnsPerAddress, Idle: limits.Idle.Seconds(), InFrame: limits.InFrame.Seconds(), Faults: limits.Faults,
	}}
	for _, p := range h.receiver.Peers() {
		peer := server.Peer{Remote: p.Remote, Since: p.Since, Frames: p.Frames, Faults: p.Faults}
		if !p.Last.IsZero() {
			peer.Last = &p.Last
		}
		state.Peers = append(state.Peers, peer)
	}
	return state
}
