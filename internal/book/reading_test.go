package book

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"proofbell/evidence"
)

func TestLevelsAreFolded(t *testing.T) {
	w := newWriter(t)
	w.edit("phone", `{"format":"proofbell.site/1"}`)
	add := func(b ReadingBody) evidence.Entry {
		return w.order(w.content(evidence.KindReading, "tamsin", w.seq(), b, nil))
	}
	wrong := add(ReadingBody{About: "/rooms/F2", What: "sound", Value: 17, Unit: "dBA"})
	add(ReadingBody{About: "/rooms/F2/beds/1", What: "sound", Value: 71.5, Unit: "dBA", Place: []float64{2, 1, 3.5}, Doors: "shut", Source: "/heads/M4", Meter: "class 2 meter"})
	add(ReadingBody{What: "sound", Withdrawn: wrong.ID})
	add(ReadingBody{About: "/devices/hall", What: "radio", Value: -78, Unit: "dBm", Source: "/panel"})

	got := w.fold().Readings
	if len(got) != 2 {
		t.Fatalf("readings: %+v", got)
	}
	if r := got[0]; r.About != "/rooms/F2/beds/1" || r.Value != 71.5 || !slices.Equal(r.Place, []float64{2, 1, 3.5}) || r.Doors != "shut" || r.Source != "/heads/M4" || r.Meter != "class 2 meter" || r.At.IsZero() {
		t.Errorf("sound: %+v", r)
	}
	if r := got[1]; r.What != "radio" || r.Value != -78 || r.Source != "/panel" {
		t.Errorf("radio: %+v", r)
	}
}

func TestReadingBodies(t *testing.T) {
	for body, want := range map[string]string{
		`{"about":"/rooms/F2","what":"sound","value":71,"unit":"dBA"}`:                  "",
		`{"about":"/heads/M1","what":"sounded","value":3,"unit":"alarms"}`:              "",
		`{"about":"/x","what":"something of 2031","value":1e9,"unit":"furlongs"}`:       "",
		`{"about":"/rooms/F2","what":"sound","value":71,"unit":"dB"}`:                   "want dBA",
		`{"about":"/rooms/F2","what":"sound","value":171,"unit":"dBA"}`:                 "want 0 to 140",
		`{"about":"/devices/a","what":"radio","value":78,"unit":"dBm"}`:                 "want -150 to 30",
		`{"about":"/devices/a","what":"check-ins","value":2,"unit":"%"}`:                "",
		`{"about":"/devices/a","what":"check-ins","value":102,"unit":"%"}`:              "want 0 to 100",
		`{"about":"/rooms/F2","what":"sound","value":71,"unit":"dBA","doors":"ajar"}`:   "want shut or open",
		`{"about":"/rooms/F2","what":"sound","value":71,"unit":"dBA","at":[1]}`:         "want x, y",
		`{"about":"/rooms/F2","what":"sound","value":71,"unit":"dBA","at":[1,2,3,4]}`:   "want x, y",
		`{"about":"/rooms/F2","what":"sound","value":71,"unit":"dBA","colour":"green"}`: "colour",
	} {
		err := Check(evidence.Content{Kind: evidence.KindReading, Body: json.RawMessage(body)})
		if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", body, err)
		}
	}
}

// Whoever measured with no signal measured the building that they knew: what the office changed meanwhile comes first in the book and
// is no part of what was measured. Folded at once, entry by entry, or with the reading laid over, it is the same.
func TestAReadingKnowsTheSiteThatWasMeasured(t *testing.T) {
	w := newWriter(t)
	w.edit("phone", `{"format":"proofbell.site/1","heads":{"M4":{"kind":"smoke","room":"F2"},"M5":{"kind":"smoke","room":"F3"}}}`)
	base := w.seq()
	own := w.content(evidence.KindEdit, "tamsin", base, EditBody{Patch: json.RawMessage(`{"heads":{"M5":{"room":"F4"}}}`), From: "phone"}, nil)
	reading := w.content(evidence.KindReading, "tamsin", base, ReadingBody{About: "/rooms/F2", What: "sound", Value: 71, Unit: "dBA"}, nil)

	rooms := func(s *State) string {
		seen := s.Readings[0].Seen
		return string(seen.Heads["M4"].Room) + " " + string(seen.Heads["M5"].Room)
	}
	laid := w.fold()
	laid.Lay(WithKey(w.key), own, reading)
	if got := rooms(laid); got != "F2 F4" || laid.Readings[0].Seen != laid.Site {
		t.Errorf("on the phone: %s", got)
	}
	w.order(w.content(evidence.KindEdit, "imelda", base, EditBody{Patch: json.RawMessage(`{"heads":{"M4":{"room":"F7"}}}`), From: "office"}, nil))
	w.order(own)
	w.order(reading)
	step := New(w.job)
	for _, e := range w.entries {
		step.Apply(WithKey(w.key), e)
	}
	for _, s := range []*State{w.fold(), step} {
		if got := rooms(s); got != "F2 F4" || s.Site.Heads["M4"].Room != "F7" {
			t.Errorf("in the book: %s, now %s", got, s.Site.Heads["M4"].Room)
		}
	}
	// The same change, seen before measuring, was measured.
	w.order(w.content(evidence.KindReading, "tamsin", w.seq(), ReadingBody{About: "/rooms/F2", What: "sound", Value: 71, Unit: "dBA"}, nil))
	if s := w.fold(); s.Readings[1].Seen != s.Site {
		t.Error("a later reading knows the site of today")
	}
}

func TestAWithdrawnReadingCanBePutBack(t *testing.T) {
	w := newWriter(t)
	w.edit("phone", `{"format":"proofbell.site/1"}`)
	add := func(b ReadingBody) evidence.Entry {
		return w.order(w.content(evidence.KindReading, "tamsin", w.seq(), b, nil))
	}
	first := add(ReadingBody{About: "/rooms/F2", What: "sound", Value: 71, Unit: "dBA"})
	add(ReadingBody{About: "/rooms/F3", What: "sound", Value: 72, Unit: "dBA"})
	gone := add(ReadingBody{What: "sound", Withdrawn: first.ID})
	if got := w.fold().Readings; len(got) != 1 || got[0].Value != 72 {
		t.Errorf("taken away: %+v", got)
	}
	add(ReadingBody{What: "sound", Withdrawn: gone.ID})
	if got := w.fold().Readings; len(got) != 2 || got[0].Entry != first.ID || got[1].Value != 72 {
		t.Errorf("put back, in its place: %+v", got)
	}
}
