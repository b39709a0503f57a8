package book

import (
	"encoding/json"
	"maps"
	"reflect"
	"strings"
	"testing"

	"proofbell/evidence"
	"proofbell/panel"
	"proofbell/site"
)

type slots = map[panel.Field]string

func (w *writer) readout(b ReadoutBody) evidence.Entry {
	w.t.Helper()
	return w.order(w.content(evidence.KindReadout, "tamsin", w.seq(), b, nil))
}

func (w *writer) keying(b KeyingBody) evidence.Entry {
	w.t.Helper()
	return w.order(w.content(evidence.KindKeying, "piet", w.seq(), b, nil))
}

func TestWhatThePanelHolds(t *testing.T) {
	w := newWriter(t)
	w.edit("phone", `{"format":"proofbell.site/1","panel":{"profile":"ladder"}}`)
	w.readout(ReadoutBody{Panel: "ladder", Via: ViaRead, Zones: ZoneTable{"09": {"kind": "L"}}})
	second := w.readout(ReadoutBody{Panel: "ladder", Via: ViaRead, Zones: ZoneTable{"11": {"kind": "S"}, "12": {}}})
	w.keying(KeyingBody{Act: KeyingBegun})
	w.keying(KeyingBody{Act: KeyingLost, Zone: "09", Card: 3, Shown: "AS WHAT?"})
	w.keying(KeyingBody{Act: KeyingKept, Zone: "09", Slots: slots{"kind": "S"}, Ms: []int{900, 4100}})
	s := w.fold()
	if want := (ZoneTable{"09": {"kind": "S"}, "11": {"kind": "S"}, "12": {}}); !reflect.DeepEqual(s.Panel.Held, want) {
		t.Errorf("held %v", s.Panel.Held)
	}
	if f := s.Panel.Found; len(f) != 1 || f[0].Entry != second.ID || !reflect.DeepEqual(f[0].Zones, ZoneTable{"09": {"kind": "L"}, "11": {"kind": "S"}, "12": {}}) || len(f[0].Read) != 3 {
		t.Errorf("found %+v", f)
	}
	if work := s.Panel.Work; len(work) != 1 || work[0].Zone != "09" || work[0].By != "piet" || work[0].Took.Milliseconds() != 4100 || s.Panel.Lost != 1 {
		t.Errorf("work %+v, lost %d", work, s.Panel.Lost)
	}
	if s.Panel.Checked("09") || !s.Panel.Checked("11") {
		t.Error("a keyed zone counts as read back, or one that was read out does not")
	}
	if _, known := s.Panel.Holds("13"); known {
		t.Error("zone 13 was never read")
	}

	// Read back well, it counts as seen; a table from a file says all of it, and what was found before stays.
	w.keying(KeyingBody{Act: KeyingChecked, Zone: "09", Good: true})
	w.keying(KeyingBody{Act: KeyingLeft})
	before := w.fold()
	w.readout(ReadoutBody{Panel: "ladder", Via: ViaFile, Whole: true, Zones: ZoneTable{"01": {"kind": "D1"}}})
	w.keying(KeyingBody{Act: KeyingKept, Panel: "ladder", Zone: "02", Slots: slots{"kind": "D2"}})
	w.keying(KeyingBody{Act: KeyingChecked, Zone: "02"})
	s = w.fold()
	if !before.Panel.Checked("09") || !before.Panel.Work[0].Checked {
		t.Error("zone 09 was read back")
	}
	if empty, known := s.Panel.Holds("09"); !known || len(empty) != 0 {
		t.Errorf("after a whole table zone 09 is empty, not %v (%v)", empty, known)
	}
	if _, known := s.Panel.Holds("02"); known || !s.Panel.Work[1].Bad {
		t.Error("what stands in a zone that was read back wrong is not known")
	}
	if len(s.Panel.Found) != 2 || !maps.Equal(s.Panel.Found[1].Zones["01"], slots{"kind": "D1"}) || len(before.Panel.Held) != 3 {
		t.Errorf("found %+v, before %v", s.Panel.Found, before.Panel.Held)
	}

	// Another panel on the wall: nothing is known of it.
	w.readout(ReadoutBody{Panel: "branch", Via: ViaRead, Zones: ZoneTable{"05": {"kind": "HEAT"}}})
	s = w.fold()
	if _, known := s.Panel.Holds("01"); known || s.Panel.Profile != "branch" || len(s.Panel.Held) != 1 || len(s.Panel.Found) != 3 {
		t.Errorf("%+v", s.Panel)
	}
	if len(s.Troubles) != 0 {
		t.Errorf("troubles %+v", s.Troubles)
	}
	for _, line := range s.Log[1:] {
		if say := line.Say.String(); say == "" || strings.Contains(say, "%!") {
			t.Errorf("entry %d says %q", line.Seq, say)
		}
	}
}

// A state that was cloned is not changed by what comes after, and one entry at a time folds like all at once.
func TestPanelFoldsAlike(t *testing.T) {
	w := newWriter(t)
	w.edit("phone", `{"format":"proofbell.site/1","panel":{"profile":"ladder"}}`)
	step := New(w.job)
	var old []*State
	for i := range 30 {
		zone := site.ZoneID([]string{"01", "02", "03"}[i%3])
		switch i % 5 {
		case 0, 3:
			w.readout(ReadoutBody{Panel: "ladder", Via: ViaRead, Whole: i == 15, Zones: ZoneTable{zone: {"code": string(rune('1' + i%7))}}})
		case 1:
			w.keying(KeyingBody{Act: KeyingKept, Zone: zone, Slots: slots{"code": "9"}})
		default:
			w.keying(KeyingBody{Act: KeyingChecked, Zone: zone, Good: i%2 == 0})
		}
		old = append(old, step)
		step = step.Clone()
		step.Apply(WithKey(w.key), w.entries...)
	}
	if whole := w.fold(); !reflect.DeepEqual(whole.Panel, step.Panel) {
		t.Errorf("one by one %+v, at once %+v", step.Panel, whole.Panel)
	}
	for i, s := range old {
		again := New(w.job)
		again.Apply(WithKey(w.key), w.entries[:s.Seq]...)
		if !reflect.DeepEqual(s.Panel, again.Panel) {
			t.Fatalf("the state after %d entries was changed by later ones", i)
		}
	}
}

func TestPanelBodies(t *testing.T) {
	for _, c := range []struct {
		kind evidence.Kind
		body string
		want string // part of the error; "" for none
	}{
		{"readout", `{"panel":"ladder","via":"read","zones":{"09":{"kind":"S"}}}`, ""},
		{"readout", `{"panel":"ladder","via":"file","whole":true,"zones":{}}`, ""},
		{"readout", `{"panel":"ladder","via":"read","zones":{"09":{}}}`, ""},
		{"readout", `{"panel":"ladder","via":"read","zones":{}}`, "no zone"},
		{"readout", `{"via":"read","zones":{"09":{}}}`, "panel"},
		{"readout", `{"panel":"ladder","via":"ear","zones":{"09":{}}}`, "via"},
		{"readout", `{"panel":"ladder","via":"read","zones":{"nine":{}}}`, "number"},
		{"readout", `{"panel":"ladder","via":"read","zones":{"09":{"zone":"09"}}}`, "not a field"},
		{"readout", `{"panel":"ladder","via":"read","zones":{"09":{"words":""}}}`, ""},
		{"readout", `{"panel":"ladder","via":"read","zones":{"09":{"kind":"` + strings.Repeat("S", 65) + `"}}}`, "at most 64"},
		{"readout", `{"panel":"ladder","via":"read","zones":{"09":{}},"more":1}`, "more"},
		{"keying", `{"act":"begun"}`, ""},
		{"keying", `{"act":"kept","zone":"09","slots":{"kind":"S"},"ms":[0,0,12]}`, ""},
		{"keying", `{"act":"kept","zone":"09"}`, "slots"},
		{"keying", `{"act":"kept","zone":"09","slots":{"kind":"S"},"ms":[12,3]}`, "ms"},
		{"keying", `{"act":"checked","zone":"09","good":true}`, ""},
		{"keying", `{"act":"checked"}`, "number"},
		{"keying", `{"act":"lost","shown":"PLACE?"}`, ""},
		{"keying", `{"act":"lost","shown":"` + strings.Repeat("x", 201) + `"}`, "longer"},
		{"keying", `{"act":"done"}`, "act"},
	} {
		err := Check(evidence.Content{Kind: c.kind, Body: json.RawMessage(c.body)})
		if (c.want == "") != (err == nil) || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s %s: %v, want %q", c.kind, c.body, err, c.want)
		}
	}
	if say := Helper.May(New(""), "piet", evidence.KindKeying, nil, nil); say == "" {
		t.Error("a helper keys zones in")
	}
}
