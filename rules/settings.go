package rules

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"proofbell/electrical"
	"proofbell/quantity"
	"proofbell/site"
)

// lifeFamilies are the families of zones that no false-alarm feature may touch.
var lifeFamilies = []string{"fire", "co", "gas"}

var familySay = map[string]string{"fire": "fire", "co": "carbon monoxide", "gas": "gas"}

// split parts the families that a feature applies to into life safety and the rest.
func split(applies []string) (lives, rest []string) {
	for _, f := range applies {
		if slices.Contains(lifeFamilies, f) {
			lives = append(lives, f)
		} else {
			rest = append(rest, f)
		}
	}
	return lives, rest
}

func settingPatch(members object) object { return object{"settings": members} }

func (c *check) settings() {
	s := c.Settings
	c.exempt("settings.abort.life", "abortWindow", s.AbortWindow.Applies, "Abort window",
		fmt.Sprintf("The abort window%s holds back", ofTime(s.AbortWindow.Time)), "Every second counts, and nobody may take a fire back at the keypad before it is told.")
	c.exempt("settings.limit.life", "tripLimit", s.TripLimit.Applies, "Trip limit",
		fmt.Sprintf("The trip limit of %d also silences", s.TripLimit.Trips), "A detector that trips again while the danger goes on must be told again.")

	c.within("settings.exit", "exitDelay", "Exit delay", s.ExitDelay, c.figure("exit.least"), c.figure("exit.most"), c.figure("exit.usual"))
	c.within("settings.entry", "entryDelay", "Entry delay", s.EntryDelay, c.figure("entry.least"), c.figure("entry.most"), c.figure("entry.least"))
	if !s.EntryDelay2.IsZero() {
		c.within("settings.entry", "entryDelay2", "Entry delay 2", s.EntryDelay2, c.figure("entry.least"), c.figure("entry.most"), c.figure("entry.least"))
	}
	if !s.AbortWindow.Time.IsZero() && len(s.AbortWindow.Applies) > 0 {
		at := report{where: "Settings, abort window", places: []Place{settingAt("abortWindow")}, cause: []any{s.AbortWindow.Time.String()}}
		least, most := c.figure("abort.least"), c.figure("abort.most")
		if t := s.AbortWindow.Time.SI(); t < least || t > most {
			at.say = fmt.Sprintf("The abort window is %s; the range is %g to %g s.", s.AbortWindow.Time, least, most)
			at.do = "Bring it into the range."
			c.add("settings.abort", at)
		}
		if sum, most := s.AbortWindow.Time.SI()+s.EntryDelay.SI(), c.figure("entry.abort"); sum > most && slices.Contains(s.AbortWindow.Applies, "burglary") {
			at.cause = append(at.cause, s.EntryDelay.String())
			at.say = fmt.Sprintf("Entry delay and abort window together are %g s: the station hears of a break-in only then. Together at most %g s.", sum, most)
			at.do = "Shorten one of them."
			c.add("settings.entry-abort", at)
		}
	}
	if n, least, most := float64(s.TripLimit.Trips), c.figure("trips.least"), c.figure("trips.most"); n != 0 && (n < least || n > most) {
		c.add("settings.limit", report{
			where: "Settings, trip limit", places: []Place{settingAt("tripLimit")}, cause: []any{n},
			say: fmt.Sprintf("The trip limit is %g; the range is %g to %g.", n, least, most), do: "Bring it into the range.",
		})
	}
	for _, id := range site.SortedIDs(s.CrossZones) {
		c.crossZone(id, s.CrossZones[id])
	}
	switch t, most := s.PeriodicTest, c.figure("test.most"); {
	case t.IsZero():
		c.lack("settings.test", "interval of the periodic test signal", settingAt("periodicTest"))
	case t.SI() > most*86400:
		c.add("settings.test", report{
			where: "Settings, periodic test", places: []Place{settingAt("periodicTest")}, cause: []any{t.String()},
			say:   fmt.Sprintf("A test signal goes out every %s; at least every %g days is wanted. A path that died quietly would be found out that late.", t, most),
			do:    "Shorten the interval, daily is usual.",
			patch: settingPatch(object{"periodicTest": "24 h"}), patchSay: fmt.Sprintf("periodic test: %s -> 24 h", t),
		})
	}
	switch t, least := s.FireSounder, c.figure("sounder.least"); {
	case t.IsZero():
		c.lack("settings.sounder", "time that the fire sounder runs", settingAt("fireSounder"))
	case t.SI() < least:
		c.add("settings.sounder", report{
			where: "Settings, fire sounder", places: []Place{settingAt("fireSounder")}, cause: []any{t.String()},
			say:   fmt.Sprintf("The fire sounder stops after %s; %s is the least.", t, span(least)),
			do:    "Let it run longer, and size the battery for it.",
			patch: settingPatch(object{"fireSounder": "4 min"}), patchSay: fmt.Sprintf("fire sounder: %s -> 4 min", t),
		})
	}
}

func ofTime(d quantity.Duration) string {
	if d.IsZero() {
		return ""
	}
	return fmt.Sprintf(" of %s", d)
}

// exempt keeps life safety out of a false-alarm feature.
func (c *check) exempt(rule, member string, applies []string, name, what, why string) {
	lives, rest := split(applies)
	if len(lives) == 0 {
		return
	}
	var names []string
	for _, f := range lives {
		names = append(names, familySay[f])
	}
	var left any
	if len(rest) > 0 {
		left = rest
	}
	c.add(rule, report{
		where: "Settings, " + strings.ToLower(name), places: []Place{settingAt(member)}, cause: []any{lives},
		say:   fmt.Sprintf("%s %s alarms. %s", what, list(names), why),
		do:    fmt.Sprintf("Exempt %s.", list(names)),
		patch: settingPatch(object{member: object{"applies": left}}), patchSay: fmt.Sprintf("%s applies to: %s -> %s", strings.ToLower(name), list(applies), orNone(list(rest))),
	})
}

// within holds a delay against its range. usual is what to propose.
func (c *check) within(rule, member, name string, d quantity.Duration, least, most, usual float64) {
	if d.IsZero() {
		c.lack(rule, strings.ToLower(name), settingAt(member))
		return
	}
	if d.SI() >= least && d.SI() <= most {
		return
	}
	r := report{
		where: "Settings, " + strings.ToLower(name), places: []Place{settingAt(member)}, cause: []any{d.String()},
		say: fmt.Sprintf("The %s is %s; the range is %g to %g s.", strings.ToLower(name), d, least, most),
		do:  fmt.Sprintf("Set at least %g s; %g s is usual.", least, usual),
	}
	if d.SI() < least {
		r.say += " People who hurry set it off, and the next ones do not hurry any more."
	} else {
		r.do = fmt.Sprintf("Set at most %g s; %g s is usual.", most, usual)
	}
	r.patch = settingPatch(object{member: fmt.Sprintf("%g s", usual)})
	r.patchSay = fmt.Sprintf("%s: %s -> %g s", strings.ToLower(name), d, usual)
	c.add(rule, r)
}

func (c *check) crossZone(id string, pair site.CrossZone) {
	places := []Place{settingAt("crossZones")}
	areas, distinct := map[site.AreaID]bool{}, map[site.ZoneID]bool{}
	var lives []string
	for _, z := range pair.Zones {
		places = append(places, zoneAt(z))
		distinct[z] = true
		areas[c.Zones[z].Area] = true
		if zone := c.Zones[z]; zone.Kind.LifeSafety() || c.meant(zone).LifeSafety() {
			lives = append(lives, string(z))
		}
	}
	r := report{
		where: fmt.Sprintf("Settings, cross-zone %s", id), places: places, cause: []any{pair.Zones},
		patch: settingPatch(object{"crossZones": object{id: nil}}), patchSay: fmt.Sprintf("cross-zone %s: %s -> none", id, orNone(list(pair.Zones))),
	}
	switch {
	case len(lives) > 0:
		r.say = fmt.Sprintf("Zone %s guards lives and waits here for a second zone before it alarms.", list(lives))
		r.do = "Take life-safety zones out of every cross-zone."
		c.add("settings.cross.life", r)
	case len(distinct) < 2:
		r.say = "A cross-zone needs two different zones: with one it never alarms."
		r.do = "Name the second zone, or take the cross-zone out."
		c.add("settings.cross.pair", r)
	case len(areas) > 1:
		r.say = "The zones are in different areas: with one area off, the other waits for a zone that is not live."
		r.do = "Pair zones of one area."
		c.add("settings.cross.pair", r)
	}
}

// power sizes the panel's battery.
func (c *check) power() {
	p := c.Power
	if hours := c.figure("standby.time"); !p.Standby.IsZero() && p.Standby.SI() < hours*3600 {
		c.add("power.standby-time", report{
			where: "Panel, standby time", places: []Place{{"power", "standby"}}, cause: []any{p.Standby.String()},
			say:   fmt.Sprintf("The sum counts %s without mains; %g h is the least.", p.Standby, hours),
			do:    "Count the full time.",
			patch: object{"power": object{"standby": fmt.Sprintf("%g h", hours)}}, patchSay: fmt.Sprintf("standby: %s -> %g h", p.Standby, hours),
		})
	}
	for _, m := range []struct {
		zero   bool
		name   string
		member string
	}{
		{p.Battery.IsZero(), "capacity of the battery", "battery"}, {p.RestLoad.IsZero(), "load at rest", "restLoad"}, {p.AlarmLoad.IsZero(), "load in alarm", "alarmLoad"},
	} {
		if m.zero {
			c.lack("power.battery", m.name, Place{"power", m.member})
		}
	}
	if p.Battery.IsZero() || p.RestLoad.IsZero() || p.AlarmLoad.IsZero() {
		return
	}
	least := c.figure("standby.alarm") * 60
	runs := math.Max(math.Max(least, c.Settings.FireSounder.SI()), p.AlarmTime.SI())
	counted := p.AlarmTime.SI()
	load := electrical.Load{
		Rest: quantity.Ampere(p.RestLoad.SI()), Alarm: quantity.Ampere(p.AlarmLoad.SI()),
		Standby: quantity.Second(math.Max(p.Standby.SI(), c.figure("standby.time")*3600)), AlarmTime: quantity.Second(runs), Ageing: p.Ageing,
	}
	if load.Ageing == 0 {
		load.Ageing = c.figure("standby.ageing")
	}
	sum, err := electrical.Standby(load)
	if err != nil {
		c.lack("power.battery", "believable loads and times ("+err.Error()+")", Place{"power", "battery"})
		return
	}
	working := func(s electrical.Sum, t float64) string {
		return fmt.Sprintf("%g h x %g A + %g/60 h x %g A = %.2f Ah, x %g for ageing = %.1f Ah",
			float64(load.Standby)/3600, float64(load.Rest), round1(t/60), float64(load.Alarm), float64(s.Load), load.Ageing, float64(s.Needed))
	}
	r := report{
		where: "Panel, battery", places: []Place{{"power", "battery"}, settingAt("fireSounder")},
		cause: []any{p.Battery.String(), p.RestLoad.String(), p.AlarmLoad.String(), float64(sum.Needed)},
	}
	short := counted > 0 && counted < runs
	drafted := ""
	if short {
		load.AlarmTime = quantity.Second(counted)
		if s, err := electrical.Standby(load); err == nil {
			drafted = fmt.Sprintf("The fire sounder runs %s but the drafted sum counts only %s (%.1f Ah). ", span(runs), span(counted), float64(s.Needed))
		}
	}
	if fitted := p.Battery.SI(); fitted < float64(sum.Needed) {
		r.say = fmt.Sprintf("%sNeeded: %s; fitted %s.", drafted, working(sum, runs), p.Battery)
		r.do = "Fit the next larger battery if cabinet, charger and listing allow it, or lower the load."
		c.add("power.battery", r)
		return
	}
	if short {
		r.where, r.places = "Panel, alarm time", []Place{{"power", "alarmTime"}, settingAt("fireSounder")}
		r.cause = []any{p.AlarmTime.String(), runs}
		r.say = strings.TrimSpace(drafted) + fmt.Sprintf(" The battery of %s still carries it: %s.", p.Battery, working(sum, runs))
		r.do = "Count the time that the sounder runs."
		minutes := fmt.Sprintf("%g min", round1(runs/60))
		r.patch, r.patchSay = object{"power": object{"alarmTime": minutes}}, fmt.Sprintf("alarm time: %s -> %s", p.AlarmTime, minutes)
		c.add("power.alarm-time", r)
	}
}

// round1 rounds up to one decimal, so that a proposed time never falls short.
func round1(x float64) float64 { return math.Ceil(x*10-1e-9) / 10 }
