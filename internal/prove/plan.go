package prove

import (
	"cmp"
	"slices"
	"strconv"

	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/signal"
	"proofbell/site"
)

// Default times to accept, in seconds, where neither model nor profile says otherwise. Trade practice except where a
// source is named; editable per model and per panel profile.
const (
	defaultToPanel   = 10  // device to panel
	bridgeToPanel    = 30  // a listening bridge needs 10 to 30 s of sound
	verifiedToPanel  = 60  // the total delay of a verified zone, NFPA 72 23.8.5.4 (edition and clause unconfirmed)
	defaultToStation = 60  // panel to station's display by network paths
	worstToStation   = 90  // NFPA 72 26.6.3 (unconfirmed): then it counts as not received
	restoreWithin    = 120 // after the device is cleared
	defaultBell      = 240 // sounder time where the settings give none, for restores sent at its end
	maxSample        = 50  // devices in the sample of a changed program, NFPA 72-2013 14.4.2
)

type planner struct {
	s      *site.Site
	p      *panel.Profile
	o      Options
	lang   *words.Language
	format signal.Format
	steps  []Step

	apartFrom map[site.DeviceID]bool // devices whose separate proofs are planned
}

// Plan derives the steps of a proving run in walking order: one step for each device's terminal, one for each head's test
// button, and those of the panel itself. p may be nil: then the default times and restores that follow the device hold.
// What can not be tested is in the plan too, with the reason, so that nobody forgets it.
func (v Voice) Plan(s *site.Site, p *panel.Profile, o Options) []Step {
	if len(o.Steps) > 0 {
		return v.named(s, p, o)
	}
	return walk(v.lang, s, v.steps(s, p, o))
}

// named plans the steps that a scope names. A step that the site no longer has is left out.
func (v Voice) named(s *site.Site, p *panel.Profile, o Options) []Step {
	all := v.steps(s, p, Options{Also: []Proof{ProofTamper, ProofBattery, ProofLoss}, NoReceiver: o.NoReceiver})
	return walk(v.lang, s, slices.DeleteFunc(all, func(st Step) bool { return st.Proof != ProofTest && !slices.Contains(o.Steps, st.ID) }))
}

func (v Voice) steps(s *site.Site, p *panel.Profile, o Options) []Step {
	pl := &planner{lang: v.lang, s: s, p: p, o: o, format: signal.CID, apartFrom: map[site.DeviceID]bool{}}
	if s.Account.Format == "sia" {
		pl.format = signal.SIADCS
	}
	pl.test()
	zones := pl.scope()
	for _, id := range zones {
		pl.zone(id)
	}
	pl.heads(zones)
	for _, id := range zones {
		pl.separate(id)
	}
	if !o.NoSystem && len(o.Zones) == 0 && pl.wants(FamilyTrouble) {
		pl.system()
		pl.sounders()
	}
	return pl.steps
}

func (pl *planner) wants(family string) bool {
	return len(pl.o.Families) == 0 || slices.Contains(pl.o.Families, family)
}

// scope lists the zones of the run, in order: all that are used, or those asked for with what they oblige.
func (pl *planner) scope() []site.ZoneID {
	var all []site.ZoneID
	for _, id := range site.SortedIDs(pl.s.Zones) {
		z := pl.s.Zones[id]
		if z.Kind != site.Unused && pl.wants(pl.family(z)) {
			all = append(all, id)
		}
	}
	if len(pl.o.Zones) == 0 {
		return all
	}
	in := map[site.ZoneID]bool{}
	for _, id := range pl.o.Zones {
		in[id] = true
		for _, other := range all { // another terminal of the same device was touched as well
			if d := pl.s.Zones[id].Device; d != "" && pl.s.Zones[other].Device == d {
				in[other] = true
			}
		}
	}
	if pl.o.Sample > 0 {
		pl.sample(all, in)
	}
	return slices.DeleteFunc(all, func(id site.ZoneID) bool { return !in[id] })
}

// sample adds a share of the other zones, longest untested first, at least one (NFPA 72-2013 14.4.2: 10 %, at most 50).
func (pl *planner) sample(all []site.ZoneID, in map[site.ZoneID]bool) {
	var others []site.ZoneID
	for _, id := range slices.Concat(pl.o.Longest, all) {
		if slices.Contains(all, id) && !in[id] && !slices.Contains(others, id) {
			others = append(others, id)
		}
	}
	n := min((len(others)*min(pl.o.Sample, 100)+99)/100, maxSample, len(others))
	for _, id := range others[:n] {
		in[id] = true
	}
}

// family is what has to be on test for a zone: what its station code means, because that decides whom the station sends;
// else its kind.
func (pl *planner) family(z site.Zone) string {
	code, _ := pl.alarmCode(z)
	if m, ok := signal.Lookup(pl.format, code); ok {
		switch m.Family {
		case signal.Fire:
			return FamilyFire
		case signal.CO:
			return FamilyCO
		case signal.Gas:
			if z.Kind == site.CO {
				return FamilyCO
			}
			return FamilyGas
		case signal.Burglary:
			return FamilyBurglary
		case signal.Panic:
			return FamilyPanic
		case signal.Medical:
			return FamilyMedical
		case signal.Water, signal.Climate:
			return FamilyBuilding
		}
	}
	return FamilyOf(z.Kind)
}

// alarmCode is the scheduled code in the account's format; codes of the other format and missing ones give way to the
// default of the zone's kind.
func (pl *planner) alarmCode(z site.Zone) (code string, defaulted bool) {
	threeDigits := len(z.Code) == 3 && z.Code[0] >= '0' && z.Code[0] <= '9'
	if z.Code != "" && threeDigits == (pl.format == signal.CID) {
		return z.Code, false
	}
	e, _ := signal.ExpectedFor(pl.format, string(z.Kind))
	if z.Kind == site.Trouble {
		return e.Trouble.Begin, true
	}
	return e.Alarm.Begin, true
}

func (pl *planner) number(id site.ZoneID) (int, bool) {
	n, err := strconv.Atoi(string(id))
	return n, err == nil && n > 0 && n < 10000
}

// zoneStep is the frame of every step that belongs to a zone.
func (pl *planner) zoneStep(id site.ZoneID, proof Proof) Step {
	z := pl.s.Zones[id]
	d := pl.s.Devices[z.Device]
	st := Step{
		ID: StepID(string(id) + "." + string(proof)), Kind: StepZone, Proof: proof, Zone: id, Device: z.Device, Terminal: z.Terminal,
		Family: pl.family(z), Title: cmp.Or(z.Label, pl.lang.Say("Zone %s", id)), Arm: ArmAny, ToStation: true,
		Methods: []Method{}, Cautions: []string{}, Notes: []string{}, Areas: []site.AreaID{}, Expected: []Expectation{},
	}
	pl.put(&st, d.Room, d.At)
	return st
}

func (pl *planner) put(st *Step, room site.RoomID, at site.Coordinates) {
	p := placeOf(pl.s, room, at)
	st.Room, st.Storey = room, p.storey
	st.Placed, st.X, st.Y = p.ok, p.at.X, p.at.Y
	st.Where = words.Join(pl.s.Rooms[room].Name, pl.s.Storeys[p.storey].Name)
}

// why says what keeps a zone from being tested; "" when nothing does.
func (pl *planner) why(id site.ZoneID) string {
	z := pl.s.Zones[id]
	_, numbered := pl.number(id)
	code, _ := pl.alarmCode(z)
	switch {
	case !numbered:
		return pl.lang.Say("The zone has no number that a signal can carry.")
	case z.Kind == "":
		return pl.lang.Say("The zone has no kind yet.")
	case z.Device == "":
		return pl.lang.Say("No device is assigned to the zone.")
	case z.Kind == site.Observe:
		return pl.lang.Say("Observe only: it sends nothing to the station. Check it at the panel.")
	case len(z.Paths) == 0:
		return pl.lang.Say("The schedule names no path: the panel tells nobody.")
	case code == "":
		return pl.lang.Say("No station code is scheduled and its kind has no usual one.")
	}
	return ""
}

func (pl *planner) zone(id site.ZoneID) {
	z := pl.s.Zones[id]
	d := pl.s.Devices[z.Device]
	m := pl.s.Models[d.Model]
	senses := m.Senses(z.Terminal)
	if listens(d, m, senses) {
		if why := pl.whyGroup(z, d, senses); why != "" {
			st := pl.zoneStep(id, ProofAlarm)
			st.NotTestable = cmp.Or(pl.why(id), why)
			pl.add(st)
		}
		return // the heads of the group trip it: see heads
	}
	st := pl.zoneStep(id, ProofAlarm)
	if st.NotTestable = pl.why(id); st.NotTestable != "" {
		pl.add(st)
		return
	}
	t := tripFor(senses, z.Kind, m).in(pl.lang)
	st.Do, st.Methods, st.Restore, st.Cautions = t.do, t.methods, t.restore, t.cautions
	st.Notes = append(st.Notes, t.notes...)
	st.Sounds = m.SelfSounding
	pl.arming(&st, z)
	st.Expected = pl.expect(st.ID, id, "")
	pl.restoreNotes(&st, z, m)
	pl.testNotes(&st, z)
	pl.add(st)
}

func (pl *planner) add(st Step) { pl.steps = append(pl.steps, st) }

// arming fills in what a burglary zone or a key switch needs of the areas.
func (pl *planner) arming(st *Step, z site.Zone) {
	switch z.Kind {
	case site.Entry1, site.Entry2, site.Perimeter, site.Inside:
		st.Arm = ArmSet
		if z.Area != "" {
			st.Areas = append(st.Areas, z.Area)
		}
		if t := pl.s.Settings.TripLimit; t.Trips > 0 && slices.Contains(t.Applies, "burglary") {
			st.Cautions = append(st.Cautions, pl.lang.Say("After %d trips in one armed period the panel reports this zone no more. Do not waste one.", t.Trips))
		}
		for _, key := range site.SortedIDs(pl.s.Settings.CrossZones) {
			c := pl.s.Settings.CrossZones[key]
			if slices.Contains(c.Zones, st.Zone) {
				st.Notes = append(st.Notes, pl.lang.Say("Reports only together with its partner (zones %s within %s): trip both.", zones(c.Zones), c.Within))
			}
		}
	case site.Keyswitch:
		st.Arm = ArmMove
		if z.Area != "" {
			st.Areas = append(st.Areas, z.Area)
		}
	}
	if (z.Kind == site.Entry1 || z.Kind == site.Entry2) && pl.held(z) > 0 {
		st.Notes = append(st.Notes, pl.lang.Say("The alarm comes after the entry delay: up to %d s.", pl.held(z)))
	}
}

func zones(ids []site.ZoneID) string {
	text := ""
	for i, id := range ids {
		if i > 0 {
			text += ", "
		}
		text += string(id)
	}
	return text
}

// testNotes says what the panel's own test mode would do to the signal of this step.
func (pl *planner) testNotes(st *Step, z site.Zone) {
	if pl.p == nil {
		return
	}
	switch pl.p.Test(z.Kind) {
	case panel.TestSilent:
		st.Notes = append(st.Notes, pl.lang.Say("Not in the panel's own test mode: it then tells the station nothing of this zone."))
	case panel.TestMarked:
		st.Notes = append(st.Notes, pl.lang.Say("In the panel's own test mode this signal would say that it is a test."))
	}
}

func (pl *planner) restoreNotes(st *Step, z site.Zone, m site.Model) {
	if z.Kind == site.Keyswitch {
		return
	}
	switch pl.policy(z, m) {
	case panel.RestoreNone:
		st.Notes = append(st.Notes, pl.lang.Say("Sends no restore."))
	case panel.RestoreReset:
		st.Restore += " " + pl.lang.Say("Then reset the panel: it holds the alarm until then.")
	case panel.RestoreBell:
		st.Notes = append(st.Notes, pl.lang.Say("The panel sends the restore when its sounder stops."))
	}
}
