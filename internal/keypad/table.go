// Package keypad turns a zone schedule into the keys to press at a panel, and rehearses them.
//
// [Compile] walks a profile's dialogue with the answers that a site wants and prints a keying sheet, card by card.
// [Simulator] is the same dialogue as a machine that takes keys and knows nothing of sites or sheets; what it holds at the
// end is compared with what was wanted. The two share the profile and the zone table, and no code: a mistake in one of
// them is seen by the other.
//
// Formats (zone table, key list): docs/format/profile.md. The package reads no clock, file or random source.
package keypad

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"

	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// Slots are the answers that a panel holds for one zone: field -> answer, in the panel's own terms. Fields that the zone's
// way through the dialogue does not ask for are absent. Spoken words are their numbers with spaces between, without the end.
type Slots map[panel.Field]string

// Sum adds all answers that are numbers, the zone's own number apart, mod 1000: what panels with a sum key show.
func (s Slots) Sum() int {
	total := 0
	for f, a := range s {
		if n, err := strconv.Atoi(a); err == nil && f != panel.FieldZone {
			total += n
		}
	}
	return total % 1000
}

// ZoneTable is what a panel holds. Zones that were never programmed are absent.
type ZoneTable map[site.ZoneID]Slots

// Clone returns a copy that shares nothing.
func (t ZoneTable) Clone() ZoneTable {
	out := make(ZoneTable, len(t))
	for id, s := range t {
		out[id] = maps.Clone(s)
	}
	return out
}

// Equal reports whether both tables hold the same answers.
func (t ZoneTable) Equal(other ZoneTable) bool {
	return maps.EqualFunc(t, other, func(a, b Slots) bool { return maps.Equal(a, b) })
}

// Difference is one answer in which two tables differ; "" stands for none.
type Difference struct {
	Zone  site.ZoneID `json:"zone"`
	Field panel.Field `json:"field"`
	Want  string      `json:"want"`
	Got   string      `json:"got"`
}

// Compare lists every answer in which got differs from want, by zone and field.
func Compare(want, got ZoneTable) []Difference {
	var out []Difference
	ids := slices.Collect(maps.Keys(want))
	for id := range got {
		if want[id] == nil {
			ids = append(ids, id)
		}
	}
	slices.Sort(ids)
	for _, id := range ids {
		for _, f := range panel.Fields() {
			if w, g := want[id][f], got[id][f]; w != g {
				out = append(out, Difference{id, f, w, g})
			}
		}
	}
	return out
}

// TableFormat is the value of "format" in the file of a zone table.
const TableFormat = "proofbell.zones/1"

type tableFile struct {
	Format string    `json:"format"`
	Panel  string    `json:"panel"`
	Zones  ZoneTable `json:"zones"`
}

// AppendTable writes a zone table as one JSON document.
func AppendTable(p *panel.Profile, t ZoneTable) ([]byte, error) {
	if t == nil {
		t = ZoneTable{}
	}
	raw, err := json.MarshalIndent(tableFile{TableFormat, p.Name, t}, "", "  ")
	if err != nil {
		return nil, fmt.Errorf("writing the zone table: %w", err)
	}
	return append(raw, '\n'), nil
}

// maxInput bounds key lists and zone tables from outside.
const maxInput = 1 << 20

// ParseTable reads a zone table that was found in a panel of this profile. It refuses zones, fields and lengths that the
// panel can not hold; whether an answer makes sense is for the comparison to show.
func ParseTable(p *panel.Profile, raw []byte) (ZoneTable, error) {
	if len(raw) > maxInput {
		return nil, &words.Error{Say: words.Later("reading the zone table: it has %d bytes, want at most %d", len(raw), maxInput)}
	}
	var f tableFile
	d := json.NewDecoder(bytes.NewReader(raw))
	d.DisallowUnknownFields()
	if err := d.Decode(&f); err != nil {
		return nil, &words.Error{Say: words.Later("reading the zone table: %s; see docs/format/profile.md", words.Said(err))}
	}
	if d.More() {
		return nil, &words.Error{Say: words.Later("reading the zone table: something follows the document; give one document")}
	}
	if f.Format != TableFormat {
		return nil, &words.Error{Say: words.Later("reading the zone table: format %q, want %q", f.Format, TableFormat)}
	}
	if f.Panel != p.Name {
		return nil, &words.Error{Say: words.Later("reading the zone table: it is of panel %q, the site has %q", f.Panel, p.Name)}
	}
	out := ZoneTable{}
	for _, id := range slices.Sorted(maps.Keys(f.Zones)) {
		n, ok := p.ZoneNumber(id)
		if !ok {
			return nil, &words.Error{Say: words.Later("reading the zone table: zone %q: the panel has %d to %d", id, p.Zones.First, p.Zones.Last)}
		}
		if out[p.ZoneID(n)] != nil {
			return nil, &words.Error{Say: words.Later("reading the zone table: zone %d is there twice", n)}
		}
		for field, answer := range f.Zones[id] {
			if !slices.Contains(panel.Fields()[1:], field) {
				return nil, &words.Error{Say: words.Later("reading the zone table: zone %s: %q is not a field; see docs/format/profile.md", id, field)}
			}
			if len(answer) > 64 {
				return nil, &words.Error{Say: words.Later("reading the zone table: zone %s, %s: the answer is too long", id, field)}
			}
		}
		slots := f.Zones[id]
		if slots == nil {
			slots = Slots{}
		}
		out[p.ZoneID(n)] = slots
	}
	return out, nil
}
