package building

import (
	"math"

	"proofbell/geom"
	"proofbell/site"
)

// Door is a way between two rooms, or to the outside, through which people walk: door, passage, hatch or stair.
type Door struct {
	Opening site.OpeningID
	Kind    string
	Rooms   [2]int     // or Outside
	At      geom.Point // on the plan
	Open    bool
	Fire    bool
	Climb   float64 // height between the two floors, metres
}

// perRise is how much longer a stair is to walk than it is high: a usual pitch of 38 degrees.
const perRise = 1.6

// Walk is a way on foot between two places.
type Walk struct {
	Metres float64
	Doors  []site.OpeningID // in order
	Shut   int              // how many of them have a leaf that does not stand open
}

// doorGraph holds the doors and how far they are from each other.
type doorGraph struct {
	doors []Door
	of    [][]int // doors of each room
	net   *geom.Network
}

// Doors returns the ways through which people walk, in natural order of their ids. Those without a place are left out.
func (b *Building) Doors() []Door { return b.doors.doors }

func (b *Building) walks() *doorGraph {
	g := &doorGraph{of: make([][]int, len(b.Rooms))}
	for _, w := range b.site.Ways() {
		d := Door{Opening: w.Opening, Kind: w.Kind, Rooms: [2]int{Outside, Outside}, At: w.At}
		o := b.site.Openings[w.Opening]
		d.Open, d.Fire = o.Open || w.Kind == "passage" || w.Kind == "stair", o.Fire
		first, okA := b.room[w.A]
		second, okB := b.room[w.B]
		if okA {
			d.Rooms[0] = first
		}
		if okB {
			d.Rooms[1] = second
		}
		if okA && okB {
			d.Climb = math.Abs(b.Rooms[first].Z0 - b.Rooms[second].Z0)
		}
		if !w.Placed && okA && okB {
			d.At, w.Placed = b.between(b.Rooms[first].Storey, o.Rooms)
		}
		if !w.Placed || !okA && !okB {
			continue
		}
		for _, r := range d.Rooms {
			if r != Outside {
				g.of[r] = append(g.of[r], len(g.doors))
			}
		}
		g.doors = append(g.doors, d)
	}
	g.net = geom.NewNetwork(2 * len(g.doors)) // a door has two ends, one in each room
	for r, doors := range g.of {
		for i, a := range doors {
			for _, c := range doors[i+1:] {
				g.net.Join(g.end(a, r), g.end(c, r), b.Rooms[r].Outline.Way(g.doors[a].At, g.doors[c].At))
			}
		}
	}
	for i, d := range g.doors {
		g.net.Join(2*i, 2*i+1, d.Climb*perRise)
	}
	return g
}

// end is the node of a door on the side of a room.
func (g *doorGraph) end(door, room int) int {
	if g.doors[door].Rooms[1] == room {
		return 2*door + 1
	}
	return 2 * door
}

// Walk returns the shortest way on foot between two places in rooms, shut doors opened on the way; a stair counts 1.6
// times its height. ok is false when no way is known.
func (b *Building) Walk(from geom.Point, fromRoom int, to geom.Point, toRoom int) (w Walk, ok bool) {
	g := b.doors
	best := math.Inf(1)
	if fromRoom == toRoom {
		best = b.Rooms[fromRoom].Outline.Way(from, to)
	}
	starts := make([]geom.Start, 0, len(g.of[fromRoom]))
	for _, d := range g.of[fromRoom] {
		starts = append(starts, geom.Start{Node: g.end(d, fromRoom), Distance: b.Rooms[fromRoom].Outline.Way(from, g.doors[d].At)})
	}
	far, before := g.net.From(starts)
	last := -1
	for _, d := range g.of[toRoom] {
		n := g.end(d, toRoom)
		if way := far[n] + b.Rooms[toRoom].Outline.Way(g.doors[d].At, to); way < best {
			best, last = way, n
		}
	}
	if math.IsInf(best, 1) {
		return w, false
	}
	w.Metres = best
	for n := last; n >= 0; n = before[n] {
		// A door is walked through where both its ends are on the way.
		if p := before[n]; p >= 0 && p/2 == n/2 {
			d := g.doors[n/2]
			w.Doors = append([]site.OpeningID{d.Opening}, w.Doors...)
			if !d.Open {
				w.Shut++
			}
		}
	}
	return w, true
}
