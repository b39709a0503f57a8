// Package labels finds what a panel with a limited spoken list can say for the labels of a site: the label itself where it
// has the words, else the closest phrase that is still true, for all zones together so that no two sound alike.
//
// What it proposes says less than the label or the same, never something else: smoke stays smoke and heat heat, up stays
// up, front stays front, whatever a profile offers as another word. Proposals carry a score and their reasons.
//
// The package is pure; values are not shared with what is given to it.
package labels

import (
	"slices"
	"strings"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// Proposal is one phrase that the panel can say.
type Proposal struct {
	Words []string `json:"words"` // in capitals, in the order in which they are said
	Codes []string `json:"codes"` // their numbers at the keypad
	Score int      `json:"score"` // 100: as written; less for every word replaced, left out or added
	Why   []string `json:"why"`
}

// Text is the phrase as people write a label: "Back door up".
func (p Proposal) Text() string { return Written(p.Words) }

// Label is what the panel says for one zone.
type Label struct {
	Zone      site.ZoneID   `json:"zone"`
	Label     string        `json:"label"`
	Words     []string      `json:"words"`     // to be said, as written
	Codes     []string      `json:"codes"`     // empty: it can not be said so
	Missing   []string      `json:"missing"`   // words that the panel does not have
	Same      []site.ZoneID `json:"same"`      // other zones that say exactly the same
	Good      bool          `json:"good"`      // can be said, fits, and is unlike every other
	Stays     bool          `json:"stays"`     // it is good once the others that say the same take their proposals
	Proposals []Proposal    `json:"proposals"` // best first: the first one of each zone goes together with those of all others
	Against   string        `json:"against"`   // what stands against it as it is; empty when it is good
	Why       string        `json:"why"`       // why there is no proposal
}

// mostProposals is how many a person is offered.
const mostProposals = 3

// Split takes a label apart into words in capitals, as a panel's voice would.
func Split(label string) []string {
	return strings.FieldsFunc(strings.ToUpper(label), func(r rune) bool { return strings.ContainsRune(" \t,.;:/-'()", r) })
}

// Written writes spoken words as people write a label: "Landing smoke".
func Written(spoken []string) string {
	text := strings.ToLower(strings.Join(spoken, " "))
	if text == "" {
		return ""
	}
	return strings.ToUpper(text[:1]) + text[1:]
}

// Used reports whether a zone is said at all: zones that hold nothing are not.
func Used(z site.Zone) bool { return z.Kind != site.Unused && (z.Kind != "" || z.Device != "") }

// Of judges the labels of a site, zones in natural order. The outcome depends on what the zones are and not on how they
// are numbered, but for zones that are alike in all.
func Of(lang *words.Language, s *site.Site, p *panel.Profile) []Label {
	v := &voice{lang: lang, site: s, panel: p, most: p.Label.Words}
	if v.most <= 0 {
		v.most = len(p.Words)
	}
	out := []Label{}
	byWords := map[string][]site.ZoneID{}
	for _, id := range site.SortedIDs(s.Zones) {
		z := s.Zones[id]
		if !Used(z) {
			continue
		}
		l := Label{Zone: id, Label: z.Label, Words: Split(z.Label), Codes: []string{}, Missing: []string{}, Same: []site.ZoneID{}, Proposals: []Proposal{}}
		if len(z.Words) > 0 {
			l.Words = nil
			for _, w := range z.Words {
				l.Words = append(l.Words, strings.ToUpper(strings.TrimSpace(w)))
			}
		}
		codes, missing := p.SayWords(l.Words)
		if len(missing) > 0 {
			l.Missing = missing
		} else if len(codes) > 0 {
			l.Codes = codes
			byWords[strings.Join(codes, " ")] = append(byWords[strings.Join(codes, " ")], id)
		}
		out = append(out, l)
	}
	for i := range out {
		l := &out[i]
		for _, id := range byWords[strings.Join(l.Codes, " ")] {
			if id != l.Zone && len(l.Codes) > 0 {
				l.Same = append(l.Same, id)
			}
		}
		l.Good = len(l.Codes) > 0 && len(l.Codes) <= v.most && len(l.Same) == 0
		l.Against = v.against(*l)
	}
	v.propose(out)
	return out
}

// against says what stands against a label as it is.
func (v *voice) against(l Label) string {
	switch {
	case l.Good:
		return ""
	case len(l.Words) == 0:
		return v.lang.Say("No label.")
	case len(l.Missing) > 0:
		return v.lang.Say("Not in the spoken list: %s.", strings.Join(l.Missing, ", "))
	case len(l.Same) > 0:
		return v.lang.Say("Said of zone %s as well.", words.List(v.lang, l.Same))
	}
	return v.lang.Say("%d words; the panel holds %d.", len(l.Words), v.most)
}

// Find returns the label of a zone; nil when the zone is not said.
func Find(all []Label, zone site.ZoneID) *Label {
	i := slices.IndexFunc(all, func(l Label) bool { return l.Zone == zone })
	if i < 0 {
		return nil
	}
	return &all[i]
}

// Renames reports whether a proposal has to become the label itself: another zone has the same one, or there is none.
// Else the label stays for people to read, and only the spoken words are set.
func (l Label) Renames() bool { return len(l.Same) > 0 || l.Label == "" }

// voice proposes for one site and panel.
type voice struct {
	lang  *words.Language
	site  *site.Site
	panel *panel.Profile
	most  int
}

// open is a zone that needs other words, with what could be said.
type open struct {
	at         int // in the list of labels
	facts      facts
	candidates []candidate
}

func (v *voice) propose(all []Label) {
	taken := map[string]bool{}
	var opens []*open
	for i, l := range all {
		if l.Good {
			taken[phraseKey(l.Codes)] = true
		} else {
			opens = append(opens, &open{at: i, facts: v.facts(l.Zone)})
		}
	}
	// Ties go by what the zones are, so that the numbers of the zones decide nothing.
	sorts.Stable(opens, func(a, b *open) int {
		return strings.Compare(strings.Join(all[a.at].Words, " ")+"\x00"+a.facts.key, strings.Join(all[b.at].Words, " ")+"\x00"+b.facts.key)
	})
	for _, o := range opens {
		l := &all[o.at]
		o.candidates, l.Why = v.candidates(*l, o.facts)
		free := slices.DeleteFunc(o.candidates, func(c candidate) bool { return taken[c.key] })
		if len(free) == 0 && l.Why == "" {
			l.Why = v.lang.Say("Everything true that the panel could say for it is said of another zone already.")
		}
		o.candidates = free[:min(len(free), mostCandidates)]
	}
	chosen := assign(opens)
	used := map[string]site.ZoneID{}
	for i, o := range opens {
		if chosen[i] >= 0 {
			used[o.candidates[chosen[i]].key] = all[o.at].Zone
		}
	}
	for _, l := range all {
		if l.Good {
			used[phraseKey(l.Codes)] = l.Zone
		}
	}
	for i, o := range opens {
		l := &all[o.at]
		if chosen[i] < 0 {
			if l.Why == "" {
				l.Why = v.lang.Say("Everything true that the panel could say for it is said of another zone already.")
			}
			continue
		}
		first := o.candidates[chosen[i]]
		if first.kept {
			l.Stays = true
			l.Why = v.lang.Say("It can stay as it is once the others that say the same get other words: %s.", words.List(v.lang, l.Same))
			continue
		}
		l.Proposals = append(l.Proposals, v.proposal(first, l, used))
		for _, c := range o.candidates {
			counts := slices.ContainsFunc(c.added, func(w string) bool { return slices.Contains(numbers, w) })
			if _, is := used[c.key]; !is && !c.kept && (!counts || len(l.Same) > 0) && len(l.Proposals) < mostProposals {
				l.Proposals = append(l.Proposals, v.proposal(c, l, used))
			}
		}
	}
}

func (v *voice) proposal(c candidate, l *Label, used map[string]site.ZoneID) Proposal {
	p := Proposal{Words: c.words, Score: max(1, 100-c.cost), Why: slices.Clone(c.why)}
	p.Codes, _ = v.panel.SayWords(c.words)
	if len(c.added) > 0 {
		other, is := used[c.base]
		if !is && len(l.Same) > 0 {
			other, is = l.Same[0], true
		}
		added := strings.Join(c.added, " ")
		if is && other != l.Zone {
			p.Why = append(p.Why, v.lang.Say("%s added so that it differs from zone %s", added, other))
		} else {
			p.Why = append(p.Why, v.lang.Say("%s added: it says more exactly where", added))
		}
	}
	return p
}

// phraseKey is the same for phrases of the same words in whatever order: half asleep nobody tells them apart.
func phraseKey(codes []string) string {
	sorted := slices.Sorted(slices.Values(codes))
	return strings.Join(sorted, " ")
}
