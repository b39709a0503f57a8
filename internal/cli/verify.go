package cli

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"
	"strconv"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/book"
	"proofbell/internal/papers"
)

// maxDocument bounds the file of a document.
const maxDocument = 64 << 20

// checked is what verify says of a document.
type checked struct {
	File   string           `json:"file"`
	Sum    string           `json:"sum"` // SHA-256 of its bytes
	Good   bool             `json:"good"`
	Say    string           `json:"say"`
	Issued *book.IssuedBody `json:"issued,omitempty"` // the entry that says that it was given out
	At     time.Time        `json:"at,omitzero"`
	Job    evidence.JobID   `json:"job,omitempty"`
	Name   string           `json:"name,omitempty"`
	Book   int64            `json:"book,omitempty"` // newest entry of the book that was looked in
	Pin    string           `json:"pin,omitempty"`  // as it stands in the file
	Fits   *bool            `json:"fits,omitempty"` // whether the book has that entry with that hash
}

// source is a job book to look in: what was issued, and the hash of any of its entries.
type source struct {
	job    evidence.JobID
	name   string
	newest int64
	issued []book.Issued
	hash   func(seq int64) (evidence.Hash, bool)
}

// document looks a file up among the documents that were issued.
func (c *verifyCmd) document(ctx context.Context, io *streams) error {
	info, err := os.Stat(c.File)
	if err != nil {
		return fmt.Errorf("%w: check the name", err)
	}
	if info.Size() > maxDocument {
		return fmt.Errorf("%s: %d bytes is more than any document of ours", c.File, info.Size())
	}
	raw, err := os.ReadFile(c.File)
	if err != nil {
		return err
	}
	var answer checked
	if c.Book != "" {
		s, err := fromExport(c.Book)
		if err != nil {
			return err
		}
		answer = judge(c.File, raw, []source{s})
	} else if err := withBooks(ctx, c.data(), io, func(a *app.App) error {
		all, err := fromBooks(ctx, a)
		answer = judge(c.File, raw, all)
		return err
	}); err != nil {
		return err
	}
	if c.JSON {
		err = printJSON(io.out, answer)
	} else {
		printChecked(io.out, answer)
	}
	if err == nil && !answer.Good {
		err = ErrNotGood
	}
	return err
}

func judge(file string, raw []byte, all []source) checked {
	sum := evidence.Hash(sha256.Sum256(raw)).String()
	out := checked{File: file, Sum: sum, Pin: pinOf(raw)}
	for _, s := range all {
		for _, x := range s.issued {
			if x.Sum == sum {
				b := x.IssuedBody
				out.Good, out.Issued, out.At, out.Job, out.Name, out.Book = true, &b, x.At, s.job, s.name, s.newest
				out.Say = "Unchanged: these are the bytes that were issued."
				return out
			}
		}
	}
	out.Say = "Not among the documents issued from these books: it was changed after it was issued, or never issued."
	job, seq, hash, ok := readPin(out.Pin)
	if !ok {
		out.Say += " It carries no pin of a job book."
		return out
	}
	for _, s := range all {
		if s.job != job {
			continue
		}
		out.Job, out.Name, out.Book = s.job, s.name, s.newest
		is, known := s.hash(seq)
		fits := known && is == hash
		if out.Fits = &fits; fits {
			out.Say += fmt.Sprintf(" Its pin fits: the book has entry %d with that hash.", seq)
		} else {
			out.Say += fmt.Sprintf(" Its pin does not fit: the book has no entry %d with that hash.", seq)
		}
		return out
	}
	out.Say += " Its pin names a job that is not here."
	return out
}

func printChecked(w io.Writer, c checked) {
	if x := c.Issued; x != nil {
		title := x.What
		if k, ok := papers.Find(x.What); ok {
			title = k.Title
		}
		fmt.Fprintf(w, "Issued   %s, %s, for: %s, language: %s\nWhen     %s\nEntry    it tells of the job up to entry %d; the book stands at %d\n", title, x.Format, x.For, x.Lang, c.At.UTC().Format(time.RFC3339), x.Seq, c.Book)
	}
	if c.Job != "" {
		fmt.Fprintf(w, "Job      %s %s\n", c.Job, c.Name)
	}
	if c.Pin != "" {
		fmt.Fprintf(w, "Pin      %s\n", c.Pin)
	}
	fmt.Fprintln(w, c.Say)
}

// pinPattern is how a pin stands in a document.
var pinPattern = regexp.MustCompile(`proofbell:([0-9a-f-]{36}):(\d{1,15}):([0-9a-f]{64})`)

// pinOf finds the pin of a document: in the description of a PDF, in a calendar, or inside of a workbook; "" when there
// is none. A CSV carries the short form, which names no job.
func pinOf(raw []byte) string {
	if pin := pinPattern.Find(raw); pin != nil {
		return string(pin)
	}
	unfolded := bytes.ReplaceAll(raw, []byte("\r\n "), nil) // long lines of a calendar, RFC 5545, 3.1
	if pin := pinPattern.Find(unfolded); pin != nil {
		return string(pin)
	}
	archive, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil || len(archive.File) > 200 {
		return ""
	}
	for _, f := range archive.File {
		in, err := f.Open()
		if err != nil {
			continue
		}
		part, err := io.ReadAll(io.LimitReader(in, 8<<20))
		_ = in.Close() // only read
		if pin := pinPattern.Find(part); err == nil && pin != nil {
			return string(pin)
		}
	}
	return ""
}

func readPin(pin string) (job evidence.JobID, seq int64, hash evidence.Hash, ok bool) {
	m := pinPattern.FindStringSubmatch(pin)
	if m == nil {
		return job, 0, hash, false
	}
	seq, err := strconv.ParseInt(m[2], 10, 64)
	hash, err2 := evidence.ParseHash(m[3])
	return evidence.JobID(m[1]), seq, hash, errors.Join(err, err2) == nil
}

func fromBooks(ctx context.Context, a *app.App) ([]source, error) {
	var out []source
	for _, j := range a.Jobs() {
		state, err := a.State(j.Job)
		if err != nil {
			return nil, err
		}
		out = append(out, source{job: j.Job, name: j.Name, newest: j.Seq, issued: state.Issued, hash: func(seq int64) (evidence.Hash, bool) {
			entries, err := a.Entries(ctx, j.Job, seq-1, 1)
			if err != nil || len(entries) == 0 || entries[0].Seq != seq {
				return evidence.Hash{}, false
			}
			return entries[0].Hash, true
		}})
	}
	return out, nil
}

// fromExport reads a job book. Its chain is held together; who signed it is for verify of the book itself to say.
func fromExport(path string) (source, error) {
	f, err := os.Open(path)
	if err != nil {
		return source{}, fmt.Errorf("%w: check the name", err)
	}
	defer func() { _ = f.Close() }() // only read
	x, err := evidence.ReadExport(f)
	if err != nil {
		return source{}, fmt.Errorf("%s: %w", path, err)
	}
	s := source{job: x.Header().Job, name: x.Header().Name}
	hashes := map[int64]evidence.Hash{}
	for e, err := range x.Entries() {
		if err != nil {
			return source{}, fmt.Errorf("%s: %w", path, err)
		}
		hashes[e.Seq], s.newest = e.Hash, e.Seq
		var b book.IssuedBody
		if e.Kind == evidence.KindIssued && json.Unmarshal(e.Body, &b) == nil {
			s.issued = append(s.issued, book.Issued{IssuedBody: b, Entry: e.ID, By: e.By, At: e.At.Time})
		}
	}
	s.hash = func(seq int64) (evidence.Hash, bool) {
		h, ok := hashes[seq]
		return h, ok
	}
	return s, nil
}
