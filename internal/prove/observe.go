package prove

import (
	"time"

	"proofbell/internal/words"
	"proofbell/signal"
	"proofbell/site"
)

// Identifiers of observations: ids of the job book entries that hold them.
type (
	TickID     string
	SignalID   string
	ReadBackID string
	PutBackID  string
)

// SayQualifier says what became of a condition, in English, marked for the other languages.
func SayQualifier(q signal.Qualifier) string {
	switch q {
	case signal.New:
		return words.Mark("new")
	case signal.Restore:
		return words.Mark("restore")
	case signal.StillPresent:
		return words.Mark("still present")
	case signal.Opening:
		return words.Mark("disarmed")
	case signal.Closing:
		return words.Mark("armed")
	}
	return string(q)
}

// Did is what a person saw or did.
type Did string

// What a tick can say. Append only.
const (
	Tripped     Did = "tripped"      // the physical test was made, by Method
	Sounded     Did = "sounded"      // it was heard to sound
	PanelShowed Did = "panel-showed" // the panel's display showed the zone
	Restored    Did = "restored"     // the device was cleared
	PanelReset  Did = "reset"        // the panel was reset
	CannotTest  Did = "not-tested"   // with a reason
	Failed      Did = "failed"       // with a reason
	Withdrawn   Did = "withdrawn"    // takes back the tick named in Of
)

// Tick is one statement of a person about one step.
type Tick struct {
	ID     TickID    `json:"id"`
	Step   StepID    `json:"step"`
	What   Did       `json:"what"`
	Method string    `json:"method,omitempty"` // id of a method of the step, with Tripped
	Reason string    `json:"reason,omitempty"` // with CannotTest and Failed
	Signal SignalID  `json:"signal,omitempty"` // "that was me": the signal that this trip caused, whatever the clocks say
	Of     TickID    `json:"of,omitempty"`     // the tick taken back, with Withdrawn
	At     time.Time `json:"at,omitzero"`      // our clock; zero: not known
	By     string    `json:"by,omitempty"`     // opaque id of the person
	From   string    `json:"from,omitempty"`   // opaque id of the device that it was said on; "" not known
}

// Signal is one event that our own receiver stored.
type Signal struct {
	ID           SignalID     `json:"id"`
	Event        signal.Event `json:"event"`
	Received     time.Time    `json:"received,omitzero"` // our clock
	Stamp        time.Time    `json:"stamp,omitzero"`    // the panel's clock when it sent; zero: none
	Acknowledged bool         `json:"acknowledged"`
	Path         site.PathID  `json:"path,omitempty"`
	Receiver     string       `json:"receiver,omitempty"`
	DuplicateOf  SignalID     `json:"duplicateOf,omitempty"` // the same message, received before: sent again, or to another receiver too
	Encrypted    bool         `json:"encrypted,omitempty"`
	Repeat       string       `json:"-"` // see SignalBody
	Index        int          `json:"-"`
}

// Source says where the station's evidence comes from.
type Source string

// The sources.
const (
	FromPhone   Source = "phone"   // an operator read it out
	FromHistory Source = "history" // its history, pasted or imported
	FromPhoto   Source = "photo"   // a photo of its screen or list
)

// ReadBack is one line of what the station says it saw.
type ReadBack struct {
	ID        ReadBackID       `json:"id"`
	Zone      site.ZoneID      `json:"zone"` // as the station said; "" for the panel itself
	Code      string           `json:"code,omitempty"`
	Qualifier signal.Qualifier `json:"qualifier"`
	Path      site.PathID      `json:"path,omitempty"`
	At        time.Time        `json:"at,omitzero"` // the station's clock; zero: not said
	NotSeen   bool             `json:"notSeen,omitempty"`
	Expect    ExpectationID    `json:"expect,omitempty"`   // the line of the list that was tapped; the words must still fit
	Account   string           `json:"account,omitempty"`  // as the station said; "" not said
	Operator  string           `json:"operator,omitempty"` // personal: see Private
	Reference string           `json:"reference,omitempty"`
	Source    Source           `json:"source"`
	Entered   time.Time        `json:"entered,omitzero"` // our clock
	By        string           `json:"by,omitempty"`
	Taken     bool             `json:"taken,omitempty"` // taken back: kept, and counts for nothing
}

// PutBack is one temporary change that has to be undone before a run is closed.
type PutBack struct {
	ID     PutBackID `json:"id"`
	What   string    `json:"what"`           // "trip limit raised to 6"
	Sort   string    `json:"sort,omitempty"` // one of PutBackSorts; "" something else
	Made   time.Time `json:"made,omitzero"`
	By     string    `json:"by,omitempty"`
	Undone time.Time `json:"undone,omitzero"`
}

// Observations are all that is known about a run. The order of the slices means nothing.
type Observations struct {
	Account   string     `json:"account"`         // of the site; signals of another are strangers
	Opened    time.Time  `json:"opened,omitzero"` // of the run; earlier times do not count
	Ticks     []Tick     `json:"ticks"`
	Signals   []Signal   `json:"signals"`
	ReadBacks []ReadBack `json:"readBacks"`
	PutBacks  []PutBack  `json:"putBacks"`
	Window    Window     `json:"window"`
	Locked    bool       `json:"locked,omitempty"` // Options.NoReceiver: silence at our receiver means nothing
}

// Clocks are the measured differences of the other clocks: their time minus ours, in seconds. nil: not measured.
type Clocks struct {
	Panel   *int `json:"panel,omitempty"`
	Station *int `json:"station,omitempty"`
}
