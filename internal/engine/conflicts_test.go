package engine

import (
	"encoding/base64"
	"encoding/json"
	"testing"

	"proofbell/demo"
	"proofbell/evidence"
	"proofbell/internal/book"
)

// Two people changed zone 09 without seeing each other: the header holds both values in the words of the trade, who wrote
// each and when, and the patch that goes back.
func TestConflictsInWords(t *testing.T) {
	j := newJob(t, demo.Corrected)
	patch := func(raw, from string) book.EditBody {
		return book.EditBody{Patch: json.RawMessage(raw), From: from}
	}
	first := j.Add(evidence.KindEdit, patch(`{"zones":{"09":{"label":"HALL SMOKE","kind":"water"}},"rooms":{"g1":{"name":"Hall"}}}`, "device-1"), nil)
	late := j.Content(evidence.KindEdit, patch(`{"zones":{"09":{"label":"STAIR SMOKE","kind":"medical"}}}`, "device-2"), nil)
	late.Base = first.Seq - 1 // written before the other edit was seen
	entry, err := evidence.Append(&j.Entries[len(j.Entries)-1], late, j.At)
	j.Must(err)
	j.Entries = append(j.Entries, entry)

	e := New()
	if _, problem := ask(t, e, "job.load", map[string]any{"job": j.Job, "key": base64.RawURLEncoding.EncodeToString(j.Key.Secret()), "entries": j.Entries}); problem != nil {
		t.Fatal(problem)
	}
	header := func(lang string) Header {
		t.Helper()
		raw, problem := ask(t, e, "job.header", map[string]any{"job": j.Job, "now": noon, "lang": lang})
		var h Header
		if problem != nil || json.Unmarshal(raw, &h) != nil {
			t.Fatal(problem)
		}
		return h
	}
	for lang, want := range map[string][2][3]string{
		"en": {{"Zone 09, kind", "Water", "Medical"}, {"Zone 09, label", "HALL SMOKE", "STAIR SMOKE"}},
		"de": {{"Zone 09, Art", "Wasser", "Medizinischer Notruf"}, {"Zone 09, Bezeichnung", "HALL SMOKE", "STAIR SMOKE"}},
	} {
		got := header(lang).Conflicts
		if len(got) != 2 {
			t.Fatalf("%s: %d conflicts: %+v", lang, len(got), got)
		}
		for i, c := range got {
			if said := [3]string{c.Where, c.Before, c.After}; said != want[i] {
				t.Errorf("%s: said %q, want %q", lang, said, want[i])
			}
			if c.BeforeBy == "" || c.BeforeAt == "" || c.By == "" || c.At == "" || c.BeforeAt == c.At {
				t.Errorf("%s: who and when are missing: %+v", lang, c)
			}
		}
	}
	back := header("en").Conflicts[1].Back
	if string(back) != `{"zones":{"09":{"label":"HALL SMOKE"}}}` {
		t.Errorf("the way back is %s", back)
	}
	// Going back at one place settles that place alone.
	j.Add(evidence.KindEdit, book.EditBody{Patch: back, From: "device-2"}, nil)
	if _, problem := ask(t, e, "job.append", map[string]any{"job": j.Job, "entries": j.Entries}); problem != nil {
		t.Fatal(problem)
	}
	if left := header("en").Conflicts; len(left) != 1 || left[0].Where != "Zone 09, kind" {
		t.Errorf("left over: %+v", left)
	}
}

func TestValuesInWords(t *testing.T) {
	d := NewDesk(book.New("x"), 0)
	for _, one := range []struct{ at, raw, want string }{
		{"/premises/payingGuests", `null`, "nothing"},
		{"/zones/09/bypass", `true`, "yes"},
		{"/zones/09/bypass", `false`, "no"},
		{"/zones/09/label", `"A \"B\" \u003c é"`, `A "B" < é`},
		{"/storeys/g/order", `12.5`, "12.5"},
		{"/zones/09/paths", `["ip","gsm"]`, "ip, gsm"},
		{"/rooms/hall/use", `"bedroom"`, "Bedroom"},
		{"/rooms/hall/name", `"bedroom"`, "bedroom"},
		{"/rooms/hall/outline", `[[0,0],[4,0]]`, "another shape"},
		{"/zones/09", `{"label":"HALL","kind":"heat"}`, "HALL, Heat"},
		{"/power", `{"standby":"24 h"}`, "several particulars"},
		{"/x", `{`, "{"},
	} {
		if got := d.valueWords(pointerKeys(one.at), []byte(one.raw)); got != one.want {
			t.Errorf("%s %s reads %q, want %q", one.at, one.raw, got, one.want)
		}
	}
}
