package rules

import (
	"math"
	"slices"

	"proofbell/geom"
	"proofbell/internal/words"
	"proofbell/site"
)

// smoke judges where smoke detection hangs.
func (c *check) smoke() {
	for _, id := range c.roomIDs {
		r := c.Rooms[id]
		detectors := c.smokeIn(id)
		c.covered(id, r, detectors)
		for _, d := range detectors {
			c.hung(r, d)
			for _, h := range r.Hazards {
				if h == "steam" || h == "dust" || h == "vehicle" {
					c.add("smoke.hazard", report{
						where: c.about(d.where, c.lang.Say("place")), places: append(slices.Clone(d.places), roomAt(id)), at: c.spot(d.at, id), cause: []any{h},
						say: c.lang.Say("There is %s in %s. A smoke detector soils there and alarms without a fire.", c.lang.Word(hazardWord[h]), c.roomSay(id)),
						do:  c.lang.Say("Use heat detection if the danger allows it, or clean this one every 3 to 6 months and plan for that."),
					})
					break
				}
			}
			if r.Use == "kitchen" || slices.Contains(r.Hazards, "cooking") {
				c.add("smoke.kitchen", report{
					where: c.about(d.where, c.lang.Say("place")), places: append(slices.Clone(d.places), roomAt(id)), at: c.spot(d.at, id),
					say: c.lang.Say("It smells smoke where people cook (%s): it will alarm at every meal until someone takes it down. At least %s from cooking unless it is listed for less.", c.roomSay(id), c.metres(c.figure("clear.cooking"), -1)),
					do:  c.lang.Say("Use heat detection in the kitchen, and smoke detection outside it."),
				})
			}
		}
	}
	for _, id := range site.SortedIDs(c.Openings) {
		c.clearOf(c.Openings[id])
	}
}

var hazardWord = map[string]string{"steam": words.Mark("steam"), "dust": words.Mark("dust"), "vehicle": words.Mark("vehicle exhaust")}

// clearOf keeps smoke detection away from the doors of kitchens and bathrooms.
func (c *check) clearOf(o site.Opening) {
	p, ok := o.At.Point()
	if !ok || !through(o.Kind) || len(o.Rooms) != 2 {
		return
	}
	for i, room := range o.Rooms {
		r, other := c.Rooms[room], o.Rooms[1-i]
		rule, least, format := "", 0.0, ""
		switch {
		case r.Use == "bathroom":
			rule, least, format = "smoke.bathroom", c.figure("clear.bathroom"), words.Mark("%s from the bathroom door: steam alarms it; want %s or more.")
		case r.Use == "kitchen" || slices.Contains(r.Hazards, "cooking"):
			rule, least, format = "smoke.cooking", c.figure("clear.cooking"), words.Mark("%s from the kitchen door (the cooker itself is not on the plan), want %s or more.")
		default:
			continue
		}
		if otherRoom := c.Rooms[other]; otherRoom.Use == "kitchen" || slices.Contains(otherRoom.Hazards, "cooking") {
			continue // smoke.kitchen says so
		}
		for _, d := range c.smokeIn(other) {
			q, ok := d.at.Point()
			if !ok {
				continue
			}
			away := math.Round(p.Distance(q)*100) / 100
			if away >= least {
				continue
			}
			c.add(rule, report{
				where: c.about(d.where, c.lang.Say("place")), places: append(slices.Clone(d.places), roomAt(room)), at: c.spot(d.at, other), cause: []any{away},
				say: c.lang.Say(format, c.metres(away, 2), c.metres(least, -1)),
				do:  c.lang.Say("Move it farther from that door, still within reach of the rooms it guards."),
			})
		}
	}
}

// hung asks whether a smoke detector hangs near the ceiling.
func (c *check) hung(r site.Room, d detector) {
	z, ok := d.at.Height()
	storey, known := c.Storeys[r.Storey]
	ceiling, measured := c.Ceiling(d.room)
	if !ok || !known || !measured {
		return
	}
	below := math.Round((storey.Level.SI()+ceiling-z)*100) / 100
	if most := c.figure("below.ceiling"); below > most {
		c.add("smoke.height", report{
			where: c.about(d.where, c.lang.Say("height")), places: d.places, at: c.spot(d.at, d.room), cause: []any{below},
			say: c.lang.Say("It hangs %s below the ceiling of %s (%s); want %s at most. Smoke gathers above it first.", c.metres(below, 2), c.roomSay(d.room), c.metres(ceiling, -1), c.metres(most, -1)),
			do:  c.lang.Say("Hang it higher, or correct the height on the plan."),
		})
	}
}

// gridStep is the spacing at which a ceiling is tried, in metres; large rooms are tried more coarsely.
const (
	gridStep = 0.25
	gridMost = 4096
)

// covered looks for the worst place of a ceiling: the one farthest from every smoke detector of its room.
func (c *check) covered(id site.RoomID, r site.Room, detectors []detector) {
	outline := r.Outline.Polygon()
	if len(detectors) == 0 || len(outline) < 3 {
		return
	}
	var at []geom.Point
	for _, d := range detectors {
		p, ok := d.at.Point()
		if !ok {
			c.lack("smoke.coverage", words.Later("places of smoke detectors"), d.place)
			return
		}
		at = append(at, p)
	}
	reach := c.figure("reach.smoke")
	low, high := outline.Bounds()
	if !(low.X > -1e5 && low.Y > -1e5 && high.X < 1e5 && high.Y < 1e5) {
		c.lack("smoke.coverage", words.Later("a believable outline"), roomAt(id))
		return
	}
	step := math.Max(gridStep, math.Sqrt((high.X-low.X)*(high.Y-low.Y)/gridMost))
	var worst geom.Point
	far := 0.0
	try := func(p geom.Point) {
		near := math.Inf(1)
		for _, q := range at {
			if near = math.Min(near, p.Distance(q)); near <= far {
				return
			}
		}
		worst, far = p, near
	}
	for _, corner := range outline {
		try(corner)
	}
	columns, lines := int((high.X-low.X)/step), int((high.Y-low.Y)/step)
	for i := range min(columns, gridMost) {
		for j := range min(lines, gridMost) {
			if p := (geom.Point{X: low.X + (float64(i)+0.5)*step, Y: low.Y + (float64(j)+0.5)*step}); outline.Contains(p) {
				try(p)
			}
		}
	}
	far = math.Round(far*10) / 10
	if far <= reach {
		return
	}
	places := []Place{roomAt(id)}
	for _, d := range detectors {
		places = append(places, d.place)
	}
	c.add("smoke.coverage", report{
		where: c.about(c.roomTitle(id), c.lang.Say("reach of smoke detection")), places: places, at: &Spot{r.Storey, math.Round(worst.X*100) / 100, math.Round(worst.Y*100) / 100}, cause: []any{far},
		say: c.lang.Say("The ceiling at %s / %s is %s from the nearest smoke detection of the room; %s is the reach counted for a smooth, flat ceiling.", c.metres(worst.X, 1), c.metres(worst.Y, 1), c.metres(far, 1), c.metres(reach, -1)),
		do:  c.lang.Say("Add a detector there, or move one. Beams, slopes and high ceilings need the clause itself."),
	})
}
