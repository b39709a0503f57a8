package draught_test

import (
	"slices"
	"testing"

	"proofbell/internal/draught"
	"proofbell/site"
)

// Hall and kitchen, over both one landing; a cellar below the hall.
const stacked = `
storeys: {c: {name: Cellar, level: -2.5}, g: {name: Ground, level: 0}, u: {name: Upper, level: 2.8}}
rooms:
  C: {name: Cellar, storey: c, outline: [[0, 0], [4, 0], [4, 5], [0, 5]]}
  H: {name: Hall, storey: g, outline: [[0, 0], [4, 0], [4, 5], [0, 5]]}
  K: {name: Kitchen, storey: g, outline: [[4, 0], [8, 0], [8, 5], [4, 5]]}
  U: {name: Landing, storey: u, outline: [[0, 0], [8, 0], [8, 5], [0, 5]]}
openings:
  up: {kind: stair, storey: u, at: [2, 2], rooms: [U, H]}
  down: {kind: stair, storey: g, at: [1, 1], rooms: [H, C]}
`

// A stair that is moved keeps where it leads to, in the order in which that was written; a new one leads up, else down.
func TestAStairKeepsItsOtherEnd(t *testing.T) {
	s := read(t, stacked)
	for _, c := range []struct {
		does draught.Operation
		want []site.RoomID
	}{
		{draught.Operation{Op: "opening", Storey: "g", ID: "down", At: at(6, 2)}, []site.RoomID{"K", "C"}},
		{draught.Operation{Op: "opening", Storey: "u", ID: "up", At: at(6, 2)}, []site.RoomID{"U", "H"}},
		{draught.Operation{Op: "opening", Storey: "g", Kind: "stair", At: at(6, 2)}, []site.RoomID{"K", "U"}},
		{draught.Operation{Op: "opening", Storey: "u", Kind: "stair", At: at(6, 2)}, []site.RoomID{"U", "K"}},
	} {
		after, acted := do(t, s, c.does)
		id := site.OpeningID(c.does.ID)
		if id == "" {
			for one := range after.Openings {
				if _, there := s.Openings[one]; !there {
					id = one
				}
			}
		}
		if got := after.Openings[id].Rooms; !slices.Equal(got, c.want) {
			t.Errorf("%+v: %v, want %v; %s", c.does, got, c.want, acted.Say)
		}
	}
}
