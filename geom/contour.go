package geom

import "math"

// Contours returns the lines along which a field has the given level, drawn between the centres of cells: open ones from
// rim to rim or to where values are missing, closed ones with the first point repeated. The greater values lie on the
// left. values holds the rows from
// below, W numbers each; NaN and infinities are missing. Marching squares; in a saddle the mean of the four decides.
func Contours(g Grid, values []float64, level float64) [][]Point {
	if len(values) < g.W*g.H {
		return nil
	}
	// Each line enters a square between four centres on one side and leaves it on another. Sides are numbered: the level
	// one at (c, r) is 2*(r*W+c), the upright one is one more.
	next := map[int]int{} // from the side where a line enters to the side where it leaves
	enters := map[int]bool{}
	var order []int
	for r := range g.H - 1 {
		for c := range g.W - 1 {
			q := [4]float64{values[r*g.W+c], values[r*g.W+c+1], values[(r+1)*g.W+c+1], values[(r+1)*g.W+c]}
			if !finite(q[0]) || !finite(q[1]) || !finite(q[2]) || !finite(q[3]) {
				continue
			}
			sides := [4]int{2 * (r*g.W + c), 2*(r*g.W+c+1) + 1, 2 * ((r+1)*g.W + c), 2*(r*g.W+c) + 1}
			// Walking round to the left, a line comes in where the values fall below the level and goes out where they rise.
			var in, out []int
			for i := range 4 {
				a, b := q[i] >= level, q[(i+1)%4] >= level
				if a && !b {
					in = append(in, sides[i])
				}
				if !a && b {
					out = append(out, sides[i])
				}
			}
			if len(in) == 2 && ((q[0]+q[1]+q[2]+q[3])/4 >= level) != (q[0] >= level) {
				out[0], out[1] = out[1], out[0]
			}
			for i := range in {
				next[in[i]] = out[i]
				enters[out[i]] = true
				order = append(order, in[i])
			}
		}
	}
	var lines [][]Point
	follow := func(from int) {
		line := []Point{g.onSide(values, from, level)}
		for at := from; ; {
			to, ok := next[at]
			if !ok {
				break
			}
			delete(next, at)
			line = append(line, g.onSide(values, to, level))
			at = to
		}
		lines = append(lines, line)
	}
	for _, from := range order {
		if _, left := next[from]; left && !enters[from] {
			follow(from)
		}
	}
	for _, from := range order { // what is left runs in rings
		if _, left := next[from]; left {
			follow(from)
		}
	}
	return lines
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// onSide is where the level is met on a side between two centres.
func (g Grid) onSide(values []float64, side int, level float64) Point {
	i := side / 2
	c, r := i%g.W, i/g.W
	a, v := g.At(c, r), values[i]
	var b Point
	var w float64
	if side%2 == 0 {
		b, w = g.At(c+1, r), values[i+1]
	} else {
		b, w = g.At(c, r+1), values[i+g.W]
	}
	share := 0.5
	if w != v {
		share = min(max((level-v)/(w-v), 0), 1)
	}
	return a.Add(b.Sub(a).Scale(share))
}
