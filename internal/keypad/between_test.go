package keypad

import (
	"maps"
	"testing"

	"proofbell/internal/keypad/keypadtest"
	"proofbell/panel"
)

// Cards key only what differs from the table that they were laid out from: an answer that somebody else put there meanwhile
// stays. That is why the book is not certain of a zone whose keying did not know of another's.
func TestCardsLeaveWhatTheyDoNotKnowOf(t *testing.T) {
	for _, name := range []string{"branch", "pigeonhole", "ladder"} {
		p, tried := profile(t, name), 0
		want, _ := Wanted(keypadtest.Site(3, p), p)
		for zone, slots := range want {
			for _, other := range want {
				read := maps.Clone(slots) // one phone read a zone with other words,
				for _, f := range []panel.Field{panel.FieldWords, panel.FieldWord1} {
					if slots[f] != "" && other[f] != "" {
						read[f] = other[f]
					}
				}
				if tried == 20 || maps.Equal(read, slots) || slots[panel.FieldArea] == other[panel.FieldArea] {
					continue
				}
				tried++
				put := with(read, string(panel.FieldArea), other[panel.FieldArea]) // and another phone gave it another area
				sim := NewSimulator(p, ZoneTable{zone: put})
				for _, c := range Between(p, ZoneTable{zone: read}, ZoneTable{zone: slots}, Options{}).Zones[0].Cards {
					for _, key := range c.Keys() {
						sim.Press(key)
					}
				}
				if got := sim.Table()[zone]; got[panel.FieldArea] != other[panel.FieldArea] {
					t.Errorf("%s, zone %s: %v keyed from %v on %v holds %v", name, zone, slots, read, put, got)
				}
			}
		}
		if tried == 0 {
			t.Errorf("%s: nothing tried", name)
		}
	}
}
