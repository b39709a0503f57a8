package draught

import (
	"cmp"

	"proofbell/geom"
	"proofbell/internal/sorts"
	"proofbell/site"
)

// move is a stretch of the drawing that comes to lie somewhere else.
type move struct{ old, new edge }

// of returns where a place on the old stretch comes to lie: its ends at the new ends, the rest stays as far from an end that
// stays as it was, else in proportion.
func (m move) of(q geom.Point) geom.Point {
	t, _ := m.old.foot(q)
	l, n := m.old.length(), m.new.length()
	t = min(max(t, 0), l)
	switch {
	case t <= touching:
		return m.new.a
	case t >= l-touching:
		return m.new.b
	case same(m.old.a, m.new.a):
		t = min(t, n)
	case same(m.old.b, m.new.b):
		t = max(n-(l-t), 0)
	default:
		t *= n / l
	}
	return m.new.at(t)
}

// piece is a straight piece of wall while walls are cut and joined.
type piece struct {
	edge
	id   site.WallID // of the wall it comes from; empty: a new one
	wall site.Wall
	name string // of a new one
	runs bool   // a new one may be the continuation of a wall that is there
}

// walls lets the walls of the storey follow the rooms. Stretches of walls along moves go with them; what was along a room
// and is so no more goes; each side of a room that is wanted has a wall, once. At cuts a wall ends and another begins.
func (e *sheet) walls(moves []move, before, after []edge, wanted []piece, cuts []geom.Point) {
	var pieces, moved []piece
	for _, id := range site.SortedIDs(e.site.Walls) {
		if line, ok := e.lineOf(e.site.Walls[id]); ok {
			rest, gone := e.follow(piece{edge: line, id: id, wall: e.site.Walls[id]}, moves, before, after)
			pieces, moved = append(pieces, rest...), append(moved, gone...)
		}
	}
	for _, more := range [][]piece{moved, wanted} {
		for _, p := range more {
			var there []edge
			for _, q := range pieces {
				there = append(there, q.edge)
			}
			for _, s := range p.less(there) {
				p.edge = s
				if p.runs {
					p = adjoin(p, pieces)
				}
				pieces = append(pieces, p)
			}
		}
	}
	var cut []piece
	for _, p := range pieces {
		for _, s := range p.split(p.feet(cuts)) {
			p.edge = s
			cut = append(cut, p)
		}
	}
	e.rebuild(joined(cut, cuts))
}

// feet takes places that lie on s to its very line.
func (s edge) feet(at []geom.Point) []geom.Point {
	var out []geom.Point
	for _, p := range at {
		if s.within(p) {
			t, _ := s.foot(p)
			out = append(out, s.at(t))
		}
	}
	return out
}

// follow cuts a wall into what stays and what goes along with moves.
func (e *sheet) follow(p piece, moves []move, before, after []edge) (rest, gone []piece) {
	var taken [][2]float64
	for _, m := range moves {
		from, to, ok := p.shares(m.old)
		if !ok {
			continue
		}
		taken = append(taken, [2]float64{from, to})
		q := p
		if q.edge = (edge{m.of(p.at(from)), m.of(p.at(to))}); !same(q.a, q.b) {
			gone = append(gone, q)
		}
	}
	along := len(p.less(before)) != 1 || p.less(before)[0] != p.edge // a part of it runs along a room
	for _, s := range p.without(taken) {
		for _, bare := range append(s.less(before), common(s, before, after)...) {
			q := p
			q.edge = bare
			if !along { // a wall within a room stays joined to the one that moves
				for _, m := range moves {
					if m.old.holds(q.a) {
						q.a = m.of(q.a)
					} else if m.old.holds(q.b) {
						q.b = m.of(q.b)
					}
				}
			}
			if !same(q.a, q.b) {
				rest = append(rest, q)
			}
		}
	}
	return rest, gone
}

// common returns what of s runs along a room before and after.
func common(s edge, before, after []edge) []edge {
	var out []edge
	for _, bare := range s.less(s.less(before)) {
		out = append(out, bare.less(bare.less(after))...)
	}
	return out
}

// adjoin takes a new piece for the continuation of a wall that it lengthens.
func adjoin(p piece, pieces []piece) piece {
	for _, q := range pieces {
		if q.id != "" && collinear(p.edge, q.edge) && meets(p.edge, q.edge) {
			p.id, p.wall = q.id, q.wall
			return p
		}
	}
	return p
}

func collinear(s, t edge) bool {
	_, p := s.foot(t.a)
	_, q := s.foot(t.b)
	_, r := t.foot(s.a)
	_, v := t.foot(s.b)
	return min(max(p, q), max(r, v)) <= touching
}

// meets reports whether two stretches have an end in common.
func meets(s, t edge) bool {
	return same(s.a, t.a) || same(s.a, t.b) || same(s.b, t.a) || same(s.b, t.b)
}

// joined puts pieces of one wall together again that run on in a straight line.
func joined(pieces []piece, cuts []geom.Point) []piece {
	cutAt := func(p geom.Point) bool {
		for _, c := range cuts {
			if same(c, p) {
				return true
			}
		}
		return false
	}
	for i := 0; i < len(pieces); i++ {
		for j := i + 1; j < len(pieces); j++ {
			p, q := pieces[i], pieces[j]
			if p.id == "" || p.id != q.id || !collinear(p.edge, q.edge) {
				continue
			}
			if same(p.b, q.b) || same(p.a, q.a) {
				q.a, q.b = q.b, q.a
			}
			switch {
			case same(p.b, q.a) && !cutAt(p.b):
				p.b = q.b
			case same(p.a, q.b) && !cutAt(p.a):
				p.a = q.a
			default:
				continue
			}
			pieces[i] = p
			pieces = append(pieces[:j], pieces[j+1:]...)
			i, j = -1, len(pieces) // from the beginning
		}
	}
	return pieces
}

// rebuild writes the pieces as the walls of the storey. The piece nearest to where a wall began keeps its id.
func (e *sheet) rebuild(pieces []piece) {
	sorts.Stable(pieces, func(p, q piece) int {
		if p.id != q.id || p.id == "" {
			return 0
		}
		from, _ := p.wall.From.Point()
		return cmp.Compare(from.Distance(p.a), from.Distance(q.a))
	})
	kept := map[site.WallID]bool{}
	for _, p := range pieces {
		if p.id != "" && !kept[p.id] {
			kept[p.id] = true
			a, _ := p.wall.From.Point()
			b, _ := p.wall.To.Point()
			if !same(a, p.a) || !same(b, p.b) {
				e.setWall(p.id, e.drawn(p))
			}
		}
	}
	for _, id := range site.SortedIDs(e.site.Walls) {
		if _, drawn := e.lineOf(e.site.Walls[id]); drawn && !kept[id] {
			e.touch("walls", string(id))
			delete(e.site.Walls, id)
		}
	}
	first := map[site.WallID]bool{}
	for _, p := range pieces {
		if p.id != "" && !first[p.id] {
			first[p.id] = true
			continue
		}
		name := p.name
		if p.id != "" {
			name = string(p.id)
		}
		id := e.freeWall(name)
		e.setWall(id, e.drawn(p))
		e.new("walls", string(id))
	}
}

// drawn is the wall of a piece.
func (e *sheet) drawn(p piece) site.Wall {
	w := p.wall
	w.Storey, w.From, w.To = e.storey, e.place(p.a), e.place(p.b)
	return w
}

// freeWall returns a free id for a wall. A number at the end of the name counts on: kitchen-north-2 after kitchen-north.
func (e *sheet) freeWall(name string) site.WallID {
	return site.WallID(free(name, func(id string) bool {
		_, now := e.site.Walls[site.WallID(id)]
		_, before := e.was.Walls[site.WallID(id)]
		return now || before
	}))
}
