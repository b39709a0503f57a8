package evidence

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func verify(t testing.TB, raw []byte, pins ...Pin) Report {
	t.Helper()
	return must[Report](t)(Verify(bytes.NewReader(raw), []Fingerprint{signer(t, 1).Public().Fingerprint()}, pins...))
}

func TestSoundBookVerifies(t *testing.T) {
	entries := book(t, 5)
	raw := export(t, signer(t, 1), "Larkwater Mill", entries)
	r := verify(t, raw, Pin{3, entries[2].Hash}, Pin{5, entries[4].Hash}, Pin{})
	if !r.Good() || r.Entries != 5 || r.Last != entries[4].Hash || r.Head == nil || r.Head.Seq != 5 || r.Signer != SignerKnown {
		t.Errorf("%+v, %v", r, r.Break)
	}
	if r := verify(t, export(t, signer(t, 1), "", nil)); !r.Good() || r.Entries != 0 {
		t.Errorf("an empty book: %v", r.Break)
	}
}

// One bit anywhere: found, and the right line and entry named. Two bits are tried in each byte: the last, which
// makes one digit of another, and one that moves along.
func TestEveryByteIsCovered(t *testing.T) {
	entries := book(t, 2)
	raw := export(t, signer(t, 1), "Larkwater Mill", entries)
	line := 1
	for i, was := range raw {
		for _, flip := range []byte{1, 1 << (1 + i%7)} {
			raw[i] = was ^ flip
			r := verify(t, raw)
			if r.Good() || r.Break == nil {
				t.Fatalf("byte %d, %q to %q: not found", i, was, raw[i])
			}
			b := r.Break
			if b.Line != line {
				t.Fatalf("byte %d, %q to %q, is in line %d, but: %v", i, was, raw[i], line, b)
			}
			if was == '\n' { // two lines became one: no entry can be named
				continue
			}
			var want Entry // none: the header or the head
			if line > 1 && line <= 1+len(entries) {
				want = entries[line-2]
			}
			idUntouched := bytes.Contains(raw, []byte(want.ID))
			if b.Seq != want.Seq || b.ID != "" && b.ID != want.ID && idUntouched {
				t.Fatalf("byte %d, %q to %q, is in entry %d %s, but: %v", i, was, raw[i], want.Seq, want.ID, b)
			}
		}
		raw[i] = was
		if was == '\n' {
			line++
		}
	}
}

// Any byte to any other, in books of any length.
func TestAnyByteProperty(t *testing.T) {
	trusted := []Fingerprint{signer(t, 1).Public().Fingerprint()}
	books := make([][]byte, 7)
	for n := range books {
		books[n] = export(t, signer(t, 1), "", book(t, n))
	}
	rapid.Check(t, func(t *rapid.T) {
		raw := bytes.Clone(rapid.SampledFrom(books).Draw(t, "book"))
		i := rapid.IntRange(0, len(raw)-1).Draw(t, "at")
		is := rapid.Byte().Filter(func(b byte) bool { return b != raw[i] }).Draw(t, "is")
		want := 1 + bytes.Count(raw[:i], []byte("\n"))
		raw[i] = is
		r, err := Verify(bytes.NewReader(raw), trusted)
		if err != nil || r.Good() || r.Break.Line != want {
			t.Errorf("byte %d in line %d: %v, %v", i, want, r.Break, err)
		}
	})
}

func TestCutAnywhere(t *testing.T) {
	raw := export(t, signer(t, 1), "", book(t, 3))
	for n := range len(raw) {
		r := verify(t, raw[:n])
		if r.Good() || r.Break == nil || n > 0 && r.Break.Check != CheckTruncated && r.Break.Check != CheckHeader {
			t.Fatalf("cut to %d of %d bytes: %v", n, len(raw), r.Break)
		}
	}
}

func TestReportsAreWritten(t *testing.T) {
	sound := export(t, signer(t, 1), "", book(t, 2))
	for _, raw := range [][]byte{nil, []byte("{}\n"), sound, sound[:len(sound)-1], bytes.Replace(sound, []byte("p-7f3a"), []byte("p-7f3b"), 1)} {
		r := verify(t, raw)
		var back Report
		if err := json.Unmarshal(must[[]byte](t)(json.Marshal(r)), &back); err != nil {
			t.Fatal(err)
		}
		if back.Header != r.Header || back.Entries != r.Entries || back.Signer != r.Signer || (back.Break == nil) != (r.Break == nil) {
			t.Errorf("%+v came back as %+v", r, back)
		}
	}
}

func TestLinesTampered(t *testing.T) {
	entries := book(t, 4)
	good := strings.SplitAfter(string(export(t, signer(t, 1), "", entries)), "\n")[:6] // header, entries 1 to 4, head
	for _, tc := range []struct {
		name  string
		lines func(l []string) []string
		check Check
		line  int
		seq   int64
	}{
		{"entry 2 taken out", func(l []string) []string { return slices.Delete(l, 2, 3) }, CheckSequence, 3, 2},
		{"entries 2 and 3 taken out", func(l []string) []string { return slices.Delete(l, 2, 4) }, CheckSequence, 3, 2},
		{"last entry taken out", func(l []string) []string { return slices.Delete(l, 4, 5) }, CheckTruncated, 5, 4},
		{"all entries taken out", func(l []string) []string { return slices.Delete(l, 1, 5) }, CheckTruncated, 2, 1},
		{"entry 2 twice", func(l []string) []string { return slices.Insert(l, 3, l[2]) }, CheckSequence, 4, 3},
		{"entries 2 and 3 exchanged", func(l []string) []string { l[2], l[3] = l[3], l[2]; return l }, CheckSequence, 3, 2},
		{"head taken out", func(l []string) []string { return l[:5] }, CheckTruncated, 5, 0},
		{"only the header", func(l []string) []string { return l[:1] }, CheckTruncated, 2, 0},
		{"header taken out", func(l []string) []string { return l[1:] }, CheckHeader, 1, 0},
		{"header twice", func(l []string) []string { return slices.Insert(l, 1, l[0]) }, CheckSpelling, 2, 1},
		{"head twice", func(l []string) []string { return append(l, l[5]) }, CheckTrailing, 7, 0},
		{"empty line at the end", func(l []string) []string { return append(l, "\n") }, CheckTrailing, 7, 0},
		{"empty line between", func(l []string) []string { return slices.Insert(l, 2, "\n") }, CheckSpelling, 3, 2},
		{"carriage returns", func(l []string) []string { l[1] = l[1][:len(l[1])-1] + "\r\n"; return l }, CheckSpelling, 2, 1},
		{"spelt otherwise", func(l []string) []string { l[2] = strings.Replace(l[2], `,"by"`, `, "by"`, 1); return l }, CheckSpelling, 3, 2},
		{"a member more", func(l []string) []string { l[2] = strings.Replace(l[2], `,"by"`, `,"bx":1,"by"`, 1); return l }, CheckSpelling, 3, 2},
		{"a member twice", func(l []string) []string { l[2] = strings.Replace(l[2], `,"by"`, `,"by":"x","by"`, 1); return l }, CheckSpelling, 3, 2},
		{"a member less", func(l []string) []string { l[2] = strings.Replace(l[2], `"base":1,`, ``, 1); return l }, CheckSpelling, 3, 2},
		{"a newer format", func(l []string) []string { l[2] = strings.Replace(l[2], `"fmt":1`, `"fmt":2,"g":0`, 1); return l }, CheckFormat, 3, 2},
	} {
		t.Run(tc.name, func(t *testing.T) {
			r := verify(t, []byte(strings.Join(tc.lines(slices.Clone(good)), "")))
			if b := r.Break; b == nil || b.Check != tc.check || b.Line != tc.line || b.Seq != tc.seq {
				t.Errorf("got %v, want %s, line %d, entry %d", b, tc.check, tc.line, tc.seq)
			}
		})
	}
}

// forge changes entry n as one who knows how everything is made but has not the installation's key.
func forge(t testing.TB, entries []Entry, n int, wholeChain bool) []Entry {
	t.Helper()
	entries = slices.Clone(entries)
	entries[n-1].Body = json.RawMessage(`{"say":"proved","zone":9}`)
	for i := n - 1; i < len(entries); i++ {
		if i > n-1 {
			if !wholeChain {
				break
			}
			entries[i].Prev = entries[i-1].Hash
		}
		entries[i].ContentHash = must[Hash](t)(entries[i].SealedHash())
		entries[i].Hash = entries[i].placeHash()
	}
	return entries
}

func TestForgeries(t *testing.T) {
	entries := book(t, 5)
	good := export(t, signer(t, 1), "", entries)
	// lines puts entries between the header and a head made by key, whatever the chain says.
	lines := func(key *SigningKey, entries []Entry) []byte {
		raw := export(t, key, "", nil)
		header, _, _ := bytes.Cut(raw, []byte("\n"))
		out := append(bytes.Clone(header), '\n')
		for _, e := range entries {
			out = append(append(out, must[[]byte](t)(e.Canonical())...), '\n')
		}
		newest := entries[len(entries)-1]
		h := Head{Job: testJob, Seq: newest.Seq, Hash: newest.Hash, At: must[*ExportReader](t)(ReadExport(bytes.NewReader(raw))).Header().Exported, Header: BlobAddress(header)}
		h = must[Head](t)(h.signed(key))
		return append(append(out, must[[]byte](t)(h.Canonical())...), '\n')
	}
	if !bytes.Equal(lines(signer(t, 1), entries), good) {
		t.Fatal("lines does not write what WriteExport writes")
	}
	foreign, ours := signer(t, 2), signer(t, 1)
	whole := forge(t, entries, 3, true)
	inTheHeader := func(raw []byte) []byte { // the foreign key's file dressed up with our key's name
		return bytes.ReplaceAll(raw, []byte(foreign.Public().Fingerprint().String()), []byte(ours.Public().Fingerprint().String()))
	}
	pin := func(n int) Pin { return Pin{int64(n), entries[n-1].Hash} }
	goodHead := good[bytes.LastIndexByte(good[:len(good)-1], '\n')+1:]
	withHead := func(raw, head []byte) []byte {
		return append(bytes.Clone(raw[:bytes.LastIndexByte(raw[:len(raw)-1], '\n')+1]), head...)
	}
	resigned := func(key *SigningKey, change func(*Head)) []byte {
		h := must[Head](t)(ParseHead(goodHead[:len(goodHead)-1]))
		change(&h)
		return append(must[[]byte](t)(must[Head](t)(h.signed(key)).Canonical()), '\n')
	}
	for _, tc := range []struct {
		name   string
		raw    []byte
		pins   []Pin
		check  Check
		seq    int64
		signer Signer
	}{
		{"untouched, another's key", export(t, foreign, "", entries), nil, CheckSigner, 0, SignerUnknown},
		{"entry 3 and the chain after it, foreign key", lines(foreign, whole), nil, CheckSigner, 0, SignerUnknown},
		{"the same, pinned at 5", lines(foreign, whole), []Pin{pin(5)}, CheckPin, 5, SignerUnknown},
		{"the same, pinned at 2 and 3", lines(foreign, whole), []Pin{pin(2), pin(3)}, CheckPin, 3, SignerUnknown},
		{"the same, pinned before", lines(foreign, whole), []Pin{pin(2)}, CheckSigner, 0, SignerUnknown},
		{"the same by our own key, pinned", lines(ours, whole), []Pin{pin(4)}, CheckPin, 4, SignerKnown},
		{"entry 3 alone, foreign key", lines(foreign, forge(t, entries, 3, false)), nil, CheckChained, 3, SignerUnknown},
		{"entry 3 alone, our key", lines(ours, forge(t, entries, 3, false)), nil, CheckChained, 3, SignerKnown},
		{"last entry, old head", withHead(lines(ours, forge(t, entries, 5, true)), goodHead), nil, CheckHead, 5, SignerKnown},
		{"entry 3 and the chain, old head", withHead(lines(ours, whole), goodHead), nil, CheckHead, 5, SignerKnown},
		{"our fingerprint on a foreign key", inTheHeader(lines(foreign, whole)), nil, CheckHeader, 0, SignerUnproved},
		{"our header, foreign head", withHead(good, lastLine(lines(foreign, whole))), nil, CheckSignature, 0, SignerUnproved},
		{"foreign header, our head", withHead(lines(foreign, entries), goodHead), nil, CheckSignature, 0, SignerUnproved},
		{"cut back, signed by us, pinned later", export(t, ours, "", entries[:3]), []Pin{pin(5)}, CheckPin, 4, SignerKnown},
		{"at another time than the header", withHead(good, resigned(ours, func(h *Head) { h.At = TimeOf(testTime) })), nil, CheckHead, 0, SignerKnown},
		{"of another job than the header", withHead(good, resigned(ours, func(h *Head) { h.Job = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f" })), nil, CheckHead, 0, SignerKnown},
		{"entry 3 alone, signature spoilt", bytes.Replace(lines(ours, forge(t, entries, 3, false)), []byte(`"seq":5,"sig":"`), []byte(`"seq":6,"sig":"`), 1), nil, CheckChained, 3, SignerUnproved},
		{"added to after the head", withHead(good, lastLine(lines(ours, entries[:4]))), nil, CheckHead, 0, SignerKnown},
	} {
		t.Run(tc.name, func(t *testing.T) {
			r := verify(t, tc.raw, tc.pins...)
			if b := r.Break; b == nil || b.Check != tc.check || b.Seq != tc.seq || r.Signer != tc.signer || r.Good() {
				t.Errorf("got %v, signer %s, want %s at entry %d, signer %s", b, r.Signer, tc.check, tc.seq, tc.signer)
			}
			if b := r.Break; b != nil && b.Check == CheckSigner && !strings.Contains(b.Error(), "unknown signer") {
				t.Errorf("not in plain words: %v", b)
			}
		})
	}
}

func lastLine(raw []byte) []byte { return raw[bytes.LastIndexByte(raw[:len(raw)-1], '\n')+1:] }

func TestHeaderOfAnotherJob(t *testing.T) {
	raw := export(t, signer(t, 1), "", book(t, 2))
	other := strings.Replace(string(testJob), "0001", "0002", 1)
	header, rest, _ := bytes.Cut(raw, []byte("\n"))
	header = bytes.ReplaceAll(header, []byte(testJob), []byte(other))
	r := verify(t, []byte(fmt.Sprintf("%s\n%s", header, rest)))
	if b := r.Break; b == nil || b.Check != CheckJob || b.Line != 1 || b.Seq != 0 {
		t.Errorf("%v", b)
	}
}
