package records

import (
	"fmt"

	"proofbell/internal/papers"
	"proofbell/internal/words"
	"proofbell/internal/worked"
)

// sum writes a calculation sheet: inputs with their origin, the sum with formula and source beside each line, then the lists.
func (p *page) sum(s worked.Sheet) {
	lang := words.In(p.paper.Lang)
	for _, picture := range s.Pictures {
		p.picture(picture)
	}
	if t := inputs(lang, s); len(t.Rows) > 0 {
		p.SetY(p.GetY() + 1)
		p.table(t)
		p.SetY(p.GetY() + 2)
	}
	for i, st := range s.Steps {
		p.sumStep(lang, i+1, st)
	}
	for _, list := range s.Lists(lang) {
		p.SetY(p.GetY() + 1.5)
		p.room(3 * lineHigh)
		p.block(list.Title, "B", body, 0, p.width())
		for _, text := range list.Lines {
			p.room(lineHigh)
			p.SetFont("text", "", body)
			p.Text(margin+2, p.GetY()+body*0.49*0.78, "–")
			p.block(words.Upper(text), "", body, 6, p.width()-6)
		}
	}
}

// sumStart is the height of what stands together with the heading of a sheet: its first picture, or the head of its inputs.
func (p *page) sumStart(s worked.Sheet) float64 {
	if len(s.Pictures) > 0 {
		return min(s.Pictures[0].Height*p.scale(s.Pictures[0])+6, p.whole()*0.8)
	}
	if t := inputs(words.In(p.paper.Lang), s); len(t.Rows) > 0 {
		return p.start(t)
	}
	return 3 * lineHigh
}

func inputs(lang *words.Language, s worked.Sheet) papers.Table {
	t := papers.Table{Head: []string{lang.Say("Inputs"), lang.Say("Sign"), lang.Say("Value"), lang.Say("Who says so")}, Widths: []float64{66, 14, 40, 58}}
	for _, in := range s.Inputs {
		say := in.Say
		if say == "" {
			say = lang.Say("not given")
		}
		t.Rows = append(t.Rows, []string{in.Name, in.Sign, say, in.From})
	}
	return t
}

// sumStep writes one line of a sum: what is worked out and how on the left, the number of the formula and its source on the right.
func (p *page) sumStep(lang *words.Language, n int, st worked.Step) {
	const left, right, gap = 9.0, 54.0, 4.0
	wide := p.width() - left - right - gap
	lines := []struct{ text, style string }{{st.Name, "B"}, {st.Says, ""}}
	if put := st.Figures(); put != "" {
		lines = append(lines, struct{ text, style string }{put, ""})
	}
	lines = append(lines, struct{ text, style string }{"= " + st.Say, "B"})
	p.SetFont("text", "", small)
	beside := []string{lang.Say("formula %s", st.Formula)}
	if st.Source != "" {
		beside = append(beside, p.lines(st.From(lang), right)...)
	}
	high := 0.0
	for _, line := range lines {
		p.SetFont("text", line.style, body)
		high += float64(len(p.lines(line.text, wide)))*body*0.49 + 0.3
	}
	high = max(high, float64(len(beside))*rowHigh) + 2.4
	p.room(high)
	top := p.GetY() + 1
	p.SetFont("text", "B", body)
	p.Text(margin+1, top+body*0.49*0.78, fmt.Sprint(n))
	y := top
	for i, line := range lines {
		p.SetFont("text", line.style, body)
		x := margin + left
		if i > 0 {
			x += 4
		}
		for _, part := range p.lines(line.text, wide-x+margin+left) {
			p.Text(x, y+body*0.49*0.78, part)
			y += body * 0.49
		}
		y += 0.3
	}
	p.SetFont("text", "", small)
	for i, text := range beside {
		p.Text(margin+p.width()-right, top+3.2+float64(i)*rowHigh, text)
	}
	p.SetY(top + high - 1.4)
	p.hair()
}
