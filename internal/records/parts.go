package records

import (
	"bytes"
	"fmt"
	"image"
	_ "image/jpeg" // the two kinds of photograph that can be printed
	_ "image/png"
	"math"
	"strings"

	"codeberg.org/go-pdf/fpdf"

	"proofbell/internal/papers"
)

// Heights of a place for a signature and of a photograph, mm.
const (
	signHigh  = 34.0
	photoHigh = 58.0
)

// row is a row of a table, broken into lines.
type row [][]string

func (r row) lines() int {
	most := 1
	for _, cell := range r {
		most = max(most, len(cell))
	}
	return most
}

// rowsHigh is the height of a row with its rule.
func rowsHigh(r row) float64 { return float64(r.lines())*rowHigh + 1.4 }

// smallTable is how many rows a table may have that is never divided between pages.
const smallTable = 6

// start is the height of a table's beginning: its head and two rows, or all of a small table.
func (p *page) start(t papers.Table) float64 {
	if len(t.Rows) == 0 {
		return lineHigh
	}
	widths := p.widths(t)
	high := rowsHigh(p.broken(t.Head, widths, "B"))
	least := high
	for i, cells := range t.Rows[:min(smallTable, len(t.Rows))] {
		high += rowsHigh(p.broken(cells, widths, ""))
		if i < 2 {
			least = high
		}
	}
	switch {
	case len(t.Rows) <= smallTable && high+p.tail < p.whole()/2:
		return high + p.tail
	case len(t.Rows) <= 2:
		return least + p.tail
	}
	return least
}

// table draws a table. Rows are kept whole, the head is repeated on every page, and no page begins or ends with a single
// row of it where that can be helped. A row that is higher than a page goes on on the next.
func (p *page) table(t papers.Table) {
	if len(t.Rows) == 0 {
		p.para(t.Empty, body)
		return
	}
	widths := p.widths(t)
	head := p.broken(t.Head, widths, "B")
	rows := make([]row, len(t.Rows))
	for i, cells := range t.Rows {
		rows[i] = p.broken(cells, widths, "")
	}
	if first := p.start(t); first < p.whole() {
		p.room(first)
	}
	p.row(head, widths, "B")
	onPage := 0
	for i, r := range rows {
		need := rowsHigh(r)
		if i == len(rows)-2 && onPage > 1 {
			need += rowsHigh(rows[i+1]) + p.tail // the last two stay together, with what closes the document
		}
		if p.GetY()+need > p.bottom() && onPage > 0 {
			p.AddPage()
			p.row(head, widths, "B")
			onPage = 0
		}
		for most := int((p.bottom() - p.GetY() - 1.4) / rowHigh); r.lines() > most; most = int((p.bottom() - p.GetY() - 1.4) / rowHigh) {
			part := make(row, len(r))
			for c, lines := range r {
				n := min(len(lines), max(most, 1))
				part[c], r[c] = lines[:n], lines[n:]
			}
			p.row(part, widths, "")
			p.AddPage()
			p.row(head, widths, "B")
		}
		p.row(r, widths, "")
		onPage++
	}
	p.SetY(p.GetY() + 1.5)
}

// widths gives each column its part, but none less than its longest word asks for, as long as there is room for that.
func (p *page) widths(t papers.Table) []float64 {
	least, total, taken := make([]float64, len(t.Widths)), 0.0, 0.0
	for i, w := range t.Widths {
		total += w
		p.SetFont("text", "B", small)
		least[i] = p.longest(t.Head[i])
		p.SetFont("text", "", small)
		for _, cells := range t.Rows {
			if i < len(cells) {
				least[i] = max(least[i], p.longest(cells[i]))
			}
		}
		least[i] = math.Min(least[i]+2.4, 0.3*p.width())
		taken += least[i]
	}
	out := make([]float64, len(t.Widths))
	if taken > p.width() {
		for i := range out {
			out[i] = least[i] / taken * p.width()
		}
		return out
	}
	// Columns that want more than their part get it; the others share the rest by their parts.
	left, parts, fixed := p.width(), total, make([]bool, len(out))
	for changed := true; changed; {
		changed = false
		for i, w := range t.Widths {
			if !fixed[i] && w/parts*left < least[i] {
				out[i], fixed[i], changed = least[i], true, true
				left -= least[i]
				parts -= w
			}
		}
	}
	for i, w := range t.Widths {
		if !fixed[i] {
			out[i] = w / parts * left
		}
	}
	return out
}

// longest is the width of the longest word of a text.
func (p *page) longest(text string) float64 {
	most := 0.0
	for word := range strings.FieldsSeq(text) {
		most = max(most, p.GetStringWidth(word))
	}
	return most
}

// broken breaks the cells of a row at their widths.
func (p *page) broken(cells []string, widths []float64, style string) row {
	p.SetFont("text", style, small)
	out := make(row, len(widths))
	for i := range widths {
		if i < len(cells) {
			out[i] = p.lines(cells[i], widths[i]-1.8)
		}
	}
	return out
}

func (p *page) row(r row, widths []float64, style string) {
	x, y := margin, p.GetY()
	p.SetFont("text", style, small)
	for i, lines := range r {
		for n, line := range lines {
			p.Text(x+0.4, y+3.1+float64(n)*rowHigh, line)
		}
		x += widths[i]
	}
	p.SetY(y + float64(r.lines())*rowHigh + 1.4)
	if style == "B" {
		p.SetLineWidth(0.4)
		p.Line(margin, p.GetY(), margin+p.width(), p.GetY())
		return
	}
	p.hair()
}

// sounds draws each pattern as what it is in time: black is sound.
func (p *page) sounds(list []papers.Sound) {
	const wide, high = 64.0, 6.0
	for _, s := range list {
		p.SetFont("text", "", body)
		column := p.width() - wide - 6
		lines := len(p.lines(s.Name, column)) + len(p.lines(s.Means+" "+s.Do, column))
		need := max(float64(lines)*lineHigh+4, high+6)
		p.room(need)
		y := p.GetY() + 1.5
		p.SetLineWidth(0.2)
		p.Rect(margin, y, wide, high, "D")
		p.SetFillColor(0, 0, 0)
		for at := 0.0; at < s.Span; {
			before := at
			for i, beat := range s.Beats {
				end := math.Min(at+beat, s.Span)
				if i%2 == 0 && end > at {
					p.Rect(margin+at/s.Span*wide, y, (end-at)/s.Span*wide, high, "F")
				}
				at += beat
			}
			if at <= before {
				break // a pattern without time
			}
		}
		p.SetY(y - 1)
		p.block(s.Name, "B", body, wide+6, column)
		p.SetY(p.GetY() - 0.8)
		p.block(s.Means+" "+s.Do, "", body, wide+6, column)
		p.SetY(max(p.GetY(), y+high) + 1.5)
	}
}

// signs draws places for signatures beside each other, with the strokes of the finger as lines.
func (p *page) signs(list []papers.Sign) {
	const high = signHigh
	columns := max(2, min(3, len(list)))
	wide := (p.width() - 8*float64(columns-1)) / float64(columns)
	y := 0.0
	for i, s := range list {
		if i%columns == 0 {
			p.room(high + 3 + p.tail)
			y = p.GetY() // drawing a stroke moves it
		}
		x := margin + float64(i%columns)*(wide+8)
		p.SetFont("text", "B", body)
		p.Text(x, y+4, s.Say)
		p.SetLineWidth(0.2)
		p.Line(x, y+high-8, x+wide, y+high-8)
		p.SetLineWidth(0.5)
		p.SetLineCapStyle("round")
		p.SetLineJoinStyle("round")
		for _, stroke := range s.Strokes {
			p.stroke(stroke, x, y+5, wide, high-14)
		}
		p.SetLineCapStyle("butt")
		p.SetLineJoinStyle("miter")
		p.SetFont("text", "", small)
		under := p.paper.Frame.SignHere
		if s.When != "" {
			under = s.Name + ", " + s.When
		}
		p.Text(x, y+high-4.4, p.fit(under, wide))
		if i%columns == columns-1 || i == len(list)-1 {
			p.SetY(y + high + 3)
		}
	}
}

// stroke draws one stroke of a pad three times as wide as it is high, scaled into a box.
func (p *page) stroke(points [][2]int, x, y, wide, high float64) {
	scale := math.Min(wide/1000, high/334)
	at := func(q [2]int) (float64, float64) { return x + float64(q[0])*scale, y + float64(q[1])*scale }
	if len(points) == 1 {
		px, py := at(points[0])
		p.Circle(px, py, 0.3, "F")
		return
	}
	for i, q := range points {
		px, py := at(q)
		if i == 0 {
			p.MoveTo(px, py)
			continue
		}
		p.LineTo(px, py)
	}
	if len(points) > 1 {
		p.DrawPath("D")
	}
}

const largestPhoto = 40_000_000 // pixels

// photos prints photographs, two in a row.
func (p *page) photos(list []papers.Photo) {
	const high = photoHigh
	wide := (p.width() - 6) / 2
	for i, photo := range list {
		if i%2 == 0 {
			p.room(high + 12)
		}
		x, y := margin+float64(i%2)*(wide+6), p.GetY()
		if !p.photo(photo, x, y, wide, high) {
			p.SetLineWidth(0.2)
			p.Rect(x, y, wide, high, "D")
			p.SetFont("text", "", small)
			for n, line := range p.lines(p.paper.Frame.NoPhoto, wide-6) {
				p.Text(x+3, y+6+float64(n)*rowHigh, line)
			}
		}
		p.SetFont("text", "", small)
		for n, line := range p.lines(photo.Say, wide) {
			if n < 2 {
				p.Text(x, y+high+3.4+float64(n)*rowHigh, line)
			}
		}
		if i%2 == 1 || i == len(list)-1 {
			p.SetY(y + high + 12)
		}
	}
}

// photo prints one photograph; false when it can not be printed.
func (p *page) photo(photo papers.Photo, x, y, wide, high float64) bool {
	kind, known := map[string]string{"image/jpeg": "JPG", "image/png": "PNG"}[photo.Media]
	if !known || p.options.Photo == nil {
		return false
	}
	raw := p.options.Photo(photo.Address)
	size, format, err := image.DecodeConfig(bytes.NewReader(raw))
	if err != nil || format != map[string]string{"JPG": "jpeg", "PNG": "png"}[kind] || size.Width*size.Height > largestPhoto || size.Width < 1 || size.Height < 1 {
		return false
	}
	if _, _, err := image.Decode(bytes.NewReader(raw)); err != nil { // what is cut off would spoil the whole document
		return false
	}
	scale := math.Min(wide/float64(size.Width), high/float64(size.Height))
	o := fpdf.ImageOptions{ImageType: kind}
	name := fmt.Sprintf("%s.%s", photo.Address, kind)
	p.RegisterImageOptionsReader(name, o, bytes.NewReader(raw))
	p.ImageOptions(name, x, y, float64(size.Width)*scale, float64(size.Height)*scale, false, o, 0, "")
	return true
}
