package prove

import (
	"container/heap"
	"math"

	"proofbell/geom"
	"proofbell/site"
)

// far stands for "no way is drawn", in millimetres. It is large enough that a walk with one unknown way less is always
// preferred, and small enough that sums of thousands of them do not overflow.
const far int64 = 1_000_000_000

// stairPerRise is the way walked on a stair for each metre of rise, as an estimate for ordering: a pitch of about 30
// degrees (general knowledge; a way of 2 m for 1 m of rise).
const stairPerRise = 2.0

// place is where a step is done.
type place struct {
	room   site.RoomID
	storey site.StoreyID
	at     geom.Point
	ok     bool // the room is known and the point is on the plan
}

// ways measures the way from place to place through the doors of the plan. Distances are whole millimetres, so that the
// order of a walk does not hang on the last bit of a floating point number.
type ways struct {
	nodes []node
	edges [][]edge
	of    map[site.RoomID][]int // nodes on the room's side of its doors
}

// node is one side of an opening.
type node struct {
	room site.RoomID
	at   geom.Point
}

type edge struct {
	to int
	mm int64
}

// newWays builds the graph of rooms joined by doors, passages and stairs. Doors to the outside lead nowhere.
func newWays(s *site.Site) *ways {
	w := &ways{of: map[site.RoomID][]int{}}
	for _, id := range site.SortedIDs(s.Openings) {
		o := s.Openings[id]
		at, ok := o.At.Point()
		if !ok || len(o.Rooms) != 2 || o.Kind == "window" || o.Kind == "hatch" {
			continue
		}
		a, b := o.Rooms[0], o.Rooms[1]
		n := len(w.nodes)
		w.nodes = append(w.nodes, node{a, at}, node{b, at})
		w.of[a] = append(w.of[a], n)
		w.of[b] = append(w.of[b], n+1)
		rise := math.Abs(level(s, a) - level(s, b))
		cross := millimetres(rise * stairPerRise)
		w.edges = append(w.edges, []edge{{n + 1, cross}}, []edge{{n, cross}})
	}
	for _, room := range site.SortedIDs(w.of) {
		list := w.of[room]
		for _, i := range list {
			for _, j := range list {
				if i != j {
					w.edges[i] = append(w.edges[i], edge{j, millimetres(w.nodes[i].at.Distance(w.nodes[j].at))})
				}
			}
		}
	}
	return w
}

func level(s *site.Site, room site.RoomID) float64 { return s.Storeys[s.Rooms[room].Storey].Level.SI() }

func millimetres(metres float64) int64 { return int64(math.Round(metres * 1000)) }

// from returns the shortest ways from a place to each of the others; far where no way is drawn.
func (w *ways) from(a place, to []place) []int64 {
	out := make([]int64, len(to))
	dist := w.spread(a)
	for i, b := range to {
		out[i] = w.reach(a, b, dist)
	}
	return out
}

func (w *ways) reach(a, b place, dist []int64) int64 {
	if !a.ok || !b.ok {
		return far
	}
	best := far
	if a.room == b.room {
		best = millimetres(a.at.Distance(b.at))
	}
	for _, n := range w.of[b.room] {
		if dist[n] < far {
			best = min(best, dist[n]+millimetres(w.nodes[n].at.Distance(b.at)))
		}
	}
	return best
}

// spread is Dijkstra's algorithm from a place to every side of every door.
func (w *ways) spread(a place) []int64 {
	dist := make([]int64, len(w.nodes))
	for i := range dist {
		dist[i] = far
	}
	if !a.ok {
		return dist
	}
	q := &queue{}
	for _, n := range w.of[a.room] {
		dist[n] = millimetres(a.at.Distance(w.nodes[n].at))
		heap.Push(q, edge{n, dist[n]})
	}
	for q.Len() > 0 {
		e := heap.Pop(q).(edge)
		if e.mm > dist[e.to] {
			continue
		}
		for _, next := range w.edges[e.to] {
			if d := e.mm + next.mm; d < dist[next.to] {
				dist[next.to] = d
				heap.Push(q, edge{next.to, d})
			}
		}
	}
	return dist
}

type queue []edge

func (q queue) Len() int           { return len(q) }
func (q queue) Less(i, j int) bool { return q[i].mm < q[j].mm }
func (q queue) Swap(i, j int)      { q[i], q[j] = q[j], q[i] }
func (q *queue) Push(x any)        { *q = append(*q, x.(edge)) }
func (q *queue) Pop() any {
	last := (*q)[len(*q)-1]
	*q = (*q)[:len(*q)-1]
	return last
}

// placeOf finds where something is done: its own place, or the middle of its room when only the room is known.
func placeOf(s *site.Site, room site.RoomID, at site.Coordinates) place {
	r, known := s.Rooms[room]
	p := place{room: room, storey: r.Storey}
	if !known {
		return p
	}
	if p.at, p.ok = at.Point(); p.ok {
		return p
	}
	outline := r.Outline.Polygon()
	if len(outline) < 3 {
		return p
	}
	lo, hi := outline[0], outline[0]
	for _, c := range outline[1:] {
		lo = geom.Point{X: min(lo.X, c.X), Y: min(lo.Y, c.Y)}
		hi = geom.Point{X: max(hi.X, c.X), Y: max(hi.Y, c.Y)}
	}
	p.at, p.ok = lo.Add(hi).Scale(0.5), true
	return p
}
