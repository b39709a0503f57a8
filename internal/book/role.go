package book

import (
	"encoding/json"

	"proofbell/evidence"
	"proofbell/internal/words"
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

// May says why somebody in this role may not write such an entry, as a sentence to be said with words.Language.Say; ""
// when they may. private is the opened sealed part of an edit, nil when there is none. The zero Role may nothing.
func (r Role) May(kind evidence.Kind, body, private json.RawMessage) string {
	switch {
	case r == Lead:
		return ""
	case r != Helper:
		return words.Mark("This device has no role here.")
	}
	switch kind {
	case evidence.KindTick, evidence.KindNote, evidence.KindReading, evidence.KindBlob, evidence.KindPutback:
		return ""
	case evidence.KindEdit:
		if addsPerson(body, private) {
			return ""
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

// addsPerson reports whether an edit does nothing but name one person, so that whoever helps can say who is at work.
func addsPerson(body, private json.RawMessage) bool {
	var edit EditBody
	if json.Unmarshal(body, &edit) != nil || edit.Undo != "" {
		return false
	}
	if len(edit.Patch) > 0 {
		if tree, err := parseTree(edit.Patch); err != nil || len(tree) > 0 {
			return false
		}
	}
	var sealed EditPrivate
	if json.Unmarshal(private, &sealed) != nil {
		return false
	}
	tree, err := parseTree(sealed.Patch)
	if err != nil || len(tree) != 1 {
		return false
	}
	people, ok := tree["people"].(map[string]any)
	if !ok || len(people) != 1 {
		return false
	}
	for _, person := range people {
		if _, ok := person.(map[string]any); !ok {
			return false // a deletion
		}
	}
	return true
}
