package panel

import "slices"

// Pad is a keypad as a drawing: one drawing for the screen and for paper. Lengths are in units of the drawing; a key is
// KeyWide by KeyHigh of them.
type Pad struct {
	Wide float64  `json:"wide"`
	High float64  `json:"high"`
	Keys []PadKey `json:"keys"` // row by row within each block
}

// PadKey is one key of the drawing: a rectangle with its name and the letters under it.
type PadKey struct {
	Key     string  `json:"key"`
	Letters string  `json:"letters"` // "" for most
	X       float64 `json:"x"`       // of its upper left corner
	Y       float64 `json:"y"`
	Wide    float64 `json:"wide"`
	High    float64 `json:"high"`
	Size    float64 `json:"size"` // height of the type of its name
}

// Measures of the drawing, in its units.
const (
	KeyWide = 12.0
	KeyHigh = 10.0
	padGap  = 2.0
	padRim  = 3.0
	gutter  = 4.0 // between the digits and the other keys
)

// Pad lays the keys out: digits in three columns with the back key, 0 and the accept key below them, every other key to
// the right, four rows high, in the order of the profile. No panel looks like this one; all are drawn alike so that what
// is marked on a key is found by its name.
func (k Keypad) Pad() Pad {
	var pad Pad
	put := func(key string, x float64, row int) {
		if !slices.Contains(k.Keys, key) {
			return
		}
		pk := PadKey{Key: key, Letters: k.Letters[key], X: x, Y: padRim + float64(row)*(KeyHigh+padGap), Wide: KeyWide, High: KeyHigh}
		pk.Size = min(5, 13/float64(len([]rune(key))))
		pad.Keys = append(pad.Keys, pk)
		pad.Wide, pad.High = max(pad.Wide, x+KeyWide+padRim), max(pad.High, pk.Y+KeyHigh+padRim)
	}
	column := func(n int) float64 { return padRim + float64(n)*(KeyWide+padGap) }
	block := []string{"1", "2", "3", "4", "5", "6", "7", "8", "9", k.Back, "0", k.Accept}
	for i, key := range block {
		put(key, column(i%3), i/3)
	}
	others := slices.DeleteFunc(slices.Clone(k.Keys), func(key string) bool { return slices.Contains(block, key) })
	columns := (len(others) + 3) / 4
	for i, key := range others {
		put(key, column(3+i%columns)+gutter, i/columns)
	}
	return pad
}
