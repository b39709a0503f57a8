package schedule

import (
	"cmp"
	"slices"

	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/signal"
	"proofbell/site"
)

// Condition is what a signal of a zone is about.
type Condition string

// The conditions that a zone can report.
const (
	Alarm   Condition = "alarm"
	Trouble Condition = "trouble"
	Tamper  Condition = "tamper"
	Battery Condition = "battery" // of a radio device, low
	Missing Condition = "missing" // radio device no longer heard
	Bypass  Condition = "bypass"
)

// ExpectedSignal is one condition of one zone and the codes that the station must get for it. Slices are never null in JSON.
type ExpectedSignal struct {
	Zone      site.ZoneID   `json:"zone"`
	Label     string        `json:"label"`
	Area      site.AreaID   `json:"area,omitempty"`
	Condition Condition     `json:"condition"`
	Begin     string        `json:"begin"`               // code that reports it
	AlsoBegin []string      `json:"alsoBegin,omitempty"` // codes that some panels send in its place
	End       string        `json:"end,omitempty"`       // code that ends it; "" when none is sent
	AlsoEnd   []string      `json:"alsoEnd,omitempty"`
	Restore   string        `json:"restore"` // follows, reset, bell or none: when the end is sent
	Paths     []site.PathID `json:"paths"`
	Usual     bool          `json:"usual,omitempty"` // the code is the usual one of the kind, not one that was scheduled
}

// Expected lists what each zone must send: its alarm with the scheduled code, and the state signals that its device and
// kind have. Codes come from the schedule and from the usual ones of the kind; the station's own list decides. A nil
// profile means that restores follow the device. Zones without a kind, unused ones and those that tell nobody send nothing.
func Expected(s *site.Site, p *panel.Profile) []ExpectedSignal {
	out := []ExpectedSignal{}
	for _, id := range site.SortedIDs(s.Zones) {
		z := s.Zones[id]
		usual, ok := signal.ExpectedFor(format(s), string(z.Kind))
		if !ok || len(z.Paths) == 0 {
			continue
		}
		add := func(c Condition, pair signal.Pair, restore panel.RestorePolicy, scheduled bool) {
			if pair.Begin == "" {
				return
			}
			if restore == panel.RestoreNone {
				pair.End, pair.AlsoEnd = "", nil
			}
			out = append(out, ExpectedSignal{id, z.Label, z.Area, c, pair.Begin, pair.AlsoBegin, pair.End, pair.AlsoEnd, string(restore), z.Paths, !scheduled})
		}
		alarm, scheduled, about := usual.Alarm, z.Code != "", Alarm
		if alarm.Begin == "" {
			alarm, about = usual.Trouble, Trouble
		}
		if scheduled {
			alarm = scheduledPair(s, z.Code, alarm)
		}
		add(about, alarm, restores(s, p, z), scheduled)
		if about == Alarm {
			add(Trouble, usual.Trouble, panel.RestoreFollows, false)
		}
		add(Tamper, usual.Tamper, panel.RestoreFollows, false)
		if s.Devices[z.Device].Identity != "" || linkOf(s, z) == panel.LinkRadio {
			add(Battery, usual.Battery, panel.RestoreFollows, false)
			if z.LossWindow != "" && z.LossWindow != panel.LossNever {
				add(Missing, usual.Missing, panel.RestoreFollows, false)
			}
		}
		if z.Bypass {
			add(Bypass, usual.Bypass, panel.RestoreFollows, false)
		}
	}
	return out
}

// scheduledPair is the pair of a code that somebody chose: the usual pair when it is the usual code, else what the format says ends it.
func scheduledPair(s *site.Site, code string, usual signal.Pair) signal.Pair {
	if code == usual.Begin {
		return usual
	}
	pair := signal.Pair{Begin: code}
	if ends := signal.ExpectedRestore(format(s), code); len(ends) > 0 {
		pair.End, pair.AlsoEnd = ends[0], ends[1:]
	}
	return pair
}

func linkOf(s *site.Site, z site.Zone) string {
	m, _ := s.ModelOf(z.Device)
	return m.Link
}

// restores is when a zone's alarm is ended: never for a device that sends none, else as the panel does with the kind.
func restores(s *site.Site, p *panel.Profile, z site.Zone) panel.RestorePolicy {
	if m, ok := s.ModelOf(z.Device); ok && m.NoRestore {
		return panel.RestoreNone
	}
	if p == nil {
		return panel.RestoreFollows
	}
	return p.Restore(z.Kind)
}

// StationZone is one line of the zone list for the station. It holds no passcodes and no identities.
type StationZone struct {
	Zone     site.ZoneID `json:"zone"`
	Area     site.AreaID `json:"area,omitempty"`
	AreaName string      `json:"areaName,omitempty"`
	Label    string      `json:"label"`
	Code     string      `json:"code"`
	CodeSays string      `json:"codeSays,omitempty"` // the code in plain words
	Category string      `json:"category"`           // fire, co, gas, panic, medical, burglary, building, control
	Restores bool        `json:"restores"`
	Paths    int         `json:"paths"`             // by how many paths it is reported
	Remarks  string      `json:"remarks,omitempty"` // English, marked
}

// StationList is the zone list as the station should hold it: the zones that report, in natural order.
func StationList(s *site.Site, p *panel.Profile) []StationZone {
	out := []StationZone{}
	for _, id := range site.SortedIDs(s.Zones) {
		z := s.Zones[id]
		if z.Kind == site.Unused || z.Kind == site.Observe || len(z.Paths) == 0 {
			continue
		}
		row := StationZone{
			Zone: id, Area: z.Area, AreaName: s.Areas[z.Area].Name, Label: z.Label, Code: z.Code,
			Category: cmp.Or(z.Kind.Family(), "not chosen"), Restores: restores(s, p, z) != panel.RestoreNone, Paths: len(z.Paths),
		}
		if m, ok := signal.Lookup(format(s), z.Code); ok {
			row.CodeSays = m.Words
		}
		senses := s.Senses(id)
		if slices.Contains([]string{site.SensesThree, site.SensesFour}, senses) {
			row.Remarks = words.Mark("A listener: tells that the mains alarms sound, not which one. An extra, not the required detection.")
		}
		out = append(out, row)
	}
	return out
}
