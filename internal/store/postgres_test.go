package store

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/store/pgtest"
	"proofbell/internal/store/storetest"
)

func openDatabase(t testing.TB, url, dir string) *Books {
	t.Helper()
	b, err := OpenDatabase(context.Background(), url, dir)
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

func TestADatabaseKeepsTheContract(t *testing.T) {
	storetest.Run(t, func(t testing.TB) app.Store { return openDatabase(t, pgtest.Database(t), t.TempDir()) })
}

// follower collects what a store is told.
type follower struct {
	t    testing.TB
	news chan app.News
}

func follow(t testing.TB, s app.Store) follower {
	t.Helper()
	f := follower{t, make(chan app.News, 1000)}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- s.Follow(ctx, func(n app.News) { f.news <- n }) }()
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	if n := f.next(); !n.Again {
		t.Fatalf("the first news is %+v, want Again", n)
	}
	return f
}

func (f follower) next() app.News {
	f.t.Helper()
	select {
	case n := <-f.news:
		return n
	case <-time.After(30 * time.Second):
		f.t.Fatal("nothing was told")
		return app.News{}
	}
}

func TestProcessesOnOneDatabaseHearOfEachOther(t *testing.T) {
	url, dir := pgtest.Database(t), t.TempDir()
	a, b := openDatabase(t, url, dir), openDatabase(t, url, dir)
	heardA, heardB := follow(t, a), follow(t, b)
	job, key, entries := storetest.Book(t, 1)
	next := storetest.More(t, job, &entries[0], 2)
	long := fmt.Appendf(nil, `{"of":"a","words":"%s"}`, strings.Repeat("ä€😀", 5000)) // more than one notification holds
	for _, step := range []func() error{
		func() error { return a.Create(t.Context(), job, storetest.Noon, key, entries) },
		func() error { return a.Append(t.Context(), next[:1], nil) },
		func() error { return a.Erase(t.Context(), next[1]) },
	} {
		if err := step(); err != nil {
			t.Fatal(err)
		}
		if n := heardB.next(); n.Job != job {
			t.Errorf("the other heard %+v, want job %s", n, job)
		}
	}
	if err := errors.Join(a.Tell(t.Context(), long), b.Tell(t.Context(), []byte(`{"of":"b"}`))); err != nil {
		t.Fatal(err)
	}
	if n := heardB.next(); !bytes.Equal(n.Notice, long) {
		t.Errorf("the long notice came as %.80q", n.Notice)
	}
	for n := heardA.next(); string(n.Notice) != `{"of":"b"}`; n = heardA.next() {
		if n.Notice != nil {
			t.Errorf("it heard itself: %.80q", n.Notice)
		}
	}
	for _, bad := range []string{"", "{", "{\"a\":\"\xff\"}", `"` + strings.Repeat("a", mostNotice) + `"`} {
		if err := a.Tell(t.Context(), []byte(bad)); err == nil {
			t.Errorf("told %.20q", bad)
		}
	}
	if s, err := b.Secrets(t.Context(), job); err != nil || len(s) != 0 {
		t.Errorf("secrets: %v, %v", s, err)
	}
}

// What a notification does not bring, behind a pooler of connections for instance, is found by asking.
func TestGrowthIsSeenWithoutNotifications(t *testing.T) {
	url, dir := pgtest.Database(t), t.TempDir()
	a, b := openDatabase(t, url, dir), openDatabase(t, url, dir)
	heard := follow(t, b)
	job, _, entries := storetest.Book(t, 3)
	for i, e := range entries { // by hand, as if the notification was lost
		err := a.within(t.Context(), 1, func(x txn) error {
			raw, err := e.Canonical()
			if i == 0 {
				err = errors.Join(err, x.exec(`INSERT INTO job (id, created, erased) VALUES (?, 0, 0)`, string(job)))
			}
			return errors.Join(err, x.exec(`INSERT INTO entry (job, seq, id, json) VALUES (?, ?, ?, ?)`, string(job), e.Seq, string(e.ID), string(raw)))
		})
		if err != nil {
			t.Fatal(err)
		}
		if n := heard.next(); n.Job != job {
			t.Errorf("heard %+v, want job %s", n, job)
		}
	}
}

// Each writer reads the newest entry and adds one. Of two that read the same, one is told that the book has grown: it is
// never forked, and nobody's entry is lost.
func TestManyProcessesWriteOneBook(t *testing.T) {
	url, dir := pgtest.Database(t), t.TempDir()
	const processes, each = 4, 30
	var stores []*Books
	for range processes {
		stores = append(stores, openDatabase(t, url, dir))
	}
	job, key, entries := storetest.Book(t, 1)
	if err := stores[0].Create(t.Context(), job, storetest.Noon, key, entries); err != nil {
		t.Fatal(err)
	}
	var all sync.WaitGroup
	for _, s := range stores {
		all.Go(func() {
			for done := 0; done < each; {
				newest, err := s.Newest(t.Context(), job)
				if err == nil {
					err = s.Append(t.Context(), storetest.More(t, job, newest, 1), nil)
				}
				switch {
				case err == nil:
					done++
				case !errors.Is(err, app.ErrStale):
					t.Error(err)
					return
				}
			}
		})
	}
	all.Wait()
	got, err := stores[0].Entries(t.Context(), job, 0, 1000)
	if err != nil || len(got) != 1+processes*each {
		t.Fatalf("%d entries (%v), want %d", len(got), err, 1+processes*each)
	}
	if err := evidence.CheckChain(nil, got); err != nil {
		t.Error(err)
	}
}

// Several start at once on an empty database: one makes the schema.
func TestProcessesStartTogether(t *testing.T) {
	url, dir := pgtest.Database(t), t.TempDir()
	openDatabase(t, pgtest.Database(t), dir) // makes the key's file
	var all sync.WaitGroup
	keys := make(chan evidence.Fingerprint, 4)
	for range 4 {
		all.Go(func() {
			b, err := OpenDatabase(t.Context(), url, dir)
			if err != nil {
				t.Error(err)
				return
			}
			key, err := b.SigningKey(t.Context())
			if err = errors.Join(err, b.Close()); err != nil {
				t.Error(err)
				return
			}
			keys <- key.Public().Fingerprint()
		})
	}
	all.Wait()
	close(keys)
	first := <-keys
	for k := range keys {
		if k != first {
			t.Errorf("two signers: %s and %s", first, k)
		}
	}
}

func TestADatabaseOpensWithItsOwnInstallationKeyOnly(t *testing.T) {
	url, dir, other := pgtest.Database(t), t.TempDir(), t.TempDir()
	openDatabase(t, url, dir)
	if err := os.WriteFile(filepath.Join(other, "installation.key"), bytes.Repeat([]byte{7}, 32), 0o600); err != nil {
		t.Fatal(err)
	}
	empty := filepath.Join(t.TempDir(), "new")
	for _, folder := range []string{other, empty} {
		_, err := OpenDatabase(t.Context(), url, folder)
		if err == nil || !strings.Contains(err.Error(), filepath.Join(folder, "installation.key")) || !strings.Contains(err.Error(), "copy") {
			t.Errorf("%v: it does not say which file is missing and what to do", err)
		}
	}
	if _, err := os.Stat(empty); err == nil {
		t.Error("a key was made that opens nothing")
	}
	raw, err := os.ReadFile(filepath.Join(dir, "installation.key"))
	if err = errors.Join(err, os.WriteFile(filepath.Join(other, "installation.key"), raw, 0o600)); err != nil {
		t.Fatal(err)
	}
	openDatabase(t, url, other)
}

func TestAnAddressThatLeadsNowhereIsSaidWithoutItsPassword(t *testing.T) {
	const password = "fox%2Fglove"
	for url, says := range map[string]string{
		"postgres://mara:" + password + "@127.0.0.1:1/books?connect_timeout=1":  `"books" on 127.0.0.1:1`,
		"postgres:///books?host=/nowhere/at/all&user=mara&password=" + password: `"books" on /nowhere/at/all`,
		"postgres://mara:fox/glove@127.0.0.1:1/books":                           "%2F",
		"postgres://mara:" + password + "@127.0.0.1:1/books?sslmode=perhaps":    "can not be read",
		"mysql://mara:" + password + "@127.0.0.1/books":                         "postgres://",
		"host=127.0.0.1 user=mara password=fox/glove":                           "postgres://",
	} {
		_, err := OpenDatabase(t.Context(), url, t.TempDir())
		if err == nil || !strings.Contains(err.Error(), says) || strings.Contains(err.Error(), "fox") || strings.Contains(err.Error(), "glove") {
			t.Errorf("%v: want it to say %s, and no password", err, says)
		}
	}
	_, err := OpenDatabase(t.Context(), "postgres://127.0.0.1:1/books", t.TempDir())
	if !errors.Is(err, app.ErrAway) {
		t.Errorf("%v, want ErrAway", err)
	}
}

func TestADatabaseOfANewerVersionIsRefused(t *testing.T) {
	url, dir := pgtest.Database(t), t.TempDir()
	if err := openDatabase(t, url, dir).exec(t.Context(), `INSERT INTO goose_db_version (version_id, is_applied) VALUES (99, true)`); err != nil {
		t.Fatal(err)
	}
	if _, err := OpenDatabase(t.Context(), url, dir); err == nil || !strings.Contains(err.Error(), "newer version") {
		t.Errorf("%v, want that a newer version made it", err)
	}
}

func TestOnAServerOfOurOwn(t *testing.T) {
	server := pgtest.Start(t)
	t.Run("an erased key", func(t *testing.T) { anErasedKeyIsInNoTable(t, server) })
	t.Run("an outage", func(t *testing.T) { anOutage(t, server) })
}

// The server dies while two processes work on it, and comes back. What was promised before is there; what is asked meanwhile
// is ErrAway; afterwards all goes on by itself.
func anOutage(t *testing.T, server *pgtest.Server) {
	url, dir := server.Database(), t.TempDir()
	a, b := openDatabase(t, url, dir), openDatabase(t, url, dir)
	heard := follow(t, b)
	job, key, entries := storetest.Book(t, 1)
	if err := a.Create(t.Context(), job, storetest.Noon, key, entries); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		next := storetest.More(t, job, &entries[len(entries)-1], 20)
		if err := a.Append(t.Context(), next[:10], &app.Taken{Receiver: "r", Row: next[9].Seq}); err != nil {
			t.Fatal(err)
		}
		server.Kill()
		for range 5 { // whatever became of the connections that were open
			_, errRead := a.Newest(t.Context(), job)
			_, errList := a.Jobs(t.Context())
			_, errSecrets := a.Secrets(t.Context(), job)
			for what, err := range map[string]error{
				"append": a.Append(t.Context(), next[10:], nil), "read": errRead, "list": errList, "secrets": errSecrets,
				"setting": a.SetSetting(t.Context(), "a", nil), "tell": a.Tell(t.Context(), []byte("{}")),
			} {
				if !errors.Is(err, app.ErrAway) {
					t.Fatalf("%s: %v, want ErrAway", what, err)
				}
			}
		}
		server.Start()
		for again := false; !again; {
			again = heard.next().Again
		}
		if err := a.Append(t.Context(), next[10:], &app.Taken{Receiver: "r", Row: next[19].Seq}); err != nil {
			t.Fatalf("after the outage: %v", err)
		}
		entries = slices.Concat(entries, next)
		for n := heard.next(); n.Job != job && !n.Again; n = heard.next() { // Again, when it listens only now
			if n.Notice != nil {
				t.Errorf("heard %+v", n)
			}
		}
		got, err := b.Entries(t.Context(), job, 0, 1000)
		row, err2 := b.Taken(t.Context(), "r")
		if err = errors.Join(err, err2, evidence.CheckChain(nil, got)); err != nil || len(got) != len(entries) || row != next[19].Seq {
			t.Fatalf("%d entries up to row %d (%v), want %d up to %d", len(got), row, err, len(entries), next[19].Seq)
		}
	}
}

// A program that stands still with the lock on a job in its hand does not hold the others up for ever.
func TestALockedJobIsWaitedForWithinATime(t *testing.T) {
	url, dir := pgtest.Database(t), t.TempDir()
	a, b := openDatabase(t, url, dir), openDatabase(t, url, dir)
	job, key, entries := storetest.Book(t, 1)
	if err := a.Create(t.Context(), job, storetest.Noon, key, entries); err != nil {
		t.Fatal(err)
	}
	next := storetest.More(t, job, &entries[0], 1)
	err := a.within(t.Context(), 0, func(x txn) error {
		if err := x.exec(`SELECT id FROM job WHERE id = ? FOR UPDATE`, string(job)); err != nil {
			return err
		}
		ctx, cancel := context.WithTimeout(t.Context(), 200*time.Millisecond)
		defer cancel()
		if err := b.Append(ctx, next, nil); !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("%v, want that the time of its caller is over", err)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Append(t.Context(), next, nil); err != nil {
		t.Error(err)
	}
}

func TestAServerThatDoesNotAnswerIsAway(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		begun := time.Now()
		err := new(postgres).patiently(t.Context(), 5, func(ctx context.Context) error {
			<-ctx.Done()
			return ctx.Err()
		})
		if took := time.Since(begun); !errors.Is(err, app.ErrAway) || took != patience+5*time.Millisecond {
			t.Errorf("after %s: %v, want ErrAway after %s", took, err, patience+5*time.Millisecond)
		}
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		if err := new(postgres).patiently(ctx, 0, func(ctx context.Context) error { return ctx.Err() }); errors.Is(err, app.ErrAway) || !errors.Is(err, context.Canceled) {
			t.Errorf("%v, want only that its caller ended it", err)
		}
	})
}

func TestWhatTheServerSaysIsSorted(t *testing.T) {
	for code, want := range map[string]error{
		"23505": app.ErrExists, "53100": app.ErrFull, "53300": app.ErrAway, "57P01": app.ErrAway, "57P02": app.ErrAway, "57P03": app.ErrAway,
		"57014": app.ErrAway, "08006": app.ErrAway, "25006": app.ErrAway, "25P03": app.ErrAway, "55P03": app.ErrAway, "40P01": app.ErrAway, "42601": nil, "23503": nil,
	} {
		err := sorted(fmt.Errorf("doing this: %w", &pgconn.PgError{Code: code}))
		for _, is := range []error{app.ErrExists, app.ErrFull, app.ErrAway} {
			if errors.Is(err, is) != (is == want) {
				t.Errorf("%s is %v, want %v", code, err, want)
			}
		}
	}
	if err := sorted(sql.ErrNoRows); err != sql.ErrNoRows {
		t.Errorf("no rows is %v", err)
	}
}

func TestPartsOfANoticeAreCutBetweenCharacters(t *testing.T) {
	for _, text := range []string{"", "a", strings.Repeat("a", mostPart), strings.Repeat("€", mostPart), "a" + strings.Repeat("😀", mostPart)} {
		parts := cut(text)
		if strings.Join(parts, "") != text {
			t.Errorf("%d parts are not the text of %d bytes", len(parts), len(text))
		}
		for _, p := range parts {
			if len(p) > mostPart || !strings.HasPrefix(strings.ToValidUTF8(p, "!"), p) {
				t.Errorf("a part of %d bytes, or cut inside a character", len(p))
			}
		}
	}
}

// The wrapped key is in no file of the tables once the job is erased. The server's log of changes keeps it until the server
// recycles it; docs/store.md says so.
func anErasedKeyIsInNoTable(t *testing.T, server *pgtest.Server) {
	url := server.Database()
	b := openDatabase(t, url, t.TempDir())
	job, key, entries := storetest.Book(t, 1)
	if err := b.Create(t.Context(), job, storetest.Noon, key, entries); err != nil {
		t.Fatal(err)
	}
	var wrapped []byte
	if err := b.read.QueryRow(`SELECT wrapped FROM job_key`).Scan(&wrapped); err != nil {
		t.Fatal(err)
	}
	if !server.Holds(b.read, wrapped) {
		t.Fatal("the wrapped key is in no file even before: this test sees nothing")
	}
	if err := b.Erase(t.Context(), storetest.More(t, job, &entries[0], 1)[0]); err != nil {
		t.Fatal(err)
	}
	if server.Holds(b.read, wrapped) {
		t.Error("the wrapped key is still in a file")
	}
	if due, err := b.installed(t.Context(), sweepDue); err != nil || due != nil {
		t.Errorf("still due: %v, %v", due, err)
	}
}

// BenchmarkAppend adds entries of about 1 kB, durably: 500 in one act, as a drain does, and one in each.
func BenchmarkAppend(b *testing.B) {
	for name, open := range map[string]func() *Books{
		"PostgreSQL": func() *Books { return openDatabase(b, pgtest.Start(b).Database(), b.TempDir()) },
		"SQLite":     func() *Books { return openBooks(b, b.TempDir(), Options{}) },
	} {
		for _, batch := range []int{500, 1} {
			b.Run(fmt.Sprintf("%s by %d", name, batch), func(b *testing.B) {
				s := open()
				job, key, entries := storetest.Book(b, 1)
				if err := s.Create(b.Context(), job, storetest.Noon, key, entries); err != nil {
					b.Fatal(err)
				}
				newest := &entries[0]
				for b.Loop() {
					b.StopTimer()
					next := storetest.Large(b, job, newest, batch, 1000)
					b.StartTimer()
					if err := s.Append(b.Context(), next, &app.Taken{Receiver: "r", Row: next[batch-1].Seq}); err != nil {
						b.Fatal(err)
					}
					newest = &next[batch-1]
				}
				b.ReportMetric(float64(b.N*batch)/b.Elapsed().Seconds(), "entries/s")
			})
		}
	}
}

// Other programs may take the last connections of a server: while there is none to listen on, and the pool works, it is
// told again and again that everything has to be looked at.
func TestFollowWithoutAConnectionToListenOn(t *testing.T) {
	address := pgtest.Start(t).Database()
	u, err := url.Parse(address)
	if err != nil {
		t.Fatal(err)
	}
	ctx := t.Context()
	admin, err := pgx.Connect(ctx, address)
	if err != nil {
		t.Fatal(err)
	}
	defer admin.Close(context.Background())
	role := "few_" + u.Path[1:]
	do := func(query string) {
		t.Helper()
		if _, err := admin.Exec(ctx, query); err != nil {
			t.Fatal(query, err)
		}
	}
	do(`CREATE ROLE ` + role + ` LOGIN`)
	do(`ALTER DATABASE ` + u.Path[1:] + ` OWNER TO ` + role)
	do(`GRANT ALL ON SCHEMA public TO ` + role)
	q := u.Query()
	q.Set("user", role)
	u.RawQuery = q.Encode()
	b := openDatabase(t, u.String(), t.TempDir())
	f := follow(t, b)
	do(`ALTER ROLE ` + role + ` CONNECTION LIMIT 1`)
	do(`SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE usename = '` + role + `' AND query ILIKE '%FROM job%'`)
	for range 3 {
		if _, err := b.Taken(ctx, "r"); err != nil { // holds the one connection that there is
			t.Fatal(err)
		}
		if n := f.next(); !n.Again {
			t.Errorf("told is %+v", n)
		}
	}
}

func TestADatabaseThatAnswersIsNotCalledAway(t *testing.T) {
	for code, want := range map[string]string{
		"42501": "use the role that made them", "28P01": "look at the role", "28000": "look at the role", "3D000": "look at the role", "": "does it run", "53300": "",
	} {
		err := fmt.Errorf("%w: no answer in time", app.ErrAway)
		if code != "" {
			err = fmt.Errorf("%w: %w", app.ErrAway, &pgconn.PgError{Code: code})
		}
		got := Advise(err)
		if !errors.Is(got, app.ErrAway) || !strings.Contains(got.Error(), want) || (code != "") == strings.Contains(got.Error(), "does it run") || code == "53300" && got.Error() != err.Error() {
			t.Errorf("%q: %v", code, got)
		}
	}
}
