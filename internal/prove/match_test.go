package prove

import (
	"strings"
	"testing"
	"time"

	"proofbell/internal/words"
	"proofbell/signal"
	"proofbell/site"
)

// TestVerdicts reaches every verdict on the path strip of zone 13 (smoke, 111, device to panel 10 s, panel to station
// 60 s, worst 90 s: trade defaults; so 70 s are in time and 100 s are the end of waiting).
func TestVerdicts(t *testing.T) {
	button := trip13(0)
	button.Method = "button"
	unnamed := trip13(0)
	unnamed.Method = ""
	readAlarm, readRestore := line("r1", "13", "111", signal.New, 12), line("r2", "13", "111", signal.Restore, 80)
	alarm, restore := sig("s1", 8, "1111 01 013"), sig("s2", 75, "3111 01 013")
	unanswered := alarm
	unanswered.Acknowledged = false
	denied := readAlarm
	denied.NotSeen = true
	overPath := sig("s4", 8, "1132 01 013")
	cannot := tick("n", "13.alarm", CannotTest, 5)
	cannot.Reason = "no ladder"
	failed := tick("f", "13.alarm", Failed, 50)
	failed.Reason = "does not sound"

	tests := []struct {
		name    string
		obs     Observations
		now     float64
		verdict Verdict
		stops   string
		say     string
	}{
		{"nothing done", observed(), 10, Unproved, "unproved unproved unproved unproved", "Not tripped"},
		{"tripped, still time", observed(trip13(0)), 99, Waiting, "waiting waiting waiting unproved", "at most 100 s"},
		{"tripped, nothing came", observed(trip13(0)), 101, NotReceived, "unproved unproved failed unproved", "within 100 s"},
		{"panel showed, nothing came", observed(trip13(0), tick("p", "13.alarm", PanelShowed, 9)), 101, NotReceived, "proved proved failed unproved", "Not received"},
		{"alarm here", observed(trip13(0), alarm), 20, Waiting, "proved proved proved waiting", "not yet at the station"},
		{"alarm and restore here", observed(trip13(0), alarm, restore), 90, Waiting, "proved proved proved waiting", "not yet at the station"},
		{"alarm read back, restore to come", observed(trip13(0), alarm, readAlarm), 60, Waiting, "proved proved proved waiting", "restored"},
		{"all read back", observed(trip13(0), alarm, restore, readAlarm, readRestore), 200, Proved, "proved proved proved proved", "the station has it"},
		{"by its button", observed(button, alarm, restore, readAlarm, readRestore), 200, Proved, "half proved proved proved", "not prove that smoke"},
		{"test not named", observed(unnamed, alarm, restore, readAlarm, readRestore), 200, Proved, "half proved proved proved", "not named"},
		{"station alone", observed(trip13(0), readAlarm, readRestore), 200, Proved, "proved proved proved proved", "not seen here"},
		{"late", observed(trip13(0), sig("s1", 85, "1111 01 013"), sig("s2", 120, "3111 01 013"), line("r1", "13", "111", signal.New, 86), readRestore), 300, ProvedLate, "proved proved proved proved", "allowed 70 s"},
		{"restore late", observed(trip13(0), tick("c", "13.alarm", Restored, 20), alarm, sig("s2", 145, "3111 01 013"), readAlarm, line("r2", "13", "111", signal.Restore, 146)), 300, ProvedLate, "proved proved proved proved", "allowed 120 s"},
		{"restore missing", observed(trip13(0), tick("c", "13.alarm", Restored, 20), alarm), 171, RestoreMissing, "proved proved failed waiting", "Restore missing within 150 s"},
		{"restore still in time", observed(trip13(0), tick("c", "13.alarm", Restored, 20), alarm), 169, Waiting, "proved proved proved waiting", "not yet at the station"},
		{"restore missing, nobody ticked clearing", observed(trip13(0), alarm), 8 + 120 + 151, RestoreMissing, "proved proved failed waiting", "Restore missing"},
		{"restore at the station only", observed(trip13(0), tick("c", "13.alarm", Restored, 20), alarm, readAlarm, readRestore), 400, Proved, "proved proved proved proved", ""},
		{"wrong zone", observed(trip13(0), sig("s1", 8, "1111 01 031")), 20, WrongZone, "waiting failed unproved unproved", "zone 31"},
		{"wrong zone of the plan", observed(trip13(0), sig("s1", 8, "1111 01 014")), 20, WrongZone, "waiting failed unproved unproved", "zone 14"},
		{"wrong code", observed(trip13(0), overPath), 20, WrongCode, "proved failed unproved unproved", "132"},
		{"the right one came after all", observed(trip13(0), overPath, sig("s1", 9, "1111 01 013")), 20, Waiting, "proved proved proved waiting", ""},
		{"station denies", observed(trip13(0), alarm, restore, denied), 200, NotReceived, "proved proved proved failed", "does not have it"},
		{"not answered", observed(trip13(0), unanswered), 20, Waiting, "waiting waiting waiting unproved", ""},
		{"nobody named the trip", observed(alarm), 20, Waiting, "unproved waiting waiting unproved", "nobody named the trip"},
		{"not testable", observed(cannot), 20, NotTestable, "unproved unproved unproved unproved", "no ladder"},
		{"tripped after all", observed(cannot, trip13(10), sig("s1", 18, "1111 01 013")), 30, Waiting, "proved proved proved waiting", ""},
		{"failed by eye", observed(trip13(0), failed), 60, NotReceived, "failed unproved unproved unproved", "does not sound"},
		{"restore before alarm", observed(trip13(0), sig("s2", 3, "3111 01 013"), sig("s1", 9, "1111 01 013")), 400, RestoreMissing, "proved proved failed waiting", ""},
		{"restore overtook its alarm", observed(trip13(0), sig("s2", 8, "3111 01 013"), sig("s1", 9, "1111 01 013"), readAlarm, line("r2", "13", "111", signal.Restore, 10)), 400, Proved, "proved proved proved proved", ""},
		{"another area", observed(trip13(0), sig("s1", 8, "1111 02 013"), sig("s2", 70, "3111 02 013"), readAlarm, readRestore), 400, Proved, "proved proved proved proved", ""},
		{"status report is no alarm", observed(trip13(0), sig("s1", 8, "6111 01 013")), 101, NotReceived, "unproved unproved failed unproved", ""},
		{"ticked after it came", observed(trip13(30), alarm, restore, readAlarm, readRestore), 400, Proved, "proved proved proved proved", ""},
	}
	plan := Plan(house(), nil, Options{})
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := result(t, Match(plan, tt.obs, Clocks{}, at(tt.now)), "13.alarm")
			if r.Verdict != tt.verdict || stops(r) != tt.stops || !strings.Contains(r.Say, tt.say) {
				t.Errorf("got %s, %s, %q\nwant %s, %s, ...%s...", r.Verdict, stops(r), r.Say, tt.verdict, tt.stops, tt.say)
			}
		})
	}
}

// A time that counts from the trip says so in every language, and what stands over the hop is the time alone.
func TestATimeFromTheTripIsMarked(t *testing.T) {
	obs := observed(trip13(0), sig("s1", 8, "1111 01 013"))
	for lang, say := range map[string]string{"en": "8 s from the trip", "de": "8 s ab Auslösung"} {
		said := In(words.In(lang))
		hop := result(t, said.Match(said.Plan(house(), nil, Options{}), obs, Clocks{}, at(20)), "13.alarm").Strip.Hops[1]
		if !hop.FromTrip || hop.Mark != "8 s" || hop.Say != say {
			t.Errorf("%s: %+v", lang, hop)
		}
	}
}

func TestNotReceivedInALockedRun(t *testing.T) {
	plan := Plan(house(), nil, Options{NoReceiver: true})
	obs := observed(trip13(0))
	obs.Locked = true
	if r := result(t, Match(plan, obs, Clocks{}, at(500)), "13.alarm"); r.Verdict != Waiting || !strings.Contains(r.Say, "read it back") {
		t.Errorf("silence at a receiver that gets nothing was judged: %s %q", r.Verdict, r.Say)
	}
	obs.ReadBacks = []ReadBack{line("r1", "13", "111", signal.New, 12), line("r2", "13", "111", signal.Restore, 90)}
	r := result(t, Match(plan, obs, Clocks{}, at(500)), "13.alarm")
	if r.Verdict != Proved || stops(r) != "proved proved proved proved" || r.Strip.Hops[2].Say != "read back" {
		t.Errorf("the station's evidence alone has to prove the way: %s %s", r.Verdict, stops(r))
	}
}

func TestSecondTrip(t *testing.T) {
	plan := Plan(house(), nil, Options{})
	good := []any{
		trip13(0), sig("s1", 8, "1111 01 013"), sig("s2", 75, "3111 01 013"),
		line("r1", "13", "111", signal.New, 9), line("r2", "13", "111", signal.Restore, 76),
	}
	t.Run("waiting does not undo a proof", func(t *testing.T) {
		r := result(t, Match(plan, observed(append(good, trip13(300))...), Clocks{}, at(310)), "13.alarm")
		if r.Verdict != Proved || r.Attempt != 2 {
			t.Errorf("%s after %d attempts", r.Verdict, r.Attempt)
		}
	})
	t.Run("a later failure stands", func(t *testing.T) {
		r := result(t, Match(plan, observed(append(good, trip13(300))...), Clocks{}, at(401)), "13.alarm")
		if r.Verdict != NotReceived || len(r.Warnings) == 0 {
			t.Errorf("%s, warnings %q", r.Verdict, r.Warnings)
		}
	})
	t.Run("a failure is mended by the next trip", func(t *testing.T) {
		r := result(t, Match(plan, observed(trip13(0), trip13(300), sig("s1", 308, "1111 01 013"), sig("s2", 375, "3111 01 013"),
			line("r1", "13", "111", signal.New, 309), line("r2", "13", "111", signal.Restore, 376)), Clocks{}, at(500)), "13.alarm")
		if r.Verdict != Proved {
			t.Errorf("%s: %s", r.Verdict, r.Say)
		}
	})
	t.Run("tripped again while still in alarm", func(t *testing.T) {
		r := result(t, Match(plan, observed(trip13(0), sig("s1", 8, "1111 01 013"), trip13(60), sig("s2", 150, "3111 01 013"),
			line("r1", "13", "111", signal.New, 9), line("r2", "13", "111", signal.Restore, 151)), Clocks{}, at(500)), "13.alarm")
		if r.Verdict != Proved || r.Attempt != 1 {
			t.Errorf("%s after %d attempts: %s", r.Verdict, r.Attempt, r.Say)
		}
	})
	t.Run("two people ticked one trip", func(t *testing.T) {
		r := result(t, Match(plan, observed(trip13(0), trip13(6), sig("s1", 8, "1111 01 013")), Clocks{}, at(20)), "13.alarm")
		if r.Attempt != 1 || r.Verdict != Waiting {
			t.Errorf("%s after %d attempts", r.Verdict, r.Attempt)
		}
	})
	t.Run("a tick taken back", func(t *testing.T) {
		back := Tick{ID: "w", What: Withdrawn, Of: "trip-0", At: at(5)}
		r := result(t, Match(plan, observed(trip13(0), back), Clocks{}, at(500)), "13.alarm")
		if r.Verdict != Unproved {
			t.Errorf("%s", r.Verdict)
		}
	})
}

// TestHeads: three alarms share zone 09; each signal goes to the alarm that was pressed, and one that nobody pressed is
// nobody's proof.
func TestHeads(t *testing.T) {
	plan := Plan(house(), nil, Options{})
	press := func(head string, s float64) Tick {
		k := tick("t"+head, StepID(head+".press"), Tripped, s)
		k.Method = "button"
		return k
	}
	obs := observed(
		press("M1", 0), tick("h1", "M1.press", Sounded, 5),
		press("M2", 600), tick("h2", "M2.press", Sounded, 605), sig("a", 625, "1111 01 009"), sig("b", 700, "3111 01 009"),
		press("M3", 1200), tick("h3", "M3.press", Sounded, 1205), sig("c", 1225, "1111 01 009"), sig("d", 1290, "3111 01 009"),
		sig("e", 2400, "1111 01 009"),
		line("r1", "09", "111", signal.New, 626), line("r2", "09", "111", signal.Restore, 701),
	)
	out := Match(plan, obs, Clocks{}, at(2500))
	if r := result(t, out, "M1.press"); r.Verdict != Proved || !r.Half || stops(r) != "half unproved unproved unproved" {
		t.Errorf("M1, not followed: %s %s", r.Verdict, stops(r))
	}
	if r := result(t, out, "M2.press"); r.Verdict != Proved || stops(r) != "half proved proved proved" || *r.Signals[0].Seconds != 25 {
		t.Errorf("M2: %s %s %s", r.Verdict, stops(r), r.Say)
	}
	if r := result(t, out, "M3.press"); r.Verdict != Waiting || stops(r) != "half proved proved waiting" {
		t.Errorf("M3 took the read-back of M2: %s %s", r.Verdict, stops(r))
	}
	if len(out.Unexpected) != 1 || out.Unexpected[0].Signal != "e" || !out.Unexpected[0].PossiblyReal {
		t.Errorf("the alarm that nobody caused: %+v", out.Unexpected)
	}
	if out.Counters.Half != 2 {
		t.Errorf("half proofs: %d", out.Counters.Half)
	}
}

func TestHeadHasToSound(t *testing.T) {
	plan := Plan(house(), nil, Options{})
	k := tick("t", "M1.press", Tripped, 0)
	if r := result(t, Match(plan, observed(k), Clocks{}, at(300)), "M1.press"); r.Verdict != Waiting {
		t.Errorf("proved though nobody heard it: %s", r.Verdict)
	}
}

func TestKeyswitchPathsAndTest(t *testing.T) {
	plan := Plan(house(), nil, Options{})
	by := func(s Signal, path site.PathID) Signal { s.Path = path; return s }
	k := tick("k", "08.alarm", Tripped, 0)
	k.Method = "key"
	p := tick("p", "path.main", Tripped, 600)
	p.Method = "blocked"
	f := tick("f", "panel.test", Tripped, -100)
	f.Method = "forced"
	obs := observed(k, sig("s1", 3, "3409 01 008"), sig("s2", 40, "1409 01 008"),
		line("r1", "08", "409", signal.Closing, 3), line("r2", "08", "409", signal.Opening, 40),
		p, by(sig("s3", 700, "1351 00 000"), "backup"), by(sig("s4", 760, "1601 00 000"), "backup"), sig("s5", 900, "3351 00 000"),
		f, sig("s0", -95, "1602 00 000"),
	)
	out := Match(plan, obs, Clocks{}, at(1000))
	if r := result(t, out, "08.alarm"); r.Verdict != Proved {
		t.Errorf("key switch: %s %s", r.Verdict, r.Say)
	}
	r := result(t, out, "path.main")
	for i, want := range []SignalID{"s3", "s3", "s5"} {
		if len(r.Signals[i].Signals) == 0 || r.Signals[i].Signals[0] != want {
			t.Errorf("path, %s: %v", r.Signals[i].Expect, r.Signals[i].Signals)
		}
	}
	if r := result(t, out, "panel.test"); !r.Signals[0].Here || r.Verdict != Waiting {
		t.Errorf("first signal: %s %s", r.Verdict, r.Say)
	}
	if len(out.Unexpected) != 0 {
		t.Errorf("unexpected: %+v", out.Unexpected)
	}
}

func TestUnexpected(t *testing.T) {
	stranger := sig("s", 8, "1111 01 013")
	stranger.Event = cid("4861", "1111 01 013")
	unanswered := sig("s", 8, "1111 01 013")
	unanswered.Acknowledged = false
	wrongAccount := line("r", "13", "111", signal.New, 12)
	wrongAccount.Account = "4861"
	motion := tick("m", "05.alarm", Tripped, 0)
	motion.Method = "walk"
	tests := []struct {
		name string
		obs  Observations
		kind UnexpectedKind
		real bool
		say  string
	}{
		{"fire that nobody trips", observed(sig("s", 8, "1111 01 014")), NobodyTripping, true, "POSSIBLY REAL"},
		{"fire while another is tripped and came", observed(trip13(0), sig("a", 5, "1111 01 013"), sig("s", 8, "1111 01 014")), NobodyTripping, true, "POSSIBLY REAL"},
		{"fire of another zone instead", observed(trip13(0), sig("s", 8, "1111 01 014")), OtherZone, true, "while Lounge smoke was tripped"},
		{"burglary that nobody trips", observed(sig("s", 8, "1132 01 005")), NobodyTripping, true, "POSSIBLY REAL"},
		{"walked past a motion detector", observed(motion, sig("a", 5, "1132 01 005"), sig("s", 9, "1134 01 001")), NobodyTripping, false, "Front door"},
		{"zone that is not planned", observed(sig("s", 8, "1111 01 040")), NotInPlan, true, "Zone 40"},
		{"account digits swapped", observed(stranger), OtherAccount, false, "4861"},
		{"no window open", observed(unanswered), Unanswered, true, "not answered"},
		{"before the run", observed(sig("s", -1300, "1111 01 013")), BeforeRun, false, "before this run"},
		{"lone restore", observed(sig("s", 8, "3111 01 013")), LoneRestore, false, "without its alarm"},
		{"tamper", observed(sig("s", 8, "1383 01 013")), TroubleSignal, false, "383"},
		{"read-back of the wrong account", observed(trip13(0), wrongAccount), OtherAccount, false, "4861"},
		{"read-back that fits nothing", observed(line("r", "13", "130", signal.New, 12)), StationOnly, false, "no step"},
		{"read-back without a trip", observed(line("r", "13", "111", signal.New, 12)), StationOnly, false, "nobody named"},
		{"read-back of another hour", observed(trip13(0), line("r", "13", "111", signal.New, 3600)), StationOnly, false, "fits no trip"},
	}
	plan := Plan(house(), nil, Options{})
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			out := Match(plan, tt.obs, Clocks{}, at(60))
			if len(out.Unexpected) != 1 {
				t.Fatalf("%d unexpected: %+v", len(out.Unexpected), out.Unexpected)
			}
			u := out.Unexpected[0]
			if u.Kind != tt.kind || u.PossiblyReal != tt.real || !strings.Contains(u.Say, tt.say) || u.Try == "" {
				t.Errorf("got %s real=%v %q (%s)", u.Kind, u.PossiblyReal, u.Say, u.Try)
			}
		})
	}
}

// TestHistory: a history that was pasted whole holds days of other things. Only alarms in the time of the run stand apart.
func TestHistory(t *testing.T) {
	plan := Plan(house(), nil, Options{})
	history := []ReadBack{
		line("h1", "13", "111", signal.New, -90000), line("h2", "", "602", signal.New, 100), line("h3", "01", "401", signal.Closing, 200),
		line("h4", "14", "111", signal.New, 300), line("h5", "14", "111", signal.Restore, 350),
	}
	o := observed()
	for _, r := range history {
		r.Source = FromHistory
		o.ReadBacks = append(o.ReadBacks, r)
	}
	out := Match(plan, o, Clocks{}, at(1000))
	if len(out.Unexpected) != 1 || out.Unexpected[0].ReadBack != "h4" {
		t.Errorf("%+v", out.Unexpected)
	}
}

func TestRepeatsAndPaths(t *testing.T) {
	plan := Plan(house(), nil, Options{})
	again := sig("s1b", 9, "1111 01 013")
	again.DuplicateOf, again.Acknowledged = "s1", true
	lost := sig("s1", 8, "1111 01 013")
	lost.Acknowledged = false
	other := sig("s3", 20, "1111 01 013")
	other.Path = "backup"
	otherEnd := sig("s4", 80, "3111 01 013")
	otherEnd.Path = "backup"
	out := Match(plan, observed(trip13(0), lost, again, other, sig("s2", 75, "3111 01 013"), otherEnd), Clocks{}, at(100))
	r := result(t, out, "13.alarm")
	if out.Duplicates != 1 || len(out.Unexpected) != 0 || !r.Signals[0].Here || !r.Signals[1].Here || *r.Signals[0].Seconds != 8 {
		t.Errorf("%d repeats, unexpected %+v, %+v", out.Duplicates, out.Unexpected, r.Signals)
	}
}

// TestClocks: the station an hour ahead. Unmeasured, its lines fit no trip; measured, they prove.
func TestClocks(t *testing.T) {
	plan := Plan(house(), nil, Options{})
	obs := observed(trip13(0), sig("s1", 8, "1111 01 013"), sig("s2", 75, "3111 01 013"),
		line("r1", "13", "111", signal.New, 3610), line("r2", "13", "111", signal.Restore, 3676))
	obs.Signals[0].Stamp = at(8 - 200)
	if r := result(t, Match(plan, obs, Clocks{}, at(5000)), "13.alarm"); r.Strip.Station.State == StopProved {
		t.Error("lines of another hour proved the trip")
	}
	hour, behind := 3600, -197
	out := Match(plan, obs, Clocks{Station: &hour, Panel: &behind}, at(5000))
	r := result(t, out, "13.alarm")
	if r.Verdict != Proved || *r.Strip.Hops[0].Seconds != 5 || *r.Strip.Hops[1].Seconds != 3 || *r.Strip.Hops[2].Seconds != 2 {
		t.Errorf("%s, hops %+v", r.Verdict, r.Strip.Hops)
	}
	near := observed(trip13(0), sig("s1", 8, "1111 01 013"), line("r1", "13", "111", signal.New, 120))
	out = Match(plan, near, Clocks{}, at(130))
	if r := result(t, out, "13.alarm"); !r.Signals[0].AtStation || len(r.Warnings) == 0 || !out.Clocks[0].Warn {
		t.Errorf("112 s apart: accepted with a warning; got %+v %+v", r.Warnings, out.Clocks)
	}
}

func TestLinkedSignal(t *testing.T) {
	plan := Plan(house(), nil, Options{})
	k := trip13(900)
	k.Signal = "s1"
	r := result(t, Match(plan, observed(k, sig("s1", 8, "1111 01 013")), Clocks{}, at(901)), "13.alarm")
	if !r.Signals[0].Here {
		t.Errorf("\"that was me\" was not taken: %s", r.Say)
	}
}

func TestMissingTimes(t *testing.T) {
	plan := Plan(house(), nil, Options{})
	none := trip13(0)
	none.At = time.Time{}
	s := sig("s1", 0, "1111 01 013")
	s.Received = time.Time{}
	rb := line("r1", "13", "111", signal.New, 0)
	rb.At, rb.Entered = time.Time{}, time.Time{}
	r := result(t, Match(plan, observed(none, s, rb), Clocks{}, at(60)), "13.alarm")
	if !r.Signals[0].Here || !r.Signals[0].AtStation || r.Signals[0].Seconds != nil {
		t.Errorf("without times: %+v", r.Signals[0])
	}
}

func TestBlockersNextAndNewest(t *testing.T) {
	plan := Plan(house(), nil, Options{})
	obs := observed(trip13(0), sig("s1", 8, "1111 01 013"), sig("s2", 9, "1383 01 014"), sig("s3", 10, "1571 01 014"),
		sig("s4", 11, "1383 01 005"), sig("s5", 12, "3383 01 005"), PutBack{ID: "p", What: "trip limit raised", Made: at(1)}, PutBack{ID: "q", What: "door tone off", Made: at(1), Undone: at(2)})
	out := Match(plan, obs, Clocks{}, at(20))
	count := map[BlockerKind]int{}
	for _, b := range out.Blockers {
		count[b.Kind]++
		if b.Say == "" {
			t.Errorf("a blocker without a name: %+v", b)
		}
	}
	if count[BlockUnrestored] != 1 || count[BlockTamper] != 1 || count[BlockBypass] != 1 || count[BlockPutBack] != 1 || count[BlockOnTest] != 1 || count[BlockUnproved] != len(plan) {
		t.Errorf("%v", count)
	}
	if !strings.HasPrefix(out.Newest, "Zone 05") {
		t.Errorf("newest: %q", out.Newest)
	}
	for i, st := range plan {
		if st.ID == "13.alarm" && out.Next != plan[(i+1)%len(plan)].ID {
			t.Errorf("next after 13.alarm is %s", out.Next)
		}
	}
	c := out.Counters
	if c.Total != len(plan) || c.Waiting != 1 || c.Left != c.Total-c.Proved-c.NotTestable {
		t.Errorf("%+v", c)
	}
}

func TestSounder(t *testing.T) {
	s := house()
	s.Models["bell"] = site.Model{Name: "Bell box", Class: "sounder", Link: "wired"}
	s.Devices["bell"] = site.Device{Model: "bell", Room: "hall", At: metres(2, 4)}
	plan := Plan(s, nil, Options{})
	for name, k := range map[string]Tick{"tripped": {ID: "t", Step: "bell.sound", What: Tripped, Method: "heard", At: at(0)}, "sounded": tick("t", "bell.sound", Sounded, 0)} {
		r := result(t, Match(plan, observed(k), Clocks{}, at(10)), "bell.sound")
		if r.Verdict != Proved || r.Half || stops(r) != "proved unproved unproved unproved" {
			t.Errorf("%s: %s %s %s", name, r.Verdict, stops(r), r.Say)
		}
	}
}

func TestTrippedOffTest(t *testing.T) {
	plan := Plan(house(), nil, Options{})
	o := observed(trip13(0))
	for _, tt := range []struct {
		name string
		w    Window
		warn string
	}{
		{"on test", open(), ""},
		{"no window", Window{}, "the account was not on test"},
		{"after its end", Window{Opened: at(-900), Until: at(-1), Families: []string{"fire"}}, "the account was not on test"},
		{"in an earlier window", Window{Earlier: []Span{{at(-900), at(100)}}}, ""},
		{"another family", Window{Opened: at(-900), Until: at(900), Families: []string{"burglary"}}, "fire was not on test"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			o.Window = tt.w
			r := result(t, Match(plan, o, Clocks{}, at(10)), "13.alarm")
			got := strings.Join(r.Warnings, " ")
			if tt.warn == "" && strings.Contains(got, "on test") || !strings.Contains(got, tt.warn) {
				t.Errorf("%q", got)
			}
		})
	}
}

// TestWalkingTripsOthers: on the way to a motion detector a door reports first. That is no wrong zone until time is up.
func TestWalkingTripsOthers(t *testing.T) {
	plan := Plan(house(), nil, Options{})
	k := tick("k", "05.alarm", Tripped, 0)
	k.Method = "walk"
	o := observed(k, sig("s1", 5, "1134 01 001"))
	if r := result(t, Match(plan, o, Clocks{}, at(20)), "05.alarm"); r.Verdict != Waiting || stops(r) != "waiting waiting waiting unproved" {
		t.Errorf("%s %s", r.Verdict, stops(r))
	}
	if r := result(t, Match(plan, o, Clocks{}, at(101)), "05.alarm"); r.Verdict != WrongZone || r.Strip.Panel.State != StopFailed {
		t.Errorf("%s %s", r.Verdict, stops(r))
	}
	o.Signals = append(o.Signals, sig("s2", 30, "1132 03 005"))
	if r := result(t, Match(plan, o, Clocks{}, at(101)), "05.alarm"); r.Verdict != WrongZone || !strings.Contains(r.Say, "area 3") {
		t.Errorf("burglary in another area: %s %q", r.Verdict, r.Say)
	}
}
