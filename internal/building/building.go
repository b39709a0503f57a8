// Package building turns a site into what stands in space: rooms with floor and ceiling, walls cut at their openings, floors
// with holes where stairs are, what each takes off sound and radio, and the ways that people walk.
//
// What the site does not say and has to be known is taken from usual construction, and every such step is listed in Assumed:
// whoever shows a figure that rests on it shows that too. A building does not change; use from several goroutines is safe.
package building

import (
	"proofbell/geom"
	"proofbell/internal/words"
	"proofbell/site"
)

// Outside stands for the index of a room where there is none: the open air, or a place nobody described.
const Outside = -1

// Building is a site in space. Lengths are metres, heights count from the ground floor.
type Building struct {
	Storeys []Storey // from below
	Rooms   []Room   // those with an outline and a storey, in natural order of their ids
	Pieces  []Piece  // walls and what is in them, storey by storey
	Floors  []Floor  // one a storey that has rooms
	Roofs   []Roof   // over rooms with no room above all of them
	Assumed []words.Text
	Left    []words.Text // what had to be left out, and why
	Undrawn []words.Text // names of the rooms without outline or storey: where they are, nobody knows what stands

	site  *site.Site
	room  map[site.RoomID]int
	scene *geom.Scene // all pieces, then all floors, each with its holes; without losses
	slabs []slabOf
	doors *doorGraph
}

// Storey is one level.
type Storey struct {
	ID    site.StoreyID
	Name  string
	Level float64 // of its floor
	Top   float64 // of its walls: the floor above, else its ceiling
}

// Room is one space.
type Room struct {
	ID       site.RoomID
	Name     string
	Use      string
	Sleeping bool
	Storey   int // index in Storeys
	Outline  geom.Polygon
	Z0, Z1   float64 // floor and ceiling
	Area     float64 // of the floor, m2
	Volume   float64 // m3

	low, high geom.Point // of its outline
}

// Piece is an upright part of a wall that is the same all over: one material, one room on each side.
type Piece struct {
	A, B      geom.Point // on the middle line
	Z0, Z1    float64
	Storey    int
	Rooms     [2]int         // index of the room on the left of A to B, and on the right; or Outside
	Wall      site.WallID    // "" for a wall that is assumed
	Opening   site.OpeningID // "" for the wall itself, also above and below an opening
	Kind      string         // of the opening: door, window, hatch, passage; "" for the wall itself
	Thickness float64        // 0: not known
	Fire      bool           // a fire door
	Assumed   bool           // the wall is not drawn
	In        Made           // of an opening: the wall that it is in
	Made
}

// Made is what something is made of.
type Made struct {
	Material site.MaterialID // "" when the site names none
	As       string          // usual construction, a word of site.Words("construction"); that of the material, or what stands in for it
	Open     bool            // stands open or has no leaf: nothing is in the way
}

// Length returns the length on the plan.
func (p Piece) Length() float64 { return p.A.Distance(p.B) }

// Area returns the area in m2.
func (p Piece) Area() float64 { return p.Length() * (p.Z1 - p.Z0) }

// Floor is the floor of a storey: what lies between its rooms and those below.
type Floor struct {
	Storey int
	Z      float64
	Holes  []Hole
	Parts  []Part
	Made
}

// Part is a stretch of floor between two rooms, holes taken off.
type Part struct {
	Above, Below int     // rooms
	Area         float64 // m2
}

// Roof is what covers the part of a room that lies under no room of the storey above. The site file does not say what it is.
type Roof struct {
	Room  int
	Z     float64        // a little above the ceiling, where devices hang; not below a floor beside it
	Under []geom.Polygon // outlines of the rooms above: what lies in them is not roof
}

// Hole is where a stair, or a hatch with a leaf, goes through a floor.
type Hole struct {
	Opening      site.OpeningID
	Kind         string // stair or hatch
	Outline      geom.Polygon
	Above, Below int // rooms, or Outside
	Made
}

// Area returns the area in m2.
func (h Hole) Area() float64 { return h.Outline.Area() }

// RoomOf returns the index of a room. ok is false for one without outline or storey.
func (b *Building) RoomOf(id site.RoomID) (i int, ok bool) {
	i, ok = b.room[id]
	return i, ok
}

// RoomAt returns the index of the room that holds a place: its outline on the plan, floor and ceiling in height; between two
// rooms the first. ok is false outside all.
func (b *Building) RoomAt(at geom.Point3) (i int, ok bool) {
	for i, r := range b.Rooms {
		if at.Z >= r.Z0-geom.Near && at.Z < max(r.Z1, b.Storeys[r.Storey].Top)+geom.Near && r.Outline.Contains(at.Plan()) {
			return i, true
		}
	}
	return Outside, false
}

// Place returns where something is, from its coordinates and, failing those, its room: then the middle of the ceiling
// (its height alone may be missing too), and assumed is true. ok is false when neither is known.
func (b *Building) Place(at site.Coordinates, room site.RoomID) (p geom.Point3, assumed, ok bool) {
	plan, placed := at.Point()
	z, high := at.Height()
	i, known := b.room[room]
	if !placed && !known {
		return p, false, false
	}
	if !placed {
		plan = b.Rooms[i].Inside()
	}
	if !high {
		if !known {
			return p, false, false
		}
		z = b.Rooms[i].Z1
	}
	return geom.Point3{X: plan.X, Y: plan.Y, Z: z}, !placed || !high, true
}

// Inside returns a place within the room: the centre of its area, or near a corner when that lies outside.
func (r Room) Inside() geom.Point { return r.Outline.Inside() }

// Crossing is one piece, floor or leaf in a floor that a straight way passes through.
type Crossing struct {
	Piece    int     // index in Pieces; -1 for a floor
	Floor    int     // index in Floors; -1 for a piece
	Hole     int     // index in the floor's Holes when one is passed, open or not; else -1
	Distance float64 // from the start, metres
	At       geom.Point3
}

// Crossed returns what the straight way between two places passes through, in order. Edges are decided as geom.Scene
// does: pieces that meet are passed once, and the way back passes the same.
func (b *Building) Crossed(from, to geom.Point3) []Crossing {
	hits := b.scene.Along(from, to)
	out := make([]Crossing, len(hits))
	length := from.Distance(to)
	for i, h := range hits {
		c := Crossing{Piece: h.Screen, Floor: -1, Hole: -1, Distance: h.T * length}
		c.At = geom.Point3{X: from.X + h.T*(to.X-from.X), Y: from.Y + h.T*(to.Y-from.Y), Z: from.Z + h.T*(to.Z-from.Z)}
		if h.Slab >= 0 {
			c.Floor, c.Hole = b.slabs[h.Slab].floor, b.slabs[h.Slab].hole
		}
		out[i] = c
	}
	return out
}

// slabOf says what a slab of the scene is.
type slabOf struct{ floor, hole int }

// Scene returns the whole building for geom's rays and shadows, with losses given by the caller: of a piece, of a floor,
// and of each hole in a floor: 0 for one that is open.
func (b *Building) Scene(piece func(*Piece) float64, floor func(*Floor) float64, hole func(*Floor, *Hole) float64) *geom.Scene {
	screens := make([]geom.Screen, len(b.scene.Screens))
	slabs := make([]geom.Slab, len(b.scene.Slabs))
	copy(screens, b.scene.Screens)
	copy(slabs, b.scene.Slabs)
	for i := range screens {
		screens[i].Loss = piece(&b.Pieces[i])
	}
	for i, of := range b.slabs {
		if of.hole < 0 {
			slabs[i].Loss = floor(&b.Floors[of.floor])
		} else {
			slabs[i].Loss = hole(&b.Floors[of.floor], &b.Floors[of.floor].Holes[of.hole])
		}
	}
	return geom.NewScene(screens, slabs)
}
