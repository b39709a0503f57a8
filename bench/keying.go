package main

import (
	"encoding/json"
	"fmt"
	"strings"

	"proofbell/demo"
	"proofbell/internal/keypad"
	"proofbell/panel"
	"proofbell/site"
)

var keyingSheet = measure{
	name: "keying", what: "the keying sheet of a site of 200 zones, from a panel that holds other zones, on the slowest of the three panels", budget: 0.2, unit: "s",
	run: func() (r result, err error) {
		var notes []string
		for _, name := range panel.Names() {
			p, err := wide(name)
			if err != nil {
				return r, err
			}
			s, err := wholeSite(p)
			if err != nil {
				return r, err
			}
			want, _ := keypad.Wanted(s, p)
			found := keypad.ZoneTable{}
			for id := range want { // each zone holds what the next one should
				n, _ := p.ZoneNumber(id)
				if next := want[p.ZoneID(n%200+1)]; next != nil && n%4 > 0 {
					found[id] = next
				}
			}
			var sheet keypad.Sheet
			value, err := best(5, func() error {
				sheet = keypad.Compile(s, p, found, keypad.Options{ReadBack: true})
				return nil
			})
			if err != nil {
				return r, err
			}
			plain, err := best(5, func() error {
				keypad.Wanted(s, p)
				return nil
			})
			if err != nil {
				return r, err
			}
			notes = append(notes, fmt.Sprintf("%s %.0f ms, %d keys for %d of the plain way", name, value*1000, sheet.Count, sheet.Plain.Count))
			if value > r.value {
				r.value, r.baseline = value, plain
			}
		}
		r.plain = "putting the same zones into the panel's answers, without keys"
		r.note = strings.Join(notes, "; ")
		return r, nil
	},
}

// wide is a panel of the product with 200 zones.
func wide(name string) (*panel.Profile, error) {
	base, err := panel.Builtin(name)
	if err != nil {
		return nil, err
	}
	raw, err := json.Marshal(base)
	if err != nil {
		return nil, err
	}
	p := new(panel.Profile)
	if err := json.Unmarshal(raw, p); err != nil {
		return nil, err
	}
	p.Zones.Last = 200
	for id, n := range p.Dialogue.Nodes {
		if n.Opens {
			n.Width = 3
			p.Dialogue.Nodes[id] = n
		}
	}
	if faults := p.Check(); len(faults) > 0 {
		return nil, fmt.Errorf("%s with 200 zones: %v", name, faults)
	}
	return p, nil
}

// wholeSite is the practice building with its zones again and again, until a panel has no number left.
func wholeSite(p *panel.Profile) (*site.Site, error) {
	s, err := site.DecodeYAML("mill.yaml", demo.Corrected)
	if err != nil {
		return nil, err
	}
	zones, ids := s.Zones, site.SortedIDs(s.Zones)
	s.Zones = map[site.ZoneID]site.Zone{}
	for n := range p.MaxZone() {
		s.Zones[p.ZoneID(n+1)] = zones[ids[n%len(ids)]]
	}
	return s, nil
}
