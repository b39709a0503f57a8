package engine

import (
	"strings"
	"testing"

	"proofbell/demo"
	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/reach"
)

// The calls of the pages of reach on the corrected mill. Figures are of internal/reach; here that they follow the book, the
// reader's language and what is tried.
func TestReachCalls(t *testing.T) {
	j := newJob(t, demo.Corrected)
	v := asked[reach.RoomsView](j, "reach.rooms", nil)
	if len(v.Rooms) != 16 || v.Label == "" || len(v.Singles) == 0 || len(v.Rates) == 0 || !strings.HasPrefix(v.Singles[0].Say, "If ") {
		t.Errorf("%+v", v)
	}
	if v := asked[reach.RoomsView](j, "reach.rooms", map[string]any{"lang": "de"}); !strings.HasPrefix(v.Singles[0].Say, "Wenn ") {
		t.Errorf("German: %q", v.Singles[0].Say)
	}
	if h := asked[reach.HelpsView](j, "reach.helps", nil); len(h.Changes) < 3 || h.Changes[0].Share != 1 || h.How.Formula != "7.12" {
		t.Errorf("%+v", h)
	}
	room := func(patch map[string]any) reach.RoomView {
		arg := map[string]any{"room": "G8"}
		if patch != nil {
			arg["patch"] = patch
		}
		return asked[reach.RoomView](j, "reach.room", arg)
	}
	link := func(v reach.RoomView) string {
		for _, s := range v.Sheet.Steps {
			if s.Formula == "7.13" {
				return s.Put
			}
		}
		return ""
	}
	before := room(nil)
	tested := room(map[string]any{"care": map[string]any{"visitsAYear": 12}})
	if !(tested.Row.Station.Mid < before.Row.Station.Mid) || link(tested) != link(before) {
		t.Errorf("tested monthly: %v, before %v; %q", tested.Row.Station, before.Row.Station, link(tested))
	}
	// A device that is tried elsewhere has another link: nothing of the old place may stay in the figure.
	moved := room(map[string]any{"devices": map[string]any{"workshop-heat": map[string]any{"at": []any{0.5, 0.5, 2.4}}}})
	if link(before) == "" || link(moved) == link(before) {
		t.Errorf("the link where it was: %q, moved: %q", link(before), link(moved))
	}
	// All check-ins lost, as measured: the only way of the workshop is gone.
	j.Add(evidence.KindReading, book.ReadingBody{About: "/devices/workshop-heat", What: "check-ins", Value: 100, Unit: "%"}, nil)
	if lost := room(nil); lost.Row.Station.Low != 1 {
		t.Errorf("nothing of it arrives: %v", lost.Row.Station)
	}
}
