package rules

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"proofbell/demo"
	"proofbell/panel"
	"proofbell/site"
)

var demoDay = time.Date(2026, 9, 15, 0, 0, 0, 0, time.UTC)

func ladder(t testing.TB) *panel.Profile {
	t.Helper()
	p, err := panel.Builtin("ladder")
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func read(t testing.TB, text []byte) *site.Site {
	t.Helper()
	s, err := site.DecodeYAML("demo.yaml", text)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func mustCheck(t testing.TB, s *site.Site) []Finding {
	t.Helper()
	found, err := Check(s, ladder(t), demoDay)
	if err != nil {
		t.Fatal(err)
	}
	return found
}

func printed(f Finding) string {
	var ids []string
	for _, p := range f.Places {
		ids = append(ids, p.Kind+" "+p.ID)
	}
	return fmt.Sprintf("%s %s [%s] %s | %s | %s | %s %s", f.Severity, f.Rule, f.Who, f.Where, f.Say, f.Do, strings.Join(ids, ", "), f.PatchSay)
}

func TestPrint(t *testing.T) {
	for _, text := range [][]byte{demo.Draft, demo.Corrected} {
		for _, f := range mustCheck(t, read(t, text)) {
			t.Log(f.NotJudged, printed(f))
		}
	}
}
