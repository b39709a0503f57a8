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
	Version string       // of that profile, as it was told last
	Held    ZoneTable    // what the panel holds by the newest entry for each zone, in the terms of that entry's version; never changed in place
	Found   []FoundTable // what it held before it was keyed, oldest first: tables to go back to
	Work    []KeyedZone  // zones keyed, oldest first
	Lost    int          // times that the panel showed something else than the card
	Told    bool         // the book has a readout or an entry of keying: what else was said of zones keyed counts no more
	said    map[string]zoneWord
	whole   bool              // zones of which nothing was said are empty
	file    bool              // and that is the word of a file
	allIn   string            // and in the terms of this version
	all     moment            // when it was said
	newest  moment            // of what is known
	changed map[string]moment // when profiles of the job's own were taken in or out, by name
}

// zoneWord is the newest word on one zone.
type zoneWord struct {
	as      site.ZoneID // how it is written in Held
	version string      // of the profile, as far as it was told
	keyed   bool        // it was keyed so
	checked bool        // it came from the panel's own display
	doubt   bool        // what stands there is not known
	word    moment
}

// moment is an entry among others: when it was made, by whom and on which device, its place in the book, and up to where its
// writer had seen the book.
type moment struct {
	at   time.Time
	by   evidence.PersonID
	from string // "": not told
	seq  int64
	base int64
}

func (s *State) moment(e evidence.Entry, from string) moment {
	return moment{e.At.Time, e.By, from, int64(len(s.Log)) + 1, e.Base} // the log has a line for every entry
}

// outdates reports whether e was made before m, and comes after it because it was late.
func (m moment) outdates(e evidence.Entry) bool { return e.Base < m.seq && e.At.Before(m.at) }

// unseen reports whether now was told where m was not known. A device knows of its own entries before they have a place in
// the book; where one of them does not tell its device, a person counts as one.
func (m moment) unseen(now moment) bool {
	if m.from == "" || now.from == "" {
		return now.base < m.seq && now.by != m.by
	}
	return now.base < m.seq && now.from != m.from
}

// bare is the number of a zone without leading zeros: "9" and "09" are one zone.
func bare(zone site.ZoneID) string { return strings.TrimLeft(string(zone), "0") }

// Holds returns what the panel holds for a zone, by its number with or without leading zeros, in the terms of a version of
// the profile; "" takes those of any. known is false when the book can not tell; a zone known to be empty has no answers.
func (p *PanelState) Holds(zone site.ZoneID, version string) (slots map[panel.Field]string, known bool) {
	one := p.said[bare(zone)]
	if slots, known = p.Held[one.as]; known {
		if !alike(one.version, version) {
			return nil, false
		}
		return slots, true
	}
	if p.whole && !one.doubt && alike(p.allIn, version) {
		return map[panel.Field]string{}, true
	}
	return nil, false
}

// alike reports whether two versions speak in the same terms: one that was not told may be any.
func alike(a, b string) bool { return a == b || a == "" || b == "" }

// Keyed reports whether the newest word on what a zone holds is that it was keyed so, in the terms of a version.
func (p *PanelState) Keyed(zone site.ZoneID, version string) bool {
	one := p.said[bare(zone)]
	return one.keyed && alike(one.version, version)
}

// Since returns when what is known of a zone was told last; zero when nothing was. What was seen of a zone before may be gone.
func (p *PanelState) Since(zone site.ZoneID) time.Time {
	at := p.last(zone).at
	for _, changed := range p.changed {
		if changed.at.After(at) {
			at = changed.at
		}
	}
	return at
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
	if changed.unseen(now) || changed.outdates(e) {
		return false
	}
	late := p.newest.outdates(e)
	if p.Profile == "" {
		p.Profile = profile
	}
	if p.Profile != profile {
		if late {
			return false
		}
		p.reset(now, profile)
	}
	if version != "" {
		p.tell(version)
		if !late {
			p.Version = version
		}
	}
	if !late {
		p.newest = now
	}
	return true
}

// tell gives the first version that is told to everything of which none was.
func (p *PanelState) tell(version string) {
	if p.Version != "" {
		return
	}
	p.Version = version
	if p.whole && p.allIn == "" {
		p.allIn = version
	}
	for key, one := range p.said {
		if one.version == "" {
			one.version = version
			p.said[key] = one
		}
	}
}

// unsure says that what stands in zones can not be told in the terms of the profile in use. It is false for another panel.
func (p *PanelState) unsure(now moment, e evidence.Entry, profile string, zones ...site.ZoneID) bool {
	if p.Profile == "" {
		p.Profile = profile
	}
	if p.Profile != profile {
		return false
	}
	for _, zone := range zones {
		if last := p.last(zone); last.outdates(e) {
			p.forget(zone, last)
		} else {
			p.forget(zone, now)
		}
	}
	return true
}

func (p *PanelState) reset(now moment, profile string) {
	p.Profile, p.Version, p.Held, p.said, p.whole, p.allIn = profile, "", nil, map[string]zoneWord{}, false, ""
	p.close(now)
}

// close ends the table as found: what is read from now on is another one.
func (p *PanelState) close(now moment) {
	if n := len(p.Found); n > 0 && p.Found[n-1].until.seq == 0 {
		p.Found = slices.Clone(p.Found)
		p.Found[n-1].until = now
	}
}

// find puts what was read into the table as found to which it belongs. What was read before zones were keyed, and told after
// it, is of the table of before.
func (p *PanelState) find(e evidence.Entry, read FoundTable) {
	late := moment{} // the first keying of which it did not know
	for _, z := range p.Work {
		if z.Profile == read.Profile && z.word.outdates(e) && (late.seq == 0 || z.word.at.Before(late.at)) {
			late = z.word
		}
	}
	i := len(p.Found) - 1
	if late.seq > 0 {
		i = slices.IndexFunc(p.Found, func(f FoundTable) bool { return f.until.outdates(e) })
	}
	joins := i >= 0 && !read.Whole && !p.Found[i].Stale && p.Found[i].Profile == read.Profile && alike(p.Found[i].Version, read.Version)
	switch {
	case late.seq == 0:
		read.Whole, read.Zones = p.whole, ZoneTable{}
		for _, one := range p.said {
			if slots, held := p.Held[one.as]; held && alike(one.version, read.Version) {
				read.Zones[one.as] = slots
			}
		}
		if joins = joins && p.Found[i].until.seq == 0; joins {
			read.Read = slices.Compact(slices.Sorted(slices.Values(slices.Concat(p.Found[i].Read, read.Read))))
			p.Found = append(slices.Clone(p.Found[:i]), read)
			return
		}
		p.Found = append(slices.Clip(p.Found), read)
	case joins:
		f := p.Found[i]
		f.Zones = maps.Clone(f.Zones)
		for _, zone := range read.Read {
			if same := slices.IndexFunc(f.Read, func(z site.ZoneID) bool { return bare(z) == bare(zone) }); same < 0 {
				maps.DeleteFunc(f.Zones, func(z site.ZoneID, _ map[panel.Field]string) bool { return bare(z) == bare(zone) })
				f.Zones[zone] = read.Zones[zone]
				f.Read = append(slices.Clip(f.Read), zone)
			}
		}
		slices.Sort(f.Read)
		p.Found = slices.Clone(p.Found)
		p.Found[i] = f
	default:
		read.until = late
		at := slices.IndexFunc(p.Found, func(f FoundTable) bool { return f.until.seq == 0 || f.until.outdates(e) })
		if at < 0 {
			at = len(p.Found)
		}
		p.Found = slices.Insert(slices.Clone(p.Found), at, read)
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
		p.reset(now, "")
	}
}

// last is the newest word on a zone.
func (p *PanelState) last(zone site.ZoneID) moment {
	if one, named := p.said[bare(zone)]; named || !p.whole {
		return one.word
	}
	return p.all
}

// take says what a zone holds. Cards that were laid out without knowing of the newest word began from something else.
func (p *PanelState) take(now moment, e evidence.Entry, zone site.ZoneID, slots map[panel.Field]string, one zoneWord) {
	held, known := p.Holds(zone, one.version)
	same := known && maps.Equal(held, slots)
	switch last := p.last(zone); {
	case last.outdates(e):
		if !same {
			p.forget(zone, last)
		}
		return
	case one.keyed && !same && last.unseen(now):
		p.forget(zone, now)
		return
	}
	one.as, one.word = zone, now
	p.put(zone, slots, one)
}

// takeAll says that what a readout does not name is empty.
func (p *PanelState) takeAll(now moment, e evidence.Entry, b ReadoutBody, version string) {
	for key, one := range p.said {
		if one.word.outdates(e) {
			p.take(now, e, one.as, b.Zones[one.as], zoneWord{version: version})
			continue
		}
		delete(p.Held, one.as)
		delete(p.said, key)
	}
	if !p.whole || !p.all.outdates(e) {
		p.whole, p.file, p.all, p.allIn = true, b.Via == ViaFile, now, version
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
	case one.word.unseen(now):
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
