package records

import (
	"codeberg.org/go-pdf/fpdf"

	"proofbell/internal/worked"
)

// scale is how many mm a unit of a picture takes: as it is, or smaller where the page is narrower or lower.
func (p *page) scale(of worked.Picture) float64 {
	if of.Width <= 0 || of.Height <= 0 {
		return 0
	}
	return min(p.width()/of.Width, (p.whole()-20)/of.Height, 0.1)
}

// picture draws a plot or a diagram as wide as the page allows, never larger than it is.
func (p *page) picture(of worked.Picture) {
	if of.Width == 0 {
		return
	}
	p.SetY(p.GetY() + 1)
	scale := p.scale(of)
	p.room(of.Height*scale + 4)
	left, top := margin, p.GetY()
	at := func(q [2]float64) (x, y float64) { return left + q[0]*scale, top + q[1]*scale }
	for _, s := range of.Lines {
		p.SetLineWidth(s.Weight * scale)
		if s.Dashed {
			p.SetDashPattern([]float64{14 * scale, 10 * scale}, 0)
		}
		points := make([]fpdf.PointType, len(s.Points))
		for i, q := range s.Points {
			points[i].X, points[i].Y = at(q)
		}
		if s.Tone == "soft" {
			p.SetDrawColor(150, 150, 150)
		}
		switch {
		case s.Filled:
			p.SetFillColor(0, 0, 0)
			p.Polygon(points, "FD")
		case s.Closed:
			p.Polygon(points, "D")
		default: // one path, so that the dashes run on around its corners
			for i, q := range points {
				if i == 0 {
					p.MoveTo(q.X, q.Y)
				} else {
					p.LineTo(q.X, q.Y)
				}
			}
			p.DrawPath("D")
		}
		p.SetDrawColor(0, 0, 0)
		p.SetDashPattern(nil, 0)
		if head := s.Head(); head != nil {
			tip := make([]fpdf.PointType, len(head))
			for i, q := range head {
				tip[i].X, tip[i].Y = at(q)
			}
			p.SetFillColor(0, 0, 0)
			p.Polygon(tip, "F")
		}
	}
	for _, t := range of.Texts {
		style := ""
		if t.Bold {
			style = "B"
		}
		p.SetFont("text", style, t.Size*scale*72/25.4)
		x, y := at(t.At)
		switch wide := p.GetStringWidth(t.Say); t.Anchor {
		case "middle":
			x -= wide / 2
		case "end":
			x -= wide
		}
		p.Text(x, y, t.Say)
	}
	p.SetY(top + of.Height*scale + 2)
	p.para(of.Say, small)
	p.SetY(p.GetY() + 2)
}
