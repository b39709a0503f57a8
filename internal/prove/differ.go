package prove

import (
	"slices"
	"time"
)

const (
	sameTripOthers = 60 * time.Second // two people's ticks of one trip: one stands at the device, the other at the panel
	otherWithin    = 5 * time.Minute  // a second person's tick of a trip that has its signal already
)

// DifferenceKind says in what two people's statements differ.
type DifferenceKind string

// The kinds. Append only.
const (
	BothTripped   DifferenceKind = "both-tripped"  // both ticked one trip: the first counts
	OtherMethod   DifferenceKind = "other-method"  // both ticked one trip and named another test: the first counts
	Contradiction DifferenceKind = "contradiction" // one says that it works, the other that it does not
)

// Difference is what two people, or two devices of one person, said about one step. Both statements are kept.
type Difference struct {
	Kind    DifferenceKind `json:"kind"`
	Step    StepID         `json:"step"`
	First   Tick           `json:"first"` // the earlier one
	Other   Tick           `json:"other"`
	Seconds *float64       `json:"seconds"` // from the first to the other; nil: not known
}

// Grave reports whether a person has to decide: nothing else tells which of the two is right.
func (d Difference) Grave() bool { return d.Kind != BothTripped }

// otherWriter reports whether two ticks come from different people or devices.
func otherWriter(a, b Tick) bool { return a.By != b.By || a.From != b.From }

// differences lists where two writers met at one step, in the order of the plan.
func (m *matcher) differences() {
	m.out.Differences = []Difference{}
	for i := range m.plan {
		st := &m.plan[i]
		add := func(kind DifferenceKind, a, b Tick) {
			m.out.Differences = append(m.out.Differences, Difference{Kind: kind, Step: st.ID, First: a, Other: b, Seconds: between(a.At, b.At)})
		}
		for _, a := range m.stood[st.ID] {
			first := a.trips[0]
			for k, t := range a.trips[1:] {
				told := slices.ContainsFunc(a.trips[1:k+1], func(x Tick) bool { return !otherWriter(x, t) })
				switch {
				case !otherWriter(first, t) || told:
				case t.Method != first.Method && t.Method != "":
					add(OtherMethod, first, t)
				default:
					add(BothTripped, first, t)
				}
			}
		}
		if a, b, ok := m.contradiction(st); ok {
			add(Contradiction, a, b)
		}
	}
}

// contradiction finds the newest statement that a step does not work, or could not be tested, with another person's that it
// does, close to each other and with no proved trip after both.
func (m *matcher) contradiction(st *Step) (first, other Tick, ok bool) {
	for _, bad := range slices.Backward(m.ticks[st.ID]) {
		if bad.What != Failed && bad.What != CannotTest {
			continue
		}
		for _, good := range slices.Backward(m.ticks[st.ID]) {
			works := good.What == Sounded || good.What == PanelShowed || good.What == Tripped
			if !works || !otherWriter(bad, good) || good.At.Sub(bad.At).Abs() > lateAtMost || m.settledSince(st, bad.At, good.At) {
				continue
			}
			if good.At.Before(bad.At) {
				return good, bad, true
			}
			return bad, good, true
		}
		return Tick{}, Tick{}, false
	}
	return Tick{}, Tick{}, false
}

// settledSince reports whether a trip after both moments, or at the later of them, brought its signal.
func (m *matcher) settledSince(st *Step, a, b time.Time) bool {
	if a.Before(b) {
		a = b
	}
	return slices.ContainsFunc(m.stood[st.ID], func(x *attempt) bool {
		return !x.at.Before(a) && (len(x.found) > 0 || len(x.reads) > 0)
	})
}
