package geom

import (
	"math"
	"sort"
)

// Network is a set of nodes with ways of known length between some of them.
type Network struct {
	ways [][]way
}

type way struct {
	to     int
	length float64
}

// Start is a node where a search begins, and how far it is from the beginning already.
type Start struct {
	Node     int
	Distance float64
}

// NewNetwork makes a network of n nodes, numbered from 0, without ways.
func NewNetwork(n int) *Network { return &Network{ways: make([][]way, n)} }

// Join adds a way both ways. A negative or infinite length, or one that is no number, is no way.
func (n *Network) Join(a, b int, length float64) {
	if !(length >= 0) || math.IsInf(length, 1) {
		return
	}
	n.ways[a] = append(n.ways[a], way{b, length})
	n.ways[b] = append(n.ways[b], way{a, length})
}

// From returns how far each node is from the nearest start, +Inf when it can not be reached, and the node before it on
// that way, -1 at a start. Dijkstra 1959.
func (n *Network) From(starts []Start) (distance []float64, before []int) {
	distance, before = make([]float64, len(n.ways)), make([]int, len(n.ways))
	for i := range distance {
		distance[i], before[i] = math.Inf(1), -1
	}
	var q queue
	for _, s := range starts {
		if s.Distance < distance[s.Node] {
			distance[s.Node] = s.Distance
			q.push(s)
		}
	}
	for len(q) > 0 {
		at := q.pop()
		if at.Distance > distance[at.Node] {
			continue
		}
		for _, w := range n.ways[at.Node] {
			if d := at.Distance + w.length; d < distance[w.to] {
				distance[w.to], before[w.to] = d, at.Node
				q.push(Start{w.to, d})
			}
		}
	}
	return distance, before
}

// queue is a heap with the nearest on top.
type queue []Start

func (q *queue) push(s Start) {
	*q = append(*q, s)
	h := *q
	for i := len(h) - 1; i > 0; {
		up := (i - 1) / 2
		if h[up].Distance <= h[i].Distance {
			return
		}
		h[up], h[i] = h[i], h[up]
		i = up
	}
}

func (q *queue) pop() Start {
	h := *q
	top := h[0]
	last := len(h) - 1
	h[0] = h[last]
	h = h[:last]
	*q = h
	for i := 0; ; {
		least := 2*i + 1
		if least >= last {
			return top
		}
		if least+1 < last && h[least+1].Distance < h[least].Distance {
			least++
		}
		if h[i].Distance <= h[least].Distance {
			return top
		}
		h[i], h[least] = h[least], h[i]
		i = least
	}
}

// Way returns the length of the shortest way from a to b that stays within p, along its re-entrant corners. Places that
// lie a little outside (a door in the middle of its wall) are taken to the nearest place of the outline first.
func (p Polygon) Way(a, b Point) float64 {
	a, b = p.pulled(a), p.pulled(b)
	nodes := []Point{a, b}
	turn := p.SignedArea()
	for i, c := range p {
		before, after := p[(i+len(p)-1)%len(p)], p[(i+1)%len(p)]
		if o := Orient(before, c, after); o != 0 && (o < 0) != (turn < 0) {
			nodes = append(nodes, c)
		}
	}
	if len(nodes) == 2 {
		return a.Distance(b)
	}
	net := NewNetwork(len(nodes))
	for i := range nodes {
		for j := i + 1; j < len(nodes); j++ {
			if p.sees(nodes[i], nodes[j]) {
				net.Join(i, j, nodes[i].Distance(nodes[j]))
			}
		}
	}
	far, _ := net.From([]Start{{0, 0}})
	return far[1]
}

// pulled takes a place outside to the nearest one of the outline.
func (p Polygon) pulled(q Point) Point {
	if p.Contains(q) || len(p) == 0 {
		return q
	}
	best, nearest := q, math.Inf(1)
	for i := range p {
		if at := p.Side(i).Nearest(q); at.Distance(q) < nearest {
			best, nearest = at, at.Distance(q)
		}
	}
	return best
}

// sees reports whether the straight way between two places of p stays within it, a way along the outline too.
func (p Polygon) sees(a, b Point) bool {
	s := Segment{a, b}
	d := b.Sub(a)
	length := a.Distance(b)
	if length <= Near {
		return true
	}
	// It can leave p only where it meets the outline: between two such places the middle tells.
	cuts := []float64{0, 1}
	for i := range p {
		side := p.Side(i)
		if c := side.A; s.Distance(c) <= Near {
			cuts = append(cuts, c.Sub(a).Dot(d)/(length*length))
		}
		e := side.B.Sub(side.A)
		if den := d.Cross(e); math.Abs(den) > 1e-12*length*side.Length() {
			u := side.A.Sub(a).Cross(e) / den
			v := side.A.Sub(a).Cross(d) / den
			if u > 0 && u < 1 && v > -1e-9 && v < 1+1e-9 {
				cuts = append(cuts, u)
			}
		}
	}
	sort.Float64s(cuts)
	for i := 0; i+1 < len(cuts); i++ {
		if (cuts[i+1]-cuts[i])*length <= 2*Near {
			continue
		}
		if !p.Contains(a.Add(d.Scale((cuts[i] + cuts[i+1]) / 2))) {
			return false
		}
	}
	return true
}
