package server

import (
	"bytes"
	"net/http"
	"strings"
	"testing"

	"proofbell/internal/sheets"
	"proofbell/internal/tables"
)

func TestTables(t *testing.T) {
	c := serve(t)
	path := "/api/jobs/" + string(c.open()) + "/tables.xlsx"
	out := c.do("GET", path+"?lang=de", "")
	read, err := sheets.ReadXLSX(nil, []byte(out.body))
	if out.status != http.StatusOK || err != nil || len(read.Tables) != 4 || read.Tables[0].Name != "Zonen" {
		t.Fatalf("%d, %d tables, %v", out.status, len(read.Tables), err)
	}
	back := parsed[struct{ Tables []tables.Table }](t, c.do("POST", path, out.body))
	if len(back.Tables) != 4 || back.Tables[0].Columns[0] != "Zone" {
		t.Errorf("read back as %+v", back.Tables)
	}
	bad := c.do("POST", path, "zone,label")
	if bad.status != http.StatusBadRequest || !strings.Contains(bad.body, "not a spreadsheet") {
		t.Errorf("no spreadsheet: %d %s", bad.status, bad.body)
	}
	var merged bytes.Buffer
	if err := sheets.WriteXLSX(&merged, tables.Table{Name: "zones", Columns: []string{"zone"}, Rows: [][]string{{"=1+1"}}}); err != nil {
		t.Fatal(err)
	}
	if got := parsed[struct{ Tables []tables.Table }](t, c.do("POST", path, merged.String())); got.Tables[0].Rows[0][0] != "=1+1" {
		t.Errorf("a text that looks like a formula: %+v", got)
	}
}
