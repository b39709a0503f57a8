package geom

import (
	"cmp"
	"math"

	"proofbell/internal/sorts"
)

// Point3 is a place in a building: X and Y on the plan, Z up from the ground floor, in metres.
type Point3 struct{ X, Y, Z float64 }

// Plan returns the place on the plan.
func (p Point3) Plan() Point { return Point{p.X, p.Y} }

// Distance returns the distance between p and q in metres.
func (p Point3) Distance(q Point3) float64 {
	return math.Sqrt((p.X-q.X)*(p.X-q.X) + (p.Y-q.Y)*(p.Y-q.Y) + (p.Z-q.Z)*(p.Z-q.Z))
}

// Screen is an upright rectangle that takes something off what passes: above the plan's line from A to B, from height
// Z0 up to, but without, Z1. Screens that meet on an edge are passed once there.
type Screen struct {
	A, B   Point
	Z0, Z1 float64
	Loss   float64 // dB, 0 to Silence
}

// Slab is a level area at height Z: what lies in one of its outlines and in none of its holes. Where outlines overlap
// it is passed once.
type Slab struct {
	Outlines, Holes []Polygon
	Z               float64
	Loss            float64 // dB, 0 to Silence
}

// Silence is the loss in dB from which on nothing is left. Greater losses are taken for it.
const Silence = 1000

// Scene is what stands between a source and a place. It does not change; use from several goroutines is safe.
type Scene struct {
	Screens []Screen
	Slabs   []Slab
	index   *Index // of the screens' lines; nil for few
}

// indexFrom is the number of screens from which on looking them up is faster than looking at all.
const indexFrom = 48

// NewScene prepares a scene for rays and shadows.
func NewScene(screens []Screen, slabs []Slab) *Scene {
	s := &Scene{Screens: screens, Slabs: slabs}
	if len(screens) >= indexFrom {
		lines := make([]Segment, len(screens))
		for i, one := range screens {
			lines[i] = Segment{one.A, one.B}
		}
		s.index = NewIndex(lines)
	}
	return s
}

// Hit is one screen or slab on the way of a ray.
type Hit struct {
	Screen, Slab int     // index in the scene; -1 for the other of the two
	T            float64 // share of the way, 0 to 1
}

// Along returns what the straight way from one place to another passes through, in order.
//
// A ray that goes exactly through an edge, or starts on a screen, is decided as if all screens stood an immeasurable
// bit to the left and, less, up the plan: so two screens that meet end to end count once, a ray along a screen passes
// it by, and the way back passes the same.
func (s *Scene) Along(from, to Point3) []Hit {
	var hits []Hit
	a, b := from.Plan(), to.Plan()
	one := func(i int) {
		if t, ok := s.Screens[i].passed(from, to); ok {
			hits = append(hits, Hit{i, -1, t})
		}
	}
	if s.index != nil {
		s.index.Along(Segment{a, b}, one)
	} else {
		for i := range s.Screens {
			one(i)
		}
	}
	for i := range s.Slabs {
		if t, ok := s.Slabs[i].passed(from, to); ok {
			hits = append(hits, Hit{-1, i, t})
		}
	}
	sorts.By(hits, func(a, b Hit) int {
		return cmp.Or(cmp.Compare(a.T, b.T), cmp.Compare(a.Screen, b.Screen), cmp.Compare(a.Slab, b.Slab))
	})
	return hits
}

// Loss returns the sum of the losses on the straight way in dB.
func (s *Scene) Loss(from, to Point3) float64 {
	var sum float64
	for _, h := range s.Along(from, to) {
		if h.Screen >= 0 {
			sum += min(s.Screens[h.Screen].Loss, Silence)
		} else {
			sum += min(s.Slabs[h.Slab].Loss, Silence)
		}
	}
	return sum
}

// passed reports whether the way from p to q goes through the screen, and at which share of it.
func (s *Screen) passed(p, q Point3) (t float64, ok bool) {
	a, b := p.Plan(), q.Plan()
	if leftOf(a, b, s.A) == leftOf(a, b, s.B) {
		return 0, false
	}
	op, oq := Orient(s.A, s.B, a), Orient(s.A, s.B, b)
	if s.left(op) == s.left(oq) {
		return 0, false
	}
	t = op / (op - oq)
	z := p.Z + t*(q.Z-p.Z)
	return t, z >= s.Z0 && z < s.Z1
}

// leftOf reports whether c lies left of the line through p and q, taken upward (rightward when it is level), or on it.
func leftOf(p, q, c Point) bool {
	if p.Y > q.Y || p.Y == q.Y && p.X > q.X {
		p, q = q, p
	}
	return Orient(p, q, c) >= 0
}

// left is the side of a place with that Orient to the screen's line, the line moved an immeasurable bit as Along says.
func (s *Screen) left(o float64) bool {
	if o != 0 {
		return o > 0
	}
	if s.A.Y != s.B.Y {
		return s.B.Y < s.A.Y
	}
	return s.B.X < s.A.X
}

// Passed reports whether the straight way between two places goes through the slab.
func (s *Slab) Passed(p, q Point3) bool {
	_, ok := s.passed(p, q)
	return ok
}

// passed reports whether the way from p to q goes through the slab, and at which share of it.
func (s *Slab) passed(p, q Point3) (t float64, ok bool) {
	if (p.Z < s.Z) == (q.Z < s.Z) {
		return 0, false
	}
	t = (s.Z - p.Z) / (q.Z - p.Z)
	return t, s.covers(Point{p.X + t*(q.X-p.X), p.Y + t*(q.Y-p.Y)})
}

func (s *Slab) covers(at Point) bool {
	in := false
	for _, p := range s.Outlines {
		in = in || p.Holds(at)
	}
	for _, p := range s.Holes {
		in = in && !p.Holds(at)
	}
	return in
}

// Holds reports whether q lies inside p. Unlike Contains it gives every place on the common side of two outlines to
// exactly one of them.
func (p Polygon) Holds(q Point) bool {
	inside := false
	for i := range p {
		s := p.Side(i)
		if (s.A.Y > q.Y) == (s.B.Y > q.Y) {
			continue
		}
		low, high := s.A, s.B
		if low.Y > high.Y {
			low, high = high, low
		}
		if Orient(low, high, q) > 0 {
			inside = !inside
		}
	}
	return inside
}
