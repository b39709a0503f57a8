package practice

import (
	"slices"
	"strings"
	"time"

	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/rules"
	"proofbell/site"
)

// Answer is one fault that a learner names: a place and what is wrong with it, an id of Sayings.
type Answer struct {
	Place rules.Place `json:"place"`
	What  string      `json:"what"`
}

// Saying is one thing that can be wrong, in plain words.
type Saying struct {
	ID    string
	Say   string // marked
	rules string // rules that mean it, or the beginnings of them
}

// Sayings are what a learner chooses from. Append only.
var Sayings = []Saying{
	{"kind", words.Mark("Its kind is wrong"), "zone.kind zone.unused.device zone.fire.verify zone.smoke.verify-radio"},
	{"code", words.Mark("Its station code is wrong"), "zone.code"},
	{"verify", words.Mark("It waits for a second signal"), "zone.fire.verify zone.smoke.verify-radio"},
	{"paths", words.Mark("It is not told by every path"), "zone.fire.paths zone.paths.none path.backup"},
	{"bypass", words.Mark("Users may leave it out"), "zone.fire.bypass zone.panic.bypass"},
	{"tone", words.Mark("It has a door tone"), "zone.fire.tone zone.panic.tone"},
	{"window", words.Mark("It is missed too early, too late or never"), "zone.fire.window zone.window"},
	{"area", words.Mark("It is in the wrong area"), "zone.area area."},
	{"identity", words.Mark("Its identity fails the check digit"), "zone.identity.check"},
	{"twice", words.Mark("Its identity is on another device as well"), "zone.identity.twice zone.identity.family zone.input.twice"},
	{"label", words.Mark("Its label is unclear, or can not be said"), "zone.label"},
	{"missing", words.Mark("Detection is missing"), "sleep. storey.detection co. panel.detection smoke.coverage device.unzoned zone.device.none"},
	{"placed", words.Mark("It hangs in the wrong place, or looks the wrong way"), "bridge.place bridge.close bridge.hazard bridge.beside motion.machine smoke."},
	{"pattern", words.Mark("Nothing makes the sound that it waits for"), "bridge.pattern bridge.group"},
	{"joined", words.Mark("It is joined to nothing, or in the wrong way"), "head.alone group.supply group.circuit group.unheard co.alone"},
	{"power", words.Mark("It has no mains, or too small a battery"), "group.supply power.battery"},
	{"age", words.Mark("Its life is over"), "age."},
	{"time", words.Mark("The time is too short or too long"), "settings.exit settings.entry settings.abort settings.sounder settings.test power.alarm-time power.standby-time path.check"},
	{"life", words.Mark("It delays or silences life safety"), "settings.abort.life settings.limit.life settings.cross zone.fire.limit zone.fire.verify"},
	{"list", words.Mark("The station's list says something else"), "station.list"},
	{"contact", words.Mark("The person can not be reached, or not known"), "contacts."},
	{"paper", words.Mark("A written paper or an answer is missing"), "guests.assessment question."},
	{"wire", words.Mark("A cut wire would not show"), "circuit.end"},
	{"wiring", words.Mark("Its cable or its resistors do not fit"), "circuit.voltage circuit.windows"},
	{"together", words.Mark("One cause takes both paths down"), "path.kinds path.internet"},
	{"silent", words.Mark("It makes no sound"), ""},
	{"many", words.Mark("There are too many of them"), "group.count settings.limit"},
	{"sound", words.Mark("Its sound does not wake everyone"), "sound."},
	{"radio", words.Mark("Its radio message hardly arrives"), "radio."},
	{"panel", words.Mark("The panel can not take it as it is"), "zone.panel zone.terminal"},
}

// Find returns a saying by its id.
func Find(id string) (Saying, bool) {
	i := slices.IndexFunc(Sayings, func(s Saying) bool { return s.ID == id })
	if i < 0 {
		return Saying{}, false
	}
	return Sayings[i], true
}

func (s Saying) means(rule string) bool {
	return slices.ContainsFunc(strings.Fields(s.rules), func(r string) bool {
		return rule == r || strings.HasPrefix(rule, strings.TrimSuffix(r, ".")+".") || strings.HasPrefix(rule, r+"-")
	})
}

// Marked is one line of a marking.
type Marked struct {
	Place rules.Place `json:"place"`
	Where string      `json:"where"` // the place in words
	What  string      `json:"what"`  // what the learner said of it, or empty
	Say   string      `json:"say"`   // the reason
	Do    string      `json:"do"`    // what would have mended it
}

// Marks are what a learner's answers came to.
type Marks struct {
	Planted int      `json:"planted"`
	Found   []Marked `json:"found"`
	Missed  []Marked `json:"missed"`
	Wrong   []Marked `json:"wrong"` // named, and right as it is
	True    []Marked `json:"true"`  // named and true, but not planted: it counts neither way
}

// Mark marks what a learner named in a practice site. site is the site as it was given out, key the keys of its planted
// findings, on the day for which it was made. A fault that is named twice counts once.
func Mark(lang *words.Language, s *site.Site, p *panel.Profile, key []string, named []Answer, on time.Time) (Marks, error) {
	all, err := rules.CheckIn(lang.Tag(), s, p, on)
	if err != nil {
		return Marks{}, err
	}
	m := Marks{Planted: len(key), Found: []Marked{}, Missed: []Marked{}, Wrong: []Marked{}, True: []Marked{}}
	done := map[string]bool{}
	seen := map[Answer]bool{}
	for _, a := range named {
		if seen[a] {
			continue
		}
		seen[a] = true
		saying, _ := Find(a.What)
		item := Marked{Place: a.Place, Where: Where(lang, s, a.Place), What: lang.Word(saying.Say)}
		hit, near := -1, false
		var lacks []string
		for i, f := range all {
			if !touches(s, f, a.Place) {
				continue
			}
			if f.NotJudged {
				if saying.means(f.Rule) {
					lacks = append(lacks, f.Missing...)
				}
				continue
			}
			planted := slices.Contains(key, f.Key)
			if saying.means(f.Rule) && (hit < 0 || planted && !done[f.Key]) {
				hit = i
			}
			near = near || planted
		}
		switch {
		case hit >= 0 && done[all[hit].Key]: // said in two ways
		case hit >= 0:
			item.Say, item.Do = all[hit].Say, all[hit].Do
			done[all[hit].Key] = true
			if slices.Contains(key, all[hit].Key) {
				m.Found = append(m.Found, item)
			} else {
				m.True = append(m.True, item)
			}
		default:
			item.Say = odd(lang, s, a)
			switch {
			case item.Say != "":
			case len(lacks) > 0:
				item.Say = lang.Say("It can not be judged here. Missing: %s.", words.List(lang, lacks))
			default:
				item.Say = lang.Say("Nothing speaks against it here.")
			}
			if near {
				item.Say += " " + lang.Say("Something else is wrong at this place.")
			}
			m.Wrong = append(m.Wrong, item)
		}
	}
	for _, f := range all {
		if slices.Contains(key, f.Key) && !done[f.Key] {
			m.Missed = append(m.Missed, Marked{Place: f.Places[0], Where: f.Where, Say: f.Say, Do: f.Do})
		}
	}
	return m, nil
}

// touches reports whether a finding is about a place. Where there is one of a kind the kind is enough; a device or room
// stands for the zone in it that the finding is about.
func touches(s *site.Site, f rules.Finding, at rules.Place) bool {
	for _, p := range f.Places {
		switch {
		case p == at:
			return true
		case p.Kind != at.Kind:
		case p.Kind == "power" || p.Kind == "station" || p.Kind == "premises":
			return true
		}
		if at.Kind == "zone" && p.Kind == "device" && string(s.Zones[site.ZoneID(at.ID)].Device) == p.ID {
			return true
		}
		if at.Kind == "contact" && p.Kind == "contact" && strings.HasPrefix(f.Rule, "contacts.reachable") {
			return true
		}
	}
	return false
}

// odd says why what looks odd is right; "" when nothing is known in its favour.
func odd(lang *words.Language, s *site.Site, a Answer) string {
	id := site.ZoneID(a.Place.ID)
	z, isZone := s.Zones[id]
	isZone = isZone && a.Place.Kind == "zone"
	senses := s.Senses(id)
	room := s.Rooms[s.Devices[z.Device].Room]
	switch {
	case a.What == "many" && a.Place.Kind == "group":
		return lang.Say("A wired link may hold 18 alarms, 12 of them for smoke; this one holds fewer.")
	case !isZone:
		return ""
	case a.What == "window" && senses == site.SensesPanic:
		return lang.Say("A carried button leaves the house: it would be called lost on every outing, so it has no loss window on purpose.")
	case a.What == "window" && z.LossWindow == "":
		return lang.Say("A wired input does not transmit: its wire is watched by the end-of-line resistor.")
	case a.What == "silent" && z.Kind == site.PanicQuiet:
		return lang.Say("A quiet call for help makes no sound and no light, on purpose.")
	case (a.What == "kind" || a.What == "missing" || a.What == "placed") && z.Kind == site.Heat && len(room.Hazards) > 0:
		return lang.Say("Heat, not smoke: dust, mist or steam in this room would set smoke detection off without a fire.")
	case (a.What == "kind" || a.What == "missing" || a.What == "placed") && z.Kind == site.Heat:
		return lang.Say("Heat, not smoke: cooking or steam would set smoke detection off without a fire.")
	case (a.What == "code" || a.What == "kind") && z.Kind == site.Keyswitch:
		return lang.Say("A key switch reports arming and disarming, and no alarm.")
	case a.What == "tone" && z.DoorTone && !z.Kind.LifeSafety():
		return lang.Say("A door tone on a door is what it is for.")
	case a.What == "twice" && len(s.ZonesOf(z.Device)) > 1:
		return lang.Say("The zones share one device and so one identity; their terminals differ.")
	case a.What == "bypass" && z.Bypass && !z.Kind.LifeSafety():
		return lang.Say("Only life safety and calls for help must not be left out.")
	case a.What == "paths" && z.Kind == site.Keyswitch:
		return lang.Say("Arming may go by one path: it is no alarm.")
	}
	return ""
}

// settingNames are the settings and figures of the power that a learner can name.
var settingNames = map[string]string{
	"exitDelay": words.Mark("Exit delay"), "entryDelay": words.Mark("Entry delay"), "entryDelay2": words.Mark("Second entry delay"), "abortWindow": words.Mark("Abort window"),
	"tripLimit": words.Mark("Trip limit"), "crossZones": words.Mark("Cross-zones"), "periodicTest": words.Mark("Periodic test signal"), "fireSounder": words.Mark("Fire sounder"),
}

// Where says a place in words.
func Where(lang *words.Language, s *site.Site, p rules.Place) string {
	name := func(kind, id, label string) string { return strings.TrimSpace(kind + " " + id + " " + label) }
	switch p.Kind {
	case "zone":
		return name(lang.Say("Zone"), p.ID, s.Zones[site.ZoneID(p.ID)].Label)
	case "head":
		return name(lang.Say("Alarm"), p.ID, s.Rooms[s.Heads[site.HeadID(p.ID)].Room].Name)
	case "group":
		return name(lang.Say("Group"), p.ID, s.Groups[site.GroupID(p.ID)].Name)
	case "room":
		return name(lang.Say("Room"), p.ID, s.Rooms[site.RoomID(p.ID)].Name)
	case "storey":
		return name(lang.Say("Storey"), "", s.Storeys[site.StoreyID(p.ID)].Name)
	case "area":
		return name(lang.Say("Area"), p.ID, s.Areas[site.AreaID(p.ID)].Name)
	case "setting":
		return lang.Word(settingNames[p.ID])
	case "power":
		return lang.Say("Panel's power")
	case "path":
		return name(lang.Say("Path"), "", s.Account.Paths[site.PathID(p.ID)].Name)
	case "contact":
		return name(lang.Say("Person to call"), p.ID, s.People[s.Contacts[site.ContactID(p.ID)].Person].Name)
	case "station":
		return lang.Say("Station's zone list")
	case "premises":
		return lang.Say("Premises and their use")
	}
	return p.Kind + " " + p.ID
}

// Places lists everything of a site that a learner can name, in the order of the work.
func Places(s *site.Site) []rules.Place {
	var out []rules.Place
	add := func(kind string, ids ...string) {
		for _, id := range ids {
			out = append(out, rules.Place{Kind: kind, ID: id})
		}
	}
	add("zone", text(site.SortedIDs(s.Zones))...)
	add("head", text(site.SortedIDs(s.Heads))...)
	add("group", text(site.SortedIDs(s.Groups))...)
	add("room", text(site.SortedIDs(s.Rooms))...)
	add("storey", text(site.SortedIDs(s.Storeys))...)
	add("area", text(site.SortedIDs(s.Areas))...)
	add("setting", "exitDelay", "entryDelay", "entryDelay2", "abortWindow", "tripLimit", "crossZones", "periodicTest", "fireSounder")
	add("power", "battery")
	add("path", text(site.SortedIDs(s.Account.Paths))...)
	add("contact", text(site.SortedIDs(s.Contacts))...)
	add("station", "zoneList")
	add("premises", "riskAssessment")
	return out
}

func text[K ~string](ids []K) []string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = string(id)
	}
	return out
}

// GivenOut says what was given out: the number that planted the mistakes, the level, the day for which it is judged.
func GivenOut(l *words.Language, s *site.Site) string {
	p := s.Planted
	return l.Say("number %d, level %d, judged for %s", p.Seed, p.Level, l.Day(p.On.First()))
}
