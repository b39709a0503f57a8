package cli

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"proofbell/electrical"
	"proofbell/internal/engine"
	"proofbell/internal/supply"
	"proofbell/internal/words"
	"proofbell/internal/worked"
	"proofbell/quantity"
	"proofbell/rules"
	"proofbell/site"
)

type standbyCmd struct {
	What string `arg:"" optional:"" name:"SITE.yaml|JOB" help:"Site file, - for standard input; or the id of a job, or the beginning of its name. Without it, plain numbers."`

	Rest      string  `help:"Current at rest." placeholder:"0.36A"`
	Alarm     string  `help:"Current in alarm." placeholder:"1.30A"`
	Standby   string  `help:"Time at rest; plain numbers: 24h where no rule is named." placeholder:"24h"`
	AlarmTime string  `help:"Time in alarm; plain numbers: 4min where no rule is named." placeholder:"4min"`
	Ageing    float64 `help:"Factor for the end of the battery's life; plain numbers: 1.25." placeholder:"1.25"`

	RuleSet     string   `help:"Rule for the times and the factor: one of the duties of docs/formulas.md, 5.1." placeholder:"fire-household"`
	Grade       int      `help:"Intruder system of this grade, 1 to 4, by EN 50131." placeholder:"2"`
	Type        string   `default:"A" enum:"A,B,C" help:"With --grade, type of supply: A rechargeable, B changed by hand, C battery alone."`
	Reported    bool     `help:"With --grade: mains failure is told to the station."`
	Generator   bool     `help:"With --grade: there is a second prime source."`
	Temperature string   `help:"Lowest temperature at the battery." placeholder:"10C"`
	Battery     []string `help:"Batteries that can be had; the fitted one first." placeholder:"7Ah,12Ah"`
	Peukert     float64  `help:"Exponent of Peukert's law for them, 1 to 1.6." placeholder:"1.15"`
	Charger     string   `help:"All that the panel's supply can give." placeholder:"1.5A"`
	Date        string   `help:"Date of the fitted battery, for the time until empty." placeholder:"2024-03"`
	On          string   `help:"Day for which that is said; without it today." placeholder:"2026-09-15"`
	Radio       bool     `help:"The batteries of the radio devices of a site instead."`

	Explain bool   `help:"Print the calculation sheets."`
	Plot    string `help:"Write the discharge as a drawing into this file." placeholder:"FILE.svg"`
	JSON    bool   `help:"Print one JSON document, with every term."`
	Lang    string `default:"en" enum:"en,de" help:"Language: ${enum}."`

	sumsFlags
	dataFlags
}

// Run sizes the panel's battery from a site or from plain numbers; not good when the fitted one is too small.
func (c *standbyCmd) Run(ctx context.Context, io *streams) error {
	changed := c.Rest+c.Alarm+c.Standby+c.AlarmTime+c.RuleSet+c.Temperature+c.Charger+c.Date != "" || c.Ageing != 0 || c.Grade != 0 || len(c.Battery) > 0
	if err := c.write(ctx, io, c.dataFlags, c.What, c.On, c.Lang, changed); err != nil {
		return err
	}
	day := time.Now()
	if c.On != "" {
		d, err := site.ParseDate(c.On)
		if err != nil {
			return fmt.Errorf("--on: %w", err)
		}
		day = d.First()
	}
	if c.What == "" {
		switch {
		case c.Rest != "" && c.Alarm == "":
			return errors.New("missing flags: --alarm=1.30A")
		case c.Alarm != "" && c.Rest == "":
			return errors.New("missing flags: --rest=0.36A")
		case c.Rest == "":
			return errors.New("name a site file or a job, or give numbers: --rest 0.36A --alarm 1.30A")
		}
		if c.Radio {
			return errors.New("--radio needs a site file or a job")
		}
		plain := &site.Site{}
		if err := c.lay(plain); err != nil {
			return err
		}
		s := supply.Of(plain, supply.Least{Ageing: 1.25, Name: "-", Source: words.In(c.Lang).Say("as typed")}, day, words.In(c.Lang))
		return c.print(io, s, plain)
	}
	state, err := stateOf(ctx, c.dataFlags, io, c.What)
	if err != nil {
		return err
	}
	of := state.Site
	if err := c.lay(of); err != nil {
		return err
	}
	set, _, err := rules.SetOf(of.RuleSet)
	if err != nil {
		return err
	}
	lang := words.In(c.Lang)
	s := supply.Of(of, engine.PowerLeast(set, lang.Word(set.Title)), day, lang)
	if c.Radio {
		return c.radio(io, s)
	}
	return c.print(io, s, of)
}

// lay puts what the flags say over the site.
func (c *standbyCmd) lay(s *site.Site) error {
	p := &s.Power
	if c.What == "" {
		if p.Ageing = c.Ageing; p.Ageing == 0 && c.RuleSet == "" && c.Grade == 0 {
			p.Ageing = 1.25
		}
		if c.RuleSet == "" && c.Grade == 0 {
			p.Standby, p.AlarmTime = quantity.MustParse[quantity.DurationDimension]("24h"), quantity.MustParse[quantity.DurationDimension]("4min")
		}
	} else if c.Ageing != 0 {
		p.Ageing = c.Ageing
	}
	if c.Grade != 0 {
		if c.RuleSet != "" {
			return errors.New("give --rule-set or --grade, not both")
		}
		d, err := electrical.IntruderDuty(c.Grade, c.Type, c.Reported, c.Generator)
		if err != nil {
			return fmt.Errorf("--grade: %w", err)
		}
		p.Duty = d.ID
	}
	if c.RuleSet != "" {
		if _, ok := electrical.DutyOf(c.RuleSet); !ok {
			return fmt.Errorf("--rule-set %q is not known; known: %s", c.RuleSet, strings.Join(site.Words("standby-duty"), ", "))
		}
		p.Duty = c.RuleSet
	}
	var errs []error
	errs = append(errs, over(&p.RestLoad, "--rest", c.Rest), over(&p.AlarmLoad, "--alarm", c.Alarm), over(&p.Standby, "--standby", c.Standby), over(&p.AlarmTime, "--alarm-time", c.AlarmTime),
		over(&p.Temperature, "--temperature", c.Temperature), over(&p.Charger, "--charger", c.Charger))
	if c.Date != "" {
		d, err := site.ParseDate(c.Date)
		if err != nil {
			errs = append(errs, fmt.Errorf("--date: %w", err))
		}
		p.BatteryDate = d
	}
	for i, text := range c.Battery {
		cell := site.Cell{Peukert: c.Peukert}
		if err := over(&cell.Capacity, "--battery", text); err != nil {
			errs = append(errs, err)
			continue
		}
		id := site.CellID(fmt.Sprintf("b%d", i+1))
		if i == 0 {
			p.Battery, p.Fitted, p.Cells = cell.Capacity, id, map[site.CellID]site.Cell{}
		}
		p.Cells[id] = cell
	}
	return errors.Join(errs...)
}

// over reads a value with its unit, if there is one.
func over[D quantity.Dimension](into *quantity.Typed[D], flag, text string) error {
	if text == "" {
		return nil
	}
	return typed(into, flag, text)
}

func (c *standbyCmd) print(io *streams, s *supply.Supply, of *site.Site) error {
	lang := words.In(c.Lang)
	v := s.View()
	if c.Plot != "" {
		if len(v.Sheet.Pictures) == 0 {
			return errors.New("--plot: nothing to draw: the loads or the fitted battery (--battery) are not known")
		}
		if err := os.WriteFile(c.Plot, v.Sheet.Pictures[0].SVG(), 0o644); err != nil {
			return err
		}
	}
	if len(v.Sheet.Missing) > 0 {
		return fmt.Errorf("%s: %s", v.Sheet.Title, strings.Join(v.Sheet.Missing, "; "))
	}
	p, t := of.Power, s.Sum()
	formula := lang.Say("needed = ageing x (rest x standby + alarm x alarm time)")
	source := lang.Say("standby calculation of NFPA 72 10.6.7 and BS 5839-1 annex D, with the ageing factor given")
	switch {
	case c.JSON:
		if err := printJSON(io.out, map[string]any{
			"load": t.Load, "needed": t.Needed, "unit": "Ah", "formula": formula, "source": source,
			"inputs": map[string]any{"rest": p.RestLoad, "alarm": p.AlarmLoad, "standby": p.Standby, "alarmTime": p.AlarmTime, "ageing": t.Ageing},
			"terms":  t, "view": v,
		}); err != nil {
			return err
		}
	case c.Explain:
		for i, sh := range append([]worked.Sheet{v.Sheet}, v.Sheets...) {
			if c.What == "" && i > 0 && len(sh.Missing) > 0 {
				continue // plain numbers that say nothing of it
			}
			fmt.Fprintf(io.out, "%s\n", sh.Explain(lang))
		}
	default:
		fmt.Fprintf(io.out, "%s\n%s\n= %s x (%s x %s + %s x %s)\n", lang.Say("%s Ah needed (load %s Ah)", lang.Number(float64(t.Needed), -1), lang.Number(float64(t.Load), -1)), formula,
			lang.Number(t.Ageing*t.Cold, -1), p.RestLoad, spoken(t.Standby), p.AlarmLoad, spoken(t.AlarmTime))
		if v.Fitted != nil {
			fmt.Fprintln(io.out, v.Say)
		}
		for _, a := range v.Sheet.Assumed {
			fmt.Fprintln(io.out, lang.Say("assumed: %s", a))
		}
		for _, cell := range v.Cells {
			fmt.Fprintf(io.out, "%s: %s\n", cell.Name, cell.Say)
		}
		for _, sh := range v.Sheets {
			if len(sh.Missing) == 0 {
				fmt.Fprintf(io.out, "%s: %s\n", sh.Title, sh.Result)
			}
		}
		fmt.Fprintln(io.out, lang.Say("Source: %s. Fit the next size up that cabinet, charger and listing allow.", source))
	}
	if v.Verdict == "short" {
		return ErrNotGood
	}
	return nil
}

// spoken writes a time in seconds as hours or minutes.
func spoken(t quantity.Second) string {
	if t >= 3600 {
		return fmt.Sprintf("%gh", float64(t)/3600)
	}
	return fmt.Sprintf("%gmin", float64(t)/60)
}

func (c *standbyCmd) radio(io *streams, s *supply.Supply) error {
	lang, v, past := words.In(c.Lang), s.Batteries(), false
	for _, r := range v.Rows {
		past = past || r.Past
	}
	switch {
	case c.JSON:
		if err := printJSON(io.out, v); err != nil {
			return err
		}
	case c.Explain:
		for _, r := range v.Rows {
			fmt.Fprintf(io.out, "%s\n", r.Sheet.Explain(lang))
		}
	default:
		for _, r := range v.Rows {
			fmt.Fprintf(io.out, "%s\n    %s\n", words.Join(strings.Join(r.Zones, " "), r.Name, r.Room), r.Say)
		}
		fmt.Fprintln(io.out, v.Label)
	}
	if past {
		return ErrNotGood
	}
	return nil
}
