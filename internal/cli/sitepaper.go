package cli

import (
	"crypto/sha256"
	"fmt"
	"time"

	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/engine"
	"proofbell/internal/papers"
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
	return papers.Make(kind, papers.Job{
		State: state, Profile: s.profile, Findings: s.findings, RuleSet: engine.RuleSetWords(words.In(s.lang), s.site.RuleSet), File: &hash, Lang: words.In(s.lang), Zone: zone,
		Day: time.Date(s.on.Year(), s.on.Month(), s.on.Day(), 0, 0, 0, 0, zone), Keying: func() papers.Keying { return k }, Marking: s.marking,
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
