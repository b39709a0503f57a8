package engine

import (
	"cmp"
	"errors"
	"maps"
	"slices"
	"time"

	"proofbell/evidence"
	"proofbell/internal/book"
	"proofbell/internal/keypad"
	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// ReadOut is what a panel was found to hold, beside what it should hold.
type ReadOut struct {
	Panel   string          `json:"panel"` // name of the profile
	Version string          `json:"version"`
	Not     string          `json:"not"`   // why the keypad can not be used to read it; "" when it can
	Zones   []keypad.ToRead `json:"zones"` // in the order in which reading them is worth most
	Next    string          `json:"next"`  // the zone to read next; "" when nothing planned is unknown
	Changes []ZoneChange    `json:"changes"`
	Same    int             `json:"same"`    // zones that are in the panel as planned
	Unknown int             `json:"unknown"` // planned zones of which nothing is known
	Found   []TableFound    `json:"found"`   // tables to go back to, newest first
	Idle    int             `json:"idle"`    // seconds without a key after which the panel drops the zone in hand; 0: never
	Dropped string          `json:"dropped"` // what it shows then
	Past    []TableFound    `json:"past"`    // tables that can not be gone back to, and why; newest first
}

// ZoneChange is one zone in which the panel is known to differ from the plan.
type ZoneChange struct {
	Zone       string      `json:"zone"`
	Label      string      `json:"label"`
	LifeSafety bool        `json:"lifeSafety"`
	State      string      `json:"state"` // differs, empty (planned, and the panel has nothing), extra (in the panel, and nothing is planned)
	Rows       []ChangeRow `json:"rows"`
}

// ChangeRow is one answer in which they differ; "" stands for nothing.
type ChangeRow struct {
	What       string `json:"what"`
	Has        string `json:"has"`
	HasMeans   string `json:"hasMeans"`
	Wants      string `json:"wants"`
	WantsMeans string `json:"wantsMeans"`
	Unknown    bool   `json:"unknown"` // the panel's description does not know what stands there
}

// TableFound is a table that was found in the panel before it was keyed.
type TableFound struct {
	Entry string `json:"entry"`
	When  string `json:"when"`
	By    string `json:"by"`
	Via   string `json:"via"`   // read, file
	Zones int    `json:"zones"` // programmed ones in it
	Read  int    `json:"read"`  // of these, read then; the others were taken as keyed
	Back  int    `json:"back"`  // zones to key to go back to it
	Why   string `json:"why"`   // why it can not be gone back to; "" when it can
}

// Reading is one zone that is being read out.
type Reading struct {
	keypad.ZoneReading
	Zone       string     `json:"zone"`
	Label      string     `json:"label"`
	LifeSafety bool       `json:"lifeSafety"`
	Refused    string     `json:"refused"` // why what was seen last is not taken; "" when it is
	Sure       bool       `json:"sure"`    // it is taken when whoever looks is sure
	Since      string     `json:"since"`   // when the book was told of this zone last; "" when never: what was seen of it before may be gone
	Change     ZoneChange `json:"change"`  // when the zone is read: how it differs from the plan; without rows it does not
}

// RollBack is the sheet that brings a panel back to a table that was found in it.
type RollBack struct {
	Found    TableFound       `json:"found"`
	Warnings []string         `json:"warnings"`
	Sheet    keypad.Sheet     `json:"sheet"`
	Slots    []keypad.Slots   `json:"slots"`   // of each zone of the sheet, in its order: body of the entry that says it was keyed
	Held     keypad.ZoneTable `json:"held"`    // what the cards take the panel to hold; of zones that are absent nothing is known
	Unread   []site.ZoneID    `json:"unread"`  // zones that were keyed as they were found and not seen at the display since
	Idle     int              `json:"idle"`    // seconds without a key after which the panel drops the zone in hand; 0: never
	Dropped  string           `json:"dropped"` // what it shows then
	Lost     []string         `json:"lost"`    // what to do when the panel shows something else
	Left     []site.ZoneID    `json:"left"`    // zones that can not be brought back: they were empty, or could not be told to the panel
}

// FileRead is a zone table from a file, ready to be kept.
type FileRead struct {
	Zones keypad.ZoneTable `json:"zones"`
	Count int              `json:"count"`
}

// noPanel is the problem of a site whose panel is not known.
func (d *Desk) noPanel() error {
	return &Problem{Code: "not-found", Say: d.lang.Say("There is no panel profile %q.", d.State.Site.Panel.Profile), Try: d.lang.Say("Choose the panel in the survey.")}
}

// idle is after how many seconds without a key the panel drops the zone in hand, and what it shows then.
func (d *Desk) idle() (seconds int, shows string) {
	return int(d.profile.Timing.IdleDrop.SI()), d.profile.Dialogue.Dropped
}

// ReadOut lays out what is known of the panel.
func (d *Desk) ReadOut() (ReadOut, error) {
	p := d.profile
	if p == nil {
		return ReadOut{}, d.noPanel()
	}
	v := ReadOut{Panel: p.Name, Version: p.Version, Not: keypad.Readable(d.lang, p), Changes: []ZoneChange{}, Found: []TableFound{}, Past: []TableFound{}}
	v.Idle, v.Dropped = d.idle()
	v.Zones = keypad.ReadOrder(d.State.Site, p, func(number site.ZoneID) (known, seen bool) {
		_, known = d.holds(number)
		return known, known && d.State.Panel.Checked(number)
	})
	want := d.wantedTable()
	for _, z := range v.Zones {
		slots, known := d.holds(z.Zone)
		if z.Need == keypad.NeedRead && v.Next == "" {
			v.Next = string(z.Zone)
		}
		switch {
		case !known && z.Need != keypad.NeedOther:
			v.Unknown++
		case !known || len(slots) == 0 && want[z.Zone] == nil:
		case maps.Equal(slots, want[z.Zone]):
			v.Same++
		default:
			v.Changes = append(v.Changes, d.change(z.Zone, slots))
		}
	}
	sorts.Stable(v.Changes, func(a, b ZoneChange) int {
		return cmp.Or(cmp.Compare(afterLife(a), afterLife(b)), site.NaturalOrder(a.Zone, b.Zone))
	})
	for _, f := range slices.Backward(d.State.Panel.Found) {
		if row := d.foundRow(f); row.Why == "" {
			v.Found = append(v.Found, row)
		} else {
			v.Past = append(v.Past, row)
		}
	}
	return v, nil
}

func afterLife(z ZoneChange) int {
	if z.LifeSafety {
		return 0
	}
	return 1
}

// zoneAt is the zone of the schedule that has a number at the panel.
func (d *Desk) zoneAt(number site.ZoneID) site.Zone {
	for id, z := range d.State.Site.Zones {
		if d.number(id) == number {
			return z
		}
	}
	return site.Zone{}
}

// change lays out how a zone in the panel differs from the plan.
func (d *Desk) change(number site.ZoneID, slots keypad.Slots) ZoneChange {
	z, want := d.zoneAt(number), d.wantedTable()[number]
	c := ZoneChange{Zone: string(number), Label: z.Label, LifeSafety: z.Kind.LifeSafety(), State: "differs", Rows: []ChangeRow{}}
	switch {
	case len(slots) == 0:
		c.State = "empty"
		return c
	case z.Kind == "":
		c.State = "extra"
	}
	for _, f := range panel.Fields() {
		has, wants := slots[f], want[f]
		if has == wants {
			continue
		}
		row := ChangeRow{
			What: f.Say().In(d.lang), Has: has, HasMeans: keypad.Means(d.lang, d.profile, f, has, slots),
			Wants: wants, WantsMeans: keypad.Means(d.lang, d.profile, f, wants, want),
		}
		row.Unknown = has != "" && !keypad.Known(d.profile, f, has)
		c.Rows = append(c.Rows, row)
	}
	return c
}

func (d *Desk) foundRow(f book.FoundTable) TableFound {
	row := TableFound{Entry: string(f.Entry), When: d.lang.Moment(f.At.In(d.zone())), By: d.name(string(f.By)), Via: f.Via, Why: d.noWayBack(f)}
	for number, slots := range f.Zones {
		if len(slots) == 0 {
			continue
		}
		row.Zones++
		if slices.Contains(f.Read, number) {
			row.Read++
		}
		if now, known := d.holds(number); row.Why == "" && (!known || !maps.Equal(now, slots)) {
			row.Back++
		}
	}
	return row
}

// Reading lays out the next card of a zone that is being read out, or what was found.
func (d *Desk) Reading(a ViewArg) (Reading, error) {
	if d.profile == nil {
		return Reading{}, d.noPanel()
	}
	n, ok := d.profile.ZoneNumber(a.Zone)
	if !ok {
		return Reading{}, &Problem{Code: "not-found", Say: d.lang.Say("The panel has no zone %q.", string(a.Zone)), Try: d.lang.Say("Choose one of %d to %d.", d.profile.Zones.First, d.profile.Zones.Last)}
	}
	number := d.profile.ZoneID(n)
	z := d.zoneAt(number)
	plan := d.wantedTable()[number]
	if z.Kind == "" {
		plan = keypad.Slots{} // nothing is planned there
	}
	held, known := d.holds(number)
	opt := keypad.ReadOptions{Lang: d.lang, Plan: plan, Full: a.Full, Stop: a.Stop, Kept: known && maps.Equal(held, plan) && d.State.Panel.Keyed(number, d.profile.Version)}
	v := Reading{Zone: string(number), Label: z.Label, LifeSafety: z.Kind.LifeSafety(), Change: ZoneChange{Rows: []ChangeRow{}}}
	if since := d.State.Panel.Since(number); !since.IsZero() {
		v.Since = since.UTC().Format(time.RFC3339Nano)
	}
	out, err := keypad.ReadZone(d.profile, number, a.Seen, opt)
	var told *words.Error
	if errors.As(err, &told) {
		v.Refused = told.Said().In(d.lang)
		sure := slices.Clone(a.Seen)
		sure[len(sure)-1].Sure = true
		_, err = keypad.ReadZone(d.profile, number, sure, opt)
		v.Sure = err == nil
	}
	v.ZoneReading = out
	if out.Read && !maps.Equal(out.Slots, plan) {
		v.Change = d.change(number, out.Slots)
	}
	return v, nil
}

// RollBack lays out the way back to a table that was found.
func (d *Desk) RollBack(entry evidence.EntryID) (RollBack, error) {
	if d.profile == nil {
		return RollBack{}, d.noPanel()
	}
	i := slices.IndexFunc(d.State.Panel.Found, func(f book.FoundTable) bool {
		return f.Entry == entry
	})
	if i < 0 {
		return RollBack{}, &Problem{Code: "not-found", Say: d.lang.Say("There is no such table of this panel."), Try: d.lang.Say("Choose one of the list.")}
	}
	found := d.State.Panel.Found[i]
	if why := d.noWayBack(found); why != "" {
		return RollBack{}, &Problem{Code: "not-found", Say: why, Try: d.lang.Say("Read the zones out again, and key what differs.")}
	}
	want := keypad.ZoneTable{}
	for number, slots := range found.Zones {
		want[d.number(number)] = slots
	}
	held := d.Held()
	v := RollBack{Found: d.foundRow(found), Held: held, Lost: Lost(d.lang, d.profile), Unread: []site.ZoneID{}, Left: []site.ZoneID{}, Slots: []keypad.Slots{}, Warnings: []string{
		d.lang.Say("This puts back what was found, with every fault that it had. It was not checked by the rules, and nothing of it is proved."),
		d.lang.Say("Afterwards the panel no longer fits the schedule: what was proved since is void, and the station's zone list has to be told again."),
	}}
	v.Idle, v.Dropped = d.idle()
	v.Sheet = keypad.Between(d.profile, held, want, keypad.Options{Lang: d.lang, ReadBack: true})
	for _, z := range v.Sheet.Zones {
		v.Slots = append(v.Slots, d.leftOver(want[z.Zone], held[z.Zone]))
		if len(z.Cards) == 0 {
			v.Left = append(v.Left, z.Zone)
		}
	}
	for number, slots := range held {
		if !d.State.Panel.Checked(number) && len(slots) > 0 && maps.Equal(slots, want[number]) {
			v.Unread = append(v.Unread, number)
		}
	}
	for _, number := range d.touched() {
		if now, known := d.holds(number); len(want[number]) == 0 && (len(now) > 0 || !known) {
			v.Left = append(v.Left, number)
		}
	}
	slices.Sort(v.Unread)
	slices.Sort(v.Left)
	v.Left = slices.Compact(v.Left)
	if len(v.Left) > 0 {
		v.Warnings = append(v.Warnings, d.lang.Say("These zones can not be brought back here, because they were empty then, not read, or not to be told to the panel: %s.", words.List(d.lang, v.Left)))
	}
	return v, nil
}

// noWayBack says why a table as found is not gone back to: it is not in the terms of the panel's profile as it stands.
func (d *Desk) noWayBack(f book.FoundTable) string {
	switch {
	case f.Profile != d.profile.Name:
		return d.lang.Say("Read from the panel %s; this job has the panel %s now.", f.Profile, d.profile.Name)
	case f.Stale:
		return d.lang.Say("The panel's profile was changed in this job since: what was read then is in the terms of another dialogue.")
	case f.Version != "" && f.Version != d.profile.Version:
		return d.lang.Say("Read in the terms of version %s of the panel's profile; version %s is in use now.", f.Version, d.profile.Version)
	}
	return ""
}

// touched are the zones in which something may stand: known, keyed or in doubt.
func (d *Desk) touched() []site.ZoneID {
	p := &d.State.Panel
	out := p.Doubted()
	for number := range p.Held {
		out = append(out, number)
	}
	for _, z := range p.Work {
		if z.Profile == d.profile.Name {
			out = append(out, z.Zone)
		}
	}
	for i := range out {
		out[i] = d.number(out[i])
	}
	return out
}

// TableFile reads a zone table that somebody has as a file.
func (d *Desk) TableFile(text string) (FileRead, error) {
	if d.profile == nil {
		return FileRead{}, d.noPanel()
	}
	table, err := keypad.ParseTable(d.profile, []byte(text))
	if err != nil {
		return FileRead{}, &Problem{Code: "bad-request", Say: words.Upper(words.Said(err).In(d.lang)) + ".", Try: d.lang.Say("Take the file that the read-out at the terminal or a rehearsal wrote for this panel.")}
	}
	return FileRead{Zones: table, Count: len(table)}, nil
}
