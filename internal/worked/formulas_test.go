package worked_test

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

var (
	heading = regexp.MustCompile(`(?m)^### (\d+\.\d+[a-z]?) `)
	cited   = regexp.MustCompile(`Formula:\s*"(\d+\.\d+[a-z]?)"`)
)

// Every formula that a step cites stands in docs/formulas.md with its source and range, and every one there is cited.
func TestFormulasStandOnce(t *testing.T) {
	const root = "../.."
	raw, err := os.ReadFile(filepath.Join(root, "docs", "formulas.md"))
	if err != nil {
		t.Fatal(err)
	}
	doc := string(raw)
	there := map[string]bool{}
	places := heading.FindAllStringSubmatchIndex(doc, -1)
	for i, at := range places {
		id, end := doc[at[2]:at[3]], len(doc)
		if i+1 < len(places) {
			end = places[i+1][0]
		}
		entry, _, _ := strings.Cut(doc[at[0]:end], "\n## ")
		if there[id] {
			t.Errorf("formula %s stands twice", id)
		}
		there[id] = true
		for _, part := range []string{"$$\n", "**Source**", "**Range**", "**Example**"} {
			if !strings.Contains(entry, part) {
				t.Errorf("formula %s: no %s", id, strings.TrimSpace(part))
			}
		}
	}
	used := map[string]string{}
	err = filepath.WalkDir(root, func(name string, entry fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case entry.IsDir() && (strings.HasPrefix(entry.Name(), ".") && name != root || entry.Name() == "node_modules"):
			return filepath.SkipDir
		case filepath.Ext(name) != ".go" || strings.HasSuffix(name, "_test.go"):
			return nil
		}
		text, err := os.ReadFile(name)
		for _, m := range cited.FindAllSubmatch(text, -1) {
			used[string(m[1])] = name
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for id, name := range used {
		if !there[id] {
			t.Errorf("%s cites formula %s: it is not in docs/formulas.md", name, id)
		}
	}
	for id := range there {
		if used[id] == "" {
			t.Errorf("formula %s of docs/formulas.md is cited by no step (write Formula: %q)", id, id)
		}
	}
}
