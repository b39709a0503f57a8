package prove

import (
	"fmt"
	"maps"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"proofbell/signal"
	"proofbell/site"
)

// row is a line of a station's history, its time in seconds by our clock; shift is how far the station's is ahead.
func row(n int, zone site.ZoneID, code string, q signal.Qualifier, s, shift float64) HistoryLine {
	return HistoryLine{Row: n, At: at(s + shift), Zone: zone, Code: code, Qualifier: q, Account: "4816"}
}

// walked is a run in which the zones 01, 05, 13 and 14 were tripped with a known signal each, 3 min apart.
func walked() (Observations, []HistoryLine) {
	var parts []any
	var lines []HistoryLine
	for i, z := range []struct {
		zone, code, data string
	}{{"01", "134", "134 01 001"}, {"05", "132", "132 01 005"}, {"13", "111", "111 01 013"}, {"14", "111", "111 01 014"}} {
		s := float64(180 * i)
		parts = append(parts, tick("t"+z.zone, StepID(z.zone+".alarm"), Tripped, s), sig("a"+z.zone, s+8, "1"+z.data), sig("r"+z.zone, s+60, "3"+z.data))
		lines = append(lines, row(2*i+1, site.ZoneID(z.zone), z.code, signal.New, s+9, 0), row(2*i+2, site.ZoneID(z.zone), z.code, signal.Restore, s+61, 0))
	}
	return observed(parts...), lines
}

func lay(obs Observations, lines []HistoryLine, choice HistoryChoice) HistoryMatch {
	return MatchHistory(Plan(house(), nil, Options{}), obs, Clocks{}, lines, choice, at(3600))
}

func states(h HistoryMatch) string {
	out := ""
	for _, l := range h.Lines {
		out += fmt.Sprintf("%d:%s ", l.Line.Row, l.State)
	}
	return out
}

func TestHistoryFillsTheStation(t *testing.T) {
	obs, lines := walked()
	for i := range lines {
		lines[i].At = lines[i].At.Add(-3661 * time.Second) // an hour and a minute behind
	}
	h := lay(obs, lines, HistoryChoice{})
	// Each line came 1 s after our own signal: -3661 + 1.
	if o := h.Offset; !o.Known || o.Seconds != -3660 || o.Pairs != 8 || !o.Confirm {
		t.Errorf("offset %+v", o)
	}
	if h.Matched != 8 || len(h.Missing) != 0 {
		t.Errorf("%d matched, missing %v: %s", h.Matched, h.Missing, states(h))
	}
	obs.ReadBacks = nil
	run, _ := Open(Meta{ID: "run", At: at(-1200)}, RunBody{Act: RunOpened, Account: "4816"})
	run, err := run.ReadBack(Meta{ID: "imported", At: at(3600)}, ReadBackBody{Source: FromHistory, Account: "4816", Lines: h.Evidence()}, Private{})
	if err != nil {
		t.Fatal(err)
	}
	obs.ReadBacks = run.ReadBacks
	out := Match(Plan(house(), nil, Options{}), obs, Clocks{Station: &h.Offset.Seconds}, at(3600))
	for _, id := range []StepID{"01.alarm", "13.alarm", "14.alarm"} {
		if r := result(t, out, id); r.Strip.Station.State != StopProved {
			t.Errorf("%s: station %s, %s", id, r.Strip.Station.State, r.Say)
		}
	}
}

func TestHistoryLeavesOpenWhatItCanNotTell(t *testing.T) {
	// Two heads of the group M were pressed 30 s apart without a receiver of ours: both come as zone 09.
	obs := observed(tick("t1", "M1.press", Tripped, 0), tick("t2", "M2.press", Tripped, 30))
	obs.Locked = true
	lines := []HistoryLine{row(1, "09", "111", signal.New, 35, 0), row(2, "40", "130", signal.New, 50, 0), row(3, "13", "111", signal.New, -90000, 0)}
	lines[2].At = at(-90000)
	other := row(4, "13", "111", signal.New, 60, 0)
	other.Account = "4861"
	h := lay(obs, append(lines, other), HistoryChoice{Offset: new(int)})
	if got := states(h); got != "1:open 2:none 3:outside 4:other " {
		t.Fatal(got)
	}
	want := h.Lines[0].Candidates
	if len(want) != 2 || len(h.Evidence()) != 0 {
		t.Fatalf("open between %v, evidence %v", want, h.Evidence())
	}
	// A person says which.
	h = lay(obs, lines, HistoryChoice{Offset: new(int), Lines: map[int]ExpectationID{1: want[1]}})
	if e := h.Evidence(); len(e) != 1 || e[0].Expect != want[1] {
		t.Errorf("chosen: %v", e)
	}
	// What its zone and code do not allow a person can not choose either.
	h = lay(obs, lines, HistoryChoice{Offset: new(int), Lines: map[int]ExpectationID{2: want[0]}})
	if e := h.Evidence(); len(e) != 0 {
		t.Errorf("a line of zone 40 as %s: %v", want[0], e)
	}
}

func TestHistoryNeedsAPersonForAClockOfFewLines(t *testing.T) {
	obs, lines := walked()
	for n, want := range map[int]bool{1: true, 2: true, 3: false, 8: false} {
		if h := lay(obs, lines[:n], HistoryChoice{}); h.Offset.Confirm != want || h.Offset.Seconds != 1 {
			t.Errorf("%d lines: %+v", n, h.Offset)
		}
	}
	// A zone tripped twice, 5 min apart, and one line: two offsets are as good as each other.
	obs = observed(trip13(0), sig("a", 8, "1111 01 013"), sig("r", 30, "3111 01 013"), trip13(300), sig("b", 308, "1111 01 013"), sig("s", 330, "3111 01 013"))
	h := lay(obs, []HistoryLine{row(1, "13", "111", signal.New, 308, 0)}, HistoryChoice{})
	if h.Offset.Known || !h.Offset.Confirm {
		t.Errorf("%+v", h.Offset)
	}
}

// The offset is found for any shift, however lines are dropped, doubled, mixed with others and out of order; and whatever is
// given, no line proves two steps and no expected signal is proved by another zone's line.
func TestHistoryOffsetProperty(t *testing.T) {
	plan := Plan(house(), nil, Options{})
	zones := map[site.ZoneID]string{"01": "134", "05": "132", "07": "122", "13": "111", "14": "111"}
	order := slices.Sorted(maps.Keys(zones))
	rapid.Check(t, func(t *rapid.T) {
		shift := rapid.IntRange(-86000, 86000).Draw(t, "shift")
		var parts []any
		type truth struct {
			zone site.ZoneID
			q    signal.Qualifier
			s    float64
		}
		var came []truth
		s := 0.0
		for i := range rapid.IntRange(6, 14).Draw(t, "trips") {
			zone := order[i%len(order)]
			s += float64(rapid.IntRange(90, 400).Draw(t, "gap"))
			data := fmt.Sprintf("%s 01 0%s", zones[zone], zone)
			parts = append(parts, tick(fmt.Sprintf("t%d", i), StepID(zone+".alarm"), Tripped, s), sig(fmt.Sprintf("a%d", i), s+5, "1"+data))
			came = append(came, truth{zone, signal.New, s + 5})
			if zone != "07" {
				parts = append(parts, sig(fmt.Sprintf("r%d", i), s+60, "3"+data))
				came = append(came, truth{zone, signal.Restore, s + 60})
			}
		}
		var lines []HistoryLine
		kept := 0
		for _, c := range came {
			if rapid.IntRange(0, 9).Draw(t, "drop") < 4 {
				continue
			}
			kept++
			for range rapid.SampledFrom([]int{1, 1, 1, 2}).Draw(t, "times") {
				late := rapid.IntRange(0, 8).Draw(t, "late")
				lines = append(lines, row(len(lines)+1, c.zone, zones[c.zone], c.q, c.s+float64(late), float64(shift)))
			}
		}
		for range rapid.IntRange(0, 20).Draw(t, "strangers") {
			zone := rapid.SampledFrom([]site.ZoneID{"33", "40", "01", "13"}).Draw(t, "stranger")
			lines = append(lines, row(len(lines)+1, zone, rapid.SampledFrom([]string{"130", "602", "384"}).Draw(t, "code"), signal.New, float64(rapid.IntRange(-5000, 9000).Draw(t, "when")), float64(shift)))
		}
		lines = rapid.Permutation(lines).Draw(t, "order")
		obs := observed(parts...)
		h := MatchHistory(plan, obs, Clocks{}, lines, HistoryChoice{}, at(20000))
		if kept >= 6 && h.Offset.Known && (h.Offset.Seconds < shift-2 || h.Offset.Seconds > shift+10) {
			t.Fatalf("offset %+v, the station is %d s ahead, %d lines kept", h.Offset, shift, kept)
		}
		if kept >= len(came)*2/3 && kept >= 8 && !h.Offset.Known {
			t.Fatalf("offset not found with %d of %d lines: %+v", kept, len(came), h.Offset)
		}
		rows, steps := map[int]bool{}, map[StepID]site.ZoneID{}
		for _, l := range h.Lines {
			if l.State != LineMatched {
				continue
			}
			if rows[l.Line.Row] {
				t.Fatalf("line %d counts twice", l.Line.Row)
			}
			rows[l.Line.Row] = true
			steps[l.Step] = l.Line.Zone
			if StepID(l.Line.Zone+".alarm") != l.Step {
				t.Fatalf("a line of zone %s proves %s", l.Line.Zone, l.Step)
			}
		}
		// As evidence each line fills one step at most, and fills nothing that was not matched.
		run, _ := Open(Meta{ID: "run", At: at(-1200)}, RunBody{Act: RunOpened, Account: "4816"})
		run, err := run.ReadBack(Meta{ID: "h", At: at(20000)}, ReadBackBody{Source: FromHistory, Lines: h.Evidence()}, Private{})
		if err != nil {
			t.Fatal(err)
		}
		obs.ReadBacks = run.ReadBacks
		out := Match(plan, obs, Clocks{Station: &h.Offset.Seconds}, at(20000))
		used := map[ReadBackID]StepID{}
		for _, r := range out.Steps {
			for _, sr := range r.Signals {
				for _, id := range sr.ReadBacks {
					if before, twice := used[id]; twice && before != r.Step {
						t.Fatalf("line %s proves %s and %s", id, before, r.Step)
					}
					used[id] = r.Step
					if _, matched := steps[r.Step]; !matched {
						t.Fatalf("%s was filled without a matched line", r.Step)
					}
				}
			}
		}
	})
}

// A file of another day fits no clock: nothing is ready before a person says what the clock was. A line whose own time can
// not be trusted is nobody's evidence until a person says whose.
func TestHistoryOfAnotherDay(t *testing.T) {
	obs, lines := walked()
	for i := range lines {
		lines[i].At = lines[i].At.AddDate(0, -1, 0)
	}
	if got := lay(obs, lines, HistoryChoice{}).Offset; got.Known || !got.Confirm {
		t.Errorf("last month's history: %+v, want a clock to be confirmed", got)
	}
	obs, lines = walked()
	for i := range lines {
		lines[i].At, lines[i].Doubt = time.Time{}, true
	}
	for _, l := range lay(obs, lines, HistoryChoice{}).Lines {
		if l.State == LineMatched {
			t.Errorf("row %d has no time to be trusted and became evidence of %s", l.Line.Row, l.Expect)
		}
	}
}
