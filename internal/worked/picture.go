package worked

import (
	"fmt"
	"strings"
)

// Picture is a plot or a diagram as plain shapes, drawn alike on the page, in a file and on paper: black on white, every
// line told from the others by its weight or its dashes. Units of a tenth of a millimetre on paper; y runs down.
type Picture struct {
	Title  string   `json:"title"`
	Say    string   `json:"say"` // what it shows, for who can not see it
	Width  float64  `json:"width"`
	Height float64  `json:"height"`
	Lines  []Stroke `json:"lines"`
	Texts  []Text   `json:"texts"`
}

// Stroke is a line through points.
type Stroke struct {
	Points [][2]float64 `json:"points"`
	Weight float64      `json:"weight"` // 1 hairline, 3 line, 6 heavy
	Dashed bool         `json:"dashed"`
	Arrow  bool         `json:"arrow"`  // has a head at its end
	Closed bool         `json:"closed"` // an outline
	Filled bool         `json:"filled"` // an outline filled with ink
	Tone   string       `json:"tone"`   // "" ink, soft; wait, fail on the page as well as by weight or dashes
}

// Text is a line of text.
type Text struct {
	At     [2]float64 `json:"at"`     // on the base line
	Anchor string     `json:"anchor"` // start, middle, end
	Size   float64    `json:"size"`
	Bold   bool       `json:"bold"`
	Soft   bool       `json:"soft"`
	Say    string     `json:"say"`
}

// Line adds a line of a weight through points and returns it.
func (p *Picture) Line(weight float64, points ...[2]float64) *Stroke {
	p.Lines = append(p.Lines, Stroke{Points: points, Weight: weight})
	return &p.Lines[len(p.Lines)-1]
}

// Box adds a rectangle and returns it.
func (p *Picture) Box(weight, x, y, wide, high float64) *Stroke {
	s := p.Line(weight, [2]float64{x, y}, [2]float64{x + wide, y}, [2]float64{x + wide, y + high}, [2]float64{x, y + high})
	s.Closed = true
	return s
}

// Write adds a text and returns it.
func (p *Picture) Write(x, y, size float64, anchor, say string) *Text {
	p.Texts = append(p.Texts, Text{At: [2]float64{x, y}, Size: size, Anchor: anchor, Say: say})
	return &p.Texts[len(p.Texts)-1]
}

// Head is the triangle at the end of an arrow; nil when it has none.
func (s Stroke) Head() [][2]float64 {
	n := len(s.Points)
	if !s.Arrow || n < 2 {
		return nil
	}
	to, from := s.Points[n-1], s.Points[n-2]
	dx, dy := to[0]-from[0], to[1]-from[1]
	long := max(1e-9, abs(dx)+abs(dy))
	dx, dy = dx/long*22, dy/long*22
	return [][2]float64{to, {to[0] - dx - dy/2.5, to[1] - dy + dx/2.5}, {to[0] - dx + dy/2.5, to[1] - dy - dx/2.5}}
}

func abs(v float64) float64 {
	if v < 0 {
		return -v
	}
	return v
}

// SVG writes the picture as a file of its own, black on white.
func (p Picture) SVG() []byte {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%.1fmm" height="%.1fmm" viewBox="0 0 %.0f %.0f" font-family="Atkinson Hyperlegible, sans-serif" role="img" aria-label="%s">`+"\n",
		p.Width/10, p.Height/10, p.Width, p.Height, escape(p.Title+". "+p.Say))
	b.WriteString(`<rect width="100%" height="100%" fill="#fff"/>` + "\n")
	for _, s := range p.Lines {
		d, fill, dash := path(s.Points), "none", ""
		if s.Closed {
			d += "Z"
		}
		if s.Filled {
			fill = "#000"
		}
		if s.Dashed {
			dash = ` stroke-dasharray="14 10"`
		}
		fmt.Fprintf(&b, `<path d="%s" fill="%s" stroke="#000" stroke-width="%g"%s/>`+"\n", d, fill, s.Weight, dash)
		if head := s.Head(); head != nil {
			fmt.Fprintf(&b, `<path d="%sZ"/>`+"\n", path(head))
		}
	}
	for _, t := range p.Texts {
		weight, fill := 400, "#000"
		if t.Bold {
			weight = 700
		}
		if t.Soft {
			fill = "#444"
		}
		fmt.Fprintf(&b, `<text x="%.1f" y="%.1f" font-size="%g" font-weight="%d" text-anchor="%s" fill="%s" paint-order="stroke" stroke="#fff" stroke-width="6">%s</text>`+"\n", t.At[0], t.At[1], t.Size, weight, t.Anchor, fill, escape(t.Say))
	}
	b.WriteString("</svg>\n")
	return []byte(b.String())
}

func path(points [][2]float64) string {
	out := make([]string, len(points))
	for i, p := range points {
		out[i] = fmt.Sprintf("%.1f %.1f", p[0], p[1])
	}
	return "M" + strings.Join(out, "L")
}

var escape = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;").Replace
