package prove

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"proofbell/internal/words"
)

// judgeAll judges every step from its attempts.
func (m *matcher) judgeAll() {
	m.out.Steps = make([]StepResult, 0, len(m.plan))
	for i := range m.plan {
		m.out.Steps = append(m.out.Steps, m.judgeStep(&m.plan[i]))
	}
}

func (m *matcher) judgeStep(st *Step) StepResult {
	attempts := m.standing(st)
	m.stood[st.ID] = attempts
	for _, a := range attempts {
		m.judge(a)
	}
	r := StepResult{Step: st.ID, Attempt: len(attempts), Warnings: []string{}, OnTest: m.obs.Window.OnTest(m.now) && slices.Contains(m.obs.Window.Families, st.Family)}
	statement := m.statement(st)
	switch {
	case st.NotTestable != "":
		m.bare(&r, st, NotTestable, m.lang.Say("Not testable: %s", st.NotTestable), StopUnproved)
	case statement.What == CannotTest:
		m.bare(&r, st, NotTestable, m.lang.Say("Not testable: %s", m.lang.Word(statement.Reason)), StopUnproved)
	case statement.What == Failed:
		m.bare(&r, st, NotReceived, m.lang.Say("Failed: %s", m.lang.Word(statement.Reason)), StopFailed)
	case len(attempts) == 0:
		m.untripped(&r, st)
	default:
		m.combine(&r, attempts)
	}
	r.Strip.Say = cmp.Or(r.Strip.Say, r.Say)
	return r
}

// standing drops trips that could not show anything new because the alarm before was still open.
func (m *matcher) standing(st *Step) []*attempt {
	var out []*attempt
	for _, a := range m.attempts[st.ID] {
		if n := len(out); n > 0 && len(a.found) == 0 && a.wrong == nil && (out[n-1].openAt(a.at) || out[n-1].alsoTicked(a)) {
			if !otherWriter(out[n-1].trips[0], a.trips[0]) {
				out[n-1].warnings = append(out[n-1].warnings, m.lang.Say("Tripped again before it was restored: that shows nothing new."))
			}
			out[n-1].ended = a.ended
			out[n-1].trips = append(out[n-1].trips, a.trips...)
			for _, e := range st.Expected {
				out[n-1].reads[e.ID] = append(out[n-1].reads[e.ID], a.reads[e.ID]...)
				out[n-1].denied[e.ID] = append(out[n-1].denied[e.ID], a.denied[e.ID]...)
			}
			continue
		}
		out = append(out, a)
	}
	return out
}

// alsoTicked reports whether b is another person's tick of this trip: it brought no signal of its own, and this one did.
func (a *attempt) alsoTicked(b *attempt) bool {
	return len(a.found) > 0 && b.link == "" && otherWriter(a.trips[0], b.trips[0]) && !a.at.IsZero() && b.at.Sub(a.at) <= otherWithin
}

func (a *attempt) openAt(t time.Time) bool {
	for _, p := range pairs(a.step) {
		c := a.found[p.begin.ID]
		if c != nil && p.end != nil && !c.start().After(t) && (!c.closed() || c.ends[0].at.After(t)) {
			return true
		}
	}
	return false
}

// statement is the last word of a person on a step, where it is one that no evidence can outweigh: failed or not tested,
// with nothing tripped after it.
func (m *matcher) statement(st *Step) Tick {
	var last Tick
	for _, t := range m.ticks[st.ID] {
		switch t.What {
		case Failed, CannotTest, Tripped:
			last = t
		}
	}
	if last.What == Tripped {
		return Tick{}
	}
	return last
}

func (m *matcher) bare(r *StepResult, st *Step, v Verdict, text string, detector StopState) {
	r.Verdict, r.Say = v, text
	r.Strip = m.emptyStrip()
	r.Strip.Detector = Stop{detector, strings.TrimSuffix(text, ".")}
	r.Signals = []SignalResult{}
	for _, e := range st.Expected {
		verdict := Unproved
		if v == NotTestable {
			verdict = NotTestable
		}
		r.Signals = append(r.Signals, SignalResult{Expect: e.ID, Verdict: verdict, Limit: e.Limit(), Signals: []SignalID{}, ReadBacks: []ReadBackID{}, Say: text})
	}
}

// untripped judges a step that nobody says to have tripped. What people heard or saw still shows; a signal that came all
// the same is received, and nobody named the trip.
func (m *matcher) untripped(r *StepResult, st *Step) {
	m.bare(r, st, Unproved, m.lang.Say("Not tripped yet."), StopUnproved)
	if m.ticked(st, Sounded, time.Time{}) {
		r.Strip.Detector = Stop{StopHalf, m.lang.Say("It was heard to sound")}
		switch {
		case st.Kind == StepSound:
			r.Strip.Detector.State = StopProved
			r.Verdict, r.Say = Proved, m.lang.Say("It was heard to sound.")
		case st.Kind == StepHead && !st.ToStation:
			r.Verdict, r.Half, r.Say = Proved, true, m.lang.Say("It sounds.")+" "+m.lang.Word(buttonSay)
		default:
			r.Verdict, r.Say = Waiting, m.lang.Say("It was heard to sound. Tick the trip and name the test.")
		}
	}
	if m.ticked(st, PanelShowed, time.Time{}) {
		r.Strip.Panel = Stop{StopWaiting, m.lang.Say("The panel showed it; nobody named the trip")}
		r.Verdict, r.Say = Waiting, m.lang.Say("The panel showed it. Tick the trip and name the test.")
	}
	if st.Kind == StepHead {
		return // several heads share a zone: nobody knows which one it was
	}
	restored := m.restored(st)
	for i, e := range st.Expected {
		for _, h := range m.heard {
			if e.Role.Ends() || e.Role == RoleOtherPath || h.aside != "" || h.explained || h.blamed != nil || !fits(e, h.Event, h.Path) {
				continue
			}
			text := m.lang.Say("Received, nobody named the trip")
			r.Verdict, r.Say = Waiting, text+"."
			r.Strip.Panel, r.Strip.Line = Stop{StopWaiting, text}, Stop{StopWaiting, text}
			r.Signals[i].Here, r.Signals[i].Verdict, r.Signals[i].Say = true, Waiting, text
			r.Signals[i].Signals = append(r.Signals[i].Signals, h.ID)
			last, known := restored[h.Event.Account]
			r.Open = e.Role == RoleAlarm && (!known || last.Before(h.at))
		}
	}
}

// restored tells for each account when the newest restore of a step came; of accounts without one, nothing.
func (m *matcher) restored(st *Step) map[string]time.Time {
	newest := map[string]time.Time{}
	for _, e := range st.Expected {
		if e.Role != RoleRestore {
			continue
		}
		for _, h := range m.heard {
			if last, known := newest[h.Event.Account]; fits(e, h.Event, h.Path) && (!known || h.at.After(last)) {
				newest[h.Event.Account] = h.at
			}
		}
	}
	return newest
}

func (m *matcher) ticked(st *Step, what Did, since time.Time) bool {
	return slices.ContainsFunc(m.ticks[st.ID], func(t Tick) bool {
		return t.What == what && (t.At.IsZero() || !t.At.Before(since.Add(-tolerance)))
	})
}

// combine makes one result of all attempts. What failed stands until a later trip; what was proved after the last
// failure counts, stop by stop.
func (m *matcher) combine(r *StepResult, attempts []*attempt) {
	from := 0
	for i, a := range attempts {
		if a.verdict.Bad() {
			from = i
		}
	}
	shown := attempts[from:] // what the failed one showed on its way still counts for its stops
	counted := shown
	if len(counted) > 1 && counted[0].verdict.Bad() {
		counted = counted[1:]
	}
	main := counted[len(counted)-1]
	for _, a := range counted {
		if rank(a.verdict) > rank(main.verdict) || rank(a.verdict) == rank(main.verdict) && a.method.Proves == Full && main.method.Proves == Half {
			main = a
		}
	}
	r.Verdict, r.Say, r.Signals, r.Strip, r.Due = main.verdict, main.say, main.results, main.strip, main.due
	r.Method = main.method.ID
	for _, a := range shown {
		r.Strip.Detector = better(r.Strip.Detector, a.strip.Detector)
		r.Strip.Panel = better(r.Strip.Panel, a.strip.Panel)
		r.Strip.Line = better(r.Strip.Line, a.strip.Line)
		r.Strip.Station = better(r.Strip.Station, a.strip.Station)
		r.Open = r.Open || a.open
	}
	r.Open = attempts[len(attempts)-1].open || r.Open && !r.Verdict.Good()
	hops(&r.Strip)
	r.Half = r.Strip.Detector.State == StopHalf && r.Verdict.Good()
	for _, a := range attempts {
		r.Warnings = append(r.Warnings, a.warnings...)
	}
	if main.verdict.Bad() && slices.ContainsFunc(attempts[:from], func(a *attempt) bool { return a.verdict.Good() }) {
		r.Warnings = append(r.Warnings, m.lang.Say("It was proved by an earlier trip and failed in a later one: look for what comes and goes."))
	}
	slices.Sort(r.Warnings)
	r.Warnings = slices.Compact(r.Warnings)
}

func rank(v Verdict) int {
	switch v {
	case Proved:
		return 3
	case ProvedLate:
		return 2
	case Waiting:
		return 1
	}
	return 0
}

// judge judges one attempt: its signals one by one, then the whole, then the path strip.
func (m *matcher) judge(a *attempt) {
	results := map[ExpectationID]SignalResult{}
	for _, p := range pairs(a.step) {
		begin := m.judgeBegin(a, p)
		results[p.begin.ID] = begin
		if p.end != nil {
			results[p.end.ID] = m.judgeEnd(a, p, begin)
		}
	}
	a.results = []SignalResult{}
	for _, e := range a.step.Expected {
		a.results = append(a.results, results[e.ID])
	}
	m.whole(a)
	m.strip(a)
	for _, t := range a.trips {
		w := m.obs.Window
		switch {
		case t.At.IsZero():
		case !w.wasOpen(t.At):
			a.warnings = append(a.warnings, m.lang.Say("Tripped while the account was not on test."))
		case !w.Opened.IsZero() && !t.At.Before(w.Opened) && !slices.Contains(w.Families, a.step.Family):
			a.warnings = append(a.warnings, m.lang.Say("Tripped while %s was not on test.", m.lang.Word(sayFamily(a.step.Family))))
		}
	}
	if a.step.Sounds && a.step.Kind == StepZone && !m.ticked(a.step, Sounded, a.at) {
		a.warnings = append(a.warnings, m.lang.Say("Nobody confirmed that it sounds."))
	}
}

func (m *matcher) blank(a *attempt, e Expectation) SignalResult {
	r := SignalResult{Expect: e.ID, Limit: e.Limit(), Signals: []SignalID{}, ReadBacks: []ReadBackID{}}
	if h := m.arrived(a, e); h != nil && h.receivers() > 1 {
		r.Receipts = h.receipts
	}
	for _, rb := range a.reads[e.ID] {
		r.AtStation = true
		r.ReadBacks = append(r.ReadBacks, rb.ID)
		if h := m.arrived(a, e); h != nil && !rb.At.IsZero() && m.stationTime(rb).Sub(h.at).Abs() > tolerance {
			a.warnings = append(a.warnings, m.lang.Say("The station's time for it differs by %d s from ours: measure the offset of its clock.", int(m.stationTime(rb).Sub(h.at).Round(time.Second)/time.Second)))
		}
	}
	for _, rb := range a.denied[e.ID] {
		r.ReadBacks = append(r.ReadBacks, rb.ID)
	}
	return r
}

func (m *matcher) judgeBegin(a *attempt, p pair) SignalResult {
	e := p.begin
	r := m.blank(a, e)
	c := a.found[e.ID]
	if c != nil {
		r.Here = true
		for _, h := range c.begins {
			r.Signals = append(r.Signals, h.ID)
		}
		r.Seconds = between(a.at, c.start())
		m.area(a, e, c.begins[0], &r)
		if r.Verdict != "" {
			return r
		}
	}
	late := m.late(a.at, e, c != nil, r.Seconds, a.reads[e.ID])
	m.arrivedVerdict(&r, a, e, late)
	switch {
	case r.Verdict != "":
	case a.wrong != nil && !e.Optional && a.wrong.Event.Number != e.Number && a.step.Family == FamilyBurglary && !m.obs.Locked && !m.now.After(a.at.Add(sec(e.Worst))):
		// Walking to one device trips others on the way: the right signal may still come.
		m.overdue(&r, a, a.at, e, NotReceived, words.Mark("Not received within %d s."))
	case a.wrong != nil && !e.Optional:
		r.Signals = append(r.Signals, a.wrong.ID)
		got := a.wrong.Event
		if got.Number == e.Number {
			r.Verdict, r.Say = WrongCode, m.lang.Say("Came as %s (%s) instead of %s.", got.Code, m.lang.Word(got.Words), cmp.Or(e.Code, m.lang.Say("the code scheduled")))
		} else {
			r.Verdict, r.Say = WrongZone, m.lang.Say("Came as zone %d (%s %s) instead of zone %s.", got.Number, got.Code, m.lang.Word(got.Words), e.Zone)
		}
	case e.Optional:
		r.Verdict, r.Say = Unproved, m.lang.Say("Not asked for in this step.")
	case len(a.denied[e.ID]) > 0:
		r.Verdict, r.Say = NotReceived, m.lang.Say("The station says that it does not have it.")
	case m.obs.Locked:
		r.Verdict, r.Say = Waiting, m.lang.Say("Ask the station to read it back.")
	default:
		m.overdue(&r, a, a.at, e, NotReceived, words.Mark("Not received within %d s."))
	}
	return r
}

// area checks the area of a signal. For life safety an area only tells where a zone is; for burglary the station acts on
// it (proof rule: right account, area and zone).
func (m *matcher) area(a *attempt, e Expectation, h *heard, r *SignalResult) {
	if e.Area == "" || h.Event.Area <= 0 || fmt.Sprint(h.Event.Area) == string(e.Area) || e.Zone == "" {
		return
	}
	text := m.lang.Say("Right zone, but area %d instead of %s.", h.Event.Area, e.Area)
	switch a.step.Family {
	case FamilyFire, FamilyCO, FamilyGas:
		a.warnings = append(a.warnings, text)
	default:
		r.Verdict, r.Say = WrongZone, text
	}
}

// late reports whether what arrived took longer than allowed. Without our own signal the station's time has to be later
// by more than the tolerance between two clocks.
func (m *matcher) late(from time.Time, e Expectation, here bool, took *float64, reads []ReadBack) bool {
	limit := e.Limit()
	if limit == 0 || from.IsZero() {
		return false
	}
	if here {
		return took != nil && *took > float64(limit)
	}
	timed, late := false, true
	for _, rb := range reads {
		if at := m.stationTime(rb); !at.IsZero() {
			timed = true
			late = late && at.Sub(from) > sec(limit)+tolerance
		}
	}
	return timed && late
}

// arrivedVerdict judges what arrived; it leaves the verdict empty when nothing did.
func (m *matcher) arrivedVerdict(r *SignalResult, a *attempt, e Expectation, late bool) {
	if !r.Here && !r.AtStation {
		return
	}
	took := m.lang.Say("received")
	if r.Seconds != nil {
		took = m.lang.Say("received after %s", sayseconds(m.lang, *r.Seconds))
	}
	where := m.lang.Say("; the station has it")
	switch {
	case !a.step.ToStation || e.Optional:
		where = ""
	case !r.AtStation && len(a.denied[e.ID]) > 0:
		r.Verdict, r.Say = NotReceived, m.lang.Say("%s here, but the station says that it does not have it.", words.Upper(took))
		if e.Role.Ends() {
			r.Verdict = RestoreMissing
		}
		return
	case !r.AtStation:
		r.Verdict, r.Say = Waiting, m.lang.Say("%s here, not yet at the station.", words.Upper(took))
		if late {
			r.Say = m.lang.Say("Late: %s (allowed %d s) here, not yet at the station.", took, r.Limit)
		}
		return
	case !r.Here:
		took, where = m.lang.Say("the station has it"), m.lang.Say("; not seen here")
		if m.obs.Locked {
			where = ""
		}
	}
	r.Verdict, r.Say = Proved, words.Upper(took)+where+"."
	if late {
		r.Verdict, r.Say = ProvedLate, m.lang.Say("Late: %s (allowed %d s)%s.", took, r.Limit, where)
	}
}

// overdue judges what did not arrive: waiting, or missing once its worst time is over.
func (m *matcher) overdue(r *SignalResult, a *attempt, from time.Time, e Expectation, missing Verdict, format string) {
	if e.Worst == 0 || from.IsZero() {
		r.Verdict, r.Say = Waiting, m.lang.Say("Waiting, without a time limit.")
		return
	}
	due := from.Add(sec(e.Worst))
	if m.now.After(due) {
		r.Verdict, r.Say = missing, m.lang.Say(format, e.Worst)
		return
	}
	r.Verdict, r.Say = Waiting, m.lang.Say("Waiting, at most %d s.", e.Worst)
	if missing == RestoreMissing {
		r.Say = m.lang.Say("Waiting for the restore, at most %d s.", e.Worst)
	}
	if a.due.IsZero() || due.Before(a.due) {
		a.due = due
	}
}

func (m *matcher) judgeEnd(a *attempt, p pair, begin SignalResult) SignalResult {
	e := *p.end
	r := m.blank(a, e)
	c := a.found[p.begin.ID]
	cleared := m.cleared(a, e)
	if e.Role == RoleDisarm {
		cleared = time.Time{}
	}
	if c != nil && c.closed() {
		r.Here = true
		for _, h := range c.ends {
			r.Signals = append(r.Signals, h.ID)
		}
		r.Seconds = between(cleared, c.ends[0].at)
	}
	m.arrivedVerdict(&r, a, e, m.late(cleared, e, r.Here, r.Seconds, a.reads[e.ID]))
	switch {
	case r.Verdict != "":
	case !begin.Here && !begin.AtStation:
		r.Verdict, r.Say = Unproved, m.lang.Say("First the alarm.")
	case e.Optional && !a.step.ToStation:
		r.Verdict, r.Say = Unproved, m.lang.Say("Not asked for in this step.")
	case len(a.denied[e.ID]) > 0:
		r.Verdict, r.Say = RestoreMissing, m.lang.Say("The station says that it does not have the restore.")
	case m.obs.Locked || c == nil:
		r.Verdict, r.Say = Waiting, m.lang.Say("Ask the station to read back the restore.")
	case cleared.IsZero() && e.Policy == "reset":
		r.Verdict, r.Say = Waiting, m.lang.Say("Clear it, then reset the panel now: it holds the alarm until then.")
	case cleared.IsZero():
		m.overdue(&r, a, c.start().Add(assumeCleared), e, RestoreMissing, words.Mark("Restore missing within %d s."))
		if r.Verdict == Waiting {
			r.Say = m.lang.Say("Clear it and tick restored.")
		}
	default:
		m.overdue(&r, a, cleared, e, RestoreMissing, words.Mark("Restore missing within %d s."))
	}
	return r
}

// whole judges the attempt from its signals: the gravest of those asked for.
func (m *matcher) whole(a *attempt) {
	grave := []Verdict{WrongZone, WrongCode, NotReceived, RestoreMissing, Waiting, Unproved, ProvedLate, Proved}
	worst := len(grave) - 1
	asked := 0
	var told SignalResult
	for i, e := range a.step.Expected {
		if e.Optional {
			continue
		}
		asked++
		r := a.results[i]
		k := slices.Index(grave, r.Verdict)
		switch {
		case k < worst || k == worst && a.say == "":
			worst, a.say, told = k, r.Say, r
		case k == worst && r.Verdict == Waiting && told.Here && !r.Here:
			a.say = join2(a.say, r.Say) // the alarm is here; what is still to come says what to do
			told = r
		}
	}
	a.verdict = grave[worst]
	for _, p := range pairs(a.step) {
		c := a.found[p.begin.ID]
		a.open = a.open || c != nil && p.end != nil && !c.closed() && len(a.reads[p.end.ID]) == 0
	}
	mustSound := a.step.Kind == StepHead
	sounded := m.ticked(a.step, Sounded, a.at)
	switch {
	case mustSound && !sounded && !a.verdict.Bad():
		a.verdict, a.say = Waiting, m.lang.Say("Someone has to confirm that it sounds.")
		if asked > 0 && slices.ContainsFunc(a.results, func(r SignalResult) bool { return r.Here }) {
			a.say = m.lang.Say("The signal came. Someone has to confirm that it sounds.")
		}
	case asked == 0:
		a.say = m.lang.Say("It sounds.")
	}
	if a.verdict.Good() && a.method.Proves == Half {
		a.say = join2(a.say, m.buttonOr(a))
	}
}

func (m *matcher) buttonOr(a *attempt) string {
	if !a.named {
		return m.lang.Say("The test was not named: the sensor's entry counts as untested.")
	}
	return a.method.Say
}

func join2(a, b string) string {
	if a == "" {
		return b
	}
	return a + " " + b
}
