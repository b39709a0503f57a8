package book

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"proofbell/evidence"
	"proofbell/internal/words"
	"proofbell/site"
)

// PracticeAct is what a PracticeBody does.
type PracticeAct string

// The acts of practice with planted mistakes. Append only.
const (
	PracticeNamed     PracticeAct = "named"     // a fault was named
	PracticeWithdrawn PracticeAct = "withdrawn" // and taken back
	PracticeRehearsed PracticeAct = "rehearsed" // keys were pressed at a simulated panel
	PracticeHanded    PracticeAct = "handed"    // handed in: from then on nothing is hidden
)

// PracticeBody is the body of a practice entry.
type PracticeBody struct {
	Act      PracticeAct      `json:"act"`
	Kind     string           `json:"kind,omitempty"`     // named: kind of the place, as findings have it: zone, head, setting
	ID       string           `json:"id,omitempty"`       // named: of the place
	What     string           `json:"what,omitempty"`     // named: what is wrong, by the list of sayings
	Of       evidence.EntryID `json:"of,omitempty"`       // withdrawn: the entry that named it
	Key      []string         `json:"key,omitempty"`      // handed: the planted findings
	Keys     int              `json:"keys,omitempty"`     // rehearsed: pressed
	Slips    int              `json:"slips,omitempty"`    // rehearsed: wrong ones among them
	Seconds  float64          `json:"seconds,omitempty"`  // rehearsed
	Right    int              `json:"right,omitempty"`    // rehearsed: zones stored as wanted
	Zones    int              `json:"zones,omitempty"`    // rehearsed: zones of the exercise
	AsWanted bool             `json:"asWanted,omitempty"` // rehearsed
}

// PracticeState is what a learner did so far.
type PracticeState struct {
	Given     *site.Site // the site as it was given out; nil: no mistakes are planted in this job
	Named     []Named    // faults named and not taken back, oldest first
	Rehearsed []PracticeBody
	Handed    time.Time // zero: not yet
	By        evidence.PersonID
	Key       []string // keys of the planted findings, once it was handed in
}

// Named is a fault that a learner named.
type Named struct {
	Entry          evidence.EntryID
	Kind, ID, What string
}

// Hides reports whether what the rules find is to be kept from whoever works on the job: it began as practice with planted
// mistakes, still says so, and was not handed in yet. A job that is worked on in earnest hides nothing.
func (s *State) Hides() bool {
	return s.Practice.Given != nil && s.Practice.Handed.IsZero() && s.Site.Practice && s.Site.Planted != nil
}

// givenOut keeps the site as it began, when mistakes are planted in it.
func (s *State) givenOut() {
	if s.sync(); s.Site.Practice && s.Site.Planted != nil {
		s.Practice.Given = s.Site
	}
}

// plants reports whether assignments say that mistakes are planted.
func plants(todo []assignment) bool {
	return slices.ContainsFunc(todo, func(a assignment) bool {
		return a.after != nil && (a.pointer == "/planted" || strings.HasPrefix(a.pointer, "/planted/"))
	})
}

func (s *State) usePractice(e evidence.Entry) words.Text {
	var b PracticeBody
	if err := json.Unmarshal(e.Body, &b); err != nil {
		return s.trouble(e, words.Said(err))
	}
	p := &s.Practice
	switch {
	case p.Given == nil:
		return s.trouble(e, words.Later("no mistakes are planted in this job"))
	case !p.Handed.IsZero():
		return s.trouble(e, words.Later("it was handed in already"))
	}
	switch b.Act {
	case PracticeNamed:
		p.Named = append(p.Named[:len(p.Named):len(p.Named)], Named{Entry: e.ID, Kind: b.Kind, ID: b.ID, What: b.What})
		return words.Later("Named a fault: %s", b.Kind+" "+b.ID)
	case PracticeWithdrawn:
		var left []Named
		for _, n := range p.Named {
			if n.Entry != b.Of {
				left = append(left, n)
			}
		}
		p.Named = left
		return words.Later("Took a named fault back")
	case PracticeRehearsed:
		p.Rehearsed = append(p.Rehearsed[:len(p.Rehearsed):len(p.Rehearsed)], b)
		return words.Later("Rehearsed: %d keys, %d of them wrong", b.Keys, b.Slips)
	case PracticeHanded:
		p.Handed, p.By, p.Key = e.At.Time, e.By, b.Key
		return words.Later("Handed the practice in")
	}
	return words.Later("Entry of practice of a kind that this version does not know: %s", string(b.Act))
}

// checkPractice says whether a practice body is well formed.
func checkPractice(raw json.RawMessage) error {
	var b PracticeBody
	if err := strict(raw, &b); err != nil {
		return err
	}
	switch {
	case b.Act == PracticeNamed && (b.Kind == "" || b.ID == "" || b.What == ""):
		return errors.New("practice: named needs kind, id and what")
	case b.Act == PracticeWithdrawn && b.Of == "":
		return errors.New("practice: withdrawn names no entry in of")
	case b.Act == PracticeHanded && len(b.Key) == 0:
		return errors.New("practice: handed brings no key")
	case len(b.Kind) > 64 || len(b.ID) > 200 || len(b.What) > 64 || len(b.Key) > 100:
		return errors.New("practice: a member is longer than it may be")
	case b.Keys < 0 || b.Slips < 0 || b.Seconds < 0 || b.Right < 0 || b.Zones < 0:
		return errors.New("practice: a count is negative")
	case b.Act != PracticeNamed && b.Act != PracticeWithdrawn && b.Act != PracticeRehearsed && b.Act != PracticeHanded:
		return fmt.Errorf("practice: act %q: want named, withdrawn, rehearsed or handed", b.Act)
	}
	return nil
}
