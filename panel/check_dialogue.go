package panel

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"proofbell/internal/words"
	"proofbell/site"
)

func nodePath(id string) string { return "dialogue.nodes." + id }

// nodes checks every node by itself: its shape, its answers, and that what it names is there.
func (c *checker) nodes() {
	d := c.p.Dialogue
	if len(d.Nodes) == 0 || len(d.Nodes) > maxNodes {
		c.fault("dialogue.nodes", words.Later("%d nodes: want 1 to %d", len(d.Nodes), maxNodes))
		return
	}
	if n, ok := d.Nodes[d.Start]; !ok {
		c.fault("dialogue.start", words.Later("start %q is not a node", d.Start))
	} else if !n.Opens && len(n.Picks()) == 0 {
		c.fault("dialogue.start", words.Later("start %q does not choose a zone; programming has to begin with the node that opens one, or with keys that lead to it", d.Start))
	}
	if d.Refuses == "" {
		c.fault("dialogue.refuses", words.Later("refuses is missing; say what the display shows for an answer it does not take"))
	}
	if d.Left == "" {
		c.fault("dialogue.left", words.Later("left is missing; say what the display shows when programming has ended"))
	}
	if d.Dropped == "" {
		c.fault("dialogue.dropped", words.Later("dropped is missing; say what the display shows after the idle time"))
	}
	if d.Recall && d.Edits {
		c.fault("dialogue.recall", words.Later("recall and edits: answers of a stored zone are either taken again or changed one by one; leave one of them out"))
	}
	if d.Marks != "" && !d.Edits {
		c.fault("dialogue.marks", words.Later("marks stand in front of what an opened zone holds; that needs edits: true"))
	}
	for _, id := range slices.Sorted(maps.Keys(d.Nodes)) {
		c.node(id, d.Nodes[id])
	}
	c.settable()
	c.unopened(d.Start, map[string]bool{})
}

// unopened checks that before a zone is open nothing is told and nothing is kept.
func (c *checker) unopened(id string, seen map[string]bool) {
	n, ok := c.p.Dialogue.Nodes[id]
	if !ok || n.Opens || seen[id] {
		return
	}
	seen[id] = true
	if len(n.Picks()) == 0 {
		c.fault(nodePath(id), words.Later("node %s is reached before a zone is open, so its answer would belong to no zone; lead the way through the node that opens one", id))
		return
	}
	for _, k := range n.Picks() {
		if k.Does == DeedKeep || len(k.Sets) > 0 {
			c.fault(nodePath(id), words.Later("node %s: no zone is in hand here that could be told anything", id))
			return
		}
		if k.Does != DeedDrop {
			c.unopened(k.Go, seen)
		}
	}
}

// settable checks that a field that menus alone set can be given every answer the panel has for it.
func (c *checker) settable() {
	sets := map[Field][]string{}
	for _, id := range slices.Sorted(maps.Keys(c.p.Dialogue.Nodes)) {
		for i, k := range c.p.Dialogue.Nodes[id].Items {
			for f, a := range k.Sets {
				sets[f] = append(sets[f], a)
				if !slices.Contains(c.answersOf(f), a) {
					c.fault(fmt.Sprintf("%s.items[%d].sets.%s", nodePath(id), i, f), words.Later("%q is not an answer of %s", a, f))
				}
			}
		}
	}
	for _, f := range fields {
		if sets[f] == nil || c.p.asks(f) {
			continue
		}
		for _, a := range c.answersOf(f) {
			if !slices.Contains(sets[f], a) {
				c.fault("dialogue.nodes", words.Later("no item of a menu sets %s to %s; add one", f, a))
			}
		}
	}
}

func (c *checker) node(id string, n Node) {
	at, d := nodePath(id), c.p.Dialogue
	target := func(at, go_ string) {
		if _, ok := d.Nodes[go_]; !ok {
			c.fault(at, words.Later("%q is not a node", go_))
		}
	}
	if n.Shows == "" {
		c.fault(at, words.Later("node %s shows nothing; say what the display says", id))
	}
	if n.Back != "" && n.Back != BackUp && n.Back != BackLeave {
		target(at+".back", n.Back)
	}
	if n.Opens != (n.Field == FieldZone) {
		c.fault(at+".opens", words.Later("node %s: exactly the node that asks for the zone opens one", id))
	}
	if len(n.Picks()) > 0 {
		c.picks(at, id, n, target)
		return
	}
	if n.Field == "" {
		c.confirmation(at, id, n, target)
		return
	}
	if len(n.Choices) > 0 {
		c.fault(at+".choices", words.Later("node %s has a field and choices; a confirmation has no field", id))
	}
	if !slices.Contains(fields, n.Field) {
		c.fault(at+".field", words.Later("%q is not a field of a zone", n.Field))
		return
	}
	if slices.Contains(c.p.Lacks, n.Field) {
		c.fault(at+".field", words.Later("node %s asks for %s, which the profile says the panel lacks", id, n.Field))
	}
	c.form(at, id, n)
	if n.Listen != nil {
		if n.Field != FieldIdentity {
			c.fault(at+".listen", words.Later("only an identity can be listened for"))
		}
		if n.Listen.For.SI() <= 0 {
			c.fault(at+".listen.for", words.Later("listening needs a time above zero"))
		}
		target(at+".listen.heard", n.Listen.Heard)
	}
	for i, w := range n.Next {
		at := fmt.Sprintf("%s.next[%d]", at, i)
		target(at+".go", w.Go)
		if len(w.When) == 0 && i < len(n.Next)-1 {
			c.fault(at, words.Later("a way without a condition hides the ways behind it; put it last"))
		}
		for _, f := range slices.Sorted(maps.Keys(w.When)) {
			if len(w.When[f]) > maxKinds {
				c.fault(at+".when."+string(f), words.Later("%d answers in one condition: want at most %d", len(w.When[f]), maxKinds))
				continue
			}
			for _, a := range w.When[f] {
				if !slices.Contains(c.answersOf(f), a) {
					c.fault(at+".when."+string(f), words.Later("%s is never answered with %q", f, a))
				}
			}
		}
	}
	if len(n.Next) > maxWays {
		c.fault(at+".next", words.Later("node %s has %d ways: want at most %d", id, len(n.Next), maxWays))
	}
	if len(n.Next) == 0 || len(n.Next[len(n.Next)-1].When) > 0 {
		c.fault(at+".next", words.Later("node %s is a dead end for some answers; give it a last way without a condition", id))
	}
}

// picks checks a node at which keys act at once, or a menu.
func (c *checker) picks(at, id string, n Node, target func(at, go_ string)) {
	if n.Field != "" || len(n.Choices) > 0 || len(n.Next) > 0 || n.Listen != nil || n.Auto || len(n.Items) > 0 && len(n.Keys) > 0 {
		c.fault(at, words.Later("node %s has keys that act at once or items; it asks nothing, so its ways belong to them", id))
	}
	if len(n.Picks()) > maxWays {
		c.fault(at, words.Later("node %s has %d keys or items: want at most %d", id, len(n.Picks()), maxWays))
	}
	if k := c.p.Keypad; len(n.Items) > 0 && (!slices.Contains(k.Keys, k.Up) || !slices.Contains(k.Keys, k.Down) || k.Up == k.Down) {
		c.fault("keypad", words.Later("node %s is a menu; name the keys up and down", id))
	}
	seen := map[string]bool{}
	for i, k := range n.Picks() {
		name, what := k.Key, "keys"
		if len(n.Items) > 0 {
			name, what = k.Shows, "items"
		}
		at := fmt.Sprintf("%s.%s[%d]", at, what, i)
		switch {
		case what == "items" && (k.Shows == "" || k.Key != ""):
			c.fault(at, words.Later("an item of a menu shows something and has no key of its own"))
		case what == "keys" && (k.Shows != "" || len(k.Sets) > 0):
			c.fault(at, words.Later("a key that acts at once shows and sets nothing"))
		case what == "keys" && !slices.Contains(c.p.Keypad.Keys, k.Key):
			c.fault(at+".key", words.Later("the keypad has no key %q", k.Key))
		case k.Key != "" && (k.Key == c.p.Keypad.Accept || k.Key == c.p.Keypad.Back):
			c.fault(at+".key", words.Later("key %s has a meaning of its own everywhere; use another", k.Key))
		case seen[name]:
			c.fault(at, words.Later("node %s has %s twice; it would be ambiguous", id, name))
		}
		seen[name] = true
		target(at+".go", k.Go)
		switch k.Does {
		case "", DeedSum:
		case DeedKeep, DeedDrop:
			if k.Go != c.p.Dialogue.Start {
				c.fault(at+".go", words.Later("after %s the zone is no longer in hand; go on at %q", k.Does, c.p.Dialogue.Start))
			}
		default:
			c.fault(at+".does", words.Later("%q: want keep, drop, sum or nothing", k.Does))
		}
	}
}

func (c *checker) confirmation(at, id string, n Node, target func(at, go_ string)) {
	if len(n.Choices) > maxWays {
		c.fault(at, words.Later("node %s has %d answers: want at most %d", id, len(n.Choices), maxWays))
	}
	if len(n.Choices) == 0 {
		c.fault(at, words.Later("node %s is a dead end: it has neither a field nor choices", id))
	}
	if len(n.Next) > 0 || n.Listen != nil || n.Form != "" {
		c.fault(at, words.Later("node %s is a confirmation; its ways belong to its choices", id))
	}
	seen := map[string]bool{}
	for i, ch := range n.Choices {
		at := fmt.Sprintf("%s.choices[%d]", at, i)
		if seen[ch.Answer] {
			c.fault(at+".answer", words.Later("node %s has the answer %q twice; it would be ambiguous", id, ch.Answer))
		}
		seen[ch.Answer] = true
		target(at+".next", ch.Next)
		switch ch.Does {
		case "", DeedTake:
		case DeedKeep, DeedDrop:
			if ch.Next != c.p.Dialogue.Start {
				c.fault(at+".next", words.Later("after %s the zone is no longer in hand; go on at %q", ch.Does, c.p.Dialogue.Start))
			}
		default:
			c.fault(at+".does", words.Later("%q: want keep, drop, take or nothing", ch.Does))
		}
	}
	c.typed(at, id, n)
	if n.Auto {
		c.auto(at, id, n)
	}
}

// form checks that the answers of a node can be typed and that its width holds them.
func (c *checker) form(at, id string, n Node) {
	if n.Width < 0 || n.Width > maxWidth {
		c.fault(at+".width", words.Later("width %d: want 1 to %d", n.Width, maxWidth))
		return
	}
	switch n.Form {
	case FormNumber:
		switch n.Field {
		case FieldZone:
			if n.Width > zoneDigits {
				c.fault(at+".width", words.Later("width %d: a zone number has at most %d digits", n.Width, zoneDigits))
			} else if need := len(fmt.Sprint(c.p.Zones.Last)); n.Width < need {
				c.fault(at+".width", words.Later("width %d does not hold zone %d; make it %d", n.Width, c.p.Zones.Last, need))
			}
		case FieldCode:
			if n.Width != 3 {
				c.fault(at+".width", words.Later("width %d does not fit a station code; make it 3 (DC-05 event codes)", n.Width))
			}
		case FieldIdentityHead, FieldIdentityTail:
			if len(c.p.Identity.Numbers) < len(c.p.Identity.Families) || len(c.p.Identity.Families) == 0 {
				c.fault("identity.numbers", words.Later("identities are keyed in digits; give every family its number"))
			} else if head, tail, _ := c.p.Identity.InDigits(c.p.Identity.Families[0] + strings.Repeat("0", c.p.Identity.Digits)); n.Width != len(head) || n.Width != len(tail) {
				c.fault(at+".width", words.Later("width %d does not fit half an identity of %d digits", n.Width, len(head)+len(tail)))
			}
		default:
			c.fault(at+".form", words.Later("%s is not a number; want form choice, words or identity", n.Field))
		}
	case FormChoice:
		if len(c.p.Takes(n)) == 0 {
			c.fault(at+".form", words.Later("node %s has nothing to choose from; list the answers of %s", id, n.Field))
		}
		c.typed(at, id, n)
	case FormWords, FormWord:
		if n.Form == FormWords && n.Field != FieldWords || n.Form == FormWord && !slices.Contains(parts[FieldWords], n.Field) {
			c.fault(at+".form", words.Later("form %s does not go with the field %s", n.Form, n.Field))
		}
		if len(n.End) != n.Width {
			c.fault(at+".end", words.Later("end %q does not have the width %d of a word", n.End, n.Width))
		}
		for _, w := range slices.Sorted(maps.Keys(c.p.Words)) {
			if len(c.p.Words[w]) != n.Width {
				c.fault(at+".width", words.Later("width %d does not fit word %s (%s)", n.Width, w, c.p.Words[w]))
			} else if c.p.Words[w] == n.End {
				c.fault(at+".end", words.Later("end %q is the word %s; it would be ambiguous", n.End, w))
			}
		}
	case FormIdentity:
		if n.Field != FieldIdentity {
			c.fault(at+".form", words.Later("form identity goes with the field identity"))
		}
		if len(c.p.Identity.Families) == 0 && c.p.Identity.Letters > 0 {
			c.fault("identity.families", words.Later("families is missing; list the letters that identities begin with"))
		}
		for _, f := range c.p.Identity.Families {
			if sign := c.p.Keypad.lacks(f); sign != "" {
				c.fault(at, words.Later("node %s: family %s can not be typed: no key gives %s", id, f, sign))
			}
		}
	case FormToggle:
		c.toggle(at, id, n)
	default:
		c.fault(at+".form", words.Later("form %q: want number, choice, words, word, identity or toggle", n.Form))
	}
	if n.Form != FormToggle && (n.Turns != "" || len(n.Order) > 0) {
		c.fault(at, words.Later("node %s: only a toggle has turns and order", id))
	}
	if n.Auto {
		c.auto(at, id, n)
	}
}

// toggle checks that turning reaches every answer.
func (c *checker) toggle(at, id string, n Node) {
	k := c.p.Keypad
	if !slices.Contains(k.Keys, n.Turns) || n.Turns == k.Accept || n.Turns == k.Back {
		c.fault(at+".turns", words.Later("node %s turns with %q; name a key that has no meaning of its own", id, n.Turns))
	}
	if all := slices.Sorted(slices.Values(n.Order)); len(all) == 0 || !slices.Equal(all, c.p.Takes(n)) {
		c.fault(at+".order", words.Later("node %s: order has to list every answer of %s once: %s", id, n.Field, strings.Join(c.p.Takes(n), ", ")))
	}
}

// auto checks that it is plain when an answer is complete.
func (c *checker) auto(at, id string, n Node) {
	switch {
	case n.Form == FormNumber, n.Form == FormWord, n.Form == FormWords:
		return
	case n.Form == FormChoice || n.Field == "":
		all := c.p.Takes(n)
		if !slices.ContainsFunc(all, func(a string) bool { return len(a) != len(all[0]) || !isNumber(a) }) {
			return
		}
		c.fault(at+".auto", words.Later("node %s takes an answer as soon as it is complete, so all its answers have to be digits and equally many", id))
	default:
		c.fault(at+".auto", words.Later("node %s: an answer of form %s is not complete by itself", id, n.Form))
	}
}

// typed checks that each answer of a choice or confirmation has keys, and that no key can mean two things while typing it.
func (c *checker) typed(at, id string, n Node) {
	letters := c.p.Letters(n)
	for _, a := range c.p.Takes(n) {
		if a == "" || len(a) > maxAnswer || !isAnswer(a) {
			c.fault(at, words.Later("node %s: answer %q: want capital letters, then digits, at most %d", id, a, maxAnswer))
			continue
		}
		if sign := c.p.Keypad.lacks(a); sign != "" {
			c.fault(at, words.Later("node %s: answer %s can not be typed: no key gives %s", id, a, sign))
		}
		// A digit on a place where other answers have a letter: its key would give the letter.
		for i := letterCount(a); i < min(len(a), letters); i++ {
			if c.p.Keypad.Letters[a[i:i+1]] != "" {
				c.fault(at, words.Later("node %s: key %c at place %d of answer %s also gives a letter of other answers; it would be ambiguous", id, a[i], i+1, a))
			}
		}
	}
}

// ways walks every way from opening a zone to keeping it. It returns the most prompts of a way, by the answer for the kind;
// anything stands for dialogues in which nothing depends on it.
func (c *checker) ways() map[string]int {
	d := c.p.Dialogue
	w := &walker{c: c, reached: map[string]bool{}, asked: map[Field]bool{}, gaps: map[string][]string{}, prompts: map[string]int{}, left: 20000}
	for _, n := range d.Nodes {
		for _, x := range n.Next {
			for f := range x.When {
				w.asked[f] = true
			}
		}
	}
	w.asked[FieldKind], w.asked[FieldLink] = true, true // what is required depends on them
	w.step(d.Start, map[Field]string{}, map[string]bool{})
	if w.left < 0 {
		c.fault("dialogue", words.Later("more than 20,000 ways through the dialogue; use fewer conditions"))
		return nil
	}
	w.report()
	for _, id := range slices.Sorted(maps.Keys(d.Nodes)) {
		if !w.reached[id] {
			c.fault(nodePath(id), words.Later("node %s can not be reached; lead a way to it or remove it", id))
		}
	}
	if !w.kept {
		c.fault("dialogue", words.Later("no way ends in keeping the zone; nothing could be programmed"))
	}
	if !w.dropped {
		c.fault("dialogue", words.Later("no way ends in dropping the zone; a mistake could not be taken back"))
	}
	return w.prompts
}

// anyKind stands for the kinds of a dialogue whose questions come in any order.
const anyKind = ""

// anything stands for the answer of a field on which nothing depends.
const anything = "*"

type walker struct {
	c             *checker
	reached       map[string]bool
	asked         map[Field]bool // fields whose answers decide something
	kept, dropped bool
	gaps          map[string][]string // node and missing fields -> kinds of zone
	prompts       map[string]int      // answer for the kind -> most prompts of a way to keeping
	left          int                 // steps still allowed
}

// step goes on at a node with the answers given so far; on holds the nodes of this way.
func (w *walker) step(id string, answered map[Field]string, on map[string]bool) {
	if w.left--; w.left < 0 {
		return
	}
	c, n := w.c, w.c.p.Dialogue.Nodes[id]
	if on[id] {
		c.fault(nodePath(id), words.Later("the dialogue comes round to node %s again without keeping or dropping the zone", id))
		return
	}
	w.reached[id] = true
	on = maps.Clone(on)
	on[id] = true
	if len(n.Picks()) > 0 {
		w.pick(id, n, answered, on)
		return
	}
	if n.Field == "" {
		w.confirm(id, n, answered, on)
		return
	}
	if _, twice := answered[n.Field]; twice {
		c.fault(nodePath(id), words.Later("%s is asked twice on one way; the second answer would replace the first unseen", n.Field))
		return
	}
	if n.Listen != nil {
		w.step(n.Listen.Heard, answered, on)
	}
	choices := []string{anything}
	if w.asked[n.Field] && n.chooses() {
		choices = c.answersOf(n.Field)
	}
	for _, a := range choices {
		now := maps.Clone(answered)
		now[n.Field] = a
		for _, x := range n.Next {
			for f := range x.When {
				if _, ok := now[f]; !ok {
					c.fault(nodePath(id)+".next", words.Later("node %s looks at %s before it is asked", id, f))
					return
				}
			}
		}
		w.step(n.After(now), now, on)
	}
}

// pick walks from a node at which keys act at once, or from a menu. With a zone in hand it is a hub: every key or item leads
// out to questions and back again, in any order, and what is kept can have been told all of them.
func (w *walker) pick(id string, n Node, answered map[Field]string, on map[string]bool) {
	d := w.c.p.Dialogue
	if id == d.Start {
		for _, k := range n.Picks() {
			if k.Does != "" || len(k.Sets) > 0 {
				w.c.fault(nodePath(id), words.Later("node %s: no zone is in hand here that could be told anything", id))
			} else {
				w.step(k.Go, answered, on)
			}
		}
		return
	}
	if !d.Edits {
		w.c.fault("dialogue.edits", words.Later("node %s takes answers in any order, so some may be missing when the zone is kept; that needs edits: true", id))
	}
	x := excursion{w: w, hub: id, answered: answered, told: maps.Clone(answered), here: map[string]bool{id: true}}
	for _, k := range n.Picks() {
		x.follow(id, k)
	}
	w.dropped = w.dropped || n.Back == d.Start
	for _, k := range n.Picks() {
		switch k.Does {
		case DeedKeep:
			w.kept = true
			w.complete(id, x.told)
			w.count(x.told, len(x.told))
		case DeedDrop:
			w.dropped = true
		}
	}
}

// excursion follows the keys and items of a hub until they are back, and notes what was told on the way.
type excursion struct {
	w              *walker
	hub            string
	answered, told map[Field]string
	here           map[string]bool
}

// follow takes one key or item.
func (x excursion) follow(from string, k Pick) {
	for f := range k.Sets {
		x.tell(from, f)
	}
	if k.Does == "" {
		x.visit(k.Go, len(k.Sets) > 0)
	}
}

func (x excursion) tell(id string, f Field) {
	if _, twice := x.answered[f]; twice {
		x.w.c.fault(nodePath(id), words.Later("%s is asked before node %s and again from it", f, x.hub))
	}
	x.told[f] = anything
}

// visit goes on at a node; forced tells that an answer led there, so that nobody can go round it.
func (x excursion) visit(id string, forced bool) {
	n := x.w.c.p.Dialogue.Nodes[id]
	if x.w.left--; x.w.left < 0 || x.here[id] && len(n.Picks()) > 0 {
		return // back at the hub or at a menu on the way, from which the back key leads up
	}
	if x.here[id] || n.Opens || id == x.w.c.p.Dialogue.Start || n.Field == "" && len(n.Picks()) == 0 {
		x.w.c.fault(nodePath(id), words.Later("node %s does not lead back to node %s through questions alone", id, x.hub))
		return
	}
	x.here[id], x.w.reached[id] = true, true
	if len(n.Picks()) > 0 {
		if !x.here[n.Back] || n.Back == id {
			x.w.c.fault(nodePath(id)+".back", words.Later("the back key of menu %s has to lead up to a menu before it", id))
		}
		for _, k := range n.Picks() {
			if k.Does == DeedKeep || k.Does == DeedDrop {
				x.w.c.fault(nodePath(id), words.Later("menu %s lies below node %s; keep and drop belong there", id, x.hub))
			}
			x.follow(id, k)
		}
		return
	}
	x.tell(id, n.Field)
	if forced && n.Field == FieldIdentity {
		x.w.c.fault(nodePath(id), words.Later("%s follows another answer of node %s; a zone on a wire has no identity and could not go round it", id, x.hub))
	}
	if len(n.Next) > 1 {
		x.w.c.fault(nodePath(id)+".next", words.Later("questions of node %s go back to it without conditions", x.hub))
	}
	after := n.Next[0].Go // every question has a way: nodes
	if n.Listen != nil {
		x.heard(id, n.Listen.Heard, after)
	}
	x.visit(after, true)
	delete(x.here, id) // another item may lead to the same question
}

// heard checks the confirmation behind a question that listens.
func (x excursion) heard(asked, id, after string) {
	x.w.reached[id] = true
	for _, ch := range x.w.c.p.Dialogue.Nodes[id].Choices {
		if !(ch.Does == DeedTake && ch.Next == after || ch.Does == "" && ch.Next == asked) {
			x.w.c.fault(nodePath(id), words.Later("node %s: what was heard is taken and goes on to %s, or is refused and goes back to %s", id, after, asked))
		}
	}
}

func (w *walker) confirm(id string, n Node, answered map[Field]string, on map[string]bool) {
	for _, ch := range n.Choices {
		switch ch.Does {
		case DeedDrop:
			w.dropped = true
		case DeedKeep:
			w.kept = true
			w.complete(id, answered)
			w.count(answered, len(on))
		case DeedTake:
			if !w.afterListening(id) {
				w.c.fault(nodePath(id), words.Later("node %s takes an identity, but nothing was listened for", id))
				continue
			}
			if _, typed := answered[FieldIdentity]; typed {
				w.c.fault(nodePath(id), words.Later("node %s takes an identity where one was typed already, and nothing was heard", id))
				continue
			}
			now := maps.Clone(answered)
			now[FieldIdentity] = anything
			w.step(ch.Next, now, on)
		default:
			if !on[ch.Next] { // going back to a question already asked is no circle: the answer can be another one
				w.step(ch.Next, answered, on)
			}
		}
	}
}

func (w *walker) afterListening(id string) bool {
	for _, n := range w.c.p.Dialogue.Nodes {
		if n.Listen != nil && n.Listen.Heard == id {
			return true
		}
	}
	return false
}

func (w *walker) count(answered map[Field]string, prompts int) {
	w.prompts[answered[FieldKind]] = max(w.prompts[answered[FieldKind]], prompts)
}

// complete checks what a kept zone was told.
func (w *walker) complete(id string, answered map[Field]string) {
	p := w.c.p
	kind, _ := p.KindOf(answered[FieldKind], "")
	radio, hasRadio := p.Answer(FieldLink, LinkRadio)
	isRadio := !hasRadio || answered[FieldLink] == radio
	if _, told := answered[FieldIdentity]; told && !isRadio {
		w.c.fault(nodePath(id), words.Later("the dialogue asks for the identity of a zone on a wire, which has none; lead its way round that question"))
	}
	var missing []string
	for _, f := range wholes {
		_, told := answered[f]
		all := p.Parts(f)
		told = told || len(all) > 0 && !slices.ContainsFunc(all, func(part Field) bool { _, ok := answered[part]; return !ok })
		switch {
		case told || slices.Contains(p.Lacks, f):
		case f != FieldZone && f != FieldKind && kind == site.Unused:
		case (f == FieldIdentity || f == FieldLoss) && !isRadio:
		default:
			missing = append(missing, string(f))
		}
	}
	if len(missing) > 0 {
		name := anyKind
		if kind != "" {
			name = string(kind)
		}
		if !isRadio {
			name += " on a wire"
		}
		gap := id + "\x00" + strings.Join(missing, ", ")
		if !slices.Contains(w.gaps[gap], name) {
			w.gaps[gap] = append(w.gaps[gap], name)
		}
	}
}

// report turns the gaps into faults, one for each set of missing fields.
func (w *walker) report() {
	for _, gap := range slices.Sorted(maps.Keys(w.gaps)) {
		id, missing, _ := strings.Cut(gap, "\x00")
		names := w.gaps[gap]
		slices.Sort(names)
		some := strings.Join(names[:min(len(names), 3)], ", ")
		of := words.Later("zones of kind %s", some)
		switch {
		case names[0] == anyKind:
			of = words.Later("any zone")
		case len(names) > 3:
			of = words.Later("zones of kind %s and %d more", some, len(names)-3)
		}
		w.c.fault(nodePath(id), words.Later("the dialogue can not reach %s of %s; lead a way through a node that asks for it, or list it under lacks", missing, of))
	}
}
