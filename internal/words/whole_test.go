package words_test

import (
	"encoding/json"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"proofbell/panel"
	"proofbell/signal"
)

// Every sentence in the program has its German, with the same arguments; every German sentence is still said.
func TestGermanIsWhole(t *testing.T) {
	said := sentences(t)
	for code := range 26 * 26 { // the public package signal knows no languages: its words are said by whoever shows them
		for format, text := range map[signal.Format]string{signal.CID: fmt.Sprintf("%03d", code), signal.SIADCS: string([]byte{byte('A' + code/26), byte('A' + code%26)})} {
			if m, ok := signal.Lookup(format, text); ok && m.Words != "" {
				said[m.Words] = "signal, code " + text
			}
		}
	}
	for _, name := range panel.Names() { // what a profile says of its questions
		p, err := panel.Builtin(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range p.Dialogue.Nodes {
			if n.Why != "" {
				said[n.Why] = "panel profile " + name
			}
		}
	}
	where, german := map[string]string{}, map[string]string{} // the file of a translation, and what it says
	names, err := filepath.Glob("de/*.json")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		raw, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		catalogue := map[string]string{}
		if err := json.Unmarshal(raw, &catalogue); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		for english, own := range catalogue {
			if before, twice := where[english]; twice && german[english] != own {
				t.Errorf("%s and %s differ on %q", before, name, english)
			}
			where[english], german[english] = name, own
			if said[english] == "" {
				t.Errorf("%s: nothing says %q any more", name, english)
			}
			if want, got := verbs(english), verbs(own); !maps.Equal(want, got) {
				t.Errorf("%s: %q takes %v, its German %q takes %v", name, english, want, own, got)
			}
		}
	}
	for _, english := range slices.Sorted(maps.Keys(said)) {
		if where[english] == "" {
			t.Errorf("%s: no German for %q", said[english], english)
		}
	}
}

var verb = regexp.MustCompile(`%(?:\[(\d+)\])?([-+# 0]*[\d.*]*[a-zA-Z%])`)

// verbs returns how each argument of a format is written, by its number.
func verbs(format string) map[int]string {
	out, next := map[int]string{}, 1
	for _, m := range verb.FindAllStringSubmatch(format, -1) {
		if m[2] == "%" {
			continue
		}
		if m[1] != "" {
			next, _ = strconv.Atoi(m[1])
		}
		out[next] = m[2]
		next++
	}
	return out
}

// sentences finds the literals that go through Say, Mark and Later, and the place of each.
func sentences(t *testing.T) map[string]string {
	out := map[string]string{}
	root := filepath.Join("..", "..")
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && (d.Name() == "web" || d.Name() == "tools" || len(d.Name()) > 2 && d.Name()[0] == '.'):
			return filepath.SkipDir
		case d.IsDir() || filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go"):
			return nil
		}
		src, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, path, src, 0)
		if err != nil {
			return err
		}
		ast.Inspect(file, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok || len(call.Args) == 0 {
				return true
			}
			switch name := call.Fun.(type) {
			case *ast.SelectorExpr:
				if name.Sel.Name != "Say" && name.Sel.Name != "Mark" && name.Sel.Name != "Later" {
					return true
				}
			case *ast.Ident: // how the public package signal, which knows no languages, makes what others say
				if name.Name != "phrase" || file.Name.Name != "signal" {
					return true
				}
			default:
				return true
			}
			if literal, ok := call.Args[0].(*ast.BasicLit); ok && literal.Kind == token.STRING {
				s, err := strconv.Unquote(literal.Value)
				if err != nil {
					t.Errorf("%s: %v", set.Position(literal.Pos()), err)
				}
				out[s] = set.Position(literal.Pos()).String()
			}
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}
