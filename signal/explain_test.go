package signal

import (
	"fmt"
	"strings"
	"testing"
)

func explained(raw string) string {
	var b strings.Builder
	for _, s := range Explain([]byte(raw)) {
		mark := ""
		if s.Bad {
			mark = "BAD "
		}
		fmt.Fprintf(&b, "%d-%d %s %s%q %s\n", s.From, s.To, s.Element, mark, s.Text, s.Say)
	}
	return b.String()
}

func TestExplain(t *testing.T) {
	for raw, want := range map[string]string{
		"\n3FB20050\"SIA-DCS\"0002R1L2A#ABC123[#ABC123|Nri1/FT005][M0123456789AB]_14:05:09,01-15-2026\r": `0-1 start "\n" line feed: a frame begins
1-5 crc "3FB2" checksum of the body, agrees
5-9 length "0050" length of the body in hexadecimal: 80 bytes
9-18 id "\"SIA-DCS\"" SIA event codes follow
18-22 sequence "0002" message number 2; its reply carries the same
22-24 receiver "R1" receiver number
24-27 prefix "L2A" account prefix
27-34 account "#ABC123" account ABC123
34-54 data "[#ABC123|Nri1/FT005]" new: fire trouble, zone 005, area 1
54-69 field "[M0123456789AB]" hardware address
69-89 timestamp "_14:05:09,01-15-2026" sent at 2026-01-15 14:05:09 UTC
89-90 end "\r" carriage return: the frame ends
`,
		"\nDE910012\"ACK\"0000L0#1234[]\r": `0-1 start "\n" line feed: a frame begins
1-5 crc BAD "DE91" frame: crc at byte 1: checksum differs, it says "DE91", expected DE90
5-9 length "0012" length of the body in hexadecimal: 18 bytes
9-14 id "\"ACK\"" reply: received
14-18 sequence "0000" message number 0; its reply carries the same
18-20 prefix "L0" account prefix
20-25 account "#1234" account 1234
25-27 data "[]" no event
27-28 end "\r" carriage return: the frame ends
`,
		"\n00000012\"ACK\"00x0L0#1234[]\r": `0-1 start "\n" line feed: a frame begins
1-5 crc BAD "0000" frame: crc at byte 1: checksum differs, it says "0000", expected ` + hex4(CRC([]byte("\"ACK\"00x0L0#1234[]"))) + `
5-9 length "0012" length of the body in hexadecimal: 18 bytes
9-14 id "\"ACK\"" reply: received
14-28 sequence BAD "00x0L0#1234[]\r" frame: sequence at byte 14: not as DC-09 has it, it says "00", expected at least 4 digits
`,
		"hello": `0-5 start BAD "hello" frame: start at byte 0: no line feed in front
`,
	} {
		if got := explained(raw); got != want {
			t.Errorf("%q:\n%swant\n%s", raw, got, want)
		}
	}
}

func FuzzExplain(f *testing.F) {
	for _, file := range []string{"frames.txt", "encrypted.txt"} {
		for _, v := range vectors(f, file) {
			f.Add(v.frame)
		}
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		_, err := ParseFrame(raw)
		at, bad := 0, false
		for _, s := range Explain(raw) {
			if s.From != at || s.To < s.From || s.Say == "" || s.Element == "" || s.Text != DecodeText(string(raw[s.From:s.To])) {
				t.Errorf("%q: span %+v after byte %d", raw, s, at)
			}
			at, bad = s.To, bad || s.Bad
		}
		if at != len(raw) || bad != (err != nil) {
			t.Errorf("%q: explained up to %d, bad %t, %v", raw, at, bad, err)
		}
	})
}
