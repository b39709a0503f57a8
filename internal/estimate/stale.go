package estimate

import (
	"fmt"
	"math"
	"strings"

	"proofbell/geom"
	"proofbell/internal/building"
	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/site"
)

// rest is one thing that a reading rests on: as it is in one site.
type rest struct {
	name words.Text
	is   string
}

// rests are the things that a reading rests on, by JSON pointer.
type rests map[string]rest

func (r rests) add(pointer string, name words.Text, is ...any) {
	if before, there := r[pointer]; there {
		name = before.name
	}
	r[pointer] = rest{name, r[pointer].is + fmt.Sprintf("%v;", is)}
}

// mostNamed is how many changes a reading out of date names.
const mostNamed = 3

// changed says what differs between what a reading rested on and what is there now; the zero Text for nothing.
func (r rests) changed(now rests) words.Text {
	var pointers []string
	for p, was := range r {
		if is, there := now[p]; !there || is.is != was.is {
			pointers = append(pointers, p)
		}
	}
	for p := range now {
		if _, there := r[p]; !there {
			pointers = append(pointers, p)
		}
	}
	sorts.By(pointers, strings.Compare)
	var say words.Text
	for i, p := range pointers {
		was, before := r[p]
		is, after := now[p]
		one := words.Later("%s changed", is.name)
		switch {
		case !before:
			one = words.Later("%s new", is.name)
		case !after:
			one = words.Later("%s no longer there or in the way", was.name)
		}
		switch {
		case i == 0:
			say = one
		case i == mostNamed:
			return words.Later("out of date: %s", words.Later("%s and %d more", say, len(pointers)-i))
		default:
			say = words.Later("%s, %s", say, one)
		}
	}
	if len(pointers) == 0 {
		return words.Text{}
	}
	return words.Later("out of date: %s", say)
}

// piece adds a wall, or what is in it: where it stands and what it takes off. Whether a door is drawn open is how it stands, and
// no change of it.
func (r rests) piece(b *building.Building, i int, loss func(building.Made) building.Loss) {
	p := &b.Pieces[i]
	made := p.Made
	made.Open = made.Open && (p.Kind == "" || p.Kind == "passage")
	l := loss(made)
	pointer, name := "/walls/"+string(p.Wall), words.Later("wall %s", p.Wall)
	switch {
	case p.Kind != "":
		pointer, name = "/openings/"+string(p.Opening), words.Typed(b.OpeningName(p.Opening))
	case p.Assumed:
		pointer, name = "/walls", words.Later("a wall that is not drawn")
	}
	r.add(pointer, name, places(p.A, p.B), millimetres(p.Z0), millimetres(p.Z1), p.Kind, made, l.Known, l.DB)
}

// between adds what a straight way passes.
func (r rests) between(b *building.Building, from, to geom.Point3, loss func(building.Made) building.Loss) {
	for _, c := range b.Crossed(from, to) {
		if c.Piece >= 0 {
			r.piece(b, c.Piece, loss)
			continue
		}
		f := &b.Floors[c.Floor]
		made := f.Made
		if c.Hole >= 0 {
			made = f.Holes[c.Hole].Made
			made.Open = false
		}
		l := loss(made)
		r.add("/storeys/"+string(b.Storeys[f.Storey].ID), words.Later("floor of %s", b.Storeys[f.Storey].Name), millimetres(f.Z), made, l.Known, l.DB)
	}
}

func millimetres(m float64) int64 { return int64(math.Round(m * 1000)) }

func places(points ...geom.Point) (out []int64) {
	for _, p := range points {
		out = append(out, millimetres(p.X), millimetres(p.Y))
	}
	return out
}

func place(p geom.Point3) []int64 {
	return append(places(p.Plan()), millimetres(p.Z))
}

// matters is how far below the loudest another sounder may arrive by the model and still be the one that was measured.
const matters = 10 // dB: the uncertainty of far ways

// Stale says by what change a reading is out of date: one that was taken when the site was that of then, of what is now in m. The
// zero Text is up to date. It rests on the room, the bed, the sounders that may have carried it, and all between them and it.
func (m *Sound) Stale(then *Sound, was, is SoundReading) words.Text {
	return then.restsOf(was).changed(m.restsOf(is))
}

func (m *Sound) restsOf(r SoundReading) rests {
	out := rests{}
	room, ok := m.b.RoomOf(r.Room)
	if !ok {
		return out
	}
	m.restRoom(out, room)
	at := m.placeOf(r)
	if r.Bed != "" {
		name := words.Later("%s, bed %s", m.b.Rooms[room].Name, r.Bed)
		if at == nil {
			out.add("/rooms/"+string(r.Room)+"/beds", name)
		} else {
			out.add("/rooms/"+string(r.Room)+"/beds", name, place(*at))
		}
	}
	var of []int
	var most float64
	energy := make([]float64, len(m.sounders))
	for i, one := range m.sounders {
		counts := r.Source == one.pointer
		for _, set := range m.sets {
			for _, k := range set.of {
				counts = counts || k == i && (r.Source == "" && m.reaches(set, room) || r.Source == set.pointer)
			}
		}
		if counts {
			of, energy[i] = append(of, i), m.state.heard(m, i, at, room)
			most = max(most, energy[i])
		}
	}
	for _, i := range of {
		one := m.sounders[i]
		if energy[i] < most*math.Pow(10, -matters/10.0) {
			continue
		}
		out.add(one.pointer, one.name, place(one.at), m.roomID(one.room), one.rated, one.tone, m.groupOf(one.pointer))
		loss := func(made building.Made) building.Loss { return m.b.SoundLoss(made, one.tone) }
		way := m.way(m.state, one.room, room)
		for k, to := range way {
			m.restRoom(out, to)
			if k > 0 {
				m.restLink(out, way[k-1], to, loss)
			}
		}
		if at != nil {
			out.between(m.b, one.at, *at, loss)
		}
	}
	return out
}

// restRoom adds a room, once.
func (m *Sound) restRoom(out rests, i int) {
	r := &m.b.Rooms[i]
	pointer := "/rooms/" + string(r.ID)
	if _, there := out[pointer]; !there {
		out.add(pointer, words.Typed(r.Name), places(r.Outline...), millimetres(r.Z0), millimetres(r.Z1), m.rooms[i].decay, m.s.Rooms[r.ID].Dwelling)
	}
}

// restLink adds what lies between two rooms.
func (m *Sound) restLink(out rests, x, y int, loss func(building.Made) building.Loss) {
	for i := range m.b.Pieces {
		if p := &m.b.Pieces[i]; p.Rooms == [2]int{x, y} || p.Rooms == [2]int{y, x} {
			out.piece(m.b, i, loss)
		}
	}
	for _, f := range m.b.Floors {
		for _, part := range f.Parts {
			if l := loss(f.Made); part.Above == x && part.Below == y || part.Above == y && part.Below == x {
				out.add("/storeys/"+string(m.b.Storeys[f.Storey].ID), words.Later("floor of %s", m.b.Storeys[f.Storey].Name), millimetres(part.Area), f.Made, l.Known, l.DB)
			}
		}
		for _, h := range f.Holes {
			if h.Above == x && h.Below == y || h.Above == y && h.Below == x {
				out.add("/openings/"+string(h.Opening), words.Typed(m.b.OpeningName(h.Opening)), places(h.Outline...), h.Kind, h.Material, h.As)
			}
		}
	}
}

func (m *Sound) roomID(i int) site.RoomID {
	if i < 0 {
		return ""
	}
	return m.b.Rooms[i].ID
}

func (m *Sound) groupOf(pointer string) site.GroupID {
	id, _ := strings.CutPrefix(pointer, "/heads/")
	return m.s.Heads[site.HeadID(id)].Group
}

// Stale says by what change a measured level is out of date: one that was taken when the site was that of then. The zero Text is
// up to date. It rests on the transmitter, the receiver, and all between them.
func (r *Radio) Stale(then *Radio, l RadioLevel) words.Text {
	old, now := rests{}, rests{}
	then.restHop(old, l.Device, l.To, l.At)
	r.restHop(now, l.Device, l.To, l.At)
	then.restUnit(old, now, r, l.Device)
	return old.changed(now)
}

// StaleLoss is Stale for a measured loss of check-ins: it rests on all hops of the device.
func (r *Radio) StaleLoss(then *Radio, id site.DeviceID) words.Text {
	old, now := rests{}, rests{}
	for of, into := range map[*Radio]rests{then: old, r: now} {
		of.restHop(into, id, "", nil)
		for _, l := range of.Links {
			for _, h := range l.Hops {
				if l.Device == id {
					of.restHop(into, h.From, h.To, nil)
				}
			}
		}
	}
	then.restUnit(old, now, r, id)
	return old.changed(now)
}

// restUnit adds the unit itself where both sites know which one it is.
func (r *Radio) restUnit(old, new rests, now *Radio, id site.DeviceID) {
	was, is := r.site.Devices[id].Identity, now.site.Devices[id].Identity
	if was != "" && is != "" {
		old.add("/devices/"+string(id), words.Typed(string(id)), was)
		new.add("/devices/"+string(id), words.Typed(string(id)), is)
	}
}

func (r *Radio) restHop(out rests, from, to site.DeviceID, held *site.Coordinates) {
	d, there := r.site.Devices[from]
	if !there {
		return
	}
	model, _ := r.site.ModelOf(from)
	where := d.At
	if held != nil {
		where = *held
	}
	at, _, placed := r.b.Place(where, d.Room)
	out.add("/devices/"+string(from), words.Typed(strings.TrimSpace(model.Name+" "+string(from))), placed, place(at), d.Model, model.TransmitPower.SI(), model.Antenna.SI())
	p := r.site.Panel
	var end geom.Point3
	var known bool
	if to == "" {
		end, _, known = r.b.Place(p.At, p.Room)
		out.add("/panel", words.Later("the panel"), known, place(end), p.Radio.Antenna.SI(), p.Radio.Frequency.SI())
	} else {
		other := r.site.Devices[to]
		heard, _ := r.site.ModelOf(to)
		end, _, known = r.b.Place(other.At, other.Room)
		out.add("/devices/"+string(to), words.Typed(strings.TrimSpace(heard.Name+" "+string(to))), known, place(end), other.Model, heard.Antenna.SI())
	}
	if placed && known {
		out.between(r.b, at, end, func(made building.Made) building.Loss { return r.b.RadioLoss(made, p.Radio.Frequency.SI()/1e6) })
	}
}
