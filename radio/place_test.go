package radio

import (
	"errors"
	"math"
	"math/bits"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize/convex/lp"
)

// exhaustive tries every choice: the fewest, and the strongest weakest link among choices of as many.
func exhaustive(margins [][]float64, links []int, wanted float64) (fewest int, worst float64) {
	fewest, worst = math.MaxInt, math.Inf(-1)
	for pick := range 1 << len(margins) {
		n := bits.OnesCount(uint(pick))
		if n > fewest {
			continue
		}
		weakest := math.Inf(1)
		for _, l := range links {
			best := math.Inf(-1)
			for c := range margins {
				if pick>>c&1 != 0 && margins[c][l] > best {
					best = margins[c][l]
				}
			}
			weakest = math.Min(weakest, best)
		}
		if weakest >= wanted && (n < fewest || weakest > worst) {
			fewest, worst = n, weakest
		}
	}
	return fewest, worst
}

// house is a random plan: links and candidates in a square, margins that fall with distance and with the walls of a grid.
func house(r *rand.Rand, candidates, links int, side float64) [][]float64 {
	place := func() [2]float64 { return [2]float64{r.Float64() * side, r.Float64() * side} }
	var at, to [][2]float64
	for range candidates {
		at = append(at, place())
	}
	for range links {
		to = append(to, place())
	}
	margins := make([][]float64, candidates)
	for c, p := range at {
		margins[c] = make([]float64, links)
		for l, q := range to {
			walls := math.Abs(math.Floor(p[0]/5)-math.Floor(q[0]/5)) + math.Abs(math.Floor(p[1]/5)-math.Floor(q[1]/5))
			d := math.Max(0.5, math.Hypot(p[0]-q[0], p[1]-q[1]))
			margins[c][l] = math.Round((53-20*math.Log10(d)-9*walls)*10) / 10
		}
	}
	return margins
}

func servable(margins [][]float64, wanted float64) (links []int) {
	for l := range margins[0] {
		for c := range margins {
			if margins[c][l] >= wanted {
				links = append(links, l)
				break
			}
		}
	}
	return links
}

func TestPlaceEqualsExhaustiveSearch(t *testing.T) {
	sizes := map[int]int{}
	for seed := range uint64(200) {
		r := rand.New(rand.NewPCG(seed, 44))
		margins := house(r, 8+int(seed%7), 4+int(seed%17), 20)
		p := Place(margins, 15, 0)
		links := servable(margins, 15)
		if len(links)+len(p.Unserved) != len(margins[0]) {
			t.Fatalf("seed %d: %d links can be served, %v are called unserved", seed, len(links), p.Unserved)
		}
		if len(links) == 0 {
			continue
		}
		fewest, worst := exhaustive(margins, links, 15)
		if len(p.Chosen) != fewest || p.AtLeast != fewest || p.Worst != worst || !p.BestWay {
			t.Errorf("seed %d: %v (at least %d), weakest %v, proved %v; want %d and %v", seed, p.Chosen, p.AtLeast, p.Worst, p.BestWay, fewest, worst)
		}
		sizes[fewest]++
	}
	if len(sizes) < 4 {
		t.Errorf("the plans are too much alike: %v", sizes)
	}
}

// simplexCover is the fewest by branch and bound over a general-purpose solver of linear programs: an independent way.
func simplexCover(t *testing.T, of [][]int, rows int) int {
	best := math.MaxInt
	var down func(fixed []int)
	down = func(fixed []int) { // -1 free, 0 out, 1 in
		taken, open := 0, make([]bool, rows)
		for i := range open {
			open[i] = true
		}
		var free []int
		for c, f := range fixed {
			switch f {
			case 1:
				taken++
				for _, r := range of[c] {
					open[r] = false
				}
			case -1:
				free = append(free, c)
			}
		}
		var left []int
		for r, o := range open {
			if o {
				left = append(left, r)
			}
		}
		if len(left) == 0 {
			best = min(best, taken)
			return
		}
		// minimise sum x with, for each row left, sum of its columns - slack = 1.
		a := mat.NewDense(len(left), len(free)+len(left), nil)
		cost := make([]float64, len(free)+len(left))
		one := make([]float64, len(left))
		for i, r := range left {
			served := false
			for j, c := range free {
				if slices.Contains(of[c], r) {
					a.Set(i, j, 1)
					served = true
				}
			}
			if !served {
				return
			}
			a.Set(i, len(free)+i, -1)
			one[i] = 1
		}
		var empty []int
		for j := range free {
			cost[j] = 1
			if mat.Sum(a.ColView(j)) == 0 {
				empty = append(empty, j)
			}
		}
		for k := len(empty) - 1; k >= 0; k-- { // the solver refuses columns of zeros
			next := slices.Clone(fixed)
			next[free[empty[k]]] = 0
			fixed = next
		}
		if len(empty) > 0 {
			down(fixed)
			return
		}
		value, x, err := lp.Simplex(cost, a, one, 1e-10, nil)
		if errors.Is(err, lp.ErrInfeasible) {
			return
		}
		if err != nil {
			t.Fatalf("linear program: %v", err)
		}
		if taken+int(math.Ceil(value-1e-6)) >= best {
			return
		}
		split, most := -1, 1e-6
		for j := range free {
			if away := math.Min(x[j], 1-x[j]); away > most {
				split, most = j, away
			}
		}
		if split < 0 {
			best = min(best, taken+int(math.Round(value)))
			return
		}
		for _, in := range []int{1, 0} {
			next := slices.Clone(fixed)
			next[free[split]] = in
			down(next)
		}
	}
	fixed := make([]int, len(of))
	for i := range fixed {
		fixed[i] = -1
	}
	down(fixed)
	return best
}

func TestPlaceAgreesWithALinearProgramSolver(t *testing.T) {
	for seed := range uint64(12) {
		margins := house(rand.New(rand.NewPCG(seed, 7)), 40, 30, 40)
		links := servable(margins, 15)
		of := make([][]int, len(margins))
		for c := range margins {
			for i, l := range links {
				if margins[c][l] >= 15 {
					of[c] = append(of[c], i)
				}
			}
		}
		p := Place(margins, 15, 0)
		if want := simplexCover(t, of, len(links)); len(p.Chosen) != want || p.AtLeast != want {
			t.Errorf("seed %d: %d chosen, at least %d; the solver finds %d", seed, len(p.Chosen), p.AtLeast, want)
		}
	}
}

// A campus: the answer holds, and what is proved is within a tenth of it.
func TestLargePlansHaveACloseBound(t *testing.T) {
	for seed := range uint64(2) {
		margins := house(rand.New(rand.NewPCG(seed, 99)), 500, 300, 80)
		p := Place(margins, 15, 50_000)
		links := servable(margins, 15)
		if w := worst(margins, links, p.Chosen); w < 15 || w != p.Worst {
			t.Fatalf("seed %d: weakest link %v, told %v", seed, w, p.Worst)
		}
		if gap := float64(len(p.Chosen)-p.AtLeast) / float64(len(p.Chosen)); gap > 0.1 || gap < 0 {
			t.Errorf("seed %d: %d chosen, at least %d", seed, len(p.Chosen), p.AtLeast)
		}
		t.Logf("seed %d: %d chosen, at least %d, weakest %v", seed, len(p.Chosen), p.AtLeast, p.Worst)
	}
}

func TestPlaceGivesOneAnswer(t *testing.T) {
	margins := house(rand.New(rand.NewPCG(5, 5)), 60, 40, 40)
	if p, q := Place(margins, 15, 3000), Place(margins, 15, 3000); !slices.Equal(p.Chosen, q.Chosen) || p.AtLeast != q.AtLeast {
		t.Errorf("%+v, then %+v", p, q)
	}
}

func TestPlaceAtTheEdges(t *testing.T) {
	nan := math.NaN()
	if p := Place(nil, 15, 0); len(p.Chosen) != 0 || p.AtLeast != 0 {
		t.Errorf("nothing to place: %+v", p)
	}
	// Links 0 and 1 through either, 2 through none, 3 only through the second.
	p := Place([][]float64{{30, 20, nan, 3}, {16, 20, 14.9, 15}}, 15, 0)
	if !slices.Equal(p.Chosen, []int{1}) || !slices.Equal(p.Unserved, []int{2}) || p.Worst != 15 || p.AtLeast != 1 {
		t.Errorf("%+v", p)
	}
	// One is enough and two are: the one whose weakest link is strongest.
	p = Place([][]float64{{16, 40}, {25, 26}, {30, 20}}, 15, 0)
	if !slices.Equal(p.Chosen, []int{1}) || p.Worst != 25 || !p.BestWay {
		t.Errorf("%+v", p)
	}
	// No candidate reaches the panel itself.
	if p := Place([][]float64{{math.Inf(-1), nan}}, 15, 0); len(p.Chosen) != 0 || len(p.Unserved) != 2 {
		t.Errorf("%+v", p)
	}
}
