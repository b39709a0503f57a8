package book

import (
	"maps"
	"slices"
	"strings"
	"time"

	"proofbell/evidence"
	"proofbell/panel"
	"proofbell/site"
)

// PanelState is what the book knows of the panel on the wall. Entries of several phones may come late: where one was made
// before what is known and says something else, what stands there is in doubt.
type PanelState struct {
	Profile string       // name of the profile that Held is of; "" when nothing is known
	Version string       // of that profile, as far as it was told
	Held    ZoneTable    // what the panel holds by the newest entry for each zone; never changed in place
	Found   []FoundTable // what it held before it was keyed, oldest first: tables to go back to
	Work    []KeyedZone  // zones keyed, oldest first
	Lost    int          // times that the panel showed something else than the card
	Told    bool         // the book has a readout or an entry of keying: what else was said of zones keyed counts no more
	said    map[string]zoneWord
	whole   bool              // zones of which nothing was said are empty
	file    bool              // and that is the word of a file
	all     moment            // when it was said
	newest  moment            // of what is known
	changed map[string]moment // when profiles of the job's own were taken in or out, by name
}

// zoneWord is the newest word on one zone.
type zoneWord struct {
	as      site.ZoneID // how it is written in Held
	checked bool        // it came from the panel's own display
	doubt   bool        // what stands there is not known
	word    moment
}

// moment is an entry among others: when it was made, by whom, and its place in the book.
type moment struct {
	at  time.Time
	by  evidence.PersonID
	seq int64
}

func (s *State) moment(e evidence.Entry) moment {
	return moment{e.At.Time, e.By, int64(len(s.Log)) + 1} // the log has a line for every entry
}

// outdates reports whether e was made before m, and comes after it because it was late.
func (m moment) outdates(e evidence.Entry) bool { return e.Base < m.seq && e.At.Before(m.at) }

// unseen reports whether e was made by somebody else who did not know of m.
func (m moment) unseen(e evidence.Entry) bool { return e.Base < m.seq && e.By != m.by }

// bare is the number of a zone without leading zeros: "9" and "09" are one zone.
func bare(zone site.ZoneID) string { return strings.TrimLeft(string(zone), "0") }

// Holds returns what the panel holds for a zone, by its number with or without leading zeros. known is false when the book
// can not tell; a zone known to be empty has no answers.
func (p *PanelState) Holds(zone site.ZoneID) (slots map[panel.Field]string, known bool) {
	one := p.said[bare(zone)]
	if slots, known = p.Held[one.as]; !known && p.whole && !one.doubt {
		return map[panel.Field]string{}, true
	}
	return slots, known
}

// Presumed reports whether a zone counts as empty only because a file that says it holds all does not name it.
func (p *PanelState) Presumed(zone site.ZoneID) bool {
	_, named := p.said[bare(zone)]
	return p.whole && p.file && !named
}

// Checked reports whether the newest word on a zone came from the panel's own display: read back after keying, or read out.
func (p *PanelState) Checked(zone site.ZoneID) bool { return p.said[bare(zone)].checked }

// Doubted are the zones of which it is known that something may stand there, and not what. Sorted.
func (p *PanelState) Doubted() []site.ZoneID {
	var out []site.ZoneID
	for _, one := range p.said {
		if one.doubt {
			out = append(out, one.as)
		}
	}
	slices.Sort(out)
	return out
}

func (p *PanelState) clone() PanelState {
	c := *p
	c.Held, c.said, c.changed = maps.Clone(p.Held), maps.Clone(p.said), maps.Clone(p.changed)
	c.Found, c.Work = slices.Clone(p.Found), slices.Clone(p.Work)
	return c
}

// begin makes the tables this state's own, before an entry changes them.
func (p *PanelState) begin() {
	p.Told = true
	if p.Held, p.said = maps.Clone(p.Held), maps.Clone(p.said); p.said == nil {
		p.said = map[string]zoneWord{}
	}
}

// of turns to the panel of a profile, by an entry that tells of it: of another one nothing is known. It is false when the
// entry is of another panel before this one, or in the terms of a profile that was changed since.
func (p *PanelState) of(now moment, e evidence.Entry, profile, version string) bool {
	changed := p.changed[profile]
	if changed.unseen(e) || changed.outdates(e) {
		return false
	}
	late := p.newest.outdates(e)
	if p.Profile == "" {
		p.Profile = profile
	}
	if p.Profile != profile || version != "" && p.Version != "" && p.Version != version {
		if late {
			return false
		}
		p.reset(profile)
	}
	if version != "" {
		p.Version = version
	}
	if !late {
		p.newest = now
	}
	return true
}

func (p *PanelState) reset(profile string) {
	p.Profile, p.Version, p.Held, p.said, p.whole = profile, "", nil, map[string]zoneWord{}, false
	p.close()
}

// close ends the table as found: what is read from now on is another one.
func (p *PanelState) close() {
	if n := len(p.Found); n > 0 && !p.Found[n-1].closed {
		p.Found = slices.Clone(p.Found)
		p.Found[n-1].closed = true
	}
}

// change says that a profile means something else from now on.
func (p *PanelState) change(now moment, profile string) {
	if p.changed = maps.Clone(p.changed); p.changed == nil {
		p.changed = map[string]moment{}
	}
	p.changed[profile] = now
	p.Found = slices.Clone(p.Found)
	for i := range p.Found {
		p.Found[i].Stale = p.Found[i].Stale || p.Found[i].Profile == profile
	}
	if p.Profile == profile {
		p.reset("")
	}
}

// last is the newest word on a zone.
func (p *PanelState) last(zone site.ZoneID) moment {
	if one, named := p.said[bare(zone)]; named || !p.whole {
		return one.word
	}
	return p.all
}

// take says what a zone holds.
func (p *PanelState) take(now moment, e evidence.Entry, zone site.ZoneID, slots map[panel.Field]string, checked bool) {
	if last := p.last(zone); last.outdates(e) {
		if held, known := p.Holds(zone); !known || !maps.Equal(held, slots) {
			p.forget(zone, last)
		}
		return
	}
	p.put(zone, slots, zoneWord{as: zone, checked: checked, word: now})
}

// takeAll says that what a readout does not name is empty.
func (p *PanelState) takeAll(now moment, e evidence.Entry, b ReadoutBody) {
	for key, one := range p.said {
		if one.word.outdates(e) {
			p.take(now, e, one.as, b.Zones[one.as], false)
			continue
		}
		delete(p.Held, one.as)
		delete(p.said, key)
	}
	if !p.whole || !p.all.outdates(e) {
		p.whole, p.file, p.all = true, b.Via == ViaFile, now
	}
}

// doubt says that what stands in a zone is not known, unless it was seen at the display since.
func (p *PanelState) doubt(now moment, e evidence.Entry, zone site.ZoneID) {
	if last := p.last(zone); !last.outdates(e) {
		p.forget(zone, now)
	} else if !p.Checked(zone) {
		p.forget(zone, last)
	}
}

// confirm says that a zone was read back as keyed, as far as whoever did so knew what is known here.
func (p *PanelState) confirm(now moment, e evidence.Entry, zone site.ZoneID) {
	one, named := p.said[bare(zone)]
	switch _, held := p.Held[one.as]; {
	case !named || !held || one.word.outdates(e):
	case one.word.unseen(e):
		p.forget(zone, one.word)
	default:
		one.checked, one.word = true, now // seen at the display then, whatever was keyed before
		p.said[bare(zone)] = one
	}
}

func (p *PanelState) forget(zone site.ZoneID, word moment) {
	p.put(zone, nil, zoneWord{as: zone, doubt: true, word: word})
}

func (p *PanelState) put(zone site.ZoneID, slots map[panel.Field]string, one zoneWord) {
	delete(p.Held, p.said[bare(zone)].as)
	p.said[bare(zone)] = one
	if one.doubt {
		return
	}
	if p.Held == nil {
		p.Held = ZoneTable{}
	}
	if slots == nil {
		slots = map[panel.Field]string{}
	}
	p.Held[zone] = slots
}
