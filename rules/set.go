package rules

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync"

	"github.com/goccy/go-yaml"

	"proofbell/site"
)

// Set is a rule set: one dated sheet that says which rules hold, how grave each is, with which figures, and on what each
// rests. Documents move their clauses from edition to edition, so the sheet names the edition that was read.
type Set struct {
	ID      string            `json:"id"`
	Edition string            `json:"edition"` // year and month of the sheet
	Title   string            `json:"title"`
	Notes   string            `json:"notes"`
	Figures map[string]Figure `json:"figures"`
	Rules   map[string]Use    `json:"rules"` // by rule id; a rule that is not here is not judged
}

// Figure is one number that differs by place and edition.
type Figure struct {
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
	Clause
	Note string `json:"note,omitempty"`
}

// Use is one rule as this set holds it.
type Use struct {
	Severity Severity `json:"severity"`
	Clause
}

//go:generate go test -run TestBuiltinSets -update .

// setsJSON is sets/*.yaml as parseSet reads and checks them, oldest edition first. The program holds this form, so that
// the engine in the browser does without a YAML decoder.
//
//go:embed sets.gen.json
var setsJSON []byte

// builtin are the sheets that come with the product, oldest edition first.
var builtin = sync.OnceValues(func() ([]*Set, error) {
	var sets []*Set
	if err := json.Unmarshal(setsJSON, &sets); err != nil {
		return nil, fmt.Errorf("reading the rule sets: %w", err)
	}
	return sets, nil
})

// Sets returns the rule sets that come with the product, oldest edition first. They must not be changed.
func Sets() ([]*Set, error) {
	sets, err := builtin()
	return slices.Clone(sets), err
}

// parseSet reads a sheet and holds it against the catalogue: it may only name rules that exist, and every figure that a
// rule reads must be there.
func parseSet(raw []byte) (*Set, error) {
	asJSON, err := yaml.YAMLToJSON(raw)
	if err != nil {
		return nil, err
	}
	set := &Set{}
	d := json.NewDecoder(bytes.NewReader(asJSON))
	d.DisallowUnknownFields()
	if err := d.Decode(set); err != nil {
		return nil, err
	}
	for id, use := range set.Rules {
		if _, ok := LookUp(id); !ok {
			return nil, fmt.Errorf("rule %q is not in the catalogue", id)
		}
		if _, ok := severityOrder[use.Severity]; !ok || use.Document == "" || !strings.Contains("HML", use.Confidence) || len(use.Confidence) != 1 {
			return nil, fmt.Errorf("rule %q: want a severity (stop, fix, advise), a document and a confidence (H, M, L)", id)
		}
	}
	for _, name := range figureNames {
		f, ok := set.Figures[name]
		if !ok {
			return nil, fmt.Errorf("figure %q is missing", name)
		}
		if f.Document == "" || !strings.Contains("HML", f.Confidence) || len(f.Confidence) != 1 {
			return nil, fmt.Errorf("figure %q: want a document and a confidence (H, M, L)", name)
		}
	}
	if len(set.Figures) != len(figureNames) {
		return nil, fmt.Errorf("it has %d figures, %d are read", len(set.Figures), len(figureNames))
	}
	return set, nil
}

// SetOf returns the rule set that a site names, or the newest one with known false when it names one that is not here.
func SetOf(ref site.RuleSetRef) (set *Set, known bool, err error) {
	sets, err := builtin()
	if err != nil {
		return nil, false, err
	}
	set, known = find(sets, ref)
	return set, known, nil
}

// find returns the set that a site names, or the newest one. known is false when the site names one that is not here.
func find(sets []*Set, ref site.RuleSetRef) (set *Set, known bool) {
	set = sets[len(sets)-1]
	if ref.ID == "" {
		return set, true
	}
	for i := len(sets) - 1; i >= 0; i-- {
		if sets[i].ID == ref.ID && (ref.Edition == "" || sets[i].Edition == ref.Edition) {
			return sets[i], true
		}
	}
	return set, false
}

// figure returns a number of the set in its unit.
func (c *check) figure(name string) float64 { return c.set.Figures[name].Value }

// figureNames are the figures that the rules and the upkeep read; every set holds them all.
var figureNames = []string{
	"window.life", "window.life-wanted", "window.periods", "window.jitter",
	"exit.least", "exit.most", "exit.usual", "entry.least", "entry.most", "entry.abort", "abort.least", "abort.most", "trips.least", "trips.most",
	"test.most", "sounder.least", "standby.time", "standby.alarm", "standby.ageing",
	"path.single", "path.several", "contacts.least",
	"bridge.within", "bridge.clear",
	"sound.sleeping", "sound.over", "sound.over-loudest", "sound.elsewhere", "sound.most",
	"group.devices", "group.smoke", "group.supervised.devices", "group.supervised.smoke",
	"life.smoke", "life.heat", "life.co", "life.panel-battery", "due.ahead",
	"life.panel-battery-most", "life.co-most", "visits.year", "share.quarter", "share.half", "share.year",
	"test.devices", "test.system", "test.contacts", "test.listener", "sensitivity.first", "sensitivity.then", "change.share", "change.most",
	"reach.sleeping", "reach.smoke", "clear.cooking", "clear.bathroom", "below.ceiling",
}
