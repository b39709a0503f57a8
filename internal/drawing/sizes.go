package drawing

import (
	"proofbell/geom"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/site"
)

// Size is the length of a side of a room, with a line to show it on: parallel to the side, within the room.
type Size struct {
	Room string     `json:"room"`
	Side int        `json:"side"` // from the corner of that number, from 0
	From geom.Point `json:"from"`
	To   geom.Point `json:"to"`
	M    float64    `json:"m"`   // metres, between the middle lines of walls
	Say  string     `json:"say"` // "4.00 m", "13 ft 1.5 in"
}

const (
	sizeIn    = 0.25 // from the face of the wall to the line, metres
	sizeLeast = 0.6  // shorter sides get none: their figure would cover more than it says
)

// Sizes are the lengths of the sides of rooms, in the order of the rooms; of all rooms of the storey when rooms is nil.
func Sizes(lang *words.Language, s *site.Site, storey site.StoreyID, rooms []site.RoomID) []Size {
	out := []Size{}
	if rooms == nil {
		rooms = site.SortedIDs(s.Rooms)
	}
	walls := wallsOf(s, storey)
	for _, id := range rooms {
		r := s.Rooms[id]
		poly := r.Outline.Polygon()
		if r.Storey != storey || len(poly) < 3 {
			continue
		}
		inward := 1.0
		if poly.SignedArea() < 0 {
			inward = -1
		}
		for i := range poly {
			side := poly.Side(i)
			long := side.Length()
			if long < sizeLeast {
				continue
			}
			u := side.B.Sub(side.A).Scale(1 / long)
			in := sizeIn
			for _, w := range walls {
				if _, off := project(side.Middle(), w.a, w.b); off < 0.01 {
					in = sizeIn + w.thickness/2
				}
			}
			off := geom.Point{X: -u.Y, Y: u.X}.Scale(inward * in)
			out = append(out, Size{string(id), i, side.A.Add(off), side.B.Add(off), quantity.Round(long, 3), sayLength(lang, s, long)})
		}
	}
	return out
}

func sayLength(lang *words.Language, s *site.Site, m float64) string {
	if s.Premises.Units == "imperial" {
		return quantity.FeetInches(quantity.Metre(m))
	}
	return lang.Number(m, 2) + " m"
}

// Below returns the storey under another one: the highest whose floor lies lower. ok is false for the lowest.
func Below(s *site.Site, storey site.StoreyID) (id site.StoreyID, ok bool) {
	level := s.Storeys[storey].Level.SI()
	for _, one := range site.SortedIDs(s.Storeys) {
		if l := s.Storeys[one].Level.SI(); l < level && (!ok || l > s.Storeys[id].Level.SI()) {
			id, ok = one, true
		}
	}
	return id, ok
}
