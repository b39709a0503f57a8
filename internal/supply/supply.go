// Package supply is the standby supply of a site as plain numbers for package electrical, and its answers as calculation
// sheets: the panel's battery, what is to be had, what is left today, the house's internet, the batteries of radio devices.
//
// It is pure. Figures of a model or of ageing are planning estimates and say so.
package supply

import (
	"math"
	"strconv"
	"strings"
	"time"

	"proofbell/electrical"
	"proofbell/internal/words"
	"proofbell/internal/worked"
	"proofbell/quantity"
	"proofbell/site"
)

// Least is what the site's rule set asks of the supply, whatever the site itself says.
type Least struct {
	Standby quantity.Second
	Alarm   quantity.Second
	Ageing  float64 // where the site gives none
	Source  string  // "NFPA 72 2007 11.6.2 [H]"
	Name    string  // of the rule set
}

// Supply is the standby supply of one site on one day.
type Supply struct {
	site  *site.Site
	least Least
	on    time.Time
	lang  *words.Language
}

// Of reads a site. on is a day of its own calendar.
func Of(s *site.Site, least Least, on time.Time, lang *words.Language) *Supply {
	return &Supply{s, least, on, lang}
}

// StandbyView is the standby supply of the panel.
type StandbyView struct {
	Verdict  string         `json:"verdict"` // enough, short, unknown
	Say      string         `json:"say"`     // in one sentence
	Needed   *float64       `json:"needed"`  // Ah, to 0.1; null: not determined
	Fitted   *float64       `json:"fitted"`  // Ah
	Sheet    worked.Sheet   `json:"sheet"`
	Sheets   []worked.Sheet `json:"sheets"` // charging, today, the house's internet
	Loads    []LoadRow      `json:"loads"`
	LoadsSay string         `json:"loadsSay"` // their sum beside what the site counts
	Cells    []CellRow      `json:"cells"`
	Checks   []Check        `json:"checks"`
}

// LoadRow is what draws on the supply.
type LoadRow struct {
	Name  string   `json:"name"`
	Count int      `json:"count"`
	Rest  *float64 `json:"rest"`  // A of all of them; null: not given
	Alarm *float64 `json:"alarm"` // A
	Say   string   `json:"say"`
}

// CellRow is a battery that can be had.
type CellRow struct {
	ID       string  `json:"id"`
	Name     string  `json:"name"`
	Capacity float64 `json:"capacity"` // Ah
	Verdict  string  `json:"verdict"`  // fits, small, not-allowed, unknown
	Say      string  `json:"say"`
	Best     bool    `json:"best"` // the smallest that fits
}

// Check is what has to be looked at before another battery goes in.
type Check struct {
	Name  string `json:"name"`
	State string `json:"state"` // known, unknown, against
	Say   string `json:"say"`
}

func (s *Supply) num(v float64, most int) string {
	text := s.lang.Number(quantity.Round(v, most), most)
	if strings.ContainsAny(text, ".,") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".,")
	}
	return text
}

// of is a figure with its unit; exact shows all its decimals.
func (s *Supply) of(v float64, most int, unit string) string { return s.num(v, most) + " " + unit }

func (s *Supply) exact(v float64, decimals int, unit string) string {
	return s.lang.Number(v, decimals) + " " + unit
}

func (s *Supply) hours(seconds float64) string {
	if seconds < 3600 {
		return s.num(seconds/60, 1) + " min"
	}
	return s.num(seconds/3600, 2) + " h"
}

// sure says a confidence of a rule in words.
func sure(grade string) string {
	switch grade {
	case "H":
		return worked.High
	case "L":
		return worked.Low
	}
	return worked.Medium
}

// input is a value of the site, or what stands in for it.
func (s *Supply) input(name, sign, at, typed, from string) worked.Input {
	in := worked.Input{Name: name, Sign: sign, Say: typed, Value: typed, At: at, From: from}
	if s.lang != nil {
		in.Say = strings.ReplaceAll(typed, ".", ",")
	}
	if typed != "" && from == "" {
		in.From = s.lang.Say("as the site says")
	}
	if typed == "" && from == "" {
		in.From = s.lang.Say("nobody gave it yet")
	}
	return in
}

// terms are what the size of the battery is made from.
type terms struct {
	load electrical.Load
	duty electrical.Duty
	rule bool // a duty was chosen
	at   *quantity.Celsius
	size electrical.Sized
	err  error
}

func (s *Supply) terms() terms {
	p := s.site.Power
	t := terms{}
	t.duty, t.rule = electrical.DutyOf(p.Duty)
	if !t.rule {
		t.duty = electrical.Duty{Standby: s.least.Standby, Alarm: s.least.Alarm, Source: s.least.Source}
	}
	t.load = electrical.Load{
		Rest: quantity.Ampere(p.RestLoad.SI()), Alarm: quantity.Ampere(p.AlarmLoad.SI()),
		Standby:   max(t.duty.Standby, quantity.Second(p.Standby.SI())),
		AlarmTime: max(t.duty.Alarm, quantity.Second(p.AlarmTime.SI()), quantity.Second(s.site.Settings.FireSounder.SI())),
		Ageing:    p.Ageing,
	}
	if t.load.Ageing == 0 {
		t.load.Ageing = max(s.least.Ageing, t.duty.Factor)
	} else if t.rule {
		t.load.Ageing = max(t.load.Ageing, t.duty.Factor)
	}
	if !p.Temperature.IsZero() && p.Chemistry != "lithium" {
		c := quantity.InCelsius(p.Temperature)
		t.at = &c
	}
	t.size, t.err = electrical.Size(t.load, t.duty.British, 0, t.at)
	return t
}

// Sum is the size of the battery with every term.
type Sum struct {
	Load      quantity.AmpereHour `json:"load"`   // to 0.01
	Needed    quantity.AmpereHour `json:"needed"` // to 0.1
	RestAh    float64             `json:"restAh"`
	AlarmAh   float64             `json:"alarmAh"` // before D
	D         float64             `json:"d"`
	Ageing    float64             `json:"ageing"`
	Cold      float64             `json:"cold"`
	Exact     float64             `json:"exact"` // Ah, not rounded
	Standby   quantity.Second     `json:"standbySeconds"`
	AlarmTime quantity.Second     `json:"alarmSeconds"`
	Duty      string              `json:"duty"`
}

// Sum sizes the battery; all zero where it can not be.
func (s *Supply) Sum() Sum {
	t := s.terms()
	if t.err != nil {
		return Sum{}
	}
	z := t.size
	return Sum{quantity.AmpereHour(math.Round(z.Load*100) / 100), z.Publish, z.Rest, z.Alarm, z.D, z.Ageing, z.Cold, z.Needed, t.load.Standby, t.load.AlarmTime, t.duty.ID}
}

// View is the panel's supply with all its sheets.
func (s *Supply) View() StandbyView {
	p, l := s.site.Power, s.lang
	v := StandbyView{Verdict: "unknown", Loads: []LoadRow{}, Cells: []CellRow{}, Checks: []Check{}, Sheets: []worked.Sheet{}}
	t := s.terms()
	v.Sheet = s.standby(t)
	known := len(v.Sheet.Missing) == 0 && t.err == nil
	if known {
		needed := float64(t.size.Publish)
		v.Needed = &needed
	}
	if !p.Battery.IsZero() {
		fitted := p.Battery.SI()
		v.Fitted = &fitted
	}
	switch {
	case !known:
		v.Say = l.Say("Not determined: see what is missing.")
	case v.Fitted == nil:
		v.Say = l.Say("%s Ah needed; what is fitted is not known.", l.Number(*v.Needed, 1))
	case *v.Fitted < *v.Needed:
		v.Verdict, v.Say = "short", l.Say("%s Ah needed, %s fitted: too small.", l.Number(*v.Needed, 1), l.Measure(p.Battery))
	default:
		v.Verdict, v.Say = "enough", l.Say("%s Ah needed, %s fitted: it suffices by this sum.", l.Number(*v.Needed, 1), l.Measure(p.Battery))
	}
	v.Sheet.Result = v.Say
	if known {
		v.Sheet.Pictures = s.plot(t)
		v.Cells = s.cells(t)
	}
	v.Checks = s.checks()
	v.Loads, v.LoadsSay = s.loads()
	v.Sheets = append(v.Sheets, s.recharge(t), s.today(t))
	if internet, any := s.internet(t); any {
		v.Sheets = append(v.Sheets, internet)
	}
	return v
}

// standby is the sheet of the battery's size.
func (s *Supply) standby(t terms) worked.Sheet {
	l, p := s.lang, s.site.Power
	sh := worked.Sheet{ID: "standby", Title: l.Say("Standby battery of the panel"), Label: l.Say("Arithmetic on what is given: as right as the currents are. Confirm by a load test on site.")}
	duty := worked.Input{Name: l.Say("Rule for the times"), Value: p.Duty, At: "/power/duty", From: l.Say("as the site says"), Choices: []worked.Choice{{Value: "", Say: l.Say("none: the times as typed")}}}
	for _, d := range electrical.Duties() {
		duty.Choices = append(duty.Choices, worked.Choice{Value: d.ID, Say: l.Word(d.Name)})
	}
	duty.Say = l.Word(t.duty.Name)
	if !t.rule {
		duty.Say = l.Say("none: the times as typed")
		duty.From = l.Say("the least is that of the rule set %s", s.least.Name)
	}
	ageing := s.input(l.Say("Factor for an old battery"), "k", "/power/ageing", strconv.FormatFloat(t.load.Ageing, 'f', -1, 64), "")
	ageing.Bare, ageing.Value = true, ""
	if p.Ageing != 0 {
		ageing.Value = strconv.FormatFloat(p.Ageing, 'f', -1, 64)
	} else {
		ageing.From = l.Say("assumed")
		sh.Assumed = append(sh.Assumed, l.Say("Factor for an old battery %s: the site gives none.", s.num(t.load.Ageing, 3)))
	}
	sh.Inputs = []worked.Input{
		duty,
		s.input(l.Say("Current at rest"), "I₁", "/power/restLoad", p.RestLoad.String(), ""),
		s.input(l.Say("Current in alarm"), "I₂", "/power/alarmLoad", p.AlarmLoad.String(), ""),
		s.input(l.Say("Time at rest that is counted"), "", "/power/standby", p.Standby.String(), ""),
		s.input(l.Say("Alarm time that is counted"), "", "/power/alarmTime", p.AlarmTime.String(), ""),
		s.input(l.Say("Fire sounder runs"), "", "/settings/fireSounder", s.site.Settings.FireSounder.String(), ""),
		ageing,
		s.input(l.Say("Lowest temperature at the battery"), "", "/power/temperature", p.Temperature.String(), ""),
		s.input(l.Say("Battery fitted"), "", "/power/battery", p.Battery.String(), ""),
	}
	if p.RestLoad.IsZero() {
		sh.Missing = append(sh.Missing, l.Say("the current at rest"))
	}
	if p.AlarmLoad.IsZero() {
		sh.Missing = append(sh.Missing, l.Say("the current in alarm"))
	}
	if t.load.Standby == 0 {
		sh.Missing = append(sh.Missing, l.Say("the time at rest"))
	}
	if t.err != nil {
		sh.Missing = append(sh.Missing, words.Said(t.err).In(l))
	}
	sh.Cautions = s.cautions(t)
	if len(sh.Missing) > 0 {
		return sh
	}
	source, grade := t.duty.Source, sure(t.duty.Sure)
	if !t.rule {
		source, grade = s.least.Source, ""
	}
	f := func(v float64) string { return s.num(v, 3) }
	alarm := float64(t.load.AlarmTime) / 60
	sh.Steps = []worked.Step{
		{
			Name: l.Say("Time at rest"), Formula: "5.1", Says: l.Say("T₁ = the longer of rule and site"), Put: l.Say("the longer of %s and %s", s.hours(float64(t.duty.Standby)), s.hours(p.Standby.SI())),
			Value: float64(t.load.Standby) / 3600, Unit: "h", Say: s.hours(float64(t.load.Standby)), Source: source, Confidence: l.Word(grade),
		},
		{
			Name: l.Say("Time in alarm"), Formula: "5.1", Says: l.Say("T₂ = the longest of rule, site and set sounder time"),
			Put:   l.Say("the longest of %s, %s and %s", s.hours(float64(t.duty.Alarm)), s.hours(p.AlarmTime.SI()), s.hours(s.site.Settings.FireSounder.SI())),
			Value: alarm, Unit: "min", Say: s.hours(float64(t.load.AlarmTime)), Source: source, Confidence: l.Word(grade),
		},
	}
	if t.duty.British {
		sh.Steps = append(sh.Steps, worked.Step{
			Name: l.Say("Whether the alarm current is high"), Formula: "5.2b", Says: l.Say("D: k (I₁ T₁ + I₂ T₂) / 20 h against I₂"), Put: f(t.size.First) + " Ah / 20 h = " + f(t.size.First/20) + " A; I₂ = " + f(float64(t.load.Alarm)) + " A",
			Value: t.size.D, Say: f(t.size.D), Source: t.duty.Source, Confidence: l.Word(worked.High),
		})
	}
	d := ""
	if t.size.D != 1 {
		d = f(t.size.D) + " × "
	}
	sh.Steps = append(sh.Steps, worked.Step{
		Name: l.Say("Charge drawn"), Formula: "5.2a", Says: "Q = I₁ T₁ + D I₂ T₂",
		Put:   f(float64(t.load.Rest)) + " A × " + s.num(float64(t.load.Standby)/3600, 2) + " h + " + d + f(float64(t.load.Alarm)) + " A × " + s.num(alarm, 2) + "/60 h = " + s.num(t.size.Rest, 4) + " Ah + " + s.num(t.size.D*t.size.Alarm, 4) + " Ah",
		Value: t.size.Load, Unit: "Ah", Say: s.exact(t.size.Load, 2, "Ah"), Source: l.Say("charge is current times time"), Confidence: l.Word(worked.High),
	})
	if t.at != nil {
		sh.Steps = append(sh.Steps, worked.Step{
			Name: l.Say("Factor for the cold"), Formula: "5.5", Says: l.Say("f from the table, straight lines between"), Put: l.Say("at %s °C", s.num(float64(*t.at), 1)),
			Value: t.size.Cold, Say: f(t.size.Cold), Source: l.Say("IEEE 485, lead-acid, -4 to 25 °C"), Confidence: l.Word(worked.Medium),
		})
	}
	sh.Steps = append(sh.Steps, worked.Step{
		Name: l.Say("Battery to fit"), Formula: "5.2c", Says: "C = k f Q", Put: f(t.size.Ageing) + " × " + f(t.size.Cold) + " × " + l.Number(t.size.Load, 2) + " Ah",
		Value: t.size.Needed, Unit: "Ah", Say: s.exact(float64(t.size.Publish), 1, "Ah"), Source: l.Say("NFPA 72, 10.6.7; BS 5839-1, annex on standby batteries"), Confidence: l.Word(worked.High),
	})
	if left, ok := s.end(t); ok {
		sh.Steps = append(sh.Steps, left)
	}
	switch {
	case p.Chemistry == "lithium":
		sh.Assumed = append(sh.Assumed, l.Say("No factor for the cold: the table is for lead-acid. Take the maker's for lithium."))
	case t.at == nil:
		sh.Assumed = append(sh.Assumed, l.Say("25 °C at the battery (factor 1): its lowest temperature is not given. At 10 °C the battery has to be larger by 19 %%."))
	}
	return sh
}

// end is what the fitted battery, old and cold, has left when its time is over.
func (s *Supply) end(t terms) (worked.Step, bool) {
	l := s.lang
	d, err := electrical.Discharged(s.fitted(), 1/(t.size.Ageing*t.size.Cold), s.spells(t), 600)
	if err != nil {
		return worked.Step{}, false
	}
	st := worked.Step{
		Name: l.Say("The fitted battery, old and cold, at the end"), Formula: "5.7", Says: "q = 1 - Σ T / (p t(I)), p = 1 / (k f)",
		Put:   s.hours(float64(t.load.Standby)) + ", " + s.num(float64(t.load.Rest), 3) + " A; " + s.hours(float64(t.load.AlarmTime)) + ", " + s.num(float64(t.load.Alarm), 3) + " A; p = " + s.num(1/(t.size.Ageing*t.size.Cold), 3),
		Value: d.Left * 100, Unit: "%", Say: l.Say("%s %% left", s.num(d.Left*100, 0)), Source: l.Say("charge is current times time"), Confidence: l.Word(worked.Medium),
	}
	if d.Empty >= 0 {
		st.Say = l.Say("empty after %s", s.hours(float64(d.Empty)))
	}
	return st, true
}

func (s *Supply) cautions(t terms) []string {
	l, p := s.lang, s.site.Power
	out := []string{}
	if p.Chemistry == "lithium" {
		out = append(out, l.Say("Never charge a lithium battery below 0 °C. Only where the panel's charger is listed for it."))
	}
	if t.at != nil && *t.at > 25 {
		least, most := electrical.HeatLife(*t.at)
		out = append(out, l.Say("Above 25 °C a lead-acid battery lives %s to %s of its time.", s.num(least, 1), s.num(most, 1)))
	}
	return append(out,
		l.Say("Fit only what cabinet, charger and listing allow."),
		l.Say("On test before the lid opens. Take the battery off the panel before measuring it; insulate the loose lead, no rings, no tools across the terminals."),
		l.Say("Use each device's current at its least voltage: it is often the largest."),
		l.Say("Local code, the listing and a licensed person decide; this sum does not."),
	)
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
