package fit

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

// A straight line by hand: x 0 to 4, y 1 3 4 8 9. Slope 21/10 = 2.1 (sums about the means 2 and 5), offset 0.8; residuals
// 0.2 0.1 -1.0 0.9 -0.2, squares 1.9, s = sqrt(1.9/3) = 0.79582; half width of the slope 3.182 x 0.79582/sqrt(10) = 0.8008,
// of the offset 3.182 x 0.79582 x sqrt(1/5 + 4/10) = 1.9615.
func TestStraightLine(t *testing.T) {
	r, err := Least([]float64{1, 3, 4, 8, 9}, []float64{0, 0}, func(p []float64) []float64 {
		out := make([]float64, 5)
		for i := range out {
			out[i] = p[0] + p[1]*float64(i)
		}
		return out
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ got, want float64 }{
		{r.Value[0], 0.8},
		{r.Value[1], 2.1},
		{r.Spread, 0.79582},
		{r.High[1] - r.Value[1], 0.8008},
		{r.Value[0] - r.Low[0], 1.9615},
		{r.Residual[2], -1.0},
	} {
		if math.Abs(c.got-c.want) > 1e-3 {
			t.Errorf("%v, want %v", c.got, c.want)
		}
	}
	if r.Freedom != 3 {
		t.Errorf("freedom %d", r.Freedom)
	}
}

// Of 400 noisy samples of a bent model about 95 % of the intervals hold what was planted: between 92 and 98 %.
func TestIntervalsHoldWhatWasPlanted(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	planted := []float64{7, -0.4}
	model := func(p []float64) []float64 {
		out := make([]float64, 12)
		for i := range out {
			out[i] = p[0] * math.Exp(p[1]*float64(i)/3)
		}
		return out
	}
	held := [2]int{}
	const samples = 400
	for range samples {
		y := model(planted)
		for i := range y {
			y[i] += 0.2 * random.NormFloat64()
		}
		r, err := Least(y, []float64{5, -0.2}, model)
		if err != nil {
			t.Fatal(err)
		}
		for k := range planted {
			if r.Low[k] <= planted[k] && planted[k] <= r.High[k] {
				held[k]++
			}
		}
	}
	for k, n := range held {
		if n < samples*92/100 || n > samples*98/100 {
			t.Errorf("parameter %d was held in %d of %d samples", k, n, samples)
		}
	}
}

// Two parameters that do the same are not both moved; one that does nothing stays.
func TestWhatCanNotBeToldApartIsHeld(t *testing.T) {
	r, err := Least([]float64{3, 4, 5}, []float64{0, 1, 9}, func(p []float64) []float64 {
		return []float64{p[0] + 2*p[1], p[0] + 2*p[1], p[0] + 2*p[1]}
	})
	if err != nil {
		t.Fatal(err)
	}
	if r.Held[0] || !r.Held[1] || !r.Held[2] || math.Abs(r.Value[0]-2) > 1e-9 || r.Value[1] != 1 || r.Low[2] != 9 || r.High[2] != 9 {
		t.Errorf("%+v", r)
	}
}

func TestTooFewAreRefused(t *testing.T) {
	one := func(p []float64) []float64 { return []float64{p[0], p[0]} }
	if _, err := Least([]float64{1, 2}, []float64{0}, one); !errors.Is(err, ErrFew) {
		t.Error("two measurements for one parameter are not refused")
	}
	if _, err := Least([]float64{1, math.NaN()}, []float64{0}, one); !errors.Is(err, ErrFew) {
		t.Error("no number is not refused")
	}
	if _, err := Least([]float64{1, 2, 3}, []float64{0}, func([]float64) []float64 { return make([]float64, 3) }); !errors.Is(err, ErrFew) {
		t.Error("a parameter that does nothing is not refused")
	}
}

// Tables of Student's t: 2.120 at 16, 2.042 at 30, 1.984 at 100.
func TestStudent(t *testing.T) {
	for f, want := range map[int]float64{1: 12.706, 15: 2.131, 16: 2.120, 30: 2.042, 100: 1.984} {
		if got := student(f); math.Abs(got-want) > 0.001 {
			t.Errorf("t of %d: %v, want %v", f, got, want)
		}
	}
}

// The second parameter counts for nothing below -1, and the measurements lie beyond: on the way there it is lost. Nothing that
// is no number is tried, and no interval is claimed.
func TestAParameterLostOnTheWay(t *testing.T) {
	_, err := Least([]float64{10, 5, 0, -5, -10}, []float64{0, 0}, func(p []float64) []float64 {
		if math.IsNaN(p[0]) || math.IsNaN(p[1]) {
			t.Fatalf("tried %v", p)
		}
		out := make([]float64, 5)
		for i := range out {
			out[i] = p[0] + max(p[1], -1)*float64(i)
		}
		return out
	})
	if !errors.Is(err, ErrFew) {
		t.Error(err)
	}
}
