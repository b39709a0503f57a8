package estimate

import (
	"encoding/base64"
	"math"
	"strings"

	"proofbell/geom"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/radio"
	"proofbell/site"
)

// Field is the radio over one storey: the margin that the weakest kind of device of the site would have in each cell, hung
// as high as a repeater, by the receiver that hears it best. A source that is a receiver is the only one; one that is a device turns the question
// about: with which margin that device would be heard by a receiver in each cell. No band: nothing is heard, or it can not be determined.
func (r *Radio) Field(lang *words.Language, ask FieldAsk) (FieldView, error) {
	g, storey, rooms, err := grid(r.b, ask.Storey, ask.Step)
	if err != nil {
		return FieldView{}, err
	}
	wanted := r.Wanted
	v := FieldView{
		What: "radio", Storey: string(ask.Storey), Source: ask.Source, Height: hangs, Min: [2]float64{g.Min.X, g.Min.Y}, Step: g.Step, W: g.W, H: g.H,
		Steps: []float64{0, wanted, wanted + 15, wanted + 30}, Unit: "dB", Label: lang.Word(Label), Contour: []Contour{}, Terms: []Term{},
	}
	best := make([]float32, len(rooms))
	if len(r.Missing) == 0 {
		v.Wanted = &wanted
		r.best(lang, &v, ask, g, r.b.Storeys[storey].Level+hangs, best)
	}
	var bounds [4]float32
	for i, m := range v.Steps {
		bounds[i] = float32(math.Pow(10, m/10))
	}
	bands, values := make([]byte, len(best)), make([]float64, len(best))
	for i, e := range best {
		bands[i], values[i] = 255, math.NaN()
		if rooms[i] < 0 {
			continue
		}
		values[i] = math.Max(-50, 10*math.Log10(float64(e)))
		for k, bound := range bounds {
			if e >= bound*0.99999 { // what is 15.0 is not 14.9
				bands[i] = byte(k)
			}
		}
	}
	v.Bands = base64.StdEncoding.EncodeToString(bands)
	if len(r.Missing) == 0 {
		v.Contour = append(v.Contour, contours(g, values, wanted, wanted)...)
	}
	v.Assumed, v.Missing = r.Notes(lang)
	return v, nil
}

// best fills in the strongest margin of each cell, as a ratio of powers.
func (r *Radio) best(lang *words.Language, v *FieldView, ask FieldAsk, g geom.Grid, z float64, best []float32) {
	free, _ := radio.FreeSpace(r.Frequency, 1)
	var sources []geom.Source
	var power, most []float32 // ratio at 1 m, and what a repeater's own way leaves
	add := func(at geom.Point3, margin, back float64) {
		sources = append(sources, geom.Source{At: at})
		power, most = append(power, float32(math.Pow(10, margin/10))), append(most, float32(math.Pow(10, back/10)))
	}
	passes := passes
	if r.Fit != nil {
		for i := range passes {
			walls := float64(i) / 10
			passes[i] = float32(math.Pow(10, (r.Fit.adds(walls)-walls)/10))
		}
	}
	id, asked := strings.CutPrefix(ask.Source, "/devices/")
	if m, ok := r.site.ModelOf(site.DeviceID(id)); asked && ok && m.Class != "repeater" {
		d := r.site.Devices[site.DeviceID(id)]
		if at, _, placed := r.b.Place(d.At, d.Room); placed && !m.TransmitPower.IsZero() && r.lack(site.DeviceID(id), d.Room, at) == nil {
			add(at, m.TransmitPower.SI()+m.Antenna.SI()-float64(free)-r.site.Panel.Radio.Sensitivity.SI(), 300)
		}
		v.Terms = append(v.Terms, Term{lang.Say("transmit power"), round1(m.TransmitPower.SI()), "dBm", "", m.Name})
	} else {
		m, ok := r.weakest()
		if !ok {
			return
		}
		for _, to := range r.Receivers {
			pointer := pointerOf(to.Device)
			if ask.Source != "" && ask.Source != pointer || ask.Without == pointer || !to.Wired && to.Back == nil || to.lack != nil {
				continue
			}
			back := 300.0
			if to.Back != nil {
				back, _ = r.counts(to)
			}
			add(to.At, m.TransmitPower.SI()+m.Antenna.SI()+to.Gain-float64(free)-to.Sensitivity, back)
		}
		v.Terms = append(v.Terms, Term{lang.Say("transmit power"), round1(m.TransmitPower.SI()), "dBm", "", lang.Say("%s, the weakest of the site", m.Name)})
	}
	v.Terms = append(v.Terms,
		Term{lang.Say("wanted margin"), r.Wanted, "dB", "", lang.Say("site file")},
		Term{lang.Say("frequency"), float64(r.Frequency) / 1e6, "MHz", "", lang.Say("site file")},
		Term{lang.Say("loss of the first metre"), round1(float64(free)), "dB", "20 log(4 pi f / c)", lang.Say("ITU-R P.525 (H)")})
	r.rays().Shadows(sources, g, z, func(k, row, first int, loss []float64) {
		at := g.At(first, row)
		dx, dy, dz := at.X-sources[k].At.X, at.Y-sources[k].At.Y, z-sources[k].At.Z
		beside, x := dy*dy+dz*dz, dx
		cells := best[row*g.W+first:]
		for c, dB := range loss {
			if dB < geom.Silence {
				e := min(power[k]/float32(max(x*x+beside, 0.01))*passes[min(int(dB*10+0.5), len(passes)-1)], most[k])
				cells[c] = max(cells[c], e)
			}
			x += g.Step
		}
	})
}

// weakest is the radio device of the site that transmits least.
func (r *Radio) weakest() (weakest site.Model, ok bool) {
	for _, id := range site.SortedIDs(r.site.Models) {
		m := r.site.Models[id]
		if m.Link == "radio" && m.Class != "repeater" && !m.TransmitPower.IsZero() &&
			(!ok || quantity.DBm(m.TransmitPower.SI()+m.Antenna.SI()) < quantity.DBm(weakest.TransmitPower.SI()+weakest.Antenna.SI())) {
			weakest, ok = m, true
		}
	}
	return weakest, ok
}
