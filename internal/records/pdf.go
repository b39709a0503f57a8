// Package records writes documents as files: a paper as PDF, its table as XLSX or CSV, its dates as a calendar. It computes
// nothing: what a document says was decided by package papers. The same paper gives the same bytes.
package records

import (
	"bytes"
	"fmt"
	"strings"

	"codeberg.org/go-pdf/fpdf"
	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/go-fonts/dejavu/dejavusanscondensedbold"
	"rsc.io/qr"

	"proofbell/internal/papers"
)

// Measures of a page, mm and pt.
const (
	margin   = 16.0
	foot     = 30.0 // from the lower edge of the sheet to what stands above the footer
	body     = 9.0
	small    = 7.5
	heading  = 12.5
	lineHigh = 4.4
	rowHigh  = 3.6
	names    = 46.0 // width of the names of a data sheet
)

// Options are what a file has beside its paper.
type Options struct {
	Sheet  string                      // A4 or Letter; empty: A4
	Photo  func(address string) []byte // JPEG or PNG, opened; nil: it can not be had
	Signer string                      // fingerprint of the installation that signs exports of this book; empty: not said
}

// PDF writes a paper. It is legible in black and white: every state has a shape and a word.
func PDF(paper papers.Paper, o Options) ([]byte, error) {
	size := "A4"
	if o.Sheet == "Letter" {
		size = "Letter"
	}
	p := &page{Fpdf: fpdf.New("P", "mm", size, ""), paper: paper, options: o}
	p.SetCatalogSort(true)
	p.SetCreationDate(paper.Made.UTC())
	p.SetModificationDate(paper.Made.UTC())
	p.SetTitle(paper.Title+": "+paper.Name, true)
	p.SetProducer("Proofbell", true)
	p.SetKeywords(strings.TrimSpace(paper.Pin.String()+" "+paper.Pin.Mark), false) // plain letters, so that it can be found in the file
	p.SetLang(paper.Lang)
	p.AddUTF8FontFromBytes("text", "", dejavusanscondensed.TTF)
	p.AddUTF8FontFromBytes("text", "B", dejavusanscondensedbold.TTF)
	p.SetMargins(margin, margin, margin)
	p.SetAutoPageBreak(false, 0)
	p.SetCellMargin(0)
	p.AliasNbPages("{pages}")
	p.SetHeaderFunc(p.header)
	p.SetFooterFunc(p.footer)
	if err := p.readPin(); err != nil {
		return nil, err
	}
	p.AddPage()
	p.cover()
	for i, s := range paper.Sections {
		if i == len(paper.Sections)-1 {
			p.tail = p.pinnedHigh()
		}
		p.section(s)
	}
	p.pinned()
	var out bytes.Buffer
	if err := p.Output(&out); err != nil {
		return nil, fmt.Errorf("writing %s: %w", paper.Kind, err)
	}
	return out.Bytes(), nil
}

type page struct {
	*fpdf.Fpdf
	paper   papers.Paper
	options Options
	pin     []run   // dark modules of the QR code
	cells   int     // along its edge
	tail    float64 // what has to stand under the end of this section, so that it is not alone on a page
}

// run is a row of dark modules.
type run struct{ x, y, long int }

func (p *page) readPin() error {
	code, err := qr.Encode(p.paper.Pin.String(), qr.L)
	if err != nil {
		return fmt.Errorf("QR code: %w", err)
	}
	p.cells = code.Size
	for y := range code.Size {
		for x := 0; x < code.Size; x++ {
			if !code.Black(x, y) {
				continue
			}
			r := run{x, y, 0}
			for ; x < code.Size && code.Black(x, y); x++ {
				r.long++
			}
			p.pin = append(p.pin, r)
		}
	}
	return nil
}

func (p *page) width() float64 {
	w, _ := p.GetPageSize()
	return w - 2*margin
}

// bottom is the lowest y that a block may reach.
func (p *page) bottom() float64 {
	_, h := p.GetPageSize()
	return h - foot
}

// whole is the height of an empty page.
func (p *page) whole() float64 { return p.bottom() - margin - 9 }

// room begins a new page when less than high mm are left.
func (p *page) room(high float64) {
	if p.GetY()+high > p.bottom() && p.GetY() > margin+10 {
		p.AddPage()
	}
}

func (p *page) header() {
	if p.PageNo() == 1 {
		return
	}
	p.SetFont("text", "", small)
	p.Text(margin, margin+2, p.fit(p.paper.Name+" – "+p.paper.Title, p.width()*0.66))
	on := p.paper.On
	p.Text(margin+p.width()-p.GetStringWidth(on), margin+2, on)
	p.SetY(margin + 4)
	p.rule()
	p.SetY(margin + 7)
}

// footer ties the page to the book: entry, hash and the pin as a QR code.
func (p *page) footer() {
	_, h := p.GetPageSize()
	p.SetY(h - 27)
	p.rule()
	const edge = 17.0
	x, y, cell := margin+p.width()-edge, h-26.0, edge/float64(p.cells)
	p.SetFillColor(0, 0, 0)
	for _, r := range p.pin {
		p.Rect(x+float64(r.x)*cell, y+float64(r.y)*cell, float64(r.long)*cell, cell+0.01, "F")
	}
	line := h - 22.5
	if p.paper.Practice != "" {
		p.SetFont("text", "B", body)
		p.SetLineWidth(0.5)
		wide := p.GetStringWidth(p.paper.Practice) + 4
		p.Rect(margin, line-3.6, wide, 5.4, "D")
		p.Text(margin+2, line+0.2, p.paper.Practice)
		line += 5.6
	}
	p.SetFont("text", "", small)
	p.Text(margin, line+0.4, p.paper.Frame.Entry)
	p.Text(margin, line+4.6, strings.ReplaceAll(p.paper.Frame.Page, "{n}", fmt.Sprint(p.PageNo())))
}

func (p *page) rule() {
	p.SetLineWidth(0.2)
	p.Line(margin, p.GetY(), margin+p.width(), p.GetY())
}

func (p *page) cover() {
	p.SetFont("text", "B", 19)
	for _, line := range p.lines(p.paper.Title, p.width()) {
		p.Text(margin, p.GetY()+6, line)
		p.SetY(p.GetY() + 8)
	}
	p.SetFont("text", "B", 12)
	for _, line := range p.lines(p.paper.Name, p.width()) {
		p.Text(margin, p.GetY()+4, line)
		p.SetY(p.GetY() + 6)
	}
	p.para(p.paper.On+". "+p.paper.AsOf+".", body)
	p.SetY(p.GetY() + 1)
}

// title writes a heading that stays together with below mm of what it heads.
func (p *page) title(text string, below float64) {
	p.SetFont("text", "B", heading)
	lines := p.lines(text, p.width())
	p.room(float64(len(lines))*6 + 5 + below)
	p.SetY(p.GetY() + 4)
	p.SetFont("text", "B", heading)
	for _, line := range lines {
		p.Text(margin, p.GetY()+4.4, line)
		p.SetY(p.GetY() + 6)
	}
	p.Bookmark(text, 0, -1)
	p.SetY(p.GetY() + 0.8)
}

// lines breaks a text at the font that is set.
func (p *page) lines(text string, width float64) []string {
	if text == "" {
		return []string{""}
	}
	out := p.SplitText(text, width)
	for i, line := range out {
		out[i] = strings.TrimRight(line, " ")
	}
	return out
}

// para writes a paragraph from the left edge.
func (p *page) para(text string, size float64) { p.block(text, "", size, 0, p.width()) }

// block writes a text in a column; a line is never cut, and no single line is left alone at the foot of a page.
func (p *page) block(text, style string, size, x, width float64) {
	high := size * 0.49
	p.SetFont("text", style, size)
	lines := p.lines(text, width)
	for i, line := range lines {
		if i == 0 && len(lines) > 1 {
			p.room(2 * high)
		}
		p.room(high)
		p.SetFont("text", style, size)
		p.Text(margin+x, p.GetY()+high*0.78, line)
		p.SetY(p.GetY() + high)
	}
	p.SetY(p.GetY() + 1)
}

func (p *page) section(s papers.Section) {
	if len(s.Plans) > 0 {
		p.plans(s.Plans)
		return
	}
	if len(s.Fields) > 0 {
		p.fields(s.Fields)
		return
	}
	high, below := 0.0, 13.0
	switch {
	case s.Framed:
		high = p.framedHigh(s)
		below = high
		p.room(high + 3)
	case len(s.Lessons) > 0:
		below = p.lessonsStart(s)
	case s.Title == "" && s.Table == nil && len(s.Text) > 0 && len(s.Signs) == 0:
		p.room(p.framedHigh(s) + 3 + p.tail)
	case len(s.Text)+len(s.Pairs)+len(s.Steps)+len(s.Sounds) == 0 && s.Table != nil:
		below = p.start(*s.Table)
	case s.Sum != nil:
		below = p.framedHigh(s) + p.sumStart(*s.Sum)
	case len(s.Pairs)+len(s.Steps)+len(s.Sounds) == 0 && s.Table != nil:
		below = p.framedHigh(s) + p.start(*s.Table)
	case len(s.Strips) > 0:
		below = 40 // what the fills mean, in one or two lines, and two steps
	case len(s.Text) == 0 && len(s.Pairs) > 0:
		below = max(below, min(p.pairsHigh(s.Pairs), p.whole()/4)) // a short data sheet is not divided
	case len(s.Text) == 0 && len(s.Signs) > 0:
		below = signHigh + p.tail
	case len(s.Text) == 0 && len(s.Photos) > 0:
		below = photoHigh + 12
	}
	switch {
	case s.Title != "":
		p.title(s.Title, below)
	case s.Keys == nil:
		p.SetY(p.GetY() + 3)
	}
	if s.Framed && high < p.whole() {
		p.SetLineWidth(0.5)
		p.Rect(margin, p.GetY(), p.width(), high, "D")
		p.SetY(p.GetY() + 2.4)
		for _, text := range s.Text {
			p.block(text, "", body, 3, p.width()-6)
		}
		p.ticks(s.Ticks, 3)
		p.SetY(p.GetY() + 1.4)
	} else {
		for _, text := range s.Text {
			p.para(text, body)
		}
		p.ticks(s.Ticks, 0)
	}
	if s.Sum != nil {
		p.sum(*s.Sum)
	}
	p.pairs(s.Pairs)
	p.steps(s.Steps)
	p.notes(s.Notes)
	if s.Pad {
		p.padAlone()
	}
	p.lessons(s.Lessons)
	if s.Keys != nil {
		p.keys(*s.Keys)
	}
	p.sounds(s.Sounds)
	if s.Table != nil {
		p.table(*s.Table)
	}
	p.strips(s.Strips)
	p.findings(s.Findings)
	p.photos(s.Photos)
	p.signs(s.Signs)
}

func (p *page) framedHigh(s papers.Section) float64 {
	p.SetFont("text", "", body)
	high := 3.4
	for _, text := range s.Text {
		high += float64(len(p.lines(text, p.width()-6)))*body*0.49 + 1
	}
	for _, text := range s.Ticks {
		high += p.tickHigh(text, p.width()-6)
	}
	return high
}

func (p *page) pairsHigh(list []papers.Pair) float64 {
	p.SetFont("text", "", body)
	high := 0.0
	for _, x := range list {
		high += float64(max(len(p.lines(x.Name, names-3)), len(p.lines(x.Value, p.width()-names)))) * lineHigh
		if x.Value == "" {
			high += 1.6
		}
	}
	return high
}

// pairs writes a data sheet. What has no value is a line to fill in.
func (p *page) pairs(list []papers.Pair) {
	for _, x := range list {
		p.SetFont("text", "", body)
		left, right := p.lines(x.Name, names-3), p.lines(x.Value, p.width()-names)
		n := max(len(left), len(right))
		if n <= int(p.whole()/lineHigh)/2 {
			p.room(float64(n) * lineHigh)
		}
		p.SetFont("text", "", body)
		for i := range n {
			p.room(lineHigh)
			y := p.GetY() + 3.3
			p.SetFont("text", "", body)
			if i < len(left) {
				p.SetTextColor(70, 70, 70)
				p.Text(margin, y, left[i])
				p.SetTextColor(0, 0, 0)
			}
			if i < len(right) {
				p.Text(margin+names, y, right[i])
			}
			p.SetY(p.GetY() + lineHigh)
		}
		if x.Value == "" {
			p.SetY(p.GetY() + 1.6)
			p.SetLineWidth(0.15)
			p.Line(margin+names, p.GetY()-0.6, margin+p.width(), p.GetY()-0.6)
		}
	}
	if len(list) > 0 {
		p.SetY(p.GetY() + 1)
	}
}

func (p *page) steps(list []string) {
	for i, step := range list {
		p.SetFont("text", "", body)
		n := len(p.lines(step, p.width()-9))
		p.room(float64(n) * body * 0.49)
		p.SetFont("text", "B", body)
		p.Text(margin+1, p.GetY()+body*0.49*0.78, fmt.Sprintf("%d", i+1))
		p.block(step, "", body, 9, p.width()-9)
	}
}

func (p *page) findings(list []papers.Finding) {
	for _, f := range list {
		p.SetFont("text", "", body)
		lines := len(p.lines(f.Say, p.width()-27)) + len(p.lines(f.Do, p.width()-27))
		p.room(min(float64(lines+1)*lineHigh+3, p.whole()))
		y := p.GetY()
		p.SetFont("text", "B", small)
		p.SetLineWidth(0.3)
		p.Rect(margin, y+0.2, 23, lineHigh, "D")
		p.Text(margin+11.5-p.GetStringWidth(f.Grave)/2, y+3.4, f.Grave)
		p.block(f.Where, "B", body, 27, p.width()-27)
		p.SetY(p.GetY() - 0.6)
		p.block(f.Say, "", body, 27, p.width()-27)
		p.SetY(p.GetY() - 0.6)
		p.block(f.Do, "", body, 27, p.width()-27)
		p.SetY(p.GetY() + 0.8)
	}
}

// strips lays out every step of a run with its four stops.
func (p *page) strips(list []papers.Strip) {
	if len(list) == 0 {
		return
	}
	p.key()
	for _, r := range list {
		p.SetFont("text", "", small)
		lines := p.lines(r.Say, p.width()-90)
		high := max(11.5, 3+float64(len(lines))*rowHigh)
		p.room(high + 1)
		y := p.GetY()
		p.SetFont("text", "B", 10)
		p.Text(margin, y+4.2, r.Zone)
		p.SetFont("text", "B", body)
		p.Text(margin+14, y+4.2, p.fit(r.Title, 74))
		p.strip(r, margin+16.5, y+7.8)
		p.SetFont("text", "", small)
		for i, line := range lines {
			p.Text(margin+90, y+3.4+float64(i)*rowHigh, line)
		}
		p.SetY(y + high)
		p.hair()
		p.SetY(p.GetY() + 1)
	}
}

func (p *page) hair() {
	p.SetDrawColor(170, 170, 170)
	p.rule()
	p.SetDrawColor(0, 0, 0)
}

// fit cuts a text that is wider than its place, and shows that it was cut.
func (p *page) fit(text string, width float64) string {
	if p.GetStringWidth(text) <= width-1 {
		return text
	}
	runes := []rune(text)
	for len(runes) > 0 && p.GetStringWidth(string(runes)+"…") > width-1 {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + "…"
}

// closing are the lines that say at the end what the code on every page is good for.
func (p *page) closing() []string {
	out := []string{p.paper.Frame.Pinned, p.paper.Pin.String()}
	if p.options.Signer != "" {
		out = append(out, "signer "+p.options.Signer)
	}
	if p.paper.Pin.Mark != "" {
		out = append(out, "mark "+p.paper.Pin.Mark)
	}
	return out
}

// pinnedHigh is the height of the closing lines with the space above them.
func (p *page) pinnedHigh() float64 {
	p.SetFont("text", "", small)
	high := 7.0
	for _, text := range p.closing() {
		high += float64(len(p.lines(text, p.width())))*small*0.49 + 1
	}
	return high
}

func (p *page) pinned() {
	p.room(p.pinnedHigh() - 1.5)
	p.SetY(p.GetY() + 4)
	p.hair()
	p.SetY(p.GetY() + 1.5)
	for _, text := range p.closing() {
		p.para(text, small)
	}
}

func trimmed(v float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0") }
