package draught

import (
	"cmp"
	"slices"

	"proofbell/geom"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/site"
)

// heights are those at which devices of a class hang, metres above the floor, where nobody said any: usual practice, for
// the drawing and for estimates, and to be mended on site. Classes that are not here hang at the ceiling.
var heights = map[string]float64{
	"contact": 2.1, "motion": 2.2, "glass-break": 2.2, "co": 1.5, "call-point": 1.4, "water": 0.05, "temperature": 1.5, "pendant": 1.0,
	"panic-button": 0.8, "keyswitch": 1.2, "keypad": 1.4, "sounder": 2.4, "repeater": 2.2,
}

// device puts a part of the system down, or moves it. The room is found from the place; the height is kept above the floor
// or at the ceiling, and follows a rule for a new one.
func (e *sheet) device(a Operation) error {
	id := site.DeviceID(a.ID)
	d, there := e.site.Devices[id]
	if a.ID != "" && !there {
		return e.refuse(words.Later("there is no device %q", a.ID), words.Later("put it down as a new one"))
	}
	if !there {
		m, known := e.site.Models[site.ModelID(a.Model)]
		if !known {
			return e.refuse(words.Later("there is no model %q", a.Model), words.Later("choose one of the site's models, or add it first"))
		}
		d.Model = site.ModelID(a.Model)
		id = site.DeviceID(free(m.Name, func(id string) bool { _, taken := e.site.Devices[site.DeviceID(id)]; return taken }))
	}
	rule, stands := heights[e.site.Models[d.Model].Class]
	room, at, err := e.put(d.Room, d.At, a, rule, !stands)
	if err != nil {
		return err
	}
	if !there {
		e.new("devices", string(id))
	}
	d.Room, d.At = room, at
	e.setDevice(id, d)
	e.said = words.Later("%s in %s", cmp.Or(e.site.Models[d.Model].Name, string(id)), e.site.Rooms[room].Name)
	return nil
}

// head puts a self-contained alarm down, or moves it.
func (e *sheet) head(a Operation) error {
	id := site.HeadID(a.ID)
	h, there := e.site.Heads[id]
	if !there {
		if !slices.Contains(site.Words("head-kind"), a.Kind) {
			return e.refuse(words.Later("there is no kind of alarm %q", a.Kind), words.Later("choose smoke, heat, co or smoke-co"))
		}
		h.Kind = a.Kind
		if id == "" {
			id = site.HeadID(free("alarm", func(id string) bool { _, taken := e.site.Heads[site.HeadID(id)]; return taken }))
		}
	}
	room, at, err := e.put(h.Room, h.At, a, heights["co"], h.Kind != "co")
	if err != nil {
		return err
	}
	if !there {
		e.new("heads", string(id))
	}
	h.Room, h.At = room, at
	e.setHead(id, h)
	e.said = words.Later("Alarm %s in %s", string(id), e.site.Rooms[room].Name)
	return nil
}

// put finds room and height for a thing at a place. was and from are the room and place that it had.
func (e *sheet) put(was site.RoomID, from site.Coordinates, a Operation, rule float64, ceiling bool) (site.RoomID, site.Coordinates, error) {
	if err := e.needStorey(); err != nil {
		return "", nil, err
	}
	if a.At == nil {
		return "", nil, e.refuse(words.Later("nobody said where"), words.Later("tap a room"))
	}
	p := geom.Point{X: e.length(a.At.X).SI(), Y: e.length(a.At.Y).SI()}
	room, ok := e.roomAt(p)
	if r := e.site.Rooms[was]; ok && r.Storey == e.storey && r.Outline.Polygon().Contains(p) {
		room = was // on the wall between two
	}
	if !ok {
		return "", nil, e.refuseAt(p, words.Later("there is no room here"), words.Later("put it into a room, or draw the room first"))
	}
	height, err := e.height(was, from, room, a.Height, rule, ceiling)
	if err != nil {
		return "", nil, err
	}
	return room, append(e.place(p), height), nil
}

// height is that of a thing above the ground floor: as typed above the floor of its room; else as it was, above the floor
// or under the ceiling; else by rule.
func (e *sheet) height(was site.RoomID, from site.Coordinates, room site.RoomID, typed string, rule float64, ceiling bool) (quantity.Length, error) {
	level := e.site.Storeys[e.storey].Level.SI()
	top, known := e.site.Ceiling(room)
	if typed != "" {
		v, err := e.read(typed, words.Later("height"))
		if err != nil {
			return v, err
		}
		if v.SI() < -10 || v.SI() > 100 {
			return v, e.refuse(words.Later("a height of %s above the floor can not be", typed), words.Later("write the height above the floor of the room"))
		}
		return e.sum(level, v, 1), nil
	}
	above := rule
	if ceiling && known {
		above = top
	} else if ceiling {
		above = 2.4
	}
	if z, had := from.Height(); had {
		floor := e.site.Storeys[e.was.Rooms[was].Storey].Level.SI()
		old, knew := e.was.Ceiling(was)
		above = z - floor
		switch {
		case was == room:
			return from[2], nil
		case knew && known && above > old-0.05:
			above = top
		}
	}
	if known {
		above = min(above, top)
	}
	return e.written(level + above), nil
}

// rehouse lets devices and alarms say in which room they are after the rooms of the storey changed: a thing that lay in
// its room, or in none, and lies in another one now belongs to that one.
func (e *sheet) rehouse() {
	for _, id := range site.SortedIDs(e.site.Devices) {
		d := e.site.Devices[id]
		if room, changed := e.house(d.Room, e.was.Devices[id].At, d.At); changed {
			d.Room = room
			e.setDevice(id, d)
			e.goes = append(e.goes, e.lang.Say("%s is now in %s.", cmp.Or(e.site.Models[d.Model].Name, string(id)), e.site.Rooms[room].Name))
		}
	}
	for _, id := range site.SortedIDs(e.site.Heads) {
		h := e.site.Heads[id]
		if room, changed := e.house(h.Room, e.was.Heads[id].At, h.At); changed {
			h.Room = room
			e.setHead(id, h)
			e.goes = append(e.goes, e.lang.Say("%s is now in %s.", e.lang.Say("Alarm %s", string(id)), e.site.Rooms[room].Name))
		}
	}
	p := e.site.Panel
	if room, changed := e.house(p.Room, e.was.Panel.At, p.At); changed {
		e.touch("panel", "")
		e.site.Panel.Room = room
		e.goes = append(e.goes, e.lang.Say("%s is now in %s.", e.lang.Say("The panel"), e.site.Rooms[room].Name))
	}
}

// house returns the room of a thing at a place when that is not the one it says.
func (e *sheet) house(says site.RoomID, before, now site.Coordinates) (site.RoomID, bool) {
	at, ok := now.Point()
	old, had := before.Point()
	if !ok || !had {
		return says, false
	}
	r, there := e.site.Rooms[says]
	if there && (r.Storey != e.storey || r.Outline.Polygon().Contains(at)) {
		return says, false
	}
	if was := e.was.Rooms[says]; says != "" && (was.Storey != e.storey || !was.Outline.Polygon().Contains(old)) {
		return says, false // it lay elsewhere before: somebody knows why
	}
	if says == "" {
		z, high := now.Height()
		if storey, known := e.site.StoreyAt(z); !high || !known || storey != e.storey {
			return says, false
		}
	}
	room, ok := e.roomAt(at)
	return room, ok && room != says
}
