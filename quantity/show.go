package quantity

import (
	"fmt"
	"math"
	"strconv"
)

// Round returns v rounded to a number of decimals: the published figure of a result. Limits are compared with the
// published figure, because the last bits of a sum may differ between machines. It never returns minus zero; NaN and
// the infinities come back as they are.
func Round(v float64, decimals int) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'f', decimals, 64), 64)
	if err != nil { // not from a text that strconv wrote
		return v
	}
	return r + 0 // minus zero and zero add up to zero
}

// Show writes a figure with its unit, rounded to a number of decimals, all of them shown: Show(11.01, 1, "Ah") is
// "11.0 Ah". NaN is "not determined".
func Show(v float64, decimals int, unit string) string {
	if math.IsNaN(v) {
		return "not determined"
	}
	text := strconv.FormatFloat(Round(v, decimals), 'f', decimals, 64)
	if unit == "" {
		return text
	}
	return text + " " + unit
}

// FeetInches writes a length in feet and inches, rounded to the nearest half inch: "9 ft 6 in", "5.5 in".
func FeetInches(m Metre) string {
	halves := math.Round(math.Abs(float64(m)) / 0.0254 * 2)
	sign := ""
	if m < 0 && halves > 0 {
		sign = "-"
	}
	feet, inches := math.Floor(halves/24), math.Mod(halves, 24)/2
	switch {
	case feet == 0:
		return fmt.Sprintf("%s%v in", sign, inches)
	case inches == 0:
		return fmt.Sprintf("%s%v ft", sign, feet)
	}
	return fmt.Sprintf("%s%v ft %v in", sign, feet, inches)
}
