package keypad

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"proofbell/internal/keypad/keypadtest"
	"proofbell/panel"
	"proofbell/site"
)

// Every member of every profile taken out, every number one less and one more, every text made that of its neighbour, every yes
// made a no: either the checker names what is wrong, or its report says what can not be told any more, or a site can be
// programmed as before. The simulator is the judge: the keys of a site that covers what the panel can be told have to make
// the zone table that was wanted.
func TestMutationsAreNamed(t *testing.T) {
	for _, p := range []*panel.Profile{profile(t, "ladder"), profile(t, "pigeonhole"), profile(t, "branch"), wicket(t)} {
		t.Run(p.Name, func(t *testing.T) {
			t.Parallel()
			mutate(t, p)
		})
	}
}

func mutate(t *testing.T, base *panel.Profile) {
	raw, err := json.Marshal(base)
	if err != nil {
		t.Fatal(err)
	}
	s, zones := covering(t, base)
	empty := ZoneTable{} // a panel in which nothing was ever programmed, and that is known
	for n := base.Zones.First; n <= base.Zones.Last; n++ {
		empty[base.ZoneID(n)] = Slots{}
	}
	refused, reported, harmless := 0, 0, 0
	mutations(raw, func(what string, changed []byte) {
		p := new(panel.Profile)
		if json.Unmarshal(changed, p) != nil || len(p.Check()) > 0 {
			refused++
			return
		}
		want, _ := Wanted(s, p)
		got, _, err := Rehearse(p, Compile(s, p, empty, Options{}).Keys, nil)
		switch {
		case err == nil && got.Equal(want) && len(want) == zones:
			harmless++
		case err == nil && got.Equal(want) && (len(p.CanNot()) > len(base.CanNot()) || narrower(base, p)):
			reported++
		default:
			t.Errorf("%s: passes the checker, and %d of %d zones can be programmed (%v)", what, len(got), zones, err)
		}
	})
	t.Logf("%d refused with the place, %d told in the report, %d harmless", refused, reported, harmless)
}

// narrower reports whether a panel has fewer words, areas, terminals or zones than before: its own limits, which the
// compiler names zone by zone.
func narrower(base, p *panel.Profile) bool {
	size := func(p *panel.Profile) []int {
		return []int{len(p.Words), p.Label.Words, len(p.Areas()), len(p.Terminals()), p.Zones.Last - p.Zones.First, len(p.Formats)}
	}
	before := size(base)
	for i, n := range size(p) {
		if n < before[i] {
			return true
		}
	}
	return !slices.Equal(slices.Sorted(maps.Keys(base.Words)), slices.Sorted(maps.Keys(p.Words)))
}

// covering makes a small site whose zones together use every kind, value, area and terminal that a generated site uses, a
// label of most words, and zones by radio, by wire and not used.
func covering(t *testing.T, p *panel.Profile) (*site.Site, int) {
	best, most := (*site.Site)(nil), keypadtest.Coverage{}
	for seed := range uint64(60) {
		s, cover := keypadtest.Site(seed, p), keypadtest.Coverage{}
		yes := true
		for i, id := range site.SortedIDs(s.Zones) {
			if z := s.Zones[id]; i%3 == 0 {
				z.TripLimit = &yes
				s.Zones[id] = z
			}
		}
		table, _ := Wanted(s, p)
		maps.DeleteFunc(s.Zones, func(id site.ZoneID, _ site.Zone) bool { // those that add nothing go
			n, _ := p.ZoneNumber(id)
			before := len(cover)
			for f, a := range table[p.ZoneID(n)] {
				switch {
				case len(p.Takes(panel.Node{Field: f, Form: panel.FormChoice})) > 0:
					cover.Add(string(f), a)
				case f == panel.FieldWords:
					cover.Add("words", len(strings.Fields(a)))
				}
			}
			return len(cover) == before
		})
		if len(cover) > len(most) {
			best, most = s, cover
		}
	}
	table, _ := Wanted(best, p)
	t.Logf("%d zones cover:\n%s", len(table), most)
	return best, len(table)
}

// mutations changes a JSON document in one place after another.
func mutations(raw []byte, try func(what string, changed []byte)) {
	var root any
	if err := json.Unmarshal(raw, &root); err != nil {
		panic(err)
	}
	send := func(what string) {
		changed, err := json.Marshal(root)
		if err != nil {
			panic(err)
		}
		try(what, changed)
	}
	var walk func(at string, v any, set func(any))
	walk = func(at string, v any, set func(any)) {
		instead := func(what string, other any) {
			set(other)
			send(at + " " + what)
			set(v)
		}
		switch v := v.(type) {
		case map[string]any:
			for _, key := range slices.Sorted(maps.Keys(v)) {
				was := v[key]
				if key == "why" || key == "notes" { // for people
					continue
				}
				delete(v, key)
				send(at + "." + key + " taken out")
				v[key] = was
				walk(at+"."+key, was, func(other any) { v[key] = other })
				for _, neighbour := range slices.Sorted(maps.Keys(v)) {
					if text, ok := was.(string); ok && neighbour > key {
						if other, ok := v[neighbour].(string); ok && other != text {
							v[key] = other
							send(at + "." + key + " made that of " + neighbour)
							v[key] = was
							break
						}
					}
				}
			}
		case []any:
			for i, was := range v {
				set(slices.Delete(slices.Clone(v), i, i+1))
				send(fmt.Sprintf("%s[%d] taken out", at, i))
				set(v)
				walk(fmt.Sprintf("%s[%d]", at, i), was, func(other any) { v[i] = other })
				if i > 0 {
					v[i] = v[i-1]
					send(fmt.Sprintf("%s[%d] made that before it", at, i))
					v[i] = was
				}
			}
			double(at, v, send)
		case float64:
			instead("one less", v-1)
			instead("one more", v+1)
		case bool:
			instead("turned", !v)
		}
	}
	walk("", root, func(any) {})
}

// double gives each object of a list the members of the one before it, one member at a time: doubled answers, keys and names.
func double(at string, list []any, send func(string)) {
	for i := 1; i < len(list); i++ {
		before, ok := list[i-1].(map[string]any)
		this, ok2 := list[i].(map[string]any)
		if !ok || !ok2 {
			continue
		}
		for _, key := range slices.Sorted(maps.Keys(before)) {
			if was, there := this[key]; there {
				this[key] = before[key]
				send(fmt.Sprintf("%s[%d].%s doubled", at, i, key))
				this[key] = was
			}
		}
	}
}
