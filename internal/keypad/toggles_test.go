package keypad

import (
	"errors"
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
		found, holds := asFound(p, seed, want, seed%2 == 0, keypadtest.Coverage{})
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
				if toggles++; c.Sees != "" || !strings.Contains(c.Caution, "Do not count: turn with TURN until the display shows "+c.Answer+", only then press SET.") {
					t.Errorf("%s: sees %q, caution %q", c.Shows, c.Sees, c.Caution)
				}
				if !slices.Equal(c.Press, []string{"TURN", "until " + c.Answer, "SET"}) || !slices.Equal(c.Keys(), []string{"TURN>" + c.Answer, "SET"}) {
					t.Errorf("%s: press %q, keys %q", c.Shows, c.Press, c.Keys())
				}
			}
		}
	}
	if toggles == 0 {
		t.Error("no toggle among the cards")
	}
}

// Zone 4 with nothing known of it, from every answer that each of its six toggles may show first, and from an empty zone: the
// same cards leave what is wanted, at the simulated panel and by the coach, who presses as often as it takes.
func TestTogglesFromEveryStart(t *testing.T) {
	p := wicket(t)
	fields := []panel.Field{panel.FieldArea, panel.FieldPaths, panel.FieldBypass, panel.FieldDoorTone, panel.FieldLink, panel.FieldLoss}
	order := map[panel.Field][]string{}
	for _, n := range p.Dialogue.Nodes {
		if n.Form == panel.FormToggle {
			order[n.Field] = n.Order
		}
	}
	have := Slots{
		"kind": "11", "area": "WEST", "words": "6 5", "code": "114", "paths": "BOTH", "bypass": "NO", "doorTone": "NO", "link": "RADIO",
		"identityHead": "4600", "identityTail": "1228", "terminal": "1", "lossWindow": "SOON",
	}
	want := with(have, "kind", "10", "area", "WEST", "paths", order[panel.FieldPaths][1], "bypass", "YES", "code", "111")
	sheet := Between(p, nil, ZoneTable{"4": want}, Options{})
	starts := []Slots{nil}
	var from func(Slots, []panel.Field)
	from = func(slots Slots, left []panel.Field) {
		if len(left) == 0 {
			starts = append(starts, slots)
			return
		}
		for _, a := range order[left[0]] {
			from(with(slots, string(left[0]), a), left[1:])
		}
	}
	if from(have, fields); len(starts) < 1+2*3*2*2*2*3 {
		t.Fatalf("%d starts of %v", len(starts), order)
	}
	most := 0
	for _, start := range starts {
		held := ZoneTable{}
		if start != nil {
			held["4"] = start
		}
		got, _, err := Rehearse(p, sheet.Keys, held)
		if err != nil || !got.Equal(ZoneTable{"4": want}) {
			t.Fatalf("from %v: %v, %v", start, got, err)
		}
		sim, pressed := NewSimulator(p, held), 0
		for _, c := range sheet.Zones[0].Cards {
			if len(c.Press) > 1 && strings.HasPrefix(c.Press[1], until) && sim.Display().Prompt != c.Shows {
				t.Fatalf("from %v: %s, the panel shows %v", start, c.Shows, sim.Display())
			}
			for _, key := range c.Keys() { // as a person does it: turn, look, turn
				if turn, to, turns := strings.Cut(key, ">"); turns {
					for d := sim.Display(); d.Entered != to && (d.Entered != "" || d.Stored != to); d = sim.Display() {
						press(t, sim, turn)
						pressed++
					}
					continue
				}
				press(t, sim, key)
				pressed++
			}
		}
		if most = max(most, pressed); !sim.Table().Equal(ZoneTable{"4": want}) {
			t.Fatalf("from %v, turned and looked: %v", start, sim.Table())
		}
	}
	if all := sheet.Count - len(sheet.Leave); most != all { // the count is the most that it takes
		t.Errorf("at most %d keys, the sheet says %d", most, all)
	}
	// A list as text, and words that turn nothing.
	if keys, err := ParseKeys(p, []byte(strings.Join(sheet.Keys, " "))); err != nil || !slices.Equal(keys, sheet.Keys) {
		t.Errorf("%v, %v", keys, err)
	}
	for keys, at := range map[string]int{"TURN>WEST": 1, "4 1 0 TURN>NORTH": 4, "4 1 0 SET TURN>WEST": 5} {
		list, err := ParseKeys(p, []byte(keys))
		if err != nil {
			t.Fatal(err)
		}
		var wrong *KeyError
		if _, _, err := Rehearse(p, list, nil); !errors.As(err, &wrong) || wrong.Position != at || !errors.Is(err, ErrIgnored) {
			t.Errorf("%s: %v", keys, err)
		}
	}
	if _, err := ParseKeys(p, []byte("4 SPIN>WEST")); !errors.Is(err, ErrNotKey) {
		t.Errorf("no such key turns: %v", err)
	}
}

// A rehearsal of a zone of which the sheet knows nothing is finished by the coach's keys alone; a group says until when.
func TestCoachTurns(t *testing.T) {
	p := wicket(t)
	for seed := range uint64(20) {
		s := NewSession(Exercise{Site: keypadtest.Site(seed, p), Panel: p, Options: Options{ReadBack: true}})
		until := 0
		for n := 0; s.Guide().State == GuideFollow && n < 20000; n++ {
			for _, g := range s.Guide().Press {
				if strings.HasPrefix(g.Say, "TURN until ") {
					until++
				}
			}
			if out, err := s.Do(Act{Key: s.Next()}); err != nil || out == Ignored || out == Refused {
				t.Fatalf("seed %d: %v %v", seed, out, err)
			}
		}
		if _, slips, _, _ := s.Counts(); !s.Finished() || slips > 0 || until == 0 {
			t.Errorf("seed %d: finished %v, %d wrong keys, %d groups that turn", seed, s.Finished(), slips, until)
		}
	}
}
