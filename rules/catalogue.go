package rules

import (
	"fmt"
	"slices"
	"strings"
)

// Row is one fact of the trade and what becomes of it here: the rules that judge it, or the reason why none does.
type Row struct {
	Topic string   `json:"topic"`
	Fact  string   `json:"fact"`
	Rules []string `json:"rules,omitempty"`
	None  string   `json:"none,omitempty"` // why no rule judges it
}

// Catalogue returns every row, in the order of the document. A row has rules, a reason for none, or both where a rule
// covers only part of it.
func Catalogue() []Row { return slices.Clone(catalogue) }

// Reasons that recur.
const (
	notInModel = "Not in the site file: "
	byPerson   = "Judged by a person: "
	inProof    = "Belongs to the proof: "
	otherPlace = "Holds elsewhere: "
)

var catalogue = []Row{
	{"Kinds of zone", "Entry and exit 1 and 2: live when armed, start the entry delay; code 134.", []string{"zone.kind.fits", "zone.code.kind", "area.entry"}, ""},
	{"Kinds of zone", "Perimeter: live when armed, siren at once; code 131.", []string{"zone.kind.fits", "zone.code.kind"}, ""},
	{"Kinds of zone", "Inside, on the way in: waits if an entry delay runs; motion on the way in only; code 132.", []string{"zone.kind.fits", "zone.code.kind", "zone.area.way"}, ""},
	{"Kinds of zone", "24 h burglary, loud or quiet, day monitor: always; codes 133 and 135; never for fire.", []string{"zone.kind.senses", "zone.code.kind"}, ""},
	{"Kinds of zone", "Hold-up and quiet panic: always, no sound, no light, no door tone; code 122.", []string{"zone.kind.fits", "zone.code.kind", "zone.panic.tone"}, notInModel + "what the panel shows."},
	{"Kinds of zone", "Loud panic and medical: always; codes 123 (120) and 100.", []string{"zone.kind.fits", "zone.code.kind", "zone.panic.bypass"}, ""},
	{"Kinds of zone", "Fire (smoke): always, three-pulse signal; code 111 (110); never delayed, never bypassed.", []string{"zone.kind.senses", "zone.code.life", "zone.fire.bypass", "settings.abort.life"}, ""},
	{"Kinds of zone", "Fire, verified: smoke only; not call points, heat or a head that can not be reset.", []string{"zone.fire.verify", "zone.smoke.verify-radio"}, ""},
	{"Kinds of zone", "Heat: always; code 114; dusty and steamy rooms.", []string{"zone.kind.senses", "zone.code.life", "smoke.hazard"}, ""},
	{"Kinds of zone", "Manual call point: always, at once; code 115.", []string{"zone.kind.senses", "zone.code.life", "zone.fire.verify"}, ""},
	{"Kinds of zone", "CO and gas: always; four-pulse signal and gas tone; codes 162 and 151.", []string{"zone.kind.senses", "zone.code.life"}, byPerson + "whether the fire service comes for carbon monoxide is asked of the station."},
	{"Kinds of zone", "Water and temperature: always, often silent; codes 154, 159, 158; may be bypassed with care.", []string{"zone.kind.fits", "zone.code.kind"}, ""},
	{"Kinds of zone", "Key switch: arms and disarms; code 409; no alarm of its own.", []string{"zone.kind.fits", "zone.code.kind"}, notInModel + "pulse or level."},
	{"Kinds of zone", "Trouble only, observe only, not used: \"not used\" holds no identity.", []string{"zone.unused.device", "zone.code.kind"}, ""},
	{"Kinds of zone", "Maintenance and state codes (tamper, mains, battery, path faults, bypass, test ...).", nil, inProof + "they are sent by panel and device, not keyed per zone; the proving plan expects them."},

	{"Life-safety attributes", "Live 24 h, independent of arming and areas.", []string{"zone.kind.senses"}, "The kind brings it; the area of a life-safety zone only tells where it is."},
	{"Life-safety attributes", "Fire wins over every other signal; after fire, CO.", nil, inProof + "it is the panel's own order, tried with two trips at once."},
	{"Life-safety attributes", "Not bypassable, not in \"bypass all\", not in swinger shutdown.", []string{"zone.fire.bypass", "zone.fire.limit", "settings.limit.life"}, ""},
	{"Life-safety attributes", "Reported by every path, with alarm, restore, trouble, tamper, low battery.", []string{"zone.fire.paths"}, inProof + "which events are switched on is seen at the station."},
	{"Life-safety attributes", "No dial delay and no abort window.", []string{"settings.abort.life"}, ""},
	{"Life-safety attributes", "Supervised with the short class the receiver offers.", []string{"zone.fire.window", "zone.fire.window-long"}, ""},
	{"Life-safety attributes", "No door tone, entry delay, on-the-way-in logic or cross-zoning with burglary.", []string{"zone.fire.tone", "zone.kind.senses", "settings.cross.life"}, ""},
	{"Life-safety attributes", "Own sound; smoke and CO patterns are different zones with different codes.", []string{"zone.kind.senses", "zone.code.life", "zone.input.twice"}, ""},
	{"Life-safety attributes", "Verification only where instructions allow, total delay about 60 s.", []string{"zone.fire.verify", "zone.smoke.verify-radio"}, byPerson + "the instructions of detector and panel."},
	{"Life-safety attributes", "Fire keys at the keypad need two actions.", nil, notInModel + "the panel's listing settles it."},
	{"Life-safety attributes", "Labels name place and danger; unique; each word in the spoken list.", []string{"zone.label.none", "zone.label.twice", "zone.label.words", "zone.label.length", "zone.label.danger"}, byPerson + "whether a stranger understands the place."},
	{"Life-safety attributes", "One radio identity and input is one zone; one zone is one identity.", []string{"zone.input.twice", "zone.identity.twice", "zone.identity.family", "zone.identity.check", "zone.unused.device"}, ""},
	{"Life-safety attributes", "A zone has a device, a kind and a terminal that exists, and the panel can take them.", []string{"zone.device.none", "zone.kind.none", "zone.terminal", "zone.panel", "device.unzoned"}, ""},

	{"Areas", "Each area that arms has an entry and exit door and a keypad or fob.", []string{"area.entry", "area.keypad", "zone.area.none"}, ""},
	{"Areas", "An inside zone on the way in sits in the area whose door it follows.", []string{"zone.area.way"}, ""},
	{"Areas", "A shared hall arms only when all its areas are armed.", nil, notInModel + "areas that share a room."},
	{"Areas", "Life-safety zones belong to all areas.", nil, "The kind brings it."},
	{"Areas", "The station knows which area an open or close belongs to.", nil, inProof + "seen at the station."},

	{"Times and false alarms", "Exit delay 45 to 255 s, 60 usual; restarts once; its sound changes at the end.", []string{"settings.exit"}, notInModel + "restart and sound are the panel's own."},
	{"Times and false alarms", "Exit error; nobody left.", nil, inProof + "the panel's own behaviour."},
	{"Times and false alarms", "Entry delay 30 to 240 s, always audible.", []string{"settings.entry"}, ""},
	{"Times and false alarms", "Entry and abort window together not above 60 s in listed set-ups.", []string{"settings.entry-abort"}, ""},
	{"Times and false alarms", "Abort window 15 to 45 s; not for fire.", []string{"settings.abort", "settings.abort.life"}, ""},
	{"Times and false alarms", "Cancel window at least 5 min, sends 406.", nil, notInModel + "the panel's own."},
	{"Times and false alarms", "Swinger shutdown 1 to 6 trips; not fire.", []string{"settings.limit", "settings.limit.life", "zone.fire.limit"}, ""},
	{"Times and false alarms", "Cross-zoning: two zones within a window, off by default.", []string{"settings.cross.pair", "settings.cross.life"}, ""},
	{"Times and false alarms", "Fire verification offered, off by default.", []string{"zone.fire.verify", "zone.smoke.verify-radio"}, ""},
	{"Times and false alarms", "Duress code and call-waiting cancel off by default.", nil, notInModel + "codes of users are secrets and stand in no file."},
	{"Times and false alarms", "Start-up after total power loss.", nil, inProof + "the panel's own behaviour."},
	{"Times and false alarms", "Europe: disarm within 45 s of entry, off-route rules, event caps.", nil, otherPlace + "not part of this North American sheet."},
	{"Times and false alarms", "Verification by people: 90 s for household fire, two calls for burglary, grades of events.", []string{"question.open", "contacts.reachable"}, byPerson + "agreed with the station and written down as an answer."},

	{"Supervision", "Radio fire, protected premises: loss shown within 200 s.", []string{"zone.fire.window", "zone.fire.window-long"}, ""},
	{"Supervision", "Alarm at the control unit within 10 s, repeated while in alarm.", nil, inProof + "measured per device."},
	{"Supervision", "Interference and removal shown as trouble.", nil, inProof + "tried on site."},
	{"Supervision", "Battery at least a year; warning while 7 days remain.", []string{"age.battery.passed", "age.battery.due"}, notInModel + "the warning itself is the listing's."},
	{"Supervision", "Trouble sounds again every 4 h or less.", nil, notInModel + "the panel's own."},
	{"Supervision", "Household radio: fire judged after 4 h or better, burglary 12 to 24 h.", []string{"zone.fire.window", "zone.window.never"}, ""},
	{"Supervision", "Stand-alone radio-joined alarms are supervised by nobody.", []string{"group.unheard"}, ""},
	{"Supervision", "Intrusion radio by grade.", nil, otherPlace + "grades are European."},
	{"Supervision", "Radio fire in the EN world.", nil, otherPlace + "not part of this sheet."},
	{"Supervision", "Chirp of a stand-alone alarm, 7 or 30 days.", nil, notInModel + "the alarm's own."},
	{"Supervision", "Each radio part belongs to one system only.", []string{"zone.identity.twice"}, ""},
	{"Supervision", "Tamper by grade.", nil, otherPlace + "grades are European; tampers are tried in the proof."},
	{"Supervision", "Standby: household fire 24 h and 4 min of alarm.", []string{"power.battery", "power.alarm-time", "power.standby-time", "settings.sounder"}, ""},
	{"Supervision", "Voltage along a cable: the last device works at the end of the battery.", []string{"circuit.voltage"}, "Only where the circuit is described; the page says what it lacks."},
	{"Supervision", "States of a wired input: windows that overlap are ambiguous; limits come from the panel's instructions.", []string{"circuit.windows"}, "Only where the circuit is described; the page says what it lacks."},
	{"Supervision", "Station path, one technology: loss seen within 60 min.", []string{"path.check", "path.backup"}, ""},
	{"Supervision", "Station path, two or more: each within 6 h.", []string{"path.check", "path.kinds"}, ""},
	{"Supervision", "Dial-up test call every 6 h.", []string{"path.check"}, ""},
	{"Supervision", "Household test signal at least monthly.", []string{"settings.test"}, ""},
	{"Supervision", "Path loss classes SP and DP.", nil, otherPlace + "EN 50136-1."},
	{"Supervision", "Station calls the fire service within 90 s.", nil, byPerson + "the station's duty."},
	{"Supervision", "Window at least three periods of the transmitter plus jitter.", []string{"zone.window.periods", "zone.window.carried"}, ""},
	{"Supervision", "The owner is shown the worst time for which a dead device goes unseen.", nil, "It stands in the customer's documents, for every device; a finding comes only where it is too long."},
	{"Supervision", "Radio margin at the panel.", []string{"radio.margin"}, "A planning estimate from the plan: only a level measured on site counts."},

	{"Mains alarms to the panel", "How the way in knows: by sound, by contact, by its own sensor.", []string{"zone.kind.senses", "bridge.group"}, ""},
	{"Mains alarms to the panel", "Which alarm spoke: a bridge knows only the group.", []string{"zone.label.twice"}, ""},
	{"Mains alarms to the panel", "Fire against CO: by pattern, if heads make both and are joined.", []string{"bridge.pattern", "co.alone"}, ""},
	{"Mains alarms to the panel", "Mains failure of the group is not seen.", nil, "A standing limit of the way in; printed in the limits that the owner signs."},
	{"Mains alarms to the panel", "Low battery, end of life and missing head of the group are not seen.", []string{"age.head.passed", "age.head.due"}, "Only ages can be judged; the rest is a standing limit."},
	{"Mains alarms to the panel", "Its own removal, cover, battery and loss are seen if supervised; module wiring only with an end-of-line resistor.", []string{"zone.fire.window", "circuit.end"}, ""},
	{"Mains alarms to the panel", "Needs an electrician: contact modules and mains heads.", nil, byPerson + "findings name the electrician where mains is touched."},
	{"Mains alarms to the panel", "What silences it: head removed, door between, hush, cover, flat battery.", []string{"bridge.place", "bridge.hazard", "age.battery.passed"}, ""},
	{"Mains alarms to the panel", "Proof by the test button of any head.", nil, inProof + "part of the plan."},
	{"Mains alarms to the panel", "Standing: a bridge is supplementary.", []string{"sleep.detection", "panel.detection"}, byPerson + "whether detectors of the panel are required is local code."},
	{"Mains alarms to the panel", "Signal shapes: three and four pulses.", []string{"zone.kind.senses", "bridge.pattern"}, inProof + "the pattern itself is heard on site."},
	{"Mains alarms to the panel", "Loudness: 85 dBA at 3 m; a closed door costs about 20 dB.", []string{"bridge.place", "sound.pillow", "sound.pillow.doubt"}, ""},
	{"Mains alarms to the panel", "Pitch: 3 kHz or 520 Hz; a listener tuned to one may miss the other.", []string{"sound.tone"}, notInModel + "the pitch of listeners."},
	{"Mains alarms to the panel", "Listener in the same room, 0.15 to 1 m from a head, no door, not on a hot, wet or vibrating face.", []string{"bridge.place", "bridge.close", "bridge.hazard"}, ""},
	{"Mains alarms to the panel", "One listener hears one group.", []string{"bridge.group", "bridge.beside", "group.unheard"}, ""},
	{"Mains alarms to the panel", "Group limits 18 and 12, supervised 64 and 42; one make, one circuit.", []string{"group.count", "group.circuit", "group.supply"}, notInModel + "makes."},
	{"Mains alarms to the panel", "A battery CO alarm alone is invisible to a listener.", []string{"bridge.pattern", "co.alone"}, ""},
	{"Mains alarms to the panel", "Test proves sounder and link, not smoke entry.", nil, inProof + "a test button fills the detector's stop by half."},
	{"Mains alarms to the panel", "Hush stops the sound before the listener has decided (10 to 30 s).", nil, inProof + "tried on site."},
	{"Mains alarms to the panel", "Required alarms keep working when the panel fails; never remove heads.", []string{"sleep.detection", "storey.detection", "head.alone"}, byPerson + "what is required."},
	{"Mains alarms to the panel", "Detection wholly by alarms or wholly by system detectors; guest premises ask the authority.", []string{"guests.assessment", "question.authority"}, ""},
	{"Mains alarms to the panel", "Add independent radio smoke detectors near sleepers and at the panel.", []string{"panel.detection", "sleep.outside"}, ""},
	{"Mains alarms to the panel", "Mains wiring and heads are for licensed electricians.", nil, byPerson + "findings about mains heads and groups name the electrician."},

	{"Ages and rounds", "Weekly, monthly, 3 to 6 months, yearly visits; sensitivity; cleaning.", []string{"smoke.hazard"}, "Visits are planned from the record, not found on the plan."},
	{"Ages and rounds", "Transmitter batteries 3 to 5 years, contacts 5 to 8, alkaline 1 to 2.", []string{"age.battery.passed", "age.battery.due"}, ""},
	{"Ages and rounds", "Sealed lead-acid 4 to 5 years or under 80 % of capacity.", []string{"age.panel-battery.passed", "age.panel-battery.due"}, notInModel + "measured capacity belongs to the visit."},
	{"Ages and rounds", "Smoke alarms: 10 years from the made date.", []string{"age.head.passed", "age.head.due"}, ""},
	{"Ages and rounds", "CO alarms: 7 to 10 years or at the end-of-life sign.", []string{"age.head.passed", "age.head.due", "age.device.passed", "age.device.due"}, ""},

	{"Placement", "Smoke alarm in every sleeping room; outside each within 6.4 m along the path; on every level.", []string{"sleep.detection", "sleep.outside", "storey.detection"}, ""},
	{"Placement", "Door between sleeping and living area: an alarm on each side.", []string{"sleep.outside"}, notInModel + "which doors part sleeping from living areas."},
	{"Placement", "Level over 93 m²: every point within 9.1 m travel, or one alarm per 46.5 m².", []string{"smoke.coverage"}, "Travel over several rooms comes with the route engine; the reach is judged per room."},
	{"Placement", "Not within 0.9 m of a bathroom door, supply register or fan.", []string{"smoke.bathroom"}, notInModel + "registers and fans."},
	{"Placement", "Not within 3.0 m of cooking unless listed for it.", []string{"smoke.kitchen", "smoke.cooking"}, notInModel + "the cooker's place: measured from the kitchen door."},
	{"Placement", "Sloped and peaked ceilings.", nil, notInModel + "the shape of the ceiling."},
	{"Placement", "Wall mounting: within 300 mm of the ceiling.", []string{"smoke.height"}, ""},
	{"Placement", "Temperature 4.4 to 37.8 C.", nil, notInModel + "the temperature of rooms."},
	{"Placement", "Replace at 10 years or on a failed test.", []string{"age.head.passed"}, inProof + "failed tests."},
	{"Placement", "Interconnected: 18 (12 smoke), supervised 64 (42 smoke).", []string{"group.count"}, ""},
	{"Placement", "CO: outside each sleeping area, on every occupiable level, by the listing.", []string{"co.sleeping", "co.fuel"}, "Levels without sleepers are judged only where fuel burns."},
	{"Placement", "A household system may use detectors on a listed panel instead of alarms.", []string{"sleep.detection"}, "Both count as smoke detection of a room."},
	{"Placement", "System detectors: every point of a smooth ceiling within 6.4 m; spacing 9.1 m.", []string{"smoke.coverage"}, ""},
	{"Placement", "Beams, joists, slopes, high ceilings, air change, heat spacing, supply and return openings.", nil, byPerson + "the clause itself; not in the site file."},
	{"Placement", "Grid the ceiling and report the worst point.", []string{"smoke.coverage"}, ""},
	{"Placement", "Grades and categories of BS 5839-6.", nil, otherPlace + "not part of this sheet."},
	{"Placement", "Smoke 7.5 m, heat 5.3 m; 300 or 500 mm from walls; within 3 m of bedroom doors.", nil, otherPlace + "British practice."},
	{"Placement", "CO by EN 50292.", nil, otherPlace + "European; and the place of the appliance is not in the site file."},
	{"Placement", "CO detection where fuel burns.", []string{"co.fuel"}, ""},
	{"Placement", "Motion detectors look away from what moves by itself.", []string{"motion.machine"}, ""},

	{"Account and people", "House internet on mains only is the commonest single failure.", []string{"path.internet"}, ""},
	{"Account and people", "A zone that reports has a path, and a code of the account's form.", []string{"zone.paths.none", "zone.code.form"}, ""},
	{"Account and people", "The station's zone list is made from the schedule and read back.", []string{"station.list"}, ""},
	{"Account and people", "Two people who can be reached, each with a passcode.", []string{"contacts.reachable", "contacts.incomplete"}, ""},
	{"Account and people", "The rule set and its edition are chosen and kept.", []string{"ruleset.unknown"}, ""},
}

// Document writes the catalogue for people, by one rule set: docs/rules.md.
func Document(set *Set) string {
	var b strings.Builder
	p := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	p("# Rules")
	p("")
	p("Generated from the catalogue in package `rules` by `go generate ./rules`; do not edit.")
	p("")
	p("Rule set **%s**, edition %s: %s. %s", set.ID, set.Edition, set.Title, set.Notes)
	p("")
	p("A rule that finds nothing has found nothing: it does not say that a system meets a code. Severity: *stop* before anything is keyed, *fix* before proof,")
	p("*advise* when it can be done. Confidence: H confirmed in the document or a public source; M known in the trade from the document named, wording not read")
	p("again; L weak. Estimates are called estimates where they are shown. What can not be judged for missing data is listed apart, never as a stop.")
	p("")
	p("## What is judged")
	p("")
	p("| rule | severity | mended by | rests on | |")
	p("| --- | --- | --- | --- | --- |")
	for _, r := range rulebook {
		use, ok := set.Rules[r.ID]
		if !ok {
			continue
		}
		p("| `%s` | %s | %s | %s | **%s.** %s |", r.ID, use.Severity, r.Who, clauseSay(use.Clause), r.Title, r.Why)
	}
	p("")
	p("## Figures")
	p("")
	p("| figure | value | rests on | note |")
	p("| --- | --- | --- | --- |")
	for _, name := range figureNames {
		f := set.Figures[name]
		p("| `%s` | %g %s | %s | %s |", name, f.Value, f.Unit, clauseSay(f.Clause), f.Note)
	}
	topic := ""
	for _, row := range catalogue {
		if row.Topic != topic {
			topic = row.Topic
			p("")
			p("## %s", topic)
			p("")
			p("| fact of the trade | judged by | not judged because |")
			p("| --- | --- | --- |")
		}
		ids := make([]string, len(row.Rules))
		for i, id := range row.Rules {
			ids[i] = "`" + id + "`"
		}
		p("| %s | %s | %s |", row.Fact, strings.Join(ids, ", "), row.None)
	}
	return b.String()
}

func clauseSay(c Clause) string {
	s := c.Document
	if c.Edition != "" {
		s += " (" + c.Edition + ")"
	}
	if c.Clause != "" {
		s += ", " + c.Clause
	}
	return s + " [" + c.Confidence + "]"
}
