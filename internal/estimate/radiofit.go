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
}

// adds is what the fit adds to the level of a hop, in dB.
func (f *RadioFit) adds(h Hop) float64 {
	if f == nil {
		return 0
	}
	return round1(float64(f.Level(0, quantity.DB(h.walls()))))
}

// fit calibrates the model by what was measured. Levels of ways that the model does not know are left out.
func (r *Radio) fit(levels []RadioLevel) {
	r.receivers()
	var values []radio.Measured
	f := &RadioFit{}
	for _, l := range levels {
		m, _ := r.site.ModelOf(l.Device)
		d, there := r.site.Devices[l.Device]
		where := d.At
		if l.At != nil {
			where = *l.At
		}
		at, _, placed := r.b.Place(where, d.Room)
		for _, to := range r.Receivers {
			if to.Device != l.To || !there || !placed || m.TransmitPower.IsZero() {
				continue
			}
			if h := r.hop(l.Device, at, m.TransmitPower.SI(), m.Antenna.SI(), to); h.known() {
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
}
