package app

import (
	"context"
	"slices"
	"strings"
	"sync"
	"time"

	"proofbell/evidence"
	"proofbell/internal/words"
	"proofbell/signal"
)

// Link is how an account stands that has to be heard from: see Supervision.
type Link struct {
	Account string         `json:"account"`
	Job     evidence.JobID `json:"job"`
	Every   int            `json:"every"`         // s, as agreed for its path
	Last    time.Time      `json:"last,omitzero"` // when it was heard from; zero: not since as far back as is known
	Due     time.Time      `json:"due"`           // when it lapses, or lapsed
	Lapsed  bool           `json:"lapsed"`
}

// Say says that a link lapsed; "" when it did not.
func (l Link) Say(lang *words.Language, now time.Time) string {
	every := span(lang, time.Duration(l.Every)*time.Second)
	switch {
	case !l.Lapsed:
		return ""
	case l.Last.IsZero():
		return lang.Say("Nothing was heard from account %s since it is watched, and it should be heard every %s: does a path of the panel point here?", l.Account, every)
	}
	return lang.Say("Account %s was last heard %s ago, and should be heard every %s: is the path down?", l.Account, span(lang, now.Sub(l.Last)), every)
}

// links watches that accounts are heard from. Safe for concurrent use.
type links struct {
	watch signal.Supervisor

	mu        sync.Mutex
	wanted    map[string]wanted    // by account in capitals
	told      map[string]time.Time // to other processes
	elsewhere map[string]time.Time // heard at other receivers; of accounts of jobs alone
}

// wanted is what is expected of an account.
type wanted struct {
	job   evidence.JobID
	every time.Duration
	from  time.Time
}

func (l *links) heard(account string, at time.Time) { l.watch.Heard(account, at) }

// heardElsewhere takes what another process told, also of accounts that are not watched here yet.
func (a *App) heardElsewhere(heard map[string]time.Time) {
	gates, l := *a.gates.Load(), &a.links
	for account, at := range heard {
		if gates[account] == nil {
			continue
		}
		l.heard(account, at)
		l.mu.Lock()
		if l.elsewhere == nil {
			l.elsewhere = map[string]time.Time{}
		}
		l.elsewhere[account] = at
		l.mu.Unlock()
	}
}

// Margin is what may be late without being missed. It is a habit, no standard: the station names its own.
func Margin(every time.Duration) time.Duration { return max(every/5, 20*time.Second) }

// Supervision tells how the accounts stand that have to be heard from.
//
// An account is judged while its signals are answered: in an open test window or a practice run. At any other time our
// receiver answers nothing, so that no panel can hold a supervised path to it: silence then says nothing. Whatever arrives
// counts, at whichever receiver, and what arrived before a restart is found in the inbox.
func (a *App) Supervision() []Link {
	out := []Link{}
	a.links.mu.Lock()
	defer a.links.mu.Unlock()
	for _, l := range a.links.watch.Look(a.now()) {
		w := a.links.wanted[l.Account]
		out = append(out, Link{Account: l.Account, Job: w.job, Every: int(l.Every.Seconds()), Last: l.Last, Due: l.Due, Lapsed: l.Lapsed})
	}
	return out
}

// supervise watches the accounts that are answered now and no others, and tells other processes whom it heard.
func (a *App) supervise(ctx context.Context) {
	if a.inbox == nil {
		return
	}
	now, forward := a.now(), a.forward()
	want := map[string]wanted{}
	for account, gates := range *a.gates.Load() {
		i := slices.IndexFunc(gates, func(g gate) bool { return g.every > 0 && g.answers(account, now, forward) })
		if i < 0 {
			continue
		}
		from := gates[i].window.Opened
		if from.IsZero() || from.Before(a.started) { // a practice run; or nobody listened until then
			from = a.started
		}
		want[account] = wanted{gates[i].job, gates[i].every, from}
	}
	l := &a.links
	l.mu.Lock()
	before := l.wanted
	l.wanted = want
	l.mu.Unlock()
	for account := range before {
		if _, still := want[account]; !still {
			l.watch.Forget(account)
		}
	}
	for account, w := range want {
		if before[account] == w {
			continue
		}
		l.watch.Expect(account, w.every, Margin(w.every), w.from)
		if before[account].every == 0 {
			l.mu.Lock()
			l.watch.Heard(account, l.elsewhere[account])
			l.mu.Unlock()
			a.recall(ctx, account)
		}
	}
	a.tellHeard(ctx)
}

// recallAtMost is how many rows of the inbox are looked through for when an account was heard last.
const recallAtMost = 10_000

// recall finds in the inbox when an account was heard last.
func (a *App) recall(ctx context.Context, account string) {
	last, err := a.inbox.Last(ctx)
	for to := last; err == nil && to > 0 && last-to < recallAtMost; to -= batch {
		var rows []InboxRow
		rows, err = a.inbox.After(ctx, to-batch, batch)
		for _, r := range slices.Backward(rows) {
			if strings.EqualFold(r.Account, account) {
				a.links.heard(account, r.At)
				return
			}
		}
	}
	if err != nil && ctx.Err() == nil {
		a.log.Error("looking up when an account was heard last", "account", account, "err", err)
	}
}

// tellHeard tells other processes which accounts were heard here, each a few times in its interval.
func (a *App) tellHeard(ctx context.Context) {
	heard := map[string]time.Time{}
	l := &a.links
	l.mu.Lock()
	for _, one := range l.watch.Look(a.now()) {
		if one.Last.Sub(l.told[one.Account]) > one.Every/4 {
			heard[one.Account] = one.Last
		}
	}
	if len(heard) > 0 {
		if l.told == nil {
			l.told = map[string]time.Time{}
		}
		for account, at := range heard {
			l.told[account] = at
		}
	}
	l.mu.Unlock()
	if len(heard) > 0 {
		a.tell(ctx, notice{Heard: heard})
	}
}
