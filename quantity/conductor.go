package quantity

import (
	"encoding/json"
	"math"
	"strconv"
	"strings"
)

// Conductor is the size of a wire as a person typed it: "18 AWG", "1.5 mm2" (cross-section) or "0.8 mm" (diameter, as
// telephone and fire alarm cable is sold). The zero value is "not given" (IsZero).
// Values do not change after construction and may be compared with ==.
type Conductor struct {
	text string
	kind Gauge
	size float64
}

// Gauge is the way in which the size of a wire is counted.
type Gauge string

// The ways to count.
const (
	AWG        Gauge = "AWG" // American wire gauge, whole numbers: a larger one is a thinner wire
	SquareMM   Gauge = "mm2" // cross-section
	DiameterMM Gauge = "mm"  // diameter of a solid wire
)

// ParseConductor reads the size of a wire. AWG may stand before or behind its number. The error is an *Error.
func ParseConductor(text string) (Conductor, error) {
	wrong := &Error{Text: clip(text), Of: "conductor", Hint: `write 18 AWG, 1.5 mm2 or 0.8 mm`}
	bad := func(why string) (Conductor, error) {
		wrong.Why = why
		return Conductor{}, wrong
	}
	typed := strings.TrimSpace(text)
	if typed == "" || len(typed) > 64 {
		return bad("it is empty or too long")
	}
	if dotted := strings.ReplaceAll(typed, ",", "."); dotted != typed {
		wrong.Hint, wrong.Better = "write a decimal point and no other separators", dotted
		return bad("a comma stands in the number")
	}
	rest := strings.ToLower(typed)
	if after, ok := strings.CutPrefix(rest, "awg"); ok {
		rest = strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(after), "#")) + " awg"
	}
	n := 0
	for n < len(rest) && (rest[n] >= '0' && rest[n] <= '9' || rest[n] == '.') {
		n++
	}
	size, err := strconv.ParseFloat(rest[:n], 64)
	if err != nil || math.IsInf(size, 0) {
		return bad("a number is missing")
	}
	c := Conductor{text: typed, size: size}
	switch unit := strings.TrimSpace(rest[n:]); unit {
	case "awg":
		c.kind = AWG
		if size != math.Trunc(size) || size > 40 {
			return bad("a gauge is a whole number up to 40")
		}
		return c, nil
	case "mm2", "mm\u00b2", "mm^2", "sqmm", "qmm":
		c.kind = SquareMM
	case "mm":
		c.kind = DiameterMM
	case "":
		return bad("the unit is missing")
	default:
		wrong.Unit = clip(unit)
		return bad("its unit is not known")
	}
	if !(size > 0 && size <= 1000) {
		return bad("a wire has a size")
	}
	return c, nil
}

// Gauge says how the size is counted, and the number in it; "" and 0 when not given.
func (c Conductor) Gauge() (Gauge, float64) { return c.kind, c.size }

// SI returns the cross-section in mm2, 0 when not given. A gauge n has the diameter 0.127 mm x 92^((36-n)/39) (ASTM B258).
func (c Conductor) SI() float64 {
	round := func(d float64) float64 { return math.Pi / 4 * d * d }
	switch c.kind {
	case AWG:
		return round(0.127 * math.Pow(92, (36-c.size)/39))
	case SquareMM:
		return c.size
	case DiameterMM:
		return round(c.size)
	}
	return 0
}

// String returns the text as typed; empty when not given.
func (c Conductor) String() string { return c.text }

// IsZero reports whether no size was given.
func (c Conductor) IsZero() bool { return c.text == "" }

// MarshalJSON writes the typed text, or null.
func (c Conductor) MarshalJSON() ([]byte, error) {
	if c.text == "" {
		return []byte("null"), nil
	}
	return json.Marshal(c.text)
}

// UnmarshalJSON reads the typed text.
func (c *Conductor) UnmarshalJSON(raw []byte) error {
	if string(raw) == "null" {
		*c = Conductor{}
		return nil
	}
	text := string(raw)
	if len(raw) > 0 && raw[0] == '"' {
		if err := json.Unmarshal(raw, &text); err != nil {
			return err
		}
	}
	v, err := ParseConductor(text)
	if err != nil {
		return err
	}
	*c = v
	return nil
}
