package building_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"proofbell/demo"
	"proofbell/geom"
	"proofbell/internal/building"
	"proofbell/internal/words"
	"proofbell/site"
)

func mill(t *testing.T) (*site.Site, *building.Building) {
	t.Helper()
	s, err := site.DecodeYAML("larkwater.yaml", demo.Corrected)
	if err != nil {
		t.Fatal(err)
	}
	return s, building.Of(s)
}

// names says what a ray passes through, as the site names it.
func names(b *building.Building, from, to geom.Point3) []string {
	var out []string
	for _, c := range b.Crossed(from, to) {
		if c.Piece < 0 {
			out = append(out, string(b.Floors[c.Floor].Material))
			continue
		}
		out = append(out, string(b.Pieces[c.Piece].Material))
	}
	return out
}

// Worked by hand on the scenario's drawing: from the panel at (11, 8.6), 1.5 m up, inside its cupboard.
func TestCrossedInTheMill(t *testing.T) {
	_, b := mill(t)
	panel := geom.Point3{X: 11, Y: 8.6, Z: 1.5}
	for _, c := range []struct {
		name string
		from geom.Point3
		want []string
	}{
		{"office smoke: only the cupboard", geom.Point3{X: 12, Y: 7.4, Z: 2.6}, []string{"foil-board"}},
		// Line to (8, 2.5): x = 10 at a third of the way, y = 6.57, in the door 6.55 to 7.45 but 1.87 m up: the leaf. At
		// y = 5, x = 9.2, 2.15 m up: brick.
		{"hall smoke", geom.Point3{X: 8, Y: 2.5, Z: 2.6}, []string{"brick", "timber-door", "foil-board"}},
		// From the upper floor down: partition y 5.4, then the floor 2.9 m up.
		{"landing smoke", geom.Point3{X: 9.5, Y: 4.7, Z: 5.3}, []string{"stud", "joist-floor", "foil-board"}},
		// The wing has no upper floor: no floor is passed although the line starts above 2.9 m. At x = 18 y = 5.19, behind the
		// wheel room's south wall; at x = 14 y = 7.14 and 1.94 m up: the steel leaf.
		{"wing heat", geom.Point3{X: 22.5, Y: 3, Z: 3.2}, []string{"rubble-stone", "steel-fire-door", "foil-board"}},
	} {
		got := names(b, c.from, panel)
		if len(got) != len(c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
			continue
		}
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%s: %v, want %v", c.name, got, c.want)
				break
			}
		}
	}
}

// A flat of two rooms, written without walls: bare outlines, one door without place or width.
const bare = `
storeys: {g: {name: Ground floor}}
rooms:
  A: {name: Hall, storey: g, outline: [[0, 0], [4, 0], [4, 5], [0, 5]], use: hall}
  B: {name: Bedroom, storey: g, outline: [[4, 0], [8, 0], [8, 5], [4, 5]], use: bedroom}
openings:
  d: {kind: door, rooms: [A, B]}
`

func of(t *testing.T, text string) *building.Building {
	t.Helper()
	s, err := site.DecodeYAML("site.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return building.Of(s)
}

func TestBareOutlinesGetWallsAndSaySo(t *testing.T) {
	b := of(t, bare)
	a, _ := b.RoomOf("A")
	bedroom, _ := b.RoomOf("B")
	if r := b.Rooms[bedroom]; math.Abs(r.Area-20) > 1e-9 || math.Abs(r.Volume-48) > 1e-9 || !r.Sleeping {
		t.Errorf("bedroom: %v m2, %v m3 (4 x 5 x 2.4 m)", r.Area, r.Volume)
	}
	// Between the rooms 5 m of wall, 2.4 m high, with a door of 0.9 by 2 m in the middle; round them 26 - 2 x 5 + ... m.
	between, door, outer := 0.0, 0.0, 0.0
	for _, p := range b.Pieces {
		switch inner := p.Rooms[0] != building.Outside && p.Rooms[1] != building.Outside; {
		case p.Kind == "door":
			door += p.Area()
			if p.As != "hollow-door" || p.Rooms != [2]int{a, bedroom} && p.Rooms != [2]int{bedroom, a} {
				t.Errorf("door %+v", p)
			}
			if c := p.A.Add(p.B).Scale(0.5); c.Distance(geom.Point{X: 4, Y: 2.5}) > 1e-9 {
				t.Errorf("the door is at %v", c)
			}
		case inner:
			between += p.Area()
			if p.As != "stud-wall" || !p.Assumed {
				t.Errorf("inner wall %+v", p)
			}
		default:
			outer += p.Area()
			if p.As != "masonry" || !p.Assumed {
				t.Errorf("outer wall %+v", p)
			}
		}
	}
	for _, c := range [][2]float64{{between, 5*2.4 - 1.8}, {door, 1.8}, {outer, 26 * 2.4}} {
		if math.Abs(c[0]-c[1]) > 1e-9 {
			t.Errorf("%v m2, want %v", c[0], c[1])
		}
	}
	said := strings.Join(b.Assumptions(nil), "\n")
	for _, want := range []string{"no ceiling height", "Hall: no wall drawn along 18.0 m", "Bedroom: no wall drawn along 13.0 m", "d: no place given", "d: no width given", "d: no material given"} {
		if !strings.Contains(said, want) {
			t.Errorf("not said: %s\n%s", want, said)
		}
	}
	if german := strings.Join(b.Assumptions(words.In("de")), "\n"); strings.Contains(german, "taken as") {
		t.Error(german)
	}
}

func TestWhatIsDrawnTwiceStandsOnce(t *testing.T) {
	b := of(t, `
storeys: {g: {name: Ground floor, level: 0, ceiling: 2.5}}
rooms:
  A: {name: Hall, storey: g, outline: [[0, 0], [4, 0], [4, 5], [0, 5]]}
  B: {name: Bedroom, storey: g, outline: [[4, 0], [8, 0], [8, 5], [4, 5]]}
materials: {brick: {name: Brick, as: brick}}
walls:
  one: {storey: g, from: [4, 0], to: [4, 5], thickness: 0.11, material: brick}
  two: {storey: g, from: [4, 5], to: [4, 0], thickness: 0.11, material: brick}
  long: {storey: g, from: [4, -3], to: [4, 3], thickness: 0.11, material: brick}
openings:
  way: {kind: passage, storey: g, at: [4, 1], width: 1.2, rooms: [A, B]}
  window: {kind: window, storey: g, at: [0, 2], width: 1, rooms: [A]}
`)
	at := func(x, y, z float64) geom.Point3 { return geom.Point3{X: x, Y: y, Z: z} }
	for _, c := range []struct {
		name     string
		from, to geom.Point3
		want     int
	}{
		{"one wall drawn three times", at(3, 2, 1), at(5, 2, 1), 1},
		{"its own part of the long one", at(3, -1, 1), at(5, -1, 1), 1},
		{"the passage, as an open piece", at(3, 1, 1), at(5, 1, 1), 1},
	} {
		got := b.Crossed(c.from, c.to)
		if len(got) != c.want {
			t.Errorf("%s: %d pieces", c.name, len(got))
		}
	}
	way := b.Pieces[b.Crossed(at(3, 1, 1), at(5, 1, 1))[0].Piece]
	if l := b.SoundLoss(way.Made, 3000); !way.Open || !l.Known || l.DB != 0 {
		t.Errorf("passage: %+v", l)
	}
	if above := b.Pieces[b.Crossed(at(3, 1, 2.2), at(5, 1, 2.2))[0].Piece]; above.Kind != "" || above.Material != "brick" {
		t.Errorf("above the passage: %+v", above)
	}
	// A window from 0.9 to 2.1 m in an assumed wall: below it, in it, above it.
	for z, kind := range map[float64]string{0.5: "", 1.5: "window", 2.3: ""} {
		c := b.Crossed(at(1, 2, z), at(-1, 2, z))
		if len(c) != 1 || b.Pieces[c[0].Piece].Kind != kind {
			t.Errorf("at %v m: %+v", z, c)
		}
	}
}

// The pieces of each drawn wall fill it: their areas add up to its length times its height.
func TestPiecesFillTheWallsOfTheMill(t *testing.T) {
	s, b := mill(t)
	area := map[site.WallID]float64{}
	for _, p := range b.Pieces {
		area[p.Wall] += p.Area()
	}
	for id, w := range s.Walls {
		from, _ := w.From.Point()
		to, _ := w.To.Point()
		height := 2.9 // up to the floor above
		switch {
		case w.Storey == "upper":
			height = 2.6
		case strings.HasPrefix(string(id), "wing-"):
			height = 3.3
		}
		if want := from.Distance(to) * height; math.Abs(area[id]-want) > 1e-6 {
			t.Errorf("wall %s: %v m2, want %v", id, area[id], want)
		}
	}
	if len(b.Left) > 0 || len(b.Assumed) != 1 {
		t.Errorf("left out %v, assumed %v", b.LeftOut(nil), b.Assumptions(nil))
	}
	// Each room's own sides: what its pieces cover below the ceiling is its outline.
	for i, r := range b.Rooms {
		var round float64
		for k := range r.Outline {
			round += r.Outline.Side(k).Length()
		}
		var sum float64
		for _, p := range b.Pieces {
			if (p.Rooms[0] == i) != (p.Rooms[1] == i) {
				sum += p.Area() / (b.Storeys[r.Storey].Top - r.Z0)
			}
		}
		if r.ID[0] == 'F' && math.Abs(sum-round) > 1e-6 {
			t.Errorf("%s: %v m of wall round it, outline %v m", r.ID, sum, round)
		}
	}
	// Floor between landing and hall: 4 x 1 m in common, of which the stair takes 1 m2.
	hall, _ := b.RoomOf("G1")
	landing, _ := b.RoomOf("F1")
	for _, p := range b.Floors[1].Parts {
		if p.Above == landing && p.Below == hall && math.Abs(p.Area-3) > 1e-9 {
			t.Errorf("floor between landing and hall: %v m2", p.Area)
		}
	}
}

func TestWalksInTheMill(t *testing.T) {
	_, b := mill(t)
	room := func(id site.RoomID) int { i, _ := b.RoomOf(id); return i }
	// From the middle of Hazel out of its door, along the landing to the stair, down 2.9 m, and out by the front door.
	w, ok := b.Walk(geom.Point{X: 15, Y: 2}, room("F4"), geom.Point{X: 8, Y: 0}, room("G1"))
	want := 2 + math.Hypot(7, 0.5) + 1.6*2.9 + 4.5
	if !ok || math.Abs(w.Metres-want) > 1e-9 || w.Shut != 1 || !slices.Equal(w.Doors, []site.OpeningID{"hazel", "stair"}) {
		t.Errorf("%+v, want %v m", w, want)
	}
	if w, ok := b.Walk(geom.Point{X: 1, Y: 1}, room("G2"), geom.Point{X: 4, Y: 5}, room("G2")); !ok || w.Metres != 5 || len(w.Doors) != 0 {
		t.Errorf("within a room: %+v", w)
	}
	// There and back is as far.
	for _, to := range b.Rooms {
		there, ok := b.Walk(geom.Point{X: 12, Y: 7}, room("G6"), to.Inside(), room(to.ID))
		back, again := b.Walk(to.Inside(), room(to.ID), geom.Point{X: 12, Y: 7}, room("G6"))
		if ok != again || math.Abs(there.Metres-back.Metres) > 1e-9 || there.Shut != back.Shut {
			t.Errorf("%s: %+v and back %+v", to.ID, there, back)
		}
	}
	if _, ok := of(t, strings.Replace(bare, "openings:\n  d: {kind: door, rooms: [A, B]}\n", "", 1)).Walk(geom.Point{X: 1, Y: 1}, 0, geom.Point{X: 5, Y: 1}, 1); ok {
		t.Error("a way without a door")
	}
}

func TestLosses(t *testing.T) {
	b := of(t, `
storeys: {g: {name: Ground floor}}
materials:
  own: {name: Own, as: brick, soundLoss: 44 dB, radioLoss: 7 dB}
  quiet: {name: Quiet, as: hollow-door, radioLoss: 9 dB}
  nothing: {name: Mystery}
  lead: {name: Lead, as: steel-door}
`)
	m := func(id site.MaterialID, as string) building.Made { return building.Made{Material: id, As: as} }
	for _, c := range []struct {
		name       string
		got        building.Loss
		db         float64
		confidence string
	}{
		{"own sound", b.SoundLoss(m("own", "brick"), 3000), 44, "own"},
		{"own radio", b.RadioLoss(m("own", "brick"), 2440), 7, "own"},
		{"hollow door at 3.1 kHz: 15 to 20", b.SoundLoss(m("quiet", "hollow-door"), 3100), 20, "M"},
		{"hollow door at 520 Hz: 12 to 16", b.SoundLoss(m("", "hollow-door"), 520), 16, "M"},
		{"stud wall at 915 MHz: 2 to 3", b.RadioLoss(m("", "stud-wall"), 915), 3, "M"},
		{"masonry at 868 MHz: the column is for 868 to 915", b.RadioLoss(m("", "masonry"), 868), 14, "M"},
		{"masonry at 315 MHz: the column is for 315 to 433", b.RadioLoss(m("", "masonry"), 315), 10, "M"},
		// Halfway between 433 and 868 MHz by logarithm, sqrt(433 x 868) = 613.06 MHz: 10 and 14 make 12.
		{"masonry below 868 MHz", b.RadioLoss(m("", "masonry"), 613.06), 12, "M"},
		{"brick at 433.92 MHz: 3 to 5", b.RadioLoss(m("", "brick"), 433), 5, "M"},
		// Halfway between 915 and 2400 MHz by logarithm, 1482 MHz: 14 and 20 make 17.
		{"masonry between the bands", b.RadioLoss(m("", "masonry"), 1481.9), 17, "M"},
		{"reinforced concrete stands on other figures", b.SoundLoss(m("", "reinforced-concrete"), 520), 50, "L"},
		{"open", b.RadioLoss(building.Made{Open: true}, 915), 0, "H"},
	} {
		if !c.got.Known || math.Abs(c.got.DB-c.db) > 0.051 || c.got.Confidence != c.confidence || c.got.Low > c.got.DB {
			t.Errorf("%s: %+v", c.name, c.got)
		}
	}
	for name, l := range map[string]building.Loss{
		"no figure and no construction": b.SoundLoss(m("nothing", ""), 3000),
		"steel for sound":               b.SoundLoss(m("lead", "steel-door"), 3000),
		"steel for radio":               b.RadioLoss(m("lead", "steel-door"), 868),
		"beyond the tables":             b.RadioLoss(m("", "brick"), 5800),
		"no frequency":                  b.RadioLoss(m("", "brick"), 0),
	} {
		if l.Known || l.Source.In(nil) == "" {
			t.Errorf("%s: %+v", name, l)
		}
	}
	// Every word of the site file has a table behind it; metal is blocked unless it was tried.
	for _, as := range site.Words("construction") {
		metal := as == "steel-door" || as == "sheet-metal"
		if l := b.RadioLoss(m("", as), 868); l.Known == metal || building.Construction(as).In(nil) == as {
			t.Errorf("%s: %+v", as, l)
		}
	}
}
