package papers

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"time"

	"proofbell/internal/book"
	"proofbell/internal/prove"
	"proofbell/internal/sorts"
	"proofbell/internal/tables"
	"proofbell/quantity"
	"proofbell/site"
)

func itoa(n int) string { return strconv.Itoa(n) }

// window reads a loss window in seconds; false for "never" and for none.
func window(text string) (seconds float64, ok bool) {
	d, err := quantity.Parse[quantity.DurationDimension](text)
	return d.SI(), err == nil && text != ""
}

// dueOf writes the day on which something falls due; "" when nothing is known of it.
func (w *writer) dueOf(id string) string {
	for _, d := range w.Due {
		if d.ID == id {
			return w.date(d.On)
		}
	}
	return ""
}

// lastProof is when a zone, or a device without one, was last proved, and how far: by the alarm of its device, by the test
// buttons of the heads that a listening bridge hears, by somebody who heard a sounder.
func (w *writer) lastProof(zone site.ZoneID, device site.DeviceID) string {
	for _, run := range slices.Backward(w.State.Runs) {
		steps, outcome := w.Judge(run)
		for i, r := range outcome.Steps {
			st := steps[i]
			mine := zone != "" && st.Zone == zone && (st.Proof == prove.ProofAlarm || st.Proof == prove.ProofPress) || zone == "" && st.Device == device && st.Proof == prove.ProofSound
			if !mine || !r.Verdict.Good() {
				continue
			}
			at := tripped(run, steps[i].ID)
			if at.IsZero() {
				at = run.Opened
			}
			say := w.l.Day(at.In(w.Zone))
			if r.Half {
				say = w.l.Say("%s, by test button", say)
			}
			return say
		}
	}
	return ""
}

// tripped is when a step was last tripped in a run.
func tripped(run *prove.Run, step prove.StepID) time.Time {
	var at time.Time
	for _, t := range run.Ticks {
		if t.Step == step && t.What == prove.Tripped && t.At.After(at) {
			at = t.At
		}
	}
	return at
}

// level is the newest reading of a kind about a thing.
func (w *writer) level(pointer, what string) string {
	for _, r := range slices.Backward(w.State.Readings) {
		if r.About == pointer && r.What == what {
			return join(" ", w.l.Number(r.Value, -1), r.Unit)
		}
	}
	return ""
}

func (w *writer) register() {
	l, s := w.l, w.s
	t := Table{
		Head:   []string{l.Say("Device"), l.Say("Identity, input"), l.Say("Zone"), l.Say("Place"), l.Say("Made, installed"), l.Say("Battery, next"), l.Say("End of life"), l.Say("Last proof"), l.Say("Level")},
		Widths: []float64{32, 22, 10, 54, 20, 20, 18, 22, 14}, Empty: l.Say("No device yet."), Rows: [][]string{}, Key: 1,
	}
	sheet := &tables.Table{Name: l.Say("Devices"), Columns: []string{
		l.Say("Device"), l.Say("Model"), l.Say("Kind"), l.Say("Identity"), l.Say("Input"), l.Say("Zone"), l.Say("Label"), l.Say("Room"), l.Say("Storey"), "x", "y", "z",
		l.Say("Made"), l.Say("Installed"), l.Say("Battery"), l.Say("Next battery"), l.Say("End of life"), l.Say("Last proof"), l.Say("Level"),
	}}
	zones := s.ZonesByDevice()
	unread := 0
	for _, id := range site.SortedIDs(s.Devices) {
		d := s.Devices[id]
		m, _ := s.ModelOf(id)
		if m.Link == "radio" && d.Identity == "" {
			unread++
		}
		battery, end := w.dueOf("battery."+string(id)), w.dueOf("life."+string(id))
		pointer := "/devices/" + string(id)
		level := cmp.Or(w.level(pointer, "radio"), w.level(pointer, "signal"), w.level(pointer, "sound"), w.level(pointer, "level"))
		room, storey := s.Rooms[d.Room].Name, s.Storeys[s.Rooms[d.Room].Storey].Name
		carried := zones[id]
		if len(carried) == 0 {
			carried = []site.ZoneID{""}
		}
		for i, zone := range carried {
			z := s.Zones[zone]
			proof := w.lastProof(zone, id)
			name := cmp.Or(m.Name, string(id))
			if i > 0 {
				name = "″"
			}
			t.Rows = append(t.Rows, []string{
				name, join(" ", d.Identity, z.Terminal), string(zone), join("\n", join(", ", room, storey), w.at(d.At)), join("\n", w.date(d.Made), w.date(d.Installed)),
				join("\n", w.date(d.Battery), battery), end, proof, level,
			})
			x := [3]string{}
			for n, v := range d.At[:min(len(d.At), 3)] {
				x[n] = w.coordinate(v.SI())
			}
			sheet.Rows = append(sheet.Rows, []string{
				string(id), m.Name, w.class(m.Class), d.Identity, z.Terminal, string(zone), z.Label, room, storey, x[0], x[1], x[2],
				d.Made.String(), d.Installed.String(), d.Battery.String(), battery, end, proof, level,
			})
		}
	}
	if unread > 0 {
		w.lack("survey", l.Say("Radio devices whose identity was not read: %d", unread))
	}
	if len(t.Rows) == 0 {
		w.lack("survey", l.Say("There is no device yet"))
	}
	w.add(Section{ID: "devices", Title: l.Say("Devices"), Text: []string{l.Say("Places are x / y / z from the corner of the plan, z above the ground floor.")}, Table: &t})
	w.Sheet = sheet
	w.plans()
}

func (w *writer) coordinate(m float64) string {
	if w.Frame.Imperial {
		return quantity.FeetInches(quantity.Metre(m))
	}
	return w.l.Number(m, 2)
}

func (w *writer) heads() {
	l, s := w.l, w.s
	listeners := map[site.GroupID][]string{}
	for _, id := range site.SortedIDs(s.Devices) {
		if d := s.Devices[id]; d.Hears != "" {
			zones := make([]string, 0, 2)
			for _, z := range s.ZonesOf(id) {
				zones = append(zones, string(z))
			}
			m, _ := s.ModelOf(id)
			listeners[d.Hears] = append(listeners[d.Hears], l.Say("%s, zones %s", cmp.Or(m.Name, string(id)), strings.Join(zones, ", ")))
		}
	}
	t := Table{
		Head:   []string{l.Say("Head"), l.Say("Kind"), l.Say("Room"), l.Say("Group, circuit"), l.Say("Power"), l.Say("Made"), l.Say("Due"), l.Say("State"), l.Say("Heard by")},
		Widths: []float64{11, 28, 32, 26, 20, 16, 20, 20, 36}, Empty: l.Say("None recorded."), Rows: [][]string{},
	}
	sheet := &tables.Table{Name: l.Say("Self-contained alarms"), Columns: []string{l.Say("Head"), l.Say("Kind"), l.Say("Room"), l.Say("Storey"), l.Say("Group"), l.Say("Circuit"), l.Say("Power"), l.Say("Made"), l.Say("Due"), l.Say("State"), l.Say("Heard by")}}
	unread := 0
	for _, id := range site.SortedIDs(s.Heads) {
		h := s.Heads[id]
		g := s.Groups[h.Group]
		circuit := cmp.Or(s.Circuits[g.Circuit].Name, string(g.Circuit))
		group := l.Say("stands alone")
		heard := l.Say("nobody outside")
		if h.Group != "" {
			group = cmp.Or(g.Name, string(h.Group))
			heard = cmp.Or(strings.Join(listeners[h.Group], "; "), heard)
		}
		state := l.Say("in its life")
		due := w.dueOf("life." + string(id))
		switch {
		case h.Made.IsZero():
			state, unread = l.Say("date not read"), unread+1
		case slices.ContainsFunc(w.Due, func(d Due) bool { return d.ID == "life."+string(id) && d.Past }):
			state = l.Say("past its life")
		case due == "":
			state = ""
		}
		power := map[string]string{"mains": l.Say("mains"), "mains-battery": l.Say("mains with battery"), "battery": l.Say("battery")}[h.Power]
		room, storey := s.Rooms[h.Room].Name, s.Storeys[s.Rooms[h.Room].Storey].Name
		t.Rows = append(t.Rows, []string{string(id), w.headKind(h.Kind), join(", ", room, storey), join(", ", group, circuit), power, w.date(h.Made), due, state, heard})
		sheet.Rows = append(sheet.Rows, []string{string(id), w.headKind(h.Kind), room, storey, group, circuit, power, h.Made.String(), due, state, heard})
	}
	if unread > 0 {
		w.lack("survey", l.Say("Heads whose made date was not read: %d", unread))
	}
	w.add(Section{ID: "caution", Own: true, Framed: true, Text: []string{
		l.Say("Mains parts can kill. Work inside mains alarms and boxes is for a licensed electrician."),
		l.Say("A head that is replaced must join its group and make the same sound, or the listener does not hear it."),
	}})
	w.add(Section{ID: "heads", Title: l.Say("Heads"), Table: &t})
	w.Sheet = sheet
	w.plans()
}

// replaced are the kinds of due things that are replaced rather than tested.
var replaced = []string{"life", "battery", "panel-battery"}

// dueSection lists what falls due, as far as keep says: what is of one kind, one day and one reason stands in one line.
func (w *writer) dueSection(title string, keep func(Due) bool) {
	l := w.l
	t := Table{Head: []string{l.Say("What"), l.Say("When"), l.Say("Why, and who does it")}, Widths: []float64{74, 28, 76}, Empty: l.Say("Nothing."), Rows: [][]string{}}
	for _, of := range w.together(keep) {
		d := of[0]
		on := w.date(d.On)
		if d.Past {
			on = l.Say("%s, passed", on)
		}
		t.Rows = append(t.Rows, []string{w.doing(of), on, d.Why})
	}
	w.add(Section{ID: "due", Title: title, Table: &t})
}

// together gathers what is done in one go, in the order of the first of each.
func (w *writer) together(keep func(Due) bool) [][]Due {
	var out [][]Due
	for _, d := range w.Due {
		if !keep(d) {
			continue
		}
		at := slices.IndexFunc(out, func(of []Due) bool {
			o := of[0]
			return d.Name != "" && o.Name != "" && o.Kind == d.Kind && o.Head == d.Head && o.On == d.On && o.Why == d.Why
		})
		if at < 0 {
			out = append(out, []Due{d})
			continue
		}
		out[at] = append(out[at], d)
	}
	return out
}

// doing says what is to be done to one thing or several.
func (w *writer) doing(of []Due) string {
	if len(of) == 1 {
		return of[0].What
	}
	names := make([]string, len(of))
	for i, d := range of {
		names[i] = d.Name
	}
	sorts.Stable(names, site.NaturalOrder)
	all := strings.Join(names, ", ")
	switch {
	case of[0].Kind == "battery":
		return w.l.Say("New batteries, %d: %s", len(of), all)
	case of[0].Head:
		return w.l.Say("Replace %d alarms: %s", len(of), all)
	}
	return w.l.Say("Replace %d devices: %s", len(of), all)
}

func (w *writer) dueDates() {
	l := w.l
	if !slices.ContainsFunc(w.Due, func(d Due) bool { return slices.Contains(replaced, d.Kind) }) {
		w.lack("survey", l.Say("No date of a head, a battery or a device is known"))
	}
	w.Dates = w.Due
	w.add(Section{ID: "note", Own: true, Text: []string{l.Say("Dates are counted from the day made or fitted, by the lives of the rule set and of the devices. The instructions of the equipment come first.")}})
	w.dueSection(l.Say("What falls due"), func(Due) bool { return true })
}

// photos shows the photographs of the job.
func (w *writer) photos() {
	l := w.l
	var out []Photo
	for _, b := range w.State.Blobs {
		if !strings.HasPrefix(b.Media, "image/") {
			continue
		}
		out = append(out, Photo{Address: b.Address, Media: b.Media, Say: join(", ", cmp.Or(w.about(b.About), b.Name), l.Day(b.At.In(w.Zone)))})
	}
	if len(out) > 0 {
		w.add(Section{ID: "photos", Title: l.Say("Photographs"), Photos: out})
	}
}

// about names the thing that a JSON pointer into the site leads to.
func (w *writer) about(pointer string) string {
	keys := strings.Split(strings.TrimPrefix(pointer, "/"), "/")
	switch {
	case keys[0] == "panel":
		return w.l.Say("Panel")
	case len(keys) < 2:
		return pointer[min(len(pointer), 1):]
	}
	id := keys[1]
	s := w.s
	switch keys[0] {
	case "devices":
		m, _ := s.ModelOf(site.DeviceID(id))
		name := cmp.Or(m.Name, id)
		if zones := s.ZonesOf(site.DeviceID(id)); len(zones) == 1 {
			name = join(" ", string(zones[0]), cmp.Or(s.Zones[zones[0]].Label, name))
		}
		return join(", ", name, s.Rooms[s.Devices[site.DeviceID(id)].Room].Name)
	case "heads":
		return join(", ", w.l.Say("Head %s", id), s.Rooms[s.Heads[site.HeadID(id)].Room].Name)
	case "rooms":
		return cmp.Or(s.Rooms[site.RoomID(id)].Name, id)
	case "zones":
		return w.l.Say("Zone %s", id)
	}
	return book.Place(pointer).In(w.l)
}
