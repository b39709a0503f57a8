package drawing

import (
	"encoding/xml"
	"errors"
	"io"
	"os"
	"strings"
	"testing"

	"proofbell/internal/words"
	"proofbell/panel"
)

func profiles(t *testing.T) []*panel.Profile {
	t.Helper()
	var out []*panel.Profile
	for _, name := range panel.Names() {
		p, err := panel.Builtin(name)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, p)
	}
	raw, err := os.ReadFile("../../panel/testdata/wicket.yaml")
	if err != nil {
		t.Fatal(err)
	}
	p, err := panel.Decode("wicket.yaml", raw)
	if err != nil {
		t.Fatal(err)
	}
	return append(out, p)
}

// Every node has one card with its display text and its name, no card covers another, and what is written stays in its card.
func TestEveryNodeHasItsCard(t *testing.T) {
	for _, p := range profiles(t) {
		for _, lang := range words.Tags() {
			d := DialogueOf(words.In(lang), p)
			if len(d.Boxes) != len(p.Dialogue.Nodes) {
				t.Errorf("%s: %d cards for %d nodes", p.Name, len(d.Boxes), len(p.Dialogue.Nodes))
			}
			in := func(b Box, x, y float64) bool {
				return x >= b.At.X && x <= b.At.X+b.Width && y >= b.At.Y && y <= b.At.Y+b.Height
			}
			for i, b := range d.Boxes {
				if b.At.X < 0 || b.At.Y < 0 || b.At.X+b.Width > d.Width || b.At.Y+b.Height > d.Height {
					t.Errorf("%s: card %d lies outside the drawing", p.Name, i)
				}
				for _, other := range d.Boxes[:i] {
					if b.At.X < other.At.X+other.Width && other.At.X < b.At.X+b.Width && b.At.Y < other.At.Y+other.Height && other.At.Y < b.At.Y+b.Height {
						t.Errorf("%s: two cards cover each other at %v and %v", p.Name, b.At, other.At)
					}
				}
			}
			for id, n := range p.Dialogue.Nodes {
				cards := 0
				for _, b := range d.Boxes {
					shows, named := false, false
					for _, text := range d.Texts {
						shows = shows || text.Bold && text.Say == n.Shows && in(b, text.At.X, text.At.Y)
						named = named || text.End && text.Size < midText && text.Say == id && in(b, text.At.X, text.At.Y)
					}
					if shows && named {
						cards++
					}
				}
				if cards != 1 {
					t.Errorf("%s: %d cards of %s", p.Name, cards, id)
				}
			}
			for _, text := range d.Texts[4:] { // behind title and legend
				wide := float64(len([]rune(text.Say))) * text.Size * perSign
				for _, b := range d.Boxes {
					left := text.At.X
					if text.End {
						left -= wide
					}
					if in(b, text.At.X, text.At.Y) && (left < b.At.X || left+wide > b.At.X+b.Width) {
						t.Errorf("%s, %s: %q leaves its card", p.Name, lang, text.Say)
					}
				}
			}
		}
	}
}

// Every way is drawn: as an arrow that ends at a card, or by the name of the node that it leads to.
func TestEveryWayIsDrawn(t *testing.T) {
	for _, p := range profiles(t) {
		d, ways := DialogueOf(nil, p), 0
		for _, n := range p.Dialogue.Nodes {
			ways += len(n.Picks()) + len(n.Choices) + len(n.Next)
			if n.Listen != nil {
				ways++
			}
		}
		arrows, named := 0, 0
		for _, l := range d.Lines {
			if !l.Arrow {
				continue
			}
			arrows++
			tip, ends := l.Points[len(l.Points)-1], false
			for _, b := range d.Boxes {
				ends = ends || tip.X >= b.At.X-1 && tip.X <= b.At.X+b.Width+1 && tip.Y >= b.At.Y-1 && tip.Y <= b.At.Y+b.Height+1
			}
			if !ends {
				t.Errorf("%s: an arrow ends nowhere, at %v", p.Name, tip)
			}
		}
		for _, text := range d.Texts {
			if to, ok := strings.CutPrefix(text.Say, "to "); ok && text.End {
				named++
				if _, ok := p.Dialogue.Nodes[to]; !ok {
					t.Errorf("%s: %q leads nowhere", p.Name, text.Say)
				}
			}
		}
		if arrows+named != ways {
			t.Errorf("%s: %d arrows and %d named of %d ways", p.Name, arrows, named, ways)
		}
	}
}

func TestPictureOfADialogue(t *testing.T) {
	p := profiles(t)[0]
	p.Title = `A & "B" <c>`
	d := xml.NewDecoder(strings.NewReader(string(DialogueOf(nil, p).SVG())))
	texts := ""
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if text, ok := token.(xml.CharData); ok {
			texts += string(text)
		}
	}
	if !strings.Contains(texts, `Dialogue of the panel A & "B" <c> 1.0`) {
		t.Error("the title does not come through")
	}
}
