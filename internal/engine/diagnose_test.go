package engine

import (
	"encoding/json"
	"strings"
	"testing"

	"proofbell/demo"
	"proofbell/site"
)

func askHistory(t *testing.T, arg map[string]any) (Diagnosed, *Problem) {
	t.Helper()
	raw, err := json.Marshal(arg)
	if err != nil {
		t.Fatal(err)
	}
	var answer struct {
		OK      Diagnosed
		Problem *Problem
	}
	if err := json.Unmarshal(New().Call("history.diagnose", raw), &answer); err != nil {
		t.Fatal(err)
	}
	return answer.OK, answer.Problem
}

func TestDiagnose(t *testing.T) {
	s, err := site.DecodeYAML("larkwater.yaml", demo.Corrected)
	if err != nil {
		t.Fatal(err)
	}
	raw, err := site.EncodeJSON(s)
	if err != nil {
		t.Fatal(err)
	}
	d, p := askHistory(t, map[string]any{"site": json.RawMessage(raw), "now": "2026-09-20T10:00:00Z", "lang": "de", "text": string(demo.History)})
	if p != nil {
		t.Fatal(p)
	}
	if d.Diagnosis == nil || len(d.Diagnosis.Findings) != 3 || d.Counts.Unread != 1 || len(d.Diagnosis.Timeline.Lanes) == 0 {
		t.Fatalf("%+v: want the three planted causes and a timeline", d)
	}
	if say := d.Diagnosis.Say; !strings.HasPrefix(say, "3 Auffälligkeiten") {
		t.Errorf("in German: %s", say)
	}
	d, p = askHistory(t, map[string]any{"now": "2026-09-20T10:00:00Z", "text": "05/06/2026 10:00,E131,3\n"})
	if p != nil || len(d.Questions) != 1 || d.Diagnosis != nil {
		t.Errorf("%+v, %v: want a question and no diagnosis", d, p)
	}
	for name, arg := range map[string]map[string]any{
		"empty":       {"text": ""},
		"unknown job": {"job": "019f0000-0000-7000-8000-000000000000", "text": "x"},
		"bad site":    {"site": map[string]any{"zones": 3}, "text": "x"},
		"bad columns": {"text": "x", "columns": map[string]any{"holds": []string{"weather"}}},
	} {
		if _, p := askHistory(t, arg); p == nil || p.Say == "" || p.Try == "" {
			t.Errorf("%s: %v, want a problem with a remedy", name, p)
		}
	}
}
