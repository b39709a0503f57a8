package prove

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/signal"
	"proofbell/site"
)

// Tolerances between clocks, trade practice: two logs 90 s apart are accepted, more is said.
const (
	tolerance     = 90 * time.Second
	farApart      = 15 * time.Minute // a read-back farther from its trip than this does not belong to it
	lateAtMost    = 10 * time.Minute // after its worst time a signal still belongs to its trip, as late
	noLimit       = 24 * time.Hour   // how long a signal without a time limit may take
	sameTrip      = 20 * time.Second // two ticks of one trip: a double tap, or two people
	outOfOrder    = 5 * time.Second  // a restore that overtook its alarm
	secondPath    = 90 * time.Second // the same report by the other path
	assumeCleared = 120 * time.Second
)

// matcher holds one judgement while it is made. Everything in it is sorted, so that the order of the observations can
// not matter.
type matcher struct {
	plan     []Step
	obs      Observations
	clocks   Clocks
	now      time.Time
	lang     *words.Language
	ticks    map[StepID][]Tick
	heard    []*heard
	byID     map[SignalID]*heard
	root     map[SignalID]SignalID
	reads    []ReadBack
	lost     []bool // read-backs that fit no attempt
	attempts map[StepID][]*attempt
	stood    map[StepID][]*attempt // those that count, as judged
	dups     int
	out      Outcome
}

// heard is a signal of ours with its repeats merged into it.
type heard struct {
	Signal
	at        time.Time // our clock; zero: not known
	aside     UnexpectedKind
	explained bool
	blamed    *attempt // the attempt that it is the wrong signal of
	receipts  []Receipt
}

// attempt is one trip of one step with what came of it.
type attempt struct {
	step   *Step
	trips  []Tick
	at     time.Time // of the first trip; zero: not known
	method Method
	named  bool // the method is one of the step's
	link   SignalID
	found  map[ExpectationID]*condition
	wrong  *heard
	reads  map[ExpectationID][]ReadBack
	denied map[ExpectationID][]ReadBack
	ended  time.Time // when the next attempt of this step begins; zero: never

	results  []SignalResult
	verdict  Verdict
	strip    PathStrip
	say      string
	due      time.Time
	warnings []string
	open     bool
}

// Match lays observations over a plan and judges every expected signal and every step at the moment now. The result does
// not depend on the order of the observations, and observations given twice count once.
func (v Voice) Match(plan []Step, obs Observations, clocks Clocks, now time.Time) Outcome {
	m := &matcher{lang: v.lang, plan: plan, obs: obs, clocks: clocks, now: now, attempts: map[StepID][]*attempt{}, stood: map[StepID][]*attempt{}}
	m.cleanTicks()
	m.cleanSignals()
	m.cleanReadBacks()
	m.makeAttempts()
	m.assign()
	m.blame()
	m.assignReadBacks()
	m.judgeAll()
	m.differences()
	m.apart()
	m.clockNotes()
	m.sum()
	return m.out
}

func (m *matcher) cleanTicks() {
	ticks := slices.Clone(m.obs.Ticks)
	sorts.By(ticks, func(a, b Tick) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.ID, b.ID), cmp.Compare(a.Step, b.Step), cmp.Compare(a.What, b.What), cmp.Compare(a.Method, b.Method))
	})
	withdrawn := map[TickID]bool{}
	for _, t := range ticks {
		if t.What == Withdrawn {
			withdrawn[t.Of] = true
		}
	}
	seen := map[TickID]bool{}
	m.ticks = map[StepID][]Tick{}
	for _, t := range ticks {
		if seen[t.ID] || withdrawn[t.ID] || t.What == Withdrawn {
			continue
		}
		seen[t.ID] = true
		m.ticks[t.Step] = append(m.ticks[t.Step], t)
	}
}

func (m *matcher) cleanSignals() {
	m.byID, m.root = map[SignalID]*heard{}, map[SignalID]SignalID{}
	all := slices.Clone(m.obs.Signals)
	sorts.By(all, func(a, b Signal) int {
		return cmp.Or(cmp.Compare(a.ID, b.ID), a.Received.Compare(b.Received), a.Stamp.Compare(b.Stamp), cmp.Compare(a.Event.Raw, b.Event.Raw))
	})
	all = slices.CompactFunc(all, func(a, b Signal) bool { return a.ID == b.ID })
	index := map[SignalID]Signal{}
	for _, s := range all {
		index[s.ID] = s
	}
	for _, s := range all {
		m.root[s.ID] = rootOf(index, s.ID)
	}
	for _, s := range all {
		if m.root[s.ID] == s.ID {
			h := &heard{Signal: s, at: m.ours(s), receipts: []Receipt{s.receipt()}}
			m.byID[s.ID] = h
			m.heard = append(m.heard, h)
		}
	}
	for _, s := range all {
		if first := m.byID[m.root[s.ID]]; first.ID != s.ID {
			m.dups++
			first.Acknowledged = first.Acknowledged || s.Acknowledged // the first answer was lost, the repeat was answered
			first.receipts = append(first.receipts, s.receipt())
			if at := m.ours(s); !at.IsZero() && at.Before(first.at) { // another receiver had it earlier and wrote it later
				first.at = at
			}
		}
	}
	for _, h := range m.heard {
		switch {
		case m.obs.Account != "" && h.Event.Account != m.obs.Account:
			h.aside = OtherAccount
		case !h.at.IsZero() && h.at.Before(m.obs.Opened.Add(-tolerance)):
			h.aside = BeforeRun
		case !h.Acknowledged:
			h.aside = Unanswered
		}
	}
	for _, h := range m.heard {
		sorts.By(h.receipts, func(a, b Receipt) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Receiver, b.Receiver)) })
	}
	sorts.By(m.heard, compareHeard)
}

func (s Signal) receipt() Receipt {
	return Receipt{Receiver: s.Receiver, At: s.Received, Acknowledged: s.Acknowledged}
}

// receivers counts the receivers that have a signal.
func (h *heard) receivers() int {
	seen := map[string]bool{}
	for _, r := range h.receipts {
		seen[r.Receiver] = true
	}
	return len(seen)
}

// compareHeard orders signals by time. At the same moment a beginning comes before its end.
func compareHeard(a, b *heard) int {
	return cmp.Or(a.at.Compare(b.at), compareBool(ends(a.Event), ends(b.Event)), cmp.Compare(a.ID, b.ID))
}

// ends reports whether an event is the end of a condition. Closing is not: it arms.
func ends(e signal.Event) bool {
	return e.Qualifier == signal.Restore || e.Kind.Ends() && e.Kind != signal.KindClose
}

func compareBool(a, b bool) int {
	switch {
	case a == b:
		return 0
	case b:
		return -1
	}
	return 1
}

// rootOf follows the chain of repeats to its first message. A ring, which only damaged data can have, gives its
// smallest id.
func rootOf(index map[SignalID]Signal, id SignalID) SignalID {
	seen := map[SignalID]bool{}
	for {
		next := index[id].DuplicateOf
		if _, known := index[next]; next == "" || !known {
			return id
		}
		if seen[id] {
			small := id
			for at := index[id].DuplicateOf; at != id; at = index[at].DuplicateOf {
				small = min(small, at)
			}
			return small
		}
		seen[id] = true
		id = next
	}
}

// ours is when a signal came, by our clock: as received, else by the panel's stamp where its clock was measured.
func (m *matcher) ours(s Signal) time.Time {
	if !s.Received.IsZero() {
		return s.Received
	}
	at, _ := m.stamped(s)
	return at
}

// stamped is the panel's stamp by our clock; ok only when the panel's clock was measured.
func (m *matcher) stamped(s Signal) (at time.Time, ok bool) {
	if s.Stamp.IsZero() || m.clocks.Panel == nil {
		return time.Time{}, false
	}
	return s.Stamp.Add(-time.Duration(*m.clocks.Panel) * time.Second), true
}

// stationTime is a read-back's time by our clock. Without a measured offset the station's clock is taken as right.
func (m *matcher) stationTime(r ReadBack) time.Time {
	if r.At.IsZero() || m.clocks.Station == nil {
		return r.At
	}
	return r.At.Add(-time.Duration(*m.clocks.Station) * time.Second)
}

func (m *matcher) cleanReadBacks() {
	m.reads = slices.DeleteFunc(slices.Clone(m.obs.ReadBacks), func(r ReadBack) bool { return r.Taken })
	sorts.By(m.reads, func(a, b ReadBack) int {
		return cmp.Or(cmp.Compare(a.ID, b.ID), a.At.Compare(b.At), cmp.Compare(a.Zone, b.Zone), cmp.Compare(a.Code, b.Code))
	})
	m.reads = slices.CompactFunc(m.reads, func(a, b ReadBack) bool { return a.ID == b.ID })
}

// makeAttempts turns the trips of each step into attempts; two ticks of one trip are one, and the first of them counts.
func (m *matcher) makeAttempts() {
	for i := range m.plan {
		st := &m.plan[i]
		for _, t := range m.ticks[st.ID] {
			if t.What != Tripped {
				continue
			}
			list := m.attempts[st.ID]
			if n := len(list); n > 0 && list[n-1].sameTrip(t) {
				list[n-1].add(t)
				continue
			}
			a := &attempt{step: st, at: t.At, found: map[ExpectationID]*condition{}, reads: map[ExpectationID][]ReadBack{}, denied: map[ExpectationID][]ReadBack{}}
			a.add(t)
			if k := slices.IndexFunc(st.Methods, func(x Method) bool { return x.ID == t.Method }); k >= 0 {
				a.method, a.named = st.Methods[k], true
			} else {
				a.method = Method{Proves: Half, Say: m.lang.Say("The test was not named.")}
			}
			if n := len(list); n > 0 {
				list[n-1].ended = t.At
			}
			m.attempts[st.ID] = append(list, a)
		}
	}
}

// sameTrip reports whether a later tick is of this same trip: a double tap, or another person's.
func (a *attempt) sameTrip(t Tick) bool {
	if t.At.IsZero() || a.at.IsZero() {
		return false
	}
	gap := t.At.Sub(a.at)
	return gap <= sameTrip || gap <= sameTripOthers && otherWriter(a.trips[0], t)
}

func (a *attempt) add(t Tick) {
	a.trips = append(a.trips, t)
	if a.link == "" {
		a.link = t.Signal
	}
}

// fits reports whether an event is the one expected, the area aside.
func fits(e Expectation, ev signal.Event, path site.PathID) bool {
	switch {
	case e.Path != "" && path != "" && e.Path != path:
		return false
	case e.Role == RoleOtherPath:
		return path == e.Path && ev.Qualifier == signal.New
	case e.Zone != "" && ev.Number != e.Number:
		return false
	case e.Zone != "" && ev.NumberIs != signal.Zone && e.Role != RoleArm && e.Role != RoleDisarm:
		return false
	case e.Format != ev.Format || e.Code != ev.Code && !slices.Contains(e.Also, ev.Code):
		return false
	case ev.Format == signal.CID || e.Role == RoleArm || e.Role == RoleDisarm:
		return e.Qualifier == ev.Qualifier
	}
	return ends(ev) == (e.Qualifier == signal.Restore)
}

// says reports whether a line of the station is the one expected. A line without a code is taken at its zone and word.
func says(e Expectation, r ReadBack) bool {
	switch {
	case e.Role == RoleOtherPath:
		return r.Path == e.Path && r.Qualifier == e.Qualifier
	case e.Path != "" && r.Path != "" && e.Path != r.Path:
		return false
	case e.Zone != "" && !sameZone(e, r.Zone):
		return false
	case r.Code != "" && r.Code != e.Code && !slices.Contains(e.Also, r.Code):
		return false
	case r.Code == "" && e.Zone == "" && r.Expect != e.ID:
		return false // neither zone nor code: only a tapped line says what it is
	}
	return r.Qualifier == e.Qualifier
}

func sameZone(e Expectation, zone site.ZoneID) bool {
	n, err := strconv.Atoi(strings.TrimSpace(string(zone)))
	return e.Zone == zone || err == nil && n == e.Number
}

func round1(s float64) float64 { return math.Round(s*10) / 10 }

// between is the time from a to b in seconds to 0.1 s; nil while either is unknown or b lies before a.
func between(a, b time.Time) *float64 {
	if a.IsZero() || b.IsZero() || b.Before(a) {
		return nil
	}
	s := round1(b.Sub(a).Seconds())
	return &s
}

func sec(n int) time.Duration { return time.Duration(n) * time.Second }
