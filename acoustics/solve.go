package acoustics

import (
	"fmt"
	"math"

	"proofbell/quantity"
)

// Room is a room as the power balance knows it.
type Room struct {
	Absorption float64 // m², more than 0
	Surface    float64 // all that encloses it, m²; 0: not known
	Long       bool    // more than 5 times longer than wide: its echoes fill it badly
}

// Outside is the index of what is no room: sound that gets there is gone.
const Outside = -1

// Partition is what lets sound from one room to another: a wall with its doors, a floor, an open doorway.
type Partition struct {
	A, B int     // rooms; Outside for none
	Open float64 // its transmission in m² of open doorway, as Transmission gives it
}

// Sounder is a source of sound.
type Sounder struct {
	Power quantity.DBA // sound power level, dBA re 1 pW
	Q     float64      // directivity, as in Power
	Room  int          // Outside for one that hangs in none
	Away  []float64    // distance to each partition in m, for a sounder in a long room; missing or 0: not near
}

// Balance is the reverberant sound of each sounder in each room.
type Balance struct {
	rooms  int
	energy []float64 // by sounder, then room
	passed []int32   // by sounder, then room: partitions on the loudest way; -1: no way
}

// Solve balances the power of every room for each sounder alone: what its sounder and its neighbours send in is what its
// walls swallow and let out,
//
//	E_i (A_i + sum_j T_ij) = 4 W_i (1 - A_i/S_i) + sum_j T_ij E_j
//
// with the energies E = 10^(L/10), the sound power W and the transmission T = sum(S 10^(-R/10)) between two rooms. This is
// Through along every path at once, and no sound is counted twice. In a long room the level at a partition is the free field
// at its distance where that is more than the echoes. Source: statistical room acoustics (ISO 12354-1 for each partition);
// a planning estimate.
func Solve(rooms []Room, partitions []Partition, sounders []Sounder) (*Balance, error) {
	for i, r := range rooms {
		if !(r.Absorption > 0 && r.Absorption < 1e6) || !(r.Surface == 0 || r.Surface > r.Absorption) {
			return nil, fmt.Errorf("room %d absorbs %v of %v m²: %w", i, r.Absorption, r.Surface, ErrInput)
		}
	}
	for i, p := range partitions {
		if p.A < Outside || p.A >= len(rooms) || p.B < Outside || p.B >= len(rooms) || !(p.Open >= 0 && p.Open < 1e6) {
			return nil, fmt.Errorf("partition %d between %d and %d lets %v m² through: %w", i, p.A, p.B, p.Open, ErrInput)
		}
	}
	g := join(rooms, partitions)
	b := &Balance{rooms: len(rooms), energy: make([]float64, len(rooms)*len(sounders)), passed: make([]int32, len(rooms)*len(sounders))}
	for i, s := range sounders {
		if s.Room < Outside || s.Room >= len(rooms) || !(s.Q >= 1 && s.Q <= 8) || math.IsNaN(float64(s.Power)) || s.Power > 200 {
			return nil, fmt.Errorf("sounder %d in room %d: %v dBA, directivity %v: %w", i, s.Room, float64(s.Power), s.Q, ErrInput)
		}
		e := b.energy[i*len(rooms) : (i+1)*len(rooms)]
		if s.Room >= 0 {
			send := make([]float64, len(rooms))
			w := Energy(s.Power)
			send[s.Room] = 4 * w * left(rooms[s.Room].Absorption, rooms[s.Room].Surface)
			g.balance(e, send)
			if g.along(send, e[s.Room], w, s, rooms, partitions) {
				g.balance(e, send)
			}
		}
		g.steps(b.passed[i*len(rooms):(i+1)*len(rooms)], s.Room)
	}
	return b, nil
}

// Reverberant is the energy of a sounder's echoes in a room, and of what came in through its partitions. In an empty balance,
// which stands for what could not be solved, nothing arrives.
func (b *Balance) Reverberant(sounder, room int) float64 {
	if room < 0 || b.rooms == 0 {
		return 0
	}
	return b.energy[sounder*b.rooms+room]
}

// Passed is how many partitions the loudest way from a sounder to a room passes; ok is false when none leads there.
func (b *Balance) Passed(sounder, room int) (n int, ok bool) {
	if room < 0 || b.rooms == 0 {
		return 0, false
	}
	n = int(b.passed[sounder*b.rooms+room])
	return n, n >= 0
}

// Direct is the energy that comes straight from a sounder over a distance through what takes losses off it; in no room and
// through nothing it is the free field.
func (s Sounder) Direct(distance quantity.Metre, losses quantity.DB) float64 {
	return Energy(s.Power) * direct(s.Q, float64(distance)) * math.Pow(10, -float64(losses)/10)
}

// graph is the rooms with their neighbours: those of room i stand from first[i] to first[i+1].
type graph struct {
	first []int
	to    []int
	open  []float64
	gone  []float64 // what leaves a room for good or for a neighbour, m²
}

func join(rooms []Room, partitions []Partition) graph {
	n := len(rooms)
	g := graph{first: make([]int, n+1), gone: make([]float64, n)}
	for i, r := range rooms {
		g.gone[i] = r.Absorption
	}
	for _, p := range partitions {
		if p.A == p.B || p.Open == 0 {
			continue
		}
		for _, from := range [...]int{p.A, p.B} {
			if from >= 0 {
				g.gone[from] += p.Open
				if p.A >= 0 && p.B >= 0 {
					g.first[from+1]++
				}
			}
		}
	}
	for i := range n {
		g.first[i+1] += g.first[i]
	}
	g.to, g.open = make([]int, g.first[n]), make([]float64, g.first[n])
	next := append([]int(nil), g.first[:n]...)
	for _, p := range partitions {
		if p.A == p.B || p.Open == 0 || p.A < 0 || p.B < 0 {
			continue
		}
		g.to[next[p.A]], g.open[next[p.A]] = p.B, p.Open
		g.to[next[p.B]], g.open[next[p.B]] = p.A, p.Open
		next[p.A]++
		next[p.B]++
	}
	return g
}

// balance solves the power balance by sweeping to and fro over the rooms. What leaves a room is always more than what its
// neighbours can send back, so that it converges from any start.
func (g graph) balance(e, send []float64) {
	const exact, most = 1e-11, 10000
	for sweep := range most {
		var moved float64
		for k := range e {
			i := k
			if sweep%2 == 1 {
				i = len(e) - 1 - k
			}
			in := send[i]
			for n := g.first[i]; n < g.first[i+1]; n++ {
				in += g.open[n] * e[g.to[n]]
			}
			now := in / g.gone[i]
			if now > 0 {
				moved = max(moved, math.Abs(now-e[i])/now)
			}
			e[i] = now
		}
		if moved < exact {
			return
		}
	}
}

// along adds to what the neighbours of a long room are sent: at a near door the sound that passes straight is more than
// the echoes of the whole corridor.
func (g graph) along(send []float64, echo, power float64, s Sounder, rooms []Room, partitions []Partition) (more bool) {
	if !rooms[s.Room].Long {
		return false
	}
	for i, p := range partitions {
		if i >= len(s.Away) || !(s.Away[i] > 0) {
			continue
		}
		next := p.A
		if next == s.Room {
			next = p.B
		} else if p.B != s.Room {
			continue
		}
		if extra := power*direct(s.Q, s.Away[i]) - echo; next >= 0 && next != s.Room && extra > 0 {
			send[next] += extra * p.Open
			more = true
		}
	}
	return more
}

// steps counts the partitions on the way on which most sound comes from a room to every other one, -1 where none leads.
func (g graph) steps(passed []int32, from int) {
	for i := range passed {
		passed[i] = -1
	}
	if from < 0 {
		return
	}
	arrives := make([]float64, len(passed)) // share of the sound, best way so far
	arrives[from], passed[from] = 1, 0
	waits := make([]bool, len(passed)) // to tell its neighbours of a better way
	for queue := []int{from}; len(queue) > 0; queue = queue[1:] {
		at := queue[0]
		waits[at] = false
		for n := g.first[at]; n < g.first[at+1]; n++ {
			to := g.to[n]
			share := arrives[at] * g.open[n] / g.gone[to]
			if share <= arrives[to] {
				continue
			}
			arrives[to], passed[to] = share, passed[at]+1
			if !waits[to] {
				waits[to] = true
				queue = append(queue, to)
			}
		}
	}
}
