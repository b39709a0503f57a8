package keypad

import (
	"os"
	"slices"
	"strings"
	"testing"

	"proofbell/internal/keypad/keypadtest"
	"proofbell/panel"
)

// wicket is a panel that moves on by itself and turns its answers.
func wicket(t testing.TB) *panel.Profile {
	t.Helper()
	raw, err := os.ReadFile("../../panel/testdata/wicket.yaml")
	if err != nil {
		t.Fatal(err)
	}
	p, err := panel.Decode("wicket.yaml", raw)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Zone 4, worked by hand from the profile: no accept key where an answer is complete, one TURN for each step of an answer.
func TestWicketByHand(t *testing.T) {
	s := NewSimulator(wicket(t), nil)
	for _, step := range []struct{ keys, prompt, entered, stored string }{
		{"4", "KIND", "", ""},
		{"1", "KIND", "1", ""},
		{"0", "SIDE", "", "EAST"}, // 10: smoke; nothing is stored, so the first is shown
		{"TURN", "SIDE", "WEST", "EAST"},
		{"TURN", "SIDE", "EAST", "EAST"},
		{"TURN SET", "SAYS", "", ""},
		{"6 5", "SAYS", "65", ""},
		{"0", "CODE", "", "111"}, // filled by the kind
		{"1 1", "CODE", "11", "111"},
		{"1", "TELLS", "", "BOTH"},
		{"TURN TURN TURN SET", "SKIP", "", "NO"}, // once round
		{"SET", "TONE", "", "NO"},
		{"SET", "BY", "", "RADIO"},
		{"SET", "TAG FRONT", "", ""},
		{"4 6 0 0", "TAG END", "", ""},
		{"1 2 2 8", "INPUT", "", ""},
		{"1", "MISSED", "", "SOON"},
		{"SET", "STORE", "", ""},
		{"1", "ZONE", "", ""},
	} {
		press(t, s, step.keys)
		if d := s.Display(); d.Prompt != step.prompt || d.Entered != step.entered || d.Stored != step.stored {
			t.Fatalf("after %s: %+v, want %s with %q, stored %q", step.keys, d, step.prompt, step.entered, step.stored)
		}
	}
	want := ZoneTable{"4": {
		panel.FieldKind: "10", panel.FieldArea: "WEST", panel.FieldWords: "6 5", panel.FieldCode: "111", panel.FieldPaths: "BOTH", panel.FieldBypass: "NO", panel.FieldDoorTone: "NO",
		panel.FieldLink: "RADIO", panel.FieldIdentityHead: "4600", panel.FieldIdentityTail: "1228", panel.FieldTerminal: "1", panel.FieldLoss: "SOON",
	}}
	if got := s.Table(); !got.Equal(want) {
		t.Errorf("the panel holds %v, want %v", got, want)
	}

	// Opened again it shows what is stored, and turning goes on from there.
	press(t, s, "4 SET")
	wantDisplay(t, s, "SIDE", "", "")
	if d := s.Display(); d.Stored != "WEST" {
		t.Errorf("%+v, want WEST", d)
	}
	press(t, s, "TURN SET")
	if s.hand[panel.FieldArea] != "EAST" {
		t.Errorf("one turn from WEST is %s, want EAST", s.hand[panel.FieldArea])
	}
}

// What is complete and wrong is refused in the same moment.
func TestAutoRefuses(t *testing.T) {
	for _, c := range []struct{ before, answer, prompt string }{
		{"", "0", "ZONE"},
		{"4", "9 9", "KIND"},
		{"4 1 0 SET", "4 0", "SAYS"},   // no such word
		{"4 1 0 SET", "6 5 6", "SAYS"}, // room for two words and the end
		{"4 1 0 SET 0 1 1 1 SET SET SET SET 4 6 0 0 1 2 2 8", "5", "INPUT"},
		{"4 1 0 SET 0 1 1 1 SET SET SET SET 4 6 0 0 1 2 2 8 1 SET", "2", "STORE"},
	} {
		s := NewSimulator(wicket(t), nil)
		press(t, s, c.before)
		if out := press(t, s, c.answer); out != Refused {
			t.Errorf("%s, then %s: %s, want refused", c.before, c.answer, out)
		}
		wantDisplay(t, s, c.prompt, "", "NO SUCH")
	}
	s := NewSimulator(wicket(t), nil)
	press(t, s, "4 1 0")
	if out := press(t, s, "5"); out != Ignored {
		t.Errorf("a digit at a toggle: %s, want ignored", out)
	}
	press(t, s, "SET 0 1 1")
	if out := press(t, s, "SET"); out != Refused {
		t.Errorf("two digits of a code and the accept key: %s, want refused", out)
	}
}

// A menu marks what the zone holds, and the menus above it.
func TestMarks(t *testing.T) {
	p := profile(t, "branch")
	s := NewSimulator(p, ZoneTable{"09": {panel.FieldKind: "HEAT", panel.FieldPaths: "MAIN"}})
	press(t, s, "IN 0 9 IN")
	for _, step := range []struct{ keys, item, mark string }{
		{"", "WHAT IT WATCHES", "="},
		{"IN", "DOORS AND WINDOWS", ""},
		{"DOWN DOWN DOWN", "FIRE", "="},
		{"IN", "SMOKE", ""},
		{"DOWN DOWN", "HEAT", "="},
		{"OUT OUT DOWN DOWN", "VOICE", ""}, // no terminal, no loss window
		{"DOWN", "STATION", "="},
		{"IN IN DOWN", "MAIN", "="},
	} {
		press(t, s, step.keys)
		if d := s.Display(); d.Entered != step.item || d.Mark != step.mark {
			t.Errorf("after %s: %+v, want %q %s", step.keys, d, step.mark, step.item)
		}
	}
}

// Sheets for a panel of toggles and questions that move on by themselves: the keys leave what is wanted, every card says what
// the panel shows, no zone takes more keys than the plain way, and what stands there is made use of.
func TestWicketSheets(t *testing.T) {
	p := wicket(t)
	pl := newPlanner(p)
	cover := keypadtest.Coverage{}
	for seed := range uint64(map[bool]int{true: 60, false: 600}[testing.Short()]) {
		s := keypadtest.Site(seed, p)
		want, _ := Wanted(s, p)
		found, holds := asFound(p, seed, want, true, keypadtest.Coverage{}) // a toggle can not be turned blindly
		sheet := Compile(s, p, found, Options{ReadBack: true})
		sim := NewSimulator(p, holds)
		for _, z := range sheet.Zones {
			follow := func(cards []Card) {
				for _, c := range cards {
					if d := sim.Display(); d.Prompt != c.Shows || c.Sees != "" && d.Stored != c.Sees {
						t.Fatalf("seed %d, zone %s: card %d says %q (stored %q), the panel shows %+v", seed, z.Zone, c.N, c.Shows, c.Sees, d)
					}
					for _, k := range c.Keys() {
						if out, err := sim.Press(k); err != nil || out == Refused || out == Ignored {
							t.Fatalf("seed %d, zone %s, %s: key %s: %v %v", seed, z.Zone, c.Shows, k, out, err)
						}
					}
					if d := sim.Display(); d.String() != c.Then {
						t.Fatalf("seed %d, zone %s, %s: then %q, the panel shows %q", seed, z.Zone, c.Shows, c.Then, d)
					}
				}
			}
			follow(z.Cards)
			follow(z.Check)
			if len(z.Cards) == 0 {
				continue
			}
			var keyed tally
			keyed.add(z.Cards)
			plain := pl.sum(pl.plain(aim{z.Zone, found[z.Zone], want[z.Zone]}))
			if cost(keyed.keys) > plain/oneKey {
				t.Errorf("seed %d, zone %s: %d keys, the plain way has %d", seed, z.Zone, keyed.keys, plain/oneKey)
			}
			for _, c := range z.Cards {
				cover.Add("card", map[bool]string{true: "sees", false: "types"}[c.Sees != ""])
			}
		}
		if got := sim.Table(); !got.Equal(untouched(sheet, holds, overlay(p, holds, want))) {
			t.Fatalf("seed %d: differences %v", seed, Compare(want, got))
		}
	}
	t.Log(cover)
}

// Zone 4 by hand: stored as heat on the west side, wanted as smoke on the east side. 10 for the kind; one TURN from WEST to EAST;
// words, code and tag are taken with SET where they stand, the code typed (111 for 114); STORE by 1.
func TestWicketGolden(t *testing.T) {
	have := Slots{
		"kind": "11", "area": "WEST", "words": "6 5", "code": "114", "paths": "BOTH", "bypass": "NO", "doorTone": "NO", "link": "RADIO",
		"identityHead": "4600", "identityTail": "1228", "terminal": "1", "lossWindow": "SOON",
	}
	want := with(have, "kind", "10", "area", "EAST", "code", "111")
	sheet := Between(wicket(t), ZoneTable{"4": have}, ZoneTable{"4": want}, Options{})
	// TELLS, SKIP, TONE, BY, TAG FRONT, TAG END: SET each; INPUT 1 is one key typed or taken; MISSED SET.
	got := strings.Join(sheet.Keys, " ")
	if typed, taken := "4 1 0 TURN SET SET 1 1 1 SET SET SET SET SET SET 1 SET 1 UNDO", "4 1 0 TURN SET SET 1 1 1 SET SET SET SET SET SET SET SET 1 UNDO"; got != typed && got != taken {
		t.Errorf("keys %s, want %s", got, taken)
	}
}

// Where nobody knows what a toggle shows first, its card names no number of turns to trust: it says to look.
func TestToggleOfAnUnknownZone(t *testing.T) {
	p, toggles := wicket(t), 0
	for _, z := range Compile(keypadtest.Site(3, p), p, nil, Options{}).Zones {
		for _, c := range z.Cards {
			if slices.ContainsFunc([]string{"SIDE", "TELLS", "SKIP", "TONE", "BY"}, func(shows string) bool { return c.Shows == shows }) {
				if toggles++; c.Sees != "" || !strings.Contains(c.Caution, "Do not count: turn with TURN until "+c.Answer+" stands there, only then press ") {
					t.Errorf("%s: sees %q, caution %q", c.Shows, c.Sees, c.Caution)
				}
			}
		}
	}
	if toggles == 0 {
		t.Error("no toggle among the cards")
	}
}
