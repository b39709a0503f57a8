package draught

import (
	"proofbell/geom"
	"proofbell/internal/words"
)

// Outlines are the rooms and walls that were found in a drawing made elsewhere, as candidates: nothing of it is in the site
// before it is taken. Places are metres, y up, from the lower left corner of what was found.
type Outlines struct {
	Rooms  []Outlined `json:"rooms"`
	Walls  []WallLine `json:"walls"` // lines that close no room, and walls between
	Unit   string     `json:"unit"`  // what the drawing says a unit of it is: m, cm, mm, ft, in; "": it says none
	Faults []Unread   `json:"faults"`
}

// Outlined is a candidate for a room.
type Outlined struct {
	Name   string       `json:"name"`
	Layer  string       `json:"layer"` // of the drawing; "": none
	Points []geom.Point `json:"points"`
	Area   float64      `json:"area"` // square metres
}

// WallLine is a candidate for a wall.
type WallLine struct {
	Layer string     `json:"layer"`
	From  geom.Point `json:"from"`
	To    geom.Point `json:"to"`
}

// Unread is something in a file that can not be read, or was passed over.
type Unread struct {
	Line int    `json:"line"` // of the file, from 1; 0: the file as a whole
	Say  string `json:"say"`
	Try  string `json:"try"`
}

// Import reads a drawing.
func Import(lang *words.Language, name string, raw []byte, unit string) Outlines {
	return Outlines{Rooms: []Outlined{}, Walls: []WallLine{}, Faults: []Unread{}}
}
