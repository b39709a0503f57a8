package cli

import (
	"cmp"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"proofbell/internal/app"
	"proofbell/internal/prove"
	"proofbell/internal/receiver"
	"proofbell/internal/words"
	"proofbell/signal"
)

// printer writes the lines of receive, as JSON or for people.
type printer struct {
	out  io.Writer
	json bool
	lang *words.Language
}

// printed is something to print: lines of JSON, whose form docs/cli.md promises, or one of text.
type printed interface {
	lines() []any
	text(lang *words.Language) string
}

func (p printer) print(what printed) error {
	if !p.json {
		_, err := fmt.Fprintln(p.out, what.text(p.lang))
		return err
	}
	enc := json.NewEncoder(p.out)
	enc.SetEscapeHTML(false)
	for _, line := range what.lines() {
		if err := enc.Encode(line); err != nil {
			return err
		}
	}
	return nil
}

// clock is the time of this machine, with its distance from UTC.
func clock(at time.Time) string { return at.Local().Format("15:04:05Z07:00") }

// listeningLine is the first.
type listeningLine struct {
	Kind     string    `json:"kind"` // listening
	Signals  string    `json:"signals"`
	Accounts int       `json:"accounts"`
	Until    time.Time `json:"onTestUntil,omitzero"`
	Before   bool      `json:"onTestFromBefore,omitempty"` // the window is that of an earlier start
	NotTaken bool      `json:"onTestNotTaken,omitempty"`   // so --on-test opened none
	Out      []string  `json:"notOnTest,omitempty"`        // accounts of the file that are not in it
	Metrics  string    `json:"metrics,omitempty"`
}

func (l listeningLine) lines() []any { return []any{l} }

func (l listeningLine) text(lang *words.Language) string {
	said := lang.Say("Signals on %s, TCP and UDP. Accounts: %d.", l.Signals, l.Accounts) + " "
	if l.Until.IsZero() {
		said += lang.Say("None is on test: everything is stored, nothing is answered.")
	} else {
		said += lang.Say("On test until %s: nobody comes until then.", lang.Moment(l.Until.Local())+l.Until.Local().Format(" UTC-07:00"))
	}
	if l.Before {
		said += "\n" + lang.Say("It is a test window from before.")
		if l.NotTaken {
			said += " " + lang.Say("--on-test was not taken.")
		}
		if len(l.Out) > 0 {
			said += " " + lang.Say("Not in it: %s.", strings.Join(l.Out, ", "))
		}
		said += " " + lang.Say("To begin anew: --off-test first.")
	}
	if l.Metrics != "" {
		said += "\n" + lang.Say("Metrics on %s", l.Metrics)
	}
	return said
}

// storedLine is a frame that is in the inbox.
type storedLine struct {
	r       signal.Received
	row     app.InboxRow
	verdict signal.Verdict
	why     words.Text // nothing was answered
}

// eventLine is one event of it; a frame without one, as NULL, has one line all the same.
type eventLine struct {
	Kind      string         `json:"kind"` // event, or none
	Row       int64          `json:"row"`
	Index     int            `json:"index"`
	At        time.Time      `json:"at"`
	Remote    string         `json:"remote"`
	Transport string         `json:"transport"`
	Account   string         `json:"account"`
	Prefix    string         `json:"prefix"`
	ID        string         `json:"id"`
	Sequence  int            `json:"sequence"`
	Encrypted bool           `json:"encrypted"`
	Answer    signal.Verdict `json:"answer"`
	Why       string         `json:"why,omitempty"`
	Finding   string         `json:"finding,omitempty"`
	RepeatOf  int64          `json:"repeatOf,omitempty"` // row
	Event     *signal.Event  `json:"event,omitempty"`
	Raw       string         `json:"raw"` // hex, as it came
}

func (l storedLine) lines() []any {
	f := l.r.Frame
	line := eventLine{
		Kind: "none", Row: l.row.Row, At: l.r.At, Remote: l.r.Remote, Transport: l.r.Transport, Account: f.Account, Prefix: f.Prefix, ID: f.ID,
		Sequence: f.Sequence, Encrypted: l.r.Encrypted || f.Encrypted, Answer: l.verdict, Why: l.why.String(), Finding: finding(l.r, nil),
		RepeatOf: l.row.Duplicate, Raw: hex.EncodeToString(l.r.Raw),
	}
	if len(l.r.Events) == 0 {
		return []any{line}
	}
	var all []any
	for i := range l.r.Events {
		line.Kind, line.Index, line.Event = "event", i, &l.r.Events[i]
		all = append(all, line)
	}
	return all
}

func (l storedLine) text(lang *words.Language) string {
	answer := lang.Say("answered %s", l.verdict)
	if l.verdict == signal.StaySilent {
		answer = lang.Say("not answered: %s", l.why.In(lang))
	}
	var said []string
	for _, e := range l.r.Events {
		said = append(said, sayEvent(e, lang))
	}
	if len(said) == 0 && l.r.Err == nil {
		said = append(said, lang.Say("link supervision"))
	}
	if found := finding(l.r, lang); found != "" {
		said = append(said, words.Upper(found))
	}
	if l.row.Duplicate != 0 {
		said = append(said, lang.Say("again"))
	}
	return fmt.Sprintf("%s  %s  %s (%s)", clock(l.r.At), cmp.Or(l.r.Frame.Account, "-"), strings.Join(said, "; "), answer)
}

// sayEvent is an event in words: "fire alarm, new, zone 5, area 1".
func sayEvent(e signal.Event, lang *words.Language) string {
	said := []string{lang.Word(e.Words), lang.Word(prove.SayQualifier(e.Qualifier))}
	if e.NumberIs != signal.NoNumber {
		said = append(said, lang.Word(string(e.NumberIs))+" "+cmp.Or(e.Address, strconv.Itoa(e.Number)))
	}
	if e.Area != 0 {
		said = append(said, lang.Say("area %d", e.Area))
	}
	return strings.Join(said, ", ")
}

// finding says what is wrong with a sound frame; "" when nothing is.
func finding(r signal.Received, lang *words.Language) string {
	var fe *signal.FrameError
	switch {
	case r.Err == nil:
		return ""
	case errors.Is(r.Err, signal.ErrDecrypt):
		return lang.Say(prove.NotDecrypted, r.Frame.Account)
	case errors.Is(r.Err, signal.ErrNotEncrypted):
		return lang.Say("frame for account %s came in clear, and only encrypted ones are taken of it", r.Frame.Account)
	case errors.Is(r.Err, signal.ErrEncrypted):
		return lang.Say("frame for account %s is encrypted, and there is no key for it here", r.Frame.Account)
	case errors.As(r.Err, &fe):
		return fe.Phrase().In(lang.Say)
	}
	return r.Err.Error()
}

// faultLine is what was no sound frame; nothing of it is stored.
type faultLine struct{ o receiver.Observation }

func (l faultLine) lines() []any {
	return []any{struct {
		Kind      string    `json:"kind"` // fault
		At        time.Time `json:"at"`
		Remote    string    `json:"remote"`
		Transport string    `json:"transport"`
		Cause     string    `json:"cause"`
		Say       string    `json:"say"`
		Lost      int       `json:"lost,omitempty"` // bytes passed over; raw has the first of them
		Raw       string    `json:"raw"`
	}{"fault", l.o.At, l.o.Remote, l.o.Transport, signal.Cause(l.o.Err), finding(l.o.Received, nil), l.o.Lost, hex.EncodeToString(l.o.Raw)}}
}

func (l faultLine) text(lang *words.Language) string {
	return fmt.Sprintf("%s  %s  %s", clock(l.o.At), l.o.Remote, words.Upper(finding(l.o.Received, lang)))
}

// linkLine says that an account is not heard from any more, or again.
type linkLine struct {
	Kind    string    `json:"kind"` // link
	At      time.Time `json:"at"`
	Account string    `json:"account"`
	State   string    `json:"state"` // lapsed, heard
	Every   string    `json:"every"`
	Last    time.Time `json:"last,omitzero"` // not there: never since the start
}

func lineOf(l signal.Link, now time.Time) linkLine {
	line := linkLine{Kind: "link", At: now.UTC(), Account: l.Account, State: "heard", Every: l.Every.String(), Last: l.Last.UTC()}
	if l.Lapsed {
		line.State = "lapsed"
	}
	return line
}

func (l linkLine) lines() []any { return []any{l} }

func (l linkLine) text(lang *words.Language) string {
	said := lang.Say("heard from again")
	switch {
	case l.State == "lapsed" && l.Last.IsZero():
		said = lang.Say("not heard from since the start, expected every %s", l.Every)
	case l.State == "lapsed":
		said = lang.Say("not heard from since %s, expected every %s", clock(l.Last), l.Every)
	}
	return fmt.Sprintf("%s  %s  %s", clock(l.At), l.Account, said)
}

// windowLine says that the test window is over.
type windowLine struct {
	Kind  string    `json:"kind"` // window
	At    time.Time `json:"at"`
	State string    `json:"state"` // lapsed
}

func (l windowLine) lines() []any { return []any{l} }

func (l windowLine) text(lang *words.Language) string {
	return clock(l.At) + "  " + lang.Say("The test window is over: nothing is answered any more.")
}

// storageLine says that the inbox takes nothing, or works again.
type storageLine struct {
	Kind  string    `json:"kind"` // storage
	At    time.Time `json:"at"`
	State string    `json:"state"` // failing, works
	Say   string    `json:"say,omitempty"`
}

func (l storageLine) lines() []any { return []any{l} }

func (l storageLine) text(lang *words.Language) string {
	if l.State == "failing" {
		return clock(l.At) + "  " + lang.Say("Nothing can be stored, so nothing is answered: %s", l.Say)
	}
	return clock(l.At) + "  " + lang.Say("Signals are stored again.")
}

// unprintedLine says how many lines were left out, because they were not taken as quickly as they came.
type unprintedLine struct {
	Kind  string `json:"kind"` // unprinted
	Lines int64  `json:"lines"`
}

func (l unprintedLine) lines() []any { return []any{l} }

func (l unprintedLine) text(lang *words.Language) string {
	return lang.Say("Not printed, because nobody took the lines: %d. What was received is in the inbox.", l.Lines)
}
