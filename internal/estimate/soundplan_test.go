package estimate

import (
	"strings"
	"testing"

	"proofbell/internal/building"
	"proofbell/internal/words"
	"proofbell/site"
)

const bedroom = `
storeys: {g: {name: Ground, level: 0, ceiling: 2.5}}
rooms:
  H: {name: Hall, storey: g, outline: [[0, 0], [4, 0], [4, 5], [0, 5]], use: hall, ambient: 30 dBA}
  B: {name: Bedroom, storey: g, outline: [[4, 0], [10, 0], [10, 5], [4, 5]], sleeping: true, ambient: 30 dBA, beds: {"1": {at: [9, 2.5]}}}
groups: {M: {link: wired}}
heads: {M1: {kind: smoke, group: M, room: B, at: [7, 2.5, 2.5], level: 85 dBA}}
`

// A bed in another room, and two rooms over each other, are slips of the drawing: no figure, and the slip is named.
func TestSlipsOfTheDrawingAreNoFigures(t *testing.T) {
	copied := `{"rooms":{"B2":{"name":"Copy","storey":"g","outline":[[4,0],[10,0],[10,5],[4,5]],"sleeping":true,"ambient":"30 dBA"}}}`
	for _, c := range []struct {
		patch     string
		room, bed string
		want      string
	}{
		{`{}`, "B", "1", ""},
		{`{"rooms":{"B":{"beds":{"1":{"at":[2,1]}}}}}`, "B", "1", "place of the bed: it is drawn outside of its room"},
		{`{"rooms":{"B":{"beds":{"1":{"at":null}}}}}`, "B", "1", ""},
		{copied, "B", "1", "outline of the room: it lies over Copy"},
		{copied, "B2", "", "outline of the room: it lies over Bedroom"},
		{copied, "H", "", ""},
	} {
		s := readSite(t, []byte(bedroom), c.patch)
		row := NewSound(s, building.Of(s), SoundOptions{}).Row(words.In("en"), need, site.RoomID(c.room), site.BedID(c.bed))
		said := strings.Join(row.Missing, "; ")
		if c.want != "" && (row.Verdict != NotDetermined || row.Level != nil || !strings.Contains(said, c.want)) || c.want == "" && row.Level == nil {
			t.Errorf("%s %s: %s, %q, want %q", c.patch, c.room, row.Verdict, said, c.want)
		}
	}
}
