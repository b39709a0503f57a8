package estimate

import (
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/radio"
)

// RadioFit is what measured levels made of the model.
type RadioFit struct {
	radio.Calibration
	Levels []RadioLevel // those that were used, in the order of Left
	Model  []float64    // level that the fitted model gives for each

	shadowing float64 // as planned
}

// adds is what the fit adds to the level of a hop behind so many dB of walls: the lower end of what was measured of such.
func (f *RadioFit) adds(walls float64) float64 {
	if f == nil {
		return 0
	}
	return round1(float64(f.Adds(quantity.DB(walls), quantity.DB(f.shadowing))))
}

// fit calibrates the model by what was measured. Levels of ways that the model does not know are left out.
func (r *Radio) fit(levels []RadioLevel) {
	r.receivers()
	var values []radio.Measured
	f := &RadioFit{shadowing: r.Sigma}
	for _, l := range levels {
		m, _ := r.site.ModelOf(l.Device)
		d, there := r.site.Devices[l.Device]
		where := d.At
		if l.At != nil {
			where = *l.At
		}
		at, _, placed := r.b.Place(where, d.Room)
		room := d.Room
		if l.At != nil {
			room = "" // it was held elsewhere
		}
		for _, to := range r.Receivers {
			if to.Device != l.To || !there || !placed || m.TransmitPower.IsZero() {
				continue
			}
			if h := r.hop(l.Device, at, m.TransmitPower.SI(), m.Antenna.SI(), to, r.lack(l.Device, room, at)); h.known() {
				values = append(values, radio.Measured{Level: quantity.DBm(l.DBm), Computed: quantity.DBm(h.Received), Walls: quantity.DB(h.walls())})
				f.Levels = append(f.Levels, l)
			}
		}
	}
	if len(values) == 0 {
		return
	}
	var err error
	if f.Calibration, err = radio.Calibrate(values); err != nil {
		r.assume(words.Later("%d levels were measured: three or more fit the model to the building.", len(values)))
		return
	}
	for i := range values {
		f.Model = append(f.Model, round1(float64(f.Level(values[i].Computed, values[i].Walls))))
	}
	r.Fit = f
	if s := round1(float64(f.Sigma)); s > r.Sigma {
		wanted := round1(r.Wanted * s / r.Sigma)
		r.assume(words.Later("The measured levels differ from the model by %s dB, more than the shadowing of %s dB that the wanted margin was meant for: it is raised from %s to %s dB.", words.Figure(s, -1), words.Figure(r.Sigma, -1), words.Figure(r.Wanted, -1), words.Figure(wanted, -1)))
		r.Sigma, r.Wanted = s, wanted
	}
}
