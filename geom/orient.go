package geom

import "math"

// Orient tells on which side of the line from a to b the point c lies: positive to the left, negative to the right, zero
// on the line. The sign is exact for all coordinates between 1e-100 and 1e100 m; the size is about twice the area of the
// triangle.
func Orient(a, b, c Point) float64 {
	left, right := (a.X-c.X)*(b.Y-c.Y), (a.Y-c.Y)*(b.X-c.X)
	det := left - right
	// The rounding of two differences, two products and their difference: Shewchuk 1997, section 4.
	const bound = (3 + 16*epsilon) * epsilon
	if sum := math.Abs(left) + math.Abs(right); det > bound*sum || -det > bound*sum {
		return det
	}
	return orientExact(a, b, c)
}

const epsilon = 1.0 / (1 << 53)

// orientExact sums the six products without rounding: each is kept as its rounded value and the rest.
func orientExact(a, b, c Point) float64 {
	var sum [12]float64 // parts that do not overlap, the smallest first
	n := 0
	add := func(v float64) {
		kept := 0
		for _, part := range sum[:n] {
			// Knuth's two-sum: v + part = high + low without rounding.
			high := v + part
			rest := high - v
			low := (v - (high - rest)) + (part - rest)
			if low != 0 {
				sum[kept] = low
				kept++
			}
			v = high
		}
		if v != 0 {
			sum[kept] = v
			kept++
		}
		n = kept
	}
	product := func(x, y float64) {
		high := x * y
		add(math.FMA(x, y, -high))
		add(high)
	}
	product(a.X, b.Y)
	product(-a.X, c.Y)
	product(-c.X, b.Y)
	product(-a.Y, b.X)
	product(a.Y, c.X)
	product(c.Y, b.X)
	if n == 0 {
		return 0
	}
	return sum[n-1]
}
