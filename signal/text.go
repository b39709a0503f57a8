package signal

import (
	"fmt"
	"strings"
)

// Windows-1252 where it differs from Latin-1. The five bytes without a character stand for
// the control of the same number, as in the WHATWG encoding standard, so that any byte
// string survives decoding and encoding.
var win1252 = [32]rune{
	'€', 0x81, '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', 0x8D, 'Ž', 0x8F,
	0x90, '‘', '’', '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', 0x9D, 'ž', 'Ÿ',
}

// DecodeText turns Windows-1252 bytes, the text encoding of DC-09, into UTF-8.
func DecodeText(wire string) string {
	if ascii(wire) {
		return wire
	}
	var b strings.Builder
	for i := range len(wire) {
		if c := wire[i]; 0x80 <= c && c < 0xA0 {
			b.WriteRune(win1252[c-0x80])
		} else {
			b.WriteRune(rune(c))
		}
	}
	return b.String()
}

// EncodeText turns UTF-8 into Windows-1252 bytes. The error, which matches [ErrSyntax],
// names the first character that can not be sent.
func EncodeText(text string) (string, error) {
	if ascii(text) {
		return text, nil
	}
	var b strings.Builder
next:
	for _, r := range text {
		if r < 0x80 || 0xA0 <= r && r <= 0xFF {
			b.WriteByte(byte(r))
			continue
		}
		for i, have := range win1252 {
			if r == have {
				b.WriteByte(byte(0x80 + i))
				continue next
			}
		}
		return "", fmt.Errorf("%q can not be sent in a signal (Windows-1252): %w", r, ErrSyntax)
	}
	return b.String(), nil
}

func ascii(s string) bool {
	for i := range len(s) {
		if s[i] >= 0x80 {
			return false
		}
	}
	return true
}
