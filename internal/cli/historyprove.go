package cli

import (
	"context"
	"fmt"
	"io"
	"strconv"
	"time"

	"proofbell/evidence"
	"proofbell/internal/engine"
	"proofbell/internal/history"
	"proofbell/internal/prove"
)

// mostLines is how many lines of each sort are printed; all are counted.
const mostLines = 40

// layHistory lays a station's history over the run and, where nothing is left to confirm, writes what it proves.
func (c *proveCmd) layHistory(ctx context.Context, t *terminal, in io.Reader) error {
	raw, err := readFile(c.History, in, history.MaxBytes)
	if err != nil {
		return err
	}
	arg := engine.HistoryArg{Text: string(raw), Offset: c.Offset, Lines: map[int]string{}}
	for row, expect := range c.Line {
		n, err := strconv.Atoi(row)
		if err != nil {
			return fmt.Errorf("--line %s=%s: give the number of a line and the signal that it is, as 12=13.alarm/alarm", row, expect)
		}
		arg.Lines[n] = expect
	}
	d, err := t.desk()
	if err != nil {
		return err
	}
	now := time.Now()
	run := d.Prove(now, "").Run
	v, err := d.History(now, run, arg)
	if err != nil {
		return fmt.Errorf("%s: %w", named(c.History), err)
	}
	for _, q := range v.Questions {
		fmt.Fprintf(t.out, "? %s\n", q.Say)
		for _, a := range q.Choices {
			fmt.Fprintf(t.out, "    %s: %s\n", a.Value, a.Say)
		}
	}
	if len(v.Questions) > 0 {
		return t.notGood("Nothing could be matched: answer above in the site file (station.history) and read again.")
	}
	n := v.Counts
	fmt.Fprintf(t.out, "%d lines read, %d not readable, %d outside the run, %d of other accounts.\n%s\n", n.Lines, n.Unread, n.Outside, n.Other, v.OffsetSay)
	printed := map[string]int{}
	for _, r := range v.Rows {
		if printed[r.State]++; printed[r.State] > mostLines {
			continue
		}
		fmt.Fprintf(t.out, "%-8s line %-5d %-9s zone %-4s %-28s %s\n", r.State, r.Row, r.At, r.Zone, r.What, r.Say)
		for _, choice := range r.Choices {
			fmt.Fprintf(t.out, "           --line %d=%s   %s\n", r.Row, choice.Value, choice.Say)
		}
	}
	for _, m := range v.Missing {
		fmt.Fprintf(t.out, "missing  zone %-4s %s\n", m.Zone, m.Say)
	}
	if v.Offset.Confirm {
		return t.notGood("Nothing was written: confirm the station's clock with --offset=%d (seconds ahead of ours), or give what it is.", v.Offset.Seconds)
	}
	if !v.Ready {
		return t.notGood("Nothing was written: no line of the history is a signal of this run.")
	}
	if v.Clock != nil {
		if err := t.act(ctx, evidence.KindRun, prove.RunBody{Act: prove.RunClocks, Run: run.ID, Clocks: prove.Clocks{Station: v.Clock}}, nil); err != nil {
			return err
		}
	}
	if err := t.act(ctx, evidence.KindReadback, v.Body, nil); err != nil {
		return err
	}
	fmt.Fprintf(t.out, "%d lines written as read-back of the station.\n", len(v.Body.Lines))
	t.list(false)
	if len(v.Missing)+n.Open > 0 {
		return t.notGood("%d signals are missing at the station, %d lines are open.", len(v.Missing), n.Open)
	}
	return nil
}

// notGood prints why a history was not good and ends the command so.
func (t *terminal) notGood(format string, args ...any) error {
	fmt.Fprintf(t.out, format+"\n", args...)
	return ErrNotGood
}
