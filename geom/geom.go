// Package geom is plane geometry for building plans: points, segments, polygons, crossings and distances.
//
// Coordinates are metres in one right-handed frame per building: x to the right of the drawing, y up the drawing.
// Values do not change after construction. A half-drawn plan must be storable, so building and checking are two steps.
//
// Plans are typed by hand in centimetres, so places closer than Near are one place: a corner that lies a rounding error
// beside a wall lies on it.
package geom

import (
	"math"
	"sort"
)

// Near is the distance in metres under which two places are taken for one: a tenth of a millimetre.
const Near = 1e-4

// Point is a place on a storey, in metres.
type Point struct{ X, Y float64 }

// Sub returns p - q.
func (p Point) Sub(q Point) Point { return Point{p.X - q.X, p.Y - q.Y} }

// Add returns p + q.
func (p Point) Add(q Point) Point { return Point{p.X + q.X, p.Y + q.Y} }

// Scale returns p times f.
func (p Point) Scale(f float64) Point { return Point{p.X * f, p.Y * f} }

// Distance returns the distance between p and q in metres.
func (p Point) Distance(q Point) float64 { return math.Hypot(p.X-q.X, p.Y-q.Y) }

// Dot returns the scalar product of p and q as vectors.
func (p Point) Dot(q Point) float64 { return p.X*q.X + p.Y*q.Y }

// Cross returns the z part of the vector product of p and q: positive when q lies to the left of p.
func (p Point) Cross(q Point) float64 { return p.X*q.Y - p.Y*q.X }

// Segment is a straight line between two points.
type Segment struct{ A, B Point }

// Length returns the length in metres.
func (s Segment) Length() float64 { return s.A.Distance(s.B) }

// Middle returns the point halfway.
func (s Segment) Middle() Point { return s.A.Add(s.B).Scale(0.5) }

// Nearest returns the point of s that is nearest to p.
func (s Segment) Nearest(p Point) Point {
	d := s.B.Sub(s.A)
	l2 := d.Dot(d)
	if l2 == 0 {
		return s.A
	}
	t := p.Sub(s.A).Dot(d) / l2
	return s.A.Add(d.Scale(min(max(t, 0), 1)))
}

// Distance returns the distance in metres from p to the nearest point of s.
func (s Segment) Distance(p Point) float64 { return p.Distance(s.Nearest(p)) }

// Crossing returns the point in which s and t meet. ok is false when they do not come within Near of each other.
// Segments that share a stretch meet in the middle of that stretch.
func (s Segment) Crossing(t Segment) (at Point, ok bool) {
	d, e := s.B.Sub(s.A), t.B.Sub(t.A)
	if denominator := d.Cross(e); math.Abs(denominator) > 1e-9*d.Distance(Point{})*e.Distance(Point{}) {
		u := t.A.Sub(s.A).Cross(e) / denominator
		v := t.A.Sub(s.A).Cross(d) / denominator
		if u >= 0 && u <= 1 && v >= 0 && v <= 1 {
			return s.A.Add(d.Scale(u)), true
		}
	}
	// Parallel, or a near miss at an end: the ends decide.
	var first, last Point
	found := false
	for _, touch := range []struct {
		p  Point
		of Segment
	}{{s.A, t}, {s.B, t}, {t.A, s}, {t.B, s}} {
		if touch.of.Distance(touch.p) > Near {
			continue
		}
		if !found {
			first, last, found = touch.p, touch.p, true
		} else if touch.p.Distance(first) > last.Distance(first) {
			last = touch.p
		}
	}
	return first.Add(last).Scale(0.5), found
}

// Polygon is a closed outline without repeated last point. Orientation may be either way.
type Polygon []Point

// Side returns side i, from corner i to the next.
func (p Polygon) Side(i int) Segment { return Segment{p[i], p[(i+1)%len(p)]} }

// SignedArea returns the area in square metres, negative when the corners run clockwise.
func (p Polygon) SignedArea() float64 {
	if len(p) < 3 {
		return 0
	}
	var twice float64
	for i := range p { // about the first corner: small numbers lose less
		s := p.Side(i)
		twice += s.A.Sub(p[0]).Cross(s.B.Sub(p[0]))
	}
	return twice / 2
}

// Area returns the area in square metres.
func (p Polygon) Area() float64 { return math.Abs(p.SignedArea()) }

// Centroid returns the centre of area; of an outline without area, the mean of its corners.
// For a room with a re-entrant corner it may lie outside: see Inside.
func (p Polygon) Centroid() Point {
	if len(p) == 0 {
		return Point{}
	}
	var sum, mean Point
	for i := range p {
		s := p.Side(i)
		a, b := s.A.Sub(p[0]), s.B.Sub(p[0])
		sum = sum.Add(a.Add(b).Scale(a.Cross(b)))
		mean = mean.Add(a)
	}
	if area := p.SignedArea(); math.Abs(area) > Near*Near {
		return p[0].Add(sum.Scale(1 / (6 * area)))
	}
	return p[0].Add(mean.Scale(1 / float64(len(p))))
}

// Contains reports whether q lies inside p or within Near of its outline.
func (p Polygon) Contains(q Point) bool {
	inside := false
	for i := range p {
		s := p.Side(i)
		if s.Distance(q) <= Near {
			return true
		}
		if (s.A.Y > q.Y) != (s.B.Y > q.Y) && q.X < s.A.X+(q.Y-s.A.Y)/(s.B.Y-s.A.Y)*(s.B.X-s.A.X) {
			inside = !inside
		}
	}
	return inside && len(p) > 2
}

// Bounds returns the lower left and the upper right corner of the upright rectangle around p.
func (p Polygon) Bounds() (low, high Point) {
	for i, c := range p {
		if i == 0 {
			low, high = c, c
		}
		low = Point{min(low.X, c.X), min(low.Y, c.Y)}
		high = Point{max(high.X, c.X), max(high.Y, c.Y)}
	}
	return low, high
}

// Clash returns the first two sides that cross or touch where they should not; sides are numbered from 0, and a side
// that runs back along its neighbour clashes with it. ok is false for a simple outline.
// It compares every pair of sides: fit for rooms, not for coastlines.
func (p Polygon) Clash() (i, j int, ok bool) {
	n := len(p)
	for i := range n {
		if p.Side(i).Length() <= Near {
			return i, i, true
		}
	}
	for i := range n {
		for j := i + 1; j < n; j++ {
			a, b := p.Side(i), p.Side(j)
			switch {
			case j == i+1: // they share b.A
				if a.Distance(b.B) <= Near || b.Distance(a.A) <= Near {
					return i, j, true
				}
			case i == 0 && j == n-1: // they share a.A
				if a.Distance(b.A) <= Near || b.Distance(a.B) <= Near {
					return i, j, true
				}
			default:
				if _, meet := a.Crossing(b); meet {
					return i, j, true
				}
			}
		}
	}
	return 0, 0, false
}

// Simple reports whether p has at least three corners and no clash of sides.
func (p Polygon) Simple() bool {
	_, _, clash := p.Clash()
	return len(p) >= 3 && !clash
}

// Inside returns a place within p: the centroid, or, when that lies outside, the middle of the widest stretch of p at
// some height. Of an outline without area, its centroid.
func (p Polygon) Inside() Point {
	c := p.Centroid()
	if p.Holds(c) || p.Area() < Near*Near {
		return c
	}
	low, high := p.Bounds()
	best, width := c, 0.0
	for _, share := range []float64{0.5, 0.25, 0.75, 0.1, 0.9} {
		y := low.Y + share*(high.Y-low.Y)
		xs := p.at(y)
		for i := 0; i+1 < len(xs); i += 2 {
			if xs[i+1]-xs[i] > width {
				best, width = Point{(xs[i] + xs[i+1]) / 2, y}, xs[i+1]-xs[i]
			}
		}
	}
	return best
}

// at returns where p's outline crosses the height y, from left to right: p lies between each pair.
func (p Polygon) at(y float64) []float64 {
	var xs []float64
	for i := range p {
		s := p.Side(i)
		if (s.A.Y > y) == (s.B.Y > y) {
			continue
		}
		x := s.A.X + (y-s.A.Y)/(s.B.Y-s.A.Y)*(s.B.X-s.A.X)
		k := len(xs)
		xs = append(xs, x)
		for ; k > 0 && xs[k-1] > x; k-- {
			xs[k] = xs[k-1]
		}
		xs[k] = x
	}
	return xs
}

// Overlap returns the area that p and q have in common, in square metres, whichever way their corners run.
func (p Polygon) Overlap(q Polygon) float64 {
	// Between two heights at which no corner lies and no sides cross, both are made of strips with straight sides.
	var cuts []float64
	add := func(y float64) { cuts = append(cuts, y) }
	for i := range p {
		add(p[i].Y)
		for j := range q {
			if at, ok := p.Side(i).Crossing(q.Side(j)); ok {
				add(at.Y)
			}
		}
	}
	for _, c := range q {
		add(c.Y)
	}
	sort.Float64s(cuts)
	var area float64
	for i := 0; i+1 < len(cuts); i++ {
		if h := cuts[i+1] - cuts[i]; h > 0 {
			area += h * common(p.at(cuts[i]+h/2), q.at(cuts[i]+h/2))
		}
	}
	return area
}

// common is the length that two lists of stretches share.
func common(a, b []float64) float64 {
	var sum float64
	for i := 0; i+1 < len(a); i += 2 {
		for j := 0; j+1 < len(b); j += 2 {
			sum += max(0, min(a[i+1], b[j+1])-max(a[i], b[j]))
		}
	}
	return sum
}
