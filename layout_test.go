package proofbell_test

import (
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// The arrows of ARCHITECTURE.md: each package of ours and what it may import of ours. Arrows point down only.
// Loosening a line is a decision: say why beside it. Three words stand for groups: "domain" is everything pure,
// "values" is what stands in the signatures of everyone else, "anything" is anything.
var layout = []line{
	{"0: import nothing of ours", true, arrows{
		"quantity": nil,
		"geom":     {"internal/sorts"},
		"signal":   nil,
		"evidence": nil,
		// What is said, in the reader's language.
		"internal/words": nil,
		// Least squares on few parameters, for every model that is fitted to what was measured.
		"internal/fit": nil,
		// One copy of the sorting code for all of the engine.
		"internal/sorts": nil,
		// Photographs without what cameras write beside them; browser and server look through the same eyes.
		"internal/photo": nil,
	}},
	{"1: one subject each, over the values of line 0", true, arrows{
		"site":           {"values"},
		"acoustics":      {"values"},
		"acoustics/tone": {"values"},
		"radio":          {"internal/fit", "values"},
		"electrical":     {"values"},
		"reliability":    {"values"},
	}},
	{"2: files and rule sets that others write", true, arrows{
		"panel": {"site", "values"},
		// The calculation sheet: one shape for every figure that a reviewer follows line by line.
		"internal/worked": {"values"},
		// The standby supply and the batteries of a site as plain numbers, and their sheets: pages, papers and due dates use them.
		"internal/supply": {"internal/worked", "electrical", "site", "values"},
		// What a panel can be made to say: a rule's way to mend a label and what the pages propose are the same.
		"internal/labels": {"panel", "site", "values"},
		// The rooms, walls, doors and floors of a site as pieces in space.
		"internal/building": {"site", "values"},
		// The site's building and what was measured, as plain numbers for the sound and radio models, and their answers as
		// verdicts with every term: rules cite them, pages and documents show them.
		"internal/estimate": {"internal/building", "internal/fit", "site", "acoustics", "radio", "values"},
		// A wired circuit of a site as plain numbers, and the answers as verdicts and sheets: rules cite them, pages show them.
		"internal/circuit": {"internal/worked", "site", "electrical", "values"},
		"rules":            {"internal/circuit", "internal/estimate", "internal/building", "internal/labels", "panel", "site", "acoustics", "radio", "electrical", "reliability", "values"},
	}},
	{"3: our way of working, still pure", true, arrows{
		// One drawing of a storey, as shapes in metres, for the screen and for paper.
		// And of the dialogue of a panel's keypad, for its author.
		"internal/drawing": {"panel", "site", "values"},
		// Editing the drawing: what a hand does on the plan, as patches; and drawings made elsewhere, as outlines.
		"internal/draught": {"site", "values"},
		// Where alarms have to be added is asked of the rules, the sound and the radio model at once.
		"internal/placing": {"internal/estimate", "internal/building", "rules", "panel", "radio", "site", "values"},
		// The ways of a fire to people and station, from the site with what sound and radio are estimated to do; its answers are
		// calculation sheets.
		"internal/reach": {"internal/estimate", "internal/worked", "reliability", "site", "values"},
		// What a learner is given to find is what the rules find.
		"internal/practice": {"rules", "panel", "site", "values"},
		"internal/schedule": {"internal/labels", "rules", "panel", "site", "signal", "values"},
		"internal/keypad":   {"internal/schedule", "rules", "panel", "site", "values"},
		// The panel's profile says how long each of its signals may take.
		"internal/prove": {"internal/schedule", "signal", "evidence", "panel", "site", "values"},
		// What falls due, what a change obliges and what a symptom means rest on rule sets and on plans of proof alike.
		"internal/upkeep":  {"internal/supply", "internal/prove", "rules", "panel", "site", "values"},
		"internal/history": {"rules", "signal", "site", "values"},
		// What a walk through the building says: groups by presses, and the questions that are left.
		"internal/survey": {"rules", "site", "values"},
		// What people edit in a spreadsheet, as plain tables; CSV needs no library and works in the browser.
		"internal/tables": {"site", "values"},
		// What a panel was found to hold is kept in the panel's own fields and answers.
		"internal/book": {"site", "panel", "evidence", "internal/prove", "signal", "values"},
		// What a keying sheet teaches, for page, paper and a voice.
		"internal/guide": {"internal/keypad", "panel", "site", "signal", "values"},
		// Documents in words, the same on the page and on paper.
		"internal/papers": {"internal/worked", "internal/estimate", "internal/guide", "internal/keypad", "internal/practice", "internal/book", "internal/prove", "internal/drawing", "internal/tables", "rules", "panel", "electrical", "evidence", "signal", "site", "values"},
	}},
	// The engine is the call surface of all the above in JSON, the same natively and in the browser.
	{"3, on top: one surface over the domain", true, arrows{
		"internal/engine": {"domain"},
	}},
	{"4: use cases and documents", false, arrows{
		"internal/app": {"domain"},
		// A document's table is also a spreadsheet.
		"internal/records": {"internal/sheets", "domain"}, // except signal: see forbidden
		// XLSX in and out: a library too large for the browser.
		"internal/sheets": {"internal/tables", "values"},
		// The simulated panel and station send real frames; they share no code with what judges them.
		"internal/panelsim": {"domain"},
	}},
	{"5: the outside, never each other", false, arrows{
		"internal/server":   {"internal/app", "internal/records", "internal/sheets", "internal/engine", "domain", "web"},
		"internal/store":    {"internal/app", "domain"}, // PostgreSQL's own driver beside database/sql: for LISTEN
		"internal/receiver": {"signal"},
		// Databases of their own for tests, here and in internal/app.
		"internal/store/pgtest": nil,
	}},
	{"embedded files", false, arrows{
		"web":  nil,
		"demo": nil,
	}},
	{"6: wiring", false, arrows{
		"internal/cli":  {"anything"},
		"cmd/proofbell": {"internal/cli"},
		// The browser's engine is handed the sentences of a language when someone speaks it.
		"cmd/engine": {"internal/engine", "internal/words"},
		// What has a budget is measured on the real thing, whichever package it is in.
		"bench": {"anything"},
		// A long load on a running receiver: a program of its own, because it takes minutes and looks at another process.
		"bench/soak": {"anything"},
		// A module of its own: it measures the receiver beside ways of storing that the product has not.
		"bench/receiver": {"anything"},
		// Generators: the schemas of site file and panel profile, and the TypeScript shapes of the engine's answers.
		"site/internal/schemagen": {"site", "panel", "values"},
		"internal/engine/tsgen":   {"internal/engine", "domain"},
	}},
}

type (
	// arrows maps a package to what it may import.
	arrows map[string][]string
	line   struct {
		name   string
		domain bool // pure, and builds for WebAssembly
		arrows arrows
	}
)

var values = []string{"quantity", "geom", "internal/words", "internal/sorts"}

// forbidden takes an arrow back out of a group.
var forbidden = arrows{
	"internal/records":  {"signal", "internal/engine"},
	"internal/app":      {"internal/engine"},
	"internal/panelsim": {"internal/engine", "internal/prove"},
	"internal/store":    {"internal/engine"},
}

// kept names, for each module that only some of us may know, who. Tests may use what they like.
var kept = arrows{
	"modernc.org/sqlite":                    {"internal/store", "bench/receiver"},
	"github.com/pressly/goose/v3":           {"internal/store"},
	"github.com/jackc/pgx/v5":               {"internal/store", "internal/store/pgtest"},
	"codeberg.org/go-pdf/fpdf":              {"internal/records"},
	"github.com/go-fonts/dejavu":            {"internal/records"},
	"github.com/alecthomas/kong":            {"internal/cli"},
	"github.com/santhosh-tekuri/jsonschema": nil,
	"github.com/invopop/jsonschema":         {"site/internal/schemagen"},
	"pgregory.net/rapid":                    nil,
	"gonum.org/v1/gonum":                    nil,
	"github.com/google/go-cmp":              nil,
	"github.com/rogpeppe/go-internal":       nil,
	"github.com/goccy/go-yaml":              {"site", "panel", "rules", "internal/cli"},
	"github.com/prometheus/client_golang":   {"internal/cli"},
	"github.com/arran4/golang-ical":         {"internal/records"},
	"github.com/xuri/excelize/v2":           {"internal/sheets"},
	"rsc.io/qr":                             {"internal/records", "internal/server", "internal/engine"},
	"regexp":                                {"internal/app", "internal/cli", "internal/sheets", "bench", "bench/receiver"}, // 93 kB of the engine over the wire
}

// impure names what the domain may not use: it is given the time, the bytes and the randomness it needs.
var (
	impureImports = []string{
		"os", "os/exec", "os/signal", "os/user", "net", "net/http", "crypto/tls", "crypto/rand", "math/rand", "math/rand/v2",
		"log", "log/slog", "syscall", "io/ioutil", "database/sql", "path/filepath",
	}
	impureNames = map[string][]string{
		"time": {"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTimer", "NewTicker", "Local"},
	}
)

// A test of the domain may use all of the domain as its judge; a test of the rest may join any of our parts.
func TestArrows(t *testing.T) {
	may := map[string][]string{}
	var domain, all []string
	for _, l := range layout {
		for pkg, to := range l.arrows {
			may[pkg], all = to, append(all, pkg)
			if l.domain {
				domain = append(domain, pkg)
			}
		}
	}
	groups := map[string][]string{"domain": domain, "values": values, "anything": all}
	allows := func(to []string, pkg string) bool {
		return slices.ContainsFunc(to, func(one string) bool { return one == pkg || slices.Contains(groups[one], pkg) })
	}
	for pkg, to := range may {
		for _, one := range to {
			if groups[one] == nil && !slices.Contains(all, one) {
				t.Errorf("layout: %s points to %s, which is on no line", pkg, one)
			}
		}
	}

	for _, f := range sources(t) {
		to, known := may[f.pkg]
		if parent, ok := conformance(f.pkg); ok {
			to, known = append(slices.Clone(may[parent]), parent), true
		}
		if !known {
			t.Errorf("%s: package %s is not in the layout: a new package needs a reason that a file in an old one can not meet", f.name, f.pkg)
			continue
		}
		for _, imported := range f.imports {
			ours, ok := strings.CutPrefix(imported, "proofbell/")
			if !ok || ours == f.pkg {
				continue
			}
			_, suite := conformance(ours)
			fine := allows(to, ours) && !slices.Contains(forbidden[f.pkg], ours)
			fine = fine || f.test && (suite || ours == "demo" || !slices.Contains(domain, f.pkg) || slices.Contains(domain, ours))
			if !fine {
				t.Errorf("%s: %s may not import %s", f.name, f.pkg, ours)
			}
		}
	}
}

func TestKeptModules(t *testing.T) {
	for _, f := range sources(t) {
		if _, suite := conformance(f.pkg); suite || f.test {
			continue
		}
		for _, imported := range f.imports {
			for module, users := range kept {
				if (imported == module || strings.HasPrefix(imported, module+"/")) && !slices.Contains(users, f.pkg) {
					t.Errorf("%s: %s may not import %s, only %v may", f.name, f.pkg, module, users)
				}
			}
		}
	}
}

func TestDomainIsPure(t *testing.T) {
	domain := domainPackages()
	for _, f := range sources(t) {
		if f.test || !slices.Contains(domain, f.pkg) {
			continue
		}
		for _, imported := range f.imports {
			if slices.Contains(impureImports, imported) {
				t.Errorf("%s: %s is domain code and may not import %q: let the caller pass what it gives", f.name, f.pkg, imported)
			}
		}
		ast.Inspect(f.tree, func(n ast.Node) bool {
			sel, ok := n.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			if x, ok := sel.X.(*ast.Ident); ok && slices.Contains(f.imports, x.Name) && slices.Contains(impureNames[x.Name], sel.Sel.Name) {
				t.Errorf("%s: %s is domain code and may not use %s.%s: let the caller pass it", f.files.Position(sel.Pos()), f.pkg, x.Name, sel.Sel.Name)
			}
			return true
		})
	}
}

// The domain also runs in the browser, and what runs there must not drag in a network stack or a schema checker.
func TestDomainBuildsForWebAssembly(t *testing.T) {
	var present []string
	for _, pkg := range append(domainPackages(), "cmd/engine") {
		if names, _ := filepath.Glob(filepath.Join(pkg, "*.go")); len(names) > 0 {
			present = append(present, "./"+pkg)
		}
	}
	wasm := func(args ...string) string {
		t.Helper()
		cmd := exec.CommandContext(t.Context(), "go", append(args, present...)...)
		cmd.Env = append(os.Environ(), "GOOS=js", "GOARCH=wasm", "CGO_ENABLED=0")
		out, err := cmd.Output()
		if err != nil {
			t.Fatalf("GOOS=js GOARCH=wasm go %s: %v\n%s", strings.Join(cmd.Args[1:], " "), err, stderr(err))
		}
		return string(out)
	}
	wasm("build")
	for _, dep := range strings.Fields(wasm("list", "-deps")) {
		if dep == "net" || strings.HasPrefix(dep, "net/http") || dep == "crypto/tls" || strings.Contains(dep, "/jsonschema") {
			t.Errorf("the engine for the browser would contain %s", dep)
		}
	}
}

func domainPackages() []string {
	var domain []string
	for _, l := range layout {
		if l.domain {
			domain = slices.AppendSeq(domain, maps.Keys(l.arrows))
		}
	}
	slices.Sort(domain)
	return domain
}

// conformance tells whether pkg is x/xtest, the suite for implementations or users of x.
func conformance(pkg string) (parent string, ok bool) {
	parent, last := path.Split(pkg)
	parent = strings.TrimSuffix(parent, "/")
	return parent, parent != "" && last == path.Base(parent)+"test"
}

// source is one Go file of ours.
type source struct {
	name    string // from the repository's root
	pkg     string // its folder
	test    bool
	imports []string
	files   *token.FileSet
	tree    *ast.File
}

// sources reads all Go files but the generators, which `go generate` runs and no package contains.
func sources(t *testing.T) []source {
	t.Helper()
	var all []source
	err := filepath.WalkDir(".", func(name string, entry fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if entry.IsDir() {
			skip := name != "." && strings.HasPrefix(entry.Name(), ".")
			if skip || slices.Contains([]string{"testdata", "node_modules", "tools", "bin", "data"}, entry.Name()) {
				return filepath.SkipDir
			}
			return nil
		}
		if filepath.Ext(name) != ".go" || filepath.Dir(name) == "." {
			return nil
		}
		f := source{name: name, pkg: filepath.ToSlash(filepath.Dir(name)), test: strings.HasSuffix(name, "_test.go"), files: token.NewFileSet()}
		f.tree, err = parser.ParseFile(f.files, name, nil, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		for _, spec := range f.tree.Imports {
			imported, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				return err
			}
			f.imports = append(f.imports, imported)
		}
		if !generator(f.tree) {
			all = append(all, f)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(all) == 0 {
		t.Fatal("no Go file found: the arrows were not tested")
	}
	return all
}

func generator(tree *ast.File) bool {
	for _, group := range tree.Comments {
		for _, c := range group.List {
			if c.Pos() < tree.Package && c.Text == "//go:build ignore" {
				return true
			}
		}
	}
	return false
}

func stderr(err error) []byte {
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		return exit.Stderr
	}
	return nil
}
