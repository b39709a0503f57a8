package keypad

import (
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// TestSay says what the panel's own test mode does with a kind of zone, where that misleads whoever tests: "" when it is not
// known, and of a signal that says that it is a test except where it stands for a life or a call for help.
func TestSay(l *words.Language, p *panel.Profile, kind site.ZoneKind) string {
	switch p.Test(kind) {
	case panel.TestReports:
		return l.Say("The panel's own test mode reports it as in earnest: only the station can put it on test.")
	case panel.TestSilent:
		return l.Say("In the panel's own test mode the station is told nothing of it: such a test proves no signal.")
	case panel.TestMarked:
		if vital(kind) {
			return l.Say("In the panel's own test mode its signal says that it is a test: how the station takes the alarm itself is not shown by it.")
		}
	}
	return ""
}

// TestCautions say the same of all zones of a sheet that are keyed, those alike together.
func TestCautions(l *words.Language, p *panel.Profile, zones []ZoneCards) []string {
	by := map[panel.TestPolicy][]site.ZoneID{}
	for _, z := range zones {
		if len(z.Cards) > 0 && TestSay(l, p, z.Kind) != "" {
			by[p.Test(z.Kind)] = append(by[p.Test(z.Kind)], z.Zone)
		}
	}
	var out []string
	if list := by[panel.TestReports]; len(list) > 0 {
		out = append(out, l.Say("The panel's own test mode reports these zones as in earnest, and only the station can put them on test: %s.", words.List(l, list)))
	}
	if list := by[panel.TestSilent]; len(list) > 0 {
		out = append(out, l.Say("In the panel's own test mode the station is told nothing of these zones, and such a test proves no signal: %s.", words.List(l, list)))
	}
	if list := by[panel.TestMarked]; len(list) > 0 {
		out = append(out, l.Say("In the panel's own test mode the signals of these zones say that they are a test, and how the station takes the alarm itself is not shown by it: %s.", words.List(l, list)))
	}
	return out
}
