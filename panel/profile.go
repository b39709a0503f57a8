// Package panel describes control panels: what one can hold, in which words it answers and how its keypad asks.
//
// A profile is data, not code. Rules, the keying sheet, the rehearsal and the proving plan all read the same profile, so
// they can not disagree about a panel. [Builtin] gives the profiles that come with the product, [Decode] reads another
// one from YAML or JSON, and [Profile.Check] proves that its dialogue can program every zone it claims to hold.
// Format: docs/format/profile.md.
//
// The package reads no clock and no file (the built-in profiles are part of the program). Profiles are not changed after
// decoding and may be used by several goroutines at once. The one library beside the standard one is a YAML parser,
// because a profile's author needs the line and column of a mistake.
package panel

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"proofbell/internal/sorts"
	"proofbell/quantity"
	"proofbell/site"
)

// Format is the value of Profile.Format read by this version.
const Format = "proofbell.panel/1"

// Profile is one panel.
type Profile struct {
	Format   string                      `json:"format"`
	Name     string                      `json:"name"`    // as a site file calls it: "ladder"
	Title    string                      `json:"title"`   // for people
	Version  string                      `json:"version"` // of the panel's own program
	Notes    string                      `json:"notes,omitempty"`
	Formats  []string                    `json:"formats" words:"account-format"` // of the account that it can report in: contact-id, sia
	Zones    ZoneRange                   `json:"zones"`
	Label    Label                       `json:"label"`
	Words    map[string]string           `json:"words,omitempty"` // spoken word, in capitals -> its number at the keypad
	SayAs    map[string][]string         `json:"sayAs,omitempty"` // word that it can not say -> words proposed instead, all in capitals
	Kinds    []Kind                      `json:"kinds"`
	Answers  map[Field]map[string]string `json:"answers,omitempty"` // neutral value -> what the panel takes for it
	Identity Identity                    `json:"identity"`
	Keypad   Keypad                      `json:"keypad"`
	Timing   Timing                      `json:"timing,omitzero"`
	Lacks    []Field                     `json:"lacks,omitempty"` // fields of a zone that the panel has no setting for
	Dialogue Dialogue                    `json:"dialogue"`
}

// ZoneRange is the range of zone numbers, both ends included.
type ZoneRange struct {
	First int `json:"first" bounds:"0,9999"`
	Last  int `json:"last" bounds:"0,9999"`
}

// Label is what the panel can say for a zone.
type Label struct {
	Words int `json:"words" bounds:"1,16"` // most words of one label
}

// Kind is the panel's answer for a kind of zone.
type Kind struct {
	Kind    site.ZoneKind    `json:"kind" words:"zone-kind"`
	Answer  string           `json:"answer"`
	Code    string           `json:"code,omitempty"` // station code that tells this kind from another with the same answer
	Restore RestorePolicy    `json:"restore"`
	Test    TestPolicy       `json:"test,omitempty"`  // "" when it is not known, or the panel has no test mode
	Fills   map[Field]string `json:"fills,omitempty"` // answers that choosing the kind puts where none is yet
}

// RestorePolicy says when the panel sends the restore of a zone.
type RestorePolicy string

// The restore policies.
const (
	RestoreFollows RestorePolicy = "follows" // when the device clears
	RestoreReset   RestorePolicy = "reset"   // held until the panel is reset
	RestoreBell    RestorePolicy = "bell"    // when the sounder stops
	RestoreNone    RestorePolicy = "none"    // never sent
)

// TestPolicy says what the panel's own test mode does with a zone that trips.
type TestPolicy string

// The test policies.
const (
	TestReports TestPolicy = "reports" // as in earnest
	TestMarked  TestPolicy = "marked"  // the station is told, and told that it is a test
	TestSilent  TestPolicy = "silent"  // the station is told nothing
)

// Field is one setting of a zone.
type Field string

// The fields of a zone. Append only.
const (
	FieldZone      Field = "zone"
	FieldKind      Field = "kind"
	FieldArea      Field = "area"
	FieldWords     Field = "words"
	FieldPaths     Field = "paths"
	FieldCode      Field = "code"
	FieldBypass    Field = "bypass"
	FieldDoorTone  Field = "doorTone"
	FieldLink      Field = "link"
	FieldIdentity  Field = "identity"
	FieldTerminal  Field = "terminal"
	FieldLoss      Field = "lossWindow"
	FieldTripLimit Field = "tripLimit"

	// Parts, for panels that ask for them one by one.
	FieldIdentityHead Field = "identityHead" // first half of the identity in digits
	FieldIdentityTail Field = "identityTail"
	FieldPathMain     Field = "pathMain"
	FieldPathBackup   Field = "pathBackup"
	FieldWord1        Field = "word1"
	FieldWord2        Field = "word2"
	FieldWord3        Field = "word3"
	FieldWord4        Field = "word4"
)

// parts names the fields that together say the same as one other.
var parts = map[Field][]Field{
	FieldIdentity: {FieldIdentityHead, FieldIdentityTail},
	FieldPaths:    {FieldPathMain, FieldPathBackup},
	FieldWords:    {FieldWord1, FieldWord2, FieldWord3, FieldWord4},
}

// Parts returns the fields that together say the same as f; for words as many as a label has. nil when f has no parts.
func (p *Profile) Parts(f Field) []Field {
	all := parts[f]
	if f == FieldWords {
		all = all[:min(len(all), p.Label.Words)]
	}
	return slices.Clone(all)
}

// fields is in the order in which tables show them.
var fields = []Field{
	FieldZone, FieldArea, FieldWords, FieldKind, FieldPaths, FieldCode, FieldBypass, FieldDoorTone, FieldTripLimit,
	FieldLink, FieldIdentity, FieldTerminal, FieldLoss,
	FieldIdentityHead, FieldIdentityTail, FieldPathMain, FieldPathBackup, FieldWord1, FieldWord2, FieldWord3, FieldWord4,
}

// wholes are the fields that a zone has, without the parts into which a panel may divide them.
var wholes = fields[:13]

// Fields returns every field of a zone, the zone's number first, in the order in which tables show them.
func Fields() []Field { return slices.Clone(fields) }

// Neutral values of the fields whose answers a profile lists.
const (
	Yes        = "yes"
	No         = "no"
	PathsNone  = "none"
	PathsMain  = "main"
	PathsBack  = "backup"
	PathsBoth  = "both"
	LinkRadio  = "radio"
	LinkWired  = "wired"
	LossNever  = "never"
	LossFire   = "200 s" // the short class that life-safety zones want
	LossMiddle = "4 h"
	LossDay    = "24 h"
)

// valuesOf gives the neutral values that a field may have; nil for fields that are not listed in Answers and for
// area and terminal, whose values the site names.
var valuesOf = map[Field][]string{
	FieldPaths:      {PathsNone, PathsMain, PathsBack, PathsBoth},
	FieldPathMain:   {Yes, No},
	FieldPathBackup: {Yes, No},
	FieldBypass:     {Yes, No},
	FieldDoorTone:   {Yes, No},
	FieldTripLimit:  {Yes, No},
	FieldLink:       {LinkRadio, LinkWired},
	FieldLoss:       {LossNever, LossFire, LossMiddle, LossDay},
}

// Identity says how the identity of a radio device is built.
type Identity struct {
	Letters  int               `json:"letters" bounds:"0,4"` // letters of the device family, in front
	Digits   int               `json:"digits" bounds:"1,12"` // digits behind them, the check digit included
	Families []string          `json:"families,omitempty"`
	Numbers  map[string]string `json:"numbers,omitempty"` // family -> its digits, for panels without letters
}

// InDigits writes an identity for a panel without letters: the number of the family, then the digits, cut in two halves.
// ok is false when the family has no number.
func (i Identity) InDigits(identity string) (head, tail string, ok bool) {
	if len(identity) < i.Letters {
		return "", "", false
	}
	number, ok := i.Numbers[identity[:i.Letters]]
	text := number + identity[i.Letters:]
	return text[:len(text)/2], text[len(text)/2:], ok
}

// FromDigits is InDigits backwards. ok is false when no family has that number: a zone without a radio device.
func (i Identity) FromDigits(head, tail string) (identity string, ok bool) {
	text := head + tail
	for family, number := range i.Numbers {
		if rest, found := strings.CutPrefix(text, number); found && len(rest) == i.Digits {
			return family + rest, true // numbers are distinct and equally long: Check
		}
	}
	return "", false
}

// Keypad is the plain keypad: names of keys and the letters on them.
type Keypad struct {
	Accept      string            `json:"accept"`
	Back        string            `json:"back"`
	Up          string            `json:"up,omitempty"` // moves in a menu; the accept key chooses
	Down        string            `json:"down,omitempty"`
	Keys        []string          `json:"keys"`
	Letters     map[string]string `json:"letters,omitempty"` // key -> letters that repeated presses give
	LetterPause quantity.Duration `json:"letterPause,omitzero"`
}

// Timing holds the times to accept and the times at the keypad.
type Timing struct {
	IdleDrop       quantity.Duration `json:"idleDrop,omitzero"`       // the zone in hand is dropped unsaved after that
	Restart        quantity.Duration `json:"restart,omitzero"`        // from power to ready
	ToPanel        quantity.Duration `json:"toPanel,omitzero"`        // from trip to the panel, where the model gives none
	ToStation      quantity.Duration `json:"toStation,omitzero"`      // from the panel to the station's display
	ToStationWorst quantity.Duration `json:"toStationWorst,omitzero"` // after that a signal counts as not received
	RestoreWithin  quantity.Duration `json:"restoreWithin,omitzero"`  // after the device clears, where restores follow it
	PerKey         quantity.Duration `json:"perKey,omitzero"`         // estimate of a person's time for one key
	PerPrompt      quantity.Duration `json:"perPrompt,omitzero"`      // estimate of the time to read one prompt
}

// kind returns the entry of a kind of zone.
func (p *Profile) kind(k site.ZoneKind) (Kind, bool) {
	i := slices.IndexFunc(p.Kinds, func(e Kind) bool { return e.Kind == k })
	if i < 0 {
		return Kind{}, false
	}
	return p.Kinds[i], true
}

// MaxZone returns the number of the last zone that the panel can hold.
func (p *Profile) MaxZone() int { return p.Zones.Last }

// ZoneNumber reads the number of a zone as the site file writes it ("09"). ok is false when it is not a number of this
// panel's range in plain digits.
func (p *Profile) ZoneNumber(id site.ZoneID) (n int, ok bool) {
	if len(id) == 0 || len(id) > 4 {
		return 0, false
	}
	for _, c := range []byte(id) {
		if c < '0' || c > '9' {
			return 0, false
		}
		n = n*10 + int(c-'0')
	}
	return n, n >= p.Zones.First && n <= p.Zones.Last
}

// ZoneID writes the number of a zone as the panel shows it: with leading zeros to the width of the last one.
func (p *Profile) ZoneID(n int) site.ZoneID {
	return site.ZoneID(fmt.Sprintf("%0*d", len(fmt.Sprint(p.Zones.Last)), n))
}

// Kind returns what the panel takes for a kind of zone. ok is false when it has none.
func (p *Profile) Kind(k site.ZoneKind) (answer string, ok bool) {
	e, ok := p.kind(k)
	return e.Answer, ok
}

// CodeFor returns the station code by which alone the panel tells this kind from another with the same answer; "" when
// the answer is enough.
func (p *Profile) CodeFor(k site.ZoneKind) string {
	e, _ := p.kind(k)
	return e.Code
}

// Fills returns the answers that choosing a kind puts where none is yet; nil for most panels. A kind that is told by its code
// alone fills like the one whose answer it shares.
func (p *Profile) Fills(k site.ZoneKind) map[Field]string {
	e, _ := p.kind(k)
	if e.Code != "" {
		plain, _ := p.KindOf(e.Answer, "")
		e, _ = p.kind(plain)
	}
	return e.Fills
}

// KindOf reads an answer backwards: the kind that wants exactly this code, or else the kind with this answer.
func (p *Profile) KindOf(answer, code string) (k site.ZoneKind, ok bool) {
	for _, e := range p.Kinds {
		switch {
		case e.Answer != answer:
		case e.Code != "" && e.Code == code:
			return e.Kind, true
		case e.Code == "" && !ok:
			k, ok = e.Kind, true
		}
	}
	return k, ok
}

// Restore returns when the panel sends the restore of a kind of zone; RestoreNone for kinds it does not have.
func (p *Profile) Restore(k site.ZoneKind) RestorePolicy {
	if e, ok := p.kind(k); ok {
		return e.Restore
	}
	return RestoreNone
}

// Test returns what the panel's own test mode does with a kind of zone; "" when that is not known.
func (p *Profile) Test(k site.ZoneKind) TestPolicy {
	e, _ := p.kind(k)
	return e.Test
}

// Answer returns what the panel takes for a neutral value of a listed field. ok is false when the panel can not express it.
func (p *Profile) Answer(f Field, value string) (answer string, ok bool) {
	answer, ok = p.Answers[f][value]
	return answer, ok
}

// Value reads an answer of a listed field backwards. ok is false when the panel has no such answer.
func (p *Profile) Value(f Field, answer string) (value string, ok bool) {
	for v, a := range p.Answers[f] {
		if a == answer {
			return v, true // answers are distinct: Check
		}
	}
	return "", false
}

// Can reports whether the panel can be told this value of a field: a listed value, or any value of a field that is asked
// for and not listed.
func (p *Profile) Can(f Field, value string) bool {
	if slices.Contains(p.Lacks, f) {
		return false
	}
	if list, listed := p.Answers[f]; listed {
		_, ok := list[value]
		return ok
	}
	if f == FieldPaths && len(p.Answers[FieldPathMain]) > 0 {
		_, main := p.Answer(FieldPathMain, yesNo(value == PathsMain || value == PathsBoth))
		_, back := p.Answer(FieldPathBackup, yesNo(value == PathsBack || value == PathsBoth))
		return main && (back || !p.asks(FieldPathBackup) && value != PathsBack && value != PathsBoth)
	}
	return valuesOf[f] == nil
}

func yesNo(yes bool) string {
	if yes {
		return Yes
	}
	return No
}

// Areas returns the areas that the panel can hold, as the station knows them, in order.
func (p *Profile) Areas() []site.AreaID {
	var out []site.AreaID
	for v := range p.Answers[FieldArea] {
		out = append(out, site.AreaID(v))
	}
	sorts.By(out, func(a, b site.AreaID) int { return compareNatural(string(a), string(b)) })
	return out
}

// Terminals returns the terminals of a device that the panel can be told, in order.
func (p *Profile) Terminals() []string { return slices.Sorted(maps.Keys(p.Answers[FieldTerminal])) }

// LossWindow is one class of loss window.
type LossWindow struct {
	Value  string          // as the site file writes it: "200 s", "never"
	Answer string          // what the panel takes for it
	Time   quantity.Second // 0 for never
}

// LossWindows returns the classes that the panel offers, shortest first and never last.
func (p *Profile) LossWindows() []LossWindow {
	var out []LossWindow
	for v, a := range p.Answers[FieldLoss] {
		w := LossWindow{Value: v, Answer: a}
		var d quantity.Duration
		if v != LossNever && d.UnmarshalJSON([]byte(`"`+v+`"`)) == nil {
			w.Time = quantity.Second(d.SI())
		}
		out = append(out, w)
	}
	sorts.By(out, func(a, b LossWindow) int {
		if (a.Time == 0) != (b.Time == 0) {
			if a.Time == 0 {
				return 1
			}
			return -1
		}
		return cmp.Or(cmp.Compare(a.Time, b.Time), strings.Compare(a.Value, b.Value))
	})
	return out
}

// compareNatural orders "2" before "10" and texts by their bytes.
func compareNatural(a, b string) int {
	return cmp.Or(cmp.Compare(len(a), len(b)), strings.Compare(a, b))
}
