package upkeep

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"proofbell/internal/prove"
	"proofbell/internal/sorts"
	"proofbell/internal/supply"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/rules"
	"proofbell/site"
)

// reach is the height above the floor, in metres, up to which hands reach without a ladder (trade practice).
const reach = 2.0

// Proofs say when each step was last proved. A smoke or gas detector that was tried by its button only is not in it: the
// button does not prove that smoke gets in.
type Proofs map[prove.StepID]time.Time

// Input is what the due list is made from. Profile may be nil. On is a day: midnight UTC of the site's own calendar.
type Input struct {
	Site    *site.Site
	Profile *panel.Profile
	Plan    []prove.Step // of everything, where the caller has it; nil: made here
	Set     *rules.Set
	On      time.Time
	Ahead   int // months that are looked ahead; 0: as the rule set says

	Proofs    Proofs
	Done      map[string]time.Time        // newest of each thing that was done, by the item's id ("contacts", "listener.landing-bridge")
	Sensed    map[site.DeviceID]time.Time // newest measured sensitivity of a detector
	LastVisit time.Time                   // newest planned visit or closed run; zero: none
	NextVisit site.Date                   // as agreed when the last visit ended
	Lang      *words.Language
}

// Kind says what an item is about.
type Kind string

// The kinds of item. Append only.
const (
	KindLife        Kind = "life"          // an alarm or a device ends its life
	KindBattery     Kind = "battery"       // the battery of a device
	KindPanel       Kind = "panel-battery" // the battery of the panel
	KindTest        Kind = "test"          // a device is to be tested
	KindSystem      Kind = "system"        // mains, battery, paths, sounders are to be tested
	KindListener    Kind = "listener"      // the owner's monthly test with the listener's zone
	KindContacts    Kind = "contacts"      // contacts and passcodes are to be confirmed
	KindSensitivity Kind = "sensitivity"   // the sensitivity of a detector is to be measured
	KindDate        Kind = "date"          // a date is not known: nobody can say when it falls due
)

// State says how an item stands on the day.
type State string

// The states, most urgent first.
const (
	Overdue State = "overdue"
	Due     State = "due"     // on this day: overdue from the next
	Coming  State = "coming"  // within the months looked ahead
	Unknown State = "unknown" // a date has to be read first
	Later   State = "later"
)

var stateOrder = map[State]int{Overdue: 0, Due: 1, Coming: 2, Unknown: 3, Later: 4}

// Who does it.
const (
	ByTechnician  = "technician"
	ByElectrician = "electrician"
	ByOwner       = "owner"
	ByDesk        = "desk"
)

// Item is one thing that falls due.
type Item struct {
	ID       string         `json:"id"` // "life.M9", "battery.hall-smoke", "test.hall-smoke", "system.path.main", "contacts"
	Kind     Kind           `json:"kind"`
	Say      string         `json:"say"`    // what is to be done: "Replace alarm M9"
	Name     string         `json:"name"`   // of the device or head alone: "12 Hall smoke", "M9"; "" the whole is meant
	Why      string         `json:"why"`    // the sum: "Made 2015-03, life of 10 years"
	Device   site.DeviceID  `json:"device"` // "" none
	Head     site.HeadID    `json:"head"`
	Zones    []site.ZoneID  `json:"zones"`
	Where    string         `json:"where"`  // room and storey
	Area     string         `json:"area"`   // name of the area, "" none
	Due      string         `json:"due"`    // as precise as it is known: "2025-03"; "" not known
	DueSay   string         `json:"dueSay"` // as people write it
	Until    string         `json:"until"`  // last day or month that Due may mean, when it is a span of years; "" none
	Sure     string         `json:"sure"`   // how sure the date is, in words
	State    State          `json:"state"`
	Who      string         `json:"who"` // technician, electrician, owner, desk
	WhoSay   string         `json:"whoSay"`
	Basis    rules.Clause   `json:"basis"`
	BasisSay string         `json:"basisSay"` // with the rule set and its edition
	Ladder   bool           `json:"ladder"`
	Reach    string         `json:"reach"` // "2.6 m above the floor: ladder"
	Last     string         `json:"last"`  // day of the last proof, "" never
	Steps    []prove.StepID `json:"steps"` // what has to be proved once it is done

	order string // place in a round: storey, area, ladder, room
	first time.Time
}

// Round is what is done in one go.
type Round struct {
	ID     string         `json:"id"`
	Kind   Kind           `json:"kind"`
	Title  string         `json:"title"`
	Say    string         `json:"say"` // why together, and what to take along
	Due    string         `json:"due"` // of its first item; for tests the day of the visit
	DueSay string         `json:"dueSay"`
	State  State          `json:"state"`
	Who    string         `json:"who"`
	WhoSay string         `json:"whoSay"`
	Areas  []string       `json:"areas"`
	Ladder int            `json:"ladder"` // items above reach
	Items  []Item         `json:"items"`  // by storey, area and height
	Steps  []prove.StepID `json:"steps"`  // the scope of the proving run; empty: nothing to prove
}

// List is everything that falls due, most urgent first.
type List struct {
	On       string        `json:"on"`
	RuleSet  string        `json:"ruleSet"` // title and edition
	Ahead    int           `json:"ahead"`   // months
	Rounds   []Round       `json:"rounds"`
	Counts   map[State]int `json:"counts"`   // items by state
	Visit    string        `json:"visit"`    // day of the next planned visit
	VisitDay string        `json:"visitDay"` // as people write it
	VisitSay string        `json:"visitSay"` // how often, and what share
	Proved   bool          `json:"proved"`   // something was proved already
	Standing string        `json:"standing"` // that this is one rule set, and who decides
}

type lister struct {
	Input
	words  *words.Language
	ahead  int
	steps  []prove.Step
	byUnit map[string][]prove.Step // steps of a device
	zones  map[site.DeviceID][]site.ZoneID
	list   List
	rounds map[string]*Round
}

// Make lists what falls due.
func Make(in Input) List {
	l := &lister{Input: in, words: in.Lang, ahead: in.Ahead, rounds: map[string]*Round{}, byUnit: map[string][]prove.Step{}, zones: in.Site.ZonesByDevice()}
	if l.ahead == 0 {
		l.ahead = int(l.figure("due.ahead"))
	}
	if l.steps = in.Plan; l.steps == nil {
		l.steps = prove.In(in.Lang).Plan(in.Site, in.Profile, prove.Options{})
	}
	for _, st := range l.steps {
		if ofUnit(st) {
			l.byUnit[string(st.Device)] = append(l.byUnit[string(st.Device)], st)
		}
	}
	l.list = List{
		On: in.On.Format(time.DateOnly), RuleSet: strings.TrimSpace(in.Lang.Word(in.Set.Title) + ", " + in.Set.Edition), Ahead: l.ahead, Proved: len(in.Proofs) > 0,
		Standing: l.words.Say("Listed by one rule set of one date. Local code, the authority and the instructions of the equipment come first."),
	}
	l.heads()
	l.devices()
	l.panelBattery()
	l.tests()
	l.listeners()
	l.contacts()
	l.sensitivity()
	return l.finish()
}

// ofUnit reports whether a step tests a device of the system: its own trip, or that of an alarm which it listens to.
func ofUnit(st prove.Step) bool {
	return st.Device != "" && st.NotTestable == "" && (st.Kind == prove.StepZone || st.Kind == prove.StepHead && st.ToStation)
}

func (l *lister) figure(name string) float64 { return l.Set.Figures[name].Value }

func (l *lister) basis(name string) rules.Clause { return l.Set.Figures[name].Clause }

// basisSay names a clause with its rule set: "NFPA 72 2013, 14.4.6.1; confirmed (household-fire-burglary 2026-09)".
func (l *lister) basisSay(c rules.Clause) string {
	confidence := map[string]string{
		"H": l.words.Say("read in the document or a public source"),
		"M": l.words.Say("as known in the trade, wording not read again"),
		"L": l.words.Say("weak"),
	}[c.Confidence]
	document := c.Document
	if document == "general practice" {
		document = l.words.Say("general practice")
	}
	if document == instructions {
		document = l.words.Say("instructions of the device")
	}
	document = strings.TrimSpace(document + " " + c.Edition)
	if c.Clause != "" {
		document += ", " + c.Clause
	}
	return fmt.Sprintf("%s: %s (%s %s)", document, confidence, l.Set.ID, l.Set.Edition)
}

const instructions = "instructions of the device"

var byInstructions = rules.Clause{Document: instructions, Confidence: "M"}

func (l *lister) whoSay(who string) string {
	switch who {
	case ByElectrician:
		return l.words.Say("Licensed electrician")
	case ByOwner:
		return l.words.Say("Owner")
	case ByDesk:
		return l.words.Say("Desk")
	}
	return l.words.Say("Technician")
}

// sure says how sure a date is that was counted from one as typed.
func (l *lister) sure(from site.Date) string {
	switch len(from.String()) {
	case 4:
		return l.words.Say("sure to the year")
	case 7:
		return l.words.Say("sure to the month")
	}
	return l.words.Say("sure to the day")
}

// state of something whose first possible day is due.
func (l *lister) state(due time.Time) State {
	switch {
	case due.IsZero():
		return Unknown
	case !l.On.Before(due):
		return Overdue
	case !site.AddMonths(l.On, l.ahead).Before(due):
		return Coming
	}
	return Later
}

// put completes an item and lays it into a round.
func (l *lister) put(round Round, it Item) {
	it.WhoSay, it.BasisSay, it.DueSay = l.whoSay(it.Who), l.basisSay(it.Basis), l.typed(it.Due)
	it.Basis = it.Basis.In(l.words.Tag())
	if it.Zones == nil {
		it.Zones = []site.ZoneID{}
	}
	if it.Steps == nil {
		it.Steps = []prove.StepID{}
	}
	r := l.rounds[round.ID]
	if r == nil {
		round.Who, round.WhoSay, round.State = it.Who, l.whoSay(it.Who), it.State
		r = &round
		l.rounds[round.ID] = r
	}
	if stateOrder[it.State] < stateOrder[r.State] {
		r.State = it.State
	}
	r.Items = append(r.Items, it)
}

// placed fills in where a thing is and whether it takes a ladder.
func (l *lister) placed(it *Item, room site.RoomID, at site.Coordinates, storey site.StoreyID, ceiling bool) {
	s := l.Site
	it.Where = words.Join(s.Rooms[room].Name, s.Storeys[storey].Name)
	z, ok := at.Height()
	switch above := z - s.Storeys[storey].Level.SI(); {
	case ok && storey != "":
		it.Ladder = above > reach
		if it.Ladder {
			it.Reach = l.words.Say("%s m above the floor: ladder", l.words.Number(above, 1))
		}
	case ceiling:
		it.Ladder, it.Reach = true, l.words.Say("On the ceiling, as a rule: ladder")
	}
	height := 0
	if it.Ladder {
		height = 1
	}
	it.order = fmt.Sprintf("%03d|%s|%d|%s|%s", s.Storeys[storey].Order+100, it.Area, height, room, it.ID)
}

func (l *lister) device(it *Item, id site.DeviceID) {
	d := l.Site.Devices[id]
	it.Device, it.Zones = id, slices.Clone(l.zones[id])
	for _, z := range it.Zones {
		if a := l.Site.Zones[z].Area; a != "" && it.Area == "" {
			it.Area = cmp.Or(l.Site.Areas[a].Name, string(a))
		}
	}
	for _, st := range l.byUnit[string(id)] {
		it.Steps = append(it.Steps, st.ID)
	}
	storey, _ := l.Site.StoreyOfDevice(id)
	m, _ := l.Site.ModelOf(id)
	l.placed(it, d.Room, d.At, storey, slices.Contains([]string{"smoke", "heat", "bridge"}, m.Class))
}

// named names a device with its zones: "12 Hall smoke", or by its model where it has none.
func (l *lister) named(id site.DeviceID) string {
	zones := l.zones[id]
	if len(zones) > 0 {
		return fmt.Sprintf("%s %s", zones[0], cmp.Or(l.Site.Zones[zones[0]].Label, l.Site.Models[l.Site.Devices[id].Model].Name))
	}
	return cmp.Or(l.Site.Models[l.Site.Devices[id].Model].Name, string(id))
}

// heads lists the ends of life of the self-contained alarms.
func (l *lister) heads() {
	for _, id := range site.SortedIDs(l.Site.Heads) {
		h := l.Site.Heads[id]
		it := Item{ID: "life." + string(id), Kind: KindLife, Head: id, Name: string(id), Who: ByElectrician, Say: l.words.Say("Replace alarm %s", id)}
		if h.Power == "battery" {
			it.Who = ByTechnician
		}
		it.Steps = l.replaced(id)
		storey, _ := l.Site.StoreyOfHead(id)
		l.placed(&it, h.Room, h.At, storey, h.Kind != "co")
		if h.Made.IsZero() {
			l.unread(it, ByTechnician, l.words.Say("Read the made date of alarm %s", id))
			continue
		}
		least, most, basis := l.headLife(h)
		l.ends(&it, h.Made, least, most)
		it.Basis = basis
		it.Why = l.words.Say("Made %s; life of %s.", l.typed(h.Made.String()), l.years(least, most))
		if it.State == Overdue && most == least {
			it.Why = l.words.Say("Made %s; life of %s, over since %s.", l.typed(h.Made.String()), l.years(least, most), l.typed(it.Due))
		}
		round := Round{ID: "life." + it.Who + l.year(it), Kind: KindLife, Title: l.words.Say("Alarms at the end of their life")}
		if it.Who == ByElectrician {
			round.Say = l.words.Say("Work on mains alarms is the electrician's. The new ones join the same group and make the same sound; press each afterwards, on test.")
		} else {
			round.Say = l.words.Say("Buy the same sound and the same link; press each afterwards, on test.")
		}
		l.put(round, it)
	}
}

// replaced is what has to be proved after an alarm was replaced: itself, and, where a bridge listens beside it, the alarms
// that stand for the group.
func (l *lister) replaced(id site.HeadID) []prove.StepID {
	out := []prove.StepID{}
	beside := map[site.DeviceID]bool{}
	for _, d := range site.SortedIDs(l.Site.Devices) {
		beside[d] = l.Site.Devices[d].Beside == id
	}
	for _, st := range l.steps {
		if st.Kind == prove.StepHead && (st.Head == id || st.ToStation && beside[st.Device]) {
			out = append(out, st.ID)
		}
	}
	return out
}

// headLife is the life of an alarm in months: from least to most where only a span is known.
func (l *lister) headLife(h site.Head) (least, most int, basis rules.Clause) {
	if own := h.Life.SI(); own > 0 {
		n := months(own)
		return n, n, byInstructions
	}
	name := "life.smoke"
	switch h.Kind {
	case "heat":
		name = "life.heat"
	case "co", "smoke-co":
		least, most = 12*int(l.figure("life.co")), 12*int(l.figure("life.co-most"))
		if h.Kind == "smoke-co" {
			most = min(most, 12*int(l.figure("life.smoke")))
		}
		return least, most, l.basis("life.co")
	}
	least = 12 * int(l.figure(name))
	return least, least, l.basis(name)
}

// ends sets the date of an item: a life that began on a date and lasts from least to most months.
func (l *lister) ends(it *Item, from site.Date, least, most int) {
	due := from.AddMonths(least)
	it.Due, it.first, it.Sure = due.String(), due.First(), l.sure(from)
	it.State = l.state(due.First())
	if most > least {
		last := from.AddMonths(most)
		it.Until = last.String()
		it.Sure = l.words.Say("between %s and %s, or at its end-of-life sign", l.typed(it.Due), l.typed(it.Until))
	}
}

// unread lists a date that has to be read before anything can be counted.
func (l *lister) unread(it Item, who, say string) {
	it.ID, it.Kind, it.Who, it.State, it.Say = "date."+it.ID, KindDate, who, Unknown, say
	it.Why = l.words.Say("Without it nobody can say when it falls due.")
	it.Basis = l.basis("due.ahead")
	it.Steps = nil
	l.put(Round{ID: "date", Kind: KindDate, Title: l.words.Say("Dates to read"), Say: l.words.Say("Read the label, keep a photo of it, enter the date.")}, it)
}

// year parts rounds that lie beyond what is looked ahead by their year.
func (l *lister) year(it Item) string {
	if it.State == Later {
		return "." + it.Due[:4]
	}
	return ""
}

func (l *lister) years(least, most int) string {
	one := func(n int) string {
		if n%12 == 0 {
			return l.words.Number(float64(n)/12, 0)
		}
		return l.words.Number(float64(n)/12, 1)
	}
	if most > least {
		return l.words.Say("%s to %s years", one(least), one(most))
	}
	return l.words.Say("%s years", one(least))
}

// typed writes a date of the site file as the reader does, no more precise than it is.
func (l *lister) typed(date string) string {
	switch {
	case l.words.Tag() == "en":
		return date
	case len(date) == len(time.DateOnly):
		return date[8:] + "." + date[5:7] + "." + date[:4]
	case len(date) == len("2006-01"):
		return date[5:] + "." + date[:4]
	}
	return date
}

// months of a time typed in seconds, years or days, to the nearest.
func months(seconds float64) int { return int(math.Round(seconds / (31557600.0 / 12))) }

// devices lists the batteries by batch and the lives of the system's devices.
func (l *lister) devices() {
	for _, id := range site.SortedIDs(l.Site.Devices) {
		d := l.Site.Devices[id]
		m, ok := l.Site.ModelOf(id)
		if !ok {
			continue
		}
		l.battery(id, d, m)
		l.life(id, d, m)
	}
}

func (l *lister) battery(id site.DeviceID, d site.Device, m site.Model) {
	seconds, why := m.BatteryLife.SI(), words.Mark("Fitted %s; life of %s.")
	if life, _, known, err := supply.CellLife(l.Site, id); known && err == nil && (seconds == 0 || float64(life.Life) < seconds) {
		seconds, why = float64(life.Life), words.Mark("Fitted %s; %s by what it draws, an estimate.")
	}
	if seconds == 0 {
		return
	}
	it := Item{ID: "battery." + string(id), Kind: KindBattery, Who: ByTechnician, Basis: byInstructions, Name: l.named(id), Say: l.words.Say("New battery: %s", l.named(id))}
	l.device(&it, id)
	if d.Battery.IsZero() {
		l.unread(it, ByTechnician, l.words.Say("Read the battery's date: %s", l.named(id)))
		return
	}
	n := int(seconds / (31557600.0 / 12))
	if seconds == m.BatteryLife.SI() {
		n = months(seconds)
	}
	l.ends(&it, d.Battery, n, n)
	it.Why = l.words.Say(why, l.typed(d.Battery.String()), l.years(n, n))
	l.put(Round{
		ID: "battery." + string(d.Model) + "." + d.Battery.String(), Kind: KindBattery, Title: l.words.Say("Batteries: %s, fitted %s", m.Name, l.typed(d.Battery.String())),
		Say: l.words.Say("On test before the first cover opens. One batch ages together: one round, one kind of cell, one date. Write the date on each, then trip each device once."),
	}, it)
}

func (l *lister) life(id site.DeviceID, d site.Device, m site.Model) {
	least, most, basis := months(m.ServiceLife.SI()), 0, byInstructions
	if least == 0 && m.Class == "co" {
		least, most, basis = 12*int(l.figure("life.co")), 12*int(l.figure("life.co-most")), l.basis("life.co")
	}
	if least == 0 {
		return
	}
	most = max(most, least)
	it := Item{ID: "life." + string(id), Kind: KindLife, Who: ByTechnician, Basis: basis, Name: l.named(id), Say: l.words.Say("Replace %s", l.named(id))}
	l.device(&it, id)
	if d.Made.IsZero() {
		l.unread(it, ByTechnician, l.words.Say("Read the made date: %s", l.named(id)))
		return
	}
	l.ends(&it, d.Made, least, most)
	it.Why = l.words.Say("Made %s; life of %s.", l.typed(d.Made.String()), l.years(least, most))
	l.put(Round{
		ID: "life.devices" + l.year(it), Kind: KindLife, Title: l.words.Say("Devices at the end of their life"),
		Say: l.words.Say("A new device has a new identity: key it in, then prove its zones."),
	}, it)
}

func (l *lister) panelBattery() {
	p := l.Site.Power
	if p.Battery.IsZero() && p.BatteryDate.IsZero() {
		return
	}
	it := Item{ID: "panel-battery", Kind: KindPanel, Who: ByTechnician, Basis: l.basis("life.panel-battery"), Say: l.words.Say("Replace the panel's battery (%s)", cmp.Or(p.Battery.String(), "?"))}
	storey, _ := l.Site.StoreyOfRoom(l.Site.Panel.Room)
	l.placed(&it, l.Site.Panel.Room, l.Site.Panel.At, storey, false)
	for _, st := range l.steps {
		if st.Proof == prove.ProofMains || st.Proof == prove.ProofStandby {
			it.Steps = append(it.Steps, st.ID)
		}
	}
	if p.BatteryDate.IsZero() {
		l.unread(it, ByTechnician, l.words.Say("Read the date on the panel's battery"))
		return
	}
	least, most := 12*int(l.figure("life.panel-battery")), 12*int(l.figure("life.panel-battery-most"))
	l.ends(&it, p.BatteryDate, least, most)
	it.Sure = l.words.Say("between %s and %s, or under 80 %% of its capacity", l.typed(it.Due), l.typed(it.Until))
	it.Why = l.words.Say("Dated %s; sealed lead-acid lasts %s.", l.typed(p.BatteryDate.String()), l.years(least, most))
	l.put(Round{ID: "panel-battery", Kind: KindPanel, Title: l.words.Say("Panel's battery"), Say: l.words.Say("On test before the lid opens. Acid and short circuits: insulate the loose lead, no rings, no tools across the terminals. Write the date on the new one; then mains off and on once.")}, it)
}

func (l *lister) finish() List {
	l.list.Rounds, l.list.Counts = []Round{}, map[State]int{}
	for _, r := range l.rounds {
		sorts.By(r.Items, func(a, b Item) int { return cmp.Or(strings.Compare(a.order, b.order), strings.Compare(a.ID, b.ID)) })
		var first time.Time
		r.Areas, r.Ladder, r.Steps = []string{}, 0, []prove.StepID{}
		for _, it := range r.Items {
			l.list.Counts[it.State]++
			if !it.first.IsZero() && (first.IsZero() || it.first.Before(first)) {
				first = it.first
				if r.Kind != KindTest {
					r.Due = it.Due
				}
			}
			if it.Ladder {
				r.Ladder++
			}
			if it.Area != "" && !slices.Contains(r.Areas, it.Area) {
				r.Areas = append(r.Areas, it.Area)
			}
			for _, st := range it.Steps {
				if !slices.Contains(r.Steps, st) {
					r.Steps = append(r.Steps, st)
				}
			}
		}
		r.DueSay = l.typed(r.Due)
		l.list.Rounds = append(l.list.Rounds, *r)
	}
	sorts.By(l.list.Rounds, func(a, b Round) int {
		return cmp.Or(cmp.Compare(stateOrder[a.State], stateOrder[b.State]), strings.Compare(a.Due, b.Due), strings.Compare(a.ID, b.ID))
	})
	return l.list
}
