package electrical

import (
	"math"

	"proofbell/internal/words"
	"proofbell/quantity"
)

// RadioCell is the battery of a radio device and what draws on it.
type RadioCell struct {
	Capacity      quantity.AmpereHour
	Usable        float64 // part of it before the device stops
	SelfDischarge float64 // part lost in a year at 20 degrees C
	Shelf         quantity.Second
	Alkaline      bool

	Sleep    quantity.Ampere
	Send     quantity.Ampere
	Every    quantity.Second // between check-ins; 0: none
	CheckIn  quantity.Second // on the air for one
	Event    quantity.Second // on the air for an event
	Events   float64         // a day
	Coldest  *quantity.Celsius
	Warmest  *quantity.Celsius
	Promised quantity.Second // the maker's own figure; 0: none
}

// CellLife is what such a battery lasts, with its terms.
type CellLife struct {
	Sleep, CheckIn, Event, Self, Total float64 // A, averages
	Cold                               float64 // factor on what can be drawn in the cold
	Usable                             float64 // Ah
	Arithmetic                         quantity.Second
	Life                               quantity.Second // what counts
	Limit                              string          // draw, shelf, maker: which of them it is
}

const day, year = 86400, 31557600

// Life is how long it lasts:
//
//	I = I_sleep + I_send t_checkin / T + n I_send t_event / 24 h + C s 2^((T_warm - 20)/10) / 1 y
//	life = C u c / I
//
// c is what the cold leaves: 1 down to 10 degrees C, then falling in a straight line to 0.7 (lithium) or 0.25 (alkaline)
// at -20. Self-discharge doubles for each 10 degrees C above 20. Both are orders of magnitude. Never more than the cell's
// shelf life or the maker's figure. A planning estimate.
func (r RadioCell) Life() (CellLife, error) {
	cool, warm := 20.0, 20.0
	if r.Coldest != nil {
		cool = float64(*r.Coldest)
	}
	if r.Warmest != nil {
		warm = float64(*r.Warmest)
	}
	err := first(
		within(words.Mark("capacity"), float64(r.Capacity), 1e-6, 1e3), within(words.Mark("usable part"), r.Usable, 0.01, 1), within(words.Mark("self-discharge"), r.SelfDischarge, 0, 1),
		within(words.Mark("shelf life"), float64(r.Shelf), day, 100*year), within(words.Mark("current asleep"), float64(r.Sleep), 0, 10), within(words.Mark("current while sending"), float64(r.Send), 0, 100),
		within(words.Mark("time between check-ins"), float64(r.Every), 0, 100*day), within(words.Mark("time on the air for a check-in"), float64(r.CheckIn), 0, day),
		within(words.Mark("time on the air for an event"), float64(r.Event), 0, day), within(words.Mark("events a day"), r.Events, 0, 1e6),
		within(words.Mark("lowest temperature"), cool, -20, 60), within(words.Mark("highest temperature"), warm, -20, 60),
	)
	if err != nil {
		return CellLife{}, err
	}
	l := CellLife{Sleep: float64(r.Sleep), Event: r.Events * float64(r.Send) * float64(r.Event) / day, Cold: 1}
	if r.Every > 0 {
		l.CheckIn = float64(r.Send) * float64(r.CheckIn) / float64(r.Every)
	}
	l.Self = float64(r.Capacity) * r.SelfDischarge * math.Pow(2, math.Max(0, warm-20)/10) * hour / year
	l.Total = l.Sleep + l.CheckIn + l.Event + l.Self
	if cool < 10 {
		least := 0.7
		if r.Alkaline {
			least = 0.25
		}
		l.Cold = 1 - (1-least)*(10-cool)/30
	}
	l.Usable = float64(r.Capacity) * r.Usable * l.Cold
	l.Life, l.Limit = r.Shelf, "shelf"
	l.Arithmetic = quantity.Second(math.Inf(1))
	if l.Total > 0 {
		l.Arithmetic = quantity.Second(l.Usable / l.Total * hour)
	}
	if l.Arithmetic < l.Life {
		l.Life, l.Limit = l.Arithmetic, "draw"
	}
	if r.Promised > 0 && r.Promised < l.Life {
		l.Life, l.Limit = r.Promised, "maker"
	}
	return l, nil
}
