package cli

import (
	"errors"
	"fmt"

	"proofbell/electrical"
	"proofbell/internal/words"
	"proofbell/quantity"
)

type calcCmd struct {
	Standby standbyCmd   `cmd:"" help:"Battery that the panel needs."`
	Sound   calcSoundCmd `cmd:"" help:"How loud the alarms arrive, room by room or from plain numbers."`
	Radio   calcRadioCmd `cmd:"" help:"Radio links of a site, where repeaters go, or one link from plain numbers. A planning estimate."`
}

type standbyCmd struct {
	Rest      string  `required:"" help:"Current at rest." placeholder:"0.36A"`
	Alarm     string  `required:"" help:"Current in alarm." placeholder:"1.30A"`
	Standby   string  `default:"24h" help:"Time at rest."`
	AlarmTime string  `default:"4min" help:"Time in alarm."`
	Ageing    float64 `default:"1.25" help:"Factor for the end of the battery's life."`
	JSON      bool    `help:"Print one JSON document."`
	Lang      string  `default:"en" enum:"en,de" help:"Language: ${enum}."`
}

// Run prints the sum with its formula and source.
func (c *standbyCmd) Run(io *streams) error {
	var rest, alarm quantity.Current
	var standby, alarmTime quantity.Duration
	if err := errors.Join(typed(&rest, "--rest", c.Rest), typed(&alarm, "--alarm", c.Alarm), typed(&standby, "--standby", c.Standby), typed(&alarmTime, "--alarm-time", c.AlarmTime)); err != nil {
		return err
	}
	load := electrical.Load{Rest: quantity.Ampere(rest.SI()), Alarm: quantity.Ampere(alarm.SI()), Standby: quantity.Second(standby.SI()), AlarmTime: quantity.Second(alarmTime.SI()), Ageing: c.Ageing}
	sum, err := electrical.Standby(load)
	if err != nil {
		return err
	}
	lang := words.In(c.Lang)
	formula := lang.Say("needed = ageing x (rest x standby + alarm x alarm time)")
	source := lang.Say("standby calculation of NFPA 72 10.6.7 and BS 5839-1 annex D, with the ageing factor given")
	if c.JSON {
		return printJSON(io.out, map[string]any{
			"load": sum.Load, "needed": sum.Needed, "unit": "Ah",
			"inputs": map[string]any{"rest": rest, "alarm": alarm, "standby": standby, "alarmTime": alarmTime, "ageing": c.Ageing}, "formula": formula, "source": source,
		})
	}
	fmt.Fprintf(io.out, "%s\n%s\n= %s x (%s x %s + %s x %s)\n%s\n",
		lang.Say("%s Ah needed (load %s Ah)", lang.Number(float64(sum.Needed), -1), lang.Number(float64(sum.Load), -1)), formula, lang.Number(c.Ageing, -1), rest, standby, alarm, alarmTime,
		lang.Say("Source: %s. Fit the next size up that cabinet, charger and listing allow.", source))
	return nil
}

// typed reads a value with its unit from a flag.
func typed[D quantity.Dimension](into *quantity.Typed[D], flag, text string) (err error) {
	if *into, err = quantity.Parse[D](text); err != nil {
		return fmt.Errorf("%s: %w", flag, err)
	}
	return nil
}
