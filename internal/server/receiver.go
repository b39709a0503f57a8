package server

import (
	"bytes"
	"encoding/json"
	"net"
	"net/http"
	"strconv"
	"time"

	"proofbell/internal/app"
)

// Receiving is the state of the receiver's sockets.
type Receiving struct {
	Peers  []Peer
	Counts any // since the start, by name
	Limits ReceiverLimits
}

// Peer is a connection as it stands now.
type Peer struct {
	Remote string     `json:"remote"`
	Since  time.Time  `json:"since"`
	Last   *time.Time `json:"last,omitempty"` // newest sound frame
	Frames int64      `json:"frames"`
	Faults int64      `json:"faults"`
}

// ReceiverLimits are what strangers can cost at most; times in seconds.
type ReceiverLimits struct {
	Conns      int     `json:"conns"`
	PerAddress int     `json:"perAddress"`
	Idle       float64 `json:"idle"`
	InFrame    float64 `json:"inFrame"`
	Faults     int     `json:"faults"`
}

const (
	mostPeers    = 100                    // listed; all are counted
	framesAtOnce = 100                    // in one answer and in one event
	gather       = 250 * time.Millisecond // what comes within it is sent as one event
	stateEvery   = time.Second
)

// stateOfReceiver is what the page of the receiver shows above its frames.
func (s *server) stateOfReceiver(r *http.Request) (map[string]any, error) {
	state, err := s.receiver(r, "")
	if err != nil {
		return nil, err
	}
	state["addresses"], state["here"] = append([]string{}, s.Signals...), allHere(s.Signals)
	state["tested"] = s.App.UnderTest()
	if s.Receiving == nil {
		return state, nil
	}
	if now := s.Receiving(); now != nil {
		state["connections"], state["peers"] = len(now.Peers), append([]Peer{}, now.Peers[:min(len(now.Peers), mostPeers)]...)
		state["counts"], state["limits"] = now.Counts, now.Limits
	}
	return state, nil
}

// allHere reports whether addresses are of this machine alone, so that no panel in a network reaches them.
func allHere(addresses []string) bool {
	for _, a := range addresses {
		host, _, _ := net.SplitHostPort(a)
		if ip := net.ParseIP(host); host != "localhost" && (ip == nil || !ip.IsLoopback()) {
			return false
		}
	}
	return true
}

func (s *server) receiverState(w http.ResponseWriter, r *http.Request) {
	state, err := s.stateOfReceiver(r)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.answer(w, r, http.StatusOK, state)
}

func (s *server) frames(w http.ResponseWriter, r *http.Request) {
	after, err := number(r, "after", 0, 1<<53)
	limit, err2 := number(r, "limit", framesAtOnce, 500)
	if err == nil {
		err = err2
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	rows, missed := s.App.Frames(after, int(limit), spoken(r))
	s.answer(w, r, http.StatusOK, map[string]any{"frames": rows, "missed": missed})
}

func (s *server) frame(w http.ResponseWriter, r *http.Request) {
	n, err := strconv.ParseInt(r.PathValue("n"), 10, 64)
	if err != nil {
		s.fail(w, r, app.ErrNotFound)
		return
	}
	lesson, err := s.App.FrameLesson(n, spoken(r))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.answer(w, r, http.StatusOK, lesson)
}

// receiverEvents streams the receiver's state, when it has changed, and new frames, newest first. A flood is not sent in
// full: missed says how many frames are left out.
func (s *server) receiverEvents(w http.ResponseWriter, r *http.Request) {
	cursor, err := seen(r)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	grown, unwatch := s.App.WatchFrames()
	defer unwatch()
	stream := newStream(w, r)
	ticker, pulse := time.NewTicker(stateEvery), time.NewTicker(beat)
	defer ticker.Stop()
	defer pulse.Stop()
	gathered := time.NewTimer(0) // what is held already comes first
	defer gathered.Stop()
	var wake <-chan struct{}
	var told []byte
	tellState := func() {
		state, err := s.stateOfReceiver(r)
		var raw []byte
		if err == nil {
			raw, err = json.Marshal(state)
		}
		if err != nil {
			stream.err = err
			return
		}
		if !bytes.Equal(raw, told) {
			told = raw
			stream.send("state", "", json.RawMessage(raw))
		}
	}
	tellState()
	for stream.err == nil {
		select {
		case <-r.Context().Done():
			return
		case <-stream.stop:
			return
		case <-wake:
			gathered.Reset(gather)
			wake = nil // until what gathers is sent
		case <-gathered.C:
			wake = grown
			if rows, missed := s.App.Frames(cursor, framesAtOnce, spoken(r)); len(rows) > 0 {
				cursor = rows[0].N
				stream.send("frames", strconv.FormatInt(cursor, 10), map[string]any{"frames": rows, "missed": missed})
			}
		case <-ticker.C:
			tellState()
		case <-pulse.C:
			stream.beat()
		}
	}
}
