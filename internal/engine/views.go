// Package engine is the one door through which the browser, the server and documents ask about a job: named calls with
// JSON in and JSON out over pure functions. Compiled to WebAssembly it is the browser's engine.
package engine

//go:generate go run ./tsgen ../../web/src/types.gen.ts

import (
	"encoding/json"

	"proofbell/internal/drawing"
	"proofbell/internal/keypad"
	"proofbell/internal/papers"
	"proofbell/internal/prove"
	"proofbell/internal/schedule"
	"proofbell/internal/survey"
	"proofbell/rules"
	"proofbell/signal"
	"proofbell/site"
)

// Header is what every stage shows on top.
type Header struct {
	Job       string     `json:"job"`
	Seq       int64      `json:"seq"`
	Name      string     `json:"name"`
	Practice  bool       `json:"practice"`
	Erased    bool       `json:"erased"`
	Account   string     `json:"account"`   // "4816"
	Station   string     `json:"station"`   // name
	Line      string     `json:"line"`      // "Account 4816, Cawder Reach. Not on test."
	Waiting   int        `json:"waiting"`   // entries in the outbox
	OnTest    *Banner    `json:"onTest"`    // nil: not on test
	Stages    []Stage    `json:"stages"`    // survey, schedule, key, prove, hand, look
	Real      prove.Help `json:"real"`      // help for real smoke
	People    []Person   `json:"people"`    // who may be at work: technician, junior
	Conflicts []Conflict `json:"conflicts"` // both values, for a person to decide

	PutBacks []PutBackRow  `json:"putBacks"` // temporary changes that are still to be undone
	Planted  *PlantedState `json:"planted"`  // mistakes are planted in this job; nil: none
}

// PlantedState says how far a practice with planted mistakes is.
type PlantedState struct {
	Named  int  `json:"named"` // faults named so far
	Handed bool `json:"handed"`
}

// Banner is the on-test banner.
type Banner struct {
	Run       string `json:"run"`
	State     string `json:"state"`     // as prove.Window says
	Until     string `json:"until"`     // RFC 3339 UTC
	Covers    string `json:"covers"`    // "fire, CO"
	NotOnTest string `json:"notOnTest"` // "burglary, panic"
	Say       string `json:"say"`       // "4816: fire, CO. Nobody is coming."
	Lapsed    bool   `json:"lapsed"`
	Seen      bool   `json:"seen"` // the station saw the first, harmless signal on the right account
}

// Stage is one stage of the job with what is left to do in it.
type Stage struct {
	ID   string `json:"id"`
	Name string `json:"name"`
	Left string `json:"left"` // "10 stops, 14 to fix"
}

// Person is a pick of who is at work.
type Person struct {
	ID   string `json:"id"`
	Name string `json:"name"`
	Role string `json:"role"`
}

// Conflict is an edit of a field that had changed since its base, or that touches something deleted.
type Conflict struct {
	Key      string          `json:"key"` // for accepting it as it is
	Entry    string          `json:"entry"`
	Path     string          `json:"path"`     // JSON pointer
	Where    string          `json:"where"`    // "Zone 09, label"
	Before   string          `json:"before"`   // the other value, in words
	BeforeBy string          `json:"beforeBy"` // who wrote it; empty: not known
	BeforeAt string          `json:"beforeAt"`
	After    string          `json:"after"` // this edit's value
	By       string          `json:"by"`
	At       string          `json:"at"`
	Held     bool            `json:"held"` // not applied: its thing was deleted
	Back     json.RawMessage `json:"back"` // merge patch that puts the other value back
}

// Survey is the survey stage.
type Survey struct {
	Site      *site.Site          `json:"site"`
	Plans     []drawing.Plan      `json:"plans"`
	Rooms     []RoomRow           `json:"rooms"`
	Heads     []HeadRow           `json:"heads"`
	Devices   []DeviceRow         `json:"devices"`
	Questions []QuestionRow       `json:"questions"`
	Asks      []survey.Asks       `json:"asks"`      // what is still to be asked, by who can answer
	Left      int                 `json:"left"`      // how many questions that is
	Walk      []WalkStep          `json:"walk"`      // the survey in the order in which it goes best
	NextOrder int                 `json:"nextOrder"` // place on the walk of the room entered next
	NextHead  string              `json:"nextHead"`  // free name for the alarm entered next
	Photos    []PhotoRow          `json:"photos"`
	Presses   []survey.Press      `json:"presses"`   // newest of each alarm
	Links     survey.Links        `json:"links"`     // which alarms sound together, by the presses
	Linking   []Change            `json:"linking"`   // what taking them over changes
	Panels    []Choice            `json:"panels"`    // panel profiles
	OwnPanels []string            `json:"ownPanels"` // names of those that are the job's own
	Made      []string            `json:"made"`      // years that a date of making can be tapped from, newest first
	Words     map[string][]Choice `json:"words"`     // choices for forms: roomUse, hazard, headKind, deviceClass ...
}

// Choice is one value of a form with its words.
type Choice struct {
	Value string `json:"value"`
	Say   string `json:"say"`
}

// RoomRow is a room as the survey lists it.
type RoomRow struct {
	ID       string `json:"id"`
	Name     string `json:"name"`
	Storey   string `json:"storey"`
	Line     string `json:"line"` // "Hall, 20.0 m², 2 devices, 1 alarm"
	Sleeping bool   `json:"sleeping"`
	Use      string `json:"use"`
	UseSay   string `json:"useSay"`
	Guess    string `json:"guess"` // use that the name speaks of, while none is set
	GuessSay string `json:"guessSay"`
}

// WalkStep is one part of the survey, with what is left in it.
type WalkStep struct {
	ID   string `json:"id"` // rooms, heads, press, panel, asks
	Say  string `json:"say"`
	Left string `json:"left"`
	Done bool   `json:"done"`
}

// PhotoRow is a photograph of something in the survey, newest first.
type PhotoRow struct {
	Entry   string `json:"entry"`
	Address string `json:"address"`
	About   string `json:"about"` // JSON pointer: "/heads/M1"
	Name    string `json:"name"`
	By      string `json:"by"`
	At      string `json:"at"`
}

// HeadRow is a self-contained alarm as the survey lists it.
type HeadRow struct {
	ID    string `json:"id"`
	Kind  string `json:"kind"`
	Room  string `json:"room"`
	Group string `json:"group"`
	Made  string `json:"made"`
	Due   string `json:"due"`   // what the rules say of its age, "" when nothing
	State string `json:"state"` // ok, due, overdue, unknown
	Line  string `json:"line"`
}

// DeviceRow is a part of the system as the survey lists it.
type DeviceRow struct {
	ID       string   `json:"id"`
	Name     string   `json:"name"` // of the model
	Identity string   `json:"identity"`
	Room     string   `json:"room"`
	Zones    []string `json:"zones"`
	Line     string   `json:"line"`
}

// QuestionRow is an open question with whom to ask.
type QuestionRow struct {
	ID     string `json:"id"`
	Ask    string `json:"ask"`
	Of     string `json:"of"`
	Answer string `json:"answer"`
}

// Schedule is the schedule stage.
type Schedule struct {
	Zones       []ZoneRow         `json:"zones"`
	Findings    []FindingRow      `json:"findings"` // gravest first, then by who can mend
	Accepted    []AcceptedFinding `json:"accepted"`
	NotJudged   []rules.Finding   `json:"notJudged"`
	Counts      map[string]int    `json:"counts"` // stop, fix, advise
	RuleSet     string            `json:"ruleSet"`
	Proposal    *schedule.Plan    `json:"proposal"` // zones for devices that have none; nil when all have
	Kinds       []Choice          `json:"kinds"`
	LossWindows []string          `json:"lossWindows"`
	Station     StationNews       `json:"station"` // what changed since the station's list
}

// FindingRow is a finding with what its mending changes.
type FindingRow struct {
	rules.Finding
	Changes []Change `json:"changes"`
}

// StationNews is what changed since the station's list was issued, or else was read back.
type StationNews struct {
	Since   string   `json:"since"` // in words: "issued 2026-09-10"; empty: there is no list yet
	Changes []Change `json:"changes"`
}

// AcceptedFinding is a finding that someone took on, with name and reason.
type AcceptedFinding struct {
	Finding rules.Finding `json:"finding"`
	By      string        `json:"by"`
	At      string        `json:"at"`
	Reason  string        `json:"reason"`
}

// ZoneRow is one line of the schedule.
type ZoneRow struct {
	ID         string   `json:"id"`
	Label      string   `json:"label"`
	Kind       string   `json:"kind"`
	KindSay    string   `json:"kindSay"`
	Area       string   `json:"area"`
	Room       string   `json:"room"`
	Device     string   `json:"device"`
	DeviceSay  string   `json:"deviceSay"`
	Identity   string   `json:"identity"`
	Terminal   string   `json:"terminal"`
	Code       string   `json:"code"`
	CodeSay    string   `json:"codeSay"`
	Paths      []string `json:"paths"`
	LossWindow string   `json:"lossWindow"`
	DoorTone   bool     `json:"doorTone"`
	Bypass     bool     `json:"bypass"`
	Worst      string   `json:"worst"` // worst open finding: stop, fix, advise or ""
	LifeSafety bool     `json:"lifeSafety"`
}

// Keying is the key-in stage.
type Keying struct {
	Sheet    keypad.Sheet      `json:"sheet"`
	Panel    string            `json:"panel"`
	Stops    []rules.Finding   `json:"stops"`    // stops that stand against keying
	Accepted []AcceptedFinding `json:"accepted"` // stops that someone took on: their zones are keyed all the same
	Zones    []KeyedZone       `json:"zones"`    // one for each zone of the sheet, in its order
	Kept     []KeptZone        `json:"kept"`     // one for each zone of Sheet.Same, in its order
	Lost     []string          `json:"lost"`     // what to do when the panel shows something else, in order
	Idle     int               `json:"idle"`     // seconds without a key after which the panel drops the zone in hand; 0: never
	Dropped  string            `json:"dropped"`  // what it shows then
	Settings []papers.Pair     `json:"settings"` // of the whole panel: no card keys them
}

// KeyedZone says under which id of the site a zone of the sheet stands, and whether it is keyed as far as anybody knows.
type KeyedZone struct {
	ID       string       `json:"id"`
	Keyed    bool         `json:"keyed"`
	Identity string       `json:"identity"` // of its device, as the label prints it; "" without one
	Slots    keypad.Slots `json:"slots"`    // what the panel holds when the zone was keyed and kept: body of the entry that says so
	Held     keypad.Slots `json:"held"`     // what the cards take it to hold now; nil: nothing is known, the cards key all of it
}

// Prove is the prove stage.
type Prove struct {
	Run      *prove.Run       `json:"run"` // nil: no run yet
	Steps    []prove.Step     `json:"steps"`
	Outcome  prove.Outcome    `json:"outcome"`
	Window   prove.Window     `json:"window"`
	State    string           `json:"state"`    // of the window now
	Families []Choice         `json:"families"` // what can be put on test
	Call     []prove.CallLine `json:"call"`     // what to say to the station next
	Plans    []drawing.Plan   `json:"plans"`
	Runs     []RunRow         `json:"runs"` // earlier runs, newest first

	Tasks       []Task            `json:"tasks"` // one for each step, in the order of the plan
	ReadLines   []ReadLine        `json:"readLines"`
	Fills       map[string]string `json:"fills"`  // of the plan's marks, by id
	Wanted      []string          `json:"wanted"` // families that this plan asks for
	Zones       []Choice          `json:"zones"`  // that a run can be limited to
	Account     string            `json:"account"`
	Fingerprint string            `json:"fingerprint"` // of the plan, to open a run on
	ExtendNow   bool              `json:"extendNow"`   // the window ends soon
	SuggestEnd  string            `json:"suggestEnd"`  // end time to ask for, RFC 3339 UTC: as long as the station is used to
	Clock       string            `json:"clock"`       // time of day on site now, "15:04"
	Standing    []string          `json:"standing"`    // what stands against closing, as the book keeps it: in English
	TimeZone    string            `json:"timeZone"`    // of the site, IANA name: every time of a run is shown in it

	Rows        []ReadRow           `json:"rows"` // the lines to be read back, one for each tap, oldest first
	LastRead    LastRead            `json:"lastRead"`
	Differences []DifferenceRow     `json:"differences"`
	Changes     []prove.PlanChange  `json:"changes"`     // of an open run: what the site's plan has become since
	NewPlan     string              `json:"newPlan"`     // its fingerprint, to take it in; "" nothing changed
	PutBacks    []PutBackRow        `json:"putBacks"`    // of this run, open ones first
	Changeables []prove.PutBackSort `json:"changeables"` // temporary changes that a test usually needs
	Reasons     map[string][]Choice `json:"reasons"`     // by what is stated: usual reasons; the value is what is kept
}

// RunRow is one proving run in a list.
type RunRow struct {
	ID     string `json:"id"`
	Opened string `json:"opened"`
	Closed string `json:"closed"`
	Line   string `json:"line"` // "26 of 28 proved, closed 2025-09-12"
}

// LogLine is one entry of the job book in plain words.
type LogLine struct {
	Seq  int64  `json:"seq"` // 0: still in the outbox
	ID   string `json:"id"`
	At   string `json:"at"`
	By   string `json:"by"`
	Kind string `json:"kind"`
	Say  string `json:"say"`
	Undo bool   `json:"undo"` // an edit that can be taken back
}

// InboxRow is a signal as the receiver stored it, as the server sends it.
type InboxRow struct {
	Row       int64          `json:"row"`
	Receiver  string         `json:"receiver"`
	At        string         `json:"at"`
	Remote    string         `json:"remote"`
	Transport string         `json:"transport"`
	Account   string         `json:"account"`
	Raw       string         `json:"raw"`
	Events    []signal.Event `json:"events"`
	Answered  bool           `json:"answered"`
	Duplicate bool           `json:"duplicate"`
	Why       string         `json:"why"`
	Job       string         `json:"job,omitempty"`
}
