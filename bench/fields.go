package main

import (
	"encoding/json"
	"fmt"
	"math"
	"sync"
	"sync/atomic"

	"proofbell/acoustics"
	"proofbell/geom"
	"proofbell/internal/building"
	"proofbell/internal/estimate"
	"proofbell/site"
)

const (
	fieldSources = 40
	fieldStep    = 0.1 // metres
	fieldHeight  = 1.5
	fieldReach   = 40 // metres: behind that much house nothing is heard
	fieldLeast   = 15 // times as fast as looking at every wall from every cell
)

// fieldStorey measures what a colour map of sound or radio rests on: sources added up in every cell, behind all walls.
var fieldStorey = measure{
	name: "fields", what: "a field over a storey of 60 rooms at 0.1 m, 40 sources, each behind the walls between", budget: 0.25, unit: "s",
	run: func() (result, error) {
		b, err := storeyOf(60)
		if err != nil {
			return result{}, err
		}
		scene, grid, sources := fieldOf(b)
		var field, judge []float64
		value, err := best(5, func() error { field = levels(scene, grid, sources); return nil })
		if err != nil {
			return result{}, err
		}
		plain, err := best(1, func() error { judge = plainLevels(scene, grid, sources); return nil })
		if err != nil {
			return result{}, err
		}
		if off := differ(field, judge); off > len(field)/1000 {
			return result{}, fmt.Errorf("%d of %d cells differ from the plain way", off, len(field))
		}
		if plain < fieldLeast*value {
			return result{}, fmt.Errorf("only %.1f times as fast as the plain way, want %d", plain/value, fieldLeast)
		}
		note := fmt.Sprintf("%d pieces of wall, %d cells; %.0f times as fast as the plain way", len(scene.Screens), grid.W*grid.H, plain/value)
		coarse := geom.NewGrid(grid.Min, grid.At(grid.W, grid.H), 0.4)
		drag, err := best(5, func() error { levels(scene, coarse, sources); return nil })
		if err != nil {
			return result{}, err
		}
		note += fmt.Sprintf("; at 0.4 m, while dragging: %.0f ms", 1000*drag)
		loud, err := loudSite()
		if err != nil {
			return result{}, err
		}
		for _, step := range []float64{fieldStep, 0.5} {
			seconds, err := best(3, func() error { return soundOf(loud, step) })
			if err != nil {
				return result{}, err
			}
			note += fmt.Sprintf("; the sound of 40 alarms as a page is given it, at %v m: %.0f ms", step, 1000*seconds)
		}
		for _, rooms := range []int{10, 100, 1000} {
			of, err := storeyOf(rooms)
			if err != nil {
				return result{}, err
			}
			scene, grid, sources := fieldOf(of)
			var asked int64 // square metres, over all sources
			for i := range sources {
				sources[i].Reach = fieldReach
			}
			scene.Shadows(sources, geom.NewGrid(grid.Min, grid.At(grid.W, grid.H), 1), fieldHeight, func(_, _, _ int, loss []float64) {
				atomic.AddInt64(&asked, int64(len(loss)))
			})
			seconds, err := best(2, func() error { levels(scene, grid, sources); return nil })
			if err != nil {
				return result{}, err
			}
			note += fmt.Sprintf("; %d rooms, %d m within %d m of a source, %.3g s, %.2g ns a cell", rooms, asked, fieldReach, seconds, 1e9*seconds*fieldStep*fieldStep/float64(asked))
		}
		return result{value: value, baseline: plain, plain: "looking at every wall from every cell for every source", note: note}, err
	},
}

// fieldOf is a building as a scene with losses, and sources spread over it.
func fieldOf(b *building.Building) (*geom.Scene, geom.Grid, []geom.Source) {
	scene := b.Scene(
		func(p *building.Piece) float64 { return b.SoundLoss(p.Made, 3000).DB },
		func(f *building.Floor) float64 { return b.SoundLoss(f.Made, 3000).DB },
		func(_ *building.Floor, h *building.Hole) float64 { return b.SoundLoss(h.Made, 3000).DB },
	)
	var all geom.Polygon
	for _, r := range b.Rooms {
		all = append(all, r.Outline...)
	}
	low, high := all.Bounds()
	sources := make([]geom.Source, fieldSources)
	for i := range sources {
		at := b.Rooms[i*len(b.Rooms)/fieldSources].Inside()
		sources[i].At = geom.Point3{X: at.X + 0.13*float64(i%7), Y: at.Y - 0.11*float64(i%5), Z: 2.5}
	}
	return scene, geom.NewGrid(low, high, fieldStep), sources
}

// levels adds up the energy of all sources in every cell: 105.5 dB of power, spread over spheres.
func levels(scene *geom.Scene, g geom.Grid, sources []geom.Source) []float64 {
	field := make([]float64, g.W*g.H)
	scene.Shadows(sources, g, fieldHeight, func(source, row, first int, loss []float64) {
		at := sources[source].At
		line := field[row*g.W+first:]
		rise := (at.Z-fieldHeight)*(at.Z-fieldHeight) + square(g.At(0, row).Y-at.Y)
		last, share := math.NaN(), 0.0
		for c, l := range loss {
			if l != last { // a row has few different losses
				last, share = l, energy(l)
			}
			line[c] += share / (rise + square(g.At(first+c, row).X-at.X))
		}
	})
	for i, e := range field {
		field[i] = 94.5 + 10*math.Log10(e)
	}
	return field
}

func square(v float64) float64 { return v * v }

func energy(loss float64) float64 { return math.Pow(10, -loss/10) }

// plainLevels does the same and looks at every wall, row by row on all processors as well.
func plainLevels(scene *geom.Scene, g geom.Grid, sources []geom.Source) []float64 {
	field := make([]float64, g.W*g.H)
	rows := make(chan int, g.H)
	for row := range g.H {
		rows <- row
	}
	close(rows)
	var wait sync.WaitGroup
	for range 2 {
		wait.Go(func() {
			for row := range rows {
				for c := range g.W {
					p := g.At(c, row)
					var sum float64
					for _, s := range sources {
						sum += energy(plainLoss(scene, s.At, p)) / (square(s.At.X-p.X) + square(s.At.Y-p.Y) + square(s.At.Z-fieldHeight))
					}
					field[row*g.W+c] = 94.5 + 10*math.Log10(sum)
				}
			}
		})
	}
	wait.Wait()
	return field
}

func plainLoss(scene *geom.Scene, s geom.Point3, p geom.Point) float64 {
	var sum float64
	d := geom.Point{X: p.X - s.X, Y: p.Y - s.Y}
	for i := range scene.Screens {
		w := &scene.Screens[i]
		e, f := w.B.Sub(w.A), w.A.Sub(s.Plan())
		den := d.Cross(e)
		if den == 0 {
			continue
		}
		t, u := f.Cross(e)/den, f.Cross(d)/den
		if t < 0 || t > 1 || u < 0 || u > 1 {
			continue
		}
		if z := s.Z + t*(fieldHeight-s.Z); z >= w.Z0 && z < w.Z1 {
			sum += w.Loss
		}
	}
	return sum
}

// differ counts the cells that are not the same: a ray through the end of a wall may go either way.
func differ(a, b []float64) int {
	n := 0
	for i := range a {
		if math.Abs(a[i]-b[i]) > 0.01 {
			n++
		}
	}
	return n
}

// storeyOf is a storey of so many rooms of 4 by 5 m in rows, each with a door to the next.
func storeyOf(rooms int) (*building.Building, error) {
	s, err := siteOf(rooms)
	if err != nil {
		return nil, err
	}
	return building.Of(s), nil
}

func siteOf(rooms int) (*site.Site, error) {
	across := int(math.Ceil(math.Sqrt(float64(rooms) * 1.6)))
	type object map[string]any
	all, walls, doors := object{}, object{}, object{}
	wall := func(name string, x0, y0, x1, y1 int) {
		walls[name] = object{"storey": "g", "from": []int{x0, y0}, "to": []int{x1, y1}, "thickness": 0.1, "material": "stud"}
	}
	for i := range rooms {
		c, r := i%across, i/across
		x, y := 4*c, 5*r
		id := func(i int) string { return fmt.Sprintf("r%04d", i) }
		all[id(i)] = object{"name": id(i), "storey": "g", "outline": [][]int{{x, y}, {x + 4, y}, {x + 4, y + 5}, {x, y + 5}}}
		wall(fmt.Sprintf("s%d", i), x, y, x+4, y)
		wall(fmt.Sprintf("w%d", i), x, y, x, y+5)
		if c == across-1 || i == rooms-1 {
			wall(fmt.Sprintf("e%d", i), x+4, y, x+4, y+5)
		}
		if i+across >= rooms {
			wall(fmt.Sprintf("n%d", i), x, y+5, x+4, y+5)
		}
		if c > 0 {
			doors[fmt.Sprintf("d%d", i)] = object{"kind": "door", "storey": "g", "at": []float64{float64(x), float64(y) + 1.2}, "width": 0.8, "rooms": []string{id(i - 1), id(i)}, "material": "door"}
		}
	}
	text, err := json.Marshal(object{
		"storeys": object{"g": object{"name": "Ground floor", "level": 0, "ceiling": 2.6}}, "rooms": all, "walls": walls, "openings": doors,
		"materials": object{"stud": object{"name": "Stud wall", "as": "stud-wall"}, "door": object{"name": "Door", "as": "hollow-door"}},
	})
	if err != nil {
		return nil, err
	}
	return site.DecodeJSON("storey.json", text)
}

// soundOf is the sound of such a storey as a page is given it: from the site to bands and lines. An alarm in each of the
// first rooms.
func soundOf(s *site.Site, step float64) error {
	_, err := estimate.NewSound(s, building.Of(s), estimate.SoundOptions{}).Field(nil, estimate.SoundNeed{Elsewhere: acoustics.Demand{OverAverage: 15, Least: 65}}, estimate.FieldAsk{Storey: "g", Step: step})
	return err
}
