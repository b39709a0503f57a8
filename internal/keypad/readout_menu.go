package keypad

import (
	"fmt"
	"maps"
	"slices"

	"proofbell/internal/words"
	"proofbell/panel"
)

// drawers reads a panel that asks nothing: each prompt and each menu is gone to, looked at and left again.
func (r *reader) drawers() bool {
	root := r.node
	sum := pickThat(r.at(), panel.DeedSum)
	total := ""
	if sum != nil {
		r.push(r.pickKeys(*sum)...)
		var ok bool
		if total, ok = r.sum(*sum); !ok {
			return false
		}
		if r.opt.Kept && r.opt.Plan != nil && !r.opt.Full && !r.life() && total == fmt.Sprintf("%03d", r.opt.Plan.Sum()) {
			r.slots, r.out.BySum = maps.Clone(r.opt.Plan), true
			r.out.Notes = append(r.out.Notes, r.lang.Say("The sum is that of what was keyed here, and that is what is planned: the zone is taken so without looking at each answer. Two mistakes can hide each other."))
			return true
		}
	}
	var silent []panel.Field // words of which nothing stands there
	for _, t := range r.menus.targets(r.p, root) {
		if len(t.fields) > 0 {
			if !r.mark(t.node, t.fields, nil) {
				return false
			}
			continue
		}
		if !r.goTo(t.node) {
			return false
		}
		n := r.at()
		a, none, ok := r.answer()
		switch {
		case !ok:
			return false
		case none && n.Form == panel.FormWords:
			silent = append(silent, n.Field)
		case !none:
			r.slots[n.Field] = a
		}
	}
	if len(r.slots) > 0 { // no words, as the panel keeps it
		for _, f := range silent {
			r.slots[f] = ""
		}
	}
	if sum != nil && total != fmt.Sprintf("%03d", r.slots.Sum()) && len(r.out.Unknown) == 0 {
		r.out.Notes = append(r.out.Notes, r.lang.Say("The answers as read add up to %03d and the panel says %s: one of them was read wrongly. Read the zone again.", r.slots.Sum(), total))
		r.slots = nil
	}
	return true
}

// life reports whether a zone is planned here that stands for a life or a call for help, or nobody can tell: then two
// mistakes that hide each other in the sum matter, and every answer is looked at.
func (r *reader) life() bool {
	kind, ok := r.p.KindOf(r.opt.Plan[panel.FieldKind], r.opt.Plan[panel.FieldCode])
	return vital(kind) || !ok && len(r.opt.Plan) > 0
}

// sum asks for the sum that the panel shows.
func (r *reader) sum(pick panel.Pick) (total string, ok bool) {
	r.arrive(pick.Go)
	c := ReadCard{Ask: AskSum, What: r.lang.Say("sum of all answers"), Hint: r.lang.Say("Three digits, behind %s.", pick.Says), Planned: r.opt.Plan != nil}
	if c.Planned {
		c.Plan = fmt.Sprintf("%03d", r.opt.Plan.Sum())
	}
	s, ok := r.look(c)
	if !ok {
		return "", false
	}
	total, r.err = parseSum(pick.Says, s.Text)
	return total, r.err == nil
}

// mark asks which item of a menu carries the mark, and goes down where it leads to another menu than those above.
func (r *reader) mark(menu string, fields []panel.Field, above []string) bool {
	if slices.Contains(above, menu) {
		r.err = &noWay{words.Later("menu %s leads round to itself", r.p.Dialogue.Nodes[menu].Shows)}
	}
	if r.err != nil || !r.goTo(menu) {
		return false
	}
	n := r.at()
	has := func(i panel.Pick) bool { return r.menus.under(i)&bit(fields[0]) != 0 }
	c := ReadCard{Ask: AskMark, Field: fields[0], What: fields[0].Say().In(r.lang), Planned: r.opt.Plan != nil}
	c.Hint = r.lang.Say("Move with %s and %s to the line with %s in front and stop there.", r.p.Keypad.Down, r.p.Keypad.Up, r.p.Dialogue.Marks)
	for i, item := range n.Items {
		if !has(item) {
			continue
		}
		c.Options = append(c.Options, ReadOption{item.Shows, Means(r.lang, r.p, fields[0], item.Sets[fields[0]], nil)})
		if c.Planned && c.Plan == "" && r.menus.gives(r.p, item, fields[0], r.opt.Plan, map[string]bool{}) {
			c.Plan, c.Means = item.Shows, Means(r.lang, r.p, fields[0], item.Sets[fields[0]], r.opt.Plan)
			for range i {
				r.push(r.p.Keypad.Down)
			}
		}
	}
	s, ok := r.look(c)
	if !ok {
		return false
	}
	shown, known, err := parseMark(r.p, r.out.Card, s)
	if r.err = err; err != nil || shown == "" {
		return err == nil
	}
	if !known {
		r.slots[fields[0]] = shown
		r.out.Unknown = append(r.out.Unknown, n.Shows+" "+shown)
		return true
	}
	r.item = slices.IndexFunc(n.Items, func(i panel.Pick) bool { return i.Shows == shown && has(i) })
	item := n.Items[r.item]
	if len(item.Sets) > 0 {
		maps.Copy(r.slots, item.Sets)
		return true
	}
	r.push(r.p.Keypad.Accept)
	r.arrive(item.Go)
	return r.mark(r.menus.fork(r.p, item.Go, fields[0]), fields, append(above, menu))
}

// menus are the fields, as bits in their order, that items of a node or of menus below it answer.
type menus map[string]uint32

func menusOf(p *panel.Profile) menus {
	m := menus{}
	for changed := true; changed; {
		changed = false
		for id, n := range p.Dialogue.Nodes {
			all := m[id]
			for _, i := range n.Items {
				all |= m.under(i)
			}
			changed = changed || all != m[id]
			m[id] = all
		}
	}
	return m
}

var fieldOrder = panel.Fields()

func bit(f panel.Field) uint32 { return 1 << slices.Index(fieldOrder, f) }

// under are the fields that an item answers, or those below it.
func (m menus) under(item panel.Pick) uint32 {
	var all uint32
	for f := range item.Sets {
		all |= bit(f)
	}
	if len(item.Sets) == 0 && item.Does == "" {
		all = m[item.Go]
	}
	return all
}

// gives reports whether an item, or one below it, gives the planned answer of a field and plans nothing else with it. seen
// are the menus looked through already.
func (m menus) gives(p *panel.Profile, item panel.Pick, f panel.Field, plan Slots, seen map[string]bool) bool {
	if m.under(item)&bit(f) == 0 || len(item.Sets) == 0 && seen[item.Go] {
		return false
	}
	for g, a := range item.Sets {
		if plan[g] != a {
			return false
		}
	}
	if len(item.Sets) > 0 {
		return true
	}
	seen[item.Go] = true
	return slices.ContainsFunc(p.Dialogue.Nodes[item.Go].Items, func(i panel.Pick) bool { return m.gives(p, i, f, plan, seen) })
}

// round reports whether items that answer a field lead from a menu back to one above.
func (m menus) round(p *panel.Profile, menu string, f panel.Field) bool {
	seen := map[string]int{} // 1 above, 2 done
	var visit func(id string) bool
	visit = func(id string) bool {
		if seen[id] > 0 {
			return seen[id] == 1
		}
		seen[id] = 1
		for _, i := range p.Dialogue.Nodes[id].Items {
			if len(i.Sets) == 0 && m.under(i)&bit(f) != 0 && visit(i.Go) {
				return true
			}
		}
		seen[id] = 2
		return false
	}
	return visit(menu)
}

// fork is the first menu from here on in which the answers of a field part.
func (m menus) fork(p *panel.Profile, node string, f panel.Field) string {
	for range longest {
		ways := slices.DeleteFunc(slices.Clone(p.Dialogue.Nodes[node].Items), func(i panel.Pick) bool { return m.under(i)&bit(f) == 0 })
		if len(ways) != 1 || len(ways[0].Sets) > 0 {
			break
		}
		node = ways[0].Go
	}
	return node
}

// target is a prompt that shows an answer, or a menu whose items give the answers of some fields.
type target struct {
	node   string
	fields []panel.Field
}

// targets lists what is to be looked at in an opened zone, in the order of the menus, each field once.
func (m menus) targets(p *panel.Profile, root string) []target {
	var out []target
	asked := map[panel.Field]string{} // field -> node that is taken for it
	for id, n := range p.Dialogue.Nodes {
		if before := asked[n.Field]; n.Field != "" && !n.Opens && n.Form != "" {
			if b := p.Dialogue.Nodes[before]; before == "" || b.Listen != nil && n.Listen == nil || (b.Listen != nil) == (n.Listen != nil) && id < before {
				asked[n.Field] = id
			}
		}
	}
	seen, taken := map[string]bool{}, map[panel.Field]bool{}
	var walk func(id string)
	walk = func(id string) {
		if seen[id] || id == p.Dialogue.Start || p.Dialogue.Nodes[id].Opens {
			return
		}
		seen[id] = true
		n := p.Dialogue.Nodes[id]
		if n.Field != "" && asked[n.Field] == id && !taken[n.Field] {
			taken[n.Field] = true
			out = append(out, target{node: id})
		}
		for _, i := range n.Picks() {
			for _, f := range fieldOrder {
				if _, typed := asked[f]; typed || taken[f] || m.under(i)&bit(f) == 0 {
					continue
				}
				if m.fork(p, id, f) == id {
					fields := []panel.Field{f}
					taken[f] = true
					for g := range i.Sets { // what one item gives together is read together
						if g != f {
							taken[g], fields = true, append(fields, g)
						}
					}
					out = append(out, target{node: id, fields: fields})
				}
			}
			if i.Does == "" && len(i.Sets) == 0 {
				walk(i.Go)
			}
		}
	}
	walk(root)
	return out
}

// pickKeys are the keys that choose a key or an item of the node in sight.
func (r *reader) pickKeys(pick panel.Pick) []string {
	if pick.Key != "" {
		return []string{pick.Key}
	}
	to := slices.IndexFunc(r.at().Items, func(i panel.Pick) bool { return i.Shows == pick.Shows })
	return append(r.moves(r.item, to), r.p.Keypad.Accept)
}

func (r *reader) moves(from, to int) []string {
	key, n := r.p.Keypad.Down, to-from
	if n < 0 {
		key, n = r.p.Keypad.Up, -n
	}
	return slices.Repeat([]string{key}, n)
}

// goTo presses the fewest keys that lead to a node without answering or keeping anything. It reports whether there are any.
func (r *reader) goTo(node string) bool {
	type way struct {
		cost int
		from string
		keys [][]string // grouped
	}
	best := map[string]way{r.node: {}}
	open := []string{r.node}
	for len(open) > 0 {
		i := 0
		for k := range open {
			if best[open[k]].cost < best[open[i]].cost {
				i = k
			}
		}
		id := open[i]
		open = slices.Delete(open, i, i+1)
		if id == node {
			break
		}
		n := r.p.Dialogue.Nodes[id]
		reach := func(to string, keys ...[]string) {
			cost := best[id].cost
			for _, group := range keys {
				cost += len(group)
			}
			if known, ok := best[to]; to != "" && (!ok || cost < known.cost) {
				best[to] = way{cost, id, keys}
				open = append(open, to)
			}
		}
		at := 0
		if id == r.node {
			at = r.item
		}
		for k, pick := range n.Picks() {
			switch {
			case pick.Does != "" || len(pick.Sets) > 0:
			case pick.Key != "":
				reach(pick.Go, []string{pick.Key})
			default:
				var groups [][]string
				for _, key := range r.moves(at, k) {
					groups = append(groups, []string{key})
				}
				reach(pick.Go, append(groups, []string{r.p.Keypad.Accept})...)
			}
		}
		if to := r.p.Dialogue.Nodes[n.Back]; to.Shows != "" && n.Back != r.p.Dialogue.Start && !to.Opens { // there the zone is let go of
			reach(n.Back, []string{r.p.Keypad.Back})
		}
	}
	var groups [][]string
	for id := node; id != r.node; id = best[id].from {
		if _, ok := best[id]; !ok {
			r.err = &noWay{words.Later("no key leads to %s without answering", r.p.Dialogue.Nodes[node].Shows)}
			return false
		}
		groups = slices.Concat(best[id].keys, groups)
	}
	if node != r.node {
		for _, g := range groups {
			r.push(g...)
		}
		r.arrive(node)
	}
	return true
}
