package cli

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	"proofbell/internal/app"
	"proofbell/internal/papers"
)

type recordCmd struct {
	Job    string   `arg:"" name:"JOB" help:"Id of the job, or the beginning of its name."`
	Out    string   `required:"" type:"path" help:"Folder to write to." placeholder:"DIR"`
	For    string   `default:"all" enum:"owner,station,authority,file,all" help:"Whose documents: ${enum}."`
	Kind   []string `help:"Only these documents: zone-list, owner-guide ..." placeholder:"KIND"`
	Format []string `help:"Only these formats: pdf, xlsx, csv, ics." placeholder:"FORMAT"`
	Paper  string   `default:"A4" enum:"A4,Letter" help:"Size of the sheets: ${enum}."`
	Units  string   `default:"" enum:",metric,imperial" help:"metric or imperial; left out: as the site says."`
	Lang   string   `default:"en" enum:"en,de" help:"Language: ${enum}."`
	On     string   `help:"Day for which it is judged, 2026-09-15; left out: today." placeholder:"DATE"`
	Issue  bool     `help:"Give them out: keep each in the job book, so that verify knows it."`

	dataFlags
}

// Run writes the documents of a job as it stands, each named by the entry it was made from.
func (c *recordCmd) Run(ctx context.Context, io *streams) error {
	for _, kind := range c.Kind {
		if _, ok := papers.Find(kind); !ok {
			return fmt.Errorf("--kind %q: there is no such document; the kinds are %v", kind, paperKinds())
		}
	}
	var asks []app.Ask
	for _, k := range papers.Kinds() {
		if c.For != "all" && string(k.For) != c.For || len(c.Kind) > 0 && !slices.Contains(c.Kind, k.ID) {
			continue
		}
		for _, format := range k.Formats {
			if len(c.Format) == 0 || slices.Contains(c.Format, format) {
				asks = append(asks, app.Ask{Kind: k.ID, Format: format, Lang: c.Lang, Units: c.Units, Sheet: c.Paper, Day: c.On})
			}
		}
	}
	if len(asks) == 0 {
		return fmt.Errorf("no document fits --for, --kind and --format together; leave one of them out")
	}
	return withBooks(ctx, c.dataFlags, io, func(a *app.App) error {
		job, err := findJob(a, c.Job)
		if err != nil {
			return err
		}
		if err := os.MkdirAll(c.Out, 0o755); err != nil {
			return err
		}
		write := paperMaker(a, time.Now)
		keep := func(d app.Document) error {
			path := filepath.Join(c.Out, d.Name)
			if err := writeFile(path, d.Raw); err != nil {
				return err
			}
			fmt.Fprintln(io.out, path)
			return nil
		}
		if c.Issue {
			entries, err := a.Issue(ctx, job, commandLine, asks, write)
			if err != nil {
				return err
			}
			for _, e := range entries {
				d, err := a.Given(ctx, job, e.ID)
				if err == nil {
					err = keep(d)
				}
				if err != nil {
					return err
				}
			}
			return nil
		}
		for _, ask := range asks {
			d, err := a.Draft(ctx, job, ask, write)
			if err == nil {
				err = keep(d)
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
}
