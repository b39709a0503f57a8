package history

import (
	"fmt"
	"strings"
)

// Document writes the table of causes for people: docs/history.md.
func Document() string {
	var b strings.Builder
	b.WriteString(`# What a history speaks for

Generated from the causes in ` + "`internal/history`" + ` by ` + "`go generate ./internal/history`" + `; do not edit. What is read, and how: ` + "`format/history.md`" + `.

Nothing here was seen on site: a cause is what the events speak for, with the check that would disprove it. Special causes stand above general ones; a cause
that is accepted claims its events, and those below look only at the rest. What came while the account was on test, what one event reported twice, times that can
not be true and other accounts are left out.

**How sure.** Each cause gives the chance p that a history without it shows as much. It is multiplied by the number of looks (Bonferroni; Dunn, 1961): one for each
cause, one for each zone for the three causes that compare counts of zones, and 15 for each zone with four events or more, because fewer can not come out (Tarone,
1990). Below 1 in 1000 the cause is *likely*, below 1 in 100 *possible*; above, it is not named. Some causes are no matter of chance and follow a rule; they say so. Chances are bounds under simple models
(Poisson, binomial): real buildings are less even, which is why thresholds ask for more than a small p. A figure below 1 in a million is not given as a number.

**Not enough data.** Below two weeks or 20 events nothing is called usual. A zone with fewer than four events has no pattern. What the history lacks for a cause is said by name.

**Rates.** Fire and burglary alarms are counted against thresholds that are publicly cited (BS 5839-1; police policy in the United Kingdom). Whether an alarm was false the history does not know.

| cause | looks at | statistic | threshold and reason | would disprove it | not |
| --- | --- | --- | --- | --- | --- |
`)
	for _, c := range Causes(nil) {
		fmt.Fprintf(&b, "| **%s** (`%s`) | %s | %s | %s | %s | %s |\n", c.Title, c.ID, c.Looks, c.Statistic, c.Threshold, c.Disproof, c.Not)
	}
	return b.String()
}
