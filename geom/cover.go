package geom

import "math"

// exactly is how exactly Farthest finds the greatest distance, metres.
const exactly = 0.01

// Farthest returns the place of p that is farthest from the nearest of the given places, in a straight line, and how far:
// found to 1 cm. Without places the distance is +Inf.
func (p Polygon) Farthest(from []Point) (at Point, distance float64) {
	return p.worst(func(q Point) float64 {
		nearest := math.Inf(1)
		for _, f := range from {
			nearest = min(nearest, q.Distance(f))
		}
		return nearest
	})
}

// FarthestOnFoot is Farthest along ways that stay within p. Each start is a place with what was walked before it.
func (p Polygon) FarthestOnFoot(from []Point, walked []float64) (at Point, distance float64) {
	if p.convex() { // every way is straight
		return p.worst(func(q Point) float64 {
			nearest := math.Inf(1)
			for i, f := range from {
				nearest = min(nearest, walked[i]+q.Distance(p.pulled(f)))
			}
			return nearest
		})
	}
	// Across a corner a way on foot can be far longer than its straight line: places on a lattice are asked.
	const lattice = 0.25 // metres; the place found is short of the worst one by at most 0.18 m
	low, high := p.Bounds()
	distance = math.Inf(-1)
	try := func(q Point) {
		nearest := math.Inf(1)
		for i, f := range from {
			nearest = min(nearest, walked[i]+p.Way(f, q))
		}
		if nearest > distance {
			at, distance = q, nearest
		}
	}
	for _, c := range p {
		try(c)
	}
	for y := low.Y; y < high.Y; y += lattice {
		for x := low.X; x < high.X; x += lattice {
			if q := (Point{x, y}); p.Holds(q) {
				try(q)
			}
		}
	}
	return at, distance
}

func (p Polygon) convex() bool {
	turn := p.SignedArea()
	for i := range p {
		if o := Orient(p[i], p[(i+1)%len(p)], p[(i+2)%len(p)]); o != 0 && (o < 0) != (turn < 0) {
			return false
		}
	}
	return true
}

// worst finds the greatest value over p of a function that changes by no more than the way between two places: squares
// that can hold nothing greater are dropped, the others quartered.
func (p Polygon) worst(f func(Point) float64) (at Point, value float64) {
	value = math.Inf(-1)
	if len(p) == 0 {
		return at, value
	}
	low, high := p.Bounds()
	type square struct {
		middle Point
		half   float64
		most   float64
	}
	var open []square
	add := func(middle Point, half float64) {
		near := p.pulled(middle)
		if near.Distance(middle) > half*math.Sqrt2+Near {
			return
		}
		v := f(near)
		if v > value {
			at, value = near, v
		}
		// From near, which is in the square or at its rim, to any place of the square.
		open = append(open, square{middle, half, v + near.Distance(middle) + half*math.Sqrt2})
	}
	add(low.Add(high).Scale(0.5), max(high.X-low.X, high.Y-low.Y)/2)
	for len(open) > 0 && !math.IsInf(value, 1) {
		s := open[len(open)-1]
		open = open[:len(open)-1]
		if s.most <= value+exactly {
			continue
		}
		h := s.half / 2
		for _, d := range []Point{{-h, -h}, {h, -h}, {-h, h}, {h, h}} {
			add(s.middle.Add(d), h)
		}
	}
	return at, value
}
