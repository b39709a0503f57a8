package main

import (
	"bytes"
	"cmp"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/panel"
	"proofbell/site"
)

// The program that keys a rehearsal into the engine as a browser's worker would, and prints the times of its keys.
//
//go:embed rehearsal.mjs
var rehearsalScript []byte

const (
	engineFile = "web/dist/engine.wasm"
	engineGlue = "web/dist/wasm_exec.js"
)

// The program that does the same inside Chromium, through the worker of the pages.
//
//go:embed page.mjs
var pageScript []byte

const pages = "web/dist"

var rehearsalPage = measure{
	name: "page-key", what: "the same inside Chromium, from postMessage to the answer of the pages' own worker", budget: 16, unit: "ms",
	needs: func() string {
		if why := rehearsalKey.needs(); why != "" {
			return why
		}
		if worker() == "" {
			return pages + " has no worker: tools/build makes it"
		}
		if _, err := os.Stat("web/node_modules/playwright-core"); err != nil {
			return "web/node_modules is missing: npm ci in web makes it"
		}
		if _, err := os.Stat(cmp.Or(os.Getenv("CHROMIUM"), "/usr/bin/chromium")); err != nil {
			return "Chromium is not installed"
		}
		return ""
	},
	run: func() (result, error) { return slowest(pageScript, pages, "/"+worker()) },
}

// worker is the built worker of the engine, by its path below the pages.
func worker() string {
	found, _ := filepath.Glob(pages + "/assets/engine-*.js")
	if len(found) == 0 {
		return ""
	}
	path, _ := filepath.Rel(pages, found[0])
	return filepath.ToSlash(path)
}

var rehearsalKey = measure{
	name: "rehearsal", what: "a key of a rehearsal at a site of 200 zones answered by the engine for the browser, 99 in 100, one key in twelve wrong, slowest of the panels", budget: 16, unit: "ms",
	needs: func() string {
		if _, err := exec.LookPath("node"); err != nil {
			return "node is not installed"
		}
		if _, err := os.Stat(engineFile); err != nil {
			return engineFile + " is missing: tools/build makes it"
		}
		return ""
	},
	run: func() (result, error) { return slowest(rehearsalScript, engineFile, engineGlue) },
}

// slowest keys a rehearsal of each panel by a script and returns the slowest of them.
func slowest(script []byte, arguments ...string) (r result, err error) {
	var notes []string
	for _, name := range panel.Names() {
		times, err := rehearsed(name, script, arguments...)
		if err != nil {
			return r, fmt.Errorf("%s: %w", name, err)
		}
		if times.P99 > r.value {
			r.value, r.baseline = times.P99, times.Empty
		}
		notes = append(notes, fmt.Sprintf("%s: %d keys, %d wrong, median %.2f ms (%.1f empty calls), 99 in 100 %.2f ms, slowest %.1f ms, opened in %.0f ms",
			name, times.Keys, times.Wrong, times.Median, times.Median/times.Empty, times.P99, times.Most, times.Open))
	}
	r.plain, r.note = "an empty call", strings.Join(notes, "; ")
	return r, nil
}

// keyTimes are milliseconds.
type keyTimes struct {
	Keys, Wrong                    int
	Open, Median, P99, Most, Empty float64
}

func rehearsed(name string, script []byte, arguments ...string) (t keyTimes, err error) {
	dir, err := os.MkdirTemp("", "proofbell-bench-")
	if err != nil {
		return t, err
	}
	defer os.RemoveAll(dir)
	p, err := large(name)
	if err != nil {
		return t, err
	}
	state, err := generated(200)
	if err != nil {
		return t, err
	}
	s := state.Site
	s.Panel.Profile = p.Name
	for id, z := range s.Zones {
		z.Label = "Hall smoke"
		s.Zones[id] = z
	}
	entries, err := bookOf(s, p)
	if err != nil {
		return t, err
	}
	raw, err := json.Marshal(map[string]any{"job": entries[0].Job, "entries": entries, "others": p.Keypad.Keys})
	if err != nil {
		return t, err
	}
	for file, text := range map[string][]byte{"job.json": raw, "keys.mjs": script} {
		if err := os.WriteFile(filepath.Join(dir, file), text, 0o600); err != nil {
			return t, err
		}
	}
	arguments = append(append([]string{filepath.Join(dir, "keys.mjs")}, arguments...), filepath.Join(dir, "job.json"))
	out, err := exec.Command("node", arguments...).Output()
	if err != nil {
		var failed *exec.ExitError
		if errors.As(err, &failed) {
			err = fmt.Errorf("%w: %s", err, failed.Stderr)
		}
		return t, err
	}
	return t, json.Unmarshal(out, &t)
}

// large is a built-in profile that holds zones 1 to 200.
func large(name string) (*panel.Profile, error) {
	built, err := panel.Builtin(name)
	if err != nil {
		return nil, err
	}
	raw, err := json.Marshal(built)
	if err != nil {
		return nil, err
	}
	var p panel.Profile
	if err := json.Unmarshal(raw, &p); err != nil {
		return nil, err
	}
	p.Name, p.Zones.Last = name+"-200", 200
	for id, n := range p.Dialogue.Nodes {
		if n.Field == panel.FieldZone {
			n.Width = 3
			p.Dialogue.Nodes[id] = n
		}
	}
	if faults := p.Check(); len(faults) > 0 {
		return nil, fmt.Errorf("the profile with 200 zones: %s", faults[0].Say)
	}
	return &p, nil
}

// bookOf is a job of a site with a panel of its own.
func bookOf(s *site.Site, p *panel.Profile) ([]evidence.Entry, error) {
	raw, err := json.Marshal(s)
	if err != nil {
		return nil, err
	}
	random := bytes.NewReader(bytes.Repeat([]byte("The wheel turns, and the bell is proved."), 10))
	at := time.Date(2026, 9, 15, 12, 0, 0, 0, time.UTC)
	job, err := evidence.NewJobID(at, random)
	if err != nil {
		return nil, err
	}
	var entries []evidence.Entry
	var newest *evidence.Entry
	for _, one := range []struct {
		kind evidence.Kind
		body any
	}{{evidence.KindEdit, book.EditBody{Patch: raw}}, {evidence.KindProfile, book.ProfileBody{Profile: p}}} {
		id, err := evidence.NewEntryID(at, random)
		if err != nil {
			return nil, err
		}
		c, err := evidence.NewContent(job, id, at, "bench", one.kind, int64(len(entries)), one.body)
		if err != nil {
			return nil, err
		}
		e, err := evidence.Append(newest, c, at)
		if err != nil {
			return nil, err
		}
		entries = append(entries, e)
		newest = &entries[len(entries)-1]
	}
	return entries, nil
}
