package keypad

import (
	"slices"
	"strings"
	"testing"

	"proofbell/panel"
	"proofbell/site"
)

// Zone 09 in the menus of Branch, walked by hand along the tree of the practice building's description.
func TestBranchByHand(t *testing.T) {
	p := profile(t, "branch")
	s := NewSimulator(p, nil)
	press(t, s, "IN 09 IN")                                // rooms and doors, the zone
	press(t, s, "IN DOWN DOWN DOWN IN IN")                 // what it watches, fire, smoke
	press(t, s, "DOWN IN IN 1 IN DOWN IN 31320500 IN OUT") // where: area, words
	press(t, s, "DOWN DOWN IN IN IN BR001013 IN")          // voice, tag, type
	press(t, s, "DOWN IN IN DOWN DOWN IN DOWN IN OUT")     // terminal A, missed after: short
	if d := s.Display(); d.Prompt != "ROOMS AND DOORS" || d.Zone != "09" {
		t.Fatalf("the panel shows %+v", d)
	}
	press(t, s, "DOWN DOWN DOWN DOWN DOWN IN OUT") // keep; station and habits as the kind filled them
	want, problems := Wanted(zone09(), p)
	if len(problems) > 0 || !s.Table().Equal(want) || !s.Ended() {
		t.Errorf("differences %v, problems %v", Compare(want, s.Table()), problems)
	}
}

// A kind fills what is empty and nothing else: a later change of kind leaves the old code behind.
func TestBranchLeavesOldCodes(t *testing.T) {
	p := profile(t, "branch")
	s := NewSimulator(p, nil)
	press(t, s, "IN 05 IN IN IN IN") // entry 1
	if got := s.hand[panel.FieldCode]; got != "134" {
		t.Fatalf("entry 1 filled the code %q", got)
	}
	press(t, s, "IN DOWN DOWN DOWN IN IN") // fire, smoke
	if s.hand[panel.FieldKind] != "SMOKE" || s.hand[panel.FieldCode] != "134" || s.hand[panel.FieldBypass] != "YES" {
		t.Errorf("after the change of kind the zone holds %v: the old code and bypass should be left behind", s.hand)
	}
	// The keying sheet sets every answer, so it does not fall for this.
	held := ZoneTable{"09": {panel.FieldKind: "ENTRY 1", panel.FieldCode: "134", panel.FieldBypass: "YES", panel.FieldDoorTone: "YES", panel.FieldTripLimit: "YES"}}
	want, _ := Wanted(zone09(), p)
	if got, _, err := Rehearse(p, Compile(zone09(), p, held, Options{}).Keys, held); err != nil || !got.Equal(want) {
		t.Errorf("differences %v (%v)", Compare(want, got), err)
	}
}

func TestBranchMenus(t *testing.T) {
	s := NewSimulator(profile(t, "branch"), nil)
	press(t, s, "IN 05 IN")
	for _, c := range []struct{ key, sees string }{{"UP", "WHAT IT WATCHES"}, {"DOWN", "WHERE"}, {"DOWN", "VOICE"}, {"UP", "WHERE"}, {"5", "WHERE"}} {
		press(t, s, c.key)
		if d := s.Display(); d.Entered != c.sees {
			t.Errorf("after %s the menu shows %q, want %q", c.key, d.Entered, c.sees)
		}
	}
	press(t, s, "IN OUT OUT") // into where, up again, and out: the zone is dropped
	if d := s.Display(); d.Prompt != "HOUSE BOOK" || d.Zone != "" || len(s.Table()) > 0 {
		t.Errorf("the panel shows %+v and holds %v", d, s.Table())
	}
	press(t, s, "IN 05 IN DOWN DOWN IN IN DOWN IN") // voice, tag, listen
	if !s.Hear("BR001013") {
		t.Fatal("it does not listen")
	}
	press(t, s, "1 IN")
	if d := s.Display(); d.Prompt != "VOICE" || s.hand[panel.FieldIdentity] != "BR001013" {
		t.Errorf("the panel shows %+v and holds %v", d, s.hand)
	}
}

// What Branch can not forget stops the zone: a radio zone that becomes a wired one would keep its tag. Where nobody knows what
// stands there the sheet says so, and its read-back looks at the tag, where nothing may stand.
func TestWhatCanNotBeForgotten(t *testing.T) {
	p := profile(t, "branch")
	s := zone09()
	s.Models["bridge"] = site.Model{Class: "contact", Link: "wired", Terminals: s.Models["bridge"].Terminals}
	opt := Options{ReadBack: true}
	sheet := Compile(s, p, ZoneTable{"09": {panel.FieldIdentity: "BR001013"}}, opt)
	says := `The panel holds identity "BR001013" for this zone and can not be told to forget it. Clear the zone as the panel's instructions say, read it out here (As found), then key it.`
	if z := sheet.Zones[0]; !slices.Contains(z.Stops, says) || len(sheet.Keys) > 0 || !slices.ContainsFunc(sheet.Problems, func(pr Problem) bool { return pr.Blocks && pr.Field == panel.FieldIdentity }) {
		t.Errorf("stops %q, keys %v, problems %v", z.Stops, sheet.Keys, sheet.Problems)
	}
	doubt := func(sh Sheet) bool {
		return slices.ContainsFunc(sh.Cautions, func(c string) bool { return strings.Contains(c, "(zone 09: identity)") })
	}
	blind := Compile(s, p, nil, opt)
	tag := slices.IndexFunc(blind.Zones[0].Check, func(c Card) bool { return c.Shows == "TYPE THE TAG" })
	if !doubt(blind) || tag < 0 || !strings.HasPrefix(blind.Zones[0].Check[tag].Caution, "Nothing may stand here.") {
		t.Errorf("cautions %q, card %d of %+v", blind.Cautions, tag, blind.Zones[0].Check)
	}
	if doubt(Compile(s, p, ZoneTable{"09": {}}, opt)) || doubt(Compile(zone09(), p, nil, opt)) {
		t.Error("a caution where the zone is known to be empty, or has a tag")
	}
}

// A call for help is read back like life safety; a door is not.
func TestCallsForHelpAreReadBack(t *testing.T) {
	for kind, cards := range map[site.ZoneKind]int{site.PanicQuiet: 13, site.Perimeter: 0} { // Branch: see TestReadOutByHand
		p, s := profile(t, "branch"), zone09()
		z := s.Zones["09"]
		z.Kind, z.Code = kind, p.Fills(kind)[panel.FieldCode]
		s.Zones["09"] = z
		if got := Compile(s, p, nil, Options{ReadBack: true}).Zones[0].Check; len(got) != cards {
			t.Errorf("%s: %d cards, want %d", kind, len(got), cards)
		}
	}
}

// Two spellings of one number: neither is keyed over the other, and only the panel's own counts.
func TestOneNumberTwice(t *testing.T) {
	p := ladder(t)
	for _, ids := range [][]site.ZoneID{{"9", "009"}, {"09", "9"}, {"9", "09", "009"}} {
		s := zone09()
		z := s.Zones["09"]
		delete(s.Zones, "09")
		for _, id := range ids {
			s.Zones[id] = z
		}
		keyed := 0
		for _, z := range Compile(s, p, nil, Options{}).Zones {
			if len(z.Cards) > 0 {
				keyed++
			} else if len(z.Stops) == 0 || !strings.Contains(z.Stops[0], "are the same number at the panel") {
				t.Errorf("%q: stops %q", ids, z.Stops)
			}
		}
		if _, own := s.Zones["09"]; own && keyed != 1 || !own && keyed > 0 {
			t.Errorf("%q: %d zones keyed", ids, keyed)
		}
	}
}
