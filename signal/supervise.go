package signal

import (
	"maps"
	"slices"
	"strings"
	"sync"
	"time"
)

// Supervisor watches that accounts are heard from: DC-09-2013 5.5.2 has every message restart
// the timer of its account, NULL is only what is sent when there is nothing else to say. It
// reads no clock. The zero value is ready and expects nobody. Safe for concurrent use.
//
// Loss of the link is found here, at the receiver; no panel sends it. A link that is heard
// proves the path and not one alarm.
type Supervisor struct {
	mu    sync.Mutex
	links map[string]*link
}

type link struct {
	every, margin time.Duration
	from, last    time.Time
}

// Link is the state of one account's link.
type Link struct {
	Account string        // capitals
	Every   time.Duration // agreed interval
	Last    time.Time     // when it was last heard; zero: never
	Due     time.Time     // it lapses after this: interval and margin after Last, or after the watch began if that is later
	Lapsed  bool          // Due is over
}

// Expect watches an account: something has to arrive every interval, and is late only after
// the margin as well (DC-09 names neither; they are agreed with the station, the margin is
// unconfirmed). from is when somebody began to listen: silence before it is not held against
// the account. Expect again changes these and keeps when it was last heard. An interval of 0
// or less is Forget.
func (s *Supervisor) Expect(account string, every, margin time.Duration, from time.Time) {
	if every <= 0 {
		s.Forget(account)
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	account = strings.ToUpper(account)
	l := s.links[account]
	if l == nil {
		l = &link{}
		if s.links == nil {
			s.links = map[string]*link{}
		}
		s.links[account] = l
	}
	l.every, l.margin, l.from = every, max(margin, 0), from
}

// Forget ends the watch over an account.
func (s *Supervisor) Forget(account string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.links, strings.ToUpper(account))
}

// Heard notes that a sound message of the account arrived, whatever it said. Order does not
// matter, the latest counts. An account that is not watched is not kept: strangers take no
// memory.
func (s *Supervisor) Heard(account string, at time.Time) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if l := s.links[strings.ToUpper(account)]; l != nil && at.After(l.last) {
		l.last = at
	}
}

// Look tells how the links stand, by account. Times after now, which are there when the clock
// was set back, count as now from then on: no account gains more than one interval by it.
func (s *Supervisor) Look(now time.Time) []Link {
	s.mu.Lock()
	defer s.mu.Unlock()
	out := make([]Link, 0, len(s.links))
	for _, account := range slices.Sorted(maps.Keys(s.links)) {
		l := s.links[account]
		if l.last.After(now) {
			l.last = now
		}
		if l.from.After(now) {
			l.from = now
		}
		since := l.from
		if l.last.After(since) {
			since = l.last
		}
		due := since.Add(l.every + l.margin)
		out = append(out, Link{Account: account, Every: l.every, Last: l.last, Due: due, Lapsed: now.After(due)})
	}
	return out
}
