package engine

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"proofbell/demo"
	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/prove"
)

// answer makes a call as a page does and returns what the engine answers.
func answer(t testing.TB, e *Engine, method string, arg map[string]any) []byte {
	t.Helper()
	raw, err := json.Marshal(arg)
	if err != nil {
		t.Fatal(err)
	}
	out := e.Call(method, raw)
	if bytes.HasPrefix(out, []byte(`{"problem"`)) {
		t.Fatalf("%s: %s", method, out)
	}
	return out
}

func see[T any](t testing.TB, e *Engine, method string, arg map[string]any) T {
	t.Helper()
	var v struct{ OK T }
	if err := json.Unmarshal(answer(t, e, method, arg), &v); err != nil {
		t.Fatal(err)
	}
	return v.OK
}

// What a desk takes over from the one before must never show: an outbox that grew act by act, with an edit among the ticks
// and some of it ordered by the server meanwhile, answers like one that was laid at once.
func TestGrowingOutboxAnswersLikeOneLaidAtOnce(t *testing.T) {
	j := newJob(t, demo.Corrected)
	j.run()
	grown := New()
	load := func(e *Engine, n int) {
		answer(t, e, "job.load", map[string]any{"job": j.Job, "entries": j.Entries[:n]})
	}
	n := len(j.Entries)
	load(grown, n)
	var outbox []evidence.Content
	for i, made := range []struct {
		kind evidence.Kind
		body any
	}{
		{evidence.KindTick, prove.TickBody{Step: "13.alarm", What: prove.Tripped, Method: "aerosol"}},
		{evidence.KindPutback, prove.PutBackBody{Act: prove.PutBackMade, Sort: "bypass"}},
		{evidence.KindEdit, book.EditBody{Patch: json.RawMessage(`{"zones":{"13":{"code":"110"}}}`)}},
		{evidence.KindTick, prove.TickBody{Step: "13.alarm", What: prove.Restored}},
		{evidence.KindEdit, book.EditBody{Patch: json.RawMessage(`{"zones":{"14":{"code":"110"}}}`)}},
		{evidence.KindRun, prove.RunBody{Act: prove.RunReplanned, Fingerprint: "x"}},
		{evidence.KindReadback, prove.ReadBackBody{Source: prove.FromPhone, Lines: []prove.ReadBackLine{{Zone: "12", Code: "111", Qualifier: "new"}}}},
	} {
		entry := j.Add(made.kind, made.body, nil)
		outbox = append(outbox, entry.Content)
		answer(t, grown, "job.outbox", map[string]any{"job": j.Job, "contents": outbox})
		if i == 3 { // the server orders the first two; they leave the outbox
			answer(t, grown, "job.append", map[string]any{"job": j.Job, "entries": j.Entries[n : n+2]})
			outbox = outbox[2:]
			answer(t, grown, "job.outbox", map[string]any{"job": j.Job, "contents": outbox})
		}
		fresh := New()
		ordered := n
		if i >= 3 {
			ordered += 2
		}
		load(fresh, ordered)
		answer(t, fresh, "job.outbox", map[string]any{"job": j.Job, "contents": outbox})
		for method := range views {
			if method == "job.rollback" || method == "job.table" {
				continue // they need a table that was found or read out
			}
			arg := map[string]any{"job": j.Job, "now": j.At, "paper": "zone-list", "history": HistoryArg{Text: "2026-09-15 12:00:09;E111;013"}, "kind": "leave", "card": 1, "zone": "09", "what": "sound", "storey": "upper", "step": 0.5, "room": "G3", "circuit": "sounders"}
			if got, want := answer(t, grown, method, arg), answer(t, fresh, method, arg); !bytes.Equal(got, want) {
				t.Fatalf("after act %d %s differs:\n%s\n%s", i, method, got, want)
			}
		}
	}
}

func TestRunGoesByItsOwnPlanUntilTheNewOneIsTakenIn(t *testing.T) {
	j := newJob(t, demo.Corrected)
	j.run()
	e := New()
	answer(t, e, "job.load", map[string]any{"job": j.Job, "entries": j.Entries})
	look := func() Prove { return see[Prove](t, e, "job.prove", map[string]any{"job": j.Job, "now": j.At}) }
	grow := func(kind evidence.Kind, body any) {
		answer(t, e, "job.append", map[string]any{"job": j.Job, "entries": []evidence.Entry{j.Add(kind, body, nil)}})
	}
	code := func(v Prove) string {
		for _, s := range v.Steps {
			if s.ID == "13.alarm" {
				return s.Expected[0].Code
			}
		}
		return "none"
	}
	if v := look(); len(v.Changes) != 0 || v.NewPlan != "" || code(v) != "111" {
		t.Fatalf("nothing was edited: %+v, code %s", v.Changes, code(v))
	}
	grow(evidence.KindEdit, book.EditBody{Patch: json.RawMessage(`{"name":"Larkwater Mill, west"}`)})
	if v := look(); len(v.Changes) != 0 {
		t.Errorf("another name changes no step: %+v", v.Changes)
	}
	grow(evidence.KindEdit, book.EditBody{Patch: json.RawMessage(`{"zones":{"13":{"code":"110"}}}`)})
	v := look()
	if len(v.Changes) != 1 || v.Changes[0].Step != "13.alarm" || v.NewPlan == "" || code(v) != "111" {
		t.Fatalf("the run keeps its plan and says what changed: %+v, code %s", v.Changes, code(v))
	}
	grow(evidence.KindRun, prove.RunBody{Act: prove.RunReplanned, Fingerprint: v.NewPlan})
	if v := look(); len(v.Changes) != 0 || code(v) != "110" || v.Run.Fingerprint == "" {
		t.Errorf("taken in: %+v, code %s", v.Changes, code(v))
	}
}

func TestRunStaysOpenUntilAllIsPutBack(t *testing.T) {
	j := newJob(t, demo.Corrected)
	j.Add(evidence.KindRun, prove.RunBody{Act: prove.RunOpened, Account: "4816"}, nil)
	made := j.Add(evidence.KindPutback, prove.PutBackBody{Act: prove.PutBackMade, Sort: "sounder"}, nil)
	e := New()
	answer(t, e, "job.load", map[string]any{"job": j.Job, "entries": j.Entries})
	closing := j.Content(evidence.KindRun, prove.RunBody{Act: prove.RunClosed, Reason: "it is late"}, nil)
	refused := func() error { return e.books[j.Job].current().Refuses(closing, nil) }

	if err := refused(); err == nil || !strings.Contains(err.Error(), "Sounder off") {
		t.Errorf("closed over a sounder that is off: %v", err)
	}
	header := see[Header](t, e, "job.header", map[string]any{"job": j.Job, "now": j.At, "lang": "de"})
	if len(header.PutBacks) != 1 || header.PutBacks[0].Say != "Signalgeber aus" {
		t.Errorf("it stands on every stage: %+v", header.PutBacks)
	}
	undone := j.Add(evidence.KindPutback, prove.PutBackBody{Act: prove.PutBackUndone, Item: prove.PutBackID(made.ID)}, nil)
	answer(t, e, "job.append", map[string]any{"job": j.Job, "entries": []evidence.Entry{undone}})
	if err := refused(); err != nil {
		t.Errorf("put back, and still: %v", err)
	}
}
