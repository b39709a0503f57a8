package server

import (
	"net/http"
	"os"
	"strings"
	"testing"

	"proofbell/internal/drawing"
	"proofbell/panel"
)

func TestProfiles(t *testing.T) {
	c := serve(t)
	job := "/api/jobs/" + string(c.open())
	raw, err := os.ReadFile("../../panel/testdata/wicket.yaml")
	if err != nil {
		t.Fatal(err)
	}
	type answer struct {
		Profile panel.Profile
		Report  panel.Report
		Drawing drawing.Dialogue
	}
	got := parsed[answer](t, c.do("POST", job+"/profile", string(raw)))
	if got.Profile.Name != "wicket" || got.Report.Title != "Wicket" || len(got.Drawing.Boxes) != len(got.Profile.Dialogue.Nodes) {
		t.Errorf("read as %+v", got.Report)
	}
	bad := c.do("POST", job+"/profile?lang=de", strings.Replace(string(raw), "width: 3", "width: 2", 1))
	type refusal struct {
		Faults []struct {
			Line int
			Say  string
		}
	}
	if no := parsed[refusal](t, bad); bad.status != http.StatusOK || len(no.Faults) != 1 || no.Faults[0].Line == 0 || !strings.Contains(no.Faults[0].Say, "passt nicht zu einem Meldecode") {
		t.Errorf("%d %s", bad.status, bad.body)
	}
	if got := parsed[answer](t, c.do("GET", job+"/profiles/branch?lang=de", "")); got.Report.Asks != "Menüs untereinander" {
		t.Errorf("branch is %+v", got.Report)
	}
	for path, want := range map[string]int{job + "/profiles/attic": http.StatusNotFound, "/api/jobs/none/profiles/ladder": http.StatusNotFound} {
		if got := c.do("GET", path, ""); got.status != want {
			t.Errorf("%s: %d, want %d", path, got.status, want)
		}
	}
}
