package engine

import (
	"proofbell/internal/papers"
	"proofbell/internal/words"
	"proofbell/site"
)

// FactSheet is a part of the site that no stage shows line by line, for a learner to read through.
type FactSheet struct {
	Title string `json:"title"`
	Rows  []Fact `json:"rows"`
}

// Fact is one line of a sheet.
type Fact struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

// facts lays out settings, power, people, paths, circuits and the station's list as they were given out.
func (d *Desk) facts(s *site.Site) []FactSheet {
	l := d.lang
	var out []FactSheet
	sheet := func(title string, rows ...Fact) {
		kept := []Fact{}
		for _, r := range rows {
			if r.Value != "" {
				kept = append(kept, r)
			}
		}
		if len(kept) > 0 {
			out = append(out, FactSheet{title, kept})
		}
	}
	var settings []Fact
	for _, one := range papers.Settings(l, s) {
		settings = append(settings, Fact(one))
	}
	sheet(l.Say("Settings of the panel"), settings...)
	pow, ageing := s.Power, ""
	if pow.Ageing > 0 {
		ageing = l.Number(pow.Ageing, -1)
	}
	sheet(l.Say("Panel's power"),
		Fact{l.Say("Battery"), pow.Battery.String()}, Fact{l.Say("Load at rest"), pow.RestLoad.String()}, Fact{l.Say("Load in alarm"), pow.AlarmLoad.String()},
		Fact{l.Say("Standby time"), pow.Standby.String()}, Fact{l.Say("Alarm time"), pow.AlarmTime.String()}, Fact{l.Say("Factor for ageing"), ageing})
	var rows []Fact
	for _, id := range site.SortedIDs(s.Contacts) {
		c := s.Contacts[id]
		person := s.People[c.Person]
		code := l.Say("no passcode")
		if c.Passcode == "held" {
			code = l.Say("passcode held")
		}
		phone := c.Phone
		if phone == "" {
			phone = person.Phone
		}
		rows = append(rows, Fact{string(id), words.Join(person.Name, phone, code)})
	}
	sheet(l.Say("Contacts in the order of the calls"), rows...)
	rows = nil
	for _, id := range site.SortedIDs(s.Account.Paths) {
		p := s.Account.Paths[id]
		rows = append(rows, Fact{p.Name, d.say(p.Kind)})
	}
	sheet(l.Say("Paths"), rows...)
	rows = nil
	for _, id := range site.SortedIDs(s.Circuits) {
		c := s.Circuits[id]
		end := l.Say("no end-of-line resistor")
		if c.EndOfLine != "" {
			end = l.Say("end of line %s", c.EndOfLine)
		}
		if c.Kind == "input" {
			rows = append(rows, Fact{c.Name, end})
		}
	}
	sheet(l.Say("Wired inputs"), rows...)
	guests := ""
	if s.Premises.PayingGuests {
		guests = l.Say("paying guests sleep here")
	}
	sheet(l.Say("Premises and their use"), Fact{l.Say("Use"), words.Join(d.say(s.Premises.Use), guests)}, Fact{l.Say("Written fire risk assessment"), d.say(s.Premises.RiskAssessment)})
	rows = nil
	for _, id := range site.SortedIDs(s.Devices) {
		dev := s.Devices[id]
		beside, faces := "", ""
		if dev.Beside != "" {
			beside = l.Say("beside %s", dev.Beside)
		}
		if dev.Faces != "" {
			faces = l.Say("faces %s", s.Rooms[dev.Faces].Name)
		}
		if beside+faces != "" {
			rows = append(rows, Fact{words.Join(s.Models[dev.Model].Name, s.Rooms[dev.Room].Name), words.Join(beside, faces)})
		}
	}
	sheet(l.Say("What stands beside or faces something"), rows...)
	rows = nil
	for _, id := range site.SortedIDs(s.Station.ZoneList) {
		z := s.Station.ZoneList[id]
		rows = append(rows, Fact{string(id), words.Join(z.Label, z.Code)})
	}
	sheet(l.Say("Station's zone list"), rows...)
	return out
}
