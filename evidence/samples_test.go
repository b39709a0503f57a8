package evidence

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The samples were written by testdata/samples/make.mjs, a second implementation of docs/format/job-book.md. They open
// for ever: no sample is ever changed, and none of these tests loosened.

// sampleKey is the fingerprint of the key with the seed 00 01 ... 1f, whose public half is
// 03a107bff3ce10be1d70dd18e74bc09967e4d6309ba50d5f1ddc8664125531b8:
//
//	printf 03a1...31b8 | xxd -r -p | sha256sum
const sampleKey = "56475aa75463474c0285df5dbf2bcab73da651358839e9b77481b2eab107708c"

func TestSamplesAreUnchanged(t *testing.T) {
	sums := strings.Fields(string(must[[]byte](t)(os.ReadFile("testdata/samples/SHA256SUMS")))) // sha256sum fmt1-*
	if len(sums) != 2*7 {
		t.Fatalf("%d words in SHA256SUMS, want 14", len(sums))
	}
	for i := 0; i < len(sums); i += 2 {
		raw := must[[]byte](t)(os.ReadFile(filepath.Join("testdata/samples", sums[i+1])))
		if got := BlobAddress(raw).String(); got != sums[i] {
			t.Errorf("%s was changed", sums[i+1])
		}
	}
}

func TestSampleEntriesOpen(t *testing.T) {
	files := must[[]string](t)(filepath.Glob("testdata/samples/fmt1-*.json"))
	if len(files) != 5 {
		t.Fatalf("%d samples of format 1, want 5", len(files))
	}
	for _, file := range files {
		raw := bytes.TrimSuffix(must[[]byte](t)(os.ReadFile(file)), []byte("\n"))
		e, err := ParseEntry(raw)
		if err != nil {
			t.Errorf("%s: %v", file, err)
			continue
		}
		if again := must[[]byte](t)(e.Canonical()); !bytes.Equal(again, raw) {
			t.Errorf("%s is written again as\n%s", file, again)
		}
		if sum := must[Hash](t)(e.SealedHash()); sum != e.ContentHash || e.placeHash() != e.Hash {
			t.Errorf("%s: content hash %s, entry hash %s", file, sum, e.placeHash())
		}
		if c, err := Upcast(e.Content); err != nil || c.Fmt != Format {
			t.Errorf("%s: brought to format %d, %v", file, c.Fmt, err)
		}
	}
}

func TestSampleBookVerifies(t *testing.T) {
	raw := must[[]byte](t)(os.ReadFile("testdata/samples/fmt1-book.pbook"))
	report, err := Verify(bytes.NewReader(raw), []Fingerprint{must[Fingerprint](t)(ParseFingerprint(sampleKey))})
	if err != nil || !report.Good() || report.Entries != 5 || report.Header.Name != "Larkwater Mill" {
		t.Errorf("%+v, %v, %v", report, report.Break, err)
	}
}

func TestSampleSealedPartsOpen(t *testing.T) {
	key := must[*JobKey](t)(JobKeyFrom(bytes.Repeat([]byte{0x2a}, 32)))
	e := must[Entry](t)(ParseEntry(must[[]byte](t)(os.ReadFile("testdata/samples/fmt1-ontest.json"))))
	if plain, err := OpenPrivate(key, e.Content); err != nil || string(plain) != `{"operator":"Bao Ferrant"}` {
		t.Errorf("personal part: %s, %v", plain, err)
	}
	sealed := must[[]byte](t)(os.ReadFile("testdata/samples/fmt1-blob.sealed"))
	if plain, err := OpenBlob(key, e.Job, sealed); err != nil || string(plain) != "the photo of zone 9" {
		t.Errorf("blob: %s, %v", plain, err)
	}
}

// With upcasters for two later formats the same mechanism brings each one up, step by step.
func TestUpcastGoesStepByStep(t *testing.T) {
	add := func(text string) func(Content) (Content, error) {
		return func(c Content) (Content, error) {
			var body map[string]any
			if err := json.Unmarshal(c.Body, &body); err != nil {
				return c, err
			}
			s, _ := body["s"].(string)
			var err error
			c.Body, err = CanonicalValue(map[string]string{"s": s + text})
			return c, err
		}
	}
	steps := []func(Content) (Content, error){add("2"), add("3")}
	for format, want := range map[int]string{1: `{"s":"23"}`, 2: `{"s":"3"}`, 3: `{}`} {
		c, err := upcast(Content{Fmt: format, Body: json.RawMessage(`{}`)}, steps)
		if err != nil || c.Fmt != 3 || string(c.Body) != want {
			t.Errorf("from format %d: %d %s, %v, want %s", format, c.Fmt, c.Body, err, want)
		}
	}
	for _, format := range []int{0, -1, 4} {
		if c, err := upcast(Content{Fmt: format}, steps); err == nil {
			t.Errorf("format %d became %d", format, c.Fmt)
		}
	}
	if _, err := upcast(Content{Fmt: 1, Body: json.RawMessage(`[`)}, steps); err == nil {
		t.Error("an upcaster's error was lost")
	}
}
