package engine

import (
	"encoding/base64"
	"errors"
	"fmt"
	"strings"
	"testing"

	"proofbell/demo"
	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/estimate"
)

// The calls of the pages of sound on the demo: every sleeping room has what its own alarm makes, and a reading is taken in.
func TestSoundOfTheDemo(t *testing.T) {
	j := newJob(t, demo.Corrected)
	v := asked[estimate.SoundView](j, "sound.rooms", map[string]any{"doors": "shut"})
	rows := map[string]estimate.SoundRow{}
	for _, r := range v.Rows {
		rows[r.Room] = r
	}
	for room, head := range map[string]string{"F2": "/heads/M6", "F3": "/heads/M7", "F4": "/heads/M8", "F5": "/heads/M9", "F7": "/heads/M11"} {
		if r := rows[room]; r.Verdict != estimate.Enough || r.Carries != head || r.Without.Verdict != estimate.TooLittle || !r.Sleeping || *r.Required != 75 {
			t.Errorf("%s: %+v", room, r)
		}
	}
	if v.Fit != nil || v.Label == "" || len(v.Assumed) == 0 {
		t.Errorf("before any reading: %+v", v.Fit)
	}
	for _, level := range []float64{88, 89, 90} {
		j.Add(evidence.KindReading, book.ReadingBody{About: "/rooms/F2", What: "sound", Value: level, Unit: "dBA", Doors: "shut"}, nil)
	}
	v = asked[estimate.SoundView](j, "sound.rooms", nil)
	if v.Fit == nil || v.Fit.Readings != 3 || len(v.Fit.Parameters) != 1 || v.Rows[1].Measured == nil || *v.Rows[1].Measured != 90 {
		t.Errorf("after three readings: %+v", v.Fit)
	}
}

// A meter at the pillow stands above the estimate, whichever way.
func TestMeasuredSoundIsJudgedInsteadOfTheEstimate(t *testing.T) {
	j := newJob(t, demo.Corrected)
	found := func() string {
		t.Helper()
		all, err := j.desk().Findings(noon)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range all {
			if strings.HasPrefix(f.Rule, "sound.pillow") {
				return fmt.Sprint(f.Rule, " ", f.Places[0].ID, " ", f.Estimate, " ", f.Say)
			}
		}
		return ""
	}
	measure := func(level float64, source string) {
		t.Helper()
		j.Add(evidence.KindReading, book.ReadingBody{About: "/rooms/F3", What: "sound", Value: level, Unit: "dBA", Doors: "shut", Source: source}, nil)
	}
	if got := found(); got != "" {
		t.Errorf("before any reading: %s", got)
	}
	measure(60, "/heads/M4") // one alarm alone says nothing against all together
	if got := found(); got != "" {
		t.Errorf("after a reading of one alarm: %s", got)
	}
	measure(71, "")
	if got := found(); !strings.HasPrefix(got, "sound.pillow F3 false Measured: 71 dBA") {
		t.Errorf("after a reading that is too low: %q", got)
	}
	j = newJob(t, demo.Corrected)
	measure(71, "")
	measure(78, "")
	if got := found(); got != "" {
		t.Errorf("after a reading that is high enough: %s", got)
	}
}

func TestSoundField(t *testing.T) {
	j := newJob(t, demo.Corrected)
	f := asked[estimate.FieldView](j, "field.map", map[string]any{"what": "sound", "storey": "upper", "step": 0.5})
	cells, err := base64.StdEncoding.DecodeString(f.Bands)
	if err != nil || len(cells) != f.W*f.H || f.W != 36 || f.H != 18 {
		t.Fatalf("%d x %d, %d cells, %v", f.W, f.H, len(cells), err)
	}
	for i, c := range cells { // every room has an alarm but the linen store, x 6 to 9, y 5.4 to 9
		x, y := f.Min[0]+(float64(i%f.W)+0.5)*f.Step, f.Min[1]+(float64(i/f.W)+0.5)*f.Step
		linen := x > 6 && x < 9 && y > 5.4
		if linen != (c == 1) || !linen && c != 3 {
			t.Fatalf("at %.2f, %.2f: band %d", x, y, c)
		}
	}
	// One alarm alone leaves the rooms behind two walls out.
	f = asked[estimate.FieldView](j, "field.map", map[string]any{"what": "sound", "storey": "upper", "step": 0.5, "source": "/heads/M6"})
	cells, _ = base64.StdEncoding.DecodeString(f.Bands)
	if cells[2*f.W+3] != 3 || cells[2*f.W+33] != 255 {
		t.Errorf("M6 alone: %d in its room, %d three rooms on", cells[2*f.W+3], cells[2*f.W+33])
	}
	// What is being dragged counts before it is kept.
	f = asked[estimate.FieldView](j, "field.map", map[string]any{"what": "sound", "storey": "upper", "step": 0.5, "patch": map[string]any{"heads": map[string]any{"M6": nil}}})
	cells, _ = base64.StdEncoding.DecodeString(f.Bands)
	if cells[2*f.W+3] != 0 {
		t.Errorf("without M6 its room is in band %d", cells[2*f.W+3])
	}
	for _, wrong := range []FieldArg{{What: "sound", Storey: "attic"}, {What: "smell", Storey: "upper"}} {
		var p *Problem
		if _, err := j.desk().Field(wrong); !errors.As(err, &p) || p.Code != "not-found" {
			t.Errorf("%+v: %v", wrong, err)
		}
	}
}

// asked makes a call about the job as its book stands.
func asked[T any](j *job, method string, arg map[string]any) T {
	j.T.Helper()
	e := New()
	answer(j.T, e, "job.load", map[string]any{"job": j.Job, "entries": j.Entries})
	if arg == nil {
		arg = map[string]any{}
	}
	arg["job"], arg["now"] = j.Job, noon
	return see[T](j.T, e, method, arg)
}
