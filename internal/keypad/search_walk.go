package keypad

import (
	"slices"
	"strings"

	"proofbell/panel"
)

// walk finds the shortest steps by A* over the states of the dialogue: place, questions answered on the way there, answers
// in hand. When that takes too long it is the direct way, nil where there is none.
func (pl *planner) walk(t aim) []step {
	w := walker{planner: pl, aim: t, best: map[string]cost{}, limit: endless}
	w.bounds()
	from := &state{node: pl.p.Dialogue.Start, hand: Slots{}}
	direct := pl.direct(t)
	if direct != nil {
		w.limit = pl.sum(direct)
	}
	if w.rest(from) >= w.limit {
		return direct // no way can be shorter
	}
	w.push(from)
	for range mostStates {
		s := w.pop()
		if s == nil {
			return direct // everything that could be shorter was tried
		}
		if pl.states++; pl.states > mostInAll {
			break
		}
		if s.kept {
			return s.steps()
		}
		if s.g <= w.best[s.id] { // no shorter way there was found meanwhile
			w.moves(s)
		}
	}
	return direct
}

// direct answers every question in the order of the profile, by the accept key alone where the answer stands there. nil
// where it does not keep the zone as wanted.
func (pl *planner) direct(t aim) []step {
	if pl.p.Dialogue.Edits {
		return nil // it would give answers that stand there already
	}
	steps := pl.plain(t)
	hand := Slots{}
	for i := range steps {
		st := &steps[i]
		n := pl.p.Dialogue.Nodes[st.node]
		if n.Field == "" || n.Opens || st.pick != nil {
			continue
		}
		st.take = st.answer != "" && st.answer == pl.shown(t, n, hand)
		hand = pl.told(t, hand, n.Field, st.answer)
	}
	return steps
}

// Bounds of the work for one zone and for one sheet. The dialogues that come with the product need no search: their direct
// way costs no more than the estimate.
const (
	mostStates = 5_000
	mostInAll  = 50_000
)

// state is where a zone's dialogue can be.
type state struct {
	node string
	open bool
	path []string // questions and confirmations answered, oldest first
	hand Slots
	kept bool

	id     string
	g, f   cost // so far; at least in all
	before *state
	step   step
}

// name tells states apart.
func (s *state) name() string {
	var b strings.Builder
	b.WriteString(s.node)
	for _, id := range s.path {
		b.WriteString("\x01" + id)
	}
	for _, f := range panel.Fields() {
		if a, ok := s.hand[f]; ok {
			b.WriteString("\x02" + string(f) + "\x03" + a)
		}
	}
	if s.kept {
		b.WriteString("\x04")
	}
	return b.String()
}

func (s *state) steps() []step {
	var out []step
	for ; s.before != nil; s = s.before {
		out = append(out, s.step)
	}
	slices.Reverse(out)
	return out
}

type walker struct {
	*planner
	aim
	heap []*state
	best map[string]cost

	limit  cost                 // of a way that is known
	typed  map[panel.Field]cost // least cost of giving the wanted answer, where it does not stand there
	taken  map[panel.Field]cost // and of taking it, where it does
	accept map[panel.Field]bool // it may come to stand there by what is stored or by a fill
	open   cost                 // least cost of opening the zone
	keep   cost                 // and of keeping it
}

// bounds prepares the estimate of what a state costs at least from there on.
func (w *walker) bounds() {
	w.typed, w.taken, w.accept, w.open, w.keep = map[panel.Field]cost{}, map[panel.Field]cost{}, map[panel.Field]bool{}, endless, endless
	least := func(of map[panel.Field]cost, f panel.Field, c cost) {
		if old, ok := of[f]; !ok || c < old {
			of[f] = c
		}
	}
	for id, n := range w.p.Dialogue.Nodes {
		for i := range n.Picks() {
			st := step{node: id, pick: &n.Picks()[i]}
			if st.pick.Does == panel.DeedKeep {
				w.keep = min(w.keep, w.stepCost(st))
			}
			for f := range st.pick.Sets {
				least(w.typed, f, w.stepCost(st)/cost(len(st.pick.Sets)))
			}
		}
		if n.Field != "" {
			least(w.taken, n.Field, w.stepCost(step{node: id, take: true}))
		}
		switch {
		case n.Opens:
			w.open = min(w.open, w.stepCost(step{node: id, answer: w.number(n, w.zone)}))
		case n.Field == "" && keepAnswer(n) != "":
			w.keep = min(w.keep, w.stepCost(step{node: id, answer: keepAnswer(n)}))
		case n.Form == panel.FormToggle:
			least(w.typed, n.Field, 2*oneKey+onePrompt)
		case n.Field != "":
			least(w.typed, n.Field, w.stepCost(step{node: id, answer: w.want[n.Field]}))
		}
	}
	for f, a := range w.want {
		w.accept[f] = w.held(w.aim, f) == a
	}
	for _, k := range w.kinds {
		for f, a := range w.fills(k) {
			w.accept[f] = w.accept[f] || w.want[f] == a
		}
	}
}

// rest is what a state costs at least until the zone is kept. Every wanted answer has to stand in hand, and where the panel
// asks question by question each question has to be passed on the way to the end.
func (w *walker) rest(s *state) cost {
	if s.kept {
		return 0
	}
	sum := w.keep
	if !s.open {
		sum += w.open
	}
	for f, a := range w.want {
		got, given := s.hand[f]
		switch {
		case w.p.Dialogue.Edits:
			if got != a && (s.open || w.held(w.aim, f) != a) && !(w.accept[f] && !given) {
				sum += w.typed[f]
			}
		case given && got == a:
			if !w.onPath(s, f) {
				sum += w.taken[f]
			}
		case w.accept[f]:
			sum += min(w.taken[f], w.typed[f])
		default:
			sum += w.typed[f]
		}
	}
	return sum
}

func (w *walker) onPath(s *state, f panel.Field) bool {
	return slices.ContainsFunc(s.path, func(id string) bool { return w.p.Dialogue.Nodes[id].Field == f })
}

// moves puts every state behind one step.
func (w *walker) moves(s *state) {
	n := w.p.Dialogue.Nodes[s.node]
	for i := range n.Picks() {
		w.pick(s, step{node: s.node, pick: &n.Picks()[i]})
	}
	switch {
	case len(n.Picks()) > 0:
	case n.Opens:
		st := step{node: s.node, answer: w.number(n, w.zone)}
		next := &state{open: true, path: []string{s.node}, hand: w.opened(w.aim)}
		w.arrive(s, next, st, n.After(Slots{n.Field: st.answer}))
	case n.Field == "":
		for _, c := range n.Choices {
			st := step{node: s.node, answer: c.Answer}
			switch c.Does {
			case panel.DeedKeep:
				w.finish(s, st)
			case "":
				w.arrive(s, &state{open: s.open, path: append(slices.Clone(s.path), s.node), hand: s.hand}, st, c.Next)
			}
		}
	default:
		w.question(s, n)
	}
	switch {
	case n.Back == panel.BackLeave || s.node == w.p.Dialogue.Start:
	case n.Back == "" || n.Back == panel.BackUp:
		if len(s.path) > 0 {
			w.arrive(s, &state{open: s.open, path: s.path, hand: s.hand}, step{node: s.node, back: true}, s.path[len(s.path)-1])
		}
	default:
		w.arrive(s, &state{open: s.open, path: s.path, hand: s.hand}, step{node: s.node, back: true}, n.Back)
	}
}

func (w *walker) pick(s *state, st step) {
	switch st.pick.Does {
	case panel.DeedKeep:
		w.finish(s, st)
	case "":
		hand := s.hand
		for f, a := range st.pick.Sets {
			hand = w.told(w.aim, hand, f, a)
		}
		w.arrive(s, &state{open: s.open, path: s.path, hand: hand}, st, st.pick.Go)
	}
}

// question tries the answers that can be of use: the wanted one, and where an answer decides the way or fills others, all.
func (w *walker) question(s *state, n panel.Node) {
	shown := w.shown(w.aim, n, s.hand)
	want, wanted := w.want[n.Field]
	if shown != "" && shown != unknown && (shown == want || !wanted || w.decide[n.Field]) {
		w.answer(s, n, step{node: s.node, take: true, answer: shown})
	}
	answers := []string{want}
	if !wanted {
		answers = nil
	}
	if w.decide[n.Field] || !wanted {
		answers = append(answers, w.p.Takes(n)...)
	}
	for i, a := range answers {
		if i > 0 && a == want || a == shown && n.Form == panel.FormToggle || !takes(w.p, n, a) {
			continue
		}
		w.answer(s, n, step{node: s.node, answer: a, from: shown})
	}
}

func (w *walker) answer(s *state, n panel.Node, st step) {
	next := &state{open: s.open, path: append(slices.Clone(s.path), s.node), hand: w.told(w.aim, s.hand, n.Field, st.answer)}
	w.arrive(s, next, st, n.After(w.along(next)))
}

// along are the answers of the questions that led here.
func (w *walker) along(s *state) Slots {
	out := Slots{}
	for _, id := range s.path {
		if f := w.p.Dialogue.Nodes[id].Field; f != "" {
			if a, ok := s.hand[f]; ok {
				out[f] = a
			}
		}
	}
	return out
}

// arrive puts a state at a node. A zone that was opened is let go of at the start and where another one is opened, which
// leads nowhere.
func (w *walker) arrive(from, next *state, st step, node string) {
	n := w.p.Dialogue.Nodes[node]
	if from.open && (n.Opens || node == w.p.Dialogue.Start) {
		return
	}
	if i := slices.Index(next.path, node); i >= 0 {
		next.path = next.path[:i:i]
	}
	next.node = node
	w.add(from, next, st)
}

// finish keeps the zone when it is as wanted.
func (w *walker) finish(s *state, st step) {
	kept := s.hand
	if !w.p.Dialogue.Edits {
		kept = w.along(s)
	}
	for _, f := range panel.Fields()[1:] {
		if a, wanted := w.want[f]; kept[f] != a && (wanted || kept[f] != w.held(w.aim, f)) {
			return
		}
	}
	w.add(s, &state{node: s.node, path: s.path, hand: s.hand, kept: true}, st)
}

func (w *walker) add(from, next *state, st step) {
	c := w.stepCost(st)
	if c >= endless {
		return
	}
	next.g, next.before, next.step, next.id = from.g+c, from, st, next.name()
	if best, ok := w.best[next.id]; ok && best <= next.g {
		return
	}
	w.best[next.id] = next.g
	if next.f = next.g + w.rest(next); next.f < w.limit {
		w.push(next)
	}
}

// push and pop keep the states in a heap, the least f in front and of equals the one that has come furthest.
func (w *walker) push(s *state) {
	w.heap = append(w.heap, s)
	for i := len(w.heap) - 1; i > 0 && w.less(i, (i-1)/2); i = (i - 1) / 2 {
		w.heap[i], w.heap[(i-1)/2] = w.heap[(i-1)/2], w.heap[i]
	}
}

func (w *walker) pop() *state {
	if len(w.heap) == 0 {
		return nil
	}
	top, last := w.heap[0], len(w.heap)-1
	w.heap[0], w.heap = w.heap[last], w.heap[:last]
	for i := 0; ; {
		least := i
		for _, child := range []int{2*i + 1, 2*i + 2} {
			if child < last && w.less(child, least) {
				least = child
			}
		}
		if least == i {
			return top
		}
		w.heap[i], w.heap[least] = w.heap[least], w.heap[i]
		i = least
	}
}

func (w *walker) less(i, j int) bool {
	a, b := w.heap[i], w.heap[j]
	return a.f < b.f || a.f == b.f && a.g > b.g
}
