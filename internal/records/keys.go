package records

import (
	"fmt"
	"strings"

	"proofbell/internal/keypad"
	"proofbell/internal/papers"
)

// Measures of a keying sheet, mm and pt. It is read at arm's length and from photocopies: black on white, nothing thin.
const (
	capSize  = 10.5 // type of a key
	capHigh  = 5.8
	capGap   = 1.1
	promptPt = 9.5
	tickEdge = 4.2
	leastRow = 7.0

	leastMeans = 8.0 // type of what an answer means, where it stands beside its keys
)

// ticks writes lines with a box to tick, indented by x.
func (p *page) ticks(list []string, x float64) {
	for _, text := range list {
		p.room(p.tickHigh(text, p.width()-2*x))
		y := p.GetY()
		p.tick(margin+x, y+0.5, tickEdge)
		p.block(text, "", body, x+7.5, p.width()-2*x-7.5)
		p.SetY(max(p.GetY(), y+tickEdge+1) + 0.9)
	}
}

func (p *page) tickHigh(text string, width float64) float64 {
	p.SetFont("text", "", body)
	return max(float64(len(p.lines(text, width-7.5)))*body*0.49+1, tickEdge+1) + 0.9
}

func (p *page) tick(x, y, edge float64) {
	p.SetLineWidth(0.4)
	p.Rect(x, y, edge, edge, "D")
}

// notes explains letters that stand beside lines further on.
func (p *page) notes(list []papers.Pair) {
	for _, n := range list {
		p.SetFont("text", "", body)
		p.room(float64(len(p.lines(n.Value, p.width()-9))) * body * 0.49)
		p.SetFont("text", "B", body)
		p.Text(margin+1, p.GetY()+body*0.49*0.78, n.Name)
		p.block(n.Value, "", body, 9, p.width()-9)
	}
}

// Columns of a key block, from the left edge: tick box, what the panel shows, keys, what it shows then.
func (p *page) keyColumns() (shows, press, then float64) {
	return 7, 0.25 * p.width(), 0.77 * p.width()
}

// keys draws a zone with its prompts. It stays whole where a page has room for it; a longer one is divided between
// prompts, never so that less than three stand alone, and says on the next page what it is.
func (p *page) keys(b papers.KeyBlock) {
	heights := make([]float64, len(b.Rows))
	all := 0.0
	for i, r := range b.Rows {
		heights[i] = p.prompt(r, 0, false)
		all += heights[i]
	}
	check := p.checkHigh(b)
	head := 12.4
	if b.Title == "" {
		head = 0
	}
	if len(b.Rows) > 0 {
		head += 4
	}
	for _, text := range append(append([]string{}, b.Stops...), b.Taken...) {
		p.SetFont("text", "", body)
		head += float64(len(p.lines(text, p.width()-9)))*body*0.49 + 1
	}
	first := 0.0
	for _, high := range heights[:min(3, len(heights))] {
		first += high
	}
	left := p.bottom() - p.GetY()
	switch {
	case head+all <= left:
	case head+all <= p.whole() && left < 0.6*p.whole(), head+first > left:
		p.newPage()
	}
	if b.Title != "" {
		p.keyHead(b)
	}
	for i, r := range b.Rows {
		need := heights[i]
		if rest := len(b.Rows) - i; rest == 3 {
			need += heights[i+1] + heights[i+2]
		}
		if p.GetY()+need > p.bottom() && i > 0 {
			p.AddPage()
			p.more(b.More)
		}
		p.keyRow(r, heights[i])
	}
	if len(b.Check) > 0 {
		if p.GetY()+check > p.bottom() {
			p.AddPage()
			p.more(b.More)
		}
		p.check(b)
	}
	p.SetY(p.GetY() + 3)
}

// newPage begins a page, unless nothing stands on this one.
func (p *page) newPage() {
	if p.GetY() > margin+10 {
		p.AddPage()
	}
}

func (p *page) keyHead(b papers.KeyBlock) {
	p.SetY(p.GetY() + 2)
	y := p.GetY()
	p.SetLineWidth(0.7)
	p.Line(margin, y, margin+p.width(), y)
	p.tick(margin, y+2, 6.4)
	p.SetFont("text", "B", 14)
	p.Text(margin+9, y+7, b.Title)
	x := margin + 9 + p.GetStringWidth(b.Title) + 4
	p.SetFont("text", "", body)
	kind := p.fit(b.Kind, 0.4*p.width())
	wide := p.GetStringWidth(kind)
	p.SetFont("text", "B", 12)
	p.Text(x, y+7, p.fit(b.Name, margin+p.width()-wide-4-x))
	p.SetFont("text", "", body)
	p.Text(margin+p.width()-wide, y+7, kind)
	p.Bookmark(b.Title+" "+b.Name, 1, -1)
	p.SetY(y + 10.2)
	for _, text := range b.Stops {
		p.block(text, "B", body, 9, p.width()-9)
	}
	for _, text := range b.Taken {
		p.block(text, "", body, 9, p.width()-9)
	}
	if len(b.Rows) > 0 {
		p.heads(b.Head)
	}
}

// heads names the columns.
func (p *page) heads(names []string) {
	shows, press, then := p.keyColumns()
	p.SetFont("text", "", small)
	y := p.GetY()
	for i, x := range []float64{shows, press, then} {
		p.Text(margin+x, y+3, names[i])
	}
	p.SetY(y + 4)
	p.SetLineWidth(0.3)
	p.Line(margin, p.GetY(), margin+p.width(), p.GetY())
}

func (p *page) more(text string) {
	p.SetFont("text", "B", 11)
	p.Text(margin, p.GetY()+4.5, text)
	p.SetY(p.GetY() + 7)
}

// capWide is the width of one keycap.
func (p *page) capWide(text string) float64 {
	p.SetFont("text", "B", capSize)
	return max(p.GetStringWidth(text)+3.4, capHigh)
}

// caps lays keycaps out in lines of a width and returns how many lines; draw says whether they are drawn.
func (p *page) caps(list []keypad.Cap, x, y, width float64, draw bool) (lines int, end float64) {
	at := x
	lines = 1
	for _, c := range list {
		wide, times, gap := p.capWide(c.Key), "", 0.6
		if c.Times > 1 {
			times = fmt.Sprintf("×%d", c.Times)
		}
		if c.Until != "" {
			times, gap = c.Until, 1.4
		}
		more := p.GetStringWidth(times)
		if at+wide+more > x+width && at > x {
			at, y, lines = x, y+capHigh+capGap, lines+1
		}
		if draw {
			p.cap(c.Key, c.Wait, at, y, wide)
			p.Text(at+wide+gap, y+4.25, times)
		}
		if at += wide + capGap; more > 0 {
			at += more + gap + 0.2
		}
	}
	return lines, at
}

// cap draws one key as a box; a wait is black, so that nobody reads over it.
func (p *page) cap(text string, wait bool, x, y, wide float64) {
	p.SetFont("text", "B", capSize)
	p.SetLineWidth(0.4)
	style := "D"
	if wait {
		style = "F"
		p.SetFillColor(0, 0, 0)
		p.SetTextColor(255, 255, 255)
	}
	p.RoundedRect(x, y, wide, capHigh, 0.8, "1234", style)
	p.Text(x+(wide-p.GetStringWidth(text))/2, y+4.25, text)
	p.SetTextColor(0, 0, 0)
}

// prompt breaks a prompt into its columns, draws it from y down when asked to, and returns its height.
func (p *page) prompt(r papers.KeyRow, y float64, draw bool) (high float64) {
	shows, press, after := p.keyColumns()
	p.SetFont("text", "B", promptPt)
	shown := p.lines(r.Shows, press-shows-3)
	if r.Sees != "" {
		shown = append(shown, p.lines(r.Sees, press-shows-3)...)
	}
	p.SetFont("text", "", promptPt)
	then := p.lines(r.Then, p.width()-after)
	room := after - press - 3
	lines, end := p.caps(r.Press, press, 0, room, false)
	var means []string
	size := body
	fits := func() bool {
		p.SetFont("text", "", size)
		return lines == 1 && end+p.GetStringWidth(r.Means)+2 <= press+room
	}
	for !fits() && size > leastMeans {
		size -= 0.5
	}
	beside := fits()
	p.SetFont("text", "", body)
	if r.Means != "" && !beside {
		means = p.lines(r.Means, room)
	}
	text := float64(max(len(shown), len(then)))*4.5 + 1.6
	keys := float64(lines)*(capHigh+capGap) + float64(len(means))*4.2 + 0.1
	if len(means) > 0 {
		keys += 0.9 // what hangs below the letters stays above the rule
	}
	high = max(leastRow, text, keys)
	if !draw {
		return high
	}
	p.tick(margin, y+1.3, tickEdge)
	p.SetFont("text", "B", promptPt)
	for i, line := range shown {
		p.Text(margin+shows, y+4.7+float64(i)*4.5, line)
	}
	p.SetFont("text", "", promptPt)
	for i, line := range then {
		p.Text(margin+after, y+4.7+float64(i)*4.5, line)
	}
	if r.Note != "" {
		p.SetFont("text", "B", body)
		p.Text(margin+press-1.2-p.GetStringWidth(r.Note), y+4.6, r.Note)
	}
	p.caps(r.Press, margin+press, y+0.6, room, true)
	if beside {
		p.SetFont("text", "", size)
		p.Text(margin+end+1, y+4.8, r.Means)
	}
	p.SetFont("text", "", body)
	for i, line := range means {
		p.Text(margin+press, y+float64(lines)*(capHigh+capGap)+3.8+float64(i)*4.2, line)
	}
	return high
}

func (p *page) keyRow(r papers.KeyRow, high float64) {
	y := p.GetY()
	p.prompt(r, y, true)
	p.SetY(y + high)
	p.SetLineWidth(0.2)
	p.Line(margin, p.GetY(), margin+p.width(), p.GetY())
}

const checkRow = 6.9

func (p *page) checkHigh(b papers.KeyBlock) float64 {
	if len(b.Check) == 0 {
		return 0
	}
	return 11 + checkRow*float64((len(b.Check)+1)/2)
}

// check draws the cards that read a zone back, in two columns, down the first one.
func (p *page) check(b papers.KeyBlock) {
	y := p.GetY() + 2
	p.SetFont("text", "B", body)
	p.Text(margin+7, y+3.6, b.Read[0])
	rows := (len(b.Check) + 1) / 2
	column := (p.width() - 5) / 2
	prompt, sees, press := 7.0, 0.5*column, 0.77*column
	p.SetFont("text", "", small)
	for c := range 2 {
		x := margin + float64(c)*(column+5)
		for i, at := range []float64{prompt, sees, press} {
			p.Text(x+at, y+7.6, b.Read[i+1])
		}
		p.SetLineWidth(0.3)
		p.Line(x, y+8.6, x+column, y+8.6)
	}
	for i, r := range b.Check {
		x, at := margin+float64(i/rows)*(column+5), y+8.6+float64(i%rows)*checkRow
		p.tick(x, at+1.2, tickEdge)
		p.Text(x+prompt, at+4.7, p.shrink(r.Shows, "B", sees-prompt-1))
		if r.Sees != "" {
			p.Text(x+sees, at+4.7, p.shrink(r.Sees, "B", press-sees-1))
		} else {
			then, _, _ := strings.Cut(r.Then, " / ") // of a notice and the next prompt, the notice
			p.Text(x+sees, at+4.7, p.shrink("→ "+then, "B", press-sees-1))
		}
		p.caps(r.Press, x+press, at+0.5, column-press, true)
	}
	p.SetY(y + 8.6 + float64(rows)*checkRow)
}

// shrink sets the type as large as the text has room for, and cuts it only where that would be too small to read.
func (p *page) shrink(text, style string, width float64) string {
	size := body
	for p.SetFont("text", style, size); size > 6.5 && p.GetStringWidth(text) > width-1; p.SetFont("text", style, size) {
		size -= 0.5
	}
	return p.fit(text, width)
}
