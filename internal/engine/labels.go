package engine

import (
	"encoding/json"
	"strings"

	"proofbell/internal/labels"
	"proofbell/site"
)

// Labels is what the panel says for every zone, and what it could say instead.
type Labels struct {
	Panel  string     `json:"panel"`
	Most   int        `json:"most"`   // words of one label
	Hidden bool       `json:"hidden"` // practice: which can not be said is for the learner to find
	Left   int        `json:"left"`   // zones that can not be said as they are, or that sound like another
	Rows   []LabelRow `json:"rows"`
}

// LabelRow is one zone with what the panel says for it.
type LabelRow struct {
	Zone      string          `json:"zone"`
	Label     string          `json:"label"`
	KindSay   string          `json:"kindSay"`
	Says      string          `json:"says"`  // spoken words; empty: it can not be said so
	Codes     []string        `json:"codes"` // their numbers
	Good      bool            `json:"good"`
	Against   string          `json:"against"` // what stands against it, in words
	Proposals []LabelProposal `json:"proposals"`
}

// LabelProposal is a phrase to be taken with one tap.
type LabelProposal struct {
	labels.Proposal
	Label   string          `json:"label"` // as people would read it
	Patch   json.RawMessage `json:"patch"` // RFC 7396 merge patch of the site
	Changes []Change        `json:"changes"`
}

// Labels lays out what the panel says.
func (d *Desk) Labels() (Labels, error) {
	if d.profile == nil {
		return Labels{}, d.noProfile()
	}
	s := d.State.Site
	if d.Hides() {
		return Labels{Panel: d.profile.Name, Most: d.profile.Label.Words, Hidden: true, Rows: []LabelRow{}}, nil
	}
	v := Labels{Panel: d.profile.Name, Most: d.profile.Label.Words, Rows: []LabelRow{}}
	for _, l := range labels.Of(d.lang, s, d.profile) {
		row := LabelRow{Zone: string(l.Zone), Label: l.Label, KindSay: d.kindWords(s.Zones[l.Zone].Kind), Codes: l.Codes, Good: l.Good, Proposals: []LabelProposal{}}
		if len(l.Codes) > 0 {
			row.Says = strings.Join(l.Words, " ")
		}
		if !l.Good {
			if !l.Stays {
				v.Left++
			}
			row.Against = strings.TrimSpace(l.Against + " " + l.Why)
		}
		for _, p := range l.Proposals {
			one := LabelProposal{Proposal: p, Label: p.Text()}
			one.Patch = labelPatch(l, p, s.Zones[l.Zone])
			one.Changes = Changes(d.lang, s, one.Patch)
			row.Proposals = append(row.Proposals, one)
		}
		v.Rows = append(v.Rows, row)
	}
	return v, nil
}

// labelPatch takes a proposal: the label itself where two zones have the same, else only what is spoken.
func labelPatch(l labels.Label, p labels.Proposal, z site.Zone) json.RawMessage {
	members := map[string]any{"words": p.Words}
	if l.Renames() {
		members = map[string]any{"label": p.Text()}
		if len(z.Words) > 0 {
			members["words"] = nil
		}
	}
	raw, _ := json.Marshal(map[string]any{"zones": map[string]any{string(l.Zone): members}}) // plain values: can not fail
	return raw
}
