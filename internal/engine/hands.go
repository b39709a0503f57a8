package engine

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"proofbell/internal/prove"
	"proofbell/internal/sorts"
)

// ReadRow is what one tap reads back: an alarm with its restore, as the operator has them one below the other.
type ReadRow struct {
	Key   string     `json:"key"`
	Step  string     `json:"step"`
	Zone  string     `json:"zone"` // as it is read out; "" for the panel itself
	Label string     `json:"label"`
	About string     `json:"about"` // clock time on site of its first line
	State string     `json:"state"` // seen, not-seen, part or ""
	Lines []ReadLine `json:"lines"`
}

// LastRead is the newest read-back that was not taken back.
type LastRead struct {
	Entry string `json:"entry"` // "" none
	Say   string `json:"say"`
}

// DifferenceRow is where two people, or two devices, said something different of one step.
type DifferenceRow struct {
	Kind  string `json:"kind"`
	Step  string `json:"step"`
	Grave bool   `json:"grave"` // a person has to decide
	Say   string `json:"say"`
	First Said   `json:"first"`
	Other Said   `json:"other"`
}

// Said is one statement with the name of who made it.
type Said struct {
	Tick string `json:"tick"`
	Name string `json:"name"`
	Say  string `json:"say"` // "Tripped, 14:31:05"
}

// PutBackRow is one temporary change in words.
type PutBackRow struct {
	ID   string `json:"id"`
	Run  string `json:"run"`
	Say  string `json:"say"`
	By   string `json:"by"`
	Made string `json:"made"` // clock time on site
	Open bool   `json:"open"`
}

// told is what a person on a ladder has to be told now.
func (d *Desk) told(now time.Time, a ViewArg) prove.Told {
	run := d.runOf(a.Run)
	if run == nil {
		return prove.Told{Keys: []string{}}
	}
	return prove.Tell(d.PlanOf(run), d.observations(run), d.outcome(run, now), a.Known, d.lang)
}

// readRows puts the lines of a step's zone that follow each other into one row.
func readRows(lines []ReadLine) []ReadRow {
	out := []ReadRow{}
	index := map[string]int{}
	for _, l := range lines {
		key := l.Step + "/" + l.Zone
		i, known := index[key]
		// A second alarm of the same zone is another row: the operator has it farther down.
		if !known || slices.ContainsFunc(out[i].Lines, func(x ReadLine) bool { return x.Qualifier == l.Qualifier }) {
			i = len(out)
			index[key] = i
			out = append(out, ReadRow{Key: l.Expect, Step: l.Step, Zone: l.Zone, Label: l.Label, About: l.About})
		}
		out[i].Lines = append(out[i].Lines, l)
	}
	for i := range out {
		states := map[string]int{}
		for _, l := range out[i].Lines {
			states[l.State]++
		}
		switch n := len(out[i].Lines); {
		case states["seen"] == n:
			out[i].State = "seen"
		case states["not-seen"] > 0 && states[""] == 0:
			out[i].State = "not-seen"
		case states[""] < n:
			out[i].State = "part"
		}
	}
	return out
}

// lastRead is the newest read-back of the run that stands, to take back with one tap.
func (d *Desk) lastRead(v Prove) LastRead {
	var last prove.ReadBack
	n := 0
	if v.Run == nil {
		return LastRead{}
	}
	for _, r := range v.Run.ReadBacks {
		if r.Taken {
			continue
		}
		if n++; entryOf(r) != entryOf(last) {
			n = 1
		}
		last = r
	}
	switch {
	case n == 0:
		return LastRead{}
	case last.Source == prove.FromHistory:
		return LastRead{entryOf(last), d.lang.Say("Imported history, %d lines", n)}
	case last.Zone == "":
		say := d.lang.Say("Panel")
		if i := slices.IndexFunc(v.ReadLines, func(l ReadLine) bool { return l.Expect == string(last.Expect) }); i >= 0 {
			say = v.ReadLines[i].Label
		}
		return LastRead{entryOf(last), say}
	}
	return LastRead{entryOf(last), d.lang.Say("Zone %s", last.Zone)}
}

func entryOf(r prove.ReadBack) string {
	entry, _, _ := strings.Cut(string(r.ID), "/")
	return entry
}

// differences says where two people's statements meet, with both names.
func (d *Desk) differences(v Prove) []DifferenceRow {
	out := []DifferenceRow{}
	for _, x := range v.Outcome.Differences {
		row := DifferenceRow{Kind: string(x.Kind), Step: string(x.Step), Grave: x.Grave(), First: d.said(x.First), Other: d.said(x.Other)}
		after := "?"
		if x.Seconds != nil {
			after = fmt.Sprintf("%.0f", *x.Seconds)
		}
		switch x.Kind {
		case prove.BothTripped:
			row.Say = d.lang.Say("Both ticked this trip, %s s apart. The first counts.", after)
		case prove.OtherMethod:
			row.Say = d.lang.Say("Both ticked this trip, %s s apart, and named another test. The first counts: take back the one that is not right.", after)
		default:
			row.Say = d.lang.Say("One says that it works, the other that it does not. Take back the one that is not right, or trip it again.")
		}
		out = append(out, row)
	}
	return out
}

func (d *Desk) said(t prove.Tick) Said {
	say := d.lang.Say(didWords[t.What])
	if t.Reason != "" {
		say += ": " + d.lang.Word(t.Reason)
	}
	if t.Method != "" {
		say += " (" + t.Method + ")"
	}
	if !t.At.IsZero() {
		say += ", " + t.At.In(d.zone()).Format("15:04:05")
	}
	return Said{Tick: string(t.ID), Name: d.name(t.By), Say: say}
}

// putBacks lists the temporary changes of a run, open ones first.
func (d *Desk) putBacks(run *prove.Run) []PutBackRow {
	out := []PutBackRow{}
	if run == nil {
		return out
	}
	for _, p := range run.PutBacks {
		row := PutBackRow{ID: string(p.ID), Run: string(run.ID), Say: prove.SayPutBack(p, d.lang), By: d.name(p.By), Open: p.Undone.IsZero()}
		if !p.Made.IsZero() {
			row.Made = p.Made.In(d.zone()).Format("15:04")
		}
		out = append(out, row)
	}
	sorts.Stable(out, func(a, b PutBackRow) int {
		switch {
		case a.Open == b.Open:
			return 0
		case a.Open:
			return -1
		}
		return 1
	})
	return out
}

// openPutBacks are the changes that are still to be undone, of the open run or of any other: a closed one may have left some.
func (d *Desk) openPutBacks() []PutBackRow {
	out := []PutBackRow{}
	for _, r := range d.State.Runs {
		for _, row := range d.putBacks(r) {
			if row.Open {
				out = append(out, row)
			}
		}
	}
	return out
}

// runOf finds the run with an id, or else the open or newest one; nil: there is none.
func (d *Desk) runOf(id string) *prove.Run {
	if id != "" {
		return d.State.Run(id)
	}
	if run := d.State.OpenRun(); run != nil || len(d.State.Runs) == 0 {
		return run
	}
	return d.State.Runs[len(d.State.Runs)-1]
}
