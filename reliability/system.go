package reliability

import "proofbell/internal/sorts"

// Range is what is known of a probability: no less than Low, no more than High, Mid in between.
type Range struct {
	Low  float64 `json:"low"`
	Mid  float64 `json:"mid"`
	High float64 `json:"high"`
}

// Sure is a range of one figure.
func Sure(v float64) Range { return Range{v, v, v} }

// Valid reports whether the ends are in order and within 0 to 1.
func (r Range) Valid() bool { return r.Low >= 0 && r.Low <= r.Mid && r.Mid <= r.High && r.High <= 1 }

// Part is one thing that can fail.
type Part struct {
	ID          string
	Unavailable Range
	// Rate names where the figure comes from. Parts of one rate are better or worse together: their samples move as one,
	// for what is not known of a kind of part is not known of all of them. Empty: a rate of its own.
	// Source: state-of-knowledge correlation, Apostolakis and Kaplan 1981.
	Rate string
}

// Node is a part or an arrangement of nodes of one System.
type Node int32

// System is an arrangement of parts, seen as what works: a node of it works or does not. A part may stand in many places; it
// is one part all the same. The zero value is empty.
type System struct {
	Parts []Part
	nodes []arrangement
}

// arrangement works when at least need of its nodes do; a leaf when its part does.
type arrangement struct {
	part int32 // index of the part; -1: none
	need int32
	of   []Node
}

func (s *System) add(a arrangement) Node {
	s.nodes = append(s.nodes, a)
	return Node(len(s.nodes) - 1)
}

// Part adds a part. Each call is a part of its own: keep the node to use the part again.
func (s *System) Part(p Part) Node {
	s.Parts = append(s.Parts, p)
	return s.add(arrangement{part: int32(len(s.Parts) - 1)})
}

// All works when all of the nodes do: parts in series. Of none, it always works.
func (s *System) All(of ...Node) Node {
	if len(of) == 1 {
		return of[0]
	}
	return s.add(arrangement{-1, int32(len(of)), append([]Node(nil), of...)})
}

// Any works when one of the nodes does: parts in parallel. Of none, it never works.
func (s *System) Any(of ...Node) Node {
	if len(of) == 1 {
		return of[0]
	}
	return s.add(arrangement{-1, 1, append([]Node(nil), of...)})
}

// AtLeast works when need of the nodes do. Needing none, it always works; needing more than there are, never.
func (s *System) AtLeast(need int, of ...Node) Node {
	need = max(0, min(need, len(of)+1))
	return s.add(arrangement{-1, int32(need), append([]Node(nil), of...)})
}

// CommonCause divides parts into what fails alone and what fails all of them at once: a share beta of the mean of their
// unavailabilities is one part in series with each. It adds that part, lowers the others and returns, for each, the node to
// use in its place. Source: beta factor, IEC 61508-6 annex D; what parts share is no common cause but a part of its own.
func (s *System) CommonCause(id string, beta float64, parts ...Node) []Node {
	var mean Range
	n := float64(len(parts))
	for _, node := range parts {
		p := &s.Parts[s.nodes[node].part]
		u := p.Unavailable
		mean = Range{mean.Low + beta*u.Low/n, mean.Mid + beta*u.Mid/n, mean.High + beta*u.High/n}
		p.Unavailable = Range{(1 - beta) * u.Low, (1 - beta) * u.Mid, (1 - beta) * u.High}
	}
	shared := s.Part(Part{ID: id, Unavailable: mean, Rate: s.Parts[s.nodes[parts[0]].part].Rate})
	out := make([]Node, len(parts))
	for i, node := range parts {
		out[i] = s.All(shared, node)
	}
	return out
}

// Of takes a node apart, for whoever draws it: the index of its part, or -1 and what it needs of which nodes.
func (s *System) Of(n Node) (part, need int, of []Node) {
	a := s.nodes[n]
	return int(a.part), int(a.need), a.of
}

// Works decides a node by what has failed: the plain meaning of the arrangement, against which the diagram is tested.
func (s *System) Works(n Node, failed func(part int) bool) bool {
	a := s.nodes[n]
	if a.part >= 0 {
		return !failed(int(a.part))
	}
	have := int32(0)
	for _, one := range a.of {
		if s.Works(one, failed) {
			have++
		}
	}
	return have >= a.need
}

// order is the order in which a diagram asks after the parts: as they are met going down, small branches first, so that what
// stands in series with everything is asked first and what belongs together stands together.
func (s *System) order(small bool, tops []Node) (level []int32, parts []int32) {
	sizes := make([]int, len(s.nodes))
	for i, a := range s.nodes { // children are older than their parents
		sizes[i] = 1
		for _, one := range a.of {
			sizes[i] += sizes[one]
		}
		sizes[i] = min(sizes[i], 1<<40)
	}
	level = make([]int32, len(s.Parts))
	for i := range level {
		level[i] = -1
	}
	seen := make([]bool, len(s.nodes))
	var walk func(n Node)
	walk = func(n Node) {
		if seen[n] {
			return
		}
		seen[n] = true
		a := s.nodes[n]
		if a.part >= 0 {
			if level[a.part] < 0 {
				level[a.part] = int32(len(parts))
				parts = append(parts, a.part)
			}
			return
		}
		of := a.of
		if small {
			of = append([]Node(nil), of...)
			sorts.Stable(of, func(a, b Node) int { return sizes[a] - sizes[b] })
		}
		for _, one := range of {
			walk(one)
		}
	}
	for _, top := range tops {
		walk(top)
	}
	return level, parts
}
