package engine

import (
	"slices"
	"strings"
	"sync"
	"time"

	"proofbell/internal/keypad"
	"proofbell/internal/papers"
	"proofbell/internal/prove"
	"proofbell/internal/sorts"
	"proofbell/internal/upkeep"
	"proofbell/internal/words"
	"proofbell/site"
)

// Papers is the hand-over stage: documents by reader, with what each still lacks.
type Papers struct {
	Bundles []Bundle    `json:"bundles"`
	Issued  []IssuedRow `json:"issued"` // newest first
}

// Bundle is what one reader gets.
type Bundle struct {
	For    string     `json:"for"` // owner, station, authority, file
	Title  string     `json:"title"`
	About  string     `json:"about"`
	Papers []PaperRow `json:"papers"`
}

// PaperRow is one document in its bundle.
type PaperRow struct {
	Kind    string           `json:"kind"`
	Title   string           `json:"title"`
	About   string           `json:"about"`
	Formats []string         `json:"formats"` // pdf first
	Missing []papers.Missing `json:"missing"`
	Signs   []papers.Sign    `json:"signs"` // who signs it; none: nobody
	Issued  string           `json:"issued"`
	Changes []string         `json:"changes"` // since it was issued last
	Extra   bool             `json:"extra"`   // goes out only when somebody asks for it
}

// IssuedRow is a document that was given out.
type IssuedRow struct {
	Entry   string `json:"entry"`
	Kind    string `json:"kind"`
	Title   string `json:"title"`
	For     string `json:"for"`
	Format  string `json:"format"`
	Lang    string `json:"lang"`
	At      string `json:"at"` // RFC 3339 UTC
	By      string `json:"by"`
	Seq     int64  `json:"seq"` // newest entry that it tells of
	Address string `json:"address"`
}

var readers = map[papers.Reader][2]string{
	papers.Owner:     {words.Mark("For the owner"), words.Mark("To live with the system: what to do, whom to call, what comes due")},
	papers.Station:   {words.Mark("For the station"), words.Mark("To act on signals: zones, people and actions, each apart")},
	papers.Authority: {words.Mark("For the authority"), words.Mark("What was built, how it was tested, what stays open")},
	papers.File:      {words.Mark("For the firm's own file"), words.Mark("Everything else that an inspector may ask to see")},
}

// Papers lays out the hand-over stage.
func (d *Desk) Papers(now time.Time, units string) (Papers, error) {
	l := d.lang
	v := Papers{Bundles: []Bundle{}, Issued: []IssuedRow{}}
	write, err := d.papersAt(now, units)
	if err != nil {
		return v, err
	}
	for _, r := range papers.Readers() {
		b := Bundle{For: string(r), Title: l.Word(readers[r][0]), About: l.Word(readers[r][1]), Papers: []PaperRow{}}
		for _, k := range papers.Kinds() {
			if k.For != r {
				continue
			}
			if k.Estimate() { // dear to make: its page computes it
				b.Papers = append(b.Papers, PaperRow{Kind: k.ID, Title: l.Word(k.Title), About: l.Word(k.About), Formats: k.Formats, Missing: []papers.Missing{}, Signs: []papers.Sign{}, Changes: []string{}, Extra: true})
				continue
			}
			p, err := write(k)
			if err != nil {
				return v, err
			}
			row := PaperRow{Kind: k.ID, Title: p.Title, About: l.Word(k.About), Formats: k.Formats, Missing: p.Missing, Signs: p.Signs, Changes: []string{}, Extra: k.Extra()}
			if last, ok := d.State.LastIssued(k.ID); ok {
				row.Issued = last.At.UTC().Format(time.RFC3339)
				row.Changes = append(row.Changes, p.Changed...)
			}
			b.Papers = append(b.Papers, row)
		}
		v.Bundles = append(v.Bundles, b)
	}
	for _, x := range slices.Backward(d.State.Issued) {
		row := IssuedRow{
			Entry: string(x.Entry), Kind: x.What, Title: x.What, For: x.For, Format: x.Format, Lang: x.Lang, At: x.At.UTC().Format(time.RFC3339),
			By: d.name(string(x.By)), Seq: x.Seq, Address: x.Address,
		}
		if k, ok := papers.Find(x.What); ok {
			row.Title = l.Word(k.Title)
		}
		v.Issued = append(v.Issued, row)
	}
	return v, nil
}

// Paper writes one document as the job stands, for the site's day at a moment. units is metric, imperial, or empty for
// what the site says. It carries no mark: whoever holds the job's key sets it.
// Of the documents about keying, only the zones that are named are in it.
func (d *Desk) Paper(k papers.Kind, now time.Time, units string, only ...site.ZoneID) (papers.Paper, error) {
	write, err := d.papersAt(now, units, only...)
	if err != nil {
		return papers.Paper{}, err
	}
	return write(k)
}

// papersAt returns what writes documents of one moment. What they rest on is computed once, and so is each earlier state
// of the job that they are compared with.
func (d *Desk) papersAt(now time.Time, units string, only ...site.ZoneID) (func(papers.Kind) (papers.Paper, error), error) {
	type state struct {
		seq int64
		day string
	}
	present, err := d.paperJob(now, units)
	if err != nil {
		return nil, err
	}
	present.Keying = d.keyingForPaper(now, only)
	earlier := map[state]*papers.Job{}
	return func(k papers.Kind) (papers.Paper, error) {
		job := present
		if k.ID == papers.PracticeResult {
			job.Marking, err = d.marking()
			return papers.Make(k, job), err
		}
		last, ok := d.State.LastIssued(k.ID)
		if !ok {
			return papers.Make(k, job), nil
		}
		at := state{last.Seq, last.Day}
		if earlier[at] == nil {
			day, err := time.ParseInLocation(time.DateOnly, last.Day, d.zone())
			if err != nil {
				day = last.At
			}
			then := NewDesk(last.As, 0).In(d.lang)
			before, err := then.paperJob(day, units)
			if err != nil {
				return papers.Paper{}, err
			}
			before.Keying = then.keyingForPaper(day, only)
			earlier[at] = &before
		}
		job.Before, job.Issued = earlier[at], last.At
		return papers.Make(k, job), nil
	}, nil
}

func (d *Desk) paperJob(now time.Time, units string) (papers.Job, error) {
	judged := d
	if own := *d.State.Site; units != "" && units != own.Premises.Units { // findings say lengths in the units of the site that they judge
		state := *d.State
		own.Premises.Units, state.Site = units, &own
		judged = NewDesk(&state, 0).In(d.lang)
	}
	findings, err := judged.Findings(now)
	if err != nil {
		return papers.Job{}, &Problem{Code: "bad-request", Say: words.Upper(words.Said(err).In(d.lang)) + ".", Try: d.lang.Say("Choose a rule set that this version knows."), Err: err}
	}
	at := now.In(d.zone())
	job := papers.Job{
		State: d.State, Profile: d.profile, Findings: findings, Judge: d.judgeForPaper, RuleSet: d.ruleSetWords(d.State.Site.RuleSet),
		Day: time.Date(at.Year(), at.Month(), at.Day(), 0, 0, 0, 0, d.zone()), Zone: d.zone(), Lang: d.lang, Units: units,
	}
	list, err := d.Due(now, 0)
	if err != nil {
		return job, err
	}
	job.Due, job.Estimates = dueForPaper(list), judged.Estimates(now, "")
	job.Sums = func(all bool) []papers.Section { return d.Sums(now, all) }
	return job, nil
}

// keyingForPaper works the keys out when a document asks for them.
func (d *Desk) keyingForPaper(now time.Time, only []site.ZoneID) func() papers.Keying {
	return sync.OnceValue(func() papers.Keying {
		v, err := d.Keying(now, nil)
		if err != nil {
			return papers.Keying{} // the panel is not known, which the document says by itself
		}
		k := papers.Keying{Sheet: v.Sheet, Lost: v.Lost, Taken: map[site.ZoneID][]string{}, Whole: sync.OnceValue(func() keypad.Sheet { return d.whole(now) })}
		for _, id := range only {
			k.Only = append(k.Only, d.number(id))
		}
		for _, a := range v.Accepted {
			for _, place := range a.Finding.Places {
				if place.Kind == "zone" {
					id := d.number(site.ZoneID(place.ID))
					k.Taken[id] = append(k.Taken[id], d.lang.Say("Accepted stop: %s (%s). %s", a.Reason, a.By, a.Finding.Say))
				}
			}
		}
		return k
	})
}

// whole is the sheet that keys every zone: what is taught.
func (d *Desk) whole(now time.Time) keypad.Sheet {
	findings, _ := d.Findings(now) // a rule set that is not known was said by who asked for the sheet
	return keypad.Compile(d.State.Site, d.profile, nil, keypad.Options{Lang: d.lang, Stops: StopsOf(findings), ReadBack: true})
}

// judgeForPaper judges a run at a moment that the book alone decides, so that the same book gives the same paper.
func (d *Desk) judgeForPaper(run *prove.Run) ([]prove.Step, prove.Outcome) {
	at := run.Opened
	for _, line := range d.State.Log {
		if line.At.After(at) {
			at = line.At
		}
	}
	return d.PlanOf(run), d.outcome(run, at)
}

// dueForPaper lists what falls due with a date: what is replaced one by one, what is tested by the round.
func dueForPaper(list upkeep.List) []papers.Due {
	var out []papers.Due
	add := func(d papers.Due, due string, state upkeep.State) {
		if day, err := site.ParseDate(due); err == nil {
			d.On, d.Past = day, state == upkeep.Overdue
			out = append(out, d)
		}
	}
	for _, r := range list.Rounds {
		switch r.Kind {
		case upkeep.KindLife, upkeep.KindBattery, upkeep.KindPanel:
			for _, it := range r.Items {
				add(papers.Due{ID: it.ID, Kind: string(it.Kind), Head: it.Head != "", Name: it.Name, What: words.Join(it.Say, it.Where), Why: it.Why + " " + it.WhoSay + "."}, it.Due, it.State)
			}
		case upkeep.KindDate:
		default:
			add(papers.Due{ID: r.ID, Kind: string(r.Kind), What: r.Title, Why: strings.TrimSpace(r.Say + " " + r.WhoSay + ".")}, r.Due, r.State)
		}
	}
	sorts.Stable(out, func(a, b papers.Due) int { return a.On.First().Compare(b.On.First()) })
	return out
}

func paperOf(d *Desk, a ViewArg) (any, error) {
	k, ok := papers.Find(a.Paper)
	if !ok {
		return nil, &Problem{Code: "not-found", Say: d.lang.Say("There is no document \"%s\".", a.Paper), Try: d.lang.Say("Choose one from the list.")}
	}
	return d.Paper(k, a.Now, a.Units, a.Zones...)
}
