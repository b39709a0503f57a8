package rules

import (
	"math"
	"slices"
	"strings"

	"proofbell/geom"
	"proofbell/internal/estimate"
	"proofbell/internal/words"
	"proofbell/site"
)

// detector is a head or device that smells smoke, wherever it hangs.
type detector struct {
	place  Place
	places []Place // with its zones
	where  string  // "Head M3", "Zone 15 Paper store smoke"
	at     site.Coordinates
	room   site.RoomID
}

// smokeIn lists what smells smoke in a room: self-contained heads and detectors of the panel.
func (c *check) smokeIn(room site.RoomID) []detector {
	var out []detector
	for _, id := range c.headsIn[room] {
		if h := c.Heads[id]; smells(h) {
			out = append(out, detector{headAt(id), []Place{headAt(id)}, c.lang.Say("Head %s", id), h.At, room})
		}
	}
	for _, id := range c.devicesIn[room] {
		if m, _ := c.ModelOf(id); m.Detects(site.SensesSmoke) {
			out = append(out, detector{deviceAt(id), c.devicePlaces(id), c.deviceTitle(id), c.Devices[id].At, room})
		}
	}
	return out
}

// detectsCO reports whether a room has carbon monoxide detection of the panel or, if heads count, an alarm.
func (c *check) detectsCO(room site.RoomID, heads bool) bool {
	if heads && slices.ContainsFunc(c.headsIn[room], func(id site.HeadID) bool { return soundsCO(c.Heads[id]) }) {
		return true
	}
	return slices.ContainsFunc(c.devicesIn[room], func(id site.DeviceID) bool {
		m, _ := c.ModelOf(id)
		return m.Detects(site.SensesCO)
	})
}

func sleeps(r site.Room) bool { return estimate.Sleeps(r) }

func burns(r site.Room) (what string) {
	for _, h := range r.Hazards {
		if h == "wood-stove" || h == "gas-boiler" || h == "oil-boiler" {
			return h
		}
	}
	return ""
}

var hazardSay = map[string]string{"wood-stove": words.Mark("a wood stove"), "gas-boiler": words.Mark("a gas boiler"), "oil-boiler": words.Mark("an oil boiler")}

// rooms judges what each room and storey must have.
func (c *check) rooms() {
	type storey struct {
		rooms, smoke int
		sleeping     []site.RoomID
		co           bool
	}
	storeys := map[site.StoreyID]*storey{}
	var fires []site.RoomID
	for _, id := range c.roomIDs {
		r := c.Rooms[id]
		s := storeys[r.Storey]
		if s == nil {
			s = &storey{}
			storeys[r.Storey] = s
		}
		smoke := c.smokeIn(id)
		if r.Use != "loft" {
			s.rooms++
		}
		s.smoke += len(smoke)
		s.co = s.co || c.detectsCO(id, true)
		if fire := burns(r); fire != "" {
			fires = append(fires, id)
			if !c.detectsCO(id, true) {
				c.add("co.fuel", report{
					where: c.about(c.roomTitle(id), c.lang.Say("carbon monoxide")), who: OnSite, places: []Place{roomAt(id)}, at: c.roomSpot(id), cause: []any{fire},
					say: c.lang.Say("There is %s and no carbon monoxide detection in the room.", c.lang.Word(hazardSay[fire])),
					do:  c.lang.Say("Plan a carbon monoxide detector of the panel in this room, placed as its instructions say."),
				})
			}
		}
		if sleeps(r) {
			s.sleeping = append(s.sleeping, id)
			if len(smoke) == 0 {
				say, estimated := c.fromElsewhere(id)
				c.add("sleep.detection", report{
					where: c.about(c.roomTitle(id), c.lang.Say("smoke detection")), places: []Place{roomAt(id)}, at: c.roomSpot(id), estimate: estimated,
					say: strings.TrimSpace(c.lang.Say("Someone sleeps here and nothing in the room smells smoke: no alarm, no detector, no link to the others.") + " " + say),
					do:  c.lang.Say("Have a mains alarm joined to the group by the electrician, and add a detector of the panel with its own sounder."),
				})
			}
			c.outside(id)
		}
		c.motion(id, r)
	}
	for _, id := range slices.SortedFunc(mapKeys(storeys), func(a, b site.StoreyID) int { return site.NaturalOrder(string(a), string(b)) }) {
		s := storeys[id]
		at := Place{"storey", string(id)}
		if id == "" {
			c.lack("storey.detection", words.Later("storey of some rooms"))
			continue
		}
		name := c.Storeys[id].Name
		if s.rooms > 0 && s.smoke == 0 {
			c.add("storey.detection", report{
				where: c.about(name, c.lang.Say("smoke detection")), places: []Place{at},
				say: c.lang.Say("Nothing on this storey (%d rooms) smells smoke. Every storey needs smoke detection, a cellar too.", s.rooms),
				do:  c.lang.Say("Plan smoke detection on this storey."),
			})
		}
		if len(fires) > 0 && len(s.sleeping) > 0 && !s.co {
			var places []Place
			for _, r := range s.sleeping {
				places = append(places, roomAt(r))
			}
			c.add("co.sleeping", report{
				where: c.about(name, c.lang.Say("carbon monoxide")), places: append([]Place{at}, places...), cause: []any{fires},
				say: c.lang.Say("People sleep on this storey (%s) and fuel burns in the house (%s), but nothing here smells carbon monoxide.", words.List(c.lang, s.sleeping), words.List(c.lang, fires)),
				do:  c.lang.Say("Add carbon monoxide detection outside the sleeping rooms."),
			})
		}
	}
	switch room := c.Panel.Room; {
	case room == "" && c.Panel.Profile != "":
		c.lack("panel.detection", words.Later("room of the panel"))
	case room != "" && len(c.smokeIn(room)) == 0:
		c.add("panel.detection", report{
			where: c.about(c.roomTitle(room), c.lang.Say("panel")), places: []Place{roomAt(room), {"panel", "room"}}, at: c.spot(c.Panel.At, room),
			say: c.lang.Say("The panel hangs in a room where nothing smells smoke: a fire here takes the panel before anyone is told."),
			do:  c.lang.Say("Add a smoke detector of the panel in its room."),
		})
	}
}

func mapKeys[K comparable, V any](m map[K]V) func(func(K) bool) {
	return func(yield func(K) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// outside asks for smoke detection outside a sleeping room, near enough along the way from its door.
func (c *check) outside(id site.RoomID) {
	reach := c.figure("reach.sleeping")
	type way struct {
		room   site.RoomID
		from   geom.Point
		walked float64
	}
	var ways []way
	doors := 0
	for _, o := range c.doorsOf[id] {
		open := c.Openings[o]
		if !through(open.Kind) || len(open.Rooms) < 2 {
			continue
		}
		p, ok := open.At.Point()
		if !ok {
			continue
		}
		doors++
		for _, r := range open.Rooms {
			if r != id && !sleeps(c.Rooms[r]) {
				ways = append(ways, way{r, p, 0})
			}
		}
	}
	if doors == 0 {
		c.lack("sleep.outside", words.Later("doors of the room"), roomAt(id))
		return
	}
	if len(ways) == 0 {
		return // opens into other sleeping rooms only: they have their own
	}
	nearest := math.Inf(1)
	seen := map[site.RoomID]bool{id: true}
	for len(ways) > 0 {
		w := ways[0]
		ways = ways[1:]
		if seen[w.room] {
			continue
		}
		seen[w.room] = true
		for _, d := range c.smokeIn(w.room) {
			p, ok := d.at.Point()
			if !ok {
				c.lack("sleep.outside", words.Later("places of smoke detectors"), d.place)
				return
			}
			nearest = math.Min(nearest, w.walked+w.from.Distance(p))
		}
		for _, o := range c.doorsOf[w.room] {
			open := c.Openings[o]
			p, ok := open.At.Point()
			if !ok || !through(open.Kind) || w.walked+w.from.Distance(p) > reach {
				continue
			}
			for _, r := range open.Rooms {
				if !seen[r] && !sleeps(c.Rooms[r]) {
					ways = append(ways, way{r, p, w.walked + w.from.Distance(p)})
				}
			}
		}
	}
	nearest = math.Round(nearest*10) / 10
	if nearest <= reach {
		return
	}
	r := report{
		where: c.about(c.roomTitle(id), c.lang.Say("smoke detection outside")), places: []Place{roomAt(id)}, at: c.roomSpot(id), cause: []any{nearest <= 1e3},
		say: c.lang.Say("Nothing outside the door of this sleeping room smells smoke within %s of the way out.", c.metres(reach, -1)),
		do:  c.lang.Say("Plan smoke detection outside the room, near its door."),
	}
	if !math.IsInf(nearest, 1) {
		r.say += " " + c.lang.Say("The nearest is %s away.", c.metres(nearest, 1))
		r.cause = []any{nearest}
	}
	c.add("sleep.outside", r)
}

// motion doubts motion detectors that look at a machine.
func (c *check) motion(id site.RoomID, r site.Room) {
	if !slices.Contains(r.Hazards, "machine") {
		return
	}
	for _, d := range c.devicesIn[id] {
		if m, _ := c.ModelOf(d); m.Class != "motion" {
			continue
		}
		dev := c.Devices[d]
		if dev.Faces != "" && dev.Faces != id {
			continue
		}
		c.add("motion.machine", report{
			where: c.deviceWhere(d, c.lang.Say("place")), places: append(c.devicePlaces(d), roomAt(id)), at: c.spot(dev.At, dev.Room), cause: []any{dev.Faces},
			say: c.lang.Say("This motion detector looks into %s, where a machine moves by itself: it would trip without anyone there.", c.roomSay(id)),
			do:  c.lang.Say("Turn it away from the machine, move it, or use another principle."),
		})
	}
}
