package reach

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"proofbell/demo"
	"proofbell/internal/building"
	"proofbell/internal/estimate"
	"proofbell/reliability"
	"proofbell/rules"
	"proofbell/site"
)

func mill(t testing.TB, patch string) Options {
	t.Helper()
	s, err := site.DecodeYAML("mill.yaml", demo.Corrected)
	if err != nil {
		t.Fatal(err)
	}
	if patch != "" {
		raw, err := json.Marshal(s)
		if err == nil {
			raw, err = site.Apply(raw, site.Patch(patch))
		}
		if err == nil {
			s, err = site.DecodeJSON("mill.json", raw)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	set, _, err := rules.SetOf(s.RuleSet)
	if err != nil {
		t.Fatal(err)
	}
	b := building.Of(s)
	return Options{Site: s, Radio: estimate.RadioOf(s, b, estimate.RadioTold{}), Sound: estimate.NewSound(s, b, estimate.SoundOptions{}), Need: rules.SoundNeed(set), On: time.Date(2026, 9, 15, 0, 0, 0, 0, time.UTC)}
}

func of(t testing.TB, o Options) *Model {
	t.Helper()
	m, err := Of(o)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func (m *Model) at(t testing.TB, id site.RoomID) int {
	for i, r := range m.rooms {
		if r.id == id {
			return i
		}
	}
	t.Fatalf("no room %s", id)
	return 0
}

// A guest room has one head and the bridge: every part of that chain is a single point, by hand from the schedule.
func TestSinglePoints(t *testing.T) {
	m := of(t, mill(t, ""))
	got := map[string]bool{}
	for _, p := range m.singles(m.rooms[m.at(t, "F2")].station) {
		got[m.byPart[p].id] = true
	}
	for _, id := range []string{"head:M6", "joint:M", "head:M4", "ear-of:bridge", "module:bridge", "link:bridge", "panel", "communicator", "station", "people"} {
		if !got[id] {
			t.Errorf("%s is no single point of %v", id, got)
		}
		delete(got, id)
	}
	if len(got) > 0 {
		t.Errorf("and these are: %v", got)
	}
	// The landing has a detector beside its two heads: of the parts before the panel none cuts it alone.
	for _, p := range m.singles(m.rooms[m.at(t, "F1")].station) {
		if id := m.byPart[p].id; id != "panel" && id != "communicator" && id != "station" && id != "people" {
			t.Errorf("landing: %s is a single point", id)
		}
	}
}

func TestSentenceOfTheBridge(t *testing.T) {
	v := of(t, mill(t, `{"zones":{"09":{"lossWindow":"4 h"},"10":{"lossWindow":"4 h"}}}`)).Rooms(nil)
	for _, s := range v.Singles {
		if strings.Contains(s.Say, "Acoustic bridge") && strings.Contains(s.Say, "battery flat") && strings.Contains(s.Say, "no alarm of group M reaches the station") && strings.Contains(s.Say, "noticed after at most 4 h") {
			return
		}
	}
	t.Errorf("no sentence of the silent bridge in %v", v.Singles)
}

// The system of every room, against trying every state of its parts.
func TestRoomsAgainstEnumeration(t *testing.T) {
	m := of(t, mill(t, ""))
	u := m.sys.Chances(reliability.Mid)
	tried := 0
	for i, r := range m.rooms {
		var parts []int
		seen := map[int]bool{}
		var walk func(n reliability.Node)
		walk = func(n reliability.Node) {
			part, _, of := m.sys.Of(n)
			if part >= 0 && !seen[part] {
				seen[part] = true
				parts = append(parts, part)
			}
			for _, one := range of {
				walk(one)
			}
		}
		walk(r.station)
		if len(parts) > 17 {
			continue
		}
		tried++
		var exact float64
		for state := range 1 << len(parts) {
			failed := map[int]bool{}
			p := 1.0
			for k, part := range parts {
				if state>>k&1 == 1 {
					failed[part] = true
					p *= u[part]
				} else {
					p *= 1 - u[part]
				}
			}
			if p > 0 && !m.sys.Works(r.station, func(part int) bool { return failed[part] }) {
				exact += p
			}
		}
		if math.Abs(exact-m.station[i].Mid) > 1e-12 {
			t.Errorf("%s: %v, enumerated %v", r.id, m.station[i].Mid, exact)
		}
	}
	if tried == 0 {
		t.Error("no room is small enough")
	}
}

// What takes something away never makes it better, what adds never worse.
func TestChangesOfTheSite(t *testing.T) {
	before := of(t, mill(t, ""))
	worse := map[string]string{
		"without the bridge":      `{"zones":{"09":null,"10":null},"devices":{"bridge":null}}`,
		"one path only":           `{"account":{"paths":{"backup":null}},"zones":{` + onPath(before) + `}}`,
		"router on mains":         `{"premises":{"internet":{"standby":"none","parts":null}}}`,
		"zone 09 as burglary":     `{"zones":{"09":{"kind":"always-loud"}}}`,
		"bridge beside no head":   `{"devices":{"bridge":{"room":"F6"}}}`,
		"detector not supervised": `{"zones":{"11":{"lossWindow":"never"},"15":{"lossWindow":"never"}}}`,
	}
	for what, patch := range worse {
		after := of(t, mill(t, patch))
		more := false
		for i := range before.station {
			if after.station[i].Mid < before.station[i].Mid-1e-12 || after.station[i].High < before.station[i].High-1e-12 {
				t.Errorf("%s: %s is reported more often", what, before.rooms[i].id)
			}
			more = more || after.station[i].Mid > before.station[i].Mid
		}
		if !more {
			t.Errorf("%s: nothing changed", what)
		}
	}
	if r := of(t, mill(t, worse["without the bridge"])); r.station[r.at(t, "F2")].Low != 1 {
		t.Error("a guest room without the bridge is still reported")
	}
}

// onPath puts all zones on the main path alone.
func onPath(m *Model) string {
	var all []string
	for _, id := range site.SortedIDs(m.o.Site.Zones) {
		all = append(all, `"`+string(id)+`":{"paths":["main"]}`)
	}
	return strings.Join(all, ",")
}

func TestRangesHoldSamples(t *testing.T) {
	m := of(t, mill(t, ""))
	for i, s := range m.spreads() {
		r := m.union
		if i/2 < len(m.rooms) {
			r = m.station[i/2]
			if i%2 == 1 {
				r = m.sound[i/2]
			}
		}
		const dust = 1e-9
		if s.P5 < r.Low-dust || s.P95 > r.High+dust || s.Median < s.P5 {
			t.Errorf("top %d: %v not in %v", i, s, r)
		}
	}
}

func TestHelps(t *testing.T) {
	m := of(t, mill(t, `{"premises":{"internet":{"standby":"none","parts":null}},"care":{"effort":{"second-bridge":200}}}`))
	v, err := m.Helps(nil)
	if err != nil {
		t.Fatal(err)
	}
	has := map[string]float64{}
	for i, c := range v.Changes {
		has[c.ID] = c.Cost
		if i > 0 && c.Share > v.Changes[i-1].Share {
			t.Errorf("%s stands after %s", c.ID, v.Changes[i-1].ID)
		}
		if c.After.Mid > mean(m.station).Mid+1e-12 {
			t.Errorf("%s makes it worse", c.ID)
		}
	}
	if has["second-bridge"] != 200 || has["house-standby"] == 0 || has["test-twice"] == 0 || has["second-path"] != 0 {
		t.Errorf("changes: %v", has)
	}
}

func TestNeverABareFigure(t *testing.T) {
	v := of(t, mill(t, "")).Rooms(nil)
	for _, r := range v.Rooms {
		for _, f := range []Figure{r.Station, r.Sound} {
			if f.Say != "always" && !strings.Contains(f.Say, " to ") {
				t.Errorf("%s: %q", r.Room, f.Say)
			}
		}
	}
	for p, want := range map[float64]string{0.0149: "1 %", 0.5: "50 %", 1: "100 %", 0.985: "98 %", 0.00032: "0.03 %"} {
		if got := percent(nil, p); got != want {
			t.Errorf("%v: %s, want %s", p, got, want)
		}
	}
}

func TestEmptySite(t *testing.T) {
	if _, err := Of(Options{Site: &site.Site{}}); !errors.Is(err, ErrNothing) {
		t.Errorf("%v", err)
	}
	s := &site.Site{Rooms: map[site.RoomID]site.Room{"A": {Name: "Attic"}}}
	v := of(t, Options{Site: s}).Rooms(nil)
	if v.Rooms[0].Station.Say != "always" || !v.Rooms[0].Warn {
		t.Errorf("%+v", v.Rooms[0])
	}
	if _, there := of(t, Options{Site: s}).Room(nil, "A"); !there {
		t.Error("no view of the attic")
	}
}

func TestRoomView(t *testing.T) {
	m := of(t, mill(t, ""))
	v, _ := m.Room(nil, "F2")
	if len(v.Cuts) == 0 || len(v.Weak) == 0 || len(v.Diagram.Lines) == 0 || len(v.Sheet.Steps) < 9 || v.Label == "" || v.Sheet.Label == "" {
		t.Errorf("%+v", v)
	}
	if _, there := m.Room(nil, "nowhere"); there {
		t.Error("a room that is not there")
	}
	if name := os.Getenv("PICTURE"); name != "" {
		if err := os.WriteFile(name, v.Diagram.SVG(), 0o600); err != nil {
			t.Fatal(err)
		}
	}
}
