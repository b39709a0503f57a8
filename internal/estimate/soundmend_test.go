package estimate

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"proofbell/internal/building"
	"proofbell/site"
)

// In twoRooms the group arrives at the bed with 67.8 of 75 dBA (by hand, above).
func held678(t *testing.T, s *site.Site, why string) {
	t.Helper()
	r := rowOf(t, soundOf(s, SoundOptions{}), "B", "1")
	if math.Abs(*r.Level-67.8) > 0.051 || r.Verdict != TooLittle || r.Carries != "/heads/M1" {
		t.Errorf("%s: %s %v by %s", why, r.Verdict, *r.Level, r.Carries)
	}
}

func TestWhatSoundsForAnotherFireWakesNobody(t *testing.T) {
	beside := func(head string) *site.Site {
		return siteOf(t, strings.Replace(twoRooms, "heads:\n", "heads:\n  X: {"+head+", room: B, at: [7, 2.5, 2.5], level: 85 dBA}\n", 1))
	}
	detector := func(class, senses string) *site.Site {
		return siteOf(t, twoRooms+`
models: {d: {name: Detector, class: `+class+`, link: wired, selfSounding: true, level: 85 dBA, terminals: {A: {senses: `+senses+`}}}}
devices: {x: {model: d, room: B, at: [7, 2.5, 2.5]}}
`)
	}
	held678(t, beside("kind: smoke"), "a lone alarm in the bedroom")
	held678(t, beside("kind: co"), "a lone CO alarm")
	held678(t, beside("kind: co, group: M"), "a CO alarm of the group")
	held678(t, detector("smoke", "smoke"), "a detector with a sounder")
	held678(t, detector("co", "co"), "a CO detector with a sounder")

	// It is told beside what counts.
	r := rowOf(t, soundOf(beside("kind: smoke"), SoundOptions{}), "B", "1")
	told := false
	for _, term := range r.Terms {
		told = told || strings.HasPrefix(term.Name, "X, for a fire in this room only") && term.Value > 90
	}
	if !told {
		t.Errorf("the lone alarm is not told: %+v", r.Terms)
	}
}

// Two groups: the one in the bedroom is heard there, the one in the hall is not, and it may be the one that notices the fire.
func TestTheGroupHeardLeastDecides(t *testing.T) {
	s := siteOf(t, strings.NewReplacer("heads:\n", "heads:\n  N1: {kind: smoke, group: N, room: B, at: [7, 2.5, 2.5], level: 85 dBA}\n", "groups: {M", "groups: {N: {link: wired}, M").Replace(twoRooms))
	held678(t, s, "two groups")
	// A reading with all sounding does not say which group it was.
	m := soundOf(s, SoundOptions{Readings: []SoundReading{{Room: "B", Bed: "1", Level: 90, Doors: Shut}}})
	if r := rowOf(t, m, "B", "1"); r.Measured != nil || r.Verdict != TooLittle {
		t.Errorf("a reading of whichever group: %+v", r)
	}
	m = soundOf(s, SoundOptions{Readings: []SoundReading{{Room: "B", Bed: "1", Level: 80, Doors: Shut, Source: "/groups/M"}}})
	if r := rowOf(t, m, "B", "1"); r.Measured == nil || r.Verdict != Enough {
		t.Errorf("a reading of the group that decides: %+v", r)
	}
}

// Smoke detection of the panel's own sets off its sounders alone.
func TestThePanelsOwnDetectionHasToBeHeard(t *testing.T) {
	s := siteOf(t, strings.Replace(twoRooms, "room: H, at: [2, 2.5, 2.5]", "room: B, at: [7, 2.5, 2.5]", 1)+`
models:
  sounder: {name: Sounder, class: sounder, level: 85 dBA, tone: 520 Hz}
  bridge: {name: Bridge, class: bridge, terminals: {A: {senses: three-pulse}}}
  smoke: {name: Detector, class: smoke, terminals: {A: {senses: smoke}}}
devices:
  s: {model: sounder, room: H, at: [2, 2.5, 2.5]}
  b: {model: bridge, room: H, hears: M}
  d: {model: smoke, room: H}
zones: {"01": {device: b, terminal: A}, "02": {device: d, terminal: A}}
`)
	if r := rowOf(t, soundOf(s, SoundOptions{}), "B", "1"); math.Abs(*r.Level-67.8) > 0.051 || r.Carries != "/devices/s" {
		t.Errorf("%+v", r)
	}
}

// Three readings in the hall say little of the bedroom. By hand: at one place each, spread s of 98, 98.2, 97.8 is 0.2 dB, t of two
// is 4.303, one further reading of the same place lies within 4.303 x 0.2 x sqrt(1 + 1/3) = 0.99 dB: less than the floors.
func TestReadingsSayLittleOfWhereNobodyRead(t *testing.T) {
	s := siteOf(t, twoRooms)
	hall := []SoundReading{{Room: "H", Level: 98}, {Room: "H", Level: 98.2}, {Room: "H", Level: 97.8}}
	m := soundOf(s, SoundOptions{Readings: hall})
	if r := rowOf(t, m, "B", "1"); m.fit == nil || r.Uncertainty != 6 {
		t.Errorf("the bedroom after readings in the hall: ± %v", r.Uncertainty)
	}
	if r := rowOf(t, m, "H", ""); r.Uncertainty != 3 {
		t.Errorf("the hall: ± %v", r.Uncertainty)
	}
	same := SoundReading{Room: "B", Bed: "1", Level: 72}
	if r := rowOf(t, soundOf(s, SoundOptions{Readings: []SoundReading{same, same, same}}), "B", "1"); r.Uncertainty != 6 {
		t.Errorf("one reading typed three times: ± %v", r.Uncertainty)
	}
	// 60, 72 and 84 at one bed: s = 12, 4.303 x 12 x sqrt(4/3) = 59.6 dB.
	wild := []SoundReading{{Room: "B", Bed: "1", Level: 60}, same, {Room: "B", Bed: "1", Level: 84}}
	if r := rowOf(t, soundOf(s, SoundOptions{Readings: wild}), "B", "1"); math.Abs(r.Uncertainty-59.6) > 0.051 {
		t.Errorf("wild readings: ± %v", r.Uncertainty)
	}
}

func TestOnlyAReadingThereWithDoorsShutStandsIn(t *testing.T) {
	s := siteOf(t, strings.Replace(twoRooms, `, beds: {"1": {at: [9, 2.5]}}`, "", 1)+"models: {b: {name: B, class: bridge}}\ndevices: {b: {model: b, room: B, at: [7, 2.5]}}\n")
	b := building.Of(s)
	for _, c := range []struct {
		about, doors string
		stands       bool
	}{{"/devices/b", "shut", false}, {"/rooms/B", "", false}, {"/rooms/B", "open", false}, {"/rooms/B", "shut", true}} {
		one, ok := ReadSound(s, b, c.about, nil, 88, c.doors, "")
		r := rowOf(t, NewSound(s, b, SoundOptions{Readings: []SoundReading{one}}), "B", "")
		if !ok || (r.Measured != nil) != c.stands || (r.Verdict == Enough) != c.stands {
			t.Errorf("%+v: measured %v, %s", c, r.Measured, r.Verdict)
		}
		if c.stands && (*r.Margin != 13 || r.Uncertainty != 0 || !strings.Contains(r.Say, "88")) {
			t.Errorf("verdict and margin follow the meter: %+v", r)
		}
	}
	// A device without a height hangs at its ceiling.
	one, _ := ReadSound(s, b, "/devices/b", nil, 88, "", "")
	if fmt.Sprint(*one.At) != "{7 2.5 2.5}" {
		t.Errorf("at %v", *one.At)
	}
	// Upstairs, without a level of its own: 2.8 m by the building's floors.
	up := siteOf(t, `
storeys: {g: {name: Ground, level: 0, ceiling: 2.5}, u: {name: Upper, level: 2.8, ceiling: 2.5}}
rooms: {U: {name: Up, storey: u, outline: [[0, 0], [4, 0], [4, 5], [0, 5]]}}
`)
	one, _ = ReadSound(up, building.Of(up), "/rooms/U", []float64{1, 1}, 70, "", "")
	if math.Abs(one.At.Z-3.4) > 1e-9 {
		t.Errorf("upstairs at %v", *one.At)
	}
}
