package electrical

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"proofbell/quantity"
)

func wire(t *testing.T, name string) Wire {
	t.Helper()
	c, err := quantity.ParseConductor(name)
	if err != nil {
		t.Fatal(err)
	}
	w, err := FindWire(c)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: got %.9g, want %.9g", what, got, want)
	}
}

// NEC chapter 9 table 8, IEC 60228 and the formulas for temperature that belong to them.
func TestWireTables(t *testing.T) {
	kftOf := func(name string, stranded bool, at quantity.Celsius) float64 {
		r, err := wire(t, name).PerMetre(stranded, at)
		if err != nil {
			t.Fatal(err)
		}
		return r * 304.8
	}
	near(t, "14 AWG solid, 75 C", kftOf("14 AWG", false, 75), 3.07, 1e-9)
	near(t, "18 AWG stranded, 75 C", kftOf("AWG 18", true, 75), 7.95, 1e-9)
	// A meter reads about 82 % of the 75 degrees figure on a cool wire: 1 - 0.00323 x 55 = 0.822; and the table of 20 degrees
	// says 2.525/3.07 = 0.8225.
	near(t, "14 AWG solid, 20 C", kftOf("14 AWG", false, 20), 2.525, 0.003)
	near(t, "22 AWG, 20 C", kftOf("22 AWG", false, 20), 16.14, 1e-9)
	near(t, "22 AWG, 75 C", kftOf("22 AWG", false, 75), 16.14*1.21615, 1e-9)
	near(t, "1.5 mm2, 20 C, ohm/km", kftOf("1.5 mm2", false, 20)/0.3048, 12.1, 1e-9)
	// IEC 60228 class 1 and 2 share the maximum, so that stranding changes nothing.
	near(t, "1.5 mm2 stranded", kftOf("1.5 mm2", true, 20), kftOf("1.5 mm2", false, 20), 0)
	// VDE 0815: the loop of 0.8 mm has at most 73.2 ohm/km.
	near(t, "0.8 mm loop, ohm/km", 2*kftOf("0.8 mm", false, 20)/0.3048, 73.2, 1e-9)

	for _, at := range []float64{-273.16, -51, 151, math.NaN(), math.Inf(1)} {
		if _, err := wire(t, "18 AWG").PerMetre(true, quantity.Celsius(at)); !errors.Is(err, ErrInput) {
			t.Errorf("%v C: %v", at, err)
		}
	}
	odd, _ := quantity.ParseConductor("1.3 mm2")
	if _, err := FindWire(odd); !errors.Is(err, ErrInput) {
		t.Error(err)
	}
	// 2.4 ohm out and back over 50 m at 20 C: 24 ohm/km; at 75 C x 1.21615.
	r, err := Measured(2.4, 50, 20, 75)
	near(t, "measured", r*1000, 29.1876, 1e-4)
	if err != nil {
		t.Error(err)
	}
	if _, err := Measured(0, 50, 20, 75); !errors.Is(err, ErrInput) {
		t.Error("a measured cable without resistance was taken")
	}
}

// 14 AWG solid at 75 C, 3.07 ohm/kft: 80, 150 and 260 ft from a supply of 20.4 V; 0.12, 0.12 and 0.20 A.
// R = 2 x 80 x 3.07/1000 = 0.4912; 2 x 70 x ... = 0.4298; 2 x 110 x ... = 0.6754 ohm.
// 20.4 - 0.44 x 0.4912 = 20.183872; - 0.32 x 0.4298 = 20.046336; - 0.20 x 0.6754 = 19.911256.
// End of line: 20.4 - 0.44 x 1.5964 = 19.697584.
func TestThreeSoundersInAChain(t *testing.T) {
	r, _ := wire(t, "14 AWG").PerMetre(false, 75)
	ohm := func(ft float64) quantity.Ohm { return quantity.Ohm(2 * ft * 0.3048 * r) }
	f := Feed{Volt: 20.4, Back: -1, Parts: []Part{
		{Name: "1", From: -1, Ohm: ohm(80), Current: 0.12, Least: 16}, {Name: "2", From: 0, Ohm: ohm(70), Current: 0.12, Least: 16}, {Name: "3", From: 1, Ohm: ohm(110), Current: 0.20, Least: 16},
	}}
	got, err := Solve(f)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{20.183872, 20.046336, 19.911256} {
		near(t, f.Parts[i].Name, got.Volts[i], want, 1e-9)
	}
	near(t, "total", got.Total, 0.44, 1e-12)
	// 0.44^2 x 0.4912 + 0.32^2 x 0.4298 + 0.2^2 x 0.6754
	near(t, "loss", got.Loss, 0.16612384, 1e-9)
	thumb, err := EndOfLine(f)
	near(t, "end of line", float64(thumb), 19.697584, 1e-9)
	if err != nil || got.Served != 1 || got.Stuck != -1 {
		t.Error(err, got)
	}
}

// V = [Vs + sqrt(Vs^2 - 4 R P)]/2; 12.6 V, 4 ohm, 3 W: sqrt(158.76 - 48) = 10.524258; 11.562129 V, 0.259468 A.
func TestCameraOnALine(t *testing.T) {
	f := Feed{Volt: 12.6, Back: -1, Parts: []Part{{Name: "camera", From: -1, Ohm: 4, Power: 3, Least: 9}}}
	got, err := Solve(f)
	near(t, "voltage", got.Volts[0], 11.562129, 1e-6)
	near(t, "current", got.Amps[0], 0.259468, 1e-6)
	if err != nil {
		t.Error(err)
	}
	// The same with the 4 ohm inside the supply.
	inside, _ := Solve(Feed{Volt: 12.6, Inner: 4, Back: -1, Parts: []Part{{From: -1, Power: 3}}})
	near(t, "inside the supply", inside.Volts[0], 11.562129, 1e-6)
	near(t, "terminals", inside.Terminals, 11.562129, 1e-6)
}

// No more than Vs^2/(4 R) can be carried: 12.6^2/16 = 9.9225 W.
func TestPowerThatCanNotBeServed(t *testing.T) {
	line := func(p float64) Flow {
		got, err := Solve(Feed{Volt: 12.6, Back: -1, Parts: []Part{{Name: "joint", From: -1, Ohm: 1}, {Name: "camera", From: 0, Ohm: 3, Power: quantity.Watt(p)}, {Name: "light", From: 0, Ohm: 1}}})
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	near(t, "just below, served", line(9.9224).Served, 1, 0)
	near(t, "just below, volts", line(9.9224).Volts[1], 6.3+math.Sqrt(12.6*12.6-16*9.9224)/2, 1e-6)
	got := line(12)
	near(t, "share", got.Served, 9.9225/12, 1e-6)
	near(t, "volts where it falls away", got.Volts[1], 6.3, 1e-3)
	if got.Stuck != 1 {
		t.Errorf("stuck at %d", got.Stuck)
	}
	// Cables alone: 2 A over 4 and 2 ohm eat 12 V at 2 x (4 + 2) = 12.
	eaten, _ := Solve(Feed{Volt: 12, Back: -1, Parts: []Part{{Name: "a", From: -1, Ohm: 4, Current: 1}, {Name: "b", From: 0, Ohm: 4, Current: 2}}})
	near(t, "share of the current", eaten.Served, 12.0/20, 1e-6)
	if eaten.Stuck != 1 {
		t.Errorf("stuck at %d", eaten.Stuck)
	}
}

// A load I between two ends that both have the supply's voltage: R1 R2/(R1+R2) I, and the currents divide inversely.
func TestRingIsFedFromBothEnds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r1, r2 := rapid.Float64Range(0.01, 50).Draw(t, "out"), rapid.Float64Range(0.01, 50).Draw(t, "back")
		i, v := rapid.Float64Range(0, 0.2).Draw(t, "current"), rapid.Float64Range(12, 30).Draw(t, "supply")
		f := Feed{Volt: quantity.Volt(v), Back: 0, BackOhm: quantity.Ohm(r2), Parts: []Part{{From: -1, Ohm: quantity.Ohm(r1), Current: quantity.Ampere(i)}}}
		got, err := Solve(f)
		if err != nil || math.Abs(got.Volts[0]-(v-i*r1*r2/(r1+r2))) > 1e-9 || math.Abs(got.Back-i*r1/(r1+r2)) > 1e-9 {
			t.Fatalf("%+v (%v)", got, err)
		}
		cut, err := Break(f, 0)
		if err != nil || math.Abs(cut.Volts[0]-(v-i*r2)) > 1e-9 || cut.Amps[0] != 0 {
			t.Fatalf("cut: %+v (%v)", cut, err)
		}
	})
	// Two loads: 1 ohm to a (0.3 A), 2 ohm to b (0.6 A), 3 ohm back. The way back carries
	// [1 x 0.9 + 2 x 0.6]/6 = 0.35 A; a has 12 - 1 x 0.55 = 11.45, b 12 - 3 x 0.35 = 10.95 V.
	f := Feed{Volt: 12, Back: 1, BackOhm: 3, Parts: []Part{{From: -1, Ohm: 1, Current: 0.3}, {From: 0, Ohm: 2, Current: 0.6}}}
	got, err := Solve(f)
	near(t, "a", got.Volts[0], 11.45, 1e-12)
	near(t, "b", got.Volts[1], 10.95, 1e-12)
	near(t, "back", got.Back, 0.35, 1e-12)
	near(t, "loss", got.Loss, 0.55*0.55*1+0.25*0.25*2+0.35*0.35*3, 1e-12)
	// Cut before b: a alone from the front, b alone from the back.
	cut, _ := Break(f, 1)
	near(t, "a, cut", cut.Volts[0], 11.7, 1e-12)
	near(t, "b, cut", cut.Volts[1], 10.2, 1e-12)
	if _, err2 := Break(Feed{Volt: 12, Back: -1, Parts: f.Parts}, 0); err != nil || !errors.Is(err2, ErrInput) {
		t.Error(err, err2)
	}
}

// randomFeed is any tree or ring whose cables are 0 to 300 m of 24 AWG to 4 mm2.
func randomFeed(r *rand.Rand) Feed {
	n := 1 + r.IntN(40)
	f := Feed{Volt: quantity.Volt(8 + 20*r.Float64()), Back: -1}
	if r.IntN(2) == 0 {
		f.Inner = quantity.Ohm(0.5 * r.Float64())
	}
	for i := range n {
		p := Part{Name: "x", From: r.IntN(i+1) - 1, Ohm: quantity.Ohm(300 * r.Float64() * math.Pow(10, -2.3*r.Float64()) * 0.17)}
		if r.IntN(8) == 0 {
			p.Ohm = 0
		}
		switch r.IntN(3) {
		case 0:
			p.Current = quantity.Ampere(0.3 * r.Float64() / float64(n))
		case 1:
			p.Power = quantity.Watt(4 * r.Float64() / float64(n))
		}
		f.Parts = append(f.Parts, p)
	}
	if r.IntN(3) == 0 {
		f.Back, f.BackOhm = r.IntN(n), quantity.Ohm(20*r.Float64())
	}
	return f
}

// Kirchhoff: at each part what comes in goes out or is drawn, and along each cable the voltage falls by R I.
func TestKirchhoffOnTenThousandTrees(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	served, rings := 0, 0
	for range 10000 {
		f := randomFeed(r)
		got, err := Solve(f)
		if err != nil {
			t.Fatal(err)
		}
		if got.Served == 1 {
			served++
		}
		if f.Back >= 0 {
			rings++
			for _, cut := range f.Ring() {
				broken, err := Break(f, cut)
				if err != nil {
					t.Fatal(err)
				}
				kirchhoff(t, f, broken, cut)
			}
		}
		kirchhoff(t, f, got, whole)
	}
	if served < 5000 || served == 10000 || rings < 2000 {
		t.Errorf("%d of 10000 can be served, %d are rings: the test has become one-sided", served, rings)
	}
}

func kirchhoff(t *testing.T, f Feed, got Flow, cut int) {
	t.Helper()
	residual := 0.0
	take := func(v float64) { residual = math.Max(residual, math.Abs(v)) }
	in := make([]float64, len(f.Parts))
	fromSupply := 0.0
	for i, p := range f.Parts {
		before := got.Terminals
		if p.From >= 0 {
			before = got.Volts[p.From]
			in[p.From] -= got.Amps[i]
		} else {
			fromSupply += got.Amps[i]
		}
		in[i] += got.Amps[i]
		if i != cut {
			take(before - got.Volts[i] - float64(p.Ohm)*got.Amps[i])
		} else {
			take(got.Amps[i])
		}
	}
	if f.Back >= 0 {
		in[f.Back] += got.Back
		fromSupply += got.Back
		if cut != len(f.Parts) {
			take(got.Terminals - got.Volts[f.Back] - float64(f.BackOhm)*got.Back)
		}
	}
	for i, p := range f.Parts {
		take(in[i] - got.Served*(float64(p.Current)+float64(p.Power)/got.Volts[i]))
	}
	take(fromSupply - got.Total)
	take(got.Terminals - float64(f.Volt) + float64(f.Inner)*got.Total)
	limit := 1e-9
	if got.Served < 1 {
		limit = 1e-6 // on the edge, where the matrix is singular
	}
	if !(residual < limit) {
		t.Fatalf("residual %g, served %v, cut %d: %+v\n%+v", residual, got.Served, cut, f, got)
	}
}

// The slow way: from no load, voltages follow currents and currents voltages. It comes down to the upper solution as well.
func TestSolutionIsTheUpperOne(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	compared := 0
	for range 2000 {
		f := randomFeed(r)
		f.Back, f.Inner = -1, 0
		got, err := Solve(f)
		if err != nil {
			t.Fatal(err)
		}
		v := make([]float64, len(f.Parts))
		for i := range v {
			v[i] = float64(f.Volt)
		}
		fell := false
		for range 3000 {
			amps := make([]float64, len(f.Parts))
			for i := len(f.Parts) - 1; i >= 0; i-- { // From stands before
				p := f.Parts[i]
				amps[i] += float64(p.Current) + float64(p.Power)/v[i]
				if p.From >= 0 {
					amps[p.From] += amps[i]
				}
			}
			for i, p := range f.Parts {
				before := float64(f.Volt)
				if p.From >= 0 {
					before = v[p.From]
				}
				v[i] = before - float64(p.Ohm)*amps[i]
				fell = fell || v[i] <= 0
			}
			if fell {
				break
			}
		}
		if fell != (got.Served < 1) {
			t.Fatalf("the slow way fell away: %v; served %v: %+v", fell, got.Served, f)
		}
		if fell || got.Served < 1 {
			continue
		}
		compared++
		for i := range v {
			if math.Abs(v[i]-got.Volts[i]) > 1e-5 {
				t.Fatalf("%+v: part %d has %v, the slow way finds %v", f, i, got.Volts[i], v[i])
			}
		}
	}
	if compared < 1000 {
		t.Errorf("%d compared", compared)
	}
}

// More load or thinner cable never raises a voltage, and the rule of thumb is never above what is exact.
func TestDropGrows(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 2000 {
		f := randomFeed(r)
		f.Back = -1
		got, err := Solve(f)
		if err != nil || got.Served < 1 {
			continue
		}
		lowest := got.Terminals
		for i := range f.Parts {
			lowest = math.Min(lowest, got.Volts[i])
		}
		for i := range f.Parts {
			f.Parts[i].Least = quantity.Volt(lowest)
		}
		thumb, err := EndOfLine(f)
		if err != nil || float64(thumb) > lowest+1e-9 {
			t.Fatalf("end of line %v, exact %v (%v): %+v", thumb, lowest, err, f)
		}
		more := f
		more.Parts = append([]Part(nil), f.Parts...)
		k := r.IntN(len(more.Parts))
		more.Parts[k].Current += 0.01
		more.Parts[k].Ohm *= 1.1
		worse, err := Solve(more)
		if err != nil {
			t.Fatal(err)
		}
		for i := range f.Parts {
			if worse.Served == 1 && worse.Volts[i] > got.Volts[i]+1e-9 {
				t.Fatalf("part %d rose from %v to %v", i, got.Volts[i], worse.Volts[i])
			}
		}
	}
}

func TestDropRefusesNonsense(t *testing.T) {
	good := func() Feed {
		return Feed{Volt: 12, Back: -1, Parts: []Part{{Name: "bell", From: -1, Ohm: 1, Current: 0.1}}}
	}
	for name, spoil := range map[string]func(*Feed){
		"no supply":         func(f *Feed) { f.Volt = 0 },
		"no number":         func(f *Feed) { f.Volt = quantity.Volt(math.NaN()) },
		"negative source":   func(f *Feed) { f.Inner = -1 },
		"endless cable":     func(f *Feed) { f.Parts[0].Ohm = quantity.Ohm(math.Inf(1)) },
		"negative current":  func(f *Feed) { f.Parts[0].Current = -0.1 },
		"negative power":    func(f *Feed) { f.Parts[0].Power = -1 },
		"negative voltage":  func(f *Feed) { f.Parts[0].Least = -1 },
		"nothing connected": func(f *Feed) { f.Parts = nil },
		"from itself":       func(f *Feed) { f.Parts[0].From = 0 },
		"from nowhere":      func(f *Feed) { f.Parts[0].From = 7 },
		"from below":        func(f *Feed) { f.Parts[0].From = -2 },
		"ring from nowhere": func(f *Feed) { f.Back = 7 },
		"negative way back": func(f *Feed) { f.Back, f.BackOhm = 0, -1 },
		"a circle": func(f *Feed) {
			f.Parts = append(f.Parts, Part{Name: "a", From: 2, Ohm: 1}, Part{Name: "b", From: 1, Ohm: 1})
		},
	} {
		f := good()
		spoil(&f)
		if _, err := Solve(f); !errors.Is(err, ErrInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
	// All at the terminals: nothing falls.
	got, err := Solve(Feed{Volt: 12, Back: 0, Parts: []Part{{From: -1, Current: 1}}})
	if err != nil || got.Volts[0] != 12 || got.Total != 1 {
		t.Error(got, err)
	}
}
