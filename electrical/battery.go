package electrical

import (
	"math"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/quantity"
)

// Sized is a battery as it was sized, with every term; not rounded.
type Sized struct {
	Rest    float64 // Ah drawn at rest
	Alarm   float64 // Ah drawn in alarm, before D
	D       float64 // formula 5.2b: for the high current of the alarm, 1 where it does not matter
	First   float64 // formula 5.2b: Ah with D = 1
	Load    float64 // Ah
	Ageing  float64
	Cold    float64 // factor for the temperature
	Needed  float64 // Ah to fit
	Publish quantity.AmpereHour
}

// MakerD is the factor that British practice takes where the maker gives none.
const MakerD = 1.75

// Size sizes a battery:
//
//	C = k f (I1 T1 + D I2 T2)
//
// D is 1; with british it is d (MakerD when 0) where C at D = 1, over 20 h, is below the alarm current. f is the factor of
// the lowest temperature; nil: 1. Source: NFPA 72 10.6.7; BS 5839-1 annex on standby batteries.
func Size(l Load, british bool, d float64, at *quantity.Celsius) (Sized, error) {
	if _, err := Standby(l); err != nil {
		return Sized{}, err
	}
	if d == 0 {
		d = MakerD
	}
	if err := within(words.Mark("factor D"), d, 1, 5); err != nil {
		return Sized{}, err
	}
	s := Sized{Rest: float64(l.Rest) * float64(l.Standby) / hour, Alarm: float64(l.Alarm) * float64(l.AlarmTime) / hour, D: 1, Ageing: l.Ageing, Cold: 1}
	if at != nil {
		f, err := ColdFactor(*at)
		if err != nil {
			return Sized{}, err
		}
		s.Cold = f
	}
	s.First = l.Ageing * (s.Rest + s.Alarm)
	if british && s.First/20 < float64(l.Alarm) {
		s.D = d
	}
	s.Load = s.Rest + s.D*s.Alarm
	s.Needed = l.Ageing * s.Cold * s.Load
	s.Publish = quantity.AmpereHour(math.Round(s.Needed*10) / 10)
	return s, nil
}

// cold is the table of IEEE 485 for lead-acid: degrees C, factor. It was taken from publications that quote it.
var cold = [][2]float64{{-4, 1.52}, {4, 1.30}, {10, 1.19}, {16, 1.11}, {21, 1.04}, {25, 1.00}}

// The range of ColdFactor, degrees C.
const (
	Coldest = -4
	Hottest = 50
)

// ColdFactor is what a lead-acid battery has to be larger by at its lowest temperature: the table of IEEE 485, straight
// lines between its points, from -4 to 25 degrees C; 1 above that, where heat costs life instead. Beyond -4 and 50 it is
// not determined: ErrInput.
func ColdFactor(at quantity.Celsius) (float64, error) {
	t := float64(at)
	if err := within(words.Mark("temperature"), t, Coldest, Hottest); err != nil {
		return 0, err
	}
	for i := 1; i < len(cold); i++ {
		a, b := cold[i-1], cold[i]
		if t <= b[0] {
			return a[1] + (b[1]-a[1])*(t-a[0])/(b[0]-a[0]), nil
		}
	}
	return 1, nil
}

// HeatLife is the life that is left of a lead-acid battery kept warmer than 25 degrees C: halved for each 8 to 10 degrees.
func HeatLife(at quantity.Celsius) (least, most float64) {
	over := math.Max(0, float64(at)-25)
	return math.Pow(2, -over/8), math.Pow(2, -over/10)
}

// Recharge is what charging takes.
type Recharge struct {
	Ampere float64 // into the battery
	Total  float64 // with the load at rest
}

// chargeEfficiency is the part of the charge that stays in a lead-acid battery.
const chargeEfficiency = 0.85

// RechargeIn is the current that brings a share of a capacity back within a time, and what the supply has to give with it:
//
//	I = share C / (t 0.85);  total = I + I_rest
//
// Source: for lead-acid, common practice; the duty says share and time.
func RechargeIn(c quantity.AmpereHour, share float64, in quantity.Second, rest quantity.Ampere) (Recharge, error) {
	if err := first(
		within(words.Mark("capacity"), float64(c), 1e-6, 1e4), within(words.Mark("share to be charged"), share, 0, 1),
		within(words.Mark("time to recharge"), float64(in), 1, 1e9), within(words.Mark("current at rest"), float64(rest), 0, 1000),
	); err != nil {
		return Recharge{}, err
	}
	i := share * float64(c) / (float64(in) / hour * chargeEfficiency)
	return Recharge{i, i + float64(rest)}, nil
}

// Curve is how long a battery lasts at a constant current: by the maker's table where it has points, else by Peukert's law,
// else as an ideal one with its rated capacity.
type Curve struct {
	Capacity quantity.AmpereHour
	Hours    float64 // in which Capacity is drawn; 0: 20
	Peukert  float64 // exponent; 0: none
	Points   []Point // of the table
}

// Point is one line of a maker's table: this current empties the battery in that time.
type Point struct {
	Hours  float64
	Ampere float64
}

// Sorted is the curve ready for use, or why it can not be: ErrInput. A longer time has to go with a smaller current.
func (c Curve) Sorted() (Curve, error) {
	if c.Hours == 0 {
		c.Hours = 20
	}
	err := first(within(words.Mark("capacity"), float64(c.Capacity), 1e-6, 1e4), within(words.Mark("hours of the rated capacity"), c.Hours, 0.01, 1000))
	if err == nil && c.Peukert != 0 {
		err = within(words.Mark("Peukert's exponent"), c.Peukert, 1, 1.6)
	}
	if err != nil {
		return c, err
	}
	c.Points = append([]Point(nil), c.Points...)
	sorts.By(c.Points, func(a, b Point) int {
		switch {
		case a.Hours < b.Hours:
			return -1
		case a.Hours > b.Hours:
			return 1
		}
		return 0
	})
	for i, p := range c.Points {
		if err := first(within(words.Mark("time of the discharge table"), p.Hours, 1e-3, 1e4), within(words.Mark("current of the discharge table"), p.Ampere, 1e-6, 1e4)); err != nil {
			return c, err
		}
		if i > 0 && (p.Hours == c.Points[i-1].Hours || p.Ampere >= c.Points[i-1].Ampere) {
			return c, said(words.Later("in the discharge table, %v A last %v h and %v A last %v h: a smaller current must last longer", c.Points[i-1].Ampere, c.Points[i-1].Hours, p.Ampere, p.Hours))
		}
	}
	return c, nil
}

// Runtime is how many hours a full battery lasts at a current; +Inf at none. c comes from Sorted.
//
//	Peukert: t = H (C / (I H))^k
//	table:   straight lines between its points on logarithmic scales
//
// Below the table's smallest current the charge of that line counts: less is not credited. Above its largest current
// nothing is known: ErrInput.
func (c Curve) Runtime(i quantity.Ampere) (float64, error) {
	amps := float64(i)
	if err := within(words.Mark("current"), amps, 0, 1e4); err != nil {
		return 0, err
	}
	if amps == 0 {
		return math.Inf(1), nil
	}
	if n := len(c.Points); n > 0 {
		last := c.Points[n-1]
		if amps <= last.Ampere {
			return last.Hours * last.Ampere / amps, nil
		}
		if amps > c.Points[0].Ampere {
			return 0, said(words.Later("the discharge table ends at %v A; %v A are drawn", c.Points[0].Ampere, amps))
		}
		for j := 1; j < n; j++ {
			a, b := c.Points[j-1], c.Points[j]
			if amps >= b.Ampere {
				part := math.Log(amps/a.Ampere) / math.Log(b.Ampere/a.Ampere)
				return a.Hours * math.Pow(b.Hours/a.Hours, part), nil
			}
		}
	}
	ideal := float64(c.Capacity) / amps
	if c.Peukert <= 1 || amps <= float64(c.Capacity)/c.Hours {
		return ideal, nil // slower than the rated time more is not credited
	}
	return c.Hours * math.Pow(float64(c.Capacity)/(amps*c.Hours), c.Peukert), nil
}

func first(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
