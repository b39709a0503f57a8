package rules

import (
	"slices"
	"strings"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/site"
)

func (c *check) identities() {
	holders := map[string][]site.DeviceID{}
	for _, id := range c.deviceIDs {
		if identity := c.Devices[id].Identity; identity != "" {
			holders[identity] = append(holders[identity], id)
		}
	}
	for _, id := range c.deviceIDs {
		d := c.Devices[id]
		m, known := c.ModelOf(id)
		switch {
		case known && m.Link != "radio":
			continue
		case d.Identity == "":
			if known {
				c.lack("zone.identity.check", words.Later("identity of a radio device"), deviceAt(id))
			}
			continue
		}
		if n := len(holders[d.Identity]); n > 1 {
			if holders[d.Identity][0] == id {
				c.sameIdentity(d.Identity, holders[d.Identity])
			}
			continue
		}
		if !c.identityForm(id, d) {
			continue
		}
		if known && m.Family != "" && !strings.HasPrefix(d.Identity, m.Family) {
			c.add("zone.identity.family", report{
				where:  c.deviceWhere(id, c.lang.Say("identity")),
				say:    c.lang.Say("%s does not begin with %s, the letters of this model (%s): another device would be enrolled here.", d.Identity, m.Family, m.Name),
				do:     c.lang.Say("Read the label of the device again."),
				places: c.devicePlaces(id), at: c.spot(d.At, d.Room), cause: []any{d.Identity, m.Family},
			})
			continue
		}
		verdict := site.CheckIdentity(d.Identity)
		if !verdict.Known {
			c.lack("zone.identity.check", words.Later("the check digit's rule for this family of identities"), deviceAt(id))
			continue
		}
		if verdict.Good {
			continue
		}
		r := report{
			where:  c.deviceWhere(id, c.lang.Say("identity")),
			say:    c.lang.Say("%s fails its check digit: as typed, no device has this identity and the zone would never be heard.", d.Identity),
			do:     c.lang.Say("Read the label again, aloud and digit by digit."),
			places: c.devicePlaces(id), at: c.spot(d.At, d.Room), cause: []any{d.Identity},
		}
		likely := slices.DeleteFunc(slices.Clone(verdict.Swapped), func(s string) bool { return len(holders[s]) > 0 })
		if len(likely) > 0 {
			r.say += " " + c.lang.Say("Likely %s (two digits swapped).", strings.Join(likely, " / "))
		}
		c.add("zone.identity.check", r)
	}
}

// identityForm holds the form of an identity against the panel.
func (c *check) identityForm(id site.DeviceID, d site.Device) bool {
	if c.panel == nil || c.panel.Identity.Letters+c.panel.Identity.Digits == 0 {
		return true
	}
	form := c.panel.Identity
	letters := strings.TrimLeft(d.Identity, "ABCDEFGHIJKLMNOPQRSTUVWXYZ")
	if len(d.Identity) == form.Letters+form.Digits && len(letters) == form.Digits && strings.Trim(letters, "0123456789") == "" {
		return true
	}
	c.add("zone.identity.check", report{
		where:  c.deviceWhere(id, c.lang.Say("identity")),
		say:    c.lang.Say("%q is not an identity that the panel takes: want %d letters and %d digits.", d.Identity, form.Letters, form.Digits),
		do:     c.lang.Say("Read the label again, aloud and digit by digit."),
		places: c.devicePlaces(id), at: c.spot(d.At, d.Room), cause: []any{d.Identity},
	})
	return false
}

// sameIdentity says that several devices carry one identity, and whose it is by its letters.
func (c *check) sameIdentity(identity string, ids []site.DeviceID) {
	var places []Place
	var zones, owners, others []string
	for _, id := range ids {
		places = append(places, c.devicePlaces(id)...)
		name := c.deviceSay(id)
		for _, z := range c.zonesOf[id] {
			zones = append(zones, string(z))
		}
		if m, ok := c.ModelOf(id); ok && m.Family != "" && strings.HasPrefix(identity, m.Family) {
			owners = append(owners, name)
		} else {
			others = append(others, name)
		}
	}
	sorts.Stable(places, comparePlace)
	r := report{
		where: c.lang.Say("Devices %s, identity", words.List(c.lang, ids)), places: places, cause: []any{identity},
		say: c.lang.Say("%s stands for %d devices. The panel can not tell them apart: one trips the other's zone, and a dead one is not missed.", identity, len(ids)),
		do:  c.lang.Say("Read the labels of all of them again."),
	}
	d := c.Devices[ids[len(ids)-1]]
	r.at = c.spot(d.At, d.Room)
	if len(zones) > 0 {
		r.where = c.lang.Say("Zones %s, identity", words.List(c.lang, zones))
	}
	if len(owners) == 1 && len(others) > 0 {
		r.say += " " + c.lang.Say("By its letters it belongs to %s.", owners[0])
		r.do = c.lang.Say("Read the label of %s again.", words.List(c.lang, others))
	}
	c.add("zone.identity.twice", r)
}

// devicePlaces are the zones of a device and the device itself.
func (c *check) devicePlaces(id site.DeviceID) []Place {
	var places []Place
	for _, z := range c.zonesOf[id] {
		places = append(places, zoneAt(z))
	}
	return append(places, deviceAt(id))
}

func (c *check) deviceWhere(id site.DeviceID, what string) string {
	return c.about(c.deviceTitle(id), what)
}

// deviceTitle names a device by its first zone when it has one, for the first line of a finding.
func (c *check) deviceTitle(id site.DeviceID) string {
	if zones := c.zonesOf[id]; len(zones) > 0 {
		return c.zoneTitle(zones[0])
	}
	return c.lang.Say("Device %s", id)
}

// deviceSay names a device by its zone when it has one.
func (c *check) deviceSay(id site.DeviceID) string {
	if zones := c.zonesOf[id]; len(zones) > 0 {
		return c.zoneSay(zones[0])
	}
	return c.lang.Say("device %s", id)
}

// detecting are the classes of parts that must be in a zone to tell anyone anything.
var detecting = map[string]bool{
	"contact": true, "motion": true, "glass-break": true, "bridge": true, "smoke": true, "heat": true, "co": true, "gas": true, "call-point": true,
	"water": true, "temperature": true, "pendant": true, "panic-button": true, "keyswitch": true, "contact-module": true,
}

// inputs holds zones and devices against each other: one input, one zone.
func (c *check) inputs() {
	type input struct {
		device   site.DeviceID
		terminal string
	}
	users := map[input][]site.ZoneID{}
	for _, id := range c.zoneIDs {
		if z := c.Zones[id]; z.Device != "" {
			in := input{z.Device, z.Terminal}
			users[in] = append(users[in], id)
		}
	}
	for _, id := range c.zoneIDs {
		z := c.Zones[id]
		ids := users[input{z.Device, z.Terminal}]
		if z.Device == "" || len(ids) < 2 || ids[0] != id {
			continue
		}
		places := make([]Place, 0, len(ids)+1)
		for _, id := range ids {
			places = append(places, zoneAt(id))
		}
		c.add("zone.input.twice", report{
			where:  c.lang.Say("Zones %s, device", words.List(c.lang, ids)),
			say:    c.lang.Say("Zones %s follow the same input, terminal %s of %s. One trip becomes several alarms, and a wrong zone among them sends people to the wrong place.", words.List(c.lang, ids), c.orNone(z.Terminal), z.Device),
			do:     c.lang.Say("Keep one of them; give the others their own device or terminal."),
			places: append(places, deviceAt(z.Device)), at: c.zoneSpot(id), cause: []any{z.Terminal},
		})
	}
	for _, id := range c.deviceIDs {
		m, ok := c.ModelOf(id)
		if !ok || !detecting[m.Class] || len(c.zonesOf[id]) > 0 {
			continue
		}
		if len(c.Zones) == 0 {
			c.lack("device.unzoned", words.Later("zone schedule"), deviceAt(id))
			continue
		}
		d := c.Devices[id]
		c.add("device.unzoned", report{
			where: c.lang.Say("Device %s, zone", id), say: c.lang.Say("%s is on the plan but in no zone: whatever it senses, the panel tells nobody.", m.Name),
			do: c.lang.Say("Give it a zone, or take it off the plan."), places: []Place{deviceAt(id)}, at: c.spot(d.At, d.Room),
		})
	}
}
