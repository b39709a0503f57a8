package signal

import (
	"maps"
	"slices"
	"strings"
)

// Format is the payload format an event came in.
type Format string

const (
	CID    Format = "cid" // Contact ID, SIA DC-05, in frames with id ADM-CID
	SIADCS Format = "sia" // SIA event codes, SIA DC-03, in frames with id SIA-DCS
)

// Qualifier says whether a condition began, ended or is still there.
type Qualifier string

const (
	New          Qualifier = "new"
	Restore      Qualifier = "restore"
	StillPresent Qualifier = "still-present" // reported again, not a new event; Contact ID 6 only
	Opening      Qualifier = "opening"       // disarmed; Contact ID 1 with an opening and closing code
	Closing      Qualifier = "closing"       // armed; Contact ID 3 with such a code
)

// NumberIs says what Event.Number counts.
type NumberIs string

const (
	Zone     NumberIs = "zone" // zone or point
	User     NumberIs = "user"
	Area     NumberIs = "area"
	Door     NumberIs = "door"
	Line     NumberIs = "line"     // telephone or network line
	Expander NumberIs = "expander" // module on the panel's bus
	NoNumber NumberIs = "none"
)

// Kind is the class of a condition in our own words, the same for both formats. A kind
// ending in "-restore" or "-end" closes the one it is named after; see [Kind.End].
type Kind string

const (
	KindAlarm                Kind = "alarm"
	KindRestore              Kind = "restore" // of an alarm; SIA xR codes restore alarm or trouble, whichever is open
	KindTrouble              Kind = "trouble"
	KindTroubleRestore       Kind = "trouble-restore"
	KindTamper               Kind = "tamper"
	KindTamperRestore        Kind = "tamper-restore"
	KindBypass               Kind = "bypass"
	KindBypassRestore        Kind = "bypass-restore"
	KindSupervisory          Kind = "supervisory" // a fire protection device is not in its ready state
	KindSupervisoryRestore   Kind = "supervisory-restore"
	KindSupervisionLost      Kind = "supervision-lost" // a device or module is no longer heard
	KindSupervisionRestore   Kind = "supervision-restore"
	KindBatteryLow           Kind = "battery-low" // of a radio device
	KindBatteryRestore       Kind = "battery-restore"
	KindMaintenance          Kind = "maintenance" // sensitivity, dirt, end of life
	KindMaintenanceRestore   Kind = "maintenance-restore"
	KindMainsLost            Kind = "mains-lost"
	KindMainsRestore         Kind = "mains-restore"
	KindPower                Kind = "power" // system battery or supply
	KindPowerRestore         Kind = "power-restore"
	KindCommunication        Kind = "communication" // a path to the station failed
	KindCommunicationRestore Kind = "communication-restore"
	KindSystem               Kind = "system" // trouble of the panel itself, its sounders and modules
	KindSystemRestore        Kind = "system-restore"
	KindOpen                 Kind = "open"
	KindClose                Kind = "close"
	KindCancel               Kind = "cancel"
	KindTest                 Kind = "test"        // manual or periodic test of the reporting path
	KindWalkTested           Kind = "walk-tested" // panel saw the point in a walk test; no proof that an alarm of it reaches the station
	KindTestBegin            Kind = "test-begin"
	KindTestEnd              Kind = "test-end"
	KindProgramming          Kind = "programming"
	KindProgrammingEnd       Kind = "programming-end"
	KindAccess               Kind = "access"
	KindLog                  Kind = "log"     // clock, log, schedule and user administration
	KindUnknown              Kind = "unknown" // code is not in our tables; kept as received
)

var kindEnds = map[Kind]Kind{
	KindAlarm: KindRestore, KindTrouble: KindTroubleRestore, KindTamper: KindTamperRestore,
	KindBypass: KindBypassRestore, KindSupervisory: KindSupervisoryRestore,
	KindSupervisionLost: KindSupervisionRestore, KindBatteryLow: KindBatteryRestore,
	KindMaintenance: KindMaintenanceRestore, KindMainsLost: KindMainsRestore, KindPower: KindPowerRestore,
	KindCommunication: KindCommunicationRestore, KindSystem: KindSystemRestore, KindOpen: KindClose,
	KindTestBegin: KindTestEnd, KindProgramming: KindProgrammingEnd,
}

// End returns the kind that ends k, for open the closing; k itself when nothing does.
func (k Kind) End() Kind {
	if end, ok := kindEnds[k]; ok {
		return end
	}
	return k
}

// Ends reports whether k is the end of another kind.
func (k Kind) Ends() bool {
	for _, end := range kindEnds {
		if k == end {
			return true
		}
	}
	return false
}

// Family groups codes by what they watch. Smoke, heat, flame, call point and water flow are
// all fire.
type Family string

const (
	Fire      Family = "fire"
	Gas       Family = "gas" // combustible gas, and carbon monoxide where the format has no code of its own for it
	CO        Family = "co"
	Water     Family = "water"
	Climate   Family = "climate" // too cold, too hot, refrigeration
	Medical   Family = "medical"
	Panic     Family = "panic" // panic, hold-up, duress
	Burglary  Family = "burglary"
	Technical Family = "technical" // other 24-hour conditions, untyped points
	System    Family = "system"    // panel, power, modules, radio
	Path      Family = "path"      // communication
	People    Family = "people"    // opening, closing, access, users
	Tests     Family = "tests"
)

// Event is one condition reported by a panel, whichever format it came in. Text is UTF-8.
// Events are comparable with ==.
type Event struct {
	Account   string    `json:"account"` // of the payload; of the frame's head where the payload names none
	Format    Format    `json:"format"`
	Qualifier Qualifier `json:"qualifier"`
	Code      string    `json:"code"` // as received: "111", "FA"
	Kind      Kind      `json:"kind"`
	Family    Family    `json:"family,omitempty"` // "" for an unknown code
	Words     string    `json:"words"`            // the code in our words, "unknown code 777" for one we do not know
	Number    int       `json:"number"`           // 0: none; -1: one that is not decimal, see Address
	NumberIs  NumberIs  `json:"numberIs"`
	Address   string    `json:"address,omitempty"`   // the number as received, with its leading noughts
	Area      int       `json:"area"`                // 0: none named; -1: one that is not decimal, see Raw
	Late      bool      `json:"late,omitempty"`      // SIA "O": happened earlier, reported now
	Modifiers string    `json:"modifiers,omitempty"` // SIA modifiers in force, as received, joined by "/": "ri1/id2"; see Modifier
	Text      string    `json:"text,omitempty"`
	Raw       string    `json:"raw"` // the whole payload as received
}

// Modifier returns the value of a SIA modifier in force for this event: "ri" area, "id"
// user, "ti" and "da" the panel's local time and date, "pi" keypad or expander.
func (e Event) Modifier(name string) (string, bool) {
	value, found := "", false
	for m := range strings.SplitSeq(e.Modifiers, "/") {
		if v, ok := strings.CutPrefix(m, name); ok {
			value, found = v, true
		}
	}
	return value, found
}

// Restores reports whether e ends what begin began: same account, format, area and number,
// and a code that restores begin's.
func (e Event) Restores(begin Event) bool {
	if e.Account != begin.Account || e.Format != begin.Format || e.Area != begin.Area ||
		e.Number != begin.Number || e.Address != begin.Address {
		return false
	}
	if e.Format == CID && e.Code == begin.Code && // one code, two qualifiers
		(begin.Qualifier == Restore || begin.Qualifier == Closing || e.Qualifier != Restore && e.Qualifier != Closing) {
		return false
	}
	return slices.Contains(ExpectedRestore(begin.Format, begin.Code), e.Code)
}

// ExpectedRestore lists the codes that end what code began, most usual first; nil when
// nothing does. Contact ID restores with the same code and qualifier 3, SIA with another
// code, older SIA senders with the family's xR for alarm and trouble alike.
func ExpectedRestore(format Format, code string) []string {
	m, _ := Lookup(format, code)
	if format == CID && m.restoredBy == nil && m.Kind != m.Kind.End() {
		return []string{code}
	}
	return slices.Clone(m.restoredBy)
}

// Meaning is what a code stands for.
type Meaning struct {
	Format   Format   `json:"format"`
	Code     string   `json:"code"`
	Words    string   `json:"words"`
	Kind     Kind     `json:"kind"` // for Contact ID the kind with qualifier 1; qualifier 3 is its End
	Family   Family   `json:"family"`
	NumberIs NumberIs `json:"numberIs"`

	restoredBy []string
}

// Lookup finds a code in the tables of Contact ID and SIA event codes. For a code that is
// not there it returns a Meaning of kind unknown, and false.
func Lookup(format Format, code string) (Meaning, bool) {
	table := cidTable
	if format == SIADCS {
		table = siaTable
	}
	if m, ok := table[code]; ok {
		return m, true
	}
	m := Meaning{Format: format, Code: code, Words: "unknown code " + code, Kind: KindUnknown, NumberIs: Zone}
	if format == SIADCS { // what the number counts is known of some codes whose meaning is not
		switch code {
		case "JH", "JK", "JP", "JZ", "OH", "OL", "OT":
			m.NumberIs = User
		case "CD", "CT", "JR", "NM":
			m.NumberIs = Area
		default:
			if strings.HasPrefix(code, "D") {
				m.NumberIs = Door
			}
		}
	}
	return m, false
}

// Codes lists the codes of a format that have a meaning here, sorted.
func Codes(format Format) []Meaning {
	table := cidTable
	if format == SIADCS {
		table = siaTable
	}
	return slices.SortedFunc(maps.Values(table), func(a, b Meaning) int { return strings.Compare(a.Code, b.Code) })
}

// Events reads the payload of a clear frame. It returns none for NULL and for replies. The
// error is a *FrameError: [ErrUnknownID] for an id we can not read, [ErrPayload] for a
// payload against its format, [ErrEncrypted] for a frame that was not decrypted.
func (f Frame) Events() ([]Event, error) {
	if f.Encrypted {
		return nil, &FrameError{Offset: f.DataOffset(), Element: "data", Err: ErrEncrypted}
	}
	var events []Event
	var err error
	switch {
	case f.ID == IDContactID:
		var c ContactID
		if c, err = ParseContactID(f.Data); err == nil {
			events = []Event{c.Event()}
		}
	case f.ID == IDSIA:
		var s SIA
		if s, err = ParseSIA(f.Data); err == nil {
			events = s.Events()
		}
	case f.ID == IDNull || f.IsReply():
		return nil, nil
	default:
		return nil, &FrameError{
			Offset: bodyOffset + 1, Element: "id", Err: ErrUnknownID, Got: f.ID,
			Want: phrase("%s or %s", IDContactID+", "+IDSIA, IDNull),
		}
	}
	if err != nil {
		fe := err.(*FrameError) // the payload parsers return nothing else
		fe.Offset += f.DataOffset()
		return nil, fe
	}
	raw := DecodeText(f.Data)
	for i := range events {
		events[i].Raw = raw
		if events[i].Account == "" {
			events[i].Account = f.Account
		}
	}
	return events, nil
}
