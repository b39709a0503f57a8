package signal

import (
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// crcHint names the mistake behind a checksum that differs, where it is one that is often made.
func crcHint(raw, body []byte) Phrase {
	got := strings.ToUpper(string(raw[1:5]))
	want := hex4(CRC(body))
	switch {
	case got == want:
		return phrase("right, but in small letters: capitals are asked for")
	case got == want[2:]+want[:2]:
		return phrase("its two bytes are swapped: the high one comes first")
	case raw[3] == '0' && raw[7] == '"' && raw[len(raw)-1] == '\r' && uint16(raw[1])<<8|uint16(raw[2]) == CRC(raw[7:len(raw)-1]):
		return phrase("it stands as two bytes: it is written as four characters")
	}
	for _, span := range []struct {
		bytes []byte
		say   Phrase
	}{
		{raw[5 : bodyOffset+len(body)], phrase("made over the length too: it begins at the first quote")},
		{append([]byte("\n"), raw[5:bodyOffset+len(body)]...), phrase("made over line feed and length too: it begins at the first quote")},
		{append([]byte("\n"), body...), phrase("made over line feed too: it begins at the first quote")},
		{append(append([]byte(nil), body...), '\r'), phrase("made over carriage return too: it ends before it")},
	} {
		if got == hex4(CRC(span.bytes)) {
			return span.say
		}
	}
	for _, family := range []struct {
		start, polynomial uint16
		reflected         bool
	}{{0xFFFF, 0xA001, true}, {0xFFFF, 0x1021, false}, {0, 0x1021, false}, {0x1D0F, 0x1021, false}, {0, 0x8408, true}, {0xFFFF, 0x8408, true}, {0, 0x8005, false}} {
		v := crcOf(body, family.start, family.polynomial, family.reflected)
		if got == hex4(v) || got == hex4(^v) {
			return phrase("a checksum of another family: this one is 8005, reflected, and starts at 0")
		}
	}
	return Phrase{}
}

// crcOf is any checksum of sixteen bits, bit by bit.
func crcOf(body []byte, v, polynomial uint16, reflected bool) uint16 {
	for _, b := range body {
		if reflected {
			v ^= uint16(b)
		} else {
			v ^= uint16(b) << 8
		}
		for range 8 {
			switch {
			case reflected && v&1 == 1:
				v = v>>1 ^ polynomial
			case reflected:
				v >>= 1
			case v&0x8000 != 0:
				v = v<<1 ^ polynomial
			default:
				v <<= 1
			}
		}
	}
	return v
}

// lengthHint names the mistake behind a length that differs.
func lengthHint(got, body []byte) Phrase {
	text := string(got)
	n, err := strconv.ParseUint(text, 16, 16)
	switch {
	case strings.ToUpper(text) == hex4(uint16(len(body))):
		return phrase("right, but in small letters: capitals are asked for")
	case text == pad4(len(body)):
		return phrase("this is the length in decimal: it is written in hexadecimal")
	case err != nil:
		return Phrase{}
	case int(n) == utf8.RuneCount(body):
		return phrase("characters were counted: bytes are")
	case int(n) > len(body) && int(n) <= len(body)+10:
		return phrase("too large by %d: only what stands between the length and the carriage return counts", int(n)-len(body))
	}
	return Phrase{}
}

func pad4(n int) string {
	s := strconv.Itoa(n)
	return "0000"[:max(4-len(s), 0)] + s
}

// timeHint names the mistake behind a time stamp that can not be read or, with the receiver's
// clock, is far from it.
func timeHint(f Frame, now time.Time) Phrase {
	swapped := func() (time.Time, bool) {
		s := f.Timestamp
		if len(s) != len(stampForm) {
			return time.Time{}, false
		}
		at, err := ParseTimestamp(s[:9] + s[12:15] + s[9:12] + s[15:])
		return at, err == nil
	}
	at, ok := f.Time()
	if !ok {
		if _, ok := swapped(); ok {
			return phrase("day and month are swapped: the month comes first")
		}
		return Phrase{}
	}
	if now.IsZero() {
		return Phrase{}
	}
	if other, ok := swapped(); ok && InWindow(other, now) {
		return phrase("day and month are swapped: the month comes first")
	}
	off := at.Sub(now)
	if quarters := off.Round(15 * time.Minute); quarters != 0 && quarters.Abs() <= 14*time.Hour && InWindow(at.Add(-quarters), now) {
		return phrase("%s off: local time was written, and it has to be UTC", quarters.String())
	}
	return phrase("the clocks differ by %s", off.Round(time.Second).Abs().String())
}
