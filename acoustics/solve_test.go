package acoustics_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"proofbell/acoustics"
	"proofbell/quantity"
)

func solve(t rapid.TB, rooms []acoustics.Room, partitions []acoustics.Partition, sounders ...acoustics.Sounder) *acoustics.Balance {
	t.Helper()
	b, err := acoustics.Solve(rooms, partitions, sounders)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func open(t rapid.TB, parts ...acoustics.Part) float64 {
	t.Helper()
	tau, err := acoustics.Transmission(parts...)
	if err != nil {
		t.Fatal(err)
	}
	return tau
}

// Example 1.3 as a balance. Shut, what comes back and what leaves the hall counts for nothing: 101.6 and 72.7 dBA. Open,
// by hand: E1 (10 + 1.6) = 4 W + 1.6 E2 and E2 (14 + 1.6) = 1.6 E1, so E2 = 0.10256 E1 (9.89 dB less) and
// E1 = 4 W / 11.436, which is 0.58 dB under 101.55: 100.97 and 91.08 dBA. The chain of 1.3 says 92.1: it lets nothing leave the hall.
func TestExampleOfHallAndBedroom(t *testing.T) {
	rooms := []acoustics.Room{{Absorption: 10}, {Absorption: 14}}
	sounder := acoustics.Sounder{Power: 105.534, Q: 1}
	for _, c := range []struct {
		door         quantity.DB
		hall, pillow float64
	}{{20, 101.55, 72.7}, {0, 100.97, 91.08}} {
		b := solve(t, rooms, []acoustics.Partition{{A: 0, B: 1, Open: open(t, acoustics.Part{Area: 7.5, Loss: 35}, acoustics.Part{Area: 1.6, Loss: c.door})}}, sounder)
		near(t, "hall", float64(acoustics.Level(b.Reverberant(0, 0))), c.hall, 0.06)
		near(t, "pillow", float64(acoustics.Level(b.Reverberant(0, 1))), c.pillow, 0.06)
		if n, ok := b.Passed(0, 1); n != 1 || !ok {
			t.Errorf("%d partitions passed", n)
		}
	}
}

// No walls: the free field of FreeField. Infinite loss: silence.
func TestLimits(t *testing.T) {
	power, err := acoustics.Power(85, 3, 1)
	if err != nil {
		t.Fatal(err)
	}
	s := acoustics.Sounder{Power: power, Q: 1, Room: acoustics.Outside}
	b := solve(t, []acoustics.Room{{Absorption: 10}}, nil, s)
	for _, r := range []quantity.Metre{0.3, 1, 3, 12, 50} {
		want, err := acoustics.FreeField(85, 3, r)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "free field", float64(acoustics.Level(s.Direct(r, 0)+b.Reverberant(0, acoustics.Outside))), float64(want), 0.0501)
	}
	shut := open(t, acoustics.Part{Area: 10, Loss: quantity.DB(math.Inf(1))})
	b = solve(t, []acoustics.Room{{Absorption: 10}, {Absorption: 10}}, []acoustics.Partition{{A: 0, B: 1, Open: shut}}, acoustics.Sounder{Power: 105, Q: 1})
	if e := b.Reverberant(0, 1); e != 0 || acoustics.Level(e) != acoustics.Silence {
		t.Errorf("through infinite loss come %v", e)
	}
	if _, ok := b.Passed(0, 1); ok {
		t.Error("a way leads through infinite loss")
	}
	if e := s.Direct(3, quantity.DB(math.Inf(1))); e != 0 {
		t.Errorf("straight through infinite loss come %v", e)
	}
}

// In a corridor the door beside the sounder is sent the free field: at 0.5 m 105.5 - 20 log 0.5 - 11 = 100.5 dBA, where the
// echoes of 30 m² make 96.8. A door far away gets the echoes alone.
func TestLongRoom(t *testing.T) {
	rooms := []acoustics.Room{{Absorption: 30, Long: true}, {Absorption: 10}, {Absorption: 10}}
	door := open(t, acoustics.Part{Area: 1.6, Loss: 20})
	partitions := []acoustics.Partition{{A: 0, B: 1, Open: door}, {A: 2, B: 0, Open: door}}
	b := solve(t, rooms, partitions, acoustics.Sounder{Power: 105.53, Q: 1, Away: []float64{0.5, 8}})
	level := func(room int) float64 { return float64(acoustics.Level(b.Reverberant(0, room))) }
	near(t, "far", level(2), 105.53+10*math.Log10(4/30.0)-20+10*math.Log10(1.6/10), 0.1)
	near(t, "near", level(1), 105.53-20*math.Log10(0.5)-10.99-20+10*math.Log10(1.6/10), 0.1)
}

// house draws a random building.
func house(t *rapid.T) (rooms []acoustics.Room, partitions []acoustics.Partition) {
	n := rapid.IntRange(1, 8).Draw(t, "rooms")
	for range n {
		a := rapid.Float64Range(1, 60).Draw(t, "absorption")
		r := acoustics.Room{Absorption: a}
		if rapid.Bool().Draw(t, "known surface") {
			r.Surface = a * rapid.Float64Range(1.1, 10).Draw(t, "surface")
		}
		rooms = append(rooms, r)
	}
	for range rapid.IntRange(0, 12).Draw(t, "partitions") {
		partitions = append(partitions, acoustics.Partition{
			A: rapid.IntRange(-1, n-1).Draw(t, "a"), B: rapid.IntRange(-1, n-1).Draw(t, "b"),
			Open: math.Pow(10, rapid.Float64Range(-6, 1).Draw(t, "open")),
		})
	}
	return rooms, partitions
}

// The judge writes the balance as a full matrix and eliminates.
func TestAgreesWithElimination(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rooms, partitions := house(t)
		s := acoustics.Sounder{Power: 100, Q: 1, Room: rapid.IntRange(0, len(rooms)-1).Draw(t, "in")}
		b := solve(t, rooms, partitions, s)
		n := len(rooms)
		m := make([][]float64, n)
		for i := range m {
			m[i] = make([]float64, n+1)
			m[i][i] = rooms[i].Absorption
		}
		m[s.Room][n] = 4e10
		if r := rooms[s.Room]; r.Surface > 0 {
			m[s.Room][n] *= 1 - r.Absorption/r.Surface
		}
		for _, p := range partitions {
			for _, way := range [][2]int{{p.A, p.B}, {p.B, p.A}} {
				if way[0] >= 0 && p.A != p.B {
					m[way[0]][way[0]] += p.Open
					if way[1] >= 0 {
						m[way[0]][way[1]] -= p.Open
					}
				}
			}
		}
		for i := range n {
			for k := range n {
				if k != i {
					f := m[k][i] / m[i][i]
					for j := i; j <= n; j++ {
						m[k][j] -= f * m[i][j]
					}
				}
			}
		}
		for i := range n {
			if want := m[i][n] / m[i][i]; math.Abs(b.Reverberant(0, i)-want) > 1e-6*want+1e-3 {
				t.Fatalf("room %d: %v, by elimination %v", i, b.Reverberant(0, i), want)
			}
		}
	})
}

// What is sent in is swallowed or leaves: nothing comes from nowhere.
func TestNoSoundIsLostOrMade(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rooms, partitions := house(t)
		for i := range rooms {
			rooms[i].Surface = 0
		}
		b := solve(t, rooms, partitions, acoustics.Sounder{Power: 100, Q: 1})
		var gone float64
		for i, r := range rooms {
			gone += b.Reverberant(0, i) * r.Absorption
		}
		for _, p := range partitions {
			if p.A != p.B && (p.A < 0 || p.B < 0) {
				gone += b.Reverberant(0, max(p.A, p.B)) * p.Open
			}
		}
		if math.Abs(gone-4e10) > 1e-6*4e10 {
			t.Fatalf("of 4e10 sent in, %v are accounted for", gone)
		}
	})
}

// More absorption, a thicker wall or a shut door in one place is louder nowhere behind it; never anywhere for absorption.
func TestMoreAbsorptionIsNeverLouder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rooms, partitions := house(t)
		s := acoustics.Sounder{Power: 100, Q: 1}
		before := solve(t, rooms, partitions, s)
		k := rapid.IntRange(0, len(rooms)-1).Draw(t, "where")
		more := append([]acoustics.Room(nil), rooms...)
		if f := rapid.Float64Range(1, 1.09).Draw(t, "more"); more[k].Surface > 0 {
			more[k].Absorption *= f
		} else {
			more[k].Absorption *= 10 * f
		}
		after := solve(t, more, partitions, s)
		for i := range rooms {
			if after.Reverberant(0, i) > before.Reverberant(0, i)*(1+1e-8) {
				t.Fatalf("room %d grew from %v to %v", i, before.Reverberant(0, i), after.Reverberant(0, i))
			}
		}
	})
}

// The numbers that rooms have and the order of partitions mean nothing; two sounders at one place are 3.01 dB more.
func TestOrderMeansNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rooms, partitions := house(t)
		s := acoustics.Sounder{Power: 100, Q: 1, Room: 0}
		before := solve(t, rooms, partitions, s, s)
		n := len(rooms)
		turned := func(i int) int {
			if i < 0 {
				return i
			}
			return n - 1 - i
		}
		var other []acoustics.Room
		for i := range rooms {
			other = append(other, rooms[turned(i)])
		}
		var back []acoustics.Partition
		for i := range partitions {
			p := partitions[len(partitions)-1-i]
			back = append(back, acoustics.Partition{A: turned(p.B), B: turned(p.A), Open: p.Open})
		}
		s.Room = turned(0)
		after := solve(t, other, back, s)
		for i := range rooms {
			e, f := before.Reverberant(0, i), after.Reverberant(0, turned(i))
			if math.Abs(e-f) > 1e-8*e {
				t.Fatalf("room %d: %v and %v", i, e, f)
			}
			if e > 0 {
				two := acoustics.Level(e + before.Reverberant(1, i))
				if math.Abs(float64(two-acoustics.Level(e))-3.0103) > 1e-4 {
					t.Fatalf("two equal ones: %v after %v", two, acoustics.Level(e))
				}
			}
		}
	})
}

// The judge tries every way: the partitions of the one that lets most sound through.
func TestPassedIsTheLoudestWay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rooms, partitions := house(t)
		b := solve(t, rooms, partitions, acoustics.Sounder{Power: 100, Q: 1})
		gone := make([]float64, len(rooms))
		for i, r := range rooms {
			gone[i] = r.Absorption
		}
		for _, p := range partitions {
			for _, r := range []int{p.A, p.B} {
				if r >= 0 && p.A != p.B {
					gone[r] += p.Open
				}
			}
		}
		best := map[int]float64{0: 1}
		steps := map[int]int{0: 0}
		var walk func(at, n int, share float64, seen uint)
		walk = func(at, n int, share float64, seen uint) {
			if share >= best[at] {
				best[at], steps[at] = share, n
			}
			for _, p := range partitions {
				for _, way := range [][2]int{{p.A, p.B}, {p.B, p.A}} {
					if way[0] == at && way[1] >= 0 && seen&(1<<way[1]) == 0 {
						walk(way[1], n+1, share*p.Open/gone[way[1]], seen|1<<way[1])
					}
				}
			}
		}
		walk(0, 0, 1, 1)
		for i := range rooms {
			n, ok := b.Passed(0, i)
			want, reached := steps[i]
			if ok != reached || ok && n != want {
				t.Fatalf("room %d: %d partitions, %v; want %d, %v", i, n, ok, want, reached)
			}
		}
	})
}
