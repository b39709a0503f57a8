package prove

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"proofbell/internal/sorts"
	"proofbell/signal"
	"proofbell/site"
)

// condition is one thing that began and, perhaps, ended: an alarm with its restore.
type condition struct {
	begins []*heard // the first one counts, the others are repeats
	ends   []*heard
}

func (c *condition) start() time.Time { return c.begins[0].at }

func (c *condition) closed() bool { return len(c.ends) > 0 }

// pair is a beginning that a step expects, with the end that belongs to it.
type pair struct {
	begin Expectation
	end   *Expectation
}

// pairs lists the beginnings of a step with their ends.
func pairs(st *Step) []pair {
	var out []pair
	for _, e := range st.Expected {
		if !e.Role.Ends() {
			out = append(out, pair{begin: e})
		}
	}
	for i := range st.Expected {
		e := &st.Expected[i]
		if !e.Role.Ends() {
			continue
		}
		for k := range out {
			if out[k].begin.Zone == e.Zone && endOf[out[k].begin.Role] == e.Role {
				out[k].end = e
			}
		}
	}
	return out
}

var endOf = map[Role]Role{
	RoleAlarm: RoleRestore, RoleTamper: RoleTamperRestore, RoleBattery: RoleBatteryEnd, RoleLoss: RoleLossEnd,
	RoleFault: RoleFaultEnd, RoleArm: RoleDisarm,
}

// want is an attempt that waits for one condition.
type want struct {
	a *attempt
	p pair
}

// keyOf is the same for beginnings that the same signals fit, whichever step expects them.
func keyOf(p pair) string {
	e := p.begin
	end := ""
	if p.end != nil {
		end = fmt.Sprint(p.end.Code, p.end.Also)
	}
	return fmt.Sprint(e.Role, "|", e.Number, "|", e.Zone, "|", e.Code, e.Also, "|", e.Qualifier, "|", e.Path, "|", end)
}

// assign gives the conditions that our signals show to the attempts that wait for them.
func (m *matcher) assign() {
	wants := map[string][]want{}
	all := map[string]pair{}
	for i := range m.plan {
		st := &m.plan[i]
		for _, p := range pairs(st) {
			k := keyOf(p)
			if _, have := all[k]; !have {
				all[k] = p
			}
			for _, a := range m.attempts[st.ID] {
				wants[k] = append(wants[k], want{a, p})
			}
		}
	}
	// Signals by zone number, so that a plan of hundreds of zones and a run of thousands of signals stay quick.
	byNumber := map[int][]*heard{}
	for _, h := range m.heard {
		if h.aside == "" {
			byNumber[h.Event.Number] = append(byNumber[h.Event.Number], h)
		}
	}
	for _, k := range site.SortedIDs(all) {
		p := all[k]
		candidates := m.heard
		if p.begin.Zone != "" {
			candidates = byNumber[p.begin.Number]
		}
		m.give(m.conditions(p, candidates, wants[k]), wants[k])
	}
}

// conditions reads the signals that fit a pair as a row of conditions. A second beginning is a repeat, unless something
// was tripped in between that waits for it.
func (m *matcher) conditions(p pair, signals []*heard, wants []want) []*condition {
	var row []*heard
	for _, h := range signals {
		if h.aside == "" && (fits(p.begin, h.Event, h.Path) || p.end != nil && fits(*p.end, h.Event, h.Path)) {
			row = append(row, h)
		}
	}
	var out []*condition
	var early *heard // a restore that came without its alarm
	for _, h := range row {
		var last *condition
		if len(out) > 0 {
			last = out[len(out)-1]
		}
		if fits(p.begin, h.Event, h.Path) {
			again := last != nil && p.begin.Role != RoleOtherPath && p.begin.Role != RoleTest &&
				(!last.closed() && !trippedBetween(wants, last.start(), h.at) || last.closed() && otherPath(last.begins[0], h))
			if again {
				last.begins = append(last.begins, h)
				continue
			}
			c := &condition{begins: []*heard{h}}
			if early != nil && overtaken(early, h) {
				c.ends = append(c.ends, early)
			}
			early = nil
			out = append(out, c)
			continue
		}
		switch {
		case last != nil && !last.closed():
			last.ends = append(last.ends, h)
		case last != nil && otherPath(last.ends[0], h):
			last.ends = append(last.ends, h)
		default:
			early = h
		}
	}
	return out
}

// overtaken reports whether a restore that came first belongs to the alarm that came after it: the panel's stamps say so,
// or without stamps both came within moments.
func overtaken(restore, alarm *heard) bool {
	if !restore.Stamp.IsZero() && !alarm.Stamp.IsZero() && !restore.Stamp.Equal(alarm.Stamp) {
		return restore.Stamp.After(alarm.Stamp)
	}
	return alarm.at.Sub(restore.at) <= outOfOrder
}

func otherPath(a, b *heard) bool {
	apart := b.at.Sub(a.at).Abs()
	return a.Path != "" && b.Path != "" && a.Path != b.Path && apart <= secondPath
}

func trippedBetween(wants []want, a, b time.Time) bool {
	return slices.ContainsFunc(wants, func(w want) bool { return w.a.at.After(a) && !w.a.at.After(b) })
}

// give assigns conditions to attempts one to one: what a person linked first, then what came within its time, then what
// was ticked just after it came, then what came late. Nearest first, so that no order of entry matters.
func (m *matcher) give(conditions []*condition, wants []want) {
	type offer struct {
		class int
		gap   time.Duration
		c, w  int
	}
	var offers []offer
	for ci, c := range conditions {
		for wi, w := range wants {
			if class, gap, ok := m.class(c, w); ok {
				offers = append(offers, offer{class, gap, ci, wi})
			}
		}
	}
	sorts.By(offers, func(a, b offer) int {
		wa, wb := wants[a.w], wants[b.w]
		return cmp.Or(cmp.Compare(a.class, b.class), cmp.Compare(a.gap, b.gap), wa.a.at.Compare(wb.a.at),
			cmp.Compare(wa.a.step.ID, wb.a.step.ID), cmp.Compare(a.c, b.c), cmp.Compare(a.w, b.w))
	})
	takenC, takenW := map[int]bool{}, map[int]bool{}
	for _, o := range offers {
		if takenC[o.c] || takenW[o.w] {
			continue
		}
		takenC[o.c], takenW[o.w] = true, true
		w, c := wants[o.w], conditions[o.c]
		w.a.found[w.p.begin.ID] = c
		for _, h := range slices.Concat(c.begins, c.ends) {
			if w.p.begin.Role != RoleOtherPath || h.Event.Kind == signal.KindTest { // any signal by the other path proves the path, not itself
				h.explained = true
			}
		}
	}
}

// class says how well a condition fits an attempt: 0 linked by a person, 1 in time, 2 ticked afterwards, 3 late,
// 4 a time is missing.
func (m *matcher) class(c *condition, w want) (class int, gap time.Duration, ok bool) {
	if w.a.link != "" {
		linked := slices.ContainsFunc(slices.Concat(c.begins, c.ends), func(h *heard) bool { return h.ID == m.root[w.a.link] })
		return 0, 0, linked
	}
	if w.a.at.IsZero() || c.start().IsZero() {
		return 4, 0, true
	}
	gap = c.start().Sub(w.a.at)
	limit, latest := sec(w.p.begin.Limit()), sec(w.p.begin.Worst)+lateAtMost
	if w.p.begin.Worst == 0 {
		limit, latest = noLimit, noLimit
	}
	switch {
	case gap < -tolerance || gap > latest:
		return 0, 0, false
	case gap < 0:
		return 2, -gap, true
	case gap <= limit:
		return 1, gap, true
	}
	return 3, gap, true
}

// blame looks, for trips whose signal did not come, for the signal that came instead: the same zone with another code, or
// another zone with an alarm that nothing else explains.
func (m *matcher) blame() {
	type offer struct {
		class int
		gap   time.Duration
		a     *attempt
		h     *heard
	}
	var offers []offer
	for i := range m.plan {
		st := &m.plan[i]
		for _, a := range m.attempts[st.ID] {
			for _, p := range pairs(st) {
				e := p.begin
				if e.Zone == "" || e.Optional || a.found[e.ID] != nil {
					continue
				}
				for _, h := range m.heard {
					if h.aside != "" || h.explained || ends(h.Event) || h.Event.Qualifier == signal.StillPresent {
						continue
					}
					alike := h.Event.Kind == signal.KindAlarm || e.Role != RoleAlarm || a.link != "" && m.root[a.link] == h.ID ||
						h.Event.Number == e.Number && h.Event.Kind == signal.KindUnknown
					if !alike || h.Event.NumberIs != signal.Zone || h.Event.Number == 0 {
						continue
					}
					if e.Role != RoleAlarm && h.Event.Number != e.Number {
						continue // a stray trouble of another zone explains nothing
					}
					class, gap := 2, h.at.Sub(a.at)
					switch {
					case a.link != "":
						if m.root[a.link] != h.ID {
							continue
						}
						class, gap = 0, 0
					case a.at.IsZero() || h.at.IsZero() || gap < 0 || gap > sec(e.Worst):
						continue
					case h.Event.Number == e.Number:
						class = 1
					case h.Event.Code != e.Code && !slices.Contains(e.Also, h.Event.Code):
						class = 3
					}
					offers = append(offers, offer{class, gap, a, h})
				}
			}
		}
	}
	sorts.By(offers, func(x, y offer) int {
		return cmp.Or(cmp.Compare(x.class, y.class), cmp.Compare(x.gap, y.gap), cmp.Compare(x.a.step.ID, y.a.step.ID), x.a.at.Compare(y.a.at), cmp.Compare(x.h.ID, y.h.ID))
	})
	for _, o := range offers {
		if o.a.wrong == nil && o.h.blamed == nil {
			o.a.wrong, o.h.blamed = o.h, o.a
		}
	}
}

// assignReadBacks gives each line of the station to the attempt it belongs to. Every line is decided by itself, so that one
// line more never takes anything from another; only a later tap on the same line of the list corrects the tap before.
func (m *matcher) assignReadBacks() {
	m.lost = make([]bool, len(m.reads))
	for i, r := range m.reads {
		a, e := m.readBackFor(r)
		if a == nil {
			m.lost[i] = true
			continue
		}
		if r.Expect != "" && !a.correct(r, e.ID) {
			continue
		}
		if r.NotSeen {
			a.denied[e.ID] = append(a.denied[e.ID], r)
		} else {
			a.reads[e.ID] = append(a.reads[e.ID], r)
		}
	}
}

// correct takes back earlier taps on the same line of the list: a slip of the finger must not stay as evidence. It
// reports false when a later tap is known already.
func (a *attempt) correct(r ReadBack, e ExpectationID) bool {
	same := func(x ReadBack) bool { return x.Expect == r.Expect && x.Source == r.Source }
	later := func(x ReadBack) bool { return same(x) && x.Entered.After(r.Entered) }
	if slices.ContainsFunc(a.reads[e], later) || slices.ContainsFunc(a.denied[e], later) {
		return false
	}
	a.reads[e], a.denied[e] = slices.DeleteFunc(a.reads[e], same), slices.DeleteFunc(a.denied[e], same)
	return true
}

// readBackFor finds the attempt and the expected signal that a line belongs to; nil when none.
func (m *matcher) readBackFor(r ReadBack) (*attempt, *Expectation) {
	at := m.stationTime(r)
	if r.Account != "" && m.obs.Account != "" && r.Account != m.obs.Account || !at.IsZero() && at.Before(m.obs.Opened.Add(-tolerance)) {
		return nil, nil
	}
	var best *attempt
	var bestE *Expectation
	var bestGap time.Duration
	for i := range m.plan {
		st := &m.plan[i]
		for k := range st.Expected {
			e := &st.Expected[k]
			if !says(*e, r) || r.Expect != "" && r.Expect != e.ID {
				continue
			}
			for _, a := range m.attempts[st.ID] {
				gap, ok := m.gap(a, *e, r, at)
				better := best == nil || gap < bestGap || gap == bestGap && a.at.After(best.at)
				if ok && better {
					best, bestE, bestGap = a, e, gap
				}
			}
		}
	}
	return best, bestE
}

// gap measures how far a line lies from where an attempt would have it. Lines without a time go to the latest trip before
// they were written down.
func (m *matcher) gap(a *attempt, e Expectation, r ReadBack, at time.Time) (time.Duration, bool) {
	if at.IsZero() {
		switch {
		case r.Entered.IsZero() || a.at.IsZero():
			return 0, true
		case r.Entered.Before(a.at.Add(-tolerance)):
			return 0, false // read out before it was tripped
		}
		return r.Entered.Sub(a.at).Abs(), true
	}
	anchor, slack := a.at, sec(e.Worst)
	if e.Worst == 0 {
		slack = noLimit
	}
	if e.Role.Ends() {
		slack += assumeCleared
		if cleared := m.cleared(a, e); !cleared.IsZero() {
			anchor = cleared
		} else if alarm := m.began(a, e); !alarm.IsZero() {
			anchor = alarm
		}
	}
	if h := m.arrived(a, e); h != nil && !h.at.IsZero() {
		gap := at.Sub(h.at).Abs()
		return gap, gap <= farApart
	}
	if anchor.IsZero() {
		return tolerance, true
	}
	gap := at.Sub(anchor)
	switch {
	case gap < 0:
		gap = -gap
	case gap <= slack:
		gap = 0
	default:
		gap -= slack
	}
	return tolerance + gap, gap <= farApart // a trip whose own signal came at that time has the better claim
}

// arrived is our own signal for an expectation of an attempt; nil when none came.
func (m *matcher) arrived(a *attempt, e Expectation) *heard {
	for _, p := range pairs(a.step) {
		c := a.found[p.begin.ID]
		switch {
		case c == nil:
		case p.begin.ID == e.ID:
			return c.begins[0]
		case p.end != nil && p.end.ID == e.ID && c.closed():
			return c.ends[0]
		}
	}
	return nil
}

// began is when the condition began that an end belongs to.
func (m *matcher) began(a *attempt, end Expectation) time.Time {
	for _, p := range pairs(a.step) {
		if p.end != nil && p.end.ID == end.ID && a.found[p.begin.ID] != nil {
			return a.found[p.begin.ID].start()
		}
	}
	return time.Time{}
}

// cleared is when a person said that what was tripped was cleared, or the panel reset where it holds the alarm.
func (m *matcher) cleared(a *attempt, end Expectation) time.Time {
	var at time.Time
	for _, t := range m.ticks[a.step.ID] {
		counts := t.What == PanelReset || t.What == Restored && end.Policy != "reset"
		if counts && !t.At.IsZero() && !t.At.Before(a.at) && (a.ended.IsZero() || t.At.Before(a.ended)) {
			at = t.At
		}
	}
	return at
}
