package keypad

import (
	"errors"
	"strings"
	"testing"

	"proofbell/panel"
	"proofbell/site"
)

// press types a line of keys and answers and fails on a key that the panel does not know.
func press(t *testing.T, s *Simulator, line string) Outcome {
	t.Helper()
	keys, err := ParseKeys(s.p, []byte(line))
	if err != nil {
		t.Fatal(err)
	}
	var out Outcome
	for _, k := range keys {
		if out, err = s.Press(k); err != nil {
			t.Fatal(err)
		}
	}
	return out
}

func wantDisplay(t *testing.T, s *Simulator, prompt, entered, notice string) {
	t.Helper()
	if d := s.Display(); d.Prompt != prompt || d.Entered != entered || d.Notice != notice {
		t.Errorf("the panel shows %+v, want %q with %q and notice %q", d, prompt, entered, notice)
	}
}

const (
	toDanger = "09 OK A OK 31 32 05 00 OK"
	toTag    = toDanger + " S OK 2 OK 111 OK N OK N OK R OK"
)

func TestLettersOnNumberKeys(t *testing.T) {
	s := NewSimulator(ladder(t), nil)
	press(t, s, toDanger)
	// From the keypad: 7 gives P Q R S and then P again.
	for _, want := range []string{"P", "Q", "R", "S", "P"} {
		press(t, s, "7")
		wantDisplay(t, s, "DANGER?", want, "")
	}
	if out := press(t, s, "7 7 7 OK"); out != Taken || s.hand[panel.FieldKind] != "S" {
		t.Errorf("P and three more presses: %s %v, want S", out, s.hand)
	}
	s = NewSimulator(ladder(t), nil)
	press(t, s, toDanger+" 3 2") // D, and then places for digits
	wantDisplay(t, s, "DANGER?", "D2", "")
	s = NewSimulator(ladder(t), nil)
	press(t, s, toTag+" 6 WAIT 6 6 6") // M and O sit on one key
	wantDisplay(t, s, "MAKE IT SPEAK", "MO", "")
	s.Advance(1.9)
	press(t, s, "6") // two letters stand before the digits; less than 2 s: the letter still turns
	wantDisplay(t, s, "MAKE IT SPEAK", "MM", "")
	s.Advance(2)
	press(t, s, "6")
	wantDisplay(t, s, "MAKE IT SPEAK", "MM6", "")
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct{ before, answer, prompt string }{
		{"", "49 OK", "ZONE?"},
		{"", "00 OK", "ZONE?"},
		{"", "9 OK", "ZONE?"}, // two digits are wanted
		{"", "OK", "ZONE?"},
		{"09 OK", "G OK", "PLACE?"},
		{"09 OK", "1 OK", "PLACE?"},
		{"09 OK A OK", "31 32 05 OK", "SAYS?"},                  // not ended
		{"09 OK A OK", "31 00 05 00 OK", "SAYS?"},               // ended in the middle
		{"09 OK A OK", "99 00 OK", "SAYS?"},                     // no such word
		{"09 OK A OK", "01 02 03 04 05 OK", "SAYS?"},            // five words
		{"09 OK A OK", "3 OK", "SAYS?"},                         // half a word
		{toDanger, "D OK", "DANGER?"},                           // D1 or D2
		{toDanger, "D3 OK", "DANGER?"},                          //
		{toDanger, "S1 OK", "DANGER?"},                          //
		{toDanger + " S OK", "3 OK", "TELL WHOM?"},              //
		{toDanger + " S OK 2 OK", "11 OK", "AS WHAT?"},          //
		{toTag, "BR01013 OK", "MAKE IT SPEAK"},                  // a digit is missing
		{toTag, "XX001013 OK", "MAKE IT SPEAK"},                 // no such family
		{toTag, "OK OK", "MAKE IT SPEAK"},                       // listening ended, nothing typed
		{toTag + " BR001013 OK", "E OK", "WHICH TERMINAL?"},     //
		{toTag + " BR001013 OK A OK", "4 OK", "MISSED AFTER?"},  //
		{toTag + " BR001013 OK A OK 1 OK", "OK", "KEEP?"},       // an answer is wanted
		{toTag + " BR001013 OK A OK 1 OK", "A OK", "KEEP?"},     //
		{toTag + " BR001013 OK A OK 1 OK", "9 OK", "KEEP?"},     // W: the key was pressed once
		{toTag + " BR001013 OK A OK 1 OK", "0 0 0 OK", "KEEP?"}, //
	} {
		s := NewSimulator(ladder(t), nil)
		press(t, s, c.before)
		out := press(t, s, c.answer)
		if out != Refused {
			t.Errorf("%s, then %s: %s, want refused", c.before, c.answer, out)
		}
		wantDisplay(t, s, c.prompt, "", "NOT TAKEN")
		if len(s.Table()) > 0 {
			t.Errorf("%s, then %s: something was stored: %v", c.before, c.answer, s.Table())
		}
		press(t, s, "1")
		if s.Display().Notice != "" {
			t.Errorf("the notice stays after the next key")
		}
	}
}

func TestKeysThatDoNothing(t *testing.T) {
	s := NewSimulator(ladder(t), nil)
	if _, err := s.Press("STAR"); !errors.Is(err, ErrNotKey) {
		t.Errorf("STAR: %v, want ErrNotKey", err)
	}
	press(t, s, "0 9")
	if out := press(t, s, "1"); out != Ignored {
		t.Errorf("a third digit at ZONE?: %s, want ignored", out)
	}
	wantDisplay(t, s, "ZONE?", "09", "")
	press(t, s, "BACK")
	if _, err := s.Press("1"); !errors.Is(err, ErrEnded) || !s.Ended() {
		t.Errorf("after leaving: %v, want ErrEnded", err)
	}
	wantDisplay(t, s, "PROGRAMMING ENDED", "", "")
}

func TestBackStepsUp(t *testing.T) {
	s := NewSimulator(ladder(t), nil)
	press(t, s, toTag+" 2 BACK") // what was begun here is forgotten
	wantDisplay(t, s, "SPEAKS BY?", "", "")
	if s.Display().Stored != "R" {
		t.Errorf("the answer given before is not shown: %+v", s.Display())
	}
	// On a wire now: no identity, no loss window, and none of what was answered for radio is stored.
	press(t, s, "W OK B OK Y OK")
	want := ZoneTable{"09": {
		panel.FieldArea: "A", panel.FieldWords: "31 32 05", panel.FieldKind: "S", panel.FieldPaths: "2", panel.FieldCode: "111",
		panel.FieldBypass: "N", panel.FieldDoorTone: "N", panel.FieldLink: "W", panel.FieldTerminal: "B",
	}}
	if got := s.Table(); !got.Equal(want) {
		t.Errorf("the panel holds %v, want %v", got, want)
	}
	// A radio answer left behind by going back is not kept either.
	s = NewSimulator(ladder(t), nil)
	press(t, s, toTag+" BR001013 OK A OK 1 OK BACK BACK BACK BACK")
	wantDisplay(t, s, "SPEAKS BY?", "", "")
	press(t, s, "W OK B OK Y OK")
	if got := s.Table(); !got.Equal(want) {
		t.Errorf("after going back from radio the panel holds %v, want %v", got, want)
	}
	// Back from the first question lets the zone go.
	press(t, s, "10 OK BACK")
	if d := s.Display(); d.Prompt != "ZONE?" || d.Zone != "" {
		t.Errorf("the panel shows %+v, want ZONE? and no zone in hand", d)
	}
}

func TestUnusedEndsAtKeep(t *testing.T) {
	s := NewSimulator(ladder(t), nil)
	press(t, s, "48 OK D OK 00 OK U OK")
	wantDisplay(t, s, "KEEP?", "", "")
	press(t, s, "Y OK")
	wantDisplay(t, s, "ZONE?", "", "KEPT")
	if got, want := s.Table(), (ZoneTable{"48": {panel.FieldArea: "D", panel.FieldWords: "", panel.FieldKind: "U"}}); !got.Equal(want) {
		t.Errorf("the panel holds %v, want %v", got, want)
	}
}

func TestNotKept(t *testing.T) {
	s := NewSimulator(ladder(t), table09)
	press(t, s, "09 OK B OK 00 OK U OK N OK")
	wantDisplay(t, s, "ZONE?", "", "NOT KEPT")
	if !s.Table().Equal(table09) {
		t.Errorf("the panel holds %v, want what it held", s.Table())
	}
}

// A stored zone is read by taking every answer as it stands.
func TestRecall(t *testing.T) {
	s := NewSimulator(ladder(t), table09)
	press(t, s, "09 OK")
	for _, want := range []string{"A", "31 32 05", "S", "2", "111", "N", "N", "R"} {
		if got := s.Display().Stored; got != want {
			t.Errorf("%s shows %q, want %q", s.Display().Prompt, got, want)
		}
		press(t, s, "OK")
	}
	press(t, s, "OK") // ends the listening
	if d := s.Display(); d.Prompt != "MAKE IT SPEAK" || d.Stored != "BR001013" {
		t.Errorf("the panel shows %+v", d)
	}
	press(t, s, "OK OK OK Y OK")
	if !s.Table().Equal(table09) {
		t.Errorf("the panel holds %v, want what it held", s.Table())
	}
}

func TestIdleDropsTheZone(t *testing.T) {
	s := NewSimulator(ladder(t), nil)
	press(t, s, toDanger)
	s.Advance(119)
	wantDisplay(t, s, "DANGER?", "", "")
	press(t, s, "7") // a key begins the time anew
	s.Advance(119.5)
	wantDisplay(t, s, "DANGER?", "P", "")
	s.Advance(0.5)
	wantDisplay(t, s, "ZONE?", "", "TOO SLOW, ZONE DROPPED")
	if len(s.Table()) > 0 || s.Display().Zone != "" {
		t.Errorf("dropped, yet %v and %+v", s.Table(), s.Display())
	}
}

func TestListening(t *testing.T) {
	p := ladder(t)
	rest := " A OK 1 OK Y OK"
	typed := func(how string, act func(*Simulator)) {
		s := NewSimulator(p, nil)
		press(t, s, toTag)
		act(s)
		press(t, s, rest)
		if !s.Table().Equal(table09) {
			t.Errorf("%s: the panel holds %v, want %v", how, s.Table(), table09)
		}
	}
	typed("typed at once", func(s *Simulator) { press(t, s, "BR001013 OK") })
	typed("OK without a trip, then typed", func(s *Simulator) { press(t, s, "OK BR001013 OK") })
	typed("nothing within 60 s, then typed", func(s *Simulator) {
		s.Advance(60)
		if s.Hear("BR001013") {
			t.Error("heard after the listening had ended")
		}
		press(t, s, "BR001013 OK")
	})
	typed("tripped and kept", func(s *Simulator) {
		s.Advance(59)
		if !s.Hear("BR001013") {
			t.Error("not heard within 60 s")
		}
		wantDisplay(t, s, "HEARD. KEEP TAG?", "BR001013", "")
		press(t, s, "Y OK")
	})
	typed("a neighbour refused, then tripped", func(s *Simulator) {
		s.Hear("DC001124")
		press(t, s, "N OK")
		wantDisplay(t, s, "MAKE IT SPEAK", "", "")
		if !s.Hear("BR001013") {
			t.Error("it does not listen again after a refusal")
		}
		press(t, s, "Y OK")
	})
	s := NewSimulator(p, nil)
	if s.Hear("BR001013") {
		t.Error("heard at ZONE?")
	}
	press(t, s, toTag)
	s.Hear("BR001013")
	press(t, s, "BACK")
	wantDisplay(t, s, "MAKE IT SPEAK", "", "")
}

// No key can leave half a zone: whatever is stored is a whole way through the dialogue.
func FuzzSimulator(f *testing.F) {
	f.Add([]byte(golden09Keys))
	f.Add([]byte("09OA O\x01"))
	p, err := panel.Builtin("ladder")
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		s := NewSimulator(p, nil)
		for _, b := range raw {
			switch {
			case int(b) < len(p.Keypad.Keys):
				s.Press(p.Keypad.Keys[b])
			case b >= '0' && b <= '9':
				s.Press(string(b))
			case b == 'O':
				s.Press(p.Keypad.Accept)
			case b == 'B':
				s.Press(p.Keypad.Back)
			case b == 'W':
				s.Press(panel.Wait)
			case b == 'H':
				s.Hear("BR001013")
			case b > 128:
				s.Advance(float64(b - 128))
			}
			s.Display()
		}
		whole(t, s.Table())
	})
}

// Drawers and menus may be kept half told; that is the panels' way. What they hold is always something that they take.
func FuzzDrawersAndMenus(f *testing.F) {
	f.Add([]byte{26, 0, 8, 29, 10, 0, 9, 29, 27})
	f.Add([]byte{12, 9, 4, 12, 12, 12, 12, 11, 11, 11, 11, 11, 12})
	drawers, menus := profile(f, "pigeonhole"), profile(f, "branch")
	f.Fuzz(func(t *testing.T, raw []byte) {
		for _, p := range []*panel.Profile{drawers, menus} {
			s := NewSimulator(p, nil)
			for _, b := range raw {
				switch {
				case int(b) < len(p.Keypad.Keys):
					s.Press(p.Keypad.Keys[b])
				case b == 'H':
					s.Hear("BR001013")
				default:
					s.Advance(float64(b))
				}
				s.Display()
			}
			for id, slots := range s.Table() {
				if _, ok := p.ZoneNumber(id); !ok {
					t.Errorf("zone %q", id)
				}
				for f, a := range slots {
					if _, listed := p.Answers[f]; listed {
						if _, ok := p.Value(f, a); !ok {
							t.Errorf("zone %s: %s holds %q", id, f, a)
						}
					}
				}
			}
		}
	})
}

// whole lists by hand what a kept zone of Ladder has.
func whole(t *testing.T, table ZoneTable) {
	t.Helper()
	wired := "area words kind paths code bypass doorTone link terminal"
	for id, slots := range table {
		want := wired
		switch {
		case slots[panel.FieldKind] == "U":
			want = "area words kind"
		case slots[panel.FieldLink] == "R":
			want = wired + " identity lossWindow"
		}
		names := strings.Fields(want)
		for _, f := range names {
			if _, ok := slots[panel.Field(f)]; !ok {
				t.Errorf("zone %s is half a zone: no %s in %v", id, f, slots)
			}
		}
		if len(slots) != len(names) {
			t.Errorf("zone %s has more than was asked for: %v", id, slots)
		}
	}
}

func FuzzParseKeys(f *testing.F) {
	f.Add([]byte(golden09Keys))
	f.Add([]byte(`{"format":"proofbell.keys/1","panel":"ladder","version":"1.0","keys":["0","9","OK","WAIT","BACK"]}`))
	f.Add([]byte("09 OK # zone\nMO005710 OK"))
	p, err := panel.Builtin("ladder")
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		keys, err := ParseKeys(p, raw)
		if err != nil {
			return
		}
		table, _, _ := Rehearse(p, keys, nil)
		whole(t, table)
		again, err := ParseKeys(p, []byte(strings.Join(keys, " ")))
		if err != nil || strings.Join(again, " ") != strings.Join(keys, " ") {
			t.Errorf("%q came back as %q (%v)", keys, again, err)
		}
	})
}

func FuzzParseTable(f *testing.F) {
	p, err := panel.Builtin("ladder")
	if err != nil {
		f.Fatal(err)
	}
	raw, err := AppendTable(p, table09)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(raw)
	f.Add([]byte(`{"format":"proofbell.zones/1","panel":"ladder","zones":{"1":null}}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		table, err := ParseTable(p, raw)
		if err != nil {
			return
		}
		again, err := AppendTable(p, table)
		if err != nil {
			t.Fatal(err)
		}
		if back, err := ParseTable(p, again); err != nil || !back.Equal(table) {
			t.Errorf("%v came back as %v (%v)", table, back, err)
		}
		Compile(&site.Site{}, p, table, Options{})
	})
}

func TestParseKeysRefuses(t *testing.T) {
	p := ladder(t)
	for raw, want := range map[string]string{
		`{"format":"proofbell.keys/2","panel":"ladder","version":"1.0","keys":[]}`:        "format",
		`{"format":"proofbell.keys/1","panel":"attic","version":"1.0","keys":[]}`:         `panel "attic"`,
		`{"format":"proofbell.keys/1","panel":"ladder","version":"2.0","keys":[]}`:        `version "2.0"`,
		`{"format":"proofbell.keys/1","panel":"ladder","version":"1.0","keys":["1","X"]}`: `key 2 "X"`,
		`{"keys":`:           "unexpected end",
		"09 OK\n  A OK é OK": "2:8",
		"09 OK !":            "1:7",
	} {
		if _, err := ParseKeys(p, []byte(raw)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want it to say %s", raw, err, want)
		}
	}
	if _, err := ParseKeys(p, make([]byte, maxInput+1)); err == nil {
		t.Error("a key list over the limit was read")
	}
}

func TestParseTableRefuses(t *testing.T) {
	p := ladder(t)
	doc := func(zones string) string {
		return `{"format":"proofbell.zones/1","panel":"ladder","zones":{` + zones + `}}`
	}
	for raw, want := range map[string]string{
		doc(`"49":{}`):               "zone \"49\"",
		doc(`"1":{},"01":{}`):        "twice",
		doc(`"01":{"colour":"red"}`): `"colour"`,
		doc(`"01":{"zone":"01"}`):    `"zone" is not a field`,
		doc(``) + "{}":               "follows",
		`{"format":"x"}`:             "format",
		`{"format":"proofbell.zones/1","panel":"attic"}`:       "attic",
		doc(`"01":{"kind":"` + strings.Repeat("S", 65) + `"}`): "too long",
	} {
		if _, err := ParseTable(p, []byte(raw)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want it to say %s", raw, err, want)
		}
	}
}
