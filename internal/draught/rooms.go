package draught

import (
	"math"

	"proofbell/geom"
	"proofbell/internal/words"
	"proofbell/site"
)

// smallest is the least area of a room, square metres: less is a slip of the finger.
const smallest = 0.05

// sharpest is the least angle of a corner, radians: walls that run closer together are one wall to whoever draws them.
const sharpest = 10 * math.Pi / 180

// needStorey refuses an act on a storey that is not there.
func (e *sheet) needStorey() error {
	if _, ok := e.site.Storeys[e.storey]; ok {
		return nil
	}
	return e.refuse(words.Later("there is no storey %q", string(e.storey)), words.Later("add a storey first"))
}

// room draws a room: a rectangle between two corners, or any outline; of a room that has a name but no outline yet, the
// outline only. Widths that were typed win over the second corner.
func (e *sheet) room(a Operation) error {
	if err := e.needStorey(); err != nil {
		return err
	}
	poly, outline, err := e.outlineOf(a)
	if err != nil {
		return err
	}
	id := site.RoomID(a.ID)
	r, there := e.site.Rooms[id]
	if there && len(r.Outline) > 0 {
		return e.refuse(words.Later("%s has an outline already", r.Name), words.Later("move its corners and sides, or take it out first"))
	}
	if a.ID != "" && !there {
		return e.refuse(words.Later("there is no room %q", a.ID), words.Later("draw it as a new room"))
	}
	if !there {
		name := a.Name
		if name == "" {
			name = e.lang.Say("Room %d", len(e.site.Rooms)+1)
		}
		id = site.RoomID(free(name, func(id string) bool { _, taken := e.site.Rooms[site.RoomID(id)]; return taken }))
		r = site.Room{Name: name, Use: a.Use, Order: e.nextOrder()}
		e.new("rooms", string(id))
	}
	if err := e.sound(id, r.Name, poly, nil); err != nil {
		return err
	}
	template, err := e.template(a)
	if err != nil {
		return err
	}
	before := e.rooms()
	r.Storey, r.Outline = e.storey, outline
	e.setRoom(id, r)
	e.enclose(id, poly, before, template)
	e.said = words.Later("%s, %s", r.Name, e.area(poly.Area()))
	return nil
}

// nextOrder is the place on the walk of a new room: the last.
func (e *sheet) nextOrder() int {
	last := 0
	for _, r := range e.site.Rooms {
		last = max(last, r.Order)
	}
	return min(last+1, 9999)
}

// outlineOf reads the outline of a new room out of an act.
func (e *sheet) outlineOf(a Operation) (geom.Polygon, site.Outline, error) {
	across, err := e.read(a.Width, words.Later("width"))
	if err != nil {
		return nil, nil, err
	}
	up, err := e.read(a.Depth, words.Later("depth"))
	if err != nil {
		return nil, nil, err
	}
	var outline site.Outline
	switch n := len(a.Points); {
	case n == 2 || n == 1 && !across.IsZero() && !up.IsZero():
		p := e.settle(a.Points[0])
		q := e.settle(a.Points[n-1])
		c := e.place(p)
		x, y := e.place(q)[0], e.place(q)[1]
		toward := func(from, to float64) float64 {
			if to < from {
				return -1
			}
			return 1
		}
		if !across.IsZero() {
			x = e.sum(p.X, across, toward(p.X, q.X))
		}
		if !up.IsZero() {
			y = e.sum(p.Y, up, toward(p.Y, q.Y))
		}
		outline = site.Outline{c, {x, c[1]}, {x, y}, {c[0], y}}
	case n >= 3:
		if !across.IsZero() || !up.IsZero() {
			return nil, nil, e.refuse(words.Later("width and depth are those of a rectangle"), words.Later("give two opposite corners"))
		}
		for _, p := range a.Points {
			outline = append(outline, e.place(e.settle(p)))
		}
	default:
		return nil, nil, e.refuse(words.Later("the outline has %d corners", n), words.Later("give two opposite corners of a rectangle, or at least three corners"))
	}
	poly := outline.Polygon()
	if poly.SignedArea() < 0 {
		for i, j := 1, len(poly)-1; i < j; i, j = i+1, j-1 {
			poly[i], poly[j] = poly[j], poly[i]
			outline[i], outline[j] = outline[j], outline[i]
		}
	}
	return poly, outline, nil
}

// sound refuses an outline that crosses itself, is too small, or lies over another room; in a site in which rooms lay over
// each other before, that pair may go on doing so.
func (e *sheet) sound(id site.RoomID, name string, poly geom.Polygon, before geom.Polygon) error {
	if len(poly) < 3 {
		return e.refuse(words.Later("%s would have no area", name), words.Later("keep at least three corners"))
	}
	if i, j, clash := poly.Clash(); clash {
		at, _ := poly.Side(i).Crossing(poly.Side(j))
		if i == j {
			at = poly[i]
		}
		return e.refuseAt(at, words.Later("the outline of %s would cross or touch itself", name), words.Later("keep the corners in order round the room, each in a place of its own"))
	}
	if poly.Area() < smallest {
		return e.refuseAt(poly[0], words.Later("%s would have no area", name), words.Later("draw it larger"))
	}
	for i := range poly {
		if s := poly.Side(i); s.Length() < 2*touching {
			return e.refuseAt(s.A, words.Later("two corners of %s would be one", name), words.Later("leave one of them out"))
		}
		n := len(poly)
		back, on := poly[(i-1+n)%n].Sub(poly[i]), poly[(i+1)%n].Sub(poly[i])
		if angle := math.Abs(math.Atan2(back.Cross(on), back.Dot(on))); angle < sharpest {
			return e.refuseAt(poly[i], words.Later("a corner of %s would be sharper than 10 degrees", name), words.Later("leave it out, or move it"))
		}
		if c := poly[i]; math.Abs(c.X) > 1e4 || math.Abs(c.Y) > 1e4 {
			return e.refuse(words.Later("%s would lie more than 10 km away", name), words.Later("check the lengths and their units"))
		}
	}
	for _, r := range e.rooms() {
		if r.id == id {
			continue
		}
		if at, lies := over(poly, r.poly); lies {
			if before != nil {
				if _, lay := over(before, e.was.Rooms[r.id].Outline.Polygon()); lay {
					continue
				}
			}
			return e.refuseAt(at, words.Later("%s would lie over %s", name, r.name), words.Later("draw it beside, or divide %s", r.name))
		}
	}
	return nil
}

// template is the wall that an act asks for where there is none yet.
func (e *sheet) template(a Operation) (site.Wall, error) {
	t := a.Thick
	if t == "" {
		t = thick
	}
	v, err := e.read(t, words.Later("thickness"))
	if err != nil {
		return site.Wall{}, err
	}
	if v.SI() < 0.001 || v.SI() > 10 {
		return site.Wall{}, e.refuse(words.Later("a wall can not be %s thick", t), words.Later("write a thickness between 1 mm and 10 m"))
	}
	m := site.MaterialID(a.Material)
	if _, ok := e.site.Materials[m]; m != "" && !ok {
		return site.Wall{}, e.refuse(words.Later("there is no material %q", a.Material), words.Later("choose one of the site's materials, or add it first"))
	}
	return site.Wall{Thickness: v, Material: m}, nil
}

// enclose gives a new room its walls. Those that it shares are there once, and end where it ends.
func (e *sheet) enclose(id site.RoomID, poly geom.Polygon, before []room, template site.Wall) {
	var wanted []piece
	var cuts []geom.Point
	for _, s := range sides(upright(poly)) {
		wanted = append(wanted, piece{edge: s, wall: template, name: string(id) + "-" + e.faces(s)})
		for _, w := range e.site.Walls {
			if line, ok := e.lineOf(w); ok {
				if _, _, shared := line.shares(s); shared {
					cuts = append(cuts, s.a, s.b)
				}
			}
		}
	}
	all := e.edges()
	e.walls(nil, edgesOf(before), all, wanted, cuts)
	e.openingsAlong(sides(poly))
	e.rehouse()
}

// edges are the sides of all rooms of the storey as they stand now.
func (e *sheet) edges() []edge { return edgesOf(e.rooms()) }

func edgesOf(rooms []room) []edge {
	var out []edge
	for _, r := range rooms {
		out = append(out, sides(r.poly)...)
	}
	return out
}

// faces names the side of a building to which a wall of an upright room faces: north, east, south, west.
func (e *sheet) faces(s edge) string {
	u := s.unit()
	angle := math.Atan2(-u.X, u.Y)*180/math.Pi + e.site.Premises.North // of the outward normal (u.Y, -u.X), from the right of the plan
	return [...]string{"east", "north", "west", "south"}[(int(math.Round(angle/90))%4+4)%4]
}
