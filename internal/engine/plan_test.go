package engine

import (
	"encoding/base64"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"proofbell/demo"
	"proofbell/geom"
	"proofbell/internal/draught"
)

// A detector out of the guest room Alder leaves sleepers without detection: the preview says so before anything is kept,
// and the drawing, the distances and the patch are those of the act.
func TestThePlanIsTriedBeforeItIsKept(t *testing.T) {
	d := deskOf(t, demo.Corrected, nil)
	now := time.Date(2026, 9, 15, 12, 0, 0, 0, time.UTC)
	before, err := d.Findings(now)
	if err != nil {
		t.Fatal(err)
	}
	tried, err := d.PlanTry(PlanTry{Now: now, Storey: "upper", Act: &draught.Operation{Op: "head", ID: "M6", At: &geom.Point{X: 9, Y: 7}}, About: "/heads/M6"})
	if err != nil || tried.Acted.Refused != nil {
		t.Fatal(err, tried.Acted.Refused)
	}
	found := false
	for _, f := range tried.Findings {
		found = found || f.Rule == "sleep.detection" && strings.Contains(f.Where, "Alder")
	}
	if !found {
		t.Errorf("nobody says that the sleepers lose their alarm: %+v", tried.Findings)
	}
	moved := false
	for _, m := range tried.Plan.Marks {
		moved = moved || m.ID == "M6" && m.At.X == 9 && m.At.Y == 7
	}
	if !moved || len(tried.Distances) == 0 || tried.Distances[0].What != "wall" {
		t.Errorf("%+v", tried.Distances)
	}
	// the same by its patch, and without a change nothing new is found
	again, err := d.PlanTry(PlanTry{Now: now, Storey: "upper", Patch: tried.Acted.Patch})
	if err != nil || len(again.Findings) != len(tried.Findings) {
		t.Errorf("%v, %d and %d findings", err, len(again.Findings), len(tried.Findings))
	}
	still, err := d.PlanTry(PlanTry{Now: now, Storey: "upper", Patch: json.RawMessage(`{}`)})
	if err != nil || len(still.Findings)+still.Cured != 0 {
		t.Errorf("%v %+v", err, still.Findings)
	}
	if after, _ := d.Findings(now); len(after) != len(before) {
		t.Error("trying changed what is kept")
	}
	refused, err := d.PlanTry(PlanTry{Now: now, Storey: "upper", Act: &draught.Operation{Op: "head", ID: "M6", At: &geom.Point{X: 90, Y: 7}}})
	if err != nil || refused.Acted.Refused == nil || len(refused.Plan.Rooms) == 0 {
		t.Errorf("%v %+v", err, refused.Acted)
	}
	// a side of Alder that moves says the lengths of the rooms that change with it
	side, err := d.PlanTry(PlanTry{Bare: true, Storey: "upper", Act: &draught.Operation{Op: "side", ID: "F2", Side: 1, By: 0.5}})
	if err != nil || side.Acted.Refused != nil || len(side.Sizes) == 0 {
		t.Fatalf("%v %+v %+v", err, side.Acted.Refused, side.Sizes)
	}
	rooms := map[string]bool{}
	for _, s := range side.Sizes {
		rooms[s.Room] = true
	}
	if !rooms["F2"] || !rooms["F3"] || rooms["F4"] {
		t.Errorf("sizes of %v", rooms)
	}
}

func TestPlanActMakesAPatchOfASite(t *testing.T) {
	d := deskOf(t, demo.Corrected, nil)
	acted, err := d.PlanAct(draught.Operation{Op: "side", ID: "F2", Side: 1, By: 0.5})
	if err != nil || acted.Refused != nil {
		t.Fatal(err, acted.Refused)
	}
	s, err := patched(d.State.Site, acted.Patch)
	if err != nil || s.Rooms["F2"].Outline.Polygon().Area() != 26 || s.Rooms["F3"].Outline.Polygon().Area() != 22 {
		t.Errorf("%v %v %v", err, s.Rooms["F2"].Outline, s.Rooms["F3"].Outline)
	}
	for id, w := range d.State.Site.Walls { // of the long walls of the house nothing changes but the one between the two rooms
		now, there := s.Walls[id]
		if id != "upper-x6-south" && (!there || now.Thickness != w.Thickness || now.From[0] != w.From[0] || now.To[1] != w.To[1]) {
			t.Errorf("%s was %v and is %v", id, w, now)
		}
	}
	if len(s.Walls) != len(d.State.Site.Walls) || s.Walls["upper-x6-south"].From[0].SI() != 6.5 {
		t.Errorf("%v", s.Walls["upper-x6-south"])
	}
	acted, err = d.PlanAct(draught.Operation{Op: "side", ID: "F2", Side: 1, By: 7})
	if err != nil || acted.Refused == nil || acted.Patch != nil {
		t.Errorf("%v %+v", err, acted)
	}
}

func TestPlanImportNeedsNoJob(t *testing.T) {
	drawing := base64.StdEncoding.EncodeToString([]byte(`<svg><rect width="4" height="3"/></svg>`))
	arg, err := json.Marshal(PlanImport{Name: "x.svg", Bytes: drawing, Unit: "m", Lang: "de"})
	if err != nil {
		t.Fatal(err)
	}
	if got := string(New().Call("plan.import", arg)); !strings.Contains(got, `"name":"Raum 1"`) || !strings.Contains(got, `"area":12`) {
		t.Error(got)
	}
	if got := string(New().Call("plan.import", []byte(`{"name":"x.svg","bytes":"?"}`))); !strings.Contains(got, "bad-request") {
		t.Error(got)
	}
	if got := string(New().Call("plan.act", []byte(`{"job":"x","op":"room"}`))); !strings.Contains(got, "not-found") {
		t.Error(got)
	}
}
