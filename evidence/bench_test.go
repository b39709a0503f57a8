package evidence

import (
	"bytes"
	"crypto/sha256"
	"testing"
)

// BenchmarkVerify reads a book of 2,000 entries, most of them signals; BenchmarkSHA256 takes one plain hash over the same
// bytes, as the floor that no verifier gets under.
func BenchmarkVerify(b *testing.B) {
	raw := export(b, signer(b, 1), "", book(b, 2000))
	trusted := []Fingerprint{signer(b, 1).Public().Fingerprint()}
	b.SetBytes(int64(len(raw)))
	for b.Loop() {
		if r, err := Verify(bytes.NewReader(raw), trusted); err != nil || !r.Good() {
			b.Fatal(r.Break, err)
		}
	}
}

func BenchmarkSHA256(b *testing.B) {
	raw := export(b, signer(b, 1), "", book(b, 2000))
	b.SetBytes(int64(len(raw)))
	for b.Loop() {
		sha256.Sum256(raw)
	}
}

func BenchmarkAppend(b *testing.B) {
	entries := book(b, 2)
	for b.Loop() {
		if _, err := Append(&entries[0], entries[1].Content, testTime); err != nil {
			b.Fatal(err)
		}
	}
}
