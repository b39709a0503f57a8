// Command bench measures what has a budget: `go run ./bench` for all, `go run ./bench history` for some. Each measure
// prints its figure, its budget, and how many times as long a plain baseline took in the same run, so that machines can be
// compared. It is no test: a busy machine is slow. Exit 1: a figure is over its budget.
package main

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"time"
)

// A measure stands in a file of its own, named after it, and in this table.
var measures = []measure{
	historyMillion,
	papersPDF,
	keyingSheet,
	inboxDrain,
	rehearsalKey, rehearsalPage, planDrag,
	fieldStorey, fieldPage, reachRooms,
	serveStart, serveMemory, firstPage, engineSize, checkLarge,
}

// measure is one thing with a budget.
type measure struct {
	name    string
	what    string        // what is measured, and how large it is
	budget  float64       // in unit
	unit    string        // "s", "MB", "frames/s"
	atLeast bool          // the budget is the least; otherwise the most
	needs   func() string // why it can not be measured here; nil: nothing is needed
	run     func() (result, error)
}

// result is what a measure found.
type result struct {
	value    float64 // in the unit of the measure
	baseline float64 // the same for the plain way; 0: there is none
	plain    string  // what the plain way is
	note     string
}

func main() {
	names := os.Args[1:]
	failed := false
	for _, name := range names {
		if !slices.ContainsFunc(measures, func(m measure) bool { return m.name == name }) {
			fmt.Fprintf(os.Stderr, "bench: no measure %q; there are: %s\n", name, strings.Join(known(), ", "))
			os.Exit(2)
		}
	}
	for _, m := range measures {
		if len(names) > 0 && !slices.Contains(names, m.name) {
			continue
		}
		if m.needs != nil {
			if why := m.needs(); why != "" {
				fmt.Printf("%-12s left out: %s\n", m.name, why)
				continue
			}
		}
		r, err := m.run()
		if err != nil {
			fmt.Printf("%-12s failed: %v\n", m.name, err)
			failed = true
			continue
		}
		good := r.value <= m.budget
		limit := "at most"
		if m.atLeast {
			good, limit = r.value >= m.budget, "at least"
		}
		word := "within"
		if !good {
			word, failed = "OVER", true
		}
		fmt.Printf("%-12s %8.4g %s, %s its budget of %s %g %s: %s\n", m.name, r.value, m.unit, word, limit, m.budget, m.unit, m.what)
		if r.baseline > 0 {
			fmt.Printf("%12s %8.4g %s takes %s: ratio %.2f\n", "", r.baseline, m.unit, r.plain, r.value/r.baseline)
		}
		if r.note != "" {
			fmt.Printf("%12s %s\n", "", r.note)
		}
	}
	if failed {
		os.Exit(1)
	}
}

func known() []string {
	var out []string
	for _, m := range measures {
		out = append(out, m.name)
	}
	return out
}

// best returns the shortest of a few runs, in seconds: what else runs on the machine only ever adds.
func best(runs int, f func() error) (seconds float64, err error) {
	for range runs {
		from := time.Now()
		if err := f(); err != nil {
			return 0, err
		}
		if s := time.Since(from).Seconds(); seconds == 0 || s < seconds {
			seconds = s
		}
	}
	return seconds, nil
}
