package acoustics

import (
	"fmt"
	"math"

	"proofbell/quantity"
)

// Silence is the level of no sound at all.
var Silence = quantity.DBA(math.Inf(-1))

// Power carries a rated sound pressure level at a distance to the sound power level, dBA re 1 pW:
//
//	Lw = Lp + 10 log10(4 pi r² / Q)
//
// with the directivity Q 1 for a full sphere, 2 on a large surface, 4 in an edge, 8 in a corner. A rating taken in half
// space gives 3 dB less with Q 2, which is the cautious choice; which was used must be said. Source: definition.
func Power(rated quantity.DBA, at quantity.Metre, q float64) (quantity.DBA, error) {
	switch {
	case !(rated >= 0 && rated <= 160):
		return 0, fmt.Errorf("sound power: level %v dBA: %w", float64(rated), ErrInput)
	case !(at > 0 && at < 1e4):
		return 0, fmt.Errorf("sound power: rated at %v m: %w", float64(at), ErrInput)
	case !(q >= 1 && q <= 8):
		return 0, fmt.Errorf("sound power: directivity %v: %w", q, ErrInput)
	}
	return rated + quantity.DBA(10*math.Log10(4*math.Pi*float64(at)*float64(at)/q)), nil
}

// Surface is a part of what encloses a room.
type Surface struct {
	Area  float64 // m²
	Alpha float64 // absorption coefficient, 0 to 1
}

// Absorption adds up what the surfaces of a room swallow, in m² of open window: A = sum(S alpha). Source: Sabine.
func Absorption(surfaces ...Surface) (float64, error) {
	var a float64
	for _, s := range surfaces {
		if !(s.Area >= 0 && s.Area < 1e6 && s.Alpha >= 0 && s.Alpha <= 1) {
			return 0, fmt.Errorf("absorption: %v m² of %v: %w", s.Area, s.Alpha, ErrInput)
		}
		a += s.Area * s.Alpha
	}
	return a, nil
}

// sabine is 24 ln(10) / c for a speed of sound of 343 m/s, s/m.
const sabine = 0.161

// Sabine gives the absorption of a room of so many m³ from the time in which its sound dies away by 60 dB, and the other
// way round, as both have one form: A = 0.161 V / T60. Source: Sabine; valid for roughly cubic rooms.
func Sabine(volume, given float64) (float64, error) {
	if !(volume > 0 && volume < 1e6 && given > 0 && given < 1e6) {
		return 0, fmt.Errorf("reverberation: %v m³ and %v: %w", volume, given, ErrInput)
	}
	return sabine * volume / given, nil
}

// InRoom is the level in the room of a sounder at a distance from it:
//
//	Lp = Lw + 10 log10(Q / (4 pi r²) + 4 / Rc)     Rc = A / (1 - A/S)
//
// with the absorption A and the total surface S of the room in m²; S 0: not known, and Rc is A. Below 0.1 m the value at
// 0.1 m is given. Source: room acoustics after Sabine; for roughly cubic rooms, not for long corridors or stairwells.
func InRoom(power quantity.DBA, q float64, r quantity.Metre, absorption, surface float64) (quantity.DBA, error) {
	if !(absorption > 0) || !(surface == 0 || surface > absorption) || !(r >= 0) || !(q >= 1 && q <= 8) {
		return 0, fmt.Errorf("level in a room: %v m from Q %v in %v m² of %v m²: %w", float64(r), q, absorption, surface, ErrInput)
	}
	return power + quantity.DBA(10*math.Log10(direct(q, float64(r))+4*left(absorption, surface)/absorption)), nil
}

// Reverberant is the level that the echoes alone make: Lw + 10 log10(4/A).
func Reverberant(power quantity.DBA, absorption float64) (quantity.DBA, error) {
	if !(absorption > 0) {
		return 0, fmt.Errorf("reverberant level: absorption %v m²: %w", absorption, ErrInput)
	}
	return power + quantity.DBA(10*math.Log10(4/absorption)), nil
}

// direct is the part of the sound power that passes a place straight, by m².
func direct(q, r float64) float64 {
	r = math.Max(r, nearest)
	return q / (4 * math.Pi * r * r)
}

// left is what the first touch of the walls leaves over: 1 - A/S.
func left(absorption, surface float64) float64 {
	if surface == 0 {
		return 1
	}
	return 1 - absorption/surface
}

// Energy is a level as energy, so that levels add up; Level goes back. Energy 0 is Silence.
func Energy(level quantity.DBA) float64 { return math.Pow(10, float64(level)/10) }

// Level is 10 log10 of an energy.
func Level(energy float64) quantity.DBA { return quantity.DBA(10 * math.Log10(energy)) }

// Sum adds levels of sounds that have nothing to do with each other: 10 log10(sum 10^(L/10)). Two equal ones are 3.01 dB
// more. Of none it is Silence. Source: arithmetic of energies. Alarms that beat their pattern each for itself do not
// overlap all the time: the loudest of them counts for being heard, the sum for the upper limit.
func Sum(levels ...quantity.DBA) quantity.DBA {
	var sum float64
	for _, l := range levels {
		sum += Energy(l)
	}
	return Level(sum)
}

// Subtract gives the level of a sound alone from the levels with and without it. Less than 3 dB apart is refused; under
// 6 dB weak is true: the figure moves by a dB and more with every dB of the readings. Source: arithmetic of energies.
func Subtract(with, without quantity.DBA) (alone quantity.DBA, weak bool, err error) {
	apart := float64(with - without)
	if !(apart >= 3) || math.IsInf(float64(with), 0) {
		return 0, false, fmt.Errorf("sound alone: %v dBA with and %v dBA without it, less than 3 dB apart: %w", float64(with), float64(without), ErrInput)
	}
	return Level(Energy(with) - Energy(without)), apart < 6, nil
}
