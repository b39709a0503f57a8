// Package reach asks of a site in how many ways a fire in each room becomes known, and how likely none of them works: to the
// people in the building by sound, and to the station by signal. It turns a site into a system of parts for package
// reliability, and the answers into sentences.
//
// Everything here is a planning estimate from published and assumed failure rates and is labelled so wherever it stands. A
// figure is always a range. What is missing is named, what was assumed is said. Functions are pure; a site is not changed.
package reach

import (
	"errors"
	"time"

	"proofbell/internal/estimate"
	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/reliability"
	"proofbell/site"
)

// Label stands beside every figure of this package.
var Label = words.Mark("Planning estimate from assumed failure rates. It shows what is weak, not what will happen.")

// Options say of what reach is asked.
type Options struct {
	Site  *site.Site
	Radio *estimate.Radio           // nil: no link is estimated
	Lost  map[site.DeviceID]float64 // measured share of check-ins that do not arrive
	Sound *estimate.Sound           // nil: nothing is known of what is heard
	Need  estimate.SoundNeed        // with Sound
	On    time.Time                 // day on which ages are judged; zero: ages are not known
	heard listeners                 // computed once
}

// place is where someone has to hear an alarm, and how each set is heard there; what stands alone is heard in its own room.
// Rooms where all that is joined is heard alike are one place.
type place struct {
	rooms []site.RoomID
	heard []estimate.Heard
}

// listeners are the places where someone has to hear.
type listeners struct {
	alike []place                 // by what is joined alone
	own   map[site.RoomID][]place // with what stands alone in the room
}

// Model is a site as a system, solved.
type Model struct {
	o       Options
	v       variant
	sys     reliability.System
	parts   map[string]*part
	byPart  []*part // by index in sys
	diagram *reliability.Diagram
	rooms   []*room
	whole   reliability.Node // every room's fire reaches the station
	joined  bool             // whole is in the diagram

	T, repair    reliability.Range // hours
	houseOnMains bool              // router, fibre box or switch stop with the mains
	unwatched    bool              // some radio part is missed by nobody
	old          bool              // some head is older than ten years
	assumed      []words.Text
	said         map[string]bool

	station []reliability.Range // by room
	sound   []reliability.Range
	union   reliability.Range
	spread  []reliability.Spread // of all tops, in their order; nil until asked for
	tops    []reliability.Node
}

// room is one room with the ways in which a fire in it becomes known.
type room struct {
	id      site.RoomID
	name    string
	ways    []*way
	station reliability.Node
	sound   reliability.Node
	late    bool          // what would notice the fire is in the rooms beside
	noone   bool          // no place where someone hears is known
	deaf    []site.RoomID // where people sleep and nothing that sounds for this fire is heard
}

// way is one chain from a fire to the panel.
type way struct {
	say     words.Text
	sense   []reliability.Node
	carry   []reliability.Node
	paths   []site.PathID
	sets    []string // what sounds without the panel
	reports bool
}

// ErrNothing marks a site without rooms.
var ErrNothing = errors.New("no rooms")

// Of builds and solves the system of a site. An error says what is missing, or that the system is too large.
func Of(o Options) (*Model, error) {
	if len(o.Site.Rooms) == 0 {
		return nil, errors.Join(&words.Error{Say: words.Later("the site has no rooms"), Try: words.Later("enter the rooms, then what is in them")}, ErrNothing)
	}
	o.heard = hearing(o)
	return solve(o, variant{})
}

// hearing is what is heard wherever someone sleeps; where nobody does, in every room.
func hearing(o Options) listeners {
	out := listeners{own: map[site.RoomID][]place{}}
	if o.Sound == nil {
		return out
	}
	sleepers := false
	for _, r := range o.Site.Rooms {
		sleepers = sleepers || estimate.Sleeps(r)
	}
	index := map[string]int{}
	for _, id := range site.SortedIDs(o.Site.Rooms) {
		r := o.Site.Rooms[id]
		if sleepers && !estimate.Sleeps(r) {
			continue
		}
		beds := site.SortedIDs(r.Beds)
		if len(beds) == 0 {
			beds = []site.BedID{""}
		}
		for _, bed := range beds {
			all := o.Sound.HeardAt(o.Need, id, bed)
			var joined []estimate.Heard
			key := ""
			for _, h := range all {
				if !h.Alone {
					joined = append(joined, h)
					key += h.Set + string(h.Verdict) + h.Needs + ";"
				}
			}
			out.own[id] = append(out.own[id], place{[]site.RoomID{id}, all})
			at, known := index[key]
			if !known {
				at = len(out.alike)
				index[key] = at
				out.alike = append(out.alike, place{heard: joined})
			}
			if rooms := out.alike[at].rooms; len(rooms) == 0 || rooms[len(rooms)-1] != id {
				out.alike[at].rooms = append(rooms, id)
			}
		}
	}
	return out
}

// of are the places for a fire in a room: those in it, and those elsewhere.
func (l listeners) of(room site.RoomID) []place {
	out := l.own[room]
	for _, p := range l.alike {
		if len(p.rooms) > 1 || p.rooms[0] != room {
			out = append(out[:len(out):len(out)], p)
		}
	}
	return out
}

func solve(o Options, v variant) (*Model, error) {
	m := &Model{o: o, v: v, parts: map[string]*part{}, said: map[string]bool{}}
	m.times()
	ids := site.SortedIDs(o.Site.Rooms)
	sorts.Stable(ids, func(a, b site.RoomID) int { return o.Site.Rooms[a].Order - o.Site.Rooms[b].Order })
	b := m.builder()
	var all []reliability.Node
	for _, id := range ids {
		r := b.room(id)
		m.rooms = append(m.rooms, r)
		m.tops = append(m.tops, r.station, r.sound)
		all = append(all, r.station)
	}
	m.whole = m.sys.All(all...)
	var err error
	if m.diagram, err = m.sys.Diagram(0, append(m.tops, m.whole)...); err == nil {
		m.joined = true
	} else if m.diagram, err = m.sys.Diagram(0, m.tops...); err != nil {
		return nil, err
	}
	ranges := m.diagram.Ranges()
	for i := range m.rooms {
		m.station, m.sound = append(m.station, ranges[2*i]), append(m.sound, ranges[2*i+1])
	}
	if m.joined {
		m.union = ranges[len(ranges)-1]
	} else { // no less than the worst room, no more than all of them added
		for _, r := range m.station {
			m.union = reliability.Range{Low: max(m.union.Low, r.Low), Mid: max(m.union.Mid, r.Mid), High: min(1, m.union.High+r.High)}
		}
	}
	return m, nil
}

// mean is the chance that a fire in a room taken at random is not reported, or not heard.
func mean(of []reliability.Range) (out reliability.Range) {
	n := float64(len(of))
	for _, r := range of {
		out = reliability.Range{Low: out.Low + r.Low/n, Mid: out.Mid + r.Mid/n, High: out.High + r.High/n}
	}
	return out
}

// worst is the index of the room with the greatest middle.
func worst(of []reliability.Range) int {
	at := 0
	for i, r := range of {
		if r.Mid > of[at].Mid {
			at = i
		}
	}
	return at
}

func (m *Model) assume(t words.Text) {
	if said := t.String(); !m.said[said] {
		m.said[said] = true
		m.assumed = append(m.assumed, t)
	}
}

// times are the test interval and the repair time, in hours.
func (m *Model) times() {
	care := m.o.Site.Care
	switch {
	case care.VisitsAYear > 0:
		m.T = reliability.Sure(8760 / float64(care.VisitsAYear))
	default:
		m.T = reliability.Range{Low: 4380, Mid: 8760, High: 17520}
		m.assume(words.Later("Visits a year are not agreed: the whole path is tested every 6, 12 or 24 months."))
	}
	if m.v.halfTest {
		m.T = reliability.Range{Low: m.T.Low / 2, Mid: m.T.Mid / 2, High: m.T.High / 2}
	}
	if h := care.Repair.SI() / 3600; h > 0 {
		m.repair = reliability.Sure(h)
		return
	}
	m.repair = reliability.Range{Low: 4, Mid: 24, High: 72}
	m.assume(words.Later("No repair time is agreed: 4, 24 or 72 h from a reported fault to its repair."))
}
