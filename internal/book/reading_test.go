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
