// Package book folds the entries of a job book into the state of the job: site, runs, acceptances, notes.
//
// The fold is pure: the same entries in the same order give the same state, on the server and in the browser. It never
// fails: entries are immutable and there for ever, so what can not be used is kept in State.Troubles with its reason.
// What a client may send is checked before it becomes an entry, by Check.
package book

import (
	"encoding/json"
	"maps"
	"slices"
	"time"

	"proofbell/evidence"
	"proofbell/internal/prove"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// State is what a job book says. The zero value is not useful; begin with New. A State is changed by Apply only, and a
// State that is shared must be cloned first.
type State struct {
	Job       evidence.JobID
	Seq       int64         // newest entry
	Head      evidence.Hash // of the newest entry
	Opened    time.Time     // when the first entry was made
	Erased    bool          // the job's key was destroyed: personal parts are gone
	Site      *site.Site    // never nil
	Accepted  []Acceptance  // in order; the last for a key counts
	Runs      []*prove.Run  // in order of opening
	Conflicts []Conflict    // open ones, oldest first
	Notes     []Note
	Readings  []Reading
	Blobs     []Blob
	Issued    []Issued
	Signed    []Signed
	Visits    []Visit // in order of opening
	Found     []Found // what visits found, oldest first
	Did       []Did   // what was due and done, oldest first
	Panel     PanelState
	Profiles  map[string]*panel.Profile // the job's own, by name: they count in place of built-in ones; never changed in place
	Practice  PracticeState
	Told      int       // entries up to the newest that changes what documents say; signatures before it are of an older state
	Log       []Line    // every entry, oldest first
	Troubles  []Trouble // entries that could not be used

	tree  map[string]any // the site as JSON, numbers as written; never changed in place
	trail *trail
	stale bool                      // tree was changed and Site not yet
	edits map[evidence.EntryID]edit // what each edit changed, for undo
	taken []takenAway               // readings that were withdrawn
	seen  map[evidence.EntryID]bool
	sites map[prove.RunID][]PlanSite // of each run: the sites that its plans were made of, oldest first
}

// Acceptance is a finding that a person took on.
type Acceptance struct {
	Key    string // of the finding
	Reason string
	By     evidence.PersonID
	At     time.Time
}

// Conflict is a change that met another one: both values are kept for a person to decide. It is open until a later edit
// that has seen it touches the place, or it is accepted under its Key.
type Conflict struct {
	Key    string // for accepting it as it is
	Entry  evidence.EntryID
	Seq    int64
	Path   string          // JSON pointer into the site
	Before json.RawMessage // the value that was there; null: nothing
	After  json.RawMessage // the value of this edit; null: deleted
	By     evidence.PersonID
	At     time.Time
	Held   bool // not applied: what it belongs to had been deleted

	Theirs   evidence.PersonID // who wrote the value that was there
	TheirsAt time.Time
}

// Note is free text.
type Note struct {
	Entry evidence.EntryID
	Text  string
	About string // "zone 09", "room G1" or empty
	By    evidence.PersonID
	At    time.Time
}

// Reading is a measured value.
type Reading struct {
	Entry evidence.EntryID
	About string // JSON pointer of the thing measured
	What  string // "sound", "radio", "sounded", "sensitivity", "voltage", "current", "resistance", "clock"; of old "level", "signal"
	Value float64
	Unit  string
	Which []string // ids of what was counted, when known

	Place  []float64 // x, y and perhaps z in m
	Doors  string    // "shut", "open" or empty
	Source string    // JSON pointer of what was heard, or where it was received
	Meter  string

	By evidence.PersonID
	At time.Time

	Seen  *site.Site // the site as the one who measured knew it; never nil. See estimate.Radio.Stale and estimate.Sound.Stale
	order int64      // of its entry among all
}

// Blob is a photo, recording or file.
type Blob struct {
	Entry   evidence.EntryID
	Address string // SHA-256 of the sealed bytes
	Media   string
	About   string
	Name    string
	By      evidence.PersonID
	At      time.Time
}

// Issued is a document that was given out.
type Issued struct {
	IssuedBody
	Entry evidence.EntryID
	By    evidence.PersonID
	At    time.Time
	As    *State // the job as the document told of it; for reading only
}

// Trouble is an entry that could not be used.
type Trouble struct {
	Seq int64
	ID  evidence.EntryID
	Say words.Text
	Err error // what refused it, when there was more than a text
}

// Line is one entry in plain words.
type Line struct {
	Seq  int64 // 0: not yet ordered by the server
	ID   evidence.EntryID
	At   time.Time
	By   evidence.PersonID
	Kind evidence.Kind
	Say  words.Text
}

// sync makes the typed site anew after the tree was changed.
func (s *State) sync() {
	if !s.stale {
		return
	}
	s.stale = false
	if typed, err := decodeSite(s.tree); err == nil { // applyEdit sees to it that it can be decoded
		s.Site = typed
	}
}

// New returns the state of a book without entries.
func New(job evidence.JobID) *State {
	return &State{
		Job: job, Site: &site.Site{Format: site.Format}, tree: map[string]any{}, trail: &trail{},
		edits: map[evidence.EntryID]edit{}, seen: map[evidence.EntryID]bool{}, sites: map[prove.RunID][]PlanSite{},
	}
}

// Clone returns a copy that can be changed without touching s.
func (s *State) Clone() *State {
	c := *s
	c.Accepted = slices.Clone(s.Accepted)
	c.Runs = make([]*prove.Run, len(s.Runs)) // runs are replaced, never changed in place
	for i, r := range s.Runs {
		run := r.Clone()
		c.Runs[i] = &run
	}
	c.Conflicts = slices.Clone(s.Conflicts)
	c.Notes, c.Readings, c.Blobs, c.Issued = slices.Clone(s.Notes), slices.Clone(s.Readings), slices.Clone(s.Blobs), slices.Clone(s.Issued)
	c.Signed = slices.Clone(s.Signed)
	c.Log, c.Troubles = slices.Clone(s.Log), slices.Clone(s.Troubles)
	c.Visits, c.Found, c.Did = slices.Clone(s.Visits), slices.Clone(s.Found), slices.Clone(s.Did)
	c.Panel = s.Panel.clone()
	c.taken = slices.Clone(s.taken)
	c.edits, c.seen, c.sites = maps.Clone(s.edits), maps.Clone(s.seen), maps.Clone(s.sites)
	return &c
}

// OpenRun returns the run that is not closed, or nil. There is at most one.
func (s *State) OpenRun() *prove.Run {
	for _, r := range slices.Backward(s.Runs) {
		if r.Closed.IsZero() {
			return r
		}
	}
	return nil
}

// Run finds a run by its id, or nil.
func (s *State) Run(id string) *prove.Run {
	for _, r := range s.Runs {
		if string(r.ID) == id {
			return r
		}
	}
	return nil
}

// SiteOf returns the site that a run's plan is made of: as it was when the run was opened, or when its new plan was taken
// in. For a run that is not known it is the site as it stands. It is never changed in place.
func (s *State) SiteOf(run prove.RunID) *site.Site {
	if of := s.sites[run]; len(of) > 0 {
		return of[len(of)-1].Site
	}
	return s.Site
}

// PlanSite is a site that a run's plan was made of, and since when.
type PlanSite struct {
	From time.Time
	Site *site.Site
}

// SitesOf returns the sites that a run's plans were made of: as it was when the run was opened, then each that was taken
// in. They are never changed in place.
func (s *State) SitesOf(run prove.RunID) []PlanSite { return s.sites[run] }

// SiteJSON returns the site as canonical JSON.
func (s *State) SiteJSON() (json.RawMessage, error) { return evidence.CanonicalValue(s.tree) }

// Name returns the site's name, or what stands for one.
func (s *State) Name() string {
	if s.Site.Name != "" {
		return s.Site.Name
	}
	return "Job without a name"
}
