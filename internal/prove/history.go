package prove

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"proofbell/internal/sorts"
	"proofbell/signal"
	"proofbell/site"
)

// HistoryLine is one line of a station's own history, as its reader understood it.
type HistoryLine struct {
	Row       int              `json:"row"` // of the file or the pasted text, from 1
	At        time.Time        `json:"at,omitzero"`
	Doubt     bool             `json:"doubt,omitempty"` // its time can not be trusted: a person says what it is
	Zone      site.ZoneID      `json:"zone"`
	Code      string           `json:"code"`
	Qualifier signal.Qualifier `json:"qualifier"`
	Kind      signal.Kind      `json:"kind,omitempty"` // of a line without a code, as its words say
	Path      site.PathID      `json:"path,omitempty"`
	Account   string           `json:"account,omitempty"`
}

// LineState says what became of a line of a history.
type LineState string

// The states of a line. Append only.
const (
	LineMatched LineState = "matched" // it is this one expected signal and no other
	LineRepeat  LineState = "repeat"  // the station has that signal more than once
	LineApart   LineState = "apart"   // a signal of ours that no step explains
	LineOpen    LineState = "open"    // several could be meant: a person has to say
	LineNone    LineState = "none"    // nothing of this run fits
	LineOutside LineState = "outside" // before or after the run
	LineOther   LineState = "other"   // of another account
)

// LineMatch is what became of one line.
type LineMatch struct {
	Line       HistoryLine     `json:"line"`
	State      LineState       `json:"state"`
	Expect     ExpectationID   `json:"expect"` // matched, repeat
	Step       StepID          `json:"step"`
	Candidates []ExpectationID `json:"candidates"` // open: what it could be
	Seconds    *float64        `json:"seconds"`    // after our own signal, or the trip, with the offset taken off; nil: no time
}

// ClockOffset is how far a station's clock differs from ours, as the lines that fit show it.
type ClockOffset struct {
	Known   bool `json:"known"`   // the evidence allows one offset and no other
	Seconds int  `json:"seconds"` // station minus ours
	Pairs   int  `json:"pairs"`   // lines that agree on it
	Spread  int  `json:"spread"`  // s, middle of their distances from it
	Confirm bool `json:"confirm"` // a person has to say so: far off, or seen in few lines
	Given   bool `json:"given"`   // a person said so
}

// HistoryMatch is a station's history laid over a run.
type HistoryMatch struct {
	Offset  ClockOffset     `json:"offset"`
	Lines   []LineMatch     `json:"lines"`   // in the order given
	Missing []ExpectationID `json:"missing"` // what should be in it and is not, in the order of the plan
	Matched int             `json:"matched"` // expected signals that a line was found for
}

// HistoryChoice is what a person says about a history.
type HistoryChoice struct {
	Offset *int                  `json:"offset,omitempty"` // s, station minus ours
	Lines  map[int]ExpectationID `json:"lines,omitempty"`  // by row: what an open line is
}

const (
	offsetWithin = 26 * time.Hour   // a clock farther off is not a clock of that day
	offsetWindow = 45 * time.Second // lines that agree on an offset lie within this
	fewPairs     = 3                // fewer lines than this show no clock
	tightAtLeast = 10 * time.Second
	tightAtMost  = 60 * time.Second
)

// due is one signal that a station should have.
type due struct {
	order   int
	e       *Expectation // nil: a signal of ours that no step explains
	step    *Step
	heard   *heard
	from    time.Time // our own signal, or the trip
	until   time.Time // the latest it may have come, by our clock
	exact   bool      // from is our own signal
	claimed bool
}

// MatchHistory lays a station's history over a run. The offset of the station's clock is the one on which most lines and
// signals agree. A line counts only where it can be one expected signal and no other; what could be several stays open.
// It changes nothing: Evidence makes the lines of a read-back of it. lines may hold far more than the run.
func MatchHistory(plan []Step, obs Observations, clocks Clocks, lines []HistoryLine, choice HistoryChoice, now time.Time) HistoryMatch {
	obs.ReadBacks = nil // a history is judged by what we saw, not by what was read before
	m := &matcher{plan: plan, obs: obs, clocks: clocks, now: now, attempts: map[StepID][]*attempt{}}
	m.cleanTicks()
	m.cleanSignals()
	m.makeAttempts()
	m.assign()
	m.blame()
	h := &historian{m: m, lines: lines, byZone: map[int][]*due{}}
	h.dues()
	out := HistoryMatch{Lines: make([]LineMatch, len(lines)), Missing: []ExpectationID{}}
	out.Offset = h.offset(choice.Offset)
	h.match(&out, choice)
	found := map[ExpectationID]bool{} // a signal that was tried again is found when one of the trips has its line
	for _, d := range h.all {
		if d.e != nil {
			found[d.e.ID] = found[d.e.ID] || d.claimed
		}
	}
	for _, d := range h.all {
		if d.e != nil && !found[d.e.ID] && !d.e.Optional && d.step.ToStation && d.e.Role != RoleOtherPath && !slices.Contains(out.Missing, d.e.ID) {
			out.Missing = append(out.Missing, d.e.ID)
		}
		if d.e != nil && found[d.e.ID] {
			out.Matched++
			found[d.e.ID] = false
		}
	}
	return out
}

// Evidence returns the lines of a read-back: those that are one expected signal and no other, each once.
func (h HistoryMatch) Evidence() []ReadBackLine {
	out := []ReadBackLine{}
	for _, l := range h.Lines {
		if l.State != LineMatched {
			continue
		}
		out = append(out, ReadBackLine{Zone: l.Line.Zone, Code: l.Line.Code, Qualifier: l.Line.Qualifier, Path: l.Line.Path, At: l.Line.At, Expect: l.Expect})
	}
	return out
}

type historian struct {
	m      *matcher
	lines  []HistoryLine
	all    []*due
	byZone map[int][]*due
	tight  time.Duration
	off    time.Duration
}

// dues lists what a station should have: every expected signal of every trip, and our own signals that no step explains.
func (h *historian) dues() {
	m := h.m
	for i := range m.plan {
		st := &m.plan[i]
		for _, a := range m.standing(st) {
			for k := range st.Expected {
				e := &st.Expected[k]
				if d, ok := h.dueOf(a, e); ok {
					d.order = len(h.all)
					h.add(d)
				}
			}
		}
	}
	for _, s := range m.heard {
		if s.aside == "" && !s.explained && !s.at.IsZero() {
			h.add(&due{order: len(h.all), heard: s, from: s.at, until: s.at, exact: true})
		}
	}
}

func (h *historian) add(d *due) {
	h.all = append(h.all, d)
	number := 0
	switch {
	case d.e != nil:
		number = d.e.Number
	case d.heard.Event.NumberIs == signal.Zone:
		number = d.heard.Event.Number
	}
	h.byZone[number] = append(h.byZone[number], d)
}

func (h *historian) dueOf(a *attempt, e *Expectation) (*due, bool) {
	m := h.m
	if s := m.arrived(a, *e); s != nil && !s.at.IsZero() {
		return &due{e: e, step: a.step, heard: s, from: s.at, until: s.at, exact: true}, true
	}
	anchor := a.at
	slack := sec(e.Worst)
	if e.Worst == 0 {
		slack = noLimit
	}
	if e.Role.Ends() {
		cleared := m.cleared(a, *e)
		if cleared.IsZero() {
			if m.began(a, *e).IsZero() {
				return nil, false // nobody said that it was cleared, and no alarm came
			}
			anchor, slack = m.began(a, *e), slack+assumeCleared
		} else {
			anchor = cleared
		}
	}
	if anchor.IsZero() {
		return nil, false
	}
	return &due{e: e, step: a.step, from: anchor, until: anchor.Add(slack)}, true
}

// fits reports whether a line, its time aside, can be a due signal.
func (d *due) fits(l HistoryLine) bool {
	if d.e != nil {
		if meaning, known := signal.Lookup(d.e.Format, d.e.Code); known && l.Code == "" && l.Kind != "" {
			want := meaning.Kind
			if d.e.Role.Ends() && d.e.Role != RoleDisarm {
				want = want.End()
			}
			if l.Kind != want {
				return false
			}
		}
		return d.e.Role != RoleOtherPath && says(*d.e, ReadBack{Zone: l.Zone, Code: l.Code, Qualifier: l.Qualifier, Path: l.Path, Expect: d.e.ID})
	}
	ev := d.heard.Event
	return (l.Code == "" || l.Code == ev.Code) && ends(ev) == (l.Qualifier == signal.Restore || l.Qualifier == signal.Opening)
}

// near lists the due signals whose zone and code a line has.
func (h *historian) near(l HistoryLine) []*due {
	number := 0
	if l.Zone != "" {
		var err error
		if number, err = strconv.Atoi(strings.TrimSpace(string(l.Zone))); err != nil {
			return nil
		}
	}
	var out []*due
	for _, d := range h.byZone[number] {
		if d.fits(l) {
			out = append(out, d)
		}
	}
	return out
}

func (h *historian) ours(l HistoryLine) bool {
	return l.Account == "" || h.m.obs.Account == "" || l.Account == h.m.obs.Account
}

// offset finds the offset on which most pairs of a line and a due signal agree. It is not known when another one, well
// apart from it, is agreed on by as many.
func (h *historian) offset(given *int) ClockOffset {
	type pair struct {
		diff  time.Duration
		line  int
		order int
	}
	var pairs []pair
	exact := slices.ContainsFunc(h.all, func(d *due) bool { return d.exact })
	for i, l := range h.lines {
		if l.At.IsZero() || !h.ours(l) {
			continue
		}
		for _, d := range h.near(l) {
			if diff := l.At.Sub(d.from); d.exact == exact && diff.Abs() <= offsetWithin {
				pairs = append(pairs, pair{diff, i, d.order})
			}
		}
	}
	sorts.By(pairs, func(a, b pair) int {
		return cmp.Or(cmp.Compare(a.diff, b.diff), cmp.Compare(a.line, b.line), cmp.Compare(a.order, b.order))
	})
	window := offsetWindow
	if !exact {
		window = 2 * offsetWindow // from the trip on, a signal takes its own time
	}
	// Two hands over the sorted differences: how many lines and how many due signals lie in the window.
	byLine, byDue := map[int]int{}, map[int]int{}
	support := make([]int, len(pairs))
	end := 0
	for i := range pairs {
		for end < len(pairs) && pairs[end].diff-pairs[i].diff <= window {
			byLine[pairs[end].line]++
			byDue[pairs[end].order]++
			end++
		}
		support[i] = min(len(byLine), len(byDue))
		if byLine[pairs[i].line]--; byLine[pairs[i].line] == 0 {
			delete(byLine, pairs[i].line)
		}
		if byDue[pairs[i].order]--; byDue[pairs[i].order] == 0 {
			delete(byDue, pairs[i].order)
		}
	}
	best := -1
	for i := range pairs {
		if best < 0 || support[i] > support[best] || support[i] == support[best] && pairs[i].diff.Abs() < pairs[best].diff.Abs() {
			best = i
		}
	}
	// Lines with times, none of them near this run: another day's history, unless a person knows the clock.
	o := ClockOffset{Confirm: best < 0 && slices.ContainsFunc(h.lines, func(l HistoryLine) bool { return !l.At.IsZero() && h.ours(l) })}
	h.tight = tightAtMost
	var middle time.Duration
	if best >= 0 {
		near := map[int]time.Duration{} // of each line the difference that lies nearest to the first of the window's
		var agreed []time.Duration
		for _, p := range pairs[best:] {
			if p.diff-pairs[best].diff > window {
				break
			}
			if _, have := near[p.line]; !have {
				near[p.line] = p.diff
				agreed = append(agreed, p.diff)
			}
		}
		middle = median(agreed)
		spread := make([]time.Duration, len(agreed))
		for i, d := range agreed {
			spread[i] = (d - middle).Abs()
		}
		o = ClockOffset{Known: true, Seconds: whole(middle), Pairs: support[best], Spread: whole(median(spread))}
		h.tight = min(max(4*median(spread)+5*time.Second, tightAtLeast), tightAtMost)
		for i := range pairs {
			if (pairs[i].diff-middle).Abs() > 2*window && support[i] >= support[best] {
				o.Known = false
			}
		}
		o.Confirm = !o.Known || o.Pairs < fewPairs || middle.Abs() > tolerance
	}
	if given != nil {
		o.Known, o.Given, o.Confirm, o.Seconds = true, true, false, *given
	}
	h.off = time.Duration(o.Seconds) * time.Second
	return o
}

func whole(d time.Duration) int { return int(math.Round(d.Seconds())) }

func median(v []time.Duration) time.Duration {
	if len(v) == 0 {
		return 0
	}
	s := slices.Sorted(slices.Values(v))
	return s[(len(s)-1)/2]
}

// away is how far a line lies from where a due signal would have it: 0 within the time it may take.
func (h *historian) away(l HistoryLine, d *due) time.Duration {
	at := l.At.Add(-h.off)
	switch {
	case at.Before(d.from):
		return d.from.Sub(at)
	case at.After(d.until):
		return at.Sub(d.until)
	}
	return 0
}

// match gives lines to due signals: first what a person said, then within the spread that the clock shows, then, of what is
// left, within the tolerance between two clocks, where both have no other.
func (h *historian) match(out *HistoryMatch, choice HistoryChoice) {
	known := out.Offset.Known
	open, doubtful := []int{}, []int{}
	for i, l := range h.lines {
		r := &out.Lines[i]
		*r = LineMatch{Line: l, State: LineNone, Candidates: []ExpectationID{}}
		at := l.At.Add(-h.off)
		switch {
		case !h.ours(l):
			r.State = LineOther
		case !l.At.IsZero() && known && (at.Before(h.m.obs.Opened.Add(-tolerance)) || at.After(h.m.now.Add(tolerance))):
			r.State = LineOutside
		case choice.Lines[l.Row] != "":
			h.chosen(r, choice.Lines[l.Row])
		case l.Doubt:
			doubtful = append(doubtful, i)
		default:
			open = append(open, i)
		}
	}
	open = h.pass(out, open, h.tight, known)
	open = h.pass(out, open, tolerance, known)
	for _, i := range append(open, doubtful...) {
		r := &out.Lines[i]
		for _, d := range h.candidates(r.Line, tolerance, known) {
			if d.e != nil && !d.claimed && !slices.Contains(r.Candidates, d.e.ID) {
				r.Candidates = append(r.Candidates, d.e.ID)
			}
		}
		if len(r.Candidates) > 0 {
			r.State = LineOpen
		}
	}
}

// chosen is what a person said of a line; only what its zone and code allow.
func (h *historian) chosen(r *LineMatch, e ExpectationID) {
	var best *due
	for _, d := range h.near(r.Line) {
		if d.e != nil && d.e.ID == e && (best == nil || h.away(r.Line, d) < h.away(r.Line, best)) {
			best = d
		}
	}
	if best != nil {
		h.claim(r, best)
	}
}

func (h *historian) claim(r *LineMatch, d *due) {
	if !r.Line.At.IsZero() {
		s := round1(r.Line.At.Add(-h.off).Sub(d.from).Seconds())
		r.Seconds = &s
	}
	if d.e == nil {
		r.State = LineApart
	} else {
		r.State, r.Expect, r.Step = LineMatched, d.e.ID, d.step.ID
		if d.claimed {
			r.State = LineRepeat
		}
	}
	d.claimed = true
}

// candidates are the due signals that a line can be. Without a time, or without a clock, time says nothing.
func (h *historian) candidates(l HistoryLine, within time.Duration, known bool) []*due {
	var out []*due
	for _, d := range h.near(l) {
		if l.At.IsZero() || !known || h.away(l, d) <= within {
			out = append(out, d)
		}
	}
	return out
}

// pass gives lines that have one candidate, nearest first, and returns those that are left. Two trips of one step are one
// candidate: the line proves that step either way.
func (h *historian) pass(out *HistoryMatch, open []int, within time.Duration, known bool) []int {
	type offer struct {
		line int
		d    *due
		away time.Duration
	}
	var offers []offer
	rivals := map[*due]int{}
	for _, i := range open {
		l := h.lines[i]
		found := h.candidates(l, within, known)
		if within > h.tight {
			found = slices.DeleteFunc(found, func(d *due) bool { return d.claimed })
		}
		for _, d := range found {
			rivals[d]++
		}
		if len(found) == 0 || slices.ContainsFunc(found, func(d *due) bool { return !same(d, found[0]) }) {
			continue
		}
		one := slices.MinFunc(found, func(a, b *due) int {
			return cmp.Or(cmp.Compare(h.away(l, a), h.away(l, b)), cmp.Compare(a.order, b.order))
		})
		offers = append(offers, offer{i, one, h.away(l, one)})
	}
	sorts.Stable(offers, func(a, b offer) int {
		return cmp.Or(cmp.Compare(a.away, b.away), h.lines[a.line].At.Compare(h.lines[b.line].At))
	})
	done := map[int]bool{}
	for _, o := range offers {
		timeless := h.lines[o.line].At.IsZero() || !known
		if rivals[o.d] > 1 && (timeless || within > h.tight) {
			continue // another line has as good a claim: which is which only a person can say
		}
		h.claim(&out.Lines[o.line], o.d)
		done[o.line] = true
	}
	return slices.DeleteFunc(open, func(i int) bool { return done[i] })
}

func same(a, b *due) bool {
	return a == b || a.e != nil && b.e != nil && a.e.ID == b.e.ID
}
