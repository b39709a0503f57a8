package app

import (
	"context"
	"crypto/sha256"
	"fmt"
	"strings"

	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/words"
)

// Ask says which document is wanted and how.
type Ask struct {
	Kind   string   `json:"kind"`            // "zone-list"
	Format string   `json:"format"`          // pdf, xlsx, csv, ics
	Lang   string   `json:"lang"`            // BCP 47; empty: English
	Units  string   `json:"units"`           // metric, imperial; empty: as the site says
	Sheet  string   `json:"sheet"`           // A4, Letter; empty: A4
	Zones  []string `json:"zones,omitempty"` // of documents about keying: only these; none: as the document does by itself
	Day    string   `json:"day"`             // site's day for which it is judged; empty: today
}

// Document is a document as a file.
type Document struct {
	Body book.IssuedBody // without address and sum
	Name string          // of the file
	Raw  []byte
}

// Maker makes a document of a job. It must not call the App about the same job, except for blobs.
type Maker func(ctx context.Context, state *book.State, key *evidence.JobKey, ask Ask) (Document, error)

// Draft makes a document as the job stands, without giving it out.
func (a *App) Draft(ctx context.Context, job evidence.JobID, ask Ask, write Maker) (Document, error) {
	key, _, err := a.Key(job)
	if err != nil {
		return Document{}, err
	}
	state, err := a.State(job)
	if err != nil {
		return Document{}, err
	}
	return write(ctx, state, key, ask)
}

// mostIssued bounds what is issued at once; a sentence below names it.
const mostIssued = 40

// Issue makes documents of one state of a job, keeps each as a sealed blob and writes down that it was given out. Either
// all are issued or none. The entries are returned in the order of the asks.
func (a *App) Issue(ctx context.Context, job evidence.JobID, by evidence.PersonID, asks []Ask, write Maker) ([]evidence.Entry, error) {
	o, err := a.job(ctx, job)
	if err != nil {
		return nil, err
	}
	if len(asks) == 0 || len(asks) > mostIssued {
		return nil, (&Problem{Code: BadRequest, Say: words.Mark("No document was asked for, or too many at once.")}).With(words.Text{}, words.Later("Name 1 to %d.", mostIssued))
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	var entries []evidence.Entry
	err = a.onNewest(ctx, o, func() (err error) {
		if entries, err = a.issue(ctx, o, by, asks, write); err != nil {
			return err
		}
		return a.commit(ctx, o, entries, nil)
	})
	return entries, err
}

// issue makes documents of a job as it stands, keeps them, and returns the entries that say so. o.mu is held.
func (a *App) issue(ctx context.Context, o *openJob, by evidence.PersonID, asks []Ask, write Maker) ([]evidence.Entry, error) {
	if err := o.carriedOn(); err != nil {
		return nil, err
	}
	job, now, newest := o.state.Job, a.now(), o.newest
	entries := make([]evidence.Entry, 0, len(asks))
	for _, ask := range asks {
		made, err := write(ctx, o.state.Clone(), o.key, ask)
		if err != nil {
			return nil, err
		}
		sealed, address, err := evidence.SealBlob(o.key, a.random, job, made.Raw)
		if err != nil {
			return nil, err
		}
		if err := a.store.PutBlob(ctx, job, address, sealed); err != nil {
			return nil, fmt.Errorf("keeping %s: %w", made.Name, err)
		}
		body := made.Body
		body.Address, body.Sum = address.String(), evidence.Hash(sha256.Sum256(made.Raw)).String()
		c, err := a.content(job, nil, evidence.KindIssued, by, o.state.Seq, now, body, nil)
		if err != nil {
			return nil, err
		}
		e, err := evidence.Append(newest, c, now)
		if err != nil {
			return nil, err
		}
		entries = append(entries, e)
		newest = &entries[len(entries)-1]
	}
	return entries, nil
}

// Given returns a document as it was given out, by the entry that says so.
func (a *App) Given(ctx context.Context, job evidence.JobID, entry evidence.EntryID) (Document, error) {
	key, _, err := a.Key(job)
	if err != nil {
		return Document{}, err
	}
	state, err := a.State(job)
	if err != nil {
		return Document{}, err
	}
	for _, x := range state.Issued {
		if x.Entry == entry {
			raw, err := a.OpenBlob(ctx, job, key, x.Address)
			return Document{Body: x.IssuedBody, Name: FileName(state.Name(), x.What, x.Seq, x.Format), Raw: raw}, err
		}
	}
	return Document{}, ErrNotFound
}

// FileName names the file of a document: "larkwater-mill-zone-list-27.pdf".
func FileName(site, kind string, seq int64, format string) string {
	return fmt.Sprintf("%s-%s-%d.%s", Slug(site), kind, seq, format)
}

// Slug writes a name as the beginning of a file's name.
func Slug(name string) string {
	out := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			return r
		case r >= 'A' && r <= 'Z':
			return r - 'A' + 'a'
		}
		return '-'
	}, name)
	for strings.Contains(out, "--") {
		out = strings.ReplaceAll(out, "--", "-")
	}
	if out = strings.Trim(out, "-"); out == "" {
		return "job"
	}
	return out[:min(len(out), 40)]
}

// OpenBlob returns a blob of a job, opened.
func (a *App) OpenBlob(ctx context.Context, job evidence.JobID, key *evidence.JobKey, address string) ([]byte, error) {
	hash, err := evidence.ParseHash(address)
	if err != nil {
		return nil, ErrNotFound
	}
	sealed, err := a.store.Blob(ctx, job, hash)
	if err != nil {
		return nil, err
	}
	return evidence.OpenBlob(key, job, sealed)
}
