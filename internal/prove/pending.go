package prove

import "time"

// Match judges what was observed.
func Match(plan []Step, obs Observations, clocks Clocks, now time.Time) Outcome { return Outcome{} }
