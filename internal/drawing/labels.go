package drawing

import (
	"math"
	"strings"

	"proofbell/geom"
)

// Sizes on the plan at which names and marks are counted as meeting, metres.
const (
	letter   = 0.17 // width of a letter
	lineHigh = 0.42
	markHalf = 0.5
	nameStep = 0.25
)

// placeNames moves each room's name from the middle of the room to the nearest place where it covers no mark, or as
// little of one as can be.
func placeNames(rooms []Room, marks []Mark) {
	for i := range rooms {
		rooms[i].Label = namePlace(rooms[i], marks)
	}
}

func namePlace(r Room, marks []Mark) geom.Point {
	poly := geom.Polygon(r.Outline)
	middle := poly.Centroid()
	lo, hi := poly.Bounds()
	wide, high := nameBox(r.Name, hi.X-lo.X)
	best, least := middle, math.Inf(1)
	for x := lo.X + wide; x <= hi.X-wide+1e-9; x += nameStep {
		for y := lo.Y + high; y <= hi.Y-high+1e-9; y += nameStep {
			at := geom.Point{X: x, Y: y}
			if !poly.Contains(at) {
				continue
			}
			cost := 0.2 * at.Distance(middle)
			for _, m := range marks {
				acrossX, acrossY := wide+markHalf-math.Abs(m.At.X-x), high+markHalf-math.Abs(m.At.Y-y)
				if acrossX > 0 && acrossY > 0 {
					cost += 1 + acrossX*acrossY
				}
			}
			if cost < least-1e-9 {
				best, least = at, cost
			}
		}
	}
	return best
}

// nameBox is half the width and height that a name takes when it is broken into words to fit its room.
func nameBox(name string, room float64) (wide, high float64) {
	lines, long, now := 1, 0.0, 0.0
	for _, word := range strings.Fields(name) {
		w := float64(len([]rune(word))) * letter
		if now > 0 && now+letter+w > room*0.9 {
			lines++
			now = 0
		} else if now > 0 {
			w += letter
		}
		now += w
		long = max(long, now)
	}
	return long / 2, float64(lines) * lineHigh / 2
}
