// Package storetest holds every app.Store and every app.Inbox to its contract.
package storetest

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/signal"
)

// Noon is when these tests happen.
var Noon = time.Date(2026, 9, 15, 12, 0, 0, 0, time.UTC)

// Book makes a job with a key and n entries in a row; each is a note that a person wrote.
func Book(t testing.TB, n int) (evidence.JobID, *evidence.JobKey, []evidence.Entry) {
	t.Helper()
	job, err := evidence.NewJobID(Noon, rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	key, err := evidence.NewJobKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	return job, key, More(t, job, nil, n)
}

// More makes the next n entries of a job behind newest.
func More(t testing.TB, job evidence.JobID, newest *evidence.Entry, n int) []evidence.Entry {
	t.Helper()
	return Large(t, job, newest, n, 0)
}

// Large makes entries whose bodies have size more characters.
func Large(t testing.TB, job evidence.JobID, newest *evidence.Entry, n, size int) []evidence.Entry {
	t.Helper()
	var out []evidence.Entry
	for range n {
		id, err := evidence.NewEntryID(Noon, rand.Reader)
		if err != nil {
			t.Fatal(err)
		}
		c, err := evidence.NewContent(job, id, Noon, "tamsin", evidence.KindNote, 0, map[string]string{"about": "zone 09" + strings.Repeat(".", size)})
		if err != nil {
			t.Fatal(err)
		}
		e, err := evidence.Append(newest, c, Noon)
		if err != nil {
			t.Fatal(err)
		}
		out, newest = append(out, e), &e
	}
	return out
}

// Run tests a store; open returns an empty one.
func Run(t *testing.T, open func(testing.TB) app.Store) {
	t.Run("a new job is there with its key and entries", func(t *testing.T) {
		s := open(t)
		job, key, entries := create(t, s, 3)
		got, err := s.Job(t.Context(), job)
		if want := (app.Job{ID: job, Created: Noon, Seq: 3}); err != nil || got != want {
			t.Errorf("job is %+v (%v), want %+v", got, err, want)
		}
		all, err := s.Jobs(t.Context())
		if err != nil || len(all) != 1 || all[0] != got {
			t.Errorf("jobs are %+v (%v)", all, err)
		}
		kept, err := s.Key(t.Context(), job)
		if err != nil || !bytes.Equal(kept.Secret(), key.Secret()) {
			t.Errorf("another key came back (%v)", err)
		}
		same(t, s, job, entries)
	})
	t.Run("a setting is what was kept last", func(t *testing.T) {
		s := open(t)
		for _, want := range []string{"", "one", "two"} {
			if want != "" {
				if err := s.SetSetting(t.Context(), "devices", []byte(want)); err != nil {
					t.Fatal(err)
				}
			}
			got, err := s.Setting(t.Context(), "devices")
			if err != nil || string(got) != want {
				t.Errorf("setting is %q (%v), want %q", got, err, want)
			}
		}
		if got, err := s.Setting(t.Context(), "other"); err != nil || got != nil {
			t.Errorf("a setting that nobody made is %q (%v)", got, err)
		}
	})
	t.Run("a job twice is refused and leaves the first as it was", func(t *testing.T) {
		s := open(t)
		job, _, entries := create(t, s, 2)
		other, err := evidence.NewJobKey(rand.Reader)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Create(t.Context(), job, Noon, other, More(t, job, nil, 1)); !errors.Is(err, app.ErrExists) {
			t.Errorf("got %v, want ErrExists", err)
		}
		same(t, s, job, entries)
	})
	t.Run("entries follow the newest, or none of them is kept", func(t *testing.T) {
		s := open(t)
		job, _, entries := create(t, s, 2)
		next := More(t, job, &entries[1], 3)
		for name, bad := range map[string][]evidence.Entry{
			"a gap": next[1:], "again": entries[1:], "a gap inside": {next[0], next[2]}, "another beginning": More(t, job, nil, 1),
		} {
			if err := s.Append(t.Context(), bad, &app.Taken{Receiver: "r", Row: 9}); !errors.Is(err, app.ErrStale) {
				t.Errorf("%s: got %v, want ErrStale", name, err)
			}
		}
		if row, err := s.Taken(t.Context(), "r"); err != nil || row != 0 {
			t.Errorf("the mark moved to %d without its entries (%v)", row, err)
		}
		if err := s.Append(t.Context(), next, nil); err != nil {
			t.Fatal(err)
		}
		same(t, s, job, slices.Concat(entries, next))
	})
	t.Run("an entry is found by its id, in its own job only", func(t *testing.T) {
		s := open(t)
		job, _, entries := create(t, s, 2)
		other, _, _ := create(t, s, 1)
		if e, err := s.Entry(t.Context(), job, entries[1].ID); err != nil || e == nil || e.Hash != entries[1].Hash {
			t.Errorf("got %v, %v", e, err)
		}
		if e, err := s.Entry(t.Context(), other, entries[1].ID); err != nil || e != nil {
			t.Errorf("the other job has it too: %v, %v", e, err)
		}
	})
	t.Run("entries come in order, from a number on, so many at most", func(t *testing.T) {
		s := open(t)
		job, _, entries := create(t, s, 5)
		got, err := s.Entries(t.Context(), job, 1, 2)
		if err != nil || len(got) != 2 || got[0].Seq != 2 || got[1].Hash != entries[2].Hash {
			t.Errorf("got %v, %v", got, err)
		}
		if got, err := s.Entries(t.Context(), job, 5, 10); err != nil || len(got) != 0 {
			t.Errorf("behind the newest: %v, %v", got, err)
		}
	})
	t.Run("the mark moves forward only, with entries or without", func(t *testing.T) {
		s := open(t)
		job, _, entries := create(t, s, 1)
		for _, step := range []struct{ row, want int64 }{{5, 5}, {3, 5}, {8, 8}} {
			if err := s.Append(t.Context(), nil, &app.Taken{Receiver: "r1", Row: step.row}); err != nil {
				t.Fatal(err)
			}
			if row, err := s.Taken(t.Context(), "r1"); err != nil || row != step.want {
				t.Errorf("after %d the mark is %d (%v), want %d", step.row, row, err, step.want)
			}
		}
		if err := s.Append(t.Context(), More(t, job, &entries[0], 1), &app.Taken{Receiver: "r2", Row: 4}); err != nil {
			t.Fatal(err)
		}
		if row, err := s.Taken(t.Context(), "r2"); err != nil || row != 4 {
			t.Errorf("the other receiver's mark is %d (%v)", row, err)
		}
	})
	t.Run("erasing takes the key and adds the entry, both or none", func(t *testing.T) {
		s := open(t)
		job, _, entries := create(t, s, 1)
		next := More(t, job, &entries[0], 2)
		if err := s.Erase(t.Context(), next[1]); !errors.Is(err, app.ErrStale) {
			t.Errorf("with a gap: %v, want ErrStale", err)
		}
		if key, err := s.Key(t.Context(), job); err != nil || key == nil {
			t.Errorf("the key went without its entry (%v)", err)
		}
		if err := s.Erase(t.Context(), next[0]); err != nil {
			t.Fatal(err)
		}
		if key, err := s.Key(t.Context(), job); err != nil || key != nil {
			t.Errorf("the key is there still (%v)", err)
		}
		if j, err := s.Job(t.Context(), job); err != nil || !j.Erased || j.Seq != 2 {
			t.Errorf("job is %+v, %v", j, err)
		}
		same(t, s, job, slices.Concat(entries, next[:1]))
	})
	t.Run("secrets are a job's own, the last one of a name, until it is erased", func(t *testing.T) {
		s := open(t)
		job, _, entries := create(t, s, 1)
		other, _, _ := create(t, s, 1)
		set := func(job evidence.JobID, name, value string) {
			t.Helper()
			if err := s.SetSecret(t.Context(), job, name, []byte(value)); err != nil {
				t.Fatal(err)
			}
		}
		want := func(job evidence.JobID, want map[string][]byte) {
			t.Helper()
			if got, err := s.Secrets(t.Context(), job); err != nil || got == nil || fmt.Sprint(got) != fmt.Sprint(want) {
				t.Errorf("secrets are %q (%v), want %q", got, err, want)
			}
		}
		want(job, map[string][]byte{})
		set(job, "a", "one")
		set(job, "a", "two")
		set(job, "b", "\x00\xff")
		set(other, "a", "")
		want(job, map[string][]byte{"a": []byte("two"), "b": []byte("\x00\xff")})
		want(other, map[string][]byte{"a": {}})
		for range 2 { // what is gone already is no error
			if err := s.SetSecret(t.Context(), job, "a", nil); err != nil {
				t.Fatal(err)
			}
		}
		want(job, map[string][]byte{"b": []byte("\x00\xff")})
		next := More(t, job, &entries[0], 2)
		if err := s.Erase(t.Context(), next[1]); !errors.Is(err, app.ErrStale) {
			t.Errorf("with a gap: %v, want ErrStale", err)
		}
		want(job, map[string][]byte{"b": []byte("\x00\xff")})
		if err := s.Erase(t.Context(), next[0]); err != nil {
			t.Fatal(err)
		}
		want(job, map[string][]byte{})
		want(other, map[string][]byte{"a": {}})
		nowhere, _, _ := Book(t, 1)
		for _, id := range []evidence.JobID{job, nowhere} {
			if err := s.SetSecret(t.Context(), id, "a", []byte("late")); !errors.Is(err, app.ErrNotFound) {
				t.Errorf("%v, want ErrNotFound", err)
			}
		}
	})
	t.Run("following ends with its context", func(t *testing.T) {
		s := open(t)
		ctx, stop := context.WithCancel(t.Context())
		ended := make(chan error, 1)
		go func() { ended <- s.Follow(ctx, func(app.News) {}) }()
		if err := s.Tell(t.Context(), []byte(`{"a":1}`)); err != nil {
			t.Error(err)
		}
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	t.Run("blobs are found by job and address", func(t *testing.T) {
		s := open(t)
		job, _, _ := create(t, s, 1)
		other, _, _ := create(t, s, 1)
		sealed := []byte("v1:sealed")
		address := evidence.BlobAddress(sealed)
		for range 2 { // the same again is no error
			if err := s.PutBlob(t.Context(), job, address, sealed); err != nil {
				t.Fatal(err)
			}
		}
		if got, err := s.Blob(t.Context(), job, address); err != nil || !bytes.Equal(got, sealed) {
			t.Errorf("got %q, %v", got, err)
		}
		if _, err := s.Blob(t.Context(), other, address); !errors.Is(err, app.ErrNotFound) {
			t.Errorf("the other job: %v, want ErrNotFound", err)
		}
	})
	t.Run("what is not there", func(t *testing.T) {
		s := open(t)
		job, _, _ := Book(t, 1)
		if _, err := s.Job(t.Context(), job); !errors.Is(err, app.ErrNotFound) {
			t.Errorf("job: %v, want ErrNotFound", err)
		}
		if e, err := s.Newest(t.Context(), job); err != nil || e != nil {
			t.Errorf("newest: %v, %v", e, err)
		}
		if err := s.Append(t.Context(), More(t, job, nil, 1), nil); !errors.Is(err, app.ErrNotFound) {
			t.Errorf("entries of no job: %v, want ErrNotFound", err)
		}
		if all, err := s.Jobs(t.Context()); err != nil || all == nil || len(all) != 0 {
			t.Errorf("jobs: %v, %v", all, err)
		}
	})
	t.Run("one key signs for good", func(t *testing.T) {
		s := open(t)
		first, err := s.SigningKey(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if again, err := s.SigningKey(t.Context()); err != nil || again.Public() != first.Public() {
			t.Errorf("another key the second time (%v)", err)
		}
	})
}

func create(t *testing.T, s app.Store, n int) (evidence.JobID, *evidence.JobKey, []evidence.Entry) {
	t.Helper()
	job, key, entries := Book(t, n)
	if err := s.Create(t.Context(), job, Noon, key, entries); err != nil {
		t.Fatal(err)
	}
	return job, key, entries
}

// same tests that a job holds these entries, byte for byte.
func same(t *testing.T, s app.Store, job evidence.JobID, want []evidence.Entry) {
	t.Helper()
	got, err := s.Entries(t.Context(), job, 0, len(want)+1)
	if err != nil || len(got) != len(want) {
		t.Fatalf("%d entries (%v), want %d", len(got), err, len(want))
	}
	for i := range want {
		a, errA := got[i].Canonical()
		b, errB := want[i].Canonical()
		if errors.Join(errA, errB) != nil || !bytes.Equal(a, b) {
			t.Errorf("entry %d came back as %s, was %s", i+1, a, b)
		}
	}
	if newest, err := s.Newest(t.Context(), job); err != nil || newest == nil || newest.Hash != want[len(want)-1].Hash {
		t.Errorf("newest is %v (%v)", newest, err)
	}
}

// Row is a signal as a receiver hands it over: a burglary alarm of a zone, with a run.
func Row(zone int, at time.Time) app.InboxRow {
	return app.InboxRow{
		At: at, Remote: "127.0.0.1:4000", Transport: "tcp", Account: "4816", Repeat: fmt.Sprint("zone ", zone),
		Answered: true, Job: "job", Run: "run", Raw: fmt.Appendf(nil, "\nzone %d\r", zone),
	}
}

// RunInbox tests an inbox; open returns an empty one.
func RunInbox(t *testing.T, open func(testing.TB) app.Inbox) {
	t.Run("a row comes back as it was put", func(t *testing.T) {
		in := open(t)
		want := Row(9, Noon)
		want.Why, want.Clear = "not on test", []byte("\nclear\r")
		got, err := in.Put(t.Context(), want)
		if err != nil || got.Row != 1 {
			t.Fatalf("row %d (%v), want 1", got.Row, err)
		}
		rows, err := in.After(t.Context(), 0, 10)
		if err != nil || len(rows) != 1 {
			t.Fatalf("%d rows (%v)", len(rows), err)
		}
		want.Row, want.Repeat = 1, "" // how repeats are told is the inbox's own business
		if got := rows[0]; !bytes.Equal(got.Raw, want.Raw) || fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("got %+v, want %+v", got, want)
		}
	})
	t.Run("many at once: each once, numbers dense, each caller's own in its own order", func(t *testing.T) {
		in := open(t)
		const senders, each = 40, 25
		var all sync.WaitGroup
		for s := range senders {
			all.Go(func() {
				last := int64(0)
				for n := range each {
					r, err := in.Put(t.Context(), Row(s*1000+n, Noon))
					if err != nil || r.Row <= last {
						t.Errorf("sender %d: row %d behind %d (%v)", s, r.Row, last, err)
					}
					last = r.Row
				}
			})
		}
		all.Wait()
		rows, err := in.After(t.Context(), 0, 2*senders*each)
		if err != nil || len(rows) != senders*each {
			t.Fatalf("%d rows (%v), want %d", len(rows), err, senders*each)
		}
		seen := map[string]bool{}
		for i, r := range rows {
			if r.Row != int64(i+1) || seen[string(r.Raw)] {
				t.Fatalf("place %d: row %d %q, twice: %v", i, r.Row, r.Raw, seen[string(r.Raw)])
			}
			seen[string(r.Raw)] = true
		}
		if last, err := in.Last(t.Context()); err != nil || last != senders*each {
			t.Errorf("last is %d (%v)", last, err)
		}
	})
	t.Run("a repeat names the first within the window, and not after it", func(t *testing.T) {
		in := open(t)
		nameless := Row(9, Noon)
		nameless.Repeat = ""
		for i, step := range []struct {
			row  app.InboxRow
			want int64
		}{
			{Row(9, Noon), 0},
			{Row(10, Noon), 0},
			{Row(9, Noon.Add(signal.DuplicateWindow)), 1},
			{Row(9, Noon.Add(signal.DuplicateWindow+time.Millisecond)), 0},
			{Row(9, Noon.Add(signal.DuplicateWindow+time.Second)), 4},
			{nameless, 0},
			{nameless, 0},
		} {
			r, err := in.Put(t.Context(), step.row)
			if err != nil || r.Duplicate != step.want {
				t.Errorf("step %d: repeats %d (%v), want %d", i+1, r.Duplicate, err, step.want)
			}
		}
	})
	t.Run("the backlog counts answered rows of runs behind a row", func(t *testing.T) {
		in := open(t)
		for n := range 6 {
			r := Row(n, Noon.Add(time.Duration(n)*time.Second))
			r.Answered = n != 2 // row 3
			if n%3 == 0 {       // rows 1 and 4
				r.Run = ""
			}
			if _, err := in.Put(t.Context(), r); err != nil {
				t.Fatal(err)
			}
		}
		for after, want := range map[int64]struct {
			rows   int64
			oldest time.Time
		}{0: {3, Noon.Add(time.Second)}, 2: {2, Noon.Add(4 * time.Second)}, 3: {2, Noon.Add(4 * time.Second)}, 6: {}, 9: {}} {
			if rows, oldest, err := in.Backlog(t.Context(), after); err != nil || rows != want.rows || !oldest.Equal(want.oldest) {
				t.Errorf("behind %d: %d rows since %s (%v), want %+v", after, rows, oldest, err, want)
			}
		}
	})
	t.Run("two repeats in one commit find each other", func(t *testing.T) {
		in := open(t)
		var all sync.WaitGroup
		for range 50 {
			all.Go(func() {
				if _, err := in.Put(t.Context(), Row(9, Noon)); err != nil {
					t.Error(err)
				}
			})
		}
		all.Wait()
		rows, err := in.After(t.Context(), 0, 100)
		if err != nil || len(rows) != 50 {
			t.Fatalf("%d rows (%v)", len(rows), err)
		}
		for i, r := range rows {
			if want := int64(min(i, 1)); r.Duplicate != want {
				t.Errorf("row %d repeats %d, want %d", r.Row, r.Duplicate, want)
			}
		}
	})
}
