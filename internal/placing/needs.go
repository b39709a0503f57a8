package placing

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"proofbell/geom"
	"proofbell/internal/building"
	"proofbell/internal/estimate"
	"proofbell/internal/words"
	"proofbell/rules"
	"proofbell/site"
)

// finder looks for places.
type finder struct {
	set  *rules.Set
	o    Options
	fit  *estimate.SoundFitted // of the readings to the site as they were taken in
	calm map[string]bool       // beds that the sound reaches surely: adding makes nothing quieter
	b    *building.Building
	was  *site.Site // as it stands
	now  *site.Site // with what was added so far
	what kind
}

func (f *finder) figure(name string) float64 { return f.set.Figures[name].Value }

// need is one thing that is wanting, and what would meet it.
type need struct {
	say    words.Text
	rooms  map[int]float64 // smoke detection in one of these rooms; in each at most so far on foot from the way's end
	from   map[int][]geom.Point
	place  *geom.Point // of a ceiling that smoke detection has to reach, in the one room
	within float64
	sleeps site.RoomID // sound at this room's bed
	bed    site.BedID
	asks   float64 // dBA
	set    string  // JSON pointer of what is heard least there, and has to be heard
}

// key tells needs apart.
func (n need) key() string {
	k := n.say.String() + n.set
	if n.place != nil {
		k += fmt.Sprint(*n.place)
	}
	return k
}

// needs turns findings into needs, and the sound at every bed besides. open is what can not be told.
func (f *finder) needs(found []rules.Finding) (list []need, open []Unmet) {
	for _, one := range found {
		if one.NotJudged || len(one.Places) == 0 {
			continue
		}
		room, known := f.b.RoomOf(site.RoomID(one.Places[0].ID))
		name := one.Places[0].ID
		if known {
			name = f.b.Rooms[room].Name
		}
		switch one.Rule {
		case "sleep.detection", "panel.detection":
			say := words.Later("smoke detection in %s, where someone sleeps", name)
			if one.Rule == "panel.detection" {
				say = words.Later("smoke detection in %s, where the panel hangs", name)
			}
			if !known {
				open = append(open, Unmet{say, words.Later("the room has no outline yet")})
				continue
			}
			list = append(list, need{say: say, rooms: map[int]float64{room: math.Inf(1)}})
			list = append(list, f.ceiling(room, nil)...)
		case "sleep.outside":
			say := words.Later("smoke detection outside the door of %s, within %s m on foot", name, words.Figure(f.figure("reach.sleeping"), 1))
			n := need{say: say, rooms: map[int]float64{}, from: map[int][]geom.Point{}}
			if known {
				f.waysOut(room, &n)
			}
			if len(n.rooms) == 0 {
				open = append(open, Unmet{say, words.Later("no way out of the room with a place on the plan")})
				continue
			}
			list = append(list, n)
		case "storey.detection":
			n := need{say: words.Later("smoke detection on %s", f.now.Storeys[site.StoreyID(name)].Name), rooms: map[int]float64{}}
			for i, r := range f.b.Rooms {
				if f.b.Storeys[r.Storey].ID == site.StoreyID(name) {
					n.rooms[i] = math.Inf(1)
				}
			}
			list = append(list, n)
		case "smoke.coverage":
			if known {
				list = append(list, f.ceiling(room, f.smokeIn(f.b.Rooms[room].ID))...)
			}
		}
	}
	beds, unclear := f.beds()
	return append(list, beds...), append(open, unclear...)
}

// smokeIn lists where smoke is smelled in a room, before anything is added.
func (f *finder) smokeIn(room site.RoomID) (at []geom.Point) {
	add := func(c site.Coordinates) {
		if p, ok := c.Point(); ok {
			at = append(at, p)
		}
	}
	for _, h := range f.was.Heads {
		if h.Room == room && strings.Contains(h.Kind, "smoke") {
			add(h.At)
		}
	}
	for id, d := range f.was.Devices {
		if m, _ := f.was.ModelOf(id); d.Room == room && m.Detects(site.SensesSmoke) {
			add(d.At)
		}
	}
	return at
}

// ceiling lists places of a ceiling out of reach of what hangs there: its corners, and a lattice. What lies between them is
// looked for once places were chosen: see farther.
func (f *finder) ceiling(room int, there []geom.Point) (list []need) {
	r := &f.b.Rooms[room]
	reach := f.figure("reach.smoke")
	try := func(p geom.Point) {
		for _, q := range there {
			if math.Round(10*p.Distance(q))/10 <= reach {
				return
			}
		}
		list = append(list, f.above(room, p))
	}
	for _, c := range r.Outline {
		try(c)
	}
	low, high := r.Outline.Bounds()
	step := max(1, math.Sqrt(r.Area/60))
	for y := low.Y + step/2; y < high.Y; y += step {
		for x := low.X + step/2; x < high.X; x += step {
			if p := (geom.Point{X: x, Y: y}); r.Outline.Holds(p) {
				try(p)
			}
		}
	}
	return list
}

// above is the need of one place of a ceiling.
func (f *finder) above(room int, p geom.Point) need {
	reach := f.figure("reach.smoke")
	return need{
		say: words.Later("smoke detection within %s m of every place of the ceiling of %s", words.Figure(reach, -1), f.b.Rooms[room].Name), rooms: map[int]float64{room: math.Inf(1)}, place: &p, within: reach,
	}
}

// farther finds, of each ceiling of the needs, the place that is farthest from what hangs there and what was chosen, where that
// is out of reach. Without it a ceiling would be covered at the places that were asked about and not between them.
func (f *finder) farther(needs []need, chosen []spot) (list []need) {
	seen := map[int]bool{}
	for _, n := range needs {
		if n.place == nil {
			continue
		}
		for room := range n.rooms { // the one
			if seen[room] {
				continue
			}
			seen[room] = true
			from := f.smokeIn(f.b.Rooms[room].ID)
			for _, s := range chosen {
				if s.index == room {
					from = append(from, s.at.Plan())
				}
			}
			// Found to 1 cm, and the rule rounds to 10.
			if at, far := f.b.Rooms[room].Outline.Farthest(from); len(from) > 0 && math.Round(10*(far+0.01))/10 > n.within {
				list = append(list, f.above(room, at))
			}
		}
	}
	return list
}

// surely is how many alarms the needs take wherever they are put: needs of which no one place can meet two.
func surely(needs []need) int {
	var apart, placed, rest []need
	for _, n := range needs {
		if n.place != nil {
			placed = append(placed, n)
		} else if n.sleeps == "" && len(n.rooms) > 0 {
			rest = append(rest, n)
		}
	}
	for _, n := range append(placed, rest...) { // corners first: an alarm for the room is any of them
		alone := true
		for _, m := range apart {
			shared := false
			for room := range n.rooms {
				_, both := m.rooms[room]
				shared = shared || both
			}
			far := n.place != nil && m.place != nil && n.place.Distance(*m.place) > n.within+m.within+0.1 // both are rounded
			alone = alone && (!shared || far)
		}
		if alone {
			apart = append(apart, n)
		}
	}
	return len(apart)
}

// waysOut finds the rooms outside a sleeping room in which smoke detection would be within reach, and from where it counts:
// as the rule does, through doors and rooms where nobody sleeps.
func (f *finder) waysOut(room int, n *need) {
	reach := f.figure("reach.sleeping")
	type way struct {
		room   int
		from   geom.Point
		walked float64
	}
	var ways []way
	leave := func(room int, from *geom.Point, walked float64) {
		for _, d := range f.b.Doors() {
			for i := range d.Rooms {
				to := d.Rooms[1-i]
				if d.Rooms[i] != room || to == building.Outside || f.b.Rooms[to].Sleeping {
					continue
				}
				far := walked
				if from != nil {
					far += from.Distance(d.At)
				}
				if far <= reach {
					ways = append(ways, way{to, d.At, far})
				}
			}
		}
	}
	leave(room, nil, 0)
	for k := 0; k < len(ways) && k < 200; k++ {
		w := ways[k]
		if _, seen := n.rooms[w.room]; seen {
			continue
		}
		n.rooms[w.room], n.from[w.room] = reach-w.walked, []geom.Point{w.from}
		leave(w.room, &w.from, w.walked)
	}
}

// beds lists the beds that the sound does not reach surely.
func (f *finder) beds() (list []need, open []Unmet) {
	o := estimate.SoundOptions{Readings: f.o.Readings}
	first := f.calm == nil
	if first {
		f.calm = map[string]bool{}
	} else {
		o = estimate.SoundOptions{Fit: f.fit} // what was measured did not sound with what was added
	}
	m := estimate.NewSound(f.now, f.b, o)
	if first {
		f.fit = m.Fitted()
	}
	demand := rules.SoundNeed(f.set)
	for _, id := range site.SortedIDs(f.now.Rooms) {
		room := f.now.Rooms[id]
		if !estimate.Sleeps(room) {
			continue
		}
		beds := site.SortedIDs(room.Beds)
		if len(beds) == 0 {
			beds = []site.BedID{""}
		}
		for _, bed := range beds {
			if f.calm[string(id)+"/"+string(bed)] {
				continue
			}
			row, set := m.RowOf(nil, demand, id, bed)
			say := words.Later("the alarm heard at the pillow in %s", room.Name)
			if bed != "" {
				say = words.Later("the alarm heard at bed %s in %s", bed, room.Name)
			}
			_, placed := f.b.RoomOf(id)
			switch {
			case row.Verdict == estimate.Enough:
				f.calm[string(id)+"/"+string(bed)] = true
			case !placed || row.Required == nil:
				open = append(open, Unmet{say, words.Later("not determined: %s is missing", strings.Join(row.Missing, ", "))})
			default:
				list = append(list, need{say: say, sleeps: id, bed: bed, asks: *row.Required, set: f.joins(set)})
			}
		}
	}
	return list, open
}

// joins is the set that has to become louder at a bed: where nothing is joined yet, that of the group that is added.
func (f *finder) joins(set string) string {
	if group, ok := f.what.as["group"].(site.GroupID); ok && !strings.HasPrefix(set, "/groups/") && set != "/panel" {
		return "/groups/" + string(group)
	}
	return set
}

// why says why nothing met a need.
func (f *finder) why(n need, spots []spot) words.Text {
	if len(spots) == 0 {
		return words.Later("no place in these rooms is free of steam, dust, exhaust and cooking")
	}
	for i, s := range spots {
		if _, in := n.rooms[s.index]; in && f.what.radio && s.margin < s.wanted {
			return words.Later("the radio margin there is too small: %s dB at best, %s dB wanted", words.Figure(f.best(n, spots[i:]), 1), words.Figure(s.wanted, -1))
		}
	}
	if n.sleeps != "" && f.what.member == "devices" {
		return words.Later("a detector sounds for the fire in its own room only; join an alarm to the group there, or wire a sounder of the panel")
	}
	if group, _ := f.what.as["group"].(site.GroupID); n.sleeps != "" && n.set != "/groups/"+string(group) {
		return words.Later("%s is heard least there, and what is added here does not sound with it", n.set)
	}
	if n.sleeps != "" {
		return words.Later("no place that was tried brings %s dBA there, surely; try another kind of alarm or a sounder of 520 Hz by the bed", words.Figure(n.asks, -1))
	}
	return words.Later("no place that was tried is near enough and free of steam, dust, exhaust and cooking")
}

func (f *finder) best(n need, spots []spot) float64 {
	best := math.Inf(-1)
	for _, s := range spots {
		if _, in := n.rooms[s.index]; in {
			best = max(best, s.margin)
		}
	}
	return best
}

// soils reports whether a smoke detector would soil in a room, or alarm without a fire.
func soils(r site.Room) bool {
	if slices.Contains([]string{"kitchen", "bathroom", "garage", "boiler", "workshop"}, r.Use) {
		return true
	}
	return slices.ContainsFunc(r.Hazards, func(h string) bool { return h == "cooking" || h == "steam" || h == "dust" || h == "vehicle" })
}
