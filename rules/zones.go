package rules

import (
	"slices"
	"strings"

	"proofbell/internal/words"
	"proofbell/site"
)

// fits lists the kinds that a zone may have for what its terminal senses; the first is the one to propose. What is not
// here may be of any kind.
var fits = map[string][]site.ZoneKind{
	site.SensesSmoke:    {site.Smoke, site.SmokeVerified},
	site.SensesHeat:     {site.Heat},
	site.SensesCO:       {site.CO},
	site.SensesGas:      {site.Gas},
	site.SensesThree:    {site.Smoke},
	site.SensesFour:     {site.CO},
	site.SensesFirePush: {site.CallPoint, site.Smoke}, // some panels know a call point only as smoke with code 115
	site.SensesOpening:  {site.Perimeter, site.Entry1, site.Entry2, site.Inside, site.AlwaysLoud, site.AlwaysQuiet, site.Observe},
	site.SensesMotion:   {site.Inside, site.Perimeter, site.Entry1, site.Entry2, site.AlwaysLoud, site.AlwaysQuiet, site.Observe},
	site.SensesGlass:    {site.Perimeter, site.AlwaysLoud, site.AlwaysQuiet, site.Observe},
	site.SensesPanic:    {site.PanicQuiet, site.PanicLoud, site.Medical},
	site.SensesWater:    {site.Water},
	site.SensesCold:     {site.Cold},
	site.SensesKey:      {site.Keyswitch},
}

// codes lists the event codes of ANSI/SIA DC-05 that tell a kind rightly; the first is the usual one. Kinds that are not
// here may send any code or none.
var codes = map[site.ZoneKind][]string{
	site.Entry1: {"134"}, site.Entry2: {"134"}, site.Perimeter: {"131"}, site.Inside: {"132"},
	site.AlwaysLoud: {"133"}, site.AlwaysQuiet: {"135", "133"},
	site.PanicLoud: {"123", "120"}, site.PanicQuiet: {"122", "120"}, site.Medical: {"100"},
	site.Smoke: {"111", "110"}, site.SmokeVerified: {"111", "110"}, site.Heat: {"114"}, site.CallPoint: {"115"},
	site.CO: {"162"}, site.Gas: {"151"}, site.Water: {"154"}, site.Cold: {"159", "158"},
	site.Keyswitch: {"409"}, site.Trouble: {"380", "373"},
}

// codeSay puts the codes that findings speak of into words.
var codeSay = map[string]string{
	"100": words.Mark("medical"), "110": words.Mark("fire"), "111": words.Mark("smoke"), "114": words.Mark("heat"), "115": words.Mark("fire button"), "120": words.Mark("panic"), "122": words.Mark("quiet panic"), "123": words.Mark("loud panic"),
	"131": words.Mark("perimeter burglary"), "132": words.Mark("interior burglary"), "133": words.Mark("24 h burglary"), "134": words.Mark("entry and exit burglary"), "135": words.Mark("day and night burglary"),
	"151": words.Mark("gas"), "154": words.Mark("water"), "158": words.Mark("high temperature"), "159": words.Mark("low temperature"), "162": words.Mark("carbon monoxide"), "373": words.Mark("fire trouble"), "380": words.Mark("sensor trouble"), "409": words.Mark("key switch"),
}

func (c *check) kindSay(k site.ZoneKind) string {
	for _, e := range site.ZoneKinds {
		if e.Kind == k {
			return c.quoted(c.lang.Word(e.Say))
		}
	}
	return c.quoted(string(k))
}

func (c *check) quoted(s string) string { return c.lang.Say("%q", s) }

// kindName says a kind in a change.
func (c *check) kindName(k site.ZoneKind) string {
	for _, e := range site.ZoneKinds {
		if e.Kind == k {
			return c.lang.Word(e.Say)
		}
	}
	return string(k)
}

var sensesSay = map[string]string{
	site.SensesThree: words.Mark("the fire pattern of the mains alarms (three pulses)"), site.SensesFour: words.Mark("the carbon monoxide pattern of the mains alarms (four pulses)"),
	site.SensesSmoke: words.Mark("smoke"), site.SensesHeat: words.Mark("heat"), site.SensesGas: words.Mark("gas"), site.SensesMotion: words.Mark("motion"), site.SensesWater: words.Mark("water"),
	site.SensesCO: words.Mark("carbon monoxide"), site.SensesFirePush: words.Mark("a fire button"), site.SensesPanic: words.Mark("a panic button"), site.SensesKey: words.Mark("a key switch"),
	site.SensesOpening: words.Mark("a door or window"), site.SensesGlass: words.Mark("breaking glass"), site.SensesCold: words.Mark("low temperature"),
}

func (c *check) whatItSenses(senses string) string {
	if s := sensesSay[senses]; s != "" {
		return c.lang.Word(s)
	}
	return c.lang.Word(senses)
}

// guards reports whether a sense guards lives.
func guards(senses string) bool {
	k, ok := fits[senses]
	return ok && k[0].LifeSafety()
}

// rightKind proposes the kind for what a terminal senses: the first that fits and that the panel can express.
func (c *check) rightKind(senses string) site.ZoneKind {
	for _, k := range fits[senses] {
		if c.panel == nil {
			return k
		}
		if _, ok := c.panel.Kind(k); ok {
			return k
		}
	}
	return ""
}

// meant returns the kind that a zone is meant to have: its own, or the one that fits what it senses.
func (c *check) meant(z site.Zone) site.ZoneKind {
	senses := c.senses(z)
	if kinds, ok := fits[senses]; ok && guards(senses) && !slices.Contains(kinds, z.Kind) {
		return kinds[0]
	}
	return z.Kind
}

// codeOf returns the usual code for a kind, given what its terminal senses; "" where any will do.
func codeOf(k site.ZoneKind, senses string) string {
	if senses == site.SensesFirePush && k.Family() == "fire" {
		k = site.CallPoint
	}
	if want := codes[k]; len(want) > 0 {
		return want[0]
	}
	return ""
}

func zonePatch(id site.ZoneID, members object) object {
	return object{"zones": object{string(id): members}}
}

func (c *check) zones() {
	for _, id := range c.zoneIDs {
		z := c.Zones[id]
		c.panelTakes(id, z)
		if z.Kind == site.Unused {
			if z.Device != "" {
				c.add("zone.unused.device", report{
					where:  c.zoneWhere(id, c.lang.Say("not used")),
					say:    c.lang.Say("The zone is not used but holds the device %s: a zone that is not used must hold no identity, or its signals are lost.", z.Device),
					do:     c.lang.Say("Take the device out of this zone, or give the zone its kind."),
					places: []Place{zoneAt(id), deviceAt(z.Device)}, at: c.zoneSpot(id), cause: []any{z.Device},
				})
			}
			continue
		}
		if z.Device == "" {
			c.add("zone.device.none", report{
				where: c.zoneWhere(id, c.lang.Say("device")),
				say:   c.lang.Say("No device is assigned to this zone: once keyed it can never trip, and the panel shows it as good."),
				do:    c.lang.Say("Assign a device, or set the zone to not used."), places: []Place{zoneAt(id)},
			})
			continue
		}
		c.zoneKind(id, z)
		c.zoneCode(id, z)
		c.zonePaths(id, z)
		c.zoneWindow(id, z)
		if c.meant(z).LifeSafety() || z.Kind.LifeSafety() {
			c.lifeSafety(id, z)
		}
		c.callForHelp(id, z)
	}
}

func (c *check) zoneTitle(id site.ZoneID) string {
	return strings.TrimSpace(c.lang.Say("Zone %s %s", id, c.Zones[id].Label))
}

func (c *check) zoneWhere(id site.ZoneID, what string) string { return c.about(c.zoneTitle(id), what) }

// zoneKind holds the kind against what the terminal senses.
func (c *check) zoneKind(id site.ZoneID, z site.Zone) {
	places, at := []Place{zoneAt(id), deviceAt(z.Device)}, c.zoneSpot(id)
	model, known := c.ModelOf(z.Device)
	if !known {
		c.lack("zone.kind.senses", words.Later("model of the device"), zoneAt(id), deviceAt(z.Device))
		return
	}
	if _, ok := model.Terminals[z.Terminal]; !ok && len(model.Terminals) > 0 {
		r := report{
			where: c.zoneWhere(id, c.lang.Say("terminal")),
			say:   c.lang.Say("%s has no terminal %q; it has %s.", model.Name, z.Terminal, words.List(c.lang, site.SortedIDs(model.Terminals))),
			do:    c.lang.Say("Choose the terminal that this zone is to follow."), places: places, at: at, cause: []any{z.Device, z.Terminal},
		}
		if z.Terminal == "" {
			r.say = c.lang.Say("No terminal is chosen; %s has %s. The keypad asks for one, and a wrong answer enrols an input where nothing is connected.", model.Name, words.List(c.lang, site.SortedIDs(model.Terminals)))
		}
		if only := site.SortedIDs(model.Terminals); len(only) == 1 {
			r.patch = zonePatch(id, object{"terminal": only[0]})
			r.patchSay = c.change(c.lang.Say("terminal"), z.Terminal, only[0])
		}
		c.add("zone.terminal", r)
		return
	}
	senses := c.senses(z)
	if z.Kind == "" {
		r := report{
			where: c.zoneWhere(id, c.lang.Say("kind")), say: c.lang.Say("The zone has a device but no kind: nobody has said what it does when it trips."),
			do: c.lang.Say("Choose the kind."), places: places, at: at,
		}
		if right := c.rightKind(senses); guards(senses) && right != "" {
			c.kindPatch(&r, id, z, right, senses)
		}
		c.add("zone.kind.none", r)
		return
	}
	right := c.rightKind(senses)
	if z.Kind == site.SmokeVerified && slices.Contains([]string{site.SensesFirePush, site.SensesHeat, site.SensesThree}, senses) {
		c.wrongKind[id] = true
		r := report{
			where: c.zoneWhere(id, c.lang.Say("verification")),
			say:   c.lang.Say("Verified smoke resets the detector after its first trip and waits for a second. Here it is %s, which can not be reset: the alarm is delayed or lost.", c.whatItSenses(senses)),
			do:    c.lang.Say("Use the plain kind; a call point is plain fire with code 115."), places: places, at: at, cause: []any{z.Kind, senses},
		}
		if right != "" {
			c.kindPatch(&r, id, z, right, senses)
		}
		c.add("zone.fire.verify", r)
		return
	}
	if z.Kind == site.SmokeVerified && model.Link == "radio" {
		c.add("zone.smoke.verify-radio", report{
			where: c.zoneWhere(id, c.lang.Say("verification")),
			say:   c.lang.Say("Verification asks the panel to reset the head after the first trip. Most radio heads can not be reset from the panel: then no second trip comes and the alarm is lost."),
			do:    c.lang.Say("Use plain smoke unless the instructions of detector and panel both allow verification, and keep the total delay near 60 s."),
			who:   Desk, places: places, at: at, cause: []any{z.Kind},
			patch: zonePatch(id, object{"kind": site.Smoke}), patchSay: c.change(c.lang.Say("kind"), c.kindName(z.Kind), c.kindName(site.Smoke)),
		})
	}
	kinds, limited := fits[senses]
	if !limited || slices.Contains(kinds, z.Kind) {
		return
	}
	c.wrongKind[id] = true
	r := report{
		where: c.zoneWhere(id, c.lang.Say("kind")), places: places, at: at, cause: []any{z.Kind, z.Code, senses},
		say: c.lang.Say("The zone is of kind %s, but its terminal senses %s.", c.kindSay(z.Kind), c.whatItSenses(senses)),
		do:  c.lang.Say("Set the kind to %s.", c.kindSay(kinds[0])),
	}
	if !guards(senses) && !z.Kind.LifeSafety() {
		c.add("zone.kind.fits", r)
		return
	}
	switch {
	case guards(senses) && z.Kind.Family() == kinds[0].Family():
		r.say += " " + c.lang.Say("The station would be told of another danger than the one there is.")
	case guards(senses) && z.Kind.LifeSafety():
		r.say += " " + c.lang.Say("The panel would make the wrong sound, and people and the station would act on the wrong danger.")
	case guards(senses):
		r.say += " " + c.lang.Say("It would not make the sound of this danger, and the panel would treat it as burglary or less.")
	default:
		r.say += " " + c.lang.Say("It would send people for a danger that this device can not sense.")
		r.do = c.lang.Say("Choose a kind for %s.", c.whatItSenses(senses))
	}
	if guards(senses) && right != "" {
		c.kindPatch(&r, id, z, right, senses)
		r.do = c.lang.Say("Set the kind to %s.", c.kindSay(right))
		if code := codeOf(right, senses); code != z.Code {
			r.do = c.lang.Say("Set the kind to %s and the code to %s (%s).", c.kindSay(right), code, c.lang.Word(codeSay[code]))
		}
	}
	c.add("zone.kind.senses", r)
}

// kindPatch sets a kind together with its code.
func (c *check) kindPatch(r *report, id site.ZoneID, z site.Zone, right site.ZoneKind, senses string) {
	members := object{"kind": right}
	r.patchSay = c.change(c.lang.Say("kind"), c.kindName(z.Kind), c.kindName(right))
	if code := codeOf(right, senses); z.Code != code {
		members["code"] = code
		r.patchSay += "; " + c.change(c.lang.Say("code"), z.Code, code)
	}
	r.patch = zonePatch(id, members)
}

// zoneCode holds the station code against the kind.
func (c *check) zoneCode(id site.ZoneID, z site.Zone) {
	if z.Kind == "" || c.wrongKind[id] {
		return // the finding about the kind brings the code with it
	}
	senses := c.senses(z)
	usual := codeOf(z.Kind, senses)
	if usual == "" {
		return
	}
	if z.Code == "" {
		c.lack("zone.code.kind", words.Later("station code"), zoneAt(id))
		return
	}
	r := report{
		where: c.zoneWhere(id, c.lang.Say("code")), places: []Place{zoneAt(id)}, at: c.zoneSpot(id), cause: []any{z.Kind, z.Code},
		do:    c.lang.Say("Set the code to %s (%s).", usual, c.lang.Word(codeSay[usual])),
		patch: zonePatch(id, object{"code": usual}), patchSay: c.change(c.lang.Say("code"), z.Code, usual),
	}
	letters := len(z.Code) == 2 && strings.Trim(z.Code, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") == ""
	digits := len(z.Code) == 3 && strings.Trim(z.Code, "0123456789") == ""
	switch {
	case letters && c.Account.Format == "sia":
		c.lack("zone.code.kind", words.Later("the code in figures (only event numbers of three digits are held against the kind)"), zoneAt(id))
		return
	case !digits:
		r.say = c.lang.Say("%q is not an event code of this account's format: it wants three digits.", z.Code)
		c.add("zone.code.form", r)
		return
	}
	right := codes[z.Kind]
	if usual == "115" && senses == site.SensesFirePush {
		right = []string{"115"}
	}
	if slices.Contains(right, z.Code) {
		return
	}
	meaning := c.lang.Say("something else")
	if m := codeSay[z.Code]; m != "" {
		meaning = c.lang.Word(m)
	}
	r.say = c.lang.Say("Code %s tells the station of %s; the zone is %s.", z.Code, meaning, c.kindSay(z.Kind))
	if z.Kind.LifeSafety() {
		r.say += " " + c.lang.Say("The operator would act on the wrong danger.")
		c.add("zone.code.life", r)
		return
	}
	if strings.HasPrefix(z.Code, "11") {
		r.say += " " + c.lang.Say("It would send the fire service.")
	}
	c.add("zone.code.kind", r)
}

// lifeSafety judges the attributes that a life-safety zone must not have.
func (c *check) lifeSafety(id site.ZoneID, z site.Zone) {
	r := report{places: []Place{zoneAt(id)}, at: c.zoneSpot(id)}
	kind := c.kindSay(c.meant(z))
	if z.Bypass {
		r.where = c.zoneWhere(id, c.lang.Say("bypass"))
		r.say = c.lang.Say("Users may leave this %s zone out. A life-safety zone must not be bypassed: it would then tell nobody, and stay out until someone thinks of it.", kind)
		r.do, r.patch, r.patchSay = c.lang.Say("Do not allow it."), zonePatch(id, object{"bypass": false}), c.change(c.lang.Say("bypass"), c.lang.Say("yes"), c.lang.Say("no"))
		c.add("zone.fire.bypass", r)
	}
	if z.DoorTone {
		r.where = c.zoneWhere(id, c.lang.Say("door tone"))
		r.say = c.lang.Say("The door tone is on for a %s zone. A tone that means \"a door\" must not stand for danger, and users would silence it.", kind)
		r.do, r.patch, r.patchSay = c.lang.Say("Switch it off."), zonePatch(id, object{"doorTone": false}), c.change(c.lang.Say("door tone"), c.lang.Say("on"), c.lang.Say("off"))
		c.add("zone.fire.tone", r)
	}
	if z.TripLimit != nil && *z.TripLimit {
		r.where = c.zoneWhere(id, c.lang.Say("trip limit"))
		r.say = c.lang.Say("The trip limit is on for a life-safety zone: after a few trips it would fall silent while the danger goes on.")
		r.do, r.patch, r.patchSay = c.lang.Say("Switch it off."), zonePatch(id, object{"tripLimit": false}), c.change(c.lang.Say("trip limit"), c.lang.Say("yes"), c.lang.Say("no"))
		c.add("zone.fire.limit", r)
	}
}

// callForHelp judges panic and medical zones.
func (c *check) callForHelp(id site.ZoneID, z site.Zone) {
	r := report{places: []Place{zoneAt(id)}, at: c.zoneSpot(id), cause: []any{z.Kind}}
	if z.Kind == site.PanicQuiet && z.DoorTone {
		r.where = c.zoneWhere(id, c.lang.Say("door tone"))
		r.say = c.lang.Say("A quiet panic makes no sound at all. With the door tone on, the one who threatens hears that help was called.")
		r.do, r.patch, r.patchSay = c.lang.Say("Switch it off."), zonePatch(id, object{"doorTone": false}), c.change(c.lang.Say("door tone"), c.lang.Say("on"), c.lang.Say("off"))
		c.add("zone.panic.tone", r)
	}
	if f := z.Kind.Family(); (f == "panic" || f == "medical") && z.Bypass {
		r.where = c.zoneWhere(id, c.lang.Say("bypass"))
		r.say = c.lang.Say("A call for help may be left out by users, and then reaches nobody.")
		r.do, r.patch, r.patchSay = c.lang.Say("Do not allow it."), zonePatch(id, object{"bypass": false}), c.change(c.lang.Say("bypass"), c.lang.Say("yes"), c.lang.Say("no"))
		c.add("zone.panic.bypass", r)
	}
}
