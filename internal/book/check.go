package book

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"

	"proofbell/evidence"
	"proofbell/internal/prove"
	"proofbell/internal/words"
	"proofbell/site"
)

// Check says whether a content is well formed for its kind, before it becomes an entry. It does not ask whether the act
// makes sense now: an entry made offline is never refused for being old. Unknown kinds pass. A date or a quantity that
// can not be read is a *words.Error, for the technician; anything else is said for the person who wrote the client.
func Check(c evidence.Content) error {
	var into any
	switch c.Kind {
	case evidence.KindEdit:
		return checkEdit(c.Body, c.Base)
	case evidence.KindAccept:
		into = &AcceptBody{}
	case evidence.KindRun:
		into = &prove.RunBody{}
	case evidence.KindOnTest:
		into = &prove.OnTestBody{}
	case evidence.KindSignal:
		return fmt.Errorf("signal entries are written by the receiver alone")
	case evidence.KindReadback:
		into = &prove.ReadBackBody{}
	case evidence.KindTick:
		into = &prove.TickBody{}
	case evidence.KindPutback:
		into = &prove.PutBackBody{}
	case evidence.KindReading:
		return checkReading(c.Body)
	case evidence.KindBlob:
		into = &BlobBody{}
	case evidence.KindNote:
		into = &NoteBody{}
	case evidence.KindIssued:
		return fmt.Errorf("issued entries are written by the server alone")
	case evidence.KindSign:
		return checkSign(c.Body)
	case evidence.KindVisit:
		return checkVisit(c.Body)
	case evidence.KindReadout:
		return checkReadout(c.Body)
	case evidence.KindPractice:
		return checkPractice(c.Body)
	case evidence.KindKeying:
		return checkKeying(c.Body)
	case evidence.KindProfile:
		return checkProfile(c.Body)
	case evidence.KindReveal, evidence.KindSecret:
		return fmt.Errorf("%s entries are written by the server alone", c.Kind)
	case evidence.KindKey:
		return fmt.Errorf("key entries are written by the server alone")
	default:
		return nil
	}
	return strict(c.Body, into)
}

// levels are the readings that the models of sound and radio are fitted to.
var levels = map[string]struct {
	unit      string
	low, high float64
}{"sound": {"dBA", 0, 140}, "radio": {"dBm", -150, 30}, "check-ins": {"%", 0, 100}}

func checkReading(raw json.RawMessage) error {
	var b ReadingBody
	if err := strict(raw, &b); err != nil {
		return err
	}
	level, known := levels[b.What]
	switch {
	case !known || b.Withdrawn != "":
		return nil
	case b.Unit != level.unit:
		return fmt.Errorf("reading: %s in %q: want %s", b.What, b.Unit, level.unit)
	case b.Value < level.low || b.Value > level.high:
		return fmt.Errorf("reading: %s of %v %s: want %v to %v", b.What, b.Value, b.Unit, level.low, level.high)
	case b.Doors != "" && b.Doors != "shut" && b.Doors != "open":
		return fmt.Errorf("reading: doors %q: want shut or open", b.Doors)
	case len(b.Place) == 1 || len(b.Place) > 3:
		return fmt.Errorf("reading: a place has %d numbers: want x, y and perhaps z in metres", len(b.Place))
	case len(b.Meter) > 200:
		return errors.New("reading: meter is longer than 200 bytes")
	}
	return nil
}

func checkEdit(raw json.RawMessage, base int64) error {
	var b EditBody
	if err := strict(raw, &b); err != nil {
		return err
	}
	if len(b.Patch) == 0 {
		return nil // its patch may be wholly personal, and sealed
	}
	tree, err := parseTree(b.Patch)
	if err != nil {
		return fmt.Errorf("patch: %w", err)
	}
	for _, pointer := range Personal {
		if _, there := get(tree, split(pointer)); there {
			return fmt.Errorf("patch: %s is personal and belongs into the sealed part", pointer)
		}
	}
	d := json.NewDecoder(bytes.NewReader(b.Patch))
	d.DisallowUnknownFields()
	var typed site.Site
	if err := d.Decode(&typed); err != nil {
		if why, ok := site.Refused(err); ok {
			return why
		}
		return fmt.Errorf("patch: %w", err)
	}
	if typed.Planted != nil && (base > 0 || !typed.Practice) {
		return &words.Error{Say: words.Later("mistakes are planted in a practice job that begins with them, and in no other"), Try: words.Later("begin a practice on the page of all jobs")}
	}
	return nil
}

// strict reads a body that may hold, beside its own members, the sealed part.
func strict(raw json.RawMessage, into any) error {
	var members map[string]json.RawMessage
	if err := json.Unmarshal(raw, &members); err != nil {
		return err
	}
	delete(members, "private")
	open, err := json.Marshal(members)
	if err != nil {
		return err
	}
	d := json.NewDecoder(bytes.NewReader(open))
	d.DisallowUnknownFields()
	return d.Decode(into)
}
