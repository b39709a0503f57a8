package records_test

import (
	"strings"
	"testing"

	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/papers"
	"proofbell/internal/practice"
	"proofbell/internal/records"
	"proofbell/panel"
	"proofbell/rules"
)

// A practice says nothing before it is handed in; then found, missed and wrong alarms stand on paper with their reasons, and
// every page says that it is practice. Sheet and guide of it say on every page that they go into no real panel.
func TestPracticeResult(t *testing.T) {
	s := mill(t)
	p, err := panel.Builtin(s.Panel.Profile)
	if err != nil {
		t.Fatal(err)
	}
	made, err := practice.Make(s, p, 7, 1, noon)
	if err != nil {
		t.Fatal(err)
	}
	k := keep(t, made.Site)
	text := func(kind, lang string) string {
		t.Helper()
		paper := k.paper(kind, lang, "")
		raw, err := records.PDF(paper, records.Options{})
		if err != nil {
			t.Fatal(err)
		}
		pages := read(t, raw)
		for n, page := range pages {
			if want := map[string]string{"en": "PRACTICE", "de": "ÜBUNG"}[lang]; !strings.Contains(page, want) {
				t.Errorf("%s %s: page %d does not say %s", kind, lang, n+1, want)
			}
			if want := map[string]string{"en": "never key this into a panel", "de": "nie in eine Zentrale eintippen"}[lang]; kind != papers.PracticeResult && !strings.Contains(page, want) {
				t.Errorf("%s %s: page %d does not say %s", kind, lang, n+1, want)
			}
		}
		return strings.Join(strings.Fields(strings.Join(pages, " ")), " ")
	}
	for _, lang := range []string{"en", "de"} {
		for _, kind := range []string{"keypad-lessons", "keypad-reasons", "keying-sheet"} {
			text(kind, lang)
		}
	}
	if before := text(papers.PracticeResult, "en"); !strings.Contains(before, "told when it was handed in") || strings.Contains(before, "MISSED") {
		t.Errorf("before it is handed in: %s", before)
	}
	// The code of zone 17 is one of the three that number 7 plants; a carried button without a loss window, is right as it is: it leaves the house.
	for _, a := range []practice.Answer{{Place: rules.Place{Kind: "zone", ID: "17"}, What: "code"}, {Place: rules.Place{Kind: "zone", ID: "27"}, What: "window"}} {
		k.add(evidence.KindPractice, book.PracticeBody{Act: book.PracticeNamed, Kind: a.Place.Kind, ID: a.Place.ID, What: a.What}, nil)
	}
	k.add(evidence.KindPractice, book.PracticeBody{Act: book.PracticeRehearsed, Keys: 412, Slips: 9, Seconds: 725, Right: 3, Zones: 4}, nil)
	k.add(evidence.KindPractice, book.PracticeBody{Act: book.PracticeHanded, Key: made.Key}, nil)
	en, de := text(papers.PracticeResult, "en"), text(papers.PracticeResult, "de")
	for _, want := range []string{"1 of 3 planted mistakes found, 2 missed, wrong alarms: 1.", "number 7, level 1", "leaves the house", "3 of 4 zones as wanted, 412 keys, 9 of them wrong, 12:05", "It is no certificate", "This can never become a certificate"} {
		if !strings.Contains(en, want) {
			t.Errorf("%q is not in it: %s", want, en)
		}
	}
	if strings.Count(en, "MISSED") != 2 || strings.Count(en, "FOUND") != 1 || strings.Count(en, "WRONG ALARM") != 1 {
		t.Errorf("marked as %s", en)
	}
	for _, want := range []string{"1 von 3", "ÜBERSEHEN", "FEHLALARM", "GEFUNDEN"} {
		if !strings.Contains(de, want) {
			t.Errorf("%q is not in it: %s", want, de)
		}
	}
	for _, kind := range papers.Kinds() {
		if kind.ID == papers.PracticeResult {
			t.Error("it stands in a bundle")
		}
	}
}

// What the panel's own test mode would do stands with on test, by zone: Ladder reports fire as in earnest and keeps doors silent.
func TestSheetSaysWhatTestModeDoes(t *testing.T) {
	k := keep(t, mill(t))
	raw, err := records.PDF(k.paper("keying-sheet", "en", ""), records.Options{})
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Join(strings.Fields(strings.Join(read(t, raw), " ")), " ")
	for _, want := range []string{"test mode reports these zones as in earnest, and only the station can put them on test: 09, 10, 11,", "the station is told nothing of these zones, and such a test proves no signal: 01,"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not on it: %.2500s", want, text)
		}
	}
}
