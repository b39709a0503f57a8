package keypad

import (
	"maps"
	"slices"
	"strings"

	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// ResultFormat is the value of "format" in a result.
const ResultFormat = "proofbell.rehearsal/1"

// Strayed is why a key was wrong that the panel took: it left the sheet.
const Strayed = "strayed"

// Result is what a rehearsal came to: wanted against programmed, keys, time. It speaks of a simulated panel and of nothing
// else.
type Result struct {
	Format  string `json:"format"`
	Panel   string `json:"panel"`
	Version string `json:"version"`
	Site    string `json:"site,omitempty"`

	AsWanted    bool          `json:"asWanted"` // every zone of the exercise is stored as wanted, and no other zone was touched
	Left        bool          `json:"left"`     // programming was left
	Zones       []ZoneResult  `json:"zones"`
	Differences []Told        `json:"differences"` // of zones that were stored
	LeftOut     []ZoneReasons `json:"leftOut,omitempty"`

	Keys    int     `json:"keys"`  // pressed
	Sheet   int     `json:"sheet"` // that the sheet has
	Slips   int     `json:"slips"` // wrong keys: refused, ignored, or away from the sheet
	Refused int     `json:"refused"`
	Ignored int     `json:"ignored"`
	Strayed int     `json:"strayed"`
	Dropped int     `json:"dropped"` // zones that the panel dropped after its idle time
	Seconds float64 `json:"seconds"` // as the caller told them, pauses apart
	List    []Slip  `json:"list"`    // the first wrong keys, at most mostSlips
}

// What became of a zone of the exercise.
const (
	ZoneRight = "right" // stored as wanted
	ZoneWrong = "wrong" // stored otherwise
	ZoneOpen  = "open"  // not stored
	ZoneSame  = "same"  // the panel held it as wanted before
)

// ZoneResult is one zone of the exercise.
type ZoneResult struct {
	Zone       site.ZoneID `json:"zone"`
	Label      string      `json:"label,omitempty"`
	LifeSafety bool        `json:"lifeSafety,omitempty"`
	State      string      `json:"state"`
	ReadBack   bool        `json:"readBack,omitempty"` // after it was stored, as the sheet asks
	KeptRight  int         `json:"keptRight"`          // times stored as wanted
	KeptWrong  int         `json:"keptWrong"`          // and otherwise
	Keys       int         `json:"keys"`
	Slips      int         `json:"slips"`
	Seconds    float64     `json:"seconds"`
}

// ZoneReasons is a zone that the sheet does not key, and why.
type ZoneReasons struct {
	Zone  site.ZoneID `json:"zone"`
	Label string      `json:"label,omitempty"`
	Why   []string    `json:"why"`
}

// Told is a difference in words.
type Told struct {
	Difference
	What    string `json:"what"`    // the field
	WantSay string `json:"wantSay"` // what the answers mean
	GotSay  string `json:"gotSay"`
}

// Slip is one wrong key.
type Slip struct {
	N     int         `json:"n"` // key number of the rehearsal, from 1
	Zone  site.ZoneID `json:"zone,omitempty"`
	Shows string      `json:"shows"`
	Key   string      `json:"key"`
	Sheet string      `json:"sheet,omitempty"` // the key that the sheet has there
	Why   string      `json:"why"`             // refused, ignored, strayed
}

const mostSlips = 200

type slips struct {
	list                         []Slip
	all                          int
	refused, ignored, wentAstray int
}

func (l *slips) add(slip Slip) {
	l.all++
	switch slip.Why {
	case string(Refused):
		l.refused++
	case string(Ignored):
		l.ignored++
	default:
		l.wentAstray++
	}
	if len(l.list) < mostSlips {
		l.list = append(l.list, slip)
	}
}

// Result compares what the panel holds with what is wanted. The rehearsal can go on afterwards.
func (s *Session) Result() Result {
	r := Result{
		Format: ResultFormat, Panel: s.e.Panel.Name, Version: s.e.Panel.Version, Site: s.e.Site.Name,
		Left: s.sim.ended, Zones: []ZoneResult{}, Differences: []Told{}, List: slices.Clone(s.slips.list),
		Keys: s.keys, Sheet: s.sheet.Count, Slips: s.slips.all, Refused: s.slips.refused, Ignored: s.slips.ignored, Strayed: s.slips.wentAstray,
		Dropped: s.dropped, Seconds: s.seconds,
	}
	if r.List == nil {
		r.List = []Slip{}
	}
	want := s.Wanted()
	open := false
	for _, t := range s.tasks {
		z := ZoneResult{
			Zone: t.cards.Zone, Label: t.cards.Label, LifeSafety: t.cards.LifeSafety, State: s.state(t.cards.Zone), ReadBack: t.checked,
			KeptRight: t.right, KeptWrong: t.bad, Keys: t.keys, Slips: t.slips, Seconds: t.seconds,
		}
		open = open || z.State == ZoneOpen
		r.Zones = append(r.Zones, z)
	}
	for _, zone := range s.sheet.Same {
		r.Zones = append(r.Zones, ZoneResult{Zone: zone, Label: s.label(zone), State: ZoneSame})
	}
	for _, z := range s.sheet.Zones {
		if len(z.Stops) > 0 {
			r.LeftOut = append(r.LeftOut, ZoneReasons{z.Zone, z.Label, z.Stops})
		}
	}
	for _, d := range Compare(want, s.sim.stored) {
		if s.sim.stored[d.Zone] != nil || want[d.Zone] == nil {
			r.Differences = append(r.Differences, s.told(d))
		}
	}
	r.AsWanted = !open && len(r.Differences) == 0
	return r
}

// Wanted returns what the panel should hold at the end: the zones of the sheet as wanted, all others as they were.
func (s *Session) Wanted() ZoneTable {
	want := s.held.Clone()
	for zone, slots := range s.want {
		if !s.e.Panel.Dialogue.Edits || want[zone] == nil {
			want[zone] = Slots{}
		}
		maps.Copy(want[zone], slots) // what it held and can not forget stays
	}
	return want
}

func (s *Session) state(zone site.ZoneID) string {
	switch {
	case s.right(zone):
		return ZoneRight
	case s.sim.stored[zone] == nil, maps.Equal(s.sim.stored[zone], s.held[zone]):
		return ZoneOpen
	}
	return ZoneWrong
}

func (s *Session) label(zone site.ZoneID) string {
	for id, z := range s.e.Site.Zones {
		if s.number(id) == zone {
			return z.Label
		}
	}
	return ""
}

func (s *Session) told(d Difference) Told {
	l := s.e.Options.Lang
	return Told{d, FieldSay(l, d.Field), AnswerSay(l, s.e.Panel, d.Field, d.Want), AnswerSay(l, s.e.Panel, d.Field, d.Got)}
}

// FieldSay names a field of a zone for people.
func FieldSay(l *words.Language, f panel.Field) string { return f.Say().In(l) }

// AnswerSay says what an answer of a panel means: "smoke" for S; the answer itself where it has no other meaning; "nothing"
// for none.
func AnswerSay(l *words.Language, p *panel.Profile, f panel.Field, answer string) string {
	switch f {
	case panel.FieldKind:
		if k, ok := p.KindOf(answer, ""); ok {
			return kindSay(l, k)
		}
	case panel.FieldWords, panel.FieldWord1, panel.FieldWord2, panel.FieldWord3, panel.FieldWord4:
		var said []string
		for _, number := range strings.Fields(answer) {
			said = append(said, p.Word(number))
		}
		if text := strings.TrimSpace(strings.Join(said, " ")); text != "" {
			return text
		}
		return l.Say("no word")
	case panel.FieldArea:
		if v, ok := p.Value(f, answer); ok {
			return l.Say("area %s", v)
		}
	default:
		if v, ok := p.Value(f, answer); ok && answer != "" {
			return l.Word(v)
		}
	}
	if answer == "" {
		return l.Say("nothing")
	}
	return answer
}
