package prove

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"proofbell/internal/words"
	"proofbell/site"
)

// Families of signals that a station puts on test, in the order in which they are read out.
const (
	FamilyFire     = "fire"
	FamilyCO       = "co"
	FamilyGas      = "gas"
	FamilyBurglary = "burglary"
	FamilyPanic    = "panic"
	FamilyMedical  = "medical"
	FamilyBuilding = "building" // water, cold
	FamilyTrouble  = "trouble"  // mains, battery, paths, tampers, tests
)

// Families lists every family that can be put on test with its words.
func Families() []struct{ ID, Say string } {
	return []struct{ ID, Say string }{
		{FamilyFire, words.Mark("fire")},
		{FamilyCO, words.Mark("CO")},
		{FamilyGas, words.Mark("gas")},
		{FamilyBurglary, words.Mark("burglary")},
		{FamilyPanic, words.Mark("panic")},
		{FamilyMedical, words.Mark("medical")},
		{FamilyBuilding, words.Mark("water and cold")},
		{FamilyTrouble, words.Mark("trouble and tests")},
	}
}

// FamilyOf returns the family that has to be on test before a zone of this kind is tripped.
func FamilyOf(kind site.ZoneKind) string {
	switch f := kind.Family(); f {
	case "control", "none", "":
		return FamilyTrouble
	default:
		return f
	}
}

// Covers reports whether a zone of this kind is on test when these families are.
func Covers(families []string, kind site.ZoneKind) bool {
	return slices.Contains(families, FamilyOf(kind))
}

// NotCovered lists the families that are not on test, for reading out and for the banner.
func NotCovered(families []string) []string {
	out := []string{}
	for _, f := range Families() {
		if !slices.Contains(families, f.ID) {
			out = append(out, f.ID)
		}
	}
	return out
}

// SayFamilies writes families as people say them: "fire, CO".
func (v Voice) SayFamilies(families []string) string {
	var said []string
	for _, f := range Families() {
		if slices.Contains(families, f.ID) {
			said = append(said, v.lang.Word(f.Say))
		}
	}
	return strings.Join(said, ", ")
}

// WindowState is where the account stands between live and on test.
type WindowState string

// The states. Append only.
const (
	WindowOff         WindowState = "off"               // live; nothing asked for
	WindowCalling     WindowState = "calling"           // the station is being called
	WindowAccountRead WindowState = "account-read-back" // the operator has read back the right account
	WindowOpen        WindowState = "open"              // on test
	WindowLapsed      WindowState = "lapsed"            // the time ran out: the account is live again, do not trip
	WindowReadBack    WindowState = "read-back"         // the history was read back; the account is still on test
	WindowOffTest     WindowState = "off-confirmed"     // the station confirmed that the account is live
)

// Act is what happens to a window.
type Act string

// The acts. Append only.
const (
	ActCall        Act = "call"         // the call begins; categories and end time are asked for
	ActAccountRead Act = "account-read" // the operator read back the account
	ActOpen        Act = "open"         // the operator confirmed: on test from now until
	ActFirstSignal Act = "first-signal" // one harmless signal was confirmed as seen on test, on the right account
	ActExtend      Act = "extend"       // the operator confirmed a later end
	ActLapse       Act = "lapse"        // the time ran out unnoticed
	ActReadBack    Act = "read-back"    // the history was read back
	ActOff         Act = "off"          // the operator confirmed: live again, nothing on test or bypassed
	ActAbandon     Act = "abandon"      // the call came to nothing before the account was on test
)

// WindowEvent is one act with what was said. Only the members that the act asks for count.
type WindowEvent struct {
	Act      Act       `json:"act"`
	Account  string    `json:"account,omitempty"`  // call: of the site; account-read: as the operator read it back
	Address  bool      `json:"address,omitempty"`  // account-read: the address was read back too and is right
	Families []string  `json:"families,omitempty"` // call, open: what is on test
	Until    time.Time `json:"until,omitzero"`     // open, extend
	Signal   SignalID  `json:"signal,omitempty"`   // first-signal: ours, when it came here too
	Nothing  bool      `json:"nothing,omitempty"`  // off: "nothing is still on test or bypassed", as the station said
	Told     []string  `json:"told,omitempty"`     // call: who was told: owner, sleepers, neighbours
	Private  Private   `json:"-"`                  // sealed apart from the rest
}

// Private is the personal part of an entry: the caller seals it under the job's own key.
type Private struct {
	Operator  string `json:"operator,omitempty"`  // name at the station
	Reference string `json:"reference,omitempty"` // the station's reference
	Words     string `json:"words,omitempty"`     // what was said, as noted
}

// Window is the account on test. The zero value is off. Use State for the state at a moment: an open window lapses by
// itself when its time is over.
type Window struct {
	Stage       WindowState `json:"state"` // as of the last act
	Practice    bool        `json:"practice"`
	Account     string      `json:"account"`
	Families    []string    `json:"families"`
	Told        []string    `json:"told"`
	Called      time.Time   `json:"called,omitzero"`
	By          string      `json:"by"` // opaque id of who called
	Opened      time.Time   `json:"opened,omitzero"`
	Until       time.Time   `json:"until,omitzero"`
	Extended    int         `json:"extended"` // times
	FirstSignal SignalID    `json:"firstSignal"`
	FirstSeen   time.Time   `json:"firstSeen,omitzero"` // when the station confirmed the first signal
	ReadBackAt  time.Time   `json:"readBackAt,omitzero"`
	Closed      time.Time   `json:"closed,omitzero"`
	Earlier     []Span      `json:"earlier"`   // windows before this one, in the same run
	Operator    string      `json:"operator"`  // personal
	Reference   string      `json:"reference"` // personal
	Words       []string    `json:"words"`     // personal: what the station said
}

// Span is a time for which the account was on test.
type Span struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

// Errors of a window, for errors.Is.
var (
	ErrOrder   = errors.New("not in this order")
	ErrAccount = errors.New("wrong account")
	ErrTime    = errors.New("time does not fit")
	ErrMissing = errors.New("something is missing")
)

// GuardError says why an act was refused and what has to come first.
type GuardError struct {
	Act   Act
	State WindowState
	Need  words.Text // what has to come first, in plain words
	Err   error      // ErrOrder, ErrAccount, ErrTime or ErrMissing
}

func (e *GuardError) Error() string {
	return fmt.Sprintf("on test: %s refused in state %s: %s", e.Act, e.State, e.Need)
}

func (e *GuardError) Unwrap() error { return e.Err }

// Said is Need.
func (e *GuardError) Said() words.Text { return e.Need }

// refusal is why a run does not take an entry, in words for a person.
type refusal struct {
	err error
	say words.Text
}

func (e *refusal) Error() string    { return e.err.Error() + ": " + e.say.String() }
func (e *refusal) Unwrap() error    { return e.err }
func (e *refusal) Said() words.Text { return e.say }

const (
	// ExtendBefore is how long before the end the product asks for an extension (trade practice).
	ExtendBefore = 10 * time.Minute
	// LongestWindow bounds what can be asked for: longer goes in writing.
	LongestWindow = 24 * time.Hour
)

// State is the state at a moment: an open or read-back window whose time is over is lapsed.
func (w Window) State(now time.Time) WindowState {
	switch {
	case w.Stage == "":
		return WindowOff
	case (w.Stage == WindowOpen || w.Stage == WindowReadBack) && !now.Before(w.Until):
		return WindowLapsed
	}
	return w.Stage
}

// OnTest reports whether the account is on test: open, or read back and not yet taken off.
func (w Window) OnTest(now time.Time) bool {
	s := w.State(now)
	return s == WindowOpen || s == WindowReadBack
}

// Left is the time until the window lapses; 0 when it is not open.
func (w Window) Left(now time.Time) time.Duration {
	if !w.OnTest(now) {
		return 0
	}
	return w.Until.Sub(now)
}

// spans lists every time for which the account was on test, this window included.
func (w Window) spans() []Span {
	out := copied(w.Earlier)
	if !w.Opened.IsZero() {
		to := w.Until
		if !w.Closed.IsZero() && w.Closed.Before(to) {
			to = w.Closed
		}
		out = append(out, Span{w.Opened, to})
	}
	return out
}

// wasOpen reports whether the account was on test at a moment.
func (w Window) wasOpen(at time.Time) bool {
	return slices.ContainsFunc(w.spans(), func(s Span) bool { return !at.Before(s.From) && at.Before(s.To) })
}

// ExtendNow reports whether it is time to ask for an extension.
func (w Window) ExtendNow(now time.Time) bool {
	return w.OnTest(now) && w.Left(now) <= ExtendBefore
}

// Apply returns the window after an act at the moment now. An act out of order is refused with a *GuardError that says
// what has to come first; the window is then returned unchanged.
func (w Window) Apply(ev WindowEvent, by string, now time.Time) (Window, error) {
	state := w.State(now)
	refuse := func(err error, need string, args ...any) (Window, error) {
		return w, &GuardError{Act: ev.Act, State: state, Need: words.Later(need, args...), Err: err}
	}
	next := w
	next.Families, next.Told, next.Words, next.Earlier = copied(w.Families), copied(w.Told), copied(w.Words), copied(w.Earlier)
	switch ev.Act {
	case ActCall:
		switch {
		case state == WindowOpen || state == WindowReadBack:
			return refuse(ErrOrder, words.Mark("the account is on test until %s; extend it, or take it off test first"), clock(w.Until))
		case ev.Account == "":
			return refuse(ErrMissing, words.Mark("the site has no account number: enter it before calling"))
		case len(known(ev.Families)) == 0:
			return refuse(ErrMissing, words.Mark("say what is to be on test: fire, CO, burglary ..."))
		}
		next = Window{
			Stage: WindowCalling, Practice: w.Practice, Account: ev.Account, Families: known(ev.Families),
			Told: copied(ev.Told), Words: []string{}, Called: now, By: by, Earlier: w.spans(),
		}
	case ActAccountRead:
		switch {
		case state != WindowCalling:
			return refuse(ErrOrder, words.Mark("call the station first"))
		case ev.Account != w.Account:
			return refuse(ErrAccount, words.Mark("the operator read back account %s, this job is %s: stop, and find out which site was put on test"), ev.Account, w.Account)
		case !ev.Address:
			return refuse(ErrMissing, words.Mark("ask the operator to read back the address as well"))
		}
		next.Stage = WindowAccountRead
	case ActOpen:
		switch {
		case state != WindowAccountRead:
			return refuse(ErrOrder, words.Mark("the operator has to read back account and address first"))
		case !ev.Until.After(now):
			return refuse(ErrTime, words.Mark("the end of the test has to lie ahead: ask until what time"))
		case ev.Until.Sub(now) > LongestWindow:
			return refuse(ErrTime, words.Mark("more than 24 h on test goes in writing: agree a shorter time"))
		case len(known(ev.Families)) == 0:
			return refuse(ErrMissing, words.Mark("note what the operator put on test"))
		case ev.Private.Operator == "" && ev.Private.Reference == "" && !w.Practice:
			return refuse(ErrMissing, words.Mark("note the operator's name or the station's reference"))
		}
		next.Stage, next.Opened, next.Until, next.Families = WindowOpen, now, ev.Until, known(ev.Families)
	case ActFirstSignal:
		if state != WindowOpen {
			return refuse(ErrOrder, notOpen(state))
		}
		next.FirstSignal, next.FirstSeen = ev.Signal, now
	case ActExtend:
		switch {
		case state == WindowLapsed:
			return refuse(ErrOrder, words.Mark("the time ran out at %s: the account is live. Do not trip; call and have the account read back again"), clock(w.Until))
		case state != WindowOpen && state != WindowReadBack:
			return refuse(ErrOrder, notOpen(state))
		case !ev.Until.After(w.Until):
			return refuse(ErrTime, words.Mark("the new end has to be later than %s"), clock(w.Until))
		case ev.Until.Sub(now) > LongestWindow:
			return refuse(ErrTime, words.Mark("more than 24 h on test goes in writing: agree a shorter time"))
		}
		next.Until, next.Extended, next.Stage = ev.Until, w.Extended+1, WindowOpen // more may be tripped, so the read-back comes again
	case ActLapse:
		if state != WindowLapsed {
			return refuse(ErrOrder, words.Mark("the window is %s and has not run out"), state)
		}
		next.Stage = WindowLapsed
	case ActReadBack:
		if state != WindowOpen && state != WindowReadBack && state != WindowLapsed {
			return refuse(ErrOrder, notOpen(state))
		}
		next.ReadBackAt = now
		if state != WindowLapsed {
			next.Stage = WindowReadBack
		}
	case ActOff:
		switch {
		case state == WindowOpen:
			return refuse(ErrOrder, words.Mark("ask for the history read-back before taking the account off test"))
		case state != WindowReadBack && state != WindowLapsed:
			return refuse(ErrOrder, notOpen(state))
		case !ev.Nothing:
			return refuse(ErrMissing, words.Mark("ask: is anything still on test or bypassed? Only \"nothing\" ends it"))
		}
		next.Stage, next.Closed = WindowOffTest, now
	case ActAbandon:
		if state != WindowCalling && state != WindowAccountRead {
			return refuse(ErrOrder, words.Mark("only a call that has not put the account on test can be dropped"))
		}
		next.Stage = WindowOff
	default:
		return refuse(ErrOrder, words.Mark("the act is not known"))
	}
	if ev.Private.Operator != "" {
		next.Operator = ev.Private.Operator
	}
	if ev.Private.Reference != "" {
		next.Reference = ev.Private.Reference
	}
	if ev.Private.Words != "" {
		next.Words = append(next.Words, ev.Private.Words)
	}
	return next, nil
}

// MayTrip reports whether a step may be tripped now; when not, why tells what has to come first. The harmless first
// signal itself asks only for an open window.
func (w Window) MayTrip(step Step, now time.Time) (ok bool, why words.Text) {
	switch state := w.State(now); {
	case state == WindowLapsed:
		return false, words.Later("The test window ran out at %s. The account is live. Stop: do not trip.", clock(w.Until))
	case state == WindowReadBack:
		return false, words.Later("The history was already read back. Extend the window before more is tripped.")
	case state != WindowOpen:
		return false, words.Later("Not on test (%s).", words.Later(notOpen(state)))
	case step.Proof == ProofTest:
		return true, words.Text{}
	case !slices.Contains(w.Families, step.Family):
		return false, words.Later("Not on test: %s. Ask the station to add it before tripping.", words.Later(sayFamily(step.Family)))
	case step.Family != FamilyTrouble && w.FirstSeen.IsZero():
		return false, words.Later("Send one harmless signal first and have the station confirm it, on test and on the right account.")
	}
	return true, words.Text{}
}

// MayAcknowledge reports whether our receiver may answer a signal of an account: only while that account's window is
// open, or in a practice job. An acknowledgement tells the panel that somebody has the alarm; outside a window nobody
// watches, and the panel has to take its next path.
func MayAcknowledge(w Window, account string, practice bool, now time.Time) bool {
	if account == "" || w.Account != "" && account != w.Account {
		return false
	}
	return practice || w.Account == account && w.OnTest(now)
}

func notOpen(state WindowState) string {
	switch state {
	case WindowCalling:
		return words.Mark("the operator has to read back account and address first")
	case WindowAccountRead:
		return words.Mark("the operator has to confirm that the account is on test, and until when")
	case WindowOffTest:
		return words.Mark("the account was taken off test; call the station to put it on test again")
	case WindowLapsed:
		return words.Mark("the test window ran out; call the station")
	}
	return words.Mark("put the account on test first: call the station")
}

// copied is a copy that is never nil, so that JSON has a list where it promises one.
func copied[T any](list []T) []T { return append([]T{}, list...) }

// known keeps the families that exist, once each and in reading order.
func known(families []string) []string {
	out := []string{}
	for _, f := range Families() {
		if slices.Contains(families, f.ID) {
			out = append(out, f.ID)
		}
	}
	return out
}

func sayFamily(id string) string {
	for _, f := range Families() {
		if f.ID == id {
			return f.Say
		}
	}
	return id
}

// clock writes the time of day for errors. Pages show local time; these texts name UTC.
func clock(t time.Time) string { return t.UTC().Format("15:04") + " UTC" }
