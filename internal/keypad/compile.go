package keypad

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// Stop is a finding that forbids keying a zone; "" stands for every zone. The caller brings them from the rules.
type Stop struct {
	Zone site.ZoneID
	Text string
}

// Options say how a sheet is made. The zero value keys every zone that differs, without reading it back.
type Options struct {
	Stops    []Stop
	Lang     *words.Language // of what the sheet says; what the panel shows stays
	ReadBack bool            // after each life-safety zone, cards that show every answer as stored
}

// Sheet is a keying sheet and, as JSON, a key list.
type Sheet struct {
	Format   string        `json:"format"`
	Panel    string        `json:"panel"`
	Version  string        `json:"version"`
	Site     string        `json:"site,omitempty"`
	Practice bool          `json:"practice,omitempty"` // of a practice site: keyed for learning only
	Keys     []string      `json:"keys"`
	Zones    []ZoneCards   `json:"sheet"`
	Leave    []Card        `json:"leave,omitempty"` // ends programming
	Same     []site.ZoneID `json:"same,omitempty"`  // already in the panel as wanted
	Extra    []site.ZoneID `json:"extra,omitempty"` // in the panel and not in the site; left alone
	Problems []Problem     `json:"problems,omitempty"`
	Cautions []string      `json:"cautions"`
	Count    int           `json:"count"`    // keys to press, without waits
	Minutes  float64       `json:"minutes"`  // estimate, rounded up to half a minute
	Estimate string        `json:"estimate"` // how it was made
}

// ZoneCards are the cards of one zone. With stops there are none: the zone is not to be keyed, for the reasons they give.
type ZoneCards struct {
	Zone       site.ZoneID   `json:"zone"`
	Label      string        `json:"label,omitempty"`
	Kind       site.ZoneKind `json:"kind"`
	LifeSafety bool          `json:"lifeSafety,omitempty"`
	Stops      []string      `json:"stops,omitempty"`
	Cards      []Card        `json:"cards,omitempty"`
	Check      []Card        `json:"check,omitempty"` // reads the zone back
}

// Card is one prompt: what the panel shows, what to press, what it then shows.
type Card struct {
	Zone    site.ZoneID `json:"zone,omitempty"`
	N       int         `json:"n"` // answer n of
	Of      int         `json:"of"`
	Shows   string      `json:"shows"`
	Field   panel.Field `json:"field,omitempty"`
	Answer  string      `json:"answer,omitempty"`  // what is keyed, for the eye: "S", "31 32 05 00"
	Means   string      `json:"means,omitempty"`   // in plain words: "smoke"
	Press   []string    `json:"press"`             // keys, grouped for the eye: "7777", "OK"
	Then    string      `json:"then"`              // what the panel shows afterwards
	Sees    string      `json:"sees,omitempty"`    // of a check: the stored answer that has to stand there
	Why     string      `json:"why,omitempty"`     // what the answer is good for
	Caution string      `json:"caution,omitempty"` // at this prompt
	keys    []string
}

// Keys returns the keys of the card one by one.
func (c Card) Keys() []string { return slices.Clone(c.keys) }

// Compile makes the sheet that brings a panel from what it holds (nil: not known, everything is keyed) to what the site
// wants. Life-safety zones come first; each zone ends with its KEEP, so whenever the work is broken off every zone in the
// panel is whole. Zones that the panel already holds as wanted are left out. A zone with a stop, or one that the panel can
// not be told, is shown with the reason and without keys.
func Compile(s *site.Site, p *panel.Profile, asFound ZoneTable, opt Options) Sheet {
	l := opt.Lang
	table, problems := WantedIn(l, s, p)
	sheet := Sheet{Format: KeysFormat, Panel: p.Name, Version: p.Version, Site: s.Name, Practice: s.Practice, Keys: []string{}, Zones: []ZoneCards{}, Problems: problems}
	sheet.Cautions = []string{
		l.Say("Put the account on test before the lid is opened or programming begins. While it is on test nobody will come: agree who watches and how to call help."),
		l.Say("Real smoke during the work: stop, leave, call the emergency number."),
		l.Say("Work inside mains alarms and boxes is for a licensed electrician. Instructions of the panel and local codes come first."),
		l.Say("Keys are worked out from the schedule. A keyed zone is not a proved zone: trip its device and follow the signal."),
	}
	scheduled := map[site.ZoneID]bool{} // by number at the panel
	for id := range s.Zones {
		if n, ok := p.ZoneNumber(id); ok {
			scheduled[p.ZoneID(n)] = true
		}
	}
	blocked := map[site.ZoneID][]string{} // id in the site -> why it can not be keyed
	for _, pr := range problems {
		if pr.Blocks {
			blocked[pr.Zone] = append(blocked[pr.Zone], words.Upper(pr.Say)+". "+pr.Do)
		}
	}
	ids := slices.SortedFunc(maps.Keys(s.Zones), func(a, b site.ZoneID) int {
		return cmp.Or(cmp.Compare(rank(s.Zones[a]), rank(s.Zones[b])), site.NaturalOrder(string(a), string(b)))
	})
	for _, id := range ids {
		z, number := s.Zones[id], id
		if n, ok := p.ZoneNumber(id); ok {
			number = p.ZoneID(n)
		}
		zc := ZoneCards{Zone: number, Label: z.Label, Kind: z.Kind, LifeSafety: z.Kind.LifeSafety(), Stops: append(stopsOf(opt.Stops, id, number), blocked[id]...)}
		found, known := asFound[number]
		if p.Dialogue.Edits {
			for _, f := range panel.Fields() {
				if _, stays := table[number][f]; found[f] != "" && !stays && table[number] != nil {
					sheet.Problems = append(sheet.Problems, Problem{Zone: id, Field: f, Say: l.Say("the panel holds %s %q for this zone and can not be told to forget it", f, found[f]), Do: l.Say("Clear the zone as the panel's instructions say, then key it.")})
				}
			}
		}
		switch {
		case len(zc.Stops) > 0: // shown even when the panel holds it already: it is unsafe there too
		case known && maps.Equal(found, table[number]):
			sheet.Same = append(sheet.Same, number)
			continue
		default:
			k := keyer{lang: l, p: p, zone: number, z: z, slots: table[number]}
			zc.Cards = k.cards()
			if opt.ReadBack && zc.LifeSafety {
				zc.Check = k.check()
			}
		}
		sheet.Zones = append(sheet.Zones, zc)
	}
	slices.Sort(sheet.Same)
	for _, id := range slices.Sorted(maps.Keys(asFound)) {
		if !scheduled[id] && len(asFound[id]) > 0 {
			sheet.Extra = append(sheet.Extra, id)
			sheet.Problems = append(sheet.Problems, Problem{Zone: id, Say: l.Say("the panel holds this zone and the schedule does not have it; the sheet leaves it alone"), Do: l.Say("Survey it, or schedule it as not used.")})
		}
	}
	sheet.finish(l, p)
	return sheet
}

// kindSay names a kind of zone.
func kindSay(lang *words.Language, k site.ZoneKind) string {
	for _, e := range site.ZoneKinds {
		if e.Kind == k {
			return lang.Word(e.Say)
		}
	}
	return string(k)
}

// rank orders zones by what is lost while they are not yet keyed.
func rank(z site.Zone) int {
	switch f := z.Kind.Family(); {
	case z.Kind.LifeSafety():
		return 0
	case f == "panic" || f == "medical":
		return 1
	case f == "none":
		return 3
	}
	return 2
}

func stopsOf(stops []Stop, ids ...site.ZoneID) []string {
	var out []string
	for _, st := range stops {
		if st.Zone == "" || slices.Contains(ids, st.Zone) {
			out = append(out, st.Text)
		}
	}
	return out
}

// finish collects the keys and the estimate.
func (sh *Sheet) finish(l *words.Language, p *panel.Profile) {
	prompts, waits := 0, 0
	add := func(cards []Card) {
		for _, c := range cards {
			prompts++
			sh.Keys = append(sh.Keys, c.keys...)
		}
	}
	for _, z := range sh.Zones {
		add(z.Cards)
		add(z.Check)
	}
	if start := p.Dialogue.Nodes[p.Dialogue.Start]; start.Back == panel.BackLeave && len(sh.Keys) > 0 {
		sh.Leave = []Card{{N: 1, Of: 1, Shows: start.Shows, Press: []string{p.Keypad.Back}, Then: p.Dialogue.Left, Why: l.Say("Ends programming."), keys: []string{p.Keypad.Back}}}
		add(sh.Leave)
	}
	for _, k := range sh.Keys {
		if k == panel.Wait {
			waits++
		}
	}
	sh.Count = len(sh.Keys) - waits
	t := p.Timing
	seconds := float64(sh.Count)*t.PerKey.SI() + float64(prompts)*t.PerPrompt.SI() + float64(waits)*p.Keypad.LetterPause.SI()
	sh.Minutes = math.Ceil(seconds/30) / 2
	sh.Estimate = l.Say("Estimate: %d keys at %s, %d prompts at %s, %d waits of %s.", sh.Count, t.PerKey, prompts, t.PerPrompt, waits, p.Keypad.LetterPause)
}

// keyer makes the cards of one zone.
type keyer struct {
	lang  *words.Language
	p     *panel.Profile
	zone  site.ZoneID
	z     site.Zone
	slots Slots
}

// cards walks the zone's way through the dialogue and answers every question. A key that only leads to a question shares its card.
func (k keyer) cards() []Card {
	steps, err := way(k.p, k.slots)
	if err != nil {
		return nil // Wanted went the same way before
	}
	var out []Card
	for i := 0; i < len(steps); i++ {
		c := k.card(steps[i])
		if st := steps[i]; st.pick != nil && st.pick.Key != "" && i+1 < len(steps) && k.p.Dialogue.Nodes[steps[i+1].node].Field != "" {
			i++
			question := k.card(steps[i])
			question.Shows = c.Shows
			question.keys, question.Press = append(c.keys, question.keys...), append(c.Press, question.Press...)
			c = question
		}
		if i+1 < len(steps) {
			c.Then = k.p.Dialogue.Nodes[steps[i+1].node].Shows
		}
		out = append(out, c)
	}
	return numbered(out)
}

// card makes the card of one step. What is shown afterwards is filled in where the step keeps the zone.
func (k keyer) card(st step) Card {
	n := k.p.Dialogue.Nodes[st.node]
	c := Card{Zone: k.zone, Shows: n.Shows, Field: n.Field, Why: k.lang.Word(n.Why), Caution: k.caution(n, st)}
	switch {
	case st.back:
		c.keys, c.Press = []string{k.p.Keypad.Back}, []string{k.p.Keypad.Back}
		c.Then = k.p.Dialogue.Nodes[n.Back].Shows
		return c
	case st.pick != nil:
		c.keys = k.reach(n, *st.pick)
		c.Press, c.Answer = slices.Clone(c.keys), st.pick.Shows
		for f := range st.pick.Sets {
			c.Field, c.Means = f, k.means(panel.Node{Field: f})
		}
		c.Then = Display{Notice: st.pick.Says, Prompt: k.p.Dialogue.Nodes[st.pick.Go].Shows}.String()
		return c
	}
	typed := k.typed(n)
	c.Answer, c.Means = k.shown(n, typed), k.means(n)
	c.keys, c.Press = k.press(n, typed)
	c.Then = k.afterwards(n, typed)
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

func numbered(cards []Card) []Card {
	for i := range cards {
		cards[i].N, cards[i].Of = i+1, len(cards)
	}
	return cards
}

var otherwise = words.Mark("If anything else stands there: go on to the end, do not keep, and key the zone again.")

// check opens the zone again and reads it without changing anything; nil where the panel shows nothing of what it holds.
func (k keyer) check() []Card {
	steps, err := way(k.p, k.slots)
	switch {
	case err != nil:
		return nil
	case k.p.Dialogue.Recall:
		return k.checkAnswers(steps)
	case k.p.Dialogue.Edits:
		return k.checkSum(steps)
	}
	return nil
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
			typed = k.typed(n)
			c.Why = k.lang.Say("Opens the zone again to read it.")
		case n.Field == "":
			typed = dropAnswer(n)
			c.Then, c.Why = k.afterwards(n, typed), k.lang.Say("Nothing was changed; what is stored stays.")
		case k.slots[n.Field] == "":
			typed = k.typed(n) // nothing is shown and the accept key alone would be refused
		default:
			c.Sees, c.Caution = k.slots[n.Field], k.lang.Word(otherwise)
		}
		c.Answer = k.shown(n, typed)
		c.keys, c.Press = k.press(n, typed)
		if n.Listen != nil {
			c.keys, c.Press = []string{ok, ok}, []string{ok, ok} // the first ends the listening
		}
		out = append(out, c)
	}
	return numbered(out)
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
		return numbered(out)
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

// typed is what is keyed at a node.
func (k keyer) typed(n panel.Node) string {
	switch {
	case n.Field == "":
		return keepAnswer(n)
	case n.Field == panel.FieldZone:
		number, _ := k.p.ZoneNumber(k.zone)
		return fmt.Sprintf("%0*d", n.Width, number)
	case n.Form == panel.FormWords:
		return strings.ReplaceAll(k.slots[n.Field], " ", "") + n.End
	}
	return k.slots[n.Field]
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
	ok := k.p.Keypad.Accept
	return append(keys, ok), append(groups, ok)
}

// Answers that stand for themselves, in words.
var _ = []string{words.Mark("radio"), words.Mark("wired"), words.Mark("main"), words.Mark("backup"), words.Mark("both"), words.Mark("none"), words.Mark("never"), words.Mark("yes"), words.Mark("no")}

// means says an answer in plain words.
func (k keyer) means(n panel.Node) string {
	switch n.Field {
	case "", panel.FieldZone, panel.FieldCode:
		return ""
	case panel.FieldIdentity:
		return string(k.z.Device)
	case panel.FieldIdentityHead, panel.FieldIdentityTail:
		return strings.TrimSpace(string(k.z.Device) + " " + identityOf(k.p, k.slots))
	case panel.FieldKind:
		for _, e := range site.ZoneKinds {
			if e.Kind == k.z.Kind {
				return k.lang.Word(e.Say)
			}
		}
	case panel.FieldWords:
		var said []string
		for _, number := range strings.Fields(k.slots[n.Field]) {
			said = append(said, k.p.Word(number))
		}
		return strings.Join(said, " ")
	case panel.FieldArea:
		v, _ := k.p.Value(n.Field, k.slots[n.Field])
		return k.lang.Say("area %s", v)
	}
	if n.Form == panel.FormWord {
		return cmp.Or(k.p.Word(k.slots[n.Field]), k.lang.Say("no word"))
	}
	v, _ := k.p.Value(n.Field, k.slots[n.Field])
	return k.lang.Word(v)
}

// caution is what has to be said at one prompt of this zone.
func (k keyer) caution(n panel.Node, st step) string {
	switch {
	case st.pick != nil && st.pick.Does == panel.DeedKeep:
		return k.lang.Say("Only now is the zone stored.")
	case st.pick != nil || st.back:
		return ""
	case n.Listen != nil:
		return k.lang.Say("Type the identity from the label. If a tag is heard instead, somebody tripped a device: answer N.")
	case n.Field == panel.FieldKind && k.p.CodeFor(k.z.Kind) != "":
		return k.lang.Say("This panel has no answer of its own for this kind; code %s, asked later, tells it apart.", k.p.CodeFor(k.z.Kind))
	case n.Field == panel.FieldBypass && k.z.Kind.LifeSafety():
		return k.lang.Say("A life-safety zone must never be left out.")
	case n.Field == "":
		return k.lang.Say("Only now is the zone stored. If one prompt looked different, answer %s and begin the zone again.", dropAnswer(n))
	}
	return ""
}
