package draught

import (
	"cmp"
	"math"
	"slices"

	"proofbell/geom"
	"proofbell/internal/words"
	"proofbell/site"
)

// Every corner of a room is a joint of the drawing: of all rooms that meet there, be it in the middle of a side of theirs.
// Moving one moves the sides that end there, whichever room they are of, so that no gap and no overlap comes between rooms.

// shape is a room while its outline changes.
type shape struct {
	room
	ring  geom.Polygon // noded, as it was
	own   geom.Polygon // corners that stay though they lie in a straight line
	new   [][]geom.Point
	moved bool
}

// shapes are the rooms of the storey, with the corners of all put into the sides on which they lie.
func (e *sheet) shapes() []*shape {
	rooms := e.rooms()
	all := corners(rooms)
	var out []*shape
	for _, r := range rooms {
		s := &shape{room: r, ring: noded(r.poly, all), own: r.poly}
		s.new = make([][]geom.Point, len(s.ring))
		for i, p := range s.ring {
			s.new[i] = []geom.Point{p}
		}
		out = append(out, s)
	}
	return out
}

// sidesOf gives the room of an act with one of its sides.
func (e *sheet) sideOf(a Operation) (site.RoomID, geom.Polygon, error) {
	id := site.RoomID(a.ID)
	r, ok := e.site.Rooms[id]
	poly := r.Outline.Polygon()
	if !ok || len(poly) < 3 {
		return id, nil, e.refuse(words.Later("there is no room %q with an outline", a.ID), words.Later("choose a room that is drawn"))
	}
	e.storey = r.Storey
	if n := max(a.Corner, a.Side); n >= len(poly) || min(a.Corner, a.Side) < 0 {
		return id, nil, e.refuse(words.Later("%s has %d corners", r.Name, len(poly)), words.Later("choose one of them"))
	}
	return id, poly, nil
}

// corner moves a corner of a room, and of every room that meets there.
func (e *sheet) corner(a Operation) error {
	_, poly, err := e.sideOf(a)
	if err != nil {
		return err
	}
	if a.At == nil {
		return e.refuse(words.Later("nobody said where"), words.Later("say where the corner is to be"))
	}
	from, to := poly[a.Corner], e.settle(*a.At)
	shapes := e.shapes()
	for _, s := range shapes {
		for i, p := range s.ring {
			if same(p, from) {
				s.new[i], s.moved = []geom.Point{to}, true
			}
		}
	}
	e.said = words.Later("Corner moved by %s", e.show(from.Distance(to)))
	return e.reshape(shapes, nil)
}

// side moves a side of a room in parallel, or makes it as long as was typed. Rooms on its other side give way or follow;
// where their own side runs on, a step comes in.
func (e *sheet) side(a Operation) error {
	id, poly, err := e.sideOf(a)
	if err != nil {
		return err
	}
	k, by := a.Side, a.By
	if a.Length != "" {
		if k, by, err = e.lengthen(poly, a); err != nil {
			return err
		}
	}
	n := len(poly)
	out := edge{poly[k], poly[(k+1)%n]}
	normal := outward(poly, k)
	before, after := edge{poly[(k-1+n)%n], out.a}, edge{out.b, poly[(k+2)%n]}
	shapes := e.shapes()
	if a.Whole {
		out = run(out, shapes)
		before, after = edge{}, edge{}
	}
	if by == 0 {
		e.said = words.Later("Nothing to move")
		return nil
	}
	target := edge{out.a.Add(normal.Scale(by)), out.b.Add(normal.Scale(by))}
	image := func(p geom.Point, leads edge) geom.Point {
		to := p.Add(normal.Scale(by))
		if leads != (edge{}) {
			if at, ok := leads.meet(target); ok {
				to = at
			}
		}
		return e.settle(to)
	}
	e.shift(shapes, out, image, before, after)
	e.said = words.Later("Side of %s moved by %s", e.site.Rooms[id].Name, e.show(math.Abs(by)))
	return e.reshape(shapes, &id)
}

// outward is the unit vector out of a room across one of its sides.
func outward(p geom.Polygon, side int) geom.Point {
	u := sides(p)[side].unit()
	if p.SignedArea() < 0 {
		u = u.Scale(-1)
	}
	return geom.Point{X: u.Y, Y: -u.X}
}

// lengthen says which side moves, and by how much, so that a side gets the length that was typed. A typed length along an
// axis is kept as it was typed.
func (e *sheet) lengthen(poly geom.Polygon, a Operation) (side int, by float64, err error) {
	want, err := e.read(a.Length, words.Later("length"))
	if err != nil {
		return 0, 0, err
	}
	n := len(poly)
	s := sides(poly)[a.Side]
	if want.SI() < 2*touching {
		return 0, 0, e.refuseAt(s.a, words.Later("a side can not be %s long", a.Length), words.Later("write a length of at least 1 cm"))
	}
	far, still := (a.Side+1)%n, s.a
	u := s.unit()
	if a.Start {
		far, still, u = (a.Side-1+n)%n, s.b, u.Scale(-1)
	}
	across := u.Dot(outward(poly, far))
	for i, along := range []float64{u.X, u.Y} {
		if math.Abs(math.Abs(along)-1) < 1e-9 {
			t := e.sum([]float64{still.X, still.Y}[i], want, along)
			e.typed[int64(math.Round(t.SI()*1e4))] = t
		}
	}
	return far, (want.SI() - s.length()) * across, nil
}

// run is the whole straight line of sides that a stretch is a part of.
func run(s edge, shapes []*shape) edge {
	for grown := true; grown; {
		grown = false
		for _, sh := range shapes {
			for _, t := range sides(sh.ring) {
				if !collinear(s, t) {
					continue
				}
				for _, p := range []struct{ near, far geom.Point }{{t.a, t.b}, {t.b, t.a}} {
					if same(p.near, s.a) && !s.holds(p.far) {
						s.a, grown = p.far, true
					} else if same(p.near, s.b) && !s.holds(p.far) {
						s.b, grown = p.far, true
					}
				}
			}
		}
	}
	return s
}

// shift moves every side along out. before and after are the sides of the room at its ends, along which those ends slide.
func (e *sheet) shift(shapes []*shape, out edge, image func(geom.Point, edge) geom.Point, before, after edge) {
	on := func(p geom.Point) bool { return out.holds(p) }
	var runsOn [2]bool // whether a side of some room goes straight on beyond an end
	var images []edge  // where a place was, and where it comes to be
	for _, s := range shapes {
		for _, t := range sides(s.ring) {
			for _, p := range []edge{t, {t.b, t.a}} {
				if !on(p.a) || on(p.b) {
					continue
				}
				switch straight := collinear(out, p); {
				case straight && same(p.a, out.a):
					runsOn[0] = true
				case straight:
					runsOn[1] = true
				case !same(p.a, out.a) && !same(p.a, out.b):
					images = append(images, edge{p.a, image(p.a, p)})
				}
			}
		}
	}
	images = append([]edge{{out.a, image(out.a, before)}, {out.b, image(out.b, after)}}, images...)
	to := func(p geom.Point) geom.Point {
		for _, i := range images {
			if same(i.a, p) {
				return i.b
			}
		}
		return image(p, edge{})
	}
	for _, s := range shapes {
		n := len(s.ring)
		for i, p := range s.ring {
			if !on(p) {
				continue
			}
			prev, next := s.ring[(i-1+n)%n], s.ring[(i+1)%n]
			stays := same(p, out.a) && runsOn[0] || same(p, out.b) && runsOn[1]
			switch along, onward := on(prev), on(next); {
			case stays && !along && !onward:
				continue
			case stays && along && !onward && collinear(out, edge{p, next}): // a step comes in
				s.new[i] = []geom.Point{to(p), p}
			case stays && onward && !along && collinear(out, edge{prev, p}):
				s.new[i] = []geom.Point{p, to(p)}
			default:
				s.new[i] = []geom.Point{to(p)}
			}
			s.moved = true
		}
	}
}

// reshape gives the rooms their new outlines, and lets walls, openings and what is fixed to walls follow. Typed lengths of
// corners that stay are kept.
func (e *sheet) reshape(shapes []*shape, of *site.RoomID) error {
	before := e.edges()
	was := map[site.RoomID]geom.Polygon{}
	var all, moves []move
	for _, s := range shapes {
		n := len(s.ring)
		for i := range s.ring {
			j := (i + 1) % n
			all = put(all, move{edge{s.ring[i], s.ring[j]}, edge{s.new[i][len(s.new[i])-1], s.new[j][0]}})
		}
		was[s.id] = s.poly
	}
	for _, m := range all {
		if m.old != m.new {
			moves = append(moves, m)
		}
	}
	var changed []*shape
	for _, s := range shapes {
		if !s.moved {
			continue
		}
		poly := s.simple()
		if slices.Equal(poly, s.poly) {
			continue
		}
		r := e.site.Rooms[s.id]
		r.Outline = e.outline(poly)
		e.setRoom(s.id, r)
		changed = append(changed, s)
	}
	for _, s := range changed {
		if p := e.site.Rooms[s.id].Outline.Polygon(); (p.SignedArea() > 0) != (was[s.id].SignedArea() > 0) {
			return e.refuseAt(p[0], words.Later("%s would be turned inside out", s.name), words.Later("move it less far"))
		}
		if err := e.sound(s.id, s.name, e.site.Rooms[s.id].Outline.Polygon(), was[s.id]); err != nil {
			return err
		}
	}
	if len(changed) == 0 && len(moves) == 0 {
		return nil
	}
	e.walls(moves, before, e.edges(), e.bare(changed), nil)
	inner := e.inner(before)
	all = append(all, inner...)
	if err := e.carry(all, inner); err != nil {
		return err
	}
	var touched []edge
	for _, s := range changed {
		touched = append(append(touched, sides(was[s.id])...), sides(e.site.Rooms[s.id].Outline.Polygon())...)
	}
	e.openingsAlong(touched)
	e.ride(all)
	e.rehouse()
	if of != nil {
		r := e.site.Rooms[*of]
		e.said = words.Later("%s; %s, %s", e.said, r.Name, e.area(r.Outline.Polygon().Area()))
	}
	return nil
}

// put adds a move. Where two rooms on both sides of one stretch part there, its wall stays in its line: with the room that
// stays, or with the one that goes farther along it.
func put(moves []move, m move) []move {
	for i, o := range moves {
		if same(o.old.a, m.old.b) && same(o.old.b, m.old.a) {
			m = move{edge{m.old.b, m.old.a}, edge{m.new.b, m.new.a}}
		}
		if !same(o.old.a, m.old.a) || !same(o.old.b, m.old.b) {
			continue
		}
		stays, was := straight(m), straight(o)
		if stays && !was || stays == was && m.new.length() > o.new.length()+touching {
			moves[i] = m
		}
		return moves
	}
	return append(moves, m)
}

// straight reports whether a stretch stays in its line. One that was pushed through its own end leads the other way then,
// beside what it was, and has left its wall to the room on the other side.
func straight(m move) bool {
	return !same(m.new.a, m.new.b) && collinear(m.old, m.new) && m.old.unit().Dot(m.new.unit()) > 0
}

// simple returns the new outline without corners that were only put in for the sake of other rooms.
func (s *shape) simple() geom.Polygon {
	type corner struct {
		p    geom.Point
		keep bool // a corner of the room itself that did not move
	}
	var all []corner
	for i, list := range s.new {
		own := slices.Contains(s.own, s.ring[i])
		for _, p := range list {
			all = append(all, corner{p, own && p == s.ring[i]})
		}
	}
	for changed := true; changed; {
		changed = false
		for i := 0; i < len(all) && len(all) > 3; i++ {
			n := len(all)
			prev, next := all[(i-1+n)%n].p, all[(i+1)%n].p
			twice := same(all[i].p, next)
			flat := !same(prev, next) && !twice && (edge{prev, next}).within(all[i].p)
			if twice || flat && !all[i].keep {
				if twice && all[i].keep {
					all[(i+1)%n] = all[i]
				}
				all = slices.Delete(all, i, i+1)
				changed = true
				i--
			}
		}
	}
	out := geom.Polygon{}
	for _, c := range all {
		out = append(out, c.p)
	}
	return out
}

// bare lists the sides of changed rooms, as walls that are wanted where there is none.
func (e *sheet) bare(changed []*shape) []piece {
	var out []piece
	t, _ := e.template(Operation{}) // of nothing said: can not be refused
	for _, s := range changed {
		for _, side := range sides(upright(e.site.Rooms[s.id].Outline.Polygon())) {
			out = append(out, piece{edge: side, wall: t, name: string(s.id) + "-" + e.faces(side), runs: true})
		}
	}
	return out
}

// inner are the walls that ran along no room, with where they are now.
func (e *sheet) inner(rooms []edge) []move {
	var out []move
	for _, id := range site.SortedIDs(e.was.Walls) {
		old, ok := e.lineOf(e.was.Walls[id])
		if !ok {
			continue
		}
		now, there := e.lineOf(e.site.Walls[id])
		for _, s := range old.less(rooms) {
			if s == old && there {
				out = append(out, move{old, now})
			} else {
				out = append(out, move{s, s})
			}
		}
	}
	return out
}

// lineOf is the middle line of a wall of the storey.
func (e *sheet) lineOf(w site.Wall) (edge, bool) {
	a, okA := w.From.Point()
	b, okB := w.To.Point()
	return edge{a, b}, w.Storey == e.storey && okA && okB && !same(a, b)
}

// nearest returns the stretch to which a place belongs, when that one moves.
func nearest(all []move, at geom.Point, within float64) (m move, moves bool) {
	for _, one := range all {
		if off := (geom.Segment{A: one.old.a, B: one.old.b}).Distance(at); off < within-1e-9 {
			m, within = one, off
		}
	}
	return m, m.old != m.new
}

// carry lets openings go along with their wall. One that would stick out of it slides in; one that no longer fits stops it all.
func (e *sheet) carry(all, inner []move) error {
	after := e.stretches()
	for _, id := range site.SortedIDs(e.site.Openings) {
		o := e.site.Openings[id]
		at, ok := o.At.Point()
		if o.Storey != e.storey || !ok || o.Kind == "stair" {
			continue
		}
		m, moves := nearest(all, at, onWall)
		if len(o.Rooms) == 0 { // where walls cross it stays with the one that is no side of a room
			m, moves = nearest(append(slices.Clone(inner), all...), at, onWall)
		}
		if !moves {
			continue
		}
		half, was := o.Width.SI()/2, o
		if collinear(m.old, m.new) {
			_, off := m.old.foot(at)
			if s, fits := stands(after, at, half, off+touching); fits { // its wall became longer or shorter: a door stays where it is
				if e.lead(&o, s); !slices.Equal(was.Rooms, o.Rooms) || was.Swing != o.Swing {
					e.setOpening(id, o)
				}
				continue
			}
		}
		if m.new.length() < 2*half-touching {
			return e.refuseAt(at, words.Later("%s would no longer fit: the wall would be %s long there", e.nameOf(o, id), e.show(m.new.length())), words.Later("move it, make it narrower or take it out first"))
		}
		t, _ := m.new.foot(m.of(at))
		o.At = append(e.place(m.new.at(min(max(t, half), m.new.length()-half))), o.At[2:]...)
		if same(m.old.a, m.new.a) || same(m.old.b, m.new.b) {
			e.goes = append(e.goes, e.lang.Say("%s slides along its wall.", words.Upper(e.nameOf(o, id).In(e.lang))))
		}
		e.lead(&o, m.new)
		e.setOpening(id, o)
	}
	return nil
}

// stands returns the stretch, no farther off than its wall was, in which an opening at a place has room.
func stands(all []edge, at geom.Point, half, within float64) (edge, bool) {
	for _, s := range all {
		if t, off := s.foot(at); off <= within && t >= half-touching && t <= s.length()-half+touching {
			return s, true
		}
	}
	return edge{}, false
}

// nameOf names an opening in a sentence.
func (e *sheet) nameOf(o site.Opening, id site.OpeningID) words.Text {
	if o.Name != "" {
		return words.Typed(o.Name)
	}
	return words.Later("%s %s", words.Marked(kindSay[o.Kind]), string(id))
}

// fixed are the classes of devices that hang on walls and go along with them.
var fixed = []string{"contact", "motion", "glass-break", "call-point", "panic-button", "keyswitch", "keypad", "sounder", "temperature"}

// hand is how far from a wall something may be that is fixed to it, metres: half the wall, and the thing itself.
const hand = 0.35

// ride lets what is fixed to a wall go along with it.
func (e *sheet) ride(all []move) {
	for _, id := range site.SortedIDs(e.site.Devices) {
		d := e.site.Devices[id]
		at, ok := d.At.Point()
		moved := !slices.Equal(d.At, e.was.Devices[id].At)
		if !ok || moved || e.site.Rooms[d.Room].Storey != e.storey || !slices.Contains(fixed, e.site.Models[d.Model].Class) {
			continue
		}
		m, moves := nearest(all, at, hand)
		if !moves {
			continue
		}
		t, _ := m.old.foot(at)
		foot := m.old.at(t)
		if to := at.Add(m.of(foot).Sub(foot)); !same(to, at) {
			d.At = append(e.place(to), d.At[2:]...)
			e.setDevice(id, d)
			e.goes = append(e.goes, e.lang.Say("%s goes along with its wall.", cmp.Or(e.site.Models[d.Model].Name, string(id))))
		}
	}
}
