package electrical

import (
	"math"

	"proofbell/internal/words"
	"proofbell/quantity"
)

// Spell is a time with one current.
type Spell struct {
	Time    quantity.Second
	Current quantity.Ampere
}

// Charge is how full the battery is at one time.
type Charge struct {
	At   quantity.Second
	Left float64 // part of what it holds, 0 to 1
}

// Discharge is a discharge over time.
type Discharge struct {
	Points []Charge        // the spells' ends and steps between them
	Empty  quantity.Second // when it is empty; -1: not within the spells
	Left   float64         // at the end
}

const mostSteps = 20000

// Discharged follows a battery that holds a part of its capacity (aged, cold: less than 1) through spells of current, in
// steps of at most step:
//
//	dq/dt = -1 / (part t(I))        t(I) the time that a full battery lasts at I (Curve.Runtime)
//
// It stops when the battery is empty. ErrInput names what is out of range.
func Discharged(c Curve, part float64, spells []Spell, step quantity.Second) (Discharge, error) {
	c, err := c.Sorted()
	if err == nil {
		err = first(within(words.Mark("part of the capacity"), part, 1e-3, 1), within(words.Mark("step"), float64(step), 1, 1e9))
	}
	if err != nil {
		return Discharge{}, err
	}
	d := Discharge{Points: []Charge{{0, 1}}, Empty: -1, Left: 1}
	now := 0.0
	for _, s := range spells {
		if err := within(words.Mark("time"), float64(s.Time), 0, 1e9); err != nil {
			return Discharge{}, err
		}
		lasts, err := c.Runtime(s.Current)
		if err != nil {
			return Discharge{}, err
		}
		lasts *= part * hour
		end := now + float64(s.Time)
		for now < end {
			dt := math.Min(float64(step), end-now)
			if d.Left*lasts <= dt {
				now += d.Left * lasts
				d.Left, d.Empty = 0, quantity.Second(now)
				d.Points = append(d.Points, Charge{quantity.Second(now), 0})
				return d, nil
			}
			if len(d.Points) > mostSteps {
				return Discharge{}, said(words.Later("the discharge takes more than %d steps", mostSteps))
			}
			now += dt
			d.Left -= dt / lasts
			d.Points = append(d.Points, Charge{quantity.Second(now), d.Left})
		}
	}
	return d, nil
}
