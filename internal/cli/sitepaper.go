package cli

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"time"

	"proofbell/evidence"
	"proofbell/internal/app"
	"proofbell/internal/book"
	"proofbell/internal/engine"
	"proofbell/internal/papers"
	"proofbell/internal/placing"
	"proofbell/internal/records"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/rules"
	"proofbell/site"
)

// sitePaper makes a document of a site file. It has no job book: what pins it is the SHA-256 of the file.
type sitePaper struct {
	kind     string
	site     *site.Site
	file     []byte
	profile  *panel.Profile
	findings []rules.Finding
	on       time.Time
	lang     string
	marking  *papers.Marking // of a practice
	with     placing.With    // what is proposed
}

// pdfFlags are how a command writes its answer as a document.
type pdfFlags struct {
	PDF   string `name:"pdf" type:"path" help:"Write it as a document, with the plan, to this file." placeholder:"FILE"`
	Paper string `default:"" enum:",A4,Letter" help:"Size of the sheets of --pdf: A4, which it is without this, or Letter."`
}

func (f pdfFlags) check() error {
	if f.Paper != "" && f.PDF == "" {
		return errors.New("--paper is the size of the sheets of --pdf: give --pdf as well")
	}
	return nil
}

// ofSite writes the document of a site file, where one is wanted.
func (f pdfFlags) ofSite(kind string, s *site.Site, file []byte, on time.Time, lang string, with placing.With) error {
	if f.PDF == "" {
		return nil
	}
	return sitePaper{kind: kind, site: s, file: file, on: on, lang: lang, with: with}.write(f.PDF, "pdf", f.Paper, papers.Keying{})
}

// of writes the document of a site file or of a job, where one is wanted.
func (f pdfFlags) of(ctx context.Context, io *streams, d dataFlags, kind, what, on, lang string) error {
	if f.PDF == "" {
		return nil
	}
	if isFile(what) {
		if what == "-" {
			return errors.New("--pdf wants the site as a file: name it instead of -")
		}
		s, file, err := readSite(what, io.in)
		if err != nil {
			return err
		}
		at, err := day(on)
		if err != nil {
			return err
		}
		return f.ofSite(kind, s, file, at, lang, "")
	}
	return withBooks(ctx, d, io, func(a *app.App) error {
		job, err := findJob(a, what)
		if err != nil {
			return err
		}
		doc, err := a.Draft(ctx, job, app.Ask{Kind: kind, Format: "pdf", Lang: lang, Sheet: f.Paper, Day: on}, paperMaker(a, time.Now))
		if err != nil {
			return err
		}
		return writeFile(f.PDF, doc.Raw)
	})
}

// sumsFlags are how a calculation is written as a document: all sheets of the site, as it is.
type sumsFlags struct {
	PDF   string `name:"pdf" type:"path" help:"Write all calculation sheets of the site or job as a document to this file." placeholder:"FILE"`
	Paper string `default:"" enum:",A4,Letter" help:"Size of the sheets of --pdf: A4, which it is without this, or Letter."`
}

func (f sumsFlags) write(ctx context.Context, io *streams, d dataFlags, what, on, lang string, changed bool) error {
	file := pdfFlags(f)
	if err := file.check(); err != nil || f.PDF == "" {
		return err
	}
	if what == "" || changed {
		return errors.New("--pdf is the document of all calculation sheets of a site or job as it is: name one, and leave out what changes or narrows it")
	}
	return file.of(ctx, io, d, "calculations", what, on, lang)
}

func (s sitePaper) paper(k papers.Keying) (papers.Paper, error) {
	kind, ok := papers.Find(s.kind)
	if !ok {
		return papers.Paper{}, fmt.Errorf("there is no document %q", s.kind)
	}
	zone, err := time.LoadLocation(s.site.Premises.TimeZone)
	if err != nil {
		zone = time.UTC
	}
	hash := evidence.Hash(sha256.Sum256(s.file))
	state := book.New("")
	state.Site = s.site
	desk := engine.NewDesk(state, 0).In(words.In(s.lang))
	return papers.Make(kind, papers.Job{
		State: state, Profile: s.profile, Findings: s.findings, RuleSet: engine.RuleSetWords(words.In(s.lang), s.site.RuleSet), File: &hash, Lang: words.In(s.lang), Zone: zone,
		Day: time.Date(s.on.Year(), s.on.Month(), s.on.Day(), 0, 0, 0, 0, zone), Keying: func() papers.Keying { return k }, Marking: s.marking,
		Estimates: desk.Estimates(s.on, s.with), Sums: func(all bool) []papers.Section { return desk.Sums(s.on, all) },
	}), nil
}

func (s sitePaper) write(path, format, sheet string, k papers.Keying) error {
	paper, err := s.paper(k)
	if err != nil {
		return err
	}
	raw, err := records.File(paper, format, records.Options{Sheet: sheet})
	if err != nil {
		return err
	}
	return writeFile(path, raw)
}
