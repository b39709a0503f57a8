package building_test

import (
	"testing"

	"proofbell/demo"
	"proofbell/geom"
	"proofbell/internal/building"
	"proofbell/site"
)

func mill(t *testing.T) (*site.Site, *building.Building) {
	t.Helper()
	s, err := site.DecodeYAML("larkwater.yaml", demo.Corrected)
	if err != nil {
		t.Fatal(err)
	}
	return s, building.Of(s)
}

// names says what a ray passes through, as the site names it.
func names(b *building.Building, from, to geom.Point3) []string {
	var out []string
	for _, c := range b.Crossed(from, to) {
		if c.Piece < 0 {
			out = append(out, string(b.Floors[c.Floor].Material))
			continue
		}
		out = append(out, string(b.Pieces[c.Piece].Material))
	}
	return out
}

// Worked by hand on the scenario's drawing: from the panel at (11, 8.6), 1.5 m up, inside its cupboard.
func TestCrossedInTheMill(t *testing.T) {
	_, b := mill(t)
	panel := geom.Point3{X: 11, Y: 8.6, Z: 1.5}
	for _, c := range []struct {
		name string
		from geom.Point3
		want []string
	}{
		{"office smoke: only the cupboard", geom.Point3{X: 12, Y: 7.4, Z: 2.6}, []string{"foil-board"}},
		// Line to (8, 2.5): x = 10 at a third of the way, y = 6.57, in the door 6.55 to 7.45 but 1.87 m up: the leaf. At
		// y = 5, x = 9.2, 2.15 m up: brick.
		{"hall smoke", geom.Point3{X: 8, Y: 2.5, Z: 2.6}, []string{"brick", "timber-door", "foil-board"}},
		// From the upper floor down: partition y 5.4, then the floor 2.9 m up.
		{"landing smoke", geom.Point3{X: 9.5, Y: 4.7, Z: 5.3}, []string{"stud", "joist-floor", "foil-board"}},
		// The wing has no upper floor: no floor is passed although the line starts above 2.9 m. At x = 18 y = 5.19, behind the
		// wheel room's south wall; at x = 14 y = 7.14 and 1.94 m up: the steel leaf.
		{"wing heat", geom.Point3{X: 22.5, Y: 3, Z: 3.2}, []string{"rubble-stone", "steel", "foil-board"}},
	} {
		got := names(b, c.from, panel)
		if len(got) != len(c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
			continue
		}
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%s: %v, want %v", c.name, got, c.want)
				break
			}
		}
	}
}
