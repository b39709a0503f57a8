package engine

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"proofbell/internal/keypad"
	"proofbell/internal/papers"
	"proofbell/internal/prove"
	"proofbell/internal/schedule"
	"proofbell/internal/sorts"
	"proofbell/internal/survey"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/rules"
	"proofbell/signal"
	"proofbell/site"
)

func (d *Desk) zoneWords(zones []string) string {
	switch len(zones) {
	case 0:
		return d.lang.Say("on no zone")
	case 1:
		return d.lang.Say("zone %s", zones[0])
	}
	return d.lang.Say("zones %s", strings.Join(zones, ", "))
}

func (d *Desk) roomRow(id site.RoomID) RoomRow {
	s := d.State.Site
	r := s.Rooms[id]
	devices, heads := 0, 0
	for _, dev := range s.Devices {
		if dev.Room == id {
			devices++
		}
	}
	for _, h := range s.Heads {
		if h.Room == id {
			heads++
		}
	}
	area := ""
	if poly := r.Outline.Polygon(); len(poly) >= 3 {
		area = d.lang.Number(poly.Area(), 1) + " m²"
		if s.Premises.Units == "imperial" {
			area = d.lang.Say("%.0f sq ft", poly.Area()/(0.3048*0.3048))
		}
	}
	row := RoomRow{ID: string(id), Name: r.Name, Storey: string(r.Storey), Sleeping: r.Sleeping, Use: r.Use, UseSay: d.say(r.Use)}
	if r.Use == "" {
		row.Guess = survey.GuessUse(r.Name)
		row.GuessSay = d.say(row.Guess)
	}
	sleeping := ""
	if r.Sleeping {
		sleeping = d.lang.Say("someone sleeps here")
	}
	row.Line = words.Join(d.say(r.Use), area, sleeping, d.count(devices, words.Mark("1 device"), words.Mark("%d devices"), ""), d.count(heads, words.Mark("1 alarm"), words.Mark("%d alarms"), ""))
	return row
}

// headRow takes what is due from the rules, so that list and findings can not differ.
func (d *Desk) headRow(id site.HeadID, findings []rules.Finding) HeadRow {
	s := d.State.Site
	h := s.Heads[id]
	row := HeadRow{ID: string(id), Kind: h.Kind, Room: s.Rooms[h.Room].Name, Group: string(h.Group), Made: h.Made.String(), State: "ok"}
	if h.Made.IsZero() {
		row.State = "unknown"
	}
	for _, f := range findings {
		if len(f.Places) == 0 || f.Places[0].Kind != "head" || f.Places[0].ID != string(id) || f.NotJudged {
			continue
		}
		switch f.Rule {
		case "age.head.passed":
			row.State, row.Due = "overdue", f.Say
		case "age.head.due":
			row.State, row.Due = "due", f.Say
		}
	}
	group := d.lang.Say("stands alone")
	if h.Group != "" {
		group = d.lang.Say("group %s", h.Group)
	}
	made := d.lang.Say("date made not read")
	if !h.Made.IsZero() {
		made = d.lang.Say("made %s", dated(d.lang, h.Made))
	}
	row.Line = words.Join(d.say(h.Kind), row.Room, group, made)
	return row
}

// choices are the words that forms offer.
func (d *Desk) choices() map[string][]Choice {
	out := map[string][]Choice{}
	for _, list := range []string{"room-use", "hazard", "head-kind", "device-class", "opening-kind", "construction", "role", "head-power", "premises-use", "account-format", "path-kind", "standby", "furnishing", "sleeper"} {
		for _, w := range site.Words(list) {
			out[list] = append(out[list], Choice{Value: w, Say: d.say(w)})
		}
	}
	return out
}

func (d *Desk) say(word string) string { return sayWord(d.lang, word) }

// sayWord writes a word of the site file as people read it.
func sayWord(lang *words.Language, word string) string {
	if word == "" {
		return ""
	}
	if own, ok := siteWords[word]; ok {
		return lang.Word(own)
	}
	word = strings.ReplaceAll(word, "-", " ")
	return lang.Word(strings.ToUpper(word[:1]) + word[1:])
}

// dated writes a date as finely as it was given.
func dated(lang *words.Language, on site.Date) string {
	switch at := on.First(); len(on.String()) {
	case len("2006-01-02"):
		return lang.Day(at)
	case len("2006-01"):
		return lang.Month(at)
	}
	return on.String()
}

// Schedule lays out the schedule stage.
func (d *Desk) Schedule(now time.Time) (Schedule, error) {
	s := d.State.Site
	findings, err := d.Findings(now)
	if err != nil {
		return Schedule{}, &Problem{Code: "bad-request", Say: words.Upper(words.Said(err).In(d.lang)) + ".", Try: d.lang.Say("Choose a rule set that this version knows."), Err: err}
	}
	n := rules.Count(findings)
	v := Schedule{
		Zones: []ZoneRow{}, Findings: []FindingRow{}, Accepted: []AcceptedFinding{}, NotJudged: []rules.Finding{},
		Counts: map[string]int{"stop": n.Stop, "fix": n.Fix, "advise": n.Advise}, RuleSet: d.ruleSetWords(s.RuleSet), Kinds: []Choice{}, LossWindows: []string{},
	}
	worst := map[string]string{}
	for _, f := range findings {
		switch {
		case f.NotJudged:
			v.NotJudged = append(v.NotJudged, f)
		case f.Accepted != nil:
			v.Accepted = append(v.Accepted, d.accepted(f))
		default:
			v.Findings = append(v.Findings, FindingRow{f, d.findingChanges(f)})
			for _, p := range f.Places {
				if p.Kind == "zone" && worst[p.ID] == "" {
					worst[p.ID] = string(f.Severity) // findings come gravest first
				}
			}
		}
	}
	// By severity, and within it by who can mend: the order in which the work is done.
	sorts.Stable(v.Findings, func(a, b FindingRow) int {
		return cmp.Or(cmp.Compare(slices.Index(severities, a.Severity), slices.Index(severities, b.Severity)), cmp.Compare(slices.Index(menders, a.Who), slices.Index(menders, b.Who)))
	})
	v.Station = StationNews{Changes: []Change{}}
	if !d.Hides() {
		v.Station = d.stationNews()
	}
	for _, id := range site.SortedIDs(s.Zones) {
		row := d.zoneRow(id)
		row.Worst = worst[string(id)]
		v.Zones = append(v.Zones, row)
	}
	for _, k := range site.ZoneKinds {
		v.Kinds = append(v.Kinds, Choice{Value: string(k.Kind), Say: d.lang.Word(k.Say)})
	}
	if d.profile != nil {
		for _, w := range d.profile.LossWindows() {
			v.LossWindows = append(v.LossWindows, w.Value)
		}
		if p := schedule.AllocateIn(d.lang, s, d.profile); len(p.Choices)+len(p.Left) > 0 {
			v.Proposal = &p
		}
	}
	return v, nil
}

var (
	severities = []rules.Severity{rules.Stop, rules.Fix, rules.Advise}
	menders    = []rules.Who{rules.Desk, rules.OnSite, rules.Electrician, rules.Authority}
)

// findingChanges are the fields that the mending of a finding changes.
func (d *Desk) findingChanges(f rules.Finding) []Change {
	if len(f.Patch) == 0 {
		return []Change{}
	}
	return Changes(d.lang, d.State.Site, f.Patch)
}

func (d *Desk) ruleSetWords(ref site.RuleSetRef) string { return RuleSetWords(d.lang, ref) }

// RuleSetWords names a rule set by its title and edition, by its id where it has no title.
func RuleSetWords(lang *words.Language, ref site.RuleSetRef) string {
	sets, _ := rules.Sets() // what can not be read was said by the check itself
	for _, set := range sets {
		if set.ID == ref.ID && set.Title != "" {
			return words.Join(lang.Word(set.Title), ref.Edition)
		}
	}
	return words.Join(ref.ID, ref.Edition)
}

func (d *Desk) accepted(f rules.Finding) AcceptedFinding {
	return AcceptedFinding{Finding: f, By: d.name(f.Accepted.By), At: f.Accepted.At, Reason: f.Accepted.Reason}
}

func (d *Desk) zoneRow(id site.ZoneID) ZoneRow {
	s := d.State.Site
	z := s.Zones[id]
	dev := s.Devices[z.Device]
	row := ZoneRow{
		ID: string(id), Label: z.Label, Kind: string(z.Kind), KindSay: d.kindWords(z.Kind), Area: string(z.Area), Room: s.Rooms[dev.Room].Name,
		Device: string(z.Device), DeviceSay: s.Models[dev.Model].Name, Identity: dev.Identity, Terminal: z.Terminal, Code: z.Code, Paths: []string{},
		LossWindow: z.LossWindow, DoorTone: z.DoorTone, Bypass: z.Bypass, LifeSafety: z.Kind.LifeSafety(),
	}
	if m, ok := signal.Lookup(format(s), z.Code); ok {
		row.CodeSay = d.lang.Word(m.Words)
	}
	for _, p := range z.Paths {
		row.Paths = append(row.Paths, cmp.Or(s.Account.Paths[p].Name, string(p)))
	}
	return row
}

func format(s *site.Site) signal.Format {
	if s.Account.Format == "sia" {
		return signal.SIADCS
	}
	return signal.CID
}

func (d *Desk) kindWords(k site.ZoneKind) string { return sayKind(d.lang, k) }

func sayKind(lang *words.Language, k site.ZoneKind) string {
	for _, known := range site.ZoneKinds {
		if known.Kind == k {
			return lang.Word(known.Say)
		}
	}
	return string(k)
}

func asFound(m map[string]map[string]string) keypad.ZoneTable {
	if m == nil {
		return nil
	}
	t := keypad.ZoneTable{}
	for zone, slots := range m {
		row := keypad.Slots{}
		for field, value := range slots {
			row[panel.Field(field)] = value
		}
		t[site.ZoneID(zone)] = row
	}
	return t
}

// Keying lays out the key-in stage: from what the book knows of the panel, or from a table that is given, to what the
// schedule wants. Zones with stops get no keystrokes.
func (d *Desk) Keying(now time.Time, found keypad.ZoneTable) (Keying, error) {
	if d.profile == nil {
		return Keying{}, d.noProfile()
	}
	findings, err := d.Findings(now)
	if err != nil {
		return Keying{}, err
	}
	v := Keying{Panel: d.profile.Name, Stops: []rules.Finding{}, Accepted: []AcceptedFinding{}}
	for _, f := range findings {
		switch {
		case stands(f):
			v.Stops = append(v.Stops, f)
		case f.Severity == rules.Stop && !f.NotJudged:
			v.Accepted = append(v.Accepted, d.accepted(f))
		}
	}
	if found == nil {
		found = d.Held()
	}
	v.Sheet = keypad.Compile(d.State.Site, d.profile, found, keypad.Options{Lang: d.lang, Stops: StopsOf(findings), ReadBack: true})
	if d.Hides() {
		v.Sheet.Problems = nil // they would name planted mistakes
		for i := range v.Sheet.Zones {
			v.Sheet.Zones[i].Stops = d.hiddenStops(v.Sheet.Zones[i].Stops)
		}
	}
	if d.State.Site.Planted != nil {
		v.Sheet.Cautions = slices.Insert(v.Sheet.Cautions, min(1, len(v.Sheet.Cautions)), papers.NeverKey(d.lang, d.State.Site)+".")
	}
	ids := map[site.ZoneID]site.ZoneID{} // by number at the panel
	for id := range d.State.Site.Zones {
		ids[id], ids[d.number(id)] = id, id
	}
	v.Zones = []KeyedZone{}
	for _, z := range v.Sheet.Zones {
		id := ids[z.Zone]
		v.Zones = append(v.Zones, KeyedZone{ID: string(id), Keyed: d.keyed(id), Slots: d.leftOver(d.wantedTable()[z.Zone], found[z.Zone]), Held: found[z.Zone], Identity: site.GroupIdentity(d.State.Site.Devices[d.State.Site.Zones[id].Device].Identity)})
	}
	v.Kept = d.keptZones(v.Sheet.Same, ids)
	v.Lost = Lost(d.lang, d.profile)
	v.Idle, v.Dropped = d.idle()
	v.Settings = papers.Settings(d.lang, d.State.Site)
	return v, nil
}

// Lost says what to do when the panel shows something else than the card.
func Lost(l *words.Language, p *panel.Profile) []string {
	out := []string{}
	if t := p.Timing.IdleDrop; !t.IsZero() {
		out = append(out, l.Say("After %s without a key the panel drops the zone unsaved: %s. Begin this zone again.", t, p.Dialogue.Dropped))
	}
	if t := p.Timing.Restart; !t.IsZero() {
		out = append(out, l.Say("Without power it begins anew: ready after %s, and the zone in hand is gone. Begin this zone again.", t))
	}
	up := false
	for _, n := range p.Dialogue.Nodes {
		up = up || n.Back == panel.BackUp
	}
	if up {
		out = append(out, l.Say("%s goes one question back.", p.Keypad.Back))
	}
	if start := p.Dialogue.Nodes[p.Dialogue.Start]; start.Back == panel.BackLeave {
		out = append(out, l.Say("At %s %s leaves programming.", start.Shows, p.Keypad.Back))
	}
	return append(out, l.Say("Nothing is stored before the last answer of a zone. When in doubt: do not keep it, begin the zone again."),
		l.Say("A zone that was kept with a wrong answer: begin it again and key all of it."))
}

// Lost finds where the panel is when it shows something else than a card, whose prompt is given, and leads back. The card
// may be of a sheet that was laid out before the site changed.
func (d *Desk) Lost(at keypad.At, prompt, shown string) (keypad.Rescue, error) {
	if d.profile == nil {
		return keypad.Rescue{}, d.noProfile()
	}
	return keypad.Lost(d.lang, d.profile, keypad.Situation{At: at, Card: keypad.Card{Shows: prompt}}, shown), nil
}

// stands reports whether a finding is a stop that nobody has taken on.
func stands(f rules.Finding) bool {
	return f.Severity == rules.Stop && !f.NotJudged && f.Accepted == nil
}

// StopsOf returns the zones that must not be keyed as they are, with the reason.
func StopsOf(findings []rules.Finding) []keypad.Stop {
	out := []keypad.Stop{}
	for _, f := range findings {
		for _, p := range f.Places {
			if stands(f) && p.Kind == "zone" {
				out = append(out, keypad.Stop{Zone: site.ZoneID(p.ID), Text: f.Say})
			}
		}
	}
	return out
}

// Prove lays out the prove stage: of the named run, or of the open or newest one.
func (d *Desk) Prove(now time.Time, id string) Prove { return d.proving(now, ViewArg{Run: id}) }

// proving is Prove for the pages. A scope asks for the plan of a run that is not open yet; families are those that a call
// to the station is about.
func (d *Desk) proving(now time.Time, a ViewArg) Prove {
	s := d.State.Site
	run := d.runOf(a.Run)
	v := Prove{Plans: d.drawn(d.lang), Runs: []RunRow{}, Families: []Choice{}}
	for _, f := range prove.Families() {
		v.Families = append(v.Families, Choice{Value: f.ID, Say: words.Upper(d.lang.Word(f.Say))})
	}
	if a.Scope != nil {
		run = nil
	}
	if run != nil {
		shown := run.In(d.lang)
		shown.Open = d.closedWith(run, now)
		v.Run = &shown
	}
	scope := prove.Options{}
	if a.Scope != nil {
		scope = *a.Scope
	}
	if run == nil {
		v.Steps = d.Plan(scope)
		v.Outcome = prove.In(d.lang).Match(v.Steps, prove.Observations{Account: s.Account.Number}, prove.Clocks{}, now)
	} else {
		v.Steps, v.Outcome, v.Window = d.PlanOf(run), d.outcome(run, now), run.Window
	}
	v.State, v.Standing = string(v.Window.State(now)), d.against(run, now)
	families := v.Window.Families
	if a.Families != nil {
		families = a.Families
	}
	v.Call = d.callScript(v, families, now)
	v.Tasks, v.ReadLines, v.Fills, v.Wanted, v.Zones = d.tasks(v, now), d.readLines(v), fills(v), wanted(v.Steps), d.zoneChoices()
	v.Account, v.ExtendNow, v.Clock = s.Account.Number, v.Window.ExtendNow(now), now.In(d.zone()).Format("15:04")
	v.TimeZone = d.zone().String()
	v.SuggestEnd = d.suggestEnd(now).UTC().Format(time.RFC3339)
	v.Rows, v.LastRead, v.Differences = readRows(v.ReadLines), d.lastRead(v), d.differences(v)
	v.Reasons = map[string][]Choice{}
	for _, what := range []prove.Did{prove.Failed, prove.CannotTest} {
		for _, one := range prove.Reasons(what) {
			v.Reasons[string(what)] = append(v.Reasons[string(what)], Choice{Value: one, Say: d.lang.Say(one)})
		}
	}
	v.PutBacks, v.Changeables, v.Changes = d.putBacks(run), prove.PutBackSorts(d.lang), []prove.PlanChange{}
	if run != nil && run.Closed.IsZero() && d.State.SiteOf(run.ID) != s {
		plan := d.Plan(run.Scope)
		if v.Changes = prove.PlanChanges(v.Steps, plan, d.lang); len(v.Changes) > 0 {
			v.NewPlan, _ = prove.Fingerprint(d.In(nil).Plan(run.Scope))
		}
	}
	if run == nil {
		v.Fingerprint, _ = prove.Fingerprint(d.In(nil).Plan(scope)) // the same in every language; a plan is made of plain values and can always be written
	}
	for _, r := range slices.Backward(d.State.Runs) {
		v.Runs = append(v.Runs, d.runRow(r, now))
	}
	return v
}

// against says what stands against closing a run as the book keeps it: in English, whoever closes it.
func (d *Desk) against(run *prove.Run, now time.Time) []string {
	out := []string{}
	if run != nil && run.Closed.IsZero() {
		for _, b := range d.In(nil).outcome(run, now).Blockers {
			out = append(out, b.Say)
		}
	}
	return out
}

// closedWith says what stood open when a run was closed. The book keeps it in English; a closed run is judged as it was
// closed, so that its sentences are found again in every language.
func (d *Desk) closedWith(run *prove.Run, now time.Time) []string {
	out := slices.Clone(run.Open)
	if d.lang == nil || len(out) == 0 {
		return out
	}
	said := map[string]string{}
	own := d.outcome(run, now).Blockers
	for i, b := range d.In(nil).outcome(run, now).Blockers {
		said[b.Say] = own[i].Say
	}
	for i, text := range out {
		if reason, ok := strings.CutPrefix(text, "reason given: "); ok {
			out[i] = d.lang.Say("reason given: %s", reason)
		} else if own, ok := said[text]; ok {
			out[i] = own
		}
	}
	return out
}

// suggestEnd is until when to ask: as long as the station is used to, else 2 h, to the next five minutes.
func (d *Desk) suggestEnd(now time.Time) time.Time {
	long := 2 * time.Hour
	if t := d.State.Site.Station.TestWindow; !t.IsZero() {
		long = time.Duration(t.SI() * float64(time.Second))
	}
	return now.Add(long + 5*time.Minute - 1).Truncate(5 * time.Minute)
}

// Log lists the newest entries in plain words, newest first.
func (d *Desk) Log(limit int) []LogLine {
	if limit <= 0 || limit > 1000 {
		limit = 100
	}
	out := []LogLine{}
	for _, l := range slices.Backward(d.State.Log) {
		if len(out) == limit {
			break
		}
		out = append(out, LogLine{
			Seq: l.Seq, ID: string(l.ID), At: l.At.UTC().Format(time.RFC3339), By: d.name(string(l.By)), Kind: string(l.Kind), Say: l.Say.In(d.lang),
			Undo: l.Kind == "edit" && d.State.Undoable(l.ID),
		})
	}
	return out
}
