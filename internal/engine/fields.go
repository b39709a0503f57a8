package engine

import (
	"encoding/json"
	"errors"
	"fmt"

	"proofbell/internal/building"
	"proofbell/internal/estimate"
	"proofbell/internal/words"
	"proofbell/rules"
	"proofbell/site"
)

// FieldArg is what sound.rooms and field.map are asked for.
type FieldArg struct {
	What    string          `json:"what"`    // field.map: sound or radio
	Storey  site.StoreyID   `json:"storey"`  // field.map
	Step    float64         `json:"step"`    // field.map: side of a cell, m; 0: 0.25
	Source  string          `json:"source"`  // field.map: JSON pointer of the only source; empty: all
	Without string          `json:"without"` // field.map: JSON pointer of a source that fails
	Patch   json.RawMessage `json:"patch"`   // field.map: a change that is not kept yet
	Doors   estimate.Doors  `json:"doors"`   // of sound: shut, open, as-drawn; empty: shut
	Tone    float64         `json:"tone"`    // of sound: Hz for all sounders; 0: each its own
	Wired   bool            `json:"wired"`   // radio.places: second receivers wired to the panel, instead of repeaters
}

// SoundRooms says how loud the alarms arrive in every room.
func (d *Desk) SoundRooms(a FieldArg) (estimate.SoundView, error) {
	need, err := d.SoundNeed()
	if err != nil {
		return estimate.SoundView{}, err
	}
	v := d.sound(a.Doors, a.Tone).View(d.lang, need)
	v.Readings = d.readingRows(v.Fit, "sound")
	return v, nil
}

// Field is a computed field over one storey.
func (d *Desk) Field(a FieldArg) (estimate.FieldView, error) {
	if a.Step == 0 {
		a.Step = 0.25
	}
	ask := estimate.FieldAsk{Storey: a.Storey, Step: a.Step, Source: a.Source, Without: a.Without}
	if a.What == "radio" {
		return d.radioField(ask, a.Patch)
	}
	if a.What != "sound" {
		return estimate.FieldView{}, &Problem{Code: "not-found", text: words.Later("There is no field of %q.", a.What), Try: words.Mark("Reload the page so that it matches the engine.")}
	}
	need, err := d.SoundNeed()
	if err != nil {
		return estimate.FieldView{}, err
	}
	m := d.sound(a.Doors, a.Tone)
	if len(a.Patch) > 0 && string(a.Patch) != "null" {
		s, b, err := d.moved(a.Patch)
		if err != nil {
			return estimate.FieldView{}, err
		}
		m = estimate.NewSound(s, b, estimate.SoundOptions{Doors: a.Doors, Tone: a.Tone, Readings: d.soundReadings()})
	}
	v, err := m.Field(d.lang, need, ask)
	return v, noField(err)
}

func noField(err error) error {
	if errors.Is(err, estimate.ErrStorey) {
		return &Problem{Code: "not-found", Say: words.Mark("No room of this storey has an outline yet."), Try: words.Mark("Draw the rooms first."), Err: err}
	}
	return err
}

// moved is withPatch, and how that stands in space. What a hand moves is not read anew as a whole: a field follows it.
func (d *Desk) moved(patch json.RawMessage) (*site.Site, *building.Building, error) {
	if s, drawn, ok := d.State.Site.Preview(patch); ok && drawn {
		return s, building.Of(s), nil
	} else if ok {
		return s, d.building(), nil
	}
	s, err := d.withPatch(patch)
	if err != nil {
		return nil, nil, err
	}
	return s, building.Of(s), nil
}

// withPatch is the site with a change that is not kept yet.
func (d *Desk) withPatch(patch json.RawMessage) (*site.Site, error) {
	s, err := patched(d.State.Site, patch)
	if err != nil {
		return nil, &Problem{Code: "bad-request", text: words.Said(err), Try: words.Mark("Take the last change back."), Err: err}
	}
	return s, nil
}

// SoundNeed is what the rule set of the site asks of the sound of alarms.
func (d *Desk) SoundNeed() (estimate.SoundNeed, error) {
	set, _, err := rules.SetOf(d.State.Site.RuleSet)
	if err != nil {
		return estimate.SoundNeed{}, err
	}
	return rules.SoundNeed(set), nil
}

// soundReadings are the measured sound levels of the job.
func (d *Desk) soundReadings() []estimate.SoundReading {
	var out []estimate.SoundReading
	for _, r := range d.State.Readings {
		if r.What != "sound" {
			continue
		}
		if one, ok := estimate.ReadSound(d.State.Site, d.building(), r.About, r.Place, r.Value, r.Doors, r.Source); ok {
			one.Entry, one.Out = string(r.Entry), d.outOfDate(r)
			out = append(out, one)
		}
	}
	return out
}

// sound is the sound model, kept until the site or the readings change.
func (d *Desk) sound(doors estimate.Doors, tone float64) *estimate.Sound {
	readings := d.soundReadings()
	key := fmt.Sprint(doors, tone)
	for _, r := range readings {
		key += " " + r.Entry
	}
	if d.heard[key] == nil {
		if len(d.heard) > 8 {
			clear(d.heard)
		}
		d.heard[key] = estimate.NewSound(d.State.Site, d.building(), estimate.SoundOptions{Doors: doors, Tone: tone, Readings: readings})
	}
	return d.heard[key]
}

// building is the site in space.
func (k *kept) building() *building.Building {
	if k.built == nil {
		k.built = building.Of(k.site)
	}
	return k.built
}
