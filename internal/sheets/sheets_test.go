package sheets

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"proofbell/internal/tables"
)

var two = []tables.Table{
	{Name: "zones", Columns: []string{"zone", "label", "code"}, Rows: [][]string{{"09", "Hall, \"front\"\nsmoke", "111"}, {"=1+1", "+49 30", "  @x"}, {"10", "", "0017"}}},
	{Name: "heads", Columns: []string{"head"}, Rows: [][]string{{"M1"}}},
}

// other runs openpyxl, a program that shares nothing with the one we write with.
func other(t *testing.T, args ...string) []byte {
	t.Helper()
	const python = "/usr/bin/python3"
	if err := exec.CommandContext(t.Context(), python, "-c", "import openpyxl").Run(); err != nil {
		t.Skip("python3-openpyxl is not installed: ./test installs it")
	}
	cmd := exec.CommandContext(t.Context(), python, append([]string{"testdata/other.py"}, args...)...)
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func TestAnotherProgramReadsIt(t *testing.T) {
	var b bytes.Buffer
	if err := WriteXLSX(&b, two...); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "two.xlsx")
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	var got []struct {
		Name   string
		Frozen string
		Rows   [][]*string
		Types  []string
	}
	if err := json.Unmarshal(other(t, "read", path), &got); err != nil {
		t.Fatal(err)
	}
	for i, want := range two {
		if got[i].Name != want.Name || got[i].Frozen != "A2" {
			t.Errorf("sheet %q, frozen at %q", got[i].Name, got[i].Frozen)
		}
		// No formula among the kinds of cells, only strings.
		if strings.Trim(strings.Join(got[i].Types, ""), "s") != "" {
			t.Errorf("cells of kind %v", got[i].Types)
		}
		for j, row := range append([][]string{want.Columns}, want.Rows...) {
			for k, cell := range row {
				is := ""
				if got[i].Rows[j][k] != nil {
					is = *got[i].Rows[j][k]
				}
				if is != cell {
					t.Errorf("%s, line %d: %q, want %q", want.Name, j+1, is, cell)
				}
			}
		}
	}
}

func TestReadAnotherProgram(t *testing.T) {
	file := func(what string) []byte {
		path := filepath.Join(t.TempDir(), "other.xlsx")
		other(t, "write", path, what)
		raw, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		return raw
	}
	for _, what := range []string{"plain", "hidden", "1904"} {
		got, err := ReadXLSX(nil, file(what))
		if err != nil {
			t.Fatalf("%s: %v", what, err)
		}
		want := []tables.Table{{Name: "heads", Columns: []string{"head", "made", "level", "label", "seen"}, Rows: [][]string{
			{"M1", "2017-04-23", "2.9", "0017", "yes"}, {"M2", "2019-04", "85", "0017", "no"}, {}, {"M3", "2018", "-3.25", "=not a formula"},
		}}}
		if !reflect.DeepEqual(got.Tables, want) {
			t.Errorf("%s: %q\nwant %q", what, got.Tables, want)
		}
		if note := fmt.Sprint(got.Notes); (note != "[]") != (what == "hidden") || what == "hidden" && !strings.Contains(note, "line 3") {
			t.Errorf("%s: notes %v", what, note)
		}
	}
	_, err := ReadXLSX(nil, file("wrong"))
	for _, want := range []string{"heads!A3:B3: these cells are merged; ", "heads!C2: a formula stands here; ", "heads!D2: #REF! is an error of the spreadsheet; "} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v does not say %q", err, want)
		}
	}
	for what, want := range map[string]string{"far": "A1000000: this is more", "wide": "WQJ2: this is more"} {
		if _, err := ReadXLSX(nil, file(what)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", what, err, want)
		}
	}
}

func TestStrangeFiles(t *testing.T) {
	bomb := func(inside string, times int) []byte {
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		w, err := z.Create("xl/worksheets/sheet1.xml")
		for range times {
			if err == nil {
				_, err = w.Write([]byte(inside))
			}
		}
		if err != nil || z.Close() != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	for name, raw := range map[string][]byte{
		"nothing":    nil,
		"text":       []byte("zone,label"),
		"empty zip":  bomb("", 1),
		"zeros":      bomb(strings.Repeat(" ", 1_000_000), 30),
		"cells":      bomb(strings.Repeat("<c/>", 1_000), 300),
		"nested":     bomb("<a>", 1_000),
		"large file": make([]byte, tables.MaxFile+1),
	} {
		if _, err := ReadXLSX(nil, raw); err == nil {
			t.Errorf("%s was read", name)
		}
	}
}

func TestSameBytes(t *testing.T) {
	var a, b bytes.Buffer
	if err := WriteXLSX(&a, two...); err != nil {
		t.Fatal(err)
	}
	if err := WriteXLSX(&b, two...); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("the same tables give other bytes")
	}
}

func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cell := rapid.StringMatching(`['=+@ \-"\n;,＝]{0,3}[a-zé0-9',;"\n]{0,5}[0-9a-z]`)
		columns := rapid.SliceOfN(rapid.StringMatching(`[a-z]{1,5}`), 1, 4).Draw(t, "columns")
		table := tables.Table{Name: "t", Columns: columns, Rows: rapid.SliceOfN(rapid.SliceOfN(cell, len(columns), len(columns)), 1, 4).Draw(t, "rows")}
		var b bytes.Buffer
		if err := WriteXLSX(&b, table); err != nil {
			t.Fatal(err)
		}
		got, err := ReadXLSX(nil, b.Bytes())
		if err != nil || !reflect.DeepEqual(got.Tables, []tables.Table{table}) {
			t.Fatalf("%q reads back as %q, %v", table, got, err)
		}
	})
}

// The codes are of ISO/IEC 29500-1, 18.8.30 and 18.8.31; the days were counted by hand: 42005 is 2015-01-01.
func TestNumberFormats(t *testing.T) {
	for _, c := range []struct {
		number int
		code   string
		value  float64
		want   string
	}{
		{0, "", 17, "17"},
		{14, "", 42005, "2015-01-01"},
		{22, "", 42005.75, "2015-01-01"},
		{17, "", 42005, "2015-01"},
		{0, "dd/mm/yyyy", 42005, "2015-01-01"},
		{0, `[$-407]d. mmmm yyyy;@`, 42005, "2015-01-01"},
		{0, "mmm yy", 42005, "2015-01"},
		{0, "yyyy", 42005, "2015"},
		{0, "0000", 17, "0017"},
		{0, `0.0" my days"`, 2.5, "2.5"},
		{0, `"y"0`, 3, "3"},
		{0, "h:mm", 0.5, "0.5"},
		{14, "", 1, "1900-01-01"},
		{14, "", 61, "1900-03-01"},
		{14, "", -1, "-1"},
		{0, "0000", 12345, "12345"},
	} {
		if got := readFormat(c.number, c.code).write(c.value, false); got != c.want {
			t.Errorf("format %d %q shows %v as %s, want %s", c.number, c.code, c.value, got, c.want)
		}
	}
}

// What is fuzzed is the sheet inside: changed bytes of a zip would fail its checksums.
func FuzzReadXLSX(f *testing.F) {
	var b bytes.Buffer
	if err := WriteXLSX(&b, two[1]); err != nil {
		f.Fatal(err)
	}
	whole, err := zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil {
		f.Fatal(err)
	}
	for _, sheet := range []string{
		`<worksheet><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>zone</t></is></c></row><row r="2" hidden="1"><c r="A2" s="1"><v>42005</v></c></row></sheetData></worksheet>`,
		`<worksheet><sheetData><row><c t="e"><v>#REF!</v></c><c><f>1+1</f><v>2</v></c></row></sheetData><mergeCells><mergeCell ref="A1:B2"/></mergeCells></worksheet>`,
		`<worksheet><sheetData><row r="9"><c r="A1" t="s"><v>99</v></c><c r="A1" t="b"><v>1</v></c></row></sheetData></worksheet>`,
	} {
		f.Add(sheet)
	}
	f.Fuzz(func(t *testing.T, sheet string) {
		var packed bytes.Buffer
		out := zip.NewWriter(&packed)
		for _, part := range whole.File {
			if part.Name != "xl/worksheets/sheet1.xml" {
				if err := out.Copy(part); err != nil {
					t.Fatal(err)
				}
			}
		}
		w, err := out.Create("xl/worksheets/sheet1.xml")
		if err == nil {
			_, err = w.Write([]byte(sheet))
		}
		if err != nil || out.Close() != nil {
			t.Fatal(err)
		}
		read, err := ReadXLSX(nil, packed.Bytes())
		if err == nil && len(read.Tables) == 0 {
			t.Error("neither a table nor an error")
		}
	})
}
