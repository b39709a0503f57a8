package electrical

import (
	"fmt"
	"math"

	"proofbell/internal/words"
	"proofbell/quantity"
)

// Part is one place of a wired circuit: a device, or a joint where the cable branches.
type Part struct {
	Name    string          // for errors
	From    int             // index of the part that its cable comes from; -1: the supply
	Ohm     quantity.Ohm    // of that cable, out and back; 0: the same terminals
	Current quantity.Ampere // drawn whatever the voltage; taken at the least voltage, where it is largest
	Power   quantity.Watt   // drawn whatever the voltage: switching supplies, cameras, strobes
	Least   quantity.Volt   // the device works down to here; 0: not known, or no device
}

// Feed is a supply and what hangs on it: a tree, or a ring with branches when it comes back to the supply (class A).
type Feed struct {
	Volt    quantity.Volt // of the supply at its worst
	Inner   quantity.Ohm  // its inner resistance; 0: Volt is what stands at its terminals whatever is drawn
	Parts   []Part
	Back    int          // index of the part from which the ring goes back to the supply; -1: no ring
	BackOhm quantity.Ohm // of that way, out and back
}

// Flow is what flows in a feed, exact within the arithmetic. Where Served is less than 1, no voltages exist at which all
// is drawn: the other figures are then those of the share that can be carried.
type Flow struct {
	Terminals float64   // V at the supply
	Volts     []float64 // V at each part
	Amps      []float64 // A in the cable of each part, counted away from the supply; negative in a ring: the other way
	Back      float64   // A from the supply into the ring's way back
	Total     float64   // A from the supply
	Loss      float64   // W in the cables
	Served    float64   // largest share of all draws that can be carried, at most 1
	Stuck     int       // index of the part that the voltage falls away from; -1: none
}

// MaxParts keeps a circuit, and the time that it takes, within bounds.
const MaxParts = 2000

// whole is the ring without a break; any other number is the part whose cable is cut, len(Parts) the way back.
const whole = -1

// Solve finds the voltages and currents of a feed by its nodal equations:
//
//	sum over the cables at a part of (V - V_other)/R + I + P/V = 0
//
// With power drawn there are two solutions or none. Newton's method from the voltage without load comes down to the
// upper one, at which devices start and stay: loads are convex and the Jacobian is an M-matrix there, so that no step
// passes it, and a pivot that is not positive proves that there is none.
func Solve(f Feed) (Flow, error) {
	if err := f.check(); err != nil {
		return Flow{}, err
	}
	return f.flow(whole), nil
}

// Break is Solve for a ring that is cut in one place: in the cable of a part on the way from the supply to Back, or, with
// len(Parts), in the way back. The error says that the feed is no ring or the part not on it.
func Break(f Feed, cut int) (Flow, error) {
	if err := f.check(); err != nil {
		return Flow{}, err
	}
	for _, on := range f.Ring() {
		if on == cut {
			return f.flow(cut), nil
		}
	}
	return Flow{}, fmt.Errorf("%w: %w", &words.Error{Say: words.Later("the ring has no cable %d that could break", cut)}, ErrInput)
}

// Ring lists the cables of the ring from the supply round: indices of parts, and len(Parts) for the way back; nil: no ring.
func (f Feed) Ring() []int {
	if f.Back < 0 {
		return nil
	}
	ring := []int{len(f.Parts)}
	for i := f.Back; i >= 0; i = f.Parts[i].From {
		ring = append(ring, i)
	}
	for i, j := 0, len(ring)-1; i < j; i, j = i+1, j-1 {
		ring[i], ring[j] = ring[j], ring[i]
	}
	return ring
}

// EndOfLine is the rule of thumb beside it: all the current at the end of the longest way,
//
//	V = V_supply - sum(I) R_farthest
//
// with powers as the current that they draw at the least voltage. It asks for more cable than is needed, never for less,
// as long as all voltages stay above the least ones. A ring counts as fed from its beginning only.
func EndOfLine(f Feed) (quantity.Volt, error) {
	if err := f.check(); err != nil {
		return 0, err
	}
	amps, far := 0.0, 0.0
	for i, p := range f.Parts {
		amps += float64(p.Current)
		if p.Power > 0 {
			at := float64(p.Least)
			if at == 0 {
				at = float64(f.Volt)
			}
			amps += float64(p.Power) / at
		}
		way := 0.0
		for at := i; at >= 0; at = f.Parts[at].From {
			way += float64(f.Parts[at].Ohm)
		}
		far = math.Max(far, way)
	}
	return quantity.Volt(float64(f.Volt) - amps*(far+float64(f.Inner))), nil
}

func (f Feed) check() error {
	if err := within(words.Mark("supply voltage"), float64(f.Volt), 0.1, 1000); err != nil {
		return err
	}
	if err := within(words.Mark("inner resistance of the supply"), float64(f.Inner), 0, 1e6); err != nil {
		return err
	}
	n := len(f.Parts)
	if n == 0 || n > MaxParts || f.Back >= n {
		return fmt.Errorf("%w: %w", &words.Error{Say: words.Later("a circuit has 1 to %d parts, and its ring comes back from one of them", MaxParts)}, ErrInput)
	}
	if f.Back >= 0 {
		if err := within(words.Mark("resistance of the way back"), float64(f.BackOhm), 0, 1e6); err != nil {
			return err
		}
	}
	for _, p := range f.Parts {
		for _, in := range []struct {
			name  string
			value float64
			top   float64
		}{
			{words.Mark("resistance of the cable"), float64(p.Ohm), 1e6},
			{words.Mark("current"), float64(p.Current), 1000},
			{words.Mark("power drawn"), float64(p.Power), 1e5},
			{words.Mark("least voltage"), float64(p.Least), 1000},
		} {
			if err := within(in.name, in.value, 0, in.top); err != nil {
				return fmt.Errorf("%w: %w", &words.Error{Say: words.Later("%s: %s", p.Name, words.Said(err))}, ErrInput)
			}
		}
	}
	seen := make([]int, n) // the walk on which a part was first met
	for i := range f.Parts {
		for at := i; at >= 0 && seen[at] == 0; at = f.Parts[at].From {
			seen[at] = i + 1
			if from := f.Parts[at].From; from < -1 || from >= n || from >= 0 && seen[from] == i+1 {
				return fmt.Errorf("%w: %w", &words.Error{Say: words.Later("%s is not joined to the supply", f.Parts[at].Name), Try: words.Later("name the part that its cable comes from")}, ErrInput)
			}
		}
	}
	return nil
}

// flow solves with all that is drawn or, where that does not exist, with the largest share of it.
func (f Feed) flow(cut int) Flow {
	n := newNet(f, cut)
	if n.solve(1) {
		return n.read(f, cut, 1, -1)
	}
	low, high := 0.0, 1.0
	for range 50 {
		half := (low + high) / 2
		if n.solve(half) {
			low = half
		} else {
			high = half
		}
	}
	low *= 1 - 1e-9 // a little inside, where the matrix can still be solved
	n.solve(low)
	return n.read(f, cut, low, n.stuck(f, low))
}

// net is a feed as conductances between points. Parts that are joined without resistance are one point; the supply is
// none of them, so that a ring, too, is a tree without it.
type net struct {
	volt, inner   float64
	point         []int // of each part; -1: the supply's terminals
	parent        []int // of each point; -1: none. Children stand after their parents
	up            []float64
	toSupply      []float64 // conductance from a point to the terminals
	current       []float64
	power         []float64
	v             []float64
	vt            float64
	pivot, rhs, w []float64
}

func newNet(f Feed, cut int) *net {
	parts := len(f.Parts)
	// Points: the representatives of parts joined by cables without resistance; the supply is number parts.
	same := make([]int, parts+1)
	for i := range same {
		same[i] = i
	}
	find := func(i int) int {
		for same[i] != i {
			same[i] = same[same[i]]
			i = same[i]
		}
		return i
	}
	type cable struct {
		a, b int
		g    float64
	}
	var cables []cable
	add := func(index, a, b int, ohm float64) {
		switch {
		case index == cut:
		case ohm == 0:
			x, y := find(a), find(b)
			same[min(x, y)] = max(x, y) // the supply has the largest number, and stays itself
		default:
			cables = append(cables, cable{a, b, 1 / ohm})
		}
	}
	for i, p := range f.Parts {
		from := p.From
		if from < 0 {
			from = parts
		}
		add(i, from, i, float64(p.Ohm))
	}
	if f.Back >= 0 {
		add(parts, parts, f.Back, float64(f.BackOhm))
	}
	beside := make([][]cable, parts+1)
	for _, c := range cables {
		a, b := find(c.a), find(c.b)
		if a == b {
			continue
		}
		beside[a] = append(beside[a], cable{a, b, c.g})
		beside[b] = append(beside[b], cable{b, a, c.g})
	}
	n := &net{volt: float64(f.Volt), inner: float64(f.Inner), point: make([]int, parts)}
	supply := find(parts)
	number := make([]int, parts+1)
	for i := range number {
		number[i] = -1
	}
	visit := func(root int) {
		number[root] = len(n.parent)
		n.parent, n.up, n.toSupply = append(n.parent, -1), append(n.up, 0), append(n.toSupply, 0)
		queue := []int{root}
		for len(queue) > 0 {
			at := queue[0]
			queue = queue[1:]
			for _, c := range beside[at] {
				switch {
				case c.b == supply:
					n.toSupply[number[at]] += c.g
				case number[c.b] < 0:
					number[c.b] = len(n.parent)
					n.parent, n.up, n.toSupply = append(n.parent, number[at]), append(n.up, c.g), append(n.toSupply, 0)
					queue = append(queue, c.b)
				}
			}
		}
	}
	for i := range f.Parts {
		if at := find(i); at != supply && number[at] < 0 {
			visit(at)
		}
	}
	points := len(n.parent)
	n.current, n.power = make([]float64, points+1), make([]float64, points+1) // the last: at the terminals themselves
	for i, p := range f.Parts {
		at := find(i)
		n.point[i] = number[at]
		if at == supply {
			n.point[i] = -1
		}
		k := n.point[i]
		if k < 0 {
			k = points
		}
		n.current[k] += float64(p.Current)
		n.power[k] += float64(p.Power)
	}
	n.v, n.pivot, n.rhs, n.w = make([]float64, points), make([]float64, points), make([]float64, points), make([]float64, points)
	return n
}

// solve finds the voltages with a share of all draws; false: there are none above zero.
func (n *net) solve(share float64) bool {
	n.vt = n.volt
	for i := range n.v {
		n.v[i] = n.volt
	}
	before := math.Inf(1)
	for range 200 {
		moved, ok := n.newton(share)
		if !ok {
			return false
		}
		// Where it can not be told from rounding it has arrived; on the edge of what can be carried each step is half the last.
		if moved <= 1e-14*n.volt || moved <= 1e-9*n.volt && moved > 0.7*before {
			return true
		}
		before = moved
	}
	return false
}

// newton makes one step and returns how far the voltages moved.
func (n *net) newton(share float64) (moved float64, ok bool) {
	for i, v := range n.v {
		p := share * n.power[i]
		n.rhs[i] = -share*n.current[i] - 2*p/v
		n.pivot[i] = n.toSupply[i] - p/(v*v)
		n.w[i] = n.toSupply[i]
	}
	if !n.eliminate() {
		return 0, false
	}
	vt := n.volt
	if last := len(n.v); n.inner > 0 {
		// (volt - vt)/inner = what goes into the circuit + what is drawn at the terminals
		p := share * n.power[last]
		a, b := 1/n.inner-p/(n.vt*n.vt), n.volt/n.inner-share*n.current[last]-2*p/n.vt
		for i, g := range n.toSupply {
			a += g * (1 - n.w[i])
			b += g * n.rhs[i]
		}
		if !(a > 0) {
			return 0, false
		}
		vt = b / a
	}
	if !(vt > 0) {
		return 0, false
	}
	moved = math.Abs(vt - n.vt)
	n.vt = vt
	for i, before := range n.v {
		n.v[i] = n.rhs[i] + n.w[i]*vt
		if !(n.v[i] > 0) {
			return 0, false
		}
		moved = math.Max(moved, math.Abs(n.v[i]-before))
	}
	return moved, true
}

// eliminate solves (G + D) x = rhs and (G + D) y = w in place, with what stands on the diagonal beside the cables between
// points in pivot. Children come first, so that nothing is filled in; a branch is joined in series and in parallel as
// conductances, never as a difference of large numbers. false: a pivot is not positive.
func (n *net) eliminate() bool {
	for i := len(n.v) - 1; i >= 0; i-- {
		own := n.pivot[i]
		n.pivot[i] += n.up[i]
		if !(n.pivot[i] > 0) {
			return false
		}
		if p := n.parent[i]; p >= 0 {
			k := n.up[i] / n.pivot[i]
			n.pivot[p] += k * own
			n.rhs[p] += k * n.rhs[i]
			n.w[p] += k * n.w[i]
		}
	}
	for i := range n.v {
		if p := n.parent[i]; p >= 0 {
			n.rhs[i] += n.up[i] * n.rhs[p]
			n.w[i] += n.up[i] * n.w[p]
		}
		n.rhs[i] /= n.pivot[i]
		n.w[i] /= n.pivot[i]
	}
	return true
}

// read takes the solution apart into the parts and cables of the feed.
func (n *net) read(f Feed, cut int, share float64, stuck int) Flow {
	out := Flow{Terminals: n.vt, Volts: make([]float64, len(f.Parts)), Amps: make([]float64, len(f.Parts)), Served: share, Stuck: stuck}
	beyond := make([]float64, len(f.Parts)) // drawn at a part
	for i, p := range f.Parts {
		v := n.vt
		if k := n.point[i]; k >= 0 {
			v = n.v[k]
		}
		out.Volts[i] = v
		beyond[i] = share * (float64(p.Current) + float64(p.Power)/v)
		out.Total += beyond[i]
	}
	// Currents follow from what is drawn beyond a cable: differences of nearly equal voltages would lose digits.
	if f.Back >= 0 && cut != len(f.Parts) {
		out.Back = f.wayBack(cut, beyond)
		beyond[f.Back] -= out.Back
		out.Loss += out.Back * out.Back * float64(f.BackOhm)
	}
	for _, i := range f.fromFar() {
		out.Amps[i] = beyond[i]
		if i == cut {
			out.Amps[i] = 0
		}
		if from := f.Parts[i].From; from >= 0 {
			beyond[from] += out.Amps[i]
		}
		out.Loss += out.Amps[i] * out.Amps[i] * float64(f.Parts[i].Ohm)
	}
	return out
}

// wayBack is the current of the ring's last cable: the ring's voltages add up to zero,
//
//	sum over the cables from the supply to Back of R (beyond - x) = R_back x
//
// and with one of them cut it is all that is drawn on its side.
func (f Feed) wayBack(cut int, beyond []float64) float64 {
	sum := append([]float64(nil), beyond...)
	for _, i := range f.fromFar() {
		if from := f.Parts[i].From; from >= 0 {
			sum[from] += sum[i]
		}
	}
	over, under := 0.0, float64(f.BackOhm)
	for i := f.Back; i >= 0; i = f.Parts[i].From {
		if i == cut {
			return sum[i]
		}
		over += float64(f.Parts[i].Ohm) * sum[i]
		under += float64(f.Parts[i].Ohm)
	}
	if under == 0 { // all at the terminals: any current does
		return 0
	}
	return over / under
}

// fromFar lists the parts so that each stands before the one that its cable comes from.
func (f Feed) fromFar() []int {
	children := make([]int, len(f.Parts))
	for _, p := range f.Parts {
		if p.From >= 0 {
			children[p.From]++
		}
	}
	order := make([]int, 0, len(f.Parts))
	for i := range f.Parts {
		if children[i] == 0 {
			order = append(order, i)
		}
	}
	for k := 0; k < len(order); k++ {
		if from := f.Parts[order[k]].From; from >= 0 {
			if children[from]--; children[from] == 0 {
				order = append(order, from)
			}
		}
	}
	return order
}

// stuck names the part from which the voltage falls away when a little more is drawn: the lowest one where cables alone
// eat the voltage up, else the part drawing power whose voltage falls fastest.
func (n *net) stuck(f Feed, share float64) int {
	lowest := -1
	for i, p := range f.Parts {
		if k := n.point[i]; k >= 0 && (p.Current > 0 || p.Power > 0) && (lowest < 0 || n.v[k] < n.v[n.point[lowest]]) {
			lowest = i
		}
	}
	if lowest < 0 || n.v[n.point[lowest]] < 1e-3*n.volt {
		return lowest
	}
	for i, v := range n.v {
		n.rhs[i] = n.current[i] + n.power[i]/v
		n.pivot[i] = n.toSupply[i] - share*n.power[i]/(v*v)
		n.w[i] = 0
	}
	if !n.eliminate() {
		return lowest
	}
	fastest := lowest
	for i, p := range f.Parts {
		if k := n.point[i]; k >= 0 && p.Power > 0 && (f.Parts[fastest].Power == 0 || n.rhs[k] > n.rhs[n.point[fastest]]) {
			fastest = i
		}
	}
	return fastest
}
