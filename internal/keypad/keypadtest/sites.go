// Package keypadtest makes sites for tests of the keypad and of zone allocation: random, but the same for the same seed.
package keypadtest

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"

	"proofbell/panel"
	"proofbell/site"
)

// Classes are the device models that Site draws from: class, identity family, what each terminal senses, link.
var classes = []struct {
	id, family, link string
	terminals        map[string]site.Terminal
	kinds            []site.ZoneKind
}{
	{"contact", "DC", "radio", map[string]site.Terminal{"A": {Senses: site.SensesOpening}, "B": {Senses: site.SensesContact}}, []site.ZoneKind{site.Entry1, site.Entry2, site.Perimeter, site.Inside}},
	{"motion", "MO", "radio", map[string]site.Terminal{"A": {Senses: site.SensesMotion}}, []site.ZoneKind{site.Inside, site.AlwaysQuiet}},
	{"glass", "GB", "radio", map[string]site.Terminal{"A": {Senses: site.SensesGlass}}, []site.ZoneKind{site.Perimeter, site.AlwaysLoud}},
	{"bridge", "BR", "radio", map[string]site.Terminal{"A": {Senses: site.SensesThree}, "B": {Senses: site.SensesFour}}, []site.ZoneKind{site.Smoke, site.CO}},
	{"smoke", "SD", "radio", map[string]site.Terminal{"A": {Senses: site.SensesSmoke}}, []site.ZoneKind{site.Smoke, site.SmokeVerified}},
	{"heat", "HD", "radio", map[string]site.Terminal{"A": {Senses: site.SensesHeat}}, []site.ZoneKind{site.Heat}},
	{"co", "CO", "radio", map[string]site.Terminal{"A": {Senses: site.SensesCO}}, []site.ZoneKind{site.CO}},
	{"gas", "CO", "radio", map[string]site.Terminal{"A": {Senses: site.SensesGas}}, []site.ZoneKind{site.Gas}},
	{"button", "FB", "radio", map[string]site.Terminal{"A": {Senses: site.SensesFirePush}}, []site.ZoneKind{site.CallPoint}},
	{"probe", "WP", "radio", map[string]site.Terminal{"A": {Senses: site.SensesWater}, "D": {Senses: site.SensesContact}}, []site.ZoneKind{site.Water}},
	{"cold", "TS", "radio", map[string]site.Terminal{"A": {Senses: site.SensesCold}}, []site.ZoneKind{site.Cold}},
	{"panic", "PB", "radio", map[string]site.Terminal{"A": {Senses: site.SensesPanic}}, []site.ZoneKind{site.PanicLoud, site.PanicQuiet}},
	{"input", "", "wired", map[string]site.Terminal{"A": {Senses: site.SensesKey}, "C": {Senses: site.SensesContact}}, []site.ZoneKind{site.Keyswitch, site.Trouble, site.Observe, site.Heat, site.Perimeter}},
}

// code is the usual station code of a kind; the event numbers are those of ANSI/SIA DC-05.
var code = map[site.ZoneKind]string{
	site.Entry1: "134", site.Entry2: "134", site.Perimeter: "131", site.Inside: "132", site.AlwaysLoud: "133", site.AlwaysQuiet: "135",
	site.PanicLoud: "123", site.PanicQuiet: "122", site.Smoke: "111", site.SmokeVerified: "111", site.Heat: "114", site.CallPoint: "115",
	site.CO: "162", site.Gas: "151", site.Water: "154", site.Cold: "159", site.Keyswitch: "409", site.Trouble: "380", site.Observe: "",
}

// Site makes a site for a panel. About one zone in ten is unused, and about one in forty can not be keyed because its label
// has a word that the panel does not say.
func Site(seed uint64, p *panel.Profile) *site.Site {
	r := rand.New(rand.NewPCG(seed, 0x9e3779b97f4a7c15))
	s := &site.Site{
		Format: site.Format, Name: fmt.Sprintf("Generated %d", seed), Practice: true,
		Account: site.Account{Number: "4816", Paths: map[site.PathID]site.Path{"main": {Order: 1}, "backup": {Order: 2}}},
		Areas:   map[site.AreaID]site.Area{}, Models: map[site.ModelID]site.Model{},
		Devices: map[site.DeviceID]site.Device{}, Zones: map[site.ZoneID]site.Zone{},
		Panel: site.Panel{Profile: p.Name},
	}
	for _, a := range p.Areas() {
		s.Areas[a] = site.Area{Name: "Area " + string(a)}
	}
	for _, c := range classes {
		s.Models[site.ModelID(c.id)] = site.Model{Name: c.id, Class: c.id, Link: c.link, Family: c.family, Terminals: c.terminals}
	}
	numbers := r.Perm(p.MaxZone() - p.Zones.First + 1)
	for _, n := range numbers[:1+r.IntN(len(numbers))] {
		id := p.ZoneID(n + p.Zones.First)
		if r.IntN(8) == 0 {
			id = site.ZoneID(strings.TrimLeft(string(id), "0")) // people write 7 for 07
		}
		s.Zones[id] = zone(r, s, p, n)
	}
	return s
}

func zone(r *rand.Rand, s *site.Site, p *panel.Profile, n int) site.Zone {
	var z site.Zone
	words := sayable(p)
	var label []string
	for range r.IntN(p.Label.Words + 1) {
		w := words[r.IntN(len(words))]
		label = append(label, w[:1]+strings.ToLower(w[1:]))
	}
	if r.IntN(40) == 0 {
		label = append(label[:min(len(label), p.Label.Words-1)], "Zeppelin")
	}
	if z.Label = strings.Join(label, " "); r.IntN(4) == 0 {
		z.Words, z.Label = label, "Something that only people read"
	}
	if r.IntN(10) == 0 {
		z.Kind = site.Unused
		return z
	}
	c := classes[r.IntN(len(classes))]
	for _, ok := p.Kind(c.kinds[0]); !ok; _, ok = p.Kind(c.kinds[0]) {
		c = classes[r.IntN(len(classes))]
	}
	z.Kind = c.kinds[r.IntN(len(c.kinds))]
	z.Code = code[z.Kind]
	areas := p.Areas()
	z.Area = areas[r.IntN(len(areas))]
	z.Paths = [][]site.PathID{nil, {"main"}, {"main", "backup"}, {"backup", "main"}}[r.IntN(4)]
	z.Bypass, z.DoorTone = r.IntN(2) == 0, r.IntN(2) == 0
	z.Device = site.DeviceID(fmt.Sprintf("%s-%d", c.id, n))
	d := site.Device{Model: site.ModelID(c.id)}
	if c.link == "radio" {
		d.Identity = fmt.Sprintf("%s%0*d", c.family, p.Identity.Digits, r.IntN(1_000_000))
		windows := p.LossWindows()
		z.LossWindow = windows[r.IntN(len(windows))].Value
	}
	s.Devices[z.Device] = d
	var names []string
	for name := range c.terminals {
		names = append(names, name)
	}
	slices.Sort(names)
	if z.Terminal = names[r.IntN(len(names))]; len(names) == 1 && r.IntN(2) == 0 {
		z.Terminal = "" // it has only one
	}
	return z
}

func sayable(p *panel.Profile) []string {
	var out []string
	for w := range p.Words {
		out = append(out, w)
	}
	slices.Sort(out)
	return out
}

// Coverage counts how often values occurred: "kind smoke" -> 412.
type Coverage map[string]int

// Add counts one value.
func (c Coverage) Add(what string, value any) { c[fmt.Sprintf("%s %v", what, value)]++ }

// String lists the counts, one line for each thing counted.
func (c Coverage) String() string {
	lines := map[string][]string{}
	for k, n := range c {
		what, value, _ := strings.Cut(k, " ")
		lines[what] = append(lines[what], fmt.Sprintf("%s %d", value, n))
	}
	var out []string
	for what, values := range lines {
		slices.Sort(values)
		out = append(out, what+": "+strings.Join(values, ", "))
	}
	slices.Sort(out)
	return strings.Join(out, "\n")
}
