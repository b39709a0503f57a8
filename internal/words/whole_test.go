package words_test

import (
	"cmp"
	"encoding/json"
	"errors"
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
	"unicode"

	"proofbell/panel"
	"proofbell/quantity"
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
	for _, what := range quantities() {
		said[what] = "quantity"
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

// quantities lists what package quantity, which knows no languages, says of texts that are no value of a dimension.
func quantities() (out []string) {
	for _, text := range []string{"", "7,0", "x", "1 m +1 m", "1 s +1 s", "-", "1", "1 s 1", "5 zz", "0 mm2", "41 AWG", "1 c 1 c", "-1 k"} {
		for _, parse := range []func(string) error{
			wrong[quantity.LengthDimension], wrong[quantity.DurationDimension], wrong[quantity.CurrentDimension], wrong[quantity.ChargeDimension],
			wrong[quantity.VoltageDimension], wrong[quantity.SoundLevelDimension], wrong[quantity.LossDimension], wrong[quantity.PowerLevelDimension],
			wrong[quantity.FrequencyDimension], wrong[quantity.ResistanceDimension], wrong[quantity.PowerDimension], wrongConductor, wrong[quantity.TemperatureDimension], wrong[quantity.ShareDimension],
		} {
			var e *quantity.Error
			if errors.As(parse(text), &e) {
				out = append(out, e.Of, e.Why, e.Hint)
			}
		}
	}
	return out
}

func wrong[D quantity.Dimension](text string) error {
	_, err := quantity.Parse[D](text)
	return err
}

func wrongConductor(text string) error {
	_, err := quantity.ParseConductor(text)
	return err
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
	sources(t, func(set *token.FileSet, file *ast.File) {
		ast.Inspect(file, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok || len(call.Args) == 0 || !says[called(call)] && !(file.Name.Name == "signal" && called(call) == phrase) {
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
	})
	return out
}

// phrase is how the public package signal, which knows no languages, makes what others say.
const phrase = "phrase"

var says = map[string]bool{"Say": true, "Mark": true, "Later": true}

// called returns the last part of the name of what is called.
func called(call *ast.CallExpr) string {
	switch f := call.Fun.(type) {
	case *ast.SelectorExpr:
		return f.Sel.Name
	case *ast.Ident:
		return f.Name
	}
	return ""
}

// Packages whose words are English for everyone: what others build on, and what nobody reads on a page.
var englishOnly = []string{"signal", "evidence", "bench", "internal/panelsim", "internal/cli", "internal/words"}

// Whatever is kept as Say or Try went through a catalogue: no bare text, no Sprintf, no error as its library words it.
func TestNothingIsSaidPastTheCatalogues(t *testing.T) {
	sources(t, func(set *token.FileSet, file *ast.File) {
		dir := filepath.ToSlash(filepath.Dir(set.Position(file.Pos()).Filename))
		if slices.ContainsFunc(englishOnly, func(p string) bool { return strings.HasPrefix(dir, "../../"+p) }) {
			return
		}
		for _, b := range bare(file) {
			t.Errorf("%s: %s", set.Position(b.at), b.what)
		}
	})
}

func TestTheFinderFindsWhatIsBare(t *testing.T) {
	set := token.NewFileSet()
	file, err := parser.ParseFile(set, "x.go", `package x
func f() {
	_ = P{Say: "no such thing", Try: words.Mark("look again")}
	_ = P{Say: fmt.Sprintf("no %s", x)}
	p.Say += ": " + err.Error()
	_ = words.Later("it fails: %s", err)
	_ = words.Later("a" + x)
	_ = words.Typed("the end")
	_ = P{Say: words.Upper(words.Said(err).In(l)) + ".", Try: l.Say("all %d", n)}
}`, 0)
	if err != nil {
		t.Fatal(err)
	}
	var lines []int
	for _, b := range bare(file) {
		lines = append(lines, set.Position(b.at).Line)
	}
	if want := []int{3, 4, 5, 6, 7, 8}; !slices.Equal(lines, want) {
		t.Errorf("found in lines %v, want %v", lines, want)
	}
}

type unsaid struct {
	at   token.Pos
	what string
}

// bare finds what would be said in English to every reader.
func bare(file *ast.File) (found []unsaid) {
	kept := func(name, value ast.Expr) {
		if of, ok := name.(*ast.SelectorExpr); ok {
			name = of.Sel
		}
		if id, ok := name.(*ast.Ident); !ok || id.Name != "Say" && id.Name != "Try" {
			return
		}
		if why := english(value); why != "" {
			found = append(found, unsaid{value.Pos(), why})
		}
	}
	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.KeyValueExpr:
			kept(n.Key, n.Value)
		case *ast.AssignStmt:
			for i, to := range n.Lhs {
				if len(n.Rhs) == len(n.Lhs) {
					kept(to, n.Rhs[i])
				}
			}
		case *ast.CallExpr:
			name := called(n)
			if len(n.Args) == 0 || !says[name] && name != "Typed" {
				return true
			}
			if _, literal := n.Args[0].(*ast.BasicLit); !literal || name == "Typed" {
				if why := english(n.Args[0]); why != "" {
					found = append(found, unsaid{n.Pos(), why})
				}
			}
			for _, arg := range n.Args[1:] {
				if id, ok := arg.(*ast.Ident); ok && id.Name == "err" || saysError(arg) {
					found = append(found, unsaid{arg.Pos(), "an error is English: words.Said gives it in every language"})
				}
			}
		}
		return true
	})
	return found
}

// english says why a text is one language's alone; empty when it is not.
func english(e ast.Expr) string {
	switch e := e.(type) {
	case *ast.BasicLit:
		if strings.ContainsFunc(verb.ReplaceAllString(e.Value, ""), unicode.IsLetter) {
			return "a bare text: words.Mark, Later or Say keep it"
		}
	case *ast.BinaryExpr:
		return cmp.Or(english(e.X), english(e.Y))
	case *ast.CallExpr:
		if name := called(e); name == "Sprintf" && english(e.Args[0]) != "" || name == "Sprint" {
			return "a text from fmt: words.Later or Say keep it"
		}
		if saysError(e) {
			return "an error is English: words.Said gives it in every language"
		}
		if called(e) == "Upper" {
			return english(e.Args[0])
		}
	}
	return ""
}

// saysError reports whether e is err.Error().
func saysError(e ast.Expr) bool {
	call, ok := e.(*ast.CallExpr)
	return ok && called(call) == "Error" && len(call.Args) == 0
}

// sources hands out every Go file of the program, without its tests.
func sources(t *testing.T, each func(*token.FileSet, *ast.File)) {
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
		each(set, file)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
