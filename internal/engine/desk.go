package engine

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/prove"
	"proofbell/panel"
	"proofbell/rules"
	"proofbell/site"
)

// ViewArg is the argument of the calls that show something.
type ViewArg struct {
	Job     evidence.JobID               `json:"job"`
	Now     time.Time                    `json:"now"`
	Lang    string                       `json:"lang"` // BCP 47; empty: English
	Run     string                       `json:"run"`
	Limit   int                          `json:"limit"`
	AsFound map[string]map[string]string `json:"asFound"`

	Scope    *prove.Options `json:"scope"`    // job.prove: the plan of a run that is not open yet
	Families []string       `json:"families"` // job.prove: what the call to the station is about
}

// views are the calls that show something. Each is a pure function of the job and the moment.
var views = map[string]func(*Desk, ViewArg) (any, error){
	"job.header":   func(d *Desk, a ViewArg) (any, error) { return d.Header(a.Now), nil },
	"job.survey":   func(d *Desk, a ViewArg) (any, error) { return d.Survey(a.Now), nil },
	"job.schedule": func(d *Desk, a ViewArg) (any, error) { return d.Schedule(a.Now) },
	"job.keying":   func(d *Desk, a ViewArg) (any, error) { return d.Keying(a.Now, asFound(a.AsFound)) },
	"job.prove":    func(d *Desk, a ViewArg) (any, error) { return d.proving(a.Now, a), nil },
	"job.log":      func(d *Desk, a ViewArg) (any, error) { return d.Log(a.Limit), nil },
}

// Desk lays out a job for its stages. It keeps what is dear to compute until the job changes.
type Desk struct {
	State   *book.State
	Waiting int // entries that the server has not ordered yet

	profile  *panel.Profile
	findings map[string]checked // by day
	plans    map[string][]prove.Step
	judged   map[prove.RunID]judged // newest outcome of each run
}

type judged struct {
	at      time.Time
	outcome prove.Outcome
}

type checked struct {
	findings []rules.Finding
	err      error
}

// NewDesk lays out a state. It must not change afterwards.
func NewDesk(state *book.State, waiting int) *Desk {
	d := &Desk{State: state, Waiting: waiting, findings: map[string]checked{}, plans: map[string][]prove.Step{}, judged: map[prove.RunID]judged{}}
	if p, err := panel.Builtin(state.Site.Panel.Profile); err == nil {
		d.profile = p
	}
	return d
}

// zone returns the time zone of the site, UTC when it is not known.
func (d *Desk) zone() *time.Location {
	if loc, err := time.LoadLocation(d.State.Site.Premises.TimeZone); err == nil {
		return loc
	}
	return time.UTC
}

// Findings returns what the rules find on the site's day, accepted ones marked.
func (d *Desk) Findings(now time.Time) ([]rules.Finding, error) {
	day := now.In(d.zone())
	key := day.Format(time.DateOnly)
	c, ok := d.findings[key]
	if !ok {
		var accepted []rules.Acceptance
		for _, a := range d.State.Accepted {
			accepted = append(accepted, rules.Acceptance{Key: a.Key, Reason: a.Reason, By: string(a.By), At: a.At.UTC().Format(time.RFC3339)})
		}
		found, err := rules.Check(d.State.Site, d.profile, time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, time.UTC))
		c = checked{rules.Merge(found, accepted), err}
		d.findings[key] = c
	}
	return c.findings, c.err
}

// Plan returns the steps of a run's scope.
func (d *Desk) Plan(o prove.Options) []prove.Step {
	key := fmt.Sprintf("%+v", o)
	if _, ok := d.plans[key]; !ok {
		d.plans[key] = prove.Plan(d.State.Site, d.profile, o)
	}
	return d.plans[key]
}

// Header is what every stage shows on top.
func (d *Desk) Header(now time.Time) Header {
	s := d.State.Site
	h := Header{
		Job: string(d.State.Job), Seq: d.State.Seq, Name: d.State.Name(), Practice: s.Practice, Erased: d.State.Erased,
		Account: s.Account.Number, Station: s.Station.Name, Waiting: d.Waiting, Real: prove.RealSmoke(s), OnTest: d.banner(now),
		Stages: d.stages(now), People: []Person{}, Conflicts: d.conflicts(),
	}
	on := "Not on test."
	if h.OnTest != nil && !h.OnTest.Lapsed {
		on = "On test."
	}
	switch {
	case h.Account == "":
		h.Line = "No account yet. " + on
	case h.Station == "":
		h.Line = fmt.Sprintf("Account %s. %s", h.Account, on)
	default:
		h.Line = fmt.Sprintf("Account %s, %s. %s", h.Account, h.Station, on)
	}
	for _, id := range site.SortedIDs(s.People) {
		p := s.People[id]
		switch p.Role {
		case "technician", "junior", "electrician":
			h.People = append(h.People, Person{ID: string(id), Name: p.Name, Role: p.Role})
		}
	}
	return h
}

func (d *Desk) banner(now time.Time) *Banner {
	run := d.State.OpenRun()
	if run == nil {
		return nil
	}
	w := run.Window
	state := w.State(now)
	if state != prove.WindowOpen && state != prove.WindowReadBack && state != prove.WindowLapsed {
		return nil
	}
	b := &Banner{
		Run: string(run.ID), State: string(state), Until: w.Until.UTC().Format(time.RFC3339), Covers: prove.SayFamilies(w.Families),
		NotOnTest: prove.SayFamilies(prove.NotCovered(w.Families)), Lapsed: state == prove.WindowLapsed,
	}
	b.Say = fmt.Sprintf("%s: %s. Nobody is coming.", w.Account, b.Covers)
	if b.Lapsed {
		b.Say = fmt.Sprintf("%s: the time ran out. The account is live: trip nothing.", w.Account)
	}
	return b
}

func (d *Desk) conflicts() []Conflict {
	out := []Conflict{}
	for _, c := range d.State.Conflicts {
		out = append(out, Conflict{
			Key: c.Key, Entry: string(c.Entry), Path: c.Path, Where: book.Place(c.Path), Before: plain(c.Before), After: plain(c.After),
			By: d.name(string(c.By)), At: c.At.UTC().Format(time.RFC3339), Held: c.Held,
		})
	}
	return out
}

// plain shows a JSON value as a person would write it.
func plain(raw []byte) string {
	var text string
	switch word := string(raw); {
	case word == "null":
		return "nothing"
	case word == "true":
		return "yes"
	case word == "false":
		return "no"
	case json.Unmarshal(raw, &text) == nil:
		return text
	default:
		return word
	}
}

// name returns a person's name for an opaque id, or the id itself.
func (d *Desk) name(id string) string {
	if p, ok := d.State.Site.People[site.PersonID(id)]; ok && p.Name != "" {
		return p.Name
	}
	switch id {
	case "receiver":
		return "Receiver"
	case "someone":
		return "Someone"
	}
	return id
}

func (d *Desk) stages(now time.Time) []Stage {
	s := d.State.Site
	stages := []Stage{
		{ID: "survey", Name: "Survey"},
		{ID: "schedule", Name: "Schedule"},
		{ID: "key", Name: "Key in"},
		{ID: "prove", Name: "Prove"},
		{ID: "hand", Name: "Hand over"},
		{ID: "look", Name: "Look after"},
	}
	open := 0
	for _, q := range s.Questions {
		if q.Answer == "" {
			open++
		}
	}
	stages[0].Left = count(open, "question open", "questions open", "no question open")
	if len(s.Rooms) == 0 {
		stages[0].Left = "no room yet"
	}
	findings, err := d.Findings(now)
	n := rules.Count(findings)
	switch {
	case err != nil:
		stages[1].Left = "not checked"
	case n.Stop+n.Fix > 0:
		stages[1].Left = fmt.Sprintf("%s, %d to fix", count(n.Stop, "stop", "stops", "no stop"), n.Fix)
	default:
		stages[1].Left = count(n.Advise, "to consider", "to consider", "nothing found")
	}
	keyed, zones := 0, 0
	for _, z := range s.Zones {
		if z.Kind == site.Unused {
			continue
		}
		zones++
		if z.Keyed {
			keyed++
		}
	}
	stages[2].Left = fmt.Sprintf("%d of %d zones", keyed, zones)
	stages[3].Left = d.proveLine(now)
	stages[4].Left = count(len(d.State.Issued), "document issued", "documents issued", "nothing issued")
	due := 0
	for _, f := range findings {
		if strings.HasPrefix(f.Rule, "age.") && f.Accepted == nil && !f.NotJudged {
			due++
		}
	}
	stages[5].Left = count(due, "thing due", "things due", "nothing due")
	return stages
}

func count(n int, one, many, none string) string {
	switch n {
	case 0:
		return none
	case 1:
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func (d *Desk) proveLine(now time.Time) string {
	if len(d.State.Runs) == 0 {
		return "no run yet"
	}
	run := d.State.OpenRun()
	if run == nil {
		run = d.State.Runs[len(d.State.Runs)-1]
	}
	c := d.outcome(run, now).Counters
	return fmt.Sprintf("%d of %d proved", c.Proved, c.Total)
}

func (d *Desk) outcome(run *prove.Run, now time.Time) prove.Outcome {
	if !run.Closed.IsZero() && now.After(run.Closed) {
		now = run.Closed // a closed run is judged as it was closed
	}
	if j, ok := d.judged[run.ID]; ok && j.at.Equal(now) {
		return j.outcome
	}
	out := prove.Match(d.Plan(run.Scope), run.Observations(), run.Clocks, now)
	d.judged[run.ID] = judged{now, out}
	return out
}
