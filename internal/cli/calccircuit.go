package cli

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"proofbell/electrical"
	"proofbell/internal/circuit"
	"proofbell/internal/engine"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/site"
)

type calcDropCmd struct {
	What    string `arg:"" optional:"" name:"SITE.yaml|JOB" help:"Site file, - for standard input; or the id of a job, or the beginning of its name. Left out: the numbers below."`
	Circuit string `help:"Of a site: this circuit alone." placeholder:"ID"`

	Supply      string   `help:"Supply voltage at its worst." placeholder:"20.4V"`
	Inner       string   `help:"Inner resistance of the supply." placeholder:"0.3ohm"`
	Conductor   string   `help:"Conductor of the cable." placeholder:"14AWG"`
	Stranded    bool     `help:"The conductor is stranded."`
	Temperature string   `help:"Copper at its warmest; left out: 75 C." placeholder:"40C"`
	Device      []string `help:"A device of a chain: length of cable from the one before, current or power, and the voltage it works down to; once for each, in order." sep:"none" placeholder:"80ft,0.12A,16V"`
	Back        string   `help:"Length of the way back from the last device, of a ring." placeholder:"120ft"`

	sheetFlags
	dataFlags
}

type sheetFlags struct {
	Explain bool   `help:"Print the calculation sheet: inputs, formulas, numbers put in, sources."`
	JSON    bool   `help:"Print one JSON document, with the sheet."`
	Lang    string `default:"en" enum:"en,de" help:"Language: ${enum}."`

	sumsFlags
}

// Run prints what stands at each device; not good when one gets too little.
func (c *calcDropCmd) Run(ctx context.Context, io *streams) error {
	if err := c.write(ctx, io, c.dataFlags, c.What, "", c.Lang, c.Circuit != ""); err != nil {
		return err
	}
	lang := words.In(c.Lang)
	var all []circuit.Drop
	if c.What == "" {
		plain, err := c.plain(lang)
		if err != nil {
			return err
		}
		d, err := circuit.DropOfPlain(lang, &site.Site{}, plain)
		if err != nil {
			return err
		}
		all = append(all, d)
	} else {
		s, ids, err := circuitsOf(ctx, io, c.dataFlags, c.What, c.Circuit, func(c site.Circuit) bool { return c.Kind == "sounder" || len(c.Parts) > 0 && !c.Supply.IsZero() })
		if err != nil {
			return err
		}
		for _, id := range ids {
			d, err := circuit.DropOf(lang, s, id)
			if err != nil {
				return fmt.Errorf("circuit %s: %w", id, err)
			}
			all = append(all, d)
		}
	}
	enough := true
	docs := []engine.CircuitDrop{}
	for _, d := range all {
		enough = enough && d.Verdict == circuit.Enough
		docs = append(docs, engine.CircuitDrop{Drop: d, Sheet: d.Sheet()})
	}
	if c.JSON {
		return good(printJSON(io.out, docs), enough)
	}
	for _, doc := range docs {
		if c.Explain {
			fmt.Fprint(io.out, doc.Sheet.Explain(lang))
			continue
		}
		d := doc.Drop
		if d.Circuit != "" {
			fmt.Fprintf(io.out, "%s, %s\n", d.Circuit, d.Name)
		}
		fmt.Fprintln(io.out, d.Say)
		for _, n := range d.Nodes {
			line := "    " + n.Name + ": " + n.Say
			if n.Margin != nil {
				line += lang.Say(", margin %s V", lang.Number(*n.Margin, 2))
			}
			fmt.Fprintln(io.out, line)
		}
		for _, say := range []string{d.BreakSay, d.ThumbSay, d.SmallSay} {
			if say != "" {
				fmt.Fprintln(io.out, say)
			}
		}
		fmt.Fprintln(io.out, doc.Sheet.Label)
		printNotes(io.out, lang, lang.Say("Measure at the last device, on the battery, with everything sounding. Local code and the listing decide."), d.Assumed, d.Missing)
	}
	return good(nil, enough)
}

// plain makes a circuit of the numbers given. All of them are read as the site file reads them.
func (c *calcDropCmd) plain(lang *words.Language) (out site.Circuit, err error) {
	if c.Supply == "" || c.Conductor == "" || len(c.Device) == 0 {
		return out, errors.New("name a site file or a job; or give --supply, --conductor and a --device for each device")
	}
	var conductor quantity.Conductor
	if conductor, err = conductorOf(c.Conductor); err != nil {
		return out, err
	}
	out = site.Circuit{Kind: "sounder", Cable: site.Cable{Conductor: conductor, Strand: "solid", Material: "copper"}, Parts: map[site.PartID]site.CircuitPart{}}
	if c.Stranded {
		out.Cable.Strand = "stranded"
	}
	if err := typed(&out.Supply, "--supply", c.Supply); err != nil {
		return out, err
	}
	if c.Inner != "" {
		if err := typed(&out.Inner, "--inner", c.Inner); err != nil {
			return out, err
		}
		if !(out.Inner.SI() > 0) {
			return out, fmt.Errorf("--inner: %s: no supply has none; leave it out when it is not known", c.Inner)
		}
	}
	if c.Temperature != "" {
		if err := typed(&out.Cable.Temperature, "--temperature", c.Temperature); err != nil {
			return out, err
		}
	}
	before := site.PartID("")
	for i, text := range c.Device {
		id := site.PartID(strconv.Itoa(i + 1))
		part := site.CircuitPart{Name: lang.Say("Device %d", i+1), From: before}
		fields := strings.Split(text, ",")
		if len(fields) != 3 {
			return out, fmt.Errorf("--device %q: write length, current or power, and least voltage: 80ft,0.12A,16V", text)
		}
		if err := typed(&part.Length, "--device "+text, fields[0]); err != nil {
			return out, err
		}
		if strings.HasSuffix(strings.ToLower(fields[1]), "w") {
			err = typed(&part.Power, "--device "+text, fields[1])
		} else {
			err = typed(&part.Current, "--device "+text, fields[1])
		}
		if err = errors.Join(err, typed(&part.Least, "--device "+text, fields[2])); err != nil {
			return out, err
		}
		if part.Length.SI() < 0 || part.Current.SI() < 0 || part.Power.SI() < 0 || part.Least.SI() <= 0 {
			return out, fmt.Errorf("--device %s: nothing in it is below zero, and the least voltage above", text)
		}
		out.Parts[id], before = part, id
	}
	if c.Back != "" {
		out.Ring.From = before
		if err := typed(&out.Ring.Length, "--back", c.Back); err != nil {
			return out, err
		}
		if out.Ring.Length.SI() < 0 {
			return out, fmt.Errorf("--back %s: a length is not below zero", c.Back)
		}
	}
	return out, nil
}

type calcLoopCmd struct {
	What    string `arg:"" optional:"" name:"SITE.yaml|JOB" help:"Site file, - for standard input; or the id of a job, or the beginning of its name. Left out: the numbers below."`
	Circuit string `help:"Of a site: this circuit alone." placeholder:"ID"`

	Measured string `help:"What was measured: ohms at the panel's end with both wires off, open, or volts across the connected input." placeholder:"1137ohm"`

	EndOfLine   string `help:"End-of-line resistor." placeholder:"4.7kilohm"`
	Alarm       string `help:"Alarm resistor of each contact." placeholder:"1.5kilohm"`
	Fault       string `help:"Resistor across a contact that opens on a fault." placeholder:"12kilohm"`
	Closes      bool   `help:"The contacts close on alarm; else they open."`
	Sensors     int    `default:"1" help:"Contacts that can be in alarm."`
	Tolerance   string `default:"5%" help:"Tolerance of the resistors."`
	Conductor   string `help:"Conductor of the cable." placeholder:"22AWG"`
	Length      string `help:"Length of the cable." placeholder:"45m"`
	Temperature string `help:"Copper at its warmest; left out: 75 C." placeholder:"40C"`
	Volts       string `help:"Voltage across the panel's open input." placeholder:"12V"`
	Through     string `help:"Resistor in the panel that feeds the input." placeholder:"4.7kilohm"`

	sheetFlags
	dataFlags
}

// Run prints the windows of a loop and what a measured value means; not good when states can not be told apart or what was
// measured is not that of rest.
func (c *calcLoopCmd) Run(ctx context.Context, io *streams) error {
	if err := c.write(ctx, io, c.dataFlags, c.What, "", c.Lang, c.Circuit+c.Measured != ""); err != nil {
		return err
	}
	lang := words.In(c.Lang)
	measured, err := engine.ReadMeasured(c.Measured)
	if err != nil {
		return fmt.Errorf("--measured: %w", err)
	}
	var all []circuit.Loop
	if c.What == "" {
		plain, err := c.plain(lang)
		if err != nil {
			return err
		}
		l, err := circuit.LoopOfPlain(lang, &site.Site{}, plain, measured)
		if err != nil {
			return err
		}
		all = append(all, l)
	} else {
		s, ids, err := circuitsOf(ctx, io, c.dataFlags, c.What, c.Circuit, func(c site.Circuit) bool { return c.Kind == "input" })
		if err != nil {
			return err
		}
		if c.Measured != "" && len(ids) > 1 {
			return errors.New("--measured: say with --circuit on which circuit")
		}
		for _, id := range ids {
			l, err := circuit.LoopOf(lang, s, id, measured)
			if err != nil {
				return fmt.Errorf("circuit %s: %w", id, err)
			}
			all = append(all, l)
		}
	}
	fine := true
	docs := []engine.CircuitLoop{}
	for _, l := range all {
		fine = fine && !l.Unclear && len(l.Windows) > 0 && (l.Answer == nil || l.Answer.State == "normal")
		docs = append(docs, engine.CircuitLoop{Loop: l, Sheet: l.Sheet()})
	}
	if c.JSON {
		return good(printJSON(io.out, docs), fine)
	}
	for _, doc := range docs {
		if c.Explain {
			fmt.Fprint(io.out, doc.Sheet.Explain(lang))
			continue
		}
		l := doc.Loop
		if l.Circuit != "" {
			fmt.Fprintf(io.out, "%s, %s\n", l.Circuit, l.Name)
		}
		if a := l.Answer; a != nil {
			fmt.Fprintln(io.out, strings.TrimSpace(a.Title+". "+a.Say+" "+a.Distance))
			for _, h := range a.Hints {
				fmt.Fprintf(io.out, "    %s\n", h)
			}
		}
		fmt.Fprintln(io.out, l.Say)
		for _, w := range l.Windows {
			line := "    " + w.Name + ": " + w.Say
			if w.Panel != "" {
				line += "; " + w.Panel
			}
			fmt.Fprintln(io.out, line)
		}
		for _, m := range l.Measures {
			fmt.Fprintf(io.out, "    %s: %s\n", m.Where, m.What)
		}
		for _, say := range l.Clashes {
			fmt.Fprintf(io.out, "    %s\n", say)
		}
		fmt.Fprintln(io.out, doc.Sheet.Label)
		printNotes(io.out, lang, l.Safety, l.Assumed, l.Missing)
	}
	return good(nil, fine)
}

func (c *calcLoopCmd) plain(lang *words.Language) (out site.Circuit, err error) {
	if c.EndOfLine == "" {
		return out, errors.New("name a site file or a job; or give --end-of-line")
	}
	out = site.Circuit{Kind: "input", EndOfLine: c.EndOfLine, Input: site.Supervision{Contacts: "open-on-alarm", Sensors: c.Sensors}}
	if c.Closes {
		out.Input.Contacts = "close-on-alarm"
	}
	var end quantity.Resistance
	if err := typed(&end, "--end-of-line", c.EndOfLine); err != nil {
		return out, err
	}
	if !(end.SI() > 0) {
		return out, fmt.Errorf("--end-of-line %s: a loop without a resistor is not supervised", c.EndOfLine)
	}
	for _, one := range []struct {
		into *quantity.Resistance
		flag string
		text string
	}{{&out.Input.Alarm, "--alarm", c.Alarm}, {&out.Input.Fault, "--fault", c.Fault}, {&out.Input.Through, "--through", c.Through}} {
		if one.text != "" {
			if err := typed(one.into, one.flag, one.text); err != nil {
				return out, err
			}
		}
	}
	if err := typed(&out.Input.Tolerance, "--tolerance", c.Tolerance); err != nil {
		return out, err
	}
	if c.Volts != "" {
		if err := typed(&out.Input.Volts, "--volts", c.Volts); err != nil {
			return out, err
		}
	}
	if c.Temperature != "" {
		if err := typed(&out.Cable.Temperature, "--temperature", c.Temperature); err != nil {
			return out, err
		}
	}
	if (c.Conductor == "") != (c.Length == "") {
		return out, errors.New("--conductor and --length go together")
	}
	if c.Conductor != "" {
		if out.Cable.Conductor, err = conductorOf(c.Conductor); err != nil {
			return out, err
		}
		var length quantity.Length
		if err := typed(&length, "--length", c.Length); err != nil {
			return out, err
		}
		if length.SI() < 0 {
			return out, fmt.Errorf("--length %s: a length is not below zero", c.Length)
		}
		out.Parts = map[site.PartID]site.CircuitPart{"end": {Name: lang.Say("far end"), Length: length}}
	}
	return out, nil
}

// conductorOf reads a size that a table knows.
func conductorOf(text string) (quantity.Conductor, error) {
	size, err := quantity.ParseConductor(text)
	if err == nil {
		_, err = electrical.FindWire(size)
	}
	if err != nil {
		return size, fmt.Errorf("--conductor: %w", err)
	}
	return size, nil
}

// circuitsOf reads a site or a job, and which of its circuits are meant.
func circuitsOf(ctx context.Context, io *streams, data dataFlags, what, only string, of func(site.Circuit) bool) (s *site.Site, ids []site.CircuitID, err error) {
	state, err := stateOf(ctx, data, io, what)
	if err != nil {
		return nil, nil, err
	}
	s = state.Site
	if only != "" {
		if _, there := s.Circuits[site.CircuitID(only)]; !there {
			return nil, nil, fmt.Errorf("--circuit %s: there is no such circuit; the site file names them", only)
		}
		return s, []site.CircuitID{site.CircuitID(only)}, nil
	}
	for _, id := range site.SortedIDs(s.Circuits) {
		if of(s.Circuits[id]) {
			ids = append(ids, id)
		}
	}
	if len(ids) == 0 {
		return nil, nil, errors.New("no such circuit is described; docs/format/site.md says how")
	}
	return s, ids, nil
}
