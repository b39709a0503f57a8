package keypad

import (
	"maps"
	"slices"
	"testing"

	"proofbell/internal/keypad/keypadtest"
	"proofbell/panel"
)

// From every place of every panel, and from every card of a zone and the last card of every other: what is shown is enough to
// come back to the card, and nothing is kept on the way.
func TestLostEverywhere(t *testing.T) {
	for _, p := range []*panel.Profile{profile(t, "ladder"), profile(t, "pigeonhole"), profile(t, "branch"), wicket(t)} {
		t.Run(p.Name, func(t *testing.T) { lostEverywhere(t, p) })
	}
}

// In a panel whose keypad can not tell the start from another place by its prompt, keys that do no harm in either come first.
func TestLostWhereTwoPlacesShowTheSame(t *testing.T) {
	p := profile(t, "branch")
	n := p.Dialogue.Nodes["room"]
	n.Shows = "HOUSE BOOK" // as the start
	nodes := maps.Clone(p.Dialogue.Nodes)
	nodes["room"] = n
	twin := *p
	twin.Dialogue.Nodes = nodes
	r := Lost(nil, &twin, Situation{At{AtZone, "09", 1}, Card{}}, "house book")
	if !r.Ask || r.Next != nil || len(r.Cards) != 1 || slices.Contains(r.Cards[0].Keys(), "OUT") {
		t.Fatalf("%+v", r)
	}
	// From every item of the menu, and from the start: nothing is kept, programming goes on, and the places show different things.
	after := map[bool]map[string]bool{true: {}, false: {}}
	for _, astray := range wander(&twin, nil) {
		sim := NewSimulator(&twin, nil)
		play(sim, astray)
		if sim.Ended() || sim.Display().Prompt != "HOUSE BOOK" {
			continue
		}
		start := sim.Node() == twin.Dialogue.Start
		play(sim, r.Cards[0].Keys())
		if sim.Ended() || len(sim.Table()) > 0 {
			t.Fatalf("after %v the keys %v keep or end something", astray, r.Cards[0].Keys())
		}
		after[start][sim.Display().Prompt] = true
	}
	for prompt := range after[true] {
		if after[false][prompt] || len(after[false]) == 0 {
			t.Errorf("%s stands at the start and elsewhere", prompt)
		}
	}
}

// A refusal alone does not tell at which question: only with the prompt of the card is the answer keyed again.
func TestRefusalNeedsItsPrompt(t *testing.T) {
	p := ladder(t)
	cards := Compile(zone09(), p, nil, Options{}).Zones[0].Cards
	at := Situation{At{AtZone, "09", 4}, cards[3]}
	if r := Lost(nil, p, at, "not taken"); !r.Ask || r.Next != nil || len(r.Cards) > 0 {
		t.Errorf("alone: %+v", r)
	}
	if r := Lost(nil, p, at, "NOT TAKEN / "+cards[3].Shows); r.Ask || r.Next == nil || r.Next.Card != 4 {
		t.Errorf("with its prompt: %+v", r)
	}
	if r := Lost(nil, p, at, "NOT TAKEN / "+cards[4].Shows); r.Next == nil || r.Next.Card != 1 {
		t.Errorf("with another prompt: %+v", r)
	}
}

func lostEverywhere(t *testing.T, p *panel.Profile) {
	s := keypadtest.Site(3, p)
	holds, _ := Wanted(s, p)
	sheet := Compile(s, p, nil, Options{ReadBack: true})
	if p.Name == "wicket" { // its toggles can not be keyed blindly
		found := ZoneTable{}
		for id := range holds {
			found[id] = Slots{}
		}
		holds, sheet = ZoneTable{}, Compile(s, p, found, Options{})
	}
	zone := sheet.Zones[slices.IndexFunc(sheet.Zones, func(z ZoneCards) bool { return len(z.Cards) > 0 })]
	places, turns := 0, 0
	for _, astray := range wander(p, holds) {
		places++
		for _, z := range sheet.Zones {
			if n := len(z.Cards); n > 0 {
				sim := NewSimulator(p, holds)
				play(sim, astray)
				back(t, sim, Situation{At{AtZone, z.Zone, n}, z.Cards[n-1]}, z.Cards, holds, &turns)
			}
		}
		for _, at := range []struct {
			kind  string
			cards []Card
		}{{AtZone, zone.Cards}, {AtCheck, zone.Check}} {
			for n := range at.cards {
				sim := NewSimulator(p, holds)
				play(sim, astray)
				back(t, sim, Situation{At{at.kind, zone.Zone, n + 1}, at.cards[n]}, at.cards, holds, &turns)
			}
		}
	}
	t.Logf("%d places, %d cards each, %d questions what is shown", places, len(zone.Cards)+len(zone.Check), turns)
	if places < len(p.Dialogue.Nodes) {
		t.Errorf("%d places of %d nodes", places, len(p.Dialogue.Nodes))
	}
}

// back follows rescues and then the cards up to the one that did not fit. The person reads one line of the display only.
func back(t *testing.T, sim *Simulator, at Situation, cards []Card, held ZoneTable, turns *int) {
	t.Helper()
	from := sim.Node()
	for range 5 {
		*turns++
		r := Lost(nil, sim.p, at, sim.Display().Prompt)
		if len(r.Places) == 0 {
			t.Fatalf("%s: nothing shows %q", from, sim.Display().Prompt)
		}
		if sim.Ended() {
			if r.Next == nil || len(r.Cards) > 0 {
				t.Fatalf("after programming: %+v", r)
			}
			sim = NewSimulator(sim.p, sim.Table())
		}
		for _, c := range r.Cards {
			follow(t, sim, c)
		}
		if !sim.Table().Equal(held) || sim.Ended() {
			t.Fatalf("%s: the rescue changed the panel or ended programming", from)
		}
		if r.Ask {
			continue
		}
		if r.Next == nil {
			t.Fatalf("%s: no card to go on with: %+v", from, r)
		}
		for _, c := range cards[r.Next.Card-1 : at.At.Card-1] {
			follow(t, sim, c)
		}
		if d := sim.Display(); d.Prompt != at.Card.Shows {
			t.Fatalf("%s: after the rescue the panel shows %q, the card %q", from, d.Prompt, at.Card.Shows)
		}
		return
	}
	t.Fatalf("%s: not found", from)
}

// follow presses the keys of a card.
func follow(t *testing.T, sim *Simulator, c Card) {
	t.Helper()
	if len(c.Keys()) == 0 {
		sim.Advance(sim.p.Timing.IdleDrop.SI())
	}
	for range 40 {
		if c.Until && sim.Display().Prompt == c.Then {
			return
		}
		for _, k := range c.Keys() {
			if _, err := sim.Press(k); err != nil {
				t.Fatal(err)
			}
		}
		if !c.Until {
			return
		}
	}
	t.Fatalf("%s never came", c.Then)
}

// tripped among keys is a device that the panel hears.
const tripped = "TRIPPED"

func play(sim *Simulator, keys []string) {
	for _, k := range keys {
		if k == tripped {
			sim.Hear("BR001013")
		} else {
			sim.Press(k)
		}
	}
}

// wander finds keys to every place of the panel, each item of a menu apart, and into the middle of an answer, by trying keys and answers breadth first.
func wander(p *panel.Profile, held ZoneTable) [][]string {
	answers := [][]string{}
	for _, k := range p.Keypad.Keys {
		answers = append(answers, []string{k})
	}
	for _, text := range []string{"09", "A", "1", "0500", "S", "U", "2", "111", "N", "Y", "R", "W", "BR001013"} {
		if keys, err := p.Keypad.Spell(text); err == nil {
			answers = append(answers, append(keys, p.Keypad.Accept))
		}
	}
	var out [][]string
	seen := map[string]bool{}
	for queue := [][]string{nil}; len(queue) > 0; queue = queue[1:] {
		at := queue[0]
		sim := NewSimulator(p, held)
		play(sim, at)
		d := sim.Display()
		id := sim.Node() + "/" + d.Prompt
		if len(sim.at().Items) > 0 {
			id += "/" + d.Entered
		}
		if seen[id] || !sim.Table().Equal(held) {
			continue
		}
		seen[id] = true
		out = append(out, at)
		if sim.Ended() {
			continue
		}
		for _, begun := range halfTyped(sim.at()) {
			if keys, err := p.Keypad.Spell(begun); err == nil {
				out = append(out, append(slices.Clone(at), keys...))
			}
		}
		if sim.at().Listen != nil {
			queue = append(queue, append(slices.Clone(at), tripped))
		}
		for _, a := range answers {
			queue = append(queue, append(slices.Clone(at), a...))
		}
	}
	return out
}

// halfTyped are answers that can stand at a question or a confirmation before they are taken. Digits of another zone number
// are left out: there the rescue says to leave programming.
func halfTyped(n panel.Node) (out []string) {
	if n.Auto || n.Opens || len(n.Picks()) > 0 || n.Form == panel.FormToggle {
		return nil
	}
	for _, c := range n.Choices {
		out = append(out, c.Answer)
	}
	return append(out, "1")
}
