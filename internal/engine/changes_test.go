package engine

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	"proofbell/demo"
	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/words"
	"proofbell/rules"
	"proofbell/site"
)

func draftDesk(t *testing.T) *Desk {
	t.Helper()
	s, err := site.DecodeYAML("draft", demo.Draft)
	if err != nil {
		t.Fatal(err)
	}
	state := book.New("01928f5e-3c00-7000-8000-000000000001")
	state.Site = s
	return NewDesk(state, 0)
}

func TestChanges(t *testing.T) {
	d := draftDesk(t)
	// Zone 10 of the draft is a smoke zone called "Mains alarms CO"; room G1 is the hall.
	patch := `{"zones":{"10":{"kind":"co","bypass":true,"code":"162"},"12":null,"48":{"label":"Loft smoke","kind":"smoke","area":"1"}},"heads":{"M1":{"made":"2020-01","room":"G3"}},"settings":{"exitDelay":"45 s"}}`
	got := Changes(nil, d.State.Site, json.RawMessage(patch))
	want := []Change{
		{"/heads/M1/made", "Alarm M1", "made", "2019-04", "2020-01"},
		{"/heads/M1/room", "Alarm M1", "room", d.State.Site.Rooms["G1"].Name, d.State.Site.Rooms["G3"].Name},
		{"/settings/exitDelay", "Settings", "exit delay", d.State.Site.Settings.ExitDelay.String(), "45 s"},
	}
	var heads []Change
	for _, c := range got {
		if c.Where == "Alarm M1" || c.Where == "Settings" {
			heads = append(heads, c)
		}
	}
	if !reflect.DeepEqual(heads, want) {
		t.Errorf("%+v\nwant %+v", heads, want)
	}
	find := func(path string) Change {
		i := slices.IndexFunc(got, func(c Change) bool { return c.Path == path })
		if i < 0 {
			t.Fatalf("%s is not said: %+v", path, got)
		}
		return got[i]
	}
	if c := find("/zones/12"); c.Field != "" || c.Before == "" || c.After != "" {
		t.Errorf("a zone that goes: %+v", c)
	}
	if c := find("/zones/48"); c.Field != "" || c.After == "" {
		t.Errorf("a zone that comes: %+v", c)
	}
	if c := find("/zones/10/bypass"); c.Before != "no" || c.After != "yes" {
		t.Errorf("what was not said is no: %+v", c)
	}
	if c := find("/zones/48/area"); c.After != "Guesthouse" {
		t.Errorf("its area: %+v", c)
	}
	german := Changes(words.In("de"), d.State.Site, json.RawMessage(`{"zones":{"10":{"kind":"co"}}}`))
	if len(german) != 1 || german[0].After != "Kohlenmonoxid" || german[0].Field != "Art" {
		t.Errorf("in German: %+v", german)
	}
	if got := Changes(nil, d.State.Site, json.RawMessage(`{"zones":{"10":{"label":"Mains alarms CO"}}}`)); len(got) != 0 {
		t.Errorf("what stays is said: %+v", got)
	}
}

// Every finding that knows its mending shows it field by field, and the order is that of the work.
func TestFindingsShowTheirChanges(t *testing.T) {
	v, err := draftDesk(t).Schedule(time.Date(2026, 9, 15, 12, 0, 0, 0, time.UTC))
	if err != nil {
		t.Fatal(err)
	}
	last := ""
	for _, f := range v.Findings {
		if has := len(f.Changes) > 0; has != (len(f.Patch) > 0) {
			t.Errorf("%s: %d changes for %s", f.Rule, len(f.Changes), f.Patch)
		}
		place := fmt.Sprint(slices.Index([]rules.Severity{"stop", "fix", "advise"}, f.Severity), slices.Index([]rules.Who{"desk", "site", "electrician", "authority"}, f.Who))
		if place < last {
			t.Errorf("%s, %s for %s stands behind a graver one", f.Rule, f.Severity, f.Who)
		}
		last = place
	}
}

// The draft and the list that its station read back, compared by hand: zone 16 has another label there, zone 25 is missing.
func TestStationNews(t *testing.T) {
	d := draftDesk(t)
	v, err := d.Schedule(time.Date(2026, 9, 15, 12, 0, 0, 0, time.UTC))
	if err != nil {
		t.Fatal(err)
	}
	if v.Station.Since != "as the station read it back on 2026-09-10" {
		t.Errorf("since %q", v.Station.Since)
	}
	zones := map[string]bool{}
	for _, c := range v.Station.Changes {
		zones[c.Where] = true
	}
	if !zones["Zone 16"] || !zones["Zone 25"] || zones["Zone 01"] {
		t.Errorf("%+v", v.Station.Changes)
	}
	// Once a list was issued, it is compared with that one.
	then := draftDesk(t).State
	d.State.Issued = append(d.State.Issued, book.Issued{IssuedBody: book.IssuedBody{What: "station"}, Entry: evidence.EntryID("x"), At: time.Date(2026, 9, 12, 0, 0, 0, 0, time.UTC), As: then})
	z := d.State.Site.Zones["09"]
	z.Label = "Whole house smoke"
	d.State.Site.Zones["09"] = z
	delete(d.State.Site.Zones, "12")
	news := NewDesk(d.State, 0).stationNews()
	want := []Change{
		{"/zones/09", "Zone 09", "label", "Landing smoke", "Whole house smoke"},
		{"/zones/12", "Zone 12", "", "Hall smoke, Smoke, 111", ""},
	}
	if news.Since != "issued 2026-09-11" || !reflect.DeepEqual(news.Changes, want) { // midnight in UTC is the evening before in Toronto
		t.Errorf("%s: %+v", news.Since, news.Changes)
	}
}

func TestSurveyOfPresses(t *testing.T) {
	d := draftDesk(t)
	d.State.Readings = []book.Reading{
		{About: "/heads/M1", What: "sounded", Value: 2, Which: []string{"M1", "M2"}},
		{About: "/heads/C1", What: "sounded", Value: 1},
		{About: "/heads/gone", What: "sounded", Value: 1},
		{About: "/heads/M2", What: "level", Value: 80},
	}
	v := d.Survey(time.Date(2026, 9, 15, 12, 0, 0, 0, time.UTC))
	if len(v.Presses) != 2 || len(v.Links.Groups) != 1 || v.Links.Groups[0].ID != "M" || len(v.Linking) != 0 {
		t.Errorf("presses %+v, links %+v, changes %+v", v.Presses, v.Links, v.Linking)
	}
	if v.NextHead != "M11" || v.Made[0] != "2026" || len(v.Walk) != 5 || v.Left == 0 {
		t.Errorf("next alarm %s, years from %s, %d steps, %d questions", v.NextHead, v.Made[0], len(v.Walk), v.Left)
	}
}
