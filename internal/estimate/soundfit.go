package estimate

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"proofbell/acoustics"
	"proofbell/geom"
	"proofbell/internal/building"
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
	read   map[way]int // places that were read, by the kind of way
}

// way is a kind of way from a sounder to a place.
type way struct {
	doors  Doors
	passed int // partitions: 0, 1, 2 and more
}

// wantedPlaces are the places of a kind that have to be read before the uncertainty of that kind may shrink: how much places differ
// is not seen in one of them, however often it is read.
const wantedPlaces = 3

// bendBy is the small step by which the model is bent to see how much a parameter counts at a place, dB.
const bendBy = 0.01

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
	model := func(p []float64) []float64 { return m.predict(used, adjust{level: p[0], door: p[1], absorption: p[2]}) }
	silent := math.Inf(1)
	for _, l := range model([]float64{0, 0, 0}) {
		silent = min(silent, l)
	}
	// As many parameters as the readings carry: two more readings than parameters, and fewer where they do not tell so many apart.
	result, err := fit.Result{}, fit.ErrFew
	for n := min(len(fitted), len(used)-2); err != nil && n > 0 && silent > 0; n-- {
		result, err = fit.Least(measured, make([]float64, n), func(p []float64) []float64 {
			full := [3]float64{}
			copy(full[:], p)
			return model(full[:])
		})
	}
	if err != nil {
		m.lack(words.Later("readings of sound: %d; at least 3 that the model can explain are wanted to fit it; it stands as calculated", len(used)))
		return
	}
	full := [3]float64{}
	copy(full[:], result.Value)
	m.fit = &SoundFitted{Result: result, adjust: adjust{level: full[0], door: full[1], absorption: full[2]}, m: m, used: used, model: model(full[:])}
	m.fit.read = m.ways(used, m.fit.adjust)
}

// ways counts the different places that were read, by the kind of way on which the loudest arrives.
func (m *Sound) ways(used []SoundReading, a adjust) map[way]int {
	out := map[way]int{}
	states := map[Doors]*soundState{}
	said := map[string]bool{}
	for _, r := range used {
		doors := cmp.Or(r.Doors, Shut)
		if states[doors] == nil {
			states[doors] = m.solve(doors, a, false)
		}
		st, room, at := states[doors], 0, m.placeOf(r)
		room, _ = m.b.RoomOf(r.Room)
		var most float64
		which := -1
		for i, one := range m.sounders {
			if e := st.heard(m, i, at, room); (r.Source == one.pointer || r.Source == "" || strings.HasPrefix(r.Source, "/groups/")) && e > most {
				most, which = e, i
			}
		}
		place := fmt.Sprint(doors, room, at == nil, at)
		if at != nil {
			place = fmt.Sprintf("%s %d %.1f %.1f %.1f", doors, room, at.X, at.Y, at.Z)
		}
		if which >= 0 && !said[place] {
			said[place] = true
			out[way{doors, min(2, st.passed(which, room))}]++
		}
	}
	return out
}

// placeOf is where a reading was taken; nil: somewhere in the room.
func (m *Sound) placeOf(r SoundReading) *geom.Point3 {
	if r.At == nil && r.Bed != "" {
		room, _ := m.b.RoomOf(r.Room)
		return m.pillow(room, r.Bed)
	}
	return r.At
}

// bend keeps the model a little to both sides of its fit, for how much each parameter counts at a place.
func (m *Sound) bend() {
	for k := range m.fit.Value {
		var two [2]*soundState
		for side, by := range [2]float64{bendBy, -bendBy} {
			p := [3]float64{m.fit.adjust.level, m.fit.adjust.door, m.fit.adjust.absorption}
			p[k] += by
			two[side] = m.solve(m.o.Doors, adjust{level: p[0], door: p[1], absorption: p[2]}, false)
		}
		m.bent = append(m.bent, two)
	}
}

// uncertainty is that of the model by the partitions passed; after a fit what the readings leave of it at this place: the
// interval that holds the next reading there in 19 of 20 cases. For kinds of ways that were hardly read it is never
// less than without the fit, and nowhere less than that of a sounder in its own room.
func (m *Sound) uncertainty(which int, at *geom.Point3, room int) float64 {
	passed := m.state.passed(which, room)
	u := float64(acoustics.Uncertainty(passed))
	if m.fit == nil {
		return u
	}
	if m.fit.read[way{m.o.Doors, min(2, passed)}] >= wantedPlaces {
		u = float64(acoustics.Uncertainty(0))
	}
	slope := make([]float64, len(m.bent))
	for k, two := range m.bent {
		more, less := two[0].heard(m, which, at, room), two[1].heard(m, which, at, room)
		if more > 0 && less > 0 {
			slope[k] = float64(acoustics.Level(more)-acoustics.Level(less)) / (2 * bendBy)
		}
	}
	return max(u, published(m.fit.Interval(slope)))
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
		out[k] = -1
		if e := m.soundsOf(st, r.Source, m.placeOf(r), room); e > 0 {
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
		if source == "" && m.reaches(set, room) || set.pointer == source {
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
func ReadSound(s *site.Site, b *building.Building, about string, at []float64, level float64, doors, source string) (r SoundReading, ok bool) {
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
		r.Room, r.Device = d.Room, true
		if p, _, placed := b.Place(d.At, d.Room); placed && len(at) == 0 {
			at = []float64{p.X, p.Y, p.Z}
		}
	}
	if _, ok = s.Rooms[r.Room]; !ok {
		return r, false
	}
	if len(at) >= 2 {
		p := geom.Point3{X: at[0], Y: at[1], Z: Pillow}
		if i, drawn := b.RoomOf(r.Room); drawn {
			p.Z += b.Rooms[i].Z0
		}
		if len(at) == 3 {
			p.Z = at[2]
		}
		r.At = &p
	}
	return r, true
}
