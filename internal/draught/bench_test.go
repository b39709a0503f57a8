package draught_test

import (
	"fmt"
	"testing"

	"proofbell/internal/draught"
	"proofbell/site"
)

// storeyOf60 has 60 rooms of 4 by 3 m with a door each, drawn by operations.
func storeyOf60(t testing.TB) *site.Site {
	s := read(t, empty)
	for i := range 60 {
		x, y := float64(i%10*4), float64(i/10*3)
		_, s = draught.Try(nil, s, rect(fmt.Sprintf("Room %d", i), x, y, x+4, y+3))
		_, s = draught.Try(nil, s, draught.Operation{Op: "opening", Storey: "g", Kind: "door", At: at(x+2, y)})
	}
	return s
}

// BenchmarkSide moves a side in the middle of a large storey, as a preview does while a hand drags it.
func BenchmarkSide(b *testing.B) {
	s := storeyOf60(b)
	for b.Loop() {
		if acted, _ := draught.Try(nil, s, draught.Operation{Op: "side", ID: "room-34", Side: 1, By: 0.5}); acted.Refused != nil {
			b.Fatal(acted.Refused)
		}
	}
}
