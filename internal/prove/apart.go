package prove

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/signal"
	"proofbell/site"
)

// apart lists what no step explains, with the likely explanation.
func (m *matcher) apart() {
	m.out.Unexpected = []Unexpected{}
	for _, h := range m.heard {
		if u, ok := m.stranger(h); ok {
			u.Signal, u.At = h.ID, h.at
			m.out.Unexpected = append(m.out.Unexpected, u)
		}
	}
	for i, r := range m.reads {
		if m.lost[i] && !r.NotSeen && !m.background(r) {
			u := m.lostLine(r)
			u.ReadBack, u.Zone, u.At = r.ID, r.Zone, m.stationTime(r)
			m.out.Unexpected = append(m.out.Unexpected, u)
		}
	}
	sorts.Stable(m.out.Unexpected, func(a, b Unexpected) int {
		return cmp.Or(compareBool(b.PossiblyReal, a.PossiblyReal), b.At.Compare(a.At), cmp.Compare(a.Signal, b.Signal), cmp.Compare(a.ReadBack, b.ReadBack))
	})
}

// background reports whether a line of an imported history is one that a run does not ask about: older than the run, or no
// alarm at all. Lines that a person read out are never background.
func (m *matcher) background(r ReadBack) bool {
	if r.Source != FromHistory {
		return false
	}
	if at := m.stationTime(r); !at.IsZero() && at.Before(m.obs.Opened.Add(-tolerance)) {
		return true
	}
	format := signal.CID
	if len(r.Code) == 2 {
		format = signal.SIADCS
	}
	meaning, known := signal.Lookup(format, r.Code)
	return known && meaning.Kind != signal.KindAlarm || r.Qualifier == signal.Restore
}

// urgent reports whether an event is one that people come for.
func urgent(e signal.Event) bool {
	if e.Kind != signal.KindAlarm {
		return false
	}
	switch e.Family {
	case signal.Fire, signal.CO, signal.Gas, signal.Panic, signal.Medical:
		return true
	}
	return false
}

func (m *matcher) stranger(h *heard) (Unexpected, bool) {
	ev := h.Event
	st := m.stepFor(ev)
	u := Unexpected{Kind: SomethingElse}
	if st != nil {
		u.Zone, u.Step = st.Zone, st.ID
	} else if ev.NumberIs == signal.Zone && ev.Number > 0 {
		u.Zone = site.ZoneID(fmt.Sprintf("%02d", ev.Number))
	}
	what := m.name(ev, st)
	alarm := ev.Kind == signal.KindAlarm && ev.Qualifier != signal.Restore && ev.Qualifier != signal.StillPresent
	switch {
	case h.aside == OtherAccount:
		u.Kind, u.Step = OtherAccount, ""
		u.Say = m.lang.Say("%s, for account %s; this job is %s.", what, cmp.Or(ev.Account, m.lang.Say("none")), m.obs.Account)
		u.Try = m.lang.Say("Another site, or a default account left in the panel. Do not trip on: find out whose signal it is.")
		if swapped(ev.Account, m.obs.Account) {
			u.Try = m.lang.Say("The digits of the account look swapped: correct the account in the panel and send the test signal again.")
		}
		return u, true
	case h.aside == BeforeRun:
		u.Kind = BeforeRun
		u.Say = m.lang.Say("%s, from before this run.", what)
		u.Try = m.lang.Say("It proves nothing here.")
		return u, true
	case h.aside == Unanswered:
		u.Kind = Unanswered
		u.PossiblyReal = urgent(ev) && alarm
		u.Say = m.lang.Say("%s: stored, not answered, because no test window was open.", what)
		u.Try = m.lang.Say("It proves nothing. The panel was left to take its next path.")
		if u.PossiblyReal {
			u.Say = m.lang.Say("POSSIBLY REAL.") + " " + u.Say
		}
		return u, true
	case h.blamed != nil:
		if h.Event.Number == h.blamed.step.Expected[0].Number {
			return u, false // wrong code of the zone that was tripped: told there
		}
		u.Kind, u.PossiblyReal = OtherZone, urgent(ev)
		u.Say = m.lang.Say("%s came while %s was tripped.", what, h.blamed.step.Title)
		u.Try = m.lang.Say("Either the zone is keyed wrongly, or this one is real: look at both before the next trip.")
		return u, true
	case h.explained:
		return u, false
	case alarm:
		u.Kind = NobodyTripping
		if st == nil {
			u.Kind = NotInPlan
		}
		u.PossiblyReal = urgent(ev) || ev.Family == signal.Burglary && !m.burglaryTest(h.at)
		u.Say = m.lang.Say("%s: nobody is known to have tripped it.", what)
		u.Try = m.lang.Say("If it was you, tick the step and name the test. If not, look first.")
		if u.PossiblyReal {
			u.Say = m.lang.Say("POSSIBLY REAL.") + " " + u.Say
			u.Try = m.lang.Say("If it was you, tick the step and name the test. If not, it may be real: get out, call for help.")
		} else {
			u.Try = m.lang.Say("Someone may have walked past. If it was the test, tick the step.")
		}
		return u, true
	case ev.Qualifier == signal.Restore && ev.Kind == signal.KindRestore || ev.Kind == signal.KindRestore:
		u.Kind, u.Say = LoneRestore, m.lang.Say("%s: a restore without its alarm.", what)
		u.Try = m.lang.Say("The alarm may have been lost, or came before the run.")
		return u, true
	case ev.Qualifier == signal.StillPresent:
		u.Say, u.Try = m.lang.Say("%s: reported as still present.", what), m.lang.Say("A status report proves no trip.")
		return u, true
	case ev.Kind == signal.KindTrouble, ev.Kind == signal.KindTamper, ev.Kind == signal.KindBypass, ev.Kind == signal.KindSupervisionLost,
		ev.Kind == signal.KindBatteryLow, ev.Kind == signal.KindMainsLost, ev.Kind == signal.KindPower, ev.Kind == signal.KindCommunication,
		ev.Kind == signal.KindSystem, ev.Kind == signal.KindMaintenance, ev.Kind == signal.KindSupervisory:
		u.Kind, u.Say, u.Try = TroubleSignal, what+".", m.lang.Say("Clear it before the run is closed.")
		return u, true
	case ev.Kind.Ends() || ev.Kind == signal.KindTest || ev.Kind == signal.KindTestBegin || ev.Kind == signal.KindProgramming || ev.Kind == signal.KindOpen || ev.Kind == signal.KindLog:
		return u, false // the end of a trouble, an extra test, arming for the walk: nothing to do
	}
	u.Say, u.Try = what+".", m.lang.Say("Look up what the panel means by it.")
	return u, true
}

// stepFor finds the step whose zone a signal names; the alarm step first.
func (m *matcher) stepFor(ev signal.Event) *Step {
	if ev.NumberIs != signal.Zone || ev.Number <= 0 {
		return nil
	}
	for i := range m.plan {
		st := &m.plan[i]
		if st.Zone != "" && len(st.Expected) > 0 && slices.ContainsFunc(st.Expected, func(e Expectation) bool { return e.Number == ev.Number }) {
			return st
		}
	}
	return nil
}

// name says what a signal is in a few words: "Zone 13, Lounge smoke: 111 smoke alarm".
func (m *matcher) name(ev signal.Event, st *Step) string {
	what := strings.TrimSpace(ev.Code + " " + m.lang.Word(ev.Words))
	if ends(ev) && !strings.Contains(ev.Words, "restore") {
		what = m.lang.Say("%s, restored", what)
	}
	switch {
	case st != nil && st.Kind == StepZone && st.Proof == ProofAlarm:
		return m.lang.Say("Zone %s, %s: %s", st.Zone, st.Title, what)
	case ev.NumberIs == signal.Zone && ev.Number > 0:
		return m.lang.Say("Zone %02d: %s", ev.Number, what)
	}
	return words.Upper(what)
}

// swapped reports whether two account numbers hold the same digits in another order.
func swapped(a, b string) bool {
	x, y := []byte(a), []byte(b)
	slices.Sort(x)
	slices.Sort(y)
	return a != b && a != "" && string(x) == string(y)
}

// burglaryTest reports whether someone was testing burglary zones around a moment: walking there trips others.
func (m *matcher) burglaryTest(at time.Time) bool {
	for _, list := range m.attempts {
		for _, a := range list {
			if a.step.Family == FamilyBurglary && at.Sub(a.at).Abs() <= lateAtMost {
				return true
			}
		}
	}
	return false
}

func (m *matcher) lostLine(r ReadBack) Unexpected {
	u := Unexpected{Kind: StationOnly}
	what := m.lang.Say("The station read back zone %s, %s %s", cmp.Or(string(r.Zone), m.lang.Say("none")), cmp.Or(r.Code, m.lang.Say("no code")), m.lang.Word(SayQualifier(r.Qualifier)))
	at := m.stationTime(r)
	switch {
	case r.Account != "" && m.obs.Account != "" && r.Account != m.obs.Account:
		u.Kind, u.Say = OtherAccount, m.lang.Say("%s for account %s; this job is %s.", what, r.Account, m.obs.Account)
		u.Try = m.lang.Say("Stop: the wrong account may be on test. Have the account read back again.")
		return u
	case !at.IsZero() && at.Before(m.obs.Opened.Add(-tolerance)):
		u.Kind, u.Say, u.Try = BeforeRun, m.lang.Say("%s, from before this run.", what), m.lang.Say("It proves nothing here.")
		return u
	}
	var named, tried *Step
	for i := range m.plan {
		for _, e := range m.plan[i].Expected {
			if says(e, r) && (r.Expect == "" || r.Expect == e.ID) {
				named = &m.plan[i]
				if len(m.attempts[named.ID]) > 0 {
					tried = named
				}
			}
		}
	}
	switch {
	case tried != nil:
		u.Step, u.Say = tried.ID, m.lang.Say("%s, but its time fits no trip.", what)
		u.Try = m.lang.Say("Measure the offset of the station's clock, or ask again for the time.")
	case named != nil:
		u.Step, u.Say = named.ID, m.lang.Say("%s, but nobody named the trip.", what)
		u.Try = m.lang.Say("If it was the test, tick the step and name the test.")
	default:
		u.Say = m.lang.Say("%s: no step of this run sends that.", what)
		u.Try = m.lang.Say("Compare the station's zone list with the schedule: zone and code have to be the same.")
	}
	return u
}

// clockNotes says what the evidence shows about the other clocks.
func (m *matcher) clockNotes() {
	m.out.Clocks = []ClockNote{}
	var panel, station []int
	for _, h := range m.heard {
		if !h.Received.IsZero() && !h.Stamp.IsZero() && h.aside != OtherAccount {
			at := h.Stamp
			if known, ok := m.stamped(h.Signal); ok {
				at = known
			}
			panel = append(panel, int(at.Sub(h.Received).Round(time.Second)/time.Second))
		}
	}
	for _, st := range m.plan {
		for _, a := range m.attempts[st.ID] {
			for _, e := range st.Expected {
				h := m.arrived(a, e)
				for _, r := range a.reads[e.ID] {
					if h != nil && !h.at.IsZero() && !r.At.IsZero() {
						station = append(station, int(m.stationTime(r).Sub(h.at).Round(time.Second)/time.Second))
					}
				}
			}
		}
	}
	m.note("panel", panel, words.Mark("The panel's clock is about %d s ahead of ours."), words.Mark("The panel's clock is about %d s behind ours."))
	m.note("station", station, words.Mark("The station's clock is about %d s ahead of ours."), words.Mark("The station's clock is about %d s behind ours."))
}

func (m *matcher) note(clock string, differences []int, ahead, behind string) {
	if len(differences) == 0 {
		return
	}
	slices.Sort(differences)
	n := ClockNote{Clock: clock, Seconds: differences[len(differences)/2]}
	n.Warn = sec(n.Seconds).Abs() > tolerance
	n.Say = m.lang.Say(ahead, n.Seconds)
	if n.Seconds < 0 {
		n.Say = m.lang.Say(behind, -n.Seconds)
	}
	if n.Warn {
		n.Say += " " + m.lang.Say("That is more than 90 s: measure it and enter the offset.")
	}
	m.out.Clocks = append(m.out.Clocks, n)
}

// sum counts, chooses the next step and lists what stands against closing.
func (m *matcher) sum() {
	m.out.Duplicates = m.dups
	c := &m.out.Counters
	c.Total = len(m.plan)
	for _, r := range m.out.Steps {
		switch {
		case r.Verdict.Good():
			c.Proved++
			if r.Half {
				c.Half++
			}
		case r.Verdict.Bad():
			c.Failed++
		case r.Verdict == Waiting:
			c.Waiting++
		case r.Verdict == NotTestable:
			c.NotTestable++
		}
	}
	c.Left = c.Total - c.Proved - c.NotTestable
	m.next()
	m.blockers()
	m.newest()
}

// next is the nearest step, in walking order after the one ticked last, that wants a trip: untripped ones first, then
// those that failed.
func (m *matcher) next() {
	last := -1
	var at time.Time
	for i := range m.plan {
		for _, t := range m.ticks[m.plan[i].ID] {
			if last < 0 || t.At.After(at) {
				last, at = i, t.At
			}
		}
	}
	for _, wanted := range []func(Verdict) bool{func(v Verdict) bool { return v == Unproved }, Verdict.Bad} {
		for k := range m.plan {
			i := (last + 1 + k) % len(m.plan)
			if wanted(m.out.Steps[i].Verdict) {
				m.out.Next = m.plan[i].ID
				return
			}
		}
	}
}

func (m *matcher) blockers() {
	m.out.Blockers = []Blocker{}
	add := func(b Blocker) { m.out.Blockers = append(m.out.Blockers, b) }
	for _, u := range m.out.Unexpected {
		if u.PossiblyReal {
			add(Blocker{Kind: BlockReal, Step: u.Step, Zone: u.Zone, Say: u.Say})
		}
	}
	for i, r := range m.out.Steps {
		st := m.plan[i]
		if r.Open {
			add(Blocker{Kind: BlockUnrestored, Step: st.ID, Zone: st.Zone, Say: m.lang.Say("%s is not restored.", st.Title)})
		}
	}
	m.openConditions(add)
	for _, p := range m.putBacks() {
		if p.Undone.IsZero() {
			add(Blocker{Kind: BlockPutBack, Item: p.ID, Say: m.lang.Say("To be put back: %s", p.What)})
		}
	}
	for _, d := range m.out.Differences {
		if d.Grave() {
			i := slices.IndexFunc(m.plan, func(st Step) bool { return st.ID == d.Step })
			add(Blocker{Kind: BlockDiffers, Step: d.Step, Zone: m.plan[i].Zone, Say: m.lang.Say("%s: two statements that do not agree. Take one of them back.", m.plan[i].Title)})
		}
	}
	for i, r := range m.out.Steps {
		st := m.plan[i]
		switch {
		case r.Verdict.Bad():
			add(Blocker{Kind: BlockFailed, Step: st.ID, Zone: st.Zone, Say: fmt.Sprintf("%s: %s. %s", st.Title, m.lang.Word(r.Verdict.Say()), r.Say)})
		case r.Verdict == Waiting || r.Verdict == Unproved:
			add(Blocker{Kind: BlockUnproved, Step: st.ID, Zone: st.Zone, Say: fmt.Sprintf("%s: %s. %s", st.Title, m.lang.Word(r.Verdict.Say()), r.Say)})
		}
	}
	switch m.obs.Window.State(m.now) {
	case WindowOpen, WindowReadBack, WindowCalling, WindowAccountRead:
		add(Blocker{Kind: BlockOnTest, Say: m.lang.Say("The account is on test, or being put on test: read back, then have it taken off.")})
	case WindowLapsed:
		add(Blocker{Kind: BlockOnTest, Say: m.lang.Say("The test window ran out by itself: have the station confirm that the account is live.")})
	}
	order := []BlockerKind{BlockReal, BlockUnrestored, BlockTamper, BlockBypass, BlockPutBack, BlockDiffers, BlockFailed, BlockUnproved, BlockOnTest}
	sorts.Stable(m.out.Blockers, func(a, b Blocker) int {
		return cmp.Compare(slices.Index(order, a.Kind), slices.Index(order, b.Kind))
	})
}

func (m *matcher) putBacks() []PutBack {
	list := slices.Clone(m.obs.PutBacks)
	sorts.By(list, func(a, b PutBack) int {
		return cmp.Or(cmp.Compare(a.ID, b.ID), b.Undone.Compare(a.Undone))
	})
	list = slices.CompactFunc(list, func(a, b PutBack) bool { return a.ID == b.ID })
	sorts.Stable(list, func(a, b PutBack) int { return a.Made.Compare(b.Made) })
	return list
}

// openConditions finds tampers and bypasses that began and did not end, whether or not they were answered.
func (m *matcher) openConditions(add func(Blocker)) {
	type key struct {
		kind   signal.Kind
		number int
	}
	open := map[key]*heard{}
	var order []key
	for _, h := range m.heard {
		if h.aside == OtherAccount {
			continue
		}
		for _, kind := range []signal.Kind{signal.KindTamper, signal.KindBypass} {
			k := key{kind, h.Event.Number}
			switch {
			case h.Event.Kind == kind && h.Event.Qualifier != signal.Restore:
				if open[k] == nil && !slices.Contains(order, k) {
					order = append(order, k)
				}
				open[k] = h
			case h.Event.Kind == kind.End() || h.Event.Kind == kind && h.Event.Qualifier == signal.Restore:
				open[k] = nil
			}
		}
	}
	for _, k := range order {
		h := open[k]
		if h == nil {
			continue
		}
		b := Blocker{Kind: BlockTamper, Say: m.lang.Say("%s: still open.", m.name(h.Event, m.stepFor(h.Event)))}
		if k.kind == signal.KindBypass {
			b.Kind = BlockBypass
			b.Say = m.lang.Say("%s: still left out.", m.name(h.Event, m.stepFor(h.Event)))
		}
		if st := m.stepFor(h.Event); st != nil {
			b.Zone, b.Step = st.Zone, st.ID
		}
		add(b)
	}
}

// newest is a sentence on the newest signal.
func (m *matcher) newest() {
	var last *heard
	for _, h := range m.heard {
		if last == nil || compareHeard(h, last) > 0 {
			last = h
		}
	}
	if last == nil {
		return
	}
	m.out.Newest = m.name(last.Event, m.stepFor(last.Event)) + "."
	if last.aside == OtherAccount {
		m.out.Newest = m.lang.Say("%s, for another account (%s).", words.Upper(strings.TrimSpace(last.Event.Code+" "+m.lang.Word(last.Event.Words))), last.Event.Account)
		return
	}
	for i, r := range m.out.Steps {
		for _, s := range r.Signals {
			if slices.Contains(s.Signals, last.ID) {
				if !strings.Contains(m.out.Newest, m.plan[i].Title) {
					m.out.Newest += " " + m.plan[i].Title + ":"
				}
				m.out.Newest += " " + strings.TrimSuffix(s.Say, ".") + "."
				return
			}
		}
	}
}
