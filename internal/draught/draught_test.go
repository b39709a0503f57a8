package draught_test

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"proofbell/geom"
	"proofbell/internal/draught"
	"proofbell/site"
)

func pt(x, y float64) geom.Point { return geom.Point{X: x, Y: y} }

func at(x, y float64) *geom.Point { return &geom.Point{X: x, Y: y} }

// fatal is what testing.T and rapid.T have in common.
type fatal interface {
	Helper()
	Errorf(format string, args ...any)
	Fatalf(format string, args ...any)
	Fatal(args ...any)
}

func read(t fatal, yaml string) *site.Site {
	t.Helper()
	s, err := site.DecodeYAML("test", []byte(yaml))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// after lays a patch over a site by way of its text, as a job book does, and sees to it that a site comes out.
func after(t fatal, s *site.Site, p site.Patch) *site.Site {
	t.Helper()
	raw, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	if raw, err = site.Apply(raw, p); err != nil {
		t.Fatal(err)
	}
	out, err := site.DecodeJSON("", raw)
	if err != nil {
		t.Fatalf("%s\nmakes no site: %v", p, err)
	}
	return out
}

// do does an operation that must be possible.
func do(t testing.TB, s *site.Site, o draught.Operation) (*site.Site, draught.Acted) {
	t.Helper()
	acted := draught.Do(nil, s, o)
	if acted.Refused != nil {
		t.Fatalf("%s is refused: %s %s", o.Op, acted.Refused.Say, acted.Refused.Try)
	}
	return after(t, s, acted.Patch), acted
}

const empty = `
storeys: {g: {name: Ground floor, level: 0 m, ceiling: 2.6 m}}
models: {smoke: {name: Smoke detector, class: smoke}, contact: {name: Door contact, class: contact}}
`

func rect(name string, x0, y0, x1, y1 float64) draught.Operation {
	return draught.Operation{Op: "room", Storey: "g", Name: name, Points: []geom.Point{pt(x0, y0), pt(x1, y1)}}
}

// walls lists the walls of a site as "id: x y - x y".
func walls(s *site.Site) []string {
	var out []string
	for _, id := range site.SortedIDs(s.Walls) {
		w := s.Walls[id]
		out = append(out, string(id)+": "+w.From[0].String()+" "+w.From[1].String()+" - "+w.To[0].String()+" "+w.To[1].String())
	}
	return out
}

func TestARoomHasItsWalls(t *testing.T) {
	s, acted := do(t, read(t, empty), rect("Kitchen", 0, 0, 4, 3))
	want := []string{"kitchen-east: 4 0 - 4 3", "kitchen-north: 4 3 - 0 3", "kitchen-south: 0 0 - 4 0", "kitchen-west: 0 3 - 0 0"}
	if got := walls(s); !slices.Equal(got, want) {
		t.Errorf("walls %q", got)
	}
	if acted.Say != "Kitchen, 12.0 m²" || acted.Made[0] != "/rooms/kitchen" || s.Rooms["kitchen"].Outline.Polygon().Area() != 12 {
		t.Errorf("%+v", acted)
	}
}

// A hall beside the kitchen shares its east wall. The hall is 5 m deep, so its west side has 2 m of wall of its own.
func TestSharedWallsStandOnce(t *testing.T) {
	s, _ := do(t, read(t, empty), rect("Kitchen", 0, 0, 4, 3))
	s, _ = do(t, s, rect("Hall", 4, 0, 6, 5))
	if w := s.Walls["hall-west"]; w.From[1].String() != "5" || w.To[1].String() != "3" || s.Walls["kitchen-east"].To[1].String() != "3" {
		t.Errorf("walls %q", walls(s))
	}
	// A store under the kitchen that meets a part of its south wall: the wall is split where it ends.
	s, _ = do(t, s, rect("Store", 0, -2, 1.5, 0))
	want := []string{"kitchen-south: 0 0 - 1.5 0", "kitchen-south-2: 1.5 0 - 4 0"}
	var got []string
	for _, w := range walls(s) {
		if strings.HasPrefix(w, "kitchen-south") {
			got = append(got, w)
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("walls %q", walls(s))
	}
	if len(s.Walls) != 4+4+1+3 { // kitchen 4, hall 4 with what is left at its west, one split, store 3 of its own
		t.Errorf("%d walls: %q", len(s.Walls), walls(s))
	}
}

// Nine feet six are 2.8956 m, and the text stays.
func TestTypedLengthsStay(t *testing.T) {
	o := rect("Kitchen", 0, 0, 1, 1)
	o.Width, o.Depth = "9 ft 6 in", "300 cm"
	s, _ := do(t, read(t, empty), o)
	c := s.Rooms["kitchen"].Outline[2]
	if c[0].String() != "9 ft 6 in" || c[1].String() != "300 cm" {
		t.Errorf("corner %v", c)
	}
	// A room at its side snaps to 2.8956 m though the hand says 2.896 m, and takes the text over.
	s, _ = do(t, s, rect("Hall", 2.896, 0, 5, 3))
	if x := s.Rooms["hall"].Outline[0][0].String(); x != "9 ft 6 in" {
		t.Errorf("the hall begins at %s", x)
	}
	if len(s.Walls) != 7 {
		t.Errorf("walls %q", walls(s))
	}
	// To the left, too: the second corner says where to.
	o = rect("Store", 0, 0, -1, 1)
	o.Width = "2 ft"
	s, _ = do(t, s, o)
	if x := s.Rooms["store"].Outline.Polygon(); math.Abs(x.Area()-0.6096) > 1e-9 {
		t.Errorf("the store is %v, %v", s.Rooms["store"].Outline, x.Area())
	}
}

func TestRoomsThatCanNotBe(t *testing.T) {
	s, _ := do(t, read(t, empty), rect("Kitchen", 0, 0, 4, 3))
	cross := draught.Operation{Op: "room", Storey: "g", Name: "Bow", Points: []geom.Point{pt(10, 0), pt(12, 2), pt(12, 0), pt(10, 2)}}
	far := rect("Far", 0, 10, 1, 1)
	far.Width = "20000 m"
	bad := rect("Bad", 10, 10, 12, 12)
	bad.Width = "2,5 m"
	for _, c := range []struct {
		name, say string
		o         draught.Operation
		placed    bool
	}{
		{"over the kitchen", "would lie over Kitchen", rect("Hall", 2, 1, 6, 2), true},
		{"within the kitchen", "would lie over Kitchen", rect("Hall", 1, 1, 2, 2), true},
		{"round the kitchen", "would lie over Kitchen", rect("Hall", -1, -1, 6, 6), true},
		{"the kitchen again", "would lie over Kitchen", rect("Hall", 0, 0, 4, 3), true},
		{"crossing itself", "would cross or touch itself", cross, true},
		{"no area", "", rect("Hall", 5, 5, 5, 8), false},
		{"far", "10 km", far, false},
		{"a comma", "comma", bad, false},
		{"no storey", "no storey", draught.Operation{Op: "room", Storey: "x"}, false},
		{"no corners", "0 corners", draught.Operation{Op: "room", Storey: "g"}, false},
		{"a wall that begins out of reach", "10 km", draught.Operation{Op: "wall", Storey: "g", Points: []geom.Point{pt(10000.01, 0), pt(0, 0)}}, false}, // found by a file
		{"a side that moves nowhere", "10 km", draught.Operation{Op: "side", ID: "kitchen", By: math.NaN()}, false},
		{"no such operation", "knows no operation", draught.Operation{Op: "x", Storey: "g"}, false},
	} {
		r := draught.Do(nil, s, c.o).Refused
		if r == nil || !strings.Contains(r.Say, c.say) || r.Try == "." || c.placed && r.At == nil {
			t.Errorf("%s: %+v", c.name, r)
		}
	}
}

func TestDoorsGoToTheNearestWall(t *testing.T) {
	s, _ := do(t, read(t, empty), rect("Kitchen", 0, 0, 4, 3))
	hall := rect("Hall", 4, 0, 6, 3)
	hall.Use = "hall"
	s, _ = do(t, s, hall)
	s, acted := do(t, s, draught.Operation{Op: "opening", Storey: "g", Kind: "door", At: at(4.2, 1.5)})
	o := s.Openings["hall-kitchen"]
	if acted.Made[0] != "/openings/hall-kitchen" || o.At[0].String() != "4" || o.At[1].String() != "1.5" || o.Swing != "kitchen" || o.Rooms[0] != "hall" || len(o.Rooms) != 2 || acted.Say != "Door, between Hall and Kitchen" {
		t.Errorf("%+v %+v", o, acted)
	}
	// Another in the same wall goes to where there is room: 0.9 wide, 5 cm beside the first at 1.05 to 1.95, so at 2.45.
	s, _ = do(t, s, draught.Operation{Op: "opening", Storey: "g", Kind: "door", At: at(3.9, 1.7)})
	if o := s.Openings["hall-kitchen-2"]; math.Abs(o.At[1].SI()-2.45) > 1e-9 {
		t.Errorf("the second door stands at %v", o.At)
	}
	for _, c := range []struct {
		say string
		o   draught.Operation
	}{
		{"does not fit", draught.Operation{Op: "opening", Storey: "g", Kind: "door", Width: "2 m", At: at(4, 1.5)}},
		{"no wall here", draught.Operation{Op: "opening", Storey: "g", Kind: "door", At: at(2, 1.5)}},
		{"no kind", draught.Operation{Op: "opening", Storey: "g", Kind: "gate", At: at(4, 1.5)}},
		{"no opening", draught.Operation{Op: "opening", Storey: "g", ID: "x", At: at(4, 1.5)}},
	} {
		if r := draught.Do(nil, s, c.o).Refused; r == nil || !strings.Contains(r.Say, c.say) {
			t.Errorf("%q: %+v", c.say, r)
		}
	}
	// A way to the outside becomes one into the room that is drawn there.
	s, _ = do(t, s, draught.Operation{Op: "opening", Storey: "g", Kind: "door", Width: "0.8 m", At: at(2, 3.1)})
	s, _ = do(t, s, rect("Pantry", 1, 3, 3, 5))
	if o := s.Openings["kitchen-door"]; len(o.Rooms) != 2 || o.Rooms[1] != "pantry" || o.Width.String() != "0.8 m" {
		t.Errorf("%+v", o)
	}
}

func TestThingsKnowTheirRoomAndHeight(t *testing.T) {
	s, _ := do(t, read(t, empty), rect("Kitchen", 0, 0, 4, 3))
	hall := rect("Hall", 4, 0, 6, 3)
	s, _ = do(t, s, hall)
	s, acted := do(t, s, draught.Operation{Op: "device", Storey: "g", Model: "smoke", At: at(2, 1.5)})
	d := s.Devices["smoke-detector"]
	if d.Room != "kitchen" || d.At[2].String() != "2.6" || acted.Say != "Smoke detector in Kitchen" {
		t.Errorf("%+v", d)
	}
	s, _ = do(t, s, draught.Operation{Op: "device", Storey: "g", ID: "smoke-detector", At: at(5, 1.5)})
	if d := s.Devices["smoke-detector"]; d.Room != "hall" || d.At[0].String() != "5" || d.At[2].String() != "2.6" {
		t.Errorf("%+v", d)
	}
	s, _ = do(t, s, draught.Operation{Op: "head", Storey: "g", Kind: "co", At: at(1, 1)})
	if h := s.Heads["alarm"]; h.Room != "kitchen" || h.At[2].String() != "1.5" {
		t.Errorf("%+v", h)
	}
	if r := draught.Do(nil, s, draught.Operation{Op: "device", Storey: "g", Model: "smoke", At: at(20, 20)}).Refused; r == nil || r.At == nil {
		t.Errorf("outside of every room: %+v", r)
	}
}
