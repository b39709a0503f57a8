package rules

import (
	"proofbell/internal/circuit"
	"proofbell/internal/words"
	"proofbell/site"
)

func circuitAt(id site.CircuitID) Place { return Place{"circuit", string(id)} }

// circuits judges the wired circuits that are described well enough; the page says what the others lack. Mains circuits are
// the electrician's.
func (c *check) circuits() {
	for _, id := range site.SortedIDs(c.Circuits) {
		switch c.Circuits[id].Kind {
		case "mains", "":
		case "input":
			c.windows(id)
		default:
			c.voltages(id)
		}
	}
}

// voltages looks for devices that get too little at the end of the battery. Values no sum can be made of are told by the page.
func (c *check) voltages(id site.CircuitID) {
	d, err := circuit.DropOf(c.lang, c.Site, id)
	if err != nil || d.Verdict != circuit.TooLow && d.Verdict != circuit.Unserved {
		return
	}
	r := report{
		where: c.about(d.Name, c.lang.Say("voltage along the cable")), places: []Place{circuitAt(id)}, estimate: true, cause: []any{d.First, d.Verdict},
		say: c.lang.Say("%s With the supply at its worst and all devices on (planning estimate, measure on site).", d.Say),
		do:  c.lang.Say("Thicker or shorter cable, a second circuit, or a supply nearer to it; then measure at the last device, on the battery."),
	}
	if d.SmallSay != "" {
		r.do += " " + d.SmallSay
	}
	for _, n := range d.Nodes {
		if n.ID == d.First {
			r.cause = append(r.cause, n.Margin)
		}
	}
	if device := c.Circuits[id].Parts[site.PartID(d.First)].Device; device != "" {
		r.places, r.at = append(r.places, deviceAt(device)), c.spot(c.Devices[device].At, c.Devices[device].Room)
	}
	c.add("circuit.voltage", r)
}

// windows looks for inputs whose states can not be told apart, by the resistors or by the panel.
func (c *check) windows(id site.CircuitID) {
	l, err := circuit.LoopOf(c.lang, c.Site, id, circuit.Measured{})
	if err != nil || !l.Unclear {
		return
	}
	r := report{
		where: c.about(l.Name, c.lang.Say("resistors")), places: []Place{circuitAt(id)}, say: l.Say,
		do: c.lang.Say("Fit the resistors that the panel's instructions name, then measure at rest and in alarm."),
	}
	for _, w := range l.Windows {
		r.cause = append(r.cause, w.State, w.Low, w.High)
		if w.Panel != "" && !w.Fits {
			r.say += " " + words.Upper(c.lang.Say("%s, %s: %s.", w.Name, w.Say, w.Panel))
		}
	}
	c.add("circuit.windows", r)
}
