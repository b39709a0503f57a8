package drawing

import (
	"bytes"
	"encoding/json"
	"flag"
	"math"
	"os"
	"path/filepath"
	"testing"

	"proofbell/demo"
	"proofbell/geom"
	"proofbell/site"
)

var update = flag.Bool("update", false, "write the goldens anew; look at the difference")

func decode(t testing.TB, yaml string) *site.Site {
	t.Helper()
	s, err := site.DecodeYAML("test", []byte(yaml))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

const room = `
storeys: {g: {name: Ground}}
materials: {stone: {name: Stone, hatch: stone}}
rooms:
  hall: {name: Hall, storey: g, outline: [[0, 0], [6, 0], [6, 4], [0, 4]]}
walls:
  south: {storey: g, from: [0, 0], to: [6, 0], thickness: 0.2 m}
`

func near(a, b geom.Point) bool { return a.Distance(b) < 1e-9 }

// A wall of 6 m with doors of 1 m at 2 m and 0.8 m at 4.4 m leaves pieces of 1.5, 1.5 and 1.2 m.
func TestOpeningsAreCutOutOfWalls(t *testing.T) {
	p := Storeys(decode(t, room+`
openings:
  b: {storey: g, kind: door, at: [4.4, 0.1], width: 0.8 m, rooms: [hall]}
  a: {storey: g, kind: window, at: [2, 0], width: 1 m, rooms: [hall]}
`))[0]
	want := [][2]float64{{0, 1.5}, {2.5, 4}, {4.8, 6}}
	if len(p.Walls) != len(want) {
		t.Fatalf("%d pieces: %+v", len(p.Walls), p.Walls)
	}
	for i, w := range p.Walls {
		if !near(w.Outline[0], geom.Point{X: want[i][0], Y: 0.1}) || !near(w.Outline[2], geom.Point{X: want[i][1], Y: -0.1}) {
			t.Errorf("piece %d is %+v, want from %g to %g, 0.2 thick", i, w.Outline, want[i][0], want[i][1])
		}
	}
	overlapping := Storeys(decode(t, room+`
openings:
  a: {storey: g, kind: window, at: [2, 0], width: 2 m, rooms: [hall]}
  b: {storey: g, kind: window, at: [2.5, 0], width: 0.5 m, rooms: [hall]}
  c: {storey: g, kind: window, at: [5.8, 0], width: 1 m, rooms: [hall]}
`))[0]
	if n := len(overlapping.Walls); n != 2 {
		t.Errorf("overlapping openings, and one past the end, leave %d pieces, want 2: %+v", n, overlapping.Walls)
	}
}

// A door hangs at its hinge and opens into its room; the arc runs from the open leaf's tip to the other jamb.
func TestDoors(t *testing.T) {
	for _, tt := range []struct {
		name, door string
		hinge, tip geom.Point
		sweep      bool
	}{
		{"into the room, hinge left", `{storey: g, kind: door, at: [2, 0], width: 1 m, rooms: [hall]}`, geom.Point{X: 1.5}, geom.Point{X: 1.5, Y: 1}, false},
		{"hinge right", `{storey: g, kind: door, at: [2, 0], width: 1 m, rooms: [hall], hinge: end}`, geom.Point{X: 2.5}, geom.Point{X: 2.5, Y: 1}, true},
		{"out of the room", `{storey: g, kind: door, at: [2, 0], width: 1 m, rooms: [hall], swing: out}`, geom.Point{X: 1.5}, geom.Point{X: 1.5, Y: -1}, true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			p := Storeys(decode(t, room+"openings:\n  d: "+tt.door+"\n"))[0]
			if len(p.Leaves) != 1 {
				t.Fatalf("%d leaves", len(p.Leaves))
			}
			l := p.Leaves[0]
			if !l.Swing || !near(l.Hinge, tt.hinge) || !near(l.Tip, tt.tip) || l.Sweep != tt.sweep {
				t.Errorf("leaf %+v, want hinge %v tip %v sweep %v", l, tt.hinge, tt.tip, tt.sweep)
			}
			// from the tip a quarter circle in the direction of sweep ends at the other jamb
			a, turn := l.Tip.Sub(l.Hinge), math.Pi/2
			if !l.Sweep {
				turn = -turn
			}
			end := l.Hinge.Add(geom.Point{X: a.X*math.Cos(turn) - a.Y*math.Sin(turn), Y: a.X*math.Sin(turn) + a.Y*math.Cos(turn)})
			if !near(end, l.From) && !near(end, l.To) {
				t.Errorf("the arc ends at %v, jambs are %v and %v", end, l.From, l.To)
			}
		})
	}
	pair := Storeys(decode(t, room+"openings:\n  d: {storey: g, kind: door, at: [3, 0], width: 1.8 m, rooms: [hall]}\n"))[0].Leaves
	if len(pair) != 2 || !near(pair[0].Hinge, geom.Point{X: 2.1}) || !near(pair[1].Hinge, geom.Point{X: 3.9}) || pair[0].ID == pair[1].ID {
		t.Errorf("a wide door: %+v", pair)
	}
}

func TestWhatCanNotBeDrawnIsSaid(t *testing.T) {
	p := Storeys(decode(t, `
storeys: {g: {name: Ground}, u: {name: Upper, order: 1}}
rooms:
  hall: {name: Hall, storey: g}
models: {smoke: {name: Smoke detector, class: smoke}}
devices: {d: {model: smoke, room: hall}}
heads: {M1: {kind: smoke, room: hall}}
`))
	if len(p) != 2 || len(p[0].Missing) != 3 || p[0].Rooms == nil || p[0].Marks == nil || p[1].Min != (geom.Point{}) || math.IsInf(p[1].Max.X, 0) {
		t.Errorf("%+v", p)
	}
}

// The demo's plans, looked at by people and changed by review only.
func TestDemoGolden(t *testing.T) {
	s, err := site.DecodeYAML("demo", demo.Corrected)
	if err != nil {
		t.Fatal(err)
	}
	plans := Storeys(s)
	for _, p := range plans {
		for _, m := range p.Marks {
			if m.At.X < p.Min.X || m.At.X > p.Max.X || m.At.Y < p.Min.Y || m.At.Y > p.Max.Y {
				t.Errorf("%s lies outside of the plan", m.ID)
			}
		}
	}
	raw, err := json.Marshal(plans)
	if err != nil {
		t.Fatal(err)
	}
	var plain any
	if err := json.Unmarshal(raw, &plain); err != nil {
		t.Fatal(err)
	}
	got, err := json.MarshalIndent(rounded(plain), "", " ")
	if err != nil {
		t.Fatal(err)
	}
	got = append(got, '\n')
	path := filepath.Join("testdata", "demo.json")
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("the plans of the demo differ from %s; look at them, then run with -update", path)
	}
}

// rounded cuts figures to a micrometre: processors differ in the last bits.
func rounded(v any) any {
	switch v := v.(type) {
	case float64:
		return math.Round(v*1e6) / 1e6
	case []any:
		for i := range v {
			v[i] = rounded(v[i])
		}
	case map[string]any:
		for k := range v {
			v[k] = rounded(v[k])
		}
	}
	return v
}
