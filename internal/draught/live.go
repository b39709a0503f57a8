package draught

import (
	"proofbell/geom"
	"proofbell/internal/words"
	"proofbell/site"
)

// Guides are what a hand on the plan snaps to: every straight line and every corner of a storey, once. Who shows them
// picks the nearest, corners before lines.
type Guides struct {
	Corners []geom.Point `json:"corners"`
	Lines   []GuideLine  `json:"lines"`
	Step    float64      `json:"step"` // of the grid, metres
}

// GuideLine is a straight line of the drawing.
type GuideLine struct {
	A    geom.Point `json:"a"`
	B    geom.Point `json:"b"`
	Wall string     `json:"wall,omitempty"` // id; "": the side of a room that has no wall
}

// Snap lists what a storey has to snap to.
func Snap(s *site.Site, storey site.StoreyID) Guides {
	e := lay(nil, s, storey)
	g := Guides{Corners: []geom.Point{}, Lines: []GuideLine{}, Step: 0.1}
	if s.Premises.Units == "imperial" {
		g.Step = 0.0762 // three inches
	}
	corner := func(p geom.Point) {
		for _, c := range g.Corners {
			if same(c, p) {
				return
			}
		}
		g.Corners = append(g.Corners, p)
	}
	var walls []edge
	for _, id := range site.SortedIDs(s.Walls) {
		w := s.Walls[id]
		a, okA := w.From.Point()
		b, okB := w.To.Point()
		if w.Storey == storey && okA && okB && !same(a, b) {
			walls = append(walls, edge{a, b})
			g.Lines = append(g.Lines, GuideLine{a, b, string(id)})
		}
	}
	for _, r := range e.rooms() {
		for _, side := range sides(r.poly) {
			corner(side.a)
			for _, bare := range side.less(walls) {
				g.Lines = append(g.Lines, GuideLine{A: bare.a, B: bare.b})
			}
		}
	}
	for _, w := range walls {
		corner(w.a)
		corner(w.b)
	}
	return g
}

// Distance is a live distance of something that is being put down.
type Distance struct {
	What string     `json:"what"` // wall, door, device, head
	ID   string     `json:"id"`   // of what it is measured to; "": a side of the room
	From geom.Point `json:"from"`
	To   geom.Point `json:"to"`
	Say  string     `json:"say"`  // "2.35 m"
	Long string     `json:"long"` // in a sentence: "2.35 m to the wall"
	M    float64    `json:"m"`    // metres
	Near bool       `json:"near"` // nearer than a rule of placement allows
	Rule string     `json:"rule"` // id of that rule; "": none cares
}

// Distances are those of what is in the hand.
func Distances(lang *words.Language, s *site.Site, storey site.StoreyID, about string) []Distance {
	return []Distance{}
}
