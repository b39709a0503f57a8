package supply

import (
	"math"

	"proofbell/electrical"
	"proofbell/internal/worked"
	"proofbell/quantity"
)

// Measures of the plot, in tenths of a millimetre.
const (
	plotWide, plotHigh   = 1600.0, 800.0
	plotLeft, plotTop    = 130.0, 70.0
	plotRight, plotUnder = 40.0, 120.0
	letters              = 34.0
)

// plot draws the discharge of the fitted battery, new and old, through the time that it has to carry and on until empty.
func (s *Supply) plot(t terms) []worked.Picture {
	l, c := s.lang, s.fitted()
	if c.Capacity == 0 {
		return nil
	}
	demanded := float64(t.load.Standby + t.load.AlarmTime)
	span := math.Ceil(demanded*1.25/3600/4) * 4 * 3600
	after := quantity.Second(span - demanded)
	spells := append(s.spells(t), electrical.Spell{Time: after, Current: t.load.Rest})
	step := quantity.Second(span / 200)
	fresh, errFresh := electrical.Discharged(c, 1, spells, step)
	aged, errAged := electrical.Discharged(c, 1/(t.size.Ageing*t.size.Cold), spells, step)
	if errFresh != nil || errAged != nil {
		return nil
	}
	p := worked.Picture{Title: l.Say("Discharge of the fitted battery"), Width: plotWide, Height: plotHigh}
	wide, high := plotWide-plotLeft-plotRight, plotHigh-plotTop-plotUnder
	x := func(at float64) float64 { return plotLeft + wide*at/span }
	y := func(left float64) float64 { return plotTop + high*(1-left) }
	p.Box(1, plotLeft, plotTop, wide, high)
	for i := range 5 {
		v := float64(i) / 4
		if i > 0 && i < 4 {
			p.Line(1, [2]float64{plotLeft, y(v)}, [2]float64{plotLeft + wide, y(v)}).Tone = "soft"
		}
		p.Write(plotLeft-14, y(v)+11, letters, "end", s.num(v*100, 0)+" %")
	}
	every := math.Max(2, math.Ceil(span/3600/8/2)*2)
	for h := 0.0; h*3600 <= span+1; h += every {
		p.Line(1, [2]float64{x(h * 3600), plotTop + high}, [2]float64{x(h * 3600), plotTop + high + 12})
		p.Write(x(h*3600), plotTop+high+50, letters, "middle", s.num(h, 0))
	}
	p.Write(plotLeft+wide, plotTop+high+100, letters, "end", l.Say("hours after the mains failed"))
	p.Write(plotLeft, plotTop-22, letters, "start", l.Say("charge left, of what the battery holds"))
	p.Line(3, [2]float64{x(demanded), plotTop}, [2]float64{x(demanded), plotTop + high}).Dashed = true
	p.Write(x(demanded)-12, plotTop+44, letters, "end", l.Say("to be carried: %s", s.hours(demanded))).Bold = true
	trace := func(weight float64, dashed bool, d electrical.Discharge) {
		points := make([][2]float64, 0, len(d.Points))
		for _, q := range d.Points {
			points = append(points, [2]float64{math.Round(x(float64(q.At))*10) / 10, math.Round(y(q.Left)*10) / 10})
		}
		p.Line(weight, points...).Dashed = dashed
		if d.Empty >= 0 {
			at := [2]float64{x(float64(d.Empty)), y(0)}
			p.Line(5, [2]float64{at[0] - 14, at[1] - 14}, [2]float64{at[0] + 14, at[1] + 14})
			p.Line(5, [2]float64{at[0] - 14, at[1] + 14}, [2]float64{at[0] + 14, at[1] - 14})
		}
	}
	trace(6, false, fresh)
	trace(5, true, aged)
	// The key stands where no line can be: under the left end of both.
	for i, key := range []struct {
		dashed bool
		say    string
	}{{false, l.Say("new, 25 °C")}, {true, l.Say("old and cold, as the factors say")}} {
		at := plotTop + high - 40 - float64(1-i)*52
		p.Line(6-float64(i), [2]float64{plotLeft + 24, at}, [2]float64{plotLeft + 124, at}).Dashed = key.dashed
		p.Write(plotLeft+140, at+11, letters, "start", key.say)
	}
	tell := func(d electrical.Discharge) string {
		if d.Empty >= 0 {
			return l.Say("empty after %s", s.hours(float64(d.Empty)))
		}
		return l.Say("%s %% left after %s", s.num(d.Left*100, 0), s.hours(span))
	}
	p.Say = l.Say("%s, %s A at rest, then %s A for %s. New: %s. Old and cold: %s. Planning estimate.", s.num(float64(c.Capacity), 2)+" Ah", s.num(float64(t.load.Rest), 3), s.num(float64(t.load.Alarm), 3),
		s.hours(float64(t.load.AlarmTime)), tell(fresh), tell(aged))
	return []worked.Picture{p}
}
