package book

import (
	"cmp"
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
	From    string    `json:"from,omitempty"` // opaque id of the writing device, as in edits
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
	Act     KeyingAct              `json:"act"`
	Panel   string                 `json:"panel,omitempty"`   // name of the profile; empty: that of the site
	Version string                 `json:"version,omitempty"` // kept: of the profile that the cards were made by; empty: the one that was told last
	Zone    site.ZoneID            `json:"zone,omitempty"`    // as the panel shows it
	Slots   map[panel.Field]string `json:"slots,omitempty"`   // kept: every answer of the zone
	Ms      []int                  `json:"ms,omitempty"`      // kept: when each card was ticked, in ms since the first was shown
	Unsure  bool                   `json:"unsure,omitempty"`  // kept: the cards began from something else than what was known at their end
	Good    bool                   `json:"good,omitempty"`    // checked: everything stood there as keyed
	Card    int                    `json:"card,omitempty"`    // lost: number of the card, from 1
	Shown   string                 `json:"shown,omitempty"`   // lost: what the panel showed
	From    string                 `json:"from,omitempty"`    // opaque id of the writing device, as in edits
}

// FoundTable is what the panel held when it was read out, over one or more readouts with no keying between them.
type FoundTable struct {
	Entry   evidence.EntryID // the last of the readouts
	At      time.Time
	By      evidence.PersonID
	Via     string // of the last
	Profile string
	Version string // of the profile, as far as it was told
	Whole   bool
	Stale   bool          // the profile was changed since: these are the terms of another dialogue
	Read    []site.ZoneID // zones that these readouts named, sorted
	Zones   ZoneTable     // all that was known then
	until   moment        // of the entry by which what is read from then on is another table; zero: none yet
}

// KeyedZone is one zone that was keyed to its end.
type KeyedZone struct {
	Zone    site.ZoneID
	Profile string
	At      time.Time
	By      evidence.PersonID
	Took    time.Duration // 0: not known
	Checked bool          // read back as keyed
	Bad     bool          // read back, and something else stood there
	word    moment
}

func (s *State) useReadout(e evidence.Entry) words.Text {
	var b ReadoutBody
	if err := json.Unmarshal(e.Body, &b); err != nil {
		return s.trouble(e, words.Said(err))
	}
	p, now := &s.Panel, s.moment(e, b.From)
	read := slices.Sorted(maps.Keys(b.Zones))
	if p.begin(); !p.of(now, e, b.Panel, b.Version) {
		if b.Whole {
			read = append(read, slices.Collect(maps.Keys(p.Held))...)
		}
		if p.unsure(now, e, b.Panel, read...) {
			return words.Later("Read out by a panel profile that was changed since: what these zones hold is not known")
		}
		return words.Later("Told of a panel that was changed since: it does not count")
	}
	version := cmp.Or(b.Version, p.Version)
	if b.Whole {
		p.takeAll(now, e, b, version)
	}
	for _, zone := range read {
		p.take(now, e, zone, b.Zones[zone], zoneWord{version: version, checked: b.Via == ViaRead})
	}
	p.find(e, FoundTable{Entry: e.ID, At: e.At.Time, By: e.By, Via: b.Via, Profile: b.Panel, Version: version, Whole: b.Whole, Read: read, Zones: b.Zones})
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
	p, now := &s.Panel, s.moment(e, b.From)
	p.begin()
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
		p.doubt(now, e, b.Zone) // whatever was pressed may have been kept
		return words.Later("Zone %s: the panel showed something else: %s", b.Zone, b.Shown)
	case KeyingKept:
		profile := b.Panel
		if own, _ := get(s.tree, []string{"panel", "profile"}); profile == "" {
			profile, _ = own.(string)
		}
		done := KeyedZone{Zone: b.Zone, Profile: profile, At: e.At.Time, By: e.By, word: now}
		if len(b.Ms) > 0 {
			done.Took = time.Duration(b.Ms[len(b.Ms)-1]) * time.Millisecond
		}
		p.Work = append(slices.Clip(p.Work), done)
		if !p.of(now, e, profile, b.Version) {
			if p.unsure(now, e, profile, b.Zone) {
				p.close(now)
				return words.Later("Zone %s was keyed by a panel profile that was changed since: what it holds is not known", b.Zone)
			}
			return words.Later("Told of a panel that was changed since: it does not count")
		}
		p.close(now)
		if b.Unsure {
			p.doubt(now, e, b.Zone)
			return words.Later("Zone %s was keyed; what it holds is not sure", b.Zone)
		}
		p.take(now, e, b.Zone, b.Slots, zoneWord{version: cmp.Or(b.Version, p.Version), keyed: true})
		return words.Later("Zone %s is keyed", b.Zone)
	case KeyingChecked:
		p.Work = slices.Clone(p.Work)
		for i := range slices.Backward(p.Work) {
			if bare(p.Work[i].Zone) == bare(b.Zone) {
				p.Work[i].Checked, p.Work[i].Bad = b.Good, !b.Good
				break
			}
		}
		if !b.Good {
			p.doubt(now, e, b.Zone)
			return words.Later("Zone %s was read back: not as keyed", b.Zone)
		}
		p.confirm(now, e, b.Zone)
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
	case len(b.From) > maxAnswer:
		return fmt.Errorf("readout: from: want at most %d characters", maxAnswer)
	case b.Via != ViaRead && b.Via != ViaFile:
		return fmt.Errorf("readout: via %q: want %s or %s", b.Via, ViaRead, ViaFile)
	case len(b.Zones) == 0 && !b.Whole:
		return errors.New("readout: it names no zone")
	case len(b.Zones) > maxZones:
		return fmt.Errorf("readout: %d zones, want at most %d", len(b.Zones), maxZones)
	}
	seen := map[string]site.ZoneID{}
	for _, zone := range slices.Sorted(maps.Keys(b.Zones)) {
		if err := checkSlots(zone, b.Zones[zone]); err != nil {
			return fmt.Errorf("readout: %w", err)
		}
		if other, twice := seen[bare(zone)]; twice {
			return fmt.Errorf("readout: zones %s and %s are one number", other, zone)
		}
		seen[bare(zone)] = zone
	}
	return nil
}

func checkKeying(raw json.RawMessage) error {
	var b KeyingBody
	if err := strict(raw, &b); err != nil {
		return err
	}
	if len(b.Panel) > maxAnswer || len(b.Version) > maxAnswer || len(b.From) > maxAnswer || len(b.Shown) > maxShown || b.Card < 0 || b.Card > maxCards || len(b.Ms) > maxCards {
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
