package estimate

import (
	"proofbell/acoustics"
	"proofbell/site"
)

// Heard is how what sounds together for a fire is heard at one place.
type Heard struct {
	Set     string // JSON pointer: of a group, of the panel, or of an alarm that stands alone
	Alone   bool   // it sounds for the fire in its own room only
	Room    site.RoomID
	Verdict Verdict
	Needs   string // JSON pointer of the sounder without which too little might be left; empty: of none, or not known
}

// HeardAt is how each set that sounds for a fire is heard at a bed, or in a room; what stands alone only in its own room.
func (m *Sound) HeardAt(need SoundNeed, id site.RoomID, bed site.BedID) []Heard {
	row := SoundRow{Sleeping: Sleeps(m.s.Rooms[id])}
	w := &rowWriter{m: m, row: &row}
	w.required(m.s.Rooms[id], need)
	room, placed := m.b.RoomOf(id)
	var out []Heard
	for _, set := range m.sets {
		if !set.fire || set.alone && (!placed || m.sounders[set.of[0]].room != room) {
			continue
		}
		one := Heard{Set: set.pointer, Alone: set.alone, Room: id, Verdict: NotDetermined}
		if placed && row.Required != nil {
			at := m.pillow(room, bed)
			energy, which, _ := m.state.together(m, set, at, room, -1)
			l, u := 0.0, float64(acoustics.Uncertainty(2))
			if which >= 0 {
				l, u = level(energy), m.uncertainty(which, at, room)
			}
			one.Verdict = Judge(published(l-*row.Required), u)
			got := arrival{set: set, which: which, level: l, uncertainty: u}
			if one.Verdict != Enough && (len(m.gaps(room)) > 0 || len(m.hides(got, at, room, *row.Required)) > 0) {
				one.Verdict = NotDetermined
			}
			if which >= 0 && one.Verdict != TooLittle {
				energy, next, _ := m.state.together(m, set, at, room, which)
				if next < 0 || Judge(published(level(energy)-*row.Required), m.uncertainty(next, at, room)) != Enough {
					one.Needs = m.sounders[which].pointer
				}
			}
		}
		out = append(out, one)
	}
	return out
}
