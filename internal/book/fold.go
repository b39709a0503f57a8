package book

import (
	"encoding/json"
	"errors"
	"slices"

	"proofbell/evidence"
	"proofbell/internal/prove"
	"proofbell/internal/words"
)

// Open opens the sealed part of a content; nil when there is none. evidence.ErrErased when the job's key is gone.
type Open func(evidence.Content) (json.RawMessage, error)

// WithKey opens sealed parts with a job's key; a nil key stands for one that was destroyed.
func WithKey(key *evidence.JobKey) Open {
	return func(c evidence.Content) (json.RawMessage, error) {
		raw, err := evidence.OpenPrivate(key, c)
		if errors.Is(err, evidence.ErrNoPrivate) {
			return nil, nil
		}
		return raw, err
	}
}

// withoutKey stands for a personal part that nobody can open any more, where what happened depends on there being one.
var withoutKey = map[evidence.Kind]json.RawMessage{evidence.KindOnTest: json.RawMessage(`{"operator":"not readable any more"}`)}

// Bodies of the kinds that do not belong to a run.
type (
	// AcceptBody takes on a finding or a conflict. An empty reason withdraws it.
	AcceptBody struct {
		Key    string `json:"key"`
		Reason string `json:"reason"`
	}
	// NoteBody says what a note is about; its text is personal and travels sealed as NotePrivate.
	NoteBody struct {
		About string `json:"about,omitempty"`
	}
	// NotePrivate is the text of a note.
	NotePrivate struct {
		Text string `json:"text"`
	}
	// ReadingBody is a measured value.
	ReadingBody struct {
		About string  `json:"about"`
		What  string  `json:"what"`
		Value float64 `json:"value"`
		Unit  string  `json:"unit"`
		// Which things were counted, when they are known: the alarms that sounded when one was pressed.
		Which []string `json:"which,omitempty"`

		Place     []float64        `json:"at,omitempty"`     // x, y and perhaps z in m, of a level
		Doors     string           `json:"doors,omitempty"`  // "shut", "open", of a sound level
		Source    string           `json:"source,omitempty"` // JSON pointer of what was heard or where it was received
		Meter     string           `json:"meter,omitempty"`
		Withdrawn evidence.EntryID `json:"withdrawn,omitempty"` // takes an earlier reading away, or puts back what an earlier entry took away
	}
	// BlobBody adds a photo, recording or file; withdrawn, it takes one away again from what it was about.
	BlobBody struct {
		Address   string `json:"address"`
		Media     string `json:"media"`
		About     string `json:"about,omitempty"`
		Name      string `json:"name,omitempty"`
		Withdrawn bool   `json:"withdrawn,omitempty"`
	}
	// IssuedBody records that a document was given out. The server alone writes it, in one with the file.
	IssuedBody struct {
		What    string `json:"what"`              // kind of document: "zone-list"
		For     string `json:"for,omitempty"`     // reader: owner, station, authority, file
		Lang    string `json:"lang,omitempty"`    // BCP 47
		Format  string `json:"format,omitempty"`  // pdf, xlsx, csv, ics
		Address string `json:"address,omitempty"` // of the file as a sealed blob
		Sum     string `json:"sum,omitempty"`     // SHA-256 of the file itself
		Seq     int64  `json:"seq,omitempty"`     // newest entry that it tells of
		Day     string `json:"day,omitempty"`     // site's day for which it was judged: "2026-09-15"
	}
	// SignBody says what was signed, and as whom. Name and strokes are personal and travel sealed as SignPrivate.
	SignBody struct {
		What string `json:"what"` // kind of document
		As   string `json:"as"`   // technician, owner
	}
	// SignPrivate is a signature: the name as typed, and the strokes of the finger where there are any, in thousandths of
	// the width of the pad from its upper left corner.
	SignPrivate struct {
		Name    string     `json:"name"`
		Strokes [][][2]int `json:"strokes,omitempty"`
	}
	// SecretBody says that a secret was kept or removed, RevealBody that one was shown. The server alone writes them.
	SecretBody struct {
		What string `json:"what"` // transmission-key
		Act  string `json:"act"`  // SecretSet, SecretRemoved
	}
	// RevealBody is described at SecretBody.
	RevealBody struct {
		What string `json:"what"`
	}
	// KeyBody says what became of the job's key.
	KeyBody struct {
		Act string `json:"act"` // rewrapped, erased
	}
)

// What a SecretBody tells of, and what was done with it. Append only.
const (
	TransmissionKey = "transmission-key"
	SecretSet       = "set"
	SecretRemoved   = "removed"
)

// Apply takes the next entries of the book. They must come in order; those that are known already change nothing.
// It never fails: what can not be used is kept in Troubles. Many at once cost less than one by one.
func (s *State) Apply(open Open, entries ...evidence.Entry) {
	for _, e := range entries {
		if e.Seq <= s.Seq {
			continue
		}
		s.apply(e, open)
		s.Seq, s.Head = e.Seq, e.Hash
	}
	s.sync()
}

// Lay puts contents that the server has not ordered yet over the state, in the order in which they were made. Contents
// that the book holds already are left out.
func (s *State) Lay(open Open, contents ...evidence.Content) {
	for _, c := range contents {
		if !s.seen[c.ID] {
			s.apply(evidence.Entry{Content: c}, open)
		}
	}
	s.sync()
}

// Has reports whether the book holds an entry.
func (s *State) Has(id evidence.EntryID) bool { return s.seen[id] }

func (s *State) apply(e evidence.Entry, open Open) {
	s.seen[e.ID] = true
	if s.Opened.IsZero() {
		s.Opened = e.At.Time
	}
	private, err := open(e.Content)
	switch {
	case errors.Is(err, evidence.ErrErased):
		private = withoutKey[e.Kind]
	case err != nil:
		s.trouble(e, words.Later("its personal part can not be opened: %s", words.Said(err)))
	}
	say := s.use(e, private)
	if tellsMore[e.Kind] {
		s.Told = len(s.Log) + 1
	}
	s.Log = append(s.Log, Line{Seq: e.Seq, ID: e.ID, At: e.At.Time, By: e.By, Kind: e.Kind, Say: say})
}

func (s *State) use(e evidence.Entry, private json.RawMessage) words.Text {
	switch e.Kind {
	case evidence.KindEdit:
		var p EditPrivate
		if err := unmarshal(private, &p); err != nil {
			return s.trouble(e, words.Later("its personal part can not be read: %s", words.Said(err)))
		}
		begins := len(s.tree) == 0
		say := s.applyEdit(e, p.Patch)
		if begins {
			s.givenOut()
		}
		return say
	case evidence.KindAccept:
		var b AcceptBody
		if err := json.Unmarshal(e.Body, &b); err != nil {
			return s.trouble(e, words.Said(err))
		}
		s.Accepted = append(s.Accepted, Acceptance{Key: b.Key, Reason: b.Reason, By: e.By, At: e.At.Time})
		s.settle(b.Key)
		if b.Reason == "" {
			return words.Later("Took back an acceptance")
		}
		return words.Later("Accepted a finding: %s", b.Reason)
	case evidence.KindNote:
		var b NoteBody
		var p NotePrivate
		if err := errors.Join(json.Unmarshal(e.Body, &b), unmarshal(private, &p)); err != nil {
			return s.trouble(e, words.Said(err))
		}
		s.Notes = append(s.Notes, Note{Entry: e.ID, Text: p.Text, About: b.About, By: e.By, At: e.At.Time})
		return words.Later("Note: %s", p.Text)
	case evidence.KindReading:
		var b ReadingBody
		if err := json.Unmarshal(e.Body, &b); err != nil {
			return s.trouble(e, words.Said(err))
		}
		if b.Withdrawn != "" {
			return s.withdraw(e.ID, b)
		}
		s.Readings = append(s.Readings, Reading{
			Entry: e.ID, About: b.About, What: b.What, Value: b.Value, Unit: b.Unit, Which: b.Which,
			Place: b.Place, Doors: b.Doors, Source: b.Source, Meter: b.Meter, By: e.By, At: e.At.Time,
			Seen: s.seenBy(e), order: int64(len(s.Log)),
		})
		return words.Later("Measured %s: %g %s", words.Marked(b.What), b.Value, b.Unit)
	case evidence.KindBlob:
		var b BlobBody
		if err := json.Unmarshal(e.Body, &b); err != nil {
			return s.trouble(e, words.Said(err))
		}
		if b.Withdrawn {
			s.Blobs = slices.DeleteFunc(slices.Clone(s.Blobs), func(one Blob) bool { return one.Address == b.Address && one.About == b.About })
			return words.Later("Withdrew %s", b.Name)
		}
		s.Blobs = append(s.Blobs, Blob{Entry: e.ID, Address: b.Address, Media: b.Media, About: b.About, Name: b.Name, By: e.By, At: e.At.Time})
		return words.Later("Added %s", b.Name)
	case evidence.KindIssued:
		var b IssuedBody
		if err := json.Unmarshal(e.Body, &b); err != nil {
			return s.trouble(e, words.Said(err))
		}
		s.Issued = append(s.Issued, Issued{IssuedBody: b, Entry: e.ID, By: e.By, At: e.At.Time, As: s.asIssued(b)})
		return words.Later("Issued: %s", DocumentTitle(b.What))
	case evidence.KindVisit:
		return s.useVisit(e, private)
	case evidence.KindReadout:
		return s.useReadout(e)
	case evidence.KindPractice:
		return s.usePractice(e)
	case evidence.KindKeying:
		return s.useKeying(e)
	case evidence.KindProfile:
		return s.useProfile(e)
	case evidence.KindKey:
		var b KeyBody
		if err := json.Unmarshal(e.Body, &b); err != nil {
			return s.trouble(e, words.Said(err))
		}
		if b.Act == "erased" {
			s.Erased = true
			return words.Later("Destroyed the key: personal data of this job is gone")
		}
		return words.Later("Wrapped the key anew")
	case evidence.KindReveal:
		var b RevealBody
		if json.Unmarshal(e.Body, &b) == nil && b.What == TransmissionKey {
			return words.Later("The transmission key was shown")
		}
		return words.Later("A secret was shown")
	case evidence.KindSecret:
		var b SecretBody
		switch err := json.Unmarshal(e.Body, &b); {
		case err != nil:
			return s.trouble(e, words.Said(err))
		case b.Act == SecretRemoved:
			return words.Later("The transmission key was removed")
		}
		return words.Later("A transmission key was set")
	case evidence.KindSign:
		return s.useSign(e, private)
	}
	return s.useRun(e, private)
}

// useRun gives the entry to the run it names, or else to the one that was open when it was made.
func (s *State) useRun(e evidence.Entry, private json.RawMessage) words.Text {
	meta := prove.Meta{ID: string(e.ID), At: e.At.Time, By: string(e.By)}
	var signal prove.SignalBody
	if e.Kind == evidence.KindSignal && json.Unmarshal(e.Body, &signal) == nil {
		return s.useSignal(e, meta, signal)
	}
	var which struct {
		Run prove.RunID  `json:"run"`
		Act prove.RunAct `json:"act"`
	}
	if err := json.Unmarshal(e.Body, &which); err != nil {
		return s.trouble(e, words.Later("its body can not be read: %s", words.Said(err)))
	}
	opens := e.Kind == evidence.KindRun && which.Act == prove.RunOpened
	if opens && s.OpenRun() != nil {
		return s.trouble(e, words.Later("a run is open already"))
	}
	var run prove.Run
	at := -1
	if !opens {
		run, at = s.runOf(which.Run)
	}
	next, used, err := run.Fold(e.Kind, meta, e.Body, private)
	switch {
	case !used:
		return words.Later("Entry of a kind that this version does not know: %s", string(e.Kind))
	case opens && err == nil:
		s.Runs = append(s.Runs, &next)
	case at >= 0:
		s.Runs[at] = &next
	}
	if e.Kind == evidence.KindRun && err == nil && (opens || which.Act == prove.RunReplanned) {
		s.sync()
		s.sites[next.ID] = append(slices.Clip(s.sites[next.ID]), PlanSite{From: e.At.Time, Site: s.Site})
	}
	if err != nil {
		say := s.trouble(e, words.Said(err))
		s.Troubles[len(s.Troubles)-1].Err = err
		return say
	}
	return sayRun(s, e)
}

// runOf finds the run that an entry names, or the open one when it names none; at is -1 when there is none.
func (s *State) runOf(id prove.RunID) (run prove.Run, at int) {
	at = -1
	for i, r := range s.Runs {
		if r.ID == id || id == "" && r.Closed.IsZero() {
			run, at = *r, i
		}
	}
	return run, at
}

// useSignal is useRun for a signal, whose body is read once: there are many of them.
func (s *State) useSignal(e evidence.Entry, meta prove.Meta, b prove.SignalBody) words.Text {
	run, at := s.runOf(b.Run)
	next, err := run.FoldSignal(meta, b)
	if at >= 0 {
		s.Runs[at] = &next
	}
	if err != nil {
		say := s.trouble(e, words.Said(err))
		s.Troubles[len(s.Troubles)-1].Err = err
		return say
	}
	return saySignal(b)
}

// settle closes conflicts that were accepted as they are.
func (s *State) settle(key string) {
	open := s.Conflicts[:0:0]
	for _, c := range s.Conflicts {
		if c.Key != key {
			open = append(open, c)
		}
	}
	s.Conflicts = open
}

func (s *State) trouble(e evidence.Entry, say words.Text) words.Text {
	s.Troubles = append(s.Troubles, Trouble{Seq: e.Seq, ID: e.ID, Say: say})
	return words.Later("Could not be used (%s): %s", words.Marked(string(e.Kind)), say)
}

func unmarshal(raw json.RawMessage, into any) error {
	if len(raw) == 0 {
		return nil
	}
	return json.Unmarshal(raw, into)
}
