package engine

import (
	"testing"

	"proofbell/demo"
)

// Figures worked by hand in internal/circuit/circuit_test.go; with 10.0 V at the panel all fall by half a volt.
func TestCircuitCalls(t *testing.T) {
	j := newJob(t, demo.Corrected)
	if l := asked[[]CircuitLine](j, "circuit.list", nil); len(l) != 3 || l[0].ID != "key-loop" || l[0].Bad {
		t.Errorf("%+v", l)
	}
	d := asked[CircuitDrop](j, "circuit.drop", map[string]any{"circuit": "sounders", "patch": map[string]any{"circuits": map[string]any{"sounders": map[string]any{"supply": "10 V"}}}})
	if d.Drop.First != "wing" || *d.Drop.Nodes[3].Volts != 9.32 || len(d.Sheet.Steps) == 0 || len(d.Sheet.Pictures) != 1 {
		t.Errorf("%+v", d.Drop)
	}
	for typed, want := range map[string]string{"1137": "alarm", "4.7 kilohm": "normal", "open": "cut", "6 V": "normal", "2350 ohm": "outside"} {
		if l := asked[CircuitLoop](j, "circuit.loop", map[string]any{"circuit": "key-loop", "measured": typed}); l.Loop.Answer == nil || l.Loop.Answer.State != want {
			t.Errorf("%q: %+v", typed, l.Loop.Answer)
		}
	}
}
