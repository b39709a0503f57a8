package supply

import (
	"math"
	"strconv"
	"time"

	"proofbell/electrical"
	"proofbell/internal/words"
	"proofbell/internal/worked"
	"proofbell/quantity"
	"proofbell/site"
)

// Batteries are those of the radio devices.
type Batteries struct {
	Label string       `json:"label"`
	Rows  []BatteryRow `json:"rows"` // soonest to be replaced first
}

// BatteryRow is the battery of one radio device.
type BatteryRow struct {
	Device  string       `json:"device"`
	Name    string       `json:"name"`
	Zones   []string     `json:"zones"`
	Room    string       `json:"room"`
	Fitted  string       `json:"fitted"`  // date of the battery; "" not known
	Years   *float64     `json:"years"`   // that it lasts; null: not determined
	Replace string       `json:"replace"` // date by which; "" not determined
	Past    bool         `json:"past"`
	Say     string       `json:"say"`
	Sheet   worked.Sheet `json:"sheet"`
}

// CellLife is what the battery of a device lasts by its model and place; ok is false where the model says nothing of it.
func CellLife(s *site.Site, id site.DeviceID) (life electrical.CellLife, cell electrical.RadioCell, ok bool, err error) {
	d := s.Devices[id]
	m := s.Models[d.Model]
	if m.Cell == nil || m.Link != "radio" {
		return life, cell, false, nil
	}
	c := m.Cell
	cell = electrical.RadioCell{
		Capacity: quantity.AmpereHour(c.Capacity.SI()), Usable: c.Usable.SI(), SelfDischarge: c.SelfDischarge.SI(), Shelf: quantity.Second(c.ShelfLife.SI()), Alkaline: c.Chemistry == "alkaline",
		Sleep: quantity.Ampere(c.Sleep.SI()), Send: quantity.Ampere(c.Send.SI()), Every: quantity.Second(m.Reports.SI()), CheckIn: quantity.Second(c.CheckIn.SI()),
		Event: quantity.Second(c.Event.SI()), Events: c.Events, Promised: quantity.Second(m.BatteryLife.SI()),
	}
	if c.Usable.IsZero() {
		cell.Usable = 0.85
	}
	if c.SelfDischarge.IsZero() {
		cell.SelfDischarge = 0.01
		if cell.Alkaline {
			cell.SelfDischarge = 0.03
		}
	}
	if c.ShelfLife.IsZero() {
		cell.Shelf = 10 * year
		if cell.Alkaline {
			cell.Shelf = 5 * year
		}
	}
	room := s.Rooms[d.Room]
	if !room.Coldest.IsZero() {
		t := quantity.InCelsius(room.Coldest)
		cell.Coldest = &t
	}
	if !room.Warmest.IsZero() {
		t := quantity.InCelsius(room.Warmest)
		cell.Warmest = &t
	}
	life, err = cell.Life()
	return life, cell, true, err
}

// Batteries lists the batteries of all radio devices.
func (s *Supply) Batteries() Batteries {
	out := Batteries{Label: s.lang.Say("Planning estimate: the maker's figure and the device's own low-battery warning come first."), Rows: []BatteryRow{}}
	var later []BatteryRow
	zones := s.site.ZonesByDevice()
	for _, id := range site.SortedIDs(s.site.Devices) {
		if s.site.Models[s.site.Devices[id].Model].Link != "radio" {
			continue
		}
		r := s.battery(id, zones[id])
		if r.Replace == "" {
			later = append(later, r)
			continue
		}
		at := len(out.Rows)
		for at > 0 && out.Rows[at-1].Replace > r.Replace {
			at--
		}
		out.Rows = append(out.Rows, BatteryRow{})
		copy(out.Rows[at+1:], out.Rows[at:])
		out.Rows[at] = r
	}
	out.Rows = append(out.Rows, later...)
	return out
}

func (s *Supply) battery(id site.DeviceID, zones []site.ZoneID) BatteryRow {
	l, d := s.lang, s.site.Devices[id]
	m := s.site.Models[d.Model]
	r := BatteryRow{Device: string(id), Name: m.Name, Room: s.site.Rooms[d.Room].Name, Fitted: d.Battery.String(), Zones: []string{}}
	for _, z := range zones {
		r.Zones = append(r.Zones, string(z))
	}
	life, cell, known, err := CellLife(s.site, id)
	at, model := "/devices/"+string(id), "/models/"+string(d.Model)
	sh := worked.Sheet{ID: "battery." + string(id), Title: l.Say("Battery: %s, %s", m.Name, r.Room), Label: l.Say("Planning estimate: the maker's figure and the device's own low-battery warning come first.")}
	sh.Inputs = []worked.Input{s.input(l.Say("Fitted on"), "", at+"/battery", d.Battery.String(), "")}
	seconds := m.BatteryLife.SI()
	switch {
	case !known && seconds == 0:
		sh.Missing = []string{l.Say("what its battery gives and what draws on it, or the life that its maker states")}
	case !known:
		sh.Inputs = append(sh.Inputs, s.input(l.Say("Life that the maker states"), "", model+"/batteryLife", m.BatteryLife.String(), ""))
		sh.Assumed = []string{l.Say("The maker's figure as it stands: no currents of this model are given.")}
	case err != nil:
		sh.Missing, seconds = []string{words.Said(err).In(l)}, 0
	default:
		seconds = float64(life.Life)
		s.cellSheet(&sh, d, m, life, cell)
	}
	if seconds == 0 {
		r.Say = l.Say("Not determined: see what is missing.")
		sh.Result, r.Sheet = r.Say, sh
		return r
	}
	years := seconds / year
	r.Years = &years
	limit := l.Say("by the maker's figure")
	switch life.Limit {
	case "draw":
		limit = l.Say("by what is drawn")
	case "shelf":
		limit = l.Say("limited by shelf life")
	}
	r.Say = l.Say("about %s years, %s", s.num(math.Floor(years*2)/2, 1), limit)
	if !d.Battery.IsZero() {
		by := d.Battery.AddMonths(int(math.Floor(seconds / (year / 12))))
		r.Replace, r.Past = by.String(), by.First().Before(s.on)
		r.Say = l.Say("replace by %s: %s", day(l, by), r.Say)
	} else {
		sh.Missing = append(sh.Missing, l.Say("the date of the battery"))
	}
	sh.Result, r.Sheet = words.Upper(r.Say)+".", sh
	return r
}

func day(l *words.Language, d site.Date) string {
	if len(d.String()) == len(time.DateOnly) {
		return l.Day(d.First())
	}
	if len(d.String()) == len("2006-01") {
		return l.Month(d.First())
	}
	return d.String()
}

func (s *Supply) cellSheet(sh *worked.Sheet, d site.Device, m site.Model, life electrical.CellLife, cell electrical.RadioCell) {
	l, c := s.lang, m.Cell
	model, room := "/models/"+string(d.Model), "/rooms/"+string(d.Room)
	of := func(name, sign, member string, v interface{ String() string }) {
		in := s.input(name, sign, model+member, v.String(), "")
		if in.Say != "" {
			in.From = l.Say("the model, as its maker says")
		}
		sh.Inputs = append(sh.Inputs, in)
	}
	of(l.Say("Capacity"), "C", "/cell/capacity", c.Capacity)
	of(l.Say("Usable part"), "u", "/cell/usable", c.Usable)
	of(l.Say("Self-discharge a year"), "s", "/cell/selfDischarge", c.SelfDischarge)
	of(l.Say("Shelf life"), "", "/cell/shelfLife", c.ShelfLife)
	of(l.Say("Current asleep"), "I₀", "/cell/sleep", c.Sleep)
	of(l.Say("Current while sending"), "I_s", "/cell/send", c.Send)
	of(l.Say("Between check-ins"), "T", "/reports", m.Reports)
	of(l.Say("On the air for a check-in"), "t₁", "/cell/checkIn", c.CheckIn)
	of(l.Say("On the air for an event"), "t₂", "/cell/event", c.Event)
	events := s.input(l.Say("Events a day"), "n", model+"/cell/events", strconv.FormatFloat(c.Events, 'f', -1, 64), l.Say("the model, as its maker says"))
	events.Bare = true
	sh.Inputs = append(sh.Inputs, events)
	of(l.Say("Life that the maker states"), "", "/batteryLife", m.BatteryLife)
	if d.Room != "" {
		r := s.site.Rooms[d.Room]
		sh.Inputs = append(sh.Inputs, s.input(l.Say("Lowest temperature there"), "", room+"/coldest", r.Coldest.String(), ""), s.input(l.Say("Highest temperature there"), "", room+"/warmest", r.Warmest.String(), ""))
	}
	if c.Usable.IsZero() {
		sh.Assumed = append(sh.Assumed, l.Say("85 %% of the capacity is usable."))
	}
	if c.SelfDischarge.IsZero() {
		sh.Assumed = append(sh.Assumed, l.Say("Self-discharge %s %% a year.", s.num(cell.SelfDischarge*100, 1)))
	}
	if c.ShelfLife.IsZero() {
		sh.Assumed = append(sh.Assumed, l.Say("Shelf life %s years.", s.num(float64(cell.Shelf)/year, 0)))
	}
	if cell.Coldest == nil || cell.Warmest == nil {
		sh.Assumed = append(sh.Assumed, l.Say("20 °C where a temperature is not given."))
	}
	ua := func(v float64) string { return s.num(v*1e6, 2) + " µA" }
	sh.Steps = []worked.Step{
		{
			Name: l.Say("Average current"), Formula: "5.11", Says: "I = I₀ + I_s t₁ / T + n I_s t₂ / 24 h + C s 2^((ϑ - 20)/10) / 1 y",
			Put: ua(life.Sleep) + " + " + ua(life.CheckIn) + " + " + ua(life.Event) + " + " + ua(life.Self), Value: life.Total * 1e6, Unit: "µA", Say: ua(life.Total),
			Source: l.Say("charge is current times time; self-discharge doubles for each 10 °C"), Confidence: l.Word(worked.Medium),
		},
		{
			Name: l.Say("Life by what is drawn"), Formula: "5.12", Says: "t = C u c / I", Put: s.num(float64(cell.Capacity)*1000, 0) + " mAh × " + s.num(cell.Usable, 2) + " × " + s.num(life.Cold, 2) + " / " + ua(life.Total),
			Value: finiteOr(float64(life.Arithmetic)/year, 1e6), Unit: "y", Say: l.Say("%s years by arithmetic", s.num(float64(life.Arithmetic)/year, 1)),
			Source: l.Say("what the cold leaves is an order of magnitude"), Confidence: l.Word(worked.Low),
		},
		{
			Name: l.Say("What counts"), Formula: "5.12", Says: l.Say("the least of arithmetic, shelf life and the maker's figure"), Value: float64(life.Life) / year, Unit: "y", Say: l.Say("%s years", s.num(float64(life.Life)/year, 1)),
			Source: l.Say("a cell is not trusted beyond its shelf life"), Confidence: l.Word(worked.High),
		},
	}
	sh.Cautions = []string{l.Say("Replace at once when the device says low: 30 days are left by EN 14604 and British practice, 7 days by UL."), l.Say("On test before the cover opens; the kind of cell that the maker names, never mixed.")}
}

func finiteOr(v, other float64) float64 {
	if finite(v) {
		return v
	}
	return other
}
