package evidence_test

import (
	"bytes"
	"crypto/rand"
	"fmt"
	"time"

	"proofbell/evidence"
)

// A note is sealed by the client, put in its place by the server, exported, changed by someone, and verified.
func Example() {
	now := time.Date(2026, 9, 15, 18, 4, 5, 0, time.UTC)
	key, err := evidence.NewSigningKey(rand.Reader)
	check(err)
	job, err := evidence.NewJobID(now, rand.Reader)
	check(err)

	id, err := evidence.NewEntryID(now, rand.Reader)
	check(err)
	content, err := evidence.NewContent(job, id, now, "p-7f3a", evidence.KindNote, 0, map[string]string{"say": "heads renewed on the landing"})
	check(err)
	entry, err := evidence.Append(nil, content, now.Add(time.Second))
	check(err)

	var file bytes.Buffer
	book := func(yield func(evidence.Entry, error) bool) { yield(entry, nil) }
	_, err = evidence.WriteExport(&file, key, job, "Larkwater Mill", now.Add(time.Minute), book)
	check(err)

	trusted := []evidence.Fingerprint{key.Public().Fingerprint()}
	report, err := evidence.Verify(bytes.NewReader(file.Bytes()), trusted)
	check(err)
	fmt.Println("good:", report.Good(), "entries:", report.Entries)

	changed := bytes.Replace(file.Bytes(), []byte("landing"), []byte("terrace"), 1)
	report, err = evidence.Verify(bytes.NewReader(changed), trusted)
	check(err)
	fmt.Println("good:", report.Good(), "line:", report.Break.Line, "entry:", report.Break.Seq, "signer:", report.Signer)
	fmt.Println(report.Break.Say)

	report, err = evidence.Verify(bytes.NewReader(file.Bytes()), nil)
	check(err)
	fmt.Println("good:", report.Good(), "signer:", report.Signer)

	// Output:
	// good: true entries: 1
	// good: false line: 2 entry: 1 signer: known
	// the content does not match its hash: it was changed after it was sealed
	// good: false signer: unknown
}

func check(err error) {
	if err != nil {
		panic(err)
	}
}
