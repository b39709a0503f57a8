package building_test

import (
	"math"
	"strings"
	"testing"

	"proofbell/geom"
	"proofbell/internal/building"
)

// A long hall, and over its western four metres a landing; from the landing down to the hall a stair or a hatch.
const overhead = `
storeys: {g: {name: Ground, level: 0, ceiling: 2.5}, u: {name: Upper, level: 2.8, ceiling: 2.5}}
rooms:
  H: {name: Hall, storey: g, outline: [[0, 0], [10, 0], [10, 5], [0, 5]]}
  U: {name: Landing, storey: u, outline: [[0, 0], [4, 0], [4, 5], [0, 5]]}
  W: {name: Wing}
openings:
  way: {name: Way, `

func TestWhatKeepsAStairFromBeingAHoleIsSaid(t *testing.T) {
	for way, want := range map[string]string{
		"kind: stair, rooms: [U, H]}":                            "Way: the place of this opening is not known",
		"kind: stair, storey: u, at: [2, 2], rooms: [U]}":        "Way: the rooms at both ends of this stair are not given",
		"kind: stair, storey: u, at: [2, 2], rooms: [U, W]}":     "Way: the rooms at both ends of this stair are not given",
		"kind: stair, storey: u, at: [2, 2], rooms: [U, H]}":     "",
		"kind: hatch, at: [2, 2], width: 0.6 m, rooms: [U, H]}":  "",
		"kind: stair, storey: g, at: [2, 2], rooms: [H]}":        "Way: the rooms at both ends of this stair are not given",
		"kind: hatch, storey: u, width: 0.6 m, rooms: [U, H] }":  "Way: the place of this opening is not known",
		"kind: passage, storey: g, at: [4, 0], rooms: [H, U]}\n": "",
	} {
		b := of(t, overhead+way)
		said := strings.Join(b.LeftOut(nil), "\n")
		if hole := len(b.Floors[1].Holes) == 1; want == "" && strings.Contains(said, "Way") || want != "" && (strings.Count(said, want) != 1 || hole) {
			t.Errorf("%s: hole %v, said %q, want %q", way, hole, said, want)
		}
	}
}

// A hatch is a piece of the floor of its own, open or not; what it is made of is assumed aloud.
func TestHatchInAFloorIsOnTheWay(t *testing.T) {
	for _, open := range []string{"", ", open: true"} {
		b := of(t, overhead+"kind: hatch, at: [2, 2], width: 0.6 m, rooms: [U, H]"+open+"}")
		c := b.Crossed(geom.Point3{X: 2, Y: 2, Z: 1}, geom.Point3{X: 2, Y: 2, Z: 4})
		if len(c) != 1 || c[0].Hole != 0 || b.Floors[c[0].Floor].Holes[0].Open != (open != "") {
			t.Errorf("%q: %+v", open, c)
		}
		if said := strings.Join(b.Assumptions(nil), "\n"); !strings.Contains(said, "Way: no material given; taken as hollow door") {
			t.Error(said)
		}
	}
}

func TestRoofIsWhereNoRoomLiesAbove(t *testing.T) {
	b := of(t, overhead+"kind: stair, at: [2, 2], rooms: [U, H]}")
	roofs := map[string]building.Roof{}
	for _, r := range b.Roofs {
		roofs[b.Rooms[r.Room].Name] = r
	}
	// The flat roof beside the landing lies as high as its floor, for a way through that floor passes no roof.
	if hall, ok := roofs["Hall"]; !ok || len(hall.Under) != 1 || math.Abs(hall.Z-2.8) > 1e-9 {
		t.Errorf("%+v", b.Roofs)
	}
	if landing, ok := roofs["Landing"]; !ok || len(landing.Under) != 0 || math.Abs(landing.Z-5.4) > 1e-9 {
		t.Errorf("%+v", b.Roofs)
	}
	if len(b.Undrawn) != 1 || b.Undrawn[0].String() != "Wing" {
		t.Errorf("undrawn: %v", b.Undrawn)
	}
}

func TestRoomsOverEachOther(t *testing.T) {
	b := of(t, `
storeys: {g: {name: Ground, level: 0, ceiling: 2.5}, u: {name: Upper, level: 2.8, ceiling: 2.5}}
rooms:
  A: {name: A, storey: g, outline: [[0, 0], [4, 0], [4, 5], [0, 5]]}
  B: {name: B, storey: g, outline: [[0, 0], [4, 0], [4, 5], [0, 5]]}
  C: {name: C, storey: g, outline: [[3.9, 0], [8, 0], [8, 5], [3.9, 5]]}
  D: {name: D, storey: g, outline: [[5, 1], [6, 1], [6, 2], [5, 2]]}
  E: {name: E, storey: u, outline: [[0, 0], [4, 0], [4, 5], [0, 5]]}
`)
	// C overlaps A and B by the thickness of a wall; D lies within C, which hardly is the less for it.
	for i, want := range []int{1, 0, -1, 2, -1} {
		if over, ok := b.Under(i); over != want || ok != (want >= 0) {
			t.Errorf("%s under %d, want %d", b.Rooms[i].Name, over, want)
		}
	}
}
