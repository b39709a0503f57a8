package quantity

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Typed is a value of one dimension as a person typed it. The zero value is "not given" (IsZero).
// Values do not change after construction and may be compared with ==.
type Typed[D Dimension] struct {
	text string
	si   float64
}

// Dimension names a physical dimension and its accepted units.
type Dimension interface{ dimension() spec }

type spec struct {
	name  string             // for error texts: "length"
	units map[string]float64 // unit as typed, lower case, to its size in the base unit
	zero  map[string]float64 // where the zero of a unit lies, in the base unit; none: at zero. Parts do not add up then
	least float64            // the smallest value there can be, where low says why
	low   string             // why a value below least is refused; empty: any value may be
	bare  bool               // whether a number without a unit is taken in the base unit
	hint  string             // how to write one
}

type (
	lengthDim   struct{}
	durationDim struct{}
	currentDim  struct{}
	chargeDim   struct{}
	voltageDim  struct{}
	soundDim    struct{}
	lossDim     struct{}
	powerDim    struct{}
	freqDim     struct{}
	ohmDim      struct{}
	wattDim     struct{}
	tempDim     struct{}
	shareDim    struct{}
)

// The typed values of the site file. SI gives metres, seconds, amperes, ampere-hours, volts, dBA, dB, dBm, hertz, ohms,
// watts, kelvin and parts of one.
type (
	Length     = Typed[lengthDim]
	Duration   = Typed[durationDim]
	Current    = Typed[currentDim]
	Charge     = Typed[chargeDim]
	Voltage    = Typed[voltageDim]
	SoundLevel = Typed[soundDim]
	Loss       = Typed[lossDim]
	PowerLevel = Typed[powerDim]
	Frequency  = Typed[freqDim]
	Resistance = Typed[ohmDim]
	Power      = Typed[wattDim]

	Temperature = Typed[tempDim]
	Share       = Typed[shareDim]
)

func (lengthDim) dimension() spec {
	return spec{name: "length", units: map[string]float64{"m": 1, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "'": 0.3048, "in": 0.0254, "\"": 0.0254}, bare: true, hint: `write 2.9 m, 290 cm or 9 ft 6 in`}
}

func (durationDim) dimension() spec {
	return spec{name: "duration", units: map[string]float64{"ms": 0.001, "s": 1, "min": 60, "h": 3600, "d": 86400, "y": 31557600}, hint: `write 30 s, 4 min, 24 h or 7 d`}
}

func (currentDim) dimension() spec {
	return spec{name: "current", units: map[string]float64{"a": 1, "ma": 0.001, "ua": 1e-6}, hint: `write 0.36 A or 360 mA`}
}

func (chargeDim) dimension() spec {
	return spec{name: "charge", units: map[string]float64{"ah": 1, "mah": 0.001}, hint: `write 7.0 Ah`}
}

func (voltageDim) dimension() spec {
	return spec{name: "voltage", units: map[string]float64{"v": 1, "mv": 0.001}, hint: `write 12 V`}
}

func (soundDim) dimension() spec {
	return spec{name: "sound level", units: map[string]float64{"dba": 1, "db(a)": 1}, hint: `write 85 dBA`}
}

func (lossDim) dimension() spec {
	return spec{name: "attenuation", units: map[string]float64{"db": 1, "dbi": 1}, hint: `write 6 dB`}
}

func (powerDim) dimension() spec {
	return spec{name: "power level", units: map[string]float64{"dbm": 1}, hint: `write -105 dBm`}
}

func (freqDim) dimension() spec {
	return spec{name: "frequency", units: map[string]float64{"hz": 1, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}, hint: `write 915 MHz`}
}

func (tempDim) dimension() spec {
	const f, zeroF = 5.0 / 9, ZeroCelsius - 32*5.0/9
	return spec{
		name: "temperature", units: map[string]float64{"c": 1, "°c": 1, "f": f, "°f": f, "k": 1}, hint: `write 20 C or 68 F`,
		zero: map[string]float64{"c": ZeroCelsius, "°c": ZeroCelsius, "f": zeroF, "°f": zeroF},
		low:  "it is below absolute zero",
	}
}

func (shareDim) dimension() spec {
	return spec{name: "share", units: map[string]float64{"%": 0.01}, bare: true, hint: `write 85 % or 0.85`}
}

func (ohmDim) dimension() spec {
	const kilo = 1e3
	return spec{name: "resistance", units: map[string]float64{
		"ohm": 1, "ohms": 1, "\u03c9": 1, "\u2126": 1, "milliohm": 0.001,
		"kohm": kilo, "kilohm": kilo, "k": kilo, "k\u03c9": kilo, "k\u2126": kilo, "megohm": 1e6,
	}, hint: `write 4.7 kilohm, 470 ohm or 2 megohm`}
}

func (wattDim) dimension() spec {
	return spec{name: "wattage", units: map[string]float64{"w": 1, "mw": 0.001}, hint: `write 3 W or 250 mW`}
}

// Dimensions by name, for Parse and MustParse: Parse[LengthDimension]("2.9 m").
type (
	LengthDimension     = lengthDim
	DurationDimension   = durationDim
	CurrentDimension    = currentDim
	ChargeDimension     = chargeDim
	VoltageDimension    = voltageDim
	SoundLevelDimension = soundDim
	LossDimension       = lossDim
	PowerLevelDimension = powerDim
	FrequencyDimension  = freqDim
	ResistanceDimension = ohmDim
	PowerDimension      = wattDim

	TemperatureDimension = tempDim
	ShareDimension       = shareDim
)

// InCelsius gives a temperature on the scale of degrees C.
func InCelsius(t Temperature) Celsius { return Celsius(Round(t.SI()-ZeroCelsius, 9)) }

// Error says why a text is no value of a dimension. Of, Why and Hint are English words without any figures, so that who
// shows them can say them in another language.
type Error struct {
	Text   string // as typed, shortened
	Of     string // the dimension: "length"
	Why    string // "the unit is missing"
	Unit   string // the unit that is not known; or empty
	Hint   string // how to write one: "write 12 V"
	Better string // what may have been meant; or empty
}

// Error says all of it in English.
func (e *Error) Error() string {
	why, hint := e.Why, e.Hint
	if e.Unit != "" {
		why = fmt.Sprintf("unit %q is not known", e.Unit)
	}
	if e.Better != "" {
		hint += ": " + e.Better
	}
	return fmt.Sprintf("%q is not a %s: %s; %s", e.Text, e.Of, why, hint)
}

// Parse reads a value with its unit. Several parts add up ("9 ft 6 in"). Lengths may omit the unit and are then metres.
// The error is an *Error.
func Parse[D Dimension](text string) (Typed[D], error) {
	var d D
	sp := d.dimension()
	wrong := &Error{Text: clip(text), Of: sp.name, Hint: sp.hint}
	bad := func(why string) (Typed[D], error) {
		wrong.Why = why
		return Typed[D]{}, wrong
	}
	rest := strings.TrimSpace(text)
	if rest == "" || len(rest) > 64 {
		return bad("it is empty or too long")
	}
	if dotted := strings.ReplaceAll(rest, ",", "."); dotted != rest {
		// 7,0 Ah is seven in half of the world, and 1,200 a thousand and more in the other half: ask.
		wrong.Hint, wrong.Better = "write a decimal point and no other separators", dotted
		return bad("a comma stands in the number")
	}
	var sum float64
	parts := 0
	negative := false
	for rest != "" {
		n := 0
		for n < len(rest) && (rest[n] >= '0' && rest[n] <= '9' || rest[n] == '.' || n == 0 && (rest[n] == '-' || rest[n] == '+')) {
			n++
		}
		value, err := strconv.ParseFloat(rest[:n], 64)
		if err != nil || math.IsInf(value, 0) {
			return bad("a number is missing")
		}
		if parts > 0 && (rest[0] == '-' || rest[0] == '+') {
			return bad("a sign stands inside")
		}
		if parts == 0 {
			negative = rest[0] == '-'
		}
		rest = strings.TrimLeft(rest[n:], " ")
		n = 0
		for n < len(rest) && rest[n] != ' ' && (rest[n] < '0' || rest[n] > '9') {
			n++
		}
		unit := strings.ToLower(rest[:n])
		rest = strings.TrimLeft(rest[n:], " ")
		size, known := sp.units[unit]
		switch {
		case known:
		case unit == "" && sp.bare && parts == 0 && rest == "":
			size = 1
		case unit == "":
			return bad("the unit is missing")
		default:
			wrong.Unit = clip(unit)
			return bad("its unit is not known")
		}
		if parts > 0 && negative {
			value = -value
		}
		sum += value*size + sp.zero[unit]
		if parts++; parts > 1 && sp.zero != nil {
			return bad("only one figure can be given")
		}
	}
	if sp.low != "" && sum < sp.least {
		return bad(sp.low)
	}
	return Typed[D]{strings.TrimSpace(text), sum}, nil
}

// MustParse is Parse for texts that are part of the program. It panics on a bad one.
func MustParse[D Dimension](text string) Typed[D] {
	t, err := Parse[D](text)
	if err != nil {
		panic(err)
	}
	return t
}

// SI returns the value in the base unit of its dimension; 0 when not given.
func (t Typed[D]) SI() float64 { return t.si }

// String returns the text as typed; empty when not given.
func (t Typed[D]) String() string { return t.text }

// IsZero reports whether no value was given.
func (t Typed[D]) IsZero() bool { return t.text == "" }

// MarshalJSON writes a bare number as a number when JSON's own shortest form is the typed text, and anything else as
// the typed text: canonical JSON would turn 2.90 into 2.9.
func (t Typed[D]) MarshalJSON() ([]byte, error) {
	if t.text == "" {
		return []byte("null"), nil
	}
	if size := math.Abs(t.si); t.si == 0 || size >= 1e-6 && size < 1e21 { // RFC 8785 writes others with an exponent
		if strconv.FormatFloat(t.si, 'f', -1, 64) == t.text {
			return []byte(t.text), nil
		}
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(t.text); err != nil {
		return nil, err
	}
	return bytes.TrimSpace(b.Bytes()), nil
}

// UnmarshalJSON reads a number or a text.
func (t *Typed[D]) UnmarshalJSON(raw []byte) error {
	if string(raw) == "null" {
		*t = Typed[D]{}
		return nil
	}
	text := string(raw)
	if len(raw) > 0 && raw[0] == '"' {
		if err := json.Unmarshal(raw, &text); err != nil {
			return err
		}
	}
	v, err := Parse[D](text)
	if err != nil {
		return err
	}
	*t = v
	return nil
}

func clip(s string) string {
	if len(s) > 40 {
		return s[:40] + "..."
	}
	return s
}
