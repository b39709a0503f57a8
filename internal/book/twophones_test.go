package book

import (
	"testing"

	"proofbell/evidence"
	"proofbell/site"
)

// What two phones tell of one zone without knowing of each other is as certain in one order as in the other.
func TestWhoSendsFirstDecidesNothing(t *testing.T) {
	kept := func(from, kind, area string) KeyingBody {
		return KeyingBody{Act: KeyingKept, Panel: "ladder", Version: "1.0", Zone: "09", Slots: slots{"kind": kind, "area": area}, From: from}
	}
	lost := func(from string) KeyingBody {
		return KeyingBody{Act: KeyingLost, Zone: "9", Card: 2, Shown: "AS WHAT?", From: from}
	}
	unsure := kept("", "S", "1")
	unsure.Unsure = true
	type word struct {
		by   evidence.PersonID
		told told
	}
	for name, c := range map[string]struct {
		words [2]word
		kind  string // known afterwards; "": in doubt
	}{
		"two kept, of other answers":    {[2]word{{"tamsin", told{10, 2, kept("", "H", "1")}}, {"piet", told{20, 2, kept("", "S", "1")}}}, ""},
		"two kept, of the same":         {[2]word{{"tamsin", told{10, 2, kept("", "S", "1")}}, {"piet", told{20, 2, kept("", "S", "1")}}}, "S"},
		"lost by one, kept by another":  {[2]word{{"tamsin", told{10, 2, lost("")}}, {"piet", told{20, 2, kept("", "S", "1")}}}, ""},
		"kept by one, lost by another":  {[2]word{{"tamsin", told{20, 2, lost("")}}, {"piet", told{10, 2, kept("", "S", "1")}}}, ""},
		"one person on two devices":     {[2]word{{"piet", told{10, 2, kept("one", "H", "1")}}, {"piet", told{20, 2, kept("two", "S", "1")}}}, ""},
		"lost by oneself on another":    {[2]word{{"piet", told{10, 2, lost("one")}}, {"piet", told{20, 2, kept("two", "S", "1")}}}, ""},
		"one not sure, one kept":        {[2]word{{"tamsin", told{10, 2, unsure}}, {"piet", told{20, 2, kept("", "S", "1")}}}, ""},
		"one kept, one not sure":        {[2]word{{"tamsin", told{10, 2, kept("", "S", "1")}}, {"piet", told{20, 2, unsure}}}, ""},
		"a device with two hands on it": {[2]word{{"tamsin", told{10, 2, kept("one", "S", "1")}}, {"piet", told{20, 2, kept("one", "S", "1")}}}, "S"},
	} {
		for _, order := range [][2]int{{0, 1}, {1, 0}} {
			w := newWriter(t)
			w.edit("phone", `{"format":"proofbell.site/1","panel":{"profile":"ladder"}}`)
			w.tell("lead", told{0, 1, readIn("1.0", ZoneTable{"09": {"kind": "S", "area": "2"}})})
			for _, i := range order {
				w.tell(c.words[i].by, c.words[i].told)
			}
			p := w.fold().Panel
			got, known := p.Holds("09", "1.0")
			if known != (c.kind != "") || got["kind"] != c.kind || len(p.Doubted()) > 0 == known {
				t.Errorf("%s, %v: holds %v (%v), in doubt %v", name, order, got, known, p.Doubted())
			}
			// Seen at the display since, by whoever knows of it all, it is certain.
			w.tell("lead", told{60, 4, readIn("1.0", ZoneTable{"09": {"kind": "S", "area": "1"}})})
			if p = w.fold().Panel; !p.Checked("09") || len(p.Doubted()) > 0 {
				t.Errorf("%s, %v: read out, and in doubt %v", name, order, p.Doubted())
			}
		}
	}
}

// A device knows of what it told before, also while none of it has a place in the book.
func TestADeviceKnowsItsOwnEntries(t *testing.T) {
	for _, by := range []evidence.PersonID{"piet", "tamsin"} { // handed over to another person, it is the same device
		w := newWriter(t)
		w.edit("phone", `{"format":"proofbell.site/1","panel":{"profile":"ladder"}}`)
		w.tell("piet", told{0, 1, KeyingBody{Act: KeyingKept, Panel: "ladder", Zone: "09", Slots: slots{"kind": "H"}, From: "one"}})
		w.tell("piet", told{1, 1, KeyingBody{Act: KeyingLost, Zone: "09", Card: 1, Shown: "PLACE?", From: "one"}})
		w.tell(by, told{2, 1, KeyingBody{Act: KeyingKept, Panel: "ladder", Zone: "09", Slots: slots{"kind": "S"}, From: "one"}})
		w.tell(by, told{3, 1, KeyingBody{Act: KeyingChecked, Zone: "09", Good: true, From: "one"}})
		p := w.fold().Panel
		if got, known := p.Holds("09", ""); !known || got["kind"] != "S" || !p.Checked("09") {
			t.Errorf("%s: %v (%v), checked %v", by, got, known, p.Checked("09"))
		}
	}
}

// A zone that was keyed and is not sure is work done, and not known; read back by somebody who got to the end it stays so.
func TestKeptAndNotSure(t *testing.T) {
	w := newWriter(t)
	w.edit("phone", `{"format":"proofbell.site/1","panel":{"profile":"ladder"}}`)
	w.readout(readIn("1.0", ZoneTable{"09": {"kind": "L"}}))
	w.keying(KeyingBody{Act: KeyingKept, Panel: "ladder", Version: "1.0", Zone: "09", Slots: slots{"kind": "S"}, Ms: []int{0, 700}, Unsure: true})
	p := w.fold().Panel
	if _, known := p.Holds("09", "1.0"); known || len(p.Work) != 1 || p.Work[0].Took.Milliseconds() != 700 || p.Lost != 0 || len(p.Doubted()) != 1 || p.Doubted()[0] != site.ZoneID("09") {
		t.Errorf("work %+v, lost %d, in doubt %v", p.Work, p.Lost, p.Doubted())
	}
	// What is read from now on is another table.
	w.readout(readIn("1.0", ZoneTable{"09": {"kind": "S"}}))
	if p = w.fold().Panel; len(p.Found) != 2 || p.Found[0].Zones["09"]["kind"] != "L" || !p.Checked("09") {
		t.Errorf("found %+v", p.Found)
	}
}
