package reliability

import (
	"errors"
	"math"
	"math/bits"
	"math/rand/v2"
	"testing"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Abs(want)) {
		t.Errorf("%s: %v, want %v within %v", what, got, want, tolerance)
	}
}

// Worked by hand from IEC 61508-6 annex B; the integrals of e^(-rate t) over the interval.
func TestOnePart(t *testing.T) {
	tested := func(rate, interval float64) float64 { v, _ := Tested(rate, interval); return v }
	near(t, "3 per million h, yearly (rate T/2)", tested(3e-6, 8760), 0.0131, 0.01)
	near(t, "x = 1: 1/e", tested(1e-3, 1000), 0.3678794412, 1e-9)
	near(t, "x small: x/2", tested(1e-9, 1), 0.5e-9, 1e-6)
	near(t, "on both sides of the series", tested(1e-6, 99.9999), tested(1e-6, 100.0001), 1e-5)
	v, _ := Supervised(1e-5, 4, 96)
	near(t, "supervised", v, 1e-3/1.001, 1e-12)
	v, _ = Diagnosed(3e-6, 0.5, 8760, 24)
	near(t, "1oo1: 3e-6 (0.5 x 4404 + 0.5 x 24)", v, 0.006642, 1e-9)
	v, _ = Diagnosed(1, 0, 1e6, 0)
	near(t, "at most 1", v, 1, 0)
	v, _ = PartlyTested(1e-6, 0.9, 8760, 87600)
	near(t, "0.9 x 0.00438 + 0.1 x 0.0438, small figures", v, 0.008322, 0.01)
	v, _ = Failed(4e-6, 87600)
	near(t, "4 per million h, ten years: about 30 %", v, 0.2956, 1e-3)
}

// Reference example: rate 3e-6, half of it seen, yearly, repair 24 h, beta 10 % and 5 %: 7.1e-4; all unseen, simple: 1.5e-3.
func TestPair(t *testing.T) {
	v, err := Pair{Rate: 3e-6, Seen: 0.5, Interval: 8760, Repair: 24, Beta: 0.1, BetaOfSeen: 0.05}.Unavailable()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "1oo2", v, 7.1e-4, 0.01)
	v, _ = Pair{Rate: 3e-6, Interval: 8760, Beta: 0.1}.Simple()
	near(t, "1oo2, simple", v, 1.5e-3, 0.02)
	v, _ = Pair{Rate: 3e-6, Interval: 8760, Beta: 1}.Simple()
	near(t, "all of it common: one channel", v, 3e-6*8760/2, 1e-9)
}

func TestRefused(t *testing.T) {
	for what, f := range map[string]func() (float64, error){
		"negative rate":    func() (float64, error) { return Tested(-1, 1) },
		"NaN":              func() (float64, error) { return Tested(1e-6, math.NaN()) },
		"infinite":         func() (float64, error) { return Supervised(1e-6, math.Inf(1), 0) },
		"coverage above 1": func() (float64, error) { return PartlyTested(1e-6, 1.1, 1, 1) },
		"beta above 1":     Pair{Beta: 2}.Simple,
		"seen above 1":     func() (float64, error) { return Diagnosed(1e-6, 1.5, 1, 1) },
		"negative time":    func() (float64, error) { return Failed(1e-6, -1) },
	} {
		if _, err := f(); !errors.Is(err, ErrInput) {
			t.Errorf("%s: %v", what, err)
		}
	}
}

// Reference example 7.3: sensor, panel, supply and, of two paths, one.
func TestSignalPath(t *testing.T) {
	var s System
	sensor, panel, supply := s.Part(Part{ID: "sensor", Unavailable: Sure(0.013)}), s.Part(Part{ID: "panel", Unavailable: Sure(0.002)}), s.Part(Part{ID: "supply", Unavailable: Sure(0.0005)})
	broadband, cellular := s.Part(Part{ID: "broadband", Unavailable: Sure(0.005)}), s.Part(Part{ID: "cellular", Unavailable: Sure(0.004)})
	top := s.All(sensor, panel, supply, s.Any(broadband, cellular))
	d, err := s.Diagram(0, top)
	if err != nil {
		t.Fatal(err)
	}
	u := s.Chances(Mid)
	near(t, "exact", d.Unavailable(top, u), 0.015486, 1e-4)
	sum, _ := d.RareEvents(top, u)
	near(t, "rare events", sum, 0.015520, 1e-5)
	b := d.Birnbaum(u, top)
	near(t, "Birnbaum of the sensor", b[0], 0.9975, 1e-4)
	near(t, "Birnbaum of the broadband", b[3], 0.0039, 0.02)
	fv, err := d.FussellVesely(top, u)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{0.839, 0.129, 0.032} {
		near(t, "Fussell-Vesely", fv[i], want, 0.02)
	}
	cuts, _ := d.CutSets(top, CutLimit{})
	same(t, s, cuts, []string{"sensor", "panel", "supply", "broadband cellular"})
}

func same(t *testing.T, s System, cuts Cuts, want []string) {
	t.Helper()
	have := map[string]bool{}
	for _, set := range cuts.Sets {
		say := ""
		for i, part := range set {
			if i > 0 {
				say += " "
			}
			say += s.Parts[part].ID
		}
		have[say] = true
	}
	if len(have) != len(want) || !cuts.Whole || cuts.Total != float64(len(want)) {
		t.Errorf("cut sets %v (whole %v, %v), want %v", have, cuts.Whole, cuts.Total, want)
	}
	for _, one := range want {
		if !have[one] {
			t.Errorf("cut set %q is missing of %v", one, have)
		}
	}
}

// The bridge network of five like parts: R = 2p2 + 2p3 - 5p4 + 2p5, four minimal cuts (Barlow and Proschan 1975; Billinton
// and Allan 1992). By paths, so that every part stands in two places.
func TestBridge(t *testing.T) {
	for _, p := range []float64{0.1, 0.5, 0.9, 0.99} {
		var s System
		n := map[string]Node{}
		for _, id := range []string{"a", "b", "c", "d", "e"} {
			n[id] = s.Part(Part{ID: id, Unavailable: Sure(1 - p)})
		}
		top := s.Any(s.All(n["a"], n["b"]), s.All(n["d"], n["e"]), s.All(n["a"], n["c"], n["e"]), s.All(n["d"], n["c"], n["b"]))
		d, err := s.Diagram(0, top)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "bridge", 1-d.Unavailable(top, s.Chances(Mid)), 2*p*p+2*p*p*p-5*math.Pow(p, 4)+2*math.Pow(p, 5), 1e-12)
		cuts, _ := d.CutSets(top, CutLimit{})
		same(t, s, cuts, []string{"a d", "b e", "a c e", "b c d"})
	}
}

// Two of three, R = 3p2 - 2p3 and Birnbaum 2p(1-p); three of five from the binomial (any text on reliability).
func TestVoting(t *testing.T) {
	var s System
	var of []Node
	for range 5 {
		of = append(of, s.Part(Part{Unavailable: Sure(0.1)}))
	}
	two, three := s.AtLeast(2, of[:3]...), s.AtLeast(3, of...)
	d, err := s.Diagram(0, two, three)
	if err != nil {
		t.Fatal(err)
	}
	u := s.Chances(Mid)
	near(t, "2 of 3", 1-d.Unavailable(two, u), 3*0.81-2*0.729, 1e-12)
	near(t, "Birnbaum of 2 of 3", d.Birnbaum(u, two)[0], 2*0.9*0.1, 1e-12)
	near(t, "3 of 5", 1-d.Unavailable(three, u), 10*0.729*0.01+5*0.6561*0.1+0.59049, 1e-12)
	if cuts, _ := d.CutSets(three, CutLimit{}); cuts.Total != 10 || len(cuts.Sets[0]) != 3 {
		t.Errorf("3 of 5 has %v cuts", cuts.Total)
	}
}

func TestEdges(t *testing.T) {
	var s System
	part := s.Part(Part{ID: "a", Unavailable: Sure(0.25)})
	tops := []Node{s.All(), s.Any(), s.AtLeast(0, part), s.AtLeast(2, part), s.All(part, s.Any()), s.Any(part, s.All()), part}
	d, err := s.Diagram(0, tops...)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{0, 1, 0, 1, 1, 0, 0.25} {
		if got := d.Unavailable(tops[i], s.Chances(Mid)); got != want {
			t.Errorf("%d: %v, want %v", i, got, want)
		}
	}
	cuts, _ := d.CutSets(tops[1], CutLimit{})
	if len(cuts.Sets) != 1 || len(cuts.Sets[0]) != 0 {
		t.Errorf("what never works has the empty cut: %v", cuts.Sets)
	}
	if cuts, _ = d.CutSets(tops[0], CutLimit{}); len(cuts.Sets) != 0 || !cuts.Whole {
		t.Errorf("what always works has none: %v", cuts)
	}
}

func TestCommonCause(t *testing.T) {
	var s System
	a, b := s.Part(Part{ID: "a", Unavailable: Sure(0.1)}), s.Part(Part{ID: "b", Unavailable: Sure(0.1)})
	both := s.CommonCause("both", 0.1, a, b)
	top := s.Any(both...)
	d, _ := s.Diagram(0, top)
	// Both fail together, 0.01, or, if not, both alone, 0.09 each.
	near(t, "beta", d.Unavailable(top, s.Chances(Mid)), 0.01+0.99*0.0081, 1e-12)
}

// system is a random arrangement of parts of which some stand in several places.
func system(r *rand.Rand, parts int) (*System, Node) {
	s := &System{}
	var leaves []Node
	for range parts {
		low := r.Float64()
		mid := low + (1-low)*r.Float64()
		leaves = append(leaves, s.Part(Part{Unavailable: Range{low, mid, mid + (1-mid)*r.Float64()}, Rate: []string{"", "x", "y"}[r.IntN(3)]}))
	}
	var grow func(depth int) Node
	grow = func(depth int) Node {
		if depth == 0 || r.IntN(5) == 0 {
			return leaves[r.IntN(len(leaves))]
		}
		of := make([]Node, 1+r.IntN(4))
		for i := range of {
			of[i] = grow(depth - 1)
		}
		switch r.IntN(3) {
		case 0:
			return s.All(of...)
		case 1:
			return s.Any(of...)
		}
		return s.AtLeast(1+r.IntN(len(of)), of...)
	}
	return s, grow(4)
}

// chance is how likely a state is: a bit for each part that has failed.
func chance(u []float64, state int) float64 {
	p := 1.0
	for i, failed := range u {
		if state>>i&1 == 1 {
			p *= failed
		} else {
			p *= 1 - failed
		}
	}
	return p
}

// Every state of up to 16 parts is tried: the diagram's probability, and that the cut sets are minimal and complete.
func TestEnumeration(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 1))
	for n := range 500 {
		s, top := system(r, 1+r.IntN(16))
		d, err := s.Diagram(0, top)
		if err != nil {
			t.Fatal(err)
		}
		u := s.Chances(Mid)
		parts := len(s.Parts)
		fails := make([]bool, 1<<parts)
		var exact float64
		given := make([][2]float64, parts) // P(top | part failed, good)
		for state := range fails {
			fails[state] = !s.Works(top, func(part int) bool { return state>>part&1 == 1 })
			if !fails[state] {
				continue
			}
			p := chance(u, state)
			exact += p
			for i := range parts {
				if state>>i&1 == 1 {
					given[i][0] += p / u[i]
				} else {
					given[i][1] += p / (1 - u[i])
				}
			}
		}
		if got := d.Unavailable(top, u); math.Abs(got-exact) > 1e-12 {
			t.Fatalf("system %d: %v, enumerated %v", n, got, exact)
		}
		for i, b := range d.Birnbaum(u, top) {
			if math.Abs(b-(given[i][0]-given[i][1])) > 1e-9 {
				t.Fatalf("system %d: Birnbaum of %d %v, enumerated %v", n, i, b, given[i])
			}
		}
		cuts, err := d.CutSets(top, CutLimit{Sets: 1 << 16})
		if err != nil || !cuts.Whole {
			t.Fatalf("system %d: %v, whole %v", n, err, cuts.Whole)
		}
		// Of a state that fails all subsets with one part less that work make it minimal: it has to be listed, and only such.
		listed := map[int]bool{}
		through := make([]float64, parts)
		for _, set := range cuts.Sets {
			state := 0
			for _, part := range set {
				state |= 1 << part
			}
			if listed[state] {
				t.Fatalf("system %d: %v is listed twice", n, set)
			}
			listed[state] = true
		}
		for state := range fails {
			minimal := fails[state]
			for left := state; left != 0 && minimal; left &= left - 1 {
				minimal = !fails[state&^(left&-left)]
			}
			if minimal != listed[state] {
				t.Fatalf("system %d: state %b minimal %v, listed %v", n, state, minimal, listed[state])
			}
			if !fails[state] {
				continue
			}
			p := chance(u, state)
			held := 0 // parts of cut sets that have failed whole
			for cut := range listed {
				if state&cut == cut {
					held |= cut
				}
			}
			for ; held != 0; held &= held - 1 {
				through[bits.TrailingZeros(uint(held))] += p
			}
		}
		fv, err := d.FussellVesely(top, u)
		if err != nil {
			t.Fatal(err)
		}
		for i := range through {
			if exact > 0 && math.Abs(fv[i]-through[i]/exact) > 1e-9 {
				t.Fatalf("system %d: Fussell-Vesely of %d %v, enumerated %v", n, i, fv[i], through[i]/exact)
			}
		}
		if sum, _ := d.RareEvents(top, u); sum < exact-1e-12 {
			t.Fatalf("system %d: the sum of rare events %v is less than %v", n, sum, exact)
		}
	}
}

// The range holds every sample, and the same seed the same figures.
func TestRangeHoldsSamples(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 2))
	for n := range 200 {
		s, top := system(r, 1+r.IntN(12))
		d, err := s.Diagram(0, top)
		if err != nil {
			t.Fatal(err)
		}
		got, one, again := d.Ranges()[0], d.Spreads(200, uint64(n))[0], d.Spreads(200, uint64(n))[0]
		const dust = 1e-12
		if !(got.Low <= one.P5+dust && one.P5 <= one.Median && one.Median <= one.P95 && one.P95 <= got.High+dust && got.Low <= got.Mid+dust && got.Mid <= got.High+dust) {
			t.Fatalf("system %d: range %v, samples %v", n, got, one)
		}
		if one != again {
			t.Fatalf("system %d: %v, and again %v", n, one, again)
		}
	}
}

// A part alone: its median is Mid, and P5 and P95 a tenth into the halves of its range.
func TestSamplesOfOnePart(t *testing.T) {
	var s System
	top := s.Part(Part{ID: "a", Unavailable: Range{1e-4, 1e-3, 1e-1}})
	d, _ := s.Diagram(0, top)
	got := d.Spreads(20_000, 1)[0]
	near(t, "P5", got.P5, 1e-4*math.Pow(10, 0.1), 0.05)
	near(t, "median", got.Median, 1e-3, 0.05)
	near(t, "P95", got.P95, 1e-1*math.Pow(100, -0.1), 0.05)
}

func TestTooLarge(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 3))
	var s System
	var of []Node
	for range 60 {
		of = append(of, s.Part(Part{Unavailable: Sure(0.1)}))
	}
	var clauses []Node
	for range 120 {
		clauses = append(clauses, s.Any(of[r.IntN(60)], of[r.IntN(60)], of[r.IntN(60)], of[r.IntN(60)]))
	}
	if _, err := s.Diagram(5000, s.All(clauses...)); !errors.Is(err, ErrTooLarge) {
		t.Errorf("got %v", err)
	}
}

func TestCutLimits(t *testing.T) {
	var s System
	var of []Node
	for range 30 {
		of = append(of, s.Part(Part{Unavailable: Sure(0.1)}))
	}
	top := s.All(of[0], s.AtLeast(15, of[1:]...))
	d, _ := s.Diagram(0, top)
	cuts, err := d.CutSets(top, CutLimit{Sets: 10})
	if err != nil || len(cuts.Sets) != 10 || cuts.Whole || cuts.Total != 1+77558760 { // 29 over 15
		t.Errorf("%d of %v, whole %v, %v", len(cuts.Sets), cuts.Total, cuts.Whole, err)
	}
	if cuts, _ = d.CutSets(top, CutLimit{Order: 2}); len(cuts.Sets) != 1 || cuts.Whole {
		t.Errorf("of two parts at most: %v", cuts.Sets)
	}
}
