package engine

import (
	"encoding/json"
	"time"

	"proofbell/internal/supply"
	"proofbell/quantity"
	"proofbell/rules"
)

// Standby is the standby supply of the panel with its sheets, with a change that is not kept yet.
func (d *Desk) Standby(now time.Time, patch json.RawMessage) (supply.StandbyView, error) {
	s, err := d.supply(now, patch)
	if err != nil {
		return supply.StandbyView{}, err
	}
	return s.View(), nil
}

// Batteries are those of the radio devices, with a change that is not kept yet.
func (d *Desk) Batteries(now time.Time, patch json.RawMessage) (supply.Batteries, error) {
	s, err := d.supply(now, patch)
	if err != nil {
		return supply.Batteries{}, err
	}
	return s.Batteries(), nil
}

func (d *Desk) supply(now time.Time, patch json.RawMessage) (*supply.Supply, error) {
	in := d.State.Site
	if len(patch) > 0 && string(patch) != "null" {
		var err error
		if in, err = d.withPatch(patch); err != nil {
			return nil, err
		}
	}
	set, _, err := rules.SetOf(in.RuleSet)
	if err != nil {
		return nil, err
	}
	return supply.Of(in, PowerLeast(set, d.lang.Word(set.Title)), midnight(now.In(d.zone())), d.lang), nil
}

// PowerLeast is what a rule set asks of the standby supply.
func PowerLeast(set *rules.Set, name string) supply.Least {
	hours, minutes, ageing := set.Figures["standby.time"], set.Figures["standby.alarm"], set.Figures["standby.ageing"]
	return supply.Least{
		Standby: quantity.Second(hours.Value * 3600), Alarm: quantity.Second(minutes.Value * 60), Ageing: ageing.Value,
		Source: hours.Document + " " + hours.Edition + ", " + hours.Clause.Clause, Name: name,
	}
}

// midnight is the day of a moment, as upkeep counts days: midnight UTC of the site's own calendar.
func midnight(at time.Time) time.Time {
	return time.Date(at.Year(), at.Month(), at.Day(), 0, 0, 0, 0, time.UTC)
}
