package prove

import (
	"cmp"
	"slices"

	"proofbell/geom"
	"proofbell/site"
)

// listens reports whether a zone's device reports what the heads of a group do.
func listens(d site.Device, m site.Model, senses string) bool {
	return d.Hears != "" || m.Class == "bridge" || senses == site.SensesThree || senses == site.SensesFour
}

// drives reports whether a head makes a terminal trip: the evacuation pattern or the CO pattern.
func drives(h site.Head, senses string, kind site.ZoneKind) bool {
	four := senses == site.SensesFour || senses != site.SensesThree && kind == site.CO
	if four {
		return h.Kind == "co" || h.Kind == "smoke-co"
	}
	return h.Kind != "co"
}

func (pl *planner) senses(z site.Zone) string {
	return pl.s.Models[pl.s.Devices[z.Device].Model].Senses(z.Terminal)
}

// whyGroup says why a listening zone can never trip; "" when a head of its group can trip it.
func (pl *planner) whyGroup(z site.Zone, d site.Device, senses string) string {
	if d.Hears == "" {
		return pl.lang.Say("The device names no group of alarms that it hears.")
	}
	for _, id := range site.SortedIDs(pl.s.Heads) {
		if h := pl.s.Heads[id]; h.Group == d.Hears && drives(h, senses, z.Kind) {
			return ""
		}
	}
	if senses == site.SensesFour || z.Kind == site.CO {
		return pl.lang.Say("No alarm of group %s gives the CO pattern: this zone can never trip.", d.Hears)
	}
	return pl.lang.Say("Group %s has no alarm that could trip this zone.", d.Hears)
}

// heads adds the test button of every head. The heads that stand for the group (one on each storey and the farthest)
// have to be followed to the station; of the others it is asked that they sound.
func (pl *planner) heads(scope []site.ZoneID) {
	listening := map[site.GroupID][]site.ZoneID{}
	for _, id := range scope {
		z := pl.s.Zones[id]
		d := pl.s.Devices[z.Device]
		senses := pl.senses(z)
		if listens(d, pl.s.Models[d.Model], senses) && pl.why(id) == "" && pl.whyGroup(z, d, senses) == "" {
			listening[d.Hears] = append(listening[d.Hears], id)
		}
	}
	followed := map[site.HeadID][]site.ZoneID{}
	for _, group := range site.SortedIDs(listening) {
		for _, zone := range listening[group] {
			for _, head := range pl.follow(group, zone) {
				followed[head] = append(followed[head], zone)
			}
		}
	}
	for _, id := range site.SortedIDs(pl.s.Heads) {
		h := pl.s.Heads[id]
		family := FamilyFire
		if h.Kind == "co" {
			family = FamilyCO
		}
		if len(pl.o.Zones) > 0 && len(followed[id]) == 0 || !pl.wants(family) {
			continue
		}
		pl.head(id, h, family, followed[id], listening[h.Group])
	}
}

// follow chooses the heads that stand for a group: on each storey the one farthest from the listener, which makes the
// farthest of all one of them.
func (pl *planner) follow(group site.GroupID, zone site.ZoneID) []site.HeadID {
	z := pl.s.Zones[zone]
	d := pl.s.Devices[z.Device]
	best := map[site.StoreyID]site.HeadID{}
	metres := map[site.StoreyID]float64{}
	for _, id := range site.SortedIDs(pl.s.Heads) {
		h := pl.s.Heads[id]
		if h.Group != group || !drives(h, pl.senses(z), z.Kind) {
			continue
		}
		storey := pl.s.Rooms[h.Room].Storey
		distance := pl.apart(d, h)
		if _, have := best[storey]; !have || distance > metres[storey] {
			best[storey], metres[storey] = id, distance
		}
	}
	var out []site.HeadID
	for _, storey := range site.SortedIDs(best) {
		out = append(out, best[storey])
	}
	return out
}

// apart is the straight distance from a listener to a head in metres, rounded to 1 mm; -1 while a place is missing.
func (pl *planner) apart(d site.Device, h site.Head) float64 {
	a, b := placeOf(pl.s, d.Room, d.At), placeOf(pl.s, h.Room, h.At)
	if !a.ok || !b.ok {
		return -1
	}
	rise := level(pl.s, d.Room) - level(pl.s, h.Room)
	flat := a.at.Distance(b.at)
	return float64(millimetres(geom.Point{X: flat, Y: rise}.Distance(geom.Point{}))) / 1000
}

func (pl *planner) head(id site.HeadID, h site.Head, family string, follow, hears []site.ZoneID) {
	st := Step{
		ID: StepID(string(id) + "." + string(ProofPress)), Kind: StepHead, Proof: ProofPress, Head: id, Family: family, Arm: ArmAny, Sounds: true,
		ToStation: len(follow) > 0, Notes: []string{}, Areas: []site.AreaID{}, Expected: []Expectation{},
	}
	pl.put(&st, h.Room, h.At)
	st.Title = string(id)
	if name := pl.s.Rooms[h.Room].Name; name != "" {
		st.Title += ": " + name
	}
	group := cmp.Or(pl.s.Groups[h.Group].Name, pl.lang.Say("group %s", h.Group))
	t := headTrip(pl.lang, h, id, group, st.ToStation)
	st.Do, st.Methods, st.Restore, st.Cautions = t.do, t.methods, t.restore, t.cautions
	st.Notes = append(st.Notes, t.notes...)
	for _, zone := range hears {
		z := pl.s.Zones[zone]
		if !drives(h, pl.senses(z), z.Kind) {
			continue
		}
		mark := ""
		if st.Zone == "" {
			st.Zone, st.Device, st.Terminal = zone, z.Device, z.Terminal
			if f := pl.family(z); f != st.Family && st.ToStation {
				st.Family = f
			}
		} else {
			mark = "-" + string(zone)
		}
		wanted := slices.Contains(follow, zone)
		for _, e := range pl.expect(st.ID, zone, mark) {
			e.Optional = !wanted
			st.Expected = append(st.Expected, e)
		}
	}
	switch {
	case h.Group == "":
		st.Notes = append(st.Notes, pl.lang.Say("Stands alone: it sounds here and tells nobody else."))
	case st.Zone == "":
		st.Notes = append(st.Notes, pl.lang.Say("Nothing in this run listens to its pattern: it sounds here and tells nobody else."))
	case !st.ToStation:
		st.Notes = append(st.Notes, pl.lang.Say("Not followed to the station: another alarm of the group on this storey is. A signal that comes is noted."))
	}
	if st.ToStation {
		st.Notes = append(st.Notes, pl.lang.Say("The bridge hears the group, not which alarm spoke. It does not see mains failure, low battery or a missing alarm."))
		if d := pl.s.Devices[st.Device]; d.Beside != "" {
			st.Notes = append(st.Notes, pl.lang.Say("Blind spot: if alarm %s beside the bridge is dead or missing, nothing is heard.", d.Beside))
		}
	}
	pl.add(st)
}
