package building

import (
	"cmp"

	"proofbell/geom"
	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/site"
)

// What stands in for what the site does not say, metres. Each use is listed in Building.Assumed.
const (
	usualCeiling = 2.4
	usualFloor   = 0.3 // from a ceiling to the floor above
	doorHead     = 2.0 // 1.6 m2 for a door of 0.8 m
	windowSill   = 0.9
	windowHead   = 2.1
	roofAt       = 0.1 // above a ceiling
)

// Of builds the site. It never fails: what can not be placed is listed in Left, what was assumed in Assumed.
func Of(s *site.Site) *Building {
	b := &Building{site: s, room: map[site.RoomID]int{}}
	storeys := b.storeys()
	b.rooms(storeys)
	b.tops()
	for i := range b.Storeys {
		b.walls(i)
	}
	b.floors()
	b.holes()
	b.roofs()
	b.scene = b.bare()
	b.doors = b.walks()
	return b
}

func (b *Building) assume(say words.Text) { b.Assumed = append(b.Assumed, say) }

func (b *Building) leave(say words.Text) { b.Left = append(b.Left, say) }

// storeys orders the storeys from below and finds the level of each.
func (b *Building) storeys() map[site.StoreyID]int {
	ids := site.SortedIDs(b.site.Storeys)
	sorts.Stable(ids, func(x, y site.StoreyID) int {
		a, c := b.site.Storeys[x], b.site.Storeys[y]
		if !a.Level.IsZero() && !c.Level.IsZero() {
			return cmp.Compare(a.Level.SI(), c.Level.SI())
		}
		return cmp.Compare(a.Order, c.Order)
	})
	index := map[site.StoreyID]int{}
	for i, id := range ids {
		one := b.site.Storeys[id]
		level := one.Level.SI()
		if one.Level.IsZero() && i > 0 {
			below := b.Storeys[i-1]
			level = below.Top + usualFloor
			b.assume(words.Later("%s: no level given; taken as %s m", one.Name, words.Figure(level, 1)))
		}
		ceiling := one.Ceiling.SI()
		if one.Ceiling.IsZero() {
			ceiling = usualCeiling
			b.assume(words.Later("%s: no ceiling height given; taken as %s m", one.Name, words.Figure(ceiling, 1)))
		}
		index[id] = i
		b.Storeys = append(b.Storeys, Storey{ID: id, Name: one.Name, Level: level, Top: level + ceiling})
	}
	return index
}

// rooms takes up the rooms that have an outline and a storey.
func (b *Building) rooms(storeys map[site.StoreyID]int) {
	for _, id := range site.SortedIDs(b.site.Rooms) {
		one := b.site.Rooms[id]
		storey, ok := storeys[one.Storey]
		if one.Storey == "" && len(b.Storeys) == 1 {
			storey, ok = 0, true
		}
		outline := one.Outline.Polygon()
		switch {
		case len(outline) < 3:
			b.leave(words.Later("%s: no outline yet", one.Name))
			b.Undrawn = append(b.Undrawn, words.Typed(one.Name))
			continue
		case !ok:
			b.leave(words.Later("%s: no storey yet", one.Name))
			b.Undrawn = append(b.Undrawn, words.Typed(one.Name))
			continue
		}
		r := Room{ID: id, Name: one.Name, Use: one.Use, Sleeping: one.Sleeping || one.Use == "bedroom", Storey: storey, Outline: outline}
		r.Z0, r.Z1 = b.Storeys[storey].Level, b.Storeys[storey].Top
		if !one.Ceiling.IsZero() {
			r.Z1 = r.Z0 + one.Ceiling.SI()
		}
		r.low, r.high = outline.Bounds()
		r.Area = outline.Area()
		r.Volume = r.Area * (r.Z1 - r.Z0)
		b.room[id] = len(b.Rooms)
		b.Rooms = append(b.Rooms, r)
	}
}

// tops lets the walls of each storey reach up to the floor above, so that nothing leaks between ceiling and floor.
func (b *Building) tops() {
	for i := range b.Storeys[:max(len(b.Storeys)-1, 0)] {
		b.Storeys[i].Top = max(b.Storeys[i].Level, b.Storeys[i+1].Level)
	}
}

// topOf is the height that a wall between two rooms reaches: the floor of a room above either side, else the higher ceiling.
func (b *Building) topOf(storey int, sides [2]int, beside [2]geom.Point) float64 {
	for up := storey + 1; up < len(b.Storeys); up++ {
		for _, at := range beside {
			if b.roomOn(up, at) != Outside {
				return b.Storeys[up].Level
			}
		}
	}
	top := b.Storeys[storey].Level
	for _, r := range sides {
		if r != Outside {
			top = max(top, b.Rooms[r].Z1)
		}
	}
	if top == b.Storeys[storey].Level {
		return b.Storeys[storey].Top
	}
	return top
}

// roomOn returns the room of a storey that holds a place on the plan, or Outside.
func (b *Building) roomOn(storey int, at geom.Point) int {
	for i := range b.Rooms {
		r := &b.Rooms[i]
		outside := at.X < r.low.X-geom.Near || at.X > r.high.X+geom.Near || at.Y < r.low.Y-geom.Near || at.Y > r.high.Y+geom.Near
		if r.Storey == storey && !outside && r.Outline.Contains(at) {
			return i
		}
	}
	return Outside
}

// floors finds what lies between the rooms of each storey and those below.
func (b *Building) floors() {
	for i, storey := range b.Storeys {
		f := Floor{Storey: i, Z: storey.Level, Made: b.made(b.site.Storeys[storey.ID].Floor, "timber-floor")}
		any := false
		for above, r := range b.Rooms {
			if r.Storey != i {
				continue
			}
			any = true
			for below, under := range b.Rooms {
				if i == 0 || under.Storey != i-1 {
					continue
				}
				if area := r.Outline.Overlap(under.Outline); area > 0.01 {
					f.Parts = append(f.Parts, Part{above, below, area})
				}
			}
		}
		if !any {
			continue
		}
		if i > 0 && f.Material == "" && len(f.Parts) > 0 {
			b.assume(words.Later("%s: no material of its floor given; taken as a timber floor", storey.Name))
		}
		b.Floors = append(b.Floors, f)
	}
}

// roofs finds the rooms that are not covered by those of the storey above.
func (b *Building) roofs() {
	for i, r := range b.Rooms {
		roof, open := Roof{Room: i, Z: r.Z1 + roofAt}, r.Area
		for _, over := range b.Rooms {
			if over.Storey != r.Storey+1 || far(r.low, r.high, over.low, over.high, 0) {
				continue
			}
			if area := r.Outline.Overlap(over.Outline); area > 0 {
				roof.Under, open = append(roof.Under, over.Outline), open-area
				roof.Z = max(roof.Z, over.Z0)
			}
		}
		if open > 0.01 {
			b.Roofs = append(b.Roofs, roof)
		}
	}
}

// Under returns the room that covers more than a fifth of another of the same storey: what is said of that one is worth
// nothing then. ok is false for a room that lies by itself.
func (b *Building) Under(room int) (over int, ok bool) {
	r := &b.Rooms[room]
	for i := range b.Rooms {
		o := &b.Rooms[i]
		if i != room && o.Storey == r.Storey && !far(r.low, r.high, o.low, o.high, 0) && r.Outline.Overlap(o.Outline) > r.Area/5 {
			return i, true
		}
	}
	return Outside, false
}

// joins returns the rooms of an opening that goes through a floor: a stair, or a hatch between two storeys. What keeps a
// stair from being a hole is said in Left.
func (b *Building) joins(id site.OpeningID) (above, below int, ok bool) {
	o := b.site.Openings[id]
	if o.Kind != "stair" && (o.Kind != "hatch" || len(o.Rooms) != 2) {
		return 0, 0, false
	}
	var rooms []int
	for _, r := range o.Rooms {
		if i, drawn := b.room[r]; drawn {
			rooms = append(rooms, i)
		}
	}
	switch {
	case len(rooms) < 2:
		if o.Kind == "stair" {
			b.leave(words.Later("%s: the rooms at both ends of this stair are not given, or not drawn; the floor counts as whole", b.OpeningName(id)))
		}
		return 0, 0, false
	case b.Rooms[rooms[0]].Storey == b.Rooms[rooms[1]].Storey:
		return 0, 0, false
	}
	if _, placed := o.At.Point(); !placed {
		if o.Kind == "hatch" {
			return 0, 0, false // said with the openings in walls
		}
		b.leave(words.Later("%s: the place of this opening is not known", b.OpeningName(id)))
		return 0, 0, false
	}
	above, below = rooms[0], rooms[1]
	if b.Rooms[above].Storey < b.Rooms[below].Storey {
		above, below = below, above
	}
	return above, below, true
}

// holes cuts the ways through the floors.
func (b *Building) holes() {
	for _, id := range site.SortedIDs(b.site.Openings) {
		above, below, ok := b.joins(id)
		if !ok {
			continue
		}
		o := b.site.Openings[id]
		at, _ := o.At.Point()
		side := o.Width.SI()
		if side == 0 {
			side = usualDoor
		}
		h := Hole{Opening: id, Kind: o.Kind, Above: above, Below: below, Made: b.made(o.Material, "hollow-door"), Outline: square(at, side)}
		h.Open = o.Open || o.Kind == "stair"
		if h.Material == "" && o.Kind == "hatch" {
			b.assume(words.Later("%s: no material given; taken as %s", b.OpeningName(id), Construction(h.As)))
		}
		b.assume(words.Later("%s: the hole in the floor is taken as %s m square, as wide as the way through it", b.OpeningName(id), words.Figure(side, 1)))
		for i := range b.Floors {
			if f := &b.Floors[i]; f.Storey == b.Rooms[above].Storey {
				for k := range f.Parts {
					f.Parts[k].Area = max(0, f.Parts[k].Area-b.shared(f.Parts[k], h.Outline))
				}
				f.Holes = append(f.Holes, h)
			}
		}
	}
}

// shared is how much of a hole lies in a part of a floor.
func (b *Building) shared(p Part, hole geom.Polygon) float64 {
	// Rooms of one storey do not overlap, so what is in both rooms is at most what is in either.
	return min(b.Rooms[p.Above].Outline.Overlap(hole), b.Rooms[p.Below].Outline.Overlap(hole))
}

func square(at geom.Point, side float64) geom.Polygon {
	h := side / 2
	return geom.Polygon{{X: at.X - h, Y: at.Y - h}, {X: at.X + h, Y: at.Y - h}, {X: at.X + h, Y: at.Y + h}, {X: at.X - h, Y: at.Y + h}}
}

// OpeningName is the name of an opening, else its id.
func (b *Building) OpeningName(id site.OpeningID) string {
	if name := b.site.Openings[id].Name; name != "" {
		return name
	}
	return string(id)
}

// made names what something is made of: its material, or a usual construction.
func (b *Building) made(id site.MaterialID, as string) Made {
	if id != "" {
		return Made{Material: id, As: b.site.Materials[id].As}
	}
	return Made{As: as}
}

// bare is the scene of the whole building, its losses left open.
func (b *Building) bare() *geom.Scene {
	screens := make([]geom.Screen, len(b.Pieces))
	for i, p := range b.Pieces {
		screens[i] = geom.Screen{A: p.A, B: p.B, Z0: p.Z0, Z1: p.Z1}
	}
	var slabs []geom.Slab
	for i, f := range b.Floors {
		slab := geom.Slab{Z: f.Z}
		for _, r := range b.Rooms {
			if r.Storey == f.Storey {
				slab.Outlines = append(slab.Outlines, r.Outline)
			}
		}
		for _, h := range f.Holes {
			slab.Holes = append(slab.Holes, h.Outline)
		}
		slabs = append(slabs, slab)
		b.slabs = append(b.slabs, slabOf{i, -1})
		for k, h := range f.Holes {
			slabs = append(slabs, geom.Slab{Z: f.Z, Outlines: []geom.Polygon{h.Outline}})
			b.slabs = append(b.slabs, slabOf{i, k})
		}
	}
	return geom.NewScene(screens, slabs)
}
