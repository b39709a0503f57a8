package engine

import (
	"testing"

	"proofbell/demo"
)

// Nothing that an edit says hides the findings of a job in earnest, and a zone with a stop gets no keys.
func TestPlantedHidesNothingInEarnest(t *testing.T) {
	j := newJob(t, demo.Draft)
	look := func() (findings, cards int) {
		t.Helper()
		d := j.desk()
		f, err := d.Findings(noon)
		if err != nil {
			t.Fatal(err)
		}
		v, err := d.Keying(noon, nil)
		if err != nil || d.Hides() || d.Header(noon).Planted != nil {
			t.Fatal("hidden", d.Hides(), err)
		}
		for _, z := range v.Sheet.Zones {
			cards += len(z.Cards)
		}
		return len(f), cards
	}
	j.edit(`{"practice":null}`)
	findings, cards := look()
	for _, patch := range []string{`{"planted":{"seed":1}}`, `{"practice":true,"planted":{"seed":1}}`, `{"practice":null}`, `{"planted":null}`} {
		j.edit(patch)
		if f, c := look(); f != findings || c != cards {
			t.Errorf("after %s there are %d findings and %d cards, not %d and %d", patch, f, c, findings, cards)
		}
	}
}
