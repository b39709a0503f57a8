package evidence

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"iter"
	"time"
	"unicode/utf8"
)

const (
	ExportFormat     = "proofbell.book/1"
	ExportExtension  = ".pbook"
	MaxExportLine    = MaxJSONBytes // bytes of one line, its line feed not counted
	MaxExportEntries = 1 << 20      // entries in one file
	maxExportName    = 200          // characters of the job's name
)

// Header is the first line of an export file.
type Header struct {
	Exported Time        `json:"exported"`
	Format   string      `json:"format"` // ExportFormat
	Job      JobID       `json:"job"`
	Key      Fingerprint `json:"key"` // of Public
	Name     string      `json:"name,omitempty"`
	Public   PublicKey   `json:"public"` // proves nothing by being here
}

// Canonical returns the header line without its line feed. Errors wrap [ErrContent].
func (h Header) Canonical() ([]byte, error) {
	bad := func(member, want string) ([]byte, error) {
		return nil, fmt.Errorf("%w: %s of the header: want %s", ErrContent, member, want)
	}
	switch {
	case h.Format != ExportFormat:
		return bad("format", ExportFormat)
	case !h.Job.Valid():
		return bad("job", "a UUIDv7 in lower case")
	case !h.Exported.Valid():
		return bad("exported", "a time from 1970 to 9999")
	case h.Public.Fingerprint() != h.Key:
		return bad("key", "the fingerprint of the public key beside it")
	case !utf8.ValidString(h.Name) || utf8.RuneCountInString(h.Name) > maxExportName:
		return bad("name", fmt.Sprintf("at most %d characters of UTF-8", maxExportName))
	}
	return CanonicalValue(h)
}

// WriteExport writes the whole book of a job, checks its chain on the way, and signs the head; at is the time of
// exporting. A name that is personal belongs in no export: leave it empty. Errors are those of w and of entries, a
// [*Break] if the chain does not hold, or wrap [ErrContent]. After an error what was written is no export file.
func WriteExport(w io.Writer, key *SigningKey, job JobID, name string, at time.Time, entries iter.Seq2[Entry, error]) (Head, error) {
	out := bufio.NewWriter(w)
	public := key.Public()
	header, err := Header{Exported: TimeOf(at), Format: ExportFormat, Job: job, Key: public.Fingerprint(), Name: name, Public: public}.Canonical()
	if err != nil {
		return Head{}, fmt.Errorf("writing an export: %w", err)
	}
	put := func(line []byte) {
		out.Write(line) // bufio keeps the first error for Flush
		out.WriteByte('\n')
	}
	put(header)
	var chain Chain
	for e, err := range entries {
		if err != nil {
			return Head{}, fmt.Errorf("writing an export: %w", err)
		}
		if err := chain.Add(e); err != nil {
			return Head{}, fmt.Errorf("writing an export: %w", err)
		}
		if e.Job != job {
			return Head{}, fmt.Errorf("writing an export of job %s: %w", job, ErrJob)
		}
		if e.Seq > MaxExportEntries {
			return Head{}, fmt.Errorf("writing an export: more than %d entries: %w", MaxExportEntries, ErrTooLarge)
		}
		line, err := e.Canonical()
		if err != nil {
			return Head{}, fmt.Errorf("writing an export: entry %d: %w", e.Seq, err)
		}
		put(line)
	}
	head := Head{Job: job, At: TimeOf(at), Header: sha256.Sum256(header)}
	head.Seq, head.Hash = chain.Last()
	if head, err = head.signed(key); err != nil {
		return Head{}, fmt.Errorf("writing an export: %w", err)
	}
	line, err := head.Canonical()
	if err != nil {
		return Head{}, fmt.Errorf("writing an export: %w", err)
	}
	put(line)
	if err := out.Flush(); err != nil {
		return Head{}, fmt.Errorf("writing an export: %w", err)
	}
	return head, nil
}

// ExportReader reads an export file entry by entry, with every check of the format except whether the signer is one to
// trust: ask [Verify], or compare Header().Key.
type ExportReader struct {
	in        *bufio.Reader
	line      int // the line read last, from 1
	header    Header
	headerSum Hash // of the header line
	chain     Chain
	pins      []Pin
	signed    Head // found at the end, with a signature that holds by the header's key
	ended     error
}

// ReadExport reads the header. The error is a [*Break] if there is none, or r's own.
func ReadExport(r io.Reader) (*ExportReader, error) {
	x := &ExportReader{in: bufio.NewReaderSize(r, 64<<10)}
	line, err := x.read()
	if err == io.EOF {
		return nil, x.fail(CheckHeader, "the file is empty", nil)
	}
	if err != nil {
		return nil, err
	}
	if x.header, err = parseCanonical(line, Header.Canonical); err != nil {
		return nil, x.fail(CheckHeader, "not the header of a job book export ("+ExportFormat+"): "+err.Error(), err)
	}
	x.headerSum = sha256.Sum256(line)
	return x, nil
}

// Header returns the first line.
func (x *ExportReader) Header() Header { return x.header }

// Head returns the signed head once Entries has come to its end without an error, the zero Head otherwise.
func (x *ExportReader) Head() Head {
	if x.ended != io.EOF {
		return Head{}
	}
	return x.signed
}

// Entries yields the entries in order, each checked against the chain so far. The last thing it may yield is an error, a
// [*Break] or the reader's own. Only when it ends without one are all entries covered by the signature: keep nothing
// for good before. It can be ranged over once.
func (x *ExportReader) Entries() iter.Seq2[Entry, error] {
	return func(yield func(Entry, error) bool) {
		for x.ended == nil {
			e, err := x.next()
			if err == io.EOF {
				return
			}
			if !yield(e, err) || err != nil {
				return
			}
		}
	}
}

// next returns the next entry, io.EOF after a good head, or what is wrong.
func (x *ExportReader) next() (Entry, error) {
	e, err := x.advance()
	if err == nil {
		err = x.add(e)
	}
	if err != nil {
		x.ended = err
		return Entry{}, err
	}
	return e, nil
}

// advance reads the next line.
func (x *ExportReader) advance() (Entry, error) {
	seq, _ := x.chain.Last()
	line, err := x.read()
	if err == io.EOF {
		x.line++
		return Entry{}, x.fail(CheckTruncated, fmt.Sprintf("truncated: the file ends after entry %d, without a signed head", seq), nil)
	}
	if err != nil {
		return Entry{}, err
	}
	_, err = x.in.Peek(1)
	if err != nil && err != io.EOF {
		return Entry{}, fmt.Errorf("reading line %d: %w", x.line+1, err)
	}
	if last := err == io.EOF; last || startsLikeHead(line) {
		return Entry{}, x.end(line, last)
	}
	e, err := parseCanonical(line, Entry.Canonical)
	if err != nil {
		b := x.fail(CheckSpelling, "not an entry in canonical form: "+err.Error(), err)
		if errors.Is(err, ErrNewerFormat) {
			b.Check, b.Say = CheckFormat, err.Error()
		}
		b.Seq = seq + 1
		return Entry{}, b
	}
	return e, nil
}

// add checks an entry against the chain, the header and the pinned heads.
func (x *ExportReader) add(e Entry) error {
	if b := x.chain.add(e, x.line); b != nil {
		return b
	}
	if e.Job != x.header.Job { // the first entry, as later ones are of the same job
		return &Break{
			Line: 1, Check: CheckJob, Err: ErrJob,
			Say: fmt.Sprintf("the header names job %s, the entries belong to %s", x.header.Job, e.Job),
		}
	}
	for _, p := range x.pins {
		if p.Seq == e.Seq && p.Hash != e.Hash {
			return &Break{
				Line: x.line, Seq: e.Seq, ID: e.ID, Kind: e.Kind, Check: CheckPin,
				Say: fmt.Sprintf("differs from the pinned head at entry %d: this entry or one before it was changed", e.Seq),
			}
		}
	}
	if e.Seq > MaxExportEntries {
		return x.fail(CheckSpelling, fmt.Sprintf("more than %d entries", MaxExportEntries), ErrTooLarge)
	}
	return nil
}

// startsLikeHead tells a head from an entry by the member that follows the time.
func startsLikeHead(line []byte) bool {
	const upToTime = len(`{"at":"2026-09-15T18:04:05.120Z",`)
	return len(line) > upToTime && bytes.HasPrefix(line[upToTime:], []byte(`"hash":`))
}

// end checks the head against everything before it and returns io.EOF if all is well.
func (x *ExportReader) end(line []byte, last bool) error {
	l, lastLine := x.chain.last, x.chain.line
	h, err := parseCanonical(line, Head.Canonical)
	if err != nil {
		if _, entryErr := parseCanonical(line, Entry.Canonical); entryErr == nil {
			return x.fail(CheckTruncated, fmt.Sprintf("truncated: the file ends after entry %d, without a signed head", l.Seq+1), nil)
		}
		return x.fail(CheckSpelling, "not a signed head in canonical form: "+err.Error(), err)
	}
	if !last {
		x.line++
		return x.fail(CheckTrailing, "something follows the signed head", nil)
	}
	if VerifyHead(x.header.Public, h) != nil {
		return x.fail(CheckSignature, "the signature of the head is not by the key in the header: one of them was changed", ErrSignature)
	}
	x.signed = h
	named := func(b Break) error { return &b }
	switch {
	case h.Header != x.headerSum:
		return named(Break{Line: 1, Check: CheckHeader, Say: "the header was changed after the head was signed"})
	case h.Job != x.header.Job || h.At != x.header.Exported:
		return x.fail(CheckHead, "job or time of the head are not those of the header", nil)
	case h.Seq > l.Seq:
		return named(Break{
			Line: x.line, Seq: l.Seq + 1, Check: CheckTruncated,
			Say: fmt.Sprintf("truncated: the head signs entry %d, but %s", h.Seq, missing(l.Seq+1, h.Seq)),
		})
	case h.Seq < l.Seq:
		return x.fail(CheckHead, fmt.Sprintf("head does not match: it signs entry %d, but the entries go on to %d", h.Seq, l.Seq), nil)
	case h.Hash != l.Hash:
		return named(Break{
			Line: lastLine, Seq: l.Seq, ID: l.ID, Kind: l.Kind, Check: CheckHead,
			Say: "head does not match: this entry or one before it was changed after the head was signed",
		})
	}
	for _, p := range x.pins {
		if p.Seq > l.Seq {
			return named(Break{
				Line: x.line, Seq: l.Seq + 1, Check: CheckPin,
				Say: fmt.Sprintf("the pinned head is at entry %d, but %s", p.Seq, missing(l.Seq+1, p.Seq)),
			})
		}
	}
	return io.EOF
}

// read returns the next line without its line feed, io.EOF if there is none, a [*Break] if it is cut off or too long.
func (x *ExportReader) read() ([]byte, error) {
	var line []byte
	for {
		part, err := x.in.ReadSlice('\n')
		if len(line) == 0 && len(part) > 0 {
			x.line++
		}
		if len(line)+len(part) > MaxExportLine+1 {
			return nil, x.fail(CheckSpelling, fmt.Sprintf("a line of more than %d bytes", MaxExportLine), ErrTooLarge)
		}
		line = append(line, part...)
		switch {
		case err == nil:
			return line[:len(line)-1], nil
		case err == io.EOF && len(line) == 0:
			return nil, io.EOF
		case err == io.EOF:
			return nil, x.fail(CheckTruncated, "truncated: the line has no end", nil)
		case !errors.Is(err, bufio.ErrBufferFull):
			return nil, fmt.Errorf("reading line %d: %w", x.line, err)
		}
	}
}

func (x *ExportReader) fail(check Check, say string, err error) *Break {
	return &Break{Line: x.line, Check: check, Say: say, Err: err}
}
