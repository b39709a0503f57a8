package practice

import (
	"fmt"
	"slices"
	"strings"

	"proofbell/panel"
	"proofbell/quantity"
	"proofbell/site"
)

// mistake changes a copy of a site.
type mistake func(*site.Site)

// sort is one kind of mistake, with all places where a site could have it.
type sort struct {
	rules []string // one of which finds it
	level int      // from which it is planted
	of    func(*site.Site, *panel.Profile) []mistake
}

func ruled(level int, rules string, of func(*site.Site, *panel.Profile) []mistake) sort {
	return sort{strings.Fields(rules), level, of}
}

// sorts are the kinds of mistakes. Their order decides what a seed plants: append only.
var sorts = []sort{
	ruled(1, "zone.kind.senses", kinds),
	ruled(1, "zone.fire.verify", zoneWise(func(s *site.Site, id site.ZoneID, z *site.Zone) bool {
		senses := s.Senses(id)
		z.Kind = site.SmokeVerified
		return senses == site.SensesFirePush || senses == site.SensesHeat || senses == site.SensesThree
	})),
	ruled(1, "zone.code.kind zone.code.life", codes),
	ruled(1, "zone.fire.bypass", zoneWise(func(_ *site.Site, _ site.ZoneID, z *site.Zone) bool {
		was := z.Bypass
		z.Bypass = true
		return z.Kind.LifeSafety() && !was
	})),
	ruled(1, "zone.fire.tone", zoneWise(func(_ *site.Site, _ site.ZoneID, z *site.Zone) bool {
		was := z.DoorTone
		z.DoorTone = true
		return z.Kind.LifeSafety() && !was
	})),
	ruled(1, "zone.fire.window", zoneWise(func(_ *site.Site, _ site.ZoneID, z *site.Zone) bool {
		was := z.LossWindow
		z.LossWindow = "never"
		return z.Kind.LifeSafety() && was != ""
	})),
	ruled(2, "zone.fire.window", zoneWise(func(_ *site.Site, _ site.ZoneID, z *site.Zone) bool {
		was := z.LossWindow
		z.LossWindow = "24 h"
		return z.Kind.LifeSafety() && was != ""
	})),
	ruled(2, "zone.window.never", zoneWise(func(_ *site.Site, _ site.ZoneID, z *site.Zone) bool {
		was := z.LossWindow
		z.LossWindow = "never"
		return !z.Kind.LifeSafety() && was != "" && was != "never"
	})),
	ruled(1, "zone.fire.paths", zoneWise(func(_ *site.Site, _ site.ZoneID, z *site.Zone) bool {
		if !z.Kind.LifeSafety() || len(z.Paths) < 2 {
			return false
		}
		z.Paths = z.Paths[:1]
		return true
	})),
	ruled(2, "zone.window.carried", zoneWise(func(s *site.Site, id site.ZoneID, z *site.Zone) bool {
		z.LossWindow = "24 h"
		return s.Senses(id) == site.SensesPanic
	})),
	ruled(2, "zone.panic.tone", zoneWise(func(_ *site.Site, _ site.ZoneID, z *site.Zone) bool {
		z.DoorTone = true
		return z.Kind == site.PanicQuiet
	})),
	ruled(2, "zone.panic.bypass", zoneWise(func(_ *site.Site, _ site.ZoneID, z *site.Zone) bool {
		z.Bypass = true
		return z.Kind.Family() == "panic"
	})),
	ruled(2, "zone.area.way", areas),
	ruled(1, "zone.identity.check", digits),
	ruled(2, "zone.identity.twice", same),
	ruled(2, "zone.label.twice", alike),
	ruled(2, "zone.label.words", unsaid),
	ruled(1, "age.head.passed", headWise(func(h *site.Head) bool {
		made := h.Made.String()
		if len(made) < 7 {
			return false
		}
		h.Made, _ = site.ParseDate("2012" + made[4:7]) // an alarm of that year is past every life there is
		return true
	})),
	ruled(2, "head.alone", headWise(func(h *site.Head) bool {
		was := h.Group
		h.Group = ""
		return was != ""
	})),
	ruled(2, "group.supply", headWise(func(h *site.Head) bool {
		h.Power = "battery"
		return h.Group != ""
	})),
	ruled(1, "settings.exit", settingWise(func(v *site.Settings) { v.ExitDelay = seconds(30) })),
	ruled(1, "settings.abort.life", settingWise(func(v *site.Settings) {
		v.AbortWindow.Applies = append(slices.Clone(v.AbortWindow.Applies), "fire")
	}, func(v *site.Settings) {
		v.AbortWindow.Applies = append(slices.Clone(v.AbortWindow.Applies), "co")
	})),
	ruled(1, "settings.limit.life", settingWise(func(v *site.Settings) {
		v.TripLimit.Applies = append(slices.Clone(v.TripLimit.Applies), "fire")
	})),
	ruled(2, "settings.sounder power.alarm-time", settingWise(func(v *site.Settings) { v.FireSounder = seconds(120) })),
	ruled(2, "power.battery", powerWise(func(p *site.Power) { p.Battery = quantity.MustParse[quantity.ChargeDimension]("7.0 Ah") })),
	ruled(2, "power.alarm-time", powerWise(func(p *site.Power) { p.AlarmTime = seconds(240) })),
	ruled(2, "power.standby-time", powerWise(func(p *site.Power) { p.Standby = quantity.MustParse[quantity.DurationDimension]("12 h") })),
	ruled(1, "station.list", listed(func(list map[site.ZoneID]site.StationZone, id site.ZoneID) { delete(list, id) })),
	ruled(2, "station.list", listed(func(list map[site.ZoneID]site.StationZone, id site.ZoneID) {
		one := list[id]
		one.Label = "Back office, burglary"
		list[id] = one
	})),
	ruled(2, "contacts.reachable", contacts),
	ruled(2, "guests.assessment", func(*site.Site, *panel.Profile) []mistake {
		return []mistake{func(s *site.Site) { s.Premises.RiskAssessment = "asked" }}
	}),
	ruled(3, "sleep.detection storey.detection co.fuel panel.detection", gone),
	ruled(3, "sleep.detection bridge.pattern", headsGone),
	ruled(3, "bridge.place", moved),
	ruled(3, "circuit.end", func(s *site.Site, _ *panel.Profile) (out []mistake) {
		for _, id := range site.SortedIDs(s.Circuits) {
			out = append(out, func(s *site.Site) { s.Circuits = with(s.Circuits, id, func(c *site.Circuit) { c.EndOfLine = "" }) })
		}
		return out
	}),
	ruled(3, "path.kinds", func(s *site.Site, _ *panel.Profile) (out []mistake) {
		for _, id := range site.SortedIDs(s.Account.Paths) {
			for _, other := range s.Account.Paths {
				if other.Kind != s.Account.Paths[id].Kind {
					out = append(out, func(s *site.Site) {
						s.Account.Paths = with(s.Account.Paths, id, func(p *site.Path) { p.Kind = other.Kind })
					})
				}
			}
		}
		return out
	}),
	ruled(3, "motion.machine", func(s *site.Site, _ *panel.Profile) (out []mistake) {
		for _, id := range site.SortedIDs(s.Devices) {
			if d := s.Devices[id]; s.Models[d.Model].Class == "motion" && slices.Contains(s.Rooms[d.Room].Hazards, "machine") {
				out = append(out, func(s *site.Site) { s.Devices = with(s.Devices, id, func(d *site.Device) { d.Faces = d.Room }) })
			}
		}
		return out
	}),
}

func seconds(n int) quantity.Duration {
	return quantity.MustParse[quantity.DurationDimension](fmt.Sprintf("%d s", n))
}

// zoneWise makes a mistake of each zone of which change says that it is one.
func zoneWise(change func(*site.Site, site.ZoneID, *site.Zone) bool) func(*site.Site, *panel.Profile) []mistake {
	return func(s *site.Site, _ *panel.Profile) (out []mistake) {
		for _, id := range site.SortedIDs(s.Zones) {
			z := s.Zones[id]
			if change(s, id, &z) {
				out = append(out, func(s *site.Site) { s.Zones = with(s.Zones, id, func(one *site.Zone) { *one = z }) })
			}
		}
		return out
	}
}

func headWise(change func(*site.Head) bool) func(*site.Site, *panel.Profile) []mistake {
	return func(s *site.Site, _ *panel.Profile) (out []mistake) {
		for _, id := range site.SortedIDs(s.Heads) {
			h := s.Heads[id]
			if change(&h) {
				out = append(out, func(s *site.Site) { s.Heads = with(s.Heads, id, func(one *site.Head) { *one = h }) })
			}
		}
		return out
	}
}

func settingWise(changes ...func(*site.Settings)) func(*site.Site, *panel.Profile) []mistake {
	return func(*site.Site, *panel.Profile) (out []mistake) {
		for _, change := range changes {
			out = append(out, func(s *site.Site) { change(&s.Settings) })
		}
		return out
	}
}

func powerWise(change func(*site.Power)) func(*site.Site, *panel.Profile) []mistake {
	return func(*site.Site, *panel.Profile) []mistake {
		return []mistake{func(s *site.Site) { change(&s.Power) }}
	}
}

// relist keeps the station's list like the schedule, so that a wrong label or code is one mistake and not two.
func relist(s *site.Site, id site.ZoneID) {
	if _, is := s.Station.ZoneList[id]; is {
		s.Station.ZoneList = with(s.Station.ZoneList, id, func(one *site.StationZone) { one.Label, one.Code = s.Zones[id].Label, s.Zones[id].Code })
	}
}

// kinds gives a zone the kind of something else.
func kinds(s *site.Site, _ *panel.Profile) (out []mistake) {
	wrong := map[string][]site.ZoneKind{
		site.SensesSmoke: {site.Observe, site.AlwaysLoud}, site.SensesThree: {site.AlwaysLoud}, site.SensesHeat: {site.Smoke}, site.SensesCO: {site.Smoke, site.Observe}, site.SensesFour: {site.Smoke},
	}
	for _, id := range site.SortedIDs(s.Zones) {
		for _, k := range wrong[s.Senses(id)] {
			out = append(out, func(s *site.Site) { s.Zones = with(s.Zones, id, func(z *site.Zone) { z.Kind = k }) })
		}
	}
	return out
}

// codes gives a zone the station code of another danger.
func codes(s *site.Site, _ *panel.Profile) (out []mistake) {
	wrong := map[site.ZoneKind]string{site.Water: "111", site.Cold: "154", site.Smoke: "131", site.Heat: "131", site.CO: "111", site.CallPoint: "131"}
	for _, id := range site.SortedIDs(s.Zones) {
		if code := wrong[s.Zones[id].Kind]; code != "" && s.Zones[id].Code != code {
			out = append(out, func(s *site.Site) {
				s.Zones = with(s.Zones, id, func(z *site.Zone) { z.Code = code })
				relist(s, id)
			})
		}
	}
	return out
}

// areas puts a zone on the way in into an area that is entered elsewhere.
func areas(s *site.Site, _ *panel.Profile) (out []mistake) {
	for _, id := range site.SortedIDs(s.Zones) {
		for _, area := range site.SortedIDs(s.Areas) {
			if s.Zones[id].Kind == site.Inside && s.Zones[id].Area != area {
				out = append(out, func(s *site.Site) { s.Zones = with(s.Zones, id, func(z *site.Zone) { z.Area = area }) })
			}
		}
	}
	return out
}

// digits swaps two digits of an identity that stand side by side, as the eye does under a ladder.
func digits(s *site.Site, _ *panel.Profile) (out []mistake) {
	for _, id := range site.SortedIDs(s.Devices) {
		text := s.Devices[id].Identity
		for i := 2; i+1 < len(text); i++ {
			if text[i] != text[i+1] {
				swapped := text[:i] + text[i+1:i+2] + text[i:i+1] + text[i+2:]
				out = append(out, func(s *site.Site) { s.Devices = with(s.Devices, id, func(d *site.Device) { d.Identity = swapped }) })
			}
		}
	}
	return out
}

// same gives a device the identity of another.
func same(s *site.Site, _ *panel.Profile) (out []mistake) {
	ids := site.SortedIDs(s.Devices)
	for _, id := range ids {
		for _, other := range ids {
			if identity := s.Devices[other].Identity; id != other && identity != "" && s.Devices[id].Identity != "" && s.Devices[id].Identity != identity {
				out = append(out, func(s *site.Site) { s.Devices = with(s.Devices, id, func(d *site.Device) { d.Identity = identity }) })
			}
		}
	}
	return out
}

// alike calls a zone by the label of another of its family.
func alike(s *site.Site, _ *panel.Profile) (out []mistake) {
	ids := site.SortedIDs(s.Zones)
	for _, id := range ids {
		for _, other := range ids {
			if z := s.Zones[other]; id != other && z.Label != "" && z.Kind == s.Zones[id].Kind {
				out = append(out, func(s *site.Site) {
					s.Zones = with(s.Zones, id, func(one *site.Zone) { one.Label, one.Words = z.Label, nil })
					relist(s, id)
				})
			}
		}
	}
	return out
}

// unsaid writes a label with a word that the panel would have to say in another way.
func unsaid(s *site.Site, p *panel.Profile) (out []mistake) {
	if p == nil {
		return nil
	}
	for _, id := range site.SortedIDs(s.Zones) {
		for _, word := range site.SortedIDs(p.SayAs) {
			said := strings.ToLower(strings.Join(p.SayAs[word], " "))
			label, is := strings.CutPrefix(strings.ToLower(s.Zones[id].Label), said+" ")
			if is && len(s.Zones[id].Words) == 0 {
				other := word[:1] + strings.ToLower(word[1:]) + " " + label
				out = append(out, func(s *site.Site) {
					s.Zones = with(s.Zones, id, func(z *site.Zone) { z.Label = other })
					relist(s, id)
				})
			}
		}
	}
	return out
}

// listed changes the station's own list.
func listed(change func(map[site.ZoneID]site.StationZone, site.ZoneID)) func(*site.Site, *panel.Profile) []mistake {
	return func(s *site.Site, _ *panel.Profile) (out []mistake) {
		for _, id := range site.SortedIDs(s.Station.ZoneList) {
			out = append(out, func(s *site.Site) {
				s.Station.ZoneList = with(s.Station.ZoneList, id, func(*site.StationZone) {})
				change(s.Station.ZoneList, id)
			})
		}
		return out
	}
}

func contacts(s *site.Site, _ *panel.Profile) (out []mistake) {
	for _, id := range site.SortedIDs(s.Contacts) {
		out = append(out, func(s *site.Site) { s.Contacts = with(s.Contacts, id, func(c *site.Contact) { c.Passcode = "none" }) })
	}
	return out
}

// gone takes a detector out, with its zone.
func gone(s *site.Site, _ *panel.Profile) (out []mistake) {
	for _, id := range site.SortedIDs(s.Zones) {
		z := s.Zones[id]
		if senses := s.Senses(id); senses != site.SensesSmoke && senses != site.SensesCO || len(s.ZonesOf(z.Device)) != 1 || wired(s, z.Device) {
			continue
		}
		out = append(out, func(s *site.Site) {
			s.Zones, s.Devices = without(s.Zones, id), without(s.Devices, z.Device)
			s.Station.ZoneList = without(s.Station.ZoneList, id)
		})
	}
	return out
}

// wired tells whether a circuit names a device along its cable: such a device does not go without it.
func wired(s *site.Site, device site.DeviceID) bool {
	for _, c := range s.Circuits {
		for _, p := range c.Parts {
			if p.Device == device {
				return true
			}
		}
	}
	return false
}

func headsGone(s *site.Site, _ *panel.Profile) (out []mistake) {
	for _, id := range site.SortedIDs(s.Heads) {
		for _, d := range s.Devices {
			if d.Beside == id {
				id = ""
			}
		}
		if id != "" {
			out = append(out, func(s *site.Site) { s.Heads = without(s.Heads, id) })
		}
	}
	return out
}

// moved hangs a listener in another room.
func moved(s *site.Site, _ *panel.Profile) (out []mistake) {
	for _, id := range site.SortedIDs(s.Devices) {
		d := s.Devices[id]
		if d.Hears == "" {
			continue
		}
		for _, other := range site.SortedIDs(s.Devices) {
			if to := s.Devices[other]; to.Room != d.Room && to.Room != "" && len(to.At) > 0 {
				out = append(out, func(s *site.Site) {
					s.Devices = with(s.Devices, id, func(one *site.Device) { one.Room, one.At = to.Room, to.At })
				})
			}
		}
	}
	return out
}
