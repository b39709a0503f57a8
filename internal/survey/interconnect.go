// Package survey turns what was seen on a walk through a building into what the site file wants: which alarms sound
// together, what has still to be asked and of whom, what a room called "Kitchen" is used as.
package survey

import (
	"cmp"
	"encoding/json"
	"slices"
	"strings"

	"proofbell/internal/words"
	"proofbell/site"
)

// Press is what was heard when the test button of one alarm was held.
type Press struct {
	Head  site.HeadID   `json:"head"`
	Heard []site.HeadID `json:"heard"` // those that sounded, where each was seen or heard by itself; itself included
	Count int           `json:"count"` // how many sounded, itself included; the length of Heard where that is known
}

// Links is what the presses say about which alarms belong together.
type Links struct {
	Groups        []Together      `json:"groups"`
	Alone         []site.HeadID   `json:"alone"`         // pressed, and sounded alone
	Open          []Unknown       `json:"open"`          // not known yet, with what to do
	Contradiction []Contradiction `json:"contradiction"` // two presses that can not both be right
	Patch         json.RawMessage `json:"patch"`         // sets the groups that nothing contradicts; null when the site has them
}

// Together is one interconnect group as it was heard.
type Together struct {
	ID      site.GroupID  `json:"id"` // the group of the site that most of them are in, or a new one
	New     bool          `json:"new"`
	Heads   []site.HeadID `json:"heads"`
	Pressed int           `json:"pressed"` // how many of them were pressed themselves
	Doubt   bool          `json:"doubt"`   // contradicted: it is not taken over
}

// Unknown is an alarm of which it is not known with which it sounds.
type Unknown struct {
	Head site.HeadID `json:"head"`
	Say  string      `json:"say"`
}

// Contradiction names two presses that do not fit, and what settles it.
type Contradiction struct {
	Heads []site.HeadID `json:"heads"`
	Say   string        `json:"say"`
	Try   string        `json:"try"`
}

// Interconnect derives the groups from presses. The newest press of an alarm counts; alarms that are not in the site are
// left out. Alarms are taken to sound together when one was heard while another was pressed, or over a third; a press at
// which a member of its group stayed silent, or whose count differs, contradicts, and that group is not set.
func Interconnect(lang *words.Language, s *site.Site, presses []Press) Links {
	f := finder{lang: lang, site: s, newest: map[site.HeadID]Press{}, root: map[site.HeadID]site.HeadID{}, doubt: map[site.HeadID]bool{}}
	for id := range s.Heads {
		f.root[id] = id
	}
	for _, p := range presses {
		if _, known := s.Heads[p.Head]; !known {
			continue
		}
		p.Heard = slices.DeleteFunc(sortedHeads(p.Heard), func(id site.HeadID) bool { _, known := s.Heads[id]; return !known })
		if len(p.Heard) > 0 {
			p.Count = len(p.Heard)
		}
		f.newest[p.Head] = p
	}
	for _, p := range f.newest {
		heard := p.Heard
		if p.Count >= len(s.Heads) { // all of them, so it is known which
			heard = site.SortedIDs(s.Heads)
		}
		for _, other := range heard {
			f.join(p.Head, other)
		}
	}
	return f.links()
}

type finder struct {
	lang   *words.Language
	site   *site.Site
	newest map[site.HeadID]Press
	root   map[site.HeadID]site.HeadID
	doubt  map[site.HeadID]bool // roots of groups that are contradicted
	out    Links
}

func (f *finder) find(id site.HeadID) site.HeadID {
	for f.root[id] != id {
		id = f.root[id]
	}
	return id
}

func (f *finder) join(a, b site.HeadID) {
	// The lower one becomes the root, so that the order of joining does not matter.
	if a, b = f.find(a), f.find(b); site.NaturalOrder(string(a), string(b)) > 0 {
		a, b = b, a
	}
	f.root[b] = a
}

func (f *finder) links() Links {
	f.out = Links{Groups: []Together{}, Alone: []site.HeadID{}, Open: []Unknown{}, Contradiction: []Contradiction{}}
	members := map[site.HeadID][]site.HeadID{}
	heads := site.SortedIDs(f.site.Heads)
	for _, id := range heads {
		members[f.find(id)] = append(members[f.find(id)], id)
	}
	for _, id := range heads {
		if p, ok := f.newest[id]; ok {
			f.contradicts(p, members[f.find(id)])
		}
	}
	taken := map[site.GroupID]bool{}
	for _, id := range heads {
		together := members[id] // nil where id is no root
		switch {
		case len(together) > 1:
			g := Together{Heads: together, Doubt: f.doubt[id]}
			for _, one := range together {
				if _, pressed := f.newest[one]; pressed {
					g.Pressed++
				}
			}
			g.ID, g.New = f.group(together, taken)
			taken[g.ID] = true
			f.out.Groups = append(f.out.Groups, g)
		case len(together) == 1:
			f.single(id)
		}
	}
	f.out.Patch = f.patch()
	return f.out
}

func (f *finder) single(id site.HeadID) {
	p, pressed := f.newest[id]
	unknown := func(say string) { f.out.Open = append(f.out.Open, Unknown{id, say}) }
	switch {
	case !pressed:
		unknown(f.lang.Say("not pressed yet, and not heard at another's press"))
	case p.Count == 1:
		f.out.Alone = append(f.out.Alone, id)
	case p.Count == 0:
		unknown(f.lang.Say("gave no sound: hold its test button longer; it may be dead"))
	default:
		unknown(f.lang.Say("%d sounded, and it is not said which: tap them, or press another", p.Count))
	}
}

// contradicts names what a press says against the group that all presses make.
func (f *finder) contradicts(p Press, group []site.HeadID) {
	say := func(heads []site.HeadID, say, try string) {
		f.doubt[f.find(p.Head)] = true
		f.out.Contradiction = append(f.out.Contradiction, Contradiction{heads, say, try})
	}
	if len(group) == 1 {
		return
	}
	again := f.lang.Say("Press %s again for as long as the slowest needs, doors open, and count once more.", p.Head)
	switch silent := without(group, p.Heard); {
	case len(p.Heard) == 0 && p.Count != len(group):
		say(group, f.lang.Say("%s pressed: %d sounded; by the other presses %d belong together.", p.Head, p.Count, len(group)), again)
	case len(p.Heard) > 0 && !slices.Contains(p.Heard, p.Head):
		say([]site.HeadID{p.Head}, f.lang.Say("%s was pressed and did not sound itself, though others did.", p.Head), f.lang.Say("Its sounder may be dead: press another of the group and stand beside %s.", p.Head))
	case len(p.Heard) > 0 && len(silent) > 0:
		say(append([]site.HeadID{p.Head}, silent...), f.lang.Say("%s pressed: %s stayed silent, but another press has them sound together.", p.Head, words.List(f.lang, silent)), again)
	}
}

// group chooses the id: that of the site's group which most of them are in, else the letter that their names begin with,
// else the next free letter.
func (f *finder) group(heads []site.HeadID, taken map[site.GroupID]bool) (id site.GroupID, isNew bool) {
	votes := map[site.GroupID]int{}
	for _, h := range heads {
		if g := f.site.Heads[h].Group; g != "" && !taken[g] {
			votes[g]++
		}
	}
	for _, g := range site.SortedIDs(votes) {
		if votes[g] > votes[id] {
			id = g
		}
	}
	if id != "" {
		return id, false
	}
	free := func(id string) bool {
		_, there := f.site.Groups[site.GroupID(id)]
		return !there && !taken[site.GroupID(id)]
	}
	if letters := strings.TrimRight(string(heads[0]), "0123456789"); len(letters) == 1 && free(letters) {
		return site.GroupID(letters), true
	}
	for c := 'A'; c <= 'Z'; c++ {
		if free(string(c)) {
			return site.GroupID(c), true
		}
	}
	return "AA", true // more than 26 groups: the next ones share it until it is renamed
}

// patch sets what nothing contradicts.
func (f *finder) patch() json.RawMessage {
	heads, groups := map[site.HeadID]any{}, map[site.GroupID]any{}
	for _, g := range f.out.Groups {
		if g.Doubt {
			continue
		}
		for _, h := range g.Heads {
			if f.site.Heads[h].Group != g.ID {
				heads[h] = map[string]any{"group": g.ID}
			}
		}
		if _, there := f.site.Groups[g.ID]; !there {
			groups[g.ID] = map[string]any{}
		}
	}
	for _, h := range f.out.Alone {
		if f.site.Heads[h].Group != "" {
			heads[h] = map[string]any{"group": nil}
		}
	}
	patch := map[string]any{}
	if len(heads) > 0 {
		patch["heads"] = heads
	}
	if len(groups) > 0 {
		patch["groups"] = groups
	}
	if len(patch) == 0 {
		return json.RawMessage("null")
	}
	raw, err := json.Marshal(patch)
	if err != nil {
		panic(err) // maps of strings can be written
	}
	return raw
}

func sortedHeads(ids []site.HeadID) []site.HeadID {
	out := slices.SortedFunc(slices.Values(ids), func(a, b site.HeadID) int { return site.NaturalOrder(string(a), string(b)) })
	return slices.CompactFunc(out, func(a, b site.HeadID) bool { return cmp.Compare(a, b) == 0 })
}

func without(all, some []site.HeadID) []site.HeadID {
	return slices.DeleteFunc(slices.Clone(all), func(id site.HeadID) bool { return slices.Contains(some, id) })
}
