// Package booktest writes job books for tests, as a browser and a server would together.
package booktest

import (
	"bytes"
	"encoding/json"
	"testing"
	"time"

	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/site"
)

// Keeper writes one job book: a second passes from entry to entry, and the same acts give the same bytes. Not for
// concurrent use.
type Keeper struct {
	T       testing.TB
	Job     evidence.JobID
	Key     *evidence.JobKey
	Random  *bytes.Reader
	At      time.Time // of the newest entry
	Entries []evidence.Entry
}

// Keep begins a book with the site as its first entry.
func Keep(t testing.TB, s *site.Site, begun time.Time) *Keeper {
	t.Helper()
	k := &Keeper{T: t, Random: bytes.NewReader(bytes.Repeat([]byte("The wheel turns, and the bell is proved."), 3000)), At: begun}
	var err error
	k.Job, err = evidence.NewJobID(begun, k.Random)
	k.Must(err)
	k.Key, err = evidence.NewJobKey(k.Random)
	k.Must(err)
	raw, err := json.Marshal(s)
	k.Must(err)
	open, private, err := book.SplitPatch(raw)
	k.Must(err)
	k.Add(evidence.KindEdit, book.EditBody{Patch: open}, book.EditPrivate{Patch: private})
	return k
}

// Must ends the test on an error.
func (k *Keeper) Must(err error) {
	k.T.Helper()
	if err != nil {
		k.T.Fatal(err)
	}
}

// Content makes what a page would send next; private nil means that nothing of it is sealed.
func (k *Keeper) Content(kind evidence.Kind, body, private any) evidence.Content {
	k.T.Helper()
	k.At = k.At.Add(time.Second)
	id, err := evidence.NewEntryID(k.At, k.Random)
	k.Must(err)
	c, err := evidence.NewContent(k.Job, id, k.At, "okoro-lind", kind, int64(len(k.Entries)), body)
	k.Must(err)
	if private != nil {
		c, err = evidence.SealPrivate(k.Key, k.Random, c, private)
		k.Must(err)
	}
	return c
}

// Add puts a content into the book.
func (k *Keeper) Add(kind evidence.Kind, body, private any) evidence.Entry {
	k.T.Helper()
	var newest *evidence.Entry
	if n := len(k.Entries); n > 0 {
		newest = &k.Entries[n-1]
	}
	e, err := evidence.Append(newest, k.Content(kind, body, private), k.At)
	k.Must(err)
	k.Entries = append(k.Entries, e)
	return e
}
