package keypad

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// keyer makes the cards of one zone.
type keyer struct {
	lang   *words.Language
	p      *panel.Profile
	zone   site.ZoneID
	z      site.Zone
	device string // in words; "": not known here
	slots  Slots
	menus  menus // of the panel, when they were looked through before
	sum    bool  // what the zone holds is read back by its sum alone
}

// cards turns steps into cards. A key that only leads to a question shares its card.
func (k keyer) cards(steps []step) []Card {
	var out []Card
	for i := 0; i < len(steps); i++ {
		c := k.card(steps[i])
		if st := steps[i]; st.pick != nil && st.pick.Key != "" && i+1 < len(steps) && k.p.Dialogue.Nodes[steps[i+1].node].Field != "" {
			i++
			question := k.card(steps[i])
			question.Shows = c.Shows
			question.more += c.more
			question.keys, question.Press = append(c.keys, question.keys...), append(c.Press, question.Press...)
			c = question
		}
		if i+1 < len(steps) {
			c.Then = k.p.Dialogue.Nodes[steps[i+1].node].Shows
		}
		out = append(out, c)
	}
	return numbered(k.lang, out)
}

// card makes the card of one step. What is shown afterwards is filled in where the step keeps the zone.
func (k keyer) card(st step) Card {
	n := k.p.Dialogue.Nodes[st.node]
	c := Card{Zone: k.zone, Shows: n.Shows, Field: n.Field, Why: k.lang.Word(n.Why), Caution: k.caution(n, st)}
	ok := k.p.Keypad.Accept
	switch {
	case st.back:
		c.keys, c.Press = []string{k.p.Keypad.Back}, []string{k.p.Keypad.Back}
		c.Then = k.p.Dialogue.Nodes[n.Back].Shows
		return c
	case st.pick != nil:
		c.keys = k.reach(n, *st.pick)
		c.Press, c.Answer = slices.Clone(c.keys), st.pick.Shows
		for f, a := range st.pick.Sets {
			c.Field, c.Means = f, k.means(panel.Node{Field: f}, a)
			if f == panel.FieldKind && a != k.slots[f] {
				c.Why = k.lang.Say("Only for what choosing it fills in; the kind that is meant follows.")
			}
		}
		c.Then = Display{Notice: st.pick.Says, Prompt: k.p.Dialogue.Nodes[st.pick.Go].Shows}.String()
		return c
	case st.take:
		c.Sees, c.Means, c.keys = st.answer, k.means(n, st.answer), []string{ok}
		if n.Listen != nil {
			c.keys = []string{ok, ok} // the first ends the listening
		}
		c.Press = slices.Clone(c.keys)
	case n.Form == panel.FormToggle:
		c.Answer, c.Means = st.answer, k.means(n, st.answer)
		if st.from == unknown {
			c.more = turned(n, unknown, st.answer) - 1
			c.keys, c.Press = []string{turnTo(n.Turns, st.answer), ok}, []string{n.Turns, until + st.answer, ok}
			break
		}
		for range turned(n, st.from, st.answer) {
			c.keys = append(c.keys, n.Turns)
		}
		c.keys, c.Sees = append(c.keys, ok), st.from
		c.Press = slices.Clone(c.keys)
	default:
		typed := text(n, st.answer)
		c.Answer, c.Means = k.shown(n, typed), k.means(n, st.answer)
		c.keys, c.Press = k.press(n, typed)
		if n.Field == panel.FieldKind && st.answer != k.slots[n.Field] {
			c.Why = k.lang.Say("Only for what choosing it fills in; the kind that is meant follows.")
		}
	}
	c.Then = k.afterwards(n, st.answer)
	return c
}

// reach gives the keys that choose a pick: its own, or down to the item and the accept key.
func (k keyer) reach(n panel.Node, pick panel.Pick) []string {
	if pick.Key != "" {
		return []string{pick.Key}
	}
	var keys []string
	for _, item := range n.Items {
		if item.Shows == pick.Shows {
			break
		}
		keys = append(keys, k.p.Keypad.Down)
	}
	return append(keys, k.p.Keypad.Accept)
}

// numbered finishes a row of cards.
func numbered(l *words.Language, cards []Card) []Card {
	for i := range cards {
		c := &cards[i]
		c.N, c.Of, c.Caps = i+1, len(cards), drawn(l, c.Press)
	}
	return cards
}

var otherwise = words.Mark("If anything else stands there: go on to the end, do not keep, and key the zone again.")

// check opens the zone again and reads it without changing anything; nil where the panel shows nothing of what it holds.
func (k keyer) check() []Card {
	switch d := k.p.Dialogue; {
	case d.Edits && k.sum:
		pl := planner{p: k.p}
		return k.checkSum(pl.plain(aim{k.zone, k.slots, k.slots}))
	case d.Marks != "" || d.Edits:
		return k.checkShown()
	case d.Recall:
		pl := planner{p: k.p}
		return k.checkAnswers(pl.plain(aim{k.zone, k.slots, k.slots}))
	}
	return nil
}

// checkShown goes past every answer as a read-out does: each has to stand there as wanted, in menus with the mark before it.
func (k keyer) checkShown() []Card {
	if k.menus == nil {
		k.menus = menusOf(k.p)
	}
	r := newReader(k.p, k.zone, nil, ReadOptions{Lang: k.lang, Plan: k.slots, Full: true}, k.menus)
	r.planned = true
	r.run()
	if r.err != nil || !r.out.Done {
		return nil
	}
	sum := sumOf(k.p)
	var out []Card
	var before ReadCard // led to where this card begins
	for i, rc := range r.looked {
		c := Card{Zone: k.zone, Shows: rc.Shows, Field: before.Field, Means: before.Means, Sees: before.Plan, Press: rc.Press, Then: rc.Then, keys: rc.keys}
		if before.Ask == AskSum {
			c.Sees = "" // it stood there as the card before says
		}
		switch {
		case rc.Ask == AskSum:
			c.Then, c.Caution = Display{Notice: sum.Says + " " + rc.Plan, Prompt: rc.Then}.String(), k.lang.Word(otherwise)
		case c.Sees != "":
			c.Caution = k.lang.Word(otherwise)
		case before.Ask == AskAnswer || before.Ask == AskMark:
			c.Caution = k.lang.Say("Nothing may stand here. If anything does, the zone is not as planned: clear it as the panel's instructions say, then key it again.")
		}
		if c.Sees != "" && before.Ask == AskMark {
			c.Sees = k.p.Dialogue.Marks + " " + c.Sees
		}
		switch {
		case i == 0:
			c.Why = k.lang.Say("Opens the zone again to read it.")
		case i == len(r.looked)-1:
			c.Why = k.lang.Say("Nothing was changed; what is stored stays.")
		}
		out, before = append(out, c), rc
	}
	return numbered(k.lang, out)
}

// checkAnswers takes every stored answer as it stands and drops the zone.
func (k keyer) checkAnswers(steps []step) []Card {
	var out []Card
	ok := k.p.Keypad.Accept
	for i, st := range steps {
		n := k.p.Dialogue.Nodes[st.node]
		c := Card{Zone: k.zone, Shows: n.Shows, Field: n.Field}
		if i+1 < len(steps) {
			c.Then = k.p.Dialogue.Nodes[steps[i+1].node].Shows
		}
		typed := ""
		switch {
		case n.Opens:
			typed = st.answer
			c.Why = k.lang.Say("Opens the zone again to read it.")
		case n.Field == "":
			typed = dropAnswer(n)
			c.Then, c.Why = k.afterwards(n, typed), k.lang.Say("Nothing was changed; what is stored stays.")
		case k.slots[n.Field] == "":
			typed = text(n, st.answer) // nothing is shown and the accept key alone would be refused
		default:
			c.Sees, c.Caution = k.slots[n.Field], k.lang.Word(otherwise)
		}
		c.Answer = k.shown(n, typed)
		c.keys, c.Press = k.press(n, typed)
		if n.Listen != nil && typed == "" {
			c.keys, c.Press = []string{ok, ok}, []string{ok, ok} // the first ends the listening
		}
		out = append(out, c)
	}
	return numbered(k.lang, out)
}

// checkSum opens the zone, asks for the sum of its answers and leaves it.
func (k keyer) checkSum(steps []step) []Card {
	var out []Card
	for i, st := range steps {
		n := k.p.Dialogue.Nodes[st.node]
		total := pickThat(n, panel.DeedSum)
		if total == nil {
			c := k.card(st)
			if i+1 < len(steps) {
				c.Then = k.p.Dialogue.Nodes[steps[i+1].node].Shows
			}
			c.Why = k.lang.Say("Opens the zone again to read it.")
			out = append(out, c)
			continue
		}
		sees := fmt.Sprintf("%s %03d", total.Says, k.slots.Sum())
		back := k.p.Keypad.Back
		out = append(out,
			Card{
				Zone: k.zone, Shows: n.Shows, Press: []string{total.Key}, Then: Display{Notice: sees, Prompt: k.p.Dialogue.Nodes[total.Go].Shows}.String(),
				Why: k.lang.Say("The sum of all answers: one wrong digit changes it. Two mistakes can hide each other."), Caution: k.lang.Word(otherwise), keys: []string{total.Key},
			},
			Card{Zone: k.zone, Shows: n.Shows, Press: []string{back}, Then: k.p.Dialogue.Nodes[n.Back].Shows, Why: k.lang.Say("Nothing was changed; what is stored stays."), keys: []string{back}})
		return numbered(k.lang, out)
	}
	return nil
}

func dropAnswer(n panel.Node) string {
	for _, c := range n.Choices {
		if c.Does == panel.DeedDrop {
			return c.Answer
		}
	}
	return ""
}

// afterwards is what the display says after a confirmation.
func (k keyer) afterwards(n panel.Node, answer string) string {
	for _, c := range n.Choices {
		if c.Answer == answer {
			return Display{Notice: c.Says, Prompt: k.p.Dialogue.Nodes[c.Next].Shows}.String()
		}
	}
	return ""
}

// groupsOf cuts an answer for the eye: words by their width, anything longer than four digits by four, letters apart.
func (k keyer) groupsOf(n panel.Node, typed string) []string {
	width := 4
	if n.Form == panel.FormWords {
		width = n.Width
	}
	var out []string
	head := len(typed) - len(strings.TrimLeft(typed, "ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
	if head > 0 && n.Form == panel.FormIdentity {
		out, typed = append(out, typed[:head]), typed[head:]
	}
	for len(typed) > width {
		out, typed = append(out, typed[:width]), typed[width:]
	}
	if typed != "" {
		out = append(out, typed)
	}
	return out
}

// shown is the answer for the eye. An identity stays in one piece, as on its label.
func (k keyer) shown(n panel.Node, typed string) string {
	if n.Form == panel.FormIdentity {
		return typed
	}
	return strings.Join(k.groupsOf(n, typed), " ")
}

// press gives the keys of an answer one by one and grouped: each letter by itself, digits as groupsOf cuts them.
func (k keyer) press(n panel.Node, typed string) (keys, groups []string) {
	keys, _ = k.p.Keypad.Spell(typed) // Check has typed every answer
	letters := strings.TrimRight(typed, "0123456789")
	for i := range letters {
		spelt, _ := k.p.Keypad.Spell(letters[i : i+1])
		if i > 0 && len(groups) > 0 && strings.HasPrefix(groups[len(groups)-1], spelt[0]) {
			groups = append(groups, "wait")
		}
		groups = append(groups, strings.Join(spelt, ""))
	}
	if digits := typed[len(letters):]; digits != "" {
		if len(groups) > 0 && digits[0] == groups[len(groups)-1][0] {
			groups = append(groups, "wait")
		}
		groups = append(groups, k.groupsOf(n, digits)...)
	}
	if n.Auto && typed != "" {
		return keys, groups // taken as soon as it is complete
	}
	ok := k.p.Keypad.Accept
	return append(keys, ok), append(groups, ok)
}

// Answers that stand for themselves, in words.
var _ = []string{words.Mark("radio"), words.Mark("wired"), words.Mark("main"), words.Mark("backup"), words.Mark("both"), words.Mark("none"), words.Mark("never"), words.Mark("yes"), words.Mark("no")}

// deviceSay names a device for somebody who looks for it: its model and room, or else its id.
func deviceSay(s *site.Site, id site.DeviceID) string {
	d := s.Devices[id]
	return cmp.Or(words.Join(s.Models[d.Model].Name, s.Rooms[d.Room].Name), string(id))
}

// means says an answer in plain words.
func (k keyer) means(n panel.Node, answer string) string {
	switch n.Field {
	case "", panel.FieldZone, panel.FieldCode:
		return ""
	case panel.FieldIdentity:
		return k.device
	case panel.FieldIdentityHead, panel.FieldIdentityTail:
		return strings.TrimSpace(k.device + " " + identityOf(k.p, k.slots))
	case panel.FieldKind:
		kind := k.z.Kind
		if answer != k.slots[n.Field] {
			kind, _ = k.p.KindOf(answer, "")
		}
		return kindSay(k.lang, kind)
	case panel.FieldWords:
		var said []string
		for _, number := range strings.Fields(answer) {
			said = append(said, k.p.Word(number))
		}
		return strings.Join(said, " ")
	case panel.FieldArea:
		v, _ := k.p.Value(n.Field, answer)
		return k.lang.Say("area %s", v)
	}
	if n.Form == panel.FormWord {
		return cmp.Or(k.p.Word(answer), k.lang.Say("no word"))
	}
	v, _ := k.p.Value(n.Field, answer)
	return k.lang.Word(v)
}

// never puts in front what holds for the bypass of a life-safety zone.
func (k keyer) never(n panel.Node, caution string) string {
	if n.Field != panel.FieldBypass || !k.z.Kind.LifeSafety() {
		return caution
	}
	return strings.TrimSpace(k.lang.Say("A life-safety zone must never be left out.") + " " + caution)
}

// caution is what has to be said at one prompt of this zone.
func (k keyer) caution(n panel.Node, st step) string {
	switch {
	case st.pick != nil && st.pick.Does == panel.DeedKeep:
		return k.lang.Say("Only now is the zone stored.")
	case st.pick != nil || st.back:
		return ""
	case st.take && n.Form != panel.FormToggle:
		return k.never(n, k.lang.Say("If anything else stands there, key %s instead.", k.shown(n, text(n, st.answer))))
	case n.Form == panel.FormToggle && st.from == unknown:
		return k.never(n, k.lang.Say("Nobody knows what stands here first. Do not count: turn with %s until the display shows %s, only then press %s.", n.Turns, st.answer, k.p.Keypad.Accept))
	case n.Form == panel.FormToggle:
		return k.never(n, k.lang.Say("If anything else stands there, turn until %s does.", st.answer))
	case n.Listen != nil:
		return k.lang.Say("Type the identity from the label. If a tag is heard instead, somebody tripped a device: answer N.")
	case n.Field == panel.FieldKind && k.p.CodeFor(k.z.Kind) != "":
		return k.lang.Say("This panel has no answer of its own for this kind; code %s, asked later, tells it apart.", k.p.CodeFor(k.z.Kind))
	case n.Field == panel.FieldBypass:
		return k.never(n, "")
	case n.Field == "":
		return k.lang.Say("Only now is the zone stored. If one prompt looked different, answer %s and begin the zone again.", dropAnswer(n))
	}
	return ""
}
