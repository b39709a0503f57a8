package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"proofbell/acoustics"
	"proofbell/internal/book"
	"proofbell/internal/engine"
	"proofbell/internal/estimate"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/site"
)

type calcSoundCmd struct {
	What  string  `arg:"" optional:"" name:"SITE.yaml|JOB" help:"Site file, - for standard input; or the id of a job, or the beginning of its name. Without it, plain numbers."`
	Room  string  `help:"Only this room." placeholder:"ID"`
	Doors string  `default:"shut" enum:"shut,open,as-drawn" help:"How the doors stand: ${enum}."`
	Tone  float64 `help:"Tone of all sounders, Hz; without it each its own." placeholder:"520"`

	SourceLevel float64   `help:"Rated level of the sounder, dBA." placeholder:"85"`
	RatedAt     float64   `default:"3" help:"Distance at which it is rated, m."`
	Distance    float64   `help:"Distance to the listener, m." placeholder:"3"`
	Loss        []float64 `help:"What stands on the straight way, dB each." placeholder:"20"`
	Q           float64   `default:"2" help:"Directivity: 1 full sphere, 2 on a ceiling or wall, 4 edge, 8 corner."`
	Absorption  float64   `help:"Absorption of the sounder's room, m2." placeholder:"10"`
	Part        []string  `sep:"none" help:"A part of the wall into the next room, AREA:LOSS in m2 and dB; repeatable." placeholder:"1.6:20"`
	Behind      float64   `help:"Absorption of the next room, m2." placeholder:"14"`
	Ambient     float64   `help:"Average of what else sounds there, dBA." placeholder:"45"`
	Loudest     float64   `help:"Loudest of it that lasts 60 s, dBA." placeholder:"62"`
	Sleeping    bool      `help:"Someone sleeps there."`

	pdfFlags
	JSON bool   `help:"Print one JSON document, with every term."`
	Lang string `default:"en" enum:"en,de" help:"Language: ${enum}."`

	dataFlags
}

// Run prints the sound of a site's rooms, or a sum of plain numbers; not good when too little arrives where people sleep,
// or at the listener of the numbers.
func (c *calcSoundCmd) Run(ctx context.Context, io *streams) error {
	if err := c.check(); err != nil {
		return err
	}
	switch {
	case c.PDF != "" && (c.What == "" || c.Room != "" || c.Tone != 0 || c.Doors != "shut"):
		return errors.New("--pdf is the document of a whole site or job, doors shut: leave out --room, --tone and --doors")
	case c.What == "" && c.SourceLevel == 0:
		return errors.New("name a site file or a job, or give numbers: --source-level 85 --distance 3")
	case c.What != "" && c.SourceLevel != 0:
		return errors.New("give a site or numbers, not both")
	case c.What == "":
		return c.numbers(io.out)
	}
	state, err := stateOf(ctx, c.dataFlags, io, c.What)
	if err != nil {
		return err
	}
	v, err := engine.NewDesk(state, 0).In(words.In(c.Lang)).SoundRooms(engine.FieldArg{Doors: estimate.Doors(c.Doors), Tone: c.Tone})
	if err != nil {
		return err
	}
	if err := c.of(ctx, io, c.dataFlags, "sound-estimate", c.What, "", c.Lang); err != nil {
		return err
	}
	return c.rooms(io.out, v)
}

func (c *calcSoundCmd) rooms(w io.Writer, v estimate.SoundView) error {
	lang := words.In(c.Lang)
	rows, short := []estimate.SoundRow{}, false
	for _, r := range v.Rows {
		if c.Room == "" || r.Room == c.Room {
			rows = append(rows, r)
			short = short || r.Sleeping && r.Verdict == estimate.TooLittle
		}
	}
	if c.Room != "" && len(rows) == 0 {
		return fmt.Errorf("--room %q is no room of the site", c.Room)
	}
	v.Rows = rows
	if c.JSON {
		if err := printJSON(w, v); err != nil {
			return err
		}
	} else {
		for _, r := range v.Rows {
			printSoundRow(w, lang, r, c.Room != "")
		}
		if v.Fit != nil {
			fmt.Fprintln(w, v.Fit.Say)
			for _, p := range v.Fit.Parameters {
				fmt.Fprintf(w, "    %s %s %s (%s .. %s)\n", p.Name, lang.Number(p.Value, 1), p.Unit, lang.Number(p.Low, 1), lang.Number(p.High, 1))
			}
			for _, r := range v.Fit.Residuals {
				fmt.Fprintln(w, "    "+lang.Say("%s: measured %s, model %s, left %s dB", r.Say, lang.Number(r.Measured, 1), lang.Number(r.Model, 1), lang.Number(r.Left, 1)))
			}
		}
		for _, a := range v.Assumed {
			fmt.Fprintln(w, lang.Say("assumed: %s", a))
		}
		for _, m := range v.Missing {
			fmt.Fprintln(w, lang.Say("missing: %s", m))
		}
		fmt.Fprintln(w, v.Label)
	}
	if short {
		return ErrNotGood
	}
	return nil
}

func printSoundRow(w io.Writer, lang *words.Language, r estimate.SoundRow, terms bool) {
	name := r.Room + " " + r.Name
	if r.Bed != "" {
		name = lang.Say("%s, bed %s", name, r.Bed)
	}
	figure := func(v *float64) string {
		if v == nil {
			return "-"
		}
		return lang.Number(*v, 1)
	}
	fmt.Fprintln(w, name)
	if r.ByReading {
		fmt.Fprintf(w, "    %s\n", lang.Say("measured %s dBA of %s, margin %s dB: %s; the estimate, which does not decide here: %s dBA", figure(r.Measured), figure(r.Required), figure(r.Margin), r.Verdict.In(lang), figure(r.Level)))
	} else {
		fmt.Fprintf(w, "    %s\n", lang.Say("estimated %s dBA of %s, margin %s dB, uncertain by %s: %s", figure(r.Level), figure(r.Required), figure(r.Margin), lang.Number(r.Uncertainty, -1), r.Say))
	}
	if r.Loud {
		fmt.Fprintf(w, "    %s\n", lang.Say("up to %s dBA where somebody stands: above the upper limit", figure(r.AtMost)))
	}
	if r.Without != nil {
		fmt.Fprintf(w, "    %s\n", lang.Say("by %s; if that fails %s dBA: %s", r.CarriesSay, figure(r.Without.Level), r.Without.Say))
	}
	for _, m := range r.Missing {
		fmt.Fprintf(w, "    %s\n", lang.Say("missing: %s", m))
	}
	if terms {
		printTerms(w, lang, r.Terms)
	}
}

func printTerms(w io.Writer, lang *words.Language, terms []estimate.Term) {
	for _, t := range terms {
		fmt.Fprintf(w, "    %s = %s %s\n", t.Name, lang.Number(t.Value, -1), t.Unit)
		if under := strings.Join(strings.Fields(t.Formula+"   "+t.Source), " "); under != "" {
			fmt.Fprintf(w, "        %s\n", under)
		}
	}
}

// soundSum is the answer to plain numbers.
type soundSum struct {
	Label    string           `json:"label"`
	Level    float64          `json:"level"`
	Unit     string           `json:"unit"`
	Required *float64         `json:"required,omitempty"`
	Margin   *float64         `json:"margin,omitempty"`
	Verdict  estimate.Verdict `json:"verdict,omitempty"`
	Terms    []estimate.Term  `json:"terms"`
}

func (c *calcSoundCmd) numbers(w io.Writer) error {
	lang := words.In(c.Lang)
	out := soundSum{Label: lang.Word(estimate.Label), Unit: "dBA", Terms: []estimate.Term{}}
	term := func(name string, value float64, unit, formula, source string) {
		out.Terms = append(out.Terms, estimate.Term{Name: name, Value: quantity.Round(value, 1), Unit: unit, Formula: formula, Source: source})
	}
	power, err := acoustics.Power(quantity.DBA(c.SourceLevel), quantity.Metre(c.RatedAt), c.Q)
	if err != nil {
		return err
	}
	term(lang.Say("sound power"), float64(power), "dBA", "Lw = Lp + 10 log(4 π r² / Q), r = "+lang.Number(c.RatedAt, -1)+" m, Q = "+lang.Number(c.Q, -1), lang.Say("definition; half space is the cautious choice"))
	var energy float64
	passed := 0
	switch {
	case len(c.Loss) > 0 && c.Absorption > 0 && len(c.Part) == 0:
		return errors.New("--loss says that something stands between, and echoes of the sounder's room do not pass it: give the wall as --part AREA:LOSS and --behind M2 as well, or leave --absorption out")
	case c.Distance > 0 && len(c.Part) > 0 && len(c.Loss) == 0:
		return errors.New("--part says that a wall stands between: give what the straight way loses in it as --loss DB, or leave --distance out")
	}
	if c.Distance > 0 {
		var losses float64
		for _, l := range c.Loss {
			if !(l >= 0 && l <= 200) {
				return fmt.Errorf("--loss %v: give 0 to 200 dB", l)
			}
			losses += l
		}
		passed = len(c.Loss)
		e := acoustics.Sounder{Power: power, Q: c.Q}.Direct(quantity.Metre(c.Distance), quantity.DB(losses))
		if passed > 0 {
			term(lang.Say("lost on the straight way"), losses, "dB", "Σ R", "")
		}
		term(lang.Say("straight"), float64(acoustics.Level(e)), "dBA", "Lw + 10 log(Q / (4 π r²)) - Σ R", lang.Say("inverse-square law"))
		energy += e
	}
	if c.Absorption > 0 {
		echoes, err := acoustics.Reverberant(power, c.Absorption)
		if err != nil {
			return err
		}
		term(lang.Say("echoes in the sounder's room"), float64(echoes), "dBA", "Lw + 10 log(4 / A)", "Sabine")
		if len(c.Part) > 0 {
			if echoes, err = c.through(lang, term, echoes); err != nil {
				return err
			}
			passed = max(passed, 1)
		}
		energy += acoustics.Energy(echoes)
	} else if len(c.Part) > 0 || c.Behind > 0 {
		return errors.New("--part and --behind want the absorption of the sounder's room as well: --absorption 10")
	}
	if energy == 0 && c.Distance == 0 && c.Absorption == 0 {
		return errors.New("give a distance or an absorption: --distance 3, --absorption 10")
	}
	out.Level = quantity.Round(math.Max(0, float64(acoustics.Level(energy))), 1)
	term(lang.Say("level of the loudest"), out.Level, "dBA", "10 log(10^(L1/10) + 10^(L2/10))", "")
	if c.Ambient > 0 {
		if err := c.judge(lang, term, &out, passed); err != nil {
			return err
		}
	}
	if c.JSON {
		err = printJSON(w, out)
	} else {
		printTerms(w, lang, out.Terms)
		if out.Verdict != "" {
			fmt.Fprintln(w, lang.Say("%s dBA of %s, margin %s dB: %s", lang.Number(out.Level, 1), lang.Number(*out.Required, 1), lang.Number(*out.Margin, 1), out.Verdict.In(lang)))
		}
		fmt.Fprintln(w, out.Label)
	}
	if err == nil && out.Verdict == estimate.TooLittle {
		err = ErrNotGood
	}
	return err
}

// through takes the echoes of the sounder's room into the next one.
func (c *calcSoundCmd) through(lang *words.Language, term func(name string, value float64, unit, formula, source string), from quantity.DBA) (quantity.DBA, error) {
	var parts []acoustics.Part
	for _, text := range c.Part {
		area, loss, ok := strings.Cut(text, ":")
		s, errS := strconv.ParseFloat(area, 64)
		r, errR := strconv.ParseFloat(loss, 64)
		if !ok || errS != nil || errR != nil {
			return 0, fmt.Errorf("--part %q: write AREA:LOSS, as 1.6:20 for a door of 1.6 m2 and 20 dB", text)
		}
		parts = append(parts, acoustics.Part{Area: s, Loss: quantity.DB(r)})
	}
	loss, area, err := acoustics.Composite(parts...)
	if err != nil {
		return 0, err
	}
	loss = min(loss, acoustics.Flanking)
	to, err := acoustics.Through(from, loss, area, c.Behind)
	if err != nil {
		return 0, fmt.Errorf("--behind %v: %w", c.Behind, err)
	}
	term(lang.Say("loss of all parts of %s m²", lang.Number(area, -1)), float64(loss), "dB", "R = -10 log(Σ S 10^(-R/10) / Σ S) ≤ 45", "ISO 12354-1")
	term(lang.Say("echoes in the next room"), float64(to), "dBA", "L1 - R + 10 log(S / A2)", "ISO 10140, ISO 12354-1")
	return to, nil
}

func (c *calcSoundCmd) judge(lang *words.Language, term func(name string, value float64, unit, formula, source string), out *soundSum, passed int) error {
	need, err := engine.NewDesk(emptyState(), 0).SoundNeed()
	if err != nil {
		return err
	}
	demand, source := need.Elsewhere, need.ElsewhereSource
	if c.Sleeping {
		demand, source = need.Sleeping, need.SleepingSource
	}
	loudest := quantity.DBA(math.NaN())
	if c.Loudest > 0 {
		loudest = quantity.DBA(c.Loudest)
	}
	required, err := demand.Required(quantity.DBA(c.Ambient), loudest)
	if err != nil {
		return err
	}
	r, u := quantity.Round(float64(required), 1), float64(acoustics.Uncertainty(passed))
	margin := quantity.Round(out.Level-r, 1)
	out.Required, out.Margin, out.Verdict = &r, &margin, estimate.Judge(margin, u)
	term(lang.Say("required"), r, "dBA", estimate.RequiredFormula(lang, demand, c.Loudest > 0), source)
	term(lang.Say("margin"), margin, "dB", "L - required", lang.Say("uncertainty ± %s dB, by the walls and doors passed [L]", lang.Number(u, -1)))
	return nil
}

func emptyState() *book.State {
	state := book.New("")
	state.Site = &site.Site{}
	return state
}
