package papers

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"proofbell/internal/words"
)

func parseTime(text string) (time.Time, error) { return time.Parse(time.RFC3339, text) }

// Change is one difference between two issues of a document.
type Change struct {
	Where  string `json:"where"`  // "Zone 12, label"
	Before string `json:"before"` // "" it was not there
	After  string `json:"after"`  // "" it is gone
	say    string
}

func (c Change) String() string { return c.say }

// Changes lists what a later issue says otherwise than the one before, in the order of the later one. What a document says
// about its own issue (date, changes, signatures) is left out.
func Changes(l *words.Language, before, after Paper) []Change {
	var out []Change
	add := func(where, was, is string) {
		c := Change{Where: where, Before: was, After: is}
		switch {
		case was == is:
			return
		case was == "":
			c.say = l.Say("%s: new: %s", where, is)
		case is == "":
			c.say = l.Say("%s: no longer: %s", where, was)
		default:
			c.say = l.Say("%s: %s, before: %s", where, is, was)
		}
		out = append(out, c)
	}
	older := map[string]Section{}
	for _, s := range before.Sections {
		older[s.ID] = s
	}
	for _, s := range after.Sections {
		was, known := older[s.ID]
		delete(older, s.ID)
		if s.Own {
			continue
		}
		pairs(was.Pairs, s.Pairs, add)
		pairs(given(was), given(s), add)
		steps(s.Title, was.Steps, s.Steps, add)
		rows(l, was.Table, s.Table, add)
		if !known || len(was.Findings) > 0 || len(s.Findings) > 0 {
			found(was.Findings, s.Findings, add)
		}
	}
	for _, s := range before.Sections {
		if _, gone := older[s.ID]; gone && !s.Own {
			pairs(s.Pairs, nil, add)
			pairs(given(s), nil, add)
			rows(l, s.Table, nil, add)
			found(s.Findings, nil, add)
		}
	}
	return out
}

// numbered tells things apart that bear one name.
func numbered(seen map[string]int, name string) string {
	seen[name]++
	if n := seen[name]; n > 1 {
		return fmt.Sprintf("%s (%d)", name, n)
	}
	return name
}

func pairs(before, after []Pair, add func(where, was, is string)) {
	was, seen := map[string]string{}, map[string]int{}
	for _, p := range before {
		was[numbered(seen, p.Name)] = p.Value
	}
	seen = map[string]int{}
	for _, p := range after {
		name := numbered(seen, p.Name)
		add(name, was[name], p.Value)
		delete(was, name)
	}
	seen = map[string]int{}
	for _, p := range before {
		name := numbered(seen, p.Name)
		add(name, was[name], "")
	}
}

// steps compares sentences as a set: one that was rewritten is the new one.
func steps(title string, before, after []string, add func(where, was, is string)) {
	for _, s := range after {
		if !slices.Contains(before, s) && before != nil {
			add(title, "", s)
		}
	}
	for _, s := range before {
		if !slices.Contains(after, s) && after != nil {
			add(title, s, "")
		}
	}
}

func rows(l *words.Language, before, after *Table, add func(where, was, is string)) {
	if before == nil {
		before = &Table{}
	}
	if after == nil {
		after = &Table{Head: before.Head, Key: before.Key}
	}
	if len(after.Head) == 0 {
		return
	}
	key := func(row []string) string { return join(" ", after.Head[after.Key], cmp.Or(row[after.Key], row[0])) }
	cell := func(row []string, i int) string {
		if i < len(row) {
			return row[i]
		}
		return ""
	}
	whole := func(row []string) string {
		return cmp.Or(cmp.Or(join(", ", slices.Delete(slices.Clone(row), after.Key, after.Key+1)...), row[after.Key]), "–")
	}
	was, seen := map[string][]string{}, map[string]int{}
	for _, row := range before.Rows {
		was[numbered(seen, key(row))] = row
	}
	seen = map[string]int{}
	for _, row := range after.Rows {
		name := numbered(seen, key(row))
		old, known := was[name]
		delete(was, name)
		if !known {
			add(name, "", whole(row))
			continue
		}
		for i := range after.Head {
			if i != after.Key && cell(old, i) != cell(row, i) {
				where := name + ", " + after.Head[i]
				add(where, cmp.Or(cell(old, i), l.Say("nothing")), cmp.Or(cell(row, i), l.Say("nothing")))
			}
		}
	}
	seen = map[string]int{}
	for _, row := range before.Rows {
		name := numbered(seen, key(row))
		if _, gone := was[name]; gone {
			add(name, whole(row), "")
		}
	}
}

func found(before, after []Finding, add func(where, was, is string)) {
	for _, f := range after {
		if !slices.Contains(before, f) {
			add(join(" ", f.Grave, f.Where), "", f.Say)
		}
	}
	for _, f := range before {
		if !slices.Contains(after, f) {
			add(join(" ", f.Grave, f.Where), f.Say, "")
		}
	}
}
