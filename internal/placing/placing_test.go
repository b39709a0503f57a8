package placing_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"proofbell/demo"
	"proofbell/internal/placing"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/rules"
	"proofbell/site"
)

var day = time.Date(2026, 9, 15, 0, 0, 0, 0, time.UTC)

func read(t *testing.T, text []byte, patches ...string) *site.Site {
	t.Helper()
	s, err := site.DecodeYAML("site.yaml", text)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range patches {
		s = after(t, s, site.Patch(p))
	}
	return s
}

func after(t *testing.T, s *site.Site, p site.Patch) *site.Site {
	t.Helper()
	text, err := site.EncodeJSON(s)
	if err != nil {
		t.Fatal(err)
	}
	if text, err = site.Apply(text, p); err != nil {
		t.Fatal(err)
	}
	if s, err = site.DecodeJSON("after.json", text); err != nil {
		t.Fatal(err)
	}
	return s
}

func advise(t *testing.T, s *site.Site, o placing.Options) placing.Advice {
	t.Helper()
	profile, err := panel.Builtin("ladder")
	if err != nil {
		t.Fatal(err)
	}
	a, err := placing.Advise(s, profile, day, o)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func rulesOf(t *testing.T, s *site.Site) []string {
	t.Helper()
	found, err := rules.Check(s, nil, day)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, f := range found {
		if !f.NotJudged {
			out = append(out, f.Rule+" "+f.Places[0].ID)
		}
	}
	return out
}

func rooms(a placing.Advice) (out []string) {
	for _, one := range a.Adds {
		out = append(out, string(one.Room))
	}
	slices.Sort(out)
	return out
}

// The draft of the mill lacks smoke detection in the owner's flat and beside the panel, and the west end of the corridor is
// 8 m from the next: three places, and no two of them can be one.
func TestDraftOfTheMill(t *testing.T) {
	s := read(t, demo.Draft)
	a := advise(t, s, placing.Options{})
	if got := rooms(a); !slices.Equal(got, []string{"F1", "F7", "G6"}) || a.Surely != 3 || a.AtLeast != 3 || len(a.Unmet) != 0 {
		t.Fatalf("in %v, at least %d, unmet %v", got, a.AtLeast, a.Unmet)
	}
	had := rulesOf(t, s)
	has := rulesOf(t, after(t, s, a.Patch))
	for _, rule := range []string{"sleep.detection F7", "panel.detection G6", "smoke.coverage F1"} {
		if !slices.Contains(had, rule) || slices.Contains(has, rule) {
			t.Errorf("%s: found before %v, after %v", rule, slices.Contains(had, rule), slices.Contains(has, rule))
		}
	}
	if len(a.Brought) != 0 || len(a.Cured) < 3 {
		t.Errorf("brings %v, cures %d", a.Brought, len(a.Cured))
	}
	for _, one := range a.Adds {
		if !math.IsNaN(one.Margin) || len(one.Why) == 0 || !strings.HasPrefix(one.Pointer, "/heads/M1") {
			t.Errorf("%+v", one)
		}
		// Each alone is a patch of its own.
		id := site.HeadID(strings.TrimPrefix(one.Pointer, "/heads/"))
		if h := after(t, s, one.Patch).Heads[id]; h.Group != "M" || h.Room != one.Room || h.Level.String() != "85 dBA" {
			t.Errorf("%s became %+v", one.Pointer, h)
		}
	}
	// With all of them there is nothing left to add.
	if again := advise(t, after(t, s, a.Patch), placing.Options{}); len(again.Adds) != 0 {
		t.Errorf("then still %v", rooms(again))
	}
}

func TestDetectorsNeedTheirMarginAndTheirLevel(t *testing.T) {
	s := read(t, demo.Draft)
	a := advise(t, s, placing.Options{With: placing.Detectors})
	if got := rooms(a); !slices.Equal(got, []string{"F1", "F7", "G6"}) {
		t.Errorf("in %v", got)
	}
	for _, one := range a.Adds {
		if !(one.Margin >= 15) {
			t.Errorf("%s has a margin of %v dB", one.Pointer, one.Margin)
		}
	}
	// A detector sounds for the fire in its own room only: the pillow of the flat stays open, and it is said why.
	if len(a.Unmet) != 1 || !strings.Contains(a.Unmet[0].Why.In(nil), "its own room only") {
		t.Errorf("unmet %v", a.Unmet)
	}
	if german := a.Unmet[0].Why.In(words.In("de")); strings.Contains(german, "its own") {
		t.Error(german)
	}
	a = advise(t, read(t, demo.Draft, `{"models":{"smoke-sounder":{"level":"85 dBA","tone":"3.1 kHz"}}}`), placing.Options{With: placing.Detectors})
	if len(a.Unmet) != 1 || len(a.Adds) != 3 {
		t.Errorf("with a level: %d added, unmet %v", len(a.Adds), a.Unmet)
	}
	// A wanted margin that no place has.
	a = advise(t, read(t, demo.Draft, `{"panel":{"radio":{"wantedMargin":"90 dB"}}}`), placing.Options{With: placing.Detectors})
	if len(a.Adds) != 0 || len(a.Unmet) == 0 || !strings.Contains(a.Unmet[0].Why.In(nil), "radio margin") {
		t.Errorf("with 90 dB wanted: %v, unmet %v", rooms(a), a.Unmet)
	}
}

// A house with nothing in it: one alarm in each of two bedrooms, one outside both doors, and that is all one storey needs.
func TestEmptyHouse(t *testing.T) {
	house := `
storeys: {g: {name: Ground floor, level: 0, ceiling: 2.5}}
rooms:
  H: {name: Hall, storey: g, outline: [[0, 0], [8, 0], [8, 2], [0, 2]], use: hall}
  A: {name: East, storey: g, outline: [[0, 2], [4, 2], [4, 6], [0, 6]], use: bedroom, ambient: 35 dBA}
  B: {name: West, storey: g, outline: [[4, 2], [8, 2], [8, 6], [4, 6]], use: bedroom, ambient: 35 dBA}
openings:
  a: {kind: door, storey: g, at: [2, 2], width: 0.8, rooms: [A, H]}
  b: {kind: door, storey: g, at: [6, 2], width: 0.8, rooms: [B, H]}
`
	a := advise(t, read(t, []byte(house)), placing.Options{})
	if got := rooms(a); !slices.Equal(got, []string{"A", "B", "H"}) || a.Surely != 3 || len(a.Unmet) != 0 {
		t.Fatalf("in %v, at least %d, unmet %v", got, a.AtLeast, a.Unmet)
	}
	if len(a.Assumed) == 0 {
		t.Error("the walls were assumed and it was not said")
	}
	s := after(t, read(t, []byte(house)), a.Patch)
	if len(s.Groups) != 1 || len(s.Heads) != 3 {
		t.Errorf("%d groups, %d heads", len(s.Groups), len(s.Heads))
	}
	for _, rule := range rulesOf(t, s) {
		if strings.HasPrefix(rule, "sleep.") || strings.HasPrefix(rule, "storey.") || strings.HasPrefix(rule, "smoke.") {
			t.Errorf("then still %s", rule)
		}
	}
	// Without a place for smoke detection outside: the hall is a workshop full of dust.
	a = advise(t, read(t, []byte(strings.Replace(house, "use: hall", "use: workshop, hazards: [dust]", 1))), placing.Options{})
	if got := rooms(a); !slices.Equal(got, []string{"A", "B"}) || len(a.Unmet) != 2 {
		t.Errorf("in %v, unmet %v", got, a.Unmet)
	}
	// Without models there is no detector to add.
	a = advise(t, read(t, []byte(house)), placing.Options{With: placing.Detectors})
	if len(a.Adds) != 0 || len(a.Unmet) != 1 {
		t.Errorf("%v", a)
	}
	// An empty site needs nothing, and nothing fails.
	if a = advise(t, read(t, nil), placing.Options{}); len(a.Adds) != 0 {
		t.Errorf("%v", a)
	}
}
