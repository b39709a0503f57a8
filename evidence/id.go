package evidence

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
)

// JobID and EntryID are UUIDs of version 7 (RFC 9562) in lower case. Empty is not valid.
type (
	JobID   string
	EntryID string
)

// PersonID is the opaque id of a person or a process: 1 to 64 of A-Z a-z 0-9 . _ : - (docs/format/job-book.md, section 2).
// It is never a name: it stays when everything personal is erased.
type PersonID string

// ErrID says that an id has not the form its type asks for.
var ErrID = errors.New("not a valid id")

// NewJobID makes an id from the time and 10 bytes of random.
func NewJobID(at time.Time, random io.Reader) (JobID, error) {
	id, err := newUUID(at, random)
	return JobID(id), err
}

// NewEntryID makes an id from the time and 10 bytes of random.
func NewEntryID(at time.Time, random io.Reader) (EntryID, error) {
	id, err := newUUID(at, random)
	return EntryID(id), err
}

// DerivedEntryID makes the same id from the same time (to the millisecond) and source, every time: what copies rows into
// the book (source: receiver id and row) can repeat itself without harm. The bits that are random elsewhere come from
// SHA-256 of source, so two sources do not meet.
func DerivedEntryID(at time.Time, source string) (EntryID, error) {
	sum := sha256.Sum256([]byte(source))
	id, err := uuid7(at, [10]byte(sum[:10]))
	return EntryID(id), err
}

func newUUID(at time.Time, random io.Reader) (string, error) {
	var r [10]byte
	if _, err := io.ReadFull(random, r[:]); err != nil {
		return "", fmt.Errorf("making an id: reading random bytes: %w", err)
	}
	return uuid7(at, r)
}

// uuid7 lays out RFC 9562 section 5.7: 48 bits of milliseconds, version, 12 bits, variant, 62 bits.
func uuid7(at time.Time, r [10]byte) (string, error) {
	ms := at.UnixMilli()
	if ms < 0 || ms >= 1<<48 {
		return "", fmt.Errorf("making an id for the year %d: %w", at.Year(), ErrID)
	}
	var u [16]byte
	for i := range 6 {
		u[i] = byte(ms >> (40 - 8*i))
	}
	copy(u[6:], r[:])
	u[6] = u[6]&0x0f | 0x70
	u[8] = u[8]&0x3f | 0x80
	x := hex.EncodeToString(u[:])
	return x[:8] + "-" + x[8:12] + "-" + x[12:16] + "-" + x[16:20] + "-" + x[20:], nil
}

func isUUID7(s string) bool {
	if len(s) != 36 || s[14] != '7' || s[19] < '8' || s[19] > 'b' || s[19] > '9' && s[19] < 'a' {
		return false
	}
	for i := range len(s) {
		hyphen := i == 8 || i == 13 || i == 18 || i == 23
		if hyphen != (s[i] == '-') || !hyphen && !isLowerHex(s[i]) {
			return false
		}
	}
	return true
}

func isLowerHex(c byte) bool { return c >= '0' && c <= '9' || c >= 'a' && c <= 'f' }

// Valid says whether id is a UUIDv7 in lower case.
func (id JobID) Valid() bool { return isUUID7(string(id)) }

// Valid says whether id is a UUIDv7 in lower case.
func (id EntryID) Valid() bool { return isUUID7(string(id)) }

// bytes returns the 16 bytes of a valid id.
func (id EntryID) bytes() (u [16]byte) {
	// Valid means that this can not fail.
	_, _ = hex.Decode(u[:], []byte(strings.ReplaceAll(string(id), "-", "")))
	return u
}

// Valid says whether id has the form of an opaque id.
func (id PersonID) Valid() bool {
	if len(id) < 1 || len(id) > 64 {
		return false
	}
	for i := range len(id) {
		c := id[i]
		if !(c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '.' || c == '_' || c == ':' || c == '-') {
			return false
		}
	}
	return true
}

// Hash is a SHA-256; text and JSON form are 64 lower-case hexadecimal digits. The zero Hash stands before the first entry.
type Hash [sha256.Size]byte

// Fingerprint names a signer: SHA-256 over the 32 bytes of an Ed25519 public key. Text form as of [Hash].
type Fingerprint [sha256.Size]byte

func (h Hash) String() string        { return hex.EncodeToString(h[:]) }
func (f Fingerprint) String() string { return hex.EncodeToString(f[:]) }

// MarshalText writes 64 hexadecimal digits.
func (h Hash) MarshalText() ([]byte, error) { return []byte(h.String()), nil }

// MarshalText writes 64 hexadecimal digits.
func (f Fingerprint) MarshalText() ([]byte, error) { return []byte(f.String()), nil }

// UnmarshalText reads 64 lower-case hexadecimal digits.
func (h *Hash) UnmarshalText(text []byte) error { return fromHex(h[:], text, "hash") }

// UnmarshalText reads 64 lower-case hexadecimal digits.
func (f *Fingerprint) UnmarshalText(text []byte) error { return fromHex(f[:], text, "fingerprint") }

// ParseFingerprint reads 64 lower-case hexadecimal digits.
func ParseFingerprint(s string) (Fingerprint, error) {
	var f Fingerprint
	return f, f.UnmarshalText([]byte(s))
}

// ParseHash reads 64 lower-case hexadecimal digits.
func ParseHash(s string) (Hash, error) {
	var h Hash
	return h, h.UnmarshalText([]byte(s))
}

func fromHex(dst, text []byte, what string) error {
	ok := len(text) == hex.EncodedLen(len(dst))
	for _, c := range text {
		ok = ok && isLowerHex(c)
	}
	if !ok {
		return fmt.Errorf("reading a %s: want %d lower-case hexadecimal digits", what, hex.EncodedLen(len(dst)))
	}
	_, err := hex.Decode(dst, text)
	return err
}

// Time is an instant as the book keeps it: UTC, to the millisecond, 2026-09-15T18:04:05.120Z. Make it with [TimeOf].
// The zero Time is the year 1 and is not valid in an entry.
type Time struct{ time.Time }

const timeLayout = "2006-01-02T15:04:05.000Z"

// TimeOf drops what is finer than a millisecond, the zone and the monotonic reading, so that Times compare with ==.
func TimeOf(t time.Time) Time { return Time{t.UTC().Truncate(time.Millisecond)} }

// Valid says whether t lies in the years 1970 to 9999, the span in which times and ids can be written.
func (t Time) Valid() bool { return t.UnixMilli() >= 0 && t.UTC().Year() <= 9999 }

func (t Time) String() string { return t.UTC().Format(timeLayout) }

// MarshalText writes the one form of the time.
func (t Time) MarshalText() ([]byte, error) {
	if !t.Valid() {
		return nil, fmt.Errorf("writing a time: year %d is outside 1970 to 9999", t.UTC().Year())
	}
	return []byte(t.String()), nil
}

// UnmarshalText reads that form and no other.
func (t *Time) UnmarshalText(text []byte) error {
	parsed, err := time.Parse(timeLayout, string(text))
	if got := TimeOf(parsed); err == nil && got.Valid() && got.String() == string(text) {
		*t = got
		return nil
	}
	return fmt.Errorf("reading a time: want UTC with milliseconds like 2026-09-15T18:04:05.120Z")
}

// MarshalJSON is MarshalText in quotation marks (without it the embedded time would write itself).
func (t Time) MarshalJSON() ([]byte, error) {
	text, err := t.MarshalText()
	return []byte(`"` + string(text) + `"`), err
}

// UnmarshalJSON reads a string as UnmarshalText does.
func (t *Time) UnmarshalJSON(raw []byte) error {
	var s string
	if err := json.Unmarshal(raw, &s); err != nil {
		return fmt.Errorf("reading a time: %w", err)
	}
	return t.UnmarshalText([]byte(s))
}
