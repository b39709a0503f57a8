package estimate

import "proofbell/site"

// Heard is how loud one sounder arrives at a bed, or in a room as a whole without one, in dBA, and how uncertain that is.
// pointer is its JSON pointer, of the set it is one of. ok is false for what does not sound, for rooms without an outline, and
// for what stands alone or sounds for something else than a fire.
func (m *Sound) Heard(of, pointer string, room site.RoomID, bed site.BedID) (dBA, uncertainty float64, ok bool) {
	i, placed := m.b.RoomOf(room)
	if !placed {
		return 0, 0, false
	}
	for _, set := range m.sets {
		for _, k := range set.of {
			if set.pointer == of && m.reaches(set, i) && m.sounders[k].pointer == pointer {
				at := m.pillow(i, bed)
				return level(m.state.heard(m, k, at, i)), m.uncertainty(k, at, i), true
			}
		}
	}
	return 0, 0, false
}
