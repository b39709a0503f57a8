package engine

import (
	"errors"
	"strings"
	"time"

	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/papers"
	"proofbell/internal/practice"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/rules"
	"proofbell/site"
)

// Practice is a job with planted mistakes: what was named, and once it was handed in, how it was marked.
type Practice struct {
	On        bool                `json:"on"`     // mistakes are planted in this job
	Handed    bool                `json:"handed"` // and it was handed in
	Planted   int                 `json:"planted"`
	Seed      int                 `json:"seed"`
	Level     int                 `json:"level"`
	Day       string              `json:"day"` // for which it is judged, in words
	Named     []NamedFault        `json:"named"`
	Groups    []PlaceGroup        `json:"groups"`  // what can be named
	Sayings   []Choice            `json:"sayings"` // what can be wrong with it
	Facts     []FactSheet         `json:"facts"`   // what no stage shows line by line
	Marks     *practice.Marks     `json:"marks"`   // nil until it was handed in
	Rehearsal []PracticeRehearsal `json:"rehearsal"`
	Note      string              `json:"note"` // what this is and what it is not
}

// NamedFault is a fault that the learner named.
type NamedFault struct {
	Entry string `json:"entry"`
	Where string `json:"where"`
	What  string `json:"what"`
}

// PlaceGroup is all of one kind that can be named.
type PlaceGroup struct {
	Kind   string   `json:"kind"`
	Say    string   `json:"say"`
	Places []Choice `json:"places"`
}

// PracticeRehearsal is one rehearsal in words.
type PracticeRehearsal struct {
	Keys    int     `json:"keys"`
	Slips   int     `json:"slips"`
	Seconds float64 `json:"seconds"`
	Right   int     `json:"right"`
	Zones   int     `json:"zones"`
	Say     string  `json:"say"`
}

// PracticeMade is a practice site ready to begin a job from.
type PracticeMade struct {
	Text string `json:"text"` // site file as JSON
}

// PracticeKey is the key of a practice site, made anew to mark it.
type PracticeKey struct {
	Key []string `json:"key"`
}

// Hides reports whether what the rules find is to be kept from whoever works on the job.
func (d *Desk) Hides() bool { return d.State.Hides() }

// hiddenStops keeps the reason why a zone is not keyed from a learner; that the panel does not take it can be seen.
func (d *Desk) hiddenStops(stops []string) []string {
	if !d.Hides() || len(stops) == 0 {
		return stops
	}
	return []string{d.lang.Say("The panel does not take this zone as it is described.")}
}

var placeKinds = map[string]string{
	"zone": words.Mark("Zone"), "head": words.Mark("Self-contained alarm"), "group": words.Mark("Interconnect group"), "room": words.Mark("Room"), "storey": words.Mark("Storey"),
	"area": words.Mark("Area"), "setting": words.Mark("Setting of the panel"), "power": words.Mark("Power"), "path": words.Mark("Path"), "contact": words.Mark("Person to call"),
	"station": words.Mark("Station"), "premises": words.Mark("Premises"),
}

// Practice lays out the practice of a job.
func (d *Desk) Practice() (Practice, error) {
	st := d.State.Practice
	v := Practice{
		Named: []NamedFault{}, Facts: []FactSheet{}, Groups: []PlaceGroup{}, Sayings: []Choice{}, Rehearsal: []PracticeRehearsal{},
		Note: papers.PracticeNote(d.lang),
	}
	if st.Given == nil || st.Given.Planted == nil {
		return v, nil
	}
	s, planted := st.Given, st.Given.Planted
	v.On, v.Handed, v.Seed, v.Level, v.Day = true, !st.Handed.IsZero(), planted.Seed, planted.Level, d.lang.Day(planted.On.First())
	if at := planted.Level - 1; at >= 0 && at < len(practice.Levels) {
		v.Planted = practice.Levels[at]
	}
	for _, n := range st.Named {
		saying, _ := practice.Find(n.What)
		v.Named = append(v.Named, NamedFault{Entry: string(n.Entry), Where: practice.Where(d.lang, s, rules.Place{Kind: n.Kind, ID: n.ID}), What: d.lang.Word(saying.Say)})
	}
	for _, p := range practice.Places(s) {
		if n := len(v.Groups); n == 0 || v.Groups[n-1].Kind != p.Kind {
			v.Groups = append(v.Groups, PlaceGroup{Kind: p.Kind, Say: d.lang.Word(placeKinds[p.Kind])})
		}
		g := &v.Groups[len(v.Groups)-1]
		g.Places = append(g.Places, Choice{Value: p.ID, Say: practice.Where(d.lang, s, p)})
	}
	for _, one := range practice.Sayings {
		v.Sayings = append(v.Sayings, Choice{Value: one.ID, Say: d.lang.Word(one.Say)})
	}
	for _, r := range st.Rehearsed {
		v.Rehearsal = append(v.Rehearsal, PracticeRehearsal{Keys: r.Keys, Slips: r.Slips, Seconds: r.Seconds, Right: r.Right, Zones: r.Zones, Say: d.rehearsedSay(r)})
	}
	v.Facts = d.facts(s)
	if v.Handed {
		marks, err := d.marks()
		if err != nil {
			return v, err
		}
		v.Marks = &marks
	}
	return v, nil
}

func (d *Desk) rehearsedSay(r book.PracticeBody) string {
	return d.lang.Say("%d of %d zones as wanted, %d keys, %d of them wrong, %s", r.Right, r.Zones, r.Keys, r.Slips, took(r.Seconds))
}

// marking is what the result on paper is made from; nil until a practice was handed in.
func (d *Desk) marking() (*papers.Marking, error) {
	st := d.State.Practice
	if st.Given == nil || st.Handed.IsZero() {
		return nil, nil
	}
	marks, err := d.marks()
	if err != nil {
		return nil, err
	}
	m := &papers.Marking{Marks: marks, Planted: practice.GivenOut(d.lang, st.Given), Handed: words.Join(d.lang.Moment(st.Handed.In(d.zone())), d.name(string(st.By)))}
	for _, r := range st.Rehearsed {
		m.Rehearsed = append(m.Rehearsed, d.rehearsedSay(r))
	}
	return m, nil
}

// took writes a time of work: "12:05".
func took(seconds float64) string {
	return time.Time{}.Add(time.Duration(seconds) * time.Second).Format("04:05")
}

// marks marks a practice that was handed in.
func (d *Desk) marks() (practice.Marks, error) {
	st := d.State.Practice
	var named []practice.Answer
	for _, n := range st.Named {
		named = append(named, practice.Answer{Place: rules.Place{Kind: n.Kind, ID: n.ID}, What: n.What})
	}
	return practice.Mark(d.lang, st.Given, d.profileOf(st.Given), st.Key, named, st.Given.Planted.On.First())
}

// makePractice plants mistakes in a sound site file.
func makePractice(argument []byte) (any, error) {
	arg, err := read[struct {
		File, Text  string
		Seed, Level int
		On          string
		Lang        string
	}](argument)
	if err != nil {
		return nil, err
	}
	s, p, err := soundSite(arg.File, arg.Text, arg.Lang)
	if err != nil {
		return nil, err
	}
	on, err := time.Parse(time.DateOnly, arg.On)
	if err != nil {
		return nil, &Problem{Code: "bad-request", Say: words.Mark("This is not a day."), Try: words.Mark("Write it as 2026-09-15."), Err: err}
	}
	made, err := practice.Make(s, p, arg.Seed, arg.Level, on)
	if err != nil {
		return nil, practiceProblem(err)
	}
	made.Site.Name = practice.Name(words.In(arg.Lang), made.Site)
	raw, err := site.EncodeJSON(made.Site)
	if err != nil {
		return nil, err
	}
	return PracticeMade{Text: string(raw)}, nil
}

// practiceKey makes the key of a job anew from the sound site that it came from.
func (e *Engine) practiceKey(argument []byte) (any, error) {
	arg, err := read[struct {
		Job              evidence.JobID
		File, Text, Lang string
	}](argument)
	if err != nil {
		return nil, err
	}
	h, err := e.book(arg.Job)
	if err != nil {
		return nil, err
	}
	given := h.current().State.Practice.Given
	if given == nil || given.Planted == nil {
		return nil, &Problem{Code: "not-found", Say: words.Mark("No mistakes are planted in this job."), Try: words.Mark("Begin a practice on the page of all jobs.")}
	}
	s, p, err := soundSite(arg.File, arg.Text, arg.Lang)
	if err != nil {
		return nil, err
	}
	made, err := practice.Again(given.Planted, s, p)
	if err != nil {
		return nil, practiceProblem(err)
	}
	return PracticeKey{Key: made.Key}, nil
}

func soundSite(file, text, lang string) (*site.Site, *panel.Profile, error) {
	decode := site.DecodeYAML
	if strings.HasSuffix(file, ".json") {
		decode = site.DecodeJSON
	}
	s, err := decode(file, []byte(text))
	if err != nil {
		return nil, nil, &Problem{Code: "bad-request", text: words.Said(err), Try: words.Mark("Choose the site file that the practice was made from."), Err: err}
	}
	p, _ := panel.Builtin(s.Panel.Profile) // nil for one that is not known: what depends on it is then not planted
	return s, p, nil
}

func practiceProblem(err error) error {
	code, try := "bad-request", words.Mark("Choose another site, or a lower level.")
	if errors.Is(err, practice.ErrSource) {
		code, try = "other-source", words.Mark("Choose the site file that the practice was made from.")
	}
	said := map[error]string{
		practice.ErrNotSound: words.Mark("The site has stops or things to fix of its own: mistakes are planted in a sound one."),
		practice.ErrLevel:    words.Mark("There are levels 1 to 3."),
		practice.ErrFew:      words.Mark("The site is too small to hold so many mistakes."),
		practice.ErrSource:   words.Mark("This is not the site that the mistakes were planted in."),
	}
	for cause, say := range said {
		if errors.Is(err, cause) {
			return &Problem{Code: code, Say: say, Try: try, Err: err}
		}
	}
	return err
}
