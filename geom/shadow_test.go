package geom_test

import (
	"math"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"proofbell/geom"
)

// anyScene draws a scene from few numbers, so that ends meet, rays go through joints, and sources lie on walls.
func anyScene(t *rapid.T) *geom.Scene {
	at := func(label string) geom.Point {
		return geom.Point{X: float64(rapid.IntRange(0, 12).Draw(t, label+" x")) / 2, Y: float64(rapid.IntRange(0, 12).Draw(t, label+" y")) / 2}
	}
	heights := []float64{0, 0.5, 2, 2.6, 2.9, 5}
	var screens []geom.Screen
	for range rapid.IntRange(0, 12).Draw(t, "screens") {
		a, b := at("a"), at("b")
		if rapid.Bool().Draw(t, "joined") && len(screens) > 0 {
			a = screens[len(screens)-1].B
		}
		if a == b {
			continue
		}
		low := rapid.IntRange(0, len(heights)-2).Draw(t, "low")
		high := rapid.IntRange(low+1, len(heights)-1).Draw(t, "high")
		screens = append(screens, geom.Screen{A: a, B: b, Z0: heights[low], Z1: heights[high], Loss: float64(rapid.IntRange(0, 40).Draw(t, "loss"))})
	}
	var slabs []geom.Slab
	for range rapid.IntRange(0, 2).Draw(t, "slabs") {
		slab := geom.Slab{Z: rapid.SampledFrom([]float64{2.9, 2.6}).Draw(t, "z"), Loss: float64(rapid.IntRange(1, 40).Draw(t, "floor"))}
		for range rapid.IntRange(1, 3).Draw(t, "outlines") {
			slab.Outlines = append(slab.Outlines, box(at("p"), at("q")))
		}
		if rapid.Bool().Draw(t, "hole") {
			slab.Holes = append(slab.Holes, box(at("p"), at("q")))
		}
		slabs = append(slabs, slab)
	}
	return geom.NewScene(screens, slabs)
}

func box(a, b geom.Point) geom.Polygon {
	return geom.Polygon{a, {X: b.X, Y: a.Y}, b, {X: a.X, Y: b.Y}}
}

func anySource(t *rapid.T) geom.Source {
	return geom.Source{
		At: geom.Point3{
			X: float64(rapid.IntRange(-4, 28).Draw(t, "source x")) / 4, Y: float64(rapid.IntRange(-4, 28).Draw(t, "source y")) / 4,
			Z: rapid.SampledFrom([]float64{0.1, 1.5, 2, 2.4, 2.6, 2.9, 4, 5.3}).Draw(t, "source z"),
		},
		Reach: rapid.SampledFrom([]float64{0, 0, 1.3, 3}).Draw(t, "reach"),
	}
}

// The judge is the single ray.
func TestShadowsAreTheSumsOfRays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyScene(t)
		var sources []geom.Source
		for range rapid.IntRange(1, 3).Draw(t, "sources") {
			sources = append(sources, anySource(t))
		}
		g := geom.Grid{
			Min:  geom.Point{X: float64(rapid.IntRange(-8, 4).Draw(t, "min x")) / 8, Y: float64(rapid.IntRange(-8, 4).Draw(t, "min y")) / 8},
			Step: rapid.SampledFrom([]float64{0.25, 0.3, 0.5, 1}).Draw(t, "step"), W: 24, H: 24,
		}
		z := rapid.SampledFrom([]float64{0.9, 1.5, 2, 2.5, 2.9, 4}).Draw(t, "z")
		checkShadows(t, s, sources, g, z)
	})
}

// The same with walls as they are traced: any numbers, any angles.
func TestShadowsOfAnyWalls(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := anyMotion(t)
		s := anyScene(t)
		for i := range s.Screens {
			s.Screens[i].A, s.Screens[i].B = m.point(s.Screens[i].A), m.point(s.Screens[i].B)
		}
		for i := range s.Slabs {
			for k := range s.Slabs[i].Outlines {
				s.Slabs[i].Outlines[k] = m.polygon(s.Slabs[i].Outlines[k])
			}
			for k := range s.Slabs[i].Holes {
				s.Slabs[i].Holes[k] = m.polygon(s.Slabs[i].Holes[k])
			}
		}
		source := anySource(t)
		p := m.point(source.At.Plan())
		source.At.X, source.At.Y = p.X, p.Y
		centre := m.point(geom.Point{X: 3, Y: 3})
		g := geom.Grid{Min: centre.Sub(geom.Point{X: 5, Y: 5}), Step: 0.41, W: 25, H: 25}
		checkShadows(t, geom.NewScene(s.Screens, s.Slabs), []geom.Source{source}, g, rapid.SampledFrom([]float64{0.9, 2, 2.9, 4}).Draw(t, "z"))
	})
}

func checkShadows(t *rapid.T, s *geom.Scene, sources []geom.Source, g geom.Grid, z float64) {
	var mutex sync.Mutex
	type cell struct{ source, col, row int }
	seen := map[cell]int{}
	s.Shadows(sources, g, z, func(source, row, first int, loss []float64) {
		mutex.Lock()
		defer mutex.Unlock()
		for i, got := range loss {
			seen[cell{source, first + i, row}]++
			p := g.At(first+i, row)
			to := geom.Point3{X: p.X, Y: p.Y, Z: z}
			if want := s.Loss(sources[source].At, to); math.Abs(got-want) > 1e-9 {
				t.Errorf("source %v to %v: %v by shadows, %v by the ray", sources[source].At, to, got, want)
			}
		}
	})
	for i, s := range sources {
		for n := range g.W * g.H {
			p := g.At(n%g.W, n/g.W)
			within := s.Reach == 0 || max(math.Abs(p.X-s.At.X), math.Abs(p.Y-s.At.Y)) <= s.Reach
			if got := seen[cell{i, n % g.W, n / g.W}]; got > 1 || within && got == 0 {
				t.Fatalf("cell %v came %d times for source %v", p, got, s)
			}
		}
	}
}
