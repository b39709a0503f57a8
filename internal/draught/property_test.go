package draught_test

import (
	"encoding/json"
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"proofbell/geom"
	"proofbell/internal/draught"
	"proofbell/site"
)

// somewhere draws a place on the decimetre, where hands snap to.
func somewhere(t *rapid.T, label string) geom.Point {
	return pt(float64(rapid.IntRange(-20, 120).Draw(t, label+" x"))/10, float64(rapid.IntRange(-20, 120).Draw(t, label+" y"))/10)
}

func anyRoom(t *rapid.T, s *site.Site) site.RoomID {
	ids := site.SortedIDs(s.Rooms)
	if len(ids) == 0 {
		return "none"
	}
	return rapid.SampledFrom(ids).Draw(t, "room")
}

// anyOperation draws something that a hand might do, possible or not.
func anyOperation(t *rapid.T, s *site.Site) draught.Operation {
	o := draught.Operation{Storey: "g", ID: string(anyRoom(t, s)), Corner: 0}
	corners := max(len(s.Rooms[site.RoomID(o.ID)].Outline), 1)
	at := somewhere(t, "at")
	switch o.Op = rapid.SampledFrom([]string{"room", "room", "room", "corner", "side", "side", "length", "divide", "join", "room-out", "corner-in", "corner-out", "move", "opening", "opening", "device", "wall"}).Draw(t, "op"); o.Op {
	case "room":
		o.ID, o.Name, o.Points = "", rapid.SampledFrom([]string{"Hall", "Kitchen", "Guest room", ""}).Draw(t, "name"), []geom.Point{at, somewhere(t, "to")}
		if rapid.Bool().Draw(t, "typed") {
			o.Width = rapid.SampledFrom([]string{"9 ft 6 in", "3.10 m", "250 cm"}).Draw(t, "width")
		}
		if rapid.IntRange(0, 4).Draw(t, "slanted") == 0 {
			o.Width, o.Points = "", append(o.Points, somewhere(t, "third"))
		}
	case "corner":
		o.Corner, o.At = rapid.IntRange(0, corners-1).Draw(t, "corner"), &at
	case "side":
		o.Side, o.By, o.Whole = rapid.IntRange(0, corners-1).Draw(t, "side"), float64(rapid.IntRange(-25, 25).Draw(t, "by"))/10, rapid.IntRange(0, 4).Draw(t, "whole") == 0
	case "length":
		o.Op, o.Side, o.Length, o.Start = "side", rapid.IntRange(0, corners-1).Draw(t, "side"), rapid.SampledFrom([]string{"2 m", "12 ft", "3.333 m"}).Draw(t, "length"), rapid.Bool().Draw(t, "start")
	case "divide":
		o.Points = []geom.Point{at, somewhere(t, "to")}
		if rapid.Bool().Draw(t, "bent") {
			o.Points = append(o.Points, somewhere(t, "third"))
		}
	case "join":
		o.From = string(anyRoom(t, s))
	case "corner-in", "move":
		o.At = &at
	case "corner-out":
		o.Corner = rapid.IntRange(0, corners-1).Draw(t, "corner")
	case "opening":
		o.ID, o.Kind, o.At = "", rapid.SampledFrom([]string{"door", "window", "passage"}).Draw(t, "kind"), &at
		if ids := site.SortedIDs(s.Openings); len(ids) > 0 && rapid.Bool().Draw(t, "old") {
			o.ID, o.Kind = string(rapid.SampledFrom(ids).Draw(t, "opening")), ""
		}
	case "device":
		o.ID, o.Model, o.At = "", rapid.SampledFrom([]string{"smoke", "contact"}).Draw(t, "model"), &at
	case "wall":
		o.ID, o.Points = "", []geom.Point{at, somewhere(t, "to")}
	}
	return o
}

// Whatever is done to the drawing, a site comes out whose rooms lie side by side, whose sides have one wall each, whose
// openings stand in walls between the rooms that they name; what only moves a wall between rooms changes no total; and the
// patch that leads back leads back to exactly what was.
func TestAnySequenceLeavesADrawing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := read(t, empty)
		done := 0
		for range rapid.IntRange(1, 25).Draw(t, "operations") {
			o := anyOperation(t, s)
			acted := draught.Do(nil, s, o)
			if r := acted.Refused; r != nil {
				if r.Say == "." || r.Try == "." || acted.Patch != nil {
					t.Fatalf("%s is refused without a word: %+v", o.Op, r)
				}
				continue
			}
			done++
			next := after(t, s, acted.Patch)
			if again := draught.Do(nil, s, o); string(again.Patch) != string(acted.Patch) {
				t.Fatalf("%s made\n%s, and then\n%s", o.Op, acted.Patch, again.Patch)
			}
			back, err := site.Diff(encode(t, next), encode(t, s))
			if err != nil {
				t.Fatal(err)
			}
			if undone := after(t, next, back); !reflect.DeepEqual(undone, after(t, s, site.Patch(`{}`))) {
				t.Fatalf("%s and back is not what was", o.Op)
			}
			if o.Op == "divide" || o.Op == "join" {
				if a, b := total(s), total(next); math.Abs(a-b) > 0.01 {
					t.Fatalf("%s: %v m² became %v: %+v", o.Op, a, b, o)
				}
			}
			sideBySide(t, next)
			if checkWalls(t, next); t.Failed() {
				t.Fatalf("after %+v", o)
			}
			s = next
		}
		if done == 0 {
			t.Skip("nothing could be done")
		}
	})
}

func encode(t fatal, s *site.Site) []byte {
	raw, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

func total(s *site.Site) float64 {
	sum := 0.0
	for _, r := range s.Rooms {
		sum += r.Outline.Polygon().Area()
	}
	return sum
}

// sideBySide holds that no place lies well inside of two rooms: places by a raster, another method than that of the code.
func sideBySide(t fatal, s *site.Site) {
	t.Helper()
	for x := -3.027; x < 13; x += 0.437 {
		for y := -3.031; y < 13; y += 0.441 {
			var in []site.RoomID
			for _, id := range site.SortedIDs(s.Rooms) {
				p := s.Rooms[id].Outline.Polygon()
				clear := p.Contains(pt(x, y))
				for i := range p {
					clear = clear && p.Side(i).Distance(pt(x, y)) > 0.02
				}
				if clear {
					in = append(in, id)
				}
			}
			if len(in) > 1 {
				t.Fatalf("%v %v lies in %v: %v, %v", x, y, in, s.Rooms[in[0]].Outline, s.Rooms[in[1]].Outline)
			}
		}
	}
}
