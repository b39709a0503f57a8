package estimate

import (
	"encoding/json"
	"testing"

	"proofbell/demo"
	"proofbell/internal/building"
	"proofbell/internal/words"
	"proofbell/site"
)

// Readings far under the model, as with one alarm dead or the meter set wrong: whatever was read, there is an answer whose figures are numbers.
func TestReadingsFarFromTheModel(t *testing.T) {
	s := readSite(t, demo.Corrected)
	b := building.Of(s)
	rooms := []site.RoomID{"F1", "F2", "F3", "F4", "G1", "G2"}
	for _, levels := range [][]float64{{71.5, 64, 58.5, 69}, {20, 20, 20, 20}, {140, 140, 140, 140, 140}, {20, 140, 20, 140, 20, 140}, {71.5, 64, 58.5, 69, 30, 95}} {
		var readings []SoundReading
		for i, level := range levels {
			readings = append(readings, SoundReading{Room: rooms[i], Level: level, Doors: Shut})
		}
		v := NewSound(s, b, SoundOptions{Readings: readings}).View(words.In("en"), SoundNeed{})
		if _, err := json.Marshal(v); err != nil || len(v.Rows) == 0 {
			t.Errorf("%v: %v, %d rows", levels, err, len(v.Rows))
		}
		if v.Fit != nil {
			t.Logf("%v: %s", levels, v.Fit.Say)
		}
	}
}
