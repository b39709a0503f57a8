package cli

import (
	"fmt"
	"io"
	"strings"

	"proofbell/internal/labels"
	"proofbell/internal/words"
	"proofbell/panel"
)

type labelsCmd struct {
	Site string `arg:"" name:"SITE.yaml" help:"Site file; - for standard input."`
	ownPanel
	JSON bool   `help:"Print one JSON document."`
	Lang string `default:"en" enum:"en,de" help:"Language: ${enum}."`
}

// Run prints what the panel says for every zone and what it could say instead; not good while one can not be said.
func (c *labelsCmd) Run(io *streams) error {
	s, _, err := readSite(c.Site, io.in)
	if err != nil {
		return err
	}
	if err := hidden(c.Site, s); err != nil {
		return err
	}
	p, err := c.of(c.Site, s, io)
	if err != nil {
		return err
	}
	all := labels.Of(words.In(c.Lang), s, p)
	if c.JSON {
		err = printJSON(io.out, map[string]any{"panel": p.Name, "version": p.Version, "most": p.Label.Words, "labels": all})
	} else {
		printLabels(io.out, words.In(c.Lang), p, all)
	}
	for _, l := range all {
		if !l.Good && err == nil {
			err = ErrNotGood
		}
	}
	return err
}

func printLabels(w io.Writer, lang *words.Language, p *panel.Profile, all []labels.Label) {
	left := 0
	for _, l := range all {
		if l.Good {
			fmt.Fprintf(w, "%s  %-28s %-32s %s\n", l.Zone, l.Label, strings.Join(l.Words, " "), strings.Join(l.Codes, " "))
			continue
		}
		if !l.Stays {
			left++
		}
		fmt.Fprintf(w, "%s  %-28s %s\n", l.Zone, l.Label, l.Against)
		for _, one := range l.Proposals {
			fmt.Fprintf(w, "    %3d  %-28s %-12s %s\n", one.Score, strings.Join(one.Words, " "), strings.Join(one.Codes, " "), strings.Join(one.Why, "; "))
		}
		if l.Why != "" {
			fmt.Fprintf(w, "    %s\n", l.Why)
		}
	}
	fmt.Fprintln(w, lang.Say("%d zones, %d to be said in other words. The panel %s holds up to %d words a label.", len(all), left, p.Name, p.Label.Words))
}
