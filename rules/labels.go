package rules

import (
	"fmt"
	"slices"
	"strings"

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
		do := "Give each its own words, naming place and danger."
		for _, id := range ids {
			if s := c.senses(c.Zones[id]); s == site.SensesThree {
				do = fmt.Sprintf("Zone %s speaks for the mains alarms of the whole house: name it so, for example \"Mains alarms smoke\".", id)
			}
		}
		c.add("zone.label.twice", report{
			where:  fmt.Sprintf("Zones %s, label", list(ids)),
			say:    fmt.Sprintf("Zones %s are called %q: neither the people in the house nor the operator can tell which one it is.", list(ids), c.Zones[id].Label),
			do:     do,
			places: places, at: c.zoneSpot(id), cause: []any{strings.ToUpper(c.Zones[id].Label)},
		})
	}
}

// label judges the words of one zone.
func (c *check) label(id site.ZoneID, z site.Zone) {
	words := labelWords(z.Label)
	if len(z.Words) > 0 {
		words = nil
		for _, w := range z.Words {
			words = append(words, strings.ToUpper(strings.TrimSpace(w)))
		}
	}
	r := report{where: c.zoneWhere(id, "label"), places: []Place{zoneAt(id)}, at: c.zoneSpot(id), cause: []any{words}}
	if len(words) == 0 {
		r.say, r.do = "The zone has no label: a half-asleep stranger hears only a number.", "Name place and danger."
		c.add("zone.label.none", r)
		return
	}
	if dangers := dangerWords[c.meant(z).Family()]; dangers != nil && !slices.ContainsFunc(words, func(w string) bool { return slices.Contains(dangers, w) }) {
		r.say = fmt.Sprintf("%q does not name the danger.", z.Label)
		r.do = fmt.Sprintf("Add what it warns of: %s.", strings.ToLower(strings.Join(dangers, ", ")))
		c.add("zone.label.danger", r)
	}
	if c.panel == nil {
		c.lack("zone.label.words", "panel profile")
		return
	}
	var said, stand, unknown []string
	for _, w := range words {
		switch other := c.instead(w); {
		case c.panel.Words[w] != "":
			said = append(said, w)
		case other != nil:
			said = append(said, other...)
			stand = append(stand, fmt.Sprintf("%q would have to be spoken as %s", w, strings.Join(other, " ")))
		default:
			said = append(said, w)
			unknown = append(unknown, fmt.Sprintf("%q", w))
		}
	}
	if len(unknown) > 0 || len(stand) > 0 {
		r.say = fmt.Sprintf("The panel has not every word of %q:", strings.Join(words, " "))
		if len(unknown) > 0 {
			r.say += fmt.Sprintf(" %s not in its spoken list;", list(unknown))
		}
		for _, s := range stand {
			r.say += " " + s + ";"
		}
		r.say = strings.TrimSuffix(r.say, ";") + "."
		r.do = "Choose other words from the panel's list, or ask for another word."
		if len(unknown) == 0 {
			r.do = fmt.Sprintf("Have it say %s.", strings.Join(said, " "))
			if len(said) <= c.panel.Label.Words {
				r.patch, r.patchSay = zonePatch(id, object{"words": said}), "words: "+strings.Join(words, " ")+" -> "+strings.Join(said, " ")
			}
		}
		c.add("zone.label.words", r)
	}
	if most := c.panel.Label.Words; most > 0 && len(said) > most {
		r.say = fmt.Sprintf("%q is %d spoken words; the panel holds %d.", strings.Join(said, " "), len(said), most)
		r.do, r.patch, r.patchSay = "Shorten it.", nil, ""
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
		c.lack("station.list", "the station's own zone list, read back")
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
			says = fmt.Sprintf("%s is missing", c.zoneSay(id))
		case strings.Join(labelWords(theirs.Label), " ") != strings.Join(labelWords(z.Label), " "):
			says = fmt.Sprintf("%s reads %q there", c.zoneSay(id), theirs.Label)
		case theirs.Code != "" && z.Code != "" && theirs.Code != z.Code:
			says = fmt.Sprintf("%s has code %s there, %s here", c.zoneSay(id), theirs.Code, z.Code)
		default:
			continue
		}
		wrong = append(wrong, says)
		places = append(places, zoneAt(id))
		cause = append(cause, z.Label, z.Code, theirs.Label, theirs.Code)
	}
	for _, id := range site.SortedIDs(c.Station.ZoneList) {
		if z, ok := c.Zones[id]; !ok || z.Kind == site.Unused {
			wrong = append(wrong, fmt.Sprintf("zone %s %q is not in the schedule", id, c.Station.ZoneList[id].Label))
			cause = append(cause, id)
		}
	}
	if len(wrong) == 0 {
		return
	}
	asOf := ""
	if !c.Station.ZoneListAsOf.IsZero() {
		asOf = " as read back " + c.Station.ZoneListAsOf.String()
	}
	const most = 6
	shown := wrong
	if len(wrong) > most {
		shown = append(slices.Clone(wrong[:most]), fmt.Sprintf("%d more", len(wrong)-most))
	}
	c.add("station.list", report{
		where:  "Station, zone list",
		say:    fmt.Sprintf("The station's list%s differs from the schedule: %s. The operator would read the wrong words to the fire service.", asOf, strings.Join(shown, "; ")),
		do:     "Send the station the list made from this schedule, and have it read back.",
		places: places, cause: cause,
	})
}
