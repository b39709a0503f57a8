package radio

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

	"proofbell/internal/sorts"
)

// Placing is where repeaters go, and how good that answer is.
type Placing struct {
	Chosen   []int   // candidates taken, ascending
	AtLeast  int     // proved: with fewer it can not be done; equal to len(Chosen) when that is the fewest there is
	Worst    float64 // smallest margin of the links, each by its best repeater
	BestWay  bool    // proved: no other choice of as many has a larger Worst
	Unserved []int   // links that no candidate brings to the wanted margin; they are left out of all the above
}

// Place chooses the fewest candidates so that every link has the wanted margin through one of them, and among these choices one
// whose weakest link is strongest. margins[c][l] is the margin of link l through candidate c: the smaller of its two hops, so
// that a candidate which itself does not reach the panel serves nothing (NaN and -Inf serve nothing too).
//
// Small plans are solved exactly. effort bounds the search (steps; 0 takes 200 000): where it is used up the best choice found
// stands with a lower bound that was proved. The same input gives the same answer.
func Place(margins [][]float64, wanted float64, effort int) Placing {
	if effort <= 0 {
		effort = 200_000
	}
	links := 0
	if len(margins) > 0 {
		links = len(margins[0])
	}
	best := make([]float64, links)
	for l := range best {
		best[l] = math.Inf(-1)
		for c := range margins {
			if margins[c][l] > best[l] {
				best[l] = margins[c][l]
			}
		}
	}
	var p Placing
	var rows []int
	for l := range best {
		if best[l] >= wanted {
			rows = append(rows, l)
		} else {
			p.Unserved = append(p.Unserved, l)
		}
	}
	if len(rows) == 0 {
		p.Worst, p.BestWay = math.Inf(1), true
		return p
	}
	p.Chosen, p.AtLeast = cover(margins, rows, wanted, 0, effort)
	p.Worst = worst(margins, rows, p.Chosen)
	p.BestWay = p.AtLeast == len(p.Chosen)

	// The weakest link: the largest threshold with which as many still do.
	var steps []float64
	most := math.Inf(1)
	for _, l := range rows {
		most = math.Min(most, best[l])
	}
	for c := range margins {
		for _, l := range rows {
			if m := margins[c][l]; m > p.Worst && m <= most {
				steps = append(steps, m)
			}
		}
	}
	sorts.By(steps, cmp.Compare[float64])
	steps = slices.Compact(steps)
	for low, high := 0, len(steps); low < high; {
		mid := (low + high) / 2
		chosen, least := cover(margins, rows, steps[mid], len(p.Chosen), effort/8)
		if len(chosen) > len(p.Chosen) {
			p.BestWay = p.BestWay && least > len(p.Chosen)
			high = mid
			continue
		}
		p.Chosen, p.Worst = chosen, worst(margins, rows, chosen)
		for low < high && steps[low] <= p.Worst {
			low++
		}
	}
	return p
}

func worst(margins [][]float64, rows, chosen []int) float64 {
	w := math.Inf(1)
	for _, l := range rows {
		b := math.Inf(-1)
		for _, c := range chosen {
			if margins[c][l] > b { // NaN is not
				b = margins[c][l]
			}
		}
		w = math.Min(w, b)
	}
	return w
}

// set is a set of small numbers.
type set []uint64

func newSet(n int) set       { return make(set, (n+63)/64) }
func (s set) add(i int)      { s[i>>6] |= 1 << (i & 63) }
func (s set) drop(i int)     { s[i>>6] &^= 1 << (i & 63) }
func (s set) has(i int) bool { return s[i>>6]>>(i&63)&1 != 0 }
func (s set) clone() set     { return slices.Clone(s) }
func (s set) minus(t set) {
	for i := range s {
		s[i] &^= t[i]
	}
}

func (s set) count() (n int) {
	for _, w := range s {
		n += bits.OnesCount64(w)
	}
	return n
}

func (s set) common(t set) (n int) {
	for i, w := range s {
		n += bits.OnesCount64(w & t[i])
	}
	return n
}

func both(s, t set) set {
	u := s.clone()
	for i := range u {
		u[i] &= t[i]
	}
	return u
}

func (s set) list() (ids []int) {
	for i, w := range s {
		for ; w != 0; w &= w - 1 {
			ids = append(ids, i<<6+bits.TrailingZeros64(w))
		}
	}
	return ids
}

// table is a covering problem: columns that serve rows.
type table struct {
	of     []set // rows of a column
	by     []set // columns of a row
	effort int
}

// cover finds few columns that serve every row with a margin of at least wanted, and a proved lower bound. With enough above 0
// the search ends as soon as so many do.
func cover(margins [][]float64, links []int, wanted float64, enough, effort int) (chosen []int, least int) {
	t := &table{effort: effort}
	for range links {
		t.by = append(t.by, newSet(len(margins)))
	}
	for c := range margins {
		rows := newSet(len(links))
		for r, l := range links {
			if margins[c][l] >= wanted {
				rows.add(r)
				t.by[r].add(c)
			}
		}
		t.of = append(t.of, rows)
	}
	rows, cols := newSet(len(t.by)), newSet(len(t.of))
	for r := range t.by {
		rows.add(r)
	}
	for c := range t.of {
		cols.add(c)
	}
	chosen = t.reduce(rows, cols)
	least = len(chosen)
	parts := t.parts(rows, cols)
	room := 0
	if len(parts) == 1 {
		room = enough - len(chosen)
	}
	for _, part := range parts {
		got, atLeast := t.solve(part, cols, room)
		chosen, least = append(chosen, got...), least+atLeast
	}
	sorts.By(chosen, func(a, b int) int { return a - b })
	return chosen, least
}

// reduce takes what is decided: columns that serve no more than another, rows that are served wherever another one is, and columns
// that alone serve a row. It strikes them out of rows and cols and returns the columns taken.
func (t *table) reduce(rows, cols set) (taken []int) {
	for again := true; again; {
		again = dominated(t.of, t.by, cols, rows, true)
		again = dominated(t.by, t.of, rows, cols, false) || again
		for _, r := range rows.list() {
			if rows.has(r) && t.by[r].common(cols) == 1 {
				c := both(t.by[r], cols).list()[0]
				taken = append(taken, c)
				rows.minus(t.of[c])
				cols.drop(c)
				again = true
			}
		}
		t.effort -= rows.count() + cols.count()
	}
	return taken
}

// dominated strikes out of some what another one makes superfluous: the smaller of two columns (small), the larger of two rows.
// members of some are among others; in leads back.
func dominated(members, in []set, some, others set, small bool) (struck bool) {
	for _, i := range some.list() {
		mine := both(members[i], others)
		n := mine.count()
		if n == 0 {
			continue
		}
		// Who holds all that i holds, holds its first member too.
		first := mine.list()[0]
		for _, j := range both(in[first], some).list() {
			if j == i || !some.has(i) || mine.common(members[j]) < n {
				continue
			}
			if same := members[j].common(others) == n; same && j > i {
				continue // the later of two alike goes
			}
			if small {
				some.drop(i)
			} else {
				some.drop(j)
			}
			struck = true
		}
	}
	return struck
}

// parts splits the rows that are left into groups that share no column.
func (t *table) parts(rows, cols set) (parts []set) {
	left := rows.clone()
	for _, r := range rows.list() {
		if !left.has(r) {
			continue
		}
		part := newSet(len(t.by))
		queue := []int{r}
		left.drop(r)
		for len(queue) > 0 {
			q := queue[len(queue)-1]
			queue = queue[:len(queue)-1]
			part.add(q)
			for w, word := range t.by[q] {
				for word &= cols[w]; word != 0; word &= word - 1 {
					for v, more := range t.of[w<<6+bits.TrailingZeros64(word)] {
						for more &= left[v]; more != 0; more &= more - 1 {
							s := v<<6 + bits.TrailingZeros64(more)
							left.drop(s)
							queue = append(queue, s)
						}
					}
				}
			}
		}
		parts = append(parts, part)
	}
	return parts
}

// solve covers one part: a choice and a bound by relaxation, then branch and bound between the two.
func (t *table) solve(rows, cols set, enough int) (best []int, least int) {
	s := search{table: t, enough: enough, u: make([]float64, len(t.by))}
	least = s.down(rows, cols.clone(), nil, 400)
	if t.effort > 0 || len(s.best) <= least {
		least = len(s.best)
	}
	return s.best, least
}

// search is branch and bound over one part.
type search struct {
	*table
	best   []int
	enough int
	u      []float64 // multipliers of the rows, from node to node
}

// down covers rows with cols, given what was taken on the way, and returns a bound of it all. It changes both sets.
func (s *search) down(rows, cols set, taken []int, rounds int) (least int) {
	for _, c := range cols.list() {
		if s.of[c].common(rows) == 0 {
			cols.drop(c)
		}
	}
	if len(taken) > 0 {
		for _, r := range rows.list() {
			if s.by[r].common(cols) == 0 {
				return math.MaxInt
			}
		}
		taken = append(slices.Clone(taken), s.reduce(rows, cols)...)
	}
	choice, bound, reduced := s.relax(rows, cols, s.u, rounds)
	if s.best == nil || len(taken)+len(choice) < len(s.best) {
		s.best = append(slices.Clone(taken), choice...)
	}
	least = len(taken) + int(math.Ceil(bound-1e-6))
	if least >= len(s.best) || len(s.best) <= s.enough || s.effort <= 0 {
		return least
	}
	tight, fewest := -1, math.MaxInt
	for _, c := range cols.list() {
		if float64(len(taken))+bound+reduced[c] > float64(len(s.best)-1)+1e-6 {
			cols.drop(c) // with it no better choice is possible
		}
	}
	for _, r := range rows.list() {
		if n := s.by[r].common(cols); n < fewest {
			tight, fewest = r, n
		}
	}
	if fewest == 0 {
		return least
	}
	var order []int
	for _, c := range cols.list() {
		if s.by[tight].has(c) {
			order = append(order, c)
		}
	}
	sorts.Stable(order, func(a, b int) int { return cmp.Compare(reduced[a], reduced[b]) })
	u := slices.Clone(s.u)
	for _, c := range order {
		next := rows.clone()
		next.minus(s.of[c])
		cols.drop(c)
		copy(s.u, u)
		s.down(next, cols.clone(), append(taken, c), 30)
		if len(s.best) <= max(least, s.enough) {
			break
		}
	}
	return least
}

// relax bounds the number of columns from below by multipliers u of the rows (Lagrange, subgradient steps from u, which ends as the
// best set), and makes choices on the way. reduced holds the reduced cost of each column at the best bound, where it is positive.
func (t *table) relax(rows, cols set, u []float64, rounds int) (best []int, bound float64, reduced []float64) {
	rowIDs, colIDs := rows.list(), cols.list()
	cost, reduced := make([]float64, len(t.of)), make([]float64, len(t.of))
	members := make([][]int, len(t.of))
	for _, c := range colIDs {
		members[c] = both(t.of[c], rows).list()
	}
	top := slices.Clone(u)
	for _, r := range rowIDs {
		if u[r] > 0 {
			continue // from the node above
		}
		u[r] = 1
		for w, word := range t.by[r] {
			for word &= cols[w]; word != 0; word &= word - 1 {
				u[r] = math.Min(u[r], 1/float64(len(members[w<<6+bits.TrailingZeros64(word)])))
			}
		}
	}
	step := 1.0
	slack := make([]float64, len(t.by))
	stale := 0
	for round := 0; round < rounds && step > 0.002; round++ {
		value, norm := 0.0, 0.0
		for _, r := range rowIDs {
			value += u[r]
			slack[r] = 1
		}
		for _, c := range colIDs {
			cost[c] = 1
			for _, r := range members[c] {
				cost[c] -= u[r]
			}
			if cost[c] < 0 {
				value += cost[c]
				for _, r := range members[c] {
					slack[r]--
				}
			}
		}
		if value > bound+1e-9 {
			bound, stale = value, 0
			copy(top, u)
			for _, c := range colIDs {
				reduced[c] = math.Max(0, cost[c])
			}
		} else if stale++; stale > 15 {
			step, stale = step/2, 0
		}
		if round%8 == 0 {
			if choice := t.greedy(rows, colIDs, members, cost); best == nil || len(choice) < len(best) {
				best = choice
			}
		}
		t.effort--
		for _, r := range rowIDs {
			norm += slack[r] * slack[r]
		}
		if norm == 0 || float64(len(best)) <= math.Ceil(bound-1e-6) {
			break
		}
		pace := step * (float64(len(best)) - value) / norm
		for _, r := range rowIDs {
			u[r] = math.Max(0, u[r]+pace*slack[r])
		}
	}
	copy(u, top)
	return best, bound, reduced
}

// greedy takes the column with the least cost for each row it still serves, and at the end leaves out what others serve too.
func (t *table) greedy(rows set, cols []int, members [][]int, cost []float64) (choice []int) {
	times := make([]int, len(t.by))
	left := rows.count()
	for left > 0 {
		pick, worth := -1, math.Inf(1)
		for _, c := range cols {
			fresh := 0
			for _, r := range members[c] {
				if times[r] == 0 {
					fresh++
				}
			}
			if fresh == 0 {
				continue
			}
			w := math.Max(cost[c], 0.001) / float64(fresh)
			if w < worth {
				pick, worth = c, w
			}
		}
		for _, r := range members[pick] {
			if times[r] == 0 {
				left--
			}
			times[r]++
		}
		choice = append(choice, pick)
	}
	return slices.DeleteFunc(choice, func(c int) bool {
		for _, r := range members[c] {
			if times[r] < 2 {
				return false
			}
		}
		for _, r := range members[c] {
			times[r]--
		}
		return true
	})
}
