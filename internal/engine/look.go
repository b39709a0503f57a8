package engine

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"proofbell/internal/book"
	"proofbell/internal/prove"
	"proofbell/internal/sorts"
	"proofbell/internal/upkeep"
	"proofbell/internal/words"
	"proofbell/rules"
	"proofbell/site"
)

// Look is the look-after stage: what falls due, what a change obliges, the visits.
type Look struct {
	List    upkeep.List     `json:"list"`
	Reproof *upkeep.Reproof `json:"reproof"` // what changes oblige; null while nothing was proved or issued as a whole
	Since   string          `json:"since"`   // what the changes are counted from: "the run that ended 2026-09-15"
	Steps   []prove.StepID  `json:"steps"`   // the scope of the run that proves what the changes oblige
	Visit   *VisitView      `json:"visit"`   // the one that goes on
	Visits  []VisitView     `json:"visits"`  // ended ones, newest first
	Defects []FoundRow      `json:"defects"` // what visits found and nobody mended, gravest first
	OpenRun string          `json:"openRun"` // id of a run that is open; "" none
	Reasons []Choice        `json:"reasons"` // of a visit
}

// VisitView is one visit as pages and documents show it.
type VisitView struct {
	ID       string     `json:"id"`
	Opened   string     `json:"opened"`
	OpenedAt string     `json:"openedAt"` // in the site's time, in words
	By       string     `json:"by"`
	Reason   string     `json:"reason"`
	Say      string     `json:"say"` // the reason in words
	Symptom  string     `json:"symptom"`
	About    string     `json:"about"`
	AboutSay string     `json:"aboutSay"`
	Closed   string     `json:"closed"`
	Text     string     `json:"text"`
	Next     string     `json:"next"`
	NextSay  string     `json:"nextSay"`
	Found    []FoundRow `json:"found"`
	Did      []string   `json:"did"`
	Runs     []RunRow   `json:"runs"` // opened during the visit
}

// FoundRow is one thing that a visit found.
type FoundRow struct {
	ID       string `json:"id"`
	Severity string `json:"severity"`
	Say      string `json:"say"` // the severity in words
	Text     string `json:"text"`
	About    string `json:"about"`
	AboutSay string `json:"aboutSay"`
	By       string `json:"by"`
	At       string `json:"at"`
	Mended   string `json:"mended"` // when; "" it stands
	How      string `json:"how"`
}

// proofs says when each step was last proved.
func (d *Desk) proofs(now time.Time) upkeep.Proofs {
	out := upkeep.Proofs{}
	for _, run := range d.State.Runs {
		at := run.Closed
		if at.IsZero() {
			at = run.Opened
		}
		upkeep.Gather(out, d.PlanOf(run), d.outcome(run, now).Steps, run.Ticks, at)
	}
	for step, at := range out {
		out[step] = at.In(d.zone()) // the day of a proof is one of the site
	}
	return out
}

// Due lists what falls due, looking so many months ahead; 0 is as the rule set says.
func (d *Desk) Due(now time.Time, ahead int) (upkeep.List, error) {
	if d.Hides() {
		return upkeep.List{}, nil // lives that are over are for the learner to find
	}
	key := fmt.Sprintf("%s %s %d", d.today(now).Format(time.DateOnly), d.lang.Tag(), ahead)
	if list, ok := d.due[key]; ok {
		return list, nil
	}
	list, err := d.falls(now, ahead)
	if err == nil {
		d.due[key] = list
	}
	return list, err
}

func (d *Desk) falls(now time.Time, ahead int) (upkeep.List, error) {
	set, _, err := rules.SetOf(d.State.Site.RuleSet)
	if err != nil {
		return upkeep.List{}, err
	}
	in := upkeep.Input{
		Site: d.State.Site, Profile: d.profile, Plan: d.Plan(prove.Options{}), Set: set, On: d.today(now), Ahead: ahead, Proofs: d.proofs(now),
		Done: map[string]time.Time{}, Sensed: map[site.DeviceID]time.Time{}, Lang: d.lang,
	}
	for _, did := range d.State.Did {
		in.Done[did.What] = did.At.In(d.zone())
	}
	for _, r := range d.State.Readings {
		if id, ok := strings.CutPrefix(r.About, "/devices/"); ok && r.What == "sensitivity" {
			in.Sensed[site.DeviceID(id)] = r.At.In(d.zone())
		}
	}
	for _, run := range d.State.Runs {
		if run.Scope.Reason != prove.ReasonCallOut && run.Scope.Reason != prove.ReasonChange && run.Closed.After(in.LastVisit) {
			in.LastVisit = run.Closed.In(d.zone())
		}
	}
	for _, v := range d.State.Visits {
		if v.Reason == "planned" && v.Closed.After(in.LastVisit) {
			in.LastVisit = v.Closed.In(d.zone())
		}
		if !v.Next.IsZero() && !v.Closed.Before(in.LastVisit) {
			in.NextVisit = v.Next
		}
	}
	return upkeep.Make(in), nil
}

func (d *Desk) today(now time.Time) time.Time {
	day := now.In(d.zone())
	return time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, time.UTC)
}

// Reproof says what the changes since the last run that proved everything oblige to prove again. Where no run did, they
// count from the first run of everything or from the last document issued before it; without such a run, from the last
// document that was issued. nil when there is none of these.
func (d *Desk) Reproof(now time.Time) (r *upkeep.Reproof, since string, err error) {
	set, _, err := rules.SetOf(d.State.Site.RuleSet)
	if err != nil {
		return nil, "", err
	}
	var base *site.Site
	var later []upkeep.Baseline
	for _, run := range d.State.Runs {
		if run.Closed.IsZero() {
			continue
		}
		then := d.State.SiteOf(run.ID) // what was changed during the run is in its plan only when it was taken in
		proved, all := d.provedBy(run, now)
		ended := d.lang.Say("since the run that ended %s", d.lang.Day(run.Closed.In(d.zone())))
		if all && whole(run.Scope) {
			base, later, since = then, nil, ended
			continue
		}
		later = append(later, upkeep.Baseline{Site: then, Proved: proved})
		if base == nil && whole(run.Scope) {
			if base, since = d.issuedBefore(run.Closed); base == nil {
				base, since = d.State.SitesOf(run.ID)[0].Site, ended // what was taken in during the run is a change as well
			}
		}
	}
	if base == nil {
		if base, since = d.issuedBefore(now); base == nil {
			return nil, "", nil
		}
	}
	open := upkeep.Open(base, later, d.State.Site, d.profile, set, d.proofs(now), d.lang)
	return &open, since, nil
}

// provedBy lists the steps that a run proved whole; all says that nothing testable is left.
func (d *Desk) provedBy(run *prove.Run, now time.Time) (proved []prove.StepID, all bool) {
	all = true
	results := d.outcome(run, now).Steps
	for i, st := range d.PlanOf(run) {
		if upkeep.Whole(st, results[i]) {
			proved = append(proved, st.ID)
		} else if st.NotTestable == "" {
			all = false
		}
	}
	return proved, all
}

// issuedBefore is the site as the last document issued until then shows it; nil without one.
func (d *Desk) issuedBefore(end time.Time) (as *site.Site, since string) {
	for _, i := range d.State.Issued {
		if i.As != nil && !i.At.After(end) {
			as, since = i.As.Site, d.lang.Say("since what was issued %s", d.lang.Day(i.At.In(d.zone())))
		}
	}
	return as, since
}

func whole(o prove.Options) bool {
	return len(o.Steps)+len(o.Zones)+len(o.Families) == 0 && !o.NoSystem
}

// Look lays out the look-after stage.
func (d *Desk) Look(now time.Time, ahead int) (Look, error) {
	list, err := d.Due(now, ahead)
	if err != nil {
		return Look{}, err
	}
	v := Look{List: list, Steps: []prove.StepID{}, Visits: []VisitView{}, Defects: []FoundRow{}, Reasons: []Choice{}}
	if v.Reproof, v.Since, err = d.Reproof(now); err != nil {
		return v, err
	}
	if v.Reproof != nil {
		v.Steps = v.Reproof.Steps()
	}
	if run := d.State.OpenRun(); run != nil {
		v.OpenRun = string(run.ID)
	}
	for _, visit := range slices.Backward(d.State.Visits) {
		view := d.Visit(visit, now)
		if visit.Closed.IsZero() {
			v.Visit = &view
		} else {
			v.Visits = append(v.Visits, view)
		}
	}
	for _, f := range d.State.Found {
		if f.Mended.IsZero() {
			v.Defects = append(v.Defects, d.found(f))
		}
	}
	sorts.Stable(v.Defects, func(a, b FoundRow) int {
		return slices.Index(book.FoundSeverities, a.Severity) - slices.Index(book.FoundSeverities, b.Severity)
	})
	for _, r := range book.VisitReasons {
		v.Reasons = append(v.Reasons, Choice{Value: r, Say: d.visitReason(r)})
	}
	return v, nil
}

func (d *Desk) visitReason(reason string) string {
	switch reason {
	case "planned":
		return d.lang.Say("Planned visit")
	case "call-out":
		return d.lang.Say("Call-out")
	case "change":
		return d.lang.Say("Change")
	case "takeover":
		return d.lang.Say("Taking over")
	}
	return d.lang.Say("Other")
}

func (d *Desk) severity(s string) string {
	switch s {
	case "stop":
		return d.lang.Say("Stop: not usable as it is")
	case "fix":
		return d.lang.Say("Fix: soon")
	}
	return d.lang.Say("Advise")
}

// aboutSay names what a JSON pointer of the site is about.
func (d *Desk) aboutSay(pointer string) string {
	s := d.State.Site
	kind, id, _ := strings.Cut(strings.TrimPrefix(pointer, "/"), "/")
	switch kind {
	case "devices":
		if zones := s.ZonesOf(site.DeviceID(id)); len(zones) > 0 {
			return fmt.Sprintf("%s %s", zones[0], s.Zones[zones[0]].Label)
		}
		return cmp.Or(d.lang.Word(s.Models[s.Devices[site.DeviceID(id)].Model].Name), id)
	case "heads":
		return d.lang.Say("Alarm %s", id)
	case "zones":
		return fmt.Sprintf("%s %s", id, s.Zones[site.ZoneID(id)].Label)
	case "":
		return ""
	}
	return id
}

func (d *Desk) found(f book.Found) FoundRow {
	row := FoundRow{
		ID: string(f.Entry), Severity: f.Severity, Say: d.severity(f.Severity), Text: f.Text, About: f.About, AboutSay: d.aboutSay(f.About),
		By: d.name(string(f.By)), At: f.At.UTC().Format(time.RFC3339), How: f.MendedText,
	}
	if !f.Mended.IsZero() {
		row.Mended = f.Mended.UTC().Format(time.RFC3339)
	}
	return row
}

// Visit lays out one visit, for pages and documents.
func (d *Desk) Visit(v book.Visit, now time.Time) VisitView {
	out := VisitView{
		ID: string(v.ID), Opened: v.Opened.UTC().Format(time.RFC3339), OpenedAt: d.lang.Moment(v.Opened.In(d.zone())), By: d.name(string(v.By)), Reason: v.Reason,
		Say: d.visitReason(v.Reason), Symptom: v.Symptom, About: v.About, AboutSay: d.aboutSay(v.About), Text: v.Text, Next: v.Next.String(), Found: []FoundRow{}, Did: []string{}, Runs: []RunRow{},
	}
	if !v.Next.IsZero() {
		out.NextSay = dated(d.lang, v.Next)
	}
	if !v.Closed.IsZero() {
		out.Closed = v.Closed.UTC().Format(time.RFC3339)
	}
	for _, f := range d.State.FoundBy(v.ID) {
		out.Found = append(out.Found, d.found(f))
	}
	for _, did := range d.State.Did {
		if did.Visit == v.ID {
			out.Did = append(out.Did, did.What)
		}
	}
	for _, run := range d.State.Runs {
		if run.Opened.Before(v.Opened) || !v.Closed.IsZero() && run.Opened.After(v.Closed) {
			continue
		}
		out.Runs = append(out.Runs, d.runRow(run, now))
	}
	return out
}

// TakeOver lays out the guided list of taking over an unknown system.
func (d *Desk) TakeOver(now time.Time) upkeep.Takeover {
	return upkeep.TakeOver(d.State.Site, len(d.proofs(now)) > 0, d.lang)
}

// FindLine is one thing that a search over the jobs of a device can find.
type FindLine struct {
	Say   string `json:"say"`   // "13 Lounge smoke"
	More  string `json:"more"`  // room, storey
	About string `json:"about"` // JSON pointer; "" the job itself
	Token string `json:"token"` // of its sticker
}

// Index lists what can be searched for in a job: its name, address and account, zones, rooms and alarms, stickers.
func (d *Desk) Index() []FindLine {
	s := d.State.Site
	where := func(room site.RoomID) string {
		return words.Join(s.Rooms[room].Name, s.Storeys[s.Rooms[room].Storey].Name)
	}
	out := []FindLine{{Say: d.State.Name(), More: words.Join(s.Premises.Address, s.Premises.Locality, s.Account.Number), Token: string(s.Sticker)}}
	listed := map[site.DeviceID]bool{}
	for _, id := range site.SortedIDs(s.Zones) {
		z := s.Zones[id]
		if z.Kind == site.Unused || z.Device == "" {
			continue
		}
		line := FindLine{Say: fmt.Sprintf("%s %s", id, z.Label), More: words.Join(where(s.Devices[z.Device].Room), s.Devices[z.Device].Identity), About: "/devices/" + string(z.Device)}
		if !listed[z.Device] {
			line.Token = string(s.Devices[z.Device].Sticker)
		}
		listed[z.Device] = true
		out = append(out, line)
	}
	for _, id := range site.SortedIDs(s.Devices) {
		if dev := s.Devices[id]; !listed[id] {
			out = append(out, FindLine{Say: cmp.Or(d.lang.Word(s.Models[dev.Model].Name), string(id)), More: words.Join(where(dev.Room), dev.Identity), About: "/devices/" + string(id), Token: string(dev.Sticker)})
		}
	}
	for _, id := range site.SortedIDs(s.Heads) {
		h := s.Heads[id]
		out = append(out, FindLine{Say: d.lang.Say("Alarm %s", id), More: words.Join(d.say(h.Kind), where(h.Room)), About: "/heads/" + string(id), Token: string(h.Sticker)})
	}
	return out
}
