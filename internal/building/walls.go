package building

import (
	"cmp"
	"math"

	"proofbell/geom"
	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/site"
)

const (
	beside     = 0.35 // outlines and openings belong to a wall whose middle line is this near, metres; as drawing does
	twice      = 0.02 // walls drawn so near one another are one wall drawn twice, metres
	sliver     = 0.01 // shorter stretches of a wall are left out, metres
	usualDoor  = 0.9  // width of an opening that has none, metres
	usualThick = 0.1
)

// line is the middle line of a wall before it is cut.
type line struct {
	wall  site.WallID // "" when assumed
	a, b  geom.Point
	thick float64
	made  Made
}

func (l line) length() float64 { return l.a.Distance(l.b) }

func (l line) at(t float64) geom.Point {
	if length := l.length(); t >= length {
		return l.b
	} else if t > 0 {
		return l.a.Add(l.b.Sub(l.a).Scale(t / length))
	}
	return l.a
}

// foot returns how far along the line p lies, and how far beside it.
func (l line) foot(p geom.Point) (along, off float64) {
	d := l.b.Sub(l.a).Scale(1 / l.length())
	return p.Sub(l.a).Dot(d), math.Abs(d.Cross(p.Sub(l.a)))
}

// stretch is a part of a line, metres from its start.
type stretch struct{ from, to float64 }

// walls makes the pieces of one storey: the drawn walls, and assumed ones along sides of rooms where none is drawn.
func (b *Building) walls(storey int) {
	id := b.Storeys[storey].ID
	var lines []line
	for _, wallID := range site.SortedIDs(b.site.Walls) {
		w := b.site.Walls[wallID]
		from, okA := w.From.Point()
		to, okB := w.To.Point()
		if w.Storey != id || !okA || !okB || from.Distance(to) <= geom.Near {
			continue
		}
		whole := line{wall: wallID, a: from, b: to, thick: w.Thickness.SI(), made: b.made(w.Material, "")}
		for _, s := range uncovered(whole, lines, twice) {
			part := whole
			part.a, part.b = whole.at(s.from), whole.at(s.to)
			lines = append(lines, part)
		}
	}
	for _, r := range b.Rooms {
		if r.Storey != storey {
			continue
		}
		missing := 0.0
		for i := range r.Outline {
			side := r.Outline.Side(i)
			if side.Length() <= geom.Near {
				continue
			}
			whole := line{a: side.A, b: side.B, thick: usualThick}
			for _, s := range uncovered(whole, lines, beside) {
				part := whole
				part.a, part.b = whole.at(s.from), whole.at(s.to)
				lines = append(lines, part)
				missing += s.to - s.from
			}
		}
		if missing > 0.3 {
			b.assume(words.Later("%s: no wall drawn along %s m of its outline; a wall of usual construction is assumed there (an open side is drawn as a passage)", r.Name, words.Figure(missing, 1)))
		}
	}
	bare := 0
	openings := b.openingsOn(storey, lines)
	for i, l := range lines {
		bare += b.cut(storey, l, openings[i])
	}
	if bare > 0 {
		b.assume(words.Later("%s: %d stretches of wall name no material; inner ones are taken as stud walls, outer ones as masonry", b.Storeys[storey].Name, bare))
	}
}

// uncovered returns the stretches of l along which no other line runs within reach.
func uncovered(l line, others []line, reach float64) []stretch {
	length := l.length()
	var covered []stretch
	for _, o := range others {
		if far(l.a, l.b, o.a, o.b, reach) {
			continue
		}
		from, _ := l.foot(o.a)
		to, _ := l.foot(o.b)
		from, to = min(from, to), max(from, to)
		from, to = max(from, 0), min(to, length)
		if to-from <= sliver {
			continue
		}
		_, offFrom := o.foot(l.at(from))
		_, offTo := o.foot(l.at(to))
		if offFrom <= reach && offTo <= reach {
			covered = append(covered, stretch{from, to})
		}
	}
	return rest(length, covered, sliver)
}

// far reports whether the upright rectangles about a and b and about c and d are farther apart than reach: of a thousand
// rooms, nearly all are.
func far(a, b, c, d geom.Point, reach float64) bool {
	return min(c.X, d.X) > max(a.X, b.X)+reach || max(c.X, d.X) < min(a.X, b.X)-reach ||
		min(c.Y, d.Y) > max(a.Y, b.Y)+reach || max(c.Y, d.Y) < min(a.Y, b.Y)-reach
}

// rest returns what stretches leave of a length; what is not longer than least is dropped.
func rest(length float64, taken []stretch, least float64) []stretch {
	sorts.By(taken, func(x, y stretch) int { return cmp.Compare(x.from, y.from) })
	var out []stretch
	from := 0.0
	for _, t := range taken {
		if t.from-from > least {
			out = append(out, stretch{from, t.from})
		}
		from = max(from, t.to)
	}
	if length-from > least {
		out = append(out, stretch{from, length})
	}
	return out
}

// gap is an opening in a line.
type gap struct {
	stretch
	id site.OpeningID
	o  site.Opening
}

// openingsOn finds for each line of a storey the openings that are in it: the nearest wall takes them.
func (b *Building) openingsOn(storey int, lines []line) [][]gap {
	out := make([][]gap, len(lines))
	for _, id := range site.SortedIDs(b.site.Openings) {
		o := b.site.Openings[id]
		if o.Kind == "stair" || b.storeyOf(o) != storey {
			continue
		}
		at, ok := o.At.Point()
		if !ok {
			if at, ok = b.between(storey, o.Rooms); !ok {
				b.leave(words.Later("%s: the place of this opening is not known", b.OpeningName(id)))
				continue
			}
			b.assume(words.Later("%s: no place given; taken in the middle of the side that its rooms share", b.OpeningName(id)))
		}
		best, nearest, along := -1, beside, 0.0
		for i, l := range lines {
			t, off := l.foot(at)
			if t > 0 && t < l.length() && off < nearest {
				best, nearest, along = i, off, t
			}
		}
		if best < 0 {
			if len(o.Rooms) < 2 || b.sameStorey(o.Rooms) {
				b.leave(words.Later("%s: no wall within %s m of this opening", b.OpeningName(id), words.Figure(beside, 2)))
			}
			continue
		}
		width := o.Width.SI()
		if width == 0 {
			width = usualDoor
			b.assume(words.Later("%s: no width given; taken as %s m", b.OpeningName(id), words.Figure(width, 1)))
		}
		s := stretch{max(along-width/2, 0), min(along+width/2, lines[best].length())}
		out[best] = append(out[best], gap{s, id, o})
	}
	for i := range out {
		sorts.Stable(out[i], func(x, y gap) int { return cmp.Compare(x.from, y.from) })
		from := 0.0
		for k := range out[i] { // one drawn into another gives way
			g := &out[i][k]
			g.from = max(g.from, from)
			from = max(from, g.to)
		}
	}
	return out
}

// storeyOf returns the index of an opening's storey: its own, else that of its first room; -1 when neither is known.
func (b *Building) storeyOf(o site.Opening) int {
	for i, s := range b.Storeys {
		if s.ID == o.Storey {
			return i
		}
	}
	for _, r := range o.Rooms {
		if i, ok := b.room[r]; ok {
			return b.Rooms[i].Storey
		}
	}
	return -1
}

func (b *Building) sameStorey(rooms []site.RoomID) bool {
	i, okI := b.room[rooms[0]]
	j, okJ := b.room[rooms[1]]
	return !okI || !okJ || b.Rooms[i].Storey == b.Rooms[j].Storey
}

// between returns the middle of the longest stretch along which the outlines of two rooms meet.
func (b *Building) between(storey int, rooms []site.RoomID) (at geom.Point, ok bool) {
	if len(rooms) != 2 {
		return at, false
	}
	i, okI := b.room[rooms[0]]
	j, okJ := b.room[rooms[1]]
	if !okI || !okJ || b.Rooms[i].Storey != storey || b.Rooms[j].Storey != storey {
		return at, false
	}
	longest := 0.5 // metres: less holds no door
	for m := range b.Rooms[i].Outline {
		side := b.Rooms[i].Outline.Side(m)
		if side.Length() <= geom.Near {
			continue
		}
		l := line{a: side.A, b: side.B}
		for n := range b.Rooms[j].Outline {
			other := b.Rooms[j].Outline.Side(n)
			from, _ := l.foot(other.A)
			to, _ := l.foot(other.B)
			from, to = max(min(from, to), 0), min(max(from, to), l.length())
			if to-from <= longest || other.Distance(l.at(from)) > beside || other.Distance(l.at(to)) > beside {
				continue
			}
			at, ok, longest = l.at((from+to)/2), true, to-from
		}
	}
	return at, ok
}

// cut turns a line into pieces and returns how many of its stretches name no material.
func (b *Building) cut(storey int, l line, gaps []gap) (bare int) {
	length := l.length()
	cuts := []float64{0, length}
	for _, r := range b.Rooms {
		if r.Storey != storey || far(l.a, l.b, r.low, r.high, beside) {
			continue
		}
		for _, c := range r.Outline {
			if t, off := l.foot(c); off <= beside && t > sliver && t < length-sliver {
				cuts = append(cuts, t)
			}
		}
	}
	taken := make([]stretch, 0, len(gaps))
	for _, g := range gaps {
		cuts = append(cuts, g.from, g.to)
		taken = append(taken, g.stretch)
	}
	sorts.By(cuts, cmp.Compare[float64])
	for _, s := range rest(length, taken, sliver) {
		for _, one := range b.apart(storey, l, s, cuts) {
			p := b.piece(storey, l, one)
			if p.Material == "" {
				bare++
			}
			b.Pieces = append(b.Pieces, p)
		}
	}
	for _, g := range gaps {
		if g.to-g.from > sliver {
			b.opening(storey, l, g)
		}
	}
	return bare
}

// apart cuts a stretch where the rooms beside it, or the height of the wall, change.
func (b *Building) apart(storey int, l line, s stretch, cuts []float64) []stretch {
	var out []stretch
	var last Piece
	from := s.from
	for _, to := range cuts {
		to = min(to, s.to)
		if to-from <= sliver && to < s.to || to <= from {
			continue
		}
		p := b.piece(storey, l, stretch{from, to})
		if n := len(out); n > 0 && p.Rooms == last.Rooms && p.Z1 == last.Z1 {
			out[n-1].to = to
		} else {
			out = append(out, stretch{from, to})
		}
		from, last = to, p
	}
	return out
}

// piece is the wall along one stretch.
func (b *Building) piece(storey int, l line, s stretch) Piece {
	p := Piece{
		A: l.at(s.from), B: l.at(s.to), Storey: storey, Wall: l.wall, Thickness: l.thick, Assumed: l.wall == "", Made: l.made,
		Z0: b.Storeys[storey].Level,
	}
	d := l.b.Sub(l.a).Scale(1 / l.length())
	normal := geom.Point{X: -d.Y, Y: d.X}
	middle := p.A.Add(p.B).Scale(0.5)
	var near [2]geom.Point
	for side, n := range []geom.Point{normal, normal.Scale(-1)} {
		p.Rooms[side] = Outside
		for _, off := range []float64{l.thick/2 + 0.02, l.thick/2 + beside} {
			near[side] = middle.Add(n.Scale(off))
			if p.Rooms[side] = b.roomOn(storey, near[side]); p.Rooms[side] != Outside {
				break
			}
		}
	}
	p.Z1 = b.topOf(storey, p.Rooms, near)
	if p.Material == "" {
		p.As = "stud-wall"
		if (p.Rooms[0] == Outside) != (p.Rooms[1] == Outside) {
			p.As = "masonry"
		}
	}
	return p
}

// opening adds the pieces of a gap: the opening itself, and the wall above and below it.
func (b *Building) opening(storey int, l line, g gap) {
	wall := b.piece(storey, l, g.stretch)
	sill, head := 0.0, doorHead
	as := "hollow-door"
	switch {
	case g.o.Kind == "window":
		sill, head, as = windowSill, windowHead, "glass"
	case g.o.Fire:
		as = "fire-door"
	}
	leaf := wall
	leaf.Opening, leaf.Kind, leaf.Fire, leaf.Assumed = g.id, g.o.Kind, g.o.Fire, false
	leaf.In, leaf.Made = wall.Made, b.made(g.o.Material, as)
	leaf.Open = g.o.Open || g.o.Kind == "passage"
	leaf.Z0 = min(wall.Z0+sill, wall.Z1)
	leaf.Z1 = min(wall.Z0+head, wall.Z1)
	if g.o.Kind == "passage" && l.wall == "" {
		leaf.Z1 = wall.Z1 // no wall is drawn: an open side, up to the ceiling
	}
	if leaf.Material == "" && g.o.Kind != "passage" {
		b.assume(words.Later("%s: no material given; taken as %s", b.OpeningName(g.id), Construction(as)))
	}
	for _, z := range [][2]float64{{wall.Z0, leaf.Z0}, {leaf.Z1, wall.Z1}} {
		if z[1]-z[0] > geom.Near {
			rest := wall
			rest.Opening, rest.Z0, rest.Z1 = g.id, z[0], z[1]
			b.Pieces = append(b.Pieces, rest)
		}
	}
	b.Pieces = append(b.Pieces, leaf)
}
