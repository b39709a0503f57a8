package records_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/records"
)

// python runs a reader that shares no code with us; it skips where Debian's package is missing.
func python(t *testing.T, library, script string, raw []byte, name string) string {
	t.Helper()
	if err := exec.Command("/usr/bin/python3", "-c", "import "+library).Run(); err != nil {
		t.Skipf("python3-%s is not installed: the file is not read back", library)
	}
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, raw, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("/usr/bin/python3", "-c", script, path).Output()
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}

// Labels that a spreadsheet would compute stay text in XLSX and are guarded in CSV.
func TestTablesForOtherPrograms(t *testing.T) {
	k := worked(t)
	evil := []string{`=HYPERLINK("http://x")`, "+1+1", "-2+3", "@SUM(A1)", "\tcell", "\rcell"}
	for i, label := range evil {
		patch, err := json.Marshal(map[string]any{"zones": map[string]any{fmt.Sprintf("0%d", i+1): map[string]string{"label": label}}})
		k.Must(err)
		k.add(evidence.KindEdit, book.EditBody{Patch: patch}, nil)
	}
	for kind, rows := range map[string]int{"zone-list": 33, "device-register": 0, "existing-alarms": 0} {
		p := k.paper(kind, "en", "")
		raw, err := records.File(p, "xlsx", records.Options{})
		k.Must(err)
		again, err := records.File(k.paper(kind, "en", ""), "xlsx", records.Options{})
		if err != nil || !bytes.Equal(raw, again) {
			t.Errorf("%s: two workbooks of one state differ (%v)", kind, err)
		}
		var sheets []struct {
			Name string
			Rows [][]*string
			Kind []string
		}
		k.Must(json.Unmarshal([]byte(python(t, "openpyxl", `
import json, sys, openpyxl
book = openpyxl.load_workbook(sys.argv[1])
print(json.dumps([{"Name": s.title, "Rows": [[None if c.value is None else str(c.value) for c in r] for r in s.iter_rows()], "Kind": sorted({c.data_type for r in s.iter_rows() for c in r})} for s in book]))`, raw, kind+".xlsx")), &sheets))
		if len(sheets) != 2 || len(sheets[0].Rows)-1 != len(p.Sheet.Rows) || rows > 0 && len(p.Sheet.Rows) != rows {
			t.Errorf("%s: %d sheets, %d rows, want %d", kind, len(sheets), len(sheets[0].Rows)-1, len(p.Sheet.Rows))
		}
		for _, s := range sheets {
			for _, data := range s.Kind {
				if data == "f" {
					t.Errorf("%s: sheet %s holds a formula", kind, s.Name)
				}
			}
		}
		text, err := records.File(p, "csv", records.Options{})
		k.Must(err)
		lines, err := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(text, []byte("\ufeff")))).ReadAll()
		k.Must(err)
		if len(lines)-1 != len(p.Sheet.Rows) {
			t.Errorf("%s: CSV has %d rows, want %d", kind, len(lines)-1, len(p.Sheet.Rows))
		}
		for i, line := range lines {
			for j, cell := range line {
				if cell != "" && strings.ContainsAny(cell[:1], "=+-@\t\r") {
					t.Errorf("%s: cell %d of line %d begins a formula: %q", kind, j, i, cell)
				}
			}
			if last := line[len(line)-1]; i > 0 && last != "PRACTICE "+p.Pin.Short() {
				t.Errorf("%s: line %d says %q, want its pin", kind, i, last)
			}
		}
	}
}

// Judge: another library reads the calendar.
func TestCalendar(t *testing.T) {
	k := worked(t)
	p := k.paper("due-dates", "en", "")
	raw, err := records.File(p, "ics", records.Options{})
	k.Must(err)
	again, err := records.File(k.paper("due-dates", "en", ""), "ics", records.Options{})
	if err != nil || !bytes.Equal(raw, again) {
		t.Errorf("two calendars of one state differ (%v)", err)
	}
	for i, line := range strings.Split(string(raw), "\r\n") {
		if len(line) > 75 {
			t.Errorf("line %d is longer than 75 octets (RFC 5545, 3.1)", i+1)
		}
	}
	var events []struct{ Uid, Day, Summary, Stamp string }
	k.Must(json.Unmarshal([]byte(python(t, "icalendar", `
import json, sys, icalendar
c = icalendar.Calendar.from_ical(open(sys.argv[1], "rb").read())
print(json.dumps([{"Uid": str(e["uid"]), "Day": e["dtstart"].dt.isoformat(), "Summary": str(e["summary"]), "Stamp": e["dtstamp"].dt.isoformat()} for e in c.walk("VEVENT")]))`, raw, "due.ics")), &events))
	if len(events) != len(p.Dates) || len(events) == 0 {
		t.Fatalf("%d events, %d dates", len(events), len(p.Dates))
	}
	days, seen := map[string]string{}, map[string]bool{}
	for _, e := range events {
		id, _, _ := strings.Cut(e.Uid, "@")
		if seen[e.Uid] {
			t.Errorf("%s is there twice", e.Uid)
		}
		days[id], seen[e.Uid] = e.Day, true
	}
	// By hand: head M2 was made 2017-06 and lives ten years; M4 2019-04.
	for id, want := range map[string]string{"life.M2": "2027-06-01", "life.M4": "2029-04-01"} {
		if days[id] != want {
			t.Errorf("%s falls on %s, want %s", id, days[id], want)
		}
	}
}

func TestFormatsThatThereAreNot(t *testing.T) {
	k := worked(t)
	for kind, format := range map[string]string{"owner-guide": "csv", "zone-list": "ics", "due-dates": "xlsx", "device-register": "docx"} {
		if _, err := records.File(k.paper(kind, "en", ""), format, records.Options{}); err == nil {
			t.Errorf("%s was made as %s", kind, format)
		}
	}
}
