package reliability

import (
	"errors"
	"fmt"

	"proofbell/internal/words"
)

// DefaultLimit is the most nodes that a diagram may have: some 40 MB.
const DefaultLimit = 1 << 19

// ErrTooLarge marks a system whose diagram has more nodes than allowed.
var ErrTooLarge = errors.New("the system is too large")

// Diagram is a binary decision diagram of systems: for each of the tops, when it has failed. Equal pieces are one node, and
// nodes are older than those that ask after them, so that a walk by index meets what it needs.
type Diagram struct {
	pool
	s     *System
	roots map[Node]int32
	tops  []Node

	limit int
	memo  map[operation]int32
	done  []int32 // by node of the system: its function plus 1
}

// ask is one node: whether a part has failed, then which node is next.
type ask struct{ part, failed, works int32 }

// pool holds nodes, equal ones once. The first two end every way.
type pool struct {
	nodes []ask
	find  map[ask]int32
	level []int32 // of each part, -1: not in any top
}

func newPool(level []int32) pool {
	return pool{nodes: []ask{{-1, 0, 0}, {-1, 1, 1}}, find: map[ask]int32{}, level: level}
}

func (p *pool) once(part, failed, works int32) int32 {
	key := ask{part, failed, works}
	if n, ok := p.find[key]; ok {
		return n
	}
	n := int32(len(p.nodes))
	p.nodes = append(p.nodes, key)
	p.find[key] = n
	return n
}

// levelOf is the level of the part that a node asks after.
func (p *pool) levelOf(n int32) int32 {
	if n <= 1 {
		return none
	}
	return p.level[p.nodes[n].part]
}

type operation struct {
	or   bool
	a, b int32
}

// The two answers.
const (
	good int32 = 0 // works
	bad  int32 = 1 // has failed
)

const none int32 = 1<<31 - 1 // level of an answer: below all parts

// Diagram makes the diagram of some tops of a system. limit is the most nodes, DefaultLimit for 0. An error is ErrTooLarge
// and says what to do.
func (s *System) Diagram(limit int, tops ...Node) (*Diagram, error) {
	if limit == 0 {
		limit = DefaultLimit
	}
	for _, small := range []bool{true, false} {
		level, _ := s.order(small, tops)
		d := &Diagram{
			pool: newPool(level), s: s, limit: limit, roots: map[Node]int32{}, tops: tops, memo: map[operation]int32{},
			done: make([]int32, len(s.nodes)),
		}
		if d.build() {
			d.find, d.memo, d.done = nil, nil, nil
			d.tidy()
			return d, nil
		}
	}
	return nil, fmt.Errorf("%w: %w", &words.Error{Say: words.Later("the diagram of the system has more than %d nodes", limit), Try: words.Later("ask after fewer rooms or parts at once")}, ErrTooLarge)
}

func (d *Diagram) build() bool {
	for _, top := range d.tops {
		d.roots[top] = d.function(top)
		if d.full() {
			return false
		}
	}
	return true
}

// tidy drops the nodes that only the making needed; what is left keeps its order.
func (d *Diagram) tidy() {
	used := make([]bool, len(d.nodes))
	for _, n := range d.roots {
		used[n] = true
	}
	for i := len(d.nodes) - 1; i > int(bad); i-- {
		if used[i] {
			used[d.nodes[i].failed], used[d.nodes[i].works] = true, true
		}
	}
	at := make([]int32, len(d.nodes))
	at[bad] = bad
	kept := append([]ask(nil), d.nodes[:bad+1]...)
	for i, n := range d.nodes[bad+1:] {
		if i += int(bad) + 1; used[i] {
			at[i] = int32(len(kept))
			kept = append(kept, ask{n.part, at[n.failed], at[n.works]})
		}
	}
	d.nodes = kept
	for top, n := range d.roots {
		d.roots[top] = at[n]
	}
}

func (d *Diagram) full() bool { return len(d.nodes) > d.limit || len(d.memo) > 8*d.limit }

// Size is the number of nodes.
func (d *Diagram) Size() int { return len(d.nodes) }

func (d *Diagram) node(part, failed, works int32) int32 {
	if failed == works {
		return failed
	}
	return d.once(part, failed, works)
}

// function is when a node of the system has failed.
func (d *Diagram) function(n Node) int32 {
	if d.done[n] > 0 {
		return d.done[n] - 1
	}
	a := d.s.nodes[n]
	var f int32
	switch {
	case a.part >= 0:
		f = d.node(a.part, bad, good)
	default:
		f = d.count(a)
	}
	if !d.full() {
		d.done[n] = f + 1
	}
	return f
}

// count is when more of an arrangement's nodes have failed than it can spare: failing[j] after some of them is when j more
// of the others have to fail, taken from the last to the first.
func (d *Diagram) count(a arrangement) int32 {
	spare := len(a.of) - int(a.need) + 1 // so many failed nodes fail it
	if spare == len(a.of) && spare > 1 { // alternatives: all of them, with no counting on the way
		f := bad
		for i := len(a.of) - 1; i >= 0 && !d.full(); i-- {
			f = d.apply(false, d.function(a.of[i]), f)
		}
		return f
	}
	failing := make([]int32, max(0, spare)+1)
	failing[0] = bad
	for i := len(a.of) - 1; i >= 0 && !d.full(); i-- {
		f := d.function(a.of[i])
		for j := spare; j >= 1; j-- {
			failing[j] = d.apply(true, d.apply(false, f, failing[j-1]), failing[j]) // the first holds the second
		}
	}
	return failing[max(0, spare)]
}

// apply joins two functions: or fails when one does, else when both do.
func (d *Diagram) apply(or bool, a, b int32) int32 {
	if a > b {
		a, b = b, a
	}
	switch {
	case a == b:
		return a
	case a == good:
		if or {
			return b
		}
		return good
	case a == bad:
		if or {
			return bad
		}
		return b
	}
	key := operation{or, a, b}
	if n, ok := d.memo[key]; ok {
		return n
	}
	if d.full() {
		return bad // build gives up
	}
	la, lb := d.levelOf(a), d.levelOf(b)
	na, nb := d.nodes[a], d.nodes[b]
	if la > lb {
		na = ask{nb.part, a, a}
	}
	if lb > la {
		nb = ask{na.part, b, b}
	}
	n := d.node(na.part, d.apply(or, na.failed, nb.failed), d.apply(or, na.works, nb.works))
	d.memo[key] = n
	return n
}

// Chances are the unavailabilities of all parts at one end of their ranges.
func (s *System) Chances(of func(Range) float64) []float64 {
	out := make([]float64, len(s.Parts))
	for i, p := range s.Parts {
		out[i] = of(p.Unavailable)
	}
	return out
}

// At picks an end of a range.
var (
	Low  = func(r Range) float64 { return r.Low }
	Mid  = func(r Range) float64 { return r.Mid }
	High = func(r Range) float64 { return r.High }
)

// walk fills the probability of each node that it ends as failed.
func (d *Diagram) walk(into, u []float64) []float64 {
	if into == nil {
		into = make([]float64, len(d.nodes))
	}
	into[bad] = 1
	for i := int(bad) + 1; i < len(d.nodes); i++ {
		n := d.nodes[i]
		p := u[n.part]
		into[i] = p*into[n.failed] + (1-p)*into[n.works]
	}
	return into
}

// Unavailable is the exact unavailability of a top for unavailabilities of the parts.
func (d *Diagram) Unavailable(top Node, u []float64) float64 {
	return d.walk(nil, u)[d.roots[top]]
}

// Ranges are the unavailabilities of the tops, in their order. The more a part is missing the more the system is: all parts
// at their lower ends are the lower end of the system, exactly, and so for the upper.
func (d *Diagram) Ranges() []Range {
	out := make([]Range, len(d.tops))
	for end, of := range []func(Range) float64{Low, Mid, High} {
		p := d.walk(nil, d.s.Chances(of))
		for i, top := range d.tops {
			switch v := p[d.roots[top]]; end {
			case 0:
				out[i].Low = v
			case 1:
				out[i].Mid = v
			default:
				out[i].High = v
			}
		}
	}
	return out
}

// Birnbaum is, for each part, how much more likely a top is to have failed with the part failed than with it good:
//
//	P(top | part failed) - P(top | part good)
//
// Of several tops it is the sum. Source: Birnbaum 1969; IEC 61025. Parts outside the tops have 0.
func (d *Diagram) Birnbaum(u []float64, tops ...Node) []float64 {
	p := d.walk(nil, u)
	weight := make([]float64, len(d.nodes))
	out := make([]float64, len(d.s.Parts))
	for _, top := range tops {
		weight[d.roots[top]]++
	}
	for i := len(d.nodes) - 1; i > int(bad); i-- {
		if weight[i] == 0 {
			continue
		}
		n := d.nodes[i]
		out[n.part] += weight[i] * (p[n.failed] - p[n.works])
		weight[n.failed] += weight[i] * u[n.part]
		weight[n.works] += weight[i] * (1 - u[n.part])
	}
	return out
}
