// Package quantity holds the typed units of the trade and values as a person typed them.
//
// A value typed with its unit ("9 ft 6 in", "2.9 m", "7.0 Ah") keeps the typed text as the truth; the SI value is
// derived from it. Engines take the plain unit types (Metre, DBA, Volt ...), documents show the typed text.
package quantity

// Zero of the Celsius scale, in kelvin.
const ZeroCelsius = 273.15

// Plain units, for engine signatures. Zero is zero of the unit, never "unknown".
type (
	Metre      float64 // length, m
	Second     float64 // duration, s
	Ampere     float64 // current, A
	AmpereHour float64 // charge, Ah (kept in Ah, the unit of every battery label, instead of coulombs)
	Volt       float64 // electric potential, V
	Ohm        float64 // resistance, ohm
	Watt       float64 // power, W
	Hertz      float64 // frequency, Hz
	DBA        float64 // A-weighted sound pressure level, dB re 20 uPa
	DB         float64 // level difference or loss, dB
	DBm        float64 // power level, dB re 1 mW
	Celsius    float64 // temperature, degrees C
)
