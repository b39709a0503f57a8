package reach

import (
	"math"
	"strings"
	"testing"

	"proofbell/internal/estimate"
	"proofbell/reliability"
	"proofbell/site"
)

// What is not known, shared or measured as lost never makes a figure better. Each site is made by hand, each figure worked by
// hand from the table.

func (m *Model) single(t testing.TB, room site.RoomID) map[string]bool {
	t.Helper()
	out := map[string]bool{}
	for _, p := range m.singles(m.rooms[m.at(t, room)].station) {
		out[m.byPart[p].id] = true
	}
	return out
}

// hut is a room A with two smoke detectors by radio and a room B beside it through two doors.
func hut(t testing.TB, extra string) Options {
	t.Helper()
	s, err := site.DecodeYAML("hut.yaml", []byte(`name: Hut
storeys: {g: {name: Ground floor}}
rooms: {A: {name: Hall, storey: g}, B: {name: Loft, storey: g}}
openings: {one: {kind: door, rooms: [A, B]}, two: {kind: door, rooms: [A, B]}}
models: {smoke: {name: Smoke detector, class: smoke, link: radio}}
devices: {s1: {model: smoke, room: A}, s2: {model: smoke, room: A}}
account: {paths: {net: {kind: mobile, checkEvery: 1 h}, other: {kind: mobile, checkEvery: 6 h}}}
zones:
  "1": {kind: smoke, device: s1, paths: [net, other], lossWindow: 200 s}
  "2": {kind: smoke, device: s2, paths: [net, other], lossWindow: 200 s}
`+extra))
	if err != nil {
		t.Fatal(err)
	}
	return Options{Site: s}
}

// Two paths by mobile network from one communicator are one network and one communicator: each alone cuts both.
func TestPathsThatShare(t *testing.T) {
	got := of(t, hut(t, "")).single(t, "A")
	for _, id := range []string{"communicator", "line:mobile", "panel", "alike:detector:A"} {
		if !got[id] {
			t.Errorf("%s is no single point of %v", id, got)
		}
	}
}

// A tenth of a detector's figure is common to both: 0.1 (1 - (1 - e^-x)/x), x = 4.5e-7 x 8760, is 0.1 x 0.001968.
func TestLikeDetectors(t *testing.T) {
	m := of(t, hut(t, ""))
	if u := m.parts["alike:detector:A"].u.Mid; math.Abs(u-0.0001968) > 1e-6 {
		t.Errorf("%v", u)
	}
	one := of(t, hut(t, "heads: {H: {kind: smoke, room: B}}"))
	if one.parts["alike:head:B"] != nil {
		t.Error("one head has a cause common to several")
	}
}

// What hangs beyond two doors is one thing.
func TestTwoDoorsToOneRoom(t *testing.T) {
	m := of(t, hut(t, ""))
	r := m.rooms[m.at(t, "B")]
	if !r.late || len(r.ways) != 2 || !strings.Contains(m.row(nil, m.at(t, "B")).Say, "late") {
		t.Errorf("late %v, %d ways: %q", r.late, len(r.ways), m.row(nil, m.at(t, "B")).Say)
	}
}

// A measured loss of all check-ins is no way at all; none lost says nothing better than the table.
func TestMeasuredLoss(t *testing.T) {
	o := hut(t, "")
	o.Lost = map[site.DeviceID]float64{"s1": 1, "s2": 0}
	m := of(t, o)
	if u := m.parts["link:s1"].u; u != reliability.Sure(1) {
		t.Errorf("all lost: %v", u)
	}
	if u := m.parts["link:s2"].u; u != rateOf("link-unknown").of {
		t.Errorf("none lost: %v", u)
	}
}

// Two hops of 20 dB are two chances to be lost: 1 - (1 - 0.00995)^2 = 0.0198 at the high end.
func TestTwoHops(t *testing.T) {
	o := hut(t, "")
	o.Radio = &estimate.Radio{Links: []estimate.RadioLink{{Device: "s1", Counts: 20, Verdict: estimate.Enough, Hops: []estimate.Hop{{From: "s1", To: "s2"}, {From: "s2"}}}}}
	m := of(t, o)
	if u := m.parts["link:s1"].u.High; math.Abs(u-0.0198) > 1e-4 {
		t.Errorf("%v", u)
	}
	if m.parts["receiver:s2"] == nil {
		t.Error("the repeater is no part of the way")
	}
}

// Whoever sleeps where one head alone is loud enough needs that head too, wherever the fire is.
func TestHeadAtTheBed(t *testing.T) {
	o := mill(t, "")
	m := of(t, o)
	tried := 0
	for _, p := range m.o.heard.alike {
		for _, h := range p.heard {
			id, ok := strings.CutPrefix(h.Needs, "/heads/")
			if !ok || h.Set != "/groups/M" || h.Verdict == estimate.TooLittle {
				continue
			}
			tried++
			top := m.rooms[m.at(t, "G5")].sound
			u := m.sys.Chances(reliability.Mid)
			if m.diagram.Birnbaum(u, top)[m.parts["head:"+id].index] <= 0 {
				t.Errorf("head %s does not matter to a sleeper in %v", id, p.rooms)
			}
		}
	}
	if tried == 0 {
		t.Error("no bed of the mill needs one head")
	}
}

// A radio part without a loss window is missed by nobody: its figure is that of a part that is only tested.
func TestNoLossWindow(t *testing.T) {
	watched := of(t, hut(t, ""))
	o := hut(t, "")
	z := o.Site.Zones["1"]
	z.LossWindow = ""
	o.Site.Zones["1"] = z
	blind := of(t, o)
	if p := blind.parts["module:s1"]; p.model != tested || !(p.u.Mid > 50*watched.parts["module:s1"].u.Mid) {
		t.Errorf("%+v", p)
	}
}

func TestChangesSayWhatTheyAssume(t *testing.T) {
	v, err := of(t, mill(t, "")).Helps(nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range v.Changes {
		if c.Assumes == "" && c.ID != "test-twice" && c.ID != "battery" {
			t.Errorf("%s assumes nothing", c.ID)
		}
	}
}
