package keypad

import (
	"fmt"
	"slices"

	"proofbell/internal/sorts"
	"proofbell/panel"
)

// tours plans zones of an open dialogue: drawers and menus, where every answer can be given in any order and the way
// between two places does not depend on the answers. Then the answers to give are one question and the shortest tour
// past the places where they are given another. nil where a dialogue is not like that.
type tours struct {
	*planner
	opening []step // up to the question that opens the zone
	opens   string
	entry   string // where the panel is when the zone has been opened
	nodes   []string
	index   map[string]int
	rank    map[string]int // place in the profile, each menu followed by what is below it
	dist    [][]cost       // between nodes, without giving an answer
	first   [][]step       // the first step of that way
	keeps   []step
	gives   map[panel.Field][]give
	exact   bool             // no answer is a short cut, so that the shortest tour is the shortest way
	known   map[string][]int // tours found, by the places they go past
}

// give is one step that gives an answer of a field.
type give struct {
	step  step // at a question without the answer
	value string
	to    string // where the panel is afterwards
	// hub: every way to it comes past the place where it leads to, so that it can be given whenever the tour is there.
	hub bool
}

const (
	mostNodes   = 400 // of an open dialogue
	mostChoices = 200 // rows of kinds that are tried for one zone
	mostStops   = 12  // of a tour that is not past hubs alone
)

func newTours(pl *planner) *tours {
	d := pl.p.Dialogue
	if !d.Edits || len(d.Nodes) > mostNodes {
		return nil
	}
	t := &tours{planner: pl, index: map[string]int{}, rank: map[string]int{}, gives: map[panel.Field][]give{}, known: map[string][]int{}}
	if !t.enter() || !t.survey() {
		return nil
	}
	t.follow(t.entry)
	t.measure()
	t.exact = t.hubs()
	return t
}

// enter finds the shortest way to the one question that opens a zone.
func (t *tours) enter() bool {
	d := t.p.Dialogue
	type lead struct {
		at    string
		steps []step
	}
	seen := map[string]bool{}
	for queue := []lead{{at: d.Start}}; len(queue) > 0; queue = queue[1:] {
		at := queue[0]
		n := d.Nodes[at.at]
		if seen[at.at] {
			continue
		}
		seen[at.at] = true
		if n.Opens {
			if t.opens != "" || len(n.Next) != 1 {
				return false
			}
			t.opens, t.opening, t.entry = at.at, at.steps, n.Next[0].Go
			continue
		}
		if len(n.Picks()) > 1 { // more than one way: which is shortest is for the walk to find
			return false
		}
		for i := range n.Picks() {
			queue = append(queue, lead{n.Picks()[i].Go, append(slices.Clone(at.steps), step{node: at.at, pick: &n.Picks()[i]})})
		}
	}
	return t.opens != ""
}

// survey finds the places of an opened zone and where answers are given. false: the way depends on answers.
func (t *tours) survey() bool {
	d := t.p.Dialogue
	add := func(id string) {
		if _, ok := t.index[id]; !ok && id != d.Start {
			t.index[id] = len(t.nodes)
			t.nodes = append(t.nodes, id)
		}
	}
	add(t.entry)
	for i := 0; i < len(t.nodes); i++ {
		id := t.nodes[i]
		n := d.Nodes[id]
		if n.Opens || n.Back == "" || n.Back == panel.BackUp || n.Back == panel.BackLeave || len(n.Next) > 1 {
			return false
		}
		add(n.Back)
		for k := range n.Picks() {
			pick := &n.Picks()[k]
			st := step{node: id, pick: pick}
			switch {
			case pick.Does == panel.DeedKeep:
				t.keeps = append(t.keeps, st)
			case pick.Does != "":
			case len(pick.Sets) > 1:
				return false
			default:
				add(pick.Go)
				for f, a := range pick.Sets {
					t.gives[f] = append(t.gives[f], give{step: st, value: a, to: pick.Go})
				}
			}
		}
		switch {
		case len(n.Picks()) > 0:
		case n.Field == "" || n.Form == panel.FormToggle && len(t.kinds) > 0:
			return false
		default:
			add(n.Next[0].Go)
			t.gives[n.Field] = append(t.gives[n.Field], give{step: step{node: id}, to: n.Next[0].Go})
		}
	}
	return len(t.keeps) > 0
}

// follow ranks a node and what is below it.
func (t *tours) follow(id string) {
	if _, seen := t.rank[id]; seen {
		return
	}
	t.rank[id] = len(t.rank)
	for _, k := range t.p.Dialogue.Nodes[id].Picks() {
		t.follow(k.Go)
	}
}

// measure finds the shortest ways between all places by keys that give no answer and do not let go of the zone.
func (t *tours) measure() {
	n := len(t.nodes)
	for range n {
		t.dist, t.first = append(t.dist, make([]cost, n)), append(t.first, make([]step, n))
	}
	for i, id := range t.nodes {
		for j := range n {
			t.dist[i][j] = endless
		}
		t.dist[i][i] = 0
		at := t.p.Dialogue.Nodes[id]
		direct := func(to string, st step) {
			if j, ok := t.index[to]; ok && i != j && t.stepCost(st) < t.dist[i][j] {
				t.dist[i][j], t.first[i][j] = t.stepCost(st), st
			}
		}
		for k := range at.Picks() {
			if pick := &at.Picks()[k]; pick.Does == "" && len(pick.Sets) == 0 {
				direct(pick.Go, step{node: id, pick: pick})
			}
		}
		direct(at.Back, step{node: id, back: true})
	}
	for k := range n {
		for i := range n {
			for j := range n {
				if c := t.dist[i][k] + t.dist[k][j]; t.dist[i][k] < endless && t.dist[k][j] < endless && c < t.dist[i][j] {
					t.dist[i][j], t.first[i][j] = c, t.first[i][k]
				}
			}
		}
	}
}

func (t *tours) far(from, to string) cost { return t.dist[t.index[from]][t.index[to]] }

// hubs finds which answers are given at hubs, and reports whether giving an answer is never a short cut: then the shortest
// way gives no answer but for its own sake.
func (t *tours) hubs() bool {
	stands := map[string]bool{t.entry: true}
	for _, all := range t.gives {
		for _, g := range all {
			stands[g.to] = true
		}
	}
	exact := true
	for _, all := range t.gives {
		for i := range all {
			g := &all[i]
			from := g.step.node
			g.hub = true
			for x := range stands {
				g.hub = g.hub && t.far(x, from) == t.far(x, g.to)+t.far(g.to, from)
				exact = exact && (t.far(x, from) >= endless || t.far(x, g.to)/oneKey <= t.far(x, from)/oneKey+1)
			}
		}
	}
	return exact
}

// given is a give with the answer that is wanted there.
type given struct {
	give
	cost cost // at a hub with the way from there
}

// ways are the ways to give an answer; at one hub only the cheapest.
func (t *tours) ways(f panel.Field, answer, from string) []given {
	var out []given
	for _, g := range t.gives[f] {
		n := t.p.Dialogue.Nodes[g.step.node]
		if g.step.pick != nil && g.value != answer || g.step.pick == nil && !takes(t.p, n, answer) {
			continue
		}
		if g.step.pick == nil {
			g.step.answer, g.step.from = answer, from
		}
		w := given{g, t.stepCost(g.step)}
		if g.hub {
			w.cost += t.far(g.to, g.step.node)
		}
		if w.cost >= endless {
			continue
		}
		same := slices.IndexFunc(out, func(o given) bool { return o.hub && w.hub && o.to == w.to })
		switch {
		case same < 0:
			out = append(out, w)
		case w.cost < out[same].cost:
			out[same] = w
		}
	}
	return out
}

// plan is the shortest way of one zone, nil when this dialogue is not open or the zone can not be told.
func (t *tours) plan(z aim) []step {
	if t == nil {
		return nil
	}
	var best []step
	least := endless
	for _, kinds := range t.choices(z) {
		if all := t.answers(z, kinds); all != nil && atLeast(all) < least {
			if steps, c := t.through(all, len(kinds)); c < least {
				best, least = steps, c
			}
		}
	}
	if best == nil {
		return nil
	}
	n := t.p.Dialogue.Nodes[t.opens]
	return slices.Concat(t.opening, []step{{node: t.opens, answer: t.number(n, z.zone)}}, best)
}

// atLeast is what answers cost at least, without the ways between them.
func atLeast(all [][]given) (sum cost) {
	for _, ways := range all {
		least := ways[0].cost
		for _, w := range ways {
			least = min(least, w.cost)
		}
		sum += least
	}
	return sum
}

// choices are the kinds that it can pay to choose, one after the other: none where it is right already, the wanted one, or
// others before it for the sake of what they fill.
func (t *tours) choices(z aim) [][]string {
	want := z.want[panel.FieldKind]
	var out [][]string
	if t.held(z, panel.FieldKind) == want {
		out = append(out, nil)
	}
	if want == "" {
		return out
	}
	type row struct {
		kinds []string
		hand  Slots
	}
	for queue := []row{{nil, t.opened(z)}}; len(queue) > 0 && len(out) < mostChoices; queue = queue[1:] { // short rows first
		at := queue[0]
		out = append(out, append(slices.Clone(at.kinds), want))
		for _, k := range t.kinds {
			if k != want && t.gains(z, at.hand, k) {
				queue = append(queue, row{append(slices.Clone(at.kinds), k), t.told(z, at.hand, panel.FieldKind, k)})
			}
		}
	}
	return out
}

// gains reports whether choosing a kind puts a wanted answer where none is, and no answer that nobody wants.
func (t *tours) gains(z aim, hand Slots, kind string) bool {
	more := false
	for f, a := range t.fills(kind) {
		want, wanted := z.want[f]
		switch {
		case hand[f] != "":
		case !wanted:
			return false
		default:
			more = more || want == a
		}
	}
	return more
}

// answers are all that has to be given when these kinds are chosen. nil when one can not be given.
func (t *tours) answers(z aim, kinds []string) [][]given {
	hand := t.opened(z)
	out := [][]given{}
	for _, k := range kinds {
		w := t.ways(panel.FieldKind, k, "")
		if len(w) == 0 {
			return nil
		}
		out, hand = append(out, w), t.told(z, hand, panel.FieldKind, k)
	}
	for _, f := range panel.Fields()[1:] {
		answer, wanted := z.want[f]
		if !wanted || f == panel.FieldKind || hand[f] == answer && has(hand, f) {
			continue
		}
		from := ""
		if len(t.gives[f]) > 0 {
			from = t.shown(z, t.p.Dialogue.Nodes[t.gives[f][0].step.node], hand)
		}
		w := t.ways(f, answer, from)
		if len(w) == 0 {
			return nil
		}
		out = append(out, w)
	}
	return out
}

func has(s Slots, f panel.Field) bool { _, ok := s[f]; return ok }

// halt is one place of a tour: a hub with all that is given there, or one answer with the ways to give it.
type halt struct {
	hub   string
	gives []given // at a hub all, else one of them
	turn  int     // of a kind that has to come after another: its place among them, from 1
}

// through is the shortest tour that gives all of these answers, the first few in this order, and keeps the zone.
func (t *tours) through(all [][]given, inOrder int) ([]step, cost) {
	var stops []halt
	hubs := map[string]int{}
	for i, ways := range all {
		if i < inOrder && inOrder > 1 {
			stops = append(stops, halt{gives: ways, turn: i + 1})
			continue
		}
		if len(ways) > 1 || !ways[0].hub {
			stops = append(stops, halt{gives: ways})
			continue
		}
		at, ok := hubs[ways[0].to]
		if !ok {
			at, hubs[ways[0].to] = len(stops), len(stops)
			stops = append(stops, halt{hub: ways[0].to})
		}
		stops[at].gives = append(stops[at].gives, ways[0])
	}
	for _, s := range stops {
		if s.hub != "" { // in the order of the profile, which is that of the labels on the keypad
			sorts.Stable(s.gives, func(a, b given) int { return t.rank[a.step.node] - t.rank[b.step.node] })
		}
	}
	if len(stops) > mostStops {
		return nil, endless
	}
	sorts.Stable(stops, func(a, b halt) int { return t.place(a) - t.place(b) })
	var steps []step
	var sum cost
	at := t.entry
	visit := func(g given) {
		steps = append(t.travel(steps, at, g.step.node), g.step)
		sum += t.far(at, g.step.node) + t.stepCost(g.step)
		at = g.to
	}
	legs := legsOf(stops)
	order, ok := t.order(legs, len(stops))
	if !ok {
		return nil, endless
	}
	for _, i := range order {
		if leg := legs[i]; leg.way >= 0 {
			visit(stops[leg.stop].gives[leg.way])
		} else {
			for _, g := range stops[leg.stop].gives {
				visit(g)
			}
		}
	}
	keep, c := t.keep(at)
	return append(t.travel(steps, at, keep.node), keep), sum + c
}

// place orders stops where it makes no difference for the keys: kinds first, then as the profile has them.
func (t *tours) place(s halt) int {
	switch {
	case s.turn > 0:
		return s.turn - len(t.kinds) - 2
	case s.hub != "":
		return t.rank[s.hub]
	}
	return t.rank[s.gives[0].step.node]
}

// travel appends the steps of the shortest way.
func (t *tours) travel(steps []step, from, to string) []step {
	for from != to {
		st := t.first[t.index[from]][t.index[to]]
		steps = append(steps, st)
		if st.back {
			from = t.p.Dialogue.Nodes[st.node].Back
		} else {
			from = st.pick.Go
		}
	}
	return steps
}

// keep is the shortest way to keep the zone.
func (t *tours) keep(at string) (best step, least cost) {
	least = endless
	for _, k := range t.keeps {
		if c := t.far(at, k.node) + t.stepCost(k); c < least {
			best, least = k, c
		}
	}
	return best, least
}

// leg is one way to pass a stop: of a hub (way -1) the hub itself.
type leg struct {
	stop, way int
	in, out   string
	cost      cost
	before    int // the stops that have to be passed before it, as a set
}

func legsOf(stops []halt) []leg {
	var out []leg
	for i, s := range stops {
		before := 0
		for k, other := range stops {
			if other.turn > 0 && other.turn < s.turn {
				before |= 1 << k
			}
		}
		if s.hub != "" {
			out = append(out, leg{stop: i, way: -1, in: s.hub, out: s.hub})
			continue
		}
		for k, g := range s.gives {
			l := leg{i, k, g.step.node, g.to, g.cost, before}
			if g.hub {
				l.in = g.to
			}
			out = append(out, l)
		}
	}
	return out
}

// order is the order of legs in which the tour from the entry past every stop to the keep is shortest, by the method of
// Held and Karp (1962): the cheapest completion of every set of stops passed, from each place. Tours past the same places
// are found once. ok is false when there is none.
func (t *tours) order(legs []leg, stops int) (order []int, ok bool) {
	name := ""
	for _, l := range legs {
		name += fmt.Sprintf("%d %s %s %d %d,", l.stop, l.in, l.out, l.cost, l.before)
	}
	if found, ok := t.known[name]; ok {
		return found, found != nil
	}
	type completion struct {
		cost cost
		next int // leg; -1: keep
	}
	table := make([]completion, (len(legs)+1)<<stops)
	at := func(passed, last int) *completion { return &table[passed*(len(legs)+1)+last] }
	for passed := 1<<stops - 1; passed >= 0; passed-- {
		for last := range len(legs) + 1 { // the last stands for the entry
			here := t.entry
			if last < len(legs) {
				here = legs[last].out
			}
			best := completion{endless, -1}
			if passed == 1<<stops-1 {
				_, best.cost = t.keep(here)
			}
			for i, l := range legs {
				if passed&(1<<l.stop) != 0 || passed&l.before != l.before {
					continue
				}
				way, rest := t.far(here, l.in), at(passed|1<<l.stop, i).cost
				if way < endless && rest < endless && way+l.cost+rest < best.cost {
					best = completion{way + l.cost + rest, i}
				}
			}
			*at(passed, last) = best
		}
	}
	out := []int{}
	for passed, last := 0, len(legs); passed != 1<<stops-1; {
		next := at(passed, last).next
		if next < 0 {
			out = nil
			break
		}
		out = append(out, next)
		passed, last = passed|1<<legs[next].stop, next
	}
	if len(out) == stops && at(0, len(legs)).cost >= endless {
		out = nil // nothing to go past, and the keep can not be reached
	}
	t.known[name] = out
	return out, out != nil
}
