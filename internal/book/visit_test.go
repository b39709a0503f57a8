package book

import (
	"encoding/json"
	"strings"
	"testing"

	"proofbell/evidence"
	"proofbell/site"
)

func (w *writer) visit(b VisitBody, text string) evidence.Entry {
	w.t.Helper()
	var private any
	if text != "" {
		private = VisitPrivate{Text: text}
	}
	return w.order(w.content(evidence.KindVisit, "tamsin", w.seq(), b, private))
}

func TestVisit(t *testing.T) {
	w := newWriter(t)
	w.edit("phone", `{"format":"proofbell.site/1"}`)
	w.visit(VisitBody{Act: VisitFound, Severity: "fix"}, "before any visit")
	opened := w.visit(VisitBody{Act: VisitOpened, Reason: "call-out", Symptom: "tamper-stays", About: "/devices/hall"}, "")
	w.visit(VisitBody{Act: VisitOpened, Reason: "planned"}, "")
	loose := w.visit(VisitBody{Act: VisitFound, Severity: "fix", About: "/devices/hall"}, "cover spring bent")
	w.visit(VisitBody{Act: VisitFound, Severity: "advise"}, "goods under the ceiling")
	w.visit(VisitBody{Act: VisitMended, Found: loose.ID}, "new spring")
	w.visit(VisitBody{Act: VisitDid, What: "contacts"}, "")
	next, err := site.ParseDate("2027-03")
	w.must(err)
	w.visit(VisitBody{Act: VisitClosed, Next: next}, "runs again")
	w.visit(VisitBody{Act: VisitClosed}, "")
	w.visit(VisitBody{Act: VisitDid, What: "listener.bridge"}, "")

	s := w.fold()
	if len(s.Visits) != 1 || s.OpenVisit() != nil {
		t.Fatalf("visits: %+v, open %v", s.Visits, s.OpenVisit())
	}
	if v := s.Visits[0]; v.ID != opened.ID || v.Reason != "call-out" || v.Symptom != "tamper-stays" || v.Text != "runs again" || v.Next.String() != "2027-03" || v.Closed.IsZero() {
		t.Errorf("visit: %+v", v)
	}
	if len(s.FoundBy(opened.ID)) != 2 || s.Found[0].MendedText != "new spring" || !s.Found[1].Mended.IsZero() {
		t.Errorf("found: %+v", s.Found)
	}
	if len(s.Did) != 2 || s.Did[0].Visit != opened.ID || s.Did[1].Visit != "" {
		t.Errorf("did: %+v", s.Did)
	}
	if len(s.Troubles) != 3 { // found without a visit, a second one opened, the closed one closed again
		t.Errorf("troubles: %+v", s.Troubles)
	}
	if strings.Contains(string(loose.Body), "spring") {
		t.Error("what a visit found stands in the clear")
	}
}

func TestVisitBodies(t *testing.T) {
	for body, want := range map[string]string{
		`{"act":"opened","reason":"planned"}`:              "",
		`{"act":"opened","reason":"party"}`:                "reason",
		`{"act":"opened","reason":"planned","colour":"x"}`: "colour",
		`{"act":"found","severity":"grave"}`:               "severity",
		`{"act":"found","severity":"stop"}`:                "",
		`{"act":"mended"}`:                                 "found",
		`{"act":"did"}`:                                    "what",
		`{"act":"closed","next":"2027-02-30"}`:             "calendar",
		`{"act":"an act of 2031"}`:                         "",
	} {
		err := Check(evidence.Content{Kind: evidence.KindVisit, Body: json.RawMessage(body)})
		if (err == nil) != (want == "") {
			t.Errorf("%s: %v", body, err)
		}
	}
}
