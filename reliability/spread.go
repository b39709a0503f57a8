package reliability

import (
	"math"

	"proofbell/internal/sorts"
)

// Spread is what sampling makes of the ranges of the parts: nine in ten samples lie between P5 and P95.
type Spread struct {
	P5      float64 `json:"p5"`
	Median  float64 `json:"median"`
	P95     float64 `json:"p95"`
	Samples int     `json:"samples"`
	Seed    uint64  `json:"seed"`
}

// MostSamples is the most that Spreads takes.
const MostSamples = 100_000

// Spreads samples the unavailabilities of the parts and gives what becomes of the tops, in their order. Each part is
// log-uniform from Low to Mid and from Mid to High with half the weight each, so that Mid is its median; parts of one rate
// move together. The same seed gives the same figures.
func (d *Diagram) Spreads(samples int, seed uint64) []Spread {
	samples = max(1, min(samples, MostSamples))
	rates := map[string]int{}
	rate := make([]int, len(d.s.Parts))
	for i, p := range d.s.Parts {
		key := p.Rate
		if key == "" {
			key = "\x00" + p.ID
		}
		at, ok := rates[key]
		if !ok {
			at = len(rates)
			rates[key] = at
		}
		rate[i] = at
	}
	draws := make([]float64, len(rates))
	u := make([]float64, len(d.s.Parts))
	values := make([][]float64, len(d.tops))
	r := generator(seed)
	var p []float64
	for range samples {
		for i := range draws {
			draws[i] = r.next()
		}
		for i, part := range d.s.Parts {
			u[i] = part.Unavailable.At(draws[rate[i]])
		}
		p = d.walk(p, u)
		for i, top := range d.tops {
			values[i] = append(values[i], p[d.roots[top]])
		}
	}
	out := make([]Spread, len(d.tops))
	for i, v := range values {
		sorts.By(v, func(a, b float64) int {
			if a < b {
				return -1
			}
			if a > b {
				return 1
			}
			return 0
		})
		at := func(q float64) float64 { return v[min(len(v)-1, int(q*float64(len(v))))] }
		out[i] = Spread{P5: at(0.05), Median: at(0.5), P95: at(0.95), Samples: samples, Seed: seed}
	}
	return out
}

// At is the figure that a share q of a range's samples stays below.
func (r Range) At(q float64) float64 {
	if q < 0.5 {
		return between(r.Low, r.Mid, 2*q)
	}
	return between(r.Mid, r.High, 2*q-1)
}

// between goes evenly in the logarithm; evenly in the figure where one end is 0.
func between(a, b, q float64) float64 {
	if a == b {
		return a
	}
	if a <= 0 {
		return a + (b-a)*q
	}
	return min(b, max(a, a*math.Pow(b/a, q)))
}

// generator is a counter whose bits are mixed (splitmix64): good enough for sampling, and the same everywhere.
type generator uint64

func (g *generator) next() float64 {
	*g += 0x9e3779b97f4a7c15
	z := uint64(*g)
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return float64((z^z>>31)>>11) / (1 << 53)
}
