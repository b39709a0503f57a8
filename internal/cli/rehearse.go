package cli

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"proofbell/internal/engine"
	"proofbell/internal/keypad"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

type rehearseCmd struct {
	Site    string   `arg:"" name:"SITE.yaml" help:"Site file; - for standard input."`
	Keys    string   `help:"Key list to run through the panel; - for standard input. Without it, type keys yourself." placeholder:"FILE"`
	Coach   bool     `help:"Say the next keys of the sheet, and the way back when it was left. Zones with a stop are left out."`
	Zones   []string `help:"Only these zones." placeholder:"09,11"`
	AsFound string   `help:"Zone table that the panel holds at the beginning (JSON, as rehearse prints it); without it nothing." placeholder:"FILE"`
	On      string   `help:"Day for which stops are looked for." placeholder:"DATE"`
	JSON    bool     `help:"Print one JSON document."`
	Lang    string   `default:"en" enum:"en,de" help:"Language: ${enum}."`
	ownPanel
}

// Run runs keys through the simulated keypad, or lets a person type them, and compares its zone table with the schedule.
func (c *rehearseCmd) Run(ctx context.Context, io *streams) error {
	x, problems, err := c.exercise(io)
	if err != nil {
		return err
	}
	session, lines := keypad.NewSession(x), []keypad.Line(nil)
	if c.Keys == "" {
		out := io.out
		if c.JSON {
			out = io.err // the document stands alone
		}
		if err := c.typeKeys(ctx, session, x.Panel, io.in, out); err != nil {
			return err
		}
	} else {
		raw, err := readFile(c.Keys, io.in, 64<<20)
		if err != nil {
			return err
		}
		keys, err := keypad.ParseKeys(x.Panel, raw)
		if err != nil {
			return fmt.Errorf("%s: %w", named(c.Keys), err)
		}
		if _, lines, err = keypad.Rehearse(x.Panel, keys, x.Held); err != nil {
			fmt.Fprintf(io.err, "%s: %v\n", named(c.Keys), err)
			return ErrNotGood
		}
		for _, key := range keys {
			if _, err := session.Do(keypad.Act{Key: key}); err != nil {
				return fmt.Errorf("%s: %w", named(c.Keys), err)
			}
		}
	}
	result, differ := session.Result(), keypad.Compare(session.Wanted(), session.Table())
	raw, err := keypad.AppendTable(x.Panel, session.Table())
	switch {
	case err != nil:
		return err
	case c.JSON:
		err = printJSON(io.out, map[string]any{"table": json.RawMessage(raw), "asWanted": len(differ) == 0, "differences": differ, "problems": problems, "transcript": lines, "result": result})
	default:
		fmt.Fprintf(io.out, "%s\n", raw)
		printResult(io.out, words.In(c.Lang), result, len(session.Table()), c.Keys == "")
	}
	if err == nil && len(differ) > 0 {
		err = ErrNotGood
	}
	return err
}

// exercise reads what is rehearsed.
func (c *rehearseCmd) exercise(io *streams) (x keypad.Exercise, problems []keypad.Problem, err error) {
	s, _, err := readSite(c.Site, io.in)
	if err != nil {
		return x, nil, err
	}
	p, err := c.of(c.Site, s, io)
	if err != nil {
		return x, nil, err
	}
	x = keypad.Exercise{Site: s, Panel: p, Options: keypad.Options{Lang: words.In(c.Lang), ReadBack: c.Coach}}
	for _, id := range c.Zones {
		if !slices.ContainsFunc(site.SortedIDs(s.Zones), func(known site.ZoneID) bool { return string(known) == id }) {
			return x, nil, fmt.Errorf("--zones: %s: the site has no such zone; it has %s", id, list(site.SortedIDs(s.Zones)))
		}
		x.Zones = append(x.Zones, site.ZoneID(id))
	}
	if c.Coach {
		on, err := day(c.On)
		if err != nil {
			return x, nil, err
		}
		findings, err := judged(words.In(c.Lang), c.Site, s, p, on)
		if err != nil {
			return x, nil, err
		}
		x.Options.Stops = engine.StopsOf(findings)
	}
	if c.AsFound != "" {
		raw, err := readFile(c.AsFound, io.in, maxSiteFile)
		if err != nil {
			return x, nil, err
		}
		if x.Held, err = keypad.ParseTable(p, raw); err != nil {
			return x, nil, fmt.Errorf("%s: %w", c.AsFound, err)
		}
	}
	_, problems = keypad.WantedIn(words.In(c.Lang), s, p)
	return x, problems, nil
}

func list[T ~string](all []T) string {
	var out []string
	for _, one := range all {
		out = append(out, string(one))
	}
	return strings.Join(out, ", ")
}

// typeKeys lets a person press keys at the simulated keypad: answers and keys, one line at a time, until the input ends or
// the panel has left programming. The panel's clock is the person's.
func (c *rehearseCmd) typeKeys(ctx context.Context, s *keypad.Session, p *panel.Profile, in io.Reader, out io.Writer) error {
	lang := words.In(c.Lang)
	fmt.Fprintln(out, lang.Say("Simulated keypad of panel %s. Keys: %s. Type keys or answers, Enter sends them; end with Ctrl-D. Nothing here reaches a real panel.", p.Name, strings.Join(p.Keypad.Keys, " ")))
	lines, since := bufio.NewScanner(in), time.Now()
	for {
		if c.Coach {
			printGuide(out, lang, s.Guide())
		}
		fmt.Fprintln(out, shownAt(lang, s.Display()))
		fmt.Fprint(out, "> ")
		if ctx.Err() != nil || s.Ended() || !lines.Scan() {
			return errors.Join(ctx.Err(), lines.Err())
		}
		passed := time.Since(since).Seconds()
		since = time.Now()
		keys, err := keypad.ParseKeys(p, lines.Bytes())
		if err != nil {
			fmt.Fprintln(out, err)
			continue
		}
		for _, key := range keys {
			outcome, err := s.Do(keypad.Act{After: passed, Key: key})
			passed = 0
			if err == nil && outcome != keypad.Refused && outcome != keypad.Ignored {
				continue
			}
			fmt.Fprintln(out, lang.Say("key %s: %s", key, why(lang, err, outcome)))
			break
		}
	}
}

// why says why a key did nothing.
func why(lang *words.Language, err error, outcome keypad.Outcome) string {
	switch {
	case err != nil:
		return err.Error()
	case outcome == keypad.Refused:
		return lang.Say("refused")
	}
	return lang.Say("ignored")
}

// shownAt is the display in one line, with the answer that the accept key alone would take.
func shownAt(lang *words.Language, d keypad.Display) string {
	switch {
	case d.Entered != "":
		return d.String() + "  " + d.Entered
	case d.Stored != "":
		return d.String() + "  " + lang.Say("(stored: %s)", d.Stored)
	}
	return d.String()
}

func printGuide(out io.Writer, lang *words.Language, g keypad.Guide) {
	if g.Say != "" {
		fmt.Fprintf(out, "  %s\n", g.Say)
	}
	if g.State == keypad.GuideDone {
		fmt.Fprintf(out, "  %s\n", lang.Say("The sheet is done."))
		return
	}
	var left []string
	for _, group := range g.Press {
		switch {
		case group.Done == 0:
			left = append(left, group.Say)
		case group.Done < group.Keys:
			left = append(left, lang.Say("%s (%d of %d pressed)", group.Say, group.Done, group.Keys))
		}
	}
	if len(left) == 0 || g.Card == nil {
		return
	}
	line := lang.Say("press %s", strings.Join(left, " "))
	if g.Zone != "" {
		line = lang.Say("zone %s", g.Zone) + ": " + line
	}
	if g.Card.Means != "" {
		line += " (" + g.Card.Means + ")"
	}
	fmt.Fprintf(out, "  %s\n", line)
}

func printResult(out io.Writer, lang *words.Language, r keypad.Result, held int, timed bool) {
	for _, d := range r.Differences {
		fmt.Fprintln(out, lang.Say("zone %s, %s: wanted %s, programmed %s", d.Zone, d.What, d.WantSay, d.GotSay))
	}
	open := 0
	for _, z := range r.Zones {
		if z.State == keypad.ZoneOpen {
			open++
			fmt.Fprintln(out, lang.Say("zone %s: not stored", z.Zone))
		}
	}
	for _, z := range r.LeftOut {
		fmt.Fprintln(out, lang.Say("zone %s: not on the sheet. %s", z.Zone, strings.Join(z.Why, " ")))
	}
	if r.AsWanted {
		fmt.Fprintln(out, lang.Say("%d zones, as the schedule wants them.", held))
	}
	fmt.Fprintln(out, lang.Say("Rehearsal: %d keys (the sheet has %d), %d wrong: %d refused, %d without use, %d off the sheet.", r.Keys, r.Sheet, r.Slips, r.Refused, r.Ignored, r.Strayed))
	if timed {
		fmt.Fprintln(out, lang.Say("Time: %s min.", lang.Number(r.Seconds/60, 1)))
	}
}
