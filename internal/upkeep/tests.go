package upkeep

import (
	"cmp"
	"slices"
	"time"

	"proofbell/internal/prove"
	"proofbell/internal/sorts"
	"proofbell/site"
)

// Tested is one device of a rotation and when it was last tested; the zero time is never.
type Tested struct {
	ID   string
	Last time.Time
}

// Choose picks what is tested at a visit: at least the share (per cent, rounded up, never below one), longest untested
// first, and in any case all whose time (in months) would be over before the next visit. So a rotation never tests fewer
// than the percentage, and nothing waits longer than its time while visits are made on the day that was planned.
func Choose(all []Tested, share, every int, visit, next time.Time) []Tested {
	order := slices.Clone(all)
	sorts.Stable(order, func(a, b Tested) int { return cmp.Or(a.Last.Compare(b.Last), site.NaturalOrder(a.ID, b.ID)) })
	n := part(len(order), share)
	for n < len(order) && site.AddMonths(order[n].Last, every).Before(next) {
		n++
	}
	return order[:n]
}

// part is a share of a number in per cent: rounded up, at least one where there is any.
func part(of, share int) int {
	return min(of, max(min(of, 1), (of*min(max(share, 0), 100)+99)/100))
}

// Share is what each of so many visits a year has to test, in per cent: the rule set's own figure for one, two and four
// visits a year, an equal part rounded up for any other number.
func (l *lister) share(visits int) int {
	switch visits {
	case 1:
		return int(l.figure("share.year"))
	case 2:
		return int(l.figure("share.half"))
	case 4:
		return int(l.figure("share.quarter"))
	}
	return (100 + visits - 1) / visits
}

// visits finds the day of the next planned visit and of the one after.
func (l *lister) visits() (a int, visit, next time.Time) {
	a = l.Site.Care.VisitsAYear
	if a <= 0 {
		a = max(1, int(l.figure("visits.year")))
	}
	between := max(1, 12/a)
	switch {
	case !l.NextVisit.IsZero():
		visit = l.NextVisit.First()
	case !l.LastVisit.IsZero():
		visit = site.AddMonths(day(l.LastVisit), between)
	default:
		visit = l.On
	}
	// A visit that was missed is made now: the time until the one after counts from when it is made.
	return a, visit, site.AddMonths(later(visit, l.On), between)
}

func later(a, b time.Time) time.Time {
	if a.Before(b) {
		return b
	}
	return a
}

func day(t time.Time) time.Time { return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC) }

// last is when all of the steps were proved: the oldest of them; zero while one never was.
func (l *lister) last(steps []prove.Step) time.Time {
	var oldest time.Time
	for i, st := range steps {
		at := l.Proofs[st.ID]
		if at.IsZero() {
			return time.Time{}
		}
		if i == 0 || at.Before(oldest) {
			oldest = at
		}
	}
	return oldest
}

// tests lists the rotation of the next visit, and the tests of the system that fall due with it.
func (l *lister) tests() {
	a, visit, next := l.visits()
	share := l.share(a)
	every := int(l.figure("test.devices"))
	l.list.Visit, l.list.VisitDay = visit.Format(time.DateOnly), l.words.Day(visit)
	l.list.VisitSay = l.words.Say("%d planned visits a year, each at least %d %% of the devices, longest untested first; every device within %d months.", a, share, every)
	if a == 1 {
		l.list.VisitSay = l.words.Say("One planned visit a year: every device within %d months.", every)
	}

	var all []Tested
	for unit, steps := range l.byUnit {
		all = append(all, Tested{unit, l.last(steps)})
	}
	made := later(visit, l.On)
	chosen := Choose(all, share, every, made, next)
	round := Round{
		ID: "test", Kind: KindTest, Title: l.words.Say("Tests of the next visit"), Due: l.list.Visit,
		Say: l.words.Say("%d of %d devices, at least %d %%, longest untested first.", len(chosen), len(all), share),
	}
	if len(l.Proofs) == 0 {
		round.Title = l.words.Say("First proof")
		round.Say = l.words.Say("Nothing was proved yet: a new system is proved whole, every device, function and path.")
	}
	for _, c := range chosen {
		id := site.DeviceID(c.ID)
		it := Item{ID: "test." + c.ID, Kind: KindTest, Who: ByTechnician, Basis: l.basis("test.devices"), Say: l.words.Say("Test %s", l.named(id))}
		l.device(&it, id)
		l.tested(&it, c.Last, every, visit)
		l.put(round, it)
	}
	every = int(l.figure("test.system"))
	for _, st := range l.steps {
		system := st.Kind == prove.StepSystem && st.Proof != prove.ProofTest || st.Kind == prove.StepSound
		last := l.Proofs[st.ID]
		if !system || st.NotTestable != "" || len(l.Proofs) > 0 && !site.AddMonths(last, every).Before(next) {
			continue
		}
		it := Item{ID: "system." + string(st.ID), Kind: KindSystem, Who: ByTechnician, Basis: l.basis("test.system"), Say: l.words.Say("Test: %s", st.Title), Steps: []prove.StepID{st.ID}}
		l.placed(&it, st.Room, nil, st.Storey, false)
		it.order = "999|" + it.ID // after the devices
		l.tested(&it, last, every, visit)
		l.put(round, it)
	}
}

// tested says when a test falls due: its time after the last one, and at the visit that comes before.
func (l *lister) tested(it *Item, last time.Time, every int, visit time.Time) {
	it.Sure = l.words.Say("sure to the day")
	if last.IsZero() {
		it.Why = l.words.Say("Never proved.")
		it.Due, it.first, it.State = visit.Format(time.DateOnly), visit, l.testState(visit)
		return
	}
	it.Last = last.Format(time.DateOnly)
	limit := site.AddMonths(day(last), every)
	it.Why = l.words.Say("Last proved %s; its %d months end on %s.", l.words.Day(last), every, l.words.Day(limit))
	it.first = limit
	if visit.Before(limit) {
		it.first = visit
	}
	it.Due = it.first.Format(time.DateOnly)
	it.State = l.testState(it.first)
}

// testState is state for a visit or a test: on its day it is due, from the next day on overdue.
func (l *lister) testState(due time.Time) State {
	if l.On.Equal(due) {
		return Due
	}
	return l.state(due)
}

// listeners lists the owner's monthly test: the button of one alarm, seen as the listener's zone at the panel.
func (l *lister) listeners() {
	every := int(l.figure("test.listener"))
	for _, id := range site.SortedIDs(l.Site.Devices) {
		d := l.Site.Devices[id]
		if d.Hears == "" {
			continue
		}
		it := Item{ID: "listener." + string(id), Kind: KindListener, Who: ByOwner, Basis: l.basis("test.listener"), Say: l.words.Say("Hold the test button of an alarm of group %s until the panel shows its zone", d.Hears)}
		l.device(&it, id)
		it.Ladder, it.Reach = false, ""
		it.Steps = nil
		last := l.Done[it.ID]
		for _, st := range l.byUnit[string(id)] {
			if at := l.Proofs[st.ID]; at.After(last) {
				last = at
			}
		}
		it.Sure = l.words.Say("sure to the day")
		if last.IsZero() {
			it.State, it.Why = Due, l.words.Say("No test of it is on record.")
			it.Due, it.first = l.list.On, l.On
		} else {
			it.Last = last.Format(time.DateOnly)
			it.first = site.AddMonths(day(last), every)
			it.Due, it.State = it.first.Format(time.DateOnly), l.testState(it.first)
			it.Why = l.words.Say("Every %d months; last %s.", every, l.words.Day(last))
			if every == 1 {
				it.Why = l.words.Say("Every month; last %s.", l.words.Day(last))
			}
		}
		l.put(Round{
			ID: "listener", Kind: KindListener, Title: l.words.Say("Monthly test by the owner"),
			Say: l.words.Say("The owner calls the station first: account on test, fire and carbon monoxide. Another alarm each month."),
		}, it)
	}
}

// contacts lists the yearly confirmation of the people whom the station calls.
func (l *lister) contacts() {
	if l.Site.Account.Number == "" {
		return
	}
	every := int(l.figure("test.contacts"))
	it := Item{ID: "contacts", Kind: KindContacts, Who: ByDesk, Basis: l.basis("test.contacts"), Say: l.words.Say("Confirm contacts and passcodes with owner and station")}
	last := l.Done["contacts"]
	if last.IsZero() {
		last = l.Site.Station.ZoneListAsOf.First()
	}
	it.Sure = l.words.Say("sure to the day")
	if l.Site.Station.ZoneListAsOf.IsZero() && l.Done["contacts"].IsZero() {
		it.State, it.Why, it.Due, it.first = Due, l.words.Say("They were never confirmed on record."), l.list.On, l.On
	} else {
		it.Last = last.Format(time.DateOnly)
		it.first = site.AddMonths(day(last), every)
		it.Due, it.State = it.first.Format(time.DateOnly), l.testState(it.first)
		it.Why = l.words.Say("Last confirmed or read back %s; every %d months.", l.words.Day(last), every)
	}
	l.put(Round{ID: "contacts", Kind: KindContacts, Title: l.words.Say("Contacts and passcodes"), Say: l.words.Say("Each person: reachable, number right, passcode known. The passcode itself is never written down here.")}, it)
}

// sensitivity lists the smoke detectors of the system whose sensitivity is to be measured.
func (l *lister) sensitivity() {
	for _, id := range site.SortedIDs(l.Site.Devices) {
		d := l.Site.Devices[id]
		if m, _ := l.Site.ModelOf(id); m.Class != "smoke" || d.Installed.IsZero() && l.Sensed[id].IsZero() {
			continue
		}
		it := Item{ID: "sensitivity." + string(id), Kind: KindSensitivity, Who: ByTechnician, Basis: l.basis("sensitivity.first"), Say: l.words.Say("Measure the sensitivity of %s", l.named(id))}
		l.device(&it, id)
		it.Steps = nil
		if last := l.Sensed[id]; last.IsZero() {
			n := int(l.figure("sensitivity.first"))
			l.ends(&it, d.Installed, n, n)
			it.Why = l.words.Say("Installed %s; first within %d months.", l.typed(d.Installed.String()), n)
		} else {
			n := int(l.figure("sensitivity.then"))
			it.Last = last.Format(time.DateOnly)
			it.first = site.AddMonths(day(last), n)
			it.Due, it.State, it.Sure = it.first.Format(time.DateOnly), l.state(it.first), l.words.Say("sure to the day")
			it.Why = l.words.Say("Last measured %s; every %d months, up to 5 years once it stayed in its range.", l.words.Day(last), n)
		}
		l.put(Round{
			ID: "sensitivity" + l.year(it), Kind: KindSensitivity, Title: l.words.Say("Sensitivity of the smoke detectors"),
			Say: l.words.Say("With the maker's instrument or the detector's own reading; note the value and its range."),
		}, it)
	}
}

// Whole reports whether a step is proved whole: where the sensor has to see its cause, its button alone does not do.
func Whole(st prove.Step, r prove.StepResult) bool {
	return r.Verdict.Good() && (!r.Half || st.Kind != prove.StepZone)
}

// Gather takes the proofs of a run over: the newest trip of each step that is proved whole. closed stands for a step whose
// trip has no time of its own.
func Gather(into Proofs, steps []prove.Step, results []prove.StepResult, ticks []prove.Tick, closed time.Time) {
	tripped := map[prove.StepID]time.Time{}
	for _, t := range ticks {
		if t.What == prove.Tripped && t.At.After(tripped[t.Step]) {
			tripped[t.Step] = t.At
		}
	}
	for i, st := range steps {
		if i >= len(results) || !Whole(st, results[i]) {
			continue
		}
		at := tripped[st.ID]
		if at.IsZero() {
			at = closed
		}
		if at.After(into[st.ID]) {
			into[st.ID] = at
		}
	}
}
