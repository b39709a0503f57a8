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
	Factor     float64        // by how much walls and floors take more than planned; 1 where the values do not tell
	FactorFrom [2]float64     // its 95 % confidence interval; both 1 then
	Left       []quantity.DB  // measured less calibrated, in the order of the values
	Sigma      quantity.DB    // their standard deviation: the shadowing that is left
}

const (
	forFactor = 4  // values that a factor of the walls asks for
	spread    = 10 // dB of difference in Walls, under which they do not tell it
)

// Calibrate fits the model to measured levels by least squares: Level = Computed + Offset - (Factor - 1) Walls. From three values it
// finds the offset alone, from four whose ways differ by 10 dB of walls or more the factor too. fit.ErrFew says that there
// are fewer. One odd value shows in Left.
func Calibrate(values []Measured) (Calibration, error) {
	y := make([]float64, len(values))
	low, high := math.Inf(1), math.Inf(-1)
	for i, v := range values {
		y[i] = float64(v.Level - v.Computed)
		low, high = math.Min(low, float64(v.Walls)), math.Max(high, float64(v.Walls))
	}
	start := []float64{0, 1}
	if len(values) < forFactor || high-low < spread {
		start = start[:1]
	}
	r, err := fit.Least(y, start, func(p []float64) []float64 {
		out := make([]float64, len(values))
		for i, v := range values {
			out[i] = p[0]
			if len(p) > 1 {
				out[i] -= (p[1] - 1) * float64(v.Walls)
			}
		}
		return out
	})
	if err != nil {
		return Calibration{Factor: 1, FactorFrom: [2]float64{1, 1}}, err
	}
	c := Calibration{
		Offset: quantity.DB(r.Value[0]), OffsetFrom: [2]quantity.DB{quantity.DB(r.Low[0]), quantity.DB(r.High[0])},
		Factor: 1, FactorFrom: [2]float64{1, 1}, Sigma: quantity.DB(r.Spread),
	}
	if len(start) > 1 {
		c.Factor, c.FactorFrom = r.Value[1], [2]float64{r.Low[1], r.High[1]}
	}
	for _, l := range r.Residual {
		c.Left = append(c.Left, quantity.DB(l))
	}
	return c, nil
}

// Level carries a computed level over to the calibrated one.
func (c Calibration) Level(computed quantity.DBm, walls quantity.DB) quantity.DBm {
	return computed + quantity.DBm(c.Offset) - quantity.DBm(c.Factor-1)*quantity.DBm(walls)
}
