package geom_test

import (
	"math"
	"math/big"
	"testing"

	"pgregory.net/rapid"

	"proofbell/geom"
)

// The judge is arithmetic without rounding.
func TestOrientAgreesWithFractions(t *testing.T) {
	exact := func(a, b, c geom.Point) int {
		r := func(v float64) *big.Rat { return new(big.Rat).SetFloat64(v) }
		d := func(u, v float64) *big.Rat { return r(u).Sub(r(u), r(v)) }
		left := d(a.X, c.X)
		left.Mul(left, d(b.Y, c.Y))
		right := d(a.Y, c.Y)
		right.Mul(right, d(b.X, c.X))
		return left.Cmp(right)
	}
	sign := func(v float64) int {
		switch {
		case v > 0:
			return 1
		case v < 0:
			return -1
		}
		return 0
	}
	rapid.Check(t, func(t *rapid.T) {
		a, b := anyPoint(t, "a"), anyPoint(t, "b")
		// A place on the line as near as numbers allow, and its neighbours.
		share := rapid.Float64Range(-2, 3).Draw(t, "share")
		c := a.Add(b.Sub(a).Scale(share))
		for range rapid.IntRange(0, 3).Draw(t, "steps") {
			if c.X != 0 { // its neighbour is far below all that is measured: the product would vanish
				c.X = math.Nextafter(c.X, math.Inf(1))
			}
		}
		for _, p := range [][3]geom.Point{{a, b, c}, {b, a, c}, {c, a, b}, {a, a, c}, {b, c, a}} {
			if got, want := sign(geom.Orient(p[0], p[1], p[2])), exact(p[0], p[1], p[2]); got != want {
				t.Fatalf("%v: %d, want %d", p, got, want)
			}
		}
	})
}

func TestRaysThroughJoints(t *testing.T) {
	wall := func(x0, y0, x1, y1 float64) geom.Screen {
		return geom.Screen{A: geom.Point{X: x0, Y: y0}, B: geom.Point{X: x1, Y: y1}, Z0: 0, Z1: 2.6, Loss: 1}
	}
	at := func(x, y, z float64) geom.Point3 { return geom.Point3{X: x, Y: y, Z: z} }
	above := wall(0, 0, 4, 0)
	above.Z0, above.Z1 = 2.6, 5
	for _, c := range []struct {
		name     string
		screens  []geom.Screen
		from, to geom.Point3
		want     float64
	}{
		{"end to end", []geom.Screen{wall(0, 0, 2, 0), wall(2, 0, 4, 0)}, at(2, -1, 1), at(2, 1, 1), 1},
		{"end to end, drawn the other way", []geom.Screen{wall(0, 0, 2, 0), wall(4, 0, 2, 0)}, at(1, -1, 1), at(3, 1, 1), 1},
		{"round a corner from inside to outside", []geom.Screen{wall(0, 0, 2, 0), wall(2, 0, 2, 2)}, at(1, 1, 1), at(3, -1, 1), 1},
		{"through a cross of four", []geom.Screen{wall(-2, 0, 0, 0), wall(0, 0, 2, 0), wall(0, -2, 0, 0), wall(0, 0, 0, 2)}, at(-1, -1, 1), at(1, 1, 1), 2},
		{"along a wall", []geom.Screen{wall(0, 0, 4, 0)}, at(-1, 0, 1), at(5, 0, 1), 0},
		{"storey on storey", []geom.Screen{wall(0, 0, 4, 0), above}, at(2, -1, 1.6), at(2, 1, 3.6), 1},
		{"over it", []geom.Screen{wall(0, 0, 4, 0)}, at(2, -1, 2), at(2, 1, 3.5), 0},
		{"beside it", []geom.Screen{wall(0, 0, 4, 0)}, at(5, -1, 1), at(5, 1, 1), 0},
	} {
		s := geom.NewScene(c.screens, nil)
		if got, back := s.Loss(c.from, c.to), s.Loss(c.to, c.from); got != c.want || back != c.want {
			t.Errorf("%s: %v, and %v back, want %v", c.name, got, back, c.want)
		}
	}
}

// The way back passes the same; moved, turned or mirrored it does too, unless it only just touches an end.
func TestRaysDoNotDependOnTheDrawing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyScene(t)
		a, b := anySource(t).At, anySource(t).At
		hits, back := s.Along(a, b), s.Along(b, a)
		if len(hits) != len(back) {
			// Between storeys the height at the screen is rounded: a ray through an edge of it may go either way.
			if !grazes(s, a, b) {
				t.Fatalf("%v there, %v back", hits, back)
			}
			return
		}
		if grazes(s, a, b) {
			return
		}
		m := anyMotion(t)
		moved := make([]geom.Screen, len(s.Screens))
		for i, one := range s.Screens {
			one.A, one.B = m.point(one.A), m.point(one.B)
			moved[i] = one
		}
		slabs := make([]geom.Slab, len(s.Slabs))
		for i, one := range s.Slabs {
			slabs[i] = geom.Slab{Z: one.Z, Loss: one.Loss}
			for _, p := range one.Outlines {
				slabs[i].Outlines = append(slabs[i].Outlines, m.polygon(p))
			}
			for _, p := range one.Holes {
				slabs[i].Holes = append(slabs[i].Holes, m.polygon(p))
			}
		}
		lift := func(p geom.Point3) geom.Point3 {
			q := m.point(p.Plan())
			return geom.Point3{X: q.X, Y: q.Y, Z: p.Z}
		}
		again := geom.NewScene(moved, slabs).Along(lift(a), lift(b))
		if len(again) != len(hits) {
			t.Fatalf("%v became %v by %v", hits, again, m)
		}
	})
}

// grazes reports whether the way comes within a hair of an edge, of either end lying on a screen, or of a slab's rim.
func grazes(s *geom.Scene, a, b geom.Point3) bool {
	const hair = 1e-6
	way := geom.Segment{A: a.Plan(), B: b.Plan()}
	for _, one := range s.Screens {
		line := geom.Segment{A: one.A, B: one.B}
		if way.Distance(one.A) < hair || way.Distance(one.B) < hair || line.Distance(way.A) < hair || line.Distance(way.B) < hair {
			return true
		}
		if at, ok := way.Crossing(line); ok && way.Length() > 0 {
			z := a.Z + at.Distance(way.A)/way.Length()*(b.Z-a.Z)
			if math.Abs(z-one.Z0) < hair || math.Abs(z-one.Z1) < hair {
				return true
			}
		}
	}
	for _, slab := range s.Slabs {
		if math.Abs(a.Z-slab.Z) < hair || math.Abs(b.Z-slab.Z) < hair {
			return true
		}
		if (a.Z < slab.Z) == (b.Z < slab.Z) {
			continue
		}
		share := (slab.Z - a.Z) / (b.Z - a.Z)
		at := way.A.Add(way.B.Sub(way.A).Scale(share))
		for _, p := range append(append([]geom.Polygon(nil), slab.Outlines...), slab.Holes...) {
			for i := range p {
				if p.Side(i).Distance(at) < hair {
					return true
				}
			}
		}
	}
	return false
}

// The judge looks at every line.
func TestIndexMissesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var lines []geom.Segment
		for range rapid.IntRange(0, 200).Draw(t, "lines") {
			a := anyPoint(t, "a")
			lines = append(lines, geom.Segment{A: a, B: a.Add(anyPoint(t, "by").Scale(rapid.SampledFrom([]float64{0, 0.05, 1}).Draw(t, "length")))})
		}
		way := geom.Segment{A: anyPoint(t, "from"), B: anyPoint(t, "to").Scale(3)}
		seen := map[int]int{}
		geom.NewIndex(lines).Along(way, func(i int) { seen[i]++ })
		for i, l := range lines {
			if _, meet := l.Crossing(way); meet && seen[i] == 0 {
				t.Fatalf("%v meets %v and was not found", way, l)
			}
			if seen[i] > 1 {
				t.Fatalf("line %d came %d times", i, seen[i])
			}
		}
	})
}

func TestScenesWithManyScreensFindTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var screens []geom.Screen
		for range rapid.IntRange(48, 120).Draw(t, "screens") {
			screens = append(screens, geom.Screen{A: anyPoint(t, "a"), B: anyPoint(t, "b"), Z1: 3, Loss: 1})
		}
		from, to := geom.Point3{X: -31, Y: 3, Z: 1}, geom.Point3{X: 28, Y: -7, Z: 1}
		var want float64
		for i := range screens {
			want += geom.NewScene(screens[i:i+1], nil).Loss(from, to)
		}
		if got := geom.NewScene(screens, nil).Loss(from, to); got != want {
			t.Fatalf("%v, one by one %v", got, want)
		}
	})
}

func TestOverlap(t *testing.T) {
	sq := func(x0, y0, x1, y1 float64) geom.Polygon {
		return box(geom.Point{X: x0, Y: y0}, geom.Point{X: x1, Y: y1})
	}
	for _, c := range []struct {
		name string
		p, q geom.Polygon
		want float64
	}{
		{"apart", sq(0, 0, 1, 1), sq(2, 0, 3, 1), 0},
		{"side by side", sq(0, 0, 1, 1), sq(1, 0, 2, 1), 0},
		{"the same", sq(0, 0, 2, 3), sq(0, 0, 2, 3), 6},
		{"turned the other way", sq(0, 0, 2, 3), geom.Polygon{{X: 0, Y: 0}, {X: 0, Y: 3}, {X: 2, Y: 3}, {X: 2, Y: 0}}, 6},
		{"a corner", sq(0, 0, 2, 2), sq(1, 1, 4, 4), 1},
		{"within", sq(0, 0, 9, 9), sq(2, 3, 4, 6), 6},
		{"ell and square", ell, sq(0, 0, 100, 100), ell.Area()},
		// A square of side 2 about the origin, and the same turned by 45 degrees: a regular octagon, 8 (sqrt 2 - 1).
		{"octagon", sq(-1, -1, 1, 1), geom.Polygon{{X: math.Sqrt2, Y: 0}, {X: 0, Y: math.Sqrt2}, {X: -math.Sqrt2, Y: 0}, {X: 0, Y: -math.Sqrt2}}, 8 * (math.Sqrt2 - 1)},
	} {
		if got, back := c.p.Overlap(c.q), c.q.Overlap(c.p); math.Abs(got-c.want) > 1e-9 || math.Abs(back-c.want) > 1e-9 {
			t.Errorf("%s: %v, and %v, want %v", c.name, got, back, c.want)
		}
	}
}

func TestInsideIsInside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := star(t)
		if rapid.Bool().Draw(t, "ell") {
			p = anyMotion(t).polygon(ell)
		}
		if q := p.Inside(); !p.Contains(q) {
			t.Fatalf("%v is not inside %v", q, p)
		}
	})
	// A horseshoe has its centroid outside: 3 x 3 with a notch of 1 x 2.5 from above.
	shoe := geom.Polygon{{X: 0, Y: 0}, {X: 3, Y: 0}, {X: 3, Y: 3}, {X: 2, Y: 3}, {X: 2, Y: 0.5}, {X: 1, Y: 0.5}, {X: 1, Y: 3}, {X: 0, Y: 3}}
	if q := shoe.Inside(); shoe.Holds(shoe.Centroid()) || !shoe.Holds(q) {
		t.Errorf("centroid %v, inside %v", shoe.Centroid(), q)
	}
}

// Rooms that meet share every cell out among them; the judge is Holds, asked for each.
func TestFillGivesEachCellToOneRoom(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := float64(rapid.IntRange(1, 19).Draw(t, "x")) / 2
		y := float64(rapid.IntRange(1, 19).Draw(t, "y")) / 2
		m := anyMotion(t)
		if rapid.Bool().Draw(t, "upright") {
			m = motion{false, 0, 1, geom.Point{}}
		}
		at := func(x, y float64) geom.Point { return m.point(geom.Point{X: x, Y: y}) }
		rooms := []geom.Polygon{
			{at(0, 0), at(x, 0), at(x, y), at(0, y)},
			{at(x, 0), at(10, 0), at(10, y), at(x, y)},
			{at(0, y), at(x, y), at(x, 10), at(0, 10)},
			{at(x, y), at(10, y), at(10, 10), at(x, 10)},
		}
		low, high := geom.Polygon{at(0, 0), at(10, 0), at(10, 10), at(0, 10)}.Bounds()
		g := geom.NewGrid(low, high, rapid.SampledFrom([]float64{0.25, 0.5, 1, 0.7}).Draw(t, "step"))
		owners := make([]int, g.W*g.H)
		for _, p := range rooms {
			g.Fill(p, func(row, from, to int) {
				for c := from; c < to; c++ {
					owners[row*g.W+c]++
				}
			})
		}
		for i, n := range owners {
			want := 0
			for _, p := range rooms {
				if p.Holds(g.At(i%g.W, i/g.W)) {
					want++
				}
			}
			if n != want || n > 1 {
				t.Fatalf("cell %d is in %d rooms, want %d", i, n, want)
			}
		}
	})
}

func TestWaysOnFoot(t *testing.T) {
	// An L of 4 x 1 and 1 x 4 about the corner (1, 1).
	p := geom.Polygon{{X: 0, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 1}, {X: 1, Y: 1}, {X: 1, Y: 4}, {X: 0, Y: 4}}
	for _, c := range []struct {
		a, b geom.Point
		want float64
	}{
		{geom.Point{X: 0.5, Y: 0.5}, geom.Point{X: 3, Y: 0.5}, 2.5},
		{geom.Point{X: 4, Y: 1}, geom.Point{X: 1, Y: 4}, 6},                         // along both walls
		{geom.Point{X: 4, Y: 0.5}, geom.Point{X: 0.5, Y: 4}, 2 * math.Hypot(3, .5)}, // round the corner
		{geom.Point{X: 0, Y: 0}, geom.Point{X: 1, Y: 1}, math.Sqrt2},
		{geom.Point{X: 2, Y: 2}, geom.Point{X: 2, Y: 0}, 1}, // a place outside counts from the nearest wall
	} {
		if got := p.Way(c.a, c.b); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%v to %v: %v, want %v", c.a, c.b, got, c.want)
		}
	}
	at, far := p.FarthestOnFoot([]geom.Point{{X: 4, Y: 1}}, []float64{0})
	if want := 3 + math.Hypot(1, 3); at != (geom.Point{X: 0, Y: 4}) || math.Abs(far-want) > 1e-9 {
		t.Errorf("farthest on foot: %v, %v, want %v", at, far, want)
	}
}

// The judge asks places on a fine lattice.
func TestFarthestAgreesWithALattice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := star(t)
		var from []geom.Point
		for range rapid.IntRange(1, 5).Draw(t, "places") {
			from = append(from, p.Centroid().Add(anyPoint(t, "place").Scale(0.3)))
		}
		at, got := p.Farthest(from)
		nearest := func(q geom.Point) float64 {
			d := math.Inf(1)
			for _, f := range from {
				d = min(d, q.Distance(f))
			}
			return d
		}
		if !p.Contains(at) || math.Abs(nearest(at)-got) > 1e-9 {
			t.Fatalf("%v is %v away, not %v", at, nearest(at), got)
		}
		low, high := p.Bounds()
		for i := range 40 {
			for j := range 40 {
				q := geom.Point{X: low.X + (high.X-low.X)*float64(i)/39, Y: low.Y + (high.Y-low.Y)*float64(j)/39}
				if p.Holds(q) && nearest(q) > got+0.011 {
					t.Fatalf("%v is %v away, more than %v", q, nearest(q), got)
				}
			}
		}
	})
}

// The judge is Floyd's: every pair, through every node.
func TestNetworkAgreesWithAllPairs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 12).Draw(t, "nodes")
		net := geom.NewNetwork(n)
		far := make([][]float64, n)
		for i := range far {
			far[i] = make([]float64, n)
			for j := range far[i] {
				if i != j {
					far[i][j] = math.Inf(1)
				}
			}
		}
		for range rapid.IntRange(0, 30).Draw(t, "ways") {
			a, b := rapid.IntRange(0, n-1).Draw(t, "a"), rapid.IntRange(0, n-1).Draw(t, "b")
			length := float64(rapid.IntRange(0, 50).Draw(t, "length"))
			net.Join(a, b, length)
			far[a][b], far[b][a] = min(far[a][b], length), min(far[b][a], length)
		}
		for k := range n {
			for i := range n {
				for j := range n {
					far[i][j] = min(far[i][j], far[i][k]+far[k][j])
				}
			}
		}
		start := rapid.IntRange(0, n-1).Draw(t, "start")
		got, before := net.From([]geom.Start{{Node: start}})
		for i := range n {
			if got[i] != far[start][i] {
				t.Fatalf("node %d is %v away, want %v", i, got[i], far[start][i])
			}
			if b := before[i]; b >= 0 && got[b] > got[i] {
				t.Fatalf("the way to %d comes from farther off", i)
			}
		}
	})
}
