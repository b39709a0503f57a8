package signal

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestSupervise(t *testing.T) {
	var s Supervisor
	at := func(minute int) time.Time { return noon.Add(time.Duration(minute) * time.Minute) }
	look := func(minute int, want string) {
		t.Helper()
		got := ""
		for _, l := range s.Look(at(minute)) {
			last := "never"
			if !l.Last.IsZero() {
				last = l.Last.Format("15:04")
			}
			got += fmt.Sprintf("%s %s due %s %t; ", l.Account, last, l.Due.Format("15:04"), l.Lapsed)
		}
		if got != want {
			t.Errorf("at minute %d: %q, want %q", minute, got, want)
		}
	}
	look(0, "")
	s.Heard("4816", at(0)) // nobody watches it
	s.Expect("a0b1", 60*time.Minute, 6*time.Minute, at(0))
	s.Expect("4816", 10*time.Minute, 1*time.Minute, at(0))
	look(0, "4816 never due 12:11 false; A0B1 never due 13:06 false; ")
	look(11, "4816 never due 12:11 false; A0B1 never due 13:06 false; ")
	look(12, "4816 never due 12:11 true; A0B1 never due 13:06 false; ")
	s.Heard("4816", at(15))
	s.Heard("4816", at(14)) // came in late from another connection
	s.Heard("A0B1", at(15))
	look(26, "4816 12:15 due 12:26 false; A0B1 12:15 due 13:21 false; ")
	look(27, "4816 12:15 due 12:26 true; A0B1 12:15 due 13:21 false; ")
	s.Expect("4816", 20*time.Minute, -time.Minute, at(0)) // another interval: what was heard stays
	look(27, "4816 12:15 due 12:35 false; A0B1 12:15 due 13:21 false; ")
	s.Expect("4816", 20*time.Minute, 0, at(40)) // the receiver was off until then
	look(50, "4816 12:15 due 13:00 false; A0B1 12:15 due 13:21 false; ")
	s.Expect("4816", 0, 0, at(0))
	s.Forget("A0b1")
	look(500, "")
}

// A clock set back by an hour gives nobody an hour.
func TestSuperviseClockSetBack(t *testing.T) {
	var s Supervisor
	s.Expect("4816", 10*time.Minute, 0, noon)
	s.Heard("4816", noon.Add(time.Minute))
	back := noon.Add(-time.Hour)
	if l := s.Look(back)[0]; l.Lapsed || !l.Due.Equal(back.Add(10*time.Minute)) {
		t.Errorf("%+v", l)
	}
	if l := s.Look(back.Add(11 * time.Minute))[0]; !l.Lapsed {
		t.Errorf("%+v", l)
	}
	s.Heard("4816", back.Add(12*time.Minute))
	if l := s.Look(back.Add(13 * time.Minute))[0]; l.Lapsed || !l.Last.Equal(back.Add(12*time.Minute)) {
		t.Errorf("%+v", l)
	}
}

// Against the plainest bookkeeping: all that ever happened, looked through anew each time.
func TestSuperviseAgainstList(t *testing.T) {
	type happened struct {
		what, account string
		every, margin time.Duration
		at            time.Time
	}
	rapid.Check(t, func(t *rapid.T) {
		var s Supervisor
		var all []happened
		now := noon
		for range rapid.IntRange(1, 40).Draw(t, "steps") {
			now = now.Add(time.Duration(rapid.IntRange(0, 20).Draw(t, "later")) * time.Minute)
			h := happened{
				what: rapid.SampledFrom([]string{"expect", "heard", "heard", "heard", "forget"}).Draw(t, "what"), account: rapid.SampledFrom([]string{"4816", "a0b1", "A0B1", "1"}).Draw(t, "account"),
				every: time.Duration(rapid.IntRange(0, 30).Draw(t, "every")) * time.Minute, margin: time.Duration(rapid.IntRange(0, 5).Draw(t, "margin")) * time.Minute,
				at: now.Add(-time.Duration(rapid.IntRange(0, 30).Draw(t, "ago")) * time.Minute),
			}
			switch h.what {
			case "expect":
				s.Expect(h.account, h.every, h.margin, h.at)
			case "heard":
				s.Heard(h.account, h.at)
			case "forget":
				s.Forget(h.account)
			}
			all = append(all, h)

			want := map[string]Link{}
			for _, account := range []string{"1", "4816", "A0B1"} {
				var l Link
				var grace time.Duration
				var from time.Time
				watched := false
				for _, h := range all {
					if strings.ToUpper(h.account) != account {
						continue
					}
					switch {
					case h.what == "expect" && h.every > 0:
						l.Every, grace, from, watched = h.every, h.every+h.margin, h.at, true
					case h.what == "heard" && watched && h.at.After(l.Last):
						l.Last = h.at
					case h.what != "heard":
						l, watched = Link{}, false
					}
				}
				if watched {
					l.Account = account
					l.Due = slices.MaxFunc([]time.Time{from, l.Last}, time.Time.Compare).Add(grace)
					l.Lapsed = l.Due.Before(now)
					want[account] = l
				}
			}
			got := s.Look(now)
			if len(got) != len(want) || !slices.IsSortedFunc(got, func(a, b Link) int { return strings.Compare(a.Account, b.Account) }) {
				t.Fatalf("%+v, want %+v", got, want)
			}
			for _, l := range got {
				if l != want[l.Account] {
					t.Fatalf("%+v, want %+v", l, want[l.Account])
				}
			}
		}
	})
}

func TestSuperviseTogether(t *testing.T) {
	var s Supervisor
	var work sync.WaitGroup
	for n := range 8 {
		work.Go(func() {
			account := fmt.Sprintf("%04X", n)
			for i := range 200 {
				s.Expect(account, time.Hour, 0, noon)
				s.Heard(account, noon.Add(time.Duration(i)*time.Second))
				s.Look(noon.Add(time.Hour))
			}
		})
	}
	work.Wait()
	for _, l := range s.Look(noon.Add(time.Hour)) {
		if !l.Last.Equal(noon.Add(199 * time.Second)) {
			t.Errorf("%+v", l)
		}
	}
}
