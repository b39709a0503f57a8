// Package radio estimates whether the signal of a radio device reaches its receiver indoors.
//
// Free space, radiated power, the sum of a link and the arithmetic of runs are physics and arithmetic. What walls, floors
// and a building take, and with it every margin and every probability made from one, is a planning estimate and must be
// labelled so where it is shown: only a level measured on site counts. Functions are pure and safe for concurrent use;
// input that makes no sense is an error. Losses are positive and in dB; results are not rounded unless they say so.
package radio

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"

	"proofbell/internal/words"
	"proofbell/quantity"
)

// ErrInput marks a value outside the range of a formula. The error's text names the value.
var ErrInput = errors.New("value out of range")

const (
	light   = 299792458 // speed of light, m/s
	nearest = 0.1       // below it no antenna is a point and no formula holds, m
)

// input is one value of a formula and the range in which the formula holds.
type input struct {
	name           string
	value, low, up float64
}

func within(ins ...input) error {
	for _, in := range ins {
		if !(in.value >= in.low && in.value <= in.up) {
			return fmt.Errorf("%w: %w", &words.Error{Say: words.Later("%s %v is not between %v and %v", words.Marked(in.name), in.value, in.low, in.up)}, ErrInput)
		}
	}
	return nil
}

var (
	sayFrequency = words.Mark("frequency in Hz")
	sayDistance  = words.Mark("distance in m")
	sayLoss      = words.Mark("loss in dB")
	sayFloors    = words.Mark("number of floors")
)

func way(f quantity.Hertz, d quantity.Metre) error {
	return within(input{sayFrequency, float64(f), 1e6, 1e11}, input{sayDistance, float64(d), 0, 1e6})
}

func db10(x float64) float64 { return 10 * math.Log10(x) }

// FreeSpace is the loss of a distance with nothing in between:
//
//	L = 20 log10(4 pi d f / c)
//
// Below 0.1 m the value at 0.1 m is given. Source: ITU-R P.525.
func FreeSpace(f quantity.Hertz, d quantity.Metre) (quantity.DB, error) {
	if err := way(f, d); err != nil {
		return 0, err
	}
	return quantity.DB(2 * db10(4*math.Pi*math.Max(float64(d), nearest)*float64(f)/light)), nil
}

// LogDistance is free space to 1 m and a steeper way from there: L = L(1 m) + 10 n log10(d). n is about 1.8 in a corridor,
// 2.0 to 2.5 in an open room, 2.8 to 3.3 in a house, 3.5 to 4 in a dense one. Source: textbooks; the values are order of magnitude.
func LogDistance(f quantity.Hertz, d quantity.Metre, n float64) (quantity.DB, error) {
	first, err := FreeSpace(f, 1)
	if err = errors.Join(err, way(f, d), within(input{words.Mark("exponent"), n, 1, 8})); err != nil {
		return 0, err
	}
	return first + quantity.DB(10*n*math.Log10(math.Max(float64(d), nearest))), nil
}

// Classic is the site-independent indoor model: L = 20 log10(f in MHz) + N log10(d in m) + floors - 28, from 1 m. N and the loss of
// the floors come from ClassicOf. Source: ITU-R P.1238, to edition 9.
func Classic(f quantity.Hertz, d quantity.Metre, n float64, floors quantity.DB) (quantity.DB, error) {
	if err := errors.Join(way(f, d), within(input{words.Mark("distance power loss coefficient"), n, 10, 60}, input{sayLoss, float64(floors), 0, 200})); err != nil {
		return 0, err
	}
	return quantity.DB(2*db10(float64(f)/1e6) + n*math.Log10(math.Max(float64(d), 1)) + float64(floors) - 28), nil
}

// ClassicOf gives the coefficient N, the loss of the floors on the way and the spread of the classic model. For homes below
// 1 GHz nothing is published: N 28 and 4 dB for a timber floor are taken, and published is false.
// Source: ITU-R P.1238 tables 2 to 4, to edition 9; 2.4 GHz unconfirmed.
func ClassicOf(f quantity.Hertz, home bool, floors int) (n float64, loss, sigma quantity.DB, published bool, err error) {
	if err = errors.Join(way(f, 1), within(input{sayFloors, float64(floors), 0, 3})); err != nil {
		return 0, 0, 0, false, err
	}
	k := quantity.DB(floors)
	mhz := float64(f) / 1e6
	switch {
	case home && mhz < 1000:
		return 28, 4 * k, 8, false, nil
	case home && mhz < 2200:
		return 28, 4 * k, 8, true, nil
	case home:
		return 28, 10 * k, 8, floors <= 1, nil // a flat: the harsher of the two published
	case mhz < 1200:
		return 33, [...]quantity.DB{0, 9, 19, 24}[floors], 10, mhz >= 800, nil
	case floors == 0:
		return 30, 0, 10, true, nil
	case mhz < 2200:
		return 30, 15 + 4*(k-1), 10, true, nil
	}
	return 30, 14 * k, 10, floors == 1, nil
}

// Surroundings are a row of the site-general model.
type Surroundings struct {
	A, B, G  float64
	Sigma    quantity.DB
	From, To quantity.Metre // where it was measured
	Lowest   quantity.Hertz
}

// The site-general model's rows. Source: ITU-R P.1238-11 table 2, read in a public implementation; unconfirmed.
var (
	OfficeInSight      = Surroundings{1.46, 34.62, 2.03, 3.76, 2, 27, 300e6}
	OfficeObstructed   = Surroundings{2.46, 29.53, 2.38, 5.04, 4, 30, 300e6}
	CorridorInSight    = Surroundings{1.63, 28.12, 2.25, 4.07, 2, 160, 300e6}
	CorridorObstructed = Surroundings{2.77, 29.27, 2.48, 7.63, 4, 94, 300e6}
	HallInSight        = Surroundings{2.31, 24.52, 2.06, 2.69, 2, 101, 625e6}
	HallObstructed     = Surroundings{3.79, 21.01, 1.34, 9.05, 5, 110, 625e6}
)

// SiteGeneral is the median loss of the site-general model: L = 10 a log10(d) + b + 10 g log10(f in GHz). Outside the range in
// which its row was measured it is an error. Source: ITU-R P.1238-11, equation 1.
func SiteGeneral(s Surroundings, f quantity.Hertz, d quantity.Metre) (quantity.DB, error) {
	if err := within(input{sayFrequency, float64(f), float64(s.Lowest), 450e9}, input{sayDistance, float64(d), float64(s.From), float64(s.To)}); err != nil {
		return 0, err
	}
	return quantity.DB(s.A*db10(float64(d)) + s.B + s.G*db10(float64(f)/1e9)), nil
}

// FloorFactor is by how many times the loss of one floor k floors take: k^((k+2)/(k+1) - 0.46). 0 floors give 0.
// Source: COST 231 final report, multi-wall model.
func FloorFactor(k int) float64 {
	if k <= 0 {
		return 0
	}
	n := float64(k)
	return math.Pow(n, (n+2)/(n+1)-0.46)
}

// MultiWall is free space, and what each wall and floor on the way takes:
//
//	L = L_free + sum(L_wall) + mean(L_floor) x FloorFactor(floors)
//
// Source: COST 231 final report, multi-wall model with its constant 0.
func MultiWall(f quantity.Hertz, d quantity.Metre, walls, floors []quantity.DB) (quantity.DB, error) {
	sum, err := FreeSpace(f, d)
	for _, list := range [][]quantity.DB{walls, floors} {
		for _, l := range list {
			err = errors.Join(err, within(input{sayLoss, float64(l), 0, 200}))
		}
	}
	if err != nil {
		return 0, err
	}
	for _, l := range walls {
		sum += l
	}
	return sum + Floors(floors), nil
}

// Floors is what the floors on a way take together: their mean times FloorFactor.
func Floors(floors []quantity.DB) (sum quantity.DB) {
	for _, l := range floors {
		sum += l
	}
	if len(floors) > 1 {
		sum *= quantity.DB(FloorFactor(len(floors)) / float64(len(floors)))
	}
	return sum
}

// ClearBy is how far a ray must pass from the edge of an opening for the opening to carry it: six tenths of the first
// Fresnel zone's radius at that place. Nearer, the wall around counts too. Source: ITU-R P.526, 0.6 of the first Fresnel zone.
func ClearBy(f quantity.Hertz, before, after quantity.Metre) quantity.Metre {
	if before+after <= 0 || f <= 0 {
		return 0
	}
	return quantity.Metre(0.6 * math.Sqrt(light/float64(f)*float64(before)*float64(after)/float64(before+after)))
}

// Slab is what a plate of one material takes at normal incidence, from its permittivity A and conductivity C f^D (f in
// GHz, S/m). Real walls have plaster, wires and moisture, and rays cross them at an angle: it is the least to expect.
// Source: ITU-R P.2040, single slab; constants of table 3 as in Materials.
func Slab(m Dielectric, thickness quantity.Metre, f quantity.Hertz) (quantity.DB, error) {
	if err := errors.Join(way(f, 1), within(input{words.Mark("thickness in m"), float64(thickness), 0, 10})); err != nil {
		return 0, err
	}
	ghz := float64(f) / 1e9
	eps := complex(m.A, -17.98*m.C*math.Pow(ghz, m.D)/ghz)
	n := cmplx.Sqrt(eps)
	q := complex(2*math.Pi*float64(thickness)*float64(f)/light, 0) * n
	r := (1 - n) / (1 + n)
	through := (1 - r*r) * cmplx.Exp(-1i*q) / (1 - r*r*cmplx.Exp(-2i*q))
	return quantity.DB(-2 * db10(cmplx.Abs(through))), nil
}

// Dielectric is a building material for Slab.
type Dielectric struct{ A, C, D float64 }

// Materials of ITU-R P.2040 table 3; most were measured from 1 GHz up, below that it is an extrapolation.
var (
	Concrete     = Dielectric{5.24, 0.0462, 0.7822}
	Brick        = Dielectric{3.91, 0.0238, 0.16}
	Plasterboard = Dielectric{2.73, 0.0085, 0.9395}
	Wood         = Dielectric{1.99, 0.0047, 1.0718}
	Glass        = Dielectric{6.31, 0.0036, 1.3394}
	Chipboard    = Dielectric{2.58, 0.0217, 0.78}
)

// Entry is the loss of a way into or out of a building that is not exceeded with probability p (0.001 to 0.999), for the path's
// elevation in degrees. efficient is a modern, thermally efficient building. Source: ITU-R P.2109.
func Entry(f quantity.Hertz, p float64, efficient bool, elevation float64) (quantity.DB, error) {
	if err := within(input{sayFrequency, float64(f), 80e6, 100e9}, input{words.Mark("probability"), p, 0.001, 0.999}, input{words.Mark("elevation in degrees"), elevation, -90, 90}); err != nil {
		return 0, err
	}
	k := [...]float64{12.64, 3.72, 0.96, 9.6, 2.0, 9.1, -3.0, 4.5, -2.0}
	if efficient {
		k = [...]float64{28.19, -3.00, 8.48, 13.5, 3.8, 27.8, -2.9, 9.4, -2.1}
	}
	l, z := math.Log10(float64(f)/1e9), normalQuantile(p)
	a := z*(k[3]+k[4]*l) + k[0] + k[1]*l + k[2]*l*l + 0.212*math.Abs(elevation)
	b := z*(k[7]+k[8]*l) + k[5] + k[6]*l
	return quantity.DB(db10(math.Pow(10, a/10) + math.Pow(10, b/10) + math.Pow(10, -0.3))), nil
}

func normalQuantile(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }
