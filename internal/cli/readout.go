package cli

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"proofbell/internal/keypad"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

type readoutCmd struct {
	Site    string   `arg:"" name:"SITE.yaml" help:"Site file."`
	Zones   []string `help:"Zones to read; without it, those of the schedule that are not known, life safety first." placeholder:"09,11"`
	AsFound string   `help:"Zone table that is known already: its zones are not read again." placeholder:"FILE"`
	Out     string   `type:"path" help:"Write what was read as a zone table, which keying --as-found takes." placeholder:"FILE"`
	JSON    bool     `help:"Print the cards of a panel that is as planned, as one JSON document."`
	Lang    string   `default:"en" enum:"en,de" help:"Language: ${enum}."`
	ownPanel
}

// Run asks at the terminal what the panel shows, card by card; not good when a zone was not read or differs from the plan.
func (c *readoutCmd) Run(io *streams) error {
	s, _, err := readSite(c.Site, io.in)
	if err != nil {
		return err
	}
	p, err := c.of(c.Site, s, io)
	if err != nil {
		return err
	}
	lang := words.In(c.Lang)
	if why := keypad.Readable(lang, p); why != "" {
		return fmt.Errorf("panel %s: %s", p.Name, why)
	}
	held := keypad.ZoneTable{}
	if c.AsFound != "" {
		raw, err := readFile(c.AsFound, io.in, maxSiteFile)
		if err != nil {
			return err
		}
		if held, err = keypad.ParseTable(p, raw); err != nil {
			return fmt.Errorf("%s: %w", c.AsFound, err)
		}
	}
	plan, _ := keypad.Wanted(s, p)
	zones, err := c.zones(s, p, held)
	if err != nil {
		return err
	}
	r := reader{p: p, lang: lang, plan: plan, table: held, out: io.out, in: bufio.NewScanner(io.in)}
	if c.JSON {
		return r.cards(io.out, zones)
	}
	left, err := r.read(zones)
	if err != nil {
		return err
	}
	if c.Out != "" {
		raw, err := keypad.AppendTable(p, r.table)
		if err == nil {
			err = writeFile(c.Out, raw)
		}
		if err != nil {
			return fmt.Errorf("%s: %w", c.Out, err)
		}
	}
	fmt.Fprintln(io.out)
	differ := r.compare()
	if left > 0 {
		fmt.Fprintln(io.out, lang.Say("Zones not read: %d.", left))
	}
	if left > 0 || differ {
		return ErrNotGood
	}
	return nil
}

// zones are those to read, in order.
func (c *readoutCmd) zones(s *site.Site, p *panel.Profile, held keypad.ZoneTable) ([]keypad.ToRead, error) {
	all := keypad.ReadOrder(s, p, func(n site.ZoneID) (known, seen bool) { _, known = held[n]; return known, known })
	if len(c.Zones) == 0 {
		return slices.DeleteFunc(all, func(z keypad.ToRead) bool { return z.Need != keypad.NeedRead }), nil
	}
	var out []keypad.ToRead
	for _, text := range c.Zones {
		n, ok := p.ZoneNumber(site.ZoneID(text))
		if !ok {
			return nil, fmt.Errorf("--zones: %q is no zone of this panel; it has %d to %d", text, p.Zones.First, p.Zones.Last)
		}
		out = append(out, all[slices.IndexFunc(all, func(z keypad.ToRead) bool { return z.Zone == p.ZoneID(n) })])
	}
	return out, nil
}

// reader asks for what the panel shows.
type reader struct {
	p     *panel.Profile
	lang  *words.Language
	plan  keypad.ZoneTable
	table keypad.ZoneTable
	in    *bufio.Scanner
	out   io.Writer
}

func (r *reader) options(zone site.ZoneID) keypad.ReadOptions {
	plan := r.plan[zone]
	if plan == nil {
		plan = keypad.Slots{}
	}
	return keypad.ReadOptions{Lang: r.lang, Plan: plan}
}

// read asks zone by zone and returns how many are left when the input ends.
func (r *reader) read(zones []keypad.ToRead) (left int, err error) {
	fmt.Fprintln(r.out, r.lang.Say("Reading out panel %s. Put the account on test first: opening the panel and programming send signals.", r.p.Name))
	fmt.Fprintln(r.out, r.lang.Say("Press the keys at the panel and type what it shows. Enter alone: as planned. -: nothing stands there. ! in front: keep it as seen. Ctrl-D ends it."))
	for i, z := range zones {
		fmt.Fprintf(r.out, "\n%s  %s\n", r.lang.Say("Zone %s", z.Zone), z.Label)
		done, err := r.zone(z.Zone)
		if err != nil {
			return 0, err
		}
		if !done {
			return len(zones) - i, nil
		}
	}
	return 0, nil
}

// zone reads one zone; done is false when the input ended.
func (r *reader) zone(zone site.ZoneID) (done bool, err error) {
	var seen []keypad.Seen
	for {
		z, err := keypad.ReadZone(r.p, zone, seen, r.options(zone))
		var told *words.Error
		switch {
		case errors.As(err, &told):
			fmt.Fprintf(r.out, "  ! %s\n", told.Said().In(r.lang))
			seen = seen[:len(seen)-1]
			if z, err = keypad.ReadZone(r.p, zone, seen, r.options(zone)); err != nil {
				return false, err
			}
		case err != nil:
			return false, err
		}
		if z.Done {
			r.tell(zone, z)
			return true, nil
		}
		r.show(z.Card)
		if !r.in.Scan() {
			return false, r.in.Err()
		}
		seen = append(seen, r.seen(z.Card, strings.TrimSpace(r.in.Text())))
	}
}

func (r *reader) seen(c keypad.ReadCard, text string) keypad.Seen {
	sure := strings.HasPrefix(text, "!")
	text = strings.TrimSpace(strings.TrimPrefix(text, "!"))
	switch text {
	case "":
		return keypad.Seen{Text: c.Plan}
	case "-":
		return keypad.Seen{}
	}
	return keypad.Seen{Text: text, Sure: sure}
}

func (r *reader) show(c keypad.ReadCard) {
	fmt.Fprintf(r.out, "%3d/%d  %-22s %s: %-24s", c.N, c.Of, c.Shows, r.lang.Say("press"), keypad.Pressed(r.lang, c.Press))
	if c.Until {
		fmt.Fprint(r.out, " "+r.lang.Say("until it shows"))
	}
	fmt.Fprintf(r.out, " -> %s", c.Then)
	switch c.Ask {
	case keypad.AskGo, keypad.AskLeave:
		fmt.Fprintf(r.out, "  %s [Enter] ", c.Hint)
	default:
		plan := c.Plan
		if plan == "" {
			plan = "-"
		}
		fmt.Fprintf(r.out, "  %s [%s] ", c.What, plan)
	}
}

// tell says what became of a zone and notes what was read.
func (r *reader) tell(zone site.ZoneID, z keypad.ZoneReading) {
	for _, note := range z.Notes {
		fmt.Fprintf(r.out, "  ! %s\n", note)
	}
	for _, u := range z.Unknown {
		fmt.Fprintf(r.out, "  ! %s\n", r.lang.Say("not known to the panel's description, kept as seen: %s", u))
	}
	if z.Read {
		r.table[zone] = z.Slots
	}
}

// compare prints where the panel differs from the plan, and reports whether it does anywhere.
func (r *reader) compare() bool {
	differ := false
	for _, zone := range slices.Sorted(maps.Keys(r.table)) {
		for _, d := range keypad.Compare(keypad.ZoneTable{zone: r.plan[zone]}, keypad.ZoneTable{zone: r.table[zone]}) {
			differ = true
			fmt.Fprintf(r.out, "%s  %s: %s %q, %s %q\n", r.lang.Say("zone %s", zone), d.Field.Say().In(r.lang), r.lang.Say("in the panel"), d.Got, r.lang.Say("planned"), d.Want)
		}
	}
	if !differ {
		fmt.Fprintln(r.out, r.lang.Say("Zones in the panel as planned: %d.", len(r.table)))
	}
	return differ
}

// readCards is one zone of --json.
type readCards struct {
	keypad.ToRead
	Cards []keypad.ReadCard `json:"cards"`
}

// cards prints the cards of a panel that is as planned.
func (r *reader) cards(w io.Writer, zones []keypad.ToRead) error {
	out := []readCards{}
	for _, z := range zones {
		one := readCards{ToRead: z, Cards: []keypad.ReadCard{}}
		for seen := []keypad.Seen(nil); ; {
			read, err := keypad.ReadZone(r.p, z.Zone, seen, r.options(z.Zone))
			if err != nil {
				return err
			}
			if read.Done {
				break
			}
			one.Cards = append(one.Cards, read.Card)
			seen = append(seen, keypad.Seen{Text: read.Card.Plan})
		}
		out = append(out, one)
	}
	return printJSON(w, map[string]any{"format": "proofbell.readout/1", "panel": r.p.Name, "version": r.p.Version, "zones": out})
}
