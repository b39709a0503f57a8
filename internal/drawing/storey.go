package drawing

import (
	"cmp"
	"math"
	"slices"

	"proofbell/geom"
	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/site"
)

const (
	onWall    = 0.35 // an opening's centre may lie this far from the wall's middle line, metres
	pairWidth = 1.6  // doors from this width on are drawn as a pair of leaves, metres
	thinnest  = 0.05 // walls without a thickness are drawn this thick, metres
)

// Storeys draws every storey of a site from below, leaving out what has no place yet and saying so.
func Storeys(s *site.Site) []Plan { return StoreysIn(nil, s) }

// StoreysIn is Storeys with its words in a language. The shapes are the same.
func StoreysIn(lang *words.Language, s *site.Site) []Plan {
	ids := site.SortedIDs(s.Storeys)
	sorts.Stable(ids, func(a, b site.StoreyID) int { return cmp.Compare(s.Storeys[a].Order, s.Storeys[b].Order) })
	plans := make([]Plan, 0, len(ids))
	for _, id := range ids {
		plans = append(plans, storey(lang, s, id))
	}
	return plans
}

// StoreyIn draws one storey.
func StoreyIn(lang *words.Language, s *site.Site, id site.StoreyID) Plan { return storey(lang, s, id) }

func storey(lang *words.Language, s *site.Site, id site.StoreyID) Plan {
	p := Plan{
		Storey: string(id), Name: s.Storeys[id].Name, North: s.Premises.North,
		Rooms: []Room{}, Walls: []Wall{}, Leaves: []Leaf{}, Marks: []Mark{},
	}
	for _, roomID := range site.SortedIDs(s.Rooms) {
		room := s.Rooms[roomID]
		if room.Storey != id {
			continue
		}
		poly := room.Outline.Polygon()
		if len(poly) < 3 {
			p.Missing = append(p.Missing, lang.Say("%s: no outline yet", room.Name))
			continue
		}
		p.Rooms = append(p.Rooms, Room{ID: string(roomID), Name: room.Name, Outline: poly, Label: poly.Centroid()})
	}
	walls := wallsOf(s, id)
	for _, w := range walls {
		p.Walls = append(p.Walls, w.pieces()...)
	}
	// Thick walls first, so that thin ones butt against them and hatching never covers a solid wall.
	sorts.Stable(p.Walls, func(a, b Wall) int { return cmp.Compare(b.Hatch, a.Hatch) })
	for _, openingID := range site.SortedIDs(s.Openings) {
		if o := s.Openings[openingID]; o.Storey == id {
			p.Leaves = append(p.Leaves, leaves(s, openingID, o, walls)...)
		}
	}
	p.Marks, p.Missing = marks(lang, s, id, p.Missing)
	placeNames(p.Rooms, p.Marks)
	p.Min, p.Max = bounds(p)
	p.Scale = roundLength((p.Max.X - p.Min.X) / 5)
	return p
}

// middle is a wall while its openings are being cut.
type middle struct {
	id        string
	a, b      geom.Point
	thickness float64
	hatch     string
	joinA     float64 // how far the end runs on into the wall that it meets
	joinB     float64
	gaps      [][2]float64 // openings along the wall, metres from a
}

func (m *middle) length() float64 { return m.a.Distance(m.b) }

func (m *middle) along() geom.Point {
	return m.b.Sub(m.a).Scale(1 / m.length())
}

func wallsOf(s *site.Site, id site.StoreyID) []*middle {
	var walls []*middle
	for _, wallID := range site.SortedIDs(s.Walls) {
		w := s.Walls[wallID]
		a, okA := w.From.Point()
		b, okB := w.To.Point()
		if w.Storey != id || !okA || !okB || a == b {
			continue
		}
		walls = append(walls, &middle{id: string(wallID), a: a, b: b, thickness: max(w.Thickness.SI(), thinnest), hatch: s.Materials[w.Material].Hatch})
	}
	for _, w := range walls {
		w.joinA, w.joinB = join(w, w.a, walls), join(w, w.b, walls)
	}
	for _, openingID := range site.SortedIDs(s.Openings) {
		o := s.Openings[openingID]
		at, ok := o.At.Point()
		if o.Storey != id || !ok {
			continue
		}
		for _, w := range walls {
			t, off := project(at, w.a, w.b)
			if off <= onWall && t > 0 && t < w.length() {
				half := o.Width.SI() / 2
				w.gaps = append(w.gaps, [2]float64{max(t-half, 0), min(t+half, w.length())})
			}
		}
	}
	return walls
}

// join returns how far a wall's end must run on so that corners are filled: half the thickness of the thickest wall
// that it meets there at an angle.
func join(w *middle, end geom.Point, walls []*middle) float64 {
	longest := 0.0
	for _, other := range walls {
		if other == w {
			continue
		}
		if _, off := project(end, other.a, other.b); off > 0.01 {
			continue
		}
		u, v := w.along(), other.along()
		if math.Abs(u.X*v.Y-u.Y*v.X) > 0.1 {
			longest = max(longest, other.thickness/2)
		}
	}
	return longest
}

// project returns the distance of p's foot along a-b from a, kept within the segment, and p's distance from it.
func project(p, a, b geom.Point) (along, off float64) {
	d := b.Sub(a)
	length := a.Distance(b)
	along = ((p.X-a.X)*d.X + (p.Y-a.Y)*d.Y) / length
	along = min(max(along, 0), length)
	return along, p.Distance(a.Add(d.Scale(along / length)))
}

func (m *middle) pieces() []Wall {
	sorts.By(m.gaps, func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
	var out []Wall
	from := -m.joinA
	end := m.length() + m.joinB
	add := func(to float64) {
		if to-from > 1e-6 {
			out = append(out, Wall{ID: m.id, Hatch: m.hatch, Outline: m.box(from, to)})
		}
	}
	for _, gap := range m.gaps {
		add(gap[0])
		from = max(from, gap[1])
	}
	add(end)
	return out
}

func (m *middle) box(from, to float64) []geom.Point {
	u := m.along()
	n := geom.Point{X: -u.Y, Y: u.X}.Scale(m.thickness / 2)
	p, q := m.a.Add(u.Scale(from)), m.a.Add(u.Scale(to))
	return []geom.Point{p.Add(n), q.Add(n), q.Sub(n), p.Sub(n)}
}

// leaves draws an opening: one leaf, a pair for wide doors, or the bare jambs of windows and passages.
func leaves(s *site.Site, id site.OpeningID, o site.Opening, walls []*middle) []Leaf {
	at, ok := o.At.Point()
	if !ok {
		return nil
	}
	u, ok := direction(s, o, at, walls)
	if !ok {
		return nil
	}
	half := u.Scale(o.Width.SI() / 2)
	from, to := at.Sub(half), at.Add(half)
	base := Leaf{ID: string(id), Kind: o.Kind, From: from, To: to, Fire: o.Fire}
	if o.Kind != "door" && o.Kind != "hatch" || o.Open {
		return []Leaf{base}
	}
	side := geom.Point{X: -u.Y, Y: u.X}
	if !opensTo(s, o, at.Add(side.Scale(0.5))) && opensTo(s, o, at.Sub(side.Scale(0.5))) {
		side = side.Scale(-1)
	}
	if o.Width.SI() >= pairWidth {
		left, right := base, base
		left.To, right.From, right.ID = at, at, base.ID+"/2"
		return []Leaf{hang(left, from, at, side), hang(right, to, at, side)}
	}
	hinge, jamb := from, to
	if o.Hinge == "end" {
		hinge, jamb = to, from
	}
	return []Leaf{hang(base, hinge, jamb, side)}
}

func hang(l Leaf, hinge, jamb, side geom.Point) Leaf {
	l.Swing, l.Hinge = true, hinge
	l.Tip = hinge.Add(side.Scale(hinge.Distance(jamb)))
	a, b := l.Tip.Sub(hinge), jamb.Sub(hinge)
	l.Sweep = a.X*b.Y-a.Y*b.X > 0
	return l
}

// direction returns the unit vector along the wall that the opening is in; without a wall, along the nearest edge of
// one of its rooms.
func direction(s *site.Site, o site.Opening, at geom.Point, walls []*middle) (geom.Point, bool) {
	best, nearest := geom.Point{}, onWall
	for _, w := range walls {
		if _, off := project(at, w.a, w.b); off <= nearest {
			best, nearest = w.along(), off
		}
	}
	for _, roomID := range o.Rooms {
		poly := s.Rooms[roomID].Outline.Polygon()
		for i, a := range poly {
			b := poly[(i+1)%len(poly)]
			if a == b {
				continue
			}
			if _, off := project(at, a, b); off < nearest {
				best, nearest = b.Sub(a).Scale(1/a.Distance(b)), off
			}
		}
	}
	if best.X < -1e-9 || math.Abs(best.X) <= 1e-9 && best.Y < 0 {
		best = best.Scale(-1) // "start" and "end" of the leaf mean left and right, or below and above
	}
	return best, best != geom.Point{}
}

// opensTo reports whether the leaf swings to the side where p lies.
func opensTo(s *site.Site, o site.Opening, p geom.Point) bool {
	if o.Swing == "out" {
		return !slices.ContainsFunc(o.Rooms, func(r site.RoomID) bool { return s.Rooms[r].Outline.Polygon().Contains(p) })
	}
	into := site.RoomID(o.Swing)
	if into == "" && len(o.Rooms) > 0 {
		into = o.Rooms[0]
	}
	return s.Rooms[into].Outline.Polygon().Contains(p)
}

func bounds(p Plan) (lo, hi geom.Point) {
	lo, hi = geom.Point{X: math.Inf(1), Y: math.Inf(1)}, geom.Point{X: math.Inf(-1), Y: math.Inf(-1)}
	grow := func(q geom.Point) {
		lo = geom.Point{X: min(lo.X, q.X), Y: min(lo.Y, q.Y)}
		hi = geom.Point{X: max(hi.X, q.X), Y: max(hi.Y, q.Y)}
	}
	for _, r := range p.Rooms {
		for _, q := range r.Outline {
			grow(q)
		}
	}
	for _, w := range p.Walls {
		for _, q := range w.Outline {
			grow(q)
		}
	}
	for _, l := range p.Leaves {
		if grow(l.From); l.Swing {
			grow(l.Tip)
		}
	}
	for _, m := range p.Marks {
		grow(m.At)
	}
	if math.IsInf(lo.X, 1) {
		return geom.Point{}, geom.Point{}
	}
	return lo, hi
}

// roundLength returns the largest of 1, 2 or 5 times a power of ten that is not above m; at least 1 m.
func roundLength(m float64) float64 {
	best := 1.0
	for step := 1.0; step <= m; step *= 10 {
		for _, f := range []float64{1, 2, 5} {
			if step*f <= m {
				best = step * f
			}
		}
	}
	return best
}
