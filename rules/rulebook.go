package rules

import (
	"slices"
	"sync"
)

// Rule is one rule that is judged, whatever a rule set makes of it.
type Rule struct {
	ID    string `json:"id"` // stable: acceptances and documents name it
	Title string `json:"title"`
	Who   Who    `json:"who"` // who can mend it, where a finding does not say otherwise
	Why   string `json:"why"`
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
	{"zone.device.none", "Zone without a device", Desk, "A keyed zone without a device shows as good for ever and can never trip."},
	{"zone.terminal", "Terminal not on the device", Desk, "The keypad asks for a terminal; a wrong one enrols an input where nothing is connected."},
	{"zone.kind.none", "Zone without a kind", Desk, "The kind decides when a zone is live, which sound it makes and what the station is told."},
	{"zone.kind.senses", "Life-safety kind against what the device senses", Desk, "A fire or carbon monoxide input of another kind is armed, silenced or told as something else; another input of a life-safety kind sends people for a danger that is not there."},
	{"zone.kind.fits", "Kind against what the device senses", Desk, "A zone whose kind does not fit its device acts at the wrong time or not at all."},
	{"zone.fire.verify", "Verification where it can not work", Desk, "Verification resets the detector and waits for a second trip. It is for smoke detectors that can be reset, not for call points, heat, or a bridge that hears other alarms."},
	{"zone.smoke.verify-radio", "Verification of a radio smoke head", Desk, "Most radio heads can not be reset from the panel; the second trip then never comes."},
	{"zone.input.twice", "One input in two zones", Desk, "One identity and input is one zone; one zone is one identity."},
	{"zone.unused.device", "Unused zone that holds a device", Desk, "A zone that is not used must hold no identity: the panel would swallow its signals."},
	{"device.unzoned", "Device in no zone", Desk, "What a device senses reaches nobody while it is in no zone."},
	{"zone.panel", "Value that the panel can not take", Desk, "Panels differ in zones, kinds, areas, terminals, loss windows and paths; what the panel can not be told can not be keyed."},
	// Identities.
	{"zone.identity.check", "Identity that fails its check", OnSite, "An identity read wrongly under a ladder enrols nothing, and nobody notices until the device is needed."},
	{"zone.identity.twice", "One identity on two devices", OnSite, "Each radio part belongs to one system and one zone only; with one identity for two, one trips the other's zone."},
	{"zone.identity.family", "Identity of another family", OnSite, "The letters of an identity say what kind of device it is; others mean that another label was read."},
	// Station codes and paths.
	{"zone.code.form", "Station code of another form", Desk, "A code that the account's format does not have reaches the station as nonsense or not at all."},
	{"zone.code.life", "Station code of a life-safety zone", Desk, "The operator acts on the code: a wrong one sends the wrong help."},
	{"zone.code.kind", "Station code against the kind", Desk, "The operator acts on the code: water told as smoke sends the fire service."},
	{"zone.fire.paths", "Life-safety zone not told by every path", Desk, "Life-safety signals go by every path, so that one fault does not silence them."},
	{"zone.paths.none", "Zone told to nobody", Desk, "Without a path the station never hears of the zone."},
	// Life-safety attributes.
	{"zone.fire.bypass", "Life-safety zone that users may leave out", Desk, "A bypassed detector tells nobody and tends to stay bypassed."},
	{"zone.fire.tone", "Door tone on a life-safety zone", Desk, "Fire and carbon monoxide have sounds of their own; a door tone teaches people to ignore them."},
	{"zone.fire.limit", "Trip limit on a life-safety zone", Desk, "After a few trips the zone would be silent while the danger goes on."},
	{"zone.fire.window", "Life-safety device that is missed late or never", Desk, "A dead, removed or blocked detector must show as trouble soon: supervision is the only sign that a radio detector is there."},
	{"zone.fire.window-long", "Longer loss window than panel and model allow", Desk, "The short class is stricter and preferred where the hardware has it."},
	// Supervision of the rest.
	{"zone.window.never", "Radio device that is never missed", Desk, "A transmitter that reports by itself is worth nothing if the panel does not miss it."},
	{"zone.window.periods", "Loss window shorter than three periods", Desk, "Radio loses single messages; a window under three periods with jitter calls working devices lost."},
	{"zone.window.carried", "Loss window on a carried button", Desk, "A button that leaves the house would be called lost on every outing."},
	{"circuit.end", "Wired input without an end-of-line resistor", OnSite, "Without it a cut wire shows as good: nobody watches the wire."},
	// Calls for help.
	{"zone.panic.tone", "Door tone on a quiet panic", Desk, "A quiet panic makes no sound and no light at all."},
	{"zone.panic.bypass", "Call for help that users may leave out", Desk, "A button that was left out reaches nobody when it is pressed."},
	// Labels.
	{"zone.label.none", "Zone without a label", Desk, "The label is what people in the house hear and what the operator reads to the fire service."},
	{"zone.label.twice", "Two zones with one label", Desk, "A label is unique, or it sends people to the wrong end of the house."},
	{"zone.label.words", "Word that the panel does not speak", Desk, "A word outside the panel's spoken list is left out or can not be keyed."},
	{"zone.label.length", "Label longer than the panel holds", Desk, "The panel cuts it, and the end is often the word that counts."},
	{"zone.label.danger", "Life-safety label that names no danger", Desk, "A label names place and danger in words that a half-asleep stranger understands."},
	// Areas.
	{"zone.area.none", "Burglary zone in no area", Desk, "Burglary zones are live while their area is armed."},
	{"zone.area.way", "Inside zone in an area without that way in", Desk, "A zone inside, on the way in, waits for the entry delay of its own area; it must lie behind that area's door."},
	{"area.entry", "Area without a way in", Desk, "Each area that arms needs an entry and exit door."},
	{"area.keypad", "Area that can not be armed on the spot", Desk, "Each area that arms needs a keypad, key switch or fob within reach of its door."},
	// Settings.
	{"settings.abort.life", "Abort window on life safety", Desk, "No dial delay and no abort window on fire."},
	{"settings.limit.life", "Trip limit on life safety", Desk, "Life-safety zones are not part of swinger shutdown."},
	{"settings.cross.life", "Cross-zone with life safety", Desk, "Fire never waits for a burglary zone."},
	{"settings.cross.pair", "Cross-zone that can not work", Desk, "A cross-zone needs two zones that are live together."},
	{"settings.exit", "Exit delay out of range", Desk, "Too short an exit delay is the commonest cause of false alarms."},
	{"settings.entry", "Entry delay out of range", Desk, "Too short sets off false alarms, too long gives a burglar time."},
	{"settings.abort", "Abort window out of range", Desk, "Too short helps nobody, too long delays help."},
	{"settings.entry-abort", "Entry delay and abort window together", Desk, "Together they decide when the station hears of a break-in."},
	{"settings.limit", "Trip limit out of range", Desk, "Too many trips let one bad contact ring all night."},
	{"settings.test", "Periodic test signal too rare", Desk, "A path that died quietly is found out only by a test signal."},
	{"settings.sounder", "Fire sounder stops early", Desk, "The evacuation signal runs long enough to wake and move people."},
	// Power.
	{"power.battery", "Battery too small", OnSite, "Standby plus alarm, with ageing, must fit the battery: an estimate with constant currents at room temperature."},
	{"power.alarm-time", "Alarm time not counted in full", Desk, "The sum must count as long as the sounder runs."},
	{"power.standby-time", "Standby time too short", Desk, "Without mains the system has to wait for a full day and still sound."},
	// Mains alarms and their bridge.
	{"bridge.group", "Bridge without a group", OnSite, "One listener hears one interconnect group; which one is found on site."},
	{"bridge.beside", "Bridge beside a head of another group", OnSite, "It would hear the other group's alarms."},
	{"bridge.pattern", "Pattern that no head of the group makes", Electrician, "A zone that waits for a pattern which nobody makes can never trip, and looks good for ever."},
	{"bridge.place", "Bridge where it can not hear its head", OnSite, "A listener hangs in the room of a head of its group, near it, with no door between. Levels are planning estimates."},
	{"bridge.close", "Bridge too near its head", OnSite, "Too near it stands in the way of the smoke or is overdriven by the sounder."},
	{"bridge.hazard", "Bridge in a loud, hot or wet room", OnSite, "Heat, wet, vibration and other pulsed sounds make a listener deaf or nervous."},
	{"group.unheard", "Group that nobody hears", OnSite, "A group without a bridge, contact module or detectors beside it tells nobody outside."},
	{"group.count", "Group larger than the link allows", Electrician, "18 devices of which 12 smoke where the link is not supervised, 64 and 42 where it is; the maker's own limit may be lower."},
	{"group.supply", "Battery head in a wired group", Electrician, "A head without mains on a wired link is not joined, or is of the wrong type."},
	{"group.circuit", "Group on a circuit that is not mains", Electrician, "Mains alarms and low voltage never share a circuit."},
	{"head.alone", "Smoke or heat alarm joined to nothing", Electrician, "It sounds where it hangs while the rest of the house sleeps on."},
	{"co.alone", "Carbon monoxide alarm that tells nobody", OnSite, "A stand-alone alarm is invisible to a listener and to the panel."},
	// Ages.
	{"age.head.passed", "Alarm past its life", Electrician, "Smoke alarms are replaced ten years after they were made, carbon monoxide alarms by their own life."},
	{"age.head.due", "Alarm near the end of its life", Electrician, "Known a year ahead, it is one round instead of many calls."},
	{"age.device.passed", "Device past its life", OnSite, "Sensors age on the shelf too."},
	{"age.device.due", "Device near the end of its life", OnSite, "Known a year ahead, it is one round instead of many calls."},
	{"age.battery.passed", "Device battery past its life", OnSite, "Batteries of one age fail together on the first cold night."},
	{"age.battery.due", "Device battery near the end of its life", OnSite, "One round, one chemistry, one date."},
	{"age.panel-battery.passed", "Panel battery past its life", OnSite, "A sealed lead-acid battery is replaced by date, by load test, or under 80 % of its capacity."},
	{"age.panel-battery.due", "Panel battery near the end of its life", OnSite, "Take a new one along."},
	// Placement.
	{"sleep.detection", "Sleeping room without smoke detection", Electrician, "Smoke detection in every room where someone sleeps."},
	{"sleep.outside", "No smoke detection outside a sleeping room", Electrician, "Smoke must be smelt on the way out before it reaches the sleepers' door."},
	{"storey.detection", "Storey without smoke detection", Electrician, "Smoke detection on every storey, a cellar too."},
	{"co.fuel", "Fuel-burning appliance without carbon monoxide detection", OnSite, "Carbon monoxide is smelt where it is made."},
	{"co.sleeping", "Sleepers without carbon monoxide detection", OnSite, "Carbon monoxide detection outside the sleeping rooms of a house where fuel burns."},
	{"panel.detection", "Panel without smoke detection beside it", OnSite, "A fire that starts at the panel must be told before the panel is gone."},
	{"smoke.kitchen", "Smoke detection in a kitchen", OnSite, "It alarms at every meal until someone takes it down."},
	{"smoke.cooking", "Smoke detection near a kitchen door", OnSite, "Cooking alarms it; the distance is measured from the door, because the cooker is not on the plan."},
	{"smoke.bathroom", "Smoke detection near a bathroom door", OnSite, "Steam alarms it."},
	{"smoke.hazard", "Smoke detection in dust, steam or exhaust", OnSite, "It soils, and alarms without a fire."},
	{"smoke.height", "Smoke detection far below the ceiling", OnSite, "Smoke gathers under the ceiling first."},
	{"smoke.coverage", "Ceiling out of reach of smoke detection", OnSite, "No point of a smooth ceiling farther from a detector than its reach. Judged in rooms that have smoke detection, on the outline as drawn."},
	{"motion.machine", "Motion detector that looks at a machine", OnSite, "What moves by itself trips it."},
	// Account and people.
	{"path.backup", "One path only", Desk, "One fault and no alarm is told."},
	{"path.kinds", "Paths of one kind", Desk, "What takes one down takes the other."},
	{"path.internet", "Internet that stops with the mains", OnSite, "House internet on mains only is the commonest single failure."},
	{"path.check", "Path that is missed late", Desk, "A dead path must show at the station within its class."},
	{"station.list", "Station's zone list differs", Desk, "The operator reads from the station's own list."},
	{"contacts.reachable", "Too few people who can be reached", Desk, "The station needs two people on different numbers, each with a passcode."},
	{"contacts.incomplete", "Contact that can not identify itself", Desk, "A contact without passcode or number of its own can not call off or confirm anything."},
	// Premises.
	{"guests.assessment", "Paying guests without a fire risk assessment", Authority, "Household rules may not be enough where paying guests sleep; a written assessment decides what is."},
	{"question.authority", "Question for the authority", Authority, "Only the authority having jurisdiction can say which rules hold."},
	{"question.open", "Open questions", Desk, "What nobody has answered comes back at hand-over."},
	{"ruleset.unknown", "Rule set that is not known here", Desk, "Every finding rests on a rule set and its edition."},
	// Not judged by this version.
	{"radio.margin", "Radio margin", OnSite, "How much stronger than needed a device arrives at the panel. Comes with the radio engine; until then levels are measured."},
	{"sound.pillow", "Sound at the pillow", OnSite, "Whether the sleeper hears it with doors shut. Comes with the sound engine; until then it is measured."},
}
