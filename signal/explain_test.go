package signal

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"
)

// explained writes the spans one a line: the bytes, what they are, ! why that is wrong, ? what may be behind it. What was
// encrypted is indented.
func explained(spans []Span) string {
	var b strings.Builder
	for _, s := range spans {
		fmt.Fprintf(&b, "%d-%d %s %q %s", s.From, s.To, s.Element, s.Text, s.Say)
		if s.Wrong != nil {
			fmt.Fprintf(&b, " ! %s", s.Wrong.Phrase())
		}
		if !s.Hint.IsZero() {
			fmt.Fprintf(&b, " ? %s", s.Hint)
		}
		b.WriteString("\n")
		for line := range strings.Lines(explained(s.Inside)) {
			b.WriteString("  " + line)
		}
	}
	return b.String()
}

func TestExplain(t *testing.T) {
	k1, err := ParseKey("0123456789abcdef0123456789abcdef")
	if err != nil {
		t.Fatal(err)
	}
	policy := Policy{Secret: func(_, account string) Secret { return Secret{Key: k1, EncryptedOnly: account == "A0B1"} }}
	now, err := ParseTimestamp("14:05:12,01-15-2026")
	if err != nil {
		t.Fatal(err)
	}
	mend := func(body string) string { return fmt.Sprintf("\n%s%04X%s\r", hex4(CRC([]byte(body))), len(body), body) }
	for name, c := range map[string]struct{ raw, want string }{
		"sia with a field and a time": {"\n3FB20050\"SIA-DCS\"0002R1L2A#ABC123[#ABC123|Nri1/FT005][M0123456789AB]_14:05:09,01-15-2026\r", `0-1 start "\n" line feed: a frame begins
1-5 crc "3FB2" checksum: 3FB2 came, 3FB2 is computed from the bytes
5-9 length "0050" length of the body in hexadecimal: 0050 came, 0050 is counted, 80 bytes
9-18 id "\"SIA-DCS\"" SIA event codes follow
18-22 sequence "0002" message number 2; its reply carries the same
22-24 receiver "R1" receiver number
24-27 prefix "L2A" account prefix
27-34 account "#ABC123" account ABC123
34-35 data "[" the data begin
35-42 account "#ABC123" account ABC123
42-43 data "|" bar: the next block begins
43-44 function "N" new events follow
44-47 modifier "ri1" area 1
47-48 data "/" slash: the next part
48-50 code "FT" fire trouble
50-53 number "005" zone 005
53-54 data "]" the data end
54-69 field "[M0123456789AB]" hardware address
69-89 timestamp "_14:05:09,01-15-2026" sent at 2026-01-15 14:05:09 UTC
89-90 end "\r" carriage return: the frame ends
`},
		"contact id of another account": {mend(`"ADM-CID"0000L0#1234[#56|3401 00 003][X093W30.0]`), `0-1 start "\n" line feed: a frame begins
1-5 crc "7164" checksum: 7164 came, 7164 is computed from the bytes
5-9 length "0030" length of the body in hexadecimal: 0030 came, 0030 is counted, 48 bytes
9-18 id "\"ADM-CID\"" Contact ID follows
18-22 sequence "0000" message number 0, as supervision and NAK have it
22-24 prefix "L0" account prefix
24-29 account "#1234" account 1234
29-30 data "[" the data begin
30-33 account "#56" account 56: the event is of this one, the frame comes from 1234
33-34 data "|" bar: the account ends
34-35 qualifier "3" closing, armed
35-38 code "401" by user
38-39 data " " blank
39-41 area "00" no area
41-42 data " " blank
42-45 number "003" user 003
45-46 data "]" the data end
46-57 field "[X093W30.0]" longitude: -93.5000 degrees
57-58 end "\r" carriage return: the frame ends
`},
		"checksum differs": {"\nDE910012\"ACK\"0000L0#1234[]\r", `0-1 start "\n" line feed: a frame begins
1-5 crc "DE91" checksum: DE91 came, DE90 is computed from the bytes ! checksum at byte 1: does not match the bytes. It says "DE91", expected: DE90
5-9 length "0012" length of the body in hexadecimal: 0012 came, 0012 is counted, 18 bytes
9-14 id "\"ACK\"" reply: received
14-18 sequence "0000" message number 0, as supervision and NAK have it
18-20 prefix "L0" account prefix
20-25 account "#1234" account 1234
25-26 data "[" the data begin
26-27 data "]" the data end
27-28 end "\r" carriage return: the frame ends
`},
		"carriage return missing": {"\nDE900012\"ACK\"0000L0#1234[]", `0-1 start "\n" line feed: a frame begins
1-5 crc "DE90" checksum: DE90 came, DE90 is computed from the bytes
5-9 length "0012" length of the body in hexadecimal: 0012 came, 0012 is counted, 18 bytes
9-14 id "\"ACK\"" reply: received
14-18 sequence "0000" message number 0, as supervision and NAK have it
18-20 prefix "L0" account prefix
20-25 account "#1234" account 1234
25-26 data "[" the data begin
26-27 data "]" the data end
27-27 end "" carriage return is missing ! end at byte 27: ends before it is complete
`},
		"checksum and message number": {"\n00000012\"ACK\"00x0L0#1234[]\r", `0-1 start "\n" line feed: a frame begins
1-5 crc "0000" checksum: 0000 came, 7FEF is computed from the bytes ! checksum at byte 1: does not match the bytes. It says "0000", expected: 7FEF
5-9 length "0012" length of the body in hexadecimal: 0012 came, 0012 is counted, 18 bytes
9-14 id "\"ACK\"" reply: received
14-28 sequence "00x0L0#1234[]\r" can not be read
`},
		"payload against its format": {mend(`"ADM-CID"0001L0#4816[#4816|2111 01 009]`), `0-1 start "\n" line feed: a frame begins
1-5 crc "05DE" checksum: 05DE came, 05DE is computed from the bytes
5-9 length "0027" length of the body in hexadecimal: 0027 came, 0027 is counted, 39 bytes
9-18 id "\"ADM-CID\"" Contact ID follows
18-22 sequence "0001" message number 1; its reply carries the same
22-24 prefix "L0" account prefix
24-29 account "#4816" account 4816
29-30 data "[" the data begin
30-36 data "#4816|" this far it follows its format
36-47 data "2111 01 009" this does not follow the format of its id ! data at byte 36: payload does not follow its format. It says "2111 01 009", expected: qualifier 1, 3 or 6
47-48 data "]" the data end
48-49 end "\r" carriage return: the frame ends
`},
		"in clear though it must not": {mend(`"NULL"0000L0#A0B1[]`), `0-1 start "\n" line feed: a frame begins
1-5 crc "D38B" checksum: D38B came, D38B is computed from the bytes
5-9 length "0013" length of the body in hexadecimal: 0013 came, 0013 is counted, 19 bytes
9-15 id "\"NULL\"" supervision of the link, no event ! kind of message at byte 10: came in clear for an account that must be encrypted. It says "NULL", expected: *NULL
15-19 sequence "0000" message number 0, as supervision and NAK have it
19-21 prefix "L0" account prefix
21-26 account "#A0B1" account A0B1
26-27 data "[" the data begin
27-28 data "]" the data end
28-29 end "\r" carriage return: the frame ends
`},
		// "worked: fire alarm, 128 bits" of testdata/encrypted.txt: the pad is kQ7w2Zp9sR.
		"encrypted": {"\nACF00076\"*SIA-DCS\"0006L0#1234[99C59FE7741C3740ED209ED711C14129FD5C82DA2B0D5F18037918C151E98271FC595DB2C1EC81A9B066787A65A7F07B\r", `0-1 start "\n" line feed: a frame begins
1-5 crc "ACF0" checksum: ACF0 came, ACF0 is computed from the bytes
5-9 length "0076" length of the body in hexadecimal: 0076 came, 0076 is counted, 118 bytes
9-19 id "\"*SIA-DCS\"" SIA event codes follow; encrypted
19-23 sequence "0006" message number 6; its reply carries the same
23-25 prefix "L0" account prefix
25-30 account "#1234" account 1234
30-127 data "[99C59FE7741C3740ED209ED711C14129FD5C82DA2B0D5F18037918C151E98271FC595DB2C1EC81A9B066787A65A7F07B" encrypted: 48 bytes in hexadecimal, decrypted below
  0-10 pad "kQ7w2Zp9sR" pad: 10 bytes that mean nothing and vary, so that 16 divides the length
  10-11 pad "|" bar: the pad ends, the message begins
  11-16 account "#1234" account 1234
  16-17 data "|" bar: the next block begins
  17-18 function "N" new events follow
  18-21 modifier "ri1" area 1
  21-22 data "/" slash: the next part
  22-24 code "FA" fire alarm
  24-27 number "005" zone 005
  27-28 data "]" the data end
  28-48 timestamp "_14:05:09,01-15-2026" sent at 2026-01-15 14:05:09 UTC
127-128 end "\r" carriage return: the frame ends
`},
		"nothing": {"", `0-0 start "" nothing came ! start at byte 0: no line feed in front
`},
		"garbage": {"hello", `0-5 start "hello" can not be read ! start at byte 0: no line feed in front
`},
	} {
		if got := explained(policy.Explain([]byte(c.raw), now)); got != c.want {
			t.Errorf("%s:\n%swant\n%s", name, got, c.want)
		}
	}
}

// Mistakes that senders make are named.
func TestExplainHints(t *testing.T) {
	k1, err := ParseKey("0123456789abcdef0123456789abcdef")
	if err != nil {
		t.Fatal(err)
	}
	policy := Policy{Secret: func(string, string) Secret { return Secret{Key: k1} }}
	hints := func(raw []byte, now time.Time) string {
		var all []string
		for _, s := range policy.Explain(raw, now) {
			for _, s := range append(s.Inside, s) {
				if !s.Hint.IsZero() {
					all = append(all, s.Hint.String())
				}
			}
		}
		return strings.Join(all, "; ")
	}
	byName := map[string][]byte{}
	for _, v := range append(vectors(t, "frames.txt"), vectors(t, "encrypted.txt")...) {
		byName[v.name] = v.frame
	}
	now, err := ParseTimestamp("14:05:12,01-15-2026")
	if err != nil {
		t.Fatal(err)
	}
	const differs = "the key of this account differs here and at the panel, or the panel encrypts in another way"
	for name, want := range map[string]string{
		"checksum of the wrong family (CCITT)": "a checksum of another family: this one is 8005, reflected, and starts at 0",
		"checksum with its bytes swapped":      "its two bytes are swapped: the high one comes first",
		"checksum made over the length too":    "made over the length too: it begins at the first quote",
		"checksum made over LF too":            "made over line feed too: it begins at the first quote",
		"length one too small, checksum right": "",
		"length that counts CR":                "too large by 1: only what stands between the length and the carriage return counts",
		"length in decimal":                    "this is the length in decimal: it is written in hexadecimal",
		"no bar in the first seventeen bytes":  differs,
		"time stamp in the clear":              "something behind the bracket stands in the clear: all of it is encrypted, up to the end",
		"closing bracket in the clear":         "something behind the bracket stands in the clear: all of it is encrypted, up to the end",
		"odd number of digits":                 "",
		"time stamp that can not be read":      "day and month are swapped: the month comes first",
		"worked: fire alarm zone 5, no time":   "",
		"worked: fire alarm, 128 bits":         "",
		"worked: supervision, 256 bits":        differs, // its key is another
	} {
		if byName[name] == nil {
			t.Errorf("no vector %q", name)
		}
		if got := hints(byName[name], now); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
	late, err := Frame{ID: IDNull, Account: "4816", Prefix: "L0", Timestamp: FormatTimestamp(now.Add(-5*time.Hour - 3*time.Second))}.Encrypt(k1, PadFrom(make([]byte, PadSize)))
	if err != nil {
		t.Fatal(err)
	}
	if got, want := hints(late.Append(nil), now), "-5h0m0s off: local time was written, and it has to be UTC"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if got, want := hints(late.Append(nil), now.Add(-5*time.Hour-3*time.Minute)), "the clocks differ by 2m57s"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	body := `"NULL"0000L0#4816[]`
	crc := CRC([]byte(body))
	binary := append(append([]byte{'\n', byte(crc >> 8), byte(crc)}, "0013"+body...), '\r')
	if got, want := hints(binary, now), "it stands as two bytes: it is written as four characters"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	small := []byte("\n" + strings.ToLower(hex4(crc)) + "0013" + body + "\r")
	if got, want := hints(small, now), "right, but in small letters: capitals are asked for"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// What goes to a page or another program.
func TestExplainJSON(t *testing.T) {
	spans := Explain([]byte("\nDE910012\"ACK\"0000L0#1234[]\r"))
	js, err := json.Marshal(spans[1])
	want := `{"from":1,"to":5,"element":"crc","text":"DE91","say":"checksum: DE91 came, DE90 is computed from the bytes",` +
		`"wrong":{"offset":1,"element":"crc","cause":"checksum","got":"DE91","want":"DE90","say":"frame: crc at byte 1: checksum differs, it says \"DE91\", expected DE90"}}`
	if err != nil || string(js) != want {
		t.Errorf("%s, %v", js, err)
	}
	shout := func(format string, args ...any) string { return strings.ToUpper(fmt.Sprintf(format, args...)) }
	if got, want := phrase("%s; encrypted", phrase("opening, disarmed")).In(shout), "OPENING, DISARMED; ENCRYPTED"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

func FuzzExplain(f *testing.F) {
	for _, file := range []string{"frames.txt", "encrypted.txt"} {
		for _, v := range vectors(f, file) {
			f.Add(v.frame, false)
			f.Add(v.frame, true)
		}
	}
	key, err := ParseKey("0123456789abcdef0123456789abcdef")
	if err != nil {
		f.Fatal(err)
	}
	policy := Policy{Secret: func(_, account string) Secret {
		if account == "1234" {
			return Secret{Key: key, EncryptedOnly: true}
		}
		return Secret{}
	}}
	f.Fuzz(func(t *testing.T, raw []byte, mend bool) {
		if mend && len(raw) > bodyOffset+1 { // a fuzzer seldom makes a right checksum
			body := raw[bodyOffset : len(raw)-1]
			raw = fmt.Appendf(nil, "\n%s%04X%s\r", hex4(CRC(body)), len(body), body)
		}
		r := policy.Judge(raw, noon)
		wrong := 0
		var check func(raw []byte, spans []Span)
		check = func(raw []byte, spans []Span) {
			at := 0
			for i, s := range spans {
				missing := s.To == s.From && i == len(spans)-1 && s.Wrong != nil
				if s.From != at || s.To <= s.From && !missing || s.Say.String() == "" || s.Element == "" {
					t.Errorf("%q: span %+v after byte %d", raw, s, at)
				}
				if raw != nil && s.Text != DecodeText(string(raw[s.From:s.To])) {
					t.Errorf("%q: span %+v has another text", raw, s)
				}
				if strings.Contains(s.Say.String()+s.Hint.String(), "%!") {
					t.Errorf("%q: span says %s %s", raw, s.Say, s.Hint)
				}
				if at = s.To; s.Wrong != nil {
					wrong++
				}
				if len(s.Inside) > 0 {
					check(nil, s.Inside)
					if end := s.Inside[len(s.Inside)-1].To; end*2 != s.To-s.From-1 {
						t.Errorf("%q: %d bytes inside %+v", raw, end, s)
					}
				}
			}
			if raw != nil && at != len(raw) {
				t.Errorf("%q: explained up to %d", raw, at)
			}
		}
		spans := policy.Explain(raw, noon)
		check(raw, spans)
		want := 0
		if r.Err != nil && !(r.Frame.IsReply() && Cause(r.Err) == "unknown id") {
			want = 1
		}
		if wrong != want {
			t.Errorf("%q: %d spans are wrong, and Judge says %v\n%s", raw, wrong, r.Err, explained(spans))
		}
	})
}
