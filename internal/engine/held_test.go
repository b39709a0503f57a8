package engine

import (
	"slices"
	"testing"

	"proofbell/demo"
	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/keypad"
	"proofbell/panel"
	"proofbell/site"
)

// Zone 09 of the practice building as its description has it for the Ladder panel.
var ladder09 = map[panel.Field]string{
	"area": "A", "words": "31 32 05", "kind": "S", "paths": "2", "code": "111", "bypass": "N", "doorTone": "N", "link": "R", "identity": "BR001013", "terminal": "A", "lossWindow": "1",
}

// What was read out or keyed is left out of the sheet, what differs is on it, and a mark in the site file counts only
// where the book knows nothing.
func TestKeyingFromWhatThePanelHolds(t *testing.T) {
	j := newJob(t, demo.Corrected)
	look := func() (Keying, *Desk) {
		t.Helper()
		d := j.desk()
		v, err := d.Keying(noon, nil)
		if err != nil {
			t.Fatal(err)
		}
		return v, d
	}
	cards := func(v Keying, zone site.ZoneID) []keypad.Card {
		for _, z := range v.Sheet.Zones {
			if z.Zone == zone {
				return z.Cards
			}
		}
		return nil
	}
	plain, d := look()
	if d.Held() != nil || len(plain.Kept) != 0 || len(cards(plain, "09")) == 0 {
		t.Fatalf("nothing is known of the panel, yet %v, %v", d.Held(), plain.Kept)
	}
	j.edit(`{"zones":{"09":{"keyed":true},"11":{"keyed":true}}}`)
	if _, d := look(); !d.keyed("09") || !d.keyed("11") || d.keyed("12") {
		t.Error("where the book knows nothing the site's word counts")
	}

	burglary := map[panel.Field]string{"kind": "L", "area": "A"}
	j.Add(evidence.KindReadout, book.ReadoutBody{Panel: "ladder", Via: book.ViaRead, Zones: book.ZoneTable{"09": ladder09, "11": burglary, "48": {}}}, nil)
	v, d := look()
	if len(cards(v, "09")) != 0 || !slices.Equal(v.Sheet.Same, []site.ZoneID{"09"}) || len(v.Kept) != 1 || v.Kept[0].ID != "09" || !v.Kept[0].Checked || len(v.Kept[0].Zone.Check) == 0 {
		t.Errorf("zone 09 is in the panel as wanted: same %v, kept %+v", v.Sheet.Same, v.Kept)
	}
	if !d.keyed("09") || d.keyed("11") || v.Sheet.Count >= plain.Sheet.Count || len(v.Sheet.Extra) != 0 {
		t.Errorf("zone 11 is not as wanted; %d keys of %d; extra %v", v.Sheet.Count, plain.Sheet.Count, v.Sheet.Extra)
	}
	if given, err := d.Keying(noon, keypad.ZoneTable{}); err != nil || given.Sheet.Count != plain.Sheet.Count {
		t.Errorf("a table that is given counts: %d keys, %v", given.Sheet.Count, err)
	}

	// Keyed, it is not read back yet; changed in the schedule, it is to be keyed again.
	i := slices.IndexFunc(v.Sheet.Zones, func(z keypad.ZoneCards) bool { return z.Zone == "11" })
	j.Add(evidence.KindKeying, book.KeyingBody{Act: book.KeyingKept, Zone: "11", Slots: v.Zones[i].Slots}, nil)
	v, d = look()
	if !d.keyed("11") || len(v.Kept) != 2 || v.Kept[1].Checked {
		t.Errorf("zone 11 was keyed: %+v", v.Kept)
	}
	j.edit(`{"zones":{"09":{"label":"Landing smoke two"}}}`)
	if v, d = look(); d.keyed("09") || len(cards(v, "09")) == 0 {
		t.Error("zone 09 was changed and counts as keyed")
	}

	// Of another panel on the wall nothing is known.
	j.edit(`{"panel":{"profile":"pigeonhole"}}`)
	if _, d = look(); d.Held() != nil {
		t.Errorf("of another panel %v is known", d.Held())
	}
}
