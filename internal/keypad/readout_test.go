package keypad

import (
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"proofbell/internal/keypad/keypadtest"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// technician reads a zone out of a simulated panel as the cards say and tells what the display shows.
type technician struct {
	t   *testing.T
	p   *panel.Profile
	s   *Simulator
	cut int // cards after which the zone is left; 0: never
	// what was done
	keys, cards int
}

func (m *technician) read(zone site.ZoneID, opt ReadOptions) ZoneReading {
	m.t.Helper()
	var seen []Seen
	for range 200 {
		opt.Stop = m.cut > 0 && len(seen) >= m.cut
		r, err := ReadZone(m.p, zone, seen, opt)
		if err != nil {
			m.t.Fatalf("zone %s: %v after %v", zone, err, seen)
		}
		if r.Done {
			return r
		}
		m.press(r.Card)
		if r.Card.Ask == AskLeave || r.Card.Ask == AskGo {
			if opt.Stop && r.Card.Ask == AskLeave {
				return r
			}
			seen = append(seen, Seen{})
			continue
		}
		seen = append(seen, Seen{Text: m.see(r.Card)})
	}
	m.t.Fatalf("zone %s: no end after %v", zone, seen)
	return ZoneReading{}
}

func (m *technician) press(c ReadCard) {
	m.t.Helper()
	m.cards++
	if d := m.s.Display(); d.Prompt != c.Shows {
		m.t.Fatalf("zone %s, card %d (%s): the panel shows %+v, the card says %s", c.Zone, c.N, c.What, d, c.Shows)
	}
	if joined := strings.Join(c.Press, ""); joined != strings.ReplaceAll(strings.Join(c.Keys(), ""), panel.Wait, "") {
		m.t.Fatalf("card %d shows %v and presses %v", c.N, c.Press, c.Keys())
	}
	for _, key := range c.Keys() {
		m.keys++
		if out, err := m.s.Press(key); err != nil || out == Refused || out == Ignored {
			m.t.Fatalf("zone %s, card %d (%s): key %s at %+v: %s %v", c.Zone, c.N, c.What, key, m.s.Display(), out, err)
		}
	}
	if d := m.s.Display(); d.Prompt != c.Then {
		m.t.Fatalf("zone %s, card %d (%s): then the panel shows %+v, the card says %s", c.Zone, c.N, c.What, d, c.Then)
	}
}

// see tells what stands there. At a menu the technician looks for the mark and stops at it.
func (m *technician) see(c ReadCard) string {
	d := m.s.Display()
	switch c.Ask {
	case AskSum:
		return d.Notice
	case AskMark:
		for range 50 { // to the first line
			_, _ = m.s.Press(m.p.Keypad.Up)
		}
		for range 50 {
			if d := m.s.Display(); d.Mark != "" {
				return d.Mark + " " + d.Entered
			}
			_, _ = m.s.Press(m.p.Keypad.Down)
		}
		return ""
	}
	return d.Stored
}

// found makes a table that a panel might have been left with: what the site wants, some of it otherwise, some zones empty.
func found(r *rand.Rand, p *panel.Profile, seed uint64) ZoneTable {
	table, _ := Wanted(keypadtest.Site(seed, p), p)
	other, _ := Wanted(keypadtest.Site(seed+1_000_000, p), p)
	for id := range table {
		switch r.IntN(4) {
		case 0:
			if other[id] != nil {
				table[id] = other[id]
			}
		case 1:
			if !p.Dialogue.Edits {
				break
			}
			for f := range table[id] { // drawers may have been left half filled
				if r.IntN(3) == 0 && f != panel.FieldWords {
					delete(table[id], f)
				}
			}
		}
	}
	return table
}

// Reading out any table by the cards gives that table, and leaves the panel as it was.
func TestReadOutGivesTheTable(t *testing.T) {
	seeds := 24
	if testing.Short() {
		seeds = 8
	}
	for _, p := range append(builtins(t), wicket(t)) {
		t.Run(p.Name, func(t *testing.T) {
			if why := Readable(nil, p); why != "" {
				t.Fatal(why)
			}
			r := rand.New(rand.NewPCG(7, 5))
			cover, zones, keys, early, earlyKeys := keypadtest.Coverage{}, 0, 0, 0, 0
			for seed := range uint64(seeds) {
				table := found(r, p, seed)
				plan, _ := Wanted(keypadtest.Site(seed, p), p)
				m := &technician{t: t, p: p, s: NewSimulator(p, table)}
				got := ZoneTable{}
				ids := slices.Sorted(maps.Keys(table))
				free := p.ZoneID(p.Zones.First + r.IntN(p.Zones.Last-p.Zones.First+1))
				for _, id := range append(ids[:min(len(ids), 6)], free) {
					opt := ReadOptions{Plan: plan[id], Full: true}
					if plan[id] == nil && r.IntN(2) == 0 {
						opt.Plan = Slots{}
					}
					out := m.read(id, opt)
					if !out.Read || out.BySum || len(out.Unknown) > 0 || len(out.Notes) > 0 {
						t.Fatalf("seed %d, zone %s: %+v", seed, id, out)
					}
					if got[id] = out.Slots; !maps.Equal(out.Slots, table[id]) {
						t.Fatalf("seed %d, zone %s: read %v, the panel holds %v", seed, id, out.Slots, table[id])
					}
					for f, a := range out.Slots {
						if f != panel.FieldIdentity && f != panel.FieldWords && f != panel.FieldIdentityHead && f != panel.FieldIdentityTail {
							cover.Add(string(f), a)
						}
					}
				}
				zones, keys = zones+len(got), keys+m.keys
				if !m.s.Table().Equal(table) {
					t.Fatalf("seed %d: reading changed the panel: %v", seed, Compare(table, m.s.Table()))
				}
				m.keys = 0
				for id := range got { // by the sum, and broken off in the middle
					m.cut = 0
					if out := m.read(id, ReadOptions{Plan: table[id], Kept: true}); out.Read && !maps.Equal(out.Slots, table[id]) {
						t.Fatalf("seed %d, zone %s by its sum: %v", seed, id, out.Slots)
					}
					early, earlyKeys = early+1, earlyKeys+m.keys
					m.keys, m.cut = 0, 1+r.IntN(6)
					if out := m.read(id, ReadOptions{Plan: plan[id]}); out.BySum || out.Read && len(out.Slots) > 0 && !maps.Equal(out.Slots, table[id]) {
						t.Fatalf("broken off, zone %s counts as read: %+v", id, out)
					}
					m.keys = 0
				}
				if !m.s.Table().Equal(table) || m.s.Ended() || m.s.Display().Zone != "" {
					t.Fatalf("seed %d: the panel was not left as it was", seed)
				}
			}
			t.Logf("%d zones, %d keys each; as planned %d keys each\n%s", zones, keys/zones, earlyKeys/early, cover)
		})
	}
}

func builtins(t *testing.T) []*panel.Profile {
	t.Helper()
	var out []*panel.Profile
	for _, name := range panel.Names() {
		out = append(out, profile(t, name))
	}
	return out
}

// Zone 09 of the practice building, card by card, walked by hand along the three panels of its description: keys, then what
// the panel shows, then what stands there.
func TestReadOutByHand(t *testing.T) {
	for name, want := range map[string][][3]string{
		"ladder": {
			{"0 9 OK", "PLACE?", "A"},
			{"OK", "SAYS?", "31 32 05"},
			{"OK", "DANGER?", "S"},
			{"OK", "TELL WHOM?", "2"},
			{"OK", "AS WHAT?", "111"},
			{"OK", "MAY BE LEFT OUT?", "N"},
			{"OK", "RING AT THE DOOR?", "N"},
			{"OK", "SPEAKS BY?", "R"},
			{"OK", "MAKE IT SPEAK", "BR001013"},
			{"OK OK", "WHICH TERMINAL?", "A"}, // the first ends the listening
			{"OK", "MISSED AFTER?", "1"},
			{"OK", "KEEP?", ""},
			{"6 6 OK", "ZONE?", ""}, // N: not kept
		},
		"pigeonhole": {
			{"OPEN 0 9 OK SUM", "SLOT", "SUM 707"}, // the sum of trade practice for this zone; life safety is read slot by slot all the same
			{"A", "A", "10"},
			{"BACK B", "B", "1"},
			{"BACK C", "C", "4500"},
			{"BACK D", "D", "1013"},
			{"BACK E", "E", "1"},
			{"BACK F", "F", "1"},
			{"BACK G", "G", "1"},
			{"BACK H", "H", "1"},
			{"BACK J", "J", "0"},
			{"BACK K", "K", "0"},
			{"BACK L", "L", "0"},
			{"BACK M", "M", "111"},
			{"BACK N", "N", "31"},
			{"BACK P", "P", "32"},
			{"BACK Q", "Q", "05"},
			{"BACK R", "R", "00"},
			{"BACK BACK", "CABINET", ""},
		},
		"branch": {
			{"IN 0 9 IN IN DOWN DOWN DOWN", "WHAT IT WATCHES", "= FIRE"},
			{"IN", "FIRE", "= SMOKE"},
			{"OUT OUT DOWN IN IN", "AREA", "1"},
			{"OUT DOWN IN", "WORDS", "31 32 05"},
			{"OUT OUT DOWN DOWN IN IN IN", "TYPE THE TAG", "BR001013"},
			{"OUT OUT DOWN IN", "TERMINAL", "= A"},
			{"OUT DOWN DOWN IN DOWN", "MISSED AFTER", "= SHORT"},
			{"OUT OUT DOWN DOWN DOWN IN IN DOWN DOWN DOWN", "PATHS", "= BOTH"},
			{"OUT DOWN IN", "CODE", "111"},
			{"OUT OUT DOWN DOWN DOWN DOWN IN IN DOWN", "DOOR TONE", "= NO"},
			{"OUT DOWN IN DOWN", "BYPASS", "= NO"},
			{"OUT DOWN DOWN IN DOWN", "TRIP LIMIT", "= NO"},
			{"OUT OUT OUT", "HOUSE BOOK", ""},
		},
	} {
		p := profile(t, name)
		plan, _ := Wanted(zone09(), p)
		var seen []Seen
		for i, w := range want {
			r, err := ReadZone(p, "09", seen, ReadOptions{Plan: plan["09"]})
			if err != nil {
				t.Fatal(err)
			}
			if c := r.Card; strings.Join(c.Keys(), " ") != w[0] || c.Then != w[1] || c.N != i+1 || c.Of != len(want) {
				t.Fatalf("%s: card %d of %d presses %v and then shows %s, want %d of %d: %s, %s", name, c.N, c.Of, c.Keys(), c.Then, i+1, len(want), w[0], w[1])
			}
			seen = append(seen, Seen{Text: w[2]})
		}
		r, err := ReadZone(p, "09", seen, ReadOptions{Plan: plan["09"]})
		if err != nil || !r.Done || !r.Read || !maps.Equal(r.Slots, plan["09"]) || r.BySum {
			t.Errorf("%s: %+v, %v", name, r, err)
		}
	}
}

func seeing(texts ...string) (seen []Seen) {
	for _, text := range texts {
		seen = append(seen, Seen{Text: text})
	}
	return seen
}

// A zone that differs is seen as it is, an empty one ends after one look, and what no answer fits is refused or, when
// whoever looks is sure, kept as seen.
func TestReadOutOfWhatDiffers(t *testing.T) {
	p := profile(t, "ladder")
	plan := table09["09"]
	// Kind L, as in the first draft of the practice building; typed as a person types.
	r, err := ReadZone(p, "09", seeing("a", " 31 32  05", "l", "2", "111", "N", "n", "R", "br00 1013", "a", "1", "", ""), ReadOptions{Plan: plan})
	want := maps.Clone(plan)
	want[panel.FieldKind] = "L"
	if err != nil || !r.Read || !maps.Equal(r.Slots, want) {
		t.Errorf("%+v, %v", r, err)
	}
	if r, err = ReadZone(p, "09", seeing("A", "mains alarms smoke"), ReadOptions{}); err != nil || r.Slots[panel.FieldWords] != "31 32 05" {
		t.Errorf("words as they are spoken: %+v, %v", r.Slots, err)
	}
	r, err = ReadZone(p, "20", seeing("", ""), ReadOptions{Plan: Slots{}})
	if err != nil || !r.Done || !r.Read || len(r.Slots) != 0 || r.Slots == nil {
		t.Errorf("an empty zone: %+v, %v", r, err)
	}
	// Nothing stands in the middle: the rest can not be seen, and the zone counts as not known.
	if r, err = ReadZone(p, "09", seeing("A", "", "", ""), ReadOptions{}); err != nil || r.Read || len(r.Notes) != 1 {
		t.Errorf("a gap: %+v, %v", r, err)
	}
	_, err = ReadZone(p, "09", seeing("A", "31", "X"), ReadOptions{})
	if err == nil || !strings.Contains(err.Error(), "X is no answer of this panel here (DANGER?)") {
		t.Errorf("an unknown kind: %v", err)
	}
	r, err = ReadZone(p, "09", append(seeing("A", "31"), Seen{"x", true}), ReadOptions{})
	if err != nil || r.Slots[panel.FieldKind] != "X" || !slices.Equal(r.Unknown, []string{"DANGER? X"}) {
		t.Errorf("sure of an unknown kind: %+v, %v", r, err)
	}
}

// Bypass 1 and loss window 0 add up to 707 like bypass 0 and loss window 1: the sum is no proof for life safety. For a door it
// saves the look at each slot, where the book says that it was keyed with just these answers; a plan alone is no reason.
func TestSumAloneForNoLifeSafety(t *testing.T) {
	p := profile(t, "pigeonhole")
	wanted, _ := Wanted(zone09(), p)
	if r, err := ReadZone(p, "09", seeing("707"), ReadOptions{Plan: wanted["09"], Kept: true}); err != nil || r.BySum || r.Card.Then != "A" {
		t.Errorf("smoke: %+v, %v", r, err)
	}
	door := maps.Clone(wanted["09"])
	door[panel.FieldKind] = "4" // perimeter: six less than smoke's 10
	if r, err := ReadZone(p, "09", seeing("701", ""), ReadOptions{Plan: door, Kept: true}); err != nil || !r.BySum || !r.Done || !maps.Equal(r.Slots, door) {
		t.Errorf("door: %+v, %v", r, err)
	}
	if r, err := ReadZone(p, "09", seeing("701"), ReadOptions{Plan: door}); err != nil || r.BySum || r.Card.Then != "A" {
		t.Errorf("a door that nobody keyed: %+v, %v", r, err)
	}
	if r, err := ReadZone(p, "09", seeing("000"), ReadOptions{Plan: Slots{}}); err != nil || r.BySum || r.Card.Then != "A" {
		t.Errorf("nothing is planned, and nobody knows: %+v, %v", r, err)
	}
	// After keying the same: smoke slot by slot, a door by its sum when it was keyed so, else slot by slot.
	cards := func(slots Slots, kind site.ZoneKind, keyed bool) []string {
		var out []string
		for _, c := range ReadBack(nil, p, "09", site.Zone{Kind: kind}, slots, keyed) {
			out = append(out, strings.Join(append(c.Keys(), c.Sees), " "))
		}
		return out
	}
	bySlot := func(kind, sum string) []string { // worked by hand: each press leads to the next slot, each line ends with what stands there before it
		return []string{
			"OPEN 0 9 OK SUM ", "A ", "BACK B " + kind, "BACK C 1", "BACK D 4500", "BACK E 1013", "BACK F 1", "BACK G 1", "BACK H 1", "BACK J 1", "BACK K 0", "BACK L 0", "BACK M 0", "BACK N 111", "BACK P 31", "BACK Q 32", "BACK R 05", "BACK BACK 00",
		}
	}
	for _, keyed := range []bool{false, true} {
		if got := cards(wanted["09"], site.Smoke, keyed); !slices.Equal(got, bySlot("10", "707")) {
			t.Errorf("smoke, keyed %v: %q", keyed, got)
		}
	}
	if got := cards(door, site.Perimeter, false); !slices.Equal(got, bySlot("4", "701")) {
		t.Errorf("a door that nobody keyed: %q", got)
	}
	if got := cards(door, site.Perimeter, true); !slices.Equal(got, []string{"OPEN ", "0 9 OK ", "SUM ", "BACK "}) {
		t.Errorf("a door that was keyed: %q", got)
	}
}

// Two mistakes that leave the sum as it is are both seen at the slots where they are, for every zone of life safety of many sites.
func TestTwoMistakesDoNotHide(t *testing.T) {
	p := profile(t, "pigeonhole")
	tried := 0
	for seed := range uint64(60) {
		s := keypadtest.Site(seed, p)
		want, _ := Wanted(s, p)
		for _, z := range Compile(s, p, nil, Options{ReadBack: true}).Zones {
			slots := want[z.Zone]
			if len(z.Check) == 0 {
				continue
			}
			wrong := maps.Clone(slots)
			number := func(f panel.Field) int { n, _ := strconv.Atoi(slots[f]); return n }
			wrong[panel.FieldCode] = fmt.Sprintf("%03d", (number(panel.FieldCode)+1)%1000)
			wrong[panel.FieldWord1] = fmt.Sprintf("%02d", number(panel.FieldWord1)-1)
			if wrong.Sum() != slots.Sum() || number(panel.FieldWord1) < 2 {
				continue
			}
			tried++
			sim, seen := NewSimulator(p, ZoneTable{z.Zone: wrong}), []panel.Field{}
			for _, c := range z.Check {
				if d := sim.Display(); c.Sees != "" && d.Stored != c.Sees {
					seen = append(seen, c.Field)
				}
				for _, key := range c.Keys() {
					if _, err := sim.Press(key); err != nil {
						t.Fatal(err)
					}
				}
				if d := sim.Display(); d.String() != c.Then {
					t.Fatalf("seed %d, zone %s: %q, the panel shows %q", seed, z.Zone, c.Then, d)
				}
			}
			if !slices.Equal(seen, []panel.Field{panel.FieldCode, panel.FieldWord1}) {
				t.Fatalf("seed %d, zone %s: seen at %v", seed, z.Zone, seen)
			}
		}
	}
	if tried < 100 {
		t.Errorf("only %d zones were tried", tried)
	}
}

// A panel that shows its sum and whose prompts can not be left without answering: the sheet says that it is the sum alone, and why.
func TestOnlyTheSum(t *testing.T) {
	p := profile(t, "pigeonhole")
	for id, n := range p.Dialogue.Nodes {
		if n.Field == panel.FieldKind {
			n.Back = ""
		}
		p.Dialogue.Nodes[id] = n
	}
	if faults := p.Check(); len(faults) > 0 {
		t.Fatal(faults)
	}
	why := Readable(nil, p)
	sheet := Compile(zone09(), p, nil, Options{ReadBack: true})
	if why == "" || len(sheet.Zones[0].Check) != 4 {
		t.Fatalf("readable: %q, %d cards", why, len(sheet.Zones[0].Check))
	}
	if !slices.ContainsFunc(sheet.Cautions, func(c string) bool {
		return strings.Contains(c, why) && strings.Contains(c, "Two mistakes can hide each other")
	}) {
		t.Errorf("cautions %q", sheet.Cautions)
	}
}

// A drawer whose answers do not add up to its sum was read wrongly; a menu may have no mark.
func TestReadOutOfDrawersAndMenus(t *testing.T) {
	p := profile(t, "pigeonhole")
	wanted, _ := Wanted(zone09(), p)
	slots := seeing("10", "1", "4500", "1013", "1", "1", "1", "1", "0", "0", "0", "111", "31", "32", "05", "00", "")
	r, err := ReadZone(p, "09", append(seeing("707"), slots...), ReadOptions{Plan: wanted["09"], Full: true})
	if err != nil || !r.Read || !maps.Equal(r.Slots, wanted["09"]) || r.BySum {
		t.Errorf("slot by slot: %+v, %v", r, err)
	}
	r, err = ReadZone(p, "09", append(seeing("708"), slots...), ReadOptions{Plan: wanted["09"]})
	if err != nil || r.Read || len(r.Notes) != 1 || !strings.Contains(r.Notes[0], "707") {
		t.Errorf("read wrongly: %+v, %v", r, err)
	}
	p = profile(t, "branch")
	r, err = ReadZone(p, "09", seeing("", "1", ""), ReadOptions{})
	if err != nil || r.Slots[panel.FieldArea] != "1" || len(r.Slots) != 1 {
		t.Errorf("no mark: %+v, %v", r, err)
	}
	if _, err = ReadZone(p, "09", seeing("= LIGHTNING"), ReadOptions{}); err == nil || !strings.Contains(err.Error(), "LIGHTNING is no answer of this panel here (WHAT IT WATCHES). There are: DOORS AND WINDOWS") {
		t.Errorf("an unknown line: %v", err)
	}
}

func TestReadOrder(t *testing.T) {
	s := zone09()
	s.Zones["03"] = site.Zone{Label: "Lounge doors", Kind: site.Perimeter}
	s.Zones["4"] = site.Zone{Label: "Escape door", Kind: site.Perimeter}
	s.Zones["11"] = site.Zone{Label: "Landing smoke", Kind: site.Smoke}
	s.Zones["12"] = site.Zone{Label: "Hall smoke", Kind: site.Smoke}
	held := map[site.ZoneID]bool{"12": true, "03": false, "48": true} // known; true: seen at the display
	var got []string
	for _, z := range ReadOrder(s, ladder(t), func(n site.ZoneID) (known, seen bool) { seen, known = held[n]; return known, seen }) {
		got = append(got, string(z.Zone)+" "+string(z.Need))
	}
	if want := []string{"09 read", "11 read", "04 read", "03 checked", "12 known", "48 known", "01 other"}; !slices.Equal(got[:7], want) || len(got) != 48 {
		t.Errorf("%d zones, %v, want %v", len(got), got[:7], want)
	}
}

// What can not be read out at the keypad is said, not guessed.
func TestReadable(t *testing.T) {
	for name, c := range map[string]struct {
		bend func(*panel.Profile)
		want string
	}{
		"ladder": {func(p *panel.Profile) { p.Dialogue.Recall = false }, "shows nothing"},
		"branch": {func(p *panel.Profile) { p.Dialogue.Marks = "" }, "WHAT IT WATCHES"},
		"pigeonhole": {func(p *panel.Profile) {
			n := p.Dialogue.Nodes["code"]
			n.Back = ""
			p.Dialogue.Nodes["code"] = n
		}, "No key leads to M and back"},
	} {
		p := profile(t, name)
		bent := *p
		bent.Dialogue.Nodes = maps.Clone(p.Dialogue.Nodes)
		c.bend(&bent)
		if why := Readable(nil, &bent); !strings.Contains(why, c.want) {
			t.Errorf("%s: %q, want %q", name, why, c.want)
		}
	}
}

// Nothing that is typed as seen panics, and what is taken can be kept in a zone table.
func FuzzSeen(f *testing.F) {
	profiles := []*panel.Profile{profile(f, "ladder"), profile(f, "pigeonhole"), profile(f, "branch")}
	for _, text := range []string{"", "A", "31 32 05 00", "br001013", "SUM 707", "= FIRE", "\u00e4\x00", strings.Repeat("0", 70)} {
		f.Add(uint8(0), uint8(3), text, false)
		f.Add(uint8(1), uint8(0), text, true)
		f.Add(uint8(2), uint8(7), text, true)
	}
	f.Fuzz(func(t *testing.T, which, after uint8, text string, sure bool) {
		p := profiles[int(which)%len(profiles)]
		plan, _ := Wanted(zone09(), p)
		opt := ReadOptions{Plan: plan["09"], Full: true}
		var seen []Seen
		for range after % 12 {
			r, err := ReadZone(p, "09", seen, opt)
			if err != nil {
				t.Fatalf("as planned: %v", err)
			}
			seen = append(seen, Seen{Text: r.Card.Plan})
		}
		r, err := ReadZone(p, "09", append(seen, Seen{text, sure}), opt)
		if err != nil {
			var told *words.Error
			if !errors.As(err, &told) || err.Error() == "" {
				t.Fatalf("%q: %v is not for people", text, err)
			}
			return
		}
		if _, err := AppendTable(p, ZoneTable{"09": r.Slots}); err != nil {
			t.Fatal(err)
		}
		for field, a := range r.Slots {
			if len(a) > maxShown {
				t.Fatalf("%s of %d characters", field, len(a))
			}
		}
	})
}
