package estimate

import "proofbell/site"

// Heard is how loud one sounder arrives at a bed, or in a room as a whole without one, in dBA, and how uncertain that is.
// pointer is its JSON pointer. ok is false for what does not sound, for rooms without an outline, and for an alarm that
// stands alone in another room.
func (m *Sound) Heard(pointer string, room site.RoomID, bed site.BedID) (dBA, uncertainty float64, ok bool) {
	i, placed := m.b.RoomOf(room)
	if !placed {
		return 0, 0, false
	}
	for _, set := range m.sets {
		for _, k := range set.of {
			if m.sounders[k].pointer == pointer && m.counts(set, i) {
				return level(m.state.heard(m, k, m.pillow(i, bed), i)), m.uncertainty(m.state.passed(k, i)), true
			}
		}
	}
	return 0, 0, false
}
