package draught_test

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"proofbell/internal/draught"
	"proofbell/site"
)

func areas(o draught.Outlines) map[string]float64 {
	out := map[string]float64{}
	for _, r := range o.Rooms {
		out[r.Name] = r.Area
	}
	return out
}

// The sheet is 200 mm wide and 2000 units: a unit is 0.1 mm of the sheet. Given as centimetres the hall is 6 m by 4 m.
const sheet = `<?xml version="1.0"?>
<!DOCTYPE svg>
<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="100mm" viewBox="0 0 2000 1000">
 <defs><rect width="500" height="500"/></defs>
 <g id="rooms" transform="translate(100,50)">
  <title>Ground</title>
  <rect x="0" y="0" width="600" height="400" aria-label="Hall &amp; stair"/>
  <path d="m600,0h300v400h-300z"/>
  <text x="700" y="200">Kitchen</text>
  <polygon points="0,400 900,400 900,700 0,700"/>
  <line x1="300" y1="400" x2="300" y2="700"/>
 </g>
 <circle cx="5" cy="5" r="3"/>
</svg>`

func TestSVG(t *testing.T) {
	o := draught.Import(nil, "flat.svg", []byte(sheet), "cm")
	got := areas(o)
	if len(o.Rooms) != 3 || got["Hall & stair"] != 24 || got["Kitchen"] != 12 || got["Room 3"] != 27 {
		t.Errorf("rooms %+v", o.Rooms)
	}
	if o.Rooms[0].Layer != "Ground" || o.Unit != "cm" || !o.Told || o.Width != 9 || o.Height != 7 {
		t.Errorf("%+v", o)
	}
	// y runs up: the hall, on top of the sheet, lies above the third room.
	if low, _ := lowest(o.Rooms[0]); low != 3 {
		t.Errorf("the hall begins at %v", low)
	}
	if len(o.Walls) != 1 || o.Walls[0].From.X != 3 || len(o.Faults) != 1 || !strings.Contains(o.Faults[0].Say, "1 of the kind circle") || o.Faults[0].Line != 13 {
		t.Errorf("walls %+v, faults %+v", o.Walls, o.Faults)
	}
	s, _ := do(t, read(t, empty), draught.Operation{Op: "take", Storey: "g", Take: &o})
	checkWalls(t, s)
	if len(s.Rooms) != 3 {
		t.Errorf("%d rooms taken", len(s.Rooms))
	}
}

func lowest(r draught.Outlined) (y, x float64) {
	y, x = math.Inf(1), math.Inf(1)
	for _, p := range r.Points {
		y, x = min(y, p.Y), min(x, p.X)
	}
	return y, x
}

func TestTransformsAndCurves(t *testing.T) {
	for name, c := range map[string]struct {
		body string
		area float64
		off  float64
	}{
		"turned":      {`<g transform="rotate(30) scale(2)"><rect width="2" height="1"/></g>`, 8, 0.001},
		"about":       {`<rect transform="rotate(90, 5, 5)" width="3" height="2"/>`, 6, 0.001},
		"matrix":      {`<rect transform="matrix(0 3 -2 0 1 1)" width="1" height="2"/>`, 12, 0.001},
		"skewed":      {`<rect transform="skewX(45)" width="3" height="2"/>`, 6, 0.001},
		"in mm":       {`<rect width="25.4mm" height="1in"/>`, 96 * 96, 0.1},
		"half circle": {`<path d="M0 0H4A2 2 0 0 1 0 0Z"/>`, 2 * math.Pi, 0.1},
		"flags close": {`<path d="M0 0H4a2 2 0 01-4 0z"/>`, 2 * math.Pi, 0.1},
		"bezier":      {`<path d="M0 0C0 4 4 4 4 0z"/>`, 9.6, 0.2}, // 3/20 of the sums of the hull's cross products: 0.6 of 16
		"quadratic":   {`<path d="M0 0Q3 6 6 0T12 0V-8H0z"/>`, 96, 0.2},
	} {
		o := draught.Import(nil, "x.svg", []byte("<svg>"+c.body+"</svg>"), "m")
		if len(o.Rooms) != 1 || math.Abs(o.Rooms[0].Area-c.area) > c.off {
			t.Errorf("%s: %+v", name, o)
		}
	}
}

// Walls as single lines close two rooms; a line that ends in the open closes none.
func TestRoomsBetweenLines(t *testing.T) {
	o := draught.Import(nil, "x.svg", []byte(`<svg><path d="M0 0H6M6 0V4M6 4H0M0 4V0M4 0V4M4 2H5"/><text x="1" y="1">Hall</text></svg>`), "m")
	if got := areas(o); len(got) != 2 || got["Hall"] != 16 || got["Room 2"] != 8 && got["Room 1"] != 8 || len(o.Walls) != 1 {
		t.Errorf("%+v", o)
	}
	// Walls drawn by both faces, 0.2 m thick: the room between them, and no wall is one.
	o = draught.Import(nil, "x.svg", []byte(`<svg><path d="M0 0H5M5 0V4M5 4H0M0 4V0"/><path d="M.2 .2H4.8M4.8 .2V3.8M4.8 3.8H.2M.2 3.8V.2"/></svg>`), "m")
	if len(o.Rooms) != 1 {
		t.Errorf("%+v", o.Rooms)
	}
}

func TestFilesThatAreBad(t *testing.T) {
	for name, c := range map[string]struct {
		file, body string
		line       int
		say        string
	}{
		"empty":            {"x.svg", "", 1, "no svg element"},
		"other text":       {"x.svg", "<html>\n</html>", 1, "no svg element"},
		"cut off":          {"x.svg", "<svg>\n<rect width=\"3", 2, "breaks off"},
		"bad path":         {"x.svg", "<svg>\n\n<path d='M0 0 L x'/></svg>", 3, "can not be read at"},
		"bad transform":    {"x.svg", "<svg>\n<g transform='turn(3)'/></svg>", 2, "transform"},
		"bad length":       {"x.svg", "<svg>\n<rect width='3zz' height='2'/></svg>", 2, "width"},
		"points":           {"x.svg", "<svg>\n<polygon points='1 2 3'/></svg>", 2, "points of a polygon"},
		"binary":           {"x.dxf", "AB\x00", 0, "no text"},
		"no dxf":           {"x.dxf", "<svg/>\n", 1, "no group code"},
		"number":           {"x.dxf", "0\nSECTION\n2\nENTITIES\n0\nLINE\n10\nabc\n0\nENDSEC\n0\nEOF\n", 8, "not a number"},
		"out of step":      {"x.dxf", "0\nSECTION\n2\nENTITIES\n\n0\nLINE\n", 5, "no group code"},
		"no end":           {"x.dxf", "0\nSECTION\n2\nENTITIES\n0\nENDSEC\n", 0, "EOF is missing"},
		"no block":         {"x.dxf", "0\nSECTION\n2\nENTITIES\n0\nINSERT\n2\nDoor\n0\nENDSEC\n0\nEOF\n", 6, "no block"},
		"nothing in it":    {"x.svg", "<svg></svg>", 0, "no outline"},
		"unknown ending":   {"x.png", "", 0, "ends in neither"},
		"unknown unit":     {"x.svg", "<svg><rect width='3' height='2'/></svg>", 0, `unit "ell"`},
		"block in a block": {"x.dxf", "0\nSECTION\n2\nBLOCKS\n0\nBLOCK\n2\nA\n0\nINSERT\n2\nA\n0\nENDBLK\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n0\nINSERT\n2\nA\n0\nENDSEC\n0\nEOF\n", 10, "deep in each other"},
	} {
		unit := ""
		if name == "unknown unit" {
			unit = "ell"
		}
		o := draught.Import(nil, c.file, []byte(c.body), unit)
		found := false
		for _, f := range o.Faults {
			found = found || strings.Contains(f.Say, c.say) && f.Line == c.line && len(f.Try) > 3
		}
		if !found {
			t.Errorf("%s: %+v", name, o.Faults)
		}
	}
}

// Files that other programs wrote: testdata/import/README.md says which and how. The same plan in each, areas by hand.
func TestFilesOfOtherPrograms(t *testing.T) {
	names, err := filepath.Glob("testdata/import/*.[sd][vx][gf]")
	if err != nil || len(names) < 4 {
		t.Fatalf("%v %v", names, err)
	}
	for _, name := range names {
		raw, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		unit := ""
		if strings.HasSuffix(name, ".svg") {
			unit = "cm"
		}
		o := draught.Import(nil, name, raw, unit)
		got := areas(o)
		for room, want := range map[string]float64{"Kitchen": 12, "Hall": 6, "Lounge": 18} {
			if math.Abs(got[room]-want) > 0.01 {
				t.Errorf("%s: %s has %v m², want %v", name, room, got[room], want)
			}
		}
		if len(o.Rooms) != 3 || !o.Told {
			t.Errorf("%s: %+v", name, o)
		}
		s, _ := do(t, read(t, empty), draught.Operation{Op: "take", Storey: "g", Take: &o})
		if len(s.Rooms) != 3 {
			t.Errorf("%s: %d rooms taken", name, len(s.Rooms))
		}
		checkWalls(t, s)
	}
}

func fuzz(f *testing.F, name string) {
	names, err := filepath.Glob("testdata/import/*" + filepath.Ext(name))
	if err != nil {
		f.Fatal(err)
	}
	for _, n := range names {
		raw, err := os.ReadFile(n)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(raw)
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		if len(raw) > 4000 {
			return
		}
		o := draught.Import(nil, name, raw, "cm")
		if o.Rooms == nil || o.Walls == nil || o.Faults == nil {
			t.Fatal("a list is missing")
		}
		s, err := site.DecodeYAML("", []byte(empty))
		if err != nil {
			t.Fatal(err)
		}
		if len(o.Rooms)+len(o.Walls) > 40 {
			return
		}
		if acted := draught.Do(nil, s, draught.Operation{Op: "take", Storey: "g", Take: &o}); acted.Refused == nil {
			after(t, s, acted.Patch)
		}
	})
}

func FuzzImportSVG(f *testing.F) {
	f.Add([]byte(sheet))
	f.Add([]byte(`<svg><path d="M0 0h4a2 2 0 01-4 0zm1 1q1 1 2 2t3 3s1 1 2 2c1 1 1 1 1 1"/></svg>`))
	fuzz(f, "x.svg")
}

func FuzzImportDXF(f *testing.F) {
	f.Add([]byte("0\nSECTION\n2\nENTITIES\n0\nLWPOLYLINE\n70\n1\n10\n0\n20\n0\n42\n1\n10\n400\n20\n0\n10\n400\n20\n300\n0\nENDSEC\n0\nEOF\n"))
	fuzz(f, "x.dxf")
}
