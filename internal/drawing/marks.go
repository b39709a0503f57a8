package drawing

import (
	"fmt"

	"proofbell/site"
)

// marks draws devices and heads as plain solids. A repeated place is left as it is: the list beside the plan tells them apart.
func marks(s *site.Site, storey site.StoreyID, missing []string) ([]Mark, []string) {
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
			name = "Device " + string(id)
		}
		room := s.Rooms[d.Room]
		at, ok := d.At.Point()
		switch {
		case !ok && d.Room != "" && room.Storey == storey:
			missing = append(missing, fmt.Sprintf("%s in %s: no place yet", name, room.Name))
			continue
		case !ok || room.Storey != storey:
			continue
		}
		m := Mark{ID: string(id), What: "device", Shape: shape(model), At: at, Zones: zones[id], Say: name}
		if len(m.Zones) > 0 {
			m.Text = m.Zones[0]
			m.Say = fmt.Sprintf("Zone %s, %s, %s", m.Text, s.Zones[site.ZoneID(m.Text)].Label, name)
		}
		if room.Name != "" {
			m.Say += ", in " + room.Name
		}
		out = append(out, m)
	}
	for _, id := range site.SortedIDs(s.Heads) {
		h := s.Heads[id]
		room := s.Rooms[h.Room]
		at, ok := h.At.Point()
		switch {
		case !ok && h.Room != "" && room.Storey == storey:
			missing = append(missing, fmt.Sprintf("alarm %s in %s: no place yet", id, room.Name))
			continue
		case !ok || room.Storey != storey:
			continue
		}
		kind, drawn := h.Kind, "circle"
		switch h.Kind {
		case "heat":
			drawn = "triangle"
		case "co":
			kind = "carbon monoxide"
		case "smoke-co":
			kind = "smoke and carbon monoxide"
		}
		say := fmt.Sprintf("Alarm %s, %s, in %s", id, kind, room.Name)
		out = append(out, Mark{ID: string(id), What: "head", Shape: drawn, At: at, Text: string(id), Say: say})
	}
	return out, missing
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
