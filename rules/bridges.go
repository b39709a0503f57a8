package rules

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"proofbell/internal/words"
	"proofbell/site"
)

// Kinds of self-contained alarms.
func soundsFire(h site.Head) bool {
	return h.Kind == "smoke" || h.Kind == "heat" || h.Kind == "smoke-co"
}
func soundsCO(h site.Head) bool { return h.Kind == "co" || h.Kind == "smoke-co" }
func smells(h site.Head) bool   { return h.Kind == "smoke" || h.Kind == "smoke-co" }

func (c *check) bridges() {
	groups := map[site.GroupID][]site.HeadID{}
	for _, id := range c.headIDs {
		if g := c.Heads[id].Group; g != "" {
			groups[g] = append(groups[g], id)
		}
	}
	for _, id := range c.deviceIDs {
		m, _ := c.ModelOf(id)
		if m.Class != "bridge" {
			continue
		}
		d := c.Devices[id]
		heads := groups[d.Hears]
		r := report{where: c.deviceWhere(id, c.lang.Say("group")), places: c.devicePlaces(id), at: c.spot(d.At, d.Room), cause: []any{d.Hears}}
		if len(heads) == 0 {
			r.say = c.lang.Say("Nobody has said which interconnect group this bridge listens to.")
			if d.Hears != "" {
				r.say = c.lang.Say("The bridge listens to group %s, which has no heads.", d.Hears)
			}
			r.do = c.lang.Say("Find the group on site: press a test button and see which heads sound.")
			c.add("bridge.group", r)
			continue
		}
		if b, ok := c.Heads[d.Beside]; ok && b.Group != d.Hears {
			r.where = c.deviceWhere(id, c.lang.Say("head beside"))
			r.say = c.lang.Say("The bridge is to hear group %s but sits beside head %s, which is in group %s. A bridge hears one group.", d.Hears, d.Beside, c.orNone(string(b.Group)))
			r.do, r.cause = c.lang.Say("Move it beside a head of group %s, or say that it hears the other one.", d.Hears), []any{d.Hears, d.Beside, b.Group}
			r.places = append(slices.Clone(r.places), headAt(d.Beside))
			c.add("bridge.beside", r)
		}
		c.patterns(id, d, m, heads)
		c.bridgePlace(id, d, m, heads)
		for _, h := range c.Rooms[d.Room].Hazards {
			if noise[h] != "" {
				c.add("bridge.hazard", report{
					where: c.deviceWhere(id, c.lang.Say("place")), say: c.lang.Say("The bridge is in %s, where there is %s: heat, wet, vibration and other pulsed sounds make a listener deaf or nervous.", c.roomSay(d.Room), c.lang.Word(noise[h])),
					do: c.lang.Say("Take a head of the group in a quieter room."), places: c.devicePlaces(id), at: c.spot(d.At, d.Room), cause: []any{d.Room, h},
				})
				break
			}
		}
	}
}

// noise is what a listener should not hang near, by hazard.
var noise = map[string]string{"steam": words.Mark("steam"), "machine": words.Mark("a moving machine"), "vehicle": words.Mark("vehicle traffic"), "cooking": words.Mark("cooking")}

// patterns asks whether some head of the group makes the pattern that a zone of the bridge waits for.
func (c *check) patterns(id site.DeviceID, d site.Device, m site.Model, heads []site.HeadID) {
	for _, zone := range c.zonesOf[id] {
		senses := m.Terminals[c.Zones[zone].Terminal].Senses
		makes := soundsFire
		switch senses {
		case site.SensesThree:
		case site.SensesFour:
			makes = soundsCO
		default:
			continue
		}
		if slices.ContainsFunc(heads, func(h site.HeadID) bool { return makes(c.Heads[h]) }) {
			continue
		}
		r := report{
			where: c.zoneWhere(zone, c.lang.Say("pattern")), places: []Place{zoneAt(zone), deviceAt(id), {"group", string(d.Hears)}}, at: c.spot(d.At, d.Room), who: Electrician,
			say:   c.lang.Say("No head of group %s (%d heads) makes %s: this zone can never trip.", d.Hears, len(heads), c.whatItSenses(senses)),
			do:    c.lang.Say("Have a head of that kind joined to the group by the electrician, or drop the zone."),
			cause: []any{senses, d.Hears},
		}
		if senses == site.SensesFour {
			r.do = c.lang.Say("Have a carbon monoxide head joined to the group by the electrician, or drop the zone and rely on the carbon monoxide detectors of the panel.")
			for _, h := range c.headIDs {
				if head := c.Heads[h]; soundsCO(head) && head.Group != d.Hears {
					r.say += " " + c.lang.Say("%s sounds by itself in %s, where the bridge does not hear it.", h, c.roomSay(head.Room))
					r.places = append(r.places, headAt(h))
				}
			}
		}
		c.add("bridge.pattern", r)
	}
}

// apart is the distance between two places, with height where both have one.
func apart(a, b site.Coordinates) (metres float64, ok bool) {
	p, okP := a.Point()
	q, okQ := b.Point()
	if !okP || !okQ {
		return 0, false
	}
	d := p.Distance(q)
	if z, ok := a.Height(); ok {
		if y, ok := b.Height(); ok {
			d = math.Hypot(d, z-y)
		}
	}
	return math.Round(d*100) / 100, true // published to 1 cm
}

// bridgePlace asks whether the bridge can hear a head of its group: same room, near enough, nothing in between.
func (c *check) bridgePlace(id site.DeviceID, d site.Device, m site.Model, heads []site.HeadID) {
	if d.Room == "" {
		c.lack("bridge.place", words.Later("room of the bridge"), deviceAt(id))
		return
	}
	within := c.figure("bridge.within")
	if m.Listens != nil && m.Listens.Within.SI() > 0 {
		within = math.Min(within, m.Listens.Within.SI())
	}
	// The nearest head of its room, else the nearest of all.
	var nearest site.HeadID
	distance, inRoom := math.Inf(1), false
	for _, h := range heads {
		same := c.Heads[h].Room == d.Room
		away, ok := apart(d.At, c.Heads[h].At)
		switch {
		case !ok && same:
			c.lack("bridge.place", words.Later("places of the bridge and its head"), deviceAt(id), headAt(h))
			return
		case !ok || c.Rooms[c.Heads[h].Room].Storey != c.Rooms[d.Room].Storey:
			continue
		case same && !inRoom, same == inRoom && away < distance:
			nearest, distance, inRoom = h, away, same
		}
	}
	if nearest == "" {
		c.add("bridge.place", report{
			where: c.deviceWhere(id, c.lang.Say("place")), say: c.lang.Say("No head of group %s is on the storey of the bridge in %s: it hears nothing.", d.Hears, c.roomSay(d.Room)),
			do: c.lang.Say("Place it in the room of a head of group %s, within %s, no door between.", d.Hears, c.metres(within, -1)), places: c.devicePlaces(id), at: c.spot(d.At, d.Room), cause: []any{d.Room, d.Hears},
		})
		return
	}
	head := c.Heads[nearest]
	places := append(c.devicePlaces(id), headAt(nearest))
	cause := []any{d.Room, head.Room, distance, within}
	if inRoom && distance <= within {
		if clear := c.figure("bridge.clear"); distance < clear {
			c.add("bridge.close", report{
				where: c.deviceWhere(id, c.lang.Say("place")), say: c.lang.Say("The bridge is %s from %s, nearer than %s: it may stand in the smoke's way into the head or be overdriven by its sounder.", c.metres(distance, 2), nearest, c.metres(clear, -1)),
				do: c.lang.Say("Keep between %s and %s, as both instructions allow.", c.metres(clear, -1), c.metres(within, -1)), places: places, at: c.spot(d.At, d.Room), cause: cause,
			})
		}
		return
	}
	r := report{where: c.deviceWhere(id, c.lang.Say("place")), places: places, at: c.spot(d.At, d.Room), cause: cause}
	between, doors := "", 0
	if !inRoom {
		n, reached := c.doorsBetween(d.Room, head.Room)
		doors = n
		switch {
		case !reached:
			between = c.lang.Say("with a wall between and no door known")
		case n == 0:
			between = c.lang.Say("through an open way")
		case n == 1:
			between = c.lang.Say("with a closed door between")
		default:
			between = c.lang.Say("with %d closed doors between", n)
		}
		if reached {
			between += c.estimate(&r, nearest, d, m)
		}
	} else {
		between = c.lang.Say("in the same room") + c.estimate(&r, nearest, d, m)
	}
	r.say = c.lang.Say("The bridge in %s is %s from %s in %s %s. It listens within %s in the same room.",
		c.roomSay(d.Room), c.metres(distance, 1), nearest, c.roomSay(head.Room), between, c.metres(within, -1))
	if doors > 0 {
		r.say += " " + c.lang.Say("A door that stands open on the day of the test proves nothing for the night.")
	}
	r.do = c.lang.Say("Place it in %s beside %s, within %s, no door between.", c.roomSay(head.Room), nearest, c.metres(within, -1))
	c.add("bridge.place", r)
}

// estimate adds the planning estimate of the level at a listener, with its terms.
func (c *check) estimate(r *report, head site.HeadID, d site.Device, m site.Model) string {
	b, ok := c.sound().Between(head, d.At, d.Room)
	if !ok {
		return ""
	}
	r.estimate = true
	sum := fmt.Sprintf("%.0f dBA", b.Straight)
	if b.Loss > 0 {
		sum = fmt.Sprintf("%.0f - %.0f = %.0f dBA", b.Free, b.Loss, b.Straight)
	}
	echoes := fmt.Sprintf("%.0f dBA", b.Level)
	if m.Listens != nil && m.Listens.Level.SI() > 0 {
		return c.lang.Say(": about %s at the listener straight through, %s with the echoes of the rooms; the bridge wants %s (planning estimate, measure on site)", sum, echoes, m.Listens.Level)
	}
	return c.lang.Say(": about %s at the listener straight through, %s with the echoes of the rooms (planning estimate, measure on site)", sum, echoes)
}

// doorsBetween counts the shut doors on the way with the fewest openings between two rooms.
func (c *check) doorsBetween(from, to site.RoomID) (shut int, reached bool) {
	type step struct {
		room site.RoomID
		shut int
	}
	seen := map[site.RoomID]bool{from: true}
	queue := []step{{room: from}}
	for len(queue) > 0 {
		at := queue[0]
		queue = queue[1:]
		if at.room == to {
			return at.shut, true
		}
		for _, id := range c.doorsOf[at.room] {
			o := c.Openings[id]
			if !through(o.Kind) {
				continue
			}
			for _, next := range o.Rooms {
				if seen[next] {
					continue
				}
				seen[next] = true
				n := step{next, at.shut}
				if !o.Open && o.Kind == "door" {
					n.shut++
				}
				queue = append(queue, n)
			}
		}
	}
	return 0, false
}

// groups judges interconnect groups and the heads that stand outside them.
func (c *check) groups() {
	heard := map[site.GroupID]bool{}
	for _, id := range c.deviceIDs {
		if g := c.Devices[id].Hears; g != "" && len(c.zonesOf[id]) > 0 {
			heard[g] = true
		}
	}
	members := map[site.GroupID][]site.HeadID{}
	fireHeads := 0
	for _, id := range c.headIDs {
		h := c.Heads[id]
		if h.Group != "" {
			members[h.Group] = append(members[h.Group], id)
		}
		if soundsFire(h) {
			fireHeads++
		}
	}
	for _, id := range site.SortedIDs(c.Groups) {
		c.group(id, c.Groups[id], members[id], heard[id])
	}
	for _, id := range c.headIDs {
		h := c.Heads[id]
		if h.Group != "" {
			continue
		}
		r := report{where: c.lang.Say("Head %s, group", id), places: []Place{headAt(id), roomAt(h.Room)}, at: c.spot(h.At, h.Room), cause: []any{h.Kind}}
		if h.Room == "" {
			r.places = r.places[:1]
		}
		switch {
		case soundsFire(h) && fireHeads > 1:
			r.say = c.lang.Say("This alarm is joined to no other: it sounds where it hangs, and the rest of the house sleeps on. No bridge can hear it for the group either.")
			r.do = c.lang.Say("Have it joined to the group by the electrician, or find out which group it is in.")
			c.add("head.alone", r)
		case h.Kind == "co" && h.Room != "" && !c.detectsCO(h.Room, false):
			r.say = c.lang.Say("This carbon monoxide alarm stands alone in %s, and the panel has no carbon monoxide detection there: when it sounds, nobody outside the house is told.", c.roomSay(h.Room))
			r.do = c.lang.Say("Add a carbon monoxide detector of the panel in the same room.")
			c.add("co.alone", r)
		}
	}
}

func (c *check) group(id site.GroupID, g site.Group, heads []site.HeadID, heard bool) {
	place := Place{"group", string(id)}
	where := strings.TrimSpace(c.lang.Say("Group %s %s", id, g.Name))
	smoke := 0
	for _, h := range heads {
		if smells(c.Heads[h]) {
			smoke++
		}
		if c.Heads[h].Power == "battery" && g.Link == "wired" {
			c.add("group.supply", report{
				where: c.lang.Say("Head %s, supply", h), say: c.lang.Say("%s runs on its battery alone but is said to be wired to group %s: either it is not joined, or it was swapped for the wrong type.", h, id),
				do: c.lang.Say("Have the electrician look, and press its test button: do the others sound?"), places: []Place{headAt(h), place}, at: c.spot(c.Heads[h].At, c.Heads[h].Room),
			})
		}
	}
	most, mostSmoke := c.figure("group.devices"), c.figure("group.smoke")
	format := words.Mark("%d heads are joined, %d of them smoke; where the link is not supervised the limit is %s, of which %s smoke. The maker's own limit may be lower.")
	if g.Supervised {
		most, mostSmoke = c.figure("group.supervised.devices"), c.figure("group.supervised.smoke")
		format = words.Mark("%d heads are joined, %d of them smoke; where the link is supervised the limit is %s, of which %s smoke. The maker's own limit may be lower.")
	}
	if float64(len(heads)) > most || float64(smoke) > mostSmoke {
		c.add("group.count", report{
			where: c.about(where, c.lang.Say("size")), say: c.lang.Say(format, len(heads), smoke, c.number(most), c.number(mostSmoke)),
			do: c.lang.Say("Have it split into groups, with a bridge for each."), places: []Place{place}, cause: []any{len(heads), smoke, g.Supervised},
		})
	}
	if circuit, ok := c.Circuits[g.Circuit]; ok && circuit.Kind != "" && circuit.Kind != "mains" {
		c.add("group.circuit", report{
			where: c.about(where, c.lang.Say("circuit")), say: c.lang.Say("The group is said to hang on circuit %s, which is no mains circuit (%s). Mains alarms and low voltage never share a circuit.", g.Circuit, circuit.Kind),
			do: c.lang.Say("Find its mains circuit with the electrician."), places: []Place{place}, cause: []any{g.Circuit, circuit.Kind},
		})
	}
	if len(heads) > 0 && !heard && len(c.Zones) > 0 {
		c.add("group.unheard", report{
			where: c.about(where, c.lang.Say("way to the panel")), say: c.lang.Say("%d alarms sound together, but no bridge or contact module of the panel hears this group: a fire that only they smell tells nobody outside.", len(heads)),
			do: c.lang.Say("Add a bridge beside one of its heads, or detectors of the panel in its rooms."), places: []Place{place}, cause: []any{len(heads)},
		})
	}
}
