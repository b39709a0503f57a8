package papers

import (
	"cmp"
	"slices"
	"strings"

	"proofbell/internal/guide"
	"proofbell/internal/keypad"
	"proofbell/internal/words"
	"proofbell/site"
)

// Keying is what the keying sheet and the keypad guides are made from.
type Keying struct {
	Sheet keypad.Sheet             // brings the panel from what it holds to what the site wants
	Whole func() keypad.Sheet      // keys every zone, as if nothing were known of the panel: what is taught
	Lost  []string                 // what to do when the panel shows something else
	Taken map[site.ZoneID][]string // stops that someone took on, by zone, with the reason and whose word it is
	Only  []site.ZoneID            // zones to print, numbered as at the panel; none: all
}

func (k Keying) prints(zone site.ZoneID) bool {
	return len(k.Only) == 0 || slices.Contains(k.Only, zone)
}

// NeverKey stands on everything that shows the keys of a practice site; "" for a site in earnest.
func NeverKey(l *words.Language, s *site.Site) string {
	switch {
	case s.Planted != nil:
		return l.Say("PRACTICE with planted mistakes: never key this into a panel")
	case s.Practice:
		return l.Say("PRACTICE: never key this into a real panel")
	}
	return ""
}

// KeyBlock is what is keyed for one zone, prompt by prompt, to be ticked off by hand.
type KeyBlock struct {
	Title string   `json:"title"` // "Zone 09"; "Leave programming"
	Name  string   `json:"name"`  // its label
	Kind  string   `json:"kind"`
	Stops []string `json:"stops"` // why it is not to be keyed; then there are no rows
	Taken []string `json:"taken"` // a stop that someone took on
	Head  []string `json:"head"`  // of the columns
	Rows  []KeyRow `json:"rows"`
	Check []KeyRow `json:"check"` // reads the zone back
	Read  []string `json:"read"`  // of the check: its title and the heads of its columns
	More  string   `json:"more"`  // stands over what goes on on the next page
}

// KeyRow is one prompt.
type KeyRow struct {
	Shows string       `json:"shows"`
	Sees  string       `json:"sees"` // the stored answer that has to stand there
	Press []keypad.Cap `json:"press"`
	Means string       `json:"means"`
	Then  string       `json:"then"`
	Note  string       `json:"note"` // letter of the note that belongs to it
}

// keying writes the keying sheet: paper to be laid beside the keypad, with a box to tick for every prompt.
func (w *writer) keying() {
	l, s, p := w.l, w.s, w.Profile
	if p == nil || w.Keying == nil {
		w.lack("survey", l.Say("The panel is not chosen yet"))
		w.add(Section{ID: "none", Text: []string{l.Say("Without a panel there are no keys.")}})
		return
	}
	k := w.Keying()
	sheet := k.Sheet
	w.lackAccount()
	if s.Planted != nil {
		w.add(Section{ID: "planted", Own: true, Framed: true, Title: NeverKey(l, s), Text: []string{l.Say("Answers on it are wrong on purpose. It is for the simulated keypad.")}})
	}
	emergency := cmp.Or(s.Premises.EmergencyNumber, l.Say("the local emergency number"))
	var keyed []keypad.ZoneCards
	for _, z := range sheet.Zones {
		if k.prints(z.Zone) {
			keyed = append(keyed, z)
		}
	}
	first := []string{l.Say("Opening the lid and programming send signals. While the account is on test nobody will come. Real smoke: stop, leave, call %s.", emergency)}
	w.add(Section{
		ID: "ontest", Own: true, Framed: true, Title: l.Say("First: on test"), Text: append(first, keypad.TestCautions(l, p, keyed)...),
		Ticks: []string{
			l.Say("Station called, %s. Account %s read back by them, digit by digit.", cmp.Or(join(", ", s.Station.Name, s.Station.OnTestPhone), "____"), cmp.Or(spell(s.Account.Number), "____")),
			l.Say("On test from ________ until ________. Who watches meanwhile: ____________________"),
			l.Say("First signal seen by the station. Only now is the lid opened."),
			l.Say("The panel's program version is %s. With another one stop: this sheet is not for it.", p.Version),
		},
	})
	var about []Pair
	w.pair(&about, l.Say("Panel"), join(", ", p.Title, l.Say("program version %s", p.Version), w.place(s.Panel.Room)))
	w.pair(&about, l.Say("Keys to press"), join(". ", l.Say("%d, about %s min", sheet.Count, l.Number(sheet.Minutes, -1)), sheet.Estimate))
	w.pair(&about, l.Say("Already as wanted"), words.List(l, sheet.Same))
	w.pair(&about, l.Say("In the panel, not in the schedule"), words.List(l, sheet.Extra))
	if s.Planted == nil {
		w.pair(&about, l.Say("Checked against"), w.RuleSet)
	}
	about = append(about, Pair{l.Say("Keyed by, day, from, until"), ""})
	told := len(w.Sections)
	w.add(Section{ID: "about", Title: l.Say("This sheet"), Own: true, Pairs: about})
	w.add(Section{ID: "lost", Own: true, Framed: true, Title: l.Say("If the panel shows something else"), Text: k.Lost})

	letters := map[string]string{}
	var notes []Pair
	for _, z := range sheet.Zones {
		for _, c := range slices.Concat(z.Cards, z.Check) {
			if c.Caution != "" && letters[c.Caution] == "" && k.prints(z.Zone) {
				letter := strings.Repeat(string(rune('a'+len(notes)%26)), len(notes)/26+1)
				letters[c.Caution] = letter
				notes = append(notes, Pair{letter, c.Caution})
			}
		}
	}
	how := []string{
		l.Say("One line is one prompt: what the panel shows, the keys, what it shows then. Tick it when it does. Tick the large box when the zone is stored."),
		l.Say("Keys stand in boxes, grouped for the eye."),
	}
	if p.Keypad.LetterPause.SI() > 0 {
		how[1] += " " + l.Say("WAIT in a black box: press nothing for %s, so that the letter stands.", l.Measure(p.Keypad.LetterPause))
	}
	w.add(Section{ID: "notes", Own: true, Title: l.Say("How to read it"), Text: how, Notes: notes})
	for _, problem := range sheet.Problems {
		if !problem.Blocks {
			w.Sections[told].Text = append(w.Sections[told].Text, join(" ", l.Say("Zone %s", problem.Zone)+":", words.Upper(problem.Say)+".", problem.Do))
		}
	}

	empty := true
	for _, z := range sheet.Zones {
		if k.prints(z.Zone) {
			empty = false
			w.add(Section{ID: "zone." + string(z.Zone), Keys: w.keyBlock(z, k.Taken[z.Zone], letters)})
		}
	}
	if empty {
		w.add(Section{ID: "nothing", Text: []string{l.Say("Nothing is left to key: the panel holds every zone as the schedule wants it, as far as the job book knows.")}})
	}
	if len(sheet.Leave) > 0 && !empty {
		w.add(Section{ID: "leave", Own: true, Keys: &KeyBlock{Title: l.Say("Leave programming"), Head: w.keyHead(), Rows: w.keyRows(sheet.Leave, letters), Stops: []string{}, Taken: []string{}, Check: []KeyRow{}, Read: []string{}, More: w.Frame.Continued}})
	}
	if set := Settings(l, s); len(set) > 0 && len(k.Only) == 0 {
		ticks := make([]string, len(set))
		for i, one := range set {
			ticks[i] = one.Name + ": " + one.Value
		}
		w.add(Section{ID: "settings", Title: l.Say("For the whole panel: on no card"), Text: []string{l.Say("The cards key zones. These are set, or seen to be set, as the panel's instructions say.")}, Ticks: ticks})
	}
	w.add(Section{ID: "close", Own: true, Title: l.Say("Before you go"), Ticks: []string{
		l.Say("Lid closed, lid switch restored. No trouble left on the display."),
		l.Say("Everything that was changed for the work put back: sounders, paths, areas left out."),
		l.Say("One device of every keyed zone tripped and its signal read back, or put down as still to be proved. A keyed zone is not a proved zone."),
		l.Say("Account off test at ________. The station's words: ________________________________"),
		l.Say("What is ticked here is ticked in the job too. This paper stays with the firm, not in the panel."),
	}, Signs: []Sign{{As: "technician", Say: l.Say("Keyed by"), Strokes: [][][2]int{}}, {Say: l.Say("Read against the schedule by"), Strokes: [][][2]int{}}}})
}

func (w *writer) keyHead() []string {
	return []string{w.l.Say("The panel shows"), w.l.Say("Press"), w.l.Say("Then it shows")}
}

func (w *writer) keyBlock(z keypad.ZoneCards, taken []string, letters map[string]string) *KeyBlock {
	l := w.l
	b := &KeyBlock{
		Title: l.Say("Zone %s", z.Zone), Name: z.Label, Kind: w.kind(z.Kind), Stops: slices.Concat([]string{}, z.Stops), Taken: slices.Concat([]string{}, taken),
		Head: w.keyHead(), Rows: w.keyRows(z.Cards, letters), Check: w.keyRows(z.Check, letters), Read: []string{l.Say("Read it back: nothing is changed"), l.Say("The panel shows"), l.Say("Must stand there"), l.Say("Press")}, More: l.Say("Zone %s, continued", z.Zone),
	}
	if z.LifeSafety {
		b.Kind = join(", ", b.Kind, l.Say("life safety"))
	}
	return b
}

func (w *writer) keyRows(cards []keypad.Card, letters map[string]string) []KeyRow {
	out := make([]KeyRow, len(cards))
	for i, c := range cards {
		r := KeyRow{Press: keypad.Caps(w.l, c.Press), Shows: c.Shows, Sees: c.Sees, Then: c.Then, Note: letters[c.Caution], Means: c.Means}
		switch typed := strings.ReplaceAll(c.Answer, " ", ""); {
		case strings.Contains(strings.Join(c.Press, ""), typed): // stands on the keys as it is
		case c.Means == "" || strings.EqualFold(c.Means, c.Answer):
			r.Means = c.Answer
		default:
			r.Means = c.Answer + ", " + c.Means // the letters that the presses make, and what they say
		}
		out[i] = r
	}
	return out
}

func (w *writer) lessons() { w.teach(guide.Junior) }
func (w *writer) reasons() { w.teach(guide.Customer) }

// teach writes a keypad guide.
func (w *writer) teach(reader guide.Reader) {
	l, p := w.l, w.Profile
	if p == nil || w.Keying == nil {
		w.lack("survey", l.Say("The panel is not chosen yet"))
		w.add(Section{ID: "none", Text: []string{l.Say("Without a panel there are no keys.")}})
		return
	}
	k := w.Keying()
	g := guide.Make(w.s, p, k.Whole(), guide.Options{Lang: l, Reader: reader, Zones: k.Only, Lost: k.Lost})
	w.Pad, w.Head = &g.Pad, &g.Head
	w.Script, w.Captions = guide.Script(g), guide.Captions(g)
	w.add(Section{ID: "intro", Text: g.Intro})
	w.add(Section{ID: "first", Framed: true, Title: g.Head.First, Text: g.First})
	w.add(Section{ID: "keypad", Title: g.Head.Keypad, Text: append([]string{g.Panel + "."}, g.Keypad...), Pad: true})
	for _, c := range g.Chapters {
		s := Section{ID: "zone." + c.Zone, Title: c.Title, Text: c.Watches, Lessons: c.Steps}
		for _, stop := range c.Stops {
			s.Text = append(s.Text, l.Say("It must not be keyed: %s", stop))
		}
		w.add(s)
		if c.CheckAs == "" {
			continue
		}
		check := Section{ID: "check." + c.Zone, Text: []string{c.CheckAs}}
		if len(c.Check) > 0 {
			b := w.readBack(c.Check)
			check.Keys = &b
		}
		w.add(check)
	}
	if len(g.Lost) > 0 {
		w.add(Section{ID: "lost", Title: g.Head.Lost, Text: g.Lost})
	}
	w.add(Section{ID: "close", Title: g.Head.Close, Text: g.Close})
}

// readBack is the part of a block that reads a zone back, alone.
func (w *writer) readBack(moves []guide.Move) KeyBlock {
	h := w.Head
	b := KeyBlock{Stops: []string{}, Taken: []string{}, Head: []string{}, Rows: []KeyRow{}, Read: []string{h.Read, h.Shows, h.Stands, h.Press}}
	for _, mv := range moves {
		b.Check = append(b.Check, KeyRow{Shows: mv.Shows, Sees: mv.Sees, Press: mv.Press, Then: mv.Then})
	}
	return b
}
