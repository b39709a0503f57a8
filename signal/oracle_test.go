package signal

import (
	"crypto/aes"
	"encoding/hex"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// A second reader of frames, as plain as can be: regular expressions, one bit or byte at a time, nothing of the package but
// the names of its types. What it says of a frame has to be what Judge says.

var (
	plainFrame = regexp.MustCompile(`(?s)\A\n([0-9A-F]{4})(0[0-9A-F]{3})("(\*?)([A-Za-z0-9-]+)"([0-9]{4})(?:R[0-9A-Fa-f]{1,6})?L[0-9A-Fa-f]{0,6}#([0-9A-Fa-f]{1,16})\[([^\r\n]*))\r\z`)
	plainRest  = regexp.MustCompile(`(?s)\A([^][]*)\]((?:\[[^][]*\])*)(?:_([^][]+))?\z`)
	plainCID   = regexp.MustCompile(`\A(?:#?([0-9A-Fa-f]{1,16}))?\|([136])([0-9B-F]{3}) ([0-9B-F]{2}) ([0-9B-F]{3})\z`)
	plainHead  = regexp.MustCompile(`\A(?:#?([0-9A-Fa-f]{1,16}))?(?:\|)`)
	plainCode  = regexp.MustCompile(`(?s)\A([A-Z][A-Z])([^/|^*]*)`)
	plainDigit = regexp.MustCompile(`(?s)\A(ri|id|pi|ti|da|ai)([^A-Za-z/|^*]*)`)
	plainOther = regexp.MustCompile(`(?s)\A([a-z][a-z])([^/|^*]*)`)
	plainBlank = regexp.MustCompile(`(?s)\A([0-9]*)( .*)\z`)
	plainText  = regexp.MustCompile(`(?s)\A(?:\^([^^]*)\^|\^([^|]*)|\*([^|]*))`)
	plainStamp = regexp.MustCompile(`\A([01][0-9]|2[0-3]):([0-5][0-9]):([0-5][0-9]),(0[1-9]|1[0-2])-([0-2][0-9]|3[01])-([0-9]{4})\z`)
)

// plainAnswer returns the answer and a line for each event.
func plainAnswer(raw, key []byte, encryptedOnly bool, now time.Time) (answer string, events []string) {
	m := plainFrame.FindSubmatch(raw)
	if m == nil || len(m[3]) > 4095 {
		return "silence", nil
	}
	crc := 0
	for _, b := range m[3] {
		for bit := range 8 {
			in := int(b) >> bit & 1
			out := crc & 1
			crc >>= 1
			if in != out {
				crc ^= 0xA001
			}
		}
	}
	length, _ := strconv.ParseInt(string(m[2]), 16, 32)
	if fmt.Sprintf("%04X", crc) != string(m[1]) || int(length) != len(m[3]) {
		return "silence", nil
	}
	encrypted, id, account, rest := string(m[4]) == "*", string(m[5]), string(m[7]), string(m[8])
	reply := slices.Contains([]string{"ACK", "NAK", "DUH", "RSP"}, id)
	if !encrypted && plainRest.FindString(rest) == "" || reply {
		return "silence", nil
	}
	if encrypted {
		if key == nil {
			return "DUH", nil
		}
		plain, ok := plainDecrypt(rest, key)
		if !ok || strings.ContainsAny(plain, "\r\n") {
			return "DUH", nil
		}
		rest = plain
	} else if encryptedOnly {
		return "DUH", nil
	}
	r := plainRest.FindStringSubmatch(rest)
	if r == nil {
		return "DUH", nil
	}
	if encrypted {
		at, ok := plainTime(r[3])
		if !ok || now.Unix()-at > 40 || at-now.Unix() > 20 {
			return "NAK", nil
		}
	}
	ok := true
	switch id {
	case "NULL":
	case "ADM-CID":
		if c := plainCID.FindStringSubmatch(r[1]); c == nil {
			ok = false
		} else {
			events = []string{strings.Join([]string{orElse(c[1], account), c[2], c[3], strings.TrimLeft(c[4], "0"), c[5], "", "", ""}, " ")}
		}
	case "SIA-DCS":
		events, ok = plainSIA(r[1], account)
	default:
		ok = false
	}
	if !ok {
		return "DUH", nil
	}
	return "ACK", events
}

func orElse(a, b string) string {
	if a == "" {
		return b
	}
	return a
}

// plainDecrypt undoes the chaining by hand: each block is decrypted alone, then XORed with the one before it.
func plainDecrypt(digits string, key []byte) (string, bool) {
	c, err := hex.DecodeString(digits)
	if err != nil || len(c) == 0 || len(c)%16 != 0 {
		return "", false
	}
	block, err := aes.NewCipher(key)
	if err != nil {
		panic(err)
	}
	var plain, before []byte
	before = make([]byte, 16)
	for ; len(c) > 0; c = c[16:] {
		one := make([]byte, 16)
		block.Decrypt(one, c[:16])
		for i := range one {
			plain = append(plain, one[i]^before[i])
		}
		before = c[:16]
	}
	pad, rest, found := strings.Cut(string(plain), "|")
	return rest, found && len(pad) >= 1 && len(pad) <= 16
}

// plainTime counts seconds since 1970 by going through the years and months.
func plainTime(s string) (int64, bool) {
	m := plainStamp.FindStringSubmatch(s)
	if m == nil {
		return 0, false
	}
	var n [7]int
	for i := 1; i < 7; i++ {
		n[i], _ = strconv.Atoi(m[i])
	}
	hour, minute, second, month, day, year := n[1], n[2], n[3], n[4], n[5], n[6]
	leap := func(y int) bool { return y%4 == 0 && y%100 != 0 || y%400 == 0 }
	lengths := []int{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}
	if leap(year) {
		lengths[1] = 29
	}
	if day < 1 || day > lengths[month-1] {
		return 0, false
	}
	days := 0
	for y := 1970; y < year; y++ {
		days += 365
		if leap(y) {
			days++
		}
	}
	for y := year; y < 1970; y++ {
		days -= 365
		if leap(y) {
			days--
		}
	}
	for _, l := range lengths[:month-1] {
		days += l
	}
	return int64(days+day-1)*86400 + int64(hour*3600+minute*60+second), true
}

func plainSIA(data, account string) (events []string, ok bool) {
	head := plainHead.FindStringSubmatch(data)
	if head == nil {
		return nil, false
	}
	account = orElse(head[1], account)
	rest := data[len(head[0])-1:] // at the first bar
	type event struct{ code, value, area, late, modifiers, text string }
	var found []event
	say := func(s string) {
		s = strings.TrimSpace(regexp.MustCompile(`[\x00-\x1f\x7f]`).ReplaceAllString(plainUTF8(s), " "))
		e := &found[len(found)-1]
		e.text = strings.TrimSpace(e.text + " " + s)
	}
	for rest != "" {
		rest = rest[1:] // a bar
		if rest == "" || rest[0] == '|' {
			continue
		}
		function := rest[0]
		rest = rest[1:]
		if function != 'N' && function != 'O' {
			text, _, _ := strings.Cut(rest, "|")
			rest = rest[len(text):]
			if function != 'A' {
				text = string([]byte{function}) + text
			}
			if len(found) > 0 {
				say(text)
			}
			continue
		}
		var names, values []string // modifiers in force, the newest last
		for rest != "" && rest[0] != '|' {
			if rest[0] == '/' {
				rest = rest[1:]
				continue
			}
			isCode := false
			blank := ""
			if m := plainCode.FindStringSubmatch(rest); m != nil {
				rest, isCode = rest[len(m[0]):], true
				value := m[2]
				if b := plainBlank.FindStringSubmatch(value); b != nil {
					value, blank = b[1], b[2]
				}
				e := event{code: m[1], value: value}
				if function == 'O' {
					e.late = "late"
				}
				var all []string
				for i, name := range names {
					if name == "ri" {
						e.area = plainNumber(values[i])
					}
					all = append(all, name+values[i])
				}
				e.modifiers = plainUTF8(strings.Join(all, "/"))
				found = append(found, e)
			} else {
				m := plainDigit.FindStringSubmatch(rest)
				if m == nil {
					m = plainOther.FindStringSubmatch(rest)
				}
				if m == nil {
					return nil, false
				}
				rest = rest[len(m[0]):]
				if i := slices.Index(names, m[1]); i >= 0 {
					names, values = slices.Delete(names, i, i+1), slices.Delete(values, i, i+1)
				}
				names, values = append(names, m[1]), append(values, m[2])
			}
			if m := plainText.FindStringSubmatch(rest); m != nil {
				rest, blank = rest[len(m[0]):], m[1]+m[2]+m[3]
			}
			if isCode {
				say(blank)
			}
		}
	}
	for _, e := range found {
		events = append(events, strings.Join([]string{account, "", e.code, e.area, plainUTF8(e.value), e.late, e.modifiers, e.text}, " "))
	}
	return events, len(found) > 0
}

// plainNumber is the number without its noughts, nothing for nought, -1 for none or one beyond 31 bits.
func plainNumber(s string) string {
	short := strings.TrimLeft(s, "0")
	if s == "" || strings.Trim(s, "0123456789") != "" || len(short) > 10 || len(short) == 10 && short > "2147483647" {
		return "-1"
	}
	return short
}

// plainUTF8 has the upper half of Windows-1252 as one row of characters.
func plainUTF8(s string) string {
	upper := []rune("€\u0081‚ƒ„…†‡ˆ‰Š‹Œ\u008dŽ\u008f\u0090‘’“”•–—˜™š›œ\u009džŸ")
	out := ""
	for _, b := range []byte(s) {
		if b >= 0x80 && b <= 0x9f {
			out += string(upper[b-0x80])
		} else {
			out += string(rune(b))
		}
	}
	return out
}

// told is what Judge says, in the words of plainAnswer.
func told(r Received) (answer string, events []string) {
	for _, e := range r.Events {
		q, area, address := "", "", e.Address
		if e.Format == CID {
			q = map[Qualifier]string{New: "1", Opening: "1", Restore: "3", Closing: "3", StillPresent: "6"}[e.Qualifier]
			c, _ := ParseContactID(r.Frame.Data)
			area = strings.TrimLeft(c.Group, "0")
		} else {
			s, _ := ParseSIA(r.Frame.Data)
			address = valueOf(s, e, r.Events)
			if e.Area != 0 {
				area = strconv.Itoa(e.Area)
			}
			if ri, ok := e.Modifier("ri"); e.NumberIs == Area { // the code itself names the area
				area = ""
				if ok {
					area = plainNumber(ri)
				}
			}
		}
		late := ""
		if e.Late {
			late = "late"
		}
		events = append(events, strings.Join([]string{e.Account, q, e.Code, area, address, late, e.Modifiers, e.Text}, " "))
	}
	return r.Proposed.String(), events
}

// valueOf is the address as received: of a user in a modifier Event has that.
func valueOf(s SIA, e Event, all []Event) string {
	i := slices.Index(all, e)
	for _, b := range s.Blocks {
		for _, p := range b.Packets {
			if p.Code[0] < 'a' {
				if i == 0 {
					return DecodeText(p.Value)
				}
				i--
			}
		}
	}
	return ""
}

// agree compares the two readers, with the frame's checksum and length mended as well.
func agree(t interface{ Errorf(string, ...any) }, raw []byte, key Key, only bool) {
	bodies := [][]byte{raw}
	if len(raw) > 10 {
		body := raw[9 : len(raw)-1]
		bodies = append(bodies, fmt.Appendf(nil, "\n%04X%04X%s\r", CRC(body), len(body), body))
	}
	for _, raw := range bodies {
		r := JudgeWith(raw, func(string, string) Secret { return Secret{Key: key, EncryptedOnly: only} }, noon)
		got, events := told(r)
		bits := []byte(key.bits)
		if key.IsZero() {
			bits = nil
		}
		want, plain := plainAnswer(raw, bits, only, noon)
		if got != want || !slices.Equal(events, plain) {
			t.Errorf("%q\nJudge: %s %q (%v)\nplain: %s %q", raw, got, events, r.Err, want, plain)
		}
		if r.Encrypted { // the clear frame inside reads the same
			again, err := ParseFrame(r.Frame.Append(nil))
			if err == nil && fmt.Sprint(again) != fmt.Sprint(r.Frame) {
				t.Errorf("%q: the frame inside, %+v, written and read is %+v", raw, r.Frame, again)
			}
		}
	}
}

func TestAgainstPlainReader(t *testing.T) {
	k1, err := ParseKey("0123456789abcdef0123456789abcdef")
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range append(vectors(t, "frames.txt"), vectors(t, "encrypted.txt")...) {
		for _, key := range []Key{{}, k1} {
			agree(t, v.frame, key, false)
			agree(t, v.frame, key, true)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		f := drawMessage(t)
		raw := f.Append(nil)
		if rapid.Bool().Draw(t, "encrypt") {
			f.Timestamp = FormatTimestamp(noon.Add(time.Duration(rapid.IntRange(-45, 25).Draw(t, "off")) * time.Second))
			if rapid.IntRange(0, 9).Draw(t, "other stamp") == 0 {
				f.Timestamp = "23:59:60,02-29-2026"
			}
			pad := rapid.SliceOfN(rapid.Byte().Filter(func(b byte) bool { return !strings.ContainsRune("|[]", rune(b)) }), 16, 16).Draw(t, "pad")
			if safe, err := f.Encrypt(k1, pad); err == nil {
				raw = safe.Append(nil)
			}
		}
		agree(t, raw, k1, false)
		for range rapid.IntRange(0, 3).Draw(t, "damage") {
			i := rapid.IntRange(0, len(raw)-1).Draw(t, "at")
			raw[i] = rapid.SampledFrom([]byte("[]|/#_\"*^LR0A9az \x00\x80\xFF")).Draw(t, "byte")
		}
		agree(t, raw, k1, false)
	})
}

// drawMessage makes messages that mean something, or nearly.
func drawMessage(t *rapid.T) Frame {
	f := drawFrame(t)
	pick := func(label string, from ...string) string { return rapid.SampledFrom(from).Draw(t, label) }
	account := pick("account", "", "#4816", "4816", "#a0B1", "#", "#12345678901234567")
	switch f.ID = pick("id", IDSIA, IDSIA, IDContactID, IDNull, "X-1"); f.ID {
	case IDContactID:
		f.Data = account + "|" + pick("q", "1", "3", "6", "2") + pick("code", "111", "401", "777", "B7F", "A11") + " " + pick("area", "00", "01", "0F", "1") + " " + pick("zone", "000", "009", "00B", "0010")
	case IDSIA:
		var b strings.Builder
		b.WriteString(account)
		for range rapid.IntRange(0, 12).Draw(t, "parts") {
			b.WriteString(pick("part", "|", "|N", "|O", "|A", "|Z", "ri1", "ri02", "ri", "id7", "ti10:30", "va5x", "/", "/", "FA005", "FA", "OP4", "OP", "CG3", "QQ7", "DF", "NA12 Mill", "^a|b^", "^open", "*text", "\xFCber", " ", "x"))
		}
		f.Data = b.String()
	}
	return f
}

func FuzzAgainstPlainReader(f *testing.F) {
	key, err := ParseKey("0123456789abcdef0123456789abcdef")
	if err != nil {
		f.Fatal(err)
	}
	for _, v := range append(vectors(f, "frames.txt"), vectors(f, "encrypted.txt")...) {
		f.Add(v.frame, true)
		f.Add(v.frame, false)
	}
	f.Fuzz(func(t *testing.T, raw []byte, keyed bool) {
		if keyed {
			agree(t, raw, key, false)
		} else {
			agree(t, raw, Key{}, false)
		}
	})
}

// However frames are cut, joined and spread over connections, and in whatever order those are served, each is judged the
// same, and none is lost.
func TestFramesOverConnections(t *testing.T) {
	var frames [][]byte
	for _, v := range append(vectors(t, "frames.txt"), vectors(t, "encrypted.txt")...) {
		if _, err := ParseFrame(v.frame); err == nil {
			frames = append(frames, v.frame)
		}
	}
	one := func(raw []byte) string {
		js, err := JudgeWith(slices.Clone(raw), nil, noon).MarshalJSON()
		if err != nil {
			t.Fatal(err)
		}
		return string(js)
	}
	rapid.Check(t, func(t *rapid.T) {
		conns := rapid.IntRange(1, 5).Draw(t, "connections")
		streams := make([][]byte, conns)
		var want []string
		for range rapid.IntRange(1, 12).Draw(t, "frames") {
			raw := rapid.SampledFrom(frames).Draw(t, "frame")
			c := rapid.IntRange(0, conns-1).Draw(t, "connection")
			streams[c] = append(streams[c], raw...)
			if rapid.Bool().Draw(t, "line end") {
				streams[c] = append(streams[c], "\r\n"...)
			}
			want = append(want, one(raw))
		}
		splits := make([]Splitter, conns)
		var got []string
		for left := true; left; {
			left = false
			for _, c := range rapid.Permutation([]int{0, 1, 2, 3, 4}[:conns]).Draw(t, "order") {
				n := rapid.IntRange(0, min(40, len(streams[c]))).Draw(t, "cut")
				splits[c].Write(streams[c][:n])
				streams[c] = streams[c][n:]
				for p, ok := splits[c].Next(); ok; p, ok = splits[c].Next() {
					if p.Err != nil {
						t.Fatalf("%+v", p)
					}
					got = append(got, one(p.Raw))
				}
				left = left || len(streams[c]) > 0
			}
		}
		slices.Sort(got)
		slices.Sort(want)
		if !slices.Equal(got, want) {
			t.Fatalf("%d frames came out of %d", len(got), len(want))
		}
	})
}
