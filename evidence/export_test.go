package evidence

import (
	"bytes"
	"errors"
	"io"
	"iter"
	"os"
	"reflect"
	"strings"
	"testing"
	"testing/iotest"
	"time"
)

func each(entries []Entry) iter.Seq2[Entry, error] {
	return func(yield func(Entry, error) bool) {
		for _, e := range entries {
			if !yield(e, nil) {
				return
			}
		}
	}
}

func signer(t testing.TB, b byte) *SigningKey {
	return must[*SigningKey](t)(SigningKeyFrom(bytes.Repeat([]byte{b}, 32)))
}

func export(t testing.TB, key *SigningKey, name string, entries []Entry) []byte {
	t.Helper()
	var out bytes.Buffer
	if _, err := WriteExport(&out, key, testJob, name, testTime.Add(time.Hour), each(entries)); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func TestExportComesBack(t *testing.T) {
	for _, n := range []int{0, 1, 5} {
		entries := book(t, n)
		raw := export(t, signer(t, 1), "Larkwater Mill", entries)
		x := must[*ExportReader](t)(ReadExport(iotest.OneByteReader(bytes.NewReader(raw))))
		if x.Header().Name != "Larkwater Mill" || x.Header().Key != signer(t, 1).Public().Fingerprint() {
			t.Errorf("header %+v", x.Header())
		}
		var got []Entry
		for e, err := range x.Entries() {
			if err != nil {
				t.Fatal(err)
			}
			if x.Head() != (Head{}) {
				t.Error("a head is given out before the end")
			}
			got = append(got, e)
		}
		if len(got) != n || n > 0 && !reflect.DeepEqual(got, entries) {
			t.Errorf("%d entries came back as %+v", n, got)
		}
		head := x.Head()
		if err := VerifyHead(signer(t, 1).Public(), head); err != nil || head.Seq != int64(n) {
			t.Errorf("head %+v, %v", head, err)
		}
	}
}

func TestWriteExportRefuses(t *testing.T) {
	key := signer(t, 1)
	broken := book(t, 3)
	broken[1].By = "p-0000"
	outage := errors.New("disk gone")
	failing := func(yield func(Entry, error) bool) { yield(Entry{}, outage) }
	for _, tc := range []struct {
		name    string
		w       io.Writer
		job     JobID
		label   string
		entries iter.Seq2[Entry, error]
		want    error
	}{
		{"of another job", io.Discard, "017f22e2-79b0-7cc3-98c4-dc0c0c07398f", "", each(book(t, 1)), ErrJob},
		{"no job", io.Discard, "", "", each(nil), ErrContent},
		{"a name too long", io.Discard, testJob, strings.Repeat("é", 201), each(nil), ErrContent},
		{"a name in no UTF-8", io.Discard, testJob, "\xff", each(nil), ErrContent},
		{"a store that fails", io.Discard, testJob, "", failing, outage},
		{"a writer that fails", failingWriter{outage}, testJob, "", each(book(t, 3)), outage},
	} {
		if _, err := WriteExport(tc.w, key, tc.job, tc.label, testTime, tc.entries); !errors.Is(err, tc.want) {
			t.Errorf("%s: %v, want %v", tc.name, err, tc.want)
		}
	}
	var b *Break
	if _, err := WriteExport(io.Discard, key, testJob, "", testTime, each(broken)); !errors.As(err, &b) || b.Seq != 2 {
		t.Errorf("a broken chain: %v", err)
	}
}

type failingWriter struct{ err error }

func (w failingWriter) Write([]byte) (int, error) { return 0, w.err }

func TestReadExportLimits(t *testing.T) {
	raw := export(t, signer(t, 1), "", book(t, 1))
	header, _, _ := bytes.Cut(raw, []byte("\n"))
	long := append(append(bytes.Clone(header), '\n'), bytes.Repeat([]byte("a"), MaxExportLine+2)...)
	x := must[*ExportReader](t)(ReadExport(bytes.NewReader(long)))
	for _, err := range x.Entries() {
		var b *Break
		if !errors.Is(err, ErrTooLarge) || !errors.As(err, &b) || b.Line != 2 {
			t.Errorf("a line too long: %v", err)
		}
	}
	x = must[*ExportReader](t)(ReadExport(bytes.NewReader(raw)))
	e := must[Entry](t)(x.advance())
	last := e
	last.Seq = MaxExportEntries // as if a million had gone before
	x.chain = Chain{last: last}
	next := e.Content
	next.ID = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"
	if err := x.add(must[Entry](t)(Append(&last, next, testTime))); !errors.Is(err, ErrTooLarge) {
		t.Errorf("one entry too many: %v", err)
	}
}

// The largest content can be appended, written and read.
func TestLargestContent(t *testing.T) {
	c := book(t, 1)[0].Content
	c.Body = nil
	frame := len(must[[]byte](t)(Content{c.Fmt, c.Job, c.ID, c.At, c.By, c.Kind, c.Base, []byte(`{"a":""}`)}.Canonical()))
	fill := func(n int) (Content, error) {
		return NewContent(c.Job, c.ID, c.At.Time, c.By, c.Kind, c.Base, map[string]string{"a": strings.Repeat("x", n)})
	}
	if _, err := fill(MaxContentBytes - frame + 1); !errors.Is(err, ErrTooLarge) {
		t.Errorf("one byte too many: %v", err)
	}
	e := must[Entry](t)(Append(nil, must[Content](t)(fill(MaxContentBytes-frame)), testTime))
	raw := export(t, signer(t, 1), "", []Entry{e})
	report, err := Verify(bytes.NewReader(raw), []Fingerprint{signer(t, 1).Public().Fingerprint()})
	if err != nil || !report.Good() {
		t.Errorf("%v, %v", report.Break, err)
	}
}

func TestReadErrorsAreNotFindings(t *testing.T) {
	raw := export(t, signer(t, 1), "", book(t, 3))
	outage := errors.New("cable out")
	for n := range len(raw) {
		r := io.MultiReader(bytes.NewReader(raw[:n]), iotest.ErrReader(outage))
		if report, err := Verify(r, nil); !errors.Is(err, outage) || report.Break != nil {
			t.Fatalf("after %d bytes: %v, %v", n, report.Break, err)
		}
	}
}

// What is read without an error is spelt in one way: writing it again gives the same bytes.
func FuzzReadExport(f *testing.F) {
	f.Add(must[[]byte](f)(os.ReadFile("testdata/samples/fmt1-book.pbook")))
	f.Add(export(f, signer(f, 1), "", book(f, 2)))
	f.Add(export(f, signer(f, 1), "x", nil))
	f.Add([]byte("{}\n"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		report, err := Verify(bytes.NewReader(raw), nil)
		if err != nil || report.Good() {
			t.Fatalf("nobody is trusted, yet: %+v, %v", report, err)
		}
		x, err := ReadExport(bytes.NewReader(raw))
		if err != nil {
			return
		}
		again := append(must[[]byte](t)(x.Header().Canonical()), '\n')
		for e, err := range x.Entries() {
			if err != nil {
				if report.Break.Check == CheckSigner {
					t.Fatalf("ReadExport refuses (%v) what Verify finds sound", err)
				}
				return
			}
			again = append(append(again, must[[]byte](t)(e.Canonical())...), '\n')
		}
		again = append(append(again, must[[]byte](t)(x.Head().Canonical())...), '\n')
		if !bytes.Equal(again, raw) {
			t.Errorf("%q\nwas read, and is written again as\n%q", raw, again)
		}
		if report.Break.Check != CheckSigner {
			t.Errorf("Verify finds %v in what ReadExport takes", report.Break)
		}
	})
}
