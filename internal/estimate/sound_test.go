package estimate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"proofbell/acoustics"
	"proofbell/demo"
	"proofbell/geom"
	"proofbell/internal/building"
	"proofbell/quantity"
	"proofbell/site"
)

var need = SoundNeed{
	Sleeping:  acoustics.Demand{OverAverage: 15, OverLoudest: 5, Least: 75},
	Elsewhere: acoustics.Demand{OverAverage: 15, OverLoudest: 5, Least: 65},
	Most:      110, SleepingSource: "sleeping", ElsewhereSource: "elsewhere", MostSource: "most",
}

func siteOf(t testing.TB, text string) *site.Site {
	t.Helper()
	s, err := site.DecodeYAML("test.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func soundOf(s *site.Site, o SoundOptions) *Sound { return NewSound(s, building.Of(s), o) }

func rowOf(t testing.TB, m *Sound, room site.RoomID, bed site.BedID) SoundRow {
	t.Helper()
	return m.Row(nil, need, room, bed)
}

// Two rooms of 2.5 m: a hall of 4 x 5 m and a bedroom of 6 x 5 m, with a wall of 5 m between and a door of 0.9 x 2.0 m in it.
const twoRooms = `
storeys: {g: {name: Ground, level: 0, ceiling: 2.5}}
materials:
  wall: {name: Wall, soundLoss: 35 dB}
  leaf: {name: Leaf, soundLoss: 20 dB}
rooms:
  H: {name: Hall, storey: g, outline: [[0, 0], [4, 0], [4, 5], [0, 5]], use: hall, decay: 0.8 s}
  B: {name: Bedroom, storey: g, outline: [[4, 0], [10, 0], [10, 5], [4, 5]], sleeping: true, ambient: 30 dBA, decay: 0.5 s, beds: {"1": {at: [9, 2.5]}}}
walls:
  w: {storey: g, from: [4, 0], to: [4, 5], thickness: 0.1, material: wall}
openings:
  d: {kind: door, storey: g, at: [4, 2.5], width: 0.9, rooms: [H, B], material: leaf}
heads:
  M1: {kind: smoke, group: M, room: H, at: [2, 2.5, 2.5], level: 85 dBA}
groups: {M: {link: wired}}
`

// By hand. Hall: V 50 m³, A = 0.161 x 50 / 0.8 = 10.0625; S = 40 + 18 x 2.5 = 85. Bedroom: V 75, A = 24.15.
// Lw for Q 2 is 85 + 10 log(4 pi 9 / 2) = 102.524. Shut: T = 1.8 x 0.01 + 10.7 x 10^-3.5 = 0.0213836.
// E1 (A1 + T) = 4 W (1 - 10.0625/85) + T E2 and E2 (A2 + T) = T E1: 10 log E1 = 102.524 + 10 log(4 x 0.88162 / 10.0839) =
// 97.96, E2 = E1 x 0.0213836 / 24.1714, 30.53 dB less: 67.43 dBA. Straight: 7.253 m (7 along, 1.9 down), through the door or the wall above: at
// x = 4 it is 2.5 - 1.9 x 2/7 = 1.957 m up, in the door: 102.524 + 10 log(2 / (4 pi 52.61)) - 20 = 57.33 dBA. Together 67.83.
func TestTwoRoomsByHand(t *testing.T) {
	s := siteOf(t, twoRooms)
	r := rowOf(t, soundOf(s, SoundOptions{}), "B", "1")
	if r.Level == nil || math.Abs(*r.Level-67.8) > 0.051 || *r.Required != 75 || math.Abs(*r.Margin+7.2) > 0.051 || r.Uncertainty != 6 || r.Verdict != TooLittle || r.Carries != "/heads/M1" {
		t.Errorf("shut: %+v", r)
	}
	if w := r.Without; w == nil || *w.Level != 0 || w.Verdict != TooLittle || w.CarriesSay != "" {
		t.Errorf("without the only one: %+v", w)
	}
	// Open: T = 1.8 + 10.7 x 10^-3.5 = 1.80338. E2 = E1 T / 25.953, E1 (11.8659 - T x 0.069486) = 4 W 0.88162:
	// E1 = 102.524 + 10 log(3.52648 / 11.7406) = 97.30, E2 = 97.30 - 11.58 = 85.72; straight 77.33. Together 86.31.
	r = rowOf(t, soundOf(s, SoundOptions{Doors: Open}), "B", "1")
	if math.Abs(*r.Level-86.3) > 0.051 || r.Verdict != Enough {
		t.Errorf("open: %+v", r)
	}
	// In the hall, no bed: the echoes alone, by an alarm in the room.
	r = rowOf(t, soundOf(s, SoundOptions{}), "H", "")
	if math.Abs(*r.Level-98.0) > 0.051 || r.Uncertainty != 3 || *r.Required != 65 {
		t.Errorf("hall: %+v", r)
	}
	// Two equal alarms at one place: the loudest stays, the sum is 3.01 dB more.
	two := siteOf(t, strings.Replace(twoRooms, "heads:\n", "heads:\n  M2: {kind: smoke, group: M, room: H, at: [2, 2.5, 2.5], level: 85 dBA}\n", 1))
	r = rowOf(t, soundOf(two, SoundOptions{}), "B", "1")
	if math.Abs(*r.Level-67.8) > 0.051 || math.Abs(*r.Sum-*r.Level-3.01) > 0.051 || *r.Without.Level != *r.Level {
		t.Errorf("two equal ones: %+v", r)
	}
}

func TestWhatIsNotKnownIsSaid(t *testing.T) {
	// A wall whose loss nobody knows counts as tight: nothing is sure but what is enough all the same.
	unknown := strings.Replace(strings.Replace(twoRooms, "{name: Wall, soundLoss: 35 dB}", "{name: Wall}", 1), "{name: Leaf, soundLoss: 20 dB}", "{name: Leaf}", 1)
	r := rowOf(t, soundOf(siteOf(t, unknown), SoundOptions{}), "B", "1")
	if r.Verdict != NotDetermined || len(r.Missing) == 0 {
		t.Errorf("unknown wall: %+v", r)
	}
	r = rowOf(t, soundOf(siteOf(t, strings.Replace(unknown, "room: H, at: [2, ", "room: B, at: [7, ", 1)), SoundOptions{}), "B", "1")
	if r.Verdict != Enough {
		t.Errorf("an alarm in the room: %+v", r)
	}
	m := soundOf(siteOf(t, twoRooms), SoundOptions{})
	if r := rowOf(t, m, "X", ""); r.Verdict != NotDetermined || len(r.Missing) == 0 {
		t.Errorf("a room that is not there: %+v", r)
	}
	// A plant room has an ambient of its own; nobody measured it.
	r = rowOf(t, soundOf(siteOf(t, strings.Replace(twoRooms, "use: hall", "use: plant", 1)), SoundOptions{}), "H", "")
	if r.Required != nil || r.Verdict != NotDetermined || r.Level == nil {
		t.Errorf("ambient not known: %+v", r)
	}
	if r := rowOf(t, soundOf(siteOf(t, `rooms: {A: {name: A, use: bedroom}}`), SoundOptions{}), "A", ""); r.Verdict != NotDetermined || len(r.Missing) == 0 {
		t.Errorf("a bare name: %+v", r)
	}
}

// What stands alone counts in its own room, unless nothing is joined; the panel's sounders go with the group that a bridge hears.
func TestWhoSoundsTogether(t *testing.T) {
	alone := strings.Replace(twoRooms, "group: M, ", "", 1)
	if r := rowOf(t, soundOf(siteOf(t, alone), SoundOptions{}), "B", "1"); math.Abs(*r.Level-67.8) > 0.051 {
		t.Errorf("nothing is joined: %+v", r)
	}
	joined := strings.Replace(alone, "heads:\n", "heads:\n  M2: {kind: smoke, group: M, room: H, at: [2, 2.5, 2.5], level: 65 dBA}\n  M3: {kind: smoke, group: M, room: H, at: [2, 2.5, 2.5], level: 65 dBA}\n", 1)
	if r := rowOf(t, soundOf(siteOf(t, joined), SoundOptions{}), "B", "1"); math.Abs(*r.Level-47.8) > 0.051 || r.Carries != "/heads/M2" {
		t.Errorf("the loud one stands alone: %+v", r)
	}
	panel := joined + `
models:
  sounder: {name: Sounder, class: sounder, level: 90 dBA, tone: 520 Hz}
  bridge: {name: Bridge, class: bridge, terminals: {A: {senses: three-pulse}}}
devices:
  s: {model: sounder, room: H, at: [2, 2.5, 2.5]}
  b: {model: bridge, room: H, hears: M}
`
	if r := rowOf(t, soundOf(siteOf(t, panel), SoundOptions{}), "B", "1"); math.Abs(*r.Sum-72.8) > 0.051 || math.Abs(*r.Level-47.8) > 0.051 {
		t.Errorf("nobody tells the panel: %+v", r) // 67.8 + 5 by the sounder, and the group is heard least
	}
	told := panel + `zones: {"01": {device: b, terminal: A}}` + "\n"
	r := rowOf(t, soundOf(siteOf(t, told), SoundOptions{}), "B", "1")
	if math.Abs(*r.Level-72.8) > 0.051 || r.Carries != "/devices/s" || !(*r.Sum > *r.Level) {
		t.Errorf("the bridge tells the panel: %+v", r)
	}
}

func TestJudge(t *testing.T) {
	for _, c := range []struct {
		margin, uncertainty float64
		want                Verdict
	}{{6, 6, Enough}, {5.9, 6, Doubtful}, {0, 3, Doubtful}, {-5.9, 6, Doubtful}, {-6, 6, TooLittle}, {5.96, 6, Enough}, {math.NaN(), 6, NotDetermined}} {
		if got := Judge(c.margin, c.uncertainty); got != c.want {
			t.Errorf("%v ± %v: %s, want %s", c.margin, c.uncertainty, got, c.want)
		}
	}
}

// moved is a site turned, mirrored and moved as a whole.
func moved(s *site.Site, angle float64, mirror bool) *site.Site {
	place := func(c site.Coordinates) site.Coordinates {
		p, ok := c.Point()
		if !ok {
			return c
		}
		if mirror {
			p.X = -p.X
		}
		x, y := p.X*math.Cos(angle)-p.Y*math.Sin(angle)+31.7, p.X*math.Sin(angle)+p.Y*math.Cos(angle)-12.3
		out := site.Coordinates{length(x), length(y)}
		return append(out, c[2:]...)
	}
	t := *s
	t.Rooms, t.Walls, t.Openings, t.Heads, t.Devices = map[site.RoomID]site.Room{}, map[site.WallID]site.Wall{}, map[site.OpeningID]site.Opening{}, map[site.HeadID]site.Head{}, map[site.DeviceID]site.Device{}
	for id, r := range s.Rooms {
		var o site.Outline
		for _, c := range r.Outline {
			o = append(o, place(c))
		}
		r.Outline = o
		beds := map[site.BedID]site.Bed{}
		for bed, b := range r.Beds {
			b.At = place(b.At)
			beds[bed] = b
		}
		r.Beds = beds
		t.Rooms[id] = r
	}
	for id, w := range s.Walls {
		w.From, w.To = place(w.From), place(w.To)
		t.Walls[id] = w
	}
	for id, o := range s.Openings {
		o.At = place(o.At)
		t.Openings[id] = o
	}
	for id, h := range s.Heads {
		h.At = place(h.At)
		t.Heads[id] = h
	}
	for id, d := range s.Devices {
		d.At = place(d.At)
		t.Devices[id] = d
	}
	return &t
}

func length(m float64) quantity.Length {
	return quantity.MustParse[quantity.LengthDimension](fmt.Sprintf("%.9f m", m))
}

// A building that is turned or mirrored sounds as before. Every room has a bed, off the lines of doors.
func TestTurnedAndMirroredItSoundsTheSame(t *testing.T) {
	s := siteOf(t, string(demo.Corrected))
	for id, r := range s.Rooms {
		low, high := r.Outline.Polygon().Bounds()
		r.Beds = map[site.BedID]site.Bed{"1": {At: site.Coordinates{length(low.X + 0.31*(high.X-low.X)), length(low.Y + 0.27*(high.Y-low.Y))}}}
		s.Rooms[id] = r
	}
	before := soundOf(s, SoundOptions{}).View(nil, need)
	for _, angle := range []float64{0, 0.4, math.Pi / 2, 2.9} {
		for _, mirror := range []bool{false, true} {
			after := soundOf(moved(s, angle, mirror), SoundOptions{}).View(nil, need)
			for i, a := range before.Rows {
				b := after.Rows[i]
				// Two alarms may be equally loud: who is named may then change, the level may not.
				if a.Room != b.Room || a.Verdict != b.Verdict || math.Abs(*a.Level-*b.Level) > 0.1001 || math.Abs(*a.Sum-*b.Sum) > 0.1001 || a.Uncertainty != b.Uncertainty {
					t.Errorf("by %v, mirrored %v: %s %s %v became %s %v", angle, mirror, a.Room, a.Verdict, *a.Level, b.Verdict, *b.Level)
				}
			}
		}
	}
}

// A reading explained by the model with planted parameters and noise of 1 dB: the intervals hold what was planted in about
// 95 of 100 cases; of 80 samples fewer than 70 would come once in a thousand times.
func TestCalibrationRecoversWhatWasPlanted(t *testing.T) {
	s := siteOf(t, twoRooms)
	planted := adjust{level: 2.5, door: -4, absorption: 1.2}
	var places []SoundReading
	for _, doors := range []Doors{Shut, Open} {
		for i, room := range []site.RoomID{"H", "B", "H", "B", "H", "B"} {
			at := geom.Point3{X: 0.6 + 0.45*float64(i), Y: 1 + 0.5*float64(i), Z: 1.2}
			if room == "B" {
				at.X += 4.2
			}
			places = append(places, SoundReading{Room: room, At: &at, Doors: doors, Source: "/heads/M1"})
		}
		places = append(places, SoundReading{Room: "H", At: &geom.Point3{X: 2, Y: 2.5, Z: 2.2}, Doors: doors, Source: "/heads/M1"})
	}
	plain := soundOf(s, SoundOptions{})
	truth := plain.predict(places, planted)
	random := rand.New(rand.NewPCG(3, 4))
	held := [3]int{}
	const samples = 80
	for range samples {
		readings := append([]SoundReading(nil), places...)
		for i := range readings {
			readings[i].Level = truth[i] + random.NormFloat64()
		}
		m := NewSound(s, plain.b, SoundOptions{Readings: readings})
		if m.fit == nil || len(m.fit.Value) != 3 {
			t.Fatalf("no fit of three parameters: %v", m.missing)
		}
		for k, want := range [3]float64{planted.level, planted.door, planted.absorption} {
			if !m.fit.Held[k] && m.fit.Low[k] <= want && want <= m.fit.High[k] {
				held[k]++
			}
		}
	}
	for k, n := range held {
		if n < 70 {
			t.Errorf("%s: what was planted lies in %d of %d intervals", fitted[k], n, samples)
		}
	}
}

func TestFewReadingsChangeNothing(t *testing.T) {
	s := siteOf(t, twoRooms)
	plain := rowOf(t, soundOf(s, SoundOptions{}), "B", "1")
	m := soundOf(s, SoundOptions{Readings: []SoundReading{{Room: "B", Bed: "1", Level: 71, Doors: Shut}, {Room: "B", Level: 72, Doors: Open}}})
	r := rowOf(t, m, "B", "1")
	if m.fit != nil || *r.Level != *plain.Level || r.Measured == nil || *r.Measured != 71 || len(m.missing) == 0 {
		t.Errorf("%+v, missing %v", r, m.missing)
	}
	// Three in one place move the level alone. The uncertainty stays that of a way nobody read elsewhere.
	m = soundOf(s, SoundOptions{Readings: []SoundReading{{Room: "B", Bed: "1", Level: 71}, {Room: "B", Bed: "1", Level: 72}, {Room: "B", Bed: "1", Level: 73}}})
	r = rowOf(t, m, "B", "1")
	if m.fit == nil || math.Abs(*r.Level-72) > 0.051 || r.Uncertainty != 6 {
		t.Errorf("three readings: %+v", r)
	}
}

// Every cell of the field is what a single ray gives there.
func TestFieldAgreesWithRays(t *testing.T) {
	s := siteOf(t, string(demo.Corrected))
	m := soundOf(s, SoundOptions{Doors: AsDrawn})
	for _, storey := range []site.StoreyID{"ground", "upper"} {
		g, i, rooms, err := grid(m.b, storey, 0.37)
		if err != nil {
			t.Fatal(err)
		}
		z := m.b.Storeys[i].Level + Pillow
		energy := m.energies(FieldAsk{}, g, z, rooms)
		for cell, e := range energy {
			if rooms[cell] < 0 {
				if e != 0 {
					t.Fatalf("sound outside, cell %d", cell)
				}
				continue
			}
			p := g.At(cell%g.W, cell/g.W)
			at, room := geom.Point3{X: p.X, Y: p.Y, Z: z}, int(rooms[cell])
			best := math.Inf(1)
			for _, set := range m.sets {
				if set.reaches() {
					loudest, _, _ := m.state.together(m, set, &at, room, -1)
					best = min(best, loudest)
				}
			}
			if d := math.Abs(10 * math.Log10(float64(e)/best)); d > 0.06 {
				t.Fatalf("%s at %v: field %.2f, ray %.2f dBA", storey, p, float64(acoustics.Level(float64(e))), float64(acoustics.Level(best)))
			}
		}
	}
}

// The line of what is required runs where the field passes it: a large room with one alarm far off in it.
func TestContourOfWhatIsRequired(t *testing.T) {
	s := siteOf(t, strings.Replace(strings.Replace(twoRooms, "ambient: 30 dBA", "ambient: 79 dBA", 1), "room: H, at: [2, ", "room: B, at: [9, ", 1))
	m := soundOf(s, SoundOptions{})
	v, err := m.Field(nil, need, FieldAsk{Storey: "g", Step: 0.1})
	if err != nil {
		t.Fatal(err)
	}
	found := false
	for _, c := range v.Contour {
		if c.Value != 94 { // 79 + 15
			continue
		}
		found = true
		for _, p := range c.Line {
			room, _ := m.b.RoomOf("B")
			at := geom.Point3{X: p[0], Y: p[1], Z: Pillow}
			if l := float64(acoustics.Level(m.state.heard(m, 0, &at, room))); math.Abs(l-94) > 0.3 {
				t.Fatalf("on the line at %v: %.2f dBA", p, l)
			}
		}
	}
	if !found || v.Wanted != nil || len(v.Terms) != 2 {
		t.Errorf("line found %v, wanted %v, %d terms", found, v.Wanted, len(v.Terms))
	}
	if _, err := m.Field(nil, need, FieldAsk{Storey: "x"}); err == nil {
		t.Error("a storey that is not there has a field")
	}
}

func TestReadSound(t *testing.T) {
	s := siteOf(t, twoRooms+"models: {b: {name: B, class: bridge}}\ndevices: {b: {model: b, room: H, at: [1, 2, 2.4]}}\n")
	for _, c := range []struct {
		about string
		at    []float64
		want  string
	}{
		{"/rooms/B", nil, "B  <nil>"},
		{"/rooms/B/beds/1", nil, "B 1 <nil>"},
		{"/rooms/B", []float64{5, 1}, "B  &{5 1 0.6}"},
		{"/devices/b", nil, "H  &{1 2 2.4}"},
		{"/devices/none", nil, ""},
		{"/heads/M1", nil, ""},
	} {
		r, ok := ReadSound(s, building.Of(s), c.about, c.at, 70, "shut", "")
		if got := fmt.Sprintf("%s %s %v", r.Room, r.Bed, r.At); ok != (c.want != "") || ok && got != c.want {
			t.Errorf("%s: %q %v, want %q", c.about, got, ok, c.want)
		}
	}
}
