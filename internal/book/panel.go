package book

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"proofbell/evidence"
	"proofbell/internal/words"
	"proofbell/panel"
	"proofbell/site"
)

// ZoneTable is what a panel holds, in its own terms: number of the zone as the panel shows it -> field -> answer. A zone
// without answers is known to be empty; of one that is absent nothing is known.
type ZoneTable map[site.ZoneID]map[panel.Field]string

// ReadoutBody is the body of a readout entry: what a panel was found to hold.
type ReadoutBody struct {
	Panel   string    `json:"panel"` // name of the profile
	Version string    `json:"version,omitempty"`
	Via     string    `json:"via"`             // ViaRead, ViaFile
	Whole   bool      `json:"whole,omitempty"` // zones that are not named are empty
	Zones   ZoneTable `json:"zones"`
}

// How a readout came about.
const (
	ViaRead = "read" // key by key, from the display
	ViaFile = "file" // a zone table
)

// KeyingAct is what a KeyingBody tells of.
type KeyingAct string

// The acts of keying. Append only.
const (
	KeyingBegun   KeyingAct = "begun"
	KeyingKept    KeyingAct = "kept"    // a zone was keyed to its end and kept
	KeyingChecked KeyingAct = "checked" // a kept zone was read back
	KeyingLost    KeyingAct = "lost"    // the panel showed something else than the card
	KeyingLeft    KeyingAct = "left"    // programming was left
)

// KeyingBody is the body of a keying entry.
type KeyingBody struct {
	Act   KeyingAct              `json:"act"`
	Panel string                 `json:"panel,omitempty"` // name of the profile; empty: that of the site
	Zone  site.ZoneID            `json:"zone,omitempty"`  // as the panel shows it
	Slots map[panel.Field]string `json:"slots,omitempty"` // kept: every answer of the zone
	Ms    []int                  `json:"ms,omitempty"`    // kept: when each card was ticked, in ms since the first was shown
	Good  bool                   `json:"good,omitempty"`  // checked: everything stood there as keyed
	Card  int                    `json:"card,omitempty"`  // lost: number of the card, from 1
	Shown string                 `json:"shown,omitempty"` // lost: what the panel showed
}

// PanelState is what the book knows of the panel on the wall.
type PanelState struct {
	Profile string       // name of the profile that Held is of; "" when nothing is known
	Held    ZoneTable    // what the panel holds by the newest entry for each zone; never changed in place
	Found   []FoundTable // what it held before it was keyed, oldest first: tables to go back to
	Work    []KeyedZone  // zones keyed, oldest first
	Lost    int          // times that the panel showed something else than the card
	Told    bool         // the book has a readout or an entry of keying: what else was said of zones keyed counts no more
	whole   bool         // zones that are not in Held and not in doubt are empty
	checked map[site.ZoneID]bool
	doubt   map[site.ZoneID]bool
}

// Holds returns what the panel holds for a zone, by its number as the panel shows it. known is false when the book can not
// tell; a zone known to be empty has no answers.
func (p *PanelState) Holds(zone site.ZoneID) (slots map[panel.Field]string, known bool) {
	if slots, known = p.Held[zone]; !known && p.whole && !p.doubt[zone] {
		return map[panel.Field]string{}, true
	}
	return slots, known
}

// FoundTable is what the panel held when it was read out, over one or more readouts with no keying between them.
type FoundTable struct {
	Entry   evidence.EntryID // the last of the readouts
	At      time.Time
	By      evidence.PersonID
	Via     string // of the last
	Profile string
	Whole   bool
	Read    []site.ZoneID // zones that these readouts named, sorted
	Zones   ZoneTable     // all that was known then
	closed  bool          // keying has begun since
}

// KeyedZone is one zone that was keyed to its end.
type KeyedZone struct {
	Zone    site.ZoneID
	At      time.Time
	By      evidence.PersonID
	Took    time.Duration // 0: not known
	Checked bool          // read back as keyed
	Bad     bool          // read back, and something else stood there
}

// Checked reports whether the newest word on a zone came from the panel's own display: read back after keying, or read out.
func (p *PanelState) Checked(zone site.ZoneID) bool { return p.checked[zone] }

func (p *PanelState) clone() PanelState {
	c := *p
	c.Held, c.checked, c.doubt = maps.Clone(p.Held), maps.Clone(p.checked), maps.Clone(p.doubt)
	c.Found, c.Work = slices.Clone(p.Found), slices.Clone(p.Work)
	return c
}

// of turns to the panel of a profile: of another one nothing is known.
func (p *PanelState) of(profile string) {
	if p.Profile != profile {
		p.Profile, p.Held, p.whole, p.checked, p.doubt = profile, nil, false, nil, nil
		if n := len(p.Found); n > 0 {
			p.Found[n-1].closed = true
		}
	}
}

func (p *PanelState) hold(zone site.ZoneID, slots map[panel.Field]string, checked bool) {
	p.Held, p.checked = maps.Clone(p.Held), maps.Clone(p.checked)
	if p.Held == nil {
		p.Held = ZoneTable{}
	}
	if p.checked == nil {
		p.checked = map[site.ZoneID]bool{}
	}
	if slots == nil {
		slots = map[panel.Field]string{}
	}
	p.Held[zone], p.checked[zone] = slots, checked
}

// forget says that it is not known what stands in a zone.
func (p *PanelState) forget(zone site.ZoneID) {
	p.Held, p.checked, p.doubt = maps.Clone(p.Held), maps.Clone(p.checked), maps.Clone(p.doubt)
	if p.doubt == nil {
		p.doubt = map[site.ZoneID]bool{}
	}
	delete(p.Held, zone)
	delete(p.checked, zone)
	p.doubt[zone] = true
}

func (s *State) useReadout(e evidence.Entry) words.Text {
	var b ReadoutBody
	if err := json.Unmarshal(e.Body, &b); err != nil {
		return s.trouble(e, words.Said(err))
	}
	p := &s.Panel
	p.Told = true
	p.of(b.Panel)
	if b.Whole {
		p.Held, p.whole, p.checked, p.doubt = nil, true, nil, nil
	}
	for zone, slots := range b.Zones {
		p.hold(zone, slots, true)
	}
	read := slices.Sorted(maps.Keys(b.Zones))
	found := FoundTable{Entry: e.ID, At: e.At.Time, By: e.By, Via: b.Via, Profile: b.Panel, Whole: p.whole, Read: read, Zones: maps.Clone(p.Held)}
	if n := len(p.Found); n > 0 && !p.Found[n-1].closed && !b.Whole {
		found.Read = slices.Compact(slices.Sorted(slices.Values(slices.Concat(p.Found[n-1].Read, read))))
		p.Found = append(slices.Clone(p.Found[:n-1]), found)
	} else {
		p.Found = append(slices.Clip(p.Found), found)
	}
	switch {
	case b.Via == ViaFile:
		return words.Later("Took what the panel holds from a file: %d zones", len(b.Zones))
	case len(read) == 1:
		return words.Later("Read out of the panel: zone %s", read[0])
	}
	return words.Later("Read out of the panel: %d zones", len(read))
}

func (s *State) useKeying(e evidence.Entry) words.Text {
	var b KeyingBody
	if err := json.Unmarshal(e.Body, &b); err != nil {
		return s.trouble(e, words.Said(err))
	}
	p := &s.Panel
	p.Told = true
	switch b.Act {
	case KeyingBegun:
		return words.Later("Began to key in")
	case KeyingLeft:
		return words.Later("Left programming")
	case KeyingLost:
		p.Lost++
		if b.Zone == "" {
			return words.Later("The panel showed something else: %s", b.Shown)
		}
		return words.Later("Zone %s: the panel showed something else: %s", b.Zone, b.Shown)
	case KeyingKept:
		profile := b.Panel
		if own, _ := get(s.tree, []string{"panel", "profile"}); profile == "" {
			profile, _ = own.(string)
		}
		p.of(profile)
		if n := len(p.Found); n > 0 && !p.Found[n-1].closed {
			p.Found = slices.Clone(p.Found)
			p.Found[n-1].closed = true
		}
		p.hold(b.Zone, b.Slots, false)
		done := KeyedZone{Zone: b.Zone, At: e.At.Time, By: e.By}
		if len(b.Ms) > 0 {
			done.Took = time.Duration(b.Ms[len(b.Ms)-1]) * time.Millisecond
		}
		p.Work = append(slices.Clip(p.Work), done)
		return words.Later("Zone %s is keyed", b.Zone)
	case KeyingChecked:
		p.Work = slices.Clone(p.Work)
		for i := range slices.Backward(p.Work) {
			if p.Work[i].Zone == b.Zone {
				p.Work[i].Checked, p.Work[i].Bad = b.Good, !b.Good
				break
			}
		}
		if !b.Good {
			p.forget(b.Zone)
			return words.Later("Zone %s was read back: not as keyed", b.Zone)
		}
		if slots, held := p.Held[b.Zone]; held {
			p.hold(b.Zone, slots, true)
		}
		return words.Later("Zone %s was read back: as keyed", b.Zone)
	}
	return words.Later("Entry of keying of a kind that this version does not know: %s", string(b.Act))
}

// Limits of what one entry tells of a panel.
const (
	maxZones  = 9999
	maxAnswer = 64
	maxShown  = 200
	maxCards  = 500
)

func checkReadout(raw json.RawMessage) error {
	var b ReadoutBody
	if err := strict(raw, &b); err != nil {
		return err
	}
	switch {
	case b.Panel == "" || len(b.Panel) > maxAnswer || len(b.Version) > maxAnswer:
		return errors.New("readout: panel is the name of a profile")
	case b.Via != ViaRead && b.Via != ViaFile:
		return fmt.Errorf("readout: via %q: want %s or %s", b.Via, ViaRead, ViaFile)
	case len(b.Zones) == 0 && !b.Whole:
		return errors.New("readout: it names no zone")
	case len(b.Zones) > maxZones:
		return fmt.Errorf("readout: %d zones, want at most %d", len(b.Zones), maxZones)
	}
	for zone, slots := range b.Zones {
		if err := checkSlots(zone, slots); err != nil {
			return fmt.Errorf("readout: %w", err)
		}
	}
	return nil
}

func checkKeying(raw json.RawMessage) error {
	var b KeyingBody
	if err := strict(raw, &b); err != nil {
		return err
	}
	if len(b.Panel) > maxAnswer || len(b.Shown) > maxShown || b.Card < 0 || b.Card > maxCards || len(b.Ms) > maxCards {
		return errors.New("keying: a member is longer than it may be")
	}
	for i, ms := range b.Ms {
		if ms < 0 || ms > 24*3600*1000 || i > 0 && ms < b.Ms[i-1] {
			return fmt.Errorf("keying: ms: %d at place %d: want milliseconds since the first card, never falling", ms, i+1)
		}
	}
	switch b.Act {
	case KeyingBegun, KeyingLeft:
		return nil
	case KeyingLost:
		if b.Zone == "" {
			return nil
		}
		return checkZone(b.Zone)
	case KeyingChecked:
		return checkZone(b.Zone)
	case KeyingKept:
		if len(b.Slots) == 0 {
			return errors.New("keying: kept: slots are the answers that were keyed")
		}
		return checkSlots(b.Zone, b.Slots)
	}
	return fmt.Errorf("keying: act %q: want begun, kept, checked, lost or left", b.Act)
}

func checkZone(zone site.ZoneID) error {
	plain := len(zone) > 0 && len(zone) <= 4
	for _, c := range []byte(zone) {
		plain = plain && c >= '0' && c <= '9'
	}
	if !plain {
		return fmt.Errorf("zone %q: want its number as the panel shows it", zone)
	}
	return nil
}

func checkSlots(zone site.ZoneID, slots map[panel.Field]string) error {
	if err := checkZone(zone); err != nil {
		return err
	}
	for field, answer := range slots {
		if !slices.Contains(panel.Fields()[1:], field) {
			return fmt.Errorf("zone %s: %q is not a field of a zone", zone, field)
		}
		if len(answer) > maxAnswer { // no words are an answer too
			return fmt.Errorf("zone %s: %s: an answer has at most %d characters", zone, field, maxAnswer)
		}
	}
	return nil
}
