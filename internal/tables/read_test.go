package tables

import (
	"bytes"
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"proofbell/demo"
	"proofbell/internal/words"
	"proofbell/site"
)

func mill(t interface{ Fatal(...any) }) *site.Site {
	s, err := site.DecodeYAML("draft", demo.Draft)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// What was written and is read back unchanged changes nothing, in each language, by CSV as well.
func TestWrittenAndReadIsNoChange(t *testing.T) {
	for _, raw := range [][]byte{demo.Draft, demo.Corrected} {
		s, err := site.DecodeYAML("mill", raw)
		if err != nil {
			t.Fatal(err)
		}
		for _, tag := range words.Tags() {
			lang := words.In(tag)
			all := Of(lang, s)
			if len(all) != 4 || len(all[0].Rows) != len(s.Zones) || len(all[3].Rows) != len(s.Heads) {
				t.Fatalf("%s: %d tables", tag, len(all))
			}
			for i, table := range all {
				var b bytes.Buffer
				if err := WriteCSV(&b, table); err != nil {
					t.Fatal(err)
				}
				if all[i], err = ReadCSV(lang, table.Name, b.Bytes()); err != nil {
					t.Fatal(err)
				}
			}
			edit, err := Read(lang, s, all)
			if err != nil || string(edit.Patch) != "{}" || len(edit.Notes) > 0 {
				t.Errorf("%s: %s, %v, %v", tag, edit.Patch, edit.Notes, err)
			}
		}
	}
}

func TestRead(t *testing.T) {
	s := mill(t)
	for name, c := range map[string]struct {
		table Table
		patch string
		notes string
	}{
		"a label":                       {Table{"zones", []string{"zone", "label"}, [][]string{{"09", "Whole house smoke"}}}, `{"zones":{"09":{"label":"Whole house smoke"}}}`, "[]"},
		"a cell emptied":                {Table{"zones", []string{"Zone", " Notes", "area"}, [][]string{{"09", "", ""}}}, `{"zones":{"09":{"area":null}}}`, "[]"},
		"a short row empties the rest":  {Table{"zones", []string{"zone", "area"}, [][]string{{"09"}}}, `{"zones":{"09":{"area":null}}}`, "[]"},
		"by its first heading, lists":   {Table{"Sheet1", []string{"room", "hazards", "someone sleeps here"}, [][]string{{"G1", "dust; steam", "yes"}}}, `{"rooms":{"G1":{"hazards":["dust","steam"],"sleeping":true}}}`, "[]"},
		"a room of a flat":              {Table{"rooms", []string{"room", "dwelling"}, [][]string{{"G1", "Flat 2"}}}, `{"rooms":{"G1":{"dwelling":"Flat 2"}}}`, "[]"},
		"a new thing":                   {Table{"heads", []string{"head", "kind", "room"}, [][]string{{"M11", "smoke", "G1"}}}, `{"heads":{"M11":{"kind":"smoke","room":"G1"}}}`, "[]"},
		"a lost zero of the id":         {Table{"zones", []string{"zone", "label"}, [][]string{{"9", "Whole house"}}}, `{"zones":{"09":{"label":"Whole house"}}}`, "[zones!A2: 9 was read as 09]"},
		"an unknown column":             {Table{"zones", []string{"zone", "lable", ""}, [][]string{{"09", "x", "y"}}}, `{}`, `[zones!B1: column "lable" is not known and was left alone]`},
		"empty lines":                   {Table{"zones", []string{"zone", "label"}, [][]string{{}, {"", " "}, {"09", "Landing smoke"}}}, `{}`, "[]"},
		"in German":                     {Table{"Zonen", []string{"Zone", "Bezeichnung", "Türgong"}, [][]string{{"09", "Ganzes Haus", "ja"}}}, `{"zones":{"09":{"doorTone":true,"label":"Ganzes Haus"}}}`, "[]"},
		"no is as good as nothing":      {Table{"zones", []string{"zone", "door tone"}, [][]string{{"09", "no"}}}, `{}`, "[]"},
		"a trip limit that is denied":   {Table{"zones", []string{"zone", "trip limit"}, [][]string{{"07", "no"}}}, `{"zones":{"07":{"tripLimit":false}}}`, "[]"},
		"units as typed stay the truth": {Table{"rooms", []string{"room", "ceiling"}, [][]string{{"G1", "8 ft 6 in"}}}, `{"rooms":{"G1":{"ceiling":"8 ft 6 in"}}}`, "[]"},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := Read(nil, s, []Table{c.table})
			if err != nil || string(got.Patch) != c.patch || fmt.Sprint(got.Notes) != c.notes {
				t.Errorf("patch %s, notes %v, %v", got.Patch, got.Notes, err)
			}
		})
	}
}

func TestReadFaults(t *testing.T) {
	s := mill(t)
	for want, table := range map[string]Table{
		`zones!C14: `: {"zones", []string{"zone", "label", "kind"}, append(make([][]string, 12), []string{"09", "x", "smokey"})},
		`zones!A3: zone 09 stands in A2 already; keep one line of it`:                                                  {"zones", []string{"zone"}, [][]string{{"09"}, {"09"}}},
		`zones!A2: this line does not say which zone it is about; write its id, or empty the line`:                     {"zones", []string{"zone", "label"}, [][]string{{"", "x"}}},
		`zones!A1: no column is headed "zone"; the column that says which zone a line is about must be there`:          {"zones", []string{"label"}, [][]string{{"x"}}},
		`zones!B2: "perhaps" does not fit door tone; write yes or no`:                                                  {"zones", []string{"zone", "door tone"}, [][]string{{"09", "perhaps"}}},
		`rooms!B2: "first" does not fit order; write a whole number`:                                                   {"rooms", []string{"room", "order"}, [][]string{{"G1", "first"}}},
		`zones!C1: column "Label" stands there twice; keep one of them`:                                                {"zones", []string{"zone", "label", "Label"}, nil},
		`zones!A2: 7 is shorter than the others: did it lose a leading zero?; write 07 into a cell of the format text`: {"zones", []string{"zone"}, [][]string{{"7"}}},
		`rooms!B2: `:   {"rooms", []string{"room", "ceiling"}, [][]string{{"G1", "2,6 m"}}},
		`heads!B2: `:   {"heads", []string{"head", "made"}, [][]string{{"M1", "Apr-19"}}},
		`heads!A2: `:   {"heads", []string{"head", "room"}, [][]string{{"M99", "G1"}}}, // its kind is missing
		`devices!B2: `: {"devices", []string{"device", "room"}, [][]string{{"hall-smoke", "Z9"}}},
		`no table is one of zones, devices, rooms, heads; `: {"prices", []string{"item"}, nil},
	} {
		if table.Name == "" {
			continue
		}
		site := s
		if strings.HasPrefix(want, "zones!A2: 7") {
			short := *s
			short.Zones = map[zoneID]zone{"01": {}, "12": {}}
			site = &short
		}
		edit, err := Read(nil, site, []Table{table})
		if err == nil || !strings.HasPrefix(err.Error(), want) || edit.Patch != nil {
			t.Errorf("%v: %v, want %q", table, err, want)
		}
	}
	// A code whose zeros a spreadsheet ate is not taken for another code.
	z := s.Zones["09"]
	z.Code = "0017"
	s.Zones["09"] = z
	_, err := Read(nil, s, []Table{{"zones", []string{"zone", "station code"}, [][]string{{"09", "17"}}}})
	if err == nil || err.Error() != "zones!B2: 17 has lost the leading zeros of 0017; write 0017 into a cell of the format text" {
		t.Error(err)
	}
}

type (
	zoneID = site.ZoneID
	zone   = site.Zone
)

// Whatever a table says of things: where it is taken, only what it holds has changed, and reading the result again changes
// nothing more.
func TestOnlyWhatItHolds(t *testing.T) {
	s := mill(t)
	before, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	zones := site.SortedIDs(s.Zones)
	rapid.Check(t, func(t *rapid.T) {
		columns := rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"label", "area", "notes", "door tone", "may be left out", "kind"}), 1, 4, rapid.ID).Draw(t, "columns")
		table := Table{Name: "zones", Columns: append([]string{"zone"}, columns...)}
		held := map[string]bool{}
		for _, id := range rapid.SliceOfNDistinct(rapid.SampledFrom(zones), 1, 5, rapid.ID).Draw(t, "zones") {
			row := []string{string(id)}
			for _, c := range columns {
				row = append(row, rapid.SampledFrom(map[string][]string{"area": {"", "1", "2"}, "kind": {"smoke", "co", "inside"}, "door tone": {"", "yes"}, "may be left out": {"", "yes"}, "label": {"", "Hall", "=1"}, "notes": {"", "x"}}[c]).Draw(t, c))
				held[string(id)] = true
			}
			table.Rows = append(table.Rows, row)
		}
		edit, err := Read(nil, s, []Table{table})
		if err != nil {
			t.Fatal(err)
		}
		after, err := site.Apply(before, edit.Patch)
		if err != nil {
			t.Fatal(err)
		}
		changed, err := site.DecodeJSON("", after)
		if err != nil {
			t.Fatal(err)
		}
		for id, z := range s.Zones {
			if !held[string(id)] && !reflect.DeepEqual(z, changed.Zones[id]) {
				t.Fatalf("zone %s was not in the table and changed", id)
			}
			if now := changed.Zones[id]; now.Code != z.Code || now.Device != z.Device || now.LossWindow != z.LossWindow {
				t.Fatalf("zone %s changed in a column that the table does not have", id)
			}
		}
		if again, err := Read(nil, changed, []Table{table}); err != nil || string(again.Patch) != "{}" {
			t.Fatalf("a second time: %s, %v", again.Patch, err)
		}
	})
}

func FuzzRead(f *testing.F) {
	s := mill(f)
	f.Add("zones", "zone,label\n09,Hall\n9,x\n")
	f.Add("Sheet1", "alarm;made;kind\nM1;2019-04;smoke\nM99;;\n")
	f.Fuzz(func(t *testing.T, name, raw string) {
		table, err := ReadCSV(nil, name, []byte(raw))
		if err != nil {
			return
		}
		edit, err := Read(nil, s, []Table{table})
		if err != nil {
			return
		}
		before, err := json.Marshal(s)
		if err != nil {
			t.Fatal(err)
		}
		after, err := site.Apply(before, edit.Patch)
		if err == nil {
			_, err = site.DecodeJSON("", after)
		}
		if err != nil {
			t.Errorf("the patch %s leaves no site: %v", edit.Patch, err)
		}
	})
}
