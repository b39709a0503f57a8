package prove

import (
	"slices"
	"testing"

	"proofbell/signal"
)

// by is a tick of another person on another telephone.
func by(who string, t Tick) Tick {
	t.By, t.From = who, "phone of "+who
	return t
}

func TestTwoPeopleTickOneTrip(t *testing.T) {
	alarm, restore := sig("s1", 8, "1111 01 013"), sig("s2", 75, "3111 01 013")
	plan := Plan(house(), nil, Options{})
	for _, late := range []float64{5, 40, 150} { // before the signal, after it, after it was restored
		second := by("piet", trip13(late))
		obs := observed(by("tamsin", trip13(0)), second, alarm, restore)
		for range 2 { // whichever telephone sends first
			out := Match(plan, obs, Clocks{}, at(200))
			r := result(t, out, "13.alarm")
			if r.Verdict != Waiting || r.Signals[0].Seconds == nil || *r.Signals[0].Seconds != 8 {
				t.Errorf("second tick at %g s: %s %s, seconds %v: the first counts", late, r.Verdict, r.Say, r.Signals[0].Seconds)
			}
			if r.Attempt != 1 {
				t.Errorf("second tick at %g s: %d attempts, it is one trip", late, r.Attempt)
			}
			d := out.Differences
			if len(d) != 1 || d[0].Kind != BothTripped || d[0].First.By != "tamsin" || d[0].Other.By != "piet" || d[0].Grave() || *d[0].Seconds != late {
				t.Errorf("second tick at %g s: differences %+v", late, d)
			}
			slices.Reverse(obs.Ticks)
		}
	}
	// A second trip that brought its own signal is a trip of its own.
	out := Match(plan, observed(by("tamsin", trip13(0)), by("piet", trip13(100)), alarm, restore, sig("s3", 108, "1111 01 013")), Clocks{}, at(200))
	if r := result(t, out, "13.alarm"); r.Attempt != 2 || len(out.Differences) != 0 {
		t.Errorf("%d attempts, %+v", r.Attempt, out.Differences)
	}
	// One person alone never differs from themselves.
	if out := Match(plan, observed(trip13(0), trip13(10), alarm), Clocks{}, at(60)); len(out.Differences) != 0 {
		t.Errorf("differences of one person: %+v", out.Differences)
	}
	other := by("piet", trip13(10))
	other.Method = "button"
	out = Match(plan, observed(by("tamsin", trip13(0)), other, alarm), Clocks{}, at(60))
	if len(out.Differences) != 1 || out.Differences[0].Kind != OtherMethod || !out.Differences[0].Grave() {
		t.Errorf("another method: %+v", out.Differences)
	}
}

func TestContradiction(t *testing.T) {
	plan := Plan(house(), nil, Options{})
	silent := by("piet", tick("f", "13.alarm", Failed, 30))
	silent.Reason = "No sound heard"
	heard := by("tamsin", tick("h", "13.alarm", Sounded, 12))
	trip := by("tamsin", trip13(0))
	alarm := sig("s1", 8, "1111 01 013")
	blocked := func(o Outcome) bool {
		return slices.ContainsFunc(o.Blockers, func(b Blocker) bool { return b.Kind == BlockDiffers })
	}

	out := Match(plan, observed(trip, heard, silent, alarm), Clocks{}, at(60))
	if len(out.Differences) != 1 || out.Differences[0].Kind != Contradiction || out.Differences[0].First.ID != "h" || !blocked(out) {
		t.Errorf("one heard it, one did not: %+v", out.Differences)
	}
	mine := silent
	mine.By, mine.From = heard.By, heard.From
	if out := Match(plan, observed(trip, heard, mine, alarm), Clocks{}, at(60)); len(out.Differences) != 0 {
		t.Errorf("who corrects themselves does not contradict: %+v", out.Differences)
	}
	taken := tick("w", "13.alarm", Withdrawn, 70)
	taken.Of = "f"
	if out := Match(plan, observed(trip, heard, silent, taken, alarm), Clocks{}, at(80)); len(out.Differences) != 0 || blocked(out) {
		t.Errorf("taken back: %+v", out.Differences)
	}
	// Tripped again after both, and it came: that settles it.
	again := observed(trip, heard, silent, alarm, sig("s2", 90, "3111 01 013"), by("piet", trip13(200)), sig("s3", 208, "1111 01 013"))
	if out := Match(plan, again, Clocks{}, at(220)); len(out.Differences) != 0 {
		t.Errorf("proved anew: %+v", out.Differences)
	}
}

func TestReadBackTakenBack(t *testing.T) {
	run, err := Open(Meta{ID: "run", At: t0, By: "t"}, RunBody{Act: RunOpened, Account: "4816"})
	if err != nil {
		t.Fatal(err)
	}
	lines := []ReadBackLine{{Zone: "13", Code: "111", Qualifier: signal.New, Expect: "13.alarm/alarm"}, {Zone: "13", Code: "111", Qualifier: signal.Restore, Expect: "13.alarm/restore"}}
	run, err = run.ReadBack(Meta{ID: "one", At: at(100)}, ReadBackBody{Source: FromPhone, Lines: lines}, Private{})
	if err != nil {
		t.Fatal(err)
	}
	before := run
	run, err = run.ReadBack(Meta{ID: "two", At: at(110)}, ReadBackBody{Source: FromPhone, Takes: []string{"one"}}, Private{})
	if err != nil {
		t.Fatal(err)
	}
	plan := Plan(house(), nil, Options{})
	for _, tt := range []struct {
		run  Run
		want bool
	}{{before, true}, {run, false}} {
		obs := tt.run.Observations()
		obs.Ticks = []Tick{trip13(0)}
		if got := result(t, Match(plan, obs, Clocks{}, at(200)), "13.alarm").Signals[0].AtStation; got != tt.want {
			t.Errorf("at the station: %v, want %v", got, tt.want)
		}
	}
	if len(run.ReadBacks) != 2 || !run.ReadBacks[0].Taken || !run.ReadBacks[1].Taken {
		t.Errorf("what was taken back is kept: %+v", run.ReadBacks)
	}
}

func TestPlanChanges(t *testing.T) {
	before, after := house(), house()
	z := after.Zones["13"]
	z.Code, z.Label = "110", "Lounge by the stove"
	after.Zones["13"] = z
	delete(after.Zones, "07")
	after.Zones["15"] = after.Zones["14"]
	moved := after.Devices["motion5"]
	moved.At = metres(1, 3)
	after.Devices["motion5"] = moved

	got := map[StepID]string{}
	for _, c := range PlanChanges(Plan(before, nil, Options{}), Plan(after, nil, Options{}), nil) {
		got[c.Step] = c.Kind + " " + c.Say
	}
	want := map[StepID]string{
		"13.alarm": "changed Zone 13, Lounge smoke: now called Lounge by the stove; expects 110 instead of 111.",
		"07.alarm": "gone No longer to be proved: Zone 07, Desk panic.",
		"15.alarm": "new New: Zone 15, Bedroom smoke.",
	}
	for id, say := range want {
		if got[id] != say {
			t.Errorf("%s: %q, want %q", id, got[id], say)
		}
	}
	if say, any := got["05.alarm"]; any {
		t.Errorf("moved within its room is no change: %q", say)
	}
	if same := PlanChanges(Plan(before, nil, Options{}), Plan(house(), nil, Options{}), nil); len(same) != 0 {
		t.Errorf("nothing changed: %+v", same)
	}
}
