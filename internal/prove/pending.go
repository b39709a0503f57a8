package prove

import (
	"time"

	"proofbell/panel"
	"proofbell/site"
)

// Plan derives the steps of a run, in walking order.
func Plan(s *site.Site, p *panel.Profile, o Options) []Step { return []Step{} }

// Match judges what was observed.
func Match(plan []Step, obs Observations, clocks Clocks, now time.Time) Outcome { return Outcome{} }
