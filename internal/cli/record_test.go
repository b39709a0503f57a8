package cli

import (
	"crypto/rand"
	"fmt"
	"io"
	"log/slog"
	"strings"
	"testing"
	"time"

	"proofbell/demo"
	"proofbell/internal/app"
	"proofbell/internal/records"
	"proofbell/internal/store"
	"proofbell/site"
)

// The record of the demo names every zone once, and nobody's telephone or passcode.
func TestTheRecordOfTheDemo(t *testing.T) {
	s, err := site.DecodeYAML("demo", demo.Corrected)
	if err != nil {
		t.Fatal(err)
	}
	books, err := store.Open(t.Context(), t.TempDir(), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := books.Close(); err != nil {
			t.Error(err)
		}
	})
	a, err := app.New(t.Context(), app.Config{Store: books, Now: time.Now, Random: rand.Reader, Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	if err != nil {
		t.Fatal(err)
	}
	job, err := a.Open(t.Context(), s, "okoro-lind")
	if err != nil {
		t.Fatal(err)
	}
	facts, err := recordFacts(t.Context(), a, job, time.Date(2026, 9, 15, 18, 0, 0, 0, time.UTC))
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]int{}
	for _, row := range facts.Zones.Rows {
		seen[row[0]]++
	}
	for id := range s.Zones {
		if seen[string(id)] != 1 {
			t.Errorf("zone %s stands %d times in the schedule", id, seen[string(id)])
		}
	}
	if len(seen) != len(s.Zones) || facts.Date != "2026-09-15 14:00 EDT" || !facts.Practice || facts.Chain.Seq != 1 || len(facts.Chain.Hash) != 64 {
		t.Errorf("%d zones, %s, practice %v, chain %+v", len(seen), facts.Date, facts.Practice, facts.Chain)
	}
	text := fmt.Sprintf("%+v", facts)
	for _, p := range s.People {
		if p.Phone != "" && strings.Contains(text, p.Phone) || p.Role == "owner" && strings.Contains(text, p.Name) {
			t.Errorf("the record names %s", p.Name)
		}
	}
	if strings.Contains(text, "passcode") {
		t.Error("the record speaks of a passcode")
	}
	if _, err := records.PDF(facts); err != nil {
		t.Error(err)
	}
}
