package tables

import (
	"bytes"
	"errors"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestCellName(t *testing.T) {
	for want, at := range map[string][2]int{"A1": {0, 0}, "F14": {5, 13}, "Z2": {25, 1}, "AA2": {26, 1}, "CV20001": {99, 20000}} {
		if got := CellName(at[0], at[1]); got != want {
			t.Errorf("CellName(%v) = %s, want %s", at, got, want)
		}
	}
}

// By RFC 4180, section 2, with the byte order mark that spreadsheets look for.
func TestWriteCSV(t *testing.T) {
	var b bytes.Buffer
	err := WriteCSV(&b, Table{"zones", []string{"zone", "label"}, [][]string{{"09", `Hall, "front"`}, {"10"}, {"=1+1", "+49 30", "lost"}}})
	if err != nil {
		t.Fatal(err)
	}
	want := "\ufeffzone,label\r\n09,\"Hall, \"\"front\"\"\"\r\n10,\r\n'=1+1,'+49 30\r\n"
	if got := b.String(); got != want {
		t.Errorf("wrote %q, want %q", got, want)
	}
}

func TestReadCSV(t *testing.T) {
	gap, err := ReadCSV(nil, "zones", []byte("zone\n\n\r\n\"0\n9\"\n\n10\n"))
	if want := [][]string{nil, nil, {"0\n9"}, nil, {"10"}}; err != nil || !reflect.DeepEqual(gap.Rows, want) {
		t.Errorf("empty lines lose their place: %q, %v", gap.Rows, err)
	}
	for _, text := range []string{"zone,label\n09,Hall\n", "\ufeffzone;label\r\n09;Hall", "zone\tlabel\n\"09\"\tHall\n"} {
		got, err := ReadCSV(nil, "zones", []byte(text))
		want := Table{"zones", []string{"zone", "label"}, [][]string{{"09", "Hall"}}}
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%q reads as %v, %v", text, got, err)
		}
	}
}

func TestReadCSVFaults(t *testing.T) {
	for text, want := range map[string]string{
		"":                                       "zones!A1: the table is empty; write the headings into the first line",
		"zone,label\n09,\"Hall\n10":              "zones!A2: the quotes of this line do not close; write a quote inside a cell twice",
		"zone\xff":                               "zones: this is not a text in UTF-8; save it as CSV in UTF-8",
		"a\n" + strings.Repeat("x\n", MaxRows+1): "zones!A20002: this is more than a table may hold; at most 20000 rows",
		strings.Repeat(",", MaxColumns):          "zones!CW1: this is more than",
		"zone\n" + strings.Repeat("x", MaxCell+1): "zones!A2: this is more than",
	} {
		_, err := ReadCSV(nil, "zones", []byte(text))
		var faults Faults
		if !errors.As(err, &faults) || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%.20q: %v, want %s", text, err, want)
		}
	}
}

// Whatever a cell holds is read back as it was written, and starts nothing in a spreadsheet.
func TestCSVRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cell := rapid.StringMatching(`['=+@ \-\t"\n;,＝]{0,3}[a-zé0-9',;"\n]{0,5}`)
		columns := rapid.SliceOfN(rapid.StringMatching(`[a-z]{1,5}`), 1, 4).Draw(t, "columns")
		table := Table{"t", columns, rapid.SliceOfN(rapid.SliceOfN(cell, len(columns), len(columns)), 1, 4).Draw(t, "rows")}
		var b bytes.Buffer
		if err := WriteCSV(&b, table); err != nil {
			t.Fatal(err)
		}
		got, err := ReadCSV(nil, "t", b.Bytes())
		if err != nil || !reflect.DeepEqual(got, table) {
			t.Fatalf("%q reads back as %q, %v", table, got, err)
		}
		for _, row := range table.Rows {
			for _, one := range row {
				if start := strings.TrimLeft(guard(one), " \n"); start != "" && strings.ContainsRune("=+-@\t＝", []rune(start)[0]) {
					t.Fatalf("%q is written as %q", one, guard(one))
				}
			}
		}
	})
}

func FuzzReadCSV(f *testing.F) {
	f.Add([]byte("zone,label\n09,Hall\n"))
	f.Add([]byte("\ufeffa;b\r\n'=1;\"x\r\ny\"\r\n\r\n;"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		table, err := ReadCSV(nil, "zones", raw)
		if err != nil {
			return
		}
		var b bytes.Buffer
		if err := WriteCSV(&b, table); err != nil {
			t.Fatal(err)
		}
	})
}
