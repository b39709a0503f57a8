package drawing

import (
	"fmt"
	"slices"
	"strings"

	"proofbell/geom"
	"proofbell/internal/words"
	"proofbell/panel"
)

// Dialogue is the drawing of a panel's dialogue: a card for each node, a straight arrow for each way that leads on to a card of
// its own. Coordinates are in units of a seventieth of an inch, y down, from the top left corner.
type Dialogue struct {
	Title  string   `json:"title"`
	Width  float64  `json:"width"`
	Height float64  `json:"height"`
	Boxes  []Box    `json:"boxes"`
	Lines  []Stroke `json:"lines"`
	Texts  []Text   `json:"texts"`
	Dots   []Dot    `json:"dots"`
}

// Box is the frame of a card.
type Box struct {
	At     geom.Point `json:"at"` // top left corner
	Width  float64    `json:"width"`
	Height float64    `json:"height"`
	Heavy  bool       `json:"heavy,omitempty"` // where programming begins
}

// Stroke is a line through points.
type Stroke struct {
	Points []geom.Point `json:"points"`
	Arrow  bool         `json:"arrow,omitempty"` // has a head at its end
	Fine   bool         `json:"fine,omitempty"`  // a hairline
}

// Text is a line of text.
type Text struct {
	At   geom.Point `json:"at"` // left end of the base line, or its right end
	Size float64    `json:"size"`
	Bold bool       `json:"bold,omitempty"`
	Soft bool       `json:"soft,omitempty"`
	End  bool       `json:"end,omitempty"` // it ends at At
	Say  string     `json:"say"`
}

// Dot marks what happens to the zone in hand: filled it is kept, open it is dropped.
type Dot struct {
	At   geom.Point `json:"at"` // middle
	Full bool       `json:"full,omitempty"`
}

// Measures of the drawing.
const (
	cardWide = 232.0
	between  = 56.0 // from a card to the one at its right
	below    = 30.0 // from a card to the one below
	margin   = 24.0
	pad      = 10.0
	lineStep = 16.0
	headHigh = 30.0
	laneWide = 9.0
	bigText  = 15.0
	midText  = 12.0
	perSign  = 0.56 // width of a sign, of its size; of a bold capital
	perBold  = 0.72
)

// DialogueOf draws the dialogue of a profile that passes its check. Questions that follow each other stand in a column; what a
// key, an item or an answer leads to stands at its right.
func DialogueOf(lang *words.Language, p *panel.Profile) Dialogue {
	s := &sketch{lang: lang, p: p, claimed: map[string]bool{}, tops: map[string]geom.Point{}}
	s.d.Title = lang.Say("Dialogue of the panel %s %s", p.Title, p.Version)
	s.text(geom.Point{X: margin, Y: margin + 18}, 20, s.d.Title).Bold = true
	keys := lang.Say("%s accepts, %s goes back. Keys and display texts as on the panel; small: the name of the node in the profile.", p.Keypad.Accept, p.Keypad.Back)
	if p.Keypad.Up != "" {
		keys = lang.Say("%s and %s move in a menu, %s accepts, %s goes back. Display texts as on the panel; small: the name of the node in the profile.", p.Keypad.Up, p.Keypad.Down, p.Keypad.Accept, p.Keypad.Back)
	}
	s.text(geom.Point{X: margin, Y: margin + 40}, midText, keys).Soft = true
	y := margin + 62
	s.d.Dots = append(s.d.Dots, Dot{geom.Point{X: margin + 5, Y: y - 4}, true}, Dot{geom.Point{X: margin + 5, Y: y + lineStep - 4}, false})
	s.text(geom.Point{X: margin + 16, Y: y}, midText, lang.Say("the zone in hand is stored"))
	s.text(geom.Point{X: margin + 16, Y: y + lineStep}, midText, lang.Say("the zone in hand is thrown away"))
	s.column(s.claim(p.Dialogue.Start), geom.Point{X: margin, Y: y + 2*lineStep + 12})
	for _, b := range s.d.Boxes {
		s.d.Width, s.d.Height = max(s.d.Width, b.At.X+b.Width+margin), max(s.d.Height, b.At.Y+b.Height+margin)
	}
	for _, t := range s.d.Texts[:2] {
		s.d.Width = max(s.d.Width, t.At.X+float64(len([]rune(t.Say)))*t.Size*perSign+margin)
	}
	for _, l := range s.late {
		s.skip(l)
	}
	return s.d
}

type sketch struct {
	lang    *words.Language
	p       *panel.Profile
	d       Dialogue
	claimed map[string]bool       // nodes that stand somewhere, or will
	tops    map[string]geom.Point // of the cards that are drawn
	late    []jump
}

// jump is a way down its own column past other cards.
type jump struct {
	from geom.Point
	to   string
	lane int
}

// exit is one way out of a node.
type exit struct {
	name string // key, item, answer or condition
	does panel.Deed
	sets string
	says string
	to   string
	main bool // what follows when nothing else holds
}

func (s *sketch) exits(n panel.Node) []exit {
	var out []exit
	for _, k := range n.Picks() {
		e := exit{name: k.Key + k.Shows, does: k.Does, says: k.Says, to: k.Go}
		for _, f := range panel.Fields() {
			if a, ok := k.Sets[f]; ok && a != k.Shows {
				e.sets += f.Say().In(s.lang) + " " + a + " "
			}
		}
		out = append(out, e)
	}
	if n.Listen != nil {
		out = append(out, exit{name: s.lang.Say("heard"), to: n.Listen.Heard})
	}
	for _, c := range n.Choices {
		out = append(out, exit{name: c.Answer, does: c.Does, says: c.Says, to: c.Next})
	}
	for _, w := range n.Next {
		var when []string
		for _, f := range panel.Fields() {
			if answers := w.When[f]; len(answers) > 0 {
				when = append(when, s.lang.Say("%s is %s", f.Say(), strings.Join(answers, ", ")))
			}
		}
		out = append(out, exit{name: strings.Join(when, "; "), to: w.Go, main: len(when) == 0})
	}
	return out
}

// claim takes the questions that follow each other from a node on, so that they stand in one column.
func (s *sketch) claim(id string) []string {
	var chain []string
	for id != "" && !s.claimed[id] {
		s.claimed[id] = true
		chain = append(chain, id)
		next := ""
		for _, e := range s.exits(s.p.Dialogue.Nodes[id]) {
			if e.main {
				next = e.to
			}
		}
		id = next
	}
	return chain
}

// column draws cards below each other and returns where the next may begin.
func (s *sketch) column(chain []string, at geom.Point) float64 {
	lanes := 0
	for i, id := range chain {
		var bottom float64
		before := at.Y
		rest := chain[i+1:]
		if at.Y, bottom = s.card(id, rest, at, &lanes); i+1 < len(chain) {
			s.d.Lines = append(s.d.Lines, Stroke{Points: []geom.Point{{X: at.X + cardWide/2, Y: bottom}, {X: at.X + cardWide/2, Y: max(at.Y, bottom) + below}}, Arrow: true})
			if len(s.exits(s.p.Dialogue.Nodes[id])) > 1 {
				s.text(geom.Point{X: at.X + cardWide/2 + 8, Y: bottom + 18}, midText, s.lang.Say("else")).Soft = true
			}
		}
		at.Y = max(at.Y, bottom, before) + below
	}
	return at.Y - below
}

// card draws a node and what stands at its right; it returns the lower end of all of it, and of the card alone.
func (s *sketch) card(id string, rest []string, at geom.Point, lanes *int) (end, bottom float64) {
	n := s.p.Dialogue.Nodes[id]
	s.tops[id] = at
	x, y := at.X+pad, at.Y+20
	s.text(geom.Point{X: x, Y: y}, bigText, n.Shows).Bold = true
	small := s.text(geom.Point{X: at.X + cardWide - pad, Y: y}, 10, id)
	small.Soft, small.End = true, true
	if float64(len([]rune(n.Shows)))*bigText*perBold+float64(len(id))*10*perSign > cardWide-3*pad { // no room for both on one line
		y += 13
		small.At.Y = y
	}
	y += headHigh - 20
	s.d.Lines = append(s.d.Lines, Stroke{Points: []geom.Point{{X: at.X, Y: y}, {X: at.X + cardWide, Y: y}}, Fine: true})
	lines := s.what(n)
	for _, line := range lines {
		y += lineStep
		s.text(geom.Point{X: x, Y: y}, midText, line)
	}
	exits := s.exits(n)
	right := at.X + cardWide + between + float64(s.jumps(chainOf(id, rest)))*laneWide
	end = at.Y
	rows := 0
	for _, e := range exits {
		if e.main && len(rest) > 0 && rest[0] == e.to {
			continue // the arrow below says it
		}
		y += lineStep + 4
		y = max(y, end+lineStep+2)
		stroke := geom.Point{X: at.X + cardWide, Y: y - 4}
		fine := geom.Point{X: at.X, Y: y - lineStep + 1}
		if rows++; rows > 1 || len(lines) > 0 {
			s.d.Lines = append(s.d.Lines, Stroke{Points: []geom.Point{fine, {X: at.X + cardWide, Y: fine.Y}}, Fine: true})
		}
		name := x
		if e.does == panel.DeedKeep || e.does == panel.DeedDrop {
			s.d.Dots = append(s.d.Dots, Dot{geom.Point{X: x + 5, Y: y - 4}, e.does == panel.DeedKeep})
			name += 16
		}
		leads := strings.TrimSpace(e.name + "  " + e.sets)
		if e.main {
			leads = s.lang.Say("then")
			if len(exits) > 1 {
				leads = s.lang.Say("else")
			}
		}
		switch {
		case slices.Contains(rest, e.to):
			s.late = append(s.late, jump{stroke, e.to, *lanes})
			*lanes++
			s.text(geom.Point{X: name, Y: y}, midText, cut(leads, cardWide-2*pad)).Bold = true
		case !s.claimed[e.to]:
			s.text(geom.Point{X: name, Y: y}, midText, cut(leads, cardWide-2*pad)).Bold = true
			child := geom.Point{X: right, Y: y - 22}
			s.d.Lines = append(s.d.Lines, Stroke{Points: []geom.Point{stroke, {X: right, Y: stroke.Y}}, Arrow: true})
			end = s.column(s.claim(e.to), child) + 10
		default:
			to := s.text(geom.Point{X: at.X + cardWide - pad, Y: y}, midText, s.lang.Say("to %s", e.to))
			to.End, to.Soft = true, true
			room := cardWide - 3*pad - float64(len([]rune(to.Say)))*midText*perSign - (name - x)
			s.text(geom.Point{X: name, Y: y}, midText, cut(leads, room*perSign/0.64)).Bold = true
		}
		if e.says != "" {
			y += lineStep - 2
			s.text(geom.Point{X: name, Y: y}, midText, cut(s.lang.Say("shows %s", e.says), cardWide-2*pad)).Soft = true
		}
	}
	if back := s.back(n); back != "" {
		y += lineStep + 4
		s.text(geom.Point{X: x, Y: y}, midText, back).Soft = true
	}
	bottom = y + pad
	s.d.Boxes = append(s.d.Boxes, Box{at, cardWide, bottom - at.Y, id == s.p.Dialogue.Start})
	return max(end-10, bottom), bottom
}

func chainOf(id string, rest []string) []string { return append([]string{id}, rest...) }

// jumps counts the ways that pass cards of their own column, which need room at its right.
func (s *sketch) jumps(chain []string) int {
	n := 0
	for i, id := range chain {
		for _, e := range s.exits(s.p.Dialogue.Nodes[id]) {
			if k := slices.Index(chain, e.to); !e.main && k > i {
				n++
			}
		}
	}
	return n
}

// skip draws a way that passes cards of its own column.
func (s *sketch) skip(j jump) {
	x := j.from.X + 14 + float64(j.lane)*laneWide
	to := s.tops[j.to]
	y := to.Y + 10 + float64(j.lane)*6
	s.d.Lines = append(s.d.Lines, Stroke{Points: []geom.Point{j.from, {X: x, Y: j.from.Y}, {X: x, Y: y}, {X: to.X + cardWide, Y: y}}, Arrow: true})
}

// what says what a node asks and how, in lines that fit a card.
func (s *sketch) what(n panel.Node) []string {
	if n.Field == "" {
		return nil
	}
	say := s.lang.Say("%s: %s", words.Upper(n.Field.Say().In(s.lang)), n.How())
	if n.Form == panel.FormChoice {
		answers := s.p.Takes(n)
		slices.SortStableFunc(answers, func(a, b string) int { return len(a) - len(b) }) // 2 before 10
		say += ": " + strings.Join(answers, " ")
	}
	var lines []string
	for _, word := range strings.Fields(say) {
		if last := len(lines) - 1; last >= 0 && signs(lines[last]+" "+word) <= cardWide-2*pad {
			lines[last] += " " + word
		} else {
			lines = append(lines, word)
		}
	}
	return lines
}

func (s *sketch) back(n panel.Node) string {
	key := s.p.Keypad.Back
	switch n.Back {
	case "", panel.BackUp:
		return ""
	case panel.BackLeave:
		return s.lang.Say("%s: programming ends", key)
	}
	return s.lang.Say("%s: to %s", key, n.Back)
}

func signs(text string) float64 { return float64(len([]rune(text))) * midText * perSign }

// cut shortens a text to a width.
func cut(text string, room float64) string {
	for r := []rune(text); len(r) > 1; r = r[:len(r)-1] {
		if signs(string(r)) <= room {
			if len(r) < len([]rune(text)) {
				return strings.TrimRight(string(r[:len(r)-1]), " ") + "…"
			}
			return text
		}
	}
	return text
}

func (s *sketch) text(at geom.Point, size float64, say string) *Text {
	s.d.Texts = append(s.d.Texts, Text{At: at, Size: size, Say: say})
	return &s.d.Texts[len(s.d.Texts)-1]
}

// SVG writes the drawing as a picture for paper: black on white.
func (d Dialogue) SVG() []byte {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.0f %.0f" width="%.0f" height="%.0f" font-family="Atkinson Hyperlegible, sans-serif" role="img" aria-label="%s">`+"\n", d.Width, d.Height, d.Width, d.Height, escape(d.Title))
	fmt.Fprintf(&b, `<rect width="100%%" height="100%%" fill="#fff"/>`+"\n")
	for _, l := range d.Lines {
		points := make([]string, len(l.Points))
		for i, p := range l.Points {
			points[i] = fmt.Sprintf("%.1f,%.1f", p.X, p.Y)
		}
		wide := 1.4
		if l.Fine {
			wide = 0.5
		}
		fmt.Fprintf(&b, `<polyline points="%s" fill="none" stroke="#000" stroke-width="%.1f"/>`+"\n", strings.Join(points, " "), wide)
		if l.Arrow {
			head := l.Head()
			fmt.Fprintf(&b, `<polygon points="%.1f,%.1f %.1f,%.1f %.1f,%.1f" fill="#000"/>`+"\n", head[0].X, head[0].Y, head[1].X, head[1].Y, head[2].X, head[2].Y)
		}
	}
	for _, x := range d.Boxes {
		wide := 1.4
		if x.Heavy {
			wide = 3.5
		}
		fmt.Fprintf(&b, `<rect x="%.1f" y="%.1f" width="%.1f" height="%.1f" fill="none" stroke="#000" stroke-width="%.1f"/>`+"\n", x.At.X, x.At.Y, x.Width, x.Height, wide)
	}
	for _, m := range d.Dots {
		fill := "#fff"
		if m.Full {
			fill = "#000"
		}
		fmt.Fprintf(&b, `<rect x="%.1f" y="%.1f" width="9" height="9" fill="%s" stroke="#000" stroke-width="1.4"/>`+"\n", m.At.X-4.5, m.At.Y-4.5, fill)
	}
	for _, t := range d.Texts {
		more := ""
		if t.Bold {
			more += ` font-weight="700"`
		}
		if t.Soft {
			more += ` fill="#444"`
		}
		if t.End {
			more += ` text-anchor="end"`
		}
		fmt.Fprintf(&b, `<text x="%.1f" y="%.1f" font-size="%.0f"%s>%s</text>`+"\n", t.At.X, t.At.Y, t.Size, more, escape(t.Say))
	}
	b.WriteString("</svg>\n")
	return []byte(b.String())
}

// Head gives the corners of the head at the end of a stroke, its point first.
func (l Stroke) Head() [3]geom.Point {
	tip, from := l.Points[len(l.Points)-1], l.Points[len(l.Points)-2]
	long := tip.Distance(from)
	ux, uy := (tip.X-from.X)/long, (tip.Y-from.Y)/long
	root := geom.Point{X: tip.X - 9*ux, Y: tip.Y - 9*uy}
	return [3]geom.Point{tip, {X: root.X - 4*uy, Y: root.Y + 4*ux}, {X: root.X + 4*uy, Y: root.Y - 4*ux}}
}

var escapes = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;")

func escape(text string) string { return escapes.Replace(text) }
