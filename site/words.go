package site

import (
	"slices"

	"proofbell/internal/words"
)

// ZoneKind says what a zone does when it trips. The words are Proofbell's; a panel profile maps them to its own answers.
type ZoneKind string

// The kinds of zone. Append only.
const (
	Entry1        ZoneKind = "entry-1"
	Entry2        ZoneKind = "entry-2"
	Perimeter     ZoneKind = "perimeter"
	Inside        ZoneKind = "inside" // inside, on the way in
	AlwaysLoud    ZoneKind = "always-loud"
	AlwaysQuiet   ZoneKind = "always-quiet"
	PanicLoud     ZoneKind = "panic-loud"
	PanicQuiet    ZoneKind = "panic-quiet"
	Medical       ZoneKind = "medical"
	Smoke         ZoneKind = "smoke"
	SmokeVerified ZoneKind = "smoke-verified"
	Heat          ZoneKind = "heat"
	CallPoint     ZoneKind = "call-point"
	CO            ZoneKind = "co"
	Gas           ZoneKind = "gas"
	Water         ZoneKind = "water"
	Cold          ZoneKind = "cold"
	Keyswitch     ZoneKind = "keyswitch"
	Trouble       ZoneKind = "trouble"
	Observe       ZoneKind = "observe"
	Unused        ZoneKind = "unused"
)

// Family groups kinds of zone: burglary, fire, co, gas, panic, medical, building, control, none.
// Unknown kinds give "".
func (k ZoneKind) Family() string {
	switch k {
	case Entry1, Entry2, Perimeter, Inside, AlwaysLoud, AlwaysQuiet:
		return "burglary"
	case Smoke, SmokeVerified, Heat, CallPoint:
		return "fire"
	case CO:
		return "co"
	case Gas:
		return "gas"
	case PanicLoud, PanicQuiet:
		return "panic"
	case Medical:
		return "medical"
	case Water, Cold:
		return "building"
	case Keyswitch, Trouble, Observe:
		return "control"
	case Unused:
		return "none"
	}
	return ""
}

// LifeSafety reports whether the kind guards lives: fire, CO or gas.
func (k ZoneKind) LifeSafety() bool {
	f := k.Family()
	return f == "fire" || f == "co" || f == "gas"
}

// ZoneKinds lists every kind with its meaning in plain words, in the order in which lists show them.
var ZoneKinds = []struct {
	Kind ZoneKind
	Say  string
}{
	{Smoke, words.Mark("Smoke")},
	{SmokeVerified, words.Mark("Smoke, verified")},
	{Heat, words.Mark("Heat")},
	{CallPoint, words.Mark("Fire button")},
	{CO, words.Mark("Carbon monoxide")},
	{Gas, words.Mark("Gas")},
	{Entry1, words.Mark("Entry and exit 1")},
	{Entry2, words.Mark("Entry and exit 2")},
	{Perimeter, words.Mark("Perimeter")},
	{Inside, words.Mark("Inside, on the way in")},
	{AlwaysLoud, words.Mark("Always on, loud")},
	{AlwaysQuiet, words.Mark("Always on, quiet")},
	{PanicLoud, words.Mark("Panic, loud")},
	{PanicQuiet, words.Mark("Panic, quiet")},
	{Medical, words.Mark("Medical")},
	{Water, words.Mark("Water")},
	{Cold, words.Mark("Low temperature")},
	{Keyswitch, words.Mark("Key switch")},
	{Trouble, words.Mark("Trouble only")},
	{Observe, words.Mark("Observe only")},
	{Unused, words.Mark("Not used")},
}

// What a terminal can sense.
const (
	SensesSmoke    = "smoke"
	SensesHeat     = "heat"
	SensesCO       = "co"
	SensesGas      = "gas"
	SensesThree    = "three-pulse" // the evacuation pattern of the heads, heard by a bridge
	SensesFour     = "four-pulse"  // the CO pattern of the heads, heard by a bridge
	SensesOpening  = "opening"     // a door or window contact
	SensesMotion   = "motion"
	SensesGlass    = "glass"
	SensesFirePush = "fire-button"
	SensesPanic    = "panic-button"
	SensesWater    = "water"
	SensesCold     = "cold"
	SensesKey      = "key"
	SensesContact  = "contact" // a dry contact of something else
)

// DeviceClasses lists the known classes of system parts.
var DeviceClasses = []string{
	"contact", "motion", "glass-break", "bridge", "smoke", "heat", "co", "gas", "call-point", "water", "temperature",
	"pendant", "panic-button", "keyswitch", "repeater", "keypad", "sounder", "contact-module",
}

// wordLists are the allowed words of the members that carry a "words" tag.
var wordLists = map[string][]string{
	"units":           {"metric", "imperial"},
	"history-between": {"comma", "semicolon", "tab", "bar", "text"},
	"history-dates":   {"day-month-year", "month-day-year", "year-month-day"},
	"history-holds": {
		"date", "time", "date-time", "panel-date-time", "zone", "user", "code", "event", "qualifier", "area", "account", "path",
		"remark", "other",
	},
	"premises-use":    {"dwelling", "guesthouse", "rented", "workshop", "shop", "office"},
	"standby":         {"none", "yes"},
	"internet-part":   {"router", "fibre-box", "switch", "other"},
	"internet-supply": {"mains", "own", "panel"},
	"standby-duty": {
		"fire-premises", "fire-voice", "fire-household", "co-household", "burglary-household", "fire-24", "fire-72", "intruder-a-12",
		"intruder-a-60", "intruder-a-30", "intruder-a-4", "intruder-b-24", "intruder-b-120", "intruder-c-720",
	},
	"battery-chemistry": {"lead", "lithium"},
	"cell-chemistry":    {"lithium", "alkaline"},
	"role":              {"owner", "manager", "technician", "junior", "electrician", "operator", "other"},
	"passcode":          {"held", "none"},
	"account-format":    {"contact-id", "sia"},
	"path-kind":         {"internet", "mobile", "telephone"},
	"through":           {"house", "own"},
	"room-use": {
		"hall", "corridor", "stair", "bedroom", "flat", "kitchen", "lounge", "dining", "boiler", "office", "workshop", "store",
		"linen", "plant", "bathroom", "garage", "loft", "cellar", "other",
	},
	"furnishing":   {"soft", "hard", "tiled"},
	"sleeper":      {"child", "over-65", "hard-of-hearing", "impaired"},
	"hazard":       {"wood-stove", "gas-boiler", "oil-boiler", "cooking", "vehicle", "dust", "steam", "machine"},
	"opening-kind": {"door", "window", "hatch", "passage", "stair"},
	"hinge":        {"start", "end"},
	"construction": {
		"stud-wall", "filled-stud-wall", "brick", "masonry", "concrete", "reinforced-concrete", "metal-lath", "foil-board", "sheet-metal",
		"hollow-door", "solid-door", "fire-door", "steel-door", "glass", "coated-glass", "timber-floor", "concrete-floor",
	},
	"device-class": DeviceClasses,
	"link":         {"radio", "wired"},
	"senses": {
		SensesSmoke, SensesHeat, SensesCO, SensesGas, SensesThree, SensesFour, SensesOpening, SensesMotion, SensesGlass, SensesFirePush,
		SensesPanic, SensesWater, SensesCold, SensesKey, SensesContact,
	},
	"head-kind":      {"smoke", "heat", "co", "smoke-co"},
	"head-power":     {"mains", "mains-battery", "battery"},
	"circuit-kind":   {"input", "sounder", "mains", "bus"},
	"strand":         {"solid", "stranded"},
	"cable-material": {"copper", "tinned", "other"},
	"contacts":       {"open-on-alarm", "close-on-alarm"},
	"input-state":    {"short", "normal", "alarm", "fault", "cut"},
	"zone-kind":      zoneKindWords(),
	"family":         {"burglary", "fire", "co", "gas", "panic", "medical", "building", "control"},
	"account-owner":  {"owner", "firm", "other-firm", "nobody", "none"},
	"installer-code": {"default", "old", "changed"},
	"remains":        {"removed", "still-there", "none"},
	"answers":        {"owner", "station", "authority", "electrician"},
}

func zoneKindWords() []string {
	kinds := make([]string, len(ZoneKinds))
	for i, k := range ZoneKinds {
		kinds[i] = string(k.Kind)
	}
	return kinds
}

// Words returns the allowed words of a list named by a "words" tag ("room-use", "zone-kind"), in the order in which a
// form shows them; nil for an unknown list.
func Words(list string) []string { return slices.Clone(wordLists[list]) }
