package records

import (
	"cmp"
	"math"
	"slices"

	"codeberg.org/go-pdf/fpdf"

	"proofbell/geom"
	"proofbell/internal/drawing"
	"proofbell/internal/estimate"
	"proofbell/internal/papers"
)

// Fields are ruled, the more the closer, over a faint grey: what a copier makes of the grey does not matter.
const (
	ruled    = 1.1 // mm between the lines of the strongest band
	swatch   = 9.0 // width of a box of the legend, mm
	legendUp = 24.0
)

// rulings are, from the faintest tint: every how manieth line is drawn, and the grey under it.
var rulings = [4]struct{ every, grey int }{{4, 250}, {4, 240}, {2, 228}, {1, 214}}

// tint is how a band is drawn. Fields of fewer bands begin further up, so that the highest is always the darkest.
func tint(band, bands int) int { return min(max(3-(bands-1-band), 0), 3) }

// fields draws storeys with what was computed over them, all to one scale.
func (p *page) fields(list []papers.Field) {
	var plans []drawing.Plan
	for _, f := range list {
		plans = append(plans, f.Plan)
	}
	scale, _ := p.scaleOf(plans, 70+legendUp+10)
	for i, f := range list {
		if f.Plan.Max.X > f.Plan.Min.X && f.Plan.Max.Y > f.Plan.Min.Y {
			p.storey(f.Plan, scale, legendUp, f)
			p.legend(f)
		}
		if i == len(list)-1 {
			p.para(p.paper.Frame.Key, small)
		}
	}
}

// overlay draws a field where a plan is being drawn.
type overlay struct {
	papers.Field
	*page
	at func(geom.Point) (x, y float64)
}

// runs calls fn with every run of cells of one band in a row: bounds in metres.
func (o overlay) runs(fn func(band int, low, high geom.Point)) {
	cells, v := o.Cells(), o.Field.Field
	for row := range v.H {
		for from := 0; from < v.W; {
			band, to := cells[row*v.W+from], from+1
			for to < v.W && cells[row*v.W+to] == band {
				to++
			}
			if int(band) < len(v.Steps) {
				fn(int(band), geom.Point{X: v.Min[0] + float64(from)*v.Step, Y: v.Min[1] + float64(row)*v.Step}, geom.Point{X: v.Min[0] + float64(to)*v.Step, Y: v.Min[1] + float64(row+1)*v.Step})
			}
			from = to
		}
	}
}

// under draws the bands.
func (o overlay) under() {
	if v := o.Field.Field; v == nil || len(o.Cells()) != v.W*v.H {
		return
	}
	steps := len(o.Field.Field.Steps)
	o.runs(func(band int, low, high geom.Point) {
		x0, y0 := o.at(geom.Point{X: low.X, Y: high.Y})
		x1, y1 := o.at(geom.Point{X: high.X, Y: low.Y})
		grey := rulings[tint(band, steps)].grey
		o.SetFillColor(grey, grey, grey)
		o.Rect(x0, y0, x1-x0+0.05, y1-y0+0.05, "F") // without a seam to the next row
	})
	o.runs(func(band int, low, high geom.Point) {
		x0, y0 := o.at(geom.Point{X: low.X, Y: high.Y})
		x1, y1 := o.at(geom.Point{X: high.X, Y: low.Y})
		o.ruling(tint(band, steps), x0, y0, x1, y1)
	})
	o.SetDrawColor(0, 0, 0)
}

// ruling rules a box of the page; lines and dots of neighbouring boxes meet.
func (p *page) ruling(tint int, x0, y0, x1, y1 float64) {
	p.SetDrawColor(70, 70, 70)
	p.SetFillColor(70, 70, 70)
	p.SetLineWidth(0.12)
	r := rulings[tint]
	for n := int(math.Ceil(y0 / ruled)); float64(n)*ruled < y1; n++ {
		if n%r.every != 0 {
			continue
		}
		y := float64(n) * ruled
		if tint > 0 {
			p.Line(x0, y, x1, y)
			continue
		}
		const apart = 3 * ruled
		for k := math.Ceil(x0 / apart); k*apart < x1; k++ {
			p.Circle(k*apart, y, 0.22, "F")
		}
	}
}

// heavy draws a line at what is required, over a white one.
func (p *page) heavy(points []fpdf.PointType, closed bool) {
	draw := func(wide float64, ink int) {
		p.SetDrawColor(ink, ink, ink)
		p.SetLineWidth(wide)
		p.SetLineJoinStyle("round")
		for i, q := range points {
			if i == 0 {
				p.MoveTo(q.X, q.Y)
			} else {
				p.LineTo(q.X, q.Y)
			}
		}
		if closed {
			p.ClosePath()
		}
		p.DrawPath("D")
		p.SetLineJoinStyle("miter")
	}
	draw(1.5, 255)
	p.SetDashPattern([]float64{2.4, 0.7}, 0) // no wall
	draw(0.75, 0)
	p.SetDashPattern(nil, 0)
}

// contours draws the lines at what is required.
func (o overlay) contours() {
	if o.Field.Field == nil {
		return
	}
	for _, c := range o.Field.Field.Contour {
		if len(c.Line) > 1 {
			o.heavy(o.points(c.Line), c.Closed)
		}
	}
}

func (o overlay) points(line [][2]float64) []fpdf.PointType {
	out := make([]fpdf.PointType, len(line))
	for i, q := range line {
		out[i].X, out[i].Y = o.at(geom.Point{X: q[0], Y: q[1]})
	}
	return out
}

// figures writes on each line that is long enough what it stands for, where it covers neither a name nor a mark nor another figure.
func (o overlay) figures(marks []fpdf.PointType) {
	if o.Field.Field == nil {
		return
	}
	type box struct{ x, y, wide, high float64 } // middle and half sizes
	var avoid []box
	o.SetFont("text", "", small)
	for _, r := range o.Plan.Rooms {
		x, y := o.at(r.Label)
		wide := 0.0
		for _, line := range r.Lines {
			wide = max(wide, o.GetStringWidth(line))
		}
		avoid = append(avoid, box{x, y, wide / 2, nameHigh * float64(len(r.Lines)) / 2})
	}
	for _, m := range marks {
		avoid = append(avoid, box{m.X, m.Y, 2.6, 2.6})
	}
	lines := slices.Clone(o.Field.Field.Contour)
	slices.SortStableFunc(lines, func(a, b estimate.Contour) int { return cmp.Compare(len(b.Line), len(a.Line)) })
	for _, c := range lines {
		text := trimmed(c.Value) + " " + o.Field.Field.Unit
		o.SetFont("text", "B", small)
		own := box{wide: o.GetStringWidth(text)/2 + 0.6, high: 1.7}
		points := o.points(c.Line)
		long, free := 0.0, 0.4
		for i, q := range points {
			if i > 0 {
				long += math.Hypot(q.X-points[i-1].X, q.Y-points[i-1].Y)
			}
			near := math.Inf(1)
			for _, a := range avoid {
				near = min(near, max(math.Abs(q.X-a.x)-a.wide-own.wide, math.Abs(q.Y-a.y)-a.high-own.high))
			}
			if near > free {
				own.x, own.y, free = q.X, q.Y, near
			}
		}
		if long > 22 && own.x > 0 {
			o.tag(own.x, own.y, text)
			avoid = append(avoid, own)
		}
	}
}

// tag writes a word on white about a point.
func (p *page) tag(x, y float64, text string) {
	p.SetFont("text", "B", small)
	w := p.GetStringWidth(text)
	p.SetFillColor(255, 255, 255)
	p.Rect(x-w/2-0.6, y-1.7, w+1.2, 3.4, "F")
	p.Text(x-w/2, y+0.95, text)
}

// legend says under a field what the rulings and the line mean, and what the figures are worth.
func (p *page) legend(f papers.Field) {
	x, y := margin, p.GetY()+1
	step := func(wide float64) {
		if x+wide > margin+p.width() {
			x, y = margin, y+6
		}
	}
	p.SetFont("text", "B", small)
	step(p.GetStringWidth(f.Title))
	p.Text(x, y+3.2, f.Title)
	x += p.GetStringWidth(f.Title) + 5
	p.SetFont("text", "", small)
	for band, say := range f.Bands {
		wide := swatch + 1.5 + p.GetStringWidth(say) + 5
		step(wide)
		grey := rulings[tint(band, len(f.Bands))].grey
		p.SetFillColor(grey, grey, grey)
		p.Rect(x, y, swatch, 4.4, "F")
		p.ruling(tint(band, len(f.Bands)), x, y, x+swatch, y+4.4)
		p.SetDrawColor(0, 0, 0)
		p.SetLineWidth(0.2)
		p.Rect(x, y, swatch, 4.4, "D")
		p.SetFont("text", "", small)
		p.Text(x+swatch+1.5, y+3.2, say)
		x += wide
	}
	if f.Line != "" {
		step(swatch + 1.5 + p.GetStringWidth(f.Line))
		p.heavy([]fpdf.PointType{{X: x, Y: y + 3.4}, {X: x + 3, Y: y + 1.2}, {X: x + 6, Y: y + 3.2}, {X: x + swatch, Y: y + 1}}, false)
		p.SetFont("text", "", small)
		p.Text(x+swatch+1.5, y+3.2, f.Line)
	}
	p.SetDrawColor(0, 0, 0)
	p.SetY(y + 6)
	p.SetFont("text", "B", body)
	p.Text(margin, p.GetY()+3.4, f.Label)
	p.SetY(p.GetY() + 6)
}
