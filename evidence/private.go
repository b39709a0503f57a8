package evidence

import (
	"bytes"
	"crypto/aes"
	"crypto/cipher"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
)

// MaxBlobBytes is the largest blob that is sealed or opened.
const MaxBlobBytes = 64 << 20

const (
	privateMember = "private"
	sealVersion   = "v1:"
	keyBytes      = 32
	nonceBytes    = 12
	tagBytes      = 16
)

// Errors of sealing and opening, to match with errors.Is.
var (
	ErrErased    = errors.New("erased: the key of this job was destroyed")
	ErrNoPrivate = errors.New("no personal part in this entry")
	ErrSealed    = errors.New("can not be opened: wrong key, or changed after it was sealed")
	ErrKeyForm   = errors.New("not a key")
)

// JobKey is the data key under which the personal parts and blobs of one job are sealed. It prints as stars and does
// not marshal. A nil *JobKey stands for a key that was destroyed.
type JobKey struct{ secret [keyBytes]byte }

// NewJobKey makes a key from 32 bytes of random, which must come from a cryptographic source.
func NewJobKey(random io.Reader) (*JobKey, error) {
	var k JobKey
	if _, err := io.ReadFull(random, k.secret[:]); err != nil {
		return nil, fmt.Errorf("making a job key: reading random bytes: %w", err)
	}
	return &k, nil
}

// JobKeyFrom takes back what Secret gave. The error wraps [ErrKeyForm].
func JobKeyFrom(secret []byte) (*JobKey, error) {
	if len(secret) != keyBytes {
		return nil, fmt.Errorf("job key of %d bytes, want %d: %w", len(secret), keyBytes, ErrKeyForm)
	}
	return &JobKey{[keyBytes]byte(secret)}, nil
}

// Secret returns the 32 bytes, for wrapping the key in a store and for nothing else; nil for a destroyed key.
func (k *JobKey) Secret() []byte {
	if k == nil {
		return nil
	}
	return append([]byte(nil), k.secret[:]...)
}

// Format prints stars, whatever the verb.
func (k JobKey) Format(f fmt.State, _ rune) { _, _ = io.WriteString(f, "********") }

// MarshalJSON refuses: a key has no place in a document.
func (k JobKey) MarshalJSON() ([]byte, error) {
	return nil, fmt.Errorf("a job key is not written as JSON: %w", ErrKeyForm)
}

// MarshalText refuses as MarshalJSON does; log handlers ask for it.
func (k JobKey) MarshalText() ([]byte, error) {
	return nil, fmt.Errorf("a job key is not written as text: %w", ErrKeyForm)
}

// Mark returns 32 hexadecimal digits made from text with the key (HMAC-SHA256, RFC 2104, its first half). What carries
// one can not be guessed from its hash by somebody without the key; "" for a destroyed key.
func (k *JobKey) Mark(text string) string {
	if k == nil {
		return ""
	}
	mac := hmac.New(sha256.New, k.secret[:])
	_, _ = io.WriteString(mac, text) // a hash takes everything
	return hex.EncodeToString(mac.Sum(nil)[:sha256.Size/2])
}

func (k *JobKey) aead() (cipher.AEAD, error) {
	if k == nil {
		return nil, ErrErased
	}
	block, err := aes.NewCipher(k.secret[:])
	if err != nil {
		return nil, err
	}
	return cipher.NewGCM(block)
}

func (k *JobKey) seal(out []byte, random io.Reader, plain []byte, bound string) ([]byte, error) {
	aead, err := k.aead()
	if err != nil {
		return nil, err
	}
	var nonce [nonceBytes]byte
	if _, err := io.ReadFull(random, nonce[:]); err != nil {
		return nil, fmt.Errorf("reading random bytes: %w", err)
	}
	return aead.Seal(append(out, nonce[:]...), nonce[:], plain, []byte(bound)), nil
}

func (k *JobKey) open(sealed []byte, bound string) ([]byte, error) {
	aead, err := k.aead()
	if err != nil {
		return nil, err
	}
	if len(sealed) < nonceBytes+tagBytes {
		return nil, ErrSealed
	}
	plain, err := aead.Open(nil, sealed[:nonceBytes], sealed[nonceBytes:], []byte(bound))
	if err != nil {
		return nil, ErrSealed
	}
	return plain, nil
}

// bound is what ties a personal part to its entry; none of the three can contain the bar.
func (c Content) bound() string { return string(c.Job) + "|" + string(c.ID) + "|" + string(c.Kind) }

// SealPrivate returns c with personal (any value that is written as JSON) sealed under key as member "private" of the
// body, which must not have one yet. It takes 12 bytes of random. Do it before the content is hashed or sent.
// Errors wrap [ErrErased] for a nil key, [ErrContent], or are a [*JSONError].
func SealPrivate(key *JobKey, random io.Reader, c Content, personal any) (Content, error) {
	fail := func(err error) (Content, error) {
		return Content{}, fmt.Errorf("sealing the personal part of %s entry: %w", c.Kind, err)
	}
	plain, err := CanonicalValue(personal)
	if err != nil {
		return fail(err)
	}
	members, err := c.members()
	if err != nil {
		return fail(err)
	}
	if _, there := members[privateMember]; there {
		return fail(fmt.Errorf("%w: the body has a personal part already", ErrContent))
	}
	sealed, err := key.seal(nil, random, plain, c.bound())
	if err != nil {
		return fail(err)
	}
	// base64url and the version have no character that JSON escapes.
	members[privateMember] = json.RawMessage(`"` + sealVersion + base64.RawURLEncoding.EncodeToString(sealed) + `"`)
	if c.Body, err = CanonicalValue(members); err != nil {
		return fail(err)
	}
	if _, err = c.Canonical(); err != nil {
		return fail(err)
	}
	return c, nil
}

// OpenPrivate returns the personal part of c as canonical JSON. Errors wrap [ErrNoPrivate], [ErrErased] if key is nil,
// [ErrSealed] for the wrong key or a changed part, [ErrNewerFormat], or [ErrContent].
func OpenPrivate(key *JobKey, c Content) (json.RawMessage, error) {
	fail := func(err error) (json.RawMessage, error) {
		return nil, fmt.Errorf("opening the personal part of entry %s: %w", c.ID, err)
	}
	if spelt(c.Body) && !bytes.Contains(c.Body, []byte(`"`+privateMember+`"`)) { // most have none, and there are many
		return fail(ErrNoPrivate)
	}
	members, err := c.members()
	if err != nil {
		return fail(err)
	}
	member, there := members[privateMember]
	if !there {
		return fail(ErrNoPrivate)
	}
	if key == nil {
		return fail(ErrErased)
	}
	var text string
	if err := json.Unmarshal(member, &text); err != nil {
		return fail(fmt.Errorf("%w: private is no string", ErrContent))
	}
	encoded, v1 := strings.CutPrefix(text, sealVersion)
	if !v1 {
		return fail(ErrNewerFormat)
	}
	sealed, err := base64.RawURLEncoding.Strict().DecodeString(encoded)
	if err != nil {
		return fail(ErrSealed)
	}
	plain, err := key.open(sealed, c.bound())
	if err != nil {
		return fail(err)
	}
	return plain, nil
}

func (c Content) members() (map[string]json.RawMessage, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	var members map[string]json.RawMessage
	if err := json.Unmarshal(c.Body, &members); err != nil {
		return nil, fmt.Errorf("%w: body: %w", ErrContent, err)
	}
	return members, nil
}

// SealBlob seals a photo, recording or file of a job and returns its address: SHA-256 of the sealed bytes. It takes 12
// bytes of random. Errors wrap [ErrErased] for a nil key or [ErrTooLarge].
func SealBlob(key *JobKey, random io.Reader, job JobID, plain []byte) (sealed []byte, address Hash, err error) {
	if len(plain) > MaxBlobBytes {
		return nil, Hash{}, fmt.Errorf("sealing a blob of %d bytes, at most %d: %w", len(plain), MaxBlobBytes, ErrTooLarge)
	}
	out := make([]byte, 0, len(sealVersion)+nonceBytes+len(plain)+tagBytes)
	sealed, err = key.seal(append(out, sealVersion...), random, plain, blobBound(job))
	if err != nil {
		return nil, Hash{}, fmt.Errorf("sealing a blob: %w", err)
	}
	return sealed, BlobAddress(sealed), nil
}

// OpenBlob opens what SealBlob sealed. Errors wrap [ErrErased] for a nil key, [ErrSealed], [ErrTooLarge] or [ErrNewerFormat].
func OpenBlob(key *JobKey, job JobID, sealed []byte) ([]byte, error) {
	if len(sealed) > MaxBlobBytes+len(sealVersion)+nonceBytes+tagBytes {
		return nil, fmt.Errorf("opening a blob: %w", ErrTooLarge)
	}
	rest, v1 := bytes.CutPrefix(sealed, []byte(sealVersion))
	if !v1 {
		return nil, fmt.Errorf("opening a blob: %w", ErrNewerFormat)
	}
	plain, err := key.open(rest, blobBound(job))
	if err != nil {
		return nil, fmt.Errorf("opening a blob: %w", err)
	}
	return plain, nil
}

func blobBound(job JobID) string { return string(job) + "|blob" }

// BlobAddress returns the address of sealed bytes. It needs no key: a store checks with it what it reads.
func BlobAddress(sealed []byte) Hash { return sha256.Sum256(sealed) }
