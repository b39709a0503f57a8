package engine

import (
	"maps"

	"proofbell/internal/keypad"
	"proofbell/panel"
	"proofbell/site"
)

// KeptZone is a zone that the panel holds as the schedule wants it.
type KeptZone struct {
	ID      string           `json:"id"`      // in the site
	Zone    keypad.ZoneCards `json:"zone"`    // with the cards that read it back; none where the panel shows nothing of what it holds
	Slots   keypad.Slots     `json:"slots"`   // what it holds, and should
	Checked bool             `json:"checked"` // seen at the panel's own display: read out, or read back after keying
}

// wantedTable is what the panel should hold; nil without a profile.
func (k *kept) wantedTable() keypad.ZoneTable {
	if k.profile != nil && k.wantedOf != k.profile {
		k.wanted, _ = keypad.Wanted(k.site, k.profile)
		k.wantedOf = k.profile
	}
	return k.wanted
}

// number is the number of a zone as the panel shows it; the id itself when it is none.
func (k *kept) number(id site.ZoneID) site.ZoneID {
	if k.profile == nil {
		return id
	}
	if n, ok := k.profile.ZoneNumber(id); ok {
		return k.profile.ZoneID(n)
	}
	return id
}

// holds returns what the book knows that the panel holds for a zone, by its number at the panel. That a life-safety zone is
// empty is not taken from a file that does not name it.
func (d *Desk) holds(number site.ZoneID) (slots keypad.Slots, known bool) {
	p := &d.State.Panel
	switch {
	case d.profile == nil || p.Profile != d.profile.Name:
		return nil, false
	case p.Presumed(number) && d.zoneAt(number).Kind.LifeSafety():
		return nil, false
	}
	return p.Holds(number, d.profile.Version)
}

// Held is what the book knows that the panel holds: zones that were read out, taken from a file or keyed since. A zone
// without answers is known to be empty; nothing is known of those that are absent. nil when nothing is known at all.
func (d *Desk) Held() keypad.ZoneTable {
	var table keypad.ZoneTable
	add := func(number site.ZoneID) {
		if slots, known := d.holds(number); known {
			if table == nil {
				table = keypad.ZoneTable{}
			}
			table[number] = slots
		}
	}
	for number := range d.State.Panel.Held {
		add(d.number(number))
	}
	for id := range d.State.Site.Zones {
		add(d.number(id))
	}
	return table
}

// keyed reports whether a zone is in the panel as the schedule wants it. What the book knows of the panel counts; the word
// that stands in the site file only while the book says nothing at all of it: a zone in doubt is not keyed.
func (d *Desk) keyed(id site.ZoneID) bool {
	number := d.number(id)
	slots, known := d.holds(number)
	if !known {
		return d.State.Site.Zones[id].Keyed && !d.State.Panel.Told
	}
	want, can := d.wantedTable()[number]
	return can && maps.Equal(want, map[panel.Field]string(slots))
}

// leftOver is what stands in a zone after answers were keyed over what was found there. A panel that edits single answers
// can not be told to forget one, so what is not keyed stays.
func (d *Desk) leftOver(keyed, found keypad.Slots) keypad.Slots {
	if keyed == nil || !d.profile.Dialogue.Edits {
		return keyed
	}
	out := maps.Clone(keyed)
	for field, answer := range found {
		if _, told := keyed[field]; !told && answer != "" {
			out[field] = answer
		}
	}
	return out
}

// keptZones lays out the zones that need no keying.
func (d *Desk) keptZones(same []site.ZoneID, ids map[site.ZoneID]site.ZoneID) []KeptZone {
	out := []KeptZone{}
	for _, number := range same {
		z := d.State.Site.Zones[ids[number]]
		held, _ := d.holds(number)
		cards := keypad.ZoneCards{Zone: number, Label: z.Label, Kind: z.Kind, LifeSafety: z.Kind.LifeSafety()}
		cards.Check = keypad.ReadBack(d.lang, d.profile, number, z, d.wantedTable()[number], d.State.Panel.Keyed(number, d.profile.Version))
		out = append(out, KeptZone{ID: string(ids[number]), Zone: cards, Slots: held, Checked: d.State.Panel.Checked(number)})
	}
	return out
}
