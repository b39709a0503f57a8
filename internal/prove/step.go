package prove

import (
	"proofbell/signal"
	"proofbell/site"
)

// StepID names a step. It is made from what is tested ("13.alarm", "M1.press", "panel.mains"), so that it is the same
// in every run.
type StepID string

// StepKind says what a step tests.
type StepKind string

// The kinds of step. Append only.
const (
	StepZone   StepKind = "zone"   // a device's terminal trips its zone
	StepHead   StepKind = "head"   // the test button of a self-contained alarm
	StepSystem StepKind = "system" // panel, battery, paths, tests of the link
	StepSound  StepKind = "sound"  // a sounder of the system: someone has to hear it
)

// Strength says how much of the detector a method proves.
type Strength string

// The strengths.
const (
	Full Strength = "full" // the sensor itself was made to see its cause
	Half Strength = "half" // sounder and link proved, the sensor's entry not tested
)

// Method is one way to trip a device.
type Method struct {
	ID     string   `json:"id"`     // "aerosol", "button", "walk"
	Name   string   `json:"name"`   // "Test aerosol at the vents"
	Proves Strength `json:"proves"` // what the detector stop is filled with
	Say    string   `json:"say"`    // what that does and does not prove
}

// Role says which part of a step's proof an expected signal is.
type Role string

// The roles. Append only.
const (
	RoleAlarm         Role = "alarm"
	RoleRestore       Role = "restore"
	RoleTamper        Role = "tamper"
	RoleTamperRestore Role = "tamper-restore"
	RoleBattery       Role = "battery"
	RoleBatteryEnd    Role = "battery-restore"
	RoleLoss          Role = "loss"
	RoleLossEnd       Role = "loss-restore"
	RoleFault         Role = "fault" // of mains, battery or path
	RoleFaultEnd      Role = "fault-restore"
	RoleTest          Role = "test" // a periodic or manual test
	RoleArm           Role = "arm"
	RoleDisarm        Role = "disarm"
	RoleOtherPath     Role = "other-path" // any signal by the path that is left
)

// Ends reports whether the role is the end of a condition rather than its beginning.
func (r Role) Ends() bool {
	switch r {
	case RoleRestore, RoleTamperRestore, RoleBatteryEnd, RoleLossEnd, RoleFaultEnd, RoleDisarm:
		return true
	}
	return false
}

// ExpectationID names one expected signal: the step, a stroke, the role, and the zone where a step has several.
type ExpectationID string

// Expectation is one signal that a step has to cause.
type Expectation struct {
	ID        ExpectationID    `json:"id"`
	Role      Role             `json:"role"`
	Zone      site.ZoneID      `json:"zone"`            // "" for a signal of the panel itself
	Number    int              `json:"number"`          // as the signal carries it; 0 for the panel itself
	Area      site.AreaID      `json:"area"`            // "" when any area will do
	Format    signal.Format    `json:"format"`          // cid or sia
	Code      string           `json:"code"`            // as scheduled: "111", "FA"; "" any
	Also      []string         `json:"also"`            // other codes that mean the same here
	Qualifier signal.Qualifier `json:"qualifier"`       // new, restore, opening, closing
	Path      site.PathID      `json:"path"`            // the path it has to come by; "" any
	Optional  bool             `json:"optional"`        // may arrive, is not asked for
	ToPanel   int              `json:"toPanel"`         // s from trip to panel, or from clearing to the restore; 0 no limit
	Held      int              `json:"held"`            // s that the panel's own settings hold it back (entry delay, abort window)
	ToStation int              `json:"toStation"`       // s from panel to station
	Worst     int              `json:"worst"`           // s after which it counts as not received; 0 never
	Because   string           `json:"because"`         // where the limits come from
	Policy    string           `json:"policy"`          // for a restore: follows, reset, bell
	Say       string           `json:"say"`             // "Alarm 111, zone 13, within 70 s"
	Words     string           `json:"words,omitempty"` // the code in words
}

// Limit is the whole time allowed from trip (or clearing) to arrival, in seconds; 0 means no limit.
func (e Expectation) Limit() int {
	if e.ToPanel == 0 {
		return 0
	}
	return e.ToPanel + e.Held + e.ToStation
}

// Arm says in which state the areas of a step have to be.
type Arm string

// The arm states.
const (
	ArmAny  Arm = "any"  // reports at all times
	ArmSet  Arm = "set"  // reports only when armed, all out
	ArmMove Arm = "move" // arms and disarms in the step itself
)

// Way is how to get to a step from the one before it.
type Way struct {
	Known  bool    `json:"known"`  // both places are on the plan and a way between them is drawn
	Metres float64 `json:"metres"` // through the doors, to 0.1 m; an estimate from the plan
	Floors int     `json:"floors"` // storeys up (+) or down (-)
	Say    string  `json:"say"`    // "12 m, same floor"
}

// Step is one act of the run: something is tripped, something has to arrive.
type Step struct {
	ID          StepID        `json:"id"`
	Kind        StepKind      `json:"kind"`
	Proof       Proof         `json:"proof"` // which proof it is
	Order       int           `json:"order"` // place in the walking order, from 1
	Zone        site.ZoneID   `json:"zone"`  // the zone it proves; for a head the zone that hears it
	Device      site.DeviceID `json:"device"`
	Terminal    string        `json:"terminal"`
	Head        site.HeadID   `json:"head"`
	Path        site.PathID   `json:"path"`
	Family      string        `json:"family"` // what has to be on test for it: see Families
	Storey      site.StoreyID `json:"storey"`
	Room        site.RoomID   `json:"room"`
	Where       string        `json:"where"`  // room and storey in words
	Placed      bool          `json:"placed"` // X and Y are known
	X           float64       `json:"x"`      // m from the origin of the plan
	Y           float64       `json:"y"`
	Title       string        `json:"title"`
	Do          string        `json:"do"` // how to trip it
	Methods     []Method      `json:"methods"`
	Restore     string        `json:"restore"` // how it is cleared
	Cautions    []string      `json:"cautions"`
	Notes       []string      `json:"notes"` // what this step does not prove, what to expect
	Arm         Arm           `json:"arm"`
	Areas       []site.AreaID `json:"areas"`       // to be armed, with Arm "set"
	Sounds      bool          `json:"sounds"`      // someone has to confirm that it sounds
	ToStation   bool          `json:"toStation"`   // has to be followed to the station
	Expected    []Expectation `json:"expected"`    // in order
	NotTestable string        `json:"notTestable"` // reason; "" when it can be tested
	Way         Way           `json:"way"`         // from the step before
}

// Proof is which property of a device a step proves. Alarm and restore are one proof; the others are separate.
type Proof string

// The proofs. Append only.
const (
	ProofAlarm   Proof = "alarm"
	ProofPress   Proof = "press" // the test button of a head
	ProofTamper  Proof = "tamper"
	ProofBattery Proof = "battery"
	ProofLoss    Proof = "loss"
	ProofMains   Proof = "mains"
	ProofStandby Proof = "standby" // the panel's battery
	ProofPath    Proof = "path"
	ProofTest    Proof = "test"  // periodic test, which is also the harmless first signal
	ProofSound   Proof = "sound" // a sounder is heard
)

// Options choose what a run has to prove. The zero value is the whole system: every zone, every head, every path.
type Options struct {
	Steps      []StepID      `json:"steps,omitempty"`      // only these steps, and the harmless first signal; empty: as the other options say
	Reason     string        `json:"reason,omitempty"`     // why not everything: see Reasons; "" not said
	Zones      []site.ZoneID `json:"zones,omitempty"`      // only these zones and what they oblige; empty: all
	Families   []string      `json:"families,omitempty"`   // only these families (see Families); empty: all
	Also       []Proof       `json:"also,omitempty"`       // separate proofs wanted beside the alarm: tamper, battery, loss
	NoSystem   bool          `json:"noSystem,omitempty"`   // leave out panel, battery and paths
	NoReceiver bool          `json:"noReceiver,omitempty"` // the panel can not be pointed at our receiver: the station's read-back alone has to prove
	Sample     int           `json:"sample,omitempty"`     // per cent of the other initiating devices, for a changed program
	Longest    []site.ZoneID `json:"longest,omitempty"`    // zones by time since their last proof, longest untested first, for Sample
}

// Reasons of a run that proves a part. Append only.
const (
	ReasonDue     = "due"      // what falls due at this visit
	ReasonChange  = "change"   // what a change obliges
	ReasonCallOut = "call-out" // one device and what it obliges: fire is put on test only when it is chosen
)
