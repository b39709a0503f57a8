package radio

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"proofbell/quantity"
)

func TestRadiatedPower(t *testing.T) {
	// The limit in uV/m at 3 m is 41.667 f - 7083 with f in MHz.
	for mhz, want := range map[float64]float64{319.5: -19.3, 345: -18.0, 433.92: -14.4} {
		got, err := EIRP((41.667*mhz-7083)*1e-6, 3)
		near(t, "EIRP", float64(got), want, 0.06, err)
	}
	got, err := EIRP(50e-3, 3)
	near(t, "50 mV/m at 3 m", float64(got), -1.2, 0.05, err)
	// -174 + 10 log10(100 kHz) = -124, + 7 + 12
	s, err := Sensitivity(100e3, 7, 12)
	near(t, "sensitivity", float64(s), -105, 0.001, err)
}

// 433.92 MHz, -14 dBm, 20 m (51.2 dB), 18 dB of walls, -105 dBm: -83.2 dBm, margin 21.8 dB.
func TestLinkBudget(t *testing.T) {
	loss, err := MultiWall(433.92e6, 20, []quantity.DB{6, 6, 6}, nil)
	b := Budget{Transmit: -14, Loss: loss, Sensitivity: -105}
	near(t, "received", float64(b.Received()), -83.2, 0.05, err)
	near(t, "margin", float64(b.Margin()), 21.8, 0.05, err)
}

func TestMarginToProbability(t *testing.T) {
	p, err := Works(12, 8)
	near(t, "M 12, sigma 8", p, 0.933, 0.0005, err)
	p, err = Works(0, 8)
	near(t, "no margin", p, 0.5, 1e-12, err)
	for p, z := range map[float64]float64{0.9: 1.282, 0.95: 1.645, 0.99: 2.326, 0.999: 3.09} {
		m, err := MarginFor(p, 8)
		near(t, "margin for", float64(m), z*8, 0.005, err)
		back, err := Works(m, 8)
		near(t, "and back", back, p, 1e-9, err)
	}
	for m, want := range map[quantity.DB]float64{10: 0.095, 20: 0.01, 30: 0.001} {
		got, err := Fading(m)
		near(t, "fading", got, want, 0.0002, err)
	}
}

func TestFalseLosses(t *testing.T) {
	// q 0.02, k 3: (0.02^-3 - 1) / 0.98 = 124 999 / 0.98 = 127 550; x 70 min = 17.0 years
	s := Supervision{0.02, 3, 70 * 60}
	run, err := s.FirstRun()
	near(t, "first run", run, 127550, 1, err)
	a, err := s.FalseLosses(1)
	near(t, "years between", 1/a, 17.0, 0.05, err)
	// q 0.1: 999 / 0.9 = 1110; 54 days
	s.Lost = 0.1
	run, err = s.FirstRun()
	near(t, "first run", run, 1110, 0.5, err)
	a, err = s.FalseLosses(1)
	near(t, "days between", 365/a, 54, 0.1, err)
	ten, _ := s.FalseLosses(10)
	near(t, "ten devices", ten, 10*a, 1e-9, nil)
	average, longest := s.Announced()
	if average != 2.5*4200 || longest != 3*4200 {
		t.Errorf("announced after %v, at most %v", average, longest)
	}
	q, err := Copies(0.1, 2)
	near(t, "two copies", q, 0.01, 1e-12, err)
}

// The mean to the first run, from counted runs of a seeded generator: 20 000 runs at q 0.3, k 3 have a standard error of
// about 0.7 % (the time to the first run is close to exponential).
func TestFirstRunAgainstCounting(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 12))
	sum := 0
	const runs = 20000
	for range runs {
		for missed := 0; missed < 3; sum++ {
			if r.Float64() < 0.3 {
				missed++
			} else {
				missed = 0
			}
		}
	}
	want, err := Supervision{0.3, 3, 60}.FirstRun()
	near(t, "counted", float64(sum)/runs, want, 0.03*want, err)
}

// A link works as well one way as the other when power and sensitivity are the same.
func TestReciprocity(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		power := quantity.DBm(rapid.Float64Range(-20, 20).Draw(t, "power"))
		there := quantity.DB(rapid.Float64Range(-15, 2).Draw(t, "a"))
		here := quantity.DB(rapid.Float64Range(-15, 2).Draw(t, "b"))
		loss := quantity.DB(rapid.Float64Range(20, 140).Draw(t, "loss"))
		out := Budget{power, [2]quantity.DB{there, here}, loss, -105}
		back := Budget{power, [2]quantity.DB{here, there}, loss, -105}
		if math.Abs(float64(out.Margin()-back.Margin())) > 1e-9 {
			t.Fatalf("out %v, back %v", out.Margin(), back.Margin())
		}
	})
}

func TestNonsenseOfLinksIsRefused(t *testing.T) {
	nan := math.NaN()
	_, a := Works(quantity.DB(nan), 8)
	_, b := Works(12, 0)
	_, c := MarginFor(1, 8)
	_, d := Fading(quantity.DB(nan))
	_, e := Supervision{0, 3, 60}.FirstRun() // nothing was measured
	_, f := Supervision{0.1, 0, 60}.FirstRun()
	_, g := Supervision{0.1, 3, 60}.FalseLosses(-1)
	_, h := EIRP(-1, 3)
	_, i := Sensitivity(0, 7, 12)
	_, j := Copies(2, 1)
	for n, err := range []error{a, b, c, d, e, f, g, h, i, j} {
		if !errors.Is(err, ErrInput) {
			t.Errorf("%d: %v, want ErrInput", n, err)
		}
	}
}
