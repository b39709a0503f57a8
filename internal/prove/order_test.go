package prove

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"proofbell/signal"
	"proofbell/site"

	"pgregory.net/rapid"
)

// anyObservations draws what may happen in a run: trips named and unnamed, repeats, strangers, restores without alarms,
// lines with and without times, in a run of an hour.
func anyObservations(t *rapid.T) Observations {
	o := observed()
	steps := []StepID{"13.alarm", "13.alarm", "13.alarm", "14.alarm", "M2.press", "M3.press", "M1.press", "05.alarm", "08.alarm", "panel.mains", "path.main"}
	when := func(label string) float64 { return anySecond(t, label) }
	for i := range rapid.IntRange(0, 7).Draw(t, "ticks") {
		k := tick(fmt.Sprintf("t%d", i), rapid.SampledFrom(steps).Draw(t, "step"),
			rapid.SampledFrom([]Did{Tripped, Tripped, Tripped, Sounded, Restored, PanelReset, PanelShowed, Failed, CannotTest, Withdrawn}).Draw(t, "what"), when("tick at"))
		k.Method = rapid.SampledFrom([]string{"aerosol", "button", "", "walk"}).Draw(t, "method")
		if k.What == Withdrawn {
			k.Of = TickID(fmt.Sprintf("t%d", rapid.IntRange(0, 6).Draw(t, "of")))
		}
		if rapid.IntRange(0, 9).Draw(t, "untimed tick") == 0 {
			k.At = Tick{}.At
		}
		if rapid.IntRange(0, 5).Draw(t, "linked") == 0 {
			k.Signal = SignalID(fmt.Sprintf("s%d", rapid.IntRange(0, 7).Draw(t, "link")))
		}
		o.Ticks = append(o.Ticks, k)
	}
	data := []string{
		"1111 01 013", "1111 01 013", "3111 01 013", "3111 01 013", "1111 01 009", "3111 01 009", "1111 01 014", "3111 01 014", "1130 01 013", "1111 01 031", "1132 01 005", "3132 01 005",
		"3409 01 008", "1409 01 008", "1301 00 000", "3301 00 000", "1351 00 000", "1383 01 013", "3383 01 013", "1571 01 013", "6111 01 013", "1602 00 000",
	}
	for i := range rapid.IntRange(0, 8).Draw(t, "signals") {
		s := sig(fmt.Sprintf("s%d", i), when("received"), rapid.SampledFrom(data).Draw(t, "data"))
		s.Acknowledged = rapid.IntRange(0, 4).Draw(t, "answered") > 0
		s.Path = rapid.SampledFrom([]site.PathID{"main", "backup", ""}).Draw(t, "path")
		switch rapid.IntRange(0, 9).Draw(t, "oddity") {
		case 0:
			s.Received = Signal{}.Received
		case 1:
			s.DuplicateOf = SignalID(fmt.Sprintf("s%d", rapid.IntRange(0, 7).Draw(t, "repeat of")))
		case 2:
			s.Event.Account = "4861"
		case 3:
			s.Stamp = at(when("stamp"))
		}
		o.Signals = append(o.Signals, s)
	}
	for i := range rapid.IntRange(0, 6).Draw(t, "lines") {
		r := anyLine(t, fmt.Sprintf("r%d", i), when("station"))
		r.NotSeen = rapid.IntRange(0, 5).Draw(t, "denied") == 0
		o.ReadBacks = append(o.ReadBacks, r)
	}
	o.Locked = rapid.IntRange(0, 5).Draw(t, "locked") == 0
	return o
}

// anySecond draws moments in bunches, so that trips, signals and lines meet.
func anySecond(t *rapid.T, label string) float64 {
	return float64(rapid.SampledFrom([]int{0, 0, 0, 200, 200, 900, -1300}).Draw(t, label) + rapid.IntRange(-100, 200).Draw(t, label))
}

func anyLine(t *rapid.T, id string, s float64) ReadBack {
	r := line(id, rapid.SampledFrom([]site.ZoneID{"13", "14", "9", "09", "05", "08", "31", ""}).Draw(t, "line zone"),
		rapid.SampledFrom([]string{"111", "111", "111", "132", "409", "301", "351", ""}).Draw(t, "line code"),
		rapid.SampledFrom([]signal.Qualifier{signal.New, signal.Restore, signal.Closing, signal.Opening}).Draw(t, "line word"), s)
	if rapid.IntRange(0, 3).Draw(t, "tapped") == 0 {
		r.Expect, r.Zone, r.Code, r.Qualifier = "13.alarm/alarm", "13", "111", signal.New
		r.Entered = at(s + float64(rapid.IntRange(0, 300).Draw(t, "entered")))
	}
	if rapid.IntRange(0, 3).Draw(t, "untimed line") == 0 {
		r.At = ReadBack{}.At
	}
	return r
}

func text(t interface{ Fatal(...any) }, v any) string {
	raw, err := json.MarshalIndent(v, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return string(raw)
}

func anyClocks(t *rapid.T) Clocks {
	var c Clocks
	if rapid.Bool().Draw(t, "panel measured") {
		v := rapid.IntRange(-300, 300).Draw(t, "panel offset")
		c.Panel = &v
	}
	if rapid.Bool().Draw(t, "station measured") {
		v := rapid.SampledFrom([]int{0, 30, -120, 1000, -4000}).Draw(t, "station offset")
		c.Station = &v
	}
	return c
}

func TestOrderDoesNotMatter(t *testing.T) {
	plan := Plan(house(), nil, Options{})
	rapid.Check(t, func(t *rapid.T) {
		o, clocks, now := anyObservations(t), anyClocks(t), at(float64(rapid.IntRange(0, 2000).Draw(t, "now")))
		want := text(t, Match(plan, o, clocks, now))
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		for range 3 {
			r.Shuffle(len(o.Ticks), func(i, j int) { o.Ticks[i], o.Ticks[j] = o.Ticks[j], o.Ticks[i] })
			r.Shuffle(len(o.Signals), func(i, j int) { o.Signals[i], o.Signals[j] = o.Signals[j], o.Signals[i] })
			r.Shuffle(len(o.ReadBacks), func(i, j int) { o.ReadBacks[i], o.ReadBacks[j] = o.ReadBacks[j], o.ReadBacks[i] })
			if got := text(t, Match(plan, o, clocks, now)); got != want {
				t.Fatalf("another order, another result:\n%s\n%s", want, got)
			}
		}
		o.Ticks, o.Signals, o.ReadBacks = slices.Concat(o.Ticks, o.Ticks), slices.Concat(o.Signals, o.Signals), slices.Concat(o.ReadBacks, o.ReadBacks)
		if got := text(t, Match(plan, o, clocks, now)); got != want {
			t.Fatalf("observations given twice changed the result:\n%s\n%s", want, got)
		}
	})
}

// TestEveryOrder tries all 5,040 orders of one run.
func TestEveryOrder(t *testing.T) {
	plan := Plan(house(), nil, Options{Families: []string{"fire"}})
	signals := []Signal{
		sig("a", 8, "1111 01 013"), sig("b", 75, "3111 01 013"), sig("c", 310, "1111 01 014"), sig("d", 380, "3111 01 014"),
		sig("e", 311, "1111 01 013"), sig("f", 900, "3111 01 009"), sig("g", 8, "1383 01 013"),
	}
	second := tick("t14", "14.alarm", Tripped, 300)
	o := observed(trip13(0), second)
	want := ""
	count := 0
	permute(signals, 0, func(s []Signal) {
		count++
		o.Signals = s
		got := text(t, Match(plan, o, Clocks{}, at(600)))
		if want == "" {
			want = got
		}
		if got != want {
			t.Fatalf("order %v differs", s)
		}
	})
	if count != 5040 {
		t.Errorf("%d orders tried", count)
	}
}

func permute[T any](list []T, k int, visit func([]T)) {
	if k == len(list) {
		visit(list)
		return
	}
	for i := k; i < len(list); i++ {
		list[k], list[i] = list[i], list[k]
		permute(list, k+1, visit)
		list[k], list[i] = list[i], list[k]
	}
}

// levels are the four stops of every step, by how much they show.
func levels(o Outcome) map[StepID][4]int {
	out := map[StepID][4]int{}
	for _, r := range o.Steps {
		s := r.Strip
		out[r.Step] = [4]int{s.Detector.State.level(), s.Panel.State.level(), s.Line.State.level(), s.Station.State.level()}
	}
	return out
}

// TestReadBackNeverLowersAStop holds for what the station has. What it says that it does not have may turn a trip into a
// failure, and is left out here.
func TestReadBackNeverLowersAStop(t *testing.T) {
	plan := Plan(house(), nil, Options{})
	rapid.Check(t, func(t *rapid.T) {
		o, clocks, now := anyObservations(t), anyClocks(t), at(float64(rapid.IntRange(0, 2000).Draw(t, "now")))
		o.ReadBacks = slices.DeleteFunc(o.ReadBacks, func(r ReadBack) bool { return r.NotSeen })
		before := levels(Match(plan, o, clocks, now))
		o.ReadBacks = append(o.ReadBacks, anyLine(t, "one-more", anySecond(t, "at")))
		after := Match(plan, o, clocks, now)
		for step, was := range before {
			for i, is := range levels(after)[step] {
				if is < was[i] {
					t.Fatalf("%s stop %d fell from %d to %d\n%s", step, i, was[i], is, text(t, result2(after, step)))
				}
			}
		}
	})
}

func result2(o Outcome, id StepID) StepResult {
	for _, r := range o.Steps {
		if r.Step == id {
			return r
		}
	}
	return StepResult{}
}

func TestASignalNeverFillsTheStation(t *testing.T) {
	plan := Plan(house(), nil, Options{})
	rapid.Check(t, func(t *rapid.T) {
		o := anyObservations(t)
		o.ReadBacks = nil
		for _, r := range Match(plan, o, anyClocks(t), at(8000)).Steps {
			if s := r.Strip.Station.State; s == StopProved || s == StopHalf {
				t.Fatalf("%s: the station is %s and never said anything", r.Step, s)
			}
			needs := false
			for _, st := range plan {
				needs = needs || st.ID == r.Step && st.ToStation
			}
			if needs && r.Verdict.Good() {
				t.Fatalf("%s: %s without the station", r.Step, r.Verdict)
			}
		}
	})
}

// TestNoTickNoProof: signals and lines alone prove nothing; somebody has to name the trip (proof rule).
func TestNoTickNoProof(t *testing.T) {
	plan := Plan(house(), nil, Options{})
	rapid.Check(t, func(t *rapid.T) {
		o := anyObservations(t)
		o.Ticks = nil
		for _, r := range Match(plan, o, anyClocks(t), at(8000)).Steps {
			for i, n := range levels(Outcome{Steps: []StepResult{r}})[r.Step] {
				if n > 1 || r.Verdict.Good() {
					t.Fatalf("%s: stop %d filled, %s, and nobody tripped it", r.Step, i, r.Verdict)
				}
			}
		}
	})
}
