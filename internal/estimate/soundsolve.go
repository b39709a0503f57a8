package estimate

import (
	"math"

	"proofbell/acoustics"
	"proofbell/geom"
	"proofbell/internal/building"
	"proofbell/internal/words"
	"proofbell/quantity"
)

// soundState is the sound of every sounder, for one way the doors stand.
type soundState struct {
	sources []acoustics.Sounder
	tone    []int // of each sounder: index of the two below
	nth     []int // of each sounder: its index in the balance
	balance []*acoustics.Balance
	scene   []*geom.Scene
	links   [][]soundLink // by tone
}

// soundLink is what lies between two rooms.
type soundLink struct {
	a, b    int     // a may be building.Outside
	area    float64 // m2
	open    float64 // transmission in m2 of open doorway
	best    float64 // of the part that lets most through, at
	at      geom.Point3
	unknown bool // some part of it is not known and counts as tight
}

// loss is the composite reduction index.
func (l soundLink) loss() float64 { return -10 * math.Log10(l.open/l.area) }

// perStair brings an open stair to about 20 dB a storey, the end of 15 to 20 dB that gives less comfort: a hole of 2 m² into a
// hall that swallows 13 m² is 8 dB by itself, the turn of the stair is the rest. Confidence L.
const perStair = 12

// solve works out one way the doors stand. note keeps what is missing.
func (m *Sound) solve(doors Doors, a adjust, note bool) *soundState {
	st := &soundState{tone: make([]int, len(m.sounders)), nth: make([]int, len(m.sounders)), sources: make([]acoustics.Sounder, len(m.sounders))}
	rooms := make([]acoustics.Room, len(m.rooms))
	for i, r := range m.rooms {
		rooms[i] = acoustics.Room{Absorption: min(r.absorption*math.Pow(10, a.absorption/10), 0.95*r.surface), Surface: r.surface, Long: r.long}
	}
	var tones []float64
	var by [][]acoustics.Sounder
	for i, one := range m.sounders {
		at := -1
		for k, hz := range tones {
			if hz == one.tone {
				at = k
			}
		}
		if at < 0 {
			at = len(tones)
			tones, by = append(tones, one.tone), append(by, nil)
			st.links, st.scene = append(st.links, m.links(one.tone, doors, a, note)), append(st.scene, m.sceneOf(one.tone, doors, a))
		}
		power, err := acoustics.Power(quantity.DBA(one.rated+a.level), ratedAt, halfSpace)
		if err != nil {
			power = acoustics.Silence
		}
		s := acoustics.Sounder{Power: power, Q: halfSpace, Room: one.room}
		if one.room >= 0 && m.rooms[one.room].long {
			for _, l := range st.links[at] {
				s.Away = append(s.Away, one.at.Distance(l.at))
			}
		}
		st.sources[i], st.tone[i], st.nth[i] = s, at, len(by[at])
		by[at] = append(by[at], s)
	}
	for k := range tones {
		partitions := make([]acoustics.Partition, len(st.links[k]))
		for i, l := range st.links[k] {
			partitions[i] = acoustics.Partition{A: l.a, B: l.b, Open: l.open}
		}
		balance, err := acoustics.Solve(rooms, partitions, by[k])
		if err != nil { // rooms and partitions are within range by their making, unless a fit tries what no house is: silent
			balance = &acoustics.Balance{}
		}
		st.balance = append(st.balance, balance)
	}
	return st
}

// lossOf is what something takes off sound, at most what flanking leaves of any wall; what is not known takes all.
func (m *Sound) lossOf(made building.Made, hz float64, door bool, a adjust) (dB float64, known bool, l building.Loss) {
	l = m.b.SoundLoss(made, hz)
	if !l.Known && a.loose {
		return 0, true, l
	}
	if !l.Known {
		return geom.Silence, false, l
	}
	dB = l.DB
	if door && !made.Open {
		dB = max(0, dB+a.door)
	}
	return min(dB, float64(acoustics.Flanking)), true, l
}

// stands returns what a piece is made of with the doors as asked. With them shut, windows between rooms are shut as well.
func stands(p *building.Piece, doors Doors) (made building.Made, door bool) {
	made = p.Made
	inner := p.Rooms[0] >= 0 && p.Rooms[1] >= 0
	if door = p.Kind == "door" || p.Kind == "hatch"; door && doors != AsDrawn {
		made.Open = doors == Open && inner
	} else if p.Kind == "window" && inner && doors == Shut {
		made.Open = false
	}
	return made, door
}

// links gathers what lies between each two rooms.
func (m *Sound) links(hz float64, doors Doors, a adjust, note bool) []soundLink {
	var out []soundLink
	index := map[[2]int]int{}
	add := func(x, y int, made building.Made, door bool, extra, area float64, at geom.Point3) {
		if x == y || !(area > 0) {
			return
		}
		if x > y {
			x, y = y, x
		}
		i, ok := index[[2]int{x, y}]
		if !ok {
			i = len(out)
			index[[2]int{x, y}] = i
			out = append(out, soundLink{a: x, b: y})
		}
		l := &out[i]
		dB, known, loss := m.lossOf(made, hz, door, a)
		l.area += area
		if !known {
			l.unknown = true
			if note && x >= 0 {
				m.lack(words.Later("between %s and %s: %s", m.b.Rooms[x].Name, m.b.Rooms[y].Name, loss.Source))
			}
			return
		}
		tau := area * math.Pow(10, -(dB+extra)/10)
		l.open += tau
		if tau > l.best {
			l.best, l.at = tau, at
		}
	}
	single := m.single(hz, doors, a)
	for i := range m.b.Pieces {
		p := &m.b.Pieces[i]
		made, door := stands(p, doors)
		middle := p.A.Add(p.B).Scale(0.5)
		add(p.Rooms[0], p.Rooms[1], made, door, 0, single[i], geom.Point3{X: middle.X, Y: middle.Y, Z: (p.Z0 + p.Z1) / 2})
	}
	for _, f := range m.b.Floors {
		for _, part := range f.Parts {
			c := m.b.Rooms[part.Above].Inside()
			add(part.Above, part.Below, f.Made, false, 0, part.Area, geom.Point3{X: c.X, Y: c.Y, Z: f.Z})
		}
		for _, h := range f.Holes {
			made, extra, area := h.Made, 0.0, h.Area()
			if h.Kind == "stair" {
				low, high := h.Outline.Bounds()
				extra, area = perStair, 2*(high.X-low.X)
			} else if doors != AsDrawn {
				made.Open = false
			}
			c := h.Outline.Centroid()
			add(h.Above, h.Below, made, false, extra, area, geom.Point3{X: c.X, Y: c.Y, Z: f.Z})
		}
	}
	for i := range out {
		out[i].open = max(out[i].open, out[i].area*math.Pow(10, -float64(acoustics.Flanking)/10))
		if out[i].unknown && out[i].best == 0 {
			out[i].open = 0
		}
	}
	return out
}

// single is the area of each piece that counts: of two that stand one behind the other the one that takes more off, once.
func (m *Sound) single(hz float64, doors Doors, a adjust) []float64 {
	out := make([]float64, len(m.b.Pieces))
	for i := range out {
		out[i] = m.b.Pieces[i].Area()
	}
	loss := func(i int) float64 {
		made, door := stands(&m.b.Pieces[i], doors)
		dB, _, _ := m.lossOf(made, hz, door, a)
		return dB
	}
	for _, d := range m.doubles {
		gives := d.J
		if loss(d.I) < loss(d.J) {
			gives = d.I
		}
		out[gives] = max(0, out[gives]-d.Area)
	}
	return out
}

// sceneOf is the building for straight ways.
func (m *Sound) sceneOf(hz float64, doors Doors, a adjust) *geom.Scene {
	scene := m.b.Scene(func(p *building.Piece) float64 {
		made, door := stands(p, doors)
		dB, _, _ := m.lossOf(made, hz, door, a)
		return dB
	}, func(f *building.Floor) float64 {
		dB, _, _ := m.lossOf(f.Made, hz, false, a)
		return dB
	}, func(_ *building.Floor, h *building.Hole) float64 {
		made := h.Made
		made.Open = made.Open && (h.Kind == "stair" || doors == AsDrawn)
		dB, _, _ := m.lossOf(made, hz, false, a)
		return dB
	})
	for _, one := range m.sounders {
		if one.room == building.Outside { // from outdoors a roof is in the way
			return roofed(m.b, scene)
		}
	}
	return scene
}

// heard is the energy of a sounder at a place in a room; without a place, of its echoes alone.
func (st *soundState) heard(m *Sound, i int, at *geom.Point3, room int) float64 {
	e := st.balance[st.tone[i]].Reverberant(st.nth[i], room)
	if at != nil {
		from := m.sounders[i].at
		e += st.sources[i].Direct(quantity.Metre(from.Distance(*at)), quantity.DB(st.scene[st.tone[i]].Loss(from, *at)))
	}
	return e
}

// together is the loudest of a set at a place, which one that is, and the energy of all of it. skip is left out; -1: none.
func (st *soundState) together(m *Sound, set soundSet, at *geom.Point3, room, skip int) (loudest float64, which int, sum float64) {
	which = -1
	for _, i := range set.of {
		if i == skip {
			continue
		}
		e := st.heard(m, i, at, room)
		sum += e
		if e > loudest {
			loudest, which = e, i
		}
	}
	return loudest, which, sum
}

// counts reports whether a set counts in a room: what stands alone only in its own.
func (m *Sound) counts(set soundSet, room int) bool {
	return !set.alone || m.sounders[set.of[0]].room == room
}

// passed is how many partitions the loudest way from a sounder into a room passes; two where none leads.
func (st *soundState) passed(i, room int) int {
	if n, ok := st.balance[st.tone[i]].Passed(st.nth[i], room); ok {
		return n
	}
	return 2
}
