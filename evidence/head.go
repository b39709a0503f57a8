package evidence

import (
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"time"
)

// Errors of heads, to match with errors.Is.
var (
	ErrSignature     = errors.New("the signature is not by this key over this head")
	ErrUnknownSigner = errors.New("unknown signer")
)

// PublicKey is an Ed25519 public key (RFC 8032); text form 64 lower-case hexadecimal digits. A key that comes with a
// file proves nothing: compare its Fingerprint with one you know.
type PublicKey [ed25519.PublicKeySize]byte

// Fingerprint is SHA-256 over the key's 32 bytes.
func (p PublicKey) Fingerprint() Fingerprint { return sha256.Sum256(p[:]) }

func (p PublicKey) String() string { return hex.EncodeToString(p[:]) }

// MarshalText writes 64 hexadecimal digits.
func (p PublicKey) MarshalText() ([]byte, error) { return []byte(p.String()), nil }

// UnmarshalText reads 64 lower-case hexadecimal digits.
func (p *PublicKey) UnmarshalText(text []byte) error { return fromHex(p[:], text, "public key") }

// SigningKey is an installation's key for signing heads. It prints as stars and does not marshal.
type SigningKey struct{ private ed25519.PrivateKey }

// NewSigningKey makes a key from 32 bytes of random, which must come from a cryptographic source.
func NewSigningKey(random io.Reader) (*SigningKey, error) {
	var seed [ed25519.SeedSize]byte
	if _, err := io.ReadFull(random, seed[:]); err != nil {
		return nil, fmt.Errorf("making a signing key: reading random bytes: %w", err)
	}
	return SigningKeyFrom(seed[:])
}

// SigningKeyFrom takes back what Seed gave. The error wraps [ErrKeyForm].
func SigningKeyFrom(seed []byte) (*SigningKey, error) {
	if len(seed) != ed25519.SeedSize {
		return nil, fmt.Errorf("signing key of %d bytes, want %d: %w", len(seed), ed25519.SeedSize, ErrKeyForm)
	}
	return &SigningKey{ed25519.NewKeyFromSeed(seed)}, nil
}

// Seed returns the 32 secret bytes of RFC 8032, for keeping the key in a store and for nothing else.
func (k *SigningKey) Seed() []byte { return k.private.Seed() }

// Public returns the key that verifies.
func (k *SigningKey) Public() PublicKey { return PublicKey(k.private.Public().(ed25519.PublicKey)) }

// Format prints stars, whatever the verb.
func (k SigningKey) Format(f fmt.State, _ rune) { _, _ = io.WriteString(f, "********") }

// MarshalJSON refuses: a key has no place in a document.
func (k SigningKey) MarshalJSON() ([]byte, error) {
	return nil, fmt.Errorf("a signing key is not written as JSON: %w", ErrKeyForm)
}

// MarshalText refuses as MarshalJSON does; log handlers ask for it.
func (k SigningKey) MarshalText() ([]byte, error) {
	return nil, fmt.Errorf("a signing key is not written as text: %w", ErrKeyForm)
}

// Signature is an Ed25519 signature; text form 128 lower-case hexadecimal digits.
type Signature [ed25519.SignatureSize]byte

// MarshalText writes 128 hexadecimal digits.
func (s Signature) MarshalText() ([]byte, error) { return []byte(hex.EncodeToString(s[:])), nil }

// UnmarshalText reads 128 lower-case hexadecimal digits.
func (s *Signature) UnmarshalText(text []byte) error { return fromHex(s[:], text, "signature") }

// Head is the signed state of a chain.
type Head struct {
	Job    JobID       `json:"job"`
	Seq    int64       `json:"seq"`             // of the newest entry, 0 for an empty book
	Hash   Hash        `json:"hash"`            // of the newest entry, zero for an empty book
	At     Time        `json:"at"`              // when it was signed
	Key    Fingerprint `json:"key"`             // who signed
	Header Hash        `json:"header,omitzero"` // only in an export: SHA-256 of its header line
	Sig    Signature   `json:"sig"`
}

// Pin is what a caller already holds of a chain, from a document, an earlier export or a stored head.
type Pin struct {
	Seq  int64
	Hash Hash
}

// Pin returns what later copies of the chain are held against. Verify the head first.
func (h Head) Pin() Pin { return Pin{h.Seq, h.Hash} }

// SignHead signs the chain up to newest, nil for an empty book. The errors wrap [ErrContent], or [ErrJob] if newest is of
// another job.
func SignHead(key *SigningKey, job JobID, newest *Entry, at time.Time) (Head, error) {
	h := Head{Job: job, At: TimeOf(at)}
	if newest != nil {
		if newest.Job != job {
			return Head{}, fmt.Errorf("signing a head of job %s: %w", job, ErrJob)
		}
		h.Seq, h.Hash = newest.Seq, newest.Hash
	}
	return h.signed(key)
}

func (h Head) signed(key *SigningKey) (Head, error) {
	h.Key = key.Public().Fingerprint()
	if err := h.check(); err != nil {
		return Head{}, err
	}
	h.Sig = Signature(ed25519.Sign(key.private, h.toSign()))
	return h, nil
}

func (h Head) check() error {
	switch {
	case !h.Job.Valid():
		return fmt.Errorf("%w: job of the head: want a UUIDv7 in lower case", ErrContent)
	case !h.At.Valid():
		return fmt.Errorf("%w: at of the head: want a time from 1970 to 9999", ErrContent)
	case h.Seq < 0 || h.Seq >= 1<<53:
		return fmt.Errorf("%w: seq of the head: want 0 or the number of an entry", ErrContent)
	}
	return nil
}

func (h Head) toSign() []byte {
	o := h.object()
	return o.end()
}

func (h Head) object() (o object) {
	o.text("at", h.At.String())
	o.text("hash", h.Hash.String())
	if h.Header != (Hash{}) {
		o.text("header", h.Header.String())
	}
	o.text("job", string(h.Job))
	o.text("key", h.Key.String())
	o.integer("seq", h.Seq)
	return o
}

// Canonical returns the head's one form, the last line of an export file without its line feed.
func (h Head) Canonical() ([]byte, error) {
	if err := h.check(); err != nil {
		return nil, err
	}
	o := h.object()
	o.text("sig", hex.EncodeToString(h.Sig[:]))
	return o.end(), nil
}

// ParseHead reads a head in any spelling of JSON; every member must be there (header only in an export). It does not
// check the signature. Errors wrap [ErrContent] or are a [*JSONError].
func ParseHead(raw []byte) (Head, error) { return parse(raw, Head.Canonical) }

// VerifyHead checks the signature. That says nothing until the fingerprint of public is one you trust: compare it, or
// use [Verify]. The error wraps [ErrSignature].
func VerifyHead(public PublicKey, h Head) error {
	if err := h.check(); err != nil {
		return err
	}
	if public.Fingerprint() != h.Key || !ed25519.Verify(public[:], h.toSign(), h.Sig[:]) {
		return fmt.Errorf("head of job %s at entry %d: %w", h.Job, h.Seq, ErrSignature)
	}
	return nil
}
