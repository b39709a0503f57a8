package signal

import (
	"bytes"
	"crypto/aes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"reflect"
	"strings"
	"testing"
	"time"
)

// encrypted chains the blocks by hand, for plaintexts that no sender should make.
func encrypted(key Key, plain string) string {
	block, err := aes.NewCipher([]byte(key.bits))
	if err != nil {
		panic(err)
	}
	out, before := []byte{}, make([]byte, 16)
	for p := []byte(plain); len(p) > 0; p = p[16:] {
		one := make([]byte, 16)
		for i := range one {
			one[i] = p[i] ^ before[i]
		}
		block.Encrypt(one, one)
		out, before = append(out, one...), one
	}
	return strings.ToUpper(hex.EncodeToString(out))
}

func TestFieldDetails(t *testing.T) {
	at := time.Date(2026, time.January, 15, 14, 5, 9, 0, time.UTC)
	for raw, want := range map[string]Detail{
		"IK\xFCche, 60 \xB0C":          {Kind: FieldText, Text: "Küche, 60 °C"},
		"I" + strings.Repeat("x", 256): {Kind: FieldText, Text: strings.Repeat("x", 256)},
		"I" + strings.Repeat("x", 257): {Kind: FieldText, Text: strings.Repeat("x", 257), Fault: phrase("longer than %d bytes", 256)},
		"H14:05:09,01-15-2026":         {Kind: FieldOccurred, Text: "14:05:09,01-15-2026", Occurred: at},
		"H_14:05:09,01-15-2026":        {Kind: FieldOccurred, Text: "_14:05:09,01-15-2026", Occurred: at},
		"H14:05":                       {Kind: FieldOccurred, Text: "14:05", Fault: phrase("no time of the form %s", stampForm)},
		"X093W23.456":                  {Kind: FieldLongitude, Text: "093W23.456", Degrees: -93 - 23.456/60},
		"X009E30":                      {Kind: FieldLongitude, Text: "009E30", Degrees: 9.5},
		"X180E00.0":                    {Kind: FieldLongitude, Text: "180E00.0", Degrees: 180},
		"X180E00.1":                    {Kind: FieldLongitude, Text: "180E00.1", Fault: phrase("no longitude of the form %s", "093W23.456")},
		"X093W60":                      {Kind: FieldLongitude, Text: "093W60", Fault: phrase("no longitude of the form %s", "093W23.456")},
		"X093N10":                      {Kind: FieldLongitude, Text: "093N10", Fault: phrase("no longitude of the form %s", "093W23.456")},
		"X-93.39":                      {Kind: FieldLongitude, Text: "-93.39", Fault: phrase("no longitude of the form %s", "093W23.456")},
		"Y45N12.345":                   {Kind: FieldLatitude, Text: "45N12.345", Degrees: 45 + 12.345/60},
		"Y45S12":                       {Kind: FieldLatitude, Text: "45S12", Degrees: -45.2},
		"Y91N00":                       {Kind: FieldLatitude, Text: "91N00", Fault: phrase("no latitude of the form %s", "45N12.345")},
		"Z-12.5":                       {Kind: FieldAltitude, Text: "-12.5", Altitude: -12.5},
		"Z430":                         {Kind: FieldAltitude, Text: "430", Altitude: 430},
		"Zhigh":                        {Kind: FieldAltitude, Text: "high", Fault: phrase("no number")},
		"Z--1":                         {Kind: FieldAltitude, Text: "--1", Fault: phrase("no number")},
		"M1234567890AB":                {Kind: FieldHardware, Text: "1234567890AB"},
		"M1234567890":                  {Kind: FieldHardware, Text: "1234567890", Fault: phrase("not twelve hex digits")},
		"CDP3,2":                       {Kind: FieldSupervision, Text: "DP3,2", Category: "DP3", Paths: 2},
		"CSP6":                         {Kind: FieldSupervision, Text: "SP6", Category: "SP6"},
		"CDP5":                         {Kind: FieldSupervision, Text: "DP5"}, // EN 50136-1 has none
		"CSP31":                        {Kind: FieldSupervision, Text: "SP31"},
		"J2":                           {Kind: FieldPath, Text: "2"},
		"J22":                          {Kind: FieldPath, Text: "22", Fault: phrase("longer than %d bytes", 1)},
		"N\xFC":                        {Kind: FieldNetwork, Text: "ü", Fault: phrase("only ASCII may stand here")},
		"Vhttps://example.invalid/":    {Kind: FieldVerification, Text: "https://example.invalid/"},
		"Qwhat":                        {Kind: FieldUnknown, Text: "what"},
		"\xFCx":                        {Kind: FieldUnknown, Text: "x"},
	} {
		got := Field{Name: raw[:1], Value: raw[1:]}.Detail()
		if got.Name != DecodeText(raw[:1]) || got.Words.IsZero() {
			t.Errorf("%q: %+v", raw, got)
		}
		want.Name, want.Words = got.Name, got.Words
		if diff := got.Degrees - want.Degrees; diff > 1e-12 || diff < -1e-12 {
			t.Errorf("%q: %v degrees, want %v", raw, got.Degrees, want.Degrees)
		}
		if got.Degrees = want.Degrees; !reflect.DeepEqual(got, want) {
			t.Errorf("%q: %+v, want %+v", raw, got, want)
		}
	}
	// Letters, sizes and sets of characters of the table in the format document, written out again.
	sizes := map[string]int{"A": 12, "C": 64, "H": 21, "I": 256, "J": 1, "K": 64, "L": 256, "M": 12, "N": 128, "O": 256, "P": 256, "R": 256, "S": 256, "T": 1, "V": 256, "X": 12, "Y": 12, "Z": 12}
	for letter := 'A'; letter <= 'Z'; letter++ {
		form := formOf(string(letter))
		if form.max != sizes[string(letter)] || form.text != strings.ContainsRune("ILOPRSV", letter) {
			t.Errorf("%c: %+v", letter, form)
		}
	}
	js, err := json.Marshal(Field{"X", "093W30"}.Detail())
	if want := `{"name":"X","kind":"longitude","words":"longitude","text":"093W30","degrees":-93.5}`; err != nil || string(js) != want {
		t.Errorf("%s, %v", js, err)
	}
}

func FuzzField(f *testing.F) {
	for _, s := range []string{"X093W23.456", "Y45N12.345", "Z-12.5", "H_14:05:09,01-15-2026", "CDP3,2", "M1234567890AB", "I\x80", "", "Q"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		field := Field{}
		if s != "" {
			field = Field{s[:1], s[1:]}
		}
		d := field.Detail()
		if d.Text != DecodeText(field.Value) || d.Kind == "" || d.Words.String() == "" {
			t.Errorf("%q: %+v", s, d)
		}
		if !(d.Degrees >= -180 && d.Degrees <= 180) || d.Paths < 0 || d.Paths > 0 && d.Category == "" {
			t.Errorf("%q: %+v", s, d)
		}
		if !d.Fault.IsZero() && (d.Degrees != 0 || d.Altitude != 0 || !d.Occurred.IsZero()) {
			t.Errorf("%q: a value in spite of %s: %+v", s, d.Fault, d)
		}
		if back, err := EncodeText(d.Text); err != nil || back != field.Value {
			t.Errorf("%q came back as %q, %v", field.Value, back, err)
		}
		if _, err := json.Marshal(d); err != nil {
			t.Error(err)
		}
	})
}

func FuzzTimestamp(f *testing.F) {
	for _, s := range []string{"14:05:09,01-15-2026", "23:59:60,12-31-2016", "00:00:00,02-29-2024", "00:00:00,02-29-2023", "14:05:09 01-15-2026", "14:05:09,15-01-2026"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		at, err := ParseTimestamp(s)
		seconds, ok := plainTime(s)
		if ok != (err == nil) || ok && at.Unix() != seconds {
			t.Errorf("%q: %v, %v; counted by hand %d, %t", s, at, err, seconds, ok)
		}
		if err == nil && FormatTimestamp(at) != s {
			t.Errorf("%q came back as %q", s, FormatTimestamp(at))
		}
		if err != nil && !errors.Is(err, ErrTimestamp) {
			t.Error(err)
		}
	})
}

func FuzzKey(f *testing.F) {
	for _, s := range []string{"000102030405060708090a0b0c0d0e0f", "larkwater mill!!", strings.Repeat("f", 48), strings.Repeat("0", 64), "", strings.Repeat("x", 31)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		k, err := ParseKey(s)
		want := ""
		if b, notHex := hex.DecodeString(s); notHex == nil && (len(s) == 32 || len(s) == 48 || len(s) == 64) {
			want = string(b)
		} else if len(s) == 16 || len(s) == 24 || len(s) == 32 {
			want = s
		}
		if k.bits != want || (err == nil) != (want != "") || k.IsZero() != (want == "") {
			t.Errorf("%q: %d bytes, %v", s, len(k.bits), err)
		}
		if err != nil {
			if len(s) > 3 && strings.Contains(err.Error(), s) && !strings.Contains("reading an encryption key: it has 32, 48 or 64 hex digits, or 16, 24 or 32 characters", s) {
				t.Errorf("the error repeats %q: %v", s, err)
			}
			return
		}
		frame := Frame{ID: IDNull, Prefix: "L0", Account: "4816", Timestamp: "14:05:09,01-15-2026"}
		safe, err := frame.Encrypt(k, PadFrom(make([]byte, PadSize)))
		if err != nil {
			t.Fatal(err)
		}
		if clear, err := safe.Decrypt(k); err != nil || !reflect.DeepEqual(clear, frame) {
			t.Errorf("%+v, %v", clear, err)
		}
	})
}

func FuzzReply(f *testing.F) {
	key, err := ParseKey("0123456789abcdef0123456789abcdef")
	if err != nil {
		f.Fatal(err)
	}
	for _, v := range append(vectors(f, "frames.txt"), vectors(f, "encrypted.txt")...) {
		for _, raw := range [][]byte{v.frame, v.reply} {
			f.Add(raw)
		}
	}
	sent := Frame{ID: IDContactID, Sequence: 1, Prefix: "L0", Account: "4816"}
	f.Fuzz(func(t *testing.T, raw []byte) {
		if len(raw) > bodyOffset+1 {
			body := raw[bodyOffset : len(raw)-1]
			crc := hex4(CRC(body))
			raw = append(append(append([]byte("\n"+crc), hex4(uint16(len(body)))...), body...), '\r')
		}
		reply, err := ParseReply(raw)
		if err != nil {
			if reply.Answers(sent) && !reply.IsReply() {
				t.Errorf("%q is no reply, and answers", raw)
			}
			return
		}
		if again := reply.Append(nil); !bytes.Equal(again, raw) {
			t.Errorf("%q came back as %q", raw, again)
		}
		if reply.Answers(sent) && reply.ID != IDNak && (reply.Sequence != 1 || reply.Account != "4816") {
			t.Errorf("%q answers number 1 of 4816", raw)
		}
		if Judge(raw).Proposed != StaySilent {
			t.Errorf("%q: a reply is answered", raw)
		}
		if reply.Encrypted {
			reply.Decrypt(key)
		}
	})
}

func FuzzFrameJSON(f *testing.F) {
	for _, v := range vectors(f, "frames.txt") {
		fr, _ := ParseFrame(v.frame)
		if js, err := json.Marshal(fr); err == nil {
			f.Add(js)
		}
	}
	f.Fuzz(func(t *testing.T, js []byte) {
		var fr Frame
		if json.Unmarshal(js, &fr) != nil {
			return
		}
		again, err := json.Marshal(fr)
		if err != nil {
			t.Fatal(err)
		}
		var back Frame
		if err := json.Unmarshal(again, &back); err != nil || !reflect.DeepEqual(fr, back) {
			t.Errorf("%q\n%+v came back as\n%+v, %v", js, fr, back, err)
		}
		if raw, err := fr.Encode(); err == nil {
			parsed, err := ParseFrame(raw)
			if fr.Prefix == "" {
				fr.Prefix = "L0"
			}
			if err != nil || !reflect.DeepEqual(parsed, fr) {
				t.Errorf("%+v was encoded and read as %+v, %v", fr, parsed, err)
			}
		}
	})
}
