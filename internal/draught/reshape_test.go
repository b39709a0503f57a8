package draught_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"proofbell/geom"
	"proofbell/internal/draught"
	"proofbell/site"
)

// Kitchen left, hall right, lounge above both: a T where the wall between kitchen and hall meets the lounge.
//
//	(0,6) ------------- (6,6)
//	  |      lounge       |
//	(0,3) -- (4,3) --- (6,3)
//	  | kitchen | hall    |
//	(0,0) -- (4,0) --- (6,0)
func flat(t testing.TB) *site.Site {
	s, _ := do(t, read(t, empty), rect("Kitchen", 0, 0, 4, 3))
	s, _ = do(t, s, rect("Hall", 4, 0, 6, 3))
	s, _ = do(t, s, rect("Lounge", 0, 3, 6, 6))
	for _, p := range []geom.Point{pt(4, 1), pt(5, 3), pt(2, 3), pt(0, 4.5)} {
		s, _ = do(t, s, draught.Operation{Op: "opening", Storey: "g", Kind: "door", At: &p})
	}
	return s
}

func area(s *site.Site, id site.RoomID) float64 {
	return math.Round(s.Rooms[id].Outline.Polygon().Area()*1e6) / 1e6
}

// side returns the number of the side of a room that runs through two places.
func side(t testing.TB, s *site.Site, id site.RoomID, a, b geom.Point) int {
	t.Helper()
	p := s.Rooms[id].Outline.Polygon()
	for i := range p {
		if sd := p.Side(i); sd.Distance(a) < 0.001 && sd.Distance(b) < 0.001 {
			return i
		}
	}
	t.Fatalf("%s has no side from %v to %v: %v", id, a, b, p)
	return 0
}

func TestASharedSideMovesForBoth(t *testing.T) {
	s := flat(t)
	s, acted := do(t, s, draught.Operation{Op: "side", Storey: "g", ID: "kitchen", Side: side(t, s, "kitchen", pt(4, 0), pt(4, 3)), By: 0.5})
	if area(s, "kitchen") != 13.5 || area(s, "hall") != 4.5 || area(s, "lounge") != 18 {
		t.Errorf("%v %v %v", area(s, "kitchen"), area(s, "hall"), area(s, "lounge"))
	}
	if len(s.Rooms["lounge"].Outline) != 4 {
		t.Errorf("the lounge is %v", s.Rooms["lounge"].Outline)
	}
	if o := s.Openings["hall-kitchen"]; o.At[0].String() != "4.5" || o.At[1].String() != "1" {
		t.Errorf("the door stands at %v", o.At)
	}
	if o := s.Openings["hall-lounge"]; o.At[0].String() != "5" || !slices.Equal(o.Rooms, []site.RoomID{"hall", "lounge"}) { // from 4.55 to 5.45: it has room
		t.Errorf("the hall's other door is at %v, %v", o.At, acted.Goes)
	}
	if !strings.Contains(acted.Say, "13.5 m²") {
		t.Error(acted.Say)
	}
	checkWalls(t, s)
}

// The kitchen's north side goes up by a metre. The lounge's south side runs on over the hall: there it gets a step.
func TestASideThatRunsOnGetsAStep(t *testing.T) {
	s := flat(t)
	s, _ = do(t, s, draught.Operation{Op: "side", Storey: "g", ID: "kitchen", Side: side(t, s, "kitchen", pt(0, 3), pt(4, 3)), By: 1})
	if area(s, "kitchen") != 16 || area(s, "hall") != 6 || area(s, "lounge") != 14 || len(s.Rooms["lounge"].Outline) != 6 || len(s.Rooms["kitchen"].Outline) != 4 {
		t.Errorf("%v %v", s.Rooms["kitchen"].Outline, s.Rooms["lounge"].Outline)
	}
	if o := s.Openings["kitchen-lounge"]; o.At[1].String() != "4" {
		t.Errorf("the door stands at %v", o.At)
	}
	if o := s.Openings["hall-lounge"]; o.At[1].String() != "3" {
		t.Errorf("the hall's door stands at %v", o.At)
	}
	checkWalls(t, s)
	// And back, by its length as typed: the kitchen's west side is to be 3 m.
	s, _ = do(t, s, draught.Operation{Op: "side", Storey: "g", ID: "kitchen", Side: side(t, s, "kitchen", pt(0, 0), pt(0, 4)), Length: "300 cm", Start: true})
	if area(s, "kitchen") != 12 || area(s, "lounge") != 18 {
		t.Errorf("%v %v", s.Rooms["kitchen"].Outline, s.Rooms["lounge"].Outline)
	}
	checkWalls(t, s)
}

func TestTheWholeRunMoves(t *testing.T) {
	s := flat(t)
	s, _ = do(t, s, draught.Operation{Op: "side", Storey: "g", ID: "kitchen", Side: side(t, s, "kitchen", pt(0, 3), pt(4, 3)), By: 1, Whole: true})
	if area(s, "kitchen") != 16 || area(s, "hall") != 8 || area(s, "lounge") != 12 || len(s.Rooms["lounge"].Outline) != 4 {
		t.Errorf("%v %v", s.Rooms["kitchen"].Outline, s.Rooms["lounge"].Outline)
	}
	if s.Openings["hall-lounge"].At[1].String() != "4" {
		t.Errorf("the hall's door is at %v", s.Openings["hall-lounge"].At)
	}
	checkWalls(t, s)
}

func TestACornerMovesForAllThatMeetThere(t *testing.T) {
	s := flat(t)
	k := slices.IndexFunc(s.Rooms["kitchen"].Outline.Polygon(), func(p geom.Point) bool { return p == pt(4, 3) })
	s, _ = do(t, s, draught.Operation{Op: "corner", Storey: "g", ID: "kitchen", Corner: k, At: at(4, 3.5)})
	// The kitchen gains a triangle of 4 x 0.5 / 2 = 1, the hall one of 2 x 0.5 / 2 = 0.5, the lounge loses both.
	if area(s, "kitchen") != 13 || area(s, "hall") != 6.5 || area(s, "lounge") != 16.5 {
		t.Errorf("%v %v %v", area(s, "kitchen"), area(s, "hall"), area(s, "lounge"))
	}
	checkWalls(t, s)
}

func TestMovesThatCanNotBe(t *testing.T) {
	s := flat(t)
	k := side(t, s, "kitchen", pt(4, 0), pt(4, 3))
	for _, c := range []struct {
		say string
		o   draught.Operation
	}{
		{"", draught.Operation{Op: "side", Storey: "g", ID: "kitchen", Side: k, By: 5}},
		{"", draught.Operation{Op: "side", Storey: "g", ID: "kitchen", Side: k, By: -4}},
		{"no longer fit", draught.Operation{Op: "side", Storey: "g", ID: "kitchen", Side: k, By: 1.2}}, // from 4.55 to 5.45 stands the door of the hall, whose wall would be 0.8 long
		{"4 corners", draught.Operation{Op: "side", Storey: "g", ID: "kitchen", Side: 9, By: 1}},
		{"no room", draught.Operation{Op: "side", Storey: "g", ID: "x", By: 1}},
		{"1 cm", draught.Operation{Op: "side", Storey: "g", ID: "kitchen", Side: k, Length: "1 mm"}},
		{"", draught.Operation{Op: "corner", Storey: "g", ID: "kitchen", Corner: 0, At: at(9, 9)}},
	} {
		r := draught.Do(nil, s, c.o).Refused
		if r == nil || !strings.Contains(r.Say+r.Try, c.say) {
			t.Errorf("%+v: %+v", c.o, r)
		}
	}
}

// checkWalls holds that every side of every room has exactly one wall along its whole length, that no two walls lie one on
// the other, and that every opening stands in a wall and names the rooms beside it.
func checkWalls(t fatal, s *site.Site) {
	t.Helper()
	type line struct{ a, b geom.Point }
	var all []line
	for _, w := range s.Walls {
		a, _ := w.From.Point()
		b, _ := w.To.Point()
		all = append(all, line{a, b})
	}
	on := func(p, along geom.Point, turned float64) int {
		n := 0
		for _, w := range all {
			d := w.b.Sub(w.a)
			if math.Abs(d.Cross(along)) <= turned*d.Distance(geom.Point{})*along.Distance(geom.Point{}) && (geom.Segment{A: w.a, B: w.b}).Distance(p) < 0.006 {
				n++
			}
		}
		return n
	}
	for id, r := range s.Rooms {
		p := r.Outline.Polygon()
		for i := range p {
			sd := p.Side(i)
			for f := 0.0131; f < 1; f += 0.0917 { // odd steps: joints are missed
				if q, u := sd.A.Add(sd.B.Sub(sd.A).Scale(f)), sd.B.Sub(sd.A); on(q, u, 0.1) < 1 || on(q, u, 0.002) > 1 {
					clear := true // of joints
					for _, w := range all {
						clear = clear && w.a.Distance(q) > 0.04 && w.b.Distance(q) > 0.04
					}
					if clear {
						t.Errorf("%d walls at %v, on a side of %s: %q", on(q, u, 0.002), q, id, walls(s))
						return
					}
				}
			}
		}
	}
	for id, o := range s.Openings {
		at, _ := o.At.Point()
		if on(at, geom.Point{}, 1) == 0 {
			t.Errorf("%s at %v stands in no wall: %q", id, at, walls(s))
		}
		for _, r := range o.Rooms {
			poly := s.Rooms[r].Outline.Polygon()
			near := math.Inf(1)
			for i := range poly {
				near = min(near, poly.Side(i).Distance(at))
			}
			if near > 0.006 {
				t.Errorf("%s at %v is not at a side of %s: %v", id, at, r, poly)
			}
		}
	}
}

// The living room goes down beside the store by a step. Its low side is pushed up past the end of the wall that it shares with
// the store: that wall stays with the store, and a wall goes up beyond it.
//
//	(0,5) -------------- (4,5)
//	  |     living         |
//	(0,0) -- (2,0)         |
//	  | store  |           |
//	(0,-1) - (2,-1) --- (4,-1)
func TestASidePushedThroughTheEndOfASharedWall(t *testing.T) {
	s, _ := do(t, read(t, empty), rect("Store", 0, -1, 2, 0))
	s, _ = do(t, s, draught.Operation{Op: "room", Storey: "g", Name: "Living", Points: []geom.Point{pt(0, 0), pt(2, 0), pt(2, -1), pt(4, -1), pt(4, 5), pt(0, 5)}})
	s, _ = do(t, s, draught.Operation{Op: "side", Storey: "g", ID: "living", Side: side(t, s, "living", pt(2, -1), pt(4, -1)), By: -2})
	if area(s, "store") != 2 || area(s, "living") != 18 { // 4 x 4 above, 2 x 1 beside
		t.Errorf("%v %v", s.Rooms["store"].Outline, s.Rooms["living"].Outline)
	}
	checkWalls(t, s)
}
