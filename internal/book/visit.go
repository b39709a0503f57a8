package book

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"proofbell/evidence"
	"proofbell/internal/words"
	"proofbell/site"
)

// VisitAct is what a VisitBody does.
type VisitAct string

// The acts of a visit. Append only.
const (
	VisitOpened VisitAct = "opened"
	VisitFound  VisitAct = "found"  // a defect or a remark
	VisitMended VisitAct = "mended" // a defect of this or an earlier visit is no more
	VisitDid    VisitAct = "did"    // something that falls due was done and no run proves it: VisitBody.What names it
	VisitClosed VisitAct = "closed"
)

// VisitReasons are the reasons of a visit. Append only.
var VisitReasons = []string{"planned", "call-out", "change", "takeover", "other"}

// FoundSeverities say how grave a defect is, gravest first.
var FoundSeverities = []string{"stop", "fix", "advise"}

// VisitBody is the body of a visit entry. Texts are personal and travel sealed as VisitPrivate. Visit may be left out:
// the open visit is meant; a did or a mended entry needs none.
type VisitBody struct {
	Act      VisitAct         `json:"act"`
	Visit    evidence.EntryID `json:"visit,omitempty"`
	Reason   string           `json:"reason,omitempty"`   // opened: one of VisitReasons
	Symptom  string           `json:"symptom,omitempty"`  // opened for a call-out: id in the table of symptoms
	About    string           `json:"about,omitempty"`    // opened, found: JSON pointer into the site, "/devices/hall-smoke"
	Severity string           `json:"severity,omitempty"` // found: one of FoundSeverities
	Found    evidence.EntryID `json:"found,omitempty"`    // mended: the entry that found it
	What     string           `json:"what,omitempty"`     // did: id of what was due
	Next     site.Date        `json:"next,omitzero"`      // closed: when the next visit is agreed for
}

// VisitPrivate is the text of a visit entry: what was found, how it was mended, what the visit came to.
type VisitPrivate struct {
	Text string `json:"text"`
}

// Visit is one visit to the premises. The runs of a visit are those opened between Opened and Closed.
type Visit struct {
	ID       evidence.EntryID
	Opened   time.Time
	By       evidence.PersonID
	Reason   string
	Symptom  string
	About    string
	Closed   time.Time // zero: it goes on
	ClosedBy evidence.PersonID
	Text     string // what it came to, said when it was closed
	Next     site.Date
}

// Found is something that a visit found.
type Found struct {
	Entry      evidence.EntryID
	Visit      evidence.EntryID
	Severity   string
	About      string
	Text       string
	By         evidence.PersonID
	At         time.Time
	Mended     time.Time // zero: it still stands
	MendedBy   evidence.PersonID
	MendedText string
}

// Did says that something which falls due was done.
type Did struct {
	Entry evidence.EntryID
	Visit evidence.EntryID // empty: outside of a visit
	What  string
	By    evidence.PersonID
	At    time.Time
}

// OpenVisit returns the visit that goes on, or nil. There is at most one.
func (s *State) OpenVisit() *Visit {
	for i := range slices.Backward(s.Visits) {
		if s.Visits[i].Closed.IsZero() {
			return &s.Visits[i]
		}
	}
	return nil
}

// FoundBy returns what a visit found, oldest first.
func (s *State) FoundBy(visit evidence.EntryID) []Found {
	return slices.DeleteFunc(slices.Clone(s.Found), func(f Found) bool { return f.Visit != visit })
}

func (s *State) useVisit(e evidence.Entry, private json.RawMessage) words.Text {
	var b VisitBody
	var p VisitPrivate
	if err := errors.Join(json.Unmarshal(e.Body, &b), unmarshal(private, &p)); err != nil {
		return s.trouble(e, words.Said(err))
	}
	visit := b.Visit
	if open := s.OpenVisit(); visit == "" && open != nil {
		visit = open.ID
	}
	at := slices.IndexFunc(s.Visits, func(v Visit) bool { return v.ID == visit })
	switch b.Act {
	case VisitOpened:
		if s.OpenVisit() != nil {
			return s.trouble(e, words.Later("a visit is open already: close it first"))
		}
		s.Visits = append(s.Visits, Visit{ID: e.ID, Opened: e.At.Time, By: e.By, Reason: b.Reason, Symptom: b.Symptom, About: b.About})
		return words.Later("Began a visit: %s", words.Marked(b.Reason))
	case VisitClosed:
		if at < 0 || !s.Visits[at].Closed.IsZero() {
			return s.trouble(e, words.Later("no visit is open"))
		}
		v := s.Visits[at]
		v.Closed, v.ClosedBy, v.Text, v.Next = e.At.Time, e.By, p.Text, b.Next
		s.Visits = slices.Clone(s.Visits)
		s.Visits[at] = v
		if b.Next.IsZero() {
			return words.Later("Ended the visit")
		}
		return words.Later("Ended the visit, next %s", b.Next)
	case VisitFound:
		if at < 0 {
			return s.trouble(e, words.Later("no visit is open: begin one first"))
		}
		s.Found = append(s.Found, Found{Entry: e.ID, Visit: visit, Severity: b.Severity, About: b.About, Text: p.Text, By: e.By, At: e.At.Time})
		return words.Later("Found (%s): %s", words.Marked(severities[b.Severity]), p.Text)
	case VisitMended:
		i := slices.IndexFunc(s.Found, func(f Found) bool { return f.Entry == b.Found })
		if i < 0 {
			return s.trouble(e, words.Later("what was mended is not in this book"))
		}
		s.Found = slices.Clone(s.Found)
		s.Found[i].Mended, s.Found[i].MendedBy, s.Found[i].MendedText = e.At.Time, e.By, p.Text
		return words.Later("Mended: %s", s.Found[i].Text)
	case VisitDid:
		s.Did = append(s.Did, Did{Entry: e.ID, Visit: visit, What: b.What, By: e.By, At: e.At.Time})
		return words.Later("Done: %s", words.Marked(b.What))
	}
	return words.Later("Entry of a visit of a kind that this version does not know: %s", string(b.Act))
}

// checkVisit says whether a visit's body is well formed.
func checkVisit(raw json.RawMessage) error {
	var b VisitBody
	if err := strict(raw, &b); err != nil {
		return err
	}
	switch {
	case b.Act == VisitOpened && !slices.Contains(VisitReasons, b.Reason):
		return fmt.Errorf("a visit can not be opened for %q: one of %v", b.Reason, VisitReasons)
	case b.Act == VisitFound && !slices.Contains(FoundSeverities, b.Severity):
		return fmt.Errorf("severity %q: one of %v", b.Severity, FoundSeverities)
	case b.Act == VisitMended && b.Found == "":
		return errors.New("mended names no entry in found")
	case b.Act == VisitDid && b.What == "":
		return errors.New("did names nothing in what")
	}
	return nil
}
