package keypad

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// Situation is where somebody was in a sheet when the panel showed something else than the card says.
type Situation struct {
	At   At
	Card Card // the card that does not fit
}

// Kinds of cards.
const (
	AtZone  = "zone"  // keys a zone
	AtCheck = "check" // reads it back
	AtLeave = "leave" // ends programming
)

// At names a card of a sheet.
type At struct {
	Kind string      `json:"kind"` // AtZone, AtCheck, AtLeave
	Zone site.ZoneID `json:"zone,omitempty"`
	Card int         `json:"card"` // from 1
}

// PanelPlace is where a panel can be.
type PanelPlace struct {
	Node  string `json:"node"`  // of the dialogue; "" when programming has ended
	Shows string `json:"shows"` // what stands there, in a menu with the item in sight
}

// Rescue leads a panel back to a card of the sheet. It never keeps: whatever was begun is thrown away, and the zone in the
// panel stays as it was stored last.
type Rescue struct {
	Shows  []string     `json:"shows"`           // what this panel can show, to choose from
	Places []PanelPlace `json:"places"`          // where it can be by what is shown; none: nothing here shows that
	Say    string       `json:"say"`             // what that means and what comes next
	Cards  []Card       `json:"cards,omitempty"` // lead to where a zone is begun
	Ask    bool         `json:"ask,omitempty"`   // after the cards (or at once) it has to be said again what is shown
	Next   *At          `json:"next,omitempty"`  // the card to go on with after Cards; nil with Ask, and when all is done
}

// Lost finds from what a panel shows where it can be, and leads back without keeping anything. shown is what the person
// reads off the display, in any case of letters: the prompt, the item in sight, a notice, or several of them with "/"
// between; "" asks for the list of what can be shown.
//
// Where several places show the same, one of which is the start (there the back key would end programming), it presses only
// keys that keep nothing and end nothing in any of them, until the places can be told apart.
func Lost(l *words.Language, p *panel.Profile, at Situation, shown string) Rescue {
	f := finder{l: l, p: p}
	out := Rescue{Shows: f.everything(), Places: []PanelPlace{}}
	first := &At{at.At.Kind, at.At.Zone, 1}
	f.zone = at.At.Zone
	spots := f.find(shown)
	for _, s := range spots {
		out.Places = append(out.Places, f.place(s))
	}
	switch {
	case strings.TrimSpace(shown) == "":
		out.Ask, out.Say = true, l.Say("Say what the panel shows now.")
		return out
	case plainText(shown) == plainText(p.Dialogue.Refuses):
		out.Ask, out.Say = true, l.Say("The panel has forgotten the answer. Whether it still asks the same has to be seen: say the prompt too, with / between.")
		return out
	case f.refused(shown, at.Card):
		here := at.At
		out.Next, out.Say = &here, l.Say("The panel did not take the answer and has forgotten it. Nothing else was changed: key this answer again.")
		return out
	case len(spots) == 0:
		out.Ask, out.Say = true, l.Say("This panel shows nothing like that. Read its display again, without what was typed.")
		return out
	case len(spots) == 1 && spots[0].node == "":
		out.Say = l.Say("Programming has ended; what was not kept is gone. Begin programming again as the panel's instructions say.")
		if out.Next = first; at.At.Kind == AtLeave {
			out.Next, out.Say = nil, l.Say("Programming has ended. Nothing is left to do here.")
		}
		return out
	}
	out.Next, out.Say = first, l.Say("No zone is in hand here. Begin with the first card; what was kept stays.")
	if f.atStart(spots) == len(spots) {
		if p.Dialogue.Nodes[p.Dialogue.Start].Opens {
			out.Say += " " + l.Say("If digits stand there already, leave programming and enter it again: keys pressed now would come behind them.")
		}
		return out
	}
	if f.atStart(spots) > 0 { // the back key would end programming in one of them
		keys := f.apart(spots)
		if keys == nil {
			out.Next, out.Ask, out.Say = nil, true, l.Say("Several places of this panel show the same. Press nothing yet: say everything that stands on the display, with / between.")
			return out
		}
		out.Next, out.Ask, out.Say = nil, true, l.Say("Several places of this panel show the same. These keys do no harm in any of them; then say what is shown.")
		out.Cards = numbered(l, []Card{{Zone: at.At.Zone, Shows: f.place(spots[0]).Shows, Press: keys, keys: keys, Why: l.Say("Keeps nothing and ends nothing, wherever the panel is.")}})
		return out
	}
	out.Say = l.Say("Let go of the zone in hand without keeping it, then begin it again. The panel holds it as it was kept last.")
	if out.Cards = f.out(spots); out.Cards == nil {
		out.Next, out.Ask, out.Say = nil, true, l.Say("From here the keys lead nowhere that is sure. Leave programming as the panel's instructions say, and keep nothing.")
	}
	return out
}

// spot is a node, and in a menu the item in sight. "" is the panel after programming.
type spot struct {
	node string
	item int
}

// finder looks for places in a dialogue.
type finder struct {
	l    *words.Language
	p    *panel.Profile
	zone site.ZoneID
}

func (f finder) node(s spot) panel.Node { return f.p.Dialogue.Nodes[s.node] }

func (f finder) place(s spot) PanelPlace {
	if s.node == "" {
		return PanelPlace{Shows: f.p.Dialogue.Left}
	}
	n := f.node(s)
	if len(n.Items) > 0 {
		return PanelPlace{s.node, n.Shows + " / " + n.Items[s.item].Shows}
	}
	return PanelPlace{s.node, n.Shows}
}

// spots are all places, in the order of their names.
func (f finder) spots() []spot {
	out := []spot{{}}
	for _, id := range slices.Sorted(maps.Keys(f.p.Dialogue.Nodes)) {
		for i := range max(1, len(f.p.Dialogue.Nodes[id].Items)) {
			out = append(out, spot{id, i})
		}
	}
	return out
}

// everything lists what the panel can show, each text once: prompts, and in menus with each item in sight.
func (f finder) everything() []string {
	d := f.p.Dialogue
	out := []string{d.Refuses, d.Dropped}
	for _, s := range f.spots() {
		out = append(out, f.place(s).Shows)
	}
	for _, n := range d.Nodes {
		for _, c := range n.Choices {
			out = append(out, c.Says)
		}
		for _, k := range n.Picks() {
			if k.Does != panel.DeedSum { // that one goes on with a number
				out = append(out, k.Says)
			}
		}
	}
	slices.Sort(out)
	return slices.DeleteFunc(slices.Compact(out), func(shows string) bool { return shows == "" })
}

func plainText(s string) string { return strings.ToUpper(strings.Join(strings.Fields(s), " ")) }

func partsOf(shown string) []string {
	var out []string
	for _, part := range strings.Split(shown, "/") {
		if part = plainText(part); part != "" {
			out = append(out, part)
		}
	}
	return out
}

// find returns the places at which everything that is shown can stand.
func (f finder) find(shown string) []spot {
	said := partsOf(shown)
	if len(said) == 0 {
		return nil
	}
	var out []spot
	for _, s := range f.spots() {
		if !slices.ContainsFunc(said, func(part string) bool { return !f.canStand(s, part) }) {
			out = append(out, s)
		}
	}
	return out
}

// canStand reports whether a text can stand on the display at a place: its prompt, its item, or a notice on arriving there.
func (f finder) canStand(s spot, text string) bool {
	d := f.p.Dialogue
	if s.node == "" {
		return text == plainText(d.Left)
	}
	n := f.node(s)
	if text == plainText(n.Shows) || s.node == d.Start && text == plainText(d.Dropped) {
		return true
	}
	if len(n.Items) > 0 {
		item := plainText(n.Items[s.item].Shows)
		if text == item || d.Marks != "" && text == plainText(d.Marks+" "+item) {
			return true
		}
	} else if len(n.Keys) == 0 && text == plainText(d.Refuses) {
		return true
	}
	if s.item > 0 {
		return false // a menu that is arrived at begins at its first item
	}
	for _, from := range d.Nodes {
		for _, k := range from.Picks() {
			says := plainText(k.Says)
			if k.Go == s.node && says != "" && (text == says || k.Does == panel.DeedSum && strings.HasPrefix(text, says+" ")) {
				return true
			}
		}
		for _, c := range from.Choices {
			if c.Next == s.node && c.Says != "" && text == plainText(c.Says) {
				return true
			}
		}
	}
	return false
}

// refused reports whether the panel is still at the card and has just not taken an answer.
func (f finder) refused(shown string, c Card) bool {
	said := partsOf(shown)
	other := slices.ContainsFunc(said, func(part string) bool {
		return part != plainText(f.p.Dialogue.Refuses) && part != plainText(c.Shows)
	})
	return !other && slices.Contains(said, plainText(f.p.Dialogue.Refuses))
}

func (f finder) atStart(spots []spot) int {
	n := 0
	for _, s := range spots {
		if s.node == f.p.Dialogue.Start {
			n++
		}
	}
	return n
}

// out are the cards that lead from any of these places to the start without keeping; nil when no keys are known to. What is
// typed there and not yet taken can not be known, so the answer that drops the zone comes last.
func (f finder) out(spots []spot) []Card {
	p, start := f.p, f.p.Dialogue.Nodes[f.p.Dialogue.Start]
	if f.backLeads(spots) {
		back := []string{p.Keypad.Back}
		return numbered(f.l, []Card{{Zone: f.zone, Shows: f.place(spots[0]).Shows, Press: back, keys: back, Then: start.Shows, Until: true, Why: f.l.Say("Press it and look, again and again, until %s stands there. One press more would end programming.", start.Shows)}})
	}
	if t := p.Timing.IdleDrop; !t.IsZero() && !slices.ContainsFunc(spots, func(s spot) bool { return !f.inHand(s.node) }) {
		return numbered(f.l, []Card{{Zone: f.zone, Shows: f.place(spots[0]).Shows, Press: []string{}, Then: Display{Notice: p.Dialogue.Dropped, Prompt: start.Shows}.String(), Why: f.l.Say("Press nothing for %s: the panel drops the zone unsaved.", t)}})
	}
	if n := f.node(spots[0]); len(spots) == 1 && dropAnswer(n) != "" {
		k := keyer{lang: f.l, p: p, zone: f.zone}
		answer := dropAnswer(n)
		c := Card{Zone: f.zone, Shows: n.Shows, Answer: answer, Then: k.afterwards(n, answer), Why: f.l.Say("Throws away what was begun; what is stored stays."), Caution: f.l.Say("Only when nothing is typed here yet: behind another answer it could keep the zone.")}
		c.keys, c.Press = k.press(n, answer)
		if leadsToStart(p, n, answer) {
			return numbered(f.l, []Card{c})
		}
	}
	return nil
}

func leadsToStart(p *panel.Profile, n panel.Node, answer string) bool {
	return slices.ContainsFunc(n.Choices, func(c panel.Choice) bool { return c.Answer == answer && c.Next == p.Dialogue.Start })
}

// backLeads reports whether the back key, pressed again and again, comes to the start from each of these places, and the
// start's prompt stands nowhere on the way, so that one can see when to stop.
func (f finder) backLeads(spots []spot) bool {
	d := f.p.Dialogue
	bare := f.bare()
	seen := map[string]int{} // 1 on the way, 2 done
	var visit func(id string) bool
	visit = func(id string) bool {
		n := d.Nodes[id]
		switch {
		case id == d.Start:
			return true
		case seen[id] == 2:
			return true
		case seen[id] == 1 || plainText(n.Shows) == plainText(d.Nodes[d.Start].Shows) || n.Back == panel.BackLeave:
			return false
		case n.Back == "" || n.Back == panel.BackUp:
			if bare[id] {
				return false // nothing was answered before: the key stays here
			}
			// Each press takes back one answer, so it comes to an end; where is known only by the way that led here.
			seen[id] = 2
			for _, before := range f.before(id) {
				if !visit(before) {
					return false
				}
			}
			return true
		}
		seen[id] = 1
		good := visit(n.Back)
		seen[id] = 2
		return good
	}
	return !slices.ContainsFunc(spots, func(s spot) bool { return s.node == "" || !visit(s.node) })
}

// before are the questions and confirmations from which a node can be reached.
func (f finder) before(id string) []string {
	reaches := map[string]bool{id: true}
	for grown := true; grown; {
		grown = false
		for from := range f.p.Dialogue.Nodes {
			if !reaches[from] && slices.ContainsFunc(f.after(from), func(to string) bool { return reaches[to] }) {
				reaches[from], grown = true, true
			}
		}
	}
	var out []string
	for _, from := range slices.Sorted(maps.Keys(reaches)) {
		if len(f.p.Dialogue.Nodes[from].Picks()) == 0 && from != id {
			out = append(out, from)
		}
	}
	return out
}

// after are the nodes to which keys other than back lead.
func (f finder) after(id string) []string {
	n := f.p.Dialogue.Nodes[id]
	var out []string
	for _, k := range n.Picks() {
		out = append(out, k.Go)
	}
	for _, c := range n.Choices {
		out = append(out, c.Next)
	}
	for _, w := range n.Next {
		out = append(out, w.Go)
	}
	if n.Listen != nil {
		out = append(out, n.Listen.Heard)
	}
	return out
}

// bare are the places that can be reached without having answered anything.
func (f finder) bare() map[string]bool {
	out := map[string]bool{}
	var visit func(id string)
	visit = func(id string) {
		if out[id] {
			return
		}
		out[id] = true
		n := f.p.Dialogue.Nodes[id]
		for _, k := range n.Picks() {
			visit(k.Go)
		}
		if d := f.p.Dialogue.Nodes; d[n.Back].Shows != "" {
			visit(n.Back)
		}
	}
	visit(f.p.Dialogue.Start)
	return out
}

// inHand reports whether a zone is surely in hand at a node: it can not be reached without one.
func (f finder) inHand(id string) bool {
	seen := map[string]bool{}
	var visit func(at string)
	visit = func(at string) {
		if seen[at] {
			return
		}
		seen[at] = true
		if f.p.Dialogue.Nodes[at].Opens {
			return
		}
		for _, to := range f.after(at) {
			visit(to)
		}
	}
	visit(f.p.Dialogue.Start)
	return !seen[id]
}

// apart finds the shortest keys that keep nothing and end nothing wherever the panel is, and after which it is surely at
// the start or surely not. nil when there are none of at most longestApart keys.
func (f finder) apart(spots []spot) []string {
	type way struct {
		spots []spot
		keys  []string
	}
	seen := map[string]bool{}
	for queue := []way{{spots, nil}}; len(queue) > 0; queue = queue[1:] {
		at := queue[0]
		if n := f.atStart(at.spots); n == 0 || n == len(at.spots) {
			return at.keys
		}
		if id := fmt.Sprint(at.spots); seen[id] || len(at.keys) == longestApart {
			continue
		} else {
			seen[id] = true
		}
		for _, key := range f.p.Keypad.Keys {
			if next, harmless := f.press(at.spots, key); harmless {
				queue = append(queue, way{next, append(slices.Clone(at.keys), key)})
			}
		}
	}
	return nil
}

const longestApart = 24

// press says where a key can lead from any of these places. harmless is false when it could keep something or end
// programming, or when it is not known what it does.
func (f finder) press(spots []spot, key string) (next []spot, harmless bool) {
	add := func(s spot) {
		if !slices.Contains(next, s) {
			next = append(next, s)
		}
	}
	k := f.p.Keypad
	for _, s := range spots {
		n := f.node(s)
		switch {
		case s.node == "" || key == k.Back: // it could end programming, and where it leads up to depends on the way here
			return nil, false
		case len(n.Items) > 0 && key == k.Up:
			add(spot{s.node, max(s.item-1, 0)})
		case len(n.Items) > 0 && key == k.Down:
			add(spot{s.node, min(s.item+1, len(n.Items)-1)})
		case len(n.Items) > 0 && key == k.Accept:
			if n.Items[s.item].Does == panel.DeedKeep {
				return nil, false
			}
			add(spot{n.Items[s.item].Go, 0})
		case len(n.Items) > 0:
			add(s)
		case len(n.Keys) > 0:
			i := slices.IndexFunc(n.Keys, func(p panel.Pick) bool { return p.Key == key })
			switch {
			case i < 0:
				add(s)
			case n.Keys[i].Does == panel.DeedKeep:
				return nil, false
			default:
				add(spot{n.Keys[i].Go, 0})
			}
		default: // what is typed or stored at a question is not known
			return nil, false
		}
	}
	sorts.By(next, func(a, b spot) int { return strings.Compare(a.node, b.node)*1000 + a.item - b.item })
	return next, true
}
