package drawing

import (
	"proofbell/internal/words"
	"proofbell/site"
)

// marks draws devices and heads as plain solids. A repeated place is left as it is: the list beside the plan tells them apart.
func marks(lang *words.Language, s *site.Site, storey site.StoreyID, missing []string) ([]Mark, []string) {
	out := []Mark{}
	zones := map[site.DeviceID][]string{}
	for _, id := range site.SortedIDs(s.Zones) {
		if z := s.Zones[id]; z.Device != "" {
			zones[z.Device] = append(zones[z.Device], string(id))
		}
	}
	for _, id := range site.SortedIDs(s.Devices) {
		d := s.Devices[id]
		model := s.Models[d.Model]
		name := model.Name
		if name == "" {
			name = lang.Say("Device %s", id)
		}
		room := s.Rooms[d.Room]
		at, ok := d.At.Point()
		switch {
		case !ok && d.Room != "" && room.Storey == storey:
			missing = append(missing, lang.Say("%s in %s: no place yet", name, room.Name))
			continue
		case !ok || room.Storey != storey:
			continue
		}
		m := Mark{ID: string(id), What: "device", Shape: shape(model), At: at, Zones: zones[id], Say: name}
		if len(m.Zones) > 0 {
			m.Text = m.Zones[0]
			m.Say = lang.Say("Zone %s, %s, %s", m.Text, s.Zones[site.ZoneID(m.Text)].Label, name)
		}
		if room.Name != "" {
			m.Say = lang.Say("%s, in %s", m.Say, room.Name)
		}
		out = append(out, m)
	}
	for _, id := range site.SortedIDs(s.Heads) {
		h := s.Heads[id]
		room := s.Rooms[h.Room]
		at, ok := h.At.Point()
		switch {
		case !ok && h.Room != "" && room.Storey == storey:
			missing = append(missing, lang.Say("alarm %s in %s: no place yet", id, room.Name))
			continue
		case !ok || room.Storey != storey:
			continue
		}
		drawn := "circle"
		if h.Kind == "heat" {
			drawn = "triangle"
		}
		say := lang.Say("Alarm %s, %s, in %s", id, lang.Word(kinds[h.Kind]), room.Name)
		out = append(out, Mark{ID: string(id), What: "head", Shape: drawn, At: at, Text: string(id), Say: say})
	}
	return out, missing
}

// kinds names the kinds of self-contained alarms.
var kinds = map[string]string{
	"smoke": words.Mark("smoke"), "heat": words.Mark("heat"), "co": words.Mark("carbon monoxide"), "smoke-co": words.Mark("smoke and carbon monoxide"),
}

func shape(m site.Model) string {
	switch m.Class {
	case "smoke", "co", "gas":
		return "circle"
	case "heat":
		return "triangle"
	case "contact":
		return "square"
	case "motion", "glass-break":
		return "segment"
	case "bridge", "contact-module":
		return "hexagon"
	case "call-point", "pendant", "panic-button", "keyswitch":
		return "pentagon"
	}
	return "cross"
}
