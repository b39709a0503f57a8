// Package placing proposes where to add smoke alarms: the fewest with which the placement rules of the rule set hold,
// every sleeper is reached by the sound, and what is added by radio has its margin.
//
// It is advice for a person who knows the building: the sound and radio figures behind it are planning estimates, a place
// may be impossible for reasons that no plan shows, and the rules judge the site anew once something was added. Functions are
// pure and safe for concurrent use; a site is not changed.
package placing

import (
	"encoding/json"
	"math"
	"slices"
	"strconv"
	"time"

	"proofbell/internal/building"
	"proofbell/internal/estimate"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/radio"
	"proofbell/rules"
	"proofbell/site"
)

// With says what is added.
type With string

// What can be added: self-contained alarms joined to the house's group, by the electrician; or smoke detectors of the panel with
// a sounder of their own, by radio. A detector's sounder counts in its own room only: it sounds for the fire there.
const (
	Heads     With = "heads"
	Detectors With = "detectors"
)

// Options say what is added and what was measured.
type Options struct {
	With     With // empty: Heads
	Readings []estimate.SoundReading
	Told     estimate.RadioTold
}

// Advice is what to add. Label stands beside it wherever it is shown.
type Advice struct {
	With    With
	Adds    []Add
	AtLeast int          // with fewer of the places that were tried the needs that can be met are not met
	Surely  int          // with fewer they are not met wherever alarms are put
	Unmet   []Unmet      // what nothing that was tried would meet
	Cured   []string     // keys of the findings that would go
	Brought []words.Text // findings that would come with them, beside that they are in no zone yet
	Tried   int          // places that were looked at
	Assumed []words.Text
	Missing []words.Text // what is not known, and counts for nothing
	Patch   site.Patch   // adds all of them; nil for none
}

// Add is one proposed alarm.
type Add struct {
	Pointer string // JSON pointer that its patch gives it: "/heads/M11"
	Room    site.RoomID
	At      [3]float64
	Why     []words.Text
	Margin  float64    // of its radio, dB; NaN for an alarm without one
	Patch   site.Patch // adds this one
}

// Unmet is a need that stays, with the reason.
type Unmet struct{ Need, Why words.Text }

// rounds bounds how often what was added is judged again: a hall with its first detector has a ceiling to cover. looks bounds
// how often the farthest places of the ceilings are added to what is asked.
const (
	rounds = 4
	looks  = 60
)

// Advise proposes what to add to a site as it stands on a day. The error is that of rules.CheckIn.
func Advise(s *site.Site, profile *panel.Profile, on time.Time, o Options) (Advice, error) {
	if o.With == "" {
		o.With = Heads
	}
	a := Advice{With: o.With}
	before, err := rules.Check(s, profile, on)
	if err != nil {
		return a, err
	}
	set, _, err := rules.SetOf(s.RuleSet)
	if err != nil {
		return a, err
	}
	f := &finder{set: set, o: o, b: building.Of(s), was: s, now: s}
	what, ok := f.kind()
	if !ok {
		a.Unmet = append(a.Unmet, Unmet{words.Later("smoke detection with a sounder"), words.Later("the site names no model of a smoke detector with a sounder of its own; add one to the models")})
		return a, nil
	}
	f.what = what
	found := before
	var needs []need
	asked, said := map[string]bool{}, map[string]bool{}
	open := func(n, why words.Text) {
		if text := n.String(); !said[text] {
			said[text] = true
			a.Unmet = append(a.Unmet, Unmet{n, why})
		}
	}
	ask := func(list []need) (more bool) {
		for _, n := range list {
			if !asked[n.key()] {
				asked[n.key()], more = true, true
				needs = append(needs, n)
			}
		}
		return more
	}
	merged := map[string]any{}
	for round := range rounds {
		list, unclear := f.needs(found)
		for _, u := range unclear {
			open(u.Need, u.Why)
		}
		if !ask(list) {
			break
		}
		spots := f.spots(needs)
		chosen, margins := f.choose(&a, spots, &needs, ask, round == 0)
		for k, n := range needs {
			if !some(margins, k) {
				open(n.say, f.why(n, spots))
			}
		}
		a.Adds, merged = nil, map[string]any{}
		for _, c := range chosen {
			a.Adds = append(a.Adds, f.add(spots[c], needs, margins[c], merged))
		}
		if f.now, err = with(s, merged); err != nil {
			return a, err
		}
		if found, err = rules.Check(f.now, profile, on); err != nil {
			return a, err
		}
	}
	// What was asked for and is not there is said, whatever the reason.
	left, _ := f.needs(found)
	for _, n := range left {
		open(n.say, words.Later("the places that were found do not do yet; take them, and ask again"))
	}
	f.tell(&a)
	if len(a.Adds) > 0 {
		a.Patch, _ = json.Marshal(merged) // strings and numbers: can not fail
		a.compare(before, found)
	}
	return a, nil
}

// choose takes the fewest of the places that meet the needs, and asks for what lies between until no ceiling has a place out of
// reach, or only such as no place can reach. The first time it says with how few it can be done.
func (f *finder) choose(a *Advice, spots []spot, needs *[]need, ask func([]need) bool, first bool) (chosen []int, margins [][]float64) {
	a.Tried = max(a.Tried, len(spots))
	for look := 0; ; look++ {
		margins = f.margins(spots, *needs)
		placed := radio.Place(margins, 0, 0)
		chosen = central(placed.Chosen, spots, margins)
		if first {
			a.AtLeast = placed.AtLeast
			met := make([]need, 0, len(*needs))
			for k, n := range *needs {
				if some(margins, k) {
					met = append(met, n)
				}
			}
			a.Surely = surely(met)
			a.AtLeast = max(a.AtLeast, a.Surely)
		}
		var there []spot
		for _, c := range chosen {
			there = append(there, spots[c])
		}
		if look == looks || !ask(f.farther(*needs, there)) {
			return chosen, margins
		}
	}
}

// some reports whether some place meets a need.
func some(margins [][]float64, need int) bool {
	return slices.ContainsFunc(margins, func(of []float64) bool { return of[need] >= 0 })
}

// tell collects what the advice rests on.
func (f *finder) tell(a *Advice) {
	a.Assumed, a.Missing = estimate.NewSound(f.now, f.b, estimate.SoundOptions{Fit: f.fit}).Told()
	if f.what.radio {
		r := estimate.RadioOf(f.now, f.b, f.o.Told)
		a.Assumed, a.Missing = append(a.Assumed, r.Assumed...), append(a.Missing, r.Missing...)
	}
}

// central moves each chosen place within its room to where what only it meets is met best.
func central(chosen []int, spots []spot, margins [][]float64) []int {
	out := append([]int(nil), chosen...)
	for i, c := range out {
		worst := func(at int) float64 {
			least := math.Inf(1)
			for k := range margins[at] {
				others := false
				for j, o := range out {
					others = others || j != i && margins[o][k] >= 0
				}
				if margins[c][k] >= 0 && !others {
					least = min(least, margins[at][k])
				}
			}
			return least
		}
		best := c
		for at, s := range spots {
			if s.index == spots[c].index && worst(at) > worst(best) {
				best = at
			}
		}
		out[i] = best
	}
	return out
}

// compare tells what the additions cure and what they bring.
func (a *Advice) compare(before, after []rules.Finding) {
	was, is := map[string]bool{}, map[string]bool{}
	for _, f := range before {
		was[f.Key] = true
	}
	for _, f := range after {
		is[f.Key] = true
		if !f.NotJudged && !was[f.Key] && f.Rule != "device.unzoned" {
			a.Brought = append(a.Brought, words.Typed(f.Where+": "+f.Say))
		}
	}
	for _, f := range before {
		if !f.NotJudged && !is[f.Key] {
			a.Cured = append(a.Cured, f.Key)
		}
	}
}

// with is the site after a patch.
func with(s *site.Site, patch map[string]any) (*site.Site, error) {
	text, err := json.Marshal(s)
	if err != nil {
		return nil, err
	}
	raw, err := json.Marshal(patch)
	if err != nil {
		return nil, err
	}
	if text, err = site.Apply(text, raw); err != nil {
		return nil, err
	}
	return site.DecodeJSON("proposal", text)
}

// kind is what is added, as the members of a patch, besides room and place.
type kind struct {
	member string // heads or devices
	name   string // what its id begins with
	as     map[string]any
	extra  map[string]any // what the patch adds besides: a group
	radio  bool
}

// kind finds out what the site would add: its own usual alarm, or its own model.
func (f *finder) kind() (k kind, ok bool) {
	if f.o.With == Detectors {
		for _, id := range site.SortedIDs(f.now.Models) {
			m := f.now.Models[id]
			if m.Class == "smoke" && m.SelfSounding {
				return kind{member: "devices", name: "added-smoke-", as: map[string]any{"model": id}, radio: m.Link != "wired"}, true
			}
		}
		return k, false
	}
	k = kind{member: "heads", name: "A", as: map[string]any{"kind": "smoke"}}
	count, most := map[site.GroupID]int{}, site.GroupID("")
	for _, h := range f.now.Heads {
		if h.Group != "" {
			count[h.Group]++
		}
	}
	for _, g := range site.SortedIDs(f.now.Groups) {
		if most == "" || count[g] > count[most] {
			most = g
		}
	}
	if most == "" {
		most = "A"
		k.extra = map[string]any{"groups": map[string]any{"A": map[string]any{"name": "Joined alarms"}}}
	} else {
		k.name = string(most)
		if g := f.now.Groups[most]; g.Supply != "" || g.Link == "wired" {
			k.as["power"] = "mains-battery"
		}
	}
	k.as["group"] = most
	levels := map[string]int{}
	usual := ""
	for _, id := range site.SortedIDs(f.now.Heads) {
		if h := f.now.Heads[id]; h.Group == most && !h.Level.IsZero() {
			text := h.Level.String()
			if levels[text]++; usual == "" || levels[text] > levels[usual] {
				usual = text
			}
		}
	}
	if usual != "" {
		k.as["level"] = usual
	}
	return k, true
}

// add gives a chosen place its id, its reasons and its patch, and puts it into the patch of all.
func (f *finder) add(sp spot, needs []need, margins []float64, all map[string]any) Add {
	out := Add{Room: sp.room, At: [3]float64{sp.at.X, sp.at.Y, sp.at.Z}, Margin: sp.margin}
	said := map[string]bool{}
	for k, n := range needs {
		if text := n.say.String(); margins[k] >= 0 && !said[text] {
			said[text] = true
			out.Why = append(out.Why, n.say)
		}
	}
	members, _ := all[f.what.member].(map[string]any)
	if members == nil {
		members = map[string]any{}
		all[f.what.member] = members
	}
	id := ""
	for n := 1; ; n++ {
		id = f.what.name + strconv.Itoa(n)
		_, mine := members[id]
		_, head := f.was.Heads[site.HeadID(id)]
		_, device := f.was.Devices[site.DeviceID(id)]
		if !mine && !head && !device {
			break
		}
	}
	one := map[string]any{"room": sp.room, "at": []float64{sp.at.X, sp.at.Y, sp.at.Z}}
	for name, value := range f.what.as {
		one[name] = value
	}
	members[id] = one
	alone := map[string]any{f.what.member: map[string]any{id: one}}
	for name, value := range f.what.extra {
		all[name], alone[name] = value, value
	}
	out.Pointer = "/" + f.what.member + "/" + id
	out.Patch, _ = json.Marshal(alone) // strings and numbers: can not fail
	return out
}

// none is the margin of what does not help.
var none = math.Inf(-1)
