// Package electrical sizes the supply of an alarm panel.
//
// Functions take plain SI numbers with units as types and return published figures, already rounded to their stated
// precision, so that natively and as WebAssembly the same figure is compared with the same limit. Input from a person
// that makes no sense is an error, never a panic. All functions are pure and safe for concurrent use.
package electrical

import (
	"errors"
	"fmt"
	"math"

	"proofbell/internal/words"
	"proofbell/quantity"
)

// ErrInput marks a value outside the range of the formula. The error's text names the value.
var ErrInput = errors.New("value out of range")

// Load is what a battery has to carry when the mains has failed.
type Load struct {
	Rest      quantity.Ampere // current at rest
	Alarm     quantity.Ampere // current while the sounders run
	Standby   quantity.Second // time at rest
	AlarmTime quantity.Second // time in alarm at the end of it
	Ageing    float64         // factor for a battery at the end of its life, 1 to 3
}

// Sum is the battery that a load asks for, as published figures.
type Sum struct {
	Load   quantity.AmpereHour // drawn from the battery, to 0.01 Ah
	Needed quantity.AmpereHour // capacity to fit, to 0.1 Ah
}

// Standby sums up a load:
//
//	Load   = I_rest t_standby + I_alarm t_alarm          [A h]
//	Needed = k Load
//
// with k the ageing factor. Currents are taken as constant and the capacity as the rated one at 25 degrees C: cold and a
// high alarm current (above a fifth of the capacity) ask for more. Source: the standby calculation of NFPA 72 10.6.7 and
// BS 5839-1 annex D, without their own factors; k is the caller's (1.20 and 1.25 are usual).
func Standby(l Load) (Sum, error) {
	for _, in := range []struct {
		name     string
		value    float64
		low, top float64
	}{
		{words.Mark("current at rest"), float64(l.Rest), 0, 1000},
		{words.Mark("current in alarm"), float64(l.Alarm), 0, 1000},
		{words.Mark("standby time"), float64(l.Standby), 0, 100 * 86400},
		{words.Mark("alarm time"), float64(l.AlarmTime), 0, 100 * 86400},
		{words.Mark("ageing factor"), l.Ageing, 1, 3},
	} {
		if err := within(in.name, in.value, in.low, in.top); err != nil {
			return Sum{}, fmt.Errorf("standby sum: %w", err)
		}
	}
	load := float64(l.Rest)*float64(l.Standby)/hour + float64(l.Alarm)*float64(l.AlarmTime)/hour
	return Sum{
		Load:   quantity.AmpereHour(math.Round(load*100) / 100),
		Needed: quantity.AmpereHour(math.Round(load*l.Ageing*10) / 10),
	}, nil
}
