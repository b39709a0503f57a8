package engine

import (
	"strings"
	"testing"
	"time"

	"proofbell/demo"
	"proofbell/evidence"
	"proofbell/internal/prove"
)

// The signals of j.run come 1.9 s after their ticks: the lines below are those moments, to the second, on site (UTC-4 in
// September), and once by a clock that is ahead by 5 min.
func TestHistoryOverARun(t *testing.T) {
	j := newJob(t, demo.Corrected)
	j.run()
	e := New()
	answer(t, e, "job.load", map[string]any{"job": j.Job, "entries": j.Entries})
	d := e.books[j.Job].current()
	run := d.State.OpenRun()
	var lines []string
	write := func(shift time.Duration) string {
		lines = []string{"Received;Account;Code;Point"}
		for _, s := range run.Signals {
			mark := "E"
			if s.Event.Qualifier == "restore" {
				mark = "R"
			}
			at := s.Received.Add(shift + 200*time.Millisecond).In(d.zone())
			lines = append(lines, at.Format("2006-01-02 15:04:05")+";4816;"+mark+s.Event.Code+";0"+[]string{"11", "12"}[(len(lines)-1)/2])
		}
		return strings.Join(append(lines, "2026-09-15 12:10:00;4816;E130;044", "not a line"), "\n")
	}
	later := j.At.Add(time.Hour)

	v, err := d.History(later, run, HistoryArg{Text: write(0)})
	if err != nil {
		t.Fatal(err)
	}
	if v.Counts.Matched != 4 || v.Counts.None != 1 || v.Counts.Unread != 1 || !v.Ready || v.Clock != nil || len(v.Body.Lines) != 4 {
		t.Errorf("close to ours: %+v, ready %v, clock %v\n%+v", v.Counts, v.Ready, v.Clock, v.Rows)
	}
	v, err = d.History(later, run, HistoryArg{Text: write(5 * time.Minute)})
	if err != nil {
		t.Fatal(err)
	}
	if v.Ready || !v.Offset.Confirm || v.Offset.Seconds < 299 || v.Offset.Seconds > 301 || !strings.Contains(v.OffsetSay, "min") {
		t.Errorf("5 min ahead has to be confirmed: %+v %q", v.Offset, v.OffsetSay)
	}
	v, err = d.History(later, run, HistoryArg{Text: write(5 * time.Minute), Offset: &v.Offset.Seconds})
	if err != nil {
		t.Fatal(err)
	}
	if !v.Ready || v.Clock == nil {
		t.Fatalf("confirmed: ready %v, clock %v", v.Ready, v.Clock)
	}
	j.Add(evidence.KindRun, prove.RunBody{Act: prove.RunClocks, Clocks: prove.Clocks{Station: v.Clock}}, nil)
	j.Add(evidence.KindReadback, v.Body, nil)
	answer(t, e, "job.append", map[string]any{"job": j.Job, "entries": j.Entries[len(j.Entries)-2:]})
	out := see[Prove](t, e, "job.prove", map[string]any{"job": j.Job, "now": later})
	if out.Outcome.Counters.Proved != 2 {
		t.Errorf("%d proved, zones 11 and 12 are", out.Outcome.Counters.Proved)
	}
	if german, err := d.In(nil).History(later, run, HistoryArg{Text: " \n"}); err == nil {
		t.Errorf("an empty history: %+v", german)
	}
}
