package rules

import (
	"proofbell/internal/estimate"
	"proofbell/site"
)

// radio judges the margin of every radio link, measured or estimated, and cites the figures that it comes from.
func (c *check) radio() {
	if _, ok := c.set.Rules["radio.margin"]; !ok {
		return
	}
	var r *estimate.Radio
	for _, id := range c.deviceIDs {
		if m, _ := c.ModelOf(id); m.Link == "radio" {
			r = estimate.RadioOf(c.Site, c.plan(), c.measured.Radio)
			break
		}
	}
	if r == nil {
		return
	}
	for _, missing := range r.Missing {
		c.lack("radio.margin", missing)
	}
	if len(r.Missing) > 0 {
		return
	}
	for _, l := range r.Links {
		for _, missing := range l.Missing {
			c.lack("radio.margin", missing, deviceAt(l.Device))
		}
		if l.Verdict == estimate.NotDetermined || l.Verdict == estimate.Enough {
			continue
		}
		d := c.Devices[l.Device]
		one := report{
			where: c.deviceWhere(l.Device, c.lang.Say("radio margin")), places: c.devicePlaces(l.Device), at: c.spot(d.At, d.Room),
			do: c.lang.Say("Plan a repeater or a second receiver on its side of what takes most and estimate again, or measure the level with the doors shut."),
		}
		if l.ByLevel {
			one.cause = []any{l.Counts, r.Wanted, "measured"}
			one.say = c.lang.Say("Measured: margin %s dB, wanted %s dB.", c.number(l.Counts), c.number(r.Wanted))
			c.add("radio.margin", one)
			continue
		}
		one.estimate, one.cause = true, []any{l.Counts, r.Wanted, l.Weakest.To}
		one.say = c.lang.Say("Margin %s dB, wanted %s dB (planning estimate, measure on site): %s.", c.number(l.Counts), c.number(r.Wanted), l.Weakest.Sum(c.lang, c.toSay(l.Weakest.To)))
		c.add("radio.margin", one)
	}
}

func (c *check) toSay(receiver site.DeviceID) string {
	if receiver == "" {
		return c.lang.Say("the panel")
	}
	return string(receiver)
}
