// Package site describes a building and its alarm system: the site file.
//
// A site is one JSON object whose collections are maps keyed by id, never arrays of things, so that every edit is an
// RFC 7396 merge patch. The same document in YAML is the file that people keep, review and compare. A half-finished
// survey is valid: rooms by name alone, devices without a place. Decoding checks form (types, known keys, references);
// what is wrong with the design is the business of package rules.
//
// Two kinds of equipment are never mixed: a Device is part of the alarm system (it reports to the panel), a Head is a
// self-contained alarm that sounds by itself. Format: docs/format/site.md.
package site

import "proofbell/quantity"

//go:generate go run ./internal/schemagen site . site.schema.json

// Format is the value of Site.Format written by this version.
const Format = "proofbell.site/1"

// Identifiers are types, so that swapping two of them does not compile. All are the keys of the maps in Site.
type (
	PersonID   string // "thrane"
	ContactID  string // order on the station's call list: "1", "2"
	StoreyID   string // "ground"
	RoomID     string // "G1"
	WallID     string
	OpeningID  string
	MaterialID string
	ModelID    string
	DeviceID   string // a part of the alarm system
	HeadID     string // a self-contained alarm: "M1"
	GroupID    string // an interconnect group: "M"
	CircuitID  string
	AreaID     string // as the station knows it: "1"
	ZoneID     string // as keyed at the panel: "09"
	PathID     string // "main", "backup"
	QuestionID string
	BedID      string // of one room: "1"
	PartID     string // of the house's connection: "router"
	LoadID     string // on the panel's supply: "panel"
	CellID     string // a battery that can be had: "b12"
	RateID     string // one line of a maker's discharge table
)

// Token names a thing on its sticker. It is random and says nothing: "7K2M-Q4XP".
type Token string

// Tags of the members: json names the member (without omitempty or omitzero it is required), words names a list of
// allowed words (see Words), bounds gives the least and the greatest value in the base unit.

// Site is the whole description. Every member may be missing while the survey is under way.
type Site struct {
	Format    string                  `json:"format"`
	Name      string                  `json:"name,omitempty"`
	Practice  bool                    `json:"practice,omitempty"` // a practice site: its records can not become certificates
	Planted   *Planted                `json:"planted,omitempty"`  // practice with planted mistakes; nil: none
	Premises  Premises                `json:"premises,omitzero"`
	People    map[PersonID]Person     `json:"people,omitempty"`
	Contacts  map[ContactID]Contact   `json:"contacts,omitempty"` // the station's call list, in order of the key
	RuleSet   RuleSetRef              `json:"ruleSet,omitzero"`
	Station   Station                 `json:"station,omitzero"`
	Account   Account                 `json:"account,omitzero"`
	Panel     Panel                   `json:"panel,omitzero"`
	Power     Power                   `json:"power,omitzero"`
	Storeys   map[StoreyID]Storey     `json:"storeys,omitempty"`
	Rooms     map[RoomID]Room         `json:"rooms,omitempty"`
	Materials map[MaterialID]Material `json:"materials,omitempty"`
	Walls     map[WallID]Wall         `json:"walls,omitempty"`
	Openings  map[OpeningID]Opening   `json:"openings,omitempty"`
	Models    map[ModelID]Model       `json:"models,omitempty"`
	Devices   map[DeviceID]Device     `json:"devices,omitempty"`
	Heads     map[HeadID]Head         `json:"heads,omitempty"`
	Groups    map[GroupID]Group       `json:"groups,omitempty"`
	Circuits  map[CircuitID]Circuit   `json:"circuits,omitempty"`
	Areas     map[AreaID]Area         `json:"areas,omitempty"`
	Zones     map[ZoneID]Zone         `json:"zones,omitempty"`
	Settings  Settings                `json:"settings,omitzero"`
	Questions map[QuestionID]Question `json:"questions,omitempty"`
	Care      Care                    `json:"care,omitzero"`
	Takeover  Takeover                `json:"takeover,omitzero"`
	Sticker   Token                   `json:"sticker,omitempty"` // opaque token on the sticker inside the panel's lid
}

// Planted says which practice this is: mistakes were planted in a sound site. What they are is not in the file: it is
// found from these figures and the sound site (package practice).
type Planted struct {
	Seed   int    `json:"seed"`
	Level  int    `json:"level"`
	Source string `json:"source"`      // mark of the sound site
	On     Date   `json:"on,omitzero"` // day for which it is judged
}

// Premises says where the building is and who uses it.
type Premises struct {
	Address         string   `json:"address,omitempty"`
	Locality        string   `json:"locality,omitempty"`
	Country         string   `json:"country,omitempty"`
	TimeZone        string   `json:"timeZone,omitempty"`            // IANA name
	Units           string   `json:"units,omitempty" words:"units"` // "metric" or "imperial": how figures are shown
	EmergencyNumber string   `json:"emergencyNumber,omitempty"`
	Use             string   `json:"use,omitempty" words:"premises-use"` // dwelling, guesthouse, rented, workshop, shop, office
	PayingGuests    bool     `json:"payingGuests,omitempty"`
	RiskAssessment  string   `json:"riskAssessment,omitempty"`          // written fire risk assessment: "none", "asked", or its date
	North           float64  `json:"north,omitempty" bounds:"-360,360"` // direction of north on the plan, degrees clockwise from up
	Internet        Internet `json:"internet,omitzero"`
	Notes           string   `json:"notes,omitempty"`
}

// Internet is the house's own connection, when a path uses it.
type Internet struct {
	Equipment string `json:"equipment,omitempty"`               // "router and fibre box"
	Standby   string `json:"standby,omitempty" words:"standby"` // "none", "yes", "" unknown: does it work when the mains fails

	Parts   map[PartID]InternetPart `json:"parts,omitempty"`
	Battery quantity.Charge         `json:"battery,omitzero" bounds:"0,10000"` // of its own standby supply, which the parts with supply "own" share
	Holds   quantity.Duration       `json:"holds,omitzero"`                    // how long that supply was seen to carry them
}

// InternetPart is one piece of equipment on the way to the internet.
type InternetPart struct {
	Name   string           `json:"name,omitempty"`
	Kind   string           `json:"kind,omitempty" words:"internet-part"`     // router, fibre-box, switch, other
	Draw   quantity.Current `json:"draw,omitzero" bounds:"0,100"`             // at 12 V
	Supply string           `json:"supply,omitempty" words:"internet-supply"` // mains, own (standby supply), panel (its supply); missing: not known
}

// Person is someone named in the job. Personal data: kept under the job's own key in the job book.
type Person struct {
	Name      string   `json:"name"`
	Role      string   `json:"role,omitempty" words:"role"` // owner, manager, technician, junior, electrician, operator, other
	Firm      string   `json:"firm,omitempty"`
	Phone     string   `json:"phone,omitempty"`
	Languages []string `json:"languages,omitempty"`
}

// Contact is one line of the station's call list.
type Contact struct {
	Person    PersonID `json:"person,omitempty"`
	Phone     string   `json:"phone,omitempty"`                     // empty: the person's own
	Passcode  string   `json:"passcode,omitempty" words:"passcode"` // "held" or "none"; never the passcode itself
	Hours     string   `json:"hours,omitempty"`
	Keyholder bool     `json:"keyholder,omitempty"`
}

// RuleSetRef names the rule set that the job is checked against.
type RuleSetRef struct {
	ID      string `json:"id,omitempty"`
	Edition string `json:"edition,omitempty"`
}

// Station is the monitoring station.
type Station struct {
	Name         string                 `json:"name,omitempty"`
	OnTestPhone  string                 `json:"onTestPhone,omitempty"`
	TestWindow   quantity.Duration      `json:"testWindow,omitzero"` // usual longest time on test
	ZoneList     map[ZoneID]StationZone `json:"zoneList,omitempty"`  // what the station itself holds, as last read back
	ZoneListAsOf Date                   `json:"zoneListAsOf,omitzero"`
	History      *HistoryColumns        `json:"history,omitempty"` // how this station writes its event history; nil: not known yet
}

// HistoryColumns says how an event history is to be read: found once, corrected by a person, kept. Empty members are found
// anew in every file. Format: docs/format/history.md.
type HistoryColumns struct {
	Between  string   `json:"between,omitempty" words:"history-between"` // what stands between cells: comma, semicolon, tab, bar; text: free lines
	Header   bool     `json:"header,omitempty"`                          // a line with the names stands above
	Names    []string `json:"names,omitempty"`                           // as the header has them; a file with another order is matched by name
	Holds    []string `json:"holds,omitempty" words:"history-holds"`     // what each column holds, in order
	Dates    string   `json:"dates,omitempty" words:"history-dates"`     // order of a written date: day-month-year, month-day-year, year-month-day
	Year     int      `json:"year,omitempty"`                            // of the newest line, where dates name none
	TimeZone string   `json:"timeZone,omitempty"`                        // of the clock that wrote the times, IANA name; empty: the site's
}

// StationZone is one line of the station's own zone list.
type StationZone struct {
	Label string `json:"label"`
	Code  string `json:"code,omitempty"`
}

// Account is the site as the station knows it.
type Account struct {
	Number   string          `json:"number,omitempty"`                        // "4816"
	Format   string          `json:"format,omitempty" words:"account-format"` // "contact-id" or "sia"
	Paths    map[PathID]Path `json:"paths,omitempty"`
	LiveFrom Date            `json:"liveFrom,omitzero"` // day from which the station watches
	Permit   string          `json:"permit,omitempty"`  // number of the alarm permit, where the place asks for one
}

// Path is one way from the panel to the station.
type Path struct {
	Name       string            `json:"name,omitempty"`                   // "house internet"
	Kind       string            `json:"kind,omitempty" words:"path-kind"` // internet, mobile, telephone
	Order      int               `json:"order,omitempty" bounds:"0,99"`    // 1 main, 2 back-up
	Notes      string            `json:"notes,omitempty"`
	CheckEvery quantity.Duration `json:"checkEvery,omitzero"`               // agreed supervision interval of the path
	Through    string            `json:"through,omitempty" words:"through"` // house: the house's own connection; own: the panel's communicator alone; empty: as usual for its kind
}

// Panel is the control unit.
type Panel struct {
	Profile   string      `json:"profile,omitempty"` // name of a panel profile: "ladder"
	Room      RoomID      `json:"room,omitempty"`
	At        Coordinates `json:"at,omitempty"`
	Installed Date        `json:"installed,omitzero"`
	Firmware  string      `json:"firmware,omitempty"` // as the panel shows it; a change asks for proof
	Radio     PanelRadio  `json:"radio,omitzero"`
}

// PanelRadio is the panel's receiver for radio devices.
type PanelRadio struct {
	Frequency    quantity.Frequency  `json:"frequency,omitzero"`
	Sensitivity  quantity.PowerLevel `json:"sensitivity,omitzero"`
	WantedMargin quantity.Loss       `json:"wantedMargin,omitzero"`
	Antenna      quantity.Loss       `json:"antenna,omitzero"`   // its gain, dBi
	Shadowing    quantity.Loss       `json:"shadowing,omitzero"` // how far places of one distance differ (standard deviation)
}

// Power is the standby supply of the panel.
type Power struct {
	Battery     quantity.Charge   `json:"battery,omitzero"`
	BatteryDate Date              `json:"batteryDate,omitzero"`
	RestLoad    quantity.Current  `json:"restLoad,omitzero"`
	AlarmLoad   quantity.Current  `json:"alarmLoad,omitzero"`
	Standby     quantity.Duration `json:"standby,omitzero"`
	AlarmTime   quantity.Duration `json:"alarmTime,omitzero"`              // the alarm time that the drafted sum counts
	Ageing      float64           `json:"ageing,omitempty" bounds:"0.5,5"` // factor, 1.25

	Duty        string               `json:"duty,omitempty" words:"standby-duty"`           // rule that says how long; missing: standby and alarmTime as they stand
	Chemistry   string               `json:"chemistry,omitempty" words:"battery-chemistry"` // of the fitted battery: lead, lithium; missing: lead
	Fitted      CellID               `json:"fitted,omitempty"`                              // which of the batteries it is
	Temperature quantity.Temperature `json:"temperature,omitzero" bounds:"200,400"`         // lowest at the battery
	Charger     quantity.Current     `json:"charger,omitzero" bounds:"0,1000"`              // all that the supply can give, load at rest included
	Largest     quantity.Charge      `json:"largest,omitzero" bounds:"0,10000"`             // largest battery that the panel is listed for
	Listed      []string             `json:"listed,omitempty" words:"battery-chemistry"`    // kinds of battery that its charger is listed for
	Cabinet     []quantity.Length    `json:"cabinet,omitempty" bounds:"0.001,10"`           // three sides of the free space for the battery
	Loads       map[LoadID]Load      `json:"loads,omitempty"`                               // what is fed from it and is no device of this file
	Cells       map[CellID]Cell      `json:"cells,omitempty"`                               // batteries that can be had
}

// Load is what is fed from the panel's supply and is no device: its own board, the communicator.
type Load struct {
	Name  string           `json:"name,omitempty"`
	Rest  quantity.Current `json:"rest,omitzero" bounds:"0,1000"`
	Alarm quantity.Current `json:"alarm,omitzero" bounds:"0,1000"` // missing: as at rest
}

// Cell is a standby battery that can be had, as its maker describes it.
type Cell struct {
	Name      string            `json:"name,omitempty"`
	Capacity  quantity.Charge   `json:"capacity,omitzero" bounds:"0,10000"`
	Hours     quantity.Duration `json:"hours,omitzero"`                                // in which that capacity is drawn; missing: 20 h
	Chemistry string            `json:"chemistry,omitempty" words:"battery-chemistry"` // missing: lead
	Peukert   float64           `json:"peukert,omitempty" bounds:"0.5,5"`              // exponent, where there is no table
	Rates     map[RateID]Rate   `json:"rates,omitempty"`                               // discharge table of the maker
	Size      []quantity.Length `json:"size,omitempty" bounds:"0.001,10"`              // three sides
}

// Rate is one line of a discharge table: this current empties it in that time.
type Rate struct {
	Time    quantity.Duration `json:"time,omitzero"`
	Current quantity.Current  `json:"current,omitzero" bounds:"0,10000"`
}

// Storey is one level of the building.
type Storey struct {
	Name    string          `json:"name"`
	Level   quantity.Length `json:"level,omitzero"`                    // floor height above the ground floor
	Ceiling quantity.Length `json:"ceiling,omitzero" bounds:"0.1,100"` // usual ceiling height above this floor
	Order   int             `json:"order,omitempty" bounds:"-99,99"`   // from below
	Floor   MaterialID      `json:"floor,omitempty"`                   // what the floor of this storey is made of
	Tracing *Tracing        `json:"tracing,omitempty"`                 // the picture that its plan is traced over; nil: none
}

// Tracing is a picture under the plan of a storey, and how it lies there.
type Tracing struct {
	Blob   string      `json:"blob"`                             // content address of the picture
	Width  int         `json:"width" bounds:"0,100000"`          // pixels
	Height int         `json:"height" bounds:"0,100000"`         // pixels
	At     Coordinates `json:"at,omitempty"`                     // of its upper left corner
	Scale  float64     `json:"scale" bounds:"0.0000001,1000"`    // metres a pixel
	Turn   float64     `json:"turn,omitempty" bounds:"-360,360"` // degrees anticlockwise about that corner
}

// Room is a room or another space. A name is enough.
type Room struct {
	Name     string          `json:"name"`
	Storey   StoreyID        `json:"storey,omitempty"`
	Order    int             `json:"order,omitempty" bounds:"0,9999"` // along the walk through the building; 0: as the ids stand
	Outline  Outline         `json:"outline,omitempty"`
	Ceiling  quantity.Length `json:"ceiling,omitzero" bounds:"0.1,100"` // when it differs from the storey's
	Use      string          `json:"use,omitempty" words:"room-use"`    // hall, corridor, stair, bedroom, flat, kitchen, lounge, dining, boiler, office, workshop, store, linen, plant, bathroom, garage, loft, cellar, other
	Sleeping bool            `json:"sleeping,omitempty"`                // someone sleeps here
	Dwelling string          `json:"dwelling,omitempty"`                // name of the flat or unit that it is a part of; empty: common to all, or there is one only
	Beds     map[BedID]Bed   `json:"beds,omitempty"`                    // where heads lie on pillows
	Hazards  []string        `json:"hazards,omitempty" words:"hazard"`  // wood-stove, gas-boiler, oil-boiler, cooking, vehicle, dust, steam, machine
	Notes    string          `json:"notes,omitempty"`

	Ambient    quantity.SoundLevel  `json:"ambient,omitzero"`                        // average of what else sounds there, dBA
	Loudest    quantity.SoundLevel  `json:"loudest,omitzero"`                        // loudest of it that lasts 60 s
	Decay      quantity.Duration    `json:"decay,omitzero"`                          // time in which sound dies away by 60 dB (T60)
	Coldest    quantity.Temperature `json:"coldest,omitzero" bounds:"200,400"`       // lowest and highest temperature there over the year,
	Warmest    quantity.Temperature `json:"warmest,omitzero" bounds:"200,400"`       // for batteries
	Furnishing string               `json:"furnishing,omitempty" words:"furnishing"` // when the decay is not known: soft, hard, tiled
}

// Bed is where someone sleeps. At is the pillow; without a height it is taken 0.6 m above the floor.
type Bed struct {
	At      Coordinates `json:"at,omitempty"`
	Sleeper string      `json:"sleeper,omitempty" words:"sleeper"` // who wakes badly at a high tone: child, over-65, hard-of-hearing, impaired
}

// Material is what a wall, floor or leaf is made of.
type Material struct {
	Name      string        `json:"name"`
	As        string        `json:"as,omitempty" words:"construction"` // usual construction whose losses stand in for missing ones
	Hatch     string        `json:"hatch,omitempty"`                   // "stone" is drawn hatched; anything else solid
	RadioLoss quantity.Loss `json:"radioLoss,omitzero"`
	SoundLoss quantity.Loss `json:"soundLoss,omitzero"`
}

// Wall is a straight wall; From and To lie on its middle line.
type Wall struct {
	Storey    StoreyID        `json:"storey"`
	From      Coordinates     `json:"from,omitempty"`
	To        Coordinates     `json:"to,omitempty"`
	Thickness quantity.Length `json:"thickness,omitzero" bounds:"0.001,10"`
	Material  MaterialID      `json:"material,omitempty"`
}

// Opening is a door, window, hatch or open passage in a wall, between two rooms or to the outside.
type Opening struct {
	Kind     string          `json:"kind" words:"opening-kind"` // door, window, hatch, passage, stair
	Name     string          `json:"name,omitempty"`
	Storey   StoreyID        `json:"storey,omitempty"`
	At       Coordinates     `json:"at,omitempty"` // centre, on the wall's middle line
	Width    quantity.Length `json:"width,omitzero" bounds:"0.01,100"`
	Rooms    []RoomID        `json:"rooms,omitempty"` // the one or two rooms it joins; one room: to the outside
	Material MaterialID      `json:"material,omitempty"`
	Fire     bool            `json:"fire,omitempty"`                // a fire door
	Open     bool            `json:"open,omitempty"`                // stands open or has no leaf
	Hinge    string          `json:"hinge,omitempty" words:"hinge"` // "start" or "end" of the leaf along the wall, for drawing
	Swing    string          `json:"swing,omitempty"`               // room id or "out", for drawing
}

// Model is a kind of device in general words; facts of the hardware that no panel setting can change.
type Model struct {
	Name          string              `json:"name"`
	Class         string              `json:"class" words:"device-class"`  // see DeviceClasses
	Link          string              `json:"link,omitempty" words:"link"` // radio or wired
	Family        string              `json:"family,omitempty"`            // first letters of the identity: "SD"
	Terminals     map[string]Terminal `json:"terminals,omitempty"`         // "A": what that input senses
	Reports       quantity.Duration   `json:"reports,omitzero"`            // how often the transmitter reports
	Carried       bool                `json:"carried,omitempty"`           // leaves the house: no check-in wanted
	SelfSounding  bool                `json:"selfSounding,omitempty"`      // has its own sounder
	TestButton    bool                `json:"testButton,omitempty"`
	NoRestore     bool                `json:"noRestore,omitempty"` // sends no restore
	ToPanel       quantity.Duration   `json:"toPanel,omitzero"`    // longest time from trip to panel
	TransmitPower quantity.PowerLevel `json:"transmitPower,omitzero"`
	Antenna       quantity.Loss       `json:"antenna,omitzero"`     // its gain, dBi
	Sensitivity   quantity.PowerLevel `json:"sensitivity,omitzero"` // of a repeater or second receiver
	BatteryLife   quantity.Duration   `json:"batteryLife,omitzero"`
	ServiceLife   quantity.Duration   `json:"serviceLife,omitzero"`
	Listens       *Listener           `json:"listens,omitempty"`                       // for an acoustic bridge
	Level         quantity.SoundLevel `json:"level,omitzero"`                          // of its sounder, at 3 m
	Tone          quantity.Frequency  `json:"tone,omitzero"`                           // of its sounder
	LeastVoltage  quantity.Voltage    `json:"leastVoltage,omitzero" bounds:"0.1,1000"` // of a wired one: works down to here

	RestCurrent  quantity.Current `json:"restCurrent,omitzero" bounds:"0,100"`  // wired: drawn at rest
	AlarmCurrent quantity.Current `json:"alarmCurrent,omitzero" bounds:"0,100"` // wired: drawn in alarm, at its least voltage; missing: as at rest
	Cell         *RadioCell       `json:"cell,omitempty"`                       // radio: what its battery gives and has to give
}

// RadioCell is the battery of a radio device with what draws on it.
type RadioCell struct {
	Chemistry     string            `json:"chemistry,omitempty" words:"cell-chemistry"` // lithium, alkaline
	Capacity      quantity.Charge   `json:"capacity,omitzero" bounds:"0,1000"`
	Usable        quantity.Share    `json:"usable,omitzero" bounds:"0.01,1"`     // part of it before the device stops; missing: 85 %
	SelfDischarge quantity.Share    `json:"selfDischarge,omitzero" bounds:"0,1"` // a year at 20 C; missing: by chemistry
	ShelfLife     quantity.Duration `json:"shelfLife,omitzero"`                  // missing: by chemistry
	Sleep         quantity.Current  `json:"sleep,omitzero" bounds:"0,100"`
	Send          quantity.Current  `json:"send,omitzero" bounds:"0,100"`       // while it sends
	CheckIn       quantity.Duration `json:"checkIn,omitzero"`                   // on the air for a check-in
	Event         quantity.Duration `json:"event,omitzero"`                     // on the air for an event
	Events        float64           `json:"events,omitempty" bounds:"0,100000"` // a day
}

// Terminal is one input of a device.
type Terminal struct {
	Senses string `json:"senses" words:"senses"` // see Senses
	Name   string `json:"name,omitempty"`
}

// Listener says what an acoustic bridge needs to hear.
type Listener struct {
	Within quantity.Length     `json:"within,omitzero" bounds:"0.01,100"` // largest distance to a head of the group
	Level  quantity.SoundLevel `json:"level,omitzero"`                    // least level at the listener
	Time   quantity.Duration   `json:"time,omitzero"`                     // sound needed before it decides
}

// Device is one part of the alarm system.
type Device struct {
	Model     ModelID     `json:"model,omitempty"`
	Identity  string      `json:"identity,omitempty"` // as read off its label: "SD001228"
	Room      RoomID      `json:"room,omitempty"`
	At        Coordinates `json:"at,omitempty"`
	Hears     GroupID     `json:"hears,omitempty"`   // for a bridge: the interconnect group
	Beside    HeadID      `json:"beside,omitempty"`  // for a bridge: the head it listens to
	Circuit   CircuitID   `json:"circuit,omitempty"` // for a wired device
	Made      Date        `json:"made,omitzero"`
	Installed Date        `json:"installed,omitzero"`
	Battery   Date        `json:"battery,omitzero"` // date of the fitted battery
	Faces     RoomID      `json:"faces,omitempty"`
	Sticker   Token       `json:"sticker,omitempty"` // opaque token on its sticker
	Notes     string      `json:"notes,omitempty"`
}

// Head is one self-contained alarm.
type Head struct {
	Kind  string              `json:"kind" words:"head-kind"` // smoke, heat, co, smoke-co
	Group GroupID             `json:"group,omitempty"`        // empty: stands alone
	Room  RoomID              `json:"room,omitempty"`
	At    Coordinates         `json:"at,omitempty"`
	Made  Date                `json:"made,omitzero"`
	Life  quantity.Duration   `json:"life,omitzero"`                      // when it differs from the rule set's
	Power string              `json:"power,omitempty" words:"head-power"` // mains, mains-battery, battery
	Level quantity.SoundLevel `json:"level,omitzero"`                     // at 3 m
	Tone  quantity.Frequency  `json:"tone,omitzero"`                      // of its sounder; missing: 3.1 kHz
	Notes string              `json:"notes,omitempty"`

	Sticker Token `json:"sticker,omitempty"` // opaque token on its sticker
}

// Group is a set of heads that sound together.
type Group struct {
	Name       string    `json:"name,omitempty"`
	Link       string    `json:"link,omitempty" words:"link"` // wired or radio
	Supply     string    `json:"supply,omitempty"`            // "120 V mains"
	Circuit    CircuitID `json:"circuit,omitempty"`
	Supervised bool      `json:"supervised,omitempty"`
}

// Circuit is a wired circuit: a detection input, a sounder circuit, a mains circuit or a bus.
type Circuit struct {
	Name      string                 `json:"name,omitempty"`
	Kind      string                 `json:"kind,omitempty" words:"circuit-kind"`   // input, sounder, mains, bus
	EndOfLine string                 `json:"endOfLine,omitempty"`                   // "4.7 kilohm"
	Supply    quantity.Voltage       `json:"supply,omitzero" bounds:"0.1,1000"`     // at the panel's terminals at its worst, at the end of the battery
	Inner     quantity.Resistance    `json:"inner,omitzero" bounds:"0.000001,1000"` // of the supply; missing: supply is what stands at the terminals
	Cable     Cable                  `json:"cable,omitzero"`                        // of every part that has none of its own
	Parts     map[PartID]CircuitPart `json:"parts,omitempty"`                       // devices, contacts and joints along the cable
	Ring      Ring                   `json:"ring,omitzero"`                         // the way back of a circuit that is fed from both ends (class A)
	Input     Supervision            `json:"input,omitzero"`                        // of a supervised input
}

// Cable is what a circuit is wired with.
type Cable struct {
	Conductor   quantity.Conductor   `json:"conductor,omitzero"`
	Strand      string               `json:"strand,omitempty" words:"strand"`             // solid, stranded
	Material    string               `json:"material,omitempty" words:"cable-material"`   // copper, tinned, other
	Temperature quantity.Temperature `json:"temperature,omitzero" bounds:"223.15,423.15"` // of the copper, warmest
	Measured    quantity.Resistance  `json:"measured,omitzero" bounds:"0.0001,100000"`    // out and back, its far end joined: stands in for the tables
	Over        quantity.Length      `json:"over,omitzero" bounds:"0.1,10000"`            // length of the cable that was measured
	While       quantity.Temperature `json:"while,omitzero" bounds:"223.15,423.15"`       // its temperature then
}

// CircuitPart is one place along the cable: a device, a contact, or a joint.
type CircuitPart struct {
	Name    string             `json:"name,omitempty"`
	Device  DeviceID           `json:"device,omitempty"`
	From    PartID             `json:"from,omitempty"`                   // where its cable comes from; missing: the panel
	Length  quantity.Length    `json:"length,omitzero" bounds:"0,5000"`  // of that cable, one way
	Wire    quantity.Conductor `json:"wire,omitzero"`                    // of that cable, when it differs
	Current quantity.Current   `json:"current,omitzero" bounds:"0,100"`  // in alarm, at its least voltage; missing: of the device's model
	Power   quantity.Power     `json:"power,omitzero" bounds:"0,10000"`  // instead of a current, when it draws power whatever the voltage
	Least   quantity.Voltage   `json:"least,omitzero" bounds:"0.1,1000"` // works down to here; missing: of the device's model
}

// Ring is the way back to the panel of a circuit that is fed from both ends.
type Ring struct {
	From   PartID             `json:"from,omitempty"`
	Length quantity.Length    `json:"length,omitzero" bounds:"0,5000"`
	Wire   quantity.Conductor `json:"wire,omitzero"`
}

// Supervision is how a supervised input tells its states.
type Supervision struct {
	Contacts  string                 `json:"contacts,omitempty" words:"contacts"` // open-on-alarm, close-on-alarm
	Alarm     quantity.Resistance    `json:"alarm,omitzero" bounds:"1,500000"`    // of each contact: across it when it opens, in series when it closes
	Fault     quantity.Resistance    `json:"fault,omitzero" bounds:"1,500000"`    // across a contact that opens on a fault
	Sensors   int                    `json:"sensors,omitempty" bounds:"0,20"`     // contacts that can be in alarm; 0: one
	Tolerance quantity.Share         `json:"tolerance,omitzero" bounds:"0,1"`     // of the resistors
	Windows   map[string]InputWindow `json:"windows,omitempty"`                   // from the panel's instructions: short, normal, alarm, fault, cut
	Volts     quantity.Voltage       `json:"volts,omitzero" bounds:"0.1,100"`     // across the open input
	Through   quantity.Resistance    `json:"through,omitzero" bounds:"1,1000000"` // resistor in the panel that feeds the loop
}

// InputWindow is the range of resistance that the panel takes for a state.
type InputWindow struct {
	From quantity.Resistance `json:"from,omitzero" bounds:"0,1000000000"`
	To   quantity.Resistance `json:"to,omitzero" bounds:"0,1000000000"` // missing: and more
}

// Area is a part of the premises that arms on its own.
type Area struct {
	Name string `json:"name"`
}

// Zone is one line of the zone schedule.
type Zone struct {
	Label      string   `json:"label,omitempty"`
	Words      []string `json:"words,omitempty"` // words the panel speaks, when they are not those of the label
	Kind       ZoneKind `json:"kind,omitempty" words:"zone-kind"`
	Area       AreaID   `json:"area,omitempty"`
	Device     DeviceID `json:"device,omitempty"`
	Terminal   string   `json:"terminal,omitempty"` // a named input of the device: "A"
	Code       string   `json:"code,omitempty"`     // station code: "111"
	Paths      []PathID `json:"paths,omitempty"`
	LossWindow string   `json:"lossWindow,omitempty"` // "never", "200 s", "4 h", "24 h"; empty for a wired device
	DoorTone   bool     `json:"doorTone,omitempty"`
	Bypass     bool     `json:"bypass,omitempty"`    // users may leave it out
	TripLimit  *bool    `json:"tripLimit,omitempty"` // whether the trip limit applies; nil: as Settings say
	Keyed      bool     `json:"keyed,omitempty"`     // already programmed in the panel: allocation leaves it alone
	Notes      string   `json:"notes,omitempty"`
}

// Settings are the panel-wide settings.
type Settings struct {
	ExitDelay    quantity.Duration    `json:"exitDelay,omitzero"`
	EntryDelay   quantity.Duration    `json:"entryDelay,omitzero"`
	EntryDelay2  quantity.Duration    `json:"entryDelay2,omitzero"`
	AbortWindow  Window               `json:"abortWindow,omitzero"`
	TripLimit    Limit                `json:"tripLimit,omitzero"`
	CrossZones   map[string]CrossZone `json:"crossZones,omitempty"`
	PeriodicTest quantity.Duration    `json:"periodicTest,omitzero"`
	FireSounder  quantity.Duration    `json:"fireSounder,omitzero"`
}

// Window is a delay during which an alarm may be taken back before it is sent.
type Window struct {
	Time    quantity.Duration `json:"time,omitzero"`
	Applies []string          `json:"applies,omitempty" words:"family"` // families: burglary, fire, co, panic, building
}

// Limit is the number of trips in one armed period after which a zone is silent.
type Limit struct {
	Trips   int      `json:"trips,omitempty" bounds:"0,99"`
	Applies []string `json:"applies,omitempty" words:"family"` // families, as in Window
}

// CrossZone asks for two zones within a time before a burglary alarm.
type CrossZone struct {
	Zones  []ZoneID          `json:"zones,omitempty"`
	Within quantity.Duration `json:"within,omitzero"`
}

// Question is something that only a person can answer.
type Question struct {
	Ask    string `json:"ask"`
	Of     string `json:"of" words:"answers"` // owner, station, authority, electrician
	Answer string `json:"answer,omitempty"`
}

// Care is what was agreed about looking after the system.
type Care struct {
	VisitsAYear int                `json:"visitsAYear,omitempty" bounds:"0,12"` // 0: as the rule set says
	Repair      quantity.Duration  `json:"repair,omitzero"`                     // agreed time from a reported fault to its repair
	Effort      map[string]float64 `json:"effort,omitempty" bounds:"0.01,1000"` // what a change costs, by its id, in units of one's own choice
}

// Takeover is what is asked when the system of others is taken over. It holds answers, never a code.
type Takeover struct {
	Began         Date   `json:"began,omitzero"`
	AccountOwner  string `json:"accountOwner,omitempty" words:"account-owner"`   // who owns the account at the station
	HostedOwner   string `json:"hostedOwner,omitempty" words:"account-owner"`    // who owns the account of a hosted path or service
	Authority     string `json:"authority,omitempty"`                            // written authority of the owner: "none", "asked", or its date
	InstallerCode string `json:"installerCode,omitempty" words:"installer-code"` // default, old, changed
	RemoteAccess  string `json:"remoteAccess,omitempty" words:"remains"`         // remote access of others
	OldCodes      string `json:"oldCodes,omitempty" words:"remains"`             // codes and passcodes of people who left
	Destinations  string `json:"destinations,omitempty" words:"remains"`         // reporting destinations of others
}
