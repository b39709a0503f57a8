package engine

import (
	"slices"
	"testing"

	"proofbell/demo"
)

// The advice for the draft names three places; taking one of them by its patch leaves two.
func TestPlacingOfTheDraft(t *testing.T) {
	j := newJob(t, demo.Draft)
	v := asked[PlacingView](j, "placing.advise", nil)
	var rooms []string
	for _, a := range v.Adds {
		rooms = append(rooms, a.Room)
		if len(a.Why) == 0 || a.Storey == "" || a.Margin != nil || len(a.Patch) == 0 {
			t.Errorf("%+v", a)
		}
	}
	slices.Sort(rooms)
	if !slices.Equal(rooms, []string{"F1", "F7", "G6"}) || v.Label == "" || v.Cured < 3 || len(v.Unmet) != 0 {
		t.Fatalf("%+v", v)
	}
	with := asked[PlacingView](j, "placing.advise", map[string]any{"with": "detectors"})
	for _, a := range with.Adds {
		if a.Margin == nil || *a.Margin < 15 {
			t.Errorf("%+v", a)
		}
	}
}
