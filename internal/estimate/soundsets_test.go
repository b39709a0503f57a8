package estimate

import (
	"math"
	"strings"
	"testing"
)

// A panel that nothing sets off for a fire: its siren in the bedroom wakes nobody, and the lone alarm of the hall is what is heard, with
// 67.8 of 75 dBA (by hand, see TestTwoRoomsByHand).
func TestASirenForBurglarsWakesNobody(t *testing.T) {
	lone := strings.NewReplacer("group: M, ", "", "groups: {M: {link: wired}}", "").Replace(twoRooms)
	panel := func(class, zone string) string {
		return `
models: {s: {name: Siren, class: sounder, level: 100 dBA}, c: {name: Contact, class: ` + class + `}}
devices: {x: {model: s, room: B, at: [7, 2.5, 2.5]}, c: {model: c, room: H}}
zones: {"1": {device: c` + zone + `}}
`
	}
	s := siteOf(t, lone+panel("contact", ", kind: perimeter"))
	held678(t, s, "a siren for burglars")
	m := soundOf(s, SoundOptions{})
	if assumed, _ := m.Notes(nil); !strings.Contains(strings.Join(assumed, "|"), "Nothing sets the panel off for a fire") {
		t.Errorf("not told: %v", assumed)
	}
	if r := rowOf(t, m, "B", "1"); *r.AtMost < 110 {
		t.Errorf("at most %v dBA: the siren counts for the upper limit", *r.AtMost)
	}
	for _, fire := range []string{panel("smoke", ""), panel("call-point", ""), panel("contact", ", kind: smoke")} {
		if r := rowOf(t, soundOf(siteOf(t, lone+fire), SoundOptions{}), "B", "1"); r.Carries != "/devices/x" || r.Verdict != Enough {
			t.Errorf("%s: %s by %s", fire, r.Verdict, r.Carries)
		}
	}
}

// A bell box on the outer wall, higher than the ceiling: nothing is known of the roof between it and the bed.
func TestABellOutdoorsDoesNotSoundThroughTheRoof(t *testing.T) {
	text := twoRooms + `
models: {s: {name: Bell, class: sounder, level: 100 dBA}, b: {name: Bridge, class: bridge}}
devices: {x: {model: s, at: [9, 5.3, 4]}, b: {model: b, hears: M, room: H}}
zones: {"1": {device: b}}
`
	held678(t, siteOf(t, text), "a bell over the roof")
	// Low enough to sound through the outer wall: by hand, 2.844 m (0.5 along, 2.8 beside, 0.1 m up), 117.52 + 10 log(2 / (4 pi 8.1)) - 45 = 55.5 dBA.
	low := strings.Replace(text, "at: [9, 5.3, 4]", "at: [9.5, 5.3, 0.7]", 1)
	m := soundOf(siteOf(t, low), SoundOptions{})
	room, _ := m.b.RoomOf("B")
	bed := m.pillow(room, "1")
	for i, one := range m.sounders {
		if one.pointer == "/devices/x" {
			if l := level(m.state.heard(m, i, bed, room)); math.Abs(l-55.5) > 0.051 {
				t.Errorf("through the wall: %v dBA", l)
			}
		}
	}
}

func TestAReadingOfACOAlarmIsNoneOfAFire(t *testing.T) {
	read := SoundOptions{Readings: []SoundReading{{Room: "B", Bed: "1", Level: 85, Doors: Shut}}}
	if r := rowOf(t, soundOf(siteOf(t, strings.Replace(twoRooms, "kind: smoke", "kind: co", 1)), read), "B", "1"); r.Measured != nil || r.Verdict != NotDetermined {
		t.Errorf("%s by %v", r.Verdict, r.Measured)
	}
	// It still stands where the bedroom has no outline, and where no sounder has a level or a place.
	for _, text := range []string{
		strings.Replace(twoRooms, "outline: [[4, 0], [10, 0], [10, 5], [4, 5]], ", "", 1),
		strings.Replace(twoRooms, "room: H, at: [2, 2.5, 2.5], ", "", 1),
	} {
		if r := rowOf(t, soundOf(siteOf(t, text), read), "B", "1"); r.Measured == nil || r.Verdict != Enough {
			t.Errorf("%s: %s by %v", text, r.Verdict, r.Measured)
		}
	}
}

// The alarm is said to hang in the bedroom and drawn in the hall: it is not known where it hangs.
func TestAnAlarmDrawnOutsideOfItsRoomCountsForNothing(t *testing.T) {
	m := soundOf(siteOf(t, strings.Replace(twoRooms, "room: H, at", "room: B, at", 1)), SoundOptions{})
	_, missing := m.Notes(nil)
	if r := rowOf(t, m, "B", "1"); r.Verdict != NotDetermined || !strings.Contains(strings.Join(missing, "|"), "M1: it is drawn outside of its room, Bedroom") {
		t.Errorf("%s %v, missing %v", r.Verdict, r.Level, missing)
	}
	// On the wall between the two it hangs in either.
	m = soundOf(siteOf(t, strings.Replace(twoRooms, "room: H, at: [2,", "room: B, at: [3.9,", 1)), SoundOptions{})
	if r := rowOf(t, m, "B", "1"); r.Verdict != Enough {
		t.Errorf("on the wall: %s", r.Verdict)
	}
}

// A bedroom behind a lobby: what the wall between hall and lobby takes off is not known. The alarm in the hall may be heard or
// not; what is not known of a cupboard beside the lobby changes nothing.
func TestWhatIsNotKnownFartherOff(t *testing.T) {
	const text = `
storeys: {g: {name: Ground, level: 0, ceiling: 2.5}}
materials: {odd: {name: Odd wall}, leaf: {name: Leaf, soundLoss: 12 dB}, wall: {name: Wall, soundLoss: 35 dB}}
rooms:
  H: {name: Hall, storey: g, outline: [[0, 0], [4, 0], [4, 5], [0, 5]], use: hall}
  L: {name: Lobby, storey: g, outline: [[4, 0], [6, 0], [6, 5], [4, 5]], use: hall}
  B: {name: Bedroom, storey: g, outline: [[6, 0], [10, 0], [10, 5], [6, 5]], use: bedroom}
  C: {name: Cupboard, storey: g, outline: [[4, 5], [6, 5], [6, 6], [4, 6]], use: store}
walls:
  a: {storey: g, from: [4, 0], to: [4, 5], thickness: 0.1, material: FIRST}
  b: {storey: g, from: [6, 0], to: [6, 5], thickness: 0.1, material: wall}
  c: {storey: g, from: [4, 5], to: [6, 5], thickness: 0.1, material: LAST}
openings: {d: {kind: door, storey: g, at: [6, 2.5], width: 0.9, rooms: [L, B], material: leaf}}
heads: {M1: {kind: smoke, group: M, room: H, at: [2, 2.5, 2.5], level: 85 dBA}}
groups: {M: {link: wired}}
`
	r := rowOf(t, soundOf(siteOf(t, strings.NewReplacer("FIRST", "odd", "LAST", "wall").Replace(text)), SoundOptions{}), "B", "")
	if r.Verdict != NotDetermined || strings.Join(r.Missing, "|") != "Hall / Lobby" && strings.Join(r.Missing, "|") != "Lobby / Hall" {
		t.Errorf("behind a wall that is not known: %s, missing %v", r.Verdict, r.Missing)
	}
	r = rowOf(t, soundOf(siteOf(t, strings.NewReplacer("FIRST", "wall", "LAST", "odd").Replace(text)), SoundOptions{}), "B", "")
	if r.Verdict != TooLittle || len(r.Missing) > 0 {
		t.Errorf("beside a cupboard: %s, missing %v", r.Verdict, r.Missing)
	}
}

// Each reading stands in where the doors are asked for as they stood.
func TestAReadingStandsInForItsDoors(t *testing.T) {
	read := []SoundReading{{Room: "B", Bed: "1", Level: 60, Doors: Shut}, {Room: "B", Bed: "1", Level: 80, Doors: Open}}
	for doors, want := range map[Doors]float64{Shut: 60, Open: 80} {
		if r := rowOf(t, soundOf(siteOf(t, twoRooms), SoundOptions{Doors: doors, Readings: read}), "B", "1"); r.Measured == nil || *r.Measured != want {
			t.Errorf("doors %s: %v", doors, r.Measured)
		}
	}
	if r := rowOf(t, soundOf(siteOf(t, twoRooms), SoundOptions{Doors: AsDrawn, Readings: read}), "B", "1"); r.Measured != nil {
		t.Errorf("as drawn: %v", *r.Measured)
	}
}

// Losses are often written with a minus: such a wall is no hole, and no amplifier.
func TestALossBelowZeroIsNotDetermined(t *testing.T) {
	r := rowOf(t, soundOf(siteOf(t, strings.Replace(twoRooms, "soundLoss: 35 dB", "soundLoss: -35 dB", 1)), SoundOptions{}), "B", "1")
	if r.Verdict != NotDetermined || len(r.Missing) == 0 {
		t.Errorf("sound: %s %v, missing %v", r.Verdict, r.Level, r.Missing)
	}
	l := linkOf(t, RadioOf(readSite(t, []byte(ways), `{"materials":{"light":{"radioLoss":"-20 dB"}}}`), nil, RadioTold{}), "s")
	if l.Verdict != NotDetermined || len(l.Missing) == 0 {
		t.Errorf("radio: %s %v, missing %v", l.Verdict, l.Margin, l.Missing)
	}
	if wanted := RadioOf(readSite(t, []byte(ways), `{"panel":{"radio":{"wantedMargin":"-15 dB"}}}`), nil, RadioTold{}).Wanted; wanted != 15 {
		t.Errorf("wanted %v dB", wanted)
	}
}
