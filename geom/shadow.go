package geom

import (
	"math"
	"runtime"
	"sync"
)

// Grid is a field of square cells over a plan. A cell stands for its centre.
type Grid struct {
	Min  Point   // lower left corner of cell 0, 0
	Step float64 // side of a cell, metres
	W, H int
}

// NewGrid returns the grid of cells of that side that covers an upright rectangle.
func NewGrid(low, high Point, step float64) Grid {
	return Grid{low, step, max(1, int(math.Ceil((high.X-low.X)/step-1e-6))), max(1, int(math.Ceil((high.Y-low.Y)/step-1e-6)))}
}

// At returns the centre of a cell.
func (g Grid) At(col, row int) Point {
	return Point{g.Min.X + (float64(col)+0.5)*g.Step, g.Min.Y + (float64(row)+0.5)*g.Step}
}

// Cell returns the cell that holds p. ok is false outside the grid.
func (g Grid) Cell(p Point) (col, row int, ok bool) {
	x, y := math.Floor((p.X-g.Min.X)/g.Step), math.Floor((p.Y-g.Min.Y)/g.Step)
	return int(x), int(y), x >= 0 && y >= 0 && x < float64(g.W) && y < float64(g.H)
}

// col is where x lies in columns: whole numbers are centres.
func (g Grid) col(x float64) float64 { return (x-g.Min.X)/g.Step - 0.5 }

// stretches calls visit for the cells of a row whose centres lie in p, stretch by stretch, from column from up to but
// without to. Cells near a side are decided by Holds, so that rooms that meet share no cell and lose none.
func (g Grid) stretches(p Polygon, row int, visit func(from, to int)) {
	y := g.At(0, row).Y
	p.columns(p.at(y), g, func(col int) bool { return p.Holds(g.At(col, row)) }, func(x float64) float64 { return x }, visit)
}

// columns turns the stretches xs of a row into columns, the cells at their ends decided by holds.
func (p Polygon) columns(xs []float64, g Grid, holds func(col int) bool, back func(x float64) float64, visit func(from, to int)) {
	for i := 0; i+1 < len(xs); i += 2 {
		from := firstIn(g.col(back(xs[i])), g.W, holds)
		to := lastIn(g.col(back(xs[i+1])), g.W, holds)
		if from < to {
			visit(from, to)
		}
	}
}

// slack is how near, in cells, a bound may come to a centre before the exact test decides: far above rounding.
const slack = 1e-6

// firstIn returns the first column from a bound on, 0 to w; in decides for a centre that lies on the bound.
func firstIn(x float64, w int, in func(col int) bool) int {
	if !(x > -slack) {
		return 0
	}
	if x > float64(w)-1+slack {
		return w
	}
	if near := math.Round(x); math.Abs(x-near) < slack {
		if c := int(near); c >= 0 && c < w && !in(c) {
			return c + 1
		}
		return int(near)
	}
	return int(math.Ceil(x))
}

// lastIn returns one more than the last column up to a bound, 0 to w.
func lastIn(x float64, w int, in func(col int) bool) int {
	if !(x < float64(w)-1+slack) {
		return w
	}
	if x < -slack {
		return 0
	}
	if near := math.Round(x); math.Abs(x-near) < slack {
		if c := int(near); c >= 0 && c < w && in(c) {
			return c + 1
		}
		return int(near)
	}
	return int(math.Floor(x)) + 1
}

// Fill calls visit for every stretch of cells whose centres lie in p: row, first column, and the column after the last.
func (g Grid) Fill(p Polygon, visit func(row, from, to int)) {
	low, high := p.Bounds()
	first := max(0, int(math.Floor((low.Y-g.Min.Y)/g.Step-0.5)))
	last := min(g.H-1, int(math.Ceil((high.Y-g.Min.Y)/g.Step)))
	for row := first; row <= last; row++ {
		g.stretches(p, row, func(from, to int) { visit(row, from, to) })
	}
}

// Source is where something goes out from.
type Source struct {
	At    Point3
	Reach float64 // beyond that many metres on the plan nobody asks; 0: everywhere
}

// Shadows finds what lies between each source and each cell of a grid at height z: the loss of Scene.Loss, without
// walking along a single ray. Each screen throws a shadow on the plane: straight on a row, so that it is two steps up and
// down in the row's losses, and one pass along the row adds them up. The work grows with sources x (screens x rows + cells).
//
// It calls each with the losses of a row in dB, from column first on: for every row the sources come in their order, by
// one goroutine; different rows may come at the same time where there are several processors. Rows out of a source's reach
// are left out. loss is only valid during the call.
func (s *Scene) Shadows(sources []Source, g Grid, z float64, each func(source, row, first int, loss []float64)) {
	bands := 4 * runtime.GOMAXPROCS(0)
	size := max(16, (g.H+bands-1)/bands)
	if runtime.GOMAXPROCS(0) == 1 {
		size = g.H
	}
	var wait sync.WaitGroup
	next := make(chan int, g.H/size+1)
	for from := 0; from < g.H; from += size {
		next <- from
	}
	close(next)
	work := func() {
		t := thrower{scene: s, grid: g, z: z, steps: make([]float64, g.W+1), loss: make([]float64, g.W), marks: make([]int32, 2*(g.W+1))}
		for from := range next {
			for i := range sources {
				t.band(i, sources[i], from, min(from+size, g.H), each)
			}
		}
	}
	for range runtime.GOMAXPROCS(0) - 1 {
		wait.Go(work)
	}
	work()
	wait.Wait()
}

// thrower throws the shadows of one source after the other on a band of rows.
type thrower struct {
	scene *Scene
	grid  Grid
	z     float64
	at    Point3
	steps []float64 // up and down along the row
	loss  []float64
	marks []int32 // outlines and holes of a slab along the row
	left  int     // first column in the source's reach
	right int     // one more than the last
	halfs []half
	slow  []int // screens so near the source, or so nearly level with it, that each cell is asked by itself
}

// half is the shadow of a screen above the source's own row, or below it. Coordinates count from the source; heights
// are positive away from it. y0 <= y1.
type half struct {
	x0, y0, x1, y1 float64
	m0, m1         float64 // x over y of the two ends
	slope          float64 // change of x with y along the screen
	s0, s1         float64 // the shadow begins at s0 times the screen and ends at s1 times
	from, to       float64 // distance of the first and the last row
	loss           float64
	screen         int
	up             bool
}

func (t *thrower) band(source int, from Source, first, end int, each func(source, row, first int, loss []float64)) {
	g := t.grid
	t.at = from.At
	left, right := 0, g.W
	if from.Reach > 0 {
		left = min(g.W, max(0, int(math.Floor(g.col(from.At.X-from.Reach)))))
		right = min(g.W, max(left, int(math.Ceil(g.col(from.At.X+from.Reach)))+1))
		first = max(first, int(math.Floor((from.At.Y-from.Reach-g.Min.Y)/g.Step)))
		end = min(end, int(math.Ceil((from.At.Y+from.Reach-g.Min.Y)/g.Step))+1)
	}
	if first >= end || left >= right {
		return
	}
	t.left, t.right = left, right
	low, high := g.At(0, first).Y-from.At.Y, g.At(0, end-1).Y-from.At.Y
	reach := from.Reach
	if reach > 0 { // the cells at its rim reach a little farther
		reach += 2 * g.Step
	}
	t.prepare(low, high, reach)
	for row := first; row < end; row++ {
		clear(t.steps[left : right+1])
		t.row(row)
		for i := range t.scene.Slabs {
			t.slab(&t.scene.Slabs[i], row)
		}
		var sum float64
		loss := t.loss[left:right]
		for c, step := range t.steps[left:right] {
			sum += step
			loss[c] = sum
		}
		each(source, row, left, loss)
	}
}

// prepare lists the shadows that fall on rows from low to high, counted from the source.
func (t *thrower) prepare(low, high, reach float64) {
	t.halfs, t.slow = t.halfs[:0], t.slow[:0]
	at := t.at.Plan()
	for i := range t.scene.Screens {
		screen := &t.scene.Screens[i]
		line := Segment{screen.A, screen.B}
		a, b := screen.A.Sub(at), screen.B.Sub(at)
		if reach > 0 && (min(a.X, b.X) > reach || max(a.X, b.X) < -reach || min(a.Y, b.Y) > reach || max(a.Y, b.Y) < -reach) {
			continue
		}
		if line.Distance(at) < 1e-6 {
			t.slow = append(t.slow, i)
			continue
		}
		s0, s1, ok := t.scale(screen)
		if !ok {
			continue
		}
		if math.Abs(t.z-t.at.Z) < 1e-3 && t.z != t.at.Z && (s0 > 1 || !math.IsInf(s1, 1)) {
			t.slow = append(t.slow, i)
			continue
		}
		for _, up := range []bool{true, false} {
			h := half{x0: a.X, y0: a.Y, x1: b.X, y1: b.Y, s0: s0, s1: s1, loss: min(screen.Loss, Silence), screen: i, up: up}
			near, far := low, high
			if !up {
				h.y0, h.y1 = -h.y0, -h.y1
				near, far = -high, -low
			}
			if h.y0 > h.y1 {
				h.x0, h.y0, h.x1, h.y1 = h.x1, h.y1, h.x0, h.y0
			}
			h.from, h.to = s0*max(h.y0, 0), s1*h.y1
			if h.y1 <= 0 || h.from > far+edge || h.to < near-edge {
				continue
			}
			h.m0, h.m1 = h.x0/h.y0, h.x1/h.y1
			if h.y1 > h.y0 {
				h.slope = (h.x1 - h.x0) / (h.y1 - h.y0)
			}
			t.halfs = append(t.halfs, h)
		}
	}
}

// edge is how near a row may come to the beginning or the end of a shadow before each of its cells is asked, metres.
const edge = 1e-8

// scale returns between which multiples of the screen its shadow lies in the plane: the ray's height at the screen must
// be in the screen's. ok is false for none.
func (t *thrower) scale(s *Screen) (s0, s1 float64, ok bool) {
	s0, s1 = 1, math.Inf(1)
	rise := t.z - t.at.Z
	if rise == 0 {
		return s0, s1, t.at.Z >= s.Z0 && t.at.Z < s.Z1
	}
	// At s times the screen's distance the ray passes the screen at height at.Z + rise/s.
	above := func(z float64) { // the height must not be below z
		switch d := z - t.at.Z; {
		case rise > 0 && d > 0:
			s1 = min(s1, rise/d)
		case rise < 0 && d < 0:
			s0 = max(s0, rise/d)
		case rise < 0 && d >= 0:
			s1 = 0
		}
	}
	below := func(z float64) {
		switch d := z - t.at.Z; {
		case rise > 0 && d > 0:
			s0 = max(s0, rise/d)
		case rise < 0 && d < 0:
			s1 = min(s1, rise/d)
		case rise > 0 && d <= 0:
			s1 = 0
		}
	}
	above(s.Z0)
	below(s.Z1)
	return s0, s1, s0 <= s1*(1+1e-9)
}

// row adds the steps of one row.
func (t *thrower) row(row int) {
	y := t.grid.At(0, row).Y - t.at.Y
	if math.Abs(y) < edge {
		t.levelRow(row)
		return
	}
	k := math.Abs(y)
	for i := range t.halfs {
		h := &t.halfs[i]
		if h.up != (y > 0) || k < h.from-edge || k > h.to+edge {
			continue
		}
		if k < h.from+edge && h.from > 0 {
			t.askAbout(h, row, h.s0, h.x0, h.x1)
			continue
		}
		if k > h.to-edge {
			t.askAbout(h, row, h.s1, h.x1, h.x0)
			continue
		}
		var x0, x1 float64
		// From the end that is nearer to the source's row; a ray along that row never comes back.
		switch low := k / h.s1; {
		case h.y0 > low:
			x0 = k * h.m0
		case low > 0:
			x0 = h.s1 * (h.x0 + (low-h.y0)*h.slope)
		default:
			x0 = math.Copysign(math.Inf(1), h.x0-h.y0*h.slope)
		}
		if high := k / h.s0; h.y1 < high {
			x1 = k * h.m1
		} else {
			x1 = h.s0 * (h.x0 + (high-h.y0)*h.slope)
		}
		if x0 > x1 {
			x0, x1 = x1, x0
		}
		t.step(h, row, t.grid.col(x0+t.at.X), t.grid.col(x1+t.at.X))
	}
	for _, i := range t.slow {
		t.ask(i, row, t.left, t.right)
	}
}

// step raises the losses of a row between two bounds, in columns. It is firstIn and lastIn in place: most of the time of
// a field is spent here.
func (t *thrower) step(h *half, row int, x0, x1 float64) {
	left, right := float64(t.left), float64(t.right)
	if x1 < left-slack || x0 > right-1+slack {
		return
	}
	from, to := t.left, t.right
	if x0 > left-slack {
		c := math.Ceil(x0 - slack)
		from = int(c)
		if c-x0 < slack && !t.asks(h.screen, row, from) {
			from++
		}
	}
	if x1 < right-1+slack {
		c := math.Floor(x1 + slack)
		to = int(c) + 1
		if x1-c < slack && !t.asks(h.screen, row, to-1) {
			to--
		}
	}
	if from < to {
		t.steps[from] += h.loss
		t.steps[to] -= h.loss
	}
}

// askAbout asks the cells of a row that touches a shadow at its beginning or its end only: at s times an end of the
// screen, or all along a screen that is level with the row.
func (t *thrower) askAbout(h *half, row int, s, x, other float64) {
	run := 4 * edge * math.Abs(h.slope)
	if h.y1-h.y0 < 4*edge {
		run = math.Abs(other - x)
	}
	from, to := t.grid.col(t.at.X+s*(x-run)), t.grid.col(t.at.X+s*(x+run))
	left, right := float64(t.left), float64(t.right)
	t.ask(h.screen, row, int(min(max(from-1, left), right)), int(min(max(to+2, left), right)))
}

// levelRow is the row of the source itself.
func (t *thrower) levelRow(row int) {
	for i := range t.scene.Screens {
		s := &t.scene.Screens[i]
		if min(s.A.Y, s.B.Y) < t.at.Y+2*edge && max(s.A.Y, s.B.Y) > t.at.Y-2*edge {
			t.ask(i, row, t.left, t.right)
		}
	}
}

// ask asks every cell from one column up to another.
func (t *thrower) ask(screen, row, from, to int) {
	loss := min(t.scene.Screens[screen].Loss, Silence)
	for c := from; c < to; c++ {
		if t.asks(screen, row, c) {
			t.steps[c] += loss
			t.steps[c+1] -= loss
		}
	}
}

func (t *thrower) asks(screen, row, col int) bool {
	p := t.grid.At(col, row)
	_, ok := t.scene.Screens[screen].passed(t.at, Point3{p.X, p.Y, t.z})
	return ok
}

// slab raises the losses of a row where the way to the source goes through a slab: its outlines and holes, seen from
// the source, are as large again as the plane is farther than the slab.
func (t *thrower) slab(s *Slab, row int) {
	if (t.at.Z < s.Z) == (t.z < s.Z) {
		return
	}
	share := (s.Z - t.at.Z) / (t.z - t.at.Z)
	if share == 0 { // the source is in the slab's plane: all ways go through it in one place
		if s.covers(t.at.Plan()) {
			t.steps[t.left] += min(s.Loss, Silence)
		}
		return
	}
	through := func(col int) Point {
		p := t.grid.At(col, row)
		return Point{t.at.X + share*(p.X-t.at.X), t.at.Y + share*(p.Y-t.at.Y)}
	}
	clear(t.marks)
	w := t.grid.W + 1
	mark := func(p Polygon, marks []int32) {
		y := through(0).Y
		p.columns(p.at(y), t.grid, func(col int) bool { return p.Holds(through(col)) },
			func(x float64) float64 { return t.at.X + (x-t.at.X)/share }, func(from, to int) {
				marks[from]++
				marks[to]--
			})
	}
	for _, p := range s.Outlines {
		mark(p, t.marks[:w])
	}
	for _, p := range s.Holes {
		mark(p, t.marks[w:])
	}
	var in, out int32
	loss := min(s.Loss, Silence)
	for c := range t.right {
		in += t.marks[c]
		out += t.marks[w+c]
		if in > 0 && out == 0 && c >= t.left {
			t.steps[c] += loss
			t.steps[c+1] -= loss
		}
	}
}
