package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/store/storetest"
)

func openBooks(t testing.TB, dir string, o Options) *Books {
	t.Helper()
	b, err := Open(context.Background(), dir, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	return b
}

func openInbox(t testing.TB, dir string, o Options) *Inbox {
	t.Helper()
	in, err := OpenInbox(context.Background(), dir, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := in.Close(); err != nil {
			t.Error(err)
		}
	})
	return in
}

func TestBooksKeepTheContract(t *testing.T) {
	storetest.Run(t, func(t testing.TB) app.Store { return openBooks(t, t.TempDir(), Options{}) })
}

func TestInboxKeepsTheContract(t *testing.T) {
	storetest.RunInbox(t, func(t testing.TB) app.Inbox { return openInbox(t, t.TempDir(), Options{}) })
}

func TestFolderNamesThatLookLikeOptions(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "a job? 50%41 #1 & more")
	openBooks(t, dir, Options{})
	openInbox(t, dir, Options{})
	for _, name := range []string{"books.db", "inbox.db"} {
		if _, err := os.Stat(filepath.Join(dir, name)); err != nil {
			t.Error(err)
		}
	}
}

// Only their owner reads the files, new ones and those of an older version.
func TestFilesAreTheirOwnersAlone(t *testing.T) {
	dir := t.TempDir()
	old := filepath.Join(dir, "inbox.db")
	for range 2 {
		in, err := OpenInbox(t.Context(), dir, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range []string{old, old + "-wal", old + "-shm"} {
			if info, err := os.Stat(name); err != nil || info.Mode().Perm() != 0o600 {
				t.Errorf("%s: %v, %v", name, info, err)
			}
		}
		if err := errors.Join(in.Close(), os.Chmod(old, 0o644)); err != nil {
			t.Fatal(err)
		}
	}
}

func TestASecondUserOfTheFolderIsRefused(t *testing.T) {
	dir := t.TempDir()
	openBooks(t, dir, Options{})
	openInbox(t, dir, Options{})
	_, err := Open(t.Context(), dir, Options{})
	_, err2 := OpenInbox(t.Context(), dir, Options{})
	for _, err := range []error{err, err2} {
		if !errors.Is(err, app.ErrInUse) || !strings.Contains(err.Error(), dir) || !strings.Contains(err.Error(), "--data") {
			t.Errorf("%v: it does not say which folder and what to do", err)
		}
	}
}

func TestEverythingIsThereAfterReopening(t *testing.T) {
	dir := t.TempDir()
	b, err := Open(t.Context(), dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	in, err := OpenInbox(t.Context(), dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	job, key, entries := storetest.Book(t, 2)
	signing, err := b.SigningKey(t.Context())
	receiver := in.Receiver()
	if err = errors.Join(err, b.Create(t.Context(), job, storetest.Noon, key, entries)); err != nil {
		t.Fatal(err)
	}
	if _, err := in.Put(t.Context(), storetest.Row(9, storetest.Noon)); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(b.Close(), in.Close()); err != nil {
		t.Fatal(err)
	}
	b, in = openBooks(t, dir, Options{}), openInbox(t, dir, Options{})
	again, err := b.SigningKey(t.Context())
	if err != nil || again.Public() != signing.Public() {
		t.Errorf("another signer (%v)", err)
	}
	if kept, err := b.Key(t.Context(), job); err != nil || !bytes.Equal(kept.Secret(), key.Secret()) {
		t.Errorf("another job key (%v)", err)
	}
	if last, err := in.Last(t.Context()); err != nil || last != 1 || in.Receiver() != receiver {
		t.Errorf("row %d (%v), receiver %s was %s", last, err, in.Receiver(), receiver)
	}
}

func TestWithoutItsInstallationKeyADatabaseOpensNothing(t *testing.T) {
	dir := t.TempDir()
	b, err := Open(t.Context(), dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	job, key, entries := storetest.Book(t, 1)
	_, err = b.SigningKey(t.Context())
	if err = errors.Join(err, b.Create(t.Context(), job, storetest.Noon, key, entries), b.Close(), os.Remove(filepath.Join(dir, "installation.key"))); err != nil {
		t.Fatal(err)
	}
	b = openBooks(t, dir, Options{})
	_, err = b.Key(t.Context(), job)
	_, err2 := b.SigningKey(t.Context())
	for _, err := range []error{err, err2} {
		if err == nil || !strings.Contains(err.Error(), "installation.key") {
			t.Errorf("%v: it does not name the file that is missing", err)
		}
	}
}

// The wrapped key and the key itself must be in no file of the folder once the job is erased: not in a free page, not in
// the log.
func TestAnErasedKeyIsInNoFile(t *testing.T) {
	dir := t.TempDir()
	b := openBooks(t, dir, Options{})
	job, key, entries := storetest.Book(t, 1)
	if err := b.Create(t.Context(), job, storetest.Noon, key, entries); err != nil {
		t.Fatal(err)
	}
	for range 20 { // other jobs around it
		j, k, e := storetest.Book(t, 1)
		if err := b.Create(t.Context(), j, storetest.Noon, k, e); err != nil {
			t.Fatal(err)
		}
	}
	var wrapped []byte
	if err := b.read.QueryRow(`SELECT wrapped FROM job_key WHERE job = ?`, string(job)).Scan(&wrapped); err != nil {
		t.Fatal(err)
	}
	if !inFolder(t, dir, wrapped) {
		t.Fatal("the wrapped key is in no file even before: this test sees nothing")
	}
	if err := b.Erase(t.Context(), storetest.More(t, job, &entries[0], 1)[0]); err != nil {
		t.Fatal(err)
	}
	for what, secret := range map[string][]byte{"wrapped key": wrapped, "half of it": wrapped[:len(wrapped)/2], "key": key.Secret()} {
		if inFolder(t, dir, secret) {
			t.Errorf("%s: still in a file of the folder", what)
		}
	}
}

func inFolder(t *testing.T, dir string, secret []byte) bool {
	t.Helper()
	files, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		raw, err := os.ReadFile(filepath.Join(dir, f.Name()))
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(raw, secret) {
			return true
		}
	}
	return false
}

func TestAFullDiskRefusesWholeActsAndRecovers(t *testing.T) {
	b := openBooks(t, t.TempDir(), Options{MaxPages: 40})
	job, key, entries := storetest.Book(t, 1)
	if err := b.Create(t.Context(), job, storetest.Noon, key, entries); err != nil {
		t.Fatal(err)
	}
	newest, stored := entries[0], 1
	var err error
	var refused []evidence.Entry
	for err == nil && stored < 10_000 {
		if refused = storetest.More(t, job, &newest, 20); err == nil {
			if err = b.Append(t.Context(), refused, &app.Taken{Receiver: "r", Row: int64(stored)}); err == nil {
				newest, stored = refused[19], stored+20
			}
		}
	}
	if !errors.Is(err, app.ErrFull) {
		t.Fatalf("after %d entries: %v, want ErrFull", stored, err)
	}
	if got, err := b.Newest(t.Context(), job); err != nil || got.Hash != newest.Hash {
		t.Errorf("a part of what was refused is there (%v)", err)
	}
	if _, err := b.write.Exec(`PRAGMA max_page_count = 1000`); err != nil { // room again
		t.Fatal(err)
	}
	if err := b.Append(t.Context(), refused, nil); err != nil {
		t.Errorf("with room again: %v", err)
	}
}

func TestAFullInboxAcknowledgesNothingAndRecovers(t *testing.T) {
	in := openInbox(t, t.TempDir(), Options{MaxPages: 16})
	var mu sync.Mutex
	stored := map[int64]bool{}
	var full int
	var all sync.WaitGroup
	for s := range 8 {
		all.Go(func() {
			for n := range 100 {
				r := storetest.Row(s*1000+n, storetest.Noon)
				r.Raw = bytes.Repeat([]byte{'x'}, 400)
				r, err := in.Put(t.Context(), r)
				mu.Lock()
				switch {
				case err == nil:
					stored[r.Row] = true
				case errors.Is(err, app.ErrFull):
					full++
				default:
					t.Errorf("%v, want ErrFull", err)
				}
				mu.Unlock()
			}
		})
	}
	all.Wait()
	if full == 0 || len(stored) == 0 {
		t.Fatalf("%d stored, %d refused: the disk never got full", len(stored), full)
	}
	rows, err := in.After(t.Context(), 0, 1000)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		if !stored[r.Row] {
			t.Errorf("row %d is there and was refused", r.Row)
		}
		delete(stored, r.Row)
	}
	if len(stored) > 0 {
		t.Errorf("%d rows were promised and are not there", len(stored))
	}
	if _, err := in.db.Exec(`PRAGMA max_page_count = 1000`); err != nil {
		t.Fatal(err)
	}
	if _, err := in.Put(t.Context(), storetest.Row(1, storetest.Noon)); err != nil {
		t.Errorf("with room again: %v", err)
	}
}

// The table as it was before frames could be encrypted.
func TestAnOldInboxGoesOn(t *testing.T) {
	dir := t.TempDir()
	db, err := open(t.Context(), filepath.Join(dir, "inbox.db"), 1, Options{})
	if err != nil {
		t.Fatal(err)
	}
	_, err = db.Exec(strings.Replace(inboxSchema, ",\n  clear     BLOB", "", 1))
	if err == nil {
		_, err = db.Exec(`INSERT INTO inbox (at, remote, transport, account, repeat, duplicate, answered, why, job, run, raw) VALUES (0, '', 'tcp', '4816', '', 0, 1, '', 'job', 'run', 'old')`)
	}
	if err = errors.Join(err, db.Close()); err != nil {
		t.Fatal(err)
	}
	in := openInbox(t, dir, Options{})
	row := storetest.Row(9, storetest.Noon)
	row.Clear = []byte("clear")
	if _, err := in.Put(t.Context(), row); err != nil {
		t.Fatal(err)
	}
	rows, err := in.After(t.Context(), 0, 10)
	if err != nil || len(rows) != 2 || string(rows[0].Raw) != "old" || rows[0].Clear != nil || string(rows[1].Clear) != "clear" {
		t.Errorf("got %+v (%v)", rows, err)
	}
}

func TestStrangersHaveABoundOnDisk(t *testing.T) {
	in := openInbox(t, t.TempDir(), Options{})
	in.strays = 50
	for n := range 200 {
		r := storetest.Row(n, storetest.Noon)
		if n%10 != 0 {
			r.Job, r.Run, r.Answered = "", "", false
		}
		if _, err := in.Put(t.Context(), r); err != nil {
			t.Fatal(err)
		}
	}
	rows, err := in.After(t.Context(), 0, 1000)
	if err != nil {
		t.Fatal(err)
	}
	ours, strange := 0, 0
	for _, r := range rows {
		if r.Run != "" {
			ours++
		} else {
			strange++
		}
	}
	if ours != 20 || strange < 40 || strange > 60 {
		t.Errorf("%d rows of runs and %d of strangers are left, want all 20 and some 50", ours, strange)
	}
	if rows[len(rows)-1].Row != 200 {
		t.Errorf("the newest is row %d", rows[len(rows)-1].Row)
	}
}

func TestPutOnAClosedInbox(t *testing.T) {
	in, err := OpenInbox(t.Context(), t.TempDir(), Options{})
	if err != nil {
		t.Fatal(err)
	}
	var all sync.WaitGroup
	results := make(chan error, 200)
	for n := range 200 {
		all.Go(func() {
			_, err := in.Put(context.Background(), storetest.Row(n, storetest.Noon))
			results <- err
		})
	}
	if err := in.Close(); err != nil {
		t.Error(err)
	}
	all.Wait() // nobody waits for ever
	close(results)
	for err := range results {
		if err != nil && !errors.Is(err, errClosed) {
			t.Error(err)
		}
	}
	if _, err := in.Put(t.Context(), storetest.Row(1, storetest.Noon)); !errors.Is(err, errClosed) {
		t.Errorf("%v, want errClosed", err)
	}
}

func BenchmarkInbox(b *testing.B) {
	for _, senders := range []int{1, 64} {
		b.Run(fmt.Sprint(senders, " senders"), func(b *testing.B) {
			in := openInbox(b, b.TempDir(), Options{})
			b.SetParallelism(senders)
			b.RunParallel(func(pb *testing.PB) {
				for n := 0; pb.Next(); n++ {
					if _, err := in.Put(b.Context(), storetest.Row(n, storetest.Noon)); err != nil {
						b.Error(err)
					}
				}
			})
		})
	}
}
