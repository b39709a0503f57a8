package engine

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"proofbell/internal/prove"
	"proofbell/internal/sorts"
	"proofbell/internal/upkeep"
	"proofbell/internal/words"
	"proofbell/signal"
	"proofbell/site"
)

// What comes next on a call-out. Append only.
const (
	CallBegin = "begin"     // no visit is open
	CallTest  = "test"      // put the account on test
	CallProve = "prove"     // mended: prove it
	CallOff   = "off"       // proved: have the account taken off test
	CallClose = "close-run" // off test: close the run
	CallEnd   = "end"       // say what it was and end the visit
)

// CallOut is the one screen of a call-out: what happened here lately, the device, likely causes, what comes next.
type CallOut struct {
	About    string           `json:"about"` // JSON pointer of the device or alarm; "" the job as a whole
	Title    string           `json:"title"`
	Zone     string           `json:"zone"`
	Where    string           `json:"where"`
	Name     string           `json:"name"` // model or kind
	Identity string           `json:"identity"`
	Battery  string           `json:"battery"` // what is known of its battery or life, in words
	Late     bool             `json:"late"`    // its battery or life is over
	Reach    string           `json:"reach"`   // ladder note
	Notes    string           `json:"notes"`
	Photos   []Photo          `json:"photos"` // newest first
	Last     *VisitView       `json:"last"`   // the newest ended visit
	Proved   string           `json:"proved"` // when it was last proved, in words
	Defects  []FoundRow       `json:"defects"`
	Signals  []SignalRow      `json:"signals"`  // of its zones, newest first
	Troubles []SignalRow      `json:"troubles"` // tampers, troubles, low batteries and path faults of the whole site, newest first
	Symptoms []upkeep.Symptom `json:"symptoms"`
	Visit    *VisitView       `json:"visit"` // the one that goes on
	Prove    []upkeep.Obliged `json:"prove"` // this device and what it obliges
	Scope    prove.Options    `json:"scope"` // of the run that proves it
	Account  string           `json:"account"`
	Print    string           `json:"fingerprint"` // of the plan of that scope
	Next     string           `json:"next"`        // see CallBegin and its fellows
	OpenRun  string           `json:"openRun"`
	Run      string           `json:"run"` // "1 of 3 proved", of the run of this visit
	OnTest   []string         `json:"onTest"`
	Things   []Choice         `json:"things"` // everything a call-out can be about
	Advice   string           `json:"advice"`
}

// Photo is a picture of a thing.
type Photo struct {
	Address string `json:"address"`
	Name    string `json:"name"`
	At      string `json:"at"`
}

// SignalRow is one signal as a list of what happened shows it.
type SignalRow struct {
	At    string `json:"at"`    // UTC
	AtSay string `json:"atSay"` // in the site's time
	Say   string `json:"say"`   // "Smoke alarm", "Smoke alarm, restore"
	Zone  string `json:"zone"`
	Label string `json:"label"`
	Code  string `json:"code"`
}

const mostSignals = 12

// troubles are the kinds of signal that say something about the system itself.
var troubles = []signal.Kind{
	signal.KindTrouble, signal.KindTamper, signal.KindBypass, signal.KindSupervisory, signal.KindSupervisionLost, signal.KindBatteryLow, signal.KindMaintenance,
	signal.KindMainsLost, signal.KindPower, signal.KindCommunication, signal.KindSystem,
}

// CallOut lays out a call-out to a device or alarm, named by its JSON pointer; "" to the job as a whole.
func (d *Desk) CallOut(now time.Time, about string) CallOut {
	s := d.State.Site
	c := CallOut{
		About: about, Photos: []Photo{}, Defects: []FoundRow{}, Signals: []SignalRow{}, Troubles: []SignalRow{}, Prove: []upkeep.Obliged{}, OnTest: []string{}, Things: []Choice{},
		Account: s.Account.Number, Title: d.State.Name(),
		Advice: d.lang.Say("Likely causes from practice, not a diagnosis: look before anything is swapped."),
	}
	device := d.thing(&c, now)
	d.happened(&c, device)
	c.Symptoms = upkeep.Symptoms(s, device, d.lang)
	for _, v := range slices.Backward(d.State.Visits) {
		view := d.Visit(v, now)
		switch {
		case v.Closed.IsZero():
			c.Visit = &view
		case c.Last == nil:
			c.Last = &view
		}
	}
	for _, b := range slices.Backward(d.State.Blobs) {
		if about != "" && strings.HasPrefix(b.Media, "image/") && (b.About == about || strings.HasPrefix(b.About, about+"/")) {
			c.Photos = append(c.Photos, Photo{Address: b.Address, Name: b.Name, At: b.At.UTC().Format(time.RFC3339)})
		}
	}
	for _, f := range d.State.Found {
		if f.Mended.IsZero() && (about == "" || f.About == about || f.About == "") {
			c.Defects = append(c.Defects, d.found(f))
		}
	}
	for _, line := range d.Index() {
		if line.About != "" {
			c.Things = append(c.Things, Choice{Value: line.About, Say: words.Join(line.Say, line.More)})
		}
	}
	d.obliges(&c, now)
	d.next(&c, now)
	return c
}

// thing fills in what the call-out is about and returns its device, if it is one.
func (d *Desk) thing(c *CallOut, now time.Time) site.DeviceID {
	s := d.State.Site
	list, _ := d.Due(now, 0) // an unknown rule set leaves out what is due; the rest stands
	due := func(ids ...string) {
		for _, r := range list.Rounds {
			for _, it := range r.Items {
				if slices.Contains(ids, it.ID) {
					c.Battery = words.Join(strings.TrimSuffix(it.Why, "."), it.DueSay) + "."
					if it.DueSay != "" {
						c.Battery = d.lang.Say("%s Due %s.", it.Why, it.DueSay)
					}
					c.Late = c.Late || it.State == upkeep.Overdue
					c.Reach = cmp.Or(c.Reach, it.Reach)
				}
			}
		}
	}
	kind, id, _ := strings.Cut(strings.TrimPrefix(c.About, "/"), "/")
	switch kind {
	case "devices":
		dev, ok := s.Devices[site.DeviceID(id)]
		if !ok {
			break
		}
		m := s.Models[dev.Model]
		c.Name, c.Identity, c.Notes = d.lang.Word(m.Name), dev.Identity, dev.Notes
		c.Title = cmp.Or(c.Name, id)
		if zones := s.ZonesOf(site.DeviceID(id)); len(zones) > 0 {
			c.Zone, c.Title = string(zones[0]), cmp.Or(s.Zones[zones[0]].Label, c.Title)
		}
		c.Where = words.Join(s.Rooms[dev.Room].Name, s.Storeys[s.Rooms[dev.Room].Storey].Name)
		due("life."+id, "date.battery."+id, "battery."+id)
		return site.DeviceID(id)
	case "heads":
		h, ok := s.Heads[site.HeadID(id)]
		if !ok {
			break
		}
		c.Title, c.Name, c.Notes = d.lang.Say("Alarm %s", id), d.say(h.Kind), h.Notes
		c.Where = words.Join(s.Rooms[h.Room].Name, s.Storeys[s.Rooms[h.Room].Storey].Name)
		due("life."+id, "date.life."+id)
	default:
		c.About = ""
		due("date.panel-battery", "panel-battery")
	}
	return ""
}

// obliges finds what has to be proved: the device itself and what changes since the last whole run oblige.
func (d *Desk) obliges(c *CallOut, now time.Time) {
	mine := d.lang.Say("this device")
	steps := []prove.StepID{}
	proofs := d.proofs(now)
	last := time.Time{}
	kind, id, _ := strings.Cut(strings.TrimPrefix(c.About, "/"), "/")
	if c.About != "" {
		for _, st := range d.Plan(prove.Options{}) {
			own := kind == "devices" && string(st.Device) == id && (st.Kind != prove.StepHead || st.ToStation) || kind == "heads" && string(st.Head) == id
			if !own || st.NotTestable != "" {
				continue
			}
			c.Prove = append(c.Prove, upkeep.Obliged{Step: st.ID, Zone: st.Zone, Device: st.Device, Head: st.Head, Family: st.Family, Title: st.Title, Where: st.Where, Because: []string{mine}})
			steps = append(steps, st.ID)
			if at := proofs[st.ID]; at.After(last) {
				last = at
			}
		}
		c.Proved = d.lang.Say("Never proved.")
		if !last.IsZero() {
			c.Proved = d.lang.Say("Last proved %s.", d.lang.Moment(last.In(d.zone())))
		}
	}
	if r, _, err := d.Reproof(now); err == nil && r != nil {
		for _, o := range slices.Concat(r.Must, r.Sample) {
			if !slices.Contains(steps, o.Step) {
				c.Prove, steps = append(c.Prove, o), append(steps, o.Step)
			}
		}
	}
	c.Scope = prove.Options{Steps: steps, Reason: prove.ReasonCallOut}
	if len(steps) > 0 {
		c.Print, _ = prove.Fingerprint(d.Plan(c.Scope)) // a plan is made of plain values and can always be written
	}
}

// next says what comes next.
func (d *Desk) next(c *CallOut, now time.Time) {
	run := d.State.OpenRun()
	switch {
	case c.Visit == nil:
		c.Next = CallBegin
	case run == nil && len(c.Visit.Runs) > 0:
		c.Next = CallEnd
	default:
		c.Next = CallTest
	}
	if run == nil {
		return
	}
	c.OpenRun = string(run.ID)
	counters := d.outcome(run, now).Counters
	c.Run = d.provedSay(counters)
	if run.Window.OnTest(now) {
		c.OnTest = append(c.OnTest, run.Window.Families...)
	}
	if c.Visit == nil {
		return
	}
	switch run.Window.State(now) {
	case prove.WindowOpen:
		c.Next = CallProve
		if counters.Left == 0 {
			c.Next = CallOff
		}
	case prove.WindowReadBack:
		c.Next = CallOff
	case prove.WindowOff, prove.WindowCalling, prove.WindowAccountRead, prove.WindowLapsed, "":
		c.Next = CallTest
	default:
		c.Next = CallClose
	}
}

// happened gathers the newest signals: of the device's zones, and the troubles of the whole site.
func (d *Desk) happened(c *CallOut, device site.DeviceID) {
	s := d.State.Site
	numbers := map[int]string{}
	mine := map[string]bool{}
	for id, z := range s.Zones {
		n := 0
		if _, err := fmt.Sscanf(string(id), "%d", &n); err == nil {
			numbers[n] = string(id)
		}
		mine[string(id)] = device != "" && z.Device == device
	}
	var all []prove.Signal
	for _, run := range d.State.Runs {
		all = append(all, run.Signals...)
	}
	sorts.Stable(all, func(a, b prove.Signal) int { return b.Received.Compare(a.Received) })
	for _, sg := range all {
		zone := ""
		if sg.Event.NumberIs == signal.Zone {
			zone = numbers[sg.Event.Number]
		}
		meaning, _ := signal.Lookup(sg.Event.Format, sg.Event.Code)
		row := SignalRow{
			At: sg.Received.UTC().Format(time.RFC3339), AtSay: d.lang.Moment(sg.Received.In(d.zone())), Say: cmp.Or(d.line(sg.Event), d.lang.Word(cmp.Or(meaning.Words, sg.Event.Code))), Code: sg.Event.Code, Zone: zone, Label: s.Zones[site.ZoneID(zone)].Label,
		}
		if sg.Event.Qualifier == signal.Restore {
			row.Say = d.lang.Say("%s, restore", row.Say)
		}
		if mine[zone] && len(c.Signals) < mostSignals {
			c.Signals = append(c.Signals, row)
		}
		if slices.Contains(troubles, meaning.Kind) && len(c.Troubles) < mostSignals {
			c.Troubles = append(c.Troubles, row)
		}
	}
}

// line names the path of the account whose trouble a Contact ID event reports (351 and 352: its first and second line); ""
// for all else.
func (d *Desk) line(e signal.Event) string {
	order := map[string]int{"351": 1, "352": 2}[e.Code]
	if e.Format != signal.CID || order == 0 {
		return ""
	}
	for _, path := range d.State.Site.Account.Paths {
		if path.Order == order && path.Name != "" {
			return d.lang.Say("%s (line %d)", path.Name, order)
		}
	}
	return ""
}
