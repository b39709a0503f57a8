package records

import (
	"math"
	"slices"

	"codeberg.org/go-pdf/fpdf"

	"proofbell/geom"
	"proofbell/internal/drawing"
	"proofbell/internal/papers"
)

const stop = 2.4 // half the size of a stop, mm

// strip draws four stops with the hops between them. A stop keeps its shape; its fill is its state.
func (p *page) strip(r papers.Strip, x, y float64) {
	const step = 20.0
	p.SetLineWidth(0.35)
	for i := range 3 {
		from, to := x+float64(i)*step+stop+0.6, x+float64(i+1)*step-stop-0.6
		if proved(r.Stops[i]) && proved(r.Stops[i+1]) {
			p.Line(from, y, to, y)
			if r.Hops[i] != "" {
				p.SetFont("text", "", 6)
				p.SetXY(from, y-3)
				p.CellFormat(to-from, 2.6, r.Hops[i], "", 0, "C", false, 0, "")
			}
		} else {
			p.SetDashPattern([]float64{0.3, 1.1}, 0)
			p.Line(from, y, to, y)
			p.SetDashPattern(nil, 0)
		}
	}
	for i, state := range r.Stops {
		p.stop(i, state, x+float64(i)*step, y)
	}
}

func proved(state string) bool { return state == "proved" || state == "half" }

// stop draws one stop: 0 circle, 1 square, 2 diamond, 3 house.
func (p *page) stop(shape int, state string, x, y float64) {
	outline := p.outline(shape, x, y)
	p.SetLineWidth(0.3)
	switch state {
	case "proved":
		p.SetFillColor(0, 0, 0)
		p.shape(shape, outline, x, y, "F")
		p.SetDrawColor(255, 255, 255)
		p.SetLineWidth(0.5)
		p.Line(x-1.1, y+0.1, x-0.3, y+0.9)
		p.Line(x-0.3, y+0.9, x+1.2, y-0.9)
		p.SetDrawColor(0, 0, 0)
	case "half":
		p.shape(shape, outline, x, y, "D")
		p.clipTo(shape, outline, x, y)
		p.Rect(x-stop-1, y, 2*stop+2, stop+1, "F")
		p.ClipEnd()
	case "failed":
		p.SetLineWidth(0.7)
		p.shape(shape, outline, x, y, "D")
		p.SetLineWidth(0.4)
		p.Line(x-1, y-1, x+1, y+1)
		p.Line(x-1, y+1, x+1, y-1)
	case "waiting":
		p.shape(shape, outline, x, y, "D")
		p.clipTo(shape, outline, x, y)
		p.SetLineWidth(0.2)
		for d := -2 * stop; d <= 2*stop; d += 0.8 {
			p.Line(x+d-stop, y+stop, x+d+stop, y-stop)
		}
		p.ClipEnd()
	default:
		p.SetDashPattern([]float64{0.7, 0.6}, 0)
		p.shape(shape, outline, x, y, "D")
		p.SetDashPattern(nil, 0)
	}
	p.SetLineWidth(0.3)
}

func (p *page) outline(shape int, x, y float64) []fpdf.PointType {
	switch shape {
	case 1:
		s := stop * 0.9
		return []fpdf.PointType{{X: x - s, Y: y - s}, {X: x + s, Y: y - s}, {X: x + s, Y: y + s}, {X: x - s, Y: y + s}}
	case 2:
		s := stop * 1.15
		return []fpdf.PointType{{X: x, Y: y - s}, {X: x + s, Y: y}, {X: x, Y: y + s}, {X: x - s, Y: y}}
	case 3:
		s := stop
		return []fpdf.PointType{{X: x - s, Y: y + s}, {X: x - s, Y: y - 0.3*s}, {X: x, Y: y - 1.1*s}, {X: x + s, Y: y - 0.3*s}, {X: x + s, Y: y + s}}
	}
	return nil
}

func (p *page) shape(shape int, outline []fpdf.PointType, x, y float64, style string) {
	if shape == 0 {
		p.Circle(x, y, stop, style)
		return
	}
	p.Polygon(outline, style)
}

func (p *page) clipTo(shape int, outline []fpdf.PointType, x, y float64) {
	if shape == 0 {
		p.ClipCircle(x, y, stop, false)
		return
	}
	p.ClipPolygon(outline, false)
}

// key explains the fills of the stops.
func (p *page) key() {
	y, x := p.GetY()+3, margin+3
	for i, state := range []string{"unproved", "waiting", "half", "proved", "failed"} {
		p.SetFont("text", "", small)
		say := p.paper.Frame.States[i]
		if x+3.6+p.GetStringWidth(say) > margin+p.width() { // long words in some languages
			x, y = margin+3, y+6
		}
		p.stop(0, state, x, y)
		p.SetFont("text", "", small)
		p.Text(x+3.6, y+0.9, say)
		x += p.GetStringWidth(say) + 10
	}
	p.SetY(y + 5)
}

// plans draws all storeys to one scale, on as few pages as they need.
func (p *page) plans(storeys []drawing.Plan) {
	scale, drawn := p.scaleOf(storeys, 70)
	if drawn == 0 {
		return
	}
	p.SetFont("text", "", small)
	key := float64(len(p.lines(p.paper.Frame.Key, p.width())))*rowHigh + 4
	for _, s := range storeys {
		if s.Max.X > s.Min.X && s.Max.Y > s.Min.Y {
			drawn--
			below := 0.0
			if drawn == 0 {
				below = key // what the marks mean stays with the last plan
			}
			p.storey(s, scale, below, papers.Field{Plan: s})
		}
	}
	p.Ln(3)
	p.para(p.paper.Frame.Key, small)
}

// scaleOf is the scale at which all storeys fit on a page, with so many mm beside each; drawn is how many have anything to draw.
func (p *page) scaleOf(storeys []drawing.Plan, beside float64) (scale float64, drawn int) {
	scale = 12 // mm per metre at the most
	for _, s := range storeys {
		if wide, high := s.Max.X-s.Min.X, s.Max.Y-s.Min.Y; wide > 0 && high > 0 {
			scale = math.Min(scale, math.Min(p.width()/wide, (p.bottom()-beside)/high))
			drawn++
		}
	}
	return scale, drawn
}

// storey draws one plan where the page stands, with below mm left under it, and what was computed over it.
func (p *page) storey(s drawing.Plan, scale, below float64, field papers.Field) {
	high := (s.Max.Y - s.Min.Y) * scale
	p.room(high + 30 + below)
	p.title(s.Name, 0)
	top := p.GetY() + 2
	at := func(q geom.Point) (x, y float64) { return margin + (q.X-s.Min.X)*scale, top + (s.Max.Y-q.Y)*scale }
	poly := func(points []geom.Point) []fpdf.PointType {
		out := make([]fpdf.PointType, len(points))
		for i, q := range points {
			out[i].X, out[i].Y = at(q)
		}
		return out
	}
	over := overlay{field, p, at}
	over.under()
	p.SetLineWidth(0.1)
	p.SetDrawColor(190, 190, 190)
	for _, r := range s.Rooms {
		p.Polygon(poly(r.Outline), "D")
	}
	p.SetDrawColor(0, 0, 0)
	for _, w := range s.Walls {
		p.wall(poly(w.Outline), w.Hatch == "stone")
	}
	for _, l := range s.Leaves {
		p.leaf(l, at, scale)
	}
	over.contours()
	for _, r := range s.Rooms {
		x, y := at(r.Label)
		p.name(r.Lines, x, y)
	}
	marks := slices.Clone(s.Marks)
	for _, g := range field.Ghosts {
		marks = append(marks, drawing.Mark{What: ghost, At: g.At, Text: g.Text})
	}
	over.figures(p.marks(marks, s.Rooms, at))
	y := top + high + 6
	p.scaleBar(margin, y, s.Scale, scale)
	p.north(margin+p.width()-8, y, s.North)
	p.SetXY(margin, y+6)
	for _, m := range s.Missing {
		p.para(p.paper.Frame.NotDrawn+": "+m+".", small)
	}
}

const (
	nameHigh = 3.0     // mm of a line of a room's name
	ghost    = "ghost" // a mark of what is proposed
)

// marks draws devices and alarms; one that would cover another steps aside, with a line to where it is. It
// returns where each stands.
func (p *page) marks(marks []drawing.Mark, rooms []drawing.Room, at func(geom.Point) (x, y float64)) []fpdf.PointType {
	const apart = 5.2 // mm between middles, so that each can be read
	taken := make([]fpdf.PointType, 0, len(marks))
	p.SetFont("text", "", small)
	named := func(c fpdf.PointType) bool {
		return slices.ContainsFunc(rooms, func(r drawing.Room) bool {
			x, y := at(r.Label)
			wide := 0.0
			for _, line := range r.Lines {
				wide = max(wide, p.GetStringWidth(line))
			}
			return math.Abs(c.X-x) < (wide+apart)/2 && math.Abs(c.Y-y) < (nameHigh*float64(len(r.Lines))+apart)/2
		})
	}
	free := func(c fpdf.PointType) bool {
		return !slices.ContainsFunc(taken, func(t fpdf.PointType) bool { return math.Hypot(t.X-c.X, t.Y-c.Y) < apart })
	}
	for _, m := range marks {
		x, y := at(m.At)
		c := fpdf.PointType{X: x, Y: y}
		for n := 0; n < 24 && (!free(c) || (n > 0 || m.What == ghost) && named(c)); n++ { // eight directions, one, two and three steps out
			a, step := math.Pi/4*float64(n%8), apart*float64(n/8+1)
			c = fpdf.PointType{X: x + step*math.Cos(a), Y: y + step*math.Sin(a)}
		}
		if taken = append(taken, c); c.X != x || c.Y != y {
			p.SetLineWidth(0.15)
			p.Line(x, y, c.X, c.Y)
		}
	}
	for i, m := range marks {
		p.mark(m, taken[i].X, taken[i].Y)
	}
	return taken
}

// name writes a room's name around a point.
func (p *page) name(lines []string, x, y float64) {
	const high = nameHigh
	p.SetFont("text", "", small)
	p.SetFillColor(255, 255, 255)
	y -= high * float64(len(lines)) / 2
	for _, line := range lines {
		w := p.GetStringWidth(line)
		p.Rect(x-w/2-0.4, y, w+0.8, high, "F")
		p.SetXY(x-w/2-1, y)
		p.CellFormat(w+2, high, line, "", 0, "C", false, 0, "")
		y += high
	}
}

func (p *page) wall(outline []fpdf.PointType, stone bool) {
	if !stone {
		p.SetFillColor(0, 0, 0)
		p.Polygon(outline, "F")
		return
	}
	p.SetFillColor(255, 255, 255)
	p.SetLineWidth(0.25)
	p.Polygon(outline, "FD")
	p.ClipPolygon(outline, false)
	lowX, lowY, highX, highY := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, q := range outline {
		lowX, lowY, highX, highY = math.Min(lowX, q.X), math.Min(lowY, q.Y), math.Max(highX, q.X), math.Max(highY, q.Y)
	}
	p.SetLineWidth(0.1)
	tall := highY - lowY
	for x := math.Floor((lowX-tall)/1.1) * 1.1; x < highX; x += 1.1 {
		p.Line(x, highY, x+tall, lowY)
	}
	p.ClipEnd()
}

func (p *page) leaf(l drawing.Leaf, at func(geom.Point) (float64, float64), scale float64) {
	p.SetLineWidth(0.2)
	fromX, fromY := at(l.From)
	toX, toY := at(l.To)
	if !l.Swing {
		p.SetLineWidth(0.1)
		p.Line(fromX, fromY, toX, toY)
		return
	}
	hx, hy := at(l.Hinge)
	tx, ty := at(l.Tip)
	p.Line(hx, hy, tx, ty)
	jamb := l.From
	if l.Hinge == l.From {
		jamb = l.To
	}
	start := math.Atan2(l.Tip.Y-l.Hinge.Y, l.Tip.X-l.Hinge.X) * 180 / math.Pi
	end := math.Atan2(jamb.Y-l.Hinge.Y, jamb.X-l.Hinge.X) * 180 / math.Pi
	if !l.Sweep {
		start, end = end, start
	}
	if end < start {
		end += 360
	}
	r := l.Hinge.Distance(jamb) * scale
	p.SetLineWidth(0.1)
	p.Arc(hx, hy, r, r, 0, start, end, "D")
}

func (p *page) mark(m drawing.Mark, x, y float64) {
	const r = 2.3
	if m.What == ghost {
		p.SetDrawColor(0, 0, 0)
		p.SetFillColor(255, 255, 255)
		p.SetLineWidth(0.45)
		p.SetDashPattern([]float64{1.1, 0.8}, 0)
		p.Circle(x, y, 2.8, "FD")
		p.SetDashPattern(nil, 0)
		p.SetFont("text", "B", small)
		p.Text(x-p.GetStringWidth(m.Text)/2, y+0.95, m.Text)
		return
	}
	p.SetLineWidth(0.3)
	p.SetDrawColor(0, 0, 0)
	style, ink := "F", 255
	p.SetFillColor(0, 0, 0)
	if m.What == "head" {
		style, ink = "FD", 0
		p.SetFillColor(255, 255, 255)
	}
	sides := map[string]int{"triangle": 3, "square": 4, "pentagon": 5, "hexagon": 6}
	switch n := sides[m.Shape]; {
	case n > 0:
		turn := -math.Pi / 2
		if n == 4 {
			turn = math.Pi / 4
		}
		points := make([]fpdf.PointType, n)
		for i := range points {
			a := turn + 2*math.Pi*float64(i)/float64(n)
			points[i] = fpdf.PointType{X: x + 1.25*r*math.Cos(a), Y: y + 1.25*r*math.Sin(a)}
		}
		p.Polygon(points, style)
	case m.Shape == "segment":
		points := []fpdf.PointType{}
		for i := range 13 {
			a := math.Pi + math.Pi*float64(i)/12
			points = append(points, fpdf.PointType{X: x + 1.2*r*math.Cos(a), Y: y + 0.9 + 1.2*r*math.Sin(a)})
		}
		p.Polygon(points, style)
	case m.Shape == "cross":
		const a, b = r * 1.1, r * 0.62
		p.Polygon([]fpdf.PointType{
			{X: x - b, Y: y - a},
			{X: x + b, Y: y - a},
			{X: x + b, Y: y - b},
			{X: x + a, Y: y - b},
			{X: x + a, Y: y + b},
			{X: x + b, Y: y + b},
			{X: x + b, Y: y + a},
			{X: x - b, Y: y + a},
			{X: x - b, Y: y + b},
			{X: x - a, Y: y + b},
			{X: x - a, Y: y - b},
			{X: x - b, Y: y - b},
		}, style)
	default:
		p.Circle(x, y, r, style)
	}
	p.SetFont("text", "B", 5)
	p.SetTextColor(ink, ink, ink)
	w := p.GetStringWidth(m.Text)
	if m.Shape == "triangle" {
		y += 0.5 // where it is wide
	}
	p.SetXY(x-w/2-1, y-1.2)
	p.CellFormat(w+2, 2.6, m.Text, "", 0, "C", false, 0, "")
	p.SetTextColor(0, 0, 0)
}

func (p *page) scaleBar(x, y, metres, scale float64) {
	say := trimmed(metres) + " m"
	if p.paper.Frame.Imperial {
		feet := math.Max(1, math.Round(metres/0.3048/5)*5)
		metres, say = feet*0.3048, trimmed(feet)+" ft"
	}
	p.SetLineWidth(0.3)
	long := metres * scale
	p.Line(x, y, x+long, y)
	p.Line(x, y-1.2, x, y+1.2)
	p.Line(x+long, y-1.2, x+long, y+1.2)
	p.SetFont("text", "", small)
	p.SetXY(x, y+1.2)
	p.CellFormat(long, 3.6, say, "", 0, "R", false, 0, "")
}

func (p *page) north(x, y, degrees float64) {
	a := degrees * math.Pi / 180
	dx, dy := math.Sin(a)*5, -math.Cos(a)*5
	p.SetLineWidth(0.3)
	p.Line(x-dx, y-dy, x+dx, y+dy)
	for _, side := range []float64{-0.5, 0.5} {
		p.Line(x+dx, y+dy, x+dx-math.Sin(a+side)*2.4, y+dy+math.Cos(a+side)*2.4)
	}
	p.SetFont("text", "B", small)
	p.SetXY(x+3, y-2)
	p.CellFormat(4, 4, "N", "", 0, "L", false, 0, "")
}
