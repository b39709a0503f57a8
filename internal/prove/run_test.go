package prove

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"proofbell/demo"
	"proofbell/evidence"
	"proofbell/signal"
)

type entry struct {
	kind    evidence.Kind
	id      string
	s       float64
	body    any
	private any
}

func raw(t testing.TB, v any) json.RawMessage {
	t.Helper()
	if v == nil {
		return nil
	}
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func fold(t testing.TB, entries []entry) Run {
	t.Helper()
	var r Run
	for _, e := range entries {
		next, used, err := r.Fold(e.kind, Meta{ID: e.id, At: at(e.s), By: "tamsin"}, raw(t, e.body), raw(t, e.private))
		if !used || err != nil {
			t.Fatalf("%s %s: used %v, %v", e.kind, e.id, used, err)
		}
		r = next
	}
	return r
}

func onTest(ev WindowEvent) OnTestBody { return OnTestBody{WindowEvent: ev} }

// course is a run from the call to the close, in which only zone 13 had to be proved.
func course() []entry {
	acts := goodCall()
	entries := []entry{{evidence.KindRun, "run1", -10, RunBody{Act: RunOpened, Account: "4816"}, nil}}
	for i, a := range acts[:4] {
		entries = append(entries, entry{evidence.KindOnTest, fmt.Sprint("o", i), a.s, onTest(a.ev), a.ev.Private})
	}
	body := func(row int64, s float64, data string) SignalBody {
		return SignalBody{Receiver: "r1", Row: row, Event: cid("4816", data), Received: at(s), Acknowledged: true, Path: "main"}
	}
	return append(entries,
		entry{evidence.KindTick, "f", 140, TickBody{Step: "panel.test", What: Tripped, Method: "forced"}, nil},
		entry{evidence.KindSignal, "s0", 145, body(1, 145, "1602 00 000"), nil},
		entry{evidence.KindPutback, "p1", 150, PutBackBody{Act: PutBackMade, What: "door tone off"}, nil},
		entry{evidence.KindTick, "t1", 200, TickBody{Step: "13.alarm", What: Tripped, Method: "aerosol"}, nil},
		entry{evidence.KindSignal, "s1", 208, body(2, 208, "1111 01 013"), nil},
		entry{evidence.KindSignal, "s2", 270, body(3, 270, "3111 01 013"), nil},
		entry{evidence.KindReadback, "r1", 6000, ReadBackBody{Source: FromPhone, Account: "4816", Lines: []ReadBackLine{
			{Zone: "", Code: "602", Qualifier: signal.New, At: at(146)},
			{Zone: "13", Code: "111", Qualifier: signal.New, At: at(209)},
			{Zone: "13", Code: "111", Qualifier: signal.Restore, At: at(271)},
		}}, Private{Operator: "B. Ferrant"}},
		entry{evidence.KindPutback, "p2", 6100, PutBackBody{Act: PutBackUndone, Item: "p1"}, nil},
		entry{evidence.KindOnTest, "o5", 7000, onTest(acts[5].ev), nil},
		entry{evidence.KindOnTest, "o6", 7100, onTest(acts[6].ev), acts[6].ev.Private},
		entry{evidence.KindRun, "c", 7200, RunBody{Act: RunClosed, Run: "run1"}, nil},
	)
}

func TestRunCourse(t *testing.T) {
	r := fold(t, course())
	plan := Plan(house(), nil, Options{Zones: r.Scope.Zones, NoSystem: true, Families: []string{"fire"}})
	plan = slices.DeleteFunc(plan, func(s Step) bool { return s.ID != "13.alarm" && s.ID != "panel.test" })
	out := Match(plan, r.Observations(), r.Clocks, at(7300))
	if out.Counters.Proved != 2 || len(out.Blockers) != 0 || len(out.Unexpected) != 0 {
		t.Errorf("%+v\n%+v\n%+v", out.Counters, out.Blockers, out.Unexpected)
	}
	if r.ReadBacks[1].Operator != "B. Ferrant" || r.Closed != at(7200) {
		t.Errorf("%+v", r)
	}
	if raw := text(t, r.Signals); strings.Contains(raw, "Ferrant") {
		t.Error("a name outside the personal part")
	}
}

func TestPersonalDataStaysOutOfBodies(t *testing.T) {
	for _, e := range course() {
		if body := string(raw(t, e.body)); strings.Contains(body, "Ferrant") || strings.Contains(body, "T-17") || strings.Contains(body, "private") {
			t.Errorf("%s: %s", e.kind, body)
		}
	}
}

func TestFoldRefusesAndKeeps(t *testing.T) {
	r := fold(t, course()[:1])
	for _, e := range []entry{
		{evidence.KindOnTest, "x", 5, onTest(WindowEvent{Act: ActOpen}), nil},
		{evidence.KindTick, "x", 5, TickBody{Step: "13.alarm", What: Failed}, nil},
		{evidence.KindTick, "x", 5, TickBody{Step: "13.alarm", What: "liked"}, nil},
		{evidence.KindPutback, "x", 5, PutBackBody{Act: PutBackUndone, Item: "none"}, nil},
		{evidence.KindTick, "x", 5, TickBody{Run: "another", Step: "13.alarm", What: Tripped}, nil},
		{evidence.KindTick, "x", 5, []int{1}, nil},
	} {
		next, used, err := r.Fold(e.kind, Meta{ID: e.id, At: at(e.s)}, raw(t, e.body), nil)
		if !used || err == nil || len(next.Refused) != 1 {
			t.Errorf("%s %+v: used %v, %v", e.kind, e.body, used, err)
		}
	}
	if _, used, err := r.Fold(evidence.KindEdit, Meta{}, nil, nil); used || err != nil {
		t.Errorf("an edit is no part of a run: %v %v", used, err)
	}
	if _, _, err := (Run{}).Fold(evidence.KindTick, Meta{ID: "x"}, raw(t, TickBody{What: Tripped}), nil); !errors.Is(err, ErrNoRun) {
		t.Errorf("%v", err)
	}
	open := fold(t, course()[:5])
	if _, err := open.Update(Meta{ID: "c", At: at(400)}, RunBody{Act: RunClosed}); !errors.Is(err, ErrOrder) {
		t.Errorf("closed while on test: %v", err)
	}
}

// What nobody answered leaves room in a run for what was: anybody can send it.
func TestFoldKeepsRoomForWhatWasAnswered(t *testing.T) {
	r := fold(t, course()[:1])
	add := func(n int, acknowledged bool) error {
		next, err := r.Signal(Meta{ID: fmt.Sprint("s", n)}, SignalBody{Event: cid("4816", "1110 01 013"), Acknowledged: acknowledged})
		r = next
		return err
	}
	for n := range 100_000 {
		if err := add(n, false); err != nil {
			t.Fatal(err)
		}
	}
	if err := add(100_000, false); err == nil || !strings.Contains(err.Error(), "100000 already that were not answered") {
		t.Errorf("one more: %v", err)
	}
	if err := add(100_001, true); err != nil || len(r.Signals) != 100_001 {
		t.Errorf("an answered one: %v", err)
	}
}

func TestFoldTwiceCountsOnce(t *testing.T) {
	entries := course()
	var twice []entry
	for _, e := range entries {
		twice = append(twice, e)
		if e.kind != evidence.KindRun && e.kind != evidence.KindOnTest {
			twice = append(twice, e)
		}
	}
	if a, b := text(t, fold(t, entries)), text(t, fold(t, twice)); a != b {
		t.Errorf("%s\n%s", a, b)
	}
}

func TestFoldLeavesTheOldRunAlone(t *testing.T) {
	entries := course()
	r := fold(t, entries[:9])
	before := text(t, r)
	for _, e := range entries[9:] {
		if _, _, err := r.Fold(e.kind, Meta{ID: e.id, At: at(e.s)}, raw(t, e.body), raw(t, e.private)); err != nil && e.kind != evidence.KindRun && e.kind != evidence.KindPutback && e.kind != evidence.KindOnTest {
			t.Errorf("%s: %v", e.id, err)
		}
	}
	if after := text(t, r); after != before {
		t.Errorf("a value that was handed out changed:\n%s\n%s", before, after)
	}
}

// TestMillProvedWhole trips everything in the demo building, in walking order, and has the station read everything back.
func TestMillProvedWhole(t *testing.T) {
	plan := Plan(millSite(t, demo.Corrected), ladder(t), Options{})
	o := observed()
	o.Window.Until = at(100 * 3600)
	n, s := 0, 0.0
	id := func() string { n++; return fmt.Sprint("x", n) }
	for _, st := range plan {
		k := tick(id(), st.ID, Tripped, s)
		k.Method = st.Methods[0].ID
		o.Ticks = append(o.Ticks, k)
		if st.Sounds {
			o.Ticks = append(o.Ticks, tick(id(), st.ID, Sounded, s+5))
		}
		when := s
		for _, e := range st.Expected {
			if e.Optional {
				continue
			}
			when += 10
			code, qualifier := e.Code, byte('1')
			if e.Qualifier == signal.Restore || e.Qualifier == signal.Closing {
				qualifier = '3'
			}
			if e.Role == RoleOtherPath {
				code = "601"
			}
			area := "00"
			if e.Area != "" {
				area = "0" + string(e.Area)
			}
			x := sig(id(), when, fmt.Sprintf("%c%s %s %03d", qualifier, code, area, e.Number))
			if e.Path != "" {
				x.Path = e.Path
			}
			o.Signals = append(o.Signals, x)
			r := line(id(), e.Zone, code, e.Qualifier, when+2)
			r.Path = x.Path
			o.ReadBacks = append(o.ReadBacks, r)
		}
		s += 400
	}
	out := Match(plan, o, Clocks{}, at(s))
	for i, r := range out.Steps {
		if r.Verdict != Proved {
			t.Errorf("%s: %s %s", plan[i].ID, r.Verdict, r.Say)
		}
		if plan[i].ToStation && r.Strip.Station.State != StopProved {
			t.Errorf("%s: station %s", plan[i].ID, r.Strip.Station.State)
		}
	}
	if len(out.Unexpected) != 0 || len(out.Blockers) != 1 || out.Blockers[0].Kind != BlockOnTest || out.Next != "" {
		t.Errorf("unexpected %+v\nblockers %+v\nnext %q", out.Unexpected, out.Blockers, out.Next)
	}
	if out.Counters.Half != 13 { // the thirteen alarms were pressed by their buttons
		t.Errorf("%d half proofs", out.Counters.Half)
	}
	// Without our receiver's frames the station's evidence is enough; without the station nothing is proved that has to
	// reach it.
	alone := o
	alone.Signals, alone.Locked = nil, true
	if got := Match(plan, alone, Clocks{}, at(s)); got.Counters.Proved != len(plan) {
		t.Errorf("by read-back alone: %+v", got.Counters)
		for _, r := range got.Steps {
			if !r.Verdict.Good() {
				t.Errorf("%s", text(t, r))
			}
		}
	}
	here := o
	here.ReadBacks = nil
	if got := Match(plan, here, Clocks{}, at(s)); got.Counters.Proved != 13 { // ten alarms that are not followed, three sounders
		t.Errorf("by our frames alone: %+v", got.Counters)
	}
}

// FuzzFold feeds bodies that a stranger's client may have written: whatever they hold, the run takes or refuses them, and
// what it takes can be judged.
func FuzzFold(f *testing.F) {
	kinds := []evidence.Kind{evidence.KindRun, evidence.KindOnTest, evidence.KindSignal, evidence.KindReadback, evidence.KindTick, evidence.KindPutback}
	for _, e := range course() {
		body, err := json.Marshal(e.body)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(uint8(slices.Index(kinds, e.kind)), body)
	}
	base := fold(f, course()[:9])
	plan := Plan(house(), nil, Options{})
	f.Fuzz(func(t *testing.T, kind uint8, body []byte) {
		r, used, err := base.Fold(kinds[int(kind)%len(kinds)], Meta{ID: "z", At: at(300), By: "x"}, body, nil)
		if !used {
			t.Fatal("a kind of a run was not used")
		}
		if err != nil && len(r.Refused) != 1 {
			t.Fatalf("refused and not kept: %v", err)
		}
		Match(plan, r.Observations(), r.Clocks, at(400))
	})
}

// What was seen after the closing belongs to another run; what a phone sends late does not. Nothing closes twice.
func TestAClosedRunTakesNothingNew(t *testing.T) {
	opened := time.Date(2026, 9, 15, 14, 0, 0, 0, time.UTC)
	closed := opened.Add(time.Hour)
	run, err := Open(Meta{ID: "run", At: opened, By: "okoro-lind"}, RunBody{Act: RunOpened, Account: "4816"})
	if err != nil {
		t.Fatal(err)
	}
	if run, err = run.Update(Meta{ID: "end", At: closed}, RunBody{Act: RunClosed, Run: "run"}); err != nil {
		t.Fatal(err)
	}
	trip := TickBody{Run: "run", Step: "13.alarm", What: Tripped}
	if got, err := run.Tick(Meta{ID: "late", At: closed.Add(-time.Minute)}, trip); err != nil || len(got.Ticks) != 1 {
		t.Errorf("a tick made before the closing: %v", err)
	}
	if got, err := run.Tick(Meta{ID: "after", At: closed.Add(time.Hour)}, trip); !errors.Is(err, ErrClosed) || len(got.Ticks) != 0 {
		t.Errorf("a tick made an hour after the closing: %v", err)
	}
	if _, err := run.ReadBack(Meta{ID: "read", At: closed.Add(time.Hour)}, ReadBackBody{Run: "run", Lines: []ReadBackLine{{Zone: "13"}}}, Private{}); !errors.Is(err, ErrClosed) {
		t.Errorf("a read-back an hour after the closing: %v", err)
	}
	if _, err := run.Update(Meta{ID: "again", At: closed.Add(time.Hour)}, RunBody{Act: RunClosed, Run: "run"}); !errors.Is(err, ErrClosed) {
		t.Errorf("closed twice: %v", err)
	}
}
