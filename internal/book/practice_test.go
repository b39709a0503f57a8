package book

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"proofbell/evidence"
)

const given = `{"format":"proofbell.site/1","practice":true,"planted":{"seed":7,"level":1,"source":"x","on":"2026-09-15"},"name":"Mill"}`

func (w *writer) practice(b PracticeBody) evidence.Entry {
	w.t.Helper()
	return w.order(w.content(evidence.KindPractice, "lena", w.seq(), b, nil))
}

func TestPractice(t *testing.T) {
	w := newWriter(t)
	w.edit("phone", given)
	first := w.practice(PracticeBody{Act: PracticeNamed, Kind: "zone", ID: "14", What: "bypass"})
	w.practice(PracticeBody{Act: PracticeNamed, Kind: "setting", ID: "exitDelay", What: "time"})
	w.edit("phone", `{"name":"Another"}`)
	before := w.fold()
	w.practice(PracticeBody{Act: PracticeWithdrawn, Of: first.ID})
	w.practice(PracticeBody{Act: PracticeRehearsed, Keys: 40, Slips: 2, Seconds: 61, Zones: 3, Right: 3})
	if s := w.fold(); !s.Hides() || len(before.Practice.Named) != 2 || len(s.Practice.Named) != 1 || s.Practice.Named[0].ID != "exitDelay" || len(s.Practice.Rehearsed) != 1 || s.Practice.Given.Name != "Mill" {
		t.Errorf("%+v", s.Practice)
	}
	w.practice(PracticeBody{Act: PracticeHanded, Key: []string{"a", "b"}})
	s := w.fold()
	if s.Hides() || s.Practice.Handed != noon || s.Practice.By != "lena" || !reflect.DeepEqual(s.Practice.Key, []string{"a", "b"}) || len(s.Troubles) != 0 {
		t.Errorf("handed in: %+v, %v", s.Practice, s.Troubles)
	}
	w.practice(PracticeBody{Act: PracticeNamed, Kind: "zone", ID: "15", What: "tone"})
	if late := w.fold(); len(late.Troubles) != 1 || !reflect.DeepEqual(late.Practice, s.Practice) {
		t.Errorf("after it was handed in: %+v, %v", late.Practice, late.Troubles)
	}
}

// Findings are hidden in a job that began as practice and still is: in no other, whatever an edit says.
func TestWhatHides(t *testing.T) {
	for name, c := range map[string]struct {
		edits    []string
		hides    bool
		troubles int
	}{
		"practice":                         {[]string{given}, true, 0},
		"a job in earnest":                 {[]string{`{"name":"Mill"}`, `{"planted":{"seed":1}}`}, false, 1},
		"and practice said with it":        {[]string{`{"name":"Mill"}`, `{"practice":true,"planted":{"seed":1}}`}, false, 1},
		"planted, and no practice":         {[]string{`{"name":"Mill","planted":{"seed":1}}`, `{"practice":true}`}, false, 0},
		"practice that became earnest":     {[]string{given, `{"practice":null}`}, false, 0},
		"what was planted was taken out":   {[]string{given, `{"planted":null}`}, false, 0},
		"taken out and brought back":       {[]string{given, `{"planted":null}`, `{"planted":{"seed":7}}`}, true, 0},
		"a part of it, in a job under way": {[]string{`{"name":"Mill","practice":true}`, `{"planted":{"on":"2026-09-15"}}`}, false, 1},
	} {
		w := newWriter(t)
		for _, patch := range c.edits {
			w.edit("phone", patch)
		}
		if s := w.fold(); s.Hides() != c.hides || len(s.Troubles) != c.troubles {
			t.Errorf("%s: hides %v, troubles %v", name, s.Hides(), s.Troubles)
		}
	}
	w := newWriter(t)
	w.edit("phone", `{"name":"Mill"}`)
	w.practice(PracticeBody{Act: PracticeHanded, Key: []string{"a"}})
	if s := w.fold(); len(s.Troubles) != 1 || s.Practice.Given != nil {
		t.Errorf("practice in a job without: %+v", s.Practice)
	}
}

func TestPracticeBodies(t *testing.T) {
	for _, c := range []struct {
		kind evidence.Kind
		base int64
		body string
		want string // part of the error; "" for none
	}{
		{"practice", 1, `{"act":"named","kind":"zone","id":"14","what":"bypass"}`, ""},
		{"practice", 1, `{"act":"named","kind":"zone","id":"14"}`, "needs kind, id and what"},
		{"practice", 1, `{"act":"named","kind":"zone","id":"` + strings.Repeat("1", 201) + `","what":"bypass"}`, "longer"},
		{"practice", 1, `{"act":"withdrawn"}`, "of"},
		{"practice", 1, `{"act":"rehearsed","keys":-1}`, "negative"},
		{"practice", 1, `{"act":"handed"}`, "no key"},
		{"practice", 1, `{"act":"marked"}`, "want named"},
		{"practice", 1, `{"act":"handed","key":["a"],"marks":3}`, "marks"},
		{"practice", 1, `[]`, "cannot unmarshal"},
		{"edit", 0, `{"patch":` + given + `}`, ""},
		{"edit", 1, `{"patch":` + given + `}`, "begins with them"},
		{"edit", 0, `{"patch":{"planted":{"seed":1}}}`, "begins with them"},
		{"edit", 1, `{"patch":{"planted":null}}`, ""},
	} {
		err := Check(evidence.Content{Kind: c.kind, Base: c.base, Body: json.RawMessage(c.body)})
		if (c.want == "") != (err == nil) || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s %s: %v, want %q", c.kind, c.body, err, c.want)
		}
	}
}
