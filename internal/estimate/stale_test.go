package estimate

import (
	"math"
	"strings"
	"testing"

	"proofbell/internal/building"
	"proofbell/site"
)

// What a reading of the bedroom rests on is changed, one thing at a time; what it does not rest on is not missed.
func TestASoundReadingIsOutOfDateByWhatItRestsOn(t *testing.T) {
	// Beside twoRooms a far shed with an alarm of the group, some 40 dB less at the bed.
	text := twoRooms + "  far: {link: radio}\n"
	text = strings.NewReplacer("groups: {M: {link: wired}}\n  far: {link: radio}\n", "groups: {M: {link: wired}}\n",
		"rooms:\n", "rooms:\n  S: {name: Shed, storey: g, outline: [[20, 0], [24, 0], [24, 5], [20, 5]]}\n",
		"heads:\n", "heads:\n  M9: {kind: smoke, group: M, room: S, at: [22, 2.5, 2.5], level: 85 dBA}\n").Replace(text)
	then := soundOf(siteOf(t, text), SoundOptions{})
	for _, c := range []struct{ from, to, want string }{
		{"H, at: [2, 2.5, 2.5]", "H, at: [1, 2.5, 2.5]", "M1 changed"},
		{"M1: {kind: smoke, group: M, ", "M1: {kind: smoke, ", "M1"},
		{"2.5], level: 85 dBA}\ngroups", "2.5], level: 80 dBA}\ngroups", "M1 changed"},
		{"  M1: {kind: smoke, group: M, room: H, at: [2, 2.5, 2.5], level: 85 dBA}\n", "", "M1 no longer there"},
		{"  M1:", "  M2: {kind: smoke, group: M, room: B, at: [7, 2.5, 2.5], level: 85 dBA}\n  M1:", "M2 new"},
		{"material: leaf}", "material: wall}", "d changed"},
		{"Wall, soundLoss: 35", "Wall, soundLoss: 30", "w changed"},
		{"openings:\n", "openings:\n  e: {kind: door, storey: g, at: [4, 1], width: 0.8, rooms: [H, B], material: leaf}\n", "e new"},
		{"at: [9, 2.5]", "at: [8, 2.5]", "Bedroom, bed 1 changed"},
		{"decay: 0.5 s", "decay: 0.4 s", "Bedroom changed"},
		{"[10, 0], [10, 5]", "[9.5, 0], [9.5, 5]", "Bedroom changed"},
		// No change of what was measured.
		{"name: Bedroom", "name: Alder", ""},
		{"ambient: 30 dBA", "ambient: 40 dBA", ""},
		{"material: leaf}", "material: leaf, open: true}", ""},
		{"S, at: [22, 2.5, 2.5]", "S, at: [23, 2.5, 2.5]", ""},
	} {
		now := strings.Replace(text, c.from, c.to, 1)
		if now == text {
			t.Fatalf("%q is not in the site", c.from)
		}
		r := SoundReading{Room: "B", Bed: "1", Level: 90, Doors: Shut}
		r.Out = soundOf(siteOf(t, now), SoundOptions{}).Stale(then, r, r)
		if got := r.Out.String(); (got == "") != (c.want == "") || !strings.Contains(got, c.want) {
			t.Errorf("%q to %q: %q, want %q", c.from, c.to, got, c.want)
			continue
		}
		// Out of date it decides nothing, fits nothing, and is told.
		m := soundOf(siteOf(t, now), SoundOptions{Readings: []SoundReading{r, r, r}})
		if row := rowOf(t, m, "B", "1"); row.ByReading != (c.want == "") || c.want != "" && (row.Measured != nil || m.fit != nil || !strings.Contains(row.OutSay, "90 dBA were measured; out of date: ")) {
			t.Errorf("%q to %q: %+v", c.from, c.to, row)
		}
	}
}

func TestARadioReadingIsOutOfDateByWhatItRestsOn(t *testing.T) {
	const text = `
storeys: {g: {name: Ground, level: 0, ceiling: 2.5}}
materials: {wall: {name: Wall, as: stud-wall}, stone: {name: Stone, radioLoss: 20 dB}}
rooms:
  H: {name: Hall, storey: g, outline: [[0, 0], [4, 0], [4, 5], [0, 5]]}
  B: {name: Bedroom, storey: g, outline: [[4, 0], [10, 0], [10, 5], [4, 5]]}
walls: {w: {storey: g, from: [4, 0], to: [4, 5], thickness: 0.1, material: wall}}
panel: {room: H, at: [1, 2.5, 1.0], radio: {frequency: 868 MHz, sensitivity: -105 dBm, antenna: 0 dBi}}
models: {sm: {name: Smoke, class: smoke, link: radio, transmitPower: 10 dBm, antenna: 0 dBi}}
devices: {s: {model: sm, room: B, at: [8, 2.5, 1.0], identity: A}, o: {model: sm, room: B, at: [8, 4.5, 1.0]}}
`
	of := func(text string) *Radio { s := siteOf(t, text); return RadioOf(s, building.Of(s), RadioTold{}) }
	then := of(text)
	for _, c := range []struct{ from, to, want string }{
		{"at: [8, 2.5, 1.0]", "at: [9, 2.5, 1.0]", "Smoke s changed"},
		{"identity: A", "identity: B", "s changed"},
		{"at: [1, 2.5, 1.0]", "at: [1, 2.5, 1.5]", "the panel changed"},
		{"thickness: 0.1, material: wall", "thickness: 0.1, material: stone", "wall w changed"},
		{"walls: {", "walls: {v: {storey: g, from: [6, 0], to: [6, 5], thickness: 0.1, material: wall}, ", "wall v new"},
		{"at: [8, 4.5, 1.0]", "at: [7, 4.5, 1.0]", ""},
		{", identity: A", "", ""},
		{"name: Bedroom", "name: Alder", ""},
	} {
		now := of(strings.Replace(text, c.from, c.to, 1))
		l := RadioLevel{Device: "s", DBm: -104}
		l.Out = now.Stale(then, l)
		loss := now.StaleLoss(then, "s")
		for _, got := range []string{l.Out.String(), loss.String()} {
			if (got == "") != (c.want == "") || !strings.Contains(got, c.want) {
				t.Errorf("%q to %q: %q, want %q", c.from, c.to, got, c.want)
			}
		}
		r := RadioOf(now.site, now.b, RadioTold{Levels: []RadioLevel{l}})
		for _, link := range r.Links {
			if link.Device == site.DeviceID("s") && (link.Measured == nil) != (c.want != "") {
				t.Errorf("%q to %q: measured %v, margin %v", c.from, c.to, link.Measured, math.Round(link.Margin))
			}
		}
	}
}
