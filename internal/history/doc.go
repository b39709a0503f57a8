// Package history reads the event history of a station or a panel, and says what may lie behind it.
//
// Read takes CSV of any usual kind, or lines pasted as text, and finds out which column holds what. What it found is shown,
// corrected by a person, and kept per station. What can not be told from the history is asked, never guessed; what can not be
// read is listed with its line. Diagnose looks for causes with open statistics. Format: docs/format/history.md.
//
// Everything here is a pure function of its arguments and safe for concurrent use.
package history

//go:generate go test -run TestDocument . -update

import (
	"time"

	"proofbell/internal/words"
	"proofbell/signal"
	"proofbell/site"
)

// Limits of what is read, tested before anything is allocated for it.
const (
	MaxBytes   = 256 << 20
	MaxLines   = 3_000_000
	maxCells   = 64   // of one line; the rest of the line is left in the last one
	maxListed  = 5000 // unreadable lines that are kept with their text; all are counted
	maxExcerpt = 160  // bytes of an unreadable line that are kept
)

// What is what one line reports, without its time and place.
type What struct {
	Qualifier signal.Qualifier `json:"qualifier"`
	Kind      signal.Kind      `json:"kind"` // with the qualifier in it: a restore of an alarm is of kind restore
	Family    signal.Family    `json:"family,omitempty"`
	Format    signal.Format    `json:"format,omitempty"` // "" when it was told from words
	Code      string           `json:"code,omitempty"`   // "111", "FA"; "" when it was told from words
	Words     string           `json:"words"`            // the code in our words, or the words of the history
	NumberIs  signal.NumberIs  `json:"numberIs"`

	condition string // see base
}

// Event is one line that was understood.
type Event struct {
	Line    int       `json:"line"` // of the file, from 1
	At      time.Time `json:"at"`   // UTC, by the clock that wrote the history
	*What             // never nil
	Zone    string    `json:"zone,omitempty"` // zone, point or user as it stands there: "014"
	Number  int       `json:"number"`         // the same as a number; 0: none or not decimal
	Area    string    `json:"area,omitempty"`
	Account string    `json:"account,omitempty"`
	Path    string    `json:"path,omitempty"`
	Remark  string    `json:"remark,omitempty"`

	// Ahead is how far the panel's clock was ahead of the station's, where the history has both times.
	Ahead time.Duration `json:"-"`
	// SameAs is the line of the event that this one reports once more (a second path, a second try); 0: it is the first.
	SameAs int `json:"sameAs,omitempty"`
	// Doubt marks a time that can not be true (a clock that had lost its date, a day still to come).
	Doubt bool `json:"doubt,omitempty"`
}

// Unreadable is a line that is not an event.
type Unreadable struct {
	Line int    `json:"line"`
	Why  string `json:"why"` // in the reader's language, with what to do
	Text string `json:"text"`
}

// Column is one column as it was found.
type Column struct {
	Name   string   `json:"name"`             // of the header; "" without one
	Holds  string   `json:"holds"`            // a word of site.HistoryColumns.Holds
	Why    string   `json:"why"`              // how that was told
	Sample []string `json:"sample,omitempty"` // first cells, at most five
}

// Question is what only a person can say before the history can be dated.
type Question struct {
	Of      string   `json:"of"` // member of site.HistoryColumns to fill in: dates or year
	Say     string   `json:"say"`
	Choices []Choice `json:"choices"`
}

// Choice is one answer to a Question.
type Choice struct {
	Value string `json:"value"`
	Say   string `json:"say"`
}

// Jump is a place where the clock that wrote the history went back.
type Jump struct {
	Line int       `json:"line"`
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

// Clock is what the history tells about its own times.
type Clock struct {
	TimeZone   string  `json:"timeZone"`            // that the times were read in
	Newest     bool    `json:"newestFirst"`         // order of the lines
	Unordered  int     `json:"unordered,omitempty"` // lines out of order, when there are too many to be jumps of a clock
	Jumps      []Jump  `json:"jumps"`
	Doubtful   int     `json:"doubtful,omitempty"` // events whose time can not be true
	Missing    int     `json:"missing,omitempty"`  // times in the hour that summer time leaves out
	Both       int     `json:"both,omitempty"`     // lines with the panel's time as well
	AheadSecs  float64 `json:"aheadSecs"`          // panel before station, median, seconds
	AheadRange float64 `json:"aheadRangeSecs"`     // between the 5th and the 95th of a hundred, seconds
	AheadLate  int     `json:"aheadLate"`          // lines more than half an hour off that median
	OnlyTwelve bool    `json:"onlyTwelve"`         // hours 1 to 12 without am or pm: the time of day means nothing
}

// Reading is a history as it was read.
type Reading struct {
	Columns    site.HistoryColumns `json:"columns"` // as used: correct it and read again
	Found      []Column            `json:"found"`
	Notes      []string            `json:"notes"`     // what was settled, and by what evidence
	Questions  []Question          `json:"questions"` // not empty: Events is empty, nothing could be dated
	Events     []Event             `json:"-"`         // oldest first; copies are among them, see Event.SameAs
	Unreadable []Unreadable        `json:"unreadable"`
	Lines      int                 `json:"lines"`   // that are not empty, the header not counted
	Unread     int                 `json:"unread"`  // of them, not events; Unreadable lists the first 5000
	Copies     int                 `json:"copies"`  // events that report another one once more
	Unknown    int                 `json:"unknown"` // events whose meaning is not known here; they are kept
	Clock      Clock               `json:"clock"`

	zone *time.Location
}

// Options are what is known from outside.
type Options struct {
	Columns *site.HistoryColumns // what is known already; nil: find everything
	Zone    *time.Location       // of the site; nil: UTC. Columns.TimeZone wins
	Now     time.Time            // a history ends before; zero: not known
	Near    time.Time            // a day that the history surely covers (of a run); settles a date that could be read in two ways
	Lang    *words.Language
}
