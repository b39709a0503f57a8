package radio

import (
	"errors"
	"math"

	"proofbell/internal/words"
	"proofbell/quantity"
)

// EIRP is the radiated power behind a field strength in V/m at a distance: (E d)^2 / 30 W. Source: free-space field of an isotropic
// radiator, as in FCC 15.231 and 15.249 limits at 3 m.
func EIRP(voltsPerMetre float64, d quantity.Metre) (quantity.DBm, error) {
	if err := within(input{words.Mark("field strength in V/m"), voltsPerMetre, 1e-9, 1e3}, input{sayDistance, float64(d), nearest, 1e4}); err != nil {
		return 0, err
	}
	return quantity.DBm(2*db10(voltsPerMetre*float64(d)) - db10(30) + 30), nil
}

// Sensitivity is the weakest level that a receiver makes out: -174 dBm/Hz + 10 log10(B) + noise figure + signal to noise.
// Source: thermal noise at 290 K.
func Sensitivity(bandwidth quantity.Hertz, noise, signal quantity.DB) (quantity.DBm, error) {
	if err := within(input{words.Mark("bandwidth in Hz"), float64(bandwidth), 1, 1e9}, input{words.Mark("noise figure in dB"), float64(noise), 0, 60}, input{words.Mark("signal to noise in dB"), float64(signal), -40, 60}); err != nil {
		return 0, err
	}
	return quantity.DBm(-174 + db10(float64(bandwidth)) + float64(noise) + float64(signal)), nil
}

// Budget is a link in one direction.
type Budget struct {
	Transmit    quantity.DBm
	Antennas    [2]quantity.DB // gain at the transmitter and at the receiver, dBi
	Loss        quantity.DB    // of the way
	Sensitivity quantity.DBm   // of the receiver
}

// Received is the level at the receiver: Pt + Gt + Gr - L.
func (b Budget) Received() quantity.DBm {
	return b.Transmit + quantity.DBm(b.Antennas[0]+b.Antennas[1]-b.Loss)
}

// Margin is how far the level stands above the receiver's sensitivity, dB; below 0 the receiver hears nothing.
func (b Budget) Margin() quantity.DB { return quantity.DB(b.Received() - b.Sensitivity) }

// Works is the probability that a placement works, with the shadowing sigma of its building: Phi(M / sigma). It speaks of the place,
// once and for months, and never of single messages. Source: log-normal shadowing.
func Works(margin, sigma quantity.DB) (float64, error) {
	if err := within(input{words.Mark("margin in dB"), float64(margin), -400, 400}, input{saySigma, float64(sigma), 0.1, 40}); err != nil {
		return 0, err
	}
	return 0.5 * math.Erfc(-float64(margin/sigma)/math.Sqrt2), nil
}

var saySigma = words.Mark("shadowing in dB")

// MarginFor is the margin with which a placement works with probability p: z_p sigma.
func MarginFor(p float64, sigma quantity.DB) (quantity.DB, error) {
	if err := within(input{words.Mark("probability"), p, 1e-6, 1 - 1e-6}, input{saySigma, float64(sigma), 0.1, 40}); err != nil {
		return 0, err
	}
	return quantity.DB(normalQuantile(p)) * sigma, nil
}

// Fading is the share of small movements (a hand's breadth, a person passing) at which a link of this median margin is cut:
// 1 - exp(-10^(-M/10)). Source: Rayleigh fading, no line of sight.
func Fading(margin quantity.DB) (float64, error) {
	if err := within(input{words.Mark("margin in dB"), float64(margin), -400, 400}); err != nil {
		return 0, err
	}
	return -math.Expm1(-math.Pow(10, -float64(margin)/10)), nil
}

// Supervision is how a receiver decides that a device is lost: Misses check-ins in a row, one every Every.
//
// Lost is the share of check-ins that do not arrive, as measured on site (a walk test, or the check-in history). It must
// not be made from a margin: shadowing is a property of the place, not of the message.
type Supervision struct {
	Lost   float64         // of single check-ins, measured; 0 to 1 exclusive
	Misses int             // in a row before the device is reported lost, 1 to 100
	Every  quantity.Second // between check-ins
}

func (s Supervision) check() error {
	return within(
		input{words.Mark("measured share of lost check-ins"), s.Lost, 1e-9, 0.999}, input{words.Mark("check-ins missed in a row"), float64(s.Misses), 1, 100},
		input{words.Mark("time between check-ins in s"), float64(s.Every), 0.1, 1e7})
}

// FirstRun is the mean number of check-ins to the first run of misses: (q^-k - 1) / (1 - q). Source: Feller, An Introduction to
// Probability Theory, vol. 1, XIII.7; single losses independent of each other.
func (s Supervision) FirstRun() (float64, error) {
	if err := s.check(); err != nil {
		return 0, err
	}
	return (math.Pow(s.Lost, -float64(s.Misses)) - 1) / (1 - s.Lost), nil
}

// FalseLosses is how often a year a number of devices are reported lost though nothing is wrong with them:
// devices x (8760 h / interval) / FirstRun.
func (s Supervision) FalseLosses(devices int) (float64, error) {
	run, err := s.FirstRun()
	if err = errors.Join(err, within(input{words.Mark("number of devices"), float64(devices), 0, 1e6})); err != nil {
		return 0, err
	}
	return float64(devices) * 8760 * 3600 / float64(s.Every) / run, nil
}

// Announced is after how long a device that died is reported, on average and at most: (k - 1/2) and k intervals, when the
// count begins at the first check-in that is missing.
func (s Supervision) Announced() (average, longest quantity.Second) {
	k := quantity.Second(s.Misses)
	return (k - 0.5) * s.Every, k * s.Every
}

// Copies is the share of check-ins that are lost though each is sent several times: q^c, only where the copies are lost
// independently of each other.
func Copies(lost float64, copies int) (float64, error) {
	if err := within(input{words.Mark("measured share of lost check-ins"), lost, 0, 1}, input{words.Mark("number of copies"), float64(copies), 1, 20}); err != nil {
		return 0, err
	}
	return math.Pow(lost, float64(copies)), nil
}
