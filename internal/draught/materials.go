package draught

import (
	"slices"

	"proofbell/geom"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/site"
)

// openingOut takes an opening out.
func (e *sheet) openingOut(a Operation) error {
	id := site.OpeningID(a.ID)
	o, ok := e.site.Openings[id]
	if !ok {
		return e.refuse(words.Later("there is no opening %q", a.ID), words.Later("it may be gone already"))
	}
	e.said = words.Later("%s is taken out", e.nameOf(o, id))
	e.touch("openings", a.ID)
	delete(e.site.Openings, id)
	return nil
}

// wall draws a wall that is no side of a room: a cupboard, a screen, a pier. Given an id it moves the ends of one.
func (e *sheet) wall(a Operation) error {
	if err := e.needStorey(); err != nil {
		return err
	}
	if len(a.Points) != 2 {
		return e.refuse(words.Later("a wall has two ends"), words.Later("draw a line"))
	}
	from, to := e.settle(a.Points[0]), e.settle(a.Points[1])
	if from.Distance(to) < 2*touching {
		return e.refuseAt(from, words.Later("the wall would have no length"), words.Later("draw it longer"))
	}
	line := edge{from, to}
	bare := line.less(e.edges())
	if len(bare) == 0 || a.ID != "" && bare[0] != line {
		return e.refuseAt(line.at(line.length()/2), words.Later("a side of a room is here, and its wall"), words.Later("choose that wall"))
	}
	id := site.WallID(a.ID)
	w, there := e.site.Walls[id]
	if a.ID != "" && !there {
		return e.refuse(words.Later("there is no wall %q", a.ID), words.Later("draw it as a new one"))
	}
	if !there || a.Thick != "" || a.Material != "" {
		t, err := e.template(a)
		if err != nil {
			return err
		}
		if there && a.Thick == "" {
			t.Thickness = w.Thickness
		}
		if there && a.Material == "" {
			t.Material = w.Material
		}
		w.Thickness, w.Material = t.Thickness, t.Material
	}
	if there && e.carriesRoom(id) {
		return e.refuseAt(from, words.Later("this wall is the side of a room"), words.Later("move the corners and sides of the room"))
	}
	e.said = words.Later("Wall, %s", e.show(line.length()))
	if there {
		w.Storey, w.From, w.To = e.storey, e.place(from), e.place(to)
		e.setWall(id, w)
		return nil
	}
	var wanted []piece
	for _, s := range bare {
		wanted = append(wanted, piece{edge: s, wall: w, name: "wall"})
	}
	e.walls(nil, nil, nil, wanted, nil)
	return nil
}

// carriesRoom reports whether a wall runs along a room.
func (e *sheet) carriesRoom(id site.WallID) bool {
	line, ok := e.lineOf(e.site.Walls[id])
	if !ok {
		return false
	}
	left := line.less(e.edges())
	return len(left) != 1 || left[0] != line
}

// wallOut takes a wall out. Where it is a side of a room the room stays, without a wall there.
func (e *sheet) wallOut(a Operation) error {
	id := site.WallID(a.ID)
	w, ok := e.site.Walls[id]
	if !ok {
		return e.refuse(words.Later("there is no wall %q", a.ID), words.Later("it may be gone already"))
	}
	e.storey = w.Storey
	line, drawn := e.lineOf(w)
	side := e.carriesRoom(id)
	e.touch("walls", a.ID)
	delete(e.site.Walls, id)
	if drawn {
		for _, oid := range site.SortedIDs(e.site.Openings) {
			o := e.site.Openings[oid]
			at, placed := o.At.Point()
			if placed && o.Storey == w.Storey && o.Kind != "stair" && line.holds(at) && (!side || o.Kind != "passage") {
				e.removeOpening(oid)
			}
		}
	}
	e.said = words.Later("The wall is taken out")
	return nil
}

// material says what a wall, a side of a room or an opening's leaf is made of, and how thick a wall is. Of a wall that
// runs on, only the part along the side takes it.
func (e *sheet) material(a Operation) error {
	m := site.MaterialID(a.Material)
	if _, ok := e.site.Materials[m]; m != "" && !ok {
		return e.refuse(words.Later("there is no material %q", a.Material), words.Later("choose one of the site's materials, or add it first"))
	}
	if a.What == "opening" {
		o, ok := e.site.Openings[site.OpeningID(a.ID)]
		if !ok {
			return e.refuse(words.Later("there is no opening %q", a.ID), words.Later("it may be gone already"))
		}
		o.Material = m
		e.setOpening(site.OpeningID(a.ID), o)
		e.said = words.Later("%s: %s", e.nameOf(o, site.OpeningID(a.ID)), e.site.Materials[m].Name)
		return nil
	}
	t := quantity.Length{}
	if a.Thick != "" {
		template, err := e.template(a)
		if err != nil {
			return err
		}
		t = template.Thickness
	}
	walls := []site.WallID{site.WallID(a.ID)}
	if a.What == "side" {
		_, poly, err := e.sideOf(a)
		if err != nil {
			return err
		}
		s := sides(poly)[a.Side]
		all := e.edges()
		e.walls(nil, all, all, []piece{{edge: s, wall: site.Wall{Thickness: quantity.MustParse[quantity.LengthDimension](thick)}, name: a.ID + "-" + e.faces(sideUpright(poly, s))}}, []geom.Point{s.a, s.b})
		walls = nil
		for _, id := range site.SortedIDs(e.site.Walls) {
			if line, ok := e.lineOf(e.site.Walls[id]); ok {
				if _, _, along := line.shares(s); along {
					walls = append(walls, id)
				}
			}
		}
	}
	for _, id := range walls {
		w, ok := e.site.Walls[id]
		if !ok {
			return e.refuse(words.Later("there is no wall %q", string(id)), words.Later("it may be gone already"))
		}
		if w.Material = m; !t.IsZero() {
			w.Thickness = t
		}
		e.setWall(id, w)
	}
	name := e.site.Materials[m].Name
	if name == "" {
		name = e.lang.Say("of no known material")
	}
	e.said = words.Later("Wall: %s", name)
	return nil
}

// sideUpright is a side as it runs when the room is on its left.
func sideUpright(p geom.Polygon, s edge) edge {
	if p.SignedArea() < 0 {
		return edge{s.b, s.a}
	}
	return s
}

// newStorey adds a storey, empty or as a copy of another one with its rooms, walls and openings; devices are not copied.
// Without a level it lies on top of the one that it copies, or of the highest.
func (e *sheet) newStorey(a Operation) error {
	from := site.StoreyID(a.From)
	like, there := e.site.Storeys[from]
	if from != "" && !there {
		return e.refuse(words.Later("there is no storey %q", a.From), words.Later("choose one of the site's storeys"))
	}
	top, any := site.Storey{}, false
	order := 0
	for _, id := range site.SortedIDs(e.site.Storeys) {
		s := e.site.Storeys[id]
		if !any || s.Level.SI() > top.Level.SI() {
			top, any = s, true
		}
		order = max(order, s.Order)
	}
	if !there {
		like = top
	}
	level, err := e.read(a.Level, words.Later("height of the floor"))
	if err != nil {
		return err
	}
	ceiling, err := e.read(a.Height, words.Later("height"))
	if err != nil {
		return err
	}
	s := site.Storey{Name: a.Name, Level: level, Ceiling: like.Ceiling, Floor: like.Floor, Order: min(order+1, 99)}
	if !ceiling.IsZero() {
		s.Ceiling = ceiling
	}
	if s.Ceiling.SI() != 0 && (s.Ceiling.SI() < 0.1 || s.Ceiling.SI() > 100) {
		return e.refuse(words.Later("a ceiling can not be %s high", s.Ceiling.String()), words.Later("write a height between 0.1 m and 100 m"))
	}
	if level.IsZero() {
		s.Level = e.written(0)
		if any {
			s.Level = e.written(like.Level.SI() + storeyHeight(like))
		}
	}
	for _, o := range e.site.Storeys { // below one that is there: it comes before it
		if o.Level.SI() > s.Level.SI() {
			s.Order = min(s.Order, o.Order-1)
		}
	}
	s.Order = max(s.Order, -99)
	if s.Name == "" {
		s.Name = e.lang.Say("Storey %d", len(e.site.Storeys)+1)
	}
	id := site.StoreyID(free(s.Name, func(id string) bool { _, taken := e.site.Storeys[site.StoreyID(id)]; return taken }))
	e.touch("storeys", string(id))
	e.site.Storeys[id] = s
	e.new("storeys", string(id))
	if there {
		e.copyStorey(from, id, s.Name)
	}
	e.said = words.Later("%s, floor at %s", s.Name, e.show(s.Level.SI()))
	return nil
}

// storeyHeight is from one floor to the next: the ceiling, and 0.3 m for the floor above it.
func storeyHeight(s site.Storey) float64 {
	if s.Ceiling.SI() == 0 {
		return 2.8
	}
	return s.Ceiling.SI() + 0.3
}

func (e *sheet) copyStorey(from, to site.StoreyID, name string) {
	rooms := map[site.RoomID]site.RoomID{}
	for _, id := range site.SortedIDs(e.was.Rooms) {
		r := e.was.Rooms[id]
		if r.Storey != from || len(r.Outline) == 0 {
			continue
		}
		copied := site.RoomID(free(string(to)+"-"+string(id), func(id string) bool { _, taken := e.site.Rooms[site.RoomID(id)]; return taken }))
		rooms[id] = copied
		e.setRoom(copied, site.Room{Name: e.lang.Say("%s, %s", r.Name, name), Storey: to, Outline: r.Outline, Ceiling: r.Ceiling, Use: r.Use, Order: e.nextOrder()})
		e.new("rooms", string(copied))
	}
	for _, id := range site.SortedIDs(e.was.Walls) {
		if w := e.was.Walls[id]; w.Storey == from {
			w.Storey = to
			e.setWall(e.freeWall(string(to)+"-"+string(id)), w)
		}
	}
	for _, id := range site.SortedIDs(e.was.Openings) {
		o := e.was.Openings[id]
		if o.Storey != from || o.Kind == "stair" {
			continue
		}
		o.Storey, o.Name = to, ""
		was := o.Rooms
		o.Rooms = nil
		for _, r := range was {
			if copied, ok := rooms[r]; ok {
				o.Rooms = append(o.Rooms, copied)
			}
		}
		if o.Swing != "out" {
			o.Swing = string(rooms[site.RoomID(o.Swing)])
		}
		oid := site.OpeningID(free(string(to)+"-"+string(id), func(id string) bool { _, taken := e.site.Openings[site.OpeningID(id)]; return taken }))
		e.setOpening(oid, o)
	}
	e.goes = append(e.goes, e.lang.Say("Doors to the outside were copied too: take out those that %s does not have.", name))
	if !slices.ContainsFunc(site.SortedIDs(e.was.Openings), func(id site.OpeningID) bool {
		o := e.was.Openings[id]
		return o.Storey == from && o.Kind != "stair" && len(o.Rooms) == 1
	}) {
		e.goes = e.goes[:len(e.goes)-1]
	}
}
