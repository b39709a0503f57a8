package prove

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"proofbell/geom"
	"proofbell/quantity"
	"proofbell/site"

	"pgregory.net/rapid"
)

func spot(room site.RoomID, x, y float64) place {
	return place{room: room, at: geom.Point{X: x, Y: y}, ok: true}
}

// TestWays measures by hand: the door stands at 4,2, the stair at 1,3 with a rise of 3 m (counted as 6 m of way).
func TestWays(t *testing.T) {
	w := newWays(house())
	tests := []struct {
		name string
		a, b place
		want int64
	}{
		{"same room", spot("hall", 1, 2), spot("hall", 4, 2), 3000},
		{"through the door", spot("hall", 1, 2), spot("lounge", 9, 2), 3000 + 5000},
		{"through the door, bent", spot("hall", 4, 0), spot("lounge", 8, 5), 2000 + 5000},
		{"up the stair", spot("hall", 1, 1), spot("bed", 1, 1), 2000 + 6000 + 2000},
		{"door and stair", spot("lounge", 9, 2), spot("bed", 1, 3), 5000 + millimetres(math.Sqrt(10)) + 6000},
		{"no way drawn", spot("hall", 1, 2), spot("loft", 1, 2), far},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := w.from(tt.a, []place{tt.b})[0]; got != tt.want {
				t.Errorf("%d mm, want %d", got, tt.want)
			}
			if back := w.from(tt.b, []place{tt.a})[0]; back != tt.want {
				t.Errorf("and back %d mm", back)
			}
		})
	}
}

// TestWaysAgainstAllWays compares with a search that tries every sequence of doors.
func TestWaysAgainstAllWays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rooms := rapid.IntRange(1, 4).Draw(t, "rooms")
		name := func(label string) site.RoomID {
			return site.RoomID(fmt.Sprint("r", rapid.IntRange(0, rooms-1).Draw(t, label)))
		}
		coordinate := rapid.IntRange(0, 20)
		s := &site.Site{Rooms: map[site.RoomID]site.Room{}, Openings: map[site.OpeningID]site.Opening{}}
		for i := range rooms {
			s.Rooms[site.RoomID(fmt.Sprint("r", i))] = site.Room{}
		}
		for i := range rapid.IntRange(0, 5).Draw(t, "doors") {
			s.Openings[site.OpeningID(fmt.Sprint("d", i))] = site.Opening{
				Kind: "door", Rooms: []site.RoomID{name("from"), name("to")},
				At: metres(float64(coordinate.Draw(t, "x")), float64(coordinate.Draw(t, "y"))),
			}
		}
		w := newWays(s)
		a := spot(name("a"), float64(coordinate.Draw(t, "ax")), float64(coordinate.Draw(t, "ay")))
		b := spot(name("b"), float64(coordinate.Draw(t, "bx")), float64(coordinate.Draw(t, "by")))
		best := far
		var search func(room site.RoomID, at geom.Point, used map[site.OpeningID]bool, sum int64)
		search = func(room site.RoomID, at geom.Point, used map[site.OpeningID]bool, sum int64) {
			if room == b.room {
				best = min(best, sum+millimetres(at.Distance(b.at)))
			}
			for id, o := range s.Openings {
				for k := range 2 {
					if p, _ := o.At.Point(); o.Rooms[k] == room && !used[id] {
						used[id] = true
						search(o.Rooms[1-k], p, used, sum+millimetres(at.Distance(p)))
						used[id] = false
					}
				}
			}
		}
		search(a.room, a.at, map[site.OpeningID]bool{}, 0)
		if got := w.from(a, []place{b})[0]; got != best {
			t.Fatalf("%d mm, trying all ways %d mm", got, best)
		}
	})
}

func randomWalk(t *rapid.T, most int) (first []int64, between [][]int64) {
	n := rapid.IntRange(1, most).Draw(t, "places")
	point := func(label string) geom.Point {
		return geom.Point{X: float64(rapid.IntRange(0, 60).Draw(t, label+" x")), Y: float64(rapid.IntRange(0, 40).Draw(t, label+" y"))}
	}
	start := point("start")
	var places []geom.Point
	for range n {
		places = append(places, point("place"))
	}
	for _, p := range places {
		first = append(first, millimetres(start.Distance(p)))
		var row []int64
		for _, q := range places {
			row = append(row, millimetres(p.Distance(q)))
		}
		between = append(between, row)
	}
	return first, between
}

func byTryingAll(first []int64, between [][]int64) int64 {
	route := make([]int, len(first))
	for i := range route {
		route[i] = i
	}
	best := int64(math.MaxInt64)
	permute(route, 0, func(r []int) { best = min(best, length(first, between, r)) })
	return best
}

func TestShortestWalkAgainstAllWalks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		first, between := randomWalk(t, 7)
		best := byTryingAll(first, between)
		route := shortest(first, between)
		if got := length(first, between, route); got != best {
			t.Fatalf("%d mm by %v, trying all gives %d mm", got, route, best)
		}
		for _, begin := range [][]int{nearest(first, between), inserted(first, between)} {
			r := improve(first, between, slices.Clone(begin))
			sorted := slices.Clone(r)
			slices.Sort(sorted)
			for i, v := range sorted {
				if i != v {
					t.Fatalf("not every place once: %v", r)
				}
			}
			if got := length(first, between, r); got < best || got > length(first, between, begin) {
				t.Fatalf("improved to %d mm from %d mm, best is %d mm", got, length(first, between, begin), best)
			}
		}
	})
}

// TestLongWalks compares the improved walks with the exact ones, where both can be had: on average they are close.
func TestLongWalks(t *testing.T) {
	var exactSum, improvedSum int64
	rapid.Check(t, func(t *rapid.T) {
		first, between := randomWalk(t, 11)
		e := length(first, between, exact(first, between))
		best := length(first, between, improve(first, between, nearest(first, between)))
		best = min(best, length(first, between, improve(first, between, inserted(first, between))))
		if best < e {
			t.Fatalf("the exact walk has %d mm, another %d mm", e, best)
		}
		exactSum, improvedSum = exactSum+e, improvedSum+best
	})
	if float64(improvedSum) > 1.03*float64(exactSum) {
		t.Errorf("walks are %.1f %% longer than the shortest", 100*float64(improvedSum-exactSum)/float64(exactSum))
	}
}

// TestWholeWalkAgainstAllOrders checks the order of the house's plan, phase by phase, against every other order.
func TestWholeWalkAgainstAllOrders(t *testing.T) {
	s := house()
	w := newWays(s)
	here := placeOf(s, s.Panel.Room, s.Panel.At)
	var off []place
	total := int64(0)
	start := here
	for _, st := range Plan(s, nil, Options{}) {
		if st.Kind == StepSystem || st.Arm == ArmSet {
			continue
		}
		p := stepPlace(st)
		off = append(off, p)
		total += w.from(here, []place{p})[0]
		here = p
	}
	var between [][]int64
	for _, p := range off {
		between = append(between, w.from(p, off))
	}
	if best := byTryingAll(w.from(start, off), between); total != best || len(off) != 7 {
		t.Errorf("%d places, %d mm walked, %d mm would do", len(off), total, best)
	}
}

func TestWaySay(t *testing.T) {
	s := house()
	d := s.Devices["smoke14"]
	d.At = nil
	d.Room = "loft"
	s.Devices["smoke14"] = d
	plan := Plan(s, nil, Options{Zones: []site.ZoneID{"13", "14"}})
	if st := step1(t, plan, "13.alarm"); st.Way.Say != "10 m, same floor" { // 0,0 to 4,2 is 4.5 m, then 5 m
		t.Errorf("%q", st.Way.Say)
	}
	if st := plan[len(plan)-1]; st.ID != "14.alarm" || st.Way.Known || !strings.HasPrefix(st.Way.Say, "No place on the plan: Loft") {
		t.Errorf("without a place: %s %q", st.ID, st.Way.Say)
	}
	d.Room = "bed"
	d.At = metres(1, 3)
	s.Devices["smoke14"] = d
	plan = Plan(s, nil, Options{Zones: []site.ZoneID{"14"}})
	if st := step1(t, plan, "14.alarm"); st.Way.Say != "9 m, one floor up" || st.Way.Floors != 1 { // 3.2 m to the stair, 6 m on it
		t.Errorf("%q", st.Way.Say)
	}
	s.Premises.Units = "imperial"
	if st := step1(t, Plan(s, nil, Options{Zones: []site.ZoneID{"14"}}), "14.alarm"); st.Way.Say != "30 ft, one floor up" {
		t.Errorf("%q", st.Way.Say)
	}
}

// TestManyDevices walks through a plan that is too large for tables.
func TestManyDevices(t *testing.T) {
	s := house()
	for i := 100; i < 1100; i++ {
		id := site.DeviceID(fmt.Sprint("d", i))
		s.Devices[id] = site.Device{Model: "smoke", Room: "lounge", At: site.Coordinates{
			quantity.MustParse[quantity.LengthDimension](fmt.Sprintf("%.2f", 4+float64(i%60)/10)), quantity.MustParse[quantity.LengthDimension](fmt.Sprintf("%.2f", float64(i)/300)),
		}}
		s.Zones[site.ZoneID(fmt.Sprint(i))] = site.Zone{Kind: site.Smoke, Device: id, Terminal: "A", Code: "111", Paths: []site.PathID{"main"}}
	}
	plan := Plan(s, nil, Options{})
	seen := map[StepID]bool{}
	for _, st := range plan {
		seen[st.ID] = true
	}
	if len(seen) != len(plan) || len(plan) < 1000 {
		t.Errorf("%d steps, %d different", len(plan), len(seen))
	}
}
