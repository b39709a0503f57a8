package site

import (
	"slices"
	"strconv"
	"strings"

	"proofbell/geom"
	"proofbell/internal/words"
	"proofbell/quantity"
)

// meanings tests what a single value can not show: outlines, coordinates, and members that must agree with each other.
func (b *binder) meanings(s *Site, root *node) {
	b.coordinates(root.find("panel", "at"), s.Panel.At, "/panel/at")
	for _, id := range SortedIDs(s.Storeys) {
		if t := s.Storeys[id].Tracing; t != nil {
			b.coordinates(root.find("storeys", string(id), "tracing", "at"), t.At, pointer("/storeys", string(id))+"/tracing/at")
		}
	}
	for _, id := range SortedIDs(s.Rooms) {
		b.outline(s.Rooms[id], root.find("rooms", string(id), "outline"), pointer("/rooms", string(id))+"/outline")
		for _, bed := range SortedIDs(s.Rooms[id].Beds) {
			b.coordinates(root.find("rooms", string(id), "beds", string(bed), "at"), s.Rooms[id].Beds[bed].At, pointer(pointer("/rooms", string(id))+"/beds", string(bed))+"/at")
		}
	}
	for _, id := range SortedIDs(s.Walls) {
		w, n, path := s.Walls[id], root.find("walls", string(id)), pointer("/walls", string(id))
		from := b.coordinates(n.get("from"), w.From, path+"/from")
		to := b.coordinates(n.get("to"), w.To, path+"/to")
		p, _ := w.From.Point()
		q, _ := w.To.Point()
		if from && to && p.Distance(q) <= geom.Near {
			b.refuse(n, path, words.Later("wall %s starts and ends in the same place", id), words.Later("mend from or to"))
		}
	}
	for _, id := range SortedIDs(s.Openings) {
		o, n, path := s.Openings[id], root.find("openings", string(id)), pointer("/openings", string(id))
		b.coordinates(n.get("at"), o.At, path+"/at")
		if len(o.Rooms) > 2 || len(o.Rooms) == 2 && o.Rooms[0] == o.Rooms[1] {
			b.refuse(n.get("rooms"), path+"/rooms", words.Later("opening %s joins %d rooms", id, len(o.Rooms)), words.Later("name two different rooms, or one for a way to the outside"))
		}
		if _, isRoom := s.Rooms[RoomID(o.Swing)]; o.Swing != "" && o.Swing != "out" && !isRoom {
			b.refuse(n.get("swing"), path+"/swing", words.Later("there is no room %q for the leaf to swing into", clip(o.Swing)), words.Later(`write the id of a room, or "out"`))
		}
	}
	for _, id := range SortedIDs(s.Devices) {
		b.coordinates(root.find("devices", string(id), "at"), s.Devices[id].At, pointer("/devices", string(id))+"/at")
	}
	for _, id := range SortedIDs(s.Heads) {
		b.coordinates(root.find("heads", string(id), "at"), s.Heads[id].At, pointer("/heads", string(id))+"/at")
	}
	for _, id := range SortedIDs(s.Circuits) {
		b.circuit(s.Circuits[id], root.find("circuits", string(id)), pointer("/circuits", string(id)))
	}
	for _, id := range SortedIDs(s.Zones) {
		b.zone(s, s.Zones[id], root.find("zones", string(id)), words.Later("%s %s", words.Later("zone"), string(id)), pointer("/zones", string(id)))
	}
	b.paper(root, s.Premises.RiskAssessment, "premises", "riskAssessment")
	b.paper(root, s.Takeover.Authority, "takeover", "authority")
	b.stickers(s, root)
	if s.Planted != nil && !s.Practice {
		b.refuse(root.find("planted"), "/planted", words.Later("mistakes are planted in a site that is no practice"), words.Later("leave planted out, or write practice: true"))
	}
}

// paper is a written paper: none, asked for, or its date.
func (b *binder) paper(root *node, paper, of, member string) {
	if paper == "" || paper == "none" || paper == "asked" {
		return
	}
	if _, err := ParseDate(paper); err != nil {
		b.refuse(root.find(of, member), pointer("/"+of, member), words.Later("%s %q is not known", member, clip(paper)), words.Later("write none, asked, or the date of the paper: 2026-08-24"))
	}
}

// stickers tests that each token is one, and names one thing.
func (b *binder) stickers(s *Site, root *node) {
	first := map[Token]string{}
	one := func(token Token, keys ...string) {
		if token == "" {
			return
		}
		path := ""
		for _, k := range keys {
			path = pointer(path, k)
		}
		if !isSticker(string(token)) {
			b.refuse(root.find(keys...), path, words.Later("sticker %q is not a token", clip(string(token))), words.Later("write two groups of four, without I, L, O and U: 7K2M-Q4XP"))
			return
		}
		if before, twice := first[token]; twice {
			b.refuse(root.find(keys...), path, words.Later("sticker %s stands at %s already", token, before), words.Later("give each thing a sticker of its own"))
			return
		}
		first[token] = path
	}
	one(s.Sticker, "sticker")
	for _, id := range SortedIDs(s.Devices) {
		one(s.Devices[id].Sticker, "devices", string(id), "sticker")
	}
	for _, id := range SortedIDs(s.Heads) {
		one(s.Heads[id].Sticker, "heads", string(id), "sticker")
	}
}

// coordinates reports whether c, read from n, has two or three lengths. A missing place is fine.
func (b *binder) coordinates(n *node, c Coordinates, path string) bool {
	if n == nil || n.kind != sequence {
		return false
	}
	if len(c) != 2 && len(c) != 3 {
		b.refuse(n, path, words.Later("a place has %d numbers", len(c)), words.Later("write [x, y] or [x, y, z]"))
		return false
	}
	return true
}

// maxCorners keeps the test of an outline, which compares every pair of its sides, short.
const maxCorners = 500

func (b *binder) outline(r Room, n *node, path string) {
	if n == nil || n.kind != sequence {
		return
	}
	if len(n.items) < 3 || len(n.items) > maxCorners {
		b.refuse(n, path, words.Later("the outline has %d corners", len(n.items)), words.Later("write 3 to %d corners, each once", maxCorners))
		return
	}
	for i, corner := range n.items {
		if !b.coordinates(corner, r.Outline[i], pointer(path, strconv.Itoa(i))) {
			return
		}
	}
	if i, j, clash := r.Outline.Polygon().Clash(); clash {
		if i == j {
			b.refuse(n.items[i], path, words.Later("corners %d and %d of the outline are the same place", i+1, (i+1)%len(n.items)+1), words.Later("write each corner once"))
			return
		}
		b.refuse(n, path, words.Later("the outline crosses or touches itself: the side after corner %d meets the side after corner %d", i+1, j+1), words.Later("write the corners in order round the room"))
	}
}

func (b *binder) zone(s *Site, z Zone, n *node, name words.Text, path string) {
	if w := z.LossWindow; w != "" && w != "never" {
		if _, err := quantity.Parse[quantity.DurationDimension](w); err != nil {
			b.refuse(n.get("lossWindow"), path+"/lossWindow", words.Later("%s: lossWindow %q is not a time", name, clip(w)), words.Later("write never, 200 s, 4 h or 24 h"))
		}
	}
	model, known := s.Models[s.Devices[z.Device].Model]
	if z.Terminal == "" || !known {
		return
	}
	if _, ok := model.Terminals[z.Terminal]; !ok {
		terminals := make([]string, 0, len(model.Terminals))
		terminals = append(terminals, SortedIDs(model.Terminals)...)
		slices.Sort(terminals)
		try := words.Later("describe it under models/%s/terminals", s.Devices[z.Device].Model)
		if len(terminals) > 0 {
			try = words.Later("it has: %s", strings.Join(terminals, ", "))
		}
		b.refuse(n.get("terminal"), path+"/terminal", words.Later("%s: device %s has no terminal %q", name, z.Device, clip(z.Terminal)), try)
	}
}

// circuit tests that each cable comes from a part that there is, that they lead to the panel, and that windows are those of
// states.
func (b *binder) circuit(c Circuit, n *node, path string) {
	from := func(id PartID, keys ...string) {
		if _, there := c.Parts[id]; id != "" && !there {
			at := path
			for _, k := range keys {
				at = pointer(at, k)
			}
			b.refuse(n.find(keys...), at, words.Later("there is no part %q in this circuit", clip(string(id))), words.Later("add it, or leave from out for the panel"))
		}
	}
	from(c.Ring.From, "ring", "from")
	for _, id := range SortedIDs(c.Parts) {
		from(c.Parts[id].From, "parts", string(id), "from")
		at := id
		for range len(c.Parts) {
			if at = c.Parts[at].From; at == "" {
				break
			}
		}
		if at != "" {
			b.refuse(n.find("parts", string(id)), pointer(path+"/parts", string(id)), words.Later("the cable of part %s does not come from the panel", string(id)), words.Later("follow from, part by part: it has to end at the panel, where from is missing"))
		}
	}
	for _, state := range SortedIDs(c.Input.Windows) {
		w, at := c.Input.Windows[state], n.find("input", "windows", state)
		if !slices.Contains(wordLists["input-state"], state) {
			b.refuse(at, pointer(path+"/input/windows", state), words.Later("%q is no state of an input", clip(state)), suggest(state, wordLists["input-state"]))
		}
		if !w.To.IsZero() && w.To.SI() < w.From.SI() {
			b.refuse(at, pointer(path+"/input/windows", state), words.Later("the window %s ends below where it begins", state), words.Later("write the smaller resistance first"))
		}
	}
}
