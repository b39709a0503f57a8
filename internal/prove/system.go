package prove

import (
	"cmp"
	"slices"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/quantity"
	"proofbell/signal"
	"proofbell/site"
)

// separate adds the proofs that are wanted beside the alarm, once for each device: by its first zone.
func (pl *planner) separate(id site.ZoneID) {
	z := pl.s.Zones[id]
	m := pl.s.Models[pl.s.Devices[z.Device].Model]
	if len(pl.o.Also) == 0 || pl.why(id) != "" || m.Link == "wired" {
		return
	}
	if pl.apartFrom[z.Device] {
		return
	}
	pl.apartFrom[z.Device] = true
	defaults, _ := signal.ExpectedFor(pl.format, string(z.Kind))
	for _, proof := range []Proof{ProofTamper, ProofBattery, ProofLoss} {
		if !slices.Contains(pl.o.Also, proof) {
			continue
		}
		st := pl.zoneStep(id, proof)
		st.Family = FamilyTrouble
		st.Cautions = append(st.Cautions, pl.lang.Word(instructions))
		toPanel, because := pl.limits(site.Zone{}, site.Model{ToPanel: m.ToPanel})
		pair, begin, end := defaults.Tamper, RoleTamper, RoleTamperRestore
		switch proof {
		case ProofTamper:
			st.Title = pl.lang.Say("%s: tamper", st.Title)
			st.Do = pl.lang.Say("Take the cover or the head off its base.")
			st.Methods = []Method{full("cover", pl.lang.Say("Cover off"), pl.lang.Say("Proves the tamper contact and its link."))}
			st.Restore = pl.lang.Say("Put it back until the tamper clears.")
		case ProofBattery:
			pair, begin, end = defaults.Battery, RoleBattery, RoleBatteryEnd
			st.Title = pl.lang.Say("%s: low battery", st.Title)
			st.Do = pl.lang.Say("Use the device's own low-battery test, where it has one; otherwise tick not tested.")
			st.Methods = []Method{full("low-battery", pl.lang.Say("Its low-battery test"), pl.lang.Say("Proves the report of a low battery."))}
			st.Restore = pl.lang.Say("End the test; fit the good battery.")
		case ProofLoss:
			pair, begin, end = defaults.Missing, RoleLoss, RoleLossEnd
			st.Title = pl.lang.Say("%s: silence noticed", st.Title)
			window, never := lossSeconds(z.LossWindow)
			if never {
				st.NotTestable = pl.lang.Say("The panel does not watch this device: its silence is never reported.")
			}
			toPanel, because = window+toPanel, words.Mark("the loss window of the zone")
			st.Do = pl.lang.Say("Take the battery out and wait for the loss window (%s).", cmp.Or(z.LossWindow, pl.lang.Say("none")))
			st.Methods = []Method{full("battery-out", pl.lang.Say("Battery taken out"), pl.lang.Say("Proves that silence is noticed and reported."))}
			st.Restore = pl.lang.Say("Put the battery back and wait until the device is heard again.")
			st.Cautions = append(st.Cautions, pl.lang.Say("The battery goes on the put-back list."))
		}
		if pair.Begin == "" && st.NotTestable == "" {
			st.NotTestable = pl.lang.Say("Its kind of zone has no code for this.")
		}
		if st.NotTestable == "" {
			st.Expected = pl.pairOf(st.ID, id, pair, begin, end, toPanel, because)
		}
		pl.add(st)
	}
}

// lossSeconds reads a loss window; never is true when silence is not reported.
func lossSeconds(window string) (s int, never bool) {
	d, err := quantity.Parse[quantity.DurationDimension](window)
	if err != nil || d.SI() <= 0 {
		return 0, true
	}
	return seconds(d.SI()), false
}

func (pl *planner) pairOf(step StepID, zone site.ZoneID, pair signal.Pair, begin, end Role, toPanel int, because string) []Expectation {
	usual, worst := pl.toStation()
	number, _ := pl.number(zone)
	e := Expectation{
		ID: ExpectationID(string(step) + "/" + string(begin)), Role: begin, Zone: zone, Number: number, Format: pl.format, Code: pair.Begin,
		Also: append([]string{}, pair.AlsoBegin...), Qualifier: signal.New, ToPanel: toPanel, ToStation: usual, Because: because,
	}
	if toPanel > 0 {
		e.Worst = toPanel + worst
	}
	out := []Expectation{pl.say(e)}
	if pair.End == "" {
		return out
	}
	r := e
	r.ID, r.Role, r.Qualifier = ExpectationID(string(step)+"/"+string(end)), end, signal.Restore
	r.Code, r.Also = pair.End, append([]string{}, pair.AlsoEnd...)
	r.ToPanel, r.ToStation, r.Worst, r.Because, r.Policy = 0, 0, 0, words.Mark("no limit"), string(panel.RestoreFollows)
	if toPanel > 0 {
		r.ToPanel, r.Worst, r.Because = restoreWithin, restoreWithin+worst-usual, words.Mark("usual time after clearing")
	}
	return append(out, pl.say(r))
}

func (pl *planner) panelStep(name string, proof Proof, title string) Step {
	st := Step{
		ID: StepID(name), Kind: StepSystem, Proof: proof, Family: FamilyTrouble, Title: title, Arm: ArmAny, ToStation: true,
		Methods: []Method{}, Cautions: []string{}, Notes: []string{}, Areas: []site.AreaID{}, Expected: []Expectation{},
	}
	pl.put(&st, pl.s.Panel.Room, pl.s.Panel.At)
	return st
}

// systemCodes are the codes of the panel's own conditions: SIA DC-05 for Contact ID, SIA DC-03 for the other.
var systemCodes = map[signal.Format]map[Proof]signal.Pair{
	signal.CID: {
		ProofMains:   {Begin: "301", End: "301"},
		ProofStandby: {Begin: "302", End: "302", AlsoBegin: []string{"309", "311"}, AlsoEnd: []string{"309", "311"}},
		ProofPath:    {Begin: "350", End: "350", AlsoBegin: []string{"351", "352", "353", "354", "355", "356"}, AlsoEnd: []string{"351", "352", "353", "354", "355", "356"}},
		ProofTest:    {Begin: "602", AlsoBegin: []string{"601", "608"}},
	},
	signal.SIADCS: {
		ProofMains:   {Begin: "AT", End: "AR"},
		ProofStandby: {Begin: "YT", End: "YR", AlsoBegin: []string{"YM"}},
		ProofPath:    {Begin: "NT", End: "NR", AlsoBegin: []string{"LT", "YC", "YS"}, AlsoEnd: []string{"LR", "YK"}},
		ProofTest:    {Begin: "RP", AlsoBegin: []string{"RX", "RY"}},
	},
}

// test is the harmless first signal, which is the periodic test as well.
func (pl *planner) test() {
	st := pl.panelStep("panel.test", ProofTest, pl.lang.Say("Harmless first signal"))
	st.Do = pl.lang.Say("Make the panel send its periodic test (or a manual one). Have the station confirm it: on test, on the right account.")
	st.Methods = []Method{full("forced", pl.lang.Say("Test signal sent from the panel"), pl.lang.Say("Proves account, panel and path before the first trip."))}
	st.Notes = append(st.Notes, pl.lang.Say("Comes before the first trip: a wrong account on test means that real help is sent."))
	st.Expected = pl.pairOf(st.ID, "", systemCodes[pl.format][ProofTest], RoleTest, RoleTest, defaultToPanel, words.Mark("usual time"))
	pl.add(st)
}

func (pl *planner) system() {
	st := pl.panelStep("panel.mains", ProofMains, pl.lang.Say("Panel: mains lost"))
	st.Do = pl.lang.Say("Switch off the breaker of the panel. Then let the sounders run on the battery for as long as they have to.")
	st.Methods = []Method{full("breaker", pl.lang.Say("Breaker off"), pl.lang.Say("Proves that the loss of mains is noticed and reported."))}
	st.Restore = pl.lang.Say("Switch the breaker on again.")
	st.Cautions = append(st.Cautions, pl.lang.Say("Only the panel's own circuit, no other loads. Mains parts are for a licensed electrician."))
	st.Notes = append(st.Notes, pl.lang.Say("Panels hold this report back on purpose, some for hours: ask which delay is set. No time limit is judged here."))
	st.Expected = pl.pairOf(st.ID, "", systemCodes[pl.format][ProofMains], RoleFault, RoleFaultEnd, 0, words.Mark("no limit: the panel holds it back on purpose"))
	pl.add(st)

	st = pl.panelStep("panel.battery", ProofStandby, pl.lang.Say("Panel: battery"))
	st.Do = pl.lang.Say("With mains on, take one lead off the battery and wait for the report.")
	st.Methods = []Method{full("lead-off", pl.lang.Say("Battery lead off"), pl.lang.Say("Proves that a missing or weak battery is noticed and reported."))}
	st.Restore = pl.lang.Say("Put the lead back. Note the date on the battery's label.")
	st.Cautions = append(st.Cautions, pl.lang.Say("Acid and short circuits: insulate the loose lead, no rings, no tools across the terminals."))
	st.Notes = append(st.Notes, pl.lang.Say("Many panels test the battery only now and then: no time limit is judged here."))
	st.Expected = pl.pairOf(st.ID, "", systemCodes[pl.format][ProofStandby], RoleFault, RoleFaultEnd, 0, words.Mark("no limit: the panel tests its battery now and then"))
	pl.add(st)

	paths := site.SortedIDs(pl.s.Account.Paths)
	sorts.Stable(paths, func(a, b site.PathID) int {
		return cmp.Compare(pl.s.Account.Paths[a].Order, pl.s.Account.Paths[b].Order)
	})
	for _, id := range paths {
		pl.path(id, paths)
	}
}

// sounders adds the sounders of the system: a person has to hear each of them.
func (pl *planner) sounders() {
	for _, id := range site.SortedIDs(pl.s.Devices) {
		d := pl.s.Devices[id]
		m := pl.s.Models[d.Model]
		if m.Class != "sounder" {
			continue
		}
		st := pl.panelStep(string(id)+".sound", ProofSound, cmp.Or(m.Name, pl.lang.Say("Sounder")))
		st.Kind, st.Device, st.ToStation = StepSound, id, false
		pl.put(&st, d.Room, d.At)
		if room := pl.s.Rooms[d.Room].Name; room != "" {
			st.Title += ": " + room
		}
		st.Do = pl.lang.Say("Let it sound for 5 s by the panel's sounder test, or while a zone is tripped. Tick it when someone heard this one.")
		st.Methods = []Method{full("heard", pl.lang.Say("Heard to sound for 5 s"), pl.lang.Say("Proves that it sounds. How loud it is where people sleep is measured apart."))}
		st.Restore = pl.lang.Say("Silence the panel.")
		st.Cautions = append(st.Cautions, pl.lang.Say("Ear protection; warn people first."))
		pl.add(st)
	}
}

func (pl *planner) path(id site.PathID, all []site.PathID) {
	name := cmp.Or(pl.s.Account.Paths[id].Name, string(id))
	st := pl.panelStep("path."+string(id), ProofPath, pl.lang.Say("Path: %s", name))
	st.Path = id
	st.Do = pl.lang.Say("Block the path by %s. Wait for the report by the path that is left, then send a test signal by it.", name)
	st.Methods = []Method{full("blocked", pl.lang.Say("Path blocked"), pl.lang.Say("Proves that its failure is noticed, and that the other path carries signals."))}
	st.Restore = pl.lang.Say("Free the path again.")
	st.Notes = append(st.Notes, pl.lang.Say("Note how long the report took: the time agreed for this path decides, no limit is judged here."))
	i := slices.IndexFunc(all, func(p site.PathID) bool { return p != id })
	if i < 0 {
		st.NotTestable = pl.lang.Say("There is one path only: the panel can not report its failure by another. Ask the station when it would notice.")
		pl.add(st)
		return
	}
	st.Expected = pl.pairOf(st.ID, "", systemCodes[pl.format][ProofPath], RoleFault, RoleFaultEnd, 0, words.Mark("no limit: as agreed for the path"))
	other := st.Expected[0]
	st.Expected[0].Path = all[i]
	st.Expected[0] = pl.say(st.Expected[0])
	other.ID, other.Role = ExpectationID(string(st.ID)+"/"+string(RoleOtherPath)), RoleOtherPath
	other.Code, other.Also, other.Path = "", []string{}, all[i]
	st.Expected = slices.Insert(st.Expected, 1, pl.say(other))
	pl.add(st)
}
