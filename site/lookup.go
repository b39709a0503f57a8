package site

import (
	"strings"

	"proofbell/geom"
)

// ZonesOf returns the zones that a device carries, in natural order.
func (s *Site) ZonesOf(device DeviceID) []ZoneID {
	var zones []ZoneID
	for _, id := range SortedIDs(s.Zones) {
		if device != "" && s.Zones[id].Device == device {
			zones = append(zones, id)
		}
	}
	return zones
}

// ZonesByDevice returns the zones of every device that has one, in natural order: one pass where ZonesOf would be
// called for each device.
func (s *Site) ZonesByDevice() map[DeviceID][]ZoneID {
	zones := map[DeviceID][]ZoneID{}
	for _, id := range SortedIDs(s.Zones) {
		if d := s.Zones[id].Device; d != "" {
			zones[d] = append(zones[d], id)
		}
	}
	return zones
}

// ModelOf returns the model of a device. ok is false while it is not known.
func (s *Site) ModelOf(device DeviceID) (m Model, ok bool) {
	m, ok = s.Models[s.Devices[device].Model]
	return m, ok
}

// Senses returns what the terminal of a zone senses; "" while the device, its model or the terminal is not known.
func (s *Site) Senses(zone ZoneID) string {
	z := s.Zones[zone]
	m, _ := s.ModelOf(z.Device)
	return m.Senses(z.Terminal)
}

// classSenses is what a device senses of which no more than its class is known. A contact may watch anything.
var classSenses = map[string]string{
	"smoke": SensesSmoke, "heat": SensesHeat, "co": SensesCO, "gas": SensesGas, "motion": SensesMotion, "glass-break": SensesGlass, "water": SensesWater,
	"call-point": SensesFirePush, "panic-button": SensesPanic, "pendant": SensesPanic, "keyswitch": SensesKey,
}

// Senses returns what a terminal senses. Of a model that names no terminal yet its class is all that is known: a smoke detector
// senses smoke. "" where that is not known either.
func (m Model) Senses(terminal string) string {
	if len(m.Terminals) == 0 {
		return classSenses[m.Class]
	}
	return m.Terminals[terminal].Senses
}

// Detects reports whether a model senses something, with whichever of its terminals.
func (m Model) Detects(what string) bool {
	if len(m.Terminals) == 0 {
		return what != "" && classSenses[m.Class] == what
	}
	for _, t := range m.Terminals {
		if t.Senses == what {
			return true
		}
	}
	return false
}

// DeviceFamily returns the letters that the identity of a device should begin with; "" when its model says none.
func (s *Site) DeviceFamily(device DeviceID) string {
	m, _ := s.ModelOf(device)
	return m.Family
}

// StoreyOfRoom returns the storey of a room. ok is false while it is not known.
func (s *Site) StoreyOfRoom(room RoomID) (id StoreyID, ok bool) {
	id = s.Rooms[room].Storey
	return id, id != ""
}

// StoreyOfDevice returns the storey of a device: that of its room, else the one whose height its place shows.
// ok is false while neither is known.
func (s *Site) StoreyOfDevice(device DeviceID) (id StoreyID, ok bool) {
	d := s.Devices[device]
	return s.storeyOf(d.Room, d.At)
}

// StoreyOfHead is StoreyOfDevice for a self-contained alarm.
func (s *Site) StoreyOfHead(head HeadID) (id StoreyID, ok bool) {
	h := s.Heads[head]
	return s.storeyOf(h.Room, h.At)
}

func (s *Site) storeyOf(room RoomID, at Coordinates) (id StoreyID, ok bool) {
	if id, ok = s.StoreyOfRoom(room); ok {
		return id, true
	}
	z, ok := at.Height()
	if !ok {
		return "", false
	}
	return s.StoreyAt(z)
}

// StoreyAt returns the highest storey whose floor is not above height z in metres. ok is false when there is none.
func (s *Site) StoreyAt(z float64) (id StoreyID, ok bool) {
	for _, k := range SortedIDs(s.Storeys) {
		level := s.Storeys[k].Level
		if level.SI() <= z+geom.Near && (!ok || level.SI() > s.Storeys[id].Level.SI()) {
			id, ok = k, true
		}
	}
	return id, ok
}

// RoomAt returns the room of a storey whose outline holds p, the first in natural order when p lies between two.
func (s *Site) RoomAt(storey StoreyID, p geom.Point) (id RoomID, ok bool) {
	for _, k := range SortedIDs(s.Rooms) {
		if r := s.Rooms[k]; r.Storey == storey && r.Outline.Polygon().Contains(p) {
			return k, true
		}
	}
	return "", false
}

// Ceiling returns the height of the ceiling above the floor of a room in metres: the room's own, else its storey's.
func (s *Site) Ceiling(room RoomID) (height float64, ok bool) {
	r := s.Rooms[room]
	c := r.Ceiling
	if c.IsZero() {
		c = s.Storeys[r.Storey].Ceiling
	}
	return c.SI(), !c.IsZero()
}

// Way is a way between two rooms, or from a room to the outside.
type Way struct {
	Opening OpeningID
	Kind    string // as in Opening
	A, B    RoomID // B is empty for a way to the outside
	At      geom.Point
	Placed  bool // whether At is known
}

// Ways returns the ways between rooms through which people walk, in natural order of the openings.
// Windows are left out; openings that name no room too.
func (s *Site) Ways() []Way {
	var ways []Way
	for _, id := range SortedIDs(s.Openings) {
		o := s.Openings[id]
		if o.Kind == "window" || len(o.Rooms) == 0 {
			continue
		}
		w := Way{Opening: id, Kind: o.Kind, A: o.Rooms[0]}
		if len(o.Rooms) > 1 {
			w.B = o.Rooms[1]
		}
		w.At, w.Placed = o.At.Point()
		ways = append(ways, w)
	}
	return ways
}

// HeadsOf returns the heads of an interconnect group, in natural order.
func (s *Site) HeadsOf(group GroupID) []HeadID {
	var heads []HeadID
	for _, id := range SortedIDs(s.Heads) {
		if group != "" && s.Heads[id].Group == group {
			heads = append(heads, id)
		}
	}
	return heads
}

// ContactPhone returns the number on which a contact is called: its own, else the person's.
func (s *Site) ContactPhone(contact ContactID) string {
	c := s.Contacts[contact]
	if c.Phone != "" {
		return c.Phone
	}
	return s.People[c.Person].Phone
}

// ParseToken reads a token as people type it: small letters, without its dash, with O for 0 and I or L for 1.
// ok is false for anything else.
func ParseToken(text string) (token Token, ok bool) {
	plain := strings.NewReplacer("-", "", " ", "", "O", "0", "I", "1", "L", "1").Replace(strings.ToUpper(text))
	if len(plain) != 8 {
		return "", false
	}
	token = Token(plain[:4] + "-" + plain[4:])
	return token, isSticker(string(token))
}

// Stuck returns what carries a sticker, as a JSON pointer: "/devices/hall-smoke"; "" is the panel. ok is false when
// nothing does.
func (s *Site) Stuck(token Token) (about string, ok bool) {
	if token == "" {
		return "", false
	}
	if s.Sticker == token {
		return "", true
	}
	for _, id := range SortedIDs(s.Devices) {
		if s.Devices[id].Sticker == token {
			return pointer("/devices", string(id)), true
		}
	}
	for _, id := range SortedIDs(s.Heads) {
		if s.Heads[id].Sticker == token {
			return pointer("/heads", string(id)), true
		}
	}
	return "", false
}
