package records

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/go-fonts/dejavu/dejavusanscondensedbold"
	"rsc.io/qr"
)

// Measures of a page, mm and pt.
const (
	margin   = 16.0
	body     = 9.0
	small    = 7.5
	heading  = 13.0
	lineHigh = 4.6
)

// PDF writes the record. The same facts give the same bytes. It is legible in black and white: every state has a shape and
// a word.
func PDF(f Facts) ([]byte, error) {
	p := &page{Fpdf: fpdf.New("P", "mm", paper(f.Paper), ""), facts: f}
	p.SetCatalogSort(true)
	at := time.Unix(f.Unix, 0).UTC()
	p.SetCreationDate(at)
	p.SetModificationDate(at)
	p.SetTitle(f.Title+": "+f.Name, true)
	p.SetProducer("Proofbell", true)
	p.AddUTF8FontFromBytes("text", "", dejavusanscondensed.TTF)
	p.AddUTF8FontFromBytes("text", "B", dejavusanscondensedbold.TTF)
	p.SetMargins(margin, margin, margin)
	p.SetAutoPageBreak(true, 22)
	p.AliasNbPages("{pages}")
	p.SetHeaderFunc(p.header)
	p.SetFooterFunc(p.footer)
	p.AddPage()
	p.cover()
	p.results()
	p.findings()
	p.table(f.Zones)
	p.table(f.Heads)
	p.plans(f.Storeys)
	p.chain()
	var out bytes.Buffer
	if err := p.Output(&out); err != nil {
		return nil, fmt.Errorf("writing the record: %w", err)
	}
	return out.Bytes(), nil
}

func paper(name string) string {
	if name == "Letter" {
		return "Letter"
	}
	return "A4"
}

type page struct {
	*fpdf.Fpdf
	facts Facts
}

func (p *page) width() float64 {
	w, _ := p.GetPageSize()
	return w - 2*margin
}

// bottom is the lowest y that a block may reach.
func (p *page) bottom() float64 {
	_, h := p.GetPageSize()
	return h - 22
}

// room begins a new page when less than high mm are left.
func (p *page) room(high float64) {
	if p.GetY()+high > p.bottom() {
		p.AddPage()
	}
}

func (p *page) header() {
	if p.PageNo() == 1 {
		return
	}
	p.SetFont("text", "", small)
	p.SetTextColor(70, 70, 70)
	p.CellFormat(p.width()/2, 4, p.facts.Name, "", 0, "L", false, 0, "")
	p.CellFormat(p.width()/2, 4, p.facts.Date, "", 1, "R", false, 0, "")
	p.SetTextColor(0, 0, 0)
	p.rule()
	p.Ln(3)
}

func (p *page) footer() {
	_, h := p.GetPageSize()
	p.SetY(h - 16)
	p.rule()
	p.SetFont("text", "", small)
	left := fmt.Sprintf("Job book entry %d, %s", p.facts.Chain.Seq, short(p.facts.Chain.Hash))
	if p.facts.Practice {
		left = "PRACTICE: can not become a certificate. " + left
	}
	p.CellFormat(p.width()*0.8, 5, left, "", 0, "L", false, 0, "")
	p.CellFormat(p.width()*0.2, 5, fmt.Sprintf("%d / {pages}", p.PageNo()), "", 0, "R", false, 0, "")
}

func short(hash string) string {
	if len(hash) > 16 {
		return hash[:16]
	}
	return hash
}

func (p *page) rule() {
	p.SetLineWidth(0.2)
	p.Line(margin, p.GetY(), margin+p.width(), p.GetY())
}

func (p *page) title(text string) {
	p.room(24)
	p.Ln(4)
	p.SetFont("text", "B", heading)
	p.CellFormat(0, 7, text, "", 1, "L", false, 0, "")
	p.Bookmark(text, 0, -1)
	p.SetFont("text", "", body)
}

func (p *page) para(text string) {
	p.SetFont("text", "", body)
	p.MultiCell(p.width(), lineHigh, text, "", "L", false)
}

func (p *page) cover() {
	f := p.facts
	p.SetFont("text", "B", 20)
	p.MultiCell(p.width(), 9, f.Name, "", "L", false)
	p.SetFont("text", "", 11)
	p.CellFormat(0, 6, f.Title+", "+f.Date, "", 1, "L", false, 0, "")
	if f.Practice {
		p.Ln(2)
		p.SetFont("text", "B", 11)
		p.SetLineWidth(0.6)
		p.CellFormat(p.width(), 9, "  PRACTICE. This record can never become a certificate.", "1", 1, "L", false, 0, "")
	}
	p.Ln(3)
	p.pairs(f.Sheet)
	p.title("Before you rely on this")
	for _, c := range f.Cautions {
		p.para("–  " + c)
	}
	p.title("What was proved")
	p.SetFont("text", "B", 11)
	p.MultiCell(p.width(), 5.5, f.Summary, "", "L", false)
	p.pairs(f.OnTest)
	if len(f.NotProved) > 0 {
		p.Ln(1)
		p.SetFont("text", "B", body)
		p.CellFormat(0, 5, "Not proved, by name", "", 1, "L", false, 0, "")
		p.pairs(f.NotProved)
	}
}

func (p *page) pairs(list []Pair) {
	for _, x := range list {
		if x.Value == "" {
			continue
		}
		lines := p.SplitText(x.Value, p.width()-42)
		p.room(float64(len(lines)) * lineHigh)
		y := p.GetY()
		p.SetFont("text", "", body)
		p.SetTextColor(70, 70, 70)
		p.CellFormat(42, lineHigh, x.Name, "", 0, "L", false, 0, "")
		p.SetTextColor(0, 0, 0)
		p.SetXY(margin+42, y)
		p.MultiCell(p.width()-42, lineHigh, x.Value, "", "L", false)
	}
}

func (p *page) results() {
	if len(p.facts.Results) == 0 {
		return
	}
	p.title("Path of each device: detector, panel, line, station")
	p.key()
	for _, r := range p.facts.Results {
		p.SetFont("text", "", small)
		lines := p.SplitText(r.Say, p.width()-90)
		high := max(11, 5+float64(len(lines))*3.6)
		p.room(high)
		y := p.GetY()
		p.SetFont("text", "B", 11)
		p.SetXY(margin, y)
		p.CellFormat(14, 6, r.Zone, "", 0, "L", false, 0, "")
		p.SetFont("text", "B", body)
		p.CellFormat(74, 6, p.fit(r.Title, 74), "", 0, "L", false, 0, "")
		p.strip(r, margin+14, y+7.6)
		p.SetFont("text", "", small)
		p.SetXY(margin+90, y+0.8)
		p.MultiCell(p.width()-90, 3.6, r.Say, "", "L", false)
		p.SetY(y + high)
		p.SetDrawColor(170, 170, 170)
		p.rule()
		p.SetDrawColor(0, 0, 0)
		p.Ln(1)
	}
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

func (p *page) findings() {
	if len(p.facts.Findings) == 0 {
		return
	}
	p.title("Findings")
	for _, f := range p.facts.Findings {
		p.SetFont("text", "", body)
		lines := p.SplitText(f.Say, p.width()-24)
		p.room(float64(len(lines)+1)*lineHigh + 3)
		p.SetFont("text", "B", small)
		p.CellFormat(20, lineHigh, f.Severity, "1", 0, "C", false, 0, "")
		p.SetX(margin + 24)
		p.SetFont("text", "B", body)
		p.CellFormat(0, lineHigh, f.Where, "", 1, "L", false, 0, "")
		p.SetX(margin + 24)
		p.SetFont("text", "", body)
		p.MultiCell(p.width()-24, lineHigh, f.Say, "", "L", false)
		p.SetX(margin + 24)
		p.SetTextColor(70, 70, 70)
		p.MultiCell(p.width()-24, lineHigh, f.Who, "", "L", false)
		p.SetTextColor(0, 0, 0)
		p.Ln(1.5)
	}
}

// table draws a table whose rows are never broken; its head is repeated on every page.
func (p *page) table(t Table) {
	if len(t.Head) == 0 {
		return
	}
	p.title(t.Title)
	if len(t.Rows) == 0 {
		p.para(t.Empty)
		return
	}
	total := 0.0
	for _, w := range t.Widths {
		total += w
	}
	widths := make([]float64, len(t.Widths))
	for i, w := range t.Widths {
		widths[i] = w / total * p.width()
	}
	p.row(t.Head, widths, "B")
	for _, cells := range t.Rows {
		if p.GetY()+p.high(cells, widths) > p.bottom() {
			p.AddPage()
			p.row(t.Head, widths, "B")
		}
		p.row(cells, widths, "")
	}
}

func (p *page) high(cells []string, widths []float64) float64 {
	p.SetFont("text", "", small)
	most := 1
	for i, c := range cells {
		most = max(most, len(p.SplitText(c, widths[i]-1.5)))
	}
	return float64(most)*3.7 + 1.2
}

func (p *page) row(cells []string, widths []float64, style string) {
	high := p.high(cells, widths)
	x, y := margin, p.GetY()
	p.SetFont("text", style, small)
	for i, c := range cells {
		p.SetXY(x, y+0.6)
		p.MultiCell(widths[i], 3.7, c, "", "L", false)
		x += widths[i]
	}
	p.SetY(y + high)
	if style == "B" {
		p.rule()
		return
	}
	p.SetDrawColor(190, 190, 190)
	p.rule()
	p.SetDrawColor(0, 0, 0)
}

func (p *page) chain() {
	c := p.facts.Chain
	p.room(56) // with its title
	p.title("Fingerprint")
	y := p.GetY()
	text := fmt.Sprintf("proofbell:%s:%d:%s:%s", c.Job, c.Seq, c.Hash, c.Fingerprint)
	p.qr(text, margin, y, 36)
	p.SetXY(margin+42, y)
	p.SetFont("text", "", small)
	p.MultiCell(p.width()-42, 3.8, fmt.Sprintf("This record was made from the job book as it stood at entry %d. Whoever holds this page can show whether the book was changed later: proofbell verify --head %d:HASH.\nJob  %s\nHash  %s\nSigner  %s\nSignature  %s",
		c.Seq, c.Seq, c.Job, c.Hash, c.Fingerprint, c.Signature), "", "L", false)
	p.SetY(max(p.GetY(), y+38))
}

// qr draws a code as squares, so that it stays sharp on any printer.
func (p *page) qr(text string, x, y, size float64) {
	code, err := qr.Encode(text, qr.M)
	if err != nil {
		p.SetError(fmt.Errorf("QR code: %w", err))
		return
	}
	cell := size / float64(code.Size)
	p.SetFillColor(0, 0, 0)
	for row := range code.Size {
		for col := range code.Size {
			if code.Black(col, row) {
				p.Rect(x+float64(col)*cell, y+float64(row)*cell, cell+0.02, cell+0.02, "F")
			}
		}
	}
}

func trimmed(v float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0") }
