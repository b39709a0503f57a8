package engine

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"proofbell/internal/prove"
	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/site"
)

// What there is to do at a step: the state of the one button of a field screen. Append only.
const (
	DoTrip    = "trip"    // nobody tripped it yet
	DoAgain   = "again"   // the last trip failed: mend it, trip it again
	DoSound   = "sound"   // someone has to say whether it sounds
	DoWait    = "wait"    // tripped; the signal is on its way
	DoClear   = "clear"   // the signal came: clear it and say so
	DoSettle  = "settle"  // cleared; the restore is on its way
	DoStation = "station" // all came here; the station has to read it back
	DoNone    = "none"    // proved, or not to be tested
)

// Task is what there is to do at a step now.
type Task struct {
	Step    string `json:"step"`
	Do      string `json:"do"`
	Refused string `json:"refused"` // why it must not be tripped now, in words; "" it may be
	Method  string `json:"method"`  // of the trip that counts
	Sounded bool   `json:"sounded"` // said since the last trip
	Showed  bool   `json:"showed"`
	Cleared bool   `json:"cleared"`
	Last    string `json:"last"`    // the newest statement that stands, to take back; "" none
	LastSay string `json:"lastSay"` // "Tripped, 14:31"
}

// ReadLine is one line that the station should have in its history.
type ReadLine struct {
	Expect    string `json:"expect"`
	Step      string `json:"step"`
	Zone      string `json:"zone"` // as it is read out; "" for the panel itself
	Label     string `json:"label"`
	What      string `json:"what"` // "Smoke alarm", "Smoke alarm, restore"
	Code      string `json:"code"`
	Qualifier string `json:"qualifier"`
	Path      string `json:"path"`  // by which it has to come; "" any
	About     string `json:"about"` // clock time on site, "" not known
	State     string `json:"state"` // seen, not-seen or ""
}

var didWords = map[prove.Did]string{
	prove.Tripped: words.Mark("Tripped"), prove.Sounded: words.Mark("It sounds"), prove.PanelShowed: words.Mark("The panel shows it"),
	prove.Restored: words.Mark("Restored"), prove.PanelReset: words.Mark("Panel reset"), prove.CannotTest: words.Mark("Can not be tested"),
	prove.Failed: words.Mark("Failed"),
}

// tasks says for every step what there is to do at it, in the order of the plan.
func (d *Desk) tasks(v Prove, now time.Time) []Task {
	out := make([]Task, len(v.Steps))
	last := map[prove.StepID]prove.Tick{}
	since := map[prove.StepID]map[prove.Did]bool{} // said since the last trip
	if v.Run != nil {
		for _, t := range standing(v.Run.Ticks) {
			if t.What == prove.Tripped || since[t.Step] == nil {
				since[t.Step] = map[prove.Did]bool{}
			}
			since[t.Step][t.What] = true
			last[t.Step] = t
		}
	}
	for i, st := range v.Steps {
		r, said := v.Outcome.Steps[i], since[st.ID]
		t := Task{
			Step: string(st.ID), Method: r.Method, Sounded: said[prove.Sounded], Showed: said[prove.PanelShowed],
			Cleared: said[prove.Restored] || said[prove.PanelReset],
		}
		_, why := v.Window.MayTrip(st, now)
		t.Refused = why.In(d.lang)
		if one, ok := last[st.ID]; ok {
			t.Last, t.LastSay = string(one.ID), d.lang.Say(didWords[one.What])
			if !one.At.IsZero() {
				t.LastSay += ", " + one.At.In(d.zone()).Format("15:04")
			}
		}
		t.Do = doing(st, r, t, said[prove.Tripped])
		out[i] = t
	}
	return out
}

func doing(st prove.Step, r prove.StepResult, t Task, tripped bool) string {
	begun, ended, ends := here(st, r)
	switch {
	case r.Verdict == prove.NotTestable:
		return DoNone
	case r.Verdict.Bad():
		return DoAgain
	case !tripped:
		return DoTrip
	case st.Sounds && !t.Sounded && !r.Verdict.Good(): // asked until it is answered: a signal must not move the button from under a thumb
		return DoSound
	case !begun && !r.Verdict.Good():
		return DoWait
	case st.Kind == prove.StepHead && !t.Cleared, ends && !ended && !t.Cleared && (r.Open || !r.Verdict.Good()):
		return DoClear // a head that is still held keeps the whole group sounding, whether its signal was asked for or not
	case ends && !ended && r.Open:
		return DoSettle
	case r.Verdict.Good():
		return DoNone
	}
	return DoStation
}

// here reports whether the beginnings of a step have come, to us or to the station, whether its ends have, and whether
// it has any that a person clears.
func here(st prove.Step, r prove.StepResult) (begun, ended, ends bool) {
	begun, ended = true, true
	for i, e := range st.Expected {
		came := r.Signals[i].Here || r.Signals[i].AtStation
		switch {
		case e.Role == prove.RoleDisarm: // nobody clears it: it is done in the step itself
			begun = begun && came
		case e.Role.Ends():
			ends, ended = true, ended && came
		case !e.Optional:
			begun = begun && came
		}
	}
	return begun, ended, ends
}

// standing are the ticks that nobody took back, oldest first.
func standing(ticks []prove.Tick) []prove.Tick {
	back := map[prove.TickID]bool{}
	for _, t := range ticks {
		if t.What == prove.Withdrawn {
			back[t.Of] = true
		}
	}
	out := slices.DeleteFunc(slices.Clone(ticks), func(t prove.Tick) bool { return t.What == prove.Withdrawn || back[t.ID] })
	sorts.Stable(out, func(a, b prove.Tick) int { return a.At.Compare(b.At) })
	return out
}

// readLines lists what the station should have, in the order in which it was tripped.
func (d *Desk) readLines(v Prove) []ReadLine {
	out := []ReadLine{}
	if v.Run == nil {
		return out
	}
	tripped := map[prove.StepID]time.Time{}
	cleared := map[prove.StepID]time.Time{}
	for _, t := range standing(v.Run.Ticks) {
		switch t.What {
		case prove.Tripped:
			tripped[t.Step] = t.At
			delete(cleared, t.Step)
		case prove.Restored, prove.PanelReset:
			cleared[t.Step] = t.At
		}
	}
	signals := map[prove.SignalID]time.Time{}
	for _, s := range v.Run.Signals {
		signals[s.ID] = s.Received
	}
	var at []time.Time
	for i, st := range v.Steps {
		began, ok := tripped[st.ID]
		if !ok || !st.ToStation {
			continue
		}
		for k, e := range st.Expected {
			r := v.Outcome.Steps[i].Signals[k]
			if e.Optional || e.Role.Ends() && !r.Here && !r.AtStation && cleared[st.ID].IsZero() {
				continue
			}
			when := began
			if e.Role.Ends() && !cleared[st.ID].IsZero() {
				when = cleared[st.ID]
			}
			if len(r.Signals) > 0 && !signals[r.Signals[0]].IsZero() {
				when = signals[r.Signals[0]]
			}
			line := ReadLine{
				Expect: string(e.ID), Step: string(st.ID), Zone: string(e.Zone), Label: cmp.Or(d.State.Site.Zones[e.Zone].Label, st.Title),
				What: cmp.Or(words.Upper(e.Words), d.lang.Say("Code %s", e.Code)), Code: e.Code, Qualifier: string(e.Qualifier), Path: string(e.Path),
			}
			switch {
			case e.Role == prove.RoleOtherPath:
				line.What = d.lang.Say("Any signal")
			case e.Role.Ends() && e.Role != prove.RoleDisarm:
				line.What = d.lang.Say("%s, restore", line.What)
			}
			if e.Path != "" {
				line.What = d.lang.Say("%s, by %s", line.What, cmp.Or(d.State.Site.Account.Paths[e.Path].Name, string(e.Path)))
			}
			if !when.IsZero() {
				line.About = when.In(d.zone()).Format("15:04:05")
			}
			switch {
			case r.AtStation:
				line.State = "seen"
			case len(r.ReadBacks) > 0:
				line.State = "not-seen"
			}
			place, _ := slices.BinarySearchFunc(at, when, func(a, b time.Time) int {
				if a.After(b) {
					return 1
				}
				return -1
			})
			at = slices.Insert(at, place, when)
			out = slices.Insert(out, place, line)
		}
	}
	return out
}

// sayRow says a stored signal in a language: what its events mean, and why it was not answered. It needs no job.
func sayRow(argument []byte) (any, error) {
	arg, err := read[struct {
		Row  InboxRow
		Lang string
	}](argument)
	if err != nil {
		return nil, err
	}
	lang := words.In(arg.Lang)
	for i, e := range arg.Row.Events {
		arg.Row.Events[i].Words = lang.Word(e.Words)
	}
	arg.Row.Why = prove.In(lang).SayWhy(arg.Row.Why)
	return arg.Row, nil
}

// fills says how each mark of the plan stands: by the gravest of the steps that prove it.
func fills(v Prove) map[string]string {
	grave := []string{"failed", "waiting", "unproved", "half", "proved"}
	out := map[string]string{}
	for i, st := range v.Steps {
		r := v.Outcome.Steps[i]
		fill := "unproved"
		switch {
		case r.Verdict.Bad():
			fill = "failed"
		case r.Verdict == prove.Waiting:
			fill = "waiting"
		case r.Verdict.Good() && r.Half:
			fill = "half"
		case r.Verdict.Good():
			fill = "proved"
		}
		for _, mark := range []string{string(st.Device), string(st.Head)} {
			if old, known := out[mark]; mark != "" && (!known || slices.Index(grave, fill) < slices.Index(grave, old)) {
				out[mark] = fill
			}
		}
	}
	return out
}

// zoneChoices are the zones that a run can be limited to.
func (d *Desk) zoneChoices() []Choice {
	out := []Choice{}
	for _, id := range site.SortedIDs(d.State.Site.Zones) {
		if z := d.State.Site.Zones[id]; z.Kind != site.Unused {
			out = append(out, Choice{Value: string(id), Say: fmt.Sprintf("%s %s", id, z.Label)})
		}
	}
	return out
}

// wanted are the families of a plan's steps: what has to be on test to work through it, and the test signal's own.
func wanted(steps []prove.Step) []string {
	out := []string{}
	for _, f := range prove.Families() {
		if f.ID == prove.FamilyTrouble || slices.ContainsFunc(steps, func(s prove.Step) bool { return s.Family == f.ID }) {
			out = append(out, f.ID)
		}
	}
	return out
}

// callScript is the call that comes next. While it goes on, the lines that open it stay: they are what one reads out.
func (d *Desk) callScript(v Prove, families []string, now time.Time) []prove.CallLine {
	lines := prove.In(d.lang).CallScript(d.State.Site, v.Window, families, now, d.zone())
	if v.State != string(prove.WindowCalling) {
		return lines
	}
	opening := prove.In(d.lang).CallScript(d.State.Site, prove.Window{}, v.Window.Families, now, d.zone())
	opening = slices.DeleteFunc(opening, func(l prove.CallLine) bool { return l.Kind != "say" })
	return append(opening, lines...)
}
