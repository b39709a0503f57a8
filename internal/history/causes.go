package history

import "proofbell/internal/words"

// cause is one thing that may lie behind a history. Each stands in the table below, and its texts say all that it does:
// what it looks at, its statistic, its threshold with the reason, what would disprove it, and what not to do.
type cause struct {
	id        string
	title     string
	looks     string
	statistic string
	threshold string
	disproof  string
	not       string
	vague     bool               // never more than possible: it names no cause
	needs     func(*data) string // what the history lacks for it, as a marked sentence; "" when it can be judged
	find      func(*data) []found
}

// found is one case of a cause.
type found struct {
	zone   int32   // index into data.zones; -1: the whole site
	p      float64 // of chance alone, before the correction for the number of looks
	rule   bool    // p is no statistic: a rule that chance does not meet
	events []int32 // into data.all
	lines  []int   // evidence that is not in data.all
	say    []said
}

// said is a sentence of evidence with its numbers.
type said struct {
	format string
	args   []any
}

// Arguments of evidence that are written in the reader's manner.
type (
	moment  int64   // Unix seconds
	clockAt float64 // part of a day
	dayName int     // 0 is Sunday
	lasting int64   // seconds
	tenths  float64 // a number with one decimal
)

func site1(p float64, events []int32, say ...said) []found {
	return []found{{zone: -1, p: p, events: events, say: say}}
}

func byRule(zone int32, events []int32, say ...said) found {
	return found{zone: zone, p: byRuleChance, rule: true, events: events, say: say}
}

// byRuleChance stands for what is no chance at all, so that it can be ranked among the others: less sure than a chance of
// one in a thousand million, surer than anything that barely counts.
const byRuleChance = 1e-9

// causes is the table, what is special above what is general: an accepted cause claims its events, and what stands below
// looks only at the rest.
var causes = []cause{
	accountSwapped, accountDefault, wrongCode, codeChanged,
	clockLost, clockOff,
	jammed, lostAtRestart, receiverLost, blockedByHour, weakRadio,
	oldFlags, coldNight, batteryFleet,
	tamperStays, twinZones,
	mainsAlarms, swinging, exitErrors, lateEntry, weatherDays,
	noRestores, restoreMissing,
	backupUnproved, pathByHour, pathOften, silent,
	standbyShort, mainsByHour,
	dirtyHead, listener, cooking, heatingStart, sameWeekday, sameHour,
	modelFleet, sinceChange, standsOut,
}

// Cause is one row of the table, in the reader's language.
type Cause struct {
	ID        string `json:"id"`
	Title     string `json:"title"`
	Looks     string `json:"looks"`     // what it looks at
	Statistic string `json:"statistic"` // formula and source
	Threshold string `json:"threshold"` // and its reason
	Disproof  string `json:"disproof"`  // the check that would disprove it
	Not       string `json:"not"`       // what not to do
}

// Causes lists all that Diagnose looks for.
func Causes(lang *words.Language) []Cause {
	out := make([]Cause, len(causes))
	for i, c := range causes {
		out[i] = Cause{c.id, lang.Say(c.title), lang.Say(c.looks), lang.Say(c.statistic), lang.Say(c.threshold), lang.Say(c.disproof), lang.Say(c.not)}
	}
	return out
}
