// Package guide teaches what is keyed: it turns the cards of a keying sheet into a guide for somebody who keys for the
// first time, or for a customer who wants to know what was set and why. Each step is taught once, with a picture of the
// keypad; later zones refer to it, so that the guide stays short enough to use. The same steps give a script to speak
// while recording, with times, and captions.
//
// The package is pure: the same sheet, site and reader give the same guide.
package guide

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"proofbell/internal/keypad"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// Reader is for whom a guide is written.
type Reader string

// The readers.
const (
	Junior   Reader = "junior"   // keys at the panel
	Customer Reader = "customer" // wants to know what was set, and why
)

// Options say what a guide is made from.
type Options struct {
	Lang   *words.Language
	Reader Reader        // "" is Junior
	Zones  []site.ZoneID // as the panel numbers them; none: one of each kind
	Lost   []string      // for a junior: what to do when the panel shows something else
}

// Course is a guide in words. Scenes are the same, to be spoken.
type Course struct {
	Reader   Reader    `json:"reader"`
	Lang     string    `json:"lang"`
	Title    string    `json:"title"`
	Name     string    `json:"name"`     // of the site
	Panel    string    `json:"panel"`    // with the version of its program
	Practice string    `json:"practice"` // "" when the site is none
	Intro    []string  `json:"intro"`
	First    []string  `json:"first"` // before anything is touched
	Keypad   []string  `json:"keypad"`
	Pad      panel.Pad `json:"pad"`
	Chapters []Chapter `json:"chapters"`
	Lost     []string  `json:"lost"`
	Close    []string  `json:"close"`
	Leave    []Move    `json:"leave"`
	Head     Headings  `json:"head"`
	Lessons  int       `json:"lessons"` // how many steps are taught
	Length   string    `json:"length"`  // of the spoken guide, and how it was estimated
	Scenes   []Scene   `json:"scenes"`
}

// Headings are the words over the parts.
type Headings struct {
	First  string `json:"first"`
	Keypad string `json:"keypad"`
	Lost   string `json:"lost"`
	Close  string `json:"close"`
	Shows  string `json:"shows"` // the panel shows
	Press  string `json:"press"`
	Then   string `json:"then"`
	That   string `json:"that"`   // is, before an answer in words
	Read   string `json:"read"`   // the zone back
	Stands string `json:"stands"` // must stand there
}

// Chapter is one zone.
type Chapter struct {
	Zone    string   `json:"zone"`
	Label   string   `json:"label"` // "Lesson 4", "Lessons 7 to 9"
	Title   string   `json:"title"`
	Say     string   `json:"say"`     // of Before: the whole sentence
	Watches []string `json:"watches"` // what it is there for
	Stops   []string `json:"stops"`   // why it is not to be keyed; then nothing is taught
	Steps   []Step   `json:"steps"`
	Check   []Move   `json:"check"`   // reads the zone back
	CheckAs string   `json:"checkAs"` // how, in a sentence
	check   []Move   // all of it, also where it is not written out
}

// How a step is told.
const (
	Taught = "taught" // for the first time, with a picture
	Answer = "answer" // a prompt that was taught, with another answer
	Before = "before" // exactly as taught: only named
)

// Step is one setting of a zone.
type Step struct {
	Lesson  int          `json:"lesson"`
	To      int          `json:"to"`    // of Before: last lesson of several in a row
	Told    string       `json:"told"`  // Taught, Answer, Before
	Label   string       `json:"label"` // "Lesson 4", "Lessons 7 to 9"
	Title   string       `json:"title"`
	Say     string       `json:"say"`   // of Before: the whole sentence
	Moves   []Move       `json:"moves"` // none for Before
	Press   []keypad.Cap `json:"press"` // of all moves
	Answer  string       `json:"answer"`
	Why     []string     `json:"why"`
	Caution string       `json:"caution"`
	Marks   []Mark       `json:"marks"` // on the picture
	keys    []string
	prompts int
}

// Move is one prompt: what is shown, what is pressed, what is shown then.
type Move struct {
	Shows string       `json:"shows"`
	Sees  string       `json:"sees"` // the stored answer that has to stand there
	Press []keypad.Cap `json:"press"`
	Then  string       `json:"then"`
	keys  []string
}

// Mark is a key to press, with the places in the order of pressing.
type Mark struct {
	Key   string `json:"key"`
	Order string `json:"order"` // "1–4"; "6 ×" where that would be too long
}

// Make writes a guide from a sheet that keys its zones from the beginning.
func Make(s *site.Site, p *panel.Profile, sheet keypad.Sheet, o Options) Course {
	l := o.Lang
	m := &maker{Options: o, l: l, s: s, p: p, lessons: map[string]*lesson{}, told: map[string]bool{}}
	m.table, _ = keypad.WantedIn(l, s, p)
	m.ids = map[site.ZoneID]site.ZoneID{}
	for id := range s.Zones {
		if n, ok := p.ZoneNumber(id); ok {
			m.ids[p.ZoneID(n)] = id
		}
	}
	if m.Reader == "" {
		m.Reader = Junior
	}
	g := Course{
		Reader: m.Reader, Lang: l.Tag(), Name: s.Name, Panel: l.Say("%s, program version %s", cmp.Or(p.Title, p.Name), p.Version),
		Pad: p.Keypad.Pad(), Chapters: []Chapter{}, Lost: []string{}, Leave: []Move{}, Head: m.headings(),
	}
	g.Title = m.two(l.Say("Keypad lessons"), l.Say("What was keyed, and why"))
	if s.Practice {
		g.Practice = l.Say("PRACTICE: never key this into a real panel. This can never become a certificate.")
	}
	g.Intro, g.First, g.Keypad = m.intro(), m.first(sheet), m.keypad()
	zones := o.Zones
	if len(zones) == 0 {
		zones = OneOfEach(sheet)
		if len(zones) < len(sheet.Zones) {
			g.Intro = append(g.Intro, l.Say("It shows one zone of each kind: %s. The others are keyed the same way.", words.List(l, zones)))
		}
	}
	for _, z := range sheet.Zones {
		if slices.Contains(zones, z.Zone) {
			g.Chapters = append(g.Chapters, m.chapter(z))
		}
	}
	if m.Reader == Junior {
		g.Lost = append(g.Lost, o.Lost...)
		for _, c := range sheet.Leave {
			g.Leave = append(g.Leave, m.move(c))
		}
	}
	g.Close = m.close()
	g.Lessons = len(m.lessons)
	m.scenes(&g)
	return g
}

// OneOfEach picks the first zone of each kind that can be keyed: enough to learn from.
func OneOfEach(sheet keypad.Sheet) []site.ZoneID {
	var out []site.ZoneID
	seen := map[site.ZoneKind]bool{}
	for _, z := range sheet.Zones {
		if len(z.Cards) > 0 && !seen[z.Kind] {
			seen[z.Kind] = true
			out = append(out, z.Zone)
		}
	}
	return out
}

// lesson is a step that was taught.
type lesson struct {
	number int
	press  string // the keys as they were taught
}

type maker struct {
	Options
	l       *words.Language
	s       *site.Site
	p       *panel.Profile
	table   keypad.ZoneTable
	ids     map[site.ZoneID]site.ZoneID // number at the panel -> id in the site
	lessons map[string]*lesson          // by what is set
	told    map[string]bool             // reasons that were given
	read    string                      // the zone with which reading back was taught; "" not yet
}

// two chooses between the wording for a junior and for a customer.
func (m *maker) two(junior, customer string) string {
	if m.Reader == Customer {
		return customer
	}
	return junior
}

func (m *maker) headings() Headings {
	l := m.l
	return Headings{
		First: l.Say("Before you begin"), Keypad: l.Say("The keypad"), Lost: l.Say("If the panel shows something else"), Close: l.Say("Before you go"),
		Shows: l.Say("The panel shows"), Press: m.two(l.Say("Press"), l.Say("Pressed")), Then: l.Say("Then it shows"), That: l.Say("That is"), Read: l.Say("Read it back: nothing is changed"), Stands: l.Say("Must stand there"),
	}
}

func (m *maker) chapter(z keypad.ZoneCards) Chapter {
	l := m.l
	c := Chapter{Zone: string(z.Zone), Title: l.Say("Zone %s, %s", z.Zone, cmp.Or(z.Label, l.Say("without a label"))), Stops: slices.Concat([]string{}, z.Stops), Steps: []Step{}, Check: []Move{}}
	at := m.at(z.Zone)
	c.Watches = at.watches()
	for _, group := range steps(z.Cards) {
		c.Steps = m.add(c.Steps, m.step(at, group))
	}
	for i := range c.Steps {
		st := &c.Steps[i]
		if st.Label = l.Say("Lesson %d", st.Lesson); st.To > st.Lesson {
			st.Label = l.Say("Lessons %d to %d", st.Lesson, st.To)
		}
		if st.Told == Before {
			st.Say = l.Say("As taught: %s.", st.Title)
		}
	}
	if len(z.Check) > 0 {
		m.check(&c, z.Check)
	}
	return c
}

// few is how many prompts of a check are written out each time.
const few = 5

func (m *maker) check(c *Chapter, cards []keypad.Card) {
	l := m.l
	for _, card := range cards {
		c.check = append(c.check, m.move(card))
	}
	switch {
	case m.read == "":
		c.CheckAs = m.two(
			l.Say("Open the zone again and look at every stored answer, without changing one. Nobody notices a wrong digit in a life-safety zone until it burns."),
			l.Say("Afterwards the zone was opened again and every stored answer was looked at, because nobody notices a wrong digit until it burns."))
	case len(cards) > few:
		c.CheckAs = l.Say("Read it back as zone %s was read back: every answer as above, then leave without keeping.", m.read)
		return
	default:
		c.CheckAs = l.Say("Read it back as before.")
	}
	c.Check = c.check
	m.read = cmp.Or(m.read, c.Zone)
}

// steps cuts the cards of a zone behind each answer: the way through a menu belongs to the answer that it leads to.
func steps(cards []keypad.Card) [][]keypad.Card {
	var out [][]keypad.Card
	from := 0
	for i, c := range cards {
		if c.Field != "" || i == len(cards)-1 {
			out = append(out, cards[from:i+1])
			from = i + 1
		}
	}
	return out
}

// step tells the cards of one setting: taught the first time, later only what is different.
func (m *maker) step(at zoneAt, cards []keypad.Card) Step {
	last := cards[len(cards)-1]
	what, press := string(last.Field), ""
	if what == "" {
		what = "keep"
	}
	st := Step{Title: m.title(last.Field), Answer: answer(last), Why: []string{}, Caution: last.Caution, Moves: []Move{}, Marks: []Mark{}, prompts: len(cards)}
	if last.Field == panel.FieldKind {
		st.Caution = sentences(st.Caution, keypad.TestSay(m.l, m.p, at.zone.Kind))
	}
	for _, c := range cards {
		st.keys, st.Press = append(st.keys, m.keys(c)...), append(st.Press, keypad.Caps(m.l, c.Press)...)
		press += strings.Join(c.Press, " ") + "|"
	}
	known := m.lessons[what]
	reason := at.reason(last)
	fresh := reason != "" && !m.told[reason]
	m.told[reason] = true
	switch {
	case known == nil:
		known = &lesson{len(m.lessons) + 1, press}
		m.lessons[what] = known
		st.Told, st.Marks = Taught, marks(st.keys)
		if last.Why != "" && !(fresh && m.Reader == Customer) {
			st.Why = append(st.Why, last.Why)
		}
	case known.press == press && !fresh:
		st.Told, st.Lesson, st.To, st.Answer, st.Caution = Before, known.number, known.number, "", ""
		return st
	default:
		st.Told = Answer
	}
	st.Lesson, st.To = known.number, known.number
	if fresh {
		st.Why = append(st.Why, reason)
	}
	for _, c := range cards {
		st.Moves = append(st.Moves, m.move(c))
	}
	if caution := st.Caution; caution != "" && st.Told == Answer && m.told[caution] {
		st.Caution = "" // said before
	}
	m.told[st.Caution] = true
	return st
}

// add joins steps that are as before and stand in a row.
func (m *maker) add(list []Step, st Step) []Step {
	if n := len(list) - 1; n >= 0 && st.Told == Before && list[n].Told == Before && list[n].To+1 == st.Lesson {
		list[n].To, list[n].prompts = st.To, list[n].prompts+st.prompts
		list[n].Title += ", " + st.Title
		list[n].keys, list[n].Press = append(list[n].keys, st.keys...), append(list[n].Press, st.Press...)
		return list
	}
	return append(list, st)
}

// answer is what is meant, as the panel writes it and in words.
func answer(c keypad.Card) string {
	if c.Means == "" && strings.Contains(strings.Join(c.Press, ""), strings.ReplaceAll(c.Answer, " ", "")) {
		return "" // it stands on the keys as it is
	}
	if c.Answer == "" || c.Means == "" || strings.EqualFold(c.Answer, c.Means) {
		return cmp.Or(c.Means, c.Answer)
	}
	return c.Answer + ", " + c.Means
}

func (m *maker) move(c keypad.Card) Move {
	return Move{Shows: c.Shows, Sees: c.Sees, Press: keypad.Caps(m.l, c.Press), Then: c.Then, keys: m.keys(c)}
}

// keys are the keys of a card one by one, from how it writes them: a sheet that was read from a file has nothing else.
func (m *maker) keys(c keypad.Card) []string {
	var out []string
	for _, group := range c.Press {
		switch {
		case group == "wait":
			out = append(out, panel.Wait)
		case strings.HasPrefix(group, "until "): // as often as it takes
		case slices.Contains(m.p.Keypad.Keys, group):
			out = append(out, group)
		default:
			out = append(out, strings.Split(group, "")...)
		}
	}
	return out
}

// longMark is the longest order that a key has room for.
const longMark = 6

// marks says of each key that is pressed at which places.
func marks(keys []string) []Mark {
	var order []string
	at := map[string][]int{}
	n := 0
	for _, key := range keys {
		if key == panel.Wait {
			continue
		}
		n++
		if at[key] == nil {
			order = append(order, key)
		}
		at[key] = append(at[key], n)
	}
	out := []Mark{}
	for _, key := range order {
		say := runs(at[key])
		if len([]rune(say)) > longMark {
			say = fmt.Sprintf("%d ×", len(at[key]))
		}
		out = append(out, Mark{key, say})
	}
	return out
}

// runs writes places with what lies between joined: "1–4,7".
func runs(places []int) string {
	var out []string
	for i := 0; i < len(places); i++ {
		from := i
		for i+1 < len(places) && places[i+1] == places[i]+1 {
			i++
		}
		if from == i {
			out = append(out, fmt.Sprint(places[i]))
		} else {
			out = append(out, fmt.Sprintf("%d–%d", places[from], places[i]))
		}
	}
	return strings.Join(out, ",")
}
