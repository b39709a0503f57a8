package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"proofbell/demo"
	"proofbell/internal/reach"
	"proofbell/site"
)

var reachRooms = measure{
	name: "reach", what: "how a fire in each of 1,000 rooms becomes known, by 5,000 devices and 1,000 heads: all ranges, single points and sentences", budget: 2, unit: "s",
	run: func() (r result, err error) {
		text, err := alarmedSite(5000)
		if err != nil {
			return r, err
		}
		s, err := site.DecodeJSON("alarmed.json", text)
		if err != nil {
			return r, err
		}
		o := reach.Options{Site: s, On: time.Date(2026, 9, 15, 0, 0, 0, 0, time.UTC)}
		var v reach.RoomsView
		r.value, err = best(3, func() error {
			m, err := reach.Of(o)
			if err == nil {
				v = m.Rooms(nil)
			}
			return err
		})
		if err != nil {
			return r, err
		}
		for _, row := range v.Rooms {
			if row.Station.Low >= 1 {
				return r, errors.New("a room is not reported: the site is not what should be measured")
			}
		}
		r.note = fmt.Sprintf("%d rooms, %d single points; links and levels as the table has them, not estimated", len(v.Rooms), len(v.Singles))
		r.plain = "encoding/json reading the same site, no more"
		r.baseline, err = best(3, func() error {
			var s site.Site
			return json.Unmarshal(text, &s)
		})
		return r, err
	},
}

// alarmedSite is the practice building with so many devices more, five to a room, that each report a fire: two by radio, three
// on a wired loop that ten rooms share; and in each room a head, a hundred of them to a group with two contact modules.
func alarmedSite(devices int) ([]byte, error) {
	s, err := site.DecodeYAML("mill.yaml", demo.Corrected)
	if err != nil {
		return nil, err
	}
	s.Models["more-radio"] = site.Model{Name: "Smoke detector", Class: "smoke", Link: "radio"}
	s.Models["more-wired"] = site.Model{Name: "Smoke detector", Class: "smoke", Link: "wired"}
	s.Models["more-module"] = site.Model{Name: "Contact module", Class: "contact-module", Link: "radio", Terminals: map[string]site.Terminal{"A": {Senses: site.SensesContact}}}
	paths := site.SortedIDs(s.Account.Paths)
	zone := func(id string, device site.DeviceID, terminal string) {
		s.Zones[site.ZoneID(id)] = site.Zone{Kind: "smoke", Device: device, Terminal: terminal, Paths: paths, LossWindow: "200 s"}
	}
	for i := range devices {
		room := site.RoomID(fmt.Sprintf("wing-%04d", i/5))
		id := site.DeviceID(fmt.Sprintf("more-%04d", i))
		d := site.Device{Room: room, Model: "more-radio"}
		if i%5 > 1 {
			d.Model, d.Circuit = "more-wired", site.CircuitID(fmt.Sprintf("loop-%03d", i/50))
			s.Circuits[d.Circuit] = site.Circuit{}
		}
		s.Devices[id] = d
		zone("m"+string(id), id, "")
		if i%5 > 0 {
			continue
		}
		s.Rooms[room] = site.Room{Name: fmt.Sprintf("Room %d", i/5)}
		group := site.GroupID(fmt.Sprintf("G%d", i/500))
		s.Heads[site.HeadID(fmt.Sprintf("H%d", i/5))] = site.Head{Kind: "smoke", Room: room, Group: group, Power: "mains-battery"}
		if i%500 > 0 {
			continue
		}
		s.Groups[group] = site.Group{Supply: "120 V mains", Link: "wired"}
		for _, side := range []string{"a", "b"} {
			module := site.DeviceID("module-" + string(group) + side)
			s.Devices[module] = site.Device{Model: "more-module", Room: room, Hears: group}
			zone("z"+string(module), module, "A")
		}
	}
	return json.Marshal(s)
}
