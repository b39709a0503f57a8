package panelsim

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"slices"
	"strconv"
	"sync"
	"time"

	"proofbell/signal"
	"proofbell/site"
)

// mostSeen is how many lines the station keeps.
const mostSeen = 5000

// Seen is one line of the station's history, in the station's own time.
type Seen struct {
	At        time.Time        `json:"at"`
	Zone      string           `json:"zone"` // as the account's zone list has it; "" for the panel itself
	Code      string           `json:"code"`
	Qualifier signal.Qualifier `json:"qualifier"`
	Area      int              `json:"area"`
	Path      string           `json:"path"`
	Label     string           `json:"label"`
	OnTest    bool             `json:"onTest"`
}

// Station is a monitoring station for practice: a receiver of its own that shares no code with the one that is being
// proved, a clock that is off by some seconds, and an operator who says only what the station saw.
type Station struct {
	site     *site.Site
	operator string
	offset   time.Duration
	now      func() time.Time
	listener net.Listener
	work     sync.WaitGroup
	log      *slog.Logger

	mu       sync.Mutex
	conns    map[net.Conn]bool
	closed   bool
	history  []Seen
	until    time.Time
	families []string
	calls    int
}

// StationState is what one can know of the station by calling it.
type StationState struct {
	Name      string    `json:"name"`
	Operator  string    `json:"operator"`
	OnTest    bool      `json:"onTest"`
	Until     time.Time `json:"until,omitzero"`
	Families  []string  `json:"families"`
	Reference string    `json:"reference"`
	Offset    int       `json:"clockOffset"` // seconds that its clock is ahead
	History   []Seen    `json:"history"`     // oldest first
	Says      string    `json:"says"`
}

func newStation(ctx context.Context, s *site.Site, now func() time.Time, log *slog.Logger) (*Station, error) {
	var lc net.ListenConfig
	l, err := lc.Listen(ctx, "tcp", "127.0.0.1:0")
	if err != nil {
		return nil, fmt.Errorf("simulated station: %w", err)
	}
	st := &Station{site: s, operator: "the operator", offset: 7 * time.Second, now: now, listener: l, log: log, conns: map[net.Conn]bool{}, history: []Seen{}}
	for _, id := range site.SortedIDs(s.People) {
		if s.People[id].Role == "operator" {
			st.operator = s.People[id].Name
		}
	}
	st.work.Go(st.accept)
	return st, nil
}

func (st *Station) addr() string { return st.listener.Addr().String() }

func (st *Station) close() error {
	st.mu.Lock()
	st.closed = true
	err := st.listener.Close()
	for c := range st.conns {
		err = errors.Join(err, c.Close())
	}
	st.mu.Unlock()
	st.work.Wait()
	return err
}

func (st *Station) accept() {
	for {
		c, err := st.listener.Accept()
		if err != nil {
			return // closed
		}
		st.mu.Lock()
		if st.closed {
			st.mu.Unlock()
			_ = c.Close()
			return
		}
		st.conns[c] = true
		st.mu.Unlock()
		st.work.Go(func() { st.serve(c) })
	}
}

func (st *Station) serve(c net.Conn) {
	defer func() {
		st.mu.Lock()
		delete(st.conns, c)
		st.mu.Unlock()
		_ = c.Close() // closed twice when the station ends: no harm
	}()
	var split signal.Splitter
	buf := make([]byte, signal.MaxFrame)
	for {
		n, err := c.Read(buf)
		if err != nil {
			return
		}
		_, _ = split.Write(buf[:n]) // never fails
		for piece, ok := split.Next(); ok; piece, ok = split.Next() {
			if piece.Err != nil {
				continue
			}
			frame, err := signal.ParseFrame(piece.Raw)
			if err != nil {
				continue
			}
			st.take(frame)
			if _, err := c.Write(frame.Ack().Append(nil)); err != nil {
				return
			}
		}
	}
}

func (st *Station) take(f signal.Frame) {
	events, err := f.Events()
	if err != nil {
		st.log.Warn("simulated station", "err", err)
		return
	}
	st.mu.Lock()
	defer st.mu.Unlock()
	path, _ := f.Field("J")
	for _, e := range events {
		seen := Seen{At: st.now().Add(st.offset).UTC().Truncate(time.Second), Code: e.Code, Qualifier: e.Qualifier, Area: e.Area, Path: path, Label: e.Words, OnTest: st.now().Before(st.until)}
		if e.NumberIs == signal.Zone && e.Number > 0 {
			seen.Zone, seen.Label = st.zone(e.Number)
		}
		if st.history = append(st.history, seen); len(st.history) > mostSeen {
			st.history = st.history[len(st.history)-mostSeen:]
		}
	}
}

// zone names a number as the station's own zone list does.
func (st *Station) zone(number int) (id, label string) {
	for z, line := range st.site.Station.ZoneList {
		if n, err := strconv.Atoi(string(z)); err == nil && n == number {
			return string(z), line.Label
		}
	}
	return fmt.Sprintf("%02d", number), "not on the list"
}

// Call is what a technician asks of the station.
type Call struct {
	Do       string    `json:"do"` // on-test, extend, off-test, read-back
	Account  string    `json:"account"`
	Families []string  `json:"families"`
	Until    time.Time `json:"until"`
}

// clock is the time of day as one says it on the telephone: that of the site.
func (st *Station) clock(at time.Time) string {
	zone, err := time.LoadLocation(st.site.Premises.TimeZone)
	if err != nil {
		return at.UTC().Format("15:04") + " UTC"
	}
	return at.In(zone).Format("15:04")
}

// answer is what the operator says and does.
func (st *Station) answer(c Call) StationState {
	st.mu.Lock()
	defer st.mu.Unlock()
	says := ""
	switch c.Do {
	case "on-test":
		switch {
		case c.Account != st.site.Account.Number:
			says = fmt.Sprintf("I have account %s here, you said %s. I put nothing on test.", st.site.Account.Number, c.Account)
		case !c.Until.After(st.now()):
			says = "Until what time, please?"
		default:
			st.calls++
			st.until, st.families = c.Until, slices.Clone(c.Families)
			says = fmt.Sprintf("Account %s, %s, is on test until %s. My name is %s, the reference is %s.", c.Account, st.site.Name, st.clock(c.Until), st.operator, st.reference())
		}
	case "extend":
		if !st.now().Before(st.until) {
			says = "That account is not on test. Call again to put it on test."
			break
		}
		st.until = c.Until
		says = fmt.Sprintf("Extended until %s.", st.clock(c.Until))
	case "off-test":
		st.until, st.families = time.Time{}, nil
		says = "The account is live again. Nothing is on test or left out."
	case "read-back":
		says = fmt.Sprintf("I have %d lines.", len(st.history))
	default:
		says = "What can I do for you?"
	}
	s := st.snapshot()
	s.Says = says
	return s
}

func (st *Station) state() StationState {
	st.mu.Lock()
	defer st.mu.Unlock()
	return st.snapshot()
}

func (st *Station) snapshot() StationState {
	return StationState{
		Name: st.site.Station.Name, Operator: st.operator, OnTest: st.now().Before(st.until), Until: st.until, Families: append([]string{}, st.families...),
		Reference: st.reference(), Offset: int(st.offset / time.Second), History: append([]Seen{}, st.history...),
	}
}

func (st *Station) reference() string { return fmt.Sprintf("CR-%04d", 4100+st.calls) }
