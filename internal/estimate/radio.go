package estimate

import (
	"math"

	"proofbell/geom"
	"proofbell/internal/building"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/radio"
	"proofbell/site"
)

// RadioTold is what was measured on site of the radio links. The zero value is nothing.
type RadioTold struct {
	Levels []RadioLevel
	Lost   map[site.DeviceID]float64 // share of a device's check-ins that did not arrive, 0 to 1, from its history or a walk test
}

// RadioLevel is a level measured at a receiver.
type RadioLevel struct {
	Entry  string // of the job book
	Device site.DeviceID
	To     site.DeviceID     // the receiver; "" the panel
	At     *site.Coordinates // where the transmitter was held; nil: where the device is
	DBm    float64

	Out words.Text // by what change it is out of date: then it counts for nothing; see Radio.Stale
}

// Radio is what the radio model says of a site. Lengths are metres, levels dBm, gains dBi, losses and margins dB, all
// rounded to what is shown: the figures of a hop add up as they stand.
type Radio struct {
	Frequency quantity.Hertz
	Wanted    float64 // margin that every link should have
	Sigma     float64 // shadowing
	Links     []RadioLink
	Receivers []Receiver
	Assumed   []words.Text
	Missing   []words.Text // without which no link can be determined
	Fit       *RadioFit    // what measured levels made of the model; nil: too few were measured

	site   *site.Site
	levels []RadioLevel
	b      *building.Building
	wall   []building.Loss // of each piece
	pieces []Passed        // the same, as a hop shows it

	carries  float64     // width from which on an opening carries the wave, m
	narrow   bool        // there are narrower ones
	rough    bool        // roughly has said it
	gainless bool        // the same of antennas
	scene    *geom.Scene // see rays
}

// Receiver is what hears radio devices: the panel, a second receiver wired to it, or a repeater.
type Receiver struct {
	Device      site.DeviceID // "" for the panel
	At          geom.Point3
	Gain        float64
	Sensitivity float64
	Wired       bool
	Power       float64 // of a repeater's transmitter
	Back        *Hop    // a repeater's own way to the panel; nil: it has none

	lack *words.Text // why no way to it can be followed; nil: they can
}

// RadioLink is one device and its way to the panel.
type RadioLink struct {
	Device   site.DeviceID
	Hops     []Hop   // to the receiver that hears it best and, from a repeater, on to the panel; none: the way is not known
	Margin   float64 // of its weakest hop, estimated; NaN: not determined
	Counts   float64 // what the verdict rests on: the same with measured levels in place of estimated ones; NaN: not determined
	ByLevel  bool    // the weakest hop of that was measured
	Weakest  Hop     // the weakest hop of that, where it was estimated
	Works    float64 // probability that such a placement works, for all hops together
	Verdict  Verdict
	Measured *float64           // margin by the newest level measured on the link itself
	False    *float64           // times a year that it is reported lost for nothing; nil: see FalseWhy
	FalseWhy words.Text         // why there is none
	Watched  *radio.Supervision // behind False
	Missing  []words.Text
}

// Hop is one radio way.
type Hop struct {
	From, To    site.DeviceID // To "" is the panel
	Distance    float64
	Power       float64
	Gains       [2]float64
	Free        float64    // loss of the distance
	Model       words.Text // how the distance is counted
	Source      words.Text
	Crossed     []Passed
	Fitted      float64 // what measured levels add
	Received    float64
	Sensitivity float64
	Margin      float64
}

// Passed is a wall, leaf or floor on a way.
type Passed struct {
	Name   words.Text // what it is made of
	Where  words.Text
	DB     float64
	Source words.Text
	Grade  string
	Known  bool
}

// walls is what stands in the way, together.
func (h Hop) walls() (sum float64) {
	for _, c := range h.Crossed {
		sum += c.DB
	}
	return round1(sum)
}

func (h Hop) known() bool {
	for _, c := range h.Crossed {
		if !c.Known {
			return false
		}
	}
	return true
}

func round1(x float64) float64 { return math.Round(x*10) / 10 }

// RadioOf estimates every radio link of a site. b is its building, or nil.
func RadioOf(s *site.Site, b *building.Building, told RadioTold) *Radio {
	if b == nil {
		b = building.Of(s)
	}
	r := &Radio{site: s, b: b}
	fresh := make([]RadioLevel, 0, len(told.Levels))
	for _, l := range told.Levels {
		if l.Out.String() == "" {
			fresh = append(fresh, l)
		}
	}
	told.Levels = fresh
	r.setUp()
	if len(r.Missing) > 0 {
		for _, id := range r.devices() {
			l := RadioLink{Device: id, Margin: math.NaN(), Counts: math.NaN(), Verdict: NotDetermined, Missing: r.Missing}
			m, _ := s.ModelOf(id)
			r.losses(&l, m, told)
			r.Links = append(r.Links, l)
		}
		return r
	}
	r.levels = told.Levels
	r.fit(told.Levels)
	r.receivers()
	for _, id := range r.devices() {
		r.Links = append(r.Links, r.link(id, told))
	}
	return r
}

// Site is the site that was asked about.
func (r *Radio) Site() *site.Site { return r.site }

func (r *Radio) assume(t words.Text) {
	for _, have := range r.Assumed {
		if have.String() == t.String() {
			return
		}
	}
	r.Assumed = append(r.Assumed, t)
}

// setUp reads what holds for all links.
func (r *Radio) setUp() {
	p := r.site.Panel.Radio
	lack := func(missing bool, t words.Text) {
		if missing {
			r.Missing = append(r.Missing, t)
		}
	}
	r.Frequency = quantity.Hertz(p.Frequency.SI())
	lack(p.Frequency.IsZero(), words.Later("frequency of the panel's radio"))
	lack(!p.Frequency.IsZero() && !(r.Frequency >= 100e6 && r.Frequency <= 6e9), words.Later("a frequency of the panel's radio between 100 MHz and 6 GHz"))
	lack(p.Sensitivity.IsZero(), words.Later("sensitivity of the panel's receiver"))
	_, assumed, placed := r.b.Place(r.site.Panel.At, r.site.Panel.Room)
	lack(!placed, words.Later("place of the panel"))
	if len(r.Missing) > 0 {
		return
	}
	if assumed {
		r.assume(words.Later("The panel's place or height is not given: the ceiling of its room is taken."))
	}
	r.Wanted = p.WantedMargin.SI()
	if r.Wanted < 0 {
		r.assume(words.Later("A wanted margin below 0 dB is none; it counts as not given."))
	}
	if p.WantedMargin.IsZero() || !(r.Wanted >= 0) {
		r.Wanted = UsualWanted(r.Frequency)
		r.assume(words.Later("Wanted margin not given: %s dB, the rule of thumb for this band.", words.Figure(r.Wanted, -1)))
	}
	if r.Sigma = p.Shadowing.SI(); !(r.Sigma >= 0.1 && r.Sigma <= 40) {
		r.Sigma = 8
		if r.business() {
			r.Sigma = 10
		}
		r.assume(words.Later("Shadowing not given, or not between 0.1 and 40 dB: %s dB (ITU-R P.1238, homes 8, offices and shops 10).", words.Figure(r.Sigma, -1)))
	}
	r.walls()
	r.assume(words.Later("All doors, hatches and windows shut; people, furniture and machines in the rooms are not counted: the wanted margin is for them."))
}

// UsualWanted is the rule of thumb for the margin of a link, dB: 20 below 600 MHz, 15 above.
func UsualWanted(f quantity.Hertz) float64 {
	if f < 600e6 {
		return 20
	}
	return 15
}

// devices are the radio devices, repeaters included, in natural order.
func (r *Radio) devices() (ids []site.DeviceID) {
	for _, id := range site.SortedIDs(r.site.Devices) {
		if m, _ := r.site.ModelOf(id); m.Link == "radio" {
			ids = append(ids, id)
		}
	}
	return ids
}

func (r *Radio) roughly() {
	if r.rough {
		return
	}
	r.rough = true
	r.assume(words.Later("Devices without a place or a height are taken in the middle, or at the ceiling, of their room."))
}

// receivers finds what listens, and a repeater's own way on.
func (r *Radio) receivers() {
	p := r.site.Panel
	at, _, _ := r.b.Place(p.At, p.Room)
	r.Receivers = []Receiver{{At: at, Gain: p.Radio.Antenna.SI(), Sensitivity: p.Radio.Sensitivity.SI(), Wired: true, lack: r.lack("", p.Room, at)}}
	if p.Radio.Antenna.IsZero() {
		r.assume(words.Later("Gain of the panel's antenna not given: 0 dBi."))
	}
	for _, id := range site.SortedIDs(r.site.Devices) {
		m, _ := r.site.ModelOf(id)
		d := r.site.Devices[id]
		if m.Class != "repeater" {
			continue
		}
		at, assumed, placed := r.b.Place(d.At, d.Room)
		if !placed {
			r.assume(words.Later("%s has no place: it is left out.", id))
			continue
		}
		if assumed {
			r.roughly()
		}
		one := Receiver{
			Device: id, At: at, Gain: m.Antenna.SI(), Sensitivity: m.Sensitivity.SI(), Wired: m.Link == "wired", Power: m.TransmitPower.SI(),
			lack: r.lack(id, d.Room, at),
		}
		if m.Antenna.IsZero() {
			r.assume(words.Later("%s: gain of its antenna not given: 0 dBi.", m.Name))
		}
		if m.Sensitivity.IsZero() {
			one.Sensitivity = p.Radio.Sensitivity.SI()
			r.assume(words.Later("%s: sensitivity not given, taken as the panel's.", m.Name))
		}
		if !one.Wired && m.TransmitPower.IsZero() {
			r.assume(words.Later("%s: transmit power not given: it is left out.", m.Name))
			continue
		}
		r.Receivers = append(r.Receivers, one)
	}
	for i := range r.Receivers {
		if one := &r.Receivers[i]; !one.Wired {
			one.Back = r.back(one)
		}
	}
}

// back is the best way from a repeater to a receiver that is wired; nil when no way is known.
func (r *Radio) back(from *Receiver) (best *Hop) {
	for _, to := range r.Receivers {
		if to.Wired {
			if h := r.hop(from.Device, from.At, from.Power, from.Gain, to, from.lack); h.known() && (best == nil || h.Margin > best.Margin) {
				best = &h
			}
		}
	}
	return best
}

// business reports premises whose rooms are those of an office rather than of a home.
func (r *Radio) business() bool {
	switch r.site.Premises.Use {
	case "office", "shop", "workshop":
		return true
	}
	return false
}

// heard is the margin by the newest level of a device measured at a receiver; nil: none was.
func (r *Radio) heard(id site.DeviceID, to Receiver) (margin *float64) {
	for _, level := range r.levels {
		if level.Device == id && level.At == nil && level.To == to.Device {
			m := round1(level.DBm - round1(to.Sensitivity))
			margin = &m
		}
	}
	return margin
}

// counts is the margin of a repeater's own way: what was measured of it, else the estimate.
func (r *Radio) counts(repeater Receiver) (margin float64, measured bool) {
	for _, to := range r.Receivers {
		if to.Device == repeater.Back.To {
			if m := r.heard(repeater.Device, to); m != nil {
				return *m, true
			}
		}
	}
	return repeater.Back.Margin, false
}

// link finds the way of a device with the largest margin, measured ones above estimated ones.
func (r *Radio) link(id site.DeviceID, told RadioTold) RadioLink {
	m, _ := r.site.ModelOf(id)
	d := r.site.Devices[id]
	l := RadioLink{Device: id, Margin: math.NaN(), Counts: math.NaN(), Verdict: NotDetermined}
	at, assumed, placed := r.b.Place(d.At, d.Room)
	if !placed {
		l.Missing = append(l.Missing, words.Later("place of the device"))
	}
	if m.TransmitPower.IsZero() {
		l.Missing = append(l.Missing, words.Later("transmit power of %s", words.Typed(m.Name)))
	}
	r.losses(&l, m, told)
	if assumed {
		r.roughly()
	}
	if m.Antenna.IsZero() && !r.gainless {
		r.gainless = true
		r.assume(words.Later("Antenna gain of a device not given: 0 dBi, its transmit power is taken as radiated."))
	}
	lack := r.lack(id, d.Room, at)
	var lacks []Passed
	for _, to := range r.Receivers {
		if to.Device == id || m.Class == "repeater" && !to.Wired || !to.Wired && to.Back == nil {
			continue
		}
		one := RadioLink{Margin: math.NaN(), Measured: r.heard(id, to)}
		if len(l.Missing) == 0 {
			if h := r.hop(id, at, m.TransmitPower.SI(), m.Antenna.SI(), to, lack); h.known() {
				one.Hops, one.Margin, one.Weakest = []Hop{h}, h.Margin, h
			} else {
				lacks = append(lacks, h.Crossed...)
			}
		}
		one.Counts = one.Margin
		if one.Measured != nil {
			one.Counts, one.ByLevel = *one.Measured, true
		}
		if to.Back != nil {
			if one.Hops != nil {
				one.Hops, one.Margin = append(one.Hops, *to.Back), math.Min(one.Margin, to.Back.Margin)
			}
			if on, measured := r.counts(to); on < one.Counts {
				one.Counts, one.ByLevel, one.Weakest = on, measured, *to.Back
			}
		}
		if !math.IsNaN(one.Counts) && (math.IsNaN(l.Counts) || one.Counts > l.Counts) {
			l.Hops, l.Margin, l.Measured, l.Counts, l.ByLevel, l.Weakest = one.Hops, one.Margin, one.Measured, one.Counts, one.ByLevel, one.Weakest
		}
	}
	if math.IsNaN(l.Counts) {
		for _, c := range lacks {
			if !c.Known {
				l.Missing = append(l.Missing, c.Source)
				break
			}
		}
		return l
	}
	l.Missing = nil // a level that was measured asks for nothing more
	if l.Hops != nil {
		l.Works = 1
		for _, h := range l.Hops {
			p, _ := radio.Works(quantity.DB(h.Margin), quantity.DB(r.Sigma))
			l.Works *= p
		}
	}
	l.Verdict = r.Judge(l.Counts)
	return l
}

// Judge says what the margin of a link is worth: the wanted margin is the allowance for what the model does not know.
func (r *Radio) Judge(margin float64) Verdict {
	switch {
	case math.IsNaN(margin):
		return NotDetermined
	case round1(margin) >= round1(r.Wanted):
		return Enough
	case margin >= 0:
		return Doubtful
	}
	return TooLittle
}

// losses counts how often a device is reported lost for nothing, from the share of check-ins that were seen to be lost.
func (r *Radio) losses(l *RadioLink, m site.Model, told RadioTold) {
	lost, ok := told.Lost[l.Device]
	every := m.Reports.SI()
	switch {
	case !ok:
		l.FalseWhy = words.Later("Not determined: no loss of check-ins was measured. A margin does not tell it: shadowing is a property of the place, not of the message.")
		return
	case every <= 0:
		l.FalseWhy = words.Later("Not determined: how often the device reports is not given.")
		return
	case lost == 0:
		l.FalseWhy = words.Later("No check-in was lost while it was measured: reports for nothing are too rare to be told from that.")
		return
	}
	window := math.Inf(1)
	for _, z := range r.site.Zones {
		if w, err := quantity.Parse[quantity.DurationDimension](z.LossWindow); z.Device == l.Device && err == nil {
			window = math.Min(window, w.SI())
		}
	}
	misses := math.Floor(window / every)
	if math.IsInf(window, 1) {
		l.FalseWhy = words.Later("Not determined: no zone of the device gives a loss window.")
		return
	}
	if !(misses >= 1 && misses <= 100) {
		l.FalseWhy = words.Later("Not determined: the loss window of %s s holds %s check-ins of %s s; 1 to 100 are reckoned with.", words.Figure(window, -1), words.Figure(misses, -1), words.Figure(every, -1))
		return
	}
	s := radio.Supervision{Lost: lost, Misses: int(misses), Every: quantity.Second(every)}
	a, err := s.FalseLosses(1)
	if err != nil {
		l.FalseWhy = words.Later("Not determined: every check-in was lost while it was measured.")
		return
	}
	l.False, l.Watched = &a, &s
}
