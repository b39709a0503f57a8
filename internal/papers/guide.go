package papers

import (
	"cmp"
	"slices"
	"strings"

	"proofbell/site"
)

// Sound patterns, s on and s off. Three pulses: ISO 8201 (0.5 s on and off three times, then 1.5 s off). Four pulses of
// carbon monoxide alarms: 0.1 s on and off four times, then 5 s off (UL 2034, EN 50291).
var (
	threePulses = []float64{0.5, 0.5, 0.5, 0.5, 0.5, 1.5}
	fourPulses  = []float64{0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 5}
	without     = []float64{12, 0}
	slow        = []float64{0.3, 0.7}
	chirp       = []float64{0.1, 11.9}
)

func (w *writer) guide() {
	l, s := w.l, w.s
	emergency := cmp.Or(s.Premises.EmergencyNumber, l.Say("the local emergency number"))
	if s.Premises.EmergencyNumber == "" {
		w.lack("survey", l.Say("The emergency number of the place is missing"))
	}
	if w.address() == "" {
		w.lack("survey", l.Say("The address is missing"))
	}
	if s.Station.OnTestPhone == "" {
		w.lack("hand", l.Say("The station's telephone for tests is missing"))
	}

	w.add(Section{ID: "danger", Framed: true, Title: l.Say("If it burns"), Text: []string{
		l.Say("Get everyone out. Do not go back in. From outside call %s and say: fire at %s.", emergency, cmp.Or(join(", ", s.Premises.Address, s.Premises.Locality), l.Say("(address)"))),
		l.Say("Do this even though the system reports: people on the spot know more than a signal."),
	}})
	var numbers []Pair
	w.pair(&numbers, l.Say("Emergency"), s.Premises.EmergencyNumber)
	w.pair(&numbers, l.Say("Station"), join(", ", s.Station.Name, s.Station.OnTestPhone))
	w.pair(&numbers, l.Say("Account at the station"), spell(s.Account.Number))
	for _, p := range w.people("technician") {
		numbers = append(numbers, Pair{l.Say("Alarm firm"), join(", ", p.Firm, p.Name, p.Phone)})
	}
	for _, p := range w.people("electrician") {
		numbers = append(numbers, Pair{l.Say("Electrician"), join(", ", p.Name, p.Firm, p.Phone)})
	}
	w.add(Section{ID: "numbers", Title: l.Say("Numbers"), Pairs: numbers})

	w.sounds(emergency)
	w.armSection()
	w.add(Section{ID: "silence", Title: l.Say("Silencing"), Steps: []string{
		l.Say("Look first. Only when you have seen that nothing burns: silence at the keypad. Is there any doubt, everyone goes out."),
		l.Say("The hush button on a mains alarm quietens the heads; the panel and the station keep the alarm until it is called off."),
		l.Say("Call the station, give the account %s and your passcode, and say what happened.", cmp.Or(spell(s.Account.Number), "____")),
		l.Say("A detector that sounds again after silencing means it: leave."),
	}})
	w.monthly()
	w.whoCalls(emergency)

	t := Table{Head: []string{l.Say("Zone"), l.Say("Label"), l.Say("What it watches"), l.Say("Where"), l.Say("When")}, Widths: []float64{9, 36, 32, 40, 32}, Rows: [][]string{}, Empty: l.Say("No zone yet.")}
	for _, id := range w.zones() {
		z := s.Zones[id]
		when := l.Say("always")
		if z.Kind.Family() == "burglary" && z.Kind != site.AlwaysLoud && z.Kind != site.AlwaysQuiet {
			when = l.Say("when armed")
		}
		t.Rows = append(t.Rows, []string{string(id), z.Label, w.kind(z.Kind), w.place(s.Devices[z.Device].Room), when})
	}
	w.add(Section{ID: "zones", Title: l.Say("Your zones"), Table: &t})
	w.limits()
	w.dueSection(l.Say("Ends of life"), func(d Due) bool { return d.Kind == "life" || d.Kind == "panel-battery" })
}

// sounds draws what can be heard in this house.
func (w *writer) sounds(emergency string) {
	l, s := w.l, w.s
	has := func(families ...string) bool {
		return slices.ContainsFunc(w.zones(), func(id site.ZoneID) bool { return slices.Contains(families, s.Zones[id].Kind.Family()) })
	}
	var fireHeads, coHeads bool
	for _, h := range s.Heads {
		fireHeads = fireHeads || h.Kind != "co"
		coHeads = coHeads || h.Kind == "co" || h.Kind == "smoke-co"
	}
	var out []Sound
	if has("fire") || fireHeads {
		out = append(out, Sound{Name: l.Say("Three pulses, a pause, again"), Beats: threePulses, Span: 12, Means: l.Say("Fire."), Do: l.Say("Everyone out, call %s.", emergency)})
	}
	if has("co") || coHeads {
		out = append(out, Sound{Name: l.Say("Four short pulses, a long pause, again"), Beats: fourPulses, Span: 12, Means: l.Say("Carbon monoxide: it can not be smelt and kills."), Do: l.Say("Everyone out; open doors only on the way. Call %s. Nobody goes back to look.", emergency)})
	}
	if has("burglary") {
		out = append(out, Sound{Name: l.Say("Siren without a pause"), Beats: without, Span: 12, Means: l.Say("Burglary."), Do: l.Say("Do not go in. Wait for the station's call, or call the police from another place.")})
		out = append(out, Sound{Name: l.Say("Slow tone at the keypad"), Beats: slow, Span: 12, Means: l.Say("The entry or exit delay runs."), Do: l.Say("Coming in: disarm. Going out: leave and close the door.")})
	}
	out = append(out, Sound{Name: l.Say("One chirp about once a minute"), Beats: chirp, Span: 12, Means: l.Say("A head or a detector wants a battery, or its life is over."), Do: l.Say("Read the zone at the keypad or find the head, and call the alarm firm. A mains head is the electrician's.")})
	w.add(Section{ID: "sounds", Title: l.Say("What each sound means"), Text: []string{l.Say("Each line shows twelve seconds: black is sound. The burglary and keypad tones of your panel may differ: have them shown to you.")}, Sounds: out})
}

// armSection says how to come and go, with the labels of this house.
func (w *writer) armSection() {
	l, s := w.l, w.s
	var doors []string
	for _, id := range w.zones() {
		if z := s.Zones[id]; z.Kind == site.Entry1 || z.Kind == site.Entry2 {
			doors = append(doors, l.Say("%s (zone %s)", z.Label, id))
		}
	}
	if len(doors) == 0 {
		return
	}
	exit, entry := l.Say("the exit delay"), l.Say("the entry delay")
	if d := s.Settings.ExitDelay; !d.IsZero() {
		exit = d.String()
	}
	if d := s.Settings.EntryDelay; !d.IsZero() {
		entry = d.String()
	}
	var areas []string
	for _, id := range site.SortedIDs(s.Areas) {
		areas = append(areas, w.area(id))
	}
	steps := []string{
		l.Say("Going out: close everything, arm \"all out\", leave within %s by one of these doors: %s.", exit, strings.Join(doors, ", ")),
		l.Say("Staying in: arm \"people inside\". Doors and windows are watched, rooms on the way in are not."),
		l.Say("Coming home: in by one of these doors, disarm within %s. A wrong way in alarms at once.", entry),
		l.Say("Fire, carbon monoxide, water, cold and calls for help are reported at all times, armed or not."),
	}
	if len(areas) > 1 {
		steps = append(steps, l.Say("Areas that arm by themselves: %s.", strings.Join(areas, "; ")))
	}
	w.add(Section{ID: "arming", Title: l.Say("Arming and disarming"), Steps: steps, Pairs: []Pair{
		{l.Say("Keys: all out"), ""}, {l.Say("Keys: people inside"), ""}, {l.Say("Keys: disarm, silence"), ""},
	}})
}

// monthly is the test that the owner makes, with the call before and after it.
func (w *writer) monthly() {
	l, s := w.l, w.s
	account, phone := cmp.Or(spell(s.Account.Number), "____"), join(", ", cmp.Or(s.Station.Name, l.Say("the station")), s.Station.OnTestPhone)
	steps := []string{
		l.Say("Tell everyone in the house that a test begins, and that real smoke means: get out and call."),
		l.Say("Call %s. Say: \"Account %s, my name, my passcode. Please put fire and carbon monoxide on test for one hour. Please read the account and the address back to me.\"", phone, account),
	}
	head, zone := w.testHead()
	switch {
	case head != "" && zone != "":
		steps = append(steps, l.Say("Press and hold the test button of head %s (%s) for 20 to 60 s, a different head each month. All heads of the group sound; the keypad has to show zone %s, %s.",
			head, w.place(s.Heads[head].Room), zone, s.Zones[zone].Label))
	case head != "":
		steps = append(steps, l.Say("Press and hold the test button of head %s (%s), a different head each month. All heads of its group have to sound.", head, w.place(s.Heads[head].Room)))
	}
	if id := w.testZone(); id != "" {
		steps = append(steps, l.Say("Then one detector with a test button, another each month. This month: %s, zone %s.", s.Zones[id].Label, id))
	}
	steps = append(steps,
		l.Say("Go through the house: does every head sound, also behind closed doors?"),
		l.Say("Silence at the keypad. Wait two minutes."),
		l.Say("Call the station again: \"Which signals did you get, which zones, at what time? Please take account %s off test. Is anything still on test or left out?\"", account),
		l.Say("Write date and result into the log. Anything missing: call the alarm firm the same day."),
	)
	w.add(Section{ID: "monthly", Title: l.Say("Test each month"), Steps: steps, Text: []string{l.Say("A test button proves sounder and link. It does not prove that smoke gets in: that is tested on the yearly visit.")}})
}

// testHead is a head whose group a bridge hears, with the zone that has to come.
func (w *writer) testHead() (site.HeadID, site.ZoneID) {
	s := w.s
	for _, device := range site.SortedIDs(s.Devices) {
		group := s.Devices[device].Hears
		heads := s.HeadsOf(group)
		if group == "" || len(heads) == 0 {
			continue
		}
		for _, zone := range s.ZonesOf(device) {
			if s.Senses(zone) == site.SensesThree {
				return heads[0], zone
			}
		}
	}
	for _, id := range site.SortedIDs(s.Heads) {
		return id, ""
	}
	return "", ""
}

func (w *writer) testZone() site.ZoneID {
	for _, id := range w.zones() {
		z := w.s.Zones[id]
		if m, _ := w.s.ModelOf(z.Device); z.Kind.LifeSafety() && m.TestButton {
			return id
		}
	}
	return ""
}

func (w *writer) whoCalls(emergency string) {
	l, s := w.l, w.s
	var order []string
	for _, id := range site.SortedIDs(s.Contacts) {
		if name := s.People[s.Contacts[id].Person].Name; name != "" {
			order = append(order, name)
		}
	}
	var out []Pair
	station := cmp.Or(s.Station.Name, l.Say("the station"))
	out = append(out,
		Pair{l.Say("You"), l.Say("call %s from outside, in every fire, at once", emergency)},
		Pair{station, l.Say("passes fire on and then calls: %s", cmp.Or(strings.Join(order, ", "), "____"))},
		Pair{l.Say("You to the station"), l.Say("before and after every test, when something was a mistake, and when a person to call changes")},
		Pair{l.Say("You to the alarm firm"), l.Say("at every trouble that does not go by itself, before building work, new doors or walls, and when the internet changes")},
	)
	w.add(Section{ID: "calls", Title: l.Say("Who calls whom"), Pairs: out})
}

// limits says what the system does not do.
func (w *writer) limits() {
	l, s := w.l, w.s
	steps := []string{
		l.Say("No system notices every fire, and none puts one out. Ways out, doors that close and people who know them count more."),
		l.Say("While the account is on test nobody comes."),
		l.Say("Without mains the panel lasts as long as its battery; without both paths nobody outside hears of anything."),
		l.Say("Without any way to the station only the sounders in the house are left."),
	}
	if slices.ContainsFunc(w.zones(), func(id site.ZoneID) bool { return s.Senses(id) == site.SensesThree }) {
		steps = append(steps, l.Say("The listening bridge is an extra. It can miss an alarm and sees neither mains failure, nor a low battery, nor a missing head. The mains alarms must stay."))
	}
	if s.Premises.Internet.Standby == "none" {
		steps = append(steps, l.Say("The internet of this house stops with the mains: then only the other path is left."))
	}
	for _, id := range site.SortedIDs(s.Rooms) {
		if r := s.Rooms[id]; r.Sleeping && !w.watched(id) {
			steps = append(steps, l.Say("%s: someone sleeps here, and no smoke detection was planned in the room.", r.Name))
		}
	}
	longest, device := 0.0, site.ZoneID("")
	for _, id := range w.zones() {
		if z := s.Zones[id]; z.Kind.LifeSafety() {
			if seconds, ok := window(z.LossWindow); ok && seconds > longest {
				longest, device = seconds, id
			}
		}
	}
	if device != "" {
		steps = append(steps, l.Say("A dead fire or carbon monoxide detector can go unseen for up to %s (zone %s).", s.Zones[device].LossWindow, device))
	}
	steps = append(steps,
		l.Say("Local code, the authority, the insurer and the instructions of the equipment come before everything said here."),
		l.Say("What was proved, and what was not, stands in the record of the firm with date and name."))
	w.add(Section{ID: "limits", Title: l.Say("What this system does not do"), Steps: steps})
}

// watched reports whether a room has smoke detection of any kind.
func (w *writer) watched(room site.RoomID) bool {
	for _, h := range w.s.Heads {
		if h.Room == room && (h.Kind == "smoke" || h.Kind == "smoke-co") {
			return true
		}
	}
	for id, z := range w.s.Zones {
		if w.s.Devices[z.Device].Room == room && w.s.Senses(id) == site.SensesSmoke {
			return true
		}
	}
	return false
}
