package radio

import (
	"errors"
	"math/rand/v2"
	"testing"

	"proofbell/internal/fit"
	"proofbell/quantity"
)

// By hand: the levels lie 3, 4 and 5 dB under the computed ones: offset -4, residuals 1, 0 and -1, sigma 1, interval
// 4.303 / sqrt(3) = 2.484 to both sides.
func TestOffsetOfThreeValues(t *testing.T) {
	c, err := Calibrate([]Measured{{-63, -60, 10}, {-74, -70, 20}, {-85, -80, 30}})
	near(t, "offset", float64(c.Offset), -4, 1e-6, err)
	near(t, "from", float64(c.OffsetFrom[0]), -6.484, 0.001, err)
	near(t, "to", float64(c.OffsetFrom[1]), -1.516, 0.001, err)
	near(t, "sigma", float64(c.Sigma), 1, 1e-6, err)
	near(t, "factor", c.Factor, 1, 0, err)
	near(t, "first residual", float64(c.Left[0]), 1, 1e-6, err)
	near(t, "calibrated", float64(c.Level(-70, 20)), -74, 1e-6, err)
}

// Values made without noise give back exactly what was planted; with noise the 95 % intervals hold it about 95 times of 100.
func TestPlantedCalibrationIsRecovered(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 15))
	make12 := func(noise float64) (values []Measured) {
		for range 12 {
			walls := quantity.DB(r.Float64() * 60)
			computed := quantity.DBm(-45 - r.Float64()*20 - float64(walls))
			values = append(values, Measured{computed - 6 - quantity.DBm(0.2*float64(walls)) + quantity.DBm(noise*r.NormFloat64()), computed, walls})
		}
		return values
	}
	c, err := Calibrate(make12(0))
	near(t, "offset", float64(c.Offset), -6, 1e-6, err)
	near(t, "factor", c.Factor, 1.2, 1e-6, err)
	near(t, "calibrated", float64(c.Level(-70, 20)), -80, 1e-6, err)
	offsets, factors := 0, 0
	for range 400 {
		c, err := Calibrate(make12(2))
		if err != nil {
			t.Fatal(err)
		}
		if c.OffsetFrom[0] <= -6 && c.OffsetFrom[1] >= -6 {
			offsets++
		}
		if c.FactorFrom[0] <= 1.2 && c.FactorFrom[1] >= 1.2 {
			factors++
		}
	}
	// 380 +/- 3 x 4.4
	if offsets < 366 || factors < 366 {
		t.Errorf("of 400 intervals %d hold the offset and %d the factor", offsets, factors)
	}
}

func TestCalibrationAsksForEnough(t *testing.T) {
	if _, err := Calibrate([]Measured{{-63, -60, 10}, {-63, -60, 20}}); !errors.Is(err, fit.ErrFew) {
		t.Errorf("two values: %v", err)
	}
	// Four ways through the same walls tell no factor.
	c, err := Calibrate([]Measured{{-63, -60, 10}, {-64, -60, 11}, {-62, -60, 12}, {-63, -60, 13}})
	if err != nil || c.Factor != 1 || c.FactorFrom != [2]float64{1, 1} {
		t.Errorf("factor %v, %v, %v", c.Factor, c.FactorFrom, err)
	}
}

// By hand: offset 4, 3 values, Student's 4.303 x 1 / sqrt(3) = 2.484 and 1.96 x 8 / sqrt(3) = 9.05. What is better counts by
// the shadowing, here nothing; over 30 dB more it is 34 - 9.05 = 24.95. What is worse counts by its lower end, -4 - 2.484.
func TestOnlyTheLowerEndCounts(t *testing.T) {
	better, err := Calibrate([]Measured{{-55, -60, 10}, {-66, -70, 20}, {-77, -80, 30}})
	near(t, "little better", float64(better.Adds(20, 8)), 0, 0, err)
	better, err = Calibrate([]Measured{{-25, -60, 10}, {-36, -70, 20}, {-47, -80, 30}})
	near(t, "much better", float64(better.Adds(20, 8)), 24.95, 0.01, err)
	worse, err := Calibrate([]Measured{{-63, -60, 10}, {-74, -70, 20}, {-85, -80, 30}})
	near(t, "worse", float64(worse.Adds(20, 8)), -6.484, 0.001, err)
	near(t, "nothing fitted", float64(Calibration{Factor: 1}.Adds(40, 8)), 0, 0, nil)
}

// A factor stays 1 where its interval holds 1, and never falls below 0: 20 dB of walls through which more arrives than without.
func TestFactorIsHeld(t *testing.T) {
	c, err := Calibrate([]Measured{{-60, -60, 0}, {-66, -60, 0}, {-82, -80, 20}, {-87, -80, 20}})
	if near(t, "not told from 1", c.Factor, 1, 0, err); !(c.FactorFrom[0] < 1 && c.FactorFrom[1] > 1) {
		t.Errorf("interval %v", c.FactorFrom)
	}
	c, err = Calibrate([]Measured{{-60, -60, 0}, {-61, -60, 0}, {-39, -80, 20}, {-40, -80, 20}})
	near(t, "below nothing", c.Factor, 0, 0, err)
	// Factor 0 leaves 20 dB beyond the computed level behind 20 dB: residuals 0 and -1 in front, 21 and 20 behind, mean 10.
	near(t, "offset beside it", float64(c.Offset), 10, 0.01, err)
}
