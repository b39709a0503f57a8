package book

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"proofbell/evidence"
	"proofbell/internal/words"
)

// Signed is a signature under a document.
type Signed struct {
	SignBody
	SignPrivate
	Entry evidence.EntryID
	Seq   int64 // 0: not yet ordered by the server
	Place int   // in the log, from 1
	By    evidence.PersonID
	At    time.Time
}

// Bounds of a signature.
const (
	mostStrokes = 200
	mostPoints  = 6000
	longestName = 200 // bytes
)

// SignAs lists those who sign.
var SignAs = []string{"technician", "owner"}

// tellsMore are the kinds of entry after which a document says something else, or rests on more.
var tellsMore = map[evidence.Kind]bool{
	evidence.KindEdit: true, evidence.KindAccept: true, evidence.KindRun: true, evidence.KindOnTest: true, evidence.KindSignal: true,
	evidence.KindReadback: true, evidence.KindTick: true, evidence.KindReading: true, evidence.KindPutback: true, evidence.KindBlob: true, evidence.KindVisit: true, evidence.KindProfile: true,
}

func checkSign(raw json.RawMessage) error {
	var b SignBody
	if err := strict(raw, &b); err != nil {
		return err
	}
	if b.What == "" || len(b.What) > 64 || !slices.Contains(SignAs, b.As) {
		return fmt.Errorf("sign: want what was signed, and as one of %s", strings.Join(SignAs, ", "))
	}
	return nil
}

func (s *State) useSign(e evidence.Entry, private json.RawMessage) words.Text {
	var b SignBody
	var p SignPrivate
	if err := errors.Join(json.Unmarshal(e.Body, &b), unmarshal(private, &p)); err != nil {
		return s.trouble(e, words.Said(err))
	}
	points := 0
	for _, stroke := range p.Strokes {
		points += len(stroke)
		for _, at := range stroke {
			if at[0] < 0 || at[0] > 1000 || at[1] < 0 || at[1] > 1000 {
				return s.trouble(e, words.Later("the signature leaves its pad"))
			}
		}
	}
	if len(p.Strokes) > mostStrokes || points > mostPoints || len(p.Name) > longestName {
		return s.trouble(e, words.Later("the signature is longer than any hand writes"))
	}
	s.Signed = append(s.Signed, Signed{SignBody: b, SignPrivate: p, Entry: e.ID, Seq: e.Seq, Place: len(s.Log) + 1, By: e.By, At: e.At.Time})
	return words.Later("Signed: %s", DocumentTitle(b.What))
}

// Signature returns the newest signature under a document that holds for the job as it stands: nothing that the document
// tells of has changed since. older reports that there is one, of an earlier state.
func (s *State) Signature(what, as string) (sig Signed, ok, older bool) {
	for _, x := range slices.Backward(s.Signed) {
		if x.What == what && x.As == as {
			return x, x.Place > s.Told, x.Place <= s.Told
		}
	}
	return Signed{}, false, false
}

// LastIssued returns the newest issue of a document.
func (s *State) LastIssued(what string) (Issued, bool) {
	for _, x := range slices.Backward(s.Issued) {
		if x.What == what {
			return x, true
		}
	}
	return Issued{}, false
}

// asIssued keeps the job as a document told of it. Nothing is copied: what grows later grows behind these slices.
func (s *State) asIssued(b IssuedBody) *State {
	s.sync()
	as := *s
	as.Seq = b.Seq
	as.tree, as.trail, as.edits, as.seen, as.taken = nil, nil, nil, nil, nil
	as.sites = maps.Clone(s.sites)
	as.Accepted, as.Runs, as.Conflicts = slices.Clip(s.Accepted), slices.Clone(s.Runs), slices.Clip(s.Conflicts)
	as.Notes, as.Readings, as.Blobs = slices.Clip(s.Notes), slices.Clip(s.Readings), slices.Clip(s.Blobs)
	as.Issued, as.Signed = slices.Clip(s.Issued), slices.Clip(s.Signed)
	as.Visits, as.Found, as.Did = slices.Clone(s.Visits), slices.Clone(s.Found), slices.Clone(s.Did)
	as.Log, as.Troubles = slices.Clip(s.Log), slices.Clip(s.Troubles)
	return &as
}
