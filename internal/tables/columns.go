package tables

import (
	"encoding/json"
	"slices"
	"strconv"
	"strings"

	"proofbell/internal/words"
	"proofbell/site"
)

// form is how the value of a column is written in a cell.
type form int

const (
	text   form = iota // as it stands in the site file: words, ids, dates, typed quantities
	yesNo              // "yes", or empty
	either             // "yes", "no", or empty for not said
	list               // several, with commas between
	number             // a whole number
)

type column struct {
	heading string // in English; other languages are read as well
	member  string // of the thing in the site file
	form    form
}

// sheet is one collection of the site as a table. The first column of the table is the id.
type sheet struct {
	name       string // of the table, in English
	collection string // of the site file
	id         string // heading of the first column
	columns    []column
}

// sheets are the tables in the order in which they are written. Their columns are those of docs/format/tables.md.
var sheets = []sheet{
	{words.Mark("zones"), "zones", words.Mark("zone"), []column{
		{words.Mark("label"), "label", text},
		{words.Mark("kind"), "kind", text},
		{words.Mark("area"), "area", text},
		{words.Mark("device"), "device", text},
		{words.Mark("terminal"), "terminal", text},
		{words.Mark("station code"), "code", text},
		{words.Mark("reports by"), "paths", list},
		{words.Mark("missed after"), "lossWindow", text},
		{words.Mark("door tone"), "doorTone", yesNo},
		{words.Mark("may be left out"), "bypass", yesNo},
		{words.Mark("trip limit"), "tripLimit", either},
		{words.Mark("keyed"), "keyed", yesNo},
		{words.Mark("notes"), "notes", text},
	}},
	{words.Mark("devices"), "devices", words.Mark("device"), []column{
		{words.Mark("model"), "model", text},
		{words.Mark("identity"), "identity", text},
		{words.Mark("room"), "room", text},
		{words.Mark("listens to"), "hears", text},
		{words.Mark("beside the alarm"), "beside", text},
		{words.Mark("circuit"), "circuit", text},
		{words.Mark("made"), "made", text},
		{words.Mark("installed"), "installed", text},
		{words.Mark("battery put in"), "battery", text},
		{words.Mark("faces"), "faces", text},
		{words.Mark("notes"), "notes", text},
	}},
	{words.Mark("rooms"), "rooms", words.Mark("room"), []column{
		{words.Mark("name"), "name", text},
		{words.Mark("storey"), "storey", text},
		{words.Mark("order"), "order", number},
		{words.Mark("used as"), "use", text},
		{words.Mark("someone sleeps here"), "sleeping", yesNo},
		{words.Mark("dwelling"), "dwelling", text},
		{words.Mark("hazards"), "hazards", list},
		{words.Mark("ceiling"), "ceiling", text},
		{words.Mark("notes"), "notes", text},
	}},
	{words.Mark("heads"), "heads", words.Mark("head"), []column{
		{words.Mark("kind"), "kind", text},
		{words.Mark("group"), "group", text},
		{words.Mark("room"), "room", text},
		{words.Mark("made"), "made", text},
		{words.Mark("life"), "life", text},
		{words.Mark("power"), "power", text},
		{words.Mark("level"), "level", text},
		{words.Mark("notes"), "notes", text},
	}},
}

// Names lists the tables, in English.
func Names() []string {
	out := make([]string, len(sheets))
	for i, s := range sheets {
		out[i] = s.name
	}
	return out
}

// Of writes the site as tables: zones, devices, rooms and heads, headings in a language, values as in the site file.
func Of(lang *words.Language, s *site.Site) []Table {
	things := collections(s)
	out := make([]Table, len(sheets))
	for i, sh := range sheets {
		t := Table{Name: lang.Word(sh.name), Columns: []string{lang.Word(sh.id)}}
		for _, c := range sh.columns {
			t.Columns = append(t.Columns, lang.Word(c.heading))
		}
		for _, id := range site.SortedIDs(things[sh.collection]) {
			row := []string{id}
			for _, c := range sh.columns {
				row = append(row, c.write(things[sh.collection][id][c.member]))
			}
			t.Rows = append(t.Rows, row)
		}
		out[i] = t
	}
	return out
}

// collections returns the members of a site that are tables, as JSON values.
func collections(s *site.Site) map[string]map[string]map[string]any {
	raw, err := json.Marshal(s)
	if err != nil {
		panic(err) // a site that was read can be written
	}
	var all map[string]json.RawMessage
	if err := json.Unmarshal(raw, &all); err != nil {
		panic(err)
	}
	out := map[string]map[string]map[string]any{}
	for _, sh := range sheets {
		things := map[string]map[string]any{}
		if raw, there := all[sh.collection]; there {
			if err := json.Unmarshal(raw, &things); err != nil {
				panic(err) // collections are maps of objects
			}
		}
		out[sh.collection] = things
	}
	return out
}

// write says a JSON value as a cell.
func (c column) write(v any) string {
	switch v := v.(type) {
	case string:
		return v
	case bool:
		if v {
			return "yes"
		}
		if c.form == either {
			return "no"
		}
	case float64:
		return strconv.FormatFloat(v, 'f', -1, 64)
	case []any:
		items := make([]string, 0, len(v))
		for _, one := range v {
			items = append(items, c.write(one))
		}
		return strings.Join(items, ", ")
	}
	return ""
}

var (
	yeses = []string{"yes", "y", "true", "x", "1", "ja", "j", "wahr"}
	noes  = []string{"no", "n", "false", "0", "-", "nein", "falsch"}
)

// read turns a cell into a JSON value, nil for nothing. ok is false for what the form does not take.
func (c column) read(cell string) (v any, ok bool) {
	if cell == "" {
		return nil, true
	}
	switch c.form {
	case yesNo, either:
		yes, no := slices.Contains(yeses, strings.ToLower(cell)), slices.Contains(noes, strings.ToLower(cell))
		switch {
		case no && c.form == yesNo:
			return nil, true
		case yes || no:
			return yes, true
		}
		return nil, false
	case list:
		var items []any
		for item := range strings.FieldsFuncSeq(cell, func(r rune) bool { return r == ',' || r == ';' }) {
			if item = strings.TrimSpace(item); item != "" {
				items = append(items, item)
			}
		}
		if len(items) == 0 {
			return nil, true
		}
		return items, true
	case number:
		n, err := strconv.Atoi(cell)
		return n, err == nil
	}
	return cell, true
}
