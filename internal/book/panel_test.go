package book

import (
	"encoding/json"
	"maps"
	"reflect"
	"strings"
	"testing"
	"time"

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
	if _, known := s.Panel.Holds("13", ""); known {
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
	if empty, known := s.Panel.Holds("09", ""); !known || len(empty) != 0 {
		t.Errorf("after a whole table zone 09 is empty, not %v (%v)", empty, known)
	}
	if _, known := s.Panel.Holds("02", ""); known || !s.Panel.Work[1].Bad {
		t.Error("what stands in a zone that was read back wrong is not known")
	}
	if len(s.Panel.Found) != 2 || !maps.Equal(s.Panel.Found[1].Zones["01"], slots{"kind": "D1"}) || len(before.Panel.Held) != 3 {
		t.Errorf("found %+v, before %v", s.Panel.Found, before.Panel.Held)
	}

	// Another panel on the wall: nothing is known of it.
	w.readout(ReadoutBody{Panel: "branch", Via: ViaRead, Zones: ZoneTable{"05": {"kind": "HEAT"}}})
	s = w.fold()
	if _, known := s.Panel.Holds("01", ""); known || s.Panel.Profile != "branch" || len(s.Panel.Held) != 1 || len(s.Panel.Found) != 3 {
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

// What one phone did late does not stand over what another found since: where they differ, it is in doubt.
func TestLateEntriesOfAnotherPhone(t *testing.T) {
	kept := func(zone site.ZoneID, kind string) any {
		return KeyingBody{Act: KeyingKept, Panel: "ladder", Zone: zone, Slots: slots{"kind": kind}}
	}
	read := func(zone site.ZoneID, kind string) any {
		return ReadoutBody{Panel: "ladder", Via: ViaRead, Zones: ZoneTable{zone: {"kind": kind}}}
	}
	checked := func(good bool) any { return KeyingBody{Act: KeyingChecked, Zone: "09", Good: good} }
	lost := KeyingBody{Act: KeyingLost, Zone: "09", Card: 3, Shown: "KEPT"}
	all := ReadoutBody{Panel: "ladder", Via: ViaRead, Whole: true}
	type act struct {
		minute int
		by     evidence.PersonID
		body   any
	}
	for name, c := range map[string]struct {
		acts    []act // in the order of the book; none has seen another
		kind    string
		known   bool
		checked bool
	}{
		"a late kept, and a newer readout differs":             {[]act{{60, "tamsin", read("09", "L")}, {0, "piet", kept("09", "S")}}, "", false, false},
		"and is the same":                                      {[]act{{60, "tamsin", read("09", "S")}, {0, "piet", kept("09", "S")}}, "S", true, true},
		"in order the newer one counts":                        {[]act{{0, "piet", read("09", "L")}, {60, "piet", kept("09", "S")}}, "S", true, false},
		"kept without having seen a readout":                   {[]act{{0, "tamsin", read("09", "L")}, {60, "piet", kept("09", "S")}}, "", false, false},
		"doubt stays when what is older comes":                 {[]act{{60, "tamsin", lost}, {0, "piet", kept("09", "S")}}, "", false, false},
		"lost in a zone that was kept":                         {[]act{{0, "piet", kept("09", "S")}, {1, "piet", lost}}, "", false, false},
		"lost before it was read out":                          {[]act{{60, "tamsin", read("09", "S")}, {0, "piet", lost}}, "S", true, true},
		"lost before it was kept elsewhere":                    {[]act{{60, "tamsin", kept("09", "S")}, {0, "piet", lost}}, "", false, false},
		"read back good what was keyed":                        {[]act{{0, "piet", kept("09", "S")}, {1, "piet", checked(true)}}, "S", true, true},
		"read back good what another keyed since":              {[]act{{0, "piet", kept("09", "S")}, {1, "tamsin", kept("09", "L")}, {2, "piet", checked(true)}}, "", false, false},
		"read back before another keyed it":                    {[]act{{60, "tamsin", kept("09", "L")}, {0, "piet", checked(true)}}, "L", true, false},
		"kept between the keying of another and its read-back": {[]act{{0, "tamsin", kept("09", "S")}, {10, "tamsin", checked(true)}, {5, "piet", kept("09", "L")}}, "", false, false},
		"a late table of all, and it was keyed":                {[]act{{60, "tamsin", kept("09", "S")}, {0, "piet", all}}, "", false, false},
		"a late kept under a table of all":                     {[]act{{60, "tamsin", all}, {0, "piet", kept("09", "S")}}, "", false, false},
		"two ways to write a zone are one":                     {[]act{{0, "piet", read("09", "S")}, {1, "piet", kept("9", "L")}}, "L", true, false},
	} {
		w := newWriter(t)
		w.edit("phone", `{"format":"proofbell.site/1","panel":{"profile":"ladder"}}`)
		for _, a := range c.acts {
			kind := evidence.KindKeying
			if _, ok := a.body.(ReadoutBody); ok {
				kind = evidence.KindReadout
			}
			one := w.content(kind, a.by, 1, a.body, nil)
			one.At.Time = noon.Add(time.Duration(a.minute) * time.Minute)
			w.order(one)
		}
		p := w.fold().Panel
		for _, zone := range []site.ZoneID{"09", "9", "009"} {
			if got, known := p.Holds(zone, ""); known != c.known || got["kind"] != c.kind || p.Checked(zone) != c.checked || len(p.Doubted()) > 0 == c.known || len(p.Held) > 1 {
				t.Errorf("%s: zone %s holds %v (%v), checked %v, in doubt %v", name, zone, got, known, p.Checked(zone), p.Doubted())
			}
		}
	}
	// Whoever has seen what is there says something newer, whatever the clocks say.
	w := newWriter(t)
	w.readout(read("09", "L").(ReadoutBody))
	slow := w.content(evidence.KindKeying, "piet", 1, kept("09", "S"), nil)
	slow.At.Time = noon.Add(-time.Hour)
	w.order(slow)
	if got, known := func() (slots, bool) { p := w.fold().Panel; return p.Holds("09", "") }(); !known || got["kind"] != "S" {
		t.Errorf("keyed by a slow clock: %v", got)
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
		{"readout", `{"panel":"ladder","via":"read","zones":{"09":{},"9":{"kind":"S"}}}`, "09 and 9 are one number"},
		{"keying", `{"act":"begun"}`, ""},
		{"keying", `{"act":"kept","zone":"09","slots":{"kind":"S"},"ms":[0,0,12]}`, ""},
		{"keying", `{"act":"kept","panel":"ladder","version":"1.0","zone":"09","slots":{"kind":"S"}}`, ""},
		{"keying", `{"act":"kept","version":"` + strings.Repeat("1", 65) + `","zone":"09","slots":{"kind":"S"}}`, "longer"},
		{"keying", `{"act":"kept","zone":"09","slots":{"kind":"S"},"unsure":true,"from":"device-1"}`, ""},
		{"keying", `{"act":"kept","zone":"09"}`, "slots"},
		{"keying", `{"act":"begun","from":"` + strings.Repeat("1", 65) + `"}`, "longer"},
		{"readout", `{"panel":"ladder","via":"read","zones":{"09":{}},"from":"` + strings.Repeat("1", 65) + `"}`, "from"},
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
