package rules

import (
	"slices"
	"sync"

	"proofbell/internal/words"
)

// Rule is one rule that is judged, whatever a rule set makes of it.
type Rule struct {
	ID    string `json:"id"` // stable: acceptances and documents name it
	Title string `json:"title"`
	Who   Who    `json:"who"` // who can mend it, where a finding does not say otherwise
	Why   string `json:"why"`
}

// In says the rule in a language (BCP 47; English for one that is not spoken here).
func (r Rule) In(language string) Rule {
	l := words.In(language)
	r.Title, r.Why = l.Word(r.Title), l.Word(r.Why)
	return r
}

// All returns every rule in the order of the document.
func All() []Rule { return slices.Clone(rulebook) }

// LookUp returns a rule by its id.
func LookUp(id string) (Rule, bool) {
	r, ok := byID()[id]
	return r, ok
}

func lookUp(id string) Rule { return byID()[id] }

var byID = sync.OnceValue(func() map[string]Rule {
	m := make(map[string]Rule, len(rulebook))
	for _, r := range rulebook {
		m[r.ID] = r
	}
	return m
})

var rulebook = []Rule{
	// Zones: what they follow and what they are.
	{"zone.device.none", words.Mark("Zone without a device"), Desk, words.Mark("A keyed zone without a device shows as good for ever and can never trip.")},
	{"zone.terminal", words.Mark("Terminal not on the device"), Desk, words.Mark("The keypad asks for a terminal; a wrong one enrols an input where nothing is connected.")},
	{"zone.kind.none", words.Mark("Zone without a kind"), Desk, words.Mark("The kind decides when a zone is live, which sound it makes and what the station is told.")},
	{"zone.kind.senses", words.Mark("Life-safety kind against what the device senses"), Desk, words.Mark("A fire or carbon monoxide input of another kind is armed, silenced or told as something else; another input of a life-safety kind sends people for a danger that is not there.")},
	{"zone.kind.fits", words.Mark("Kind against what the device senses"), Desk, words.Mark("A zone whose kind does not fit its device acts at the wrong time or not at all.")},
	{"zone.fire.verify", words.Mark("Verification where it can not work"), Desk, words.Mark("Verification resets the detector and waits for a second trip. It is for smoke detectors that can be reset, not for call points, heat, or a bridge that hears other alarms.")},
	{"zone.smoke.verify-radio", words.Mark("Verification of a radio smoke head"), Desk, words.Mark("Most radio heads can not be reset from the panel; the second trip then never comes.")},
	{"zone.input.twice", words.Mark("One input in two zones"), Desk, words.Mark("One identity and input is one zone; one zone is one identity.")},
	{"zone.unused.device", words.Mark("Unused zone that holds a device"), Desk, words.Mark("A zone that is not used must hold no identity: the panel would swallow its signals.")},
	{"device.unzoned", words.Mark("Device in no zone"), Desk, words.Mark("What a device senses reaches nobody while it is in no zone.")},
	{"zone.panel", words.Mark("Value that the panel can not take"), Desk, words.Mark("Panels differ in zones, kinds, areas, terminals, loss windows and paths; what the panel can not be told can not be keyed.")},
	// Identities.
	{"zone.identity.check", words.Mark("Identity that fails its check"), OnSite, words.Mark("An identity read wrongly under a ladder enrols nothing, and nobody notices until the device is needed.")},
	{"zone.identity.twice", words.Mark("One identity on two devices"), OnSite, words.Mark("Each radio part belongs to one system and one zone only; with one identity for two, one trips the other's zone.")},
	{"zone.identity.family", words.Mark("Identity of another family"), OnSite, words.Mark("The letters of an identity say what kind of device it is; others mean that another label was read.")},
	// Station codes and paths.
	{"zone.code.form", words.Mark("Station code of another form"), Desk, words.Mark("A code that the account's format does not have reaches the station as nonsense or not at all.")},
	{"zone.code.life", words.Mark("Station code of a life-safety zone"), Desk, words.Mark("The operator acts on the code: a wrong one sends the wrong help.")},
	{"zone.code.kind", words.Mark("Station code against the kind"), Desk, words.Mark("The operator acts on the code: water told as smoke sends the fire service.")},
	{"zone.fire.paths", words.Mark("Life-safety zone not told by every path"), Desk, words.Mark("Life-safety signals go by every path, so that one fault does not silence them.")},
	{"zone.paths.none", words.Mark("Zone told to nobody"), Desk, words.Mark("Without a path the station never hears of the zone.")},
	// Life-safety attributes.
	{"zone.fire.bypass", words.Mark("Life-safety zone that users may leave out"), Desk, words.Mark("A bypassed detector tells nobody and tends to stay bypassed.")},
	{"zone.fire.tone", words.Mark("Door tone on a life-safety zone"), Desk, words.Mark("Fire and carbon monoxide have sounds of their own; a door tone teaches people to ignore them.")},
	{"zone.fire.limit", words.Mark("Trip limit on a life-safety zone"), Desk, words.Mark("After a few trips the zone would be silent while the danger goes on.")},
	{"zone.fire.window", words.Mark("Life-safety device that is missed late or never"), Desk, words.Mark("A dead, removed or blocked detector must show as trouble soon: supervision is the only sign that a radio detector is there.")},
	{"zone.fire.window-long", words.Mark("Longer loss window than panel and model allow"), Desk, words.Mark("The short class is stricter and preferred where the hardware has it.")},
	// Supervision of the rest.
	{"zone.window.never", words.Mark("Radio device that is never missed"), Desk, words.Mark("A transmitter that reports by itself is worth nothing if the panel does not miss it.")},
	{"zone.window.periods", words.Mark("Loss window shorter than three periods"), Desk, words.Mark("Radio loses single messages; a window under three periods with jitter calls working devices lost.")},
	{"zone.window.carried", words.Mark("Loss window on a carried button"), Desk, words.Mark("A button that leaves the house would be called lost on every outing.")},
	{"circuit.end", words.Mark("Wired input without an end-of-line resistor"), OnSite, words.Mark("Without it a cut wire shows as good: nobody watches the wire.")},
	{"circuit.voltage", words.Mark("Device under its least voltage"), OnSite, words.Mark("At the end of the battery, with everything sounding, a device far along thin cable gets too little, and is silent when it counts.")},
	{"circuit.windows", words.Mark("Wired input whose states look alike"), OnSite, words.Mark("Where windows of resistance overlap, or lie outside of the panel's, an alarm or a cut may be read as rest.")},
	// Calls for help.
	{"zone.panic.tone", words.Mark("Door tone on a quiet panic"), Desk, words.Mark("A quiet panic makes no sound and no light at all.")},
	{"zone.panic.bypass", words.Mark("Call for help that users may leave out"), Desk, words.Mark("A button that was left out reaches nobody when it is pressed.")},
	// Labels.
	{"zone.label.none", words.Mark("Zone without a label"), Desk, words.Mark("The label is what people in the house hear and what the operator reads to the fire service.")},
	{"zone.label.twice", words.Mark("Two zones with one label"), Desk, words.Mark("A label is unique, or it sends people to the wrong end of the house.")},
	{"zone.label.words", words.Mark("Word that the panel does not speak"), Desk, words.Mark("A word outside the panel's spoken list is left out or can not be keyed.")},
	{"zone.label.length", words.Mark("Label longer than the panel holds"), Desk, words.Mark("The panel cuts it, and the end is often the word that counts.")},
	{"zone.label.danger", words.Mark("Life-safety label that names no danger"), Desk, words.Mark("A label names place and danger in words that a half-asleep stranger understands.")},
	// Areas.
	{"zone.area.none", words.Mark("Burglary zone in no area"), Desk, words.Mark("Burglary zones are live while their area is armed.")},
	{"zone.area.way", words.Mark("Inside zone in an area without that way in"), Desk, words.Mark("A zone inside, on the way in, waits for the entry delay of its own area; it must lie behind that area's door.")},
	{"area.entry", words.Mark("Area without a way in"), Desk, words.Mark("Each area that arms needs an entry and exit door.")},
	{"area.keypad", words.Mark("Area that can not be armed on the spot"), Desk, words.Mark("Each area that arms needs a keypad, key switch or fob within reach of its door.")},
	// Settings.
	{"settings.abort.life", words.Mark("Abort window on life safety"), Desk, words.Mark("No dial delay and no abort window on fire.")},
	{"settings.limit.life", words.Mark("Trip limit on life safety"), Desk, words.Mark("Life-safety zones are not part of swinger shutdown.")},
	{"settings.cross.life", words.Mark("Cross-zone with life safety"), Desk, words.Mark("Fire never waits for a burglary zone.")},
	{"settings.cross.pair", words.Mark("Cross-zone that can not work"), Desk, words.Mark("A cross-zone needs two zones that are live together.")},
	{"settings.exit", words.Mark("Exit delay out of range"), Desk, words.Mark("Too short an exit delay is the commonest cause of false alarms.")},
	{"settings.entry", words.Mark("Entry delay out of range"), Desk, words.Mark("Too short sets off false alarms, too long gives a burglar time.")},
	{"settings.abort", words.Mark("Abort window out of range"), Desk, words.Mark("Too short helps nobody, too long delays help.")},
	{"settings.entry-abort", words.Mark("Entry delay and abort window together"), Desk, words.Mark("Together they decide when the station hears of a break-in.")},
	{"settings.limit", words.Mark("Trip limit out of range"), Desk, words.Mark("Too many trips let one bad contact ring all night.")},
	{"settings.test", words.Mark("Periodic test signal too rare"), Desk, words.Mark("A path that died quietly is found out only by a test signal.")},
	{"settings.sounder", words.Mark("Fire sounder stops early"), Desk, words.Mark("The evacuation signal runs long enough to wake and move people.")},
	// Power.
	{"power.battery", words.Mark("Battery too small"), OnSite, words.Mark("Standby plus alarm, with ageing, must fit the battery: an estimate with constant currents at room temperature.")},
	{"power.alarm-time", words.Mark("Alarm time not counted in full"), Desk, words.Mark("The sum must count as long as the sounder runs.")},
	{"power.standby-time", words.Mark("Standby time too short"), Desk, words.Mark("Without mains the system has to wait for a full day and still sound.")},
	// Mains alarms and their bridge.
	{"bridge.group", words.Mark("Bridge without a group"), OnSite, words.Mark("One listener hears one interconnect group; which one is found on site.")},
	{"bridge.beside", words.Mark("Bridge beside a head of another group"), OnSite, words.Mark("It would hear the other group's alarms.")},
	{"bridge.pattern", words.Mark("Pattern that no head of the group makes"), Electrician, words.Mark("A zone that waits for a pattern which nobody makes can never trip, and looks good for ever.")},
	{"bridge.place", words.Mark("Bridge where it can not hear its head"), OnSite, words.Mark("A listener hangs in the room of a head of its group, near it, with no door between. Levels are planning estimates.")},
	{"bridge.close", words.Mark("Bridge too near its head"), OnSite, words.Mark("Too near it stands in the way of the smoke or is overdriven by the sounder.")},
	{"bridge.hazard", words.Mark("Bridge in a loud, hot or wet room"), OnSite, words.Mark("Heat, wet, vibration and other pulsed sounds make a listener deaf or nervous.")},
	{"group.unheard", words.Mark("Group that nobody hears"), OnSite, words.Mark("A group without a bridge, contact module or detectors beside it tells nobody outside.")},
	{"group.count", words.Mark("Group larger than the link allows"), Electrician, words.Mark("18 devices of which 12 smoke where the link is not supervised, 64 and 42 where it is; the maker's own limit may be lower.")},
	{"group.supply", words.Mark("Battery head in a wired group"), Electrician, words.Mark("A head without mains on a wired link is not joined, or is of the wrong type.")},
	{"group.circuit", words.Mark("Group on a circuit that is not mains"), Electrician, words.Mark("Mains alarms and low voltage never share a circuit.")},
	{"head.alone", words.Mark("Smoke or heat alarm joined to nothing"), Electrician, words.Mark("It sounds where it hangs while the rest of the house sleeps on.")},
	{"co.alone", words.Mark("Carbon monoxide alarm that tells nobody"), OnSite, words.Mark("A stand-alone alarm is invisible to a listener and to the panel.")},
	// Ages.
	{"age.head.passed", words.Mark("Alarm past its life"), Electrician, words.Mark("Smoke alarms are replaced ten years after they were made, carbon monoxide alarms by their own life.")},
	{"age.head.due", words.Mark("Alarm near the end of its life"), Electrician, words.Mark("Known a year ahead, it is one round instead of many calls.")},
	{"age.device.passed", words.Mark("Device past its life"), OnSite, words.Mark("Sensors age on the shelf too.")},
	{"age.device.due", words.Mark("Device near the end of its life"), OnSite, words.Mark("Known a year ahead, it is one round instead of many calls.")},
	{"age.battery.passed", words.Mark("Device battery past its life"), OnSite, words.Mark("Batteries of one age fail together on the first cold night.")},
	{"age.battery.due", words.Mark("Device battery near the end of its life"), OnSite, words.Mark("One round, one chemistry, one date.")},
	{"age.panel-battery.passed", words.Mark("Panel battery past its life"), OnSite, words.Mark("A sealed lead-acid battery is replaced by date, by load test, or when less than four fifths of its capacity is left.")},
	{"age.panel-battery.due", words.Mark("Panel battery near the end of its life"), OnSite, words.Mark("Take a new one along.")},
	// Placement.
	{"sleep.detection", words.Mark("Sleeping room without smoke detection"), Electrician, words.Mark("Smoke detection in every room where someone sleeps.")},
	{"sleep.outside", words.Mark("No smoke detection outside a sleeping room"), Electrician, words.Mark("Smoke must be smelt on the way out before it reaches the sleepers' door.")},
	{"storey.detection", words.Mark("Storey without smoke detection"), Electrician, words.Mark("Smoke detection on every storey, a cellar too.")},
	{"co.fuel", words.Mark("Fuel-burning appliance without carbon monoxide detection"), OnSite, words.Mark("Carbon monoxide is smelt where it is made.")},
	{"co.sleeping", words.Mark("Sleepers without carbon monoxide detection"), OnSite, words.Mark("Carbon monoxide detection outside the sleeping rooms of a house where fuel burns.")},
	{"panel.detection", words.Mark("Panel without smoke detection beside it"), OnSite, words.Mark("A fire that starts at the panel must be told before the panel is gone.")},
	{"smoke.kitchen", words.Mark("Smoke detection in a kitchen"), OnSite, words.Mark("It alarms at every meal until someone takes it down.")},
	{"smoke.cooking", words.Mark("Smoke detection near a kitchen door"), OnSite, words.Mark("Cooking alarms it; the distance is measured from the door, because the cooker is not on the plan.")},
	{"smoke.bathroom", words.Mark("Smoke detection near a bathroom door"), OnSite, words.Mark("Steam alarms it.")},
	{"smoke.hazard", words.Mark("Smoke detection in dust, steam or exhaust"), OnSite, words.Mark("It soils, and alarms without a fire.")},
	{"smoke.height", words.Mark("Smoke detection far below the ceiling"), OnSite, words.Mark("Smoke gathers under the ceiling first.")},
	{"smoke.coverage", words.Mark("Ceiling out of reach of smoke detection"), OnSite, words.Mark("No point of a smooth ceiling farther from a detector than its reach. Judged in rooms that have smoke detection, on the outline as drawn.")},
	{"motion.machine", words.Mark("Motion detector that looks at a machine"), OnSite, words.Mark("What moves by itself trips it.")},
	// Account and people.
	{"path.backup", words.Mark("One path only"), Desk, words.Mark("One fault and no alarm is told.")},
	{"path.kinds", words.Mark("Paths of one kind"), Desk, words.Mark("What takes one down takes the other.")},
	{"path.internet", words.Mark("Internet that stops with the mains"), OnSite, words.Mark("House internet on mains only is the commonest single failure.")},
	{"path.check", words.Mark("Path that is missed late"), Desk, words.Mark("A dead path must show at the station within its class.")},
	{"station.list", words.Mark("Station's zone list differs"), Desk, words.Mark("The operator reads from the station's own list.")},
	{"contacts.reachable", words.Mark("Too few people who can be reached"), Desk, words.Mark("The station needs two people on different numbers, each with a passcode.")},
	{"contacts.incomplete", words.Mark("Contact that can not identify itself"), Desk, words.Mark("A contact without passcode or number of its own can not call off or confirm anything.")},
	// Premises.
	{"guests.assessment", words.Mark("Paying guests without a fire risk assessment"), Authority, words.Mark("Household rules may not be enough where paying guests sleep; a written assessment decides what is.")},
	{"question.authority", words.Mark("Question for the authority"), Authority, words.Mark("Only the authority having jurisdiction can say which rules hold.")},
	{"question.open", words.Mark("Open questions"), Desk, words.Mark("What nobody has answered comes back at hand-over.")},
	{"ruleset.unknown", words.Mark("Rule set that is not known here"), Desk, words.Mark("Every finding rests on a rule set and its edition.")},
	// What sound and radio models say of the plan.
	{"sound.pillow", words.Mark("Too little sound at the pillow"), Electrician, words.Mark("The alarm has to wake people with the doors shut. Levels are planning estimates: measure at the pillow.")},
	{"sound.pillow.doubt", words.Mark("Sound at the pillow in doubt"), OnSite, words.Mark("What is estimated at the pillow lies within its uncertainty of what is required: only a meter tells.")},
	{"sound.tone", words.Mark("High tone for one who wakes badly at it"), Electrician, words.Mark("Old and hard-of-hearing people, children and people on strong medicine wake far better at 520 Hz than at 3 kHz, whatever the level.")},
	{"radio.margin", words.Mark("Radio margin"), OnSite, words.Mark("How much stronger than needed a device arrives. With less than the wanted margin a shut door, a damp wall or a parked van makes it silent. Estimated from the plan; only a measured level counts.")},
}
