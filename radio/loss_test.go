package radio

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"proofbell/quantity"
)

func near(t *testing.T, what string, got, want, tolerance float64, err error) {
	t.Helper()
	if err != nil || !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %v, %v; want %v +/- %v", what, got, err, want, tolerance)
	}
}

// By hand: 32.45 + 20 log10(f in MHz) + 20 log10(d in km).
func TestFreeSpaceOfTheUsualBands(t *testing.T) {
	for mhz, want := range map[float64][5]float64{
		319.5: {22.5, 32.1, 42.5, 52.1, 62.5}, 345: {23.2, 32.7, 43.2, 52.7, 63.2}, 433.92: {25.2, 34.7, 45.2, 54.7, 65.2},
		868.3: {31.2, 40.8, 51.2, 60.8, 71.2}, 915: {31.7, 41.2, 51.7, 61.2, 71.7}, 2440: {40.2, 49.7, 60.2, 69.7, 80.2},
	} {
		for i, d := range []quantity.Metre{1, 3, 10, 30, 100} {
			got, err := FreeSpace(quantity.Hertz(mhz*1e6), d)
			near(t, "free space", float64(got), want[i], 0.06, err)
		}
	}
}

func TestIndoorModels(t *testing.T) {
	n, floor, sigma, published, err := ClassicOf(900e6, false, 1)
	if n != 33 || floor != 9 || sigma != 10 || !published || err != nil {
		t.Errorf("office at 900 MHz: %v %v %v %v %v", n, floor, sigma, published, err)
	}
	// 20 log10(900) = 59.08, 33 log10(15) = 38.81, + 9 - 28 = 78.9
	classic, err := Classic(900e6, 15, n, floor)
	near(t, "classic, 15 m", float64(classic), 78.9, 0.05, err)
	// 24.6 log10(12) = 26.55, + 29.53, 23.8 log10(0.868) = -1.46: 54.6
	general, err := SiteGeneral(OfficeObstructed, 868e6, 12)
	near(t, "site-general, 12 m", float64(general), 54.6, 0.05, err)
	// free space 55.76 + 2 x 3.4 + 6.9 + 18.3
	wall, err := MultiWall(915e6, 16, []quantity.DB{3.4, 3.4, 6.9}, []quantity.DB{18.3})
	near(t, "multi-wall, 16 m", float64(wall), 87.8, 0.05, err)
	// 31.67 at 1 m, + 30 x log10(10)
	house, err := LogDistance(915e6, 10, 3)
	near(t, "log-distance", float64(house), 61.7, 0.05, err)
	for k, want := range []float64{0, 1, 1.832, 2.382} {
		near(t, "floors", FloorFactor(k), want, 0.0006, nil)
	}
	// For homes below 1 GHz nothing is published, and it says so.
	if n, floor, _, published, _ := ClassicOf(868e6, true, 2); n != 28 || floor != 8 || published {
		t.Errorf("home at 868 MHz: N %v, floors %v, published %v", n, floor, published)
	}
	for _, c := range []struct {
		mhz        float64
		home       bool
		floors     int
		n, floored float64
	}{{900, false, 2, 33, 19}, {900, false, 3, 33, 24}, {1900, true, 2, 28, 8}, {1900, false, 3, 30, 23}, {2400, true, 1, 28, 10}, {2400, false, 1, 30, 14}} {
		n, loss, _, _, err := ClassicOf(quantity.Hertz(c.mhz*1e6), c.home, c.floors)
		near(t, "N", n, c.n, 0, err)
		near(t, "floors", float64(loss), c.floored, 0, err)
	}
}

// Slabs and entry losses as computed from the recommendations, each with its rounding.
func TestSlabsAndEntry(t *testing.T) {
	for _, c := range []struct {
		m    Dielectric
		t    quantity.Metre
		want [3]float64
	}{
		{Plasterboard, 0.025, [3]float64{0.3, 0.8, 1.2}},
		{Brick, 0.215, [3]float64{4.8, 5.5, 5.6}},
		{Concrete, 0.200, [3]float64{5.3, 7.5, 14.8}},
		{Glass, 0.006, [3]float64{0.1, 0.4, 1.9}},
	} {
		for i, f := range []quantity.Hertz{433e6, 868e6, 2440e6} {
			got, err := Slab(c.m, c.t, f)
			near(t, "slab", float64(got), c.want[i], 0.06, err)
		}
	}
	for _, c := range []struct {
		efficient bool
		p         float64
		want      [3]float64
	}{
		{false, 0.5, [3]float64{13.9, 14.2, 15.2}},
		{false, 0.9, [3]float64{23.8, 25.0, 27.7}},
		{true, 0.5, [3]float64{32.7, 31.2, 30.6}},
		{true, 0.9, [3]float64{47.4, 46.5, 47.9}},
	} {
		for i, f := range []quantity.Hertz{433e6, 868e6, 2440e6} {
			got, err := Entry(f, c.p, c.efficient, 0)
			near(t, "entry", float64(got), c.want[i], 0.06, err)
		}
	}
	// 10 degrees: 2.12 dB on the main term of 28.41 dB, beside 27.98 dB of the other: 31.21 becomes 32.45.
	steep, err := Entry(868e6, 0.5, true, 10)
	near(t, "entry at 10 degrees", float64(steep), 32.45, 0.02, err)
}

func TestFresnelClearance(t *testing.T) {
	// 915 MHz is 0.3276 m; 10 m with the wall in the middle: 0.6 sqrt(0.3276 x 25 / 10) = 0.543 m
	near(t, "clearance", float64(ClearBy(915e6, 5, 5)), 0.543, 0.001, nil)
	if ClearBy(915e6, 0, 0) != 0 {
		t.Error("no way has a zone")
	}
}

// No walls is free space; a wall taken away never makes it worse; the order of walls does not matter.
func TestMultiWallProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := quantity.Hertz(rapid.Float64Range(300e6, 2.5e9).Draw(t, "f"))
		d := quantity.Metre(rapid.Float64Range(0, 200).Draw(t, "d"))
		var walls, floors []quantity.DB
		for range rapid.IntRange(0, 6).Draw(t, "walls") {
			walls = append(walls, quantity.DB(rapid.Float64Range(0, 40).Draw(t, "wall")))
		}
		for range rapid.IntRange(0, 4).Draw(t, "floors") {
			floors = append(floors, quantity.DB(rapid.Float64Range(0, 40).Draw(t, "floor")))
		}
		all, err := MultiWall(f, d, walls, floors)
		if err != nil {
			t.Fatal(err)
		}
		free, _ := FreeSpace(f, d)
		none, _ := MultiWall(f, d, nil, nil)
		if none != free || all < free {
			t.Fatalf("without walls %v, with them %v, free %v", none, all, free)
		}
		if len(walls) > 0 {
			if fewer, _ := MultiWall(f, d, walls[1:], floors); fewer > all+1e-9 {
				t.Fatalf("a wall less is %v, all %v", fewer, all)
			}
		}
	})
}

func TestNonsenseIsRefused(t *testing.T) {
	nan := math.NaN()
	_, a := FreeSpace(0, 10)
	_, b := FreeSpace(915e6, quantity.Metre(nan))
	_, c := Classic(915e6, 10, nan, 0)
	_, d := SiteGeneral(OfficeObstructed, 868e6, 80) // farther than it was measured
	_, e := SiteGeneral(HallObstructed, 433e6, 20)   // lower than it was measured
	_, f := MultiWall(915e6, 10, []quantity.DB{-1}, nil)
	_, _, _, _, g := ClassicOf(915e6, true, 9)
	_, h := Slab(Brick, -1, 915e6)
	_, i := Entry(915e6, 1, true, 0)
	_, j := LogDistance(915e6, 10, 0)
	for n, err := range []error{a, b, c, d, e, f, g, h, i, j} {
		if !errors.Is(err, ErrInput) {
			t.Errorf("%d: %v, want ErrInput", n, err)
		}
	}
}
