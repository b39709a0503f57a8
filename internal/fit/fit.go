// Package fit finds the few parameters of a model by least squares from what was measured, with confidence intervals
// that say what the measurements are worth. The sound and the radio model are both fitted to readings on site.
package fit

import (
	"errors"
	"math"
)

// ErrFew means that there are too few measurements to say anything of a parameter, that where the fit ends two parameters can
// not be told apart, or that some value is no number.
var ErrFew = errors.New("too few measurements")

// Result is a fitted model.
type Result struct {
	Value     []float64 // of each parameter
	Low, High []float64 // its 95 % confidence interval; of one that was held: the same as Value
	Held      []bool    // the measurements do not tell it apart from the others: it stays where it started
	Residual  []float64 // measured less model
	Spread    float64   // standard deviation of the residuals, with the freedom that is left
	Freedom   int       // measurements less fitted parameters
	normal    [][]float64
}

// Least changes the parameters from start so that the sum of squares of measured - model is least (Gauss-Newton, with
// halved steps where a whole one overshoots), and takes the confidence intervals from the model as it bends there:
// value ± t s sqrt(diag((J'J)^-1)), with Student's t for the freedom left. A parameter that the measurements do not tell
// apart from those before it is held at its start. It wants two measurements more than parameters that move.
func Least(measured, start []float64, model func(parameters []float64) []float64) (Result, error) {
	n, m := len(measured), len(start)
	r := Result{Value: append([]float64(nil), start...), Held: make([]bool, m)}
	left := func(p []float64) ([]float64, float64) {
		got := model(p)
		out, squares := make([]float64, n), 0.0
		for i := range out {
			out[i] = measured[i] - got[i]
			squares += out[i] * out[i]
		}
		return out, squares
	}
	residual, squares := left(r.Value)
	if math.IsNaN(squares) || math.IsInf(squares, 0) {
		return Result{}, ErrFew
	}
	slopes := slopesOf(r.Value, model)
	free := 0
	var base [][]float64
	for k := range m { // what is left of each column after those before it
		q, size := append([]float64(nil), slopes[k]...), norm(slopes[k])
		for _, b := range base {
			along := dot(q, b)
			for i := range q {
				q[i] -= along * b[i]
			}
		}
		rest := norm(q)
		if !(size > 1e-9) || rest < 0.05*size {
			r.Held[k] = true
			continue
		}
		for i := range q {
			q[i] /= rest
		}
		base = append(base, q)
		free++
	}
	if r.Freedom = n - free; free == 0 || r.Freedom < 2 {
		return Result{}, ErrFew
	}
	for range 50 {
		step := solve(normal(slopes, r.Held), project(slopes, r.Held, residual))
		if size := norm(step); math.IsNaN(size) || math.IsInf(size, 0) { // the way here has made two parameters one, or one count for nothing
			break
		}
		moved := false
		for range 20 {
			p := append([]float64(nil), r.Value...)
			k := 0
			for i := range p {
				if !r.Held[i] {
					p[i] += step[k]
					k++
				}
			}
			if other, s := left(p); s < squares {
				moved = squares-s > 1e-12*squares
				r.Value, residual, squares = p, other, s
				break
			}
			for i := range step {
				step[i] /= 2
			}
		}
		if !moved {
			break
		}
		slopes = slopesOf(r.Value, model)
	}
	r.Residual, r.Spread = residual, math.Sqrt(squares/float64(r.Freedom))
	r.Low, r.High = append([]float64(nil), r.Value...), append([]float64(nil), r.Value...)
	a := normal(slopes, r.Held)
	r.normal = a
	k := 0
	for i := range m {
		if r.Held[i] {
			continue
		}
		unit := make([]float64, free)
		unit[k] = 1
		own := solve(a, unit)[k]
		if !(own > 0) || math.IsInf(own, 0) {
			return Result{}, ErrFew
		}
		half := student(r.Freedom) * r.Spread * math.Sqrt(own)
		r.Low[i], r.High[i] = r.Value[i]-half, r.Value[i]+half
		k++
	}
	return r, nil
}

// Interval is half the width of the interval that holds one further measurement in 19 of 20 cases, where the model changes by
// slope with each parameter: t s sqrt(1 + x (J'J)^-1 x').
func (r Result) Interval(slope []float64) float64 {
	var x []float64
	for i, held := range r.Held {
		if !held {
			x = append(x, slope[i])
		}
	}
	return student(r.Freedom) * r.Spread * math.Sqrt(1+max(0, dot(x, solve(r.normal, x))))
}

// slopesOf are the changes of the model with each parameter, by small steps to both sides.
func slopesOf(p []float64, model func([]float64) []float64) [][]float64 {
	out := make([][]float64, len(p))
	for k := range p {
		const h = 1e-4
		up, down := append([]float64(nil), p...), append([]float64(nil), p...)
		up[k] += h
		down[k] -= h
		a, b := model(up), model(down)
		out[k] = make([]float64, len(a))
		for i := range a {
			out[k][i] = (a[i] - b[i]) / (2 * h)
		}
	}
	return out
}

func normal(slopes [][]float64, held []bool) [][]float64 {
	var a [][]float64
	for i := range slopes {
		if held[i] {
			continue
		}
		var row []float64
		for j := range slopes {
			if !held[j] {
				row = append(row, dot(slopes[i], slopes[j]))
			}
		}
		a = append(a, row)
	}
	return a
}

func project(slopes [][]float64, held []bool, on []float64) []float64 {
	var b []float64
	for i := range slopes {
		if !held[i] {
			b = append(b, dot(slopes[i], on))
		}
	}
	return b
}

// solve solves a small system that is not singular, by elimination; what it is given stays as it is.
func solve(of [][]float64, right []float64) []float64 {
	n := len(right)
	a := make([][]float64, n)
	for i := range a {
		a[i] = append(append([]float64(nil), of[i]...), right[i])
	}
	for i := range n {
		for k := range n {
			if k == i {
				continue
			}
			f := a[k][i] / a[i][i]
			for j := i; j <= n; j++ {
				a[k][j] -= f * a[i][j]
			}
		}
	}
	out := make([]float64, n)
	for i := range out {
		out[i] = a[i][n] / a[i][i]
	}
	return out
}

func dot(a, b []float64) float64 {
	var sum float64
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

func norm(a []float64) float64 { return math.Sqrt(dot(a, a)) }

// student is Student's t for 95 %, two-sided. Beyond the table the last two terms of its expansion about the normal
// quantile are enough.
func student(freedom int) float64 {
	table := [...]float64{12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.160, 2.145, 2.131}
	if freedom <= len(table) {
		return table[max(freedom, 1)-1]
	}
	const z = 1.959964
	f := float64(freedom)
	return z + (z*z*z+z)/(4*f) + (5*z*z*z*z*z+16*z*z*z+3*z)/(96*f*f)
}
