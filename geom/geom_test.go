package geom_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"proofbell/geom"
)

// ell is an L-shaped room: 6 x 4 with a 3 x 2 corner cut out of the upper right. Area 24 - 6 = 18. Centroid by parts:
// lower 6 x 2 at (3, 1) and upper left 3 x 2 at (1.5, 3): ((12*3 + 6*1.5)/18, (12*1 + 6*3)/18) = (2.5, 5/3).
var ell = geom.Polygon{{X: 0, Y: 0}, {X: 6, Y: 0}, {X: 6, Y: 2}, {X: 3, Y: 2}, {X: 3, Y: 4}, {X: 0, Y: 4}}

func TestKnownPolygon(t *testing.T) {
	if a := ell.Area(); a != 18 {
		t.Errorf("area %v", a)
	}
	if c := ell.Centroid(); c.Distance(geom.Point{X: 2.5, Y: 5.0 / 3}) > 1e-12 {
		t.Errorf("centroid %v", c)
	}
	for p, want := range map[geom.Point]bool{{X: 1, Y: 1}: true, {X: 5, Y: 3}: false, {X: 3, Y: 3}: true /* on the wall */, {X: 3.00005, Y: 3}: true, {X: 3.001, Y: 3}: false, {X: 0, Y: 0}: true, {X: -1, Y: 0}: false, {X: 7, Y: 2}: false} {
		if got := ell.Contains(p); got != want {
			t.Errorf("contains %v: %v", p, got)
		}
	}
	low, high := ell.Bounds()
	if low != (geom.Point{}) || high != (geom.Point{X: 6, Y: 4}) {
		t.Errorf("bounds %v %v", low, high)
	}
	if (geom.Polygon{}).Contains(geom.Point{}) || (geom.Polygon{}).Area() != 0 || (geom.Polygon{}).Centroid() != (geom.Point{}) {
		t.Error("the empty outline holds nothing")
	}
}

func TestCrossing(t *testing.T) {
	s := func(ax, ay, bx, by float64) geom.Segment {
		return geom.Segment{A: geom.Point{X: ax, Y: ay}, B: geom.Point{X: bx, Y: by}}
	}
	for _, c := range []struct {
		name string
		a, b geom.Segment
		ok   bool
		at   geom.Point
	}{
		{"cross", s(0, 0, 4, 4), s(0, 4, 4, 0), true, geom.Point{X: 2, Y: 2}},
		{"apart", s(0, 0, 1, 1), s(3, 0, 0, 3), false, geom.Point{}},
		{"tee", s(0, 0, 4, 0), s(2, 0, 2, 3), true, geom.Point{X: 2, Y: 0}},
		{"tee, a rounding error short", s(0, 0, 4, 0), s(2, 1e-9, 2, 3), true, geom.Point{X: 2, Y: 0}},
		{"tee, a millimetre short", s(0, 0, 4, 0), s(2, 1e-3, 2, 3), false, geom.Point{}},
		{"end to end", s(0, 0, 2, 0), s(2, 0, 4, 0), true, geom.Point{X: 2, Y: 0}},
		{"sharing a stretch", s(0, 0, 3, 0), s(1, 0, 5, 0), true, geom.Point{X: 2, Y: 0}},
		{"parallel", s(0, 0, 3, 0), s(0, 1, 3, 1), false, geom.Point{}},
		{"nearly parallel, meeting", s(0, 0, 10, 0), s(0, 1e-6, 10, -1e-6), true, geom.Point{X: 5, Y: 0}},
		{"a point on a line", s(0, 0, 3, 0), s(1, 0, 1, 0), true, geom.Point{X: 1, Y: 0}},
		{"two points apart", s(0, 0, 0, 0), s(1, 0, 1, 0), false, geom.Point{}},
	} {
		at, ok := c.a.Crossing(c.b)
		if ok != c.ok || ok && at.Distance(c.at) > geom.Near {
			t.Errorf("%s: %v %v", c.name, at, ok)
		}
	}
}

func TestClash(t *testing.T) {
	for name, c := range map[string]struct {
		p      geom.Polygon
		simple bool
	}{
		"ell":           {ell, true},
		"bow tie":       {geom.Polygon{{X: 0, Y: 0}, {X: 2, Y: 2}, {X: 2, Y: 0}, {X: 0, Y: 2}}, false},
		"spike":         {geom.Polygon{{X: 0, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 4}, {X: 4, Y: 1}}, false},
		"corner twice":  {geom.Polygon{{X: 0, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 4}}, false},
		"two corners":   {geom.Polygon{{X: 0, Y: 0}, {X: 4, Y: 0}}, false},
		"touching":      {geom.Polygon{{X: 0, Y: 0}, {X: 4, Y: 0}, {X: 2, Y: 2}, {X: 4, Y: 4}, {X: 0, Y: 4}, {X: 2, Y: 2}}, false},
		"line":          {geom.Polygon{{X: 0, Y: 0}, {X: 1, Y: 0}, {X: 2, Y: 0}}, false},
		"flat corner":   {geom.Polygon{{X: 0, Y: 0}, {X: 1, Y: 0}, {X: 2, Y: 0}, {X: 1, Y: 3}}, true},
		"comes back at": {geom.Polygon{{X: 0, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 4}, {X: 2, Y: 0}, {X: 0, Y: 4}}, false},
	} {
		if got := c.p.Simple(); got != c.simple {
			i, j, _ := c.p.Clash()
			t.Errorf("%s: simple is %v (sides %d and %d)", name, got, i, j)
		}
	}
}

// motion is a rigid motion of the plane: mirror, rotate, move.
type motion struct {
	mirror   bool
	sin, cos float64
	by       geom.Point
}

func (m motion) point(p geom.Point) geom.Point {
	if m.mirror {
		p.X = -p.X
	}
	return geom.Point{X: p.X*m.cos - p.Y*m.sin, Y: p.X*m.sin + p.Y*m.cos}.Add(m.by)
}

func (m motion) segment(s geom.Segment) geom.Segment {
	return geom.Segment{A: m.point(s.A), B: m.point(s.B)}
}

func (m motion) polygon(p geom.Polygon) geom.Polygon {
	out := make(geom.Polygon, len(p))
	for i := range p {
		out[i] = m.point(p[i])
	}
	return out
}

func anyMotion(t *rapid.T) motion {
	angle := rapid.Float64Range(0, 2*math.Pi).Draw(t, "angle")
	return motion{rapid.Bool().Draw(t, "mirror"), math.Sin(angle), math.Cos(angle), anyPoint(t, "by")}
}

// anyPoint draws whole centimetres: what people type.
func anyPoint(t *rapid.T, label string) geom.Point {
	return geom.Point{X: float64(rapid.IntRange(-3000, 3000).Draw(t, label+" x")) / 100, Y: float64(rapid.IntRange(-3000, 3000).Draw(t, label+" y")) / 100}
}

// star is a simple polygon by construction: corners by growing angle about a centre.
func star(t *rapid.T) geom.Polygon {
	n := rapid.IntRange(3, 9).Draw(t, "corners")
	c := anyPoint(t, "centre")
	var p geom.Polygon
	for i := range n {
		r := rapid.Float64Range(1, 10).Draw(t, "radius")
		a := 2 * math.Pi * (float64(i) + rapid.Float64Range(0, 0.5).Draw(t, "turn")) / float64(n)
		p = append(p, c.Add(geom.Point{X: r * math.Cos(a), Y: r * math.Sin(a)}))
	}
	return p
}

func TestMotionsChangeNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, p, q := anyMotion(t), star(t), anyPoint(t, "q")
		moved := m.polygon(p)
		if a, b := p.SignedArea(), moved.SignedArea(); math.Abs(math.Abs(a)-math.Abs(b)) > 1e-9*math.Abs(a) || (a*b < 0) != m.mirror {
			t.Fatalf("area %v became %v", a, b)
		}
		if d := m.point(p.Centroid()).Distance(moved.Centroid()); d > 1e-8 {
			t.Fatalf("the centroid moved by %v", d)
		}
		nearest := math.Inf(1)
		for i := range p {
			nearest = min(nearest, p.Side(i).Distance(q))
		}
		if math.Abs(nearest-geom.Near) > 1e-9 && p.Contains(q) != moved.Contains(m.point(q)) {
			t.Fatalf("%v is in or out of %v by the motion %v", q, p, m)
		}
		if p.Simple() != moved.Simple() {
			t.Fatalf("%v is simple or not by the motion", p)
		}
		a := geom.Segment{A: anyPoint(t, "a"), B: anyPoint(t, "b")}
		b := geom.Segment{A: anyPoint(t, "c"), B: anyPoint(t, "d")}
		if x, y := a.Distance(q), m.segment(a).Distance(m.point(q)); math.Abs(x-y) > 1e-9 {
			t.Fatalf("a distance of %v became %v", x, y)
		}
		at, ok := a.Crossing(b)
		again, okAgain := m.segment(a).Crossing(m.segment(b))
		back, okBack := b.Crossing(a)
		if ok != okBack || ok != okAgain {
			// Only a gap of about Near may go either way.
			if gap := gapBetween(a, b); math.Abs(gap-geom.Near) > 1e-9 {
				t.Fatalf("%v and %v, %v apart: %v, swapped %v, moved %v", a, b, gap, ok, okBack, okAgain)
			}
			return
		}
		if ok && (a.Distance(at) > 2*geom.Near || b.Distance(at) > 2*geom.Near || m.point(at).Distance(again) > 0.01 && !nearlyParallel(a, b) || at.Distance(back) > 0.01 && !nearlyParallel(a, b)) {
			t.Fatalf("%v is not on both %v and %v", at, a, b)
		}
	})
}

// gapBetween is the distance between two segments that do not cross properly, by their ends.
func gapBetween(a, b geom.Segment) float64 {
	return min(a.Distance(b.A), a.Distance(b.B), b.Distance(a.A), b.Distance(a.B))
}

// The judge of Contains is the winding number by angles, another method.
func TestContainsAgreesWithTheWindingNumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, q := star(t), anyPoint(t, "q")
		if rapid.Bool().Draw(t, "near") {
			q = p.Centroid().Add(anyPoint(t, "off").Scale(0.1))
		}
		var angle float64
		for i := range p {
			s := p.Side(i)
			if s.Distance(q) < 0.001 {
				t.Skip("on the wall")
			}
			a, b := s.A.Sub(q), s.B.Sub(q)
			angle += math.Atan2(a.Cross(b), a.Dot(b))
		}
		if want := math.Abs(angle) > 3; p.Contains(q) != want {
			t.Fatalf("%v in %v: want %v", q, p, want)
		}
	})
}

// The judge of Nearest walks along the segment in small steps.
func TestNearestAgreesWithWalking(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, q := geom.Segment{A: anyPoint(t, "a"), B: anyPoint(t, "b")}, anyPoint(t, "q")
		best := math.Inf(1)
		for i := range 1001 {
			best = min(best, s.A.Add(s.B.Sub(s.A).Scale(float64(i)/1000)).Distance(q))
		}
		if d := s.Distance(q); d > best+1e-9 || d < best-s.Length()/1000 {
			t.Fatalf("distance %v, by walking %v", d, best)
		}
	})
}

// nearlyParallel segments meet in a place that no arithmetic can fix well.
func nearlyParallel(a, b geom.Segment) bool {
	d, e := a.B.Sub(a.A), b.B.Sub(b.A)
	return math.Abs(d.Cross(e)) < 0.01*a.Length()*b.Length()
}
