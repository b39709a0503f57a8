package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"github.com/goccy/go-yaml"

	"proofbell/internal/engine"
	"proofbell/internal/reach"
	"proofbell/internal/words"
	"proofbell/internal/worked"
	"proofbell/quantity"
	"proofbell/reliability"
	"proofbell/site"
)

type calcReachCmd struct {
	What  string `arg:"" optional:"" name:"SITE.yaml|JOB" help:"Site file, - for standard input; or the id of a job, or the beginning of its name, whose readings then count. Left out: the numbers below."`
	Room  string `help:"Of a site: this room in full." placeholder:"ID"`
	Helps bool   `help:"Of a site: which one change helps most for what it costs."`
	On    string `help:"Of a site: day on which ages are judged; left out: today." placeholder:"2026-09-15"`

	System string   `help:"Instead of a site: a system file, YAML or JSON, - for standard input." placeholder:"FILE"`
	Rate   float64  `help:"Instead of a site: failures an hour of one part." placeholder:"3e-6"`
	Test   string   `help:"With --rate: interval of the test that shows a failure." placeholder:"1y"`
	Notice string   `help:"With --rate: time until a failure is reported." placeholder:"4h"`
	Repair string   `help:"With --rate: time to its repair." default:"0h"`
	Seen   float64  `help:"With --rate and --test: share of the failures that is seen at once, 0 to 1."`
	Beta   *float64 `help:"With --rate and --test: two such parts of which one is enough, and the share of failures that is common to both, 0 to 1." placeholder:"0.1"`

	Explain bool   `help:"Print the calculation sheet; of a site with --room."`
	JSON    bool   `help:"Print one JSON document."`
	Lang    string `default:"en" enum:"en,de" help:"Language: ${enum}."`

	sumsFlags
	dataFlags
}

// Run prints how a fire in each room becomes known, or the sum of the numbers given.
func (c *calcReachCmd) Run(ctx context.Context, io *streams) error {
	if err := c.write(ctx, io, c.dataFlags, c.What, c.On, c.Lang, c.Room != "" || c.Helps); err != nil {
		return err
	}
	lang := words.In(c.Lang)
	switch {
	case c.System != "":
		return c.system(lang, io)
	case c.What == "" && c.Rate != 0:
		return c.part(lang, io)
	case c.What == "":
		return errors.New("name a site file or a job, or give --system, or --rate with --test or --notice")
	case c.Explain && c.Room == "":
		return errors.New("--explain is of one room: give --room")
	}
	now := time.Now()
	if c.On != "" {
		var err error
		if now, err = time.Parse(time.DateOnly, c.On); err != nil {
			return fmt.Errorf("--on %q: write a day as 2026-09-15", c.On)
		}
		now = now.Add(12 * time.Hour)
	}
	state, err := stateOf(ctx, c.dataFlags, io, c.What)
	if err != nil {
		return err
	}
	return c.site(lang, io.out, engine.NewDesk(state, 0).In(lang), now)
}

func (c *calcReachCmd) site(lang *words.Language, w io.Writer, d *engine.Desk, now time.Time) error {
	switch {
	case c.Room != "":
		v, err := d.ReachRoom(now, site.RoomID(c.Room), nil)
		if err != nil {
			return err
		}
		return c.room(lang, w, v)
	case c.Helps:
		v, err := d.ReachHelps(now)
		if err != nil {
			return err
		}
		if c.JSON {
			return printJSON(w, v)
		}
		fmt.Fprintln(w, v.Say)
		for i, one := range v.Changes {
			fmt.Fprintf(w, "%d. %s [%s, %s]\n   %s; %s\n", i+1, one.Name, one.ID, lang.Say("costs %s", lang.Number(one.Cost, -1)), one.Say, lang.Say("then %s", one.After.Say))
			if one.Assumes != "" {
				fmt.Fprintln(w, "   "+one.Assumes)
			}
		}
		fmt.Fprintln(w, v.Label)
		return nil
	}
	v, err := d.ReachRooms(now)
	if err != nil {
		return err
	}
	if c.JSON {
		return printJSON(w, v)
	}
	fmt.Fprintln(w, v.Say)
	for _, one := range v.Singles {
		fmt.Fprintln(w, "- "+one.Say)
	}
	for _, r := range v.Rooms {
		fmt.Fprintf(w, "%s %s: %s\n    %s\n    %s\n", r.Room, r.Name, r.Say, lang.Say("not reported: %s", r.Station.Say), lang.Say("not heard: %s", r.Sound.Say))
	}
	fmt.Fprintf(w, "%s %s\n%s %s\n", v.MeanSay, v.Mean.Say, v.AnySay, v.Any.Say)
	for _, one := range v.Weak {
		fmt.Fprintf(w, "%s: %s\n", one.Name, one.Say)
	}
	printNotes(w, lang, v.Label, v.Assumed, v.Missing)
	return nil
}

func (c *calcReachCmd) room(lang *words.Language, w io.Writer, v reach.RoomView) error {
	switch {
	case c.JSON:
		return printJSON(w, v)
	case c.Explain:
		fmt.Fprint(w, v.Sheet.Explain(lang))
		return nil
	}
	fmt.Fprintf(w, "%s %s: %s\n%s\n%s\n", v.Row.Room, v.Row.Name, v.Row.Say, lang.Say("not reported: %s", v.Row.Station.Say), lang.Say("not heard: %s", v.Row.Sound.Say))
	for _, way := range v.Ways {
		fmt.Fprintln(w, "    "+way)
	}
	for _, list := range [][]reach.SingleRow{v.Singles, v.SingleEars} {
		for _, one := range list {
			fmt.Fprintln(w, "- "+one.Say)
		}
	}
	fmt.Fprintln(w, v.CutsSay)
	for _, cut := range v.Cuts {
		fmt.Fprintf(w, "    %s  %s\n", cut.Chance, cut.Say)
	}
	for _, one := range v.Weak {
		fmt.Fprintf(w, "%s: %s\n", one.Name, one.Say)
	}
	fmt.Fprintln(w, v.Label)
	return nil
}

// part is one part, or two like ones, from plain numbers.
func (c *calcReachCmd) part(lang *words.Language, io *streams) error {
	hours := map[string]float64{}
	for flag, text := range map[string]string{"--test": c.Test, "--notice": c.Notice, "--repair": c.Repair} {
		if text == "" {
			continue
		}
		var d quantity.Duration
		if err := typed(&d, flag, text); err != nil {
			return err
		}
		hours[flag] = d.SI() / 3600
	}
	test, repair := hours["--test"], hours["--repair"]
	h := func(v float64) string { return lang.Number(v, -1) + " h" }
	var st worked.Step
	var err error
	switch {
	case c.Beta != nil:
		st = worked.Step{Formula: "7.7", Name: lang.Say("Two like channels"), Says: "U = 2[(1 - b/2) sλ + (1 - b)(1 - s)λ]² t₂ t₃ + b/2 sλ M + b (1 - s)λ (T/2 + M)", Put: "s = " + lang.Number(c.Seen, -1) + ", b = " + lang.Number(*c.Beta, -1) + ", T = " + h(test) + ", M = " + h(repair), Source: "IEC 61508-6 annex B, 1oo2", Confidence: worked.Medium}
		st.Value, err = reliability.Pair{Rate: c.Rate, Seen: c.Seen, Interval: test, Repair: repair, Beta: *c.Beta, BetaOfSeen: *c.Beta / 2}.Unavailable()
	case c.Seen != 0:
		st = worked.Step{Formula: "7.3", Name: lang.Say("Partly seen, partly tested"), Says: "U = λ [(1 - s)(T/2 + M) + s M]", Put: "s = " + lang.Number(c.Seen, -1) + ", T = " + h(test) + ", M = " + h(repair), Source: "IEC 61508-6 annex B, 1oo1", Confidence: worked.Medium}
		st.Value, err = reliability.Diagnosed(c.Rate, c.Seen, test, repair)
	case c.Test != "":
		st = worked.Step{Formula: "7.1", Name: lang.Say("Tested, unseen until then"), Says: "U = 1 - (1 - e⁻ˣ)/x, x = λ T", Put: "T = " + h(test), Source: "IEC 61508-6 annex B", Confidence: worked.High}
		st.Value, err = reliability.Tested(c.Rate, test)
	case c.Notice != "":
		st = worked.Step{Formula: "7.2", Name: lang.Say("Supervised"), Says: "U = x/(1 + x), x = λ (D + M)", Put: "D = " + h(hours["--notice"]) + ", M = " + h(repair), Source: lang.Say("alternating renewal process, steady state"), Confidence: worked.High}
		st.Value, err = reliability.Supervised(c.Rate, hours["--notice"], repair)
	default:
		return errors.New("--rate alone says nothing of how long a failure lasts: give --test or --notice")
	}
	if err != nil {
		return err
	}
	st.Put, st.Say = "λ = "+fmt.Sprintf("%g", c.Rate)+"/h, "+st.Put, fmt.Sprintf("%.3g", st.Value)
	sheet := worked.Sheet{ID: "reach.part", Title: st.Name, Label: lang.Word(reach.Label), Result: lang.Say("unavailable: %s", st.Say), Steps: []worked.Step{st}, Inputs: []worked.Input{}, Pictures: []worked.Picture{}, Cautions: []string{}, Missing: []string{}, Assumed: []string{}}
	if c.JSON {
		return printJSON(io.out, sheet)
	}
	fmt.Fprint(io.out, sheet.Explain(lang))
	return nil
}

// systemAnswer is what a system file comes to.
type systemAnswer struct {
	Label   string             `json:"label"`
	Range   reliability.Range  `json:"range"`
	Spread  reliability.Spread `json:"spread"`
	Cuts    [][]string         `json:"cuts"` // minimal cut sets, small ones first
	Total   float64            `json:"total"`
	Whole   bool               `json:"whole"` // all are listed
	Parts   []systemPart       `json:"parts"`
	Formula string             `json:"formula"`
}

type systemPart struct {
	ID            string            `json:"id"`
	Unavailable   reliability.Range `json:"unavailable"`
	Birnbaum      float64           `json:"birnbaum"`
	FussellVesely float64           `json:"fussellVesely"`
}

func (c *calcReachCmd) system(lang *words.Language, streams *streams) error {
	raw, err := io.ReadAll(streams.in)
	if c.System != "-" {
		raw, err = os.ReadFile(c.System)
	}
	if err != nil {
		return err
	}
	text, err := yaml.YAMLToJSON(raw)
	if err != nil {
		return fmt.Errorf("%s: %w", c.System, err)
	}
	s, top, err := reliability.Read(text)
	if err != nil {
		return fmt.Errorf("%s: %w", c.System, err)
	}
	d, err := s.Diagram(0, top)
	if err != nil {
		return err
	}
	cuts, err := d.CutSets(top, reliability.CutLimit{Sets: 1000})
	if err != nil {
		return err
	}
	u := s.Chances(reliability.Mid)
	fv, err := d.FussellVesely(top, u)
	if err != nil {
		return err
	}
	birnbaum := d.Birnbaum(u, top)
	a := systemAnswer{Label: lang.Word(reach.Label), Range: d.Ranges()[0], Spread: d.Spreads(10_000, 1)[0], Cuts: [][]string{}, Total: cuts.Total, Whole: cuts.Whole, Formula: "7.8"}
	for _, set := range cuts.Sets {
		var ids []string
		for _, i := range set {
			ids = append(ids, s.Parts[i].ID)
		}
		a.Cuts = append(a.Cuts, ids)
	}
	for i, p := range s.Parts {
		a.Parts = append(a.Parts, systemPart{p.ID, p.Unavailable, birnbaum[i], fv[i]})
	}
	if c.JSON {
		return printJSON(streams.out, a)
	}
	w := streams.out
	fmt.Fprintln(w, lang.Say("unavailable: %.3g to %.3g, middle %.3g", a.Range.Low, a.Range.High, a.Range.Mid))
	fmt.Fprintln(w, lang.Say("nine in ten of %d samples between %.2g and %.2g", a.Spread.Samples, a.Spread.P5, a.Spread.P95))
	fmt.Fprintln(w, lang.Say("minimal cut sets: %s", lang.Number(a.Total, 0)))
	for _, set := range a.Cuts[:min(len(a.Cuts), 50)] {
		fmt.Fprintf(w, "    %v\n", set)
	}
	for _, p := range a.Parts {
		fmt.Fprintf(w, "%s: U %.3g, Birnbaum %.3g, Fussell-Vesely %.3g\n", p.ID, p.Unavailable.Mid, p.Birnbaum, p.FussellVesely)
	}
	fmt.Fprintln(w, a.Label)
	return nil
}
