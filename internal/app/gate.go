package app

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"proofbell/evidence"
	"proofbell/internal/prove"
	"proofbell/signal"
	"proofbell/site"
)

// gate is what decides about the signals of one job's account.
type gate struct {
	job      evidence.JobID
	account  string
	window   prove.Window
	practice bool
	trial    bool          // of a practice job
	beside   bool          // of a practice job, and another job has the account in earnest: it answers nothing
	run      prove.RunID   // open run; "" none
	lapses   time.Duration // when the window is over by the clock that nobody sets
	every    time.Duration // how often the account has to be heard from while it is answered; 0: not agreed
	secret   signal.Secret
}

// gateOf makes the gate of a job. o.mu is held, or o is not shared yet.
func (a *App) gateOf(o *openJob) gate {
	s := o.state
	if o.key == nil { // erased, or read from a file: nothing of it is watched here
		return gate{job: s.Job}
	}
	g := gate{job: s.Job, account: strings.ToUpper(s.Site.Account.Number), trial: s.Site.Practice, every: checkEvery(s.Site), secret: o.secret.signal()}
	if run := s.OpenRun(); run != nil {
		g.run, g.practice, g.window = run.ID, run.Practice && s.Site.Practice, run.Window // practice on a real account answers nothing
		g.window.Account = strings.ToUpper(run.Window.Account)
		if longest := o.agreed.Add(prove.LongestWindow); g.window.Until.After(longest) { // a device whose clock is ahead
			g.window.Until = longest
		}
	}
	if g.sameTime(o.gate) {
		g.lapses = o.gate.lapses
		return g
	}
	// Wall clocks are set, by people and by the network, and one that is set back would open the window for longer than
	// the station agreed to. So its end is fixed once, from the latest moment that the book knows of since it was
	// agreed, on a clock that nobody sets.
	now := a.now()
	if o.latest.After(now) {
		now = o.latest
	}
	left := g.window.Left(now)
	if before, ok := a.windows.left(g); ok {
		left = min(left, before)
	}
	g.lapses = a.forward() + left
	return g
}

// sameTime reports whether both are on test until one and the same agreed end.
func (g gate) sameTime(h gate) bool {
	return g.run == h.run && onTest(g.window) && onTest(h.window) && g.window.Account == h.window.Account && g.window.Opened.Equal(h.window.Opened) && g.window.Until.Equal(h.window.Until)
}

// onTest reports whether a window is on test as far as its steps say, whatever the time.
func onTest(w prove.Window) bool {
	return w.Stage == prove.WindowOpen || w.Stage == prove.WindowReadBack
}

func (g gate) sameWindow(h gate) bool {
	return g.run == h.run && g.window.Stage == h.window.Stage && g.window.Account == h.window.Account && g.window.Opened.Equal(h.window.Opened) && g.window.Until.Equal(h.window.Until)
}

func (g gate) same(h gate) bool {
	return g.account == h.account && g.practice == h.practice && g.trial == h.trial && g.every == h.every && g.secret == h.secret && g.sameWindow(h)
}

// answers reports whether signals of an account, in capitals, may be acknowledged at a moment of both clocks.
func (g gate) answers(account string, now time.Time, forward time.Duration) bool {
	return g.run != "" && !g.beside && prove.MayAcknowledge(g.window, account, g.practice, now) && (g.practice || forward < g.lapses)
}

// checkEvery is the shortest interval agreed for a path that can reach a receiver like ours; 0 when none is agreed. A
// telephone line carries no DC-09.
func checkEvery(s *site.Site) time.Duration {
	var every time.Duration
	for _, p := range s.Account.Paths {
		d := time.Duration(p.CheckEvery.SI() * float64(time.Second))
		if p.Kind != "telephone" && d > 0 && (every == 0 || d < every) {
			every = d
		}
	}
	return every
}

// regate replaces the table that the receiver looks at. a.mu is held, or a is not shared yet.
func (a *App) regate() {
	table := map[string][]gate{}
	for _, o := range a.jobs {
		if o.gate.account != "" {
			table[o.gate.account] = append(table[o.gate.account], o.gate)
		}
	}
	for _, gates := range table {
		if slices.ContainsFunc(gates, func(g gate) bool { return !g.trial }) { // then an alarm of the account may be real
			for i := range gates {
				gates[i].beside = gates[i].trial
			}
		}
		slices.SortFunc(gates, func(x, y gate) int { // among several jobs of one account the choice is always the same
			if x.beside != y.beside {
				if x.beside {
					return 1
				}
				return -1
			}
			return strings.Compare(string(x.job), string(y.job))
		})
	}
	a.gates.Store(&table)
}

// judge finds the job and open run of an account, and whether its signals may be answered now.
func (a *App) judge(account string, now time.Time) (g gate, answer bool, why string) {
	if account == "" {
		return gate{}, false, prove.NoAccount
	}
	table := *a.gates.Load()
	capitals, forward := strings.ToUpper(account), a.forward()
	gates := table[capitals]
	for _, g := range gates {
		if g.answers(capitals, now, forward) {
			return g, true, ""
		}
	}
	for _, g := range gates {
		if g.run != "" && !g.beside {
			return g, false, fmt.Sprintf(prove.NotOnTest, account)
		}
	}
	if slices.ContainsFunc(gates, func(g gate) bool { return g.run != "" }) {
		return gates[0], false, fmt.Sprintf(prove.Beside, account)
	}
	if len(gates) > 0 {
		return gates[0], false, fmt.Sprintf(prove.NoWindow, account)
	}
	return gate{}, false, fmt.Sprintf(prove.NoJob, account)
}
