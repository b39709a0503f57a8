package drawing

import (
	"fmt"
	"strings"
	"testing"

	"proofbell/site"
)

// large is a storey of 60 rooms of 4 by 3 m with 300 devices.
func large(t testing.TB) *site.Site {
	var b strings.Builder
	b.WriteString("storeys: {g: {name: Ground}}\nmodels: {smoke: {name: Smoke, class: smoke}}\nrooms:\n")
	at := func(i int) (x, y int) { return i % 10 * 4, i / 10 * 3 }
	for i := range 60 {
		x, y := at(i)
		fmt.Fprintf(&b, "  r%d: {name: Guest room %d, storey: g, outline: [[%d, %d], [%d, %d], [%d, %d], [%d, %d]]}\n", i, i, x, y, x+4, y, x+4, y+3, x, y+3)
	}
	b.WriteString("walls:\n")
	for i := range 60 {
		x, y := at(i)
		fmt.Fprintf(&b, "  s%d: {storey: g, from: [%d, %d], to: [%d, %d], thickness: 0.1 m}\n  w%d: {storey: g, from: [%d, %d], to: [%d, %d], thickness: 0.1 m}\n", i, x, y, x+4, y, i, x, y, x, y+3)
	}
	b.WriteString("openings:\n")
	for i := range 60 {
		x, y := at(i)
		fmt.Fprintf(&b, "  d%d: {kind: door, storey: g, at: [%d, %d], width: 0.9 m, rooms: [r%d]}\n", i, x+2, y, i)
	}
	b.WriteString("devices:\n")
	for i := range 300 {
		x, y := at(i % 60)
		fmt.Fprintf(&b, "  m%d: {model: smoke, room: r%d, at: [%d.%d, %d.5]}\n", i, i%60, x+i/60%3, 5+i/60, y+i/120)
	}
	return decode(t, b.String())
}

// BenchmarkStorey draws it whole.
func BenchmarkStorey(b *testing.B) {
	s := large(b)
	for b.Loop() {
		if p := Storeys(s); len(p[0].Marks) != 300 || len(p[0].Rooms) != 60 {
			b.Fatal("not all is drawn")
		}
	}
}
