package keypad

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"proofbell/panel"
)

func small(t testing.TB, name string) *panel.Profile {
	t.Helper()
	raw, err := os.ReadFile("testdata/small-" + name + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	p, err := panel.Decode(name, raw)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// exhaustive tries every key from every state of the simulated panel, cheapest first, and returns the least cost of keeping
// zone 1 as each table that can be kept. It knows nothing of nodes or answers: only keys and what the simulator became.
func exhaustive(p *panel.Profile, have Slots) map[string]cost {
	held := ZoneTable{}
	if have != nil {
		held["1"] = have
	}
	least := map[string]cost{}
	type at struct {
		sim  *Simulator
		cost cost
	}
	seen := map[string]bool{}
	level := map[cost][]at{0: {{NewSimulator(p, held), 0}}}
	keys := []string{panel.Wait}
	for _, k := range p.Keypad.Keys {
		if !strings.Contains("345689", k) { // no answer of these panels has them but as digits of an identity
			keys = append(keys, k)
		}
	}
	for len(level) > 0 {
		now := slices.Min(slices.Collect(maps.Keys(level)))
		all := level[now]
		delete(level, now)
		for _, a := range all {
			id := simState(a.sim)
			if seen[id] {
				continue
			}
			seen[id] = true
			for _, k := range keys {
				if k == panel.Wait && a.sim.entry.turning == "" {
					continue
				}
				s := copySim(a.sim)
				out, _ := s.Press(k)
				c := now + oneKey
				if k == panel.Wait {
					c = now + oneWait
				}
				switch {
				case s.ended, out == Ignored, out == Refused, s.zone != "" && s.zone != "1":
				case !maps.EqualFunc(s.stored, held, func(a, b Slots) bool { return maps.Equal(a, b) }): // kept
					if name := named(s.stored["1"]); least[name] == 0 || c < least[name] {
						least[name] = c
					}
				default:
					level[c] = append(level[c], at{s, c})
				}
			}
		}
	}
	return least
}

func simState(s *Simulator) string {
	return fmt.Sprint(s.node, s.item, s.path, s.zone, named(s.hand), s.entry, s.listening > 0)
}

func copySim(s *Simulator) *Simulator {
	c := *s
	c.stored, c.hand, c.path = s.stored.Clone(), maps.Clone(s.hand), slices.Clone(s.path)
	return &c
}

func named(s Slots) string {
	var b strings.Builder
	for _, f := range panel.Fields() {
		if a, ok := s[f]; ok {
			fmt.Fprintf(&b, "%s=%s ", f, a)
		}
	}
	return b.String()
}

func parse(name string) Slots {
	s := Slots{}
	for _, part := range strings.Fields(name) {
		f, a, _ := strings.Cut(part, "=")
		s[panel.Field(f)] = a
	}
	return s
}

// Single zones: what the search finds costs as few keys, and of those as few waits, as the best of all key sequences.
func TestOptimalAgainstEveryKeySequence(t *testing.T) {
	variants := map[string][]func(*panel.Profile){
		"questions": {
			func(*panel.Profile) {},
			func(p *panel.Profile) { p.Dialogue.Recall = false },
			func(p *panel.Profile) { // the kind fills, and what was filled is shown
				p.Kinds[0].Fills = map[panel.Field]string{panel.FieldArea: "A", panel.FieldLink: "P"}
				p.Kinds[1].Fills = map[panel.Field]string{panel.FieldArea: "B", panel.FieldLink: "S"}
			},
			func(p *panel.Profile) { // a toggle, and questions that move on by themselves
				n := p.Dialogue.Nodes["area"]
				n.Form, n.Turns, n.Order = panel.FormToggle, "7", []string{"A", "B"}
				p.Dialogue.Nodes["area"] = n
				for _, id := range []string{"zone", "keep"} {
					n := p.Dialogue.Nodes[id]
					n.Auto = true
					p.Dialogue.Nodes[id] = n
				}
			},
		},
		"drawers": {
			func(*panel.Profile) {},
			func(p *panel.Profile) {
				for i := range p.Kinds {
					p.Kinds[i].Fills = nil
				}
			},
		},
		"menus": {
			func(*panel.Profile) {},
			func(p *panel.Profile) { // a menu that is a short cut: choosing a tone leads on to the places
				n := p.Dialogue.Nodes["tone"]
				n.Items = slices.Clone(n.Items)
				n.Items[0].Go, n.Items[1].Go = "room", "room"
				p.Dialogue.Nodes["tone"] = n
			},
			func(p *panel.Profile) { // a kind that leads elsewhere than the others
				n := p.Dialogue.Nodes["fire"]
				n.Items = slices.Clone(n.Items)
				n.Items[0].Go = "kinds"
				p.Dialogue.Nodes["fire"] = n
			},
		},
	}
	for name, all := range variants {
		for i, change := range all {
			t.Run(fmt.Sprintf("%s %d", name, i), func(t *testing.T) {
				p := small(t, name)
				change(p)
				if faults := p.Check(); len(faults) > 0 {
					t.Fatal(faults)
				}
				optimal(t, p)
			})
		}
	}
}

func optimal(t *testing.T, p *panel.Profile) {
	r := rand.New(rand.NewPCG(1, 2))
	empty := exhaustive(p, nil)
	tables := slices.Sorted(maps.Keys(empty))
	starts, tried, filled := []Slots{{}}, 0, 0
	for range map[bool]int{true: 1, false: 3}[testing.Short()] {
		starts = append(starts, parse(tables[r.IntN(len(tables))]))
	}
	pl := newPlanner(p)
	for _, have := range starts {
		least := empty
		if len(have) > 0 {
			least = exhaustive(p, have)
		}
		for _, name := range slices.Sorted(maps.Keys(least)) {
			want := parse(name)
			if !whole4(p, want) || maps.Equal(have, want) {
				continue
			}
			tried++
			steps := pl.plan(aim{"1", have, want})
			if got := pl.sum(steps) / oneWait * oneWait; got != least[name] {
				t.Errorf("from %v to %v: %d keys and %d waits, the best of all sequences has %d and %d", have, want,
					got/oneKey, got%oneKey/oneWait, least[name]/oneKey, least[name]%oneKey/oneWait)
			}
			k := keyer{p: p, zone: "1", slots: want}
			var keys []string
			for _, c := range k.cards(steps) {
				keys = append(keys, c.keys...)
			}
			table, _, err := Rehearse(p, keys, ZoneTable{"1": have})
			if err != nil || !maps.Equal(table["1"], want) {
				t.Fatalf("from %v to %v the keys %v leave %v (%v)", have, want, keys, table["1"], err)
			}
			kinds := 0
			for _, st := range steps {
				if st.pick != nil && st.pick.Sets[panel.FieldKind] != "" || p.Dialogue.Nodes[st.node].Field == panel.FieldKind && st.pick == nil && !st.back {
					kinds++
				}
			}
			if kinds > 1 {
				filled++
			}
			// When nothing is known of the panel, the keys work whatever it holds.
			keys = nil
			for _, c := range k.cards(pl.plan(aim{"1", nil, want})) {
				keys = append(keys, c.keys...)
			}
			if p.Dialogue.Nodes["area"].Form == panel.FormToggle {
				continue // a toggle can not be keyed blindly: its card says to what it has to be turned
			}
			if table, _, err := Rehearse(p, keys, ZoneTable{"1": have}); err != nil || !maps.Equal(table["1"], want) {
				t.Fatalf("to %v, keyed blindly on %v, the keys %v leave %v (%v)", want, have, keys, table["1"], err)
			}
		}
	}
	t.Logf("%d pairs of tables, %d times a kind was chosen for its fills alone", tried, filled)
	if tried < 60 {
		t.Errorf("only %d pairs", tried)
	}
}

// whole4 reports whether a table has every field that its kind of zone is asked for: only such are wanted of a panel.
func whole4(p *panel.Profile, s Slots) bool {
	if !p.Dialogue.Edits {
		return true // it keeps nothing else
	}
	for _, f := range []panel.Field{panel.FieldKind, panel.FieldArea, panel.FieldBypass, panel.FieldDoorTone} {
		if s[f] == "" {
			return false
		}
	}
	return true
}
