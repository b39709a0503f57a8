package keypad

import (
	"encoding/json"
	"maps"
	"slices"
	"testing"

	"proofbell/internal/keypad/keypadtest"
	"proofbell/panel"
	"proofbell/site"
)

// Every way of the dialogue, bent to every other node: either the checker names the profile unfit, or every zone can still
// be programmed with it.
func TestEveryEdgeOfTheDialogue(t *testing.T) {
	for _, name := range panel.Names() {
		t.Run(name, func(t *testing.T) { everyEdge(t, name) })
	}
}

func everyEdge(t *testing.T, name string) {
	base := profile(t, name)
	raw, err := json.Marshal(base)
	if err != nil {
		t.Fatal(err)
	}
	var sites []*site.Site
	var plain []ZoneTable
	for seed := uint64(0); len(sites) < 3; seed++ {
		if s := keypadtest.Site(seed, base); len(s.Zones) <= 12 { // small ones: there are many bends
			table, _ := Wanted(s, base)
			sites, plain = append(sites, s), append(plain, table)
		}
	}
	refused, fit := 0, 0
	try := func(what string, bend func(*panel.Profile)) {
		p := new(panel.Profile)
		if err := json.Unmarshal(raw, p); err != nil {
			t.Fatal(err)
		}
		bend(p)
		if len(p.Check()) > 0 {
			refused++
			return
		}
		fit++
		for i, s := range sites {
			want, _ := Wanted(s, p)
			if len(want) != len(plain[i]) {
				t.Errorf("%s: passes the checker, and %d of %d zones can not be programmed", what, len(plain[i])-len(want), len(plain[i]))
				return
			}
			if got, _, err := Rehearse(p, Compile(s, p, nil, Options{}).Keys, nil); err != nil || !got.Equal(want) {
				t.Errorf("%s: passes the checker, and the keys do not work: %v", what, err)
				return
			}
		}
	}
	for _, id := range slices.Sorted(maps.Keys(base.Dialogue.Nodes)) {
		n := base.Dialogue.Nodes[id]
		for to := range base.Dialogue.Nodes {
			for i := range n.Next {
				try(id+" to "+to, func(p *panel.Profile) { p.Dialogue.Nodes[id].Next[i].Go = to })
			}
			for i := range n.Keys {
				try(id+" by "+n.Keys[i].Key+" to "+to, func(p *panel.Profile) { p.Dialogue.Nodes[id].Keys[i].Go = to })
			}
			for i := range n.Items {
				try(id+" by "+n.Items[i].Shows+" to "+to, func(p *panel.Profile) { p.Dialogue.Nodes[id].Items[i].Go = to })
			}
			for i := range n.Choices {
				try(id+" by "+n.Choices[i].Answer+" to "+to, func(p *panel.Profile) { p.Dialogue.Nodes[id].Choices[i].Next = to })
			}
		}
		for i := range n.Next {
			try(id+" without a way", func(p *panel.Profile) {
				n := p.Dialogue.Nodes[id]
				n.Next = slices.Delete(n.Next, i, i+1)
				p.Dialogue.Nodes[id] = n
			})
		}
		for i := range n.Choices {
			try(id+" without a choice", func(p *panel.Profile) {
				n := p.Dialogue.Nodes[id]
				n.Choices = slices.Delete(n.Choices, i, i+1)
				p.Dialogue.Nodes[id] = n
			})
		}
		for i := range n.Items {
			try(id+" without an item", func(p *panel.Profile) {
				n := p.Dialogue.Nodes[id]
				n.Items = slices.Delete(n.Items, i, i+1)
				p.Dialogue.Nodes[id] = n
			})
		}
		for i := range n.Keys {
			try(id+" without a key", func(p *panel.Profile) {
				n := p.Dialogue.Nodes[id]
				n.Keys = slices.Delete(n.Keys, i, i+1)
				p.Dialogue.Nodes[id] = n
			})
		}
		try("without "+id, func(p *panel.Profile) { delete(p.Dialogue.Nodes, id) })
	}
	t.Logf("%d refused, %d fit", refused, fit)
	if refused < 200 || fit == 0 {
		t.Errorf("%d refused, %d fit: the bends are not what they were", refused, fit)
	}
}
