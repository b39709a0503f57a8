package rules

import (
	"slices"
	"strings"

	"proofbell/internal/labels"
	"proofbell/internal/words"
	"proofbell/site"
)

// dangerWords are the words by which a life-safety label names its danger, by family of zones.
var dangerWords = map[string][]string{
	"fire": {"SMOKE", "HEAT", "FIRE"},
	"co":   {"CARBON", "MONOXIDE", "CO"},
	"gas":  {"GAS"},
}

func (c *check) labels() {
	same := map[string][]site.ZoneID{}
	for _, id := range c.zoneIDs {
		z := c.Zones[id]
		if z.Kind == site.Unused || z.Kind == "" && z.Device == "" {
			continue
		}
		if norm := strings.Join(labels.Split(z.Label), " "); norm != "" {
			same[norm] = append(same[norm], id)
		}
		c.label(id, z)
	}
	for _, id := range c.zoneIDs {
		ids := same[strings.Join(labels.Split(c.Zones[id].Label), " ")]
		if len(ids) < 2 || ids[0] != id {
			continue
		}
		places := make([]Place, len(ids))
		for i, id := range ids {
			places[i] = zoneAt(id)
		}
		do := c.lang.Say("Give each its own words, naming place and danger.")
		patch, patchSay := c.otherWords(ids)
		for _, id := range ids {
			if s := c.senses(c.Zones[id]); s == site.SensesThree {
				do = c.lang.Say("Zone %s speaks for the mains alarms of the whole house: name it so, for example \"Mains alarms smoke\".", id)
			}
		}
		c.add("zone.label.twice", report{
			where:  c.lang.Say("Zones %s, label", words.List(c.lang, ids)),
			say:    c.lang.Say("Zones %s are called %q: neither the people in the house nor the operator can tell which one it is.", words.List(c.lang, ids), c.Zones[id].Label),
			do:     do,
			places: places, at: c.zoneSpot(id), cause: []any{strings.ToUpper(c.Zones[id].Label)},
			patch: patch, patchSay: patchSay,
		})
	}
}

// label judges the words of one zone.
func (c *check) label(id site.ZoneID, z site.Zone) {
	spoken := labels.Split(z.Label)
	if len(z.Words) > 0 {
		spoken = nil
		for _, w := range z.Words {
			spoken = append(spoken, strings.ToUpper(strings.TrimSpace(w)))
		}
	}
	r := report{where: c.zoneWhere(id, c.lang.Say("label")), places: []Place{zoneAt(id)}, at: c.zoneSpot(id), cause: []any{spoken}}
	if len(spoken) == 0 {
		r.say, r.do = c.lang.Say("The zone has no label: a half-asleep stranger hears only a number."), c.lang.Say("Name place and danger.")
		c.add("zone.label.none", r)
		return
	}
	if dangers := dangerWords[c.meant(z).Family()]; dangers != nil && !slices.ContainsFunc(spoken, func(w string) bool { return slices.Contains(dangers, w) }) {
		r.say = c.lang.Say("%q does not name the danger.", z.Label)
		r.do = c.lang.Say("Add what it warns of: %s.", strings.ToLower(strings.Join(dangers, ", ")))
		c.add("zone.label.danger", r)
	}
	if c.panel == nil {
		c.lack("zone.label.words", words.Later("panel profile"))
		return
	}
	l := labels.Find(c.labelled(), id)
	if l == nil {
		return
	}
	mend := func() {
		if len(l.Proposals) == 0 {
			return
		}
		said := l.Proposals[0].Words
		r.do = c.lang.Say("Have it say %s.", strings.Join(said, " "))
		r.patch, r.patchSay = zonePatch(id, object{"words": said}), c.change(c.lang.Say("words"), strings.Join(spoken, " "), strings.Join(said, " "))
	}
	if len(l.Missing) > 0 {
		r.do = c.lang.Say("Choose other words from the panel's list, or ask for another word.")
		if len(l.Proposals) > 0 {
			r.say = c.lang.Say("The panel has not every word of %q: %s.", strings.Join(spoken, " "), strings.Join(l.Proposals[0].Why, "; "))
		} else {
			r.say = strings.TrimSpace(c.lang.Say("The panel has not every word of %q: %s.", strings.Join(spoken, " "), c.lang.Say("%s not in its spoken list", words.List(c.lang, l.Missing))) + " " + l.Why)
		}
		mend()
		c.add("zone.label.words", r)
	}
	if most := c.panel.Label.Words; most > 0 && len(spoken) > most && (len(l.Missing) == 0 || len(l.Proposals) == 0) {
		r.say = c.lang.Say("%q is %d spoken words; the panel holds %d.", strings.Join(spoken, " "), len(spoken), most)
		r.do, r.patch, r.patchSay = c.lang.Say("Shorten it."), nil, ""
		mend()
		c.add("zone.label.length", r)
	}
}

// labelled is what the panel can say for each zone, found out once.
func (c *check) labelled() []labels.Label {
	if c.spoken == nil {
		c.spoken = labels.Of(c.lang, c.Site, c.panel)
	}
	return c.spoken
}

// otherWords gives zones that have one label the closest ones that are still true, where the panel is known.
func (c *check) otherWords(ids []site.ZoneID) (patch object, say string) {
	if c.panel == nil {
		return nil, ""
	}
	zones := object{}
	var changes []string
	for _, id := range ids {
		l := labels.Find(c.labelled(), id)
		if l == nil || len(l.Proposals) == 0 {
			continue
		}
		label := l.Proposals[0].Text()
		members := object{"label": label}
		if len(c.Zones[id].Words) > 0 {
			members["words"] = nil
		}
		zones[string(id)] = members
		changes = append(changes, c.change(c.lang.Say("zone %s, label", id), c.Zones[id].Label, label))
	}
	if len(zones) < len(ids)-1 {
		return nil, "" // two would still be called the same
	}
	return object{"zones": zones}, strings.Join(changes, "; ")
}

// stationList holds the station's own zone list, as it was last read back, against the schedule.
func (c *check) stationList() {
	if len(c.Zones) == 0 {
		return
	}
	if len(c.Station.ZoneList) == 0 {
		c.lack("station.list", words.Later("the station's own zone list, read back"))
		return
	}
	var wrong []string
	var cause []any
	places := []Place{{"station", "zoneList"}}
	for _, id := range c.zoneIDs {
		z := c.Zones[id]
		theirs, listed := c.Station.ZoneList[id]
		if z.Kind == site.Unused || z.Kind == "" && z.Device == "" {
			continue
		}
		says := ""
		switch {
		case !listed:
			says = c.lang.Say("%s is missing", c.zoneSay(id))
		case strings.Join(labels.Split(theirs.Label), " ") != strings.Join(labels.Split(z.Label), " "):
			says = c.lang.Say("%s reads %q there", c.zoneSay(id), theirs.Label)
		case theirs.Code != "" && z.Code != "" && theirs.Code != z.Code:
			says = c.lang.Say("%s has code %s there, %s here", c.zoneSay(id), theirs.Code, z.Code)
		default:
			continue
		}
		wrong = append(wrong, says)
		places = append(places, zoneAt(id))
		cause = append(cause, z.Label, z.Code, theirs.Label, theirs.Code)
	}
	for _, id := range site.SortedIDs(c.Station.ZoneList) {
		if z, ok := c.Zones[id]; !ok || z.Kind == site.Unused {
			wrong = append(wrong, c.lang.Say("zone %s %q is not in the schedule", id, c.Station.ZoneList[id].Label))
			cause = append(cause, id)
		}
	}
	if len(wrong) == 0 {
		return
	}
	asOf := ""
	if !c.Station.ZoneListAsOf.IsZero() {
		asOf = c.lang.Say(" as read back %s", c.dated(c.Station.ZoneListAsOf))
	}
	const most = 6
	shown := wrong
	if len(wrong) > most {
		shown = append(slices.Clone(wrong[:most]), c.lang.Say("%d more", len(wrong)-most))
	}
	c.add("station.list", report{
		where:  c.lang.Say("Station, zone list"),
		say:    c.lang.Say("The station's list%s differs from the schedule: %s. The operator would read the wrong words to the fire service.", asOf, strings.Join(shown, "; ")),
		do:     c.lang.Say("Send the station the list made from this schedule, and have it read back."),
		places: places, cause: cause,
	})
}
