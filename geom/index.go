package geom

import "math"

// Index finds the segments near a straight way without looking at all of them: squares over the plan, each with a list
// of what touches it. It does not change; use from several goroutines is safe.
type Index struct {
	low    Point
	side   float64 // of a square, metres
	w, h   int
	start  []int32 // where the list of a square begins in member
	member []int32
	count  int
}

// NewIndex sorts segments into squares, about two segments to a square.
func NewIndex(lines []Segment) *Index {
	x := &Index{count: len(lines), side: 1, w: 1, h: 1}
	if len(lines) == 0 {
		return x
	}
	low, high := Point{math.Inf(1), math.Inf(1)}, Point{math.Inf(-1), math.Inf(-1)}
	for _, s := range lines {
		for _, p := range []Point{s.A, s.B} {
			low = Point{min(low.X, p.X), min(low.Y, p.Y)}
			high = Point{max(high.X, p.X), max(high.Y, p.Y)}
		}
	}
	width, height := high.X-low.X, high.Y-low.Y
	x.low = low
	if area := width * height; area > 0 {
		x.side = math.Sqrt(area / (1 + float64(len(lines))/2))
	}
	x.side = max(x.side, max(width, height)/1000, 1e-3)
	x.w, x.h = int(width/x.side)+1, int(height/x.side)+1
	sizes := make([]int32, x.w*x.h+1)
	for _, s := range lines {
		x.squares(s, func(q int) { sizes[q+1]++ })
	}
	for q := range x.w * x.h {
		sizes[q+1] += sizes[q]
	}
	x.start = sizes
	x.member = make([]int32, sizes[x.w*x.h])
	next := append([]int32(nil), sizes...)
	for i, s := range lines {
		x.squares(s, func(q int) {
			x.member[next[q]] = int32(i)
			next[q]++
		})
	}
	return x
}

// Along calls visit once for each segment that s may touch, in no order; all that it touches are among them.
func (x *Index) Along(s Segment, visit func(i int)) {
	if x.count == 0 {
		return
	}
	seen := make([]uint64, (x.count+63)/64)
	x.squares(s, func(q int) {
		for _, i := range x.member[x.start[q]:x.start[q+1]] {
			if bit := uint64(1) << (i % 64); seen[i/64]&bit == 0 {
				seen[i/64] |= bit
				visit(int(i))
			}
		}
	})
}

// squares calls visit for each square that a segment touches, and perhaps for a neighbour: row by row.
func (x *Index) squares(s Segment, visit func(q int)) {
	a, b := s.A.Sub(x.low).Scale(1/x.side), s.B.Sub(x.low).Scale(1/x.side)
	if a.Y > b.Y {
		a, b = b, a
	}
	const slack = 1e-6 // far above rounding, far below a square
	for r := clampInt(a.Y-slack, x.h); r <= clampInt(b.Y+slack, x.h); r++ {
		from, to := a.X, b.X
		if b.Y > a.Y {
			// A segment that runs past the squares counts in the row at the rim: its whole rest does.
			if r > 0 {
				from = a.X + (b.X-a.X)*min(max((float64(r)-slack-a.Y)/(b.Y-a.Y), 0), 1)
			}
			if r < x.h-1 {
				to = a.X + (b.X-a.X)*min(max((float64(r+1)+slack-a.Y)/(b.Y-a.Y), 0), 1)
			}
		}
		if from > to {
			from, to = to, from
		}
		for c := clampInt(from-slack, x.w); c <= clampInt(to+slack, x.w); c++ {
			visit(r*x.w + c)
		}
	}
}

// clampInt is the whole part of v, kept within 0 to n-1.
func clampInt(v float64, n int) int {
	return int(min(max(math.Floor(v), 0), float64(n-1)))
}
