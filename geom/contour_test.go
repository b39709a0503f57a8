package geom_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"proofbell/geom"
)

func TestContourOfACone(t *testing.T) {
	g := geom.Grid{Min: geom.Point{X: -5, Y: -5}, Step: 0.1, W: 100, H: 100}
	values := make([]float64, g.W*g.H)
	for i := range values {
		values[i] = 10 - g.At(i%g.W, i/g.W).Distance(geom.Point{})
	}
	lines := geom.Contours(g, values, 7)
	if len(lines) != 1 {
		t.Fatalf("%d lines", len(lines))
	}
	ring := geom.Polygon(lines[0][:len(lines[0])-1])
	if first, last := lines[0][0], lines[0][len(lines[0])-1]; first != last {
		t.Errorf("the ring ends at %v, not at %v", last, first)
	}
	for _, p := range ring {
		if r := p.Distance(geom.Point{}); math.Abs(r-3) > 0.002 {
			t.Errorf("%v is %v from the middle, want 3", p, r)
		}
	}
	// The greater values, inside, lie on the left: the ring runs that way round. A circle of 3 m has 28.27 m2.
	if a := ring.SignedArea(); math.Abs(a-9*math.Pi) > 0.02 {
		t.Errorf("area %v", a)
	}
}

// Between two neighbours on different sides of the level exactly one line passes, and lines end only at the rim or where
// values are missing.
func TestContoursPartHighFromLow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := geom.Grid{Step: 1, W: rapid.IntRange(1, 9).Draw(t, "w"), H: rapid.IntRange(1, 9).Draw(t, "h")}
		values := make([]float64, g.W*g.H)
		holes := rapid.Bool().Draw(t, "holes")
		for i := range values {
			values[i] = float64(rapid.IntRange(0, 6).Draw(t, "value"))
			if holes && rapid.IntRange(0, 9).Draw(t, "hole") == 0 {
				values[i] = math.NaN()
			}
		}
		const level = 2.5
		passed := map[[2]int]int{}
		for _, line := range geom.Contours(g, values, level) {
			closed := line[0] == line[len(line)-1]
			for i, p := range line {
				// Where the line meets the side between two centres.
				x, y := p.X-0.5, p.Y-0.5
				a := [2]int{int(math.Floor(x)), int(math.Floor(y))}
				b := a
				if x != math.Floor(x) {
					b[0]++
				} else {
					b[1]++
				}
				ia, ib := a[1]*g.W+a[0], b[1]*g.W+b[0]
				if (values[ia] >= level) == (values[ib] >= level) {
					t.Fatalf("a line passes between %v and %v", values[ia], values[ib])
				}
				if closed && i == len(line)-1 {
					continue
				}
				passed[[2]int{ia, ib}]++
				if !closed && (i == 0 || i == len(line)-1) && inner(g, values, a, b) {
					t.Fatalf("a line ends within the field at %v", p)
				}
			}
		}
		whole := func(c, r int) bool {
			if c < 0 || r < 0 || c+1 >= g.W || r+1 >= g.H {
				return false
			}
			return !math.IsNaN(values[r*g.W+c] + values[r*g.W+c+1] + values[(r+1)*g.W+c] + values[(r+1)*g.W+c+1])
		}
		for i := range values {
			c, r := i%g.W, i/g.W
			if c+1 < g.W && (values[i] >= level) != (values[i+1] >= level) && (whole(c, r) || whole(c, r-1)) && passed[[2]int{i, i + 1}] != 1 {
				t.Fatalf("%d lines between cells %d and %d", passed[[2]int{i, i + 1}], i, i+1)
			}
			if r+1 < g.H && (values[i] >= level) != (values[i+g.W] >= level) && (whole(c, r) || whole(c-1, r)) && passed[[2]int{i, i + g.W}] != 1 {
				t.Fatalf("%d lines between cells %d and %d", passed[[2]int{i, i + g.W}], i, i+g.W)
			}
		}
	})
}

// inner reports whether both squares beside the side from a to b are whole.
func inner(g geom.Grid, values []float64, a, b [2]int) bool {
	whole := func(c, r int) bool {
		if c < 0 || r < 0 || c+1 >= g.W || r+1 >= g.H {
			return false
		}
		return !math.IsNaN(values[r*g.W+c] + values[r*g.W+c+1] + values[(r+1)*g.W+c] + values[(r+1)*g.W+c+1])
	}
	if a[0] != b[0] {
		return whole(a[0], a[1]) && whole(a[0], a[1]-1)
	}
	return whole(a[0], a[1]) && whole(a[0]-1, a[1])
}
