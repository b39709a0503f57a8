package prove

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"proofbell/evidence"
	"proofbell/internal/words"
	"proofbell/signal"
	"proofbell/site"
)

// RunID names a proving run: the id of the entry that opened it.
type RunID string

// Run is the record of one proving run, folded from entries of the job book. The zero value is "no run".
type Run struct {
	ID          RunID      `json:"id"`
	Opened      time.Time  `json:"opened,omitzero"`
	By          string     `json:"by"`
	Practice    bool       `json:"practice"` // of a practice job: can never become a certificate
	Account     string     `json:"account"`
	Scope       Options    `json:"scope"`
	Fingerprint string     `json:"fingerprint"` // of the plan that the run was opened on, see Fingerprint
	Window      Window     `json:"window"`
	Clocks      Clocks     `json:"clocks"`
	Ticks       []Tick     `json:"ticks"`
	Signals     []Signal   `json:"signals"`
	ReadBacks   []ReadBack `json:"readBacks"`
	PutBacks    []PutBack  `json:"putBacks"`
	Closed      time.Time  `json:"closed,omitzero"`
	ClosedBy    string     `json:"closedBy"`
	Open        []string   `json:"open"`    // what stood open when it was closed, with the reason given
	Refused     []Refused  `json:"refused"` // entries that the run could not take, kept for a person

	known *memory // of Signals; nil: not gathered yet
}

// Refused is an entry that the run could not take: it was written, so it is kept and shown.
type Refused struct {
	Entry string    `json:"entry"`
	At    time.Time `json:"at,omitzero"`
	Say   string    `json:"say"`
	why   words.Text
}

// Meta is what an entry says beside its body.
type Meta struct {
	ID string    // of the entry
	At time.Time // the writer's clock
	By string    // opaque id of the writer
}

// RunAct is what a RunBody does.
type RunAct string

// The acts of a run. Append only.
const (
	RunOpened RunAct = "opened"
	RunClosed RunAct = "closed"
	RunClocks RunAct = "clocks" // the offsets of the other clocks were measured
	// RunReplanned takes in the plan of the site as it stands now, after it was edited during the run.
	RunReplanned RunAct = "replanned"
)

// RunBody is the body of an entry of kind "run".
type RunBody struct {
	Act         RunAct   `json:"act"`
	Run         RunID    `json:"run,omitempty"` // closed, clocks; opened: the entry's own id
	Practice    bool     `json:"practice,omitempty"`
	Account     string   `json:"account,omitempty"`     // opened
	Scope       Options  `json:"scope,omitzero"`        // opened
	Fingerprint string   `json:"fingerprint,omitempty"` // opened, replanned
	Clocks      Clocks   `json:"clocks,omitzero"`       // clocks
	Open        []string `json:"open,omitempty"`        // closed: blockers accepted, in words
	Reason      string   `json:"reason,omitempty"`      // closed with blockers: why
}

// OnTestBody is the body of an entry of kind "ontest". Private part: Private.
type OnTestBody struct {
	Run RunID `json:"run,omitempty"`
	WindowEvent
}

// SignalBody is the body of an entry of kind "signal". The sequencer writes it from an inbox row.
type SignalBody struct {
	Run          RunID        `json:"run,omitempty"`
	Receiver     string       `json:"receiver"`
	Row          int64        `json:"row"`
	Index        int          `json:"index,omitempty"` // of the event in a message that carries several
	Event        signal.Event `json:"event"`
	Received     time.Time    `json:"received"`
	Stamp        time.Time    `json:"stamp,omitzero"`
	Acknowledged bool         `json:"acknowledged"` // it was to be acknowledged when it came
	Path         site.PathID  `json:"path,omitempty"`
	Repeat       string       `json:"repeat,omitempty"` // the same for all receipts of one message, see signal.DuplicateKey
	DuplicateOf  SignalID     `json:"duplicateOf,omitempty"`
	Encrypted    bool         `json:"encrypted,omitempty"` // the frame came encrypted: event and stamp are what was in it
	Raw          string       `json:"raw,omitempty"`       // the frame as received, in hex
}

// ReadBackBody is the body of an entry of kind "readback": one or more lines of one call, list or photo.
// Private part: Private (operator, reference, words).
type ReadBackBody struct {
	Run     RunID          `json:"run,omitempty"`
	Source  Source         `json:"source"`
	Account string         `json:"account,omitempty"` // as the station said
	Blob    string         `json:"blob,omitempty"`    // address of the photo or the list
	Lines   []ReadBackLine `json:"lines"`
	Takes   []string       `json:"takes,omitempty"` // earlier read-back entries that are taken back with all their lines
}

// ReadBackLine is one line that the station gave.
type ReadBackLine struct {
	Zone      site.ZoneID      `json:"zone"`
	Code      string           `json:"code,omitempty"`
	Qualifier signal.Qualifier `json:"qualifier"`
	Path      site.PathID      `json:"path,omitempty"`
	At        time.Time        `json:"at,omitzero"` // the station's clock
	NotSeen   bool             `json:"notSeen,omitempty"`
	Expect    ExpectationID    `json:"expect,omitempty"`
}

// TickBody is the body of an entry of kind "tick".
type TickBody struct {
	Run    RunID    `json:"run,omitempty"`
	Step   StepID   `json:"step,omitempty"`
	What   Did      `json:"what"`
	Method string   `json:"method,omitempty"`
	Reason string   `json:"reason,omitempty"`
	Signal SignalID `json:"signal,omitempty"`
	Of     TickID   `json:"of,omitempty"`
	From   string   `json:"from,omitempty"` // opaque id of the device
}

// PutBackAct is what a PutBackBody does.
type PutBackAct string

// The acts on the put-back list.
const (
	PutBackMade   PutBackAct = "made"
	PutBackUndone PutBackAct = "undone"
)

// PutBackBody is the body of an entry of kind "putback".
type PutBackBody struct {
	Run  RunID      `json:"run,omitempty"`
	Act  PutBackAct `json:"act"`
	Item PutBackID  `json:"item,omitempty"` // undone; made: the entry's own id
	What string     `json:"what,omitempty"` // made
	Sort string     `json:"sort,omitempty"` // made: one of PutBackSorts; empty: something else
}

// Errors of a run, for errors.Is.
var (
	ErrClosed  = errors.New("run is closed")
	ErrNoRun   = errors.New("no run is open")
	ErrUnknown = errors.New("not known")
)

const (
	maxObservations = 200000 // of each sort in one run
	maxUnanswered   = 100000 // of its signals: anybody can send those, and there has to be room for the others
	maxText         = 2000   // bytes of a reason or a note
	maxLines        = 20000  // of one read-back
)

// Open begins a run from the entry that opened it. The returned run is on test only after its window says so.
func Open(m Meta, b RunBody) (Run, error) {
	if b.Act != RunOpened {
		return Run{}, fmt.Errorf("opening a run: act %q: %w", b.Act, ErrUnknown)
	}
	return Run{
		ID: RunID(m.ID), Opened: m.At, By: m.By, Practice: b.Practice, Account: b.Account, Scope: b.Scope, Fingerprint: b.Fingerprint,
		Window: Window{Stage: WindowOff, Practice: b.Practice, Families: []string{}, Told: []string{}, Words: []string{}, Earlier: []Span{}},
		Ticks:  []Tick{}, Signals: []Signal{}, ReadBacks: []ReadBack{}, PutBacks: []PutBack{}, Open: []string{}, Refused: []Refused{},
	}, nil
}

// Update applies a later entry of kind "run".
func (r Run) Update(m Meta, b RunBody) (Run, error) {
	if err := r.accepts("run", b.Run); err != nil {
		return r, err
	}
	if !r.Closed.IsZero() {
		return r, fmt.Errorf("run: %w", &refusal{ErrClosed, words.Later("the run is closed")})
	}
	switch b.Act {
	case RunClocks:
		if b.Clocks.Panel != nil {
			r.Clocks.Panel = b.Clocks.Panel
		}
		if b.Clocks.Station != nil {
			r.Clocks.Station = b.Clocks.Station
		}
	case RunReplanned:
		r.Fingerprint = b.Fingerprint
	case RunClosed:
		if r.Window.OnTest(m.At) {
			return r, fmt.Errorf("closing the run: %w", &refusal{ErrOrder, words.Later("the account is still on test; have it taken off first")})
		}
		r.Closed, r.ClosedBy = m.At, m.By
		r.Open = slices.Clone(b.Open)
		if b.Reason != "" {
			r.Open = append(r.Open, "reason given: "+clip(b.Reason))
		}
	default:
		return r, fmt.Errorf("run entry: act %q: %w", b.Act, ErrUnknown)
	}
	return r, nil
}

// OnTest applies an entry of kind "ontest". An act out of order is an error that matches ErrOrder; the run is unchanged.
func (r Run) OnTest(m Meta, b OnTestBody, p Private) (Run, error) {
	if err := r.accepts("on test", b.Run); err != nil {
		return r, err
	}
	ev := b.WindowEvent
	ev.Private = p
	w, err := r.Window.Apply(ev, m.By, m.At)
	if err != nil {
		return r, err
	}
	r.Window = w
	return r, nil
}

// Clone returns a run that can be carried on apart from r.
func (r Run) Clone() Run {
	r.Signals, r.known = slices.Clip(r.Signals), nil
	return r
}

// Signal applies an entry of kind "signal". The same entry twice counts once. There are many of them: the room behind
// Signals is used, so that of the runs that come from one only the newest may be carried on; see Clone.
func (r Run) Signal(m Meta, b SignalBody) (Run, error) {
	if err := r.takes("signal", b.Run, len(r.Signals), time.Time{}); err != nil {
		return r, err
	}
	id := SignalID(m.ID)
	r.remember()
	if r.known.ids[id] {
		return r, nil
	}
	if !b.Acknowledged && r.known.unanswered >= maxUnanswered {
		return r, fmt.Errorf("signal: %w", &words.Error{Say: words.Later("the run holds %d already that were not answered", maxUnanswered)})
	}
	s := Signal{
		ID: id, Event: b.Event, Received: b.Received, Stamp: b.Stamp, Encrypted: b.Encrypted,
		Acknowledged: b.Acknowledged, Path: b.Path, Receiver: b.Receiver, Repeat: b.Repeat, Index: b.Index, DuplicateOf: b.DuplicateOf,
	}
	r.known.add(s)
	r.Signals = append(r.Signals, s)
	return r, nil
}

// ReadBack applies an entry of kind "readback". Lines get ids from the entry's id and their place.
func (r Run) ReadBack(m Meta, b ReadBackBody, p Private) (Run, error) {
	if err := r.takes("read-back", b.Run, len(r.ReadBacks)+len(b.Lines), m.At); err != nil {
		return r, err
	}
	if len(b.Lines) > maxLines {
		return r, fmt.Errorf("read-back: %w", &words.Error{Say: words.Later("%d lines, at most %d", len(b.Lines), maxLines)})
	}
	if slices.ContainsFunc(r.ReadBacks, func(x ReadBack) bool { return strings.HasPrefix(string(x.ID), m.ID+"/") }) {
		return r, nil
	}
	r.ReadBacks = slices.Clone(r.ReadBacks)
	for i := range r.ReadBacks {
		entry, _, _ := strings.Cut(string(r.ReadBacks[i].ID), "/")
		r.ReadBacks[i].Taken = r.ReadBacks[i].Taken || slices.Contains(b.Takes, entry)
	}
	for i, l := range b.Lines {
		id := ReadBackID(fmt.Sprintf("%s/%d", m.ID, i+1))
		r.ReadBacks = append(r.ReadBacks, ReadBack{
			ID: id, Zone: l.Zone, Code: l.Code, Qualifier: l.Qualifier, Path: l.Path, At: l.At,
			NotSeen: l.NotSeen, Expect: l.Expect, Account: b.Account, Operator: p.Operator, Reference: p.Reference, Source: b.Source,
			Entered: m.At, By: m.By,
		})
	}
	return r, nil
}

// Tick applies an entry of kind "tick".
func (r Run) Tick(m Meta, b TickBody) (Run, error) {
	if err := r.takes("tick", b.Run, len(r.Ticks), m.At); err != nil {
		return r, err
	}
	switch b.What {
	case Tripped, Sounded, PanelShowed, Restored, PanelReset, Withdrawn:
	case CannotTest, Failed:
		if b.Reason == "" {
			return r, fmt.Errorf("tick %q of step %s: %w", b.What, b.Step, &refusal{ErrMissing, words.Later("say why")})
		}
	default:
		return r, fmt.Errorf("tick %q: %w", b.What, ErrUnknown)
	}
	if slices.ContainsFunc(r.Ticks, func(t Tick) bool { return t.ID == TickID(m.ID) }) {
		return r, nil
	}
	r.Ticks = append(slices.Clip(r.Ticks), Tick{
		ID: TickID(m.ID), Step: b.Step, What: b.What, Method: b.Method, Reason: clip(b.Reason),
		Signal: b.Signal, Of: b.Of, At: m.At, By: m.By, From: b.From,
	})
	return r, nil
}

// PutBack applies an entry of kind "putback".
func (r Run) PutBack(m Meta, b PutBackBody) (Run, error) {
	if err := r.takes("put-back", b.Run, len(r.PutBacks), time.Time{}); err != nil {
		return r, err
	}
	at := slices.IndexFunc(r.PutBacks, func(p PutBack) bool {
		return p.ID == b.Item && b.Act == PutBackUndone || p.ID == PutBackID(m.ID) && b.Act == PutBackMade
	})
	switch {
	case b.Act == PutBackMade && at >= 0:
		return r, nil
	case b.Act == PutBackMade && b.What == "" && putBackWhat(b.Sort) != "":
		b.What = putBackWhat(b.Sort)
		return r.PutBack(m, b)
	case b.Act == PutBackMade && b.What == "":
		return r, fmt.Errorf("put-back list: %w", &refusal{ErrMissing, words.Later("say what was changed")})
	case b.Act == PutBackMade:
		r.PutBacks = append(slices.Clip(r.PutBacks), PutBack{ID: PutBackID(m.ID), What: clip(b.What), Sort: b.Sort, Made: m.At, By: m.By})
	case b.Act == PutBackUndone && at < 0:
		return r, fmt.Errorf("put-back list: item %s: %w", b.Item, ErrUnknown)
	case b.Act == PutBackUndone:
		r.PutBacks = slices.Clone(r.PutBacks)
		if r.PutBacks[at].Undone.IsZero() {
			r.PutBacks[at].Undone = m.At
		}
	default:
		return r, fmt.Errorf("put-back list: act %q: %w", b.Act, ErrUnknown)
	}
	return r, nil
}

// Fold applies an entry of any kind that belongs to a run; used is false for the other kinds. private is the opened
// personal part, nil when there is none or its key was destroyed. What the run can not take is kept in Refused and
// returned as an error: entries are never lost.
func (r Run) Fold(kind evidence.Kind, m Meta, body, private json.RawMessage) (next Run, used bool, err error) {
	var p Private
	if len(private) > 0 {
		if err := json.Unmarshal(private, &p); err != nil {
			return r.refuse(m, fmt.Errorf("reading the personal part of entry %s: %w", m.ID, err)), true, err
		}
	}
	switch kind {
	case evidence.KindRun:
		var b RunBody
		if err = json.Unmarshal(body, &b); err == nil && b.Act == RunOpened {
			next, err = Open(m, b)
		} else if err == nil {
			next, err = r.Update(m, b)
		}
	case evidence.KindOnTest:
		var b OnTestBody
		if err = json.Unmarshal(body, &b); err == nil {
			next, err = r.OnTest(m, b, p)
		}
	case evidence.KindSignal:
		var b SignalBody
		if err = json.Unmarshal(body, &b); err == nil {
			next, err = r.Signal(m, b)
		}
	case evidence.KindReadback:
		var b ReadBackBody
		if err = json.Unmarshal(body, &b); err == nil {
			next, err = r.ReadBack(m, b, p)
		}
	case evidence.KindTick:
		var b TickBody
		if err = json.Unmarshal(body, &b); err == nil {
			next, err = r.Tick(m, b)
		}
	case evidence.KindPutback:
		var b PutBackBody
		if err = json.Unmarshal(body, &b); err == nil {
			next, err = r.PutBack(m, b)
		}
	default:
		return r, false, nil
	}
	if err != nil {
		return r.refuse(m, err), true, fmt.Errorf("entry %s: %w", m.ID, err)
	}
	return next, true, nil
}

// FoldSignal is Fold for an entry of kind "signal" whose body was read already: there are many of them.
func (r Run) FoldSignal(m Meta, b SignalBody) (Run, error) {
	next, err := r.Signal(m, b)
	if err != nil {
		return r.refuse(m, err), fmt.Errorf("entry %s: %w", m.ID, err)
	}
	return next, nil
}

// In returns the run as it is shown in a language: what it refused is said in it.
func (r Run) In(l *words.Language) Run {
	if l == nil {
		return r
	}
	r.Refused = slices.Clone(r.Refused)
	for i, x := range r.Refused {
		r.Refused[i].Say = x.why.In(l)
	}
	return r
}

// Observations gathers what the run knows, for Match.
func (r Run) Observations() Observations {
	return Observations{
		Account: r.Account, Opened: r.Opened, Ticks: r.Ticks, Signals: r.Signals, ReadBacks: r.ReadBacks,
		PutBacks: r.PutBacks, Window: r.Window, Locked: r.Scope.NoReceiver,
	}
}

// Fingerprint is the SHA-256 of a plan's canonical JSON: two runs with the same one had to prove the same things.
func Fingerprint(plan []Step) (string, error) {
	raw, err := evidence.CanonicalValue(plan)
	if err != nil {
		return "", fmt.Errorf("fingerprint of the plan: %w", err)
	}
	return sum(raw), nil
}

func (r Run) accepts(what string, run RunID) error {
	switch {
	case r.ID == "":
		return fmt.Errorf("%s: %w", what, &refusal{ErrNoRun, words.Later("open a run first")})
	case run != "" && run != r.ID:
		return fmt.Errorf("%s: it belongs to run %s, open is %s: %w", what, run, r.ID, &refusal{ErrUnknown, words.Later("it belongs to another run than the one that is open")})
	}
	return nil
}

// takes is accepts for observations, which a closed run still takes when they were made before it was closed, within what
// two clocks may differ: a phone that was offline sends late. The zero time is of no matter: a signal is due when it came,
// and what was changed is put back whenever that is.
func (r Run) takes(what string, run RunID, have int, made time.Time) error {
	if !r.Closed.IsZero() && made.After(r.Closed.Add(tolerance)) {
		return fmt.Errorf("%s: %w", what, &refusal{ErrClosed, words.Later("it was made after the run was closed")})
	}
	if have >= maxObservations {
		return fmt.Errorf("%s: %w", what, &words.Error{Say: words.Later("the run holds %d already", maxObservations)})
	}
	return r.accepts(what, run)
}

func (r Run) refuse(m Meta, err error) Run {
	r.Refused = append(slices.Clip(r.Refused), Refused{Entry: m.ID, At: m.At, Say: words.Said(err).String(), why: words.Said(err)})
	return r
}

func clip(s string) string {
	if len(s) > maxText {
		return strings.ToValidUTF8(s[:maxText], "")
	}
	return s
}
