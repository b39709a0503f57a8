package rules

import (
	"fmt"
	"math"
	"slices"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/site"
)

// accountPaths returns the ids of the account's paths, the main one first.
func (c *check) accountPaths() []site.PathID {
	ids := site.SortedIDs(c.Account.Paths)
	sorts.Stable(ids, func(a, b site.PathID) int { return c.Account.Paths[a].Order - c.Account.Paths[b].Order })
	return ids
}

func (c *check) zonePaths(id site.ZoneID, z site.Zone) {
	all := c.accountPaths()
	if len(all) == 0 {
		return // account() says so once
	}
	var missing []site.PathID
	for _, p := range all {
		if !slices.Contains(z.Paths, p) {
			missing = append(missing, p)
		}
	}
	if len(missing) == 0 {
		return
	}
	var names []string
	for _, p := range missing {
		names = append(names, pathSay(p, c.Account.Paths[p]))
	}
	r := report{
		where: c.zoneWhere(id, c.lang.Say("paths")), places: []Place{zoneAt(id)}, at: c.zoneSpot(id), cause: []any{z.Paths, missing},
		patch: zonePatch(id, object{"paths": all}), patchSay: c.change(c.lang.Say("paths"), words.List(c.lang, z.Paths), words.List(c.lang, all)),
	}
	switch {
	case c.meant(z).LifeSafety():
		r.say = c.lang.Say("A life-safety zone is told by every path; this one is not told by %s. One fault of the rest and nobody is told.", words.List(c.lang, names))
		r.do = c.lang.Say("Report it by all paths.")
		c.add("zone.fire.paths", r)
	case len(z.Paths) == 0 && z.Kind != site.Observe && z.Kind != "":
		r.say = c.lang.Say("The zone is told to nobody: no path is chosen.")
		r.do = c.lang.Say("Choose its paths, or set it to observe only.")
		c.add("zone.paths.none", r)
	}
}

func pathSay(id site.PathID, p site.Path) string {
	if p.Name != "" {
		return fmt.Sprintf("%s (%s)", id, p.Name)
	}
	return string(id)
}

// seconds reads a loss window; 0 for never and for what is not a time.
func seconds(window string) float64 {
	d, err := parseLike(quantity.Duration{}, window)
	if err != nil {
		return 0
	}
	return d.SI()
}

func parseLike[D quantity.Dimension](_ quantity.Typed[D], text string) (quantity.Typed[D], error) {
	return quantity.Parse[D](text)
}

// needs is the shortest loss window that a model can live with.
func (c *check) needs(m site.Model) float64 {
	return m.Reports.SI() * c.figure("window.periods") * (1 + c.figure("window.jitter"))
}

// bestWindow proposes a loss window: the shortest that the panel offers and the model can live with, no longer than most.
func (c *check) bestWindow(m site.Model, most float64) string {
	if c.panel == nil {
		return ""
	}
	for _, w := range c.panel.LossWindows() {
		if w.Time > 0 && float64(w.Time) >= c.needs(m) && float64(w.Time) <= most {
			return w.Value
		}
	}
	return ""
}

// zoneWindow holds the loss window against the model and the kind.
func (c *check) zoneWindow(id site.ZoneID, z site.Zone) {
	m, known := c.ModelOf(z.Device)
	if m.Link == "wired" {
		c.zoneWire(id, z)
	}
	if !known || m.Link != "radio" {
		return
	}
	window, most := seconds(z.LossWindow), c.figure("window.life")
	r := report{where: c.zoneWhere(id, c.lang.Say("loss window")), places: []Place{zoneAt(id), deviceAt(z.Device)}, at: c.zoneSpot(id), cause: []any{z.LossWindow, m.Reports.String(), m.Carried}}
	propose := func(most float64) {
		if w := c.bestWindow(m, most); w != "" && w != z.LossWindow {
			r.patch, r.patchSay = zonePatch(id, object{"lossWindow": w}), c.change(c.lang.Say("loss window"), c.windowSay(z.LossWindow), w)
		}
	}
	life := c.meant(z).LifeSafety()
	switch {
	case m.Carried && life:
		// a carried life-safety device contradicts itself; the window rules below judge it as life safety
	case m.Carried:
		if window > 0 {
			r.say = c.lang.Say("%s is carried out of the house; with a loss window of %s every outing becomes a trouble.", m.Name, z.LossWindow)
			r.do = c.lang.Say("Set the loss window to never, and test the button by hand.")
			r.patch, r.patchSay = zonePatch(id, object{"lossWindow": "never"}), c.change(c.lang.Say("loss window"), z.LossWindow, c.windowSay("never"))
			c.add("zone.window.carried", r)
		}
		return
	}
	wanted := c.figure("window.life-wanted")
	switch {
	case life && (window == 0 || window > most):
		format := words.Mark("Loss window %q: a dead or removed detector of life safety would never be missed. %s is wanted, %s at most.")
		if window > 0 {
			format = words.Mark("Loss window %q: a dead or removed detector of life safety would be missed only after that time. %s is wanted, %s at most.")
		}
		r.say = c.lang.Say(format, c.windowSay(z.LossWindow), c.span(wanted), c.span(most))
		if m.Reports.SI() > 0 {
			r.say += " " + c.lang.Say("This model reports every %s.", m.Reports)
		}
		r.do = c.lang.Say("Set the %s class of loss window.", c.span(wanted))
		propose(most)
		if r.patch == nil && c.panel != nil {
			r.do = c.lang.Say("No class of this panel fits how often the model reports: use a model made for life safety.")
		}
		c.add("zone.fire.window", r)
	case life && window > wanted && c.bestWindow(m, wanted) != "":
		r.say = c.lang.Say("A silent detector would be missed only after %s; panel and model can do %s.", z.LossWindow, c.span(wanted))
		r.do = c.lang.Say("Use the shorter class.")
		propose(wanted)
		c.add("zone.fire.window-long", r)
	case window == 0:
		r.say = c.lang.Say("The transmitter reports by itself, but the panel does not miss it: it can lie dead in a drawer and the zone shows as good.")
		r.do = c.lang.Say("Give it a loss window.")
		propose(1e9)
		c.add("zone.window.never", r)
	}
	if window > 0 {
		switch need := c.needs(m); {
		case m.Reports.SI() == 0 && !m.Carried:
			c.lack("zone.window.periods", words.Later("how often the model reports"), zoneAt(id), deviceAt(z.Device))
		case window < need:
			r.say = c.lang.Say("The loss window of %s is shorter than %s periods of the transmitter (every %s) with jitter, %s: it would be called lost while it works.",
				z.LossWindow, c.number(c.figure("window.periods")), m.Reports, c.span(need))
			r.do = c.lang.Say("Take a longer class, or a model that reports more often.")
			r.patch, r.patchSay = nil, ""
			if life {
				propose(most)
			} else {
				propose(1e9)
			}
			c.add("zone.window.periods", r)
		}
	}
}

// windowSay writes a loss window, which is a time or "never".
func (c *check) windowSay(w string) string {
	if w == "never" {
		return c.lang.Say("never")
	}
	return c.orNone(w)
}

// span writes a time for people.
func (c *check) span(s float64) string {
	switch {
	case s >= 2*86400 && s == float64(int(s/86400))*86400:
		return c.number(s/86400) + " " + c.lang.Say("d")
	case s >= 3600:
		return c.number(round3(s/3600)) + " h"
	case s > 300 || s >= 120 && math.Mod(s, 60) == 0:
		return c.number(round3(s/60)) + " min"
	}
	return c.number(round3(s)) + " s"
}

// zoneWire asks for the end-of-line resistor by which a wired input is watched.
func (c *check) zoneWire(id site.ZoneID, z site.Zone) {
	wire := c.Devices[z.Device].Circuit
	circuit, ok := c.Circuits[wire]
	switch {
	case !ok || circuit.Kind == "":
		c.lack("circuit.end", words.Later("circuit of a wired device"), deviceAt(z.Device))
	case circuit.Kind == "input" && circuit.EndOfLine == "":
		c.add("circuit.end", report{
			where: c.zoneWhere(id, c.lang.Say("wire")), places: []Place{zoneAt(id), deviceAt(z.Device)}, at: c.zoneSpot(id), cause: []any{wire},
			say: c.lang.Say("The wired input %s has no end-of-line resistor: a cut or shorted wire shows as good.", c.orNone(circuit.Name)),
			do:  c.lang.Say("Fit the resistor that the panel wants at the far end of the wire, not at the panel, and note its value."),
		})
	}
}
