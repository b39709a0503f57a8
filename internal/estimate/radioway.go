package estimate

import (
	"math"

	"proofbell/geom"
	"proofbell/internal/building"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/radio"
	"proofbell/site"
)

// walls finds what each piece takes off.
func (r *Radio) walls() {
	// A way of 10 m with an opening in its middle.
	r.carries = 2 * float64(radio.ClearBy(r.Frequency, 5, 5))
	r.wall = make([]building.Loss, len(r.b.Pieces))
	for i := range r.b.Pieces {
		p := &r.b.Pieces[i]
		switch {
		case len(r.b.Undrawn) > 0 && (p.Rooms[0] < 0 || p.Rooms[1] < 0):
			r.wall[i] = building.Loss{Source: words.Later("outline of %s: what stands beyond the drawn rooms is not known", r.b.Undrawn[0])}
		case p.Kind == "":
			r.wall[i] = r.b.RadioLoss(p.Made, r.mhz())
		default:
			r.wall[i] = r.opening(p.Kind, p.Made, p.In, p.Length())
		}
		where := words.Later("assumed wall")
		if p.Wall != "" {
			where = words.Later("wall %s", p.Wall)
		}
		if p.Opening != "" {
			where = words.Later("opening %s", p.Opening)
		}
		r.pieces = append(r.pieces, passed(r.wall[i], where))
	}
	for i := range r.b.Floors {
		for k := range r.b.Floors[i].Holes {
			r.hole(&r.b.Floors[i], &r.b.Floors[i].Holes[k])
		}
	}
	if r.narrow {
		r.assume(words.Later("Doors, windows and stairs narrower than %s m count as the wall or floor they are in, and as their leaf where that takes more: at this frequency the wave needs that width (ITU-R P.526, 0.6 of the first Fresnel zone).", words.Figure(r.carries, 1)))
	}
}

func (r *Radio) mhz() float64 { return float64(r.Frequency) / 1e6 }

// opening is what an opening takes off, its leaf shut. One narrower than the zone that carries the wave takes no less than
// what it is in.
func (r *Radio) opening(kind string, made, in building.Made, width float64) building.Loss {
	made.Open = made.Open && (kind == "passage" || kind == "stair")
	leaf := r.b.RadioLoss(made, r.mhz())
	if width >= r.carries {
		return leaf
	}
	r.narrow = true
	if around := r.b.RadioLoss(in, r.mhz()); leaf.Known && (!around.Known || around.DB >= leaf.DB) {
		return around
	}
	return leaf
}

// hole is what an opening in a floor takes off.
func (r *Radio) hole(f *building.Floor, h *building.Hole) building.Loss {
	low, high := h.Outline.Bounds()
	return r.opening(h.Kind, h.Made, f.Made, high.X-low.X)
}

// astray is how far outside of its room something may be drawn: its wall is as thick as that.
const astray = 0.35

// lack says why no way to a place can be followed: the room of what is there is not drawn, or drawn elsewhere; or it is in
// no drawn room, and some are not drawn. nil: it can be.
func (r *Radio) lack(id site.DeviceID, room site.RoomID, at geom.Point3) *words.Text {
	if len(r.b.Rooms) == 0 {
		return nil
	}
	if _, inside := r.b.RoomAt(at); inside {
		return nil
	}
	say := words.Text{}
	one, named := r.site.Rooms[room]
	i, drawn := r.b.RoomOf(room)
	switch {
	case named && !drawn:
		say = words.Later("outline of %s", words.Typed(one.Name))
	case drawn && far(r.b.Rooms[i].Outline, at.Plan()):
		say = words.Later("place of %s: it is drawn outside of its room, %s", receiver(id), words.Typed(one.Name))
	case !drawn && len(r.b.Undrawn) > 0:
		say = words.Later("outline of %s", r.b.Undrawn[0])
	default:
		return nil
	}
	return &say
}

func far(p geom.Polygon, at geom.Point) bool {
	for i := range p {
		if p.Side(i).Distance(at) <= astray {
			return false
		}
	}
	return !p.Contains(at)
}

// hop is the way from a transmitter to a receiver.
//
// lack is why no way to the transmitter can be followed; nil: it can.
func (r *Radio) hop(from site.DeviceID, at geom.Point3, power, gain float64, to Receiver, lack *words.Text) Hop {
	h := Hop{From: from, To: to.Device, Distance: math.Round(at.Distance(to.At)*100) / 100, Power: round1(power), Gains: [2]float64{round1(gain), round1(to.Gain)}, Sensitivity: round1(to.Sensitivity)}
	if len(r.b.Rooms) == 0 && len(r.b.Pieces) == 0 {
		h.Free, h.Model, h.Source = r.unseen(at, to.At)
	} else {
		free, _ := radio.FreeSpace(r.Frequency, quantity.Metre(h.Distance)) // both were tested
		h.Free, h.Model, h.Source = round1(float64(free)), words.Later("20 log(4 pi d f / c)"), words.Later("ITU-R P.525 (H)")
		h.Crossed = r.crossed(at, to.At)
		for _, l := range []*words.Text{lack, to.lack} {
			if l != nil {
				h.Crossed = append([]Passed{{Source: *l}}, h.Crossed...)
			}
		}
	}
	h.Fitted = r.Fit.adds(h.walls())
	h.Received = round1(h.Power + h.Gains[0] + h.Gains[1] - h.Free - h.walls() + h.Fitted)
	h.Margin = round1(h.Received - h.Sensitivity)
	return h
}

// unseen is the loss through a building of which nothing is drawn: the harsher of the two site-independent models.
func (r *Radio) unseen(a, b geom.Point3) (loss float64, formula, source words.Text) {
	low, high := math.Min(a.Z, b.Z), math.Max(a.Z, b.Z)
	floors := 0
	for _, s := range r.b.Storeys {
		if s.Level > low && s.Level <= high {
			floors++
		}
	}
	d := quantity.Metre(a.Distance(b))
	if floors > 3 {
		r.assume(words.Later("More than 3 floors on the way: only 3 are published, and count; measure there."))
	}
	n, over, _, _, _ := radio.ClassicOf(r.Frequency, !r.business(), min(floors, 3))
	classic, _ := radio.Classic(r.Frequency, d, n, over)
	general, err := radio.SiteGeneral(radio.OfficeObstructed, r.Frequency, d)
	r.assume(words.Later("No room and no wall is drawn: a model that knows nothing of the building is taken."))
	if err == nil && general > classic {
		return round1(float64(general)), words.Later("10 a log d + b + 10 g log f"), words.Later("ITU-R P.1238-11, office, obstructed (M): the harsher of two")
	}
	return round1(float64(classic)), words.Later("20 log f + N log d + floors - 28"), words.Later("ITU-R P.1238 to edition 9, N %s (M): the harsher of two", words.Figure(float64(n), -1))
}

// crossed is what stands between two places. Every floor counts in full: a little harsher than the multi-wall model.
func (r *Radio) crossed(a, b geom.Point3) (list []Passed) {
	for _, c := range r.b.Crossed(a, b) {
		if c.Piece >= 0 {
			if p := &r.pieces[c.Piece]; !p.Known || p.DB != 0 {
				list = append(list, *p)
			}
			continue
		}
		f := &r.b.Floors[c.Floor]
		var p Passed
		if c.Hole >= 0 {
			h := &f.Holes[c.Hole]
			p = passed(r.hole(f, h), words.Later("opening %s", h.Opening))
		} else {
			p = passed(r.b.RadioLoss(f.Made, r.mhz()), words.Later("floor of %s", words.Typed(r.b.Storeys[f.Storey].Name)))
		}
		if !p.Known || p.DB != 0 {
			list = append(list, p)
		}
	}
	for i := range r.b.Roofs {
		if over := roof(r.b, &r.b.Roofs[i]); over.Passed(a, b) {
			list = append(list, Passed{Source: words.Later("roof over %s: what it takes off is not known", words.Typed(r.b.Rooms[r.b.Roofs[i].Room].Name))})
		}
	}
	return list
}

// roof is a roof for rays.
func roof(b *building.Building, one *building.Roof) geom.Slab {
	return geom.Slab{Outlines: []geom.Polygon{b.Rooms[one.Room].Outline}, Holes: one.Under, Z: one.Z, Loss: geom.Silence}
}

// receiver is a receiver by its id; "" is the panel.
func receiver(id site.DeviceID) words.Text {
	if id == "" {
		return words.Later("the panel")
	}
	return words.Typed(string(id))
}

func passed(l building.Loss, where words.Text) Passed {
	return Passed{Name: l.Name, Where: where, DB: round1(l.DB), Source: l.Source, Grade: l.Confidence, Known: l.Known}
}
