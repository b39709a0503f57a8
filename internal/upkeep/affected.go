package upkeep

import (
	"cmp"
	"reflect"
	"slices"
	"time"

	"proofbell/internal/prove"
	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/rules"
	"proofbell/site"
)

// Obliged is one step that a change obliges to prove again, with the reasons.
type Obliged struct {
	Step    prove.StepID  `json:"step"`
	Zone    site.ZoneID   `json:"zone"`
	Device  site.DeviceID `json:"device"`
	Head    site.HeadID   `json:"head"`
	Family  string        `json:"family"`
	Title   string        `json:"title"`
	Where   string        `json:"where"`
	Last    string        `json:"last"` // day of its last proof; "" never
	Because []string      `json:"because"`
}

// Reproof is what a change obliges: what it affects, whole, and a share of the rest.
type Reproof struct {
	Changes  []string     `json:"changes"`  // what was changed, in words
	Program  bool         `json:"program"`  // the site's program was changed: a share of the other devices is tried
	Firmware bool         `json:"firmware"` // the panel's firmware was changed: a share with one device on every circuit
	Must     []Obliged    `json:"must"`     // all of these
	Sample   []Obliged    `json:"sample"`   // and these, longest untested first
	Others   int          `json:"others"`   // devices that the change did not touch
	Rule     string       `json:"rule"`     // how many of them, and why
	Basis    rules.Clause `json:"basis"`
	BasisSay string       `json:"basisSay"`
	Standing string       `json:"standing"`
}

// Steps is the scope of the run that proves it all.
func (r Reproof) Steps() []prove.StepID {
	out := []prove.StepID{}
	for _, o := range slices.Concat(r.Must, r.Sample) {
		if !slices.Contains(out, o.Step) {
			out = append(out, o.Step)
		}
	}
	return out
}

// differ compares two states of a site and gathers what each difference obliges.
type differ struct {
	a, b     *site.Site
	words    *words.Language
	proofs   Proofs
	steps    []prove.Step // of the site as it is now
	because  map[prove.StepID][]string
	named    map[*site.Site]*lister // names devices of either site
	byZone   map[site.ZoneID][]int  // places in steps of what proves a zone
	byDevice map[site.DeviceID][]int
	changes  []string
	program  bool
	firmware bool
}

// Affected says what the changes from one state of a site to another oblige to prove again (NFPA 72-2013 14.4.2): what
// they affect, whole, and, where the program or the firmware was changed, a share of the other devices, longest untested
// first. Notes, people, contacts, rooms' names and dates of documents oblige nothing. profile may be nil.
func Affected(before, after *site.Site, profile *panel.Profile, set *rules.Set, proofs Proofs, lang *words.Language) Reproof {
	d := &differ{a: before, b: after, words: lang, proofs: proofs, steps: prove.In(lang).Plan(after, profile, prove.Options{}), because: map[prove.StepID][]string{}, named: map[*site.Site]*lister{}}
	d.index()
	d.devices()
	d.zones()
	d.alarms()
	d.settings()
	d.account()
	d.panel()
	d.surroundings()

	l := &lister{Input: Input{Set: set, Lang: lang}, words: lang}
	r := Reproof{
		Changes: d.changes, Program: d.program, Firmware: d.firmware, Must: []Obliged{}, Sample: []Obliged{}, Basis: l.basis("change.share").In(lang.Tag()), BasisSay: l.basisSay(l.basis("change.share")),
		Standing: lang.Say("Computed from the description: what was changed and is not described here is not in it. Local code and the authority come first."),
	}
	if r.Changes == nil {
		r.Changes = []string{}
	}
	for _, st := range d.steps {
		if why := d.because[st.ID]; len(why) > 0 && st.NotTestable == "" {
			r.Must = append(r.Must, d.obliged(st, why...))
		}
	}
	d.sample(&r, int(l.figure("change.share")), int(l.figure("change.most")))
	return r
}

func (d *differ) obliged(st prove.Step, because ...string) Obliged {
	o := Obliged{Step: st.ID, Zone: st.Zone, Device: st.Device, Head: st.Head, Family: st.Family, Title: st.Title, Where: st.Where, Because: because}
	if at := d.proofs[st.ID]; !at.IsZero() {
		o.Last = at.Format(time.DateOnly)
	}
	return o
}

func (d *differ) changed(say string) string {
	if !slices.Contains(d.changes, say) {
		d.changes = append(d.changes, say)
	}
	return say
}

// oblige adds a reason to each step that is picked.
func (d *differ) oblige(why string, pick func(prove.Step) bool) {
	for _, st := range d.steps {
		if st.Proof != prove.ProofTest && pick(st) && !slices.Contains(d.because[st.ID], why) {
			d.because[st.ID] = append(d.because[st.ID], why)
		}
	}
}

// index finds the steps that prove a zone (its own, or those of the alarms which its listener hears) and a device.
func (d *differ) index() {
	d.byZone, d.byDevice = map[site.ZoneID][]int{}, map[site.DeviceID][]int{}
	for i, st := range d.steps {
		if ofUnit(st) || st.Kind == prove.StepSound {
			d.byDevice[st.Device] = append(d.byDevice[st.Device], i)
		}
		if st.Kind != prove.StepZone && (st.Kind != prove.StepHead || !st.ToStation) {
			continue
		}
		zones := []site.ZoneID{st.Zone}
		for _, e := range st.Expected {
			if !e.Optional && !slices.Contains(zones, e.Zone) {
				zones = append(zones, e.Zone)
			}
		}
		for _, z := range zones {
			d.byZone[z] = append(d.byZone[z], i)
		}
	}
}

func (d *differ) obligeAt(why string, places []int) {
	for _, i := range places {
		if st := d.steps[i]; !slices.Contains(d.because[st.ID], why) {
			d.because[st.ID] = append(d.because[st.ID], why)
		}
	}
}

func (d *differ) devices() {
	for _, id := range both(d.a.Devices, d.b.Devices) {
		was, had := d.a.Devices[id]
		is, has := d.b.Devices[id]
		switch {
		case !had:
			d.obligeAt(d.changed(d.words.Say("%s was added", d.name(d.b, id))), d.byDevice[id])
		case !has:
			d.removed(id, was)
		case !reflect.DeepEqual(was, is):
			for _, m := range []struct {
				differs bool
				say     string
			}{
				{was.Model != is.Model || was.Identity != is.Identity || was.Made != is.Made || was.Installed != is.Installed && !was.Installed.IsZero(), d.words.Say("%s was replaced", d.name(d.b, id))},
				{was.Room != is.Room || !reflect.DeepEqual(was.At, is.At) || was.Faces != is.Faces, d.words.Say("%s was moved", d.name(d.b, id))},
				{was.Hears != is.Hears || was.Beside != is.Beside, d.words.Say("%s listens to other alarms", d.name(d.b, id))},
				{was.Circuit != is.Circuit, d.words.Say("%s is on another circuit", d.name(d.b, id))},
				{was.Battery != is.Battery, d.words.Say("%s got a new battery", d.name(d.b, id))},
			} {
				if m.differs {
					d.obligeAt(d.changed(m.say), d.byDevice[id])
				}
			}
		}
	}
}

// removed obliges another device on the circuit of the one that is gone: by wire its circuit, by radio the panel's
// receiver. It is the one longest untested.
func (d *differ) removed(id site.DeviceID, was site.Device) {
	why := d.changed(d.words.Say("%s was removed: another on its circuit", d.name(d.a, id)))
	link := d.a.Models[was.Model].Link
	d.obligeOne(why, func(st prove.Step) bool {
		is := d.b.Devices[st.Device]
		if st.Kind != prove.StepZone {
			return false
		}
		if was.Circuit != "" {
			return is.Circuit == was.Circuit
		}
		return is.Circuit == "" && d.b.Models[is.Model].Link == link
	})
}

// obligeOne adds a reason to the longest untested of the steps that are picked.
func (d *differ) obligeOne(why string, pick func(prove.Step) bool) {
	var one *prove.Step
	for i := range d.steps {
		st := &d.steps[i]
		if st.NotTestable != "" || !pick(*st) {
			continue
		}
		if one == nil || cmp.Or(d.proofs[st.ID].Compare(d.proofs[one.ID]), site.NaturalOrder(string(st.ID), string(one.ID))) < 0 {
			one = st
		}
	}
	if one != nil {
		d.because[one.ID] = append(d.because[one.ID], why)
	}
}

func (d *differ) name(s *site.Site, id site.DeviceID) string {
	if d.named[s] == nil {
		d.named[s] = &lister{Input: Input{Site: s}, zones: s.ZonesByDevice()}
	}
	return d.named[s].named(id)
}

func (d *differ) zones() {
	for _, id := range both(d.a.Zones, d.b.Zones) {
		was, had := d.a.Zones[id]
		is, has := d.b.Zones[id]
		switch {
		case !had:
			d.keyed(d.words.Say("Zone %s was added", id), id)
		case !has:
			d.program = true
			d.changed(d.words.Say("Zone %s was removed", id))
		case !reflect.DeepEqual(was, is):
			for _, m := range []struct {
				differs bool
				say     string
			}{
				{was.Kind != is.Kind, d.words.Say("Zone %s: another kind", id)},
				{was.Code != is.Code, d.words.Say("Zone %s: another station code", id)},
				{was.Area != is.Area, d.words.Say("Zone %s: another area", id)},
				{was.Device != is.Device || was.Terminal != is.Terminal, d.words.Say("Zone %s: another device or terminal", id)},
				{!slices.Equal(was.Paths, is.Paths), d.words.Say("Zone %s: other paths", id)},
				{was.LossWindow != is.LossWindow, d.words.Say("Zone %s: another loss window", id)},
				{was.Bypass != is.Bypass || was.DoorTone != is.DoorTone || !reflect.DeepEqual(was.TripLimit, is.TripLimit), d.words.Say("Zone %s: other habits (bypass, door tone, trip limit)", id)},
				{was.Label != is.Label || !slices.Equal(was.Words, is.Words), d.words.Say("Zone %s: another label", id)},
			} {
				if m.differs {
					d.keyed(m.say, id)
				}
			}
		}
	}
}

// keyed is a change of the site's program that affects zones.
func (d *differ) keyed(say string, zones ...site.ZoneID) {
	d.program = true
	why := d.changed(say)
	for _, z := range zones {
		d.obligeAt(why, d.byZone[z])
	}
}

// alarms compares the self-contained alarms and their groups.
func (d *differ) alarms() {
	for _, id := range both(d.a.Heads, d.b.Heads) {
		was, had := d.a.Heads[id]
		is, has := d.b.Heads[id]
		own := func(st prove.Step) bool { return st.Head == id }
		switch {
		case !had:
			d.oblige(d.changed(d.words.Say("Alarm %s was added", id)), func(st prove.Step) bool { return own(st) || is.Group != "" && d.stands(st, is.Group) })
			continue
		case !has && was.Group != "":
			why := d.changed(d.words.Say("Alarm %s was removed: another of its group", id))
			d.left(was.Group, why)
			d.beside(id, why)
			continue
		case !has:
			d.changed(d.words.Say("Alarm %s was removed", id))
			continue
		}
		if was.Kind != is.Kind || was.Made != is.Made || was.Power != is.Power {
			why := d.changed(d.words.Say("Alarm %s was replaced", id))
			d.oblige(why, own)
			d.beside(id, why)
		}
		if was.Group != is.Group {
			if was.Group != "" {
				d.left(was.Group, d.changed(d.words.Say("Alarm %s left group %s: another of that group", id, was.Group)))
			}
			why := d.words.Say("Alarm %s stands alone now", id)
			if is.Group != "" {
				why = d.words.Say("Alarm %s joined another group", id)
			}
			d.oblige(d.changed(why), func(st prove.Step) bool { return own(st) || is.Group != "" && d.stands(st, is.Group) })
		}
		if was.Room != is.Room || !reflect.DeepEqual(was.At, is.At) {
			why := d.changed(d.words.Say("Alarm %s was moved", id))
			d.oblige(why, own)
			d.beside(id, why)
		}
	}
	for _, id := range both(d.a.Groups, d.b.Groups) {
		was, is := d.a.Groups[id], d.b.Groups[id]
		if was.Link != is.Link || was.Circuit != is.Circuit || was.Supervised != is.Supervised {
			d.oblige(d.changed(d.words.Say("Group %s: another link or circuit", id)), func(st prove.Step) bool { return st.Kind == prove.StepHead && d.b.Heads[st.Head].Group == id })
		}
	}
}

// left obliges one alarm of a group that another is gone from: one that stands for it at the station, where there is one.
func (d *differ) left(group site.GroupID, why string) {
	pick := func(st prove.Step) bool { return st.Kind == prove.StepHead && d.b.Heads[st.Head].Group == group }
	if slices.ContainsFunc(d.steps, func(st prove.Step) bool { return d.stands(st, group) && st.NotTestable == "" }) {
		pick = func(st prove.Step) bool { return d.stands(st, group) }
	}
	d.obligeOne(why, pick)
}

// stands reports whether a step is that of an alarm which stands for its group at the station.
func (d *differ) stands(st prove.Step, group site.GroupID) bool {
	return st.Kind == prove.StepHead && st.ToStation && d.b.Heads[st.Head].Group == group
}

// beside obliges what a listener hears, when the alarm that it hangs beside was touched.
func (d *differ) beside(id site.HeadID, why string) {
	for _, dev := range site.SortedIDs(d.b.Devices) {
		if d.b.Devices[dev].Beside == id || d.a.Devices[dev].Beside == id {
			d.obligeAt(why, d.byDevice[dev])
		}
	}
}

func (d *differ) settings() {
	a, b := d.a.Settings, d.b.Settings
	family := func(f ...string) func(prove.Step) bool {
		return func(st prove.Step) bool {
			return st.Kind != prove.StepSystem && st.Kind != prove.StepSound && (st.Kind != prove.StepHead || st.ToStation) && slices.Contains(f, d.b.Zones[st.Zone].Kind.Family())
		}
	}
	kind := func(k ...site.ZoneKind) func(prove.Step) bool {
		return func(st prove.Step) bool {
			return st.Kind == prove.StepZone && slices.Contains(k, d.b.Zones[st.Zone].Kind)
		}
	}
	set := func(differs bool, say string, pick func(prove.Step) bool) {
		if differs {
			d.program = true
			d.oblige(d.changed(say), pick)
		}
	}
	set(a.ExitDelay != b.ExitDelay, d.words.Say("Exit delay changed"), kind(site.Entry1, site.Entry2))
	set(a.EntryDelay != b.EntryDelay, d.words.Say("Entry delay changed"), kind(site.Entry1, site.Inside))
	set(a.EntryDelay2 != b.EntryDelay2, d.words.Say("Second entry delay changed"), kind(site.Entry2))
	set(!reflect.DeepEqual(a.AbortWindow, b.AbortWindow), d.words.Say("Abort window changed"), family(slices.Concat(a.AbortWindow.Applies, b.AbortWindow.Applies)...))
	set(!reflect.DeepEqual(a.TripLimit, b.TripLimit), d.words.Say("Trip limit changed"), family(slices.Concat(a.TripLimit.Applies, b.TripLimit.Applies)...))
	set(a.FireSounder != b.FireSounder, d.words.Say("Time of the fire sounder changed"), func(st prove.Step) bool { return st.Kind == prove.StepSound })
	if a.PeriodicTest != b.PeriodicTest {
		d.program = true // the first signal of every run proves it
		d.changed(d.words.Say("Periodic test changed"))
	}
	for _, id := range both(a.CrossZones, b.CrossZones) {
		was, is := a.CrossZones[id], b.CrossZones[id]
		if !reflect.DeepEqual(was, is) {
			d.keyed(d.words.Say("Cross-zone %s changed", id), slices.Concat(was.Zones, is.Zones)...)
		}
	}
}

func (d *differ) account() {
	a, b := d.a.Account, d.b.Account
	all := func(st prove.Step) bool { return st.ToStation }
	for _, m := range []struct {
		differs bool
		say     string
	}{
		{a.Number != b.Number, d.words.Say("Another account number: everything that the station is told")},
		{a.Format != b.Format, d.words.Say("Another reporting format: everything that the station is told")},
		{d.a.Station.Name != d.b.Station.Name, d.words.Say("Another station: everything that it is told")},
	} {
		if m.differs {
			d.program = true
			d.oblige(d.changed(m.say), all)
		}
	}
	for _, id := range both(a.Paths, b.Paths) {
		was, had := a.Paths[id]
		is, has := b.Paths[id]
		step := func(st prove.Step) bool { return st.Path == id && st.Proof == prove.ProofPath }
		switch {
		case !had:
			d.oblige(d.changed(d.words.Say("Path %s was added", cmp.Or(is.Name, string(id)))), step)
		case !has:
			d.oblige(d.changed(d.words.Say("Path %s was removed: the paths that are left", cmp.Or(was.Name, string(id)))), func(st prove.Step) bool { return st.Proof == prove.ProofPath })
		case was.Kind != is.Kind || was.Order != is.Order || was.CheckEvery != is.CheckEvery:
			d.program = true
			d.oblige(d.changed(d.words.Say("Path %s changed", cmp.Or(is.Name, string(id)))), step)
		}
	}
}

func (d *differ) panel() {
	a, b := d.a.Panel, d.b.Panel
	everything := func(prove.Step) bool { return true }
	if a.Profile != b.Profile && a.Profile != "" {
		d.oblige(d.changed(d.words.Say("Another panel: everything")), everything)
	}
	if a.Installed != b.Installed && !a.Installed.IsZero() {
		d.oblige(d.changed(d.words.Say("The panel was installed anew: everything")), everything)
	}
	if a.Room != b.Room || !reflect.DeepEqual(a.At, b.At) {
		d.oblige(d.changed(d.words.Say("The panel was moved: everything by radio")), func(st prove.Step) bool {
			return st.Device != "" && d.b.Models[d.b.Devices[st.Device].Model].Link == "radio" && (st.Kind == prove.StepZone || st.ToStation)
		})
	}
	if a.Firmware != b.Firmware && a.Firmware != "" {
		d.firmware = true
		d.changed(d.words.Say("Panel firmware changed from %s to %s", a.Firmware, cmp.Or(b.Firmware, "?")))
	}
	p, q := d.a.Power, d.b.Power
	if p.Battery != q.Battery || p.BatteryDate != q.BatteryDate {
		d.oblige(d.changed(d.words.Say("The panel got another battery")), func(st prove.Step) bool { return st.Proof == prove.ProofMains || st.Proof == prove.ProofStandby })
	}
	for _, id := range both(d.a.Circuits, d.b.Circuits) {
		was, had := d.a.Circuits[id]
		is, has := d.b.Circuits[id]
		if had && has && (was.Kind != is.Kind || was.EndOfLine != is.EndOfLine) {
			d.oblige(d.changed(d.words.Say("Circuit %s changed", cmp.Or(is.Name, string(id)))), func(st prove.Step) bool {
				return st.Device != "" && d.b.Devices[st.Device].Circuit == id
			})
		}
	}
}

// surroundings: a door that was put between a listener and its alarm, or changed, may take its hearing.
func (d *differ) surroundings() {
	for _, id := range both(d.a.Openings, d.b.Openings) {
		was, is := d.a.Openings[id], d.b.Openings[id]
		if reflect.DeepEqual(was, is) || was.Kind == "window" || is.Kind == "window" {
			continue
		}
		if was.Kind == is.Kind && was.Material == is.Material && was.Open == is.Open && was.Fire == is.Fire && slices.Equal(was.Rooms, is.Rooms) {
			continue // only drawn otherwise
		}
		for _, dev := range site.SortedIDs(d.b.Devices) {
			if b := d.b.Devices[dev]; b.Hears != "" && b.Room != "" && slices.Contains(slices.Concat(was.Rooms, is.Rooms), b.Room) {
				d.obligeAt(d.changed(d.words.Say("The door %s at the listener changed", cmp.Or(cmp.Or(is.Name, was.Name), string(id)))), d.byDevice[dev])
			}
		}
	}
}

// unit is a device that can be tripped, with its steps.
type unit struct {
	id    site.DeviceID
	steps []prove.Step
	last  time.Time
}

// sample adds the share of the devices that the change did not touch.
func (d *differ) sample(r *Reproof, share, most int) {
	touched := map[site.DeviceID]bool{}
	byID := map[site.DeviceID][]prove.Step{}
	for _, st := range d.steps {
		if !ofUnit(st) {
			continue
		}
		byID[st.Device] = append(byID[st.Device], st)
		touched[st.Device] = touched[st.Device] || len(d.because[st.ID]) > 0
	}
	var others []unit
	l := &lister{Input: Input{Proofs: d.proofs}}
	for id, steps := range byID {
		if !touched[id] {
			others = append(others, unit{id, steps, l.last(steps)})
		}
	}
	sorts.By(others, func(a, b unit) int {
		return cmp.Or(a.last.Compare(b.last), site.NaturalOrder(string(a.id), string(b.id)))
	})
	r.Others = len(others)
	take := func(u unit, why string) {
		for _, st := range u.steps {
			r.Sample = append(r.Sample, d.obliged(st, why))
		}
	}
	taken := map[site.DeviceID]bool{}
	if d.firmware {
		d.circuits(r, others, taken, take)
	}
	if !d.program && !d.firmware {
		r.Rule = d.words.Say("The program was not changed: what the change affects is proved, nothing else.")
		return
	}
	want := min(part(len(others), share), most)
	why := d.words.Say("one of the %d %% of the other devices, longest untested first", share)
	for _, u := range others {
		if len(taken) >= want {
			break
		}
		if !taken[u.id] {
			taken[u.id] = true
			take(u, why)
		}
	}
	r.Rule = d.words.Say("%d of %d other devices: %d %%, rounded up, at least 1, at most %d, longest untested first.", len(taken), len(others), share, most)
	if d.firmware {
		r.Rule = d.words.Say("%d of %d other devices: %d %%, rounded up, with one on every input and output circuit.", len(taken), len(others), share)
	}
}

// circuits takes one device on every input and output circuit: the longest untested of each. Radio is one circuit more.
func (d *differ) circuits(r *Reproof, others []unit, taken map[site.DeviceID]bool, take func(unit, string)) {
	for _, id := range site.SortedIDs(d.b.Circuits) {
		c := d.b.Circuits[id]
		why := d.words.Say("one device on circuit %s", cmp.Or(c.Name, string(id)))
		if c.Kind == "sounder" {
			for _, st := range d.steps {
				if st.Kind == prove.StepSound && d.b.Devices[st.Device].Circuit == id {
					r.Sample = append(r.Sample, d.obliged(st, why))
					break
				}
			}
			continue
		}
		if c.Kind == "mains" {
			continue
		}
		if i := slices.IndexFunc(others, func(u unit) bool { return d.b.Devices[u.id].Circuit == id }); i >= 0 && !taken[others[i].id] {
			taken[others[i].id] = true
			take(others[i], why)
		}
	}
	radio := func(u unit) bool { return d.b.Models[d.b.Devices[u.id].Model].Link == "radio" }
	if i := slices.IndexFunc(others, radio); i >= 0 && !taken[others[i].id] {
		taken[others[i].id] = true
		take(others[i], d.words.Say("one device by radio"))
	}
}

// both are the ids of two collections, each once, in natural order.
func both[K ~string, V any](a, b map[K]V) []K {
	ids := site.SortedIDs(a)
	for _, id := range site.SortedIDs(b) {
		if _, known := a[id]; !known {
			ids = append(ids, id)
		}
	}
	sorts.By(ids, func(x, y K) int { return site.NaturalOrder(string(x), string(y)) })
	return ids
}

// Baseline is a state of the site that was proved or issued, and what was proved since.
type Baseline struct {
	Site   *site.Site
	Proved []prove.StepID // steps that the run which ended in this state proved
}

// Open says what the changes since a baseline still oblige: later runs (oldest first) discharge a step that they proved
// and that nothing has affected since; a device that was tried after the last change of the program counts for the share.
func Open(base *site.Site, later []Baseline, now *site.Site, profile *panel.Profile, set *rules.Set, proofs Proofs, lang *words.Language) Reproof {
	r := Affected(base, now, profile, set, proofs, lang)
	affected := map[site.DeviceID]bool{}
	for _, o := range r.Must {
		affected[o.Device] = true
	}
	counted := map[prove.StepID]bool{}
	for _, run := range later {
		since := Affected(run.Site, now, profile, set, proofs, lang)
		again := map[prove.StepID]bool{}
		for _, o := range since.Must {
			again[o.Step] = true
		}
		r.Must = slices.DeleteFunc(r.Must, func(o Obliged) bool { return slices.Contains(run.Proved, o.Step) && !again[o.Step] })
		if !since.Program && !since.Firmware {
			for _, st := range run.Proved {
				counted[st] = true
			}
		}
	}
	if len(counted) > 0 {
		r.discharge(affected, counted, now, profile)
	}
	return r
}

// discharge takes from the sample what was tried since the program was last changed: a device that the change had not
// touched counts for one of the share, whichever it was.
func (r *Reproof) discharge(affected map[site.DeviceID]bool, counted map[prove.StepID]bool, now *site.Site, profile *panel.Profile) {
	tried := map[site.DeviceID]bool{}
	for _, st := range prove.Plan(now, profile, prove.Options{}) {
		if counted[st.ID] && ofUnit(st) && !affected[st.Device] {
			tried[st.Device] = true
		}
	}
	devices := map[site.DeviceID]bool{}
	for _, o := range r.Sample {
		devices[o.Device] = true
	}
	left := max(0, len(devices)-len(tried))
	drop := func(id site.DeviceID) {
		delete(devices, id)
		r.Sample = slices.DeleteFunc(r.Sample, func(o Obliged) bool { return o.Device == id })
	}
	for id := range tried {
		drop(id)
	}
	for len(devices) > left && !r.Firmware {
		drop(r.Sample[len(r.Sample)-1].Device)
	}
}
