package main

import (
	"bytes"
	"compress/zlib"
	"encoding/json"
	"fmt"
	"time"

	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/engine"
	"proofbell/internal/papers"
	"proofbell/internal/records"
	"proofbell/site"
)

var papersPDF = measure{
	name: "papers", what: "the commissioning record of a generated site of 200 devices, checked, written and printed", budget: 1, unit: "s",
	run: func() (result, error) {
		state, err := generated(200)
		if err != nil {
			return result{}, err
		}
		kind, _ := papers.Find("commissioning")
		now := time.Date(2026, 9, 15, 16, 0, 0, 0, time.UTC)
		var raw []byte
		value, err := best(3, func() error {
			paper, err := engine.NewDesk(state, 0).Paper(kind, now, "")
			if err == nil {
				raw, err = records.PDF(paper, records.Options{})
			}
			return err
		})
		if err != nil {
			return result{}, err
		}
		text, err := json.Marshal(state.Site)
		if err != nil {
			return result{}, err
		}
		plain, err := best(3, func() error { // the least that any writer of such a file does: pack as many bytes as it has
			var b bytes.Buffer
			z := zlib.NewWriter(&b)
			for b.Len() < len(raw) {
				if _, err := z.Write(text); err != nil {
					return err
				}
				if err := z.Flush(); err != nil {
					return err
				}
			}
			return z.Close()
		})
		return result{value: value, baseline: plain, plain: "packing as many bytes", note: fmt.Sprintf("%d kB", len(raw)/1000)}, err
	},
}

// generated is a job of a site with so many smoke detectors, each in a room of its own with its zone.
func generated(devices int) (*book.State, error) {
	s := &site.Site{
		Format: site.Format, Name: "Generated", Storeys: map[site.StoreyID]site.Storey{"ground": {Name: "Ground floor"}}, Rooms: map[site.RoomID]site.Room{},
		Models:  map[site.ModelID]site.Model{"smoke": {Name: "Smoke detector", Class: "smoke", Link: "radio", Terminals: map[string]site.Terminal{"A": {Senses: site.SensesSmoke}}}},
		Devices: map[site.DeviceID]site.Device{}, Zones: map[site.ZoneID]site.Zone{}, Areas: map[site.AreaID]site.Area{"1": {Name: "House"}},
		Account: site.Account{Number: "4816", Format: "contact-id", Paths: map[site.PathID]site.Path{"main": {Name: "internet"}, "backup": {Name: "mobile"}}},
	}
	for i := range devices {
		id, x, y := fmt.Sprintf("%03d", i+1), float64(i%20)*4, float64(i/20)*4
		outline := site.Outline{}
		for _, corner := range [][2]float64{{x, y}, {x + 4, y}, {x + 4, y + 4}, {x, y + 4}} {
			at, err := place(corner[0], corner[1])
			if err != nil {
				return nil, err
			}
			outline = append(outline, at)
		}
		middle, err := place(x+2, y+2)
		if err != nil {
			return nil, err
		}
		s.Rooms[site.RoomID("R"+id)] = site.Room{Name: "Room " + id, Storey: "ground", Outline: outline, Sleeping: i%3 == 0}
		s.Devices[site.DeviceID("D"+id)] = site.Device{Model: "smoke", Identity: "SD" + id + "000", Room: site.RoomID("R" + id), At: middle}
		s.Zones[site.ZoneID(id)] = site.Zone{Label: "Smoke " + id, Kind: site.Smoke, Area: "1", Device: site.DeviceID("D" + id), Terminal: "A", Code: "111", Paths: []site.PathID{"main", "backup"}, LossWindow: "200 s"}
	}
	raw, err := json.Marshal(s)
	if err != nil {
		return nil, err
	}
	random := bytes.NewReader(bytes.Repeat([]byte("The wheel turns, and the bell is proved."), 10))
	at := time.Date(2026, 9, 15, 12, 0, 0, 0, time.UTC)
	job, err := evidence.NewJobID(at, random)
	if err != nil {
		return nil, err
	}
	id, err := evidence.NewEntryID(at, random)
	if err != nil {
		return nil, err
	}
	c, err := evidence.NewContent(job, id, at, "bench", evidence.KindEdit, 0, book.EditBody{Patch: raw})
	if err != nil {
		return nil, err
	}
	e, err := evidence.Append(nil, c, at)
	if err != nil {
		return nil, err
	}
	state := book.New(job)
	state.Apply(book.WithKey(nil), e)
	return state, nil
}

func place(x, y float64) (site.Coordinates, error) {
	var c site.Coordinates
	err := json.Unmarshal(fmt.Appendf(nil, "[%g, %g]", x, y), &c)
	return c, err
}
