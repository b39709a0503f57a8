package evidence

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

const testJob = JobID("019948a4-0000-7000-8000-000000000001")

var testTime = time.Date(2026, 9, 15, 18, 4, 5, 120_000_000, time.UTC)

// counter is a random source whose bytes are known.
type counter byte

func (c *counter) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = byte(*c)
		*c++
	}
	return len(p), nil
}

func must[T any](t testing.TB) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// book makes a job of n entries, a minute apart.
func book(t testing.TB, n int) []Entry {
	t.Helper()
	var entries []Entry
	var prev *Entry
	kinds := []Kind{KindEdit, KindOnTest, KindSignal, KindReadback, KindNote}
	for i := range n {
		at := testTime.Add(time.Duration(i) * time.Minute)
		random := counter(i)
		id := must[EntryID](t)(NewEntryID(at, &random))
		c := must[Content](t)(NewContent(testJob, id, at, "p-7f3a", kinds[i%len(kinds)], int64(i), map[string]any{"zone": i + 1, "say": "Landing smoke \u00e9"}))
		e := must[Entry](t)(Append(prev, c, at.Add(1500*time.Microsecond)))
		entries = append(entries, e)
		prev = &e
	}
	return entries
}

func TestChainHolds(t *testing.T) {
	entries := book(t, 7)
	if err := CheckChain(nil, entries); err != nil {
		t.Fatal(err)
	}
	if err := CheckChain(&entries[3], entries[4:]); err != nil {
		t.Fatal(err)
	}
}

// The handwritten order of members is the order RFC 8785 asks for.
func TestWritersAreCanonical(t *testing.T) {
	key := must[*SigningKey](t)(NewSigningKey(new(counter)))
	for _, e := range book(t, 3) {
		entry, content := must[[]byte](t)(e.Canonical()), must[[]byte](t)(e.Content.Canonical())
		if want := must[[]byte](t)(CanonicalValue(e)); !bytes.Equal(entry, want) {
			t.Errorf("entry written as\n%s, want\n%s", entry, want)
		}
		if want := must[[]byte](t)(CanonicalValue(e.Content)); !bytes.Equal(content, want) {
			t.Errorf("content written as\n%s, want\n%s", content, want)
		}
		h := must[Head](t)(SignHead(key, testJob, &e, testTime))
		h.Header = Hash{1}
		if got, want := must[[]byte](t)(h.Canonical()), must[[]byte](t)(CanonicalValue(h)); !bytes.Equal(got, want) {
			t.Errorf("head written as\n%s, want\n%s", got, want)
		}
		back := must[Entry](t)(ParseEntry(must[[]byte](t)(json.MarshalIndent(e, "", "\t"))))
		if again := must[[]byte](t)(back.Canonical()); !bytes.Equal(again, entry) {
			t.Errorf("read back as\n%s, want\n%s", again, entry)
		}
	}
}

func TestBreaksAreNamed(t *testing.T) {
	reseal := func(e *Entry) { // as one who changes an entry and knows how the hashes are made
		e.ContentHash, _ = e.SealedHash()
		e.Hash = e.placeHash()
	}
	other := book(t, 1)[0]
	for _, tc := range []struct {
		name   string
		change func([]Entry) []Entry
		check  Check
		seq    int64
	}{
		{"body changed", func(b []Entry) []Entry { b[2].Body = json.RawMessage(`{"zone":9}`); return b }, CheckContent, 3},
		{"writer changed", func(b []Entry) []Entry { b[2].By = "p-0000"; return b }, CheckContent, 3},
		{"time of writing changed", func(b []Entry) []Entry { b[4].At = TimeOf(testTime); return b }, CheckContent, 5},
		{"time received changed", func(b []Entry) []Entry { b[2].Received = TimeOf(testTime); return b }, CheckPlace, 3},
		{"number changed", func(b []Entry) []Entry { b[2].Seq = 30; return b }, CheckPlace, 3},
		{"hash before changed", func(b []Entry) []Entry { b[2].Prev[0]++; return b }, CheckPlace, 3},
		{"own hash changed", func(b []Entry) []Entry { b[2].Hash[0]++; return b }, CheckPlace, 3},
		{"changed and hashed anew", func(b []Entry) []Entry { b[2].By = "p-0000"; reseal(&b[2]); return b }, CheckChained, 3},
		{"one taken out", func(b []Entry) []Entry { return append(b[:2], b[3:]...) }, CheckSequence, 3},
		{"first taken out", func(b []Entry) []Entry { return b[1:] }, CheckSequence, 1},
		{"one twice", func(b []Entry) []Entry { return append(b[:3:3], b[2:]...) }, CheckSequence, 4},
		{"two exchanged", func(b []Entry) []Entry { b[2], b[3] = b[3], b[2]; return b }, CheckSequence, 3},
		{"first with one before it", func(b []Entry) []Entry { b[0].Prev[0]++; reseal(&b[0]); return b }, CheckChained, 1},
		{"of another job", func(b []Entry) []Entry {
			b[3].Job = "019948a4-0000-7000-8000-000000000002"
			reseal(&b[3])
			return b
		}, CheckJob, 4},
		{"id used twice", func(b []Entry) []Entry { b[3].ID = b[1].ID; reseal(&b[3]); return b }, CheckRepeated, 4},
		{"built on a later one", func(b []Entry) []Entry { b[3].Base = 4; reseal(&b[3]); return b }, CheckBase, 4},
		{"impossible time", func(b []Entry) []Entry { b[3].At = Time{}; return b }, CheckSpelling, 4},
		{"impossible id", func(b []Entry) []Entry { b[3].ID = other.ID + "0"; return b }, CheckSpelling, 4},
	} {
		t.Run(tc.name, func(t *testing.T) {
			err := CheckChain(nil, tc.change(book(t, 5)))
			var b *Break
			if !errors.As(err, &b) || b.Check != tc.check || b.Seq != tc.seq {
				t.Errorf("got %v, want check %s at entry %d", err, tc.check, tc.seq)
			}
		})
	}
}

func TestAppendRefuses(t *testing.T) {
	b := book(t, 2)
	c := b[1].Content
	later, elsewhere := c, c
	later.Base = 3
	elsewhere.Job = "019948a4-0000-7000-8000-000000000002"
	if _, err := Append(&b[1], later, testTime); !errors.Is(err, ErrBase) {
		t.Errorf("base 3 at entry 3: %v, want ErrBase", err)
	}
	if _, err := Append(&b[1], elsewhere, testTime); !errors.Is(err, ErrJob) {
		t.Errorf("another job: %v, want ErrJob", err)
	}
	if err := CheckRepeat(b[1], c); err != nil {
		t.Errorf("the same entry again: %v", err)
	}
	c.Body = json.RawMessage(`{ "say":"Landing smoke \u00e9", "zone": 2.0 }`) // the same, spelt otherwise
	if err := CheckRepeat(b[1], c); err != nil {
		t.Errorf("the same entry in another spelling: %v", err)
	}
	c.Body = json.RawMessage(`{"zone":3}`)
	if err := CheckRepeat(b[1], c); !errors.Is(err, ErrConflict) {
		t.Errorf("another content under the same id: %v, want ErrConflict", err)
	}
}

func TestParseContentIsStrict(t *testing.T) {
	good := string(must[[]byte](t)(book(t, 1)[0].Content.Canonical()))
	if _, err := ParseContent([]byte(good)); err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct {
		name, old, new string
		want           error
	}{
		{"name in another case", `"by"`, `"By"`, ErrContent},
		{"unknown member", `"by"`, `"bz":1,"by"`, ErrContent},
		{"member twice", `"by"`, `"by":"x","by"`, ErrDuplicateKey},
		{"member missing", `"base":0,`, ``, ErrContent},
		{"null", `"base":0`, `"base":null`, ErrContent},
		{"newer format", `"fmt":1`, `"fmt":2,"more":[]`, ErrNewerFormat},
		{"no format", `"fmt":1`, `"fmt":0`, ErrContent},
		{"a name for an id", `p-7f3a`, `Osric Vell`, ErrContent},
		{"time without milliseconds", `05.120Z`, `05Z`, ErrContent},
		{"time in a zone", `05.120Z`, `05.120-04:00`, ErrContent},
		{"id in upper case", `000000000001`, `00000000000A`, ErrContent},
		{"kind in upper case", `"edit"`, `"Edit"`, ErrContent},
		{"body no object", `"body":{`, `"body":[{`, ErrSyntax},
		{"base negative", `"base":0`, `"base":-1`, ErrContent},
		{"base a fraction", `"base":0`, `"base":0.5`, ErrContent},
	} {
		t.Run(tc.name, func(t *testing.T) {
			raw := bytes.Replace([]byte(good), []byte(tc.old), []byte(tc.new), 1)
			if string(raw) == good {
				t.Fatal("the change did nothing")
			}
			if c, err := ParseContent(raw); !errors.Is(err, tc.want) {
				t.Errorf("%s: got %+v, %v, want %v", raw, c, err, tc.want)
			}
		})
	}
	misspelt := bytes.Replace([]byte(good), []byte(`"by"`), []byte(`"bye":1,"by"`), 1)
	if _, err := ParseContent(misspelt); err == nil || !strings.Contains(err.Error(), `"bye"`) {
		t.Errorf("the error does not say which member is unknown: %v", err)
	}
	unknown := bytes.Replace([]byte(good), []byte(`"edit"`), []byte(`"kind-of-2031"`), 1)
	if c, err := ParseContent(unknown); err != nil || c.Kind != "kind-of-2031" {
		t.Errorf("an unknown kind must be kept: %v, %v", c, err)
	}
}

// Any change to any member changes the hash; the same content in another spelling does not.
func TestContentHashProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		body := rapid.MapOf(rapid.StringMatching(`[a-z]{1,6}`), rapid.Int64Range(-1<<52, 1<<52)).Draw(t, "body")
		c, err := NewContent(testJob, "017f22e2-79b0-7cc3-98c4-dc0c0c07398f", testTime, "p-1", KindReading, 4, body)
		if err != nil {
			t.Fatal(err)
		}
		h, err := c.SealedHash()
		if err != nil {
			t.Fatal(err)
		}
		spelt, err := json.MarshalIndent(c, "  ", "\t")
		if err != nil {
			t.Fatal(err)
		}
		back, err := ParseContent(spelt)
		if err != nil {
			t.Fatal(err)
		}
		if again, _ := back.SealedHash(); again != h {
			t.Errorf("another spelling hashes to %s, want %s", again, h)
		}
		d := c
		switch rapid.IntRange(0, 3).Draw(t, "member") {
		case 0:
			d.Base++
		case 1:
			d.By += "x"
		case 2:
			d.At = TimeOf(d.At.Add(time.Millisecond))
		case 3:
			body["longer than six"] = 2 // no generated name has this
			d.Body, _ = json.Marshal(body)
		}
		if other, err := d.SealedHash(); err != nil || other == h {
			t.Errorf("changed content: %s, %v, same hash as before", other, err)
		}
	})
}
