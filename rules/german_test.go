package rules

import (
	"testing"
	"time"

	"proofbell/demo"
)

// An acceptance holds in every language: neither the keys of findings nor their order know about words.
func TestKeysKnowNoLanguage(t *testing.T) {
	for _, raw := range [][]byte{demo.Draft, demo.Corrected} {
		s := read(t, raw)
		for _, on := range []time.Time{demoDay, time.Date(2031, 1, 1, 0, 0, 0, 0, time.UTC)} {
			english, err := Check(s, ladder(t), on)
			if err != nil {
				t.Fatal(err)
			}
			german, err := CheckIn("de", s, ladder(t), on)
			if err != nil {
				t.Fatal(err)
			}
			if len(english) != len(german) {
				t.Fatalf("%d findings in English, %d in German", len(english), len(german))
			}
			for i, e := range english {
				g := german[i]
				if e.Key != g.Key || e.Rule != g.Rule || string(e.Patch) != string(g.Patch) {
					t.Errorf("%s is %s in German: %s against %s", e.Key, g.Key, e.Patch, g.Patch)
				}
				if e.Say == g.Say || e.Do == g.Do && e.Do != "" || e.PatchSay != "" && e.PatchSay == g.PatchSay && e.Rule != "zone.label.words" {
					t.Errorf("%s has no German: %s | %s | %s", e.Rule, g.Say, g.Do, g.PatchSay)
				}
			}
		}
	}
}

func TestRulesInGerman(t *testing.T) {
	for _, r := range All() {
		if g := r.In("de-AT"); g.Title == r.Title || g.Why == r.Why {
			t.Errorf("%s has no German", r.ID)
		}
	}
}
