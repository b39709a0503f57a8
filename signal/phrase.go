package signal

import (
	"encoding/json"
	"fmt"
)

// Phrase is a sentence for a person, kept with its arguments so that a program whose readers
// speak another language can say it in theirs. This package knows English only. The zero
// value says nothing.
type Phrase struct {
	Format string // English, as fmt.Sprintf takes it: the key of a translation
	Args   []any  // strings, numbers, and Phrases that are to be said in the same language
}

// phrase makes a Phrase; format is a literal, so that those who translate find it.
func phrase(format string, args ...any) Phrase { return Phrase{format, args} }

// verbatim is what reads the same in every language.
func verbatim(s string) Phrase { return Phrase{"%s", []any{s}} }

// String says the phrase in English.
func (p Phrase) String() string { return p.In(fmt.Sprintf) }

// In says the phrase with a translator in place of fmt.Sprintf.
func (p Phrase) In(say func(format string, args ...any) string) string {
	if p.Format == "" {
		return ""
	}
	args := make([]any, len(p.Args))
	for i, a := range p.Args {
		if inner, ok := a.(Phrase); ok {
			a = inner.In(say)
		}
		args[i] = a
	}
	return say(p.Format, args...)
}

// IsZero reports whether the phrase says nothing.
func (p Phrase) IsZero() bool { return p.Format == "" }

// MarshalJSON writes the sentence in English.
func (p Phrase) MarshalJSON() ([]byte, error) { return json.Marshal(p.String()) }

// elementWords names the element of a [FrameError] or [Span].
func elementWords(element string) Phrase {
	switch element {
	case "start":
		return phrase("start")
	case "crc":
		return phrase("checksum")
	case "length":
		return phrase("length")
	case "id":
		return phrase("kind of message")
	case "sequence":
		return phrase("message number")
	case "receiver":
		return phrase("receiver number")
	case "prefix":
		return phrase("account prefix")
	case "account":
		return phrase("account")
	case "data":
		return phrase("data")
	case "field":
		return phrase("extended field")
	case "timestamp":
		return phrase("time stamp")
	case "end":
		return phrase("end")
	}
	return verbatim(element)
}

// causeWords says one of the sentinels of this package.
func causeWords(err error) Phrase {
	switch err {
	case ErrStart:
		return phrase("no line feed in front")
	case ErrTruncated:
		return phrase("ends before it is complete")
	case ErrTooLong:
		return phrase("longer than DC-09 allows")
	case ErrNotHex:
		return phrase("not four digits 0-9 A-F")
	case ErrCRC:
		return phrase("does not match the bytes")
	case ErrLength:
		return phrase("does not match the number of bytes")
	case ErrSyntax:
		return phrase("not as DC-09 has it")
	case ErrUnknownID:
		return phrase("id is not one we can read")
	case ErrPayload:
		return phrase("payload does not follow its format")
	case ErrEncrypted:
		return phrase("encrypted, and no key is known")
	case ErrTimestamp:
		return phrase("time stamp missing or outside the window")
	case ErrDecrypt:
		return phrase("does not decrypt: key or mode differs")
	case ErrNotEncrypted:
		return phrase("came in clear for an account that must be encrypted")
	}
	return verbatim(err.Error())
}
