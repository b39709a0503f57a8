package history_test

import (
	"os"
	"strings"
	"testing"

	"proofbell/internal/history"
)

// docs/history.md is the table of causes, written out.
func TestDocument(t *testing.T) {
	const file = "../../docs/history.md"
	want := history.Document()
	if *update {
		if err := os.WriteFile(file, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if string(got) != want {
		t.Error("docs/history.md is not what the causes say: go generate ./internal/history")
	}
}

// Every cause says all that it owes, and none is named twice.
func TestCausesAreWhole(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range history.Causes(nil) {
		if seen[c.ID] {
			t.Errorf("%s is there twice", c.ID)
		}
		seen[c.ID] = true
		for what, text := range map[string]string{"title": c.Title, "looks": c.Looks, "statistic": c.Statistic, "threshold": c.Threshold, "disproof": c.Disproof, "not": c.Not} {
			if text == "" {
				t.Errorf("%s has no %s", c.ID, what)
			}
		}
		if !strings.HasPrefix(c.Not, "Do not ") {
			t.Errorf("%s: what not to do begins with %q", c.ID, c.Not)
		}
	}
	if len(seen) < 15 {
		t.Errorf("%d causes, want 15 or more", len(seen))
	}
}
