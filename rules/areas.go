package rules

import (
	"math"
	"slices"
	"strings"

	"proofbell/internal/words"
	"proofbell/site"
)

// through lists the kinds of opening that a person walks through.
func through(kind string) bool { return kind == "door" || kind == "passage" || kind == "stair" }

// burglary reports whether a zone is armed and disarmed with its area.
func burglary(k site.ZoneKind) bool {
	return k == site.Entry1 || k == site.Entry2 || k == site.Perimeter || k == site.Inside
}

func entry(k site.ZoneKind) bool { return k == site.Entry1 || k == site.Entry2 }

func (c *check) areas() {
	entries := map[site.AreaID][]site.ZoneID{}
	armed := map[site.AreaID][]site.ZoneID{}
	keyed := map[site.AreaID]bool{} // has a key switch of its own
	for _, id := range c.zoneIDs {
		z := c.Zones[id]
		if z.Kind == site.Keyswitch && z.Area != "" {
			keyed[z.Area] = true
		}
		if !burglary(z.Kind) {
			continue
		}
		if z.Area == "" {
			c.add("zone.area.none", report{
				where: c.zoneWhere(id, c.lang.Say("area")), say: c.lang.Say("A zone of kind %s is live only while its area is armed; it is in none.", c.kindSay(z.Kind)),
				do: c.lang.Say("Choose its area."), places: []Place{zoneAt(id)}, at: c.zoneSpot(id), cause: []any{z.Kind},
			})
			continue
		}
		armed[z.Area] = append(armed[z.Area], id)
		if entry(z.Kind) {
			entries[z.Area] = append(entries[z.Area], id)
		}
	}
	keypads := 0
	keypadIn := map[site.RoomID]bool{}
	for _, id := range c.deviceIDs {
		if m, _ := c.ModelOf(id); m.Class == "keypad" {
			keypads++
			keypadIn[c.Devices[id].Room] = true
		}
	}
	for _, area := range site.SortedIDs(c.Areas) {
		if len(armed[area]) == 0 {
			continue
		}
		at := Place{"area", string(area)}
		name := strings.TrimSpace(c.lang.Say("Area %s %s", area, c.Areas[area].Name))
		if len(entries[area]) == 0 {
			c.add("area.entry", report{
				where: c.about(name, c.lang.Say("way in")), say: c.lang.Say("The area arms %d zones but has no entry and exit zone: whoever comes in sets it off at once, and nobody can leave.", len(armed[area])),
				do: c.lang.Say("Make its door an entry and exit zone of this area."), places: []Place{at},
			})
		}
		switch {
		case keyed[area]:
		case keypads == 0:
			c.lack("area.keypad", words.Later("keypads"), at)
		case !slices.ContainsFunc(armed[area], func(id site.ZoneID) bool { return c.near(c.Devices[c.Zones[id].Device].Room, keypadIn) }):
			c.add("area.keypad", report{
				where: c.about(name, c.lang.Say("keypad")), say: c.lang.Say("No keypad and no key switch is in or beside the rooms of this area: it can not be armed and disarmed within its delays."),
				do: c.lang.Say("Plan a keypad or key switch at its door."), places: []Place{at},
			})
		}
	}
	c.waysIn(entries, armed)
}

// near reports whether one of the rooms is this one or next to it through a door.
func (c *check) near(room site.RoomID, rooms map[site.RoomID]bool) bool {
	if rooms[room] {
		return true
	}
	for _, o := range c.doorsOf[room] {
		if !through(c.Openings[o].Kind) {
			continue
		}
		for _, r := range c.Openings[o].Rooms {
			if rooms[r] {
				return true
			}
		}
	}
	return false
}

// waysIn judges zones "inside, on the way in": each waits for the entry delay of its own area, so it must lie behind a
// door of that area. A zone is doubted only when another area's door is nearer and its own area has nothing else close by.
func (c *check) waysIn(entries, armed map[site.AreaID][]site.ZoneID) {
	steps := map[site.AreaID]map[site.RoomID]int{}
	holds := map[site.AreaID]map[site.RoomID][]site.ZoneID{}
	for area, ids := range armed {
		holds[area] = map[site.RoomID][]site.ZoneID{}
		for _, id := range ids {
			r := c.Devices[c.Zones[id].Device].Room
			holds[area][r] = append(holds[area][r], id)
		}
	}
	for area, ids := range entries {
		steps[area] = c.stepsFrom(ids)
	}
	for _, area := range site.SortedIDs(c.Areas) {
		if len(entries[area]) == 0 {
			continue // area.entry says so
		}
		for _, id := range armed[area] {
			z := c.Zones[id]
			room := c.Devices[z.Device].Room
			if z.Kind != site.Inside {
				continue
			}
			if room == "" || len(c.doorsOf[room]) == 0 {
				c.lack("zone.area.way", words.Later("doors of the room"), zoneAt(id))
				continue
			}
			if c.hasOther(holds[area], room, id) {
				continue
			}
			best, least := area, math.MaxInt
			for _, other := range site.SortedIDs(c.Areas) {
				if n, ok := steps[other][room]; ok && n < least {
					best, least = other, n
				}
			}
			own, reached := steps[area][room]
			if best == area || reached && own <= least {
				continue
			}
			door := c.nearestEntry(entries[best], room)
			r := report{
				where: c.zoneWhere(id, c.lang.Say("area")), places: []Place{zoneAt(id), {"area", string(area)}}, at: c.zoneSpot(id),
				cause: []any{area, best, room},
				say: c.lang.Say("The zone is in area %s %s, but the way into %s leads from %s of area %s %s, %s away. An inside zone waits only for the entry delay of its own area: people on their way in would set it off, and it is live when the wrong area is armed.",
					area, c.Areas[area].Name, c.roomSay(room), c.zoneSay(door), best, c.Areas[best].Name, c.roomsAway(least)),
				do:    c.lang.Say("Put it in area %s, or make it a perimeter zone.", best),
				patch: zonePatch(id, object{"area": best}), patchSay: c.change(c.lang.Say("area"), string(area), string(best)),
			}
			c.add("zone.area.way", r)
		}
	}
}

// nearestEntry returns the entry zone with the fewest doors to a room.
func (c *check) nearestEntry(ids []site.ZoneID, room site.RoomID) site.ZoneID {
	best, least := ids[0], math.MaxInt
	for _, id := range ids {
		if n, ok := c.stepsFrom([]site.ZoneID{id})[room]; ok && n < least {
			best, least = id, n
		}
	}
	return best
}

func (c *check) roomsAway(n int) string {
	if n == 1 {
		return c.lang.Say("1 room")
	}
	return c.lang.Say("%d rooms", n)
}

// hasOther reports whether an area has a burglary zone other than one in a room or next door to it.
func (c *check) hasOther(holds map[site.RoomID][]site.ZoneID, room site.RoomID, but site.ZoneID) bool {
	other := func(r site.RoomID) bool {
		return slices.ContainsFunc(holds[r], func(id site.ZoneID) bool { return id != but })
	}
	if other(room) {
		return true
	}
	for _, o := range c.doorsOf[room] {
		if through(c.Openings[o].Kind) && slices.ContainsFunc(c.Openings[o].Rooms, other) {
			return true
		}
	}
	return false
}

// stepsFrom counts the doors from the rooms of some zones to every room that can be reached.
func (c *check) stepsFrom(ids []site.ZoneID) map[site.RoomID]int {
	steps := map[site.RoomID]int{}
	var queue []site.RoomID
	for _, id := range ids {
		if r := c.Devices[c.Zones[id].Device].Room; r != "" {
			if _, seen := steps[r]; !seen {
				steps[r] = 0
				queue = append(queue, r)
			}
		}
	}
	for len(queue) > 0 {
		r := queue[0]
		queue = queue[1:]
		for _, o := range c.doorsOf[r] {
			if !through(c.Openings[o].Kind) {
				continue
			}
			for _, next := range c.Openings[o].Rooms {
				if _, seen := steps[next]; !seen {
					steps[next] = steps[r] + 1
					queue = append(queue, next)
				}
			}
		}
	}
	return steps
}
