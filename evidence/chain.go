package evidence

import "fmt"

// Check names what was found wrong. The list only grows.
type Check string

const (
	CheckHeader    Check = "header"    // the first line of an export
	CheckSpelling  Check = "spelling"  // a line is not the canonical form of an entry or a head
	CheckFormat    Check = "format"    // written in a format newer than this program
	CheckContent   Check = "content"   // the content does not match its hash
	CheckPlace     Check = "place"     // the server's part does not match the entry hash
	CheckJob       Check = "job"       // an entry of another job
	CheckSequence  Check = "sequence"  // a number missing, or out of order
	CheckBase      Check = "base"      // built on an entry that comes later
	CheckChained   Check = "chain"     // the next entry carries another hash for this one
	CheckRepeated  Check = "repeated"  // an id used twice
	CheckPin       Check = "pin"       // differs from a head the caller already holds
	CheckSignature Check = "signature" // the head's signature is not by the key it names
	CheckHead      Check = "head"      // the head does not fit the entries
	CheckTruncated Check = "truncated" // the end is missing
	CheckTrailing  Check = "trailing"  // something follows the head
	CheckSigner    Check = "signer"    // sound in itself, signed by a key the caller does not trust
)

// Break is the first thing found wrong with a chain or an export. It is an error; get at it with errors.As.
type Break struct {
	Line  int     `json:"line,omitempty"` // of the export file, from 1; 0 outside a file
	Seq   int64   `json:"seq,omitempty"`  // number of the entry at fault, 0 if it is no entry
	ID    EntryID `json:"id,omitempty"`   // its id, if it could be read
	Kind  Kind    `json:"kind,omitempty"` // its kind, if it could be read
	Check Check   `json:"check"`
	Say   string  `json:"say"` // in plain words, without the place
	Err   error   `json:"-"`   // the cause, if there is one
}

func (b *Break) Error() string {
	s := b.Say
	if b.Seq > 0 {
		s = fmt.Sprintf("entry %d", b.Seq)
		if b.Kind != "" {
			s += fmt.Sprintf(" (%s, %s)", b.Kind, b.ID)
		}
		s += ": " + b.Say
	}
	if b.Line > 0 {
		s = fmt.Sprintf("line %d: %s", b.Line, s)
	}
	return s
}

func (b *Break) Unwrap() error { return b.Err }

// Chain checks entries one after the other, in the order of the book. The zero Chain waits for entry 1 of any job.
type Chain struct {
	last Entry              // without its body
	line int                // of last, in an export
	ids  map[[16]byte]int64 // number of the entry that has the id
}

// Last returns number and hash of the newest entry checked, 0 and zero before the first.
func (c *Chain) Last() (seq int64, hash Hash) { return c.last.Seq, c.last.Hash }

// Add checks e against its own hashes and the entry before it. The error is a [*Break]; after one, the Chain stays where
// it was. A Break may name the entry before e: if that one is sound by itself and e is too, but e carries another hash
// for it, then it was changed after e was written.
func (c *Chain) Add(e Entry) error {
	if b := c.add(e, 0); b != nil {
		return b
	}
	return nil
}

func (c *Chain) add(e Entry, line int) *Break {
	at := func(check Check, say string, err error) *Break {
		return &Break{Line: line, Seq: c.last.Seq + 1, ID: e.ID, Kind: e.Kind, Check: check, Say: say, Err: err}
	}
	sum, err := e.SealedHash()
	if err != nil {
		return at(CheckSpelling, err.Error(), err)
	}
	if err := e.checkPlace(); err != nil {
		return at(CheckSpelling, err.Error(), err)
	}
	// First what the entry says about itself, so that a changed place is not taken for a missing neighbour.
	want := c.last.Seq + 1
	switch {
	case sum != e.ContentHash:
		return at(CheckContent, "the content does not match its hash: it was changed after it was sealed", nil)
	case e.placeHash() != e.Hash:
		return at(CheckPlace, "number, time received or the hash before do not match the entry's hash", nil)
	case c.last.Seq > 0 && e.Job != c.last.Job:
		return at(CheckJob, fmt.Sprintf("belongs to another job, %s", e.Job), ErrJob)
	case e.Seq > want:
		b := at(CheckSequence, missing(want, e.Seq-1), nil)
		b.ID, b.Kind = "", "" // those of the entry that is there, not of the one that is not
		return b
	case e.Seq < want:
		return at(CheckSequence, fmt.Sprintf("entry %d stands here a second time or out of order", e.Seq), nil)
	case e.Base >= e.Seq:
		return at(CheckBase, fmt.Sprintf("is built on entry %d, which comes later", e.Base), ErrBase)
	case e.Prev != c.last.Hash && want == 1:
		return at(CheckChained, "is the first entry, but carries the hash of one before it", nil)
	case e.Prev != c.last.Hash:
		l := c.last
		return &Break{
			Line: c.line, Seq: l.Seq, ID: l.ID, Kind: l.Kind, Check: CheckChained,
			Say: fmt.Sprintf("chain broken after entry %d: entry %d was chained to another entry %d than this one", l.Seq, want, l.Seq),
		}
	}
	id := e.ID.bytes()
	if first, used := c.ids[id]; used {
		return at(CheckRepeated, fmt.Sprintf("has the id of entry %d", first), nil)
	}
	if c.ids == nil {
		c.ids = make(map[[16]byte]int64)
	}
	c.ids[id] = e.Seq
	e.Body = nil
	c.last, c.line = e, line
	return nil
}

func missing(first, last int64) string {
	if first == last {
		return fmt.Sprintf("entry %d is missing", first)
	}
	return fmt.Sprintf("entries %d to %d are missing", first, last)
}

// CheckChain checks a whole book, or the entries behind prev if prev is not nil. Ids are compared among the entries
// given. The error is a [*Break].
func CheckChain(prev *Entry, entries []Entry) error {
	var c Chain
	if prev != nil {
		c.last = *prev
	}
	for _, e := range entries {
		if err := c.Add(e); err != nil {
			return err
		}
	}
	return nil
}
