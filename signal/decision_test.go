package signal

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"
)

// The decision table of docs/format/wire-dc09.md, row by row, in its order; a row is named by its condition. The table holds
// inside an open window: what is answered outside one, and for an account that nobody knows, is decided by who delivers
// (internal/app, internal/receiver and the receive command test those rows).
func TestDecisionTable(t *testing.T) {
	k1, err := ParseKey("0123456789abcdef0123456789abcdef")
	if err != nil {
		t.Fatal(err)
	}
	keyed := Policy{Secret: func(_, account string) Secret {
		if account == "4816" {
			return Secret{Key: k1}
		}
		return Secret{EncryptedOnly: account == "A0B1"}
	}}
	frame := func(body string) []byte {
		return fmt.Appendf(nil, "\n%s%04X%s\r", hex4(CRC([]byte(body))), len(body), body)
	}
	safe := func(plain string) []byte { // of anything: also of what no sender should make
		pad := 16 - (len(plain)+1)%16
		return frame(`"*ADM-CID"0007L0#4816[` + encrypted(k1, strings.Repeat("p", pad)+"|"+plain))
	}
	const good = `"ADM-CID"0007L0#1234[#1234|1111 01 009]`
	stamp := func(off time.Duration) string { return "_" + FormatTimestamp(noon.Add(off)) }
	type row struct {
		raw  []byte
		want Verdict
		err  error
	}
	for _, c := range []struct {
		condition string
		rows      []row
	}{
		{"no LF, no CR, field not hex, body over 0FFF", []row{
			{frame(good)[1:], StaySilent, ErrStart},
			{frame(good)[:49-1], StaySilent, ErrTruncated},
			{[]byte("\nXXXX0027" + good + "\r"), StaySilent, ErrNotHex},
			{[]byte("\n" + hex4(CRC([]byte(good))) + "00G7" + good + "\r"), StaySilent, ErrNotHex},
			{frame(`"NULL"0000L0#1234[` + strings.Repeat("x", 4078) + "]"), StaySilent, ErrTooLong},
			{[]byte("\n" + hex4(CRC([]byte(good))) + "1027" + good + "\r"), StaySilent, ErrTooLong},
		}},
		{"CRC wrong", []row{{[]byte("\n00000027" + good + "\r"), StaySilent, ErrCRC}}},
		{"CRC wrong, length wrong", []row{{[]byte("\n00000026" + good + "\r"), StaySilent, ErrCRC}}},
		{"length wrong, CRC right", []row{{[]byte("\n" + hex4(CRC([]byte(good))) + "0026" + good + "\r"), StaySilent, ErrLength}}},
		{"head of the body does not parse", []row{
			{frame(`"ADM-CID"007L0#1234[#1234|1111 01 009]`), StaySilent, ErrSyntax},
			{frame(`"ADM-CID"0007L0#1234[#1234|1111 01 009`), StaySilent, ErrTruncated}, // number and account could be read: silence all the same
		}},
		{"a reply", []row{
			{frame(`"ACK"0007L0#1234[]`), StaySilent, ErrUnknownID},
			{frame(`"DUH"0007L0#1234[]`), StaySilent, ErrUnknownID},
			{frame(`"NAK"0000R0L0A0[]_14:05:12,01-15-2026`), StaySilent, ErrUnknownID},
			{frame(`"RSP"0007L0#1234[x]`), StaySilent, ErrUnknownID},
			{frame(`"*ACK"0007L0#4816[00`), StaySilent, ErrUnknownID},
		}},
		{"encrypted, no key for the account", []row{{frame(`"*NULL"0000L0#1234[` + strings.Repeat("0", 32)), CannotProcess, ErrEncrypted}}},
		{"encrypted, bad hex", []row{{frame(`"*NULL"0000L0#4816[` + strings.Repeat("G", 32)), CannotProcess, ErrDecrypt}}},
		{"encrypted, length not a multiple of 16", []row{
			{frame(`"*NULL"0000L0#4816[` + strings.Repeat("0", 30)), CannotProcess, ErrDecrypt}, {frame(`"*NULL"0000L0#4816[`), CannotProcess, ErrDecrypt},
		}},
		{"encrypted, no bar in the first 17 bytes", []row{
			{frame(`"*NULL"0000L0#4816[` + encrypted(k1, strings.Repeat("p", 17)+"|]"+stamp(0)[:13])), CannotProcess, ErrDecrypt},
			{frame(`"*NULL"0000L0#4816[` + encrypted(k1, "|]"+stamp(0)+strings.Repeat("p", 10))), CannotProcess, ErrDecrypt}, // no pad at all
		}},
		{"encrypted, no closing bracket", []row{{safe("#4816|1111 01 009" + stamp(0)), CannotProcess, ErrDecrypt}}},
		{"encrypted, timestamp missing", []row{{safe("#4816|1111 01 009]"), RefuseTime, ErrTimestamp}}},
		{"encrypted, timestamp outside the window", []row{
			{safe("#4816|1111 01 009]" + stamp(-40*time.Second)), Acknowledge, nil},
			{safe("#4816|1111 01 009]" + stamp(-41*time.Second)), RefuseTime, ErrTimestamp},
			{safe("#4816|1111 01 009]" + stamp(20*time.Second)), Acknowledge, nil},
			{safe("#4816|1111 01 009]" + stamp(21*time.Second)), RefuseTime, ErrTimestamp},
			{safe("#4816|9999 99 99]" + stamp(-time.Hour)), RefuseTime, ErrTimestamp}, // before the payload is looked at
		}},
		{"clear message for an account that must be encrypted", []row{
			{frame(`"ADM-CID"0007L0#A0B1[#A0B1|1111 01 009]`), CannotProcess, ErrNotEncrypted}, {frame(`"NULL"0000L0#A0B1[]`), CannotProcess, ErrNotEncrypted},
		}},
		{"id not known, or payload does not parse", []row{
			{frame(`"XYZ-123"0007L0#1234[x]`), CannotProcess, ErrUnknownID},
			{frame(`"ADM-CID"0007L0#1234[#1234|2111 01 009]`), CannotProcess, ErrPayload},
			{frame(`"SIA-DCS"0007L0#1234[#1234|FA009]`), CannotProcess, ErrPayload},
			{safe("#4816|1111 01 09]" + stamp(0)), CannotProcess, ErrPayload},
		}},
		{"duplicate", []row{{frame(good), Acknowledge, nil}, {frame(good), Acknowledge, nil}}},
		{"otherwise", []row{
			{frame(good), Acknowledge, nil},
			{frame(good + "_00:00:00,01-01-2000"), Acknowledge, nil},
			{frame(good + "_yesterday"), Acknowledge, nil},
			{safe("#4816|1111 01 009]" + stamp(0)), Acknowledge, nil},
			{frame(`"NULL"0000L0#1234[]`), Acknowledge, nil},
			{frame(`"NULL"0815L#1234[0000]`), Acknowledge, nil},
			{frame(`"ADM-CID"0007L0#1234[#1234|1777 01 009]`), Acknowledge, nil},
		}},
	} {
		t.Run(c.condition, func(t *testing.T) {
			repeat := ""
			for _, row := range c.rows {
				r := keyed.Judge(row.raw, noon)
				if r.Proposed != row.want || !errors.Is(r.Err, row.err) || row.err == nil && r.Err != nil {
					t.Errorf("%q: %v, %v; want %v, %v", row.raw, r.Proposed, r.Err, row.want, row.err)
				}
				if len(r.Events) > 0 && r.Proposed != Acknowledge || r.Damaged() != (row.want == StaySilent) {
					t.Errorf("%q: %d events, damaged %t", row.raw, len(r.Events), r.Damaged())
				}
				if key := DuplicateKey(r.Frame); c.condition == "duplicate" {
					if repeat != "" && key != repeat {
						t.Errorf("%q is not a repeat of itself", row.raw)
					}
					repeat = key
				}
			}
		})
	}
}

// What is unconfirmed can be chosen.
func TestPolicy(t *testing.T) {
	k1, err := ParseKey("0123456789abcdef0123456789abcdef")
	if err != nil {
		t.Fatal(err)
	}
	secret := func(string, string) Secret { return Secret{Key: k1} }
	f, err := Frame{ID: IDNull, Account: "4816", Timestamp: FormatTimestamp(noon.Add(-30 * time.Second))}.Encrypt(k1, PadFrom(make([]byte, PadSize)))
	if err != nil {
		t.Fatal(err)
	}
	raw := f.Append(nil)
	for name, c := range map[string]struct {
		p    Policy
		now  time.Time
		want Verdict
	}{
		"default":              {Policy{}, noon, Acknowledge},
		"narrow":               {Policy{Age: 29 * time.Second}, noon, RefuseTime},
		"narrow, inclusive":    {Policy{Age: 30 * time.Second}, noon, Acknowledge},
		"wide":                 {Policy{Age: time.Hour}, noon.Add(59 * time.Minute), Acknowledge},
		"ahead":                {Policy{Ahead: time.Second}, noon.Add(-32 * time.Second), RefuseTime},
		"far ahead":            {Policy{Ahead: time.Minute}, noon.Add(-75 * time.Second), Acknowledge},
		"age says nothing of":  {Policy{Age: time.Hour}, noon.Add(-60 * time.Second), RefuseTime},
		"below nought: as set": {Policy{Age: -1, Ahead: -1}, noon, Acknowledge},
	} {
		c.p.Secret = secret
		if r := c.p.Judge(raw, c.now); r.Proposed != c.want {
			t.Errorf("%s: %v, want %v", name, r.Proposed, c.want)
		}
	}
	other, _ := ParseKey("ffffffffffffffffffffffffffffffff")
	wrong := Policy{Secret: func(string, string) Secret { return Secret{Key: other} }}
	if r := wrong.Judge(raw, noon); r.Proposed != CannotProcess || !errors.Is(r.Err, ErrDecrypt) {
		t.Errorf("%v, %v", r.Proposed, r.Err)
	}
	wrong.NakUndecryptable = true
	if r := wrong.Judge(raw, noon); r.Proposed != RefuseTime || !errors.Is(r.Err, ErrDecrypt) || r.Damaged() {
		t.Errorf("%v, %v", r.Proposed, r.Err)
	}
}

// S07 C.2.3.7: 9995, 9996, 9995 again and 9997 are three messages.
func TestRepeatIsOneMessage(t *testing.T) {
	seen := map[string]bool{}
	for _, n := range []int{9995, 9996, 9995, 9997} {
		raw, err := Frame{ID: IDContactID, Sequence: n, Account: "4816", Data: "#4816|1111 01 009"}.Encode()
		if err != nil {
			t.Fatal(err)
		}
		r := Judge(raw)
		if r.Proposed != Acknowledge || r.Frame.Ack().Sequence != n {
			t.Errorf("%d: %+v", n, r)
		}
		seen[DuplicateKey(r.Frame)] = true
	}
	if len(seen) != 3 {
		t.Errorf("%d messages", len(seen))
	}
}
