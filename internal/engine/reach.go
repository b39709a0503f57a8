package engine

import (
	"encoding/json"
	"errors"
	"slices"
	"time"

	"proofbell/internal/building"
	"proofbell/internal/estimate"
	"proofbell/internal/reach"
	"proofbell/internal/words"
	"proofbell/site"
)

// Reach is the job as a system of parts: how a fire in each room becomes known. It is kept until the site, what was measured
// or the day changes.
func (d *Desk) Reach(now time.Time) (*reach.Model, error) {
	on := d.day(now)
	told, key := d.radioTold()
	for _, r := range d.soundReadings() {
		key += " " + r.Entry
	}
	key += on.Format(time.DateOnly)
	if d.reached != nil && d.reachedOf == key {
		return d.reached, nil
	}
	m, err := d.reachOf(d.State.Site, told, on, false)
	if err != nil {
		return nil, err
	}
	d.reached, d.reachedOf = m, key
	return m, nil
}

// unheard are the members of a site that neither what is heard nor what radio carries depends on.
var unheard = []string{"account", "care", "premises", "power", "people", "contacts"}

// reachOf is the reach of a site of the job: it itself, or with a change that is not kept yet. A change of anything that sound
// or radio depend on has both estimated anew.
func (d *Desk) reachOf(s *site.Site, told estimate.RadioTold, on time.Time, anew bool) (*reach.Model, error) {
	need, err := d.SoundNeed()
	if err != nil {
		return nil, err
	}
	o := reach.Options{Site: s, Lost: told.Lost, Need: need, On: on}
	if anew {
		b := building.Of(s)
		o.Radio, o.Sound = estimate.RadioOf(s, b, told), estimate.NewSound(s, b, estimate.SoundOptions{Readings: d.soundReadings()})
	} else {
		o.Radio, o.Sound = d.Radio(), d.sound("", 0)
	}
	m, err := reach.Of(o)
	switch {
	case errors.Is(err, reach.ErrNothing):
		return nil, &Problem{Code: "not-found", Say: words.Mark("The site has no rooms yet."), Try: words.Mark("Enter the rooms first, then what is in them."), Err: err}
	case err != nil:
		return nil, &Problem{Code: "too-large", text: words.Said(err), Try: words.Mark("Ask at the terminal: proofbell calc reach."), Err: err}
	}
	return m, nil
}

// moves reports whether a patch changes what sound or radio depend on.
func moves(patch json.RawMessage) bool {
	var of map[string]json.RawMessage
	if json.Unmarshal(patch, &of) != nil {
		return true
	}
	for member := range of {
		if !slices.Contains(unheard, member) {
			return true
		}
	}
	return false
}

// day is the day of a moment where the site is.
func (d *Desk) day(now time.Time) time.Time {
	day := now.In(d.zone())
	return time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, time.UTC)
}

// ReachRooms says of every room how likely a fire in it stays unknown.
func (d *Desk) ReachRooms(now time.Time) (reach.RoomsView, error) {
	m, err := d.Reach(now)
	if err != nil {
		return reach.RoomsView{}, err
	}
	return m.Rooms(d.lang), nil
}

// ReachRoom is one room in full.
func (d *Desk) ReachRoom(now time.Time, room site.RoomID, patch json.RawMessage) (reach.RoomView, error) {
	m, err := d.Reach(now)
	if err == nil && len(patch) > 0 && string(patch) != "null" {
		var s *site.Site
		if s, err = d.withPatch(patch); err == nil {
			told, _ := d.radioTold()
			m, err = d.reachOf(s, told, d.day(now), moves(patch))
		}
	}
	if err != nil {
		return reach.RoomView{}, err
	}
	v, there := m.Room(d.lang, room)
	if !there {
		return v, &Problem{Code: "not-found", text: words.Later("There is no room %s.", string(room)), Try: words.Mark("Choose a room of the list.")}
	}
	return v, nil
}

// ReachHelps says which one change helps most.
func (d *Desk) ReachHelps(now time.Time) (reach.HelpsView, error) {
	m, err := d.Reach(now)
	if err != nil {
		return reach.HelpsView{}, err
	}
	return m.Helps(d.lang)
}
