package acoustics

import (
	"fmt"
	"math"

	"proofbell/quantity"
)

// Flanking is what gaps, ducts and neighbouring walls leave of any wall in houses, however good it is: 45 dB.
// Confidence L.
const Flanking quantity.DB = 45

// Part is a part of a partition.
type Part struct {
	Area float64     // m²
	Loss quantity.DB // sound reduction index R; 0 for a clear opening, infinite for what lets nothing through
}

// Transmission is the sum of S 10^(-R/10) over the parts, in m² of open doorway: a wall of 10 m² and 30 dB is a hole of
// 0.01 m².
func Transmission(parts ...Part) (float64, error) {
	var tau float64
	for _, p := range parts {
		if !(p.Area >= 0 && p.Area < 1e6 && p.Loss >= 0) {
			return 0, fmt.Errorf("partition: %v m² of %v dB: %w", p.Area, float64(p.Loss), ErrInput)
		}
		tau += p.Area * math.Pow(10, -float64(p.Loss)/10)
	}
	return tau, nil
}

// Composite is the reduction index of a partition of several parts and their total area:
//
//	R = -10 log10( sum(S 10^(-R/10)) / sum(S) )
//
// The weakest part rules. Source: ISO 12354-1.
func Composite(parts ...Part) (loss quantity.DB, area float64, err error) {
	for _, p := range parts {
		area += p.Area
	}
	tau, err := Transmission(parts...)
	if err == nil && !(area > 0) {
		err = fmt.Errorf("partition of no area: %w", ErrInput)
	}
	if err != nil {
		return 0, 0, err
	}
	return quantity.DB(-10*math.Log10(tau/area)) + 0, area, nil
}

// Through is the level in the next room: L2 = L1 - R + 10 log10(S/A2), with the area S of the partition and the
// absorption A2 of the room behind, in m². Source: the relation that ISO 10140 and ISO 16283 measure R by, and ISO 12354-1.
func Through(level quantity.DBA, loss quantity.DB, area, absorption float64) (quantity.DBA, error) {
	if !(loss >= 0) || !(area > 0) || !(absorption > 0) || math.IsNaN(float64(level)) {
		return 0, fmt.Errorf("level behind a wall: %v dBA, %v dB, %v m² into %v m²: %w", float64(level), float64(loss), area, absorption, ErrInput)
	}
	return level - quantity.DBA(loss) + quantity.DBA(10*math.Log10(area/absorption)), nil
}

// Coincidence is the frequency about which a thin panel lets sound through 6 to 12 dB better than its mass says, low
// and high estimate: gypsum board 32000 to 39000 / h Hz, glass 12000 / h Hz, h in mm. Other leaves are not known here:
// ok is false. Confidence M.
func Coincidence(leaf string, thickness quantity.Metre) (low, high quantity.Hertz, ok bool) {
	h := float64(thickness) * 1000
	if !(h > 0) {
		return 0, 0, false
	}
	switch leaf {
	case "gypsum":
		return quantity.Hertz(32000 / h), quantity.Hertz(39000 / h), true
	case "glass":
		return quantity.Hertz(12000 / h), quantity.Hertz(12000 / h), true
	}
	return 0, 0, false
}

// MassLaw is the reduction index of a single leaf of so many kg/m²: R = 20 log10(m f) - 47, field incidence. It is refused
// from half the coincidence frequency up, where it promises too much: there a 3.1 kHz tone meets plasterboard and glass. A
// leaf whose coincidence is not known (0) is refused too. Below 0 dB it is 0. Source: textbook.
func MassLaw(mass float64, f, coincidence quantity.Hertz) (quantity.DB, error) {
	switch {
	case !(mass > 0 && mass < 1e5) || !(f > 0 && f < 1e5):
		return 0, fmt.Errorf("mass law: %v kg/m² at %v Hz: %w", mass, float64(f), ErrInput)
	case !(f < coincidence/2):
		return 0, fmt.Errorf("mass law: %v Hz is not below half the coincidence frequency of %v Hz: %w", float64(f), float64(coincidence), ErrInput)
	}
	return quantity.DB(math.Max(0, 20*math.Log10(mass*float64(f))-47)), nil
}

// Chain is the default loss from room to room where nothing is known of their absorption: 5 dB for each open doorway,
// 20 dB for each shut door, 40 dB for each floor. Confidence L.
func Chain(open, shut, floors int) quantity.DB {
	return quantity.DB(5*open + 20*shut + 40*floors)
}

// Uncertainty is what a predicted level may be off by, either way, after so many partitions: 3 dB in the sounder's own
// room, 6 dB behind one, 10 dB behind more. Confidence L.
func Uncertainty(partitions int) quantity.DB {
	switch {
	case partitions <= 0:
		return 3
	case partitions == 1:
		return 6
	}
	return 10
}
