package engine

import (
	"strings"
	"time"

	"proofbell/internal/circuit"
	"proofbell/internal/papers"
	"proofbell/internal/reach"
	"proofbell/internal/supply"
	"proofbell/internal/words"
	"proofbell/site"
)

// Sums are the calculation sheets of the job as parts of a document: standby supply, wired circuits, batteries of radio
// devices. all adds what is dear or long: every radio battery, and the reach of the building with the room that is worst off.
func (d *Desk) Sums(now time.Time, all bool) []papers.Section {
	var out []papers.Section
	power, err := d.supply(now, nil)
	if err == nil {
		v := power.View()
		out = append(out, papers.OfSum(v.Sheet))
		for _, sh := range v.Sheets {
			out = append(out, papers.OfSum(sh))
		}
	}
	out = append(out, d.circuitSums()...)
	if err == nil {
		out = append(out, d.batterySums(power.Batteries(), all)...)
	}
	if all {
		out = append(out, d.reachSums(now)...)
	}
	return out
}

func (d *Desk) circuitSums() (out []papers.Section) {
	s := d.State.Site
	for _, id := range site.SortedIDs(s.Circuits) {
		switch c := s.Circuits[id]; {
		case c.Kind == "input":
			if l, err := circuit.LoopOf(d.lang, s, id, circuit.Measured{}); err == nil {
				out = append(out, papers.OfSum(l.Sheet()))
			}
		case c.Kind == "sounder", c.Kind == "bus" && len(c.Parts) > 0:
			if v, err := circuit.DropOf(d.lang, s, id); err == nil {
				out = append(out, papers.OfSum(v.Sheet()))
			}
		}
	}
	return out
}

// batterySums has one sheet for each model whose currents are known: the devices of a model differ by their rooms alone.
func (d *Desk) batterySums(v supply.Batteries, all bool) (out []papers.Section) {
	l := d.lang
	t := papers.Table{Head: []string{l.Say("Zones"), l.Say("Device"), l.Say("Room"), l.Say("Battery of"), l.Say("Replace by")}, Widths: []float64{14, 42, 42, 18, 78}, Rows: [][]string{}}
	models := map[string]bool{}
	for _, r := range v.Rows {
		t.Rows = append(t.Rows, []string{strings.Join(r.Zones, ", "), r.Name, r.Room, r.Fitted, words.Upper(r.Say)})
		if len(r.Sheet.Steps) > 0 && !models[r.Name] {
			models[r.Name] = true
			out = append(out, papers.OfSum(r.Sheet))
		}
	}
	if all && len(t.Rows) > 0 {
		out = append([]papers.Section{{ID: "sum.batteries", Title: l.Say("Batteries of the radio devices"), Text: []string{v.Label}, Table: &t}}, out...)
	}
	return out
}

func (d *Desk) reachSums(now time.Time) []papers.Section {
	l := d.lang
	m, err := d.Reach(now)
	if err != nil {
		return nil // no rooms yet, which the document says by itself
	}
	v := m.Rooms(l)
	t := papers.Table{Head: []string{l.Say("Room"), l.Say("Not reported to the station"), l.Say("Not heard in the building"), l.Say("Ways")}, Widths: []float64{44, 46, 46, 60}, Rows: [][]string{}}
	worst := reach.RoomRow{}
	for i, r := range v.Rooms {
		t.Rows = append(t.Rows, []string{r.Name, r.Station.Say, r.Sound.Say, r.Say})
		if i == 0 || r.Station.Mid > worst.Station.Mid {
			worst = r
		}
	}
	out := []papers.Section{{ID: "sum.reach", Title: l.Say("How a fire becomes known"), Text: []string{v.Say, v.Label}, Table: &t}}
	if len(v.Singles) > 0 {
		alone := papers.Section{ID: "sum.reach.alone", Title: l.Say("What alone cuts the way to the station"), Text: []string{v.Label}}
		for _, one := range v.Singles {
			alone.Steps = append(alone.Steps, words.Upper(one.Say))
		}
		out = append(out, alone)
	}
	if room, there := m.Room(l, site.RoomID(worst.Room)); there {
		out = append(out, papers.OfSum(room.Sheet))
	}
	return out
}
