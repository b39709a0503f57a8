package site_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"proofbell/demo"
	"proofbell/site"
)

var exact = cmp.Exporter(func(reflect.Type) bool { return true })

func TestDecodingWhatWasEncodedGivesTheSameSite(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySite().Draw(t, "site")
		asYAML, err := site.EncodeYAML(s)
		if err != nil {
			t.Fatal(err)
		}
		fromYAML, err := site.DecodeYAML("site.yaml", asYAML)
		if err != nil {
			t.Fatalf("%v\n%s", err, asYAML)
		}
		if d := cmp.Diff(s, fromYAML, exact); d != "" {
			t.Fatalf("through YAML: %s\n%s", d, asYAML)
		}
		asJSON, err := site.EncodeJSON(s)
		if err != nil {
			t.Fatal(err)
		}
		fromJSON, err := site.DecodeJSON("site.json", asJSON)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(s, fromJSON, exact); d != "" {
			t.Fatalf("through JSON: %s", d)
		}
		again, err := site.EncodeYAML(fromYAML)
		if err != nil || !bytes.Equal(again, asYAML) {
			t.Fatalf("the second encoding differs: %v", err)
		}
	})
}

// An edit in place must do to the text what the patch does to the site.
func TestEditInPlaceDoesWhatThePatchSays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from, to := anySite().Draw(t, "from"), anySite().Draw(t, "to")
		text, err := site.EncodeYAML(from)
		if err != nil {
			t.Fatal(err)
		}
		patch := diff(t, from, to)
		edited, err := site.EditYAML(text, patch)
		if err != nil {
			t.Fatalf("%v\n%s\n%s", err, text, patch)
		}
		got, err := site.DecodeYAML("edited", edited)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(to, got, exact); d != "" {
			t.Fatal(d)
		}
	})
}

// People put comments and blank lines anywhere. An edit must cope with all of them, and keep those that stand at the
// left margin, because no edit touches them.
func TestEditCopesWithCommentsAnywhere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from, to := anySite().Draw(t, "from"), anySite().Draw(t, "to")
		text, err := site.EncodeYAML(from)
		if err != nil {
			t.Fatal(err)
		}
		var messy strings.Builder
		var margin []string
		for i, line := range strings.Split(strings.TrimSuffix(string(text), "\n"), "\n") {
			indent := line[:len(line)-len(strings.TrimLeft(line, " "))]
			switch rapid.IntRange(0, 5).Draw(t, "mess") {
			case 0:
				messy.WriteString("\n")
			case 1:
				fmt.Fprintf(&messy, "%s# above %d\n", indent, i)
			case 2:
				margin = append(margin, fmt.Sprintf("\n# margin %d\n", i))
				fmt.Fprintf(&messy, "\n# margin %d\n", i)
			case 3:
				line += fmt.Sprintf(" # beside %d", i)
			}
			messy.WriteString(line + "\n")
		}
		edited, err := site.EditYAML([]byte(messy.String()), diff(t, from, to))
		if err != nil {
			t.Fatalf("%v\n%s\n%s", err, messy.String(), diff(t, from, to))
		}
		got, err := site.DecodeYAML("edited", edited)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(to, got, exact); d != "" {
			t.Fatal(d)
		}
		for _, m := range margin {
			if within := strings.Index(messy.String(), m); inTopLevelGap(messy.String(), within+1) && !bytes.Contains(edited, []byte(m)) {
				t.Fatalf("%q is gone:\n%s\n%s", m, messy.String(), edited)
			}
		}
	})
}

// inTopLevelGap reports whether the next line of content after a place stands at the left margin: then a comment there
// belongs to no entry.
func inTopLevelGap(text string, at int) bool {
	for line := range strings.Lines(text[at:]) {
		if trimmed := strings.TrimSpace(line); trimmed != "" && trimmed[0] != '#' {
			return line[0] != ' '
		}
	}
	return true
}

func diff(t interface{ Fatal(...any) }, from, to *site.Site) site.Patch {
	a, err1 := site.EncodeJSON(from)
	b, err2 := site.EncodeJSON(to)
	patch, err3 := site.Diff(a, b)
	if err := errors.Join(err1, err2, err3); err != nil {
		t.Fatal(err)
	}
	return patch
}

// The correction of the demo is a large real edit: hundreds of values, things added, removed and renamed.
func TestTheDraftEditedIntoTheCorrectedSite(t *testing.T) {
	draft, err := site.DecodeYAML("draft", demo.Draft)
	if err != nil {
		t.Fatal(err)
	}
	corrected, err := site.DecodeYAML("corrected", demo.Corrected)
	if err != nil {
		t.Fatal(err)
	}
	edited, err := site.EditYAML(demo.Draft, diff(t, draft, corrected))
	if err != nil {
		t.Fatal(err)
	}
	got, err := site.DecodeYAML("edited", edited)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(corrected, got, exact); d != "" {
		t.Error(d)
	}
	for line := range strings.Lines(string(demo.Draft)) {
		if _, comment, ok := strings.Cut(line, "#"); ok && !bytes.Contains(edited, []byte(comment)) {
			t.Errorf("the comment %q is gone", comment)
		}
	}
}

// Every line of the demo that may carry a comment gets one of its own; then one leaf is set to another value. Nothing
// but the line of that leaf may differ, and that line keeps its comment.
func TestAnEditLeavesEveryOtherLineAlone(t *testing.T) {
	var marked strings.Builder
	n := 0
	for line := range strings.Lines(string(demo.Corrected)) {
		line = strings.TrimSuffix(line, "\n")
		if !strings.Contains(line, "#") {
			line += " # mark " + string(rune('a'+n%26)) + strings.Repeat("x", n/26)
			n++
		}
		marked.WriteString(line + "\n")
	}
	text := marked.String()
	s, err := site.DecodeYAML("marked", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	asJSON, err := site.EncodeJSON(s)
	if err != nil {
		t.Fatal(err)
	}
	for _, edit := range []struct {
		patch   string
		changed int // lines that differ or are added
		removed int // lines that are gone
	}{
		{`{"zones":{"09":{"label":"Mains: alarms # smoke"}}}`, 1, 0},
		{`{"devices":{"bridge":{"at":[8.5,"4.90",5.3]}}}`, 1, 0},
		{`{"zones":{"09":{"bypass":true}}}`, 1, 0},
		{`{"zones":{"01":{"bypass":null}}}`, 0, 1},
		{`{"zones":{"01":null}}`, 0, 11},
		{`{"people":{"thrane":{"phone":"555-0199","languages":["en","fr"]}}}`, 1, 0},
		{`{"people":{"thrane":{"phone":null}}}`, 1, 0},
		{`{"people":{"noor":{"name":"Noor Vance"}}}`, 1, 0},
		{`{"rooms":{"G10":{"name":"Porch"},"F8":{"name":"Box room","storey":"upper"}}}`, 5, 0},
		{`{"premises":{"internet":{"standby":"none"}}}`, 1, 0},
		{`{"questions":null}`, 0, 13},
		{`{"power":{"battery":"17 Ah"},"name":"Larkwater"}`, 2, 0},
	} {
		edited, err := site.EditYAML([]byte(text), []byte(edit.patch))
		if err != nil {
			t.Errorf("%s: %v", edit.patch, err)
			continue
		}
		got, err := site.DecodeYAML("edited", edited)
		if err != nil {
			t.Errorf("%s: %v", edit.patch, err)
			continue
		}
		wantJSON, err := site.Apply(asJSON, []byte(edit.patch))
		if err != nil {
			t.Fatal(err)
		}
		want, err := site.DecodeJSON("want", wantJSON)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(want, got, exact); d != "" {
			t.Errorf("%s: %s", edit.patch, d)
		}
		was, is := strings.SplitAfter(text, "\n"), strings.SplitAfter(string(edited), "\n")
		same := common(was, is)
		if added, gone := len(is)-same, len(was)-same; added != edit.changed || gone != max(edit.removed, 0) && gone != edit.removed+edit.changed {
			t.Errorf("%s: %d lines are new, %d are gone", edit.patch, added, gone)
		}
		if edit.removed == 0 {
			for line := range strings.Lines(text) {
				if _, comment, _ := strings.Cut(line, "#"); !bytes.Contains(edited, []byte(comment)) {
					t.Errorf("%s: the comment %q is gone", edit.patch, comment)
				}
			}
		}
	}
}

// common is the length of the longest common subsequence of lines, by the textbook table.
func common(a, b []string) int {
	last := make([]int, len(b)+1)
	for i := range a {
		row := make([]int, len(b)+1)
		for j := range b {
			if row[j+1] = max(last[j+1], row[j]); a[i] == b[j] {
				row[j+1] = last[j] + 1
			}
		}
		last = row
	}
	return last[len(b)]
}

func TestEditKeepsOddLayouts(t *testing.T) {
	for _, c := range []struct{ name, text, patch, want string }{
		{"windows line ends", "name: A\r\npremises:\r\n  use: shop # x\r\n", `{"premises":{"use":"office"}}`, "name: A\r\npremises:\r\n  use: office # x\r\n"},
		{"empty file", "", `{"name":"Mill"}`, "name: Mill\n"},
		{"only a comment", "# survey of the mill\n", `{"rooms":{"G1":{"name":"Hall"}}}`, "# survey of the mill\nrooms:\n  G1:\n    name: Hall\n"},
		{"no last line end", "name: A", `{"premises":{"use":"shop"}}`, "name: A\npremises:\n  use: shop\n"},
		{"empty braces grow", "rooms: {} # none yet\nareas: {}\n", `{"rooms":{"G1":{"name":"Hall"}}}`, "rooms:\n  G1:\n    name: Hall # none yet\nareas: {}\n"},
		{"folded text replaced", "rooms:\n  G1:\n    name: Hall\n    notes: >\n      long\n      text\n\n  G2: {name: B}\n", `{"rooms":{"G1":{"notes":"short"}}}`, "rooms:\n  G1:\n    name: Hall\n    notes: short\n\n  G2: {name: B}\n"},
		{"list in lines replaced", "rooms:\n  G1:\n    name: Hall\n    hazards:\n    - dust\n    - steam\n    use: hall\n", `{"rooms":{"G1":{"hazards":["machine"]}}}`, "rooms:\n  G1:\n    name: Hall\n    hazards: [machine]\n    use: hall\n"},
		{"comment kept above the next", "rooms:\n  G1: {name: A}\n  # the cold one\n  G3: {name: C}\n", `{"rooms":{"G2":{"name":"B"}}}`, "rooms:\n  G1: {name: A}\n  G2:\n    name: B\n  # the cold one\n  G3: {name: C}\n"},
		{"braces over lines", "power: {\n  battery: 7 Ah, # old\n  standby: 24 h\n}\n", `{"power":{"battery":"12 Ah","ageing":1.25}}`, "power: {\n  battery: 12 Ah, # old\n  standby: 24 h, ageing: 1.25\n}\n"},
		{"letters beyond ascii", "name: Größe 🔔 # ä\npremises: {locality: Zürich, use: shop}\n", `{"premises":{"use":"office"}}`, "name: Größe 🔔 # ä\npremises: {locality: Zürich, use: office}\n"},
		{"everything under a key goes", "name: A\npremises:\n  # the only one\n  use: shop\n", `{"premises":{"use":null}}`, "name: A\npremises: {}\n"},
		{"quoted key and value", "'name': 'it''s' # x\n", `{"name":"Mill"}`, "'name': Mill # x\n"},
	} {
		got, err := site.EditYAML([]byte(c.text), []byte(c.patch))
		if err != nil || string(got) != c.want {
			t.Errorf("%s: %v\n%s", c.name, err, got)
		}
	}
}

func TestEditRefusesWhatWouldNotBeASite(t *testing.T) {
	for _, patch := range []string{`{"zonez":{}}`, `{"zones":{"09":{"device":"nobody"}}}`, `[]`, `{"name":`, `{"rooms":{"G1":{"name":7}}}`} {
		var faults site.Faults
		if out, err := site.EditYAML(demo.Draft, json.RawMessage(patch)); !errors.As(err, &faults) || out != nil {
			t.Errorf("%s: %v", patch, err)
		}
	}
}
