package history

import (
	"math"
	"testing"
)

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.Abs(got-want) > 1e-6+want*1e-4 {
		t.Errorf("%s is %g, want %g", what, got, want)
	}
}

func TestChances(t *testing.T) {
	// 1 - e^-2 (1 + 2 + 2) = 0.323324; 1 - e^-0.5 = 0.393469.
	near(t, "Poisson, 3 or more at mean 2", poissonTail(3, 2), 0.323324)
	near(t, "Poisson, 1 or more at mean 0.5", poissonTail(1, 0.5), 0.393469)
	// Mean 0.01: 0.01^3/6 x e^-0.01 and less than 1 % more.
	near(t, "Poisson, 3 or more at mean 0.01", poissonTail(3, 0.01), 1.6542e-7)
	// Ten tosses: (1 + 10 + 45) / 1024.
	near(t, "8 or more of 10 at a half", binomialTail(10, 8, 0.5), 56.0/1024)
	near(t, "4 of 4 at a seventh", binomialTail(4, 4, 1.0/7), 1/math.Pow(7, 4))
	near(t, "beyond 1.6449", normalTail(1.6449), 0.05)
	// Moments 0.9, 0.9, 0.9: U = 0.4 x 6 = 2.4; the table of the normal gives 0.0082.
	if p := laplaceTail([]float64{0.9, 0.9, 0.9}); math.Abs(p-0.0082) > 1e-4 {
		t.Errorf("Laplace: %g, want 0.0082", p)
	}
}

func TestCircleScan(t *testing.T) {
	// 23:00, 23:30, 00:30 and noon: three within three hours, across midnight. 4 x P(Bin(3, 1/8) >= 2) = 4 x (3x7/512 + 1/512).
	k, from, p := circleScan([]float64{23.0 / 24, 23.5 / 24, 0.5 / 24, 0.5}, 3.0/24)
	if k != 3 || math.Abs(from-23.0/24) > 1e-9 {
		t.Errorf("%d from %g, want 3 from 23:00", k, from*24)
	}
	near(t, "chance", p, 4*22.0/512)
	if k, _, _ := circleScan([]float64{0.1, 0.1, 0.1}, 0.5); k != 3 {
		t.Errorf("three at the same time: %d", k)
	}
}

func TestPublish(t *testing.T) {
	for in, want := range map[float64]float64{0.01234: 0.012, 0.999: 1, 0: 1e-12, 1e-300: 1e-12, 4.56e-7: 4.6e-7} {
		near(t, "published", publish(in)/want, 1)
	}
}
