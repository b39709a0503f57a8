package keypad

import (
	"maps"
	"strings"
	"testing"

	"proofbell/panel"
)

// Zone 09 in the drawers of Pigeonhole, slot by slot as the practice building's description has it, and the sum it shows.
func TestPigeonholeGolden(t *testing.T) {
	p := profile(t, "pigeonhole")
	sheet := Compile(zone09(), p, nil, Options{ReadBack: true})
	if len(sheet.Problems) > 0 || len(sheet.Zones) != 1 {
		t.Fatalf("problems %v", sheet.Problems)
	}
	slots := map[string]string{}
	for _, c := range sheet.Zones[0].Cards {
		if k := c.Keys(); c.Shows == "SLOT" && len(k) > 1 {
			slots[k[0]] = strings.Join(k[1:len(k)-1], "")
		}
	}
	want := map[string]string{"A": "10", "B": "1", "C": "4500", "D": "1013", "E": "1", "F": "1", "G": "1", "H": "1", "J": "0", "K": "0", "L": "0", "M": "111", "N": "31", "P": "32", "Q": "05", "R": "00"}
	if !maps.Equal(slots, want) {
		t.Errorf("slots %v, want %v", slots, want)
	}
	// 10+1+4500+1013+1+1+1+1+0+0+0+111+31+32+5+0 = 5707
	sums := 0
	for _, c := range sheet.Zones[0].Check {
		if c.Then == "SUM 707 / SLOT" {
			sums++
		}
	}
	if sums != 1 {
		t.Errorf("the check does not ask for the sum 707: %+v", sheet.Zones[0].Check)
	}
	s := NewSimulator(p, nil)
	press(t, s, "OPEN 09 OK A 10 OK B 1 OK C 4500 OK D 1013 OK E 1 OK F 1 OK G 1 OK H 1 OK J 0 OK K 0 OK L 0 OK M 111 OK N 31 OK P 32 OK Q 05 OK R 00 OK SUM")
	if d := s.Display(); d.String() != "SUM 707 / SLOT" {
		t.Errorf("the panel shows %q", d)
	}
	press(t, s, "SHUT BACK")
	if got, _, err := Rehearse(p, sheet.Keys, nil); err != nil || !got.Equal(s.Table()) {
		t.Errorf("by the sheet %v (%v), by hand %v", got, err, s.Table())
	}
}

func TestDrawers(t *testing.T) {
	p := profile(t, "pigeonhole")
	s := NewSimulator(p, nil)
	press(t, s, "OPEN 05 OK B 2 OK A 10 OK SHUT OPEN 05 OK")
	press(t, s, "B")
	if got := s.Display().Stored; got != "2" {
		t.Errorf("slot B of the drawer shows %q, want 2", got)
	}
	press(t, s, "3 OK BACK") // left without shutting: dropped
	if got := s.Table()["05"]; got[panel.FieldArea] != "2" || len(got) != 2 {
		t.Errorf("the drawer holds %v", got)
	}
	press(t, s, "OPEN 05 OK B 4 OK SHUT") // one slot replaced, the other stays
	if got := s.Table()["05"]; got[panel.FieldArea] != "4" || got[panel.FieldKind] != "10" {
		t.Errorf("the drawer holds %v", got)
	}
	if out := press(t, s, "OPEN 05 OK 7"); out != Ignored {
		t.Errorf("a digit at the drawer: %s", out)
	}
	if out := press(t, s, "A 19 OK"); out != Refused {
		t.Errorf("kind 19: %s", out)
	}
	s.Advance(120)
	if d := s.Display(); d.Prompt != "CABINET" || d.Zone != "" || d.Notice == "" {
		t.Errorf("after 120 s the panel shows %+v", d)
	}
}
