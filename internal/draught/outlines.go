package draught

import (
	"math"
	"strings"

	"proofbell/geom"
	"proofbell/internal/words"
	"proofbell/quantity"
)

// Outlines are the rooms and walls that were found in a drawing made elsewhere, as candidates: nothing of it is in the site
// before it is taken. Places are metres, y up, from the lower left corner of what was found.
type Outlines struct {
	Rooms  []Outlined `json:"rooms"`
	Walls  []WallLine `json:"walls"`  // lines that close no room
	Unit   string     `json:"unit"`   // what a unit of the drawing was taken for: m, cm, mm, ft, in
	Told   bool       `json:"told"`   // the file says so itself; else it is a guess, to be confirmed
	Width  float64    `json:"width"`  // of all that was found, metres
	Height float64    `json:"height"` // metres
	Faults []Unread   `json:"faults"`
}

// Outlined is a candidate for a room.
type Outlined struct {
	Name   string       `json:"name"`
	Layer  string       `json:"layer"` // of the drawing; "": none
	Points []geom.Point `json:"points"`
	Area   float64      `json:"area"` // square metres
}

// WallLine is a candidate for a wall.
type WallLine struct {
	Layer string     `json:"layer"`
	From  geom.Point `json:"from"`
	To    geom.Point `json:"to"`
}

// Unread is something in a file that can not be read, or was passed over.
type Unread struct {
	Line int    `json:"line"` // of the file, from 1; 0: the file as a whole
	Say  string `json:"say"`
	Try  string `json:"try"`
}

// Limits of a file: strangers write them.
const (
	maxFile   = 16 << 20
	maxLines  = 20000 // straight stretches of a drawing
	maxUnread = 50
	// least is the least area of a room that is found between lines, square metres: less is a wall, a door or a stair.
	least = 0.8
	// narrow is the least width of one, metres: walls drawn by their two faces are narrower.
	narrow = 0.55
)

// found collects what a reader finds, in units of the drawing, y up.
type found struct {
	lang   *words.Language
	rings  []line // closed
	lines  []line // open
	names  []label
	faults []Unread
	passed map[string]int // kinds that were passed over
	first  map[string]int // the line of the first of them
	count  int            // stretches so far
	size   float64        // metres a unit; 0: the file does not say
	unit   string
}

type line struct {
	layer, name string
	points      []geom.Point
}

type label struct {
	at   geom.Point
	text string
}

func (f *found) fault(line int, say, try words.Text) {
	if len(f.faults) < maxUnread {
		f.faults = append(f.faults, Unread{line, words.Upper(say.In(f.lang)) + ".", words.Upper(try.In(f.lang)) + "."})
	}
}

// pass counts something that is no outline.
func (f *found) pass(kind string, line int) {
	if f.passed == nil {
		f.passed, f.first = map[string]int{}, map[string]int{}
	}
	if f.passed[kind]++; f.passed[kind] == 1 {
		f.first[kind] = line
	}
}

// add takes a line over. It reports whether there is room for more.
func (f *found) add(l line, closed bool) bool {
	clean := []geom.Point{}
	for _, p := range l.points {
		if math.IsNaN(p.X) || math.IsNaN(p.Y) || math.Abs(p.X) > 1e12 || math.Abs(p.Y) > 1e12 {
			return true
		}
		if len(clean) == 0 || clean[len(clean)-1] != p {
			clean = append(clean, p)
		}
	}
	if n := len(clean); n > 3 && clean[0].Distance(clean[n-1]) <= 1e-6*(1+math.Abs(clean[0].X)+math.Abs(clean[0].Y)) {
		closed, clean = true, clean[:n-1]
	}
	if len(clean) < 2 {
		return true
	}
	if f.count += len(clean); f.count > maxLines {
		return false
	}
	l.points = clean
	if closed && len(clean) > 2 {
		f.rings = append(f.rings, l)
	} else {
		f.lines = append(f.lines, l)
	}
	return true
}

var unitSizes = map[string]float64{"m": 1, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254}

// Import reads an SVG or DXF file: closed lines are rooms, others are walls; where walls close a room between them, that is
// found as well, and texts inside name it. unit is what a unit of the drawing is; empty: as the file says, else a guess.
// It never fails: what can not be read is in Faults.
func Import(lang *words.Language, name string, raw []byte, unit string) Outlines {
	f := &found{lang: lang}
	text := string(raw)
	lower := strings.ToLower(name)
	switch {
	case len(raw) > maxFile:
		f.fault(0, words.Later("the file is larger than %d MB", maxFile>>20), words.Later("leave out of the drawing what is no outline"))
	case strings.ContainsRune(text, 0):
		f.fault(0, words.Later("the file is no text"), words.Later("save the drawing as SVG, or as DXF in its text form"))
	case strings.HasSuffix(lower, ".dxf"):
		f.dxf(text)
	case strings.HasSuffix(lower, ".svg"):
		f.svg(text)
	default:
		f.fault(0, words.Later("the name of the file ends in neither .svg nor .dxf"), words.Later("save the drawing as SVG or DXF"))
	}
	return f.outlines(unit)
}

// outlines turns what was found into candidates in metres.
func (f *found) outlines(unit string) Outlines {
	out := Outlines{Rooms: []Outlined{}, Walls: []WallLine{}, Faults: []Unread{}, Unit: f.unit, Told: f.size > 0}
	low, high := geom.Point{X: math.Inf(1), Y: math.Inf(1)}, geom.Point{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, all := range [][]line{f.rings, f.lines} {
		for _, l := range all {
			for _, p := range l.points {
				low, high = geom.Point{X: min(low.X, p.X), Y: min(low.Y, p.Y)}, geom.Point{X: max(high.X, p.X), Y: max(high.Y, p.Y)}
			}
		}
	}
	size := f.size
	if s, known := unitSizes[unit]; known {
		size, out.Unit, out.Told = s, unit, true
	} else if unit != "" {
		f.fault(0, words.Later("the unit %q is not known", unit), words.Later("write m, cm, mm, ft or in"))
	}
	if wide := max(high.X-low.X, high.Y-low.Y); size == 0 { // a storey is some ten metres across: so a unit is what makes it so
		size, out.Unit = 1, "m"
		if wide > 1000 {
			size, out.Unit = 0.001, "mm"
		} else if wide > 150 {
			size, out.Unit = 0.01, "cm"
		}
	}
	at := func(p geom.Point) geom.Point {
		return geom.Point{X: quantity.Round((p.X-low.X)*size, 3), Y: quantity.Round((p.Y-low.Y)*size, 3)}
	}
	if len(f.rings)+len(f.lines) > 0 {
		out.Width, out.Height = quantity.Round((high.X-low.X)*size, 3), quantity.Round((high.Y-low.Y)*size, 3)
	}
	room := func(l line) bool {
		poly := straightened(tidy(l.points))
		if len(poly) < 3 || len(poly) > 500 || !poly.Simple() || poly.Area() < smallest {
			return false
		}
		r := Outlined{Name: l.name, Layer: l.layer, Points: upright(poly), Area: quantity.Round(poly.Area(), 2)}
		for _, n := range f.names {
			if r.Name == "" && poly.Contains(at(n.at)) {
				r.Name = n.text
			}
		}
		if r.Name == "" {
			r.Name = f.lang.Say("Room %d", len(out.Rooms)+1)
		}
		out.Rooms = append(out.Rooms, r)
		return true
	}
	placed := func(l line) line {
		points := make([]geom.Point, len(l.points))
		for i, p := range l.points {
			points[i] = at(p)
		}
		l.points = points
		return l
	}
	var loose []WallLine
	for _, l := range f.rings {
		l = placed(l)
		if !room(l) {
			loose = append(loose, stretchesOf(line{layer: l.layer, points: append(l.points, l.points[0])})...)
		}
	}
	for _, l := range f.lines {
		loose = append(loose, stretchesOf(placed(l))...)
	}
	faces, rest := enclosed(loose)
	for _, face := range faces {
		if !covered(face.points, out.Rooms) {
			room(face)
		}
	}
	out.Walls = append(out.Walls, rest...)
	for _, kind := range sortedKeys(f.passed) {
		f.fault(f.first[kind], words.Later("passed over: %d of the kind %s", f.passed[kind], kind), words.Later("draw as lines what is to be a wall"))
	}
	if len(out.Rooms)+len(out.Walls) == 0 && len(f.faults) == 0 {
		f.fault(0, words.Later("there is no outline in the drawing"), words.Later("draw rooms as closed lines, or walls as lines"))
	}
	out.Faults = append(out.Faults, f.faults...)
	return out
}

func sortedKeys(m map[string]int) []string {
	var out []string
	for k := range m {
		at := 0
		for at < len(out) && out[at] < k {
			at++
		}
		out = append(out[:at], append([]string{k}, out[at:]...)...)
	}
	return out
}

// tidy leaves out corners that follow at less than a centimetre.
func tidy(p []geom.Point) geom.Polygon {
	out := geom.Polygon{}
	for _, c := range p {
		if len(out) == 0 || out[len(out)-1].Distance(c) > 2*touching {
			out = append(out, c)
		}
	}
	for len(out) > 1 && out[0].Distance(out[len(out)-1]) <= 2*touching {
		out = out[:len(out)-1]
	}
	return out
}

func stretchesOf(l line) []WallLine {
	var out []WallLine
	for i := 1; i < len(l.points); i++ {
		if l.points[i-1].Distance(l.points[i]) > 2*touching {
			out = append(out, WallLine{l.layer, l.points[i-1], l.points[i]})
		}
	}
	return out
}

// covered reports whether a face is a room that was found already, or lies in one.
func covered(p geom.Polygon, rooms []Outlined) bool {
	for _, r := range rooms {
		if _, lies := over(p, r.Points); lies {
			return true
		}
	}
	return false
}
