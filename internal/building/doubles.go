package building

// Double is where two pieces stand one behind the other between the same two rooms: a wall drawn twice, or a lining before a
// wall. What passes has to pass both.
type Double struct {
	I, J int     // indices in Pieces, I less than J
	Area float64 // that they share, m2
}

// Doubles finds the pieces that stand one behind the other.
func (b *Building) Doubles() []Double {
	between := map[[3]int][]int{}
	for i := range b.Pieces {
		x, y := b.Pieces[i].Rooms[0], b.Pieces[i].Rooms[1]
		if x != y {
			key := [3]int{b.Pieces[i].Storey, min(x, y), max(x, y)}
			between[key] = append(between[key], i)
		}
	}
	var out []Double
	for i := range b.Pieces {
		x, y := b.Pieces[i].Rooms[0], b.Pieces[i].Rooms[1]
		for _, j := range between[[3]int{b.Pieces[i].Storey, min(x, y), max(x, y)}] {
			if j > i {
				if area := shade(&b.Pieces[i], &b.Pieces[j]); area > 0.001 {
					out = append(out, Double{i, j, area})
				}
			}
		}
	}
	return out
}

// shade is the area over which one piece runs beside another.
func shade(p, q *Piece) float64 {
	high := min(p.Z1, q.Z1) - max(p.Z0, q.Z0)
	if high <= 0 || far(p.A, p.B, q.A, q.B, beside) {
		return 0
	}
	l, o := line{a: p.A, b: p.B}, line{a: q.A, b: q.B}
	if l.length() <= sliver || o.length() <= sliver {
		return 0
	}
	from, _ := l.foot(q.A)
	to, _ := l.foot(q.B)
	from, to = max(min(from, to), 0), min(max(from, to), l.length())
	_, offFrom := o.foot(l.at(from))
	_, offTo := o.foot(l.at(to))
	if to-from <= sliver || offFrom > beside || offTo > beside {
		return 0
	}
	return (to - from) * high
}
