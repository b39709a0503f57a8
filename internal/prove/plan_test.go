package prove

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"proofbell/demo"
	"proofbell/panel"
	"proofbell/quantity"
	"proofbell/signal"
	"proofbell/site"
)

func ids(plan []Step) []StepID {
	var out []StepID
	for _, st := range plan {
		out = append(out, st.ID)
	}
	return out
}

func step1(t testing.TB, plan []Step, id StepID) Step {
	t.Helper()
	i := slices.IndexFunc(plan, func(s Step) bool { return s.ID == id })
	if i < 0 {
		t.Fatalf("no step %s in %v", id, ids(plan))
	}
	return plan[i]
}

func millSite(t testing.TB, raw []byte) *site.Site {
	t.Helper()
	s, err := site.DecodeYAML("mill.yaml", raw)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestMillPlan holds the plan of the demo building against its schedule, counted by hand: 33 zones of which 09 and 10 are
// the bridge's, 13 alarms, first signal, mains, battery, two paths, and three sounders.
func TestMillPlan(t *testing.T) {
	plan := Plan(millSite(t, demo.Corrected), ladder(t), Options{})
	if want := 31 + 13 + 5 + 3; len(plan) != want {
		t.Errorf("%d steps, want %d: %v", len(plan), want, ids(plan))
	}
	seen := map[StepID]bool{}
	for i, st := range plan {
		if seen[st.ID] || st.Order != i+1 || st.NotTestable != "" || st.Do == "" || len(st.Methods) == 0 || st.Title == "" || st.Way.Say == "" {
			t.Errorf("step %+v", st)
		}
		seen[st.ID] = true
	}
	if plan[0].ID != "panel.test" {
		t.Errorf("the harmless signal has to come first, not %s", plan[0].ID)
	}
	// Followed to the station: the farthest alarm of each storey from the bridge at 8.4,4.9. Ground: M2 at 14,2.5 (6.1 m
	// flat) before M3 at 3,7 (5.8 m). Upper: M8 at 15,2 (7.2 m) before M5 at 15,4.7 (6.6 m). CO pattern: only M12.
	var followed []site.HeadID
	for _, st := range plan {
		if st.Kind == StepHead && st.ToStation {
			followed = append(followed, st.Head)
		}
	}
	slices.Sort(followed)
	if !slices.Equal(followed, []site.HeadID{"M12", "M2", "M8"}) {
		t.Errorf("followed to the station: %v", followed)
	}
	m12 := step1(t, plan, "M12.press")
	if m12.Expected[0].Code != "162" || m12.Zone != "10" || m12.Family != FamilyCO {
		t.Errorf("M12: %+v", m12.Expected)
	}
	// Bridge model: 45 s to the panel; panel to station 60 s, worst 90 s.
	if e := step1(t, plan, "M8.press").Expected[0]; e.Limit() != 105 || e.Worst != 135 || e.Zone != "09" || e.Code != "111" {
		t.Errorf("M8: %+v", e)
	}
	// Front door: 5 s, entry delay 30 s and abort window 30 s, 60 s.
	if e := step1(t, plan, "01.alarm").Expected[0]; e.Limit() != 125 || e.Held != 60 {
		t.Errorf("front door: %+v", e)
	}
	for _, id := range []StepID{"07.alarm", "27.alarm", "28.alarm"} { // glass-break and panic models send no restore
		if st := step1(t, plan, id); len(st.Expected) != 1 || !slices.Contains(st.Notes, "Sends no restore.") {
			t.Errorf("%s: %+v", id, st.Expected)
		}
	}
	if st := step1(t, plan, "30.alarm"); st.Arm != ArmMove || st.Expected[0].Qualifier != signal.Closing || st.Expected[1].Qualifier != signal.Opening {
		t.Errorf("key switch: %+v", st)
	}
	if st := step1(t, plan, "05.alarm"); !strings.Contains(strings.Join(st.Notes, " "), "05, 06") {
		t.Errorf("cross zones unsaid: %q", st.Notes)
	}
	// One armed period.
	changes, armed := 0, false
	for _, st := range plan {
		if now := st.Arm == ArmSet; now != armed {
			changes, armed = changes+1, now
		}
	}
	if changes != 2 {
		t.Errorf("the areas are armed or disarmed %d times", changes)
	}
}

func TestMillDraft(t *testing.T) {
	plan := Plan(millSite(t, demo.Draft), ladder(t), Options{})
	st := step1(t, plan, "10.alarm")
	if !strings.Contains(st.NotTestable, "CO pattern") || plan[len(plan)-1].NotTestable == "" {
		t.Errorf("zone 10 of the draft can never trip: %q; it belongs at the end", st.NotTestable)
	}
	// A water zone that is keyed with a smoke code brings the fire service: fire has to be on test for it.
	if st := step1(t, plan, "24.alarm"); st.Family != FamilyFire {
		t.Errorf("zone 24: family %s", st.Family)
	}
}

func TestPlanIsStable(t *testing.T) {
	s := millSite(t, demo.Corrected)
	first, err := Fingerprint(Plan(s, ladder(t), Options{}))
	if err != nil {
		t.Fatal(err)
	}
	for range 20 {
		again, err := Fingerprint(Plan(millSite(t, demo.Corrected), ladder(t), Options{}))
		if err != nil || again != first {
			t.Fatalf("another plan from the same site: %s %s %v", first, again, err)
		}
	}
	z := s.Zones["13"]
	z.Code = "110"
	s.Zones["13"] = z
	if changed, _ := Fingerprint(Plan(s, ladder(t), Options{})); changed == first {
		t.Error("another code, the same fingerprint")
	}
}

func TestScope(t *testing.T) {
	s := house()
	tests := []struct {
		name string
		o    Options
		want []StepID
	}{
		{"one zone", Options{Zones: []site.ZoneID{"13"}}, []StepID{"13.alarm", "panel.test"}},
		{"the bridge obliges the alarms that stand for its group", Options{Zones: []site.ZoneID{"09"}}, []StepID{"M2.press", "M3.press", "panel.test"}},
		// 20 % of the other six zones (01 05 07 08 09 14) is 1.2, so two: 14 as longest untested, then the first in order.
		{"a sample", Options{Zones: []site.ZoneID{"13"}, Sample: 20, Longest: []site.ZoneID{"14"}}, []StepID{"01.alarm", "13.alarm", "14.alarm", "panel.test"}},
		{"a family", Options{Families: []string{"panic"}}, []StepID{"07.alarm", "panel.test"}},
		{"separate proofs", Options{Zones: []site.ZoneID{"13"}, Also: []Proof{ProofTamper, ProofLoss}}, []StepID{"13.alarm", "13.loss", "13.tamper", "panel.test"}},
		{"no system", Options{NoSystem: true}, []StepID{"01.alarm", "05.alarm", "07.alarm", "08.alarm", "13.alarm", "14.alarm", "M1.press", "M2.press", "M3.press", "panel.test"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := ids(Plan(s, nil, tt.o))
			slices.Sort(got)
			if !slices.Equal(got, tt.want) {
				t.Errorf("got %v, want %v", got, tt.want)
			}
		})
	}
}

func TestNotTestable(t *testing.T) {
	tests := []struct {
		name string
		zone func(*site.Zone)
		say  string
	}{
		{"no device", func(z *site.Zone) { z.Device = "" }, "No device"},
		{"no kind", func(z *site.Zone) { z.Kind = "" }, "no kind"},
		{"tells nobody", func(z *site.Zone) { z.Paths = nil }, "tells nobody"},
		{"observe", func(z *site.Zone) { z.Kind = site.Observe }, "sends nothing"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := house()
			z := s.Zones["13"]
			tt.zone(&z)
			s.Zones["13"] = z
			plan := Plan(s, nil, Options{})
			if st := step1(t, plan, "13.alarm"); !strings.Contains(st.NotTestable, tt.say) {
				t.Errorf("%q", st.NotTestable)
			}
			r := result(t, Match(plan, observed(trip13(0), sig("s", 8, "1111 01 013")), Clocks{}, at(20)), "13.alarm")
			if r.Verdict != NotTestable {
				t.Errorf("judged as %s", r.Verdict)
			}
		})
	}
	s := house()
	delete(s.Account.Paths, "backup")
	if st := step1(t, Plan(s, nil, Options{}), "path.main"); st.NotTestable == "" {
		t.Error("a single path can not report its own failure")
	}
	z := s.Zones["13"]
	z.LossWindow = "never"
	s.Zones["13"] = z
	if st := step1(t, Plan(s, nil, Options{Also: []Proof{ProofLoss}}), "13.loss"); st.NotTestable == "" {
		t.Error("a device that nobody watches is never missed")
	}
}

func TestLimits(t *testing.T) {
	s := house()
	verified := s.Zones["14"]
	verified.Kind = site.SmokeVerified
	s.Zones["14"] = verified
	plan := Plan(s, nil, Options{Also: []Proof{ProofLoss}})
	for id, want := range map[StepID]int{"13.alarm": 10, "14.alarm": 60, "M3.press": 30, "13.loss": 210} { // trade defaults; 200 s + 10 s
		if got := step1(t, plan, id).Expected[0].ToPanel; got != want {
			t.Errorf("%s: %d s to the panel, want %d", id, got, want)
		}
	}
	m := s.Models["smoke"]
	m.ToPanel = quantity.MustParse[quantity.DurationDimension]("4 s")
	s.Models["smoke"] = m
	if got := step1(t, Plan(s, nil, Options{}), "13.alarm").Expected[0].ToPanel; got != 4 {
		t.Errorf("the model's own time is not used: %d", got)
	}
}

func TestRestorePolicies(t *testing.T) {
	s := house()
	p := *ladder(t)
	for _, tt := range []struct {
		policy panel.RestorePolicy
		want   int // signals expected
		worst  int // s after clearing: 120 and 30 more until it counts as missing; the bell adds 240
	}{{panel.RestoreFollows, 2, 150}, {panel.RestoreReset, 2, 150}, {panel.RestoreBell, 2, 390}, {panel.RestoreNone, 1, 0}} {
		p.Kinds = slices.Clone(p.Kinds)
		for i := range p.Kinds {
			p.Kinds[i].Restore = tt.policy
		}
		st := step1(t, Plan(s, &p, Options{}), "13.alarm")
		if len(st.Expected) != tt.want || tt.want == 2 && st.Expected[1].Worst != tt.worst {
			t.Errorf("%s: %+v", tt.policy, st.Expected)
		}
	}
	for i := range p.Kinds {
		p.Kinds[i].Restore = panel.RestoreReset
	}
	plan := Plan(s, &p, Options{})
	o := observed(trip13(0), sig("s1", 8, "1111 01 013"), tick("c", "13.alarm", Restored, 20))
	if r := result(t, Match(plan, o, Clocks{}, at(4000)), "13.alarm"); r.Signals[1].Verdict != Waiting || !strings.Contains(r.Signals[1].Say, "reset the panel") {
		t.Errorf("before the reset: %+v", r.Signals[1])
	}
	o.Ticks = append(o.Ticks, tick("reset", "13.alarm", PanelReset, 30))
	if r := result(t, Match(plan, o, Clocks{}, at(4000)), "13.alarm"); r.Signals[1].Verdict != RestoreMissing {
		t.Errorf("after the reset: %+v", r.Signals[1])
	}
}

func TestSIA(t *testing.T) {
	s := house()
	s.Account.Format = "sia"
	plan := Plan(s, nil, Options{})
	st := step1(t, plan, "13.alarm") // scheduled as 111, sent as FA; restored by FH or FR
	if st.Expected[0].Code != "FA" || st.Expected[1].Code != "FH" || !slices.Contains(st.Expected[1].Also, "FR") {
		t.Fatalf("%+v", st.Expected)
	}
	event := func(data string) signal.Event {
		x, err := signal.ParseSIA(data)
		if err != nil {
			t.Fatal(err)
		}
		return x.Events()[0]
	}
	a, b := sig("a", 8, "1111 01 013"), sig("b", 70, "1111 01 013")
	a.Event, b.Event = event("#4816|Nri1/FA13"), event("#4816|Nri1/FR013")
	r := result(t, Match(plan, observed(trip13(0), a, b, line("r1", "13", "FA", signal.New, 9), line("r2", "13", "FR", signal.Restore, 71)), Clocks{}, at(100)), "13.alarm")
	if r.Verdict != Proved {
		t.Errorf("%s %s", r.Verdict, r.Say)
	}
}

// TestListsAreNeverNull: the browser's code loops over every list.
func TestListsAreNeverNull(t *testing.T) {
	plan := Plan(house(), nil, Options{Also: []Proof{ProofTamper, ProofBattery, ProofLoss}})
	for _, v := range []any{plan, Match(plan, observed(), Clocks{}, at(0)), Match(plan, observed(trip13(0), sig("s1", 8, "1111 01 013")), Clocks{}, at(9))} {
		raw, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		for _, member := range []string{"methods", "cautions", "notes", "areas", "expected", "also", "signals", "readBacks", "warnings", "steps", "unexpected", "blockers", "clocks"} {
			if strings.Contains(string(raw), `"`+member+`":null`) {
				t.Errorf("%s is null", member)
			}
		}
	}
}

// TestEveryKindHasWords: each kind of zone, with a model that says nothing of itself, gets an act, a method that proves the
// sensor, a restore, a code with its words and the family of its kind.
func TestEveryKindHasWords(t *testing.T) {
	for _, k := range site.ZoneKinds {
		s := house()
		z := s.Zones["13"]
		z.Kind, z.Code = k.Kind, ""
		s.Zones["13"] = z
		s.Models["smoke"] = site.Model{Class: "smoke", Link: "radio"}
		plan := Plan(s, nil, Options{})
		if k.Kind == site.Unused {
			if slices.Contains(ids(plan), StepID("13.alarm")) {
				t.Error("a zone that is not used has nothing to prove")
			}
			continue
		}
		st := step1(t, plan, "13.alarm")
		if k.Kind == site.Observe {
			continue // see TestNotTestable
		}
		if st.NotTestable != "" || st.Do == "" || len(st.Methods) == 0 || st.Restore == "" || st.Methods[0].Proves != Full {
			t.Errorf("%s: %+v", k.Kind, st)
		}
		if e := st.Expected[0]; e.Code == "" || e.Words == "" || e.Say == "" || e.Limit() == 0 {
			t.Errorf("%s: %+v", k.Kind, e)
		}
		if want := FamilyOf(k.Kind); st.Family != want {
			t.Errorf("%s: family %s, want %s", k.Kind, st.Family, want)
		}
	}
}

func TestCOGroup(t *testing.T) {
	s := house()
	s.Heads["M4"] = site.Head{Kind: "smoke-co", Group: "M", Room: "lounge", At: metres(5, 1)}
	s.Heads["M5"] = site.Head{Kind: "co", Room: "hall"}
	s.Zones["10"] = site.Zone{Label: "Mains alarms CO", Kind: site.CO, Device: "bridge9", Terminal: "B", Code: "162", Paths: []site.PathID{"main"}}
	plan := Plan(s, nil, Options{})
	st := step1(t, plan, "M4.press") // drives both patterns; it stands for the CO zone, for smoke M2 does
	if len(st.Expected) != 4 || !st.Expected[0].Optional || st.Expected[2].Optional || st.Expected[2].Code != "162" || !st.ToStation {
		t.Errorf("%+v", st.Expected)
	}
	seen := map[ExpectationID]bool{}
	for _, e := range st.Expected {
		if seen[e.ID] {
			t.Errorf("%s twice", e.ID)
		}
		seen[e.ID] = true
	}
	if st := step1(t, plan, "M5.press"); len(st.Expected) != 0 || !strings.Contains(strings.Join(st.Notes, " "), "Stands alone") {
		t.Errorf("%+v", st)
	}
	s.Heads = nil
	if st := step1(t, Plan(s, nil, Options{}), "09.alarm"); !strings.Contains(st.NotTestable, "no alarm") {
		t.Errorf("%q", st.NotTestable)
	}
	d := s.Devices["bridge9"]
	d.Hears = ""
	s.Devices["bridge9"] = d
	if st := step1(t, Plan(s, nil, Options{}), "09.alarm"); !strings.Contains(st.NotTestable, "names no group") {
		t.Errorf("%q", st.NotTestable)
	}
}

// TestBareSites: a survey that has just begun has a plan too, and nothing in it panics.
func TestBareSites(t *testing.T) {
	for _, s := range []*site.Site{
		{},
		{Zones: map[site.ZoneID]site.Zone{"1": {}, "x": {Kind: site.Smoke, Device: "gone", Paths: []site.PathID{"main"}}}},
		{
			Heads: map[site.HeadID]site.Head{"M1": {Group: "M"}}, Devices: map[site.DeviceID]site.Device{"b": {Hears: "M"}},
			Zones: map[site.ZoneID]site.Zone{"9": {Kind: site.Smoke, Device: "b", Paths: []site.PathID{"main"}}},
		},
		{Rooms: map[site.RoomID]site.Room{"a": {Outline: site.Outline{metres(0, 0), {}}}}, Openings: map[site.OpeningID]site.Opening{"o": {Rooms: []site.RoomID{"a", "b"}}, "p": {At: metres(1, 1), Rooms: []site.RoomID{"a"}}}},
	} {
		plan := Plan(s, nil, Options{Also: []Proof{ProofTamper, ProofLoss, ProofBattery}})
		if len(plan) == 0 || plan[0].ID != "panel.test" {
			t.Errorf("%v", ids(plan))
		}
		Match(plan, Observations{}, Clocks{}, t0)
	}
}

// TestRoomIsEnough: a device whose room is drawn is sought in the middle of the room.
func TestRoomIsEnough(t *testing.T) {
	s := house()
	d := s.Devices["smoke13"]
	d.At = nil
	s.Devices["smoke13"] = d
	if st := step1(t, Plan(s, nil, Options{}), "13.alarm"); !st.Placed || st.X != 7 || st.Y != 2 {
		t.Errorf("%v %v,%v", st.Placed, st.X, st.Y)
	}
}

// A scope of named steps is those steps of the whole plan, and the first signal. A mains alarm that is followed to the
// station in the whole plan is so here too.
func TestPlanOfNamedSteps(t *testing.T) {
	s, p := millSite(t, demo.Corrected), ladder(t)
	whole := map[StepID]Step{}
	for _, st := range Plan(s, p, Options{}) {
		whole[st.ID] = st
	}
	got := Plan(s, p, Options{Steps: []StepID{"13.alarm", "M9.press", "13.tamper", "gone.alarm"}, Reason: ReasonCallOut})
	for _, st := range got {
		if w, ok := whole[st.ID]; ok && w.ToStation != st.ToStation {
			t.Errorf("%s: to the station %v, in the whole plan %v", st.ID, st.ToStation, w.ToStation)
		}
	}
	planned := ids(got)
	slices.Sort(planned)
	if want := []StepID{"13.alarm", "13.tamper", "M9.press", "panel.test"}; !slices.Equal(planned, want) {
		t.Errorf("planned %v, want %v", planned, want)
	}
	if got[0].Proof != ProofTest || got[0].Order != 1 {
		t.Errorf("the walk begins with %s", got[0].ID)
	}
}
