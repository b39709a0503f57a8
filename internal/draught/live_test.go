package draught_test

import (
	"math"
	"testing"

	"proofbell/internal/draught"
)

// The detector at 3, 1 in the kitchen of 4 x 3 m. Walls are 0.1 m thick: 1 - 0.05 to the face of the east and of the south
// wall. The kitchen's door to the hall stands at 4, 1.5: root of 1 + 0.25. The other device is at 1, 1.
func TestLiveDistances(t *testing.T) {
	s := read(t, empty)
	kitchen := rect("Kitchen", 0, 0, 4, 3)
	kitchen.Use = "kitchen"
	s, _ = do(t, s, kitchen)
	s, _ = do(t, s, rect("Hall", 4, 0, 6, 3))
	s, _ = do(t, s, draught.Operation{Op: "opening", Storey: "g", Kind: "door", At: at(4, 1.5)})
	s, _ = do(t, s, draught.Operation{Op: "device", Storey: "g", Model: "smoke", At: at(3, 1)})
	s, _ = do(t, s, draught.Operation{Op: "head", Storey: "g", Kind: "smoke", At: at(1, 1)})
	got := draught.Distances(nil, s, "g", "/devices/smoke-detector")
	want := []struct {
		what, id, long string
		m              float64
	}{
		{"wall", "kitchen-south", "0.95 m to the wall", 0.95},
		{"wall", "kitchen-east", "0.95 m to the wall", 0.95},
		{"door", "hall-kitchen", "1.12 m to the kitchen door", 1.118},
		{"head", "alarm", "2.00 m to the next device", 2},
	}
	if len(got) != len(want) {
		t.Fatalf("%+v", got)
	}
	for i, w := range want {
		if g := got[i]; g.What != w.what || g.ID != w.id || g.Long != w.long || math.Abs(g.M-w.m) > 0.0005 {
			t.Errorf("%+v, want %+v", g, w)
		}
	}
	if n := len(draught.Distances(nil, s, "g", "/rooms/hall")); n != 0 {
		t.Errorf("a room has %d distances", n)
	}
}
