package acoustics_test

import (
	"errors"
	"math"
	"testing"

	"proofbell/acoustics"
	"proofbell/quantity"
)

// near fails unless got is within tolerance of want.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %v, want %v ± %v", what, got, want, tolerance)
	}
}

func dba(t *testing.T) func(quantity.DBA, error) float64 {
	return func(l quantity.DBA, err error) float64 {
		t.Helper()
		if err != nil {
			t.Error(err)
		}
		return float64(l)
	}
}

// Example 1.1: 85 dBA at 3.0 m. 10 log(4 pi 9) = 10 log 113.10 = 20.53; half of it is 3.01 dB less.
func TestSoundPower(t *testing.T) {
	level := dba(t)
	near(t, "full sphere", level(acoustics.Power(85, 3, 1)), 105.53, 0.01)
	near(t, "half space", level(acoustics.Power(85, 3, 2)), 102.52, 0.01)
	near(t, "at 10 ft", level(acoustics.Power(85, 3.048, 1)), 105.67, 0.01) // 10 log(4 pi 9.290) = 20.67
}

// Example 1.2: a bedroom of 30 m³: 3 + 2.16 + 0.96 = 6.12 m²; 0.161 x 30 / 6.12 = 0.789 s, and back.
func TestSabine(t *testing.T) {
	a, err := acoustics.Absorption(acoustics.Surface{Area: 12, Alpha: 0.25}, acoustics.Surface{Area: 36, Alpha: 0.06}, acoustics.Surface{Area: 12, Alpha: 0.08})
	near(t, "absorption", a, 6.12, 1e-9)
	t60, err2 := acoustics.Sabine(30, a)
	near(t, "T60", t60, 0.79, 0.005)
	back, err3 := acoustics.Sabine(30, t60)
	near(t, "absorption from T60", back, 6.12, 1e-9)
	if err != nil || err2 != nil || err3 != nil {
		t.Error(err, err2, err3)
	}
}

// Far from a sounder only the echoes are left, near it only the free field.
func TestInRoom(t *testing.T) {
	level := dba(t)
	near(t, "echoes", level(acoustics.InRoom(100, 1, 1000, 10, 0)), 100+10*math.Log10(0.4), 1e-5)
	near(t, "free field at 0.1 m", level(acoustics.InRoom(100, 1, 0, 1e5, 0)), 100+10*math.Log10(1/(4*math.Pi*0.01)), 0.01)
	// By hand: Rc = 20/(1 - 20/80) = 26.667; Q/(4 pi 4) = 0.039789 for Q 2, 4/Rc = 0.15; 10 log 0.189789 = -7.217.
	near(t, "both", level(acoustics.InRoom(100, 2, 2, 20, 80)), 92.783, 0.001)
	near(t, "reverberant", level(acoustics.Reverberant(105.5, 10)), 101.52, 0.01)
}

// Example 1.3: hall of 10 m², wall of 7.5 m² at 35 dB with a door of 1.6 m², bedroom of 14 m².
func TestThroughAWall(t *testing.T) {
	level := dba(t)
	power := quantity.DBA(level(acoustics.Power(85, 3, 1)))
	hall := level(acoustics.Reverberant(power, 10))
	near(t, "hall", hall, 101.6, 0.06)
	for _, c := range []struct {
		door      quantity.DB
		composite float64
		pillow    float64
	}{{20, 26.9, 72.7}, {0, 7.5, 92.1}} {
		r, area, err := acoustics.Composite(acoustics.Part{Area: 7.5, Loss: 35}, acoustics.Part{Area: 1.6, Loss: c.door})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "composite", float64(r), c.composite, 0.06)
		near(t, "area", area, 9.1, 1e-9)
		near(t, "pillow", level(acoustics.Through(quantity.DBA(hall), r, area, 14)), c.pillow, 0.06)
	}
}

// The form of Halliwell and Sultan (1986) says the same in another dress: Ls = Lw - 10 log(V/T60) + 14 without its term
// for low frequencies, and Lr = Ls - R + 10 log(S T60 c 1.086 / (60 Vr)). The two differ by their rounding only.
func TestAgreesWithHalliwellAndSultan(t *testing.T) {
	level := dba(t)
	for _, c := range []struct{ volume, t60, area, loss float64 }{{30, 0.4, 9.1, 26.9}, {84, 0.3, 23.4, 30}, {200, 1.2, 7, 15}} {
		a, err := acoustics.Sabine(c.volume, c.t60)
		if err != nil {
			t.Fatal(err)
		}
		ls := 105.5 - 10*math.Log10(c.volume/c.t60) + 14
		near(t, "source room", level(acoustics.Reverberant(105.5, a)), ls, 0.1)
		lr := ls - c.loss + 10*math.Log10(c.area*c.t60*343*1.086/(60*c.volume))
		near(t, "next room", level(acoustics.Through(quantity.DBA(ls), quantity.DB(c.loss), c.area, a)), lr, 0.1)
	}
}

// 100 kg/m² at 520 Hz: 20 log 52000 - 47 = 94.32 - 47.
func TestMassLaw(t *testing.T) {
	r, err := acoustics.MassLaw(100, 520, 2000)
	near(t, "100 kg/m²", float64(r), 47.32, 0.01)
	if err != nil {
		t.Error(err)
	}
	low, high, ok := acoustics.Coincidence("gypsum", 0.0125)
	if !ok || math.Abs(float64(low)-2560) > 1e-6 || math.Abs(float64(high)-3120) > 1e-6 {
		t.Errorf("coincidence of 12.5 mm gypsum: %v to %v", low, high)
	}
	glass, _, _ := acoustics.Coincidence("glass", 0.004)
	if math.Abs(float64(glass)-3000) > 1e-6 {
		t.Errorf("coincidence of 4 mm glass: %v", glass)
	}
	if r, err := acoustics.MassLaw(10, 520, low); err != nil || math.Abs(float64(r)-27.32) > 0.01 { // 20 log 5200 = 74.32
		t.Errorf("gypsum of 10 kg/m² at 520 Hz: %v, %v", r, err)
	}
	for _, f := range []quantity.Hertz{low / 2, 3100} {
		if _, err := acoustics.MassLaw(10, f, low); !errors.Is(err, acoustics.ErrInput) {
			t.Errorf("the mass law at %v Hz, near coincidence, is not refused", f)
		}
	}
	if _, err := acoustics.MassLaw(10, 520, 0); !errors.Is(err, acoustics.ErrInput) {
		t.Error("a leaf whose coincidence is not known is not refused")
	}
}

// Example 1.4 and two equal sources.
func TestSums(t *testing.T) {
	near(t, "72 + 69", float64(acoustics.Sum(72, 69)), 73.8, 0.05)
	near(t, "two equal", float64(acoustics.Sum(61.7, 61.7)), 61.7+3.0103, 1e-4)
	if s := acoustics.Sum(); s != acoustics.Silence || acoustics.Sum(70, acoustics.Silence) != 70 {
		t.Errorf("silence adds something: %v", s)
	}
	// 73.764 with, 69 without: 72.
	alone, weak, err := acoustics.Subtract(acoustics.Sum(72, 69), 69)
	near(t, "alone", float64(alone), 72, 1e-9)
	if !weak || err != nil {
		t.Errorf("4.8 dB apart: weak %v, %v", weak, err)
	}
	if _, weak, err := acoustics.Subtract(76, 70); weak || err != nil {
		t.Errorf("6 dB apart: weak %v, %v", weak, err)
	}
	if _, _, err := acoustics.Subtract(72.9, 70); !errors.Is(err, acoustics.ErrInput) {
		t.Error("2.9 dB apart is not refused")
	}
}

// Example 1.5: average 45, loudest 62, sleeping: 60, 67 and 75; 72.0 is short by 3.0.
func TestRequired(t *testing.T) {
	sleeping := acoustics.Demand{OverAverage: 15, OverLoudest: 5, Least: 75}
	for _, c := range []struct{ average, loudest, want quantity.DBA }{{45, 62, 75}, {45, 72, 77}, {63, 62, 78}, {45, quantity.DBA(math.NaN()), 75}} {
		if got, err := sleeping.Required(c.average, c.loudest); err != nil || got != c.want {
			t.Errorf("%v and %v: %v, %v; want %v", c.average, c.loudest, got, err, c.want)
		}
	}
	if _, err := sleeping.Required(quantity.DBA(math.NaN()), 60); !errors.Is(err, acoustics.ErrInput) {
		t.Error("an average that is not known is not refused")
	}
}

func TestNonsenseIsRefusedEverywhere(t *testing.T) {
	nan := math.NaN()
	var errs []error
	keep := func(_ any, err error) { errs = append(errs, err) }
	for _, v := range []float64{nan, -1, 0, math.Inf(1)} {
		keep(acoustics.Power(85, quantity.Metre(v), 1))
		keep(acoustics.Power(85, 3, v))
		keep(acoustics.Sabine(v, 1))
		keep(acoustics.Sabine(30, v))
		keep(acoustics.Through(80, 20, v*0, 10))
	}
	for _, v := range []float64{nan, -1, 0} {
		keep(acoustics.InRoom(100, 1, 1, v, 0))
		keep(acoustics.Reverberant(100, v))
		keep(acoustics.MassLaw(v, 500, 3000))
		keep(acoustics.Through(80, 20, 10, v))
	}
	keep(acoustics.InRoom(100, 1, 1, 20, 10)) // more absorption than surface
	keep(acoustics.Absorption(acoustics.Surface{Area: 1, Alpha: 1.1}))
	keep(acoustics.Transmission(acoustics.Part{Area: 1, Loss: -1}))
	_, _, err := acoustics.Composite()
	keep(nil, err)
	keep(acoustics.Solve([]acoustics.Room{{}}, nil, nil))
	keep(acoustics.Solve([]acoustics.Room{{Absorption: 1}}, []acoustics.Partition{{A: 0, B: 1, Open: 1}}, nil))
	keep(acoustics.Solve([]acoustics.Room{{Absorption: 1}}, nil, []acoustics.Sounder{{Power: 100, Q: 1, Room: 1}}))
	for i, err := range errs {
		if !errors.Is(err, acoustics.ErrInput) {
			t.Errorf("case %d: %v", i, err)
		}
	}
	if acoustics.Chain(1, 2, 1) != 85 || acoustics.Uncertainty(0) != 3 || acoustics.Uncertainty(1) != 6 || acoustics.Uncertainty(5) != 10 {
		t.Error("the defaults of a chain of rooms have moved")
	}
}
