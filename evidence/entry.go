package evidence

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"time"
)

// MaxContentBytes is the most a content has as canonical JSON. It leaves room for the five members the server adds, so
// that an entry can be read wherever its content could.
const MaxContentBytes = MaxJSONBytes - 4<<10

// Format is the content format this package writes; it reads every one from 1 up to it. See [Upcast].
const Format = 1

// Kind says what happened. Kinds are only ever added, and unknown ones are kept (docs/format/job-book.md, section 4).
type Kind string

// On disk: add at the end, never rename, never reuse.
const (
	KindEdit     Kind = "edit"     // the site was changed
	KindAccept   Kind = "accept"   // a finding was accepted, with a reason
	KindRun      Kind = "run"      // a proving run was opened or closed
	KindOnTest   Kind = "ontest"   // a step of going on test, extending, lapsing or coming off
	KindSignal   Kind = "signal"   // a signal arrived at our receiver
	KindReadback Kind = "readback" // what the station says it saw
	KindTick     Kind = "tick"     // a technician confirmed a step by eye or ear
	KindReading  Kind = "reading"  // a measured value
	KindPutback  Kind = "putback"  // something taken off or bypassed was put back
	KindBlob     Kind = "blob"     // a photo, recording or file was added
	KindNote     Kind = "note"     // free text
	KindReveal   Kind = "reveal"   // a secret was shown to a person
	KindSign     Kind = "sign"     // a person signed
	KindIssued   Kind = "issued"   // a document was issued
	KindVisit    Kind = "visit"    // a visit began or ended, or what it found and did
	KindSecret   Kind = "secret"   // a secret was kept or removed; never the secret itself
	KindReadout  Kind = "readout"  // what a panel was found to hold
	KindKeying   Kind = "keying"   // a step of keying zones in at the panel
	KindProfile  Kind = "profile"  // a panel profile of the job's own was taken in or out
	KindPractice Kind = "practice" // what a learner did in a site with planted mistakes
	KindKey      Kind = "key"      // the job key was wrapped anew or destroyed: {"act":"rewrapped"} or {"act":"erased"}
)

// Valid says whether k has the form of a kind: a lower-case letter, then up to 31 of a-z 0-9 and hyphen.
func (k Kind) Valid() bool {
	if len(k) < 1 || len(k) > 32 {
		return false
	}
	for i := range len(k) {
		c := k[i]
		if !(c >= 'a' && c <= 'z' || i > 0 && (c >= '0' && c <= '9' || c == '-')) {
			return false
		}
	}
	return true
}

// Content is what the client seals. Treat it as immutable; make it with [NewContent] or [ParseContent].
type Content struct {
	Fmt  int             `json:"fmt"`  // format, 1 to Format
	Job  JobID           `json:"job"`  //
	ID   EntryID         `json:"id"`   // made by the writer; sending twice is harmless
	At   Time            `json:"at"`   // the writer's clock
	By   PersonID        `json:"by"`   // who, never a name
	Kind Kind            `json:"kind"` //
	Base int64           `json:"base"` // seq of the newest entry of the job the writer had seen, 0 if none
	Body json.RawMessage `json:"body"` // a canonical JSON object; "private" in it is reserved, see SealPrivate
}

// Entry is a content in its place. Its JSON form has the members of both side by side.
type Entry struct {
	Content
	Seq         int64 `json:"seq"`      // place in the job, from 1 without gaps
	Received    Time  `json:"received"` // the server's clock
	ContentHash Hash  `json:"content"`  // over the canonical content
	Prev        Hash  `json:"prev"`     // Hash of entry Seq-1, zero in entry 1
	Hash        Hash  `json:"hash"`     // over content, job, prev, received, seq
}

// Errors of contents and entries, to match with errors.Is.
var (
	ErrContent     = errors.New("not a valid content")                         // a member has the wrong form
	ErrNewerFormat = errors.New("written in a format newer than this program") // bring the program up to date
	ErrConflict    = errors.New("the same entry id with another content")      // refused for ever
	ErrBase        = errors.New("built on an entry this book does not have")   // the client knows more than the book
	ErrJob         = errors.New("entry of another job")
)

// NewContent makes a content of the present format from a body: any value that is a JSON object. The body is brought
// into canonical form. Errors wrap [ErrContent] or [ErrTooLarge], or are a [*JSONError].
func NewContent(job JobID, id EntryID, at time.Time, by PersonID, kind Kind, base int64, body any) (Content, error) {
	raw, err := CanonicalValue(body)
	if err != nil {
		return Content{}, fmt.Errorf("body of %s entry: %w", kind, err)
	}
	c := Content{Fmt: Format, Job: job, ID: id, At: TimeOf(at), By: by, Kind: kind, Base: base, Body: raw}
	if len(raw) < MaxContentBytes/2 { // whatever stands beside it
		return c, c.check()
	}
	_, err = c.Canonical() // for the size
	return c, err
}

// ParseContent reads a content in any spelling of JSON. Every member must be there and no other.
// Errors wrap [ErrContent], [ErrNewerFormat] or [ErrTooLarge], or are a [*JSONError].
func ParseContent(raw []byte) (Content, error) {
	return parse(raw, Content.Canonical)
}

// ParseEntry reads an entry in any spelling of JSON. Every member must be there and no other. It checks the form, not
// the hashes: that is the work of [Chain]. Errors as of [ParseContent].
func ParseEntry(raw []byte) (Entry, error) {
	return parse(raw, Entry.Canonical)
}

// parse decodes raw, in any spelling.
func parse[T any](raw []byte, write func(T) ([]byte, error)) (T, error) {
	canonical, err := Canonical(raw)
	if err != nil {
		var none T
		return none, err
	}
	return parseCanonical(canonical, write)
}

// parseCanonical decodes raw and accepts it only if it is what would be written: that finds missing members, names in
// another case, which encoding/json lets pass, and every spelling but the canonical one.
func parseCanonical[T any](raw []byte, write func(T) ([]byte, error)) (T, error) {
	var v, none T
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&v); err != nil {
		var newer struct {
			Fmt int `json:"fmt"`
		}
		if json.Unmarshal(raw, &newer) == nil && newer.Fmt > Format { // it may have members that are not known yet
			return none, newerFormat(newer.Fmt, Format)
		}
		return none, fmt.Errorf("%w: %w", ErrContent, err)
	}
	again, err := write(v)
	if err != nil {
		return none, err
	}
	if !bytes.Equal(again, raw) {
		return none, fmt.Errorf("%w: a member is missing or misspelt, or the line is not canonical JSON", ErrContent)
	}
	return v, nil
}

func newerFormat(got, known int) error {
	return fmt.Errorf("format %d, known up to %d: %w", got, known, ErrNewerFormat)
}

func (c Content) check() error {
	bad := func(member, want string) error {
		return fmt.Errorf("%w: %s: want %s", ErrContent, member, want)
	}
	switch {
	case c.Fmt > Format:
		return newerFormat(c.Fmt, Format)
	case c.Fmt < 1:
		return bad("fmt", "1 or more")
	case !c.Job.Valid():
		return bad("job", "a UUIDv7 in lower case")
	case !c.ID.Valid():
		return bad("id", "a UUIDv7 in lower case")
	case !c.At.Valid():
		return bad("at", "a time from 1970 to 9999")
	case !c.By.Valid():
		return bad("by", "an opaque id of 1 to 64 of A-Z a-z 0-9 . _ : -, not a name")
	case !c.Kind.Valid():
		return bad("kind", "a lower-case word of at most 32 characters")
	case c.Base < 0 || c.Base >= 1<<53:
		return bad("base", "0 or the number of an entry")
	case len(c.Body) == 0 || c.Body[0] != '{':
		return bad("body", "a JSON object")
	}
	return nil
}

// Canonical returns the bytes the content hash is taken over.
func (c Content) Canonical() ([]byte, error) {
	body, err := c.checked()
	if err != nil {
		return nil, err
	}
	o := newObject(len(body))
	o.text("at", c.At.String())
	o.integer("base", c.Base)
	o.raw("body", body)
	o.text("by", string(c.By))
	o.integer("fmt", int64(c.Fmt))
	o.text("id", string(c.ID))
	o.text("job", string(c.Job))
	o.text("kind", string(c.Kind))
	if raw := o.end(); len(raw) <= MaxContentBytes {
		return raw, nil
	}
	return nil, fmt.Errorf("%s entry of more than %d bytes: %w", c.Kind, MaxContentBytes, ErrTooLarge)
}

// Canonical returns the entry's one form: a line of the export file without its line feed. It does not check the hashes.
func (e Entry) Canonical() ([]byte, error) {
	body, err := e.checked()
	if err != nil {
		return nil, err
	}
	if err := e.checkPlace(); err != nil {
		return nil, err
	}
	o := newObject(len(body))
	o.text("at", e.At.String())
	o.integer("base", e.Base)
	o.raw("body", body)
	o.text("by", string(e.By))
	o.text("content", e.ContentHash.String())
	o.integer("fmt", int64(e.Fmt))
	o.text("hash", e.Hash.String())
	o.text("id", string(e.ID))
	o.text("job", string(e.Job))
	o.text("kind", string(e.Kind))
	o.text("prev", e.Prev.String())
	o.text("received", e.Received.String())
	o.integer("seq", e.Seq)
	return o.end(), nil
}

func (c Content) checked() (body []byte, err error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	if body, err = Canonical(c.Body); err != nil {
		return nil, fmt.Errorf("body of %s entry: %w", c.Kind, err)
	}
	return body, nil
}

func (e Entry) checkPlace() error {
	if e.Seq < 1 || e.Seq >= 1<<53 {
		return fmt.Errorf("%w: seq: want 1 or more", ErrContent)
	}
	if !e.Received.Valid() {
		return fmt.Errorf("%w: received: want a time from 1970 to 9999", ErrContent)
	}
	return nil
}

// object writes the members of a canonical object; the caller names them in order. Numbers are below 2^53.
type object struct{ out []byte }

// newObject has room for the fixed members of an entry and for a body.
func newObject(body int) object { return object{make([]byte, 0, 640+body)} }

func (o *object) name(name string) {
	o.out = append(o.out, "{,"[min(len(o.out), 1)])
	o.out = append(appendText(o.out, name), ':')
}

func (o *object) text(name, s string) {
	o.name(name)
	o.out = appendText(o.out, s)
}

func (o *object) integer(name string, n int64) {
	o.name(name)
	o.out = strconv.AppendInt(o.out, n, 10)
}

func (o *object) raw(name string, canonical []byte) {
	o.name(name)
	o.out = append(o.out, canonical...)
}

func (o *object) end() []byte { return append(o.out, '}') }

// SealedHash returns the content hash: SHA-256 over [Content.Canonical].
func (c Content) SealedHash() (Hash, error) {
	raw, err := c.Canonical()
	if err != nil {
		return Hash{}, err
	}
	return sha256.Sum256(raw), nil
}

// placeHash returns the entry hash, over content, job, prev, received and seq.
func (e Entry) placeHash() Hash {
	o := newObject(0)
	o.text("content", e.ContentHash.String())
	o.text("job", string(e.Job))
	o.text("prev", e.Prev.String())
	o.text("received", e.Received.String())
	o.integer("seq", e.Seq)
	return sha256.Sum256(o.end())
}

// Append gives c its place behind prev, nil for the first entry of a job. Whether the id is already in the book is for
// the caller to look up; see [CheckRepeat]. Errors wrap [ErrJob], [ErrBase], or what [ParseContent] returns.
func Append(prev *Entry, c Content, received time.Time) (Entry, error) {
	e := Entry{Content: c, Seq: 1, Received: TimeOf(received)}
	if prev != nil {
		if prev.Job != c.Job {
			return Entry{}, fmt.Errorf("appending to job %s: %w", prev.Job, ErrJob)
		}
		e.Seq, e.Prev = prev.Seq+1, prev.Hash
	}
	if c.Base >= e.Seq {
		return Entry{}, fmt.Errorf("appending entry %d with base %d: %w", e.Seq, c.Base, ErrBase)
	}
	if err := e.checkPlace(); err != nil {
		return Entry{}, err
	}
	var err error
	if e.ContentHash, err = c.SealedHash(); err != nil {
		return Entry{}, err
	}
	e.Hash = e.placeHash()
	return e, nil
}

// CheckRepeat says whether c, whose id the book holds as stored, is the same entry sent again: nil if so, an error that
// wraps [ErrConflict] if its content is another one.
func CheckRepeat(stored Entry, c Content) error {
	h, err := c.SealedHash()
	if err != nil {
		return err
	}
	if h != stored.ContentHash {
		return fmt.Errorf("entry %s, stored as number %d: %w", c.ID, stored.Seq, ErrConflict)
	}
	return nil
}
