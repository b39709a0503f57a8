package draught

import (
	"cmp"
	"math"
	"slices"

	"proofbell/geom"
	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/site"
)

// Widths of openings of which nobody said any.
var widths = map[string]string{"door": "0.9 m", "window": "1.2 m", "hatch": "0.6 m", "passage": "1.0 m", "stair": "1.0 m"}

// jamb is what stays of the wall beside an opening, metres.
const jamb = 0.05

// opening puts a door, window, hatch, passage or stair in, or changes one. It goes to the nearest wall and stands clear of
// corners and of other openings.
func (e *sheet) opening(a Operation) error {
	if err := e.needStorey(); err != nil {
		return err
	}
	id := site.OpeningID(a.ID)
	o, there := e.site.Openings[id]
	if a.ID != "" && !there {
		return e.refuse(words.Later("there is no opening %q", a.ID), words.Later("put it in as a new one"))
	}
	if there {
		e.storey = cmp.Or(o.Storey, e.storey)
	} else {
		o = site.Opening{Kind: cmp.Or(a.Kind, "door"), Storey: e.storey, Open: a.Kind == "passage" || a.Kind == "stair"}
	}
	if a.Kind != "" {
		if _, known := widths[a.Kind]; !known {
			return e.refuse(words.Later("there is no kind of opening %q", a.Kind), words.Later("choose door, window, hatch, passage or stair"))
		}
		o.Kind = a.Kind
	}
	if err := e.leaf(&o, a); err != nil {
		return err
	}
	at, placed := o.At.Point()
	if a.At != nil {
		at, placed = *a.At, true
	}
	if !placed {
		return e.refuse(words.Later("nobody said where the opening is"), words.Later("tap a wall"))
	}
	if o.Kind == "stair" {
		p := e.settle(at)
		o.At = e.place(p)
		e.stair(&o, p)
	} else if err := e.fit(id, &o, at); err != nil {
		return err
	}
	if a.Material != "" {
		if _, ok := e.site.Materials[site.MaterialID(a.Material)]; !ok {
			return e.refuse(words.Later("there is no material %q", a.Material), words.Later("choose one of the site's materials, or add it first"))
		}
		o.Material = site.MaterialID(a.Material)
	}
	if !there {
		id = site.OpeningID(free(e.openingName(o), func(id string) bool { _, taken := e.site.Openings[site.OpeningID(id)]; return taken }))
		e.new("openings", string(id))
	}
	e.setOpening(id, o)
	e.said = words.Later("%s, %s", words.Marked(kindSay[o.Kind]), e.between(o.Rooms))
	return nil
}

// stair says which rooms a stair joins: the one here, and the one of another storey that it leads to; where nobody said
// that, the one above at the same place, else the one below.
func (e *sheet) stair(o *site.Opening, p geom.Point) {
	here, ok := e.roomAt(p)
	if !ok {
		return
	}
	other, first := site.RoomID(""), false
	for i, r := range o.Rooms {
		if e.site.Rooms[r].Storey != e.storey {
			other, first = r, i == 0
		}
	}
	if other == "" {
		other = e.overhead(p)
	}
	switch {
	case other == "":
		o.Rooms = []site.RoomID{here}
	case first:
		o.Rooms = []site.RoomID{other, here}
	default:
		o.Rooms = []site.RoomID{here, other}
	}
}

// overhead is the room of the next storey up at a place, or of the next one down; "" for none.
func (e *sheet) overhead(p geom.Point) (room site.RoomID) {
	level := e.site.Storeys[e.storey].Level
	nearest := math.Inf(1)
	for _, id := range site.SortedIDs(e.site.Storeys) {
		other := e.site.Storeys[id].Level
		if id == e.storey || level.IsZero() || other.IsZero() {
			continue
		}
		far := other.SI() - level.SI()
		if far < 0 {
			far = 1000 - far // only when there is nothing above
		}
		if r, ok := e.site.RoomAt(id, p); ok && far < nearest {
			room, nearest = r, far
		}
	}
	return room
}

// leaf takes over what an act says of the opening itself.
func (e *sheet) leaf(o *site.Opening, a Operation) error {
	text := cmp.Or(a.Width, o.Width.String(), widths[o.Kind])
	width, err := e.read(text, words.Later("width"))
	if err != nil {
		return err
	}
	if width.SI() < 0.01 || width.SI() > 100 {
		return e.refuse(words.Later("an opening can not be %s wide", text), words.Later("write a width between 1 cm and 100 m"))
	}
	if a.Width == "" && o.Width.IsZero() && e.site.Premises.Units == "imperial" {
		width = feet(width.SI())
	}
	o.Width = width
	o.Name = cmp.Or(a.Name, o.Name)
	o.Hinge = cmp.Or(a.Hinge, o.Hinge)
	o.Swing = cmp.Or(a.Swing, o.Swing)
	o.Open, o.Fire = o.Open || a.Open, o.Fire || a.Fire
	if o.Hinge != "" && o.Hinge != "start" && o.Hinge != "end" {
		return e.refuse(words.Later("a leaf can not hang at %q", o.Hinge), words.Later("write start or end"))
	}
	return nil
}

// fit puts an opening into the nearest wall, at the place nearest to at where there is room for it.
func (e *sheet) fit(id site.OpeningID, o *site.Opening, at geom.Point) error {
	width := o.Width.SI()
	best, nearest := edge{}, reach
	room := false // whether any wall within reach is long enough
	var spot geom.Point
	for _, s := range e.stretches() {
		off := geom.Segment{A: s.a, B: s.b}.Distance(at)
		if off > nearest+1e-9 {
			continue
		}
		free := e.spaces(s, id, width)
		if len(free) == 0 {
			if !room {
				best = s
			}
			continue
		}
		t, _ := s.foot(at)
		middle, least := 0.0, math.Inf(1)
		for _, f := range free {
			if c := min(max(t, f[0]), f[1]); math.Abs(c-t) < least {
				middle, least = c, math.Abs(c-t)
			}
		}
		if off < nearest-1e-9 || !room {
			room, best, nearest, spot = true, s, off, s.at(middle)
		}
	}
	if best == (edge{}) {
		return e.refuseAt(at, words.Later("there is no wall here"), words.Later("tap nearer to a wall"))
	}
	if !room {
		return e.refuseAt(at, words.Later("an opening of %s does not fit: the wall is %s long here, and other openings keep their place", e.show(width), e.show(best.length())), words.Later("make it narrower, or move what is beside it"))
	}
	o.At = e.place(spot)
	e.lead(o, best)
	return nil
}

// stretches are the straight stretches of wall between joints: sides of rooms; the walls of a storey without any.
func (e *sheet) stretches() []edge {
	rooms := e.rooms()
	nodes := corners(rooms)
	var out []edge
	seen := func(s edge) bool {
		for _, t := range out {
			if same(s.a, t.a) && same(s.b, t.b) || same(s.a, t.b) && same(s.b, t.a) {
				return true
			}
		}
		return false
	}
	for _, r := range rooms {
		for _, s := range sides(noded(r.poly, nodes)) {
			if !seen(s) {
				out = append(out, s)
			}
		}
	}
	if len(rooms) > 0 { // a screen within a room joins nothing
		return out
	}
	for _, id := range site.SortedIDs(e.site.Walls) {
		if s, ok := e.lineOf(e.site.Walls[id]); ok {
			out = append(out, s)
		}
	}
	return out
}

// spaces are the places along a stretch, in metres, where the middle of an opening of a width can be.
func (e *sheet) spaces(s edge, not site.OpeningID, width float64) [][2]float64 {
	gone := [][2]float64{}
	half := width/2 + jamb
	for _, id := range site.SortedIDs(e.site.Openings) {
		o := e.site.Openings[id]
		at, ok := o.At.Point()
		if id == not || o.Storey != e.storey || !ok || o.Kind == "stair" {
			continue
		}
		if t, off := s.foot(at); off <= onWall && t > -o.Width.SI()/2 && t < s.length()+o.Width.SI()/2 {
			gone = append(gone, [2]float64{t - o.Width.SI()/2 - half, t + o.Width.SI()/2 + half})
		}
	}
	sorts.By(gone, func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
	var free [][2]float64
	at, end := half, s.length()-half
	for _, g := range gone {
		if to := min(g[0], end); to >= at {
			free = append(free, [2]float64{at, to})
		}
		at = max(at, g[1])
	}
	if end >= at-1e-9 {
		free = append(free, [2]float64{at, max(end, at)})
	}
	return free
}

// onWall is how far an opening's middle may be from the middle line of its wall, metres: as far as the drawing takes it.
const onWall = 0.35

// lead says which rooms an opening in a stretch of wall joins, and into which its leaf swings.
func (e *sheet) lead(o *site.Opening, s edge) {
	at, _ := o.At.Point()
	var rooms []site.RoomID
	one, other := e.beside(at, s)
	if one == other && one != "" {
		return // within a room: it joins nothing
	}
	for _, r := range []site.RoomID{one, other} {
		if r != "" && !slices.Contains(rooms, r) {
			rooms = append(rooms, r)
		}
	}
	if len(rooms) == 0 {
		rooms = o.Rooms
	}
	first := func(r site.RoomID) bool { return len(o.Rooms) > 0 && o.Rooms[0] == r } // the order in which it was written stays
	if len(rooms) == 2 && !first(rooms[0]) && (first(rooms[1]) || site.NaturalOrder(string(rooms[0]), string(rooms[1])) > 0) {
		rooms[0], rooms[1] = rooms[1], rooms[0]
	}
	o.Rooms = rooms
	if o.Swing != "" && o.Swing != "out" && !slices.Contains(rooms, site.RoomID(o.Swing)) {
		o.Swing = ""
	}
	if o.Swing == "" && len(rooms) > 0 && (o.Kind == "door" || o.Kind == "hatch") {
		o.Swing = string(rooms[0])
		if len(rooms) == 2 && passes(e.site.Rooms[rooms[0]].Use) && !passes(e.site.Rooms[rooms[1]].Use) {
			o.Swing = string(rooms[1]) // doors open into the room, not into the way out
		}
	}
	if o.Swing != "" && o.Hinge == "" {
		o.Hinge = "start"
	}
}

// beside returns the rooms on both sides of a stretch, at a place on it; "" where there is none.
func (e *sheet) beside(at geom.Point, s edge) (one, other site.RoomID) {
	u := s.unit()
	n := geom.Point{X: -u.Y, Y: u.X}.Scale(4 * touching)
	one, _ = e.roomAt(at.Add(n))
	other, _ = e.roomAt(at.Sub(n))
	return one, other
}

// passes reports whether a use is that of a way through.
func passes(use string) bool { return use == "corridor" || use == "hall" || use == "stair" }

// openingsAlong lets the openings in walls along sides say anew which rooms they join.
func (e *sheet) openingsAlong(along []edge) {
	rooms := e.edges()
	all := slices.Clone(rooms)
	for _, m := range e.inner(rooms) {
		all = append(all, m.old)
	}
	for _, id := range site.SortedIDs(e.site.Openings) {
		o := e.site.Openings[id]
		at, ok := o.At.Point()
		if o.Storey != e.storey || !ok || o.Kind == "stair" {
			continue
		}
		best, nearest := edge{}, onWall
		for _, s := range all {
			if off := (geom.Segment{A: s.a, B: s.b}).Distance(at); off < nearest {
				best, nearest = s, off
			}
		}
		if !slices.Contains(rooms, best) {
			continue // in a wall that is no side of a room
		}
		near := slices.ContainsFunc(along, func(s edge) bool { _, _, ok := s.shares(best); return ok })
		if !near {
			continue
		}
		before := slices.Clone(o.Rooms)
		swing := o.Swing
		e.lead(&o, best)
		if !slices.Equal(before, o.Rooms) || swing != o.Swing {
			e.setOpening(id, o)
		}
	}
}

var kindSay = map[string]string{
	"door": words.Mark("Door"), "window": words.Mark("Window"), "hatch": words.Mark("Hatch"), "passage": words.Mark("Passage"), "stair": words.Mark("Stair"),
}

// between says which rooms an opening joins.
func (e *sheet) between(rooms []site.RoomID) words.Text {
	switch len(rooms) {
	case 0:
		return words.Later("between no rooms yet")
	case 1:
		return words.Later("from %s to the outside", e.site.Rooms[rooms[0]].Name)
	}
	return words.Later("between %s and %s", e.site.Rooms[rooms[0]].Name, e.site.Rooms[rooms[1]].Name)
}

// openingName is what the id of a new opening is made of: its rooms, else its kind and room.
func (e *sheet) openingName(o site.Opening) string {
	switch {
	case o.Name != "":
		return o.Name
	case len(o.Rooms) == 2:
		return short(o.Rooms[0]) + "-" + short(o.Rooms[1])
	case len(o.Rooms) == 1:
		return short(o.Rooms[0]) + "-" + o.Kind
	}
	return o.Kind
}

func short(id site.RoomID) string { return string(id[:min(len(id), 12)]) }
