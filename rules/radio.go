package rules

import (
	"proofbell/internal/estimate"
	"proofbell/site"
)

// radio judges the estimated margin of every radio link and cites the figures it comes from.
func (c *check) radio() {
	if _, ok := c.set.Rules["radio.margin"]; !ok {
		return
	}
	var r *estimate.Radio
	for _, id := range c.deviceIDs {
		if m, _ := c.ModelOf(id); m.Link == "radio" {
			r = estimate.RadioOf(c.Site, c.plan(), estimate.RadioTold{})
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
		weakest := l.Hops[0]
		for _, h := range l.Hops {
			if h.Margin < weakest.Margin {
				weakest = h
			}
		}
		c.add("radio.margin", report{
			where: c.deviceWhere(l.Device, c.lang.Say("radio margin")), places: c.devicePlaces(l.Device), at: c.spot(d.At, d.Room), estimate: true,
			cause: []any{l.Margin, r.Wanted, weakest.To},
			say:   c.lang.Say("Margin %s dB, wanted %s dB (planning estimate, measure on site): %s.", c.number(l.Margin), c.number(r.Wanted), weakest.Sum(c.lang, c.toSay(weakest.To))),
			do:    c.lang.Say("Plan a repeater or a second receiver on its side of what takes most and estimate again, or measure the level with the doors shut."),
		})
	}
}

func (c *check) toSay(receiver site.DeviceID) string {
	if receiver == "" {
		return c.lang.Say("the panel")
	}
	return string(receiver)
}
