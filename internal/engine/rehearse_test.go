package engine

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"
	"time"

	"proofbell/demo"
	"proofbell/internal/keypad"
)

// rehearsing opens a rehearsal of the practice building in an engine and gives the calls to go on with.
func rehearsal(t *testing.T, more map[string]any) (r Rehearsal, ask func(method string, arg map[string]any, into any)) {
	t.Helper()
	j := newJob(t, demo.Corrected)
	e := New()
	ask = func(method string, arg map[string]any, into any) {
		t.Helper()
		raw, err := json.Marshal(arg)
		if err != nil {
			t.Fatal(err)
		}
		answer := struct {
			OK      json.RawMessage
			Problem *Problem
		}{}
		if err := json.Unmarshal(e.Call(method, raw), &answer); err != nil {
			t.Fatal(err)
		}
		switch into := into.(type) {
		case nil:
			if answer.Problem != nil {
				t.Fatalf("%s: %s", method, answer.Problem.Say)
			}
		case *Problem:
			if answer.Problem == nil {
				t.Fatalf("%s: want a problem", method)
			}
			*into = *answer.Problem
		default:
			if answer.Problem != nil {
				t.Fatalf("%s: %s", method, answer.Problem.Say)
			}
			if err := json.Unmarshal(answer.OK, into); err != nil {
				t.Fatal(err)
			}
		}
	}
	load := j.calls()
	for _, c := range load[:2] {
		ask(c.Method, c.Arg.(map[string]any), nil)
	}
	arg := map[string]any{"job": j.Job, "now": noon.Add(10 * time.Minute)}
	for k, v := range more {
		arg[k] = v
	}
	ask("rehearse.open", arg, &r)
	return r, ask
}

func TestRehearsalCalls(t *testing.T) {
	acts := []keypad.Act{}
	r, ask := rehearsal(t, map[string]any{"zones": []string{"09"}})
	if len(r.Zones) != 1 || r.Zones[0].Label != "Mains alarms smoke" || !r.Zones[0].LifeSafety || !r.Listens || r.IdleDrop != 120 || len(r.Devices) < 25 {
		t.Errorf("%+v", r)
	}
	if k := r.Keypad; k.Accept != "OK" || k.Back != "BACK" || k.Letters["7"] != "PQRS" || k.LetterPause != 2 || len(k.Others) != 0 {
		t.Errorf("the keypad of Ladder: %+v", k)
	}
	m := r.Moment
	if m.Display.Prompt != "ZONE?" || m.Guide.Key != "0" || len(m.Cards) != 13 {
		t.Errorf("%+v", m)
	}
	for m.Guide.State != keypad.GuideDone {
		if m.Guide.Key == "WAIT" {
			acts = append(acts, keypad.Act{After: 2})
			m = Moment{}
			ask("rehearse.pass", map[string]any{"seconds": 2}, &m)
			continue
		}
		acts = append(acts, keypad.Act{After: 0.5, Key: m.Guide.Key})
		press := map[string]any{"keys": []string{m.Guide.Key}, "seconds": 0.5}
		turn := m.Guide.Turn
		m = Moment{}
		ask("rehearse.press", press, &m)
		if turn == m.Guide.Turn && m.Cards != nil {
			t.Fatalf("the cards are told again though they are the same: %+v", m.Guide)
		}
		if len(acts) > 200 {
			t.Fatalf("no end: %+v", m)
		}
	}
	var result, again keypad.Result
	ask("rehearse.end", nil, &result)
	if !result.AsWanted || result.Slips != 0 || !result.Left || result.Zones[0].State != keypad.ZoneRight || !result.Zones[0].ReadBack || m.Right != 1 {
		t.Errorf("%+v", result)
	}
	// Gone on with after a reload, it stands where it stood.
	r, ask = rehearsal(t, map[string]any{"zones": []string{"09"}, "acts": acts})
	ask("rehearse.end", nil, &again)
	if !reflect.DeepEqual(again, result) || r.Moment.Display != m.Display {
		t.Errorf("after a reload %+v, want %+v", again, result)
	}
}

func TestRehearsalInGermanAndInPart(t *testing.T) {
	r, ask := rehearsal(t, map[string]any{"safety": true, "lang": "de"})
	for _, z := range r.Zones {
		if !z.LifeSafety {
			t.Errorf("zone %s is no life-safety zone", z.Zone)
		}
	}
	var m Moment
	ask("rehearse.press", map[string]any{"keys": []string{"0", "1", "OK"}}, &m)
	if m.Guide.State != keypad.GuideOff || !strings.Contains(m.Guide.Say, "Nicht auf dem Blatt") || m.Slips != 1 {
		t.Errorf("%+v", m.Guide)
	}
	var p Problem
	ask("rehearse.press", map[string]any{"keys": []string{"STAR"}}, &p)
	ask("rehearse.dance", nil, &p)
	if p.Code != "not-found" {
		t.Errorf("%+v", p)
	}
	if raw := New().Call("rehearse.press", []byte(`{"keys":["1"]}`)); !strings.Contains(string(raw), `"not-found"`) {
		t.Errorf("without a rehearsal: %s", raw)
	}
}
