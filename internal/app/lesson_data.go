package app

import (
	"strings"

	"proofbell/internal/words"
	"proofbell/signal"
)

// cutData cuts the data of a clear frame into what its payload is made of; nil when it does not follow its format, or
// has none of ours.
func cutData(raw, shown []byte, frame signal.Frame, span signal.Span, lang *words.Language) []Range {
	if frame.Encrypted || span.Bad || span.To-span.From != len(frame.Data)+2 {
		return nil
	}
	c := cutter{data: frame.Data}
	switch frame.ID {
	case signal.IDContactID:
		c.contactID(lang)
	case signal.IDSIA:
		c.sia(lang)
	}
	if len(c.cuts) == 0 || c.at != len(c.data) {
		return nil
	}
	begin := span.From
	out := make([]Range, 0, len(c.cuts)+1)
	from := span.From // the opening bracket belongs to the first
	for _, cut := range c.cuts {
		to := begin + 1 + cut.to
		r := ranged(raw, shown, signal.Span{From: from, To: to, Element: cut.element})
		r.Words = cut.words
		out, from = append(out, r), to
	}
	return append(out, ranged(raw, shown, signal.Span{From: from, To: span.To, Element: "data-end"}))
}

type cutter struct {
	data string
	at   int
	cuts []cut
}

type cut struct {
	to             int
	element, words string
}

// take makes a range of the next n bytes; what is longer than the data ends the cutting.
func (c *cutter) take(n int, element, words string) {
	if c.at+n > len(c.data) {
		c.cuts, c.at = nil, len(c.data)+1
		return
	}
	if n == 0 || c.at > len(c.data) {
		return
	}
	c.at += n
	c.cuts = append(c.cuts, cut{c.at, element, words})
}

func (c *cutter) head() {
	head, _, _ := strings.Cut(c.data, "|")
	c.take(len(head), "data-account", strings.TrimPrefix(head, "#"))
}

// contactID cuts #acct|QXYZ GG CCC.
func (c *cutter) contactID(lang *words.Language) {
	p, err := signal.ParseContactID(c.data)
	if err != nil {
		return
	}
	e := p.Event()
	c.head()
	c.take(1, "bar", "")
	c.take(1, "cid-qualifier", string(e.Qualifier))
	c.take(3, "cid-code", lang.Word(e.Words))
	c.take(3, "cid-area", p.Group)
	c.take(4, "cid-number", string(e.NumberIs))
}

// sia cuts #acct|Nri1/FA005|A...
func (c *cutter) sia(lang *words.Language) {
	p, err := signal.ParseSIA(c.data)
	if err != nil {
		return
	}
	c.head()
	for _, b := range p.Blocks {
		c.take(c.run("|"), "bar", "")
		if b.Function != 'N' && b.Function != 'O' {
			c.take(1, "sia-text", "")
			c.take(len(b.Text), "sia-text", "")
			continue
		}
		c.take(1, "sia-function", string(b.Function))
		for _, packet := range b.Packets {
			slashes := c.run("/")
			if strings.ToLower(packet.Code) == packet.Code {
				c.take(slashes+2+len(packet.Value), "sia-modifier", packet.Code)
			} else {
				m, _ := signal.Lookup(signal.SIADCS, packet.Code)
				c.take(slashes+2, "sia-code", lang.Word(m.Words))
				c.take(len(packet.Value), "sia-address", string(m.NumberIs))
			}
			c.take(c.text(), "sia-text", "")
		}
		c.take(c.run("/"), "bar", "")
	}
	c.take(c.run("|"), "bar", "")
}

// run counts how often the next byte is that one.
func (c *cutter) run(one string) int {
	if c.at > len(c.data) {
		return 0
	}
	rest := c.data[c.at:]
	return len(rest) - len(strings.TrimLeft(rest, one))
}

// text measures the free text behind an address: a blank and what follows, ^ and ^, or * to the end of the block.
func (c *cutter) text() int {
	n := 0
	for c.at+n < len(c.data) {
		rest := c.data[c.at+n:]
		end := len(rest)
		switch rest[0] {
		case ' ':
			if i := strings.IndexAny(rest, "/|^*"); i >= 0 {
				end = i
			}
		case '^':
			if i := strings.IndexByte(rest[1:], '^'); i >= 0 {
				end = i + 2
			} else if i := strings.IndexByte(rest, '|'); i >= 0 {
				end = i
			}
		case '*':
			if i := strings.IndexByte(rest, '|'); i >= 0 {
				end = i
			}
		default:
			return n
		}
		n += end
	}
	return n
}
