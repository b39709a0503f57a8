package estimate

import (
	"encoding/json"
	"math"
	"strconv"

	"proofbell/geom"
	"proofbell/internal/building"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/radio"
	"proofbell/site"
)

// Placement is where repeaters or second receivers would bring every link to the wanted margin: the fewest, at the best places.
type Placement struct {
	Wired    bool // second receivers wired to the panel; else repeaters that send on by radio
	Short    []site.DeviceID
	Spots    []Spot
	AtLeast  int             // with fewer it can not be done; proved
	Best     bool            // proved: no other choice of as many has a stronger weakest link
	Worst    float64         // margin of the weakest of the links that they carry; NaN for none
	Unserved []site.DeviceID // short links that no place helps
	Tried    int             // places that were looked at
	Assumed  []words.Text
	Patch    site.Patch // adds them to the site; nil for none
}

// Spot is one place for a repeater.
type Spot struct {
	Device site.DeviceID // id that the patch gives it
	Room   site.RoomID
	At     geom.Point3
	Serves []site.DeviceID // links that it carries best
	Worst  float64         // of them
	Back   float64         // its own margin to the panel; +Inf by wire
}

const (
	mostPlaces = 1200    // places that are tried: the raster grows with the building
	mostWays   = 150_000 // ways between places and short links that are looked at
	hangs      = 2.2     // m above the floor: in reach from a step, above people and furniture
	offWall    = 0.3     // m from the sides of a room
)

// Repeaters proposes places for repeaters, or for second receivers by wire. Only links that are short count.
func (r *Radio) Repeaters(wired bool) Placement {
	p := Placement{Wired: wired, Worst: math.NaN()}
	for _, l := range r.Links {
		if m, _ := r.site.ModelOf(l.Device); m.Class != "repeater" && (l.Verdict == Doubtful || l.Verdict == TooLittle) {
			p.Short = append(p.Short, l.Device)
		}
	}
	if len(p.Short) == 0 {
		return p
	}
	model, id, known := r.repeaterModel(wired)
	switch {
	case known:
	case wired:
		p.Assumed = append(p.Assumed, words.Later("The second receiver's own figures are not in the site file: sensitivity as the panel, 0 dBi."))
	default:
		p.Assumed = append(p.Assumed, words.Later("The repeater's own figures are not in the site file: transmit power as the weakest device, sensitivity as the panel, 0 dBi."))
	}
	one := Receiver{Gain: model.Antenna.SI(), Sensitivity: model.Sensitivity.SI(), Wired: wired, Power: model.TransmitPower.SI()}
	if model.Sensitivity.IsZero() {
		one.Sensitivity = r.site.Panel.Radio.Sensitivity.SI()
	}
	spots := r.candidates(min(mostPlaces, max(100, mostWays/len(p.Short))))
	p.Tried = len(spots)
	margins := make([][]float64, len(spots))
	for i := range spots {
		spot := &spots[i]
		spot.Back = math.Inf(1)
		if !wired {
			spot.Back = math.Inf(-1)
			for _, to := range r.Receivers {
				if to.Wired {
					spot.Back = math.Max(spot.Back, r.margin(spot.At, one.Power, one.Gain, to))
				}
			}
		}
		one.At = spot.At
		margins[i] = make([]float64, len(p.Short))
		for k, id := range p.Short {
			m, _ := r.site.ModelOf(id)
			d := r.site.Devices[id]
			at, _, placed := r.b.Place(d.At, d.Room)
			if margins[i][k] = math.Inf(-1); placed && !m.TransmitPower.IsZero() && r.lack(id, d.Room, at) == nil { // a measured link may lack them
				margins[i][k] = math.Min(spot.Back, r.margin(at, m.TransmitPower.SI(), m.Antenna.SI(), one))
			}
		}
	}
	placed := radio.Place(margins, r.Wanted, 0)
	p.AtLeast, p.Best = placed.AtLeast, placed.BestWay
	for _, l := range placed.Unserved {
		p.Unserved = append(p.Unserved, p.Short[l])
	}
	for n, c := range placed.Chosen {
		spot := spots[c]
		spot.Device, spot.Worst = r.newDevice(n), math.Inf(1)
		p.Spots = append(p.Spots, spot)
	}
	for l, id := range p.Short {
		best := -1
		for n, c := range placed.Chosen {
			if m := margins[c][l]; m >= r.Wanted && (best < 0 || m > margins[placed.Chosen[best]][l]) {
				best = n
			}
		}
		if best >= 0 {
			p.Spots[best].Serves = append(p.Spots[best].Serves, id)
			p.Spots[best].Worst = math.Min(p.Spots[best].Worst, margins[placed.Chosen[best]][l])
		}
	}
	if len(p.Spots) > 0 {
		p.Worst = placed.Worst
		p.Patch = r.patch(p, model, id, known)
	}
	return p
}

// repeaterModel is the site's own kind of repeater, or one as good as what the site has.
func (r *Radio) repeaterModel(wired bool) (m site.Model, id site.ModelID, known bool) {
	link := "radio"
	if wired {
		link = "wired"
	}
	weakest := math.Inf(1)
	for _, id := range site.SortedIDs(r.site.Models) {
		m := r.site.Models[id]
		if m.Class == "repeater" && m.Link == link && (wired || !m.TransmitPower.IsZero()) {
			return m, id, true
		}
		if m.Link == "radio" && !m.TransmitPower.IsZero() {
			weakest = math.Min(weakest, m.TransmitPower.SI())
		}
	}
	m = site.Model{Name: "Radio repeater", Class: "repeater", Link: link, Sensitivity: r.site.Panel.Radio.Sensitivity}
	id = "radio-repeater"
	if wired {
		m.Name, id = "Second radio receiver, wired to the panel", "second-receiver"
	} else {
		m.TransmitPower, _ = quantity.Parse[quantity.PowerLevelDimension](strconv.FormatFloat(weakest, 'f', -1, 64) + " dBm")
	}
	for base, n := id, 2; ; n++ {
		if _, taken := r.site.Models[id]; !taken {
			return m, id, false
		}
		id = base + "-" + site.ModelID(strconv.Itoa(n))
	}
}

// newDevice is the id of proposal n: the first numbers that are free.
func (r *Radio) newDevice(n int) site.DeviceID {
	for i := 1; ; i++ {
		id := site.DeviceID("repeater-" + strconv.Itoa(i))
		if _, taken := r.site.Devices[id]; taken {
			continue
		}
		if n == 0 {
			return id
		}
		n--
	}
}

// candidates are places for a repeater: a raster over the rooms, without those where steam or a moving machine would be beside it.
func (r *Radio) candidates(most int) (spots []Spot) {
	for step := 1.0; ; step *= 1.25 {
		spots = spots[:0]
		for _, room := range r.b.Rooms {
			hostile := false
			for _, h := range r.site.Rooms[room.ID].Hazards {
				hostile = hostile || h == "steam" || h == "machine"
			}
			if hostile {
				continue
			}
			low, high := room.Outline.Bounds()
			g := geom.NewGrid(low, high, step)
			z := math.Round(math.Max(room.Z0, math.Min(room.Z0+hangs, room.Z1-0.1))*100) / 100
			for row := range g.H {
				for col := range g.W {
					at := g.At(col, row)
					at.X, at.Y = math.Round(at.X*10)/10, math.Round(at.Y*10)/10
					if room.Outline.Holds(at) && clearOf(room.Outline, at) {
						spots = append(spots, Spot{Room: room.ID, At: geom.Point3{X: at.X, Y: at.Y, Z: z}})
					}
				}
			}
		}
		if len(spots) <= most {
			return spots
		}
	}
}

func clearOf(p geom.Polygon, at geom.Point) bool {
	for i := range p {
		if p.Side(i).Distance(at) < offWall {
			return false
		}
	}
	return true
}

// margin is that of hop, without its terms; -Inf when something on the way is not known.
func (r *Radio) margin(at geom.Point3, power, gain float64, to Receiver) float64 {
	if len(r.b.Pieces) == 0 {
		return r.hop("", at, power, gain, to, nil).Margin
	}
	walls := r.rays().Loss(at, to.At)
	if to.lack != nil || walls >= geom.Silence {
		return math.Inf(-1)
	}
	free, _ := radio.FreeSpace(r.Frequency, quantity.Metre(math.Round(at.Distance(to.At)*100)/100))
	h := Hop{Crossed: []Passed{{DB: walls}}}
	return round1(round1(power) + round1(gain) + round1(to.Gain) - round1(float64(free)) - h.walls() + r.Fit.adds(h.walls()) - round1(to.Sensitivity))
}

// rays is the building for geom, with losses as hops count them. What is not known lets nothing through.
func (r *Radio) rays() *geom.Scene {
	if r.scene == nil {
		db := func(l building.Loss) float64 {
			if !l.Known {
				return geom.Silence
			}
			return round1(l.DB)
		}
		next := 0
		r.scene = roofed(r.b, r.b.Scene(
			func(*building.Piece) float64 { next++; return db(r.wall[next-1]) }, // in their order
			func(f *building.Floor) float64 { return db(r.b.RadioLoss(f.Made, r.mhz())) },
			func(f *building.Floor, h *building.Hole) float64 { return db(r.hole(f, h)) }))
	}
	return r.scene
}

// roofed is a scene with the roofs of its building: nothing is known of them, and so they let nothing through.
func roofed(b *building.Building, scene *geom.Scene) *geom.Scene {
	slabs := scene.Slabs
	for i := range b.Roofs {
		slabs = append(slabs, roof(b, &b.Roofs[i]))
	}
	return geom.NewScene(scene.Screens, slabs)
}

func (r *Radio) patch(p Placement, m site.Model, id site.ModelID, known bool) site.Patch {
	devices := map[string]any{}
	for _, s := range p.Spots {
		devices[string(s.Device)] = map[string]any{"model": id, "room": s.Room, "at": []float64{s.At.X, s.At.Y, s.At.Z}}
	}
	all := map[string]any{"devices": devices}
	if !known {
		all["models"] = map[string]any{string(id): m}
	}
	raw, _ := json.Marshal(all) // strings and numbers: can not fail
	return raw
}
