package engine

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
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

	// Read back and found wrong, it is not keyed, whatever the site file says: zone 11 has the mark.
	j.Add(evidence.KindKeying, book.KeyingBody{Act: book.KeyingChecked, Zone: "11"}, nil)
	if v, d = look(); d.keyed("11") || len(cards(v, "11")) == 0 {
		t.Error("zone 11 was read back wrong and counts as keyed")
	}

	// Of another panel on the wall nothing is known.
	j.edit(`{"panel":{"profile":"pigeonhole"}}`)
	if _, d = look(); d.Held() != nil || d.keyed("11") {
		t.Errorf("of another panel %v is known", d.Held())
	}
}

// One zone may be written in two ways, what a file does not name is not sure to be empty where lives hang on it, and only the
// panel's own display counts as seen.
func TestWhatIsNotSureIsNotKnown(t *testing.T) {
	j := newJob(t, demo.Corrected)
	wrong := maps.Clone(ladder09)
	wrong["kind"] = "L"
	j.Add(evidence.KindReadout, book.ReadoutBody{Panel: "ladder", Via: book.ViaRead, Zones: book.ZoneTable{"09": ladder09}}, nil)
	j.Add(evidence.KindReadout, book.ReadoutBody{Panel: "ladder", Via: book.ViaRead, Zones: book.ZoneTable{"9": wrong}}, nil)
	d := j.desk()
	if held := d.Held(); d.keyed("09") || len(held) != 1 || held["09"]["kind"] != "L" {
		t.Errorf("zone 9 was read out after 09: %v, keyed %v", held, d.keyed("09"))
	}
	j.Add(evidence.KindReadout, book.ReadoutBody{Panel: "ladder", Via: book.ViaFile, Whole: true, Zones: book.ZoneTable{"9": ladder09}}, nil)
	d = j.desk()
	if _, known := d.holds("11"); known || !d.keyed("09") || d.State.Panel.Checked("09") {
		t.Errorf("from a file: smoke zone 11 known to be empty %v, zone 09 keyed %v, seen %v", known, d.keyed("09"), d.State.Panel.Checked("09"))
	}
	if slots, known := d.holds("48"); !known || len(slots) != 0 {
		t.Error("zone 48 is not planned, and the file says that it is empty")
	}
	j.Add(evidence.KindKeying, book.KeyingBody{Act: book.KeyingLost, Zone: "09", Card: 3, Shown: "KEPT"}, nil)
	if d = j.desk(); d.keyed("09") || d.Held()["09"] != nil {
		t.Error("something may have been kept in zone 09, and it counts as keyed")
	}
	j.Add(evidence.KindReadout, book.ReadoutBody{Panel: "ladder", Version: "0.1", Via: book.ViaRead, Zones: book.ZoneTable{"09": ladder09}}, nil)
	if d = j.desk(); d.keyed("09") || d.Held() != nil {
		t.Error("read out in the terms of another version of the profile")
	}
}

// What a panel that edits can not be told to forget is part of what is kept: the zone is not as wanted then.
func TestLeftoversAreKept(t *testing.T) {
	j := newJob(t, demo.Corrected)
	j.edit(`{"panel":{"profile":"branch"}}`)
	d := j.desk()
	var number site.ZoneID
	for id, slots := range d.wantedTable() {
		if _, tag := slots[panel.FieldIdentity]; !tag && len(slots) > 1 && (number == "" || id < number) {
			number = id
		}
	}
	if number == "" {
		t.Fatal("no zone is planned without a tag")
	}
	old := maps.Clone(d.wantedTable()[number])
	old[panel.FieldIdentity], old[panel.FieldKind] = "SD001228", "OTHER"
	j.Add(evidence.KindReadout, book.ReadoutBody{Panel: "branch", Via: book.ViaRead, Zones: book.ZoneTable{number: old}}, nil)
	v, err := j.desk().Keying(noon, nil)
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(v.Sheet.Zones, func(z keypad.ZoneCards) bool { return z.Zone == number })
	if s := v.Zones[i].Slots; s[panel.FieldIdentity] != "SD001228" || s[panel.FieldKind] != d.wantedTable()[number][panel.FieldKind] {
		t.Errorf("zone %s is kept as %v", number, s)
	}
	j.Add(evidence.KindKeying, book.KeyingBody{Act: book.KeyingKept, Panel: "branch", Zone: number, Slots: v.Zones[i].Slots}, nil)
	for id := range d.State.Site.Zones {
		if d = j.desk(); d.number(id) == number && d.keyed(id) {
			t.Errorf("zone %s has an old tag and counts as keyed", number)
		}
	}
}

// A way back names every zone that it can not bring back: those in doubt and those keyed of which the table knows nothing.
func TestWhatIsNotBroughtBack(t *testing.T) {
	j := newJob(t, demo.Corrected)
	found := j.Add(evidence.KindReadout, book.ReadoutBody{Panel: "ladder", Via: book.ViaRead, Zones: book.ZoneTable{"09": {}, "11": ladder09, "48": {}}}, nil)
	for _, zone := range []site.ZoneID{"9", "12", "13"} {
		j.Add(evidence.KindKeying, book.KeyingBody{Act: book.KeyingKept, Panel: "ladder", Zone: zone, Slots: ladder09}, nil)
		if zone != "13" {
			j.Add(evidence.KindKeying, book.KeyingBody{Act: book.KeyingChecked, Zone: zone}, nil)
		}
	}
	j.Add(evidence.KindKeying, book.KeyingBody{Act: book.KeyingLost, Zone: "14", Card: 3, Shown: "KEPT"}, nil)
	d := j.desk()
	v, err := d.RollBack(found.ID)
	if err != nil || !slices.Equal(v.Left, []site.ZoneID{"09", "12", "13", "14"}) || len(v.Warnings) != 3 {
		t.Errorf("left %v, %v", v.Left, err)
	}
	// In the terms of another profile there is no way back.
	own := *d.profile
	own.Version = "2.0"
	j.Add(evidence.KindProfile, book.ProfileBody{Profile: &own}, nil)
	if d = j.desk(); d.profile.Version != "2.0" {
		t.Fatal("the job's own profile is not used")
	}
	if _, err := d.RollBack(found.ID); err == nil {
		t.Error("a table of before the profile was changed is gone back to")
	}
	if out, err := d.ReadOut(); err != nil || len(out.Found) != 0 || len(out.Past) != 1 || !strings.Contains(out.Past[0].Why, "changed in this job since") || out.Past[0].Zones != 1 || out.Past[0].Back != 0 {
		t.Errorf("%+v, %+v, %v", out.Found, out.Past, err)
	}
}

// After the program brings another version of a profile, what is keyed with it is known, what was keyed with the one before is
// keyed again, and a table of before is shown with the reason why it is not gone back to.
func TestAnotherVersionOfTheProfile(t *testing.T) {
	j := newJob(t, demo.Corrected)
	found := j.Add(evidence.KindReadout, book.ReadoutBody{Panel: "ladder", Version: "0.9", Via: book.ViaRead, Zones: book.ZoneTable{"09": {}, "11": {}}}, nil)
	j.Add(evidence.KindKeying, book.KeyingBody{Act: book.KeyingKept, Panel: "ladder", Version: "0.9", Zone: "11", Slots: ladder09}, nil)
	d := j.desk()
	if d.keyed("09") || d.Held() != nil {
		t.Fatalf("of an older version %v is known", d.Held())
	}
	j.Add(evidence.KindKeying, book.KeyingBody{Act: book.KeyingKept, Panel: "ladder", Version: d.profile.Version, Zone: "09", Slots: ladder09}, nil)
	j.Add(evidence.KindKeying, book.KeyingBody{Act: book.KeyingChecked, Zone: "09", Good: true}, nil)
	d = j.desk()
	if !d.keyed("09") || !d.State.Panel.Checked("09") || d.keyed("11") || len(d.Held()) != 1 {
		t.Errorf("keyed with the version in use %v, with the one before %v; known %v", d.keyed("09"), d.keyed("11"), d.Held())
	}
	out, err := d.ReadOut()
	if err != nil || len(out.Found) != 0 || len(out.Past) != 1 || !strings.Contains(out.Past[0].Why, "version 0.9") || !strings.Contains(out.Past[0].Why, d.profile.Version) {
		t.Errorf("%+v, %v", out.Past, err)
	}
	_, err = d.RollBack(found.ID)
	var told *Problem
	if !errors.As(err, &told) || told.Say != out.Past[0].Why || told.Try == "" {
		t.Errorf("going back: %v", err)
	}
	j.edit(`{"panel":{"profile":"pigeonhole"}}`)
	if out, err := j.desk().ReadOut(); err != nil || len(out.Past) != 1 || !strings.Contains(out.Past[0].Why, "pigeonhole") {
		t.Errorf("%+v, %v", out.Past, err)
	}
}

// A zone is read out over the engine's calls, kept, laid beside the plan, keyed over, and brought back.
func TestReadOutOverTheEngine(t *testing.T) {
	j := newJob(t, demo.Corrected)
	d := j.desk()
	v, err := d.ReadOut()
	if err != nil || v.Not != "" || v.Next != "09" || v.Idle != 120 || v.Dropped != "TOO SLOW, ZONE DROPPED" || v.Unknown != 33 || len(v.Zones) != 48 || len(v.Changes)+len(v.Found) != 0 {
		t.Fatalf("%+v, %v", v, err)
	}
	// Zone 09 as the first draft has it: kind L. A slip is told, and then it is read again.
	seen := []keypad.Seen{{Text: "A"}, {Text: "31 32 05"}}
	slip, err := d.Reading(ViewArg{At: keypad.At{Zone: "9"}, Seen: append(slices.Clone(seen), keypad.Seen{Text: "9"})})
	if err != nil || slip.Refused == "" || !slip.Sure || slip.Card.Then != "DANGER?" || slip.Card.N != 3 {
		t.Errorf("a slip: %+v, %v", slip, err)
	}
	for _, text := range []string{"L", "2", "111", "N", "N", "R", "BR001013", "A", "1", "", ""} {
		seen = append(seen, keypad.Seen{Text: text})
	}
	r, err := d.Reading(ViewArg{At: keypad.At{Zone: "09"}, Seen: seen})
	if err != nil || r.Since != "" || !r.Done || !r.Read || r.Label != d.State.Site.Zones["09"].Label || !r.LifeSafety {
		t.Fatalf("%+v, %v", r, err)
	}
	if c := r.Change; c.State != "differs" || len(c.Rows) != 1 || c.Rows[0].Has != "L" || c.Rows[0].Wants != "S" || c.Rows[0].WantsMeans != "Smoke" || c.Rows[0].Unknown {
		t.Errorf("change %+v", c)
	}
	j.Add(evidence.KindReadout, book.ReadoutBody{Panel: v.Panel, Version: v.Version, Via: book.ViaRead, Zones: book.ZoneTable{"09": r.Slots}}, nil)
	j.Add(evidence.KindReadout, book.ReadoutBody{Panel: v.Panel, Via: book.ViaRead, Zones: book.ZoneTable{"11": {}, "48": {"kind": "X", "area": "A"}}}, nil)
	d = j.desk()
	v, _ = d.ReadOut()
	if v.Next != "10" && v.Next != "12" || v.Unknown != 31 || len(v.Changes) != 3 || len(v.Found) != 1 || v.Found[0].Back != 0 || v.Found[0].Zones != 2 || v.Found[0].Read != 2 {
		t.Errorf("%+v", v)
	}
	if c := v.Changes[2]; c.Zone != "48" || c.State != "extra" || len(c.Rows) != 2 || !c.Rows[1].Unknown || v.Changes[1].State != "empty" {
		t.Errorf("changes %+v", v.Changes)
	}
	d = j.desk()
	k, _ := d.Keying(noon, nil)
	i := slices.IndexFunc(k.Sheet.Zones, func(z keypad.ZoneCards) bool { return z.Zone == "09" })
	j.Add(evidence.KindKeying, book.KeyingBody{Act: book.KeyingKept, Zone: "09", Slots: k.Zones[i].Slots}, nil)
	d = j.desk()
	back, err := d.RollBack(evidence.EntryID(v.Found[0].Entry))
	if err != nil || back.Found.Back != 1 || len(back.Sheet.Zones) == 0 || len(back.Warnings) != 3 {
		t.Fatalf("%+v, %v", back, err)
	}
	var zones []site.ZoneID
	for _, z := range back.Sheet.Zones {
		if len(z.Cards) > 0 {
			zones = append(zones, z.Zone)
		}
	}
	if !slices.Equal(zones, []site.ZoneID{"09"}) || !slices.Equal(back.Left, []site.ZoneID{"48"}) {
		t.Errorf("keyed back %v, left %v", zones, back.Left)
	}
	held := d.Held()
	got, _, err := keypad.Rehearse(d.profile, back.Sheet.Keys, keypad.ZoneTable{"09": held["09"]})
	if err != nil || got["09"][panel.FieldKind] != "L" {
		t.Errorf("going back leaves %v, %v", got["09"], err)
	}
	if _, err := d.RollBack("none"); err == nil {
		t.Error("there is no such table")
	}
	raw, err := keypad.AppendTable(d.profile, keypad.ZoneTable{"09": held["09"]})
	if err != nil {
		t.Fatal(err)
	}
	if f, err := d.TableFile(string(raw)); err != nil || f.Count != 1 {
		t.Errorf("%+v, %v", f, err)
	}
	if _, err := d.TableFile("{"); err == nil {
		t.Error("half a file is taken")
	}
	// What was seen of a zone before the book was told of it may be gone from the panel.
	since := func() string {
		t.Helper()
		r, err := j.desk().Reading(ViewArg{At: keypad.At{Zone: "09"}})
		if err != nil {
			t.Fatal(err)
		}
		return r.Since
	}
	read := since()
	j.Add(evidence.KindKeying, book.KeyingBody{Act: book.KeyingKept, Zone: "10", Slots: ladder09}, nil)
	if read == "" || since() != read {
		t.Errorf("read out %q, another zone keyed %q", read, since())
	}
	j.Add(evidence.KindKeying, book.KeyingBody{Act: book.KeyingLost, Zone: "09", Shown: "?"}, nil)
	if lost := since(); lost <= read {
		t.Errorf("read out %q, lost since %q", read, lost)
	}
}

// A drawer's sum stands for its answers only where the book says that the zone was keyed with them, and nobody's life hangs on it.
func TestSumOfAKeyedZone(t *testing.T) {
	j := newJob(t, demo.Corrected)
	j.edit(`{"panel":{"profile":"pigeonhole"}}`)
	d := j.desk()
	var number site.ZoneID
	for id, z := range d.State.Site.Zones {
		if _, can := d.wantedTable()[d.number(id)]; can && z.Kind == site.Entry1 && (number == "" || d.number(id) < number) {
			number = d.number(id)
		}
	}
	want := d.wantedTable()[number]
	bySum := func() bool {
		t.Helper()
		r, err := j.desk().Reading(ViewArg{At: keypad.At{Zone: number}, Seen: []keypad.Seen{{Text: fmt.Sprintf("%03d", keypad.Slots(want).Sum())}}})
		if err != nil || r.Refused != "" {
			t.Fatal(r.Refused, err)
		}
		return r.BySum
	}
	checks := func() int {
		t.Helper()
		v, err := j.desk().Keying(noon, nil)
		if err != nil || len(v.Kept) != 1 {
			t.Fatal(v.Kept, err)
		}
		return len(v.Kept[0].Zone.Check)
	}
	if bySum() {
		t.Error("nothing is known of the zone")
	}
	j.Add(evidence.KindReadout, book.ReadoutBody{Panel: "pigeonhole", Version: d.profile.Version, Via: book.ViaFile, Zones: book.ZoneTable{number: want}}, nil)
	if bySum() || checks() < 10 {
		t.Error("a file says so, and nobody keyed it")
	}
	other := maps.Clone(want)
	other[panel.FieldArea] = "4"
	j.Add(evidence.KindKeying, book.KeyingBody{Act: book.KeyingKept, Panel: "pigeonhole", Version: d.profile.Version, Zone: number, Slots: other}, nil)
	if bySum() {
		t.Error("it was keyed with other answers than are planned")
	}
	j.Add(evidence.KindKeying, book.KeyingBody{Act: book.KeyingKept, Panel: "pigeonhole", Version: d.profile.Version, Zone: number, Slots: want}, nil)
	if !bySum() || checks() != 4 {
		t.Error("it was keyed with just these answers")
	}
}
