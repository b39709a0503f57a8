package electrical

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"proofbell/quantity"
)

func TestStandby(t *testing.T) {
	const h, min = 3600, 60
	for _, c := range []struct {
		name         string
		load         Load
		drawn, wants quantity.AmpereHour
	}{
		// 24 x 0.36 = 8.64; 4/60 x 1.30 = 0.0867; sum 8.7267; x 1.25 = 10.908
		{"4 min counted", Load{0.36, 1.30, 24 * h, 4 * min, 1.25}, 8.73, 10.9},
		// 8/60 x 1.30 = 0.1733; sum 8.8133; x 1.25 = 11.017
		{"8 min counted", Load{0.36, 1.30, 24 * h, 8 * min, 1.25}, 8.81, 11.0},
		// 0.12 x 24 = 2.88; 0.90 x 4/60 = 0.06; sum 2.94; x 1.20 = 3.528
		{"household, factor 1.20", Load{0.12, 0.90, 24 * h, 4 * min, 1.20}, 2.94, 3.5},
		// 1.25 (0.18 x 24 + 1.1 x 0.5) = 1.25 x 4.87 = 6.0875
		{"British 24 h and 30 min", Load{0.18, 1.1, 24 * h, 30 * min, 1.25}, 4.87, 6.1},
		{"nothing connected", Load{Ageing: 1}, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := Standby(c.load)
			if err != nil || got != (Sum{c.drawn, c.wants}) {
				t.Errorf("got %+v, %v; want %v Ah drawn, %v Ah to fit", got, err, c.drawn, c.wants)
			}
		})
	}
}

func TestStandbyRefusesNonsense(t *testing.T) {
	good := Load{0.36, 1.30, 86400, 240, 1.25}
	for name, spoil := range map[string]func(*Load){
		"negative rest":   func(l *Load) { l.Rest = -0.1 },
		"infinite alarm":  func(l *Load) { l.Alarm = quantity.Ampere(math.Inf(1)) },
		"no number":       func(l *Load) { l.Rest = quantity.Ampere(math.NaN()) },
		"endless standby": func(l *Load) { l.Standby = 1e12 },
		"no ageing":       func(l *Load) { l.Ageing = 0 },
	} {
		l := good
		spoil(&l)
		if _, err := Standby(l); !errors.Is(err, ErrInput) {
			t.Errorf("%s: got %v, want ErrInput", name, err)
		}
	}
}

// More of anything never asks for a smaller battery.
func TestStandbyGrows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := Load{
			Rest: quantity.Ampere(rapid.Float64Range(0, 5).Draw(t, "rest")), Alarm: quantity.Ampere(rapid.Float64Range(0, 10).Draw(t, "alarm")),
			Standby: quantity.Second(rapid.Float64Range(0, 72*3600).Draw(t, "standby")), AlarmTime: quantity.Second(rapid.Float64Range(0, 3600).Draw(t, "alarmTime")),
			Ageing: rapid.Float64Range(1, 2).Draw(t, "ageing"),
		}
		more := l
		more.AlarmTime += quantity.Second(rapid.Float64Range(0, 3600).Draw(t, "longer"))
		more.Rest += quantity.Ampere(rapid.Float64Range(0, 1).Draw(t, "hungrier"))
		a, errA := Standby(l)
		b, errB := Standby(more)
		if errA != nil || errB != nil || b.Needed < a.Needed || b.Load < a.Load {
			t.Fatalf("%+v asks for %+v (%v), the larger %+v for %+v (%v)", l, a, errA, more, b, errB)
		}
	})
}
