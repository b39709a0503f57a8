package panel

import (
	"slices"
	"testing"
)

// Every key is drawn once, no two overlap, all lie within the drawing.
func TestPad(t *testing.T) {
	for _, name := range Names() {
		p, err := Builtin(name)
		if err != nil {
			t.Fatal(err)
		}
		pad := p.Keypad.Pad()
		var drawn []string
		for i, a := range pad.Keys {
			drawn = append(drawn, a.Key)
			if a.X < 0 || a.Y < 0 || a.X+a.Wide > pad.Wide || a.Y+a.High > pad.High {
				t.Errorf("%s: key %s lies outside", name, a.Key)
			}
			for _, b := range pad.Keys[:i] {
				if a.X < b.X+b.Wide && b.X < a.X+a.Wide && a.Y < b.Y+b.High && b.Y < a.Y+a.High {
					t.Errorf("%s: keys %s and %s overlap", name, a.Key, b.Key)
				}
			}
		}
		keys := slices.Clone(p.Keypad.Keys)
		slices.Sort(keys)
		if slices.Sort(drawn); !slices.Equal(keys, drawn) {
			t.Errorf("%s: drawn are %v, there are %v", name, drawn, keys)
		}
	}
}
