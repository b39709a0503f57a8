package store

import (
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"

	"proofbell/internal/store/storetest"
	"proofbell/signal"
)

// Against a list of everything that was ever added, with clocks that jump.
func TestRepeatsAgainstAList(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := newRepeats()
		r.max = 1000 // more than are added: nothing is forgotten before its time
		type added struct {
			key string
			row int64
			at  time.Time
		}
		var list []added
		now, latest := storetest.Noon, time.Duration(0)
		for row := int64(1); row <= 60; row++ {
			now = now.Add(time.Duration(rapid.IntRange(-100, 100).Draw(t, "seconds")) * time.Second)
			key := fmt.Sprint(rapid.IntRange(1, 8).Draw(t, "key"))
			latest = max(latest, now.Sub(storetest.Noon))
			var want int64
			known := true // what the clock was past once may be forgotten
			for _, a := range list {
				if a.key == key {
					if want = 0; now.Sub(a.at).Abs() <= signal.DuplicateWindow {
						want = a.row // the newest of its key counts
					}
					known = latest-a.at.Sub(storetest.Noon) <= signal.DuplicateWindow
				}
			}
			got := r.of(key, now)
			if got != want && (got != 0 || known) {
				t.Fatalf("row %d repeats %d, want %d", row, got, want)
			}
			if got == 0 {
				r.add(key, row, now)
				list = append(list, added{key, row, now})
			}
		}
	})
}

func TestRepeatsHaveABoundInMemory(t *testing.T) {
	r := newRepeats()
	r.max = 100
	for row := range int64(10_000) {
		r.add(fmt.Sprint(row), row, storetest.Noon)
	}
	if len(r.first) != 100 || len(r.order) > 300 {
		t.Errorf("%d keys known, %d in order: want 100 and not many more", len(r.first), len(r.order))
	}
	if r.of("9900", storetest.Noon) != 9900 || r.of("9899", storetest.Noon) != 0 {
		t.Error("the newest hundred are to be known")
	}
}

func TestARepeatIsKnownAfterARestart(t *testing.T) {
	dir := t.TempDir()
	in, err := OpenInbox(t.Context(), dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	row := storetest.Row(9, now)
	first, err := in.Put(t.Context(), row)
	if err != nil {
		t.Fatal(err)
	}
	if err := in.Close(); err != nil {
		t.Fatal(err)
	}
	row.At = now.Add(time.Minute)
	again, err := openInbox(t, dir, Options{}).Put(t.Context(), row)
	if err != nil || again.Duplicate != first.Row || again.Row != first.Row+1 {
		t.Errorf("row %d repeats %d (%v), want row %d to repeat %d", again.Row, again.Duplicate, err, first.Row+1, first.Row)
	}
}

// A receiver without jobs keeps rows of no run: those that were acknowledged stay for ever.
func TestWhatWasAcknowledgedStays(t *testing.T) {
	in := openInbox(t, t.TempDir(), Options{})
	in.strays = 50
	for n := range 200 {
		r := storetest.Row(n, storetest.Noon)
		r.Job, r.Run = "", ""
		if _, err := in.Put(t.Context(), r); err != nil {
			t.Fatal(err)
		}
	}
	rows, err := in.After(t.Context(), 0, 1000)
	if err != nil || len(rows) != 200 {
		t.Errorf("%d acknowledged rows are left (%v), want all 200", len(rows), err)
	}
}
