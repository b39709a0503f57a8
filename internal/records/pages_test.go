package records_test

import (
	"bytes"
	"os/exec"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/papers"
	"proofbell/internal/prove"
	"proofbell/internal/records"
)

var (
	boxes  = regexp.MustCompile(`<page width="([\d.]+)"|<word xMin="([\d.]+)" yMin="[\d.]+" xMax="([\d.]+)" yMax="[\d.]+">([^<]*)<`)
	metres = regexp.MustCompile(`\d ?(m|cm|mm|m²)([ ;,.)]|$)`)
	feet   = regexp.MustCompile(`\d ?(ft|in|sq ft)([ ;,.)]|$)`)
)

// No word reaches into the margin, and lengths are in the units that were asked for, whatever the site says.
func TestNothingReachesOverTheEdgeAndLengthsAreOfOneKind(t *testing.T) {
	pdftotext, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("pdftotext (poppler-utils) is not installed: the documents are not read back")
	}
	k := worked(t)
	for _, kind := range papers.Kinds() {
		for _, of := range []struct {
			lang, sheet, units string
			other              *regexp.Regexp
		}{{"de", "A4", "metric", feet}, {"en", "Letter", "imperial", metres}} {
			name := kind.ID + " " + of.lang
			p := k.paper(kind.ID, of.lang, of.units)
			if !kind.Estimate() {
				p.Sections = slices.DeleteFunc(p.Sections, func(s papers.Section) bool { return s.Sum != nil }) // inputs of a sheet stand as they were typed
			}
			raw, err := records.PDF(p, records.Options{Sheet: of.sheet})
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			for _, line := range strings.Split(strings.Join(read(t, raw), "\n"), "\n") {
				if of.other.MatchString(line) && !kind.Estimate() { // figures of models are metric
					t.Errorf("%s, %s: %s", name, of.units, strings.TrimSpace(line))
				}
			}
			cmd := exec.Command(pdftotext, "-bbox", "-", "-")
			cmd.Stdin = bytes.NewReader(raw)
			out, err := cmd.Output()
			if err != nil {
				t.Fatal(err)
			}
			const edge = 13 * 72 / 25.4 // points; the margin is 15 mm, a door of a plan may stand out a little
			wide, words := 0.0, 0
			for _, m := range boxes.FindAllStringSubmatch(string(out), -1) {
				if m[1] != "" {
					wide, _ = strconv.ParseFloat(m[1], 64)
					continue
				}
				words++
				left, _ := strconv.ParseFloat(m[2], 64)
				right, _ := strconv.ParseFloat(m[3], 64)
				if left < edge || right > wide-edge {
					t.Errorf("%s: %q stands from %.0f to %.0f of %.0f points", name, m[4], left, right, wide)
				}
			}
			if words < 20 {
				t.Errorf("%s: only %d words were read", name, words)
			}
		}
	}
}

// A signature that is there does not move the empty place beside it.
func TestPlacesForSignaturesStandInOneLine(t *testing.T) {
	k := worked(t)
	k.add(evidence.KindSign, book.SignBody{What: "owner-guide", As: "technician"}, book.SignPrivate{Name: "Tamsin Okoro-Lind", Strokes: [][][2]int{{{0, 0}, {900, 330}}}})
	raw, err := records.PDF(k.paper("owner-guide", "en", ""), records.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if text := strings.Join(read(t, raw), "\n"); !regexp.MustCompile(`(?m)For the firm +Owner or agent$`).MatchString(text) {
		t.Errorf("two lines:\n%s", text[strings.Index(text, "Signatures"):])
	}
}

// What the marks mean stands on the page of the last plan, however much stands before it.
func TestTheKeyOfAPlanStaysWithIt(t *testing.T) {
	k := worked(t)
	p := k.paper("existing-alarms", "en", "")
	at := slices.IndexFunc(p.Sections, func(s papers.Section) bool { return len(s.Plans) > 0 })
	p.Sections = slices.Insert(p.Sections, at, papers.Section{})
	before := &p.Sections[at].Text
	for range 50 {
		raw, err := records.PDF(p, records.Options{})
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, page := range read(t, raw) {
			if strings.Contains(page, "Circle smoke or gas") {
				found = strings.Contains(page, "Upper floor")
			}
		}
		if !found {
			t.Fatalf("the key stands apart after %d lines", len(*before))
		}
		*before = append(*before, "One line more.")
	}
}

// The register says of everything that a run proved when that was: also of a bridge, by the buttons of the alarms that it
// hears, and of a sounder.
func TestTheRegisterKnowsEveryProof(t *testing.T) {
	k := worked(t)
	k.add(evidence.KindTick, prove.TickBody{Step: "bell-box.sound", What: prove.Tripped, Method: "heard"}, nil)
	k.add(evidence.KindTick, prove.TickBody{Step: "bell-box.sound", What: prove.Sounded}, nil)
	for _, row := range k.paper("device-register", "en", "").Sheet.Rows {
		if row[0] == "bell-box" && row[17] != "2026-09-15" {
			t.Errorf("the bell box: %q", row)
		}
	}
}
