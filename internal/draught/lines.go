package draught

import (
	"cmp"
	"math"

	"proofbell/geom"
	"proofbell/internal/sorts"
)

// edge is a straight stretch of the drawing.
type edge struct{ a, b geom.Point }

func (s edge) length() float64 { return s.a.Distance(s.b) }

func (s edge) unit() geom.Point { return s.b.Sub(s.a).Scale(1 / s.length()) }

// at returns the place so many metres from the start.
func (s edge) at(t float64) geom.Point {
	switch l := s.length(); {
	case t <= 0:
		return s.a
	case t >= l:
		return s.b
	default:
		return s.a.Add(s.b.Sub(s.a).Scale(t / l))
	}
}

// foot returns how far along the line of s the foot of q lies, and how far q is from that line.
func (s edge) foot(q geom.Point) (along, off float64) {
	u, d := s.unit(), q.Sub(s.a)
	return d.Dot(u), math.Abs(u.Cross(d))
}

// holds reports whether q lies on s, its ends included.
func (s edge) holds(q geom.Point) bool {
	t, off := s.foot(q)
	return off <= touching && t >= -touching && t <= s.length()+touching
}

// within reports whether q lies on s and not at an end.
func (s edge) within(q geom.Point) bool {
	if !s.near(edge{q, q}) {
		return false
	}
	t, off := s.foot(q)
	return off <= touching && t > touching && t < s.length()-touching
}

// near reports whether the upright boxes round s and t meet: far from each other, which most are, they have nothing in common.
func (s edge) near(t edge) bool {
	return max(s.a.X, s.b.X)+touching >= min(t.a.X, t.b.X) && max(t.a.X, t.b.X)+touching >= min(s.a.X, s.b.X) &&
		max(s.a.Y, s.b.Y)+touching >= min(t.a.Y, t.b.Y) && max(t.a.Y, t.b.Y)+touching >= min(s.a.Y, s.b.Y)
}

func same(p, q geom.Point) bool {
	d := p.Sub(q)
	return d.Dot(d) <= touching*touching
}

// shares returns the stretch of s that t covers, in metres along s.
func (s edge) shares(t edge) (from, to float64, ok bool) {
	if !s.near(t) {
		return 0, 0, false
	}
	long, short := s, t
	if t.length() > s.length() {
		long, short = t, s
	}
	_, p := long.foot(short.a)
	_, q := long.foot(short.b)
	if p > touching || q > touching {
		return 0, 0, false
	}
	from, _ = s.foot(t.a)
	to, _ = s.foot(t.b)
	if from > to {
		from, to = to, from
	}
	from, to = max(from, 0), min(to, s.length())
	return from, to, to-from > touching
}

// less returns what covers leave of s.
func (s edge) less(covers []edge) []edge {
	var gone [][2]float64
	for _, c := range covers {
		if from, to, ok := s.shares(c); ok {
			gone = append(gone, [2]float64{from, to})
		}
	}
	return s.without(gone)
}

// without returns what is left of s between stretches, in metres along s.
func (s edge) without(gone [][2]float64) []edge {
	sorts.By(gone, func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
	var left []edge
	at := 0.0
	for _, g := range append(gone, [2]float64{s.length(), s.length()}) {
		if g[0]-at > touching {
			left = append(left, edge{s.at(at), s.at(g[0])})
		}
		at = max(at, g[1])
	}
	return left
}

// split cuts s at those places that lie within it. The cuts have the coordinates of the places.
func (s edge) split(at []geom.Point) []edge {
	var cuts []geom.Point
	for _, p := range at {
		if s.within(p) {
			cuts = append(cuts, p)
		}
	}
	along := func(p geom.Point) float64 { t, _ := s.foot(p); return t }
	sorts.By(cuts, func(p, q geom.Point) int { return cmp.Compare(along(p), along(q)) })
	var out []edge
	from := s.a
	for _, p := range cuts {
		if !same(from, p) {
			out = append(out, edge{from, p})
			from = p
		}
	}
	return append(out, edge{from, s.b})
}

// sides are those of a polygon.
func sides(p geom.Polygon) []edge {
	out := make([]edge, len(p))
	for i := range p {
		out[i] = edge{p[i], p[(i+1)%len(p)]}
	}
	return out
}

// noded returns a polygon with the corners of others that lie on its sides put in.
func noded(p geom.Polygon, corners []geom.Point) geom.Polygon {
	out := geom.Polygon{}
	for _, s := range sides(p) {
		for _, one := range s.split(corners) {
			out = append(out, one.a)
		}
	}
	return out
}

func corners(rooms []room) []geom.Point {
	var out []geom.Point
	for _, r := range rooms {
		out = append(out, r.poly...)
	}
	return out
}

// meet returns where the lines of s and t cross. ok is false when they are nearly parallel.
func (s edge) meet(t edge) (p geom.Point, ok bool) {
	u, v := s.unit(), t.unit()
	d := u.Cross(v)
	if math.Abs(d) < 0.17 { // less than ten degrees
		return p, false
	}
	return s.a.Add(u.Scale(t.a.Sub(s.a).Cross(v) / d)), true
}

// upright returns p with its corners anticlockwise, so that the inside is on the left of each side.
func upright(p geom.Polygon) geom.Polygon {
	if p.SignedArea() >= 0 {
		return p
	}
	out := make(geom.Polygon, len(p))
	for i := range p {
		out[i] = p[len(p)-1-i]
	}
	return out
}

// over returns a place in which two rooms lie one over the other. Walls that they share do not count.
func over(a, b geom.Polygon) (at geom.Point, ok bool) {
	a, b = upright(a), upright(b)
	lowA, highA := a.Bounds()
	lowB, highB := b.Bounds()
	if highA.X <= lowB.X+touching || highB.X <= lowA.X+touching || highA.Y <= lowB.Y+touching || highB.Y <= lowA.Y+touching {
		return at, false
	}
	p, q := noded(a, b), noded(b, a)
	for _, s := range sides(p) {
		for _, t := range sides(q) {
			if s.holds(t.a) || s.holds(t.b) || t.holds(s.a) || t.holds(s.b) {
				continue
			}
			if at, meet := (geom.Segment{A: s.a, B: s.b}).Crossing(geom.Segment{A: t.a, B: t.b}); meet {
				return at, true
			}
		}
	}
	for _, one := range []struct{ p, of geom.Polygon }{{p, b}, {q, a}} {
		for _, s := range sides(one.p) {
			u := s.unit()
			in := s.at(s.length() / 2).Add(geom.Point{X: -u.Y, Y: u.X}.Scale(2 * touching))
			if inside(one.of, in) {
				return in, true
			}
		}
	}
	return at, false
}

// inside reports whether q lies in p and clear of its sides.
func inside(p geom.Polygon, q geom.Point) bool {
	for _, s := range sides(p) {
		if (geom.Segment{A: s.a, B: s.b}).Distance(q) <= touching {
			return false
		}
	}
	return p.Contains(q)
}
