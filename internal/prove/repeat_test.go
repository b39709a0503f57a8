package prove

import (
	"testing"
	"time"

	"proofbell/signal"
)

// One alarm at two receivers proves once, from when the first of them had it, and both receipts are told.
func TestTwoReceiptsProveOnce(t *testing.T) {
	plan := Plan(house(), nil, Options{})
	first, second := sig("s1", 8, "1111 01 013"), sig("s2", 5, "1111 01 013") // the second in the book came earlier
	second.Receiver, second.DuplicateOf = "r2", "s1"
	first.Acknowledged = false
	o := Match(plan, observed(trip13(0), first, second, sig("s3", 75, "3111 01 013")), Clocks{}, at(100))
	r := result(t, o, "13.alarm")
	begin := r.Signals[0]
	if !begin.Here || begin.Seconds == nil || *begin.Seconds != 5 || len(o.Unexpected) != 0 || o.Duplicates != 1 {
		t.Errorf("here %v, seconds %v, %d stand apart, %d repeats", begin.Here, begin.Seconds, len(o.Unexpected), o.Duplicates)
	}
	want := []Receipt{{"r2", at(5), true}, {"r1", at(8), false}}
	if len(begin.Receipts) != 2 || begin.Receipts[0] != want[0] || begin.Receipts[1] != want[1] {
		t.Errorf("receipts %+v, want %+v", begin.Receipts, want)
	}
	if r.Strip.Line.Say != "Received after 5 s, by 2 receivers" || len(r.Signals[1].Receipts) != 0 {
		t.Errorf("the line says %q; the restore has %+v", r.Strip.Line.Say, r.Signals[1].Receipts)
	}
}

func TestFirsts(t *testing.T) {
	var f Firsts
	find := func(what string, repeat string, index int, s float64, want SignalID) {
		t.Helper()
		if got := f.Find(repeat, index, at(s)); got != want {
			t.Errorf("%s: %q, want %q", what, got, want)
		}
	}
	window := signal.DuplicateWindow.Seconds()
	find("nothing is known", "k", 0, 0, "")
	f.Add("k", 0, "a", at(0))
	f.Add("k", 1, "b", at(0))
	f.Add("", 0, "null", at(0))
	find("the same", "k", 0, 1, "a")
	find("its second event", "k", 1, 1, "b")
	find("another message", "l", 0, 1, "")
	find("no repeat of anything", "", 0, 1, "")
	find("received earlier, written later", "k", 0, -window, "a")
	find("the last moment", "k", 0, window, "a")
	find("too late", "k", 0, window+0.001, "")
	f.Add("k", 0, "c", at(400)) // the panel began to count anew
	find("of the newer one", "k", 0, 410, "c")
	find("of the older one", "k", 0, 20, "a")
}

// A run knows its firsts again after it was copied, and repeats are no firsts.
func TestRunFindsFirsts(t *testing.T) {
	run, err := Open(Meta{ID: "run", At: at(0)}, RunBody{Act: RunOpened, Account: "4816"})
	if err != nil {
		t.Fatal(err)
	}
	body := SignalBody{Run: "run", Event: cid("4816", "1111 01 013"), Repeat: "k", Received: at(0)}
	again := body
	again.DuplicateOf, again.Received = "s1", at(200)
	for id, b := range map[string]SignalBody{"s1": body, "s2": again} {
		if run, err = run.Signal(Meta{ID: id, At: at(0)}, b); err != nil {
			t.Fatal(err)
		}
	}
	same := run.Clone()
	for _, r := range []*Run{&run, &same} {
		if got := r.First("k", 0, at(250)); got != "s1" {
			t.Errorf("the first is %q", got)
		}
		if got := r.First("k", 0, at(250).Add(time.Hour)); got != "" {
			t.Errorf("an hour later the first is %q", got)
		}
	}
}
