package draught

import (
	"math"
	"slices"

	"proofbell/geom"
	"proofbell/internal/words"
	"proofbell/site"
)

// divide draws a wall through a room and makes two of it. The larger part keeps its id and name. The line begins and ends
// at sides of the room; it is lengthened to them.
func (e *sheet) divide(a Operation) error {
	id, poly, err := e.sideOf(a)
	if err != nil {
		return err
	}
	if len(a.Points) < 2 {
		return e.refuse(words.Later("a dividing wall has %d places", len(a.Points)), words.Later("draw a line from side to side"))
	}
	r := e.site.Rooms[id]
	line := slices.Clone(a.Points)
	last := len(line) - 1
	for i := range line {
		line[i] = e.settle(line[i])
	}
	i, p, ok1 := e.strike(poly, line[0], line[1])
	j, q, ok2 := e.strike(poly, line[last], line[last-1])
	if !ok1 || !ok2 || same(p, q) {
		return e.refuseAt(a.Points[0], words.Later("the line does not divide %s", r.Name), words.Later("draw it from one side of the room to another"))
	}
	line[0], line[last] = p, q
	template, err := e.template(a)
	if err != nil {
		return err
	}
	one, two := ring(poly, i, j, line), ring(poly, j, i, backwards(line))
	around := 0.0
	for _, s := range sides(poly) {
		around += s.length()
	}
	// Along one side, or out of the room and in again, it divides nothing.
	if len(line) == 2 && i == j || math.Abs(one.Area()+two.Area()-poly.Area()) > around*touching {
		return e.refuseAt(p, words.Later("the line does not divide %s", r.Name), words.Later("draw it from one side of the room to another"))
	}
	if one.Area() < two.Area() {
		one, two = two, one
	}
	if err := e.sound(id, r.Name, one, poly); err != nil {
		return err
	}
	before := e.rooms()
	r.Outline = e.outline(one)
	e.setRoom(id, r)
	name := a.Name
	if name == "" {
		name = e.lang.Say("Room %d", len(e.site.Rooms)+1)
	}
	part := site.RoomID(free(name, func(id string) bool { _, taken := e.site.Rooms[site.RoomID(id)]; return taken }))
	e.new("rooms", string(part))
	if err := e.sound(part, name, two, poly); err != nil {
		return err
	}
	e.setRoom(part, site.Room{Name: name, Use: a.Use, Order: e.nextOrder(), Storey: r.Storey, Outline: e.outline(two), Ceiling: r.Ceiling})
	for _, end := range []geom.Point{p, q} {
		if e.blocked(end) {
			return e.refuseAt(end, words.Later("an opening stands where the wall would end"), words.Later("move the opening or the wall"))
		}
	}
	var wanted []piece
	for k := range line[:last] {
		wanted = append(wanted, piece{edge: edge{line[k], line[k+1]}, wall: template, name: string(part) + "-wall"})
	}
	e.walls(nil, edgesOf(before), e.edges(), wanted, nil)
	e.openingsAlong(edgesOf([]room{{poly: one}, {poly: two}}))
	e.rehouse()
	e.said = words.Later("%s, %s; %s, %s", r.Name, e.area(one.Area()), name, e.area(two.Area()))
	return nil
}

// blocked reports whether an opening of the storey takes a place at a wall.
func (e *sheet) blocked(p geom.Point) bool {
	for _, o := range e.site.Openings {
		at, ok := o.At.Point()
		if ok && o.Storey == e.storey && o.Kind != "stair" && at.Distance(p) < o.Width.SI()/2-touching {
			return true
		}
	}
	return false
}

// strike returns where a line that begins at from meets the outline: at from itself when that lies there, else where the
// line, lengthened backwards, leaves the room; and the side that it meets.
func (e *sheet) strike(poly geom.Polygon, from, toward geom.Point) (side int, at geom.Point, ok bool) {
	if same(from, toward) {
		return 0, at, false
	}
	best := math.Inf(1)
	back := from.Sub(toward).Scale(1 / from.Distance(toward))
	ray := edge{toward, from.Add(back.Scale(1e4))}
	for i, s := range sides(poly) {
		if s.holds(from) && !same(from, s.b) {
			return i, from, true
		}
		p, meet := (geom.Segment{A: ray.a, B: ray.b}).Crossing(geom.Segment{A: s.a, B: s.b})
		if !meet {
			continue
		}
		// the crossing that is nearest to where the line begins, before or behind
		if d := p.Distance(from); d < best && !same(p, toward) {
			best, side, at, ok = d, i, p, true
			if same(p, s.b) {
				side = (i + 1) % len(poly)
			}
		}
	}
	return side, e.settle(at), ok
}

// ring closes a part of an outline: along a line from a place on side i to one on side j, then round the room back to side i.
func ring(poly geom.Polygon, i, j int, line []geom.Point) geom.Polygon {
	out := geom.Polygon{}
	add := func(p geom.Point) {
		if len(out) == 0 || !same(out[len(out)-1], p) {
			out = append(out, p)
		}
	}
	for _, p := range line {
		add(p)
	}
	n := len(poly)
	q, p := line[len(line)-1], line[0]
	steps := (i - j + n) % n
	if i == j && (edge{poly[i], q}).length() > (edge{poly[i], p}).length() { // once round
		steps = n
	}
	for k := 1; k <= steps; k++ {
		add(poly[(j+k)%n])
	}
	if len(out) > 1 && same(out[0], out[len(out)-1]) {
		out = out[:len(out)-1]
	}
	return out
}

func backwards(line []geom.Point) []geom.Point {
	out := slices.Clone(line)
	slices.Reverse(out)
	return out
}

// join takes the wall between two rooms away: From goes into ID, with all that was in it.
func (e *sheet) join(a Operation) error {
	id, poly, err := e.sideOf(a)
	if err != nil {
		return err
	}
	from := site.RoomID(a.From)
	r, f := e.site.Rooms[id], e.site.Rooms[from]
	other := f.Outline.Polygon()
	if from == id || len(other) < 3 || f.Storey != r.Storey {
		return e.refuse(words.Later("there is no other room %q on this storey to join", a.From), words.Later("choose the room on the other side of the wall"))
	}
	whole, ok := union(upright(poly), upright(other))
	if !ok {
		return e.refuseAt(poly.Centroid(), words.Later("%s and %s share no wall, or more than one", r.Name, f.Name), words.Later("join rooms that meet along one line"))
	}
	before := e.rooms()
	r.Outline = e.outline(whole)
	r.Sleeping = r.Sleeping || f.Sleeping
	for _, h := range f.Hazards {
		if !slices.Contains(r.Hazards, h) {
			r.Hazards = append(slices.Clone(r.Hazards), h)
		}
	}
	e.setRoom(id, r)
	e.touch("rooms", string(from))
	delete(e.site.Rooms, from)
	if err := e.sound(id, r.Name, whole, poly); err != nil {
		return err
	}
	after := e.edges()
	for _, oid := range site.SortedIDs(e.site.Openings) {
		o := e.site.Openings[oid]
		if slices.Contains(o.Rooms, id) && slices.Contains(o.Rooms, from) && o.Kind != "stair" {
			e.removeOpening(oid)
			continue
		}
		if k := slices.Index(o.Rooms, from); k >= 0 {
			o.Rooms = slices.Clone(o.Rooms)
			o.Rooms[k] = id
			if o.Swing == string(from) {
				o.Swing = string(id)
			}
			e.setOpening(oid, o)
		}
	}
	e.renameRoom(from, id)
	e.walls(nil, edgesOf(before), after, nil, nil)
	e.goes = append(e.goes, e.lang.Say("%s is gone; what was in it is in %s now.", f.Name, r.Name))
	e.said = words.Later("%s, %s", r.Name, e.area(whole.Area()))
	return nil
}

// renameRoom lets everything that names a room name another one, or none.
func (e *sheet) renameRoom(from, to site.RoomID) {
	for _, id := range site.SortedIDs(e.site.Devices) {
		d := e.site.Devices[id]
		if d.Room != from && d.Faces != from {
			continue
		}
		if d.Room == from {
			d.Room = to
		}
		if d.Faces == from {
			d.Faces = to
		}
		e.setDevice(id, d)
	}
	for _, id := range site.SortedIDs(e.site.Heads) {
		if h := e.site.Heads[id]; h.Room == from {
			h.Room = to
			e.setHead(id, h)
		}
	}
	if e.site.Panel.Room == from {
		e.touch("panel", "")
		e.site.Panel.Room = to
	}
}

// union joins two upright rooms that meet along one line.
func union(p, q geom.Polygon) (geom.Polygon, bool) {
	a, b := sides(noded(p, q)), sides(noded(q, p))
	shared := func(s edge, of []edge) bool {
		return slices.ContainsFunc(of, func(t edge) bool { return same(s.a, t.b) && same(s.b, t.a) })
	}
	var left []edge
	for _, s := range a {
		if !shared(s, b) {
			left = append(left, s)
		}
	}
	for _, s := range b {
		if !shared(s, a) {
			left = append(left, s)
		}
	}
	if len(left) == len(a)+len(b) || len(left) == 0 {
		return nil, false
	}
	out := geom.Polygon{left[0].a}
	at := left[0].b
	left = left[1:]
	for !same(at, out[0]) {
		k := slices.IndexFunc(left, func(s edge) bool { return same(s.a, at) })
		if k < 0 {
			return nil, false
		}
		out = append(out, at)
		at = left[k].b
		left = slices.Delete(left, k, k+1)
	}
	if len(left) > 0 { // a second ring: a court between them
		return nil, false
	}
	return straightened(out), true
}

// straightened leaves out corners in the middle of a straight line.
func straightened(p geom.Polygon) geom.Polygon {
	out := geom.Polygon{}
	for i := range p {
		prev, next := p[(i-1+len(p))%len(p)], p[(i+1)%len(p)]
		if same(prev, next) || !(edge{prev, next}).within(p[i]) {
			out = append(out, p[i])
		}
	}
	return out
}

// roomOut takes a room away: its own walls and what is in them go, what names it is left without a room. Walls that it
// shares stay.
func (e *sheet) roomOut(a Operation) error {
	id := site.RoomID(a.ID)
	r, ok := e.site.Rooms[id]
	if !ok {
		return e.refuse(words.Later("there is no room %q", a.ID), words.Later("it may be gone already"))
	}
	e.storey = r.Storey
	before := e.rooms()
	e.touch("rooms", a.ID)
	delete(e.site.Rooms, id)
	for _, oid := range site.SortedIDs(e.site.Openings) {
		o := e.site.Openings[oid]
		if !slices.Contains(o.Rooms, id) {
			continue
		}
		if len(o.Rooms) == 1 {
			e.removeOpening(oid)
			continue
		}
		o.Rooms = slices.DeleteFunc(slices.Clone(o.Rooms), func(r site.RoomID) bool { return r == id })
		if o.Swing == string(id) {
			o.Swing = "out"
		}
		e.setOpening(oid, o)
		e.goes = append(e.goes, e.lang.Say("%s now leads from %s to the outside.", words.Upper(e.nameOf(o, oid).In(e.lang)), e.site.Rooms[o.Rooms[0]].Name))
	}
	loses := func(name string) {
		e.goes = append(e.goes, e.lang.Say("%s is left without a room.", name))
	}
	for _, did := range site.SortedIDs(e.site.Devices) {
		if d := e.site.Devices[did]; d.Room == id {
			loses(e.deviceName(did))
		} else if d.Faces == id {
			e.goes = append(e.goes, e.lang.Say("%s no longer says where it looks.", e.deviceName(did)))
		}
	}
	for _, hid := range site.SortedIDs(e.site.Heads) {
		if e.site.Heads[hid].Room == id {
			loses(e.lang.Say("Alarm %s", string(hid)))
		}
	}
	if e.site.Panel.Room == id {
		loses(e.lang.Say("The panel"))
	}
	e.renameRoom(id, "")
	e.walls(nil, edgesOf(before), e.edges(), nil, nil)
	e.said = words.Later("%s is taken out", r.Name)
	return nil
}

func (e *sheet) removeOpening(id site.OpeningID) {
	e.goes = append(e.goes, e.lang.Say("%s goes too.", words.Upper(e.nameOf(e.site.Openings[id], id).In(e.lang))))
	e.touch("openings", string(id))
	delete(e.site.Openings, id)
}

func (e *sheet) deviceName(id site.DeviceID) string {
	if name := e.site.Models[e.site.Devices[id].Model].Name; name != "" {
		return name
	}
	return string(id)
}

// cornerIn puts a corner into a side of a room, so that the side can be bent.
func (e *sheet) cornerIn(a Operation) error {
	id, poly, err := e.sideOf(a)
	if err != nil {
		return err
	}
	if len(a.Points) != 1 && a.At == nil {
		return e.refuse(words.Later("nobody said where"), words.Later("tap a side of the room"))
	}
	at := a.At
	if at == nil {
		at = &a.Points[0]
	}
	best, nearest := -1, reach
	for i, s := range sides(poly) {
		if off := (geom.Segment{A: s.a, B: s.b}).Distance(*at); off < nearest {
			best, nearest = i, off
		}
	}
	if best < 0 {
		return e.refuseAt(*at, words.Later("no side of %s is here", e.site.Rooms[id].Name), words.Later("tap nearer to a side"))
	}
	s := sides(poly)[best]
	t, _ := s.foot(*at)
	p := e.settle(s.at(t))
	if !s.within(p) {
		return e.refuseAt(p, words.Later("there is a corner here already"), words.Later("tap the middle of a side"))
	}
	r := e.site.Rooms[id]
	r.Outline = slices.Insert(slices.Clone(r.Outline), best+1, e.place(p))
	e.setRoom(id, r)
	e.said = words.Later("A corner in %s", r.Name)
	return nil
}

// cornerOut takes a corner out of a room, and of the rooms that share both of its sides.
func (e *sheet) cornerOut(a Operation) error {
	id, poly, err := e.sideOf(a)
	if err != nil {
		return err
	}
	if len(poly) == 3 {
		return e.refuseAt(poly[a.Corner], words.Later("%s would have no area", e.site.Rooms[id].Name), words.Later("keep at least three corners"))
	}
	n := len(poly)
	at, prev, next := poly[a.Corner], poly[(a.Corner-1+n)%n], poly[(a.Corner+1)%n]
	shapes := e.shapes()
	for _, s := range shapes {
		m := len(s.ring)
		for i, p := range s.ring {
			if !same(p, at) {
				continue
			}
			b, f := s.ring[(i-1+m)%m], s.ring[(i+1)%m]
			straight := (edge{prev, at}).holds(b) && (edge{at, next}).holds(f) || (edge{prev, at}).holds(f) && (edge{at, next}).holds(b)
			if s.id == id || straight {
				cut := edge{prev, next}
				t, _ := cut.foot(at)
				s.new[i], s.moved = []geom.Point{cut.at(t)}, true
				s.own = nil
			}
		}
	}
	e.said = words.Later("A corner of %s is taken out", e.site.Rooms[id].Name)
	return e.reshape(shapes, &id)
}

// move moves a room that shares no wall, with all that is in it.
func (e *sheet) move(a Operation) error {
	id, poly, err := e.sideOf(a)
	if err != nil {
		return err
	}
	if a.At == nil {
		return e.refuse(words.Later("nobody said where"), words.Later("say where its first corner is to be"))
	}
	r := e.site.Rooms[id]
	by := e.settle(*a.At).Sub(poly[0])
	for _, o := range e.rooms() {
		for _, s := range sides(o.poly) {
			for _, t := range sides(poly) {
				if _, _, shared := s.shares(t); shared && o.id != id {
					return e.refuseAt(t.at(t.length()/2), words.Later("%s shares a wall with %s", r.Name, o.name), words.Later("move its corners and sides"))
				}
			}
		}
	}
	in := func(c site.Coordinates) (site.Coordinates, bool) {
		p, ok := c.Point()
		if !ok || !poly.Contains(p) {
			return c, false
		}
		return append(e.place(p.Add(by)), c[2:]...), true
	}
	for _, did := range site.SortedIDs(e.site.Devices) {
		d := e.site.Devices[did]
		if c, inside := in(d.At); inside && d.Room == id {
			d.At = c
			e.setDevice(did, d)
		}
	}
	for _, hid := range site.SortedIDs(e.site.Heads) {
		h := e.site.Heads[hid]
		if c, inside := in(h.At); inside && h.Room == id {
			h.At = c
			e.setHead(hid, h)
		}
	}
	if c, inside := in(e.site.Panel.At); inside && e.site.Panel.Room == id {
		e.touch("panel", "")
		e.site.Panel.At = c
	}
	inner := map[site.WallID]site.Wall{}
	for _, wid := range site.SortedIDs(e.site.Walls) {
		w := e.site.Walls[wid]
		from, a := in(w.From)
		to, b := in(w.To)
		if a && b && w.Storey == e.storey && !e.carriesRoom(wid) {
			w.From, w.To = from, to
			inner[wid] = w
		}
	}
	shapes := e.shapes()
	for _, s := range shapes {
		if s.id == id {
			s.moved = true
			for i, p := range s.ring {
				s.new[i] = []geom.Point{e.settle(p.Add(by))}
			}
		}
	}
	e.said = words.Later("%s moved by %s", r.Name, e.show(by.Distance(geom.Point{})))
	if err := e.reshape(shapes, nil); err != nil {
		return err
	}
	for _, wid := range site.SortedIDs(inner) {
		e.setWall(wid, inner[wid])
		old, _ := e.lineOf(e.was.Walls[wid])
		for _, oid := range site.SortedIDs(e.was.Openings) {
			o := e.was.Openings[oid]
			if at, placed := o.At.Point(); placed && o.Storey == e.storey && len(o.Rooms) == 0 && old.holds(at) {
				o.At = append(e.place(at.Add(by)), o.At[2:]...)
				e.setOpening(oid, o)
			}
		}
	}
	return nil
}
