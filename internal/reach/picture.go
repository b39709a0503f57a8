package reach

import (
	"strings"
	"unicode/utf8"

	"proofbell/internal/words"
	"proofbell/internal/worked"
	"proofbell/reliability"
)

// Sizes of the diagram, in tenths of a millimetre on paper.
const (
	boxWide  = 310.0
	lineHigh = 31.0
	letter   = 25.0
	letters  = 22 // that fit into a line of a box
	padding  = 12.0
	between  = 24.0
	rail     = 26.0
	mostWays = 5 // drawn side by side
)

// block is a piece of the diagram with its size; it is entered in the middle of its top and left in the middle of its foot.
type block struct {
	wide, high float64
	draw       func(p *worked.Picture, x, y float64)
}

// drawer draws one room: the signal runs down, from the fire to the station.
type drawer struct {
	m      *Model
	lang   *words.Language
	single map[int]bool
}

func (m *Model) picture(lang *words.Language, r *room, single map[int]bool) worked.Picture {
	d := drawer{m, lang, single}
	p := worked.Picture{Title: lang.Say("From a fire in %s to the station", r.name), Say: lang.Say("The signal runs from the top to the foot. What stands side by side can stand in for each other; what stands below each other is needed. Heavy: alone it cuts the way.")}
	start := d.box([]string{lang.Say("Fire in %s", r.name)}, false, true)
	end := d.box([]string{lang.Say("Station")}, false, true)
	var all block
	if cut := func() bool { _, need, of := m.sys.Of(r.station); return need == 1 && len(of) == 0 }(); cut {
		all = d.stack([]block{start, d.box([]string{lang.Say("nothing reports it")}, true, false), end}, true)
	} else {
		all = d.stack([]block{start, d.node(r.station), end}, true)
	}
	const edge = 20
	p.Width, p.Height = max(900, all.wide+2*edge), all.high+2*edge
	all.draw(&p, (p.Width-all.wide)/2, edge)
	return p
}

// box is a box with lines of text.
func (d drawer) box(texts []string, heavy, bold bool) block {
	var lines []string
	for _, t := range texts {
		lines = append(lines, wrap(t, letters)...)
	}
	high := float64(len(lines))*lineHigh + 2*padding
	return block{boxWide, high, func(p *worked.Picture, x, y float64) {
		weight := 2.0
		if heavy {
			weight = 7
		}
		p.Box(weight, x, y, boxWide, high)
		for i, line := range lines {
			t := p.Write(x+boxWide/2, y+padding+float64(i)*lineHigh+letter-2, letter, "middle", line)
			t.Bold = bold || heavy
		}
	}}
}

func wrap(text string, most int) (out []string) {
	line := ""
	for _, word := range strings.Fields(text) {
		if line != "" && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > most {
			out = append(out, line)
			line = ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	return append(out, line)
}

// stack puts blocks below each other.
func (d drawer) stack(of []block, arrows bool) block {
	var b block
	for i, one := range of {
		b.wide = max(b.wide, one.wide)
		if i > 0 {
			b.high += between
		}
		b.high += one.high
	}
	b.draw = func(p *worked.Picture, x, y float64) {
		for i, one := range of {
			if i > 0 {
				s := p.Line(2, [2]float64{x + b.wide/2, y}, [2]float64{x + b.wide/2, y + between})
				s.Arrow = arrows
				y += between
			}
			one.draw(p, x+(b.wide-one.wide)/2, y)
			y += one.high
		}
	}
	return b
}

// side puts blocks side by side between two rails.
func (d drawer) side(of []block) block {
	var b block
	for i, one := range of {
		b.high = max(b.high, one.high)
		if i > 0 {
			b.wide += between
		}
		b.wide += one.wide
	}
	b.high += 2 * rail
	b.draw = func(p *worked.Picture, x, y float64) {
		first, last := x+of[0].wide/2, x+b.wide-of[len(of)-1].wide/2
		p.Line(2, [2]float64{min(first, x+b.wide/2), y}, [2]float64{max(last, x+b.wide/2), y})
		p.Line(2, [2]float64{min(first, x+b.wide/2), y + b.high}, [2]float64{max(last, x+b.wide/2), y + b.high})
		for _, one := range of {
			middle := x + one.wide/2
			p.Line(2, [2]float64{middle, y}, [2]float64{middle, y + rail})
			p.Line(2, [2]float64{middle, y + rail + one.high}, [2]float64{middle, y + b.high})
			one.draw(p, x, y+rail)
			x += one.wide + between
		}
	}
	return b
}

// node draws an arrangement: needed things below each other, alternatives side by side, alternatives of single parts in one
// box.
func (d drawer) node(n reliability.Node) block {
	part, need, of := d.m.sys.Of(n)
	switch {
	case part >= 0:
		return d.box([]string{words.Upper(d.m.byPart[part].name.In(d.lang))}, d.single[part], false)
	case need == len(of):
		var list []block
		for _, one := range d.flat(of) {
			list = append(list, d.node(one))
		}
		return d.stack(list, false)
	}
	var texts []string
	for _, one := range of {
		leaf, _, _ := d.m.sys.Of(one)
		if leaf < 0 {
			texts = nil
			break
		}
		name := d.m.byPart[leaf].name.In(d.lang)
		if len(texts) > 0 {
			name = d.lang.Say("or %s", name)
		}
		texts = append(texts, words.Upper(name))
	}
	if len(texts) > 0 && len(texts) <= 3 {
		texts[0] = words.Upper(texts[0])
		return d.box(texts, false, false)
	}
	var list []block
	for i, one := range of {
		if i == mostWays-1 && len(of) > mostWays {
			list = append(list, d.box([]string{d.lang.Say("and %d more ways", len(of)-i)}, false, false))
			break
		}
		list = append(list, d.node(one))
	}
	return d.side(list)
}

// flat takes series within series apart.
func (d drawer) flat(of []reliability.Node) (out []reliability.Node) {
	for _, n := range of {
		part, need, inner := d.m.sys.Of(n)
		if part < 0 && need == len(inner) && len(inner) > 0 {
			out = append(out, d.flat(inner)...)
			continue
		}
		out = append(out, n)
	}
	return out
}
