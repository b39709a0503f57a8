package guide

import (
	"cmp"
	"slices"
	"strings"

	"proofbell/internal/keypad"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/signal"
	"proofbell/site"
)

// titles say what is set, in words that hold for every panel.
var titles = map[panel.Field]string{
	"":                   words.Mark("Store the zone"),
	panel.FieldZone:      words.Mark("Choose the zone"),
	panel.FieldArea:      words.Mark("Area"),
	panel.FieldWords:     words.Mark("Spoken words"),
	panel.FieldKind:      words.Mark("Kind of zone"),
	panel.FieldPaths:     words.Mark("Paths to the station"),
	panel.FieldCode:      words.Mark("Station code"),
	panel.FieldBypass:    words.Mark("Leaving it out"),
	panel.FieldDoorTone:  words.Mark("Door tone"),
	panel.FieldTripLimit: words.Mark("Trip limit"),
	panel.FieldLink:      words.Mark("Radio or wire"),
	panel.FieldIdentity:  words.Mark("Identity of the device"),
	panel.FieldTerminal:  words.Mark("Terminal"),
	panel.FieldLoss:      words.Mark("Loss window"),

	panel.FieldIdentityHead: words.Mark("Identity, first half"),
	panel.FieldIdentityTail: words.Mark("Identity, second half"),
	panel.FieldPathMain:     words.Mark("Main path"),
	panel.FieldPathBackup:   words.Mark("Back-up path"),
	panel.FieldWord1:        words.Mark("First word"),
	panel.FieldWord2:        words.Mark("Second word"),
	panel.FieldWord3:        words.Mark("Third word"),
	panel.FieldWord4:        words.Mark("Fourth word"),
}

func (m *maker) title(f panel.Field) string { return m.l.Word(titles[f]) }

// What each kind of zone is there for.
var kinds = map[site.ZoneKind]string{
	site.Smoke:         words.Mark("Smoke is watched for day and night, armed or not. The sounders give three pulses, and the station is told at once."),
	site.SmokeVerified: words.Mark("Smoke is reported when a second look confirms it: fewer false alarms, at the price of some time."),
	site.Heat:          words.Mark("Heat is watched for day and night, where steam, dust or cooking would set off a smoke detector. It takes a larger fire to trip it."),
	site.CallPoint:     words.Mark("A person who sees a fire presses it. It needs no arming and waits for nothing."),
	site.CO:            words.Mark("Carbon monoxide can not be seen or smelt. It is watched for day and night and has a sound of its own: four short pulses."),
	site.Gas:           words.Mark("Fuel gas is watched for day and night, before it can catch fire."),
	site.Entry1:        words.Mark("The way in and out. It waits while somebody comes home and disarms; whoever does not disarm sets it off."),
	site.Entry2:        words.Mark("Another way in and out, with a delay of its own."),
	site.Perimeter:     words.Mark("The shell of the house. When armed it alarms at once, because nobody comes home this way."),
	site.Inside:        words.Mark("A room on the way to the keypad. It waits when a door with a delay was opened first, and alarms at once when not."),
	site.AlwaysLoud:    words.Mark("It alarms whenever it is tripped, armed or not, with the burglary sound."),
	site.AlwaysQuiet:   words.Mark("It alarms whenever it is tripped, armed or not, and nothing is heard in the house."),
	site.PanicLoud:     words.Mark("Somebody calls for help, and it may be heard."),
	site.PanicQuiet:    words.Mark("Somebody calls for help who must not be noticed: nothing sounds, the station acts."),
	site.Medical:       words.Mark("Somebody needs a doctor or a nurse."),
	site.Water:         words.Mark("Water where none should be. It tells early, before floors and walls are wet."),
	site.Cold:          words.Mark("A room grows so cold that pipes may freeze."),
	site.Keyswitch:     words.Mark("A key arms and disarms; its use is told as such."),
	site.Trouble:       words.Mark("Something reports that it does not work. It is told as trouble, never as an alarm."),
	site.Observe:       words.Mark("It is only shown. Nobody is told."),
	site.Unused:        words.Mark("Nothing is on this zone."),
}

// zoneAt is one zone of the site with what the panel shall hold of it.
type zoneAt struct {
	*maker
	id    site.ZoneID
	zone  site.Zone
	slots keypad.Slots
}

func (m *maker) at(number site.ZoneID) zoneAt {
	id := cmp.Or(m.ids[number], number)
	return zoneAt{m, id, m.s.Zones[id], m.table[number]}
}

// watches says what the zone is there for: its kind, its device, and who sleeps near it. What was said of another zone is
// not said again.
func (z zoneAt) watches() []string {
	l, s := z.l, z.s
	out := []string{}
	once := func(say string) {
		if say != "" && !z.told[say] {
			z.told[say] = true
			out = append(out, say)
		}
	}
	once(l.Word(kinds[z.zone.Kind]))
	d := s.Devices[z.zone.Device]
	room := s.Rooms[d.Room]
	if name := cmp.Or(s.Models[d.Model].Name, string(z.zone.Device)); name != "" && room.Name != "" {
		out = append(out, l.Say("Device: %s. Place: %s.", name, join(room.Name, s.Storeys[room.Storey].Name)))
	}
	heads := s.HeadsOf(d.Hears)
	if len(heads) > 0 {
		once(l.Say("It listens to %d self-contained alarms that sound together. A listener is an extra: it can miss them, and it sees neither a missing head nor a dead one.", len(heads)))
	}
	if z.zone.Kind.LifeSafety() {
		var sleep []string
		for _, id := range site.SortedIDs(s.Rooms) {
			if r := s.Rooms[id]; r.Sleeping && (r.Storey == room.Storey || len(heads) > 0) {
				sleep = append(sleep, r.Name)
			}
		}
		switch {
		case len(sleep) == 0:
		case len(heads) > 0:
			once(l.Say("People sleep in the same house: %s.", words.List(l, sleep)))
		default:
			once(l.Say("People sleep on the same storey: %s.", words.List(l, sleep)))
		}
	}
	return out
}

// reason says why this answer: "" where there is nothing to say that holds for other zones too.
func (z zoneAt) reason(c keypad.Card) string {
	l := z.l
	life := z.zone.Kind.LifeSafety()
	value, _ := z.p.Value(c.Field, z.slots[c.Field])
	switch c.Field {
	case "":
		if c.Why != "" && z.Reader == Junior {
			return ""
		}
		return z.two(
			l.Say("Should one prompt have looked different, do not store it: begin the zone again."),
			l.Say("Only this last answer stores the zone. Half a zone is not stored."))
	case panel.FieldZone:
		return z.two(
			l.Say("The number stands in the schedule. Say it aloud before you take it."),
			l.Say("Every detector has a number here. The station sees the same number on its screen."))
	case panel.FieldArea:
		switch z.zone.Kind {
		case site.Entry1, site.Entry2, site.Perimeter, site.Inside:
		default:
			return z.two(
				l.Say("Whatever is armed, it is live."),
				l.Say("This only tells where it is: it watches at all times, whatever is armed."))
		}
		return l.Say("It is armed together with everything else in area %s.", strings.TrimSpace(value+" "+z.s.Areas[site.AreaID(value)].Name))
	case panel.FieldWords, panel.FieldWord1:
		return z.two(
			l.Say("From these words alone people have to find the place: no two zones say the same."),
			l.Say("The panel says these words aloud. Would you know where to look?"))
	case panel.FieldKind:
		return l.Word(kinds[z.zone.Kind])
	case panel.FieldPaths:
		return z.paths(value)
	case panel.FieldPathMain, panel.FieldPathBackup:
		if value == panel.No {
			return l.Say("Not by this path.")
		}
		return l.Say("By both paths one cut line does not silence the zone.")
	case panel.FieldCode:
		return z.code()
	case panel.FieldBypass:
		switch {
		case life:
			return l.Say("What is left out once is often forgotten.")
		case value == panel.Yes:
			return l.Say("It can be left out when arming, for a window that stays open. What it watches is then not watched.")
		}
		return l.Say("It can not be left out when arming.")
	case panel.FieldDoorTone:
		if value == panel.Yes {
			return l.Say("A tone says that somebody comes in while the system is off.")
		}
		return l.Say("No tone: it is no door that people want to hear.")
	case panel.FieldTripLimit:
		switch {
		case life:
			return l.Say("A second fire signal counts as much as the first: it never falls silent.")
		case value == panel.Yes:
			return l.Say("After some trips it falls silent until it is armed again, so that one bad contact does not call people out all night.")
		}
		return l.Say("Every trip is told.")
	}
	return z.device(c, value)
}

// device gives the reasons for what is said about the device.
func (z zoneAt) device(c keypad.Card, value string) string {
	l := z.l
	switch c.Field {
	case panel.FieldLink:
		if value == panel.LinkWired {
			return l.Say("It is on a wire, and the panel sees the wire at all times.")
		}
		return z.two("", l.Say("It speaks by radio. The panel notices when it falls silent."))
	case panel.FieldIdentity:
		return z.two(
			l.Say("The last digit is a check digit: two swapped digits are noticed before they are keyed."),
			l.Say("Each radio device has an identity on its label. By it the panel hears this one and no neighbour's."))
	case panel.FieldIdentityHead:
		if value == "" && strings.Trim(z.slots[c.Field], "0") == "" {
			return l.Say("Noughts: the zone is on a wire.")
		}
		return z.two(
			l.Say("This panel knows no letters: the two in front of the identity are keyed as their number."),
			l.Say("Each radio device has an identity on its label. By it the panel hears this one and no neighbour's."))
	case panel.FieldTerminal:
		if z.shared() {
			return z.two("", l.Say("One device with several inputs: each input in use is a zone of its own."))
		}
		return z.two("", l.Say("The input of the device that is in use."))
	case panel.FieldLoss:
		switch {
		case value == panel.LossNever:
			return l.Say("Its silence is not noticed: it is on a wire, or it leaves the house.")
		case z.zone.Kind.LifeSafety():
			return l.Say("A silent device is reported after %s. For life safety that is the shortest window.", value)
		}
		return l.Say("A silent device is reported after %s.", value)
	}
	return ""
}

// shared reports whether another zone is on the same device.
func (z zoneAt) shared() bool {
	return slices.ContainsFunc(site.SortedIDs(z.s.Zones), func(id site.ZoneID) bool {
		return id != z.id && z.zone.Device != "" && z.s.Zones[id].Device == z.zone.Device
	})
}

func (z zoneAt) paths(value string) string {
	l := z.l
	switch value {
	case panel.PathsBoth:
		return z.two("", l.Say("By both paths one cut line does not silence the zone."))
	case panel.PathsNone:
		return l.Say("The station is told nothing of it.")
	}
	return l.Say("One path only: while it is down, nobody is told.")
}

func (z zoneAt) code() string {
	format := signal.CID
	if z.s.Account.Format == "sia" {
		format = signal.SIADCS
	}
	code := z.slots[panel.FieldCode]
	meaning, known := signal.Lookup(format, code)
	if !known {
		return ""
	}
	return z.two(
		z.l.Say("%s stands for: %s.", code, z.l.Word(meaning.Words)),
		z.l.Say("The station reads: %s.", z.l.Word(meaning.Words)))
}

func (m *maker) intro() []string {
	l := m.l
	if m.Reader == Customer {
		return []string{
			l.Say("This guide shows how your panel was told of each detector, and why each answer is what it is. It is for reading and asking: you need not key anything yourself."),
			l.Say("Each step is shown once, with the keys that were pressed. Later zones name the steps that are the same and show what is different."),
			l.Say("If something in it is not what you remember, ask the alarm firm. Change nothing yourself: programming sends signals, and a wrong digit may silence a zone."),
		}
	}
	return []string{
		l.Say("You key the zones of this site, one prompt at a time. Read what the panel shows, press, read what it shows then. Never press on when it shows something else."),
		l.Say("Each step is taught once, with a picture of the keypad: keys to press are filled, and the small numbers are their order. Later zones name the lessons that are the same and show what is different."),
		l.Say("Learn the reasons, not the keys: the keying sheet has the keys. The other way round mistakes are made."),
	}
}

func (m *maker) first(sheet keypad.Sheet) []string {
	if l := m.l; m.Reader == Customer {
		return []string{
			l.Say("Nothing in this guide is a reason to open the panel. Programming is for the alarm firm, mains alarms and boxes are for a licensed electrician."),
			l.Say("While the account is on test nobody will come; the alarm firm says when that is. If something burns: leave, call the emergency number."),
		}
	}
	return slices.Clone(sheet.Cautions)
}

// keypad says how the keypad is used: only what this panel has.
func (m *maker) keypad() []string {
	l, k := m.l, m.p.Keypad
	out := []string{l.Say("%s takes an answer. %s goes back.", k.Accept, k.Back)}
	if k.Down != "" {
		out = append(out, l.Say("%s and %s move in a menu, %s chooses.", k.Up, k.Down, k.Accept))
	}
	for _, key := range k.Keys { // the first key with letters is the example
		if letters := k.Letters[key]; len(letters) > 1 {
			out = append(out, l.Say("Letters are made by pressing a digit key again and again: %s gives %s.", key, strings.Join(strings.Split(letters, ""), ", ")))
			out = append(out, l.Say("Where the next letter is on the same key, wait %s first, so that the letter stands.", l.Measure(k.LetterPause)))
			break
		}
	}
	if t := m.p.Timing.IdleDrop; !t.IsZero() {
		out = append(out, l.Say("After %s without a key the panel drops the zone and shows %s. Nothing is lost but the work on this zone: begin it again.", t, m.p.Dialogue.Dropped))
	}
	return out
}

func (m *maker) close() []string {
	l := m.l
	if m.Reader == Customer {
		return []string{
			l.Say("A keyed zone is not a proved zone. Ask for the report of the test: it says which signals arrived, and when."),
			l.Say("Look at the dates in it: batteries and detectors have an end of life."),
		}
	}
	return []string{
		l.Say("Lid closed, lid switch restored. No trouble left on the display."),
		l.Say("Trip one device of every keyed zone and follow its signal to the station. A keyed zone is not a proved zone."),
		l.Say("Have the account taken off test by the station, and write down the time."),
	}
}

func join(parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(p string) bool { return p == "" }), ", ")
}
