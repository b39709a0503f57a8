package drawing

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"proofbell/geom"
	"proofbell/internal/words"
)

// Sheet is what a plan is drawn with on paper.
type Sheet struct {
	Lang     *words.Language
	Sizes    []Size // lengths of sides; none: not drawn
	Below    *Plan  // the storey below, as a ghost; nil: none
	Imperial bool   // the scale bar is in feet
}

// perMetre is the size of a metre of the plan in the picture: 1:50 on paper, a unit being a tenth of a millimetre.
const perMetre = 200.0

// SVG writes the plan as a picture for paper, black on white, to a scale of 1:50.
func (p Plan) SVG(sheet Sheet) []byte {
	low, high := p.Min, p.Max
	if b := sheet.Below; b != nil && b.Max != b.Min {
		low = geom.Point{X: min(low.X, b.Min.X), Y: min(low.Y, b.Min.Y)}
		high = geom.Point{X: max(high.X, b.Max.X), Y: max(high.Y, b.Max.Y)}
	}
	low, high = low.Sub(geom.Point{X: 1, Y: 2}), high.Add(geom.Point{X: 1, Y: 1.2})
	d := &picture{low: low, high: high}
	wide, tall := (high.X-low.X)*perMetre, (high.Y-low.Y)*perMetre
	d.add(`<svg xmlns="http://www.w3.org/2000/svg" width="%.1fmm" height="%.1fmm" viewBox="0 0 %.0f %.0f" font-family="Atkinson Hyperlegible, sans-serif" role="img" aria-label="%s">`, wide/10, tall/10, wide, tall, escape(p.Name))
	d.add(`<defs><pattern id="stone" width="24" height="24" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect width="24" height="24" fill="#fff"/><path d="M0 0V24" stroke="#000" stroke-width="4"/></pattern></defs>`)
	d.add(`<rect width="100%%" height="100%%" fill="#fff"/>`)
	if b := sheet.Below; b != nil {
		for _, w := range b.Walls {
			d.add(`<path d="%s" fill="none" stroke="#999" stroke-width="3" stroke-dasharray="14 10"/>`, d.ring(w.Outline))
		}
	}
	for _, r := range p.Rooms {
		d.add(`<path d="%s" fill="none" stroke="#bbb" stroke-width="2"/>`, d.ring(r.Outline))
	}
	for _, w := range p.Walls {
		fill := "#000"
		if w.Hatch == "stone" {
			fill = "url(#stone)"
		}
		d.add(`<path d="%s" fill="%s" stroke="#000" stroke-width="4"/>`, d.ring(w.Outline), fill)
	}
	for _, l := range p.Leaves {
		d.leaf(l)
	}
	for i, s := range sheet.Sizes {
		again := slices.ContainsFunc(sheet.Sizes[:i], func(o Size) bool { // of two sides that face each other one is enough
			u, v := s.To.Sub(s.From), o.To.Sub(o.From)
			return o.Room == s.Room && o.Say == s.Say && math.Abs(u.Cross(v)) < 0.01*u.Distance(geom.Point{})*v.Distance(geom.Point{})
		})
		if !again {
			d.size(s)
		}
	}
	for _, r := range p.Rooms {
		at := d.at(r.Label)
		at.Y -= float64(len(r.Lines)-1) * 26
		for _, line := range r.Lines {
			d.text(at, 44, "middle", `font-weight="700"`, line)
			at.Y += 52
		}
	}
	for _, m := range p.Marks {
		d.mark(m)
	}
	d.frame(p, sheet)
	d.add(`</svg>`)
	return []byte(d.b.String())
}

type picture struct {
	b         strings.Builder
	low, high geom.Point
}

func (d *picture) add(format string, args ...any) { fmt.Fprintf(&d.b, format+"\n", args...) }

func (d *picture) at(p geom.Point) geom.Point {
	return geom.Point{X: (p.X - d.low.X) * perMetre, Y: (d.high.Y - p.Y) * perMetre}
}

func (d *picture) ring(points []geom.Point) string {
	out := make([]string, len(points))
	for i, p := range points {
		q := d.at(p)
		out[i] = fmt.Sprintf("%.1f %.1f", q.X, q.Y)
	}
	return "M" + strings.Join(out, "L") + "Z"
}

func (d *picture) text(at geom.Point, size float64, anchor, more, say string) {
	d.add(`<text x="%.1f" y="%.1f" font-size="%.0f" text-anchor="%s" paint-order="stroke" stroke="#fff" stroke-width="10" %s>%s</text>`, at.X, at.Y+size/3, size, anchor, more, escape(say))
}

func (d *picture) line(from, to geom.Point, wide float64) {
	a, b := d.at(from), d.at(to)
	d.add(`<path d="M%.1f %.1fL%.1f %.1f" fill="none" stroke="#000" stroke-width="%.1f"/>`, a.X, a.Y, b.X, b.Y, wide)
}

func (d *picture) leaf(l Leaf) {
	d.line(l.From, l.To, 2)
	if !l.Swing {
		if l.Kind == "window" {
			u := l.To.Sub(l.From).Scale(1 / max(l.From.Distance(l.To), 1e-6))
			n := geom.Point{X: -u.Y, Y: u.X}.Scale(0.04)
			d.line(l.From.Add(n), l.To.Add(n), 2)
			d.line(l.From.Sub(n), l.To.Sub(n), 2)
		}
		return
	}
	wide := 4.0
	if l.Fire {
		wide = 9
	}
	d.line(l.Hinge, l.Tip, wide)
	other := l.From
	if l.To.Distance(l.Hinge) > l.From.Distance(l.Hinge) {
		other = l.To
	}
	tip, jamb, r := d.at(l.Tip), d.at(other), l.Hinge.Distance(l.Tip)*perMetre
	sweep := 1 // y runs down in the picture
	if l.Sweep {
		sweep = 0
	}
	d.add(`<path d="M%.1f %.1fA%.1f %.1f 0 0 %d %.1f %.1f" fill="none" stroke="#000" stroke-width="2"/>`, tip.X, tip.Y, r, r, sweep, jamb.X, jamb.Y)
}

// size draws a length: a hairline with a stroke across each end, the figure along it.
func (d *picture) size(s Size) {
	d.line(s.From, s.To, 1.5)
	u := s.To.Sub(s.From).Scale(1 / s.From.Distance(s.To))
	across := geom.Point{X: u.X - u.Y, Y: u.X + u.Y}.Scale(0.06)
	d.line(s.From.Add(across), s.From.Sub(across), 3)
	d.line(s.To.Add(across), s.To.Sub(across), 3)
	at := d.at(s.From.Add(s.To).Scale(0.5))
	turn := -math.Atan2(u.Y, u.X) * 180 / math.Pi
	if turn > 90+1e-6 || turn <= -90-1e-6 {
		turn += 180
	}
	d.text(at, 30, "middle", fmt.Sprintf(`transform="rotate(%.1f %.1f %.1f)"`, turn, at.X, at.Y), s.Say)
}

func (d *picture) mark(m Mark) {
	p := d.at(m.At)
	around := func(n int, size, turn float64) string {
		points := make([]string, n)
		for i := range n {
			sin, cos := math.Sincos(turn + float64(i)*2*math.Pi/float64(n))
			points[i] = fmt.Sprintf("%.1f %.1f", p.X+size*cos, p.Y+size*sin)
		}
		return "M" + strings.Join(points, "L") + "Z"
	}
	shape := fmt.Sprintf("M%.1f %.1fa34 34 0 1 0 68 0a34 34 0 1 0 -68 0Z", p.X-34, p.Y)
	switch m.Shape {
	case "triangle":
		shape = around(3, 44, -math.Pi/2)
	case "square":
		shape = around(4, 44, math.Pi/4)
	case "segment":
		shape = fmt.Sprintf("M%.1f %.1fa42 42 0 0 1 84 0Z", p.X-42, p.Y+20)
	case "hexagon":
		shape = around(6, 38, 0)
	case "pentagon":
		shape = around(5, 40, -math.Pi/2)
	case "cross":
		shape = fmt.Sprintf("M%.1f %.1fh28v-24h24v-28h-24v-24h-28v24h-24v28h24Z", p.X-14, p.Y+38)
	}
	fill, ink := "#000", "#fff"
	if m.What == "head" {
		fill, ink = "#fff", "#000"
	}
	d.add(`<path d="%s" fill="%s" stroke="#000" stroke-width="4"><title>%s</title></path>`, shape, fill, escape(m.Say))
	d.add(`<text x="%.1f" y="%.1f" font-size="28" text-anchor="middle" fill="%s">%s</text>`, p.X, p.Y+10, ink, escape(m.Text))
}

// frame draws name, scale bar, north and what could not be drawn.
func (d *picture) frame(p Plan, sheet Sheet) {
	d.text(geom.Point{X: perMetre / 2, Y: 0.6 * perMetre}, 64, "start", `font-weight="700"`, p.Name)
	long, say := p.Scale, strconv.FormatFloat(p.Scale, 'f', -1, 64)+" m"
	if sheet.Imperial {
		feet := roundLength(p.Scale / 0.3048)
		long, say = feet*0.3048, strconv.FormatFloat(feet, 'f', -1, 64)+" ft"
	}
	y := (d.high.Y - d.low.Y) * perMetre
	x := perMetre / 2
	d.add(`<path d="M%.1f %.1fv-24v12h%.1fv-12v24" fill="none" stroke="#000" stroke-width="4"/>`, x, y-100, long*perMetre)
	d.text(geom.Point{X: x + long*perMetre + 24, Y: y - 112}, 40, "start", "", say+", 1:50")
	sin, cos := math.Sincos(p.North * math.Pi / 180)
	c := geom.Point{X: (d.high.X-d.low.X)*perMetre - perMetre/2, Y: y - 120}
	d.add(`<path d="M%.1f %.1fL%.1f %.1f" stroke="#000" stroke-width="4"/>`, c.X-60*sin, c.Y+60*cos, c.X+60*sin, c.Y-60*cos)
	d.text(geom.Point{X: c.X + 90*sin, Y: c.Y - 90*cos}, 40, "middle", `font-weight="700"`, sheet.Lang.Say("N"))
	if len(p.Missing) > 0 {
		d.text(geom.Point{X: x, Y: y - 40}, 34, "start", "", sheet.Lang.Say("Not drawn: %s", strings.Join(p.Missing, "; ")))
	}
}
