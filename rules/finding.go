package rules

import (
	"encoding/json"
	"strings"

	"proofbell/internal/words"
	"proofbell/site"
)

// Severity says before which step of the work a finding must be dealt with.
type Severity string

// The severities, gravest first.
const (
	Stop   Severity = "stop"   // before anything is keyed
	Fix    Severity = "fix"    // before proof
	Advise Severity = "advise" // when it can be done
)

// Who says who can mend a finding.
type Who string

// Those who can mend.
const (
	Desk        Who = "desk"        // in the office, by changing the description
	OnSite      Who = "site"        // at the premises
	Electrician Who = "electrician" // a licensed electrician
	Authority   Who = "authority"   // only the authority having jurisdiction can answer
)

// Clause is what a rule rests on.
type Clause struct {
	Document   string `json:"document"`          // "NFPA 72", "general practice"
	Edition    string `json:"edition,omitempty"` // "2016"
	Clause     string `json:"clause,omitempty"`  // "29.7.9.4"
	Confidence string `json:"confidence"`        // "H" confirmed, "M" as known in the trade, wording not re-read, "L" weak
}

func (c Clause) in(l *words.Language) Clause {
	c.Document, c.Clause, c.Edition = l.Word(c.Document), l.Word(c.Clause), l.Word(c.Edition)
	return c
}

// In says the clause in a language (BCP 47): documents keep their names, practice is a word.
func (c Clause) In(language string) Clause { return c.in(words.In(language)) }

// The words of the sheets that are no names of documents.
var _ = []string{
	words.Mark("general practice"), words.Mark("household radio practice"), words.Mark("instructions of the device"), words.Mark("local fire law"),
	words.Mark("Household-style fire warning plus burglary"),
	words.Mark("panel profile"), words.Mark("UL 985 and NFPA 72"), words.Mark("chapter 29"), words.Mark("2007 on"),
}

// Place is one thing of the site file that a finding is about.
type Place struct {
	Kind string `json:"kind"` // zone, device, head, group, room, storey, area, path, contact, setting, power, panel, premises, station, opening, question
	ID   string `json:"id"`   // key of the map in the site file; for a setting, its member: "exitDelay"
}

// Spot is where to show a finding on the plan, in metres.
type Spot struct {
	Storey site.StoreyID `json:"storey"`
	X      float64       `json:"x"`
	Y      float64       `json:"y"`
}

// Finding is one thing that a rule found, or could not judge.
type Finding struct {
	Rule      string          `json:"rule"` // id in the catalogue: "zone.fire.bypass"
	Severity  Severity        `json:"severity"`
	Who       Who             `json:"who"`
	Where     string          `json:"where"`              // first line: "Zone 12, identity"
	Say       string          `json:"say"`                // second line: what is wrong and why, with the numbers
	Do        string          `json:"do"`                 // third line: what to do
	Estimate  bool            `json:"estimate,omitempty"` // rests on a planning estimate; Say says so too
	Clause    Clause          `json:"clause"`
	Places    []Place         `json:"places"` // the first is where to open the finding
	At        *Spot           `json:"at,omitempty"`
	Patch     json.RawMessage `json:"patch,omitempty"`     // RFC 7396 merge patch of the site that mends it, when one is known
	PatchSay  string          `json:"patchSay,omitempty"`  // what the patch changes: "kind: always-loud -> smoke"
	NotJudged bool            `json:"notJudged,omitempty"` // the rule could not be judged: Missing names what it lacks
	Missing   []string        `json:"missing,omitempty"`
	Key       string          `json:"key"`                // stable for the same rule, places and cause; an acceptance holds for one key
	Accepted  *Acceptance     `json:"accepted,omitempty"` // set by Merge
}

// Acceptance is a person's decision to leave a finding as it is. It covers exactly the finding of its key: when what
// caused the finding changes, the key changes and the acceptance no longer covers it.
type Acceptance struct {
	Key    string `json:"key"`
	Reason string `json:"reason"`
	By     string `json:"by"`
	At     string `json:"at,omitempty"` // when, RFC 3339
}

// Merge returns the findings with those that were accepted marked. It hides none and keeps the order. The acceptances
// stand in the order in which they were made: the last one of a key counts, and one without reason or name takes it back.
func Merge(findings []Finding, accepted []Acceptance) []Finding {
	byKey := make(map[string]*Acceptance, len(accepted))
	for _, a := range accepted {
		byKey[a.Key] = &a
		if strings.TrimSpace(a.Reason) == "" || a.By == "" {
			delete(byKey, a.Key)
		}
	}
	merged := make([]Finding, len(findings))
	for i, f := range findings {
		f.Accepted = byKey[f.Key]
		merged[i] = f
	}
	return merged
}

// Counts are the open findings by severity: neither accepted nor left unjudged.
type Counts struct {
	Stop      int `json:"stop"`
	Fix       int `json:"fix"`
	Advise    int `json:"advise"`
	Accepted  int `json:"accepted"`
	NotJudged int `json:"notJudged"`
}

// Count sums findings up.
func Count(findings []Finding) Counts {
	var c Counts
	for _, f := range findings {
		switch {
		case f.NotJudged:
			c.NotJudged++
		case f.Accepted != nil:
			c.Accepted++
		case f.Severity == Stop:
			c.Stop++
		case f.Severity == Fix:
			c.Fix++
		default:
			c.Advise++
		}
	}
	return c
}
