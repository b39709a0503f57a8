// Package circuit reads the wired circuits of a site: what stands at each device of a sounder circuit at the end of the
// battery, and what a resistance measured on a supervised input means. It turns the members of the site file into the plain
// numbers of package electrical, and the answers into sheets with every term. All functions are pure; texts are in the
// reader's language.
package circuit

import (
	"errors"
	"math"

	"proofbell/electrical"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/site"
)

const (
	// usualWarm stands in for a conductor temperature that nobody gave: that of the table, warmer than any alarm cable.
	usualWarm quantity.Celsius = 75
	// cold is how cool the copper may be when a loop is measured: the low side of its window.
	cold quantity.Celsius = 0
	// room is the temperature at which a cable was measured, when nobody says another.
	room quantity.Celsius = 20
	// tinnedMore is the resistance of tinned copper against bare: coated and uncoated columns of NEC chapter 9 table 8 [H GK].
	tinnedMore = 1.04
)

// wiring is a circuit as plain numbers, with what is missing for them and what was assumed.
type wiring struct {
	lang    *words.Language
	site    *site.Site
	circuit site.Circuit
	at      string // JSON pointer of the circuit; empty: of no site

	ids   []site.PartID
	index map[site.PartID]int
	feed  electrical.Feed

	missing, assumed []string
}

func newWiring(lang *words.Language, s *site.Site, c site.Circuit, at string) *wiring {
	w := &wiring{lang: lang, site: s, circuit: c, at: at, ids: site.SortedIDs(c.Parts), index: map[site.PartID]int{}}
	for i, id := range w.ids {
		w.index[id] = i
	}
	return w
}

func (w *wiring) lack(say string)   { w.missing = append(w.missing, say) }
func (w *wiring) assume(say string) { w.assumed = append(w.assumed, say) }

// name is what people call a part.
func (w *wiring) name(id site.PartID) string {
	p := w.circuit.Parts[id]
	switch {
	case p.Name != "":
		return p.Name
	case p.Device != "":
		return string(p.Device)
	}
	return string(id)
}

func (w *wiring) model(p site.CircuitPart) site.Model {
	return w.site.Models[w.site.Devices[p.Device].Model]
}

// draw is what a part draws in alarm, and the voltage down to which it works.
func (w *wiring) draw(p site.CircuitPart) (current quantity.Current, power quantity.Power, least quantity.Voltage) {
	current, power, least = p.Current, p.Power, p.Least
	m := w.model(p)
	if current.IsZero() && power.IsZero() {
		if current = m.AlarmCurrent; current.IsZero() {
			current = m.RestCurrent
		}
	}
	if least.IsZero() {
		least = m.LeastVoltage
	}
	return current, power, least
}

// warm is the temperature of the copper that is reckoned with.
func (w *wiring) warm() quantity.Celsius {
	if t := w.circuit.Cable.Temperature; !t.IsZero() {
		return quantity.InCelsius(t)
	}
	return usualWarm
}

// perMetre is the resistance of one conductor, ohm per metre: of the size given, or of the cable as it was measured.
func (w *wiring) perMetre(size quantity.Conductor, at quantity.Celsius) (float64, error) {
	c := w.circuit.Cable
	if !c.Measured.IsZero() && !c.Over.IsZero() && (size.IsZero() || size == c.Conductor) {
		then := room
		if !c.While.IsZero() {
			then = quantity.InCelsius(c.While)
		}
		return electrical.Measured(quantity.Ohm(c.Measured.SI()), quantity.Metre(c.Over.SI()), then, at)
	}
	if size.IsZero() {
		size = c.Conductor
	}
	if size.IsZero() {
		return 0, errNoConductor
	}
	if c.Material == "other" {
		return 0, errMeasure
	}
	wire, err := electrical.FindWire(size)
	if err != nil {
		return 0, err
	}
	r, err := wire.PerMetre(c.Strand != "solid", at)
	if c.Material == "tinned" {
		r *= tinnedMore
	}
	return r, err
}

var (
	errNoConductor = errors.New("no conductor")
	errMeasure     = errors.New("measure")
)

// noteCable says what is assumed of the cable.
func (w *wiring) noteCable() {
	c := w.circuit.Cable
	if c.Temperature.IsZero() {
		w.assume(w.lang.Say("the copper is %s °C warm, that of the table", w.lang.Number(float64(usualWarm), 0)))
	}
	measured := !c.Measured.IsZero() && !c.Over.IsZero()
	if kind, _ := c.Conductor.Gauge(); c.Strand == "" && !measured && kind == quantity.AWG {
		w.assume(w.lang.Say("the conductor is stranded, which has a little more resistance than a solid one"))
	}
	if c.Material == "" && !measured && !c.Conductor.IsZero() {
		w.assume(w.lang.Say("the conductor is bare copper"))
	}
	if measured && c.While.IsZero() {
		w.assume(w.lang.Say("the cable was measured at %s °C", w.lang.Number(float64(room), 0)))
	}
}

// build makes the feed of the circuit with a conductor in place of the cable's own; the zero value keeps that. ok is false
// when something is missing.
func (w *wiring) build(instead quantity.Conductor) (f electrical.Feed, ok bool) {
	before := len(w.missing)
	c := w.circuit
	if c.Supply.IsZero() {
		w.lack(w.lang.Say("supply voltage at its worst, from the panel's instructions"))
	}
	if len(w.ids) == 0 {
		w.lack(w.lang.Say("the devices along the cable"))
	}
	f = electrical.Feed{Volt: quantity.Volt(c.Supply.SI()), Inner: quantity.Ohm(c.Inner.SI()), Back: -1}
	draws, said := false, false
	ohm := func(length quantity.Length, own quantity.Conductor, of string) quantity.Ohm {
		if length.IsZero() {
			w.lack(w.lang.Say("%s: length of its cable", of))
			return 0
		}
		size := own
		if size.IsZero() {
			size = instead
		}
		r, err := w.perMetre(size, w.warm())
		if err != nil && !said {
			said = own.IsZero() // the circuit's cable is missing once
			switch {
			case errors.Is(err, errNoConductor):
				w.lack(w.lang.Say("conductor of the cable, or what a length of it measured"))
			case errors.Is(err, errMeasure):
				w.lack(w.lang.Say("what a length of the cable measured: no table knows its material"))
			default:
				w.lack(words.Said(err).In(w.lang))
			}
		}
		return quantity.Ohm(2 * length.SI() * r)
	}
	for _, id := range w.ids {
		p := c.Parts[id]
		current, power, least := w.draw(p)
		part := electrical.Part{Name: w.name(id), From: -1, Ohm: ohm(p.Length, p.Wire, w.name(id)), Current: quantity.Ampere(current.SI()), Power: quantity.Watt(power.SI()), Least: quantity.Volt(least.SI())}
		if p.From != "" {
			part.From = w.index[p.From]
		}
		if p.Device != "" && current.IsZero() && power.IsZero() {
			w.lack(w.lang.Say("%s: current in alarm", part.Name))
		}
		draws = draws || part.Current > 0 || part.Power > 0
		f.Parts = append(f.Parts, part)
	}
	if c.Ring.From != "" {
		f.Back, f.BackOhm = w.index[c.Ring.From], ohm(c.Ring.Length, c.Ring.Wire, w.lang.Say("way back of the ring"))
	}
	if len(w.ids) > 0 && !draws && len(w.missing) == before {
		w.lack(w.lang.Say("what the devices draw in alarm"))
	}
	return f, len(w.missing) == before
}

// lengthTo is the length of the cable from the panel to a part, metres.
func (w *wiring) lengthTo(id site.PartID) float64 {
	way := 0.0
	for at := id; at != ""; at = w.circuit.Parts[at].From {
		way += w.circuit.Parts[at].Length.SI()
	}
	return way
}

// farthest is the length of the longest way and the part at its end.
func (w *wiring) farthest() (metres float64, end site.PartID) {
	for _, id := range w.ids {
		if way := w.lengthTo(id); end == "" || way > metres {
			metres, end = way, id
		}
	}
	return metres, end
}

// metres writes a length in the units of the site.
func (w *wiring) metres(m float64) string {
	if w.site.Premises.Units == "imperial" {
		return w.lang.Say("%s ft", w.lang.Number(m/0.3048, 0))
	}
	if m < 10 {
		return w.lang.Say("%s m", w.lang.Number(m, 1))
	}
	return w.lang.Say("%s m", w.lang.Number(m, 0))
}

// ohms writes a resistance with three figures: "439 ohm", "4.7 kilohm"; infinite is open.
func ohms(lang *words.Language, r float64) string {
	switch {
	case math.IsInf(r, 1):
		return lang.Say("open")
	case r >= 1e6:
		return lang.Say("%s megohm", lang.Number(quantity.Round(r/1e6, 2), -1))
	case r >= 10000:
		return lang.Say("%s kilohm", lang.Number(quantity.Round(r/1000, 1), -1))
	case r >= 1000:
		return lang.Say("%s kilohm", lang.Number(quantity.Round(r/1000, 2), -1))
	case r >= 100:
		return lang.Say("%s ohm", lang.Number(quantity.Round(r, 0), -1))
	}
	return lang.Say("%s ohm", lang.Number(quantity.Round(r, 1), -1))
}
