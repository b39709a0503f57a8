package practice_test

import (
	"errors"
	"slices"
	"testing"
	"time"

	"proofbell/demo"
	"proofbell/internal/practice"
	"proofbell/panel"
	"proofbell/rules"
	"proofbell/site"
)

var day = time.Date(2026, 9, 15, 0, 0, 0, 0, time.UTC)

func source(t testing.TB) (*site.Site, *panel.Profile) {
	t.Helper()
	s, err := site.DecodeYAML("larkwater.yaml", demo.Corrected)
	if err != nil {
		t.Fatal(err)
	}
	p, err := panel.Builtin(s.Panel.Profile)
	if err != nil {
		t.Fatal(err)
	}
	return s, p
}

func found(t testing.TB, s *site.Site, p *panel.Profile) []rules.Finding {
	t.Helper()
	out, err := rules.Check(s, p, day)
	if err != nil {
		t.Fatal(err)
	}
	return slices.DeleteFunc(out, func(f rules.Finding) bool { return f.NotJudged })
}

func make1(t testing.TB, seed, level int) practice.Made {
	t.Helper()
	s, p := source(t)
	m, err := practice.Make(s, p, seed, level, day)
	if err != nil {
		t.Fatalf("seed %d level %d: %v", seed, level, err)
	}
	return m
}

// Every mistake that is planted is found by the rules as one finding, and nothing else is; the file that a learner gets
// reads back to the same site; the site that was planted in stays sound.
func TestThreeHundredSeeds(t *testing.T) {
	seeds := 300
	if testing.Short() {
		seeds = 30
	}
	s, p := source(t)
	was, err := site.EncodeJSON(s)
	if err != nil {
		t.Fatal(err)
	}
	before := map[string]bool{}
	for _, f := range found(t, s, p) {
		before[f.Key] = true
		if f.Severity != rules.Advise {
			t.Fatalf("the source is not sound: %v", f)
		}
	}
	byRule, alone := map[string]int{}, map[string]int{}
	for seed := range seeds {
		level := 1 + seed%3
		m, err := practice.Make(s, p, seed, level, day)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		raw, err := site.EncodeJSON(m.Site)
		if err != nil {
			t.Fatal(err)
		}
		read, err := site.DecodeJSON("practice.json", raw)
		if err != nil {
			t.Fatalf("seed %d: the learner's file: %v", seed, err)
		}
		if !read.Practice || read.Planted == nil {
			t.Errorf("seed %d: the file does not say that it is practice", seed)
		}
		var fresh []string
		for _, f := range found(t, read, p) {
			if !before[f.Key] {
				fresh = append(fresh, f.Key)
				byRule[f.Rule]++
			}
		}
		slices.Sort(fresh)
		if !slices.Equal(fresh, m.Key) || len(m.Key) != practice.Levels[level-1] {
			t.Errorf("seed %d: planted %v, the rules find %v", seed, m.Key, fresh)
		}
		if seed%10 == 0 {
			again, err := practice.Again(read.Planted, s, p)
			if err != nil || !slices.Equal(again.Key, m.Key) {
				t.Errorf("seed %d: the key made anew is %v (%v), want %v", seed, again.Key, err, m.Key)
			}
		}
		alone[string(raw)]++
	}
	if now, _ := site.EncodeJSON(s); string(now) != string(was) {
		t.Error("planting changed the site that it planted in")
	}
	if len(alone) != seeds {
		t.Errorf("%d seeds made %d sites", seeds, len(alone))
	}
	t.Logf("%d rules: %v", len(byRule), byRule)
	if !testing.Short() && len(byRule) < 30 {
		t.Errorf("only %d rules are practised: %v", len(byRule), byRule)
	}
}

func TestWhatIsRefused(t *testing.T) {
	s, p := source(t)
	draft, err := site.DecodeYAML("draft.yaml", demo.Draft)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := practice.Make(draft, p, 1, 1, day); !errors.Is(err, practice.ErrNotSound) {
		t.Errorf("a draft is no ground to plant in: %v", err)
	}
	if _, err := practice.Make(s, p, 1, 4, day); !errors.Is(err, practice.ErrLevel) {
		t.Errorf("level 4: %v", err)
	}
	m := make1(t, 1, 1)
	if _, err := practice.Make(m.Site, p, 2, 1, day); !errors.Is(err, practice.ErrNotSound) {
		t.Errorf("practice is not planted twice: %v", err)
	}
	other := *s
	other.Name = "Another mill"
	if _, err := practice.Again(m.Site.Planted, &other, p); !errors.Is(err, practice.ErrSource) {
		t.Errorf("another source: %v", err)
	}
}
