package prove

import (
	"time"

	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// Voice plans, judges and speaks in one language. What it finds is the same in all of them.
type Voice struct{ lang *words.Language }

// In returns the voice of a language.
func In(lang *words.Language) Voice { return Voice{lang} }

// Plan is Voice.Plan in English.
func Plan(s *site.Site, p *panel.Profile, o Options) []Step { return Voice{}.Plan(s, p, o) }

// Match is Voice.Match in English.
func Match(plan []Step, obs Observations, clocks Clocks, now time.Time) Outcome {
	return Voice{}.Match(plan, obs, clocks, now)
}

// CallScript is Voice.CallScript in English.
func CallScript(s *site.Site, w Window, families []string, now time.Time, loc *time.Location) []CallLine {
	return Voice{}.CallScript(s, w, families, now, loc)
}

// RealSmoke is Voice.RealSmoke in English.
func RealSmoke(s *site.Site) Help { return Voice{}.RealSmoke(s) }

// SayFamilies is Voice.SayFamilies in English.
func SayFamilies(families []string) string { return Voice{}.SayFamilies(families) }
