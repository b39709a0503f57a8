package book

import (
	"encoding/json"
	"slices"

	"proofbell/evidence"
	"proofbell/internal/prove"
	"proofbell/internal/words"
	"proofbell/site"
)

// Role is what a person at a device may do to a job.
type Role string

// The roles. A lead may do everything; a helper sees everything and adds what was done and seen: ticks, things put back,
// notes, readings and photographs.
const (
	Lead   Role = "lead"
	Helper Role = "helper"
)

// Valid reports whether r is one of the two.
func (r Role) Valid() bool { return r == Lead || r == Helper }

// May says why the person by may not write such an entry in this role, as a sentence to be said with words.Language.Say;
// "" when they may. s is the job as it stands; private is the opened sealed part of an edit, nil when there is none. The
// zero Role may nothing.
func (r Role) May(s *State, by evidence.PersonID, kind evidence.Kind, body, private json.RawMessage) string {
	switch {
	case r == Lead:
		return ""
	case r != Helper:
		return words.Mark("This device has no role here.")
	}
	switch kind {
	case evidence.KindNote, evidence.KindReading, evidence.KindPutback, evidence.KindPractice:
		return ""
	case evidence.KindTick, evidence.KindBlob:
		if s.takesFromAnother(by, kind, body) {
			return words.Mark("A helper takes back only what they added themselves: the lead does the rest.")
		}
		return ""
	case evidence.KindEdit:
		id, ok := addsPerson(body, private)
		if _, known := s.Site.People[site.PersonID(id)]; ok && (!known || id == string(by)) {
			return ""
		}
		if ok {
			return words.Mark("A helper does not change who somebody else is: the lead does.")
		}
		return words.Mark("A helper does not change the building, the zones or the panel: the lead does.")
	case evidence.KindRun:
		return words.Mark("A helper does not open or close a run: the lead does.")
	case evidence.KindOnTest:
		return words.Mark("A helper does not put the account on test or take it off: the lead does.")
	case evidence.KindReadback:
		return words.Mark("A helper does not write down what the station says: the lead does.")
	}
	return words.Mark("A helper does not do this: the lead does.")
}

// takesFromAnother reports whether a tick or a file takes back what by did not write.
func (s *State) takesFromAnother(by evidence.PersonID, kind evidence.Kind, body json.RawMessage) bool {
	if kind == evidence.KindBlob {
		var b BlobBody
		if json.Unmarshal(body, &b) != nil || !b.Withdrawn {
			return false
		}
		return slices.ContainsFunc(s.Blobs, func(one Blob) bool { return one.Address == b.Address && one.About == b.About && one.By != by })
	}
	var b prove.TickBody
	if json.Unmarshal(body, &b) != nil || b.What != prove.Withdrawn {
		return false
	}
	// A tick that is not known yet may be anybody's.
	return !slices.ContainsFunc(s.Log, func(one Line) bool { return string(one.ID) == string(b.Of) && one.By == by })
}

// personMembers are what whoever helps may say of a person.
var personMembers = []string{"name", "firm", "role", "languages"}

// addsPerson returns the id of the person when an edit does nothing but name one, so that whoever helps can say who is at work.
func addsPerson(body, private json.RawMessage) (string, bool) {
	var edit EditBody
	if json.Unmarshal(body, &edit) != nil || edit.Undo != "" {
		return "", false
	}
	if len(edit.Patch) > 0 {
		if tree, err := parseTree(edit.Patch); err != nil || len(tree) > 0 {
			return "", false
		}
	}
	var sealed EditPrivate
	if json.Unmarshal(private, &sealed) != nil {
		return "", false
	}
	tree, err := parseTree(sealed.Patch)
	if err != nil || len(tree) != 1 {
		return "", false
	}
	people, ok := tree["people"].(map[string]any)
	if !ok || len(people) != 1 {
		return "", false
	}
	for id, person := range people {
		members, ok := person.(map[string]any)
		if !ok || members["name"] == nil {
			return "", false // a deletion, or nobody
		}
		for member, value := range members {
			if value == nil || !slices.Contains(personMembers, member) {
				return "", false
			}
		}
		return id, true
	}
	return "", false
}
