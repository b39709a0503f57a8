package labels

import (
	"slices"
	"strings"

	"proofbell/site"
)

// facts are what the site knows of a zone, against which a phrase is held.
type facts struct {
	dangers []string // words of danger that are true of it; nil: not known, whatever is written counts
	life    bool     // its label has to name the danger
	heard   bool     // it hears a whole group of alarms, so that a room is too narrow a place for it
	level   int      // of its storey: 1 above the entrance, -1 below, 0 neither or not known
	room    []string // words of the room's name
	say     []string // words for what it senses, when nothing is written
	key     string   // tells zones apart by what they are
	both    string   // axes of which the label names opposite ends
}

// Dangers are the words for what a terminal senses, best first.
func Dangers(senses string) []string { return says[senses] }

var says = map[string][]string{
	site.SensesSmoke:    {"SMOKE", "FIRE"},
	site.SensesThree:    {"MAINS ALARMS SMOKE", "ALARMS SMOKE", "SMOKE", "FIRE"},
	site.SensesHeat:     {"HEAT", "FIRE"},
	site.SensesCO:       {"CARBON MONOXIDE", "CO", "GAS"},
	site.SensesFour:     {"MAINS ALARMS CARBON MONOXIDE", "ALARMS CARBON MONOXIDE", "CARBON MONOXIDE", "CO", "GAS"},
	site.SensesGas:      {"GAS"},
	site.SensesFirePush: {"FIRE BUTTON", "FIRE"},
	site.SensesPanic:    {"PANIC", "BUTTON"},
	site.SensesOpening:  {"DOOR"},
	site.SensesMotion:   {"MOTION"},
	site.SensesGlass:    {"GLASS"},
	site.SensesWater:    {"WATER"},
	site.SensesCold:     {"COLD"},
	site.SensesKey:      {"KEY SWITCH", "KEY"},
	site.SensesContact:  {"SWITCH", "ALARMS"},
}

// trueDangers are the poles of danger that a phrase may name, by what is sensed.
var trueDangers = map[string][]string{
	site.SensesSmoke: {"dsmoke", "dfire"}, site.SensesThree: {"dsmoke", "dfire"}, site.SensesHeat: {"dheat", "dfire"}, site.SensesFirePush: {"dfire"},
	site.SensesCO: {"dco"}, site.SensesFour: {"dco"}, site.SensesGas: {"dgas"}, site.SensesWater: {"dwater"}, site.SensesCold: {"dcold"},
}

func (v *voice) facts(id site.ZoneID) facts {
	s := v.site
	z := s.Zones[id]
	d := s.Devices[z.Device]
	r := s.Rooms[d.Room]
	senses := s.Senses(id)
	f := facts{
		dangers: trueDangers[senses], heard: senses == site.SensesThree || senses == site.SensesFour, room: Split(r.Name),
		key: strings.Join([]string{senses, string(z.Kind), string(d.Room), string(z.Device), z.Terminal, string(z.Area)}, "\x00"),
	}
	f.life = slices.Contains([]string{"fire", "co", "gas"}, z.Kind.Family()) && f.dangers != nil
	if st, ok := s.StoreyOfDevice(z.Device); ok {
		switch level := s.Storeys[st].Level.SI(); {
		case level > 0:
			f.level = 1
		case level < 0:
			f.level = -1
		}
	}
	f.say = v.danger(senses)
	return f
}

// danger returns the best words for what is sensed that the panel has; nil when it has none.
func (v *voice) danger(senses string) []string {
	for _, phrase := range says[senses] {
		w := strings.Fields(phrase)
		if _, missing := v.panel.SayWords(w); len(missing) == 0 && (phrase != "GAS" || senses == site.SensesGas) {
			return w
		}
	}
	return nil
}
