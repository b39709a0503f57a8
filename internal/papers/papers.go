// Package papers puts what a job came to into documents for others: the owner, the station, the authority, the firm's own
// file. A Paper is a document in words ready to print, in the reader's language and units; the page shows it, package
// records writes it as a file. What a reader does not need is not in it, and passcodes and installer codes are in none.
//
// The package is pure: the same job, day and language give the same paper.
package papers

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/drawing"
	"proofbell/internal/guide"
	"proofbell/internal/prove"
	"proofbell/internal/tables"
	"proofbell/internal/words"
	"proofbell/internal/worked"
	"proofbell/panel"
	"proofbell/rules"
	"proofbell/site"
)

// Job is what documents are made from.
type Job struct {
	State     *book.State
	Profile   *panel.Profile  // nil: not known
	Findings  []rules.Finding // on Day, in Lang, accepted ones marked
	Judge     func(*prove.Run) ([]prove.Step, prove.Outcome)
	RuleSet   string    // title and edition
	Due       []Due     // what falls due, earliest first
	Day       time.Time // at the beginning of a day of the site: what is due and valid counts from it
	Zone      *time.Location
	Lang      *words.Language
	Units     string                   // metric or imperial; empty: as the site says
	Keying    func() Keying            // nil: the panel is not known
	Estimates Estimates                // of the documents of planning estimates
	Sums      func(all bool) []Section // calculation sheets; all: also what is dear or long: reach, every radio battery
	Marking   *Marking                 // of a practice that was handed in; nil: none was
	File      *evidence.Hash           // SHA-256 of the site file that it is made from; nil: from the job book
	Before    *Job                     // the job as the newest issue of this document told of it; nil: never issued
	Issued    time.Time
}

// Due is one thing that falls due.
type Due struct {
	ID   string    `json:"id"`   // stable: "life.M9", "battery.hall-smoke"
	Kind string    `json:"kind"` // life, battery, panel-battery: to be replaced; others: to be tested
	On   site.Date `json:"on"`   // as precise as it is known
	Head bool      `json:"head"` // a self-contained alarm
	Name string    `json:"name"` // of the device or head alone: "12 Hall smoke"; empty: the whole is meant
	What string    `json:"what"` // what is to be done: "Replace alarm M9, Guest room Rowan"
	Why  string    `json:"why"`  // the sum behind the date, and who does it
	Past bool      `json:"past"`
}

// Reader is for whom a document is.
type Reader string

// The readers, in the order of the page.
const (
	Owner     Reader = "owner"
	Station   Reader = "station"
	Authority Reader = "authority"
	File      Reader = "file" // the firm's own file
)

// Readers lists all readers.
func Readers() []Reader { return []Reader{Owner, Station, Authority, File} }

// Kind is one kind of document.
type Kind struct {
	ID      string
	For     Reader
	Title   string   // marked: said in the reader's language
	About   string   // marked: one line
	Formats []string // pdf first
	Signs   []string // as whom it is signed; none: nobody signs it
	make    func(*writer)
}

// Kinds lists every kind of document in the order of the bundles.
func Kinds() []Kind { return kinds }

var kinds = []Kind{
	{"owner-guide", Owner, words.Mark("Guide for the house"), words.Mark("Arming, silencing, the monthly test, what each sound means, whom to call, what the system does not do"), []string{"pdf"}, book.SignAs, (*writer).guide},
	{"visit-report", Owner, words.Mark("Report of the visit"), words.Mark("What was tested and how far it was proved, what was found, what comes next"), []string{"pdf"}, book.SignAs, (*writer).visit},
	{"due-dates", Owner, words.Mark("What falls due"), words.Mark("Heads, batteries and devices with the day on which their life ends, also for a calendar"), []string{"pdf", "ics"}, nil, (*writer).dueDates},
	{"keypad-reasons", Owner, words.Mark("What was keyed, and why"), words.Mark("How the panel was told of each kind of detector, why each answer is what it is, and what the keypad looks like at each step"), []string{"pdf"}, nil, (*writer).reasons},
	{"zone-list", Station, words.Mark("Zone list for the station"), words.Mark("Zones as the panel reports them, with changes since the last list on top"), []string{"pdf", "xlsx", "csv"}, nil, (*writer).zoneList},
	{"station-contacts", Station, words.Mark("People to call"), words.Mark("Contacts in order, apart from the zone list"), []string{"pdf"}, nil, (*writer).contacts},
	{"station-actions", Station, words.Mark("Operator's page"), words.Mark("Station code, what it means in plain words, what to do; what is expected while somebody is on site"), []string{"pdf"}, nil, (*writer).actions},
	{"handover-record", Authority, words.Mark("Record of the finished system"), words.Mark("Property, installer, monitoring, devices by count, test, exceptions, open questions, accepted deviations"), []string{"pdf"}, book.SignAs, (*writer).completion},
	{"commissioning", File, words.Mark("Commissioning record"), words.Mark("Every device with the signals expected and received, levels, power, settings, exceptions, plans, photographs"), []string{"pdf"}, book.SignAs, (*writer).commissioning},
	{"calculations", File, words.Mark("Calculation sheets"), words.Mark("Power, circuits and reach line by line: inputs and who says so, formula, figures put in, result, source, cautions"), []string{"pdf"}, nil, (*writer).calculations},
	{"device-register", File, words.Mark("Device register"), words.Mark("Every part of the system with identity, place, dates and last proof"), []string{"pdf", "xlsx", "csv"}, nil, (*writer).register},
	{"keying-sheet", File, words.Mark("Keying sheet"), words.Mark("Every prompt of the panel with the keys to press and a box to tick, to be laid beside the keypad"), []string{"pdf"}, nil, (*writer).keying},
	{"keypad-lessons", File, words.Mark("Keypad lessons"), words.Mark("For somebody who keys for the first time: each step taught once, with its reason and its keys"), []string{"pdf"}, nil, (*writer).lessons},
	{"floor-plans", File, words.Mark("Floor plans"), words.Mark("Every storey to one scale, with its devices and alarms"), []string{"pdf"}, nil, (*writer).floors},
	{"sound-estimate", File, words.Mark("Sound in every room"), words.Mark("Planning estimate: the sound field of each storey, and every room and bed with level, requirement and margin"), []string{"pdf"}, nil, (*writer).sound},
	{"radio-estimate", File, words.Mark("Radio of every device"), words.Mark("Planning estimate: the margins over each storey, every link, and proposed places of repeaters"), []string{"pdf"}, nil, (*writer).radio},
	{"alarms-wanted", File, words.Mark("Where alarms are wanting"), words.Mark("Planning estimate: proposed places on the plan, each with its reasons, and what stays open"), []string{"pdf"}, nil, (*writer).wanted},
	{"existing-alarms", File, words.Mark("Self-contained alarms"), words.Mark("Every head with its group, dates and the listener that hears it"), []string{"pdf", "xlsx", "csv"}, nil, (*writer).heads},
}

// Extra reports whether a document goes out only when somebody asks for it: what is about the work at the
// keypad, plans alone, and estimates.
func (k Kind) Extra() bool { return k.keys() || k.Estimate() || k.ID == "floor-plans" }

// keys reports whether a document shows what is keyed.
func (k Kind) keys() bool { return strings.HasPrefix(k.ID, "key") }

// Find returns a kind of document by its id, also one that stands in no bundle.
func Find(id string) (Kind, bool) {
	if id == PracticeResult {
		return practiceResult, true
	}
	i := slices.IndexFunc(kinds, func(k Kind) bool { return k.ID == id })
	if i < 0 {
		return Kind{}, false
	}
	return kinds[i], true
}

// Pin is what ties a document to the state of the job book that it was made from. It says nothing about the premises.
type Pin struct {
	Job  evidence.JobID `json:"job"` // "" for a document that was made from a site file
	Seq  int64          `json:"seq"`
	Hash evidence.Hash  `json:"hash"` // of the entry, or of the site file
	Mark string         `json:"mark"` // made with the job's key, so that nobody can guess a document from its hash; "" without a key
}

// String writes the pin as it stands in a document and its QR code.
func (p Pin) String() string {
	if p.Job == "" {
		return "proofbell:file:" + p.Hash.String()
	}
	return fmt.Sprintf("proofbell:%s:%d:%s", p.Job, p.Seq, p.Hash)
}

// Short is the pin for a narrow place: entry and beginning of its hash.
func (p Pin) Short() string { return fmt.Sprintf("%d:%s", p.Seq, p.Hash.String()[:16]) }

// Paper is one document.
type Paper struct {
	Kind     string          `json:"kind"`
	For      Reader          `json:"for"`
	Lang     string          `json:"lang"` // BCP 47
	Title    string          `json:"title"`
	Name     string          `json:"name"` // of the site
	AsOf     string          `json:"asOf"` // "As of entry 27 of the job book, 2026-09-15 14:31 EDT"
	On       string          `json:"on"`   // the day for which it was judged, as people write it
	Practice string          `json:"practice"`
	Sections []Section       `json:"sections"`
	Missing  []Missing       `json:"missing"` // what it still lacks; empty: nothing that we know of
	Signs    []Sign          `json:"signs"`
	Pin      Pin             `json:"pin"`
	Pad      *panel.Pad      `json:"pad"`   // of lessons: the keypad that they mark keys on; nil: none
	Head     *guide.Headings `json:"head"`  // of lessons
	Script   string          `json:"-"`     // to be spoken, with times
	Captions string          `json:"-"`     // WebVTT
	Sheet    *tables.Table   `json:"sheet"` // the same as a plain table, for XLSX and CSV; nil: none
	Dates    []Due           `json:"dates"` // for the calendar
	Made     time.Time       `json:"made"`  // when the newest entry was made
	Frame    Frame           `json:"frame"`
	Changed  []string        `json:"changed"` // since the newest issue, in words; nil: never issued
}

// Frame are the words that every page carries, and those that a page fills in by itself.
type Frame struct {
	Page      string   `json:"page"` // "Page {n} of {pages}"
	Entry     string   `json:"entry"`
	Continued string   `json:"continued"`
	Key       string   `json:"key"`    // what the shapes of a plan mean
	States    []string `json:"states"` // of a stop: unproved, waiting, half, proved, failed
	NotDrawn  string   `json:"notDrawn"`
	NoPhoto   string   `json:"noPhoto"`  // in the place of a photograph that can not be shown
	SignHere  string   `json:"signHere"` // under an empty line
	Pinned    string   `json:"pinned"`   // what the pin is good for
	Pin       string   `json:"pin"`      // heading of the pin
	Practice  string   `json:"practice"` // in one word
	Imperial  bool     `json:"imperial"` // lengths in feet
}

// Section is one part of a paper. Its members stand in this order; those that are empty are left out.
type Section struct {
	ID       string         `json:"id"` // for comparing one issue with the next
	Title    string         `json:"title"`
	Text     []string       `json:"text"`
	Framed   bool           `json:"framed"` // its text stands in a frame
	Pairs    []Pair         `json:"pairs"`
	Steps    []string       `json:"steps"` // numbered
	Ticks    []string       `json:"ticks"` // each with a box to tick by hand
	Notes    []Pair         `json:"notes"` // explained under a letter
	Keys     *KeyBlock      `json:"keys"`
	Pad      bool           `json:"pad"` // the keypad, with nothing marked
	Lessons  []guide.Step   `json:"lessons"`
	Sounds   []Sound        `json:"sounds"`
	Table    *Table         `json:"table"`
	Strips   []Strip        `json:"strips"`
	Findings []Finding      `json:"findings"`
	Sum      *worked.Sheet  `json:"sum"`
	Plans    []drawing.Plan `json:"plans"`
	Fields   []Field        `json:"fields"`
	Photos   []Photo        `json:"photos"`
	Signs    []Sign         `json:"signs"`
	Own      bool           `json:"own"` // about the issue itself: not compared with the one before
}

// Pair is a line of a data sheet. One without a value is a line to be filled in by hand.
type Pair struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

// Table is a table for people.
type Table struct {
	Head   []string   `json:"head"`
	Widths []float64  `json:"widths"` // parts of the whole
	Rows   [][]string `json:"rows"`
	Empty  string     `json:"empty"` // said when there are no rows
	Key    int        `json:"key"`   // column that tells rows apart
}

// Sound is a sound pattern with its meaning.
type Sound struct {
	Name  string    `json:"name"`
	Beats []float64 `json:"beats"` // s on, s off, s on ...; drawn over Span
	Span  float64   `json:"span"`  // s
	Means string    `json:"means"`
	Do    string    `json:"do"`
}

// Strip is one step of a run with its four stops.
type Strip struct {
	Zone  string    `json:"zone"`
	Title string    `json:"title"`
	Say   string    `json:"say"`
	Stops [4]string `json:"stops"` // detector, panel, line, station: unproved, waiting, half, proved, failed
	Hops  [3]string `json:"hops"`  // "1.9 s", "read back"
}

// Finding is what a rule found.
type Finding struct {
	Grave string `json:"grave"` // "STOP" in the reader's language
	Where string `json:"where"`
	Say   string `json:"say"`
	Do    string `json:"do"`
}

// Photo is a photograph of the job.
type Photo struct {
	Address string `json:"address"` // of the sealed blob
	Media   string `json:"media"`
	Say     string `json:"say"`
}

// Sign is a place for a signature.
type Sign struct {
	As      string     `json:"as"`  // technician, owner
	Say     string     `json:"say"` // "Technician"
	Name    string     `json:"name"`
	When    string     `json:"when"` // "2026-09-15 14:31, entry 27"; "" not signed
	Strokes [][][2]int `json:"strokes"`
	Old     bool       `json:"old"` // there is one, of an earlier state: it does not stand under this
}

// Missing is what a document still lacks.
type Missing struct {
	Say   string `json:"say"`
	Stage string `json:"stage"` // where it is mended: survey, schedule, key, prove, hand
}

// Make writes a document. When it was issued before, what changed since then stands on top of it.
func Make(k Kind, j Job) Paper {
	p := write(k, j)
	if j.Before == nil {
		return p
	}
	l := j.Lang
	p.Changed = []string{}
	for _, c := range Changes(l, write(k, *j.Before), p) {
		p.Changed = append(p.Changed, c.String())
	}
	const most = 60
	text := slices.Clone(p.Changed[:min(len(p.Changed), most)])
	if more := len(p.Changed) - most; more > 0 {
		text = append(text, l.Say("And %d more.", more))
	}
	if len(text) == 0 {
		text = []string{l.Say("None.")}
	}
	p.Sections = slices.Insert(p.Sections, 0, Section{ID: "changes", Own: true, Title: l.Say("Changes since the issue of %s", l.Day(j.Issued.In(j.Zone))), Text: text})
	return p
}

// writer writes one paper.
type writer struct {
	Job
	*Paper
	l *words.Language
	s *site.Site
}

func write(k Kind, j Job) Paper {
	if j.Zone == nil {
		j.Zone = time.UTC
	}
	if j.Units == "" {
		j.Units = j.State.Site.Premises.Units
	}
	l, state := j.Lang, j.State
	p := Paper{
		Kind: k.ID, For: k.For, Lang: l.Tag(), Title: k.title(l), Name: state.Name(), On: l.Day(j.Day),
		Sections: []Section{}, Missing: []Missing{}, Signs: []Sign{}, Dates: []Due{},
		Pin: Pin{Job: state.Job, Seq: state.Seq, Hash: state.Head},
	}
	for _, line := range state.Log {
		if line.At.After(p.Made) {
			p.Made = line.At
		}
	}
	if j.File != nil {
		p.Pin = Pin{Hash: *j.File}
		p.Made = j.Day
	}
	p.AsOf = l.Say("As of entry %d of the job book, %s", p.Pin.Seq, moment(l, p.Made.In(j.Zone)))
	p.Frame = frame(l, j)
	if j.File != nil {
		p.AsOf = l.Say("Made from a site file")
		p.Frame.Entry = l.Say("Site file, SHA-256 %s", p.Pin.Hash.String()[:16])
		p.Frame.Pinned = l.Say("Made from the site file with this SHA-256. It is in no job book: proofbell verify does not know it.")
	}
	if state.Site.Practice {
		p.Practice = l.Say("PRACTICE. This can never become a certificate.")
	}
	if k.keys() {
		p.Practice = NeverKey(l, state.Site)
	}
	w := &writer{Job: j, Paper: &p, l: l, s: state.Site}
	k.make(w)
	if len(k.Signs) > 0 {
		w.signatures(k)
	}
	return p
}

func (k Kind) title(l *words.Language) string { return said(l, k.Title) }

// said says a sentence that went through words.Mark.
func said(l *words.Language, marked string) string { return l.Word(marked) }

func moment(l *words.Language, at time.Time) string { return l.Moment(at) + at.Format(" MST") }

func frame(l *words.Language, j Job) Frame {
	return Frame{
		Page: l.Say("Page %s of %s", "{n}", "{pages}"), Entry: l.Say("Job book entry %d, %s", j.State.Seq, j.State.Head.String()[:16]), Continued: l.Say("continued"),
		Key:      l.Say("Circle smoke or gas, triangle heat, square contact, half round motion or glass, hexagon listening bridge, pentagon button, cross other. Filled: part of the system, with its zone. Outlined: self-contained alarm, with its name."),
		States:   []string{l.Say("unproved"), l.Say("waiting"), l.Say("sounder and link proved, entry of smoke not tested"), l.Say("proved"), l.Say("failed")},
		NotDrawn: l.Say("Not drawn"), NoPhoto: l.Say("This photograph can not be printed; it is kept in the job book."), SignHere: l.Say("Name, date, signature"),
		Pinned: l.Say("Made from the job book as it stood at that entry. Whether the book or this document was changed later shows: proofbell verify FILE."),
		Pin:    l.Say("Pin"), Practice: l.Say("PRACTICE"), Imperial: j.Units == "imperial",
	}
}

func (w *writer) add(s Section) { w.Sections = append(w.Sections, s) }

func (w *writer) lack(stage, say string) {
	w.Missing = append(w.Missing, Missing{Say: say, Stage: stage})
}

func (w *writer) pair(list *[]Pair, name, value string) {
	if value != "" {
		*list = append(*list, Pair{name, value})
	}
}

func (w *writer) signatures(k Kind) {
	l := w.l
	names := map[string]string{"technician": l.Say("For the firm"), "owner": l.Say("Owner or agent")}
	s := Section{ID: "signatures", Own: true, Title: l.Say("Signatures")}
	for _, as := range k.Signs {
		sig, ok, older := w.State.Signature(k.ID, as)
		x := Sign{As: as, Say: names[as], Old: older, Strokes: [][][2]int{}}
		switch {
		case ok:
			x.Name, x.Strokes = sig.Name, append(x.Strokes, sig.Strokes...)
			x.When = l.Moment(sig.At.In(w.Zone))
		case older:
			w.lack("hand", l.Say("%s: signed before the last changes; sign again", names[as]))
		default:
			w.lack("hand", l.Say("%s: not signed yet", names[as]))
		}
		s.Signs = append(s.Signs, x)
	}
	if k.For == Authority {
		s.Signs = append(s.Signs, Sign{Say: l.Say("Seen by the authority"), Strokes: [][][2]int{}})
	}
	w.Signs = s.Signs
	w.add(s)
}

func join(by string, parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(p string) bool { return strings.TrimSpace(p) == "" }), by)
}
