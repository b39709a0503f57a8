package draught

import (
	"cmp"
	"math"
	"slices"

	"proofbell/geom"
	"proofbell/internal/sorts"
)

// maxRing is the largest number of corners of a face that is looked at.
const maxRing = 500

// mostCrossed is the number of lines up to which rooms are looked for between them: every pair is compared.
const mostCrossed = 2000

// enclosed finds the rooms that lines close between them: lines are cut where they meet, and each way round a face is walked
// by turning as far left as can be. rest are the lines that bound none of them.
func enclosed(lines []WallLine) (faces []line, rest []WallLine) {
	if len(lines) == 0 || len(lines) > mostCrossed {
		return nil, lines
	}
	var nodes []geom.Point
	cells := map[[2]int][]int{} // nodes by place, so that one is found among few
	node := func(p geom.Point) int {
		x, y := int(math.Floor(p.X/(2*touching))), int(math.Floor(p.Y/(2*touching)))
		for dx := -1; dx <= 1; dx++ {
			for dy := -1; dy <= 1; dy++ {
				for _, i := range cells[[2]int{x + dx, y + dy}] {
					if same(nodes[i], p) {
						return i
					}
				}
			}
		}
		nodes = append(nodes, p)
		cells[[2]int{x, y}] = append(cells[[2]int{x, y}], len(nodes)-1)
		return len(nodes) - 1
	}
	type half struct{ from, to, line int }
	var halves []half
	out := map[int][]int{} // halves by the node from which they go
	seen := map[[2]int]bool{}
	for i, l := range lines {
		s := edge{l.From, l.To}
		var cuts []geom.Point
		for j, o := range lines {
			if i == j {
				continue
			}
			t := edge{o.From, o.To}
			if p, ok := (geom.Segment{A: s.a, B: s.b}).Crossing(geom.Segment{A: t.a, B: t.b}); ok && !collinear(s, t) {
				cuts = append(cuts, p)
			}
			for _, p := range []geom.Point{t.a, t.b} {
				if s.within(p) {
					cuts = append(cuts, p)
				}
			}
		}
		if len(halves)+len(cuts) > 8*mostCrossed { // a hatching, not a plan
			return nil, lines
		}
		for _, one := range s.split(cuts) {
			a, b := node(one.a), node(one.b)
			if a == b || seen[[2]int{a, b}] {
				continue
			}
			seen[[2]int{a, b}], seen[[2]int{b, a}] = true, true
			out[a], out[b] = append(out[a], len(halves)), append(out[b], len(halves)+1)
			halves = append(halves, half{a, b, i}, half{b, a, i})
		}
	}
	gone := make([]bool, len(halves))
	// A line that ends in the open bounds nothing.
	for pruned := true; pruned; {
		pruned = false
		for n, ways := range out {
			if len(ways) == 1 {
				to := halves[ways[0]].to
				out[to] = slices.DeleteFunc(out[to], func(h int) bool { return h == ways[0]^1 })
				out[n], pruned = nil, true
				gone[ways[0]], gone[ways[0]^1] = true, true
			}
		}
	}
	angle := func(h int) float64 {
		d := nodes[halves[h].to].Sub(nodes[halves[h].from])
		return math.Atan2(d.Y, d.X)
	}
	for n := range out {
		sorts.By(out[n], func(a, b int) int { return cmp.Compare(angle(a), angle(b)) })
	}
	next := func(h int) int { // at its end, the first way clockwise from where it came: the face stays on the left
		ways := out[halves[h].to]
		for i, w := range ways {
			if w == h^1 {
				return ways[(i-1+len(ways))%len(ways)]
			}
		}
		return h
	}
	bounds := map[int]bool{}
	walked := gone
	for h := range halves {
		if walked[h] {
			continue
		}
		var ring []geom.Point
		var through []int
		around := 0.0
		for at := h; !walked[at]; at = next(at) {
			walked[at] = true
			ring = append(ring, nodes[halves[at].from])
			around += nodes[halves[at].from].Distance(nodes[halves[at].to])
			through = append(through, halves[at].line)
		}
		p := geom.Polygon(ring)
		area := p.SignedArea()
		if len(ring) > maxRing || area < least || 2*area/around < narrow/2 || !p.Simple() { // the outside is walked clockwise; walls are narrow
			continue
		}
		faces = append(faces, line{layer: lines[through[0]].Layer, points: ring})
		for _, l := range through {
			bounds[l] = true
		}
	}
	for i, l := range lines {
		if !bounds[i] {
			rest = append(rest, l)
		}
	}
	return faces, rest
}
