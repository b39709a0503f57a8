package main

import (
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"

	"proofbell/internal/building"
	"proofbell/panel"
	"proofbell/site"
)

// The program that asks the engine for the browser for fields, and prints how long they took.
//
//go:embed fieldpage.mjs
var fieldScript []byte

const (
	dragStep   = 0.5 // metres: cells of a field while something is dragged
	dragBudget = 50  // milliseconds
)

var fieldPage = measure{
	name: "field-page", what: "the sound of 40 alarms over a storey of 60 rooms at 0.1 m, answered by the engine for the browser, as sent", budget: 1, unit: "s",
	needs: rehearsalKey.needs,
	run: func() (r result, err error) {
		s, err := loudSite()
		if err != nil {
			return r, err
		}
		p, err := panel.Builtin(panel.Names()[0])
		if err != nil {
			return r, err
		}
		s.Panel.Profile = p.Name
		entries, err := bookOf(s, p)
		if err != nil {
			return r, err
		}
		raw, err := json.Marshal(map[string]any{
			"job": entries[0].Job, "entries": entries, "patch": map[string]any{"heads": map[string]any{"r0000": map[string]any{"at": []float64{1.3, 2, 2.5}}}},
			"calls": []map[string]any{{"name": "fine", "step": fieldStep, "runs": 5}, {"name": "drag", "step": dragStep, "runs": 20}, {"name": "moved", "step": dragStep, "runs": 20, "moved": true}},
		})
		if err != nil {
			return r, err
		}
		dir, err := os.MkdirTemp("", "proofbell-bench-")
		if err != nil {
			return r, err
		}
		defer os.RemoveAll(dir)
		for file, text := range map[string][]byte{"job.json": raw, "fields.mjs": fieldScript} {
			if err := os.WriteFile(filepath.Join(dir, file), text, 0o600); err != nil {
				return r, err
			}
		}
		out, err := exec.Command("node", filepath.Join(dir, "fields.mjs"), engineFile, engineGlue, filepath.Join(dir, "job.json")).Output()
		if err != nil {
			var failed *exec.ExitError
			if errors.As(err, &failed) {
				err = fmt.Errorf("%w: %s", err, failed.Stderr)
			}
			return r, err
		}
		var times map[string]float64
		if err := json.Unmarshal(out, &times); err != nil {
			return r, err
		}
		native, err := best(3, func() error { return soundOf(s, fieldStep) })
		if err != nil {
			return r, err
		}
		r = result{value: times["fine"] / 1000, baseline: native, plain: "the same by the program itself, from the site on and on all processors"}
		r.note = fmt.Sprintf("%d pieces of wall, %.0f cells; at %v m %.0f ms, with an alarm that is dragged %.0f ms, budget %d ms", len(building.Of(s).Pieces), times["fine cells"], dragStep, times["drag"], times["moved"], dragBudget)
		if times["moved"] > dragBudget {
			return r, fmt.Errorf("a dragged alarm takes %.0f ms, want at most %d", times["moved"], dragBudget)
		}
		return r, nil
	},
}

// loudSite is a storey of 60 rooms with an alarm in each of the first 40.
func loudSite() (*site.Site, error) {
	s, err := siteOf(60)
	if err != nil {
		return nil, err
	}
	s.Heads = map[site.HeadID]site.Head{}
	for _, r := range building.Of(s).Rooms[:fieldSources] {
		s.Heads[site.HeadID(r.ID)] = site.Head{Kind: "smoke", Group: "M", Room: r.ID}
	}
	s.Groups = map[site.GroupID]site.Group{"M": {Link: "wired"}}
	return s, nil
}
