package rules

import (
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write docs/rules.md and sets.gen.json anew")

func TestCatalogueDocument(t *testing.T) {
	sets, err := Sets()
	if err != nil {
		t.Fatal(err)
	}
	const file = "../docs/rules.md"
	want := Document(sets[len(sets)-1])
	if *update {
		if err := os.WriteFile(file, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(file)
	if err != nil || string(got) != want {
		t.Errorf("%s is not current (%v): run go generate ./rules", file, err)
	}
}

// Every fact has a rule that exists or a reason for none, and every rule has a fact that asks for it.
func TestCatalogueIsWhole(t *testing.T) {
	asked := map[string]bool{}
	for _, row := range Catalogue() {
		if len(row.Rules) == 0 && row.None == "" {
			t.Errorf("%q has neither rule nor reason", row.Fact)
		}
		for _, id := range row.Rules {
			asked[id] = true
			if _, ok := LookUp(id); !ok {
				t.Errorf("%q names rule %q, which does not exist", row.Fact, id)
			}
		}
	}
	seen := map[string]bool{}
	for _, r := range All() {
		if seen[r.ID] {
			t.Errorf("rule %q is there twice", r.ID)
		}
		seen[r.ID] = true
		if !asked[r.ID] {
			t.Errorf("rule %q judges no fact of the catalogue", r.ID)
		}
		if r.Title == "" || r.Why == "" || !slices.Contains([]Who{Desk, OnSite, Electrician, Authority}, r.Who) {
			t.Errorf("rule %q lacks title, reason or who can mend it", r.ID)
		}
	}
}

// Each sheet uses every rule and the words of promise stay out of everything that is printed.
func TestSets(t *testing.T) {
	sets, err := Sets()
	if err != nil {
		t.Fatal(err)
	}
	for _, set := range sets {
		for _, r := range All() {
			if _, ok := set.Rules[r.ID]; !ok {
				t.Errorf("set %s %s leaves out rule %q", set.ID, set.Edition, r.ID)
			}
		}
		noPromise(t, "document of "+set.ID, Document(set))
	}
}

func noPromise(t *testing.T, what, text string) {
	t.Helper()
	for _, word := range strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return (r < 'a' || r > 'z') && r != '-' }) {
		switch word {
		case "compliant", "compliance", "safe", "safely", "guaranteed", "guarantee":
			t.Errorf("%s promises: %q", what, word)
		}
	}
}

// The built-in sets are those of sets/, read and checked.
func TestBuiltinSets(t *testing.T) {
	files, err := filepath.Glob("sets/*.yaml")
	if err != nil || len(files) == 0 {
		t.Fatal(files, err)
	}
	var want []*Set
	for _, file := range files {
		raw, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		set, err := parseSet(raw)
		if err != nil {
			t.Fatalf("%s: %v", file, err)
		}
		want = append(want, set)
	}
	slices.SortStableFunc(want, func(a, b *Set) int { return strings.Compare(a.Edition, b.Edition) })
	if *update {
		raw, err := json.MarshalIndent(want, "", " ")
		if err == nil {
			err = os.WriteFile("sets.gen.json", append(raw, '\n'), 0o644)
		}
		if err != nil {
			t.Fatal(err)
		}
		return
	}
	if got, err := Sets(); err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("the built-in sets are not what their files say (%v): run go generate", err)
	}
}

func TestBadSetsAreRefused(t *testing.T) {
	raw, err := os.ReadFile("sets/household-fire-burglary-2026-09.yaml")
	if err != nil {
		t.Fatal(err)
	}
	good := string(raw)
	for name, change := range map[string][2]string{
		"a rule that does not exist": {"zone.device.none:", "zone.device.nun:"},
		"a severity of its own":      {"zone.device.none: {severity: fix", "zone.device.none: {severity: grave"},
		"a figure nobody reads":      {"window.life:", "window.lyfe:"},
		"an unknown member":          {"title:", "tytle:"},
		"no document":                {"zone.device.none: {severity: fix, document: general practice", `zone.device.none: {severity: fix, document: ""`},
		"no confidence":              {"confidence: L, note: loss", "confidence: X, note: loss"},
	} {
		bad := strings.Replace(good, change[0], change[1], 1)
		if bad == good {
			t.Errorf("%s: the sheet no longer has %q", name, change[0])
		}
		if _, err := parseSet([]byte(bad)); err == nil {
			t.Errorf("%s: taken without a word", name)
		}
	}
}
