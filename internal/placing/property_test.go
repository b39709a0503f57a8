package placing_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"proofbell/internal/placing"
	"proofbell/site"
)

// promised are the rules for which a proposal is made.
var promised = []string{"sleep.detection", "sleep.outside", "storey.detection", "panel.detection", "smoke.coverage"}

// kept holds a proposal against the rules: once all of it was taken they find nothing that was promised, or it was listed as open.
func kept(t interface {
	Fatalf(string, ...any)
	Helper()
}, s, taken *site.Site, a placing.Advice, left []string,
) {
	t.Helper()
	for _, one := range left {
		rule, id, _ := strings.Cut(one, " ")
		if !slices.Contains(promised, rule) {
			continue
		}
		name := s.Rooms[site.RoomID(id)].Name
		if rule == "storey.detection" {
			name = s.Storeys[site.StoreyID(id)].Name
		}
		if !slices.ContainsFunc(a.Unmet, func(u placing.Unmet) bool { return strings.Contains(u.Need.String(), name) }) {
			t.Fatalf("still %s, with %d added of %d at least; open %v\n%v", one, len(a.Adds), a.AtLeast, a.Unmet, taken.Heads)
		}
	}
	if a.AtLeast < a.Surely || len(a.Adds) < a.AtLeast {
		t.Fatalf("%d added, %d of the places tried, %d surely", len(a.Adds), a.AtLeast, a.Surely)
	}
}

const dormitory = `
storeys: {g: {name: Ground, level: 0, ceiling: 2.5}}
rooms:
  H: {name: Dormitory, storey: g, outline: %s, sleeping: true, ambient: 30 dBA, decay: 0.5 s}
groups: {M: {link: wired}}
heads: {Z: {kind: heat, group: M, room: H, at: [1, 1, 2.5], level: 85 dBA}}
`

// The rooms in which six of 54 proposals once left a corner out of reach; each takes its place between two asked-for places.
func TestEveryCeilingIsCovered(t *testing.T) {
	for _, long := range []float64{8, 10.5, 12.3, 14.1, 16, 18.2, 20, 22.4, 25} {
		for _, wide := range []float64{3, 4.1, 5.3, 6.24, 7.7, 9} {
			s := read(t, fmt.Appendf(nil, dormitory, fmt.Sprintf("[[0, 0], [%v, 0], [%[1]v, %[2]v], [0, %[2]v]]", long, wide)))
			a := advise(t, s, placing.Options{})
			taken := after(t, s, a.Patch)
			kept(t, s, taken, a, rulesOf(t, taken))
			if len(a.Unmet) > 0 {
				t.Errorf("%v by %v m: open %v", long, wide, a.Unmet)
			}
		}
	}
}

// Worked by hand: at 5.6 and 16.8 m along the middle of 22.4 by 6.24 m each reaches its corners over sqrt(5.6^2 + 3.12^2) = 6.41 m,
// which counts as 6.4; one can not reach both ends.
func TestTwoDoWhereTwoDo(t *testing.T) {
	a := advise(t, read(t, fmt.Appendf(nil, dormitory, "[[0, 0], [22.4, 0], [22.4, 6.24], [0, 6.24]]")), placing.Options{})
	if len(a.Adds) != 2 || a.Surely != 2 || a.AtLeast != 2 {
		t.Errorf("%d added, at least %d, surely %d", len(a.Adds), a.AtLeast, a.Surely)
	}
}

// Rooms of many shapes with a hall: what is promised is kept.
func TestWhatIsPromisedIsKept(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		size := func(name string, low, high float64) float64 {
			return math.Round(rapid.Float64Range(low, high).Draw(r, name)*100) / 100
		}
		w, h := size("long", 2, 26), size("wide", 1.2, 12)
		x, y := math.Round(w*size("notch along", 0.2, 0.8)*100)/100, math.Round(h*size("notch across", 0.2, 0.8)*100)/100
		x2 := math.Round((x+(w-x)*0.6)*100) / 100
		outline := map[string]string{
			"plain":    fmt.Sprintf("[[0, 0], [%v, 0], [%[1]v, %[2]v], [0, %[2]v]]", w, h),
			"L":        fmt.Sprintf("[[0, 0], [%v, 0], [%[1]v, %[2]v], [%[3]v, %[2]v], [%[3]v, %[4]v], [0, %[4]v]]", w, y, x, h),
			"T":        fmt.Sprintf("[[0, 0], [%v, 0], [%[1]v, %[2]v], [%[3]v, %[2]v], [%[3]v, %[4]v], [%[5]v, %[4]v], [%[5]v, %[2]v], [0, %[2]v]]", w, y, x2, h, x),
			"triangle": fmt.Sprintf("[[0, 0], [%v, 0], [%v, %v]]", w, x, h),
		}[rapid.SampledFrom([]string{"plain", "L", "T", "triangle"}).Draw(r, "shape")]
		deep, use := size("hall", 0.9, 4), rapid.SampledFrom([]string{"hall", "corridor", "kitchen", "stair"}).Draw(r, "use")
		text := fmt.Sprintf(dormitory, outline) + fmt.Sprintf(`openings: {d: {kind: door, storey: g, at: [%v, 0], width: 0.9, rooms: [H, O]}}
`, math.Round(w*50)/100)
		text = strings.Replace(text, "groups:", fmt.Sprintf("  O: {name: Outer, storey: g, outline: [[0, %v], [%v, %[1]v], [%[2]v, 0], [0, 0]], use: %v}\ngroups:", -deep, w, use), 1)
		if rapid.Bool().Draw(r, "has one") {
			text = strings.Replace(text, "at: [1, 1, 2.5]", fmt.Sprintf("at: [%v, 0.4, 2.5]", math.Round(w*40)/100), 1)
			text = strings.Replace(text, "kind: heat", "kind: smoke", 1)
		}
		s := read(t, []byte(text))
		a := advise(t, s, placing.Options{})
		taken := s
		if a.Patch != nil {
			taken = after(t, s, a.Patch)
		}
		kept(r, s, taken, a, rulesOf(t, taken))
	})
}
