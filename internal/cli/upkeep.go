package cli

import (
	"context"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"

	"proofbell/internal/app"
	"proofbell/internal/engine"
	"proofbell/internal/upkeep"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/rules"
	"proofbell/site"
)

type dueCmd struct {
	What   string `arg:"" name:"SITE.yaml|JOB" help:"Site file, - for standard input; or the id of a job, or the beginning of its name."`
	On     string `help:"Day to list for." placeholder:"DATE"`
	Months int    `help:"Months to look ahead; 0: as the rule set says." placeholder:"N"`
	JSON   bool   `help:"Print one JSON document."`
	Lang   string `default:"en" enum:"en,de" help:"Language: ${enum}."`

	dataFlags
}

// Run lists what falls due; not good when something is overdue. A site file has no proofs: of a job they count.
func (c *dueCmd) Run(ctx context.Context, io *streams) error {
	on, err := day(c.On)
	if err != nil {
		return err
	}
	if c.Months < 0 || c.Months > 240 {
		return fmt.Errorf("--months %d: give 0 to 240", c.Months)
	}
	var list upkeep.List
	if isFile(c.What) {
		s, _, err := readSite(c.What, io.in)
		if err != nil {
			return err
		}
		if err := hidden(c.What, s); err != nil {
			return err
		}
		set, known, err := rules.SetOf(s.RuleSet)
		if err != nil {
			return err
		}
		if !known {
			fmt.Fprintf(io.err, "%s: rule set %s %s is not known here; listed by %s %s\n", c.What, s.RuleSet.ID, s.RuleSet.Edition, set.ID, set.Edition)
		}
		list = upkeep.Make(upkeep.Input{Site: s, Profile: profileOrNone(s), Set: set, On: time.Date(on.Year(), on.Month(), on.Day(), 0, 0, 0, 0, time.UTC), Ahead: c.Months, Lang: words.In(c.Lang)})
	} else if err := withBooks(ctx, c.dataFlags, io, func(a *app.App) error {
		job, err := findJob(a, c.What)
		if err != nil {
			return err
		}
		state, err := a.State(job)
		if err != nil {
			return err
		}
		if c.On != "" {
			on = on.Add(12 * time.Hour) // noon is that day in most places
		}
		list, err = engine.NewDesk(state, 0).In(words.In(c.Lang)).Due(on, c.Months)
		return err
	}); err != nil {
		return err
	}
	if c.JSON {
		err = printJSON(io.out, list)
	} else {
		printDue(io.out, list, words.In(c.Lang))
	}
	if err == nil && list.Counts[upkeep.Overdue] > 0 {
		err = ErrNotGood
	}
	return err
}

// isFile tells a site file from a job: standard input, something that is there, or a name that ends like one.
func isFile(text string) bool {
	_, err := os.Stat(text)
	return err == nil || text == "-" || slices.ContainsFunc([]string{".yaml", ".yml", ".json"}, func(end string) bool { return strings.HasSuffix(text, end) })
}

func profileOrNone(s *site.Site) *panel.Profile {
	p, err := panel.Builtin(s.Panel.Profile)
	if err != nil {
		return nil // its times and restores are then the usual ones
	}
	return p
}

func printDue(w io.Writer, l upkeep.List, lang *words.Language) {
	states := map[upkeep.State]string{upkeep.Overdue: lang.Say("OVERDUE"), upkeep.Due: lang.Say("DUE"), upkeep.Coming: lang.Say("COMING UP"), upkeep.Unknown: lang.Say("UNKNOWN")}
	fmt.Fprintf(w, "%s %s\n", lang.Say("On %s, %d months ahead, by %s.", l.On, l.Ahead, l.RuleSet), l.VisitSay)
	for _, r := range l.Rounds {
		if r.State == upkeep.Later {
			continue
		}
		fmt.Fprintf(w, "\n%s  %s (%s)\n    %s\n", strings.Join(nonEmpty(states[r.State], r.DueSay), "  "), r.Title, r.WhoSay, r.Say)
		for _, it := range r.Items {
			due := ""
			if it.Due != "" {
				due = lang.Say("Due %s, %s.", it.DueSay, it.Sure)
			}
			fmt.Fprintf(w, "  - %s\n      %s\n", strings.Join(nonEmpty(it.Say, it.Where, it.Reach), ", "), strings.Join(nonEmpty(it.Why, due), " "))
		}
		if len(r.Items) > 0 {
			fmt.Fprintf(w, "    %s\n", r.Items[0].BasisSay)
		}
	}
	n := l.Counts
	fmt.Fprintf(w, "\n%s %s\n", lang.Say("%d overdue, %d due, %d coming up, %d dates to read, %d later.", n[upkeep.Overdue], n[upkeep.Due], n[upkeep.Coming], n[upkeep.Unknown], n[upkeep.Later]), l.Standing)
}

func nonEmpty(parts ...string) []string {
	return slices.DeleteFunc(parts, func(p string) bool { return p == "" })
}

type reproveCmd struct {
	Before string `arg:"" name:"BEFORE.yaml" help:"Site file as it was proved."`
	After  string `arg:"" name:"AFTER.yaml" help:"Site file as it is now; - for standard input."`
	JSON   bool   `help:"Print one JSON document."`
	Lang   string `default:"en" enum:"en,de" help:"Language: ${enum}."`
}

// Run prints what a change obliges to prove again, by name; not good when there is anything.
func (c *reproveCmd) Run(io *streams) error {
	before, _, err := readSite(c.Before, io.in)
	if err != nil {
		return err
	}
	after, _, err := readSite(c.After, io.in)
	if err != nil {
		return err
	}
	set, _, err := rules.SetOf(after.RuleSet)
	if err != nil {
		return err
	}
	r := upkeep.Affected(before, after, profileOrNone(after), set, nil, words.In(c.Lang))
	if c.JSON {
		err = printJSON(io.out, r)
	} else {
		printReproof(io.out, r, words.In(c.Lang))
	}
	if err == nil && len(r.Must)+len(r.Sample) > 0 {
		err = ErrNotGood
	}
	return err
}

func printReproof(w io.Writer, r upkeep.Reproof, lang *words.Language) {
	for _, change := range r.Changes {
		fmt.Fprintf(w, "%s  %s\n", lang.Say("changed"), change)
	}
	for _, part := range []struct {
		word string
		list []upkeep.Obliged
	}{{lang.Say("prove"), r.Must}, {lang.Say("sample"), r.Sample}} {
		for _, o := range part.list {
			fmt.Fprintf(w, "%-9s %-16s %s\n          %s\n", part.word, o.Step, strings.Join(nonEmpty(o.Title, o.Where), ", "), strings.Join(o.Because, "; "))
		}
	}
	fmt.Fprintf(w, "%s %s %s\n%s\n", lang.Say("%d affected, %d of the rest.", len(r.Must), len(r.Sample)), r.Rule, r.BasisSay, r.Standing)
}
