package papers

import (
	"cmp"
	"slices"
	"strings"

	"proofbell/internal/tables"
	"proofbell/internal/words"
	"proofbell/signal"
	"proofbell/site"
)

// accountPairs is the account as the station knows it.
func (w *writer) accountPairs() []Pair {
	l, s := w.l, w.s
	var out []Pair
	w.pair(&out, l.Say("Premises"), w.address())
	w.pair(&out, l.Say("Account"), join(", ", s.Account.Number, w.formatName()))
	w.pair(&out, l.Say("Station"), s.Station.Name)
	var ways []string
	for _, id := range w.pathIDs() {
		p := s.Account.Paths[id]
		way := w.path(id)
		if !p.CheckEvery.IsZero() {
			way = l.Say("%s, checked every %s", way, p.CheckEvery)
		}
		ways = append(ways, way)
	}
	w.pair(&out, l.Say("Paths, in order"), strings.Join(ways, "; "))
	live := l.Say("not agreed yet")
	if d := s.Account.LiveFrom; !d.IsZero() {
		live = w.date(d)
	}
	w.pair(&out, l.Say("Going live on"), live)
	return out
}

// lackAccount names what the station's documents can not do without.
func (w *writer) lackAccount() {
	l, s := w.l, w.s
	if s.Account.Number == "" {
		w.lack("hand", l.Say("The account has no number yet"))
	}
	if s.Station.Name == "" {
		w.lack("hand", l.Say("The station has no name yet"))
	}
	if s.Account.LiveFrom.IsZero() {
		w.lack("hand", l.Say("The day of going live is not agreed yet"))
	}
}

func (w *writer) zoneList() {
	l, s := w.l, w.s
	w.lackAccount()
	pairs := append(w.accountPairs(), Pair{l.Say("Valid from"), w.On})
	if !s.Station.ZoneListAsOf.IsZero() {
		pairs = append(pairs, Pair{l.Say("Station's own list read back on"), w.date(s.Station.ZoneListAsOf)})
	}
	w.add(Section{ID: "account", Pairs: pairs, Own: true})
	w.add(Section{ID: "replaces", Own: true, Framed: true, Text: []string{l.Say("This list replaces every earlier one. Please put it in, read it back zone by zone, and say so. People to call come in a document of their own.")}})
	t := Table{
		Head:   []string{l.Say("Zone"), l.Say("Label as spoken"), l.Say("Category"), l.Say("Area"), l.Say("Room"), l.Say("Code"), l.Say("Restore"), l.Say("Paths"), l.Say("Remarks")},
		Widths: []float64{8, 29, 17, 22, 34, 9, 13, 21, 26}, Empty: l.Say("No zone yet."), Rows: [][]string{},
	}
	sheet := &tables.Table{Name: l.Say("Zone list"), Columns: []string{l.Say("Account"), l.Say("Zone"), l.Say("Label"), l.Say("Category"), l.Say("Kind"), l.Say("Area"), l.Say("Room"), l.Say("Code"), l.Say("Meaning"), l.Say("Restore"), l.Say("Paths"), l.Say("Remarks")}}
	for _, id := range w.zones() {
		z := s.Zones[id]
		room := w.place(s.Devices[z.Device].Room)
		remarks := w.remarks(id)
		t.Rows = append(t.Rows, []string{string(id), w.spoken(z), w.family(z.Kind), w.area(z.Area), room, z.Code, w.restore(id), w.paths(z.Paths), remarks})
		sheet.Rows = append(sheet.Rows, []string{s.Account.Number, string(id), w.spoken(z), w.family(z.Kind), w.kind(z.Kind), w.area(z.Area), room, z.Code, w.meaning(z.Code), w.restore(id), w.paths(z.Paths), remarks})
	}
	if len(t.Rows) == 0 {
		w.lack("schedule", l.Say("There is no zone yet"))
	}
	if n := w.stops(); n > 0 {
		w.lack("schedule", l.Say("Stops that still stand against the schedule: %d", n))
	}
	w.add(Section{ID: "zones", Title: l.Say("Zones"), Table: &t})
	w.Sheet = sheet
}

// stops counts the stops that nobody accepted.
func (w *writer) stops() int {
	n := 0
	for _, f := range w.Findings {
		if f.Severity == "stop" && f.Accepted == nil && !f.NotJudged {
			n++
		}
	}
	return n
}

// remarks is what the operator should know of a zone beside its code.
func (w *writer) remarks(id site.ZoneID) string {
	l, z := w.l, w.s.Zones[id]
	var out []string
	add := func(say string) { out = append(out, say) }
	switch z.Kind {
	case site.PanicQuiet, site.AlwaysQuiet:
		add(l.Say("makes no sound on the premises"))
	case site.Keyswitch:
		add(l.Say("arms or disarms, no alarm"))
	}
	switch w.s.Senses(id) {
	case site.SensesThree:
		add(l.Say("the group of mains alarms sounds three pulses: the room is not known"))
	case site.SensesFour:
		add(l.Say("the group of mains alarms sounds four pulses: the room is not known"))
	}
	for _, key := range site.SortedIDs(w.s.Settings.CrossZones) {
		c := w.s.Settings.CrossZones[key]
		if slices.Contains(c.Zones, id) {
			others := slices.DeleteFunc(slices.Clone(c.Zones), func(o site.ZoneID) bool { return o == id })
			add(l.Say("alarms with %s within %s", strings.Join(texts(others), ", "), c.Within))
		}
	}
	if m, _ := w.s.ModelOf(z.Device); m.Carried {
		add(l.Say("carried, may leave the house"))
	}
	return strings.Join(out, "; ")
}

func (w *writer) contacts() {
	l, s := w.l, w.s
	w.lackAccount()
	w.add(Section{ID: "account", Pairs: append(w.accountPairs(), Pair{l.Say("Valid from"), w.On}), Own: true})
	w.add(Section{ID: "secret", Own: true, Framed: true, Text: []string{
		l.Say("Keep this page apart from the zone list. Passcodes are not in it: each contact agrees its own with the station."),
	}})
	t := Table{
		Head:   []string{l.Say("Order"), l.Say("Name"), l.Say("Role"), l.Say("Telephone"), l.Say("Hours"), l.Say("Passcode held"), l.Say("Key"), l.Say("Languages")},
		Widths: []float64{9, 32, 18, 26, 26, 16, 10, 18}, Empty: l.Say("No contact yet."), Rows: [][]string{},
	}
	for i, id := range site.SortedIDs(s.Contacts) {
		c := s.Contacts[id]
		p := s.People[c.Person]
		held := map[string]string{"held": l.Say("yes"), "none": l.Say("no")}[c.Passcode]
		t.Rows = append(t.Rows, []string{itoa(i + 1), p.Name, w.role(p.Role), s.ContactPhone(id), cmp.Or(c.Hours, l.Say("at any time")), cmp.Or(held, l.Say("not known")), w.yes(c.Keyholder), strings.Join(p.Languages, ", ")})
	}
	if len(t.Rows) < 2 {
		w.lack("hand", l.Say("Fewer than two people to call"))
	}
	w.add(Section{ID: "contacts", Title: l.Say("Call in this order"), Table: &t})
	var access []Pair
	w.pair(&access, l.Say("Access"), s.Premises.Notes)
	access = append(access, Pair{l.Say("Gate, dogs, hazards"), ""}, Pair{l.Say("Alarm permit number"), s.Account.Permit})
	w.add(Section{ID: "access", Title: l.Say("Access"), Pairs: access})
}

// action is what an operator does about a station code.
type action struct {
	code, say, do string
}

// What is to be done, by sort of event. All are proposals: what firm and station have agreed in writing counts.
var (
	doFire     = words.Mark("Pass on to the fire service at once; a household signal may first be asked about at the premises if that costs no more than 90 s. Then the contacts in order.")
	doCO       = words.Mark("Call the premises: everyone out, nobody goes back to look. Pass on as agreed. Then the contacts in order.")
	doGas      = words.Mark("Call the premises: everyone out, no switch, no flame. Pass on as agreed. Then the contacts in order.")
	doQuiet    = words.Mark("Do not call the premises. Pass on to the police as agreed.")
	doHelp     = words.Mark("Call the premises; if nobody answers with a passcode, pass on as agreed. Then the contacts in order.")
	doBurglary = words.Mark("Call the premises, then a second number, before anyone is sent. Then as agreed.")
	doBuilding = words.Mark("Call the contacts in order. Nobody is sent.")
	doTrouble  = words.Mark("Tell the contacts in working hours, and the firm.")
	doSoon     = words.Mark("Tell the contacts and the firm at once, by day and night.")
	doNote     = words.Mark("Note it. Nothing to do.")
	doTest     = words.Mark("Note it. If it does not come in time: tell the firm.")
)

// The station codes that a system of this kind sends, Contact ID (SIA DC-05), in the order of urgency.
var actions = []action{
	{"111", words.Mark("Smoke"), doFire},
	{"110", words.Mark("Fire"), doFire},
	{"114", words.Mark("Heat: fire"), doFire},
	{"115", words.Mark("Fire button pressed"), doFire},
	{"162", words.Mark("Carbon monoxide"), doCO},
	{"151", words.Mark("Burnable gas"), doGas},
	{"122", words.Mark("Call for help, quiet"), doQuiet},
	{"121", words.Mark("Disarmed under threat"), doQuiet},
	{"123", words.Mark("Call for help, loud"), doHelp},
	{"120", words.Mark("Call for help"), doHelp},
	{"100", words.Mark("Medical call"), doHelp},
	{"130", words.Mark("Burglary"), doBurglary},
	{"131", words.Mark("Burglary: door or window, from outside"), doBurglary},
	{"132", words.Mark("Burglary: movement or door inside"), doBurglary},
	{"133", words.Mark("Burglary, always on"), doBurglary},
	{"134", words.Mark("Burglary: entry door, not disarmed in time"), doBurglary},
	{"135", words.Mark("Day monitor"), doTrouble},
	{"457", words.Mark("Left open when arming: exit error"), doBurglary},
	{"154", words.Mark("Water where it should be dry"), doBuilding},
	{"158", words.Mark("Too warm"), doBuilding},
	{"159", words.Mark("Too cold"), doBuilding},
	{"409", words.Mark("Armed or disarmed by key"), doNote},
	{"401", words.Mark("Armed or disarmed by a user"), doNote},
	{"456", words.Mark("Armed in part"), doNote},
	{"459", words.Mark("Alarm shortly after arming"), doBurglary},
	{"406", words.Mark("Alarm called off by a user"), doHelp},
	{"373", words.Mark("Trouble of a fire zone"), doSoon},
	{"571", words.Mark("Fire zone left out"), doSoon},
	{"354", words.Mark("Panel could not reach the station"), doSoon},
	{"350", words.Mark("Trouble of the way to the station"), doSoon},
	{"351", words.Mark("Main path lost"), doSoon},
	{"352", words.Mark("Back-up path lost"), doSoon},
	{"353", words.Mark("Radio path lost"), doSoon},
	{"381", words.Mark("Radio device not heard any more"), doSoon},
	{"344", words.Mark("Radio disturbed"), doSoon},
	{"137", words.Mark("Panel opened"), doTrouble},
	{"144", words.Mark("Device opened or taken off"), doTrouble},
	{"145", words.Mark("Extension opened"), doTrouble},
	{"383", words.Mark("Detector opened or taken off"), doTrouble},
	{"301", words.Mark("Mains lost"), doTrouble},
	{"302", words.Mark("Panel battery low"), doTrouble},
	{"309", words.Mark("Panel battery failed its test"), doTrouble},
	{"305", words.Mark("Panel started anew"), doTrouble},
	{"321", words.Mark("Sounder faulty"), doTrouble},
	{"380", words.Mark("Detector in trouble"), doTrouble},
	{"384", words.Mark("Battery of a radio device low"), doTrouble},
	{"393", words.Mark("Detector asks for cleaning"), doTrouble},
	{"570", words.Mark("Zone left out by a user"), doNote},
	{"601", words.Mark("Test by hand"), doTest},
	{"602", words.Mark("Periodic test"), doTest},
	{"604", words.Mark("Fire test"), doTest},
	{"607", words.Mark("Walk test"), doNote},
	{"627", words.Mark("Programming begun"), doNote},
	{"628", words.Mark("Programming ended"), doNote},
}

// Common codes that any panel sends, whatever its zones.
var always = []string{
	"354", "350", "351", "352", "137", "144", "383", "301", "302", "305", "309", "321", "373", "380", "381", "384", "401", "406", "456", "457", "570", "571", "602", "601",
}

// meaning says a station code in plain words.
func (w *writer) meaning(code string) string {
	if w.format() == signal.CID {
		for _, a := range actions {
			if a.code == code {
				return said(w.l, a.say)
			}
		}
	}
	if m, ok := signal.Lookup(w.format(), code); ok {
		return said(w.l, m.Words)
	}
	return ""
}

// familyAction is what to do about a zone of a family, where its code is not in the table (SIA, say).
var familyAction = map[string]string{
	"fire": doFire, "co": doCO, "gas": doGas, "burglary": doBurglary, "panic": doQuiet, "medical": doHelp, "building": doBuilding, "control": doNote,
}

func (w *writer) actions() {
	l, s := w.l, w.s
	w.lackAccount()
	pairs := append(w.accountPairs(), Pair{l.Say("Valid from"), w.On})
	who := w.people("technician")
	if run := w.State.OpenRun(); run != nil {
		if p, ok := s.People[site.PersonID(run.By)]; ok {
			who = []site.Person{p}
		}
	}
	onSite, telephone := "", ""
	if len(who) > 0 {
		onSite, telephone = join(", ", who[0].Name, who[0].Firm), who[0].Phone
	}
	pairs = append(pairs, Pair{l.Say("Technician"), onSite}, Pair{l.Say("Telephone on site"), telephone})
	if telephone == "" {
		w.lack("hand", l.Say("No telephone of the technician on site"))
	}
	w.add(Section{ID: "account", Pairs: pairs, Own: true})
	w.expected()
	w.add(Section{ID: "agree", Own: true, Framed: true, Text: []string{l.Say("What stands below is proposed. What firm, owner and station have agreed in writing counts, and local rules before that.")}})
	t := Table{Head: []string{l.Say("Code"), l.Say("What it means"), l.Say("What to do"), l.Say("Zones")}, Widths: []float64{9, 42, 82, 40}, Empty: l.Say("No zone yet."), Rows: [][]string{}}
	byCode := map[string][]string{}
	for _, id := range w.zones() {
		if code := s.Zones[id].Code; code != "" {
			byCode[code] = append(byCode[code], string(id))
		}
	}
	if w.format() == signal.CID {
		for _, a := range actions {
			if zones := byCode[a.code]; len(zones) > 0 || slices.Contains(always, a.code) {
				t.Rows = append(t.Rows, []string{a.code, said(l, a.say), said(l, a.do), strings.Join(zones, " ")})
				delete(byCode, a.code)
			}
		}
	}
	for _, code := range site.SortedIDs(byCode) {
		zone := s.Zones[site.ZoneID(byCode[code][0])]
		t.Rows = append(t.Rows, []string{code, cmp.Or(w.meaning(code), w.kind(zone.Kind)), said(l, cmp.Or(familyAction[zone.Kind.Family()], doNote)), strings.Join(byCode[code], " ")})
	}
	w.add(Section{ID: "codes", Title: l.Say("Code, meaning, what to do"), Table: &t})
}

// expected lists what the station will see while somebody is on site.
func (w *writer) expected() {
	l := w.l
	title := l.Say("Signals expected today")
	run := w.State.OpenRun()
	if run == nil {
		w.add(Section{ID: "expected", Own: true, Title: title, Text: []string{l.Say("No test is under way: nothing is expected. What comes is real.")}})
		return
	}
	steps, _ := w.Judge(run)
	t := Table{Head: []string{l.Say("Zone"), l.Say("Signal"), l.Say("Codes")}, Widths: []float64{10, 110, 40}, Rows: [][]string{}}
	at := map[string]int{}
	for _, step := range steps {
		var codes []string
		for _, e := range step.Expected {
			if code := join(" ", e.Code, restoreMark(l, e.Qualifier)); !e.Optional && e.Code != "" && !slices.Contains(codes, code) {
				codes = append(codes, code)
			}
		}
		if len(codes) == 0 {
			continue
		}
		zone, title := string(step.Zone), cmp.Or(w.spoken(w.s.Zones[step.Zone]), step.Title)
		if step.Zone == "" {
			zone = "–"
		}
		key := zone + title
		if i, ok := at[key]; ok {
			for _, code := range codes {
				if !strings.Contains(", "+t.Rows[i][2]+",", ", "+code+",") {
					t.Rows[i][2] += ", " + code
				}
			}
			continue
		}
		at[key] = len(t.Rows)
		t.Rows = append(t.Rows, []string{zone, title, strings.Join(codes, ", ")})
	}
	text := []string{}
	if win := run.Window; !win.Opened.IsZero() {
		text = append(text, l.Say("On test from %s to %s. What is not in this list is real.", l.Moment(win.Opened.In(w.Zone)), win.Until.In(w.Zone).Format("15:04")))
	}
	w.add(Section{ID: "expected", Own: true, Title: title, Text: text, Table: &t})
}

func restoreMark(l *words.Language, q signal.Qualifier) string {
	if q == signal.Restore {
		return l.Say("restore")
	}
	return ""
}
