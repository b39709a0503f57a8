package acoustics

import (
	"errors"
	"math"
	"testing"

	"proofbell/quantity"
)

// 85 dBA at 3 m, by hand: 20 log10(3/1) = 9.54, (3/0.5) 15.56, (3/0.3) 20.00, (3/0.2) 23.52, (3/0.1) 29.54.
func TestFreeField(t *testing.T) {
	for _, c := range []struct {
		to   quantity.Metre
		want quantity.DBA
	}{
		{3, 85},
		{6, 79},
		{1, 94.5},
		{0.5, 100.6},
		{0.3, 105},
		{0.2, 108.5},
		{0.1, 114.5},
		{0.05, 114.5},
		{0, 114.5},    // the point source ends at 0.1 m
		{2.354, 87.1}, // 20 log10(2.354/3) = -2.11
	} {
		if got, err := FreeField(85, 3, c.to); err != nil || got != c.want {
			t.Errorf("at %v m: %v, %v; want %v dBA", c.to, got, err, c.want)
		}
	}
	if got, _ := FreeField(100, 3, 0.1); got != 115 {
		t.Errorf("100 dBA at 3 m is %v dBA at 0.1 m, want the cap of 115", got)
	}
}

func TestBehind(t *testing.T) {
	if got, err := Behind(87.1, 20); err != nil || got != 67.1 {
		t.Errorf("behind a shut door: %v, %v; want 67.1 dBA", got, err)
	}
	if got, err := Behind(30, 20, 40); err != nil || got != 0 {
		t.Errorf("behind two: %v, %v; want 0 dBA", got, err)
	}
}

func TestNonsenseIsRefused(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range [][3]float64{{85, 0, 1}, {85, 3, -1}, {85, 3, inf}, {nan, 3, 1}, {85, nan, 1}, {500, 3, 1}} {
		if _, err := FreeField(quantity.DBA(c[0]), quantity.Metre(c[1]), quantity.Metre(c[2])); !errors.Is(err, ErrInput) {
			t.Errorf("%v: %v, want ErrInput", c, err)
		}
	}
	for _, c := range [][2]float64{{85, -1}, {85, nan}, {inf, 1}, {nan, 1}} {
		if _, err := Behind(quantity.DBA(c[0]), quantity.DB(c[1])); !errors.Is(err, ErrInput) {
			t.Errorf("%v: %v, want ErrInput", c, err)
		}
	}
}
