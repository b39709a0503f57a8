package electrical

import (
	"fmt"

	"proofbell/internal/words"
	"proofbell/quantity"
)

// Wire is one row of the tables of copper conductors: what a metre of one conductor has at 20 degrees C, and at 75 where
// the table says so.
type Wire struct {
	Name       string         // as people write it: "18 AWG"
	Size       quantity.Gauge // the table it stands in
	Number     float64        // in that table
	At20       float64        // ohm per metre at 20 degrees C, solid
	Solid75    float64        // ohm per metre at 75 degrees C; 0: the table does not say
	Stranded75 float64        // the same, of stranded wire
	Source     string         // table and clause
	Confidence string         // H, M or L; GK beside it: from general knowledge, not read in the document
}

const (
	// kft is a thousand feet in metres.
	kft = 304.8
	// alpha20 and alpha75 are how the resistance of copper grows with temperature, from 20 and from 75 degrees C.
	// IEC 60228 and NEC chapter 9 table 8 [H].
	alpha20, alpha75 = 0.00393, 0.00323
	// strandedMore is how much longer, and so more resistive, a stranded wire is where the table knows the solid one only:
	// the ratio of the columns of NEC chapter 9 table 8 [H].
	strandedMore = 1.023
)

// Wires are the tables, each from thin to thick.
var Wires = wireTable()

func wireTable() []Wire {
	var all []Wire
	for _, r := range [][4]float64{
		{28, 64.90, 0, 0},
		{26, 40.81, 0, 0},
		{24, 25.67, 0, 0},
		{22, 16.14, 0, 0},
		{20, 10.15, 0, 0},
		{18, 6.385, 7.77, 7.95},
		{16, 4.016, 4.89, 4.99},
		{14, 2.525, 3.07, 3.14},
		{12, 1.588, 1.93, 1.98},
		{10, 0.9989, 1.21, 1.24},
	} {
		w := Wire{
			Name: fmt.Sprintf("%.0f AWG", r[0]), Size: quantity.AWG, Number: r[0], At20: r[1] / kft, Solid75: r[2] / kft, Stranded75: r[3] / kft,
			Source: "ASTM B258, 20 C", Confidence: "H",
		}
		if r[2] > 0 {
			w.Source = "NEC chapter 9 table 8, 75 C; ASTM B258, 20 C"
		}
		all = append(all, w)
	}
	for _, r := range [][2]float64{{0.22, 92}, {0.5, 36.0}, {0.75, 24.5}, {1, 18.1}, {1.5, 12.1}, {2.5, 7.41}, {4, 4.61}} {
		w := Wire{Name: fmt.Sprintf("%v mm2", r[0]), Size: quantity.SquareMM, Number: r[0], At20: r[1] / 1000, Source: "IEC 60228", Confidence: "H GK"}
		if r[0] < 0.5 {
			w.Source, w.Confidence = "7 x 0.2 mm", "M GK"
		}
		all = append(all, w)
	}
	for _, r := range [][2]float64{{0.6, 65}, {0.8, 36.6}} {
		all = append(all, Wire{Name: fmt.Sprintf("%v mm", r[0]), Size: quantity.DiameterMM, Number: r[0], At20: r[1] / 1000, Source: "VDE 0815", Confidence: "M GK"})
	}
	return all
}

// FindWire returns the row of a conductor. The error names the sizes that the tables have.
func FindWire(c quantity.Conductor) (Wire, error) {
	kind, number := c.Gauge()
	for _, w := range Wires {
		if w.Size == kind && w.Number == number {
			return w, nil
		}
	}
	var known []byte
	for _, w := range Wires {
		if w.Size == kind {
			if known != nil {
				known = append(known, ", "...)
			}
			known = append(known, w.Name...)
		}
	}
	return Wire{}, fmt.Errorf("%w: %w", &words.Error{
		Say: words.Later("conductor %s stands in no table", c.String()), Try: words.Later("write one of %s, or what a length of it measured", string(known)),
	}, ErrInput)
}

// PerMetre is the resistance of one conductor, ohm per metre, at a temperature of the copper between -50 and 150 degrees C:
//
//	r'(T) = r'(75 C) [1 + 0.00323 (T - 75)]      where the table has a row for 75 degrees C
//	r'(T) = r'(20 C) [1 + 0.00393 (T - 20)]      elsewhere
//
// Uncoated copper: tinned wire has a few per cent more, aluminium and steel-cored wire is to be measured.
func (w Wire) PerMetre(stranded bool, at quantity.Celsius) (float64, error) {
	if err := within(words.Mark("conductor temperature"), float64(at), -50, 150); err != nil {
		return 0, err
	}
	t := float64(at)
	if w.Solid75 > 0 {
		r := w.Solid75
		if stranded {
			r = w.Stranded75
		}
		return r * (1 + alpha75*(t-75)), nil
	}
	r := w.At20 * (1 + alpha20*(t-20))
	if stranded && w.Size == quantity.AWG { // IEC 60228 gives the highest value that either kind may have
		r *= strandedMore
	}
	return r, nil
}

// Measured is the resistance of one conductor, ohm per metre, at a temperature, from what a length of cable measured with
// its far end joined (out and back) at another temperature.
func Measured(loop quantity.Ohm, length quantity.Metre, then, at quantity.Celsius) (float64, error) {
	for _, err := range []error{
		within(words.Mark("measured resistance"), float64(loop), 1e-6, 1e6), within(words.Mark("measured length"), float64(length), 0.1, 1e4),
		within(words.Mark("temperature while measuring"), float64(then), -50, 150), within(words.Mark("conductor temperature"), float64(at), -50, 150),
	} {
		if err != nil {
			return 0, err
		}
	}
	return float64(loop) / (2 * float64(length)) * (1 + alpha20*(float64(at)-20)) / (1 + alpha20*(float64(then)-20)), nil
}

// within refuses a value outside of a range; NaN is outside of each.
func within(name string, value, low, high float64) error {
	if value >= low && value <= high {
		return nil
	}
	return fmt.Errorf("%w: %w", &words.Error{Say: words.Later("%s %v is not between %v and %v", words.Marked(name), value, low, high)}, ErrInput)
}
