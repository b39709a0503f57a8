package keypad

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// ReadBack returns the cards that read a zone which the panel holds as wanted, without changing anything; nil where the
// panel shows nothing of what it holds. A zone that stands for a life or a call for help is read answer by answer, any other
// by its sum where the panel has one and the zone is known to have been keyed with just these answers.
func ReadBack(lang *words.Language, p *panel.Profile, number site.ZoneID, z site.Zone, slots Slots, keyed bool) []Card {
	if len(slots) == 0 || checkable(lang, p) != "" {
		return nil
	}
	k := keyer{lang: lang, p: p, zone: number, z: z, slots: slots}
	k.sum = sumOf(p) != nil && (onlySum(lang, p) != "" || keyed && !vital(z.Kind))
	return k.check()
}

// Ask is what a card of a read-out asks of the technician.
type Ask string

// The questions of a read-out.
const (
	AskAnswer Ask = "answer" // which answer stands at a prompt
	AskMark   Ask = "mark"   // which item of a menu carries the mark
	AskSum    Ask = "sum"    // the sum of a drawer
	AskGo     Ask = "go"     // nothing: the keys only lead on
	AskLeave  Ask = "leave"  // nothing: the zone is left as it was
)

// ReadCard is one prompt of a read-out: the keys that lead to it, and what to look for.
type ReadCard struct {
	Zone    site.ZoneID  `json:"zone"`
	N       int          `json:"n"`
	Of      int          `json:"of"` // cards when everything stands as planned
	Shows   string       `json:"shows"`
	Press   []string     `json:"press"`          // grouped for the eye; empty where the last card led here
	Caps    []Cap        `json:"caps,omitempty"` // Press as it is drawn; absent where every group is a key of its own
	Then    string       `json:"then"`
	Ask     Ask          `json:"ask"`
	Field   panel.Field  `json:"field,omitempty"`
	What    string       `json:"what,omitempty"`  // the field in words
	Planned bool         `json:"planned"`         // Plan is known
	Plan    string       `json:"plan"`            // what stands there when the panel is as planned; "" for nothing
	Means   string       `json:"means,omitempty"` // Plan in plain words
	Options []ReadOption `json:"options"`         // all that can stand there, where that is a list
	Hint    string       `json:"hint"`            // how what stands there is written down
	Caution string       `json:"caution,omitempty"`
	Until   bool         `json:"until,omitempty"` // press again until Then is shown, and nothing when it stands there already
	keys    []string
}

// Keys returns the keys of the card one by one.
func (c ReadCard) Keys() []string { return slices.Clone(c.keys) }

// ReadOption is one thing that may stand there.
type ReadOption struct {
	Shows string `json:"shows"`
	Means string `json:"means"`
}

// Seen is what the technician saw at one card. Sure keeps what this panel does not know as an answer, as it was seen.
type Seen struct {
	Text string `json:"text"`
	Sure bool   `json:"sure"`
}

// ReadOptions say how a zone is read.
type ReadOptions struct {
	Lang *words.Language
	Plan Slots // what should stand in the zone; empty: nothing should; nil: not known
	Full bool  // every answer is read, even where a sum agrees
	Kept bool  // Plan is what the zone is known to have been keyed with: only then a sum that agrees may end the reading
	Stop bool  // the zone is left now; what was read of it does not count
}

// ZoneReading is a zone as far as it was read.
type ZoneReading struct {
	Card    ReadCard `json:"card"`    // the next one
	Done    bool     `json:"done"`    // the panel was left; there is no next card
	Read    bool     `json:"read"`    // Slots are what the panel holds
	Slots   Slots    `json:"slots"`   // answers so far; none when the zone is empty
	Unknown []string `json:"unknown"` // answers that this panel's description does not know, said with their prompt
	BySum   bool     `json:"bySum"`   // the sum agreed, and nothing else was looked at
	Notes   []string `json:"notes"`   // what has to be said about the result
}

// ReadZone says which card comes next when a zone is read out and seen is what was found so far, card by card. Nothing of it
// changes the panel: no answer is given that is not there, and no zone is kept. An error is about the last of seen, in the
// language of the options.
func ReadZone(p *panel.Profile, zone site.ZoneID, seen []Seen, opt ReadOptions) (ZoneReading, error) {
	r := newReader(p, zone, seen, opt, menusOf(p))
	r.run()
	if r.err == nil && !r.out.Done && opt.Plan != nil && !opt.Stop {
		as := newReader(p, zone, seen, opt, r.menus)
		as.planned = true
		as.run()
		r.out.Card.Of = as.cards
	}
	return r.out, r.err
}

// reader walks one zone through the dialogue by its own idea of where each key leads.
type reader struct {
	p     *panel.Profile
	lang  *words.Language
	zone  site.ZoneID
	opt   ReadOptions
	menus menus
	seen  []Seen // not yet used

	planned bool // behind what was seen, everything stands as planned

	node  string
	item  int      // of a menu: the one in sight
	path  []string // nodes answered since the zone was opened
	stood struct { // where the panel was at the last card that was answered
		node string
		path []string
	}
	shows  string   // before the keys of the next card
	keys   []string // of the next card
	press  []string
	cards  int
	looked []ReadCard // all of them
	slots  Slots
	out    ZoneReading
	err    error
}

func newReader(p *panel.Profile, zone site.ZoneID, seen []Seen, opt ReadOptions, m menus) *reader {
	r := &reader{menus: m, p: p, lang: opt.Lang, zone: zone, opt: opt, node: p.Dialogue.Start, seen: seen, slots: Slots{}}
	r.out = ZoneReading{Unknown: []string{}, Notes: []string{}}
	r.shows, r.stood.node = r.at().Shows, r.node
	return r
}

// run goes as far as what was seen leads.
func (r *reader) run() {
	if !r.goTo(opener(r.p)) {
		return
	}
	r.open()
	var whole bool
	if len(r.at().Picks()) > 0 {
		whole = r.drawers()
	} else {
		whole = r.questions()
	}
	if r.out.Slots = r.slots; whole || r.opt.Stop && r.err == nil {
		r.out.Read = whole && r.slots != nil
		r.out.Done = r.leave(whole)
	}
}

func (r *reader) at() panel.Node { return r.p.Dialogue.Nodes[r.node] }

func (r *reader) arrive(node string) {
	if i := slices.Index(r.path, node); i >= 0 {
		r.path = r.path[:i]
	}
	r.node, r.item = node, 0
}

// push presses keys that belong together for the eye.
func (r *reader) push(keys ...string) {
	r.keys = append(r.keys, keys...)
	r.press = append(r.press, strings.Join(slices.DeleteFunc(slices.Clone(keys), func(k string) bool { return k == panel.Wait }), ""))
}

// give types an answer at the node in sight and takes it.
func (r *reader) give(answer string) {
	keys, _ := r.p.Keypad.Spell(answer) // Check has typed every answer
	r.push(keys...)
	if !r.at().Auto {
		r.push(r.p.Keypad.Accept)
	}
}

// open chooses the zone at the node that asks for it.
func (r *reader) open() {
	n := r.at()
	number, _ := r.p.ZoneNumber(r.zone)
	r.give(fmt.Sprintf("%0*d", n.Width, number))
	r.path = []string{r.node}
	r.arrive(n.After(nil))
}

// look shows a card and returns what was seen at it; ok is false when nothing was yet.
func (r *reader) look(c ReadCard) (s Seen, ok bool) {
	r.cards++
	c.Zone, c.N, c.Shows, c.Then, c.Press, c.keys = r.zone, r.cards, r.shows, r.at().Shows, r.press, r.keys
	if c.Caps = drawn(r.lang, c.Press); c.Press == nil {
		c.Press = []string{}
	}
	if c.Options == nil {
		c.Options = []ReadOption{}
	}
	r.out.Card = c
	r.looked = append(r.looked, c)
	switch {
	case len(r.seen) > 0:
	case r.planned:
		r.seen = []Seen{{Text: c.Plan, Sure: true}}
	default:
		return Seen{}, false
	}
	s, r.seen = r.seen[0], r.seen[1:]
	r.shows, r.keys, r.press = c.Then, nil, nil
	r.stood.node, r.stood.path = r.node, slices.Clone(r.path)
	return s, true
}

// answer asks what stands at the prompt in sight. none is true when nothing does.
func (r *reader) answer() (answer string, none, ok bool) {
	n := r.at()
	c := ReadCard{Ask: AskAnswer, Field: n.Field, What: n.Field.Say().In(r.lang), Hint: r.hint(n)}
	c.Planned = r.opt.Plan != nil
	c.Plan = r.opt.Plan[n.Field]
	c.Means = Means(r.lang, r.p, n.Field, c.Plan, r.opt.Plan)
	for _, a := range r.p.Takes(n) {
		c.Options = append(c.Options, ReadOption{a, Means(r.lang, r.p, n.Field, a, nil)})
	}
	s, ok := r.look(c)
	if !ok {
		return "", false, false
	}
	answer, known, err := parseShown(r.p, n, s)
	if r.err = err; err != nil {
		return "", false, false
	}
	if !known {
		r.out.Unknown = append(r.out.Unknown, n.Shows+" "+answer)
	}
	return answer, answer == "", true
}

// questions reads a panel that asks one question after another: the accept key takes what stands there.
func (r *reader) questions() bool {
	told := false // something was seen that only a stored zone shows
	for range longest {
		n := r.at()
		if n.Field == "" {
			return true
		}
		a, none, ok := r.answer()
		listed := n.Form == panel.FormWords || n.Form == panel.FormWord
		switch {
		case !ok:
			return false
		case none && !listed && !told:
			r.slots = Slots{} // an empty zone
			return true
		case none && !listed:
			r.slots = nil
			r.out.Notes = append(r.out.Notes, r.lang.Say("Nothing stands at %s, so the rest of the zone can not be seen. Key the zone as if it were not known.", n.Shows))
			return true
		case none:
			r.slots[n.Field] = ""
			r.give(n.End) // no words; nothing is kept
		default:
			told = told || n.Form != panel.FormToggle
			r.slots[n.Field] = a
			if n.Listen != nil {
				r.push(r.p.Keypad.Accept) // ends the listening
			}
			r.push(r.p.Keypad.Accept)
		}
		r.path = append(r.path, r.node)
		r.arrive(n.After(r.slots))
	}
	return false
}

// leave lets go of the zone: by the answer that drops it where one is asked for, else by the back key.
func (r *reader) leave(whole bool) bool {
	c := ReadCard{Ask: AskLeave, Hint: r.lang.Say("Nothing was changed; what is stored stays.")}
	if !whole {
		r.path = r.stood.path
		r.arrive(r.stood.node)
		r.shows, r.keys, r.press = r.at().Shows, nil, nil
	}
	if n := r.at(); whole && dropAnswer(n) != "" {
		if _, ok := r.look(ReadCard{Ask: AskGo, Hint: r.lang.Say("All of the zone is read.")}); !ok {
			return false
		}
		c.Caution = r.lang.Say("The zone is not kept: it is in the panel as it was.")
		r.give(dropAnswer(n))
		i := slices.IndexFunc(n.Choices, func(c panel.Choice) bool { return c.Does == panel.DeedDrop })
		r.arrive(n.Choices[i].Next)
	} else {
		for r.node != r.p.Dialogue.Start && r.behind() != "" {
			r.push(r.p.Keypad.Back)
			r.arrive(r.behind())
		}
		c.Until = len(r.press) > 1 || !whole
	}
	_, ok := r.look(c)
	return ok
}

// behind is where the back key leads without leaving programming; "" for nowhere.
func (r *reader) behind() string {
	switch n := r.at(); {
	case n.Back == panel.BackLeave:
		return ""
	case n.Back != "" && n.Back != panel.BackUp:
		return n.Back
	case len(r.path) > 0:
		return r.path[len(r.path)-1]
	}
	return ""
}

// ToRead is one zone of a panel that can be read out.
type ToRead struct {
	Zone       site.ZoneID `json:"zone"` // as the panel shows it
	Label      string      `json:"label"`
	LifeSafety bool        `json:"lifeSafety"`
	Need       Need        `json:"need"`
}

// Need says how much depends on reading a zone.
type Need string

// The needs, the greatest first.
const (
	NeedRead    Need = "read"    // it is planned, and nobody knows what stands there
	NeedChecked Need = "checked" // it was keyed and not seen since
	NeedKnown   Need = "known"   // seen at the panel's own display
	NeedOther   Need = "other"   // nothing is planned there, and nothing was keyed
)

// ReadOrder lists the zones of a panel in the order in which reading them is worth most: what is planned and not known, life
// safety first; what was keyed and not seen since; what is known already; last, zones in which nothing is planned. need
// says of a zone, by its number at the panel, whether anything is known of it and whether it was seen at the display.
func ReadOrder(s *site.Site, p *panel.Profile, need func(number site.ZoneID) (known, seen bool)) []ToRead {
	var out []ToRead
	planned := map[site.ZoneID]bool{}
	for _, id := range site.SortedIDs(s.Zones) {
		n, ok := p.ZoneNumber(id)
		if number := p.ZoneID(n); ok && !planned[number] {
			z := s.Zones[id]
			planned[number] = true
			out = append(out, ToRead{Zone: number, Label: z.Label, LifeSafety: z.Kind.LifeSafety(), Need: NeedRead})
		}
	}
	sorts.Stable(out, func(a, b ToRead) int { return cmp.Compare(life(a), life(b)) })
	for n := p.Zones.First; n <= p.Zones.Last; n++ {
		if number := p.ZoneID(n); !planned[number] {
			out = append(out, ToRead{Zone: number, Need: NeedOther})
		}
	}
	for i := range out {
		switch known, seen := need(out[i].Zone); {
		case seen:
			out[i].Need = NeedKnown
		case known:
			out[i].Need = NeedChecked
		}
	}
	order := []Need{NeedRead, NeedChecked, NeedKnown, NeedOther}
	sorts.Stable(out, func(a, b ToRead) int { return cmp.Compare(slices.Index(order, a.Need), slices.Index(order, b.Need)) })
	return out
}

func life(z ToRead) int {
	if z.LifeSafety {
		return 0
	}
	return 1
}

// checkable says why a keyed zone can not be read back at the keypad; "" when it can, be it by its sum alone.
func checkable(lang *words.Language, p *panel.Profile) string {
	if d := p.Dialogue; d.Marks == "" && (d.Recall && !d.Edits || d.Edits && sumOf(p) != nil) {
		return ""
	}
	return Readable(lang, p)
}

// onlySum says why a panel with drawers shows nothing of a zone but the sum of its answers; "" when it shows each of them.
func onlySum(lang *words.Language, p *panel.Profile) string {
	if p.Dialogue.Marks != "" || !p.Dialogue.Edits || sumOf(p) == nil {
		return ""
	}
	return Readable(lang, p)
}

// sumOf is the key or item that shows the sum of a zone's answers; nil when there is none.
func sumOf(p *panel.Profile) *panel.Pick {
	for _, id := range slices.Sorted(maps.Keys(p.Dialogue.Nodes)) {
		if pick := pickThat(p.Dialogue.Nodes[id], panel.DeedSum); pick != nil {
			return pick
		}
	}
	return nil
}

// Readable says why the keypad of a panel can not be used to read it out; "" when it can.
func Readable(lang *words.Language, p *panel.Profile) string {
	r := newReader(p, p.ZoneID(p.Zones.First), nil, ReadOptions{}, menusOf(p))
	if !r.goTo(opener(p)) {
		return lang.Say("No key leads to the question for the zone.")
	}
	r.open()
	root := r.node
	all := r.menus.targets(p, root)
	if r.leave(true); r.node != p.Dialogue.Start {
		return lang.Say("The back key does not lead out of a zone without leaving programming.")
	}
	r.arrive(root)
	if len(r.at().Picks()) == 0 {
		switch {
		case !p.Dialogue.Recall && !p.Dialogue.Edits:
			return lang.Say("The panel shows nothing of what it holds.")
		case slices.ContainsFunc(slices.Collect(maps.Keys(p.Dialogue.Nodes)), func(id string) bool {
			n := p.Dialogue.Nodes[id]
			return len(n.Picks()) > 0 && !n.Opens && id != p.Dialogue.Start && len(r.menus.targets(p, id)) > 0
		}):
			return lang.Say("Questions lead to menus here: this is not read out card by card.")
		}
		return ""
	}
	for _, t := range all {
		var own uint32
		for _, f := range t.fields {
			own |= bit(f)
		}
		mixed := slices.ContainsFunc(p.Dialogue.Nodes[t.node].Items, func(i panel.Pick) bool {
			under := r.menus.under(i)
			return under&own != 0 && under&^own != 0
		})
		switch shows := p.Dialogue.Nodes[t.node].Shows; {
		case !p.Dialogue.Edits || len(t.fields) > 0 && p.Dialogue.Marks == "":
			return lang.Say("The panel does not show what it holds at %s.", shows)
		case len(t.fields) > 0 && r.menus.round(p, t.node, t.fields[0]):
			return lang.Say("A line below %s leads up again: one mark does not tell where the answer is.", shows)
		case mixed:
			return lang.Say("At %s one mark stands for several answers.", shows)
		case !r.goTo(t.node) || !r.goTo(root):
			return lang.Say("No key leads to %s and back without answering.", shows)
		}
	}
	return ""
}

// opener is the node that asks for the zone.
func opener(p *panel.Profile) string {
	for _, id := range slices.Sorted(maps.Keys(p.Dialogue.Nodes)) {
		if p.Dialogue.Nodes[id].Opens {
			return id
		}
	}
	return p.Dialogue.Start
}
