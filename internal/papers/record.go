package papers

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"proofbell/electrical"
	"proofbell/internal/drawing"
	"proofbell/internal/prove"
	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/rules"
	"proofbell/site"
)

// caution stands at the beginning of every record.
func (w *writer) caution() {
	l := w.l
	w.add(Section{ID: "caution", Own: true, Framed: true, Title: l.Say("Before you rely on this"), Text: []string{
		l.Say("This is a record of what was seen and when, not a certificate. Local code, the authority having jurisdiction and the instructions of the equipment come first."),
		l.Say("\"Line\" means that the panel's signal reached the receiver of this program. Only the station's own evidence (read-back or history) proves the station."),
		l.Say("A test button proves sounder and link. It does not prove that smoke gets in."),
		l.Say("A listening bridge is an extra: it can miss an alarm and sees neither mains failure, low battery nor a missing head. The alarms themselves must stay."),
		l.Say("What is not proved stands here by name. A finding is judged against one rule set of one date, which may be out of date."),
	}})
}

func (w *writer) property() {
	l, s := w.l, w.s
	var out []Pair
	w.pair(&out, l.Say("Property"), join(", ", w.State.Name(), w.address()))
	w.pair(&out, l.Say("Use"), w.use(s.Premises.Use))
	sleeping := 0
	for _, r := range s.Rooms {
		if r.Sleeping {
			sleeping++
		}
	}
	guests := ""
	if s.Premises.PayingGuests {
		guests = l.Say("paying guests sleep here")
	}
	w.pair(&out, l.Say("Sleeping rooms"), join(", ", itoa(sleeping), guests))
	assessment := map[string]string{"": l.Say("not asked"), "none": l.Say("none in writing"), "asked": l.Say("asked for")}
	risk, known := assessment[s.Premises.RiskAssessment]
	if !known {
		risk = l.Say("in writing, %s", w.dated(s.Premises.RiskAssessment))
	}
	w.pair(&out, l.Say("Fire risk assessment"), risk)
	w.pair(&out, l.Say("Storeys"), itoa(len(s.Storeys)))
	for _, role := range []string{"owner", "manager"} {
		w.pair(&out, w.role(role), names(w.people(role)))
	}
	w.pair(&out, l.Say("Installed by"), join(", ", w.firm(), names(w.people("technician")), names(w.people("junior"))))
	w.pair(&out, l.Say("Mains work"), names(w.people("electrician")))
	if w.firm() == "" {
		w.lack("survey", l.Say("Nobody is named as technician with a firm"))
	}
	w.add(Section{ID: "property", Title: l.Say("Property and people"), Pairs: out})
}

func (w *writer) monitoring() {
	l := w.l
	w.lackAccount()
	out := w.accountPairs()
	if !w.s.Settings.PeriodicTest.IsZero() {
		out = append(out, Pair{l.Say("Periodic test"), l.Say("every %s", w.s.Settings.PeriodicTest)})
	}
	standby := map[string]string{"yes": l.Say("runs on when the mains fails"), "none": l.Say("stops with the mains")}
	if e := w.s.Premises.Internet.Equipment; e != "" {
		out = append(out, Pair{l.Say("Internet of the house"), join(", ", e, cmp.Or(standby[w.s.Premises.Internet.Standby], l.Say("standby not known")))})
	}
	w.add(Section{ID: "monitoring", Title: l.Say("Monitoring"), Pairs: out})
}

func (w *writer) system() {
	l, s := w.l, w.s
	var out []Pair
	if w.Profile != nil {
		w.pair(&out, l.Say("Panel"), join(", ", w.Profile.Title, l.Say("program version %s", w.Profile.Version), w.place(s.Panel.Room)))
	} else {
		w.lack("survey", l.Say("The panel is not chosen yet"))
	}
	w.pair(&out, l.Say("Panel fitted"), w.date(s.Panel.Installed))
	w.pair(&out, l.Say("Checked against"), w.RuleSet)
	w.pair(&out, l.Say("Grade and category"), l.Say("for the responsible person to state where local rules ask for them"))
	groups := 0
	for _, id := range site.SortedIDs(s.Groups) {
		g := s.Groups[id]
		groups++
		w.pair(&out, l.Say("Group %s", cmp.Or(g.Name, string(id))), join(", ", count(len(s.HeadsOf(id)), l.Say("head")), g.Supply, s.Circuits[g.Circuit].Name))
	}
	w.add(Section{ID: "system", Title: l.Say("System"), Pairs: out})
	w.power()
	w.counts()
}

func (w *writer) power() {
	l, p := w.l, w.s.Power
	var out []Pair
	if !p.Battery.IsZero() {
		w.pair(&out, l.Say("Battery fitted"), join(", ", p.Battery.String(), w.date(p.BatteryDate)))
	}
	if !p.RestLoad.IsZero() {
		w.pair(&out, l.Say("Load at rest, in alarm"), join(", ", p.RestLoad.String(), p.AlarmLoad.String()))
	}
	if !p.Standby.IsZero() {
		w.pair(&out, l.Say("Standby, alarm"), join(", ", p.Standby.String(), p.AlarmTime.String()))
	}
	ageing := p.Ageing
	if ageing == 0 {
		ageing = 1
	}
	if sum, err := electrical.Standby(electrical.Load{
		Rest: quantity.Ampere(p.RestLoad.SI()), Alarm: quantity.Ampere(p.AlarmLoad.SI()), Standby: quantity.Second(p.Standby.SI()),
		AlarmTime: quantity.Second(p.AlarmTime.SI()), Ageing: ageing,
	}); err == nil && !p.RestLoad.IsZero() {
		w.pair(&out, l.Say("Battery needed"), l.Say("%s Ah with ageing factor %s. Estimate: confirm by load test.", w.l.Number(float64(sum.Needed), 1), w.l.Number(ageing, 2)))
	}
	if len(out) == 0 {
		w.lack("survey", l.Say("Nothing is known of the standby supply"))
		return
	}
	w.add(Section{ID: "power", Title: l.Say("Power"), Pairs: out})
}

// counts lists devices by sort.
func (w *writer) counts() {
	l, s := w.l, w.s
	t := Table{Head: []string{l.Say("What"), l.Say("How many")}, Widths: []float64{120, 30}, Empty: l.Say("No device yet."), Rows: [][]string{}}
	classes, kinds := map[string]int{}, map[string]int{}
	for id := range s.Devices {
		m, _ := s.ModelOf(id)
		classes[m.Class]++
	}
	for _, h := range s.Heads {
		kinds[h.Kind]++
	}
	for _, class := range site.Words("device-class") {
		if n := classes[class]; n > 0 {
			t.Rows = append(t.Rows, []string{w.class(class), itoa(n)})
		}
	}
	if n := classes[""]; n > 0 {
		t.Rows = append(t.Rows, []string{l.Say("Device without a model"), itoa(n)})
	}
	for _, kind := range site.Words("head-kind") {
		if n := kinds[kind]; n > 0 {
			t.Rows = append(t.Rows, []string{l.Say("%s, self-contained", w.headKind(kind)), itoa(n)})
		}
	}
	w.add(Section{ID: "counts", Title: l.Say("Devices by count"), Table: &t})
}

// sequence says what each kind of zone does: cause and effect.
func (w *writer) sequence() {
	l := w.l
	t := Table{Head: []string{l.Say("Cause"), l.Say("Zones"), l.Say("Effect on the spot"), l.Say("Code"), l.Say("Paths")}, Widths: []float64{34, 40, 52, 16, 36}, Rows: [][]string{}, Empty: l.Say("No zone yet.")}
	effects := map[string]string{
		"fire": l.Say("three-pulse signal, at all times"), "co": l.Say("four-pulse signal, at all times"), "gas": l.Say("warning tone, at all times"), "panic": l.Say("as the kind says"),
		"burglary": l.Say("siren while armed"), "building": l.Say("tone at the keypad"), "control": l.Say("none"), "medical": l.Say("soft tone"),
	}
	type row struct {
		kind  site.ZoneKind
		code  string
		paths string
	}
	zones := map[row][]string{}
	var order []row
	for _, id := range w.zones() {
		z := w.s.Zones[id]
		r := row{z.Kind, z.Code, w.paths(z.Paths)}
		if zones[r] == nil {
			order = append(order, r)
		}
		zones[r] = append(zones[r], string(id))
	}
	for _, r := range order {
		effect := effects[r.kind.Family()]
		switch r.kind {
		case site.PanicQuiet, site.AlwaysQuiet:
			effect = l.Say("none, quiet")
		case site.PanicLoud, site.AlwaysLoud:
			effect = l.Say("siren, at all times")
		}
		t.Rows = append(t.Rows, []string{w.kind(r.kind), strings.Join(zones[r], " "), effect, r.code, r.paths})
	}
	w.add(Section{ID: "sequence", Title: l.Say("Sequence of operation"), Text: []string{l.Say("As planned and keyed. What was proved of it stands under the test.")}, Table: &t})
}

func (w *writer) settings() {
	if out := Settings(w.l, w.s); len(out) > 0 {
		w.add(Section{ID: "settings", Title: w.l.Say("Settings"), Pairs: out})
	}
}

// Settings are those of the whole panel, as planned: no card keys them.
func Settings(l *words.Language, of *site.Site) []Pair {
	s := of.Settings
	out := []Pair{}
	add := func(name string, d quantity.Duration, more string) {
		if !d.IsZero() {
			out = append(out, Pair{name, join(", ", d.String(), more)})
		}
	}
	families := func(list []string) string {
		var out []string
		for _, f := range list {
			out = append(out, said(l, cmp.Or(familyWords[f], f)))
		}
		return strings.Join(out, ", ")
	}
	add(l.Say("Exit delay"), s.ExitDelay, "")
	add(l.Say("Entry delay"), s.EntryDelay, "")
	add(l.Say("Second entry delay"), s.EntryDelay2, "")
	add(l.Say("Abort window"), s.AbortWindow.Time, families(s.AbortWindow.Applies))
	if s.TripLimit.Trips > 0 {
		out = append(out, Pair{l.Say("Trip limit"), join(", ", itoa(s.TripLimit.Trips), families(s.TripLimit.Applies))})
	}
	for _, id := range site.SortedIDs(s.CrossZones) {
		c := s.CrossZones[id]
		out = append(out, Pair{l.Say("Cross-zone"), l.Say("%s within %s", strings.Join(texts(c.Zones), " + "), c.Within)})
	}
	add(l.Say("Periodic test"), s.PeriodicTest, "")
	add(l.Say("Fire sounder runs"), s.FireSounder, "")
	return out
}

// run is the run that a record tells of: the one that is open, else the newest.
func (w *writer) run() *prove.Run {
	if run := w.State.OpenRun(); run != nil || len(w.State.Runs) == 0 {
		return run
	}
	return w.State.Runs[len(w.State.Runs)-1]
}

// test tells of one run: what came to it, who was told, and what was not proved, by name. strips lays out every step.
func (w *writer) test(run *prove.Run, strips bool) {
	l := w.l
	title := l.Say("Test")
	if run == nil {
		w.lack("prove", l.Say("No proving run was made"))
		w.add(Section{ID: "test", Title: title, Text: []string{l.Say("No proving run was made. Nothing is proved.")}})
		return
	}
	steps, outcome := w.Judge(run)
	c := outcome.Counters
	var out []Pair
	w.pair(&out, l.Say("Result"), l.Say("%d of %d proved, %d failed, %d waiting, %d not testable", c.Proved, c.Total, c.Failed, c.Waiting, c.NotTestable))
	if c.Half > 0 {
		w.pair(&out, l.Say("By test button only"), itoa(c.Half))
	}
	w.pair(&out, l.Say("Run opened"), join(", ", l.Moment(run.Opened.In(w.Zone)), w.person(run.By)))
	if run.Closed.IsZero() {
		w.lack("prove", l.Say("The proving run is still open"))
	} else {
		w.pair(&out, l.Say("Run closed"), join(", ", l.Moment(run.Closed.In(w.Zone)), w.person(run.ClosedBy)))
	}
	for _, span := range run.Window.Earlier {
		w.pair(&out, l.Say("On test"), l.Say("%s to %s", l.Moment(span.From.In(w.Zone)), span.To.In(w.Zone).Format("15:04")))
	}
	if win := run.Window; !win.Opened.IsZero() {
		w.pair(&out, l.Say("On test"), join(", ", l.Say("%s to %s", l.Moment(win.Opened.In(w.Zone)), win.Until.In(w.Zone).Format("15:04")), win.Operator, win.Reference))
		if !win.Closed.IsZero() {
			w.pair(&out, l.Say("Off test, confirmed"), l.Moment(win.Closed.In(w.Zone)))
		}
	}
	if p := run.Clocks.Panel; p != nil {
		w.pair(&out, l.Say("Panel's clock"), l.Say("%+d s against ours", *p))
	}
	if p := run.Clocks.Station; p != nil {
		w.pair(&out, l.Say("Station's clock"), l.Say("%+d s against ours", *p))
	}
	for _, open := range run.Open {
		w.pair(&out, l.Say("Stood open at the end"), open)
	}
	w.add(Section{ID: "test", Title: title, Pairs: out})

	byVerdict := map[string][]string{}
	var order []string
	for i, r := range outcome.Steps {
		if r.Verdict.Good() {
			continue
		}
		say := said(l, verdictWords[r.Verdict])
		if byVerdict[say] == nil {
			order = append(order, say)
		}
		byVerdict[say] = append(byVerdict[say], join(" ", string(steps[i].Zone), steps[i].Title))
	}
	var not []Pair
	for _, say := range order {
		not = append(not, Pair{say, strings.Join(byVerdict[say], "; ")})
	}
	if len(not) > 0 {
		w.lack("prove", l.Say("Not proved: %d of %d", c.Total-c.Proved, c.Total))
		w.add(Section{ID: "not-proved", Title: l.Say("Not proved, by name"), Pairs: not})
	}
	if !strips {
		return
	}
	s := Section{ID: "paths", Title: l.Say("Path of each signal: detector, panel, line, station"), Strips: []Strip{}}
	for i, r := range outcome.Steps {
		step := steps[i]
		x := Strip{
			Zone: string(step.Zone), Title: step.Title, Say: join(" ", r.Say, w.times(step, r)),
			Stops: [4]string{string(r.Strip.Detector.State), string(r.Strip.Panel.State), string(r.Strip.Line.State), string(r.Strip.Station.State)},
		}
		for n, hop := range r.Strip.Hops {
			x.Hops[n] = hop.Mark
			if hop.Seconds != nil {
				x.Hops[n] = l.Number(*hop.Seconds, 1) + " s"
			}
		}
		s.Strips = append(s.Strips, x)
	}
	sorts.Stable(s.Strips, func(a, b Strip) int { return byZone(a.Zone, b.Zone, a.Title, b.Title) })
	w.add(s)
}

var verdictWords = map[prove.Verdict]string{
	prove.WrongZone: words.Mark("Wrong zone"), prove.WrongCode: words.Mark("Wrong code"), prove.NotReceived: words.Mark("Not received"), prove.RestoreMissing: words.Mark("Restore missing"),
	prove.NotTestable: words.Mark("Not testable"), prove.Waiting: words.Mark("Waiting"), prove.Unproved: words.Mark("Unproved"),
}

// times lists the signals that a step expects, each with what came.
func (w *writer) times(step prove.Step, r prove.StepResult) string {
	l := w.l
	var out []string
	for i, x := range r.Signals {
		e := step.Expected[i]
		if e.Optional || e.Code == "" {
			continue
		}
		name := join(" ", e.Code, restoreMark(l, e.Qualifier))
		switch {
		case x.Seconds != nil && x.AtStation:
			out = append(out, l.Say("%s after %s s, read back", name, l.Number(*x.Seconds, 1)))
		case x.Seconds != nil:
			out = append(out, l.Say("%s after %s s", name, l.Number(*x.Seconds, 1)))
		case x.AtStation:
			out = append(out, l.Say("%s read back", name))
		case x.Here:
			out = append(out, l.Say("%s received", name))
		default:
			out = append(out, l.Say("%s not received", name))
		}
	}
	if len(out) == 0 {
		return ""
	}
	return "[" + strings.Join(out, ", ") + "]"
}

// findings lists what the rules found and nobody accepted; whose picks by who can mend it.
func (w *writer) findings(id, title string, keep func(rules.Finding) bool) {
	l := w.l
	grave := map[rules.Severity]string{rules.Stop: l.Say("STOP"), rules.Fix: l.Say("FIX"), rules.Advise: l.Say("ADVICE")}
	s := Section{ID: id, Title: title, Findings: []Finding{}}
	for _, f := range w.Findings {
		if f.Accepted == nil && !f.NotJudged && keep(f) {
			s.Findings = append(s.Findings, Finding{Grave: grave[f.Severity], Where: f.Where, Say: f.Say, Do: f.Do})
		}
	}
	if len(s.Findings) == 0 {
		s.Text = []string{l.Say("None.")}
	}
	w.add(s)
}

func (w *writer) exceptions() {
	l := w.l
	w.findings("exceptions", l.Say("Open findings"), func(rules.Finding) bool { return true })
	if n := w.stops(); n > 0 {
		w.lack("schedule", l.Say("Stops that still stand against the schedule: %d", n))
	}
	t := Table{Head: []string{l.Say("What"), l.Say("Why it stays"), l.Say("Accepted by"), l.Say("When")}, Widths: []float64{66, 60, 32, 20}, Empty: l.Say("None."), Rows: [][]string{}}
	for _, f := range w.Findings {
		if f.Accepted != nil {
			t.Rows = append(t.Rows, []string{join(": ", f.Where, f.Say), f.Accepted.Reason, w.person(f.Accepted.By), w.stamp(f.Accepted.At)})
		}
	}
	w.add(Section{ID: "accepted", Title: l.Say("Accepted deviations"), Table: &t})
	var lacked []Pair
	for _, f := range w.Findings {
		if f.NotJudged {
			lacked = append(lacked, Pair{f.Where, cmp.Or(strings.Join(f.Missing, ", "), f.Say)})
		}
	}
	if len(lacked) > 0 {
		w.add(Section{ID: "not-judged", Title: l.Say("Not judged, and what was missing"), Pairs: lacked})
	}
}

// stamp writes a time in RFC 3339 as a day of the site.
func (w *writer) stamp(text string) string {
	at, err := parseTime(text)
	if err != nil {
		return text
	}
	return w.l.Day(at.In(w.Zone))
}

// questions lists what only people can answer; of whom picks one, "" all.
func (w *writer) questions(of string) {
	l := w.l
	asked := map[string]string{"owner": l.Say("Owner"), "station": l.Say("Station"), "authority": l.Say("Authority"), "electrician": l.Say("Electrician")}
	t := Table{Head: []string{l.Say("Question"), l.Say("For"), l.Say("Answer")}, Widths: []float64{90, 26, 62}, Empty: l.Say("None."), Rows: [][]string{}}
	open := 0
	for _, id := range site.SortedIDs(w.s.Questions) {
		q := w.s.Questions[id]
		if of != "" && q.Of != of {
			continue
		}
		if q.Answer == "" {
			open++
		}
		t.Rows = append(t.Rows, []string{q.Ask, cmp.Or(asked[q.Of], q.Of), cmp.Or(q.Answer, l.Say("open"))})
	}
	if open > 0 {
		w.lack("survey", l.Say("Open questions: %d", open))
	}
	w.add(Section{ID: "questions", Title: l.Say("Questions that only people can answer"), Table: &t})
}

func (w *writer) plans() {
	plans := drawing.StoreysIn(w.l, w.s)
	if len(plans) > 0 {
		w.add(Section{ID: "plans", Own: true, Title: w.l.Say("Plans"), Plans: plans})
	}
}

// completion is the record for the authority: what NFPA 72 chapter 7 asks of a record of completion and BS 5839-1 of its
// certificates (trade knowledge; wording not re-read), under a neutral title.
func (w *writer) completion() {
	l := w.l
	w.caution()
	w.property()
	w.monitoring()
	w.system()
	w.sequence()
	w.settings()
	w.test(w.run(), false)
	w.exceptions()
	w.questions("")
	t := Table{Head: []string{l.Say("Stage"), l.Say("Name"), l.Say("Date and signature")}, Widths: []float64{50, 60, 68}, Rows: [][]string{
		{l.Say("Design"), "", ""}, {l.Say("Installation"), w.firm(), ""}, {l.Say("Commissioning"), w.firm(), ""}, {l.Say("Acceptance"), names(w.people("owner")), ""},
	}}
	w.add(Section{ID: "stages", Title: l.Say("Who answers for which stage"), Table: &t})
	w.add(Section{ID: "keep", Own: true, Title: l.Say("Records"), Text: []string{
		l.Say("Drawings, zone schedule, settings and the book of this job are kept by the firm and can be shown. Keep test records at least until the next test and one year more; the history of a device for the life of the system."),
	}})
	w.plans()
}

func (w *writer) commissioning() {
	w.caution()
	w.property()
	w.monitoring()
	w.system()
	w.settings()
	w.test(w.run(), true)
	w.readings()
	w.zonesPlain()
	w.exceptions()
	w.sums(false)
	w.photos()
	w.plans()
}

// readings lists what was measured.
func (w *writer) readings() {
	l := w.l
	if len(w.State.Readings) == 0 {
		return
	}
	what := map[string]string{"sound": l.Say("sound level"), "radio": l.Say("radio level"), "level": l.Say("sound level"), "signal": l.Say("radio level"), "voltage": l.Say("voltage"), "current": l.Say("current"), "resistance": l.Say("resistance"), "clock": l.Say("clock")}
	t := Table{Head: []string{l.Say("Where"), l.Say("What"), l.Say("Value"), l.Say("By"), l.Say("When")}, Widths: []float64{60, 30, 24, 36, 28}, Rows: [][]string{}}
	for _, r := range w.State.Readings {
		t.Rows = append(t.Rows, []string{w.about(r.About), cmp.Or(what[r.What], r.What), join(" ", l.Number(r.Value, -1), r.Unit), w.person(string(r.By)), l.Moment(r.At.In(w.Zone))})
	}
	w.add(Section{ID: "readings", Title: l.Say("Measured"), Table: &t})
}

// zonesPlain is the schedule as keyed.
func (w *writer) zonesPlain() {
	l, s := w.l, w.s
	t := Table{
		Head:   []string{l.Say("Zone"), l.Say("Label"), l.Say("Kind"), l.Say("Room"), l.Say("Device"), l.Say("Identity"), l.Say("Code"), l.Say("Paths"), l.Say("Loss window")},
		Widths: []float64{8, 25, 18, 24, 27, 20, 9, 20, 10}, Empty: l.Say("No zone yet."), Rows: [][]string{},
	}
	for _, id := range w.zones() {
		z := s.Zones[id]
		d := s.Devices[z.Device]
		m, _ := s.ModelOf(z.Device)
		window := z.LossWindow
		if window == "never" {
			window = l.Say("never")
		}
		t.Rows = append(t.Rows, []string{string(id), z.Label, w.kind(z.Kind), s.Rooms[d.Room].Name, m.Name, join(" ", d.Identity, z.Terminal), z.Code, w.paths(z.Paths), window})
	}
	w.add(Section{ID: "zones", Title: l.Say("Zone schedule"), Table: &t})
}

// visit is the report of the newest visit, or of the newest run where no visit was written down.
func (w *writer) visit() {
	l := w.l
	run := w.run()
	next := ""
	var out []Pair
	w.pair(&out, l.Say("Premises"), w.address())
	if n := len(w.State.Visits); n > 0 {
		v := w.State.Visits[n-1]
		reasons := map[string]string{"planned": l.Say("planned visit"), "call-out": l.Say("call-out"), "change": l.Say("change or extension"), "takeover": l.Say("taking over"), "other": l.Say("other")}
		w.pair(&out, l.Say("Visit"), join(", ", l.Moment(v.Opened.In(w.Zone)), cmp.Or(reasons[v.Reason], v.Reason), w.person(string(v.By))))
		if v.Closed.IsZero() {
			w.lack("look", l.Say("The visit is not ended yet"))
		} else {
			w.pair(&out, l.Say("Ended"), l.Moment(v.Closed.In(w.Zone)))
			w.pair(&out, l.Say("Came to"), v.Text)
		}
		next = w.date(v.Next)
		if run != nil && run.Opened.Before(v.Opened) {
			run = nil
		}
	} else {
		w.pair(&out, l.Say("Visited by"), names(w.people("technician")))
	}
	out = append(out, Pair{l.Say("Next visit"), next})
	w.add(Section{ID: "visit", Title: l.Say("Visit"), Pairs: out})
	if run != nil {
		steps, _ := w.Judge(run)
		tested, all := map[site.ZoneID]bool{}, len(w.zones())
		for _, s := range steps {
			if s.Kind == prove.StepZone && !tripped(run, s.ID).IsZero() {
				tested[s.Zone] = true
			}
		}
		share := ""
		if all > 0 {
			share = fmt.Sprintf("%d %%", 100*len(tested)/all)
		}
		w.add(Section{ID: "scope", Title: l.Say("How much was tested"), Pairs: []Pair{{l.Say("Zones tripped"), l.Say("%d of %d, %s", len(tested), all, share)}}})
	}
	w.test(run, false)
	w.results(run)
	w.defects()
	w.findings("advice", l.Say("Findings against the rule set"), func(f rules.Finding) bool { return f.Severity != rules.Advise || strings.HasPrefix(f.Rule, "age.") })
	year := w.Day.AddDate(1, 0, 0)
	w.dueSection(l.Say("Due within a year"), func(d Due) bool { return d.On.First().Before(year) })
}

// results lists the steps of a run by name.
func (w *writer) results(run *prove.Run) {
	if run == nil {
		return
	}
	l := w.l
	t := Table{Head: []string{l.Say("Zone"), l.Say("Device"), l.Say("Result")}, Widths: []float64{12, 70, 96}, Rows: [][]string{}}
	steps, outcome := w.Judge(run)
	for i, r := range outcome.Steps {
		if r.Verdict != prove.Unproved {
			t.Rows = append(t.Rows, []string{string(steps[i].Zone), steps[i].Title, r.Say})
		}
	}
	if len(t.Rows) > 0 {
		sorts.Stable(t.Rows, func(a, b []string) int { return byZone(a[0], b[0], a[1], b[1]) })
		w.add(Section{ID: "results", Title: l.Say("Results by device"), Table: &t})
	}
}

// byZone orders as a reader looks things up: by zone and name, then what has no zone in the order of the run.
func byZone(a, b, name, other string) int {
	if a == "" || b == "" {
		return strings.Compare(b, a)
	}
	return cmp.Or(site.NaturalOrder(a, b), site.NaturalOrder(name, other))
}

// defects lists what visits found and has not been mended, gravest first, then what was mended.
func (w *writer) defects() {
	l := w.l
	if len(w.State.Found) == 0 {
		return
	}
	grave := map[string]string{"stop": l.Say("STOP"), "fix": l.Say("FIX"), "advise": l.Say("ADVICE")}
	t := Table{Head: []string{l.Say("How grave"), l.Say("Where"), l.Say("What was found"), l.Say("State")}, Widths: []float64{20, 44, 70, 44}, Rows: [][]string{}}
	for _, severity := range []string{"stop", "fix", "advise"} {
		for _, f := range slices.Backward(w.State.Found) {
			if f.Severity != severity {
				continue
			}
			state := l.Say("open since %s", l.Day(f.At.In(w.Zone)))
			if !f.Mended.IsZero() {
				state = join(": ", l.Say("mended %s", l.Day(f.Mended.In(w.Zone))), f.MendedText)
			}
			t.Rows = append(t.Rows, []string{grave[severity], w.about(f.About), f.Text, state})
		}
	}
	w.add(Section{ID: "defects", Title: l.Say("Defects"), Table: &t})
}
