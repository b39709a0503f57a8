package papers

import (
	"fmt"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func changed(before, after Section) string {
	var out []string
	for _, c := range Changes(nil, Paper{Sections: []Section{before}}, Paper{Sections: []Section{after}}) {
		out = append(out, c.String())
	}
	return strings.Join(out, "\n")
}

func TestChanges(t *testing.T) {
	table := func(rows ...[]string) *Table { return &Table{Head: []string{"Zone", "Label", "Code"}, Rows: rows} }
	for name, tt := range map[string]struct {
		before, after Section
		want          string
	}{
		"nothing": {Section{ID: "a", Table: table([]string{"01", "Door", "134"})}, Section{ID: "a", Table: table([]string{"01", "Door", "134"})}, ""},
		"a cell": {
			Section{ID: "a", Table: table([]string{"01", "Door", "134"}, []string{"02", "Hall", "111"})},
			Section{ID: "a", Table: table([]string{"01", "Door", "134"}, []string{"02", "Hall", ""})},
			"Zone 02, Code: nothing, before: 111",
		},
		"a row more, a row less": {
			Section{ID: "a", Table: table([]string{"01", "Door", "134"})},
			Section{ID: "a", Table: table([]string{"02", "Hall", "111"})},
			"Zone 02: new: Hall, 111\nZone 01: no longer: Door, 134",
		},
		"two rows of one name": {
			Section{ID: "a", Table: table([]string{"01", "Door", "134"}, []string{"01", "Hall", "111"})},
			Section{ID: "a", Table: table([]string{"01", "Door", "134"}, []string{"01", "Hall", "110"})},
			"Zone 01 (2), Code: 110, before: 111",
		},
		"a data sheet": {
			Section{ID: "a", Pairs: []Pair{{"Account", "4816"}, {"Permit", "A-1"}}},
			Section{ID: "a", Pairs: []Pair{{"Account", "4861"}, {"Station", "Cawder Reach"}}},
			"Account: 4861, before: 4816\nStation: new: Cawder Reach\nPermit: no longer: A-1",
		},
		"a finding": {
			Section{ID: "a", Findings: []Finding{{Grave: "FIX", Where: "Zone 01", Say: "It is so.", Do: "Mend it."}}},
			Section{ID: "a", Findings: []Finding{}},
			"FIX Zone 01: no longer: It is so.",
		},
		"about the issue itself": {Section{ID: "a", Own: true, Pairs: []Pair{{"Valid from", "2026-09-15"}}}, Section{ID: "a", Own: true, Pairs: []Pair{{"Valid from", "2026-09-16"}}}, ""},
		"a section less":         {Section{ID: "a", Pairs: []Pair{{"Account", "4816"}}}, Section{ID: "b", Own: true}, "Account: no longer: 4816"},
	} {
		if got := changed(tt.before, tt.after); got != tt.want {
			t.Errorf("%s:\n%s\nwant:\n%s", name, got, tt.want)
		}
	}
}

// Of two tables there are no changes exactly when they are the same, whatever is in them.
func TestChangesFindEveryCell(t *testing.T) {
	cell := rapid.SampledFrom([]string{"", "a", "b", "a, b"})
	rapid.Check(t, func(t *rapid.T) {
		rows := func(label string) [][]string {
			return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) []string {
				return []string{cell.Draw(t, "id"), cell.Draw(t, "one"), cell.Draw(t, "two")}
			}), 0, 4).Draw(t, label)
		}
		before, after := rows("before"), rows("after")
		head := []string{"Zone", "Label", "Code"}
		got := changed(Section{ID: "a", Table: &Table{Head: head, Rows: before}}, Section{ID: "a", Table: &Table{Head: head, Rows: after}})
		order := func(rows [][]string) string { // rows may stand in another order, but not those of one name
			seen := map[string][]string{}
			for _, r := range rows {
				seen[r[0]] = append(seen[r[0]], fmt.Sprint(r[1:]))
			}
			return fmt.Sprint(seen)
		}
		if same := order(before) == order(after); same != (got == "") {
			t.Fatalf("%v and %v: %q", before, after, got)
		}
	})
}

// Every kind has its own id, a PDF, and a table where it is made as one.
func TestKinds(t *testing.T) {
	seen := map[string]bool{}
	for _, k := range Kinds() {
		if seen[k.ID] || k.Formats[0] != "pdf" || k.Title == "" || k.About == "" {
			t.Errorf("%+v", k.ID)
		}
		seen[k.ID] = true
		if found, ok := Find(k.ID); !ok || !reflect.DeepEqual(found.Formats, k.Formats) {
			t.Errorf("%s is not found", k.ID)
		}
	}
	if _, ok := Find("dance"); ok {
		t.Error("there is no such document")
	}
}
