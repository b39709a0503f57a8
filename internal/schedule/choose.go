package schedule

import (
	"slices"

	"proofbell/geom"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/signal"
	"proofbell/site"
)

// kindOf chooses the kind of zone for what a terminal senses; say is the reason, or why there is none.
func kindOf(c *candidate, s *site.Site, doors *doors) (kind site.ZoneKind, say string) {
	switch c.senses {
	case site.SensesSmoke:
		return site.Smoke, c.lang.Say("It senses smoke. Verification is never chosen by itself.")
	case site.SensesThree:
		if s.Devices[c.device].Hears == "" {
			c.remarks = append(c.remarks, c.lang.Say("Which group of heads it hears is not entered."))
		}
		return site.Smoke, c.lang.Say("It hears the three-pulse pattern of the smoke alarms.")
	case site.SensesHeat:
		return site.Heat, c.lang.Say("It senses heat.")
	case site.SensesCO:
		return site.CO, c.lang.Say("It senses carbon monoxide.")
	case site.SensesFour:
		return site.CO, c.lang.Say("It hears the four-pulse pattern of the CO alarms.")
	case site.SensesGas:
		return site.Gas, c.lang.Say("It senses gas.")
	case site.SensesFirePush:
		return site.CallPoint, c.lang.Say("Somebody presses it when there is a fire; it is never verified.")
	case site.SensesPanic:
		c.remarks = append(c.remarks, c.lang.Say("Quiet or loud is the owner's choice."))
		return site.PanicQuiet, c.lang.Say("It calls for help without a sound that could provoke.")
	case site.SensesMotion:
		return site.Inside, c.lang.Say("Motion inside: waits while an entry delay is running.")
	case site.SensesGlass:
		return site.Perimeter, c.lang.Say("Breaking glass is the outer skin: at once, also with people inside.")
	case site.SensesWater:
		return site.Water, c.lang.Say("It senses water.")
	case site.SensesCold:
		return site.Cold, c.lang.Say("It senses cold.")
	case site.SensesKey:
		return site.Keyswitch, c.lang.Say("It arms and disarms.")
	case site.SensesContact:
		c.remarks = append(c.remarks, c.lang.Say("What drives this contact is not known. Check the kind."))
		return site.Trouble, c.lang.Say("A dry contact of something else: trouble only, until somebody says more.")
	case site.SensesOpening:
		return doors.kind(c, s)
	case "":
		return "", c.lang.Say("What this terminal senses is not entered.")
	}
	return "", c.lang.Say("What %q means for a zone is not known.", c.senses)
}

var openingSay = map[string]string{"window": words.Mark("window"), "hatch": words.Mark("hatch")}

// doors knows which areas have a door to come in by.
type doors struct {
	entries map[site.AreaID]bool
}

func newDoors(s *site.Site, _ *panel.Profile) *doors {
	d := &doors{map[site.AreaID]bool{}}
	for _, z := range s.Zones {
		if z.Kind == site.Entry1 || z.Kind == site.Entry2 {
			d.entries[z.Area] = true
		}
	}
	return d
}

// near is the largest distance in metres between a contact and the middle of the opening it watches.
const near = 1.5

// opening finds the opening that a contact watches: the nearest of its room within reach.
func opening(s *site.Site, c *candidate) (o site.Opening, ok bool) {
	at, known := s.Devices[c.device].At.Point()
	if !known {
		return o, false
	}
	best := near
	for _, id := range site.SortedIDs(s.Openings) {
		x := s.Openings[id]
		p, known := x.At.Point()
		if known && slices.Contains(x.Rooms, c.room) && p.Distance(at) < best-geom.Near {
			best, o, ok = p.Distance(at), x, true
		}
	}
	return o, ok
}

// kind chooses among the kinds of doors. Every area that arms needs a door with an entry delay; the first one without takes it.
func (d *doors) kind(c *candidate, s *site.Site) (site.ZoneKind, string) {
	o, ok := opening(s, c)
	outside := len(o.Rooms) == 1
	switch {
	case !ok:
		c.remarks = append(c.remarks, c.lang.Say("Which opening it watches is not known. Check the kind."))
		return site.Perimeter, c.lang.Say("An opening: at once, also with people inside.")
	case o.Kind == "window" || o.Kind == "hatch":
		return site.Perimeter, c.lang.Say("It watches a %s: at once, also with people inside.", c.lang.Word(openingSay[o.Kind]))
	case !d.entries[c.area]:
		d.entries[c.area] = true
		c.remarks = append(c.remarks, c.lang.Say("Check that people come in by this door."))
		return site.Entry1, c.lang.Say("Area %s had no door with an entry delay, and without one nobody could come in and disarm.", c.area)
	case outside:
		return site.Perimeter, c.lang.Say("A door to the outside; the area has an entry door already.")
	}
	return site.Inside, c.lang.Say("A door between rooms: waits while an entry delay is running.")
}

// choice makes the zone.
func (c candidate) choice(s *site.Site, p *panel.Profile, l *labeller, number int) Choice {
	z := site.Zone{Kind: c.kind, Area: c.area, Device: c.device, Terminal: c.terminal}
	blocks := []string{words.Mark("Lowest free number of the block of life-safety zones, which comes first."), words.Mark("Lowest free number behind life safety, calls for help before the rest."), words.Mark("Lowest free number behind life safety and calls for help.")}
	c.why = append([]Reason{{"number", c.lang.Word(blocks[c.rank])}}, c.why...)
	z.Label = c.label(s, l)
	z.Code = c.code(s, p)
	z.Paths = c.paths(s, p)
	z.LossWindow = c.lossWindow(p)
	switch {
	case z.Kind.LifeSafety():
		c.because("bypass", c.lang.Say("A life-safety zone must never be left out."))
	case c.rank == 1 || z.Kind == site.Keyswitch:
		c.because("bypass", c.lang.Say("Leaving it out would take away a call for help or the way to arm."))
	default:
		z.Bypass = true
		c.because("bypass", c.lang.Say("Users may leave it out when they arm."))
	}
	if z.DoorTone = z.Kind == site.Entry1 || z.Kind == site.Entry2; z.DoorTone {
		c.because("doorTone", c.lang.Say("People come in by it."))
	} else {
		c.because("doorTone", c.lang.Say("Not a door that people come in by."))
	}
	return Choice{Zone: p.ZoneID(number), Device: c.device, Terminal: c.terminal, Value: z, Why: c.why, Remarks: c.remarks}
}

// code is the usual station code of the kind: event numbers of ANSI/SIA DC-05, or codes of DC-03 where the account uses them.
func (c *candidate) code(s *site.Site, p *panel.Profile) string {
	if special := p.CodeFor(c.kind); special != "" {
		c.because("code", c.lang.Say("By this code alone the panel tells the kind."))
		return special
	}
	e, _ := signal.ExpectedFor(format(s), string(c.kind))
	code := e.Alarm.Begin
	if code == "" {
		code = e.Trouble.Begin
	}
	if code == "" {
		c.remarks = append(c.remarks, c.lang.Say("The kind has no usual station code. Ask the station."))
		return ""
	}
	c.because("code", c.lang.Say("The usual code of the kind; the station's own list decides."))
	return code
}

// format is the account's payload format; Contact ID where none is entered.
func format(s *site.Site) signal.Format {
	if s.Account.Format == "sia" {
		return signal.SIADCS
	}
	return signal.CID
}

func (c *candidate) paths(s *site.Site, p *panel.Profile) []site.PathID {
	var out []site.PathID
	for _, want := range []int{1, 2} {
		for _, id := range site.SortedIDs(s.Account.Paths) {
			if s.Account.Paths[id].Order == want && len(out) < want {
				out = append(out, id)
			}
		}
	}
	switch {
	case len(out) == 0:
		c.remarks = append(c.remarks, c.lang.Say("The account has no paths yet."))
	case len(out) == 2 && !p.Can(panel.FieldPaths, panel.PathsBoth):
		out = out[:1]
		c.because("paths", c.lang.Say("This panel tells by one path."))
	case len(out) == 2:
		c.because("paths", c.lang.Say("By every path, so that one fault does not silence it."))
	default:
		c.because("paths", c.lang.Say("By the only path there is."))
	}
	return out
}

// periods is how many reports may be missed before a device counts as lost.
const periods = 3

func (c *candidate) lossWindow(p *panel.Profile) string {
	if c.model.Link == panel.LinkWired {
		c.because("lossWindow", c.lang.Say("On a wire: no radio to lose."))
		return ""
	}
	var windows []panel.LossWindow
	for _, w := range p.LossWindows() {
		if w.Time > 0 {
			windows = append(windows, w)
		}
	}
	reports := c.model.Reports.SI()
	switch {
	case c.model.Carried && !c.kind.LifeSafety():
		c.because("lossWindow", c.lang.Say("It is carried and leaves the house, so its silence means nothing."))
		return panel.LossNever
	case len(windows) == 0:
		c.remarks = append(c.remarks, c.lang.Say("This panel does not watch for silence."))
		return panel.LossNever
	case c.kind.LifeSafety():
		w := windows[0]
		c.because("lossWindow", c.lang.Say("Life safety: the shortest window the panel offers, %s.", w.Value))
		if c.model.Reports.IsZero() {
			c.remarks = append(c.remarks, c.lang.Say("How often the model reports is not known: %s needs a report at least every %d s.", w.Value, int(w.Time)/periods))
		} else if reports*periods > float64(w.Time) {
			c.remarks = append(c.remarks, c.lang.Say("The model reports every %s, too seldom for %s. Fit one that reports more often.", c.model.Reports, w.Value))
		}
		return w.Value
	case c.model.Reports.IsZero():
		w := windows[len(windows)-1]
		c.because("lossWindow", c.lang.Say("How often the model reports is not known: the longest window."))
		return w.Value
	}
	for _, w := range windows {
		if float64(w.Time) >= reports*periods {
			c.because("lossWindow", c.lang.Say("The shortest window of at least %d reports (every %s).", periods, c.model.Reports))
			return w.Value
		}
	}
	w := windows[len(windows)-1]
	c.remarks = append(c.remarks, c.lang.Say("The model reports every %s: even %s is short. It may be reported lost while it works.", c.model.Reports, w.Value))
	return w.Value
}
