package app_test

import (
	"encoding/json"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/book"
	"proofbell/internal/prove"
	"proofbell/signal"
)

// An account is to be heard from while it is on test: at the shortest interval of its paths and the margin, at whichever
// receiver, over a restart, and at no other time.
func TestSupervision(t *testing.T) {
	together(t, 2, func(t *testing.T, m *mates) {
		a, b := m.all[0], m.all[1]
		job := a.job("4816")
		a.act(job, evidence.KindEdit, book.EditBody{Patch: json.RawMessage(`{"account":{"paths":{"main":{"kind":"internet","order":1,"checkEvery":"200 s"},
			"line":{"kind":"telephone","order":2,"checkEvery":"60 s"},"back":{"kind":"mobile","order":3,"checkEvery":"30 min"}}}}`)}, nil)
		watcher, stop := b.Watch(job)
		defer stop()
		none := func(when string) {
			t.Helper()
			if l := b.Supervision(); len(l) != 0 {
				t.Errorf("%s: %+v", when, l)
			}
		}
		link := func(when string, heard, lapsed bool) {
			t.Helper()
			for _, one := range m.all { // what one heard the other knows
				l := one.Supervision()
				if len(l) != 1 || l[0].Account != "4816" || l[0].Job != job || l[0].Every != 200 || l[0].Last.IsZero() == heard || l[0].Lapsed != lapsed {
					t.Errorf("%s: %+v", when, l)
				}
			}
		}
		null := signal.Frame{ID: signal.IDNull, Prefix: "L0", Account: "4816"}
		time.Sleep(time.Hour)
		a.deliver(null)
		time.Sleep(2 * time.Second)
		none("no run")
		a.openRun(job, "4816", false)
		time.Sleep(2 * time.Second)
		none("not on test")
		a.onTest(job, "4816", 8*time.Hour)
		time.Sleep(2 * time.Second)
		if l := a.Supervision(); len(l) != 1 || l[0].Lapsed || !l[0].Last.Equal(time.Now().Add(-6*time.Second)) {
			t.Errorf("what was heard before the window is not known: %+v", l)
		}
		time.Sleep(237 * time.Second)
		link("239 s after the window opened", true, false)
		for len(watcher.Receiver) > 0 {
			<-watcher.Receiver
		}
		time.Sleep(4 * time.Second)
		link("243 s: over 200 s and the margin of 40 s", true, true)
		if len(watcher.Receiver) != 1 {
			t.Error("nobody was told")
		}
		if say := b.Supervision()[0].Say(nil, time.Now()); !strings.Contains(say, "Account 4816 was last heard 4 min ago, and should be heard every 3 min") {
			t.Errorf("said is %q", say)
		}
		a.deliver(null)
		time.Sleep(2 * time.Second)
		link("heard again", true, false)
		time.Sleep(150 * time.Second)
		a.deliver(frame(t, "4816", 9)) // whatever arrives counts
		time.Sleep(150 * time.Second)
		link("300 s after the last NULL, and a signal between", true, false)
		a.stop()
		a.start(m, app.Spool{})
		link("after a restart", true, false)
		time.Sleep(100 * time.Second)
		if l := a.Supervision(); len(l) != 1 || l[0].Lapsed {
			t.Errorf("nobody listened before the restart, so its silence counts from then: %+v", l)
		}
		a.ontest(job, prove.WindowEvent{Act: prove.ActReadBack})
		a.ontest(job, prove.WindowEvent{Act: prove.ActOff, Nothing: true})
		synctest.Wait()
		time.Sleep(2 * time.Second)
		none("off test")
	})
}

// A panel that does not report here is said so, not as a path that is down.
func TestAnAccountThatWasNeverHeard(t *testing.T) {
	together(t, 1, func(t *testing.T, m *mates) {
		one := m.all[0]
		job := one.job("4816")
		one.act(job, evidence.KindEdit, book.EditBody{Patch: json.RawMessage(`{"account":{"paths":{"main":{"kind":"internet","checkEvery":"90 s"}}}}`)}, nil)
		one.openRun(job, "4816", true)
		time.Sleep(115 * time.Second)
		l := one.Supervision()
		if len(l) != 1 || !l[0].Lapsed || !strings.Contains(l[0].Say(nil, time.Now()), "does a path of the panel point here?") {
			t.Errorf("%+v", l)
		}
	})
}
