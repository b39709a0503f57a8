package evidence

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
)

// Signer says what is known of who signed an export.
type Signer string

const (
	SignerUnproved Signer = "unproved" // no signature that holds was found
	SignerUnknown  Signer = "unknown"  // the signature holds, the key is none the caller trusts
	SignerKnown    Signer = "known"    // the signature holds, by a key the caller trusts
)

// Report is what [Verify] found.
type Report struct {
	Header  Header `json:"header,omitzero"`
	Entries int64  `json:"entries"`         // sound in the chain, from the first
	Last    Hash   `json:"last"`            // hash of the newest of them
	Head    *Head  `json:"head,omitempty"`  // nil if none was found whose signature holds
	Signer  Signer `json:"signer"`          //
	Break   *Break `json:"break,omitempty"` // the first thing wrong, nil if nothing is
}

// Good says whether nothing is wrong: the chain holds to its signed head, the signer is one the caller trusts, and every
// pinned head is met. It speaks of the record, not of what the record says.
func (r Report) Good() bool { return r.Break == nil && r.Signer == SignerKnown }

// Verify reads an export file to its end. It trusts the given signers only, never a key for being in the file, and holds the
// chain against heads the caller has from elsewhere. What is wrong with the file is in the Report; the error is r's own.
// When entries are broken the signature is still looked at, so that a Report can say both.
func Verify(r io.Reader, trusted []Fingerprint, pins ...Pin) (Report, error) {
	report := Report{Signer: SignerUnproved}
	x, err := ReadExport(r)
	if err != nil {
		if errors.As(err, &report.Break) {
			return report, nil
		}
		return report, fmt.Errorf("verifying: %w", err)
	}
	report.Header, x.pins = x.header, pins
	for err == nil {
		_, err = x.next()
	}
	report.Entries, report.Last = x.chain.Last()
	if err != io.EOF && !errors.As(err, &report.Break) {
		return report, fmt.Errorf("verifying: %w", err)
	}
	head := x.signed
	if head == (Head{}) {
		if head, err = x.findHead(); err != nil {
			return report, fmt.Errorf("verifying: %w", err)
		}
	}
	if head == (Head{}) {
		return report, nil
	}
	report.Head, report.Signer = &head, SignerKnown
	if !slices.Contains(trusted, head.Key) {
		report.Signer = SignerUnknown
		if report.Break == nil {
			report.Break = &Break{
				Line: x.line, Check: CheckSigner, Err: ErrUnknownSigner,
				Say: fmt.Sprintf("unknown signer %s: the file is sound in itself, but anyone can make one", head.Key),
			}
		}
	}
	return report, nil
}

// findHead goes on to the last line after a break, and returns the head there if its signature holds by the header's
// key, the zero Head if not.
func (x *ExportReader) findHead() (Head, error) {
	const longest = 1 << 10 // more than a head ever has; of a longer line the rest does not matter
	var line []byte
	fresh := true // the next bytes begin a line
	for {
		part, err := x.in.ReadSlice('\n')
		if fresh && len(part) > 0 {
			line = line[:0]
		}
		line = append(line, part[:min(len(part), longest-len(line))]...)
		fresh = err == nil
		if err == io.EOF {
			break
		}
		if err != nil && !errors.Is(err, bufio.ErrBufferFull) {
			return Head{}, err
		}
	}
	h, err := parseCanonical(bytes.TrimSuffix(line, []byte{'\n'}), Head.Canonical)
	if err != nil || VerifyHead(x.header.Public, h) != nil {
		return Head{}, nil
	}
	return h, nil
}
