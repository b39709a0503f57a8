package engine

import (
	"encoding/base64"
	"encoding/json"
	"strings"
	"testing"

	"proofbell/demo"
	"proofbell/evidence"
	"proofbell/internal/book"
)

// ask calls an engine with a value as argument.
func ask(t *testing.T, e *Engine, method string, argument any) (ok json.RawMessage, problem *Problem) {
	t.Helper()
	raw, err := json.Marshal(argument)
	if err != nil {
		t.Fatal(err)
	}
	var answer struct {
		OK      json.RawMessage
		Problem *Problem
	}
	if err := json.Unmarshal(e.Call(method, raw), &answer); err != nil {
		t.Fatal(err)
	}
	return answer.OK, answer.Problem
}

func bytesOf(n int) string {
	return base64.RawURLEncoding.EncodeToString([]byte(strings.Repeat("wheel and bell. ", 8))[:n])
}

// A job begun on a device is a job there at once: its entries lie in the outbox, and no server has been asked.
func TestBegunOnADevice(t *testing.T) {
	for _, one := range []struct{ name, file, text, want string }{
		{"Larkwater Mill", "", "", "Larkwater Mill"},
		{"", "mill.yaml", string(demo.Draft), "Larkwater Mill"},
		{"", "house.json", `{"format":"proofbell.site/1","name":"Gate house","people":{"a":{"name":"Hedda Strand"}}}`, "Gate house"},
	} {
		e := New()
		raw, problem := ask(t, e, "job.begin", map[string]any{"name": one.name, "file": one.file, "text": one.text, "at": noon, "by": "p-1", "from": "device-1", "random": bytesOf(96)})
		if problem != nil {
			t.Fatalf("%q: %v", one.want, problem)
		}
		var begun Begun
		if err := json.Unmarshal(raw, &begun); err != nil {
			t.Fatal(err)
		}
		if !begun.Job.Valid() || begun.Name != one.want || begun.Content == nil {
			t.Fatalf("begun %+v", begun)
		}
		if strings.Contains(string(begun.Content.Body), "Strand") {
			t.Errorf("a name stands in the clear: %s", begun.Content.Body)
		}
		if _, problem := ask(t, e, "job.load", map[string]any{"job": begun.Job, "key": begun.Key, "entries": []evidence.Entry{}}); problem != nil {
			t.Fatal(problem)
		}
		if _, problem := ask(t, e, "job.outbox", map[string]any{"job": begun.Job, "contents": []*evidence.Content{begun.Content}}); problem != nil {
			t.Fatal(problem)
		}
		raw, problem = ask(t, e, "job.header", map[string]any{"job": begun.Job, "now": noon})
		var header Header
		if problem != nil || json.Unmarshal(raw, &header) != nil || header.Name != one.want || header.Waiting != 1 {
			t.Errorf("header %+v, problem %v", header, problem)
		}
		edit := map[string]any{"job": begun.Job, "kind": "edit", "body": map[string]any{"patch": map[string]any{"rooms": map[string]any{"hall": map[string]any{"name": "Hall"}}}}, "at": noon, "by": "p-1", "random": bytesOf(48)}
		if _, problem := ask(t, e, "job.seal", edit); problem != nil {
			t.Errorf("an edit of a job that no server has: %v", problem)
		}
	}
}

func TestBeginRefuses(t *testing.T) {
	e := New()
	if _, problem := ask(t, e, "job.begin", map[string]any{"name": " ", "at": noon, "by": "p-1", "random": bytesOf(96)}); problem == nil || problem.Try == "" {
		t.Errorf("a job without a name: %v", problem)
	}
	if _, problem := ask(t, e, "job.begin", map[string]any{"name": "Mill", "at": noon, "by": "p-1", "random": bytesOf(40)}); problem == nil {
		t.Error("too few random bytes were taken")
	}
	raw, problem := ask(t, e, "job.begin", map[string]any{"file": "mill.yaml", "text": "zones: 3", "at": noon, "by": "p-1", "random": bytesOf(96)})
	var begun Begun
	if problem != nil || json.Unmarshal(raw, &begun) != nil || len(begun.Faults) == 0 || begun.Faults[0].Line != 1 || begun.Content != nil {
		t.Errorf("a site file with a fault: %s %v", raw, problem)
	}
}

// What a helper may not is refused before it is written, in the reader's language.
func TestHelperSeals(t *testing.T) {
	j := newJob(t, demo.Corrected)
	e := New()
	if _, problem := ask(t, e, "job.load", map[string]any{"job": j.Job, "key": base64.RawURLEncoding.EncodeToString(j.Key.Secret()), "entries": j.Entries}); problem != nil {
		t.Fatal(problem)
	}
	seal := func(kind, lang string, body, private any) *Problem {
		t.Helper()
		_, problem := ask(t, e, "job.seal", map[string]any{"job": j.Job, "kind": kind, "body": body, "private": private, "at": noon, "by": "p-1", "random": bytesOf(48), "role": book.Helper, "lang": lang})
		return problem
	}
	type m = map[string]any
	if p := seal("edit", "de", m{"patch": m{"zones": m{"09": m{"label": "Küche"}}}}, nil); p == nil || p.Code != "not-allowed" || !strings.Contains(p.Say, "Helfer") {
		t.Errorf("a helper edits a zone: %+v", p)
	}
	if p := seal("note", "", m{"about": "zone 09"}, m{"text": "seen"}); p != nil {
		t.Errorf("a helper notes: %+v", p)
	}
	if p := seal("edit", "", m{"patch": m{}}, m{"patch": m{"people": m{"p-9": m{"name": "Ferrol Ash"}}}}); p != nil {
		t.Errorf("a helper says who they are: %+v", p)
	}
}
