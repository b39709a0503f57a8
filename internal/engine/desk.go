package engine

import (
	"slices"
	"time"

	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/guide"
	"proofbell/internal/keypad"
	"proofbell/internal/placing"
	"proofbell/internal/prove"
	"proofbell/internal/survey"
	"proofbell/internal/upkeep"
	"proofbell/internal/words"
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
	Known    []string       `json:"known"`    // job.told: what was told before; null: nothing was ever told
	History  HistoryArg     `json:"history"`  // job.history

	Ahead  int    `json:"ahead"`  // job.look: months that are looked ahead; 0 as the rule set says
	About  string `json:"about"`  // job.callout: JSON pointer of a device or an alarm
	Random string `json:"random"` // job.stickers: random bytes for new tokens
	Origin string `json:"origin"` // job.stickers: address under which the server is found

	Identity IdentityArg `json:"identity"` // job.identity

	keypad.At        // job.lost: the card that does not fit
	Prompt    string `json:"prompt"` // job.lost: what that card says the panel shows
	Shown     string `json:"shown"`  // job.lost: what the panel shows instead; empty: asks what it can show

	Seen  []keypad.Seen    `json:"seen"`  // job.reading: what was seen of a zone so far, card by card
	Full  bool             `json:"full"`  // job.reading: every answer, even where a sum agrees
	Stop  bool             `json:"stop"`  // job.reading: the zone is left now
	Table evidence.EntryID `json:"table"` // job.rollback: the entry of a table that was found
	Text  string           `json:"text"`  // job.table: a zone table as a file

	Paper string `json:"paper"` // job.paper: kind of document
	Units string `json:"units"` // of documents: metric, imperial; empty: as the site says

	Zones  []site.ZoneID `json:"zones"`  // job.guide, job.paper: only these; none: as the document does by itself
	Reader guide.Reader  `json:"reader"` // job.guide

	CircuitArg
	FieldArg // sound.rooms, radio.places, field.map

	Room site.RoomID `json:"room"` // reach.room

	With placing.With `json:"with"` // placing.advise: what is added, heads or detectors; empty: heads
}

// views are the calls that show something. Each is a pure function of the job and the moment.
var views = map[string]func(*Desk, ViewArg) (any, error){
	"job.header":   func(d *Desk, a ViewArg) (any, error) { return d.Header(a.Now), nil },
	"job.survey":   func(d *Desk, a ViewArg) (any, error) { return d.Survey(a.Now), nil },
	"job.schedule": func(d *Desk, a ViewArg) (any, error) { return d.Schedule(a.Now) },
	"job.keying":   func(d *Desk, a ViewArg) (any, error) { return d.Keying(a.Now, asFound(a.AsFound)) },
	"job.identity": func(d *Desk, a ViewArg) (any, error) { return d.ReadIdentity(a.Identity), nil },
	"job.practice": func(d *Desk, _ ViewArg) (any, error) { return d.Practice() },
	"job.labels":   func(d *Desk, _ ViewArg) (any, error) { return d.Labels() },
	"job.readout":  func(d *Desk, a ViewArg) (any, error) { return d.ReadOut() },
	"job.reading":  func(d *Desk, a ViewArg) (any, error) { return d.Reading(a) },
	"job.rollback": func(d *Desk, a ViewArg) (any, error) { return d.RollBack(a.Table) },
	"job.table":    func(d *Desk, a ViewArg) (any, error) { return d.TableFile(a.Text) },
	"job.prove":    func(d *Desk, a ViewArg) (any, error) { return d.proving(a.Now, a), nil },
	"job.told":     func(d *Desk, a ViewArg) (any, error) { return d.told(a.Now, a), nil },
	"job.history":  func(d *Desk, a ViewArg) (any, error) { return d.History(a.Now, d.runOf(a.Run), a.History) },
	"job.papers":   func(d *Desk, a ViewArg) (any, error) { return d.Papers(a.Now, a.Units) },
	"job.paper":    paperOf,
	"job.guide":    func(d *Desk, a ViewArg) (any, error) { return d.Guide(a.Now, a.Reader, a.Zones) },
	"job.log":      func(d *Desk, a ViewArg) (any, error) { return d.Log(a.Limit), nil },
	"job.look":     func(d *Desk, a ViewArg) (any, error) { return d.Look(a.Now, a.Ahead) },
	"job.callout":  func(d *Desk, a ViewArg) (any, error) { return d.CallOut(a.Now, a.About), nil },
	"job.takeover": func(d *Desk, a ViewArg) (any, error) { return d.TakeOver(a.Now), nil },
	"sound.rooms":  func(d *Desk, a ViewArg) (any, error) { return d.SoundRooms(a.FieldArg) },
	"radio.links":  func(d *Desk, _ ViewArg) (any, error) { return d.RadioLinks(), nil },
	"radio.places": func(d *Desk, a ViewArg) (any, error) {
		r := d.Radio()
		return r.Repeaters(a.Wired).View(d.lang, r), nil
	},
	"reach.rooms":  func(d *Desk, a ViewArg) (any, error) { return d.ReachRooms(a.Now) },
	"reach.room":   func(d *Desk, a ViewArg) (any, error) { return d.ReachRoom(a.Now, a.Room, a.Patch) },
	"reach.helps":  func(d *Desk, a ViewArg) (any, error) { return d.ReachHelps(a.Now) },
	"field.map":    func(d *Desk, a ViewArg) (any, error) { return d.Field(a.FieldArg) },
	"circuit.list": func(d *Desk, _ ViewArg) (any, error) { return d.Circuits() },
	"circuit.drop": func(d *Desk, a ViewArg) (any, error) { return d.CircuitDrop(a.CircuitArg, a.Patch) },
	"circuit.loop": func(d *Desk, a ViewArg) (any, error) { return d.CircuitLoop(a.CircuitArg, a.Patch) },

	"power.standby":   func(d *Desk, a ViewArg) (any, error) { return d.Standby(a.Now, a.Patch) },
	"power.batteries": func(d *Desk, a ViewArg) (any, error) { return d.Batteries(a.Now, a.Patch) },

	"placing.advise": func(d *Desk, a ViewArg) (any, error) { return d.Placing(a.Now, a.With) },

	"job.index":    func(d *Desk, _ ViewArg) (any, error) { return d.Index(), nil },
	"job.lost":     func(d *Desk, a ViewArg) (any, error) { return d.Lost(a.At, a.Prompt, a.Shown) },
	"job.stickers": func(d *Desk, a ViewArg) (any, error) { return d.Stickers(a.Random, a.Origin) },
}

// Desk lays out a job for its stages. It keeps what is dear to compute until the job changes.
type Desk struct {
	State   *book.State
	Waiting int // entries that the server has not ordered yet

	*kept
	lang   *words.Language
	judged map[string]judged      // newest outcome of each run, by language
	due    map[string]upkeep.List // by day, language and months ahead
}

// In returns the desk in a language. What was computed is shared.
func (d *Desk) In(lang *words.Language) *Desk {
	other := *d
	other.lang = lang
	return &other
}

type judged struct {
	at      time.Time
	outcome prove.Outcome
}

// NewDesk lays out a state. It must not change afterwards.
func NewDesk(state *book.State, waiting int) *Desk { return layOut(state, waiting, nil) }

// layOut is NewDesk after another desk of the same job, of which it takes over what still holds; nil: after none.
func layOut(state *book.State, waiting int, before *kept) *Desk {
	return &Desk{State: state, Waiting: waiting, kept: keep(before, state), judged: map[string]judged{}, due: map[string]upkeep.List{}}
}

// zone returns the time zone of the site, UTC when it is not known.
func (d *Desk) zone() *time.Location { return d.local }

// Findings returns what the rules find on the site's day, accepted ones marked.
// In a practice that was not handed in they are hidden.
func (d *Desk) Findings(now time.Time) ([]rules.Finding, error) {
	if d.Hides() {
		return nil, nil
	}
	day := now.In(d.zone())
	c := d.check(d.lang, time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, time.UTC), d.measured())
	var accepted []rules.Acceptance
	for _, a := range d.State.Accepted {
		accepted = append(accepted, rules.Acceptance{Key: a.Key, Reason: a.Reason, By: string(a.By), At: a.At.UTC().Format(time.RFC3339)})
	}
	return rules.Merge(c.findings, accepted), c.err
}

// Plan returns the steps of a scope as the site stands now.
func (d *Desk) Plan(o prove.Options) []prove.Step { return d.plan(d.lang, d.State.Site, o) }

// PlanOf returns the steps of a run: of the site as it was when the run was opened, or its new plan taken in.
func (d *Desk) PlanOf(run *prove.Run) []prove.Step {
	return d.plan(d.lang, d.State.SiteOf(run.ID), run.Scope)
}

// Header is what every stage shows on top.
func (d *Desk) Header(now time.Time) Header {
	s := d.State.Site
	h := Header{
		Job: string(d.State.Job), Seq: d.State.Seq, Name: d.State.Name(), Practice: s.Practice, Erased: d.State.Erased,
		Account: s.Account.Number, Station: s.Station.Name, Waiting: d.Waiting, Real: prove.In(d.lang).RealSmoke(s), OnTest: d.banner(now),
		Stages: d.stages(now), People: []Person{}, Conflicts: d.conflicts(), PutBacks: d.openPutBacks(),
	}
	on := d.lang.Say("Not on test.")
	if h.OnTest != nil && !h.OnTest.Lapsed {
		on = d.lang.Say("On test.")
	}
	if handed := !d.State.Practice.Handed.IsZero(); handed || d.Hides() {
		h.Planted = &PlantedState{Named: len(d.State.Practice.Named), Handed: handed}
	}
	switch {
	case h.Account == "":
		h.Line = d.lang.Say("No account yet.") + " " + on
	case h.Station == "":
		h.Line = d.lang.Say("Account %s.", h.Account) + " " + on
	default:
		h.Line = d.lang.Say("Account %s, %s.", h.Account, h.Station) + " " + on
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
		Run: string(run.ID), State: string(state), Until: w.Until.UTC().Format(time.RFC3339), Covers: prove.In(d.lang).SayFamilies(w.Families),
		NotOnTest: prove.In(d.lang).SayFamilies(prove.NotCovered(w.Families)), Lapsed: state == prove.WindowLapsed, Seen: !w.FirstSeen.IsZero(),
	}
	b.Say = d.lang.Say("%s: %s. Nobody is coming.", w.Account, b.Covers)
	if b.Lapsed {
		b.Say = d.lang.Say("%s: the time ran out. The account is live: trip nothing.", w.Account)
	}
	return b
}

// name returns a person's name for an opaque id, or the id itself.
func (d *Desk) name(id string) string {
	if p, ok := d.State.Site.People[site.PersonID(id)]; ok && p.Name != "" {
		return p.Name
	}
	switch id {
	case "receiver":
		return d.lang.Say("Receiver")
	case "someone":
		return d.lang.Say("Someone")
	}
	return id
}

func (d *Desk) stages(now time.Time) []Stage {
	s := d.State.Site
	stages := []Stage{
		{ID: "survey", Name: d.lang.Say("Survey")},
		{ID: "schedule", Name: d.lang.Say("Schedule")},
		{ID: "key", Name: d.lang.Say("Key in")},
		{ID: "prove", Name: d.lang.Say("Prove")},
		{ID: "hand", Name: d.lang.Say("Hand over")},
		{ID: "look", Name: d.lang.Say("Look after")},
	}
	findings, err := d.Findings(now)
	stages[0].Left = d.count(toAsk(survey.Questions(d.lang, s, findings)), words.Mark("1 question open"), words.Mark("%d questions open"), words.Mark("no question open"))
	if len(s.Rooms) == 0 {
		stages[0].Left = d.lang.Say("no room yet")
	}
	n := rules.Count(findings)
	switch {
	case err != nil:
		stages[1].Left = d.lang.Say("not checked")
	case n.Stop+n.Fix > 0:
		stages[1].Left = d.lang.Say("%s, %d to fix", d.count(n.Stop, words.Mark("1 stop"), words.Mark("%d stops"), words.Mark("no stop")), n.Fix)
	default:
		stages[1].Left = d.count(n.Advise, words.Mark("1 to consider"), words.Mark("%d to consider"), words.Mark("nothing found"))
	}
	if d.Hides() {
		stages[0].Left, stages[1].Left = d.lang.Say("practice"), d.lang.Say("findings are hidden")
	}
	keyed, zones := 0, 0
	for id, z := range s.Zones {
		if z.Kind == site.Unused {
			continue
		}
		zones++
		if d.keyed(id) {
			keyed++
		}
	}
	stages[2].Left = d.lang.Say("%d of %d zones", keyed, zones)
	stages[3].Left = d.proveLine(now)
	stages[4].Left = d.count(len(d.State.Issued), words.Mark("1 document issued"), words.Mark("%d documents issued"), words.Mark("nothing issued"))
	due := 0
	if list, err := d.Due(now, 0); err == nil {
		for _, r := range list.Rounds {
			if r.State != upkeep.Later && r.State != upkeep.Coming {
				due++
			}
		}
	}
	stages[5].Left = d.count(due, words.Mark("1 round due"), words.Mark("%d rounds due"), words.Mark("nothing due"))
	return stages
}

// count says a number of things; one, many and none are marked.
func (d *Desk) count(n int, one, many, none string) string {
	switch n {
	case 0:
		return d.lang.Word(none)
	case 1:
		return d.lang.Say(one)
	}
	return d.lang.Say(many, n)
}

func (d *Desk) proveLine(now time.Time) string {
	if len(d.State.Runs) == 0 {
		return d.lang.Say("no run yet")
	}
	run := d.State.OpenRun()
	if run == nil {
		run = d.State.Runs[len(d.State.Runs)-1]
	}
	return d.provedSay(d.outcome(run, now).Counters)
}

// provedSay counts what is proved and never lets a test button pass for the whole.
func (d *Desk) provedSay(c prove.Counters) string {
	if c.Half > 0 {
		return d.lang.Say("%d of %d proved, %d of them by button only", c.Proved, c.Total, c.Half)
	}
	return d.lang.Say("%d of %d proved", c.Proved, c.Total)
}

func (d *Desk) runRow(r *prove.Run, now time.Time) RunRow {
	proved := d.provedSay(d.outcome(r, now).Counters)
	row := RunRow{ID: string(r.ID), Opened: r.Opened.UTC().Format(time.RFC3339), Line: d.lang.Say("%s, open", proved)}
	if !r.Closed.IsZero() {
		row.Closed = r.Closed.UTC().Format(time.RFC3339)
		row.Line = d.lang.Say("%s, closed %s", proved, d.lang.Day(r.Closed.In(d.zone())))
	}
	return row
}

func (d *Desk) outcome(run *prove.Run, now time.Time) prove.Outcome {
	if !run.Closed.IsZero() && now.After(run.Closed) {
		now = run.Closed // a closed run is judged as it was closed
	}
	key := string(run.ID) + " " + d.lang.Tag()
	if j, ok := d.judged[key]; ok && j.at.Equal(now) {
		return j.outcome
	}
	out := prove.In(d.lang).Match(d.PlanOf(run), d.observations(run), run.Clocks, now)
	d.judged[key] = judged{now, out}
	return out
}

// observations are those of a run that count: where a new plan was taken in, what was said before about a step that the
// change obliges to prove again was said of other hardware or of another program.
func (d *Desk) observations(run *prove.Run) prove.Observations {
	obs := run.Observations()
	plans := d.State.SitesOf(run.ID)
	for i := 1; i < len(plans); i++ {
		redo := d.obligedBy(plans[i-1].Site, plans[i].Site)
		obs.Ticks = slices.DeleteFunc(slices.Clone(obs.Ticks), func(t prove.Tick) bool { return redo[t.Step] && t.At.Before(plans[i].From) })
	}
	return obs
}

// obligedBy are the steps that a change from one site to another obliges by name.
func (k *kept) obligedBy(before, after *site.Site) map[prove.StepID]bool {
	key := sitePair{before, after}
	if steps, ok := k.redo[key]; ok {
		return steps
	}
	set, _, err := rules.SetOf(after.RuleSet)
	if err != nil {
		return nil // Reproof says it
	}
	steps := map[prove.StepID]bool{}
	for _, o := range upkeep.Affected(before, after, k.profileOf(after), set, nil, nil).Must {
		steps[o.Step] = true
	}
	k.redo[key] = steps
	return steps
}
