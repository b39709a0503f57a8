// Package reliability computes how likely a system of parts is not there when it is asked for: models of one part, common
// cause, systems of parts in series, in parallel and k of n with parts that occur several times, solved exactly by a binary
// decision diagram.
//
// Rates are failures an hour, times hours, results probabilities from 0 to 1 as full figures: whoever shows one shows a
// range, rounded to one significant figure. The arithmetic is exact; every rate that goes in is a planning figure. All
// functions are pure; a Diagram is not changed once it is made.
package reliability

import (
	"errors"
	"fmt"
	"math"

	"proofbell/internal/words"
)

// ErrInput marks a value outside the range of a formula. The error's text names the value.
var ErrInput = errors.New("value out of range")

// limits of what is taken for a rate, a time and a share.
const (
	mostRate  = 1.0 // an hour
	mostHours = 1e6 // about 114 years
)

type input struct {
	name  string
	value float64
	most  float64
}

func held(inputs ...input) error {
	for _, in := range inputs {
		if !(in.value >= 0 && in.value <= in.most) { // NaN is not
			return fmt.Errorf("%w: %w", &words.Error{Say: words.Later("%s %v is not between %v and %v", words.Marked(in.name), in.value, 0, in.most)}, ErrInput)
		}
	}
	return nil
}

func rateOf(v float64) input  { return input{words.Mark("failure rate"), v, mostRate} }
func testOf(v float64) input  { return input{words.Mark("test interval"), v, mostHours} }
func renewOf(v float64) input { return input{words.Mark("time to renewal"), v, mostHours} }
func repairOf(v float64) input {
	return input{words.Mark("repair time"), v, mostHours}
}

// mean is the share of an interval that a part with an unseen failure is down, averaged: 1 - (1 - e^-x) / x.
func mean(x float64) float64 {
	if x < 1e-4 {
		return x/2 - x*x/6 // the difference of two near numbers would cost digits
	}
	return 1 + math.Expm1(-x)/x
}

// Tested is the mean unavailability of a part whose failures nobody sees until it is tested each interval:
//
//	1 - (1 - e^-x) / x,  x = rate interval      (x/2 for small x)
//
// The interval is that of a test of the whole path: a test button proves less. Source: IEC 61508-6 annex B, PFDavg of one
// channel. Range: rate 0 to 1 an hour, interval 0 to a million hours.
func Tested(rate, interval float64) (float64, error) {
	if err := held(rateOf(rate), testOf(interval)); err != nil {
		return 0, err
	}
	return mean(rate * interval), nil
}

// Supervised is the unavailability of a part whose failures are reported after detect hours and mended within repair more:
//
//	x / (1 + x),  x = rate (detect + repair)    (x for small x)
//
// Source: an alternating renewal process in the steady state, any text on reliability; IEC 61508-6 annex B gives x.
func Supervised(rate, detect, repair float64) (float64, error) {
	if err := held(rateOf(rate), input{words.Mark("time to notice"), detect, mostHours}, repairOf(repair)); err != nil {
		return 0, err
	}
	x := rate * (detect + repair)
	return x / (1 + x), nil
}

// Diagnosed is one channel of which a share of the failures is seen at once and the rest at the test:
//
//	rate t,  t = (1 - seen)(interval/2 + repair) + seen repair
//
// at most 1. Source: IEC 61508-6 annex B, 1oo1.
func Diagnosed(rate, seen, interval, repair float64) (float64, error) {
	if err := held(rateOf(rate), shareOf(seen), testOf(interval), repairOf(repair)); err != nil {
		return 0, err
	}
	return min(1, rate*down(seen, interval/2, repair)), nil
}

func shareOf(v float64) input { return input{words.Mark("share of failures seen"), v, 1} }

// down is the mean time that a failed channel is down: t_CE with half the interval, t_GE with a third of it.
func down(seen, unseen, repair float64) float64 { return (1-seen)*(unseen+repair) + seen*repair }

// PartlyTested is a part whose test shows a share of its failures, and whose rest lasts until it is renewed:
//
//	a + b - a b,  a = Tested(coverage rate, interval),  b = Tested((1 - coverage) rate, renewal)
//
// for small figures c rate interval/2 + (1-c) rate renewal/2. Source: IEC 61508-6 annex B, imperfect proof test.
func PartlyTested(rate, coverage, interval, renewal float64) (float64, error) {
	if err := held(rateOf(rate), input{words.Mark("coverage of the test"), coverage, 1}, testOf(interval), renewOf(renewal)); err != nil {
		return 0, err
	}
	a, b := mean(coverage*rate*interval), mean((1-coverage)*rate*renewal)
	return a + b - a*b, nil
}

// Failed is the probability that a part which is never tested has failed after some hours: 1 - e^(-rate hours).
func Failed(rate, hours float64) (float64, error) {
	if err := held(rateOf(rate), input{words.Mark("time"), hours, mostHours}); err != nil {
		return 0, err
	}
	return -math.Expm1(-rate * hours), nil
}

// Pair is two like channels of which one is enough, and what can fail both at once.
type Pair struct {
	Rate       float64 // of dangerous failures of one channel, an hour
	Seen       float64 // share of them that is seen at once, 0 to 1
	Interval   float64 // of the test that shows the others, hours
	Repair     float64 // hours
	Beta       float64 // share of the unseen ones that fails both, 0 to 1
	BetaOfSeen float64 // share of the seen ones that fails both
}

// Unavailable is the mean unavailability of the pair:
//
//	2 [(1-bD) rD + (1-b) rU]^2 tC tG + bD rD repair + b rU (interval/2 + repair)
//
// with rD = seen rate, rU the rest, tC and tG the mean times down with a half and a third of the interval; at most 1.
// Source: IEC 61508-6 annex B, 1oo2. What both share, a cable or a modem, is no beta but a part in series.
func (p Pair) Unavailable() (float64, error) {
	if err := p.held(); err != nil {
		return 0, err
	}
	seen, unseen := p.Seen*p.Rate, (1-p.Seen)*p.Rate
	alone := (1-p.BetaOfSeen)*seen + (1-p.Beta)*unseen
	both := down(p.Seen, p.Interval/2, p.Repair) * down(p.Seen, p.Interval/3, p.Repair)
	return min(1, 2*alone*alone*both+p.BetaOfSeen*seen*p.Repair+p.Beta*unseen*(p.Interval/2+p.Repair)), nil
}

// Simple is the pair when nothing is seen and repair takes no time: [(1-b) rate interval]^2 / 3 + b rate interval / 2, at
// most 1. Source: as Unavailable.
func (p Pair) Simple() (float64, error) {
	if err := p.held(); err != nil {
		return 0, err
	}
	x := p.Rate * p.Interval
	alone := (1 - p.Beta) * x
	return min(1, alone*alone/3+p.Beta*x/2), nil
}

func (p Pair) held() error {
	return held(rateOf(p.Rate), shareOf(p.Seen), testOf(p.Interval), repairOf(p.Repair),
		input{words.Mark("common cause"), p.Beta, 1}, input{words.Mark("common cause"), p.BetaOfSeen, 1})
}
