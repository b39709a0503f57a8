// Package acoustics estimates how loud an alarm is where it must be heard.
//
// Every level it gives is a planning estimate from a simplified model and must be labelled so where it is shown: only a
// level measured on site counts. Functions are pure and safe for concurrent use; input that makes no sense is an error.
package acoustics

import (
	"errors"
	"fmt"
	"math"

	"proofbell/quantity"
)

// ErrInput marks a value outside the range of a formula. The error's text names the value.
var ErrInput = errors.New("value out of range")

const (
	nearest = 0.1 // below it a sounder is not a point and the formula does not hold, m
	loudest = 115 // extrapolation toward a sounder is cut off there, dBA
)

// FreeField carries a rated level to another distance:
//
//	L(r) = L0 - 20 log10(r / r0)
//
// with L0 the level at r0. Point source, no reflections, nothing in between; rooms add reverberant sound, so indoors it
// tells too little rather than too much. Below 0.1 m the value at 0.1 m is given, and nothing above 115 dBA. The result is
// a published figure, rounded to 0.1 dB. Source: inverse-square law.
func FreeField(rated quantity.DBA, at, to quantity.Metre) (quantity.DBA, error) {
	switch {
	case !(at > 0 && at < 1e4):
		return 0, fmt.Errorf("free field: rated at %v m: %w", float64(at), ErrInput)
	case !(to >= 0 && to < 1e4):
		return 0, fmt.Errorf("free field: distance %v m: %w", float64(to), ErrInput)
	case !(rated >= 0 && rated <= 160):
		return 0, fmt.Errorf("free field: level %v dBA: %w", float64(rated), ErrInput)
	}
	level := float64(rated) - 20*math.Log10(math.Max(float64(to), nearest)/float64(at))
	return round(math.Min(level, math.Max(loudest, float64(rated)))), nil
}

// Behind takes what stands in between off a level: L - sum(R). A shut ordinary door takes about 20 dB (BS 5839-6:2004,
// commentary; 17 dB measured in one house), an open one nothing. The result is rounded to 0.1 dB and never below 0.
func Behind(level quantity.DBA, losses ...quantity.DB) (quantity.DBA, error) {
	left := float64(level)
	for _, r := range losses {
		if !(r >= 0 && r <= 120) {
			return 0, fmt.Errorf("level behind a door: loss %v dB: %w", float64(r), ErrInput)
		}
		left -= float64(r)
	}
	if math.IsNaN(left) || math.IsInf(left, 0) {
		return 0, fmt.Errorf("level behind a door: level %v dBA: %w", float64(level), ErrInput)
	}
	return round(math.Max(0, left)), nil
}

func round(level float64) quantity.DBA { return quantity.DBA(math.Round(level*10) / 10) }
