package engine

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"

	"proofbell/internal/book"
	"proofbell/internal/estimate"
	"proofbell/quantity"
	"proofbell/rules"
	"proofbell/site"
)

// Radio is the radio model of the job with what was measured, kept until the site or the readings change.
func (d *Desk) Radio() *estimate.Radio {
	told, key := d.radioTold()
	if d.links == nil || d.linksOf != key {
		d.links, d.linksOf = estimate.RadioOf(d.State.Site, d.building(), told), key
	}
	return d.links
}

// RadioLinks says how every radio device reaches the panel, with the readings behind it.
func (d *Desk) RadioLinks() estimate.RadioView {
	v := d.Radio().View(d.lang)
	v.Readings = d.readingRows(v.Fit, "radio", "check-ins")
	return v
}

// measured is what was measured on site for the rules to judge by.
func (d *Desk) measured() rules.Measured {
	told, _ := d.radioTold()
	return rules.Measured{Sound: d.soundReadings(), Radio: told}
}

// radioTold are the measured levels and losses of check-ins of the job, and a key of them.
func (d *Desk) radioTold() (told estimate.RadioTold, key string) {
	told.Lost = map[site.DeviceID]float64{}
	for _, r := range d.State.Readings {
		id, ok := strings.CutPrefix(r.About, "/devices/")
		if !ok {
			continue
		}
		switch r.What {
		case "check-ins":
			if d.outOfDate(r).String() == "" {
				told.Lost[site.DeviceID(id)] = r.Value / 100
			}
		case "radio":
			l := levelOf(r)
			l.Out = d.outOfDate(r)
			told.Levels = append(told.Levels, l)
		default:
			continue
		}
		key += fmt.Sprintln(r.Entry)
	}
	return told, key
}

// levelOf is a measured level as the model takes it.
func levelOf(r book.Reading) estimate.RadioLevel {
	to := strings.TrimPrefix(r.Source, "/devices/")
	if r.Source == "" || r.Source == "/panel" {
		to = ""
	}
	l := estimate.RadioLevel{Entry: string(r.Entry), Device: site.DeviceID(strings.TrimPrefix(r.About, "/devices/")), To: site.DeviceID(to), DBm: r.Value}
	if len(r.Place) > 1 {
		at := site.Coordinates{}
		for _, v := range r.Place {
			at = append(at, quantity.MustParse[quantity.LengthDimension](strconv.FormatFloat(v, 'f', -1, 64)))
		}
		l.At = &at
	}
	return l
}

// radioField is the radio over one storey, with a change that is not kept yet.
func (d *Desk) radioField(ask estimate.FieldAsk, patch json.RawMessage) (estimate.FieldView, error) {
	r := d.Radio()
	if len(patch) > 0 && string(patch) != "null" {
		s, b, err := d.moved(patch)
		if err != nil {
			return estimate.FieldView{}, err
		}
		told, _ := d.radioTold()
		r = estimate.RadioOf(s, b, told)
	}
	v, err := r.Field(d.lang, ask)
	return v, noField(err)
}
