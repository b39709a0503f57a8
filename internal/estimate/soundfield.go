package estimate

import (
	"encoding/base64"
	"errors"
	"math"
	"slices"

	"proofbell/acoustics"
	"proofbell/geom"
	"proofbell/internal/building"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/site"
)

// FieldAsk says which field is asked for.
type FieldAsk struct {
	Storey  site.StoreyID
	Step    float64 // side of a cell, m; grown where the field would have more than a million of them
	Source  string  // JSON pointer of the only sounder; empty: all that sound together
	Without string  // JSON pointer of one that fails
}

// ErrStorey says that a storey has no rooms to show a field of.
var ErrStorey = errors.New("no room with an outline on that storey")

// soundSteps are the lower bounds of the bands of a sound field, dBA.
var soundSteps = [...]float64{55, 65, 75, 85}

// straightReach is how far the straight way is followed, m: behind that much house the echoes are all there is.
const straightReach = 40

// mostCells bounds a field, whatever its step.
const mostCells = 1e6

// grid is the grid of a storey with the room of each cell, -1 for none.
func grid(b *building.Building, id site.StoreyID, step float64) (g geom.Grid, storey int, rooms []int32, err error) {
	storey = -1
	for i, s := range b.Storeys {
		if s.ID == id {
			storey = i
		}
	}
	var low, high geom.Point
	any := false
	for _, r := range b.Rooms {
		if r.Storey != storey {
			continue
		}
		a, c := r.Outline.Bounds()
		if !any {
			low, high, any = a, c, true
		}
		low, high = geom.Point{X: min(low.X, a.X), Y: min(low.Y, a.Y)}, geom.Point{X: max(high.X, c.X), Y: max(high.Y, c.Y)}
	}
	if !any || storey < 0 {
		return g, storey, nil, ErrStorey
	}
	step = max(step, 0.05, math.Sqrt((high.X-low.X)*(high.Y-low.Y)/mostCells), (high.X-low.X)/10000, (high.Y-low.Y)/10000)
	g = geom.NewGrid(low, high, step)
	rooms = make([]int32, g.W*g.H)
	for i := range rooms {
		rooms[i] = -1
	}
	for i := range b.Rooms {
		if b.Rooms[i].Storey == storey {
			g.Fill(b.Rooms[i].Outline, func(row, from, to int) {
				for c := from; c < to; c++ {
					rooms[row*g.W+c] = int32(i)
				}
			})
		}
	}
	return g, storey, rooms, nil
}

// passes are the shares of energy that losses leave, by tenths of a dB.
var passes = func() (t [1001]float32) {
	for i := range t {
		t[i] = float32(math.Pow(10, -float64(i)/100))
	}
	t[len(t)-1] = 0
	return t
}()

// energies is, in each cell, the loudest of the set that is heard least there, or of the one sounder that was asked for; as
// energy, outside of rooms nothing.
func (m *Sound) energies(ask FieldAsk, g geom.Grid, z float64, rooms []int32) []float32 {
	if ask.Source != "" {
		for i, one := range m.sounders {
			if one.pointer == ask.Source {
				return m.energiesOf([]int{i}, ask, g, z, rooms)
			}
		}
		return make([]float32, len(rooms))
	}
	var out []float32
	var told []bool // rooms of which a set was told
	for _, set := range m.sets {
		if !set.reaches() {
			continue
		}
		one := m.energiesOf(set.of, ask, g, z, rooms)
		counts := make([]bool, len(m.rooms))
		for r := range counts {
			counts[r] = m.reaches(set, r)
		}
		if out == nil {
			out, told = make([]float32, len(rooms)), make([]bool, len(m.rooms))
		}
		for c, r := range rooms {
			if r >= 0 && counts[r] && (!told[r] || one[c] < out[c]) {
				out[c] = one[c]
			}
		}
		for r := range told {
			told[r] = told[r] || counts[r]
		}
	}
	if out == nil {
		out = make([]float32, len(rooms))
	}
	return out
}

// energiesOf is the loudest of some sounders in each cell.
func (m *Sound) energiesOf(of []int, ask FieldAsk, g geom.Grid, z float64, rooms []int32) []float32 {
	out := make([]float32, len(rooms))
	floor := make([]float32, len(m.rooms)) // the loudest echoes of each room
	for tone, scene := range m.state.scene {
		var sources []geom.Source
		var which []int
		for _, i := range of {
			if one := m.sounders[i]; m.state.tone[i] == tone && one.pointer != ask.Without {
				sources, which = append(sources, geom.Source{At: one.at, Reach: straightReach}), append(which, i)
			}
		}
		if len(sources) == 0 {
			continue
		}
		echoes := make([]float32, len(sources)*len(m.rooms))
		for k, i := range which {
			for r := range m.rooms {
				e := float32(m.state.heard(m, i, nil, r))
				echoes[k*len(m.rooms)+r] = e
				floor[r] = max(floor[r], e)
			}
		}
		scene.Shadows(sources, g, z, func(k, row, first int, loss []float64) {
			one, src := m.sounders[which[k]], m.state.sources[which[k]]
			echo := echoes[k*len(m.rooms) : (k+1)*len(m.rooms)]
			at := g.At(first, row)
			dx, dy, dz := at.X-one.at.X, at.Y-one.at.Y, z-one.at.Z
			beside := float32(dy*dy + dz*dz)
			power := float32(src.Direct(1, 0))
			x, step := float32(dx), float32(g.Step)
			cells, of := out[row*g.W+first:][:len(loss)], rooms[row*g.W+first:][:len(loss)]
			last, share := -1.0, float32(0)
			for c, dB := range loss {
				if dB != last { // a row has few different losses
					last, share = dB, power*passes[min(int(dB*10+0.5), len(passes)-1)]
				}
				if room := of[c]; room >= 0 {
					if e := echo[room] + share/max(x*x+beside, 0.01); e > cells[c] {
						cells[c] = e
					}
				}
				x += step
			}
		})
	}
	for i, room := range rooms {
		if room >= 0 {
			out[i] = max(out[i], floor[room])
		}
	}
	return out
}

// Field is the sound over one storey at the height of a pillow: in each cell the level of the loudest that sounds there,
// straight through what stands between and with the echoes of the room.
func (m *Sound) Field(lang *words.Language, need SoundNeed, ask FieldAsk) (FieldView, error) {
	g, storey, rooms, err := grid(m.b, ask.Storey, ask.Step)
	if err != nil {
		return FieldView{}, err
	}
	v := FieldView{
		What: "sound", Storey: string(ask.Storey), Source: ask.Source, Height: Pillow, Min: [2]float64{g.Min.X, g.Min.Y}, Step: g.Step, W: g.W, H: g.H,
		Steps: soundSteps[:], Unit: "dBA", Label: lang.Word(Label), Contour: []Contour{}, Terms: []Term{},
	}
	energy := m.energies(ask, g, m.b.Storeys[storey].Level+Pillow, rooms)
	var bounds [len(soundSteps)]float32
	for i, l := range soundSteps {
		bounds[i] = float32(acoustics.Energy(quantity.DBA(l)))
	}
	bands := make([]byte, len(energy))
	for i, e := range energy {
		band := byte(255)
		for k, bound := range bounds {
			if e >= bound && rooms[i] >= 0 {
				band = byte(k)
			}
		}
		bands[i] = band
	}
	v.Bands = base64.StdEncoding.EncodeToString(bands)
	m.contours(lang, &v, need, g, rooms, energy)
	v.Assumed, v.Missing = m.Notes(lang)
	return v, nil
}

// contours draws where each room reaches what is required there, and says what that is.
func (m *Sound) contours(lang *words.Language, v *FieldView, need SoundNeed, g geom.Grid, rooms []int32, energy []float32) {
	required := make([]float64, len(m.rooms)) // 0: another storey, or not known
	var wanted []float64
	for i := range m.rooms {
		if m.b.Storeys[m.b.Rooms[i].Storey].ID != site.StoreyID(v.Storey) {
			continue
		}
		room := m.s.Rooms[m.b.Rooms[i].ID]
		row := SoundRow{Sleeping: Sleeps(room)}
		(&rowWriter{m: m, lang: lang, row: &row}).required(room, need)
		if row.Required == nil {
			continue
		}
		required[i] = *row.Required
		if !slices.Contains(wanted, required[i]) {
			wanted = append(wanted, required[i])
			v.Terms = append(v.Terms, row.Terms[len(row.Terms)-1])
		}
	}
	if len(wanted) == 1 {
		v.Wanted = &wanted[0]
	}
	values := make([]float64, len(energy))
	for _, one := range wanted {
		for i, e := range energy {
			values[i] = math.NaN()
			if r := rooms[i]; r >= 0 && required[r] == one {
				values[i] = float64(e) // between two cells the energy is as straight a measure as the level, and costs no logarithm
			}
		}
		v.Contour = append(v.Contour, contours(g, values, acoustics.Energy(quantity.DBA(one)), one)...)
	}
}

// contours are the lines at a value, to the millimetre; level is what they are called.
func contours(g geom.Grid, values []float64, at, level float64) []Contour {
	var out []Contour
	for _, line := range geom.Contours(g, values, at) {
		c := Contour{Value: level}
		for _, p := range line {
			c.Line = append(c.Line, [2]float64{math.Round(p.X*1000) / 1000, math.Round(p.Y*1000) / 1000})
		}
		if last := len(c.Line) - 1; last > 1 && c.Line[0] == c.Line[last] {
			c.Line, c.Closed = c.Line[:last], true
		}
		out = append(out, c)
	}
	return out
}
