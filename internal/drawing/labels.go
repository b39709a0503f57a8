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

// placeNames breaks each room's name into lines and moves it from the middle of the room to the nearest place where it
// covers no mark, or as little of one as can be.
func placeNames(rooms []Room, marks []Mark) {
	for i := range rooms {
		r := &rooms[i]
		lo, hi := geom.Polygon(r.Outline).Bounds()
		r.Lines = nameLines(r.Name, hi.X-lo.X)
		r.Label = namePlace(*r, marks)
	}
}

func namePlace(r Room, marks []Mark) geom.Point {
	poly := geom.Polygon(r.Outline)
	middle := poly.Centroid()
	lo, hi := poly.Bounds()
	wide, high := 0.0, float64(len(r.Lines))*lineHigh/2
	for _, line := range r.Lines {
		wide = max(wide, width(line)/2)
	}
	// Only marks in and about the room can be covered.
	var near []Mark
	for _, m := range marks {
		if m.At.X > lo.X-markHalf && m.At.X < hi.X+markHalf && m.At.Y > lo.Y-markHalf && m.At.Y < hi.Y+markHalf {
			near = append(near, m)
		}
	}
	best, least := middle, math.Inf(1)
	for x := lo.X + wide; x <= hi.X-wide+1e-9; x += nameStep {
		for y := lo.Y + high; y <= hi.Y-high+1e-9; y += nameStep {
			at := geom.Point{X: x, Y: y}
			if !poly.Contains(at) {
				continue
			}
			cost := 0.2 * at.Distance(middle)
			for _, m := range near {
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

// nameLines breaks a name between words so that it fits its room.
func nameLines(name string, room float64) []string {
	lines := []string{}
	for _, word := range strings.Fields(name) {
		last := len(lines) - 1
		if last >= 0 && width(lines[last]+" "+word) <= room*0.9 {
			lines[last] += " " + word
			continue
		}
		lines = append(lines, word)
	}
	return lines
}

func width(text string) float64 { return float64(len([]rune(text))) * letter }
