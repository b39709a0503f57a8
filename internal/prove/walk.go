package prove

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"proofbell/internal/words"
	"proofbell/site"
)

const (
	exactUpTo  = 11  // places: up to here the shortest walk is found exactly
	matrixUpTo = 600 // places: above, the walk is only greedy
)

// walk puts the steps into walking order and says the way to each.
//
// Arming comes first: everything that reports at all times is done with the system off, then everything that reports
// only when armed in one armed period, so that a run never needs more than one. Inside each of these the walk through
// the doors of the plan is the shortest one: exactly for few places, by improvement for many. Steps without a place on
// the plan follow those that have one, and what can not be tested stands at the end.
func walk(l *words.Language, s *site.Site, steps []Step) []Step {
	w := newWays(s)
	here := placeOf(s, s.Panel.Room, s.Panel.At)
	groups := make([][]Step, 7)
	for _, st := range steps {
		placed := st.Placed && st.Room != ""
		switch {
		case st.NotTestable != "":
			groups[6] = append(groups[6], st)
		case st.Proof == ProofTest:
			groups[0] = append(groups[0], st)
		case st.Kind == StepSystem:
			groups[5] = append(groups[5], st)
		case st.Arm == ArmSet && placed:
			groups[2] = append(groups[2], st)
		case st.Arm == ArmSet:
			groups[3] = append(groups[3], st)
		case placed:
			groups[1] = append(groups[1], st)
		default:
			groups[4] = append(groups[4], st)
		}
	}
	out := make([]Step, 0, len(steps))
	for g, group := range groups {
		if g == 1 || g == 2 {
			group, here = w.order(here, group)
		}
		out = append(out, group...)
	}
	before := placeOf(s, s.Panel.Room, s.Panel.At)
	for i := range out {
		st := &out[i]
		st.Order = i + 1
		to := stepPlace(*st)
		st.Way = sayWay(l, s, w, before, to, *st)
		if to.ok {
			before = to
		}
	}
	return out
}

func stepPlace(st Step) place {
	p := place{room: st.Room, storey: st.Storey, ok: st.Placed && st.Room != ""}
	p.at.X, p.at.Y = st.X, st.Y
	return p
}

// order arranges steps from a starting place; it returns the place where the walk ends. Steps at one place stay together
// in the order given.
func (w *ways) order(start place, steps []Step) ([]Step, place) {
	var places []place
	var at [][]Step
	index := map[place]int{}
	for _, st := range steps {
		p := stepPlace(st)
		i, seen := index[p]
		if !seen {
			i = len(places)
			index[p] = i
			places = append(places, p)
			at = append(at, nil)
		}
		at[i] = append(at[i], st)
	}
	if len(places) == 0 {
		return steps, start
	}
	var route []int
	if len(places) > matrixUpTo {
		route = w.greedy(start, places)
	} else {
		first := w.from(start, places)
		between := make([][]int64, len(places))
		for i, p := range places {
			between[i] = w.from(p, places)
		}
		route = shortest(first, between)
	}
	out := make([]Step, 0, len(steps))
	for _, i := range route {
		out = append(out, at[i]...)
	}
	return out, places[route[len(route)-1]]
}

// greedy always goes to the nearest place that is left.
func (w *ways) greedy(here place, places []place) []int {
	left := make([]int, len(places))
	for i := range left {
		left[i] = i
	}
	var route []int
	for len(left) > 0 {
		dist := w.spread(here)
		best, bestMM := 0, int64(math.MaxInt64)
		for k, i := range left {
			if mm := w.reach(here, places[i], dist); mm < bestMM {
				best, bestMM = k, mm
			}
		}
		here = places[left[best]]
		route = append(route, left[best])
		left = slices.Delete(left, best, best+1)
	}
	return route
}

// shortest returns the order in which to visit all places, from a start that is first[i] away from place i. Exact up to
// exactUpTo places, improved by moving and reversing stretches above.
func shortest(first []int64, between [][]int64) []int {
	if len(first) <= exactUpTo {
		return exact(first, between)
	}
	best := improve(first, between, nearest(first, between))
	if other := improve(first, between, inserted(first, between)); length(first, between, other) < length(first, between, best) {
		best = other
	}
	return best
}

func length(first []int64, between [][]int64, route []int) int64 {
	sum := first[route[0]]
	for i := 1; i < len(route); i++ {
		sum += between[route[i-1]][route[i]]
	}
	return sum
}

// exact is the dynamic programme of Held and Karp (1962) over subsets, for an open walk from a fixed start.
func exact(first []int64, between [][]int64) []int {
	n := len(first)
	full := 1<<n - 1
	cost := make([][]int64, full+1)
	from := make([][]int, full+1)
	for set := range cost {
		cost[set] = make([]int64, n)
		from[set] = make([]int, n)
		for i := range n {
			cost[set][i], from[set][i] = math.MaxInt64, -1
		}
	}
	for i := range n {
		cost[1<<i][i] = first[i]
	}
	for set := 1; set <= full; set++ {
		for last := range n {
			c := cost[set][last]
			if c == math.MaxInt64 {
				continue
			}
			for next := range n {
				if set>>next&1 == 1 {
					continue
				}
				if d := c + between[last][next]; d < cost[set|1<<next][next] {
					cost[set|1<<next][next], from[set|1<<next][next] = d, last
				}
			}
		}
	}
	last := 0
	for i := range n {
		if cost[full][i] < cost[full][last] {
			last = i
		}
	}
	route := make([]int, n)
	for set, k := full, n-1; k >= 0; k-- {
		route[k] = last
		set, last = set&^(1<<last), from[set][last]
	}
	return route
}

func nearest(first []int64, between [][]int64) []int {
	n := len(first)
	used := make([]bool, n)
	route := make([]int, 0, n)
	row := first
	for range n {
		best := -1
		for i := range n {
			if !used[i] && (best < 0 || row[i] < row[best]) {
				best = i
			}
		}
		used[best] = true
		route = append(route, best)
		row = between[best]
	}
	return route
}

// inserted builds a walk by putting one place after the other where it costs least.
func inserted(first []int64, between [][]int64) []int {
	route := []int{}
	for i := range first {
		bestAt, bestCost := 0, int64(math.MaxInt64)
		for at := 0; at <= len(route); at++ {
			cost := step(first, between, route, at-1, i)
			if at < len(route) {
				cost += between[i][route[at]] - step(first, between, route, at-1, route[at])
			}
			if cost < bestCost {
				bestAt, bestCost = at, cost
			}
		}
		route = slices.Insert(route, bestAt, i)
	}
	return route
}

// step is the way from the place at index k of the route (-1: the start) to a place.
func step(first []int64, between [][]int64, route []int, k, to int) int64 {
	if k < 0 {
		return first[to]
	}
	return between[route[k]][to]
}

// improve reverses and moves stretches of the walk as long as that makes it shorter.
func improve(first []int64, between [][]int64, route []int) []int {
	n := len(route)
	for better := true; better; {
		better = false
		for i := range n {
			for j := i + 1; j < n; j++ { // reverse i..j
				gain := step(first, between, route, i-1, route[i]) - step(first, between, route, i-1, route[j])
				if j+1 < n {
					gain += between[route[j]][route[j+1]] - between[route[i]][route[j+1]]
				}
				if gain > 0 {
					slices.Reverse(route[i : j+1])
					better = true
				}
			}
		}
		for size := 1; size <= 3; size++ { // move a short stretch elsewhere
			for i := 0; i+size <= n; i++ {
				if next := moved(first, between, route, i, size); next != nil {
					route, better = next, true
				}
			}
		}
	}
	return route
}

// moved takes the stretch of size places at i out of the walk and puts it where the walk becomes shortest; nil when it
// stays best where it is.
func moved(first []int64, between [][]int64, route []int, i, size int) []int {
	piece, rest := route[i:i+size], slices.Concat(route[:i], route[i+size:])
	saved := step(first, between, route, i-1, route[i])
	if i < len(rest) {
		saved += between[piece[size-1]][rest[i]] - step(first, between, rest, i-1, rest[i])
	}
	bestAt, bestGain := -1, int64(0)
	for at := 0; at <= len(rest); at++ {
		cost := step(first, between, rest, at-1, piece[0])
		if at < len(rest) {
			cost += between[piece[size-1]][rest[at]] - step(first, between, rest, at-1, rest[at])
		}
		if gain := saved - cost; gain > bestGain {
			bestAt, bestGain = at, gain
		}
	}
	if bestAt < 0 {
		return nil
	}
	return slices.Concat(rest[:bestAt], piece, rest[bestAt:])
}

// sayWay describes the way to a step.
func sayWay(l *words.Language, s *site.Site, w *ways, a, b place, st Step) Way {
	if st.Proof == ProofTest {
		return Way{Known: true, Say: l.Say("At the panel")}
	}
	where := cmp.Or(st.Where, l.Say("place not known"))
	switch {
	case st.Room == "":
		return Way{Say: l.Say("No room named for it yet")}
	case !b.ok:
		return Way{Say: l.Say("No place on the plan: %s", where)}
	case !a.ok:
		return Way{Say: where}
	}
	mm := w.from(a, []place{b})[0]
	if mm >= far {
		return Way{Say: l.Say("No way drawn on the plan: %s", where)}
	}
	way := Way{Known: true, Metres: math.Round(float64(mm)/100) / 10, Floors: floors(s, a.storey, b.storey)}
	distance := fmt.Sprintf("%.0f m", way.Metres)
	if s.Premises.Units == "imperial" {
		distance = fmt.Sprintf("%.0f ft", float64(mm)/304.8)
	}
	switch {
	case mm < 750:
		way.Say = l.Say("Here")
	case way.Floors == 0:
		way.Say = l.Say("%s, same floor", distance)
	case way.Floors == 1:
		way.Say = l.Say("%s, one floor up", distance)
	case way.Floors == -1:
		way.Say = l.Say("%s, one floor down", distance)
	case way.Floors > 0:
		way.Say = l.Say("%s, %d floors up", distance, way.Floors)
	default:
		way.Say = l.Say("%s, %d floors down", distance, -way.Floors)
	}
	return way
}

// floors counts the storeys between two, by their order in the building.
func floors(s *site.Site, a, b site.StoreyID) int {
	if a == b {
		return 0
	}
	from, to := s.Storeys[a], s.Storeys[b]
	if from.Order != 0 && to.Order != 0 {
		return to.Order - from.Order
	}
	switch {
	case to.Level.SI() > from.Level.SI():
		return 1
	case to.Level.SI() < from.Level.SI():
		return -1
	}
	return 0
}
