package rules

import (
	"fmt"
	"slices"
	"strings"

	"proofbell/internal/words"
	"proofbell/site"
)

// labelWords splits a label as the panel's voice would.
func labelWords(label string) []string {
	return strings.FieldsFunc(strings.ToUpper(label), func(r rune) bool { return strings.ContainsRune(" \t,.;:/-'()", r) })
}

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
		if norm := strings.Join(labelWords(z.Label), " "); norm != "" {
			same[norm] = append(same[norm], id)
		}
		c.label(id, z)
	}
	for _, id := range c.zoneIDs {
		ids := same[strings.Join(labelWords(c.Zones[id].Label), " ")]
		if len(ids) < 2 || ids[0] != id {
			continue
		}
		places := make([]Place, len(ids))
		for i, id := range ids {
			places[i] = zoneAt(id)
		}
		do := c.lang.Say("Give each its own words, naming place and danger.")
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
		})
	}
}

// label judges the words of one zone.
func (c *check) label(id site.ZoneID, z site.Zone) {
	spoken := labelWords(z.Label)
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
	var said, stand, unknown []string
	for _, w := range spoken {
		switch other := c.instead(w); {
		case c.panel.Words[w] != "":
			said = append(said, w)
		case other != nil:
			said = append(said, other...)
			stand = append(stand, c.lang.Say("%q would have to be spoken as %s", w, strings.Join(other, " ")))
		default:
			said = append(said, w)
			unknown = append(unknown, fmt.Sprintf("%q", w))
		}
	}
	if len(unknown) > 0 || len(stand) > 0 {
		var why []string
		if len(unknown) > 0 {
			why = append(why, c.lang.Say("%s not in its spoken list", words.List(c.lang, unknown)))
		}
		r.say = c.lang.Say("The panel has not every word of %q: %s.", strings.Join(spoken, " "), strings.Join(append(why, stand...), "; "))
		r.do = c.lang.Say("Choose other words from the panel's list, or ask for another word.")
		if len(unknown) == 0 {
			r.do = c.lang.Say("Have it say %s.", strings.Join(said, " "))
			if len(said) <= c.panel.Label.Words {
				r.patch, r.patchSay = zonePatch(id, object{"words": said}), c.change(c.lang.Say("words"), strings.Join(spoken, " "), strings.Join(said, " "))
			}
		}
		c.add("zone.label.words", r)
	}
	if most := c.panel.Label.Words; most > 0 && len(said) > most {
		r.say = c.lang.Say("%q is %d spoken words; the panel holds %d.", strings.Join(said, " "), len(said), most)
		r.do, r.patch, r.patchSay = c.lang.Say("Shorten it."), nil, ""
		c.add("zone.label.length", r)
	}
}

// instead proposes spoken words for one that the panel does not say: the panel's own, or the full name of the danger.
func (c *check) instead(word string) []string {
	if other := c.panel.SayInstead(word); other != nil {
		return other
	}
	full := []string{"CARBON", "MONOXIDE"}
	if word == "CO" && c.panel.Words[full[0]] != "" && c.panel.Words[full[1]] != "" {
		return full
	}
	return nil
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
		case strings.Join(labelWords(theirs.Label), " ") != strings.Join(labelWords(z.Label), " "):
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
