package engine

import (
	"encoding/base64"
	"math"
	"testing"

	"proofbell/demo"
	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/estimate"
)

// The calls of the page of radio on the draft: six links short, one repeater proposed, readings taken in.
func TestRadioOfTheDraft(t *testing.T) {
	j := newJob(t, demo.Draft)
	row := func() estimate.RadioRow {
		for _, r := range asked[estimate.RadioView](j, "radio.links", nil).Rows {
			if r.Device == "workshop-heat" {
				return r
			}
		}
		t.Fatal("the workshop's heat detector has no row")
		return estimate.RadioRow{}
	}
	r := row()
	if r.Margin == nil || *r.Margin != 6.1 || r.Verdict != estimate.Doubtful || r.To != "/panel" || r.False != nil || len(r.Hops) != 1 || len(r.Hops[0].Terms) != 11 || r.Zones[0] != "14" {
		t.Errorf("%+v", r)
	}
	if p := asked[estimate.RadioPlaces](j, "radio.places", nil); len(p.Places) != 1 || p.AtLeast != 1 || len(p.Places[0].Serves) != 6 || len(p.Patch) == 0 {
		t.Errorf("%+v", p)
	}
	if p := asked[estimate.RadioPlaces](j, "radio.places", map[string]any{"wired": true}); len(p.Places) != 1 || p.Places[0].Back != nil {
		t.Errorf("%+v", p)
	}
	measure := func(device, what string, value float64, unit string) {
		j.Add(evidence.KindReading, book.ReadingBody{About: "/devices/" + device, What: what, Value: value, Unit: unit}, nil)
	}
	measure("workshop-heat", "radio", -96, "dBm") // -105 + 9
	measure("workshop-heat", "check-ins", 10, "%")
	if r = row(); r.Measured == nil || *r.Measured != 9 || r.False == nil || math.Abs(*r.False-473.5) > 0.1 {
		t.Errorf("measured %v, false losses %v", r.Measured, r.False)
	}
	measure("hall-smoke", "radio", -62, "dBm")
	measure("lounge-smoke", "radio", -55, "dBm")
	if f := asked[estimate.RadioView](j, "radio.links", nil).Fit; f == nil || f.Readings != 3 || len(f.Residuals) != 3 {
		t.Errorf("after three levels: %+v", f)
	}
}

func TestRadioField(t *testing.T) {
	j := newJob(t, demo.Draft)
	at := func(f estimate.FieldView, x, y float64) byte {
		cells, err := base64.StdEncoding.DecodeString(f.Bands)
		if err != nil || len(cells) != f.W*f.H {
			t.Fatalf("%d x %d, %d cells, %v", f.W, f.H, len(cells), err)
		}
		return cells[int((y-f.Min[1])/f.Step)*f.W+int((x-f.Min[0])/f.Step)]
	}
	ask := map[string]any{"what": "radio", "storey": "ground", "step": 0.5}
	f := asked[estimate.FieldView](j, "field.map", ask)
	// The office has 30 dB and more over the wanted 15; the paper store about 7, less than wanted; the fire button -11.5.
	if f.Unit != "dB" || *f.Wanted != 15 || at(f, 12.2, 7.2) != 3 || at(f, 20.2, 8.2) != 0 || at(f, 18.2, 2.2) != 255 || len(f.Contour) == 0 {
		t.Errorf("office %d, paper store %d, fire button %d, wanted %v", at(f, 12.2, 7.2), at(f, 20.2, 8.2), at(f, 18.2, 2.2), f.Wanted)
	}
	ask["patch"] = map[string]any{"models": map[string]any{"second": map[string]any{"name": "Second", "class": "repeater", "link": "wired"}}, "devices": map[string]any{"second": map[string]any{"model": "second", "room": "G8", "at": []float64{22, 3, 2.2}}}}
	if f = asked[estimate.FieldView](j, "field.map", ask); at(f, 26.2, 1.2) != 3 {
		t.Errorf("with a second receiver in the workshop: %d", at(f, 26.2, 1.2))
	}
}
