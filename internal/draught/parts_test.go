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

func TestAWallDividesARoom(t *testing.T) {
	s, _ := do(t, read(t, empty), rect("Hall", 0, 0, 6, 4))
	s, _ = do(t, s, draught.Operation{Op: "device", Storey: "g", Model: "smoke", At: at(5, 2)})
	s, _ = do(t, s, draught.Operation{Op: "opening", Storey: "g", Kind: "window", At: at(5, 0)})
	s, acted := do(t, s, draught.Operation{Op: "divide", Storey: "g", ID: "hall", Name: "Store", Points: []geom.Point{pt(4, 0.2), pt(4, 3.9)}}) // lengthened to both sides
	if area(s, "hall") != 16 || area(s, "store") != 8 || s.Devices["smoke-detector"].Room != "store" || !slices.Equal(s.Openings["hall-window"].Rooms, []site.RoomID{"store"}) {
		t.Errorf("%v, %+v", s.Rooms, acted)
	}
	if len(s.Walls) != 5 || len(acted.Goes) != 1 || acted.Say != "Hall, 16.0 m²; Store, 8.0 m²" {
		t.Errorf("%q %+v", walls(s), acted)
	}
	checkWalls(t, s)
	// A corner cut out of the hall, by a line with a bend.
	s, _ = do(t, s, draught.Operation{Op: "divide", Storey: "g", ID: "hall", Name: "Closet", Points: []geom.Point{pt(1, 4), pt(1, 3), pt(0, 3)}})
	if area(s, "hall") != 15 || area(s, "closet") != 1 || len(s.Rooms["hall"].Outline) != 6 {
		t.Errorf("%v", s.Rooms)
	}
	// And a niche whose line begins and ends on one side.
	s, _ = do(t, s, draught.Operation{Op: "divide", Storey: "g", ID: "hall", Name: "Niche", Points: []geom.Point{pt(1, 0), pt(1, 1), pt(2, 1), pt(2, 0)}})
	if area(s, "hall") != 14 || area(s, "niche") != 1 {
		t.Errorf("%v", s.Rooms)
	}
	checkWalls(t, s)
	for _, points := range [][]geom.Point{{pt(3, 3)}, {pt(1, 0), pt(3, 0)}, {pt(3, 0), pt(8, 8), pt(3, 4)}} {
		if draught.Do(nil, s, draught.Operation{Op: "divide", Storey: "g", ID: "hall", Points: points}).Refused == nil {
			t.Errorf("%v divides the hall", points)
		}
	}
	// A window at 4.4 to 5.6 m stands in the way of a wall at 5 m.
	if r := draught.Do(nil, s, draught.Operation{Op: "divide", Storey: "g", ID: "store", Points: []geom.Point{pt(5, 0), pt(5, 4)}}).Refused; r == nil || !strings.Contains(r.Say, "opening stands") {
		t.Errorf("%+v", r)
	}
}

func TestRoomsAreJoined(t *testing.T) {
	s := flat(t)
	s, _ = do(t, s, draught.Operation{Op: "device", Storey: "g", Model: "smoke", At: at(5, 2)})
	s, acted := do(t, s, draught.Operation{Op: "join", ID: "kitchen", From: "hall"})
	if area(s, "kitchen") != 18 || len(s.Rooms["kitchen"].Outline) != 4 || s.Devices["smoke-detector"].Room != "kitchen" || len(s.Rooms) != 2 {
		t.Errorf("%v", s.Rooms)
	}
	if _, there := s.Openings["hall-kitchen"]; there || !slices.Equal(s.Openings["hall-lounge"].Rooms, []site.RoomID{"kitchen", "lounge"}) || len(acted.Goes) != 2 {
		t.Errorf("%v %q", s.Openings, acted.Goes)
	}
	checkWalls(t, s)
	if r := draught.Do(nil, s, draught.Operation{Op: "join", ID: "kitchen", From: "hall"}).Refused; r == nil {
		t.Error("a room that is gone was joined")
	}
	far, _ := do(t, s, rect("Shed", 10, 10, 12, 12))
	if r := draught.Do(nil, far, draught.Operation{Op: "join", ID: "kitchen", From: "shed"}).Refused; r == nil || !strings.Contains(r.Say, "share no wall") {
		t.Errorf("%+v", r)
	}
}

func TestARoomGoesWithWhatIsItsOwn(t *testing.T) {
	s := flat(t)
	s, _ = do(t, s, draught.Operation{Op: "device", Storey: "g", Model: "smoke", At: at(3, 5)})
	s, acted := do(t, s, draught.Operation{Op: "room-out", ID: "lounge"})
	if len(s.Rooms) != 2 || s.Devices["smoke-detector"].Room != "" {
		t.Errorf("%v", s.Devices)
	}
	// The window-side door of the lounge goes with it; the two doors from kitchen and hall now lead outside.
	if len(s.Openings) != 3 || len(s.Openings["hall-lounge"].Rooms) != 1 || len(acted.Goes) != 4 {
		t.Errorf("%v %q", s.Openings, acted.Goes)
	}
	if len(s.Walls) != 7 {
		t.Errorf("%q", walls(s))
	}
	checkWalls(t, s)
}

func TestCornersComeAndGo(t *testing.T) {
	s := flat(t)
	s, _ = do(t, s, draught.Operation{Op: "corner-in", ID: "kitchen", At: at(2, 0.1)})
	if len(s.Rooms["kitchen"].Outline) != 5 {
		t.Errorf("%v", s.Rooms["kitchen"].Outline)
	}
	k := slices.IndexFunc(s.Rooms["kitchen"].Outline.Polygon(), func(p geom.Point) bool { return p == pt(2, 0) })
	s, _ = do(t, s, draught.Operation{Op: "corner", ID: "kitchen", Corner: k, At: at(2, -1)})
	if area(s, "kitchen") != 14 { // a triangle of 4 x 1 / 2 more
		t.Errorf("%v", area(s, "kitchen"))
	}
	checkWalls(t, s)
	s, _ = do(t, s, draught.Operation{Op: "corner-out", ID: "kitchen", Corner: k})
	if area(s, "kitchen") != 12 || len(s.Rooms["kitchen"].Outline) != 4 {
		t.Errorf("%v", s.Rooms["kitchen"].Outline)
	}
	checkWalls(t, s)
}

func TestARoomAloneIsMoved(t *testing.T) {
	s, _ := do(t, read(t, empty), rect("Shed", 0, 0, 2, 2))
	s, _ = do(t, s, draught.Operation{Op: "opening", Storey: "g", Kind: "door", At: at(1, 0)})
	s, _ = do(t, s, draught.Operation{Op: "device", Storey: "g", Model: "smoke", At: at(1, 1)})
	s, _ = do(t, s, rect("House", 5, 0, 9, 4))
	s, _ = do(t, s, draught.Operation{Op: "move", ID: "shed", At: at(3, 1)})
	if p := s.Rooms["shed"].Outline.Polygon(); p[0] != pt(3, 1) || s.Devices["smoke-detector"].At[0].String() != "4" || s.Openings["shed-door"].At[1].String() != "1" || len(s.Walls) != 7 {
		t.Errorf("%v %q", p, walls(s))
	}
	checkWalls(t, s)
	if r := draught.Do(nil, s, draught.Operation{Op: "move", ID: "shed", At: at(0, 0)}).Refused; r == nil || !strings.Contains(r.Say, "shares a wall with House") {
		t.Errorf("%+v", r)
	}
}

func TestMaterialsOfAPartOfAWall(t *testing.T) {
	s, err := site.DecodeYAML("", []byte(strings.ReplaceAll(empty, "models:", "materials: {stone: {name: Rubble stone, hatch: stone}}\nmodels:")))
	if err != nil {
		t.Fatal(err)
	}
	s, _ = do(t, s, rect("Hall", 0, 0, 6, 3))
	s, _ = do(t, s, rect("Kitchen", 0, 3, 4, 6)) // the hall's north wall is split at 4 m
	k := side(t, s, "kitchen", pt(0, 3), pt(4, 3))
	s, acted := do(t, s, draught.Operation{Op: "material", What: "side", ID: "kitchen", Side: k, Material: "stone", Thick: "24 in"})
	n := 0
	for _, w := range s.Walls {
		if w.Material == "stone" {
			n++
			if w.Thickness.String() != "24 in" || w.From[1].String() != "3" {
				t.Errorf("%+v", w)
			}
		}
	}
	if n != 1 || acted.Say != "Wall: Rubble stone" {
		t.Errorf("%d walls of stone, %q", n, acted.Say)
	}
	checkWalls(t, s)
}

func TestAWallInsideARoomFollows(t *testing.T) {
	s, _ := do(t, read(t, empty), rect("Office", 0, 0, 4, 4))
	s, acted := do(t, s, draught.Operation{Op: "wall", Storey: "g", Points: []geom.Point{pt(1, 4), pt(1, 3)}, Thick: "2 cm"})
	if acted.Made[0] != "/walls/wall" || s.Walls["wall"].Thickness.String() != "2 cm" {
		t.Errorf("%+v", acted)
	}
	s, _ = do(t, s, draught.Operation{Op: "side", ID: "office", Side: side(t, s, "office", pt(0, 4), pt(4, 4)), By: 1})
	if w := s.Walls["wall"]; w.From[1].String() != "5" || w.To[1].String() != "3" {
		t.Errorf("the cupboard's wall is %v %v", w.From, w.To)
	}
	s, _ = do(t, s, draught.Operation{Op: "wall-out", ID: "wall"})
	if len(s.Walls) != 4 {
		t.Errorf("%q", walls(s))
	}
}

func TestAStoreyIsCopied(t *testing.T) {
	s := flat(t)
	s, acted := do(t, s, draught.Operation{Op: "storey", Name: "Upper floor", From: "g"})
	st := s.Storeys["upper-floor"]
	if st.Level.String() != "2.9" || st.Ceiling.String() != "2.6 m" || st.Order != 1 {
		t.Errorf("%+v", st)
	}
	if len(s.Rooms) != 6 || len(s.Openings) != 8 || s.Rooms["upper-floor-kitchen"].Name != "Kitchen, Upper floor" || len(acted.Goes) != 1 {
		t.Errorf("%v %+v", s.Rooms, acted)
	}
	if o := s.Openings["upper-floor-hall-kitchen"]; !slices.Equal(o.Rooms, []site.RoomID{"upper-floor-hall", "upper-floor-kitchen"}) || o.Storey != "upper-floor" {
		t.Errorf("%+v", o)
	}
	s, _ = do(t, s, draught.Operation{Op: "storey", Name: "Cellar", Level: "-2.5 m", Height: "2.1 m"})
	if st := s.Storeys["cellar"]; st.Order != -1 || st.Ceiling.String() != "2.1 m" {
		t.Errorf("%+v", st)
	}
}

// A picture of 1000 by 500 pixels; 400 pixels are 8 m, so 1 pixel is 2 cm and the picture is 20 m wide.
func TestThePictureUnderThePlan(t *testing.T) {
	s, _ := do(t, read(t, empty), draught.Operation{Op: "trace", Storey: "g", Tracing: &draught.Trace{Blob: "9f2c", Width: 1000, Height: 500}})
	first := draught.OnPlan(*s.Storeys["g"].Tracing, pt(100, 100))
	s, acted := do(t, s, draught.Operation{Op: "trace", Storey: "g", Tracing: &draught.Trace{Pixels: []geom.Point{pt(100, 100), pt(420, 340)}, Length: "8 m"}}) // 320 and 240: 400
	tr := *s.Storeys["g"].Tracing
	if tr.Scale != 0.02 || acted.Say != "Picture under Ground floor, 20.00 m wide" {
		t.Errorf("%+v %q", tr, acted.Say)
	}
	if now := draught.OnPlan(tr, pt(100, 100)); now.Distance(first) > 0.001 {
		t.Errorf("the first place went from %v to %v", first, now)
	}
	if far := draught.OnPlan(tr, pt(420, 340)); math.Abs(far.Distance(first)-8) > 0.001 {
		t.Errorf("%v", far)
	}
	// The same line is a wall that lies at 3.2 degrees because the paper was askew: it is laid level.
	s, _ = do(t, s, draught.Operation{Op: "trace", Storey: "g", Tracing: &draught.Trace{Pixels: []geom.Point{pt(100, 100), pt(600, 72)}, Length: "10 m", Level: true}})
	tr = *s.Storeys["g"].Tracing
	p, q := draught.OnPlan(tr, pt(100, 100)), draught.OnPlan(tr, pt(600, 72))
	if math.Abs(p.Y-q.Y) > 0.002 || math.Abs(q.X-p.X-10) > 0.002 {
		t.Errorf("%v to %v, turn %v", p, q, tr.Turn)
	}
	s, _ = do(t, s, draught.Operation{Op: "trace", Storey: "g", Tracing: &draught.Trace{Off: true}})
	if s.Storeys["g"].Tracing != nil {
		t.Error("the picture is still there")
	}
	for _, tr := range []draught.Trace{{Pixels: []geom.Point{pt(0, 0), pt(1, 1)}, Length: "8 m"}, {Blob: "x"}, {}} {
		if draught.Do(nil, s, draught.Operation{Op: "trace", Storey: "g", Tracing: &tr}).Refused == nil {
			t.Errorf("%+v", tr)
		}
	}
}

func TestADrawingIsTaken(t *testing.T) {
	s, acted := do(t, read(t, empty), draught.Operation{Op: "take", Storey: "g", At: at(10, 0), Take: &draught.Outlines{
		Rooms: []draught.Outlined{
			{Name: "Hall", Points: []geom.Point{pt(0, 0), pt(3, 0), pt(3, 4), pt(0, 4)}},
			{Name: "Shadow", Points: []geom.Point{pt(1, 1), pt(2, 1), pt(2, 2), pt(1, 2)}},
			{Name: "Store", Points: []geom.Point{pt(3, 0), pt(5, 0), pt(5, 4), pt(3, 4)}},
		},
		Walls: []draught.WallLine{{From: pt(1, 0), To: pt(1, 2)}, {From: pt(3, 0), To: pt(3, 4)}},
	}})
	if len(s.Rooms) != 2 || len(s.Walls) != 8 || len(acted.Goes) != 1 || acted.Say != "2 rooms and 1 walls of the drawing" {
		t.Errorf("%q %+v", walls(s), acted)
	}
	if p := s.Rooms["store"].Outline.Polygon(); p[0] != pt(13, 0) {
		t.Errorf("%v", p)
	}
	checkWalls(t, s)
}
