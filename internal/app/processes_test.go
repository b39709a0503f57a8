package app_test

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/book"
	"proofbell/internal/prove"
	"proofbell/signal"
)

// Two processes write into one job at once: everything is taken once, whoever took it, and both know all of it.
func TestTwoProcessesWriteOneJob(t *testing.T) {
	together(t, 2, func(t *testing.T, m *mates) {
		a, b := m.all[0], m.all[1]
		job := a.job("4816")
		synctest.Wait()
		var both, own [2][]evidence.Content
		for i := range 30 {
			c := a.content(job, evidence.KindNote, book.NoteBody{About: fmt.Sprintf("zone %d", i)}, nil)
			both[0], both[1] = append(both[0], c), append(both[1], c)
			own[0] = append(own[0], a.content(job, evidence.KindNote, book.NoteBody{About: "a"}, nil))
			own[1] = append(own[1], b.content(job, evidence.KindNote, book.NoteBody{About: "b"}, nil))
		}
		slices.Reverse(both[1])
		var work sync.WaitGroup
		for i, one := range []*mate{a, b} {
			for n := range 30 {
				work.Go(func() {
					results, err := one.Append(t.Context(), job, []evidence.Content{both[i][n], own[i][n]})
					if err != nil || results[0].Problem != nil || results[1].Problem != nil {
						t.Errorf("%+v, %v", results, err)
					}
				})
			}
		}
		work.Wait()
		synctest.Wait()
		for _, one := range m.all {
			s, err := one.State(job)
			one.must(err)
			ids := map[evidence.EntryID]bool{}
			for _, n := range s.Notes {
				ids[n.Entry] = true
			}
			if s.Seq != 91 || len(s.Notes) != 90 || len(ids) != 90 {
				t.Errorf("%d entries, %d notes of %d ids, want 91 and 90", s.Seq, len(s.Notes), len(ids))
			}
			one.verify(job)
		}
	})
}

// A device reads on at one process and sends what it makes of that to another one, which has not heard of it yet.
func TestAContentThatKnowsMoreThanTheProcess(t *testing.T) {
	together(t, 2, func(t *testing.T, m *mates) {
		a, b := m.all[0], m.all[1]
		job := a.job("4816")
		synctest.Wait()
		b.seat.set(false, true)
		a.act(job, evidence.KindNote, book.NoteBody{}, nil)
		c := a.content(job, evidence.KindNote, book.NoteBody{}, nil) // its base is 2
		results, err := b.Append(t.Context(), job, []evidence.Content{c})
		if err != nil || results[0].Problem != nil || results[0].Seq != 3 {
			t.Errorf("%+v, %v", results, err)
		}
		second := a.job("5000")
		if s, err := b.State(second); err != nil || s.Seq != 1 {
			t.Errorf("a job that was opened a moment ago: %v", err)
		}
	})
}

func TestJobsOfOtherProcessesComeAndGo(t *testing.T) {
	together(t, 2, func(t *testing.T, m *mates) {
		a, b := m.all[0], m.all[1]
		job := a.job("4816")
		a.act(job, evidence.KindNote, book.NoteBody{}, book.NotePrivate{Text: "Ann is at home on Tuesdays"})
		synctest.Wait()
		if jobs := b.Jobs(); len(jobs) != 1 || jobs[0].Job != job || jobs[0].Seq != 2 {
			t.Errorf("jobs %+v", jobs)
		}
		watcher, stop := b.Watch(job)
		defer stop()
		a.must(a.Erase(t.Context(), job, "tamsin"))
		synctest.Wait()
		s, err := b.State(job)
		b.must(err)
		if !s.Erased || len(s.Notes) != 1 || s.Notes[0].Text != "" {
			t.Errorf("erased %v, notes %+v", s.Erased, s.Notes)
		}
		if key, _, _ := b.Key(job); key != nil || len(watcher.Grown) != 1 {
			t.Errorf("the key is still known: %v; told: %d", key != nil, len(watcher.Grown))
		}
	})
}

func (m *mate) verdict(account string) signal.Verdict { return m.deliver(frame(m.t, account, 9)) }

func (m *mate) want(when, account string, want signal.Verdict) {
	m.t.Helper()
	if got := m.verdict(account); got != want {
		m.t.Errorf("%s: %v, want %v", when, got, want)
	}
}

// What one process does to the test window decides at every receiver at once.
func TestAWindowIsKnownToEveryReceiver(t *testing.T) {
	together(t, 2, func(t *testing.T, m *mates) {
		a, b := m.all[0], m.all[1]
		job := a.job("4816")
		run := a.openRun(job, "4816", false)
		synctest.Wait()
		b.want("a run, not on test", "4816", signal.StaySilent)
		a.onTest(job, "4816", time.Hour)
		synctest.Wait()
		b.want("on test", "4816", signal.Acknowledge)
		b.ontest(job, prove.WindowEvent{Act: prove.ActReadBack})
		b.ontest(job, prove.WindowEvent{Act: prove.ActOff, Nothing: true})
		synctest.Wait()
		a.want("taken off test at the other process", "4816", signal.StaySilent)
		a.onTest(job, "4816", time.Hour)
		synctest.Wait()
		b.want("on test again", "4816", signal.Acknowledge)
		a.seat.set(false, true)
		b.ontest(job, prove.WindowEvent{Act: prove.ActReadBack})
		b.ontest(job, prove.WindowEvent{Act: prove.ActOff, Nothing: true})
		a.seat.set(false, false) // the line was cut, and is back
		synctest.Wait()
		a.want("taken off test while the line was cut", "4816", signal.StaySilent)
		a.closeRun(job, run)
		synctest.Wait()
		a.wantSignals(job, 9, 9, 9, 9, 9)
		a.verify(job)
	})
}

// A window lapses to the moment, after a restart too, and no clock that is set back holds it open.
func TestAWindowLapsesByBothClocks(t *testing.T) {
	for name, set := range map[string]time.Duration{"clock right": 0, "clock set back": -3 * time.Hour, "clock set forward": 3 * time.Hour} {
		t.Run(name, func(t *testing.T) {
			together(t, 2, func(t *testing.T, m *mates) {
				a, b := m.all[0], m.all[1]
				job := a.job("4816")
				a.openRun(job, "4816", false)
				a.onTest(job, "4816", time.Hour)
				synctest.Wait()
				time.Sleep(30 * time.Minute)
				b.want("half way", "4816", signal.Acknowledge)
				synctest.Wait()
				a.setClock(set)
				b.setClock(set)
				if set > 0 {
					b.want("set forward", "4816", signal.StaySilent)
					return
				}
				a.want("half way, by another clock", "4816", signal.Acknowledge)
				synctest.Wait()
				b.stop()
				b.start(m, app.Spool{})
				b.want("after a restart", "4816", signal.Acknowledge)
				time.Sleep(30*time.Minute - time.Millisecond)
				for _, one := range m.all {
					one.want("last moment", "4816", signal.Acknowledge)
				}
				time.Sleep(time.Millisecond)
				for _, one := range m.all {
					one.want("lapsed", "4816", signal.StaySilent)
				}
				if set == 0 {
					b.stop()
					b.start(m, app.Spool{})
					b.want("restarted after it lapsed", "4816", signal.StaySilent)
				}
			})
		})
	}
}

// An event that reached two receivers is one event with two receipts, whoever writes first.
func TestOneEventAtTwoReceivers(t *testing.T) {
	together(t, 2, func(t *testing.T, m *mates) {
		a, b := m.all[0], m.all[1]
		job := a.job("4816")
		a.openRun(job, "4816", false)
		a.onTest(job, "4816", time.Hour)
		synctest.Wait()
		f := frame(t, "4816", 9)
		other := f
		other.Sequence = signal.NextSequence(f.Sequence) // the same alarm again: a message of its own
		a.deliver(f)
		time.Sleep(7 * time.Second)
		b.deliver(f)
		b.deliver(f) // and its answer was lost
		synctest.Wait()
		a.deliver(other)
		synctest.Wait()
		time.Sleep(signal.DuplicateWindow + time.Second)
		b.deliver(f) // too late to be the same: a panel that began to count anew
		synctest.Wait()
		s, err := a.State(job)
		a.must(err)
		got := s.Runs[0].Signals
		if len(got) != 5 {
			t.Fatalf("%d signals in the book", len(got))
		}
		at := func(id prove.SignalID) int {
			return slices.IndexFunc(got, func(s prove.Signal) bool { return s.ID == id })
		}
		for i, s := range got {
			wantOf, wantBy := -1, "receiver-1"
			switch i {
			case 1, 2:
				wantOf, wantBy = 0, "receiver-2"
			case 4:
				wantBy = "receiver-2"
			}
			if at(s.DuplicateOf) != wantOf || s.Receiver != wantBy || !s.Acknowledged {
				t.Errorf("signal %d: repeats %d, want %d; at %s; answered %v", i, at(s.DuplicateOf), wantOf, s.Receiver, s.Acknowledged)
			}
		}
		if d := got[1].Received.Sub(got[0].Received); d != 7*time.Second {
			t.Errorf("the second receipt came %v after the first", d)
		}
	})
}

// The second receipt may be the earlier one: it waited while its receiver could not reach the store.
func TestTheEarlierReceiptIsWrittenLater(t *testing.T) {
	together(t, 2, func(t *testing.T, m *mates) {
		a, b := m.all[0], m.all[1]
		job := a.job("4816")
		a.openRun(job, "4816", true)
		synctest.Wait()
		b.seat.set(true, false)
		f := frame(t, "4816", 9)
		if v := b.deliver(f); v != signal.Acknowledge {
			t.Errorf("while the store is away: %v", v)
		}
		time.Sleep(time.Minute)
		a.deliver(f)
		time.Sleep(10 * time.Minute) // longer than a repeat may take: what counts is when it was received
		b.seat.set(false, false)
		time.Sleep(2 * time.Second)
		s, err := a.State(job)
		a.must(err)
		got := s.Runs[0].Signals
		if len(got) != 2 || got[1].Receiver != "receiver-2" || got[1].DuplicateOf != got[0].ID || got[1].Received.After(got[0].Received) {
			t.Errorf("%+v", got)
		}
	})
}

// While the store is away the receiver goes on, within its limits; then it is silent, says why, and mends itself.
func TestAnOutageOfTheStore(t *testing.T) {
	together(t, 0, func(t *testing.T, m *mates) {
		one := m.add(app.Spool{Rows: 3, Age: 10 * time.Minute})
		job := one.job("4816")
		run := one.openRun(job, "4816", false)
		one.onTest(job, "4816", 5*time.Hour)
		watcher, stop := one.Watch(job)
		defer stop()
		say := func(want string) {
			t.Helper()
			if say := one.Receptions()[0].Say(nil); want == "" && say != "" || !strings.Contains(say, want) {
				t.Errorf("said is %q, want %q", say, want)
			}
		}
		changed := func(want bool) {
			t.Helper()
			if got := len(watcher.Receiver) == 1; got != want {
				t.Errorf("told that the receiver changed: %v", got)
			}
			for len(watcher.Receiver) > 0 {
				<-watcher.Receiver
			}
		}
		time.Sleep(2 * time.Second)
		changed(true)
		say("")
		one.seat.set(true, false)
		one.want("away", "4816", signal.Acknowledge)
		time.Sleep(90 * time.Second)
		changed(true)
		say("kept here and waits for it (signals: 1, the oldest for 90 s)")
		if b := one.Backlog(); b.Waiting != 1 || b.Age != 90 || !b.Away || b.Silent {
			t.Errorf("backlog %+v", b)
		}
		one.want("the second", "4816", signal.Acknowledge)
		one.want("the third", "4816", signal.Acknowledge)
		one.want("the fourth", "4816", signal.StaySilent)
		if a := <-watcher.Alarms; !strings.Contains(a.Why, "too much waits") {
			t.Errorf("shown is %+v", a)
		}
		time.Sleep(time.Second)
		say("too much waits for the database (signals: 3,")
		results, err := one.Append(t.Context(), job, []evidence.Content{one.content(job, evidence.KindNote, book.NoteBody{}, nil)})
		if p := app.AsProblem(err); p.Code != app.Busy {
			t.Errorf("a note while the store is away: %+v, %v", results, err)
		}
		one.seat.set(false, false)
		time.Sleep(2 * time.Second)
		say("")
		one.want("the store is back", "4816", signal.Acknowledge)
		one.wantSignals(job, 9, 9, 9, 9, 9)

		one.seat.set(true, false)
		time.Sleep(10 * time.Minute)
		one.want("away for as long as it may be, and nothing waited", "4816", signal.Acknowledge)
		time.Sleep(2 * time.Second)
		one.want("away for too long: a window that was closed elsewhere would not be noticed", "4816", signal.StaySilent)
		time.Sleep(time.Second)
		say("too much waits for the database (signals: 1, the oldest for 10 min)")
		one.stop()
		one.seat.set(false, false)
		one.start(m, app.Spool{Rows: 3, Age: 10 * time.Minute}) // what waited waits no longer
		time.Sleep(2 * time.Second)
		one.want("after a restart", "4816", signal.Acknowledge)
		one.wantSignals(job, 9, 9, 9, 9, 9, 9, 9, 9)
		one.ontest(job, prove.WindowEvent{Act: prove.ActReadBack})
		one.ontest(job, prove.WindowEvent{Act: prove.ActOff, Nothing: true})
		one.closeRun(job, run)
		one.verify(job)
	})
}

// An alarm that nobody watches is large on every screen, whichever process serves it.
func TestAlarmsAreToldToTheScreensOfOtherProcesses(t *testing.T) {
	together(t, 2, func(t *testing.T, m *mates) {
		a, b := m.all[0], m.all[1]
		job := a.job("4816")
		watcher, stop := b.Watch(job)
		defer stop()
		time.Sleep(time.Second) // they know of each other
		a.deliver(frame(t, "4816", 9))
		a.Observe(app.Observed{Received: signal.Judge([]byte("\n00000012\"ACK\"0000L0#1234[]\r"))})
		time.Sleep(time.Second)
		if len(watcher.Alarms) != 1 || len(watcher.Faults) != 1 {
			t.Fatalf("%d alarms and %d faults", len(watcher.Alarms), len(watcher.Faults))
		}
		if got := <-watcher.Alarms; got.Receiver != "receiver-1" || got.Job != job || len(got.Events) != 1 || got.Raw == "" {
			t.Errorf("told is %+v", got)
		}
		// A long frame of many events goes without its bytes, and its first events are told.
		long := signal.Frame{ID: signal.IDSIA, Sequence: 7, Prefix: "L0", Account: "4816", Data: "#4816|N" + strings.Repeat("FA005/", 500) + "FA006"}
		a.deliver(long)
		time.Sleep(time.Second)
		if got := <-watcher.Alarms; got.Raw != "" || len(got.Events) == 0 || got.Events[0].Number != 5 {
			t.Errorf("told is %d bytes of frame and %d events", len(got.Raw)/2, len(got.Events))
		}
		// A storm blocks nothing here and is thinned there; the newest is told.
		began := time.Now()
		for zone := range 500 {
			a.deliver(frame(t, "4816", zone))
		}
		if took := time.Since(began); took > 0 {
			t.Errorf("signals waited %v for other processes", took)
		}
		time.Sleep(10 * time.Second)
		var last app.Arrival
		n := 0
		for len(watcher.Alarms) > 0 {
			last = <-watcher.Alarms
			n++
		}
		if n > 70 || last.Events[0].Number != 499 {
			t.Errorf("%d alarms were told, the last of zone %d", n, last.Events[0].Number)
		}
	})
}

// How a receiver stands is known to the others, and forgotten when it is no more.
func TestReceiversKnowOfEachOther(t *testing.T) {
	together(t, 2, func(t *testing.T, m *mates) {
		a, b := m.all[0], m.all[1]
		time.Sleep(16 * time.Second)
		if all := b.Receptions(); len(all) != 2 || all[0].Receiver != "receiver-2" || all[1].Receiver != "receiver-1" || all[1].Name != "receiver-1" {
			t.Errorf("%+v", all)
		}
		a.stop()
		time.Sleep(50 * time.Second)
		if all := b.Receptions(); len(all) != 1 {
			t.Errorf("%+v", all)
		}
		a.start(m, app.Spool{})
	})
}

// The rows of several jobs go into their books together, and a crash between two books leaves nothing out or twice.
func TestRowsOfSeveralJobsAreTakenTogether(t *testing.T) {
	together(t, 1, func(t *testing.T, m *mates) {
		one := m.all[0]
		jobs := map[string]evidence.JobID{"4816": one.job("4816"), "5000": one.job("5000")}
		for account, job := range jobs {
			one.openRun(job, account, true)
		}
		one.seat.set(true, false)
		want := map[string][]int{}
		for zone := range 40 {
			for account := range jobs {
				one.deliver(frame(t, account, zone))
				want[account] = append(want[account], zone)
			}
		}
		one.seat.mu.Lock()
		one.seat.commits = 0
		one.seat.mu.Unlock()
		one.seat.set(false, false)
		time.Sleep(2 * time.Second)
		for account, job := range jobs {
			one.wantSignals(job, want[account]...)
		}
		one.seat.mu.Lock()
		if one.seat.commits > 4 {
			t.Errorf("80 rows of 2 jobs took %d commits", one.seat.commits)
		}
		one.seat.mu.Unlock()
	})
}

// Signals that are not answered cost a panel nothing: they fill no spool, and of them a run takes a bounded number.
func TestWhatIsNotAnsweredTakesNoRoom(t *testing.T) {
	together(t, 0, func(t *testing.T, m *mates) {
		one := m.add(app.Spool{Rows: 3, Age: 10 * time.Minute})
		one.MostUnanswered(5)
		job := one.job("4816")
		one.openRun(job, "4816", false)
		one.seat.set(true, false)
		for zone := range 8 {
			one.deliver(frame(t, "4816", zone)) // nobody is on test
		}
		if b := one.Backlog(); b.Waiting != 0 || b.Silent {
			t.Errorf("backlog %+v", b)
		}
		one.seat.set(false, false)
		time.Sleep(2 * time.Second)
		one.wantSignals(job, 0, 1, 2, 3, 4)
		one.onTest(job, "4816", time.Hour)
		one.seat.set(true, false)
		one.want("a panel after them", "4816", signal.Acknowledge)
		one.seat.set(false, false)
		time.Sleep(2 * time.Second)
		one.wantSignals(job, 0, 1, 2, 3, 4, 9)
		rows, err := one.box.After(t.Context(), 0, 100)
		if err != nil || len(rows) != 9 || rows[4].Run == "" || rows[5].Run != "" || rows[8].Run == "" {
			t.Errorf("%d rows, %v", len(rows), err)
		}
	})
}
