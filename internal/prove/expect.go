package prove

import (
	"math"
	"slices"

	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/signal"
	"proofbell/site"
)

func (pl *planner) policy(z site.Zone, m site.Model) panel.RestorePolicy {
	switch {
	case m.NoRestore:
		return panel.RestoreNone
	case pl.p != nil:
		return pl.p.Restore(z.Kind)
	case z.Kind.Family() == "panic":
		return panel.RestoreNone
	}
	return panel.RestoreFollows
}

// limits are the times to accept for a zone's alarm.
func (pl *planner) limits(z site.Zone, m site.Model) (toPanel int, because string) {
	toPanel, because = defaultToPanel, words.Mark("usual time")
	switch {
	case !m.ToPanel.IsZero():
		toPanel, because = seconds(m.ToPanel.SI()), words.Mark("the device's model")
	case m.Class == "bridge":
		toPanel, because = max(bridgeToPanel, listenSeconds(m)), words.Mark("usual time of a listening bridge")
	case pl.p != nil && !pl.p.Timing.ToPanel.IsZero():
		toPanel, because = seconds(pl.p.Timing.ToPanel.SI()), words.Mark("the panel's profile")
	}
	if z.Kind == site.SmokeVerified && toPanel < verifiedToPanel {
		toPanel, because = verifiedToPanel, words.Mark("verification of smoke")
	}
	return toPanel, because
}

func (pl *planner) toStation() (usual, worst int) {
	usual, worst = defaultToStation, worstToStation
	if pl.p != nil && !pl.p.Timing.ToStation.IsZero() {
		usual = seconds(pl.p.Timing.ToStation.SI())
		worst = max(usual, worst)
	}
	if pl.p != nil && !pl.p.Timing.ToStationWorst.IsZero() {
		worst = max(usual, seconds(pl.p.Timing.ToStationWorst.SI()))
	}
	return usual, worst
}

// held is how long the panel's own settings keep an alarm back: entry delay and abort window.
func (pl *planner) held(z site.Zone) int {
	set := pl.s.Settings
	held := 0.0
	switch z.Kind {
	case site.Entry1:
		held = set.EntryDelay.SI()
	case site.Entry2:
		held = set.EntryDelay.SI()
		if !set.EntryDelay2.IsZero() {
			held = set.EntryDelay2.SI()
		}
	}
	if slices.Contains(set.AbortWindow.Applies, z.Kind.Family()) {
		held += set.AbortWindow.Time.SI()
	}
	return seconds(held)
}

func seconds(s float64) int { return int(math.Ceil(s)) }

// expect lists the signals of a zone's alarm proof. mark tells apart the zones of a step that has several.
func (pl *planner) expect(step StepID, id site.ZoneID, mark string) []Expectation {
	z := pl.s.Zones[id]
	m := pl.s.Models[pl.s.Devices[z.Device].Model]
	number, _ := pl.number(id)
	code, defaulted := pl.alarmCode(z)
	toPanel, because := pl.limits(z, m)
	usual, worst := pl.toStation()
	e := Expectation{
		ID: ExpectationID(string(step) + "/" + string(RoleAlarm) + mark), Role: RoleAlarm, Zone: id, Number: number, Area: z.Area,
		Format: pl.format, Code: code, Qualifier: signal.New, ToPanel: toPanel, Held: pl.held(z), ToStation: usual, Because: because, Also: []string{},
	}
	e.Worst = e.ToPanel + e.Held + worst
	if defaulted {
		d, _ := signal.ExpectedFor(pl.format, string(z.Kind))
		e.Also = slices.Clone(d.Alarm.AlsoBegin)
		if e.Also == nil {
			e.Also = []string{}
		}
	}
	if z.Kind == site.Keyswitch {
		on, off := e, e
		on.ID, on.Role, on.Qualifier = ExpectationID(string(step)+"/"+string(RoleArm)), RoleArm, signal.Closing
		off.ID, off.Role, off.Qualifier = ExpectationID(string(step)+"/"+string(RoleDisarm)), RoleDisarm, signal.Opening
		if d, _ := signal.ExpectedFor(pl.format, string(z.Kind)); pl.format == signal.SIADCS {
			on.Code, off.Code = d.Alarm.End, d.Alarm.Begin
			if defaulted = z.Code == ""; !defaulted {
				on.Also = append(on.Also, z.Code)
			}
		}
		return []Expectation{pl.say(on), pl.say(off)}
	}
	out := []Expectation{pl.say(e)}
	policy := pl.policy(z, m)
	if policy == panel.RestoreNone {
		return out
	}
	within := restoreWithin
	if pl.p != nil && !pl.p.Timing.RestoreWithin.IsZero() {
		within = seconds(pl.p.Timing.RestoreWithin.SI())
	}
	r := e
	r.ID, r.Role, r.Qualifier = ExpectationID(string(step)+"/"+string(RoleRestore)+mark), RoleRestore, signal.Restore
	r.ToPanel, r.Held, r.ToStation, r.Because = within, 0, 0, words.Mark("usual time after clearing")
	r.Policy = string(policy)
	if policy == panel.RestoreBell {
		r.Held = defaultBell
		if !pl.s.Settings.FireSounder.IsZero() {
			r.Held = seconds(pl.s.Settings.FireSounder.SI())
		}
	}
	r.Worst = r.ToPanel + r.Held + worst - usual
	pl.ends(&r, code, e.Also)
	return append(out, pl.say(r))
}

// ends sets the codes that end what code began, as the format has them.
func (pl *planner) ends(r *Expectation, code string, also []string) {
	if pl.format == signal.CID {
		r.Code, r.Also = code, slices.Clone(also)
	} else {
		var codes []string
		for _, c := range append([]string{code}, also...) {
			codes = append(codes, signal.ExpectedRestore(pl.format, c)...)
		}
		if len(codes) > 0 {
			r.Code, r.Also = codes[0], slices.Clone(codes[1:])
		}
	}
	if r.Also == nil {
		r.Also = []string{}
	}
}

// roleSay names the part of a proof that a signal is.
var roleSay = map[Role]string{
	RoleAlarm: words.Mark("alarm"), RoleRestore: words.Mark("restore"), RoleTamper: words.Mark("tamper"), RoleTamperRestore: words.Mark("tamper restore"),
	RoleBattery: words.Mark("low battery"), RoleBatteryEnd: words.Mark("battery restore"), RoleLoss: words.Mark("loss"), RoleLossEnd: words.Mark("loss restore"),
	RoleFault: words.Mark("fault"), RoleFaultEnd: words.Mark("fault restore"), RoleTest: words.Mark("test"), RoleArm: words.Mark("arming"),
	RoleDisarm: words.Mark("disarming"), RoleOtherPath: words.Mark("any signal"),
}

// say fills in the sentence of an expected signal.
func (pl *planner) say(e Expectation) Expectation {
	m, _ := signal.Lookup(e.Format, e.Code)
	e.Words, e.Because = pl.lang.Word(m.Words), pl.lang.Word(e.Because)
	what := words.Upper(pl.lang.Word(roleSay[e.Role]))
	switch e.Role {
	case RoleRestore, RoleTamperRestore, RoleBatteryEnd, RoleLossEnd, RoleFaultEnd:
		what = pl.lang.Say("Restore")
	case RoleFault, RoleLoss, RoleBattery:
		what = pl.lang.Say("Report")
	case RoleArm:
		what = pl.lang.Say("Closing")
	case RoleDisarm:
		what = pl.lang.Say("Opening")
	case RoleOtherPath:
		what = pl.lang.Say("Any signal")
	}
	if e.Code != "" {
		what += " " + e.Code
	}
	if e.Zone != "" {
		what += ", " + pl.lang.Say("zone %s", e.Zone)
	}
	if e.Path != "" {
		what += ", " + pl.lang.Say("by path %s", e.Path)
	}
	if n := e.Limit(); n > 0 {
		format := words.Mark("within %d s of the trip")
		if e.Role.Ends() && e.Role != RoleDisarm {
			format = words.Mark("within %d s of clearing")
		}
		what += ", " + pl.lang.Say(format, n)
	}
	e.Say = what
	return e
}

func listenSeconds(m site.Model) int {
	if m.Listens == nil {
		return 0
	}
	return seconds(m.Listens.Time.SI())
}
