package engine

import (
	"encoding/base64"
	"encoding/json"
	"strings"
	"testing"

	"proofbell/demo"
	"proofbell/evidence"
	"proofbell/panel"
)

// A job's own profile stands in for the built-in one of its name, until a run goes by it.
func TestOwnProfile(t *testing.T) {
	j := newJob(t, demo.Corrected)
	p, err := panel.Builtin("ladder")
	if err != nil {
		t.Fatal(err)
	}
	zone := p.Dialogue.Nodes["zone"]
	zone.Shows = "WHICH ZONE?"
	p.Dialogue.Nodes["zone"] = zone

	e := New()
	if _, problem := ask(t, e, "job.load", map[string]any{"job": j.Job, "key": base64.RawURLEncoding.EncodeToString(j.Key.Secret()), "entries": j.Entries}); problem != nil {
		t.Fatal(problem)
	}
	first := func() string {
		t.Helper()
		raw, problem := ask(t, e, "job.keying", map[string]any{"job": j.Job, "now": noon})
		var v Keying
		if problem != nil || json.Unmarshal(raw, &v) != nil || len(v.Sheet.Zones) == 0 || len(v.Sheet.Zones[0].Cards) == 0 {
			t.Fatalf("%v %s", problem, raw)
		}
		return v.Sheet.Zones[0].Cards[0].Shows
	}
	if got := first(); got != "ZONE?" {
		t.Errorf("the built-in panel asks %q", got)
	}
	raw, problem := ask(t, e, "job.seal", map[string]any{"job": j.Job, "kind": "profile", "body": map[string]any{"profile": p}, "at": noon, "by": "p-1", "random": bytesOf(48)})
	if problem != nil {
		t.Fatal(problem)
	}
	var content evidence.Content
	if err := json.Unmarshal(raw, &content); err != nil {
		t.Fatal(err)
	}
	if _, problem := ask(t, e, "job.outbox", map[string]any{"job": j.Job, "contents": []evidence.Content{content}}); problem != nil {
		t.Fatal(problem)
	}
	if got := first(); got != "WHICH ZONE?" {
		t.Errorf("the job's own panel asks %q", got)
	}
	raw, _ = ask(t, e, "job.survey", map[string]any{"job": j.Job, "now": noon})
	var survey Survey
	if json.Unmarshal(raw, &survey) != nil || len(survey.OwnPanels) != 1 || len(survey.Panels) != len(panel.Names()) || !strings.Contains(string(raw), "Ladder 1.0, this job's own") {
		t.Errorf("panels %v, own %v", survey.Panels, survey.OwnPanels)
	}

	delete(p.Dialogue.Nodes, "tell")
	if _, problem := ask(t, e, "job.seal", map[string]any{"job": j.Job, "kind": "profile", "body": map[string]any{"profile": p}, "at": noon, "by": "p-1", "random": bytesOf(48), "lang": "de"}); problem == nil || !strings.Contains(problem.Say, "nicht verwendbar: „tell“ ist kein Knoten") {
		t.Errorf("an unfit profile: %v", problem)
	}
	j.run()
	if _, problem := ask(t, e, "job.load", map[string]any{"job": j.Job, "key": base64.RawURLEncoding.EncodeToString(j.Key.Secret()), "entries": j.Entries}); problem != nil {
		t.Fatal(problem)
	}
	if _, problem := ask(t, e, "job.seal", map[string]any{"job": j.Job, "kind": "profile", "body": map[string]any{"withdrawn": "ladder"}, "at": noon, "by": "p-1", "random": bytesOf(48)}); problem == nil || !strings.Contains(problem.Say, "run is open") {
		t.Errorf("while a run is open: %v", problem)
	}
}
