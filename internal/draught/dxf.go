package draught

import (
	"math"
	"strconv"
	"strings"

	"proofbell/geom"
	"proofbell/internal/words"
)

// A DXF file in text form is a list of pairs of lines: a group code, a number that says what the value is, and the value.
// Read are LINE, LWPOLYLINE, POLYLINE, TEXT, MTEXT and INSERT of blocks, layers by name, and the unit of the header.

type pair struct {
	code  int
	value string
	line  int // of the value
}

// entity is one thing of a drawing with its groups.
type entity struct {
	kind  string
	line  int
	pairs []pair
	parts []entity // vertices of a POLYLINE
}

// dxfUnits are the values of $INSUNITS that a building may be drawn in.
var dxfUnits = map[string]string{"1": "in", "2": "ft", "4": "mm", "5": "cm", "6": "m"}

// maxNested is how deep blocks may stand in blocks.
const maxNested = 8

type dxf struct {
	*found
	blocks map[string]*block
	full   bool // of stretches: no more is taken
}

type block struct {
	base     geom.Point
	entities []entity
}

func (f *found) dxf(text string) {
	pairs, ok := f.pairs(text)
	if !ok {
		return
	}
	d := &dxf{found: f, blocks: map[string]*block{}}
	var model []entity
	section, ended := "", false
	var open *block
	for i := 0; i < len(pairs); {
		p := pairs[i]
		switch {
		case p.code == 0 && p.value == "SECTION" && i+1 < len(pairs) && pairs[i+1].code == 2:
			section = pairs[i+1].value
			i += 2
		case p.code == 0 && (p.value == "ENDSEC" || p.value == "EOF"):
			section, ended = "", ended || p.value == "EOF"
			i++
		case section == "HEADER" && p.code == 9 && p.value == "$INSUNITS" && i+1 < len(pairs):
			if f.unit = dxfUnits[pairs[i+1].value]; f.unit != "" {
				f.size = unitSizes[f.unit]
			}
			i += 2
		case p.code == 0 && section == "BLOCKS" && p.value == "BLOCK":
			var e entity
			e, i = take(pairs, i)
			open = &block{base: d.point(e, 10)}
			d.blocks[e.text(2)] = open
		case p.code == 0 && section == "BLOCKS" && p.value == "ENDBLK":
			_, i = take(pairs, i)
			open = nil
		case p.code == 0 && (section == "ENTITIES" || section == "BLOCKS"):
			var e entity
			if e, i = take(pairs, i); section == "ENTITIES" {
				model = append(model, e)
			} else if open != nil {
				open.entities = append(open.entities, e)
			}
		default:
			i++
		}
	}
	if !ended {
		f.fault(0, words.Later("the file ends before its end: EOF is missing"), words.Later("save or send the drawing again"))
	}
	d.draw(model, turn{1, 0, 0, 1, geom.Point{}}, "", 0)
	if d.full {
		f.fault(0, words.Later("the drawing has more than %d lines", maxLines), words.Later("leave out of the drawing what is no outline"))
	}
}

// pairs reads the pairs of lines. ok is false when it is no such file at all.
func (f *found) pairs(text string) (out []pair, ok bool) {
	lines := strings.Split(strings.ReplaceAll(text, "\r\n", "\n"), "\n")
	for i := 0; i+1 < len(lines); i += 2 {
		code, err := strconv.Atoi(strings.TrimSpace(lines[i]))
		if err != nil {
			if f.fault(i+1, words.Later("%q is no group code", cut(lines[i])), words.Later("save the drawing as DXF again; every other line is a number there")); len(out) == 0 {
				return nil, false
			}
			return out, true // from here on codes and values can not be told apart
		}
		out = append(out, pair{code, strings.TrimSpace(lines[i+1]), i + 2})
	}
	if len(out) == 0 {
		f.fault(0, words.Later("the file is empty"), words.Later("save the drawing again"))
	}
	return out, len(out) > 0
}

func cut(text string) string {
	if r := []rune(text); len(r) > 20 {
		return string(r[:20]) + "..."
	}
	return text
}

// take reads the entity that begins at i, with the vertices that belong to it, and returns where the next begins.
func take(pairs []pair, i int) (entity, int) {
	e := entity{kind: pairs[i].value, line: pairs[i].line}
	for i++; i < len(pairs) && pairs[i].code != 0; i++ {
		e.pairs = append(e.pairs, pairs[i])
	}
	for e.kind == "POLYLINE" && i < len(pairs) && (pairs[i].value == "VERTEX" || pairs[i].value == "SEQEND") {
		var part entity
		end := pairs[i].value == "SEQEND"
		if part, i = take(pairs, i); end {
			break
		}
		e.parts = append(e.parts, part)
	}
	return e, i
}

func (e entity) text(code int) string {
	for _, p := range e.pairs {
		if p.code == code {
			return p.value
		}
	}
	return ""
}

// number reads a number of an entity; without one it is what stands for it.
func (d *dxf) number(e entity, code int, otherwise float64) float64 {
	for _, p := range e.pairs {
		if p.code == code {
			return d.value(p)
		}
	}
	return otherwise
}

func (d *dxf) value(p pair) float64 {
	v, err := strconv.ParseFloat(p.value, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		d.fault(p.line, words.Later("%q is not a number", cut(p.value)), words.Later("save the drawing again"))
		return math.NaN()
	}
	return v
}

func (d *dxf) point(e entity, code int) geom.Point {
	return geom.Point{X: d.number(e, code, 0), Y: d.number(e, code+10, 0)}
}

// turn is how coordinates of a block or a group come to lie: x' = a x + c y + at.X, y' = b x + d y + at.Y.
type turn struct {
	a, b, c, d float64
	at         geom.Point
}

func (t turn) of(p geom.Point) geom.Point {
	return geom.Point{X: t.a*p.X + t.c*p.Y + t.at.X, Y: t.b*p.X + t.d*p.Y + t.at.Y}
}

// then is u first and t after it.
func (t turn) then(u turn) turn {
	return turn{t.a*u.a + t.c*u.b, t.b*u.a + t.d*u.b, t.a*u.c + t.c*u.d, t.b*u.c + t.d*u.d, t.of(u.at)}
}

// draw takes entities over. What stands on layer 0 of a block is on the layer on which the block stands.
func (d *dxf) draw(entities []entity, t turn, on string, deep int) {
	for _, e := range entities {
		if d.full {
			return
		}
		layer := e.text(8)
		if on != "" && (layer == "" || layer == "0") {
			layer = on
		}
		switch e.kind {
		case "LINE":
			d.put([]geom.Point{d.point(e, 10), d.point(e, 11)}, false, t, layer)
		case "LWPOLYLINE":
			var points []vertex
			for _, p := range e.pairs {
				switch n := len(points); {
				case p.code == 10:
					points = append(points, vertex{at: geom.Point{X: d.value(p)}})
				case p.code == 20 && n > 0:
					points[n-1].at.Y = d.value(p)
				case p.code == 42 && n > 0:
					points[n-1].bulge = d.value(p)
				}
			}
			d.bulged(points, int(d.number(e, 70, 0))&1 == 1, t, layer)
		case "POLYLINE":
			var points []vertex
			for _, v := range e.parts {
				points = append(points, vertex{d.point(v, 10), d.number(v, 42, 0)})
			}
			d.bulged(points, int(d.number(e, 70, 0))&1 == 1, t, layer)
		case "TEXT", "MTEXT":
			if text := plainText(e.text(1)); text != "" {
				d.names = append(d.names, label{t.of(d.point(e, 10)), text})
			}
		case "INSERT":
			b := d.blocks[e.text(2)]
			switch {
			case b == nil:
				d.fault(e.line, words.Later("there is no block %q", cut(e.text(2))), words.Later("save the drawing with its blocks, or dissolve them"))
			case deep >= maxNested:
				d.fault(e.line, words.Later("blocks stand more than %d deep in each other", maxNested), words.Later("dissolve the blocks"))
			default:
				sin, cos := math.Sincos(d.number(e, 50, 0) * math.Pi / 180)
				x, y := d.number(e, 41, 1), d.number(e, 42, 1)
				place := turn{x * cos, x * sin, -y * sin, y * cos, d.point(e, 10)}
				place.at = place.of(b.base.Scale(-1))
				d.draw(b.entities, t.then(place), layer, deep+1)
			}
		case "SEQEND", "VERTEX", "ATTRIB", "ATTDEF", "VIEWPORT":
		default:
			d.pass(cut(e.kind), e.line)
		}
	}
}

func (d *dxf) put(points []geom.Point, closed bool, t turn, layer string) {
	for i, p := range points {
		points[i] = t.of(p)
	}
	d.full = d.full || !d.add(line{layer: layer, points: points}, closed)
}

type vertex struct {
	at    geom.Point
	bulge float64 // tangent of a quarter of the arc's angle to the next vertex; 0: straight
}

// bulged puts a polyline down; its arcs become chords.
func (d *dxf) bulged(points []vertex, closed bool, t turn, layer string) {
	var out []geom.Point
	for i, v := range points {
		out = append(out, v.at)
		if v.bulge == 0 || math.IsNaN(v.bulge) || i+1 == len(points) && !closed {
			continue
		}
		out = append(out, arc(v.at, points[(i+1)%len(points)].at, v.bulge)...)
	}
	d.put(out, closed, t, layer)
}

// arc returns places between two ends of an arc that is given by its bulge.
func arc(a, b geom.Point, bulge float64) []geom.Point {
	angle := 4 * math.Atan(bulge)
	n := min(int(math.Abs(angle)/(math.Pi/12))+1, 24)
	half := b.Sub(a).Scale(0.5)
	// the middle of the circle lies beside the middle of the chord
	off := (1 - bulge*bulge) / (2 * bulge)
	centre := a.Add(half).Add(geom.Point{X: -half.Y, Y: half.X}.Scale(off))
	r := a.Sub(centre)
	var out []geom.Point
	for i := 1; i < n; i++ {
		sin, cos := math.Sincos(angle * float64(i) / float64(n))
		out = append(out, centre.Add(geom.Point{X: r.X*cos - r.Y*sin, Y: r.X*sin + r.Y*cos}))
	}
	return out
}

// plainText takes the marks of layout out of a text: {\H2;Kitchen} and Kitchen\P12 m2.
func plainText(s string) string {
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c == '{' || c == '}':
		case c == '\\' && i+1 < len(s):
			switch i++; s[i] {
			case 'P', 'n':
				return strings.TrimSpace(b.String()) // the first line names the room
			case '\\', '{', '}':
				b.WriteByte(s[i])
			case 'L', 'l', 'O', 'o', 'K', 'k', '~':
			default: // up to a semicolon
				if end := strings.IndexByte(s[i:], ';'); end >= 0 {
					i += end
				}
			}
		default:
			b.WriteByte(c)
		}
	}
	name := strings.ToValidUTF8(strings.TrimSpace(b.String()), "")
	if r := []rune(name); len(r) > 60 {
		name = string(r[:60])
	}
	return name
}
