package estimate

import (
	"math"
	"slices"
	"strings"

	"proofbell/acoustics"
	"proofbell/geom"
	"proofbell/internal/building"
	"proofbell/internal/words"
	"proofbell/quantity"
	"proofbell/site"
)

// Where sound is asked for when nothing else is said, and what a sounder is when nothing else is known.
const (
	Pillow     = 0.6  // height of a pillow above the floor, m
	ratedAt    = 3    // m: UL 217 and EN 14604 rate at 10 ft and 3 m
	leastRated = 85   // dBA: what both ask of an alarm
	highTone   = 3100 // Hz: the usual tone
	halfSpace  = 2    // directivity: on a ceiling or wall, its rating taken in half space, the cautious choice
)

// Doors say how the doors stand for which the sound is asked.
type Doors string

// How doors stand. Shut is what a sleeping room is judged by; those that are drawn open are then shut too.
const (
	Shut    Doors = "shut"
	Open    Doors = "open"
	AsDrawn Doors = "as-drawn"
)

// SoundNeed is what a rule set asks, with where each figure stands.
type SoundNeed struct {
	Sleeping, Elsewhere acoustics.Demand
	Most                quantity.DBA // upper limit for all that sound together
	SleepingSource      string
	ElsewhereSource     string
	MostSource          string
}

// SoundReading is a measured sound level.
type SoundReading struct {
	Entry  string
	Room   site.RoomID
	Bed    site.BedID
	At     *geom.Point3 // nil: at the bed, else somewhere in the room
	Level  float64      // dBA
	Doors  Doors        // empty: not written; fitted as shut, but no stand-in for the estimate
	Source string       // JSON pointer of an alarm, a sounder or a group; empty: all that sound together
	Device bool         // at a device: it fits the model, and says nothing of a pillow

	Out words.Text // by what change it is out of date: then it is shown and counts for nothing; see Sound.Stale
}

// SoundOptions say for what the sound is asked. The zero value is what sleeping rooms are judged by: doors shut, every
// sounder with its own tone, nothing measured.
type SoundOptions struct {
	Doors    Doors   // empty: Shut
	Tone     float64 // Hz for all sounders; 0: each its own
	Readings []SoundReading
	Fit      *SoundFitted // of another model of the same building, instead of a fit to Readings; nil: none
}

// Sound is the sound model of a site.
type Sound struct {
	s        *site.Site
	b        *building.Building
	o        SoundOptions
	sounders []sounder
	sets     []soundSet // those that sound together
	rooms    []soundRoom
	doubles  []building.Double
	served   map[string]bool // dwellings in which some set notices fires
	old      []SoundReading  // out of date
	fit      *SoundFitted
	state    *soundState      // for o.Doors, fitted when there is a fit
	loose    *soundState      // the same if what is not known between rooms let all sound through; nil: all is known
	bent     [][2]*soundState // by parameter of the fit: a little more of it, a little less

	assumed, missing []words.Text
	said             map[string]bool
}

// sounder is one thing that sounds.
type sounder struct {
	pointer string
	name    words.Text
	at      geom.Point3
	room    int
	rated   float64 // dBA at 3 m
	tone    float64 // Hz
}

// soundSet is a group of heads with the sounders of the panel that its bridge sets off; or the sounders of the panel alone;
// or one alarm that stands alone.
type soundSet struct {
	pointer string
	alone   bool // sounds for the fire in its own room only
	fire    bool // sounds for smoke or heat, not for CO or gas
	of      []int

	dwellings map[string]bool // in which all that notices a fire for it hangs; nil: not in dwellings alone
}

// reaches reports whether a set has to be heard wherever someone sleeps.
func (s soundSet) reaches() bool { return s.fire && !s.alone }

// reaches reports whether a set has to be heard in a room, should someone sleep there: in dwellings only where it notices fires,
// but where no set does, every one.
func (m *Sound) reaches(set soundSet, room int) bool {
	dwelling := m.s.Rooms[m.b.Rooms[room].ID].Dwelling
	return set.reaches() && (set.dwellings == nil || dwelling == "" || set.dwellings[dwelling] || !m.served[dwelling])
}

// findDwellings finds the dwellings of each set.
func (m *Sound) findDwellings() {
	m.served = map[string]bool{}
	every := false
	for i := range m.sets {
		set := &m.sets[i]
		if !set.reaches() {
			continue
		}
		rooms := m.notices(set.pointer)
		set.dwellings = map[string]bool{}
		for _, id := range rooms {
			if d := m.s.Rooms[id].Dwelling; d != "" && set.dwellings != nil {
				set.dwellings[d] = true
			} else {
				set.dwellings = nil
			}
		}
		if len(set.dwellings) == 0 {
			set.dwellings, every = nil, true
			continue
		}
		for d := range set.dwellings {
			m.served[d] = true
		}
		m.assume(words.Later("A group whose alarms all hang in dwellings is judged in those dwellings and in rooms of none; whether other dwellings have to be woken too is for the local code."))
	}
	for _, room := range m.s.Rooms {
		if every && room.Dwelling != "" {
			m.served[room.Dwelling] = true
		}
	}
}

// notices are the rooms of all that notices a fire for a set.
func (m *Sound) notices(pointer string) (rooms []site.RoomID) {
	group, isGroup := strings.CutPrefix(pointer, "/groups/")
	for id, h := range m.s.Heads {
		if h.Kind != "co" && (isGroup && h.Group == site.GroupID(group) || pointer == "/heads/"+string(id)) {
			rooms = append(rooms, h.Room)
		}
	}
	zones := m.s.ZonesByDevice()
	for id, d := range m.s.Devices {
		model, _ := m.s.ModelOf(id)
		if sensesFire(model) && (pointer == "/panel" && len(zones[id]) > 0 || pointer == "/devices/"+string(id)) {
			rooms = append(rooms, d.Room)
		}
	}
	return rooms
}

// soundRoom is what the model knows of a room of the building.
type soundRoom struct {
	absorption, surface float64
	decay               float64
	long                bool
	louder              float64    // of its echoes, at the other end of the usual decay
	source              words.Text // of the decay
}

// adjust is what was fitted to readings, in dB.
type adjust struct {
	level, door, absorption float64

	loose bool // what is not known lets all sound through, instead of none
}

// NewSound builds the sound model of a site and fits it to the readings when there are enough of them.
func NewSound(s *site.Site, b *building.Building, o SoundOptions) *Sound {
	if o.Doors == "" {
		o.Doors = Shut
	}
	m := &Sound{s: s, b: b, o: o, doubles: b.Doubles(), said: map[string]bool{}}
	m.o.Readings = nil
	for _, r := range o.Readings {
		if r.Out.String() == "" {
			m.o.Readings = append(m.o.Readings, r)
		} else {
			m.old = append(m.old, r)
		}
	}
	m.assumed, m.missing = append(m.assumed, b.Assumed...), append(m.missing, b.Left...)
	for i := range b.Rooms {
		m.rooms = append(m.rooms, m.roomOf(&b.Rooms[i]))
	}
	m.findSounders()
	m.findSets()
	m.findDwellings()
	m.assume(words.Later("A room without a bed on the plan is judged by the echoes alone, which are the same everywhere in it."))
	m.assume(words.Later("A sounder's rating is taken as one in half space (Q 2): its echoes are then 3 dB less, which is the cautious choice."))
	m.assumeOfRooms()
	if m.fit = o.Fit; m.fit == nil {
		m.calibrate()
	}
	a := adjust{}
	if m.fit != nil {
		a = m.fit.adjust
	}
	m.state = m.solve(o.Doors, a, true)
	if len(m.unknown(nil)) > 0 {
		a.loose = true
		m.loose = m.solve(o.Doors, a, false)
	}
	if m.fit != nil {
		m.bend()
	}
	return m
}

// assumeOfRooms says what stands in for what rooms do not say.
func (m *Sound) assumeOfRooms() {
	for i := range m.b.Rooms {
		one := m.s.Rooms[m.b.Rooms[i].ID]
		if one.Ambient.IsZero() {
			m.assume(words.Later("Rooms without a measured ambient noise are taken by their use (NFPA 72 table A.18.4.4)."))
		}
		if one.Loudest.IsZero() {
			m.assume(words.Later("Where the loudest noise that lasts 60 s was not measured, the average alone is asked for."))
		}
		for _, bed := range one.Beds {
			if _, high := bed.At.Height(); !high {
				m.assume(words.Later("A pillow without a height is taken 0.6 m above the floor."))
			}
		}
	}
	for _, f := range m.b.Floors {
		for _, h := range f.Holes {
			if h.Kind == "stair" {
				m.assume(words.Later("An open stair is taken to lose about 20 dB a storey [L]."))
			}
		}
	}
}

// Fitted is what the readings made of the model; nil for none. Another model of the building, with more alarms in it, takes
// it as an option.
func (m *Sound) Fitted() *SoundFitted { return m.fit }

// Tone is the frequency of a sounder in Hz, by its JSON pointer; 0 for one that is not known.
func (m *Sound) Tone(pointer string) float64 {
	for _, one := range m.sounders {
		if one.pointer == pointer {
			return one.tone
		}
	}
	return 0
}

// assume and lack keep what was assumed and what is missing, each once.
func (m *Sound) assume(t words.Text) { m.assumed = m.once(m.assumed, t) }
func (m *Sound) lack(t words.Text)   { m.missing = m.once(m.missing, t) }

func (m *Sound) once(list []words.Text, t words.Text) []words.Text {
	said := t.String()
	if m.said[said] {
		return list
	}
	m.said[said] = true
	return append(list, t)
}

// findSounders collects the alarms, the sounders of the panel and the detectors that sound by themselves.
func (m *Sound) findSounders() {
	add := func(pointer string, name, kind words.Text, at site.Coordinates, room site.RoomID, level quantity.SoundLevel, tone quantity.Frequency, least bool) {
		place, assumed, ok := m.b.Place(at, room)
		if !ok {
			m.lack(words.Later("%s: its place is not known, it counts for nothing", name))
			return
		}
		if i, known := m.b.RoomOf(room); known && far(m.b.Rooms[i].Outline, place.Plan()) {
			m.lack(words.Later("%s: it is drawn outside of its room, %s; it counts for nothing", name, m.b.Rooms[i].Name))
			return
		}
		if assumed {
			m.assume(words.Later("%s: its place is not given in full; taken at the ceiling, in the middle of its room where none is drawn", name))
		}
		one := sounder{pointer: pointer, name: name, at: place, room: building.Outside, rated: level.SI(), tone: tone.SI()}
		if i, known := m.b.RoomOf(room); known {
			one.room = i
		} else if i, inside := m.b.RoomAt(place); inside {
			one.room = i
		}
		if level.IsZero() {
			if !least {
				m.lack(words.Later("%s: its level at 3 m is not given, it counts for nothing", kind))
				return
			}
			one.rated = leastRated
			m.assume(words.Later("%s: no level given; taken as 85 dBA at 3 m, the least that UL 217 and EN 14604 ask", name))
		}
		switch {
		case one.tone == 0 && least:
			m.assume(words.Later("Alarms without a tone are taken to sound at 3.1 kHz."))
		case one.tone == 0:
			m.assume(words.Later("%s: no tone given; taken as 3.1 kHz", name))
		}
		if one.tone == 0 {
			one.tone = highTone
		}
		if m.o.Tone > 0 {
			one.tone = m.o.Tone
		}
		m.sounders = append(m.sounders, one)
	}
	for _, id := range site.SortedIDs(m.s.Heads) {
		h := m.s.Heads[id]
		add("/heads/"+string(id), words.Typed(string(id)), words.Text{}, h.At, h.Room, h.Level, h.Tone, true)
	}
	for _, id := range site.SortedIDs(m.s.Devices) {
		d := m.s.Devices[id]
		if model, _ := m.s.ModelOf(id); model.Class == "sounder" || model.SelfSounding {
			add("/devices/"+string(id), words.Typed(strings.TrimSpace(model.Name+" "+string(id))), words.Typed(model.Name), d.At, d.Room, model.Level, model.Tone, false)
		}
	}
}

// findSets says what sounds together, and for a fire. Whoever sleeps has to hear each of them, except what stands alone while
// others are joined.
func (m *Sound) findSets() {
	var panel []int
	var lone []soundSet
	groups := map[site.GroupID][]int{}
	for i, one := range m.sounders {
		if id, ok := strings.CutPrefix(one.pointer, "/heads/"); ok {
			h := m.s.Heads[site.HeadID(id)]
			if h.Group != "" {
				groups[h.Group] = append(groups[h.Group], i)
				continue
			}
			lone = append(lone, soundSet{pointer: one.pointer, alone: true, fire: h.Kind != "co", of: []int{i}})
			continue
		}
		model, _ := m.s.ModelOf(site.DeviceID(one.pointer[len("/devices/"):]))
		if model.Class == "sounder" {
			panel = append(panel, i)
			continue
		}
		lone = append(lone, soundSet{pointer: one.pointer, alone: true, fire: sensesFire(model), of: []int{i}})
	}
	heard := map[site.GroupID]bool{}
	senses := false // the panel has smoke or heat detection of its own
	fires := false  // something sets it off for a fire, or will once it has a zone
	zones := m.s.ZonesByDevice()
	for id, d := range m.s.Devices {
		model, _ := m.s.ModelOf(id)
		fires = fires || d.Hears != "" || sensesFire(model) || model.Detects(site.SensesFirePush)
		if len(zones[id]) == 0 {
			continue
		}
		if d.Hears != "" {
			heard[d.Hears] = true
		}
		senses = senses || sensesFire(model)
	}
	for _, z := range m.s.Zones {
		fires = fires || z.Kind.Family() == "fire"
	}
	told := false
	ids := site.SortedIDs(groups)
	for _, g := range ids {
		set := soundSet{pointer: "/groups/" + string(g), fire: true, of: m.forFire(groups[g])}
		if len(set.of) == 0 { // of CO alarms alone
			set.of, set.fire = groups[g], false
		}
		if heard[g] && len(panel) > 0 {
			set.of = append(slices.Clip(set.of), panel...)
			told = told || set.fire
		}
		m.sets = append(m.sets, set)
	}
	if len(panel) > 0 && (!told || senses) {
		m.sets = append(m.sets, soundSet{pointer: "/panel", fire: fires, of: panel})
		if !fires {
			m.assume(words.Later("Nothing sets the panel off for a fire: its sounders do not count for being woken by one."))
		}
	}
	joined := 0
	for _, set := range m.sets {
		if set.fire {
			joined++
		}
	}
	switch {
	case joined == 0:
		for i := range lone {
			lone[i].alone = !lone[i].fire
			if lone[i].fire {
				joined++
			}
		}
		if joined > 1 {
			m.assume(words.Later("No alarms are joined: each room is judged by the one that is heard least there, for that may be the one that notices the fire."))
		}
	case len(lone) > 0:
		m.assume(words.Later("Alarms that stand alone and the sounders in detectors sound for the fire in their own room only: they do not count for being woken by a fire elsewhere."))
	}
	if joined > 1 && len(m.sets) > 1 {
		m.assume(words.Later("What does not sound together is not added: each room is judged by the group that is heard least there, for that may be the one that notices the fire."))
	}
	m.sets = append(m.sets, lone...)
}

// sensesFire reports whether a model notices smoke or heat.
func sensesFire(model site.Model) bool {
	return model.Detects(site.SensesSmoke) || model.Detects(site.SensesHeat)
}

// forFire keeps the heads that sound for smoke or heat.
func (m *Sound) forFire(heads []int) (out []int) {
	for _, i := range heads {
		if m.s.Heads[site.HeadID(strings.TrimPrefix(m.sounders[i].pointer, "/heads/"))].Kind != "co" {
			out = append(out, i)
		}
	}
	return out
}

// furnishings are the usual decays: for being heard the short end of their range, because more absorption is never louder, and
// the long end for the upper limit. Confidence M.
var furnishings = map[string]struct {
	decay, longest float64
	say            string
}{
	"soft":  {0.3, 0.5, words.Mark("soft furnishing: 0.3 to 0.5 s, the shorter [M]")},
	"hard":  {0.6, 1.0, words.Mark("hard floor: 0.6 to 1.0 s, the shorter [M]")},
	"tiled": {0.8, 1.5, words.Mark("tiled: 0.8 to 1.5 s, the shorter [M]")},
	"stair": {1.0, 2.0, words.Mark("stairwell: 1.0 to 2.0 s, the shorter [M]")},
}

// sabineOf is what a room of a decay swallows, m2.
func sabineOf(volume, decay float64) float64 {
	if a, err := acoustics.Sabine(volume, decay); err == nil {
		return a
	}
	return 1
}

// roomOf is what a room swallows.
func (m *Sound) roomOf(r *building.Room) soundRoom {
	one := m.s.Rooms[r.ID]
	var around float64
	for i := range r.Outline {
		around += r.Outline.Side(i).Length()
	}
	out := soundRoom{surface: max(0.1, 2*r.Area+around*(r.Z1-r.Z0)), decay: one.Decay.SI(), source: words.Later("as the site file gives it")}
	longest := out.decay
	if !(out.decay >= 0.05 && out.decay <= 20) {
		kind := one.Furnishing
		if kind == "" {
			switch r.Use {
			case "bathroom":
				kind = "tiled"
			case "stair":
				kind = "stair"
			case "bedroom", "flat", "lounge", "linen":
				kind = "soft"
			default:
				kind = "hard"
				if r.Sleeping {
					kind = "soft"
				}
			}
			m.assume(words.Later("Rooms without a decay or a furnishing are taken by their use, each as its terms say."))
		}
		out.decay, longest, out.source = furnishings[kind].decay, furnishings[kind].longest, words.Later(furnishings[kind].say)
	}
	out.absorption = sabineOf(r.Volume, out.decay)
	if most := 0.9 * out.surface; out.absorption > most {
		out.absorption = most
		m.assume(words.Later("%s: its decay is shorter than its surfaces can make it; taken as if nine tenths of them swallowed all", r.Name))
	}
	swallows := min(sabineOf(r.Volume, longest), out.absorption)
	out.louder = (1/swallows - 1/out.surface) / (1/out.absorption - 1/out.surface)
	// As a rectangle of the same area and outline: a turned or mirrored room is as long.
	half := around / 2
	if d := half*half - 4*r.Area; d > 0 {
		long := (half + math.Sqrt(d)) / 2
		out.long = long*long > 5*r.Area
	}
	return out
}
