package survey

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"proofbell/site"
)

func house(heads ...site.HeadID) *site.Site {
	s := &site.Site{Format: site.Format, Heads: map[site.HeadID]site.Head{}}
	for _, id := range heads {
		s.Heads[id] = site.Head{Kind: "smoke"}
	}
	return s
}

func heard(head site.HeadID, all ...site.HeadID) Press { return Press{Head: head, Heard: all} }

func counted(head site.HeadID, n int) Press { return Press{Head: head, Count: n} }

func TestInterconnect(t *testing.T) {
	three := house("M1", "M2", "M3")
	grouped := house("M1", "M2", "M3")
	grouped.Groups = map[site.GroupID]site.Group{"X": {}}
	for _, id := range []site.HeadID{"M1", "M2", "M3"} {
		grouped.Heads[id] = site.Head{Kind: "smoke", Group: "X"}
	}
	for name, c := range map[string]struct {
		site    *site.Site
		presses []Press
		want    string // groups, those in doubt with "?"; alone; open; number of contradictions
		patch   string
	}{
		"nothing pressed":           {three, nil, " | | M1 M2 M3 | 0", `null`},
		"one press, all":            {three, []Press{heard("M1", "M1", "M2", "M3")}, "M:M1,M2,M3 | | | 0", `{"groups":{"M":{}},"heads":{"M1":{"group":"M"},"M2":{"group":"M"},"M3":{"group":"M"}}}`},
		"two and one":               {three, []Press{heard("M1", "M1", "M3"), heard("M2", "M2")}, "M:M1,M3 | M2 | | 0", `{"groups":{"M":{}},"heads":{"M1":{"group":"M"},"M3":{"group":"M"}}}`},
		"over a third":              {three, []Press{heard("M1", "M1", "M2"), heard("M3", "M3", "M2")}, "M?:M1,M2,M3 | | | 2", `null`},
		"one way only":              {three, []Press{heard("M1", "M1", "M2"), heard("M2", "M2")}, "M?:M1,M2 | | M3 | 1", `null`},
		"the newest press counts":   {three, []Press{heard("M2", "M2"), heard("M1", "M1", "M2"), heard("M2", "M1", "M2")}, "M:M1,M2 | | M3 | 0", `{"groups":{"M":{}},"heads":{"M1":{"group":"M"},"M2":{"group":"M"}}}`},
		"counted all":               {three, []Press{counted("M2", 3)}, "M:M1,M2,M3 | | | 0", `{"groups":{"M":{}},"heads":{"M1":{"group":"M"},"M2":{"group":"M"},"M3":{"group":"M"}}}`},
		"counted one":               {three, []Press{counted("M2", 1)}, " | M2 | M1 M3 | 0", `null`},
		"counted some":              {three, []Press{counted("M2", 2)}, " | | M1 M2 M3 | 0", `null`},
		"count fits":                {three, []Press{counted("M2", 2), heard("M1", "M1", "M2")}, "M:M1,M2 | | M3 | 0", `{"groups":{"M":{}},"heads":{"M1":{"group":"M"},"M2":{"group":"M"}}}`},
		"count does not fit":        {three, []Press{counted("M2", 2), heard("M1", "M1", "M2", "M3")}, "M?:M1,M2,M3 | | | 1", `null`},
		"gave no sound":             {three, []Press{counted("M2", 0)}, " | | M1 M2 M3 | 0", `null`},
		"dead, but linked":          {three, []Press{heard("M1", "M2", "M3")}, "M?:M1,M2,M3 | | | 1", `null`},
		"an alarm that is gone":     {three, []Press{heard("M9", "M1"), heard("M1", "M1", "M9")}, " | M1 | M2 M3 | 0", `null`},
		"as the site has it":        {grouped, []Press{heard("M1", "M1", "M2", "M3")}, "X:M1,M2,M3 | | | 0", `null`},
		"one that is not in it":     {grouped, []Press{heard("M1", "M1"), heard("M2", "M2", "M3")}, "X:M2,M3 | M1 | | 0", `{"heads":{"M1":{"group":null}}}`},
		"two groups, one id before": {grouped, []Press{heard("M1", "M1", "M2")}, "X:M1,M2 | | M3 | 0", `null`},
	} {
		t.Run(name, func(t *testing.T) {
			got := Interconnect(nil, c.site, c.presses)
			if line := summary(got); !slices.Equal(strings.Fields(line), strings.Fields(c.want)) {
				t.Errorf("got %q, want %q", line, c.want)
			}
			if string(got.Patch) != c.patch {
				t.Errorf("patch %s, want %s", got.Patch, c.patch)
			}
		})
	}
}

func summary(l Links) string {
	var groups, open []string
	for _, g := range l.Groups {
		doubt := ""
		if g.Doubt {
			doubt = "?"
		}
		groups = append(groups, fmt.Sprintf("%s%s:%s", g.ID, doubt, list(g.Heads)))
	}
	for _, u := range l.Open {
		open = append(open, string(u.Head))
	}
	return fmt.Sprintf("%s | %s | %s | %d", strings.Join(groups, " "), list(l.Alone), strings.Join(open, " "), len(l.Contradiction))
}

func TestContradictionsAreNamed(t *testing.T) {
	got := Interconnect(nil, house("M1", "M2", "M3"), []Press{heard("M1", "M1", "M2", "M3"), heard("M2", "M1", "M2")})
	if len(got.Contradiction) != 1 || got.Contradiction[0].Say != "M2 pressed: M3 stayed silent, but another press has them sound together." {
		t.Errorf("%+v", got.Contradiction)
	}
}

// Whatever the wiring: when every alarm is pressed and every one that sounds is tapped, the wiring comes out, in whatever
// order they were pressed, and applying it leaves nothing to change.
func TestInterconnectFindsTheWiring(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 12).Draw(t, "heads")
		wiring := make([]int, n) // the circuit of each
		s := house()
		ids := make([]site.HeadID, n)
		for i := range n {
			ids[i] = site.HeadID(fmt.Sprintf("M%d", i+1))
			s.Heads[ids[i]] = site.Head{Kind: "smoke"}
			wiring[i] = rapid.IntRange(0, 3).Draw(t, "circuit")
		}
		var presses []Press
		for _, i := range rapid.Permutation(numbers(n)).Draw(t, "order") {
			p := Press{Head: ids[i]}
			for j := range n {
				if wiring[j] == wiring[i] {
					p.Heard = append(p.Heard, ids[j])
				}
			}
			presses = append(presses, p)
		}
		got := Interconnect(nil, s, presses)
		if len(got.Contradiction)+len(got.Open) > 0 {
			t.Fatalf("nothing is in doubt, but %+v", got)
		}
		text, err := json.Marshal(s)
		if err != nil {
			t.Fatal(err)
		}
		if string(got.Patch) != "null" {
			if text, err = site.Apply(text, got.Patch); err != nil {
				t.Fatal(err)
			}
		}
		after, err := site.DecodeJSON("", text)
		if err != nil {
			t.Fatal(err)
		}
		for i := range n {
			for j := range n {
				a, b := after.Heads[ids[i]].Group, after.Heads[ids[j]].Group
				if together := a != "" && a == b; i != j && together != (wiring[i] == wiring[j]) {
					t.Fatalf("%s in %q, %s in %q", ids[i], a, ids[j], b)
				}
			}
		}
		if again := Interconnect(nil, after, presses); string(again.Patch) != "null" {
			t.Fatalf("a second time it changes %s", again.Patch)
		}
	})
}

func list(ids []site.HeadID) string {
	out := ""
	for _, id := range ids {
		out += "," + string(id)
	}
	return strings.TrimPrefix(out, ",")
}

func numbers(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return slices.Clone(out)
}
