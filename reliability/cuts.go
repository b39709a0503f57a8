package reliability

import (
	"fmt"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
)

// CutLimit says how many cut sets are listed. The zero value is 1,000 of any size.
type CutLimit struct {
	Sets  int // at most so many
	Order int // at most so many parts in one; 0: any
}

// Cuts are the minimal cut sets of a top: parts that fail it when all of them have failed, and no fewer of them do.
type Cuts struct {
	Sets  [][]int // indices of parts, rising; small sets first
	Total float64 // so many there are in all
	Limit CutLimit
	Whole bool // all of them are in Sets
}

// family is a set of cut sets as a zero-suppressed diagram: those with a part, without it, and those that do not hold it.
type family struct {
	pool  // failed: the rest of the sets that hold the part; works: the sets that do not
	d     *Diagram
	least map[int32]int32    // of a function: its family
	cut   map[[2]int32]int32 // of without
}

// The two smallest families.
const (
	noSet    int32 = 0 // fails by nothing
	emptySet int32 = 1 // has failed already
)

func (d *Diagram) family(top Node) (*family, int32, error) {
	f := &family{pool: newPool(d.level), d: d, least: map[int32]int32{}, cut: map[[2]int32]int32{}}
	root := f.of(d.roots[top])
	if f.full() {
		return nil, 0, fmt.Errorf("%w: %w", &words.Error{Say: words.Later("there are too many cut sets to hold"), Try: words.Later("ask after fewer rooms or parts at once")}, ErrTooLarge)
	}
	return f, root, nil
}

func (f *family) full() bool { return len(f.nodes) > f.d.limit || len(f.cut) > 8*f.d.limit }

func (f *family) node(part, with, without int32) int32 {
	if with == noSet {
		return without
	}
	return f.once(part, with, without)
}

// of is the family of the minimal cut sets of a function. Source: minimal solutions of a diagram, Rauzy 1993.
func (f *family) of(n int32) int32 {
	if n <= bad {
		return n // never fails: no set; has failed: the empty set
	}
	if at, ok := f.least[n]; ok {
		return at
	}
	if f.full() {
		return noSet
	}
	one := f.d.nodes[n]
	works := f.of(one.works)
	at := f.node(one.part, f.without(f.of(one.failed), works), works)
	f.least[n] = at
	return at
}

// without is the sets of a that hold no set of b.
func (f *family) without(a, b int32) int32 {
	switch {
	case a == noSet || b == noSet:
		return a
	case b == emptySet || a == b:
		return noSet
	}
	key := [2]int32{a, b}
	if at, ok := f.cut[key]; ok {
		return at
	}
	if f.full() {
		return noSet
	}
	la, lb := f.levelOf(a), f.levelOf(b)
	na, nb := f.nodes[a], f.nodes[b]
	var at int32
	switch {
	case la > lb:
		at = f.without(a, nb.works)
	case la < lb:
		at = f.node(na.part, f.without(na.failed, b), f.without(na.works, b))
	default:
		at = f.node(na.part, f.without(f.without(na.failed, nb.failed), nb.works), f.without(na.works, nb.works))
	}
	f.cut[key] = at
	return at
}

// CutSets lists the minimal cut sets of a top, small ones first. When there are more than the limit says, all that are
// smaller than the last listed are there.
func (d *Diagram) CutSets(top Node, limit CutLimit) (Cuts, error) {
	f, root, err := d.family(top)
	if err != nil {
		return Cuts{}, err
	}
	if limit.Sets <= 0 {
		limit.Sets = 1000
	}
	// How many sets, and the sizes of the smallest and the largest.
	total, small, large := make([]float64, len(f.nodes)), make([]int, len(f.nodes)), make([]int, len(f.nodes))
	total[emptySet] = 1
	for i := int(emptySet) + 1; i < len(f.nodes); i++ {
		with, without := f.nodes[i].failed, f.nodes[i].works
		total[i] = total[with] + total[without]
		small[i], large[i] = small[with]+1, large[with]+1
		if without != noSet {
			small[i], large[i] = min(small[i], small[without]), max(large[i], large[without])
		}
	}
	out := Cuts{Total: total[root], Limit: limit, Sets: [][]int{}}
	var held []int
	var list func(n int32, left int)
	list = func(n int32, left int) {
		switch {
		case n == noSet || len(out.Sets) >= limit.Sets || left < small[n] || left > large[n]:
			return
		case n == emptySet:
			set := append([]int(nil), held...)
			sorts.By(set, func(a, b int) int { return a - b })
			out.Sets = append(out.Sets, set)
			return
		}
		held = append(held, int(f.nodes[n].part))
		list(f.nodes[n].failed, left-1)
		held = held[:len(held)-1]
		list(f.nodes[n].works, left)
	}
	for size := 0; root != noSet && size <= large[root] && (limit.Order == 0 || size <= limit.Order); size++ {
		list(root, size)
	}
	out.Whole = float64(len(out.Sets)) == out.Total
	return out, nil
}

// FussellVesely is, for each part, how much of the unavailability of a top goes through it: the probability that a minimal
// cut set with the part has failed whole, over the probability of the top. The union is exact; the sum of the cut sets that
// is often taken instead is larger. A top that never fails gives zeros. Source: Fussell 1975, Vesely 1970; IEC 61025.
func (d *Diagram) FussellVesely(top Node, u []float64) ([]float64, error) {
	out := make([]float64, len(d.s.Parts))
	p := d.Unavailable(top, u)
	if p == 0 {
		return out, nil
	}
	f, root, err := d.family(top)
	if err != nil {
		return nil, err
	}
	holds := map[int32]bool{} // parts in the family
	for _, n := range f.nodes[emptySet+1:] {
		holds[n.part] = true
	}
	// A diagram of its own: the union of some sets is another function.
	e := &Diagram{pool: newPool(d.level), s: d.s, limit: d.limit, memo: map[operation]int32{}}
	union := map[int32]int32{}
	for part := range d.s.Parts {
		if !holds[int32(part)] {
			continue
		}
		n := e.union(f, f.holding(root, int32(part), map[int32]int32{}), union)
		if e.full() || f.full() {
			return nil, fmt.Errorf("%w: %w", &words.Error{Say: words.Later("there are too many cut sets to weigh"), Try: words.Later("ask after fewer rooms or parts at once")}, ErrTooLarge)
		}
		out[part] = e.walk(nil, u)[n] / p
	}
	return out, nil
}

// holding is the sets of a family that hold a part.
func (f *family) holding(n, part int32, memo map[int32]int32) int32 {
	one := f.nodes[n]
	switch {
	case n <= emptySet || f.levelOf(n) > f.d.level[part]:
		return noSet
	case one.part == part:
		return f.node(part, one.failed, noSet)
	}
	if at, ok := memo[n]; ok {
		return at
	}
	at := f.node(one.part, f.holding(one.failed, part, memo), f.holding(one.works, part, memo))
	memo[n] = at
	return at
}

// union is when one of the sets of a family has failed whole.
func (d *Diagram) union(f *family, n int32, memo map[int32]int32) int32 {
	if n <= emptySet {
		return n
	}
	if at, ok := memo[n]; ok {
		return at
	}
	one := f.nodes[n]
	with := d.apply(false, d.node(one.part, bad, good), d.union(f, one.failed, memo))
	at := d.apply(true, with, d.union(f, one.works, memo))
	memo[n] = at
	return at
}

// RareEvents is the sum of the probabilities of all minimal cut sets: what is often taken for the exact figure, and never
// less than it.
func (d *Diagram) RareEvents(top Node, u []float64) (float64, error) {
	f, root, err := d.family(top)
	if err != nil {
		return 0, err
	}
	sum := make([]float64, len(f.nodes))
	sum[emptySet] = 1
	for i := int(emptySet) + 1; i < len(f.nodes); i++ {
		n := f.nodes[i]
		sum[i] = u[n.part]*sum[n.failed] + sum[n.works]
	}
	return sum[root], nil
}
