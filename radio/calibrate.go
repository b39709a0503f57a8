package radio

import (
	"math"

	"proofbell/internal/fit"
	"proofbell/quantity"
)

// Measured is a level measured on site, beside what the model says of the same link.
type Measured struct {
	Level    quantity.DBm // measured at the receiver
	Computed quantity.DBm // by the model
	Walls    quantity.DB  // what walls and floors take of that
}

// Calibration is what measured levels teach about a model. One with Factor 1 and nothing else changes nothing.
type Calibration struct {
	Offset     quantity.DB    // to be added to every computed level: power, antennas, how things are mounted
	OffsetFrom [2]quantity.DB // its 95 % confidence interval
	Factor     float64        // by how much walls and floors take more than planned, 0 to 6; 1 where the values do not tell it from 1
	FactorFrom [2]float64     // its 95 % confidence interval, before bounds; both 1 where none was looked for
	Left       []quantity.DB  // measured less calibrated, in the order of the values
	Sigma      quantity.DB    // their standard deviation: the shadowing that is left

	reach float64 // Student's t for the freedom left times Sigma
	count float64
	mean  float64 // of Walls
	wide  float64 // sum of squares of Walls about it; 0 when no factor is used
}

const (
	forFactor  = 4  // values that a factor of the walls asks for
	spread     = 10 // dB of difference in Walls, under which they do not tell it
	mostFactor = 6  // beyond it something else is wrong than the figures of walls
	normal95   = 1.96
)

// Calibrate fits the model to measured levels by least squares: Level = Computed + Offset - (Factor - 1) Walls. From three values it
// finds the offset alone, from four whose ways differ by 10 dB of walls or more the factor too; it is used only when its
// interval leaves out 1. fit.ErrFew says that there are fewer. One odd value shows in Left.
func Calibrate(values []Measured) (Calibration, error) {
	c, err := calibrate(values, 1, false)
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range values {
		low, high = math.Min(low, float64(v.Walls)), math.Max(high, float64(v.Walls))
	}
	if err != nil || len(values) < forFactor || high-low < spread {
		return c, err
	}
	both, err := calibrate(values, 1, true)
	if err != nil {
		return c, nil // the offset alone
	}
	from := both.FactorFrom
	switch bounded := math.Max(0, math.Min(both.Factor, mostFactor)); {
	case from[0] <= 1 && from[1] >= 1:
	case bounded != both.Factor:
		if c, err = calibrate(values, bounded, false); err != nil {
			return c, err
		}
		c.wide = both.wide
	default:
		c = both
	}
	c.FactorFrom = from
	return c, nil
}

// calibrate finds the offset with a factor that is given, or that is found too.
func calibrate(values []Measured, factor float64, free bool) (Calibration, error) {
	c := Calibration{Factor: factor, FactorFrom: [2]float64{1, 1}, count: float64(len(values))}
	y := make([]float64, len(values))
	for i, v := range values {
		y[i] = float64(v.Level - v.Computed)
		c.mean += float64(v.Walls) / c.count
	}
	start := []float64{0}
	if free {
		start = append(start, factor)
		for _, v := range values {
			c.wide += (float64(v.Walls) - c.mean) * (float64(v.Walls) - c.mean)
		}
	}
	r, err := fit.Least(y, start, func(p []float64) []float64 {
		out := make([]float64, len(values))
		for i, v := range values {
			f := factor
			if free {
				f = p[1]
			}
			out[i] = p[0] - (f-1)*float64(v.Walls)
		}
		return out
	})
	if err != nil {
		return Calibration{Factor: 1, FactorFrom: [2]float64{1, 1}}, err
	}
	c.Offset, c.OffsetFrom, c.Sigma = quantity.DB(r.Value[0]), [2]quantity.DB{quantity.DB(r.Low[0]), quantity.DB(r.High[0])}, quantity.DB(r.Spread)
	if free {
		c.Factor, c.FactorFrom = r.Value[1], [2]float64{r.Low[1], r.High[1]}
	}
	for _, l := range r.Residual {
		c.Left = append(c.Left, quantity.DB(l))
	}
	c.reach = (r.High[0] - r.Low[0]) / 2 / c.far(0)
	return c, nil
}

// far is how uncertain the mean level behind so many dB of walls is, in standard deviations of a single one.
func (c Calibration) far(walls float64) float64 {
	if c.count == 0 {
		return 0 // nothing was fitted
	}
	square := 1 / c.count
	if c.wide > 0 {
		square += (walls - c.mean) * (walls - c.mean) / c.wide
	}
	return math.Sqrt(square)
}

// Level carries a computed level over to the calibrated one: the middle of what is to be expected.
func (c Calibration) Level(computed quantity.DBm, walls quantity.DB) quantity.DBm {
	return computed + quantity.DBm(c.Offset) - quantity.DBm(c.Factor-1)*quantity.DBm(walls)
}

// Adds is what may be counted on beyond the computed level, behind so many dB of walls: the lower end of the 95 % interval
// of the calibrated mean. Values that lie closer together than the shadowing of the building do so by chance: what they
// add to the good counts by the shadowing.
func (c Calibration) Adds(walls, shadowing quantity.DB) quantity.DB {
	middle, far := float64(c.Level(0, walls)), c.far(float64(walls))
	low := middle - c.reach*far
	if low > 0 {
		low = math.Max(0, middle-math.Max(c.reach, normal95*float64(shadowing))*far)
	}
	return quantity.DB(low)
}
