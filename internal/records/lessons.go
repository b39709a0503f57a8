package records

import (
	"math"

	"proofbell/internal/guide"
	"proofbell/internal/papers"
	"proofbell/panel"
)

// Measures of a lesson, mm: the picture is at most so wide and high, the text stands beside it.
const (
	padWide  = 80.0
	padHigh  = 42.0
	stepName = 32.0
)

// padScale is how many mm a unit of the drawing is.
func padScale(pad panel.Pad) float64 {
	if pad.Wide <= 0 || pad.High <= 0 {
		return 0
	}
	return math.Min(padWide/pad.Wide, padHigh/pad.High)
}

// drawPad draws the keypad; keys to press are black, with their places in the order of pressing.
func (p *page) drawPad(x, y float64, marks []guide.Mark) {
	pad := *p.paper.Pad
	scale := padScale(pad)
	order := map[string]string{}
	for _, m := range marks {
		order[m.Key] = m.Order
	}
	p.SetLineWidth(0.5)
	p.RoundedRect(x, y, pad.Wide*scale, pad.High*scale, 1.2, "1234", "D")
	const point = 72 / 25.4
	middle := func(text string, kx, ky, wide float64) { p.Text(kx+(wide-p.GetStringWidth(text))/2, ky, text) }
	for _, k := range pad.Keys {
		kx, ky, wide, high := x+k.X*scale, y+k.Y*scale, k.Wide*scale, k.High*scale
		say, marked := order[k.Key]
		p.SetLineWidth(0.3)
		style := "D"
		if marked {
			style = "F"
			p.SetFillColor(0, 0, 0)
			p.SetTextColor(255, 255, 255)
		}
		p.RoundedRect(kx, ky, wide, high, 0.6, "1234", style)
		base := 0.68
		if k.Letters != "" || marked {
			base = 0.52
		}
		p.SetFont("text", "B", k.Size*scale*point)
		middle(k.Key, kx, ky+base*high, wide)
		p.SetFont("text", "", 2.5*scale*point)
		switch {
		case marked:
			p.SetFont("text", "B", 3.6*scale*point)
			middle(say, kx, ky+0.9*high, wide)
		case k.Letters != "":
			middle(k.Letters, kx, ky+0.86*high, wide)
		}
		p.SetTextColor(0, 0, 0)
	}
}

func (p *page) padAlone() {
	if p.paper.Pad == nil {
		return
	}
	high := p.paper.Pad.High * padScale(*p.paper.Pad)
	p.room(high + 3)
	p.drawPad(margin, p.GetY()+1, nil)
	p.SetY(p.GetY() + high + 3)
}

// lessonsStart is the height of what has to stand under the title of a zone: its text and the first step.
func (p *page) lessonsStart(s papers.Section) float64 {
	p.SetFont("text", "", body)
	high := 0.0
	for _, text := range s.Text {
		high += float64(len(p.lines(text, p.width())))*body*0.49 + 1
	}
	return high + p.lesson(s.Lessons[0], 0, false)
}

func (p *page) lessons(list []guide.Step) {
	for _, st := range list {
		high := p.lesson(st, 0, false)
		p.room(high)
		y := p.GetY()
		p.lesson(st, y, true)
		p.SetY(y + high)
	}
}

// lesson draws one step from y down, or only measures it.
func (p *page) lesson(st guide.Step, y float64, draw bool) float64 {
	switch {
	case st.Told == guide.Taught && p.paper.Pad != nil:
		return p.taught(st, y, draw)
	case st.Told == guide.Before:
		c := column{page: p, x: margin, y: y + 1.6, width: p.width(), draw: draw}
		c.name(st.Label)
		c.text(st.Say, "", stepName)
		return c.y - y + 1.4
	}
	c := column{page: p, x: margin, y: y + 1.6, width: p.width(), draw: draw}
	c.name(st.Label)
	c.text(st.Title+headed(st.Answer), "B", stepName)
	c.caps(st, stepName)
	for _, why := range st.Why {
		c.text(why, "", stepName)
	}
	if st.Caution != "" {
		c.text("! "+st.Caution, "", stepName)
	}
	return c.y - y + 1.4
}

func headed(answer string) string {
	if answer == "" {
		return ""
	}
	return ": " + answer
}

// taught is a step with its picture.
func (p *page) taught(st guide.Step, y float64, draw bool) float64 {
	scale := padScale(*p.paper.Pad)
	wide, high := p.paper.Pad.Wide*scale, p.paper.Pad.High*scale
	c := column{page: p, x: margin + wide + 5, y: y + 3, width: p.width() - wide - 5, draw: draw}
	c.text(st.Label+": "+st.Title, "B", 0)
	for _, why := range st.Why {
		c.text(why, "", 0)
	}
	h := p.paper.Head
	for _, m := range st.Moves {
		c.text(h.Shows+": "+m.Shows, "", 0)
		c.capsOf(m, 0)
	}
	if st.Answer != "" {
		c.text(h.That+": "+st.Answer, "B", 0)
	}
	if n := len(st.Moves); n > 0 {
		c.text(h.Then+": "+st.Moves[n-1].Then, "", 0)
	}
	if st.Caution != "" {
		c.text("! "+st.Caution, "B", 0)
	}
	if draw {
		p.SetLineWidth(0.3)
		p.Line(margin, y+1, margin+p.width(), y+1)
		p.drawPad(margin, y+3.4, st.Marks)
	}
	return max(c.y-y, high+5) + 2
}

// column is text that runs down beside something.
type column struct {
	*page
	x, y, width float64
	draw        bool
}

// name stands at the left of a line.
func (c *column) name(text string) {
	if c.draw {
		c.SetFont("text", "", body)
		c.Text(c.x, c.y+3.5, c.fit(text, stepName))
	}
}

func (c *column) text(text, style string, indent float64) {
	c.SetFont("text", style, body)
	for _, line := range c.lines(text, c.width-indent) {
		if c.draw {
			c.SetFont("text", style, body)
			c.Text(c.x+indent, c.y+3.5, line)
		}
		c.y += lineHigh
	}
	c.y += 0.4
}

func (c *column) caps(st guide.Step, indent float64) {
	lines, _ := c.page.caps(st.Press, c.x+indent, c.y+0.6, c.width-indent, c.draw)
	c.y += float64(lines)*(capHigh+capGap) + 0.8
}

func (c *column) capsOf(m guide.Move, indent float64) {
	lines, _ := c.page.caps(m.Press, c.x+indent, c.y+0.4, c.width-indent, c.draw)
	c.y += float64(lines)*(capHigh+capGap) + 0.6
}
