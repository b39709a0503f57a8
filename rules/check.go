package rules

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"proofbell/internal/building"
	"proofbell/internal/estimate"
	"proofbell/internal/labels"
	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// ErrNoSite is returned by Check when there is nothing to check.
var ErrNoSite = errors.New("no site to check")

// Check judges a site as it stands on a day, in English; see CheckIn.
func Check(s *site.Site, profile *panel.Profile, on time.Time) ([]Finding, error) {
	return CheckIn("en", s, profile, on)
}

// CheckIn judges a site as it stands on a day, and says what it finds in a language (BCP 47: "en", "de"; English for one
// that is not spoken here). The keys of the findings and their order are the same in every language. Judged findings come first, sorted by severity and place, then those that
// could not be judged for want of something. profile may be nil: what depends on the panel is then not judged. A site
// that names a rule set that is not known here is judged by the newest one, and a stop says so.
func CheckIn(language string, s *site.Site, profile *panel.Profile, on time.Time) ([]Finding, error) {
	return CheckMeasured(language, s, profile, on, Measured{})
}

// Measured is what was measured on site. It fits the models that estimates come from, and stands above them where it was
// measured.
type Measured struct {
	Sound []estimate.SoundReading
	Radio estimate.RadioTold
}

// CheckMeasured is CheckIn with what was measured.
func CheckMeasured(language string, s *site.Site, profile *panel.Profile, on time.Time, measured Measured) ([]Finding, error) {
	if s == nil {
		return nil, ErrNoSite
	}
	sets, err := builtin()
	if err != nil {
		return nil, err
	}
	set, known := find(sets, s.RuleSet)
	c := newCheck(s, profile, set, on)
	c.lang, c.measured = words.In(language), measured
	if !known {
		c.unknownSet(sets)
	}
	for _, judge := range judges {
		judge(c)
	}
	return c.findings(), nil
}

// judges are run in this order; the order of the findings does not depend on it.
var judges = []func(*check){
	(*check).premises, (*check).account, (*check).power, (*check).settings,
	(*check).zones, (*check).identities, (*check).inputs, (*check).circuits, (*check).labels, (*check).areas, (*check).stationList,
	(*check).bridges, (*check).groups, (*check).radio, (*check).rooms, (*check).sleepers, (*check).smoke, (*check).ages,
}

// check holds what the judges read and write.
type check struct {
	*site.Site
	panel *panel.Profile
	set   *Set
	on    time.Time
	lang  *words.Language // of what is said

	found  []Finding
	lacked map[string]*lacking // by rule

	zoneIDs   []site.ZoneID
	deviceIDs []site.DeviceID
	headIDs   []site.HeadID
	roomIDs   []site.RoomID

	zonesOf   map[site.DeviceID][]site.ZoneID
	devicesIn map[site.RoomID][]site.DeviceID
	headsIn   map[site.RoomID][]site.HeadID
	doorsOf   map[site.RoomID][]site.OpeningID
	wrongKind map[site.ZoneID]bool // the kind has a finding of its own
	spoken    []labels.Label       // see labelled
	built     *building.Building   // see plan
	heard     *estimate.Sound      // see sound
	measured  Measured
}

func newCheck(s *site.Site, profile *panel.Profile, set *Set, on time.Time) *check {
	c := &check{
		Site: s, panel: profile, set: set, on: on,
		lacked:  map[string]*lacking{},
		zoneIDs: site.SortedIDs(s.Zones), deviceIDs: site.SortedIDs(s.Devices), headIDs: site.SortedIDs(s.Heads), roomIDs: site.SortedIDs(s.Rooms),
		zonesOf:   map[site.DeviceID][]site.ZoneID{},
		devicesIn: map[site.RoomID][]site.DeviceID{},
		headsIn:   map[site.RoomID][]site.HeadID{},
		doorsOf:   map[site.RoomID][]site.OpeningID{},
		wrongKind: map[site.ZoneID]bool{},
	}
	for _, id := range c.zoneIDs {
		if d := s.Zones[id].Device; d != "" {
			c.zonesOf[d] = append(c.zonesOf[d], id)
		}
	}
	for _, id := range c.deviceIDs {
		if r := s.Devices[id].Room; r != "" {
			c.devicesIn[r] = append(c.devicesIn[r], id)
		}
	}
	for _, id := range c.headIDs {
		if r := s.Heads[id].Room; r != "" {
			c.headsIn[r] = append(c.headsIn[r], id)
		}
	}
	for _, id := range site.SortedIDs(s.Openings) {
		for _, r := range s.Openings[id].Rooms {
			c.doorsOf[r] = append(c.doorsOf[r], id)
		}
	}
	return c
}

// plan returns the building in space, made when it is first asked for.
func (c *check) plan() *building.Building {
	if c.built == nil {
		c.built = building.Of(c.Site)
	}
	return c.built
}

// report is what a judge says of one finding. cause is what made it so, for the key: values, not wording.
type report struct {
	where, say, do string
	who            Who // empty: the rule's own
	places         []Place
	at             *Spot
	cause          []any
	patch          object
	patchSay       string
	estimate       bool
}

// object is a JSON object under construction.
type object = map[string]any

// add records a finding of a rule, unless the rule set leaves the rule out.
func (c *check) add(rule string, r report) {
	use, ok := c.set.Rules[rule]
	if !ok {
		return
	}
	f := Finding{
		Rule: rule, Severity: use.Severity, Who: cmp.Or(r.who, lookUp(rule).Who), Where: r.where, Say: r.say, Do: r.do,
		Estimate: r.estimate, Clause: use.Clause.in(c.lang), Places: r.places, At: r.at, PatchSay: r.patchSay,
	}
	if r.patch != nil {
		f.Patch, _ = json.Marshal(r.patch) // strings, numbers and lists of them: can not fail
	}
	f.Key = key(rule, r.places, r.cause)
	c.found = append(c.found, f)
}

// lacking is a rule that could not be judged.
type lacking struct {
	missing []words.Text
	places  []Place
}

// lack records that a rule could not be judged at some places because something is missing.
func (c *check) lack(rule string, missing words.Text, places ...Place) {
	if _, ok := c.set.Rules[rule]; !ok {
		return
	}
	l := c.lacked[rule]
	if l == nil {
		l = &lacking{}
		c.lacked[rule] = l
	}
	if !slices.ContainsFunc(l.missing, func(t words.Text) bool { return t.String() == missing.String() }) {
		l.missing = append(l.missing, missing)
	}
	l.places = append(l.places, places...)
}

// finding says what a rule lacks. The key is made from the English words, whatever the language.
func (c *check) finding(rule string, l *lacking) Finding {
	sorts.By(l.missing, func(a, b words.Text) int { return strings.Compare(a.String(), b.String()) })
	sorts.By(l.places, comparePlace)
	r, use := lookUp(rule), c.set.Rules[rule]
	f := Finding{
		Rule: rule, Severity: use.Severity, Who: r.Who, Where: c.lang.Word(r.Title), Clause: use.Clause.in(c.lang), NotJudged: true,
		Do: c.lang.Say("Fill in what is missing, or judge it yourself."), Places: append([]Place{}, slices.Compact(l.places)...),
	}
	english := make([]string, len(l.missing))
	for i, t := range l.missing {
		english[i] = t.String()
		f.Missing = append(f.Missing, t.In(c.lang))
	}
	f.Say = c.lang.Say("Not judged for want of: %s%s.", strings.Join(f.Missing, "; "), c.some(f.Places))
	f.Key = key(rule, f.Places, []any{english})
	return f
}

func (c *check) findings() []Finding {
	for i := range c.found {
		if c.found[i].Places == nil {
			c.found[i].Places = []Place{}
		}
	}
	sorts.Stable(c.found, compare)
	for _, rule := range slices.Sorted(maps.Keys(c.lacked)) {
		c.found = append(c.found, c.finding(rule, c.lacked[rule]))
	}
	return c.found
}

// some lists a few places for a sentence.
func (c *check) some(places []Place) string {
	if len(places) == 0 {
		return ""
	}
	const most = 8
	var ids []string
	for _, p := range places {
		if len(ids) == most {
			ids = append(ids, c.lang.Say("and %d more", len(places)-most))
			break
		}
		ids = append(ids, c.lang.Word(placeSay[p.Kind])+" "+p.ID)
	}
	return " (" + strings.Join(ids, ", ") + ")"
}

var severityOrder = map[Severity]int{Stop: 0, Fix: 1, Advise: 2}

func compare(a, b Finding) int {
	return cmp.Or(
		cmp.Compare(severityOrder[a.Severity], severityOrder[b.Severity]),
		slices.CompareFunc(a.Places, b.Places, comparePlace),
		strings.Compare(a.Rule, b.Rule),
		strings.Compare(a.Key, b.Key),
	)
}

// placeOrder puts zones first: they are what is keyed.
var placeOrder = map[string]int{
	"zone": 0, "device": 1, "head": 2, "group": 3, "room": 4, "storey": 5, "opening": 6, "area": 7, "setting": 8, "circuit": 9, "power": 10, "panel": 11,
	"path": 12, "contact": 13, "station": 14, "premises": 15, "question": 16,
}

func comparePlace(a, b Place) int {
	return cmp.Or(cmp.Compare(placeOrder[a.Kind], placeOrder[b.Kind]), site.NaturalOrder(a.ID, b.ID))
}

// placeSay names the kinds of place in a sentence.
var placeSay = map[string]string{
	"zone": words.Mark("zone"), "device": words.Mark("device"), "head": words.Mark("head"), "group": words.Mark("group"), "room": words.Mark("room"),
	"storey": words.Mark("storey"), "opening": words.Mark("opening"), "area": words.Mark("area"), "setting": words.Mark("setting"),
	"circuit": words.Mark("circuit"), "power": words.Mark("power"), "panel": words.Mark("panel"), "path": words.Mark("path"), "contact": words.Mark("contact"),
	"station": words.Mark("station"), "premises": words.Mark("premises"), "question": words.Mark("question"),
}

// key is the fingerprint of a finding: the rule, the places and what made it so, and nothing of the wording.
func key(rule string, places []Place, cause []any) string {
	raw, _ := json.Marshal([]any{rule, places, cause}) // plain values: can not fail
	sum := sha256.Sum256(raw)
	return rule + ":" + hex.EncodeToString(sum[:8])
}

// Places, by kind.
func zoneAt(id site.ZoneID) Place     { return Place{"zone", string(id)} }
func deviceAt(id site.DeviceID) Place { return Place{"device", string(id)} }
func headAt(id site.HeadID) Place     { return Place{"head", string(id)} }
func roomAt(id site.RoomID) Place     { return Place{"room", string(id)} }
func settingAt(member string) Place   { return Place{"setting", member} }

// spot shows a place on the plan; nil while it is not known.
func (c *check) spot(at site.Coordinates, room site.RoomID) *Spot {
	storey := c.Rooms[room].Storey
	if p, ok := at.Point(); ok && storey != "" {
		return &Spot{storey, p.X, p.Y}
	}
	return c.roomSpot(room)
}

// roomSpot shows a room on the plan.
func (c *check) roomSpot(id site.RoomID) *Spot {
	r := c.Rooms[id]
	poly := r.Outline.Polygon()
	if r.Storey == "" || len(poly) < 3 {
		return nil
	}
	p := poly.Centroid()
	return &Spot{r.Storey, p.X, p.Y}
}

func (c *check) zoneSpot(id site.ZoneID) *Spot {
	d := c.Devices[c.Zones[id].Device]
	return c.spot(d.At, d.Room)
}

// zoneSay names a zone in a sentence: Zone 14 "Workshop heat".
func (c *check) zoneSay(id site.ZoneID) string {
	if label := c.Zones[id].Label; label != "" {
		return c.lang.Say("zone %s %q", id, label)
	}
	return c.lang.Say("zone %s", id)
}

// roomTitle names a room for the first line of a finding: "Room G3 Kitchen".
func (c *check) roomTitle(id site.RoomID) string {
	return strings.TrimSpace(c.lang.Say("Room %s %s", id, c.Rooms[id].Name))
}

// roomSay names a room in a sentence: "Kitchen (G3)".
func (c *check) roomSay(id site.RoomID) string {
	if name := c.Rooms[id].Name; name != "" {
		return fmt.Sprintf("%s (%s)", name, id)
	}
	return string(id)
}

// about is the first line of a finding: the thing and what of it.
func (c *check) about(thing, what string) string { return thing + ", " + what }

// change says what a patch changes: "code: 110 -> 111".
func (c *check) change(what, from, to string) string {
	return what + ": " + c.orNone(from) + " -> " + c.orNone(to)
}

func (c *check) orNone(s string) string {
	if s == "" {
		return c.lang.Say("none")
	}
	return s
}

// number writes a number for a sentence, with as many decimals as it has.
func (c *check) number(v float64) string { return c.lang.Number(v, -1) }

// metres writes a length in the units of the job. It may be rounded to so many decimals.
func (c *check) metres(m float64, decimals int) string {
	if c.Premises.Units == "imperial" {
		return c.number(math.Round(m/0.3048*10)/10) + " ft"
	}
	return c.lang.Number(m, decimals) + " m"
}

// senses returns what the terminal of a zone senses; "" when it is not known.
func (c *check) senses(z site.Zone) string {
	m, _ := c.ModelOf(z.Device)
	return m.Senses(z.Terminal)
}
