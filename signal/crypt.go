package signal

import (
	"bytes"
	"crypto/aes"
	"crypto/cipher"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"time"
)

// Causes inside a [FrameError] about encryption, for errors.Is.
var (
	ErrDecrypt      = errors.New("does not decrypt: key or mode differs")
	ErrNotEncrypted = errors.New("came in clear for an account that must be encrypted")
)

// Key is an AES key of 128, 192 or 256 bits. It prints as stars, whatever the verb. The zero
// value is no key.
type Key struct {
	bits string
}

// ParseKey reads a key as hex (32, 48 or 64 digits) or, when it is not that, as 16, 24 or 32
// typed characters whose bytes are the key, as some senders have it. A typed phrase is a
// weak key (DC-09-2007 5.4.5.3). The error does not repeat the text.
func ParseKey(text string) (Key, error) {
	if b, err := hex.DecodeString(text); err == nil && keySize(len(b)) {
		return Key{string(b)}, nil
	}
	if !keySize(len(text)) {
		return Key{}, errors.New("reading an encryption key: it has 32, 48 or 64 hex digits, or 16, 24 or 32 characters")
	}
	return Key{text}, nil
}

func keySize(n int) bool { return n == 16 || n == 24 || n == 32 }

// IsZero reports whether there is no key.
func (k Key) IsZero() bool { return k.bits == "" }

const stars = "****"

// Format writes stars.
func (k Key) Format(s fmt.State, _ rune) { s.Write([]byte(stars)) }

// MarshalText writes stars: a key is never in a file or document that this package makes.
func (k Key) MarshalText() ([]byte, error) { return []byte(stars), nil }

// PadSize is the number of pad bytes that always suffices for Encrypt.
const PadSize = aes.BlockSize

// PadFrom turns random bytes into pad that is printable, as senders should choose it.
func PadFrom(random []byte) []byte {
	const alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+-"
	pad := make([]byte, len(random))
	for i, b := range random {
		pad[i] = alphabet[b%64]
	}
	return pad
}

// Encrypt returns the frame as it goes on the wire, DC-09-2013 5.4.4: pad, bar, data,
// closing bracket, fields and time stamp in AES-CBC with a zero vector, in hex. The pad comes
// first and takes the place of a random vector: give PadSize fresh random bytes each time
// (see PadFrom); as many as are needed are used, 7C, 5B and 5D must not be among them. A time
// stamp is compulsory.
func (f Frame) Encrypt(k Key, pad []byte) (Frame, error) {
	if _, ok := f.Time(); !ok {
		return Frame{}, fmt.Errorf("encrypting frame: %w", ErrTimestamp)
	}
	if f.Encrypted {
		return Frame{}, fmt.Errorf("encrypting frame: %w", ErrEncrypted)
	}
	block, err := aes.NewCipher([]byte(k.bits))
	if err != nil {
		return Frame{}, errors.New("encrypting frame: no key")
	}
	inner := f.appendTail([]byte(f.Data))
	n := aes.BlockSize - (len(inner)+1)%aes.BlockSize // 1 to 16, never none (5.4.4.3)
	if len(pad) < n || strings.ContainsAny(string(pad[:n]), "|[]") {
		return Frame{}, fmt.Errorf("encrypting frame: %w: pad is %d bytes without bar and brackets", ErrSyntax, n)
	}
	plain := append(append(append([]byte{}, pad[:n]...), '|'), inner...)
	cipher.NewCBCEncrypter(block, make([]byte, aes.BlockSize)).CryptBlocks(plain, plain)
	f.Data, f.Fields, f.Timestamp, f.Encrypted = strings.ToUpper(hex.EncodeToString(plain)), nil, "", true
	return f, nil
}

// Decrypt returns the clear frame that is inside an encrypted one. The error is a
// *FrameError with [ErrDecrypt], whose Offset is that of the encrypted region. The time stamp
// is not judged; see [InWindow].
func (f Frame) Decrypt(k Key) (Frame, error) {
	plain, err := f.decrypted(k)
	if err != nil {
		return Frame{}, err
	}
	clear := f
	clear.Encrypted, clear.Data = false, ""
	body := append(clear.appendHead(nil), plain[bytes.IndexByte(plain, '|')+1:]...)
	clear, err = parseBody(body)
	if err != nil {
		return Frame{}, f.undecryptable(phrase("data and a closing bracket behind the pad"))
	}
	return clear, nil
}

// decrypted returns pad, bar and message; the first bar ends the pad, which can not hold one.
func (f Frame) decrypted(k Key) ([]byte, error) {
	block, err := aes.NewCipher([]byte(k.bits))
	if err != nil || !f.Encrypted {
		return nil, f.undecryptable(phrase("an encrypted frame and a key"))
	}
	plain, err := hex.DecodeString(f.Data)
	if err != nil || len(plain) == 0 || len(plain)%aes.BlockSize != 0 {
		return nil, f.undecryptable(phrase("hex digits, a multiple of 32"))
	}
	cipher.NewCBCDecrypter(block, make([]byte, aes.BlockSize)).CryptBlocks(plain, plain)
	if bar := bytes.IndexByte(plain, '|'); bar < 1 || bar > aes.BlockSize {
		return nil, f.undecryptable(phrase("1 to 16 bytes of pad and a bar"))
	}
	return plain, nil
}

func (f Frame) undecryptable(want Phrase) error {
	return &FrameError{Offset: f.DataOffset(), Element: "data", Err: ErrDecrypt, Want: want}
}

// AckEncrypted is the reply to an encrypted message: encrypted, with the receiver's time
// (DC-09-2013 5.5.3.1). f is the message, in clear or not.
func (f Frame) AckEncrypted(k Key, pad []byte, at time.Time) (Frame, error) {
	ack := f.Ack()
	ack.Timestamp = FormatTimestamp(at)
	return ack.Encrypt(k, pad)
}

// How far the time stamp of an encrypted message may be from the receiver's clock. The
// figures agree between implementations; the text, and whether the limits are inclusive,
// is unconfirmed.
const (
	MaxAge   = 40 * time.Second
	MaxAhead = 20 * time.Second
)

// InWindow reports whether a time stamp is near enough to the receiver's clock. Both limits
// count as inside.
func InWindow(stamp, now time.Time) bool { return Policy{}.inWindow(stamp, now) }

func (p Policy) inWindow(stamp, now time.Time) bool {
	oldest, newest := p.Age, p.Ahead
	if oldest <= 0 {
		oldest = MaxAge
	}
	if newest <= 0 {
		newest = MaxAhead
	}
	age := now.Sub(stamp)
	return age <= oldest && age >= -newest
}

// Secret is how an account is to be read. The zero value is clear.
type Secret struct {
	Key           Key
	EncryptedOnly bool // clear messages are not taken
}
