package placing

import (
	"maps"
	"math"
	"strconv"

	"proofbell/geom"
	"proofbell/internal/building"
	"proofbell/internal/estimate"
	"proofbell/quantity"
	"proofbell/site"
)

const (
	mostSpots = 400 // places that are tried: the lattice grows with the building
	offWall   = 0.3 // m from the sides of a room
)

// spot is a place on a ceiling.
type spot struct {
	room    site.RoomID
	index   int // of the room in the building
	at      geom.Point3
	pointer string  // in the trial
	margin  float64 // of its radio, dB; NaN for none
	wanted  float64
	heard   map[int]float64 // by need: what the sound has over what is asked, its uncertainty taken off
	middle  float64         // m from the middle of the room
}

// spots lists places in the rooms that can help: on a lattice, off the walls, clear of steam and cooking.
func (f *finder) spots(needs []need) []spot {
	helps := map[int]bool{}
	for _, n := range needs {
		for i := range n.rooms {
			helps[i] = true
		}
		if n.sleeps == "" {
			continue
		}
		bed, _ := f.b.RoomOf(n.sleeps)
		helps[bed] = true
		for _, d := range f.b.Doors() { // outside the door it may be loud enough for several
			for i := range d.Rooms {
				if d.Rooms[i] == bed && d.Rooms[1-i] != building.Outside {
					helps[d.Rooms[1-i]] = true
				}
			}
		}
	}
	var out []spot
	for step := 1.0; ; step *= 1.3 {
		out = out[:0]
		for i := range f.b.Rooms {
			if r := &f.b.Rooms[i]; helps[i] && !soils(f.now.Rooms[r.ID]) {
				out = f.lattice(out, i, step)
			}
		}
		if len(out) <= mostSpots {
			break
		}
	}
	f.listen(out, needs)
	return out
}

func (f *finder) lattice(out []spot, room int, step float64) []spot {
	r := &f.b.Rooms[room]
	low, high := r.Outline.Bounds()
	middle := r.Inside()
	z := math.Round(r.Z1*100) / 100
	try := func(p geom.Point) {
		p = geom.Point{X: math.Round(p.X*10) / 10, Y: math.Round(p.Y*10) / 10}
		if r.Outline.Holds(p) && f.clear(room, p) {
			out = append(out, spot{room: r.ID, index: room, at: geom.Point3{X: p.X, Y: p.Y, Z: z}, margin: math.NaN(), middle: p.Distance(middle)})
		}
	}
	try(middle)
	grid := func(columns, rows float64) {
		for row := 0.5; row < rows; row++ {
			for col := 0.5; col < columns; col++ {
				try(geom.Point{X: low.X + col*(high.X-low.X)/columns, Y: low.Y + row*(high.Y-low.Y)/rows})
			}
		}
	}
	// As few as cover the whole evenly, in one to three rows along or across.
	for rows := 1.0; rows <= 3; rows++ {
		if n := across(high.X-low.X, (high.Y-low.Y)/rows, f.figure("reach.smoke")); n > 0 {
			grid(n, rows)
		}
		if n := across(high.Y-low.Y, (high.X-low.X)/rows, f.figure("reach.smoke")); n > 0 {
			grid(rows, n)
		}
	}
	// As many as fit, evenly: in a narrow room along its middle.
	grid(max(1, math.Round((high.X-low.X)/step)), max(1, math.Round((high.Y-low.Y)/step)))
	return out
}

// across is how many places in one row cover a strip; 0: it is too wide for one row, or too long to be asked.
func across(long, wide, reach float64) float64 {
	half := math.Sqrt(reach*reach - wide*wide/4)
	if n := math.Ceil(long / 2 / half); half > 0 && n <= 12 {
		return n
	}
	return 0
}

// clear keeps a place off the walls, and off the doors of kitchens and bathrooms, as the rules ask.
func (f *finder) clear(room int, p geom.Point) bool {
	for i := range f.b.Rooms[room].Outline {
		if f.b.Rooms[room].Outline.Side(i).Distance(p) < offWall {
			return false
		}
	}
	for _, d := range f.b.Doors() {
		for i := range d.Rooms {
			if d.Rooms[i] != room || d.Rooms[1-i] == building.Outside {
				continue
			}
			other := f.now.Rooms[f.b.Rooms[d.Rooms[1-i]].ID]
			least := 0.0
			switch {
			case other.Use == "bathroom":
				least = f.figure("clear.bathroom")
			case other.Use == "kitchen" || hasCooking(other):
				least = f.figure("clear.cooking")
			}
			if p.Distance(d.At) < least {
				return false
			}
		}
	}
	return true
}

func hasCooking(r site.Room) bool {
	for _, h := range r.Hazards {
		if h == "cooking" {
			return true
		}
	}
	return false
}

// listen asks the sound and the radio model about all places at once: a trial of the site with an alarm at each.
func (f *finder) listen(spots []spot, needs []need) {
	trial := *f.was
	trial.Heads, trial.Devices = maps.Clone(f.was.Heads), maps.Clone(f.was.Devices)
	if trial.Heads == nil {
		trial.Heads = map[site.HeadID]site.Head{}
	}
	if trial.Devices == nil {
		trial.Devices = map[site.DeviceID]site.Device{}
	}
	for i := range spots {
		s := &spots[i]
		at := site.Coordinates{metres(s.at.X), metres(s.at.Y), metres(s.at.Z)}
		id := "trial-" + strconv.Itoa(i)
		s.pointer = "/" + f.what.member + "/" + id
		if f.what.member == "heads" {
			h := site.Head{Kind: "smoke", Group: f.what.as["group"].(site.GroupID), Room: s.room, At: at}
			if level, ok := f.what.as["level"].(string); ok {
				h.Level, _ = quantity.Parse[quantity.SoundLevelDimension](level) // as the site itself has it
			}
			trial.Heads[site.HeadID(id)] = h
		} else {
			trial.Devices[site.DeviceID(id)] = site.Device{Model: f.what.as["model"].(site.ModelID), Room: s.room, At: at}
		}
	}
	m := estimate.NewSound(&trial, f.b, estimate.SoundOptions{Fit: f.fit})
	for i := range spots {
		spots[i].heard = map[int]float64{}
		for k, n := range needs {
			if n.sleeps == "" {
				continue
			}
			if level, uncertain, ok := m.Heard(n.set, spots[i].pointer, n.sleeps, n.bed); ok {
				spots[i].heard[k] = math.Round(10*(level-n.asks-uncertain)) / 10
			}
		}
	}
	if !f.what.radio {
		return
	}
	r := estimate.RadioOf(&trial, f.b, f.o.Told)
	margins := map[site.DeviceID]float64{}
	for _, l := range r.Links {
		margins[l.Device] = l.Margin
	}
	for i := range spots {
		spots[i].wanted = r.Wanted
		spots[i].margin = none
		if v, ok := margins[site.DeviceID("trial-"+strconv.Itoa(i))]; ok && !math.IsNaN(v) {
			spots[i].margin = v
		}
	}
}

func metres(v float64) quantity.Length {
	l, _ := quantity.Parse[quantity.LengthDimension](strconv.FormatFloat(v, 'f', -1, 64) + " m") // a plain number with its unit
	return l
}

// meets is by how much a place meets a need; below zero it does not. Where only the place counts, the middle of a room is
// worth more than its rim.
func (f *finder) meets(s spot, n need) float64 {
	if f.what.radio && !(s.margin >= s.wanted) {
		return none
	}
	if n.sleeps != "" {
		return none // asked of the models: see margins
	}
	far, in := n.rooms[s.index]
	if !in {
		return none
	}
	for _, from := range n.from[s.index] {
		if math.Round(10*f.b.Rooms[s.index].Outline.Way(from, s.at.Plan()))/10 > far {
			return none
		}
	}
	if n.place != nil && math.Round(10*n.place.Distance(s.at.Plan()))/10 > n.within {
		return none
	}
	return max(1, 40-s.middle)
}

// margins is by how much each place meets each need.
func (f *finder) margins(spots []spot, needs []need) [][]float64 {
	out := make([][]float64, len(spots))
	for i, s := range spots {
		out[i] = make([]float64, len(needs))
		for k, n := range needs {
			out[i][k] = f.meets(s, n)
			if n.sleeps == "" || f.what.radio && !(s.margin >= s.wanted) {
				continue
			}
			if v, ok := s.heard[k]; ok {
				out[i][k] = v
			}
		}
	}
	return out
}
