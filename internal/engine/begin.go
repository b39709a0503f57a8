package engine

import (
	"encoding/base64"
	"encoding/json"
	"errors"
	"strings"
	"time"

	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/words"
	"proofbell/site"
)

// Begun is a job that was begun where no server may be in reach: its id, its key and its first entry are made there, and
// a server takes all three over later. Faults, when there are any, are those of the site file; nothing was begun then.
type Begun struct {
	Job     evidence.JobID    `json:"job"`
	Name    string            `json:"name"`
	Key     string            `json:"key"` // base64url
	Content *evidence.Content `json:"content"`
	Faults  site.Faults       `json:"faults,omitempty"`
}

// begin opens a job from a name alone or from a site file, YAML or JSON by its name.
func (e *Engine) begin(argument []byte) (any, error) {
	arg, err := read[struct {
		Name   string // of the building; empty with a file
		File   string // name of the site file
		Text   string // what it holds
		At     time.Time
		By     evidence.PersonID
		From   string
		Random string
		Lang   string
	}](argument)
	if err != nil {
		return nil, err
	}
	described := &site.Site{Format: site.Format, Name: strings.TrimSpace(arg.Name)}
	switch {
	case strings.HasSuffix(arg.File, ".json"):
		described, err = site.DecodeJSON(arg.File, []byte(arg.Text))
	case arg.File != "":
		described, err = site.DecodeYAML(arg.File, []byte(arg.Text))
	case described.Name == "":
		lang := words.In(arg.Lang)
		return nil, &Problem{Code: "bad-request", Say: lang.Say("A job needs a name."), Try: lang.Say("Type what people call the building.")}
	}
	var faults site.Faults
	if errors.As(err, &faults) {
		return Begun{Faults: faults.In(arg.Lang)}, nil
	}
	if err != nil {
		return nil, err
	}
	source, err := randomBytes(arg.Random, 10+32+10+12)
	if err != nil {
		return nil, err
	}
	job, err := evidence.NewJobID(arg.At, source)
	if err != nil {
		return nil, err
	}
	key, err := evidence.NewJobKey(source)
	if err != nil {
		return nil, err
	}
	id, err := evidence.NewEntryID(arg.At, source)
	if err != nil {
		return nil, err
	}
	raw, err := json.Marshal(described)
	if err != nil {
		return nil, err
	}
	patch, private, err := book.SplitPatch(raw)
	if err != nil {
		return nil, err
	}
	c, err := evidence.NewContent(job, id, arg.At, arg.By, evidence.KindEdit, 0, book.EditBody{Patch: patch, From: arg.From})
	if err == nil && private != nil {
		c, err = evidence.SealPrivate(key, source, c, book.EditPrivate{Patch: private})
	}
	if err != nil {
		return nil, err
	}
	return Begun{Job: job, Name: described.Name, Key: base64.RawURLEncoding.EncodeToString(key.Secret()), Content: &c}, nil
}
