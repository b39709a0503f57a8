package keypad

import (
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"proofbell/internal/keypad/keypadtest"
	"proofbell/panel"
)

// obey presses what the coach says until it has nothing more to say.
func obey(t testing.TB, s *Session, most int) {
	t.Helper()
	for range most {
		g := s.Guide()
		a := Act{After: 0.1, Key: g.Key}
		switch {
		case g.State == GuideDone:
			return
		case g.State == GuideAgain:
			a = Act{Again: true}
		case g.Key == panel.Wait:
			a = Act{After: s.e.Panel.Keypad.LetterPause.SI()}
		case g.Key == "":
			t.Fatalf("the coach has no key: %+v at %+v", g, s.Display())
		}
		if g.Card == nil && g.State != GuideAgain {
			t.Fatalf("the coach has no card: %+v", g)
		}
		if g.Card != nil && len(g.Press) > 0 && g.Press[0].Done == 0 && g.Card.Shows != s.Display().Prompt {
			t.Fatalf("the card says %q, the panel shows %+v", g.Card.Shows, s.Display())
		}
		slips := s.slips.all
		out, err := s.Do(a)
		if err != nil {
			t.Fatal(err)
		}
		if s.slips.all != slips {
			t.Fatalf("the coach's own key %q counts as wrong: %s, %+v, %+v", g.Key, out, g, s.slips.list[len(s.slips.list)-1])
		}
	}
	t.Fatalf("%d keys and no end: %+v at %+v", most, s.Guide(), s.Display())
}

func exercise09(t testing.TB) Exercise {
	return Exercise{Site: zone09(), Panel: ladder(t), Options: Options{ReadBack: true}}
}

func do(t testing.TB, s *Session, keys string) {
	t.Helper()
	for _, key := range strings.Fields(keys) {
		if _, err := s.Do(Act{After: 1, Key: key}); err != nil {
			t.Fatal(err)
		}
	}
}

// The sheet of zone 09 followed key by key: no key is wrong, and the result is the practice building's table.
func TestRehearsalOfZone09(t *testing.T) {
	s := NewSession(exercise09(t))
	do(t, s, strings.TrimSuffix(golden09Keys, " 9 9 9 OK"))
	if r := s.Result(); r.AsWanted || r.Zones[0].State != ZoneOpen || r.Slips != 0 || len(r.Differences) != 0 {
		t.Errorf("before KEEP: %+v", r)
	}
	do(t, s, "9 9 9 OK")
	g := s.Guide()
	if g.Part != PartCheck || g.Key != "0" || !s.Table().Equal(table09) {
		t.Errorf("after KEEP the zone is read back: %+v", g)
	}
	obey(t, s, 100)
	r := s.Result()
	// 47 keys of the zone; reading back takes 0 9 OK, eleven answers with one more OK that ends the listening, N at KEEP: 6 6 OK, and BACK.
	golden := len(strings.Fields(golden09Keys))
	if want := golden + 3 + 12 + 3 + 1; r.Keys != want || r.Slips != 0 || !r.AsWanted || !r.Left || !r.Zones[0].ReadBack || r.Zones[0].KeptRight != 1 {
		t.Errorf("%+v, want %d keys", r, want)
	}
	if r.Seconds < float64(golden) {
		t.Errorf("%g s for %d keys with a second before each", r.Seconds, golden)
	}
}

func TestWrongTurns(t *testing.T) {
	toCode := "0 9 OK 2 OK 3 1 3 2 0 5 0 0 OK 7 7 7 7 OK 2 OK "
	for _, c := range []struct {
		name, keys string
		slips      int
		back       string // the way back, as the panel's own description has it
		card       string // where the sheet goes on
	}{
		{"wrong digit", toCode + "1 1 2", 1, "BACK", "TELL WHOM?"},
		{"wrong digit taken", toCode + "1 1 2 OK", 1, "BACK", "AS WHAT?"},
		{"refused answer", "0 9 OK 2 OK 9 9 OK", 2, "", "SAYS?"}, // a first wrong 9, then the refusal, which clears it
		{"key without use", toCode + "1 1 1 1", 1, "", "AS WHAT?"},
		{"one letter too many is turned on", "0 9 OK 2 2", 1, "2 2", "PLACE?"}, // B, C, and A again
		{"zone that is not on the sheet", "1 2 OK", 1, "BACK", "ZONE?"},
		{"back is no mistake", "0 9 OK 2 OK BACK", 0, "", "PLACE?"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := NewSession(exercise09(t))
			do(t, s, c.keys)
			r := s.Result()
			if r.Slips != c.slips || r.Refused+r.Ignored+r.Strayed != c.slips {
				t.Errorf("%d wrong keys, want %d: %+v", r.Slips, c.slips, r.List)
			}
			var back []string
			for g := s.Guide(); g.State == GuideOff; g = s.Guide() {
				back = append(back, g.Key)
				do(t, s, g.Key)
			}
			if got := strings.Join(back, " "); got != c.back {
				t.Errorf("the way back is %q, want %q", got, c.back)
			}
			if g := s.Guide(); g.Card == nil || g.Card.Shows != c.card || g.Card.Shows != s.Display().Prompt {
				t.Errorf("then %+v, want %s", g, c.card)
			}
			obey(t, s, 200)
			if r := s.Result(); !r.AsWanted || r.Slips != c.slips {
				t.Errorf("%+v", r)
			}
		})
	}
}

func TestZoneKeptWrong(t *testing.T) {
	s := NewSession(exercise09(t))
	do(t, s, strings.Replace(golden09Keys, "1 1 1 OK", "1 1 0 OK", 1))
	r := s.Result()
	want := []Told{{Difference{"09", panel.FieldCode, "111", "110"}, "station code", "111", "110"}}
	if r.AsWanted || r.Zones[0].State != ZoneWrong || r.Zones[0].KeptWrong != 1 || !reflect.DeepEqual(r.Differences, want) {
		t.Errorf("%+v, want %+v", r, want)
	}
	if g := s.Guide(); g.State != GuideFollow || g.Zone != "09" || g.Part != PartZone {
		t.Errorf("the zone is put right first: %+v", g)
	}
	obey(t, s, 200)
	if r := s.Result(); !r.AsWanted || r.Zones[0].KeptRight != 1 || r.Zones[0].KeptWrong != 1 {
		t.Errorf("%+v", r)
	}
}

func TestIdlePanelDropsTheZone(t *testing.T) {
	s := NewSession(exercise09(t))
	do(t, s, "0 9 OK 2 OK")
	if got := s.Idle(); got != 120 {
		t.Errorf("%g s are left, want 120: that of this panel", got)
	}
	if _, err := s.Do(Act{After: 119}); err != nil || s.Display().Zone != "09" {
		t.Errorf("after 119 s: %+v", s.Display())
	}
	_, _ = s.Do(Act{After: 1})
	g := s.Guide()
	if s.Display().Zone != "" || g.State != GuideFollow || g.Key != "0" || !strings.Contains(g.Say, "dropped zone 09") {
		t.Errorf("after 120 s: %+v, %+v", s.Display(), g)
	}
	obey(t, s, 200)
	if r := s.Result(); !r.AsWanted || r.Dropped != 1 || r.Slips != 0 {
		t.Errorf("%+v", r)
	}
}

// A device that speaks saves typing its identity; the wrong one is sent away.
func TestDeviceThatSpeaks(t *testing.T) {
	toTagKeys := golden09Keys[:strings.Index(golden09Keys, " 2 2 7 7 7 0 0 1")]
	for identity, back := range map[string]string{"BR001013": "9 9 9 OK", "BR001014": "BACK"} {
		s := NewSession(exercise09(t))
		do(t, s, toTagKeys)
		if s.Listening() == 0 {
			t.Fatalf("the panel does not listen: %+v", s.Display())
		}
		_, _ = s.Do(Act{Hear: identity})
		var keys []string
		for g := s.Guide(); g.State == GuideOff; g = s.Guide() {
			keys = append(keys, g.Key)
			do(t, s, g.Key)
		}
		if got := strings.Join(keys, " "); got != back {
			t.Errorf("%s was heard: %q, want %q", identity, got, back)
		}
		obey(t, s, 200)
		if r := s.Result(); !r.AsWanted || r.Slips != 0 {
			t.Errorf("%s: %+v", identity, r)
		}
	}
}

func TestLeftTooEarly(t *testing.T) {
	s := NewSession(exercise09(t))
	do(t, s, "BACK")
	if g := s.Guide(); g.State != GuideAgain || s.Result().Slips != 1 {
		t.Errorf("%+v", g)
	}
	if _, err := s.Do(Act{Key: "1"}); err != nil || s.Result().Slips != 2 {
		t.Errorf("a key after the end: %v, %+v", err, s.Result())
	}
	if _, err := s.Do(Act{Key: "STAR"}); !errors.Is(err, ErrNotKey) {
		t.Errorf("STAR: %v, want ErrNotKey", err)
	}
	obey(t, s, 200)
	if r := s.Result(); !r.AsWanted {
		t.Errorf("%+v", r)
	}
}

// A drawer may be filled in any order: that is no mistake.
func TestDrawersInAnyOrder(t *testing.T) {
	p := profile(t, "pigeonhole")
	s := NewSession(Exercise{Site: zone09(), Panel: p})
	do(t, s, "OPEN 0 9 OK M 1 1 1 OK B 1 OK A 1 0 OK")
	if r := s.Result(); r.Slips != 0 || s.Guide().State != GuideFollow {
		t.Errorf("%+v, %+v", r.List, s.Guide())
	}
	obey(t, s, 200)
	if r := s.Result(); !r.AsWanted || r.Keys > s.Sheet().Count {
		t.Errorf("%+v", r)
	}
}

// Zones in another order than the sheet's are no mistake either, and zones outside of the exercise stay as they are.
func TestPartOfASite(t *testing.T) {
	p := ladder(t)
	built := keypadtest.Site(3, p)
	want, _ := Wanted(built, p)
	ids := slices.Sorted(maps.Keys(want))
	held := ZoneTable{ids[0]: want[ids[0]], "48": table09["09"]}
	if want["48"] != nil {
		delete(held, "48")
	}
	s := NewSession(Exercise{Site: built, Panel: p, Held: held, Zones: ids[1:3]})
	obey(t, s, 1000)
	expected := held.Clone()
	expected[ids[1]], expected[ids[2]] = want[ids[1]], want[ids[2]]
	if !s.Table().Equal(expected) || !s.Result().AsWanted {
		t.Errorf("differences %v", Compare(expected, s.Table()))
	}
}

// roam presses keys that nobody told: some of the coach's, some at random, now and then time passes or a device speaks.
func roam(r *rand.Rand, s *Session, n int) {
	p := s.e.Panel
	for range n {
		switch x := r.IntN(20); {
		case x < 10 && s.Next() != "" && s.Next() != panel.Wait:
			_, _ = s.Do(Act{After: 0.2, Key: s.Next()})
		case x == 10:
			_, _ = s.Do(Act{After: []float64{3, 70, 130}[r.IntN(3)]})
		case x == 11:
			_, _ = s.Do(Act{Hear: "SD001228"})
		case x == 12:
			_, _ = s.Do(Act{Again: true})
		default:
			_, _ = s.Do(Act{After: 0.2, Key: p.Keypad.Keys[r.IntN(len(p.Keypad.Keys))]})
		}
	}
}

// From wherever a learner has got to, doing as the coach says ends with the panel as wanted. Only what such a panel can not
// be told to forget may be left over.
func TestCoachLeadsHomeFromAnywhere(t *testing.T) {
	for _, name := range panel.Names() {
		t.Run(name, func(t *testing.T) {
			p := profile(t, name)
			sites := uint64(60)
			if testing.Short() {
				sites = 20
			}
			lost, wrong := 0, 0
			for seed := range sites {
				r := rand.New(rand.NewPCG(seed, 5))
				built := keypadtest.Site(seed, p)
				want, _ := Wanted(built, p)
				found, _ := asFound(p, seed, want, true, keypadtest.Coverage{})
				s := NewSession(Exercise{Site: built, Panel: p, Held: found, Options: Options{ReadBack: seed%2 == 0}})
				for range 5 {
					roam(r, s, r.IntN(60))
					if s.lost {
						lost++
					}
				}
				before := s.Result()
				wrong += before.Slips
				obey(t, s, 20_000)
				result := s.Result()
				if result.Slips != before.Slips {
					t.Fatalf("seed %d: %d wrong keys by the coach", seed, result.Slips-before.Slips)
				}
				for _, d := range Compare(s.Wanted(), s.Table()) {
					if s.byZone[d.Zone] != nil && (!p.Dialogue.Edits || d.Want != "") {
						t.Fatalf("seed %d: %+v", seed, d)
					}
				}
				for _, task := range s.tasks {
					if !s.right(task.cards.Zone) {
						t.Fatalf("seed %d: zone %s is not as wanted", seed, task.cards.Zone)
					}
				}
			}
			t.Logf("%d sites, %d times off the sheet, %d wrong keys", sites, lost, wrong)
			if lost == 0 || wrong == 0 {
				t.Error("nobody ever got lost")
			}
		})
	}
}

// A rehearsal run again from its acts is the same rehearsal.
func TestReplay(t *testing.T) {
	for _, name := range panel.Names() {
		p := profile(t, name)
		e := Exercise{Site: keypadtest.Site(11, p), Panel: p, Options: Options{ReadBack: true}}
		s := NewSession(e)
		r := rand.New(rand.NewPCG(11, 1))
		var acts []Act
		for range 600 {
			a := Act{After: float64(r.IntN(4)), Key: s.Next()}
			if a.Key == "" || a.Key == panel.Wait || r.IntN(12) == 0 {
				a.Key = p.Keypad.Keys[r.IntN(len(p.Keypad.Keys))]
			}
			acts = append(acts, a)
			if _, err := s.Do(a); err != nil {
				t.Fatal(err)
			}
		}
		again, err := Replay(e, acts)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(again.Result(), s.Result()) || !reflect.DeepEqual(again.Guide(), s.Guide()) || again.Display() != s.Display() {
			t.Errorf("%s: run again it is another rehearsal", name)
		}
	}
}

// Any stream of keys is taken without a panic, and the coach always has something to say.
func FuzzSession(f *testing.F) {
	f.Add(uint8(0), []byte("09 OK"))
	f.Add(uint8(1), []byte{250, 251, 1, 2, 3, 252, 253})
	f.Add(uint8(2), []byte{12, 12, 0, 9, 12, 11, 11, 12, 255})
	profiles := map[uint8]*panel.Profile{}
	for i, name := range panel.Names() {
		p, err := panel.Builtin(name)
		if err != nil {
			f.Fatal(err)
		}
		profiles[uint8(i)] = p
	}
	f.Fuzz(func(t *testing.T, which uint8, stream []byte) {
		p := profiles[which%uint8(len(profiles))]
		s := NewSession(Exercise{Site: zone09(), Panel: p, Options: Options{ReadBack: true}})
		for _, b := range stream[:min(len(stream), 400)] {
			a := Act{Key: p.Keypad.Keys[int(b)%len(p.Keypad.Keys)]}
			switch b {
			case 250:
				a = Act{After: 2}
			case 251:
				a = Act{After: 60}
			case 252:
				a = Act{Hear: fmt.Sprintf("BR%06d", int(b))}
			case 253:
				a = Act{Again: true}
			case 254:
				a = Act{Key: "STAR"}
			case 255:
				a = Act{Key: s.Next()}
			}
			if _, err := s.Do(a); err != nil && !errors.Is(err, ErrNotKey) {
				t.Fatal(err)
			}
		}
		if g := s.Guide(); g.State == GuideOff && g.Key == "" {
			t.Fatalf("no way back: %+v at %+v", g, s.Display())
		}
		s.Result()
	})
}
