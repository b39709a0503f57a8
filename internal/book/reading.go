package book

import (
	"cmp"
	"reflect"
	"slices"

	"proofbell/evidence"
	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/site"
)

// takenAway is a reading that an entry withdrew.
type takenAway struct {
	by evidence.EntryID
	Reading
}

// withdraw takes a reading away; what names the entry of a withdrawal puts that reading back where it was.
func (s *State) withdraw(by evidence.EntryID, b ReadingBody) words.Text {
	for i, t := range s.taken {
		if t.by == b.Withdrawn {
			s.taken = slices.Delete(slices.Clone(s.taken), i, i+1)
			s.Readings = append(slices.Clone(s.Readings), t.Reading)
			sorts.Stable(s.Readings, func(a, b Reading) int { return cmp.Compare(a.order, b.order) })
			return words.Later("Put back a reading: %s", words.Marked(b.What))
		}
	}
	for i, r := range s.Readings {
		if r.Entry == b.Withdrawn {
			s.taken = append(slices.Clip(s.taken), takenAway{by, r})
			s.Readings = slices.Delete(slices.Clone(s.Readings), i, i+1)
			break
		}
	}
	return words.Later("Withdrew a reading: %s", words.Marked(b.What))
}

// seenBy is the site as the writer of an entry knew it: what others changed after the newest entry that the writer had seen is
// taken back where it still stands. Whoever measures with no signal measured that building, in whatever order the entries come.
func (s *State) seenBy(e evidence.Entry) *site.Site {
	s.sync()
	next := newDraft(s.tree, s.trail)
	unseen := false
	for _, l := range slices.Backward(s.Log) {
		if l.Seq != 0 && l.Seq <= e.Base {
			break
		}
		if l.Seq == 0 || l.Kind != evidence.KindEdit || l.By == e.By {
			continue
		}
		for _, a := range slices.Backward(s.edits[l.ID].done) {
			if now, _ := get(next.tree, split(a.pointer)); reflect.DeepEqual(now, a.after) {
				next.set(assignment{pointer: a.pointer, after: a.before}, change{})
				unseen = true
			}
		}
	}
	if unseen {
		if typed, err := decodeSite(next.tree); err == nil { // types hold leaf by leaf, as in applyEdit
			return typed
		}
	}
	return s.Site
}
