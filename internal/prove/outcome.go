package prove

import (
	"time"

	"proofbell/internal/words"
	"proofbell/site"
)

// Verdict is the judgement on an expected signal or a step. There is no "pass".
type Verdict string

// The verdicts. Append only.
const (
	Proved         Verdict = "proved"
	ProvedLate     Verdict = "proved-late"
	WrongZone      Verdict = "wrong-zone"
	WrongCode      Verdict = "wrong-code"
	NotReceived    Verdict = "not-received"
	RestoreMissing Verdict = "restore-missing"
	NotTestable    Verdict = "not-testable"
	Waiting        Verdict = "waiting"
	Unproved       Verdict = "unproved"
)

// Say returns the verdict in words: English, marked for the other languages.
func (v Verdict) Say() string {
	switch v {
	case Proved:
		return words.Mark("proved")
	case ProvedLate:
		return words.Mark("proved late")
	case WrongZone:
		return words.Mark("wrong zone")
	case WrongCode:
		return words.Mark("wrong code")
	case NotReceived:
		return words.Mark("not received")
	case RestoreMissing:
		return words.Mark("restore missing")
	case NotTestable:
		return words.Mark("not testable")
	case Waiting:
		return words.Mark("waiting")
	}
	return words.Mark("unproved")
}

// Good reports whether the verdict is a proof.
func (v Verdict) Good() bool { return v == Proved || v == ProvedLate }

// Bad reports whether the verdict is a failure that someone has to mend.
func (v Verdict) Bad() bool {
	return v == WrongZone || v == WrongCode || v == NotReceived || v == RestoreMissing
}

// StopState is the state of one stop of a path strip.
type StopState string

// The states of a stop.
const (
	StopUnproved StopState = "unproved"
	StopWaiting  StopState = "waiting"
	StopHalf     StopState = "half" // sounder and link proved, the sensor's entry not tested
	StopProved   StopState = "proved"
	StopFailed   StopState = "failed"
)

// Stop is one of the four stops with its reason.
type Stop struct {
	State StopState `json:"state"`
	Say   string    `json:"say"`
}

// Hop is the way between two stops.
type Hop struct {
	State    StopState `json:"state"`    // proved when both ends are
	Seconds  *float64  `json:"seconds"`  // nil: not measured; to 0.1 s
	FromTrip bool      `json:"fromTrip"` // its seconds count from the trip: the panel's clock was not measured
	Mark     string    `json:"mark"`     // "4 s", "read back", "": over the hop
	Say      string    `json:"say"`      // the same to be read out: "4 s from the trip"
}

// PathStrip shows how far one step's signal was proved to reach.
type PathStrip struct {
	Detector Stop   `json:"detector"`
	Panel    Stop   `json:"panel"`
	Line     Stop   `json:"line"`
	Station  Stop   `json:"station"`
	Hops     [3]Hop `json:"hops"` // detector-panel, panel-line, line-station
	Say      string `json:"say"`  // one plain sentence
}

// SignalResult is the judgement on one expected signal.
type SignalResult struct {
	Expect    ExpectationID `json:"expect"`
	Verdict   Verdict       `json:"verdict"`
	Here      bool          `json:"here"`      // our receiver has it
	AtStation bool          `json:"atStation"` // the station's evidence has it
	Signals   []SignalID    `json:"signals"`   // that are it, repeats included
	ReadBacks []ReadBackID  `json:"readBacks"`
	Seconds   *float64      `json:"seconds"` // from trip, or clearing, to our receiver; nil: not measured
	Limit     int           `json:"limit"`   // s
	Say       string        `json:"say"`
	Receipts  []Receipt     `json:"receipts,omitempty"` // where several receivers have it: each of them, oldest first
}

// Receipt is one receiving of a message that reached several receivers, or came again.
type Receipt struct {
	Receiver     string    `json:"receiver"`
	At           time.Time `json:"at,omitzero"` // our clock
	Acknowledged bool      `json:"acknowledged"`
}

// StepResult is the judgement on one step.
type StepResult struct {
	Step     StepID         `json:"step"`
	Verdict  Verdict        `json:"verdict"`
	Half     bool           `json:"half"`   // proved by a method that leaves the sensor's entry untested
	Method   string         `json:"method"` // id of the method that counts
	Attempt  int            `json:"attempt"`
	Signals  []SignalResult `json:"signals"` // one for each expectation, in order
	Strip    PathStrip      `json:"strip"`
	Say      string         `json:"say"`
	Due      time.Time      `json:"due,omitzero"` // when waiting ends
	Warnings []string       `json:"warnings"`
	OnTest   bool           `json:"onTest"` // the open window covers this step
	Open     bool           `json:"open"`   // an alarm of it has not been restored
}

// Counters count steps. Left is what is neither proved nor not testable; Total counts all.
type Counters struct {
	Proved      int `json:"proved"`
	Half        int `json:"half"` // of the proved ones: by test button only
	Failed      int `json:"failed"`
	Waiting     int `json:"waiting"`
	NotTestable int `json:"notTestable"`
	Left        int `json:"left"`
	Total       int `json:"total"`
}

// UnexpectedKind says why a signal or a read-back stands apart.
type UnexpectedKind string

// The kinds. Append only.
const (
	NobodyTripping UnexpectedKind = "nobody-tripping" // an alarm that no tick explains
	OtherZone      UnexpectedKind = "other-zone"      // came while another zone was tripped
	OtherAccount   UnexpectedKind = "other-account"
	OtherCode      UnexpectedKind = "other-code"
	LoneRestore    UnexpectedKind = "lone-restore" // a restore without its alarm
	Unanswered     UnexpectedKind = "unanswered"   // stored, not acknowledged: proves nothing
	BeforeRun      UnexpectedKind = "before-run"
	NotInPlan      UnexpectedKind = "not-in-plan"
	TroubleSignal  UnexpectedKind = "trouble"
	StationOnly    UnexpectedKind = "station-only" // a read-back that fits no step
	SomethingElse  UnexpectedKind = "other"
)

// Unexpected is a signal or a read-back that no step explains, with its likely explanation.
type Unexpected struct {
	Kind         UnexpectedKind `json:"kind"`
	Signal       SignalID       `json:"signal"`   // "" for a read-back
	ReadBack     ReadBackID     `json:"readBack"` // "" for a signal
	Zone         site.ZoneID    `json:"zone"`
	Step         StepID         `json:"step"`         // the step it may belong to; "" none
	PossiblyReal bool           `json:"possiblyReal"` // a life-safety or panic alarm that nobody is known to have caused
	At           time.Time      `json:"at,omitzero"`
	Say          string         `json:"say"`
	Try          string         `json:"try"`
}

// BlockerKind says what stands against closing a run.
type BlockerKind string

// The kinds of blocker. Append only.
const (
	BlockReal       BlockerKind = "possibly-real"
	BlockUnrestored BlockerKind = "unrestored"
	BlockTamper     BlockerKind = "tamper"
	BlockBypass     BlockerKind = "bypass"
	BlockPutBack    BlockerKind = "put-back"
	BlockFailed     BlockerKind = "failed"
	BlockDiffers    BlockerKind = "contradiction"
	BlockUnproved   BlockerKind = "unproved"
	BlockOnTest     BlockerKind = "on-test"
)

// Blocker is one thing that stands against closing a run.
type Blocker struct {
	Kind BlockerKind `json:"kind"`
	Step StepID      `json:"step"`
	Zone site.ZoneID `json:"zone"`
	Item PutBackID   `json:"item"`
	Say  string      `json:"say"`
}

// ClockNote is what the evidence itself says about the other clocks.
type ClockNote struct {
	Clock   string `json:"clock"`   // panel or station
	Seconds int    `json:"seconds"` // left after the measured offset: middle of the differences seen, + when it is ahead
	Warn    bool   `json:"warn"`    // more than the tolerance
	Say     string `json:"say"`
}

// Outcome is the whole judgement on a run at one moment.
type Outcome struct {
	Steps      []StepResult `json:"steps"` // in the order of the plan
	Next       StepID       `json:"next"`  // nearest step in walking order that still wants a trip; "" none
	Counters   Counters     `json:"counters"`
	Unexpected []Unexpected `json:"unexpected"` // newest first, possibly real ones before all
	Blockers   []Blocker    `json:"blockers"`
	Newest     string       `json:"newest"` // sentence on the newest signal
	Duplicates int          `json:"duplicates"`
	Clocks     []ClockNote  `json:"clocks"`

	Differences []Difference `json:"differences"` // between two people's statements, in the order of the plan
}

// PossiblyReal lists the alarms that nobody is known to have caused and that people would come for.
func (o Outcome) PossiblyReal() []Unexpected {
	out := []Unexpected{}
	for _, u := range o.Unexpected {
		if u.PossiblyReal {
			out = append(out, u)
		}
	}
	return out
}
