package engine

import (
	"reflect"
	"slices"
	"strings"

	"proofbell/internal/book"
	"proofbell/internal/building"
	"proofbell/internal/estimate"
	"proofbell/internal/words"
	"proofbell/site"
)

// models are the bare models of a site, nothing measured.
type models struct {
	built *building.Building
	sound *estimate.Sound
	radio *estimate.Radio
}

func (k *kept) modelsOf(s *site.Site) *models {
	if k.models[s] == nil {
		m := &models{built: building.Of(s)}
		m.sound, m.radio = estimate.NewSound(s, m.built, estimate.SoundOptions{}), estimate.RadioOf(s, m.built, estimate.RadioTold{})
		k.models[s] = m
	}
	return k.models[s]
}

// outOfDate says by what change a reading is out of date; the zero Text for one that holds.
func (d *Desk) outOfDate(r book.Reading) words.Text {
	if r.Seen == nil || sameBuilding(r.Seen, d.State.Site) {
		return words.Text{}
	}
	key := string(r.Entry)
	if out, known := d.out[key]; known {
		return out
	}
	out := d.changedSince(r)
	d.out[key] = out
	return out
}

func (d *Desk) changedSince(r book.Reading) words.Text {
	then, now := d.modelsOf(r.Seen), d.modelsOf(d.State.Site)
	switch device := site.DeviceID(strings.TrimPrefix(r.About, "/devices/")); r.What {
	case "sound":
		was, before := estimate.ReadSound(r.Seen, then.built, r.About, r.Place, r.Value, r.Doors, r.Source)
		is, after := estimate.ReadSound(d.State.Site, now.built, r.About, r.Place, r.Value, r.Doors, r.Source)
		if !before || !after {
			return words.Later("out of date: the place is no longer there")
		}
		return now.sound.Stale(then.sound, was, is)
	case "radio":
		return now.radio.Stale(then.radio, levelOf(r))
	case "check-ins":
		return now.radio.StaleLoss(then.radio, device)
	}
	return words.Text{}
}

// sameBuilding reports whether two sites agree in all that readings rest on.
func sameBuilding(a, b *site.Site) bool {
	return a == b || reflect.DeepEqual(of(a), of(b))
}

func of(s *site.Site) []any {
	return []any{s.Storeys, s.Rooms, s.Walls, s.Openings, s.Materials, s.Heads, s.Groups, s.Models, s.Devices, s.Zones, s.Panel}
}

// readingRows lists the readings of these kinds, with what a fit leaves of them.
func (d *Desk) readingRows(fit *estimate.SoundFit, kinds ...string) []estimate.ReadingRow {
	out := []estimate.ReadingRow{}
	for _, r := range d.State.Readings {
		if !slices.Contains(kinds, r.What) {
			continue
		}
		row := estimate.ReadingRow{
			Entry: string(r.Entry), Say: d.whereRead(r), Value: r.Value, Unit: r.Unit, When: d.lang.Day(r.At.In(d.zone())), Out: d.outOfDate(r).In(d.lang),
		}
		if fit != nil {
			for _, left := range fit.Residuals {
				if left.Entry == row.Entry {
					model, rest := left.Model, left.Left
					row.Model, row.Left = &model, &rest
				}
			}
		}
		out = append(out, row)
	}
	return out
}

// whereRead says where a reading was taken, and of what.
func (d *Desk) whereRead(r book.Reading) string {
	keys := strings.Split(strings.TrimPrefix(r.About, "/"), "/")
	where := keys[len(keys)-1]
	switch {
	case keys[0] == "rooms" && len(keys) > 1:
		if name := d.State.Site.Rooms[site.RoomID(keys[1])].Name; name != "" || len(keys) == 2 {
			where = name
		}
		if where == "" {
			where = keys[1]
		}
		if len(keys) == 4 {
			where = d.lang.Say("%s, bed %s", where, keys[3])
		}
	case r.What == "radio":
		to := levelOf(r).To
		at := string(to)
		if to == "" {
			at = d.lang.Say("the panel")
		}
		return d.lang.Say("%s at %s", where, at)
	case r.What == "check-ins":
		return d.lang.Say("%s, lost check-ins", where)
	}
	switch r.Doors {
	case "shut":
		where = d.lang.Say("%s, doors shut", where)
	case "open":
		where = d.lang.Say("%s, doors open", where)
	}
	if i := strings.LastIndexByte(r.Source, '/'); i >= 0 && r.Source != "/panel" {
		where = d.lang.Say("%s, only %s", where, r.Source[i+1:])
	}
	return where
}
