package book

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"proofbell/evidence"
	"proofbell/internal/prove"
	"proofbell/signal"
	"proofbell/site"
)

var noon = time.Date(2026, 9, 15, 12, 0, 0, 0, time.UTC)

// writer makes a book for tests: contents as clients seal them, entries as a server orders them.
type writer struct {
	t       testing.TB
	job     evidence.JobID
	key     *evidence.JobKey
	random  *bytes.Reader
	entries []evidence.Entry
}

type fataler interface {
	Helper()
	Fatal(...any)
}

func newWriter(t testing.TB) *writer {
	w := &writer{t: t, random: bytes.NewReader(bytes.Repeat([]byte("0123456789abcdefghijklmnopqrstuvwxyz ABCDEFGHIJKLMNOPQRSTUVWXYZ!"), 20000))}
	var err error
	w.job, err = evidence.NewJobID(noon, w.random)
	w.must(err)
	w.key, err = evidence.NewJobKey(w.random)
	w.must(err)
	return w
}

func (w *writer) must(err error) {
	w.t.Helper()
	if err != nil {
		w.t.Fatal(err)
	}
}

// content seals what somebody did who had seen the book up to base.
func (w *writer) content(kind evidence.Kind, by evidence.PersonID, base int64, body, private any) evidence.Content {
	w.t.Helper()
	id, err := evidence.DerivedEntryID(noon, fmt.Sprint(w.random.Len()))
	w.must(err)
	_, err = w.random.ReadByte()
	w.must(err)
	c, err := evidence.NewContent(w.job, id, noon, by, kind, base, body)
	w.must(err)
	if private != nil {
		c, err = evidence.SealPrivate(w.key, w.random, c, private)
		w.must(err)
	}
	return c
}

// order makes a content the next entry.
func (w *writer) order(c evidence.Content) evidence.Entry {
	w.t.Helper()
	var newest *evidence.Entry
	if n := len(w.entries); n > 0 {
		newest = &w.entries[n-1]
	}
	e, err := evidence.Append(newest, c, noon)
	w.must(err)
	w.entries = append(w.entries, e)
	return e
}

func (w *writer) seq() int64 { return int64(len(w.entries)) }

// edit is an edit from a device that has seen everything.
func (w *writer) edit(from, patch string) evidence.Entry {
	w.t.Helper()
	return w.late(w.seq(), from, patch)
}

func (w *writer) late(base int64, from, patch string) evidence.Entry {
	w.t.Helper()
	return w.order(w.content(evidence.KindEdit, "tamsin", base, EditBody{Patch: json.RawMessage(patch), From: from}, nil))
}

func (w *writer) undo(e evidence.Entry) evidence.Entry {
	w.t.Helper()
	return w.order(w.content(evidence.KindEdit, "tamsin", w.seq(), EditBody{Undo: e.ID, From: "phone"}, nil))
}

func (w *writer) fold() *State {
	s := New(w.job)
	s.Apply(WithKey(w.key), w.entries...)
	return s
}

func siteJSON(t fataler, s *State) string {
	t.Helper()
	raw, err := s.SiteJSON()
	if err != nil {
		t.Fatal(err)
	}
	return string(raw)
}

func TestUndo(t *testing.T) {
	for _, tt := range []struct {
		name                string
		before, edit, other string // other: by somebody else, after the edit; "" none
		want                string
	}{
		{"a value goes back", `{"name":"Mill"}`, `{"name":"Works"}`, "", `{"name":"Mill"}`},
		{"a new zone goes whole", `{"name":"Mill"}`, `{"zones":{"09":{"label":"HALL","paths":["ip"]}}}`, "", `{"name":"Mill"}`},
		{"a new zone goes, its neighbour stays", `{"zones":{"08":{"label":"DOOR"}}}`, `{"zones":{"09":{"label":"HALL"}}}`, "", `{"zones":{"08":{"label":"DOOR"}}}`},
		{"a deleted zone comes back whole", `{"zones":{"09":{"label":"HALL","area":"1"}}}`, `{"zones":{"09":null}}`, "", `{"zones":{"09":{"area":"1","label":"HALL"}}}`},
		{"what another changed since stays", `{"name":"Mill","format":"a"}`, `{"name":"Works","format":"b"}`, `{"name":"Farm"}`, `{"name":"Farm","format":"a"}`},
		{"a new zone that another filled stays", `{"name":"Mill"}`, `{"zones":{"09":{"label":"HALL"}}}`, `{"zones":{"09":{"area":"2"}}}`, `{"name":"Mill","zones":{"09":{"area":"2"}}}`},
		{"a member of what is gone does not come back", `{"zones":{"09":{"label":"HALL","area":"1"}}}`, `{"zones":{"09":{"area":null}}}`, `{"zones":{"09":null}}`, `{"zones":{}}`},
		{"to delete what was not there changes nothing", `{"zones":{"09":{"label":"HALL"}}}`, `{"zones":{"09":{"area":null}}}`, "", `{"zones":{"09":{"label":"HALL"}}}`},
	} {
		t.Run(tt.name, func(t *testing.T) {
			w := newWriter(t)
			w.edit("office", tt.before)
			e := w.edit("phone", tt.edit)
			if tt.other != "" {
				w.edit("office", tt.other)
			}
			back := w.undo(e)
			s := w.fold()
			if got, want := siteJSON(t, s), tt.want; !sameJSON(t, got, want) {
				t.Errorf("undone: %s, want %s", got, want)
			}
			if s.Undoable(e.ID) {
				t.Error("what was undone can be undone again")
			}
			if tt.other == "" {
				w.undo(back)
				if got, want := siteJSON(t, w.fold()), siteJSON(t, foldOf(w, 2)); got != want {
					t.Errorf("undo undone: %s, want %s", got, want)
				}
			}
		})
	}
}

func foldOf(w *writer, n int) *State {
	s := New(w.job)
	s.Apply(WithKey(w.key), w.entries[:n]...)
	return s
}

func sameJSON(t testing.TB, a, b string) bool {
	t.Helper()
	x, err := evidence.Canonical([]byte(a))
	y, err2 := evidence.Canonical([]byte(b))
	if err = errors.Join(err, err2); err != nil {
		t.Fatal(err)
	}
	return bytes.Equal(x, y)
}

const twoZones = `{"name":"Mill","zones":{"08":{"label":"DOOR"},"09":{"label":"HALL","area":"1"}}}`

func TestTwoWritersMeet(t *testing.T) {
	for _, tt := range []struct {
		name          string
		first, second string // both written over the same book
		want          string
		conflicts     []string // path before after held
	}{
		{"two fields: both", `{"zones":{"08":{"label":"GATE"}}}`, `{"zones":{"09":{"label":"LOFT"}}}`, `{"zones":{"08":{"label":"GATE"},"09":{"label":"LOFT"}}}`, nil},
		{
			"one field: the later stands, both values are kept", `{"zones":{"08":{"label":"GATE"}}}`, `{"zones":{"08":{"label":"YARD"}}}`, `{"zones":{"08":{"label":"YARD"}}}`,
			[]string{`/zones/08/label "GATE" "YARD" false`},
		},
		{"one field, the same value: no conflict", `{"zones":{"08":{"label":"GATE"}}}`, `{"zones":{"08":{"label":"GATE"}}}`, `{"zones":{"08":{"label":"GATE"}}}`, nil},
		{"into what was deleted: held", `{"zones":{"08":null}}`, `{"zones":{"08":{"label":"YARD"}}}`, `{"zones":{"08":null}}`, []string{`/zones/08/label null "YARD" true`}},
		{"delete a member of what was deleted: nothing, and nobody is asked", `{"zones":{"09":null}}`, `{"zones":{"09":{"area":null}}}`, `{"zones":{"09":null}}`, nil},
		{
			"delete what was changed inside: gone, and both are kept", `{"zones":{"08":{"label":"GATE"}}}`, `{"zones":{"08":null}}`, `{"zones":{"08":null}}`,
			[]string{`/zones/08 {"label":"GATE"} null false`},
		},
		{"delete twice: no conflict", `{"zones":{"08":null}}`, `{"zones":{"08":null}}`, `{"zones":{"08":null}}`, nil},
		{
			"a part is held, the rest applied", `{"zones":{"08":null}}`, `{"name":"Works","zones":{"08":{"label":"YARD"}}}`, `{"name":"Works","zones":{"08":null}}`,
			[]string{`/zones/08/label null "YARD" true`},
		},
	} {
		t.Run(tt.name, func(t *testing.T) {
			w := newWriter(t)
			w.edit("office", twoZones)
			w.late(1, "phone", tt.first)
			w.late(1, "tablet", tt.second)
			s := w.fold()
			want, err := site.Apply([]byte(twoZones), json.RawMessage(tt.want))
			if got := siteJSON(t, s); err != nil || !sameJSON(t, got, string(want)) {
				t.Errorf("site is %s, want %s (%v)", got, want, err)
			}
			var got []string
			for _, c := range s.Conflicts {
				got = append(got, fmt.Sprintf("%s %s %s %v", c.Path, c.Before, c.After, c.Held))
			}
			if strings.Join(got, "\n") != strings.Join(tt.conflicts, "\n") {
				t.Errorf("conflicts:\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(tt.conflicts, "\n"))
			}
		})
	}
}

// A conflict is there until somebody who can have seen it decides: by an edit of the place, or by accepting it.
func TestWhoHasSeenAConflictSettlesIt(t *testing.T) {
	begin := func(t *testing.T) *writer {
		w := newWriter(t)
		w.edit("office", twoZones)
		w.late(1, "phone", `{"zones":{"08":{"label":"GATE"}}}`)
		w.late(1, "tablet", `{"zones":{"08":{"label":"YARD"}}}`)
		return w
	}
	for _, tt := range []struct {
		name string
		act  func(*writer)
		left int
	}{
		{"the loser's own next edit, written without having seen it", func(w *writer) { w.late(1, "tablet", `{"zones":{"08":{"label":"YARD 2"}}}`) }, 1},
		{"an edit of the place", func(w *writer) { w.edit("phone", `{"zones":{"08":{"label":"GATE"}}}`) }, 0},
		{"an edit of another place", func(w *writer) { w.edit("phone", `{"zones":{"09":{"label":"GATE"}}}`) }, 1},
		{"deleting what it is a part of", func(w *writer) { w.edit("phone", `{"zones":{"08":null}}`) }, 0},
		{"accepting it", func(w *writer) {
			w.order(w.content(evidence.KindAccept, "tamsin", 3, AcceptBody{Key: w.fold().Conflicts[0].Key, Reason: "kept"}, nil))
		}, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			w := begin(t)
			tt.act(w)
			if got := w.fold().Conflicts; len(got) != tt.left {
				t.Errorf("%d conflicts are open, want %d: %+v", len(got), tt.left, got)
			}
		})
	}
}

// words of patches and sites that the properties below are tried on.
func patches() *rapid.Generator[map[string]any] {
	return rapid.Custom(func(t *rapid.T) map[string]any {
		out := map[string]any{}
		for _, zone := range rapid.SliceOfN(rapid.SampledFrom([]string{"08", "09", "10"}), 0, 2).Draw(t, "zones") {
			member := rapid.SampledFrom([]any{
				nil,
				map[string]any{},
				map[string]any{"label": "A"},
				map[string]any{"label": "B", "area": nil},
				map[string]any{"area": "1"},
				map[string]any{"paths": []any{"ip"}},
				map[string]any{"label": nil, "paths": nil},
			}).Draw(t, "zone")
			zones, ok := out["zones"].(map[string]any)
			if !ok {
				zones = map[string]any{}
				out["zones"] = zones
			}
			zones[zone] = member
		}
		switch rapid.IntRange(0, 6).Draw(t, "more") {
		case 0:
			out["name"] = rapid.SampledFrom([]any{"Mill", "Works", nil}).Draw(t, "name")
		case 1:
			out["zones"] = nil
		case 2:
			out["premises"] = map[string]any{"north": json.Number(rapid.SampledFrom([]string{"0", "12.5"}).Draw(t, "north")), "country": nil}
		}
		return out
	})
}

func draw(t *rapid.T) string {
	raw, err := json.Marshal(patches().Draw(t, "patch"))
	if err != nil {
		t.Fatal(err)
	}
	return string(raw)
}

// Judge: site.Apply, which is RFC 7396 written apart from this package.
func TestWithoutConflictsAnEditIsAMergePatch(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		w := newWriter(t)
		want := []byte(`{}`)
		for range rapid.IntRange(1, 8).Draw(rt, "edits") {
			patch := draw(rt)
			w.edit(rapid.SampledFrom([]string{"phone", "office"}).Draw(rt, "from"), patch)
			var err error
			if want, err = site.Apply(want, json.RawMessage(patch)); err != nil {
				rt.Fatal(err)
			}
		}
		s := w.fold()
		if got := siteJSON(rt, s); !sameJSON(t, got, string(want)) {
			rt.Fatalf("got %s, want %s", got, want)
		}
		var typed site.Site
		if err := json.Unmarshal(want, &typed); err != nil {
			rt.Fatal(err)
		}
		a, _ := json.Marshal(s.Site)
		b, _ := json.Marshal(typed)
		if !bytes.Equal(a, b) {
			rt.Fatalf("the typed site is %s, want %s", a, b)
		}
		if len(s.Conflicts) > 0 {
			rt.Fatalf("conflicts though everybody had seen everything: %+v", s.Conflicts)
		}
	})
}

// An edit that is undone with nothing in between leaves no trace, and undone again stands again.
func TestUndoLeavesNoTrace(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		w := newWriter(t)
		for range rapid.IntRange(1, 4).Draw(rt, "edits") {
			w.edit("phone", draw(rt))
		}
		before := siteJSON(rt, w.fold())
		e := w.edit("phone", draw(rt))
		with := siteJSON(rt, w.fold())
		back := w.undo(e)
		if got := siteJSON(rt, w.fold()); got != before {
			rt.Fatalf("undone: %s, was %s", got, before)
		}
		w.undo(back)
		if got := siteJSON(rt, w.fold()); got != with {
			rt.Fatalf("undo undone: %s, was %s", got, with)
		}
	})
}

// A book of any edits, undos and late edits: folding it at once, entry by entry, and over clones gives the same; what lay
// over the book from an outbox is what the server makes of it.
func TestFoldIsDeterministicAndAnOverlayIsWhatComes(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		w := newWriter(t)
		n := rapid.IntRange(1, 12).Draw(rt, "entries")
		for range n {
			base := rapid.Int64Range(0, w.seq()).Draw(rt, "base")
			body := EditBody{From: rapid.SampledFrom([]string{"phone", "office", ""}).Draw(rt, "from")}
			if w.seq() > 0 && rapid.Bool().Draw(rt, "undo") {
				body.Undo = w.entries[rapid.IntRange(0, len(w.entries)-1).Draw(rt, "which")].ID
			} else {
				body.Patch = json.RawMessage(draw(rt))
			}
			w.order(w.content(evidence.KindEdit, "tamsin", base, body, nil))
		}
		whole := w.fold()
		single := New(w.job)
		var clones []*State
		var looked []string
		for _, e := range w.entries {
			clones = append(clones, single.Clone())
			looked = append(looked, siteJSON(rt, single))
			single.Apply(WithKey(w.key), e)
		}
		if a, b := dump(rt, whole), dump(rt, single); a != b {
			rt.Fatalf("at once:\n%s\none by one:\n%s", a, b)
		}
		for i, c := range clones {
			if siteJSON(rt, c) != looked[i] {
				rt.Fatalf("the state before entry %d was changed through its clone", i+1)
			}
		}
		split := rapid.IntRange(0, n).Draw(rt, "split")
		over := foldOf(w, split)
		for _, e := range w.entries[split:] { // an outbox: its bases lie within the book
			if e.Base > int64(split) {
				return
			}
		}
		var outbox []evidence.Content
		for _, e := range w.entries[split:] {
			outbox = append(outbox, e.Content)
		}
		under := over.Clone()
		over.Lay(WithKey(w.key), outbox...)
		if a, b := siteJSON(rt, over), siteJSON(rt, whole); a != b {
			rt.Fatalf("overlay %s, ordered %s", a, b)
		}
		if a, b := len(over.Conflicts), len(whole.Conflicts); a != b {
			rt.Fatalf("overlay has %d conflicts, ordered %d", a, b)
		}
		over.Lay(WithKey(w.key), outbox...) // known: changes nothing
		under.Apply(WithKey(w.key), w.entries...)
		if a, b := dump(rt, under), dump(rt, whole); a != b {
			rt.Fatalf("after the overlay was dropped:\n%s\nwant\n%s", a, b)
		}
	})
}

// dump shows all that a state holds.
func dump(t fataler, s *State) string {
	t.Helper()
	var b strings.Builder
	fmt.Fprintln(&b, s.Seq, s.Head, siteJSON(t, s))
	typed, err := json.Marshal(s.Site)
	if err != nil {
		t.Fatal(err)
	}
	fmt.Fprintf(&b, "%s\n%+v\n%+v\n%+v\n", typed, s.Conflicts, s.Log, s.Troubles)
	for _, e := range s.Log {
		fmt.Fprint(&b, s.Undoable(e.ID), " ")
	}
	return b.String()
}

func TestWhatCanNotBeUsedIsKeptWithItsReason(t *testing.T) {
	w := newWriter(t)
	w.edit("office", `{"name":"Mill"}`)
	w.edit("office", `{"zones":"many"}`)
	w.order(w.content("dance", "tamsin", 2, map[string]any{"how": "well"}, nil))
	w.order(w.content(evidence.KindTick, "tamsin", 3, prove.TickBody{Step: "x", What: prove.Tripped}, nil))
	s := w.fold()
	if siteJSON(t, s) != `{"name":"Mill"}` || len(s.Log) != 4 || len(s.Troubles) != 2 {
		t.Errorf("site %s, %d lines, troubles %+v", siteJSON(t, s), len(s.Log), s.Troubles)
	}
	if !strings.Contains(s.Log[2].Say.String(), "does not know") {
		t.Errorf("an unknown kind reads %q", s.Log[2].Say)
	}
}

func TestAnErasedJobFoldsWithoutPersonalData(t *testing.T) {
	w := newWriter(t)
	w.order(w.content(evidence.KindEdit, "tamsin", 0, EditBody{Patch: json.RawMessage(`{"name":"Mill","account":{"number":"4816"}}`)},
		EditPrivate{Patch: json.RawMessage(`{"people":{"a":{"name":"Ann Ferrymann"}}}`)}))
	w.order(w.content(evidence.KindNote, "tamsin", 1, NoteBody{About: "zone 09"}, NotePrivate{Text: "Ann is at home on Tuesdays"}))
	open := w.order(w.content(evidence.KindRun, "tamsin", 2, prove.RunBody{Act: prove.RunOpened, Account: "4816"}, nil))
	for _, step := range onTest("4816", noon.Add(time.Hour)) {
		w.order(w.content(evidence.KindOnTest, "tamsin", w.seq(), step.body, step.private))
	}
	s := w.fold()
	if s.Site.People["a"].Name != "Ann Ferrymann" || !strings.Contains(s.Log[1].Say.String(), "Tuesdays") || s.Runs[0].Window.Stage != prove.WindowOpen || len(s.Troubles) > 0 {
		t.Fatalf("with its key the job does not read as it was written: %+v", s.Troubles)
	}
	gone := New(w.job)
	gone.Apply(WithKey(nil), w.entries...)
	if text := dump(t, gone) + fmt.Sprintf("%+v %+v", gone.Notes, gone.Runs[0]); strings.Contains(text, "Ann") || strings.Contains(text, "Brede") {
		t.Errorf("personal data is still there: %s", text)
	}
	if gone.Site.Account.Number != "4816" || len(gone.Troubles) > 0 || gone.Runs[0].ID != prove.RunID(open.ID) || gone.Runs[0].Window.Stage != prove.WindowOpen {
		t.Errorf("what is not personal went too: %+v, window %s", gone.Troubles, gone.Runs[0].Window.Stage)
	}
}

type said struct{ body, private any }

// onTest is the call that puts an account on test.
func onTest(account string, until time.Time) []said {
	families := []string{"fire", "trouble"}
	return []said{
		{prove.OnTestBody{WindowEvent: prove.WindowEvent{Act: prove.ActCall, Account: account, Families: families}}, nil},
		{prove.OnTestBody{WindowEvent: prove.WindowEvent{Act: prove.ActAccountRead, Account: account, Address: true}}, nil},
		{prove.OnTestBody{WindowEvent: prove.WindowEvent{Act: prove.ActOpen, Families: families, Until: until}}, prove.Private{Operator: "Brede"}},
	}
}

func TestSplitPatch(t *testing.T) {
	open, private, err := SplitPatch(json.RawMessage(`{"name":"Mill","people":{"a":{"name":"Ann"}},"premises":{"address":"3 Weir Lane","country":"XX"},"contacts":null}`))
	if err != nil {
		t.Fatal(err)
	}
	if string(open) != `{"name":"Mill","premises":{"country":"XX"}}` || string(private) != `{"contacts":null,"people":{"a":{"name":"Ann"}},"premises":{"address":"3 Weir Lane"}}` {
		t.Errorf("open %s, private %s", open, private)
	}
	if open, private, err = SplitPatch(json.RawMessage(`{"premises":{"notes":"ring twice"}}`)); err != nil || open != nil || string(private) != `{"premises":{"notes":"ring twice"}}` {
		t.Errorf("wholly personal: open %s, private %s, %v", open, private, err)
	}
}

func TestCheck(t *testing.T) {
	w := newWriter(t)
	for _, tt := range []struct {
		kind evidence.Kind
		body string
		bad  string // "" good
	}{
		{evidence.KindEdit, `{"patch":{"name":"Mill","zones":{"09":null}}}`, ""},
		{evidence.KindEdit, `{"patch":{"zones":{"09":{"colour":"red"}}}}`, "colour"},
		{evidence.KindEdit, `{"patch":{"zones":["09"]}}`, "zones"},
		{evidence.KindEdit, `{"patch":{"people":{"a":{"name":"Ann"}}}}`, "personal"},
		{evidence.KindEdit, `{"patch":{"premises":{"address":"3 Weir Lane"}}}`, "personal"},
		{evidence.KindEdit, `{"patch":null}`, "object"},
		{evidence.KindEdit, `{"patsch":{}}`, "patsch"},
		{evidence.KindEdit, `{"private":"v1:x"}`, ""},
		{evidence.KindSignal, `{}`, "receiver"},
		{evidence.KindKey, `{"act":"erased"}`, "server"},
		{evidence.KindNote, `{"about":7}`, "about"},
		{evidence.KindTick, `{"step":"z09","what":"tripped"}`, ""},
		{evidence.KindIssued, `{"what":"zone-list"}`, "server"},
		{evidence.KindSign, `{"what":"commissioning","as":"owner","private":"v1:x"}`, ""},
		{evidence.KindSign, `{"what":"commissioning","as":"neighbour"}`, "owner"},
		{"dance", `{"how":"well"}`, ""},
	} {
		err := Check(w.content(tt.kind, "tamsin", 0, json.RawMessage(tt.body), nil))
		if (err == nil) != (tt.bad == "") || err != nil && !strings.Contains(err.Error(), tt.bad) {
			t.Errorf("%s %s: %v, want %q", tt.kind, tt.body, err, tt.bad)
		}
	}
}

func FuzzApply(f *testing.F) {
	for _, seed := range []string{`{"patch":{"zones":{"09":null}}}`, `{"patch":{"name":"x"},"undo":"y"}`, `{"act":"opened"}`, `{"what":"tripped"}`, `{"text":1}`, twoZones} {
		for _, kind := range []string{"edit", "run", "ontest", "signal", "tick", "readback", "putback", "note", "key", "sign"} {
			f.Add(kind, seed)
		}
	}
	w := newWriter(f)
	w.edit("office", twoZones)
	f.Fuzz(func(t *testing.T, kind, body string) {
		id, err := evidence.DerivedEntryID(noon, kind+body)
		if err != nil {
			t.Skip()
		}
		c, err := evidence.NewContent(w.job, id, noon, "tamsin", evidence.Kind(kind), 0, json.RawMessage(body))
		if err != nil {
			t.Skip()
		}
		_ = Check(c)
		s := w.fold()
		before := siteJSON(t, s)
		clone := s.Clone()
		clone.Lay(WithKey(w.key), c)
		e, err := evidence.Append(&w.entries[0], c, noon)
		if err != nil {
			t.Skip()
		}
		s.Apply(WithKey(w.key), e)
		if siteJSON(t, s) != siteJSON(t, clone) || siteJSON(t, w.fold()) != before || len(s.Log) != 2 {
			t.Errorf("ordered %s, laid over %s", siteJSON(t, s), siteJSON(t, clone))
		}
	})
}

// bigSite is a site with so many devices, each on a zone.
func bigSite(devices int) string {
	var b strings.Builder
	b.WriteString(`{"name":"Mill","devices":{`)
	for i := range devices {
		fmt.Fprintf(&b, `%s"d%d":{"model":"m","room":"G1","identity":"%07d"}`, comma(i), i, i)
	}
	b.WriteString(`},"zones":{`)
	for i := range devices {
		fmt.Fprintf(&b, `%s"%d":{"label":"ZONE %d","device":"d%d","kind":"smoke","code":"110"}`, comma(i), i, i, i)
	}
	b.WriteString(`}}`)
	return b.String()
}

func comma(i int) string {
	if i == 0 {
		return ""
	}
	return ","
}

// One more edit or signal costs the same however long the book is. Run with -bench; time per entry must not grow.
func BenchmarkFold(b *testing.B) {
	for _, n := range []int{1000, 5000, 20000} {
		b.Run(fmt.Sprint(n, " signals"), func(b *testing.B) {
			w := newWriter(b)
			w.edit("office", bigSite(5000))
			run := w.order(w.content(evidence.KindRun, "tamsin", 1, prove.RunBody{Act: prove.RunOpened, Account: "4816"}, nil))
			for i := range n {
				w.order(w.content(evidence.KindSignal, "receiver", 2, prove.SignalBody{
					Run: prove.RunID(run.ID), Receiver: "r", Row: int64(i),
					Event: signal.Event{Account: "4816", Code: "110", Qualifier: signal.New, Number: i}, Received: noon, Acknowledged: true,
				}, nil))
			}
			for b.Loop() {
				w.fold()
			}
			b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N*n), "us/signal")
		})
		b.Run(fmt.Sprint(n/10, " edits"), func(b *testing.B) {
			w := newWriter(b)
			w.edit("office", bigSite(5000))
			for i := range n / 10 {
				w.edit("phone", fmt.Sprintf(`{"zones":{"%d":{"label":"LABEL %d"}}}`, i%5000, i))
			}
			for b.Loop() {
				w.fold()
			}
			b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N*n/10), "us/edit")
		})
	}
}
