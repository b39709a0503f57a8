package reach

import (
	"cmp"
	"slices"

	"proofbell/internal/sorts"
	"proofbell/internal/words"
	"proofbell/reliability"
	"proofbell/site"
)

// variant is a site with one thing changed.
type variant struct {
	halfTest, secondPath, houseStandby, newHeads, supervise, battery, readBack bool

	secondBridge site.GroupID
	detector     site.RoomID
}

// change is one thing that could be done.
type change struct {
	id   string
	say  words.Text
	cost float64
	v    variant
	note words.Text
}

// changed is what became of it.
type changed struct {
	change
	station, sound           reliability.Range // mean over the rooms, afterwards
	gain, gainSound, perCost float64
}

// mostChanges bounds how many rooms are tried for a detector.
const mostDetectors = 3

// changes are those that the site leaves to be done, with what they cost in units of the reader's own: the ratios count.
func (m *Model) changes() []change {
	s := m.o.Site
	var out []change
	add := func(id string, cost float64, v variant, say, note words.Text) {
		if own := s.Care.Effort[id]; own > 0 {
			cost = own
		}
		out = append(out, change{id, say, cost, v, note})
	}
	if len(s.Account.Paths) < 2 {
		add("second-path", 5, variant{secondPath: true}, words.Later("A second path to the station, by mobile network with a communicator of its own"), words.Later("Assumed: checked every 6 h."))
	}
	add("test-twice", 4, variant{halfTest: true}, words.Later("Test the whole path twice as often"), words.Text{})
	add("read-back", 2, variant{readBack: true}, words.Later("Prove every zone to the station at each visit and have its list read back"), words.Later("Assumed: account, zone texts and settings are then wrong as often as the low end of the range says, and nothing else changes."))
	if m.houseOnMains {
		add("house-standby", 1, variant{houseStandby: true}, words.Later("Standby power for router, fibre box and switch"), words.Later("Assumed: its battery is tested as the panel's is."))
	}
	if m.unwatched {
		add("supervise", 1, variant{supervise: true}, words.Later("A loss window of 200 s for each fire device that has none"), words.Later("Assumed: the device checks in often enough for it."))
	}
	if m.old {
		add("new-heads", 3, variant{newHeads: true}, words.Later("Replace the heads, by the electrician"), words.Later("Assumed: half a year old from then on."))
	}
	if battery := m.parts["battery"]; battery != nil && battery.row.id != "standby-new" {
		add("battery", 1, variant{battery: true}, words.Later("A new standby battery in the panel"), words.Text{})
	}
	for _, g := range site.SortedIDs(s.Groups) {
		if m.parts["joint:"+string(g)] != nil && m.bridgesOf(g) == 1 {
			add("second-bridge", 2, variant{secondBridge: g}, words.Later("A second bridge beside another head of group %s", string(g)), words.Later("Assumed: a tenth of the failures is common to both, and its radio has the wanted margin."))
		}
	}
	// A detector where most is missing.
	order := make([]int, len(m.rooms))
	for i := range order {
		order[i] = i
	}
	sorts.Stable(order, func(a, b int) int { return cmp.Compare(m.station[b].Mid, m.station[a].Mid) })
	for i, at := range order {
		if i < mostDetectors {
			add("detector", 2, variant{detector: m.rooms[at].id}, words.Later("A smoke detector of the panel by radio in %s", words.Typed(m.rooms[at].name)), words.Later("Assumed: its radio has the wanted margin, and it is missed after 200 s."))
		}
	}
	return out
}

// bridgesOf is how many bridges report a group.
func (m *Model) bridgesOf(g site.GroupID) (n int) {
	for id, d := range m.o.Site.Devices {
		if d.Hears == g && m.parts["ear-of:"+string(id)] != nil {
			n++
		}
	}
	return n
}

// Helps tries each change and ranks them by what they gain for what they cost.
func (m *Model) helps() ([]changed, error) {
	before, beforeSound := mean(m.station), mean(m.sound)
	var out []changed
	for _, c := range m.changes() {
		after, err := solve(m.o, c.v)
		if err != nil {
			return nil, err
		}
		one := changed{change: c, station: mean(after.station), sound: mean(after.sound)}
		one.gain, one.gainSound = before.Mid-one.station.Mid, beforeSound.Mid-one.sound.Mid
		one.perCost = max(0, one.gain) / c.cost
		out = append(out, one)
	}
	sorts.Stable(out, func(a, b changed) int { return cmp.Compare(b.perCost, a.perCost) })
	return slices.Clip(out), nil
}
