package engine

import (
	"encoding/json"
	"strings"
	"testing"

	"proofbell/demo"
	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/estimate"
)

// A reading decides until what it measured is changed, is told with the change from then on, and holds again when that is taken back.
func TestAReadingThatIsOutOfDateDecidesNothing(t *testing.T) {
	j := newJob(t, demo.Corrected)
	read := j.Add(evidence.KindReading, book.ReadingBody{About: "/rooms/F3", What: "sound", Value: 60, Unit: "dBA", Doors: "shut"}, nil)
	row := func() (estimate.SoundRow, estimate.ReadingRow) {
		t.Helper()
		v := asked[estimate.SoundView](j, "sound.rooms", nil)
		if len(v.Readings) != 1 || v.Readings[0].Entry != string(read.ID) || v.Readings[0].Value != 60 || v.Readings[0].When == "" {
			t.Fatalf("readings: %+v", v.Readings)
		}
		for _, r := range v.Rows {
			if r.Room == "F3" {
				return r, v.Readings[0]
			}
		}
		t.Fatal("no row of F3")
		return estimate.SoundRow{}, estimate.ReadingRow{}
	}
	finding := func() (say string) {
		t.Helper()
		all, err := j.desk().Findings(noon)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range all {
			if strings.HasPrefix(f.Rule, "sound.pillow") {
				say += f.Say
			}
		}
		return say
	}
	if r, one := row(); !r.ByReading || r.Verdict != estimate.TooLittle || one.Out != "" || !strings.Contains(finding(), "Measured: 60 dBA") {
		t.Errorf("before: %+v %+v", r, one)
	}
	edit := func(patch string) evidence.Entry {
		return j.Add(evidence.KindEdit, book.EditBody{Patch: json.RawMessage(patch)}, nil)
	}
	edit(`{"zones":{"09":{"notes":"a word"}}}`)
	if r, _ := row(); !r.ByReading {
		t.Error("a note changes no sound")
	}
	moved := edit(`{"heads":{"M7":{"at":[8,2,5.5]}}}`)
	if r, one := row(); r.ByReading || r.Measured != nil || r.Verdict != estimate.Enough || one.Out != "out of date: M7 changed" || !strings.Contains(r.OutSay, "60 dBA") || finding() != "" {
		t.Errorf("after: %+v %+v %q", r, one, finding())
	}
	j.Add(evidence.KindEdit, book.EditBody{Undo: moved.ID}, nil)
	if r, one := row(); !r.ByReading || one.Out != "" {
		t.Errorf("taken back: %+v %+v", r, one)
	}
	gone := j.Add(evidence.KindReading, book.ReadingBody{What: "sound", Withdrawn: read.ID}, nil)
	if v := asked[estimate.SoundView](j, "sound.rooms", nil); len(v.Readings) != 0 {
		t.Errorf("taken away: %+v", v.Readings)
	}
	j.Add(evidence.KindReading, book.ReadingBody{What: "sound", Withdrawn: gone.ID}, nil)
	row()
}

func TestRadioReadingsAreListedAndGrowOld(t *testing.T) {
	j := newJob(t, demo.Corrected)
	direct := ""
	for _, r := range asked[estimate.RadioView](j, "radio.links", nil).Rows {
		if r.To == "/panel" {
			direct = r.Device
		}
	}
	j.Add(evidence.KindReading, book.ReadingBody{About: "/devices/" + direct, What: "radio", Value: -50, Unit: "dBm"}, nil)
	v := asked[estimate.RadioView](j, "radio.links", nil)
	device := ""
	for _, r := range v.Rows {
		if r.Measured != nil {
			device = r.Device
		}
	}
	if len(v.Readings) != 1 || v.Readings[0].Out != "" || device == "" {
		t.Fatalf("%+v, measured at %q", v.Readings, device)
	}
	j.Add(evidence.KindEdit, book.EditBody{Patch: json.RawMessage(`{"panel":{"at":[9,8.6,1.5]}}`)}, nil)
	v = asked[estimate.RadioView](j, "radio.links", nil)
	if len(v.Readings) != 1 || v.Readings[0].Out == "" || !strings.Contains(v.Readings[0].Out, "the panel changed") {
		t.Errorf("%+v", v.Readings)
	}
	for _, r := range v.Rows {
		if r.Measured != nil {
			t.Errorf("%s is still judged by it", r.Device)
		}
	}
}
