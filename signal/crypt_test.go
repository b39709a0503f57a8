package signal

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestEncryptedVectors(t *testing.T) {
	for _, v := range vectors(t, "encrypted.txt") {
		t.Run(v.name, func(t *testing.T) {
			key := Key{}
			if v.more["key"] != "" {
				var err error
				if key, err = ParseKey(v.more["key"]); err != nil {
					t.Fatal(err)
				}
			}
			at, err := ParseTimestamp(v.more["now"])
			if err != nil {
				t.Fatal(err)
			}
			asked := ""
			r := JudgeWith(v.frame, func(prefix, account string) Secret {
				asked = prefix + " " + account
				return Secret{Key: key}
			}, at)
			if asked != "L0 1234" {
				t.Errorf("key asked for %q", asked)
			}
			if got := faultLine(r.Err); got != v.fault {
				t.Errorf("fault %q, want %q (%v)", got, v.fault, r.Err)
			}
			answer, reply := "", Frame{}
			switch r.Proposed {
			case Acknowledge:
				answer = "ack"
				if reply, err = r.Frame.AckEncrypted(key, []byte(v.more["replypad"]), at); err != nil {
					t.Error(err)
				}
			case CannotProcess:
				answer, reply = "duh", r.Frame.Duh()
			case RefuseTime:
				answer, reply = "nak", Nak(at)
			}
			if raw := reply.Append(nil); answer != v.answer || !bytes.Equal(raw, v.reply) {
				t.Errorf("answer %s %q, want %s %q", answer, raw, v.answer, v.reply)
			}
			var events []string
			for _, e := range r.Events {
				events = append(events, eventLine(e))
			}
			if got, want := strings.Join(events, "\n"), strings.Join(v.events, "\n"); got != want {
				t.Errorf("events\n%s\nwant\n%s", got, want)
			}
			if plain, _ := hex.DecodeString(v.more["plain"]); len(plain) > 0 {
				pad, _, _ := bytes.Cut(plain, []byte("|"))
				again, err := r.Frame.Encrypt(key, pad)
				if raw := again.Append(nil); err != nil || !bytes.Equal(raw, v.frame) {
					t.Errorf("encrypted again: %q, %v", raw, err)
				}
			}
		})
	}
}

// The one published ciphertext whose key is known: cipher, vector, pad in front, bar and region.
func TestPublishedCiphertext(t *testing.T) {
	key, err := ParseKey("0123456789ABCDEF0123456789ABCDEF")
	if err != nil {
		t.Fatal(err)
	}
	f := Frame{
		ID: IDSIA, Encrypted: true, Account: "12345A",
		Data: "209c9d400b655df7a26aecb6a887e7ee6ed8103217079aae7cbd9dd7551e96823263460f7ef0514864897ae9789534f1",
	}
	clear, err := f.Decrypt(key)
	if err != nil || clear.Data != "12345A|NFA129" || clear.Timestamp != "13:14:15,02-15-2006" {
		t.Errorf("%+v, %v", clear, err)
	}
}

func TestEncryptThenDecrypt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawFrame(t)
		f.Timestamp = "14:05:09,01-15-2026"
		size := rapid.SampledFrom([]int{16, 24, 32}).Draw(t, "size")
		key := Key{string(rapid.SliceOfN(rapid.Byte(), size, size).Draw(t, "key"))}
		pad := PadFrom(rapid.SliceOfN(rapid.Byte(), PadSize, PadSize).Draw(t, "pad"))
		safe, err := f.Encrypt(key, pad)
		if err != nil {
			t.Fatal(err)
		}
		if len(safe.Data)%32 != 0 || len(safe.Data) == 0 || strings.ToUpper(safe.Data) != safe.Data {
			t.Errorf("%d digits: %s", len(safe.Data), safe.Data)
		}
		raw, err := safe.Encode()
		if err != nil {
			t.Fatal(err)
		}
		back, err := ParseFrame(raw)
		if err != nil {
			t.Fatal(err)
		}
		clear, err := back.Decrypt(key)
		if err != nil || fmt.Sprint(clear) != fmt.Sprint(f) {
			t.Errorf("%+v\ncame back as\n%+v, %v", f, clear, err)
		}
	})
}

func TestEncryptedOnly(t *testing.T) {
	f := Frame{ID: IDContactID, Sequence: 7, Account: "4816", Data: "#4816|1111 01 009"}
	r := JudgeWith(f.Append(nil), func(string, string) Secret { return Secret{EncryptedOnly: true} }, noon)
	if r.Proposed != CannotProcess || !errors.Is(r.Err, ErrNotEncrypted) || r.Damaged() || len(r.Events) != 0 {
		t.Errorf("%+v", r)
	}
}

func TestKeyShowsStars(t *testing.T) {
	const secret = "000102030405060708090a0b0c0d0e0f"
	key, err := ParseKey(secret)
	if err != nil {
		t.Fatal(err)
	}
	js, err := json.Marshal(struct{ Key Key }{key})
	if err != nil {
		t.Fatal(err)
	}
	for _, shown := range []string{fmt.Sprint(key), fmt.Sprintf("%s %v %+v %#v %q %x %d", key, key, key, key, key, key, key), fmt.Sprintf("%+v %#v", Secret{Key: key}, Secret{Key: key}), string(js)} {
		if strings.Contains(shown, "0102") || strings.Contains(shown, "\x01\x02") || strings.Contains(shown, "1 2 3") || !strings.Contains(shown, stars) {
			t.Errorf("a key is shown as %q", shown)
		}
	}
	for _, bad := range []string{"", "secret", strings.Repeat("x", 17), strings.Repeat("0", 62)} {
		if _, err := ParseKey(bad); err == nil || bad != "" && strings.Contains(err.Error(), bad) {
			t.Errorf("%q: %v", bad, err)
		}
	}
	typed, err := ParseKey("larkwater mill!!")
	if err != nil || typed.bits != "larkwater mill!!" {
		t.Errorf("a typed key: %v", err)
	}
	if key.bits != "\x00\x01\x02\x03\x04\x05\x06\x07\x08\x09\x0a\x0b\x0c\x0d\x0e\x0f" {
		t.Error("a key in hex is not its bytes")
	}
}

func TestEncryptRefuses(t *testing.T) {
	key, _ := ParseKey("000102030405060708090a0b0c0d0e0f")
	good := Frame{ID: IDNull, Account: "4816", Timestamp: "14:05:09,01-15-2026"}
	late := good
	late.Timestamp = ""
	pad := PadFrom(make([]byte, PadSize))
	for name, err := range map[string]error{
		"no time":    second2(late.Encrypt(key, pad)),
		"no key":     second2(good.Encrypt(Key{}, pad)),
		"short pad":  second2(good.Encrypt(key, pad[:3])),
		"bar in pad": second2(good.Encrypt(key, bytes.Repeat([]byte("|"), PadSize))),
		"encrypted":  second2(Frame{ID: IDNull, Account: "4816", Encrypted: true, Timestamp: good.Timestamp}.Encrypt(key, pad)),
	} {
		if err == nil {
			t.Errorf("%s: encrypted", name)
		}
	}
}

func FuzzDecrypt(f *testing.F) {
	key, err := ParseKey("0123456789abcdef0123456789abcdef")
	if err != nil {
		f.Fatal(err)
	}
	for _, v := range vectors(f, "encrypted.txt") {
		f.Add(v.frame)
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		r := JudgeWith(raw, func(string, string) Secret { return Secret{Key: key} }, noon)
		if r.Encrypted && r.Proposed == Acknowledge {
			if at, ok := r.Frame.Time(); !ok || !InWindow(at, noon) {
				t.Errorf("%q is acknowledged with time %q", raw, r.Frame.Timestamp)
			}
		}
	})
}
