package prove

import (
	"testing"
	"time"

	"proofbell/signal"
)

// TestLaterTapCorrects holds that a slip of the finger on the read-back list can be put right in both directions, in
// whatever order the entries arrive.
func TestLaterTapCorrects(t *testing.T) {
	tap := func(id string, notSeen bool, entered float64) ReadBack {
		r := line(id, "13", "111", signal.New, 12)
		r.At, r.Expect, r.NotSeen = time.Time{}, "13.alarm/alarm", notSeen
		r.Entered = at(entered)
		return r
	}
	for _, c := range []struct {
		name    string
		taps    []any
		station StopState
	}{
		{"seen, then not", []any{tap("a", false, 30), tap("b", true, 40)}, StopFailed},
		{"the same, entries swapped", []any{tap("b", false, 30), tap("a", true, 40)}, StopFailed},
		{"not seen, then seen", []any{tap("a", true, 30), tap("b", false, 40)}, StopWaiting},
	} {
		obs := observed(append([]any{trip13(0), sig("s1", 8, "1111 01 013")}, c.taps...)...)
		if got := result(t, Match(Plan(house(), nil, Options{}), obs, Clocks{}, at(50)), "13.alarm").Strip.Station.State; got != c.station {
			t.Errorf("%s: station %s, want %s", c.name, got, c.station)
		}
	}
}
