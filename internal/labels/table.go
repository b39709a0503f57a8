package labels

// poles says where a word stands on an axis (the first letter: h height, e end, s side, i inside, l loudness, d danger, x no
// axis but never left out). A phrase never moves to another pole of an axis, and never has two of them.
var poles = map[string]string{
	"UP": "h+", "UPSTAIRS": "h+", "UPPER": "h+", "ABOVE": "h+", "ATTIC": "h+", "LOFT": "h+",
	"DOWN": "h-", "DOWNSTAIRS": "h-", "LOWER": "h-", "BELOW": "h-", "BASEMENT": "h-", "CELLAR": "h-",
	"FRONT": "e+", "BACK": "e-", "REAR": "e-",
	"LEFT": "sleft", "RIGHT": "sright", "NORTH": "snorth", "SOUTH": "ssouth", "EAST": "seast", "WEST": "swest",
	"INSIDE": "i+", "INNER": "i+", "OUTSIDE": "i-", "OUTER": "i-",
	"LOUD": "l+", "QUIET": "l-", "SILENT": "l-",
	"SMOKE": "dsmoke", "HEAT": "dheat", "FIRE": "dfire", "FLAME": "dfire", "CO": "dco", "CARBON": "dco", "MONOXIDE": "dco", "GAS": "dgas",
	"WATER": "dwater", "FLOOD": "dwater", "LEAK": "dwater", "COLD": "dcold", "FROST": "dcold", "FREEZE": "dcold", "FREEZING": "dcold",
	"NOT": "x", "NO": "x", "NON": "x", "WITHOUT": "x", "EXCEPT": "x", "DIOXIDE": "x",
}

// fillers carry nothing that the rest does not say.
var fillers = map[string]bool{
	"THE": true, "A": true, "AN": true, "OF": true, "AT": true, "IN": true, "ON": true, "BY": true, "TO": true, "FOR": true, "AND": true, "NEAR": true, "S": true, "MY": true, "OUR": true,
	"DETECTOR": true, "DETECTORS": true, "SENSOR": true, "SENSORS": true, "CONTACT": true, "ALARM": true, "ZONE": true, "UNIT": true, "FLOOR": true, "STOREY": true, "PROBE": true, "BREAK": true,
}

// another gives other words for one, each a phrase: first what means the same, then, behind "~", what is wider and still true.
var another = map[string]string{
	"REAR": "BACK", "HALLWAY": "HALL", "LOBBY": "HALL", "FOYER": "HALL", "VESTIBULE": "HALL", "CORRIDOR": "HALL", "PASSAGE": "CORRIDOR,HALL",
	"PARLOUR": "LOUNGE", "PARLOR": "LOUNGE", "KITCHENETTE": "KITCHEN", "STUDY": "OFFICE", "WORKROOM": "WORKSHOP,~ROOM",
	"UPSTAIRS": "UP", "UPPER": "UP", "ABOVE": "UP", "ATTIC": "~UP", "LOFT": "~UP",
	"DOWNSTAIRS": "DOWN", "LOWER": "DOWN", "BELOW": "DOWN", "BASEMENT": "~DOWN", "CELLAR": "~DOWN",
	"BEDROOM": "~ROOM", "BATHROOM": "~ROOM", "WASHROOM": "~ROOM", "CLOAKROOM": "~ROOM", "PLAYROOM": "~ROOM", "GUESTROOM": "~ROOM", "CLASSROOM": "~ROOM", "SHOWROOM": "~ROOM", "CHAMBER": "ROOM",
	"STOREROOM": "STORE ROOM,STORE", "STOCKROOM": "STORE ROOM,STORE", "STORAGE": "STORE", "STOREHOUSE": "STORE", "WAREHOUSE": "STORE", "LARDER": "~STORE", "PANTRY": "~STORE", "CUPBOARD": "~STORE", "CLOSET": "~STORE", "SHED": "~STORE",
	"APARTMENT": "FLAT", "LANDLORD": "OWNER", "PROPRIETOR": "OWNER",
	"DOORWAY": "DOOR", "BACKDOOR": "BACK DOOR", "FRONTDOOR": "FRONT DOOR", "TRAPDOOR": "HATCH,~DOOR", "GLAZING": "GLASS", "PANE": "GLASS",
	"MOVEMENT": "MOTION", "PIR": "MOTION", "HOLDUP": "PANIC", "CALLPOINT": "FIRE BUTTON", "KEYSWITCH": "KEY SWITCH", "PUSHBUTTON": "BUTTON", "PUSH": "BUTTON",
	"CO": "CARBON MONOXIDE", "SMOKE": "~FIRE", "HEAT": "~FIRE", "FLAME": "FIRE", "FROST": "COLD", "FREEZE": "COLD", "FREEZING": "COLD", "FLOOD": "WATER", "LEAK": "WATER",
}

// together are words that mean something else than each by itself.
var together = map[string]string{
	"LIVING ROOM": "LOUNGE,~ROOM", "SITTING ROOM": "LOUNGE,~ROOM", "DRAWING ROOM": "LOUNGE,~ROOM", "CALL POINT": "FIRE BUTTON", "PULL STATION": "FIRE BUTTON", "HOLD UP": "PANIC",
	"LOW TEMPERATURE": "COLD", "HIGH TEMPERATURE": "HEAT", "CARBON MONOXIDE": "CO", "GLASS BREAK": "GLASS",
}

// numbers are the words of the first ten.
var numbers = []string{"ZERO", "ONE", "TWO", "THREE", "FOUR", "FIVE", "SIX", "SEVEN", "EIGHT", "NINE", "TEN"}

// counted are other ways to write them, ordinals first.
var counted = [][]string{
	nil,
	{"FIRST", "1ST"},
	{"SECOND", "2ND", "II"},
	{"THIRD", "3RD", "III"},
	{"FOURTH", "4TH", "IV"},
	{"FIFTH", "5TH"},
	{"SIXTH", "6TH", "VI"},
	{"SEVENTH", "7TH", "VII"},
	{"EIGHTH", "8TH", "VIII"},
	{"NINTH", "9TH", "IX"},
	{"TENTH", "10TH"},
}
