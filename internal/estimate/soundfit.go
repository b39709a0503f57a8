package estimate

import (
	"math"
	"strings"

	"proofbell/acoustics"
	"proofbell/geom"
	"proofbell/internal/fit"
	"proofbell/internal/words"
	"proofbell/site"
)

// SoundFitted is the model fitted to readings.
type SoundFitted struct {
	fit.Result
	adjust adjust
	m      *Sound
	used   []SoundReading
	model  []float64
}

// The parameters of the model that readings move, in this order: what readings can not tell apart stays as it is.
var fitted = [...]string{
	words.Mark("all sounders louder by"),
	words.Mark("shut doors take off more by"),
	words.Mark("rooms swallow more by"),
}

// calibrate fits the model to the readings, when there are enough. Readings too few are said and change nothing.
func (m *Sound) calibrate() {
	var used []SoundReading
	var measured []float64
	for _, r := range m.o.Readings {
		if _, ok := m.b.RoomOf(r.Room); ok && r.Level > 0 {
			used, measured = append(used, r), append(measured, r.Level)
		}
	}
	if len(used) == 0 {
		return
	}
	model := func(p []float64) []float64 { return m.predict(used, adjust{p[0], p[1], p[2]}) }
	silent := math.Inf(1)
	for _, l := range model([]float64{0, 0, 0}) {
		silent = min(silent, l)
	}
	// As many parameters as the readings carry: two more readings than parameters.
	result, err := fit.Result{}, fit.ErrFew
	if n := min(len(fitted), len(used)-2); n > 0 && silent > 0 {
		result, err = fit.Least(measured, make([]float64, n), func(p []float64) []float64 {
			full := [3]float64{}
			copy(full[:], p)
			return model(full[:])
		})
	}
	if err != nil {
		m.lack(words.Later("%d readings of sound: at least 3 that the model can explain are wanted to fit it; it stands as calculated", len(used)))
		return
	}
	full := [3]float64{}
	copy(full[:], result.Value)
	m.fit = &SoundFitted{Result: result, adjust: adjust{full[0], full[1], full[2]}, m: m, used: used, model: model(full[:])}
}

// predict is the level of each reading by the model; -1 where nothing arrives.
func (m *Sound) predict(readings []SoundReading, a adjust) []float64 {
	states := map[Doors]*soundState{}
	out := make([]float64, len(readings))
	for k, r := range readings {
		doors := r.Doors
		if doors == "" {
			doors = Shut
		}
		st := states[doors]
		if st == nil {
			st = m.solve(doors, a, false)
			states[doors] = st
		}
		room, _ := m.b.RoomOf(r.Room)
		at := r.At
		if at == nil && r.Bed != "" {
			at = m.pillow(room, r.Bed)
		}
		out[k] = -1
		if e := m.soundsOf(st, r.Source, at, room); e > 0 {
			out[k] = float64(acoustics.Level(e))
		}
	}
	return out
}

// soundsOf is the energy of a source at a place: of one sounder, of a group, or of the loudest set.
func (m *Sound) soundsOf(st *soundState, source string, at *geom.Point3, room int) float64 {
	for i, one := range m.sounders {
		if one.pointer == source {
			return st.heard(m, i, at, room)
		}
	}
	var most float64
	for _, set := range m.sets {
		if source == "" && m.counts(set, room) || set.pointer == source {
			_, _, sum := st.together(m, set, at, room, -1)
			most = max(most, sum)
		}
	}
	return most
}

// say puts the fit into words.
func (f *SoundFitted) say(lang *words.Language) *SoundFit {
	out := &SoundFit{Readings: len(f.used), Parameters: []FitRow{}, Residuals: []FitResidual{}, Spread: published(f.Spread)}
	for i := range f.Value {
		if !f.Held[i] {
			out.Parameters = append(out.Parameters, FitRow{Name: lang.Word(fitted[i]), Value: published(f.Value[i]), Low: published(f.Low[i]), High: published(f.High[i]), Unit: "dB"})
		}
	}
	for i, r := range f.used {
		where := f.m.s.Rooms[r.Room].Name
		if r.Bed != "" {
			where = lang.Say("%s, bed %s", where, r.Bed)
		}
		out.Residuals = append(out.Residuals, FitResidual{Entry: r.Entry, Say: where, Measured: published(r.Level), Model: published(f.model[i]), Left: published(f.Residual[i])})
	}
	out.Say = lang.Say("Fitted to %d readings: they lie %s dB about the model (standard deviation). The ranges hold the true value in 19 of 20 cases.", out.Readings, lang.Number(out.Spread, 1))
	return out
}

// ReadSound takes a reading of a job for one of the model; about is the JSON pointer of what it is about. ok is false when
// it names no room, bed or device in a room.
func ReadSound(s *site.Site, about string, at []float64, level float64, doors, source string) (r SoundReading, ok bool) {
	r = SoundReading{Level: level, Doors: Doors(doors), Source: source}
	keys := strings.Split(strings.TrimPrefix(about, "/"), "/")
	switch {
	case len(keys) >= 2 && keys[0] == "rooms":
		r.Room = site.RoomID(keys[1])
		if len(keys) == 4 && keys[2] == "beds" {
			r.Bed = site.BedID(keys[3])
		}
	case len(keys) == 2 && keys[0] == "devices":
		d := s.Devices[site.DeviceID(keys[1])]
		r.Room = d.Room
		if p, placed := d.At.Point(); placed && len(at) == 0 {
			z, _ := d.At.Height()
			at = []float64{p.X, p.Y, z}
		}
	}
	room, ok := s.Rooms[r.Room]
	if !ok {
		return r, false
	}
	if len(at) >= 2 {
		p := geom.Point3{X: at[0], Y: at[1], Z: s.Storeys[room.Storey].Level.SI() + Pillow}
		if len(at) == 3 {
			p.Z = at[2]
		}
		r.At = &p
	}
	return r, true
}
