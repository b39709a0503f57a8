package building_test

import (
	"encoding/json"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"proofbell/demo"
	"proofbell/geom"
	"proofbell/internal/building"
	"proofbell/site"
)

// house is two storeys of rooms in rows, as a drawing that can be moved.
type house struct {
	xs, ys []float64
	walls  [][2]geom.Point
	doors  []geom.Point
	upper  bool
}

func anyHouse(t *rapid.T) house {
	h := house{xs: []float64{0}, ys: []float64{0}, upper: rapid.Bool().Draw(t, "upper")}
	for range rapid.IntRange(1, 3).Draw(t, "columns") {
		h.xs = append(h.xs, h.xs[len(h.xs)-1]+float64(rapid.IntRange(20, 60).Draw(t, "width"))/10)
	}
	for range rapid.IntRange(1, 3).Draw(t, "rows") {
		h.ys = append(h.ys, h.ys[len(h.ys)-1]+float64(rapid.IntRange(20, 60).Draw(t, "depth"))/10)
	}
	last := h.xs[len(h.xs)-1]
	for _, y := range h.ys {
		if rapid.Bool().Draw(t, "drawn") {
			h.walls = append(h.walls, [2]geom.Point{{X: 0, Y: y}, {X: last, Y: y}})
		}
	}
	for i := 1; i < len(h.xs)-1; i++ {
		for j := range len(h.ys) - 1 {
			if rapid.Bool().Draw(t, "door") {
				h.doors = append(h.doors, geom.Point{X: h.xs[i], Y: (h.ys[j] + h.ys[j+1]) / 2})
			}
		}
	}
	return h
}

// site is the house after a motion of the plan.
func (h house) site(t *rapid.T, move func(geom.Point) geom.Point) *site.Site {
	at := func(x, y float64) []float64 {
		p := move(geom.Point{X: x, Y: y})
		if math.Abs(p.X) < 1e-6 { // written with an exponent, which a file does not take
			p.X = 0
		}
		if math.Abs(p.Y) < 1e-6 {
			p.Y = 0
		}
		return []float64{p.X, p.Y}
	}
	type object map[string]any
	rooms, walls, doors := object{}, object{}, object{}
	storeys := object{"g": object{"name": "Ground", "level": 0, "ceiling": 2.5}}
	levels := []string{"g"}
	if h.upper {
		storeys["u"] = object{"name": "Upper", "level": 2.9, "ceiling": 2.5}
		levels = append(levels, "u")
	}
	for _, level := range levels {
		for i := range len(h.xs) - 1 {
			for j := range len(h.ys) - 1 {
				x0, x1, y0, y1 := h.xs[i], h.xs[i+1], h.ys[j], h.ys[j+1]
				rooms[fmt.Sprintf("%s%d%d", level, i, j)] = object{"name": "Room", "storey": level, "outline": [][]float64{at(x0, y0), at(x1, y0), at(x1, y1), at(x0, y1)}}
			}
		}
		for i, w := range h.walls {
			walls[fmt.Sprintf("%sw%d", level, i)] = object{"storey": level, "from": at(w[0].X, w[0].Y), "to": at(w[1].X, w[1].Y), "thickness": 0.12, "material": "brick"}
		}
		for i, d := range h.doors {
			var joined []string
			for i := range len(h.xs) - 1 {
				for j := range len(h.ys) - 1 {
					if (h.xs[i] == d.X || h.xs[i+1] == d.X) && h.ys[j] < d.Y && d.Y < h.ys[j+1] {
						joined = append(joined, fmt.Sprintf("%s%d%d", level, i, j))
					}
				}
			}
			doors[fmt.Sprintf("%sd%d", level, i)] = object{"kind": "door", "storey": level, "at": at(d.X, d.Y), "width": 0.8, "rooms": joined}
		}
	}
	text, err := json.Marshal(object{"storeys": storeys, "rooms": rooms, "walls": walls, "openings": doors, "materials": object{"brick": object{"name": "Brick", "as": "brick"}}})
	if err != nil {
		t.Fatal(err)
	}
	s, err := site.DecodeJSON("house.json", text)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Moved, turned or mirrored, a building has the same rooms, the same in between, and the same ways.
func TestBuildingsDoNotDependOnTheDrawing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := anyHouse(t)
		turn := rapid.Float64Range(0, 2*math.Pi).Draw(t, "turn")
		mirror := rapid.Bool().Draw(t, "mirror")
		move := func(p geom.Point) geom.Point {
			if mirror {
				p.X = -p.X
			}
			return geom.Point{X: p.X*math.Cos(turn) - p.Y*math.Sin(turn) + 3, Y: p.X*math.Sin(turn) + p.Y*math.Cos(turn) - 7}
		}
		a := building.Of(h.site(t, func(p geom.Point) geom.Point { return p }))
		b := building.Of(h.site(t, move))
		if len(a.Pieces) != len(b.Pieces) || len(a.Rooms) != len(b.Rooms) || len(a.Floors) != len(b.Floors) || len(a.Assumed) != len(b.Assumed) || len(a.Left) != 0 {
			t.Fatalf("%d and %d pieces, %d and %d assumed, left %v", len(a.Pieces), len(b.Pieces), len(a.Assumed), len(b.Assumed), a.LeftOut(nil))
		}
		for i := range a.Rooms {
			if math.Abs(a.Rooms[i].Volume-b.Rooms[i].Volume) > 1e-6 {
				t.Fatalf("room %d has %v m3, then %v", i, a.Rooms[i].Volume, b.Rooms[i].Volume)
			}
		}
		for i := range a.Floors {
			for k, p := range a.Floors[i].Parts {
				if math.Abs(p.Area-b.Floors[i].Parts[k].Area) > 1e-6 {
					t.Fatalf("floor %d part %d has %v m2, then %v", i, k, p.Area, b.Floors[i].Parts[k].Area)
				}
			}
		}
		// Places off the lattice of corners, so that no ray just touches an edge.
		any := func(label string) geom.Point3 {
			x := float64(rapid.IntRange(0, len(h.xs)-2).Draw(t, label+" column"))
			y := float64(rapid.IntRange(0, len(h.ys)-2).Draw(t, label+" row"))
			z := rapid.SampledFrom([]float64{0.413, 1.517, 2.287}).Draw(t, label+" height")
			if h.upper && rapid.Bool().Draw(t, label+" up") {
				z += 2.9
			}
			return geom.Point3{X: h.xs[int(x)] + 0.317 + float64(rapid.IntRange(0, 7).Draw(t, label))*0.2113, Y: h.ys[int(y)] + 0.283 + float64(rapid.IntRange(0, 7).Draw(t, label))*0.1977, Z: z}
		}
		lift := func(p geom.Point3) geom.Point3 {
			q := move(p.Plan())
			return geom.Point3{X: q.X, Y: q.Y, Z: p.Z}
		}
		from, to := any("from"), any("to")
		there, moved, back := a.Crossed(from, to), b.Crossed(lift(from), lift(to)), a.Crossed(to, from)
		if len(there) != len(moved) || len(there) != len(back) {
			t.Fatalf("%v to %v passes %d, moved %d, back %d", from, to, len(there), len(moved), len(back))
		}
		for i, c := range there {
			if math.Abs(c.Distance-moved[i].Distance) > 1e-6 || (c.Floor < 0) != (moved[i].Floor < 0) {
				t.Fatalf("%+v became %+v", c, moved[i])
			}
		}
		i, okFrom := a.RoomAt(from)
		k, okTo := a.RoomAt(to)
		if !okFrom || !okTo {
			t.Fatalf("%v or %v is in no room", from, to)
		}
		w, ok := a.Walk(from.Plan(), i, to.Plan(), k)
		v, again := b.Walk(lift(from).Plan(), i, lift(to).Plan(), k)
		if ok != again || math.Abs(w.Metres-v.Metres) > 1e-6 {
			t.Fatalf("a way of %v m became %v m", w.Metres, v.Metres)
		}
		if ok && w.Metres < from.Plan().Distance(to.Plan())-1e-9 {
			t.Fatalf("a way of %v m is shorter than the straight line", w.Metres)
		}
	})
}

// Whatever a site file says, a building comes of it, with finite figures.
func FuzzOf(f *testing.F) {
	f.Add(demo.Corrected)
	f.Add(demo.Draft)
	f.Add([]byte(bare))
	f.Add([]byte("storeys: {g: {name: G}}\nwalls:\n  w: {storey: g, from: [0, 0], to: [3, 0]}\nopenings:\n  o: {kind: hatch, at: [1, 0], width: 9, rooms: []}\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		s, err := site.DecodeYAML("f", text)
		if err != nil || len(s.Rooms) > 50 || len(s.Walls) > 100 {
			return
		}
		b := building.Of(s)
		for _, p := range b.Pieces {
			if !(p.Length() > 0) || !(p.Z1 >= p.Z0) || math.IsInf(p.Area(), 0) {
				t.Fatalf("piece %+v", p)
			}
		}
		b.Crossed(geom.Point3{X: -1, Y: -2, Z: 0.5}, geom.Point3{X: 30, Y: 20, Z: 4})
		for i := range b.Rooms {
			b.Walk(b.Rooms[0].Inside(), 0, b.Rooms[i].Inside(), i)
		}
	})
}
