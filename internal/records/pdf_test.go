package records

import (
	"bytes"
	"fmt"
	"os/exec"
	"strings"
	"testing"

	"proofbell/demo"
	"proofbell/internal/drawing"
	"proofbell/site"
)

// sample is a record with many rows, long texts and every kind of stop. Each row carries a mark that is there once.
func sample(t testing.TB, paper string) Facts {
	t.Helper()
	s, err := site.DecodeYAML("demo", demo.Corrected)
	if err != nil {
		t.Fatal(err)
	}
	f := Facts{
		Title: "Record of the job", Name: "Larkwater Mill", Practice: true, Paper: paper, Date: "2026-09-15 14:31 EDT", Unix: 1789497060,
		Sheet: []Pair{{"Account", "4816"}, {"Nothing", ""}}, Cautions: []string{"CAUTION-1"}, Storeys: drawing.Storeys(s), Summary: "SUMMARY-1",
		NotProved: []Pair{{"Unproved", "NAMED-1; " + strings.Repeat("another device; ", 80)}}, OnTest: []Pair{{"Operator", "OPERATOR-1"}},
		Zones: Table{Title: "Zone schedule", Head: []string{"Zone", "Label", "Paths"}, Widths: []float64{1, 3, 2}},
		Heads: Table{Title: "Self-contained alarms", Head: []string{"Alarm"}, Widths: []float64{1}, Empty: "NONE-1"},
		Chain: Chain{Job: "01990000-0000-7000-8000-000000000000", Seq: 7, Hash: strings.Repeat("ab", 32), Fingerprint: strings.Repeat("cd", 32), Signature: strings.Repeat("ef", 64)},
	}
	states := []string{"unproved", "waiting", "half", "proved", "failed"}
	for i := range 90 {
		f.Zones.Rows = append(f.Zones.Rows, []string{fmt.Sprintf("%02d", i), fmt.Sprintf("LABEL-%02d %s", i, strings.Repeat("long ", i%9)), "house internet, mobile"})
		f.Results = append(f.Results, Result{
			Zone: fmt.Sprintf("%02d", i), Title: fmt.Sprintf("STEP-%02d", i), Say: strings.Repeat("Received after 1.9 s here. ", i%4),
			Stops: [4]string{states[i%5], states[i/5%5], states[i/3%5], states[i/2%5]}, Hops: [3]string{"1.9 s", "", "read back"},
		})
		f.Findings = append(f.Findings, Finding{Severity: "STOP", Where: fmt.Sprintf("WHERE-%02d", i), Say: "It is so.", Who: "Mend it. (desk)"})
	}
	return f
}

func TestTheSameFactsGiveTheSameBytes(t *testing.T) {
	for _, paper := range []string{"A4", "Letter"} {
		first, err := PDF(sample(t, paper))
		if err != nil {
			t.Fatal(err)
		}
		again, err := PDF(sample(t, paper))
		if err != nil || !bytes.Equal(first, again) {
			t.Errorf("%s: %d and %d bytes differ (%v)", paper, len(first), len(again), err)
		}
	}
}

// Judge: another program's reading of the document.
func TestEverythingIsOnPaperOnce(t *testing.T) {
	pdftotext, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("pdftotext (poppler-utils) is not installed: the document is not read back")
	}
	for _, paper := range []string{"A4", "Letter"} {
		raw, err := PDF(sample(t, paper))
		if err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(pdftotext, "-layout", "-", "-")
		cmd.Stdin = bytes.NewReader(raw)
		out, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		text := string(out)
		marks := []string{"CAUTION-1", "SUMMARY-1", "NAMED-1", "OPERATOR-1", "NONE-1", strings.Repeat("ab", 32), strings.Repeat("cd", 32)}
		for i := range 90 {
			marks = append(marks, fmt.Sprintf("LABEL-%02d", i), fmt.Sprintf("STEP-%02d", i), fmt.Sprintf("WHERE-%02d", i))
		}
		for _, m := range marks {
			if n := strings.Count(text, m); n != 1 {
				t.Errorf("%s: %s stands there %d times", paper, m, n)
			}
		}
		pages := strings.Split(strings.TrimSuffix(text, "\f"), "\f")
		for i, page := range pages {
			if !strings.Contains(page, "PRACTICE: can not become a certificate.") || !strings.Contains(page, fmt.Sprintf("%d / %d", i+1, len(pages))) && !strings.Contains(page, fmt.Sprintf("%d/%d", i+1, len(pages))) {
				t.Errorf("%s: page %d does not say what it is", paper, i+1)
			}
		}
		for _, room := range []string{"Paper store", "Linen store"} {
			if !strings.Contains(text, room) {
				t.Errorf("%s: the plan names no %s", paper, room)
			}
		}
	}
}

func TestAnEmptyRecord(t *testing.T) {
	if _, err := PDF(Facts{Title: "Record of the job", Name: "A house", Storeys: []drawing.Plan{{Name: "Ground"}}}); err != nil {
		t.Error(err)
	}
}

func BenchmarkPDF(b *testing.B) {
	f := sample(b, "A4")
	for b.Loop() {
		if _, err := PDF(f); err != nil {
			b.Fatal(err)
		}
	}
}
