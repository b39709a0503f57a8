package rules

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"proofbell/electrical"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/site"
)

// lifeFamilies are the families of zones that no false-alarm feature may touch.
var lifeFamilies = []string{"fire", "co", "gas"}

var familySay = map[string]string{
	"fire": words.Mark("fire"), "co": words.Mark("carbon monoxide"), "gas": words.Mark("gas"), "burglary": words.Mark("burglary"),
	"panic": words.Mark("panic"), "medical": words.Mark("medical"), "building": words.Mark("building"), "control": words.Mark("control"),
}

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
	c.exempt("settings.abort.life", "abortWindow", s.AbortWindow.Applies, c.lang.Say("abort window"),
		words.Mark("The abort window%[2]s holds back %[1]s alarms. Every second counts, and nobody may take a fire back at the keypad before it is told."), c.ofTime(s.AbortWindow.Time))
	c.exempt("settings.limit.life", "tripLimit", s.TripLimit.Applies, c.lang.Say("trip limit"),
		words.Mark("The trip limit of %[2]s also silences %[1]s alarms. A detector that trips again while the danger goes on must be told again."), strconv.Itoa(s.TripLimit.Trips))

	c.within("settings.exit", "exitDelay", words.Mark("exit delay"), s.ExitDelay, c.figure("exit.least"), c.figure("exit.most"), c.figure("exit.usual"))
	c.within("settings.entry", "entryDelay", words.Mark("entry delay"), s.EntryDelay, c.figure("entry.least"), c.figure("entry.most"), c.figure("entry.least"))
	if !s.EntryDelay2.IsZero() {
		c.within("settings.entry", "entryDelay2", words.Mark("entry delay 2"), s.EntryDelay2, c.figure("entry.least"), c.figure("entry.most"), c.figure("entry.least"))
	}
	if !s.AbortWindow.Time.IsZero() && len(s.AbortWindow.Applies) > 0 {
		at := report{where: c.setting(c.lang.Say("abort window")), places: []Place{settingAt("abortWindow")}, cause: []any{s.AbortWindow.Time.String()}}
		least, most := c.figure("abort.least"), c.figure("abort.most")
		if t := s.AbortWindow.Time.SI(); t < least || t > most {
			at.say = c.lang.Say("The abort window is %s; the range is %s to %s s.", s.AbortWindow.Time, c.number(least), c.number(most))
			at.do = c.lang.Say("Bring it into the range.")
			c.add("settings.abort", at)
		}
		if sum, most := s.AbortWindow.Time.SI()+s.EntryDelay.SI(), c.figure("entry.abort"); sum > most && slices.Contains(s.AbortWindow.Applies, "burglary") {
			at.cause = append(at.cause, s.EntryDelay.String())
			at.say = c.lang.Say("Entry delay and abort window together are %s s: the station hears of a break-in only then. Together at most %s s.", c.number(sum), c.number(most))
			at.do = c.lang.Say("Shorten one of them.")
			c.add("settings.entry-abort", at)
		}
	}
	if n, least, most := float64(s.TripLimit.Trips), c.figure("trips.least"), c.figure("trips.most"); n != 0 && (n < least || n > most) {
		c.add("settings.limit", report{
			where: c.setting(c.lang.Say("trip limit")), places: []Place{settingAt("tripLimit")}, cause: []any{n},
			say: c.lang.Say("The trip limit is %s; the range is %s to %s.", c.number(n), c.number(least), c.number(most)), do: c.lang.Say("Bring it into the range."),
		})
	}
	for _, id := range site.SortedIDs(s.CrossZones) {
		c.crossZone(id, s.CrossZones[id])
	}
	switch t, most := s.PeriodicTest, c.figure("test.most"); {
	case t.IsZero():
		c.lack("settings.test", words.Later("interval of the periodic test signal"), settingAt("periodicTest"))
	case t.SI() > most*86400:
		c.add("settings.test", report{
			where: c.setting(c.lang.Say("periodic test")), places: []Place{settingAt("periodicTest")}, cause: []any{t.String()},
			say:   c.lang.Say("A test signal goes out every %s; at least every %s days is wanted. A path that died quietly would be found out that late.", t, c.number(most)),
			do:    c.lang.Say("Shorten the interval, daily is usual."),
			patch: settingPatch(object{"periodicTest": "24 h"}), patchSay: c.change(c.lang.Say("periodic test"), t.String(), "24 h"),
		})
	}
	switch t, least := s.FireSounder, c.figure("sounder.least"); {
	case t.IsZero():
		c.lack("settings.sounder", words.Later("time that the fire sounder runs"), settingAt("fireSounder"))
	case t.SI() < least:
		c.add("settings.sounder", report{
			where: c.setting(c.lang.Say("fire sounder")), places: []Place{settingAt("fireSounder")}, cause: []any{t.String()},
			say:   c.lang.Say("The fire sounder stops after %s; %s is the least.", t, c.span(least)),
			do:    c.lang.Say("Let it run longer, and size the battery for it."),
			patch: settingPatch(object{"fireSounder": "4 min"}), patchSay: c.change(c.lang.Say("fire sounder"), t.String(), "4 min"),
		})
	}
}

func (c *check) ofTime(d quantity.Duration) string {
	if d.IsZero() {
		return ""
	}
	return " " + c.lang.Say("of %s", d)
}

// exempt keeps life safety out of a false-alarm feature.
func (c *check) exempt(rule, member string, applies []string, name, format, of string) {
	lives, rest := split(applies)
	if len(lives) == 0 {
		return
	}
	var names []string
	for _, f := range lives {
		names = append(names, c.lang.Word(familySay[f]))
	}
	var left any
	if len(rest) > 0 {
		left = rest
	}
	c.add(rule, report{
		where: c.setting(name), places: []Place{settingAt(member)}, cause: []any{lives},
		say:   c.lang.Say(format, words.List(c.lang, names), of),
		do:    c.lang.Say("Exempt %s.", words.List(c.lang, names)),
		patch: settingPatch(object{member: object{"applies": left}}), patchSay: c.change(c.lang.Say("%s applies to", name), c.families(applies), c.families(rest)),
	})
}

// setting is the first line of a finding about a setting.
func (c *check) setting(name string) string { return c.about(c.lang.Say("Settings"), name) }

// families names families of zones for a change.
func (c *check) families(ids []string) string {
	said := make([]string, len(ids))
	for i, id := range ids {
		said[i] = id
		if name, ok := familySay[id]; ok {
			said[i] = c.lang.Word(name)
		}
	}
	return words.List(c.lang, said)
}

// within holds a delay against its range. usual is what to propose.
func (c *check) within(rule, member, marked string, d quantity.Duration, least, most, usual float64) {
	name := c.lang.Word(marked)
	if d.IsZero() {
		c.lack(rule, words.Later(marked), settingAt(member))
		return
	}
	if d.SI() >= least && d.SI() <= most {
		return
	}
	r := report{
		where: c.setting(name), places: []Place{settingAt(member)}, cause: []any{d.String()},
		say: c.lang.Say("The %s is %s; the range is %s to %s s.", name, d, c.number(least), c.number(most)),
		do:  c.lang.Say("Set at least %s s; %s s is usual.", c.number(least), c.number(usual)),
	}
	if d.SI() < least {
		r.say += " " + c.lang.Say("People who hurry set it off, and the next ones do not hurry any more.")
	} else {
		r.do = c.lang.Say("Set at most %s s; %s s is usual.", c.number(most), c.number(usual))
	}
	r.patch = settingPatch(object{member: fmt.Sprintf("%g s", usual)})
	r.patchSay = c.change(name, d.String(), fmt.Sprintf("%g s", usual))
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
		where: c.setting(c.lang.Say("cross-zone %s", id)), places: places, cause: []any{pair.Zones},
		patch: settingPatch(object{"crossZones": object{id: nil}}), patchSay: c.change(c.lang.Say("cross-zone %s", id), words.List(c.lang, pair.Zones), ""),
	}
	switch {
	case len(lives) > 0:
		r.say = c.lang.Say("Zone %s guards lives and waits here for a second zone before it alarms.", words.List(c.lang, lives))
		r.do = c.lang.Say("Take life-safety zones out of every cross-zone.")
		c.add("settings.cross.life", r)
	case len(distinct) < 2:
		r.say = c.lang.Say("A cross-zone needs two different zones: with one it never alarms.")
		r.do = c.lang.Say("Name the second zone, or take the cross-zone out.")
		c.add("settings.cross.pair", r)
	case len(areas) > 1:
		r.say = c.lang.Say("The zones are in different areas: with one area off, the other waits for a zone that is not live.")
		r.do = c.lang.Say("Pair zones of one area.")
		c.add("settings.cross.pair", r)
	}
}

// power sizes the panel's battery.
func (c *check) power() {
	p := c.Power
	if hours := c.figure("standby.time"); !p.Standby.IsZero() && p.Standby.SI() < hours*3600 {
		c.add("power.standby-time", report{
			where: c.lang.Say("Panel, standby time"), places: []Place{{"power", "standby"}}, cause: []any{p.Standby.String()},
			say:   c.lang.Say("The sum counts %s without mains; %s h is the least.", p.Standby, c.number(hours)),
			do:    c.lang.Say("Count the full time."),
			patch: object{"power": object{"standby": fmt.Sprintf("%g h", hours)}}, patchSay: c.change(c.lang.Say("standby"), p.Standby.String(), fmt.Sprintf("%g h", hours)),
		})
	}
	for _, m := range []struct {
		zero   bool
		name   words.Text
		member string
	}{
		{p.Battery.IsZero(), words.Later("capacity of the battery"), "battery"}, {p.RestLoad.IsZero(), words.Later("load at rest"), "restLoad"}, {p.AlarmLoad.IsZero(), words.Later("load in alarm"), "alarmLoad"},
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
		c.lack("power.battery", words.Later("believable loads and times (%s)", words.Said(err)), Place{"power", "battery"})
		return
	}
	working := func(s electrical.Sum, t float64) string {
		return c.lang.Say("%s h x %s A + %s/60 h x %s A = %s Ah, x %s for ageing = %s Ah", c.number(float64(load.Standby)/3600), c.number(float64(load.Rest)),
			c.number(round1(t/60)), c.number(float64(load.Alarm)), c.lang.Number(float64(s.Load), 2), c.number(load.Ageing), c.lang.Number(float64(s.Needed), 1))
	}
	r := report{
		where: c.lang.Say("Panel, battery"), places: []Place{{"power", "battery"}, settingAt("fireSounder")},
		cause: []any{p.Battery.String(), p.RestLoad.String(), p.AlarmLoad.String(), float64(sum.Needed)},
	}
	short := counted > 0 && counted < runs
	drafted := ""
	if short {
		load.AlarmTime = quantity.Second(counted)
		if s, err := electrical.Standby(load); err == nil {
			drafted = c.lang.Say("The fire sounder runs %s but the drafted sum counts only %s (%s Ah).", c.span(runs), c.span(counted), c.lang.Number(float64(s.Needed), 1)) + " "
		}
	}
	if fitted := p.Battery.SI(); fitted < float64(sum.Needed) {
		r.say = drafted + c.lang.Say("Needed: %s; fitted %s.", working(sum, runs), p.Battery)
		r.do = c.lang.Say("Fit the next larger battery if cabinet, charger and listing allow it, or lower the load.")
		c.add("power.battery", r)
		return
	}
	if short {
		r.where, r.places = c.lang.Say("Panel, alarm time"), []Place{{"power", "alarmTime"}, settingAt("fireSounder")}
		r.cause = []any{p.AlarmTime.String(), runs}
		r.say = drafted + c.lang.Say("The battery of %s still carries it: %s.", p.Battery, working(sum, runs))
		r.do = c.lang.Say("Count the time that the sounder runs.")
		minutes := fmt.Sprintf("%g min", round1(runs/60))
		r.patch, r.patchSay = object{"power": object{"alarmTime": minutes}}, c.change(c.lang.Say("alarm time"), p.AlarmTime.String(), minutes)
		c.add("power.alarm-time", r)
	}
}

// round1 rounds up to one decimal, so that a proposed time never falls short.
func round1(x float64) float64 { return math.Ceil(x*10-1e-9) / 10 }
