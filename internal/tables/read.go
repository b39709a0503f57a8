package tables

import (
	"encoding/json"
	"errors"
	"reflect"
	"slices"
	"strings"

	"proofbell/internal/words"
	"proofbell/site"
)

// Edit is what tables change in a site.
type Edit struct {
	Patch json.RawMessage   `json:"patch"` // merge patch; {} when nothing differs
	Cells map[string]string `json:"cells"` // by JSON pointer of what it changes: "zones!F14"
	Notes []string          `json:"notes"` // what was left alone or read in another way
}

// Read compares tables with a site and returns what they change, as one edit. A row whose id the site does not have is a
// new thing; a row or column that is missing changes nothing; an empty cell takes the value away. The error is Faults, each
// with its cell, and then nothing is to be applied.
func Read(lang *words.Language, s *site.Site, all []Table) (Edit, error) {
	r := reader{lang: lang, things: collections(s), changes: map[string]map[string]map[string]any{}, edit: Edit{Cells: map[string]string{}, Notes: []string{}}}
	known := false
	for _, t := range all {
		if sh := sheetOf(t); sh != nil {
			known = true
			r.table(t, *sh)
		} else {
			r.note("", t, lang.Say("sheet %s is none of %s: left alone", t.Name, strings.Join(Names(), ", ")))
		}
	}
	if !known {
		r.faults = append(r.faults, Fault{Say: lang.Say("no table is one of %s", strings.Join(Names(), ", ")), Try: lang.Say("name the sheet so, or head its first column with the name of one: zone, device, room, head")})
	}
	if len(r.faults) == 0 {
		r.judge(s)
	}
	if len(r.faults) > 0 {
		return Edit{}, r.faults[:min(len(r.faults), MaxFaults)]
	}
	patch, err := json.Marshal(r.changes)
	if err != nil {
		return Edit{}, err
	}
	r.edit.Patch = patch
	return r.edit, nil
}

// sheetOf tells which table one is, by its name or else by its first heading, in any language spoken here.
func sheetOf(t Table) *sheet {
	for i, sh := range sheets {
		if spoken(t.Name, sh.name) || strings.EqualFold(t.Name, sh.collection) {
			return &sheets[i]
		}
	}
	for i, sh := range sheets {
		if len(t.Columns) > 0 && spoken(t.Columns[0], sh.id) {
			return &sheets[i]
		}
	}
	return nil
}

// spoken reports whether a word is an English one in any language.
func spoken(word, english string) bool {
	word = strings.TrimSpace(word)
	for _, tag := range words.Tags() {
		if strings.EqualFold(word, words.In(tag).Word(english)) {
			return true
		}
	}
	return false
}

type reader struct {
	lang    *words.Language
	things  map[string]map[string]map[string]any
	changes map[string]map[string]map[string]any
	edit    Edit
	faults  Faults
}

func (r *reader) note(cell string, t Table, say string) {
	if cell != "" {
		say = t.Name + "!" + cell + ": " + say
	}
	r.edit.Notes = append(r.edit.Notes, say)
}

func (r *reader) fault(t Table, cell, say, try string) {
	r.faults = append(r.faults, Fault{t.Name, cell, say, try})
}

func (r *reader) table(t Table, sh sheet) {
	columns := make([]*column, len(t.Columns))
	idAt := -1
	for i, heading := range t.Columns {
		if strings.TrimSpace(heading) == "" {
			continue
		}
		at := slices.IndexFunc(sh.columns, func(c column) bool { return spoken(heading, c.heading) })
		switch {
		case spoken(heading, sh.id):
			if idAt >= 0 {
				r.fault(t, CellName(i, 0), r.lang.Say("column %q stands there twice", heading), r.lang.Say("keep one of them"))
			}
			idAt = i
		case at < 0:
			r.note(CellName(i, 0), t, r.lang.Say("column %q is not known and was left alone", heading))
		case slices.Contains(columns, &sh.columns[at]):
			r.fault(t, CellName(i, 0), r.lang.Say("column %q stands there twice", heading), r.lang.Say("keep one of them"))
		default:
			columns[i] = &sh.columns[at]
		}
	}
	if idAt < 0 {
		r.fault(t, "A1", r.lang.Say("no column is headed %q", sh.id), r.lang.Say("the column that says which %s a line is about must be there", sh.id))
		return
	}
	seen := map[string]string{} // cell by id
	for i, row := range t.Rows {
		id := ""
		if idAt < len(row) {
			id = strings.TrimSpace(row[idAt])
		}
		if strings.TrimSpace(strings.Join(row, "")) == "" {
			continue
		}
		cell := CellName(idAt, i+1)
		id, ok := r.id(t, sh, cell, id)
		switch {
		case !ok:
		case seen[id] != "":
			r.fault(t, cell, r.lang.Say("%s %s stands in %s already", sh.id, id, seen[id]), r.lang.Say("keep one line of it"))
		default:
			seen[id] = cell
			r.row(t, sh, columns, i+1, id, row)
		}
	}
}

// id returns the id that a cell means: a spreadsheet makes 9 of 09.
func (r *reader) id(t Table, sh sheet, cell, id string) (string, bool) {
	things := r.things[sh.collection]
	switch {
	case id == "":
		r.fault(t, cell, r.lang.Say("this line does not say which %s it is about", sh.id), r.lang.Say("write its id, or empty the line"))
		return "", false
	case things[id] != nil || !digits(id):
		return id, true
	}
	width := 0
	for other := range things {
		if digits(other) {
			if bare(other) == bare(id) {
				r.note(cell, t, r.lang.Say("%s was read as %s", id, other))
				return other, true
			}
			if width == 0 {
				width = len(other)
			} else if len(other) != width {
				width = -1
			}
		}
	}
	if width > len(id) {
		r.fault(t, cell, r.lang.Say("%s is shorter than the others: did it lose a leading zero?", id), r.lang.Say("write %s into a cell of the format text", strings.Repeat("0", width-len(id))+id))
		return "", false
	}
	return id, true
}

func digits(s string) bool { return s != "" && strings.Trim(s, "0123456789") == "" }

func bare(s string) string { return strings.TrimLeft(s, "0") }

func (r *reader) row(t Table, sh sheet, columns []*column, line int, id string, row []string) {
	thing, there := r.things[sh.collection][id]
	changed := map[string]any{}
	for i, c := range columns {
		if c == nil || i >= len(row) && !there {
			continue
		}
		cell, at := "", CellName(i, line)
		if i < len(row) {
			cell = strings.TrimSpace(row[i])
		}
		before := c.write(thing[c.member])
		if cell == strings.TrimSpace(before) {
			continue
		}
		if digits(cell) && digits(before) && bare(cell) == bare(before) && c.form == text {
			r.fault(t, at, r.lang.Say("%s has lost the leading zeros of %s", cell, before), r.lang.Say("write %s into a cell of the format text", before))
			continue
		}
		v, ok := c.read(cell)
		if !ok {
			try := r.lang.Say("write yes or no")
			if c.form == number {
				try = r.lang.Say("write a whole number")
			}
			r.fault(t, at, r.lang.Say("%q does not fit %s", cell, c.heading), try)
			continue
		}
		if reflect.DeepEqual(v, thing[c.member]) {
			continue
		}
		r.edit.Cells["/"+sh.collection+"/"+site.EscapeKey(id)+"/"+c.member] = t.Name + "!" + at
		changed[c.member] = v
	}
	if len(changed) == 0 && there {
		return
	}
	if r.changes[sh.collection] == nil {
		r.changes[sh.collection] = map[string]map[string]any{}
	}
	r.changes[sh.collection][id] = changed
	if !there {
		r.edit.Cells["/"+sh.collection+"/"+site.EscapeKey(id)] = t.Name + "!" + CellName(0, line)
	}
}

// judge makes the change and has the site's own reader look at it. What it finds is said at the cell that it comes from.
func (r *reader) judge(s *site.Site) {
	before, err := json.Marshal(s)
	if err == nil {
		var patch, after []byte
		if patch, err = json.Marshal(r.changes); err == nil {
			if after, err = site.Apply(before, patch); err == nil {
				_, err = site.DecodeJSON("", after)
			}
		}
	}
	var faults site.Faults
	switch {
	case err == nil:
	case errors.As(err, &faults):
		for _, f := range faults {
			r.faults = append(r.faults, r.placed(f))
		}
	default:
		r.faults = append(r.faults, Fault{Say: words.Said(err).In(r.lang)})
	}
}

// placed finds the cell of a fault: that of its place, or of what holds it.
func (r *reader) placed(f site.Fault) Fault {
	for path := f.Path; path != ""; path = path[:strings.LastIndexByte(path, '/')] {
		if cell, ok := r.edit.Cells[path]; ok {
			name, at, _ := strings.Cut(cell, "!")
			return Fault{name, at, f.Say.In(r.lang), f.Try.In(r.lang)}
		}
	}
	return Fault{Say: f.Path + ": " + f.Say.In(r.lang), Try: f.Try.In(r.lang)}
}
