package history

import (
	"cmp"
	"slices"
	"time"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/signal"
	"proofbell/site"
)

// How sure a finding is. Both are bounds of the chance that a history without that cause shows as much, after the
// correction for all looks (Bonferroni: chance x looks, Dunn 1961).
const (
	likelyBelow   = 0.001
	possibleBelow = 0.01
)

// Finding is a cause that the history speaks for.
type Finding struct {
	Cause     string   `json:"cause"`
	Title     string   `json:"title"`
	Zone      string   `json:"zone,omitempty"` // "" for the whole site
	Label     string   `json:"label,omitempty"`
	Sure      string   `json:"sure"`           // "likely" or "possible"
	Rule      bool     `json:"rule,omitempty"` // told by a rule and not by a chance
	Chance    float64  `json:"chance"`         // of as much without the cause, corrected for all looks; 0 with a rule
	Odds      string   `json:"odds"`           // the same in words
	Evidence  []string `json:"evidence"`
	Events    int      `json:"events"`
	Lines     []int    `json:"lines"` // of the history, at most 60
	At        []int64  `json:"at"`    // their times, Unix seconds, at most 500
	Disproof  string   `json:"disproof"`
	Not       string   `json:"not"`
	Statistic string   `json:"statistic"`
	Threshold string   `json:"threshold"`
}

// Lack is what a cause could not be judged for.
type Lack struct {
	Cause string `json:"cause"`
	Title string `json:"title"`
	Need  string `json:"need"`
}

// Device is what one zone did.
type Device struct {
	Zone    string `json:"zone"`
	Label   string `json:"label,omitempty"`
	Alarms  int    `json:"alarms"`
	Lost    int    `json:"lost"`
	Trouble int    `json:"trouble"` // with maintenance
	Tamper  int    `json:"tamper"`
	Battery int    `json:"battery"`
	Say     string `json:"say"` // likely causes, nothing unusual, or not enough data
}

// Rate is a count of alarms against a public threshold.
type Rate struct {
	Say    string `json:"say"`
	Over   bool   `json:"over"`
	Source string `json:"source"`
}

// Diagnosis is what a history speaks for.
type Diagnosis struct {
	Say      string    `json:"say"`
	From     time.Time `json:"from"`
	To       time.Time `json:"to"`
	Days     float64   `json:"days"`
	Events   int       `json:"events"` // looked at
	OnTest   int       `json:"onTest"` // left out: they came while on test
	Account  string    `json:"account,omitempty"`
	Others   int       `json:"others"` // events of other accounts, left out
	Looks    int       `json:"looks"`
	Findings []Finding `json:"findings"`
	Lacks    []Lack    `json:"lacks"`
	Devices  []Device  `json:"devices"`
	Rates    []Rate    `json:"rates"`
	Timeline Timeline  `json:"timeline"`
}

// Unusual reports whether anything was found.
func (d *Diagnosis) Unusual() bool { return len(d.Findings) > 0 }

// Scope is what of a history is looked at.
type Scope struct {
	From, To time.Time // zero: all; To is the first moment that is no longer looked at
	Lang     *words.Language
}

// Diagnose looks for causes. s may be nil; with it, names, ages, models and kinds of zone count as well.
func Diagnose(r *Reading, s *site.Site, scope Scope) *Diagnosis {
	d := lay(r, s, scope.From, scope.To)
	lang := scope.Lang
	out := &Diagnosis{
		From: time.Unix(d.from, 0).UTC(), To: time.Unix(d.to, 0).UTC(), Events: len(d.all), OnTest: d.onTest, Account: d.account,
		Days: float64(int(d.seconds()/8640)) / 10, Looks: d.countLooks(), Findings: []Finding{}, Lacks: []Lack{}, Devices: []Device{}, Rates: []Rate{},
	}
	for a, n := range d.accounts {
		if a != d.account {
			out.Others += n
		}
	}
	if len(d.all) == 0 {
		out.Say = lang.Say("Not enough data: there is no event in this time. It would need some weeks of history.")
		out.Timeline = Timeline{Lanes: []Lane{}}
		return out
	}
	ranks := map[string]int{}
	for i, c := range causes {
		ranks[c.id] = i
		if c.needs != nil {
			if need := c.needs(d); need != "" {
				out.Lacks = append(out.Lacks, Lack{c.id, lang.Say(c.title), lang.Say(need)})
			}
		}
		for _, f := range c.find(d) {
			chance := publish(min(1, f.p*float64(out.Looks)))
			if f.rule {
				chance = f.p
			}
			if chance > possibleBelow {
				continue
			}
			for _, n := range f.events {
				d.claimed[n] = true
			}
			out.Findings = append(out.Findings, d.finding(c, f, chance, lang))
		}
	}
	sorts.Stable(out.Findings, func(a, b Finding) int {
		return cmp.Or(cmp.Compare(a.Sure, b.Sure), cmp.Compare(a.Chance, b.Chance), cmp.Compare(ranks[a.Cause], ranks[b.Cause]))
	})
	for i := range out.Findings {
		f := &out.Findings[i]
		if f.Odds = odds(f.Chance, lang); f.Rule {
			f.Chance, f.Odds = 0, lang.Say("told by a rule, not by chance")
		}
	}
	out.Devices = d.devices(out.Findings, lang)
	out.Rates = d.rates(lang)
	out.Timeline = d.timeline(lang)
	out.Say = d.summary(out, lang)
	return out
}

// countLooks is the number of tests that could come out against chance (Tarone, 1990): one for each cause; for the three
// that compare counts of zones, one for each zone; for the 15 others that look at zones, one for each zone with four events
// or more, because fewer can not reach a threshold.
func (d *data) countLooks() int {
	enough := 0
	for i := range d.zones {
		n := 0
		for c := fireAlarm; c <= maintenance; c++ {
			if c.alarm() || manner(c) == "fault" {
				n += len(d.zones[i].of[c])
			}
		}
		if n >= 4 {
			enough++
		}
	}
	return len(causes) + 3*len(d.zones) + 15*enough
}

// Days of history below which nothing is called usual.
const leastDays, leastEvents = 14, 20

func (d *data) summary(out *Diagnosis, lang *words.Language) string {
	switch n := len(out.Findings); {
	case n == 1:
		return lang.Say("One thing stands out in %d events of %.0f days.", out.Events, out.Days)
	case n > 1:
		return lang.Say("%d things stand out in %d events of %.0f days.", n, out.Events, out.Days)
	case out.Days < leastDays || out.Events < leastEvents:
		return lang.Say("Not enough data: it would need two weeks and 20 events or more; there are %d days and %d.", int(out.Days), out.Events)
	}
	return lang.Say("Nothing unusual in %d events of %.0f days. %d looks were taken; what is rarer than that is not seen.", out.Events, out.Days, out.Looks)
}

// odds says a chance in words; below one in a million the model is not known well enough to say more.
func odds(chance float64, lang *words.Language) string {
	if chance < 1e-6 {
		return lang.Say("less than 1 in a million by chance, corrected for all looks")
	}
	return lang.Say("1 in %d by chance, corrected for all looks", int64(1/chance+0.5))
}

func (d *data) finding(c cause, f found, chance float64, lang *words.Language) Finding {
	out := Finding{
		Cause: c.id, Title: lang.Say(c.title), Sure: "possible", Rule: f.rule, Chance: chance, Evidence: []string{}, Lines: []int{}, At: []int64{},
		Disproof: lang.Say(c.disproof), Not: lang.Say(c.not), Statistic: lang.Say(c.statistic), Threshold: lang.Say(c.threshold),
	}
	if chance <= likelyBelow && !c.vague {
		out.Sure = "likely"
	}
	if f.zone >= 0 {
		out.Zone, out.Label = d.zones[f.zone].name, d.zones[f.zone].label
	}
	for _, s := range f.say {
		out.Evidence = append(out.Evidence, d.say(s, lang))
	}
	lines := slices.Clone(f.lines)
	for _, n := range f.events {
		lines = append(lines, d.r.Events[d.all[n].index].Line)
		if len(out.At) < 500 {
			out.At = append(out.At, d.all[n].at)
		}
	}
	slices.Sort(lines)
	lines = slices.Compact(lines)
	slices.Sort(out.At)
	out.Events, out.Lines = len(lines), lines[:min(60, len(lines))]
	if out.Lines == nil {
		out.Lines = []int{}
	}
	return out
}

// say writes a sentence of evidence in the reader's manner, times by the site's clock.
func (d *data) say(s said, lang *words.Language) string {
	args := make([]any, len(s.args))
	for i, a := range s.args {
		switch v := a.(type) {
		case moment:
			args[i] = lang.Moment(time.Unix(int64(v), 0).In(d.zone))
		case clockAt:
			args[i] = clockText(float64(v))
		case dayName:
			args[i] = lang.Say(dayNames[v])
		case lasting:
			args[i] = lasts(int64(v), lang)
		case tenths:
			args[i] = lang.Number(float64(v), 1)
		default:
			args[i] = a
		}
	}
	return lang.Say(s.format, args...)
}

var dayNames = [7]string{
	words.Mark("Sunday"), words.Mark("Monday"), words.Mark("Tuesday"), words.Mark("Wednesday"), words.Mark("Thursday"), words.Mark("Friday"),
	words.Mark("Saturday"),
}

func clockText(part float64) string {
	return time.Unix(int64(part*86400+0.5), 0).UTC().Format("15:04")
}

func lasts(seconds int64, lang *words.Language) string {
	switch {
	case seconds < 120:
		return lang.Say("%d s", seconds)
	case seconds < 2*3600:
		return lang.Say("%d min", (seconds+30)/60)
	case seconds < 3*86400:
		return lang.Say("%d h", (seconds+1800)/3600)
	}
	return lang.Say("%d days", (seconds+43200)/86400)
}

func (d *data) devices(findings []Finding, lang *words.Language) []Device {
	out := []Device{}
	for i := range d.zones {
		z := &d.zones[i]
		one := Device{
			Zone: z.name, Label: z.label, Lost: len(z.of[lost]), Trouble: len(z.of[trouble]) + len(z.of[maintenance]), Tamper: len(z.of[tamper]),
			Battery: len(z.of[batteryLow]),
		}
		for c := fireAlarm; c <= buildingAlarm; c++ {
			one.Alarms += len(z.of[c])
		}
		all := one.Alarms + one.Lost + one.Trouble + one.Tamper + one.Battery
		if all == 0 {
			continue
		}
		for _, f := range findings {
			if f.Zone == z.name {
				if one.Say != "" {
					one.Say += " "
				}
				one.Say += f.Title + "."
			}
		}
		switch {
		case one.Say != "":
		case all < 4:
			one.Say = lang.Say("Not enough data: a pattern takes four events or more.")
		default:
			one.Say = lang.Say("Nothing unusual.")
		}
		out = append(out, one)
	}
	sorts.Stable(out, func(a, b Device) int {
		return cmp.Or(cmp.Compare(numberOf(a.Zone), numberOf(b.Zone)), cmp.Compare(a.Zone, b.Zone))
	})
	return out
}

// rates compares alarms with public thresholds. Whether an alarm was false the history does not know: it says so.
func (d *data) rates(lang *words.Language) []Rate {
	out := []Rate{}
	year := int64(365 * 86400)
	since := max(d.from, d.to-year)
	recent := func(list []int32) []int32 {
		return slices.DeleteFunc(slices.Clone(list), func(i int32) bool { return d.all[i].at < since })
	}
	fires := d.episodes(recent(d.of[fireAlarm]), 1800)
	part := float64(d.to-since) / float64(year)
	if detectors := d.detectors(); len(fires) > 0 && detectors > 0 && part > 0.2 {
		perYear := float64(len(fires)) / part
		out = append(out, Rate{
			Say: lang.Say("Fire alarms: %d in %.0f days with %d detectors, one a year for every %s detectors if all were false. Attainable is one for every 50 to 100; above one for every 25 it is to be looked into.",
				len(fires), part*365, detectors, lang.Number(float64(detectors)/perYear, 1)),
			Over: perYear*25 > float64(detectors), Source: lang.Say("BS 5839-1, as publicly cited; written for larger systems than a household's"),
		})
	}
	for i := range d.zones {
		z := &d.zones[i]
		if n := len(d.episodes(recent(z.of[fireAlarm]), 1800)); n >= 2 {
			out = append(out, Rate{
				Say:  lang.Say("Zone %s: %d fire alarms within 12 months; two from one device are to be looked into.", z.name, n),
				Over: true, Source: lang.Say("BS 5839-1, as publicly cited; written for larger systems than a household's"),
			})
		}
	}
	for _, kind := range []struct {
		of    class
		limit int
		say   string
	}{
		{burglaryAlarm, 3, words.Mark("Burglary alarms: %d within 12 months if all were passed on; police response has been withdrawn after %d false calls.")},
		{panicAlarm, 2, words.Mark("Panic alarms: %d within 12 months if all were passed on; police response has been withdrawn after %d false calls.")},
	} {
		if n := len(d.episodes(recent(d.of[kind.of]), 1800)); n > 0 {
			out = append(out, Rate{Say: lang.Say(kind.say, n, kind.limit), Over: n >= kind.limit, Source: lang.Say("police policy in the United Kingdom, as publicly cited; ask what holds here")})
		}
	}
	return out
}

// detectors counts what can give a fire alarm: fire zones, and the heads behind a bridge.
func (d *data) detectors() int {
	if d.site == nil {
		return 0
	}
	n := 0
	for _, z := range d.site.Zones {
		dev := d.site.Devices[z.Device]
		if z.Kind.Family() == "fire" && d.site.Models[dev.Model].Class != "bridge" {
			n++
		}
	}
	for _, h := range d.site.Heads {
		if h.Group != "" {
			n++
		}
	}
	return n
}

// Timeline is a history as marks in lanes. Where there are too many events, those of a lane and manner within Bin seconds
// are one mark.
type Timeline struct {
	From  int64  `json:"from"` // Unix seconds
	To    int64  `json:"to"`
	Bin   int64  `json:"bin"`
	Zone  string `json:"zone"` // of the clock to show times in
	Lanes []Lane `json:"lanes"`
}

// Lane is one row: a zone, or what belongs to none.
type Lane struct {
	Zone  string     `json:"zone,omitempty"`
	Label string     `json:"label"`
	Marks []TimeMark `json:"marks"`
}

// TimeMark is one mark of a lane.
type TimeMark struct {
	At    int64  `json:"at"` // seconds after Timeline.From
	Is    string `json:"is"` // alarm, fault, end, people, test
	Count int    `json:"n"`
	Line  int    `json:"line"` // of the first event
	Say   string `json:"say"`  // what the first event was
}

const (
	mostMarks = 12_000
	mostLanes = 40
)

func manner(c class) string {
	switch {
	case c.alarm() || c == exitError:
		return "alarm"
	case c == lost || c == batteryLow || c == tamper || c == trouble || c == mainsLost || c == powerLow || c == pathFault || c == restart || c == jamming || c == maintenance:
		return "fault"
	case c == opened || c == closed || c == programming:
		return "people"
	case c == periodicTest || c == walked || c == testBegin || c == testEnd:
		return "test"
	}
	return "end"
}

func (d *data) timeline(lang *words.Language) Timeline {
	t := Timeline{From: d.from, To: d.to, Bin: 1, Zone: d.zone.String(), Lanes: []Lane{}}
	// Zones with most alarms and faults have lanes of their own; the rest share one.
	order := make([]int, len(d.zones))
	weight := make([]int, len(d.zones))
	for i := range order {
		order[i] = i
		for c := range classes {
			weight[i] += len(d.zones[i].of[c])
		}
	}
	sorts.Stable(order, func(a, b int) int { return weight[b] - weight[a] })
	own := order[:min(mostLanes, len(order))]
	sorts.Stable(own, func(a, b int) int {
		return cmp.Or(cmp.Compare(numberOf(d.zones[a].key), numberOf(d.zones[b].key)), cmp.Compare(d.zones[a].name, d.zones[b].name))
	})
	lane := make([]int, len(d.zones))
	for i := range lane {
		lane[i] = len(own)
	}
	names := []Lane{}
	for k, i := range own {
		lane[i] = k
		names = append(names, Lane{Zone: d.zones[i].name, Label: d.zones[i].label})
	}
	names = append(names, Lane{Label: lang.Say("Other zones")}, Lane{Label: lang.Say("Arming")}, Lane{Label: lang.Say("Power and paths")}, Lane{Label: lang.Say("Tests and the rest")})
	for _, bin := range []int64{1, 60, 600, 3600, 6 * 3600, 86400, 7 * 86400, 30 * 86400, 365 * 86400} {
		t.Bin = bin
		t.Lanes = d.marks(names, lane, len(own), bin, lang)
		if t.Lanes != nil {
			break
		}
	}
	t.Lanes = slices.DeleteFunc(t.Lanes, func(l Lane) bool { return len(l.Marks) == 0 })
	return t
}

// marks bins the events; nil when there would be too many.
func (d *data) marks(names []Lane, lane []int, other int, bin int64, lang *words.Language) []Lane {
	lanes := slices.Clone(names)
	type slot struct {
		lane int
		is   string
	}
	last := map[slot]int{} // index into the marks of the lane
	n := 0
	for i := range d.all {
		o := &d.all[i]
		is := manner(o.class)
		at := 0
		switch {
		case o.zone >= 0:
			at = lane[o.zone]
		case is == "people":
			at = other + 1
		case o.class >= mainsLost && o.class <= pathBack || o.class == restart || o.class == jamming:
			at = other + 2
		default:
			at = other + 3
		}
		l := &lanes[at]
		secs := o.at - d.from
		if k, ok := last[slot{at, is}]; ok && bin > 1 && l.Marks[k].At/bin == secs/bin {
			l.Marks[k].Count++
			continue
		}
		if n++; n > mostMarks && bin < 365*86400 {
			return nil
		}
		last[slot{at, is}] = len(l.Marks)
		e := &d.r.Events[o.index]
		l.Marks = append(l.Marks, TimeMark{At: secs, Is: is, Count: 1, Line: e.Line, Say: sayEvent(e, o.class, lang)})
	}
	return lanes
}

// sayEvent is an event in a few words.
func sayEvent(e *Event, c class, lang *words.Language) string {
	say := lang.Word(e.Words)
	switch {
	case c == opened:
		say = lang.Say("disarmed")
	case c == closed:
		say = lang.Say("armed")
	case e.Qualifier == signal.Restore && e.Format == signal.CID:
		say = lang.Say("%s, restored", say)
	}
	if e.Code != "" {
		say = e.Code + " " + say
	}
	return say
}
