package app_test

import (
	"testing"
	"testing/synctest"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/book"
	"proofbell/internal/prove"
	"proofbell/signal"
)

// earnest makes a job that is no practice.
func (m *mate) earnest(account string) evidence.JobID {
	job := m.job(account)
	m.act(job, evidence.KindEdit, book.EditBody{Patch: []byte(`{"practice":null}`)}, nil)
	return job
}

// shown is the alarm that was shown just now; the zero value when none was.
func shown(alarms <-chan app.Arrival) (a app.Arrival) {
	select {
	case a = <-alarms:
	default:
	}
	return a
}

// A practice job that has the number of a real account answers nothing for it, and takes none of its signals.
func TestPracticeBesideARealJobStandsBack(t *testing.T) {
	together(t, 1, func(t *testing.T, m *mates) {
		a := m.all[0]
		practice := a.job("4816")
		a.openRun(practice, "4816", true)
		a.want("practice alone", "4816", signal.Acknowledge)
		earnest := a.earnest("4816")
		watcher, stop := a.Watch(practice)
		defer stop()
		a.want("real account, no run", "4816", signal.StaySilent)
		if got := shown(watcher.Alarms); got.Job != earnest || got.Why != "account 4816 is that of a job in earnest too: its signals are not answered for practice" {
			t.Errorf("shown is %+v", got)
		}
		run := a.openRun(earnest, "4816", false)
		a.want("real account, run, no window", "4816", signal.StaySilent)
		a.onTest(earnest, "4816", time.Hour)
		a.want("real account on test", "4816", signal.Acknowledge)
		time.Sleep(time.Hour)
		a.want("lapsed", "4816", signal.StaySilent)
		a.closeRun(earnest, run)
		a.act(earnest, evidence.KindEdit, book.EditBody{Patch: []byte(`{"account":{"number":"5000"}}`)}, nil)
		a.want("another account now", "4816", signal.Acknowledge)
		a.wantSignals(practice, 9, 9)
		a.wantSignals(earnest, 9, 9, 9)
	})
}

// With the clock set back a step that agrees no end anew leaves the end where it was.
func TestAStepWithTheClockSetBackKeepsTheEnd(t *testing.T) {
	together(t, 2, func(t *testing.T, m *mates) {
		a, b := m.all[0], m.all[1]
		job := a.job("4816")
		a.openRun(job, "4816", false)
		a.onTest(job, "4816", time.Hour)
		synctest.Wait()
		time.Sleep(50 * time.Minute)
		a.setClock(-45 * time.Minute)
		b.setClock(-45 * time.Minute)
		a.ontest(job, prove.WindowEvent{Act: prove.ActReadBack})
		synctest.Wait()
		time.Sleep(10*time.Minute - time.Millisecond)
		for _, one := range m.all {
			one.want("last moment", "4816", signal.Acknowledge)
		}
		time.Sleep(time.Millisecond)
		for _, one := range m.all {
			one.want("lapsed", "4816", signal.StaySilent)
		}
		a.ontest(job, prove.WindowEvent{Act: prove.ActExtend, Until: a.clock.now().Add(time.Hour)})
		synctest.Wait()
		time.Sleep(time.Hour - time.Millisecond)
		for _, one := range m.all {
			one.want("last moment of what was agreed anew", "4816", signal.Acknowledge)
		}
		time.Sleep(time.Millisecond)
		for _, one := range m.all {
			one.want("lapsed again", "4816", signal.StaySilent)
		}
	})
}

// What the book knows of the time outlives a restart with the clock set back, whatever steps or refused steps follow.
func TestARestartWithTheClockSetBackKeepsTheEnd(t *testing.T) {
	for name, ev := range map[string]prove.WindowEvent{
		"first signal": {Act: prove.ActFirstSignal}, "refused": {Act: prove.ActCall, Account: "4816", Families: []string{"fire"}},
	} {
		t.Run(name, func(t *testing.T) {
			together(t, 1, func(t *testing.T, m *mates) {
				a := m.all[0]
				job := a.job("4816")
				a.openRun(job, "4816", false)
				a.onTest(job, "4816", time.Hour)
				time.Sleep(50 * time.Minute)
				a.act(job, evidence.KindNote, book.NoteBody{}, nil)
				a.setClock(-45 * time.Minute)
				a.ontest(job, ev)
				a.stop()
				a.start(m, app.Spool{})
				time.Sleep(10*time.Minute - time.Millisecond)
				a.want("last moment", "4816", signal.Acknowledge)
				time.Sleep(time.Millisecond)
				a.want("lapsed", "4816", signal.StaySilent)
			})
		})
	}
}

// A restart with the clock set back, with nothing written since the window opened, lengthens it by a minute at most.
func TestARestartWithTheClockSetBackAndNothingWrittenKeepsTheEnd(t *testing.T) {
	together(t, 1, func(t *testing.T, m *mates) {
		a := m.all[0]
		job := a.job("4816")
		a.openRun(job, "4816", false)
		a.onTest(job, "4816", time.Hour)
		time.Sleep(50 * time.Minute)
		a.setClock(-45 * time.Minute)
		a.stop()
		a.start(m, app.Spool{})
		time.Sleep(9 * time.Minute)
		a.want("before the end", "4816", signal.Acknowledge)
		time.Sleep(2 * time.Minute)
		a.want("a minute after the end", "4816", signal.StaySilent)
		a.ontest(job, prove.WindowEvent{Act: prove.ActExtend, Until: a.clock.now().Add(time.Hour)})
		synctest.Wait()
		time.Sleep(time.Hour - time.Millisecond)
		a.want("last moment of what was agreed anew", "4816", signal.Acknowledge)
		time.Sleep(time.Millisecond)
		a.want("lapsed again", "4816", signal.StaySilent)
	})
}

// The end comes from a device; one whose clock is ahead opens no longer than 24 h from when its entry was received.
func TestADeviceAheadOpensNoLongerThanADay(t *testing.T) {
	for _, restart := range []bool{false, true} {
		together(t, 1, func(t *testing.T, m *mates) {
			a := m.all[0]
			job := a.job("4816")
			a.openRun(job, "4816", false)
			a.setClock(23 * time.Hour)
			content := func(ev prove.WindowEvent) evidence.Content {
				return a.content(job, evidence.KindOnTest, prove.OnTestBody{WindowEvent: ev}, prove.Private{Operator: "Ann"})
			}
			steps := []evidence.Content{
				content(prove.WindowEvent{Act: prove.ActCall, Account: "4816", Families: []string{"fire"}}),
				content(prove.WindowEvent{Act: prove.ActAccountRead, Account: "4816", Address: true}),
				content(prove.WindowEvent{Act: prove.ActOpen, Families: []string{"fire"}, Until: a.clock.now().Add(24 * time.Hour)}),
			}
			a.setClock(0)
			results, err := a.Append(t.Context(), job, steps)
			a.must(err)
			for _, r := range results {
				if r.Problem != nil {
					t.Fatal(r.Problem)
				}
			}
			time.Sleep(12 * time.Hour)
			if restart {
				a.stop()
				a.start(m, app.Spool{})
			}
			time.Sleep(12*time.Hour - time.Millisecond)
			a.want("last moment", "4816", signal.Acknowledge)
			time.Sleep(time.Millisecond)
			a.want("a day later", "4816", signal.StaySilent)
		})
	}
}

// A disk that stalls carries no answer over the end of the window.
func TestAWindowThatEndsWhileASignalIsStored(t *testing.T) {
	together(t, 2, func(t *testing.T, m *mates) {
		a, b := m.all[0], m.all[1]
		job := a.job("4816")
		a.openRun(job, "4816", false)
		a.onTest(job, "4816", time.Hour)
		synctest.Wait()
		a.box.slow = time.Minute
		a.want("time enough", "4816", signal.Acknowledge)
		watcher, stop := a.Watch(job)
		defer stop()
		time.AfterFunc(30*time.Second, func() {
			b.ontest(job, prove.WindowEvent{Act: prove.ActReadBack})
			b.ontest(job, prove.WindowEvent{Act: prove.ActOff, Nothing: true})
		})
		a.want("taken off test elsewhere meanwhile", "4816", signal.StaySilent)
		if got := shown(watcher.Alarms); got.Answered || got.Why != "account 4816 is not on test: nobody watches" {
			t.Errorf("shown is %+v", got)
		}
		a.onTest(job, "4816", time.Hour)
		time.Sleep(time.Hour - time.Second)
		a.want("lapsed meanwhile", "4816", signal.StaySilent)
	})
}
