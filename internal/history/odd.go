package history

import (
	"slices"
	"time"

	"proofbell/signal"
)

// judgeClock looks at the times in the order of the lines: which way they run, where they went back, which can not be true,
// and how far the panel's clock was from the station's.
func (r *Reading) judgeClock(rows []raw, opt Options) {
	n := len(r.Events)
	if n == 0 {
		return
	}
	up, down := 0, 0
	for i := 1; i < n; i++ {
		switch c := r.Events[i].At.Compare(r.Events[i-1].At); {
		case c > 0:
			up++
		case c < 0:
			down++
		}
	}
	r.Clock.Newest = down > up
	at := func(k int) *Event {
		if r.Clock.Newest {
			k = n - 1 - k
		}
		return &r.Events[k]
	}
	// A clock that lost its date stands years behind the rest: eight years before the middle of the history, or 300 days
	// before the line in front of it. Neither happens in a history that is in order.
	middle := r.Events[n/2].At
	doubtful := 0
	var last time.Time
	for k := range n {
		e := at(k)
		e.Doubt = e.At.Before(middle.AddDate(-8, 0, 0)) || !last.IsZero() && e.At.Before(last.AddDate(0, 0, -300)) ||
			!opt.Now.IsZero() && e.At.After(opt.Now.Add(36*time.Hour))
		if e.Doubt {
			doubtful++
		} else {
			last = e.At
		}
	}
	if doubtful*10 > n { // not a clock: the file is in no order
		for k := range n {
			at(k).Doubt = false
		}
		doubtful = 0
	}
	r.Clock.Doubtful = doubtful
	// Back by more than two minutes: two paths and two receivers differ by less.
	const back = 2 * time.Minute
	last = time.Time{}
	steps := 0
	for k := range n {
		e := at(k)
		if e.Doubt {
			continue
		}
		if !last.IsZero() && e.At.Before(last.Add(-back)) {
			steps++
			if len(r.Clock.Jumps) < 100 {
				r.Clock.Jumps = append(r.Clock.Jumps, Jump{e.Line, last, e.At})
			}
		}
		last = e.At
	}
	if steps > max(5, n/200) {
		r.Clock.Unordered, r.Clock.Jumps = steps, []Jump{}
	}
	r.offset(rows)
}

func (r *Reading) offset(rows []raw) {
	if r.Clock.Both == 0 {
		return
	}
	ahead := make([]float64, 0, r.Clock.Both)
	for i := range rows {
		if rows[i].panel.hasTime {
			ahead = append(ahead, r.Events[i].Ahead.Seconds())
		}
	}
	slices.Sort(ahead)
	n := len(ahead)
	r.Clock.AheadSecs = ahead[n/2]
	r.Clock.AheadRange = ahead[min(n-1, n*95/100)] - ahead[n*5/100]
	for _, a := range ahead {
		if a < r.Clock.AheadSecs-1800 || a > r.Clock.AheadSecs+1800 {
			r.Clock.AheadLate++
		}
	}
}

// Windows in which the same report is taken for the same event: two paths deliver within a minute and a half, one path
// that tries again does so at once.
const (
	copyOtherPath = 90 * time.Second
	copySamePath  = 10 * time.Second
)

type copyKey struct {
	base, zone, area, account string
	qualifier                 signal.Qualifier
}

type seen struct {
	index int
	at    time.Time
	path  string
}

// markCopies finds events that report another one once more. They stay in the list.
func (r *Reading) markCopies() {
	last := make(map[copyKey]seen, 1024)
	for i := range r.Events {
		e := &r.Events[i]
		key := copyKey{e.base(), e.Zone, e.Area, e.Account, e.Qualifier}
		before, ok := last[key]
		if ok {
			gap := e.At.Sub(before.at)
			other := e.Path != before.path && e.Path != "" && before.path != ""
			if other && gap <= copyOtherPath || !other && gap <= copySamePath && !r.turnedSince(last, key, before.index) {
				e.SameAs = r.Events[before.index].Line
				r.Copies++
				continue
			}
		}
		last[key] = seen{i, e.At, e.Path}
	}
}

// turnedSince reports whether the condition ended (or began again) after an event: then the next report is a new one.
func (r *Reading) turnedSince(last map[copyKey]seen, key copyKey, index int) bool {
	for _, q := range []signal.Qualifier{signal.New, signal.Restore, signal.Opening, signal.Closing} {
		if q == key.qualifier {
			continue
		}
		other := key
		other.qualifier = q
		if s, ok := last[other]; ok && s.index > index {
			return true
		}
	}
	return false
}

// base names a condition without its qualifier: the code in Contact ID, class and family otherwise.
func (w *What) base() string {
	if w.condition != "" {
		return w.condition
	}
	return w.name()
}

func (w *What) name() string {
	if w.Format == signal.CID {
		return w.Code
	}
	kind := w.Kind
	if begin, ok := begins[kind]; ok {
		kind = begin
	}
	if kind == signal.KindUnknown {
		return w.Words
	}
	return string(w.Family) + "/" + string(kind)
}

// begins maps the end of a condition to its beginning.
var begins = func() map[signal.Kind]signal.Kind {
	m := map[signal.Kind]signal.Kind{}
	for _, k := range []signal.Kind{
		signal.KindAlarm, signal.KindTrouble, signal.KindTamper, signal.KindBypass, signal.KindSupervisory, signal.KindSupervisionLost,
		signal.KindBatteryLow, signal.KindMaintenance, signal.KindMainsLost, signal.KindPower, signal.KindCommunication, signal.KindSystem,
		signal.KindOpen, signal.KindTestBegin, signal.KindProgramming,
	} {
		m[k.End()] = k
	}
	return m
}()
