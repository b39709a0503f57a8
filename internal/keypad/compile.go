package keypad

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"strings"

	"proofbell/internal/sorts"
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
	ReadBack bool            // after each zone that stands for a life or a call for help, cards that show every answer as stored
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
	Plain    Effort        `json:"plain"`    // the plain way: every answer of every zone keyed in the order of the dialogue
}

// Effort is what work at the keypad takes.
type Effort struct {
	Count   int     `json:"count"`   // keys, without waits
	Minutes float64 `json:"minutes"` // estimate, rounded up to half a minute
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
	Press   []string    `json:"press"`             // keys, grouped for the eye: "7777", "OK"; "wait"; "until X" behind a key that is pressed until X stands there, and not at all when it does
	Caps    []Cap       `json:"caps,omitempty"`    // Press as it is drawn; absent where every group is a key of its own
	Then    string      `json:"then"`              // what the panel shows afterwards
	Sees    string      `json:"sees,omitempty"`    // of a check: the stored answer that has to stand there
	Why     string      `json:"why,omitempty"`     // what the answer is good for
	Caution string      `json:"caution,omitempty"` // at this prompt
	Until   bool        `json:"until,omitempty"`   // of a rescue: press again until Then is shown, and nothing when it stands there already
	keys    []string
	more    int // keys beyond these that may be needed at most
}

// Keys returns the keys of the card one by one, as a key list has them.
func (c Card) Keys() []string { return slices.Clone(c.keys) }

// row is one zone to be keyed.
type row struct {
	id     site.ZoneID // in the site
	number site.ZoneID // at the panel
	zone   site.Zone
	want   Slots // nil when the panel can not be told
	stops  []string
	device string // in words
}

// Compile makes the sheet that brings a panel from what it holds to what the site wants, with the fewest keys for each zone.
// Nothing is known of zones that asFound does not name, so all of their answers are keyed; a zone in it without answers is
// known to be empty. Life-safety zones come first; each zone ends with its KEEP, so whenever the
// work is broken off every zone in the panel is whole. Zones that the panel already holds as wanted are left out. A zone
// with a stop, or one that the panel can not be told, is shown with the reason and without keys.
func Compile(s *site.Site, p *panel.Profile, asFound ZoneTable, opt Options) Sheet {
	l := opt.Lang
	table, problems := WantedIn(l, s, p)
	blocked := map[site.ZoneID][]string{} // id in the site -> why it can not be keyed
	for _, pr := range problems {
		if pr.Blocks {
			blocked[pr.Zone] = append(blocked[pr.Zone], words.Upper(pr.Say)+". "+pr.Do)
		}
	}
	var rows []row
	for id, z := range s.Zones {
		r := row{id: id, number: id, zone: z, device: deviceSay(s, z.Device)}
		if n, ok := p.ZoneNumber(id); ok {
			r.number = p.ZoneID(n)
		}
		r.want, r.stops = table[r.number], append(stopsOf(opt.Stops, id, r.number), blocked[id]...)
		rows = append(rows, r)
	}
	return lay(p, rows, asFound, opt, Sheet{Site: s.Name, Practice: s.Practice, Problems: problems})
}

// Between makes the sheet that brings a panel from one zone table to another: back to what was found, for example. Zones of
// have that want does not name are left alone, and it says so.
func Between(p *panel.Profile, have, want ZoneTable, opt Options) Sheet {
	var rows []row
	for id, slots := range want {
		if len(slots) == 0 {
			continue // no panel can be told that a zone was never programmed
		}
		r := row{id: id, number: id, want: slots, stops: stopsOf(opt.Stops, id)}
		r.zone.Kind, _ = p.KindOf(slots[panel.FieldKind], slots[panel.FieldCode])
		for _, n := range wordsOf(p, slots) {
			r.zone.Words = append(r.zone.Words, p.Word(n))
		}
		r.zone.Label = strings.Join(r.zone.Words, " ")
		if err := answerable(p, slots); err != nil {
			r.want, r.stops = nil, append(r.stops, words.Upper(said(opt.Lang, err))+".")
		}
		rows = append(rows, r)
	}
	return lay(p, rows, have, opt, Sheet{})
}

// lay makes the sheet of these zones.
func lay(p *panel.Profile, rows []row, asFound ZoneTable, opt Options, sheet Sheet) Sheet {
	l := opt.Lang
	sheet.Format, sheet.Panel, sheet.Version, sheet.Keys, sheet.Zones = KeysFormat, p.Name, p.Version, []string{}, []ZoneCards{}
	sheet.Cautions = []string{
		l.Say("Put the account on test before the lid is opened or programming begins. While it is on test nobody will come: agree who watches and how to call help."),
		l.Say("Real smoke during the work: stop, leave, call the emergency number."),
		l.Say("Work inside mains alarms and boxes is for a licensed electrician. Instructions of the panel and local codes come first."),
		l.Say("Keys are worked out from the schedule. A keyed zone is not a proved zone: trip its device and follow the signal."),
	}
	sorts.By(rows, func(a, b row) int {
		return cmp.Or(cmp.Compare(rank(a.zone), rank(b.zone)), site.NaturalOrder(string(a.id), string(b.id)))
	})
	var plain tally
	pl, menus := newPlanner(p), menusOf(p)
	unread, asks := checkable(l, p), asksFor(p)
	sums, summed := onlySum(l, p), false // why, and that a zone is read back so
	var doubtful []string                // what may stand in a zone of which nothing is known
	named := map[site.ZoneID]bool{}
	for _, r := range rows {
		named[r.number] = true
		zc := ZoneCards{Zone: r.number, Label: r.zone.Label, Kind: r.zone.Kind, LifeSafety: r.zone.Kind.LifeSafety()}
		found, known := asFound[r.number]
		if p.Dialogue.Edits && r.want != nil {
			for _, f := range panel.Fields() {
				_, wanted := r.want[f]
				switch {
				case wanted:
				case found[f] != "":
					pr := Problem{Zone: r.id, Field: f, Say: l.Say("the panel holds %s %q for this zone and can not be told to forget it", f, found[f]), Do: l.Say("Clear the zone as the panel's instructions say, read it out here (As found), then key it."), Blocks: true}
					sheet.Problems = append(sheet.Problems, pr)
					r.stops = append(r.stops, words.Upper(pr.Say)+". "+pr.Do)
				case !known && asks[f] && len(r.stops) == 0:
					doubtful = append(doubtful, l.Say("zone %s: %s", r.number, f.Say().In(l)))
				}
			}
		}
		if zc.Stops = r.stops; len(r.stops) > 0 { // shown even when the panel holds it already: it is unsafe there too
			sheet.Zones = append(sheet.Zones, zc)
			continue
		}
		k := keyer{lang: l, p: p, zone: r.number, z: r.zone, device: r.device, slots: r.want, menus: menus}
		t := aim{r.number, found, r.want}
		if known && found == nil {
			t.have = Slots{}
		}
		plain.count(pl.sum(pl.plain(t)))
		if opt.ReadBack && vital(zc.Kind) && unread == "" {
			k.sum = sums != ""
			zc.Check, summed = k.check(), summed || k.sum
			plain.add(zc.Check)
		}
		if known && maps.Equal(found, r.want) {
			sheet.Same = append(sheet.Same, r.number)
			continue
		}
		zc.Cards = k.cards(pl.plan(t))
		sheet.Zones = append(sheet.Zones, zc)
	}
	if opt.ReadBack && unread != "" {
		sheet.Cautions = append(sheet.Cautions, l.Say("Keyed zones can not be read back at this keypad. %s Prove every zone at the station instead.", unread))
	}
	if summed {
		sheet.Cautions = append(sheet.Cautions, l.Say("Of a keyed zone this keypad shows the sum and not each answer. %s Two mistakes can hide each other in a sum: prove these zones at the station in every answer.", sums))
	}
	if len(doubtful) > 0 {
		sheet.Cautions = append(sheet.Cautions, l.Say("Nobody knows what stood there before, and this panel forgets nothing by itself (%s). Read these zones out first, or see at the panel that nothing stands there.", strings.Join(doubtful, "; ")))
	}
	sheet.Cautions = append(sheet.Cautions, TestCautions(l, p, sheet.Zones)...)
	slices.Sort(sheet.Same)
	for _, id := range slices.Sorted(maps.Keys(asFound)) {
		if !named[id] && len(asFound[id]) > 0 {
			sheet.Extra = append(sheet.Extra, id)
			sheet.Problems = append(sheet.Problems, Problem{Zone: id, Say: l.Say("the panel holds this zone and the schedule does not have it; the sheet leaves it alone"), Do: l.Say("Survey it, or schedule it as not used.")})
		}
	}
	sheet.finish(l, p, plain)
	return sheet
}

// asksFor are the fields of a zone that a panel can be told.
func asksFor(p *panel.Profile) map[panel.Field]bool {
	out := map[panel.Field]bool{}
	for _, n := range p.Dialogue.Nodes {
		out[n.Field] = n.Field != "" && !n.Opens
		for _, i := range n.Items {
			for f := range i.Sets {
				out[f] = true
			}
		}
	}
	return out
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

// vital kinds stand for a life or a call for help.
func vital(k site.ZoneKind) bool { return rank(site.Zone{Kind: k}) <= 1 }

func stopsOf(stops []Stop, ids ...site.ZoneID) []string {
	var out []string
	for _, st := range stops {
		if st.Zone == "" || slices.Contains(ids, st.Zone) {
			out = append(out, st.Text)
		}
	}
	return out
}

// tally counts what cards ask for.
type tally struct{ keys, waits, prompts int }

func (t *tally) add(cards []Card) {
	for _, c := range cards {
		t.prompts, t.keys = t.prompts+1, t.keys+c.more
		for _, k := range c.keys {
			if k == panel.Wait {
				t.waits++
			} else {
				t.keys++
			}
		}
	}
}

// count adds what steps cost.
func (t *tally) count(c cost) {
	t.keys += int(c / oneKey)
	t.waits += int(c % oneKey / oneWait)
	t.prompts += int(c % oneWait)
}

// effort estimates the time from the profile's times for a key, a prompt and a wait.
func (t tally) effort(p *panel.Profile) Effort {
	seconds := float64(t.keys)*p.Timing.PerKey.SI() + float64(t.prompts)*p.Timing.PerPrompt.SI() + float64(t.waits)*p.Keypad.LetterPause.SI()
	return Effort{t.keys, math.Ceil(seconds/30) / 2}
}

// finish collects the keys and the estimate.
func (sh *Sheet) finish(l *words.Language, p *panel.Profile, plain tally) {
	var sum tally
	add := func(cards []Card) {
		sum.add(cards)
		for _, c := range cards {
			sh.Keys = append(sh.Keys, c.keys...)
		}
	}
	for _, z := range sh.Zones {
		add(z.Cards)
		add(z.Check)
	}
	if start := p.Dialogue.Nodes[p.Dialogue.Start]; start.Back == panel.BackLeave && plain.keys > 0 {
		leave := numbered(l, []Card{{Shows: start.Shows, Press: []string{p.Keypad.Back}, Then: p.Dialogue.Left, Why: l.Say("Ends programming."), keys: []string{p.Keypad.Back}}})
		if plain.add(leave); len(sh.Keys) > 0 {
			sh.Leave = leave
			add(leave)
		}
	}
	effort := sum.effort(p)
	sh.Count, sh.Minutes, sh.Plain = effort.Count, effort.Minutes, plain.effort(p)
	if sh.Estimate = l.Say("Estimate: %d keys at %s, %d prompts at %s.", sum.keys, l.Measure(p.Timing.PerKey), sum.prompts, l.Measure(p.Timing.PerPrompt)); p.Keypad.LetterPause.SI() == 0 {
		return
	}
	sh.Estimate = l.Say("Estimate: %d keys at %s, %d prompts at %s, %d waits of %s.", sum.keys, l.Measure(p.Timing.PerKey), sum.prompts, l.Measure(p.Timing.PerPrompt), sum.waits, l.Measure(p.Keypad.LetterPause))
}
