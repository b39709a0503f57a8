package prove

import (
	"strconv"
	"time"

	"proofbell/signal"
)

// Firsts knows the first signal of each message, so that its repeats can name it: the panel sent it again, or sent it to
// another receiver too. The zero value knows none.
type Firsts struct {
	of map[string][]first
}

type first struct {
	id SignalID
	at time.Time
}

func repeatKey(repeat string, index int) string { return repeat + "/" + strconv.Itoa(index) }

// Add keeps the first signal of a message; repeat is as in SignalBody and "" is never a repeat.
func (f *Firsts) Add(repeat string, index int, id SignalID, at time.Time) {
	if repeat == "" {
		return
	}
	if f.of == nil {
		f.of = map[string][]first{}
	}
	key := repeatKey(repeat, index)
	f.of[key] = append(f.of[key], first{id, at})
}

// Find returns the first of which a signal received at that moment is a repeat, "" when there is none. Receivers write
// into a book when they can, so that the first may also have been received later, within signal.DuplicateWindow.
func (f *Firsts) Find(repeat string, index int, at time.Time) SignalID {
	var id SignalID
	near := signal.DuplicateWindow + 1
	for _, one := range f.of[repeatKey(repeat, index)] {
		if d := at.Sub(one.at).Abs(); d < near {
			id, near = one.id, d
		}
	}
	return id
}

// First returns the signal of the run that one received at that moment repeats, whichever receiver had it; "" when there
// is none. It may add to what r knows by heart: callers that share a run must not call it at once.
func (r *Run) First(repeat string, index int, at time.Time) SignalID {
	r.remember()
	return r.known.firsts.Find(repeat, index, at)
}

// memory is what a run finds again without looking through its signals.
type memory struct {
	ids        map[SignalID]bool
	unanswered int
	firsts     Firsts
}

// remember gathers known where it was not yet.
func (r *Run) remember() {
	if r.known != nil {
		return
	}
	r.known = &memory{ids: make(map[SignalID]bool, len(r.Signals)+1)}
	for _, s := range r.Signals {
		r.known.add(s)
	}
}

func (k *memory) add(s Signal) {
	k.ids[s.ID] = true
	if !s.Acknowledged {
		k.unanswered++
	}
	if s.DuplicateOf == "" {
		k.firsts.Add(s.Repeat, s.Index, s.ID, s.Received)
	}
}
