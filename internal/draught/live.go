package draught

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"proofbell/geom"
	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/site"
)

// Distance is a live distance of something that is being put down or moved.
type Distance struct {
	What string     `json:"what"` // wall, door, device, head
	ID   string     `json:"id"`   // of what it is measured to; "": a side of the room without a wall
	From geom.Point `json:"from"`
	To   geom.Point `json:"to"`
	Say  string     `json:"say"`  // "2.35 m"
	Long string     `json:"long"` // "2.35 m to the wall"
	M    float64    `json:"m"`    // metres
}

// mostDoors and mostNear bound what is measured to: more lines than a hand can look at help nobody.
const (
	mostDoors  = 2
	mostNear   = 2
	farthest   = 12.0 // metres
	sameColumn = 0.17 // walls that run within ten degrees of each other count as one direction
)

// Distances measures from what is in the hand: to the faces of the nearest wall and of the nearest one across it, to the
// doors of kitchens and bathrooms, from which rules of placement measure, and to the nearest devices and alarms of its storey.
// about is a JSON pointer, "/devices/hall-smoke"; there are none for anything else.
func Distances(lang *words.Language, s *site.Site, storey site.StoreyID, about string) []Distance {
	out := []Distance{}
	at, room, ok := thing(s, about)
	if !ok {
		return out
	}
	e := lay(lang, s, storey)
	add := func(what, id string, to geom.Point, long string) {
		d := at.Distance(to)
		if d > farthest || d < geom.Near {
			return
		}
		say := e.show(d)
		out = append(out, Distance{what, id, at, to, say, lang.Say(long, say), quantity.Round(d, 3)})
	}
	for _, w := range e.nearWalls(at, room) {
		add("wall", string(w.id), w.face, words.Mark("%s to the wall"))
	}
	doors := e.doors(at, room)
	for _, d := range doors[:min(len(doors), mostDoors)] {
		add("door", d.id, d.at, d.say)
	}
	near := e.others(at, about)
	for _, d := range near[:min(len(near), mostNear)] {
		add(d.what, d.id, d.at, words.Mark("%s to the next device"))
	}
	return out
}

// thing is the place of a device or an alarm, with its room.
func thing(s *site.Site, about string) (geom.Point, site.RoomID, bool) {
	if id, ok := strings.CutPrefix(about, "/devices/"); ok {
		p, placed := s.Devices[site.DeviceID(id)].At.Point()
		return p, s.Devices[site.DeviceID(id)].Room, placed
	}
	if id, ok := strings.CutPrefix(about, "/heads/"); ok {
		p, placed := s.Heads[site.HeadID(id)].At.Point()
		return p, s.Heads[site.HeadID(id)].Room, placed
	}
	return geom.Point{}, "", false
}

// facing is a wall with the place of its face that is nearest.
type facing struct {
	id   site.WallID
	side edge
	face geom.Point
	off  float64
}

// nearWalls finds the nearest side of a room and the nearest one across it.
func (e *sheet) nearWalls(at geom.Point, room site.RoomID) []facing {
	var all []facing
	for _, s := range sides(e.site.Rooms[room].Outline.Polygon()) {
		foot := geom.Segment{A: s.a, B: s.b}.Nearest(at)
		f := facing{side: s, face: foot, off: foot.Distance(at)}
		for _, id := range site.SortedIDs(e.site.Walls) {
			if line, ok := e.lineOf(e.site.Walls[id]); ok && line.holds(foot) && collinear(line, s) {
				if half := e.site.Walls[id].Thickness.SI() / 2; f.off > half && half > 0 {
					f.face = foot.Add(at.Sub(foot).Scale(half / f.off))
				}
				f.id = id
				break
			}
		}
		all = append(all, f)
	}
	sorts.Stable(all, func(a, b facing) int { return cmp.Compare(a.off, b.off) })
	for i, f := range all {
		if i > 0 && math.Abs(f.side.unit().Cross(all[0].side.unit())) > sameColumn {
			return []facing{all[0], f}
		}
	}
	return all[:min(len(all), 1)]
}

type other struct {
	what, id, say string
	at            geom.Point
}

func nearestFirst(at geom.Point, all []other) []other {
	sorts.Stable(all, func(a, b other) int { return cmp.Compare(a.at.Distance(at), b.at.Distance(at)) })
	return all
}

// doors are those of kitchens and bathrooms on the storey, and of the room itself when there is none, nearest first.
func (e *sheet) doors(at geom.Point, room site.RoomID) []other {
	says := map[string]string{"kitchen": words.Mark("%s to the kitchen door"), "bathroom": words.Mark("%s to the bathroom door")}
	var wet, own []other
	for _, id := range site.SortedIDs(e.site.Openings) {
		o := e.site.Openings[id]
		p, placed := o.At.Point()
		if !placed || o.Storey != e.storey || o.Kind != "door" && o.Kind != "passage" {
			continue
		}
		for _, r := range o.Rooms {
			if say := says[e.site.Rooms[r].Use]; say != "" {
				wet = append(wet, other{"door", string(id), say, p})
				break
			}
		}
		if slices.Contains(o.Rooms, room) {
			own = append(own, other{"door", string(id), words.Mark("%s to the door"), p})
		}
	}
	if wet = nearestFirst(at, wet); len(wet) > 0 {
		return wet
	}
	own = nearestFirst(at, own)
	return own[:min(len(own), 1)]
}

// others are the devices and alarms of the storey but for the one in the hand, nearest first.
func (e *sheet) others(at geom.Point, about string) []other {
	var all []other
	for _, id := range site.SortedIDs(e.site.Devices) {
		d := e.site.Devices[id]
		if p, ok := d.At.Point(); ok && e.site.Rooms[d.Room].Storey == e.storey && "/devices/"+string(id) != about {
			all = append(all, other{"device", string(id), "", p})
		}
	}
	for _, id := range site.SortedIDs(e.site.Heads) {
		h := e.site.Heads[id]
		if p, ok := h.At.Point(); ok && e.site.Rooms[h.Room].Storey == e.storey && "/heads/"+string(id) != about {
			all = append(all, other{"head", string(id), "", p})
		}
	}
	return nearestFirst(at, all)
}
