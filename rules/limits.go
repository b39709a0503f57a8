package rules

import (
	"slices"

	"proofbell/internal/words"
	"proofbell/site"
)

// panelTakes holds a zone against what the panel can be told.
func (c *check) panelTakes(id site.ZoneID, z site.Zone) {
	if c.panel == nil {
		c.lack("zone.panel", words.Later("panel profile"))
		return
	}
	p := c.panel
	bad := func(what, say string, cause ...any) { // what is a part of the key, and marked
		c.add("zone.panel", report{
			where: c.zoneWhere(id, c.lang.Word(what)), say: say, do: c.lang.Say("Choose what the panel can take, or another panel."),
			places: []Place{zoneAt(id)}, at: c.zoneSpot(id), cause: append([]any{what}, cause...),
		})
	}
	if _, ok := p.ZoneNumber(id); !ok {
		bad(words.Mark("number"), c.lang.Say("The panel %s holds zones %d to %d; there is no zone %s.", p.Title, p.Zones.First, p.Zones.Last, id))
	}
	if z.Kind != "" {
		if _, ok := p.Kind(z.Kind); !ok {
			bad(words.Mark("kind"), c.lang.Say("The panel %s has no kind for %s.", p.Title, c.kindSay(z.Kind)), z.Kind)
		}
	}
	if z.Area != "" && !p.Can("area", string(z.Area)) {
		bad(words.Mark("area"), c.lang.Say("The panel %s has the areas %s, not %s.", p.Title, words.List(c.lang, p.Areas()), z.Area), z.Area)
	}
	if z.Terminal != "" && !p.Can("terminal", z.Terminal) {
		bad(words.Mark("terminal"), c.lang.Say("The panel %s can be told the terminals %s, not %s.", p.Title, words.List(c.lang, p.Terminals()), z.Terminal), z.Terminal)
	}
	if z.LossWindow != "" && !p.Can("lossWindow", z.LossWindow) {
		var offered []string
		for _, w := range p.LossWindows() {
			offered = append(offered, w.Value)
		}
		bad(words.Mark("loss window"), c.lang.Say("The panel %s offers the loss windows %s, not %s.", p.Title, words.List(c.lang, offered), z.LossWindow), z.LossWindow)
	}
	if which, ok := c.whichPaths(z); ok && !p.Can("paths", which) {
		bad(words.Mark("paths"), c.lang.Say("The panel %s can not report a zone that way (paths: %s).", p.Title, c.lang.Word(pathsSay[which])), z.Paths)
	}
}

// pathsSay says by which paths a zone is told.
var pathsSay = map[string]string{
	"both": words.Mark("both"), "main": words.Mark("the main one alone"), "backup": words.Mark("the second one alone"), "none": words.Mark("none"),
}

// whichPaths says in the profile's words by which paths a zone is told. ok is false when the account has none or more
// than two, or the zone names another.
func (c *check) whichPaths(z site.Zone) (which string, ok bool) {
	all := c.accountPaths()
	if len(all) == 0 || len(all) > 2 {
		return "", false
	}
	main := slices.Contains(z.Paths, all[0])
	back := len(all) > 1 && slices.Contains(z.Paths, all[1])
	switch {
	case main && back:
		return "both", true
	case main:
		return "main", true
	case back:
		return "backup", true
	}
	return "none", true
}
