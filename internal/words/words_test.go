package words

import (
	"testing"
	"time"
)

func TestLanguages(t *testing.T) {
	for tag, want := range map[string]string{"de": "de", "de-AT": "de", "DE": "de", "en": "en", "": "en", "fr": "en", "den": "en"} {
		if got := In(tag).Tag(); got != want {
			t.Errorf("In(%q) speaks %q, want %q", tag, got, want)
		}
	}
	var english *Language
	if got := english.Say("%d of %d", 2, 3); got != "2 of 3" {
		t.Errorf("English says %q", got)
	}
	if got := english.Say("100 %"); got != "100 %!(NOVERB)" {
		t.Errorf("a sentence is a format, also without arguments: %q", got)
	}
	if got := In("de").Number(1234.5, 1); got != "1234,5" {
		t.Errorf("German writes %q", got)
	}
	if got := In("de").Number(0.15, -1); got != "0,15" {
		t.Errorf("German writes %q", got)
	}
	inner := Later("%s and %s", "A", Typed("100 %"))
	if got := Later("%s and %s", inner, 3).In(In("de")); got != "A und 100 % und %!s(int=3)" {
		t.Errorf("German says %q", got)
	}
	if got := Marked("100 % sure").In(In("de")) + Later("%s: %s", Marked("smoke"), "%d").In(In("de")); got != "100 % sureRauch: %d" {
		t.Errorf("German says %q", got)
	}
	if got := (Text{}).String(); got != "" {
		t.Errorf("nothing says %q", got)
	}
	if got := Upper("öffnung") + Upper(""); got != "Öffnung" {
		t.Errorf("a sentence begins %q", got)
	}
	day := time.Date(2026, 9, 15, 14, 31, 0, 0, time.UTC)
	if got := In("de").Moment(day); got != "15.09.2026 14:31" {
		t.Errorf("German writes %q", got)
	}
	if got := english.Moment(day); got != "2026-09-15 14:31" {
		t.Errorf("English writes %q", got)
	}
}
