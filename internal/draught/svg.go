package draught

import (
	"math"
	"strconv"
	"strings"

	"proofbell/geom"
	"proofbell/internal/words"
)

// Of an SVG file the elements svg, g, path, rect, polygon, polyline, line and text are read, with their transforms; lengths
// in mm, cm, in, pt and px of the sheet (SVG 2, sections 7 to 9). Styles are not: what is invisible is read too.

// tag is one tag of the text.
type tag struct {
	name   string
	attrs  map[string]string
	closes bool // </g>
	empty  bool // <line/>
	text   string
	line   int
}

type svg struct {
	*found
	full bool
}

// group is an element that is open.
type group struct {
	name string
	turn turn
	id   string
	skip bool // what stands in it is no part of the drawing
	set  bool // a text whose place is known
}

func (f *found) svg(text string) {
	s := &svg{found: f}
	open := []group{{turn: turn{1, 0, 0, -1, geom.Point{}}}} // y is turned up
	started := false
	err := scan(text, func(t tag) bool {
		top := open[len(open)-1]
		if t.closes {
			for i := len(open) - 1; i > 0; i-- {
				if open[i].name == t.name {
					open = open[:i]
					break
				}
			}
			return !s.full
		}
		if t.name == "" {
			if top.name == "text" || top.name == "tspan" {
				s.named(t.text, top.turn.at)
			} else if name := strings.TrimSpace(t.text); top.name == "title" && name != "" && len(open) > 1 {
				open[len(open)-2].id = name
			}
			return true
		}
		started = started || t.name == "svg"
		g := group{name: t.name, turn: top.turn, id: top.id, skip: top.skip, set: top.set}
		if v := t.attrs["transform"]; v != "" {
			m, ok := transform(v)
			if !ok {
				f.fault(t.line, words.Later("the transform %q can not be read", cut(v)), words.Later("save the drawing without it"))
			}
			g.turn = g.turn.then(m)
		}
		if id := t.attrs["id"]; id != "" && t.name == "g" {
			g.id = id
		}
		if !g.skip {
			s.element(t, &g, top.id)
		}
		if !t.empty && len(open) < 200 {
			open = append(open, g)
		}
		return !s.full
	})
	switch {
	case s.full:
		f.fault(0, words.Later("the drawing has more than %d lines", maxLines), words.Later("leave out of the drawing what is no outline"))
	case err > 0:
		f.fault(err, words.Later("the text breaks off within a tag"), words.Later("save or send the drawing again"))
	case !started:
		f.fault(1, words.Later("there is no svg element"), words.Later("save the drawing as SVG"))
	}
}

func (s *svg) element(t tag, g *group, layer string) {
	put := func(points []geom.Point, closed bool) {
		for i, p := range points {
			points[i] = g.turn.of(p)
		}
		l := line{layer: layer, points: points}
		if closed {
			l.name = strings.TrimSpace(t.attrs["aria-label"])
		}
		s.full = s.full || !s.add(l, closed)
	}
	n := func(name string) float64 { return s.length(t, name) }
	switch t.name {
	case "svg":
		s.sheet(t, g)
	case "path":
		s.path(t, put)
	case "rect":
		x, y, w, h := n("x"), n("y"), n("width"), n("height")
		if w > 0 && h > 0 {
			put([]geom.Point{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + h}, {X: x, Y: y + h}}, true)
		}
	case "polygon", "polyline":
		v, ok := numbers(t.attrs["points"])
		if !ok || len(v)%2 == 1 {
			s.fault(t.line, words.Later("the points of a %s can not be read", t.name), words.Later("save the drawing again"))
		}
		var points []geom.Point
		for i := 0; i+1 < len(v); i += 2 {
			points = append(points, geom.Point{X: v[i], Y: v[i+1]})
		}
		put(points, t.name == "polygon")
	case "line":
		put([]geom.Point{{X: n("x1"), Y: n("y1")}, {X: n("x2"), Y: n("y2")}}, false)
	case "text", "tspan":
		if !g.set {
			g.turn.at, g.set = g.turn.of(geom.Point{X: n("x"), Y: n("y")}), t.attrs["x"] != ""
		}
	case "g", "a", "switch", "title", "desc", "style", "metadata":
	case "defs", "symbol", "clipPath", "mask", "pattern", "marker", "filter", "linearGradient", "radialGradient", "script", "foreignObject":
		g.skip = true
	default:
		if !strings.Contains(t.name, ":") && t.name != "stop" {
			s.pass(cut(t.name), t.line)
		}
	}
}

func (s *svg) named(text string, at geom.Point) {
	if text = plainText(text); text != "" {
		s.names = append(s.names, label{at, text})
	}
}

// sheet reads the size of the drawing: with a length of a real unit, a unit of the drawing is so much of the sheet. The
// outermost element alone says it.
func (s *svg) sheet(t tag, g *group) {
	box, ok := numbers(t.attrs["viewBox"])
	if s.size > 0 || len(g.id) > 0 || !ok {
		return
	}
	v, unit := measure(t.attrs["width"])
	size, real := unitSizes[unit]
	if !real || v <= 0 {
		return
	}
	if len(box) == 4 && box[2] > 0 {
		size *= v / box[2]
	}
	for name, one := range unitSizes {
		if math.Abs(size/one-1) < 1e-6 {
			s.unit = name
		}
	}
	s.size = size
}

// length reads a length of an element in units of the drawing.
func (s *svg) length(t tag, name string) float64 {
	text := strings.TrimSpace(t.attrs[name])
	if text == "" {
		return 0
	}
	v, unit := measure(text)
	perUnit := map[string]float64{"": 1, "px": 1, "pt": 96.0 / 72, "mm": 96 / 25.4, "cm": 96 / 2.54, "in": 96}
	if f, known := perUnit[unit]; known && !math.IsNaN(v) {
		return v * f
	}
	s.fault(t.line, words.Later("the %s %q of a %s can not be read", name, cut(text), t.name), words.Later("save the drawing again"))
	return 0
}

// measure splits a length from its unit.
func measure(text string) (float64, string) {
	text = strings.TrimSpace(text)
	n := len(text)
	for n > 0 && (text[n-1] >= 'a' && text[n-1] <= 'z' || text[n-1] == '%') {
		n--
	}
	v, err := strconv.ParseFloat(text[:n], 64)
	if err != nil || math.IsInf(v, 0) {
		return math.NaN(), text[n:]
	}
	return v, text[n:]
}

// numbers reads a list of numbers with spaces or commas between.
func numbers(text string) ([]float64, bool) {
	r := reader{text: text}
	var out []float64
	for r.blank(); r.at < len(text); r.blank() {
		v, ok := r.number()
		if !ok || len(out) > 2*maxLines {
			return out, false
		}
		out = append(out, v)
	}
	return out, true
}

// reader reads the small languages of attributes.
type reader struct {
	text string
	at   int
}

func (r *reader) blank() {
	for r.at < len(r.text) && strings.IndexByte(" \t\r\n,", r.text[r.at]) >= 0 {
		r.at++
	}
}

// number reads a number as SVG writes it: -1.5e3, .5, and 1.5.5 as two.
func (r *reader) number() (float64, bool) {
	r.blank()
	from, dot, digits := r.at, false, false
	for r.at < len(r.text) {
		switch c := r.text[r.at]; {
		case c >= '0' && c <= '9':
			digits = true
		case (c == '-' || c == '+') && (r.at == from || r.text[r.at-1] == 'e' || r.text[r.at-1] == 'E'):
		case c == '.' && !dot:
			dot = true
		case (c == 'e' || c == 'E') && digits && r.at+1 < len(r.text):
			dot = true
		default:
			goto end
		}
		r.at++
	}
end:
	v, err := strconv.ParseFloat(r.text[from:r.at], 64)
	return v, err == nil && !math.IsInf(v, 0)
}

// flag reads a 0 or 1 of an arc, after which the next number may follow at once.
func (r *reader) flag() (bool, bool) {
	r.blank()
	if r.at < len(r.text) && (r.text[r.at] == '0' || r.text[r.at] == '1') {
		r.at++
		return r.text[r.at-1] == '1', true
	}
	return false, false
}

// transform reads a list of transforms (SVG 2, section 8.5).
func transform(text string) (turn, bool) {
	out := turn{1, 0, 0, 1, geom.Point{}}
	for text = strings.Trim(text, " \t\r\n,"); text != ""; text = strings.TrimLeft(text, " \t\r\n,") {
		name, rest, ok := strings.Cut(text, "(")
		inner, after, closed := strings.Cut(rest, ")")
		v, fine := numbers(inner)
		if !ok || !closed || !fine {
			return out, false
		}
		text = after
		arg := func(i int, otherwise float64) float64 {
			if i < len(v) {
				return v[i]
			}
			return otherwise
		}
		var m turn
		switch name = strings.TrimSpace(name); {
		case name == "matrix" && len(v) == 6:
			m = turn{v[0], v[1], v[2], v[3], geom.Point{X: v[4], Y: v[5]}}
		case name == "translate" && len(v) > 0:
			m = turn{1, 0, 0, 1, geom.Point{X: v[0], Y: arg(1, 0)}}
		case name == "scale" && len(v) > 0:
			m = turn{v[0], 0, 0, arg(1, v[0]), geom.Point{}}
		case name == "rotate" && len(v) > 0:
			sin, cos := math.Sincos(v[0] * math.Pi / 180)
			m = turn{cos, sin, -sin, cos, geom.Point{}}
			c := geom.Point{X: arg(1, 0), Y: arg(2, 0)}
			m.at = c.Sub(m.of(c))
		case name == "skewX" && len(v) == 1:
			m = turn{1, 0, math.Tan(v[0] * math.Pi / 180), 1, geom.Point{}}
		case name == "skewY" && len(v) == 1:
			m = turn{1, math.Tan(v[0] * math.Pi / 180), 0, 1, geom.Point{}}
		default:
			return out, false
		}
		out = out.then(m)
	}
	return out, true
}

// chords are those of a curve.
const chords = 16

// path reads the data of a path (SVG 2, section 9.3). Curves become chords.
func (s *svg) path(t tag, put func([]geom.Point, bool)) {
	r := reader{text: t.attrs["d"]}
	var points []geom.Point
	var at, start, control geom.Point
	end := func(closed bool) {
		if len(points) > 1 {
			put(points, closed)
		}
		points = nil
	}
	command, last := byte(0), byte(0)
	for r.blank(); r.at < len(r.text); r.blank() {
		if c := r.text[r.at]; c >= 'A' && c <= 'z' && c != 'e' && c != 'E' {
			command = c
			r.at++
		} else if command == 'z' || command == 'Z' || command == 0 {
			s.fault(t.line, words.Later("the data of a path can not be read at %q", cut(r.text[r.at:])), words.Later("save the drawing again"))
			break
		}
		from := geom.Point{}
		if command >= 'a' {
			from = at
		}
		good := true
		next := func() geom.Point {
			x, ok1 := r.number()
			y, ok2 := r.number()
			good = good && ok1 && ok2
			return from.Add(geom.Point{X: x, Y: y})
		}
		curve := func(b, c, d geom.Point) {
			for i := 1; i <= chords; i++ {
				u := float64(i) / chords
				v := 1 - u
				points = append(points, at.Scale(v*v*v).Add(b.Scale(3*v*v*u)).Add(c.Scale(3*v*u*u)).Add(d.Scale(u*u*u)))
			}
		}
		mirrored := func(of string) geom.Point {
			if strings.IndexByte(of, last) >= 0 {
				return at.Scale(2).Sub(control)
			}
			return at
		}
		to := at
		if len(points) == 0 && command|0x20 != 'm' {
			points = []geom.Point{at}
		}
		switch command | 0x20 {
		case 'm':
			end(false)
			to = next()
			start = to
			points = []geom.Point{to}
			command-- // what follows are lines: l after m
		case 'l':
			to = next()
			points = append(points, to)
		case 'h', 'v':
			v, ok := r.number()
			good = ok
			if command|0x20 == 'h' {
				to.X = from.X + v
			} else {
				to.Y = from.Y + v
			}
			points = append(points, to)
		case 'c', 's':
			b := mirrored("csCS")
			if command|0x20 == 'c' {
				b = next()
			}
			c := next()
			to = next()
			curve(b, c, to)
			control = c
		case 'q', 't':
			c := mirrored("qtQT")
			if command|0x20 == 'q' {
				c = next()
			}
			to = next()
			curve(at.Add(c.Sub(at).Scale(2.0/3)), to.Add(c.Sub(to).Scale(2.0/3)), to)
			control = c
		case 'a':
			points, to, good = r.arc(points, at, from)
		case 'z':
			end(true)
			to = start
		default:
			good = false
		}
		if !good || s.full || len(points) > maxLines {
			s.fault(t.line, words.Later("the data of a path can not be read at %q", cut(r.text[min(r.at, len(r.text)):])), words.Later("save the drawing again"))
			break
		}
		at, last = to, command
	}
	end(false)
}

// arc reads an elliptical arc and adds places on it (SVG 2, appendix B.2.4).
func (r *reader) arc(points []geom.Point, at, from geom.Point) ([]geom.Point, geom.Point, bool) {
	rx, ok1 := r.number()
	ry, ok2 := r.number()
	phi, ok3 := r.number()
	large, ok4 := r.flag()
	sweep, ok5 := r.flag()
	x, ok6 := r.number()
	y, ok7 := r.number()
	to := from.Add(geom.Point{X: x, Y: y})
	if !ok1 || !ok2 || !ok3 || !ok4 || !ok5 || !ok6 || !ok7 {
		return points, to, false
	}
	rx, ry = math.Abs(rx), math.Abs(ry)
	if rx == 0 || ry == 0 || at == to {
		return append(points, to), to, true
	}
	sin, cos := math.Sincos(phi * math.Pi / 180)
	half := at.Sub(to).Scale(0.5)
	p := geom.Point{X: cos*half.X + sin*half.Y, Y: -sin*half.X + cos*half.Y}
	if l := p.X*p.X/(rx*rx) + p.Y*p.Y/(ry*ry); l > 1 {
		rx, ry = rx*math.Sqrt(l), ry*math.Sqrt(l)
	}
	q := rx*rx*p.Y*p.Y + ry*ry*p.X*p.X
	f := math.Sqrt(max(0, (rx*rx*ry*ry-q)/q))
	if large == sweep {
		f = -f
	}
	c := geom.Point{X: f * rx * p.Y / ry, Y: -f * ry * p.X / rx}
	angle := func(v geom.Point) float64 { return math.Atan2((v.Y-c.Y)/ry, (v.X-c.X)/rx) }
	a, b := angle(p), angle(p.Scale(-1))
	if sweep && b < a {
		b += 2 * math.Pi
	} else if !sweep && b > a {
		b -= 2 * math.Pi
	}
	middle := at.Add(to).Scale(0.5)
	for i := 1; i <= 12; i++ {
		if i == 12 {
			points = append(points, to)
			break
		}
		s, k := math.Sincos(a + (b-a)*float64(i)/12)
		x, y := c.X+rx*k, c.Y+ry*s
		points = append(points, middle.Add(geom.Point{X: cos*x - sin*y, Y: sin*x + cos*y}))
	}
	return points, to, true
}

// scan reads the tags and texts of a file one by one, until take has enough. It returns the line in which it breaks off, 0 for none.
func scan(text string, take func(tag) bool) int {
	line, last := 1, 0
	for at := 0; at < len(text); {
		open := strings.IndexByte(text[at:], '<')
		if open < 0 {
			return 0
		}
		if body := text[at : at+open]; strings.TrimSpace(body) != "" && !take(tag{text: entities(body)}) {
			return 0
		}
		at += open
		line += strings.Count(text[last:at], "\n")
		last = at
		skip := func(end string) bool {
			n := strings.Index(text[at:], end)
			at += max(n, 0) + len(end)
			return n >= 0
		}
		rest := text[at:]
		whole := true
		switch {
		case strings.HasPrefix(rest, "<!--"):
			whole = skip("-->")
		case strings.HasPrefix(rest, "<![CDATA["):
			whole = skip("]]>")
		case strings.HasPrefix(rest, "<?"):
			whole = skip("?>")
		case strings.HasPrefix(rest, "<!"):
			if inner := strings.IndexAny(rest, "[>"); inner >= 0 && rest[inner] == '[' {
				whole = skip("]")
			}
			whole = whole && skip(">")
		default:
			t, n := parseTag(rest)
			if t.line = line; n == 0 {
				return line
			}
			at += n
			if !take(t) {
				return 0
			}
		}
		if !whole {
			return line
		}
	}
	return 0
}

// parseTag reads the tag at the beginning of a text and says how long it is; 0: it has no end.
func parseTag(text string) (t tag, n int) {
	i := 1
	if i < len(text) && text[i] == '/' {
		t.closes = true
		i++
	}
	word := func() string {
		from := i
		for i < len(text) && strings.IndexByte(" \t\r\n=/>\"'<", text[i]) < 0 {
			i++
		}
		return text[from:i]
	}
	blank := func() {
		for i < len(text) && strings.IndexByte(" \t\r\n", text[i]) >= 0 {
			i++
		}
	}
	t.name = strings.TrimPrefix(word(), "svg:")
	t.attrs = map[string]string{}
	for {
		blank()
		if i >= len(text) {
			return t, 0
		}
		switch text[i] {
		case '>':
			return t, i + 1
		case '/':
			t.empty = true
			i++
			continue
		case '<':
			return t, 0
		}
		name := word()
		blank()
		if i < len(text) && text[i] == '=' {
			i++
			blank()
			if i >= len(text) || text[i] != '"' && text[i] != '\'' {
				return t, 0
			}
			end := strings.IndexByte(text[i+1:], text[i])
			if end < 0 {
				return t, 0
			}
			if len(t.attrs) < 100 {
				t.attrs[name] = entities(text[i+1 : i+1+end])
			}
			i += end + 2
		} else if name == "" {
			i++
		}
	}
}

var entities = strings.NewReplacer("&lt;", "<", "&gt;", ">", "&quot;", `"`, "&apos;", "'", "&amp;", "&").Replace
