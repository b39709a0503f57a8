package history

import (
	"math"
	"slices"
)

// poissonTail is P(X >= k) for a Poisson count of mean.
func poissonTail(k int, mean float64) float64 {
	if k <= 0 {
		return 1
	}
	if mean <= 0 {
		return 0
	}
	lg, _ := math.Lgamma(float64(k) + 1)
	term := math.Exp(float64(k)*math.Log(mean) - mean - lg)
	if float64(k) <= mean { // sum the other side
		below := 0.0
		t := math.Exp(-mean)
		if t == 0 {
			return 1
		}
		for i := range k {
			below += t
			t *= mean / float64(i+1)
		}
		return max(0, 1-below)
	}
	sum := 0.0
	for i := k; term > 0 && i < k+10000; i++ {
		sum += term
		term *= mean / float64(i+1)
		if term < sum*1e-12 {
			break
		}
	}
	return min(1, sum)
}

// binomialTail is P(X >= k) for n tries of chance p each.
func binomialTail(n, k int, p float64) float64 {
	switch {
	case k <= 0 || p >= 1:
		return 1
	case k > n || p <= 0:
		return 0
	}
	ln, _ := math.Lgamma(float64(n) + 1)
	sum := 0.0
	for i := k; i <= n; i++ {
		a, _ := math.Lgamma(float64(i) + 1)
		b, _ := math.Lgamma(float64(n-i) + 1)
		term := math.Exp(ln - a - b + float64(i)*math.Log(p) + float64(n-i)*math.Log1p(-p))
		sum += term
		if float64(i) > float64(n)*p && term < sum*1e-12 {
			break
		}
	}
	return min(1, sum)
}

// normalTail is P(Z >= z).
func normalTail(z float64) float64 { return math.Erfc(z/math.Sqrt2) / 2 }

// circleScan finds the window of width (a part of the circle, 0 to 1) that holds most of the angles (0 to 1), where it
// begins, and a bound for the chance of so many when they fall anywhere: the union bound over the n windows that begin at
// one of them, n x P(Bin(n-1, width) >= k-1).
func circleScan(angles []float64, width float64) (k int, from, p float64) {
	n := len(angles)
	if n == 0 {
		return 0, 0, 1
	}
	a := slices.Clone(angles)
	slices.Sort(a)
	j := 0
	for i := range n {
		j = max(j, i)
		for j+1 < i+n {
			next := a[(j+1)%n]
			if j+1 >= n {
				next++
			}
			if next-a[i] > width {
				break
			}
			j++
		}
		if count := j - i + 1; count > k {
			k, from = count, a[i]
		}
	}
	return k, from, min(1, float64(n)*binomialTail(n-1, k-1, width))
}

// laplaceTail is the chance of so late a middle of the moments (parts of the time looked at, 0 to 1) when they do not
// become more frequent: U = (mean - 1/2) x sqrt(12 n), normal. Laplace's trend test (Cox and Lewis, 1966).
func laplaceTail(moments []float64) float64 {
	if len(moments) == 0 {
		return 1
	}
	sum := 0.0
	for _, m := range moments {
		sum += m
	}
	n := float64(len(moments))
	return normalTail((sum/n - 0.5) * math.Sqrt(12*n))
}

// publish rounds a chance to two figures, as it is shown, and keeps it above 1e-12: a smaller one would claim to know the
// model better than anyone does. What is compared is what is shown, so that every machine decides alike.
func publish(p float64) float64 {
	if p < 1e-12 {
		return 1e-12
	}
	scale := math.Pow(10, math.Floor(math.Log10(p))-1)
	return math.Round(p/scale) * scale
}
