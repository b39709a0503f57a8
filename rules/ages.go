package rules

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/site"
)

const (
	year  = 31557600 // seconds of the unit "y"
	named = 6        // so many devices are named in a sentence
)

// ends returns the day on which a life that began on a date has passed, counted from the first day the date may mean.
func ends(from site.Date, seconds float64) (end time.Time, ok bool) {
	if from.IsZero() || !(seconds > 0 && seconds < 200*year) {
		return end, false
	}
	years := math.Floor(seconds/year + 1e-9)
	rest := seconds - years*year
	return site.AddMonths(from.First(), 12*int(years)).AddDate(0, 0, int(math.Round(rest/86400))), true
}

// day writes the end of a life no more finely than the date it was counted from.
func (c *check) day(end time.Time, from site.Date) string {
	if len(from.String()) < len("2006-01-02") {
		return c.lang.Month(end)
	}
	return c.lang.Day(end)
}

func (c *check) life(seconds float64) string {
	if y := seconds / year; y >= 1 {
		return c.lang.Say("%s years", c.number(round3(y)))
	}
	return c.lang.Say("%s days", c.number(round3(seconds/86400)))
}

// round3 rounds to three figures.
func round3(x float64) float64 {
	s, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 3, 64), 64)
	return s
}

// dated writes a date as finely as it was given.
func (c *check) dated(d site.Date) string {
	switch at := d.First(); len(d.String()) {
	case len("2006-01-02"):
		return c.lang.Day(at)
	case len("2006-01"):
		return c.lang.Month(at)
	}
	return d.String()
}

// state of a life on the day of the check.
type state int

const (
	good   state = iota
	due          // it ends within the time that the set looks ahead
	passed       // it has ended
)

func (c *check) state(end time.Time) state {
	switch ahead := c.on.AddDate(0, int(c.figure("due.ahead")), 0); {
	case !c.on.Before(end):
		return passed
	case !ahead.Before(end):
		return due
	}
	return good
}

func (c *check) ages() {
	c.headAges()
	c.deviceAges()
	const rule = "age.panel-battery"
	switch p := c.Power; {
	case p.Battery.IsZero():
	case p.BatteryDate.IsZero():
		c.lack(rule+".passed", words.Later("date of the panel's battery"), Place{"power", "batteryDate"})
	default:
		lasts := c.figure("life.panel-battery") * year
		end, _ := ends(p.BatteryDate, lasts)
		r := report{where: c.lang.Say("Panel, battery"), places: []Place{{"power", "batteryDate"}}, cause: []any{p.BatteryDate.String(), lasts}}
		r.say = c.lang.Say("The battery is dated %s; %s end on %s.", c.dated(p.BatteryDate), c.life(lasts), c.day(end, p.BatteryDate))
		switch c.state(end) {
		case passed:
			r.do = c.lang.Say("Replace it and write the date on it.")
			c.add(rule+".passed", r)
		case due:
			r.do = c.lang.Say("Take a new one along on the next visit.")
			c.add(rule+".due", r)
		}
	}
}

func (c *check) headAges() {
	for _, id := range c.headIDs {
		h := c.Heads[id]
		lasts := h.Life.SI()
		if lasts == 0 {
			years := c.figure("life.smoke")
			switch h.Kind {
			case "heat":
				years = c.figure("life.heat")
			case "co":
				years = c.figure("life.co")
			case "smoke-co":
				years = math.Min(years, c.figure("life.co"))
			}
			lasts = years * year
		}
		if h.Made.IsZero() {
			c.lack("age.head.passed", words.Later("made date of a head"), headAt(id))
			continue
		}
		end, ok := ends(h.Made, lasts)
		if !ok {
			continue
		}
		r := report{where: c.lang.Say("Head %s, age", id), places: []Place{headAt(id)}, at: c.spot(h.At, h.Room), who: Electrician, cause: []any{h.Made.String(), lasts}}
		if h.Room != "" {
			r.places = append(r.places, roomAt(h.Room))
		}
		if h.Power == "battery" {
			r.who = OnSite
		}
		switch c.state(end) {
		case passed:
			r.say = c.lang.Say("Made %s; its life of %s ended in %s.", c.dated(h.Made), c.life(lasts), c.day(end, h.Made))
			r.do = c.replaceHead(h)
			c.add("age.head.passed", r)
		case due:
			r.say = c.lang.Say("Made %s; its life of %s ends in %s.", c.dated(h.Made), c.life(lasts), c.day(end, h.Made))
			r.do = c.lang.Say("Put it on the list.") + " " + c.replaceHead(h)
			c.add("age.head.due", r)
		}
	}
}

func (c *check) replaceHead(h site.Head) string {
	switch battery := h.Power == "battery"; {
	case battery && h.Group != "":
		return c.lang.Say("Replace it with one that joins group %s and makes the same sound.", h.Group)
	case battery:
		return c.lang.Say("Replace it.")
	case h.Group != "":
		return c.lang.Say("Have the electrician replace it with one that joins group %s and makes the same sound.", h.Group)
	}
	return c.lang.Say("Have the electrician replace it.")
}

// round is a round of the building: everything of one kind whose time has come.
type round struct {
	places []Place
	names  []string
	cause  []any
	first  time.Time
}

func (r *round) take(places []Place, name string, end time.Time, cause ...any) {
	r.places = append(r.places, places...)
	r.names = append(r.names, name)
	r.cause = append(r.cause, cause...)
	if r.first.IsZero() || end.Before(r.first) {
		r.first = end
	}
}

func (c *check) deviceAges() {
	rounds := map[string]*round{}
	take := func(rule string, id site.DeviceID, from site.Date, lasts quantity.Duration) {
		end, ok := ends(from, lasts.SI())
		if !ok {
			return
		}
		switch c.state(end) {
		case passed:
			rule += ".passed"
		case due:
			rule += ".due"
		default:
			return
		}
		if rounds[rule] == nil {
			rounds[rule] = &round{}
		}
		rounds[rule].take(c.devicePlaces(id), c.deviceSay(id), end, string(id), from.String(), lasts.String())
	}
	for _, id := range c.deviceIDs {
		d := c.Devices[id]
		m, ok := c.ModelOf(id)
		if !ok {
			continue
		}
		if !m.ServiceLife.IsZero() {
			if d.Made.IsZero() {
				c.lack("age.device.passed", words.Later("made date of a device"), deviceAt(id))
			}
			take("age.device", id, d.Made, m.ServiceLife)
		}
		if !m.BatteryLife.IsZero() {
			if d.Battery.IsZero() {
				c.lack("age.battery.passed", words.Later("date of a device's battery"), deviceAt(id))
			}
			take("age.battery", id, d.Battery, m.BatteryLife)
		}
	}
	for _, e := range []struct{ rule, where, say, do string }{
		{"age.device.passed", words.Mark("Devices, age"), words.Mark("%d past the end of their service life, the first since %s: %s."), words.Mark("Replace them and prove their zones again.")},
		{"age.device.due", words.Mark("Devices, age"), words.Mark("%d reach the end of their service life within %[4]s months, the first on %[2]s: %[3]s."), words.Mark("Put them on the list for the next visit.")},
		{"age.battery.passed", words.Mark("Devices, batteries"), words.Mark("%d have a battery past its life, the first since %s: %s."), words.Mark("Make a battery round: one chemistry, one date, then prove each zone.")},
		{"age.battery.due", words.Mark("Devices, batteries"), words.Mark("%d have a battery whose life ends within %[4]s months, the first on %[2]s: %[3]s."), words.Mark("Plan a battery round.")},
	} {
		r := rounds[e.rule]
		if r == nil {
			continue
		}
		names := r.names
		if len(names) > named {
			names = append(slices.Clone(names[:named]), c.lang.Say("%d more", len(r.names)-named))
		}
		said := []any{len(r.names), c.lang.Day(r.first), words.List(c.lang, names)}
		if strings.HasSuffix(e.rule, ".due") {
			said = append(said, c.number(c.figure("due.ahead")))
		}
		c.add(e.rule, report{
			where: c.lang.Say(e.where), say: c.lang.Say(e.say, said...), do: c.lang.Say(e.do), places: r.places, cause: r.cause,
		})
	}
}
