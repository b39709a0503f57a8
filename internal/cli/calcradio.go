package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"proofbell/internal/engine"
	"proofbell/internal/estimate"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/radio"
	"proofbell/site"
)

type calcRadioCmd struct {
	What      string `arg:"" optional:"" name:"SITE.yaml|JOB" help:"Site file, - for standard input; or the id of a job, or the beginning of its name, whose measured levels then count. Left out: the numbers below."`
	Device    string `help:"Of a site: this device alone, with every term." placeholder:"ID"`
	Repeaters bool   `help:"Of a site: the fewest repeaters, and their places, so that every link has the wanted margin."`
	Wired     bool   `help:"With --repeaters: second receivers wired to the panel instead."`

	Frequency   string   `help:"Frequency." placeholder:"915MHz"`
	Distance    string   `help:"Distance." placeholder:"16m"`
	Power       string   `help:"Transmit power." placeholder:"10dBm"`
	Sensitivity string   `help:"Sensitivity of the receiver." placeholder:"-105dBm"`
	Antenna     []string `help:"Gain of an antenna; once for each end." placeholder:"-3dBi"`
	Wall        []string `help:"Loss of a wall on the way; once for each." placeholder:"6dB"`
	Floor       []string `help:"Loss of a floor on the way; once for each." placeholder:"6dB"`
	Inside      string   `enum:"-,home,office" default:"-" help:"Instead of walls: a model that knows nothing of the building (${enum}); the harsher of two."`
	Floors      int      `help:"With --inside: floors on the way, 0 to 3."`
	Shadowing   string   `help:"How far places of one distance differ; left out: 8 dB, with --inside office 10 dB." placeholder:"8dB"`
	Wanted      string   `help:"Wanted margin; left out: 20 dB below 600 MHz, 15 dB above." placeholder:"15dB"`

	Lost    float64 `help:"Measured share of check-ins that do not arrive, in percent." placeholder:"PERCENT"`
	Misses  int     `help:"With --lost: check-ins missed in a row after which a device counts as lost; left out: 3." placeholder:"3"`
	Every   string  `help:"With --lost: time between check-ins; left out: 60 s." placeholder:"60s"`
	Devices int     `default:"1" help:"With --lost: number of devices."`

	pdfFlags
	JSON bool   `help:"Print one JSON document."`
	Lang string `default:"en" enum:"en,de" help:"Language: ${enum}."`
	dataFlags
}

// Run prints the links of a site or of a job, or the sum of the numbers given; not good when a link is short of the wanted margin.
func (c *calcRadioCmd) Run(ctx context.Context, io *streams) error {
	lang := words.In(c.Lang)
	if err := c.check(); err != nil {
		return err
	}
	if c.PDF != "" && (c.What == "" || c.Device != "") {
		return errors.New("--pdf is the document of a whole site or job: name one, and leave out --device")
	}
	if c.What == "" {
		if c.Device != "" || c.Repeaters {
			return errors.New("--device and --repeaters ask of a site: name its file or a job")
		}
		return c.plain(lang, io)
	}
	state, err := stateOf(ctx, c.dataFlags, io, c.What)
	if err != nil {
		return err
	}
	r := engine.NewDesk(state, 0).Radio()
	if err := c.of(ctx, io, c.dataFlags, "radio-estimate", c.What, "", c.Lang); err != nil {
		return err
	}
	switch {
	case c.Repeaters:
		v := r.Repeaters(c.Wired).View(lang, r)
		if c.JSON {
			return good(printJSON(io.out, v), len(v.Unserved) == 0)
		}
		fmt.Fprintln(io.out, v.Say)
		for _, p := range v.Places {
			fmt.Fprintf(io.out, "    %s: %s (%s)\n", p.Device, p.Say, strings.Join(p.Serves, ", "))
		}
		for _, id := range v.Unserved {
			fmt.Fprintln(io.out, lang.Say("no place helps %s", id))
		}
		printNotes(io.out, lang, v.Label, v.Assumed, v.Missing)
		return good(nil, len(v.Unserved) == 0)
	case c.Device != "":
		if _, there := r.Site().Devices[site.DeviceID(c.Device)]; !there {
			return fmt.Errorf("--device %s: there is no such device; the site file names them", c.Device)
		}
	}
	v := r.View(lang)
	if c.Device != "" {
		rows := v.Rows
		v.Rows = []estimate.RadioRow{}
		for _, row := range rows {
			if row.Device == c.Device {
				v.Rows = append(v.Rows, row)
			}
		}
		if len(v.Rows) == 0 {
			return fmt.Errorf("--device %s: it does not speak by radio", c.Device)
		}
	}
	enough := true
	for _, row := range v.Rows {
		enough = enough && row.Verdict != estimate.Doubtful && row.Verdict != estimate.TooLittle
	}
	if c.JSON {
		return good(printJSON(io.out, v), enough)
	}
	for _, row := range v.Rows {
		c.row(io.out, lang, row)
	}
	if f := v.Fit; f != nil {
		fmt.Fprintln(io.out, f.Say)
		for _, p := range f.Parameters {
			fmt.Fprintf(io.out, "    %s %s %s (%s ... %s, 95 %%)\n", p.Name, lang.Number(p.Value, -1), p.Unit, lang.Number(p.Low, -1), lang.Number(p.High, -1))
		}
	}
	printNotes(io.out, lang, v.Label, v.Assumed, v.Missing)
	return good(nil, enough)
}

func good(err error, is bool) error {
	if err == nil && !is {
		return ErrNotGood
	}
	return err
}

func (c *calcRadioCmd) row(w io.Writer, lang *words.Language, row estimate.RadioRow) {
	margin := lang.Say("not determined")
	if row.Margin != nil {
		margin = lang.Say("margin %s dB", lang.Number(*row.Margin, -1))
	}
	fmt.Fprintf(w, "%s %s: %s, %s", row.Device, strings.Join(row.Zones, " "), margin, row.Say)
	if row.Works != nil {
		fmt.Fprint(w, lang.Say(", works in %s %% of such places", lang.Number(math.Round(*row.Works*1000)/10, -1)))
	}
	if row.MeasuredSay != "" {
		fmt.Fprintf(w, ". %s", row.MeasuredSay)
	}
	for _, m := range row.Missing {
		fmt.Fprintf(w, "; %s", m)
	}
	fmt.Fprintln(w)
	for _, h := range row.Hops {
		fmt.Fprintf(w, "    %s\n", h.Say)
		if c.Device != "" {
			printTerms(w, lang, h.Terms)
		}
	}
	if c.Device != "" {
		printTerms(w, lang, row.Terms)
		fmt.Fprintf(w, "    %s\n", row.FalseSay)
	}
}

func printNotes(w io.Writer, lang *words.Language, label string, assumed, missing []string) {
	for _, m := range missing {
		fmt.Fprintln(w, lang.Say("missing: %s", m))
	}
	for _, a := range assumed {
		fmt.Fprintln(w, lang.Say("assumed: %s", a))
	}
	fmt.Fprintln(w, label)
}

// plainRadio is the answer for plain numbers.
type plainRadio struct {
	Label       string           `json:"label"`
	Loss        float64          `json:"loss"`                  // dB
	Received    *float64         `json:"received,omitempty"`    // dBm
	Margin      *float64         `json:"margin,omitempty"`      // dB
	Works       *float64         `json:"works,omitempty"`       // 0 to 1
	Fades       *float64         `json:"fades,omitempty"`       // 0 to 1
	FalseLosses *float64         `json:"falseLosses,omitempty"` // a year
	Terms       []estimate.Term  `json:"terms"`
	Verdict     estimate.Verdict `json:"verdict,omitempty"`
	Assumed     []string         `json:"assumed"`

	wanted float64
}

// plain works out what the numbers allow: loss; with power and sensitivity the margin; with measured loss the false reports.
func (c *calcRadioCmd) plain(lang *words.Language, io *streams) error {
	p := plainRadio{Label: lang.Word(estimate.Label), Assumed: []string{}}
	if c.Frequency == "" && c.Distance == "" && c.Lost == 0 {
		return errors.New("name a site file or a job, or give --frequency and --distance, or --lost")
	}
	if c.Frequency != "" || c.Distance != "" {
		if err := c.link(lang, &p); err != nil {
			return err
		}
	}
	if c.Lost != 0 {
		if err := c.losses(lang, &p); err != nil {
			return err
		}
	}
	enough := p.Margin == nil || p.Verdict == estimate.Enough
	if c.JSON {
		return good(printJSON(io.out, p), enough)
	}
	if p.Margin != nil {
		fmt.Fprintln(io.out, lang.Say("margin %s dB, wanted %s dB: %s", lang.Number(*p.Margin, -1), lang.Number(p.wanted, -1), p.Verdict.In(lang)))
	}
	printTerms(io.out, lang, p.Terms)
	printNotes(io.out, lang, p.Label, p.Assumed, nil)
	return good(nil, enough)
}

func (c *calcRadioCmd) link(lang *words.Language, p *plainRadio) error {
	var f quantity.Frequency
	var d quantity.Length
	var shadowing, wanted quantity.Loss
	assumed := c.Shadowing == ""
	if assumed {
		if c.Shadowing = "8dB"; c.Inside == "office" {
			c.Shadowing = "10dB"
		}
	}
	err := errors.Join(typed(&f, "--frequency", c.Frequency), typed(&d, "--distance", c.Distance), typed(&shadowing, "--shadowing", c.Shadowing))
	if c.Wanted != "" {
		err = errors.Join(err, typed(&wanted, "--wanted", c.Wanted))
	}
	walls, wallErr := losses("--wall", c.Wall)
	floors, floorErr := losses("--floor", c.Floor)
	antennas, antennaErr := losses("--antenna", c.Antenna)
	if err = errors.Join(err, wallErr, floorErr, antennaErr); err != nil {
		return err
	}
	if len(antennas) > 2 {
		return errors.New("--antenna is given for two ends at most")
	}
	hz, m := quantity.Hertz(f.SI()), quantity.Metre(d.SI())
	p.wanted = wanted.SI()
	if c.Wanted == "" {
		p.wanted = estimate.UsualWanted(hz)
	}
	if !(p.wanted >= 0) {
		return fmt.Errorf("--wanted %s: a margin below 0 dB is none", c.Wanted)
	}
	term := func(name string, v float64, unit, formula, source string) {
		p.Terms = append(p.Terms, estimate.Term{Name: name, Value: math.Round(v*10) / 10, Unit: unit, Formula: formula, Source: source})
	}
	var loss quantity.DB
	if c.Inside != "-" {
		if loss, err = c.inside(lang, hz, m, term); err != nil {
			return err
		}
		if len(walls)+len(floors) > 0 {
			return errors.New("--inside knows no walls: leave out --wall and --floor, or --inside")
		}
	} else {
		if loss, err = radio.MultiWall(hz, m, walls, floors); err != nil {
			return err
		}
		free, _ := radio.FreeSpace(hz, m) // held above
		term(lang.Say("loss of the distance"), float64(free), "dB", "20 log(4 pi d f / c)", lang.Say("ITU-R P.525 (H)"))
		for _, w := range walls {
			term(lang.Say("wall"), float64(w), "dB", "", lang.Say("as given"))
		}
		if len(floors) > 0 {
			term(lang.Say("floors"), float64(radio.Floors(floors)), "dB", lang.Say("mean x k^((k+2)/(k+1) - 0.46)"), lang.Say("COST 231 multi-wall model (H); at this band a planning figure"))
		}
	}
	p.Loss = math.Round(float64(loss)*10) / 10
	how := ""
	if c.Inside != "-" {
		how = lang.Say("the harsher of two")
	}
	term(lang.Say("loss of the way"), float64(loss), "dB", "", how)
	if c.Power == "" || c.Sensitivity == "" {
		return nil
	}
	var power, sensitivity quantity.PowerLevel
	if err := errors.Join(typed(&power, "--power", c.Power), typed(&sensitivity, "--sensitivity", c.Sensitivity)); err != nil {
		return err
	}
	if assumed {
		p.Assumed = append(p.Assumed, lang.Say("Shadowing not given: %s dB (ITU-R P.1238, homes 8, offices and shops 10).", lang.Number(shadowing.SI(), -1)))
	}
	if c.Wanted == "" {
		p.Assumed = append(p.Assumed, lang.Say("Wanted margin not given: %s dB, the rule of thumb for this band.", lang.Number(p.wanted, -1)))
	}
	if len(antennas) < 2 {
		p.Assumed = append(p.Assumed, lang.Say("Antenna gain not given: 0 dBi."))
	}
	b := radio.Budget{Transmit: quantity.DBm(power.SI()), Loss: loss, Sensitivity: quantity.DBm(sensitivity.SI())}
	copy(b.Antennas[:], antennas)
	margin := math.Round(float64(b.Margin())*10) / 10
	works, err := radio.Works(quantity.DB(margin), quantity.DB(shadowing.SI()))
	if err != nil {
		return err
	}
	fades, err := radio.Fading(quantity.DB(margin))
	if err != nil {
		return err
	}
	received := math.Round(float64(b.Received())*10) / 10
	works, fades = math.Round(works*1000)/1000, math.Round(fades*1000)/1000
	p.Received, p.Margin, p.Works, p.Fades = &received, &margin, &works, &fades
	p.Verdict = (&estimate.Radio{Wanted: p.wanted}).Judge(margin)
	term(lang.Say("transmit power"), power.SI(), "dBm", "", lang.Say("as given"))
	for _, a := range antennas {
		term(lang.Say("antenna gain"), float64(a), "dBi", "", lang.Say("as given"))
	}
	term(lang.Say("received level"), received, "dBm", lang.Say("power + gains - losses"), "")
	term(lang.Say("sensitivity of the receiver"), sensitivity.SI(), "dBm", "", lang.Say("as given"))
	term(lang.Say("margin"), margin, "dB", lang.Say("received - sensitivity"), "")
	p.Terms = append(p.Terms,
		estimate.Term{Name: lang.Say("such a placement works"), Value: works, Formula: "Phi(M / sigma)", Source: lang.Say("log-normal shadowing, sigma %s dB; of the place, once and for months", lang.Number(shadowing.SI(), -1))},
		estimate.Term{Name: lang.Say("cut by small movements"), Value: fades, Formula: "1 - exp(-10^(-M/10))", Source: lang.Say("Rayleigh fading, no line of sight")})
	return nil
}

// inside is the harsher of the two models that know nothing of the building.
func (c *calcRadioCmd) inside(lang *words.Language, f quantity.Hertz, d quantity.Metre, term func(name string, v float64, unit, formula, source string)) (quantity.DB, error) {
	n, over, _, published, err := radio.ClassicOf(f, c.Inside == "home", c.Floors)
	if err != nil {
		return 0, err
	}
	loss, err := radio.Classic(f, d, n, over)
	if err != nil {
		return 0, err
	}
	source := lang.Say("ITU-R P.1238 to edition 9, N %s, floors %s dB", lang.Number(n, -1), lang.Number(float64(over), -1))
	if !published {
		source += lang.Say(" (not published for this band: an assumption)")
	}
	term(lang.Say("classic indoor model"), float64(loss), "dB", lang.Say("20 log f + N log d + floors - 28"), source)
	general, err := radio.SiteGeneral(radio.OfficeObstructed, f, d)
	if err != nil {
		return loss, nil // outside the range in which it was measured
	}
	term(lang.Say("site-general indoor model"), float64(general), "dB", "10 a log d + b + 10 g log f", lang.Say("ITU-R P.1238-11, office, obstructed (M)"))
	return max(loss, general), nil
}

func (c *calcRadioCmd) losses(lang *words.Language, p *plainRadio) error {
	if c.Misses == 0 {
		c.Misses = 3
		p.Assumed = append(p.Assumed, lang.Say("Check-ins missed in a row not given: %d.", c.Misses))
	}
	if c.Every == "" {
		c.Every = "60 s"
		p.Assumed = append(p.Assumed, lang.Say("Time between check-ins not given: %s.", c.Every))
	}
	var every quantity.Duration
	if err := typed(&every, "--every", c.Every); err != nil {
		return err
	}
	s := radio.Supervision{Lost: c.Lost / 100, Misses: c.Misses, Every: quantity.Second(every.SI())}
	year, err := s.FalseLosses(c.Devices)
	if err != nil {
		return err
	}
	run, _ := s.FirstRun() // held above
	year = math.Round(year*1000) / 1000
	p.FalseLosses = &year
	p.Terms = append(p.Terms,
		estimate.Term{Name: lang.Say("check-ins to the first run of misses"), Value: math.Round(run), Formula: "(q^-k - 1) / (1 - q)", Source: lang.Say("Feller, runs of failures; q measured, k %d check-ins of %s s", c.Misses, lang.Number(every.SI(), -1))},
		estimate.Term{Name: lang.Say("reported lost for nothing"), Value: year, Unit: lang.Say("a year"), Formula: lang.Say("devices x 8760 h / interval / run"), Source: lang.Say("from the measured loss of single check-ins, never from a margin")})
	return nil
}

func losses(flag string, texts []string) (out []quantity.DB, err error) {
	for _, text := range texts {
		var one quantity.Loss
		if e := typed(&one, flag, text); e != nil {
			err = errors.Join(err, e)
		}
		out = append(out, quantity.DB(one.SI()))
	}
	return out, err
}
